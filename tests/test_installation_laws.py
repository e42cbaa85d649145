"""Every cell of an installation is what the worksheet function of that step answers alone.

Which function gets which value is written down here a second time, from the sections that the
function's notes name; the values themselves have their published checks. Defaults and whole
installations worked by hand stand in tests/published/installation.csv.
"""

import pytest

import xlfuncs
from xlfuncs.registry import FUNCTIONS

FUNCTION = FUNCTIONS["XF_INSTALLATION"]
COLUMNS = FUNCTION.columns
# Common practice, no source: at most so many sets, of at most 500 kcmil.
MOST_SETS = 12
SIZES_IN_A_SET = (
    "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0", "250", "300", "350",
    "400", "500",
)  # fmt: skip

DEFAULTS = {
    "primary_length": 25.0, "secondary_length": 10.0, "phases": 3.0, "secondary_protected": True,
    "primary_percent": 125.0, "material": "copper", "insulation": "THHN", "terminal": None,
    "ambient": 30.0, "raceway": "FMC", "neutral": True, "power_factor": 0.85, "edition": 2023.0,
    "headings": False,
}  # fmt: skip

SINGLE = {"phases": 1.0}
TWO_WIRE = {"phases": 1.0, "neutral": False, "secondary_protected": False}
CASES = {
    "the usual": (75.0, 480.0, 208.0, {}),
    "small": (9.0, 480.0, 208.0, {}),
    "a secondary below 9 A": (3.0, 480.0, 208.0, {}),
    "in sets": (300.0, 480.0, 208.0, {}),
    "in many sets": (2660.0, 480.0, 4160.0, {"ambient": 46.0}),
    "in more sets than are taken": (2660.0, 480.0, 4160.0, {"ambient": 51.0}),
    "step-up": (75.0, 208.0, 480.0, {}),
    "high leg": (45.0, 480.0, 240.0, {}),
    "delta": (45.0, 480.0, 240.0, {"neutral": False}),
    "single-phase": (25.0, 480.0, 240.0, SINGLE),
    "single-phase, 277 V": (10.0, 480.0, 277.0, SINGLE),
    "single-phase, 120 V": (10.0, 480.0, 120.0, SINGLE),
    "single-phase, 347 V": (10.0, 600.0, 347.0, SINGLE),
    "single-phase, 208 V": (10.0, 480.0, 208.0, SINGLE),
    "single-phase, 415 V": (10.0, 480.0, 415.0, SINGLE),
    # 40 A x 480 V / 347 V is 55.3 A, just above what 6 AWG has at 60 degC.
    "two wires, 347 V": (14.4, 480.0, 347.0, TWO_WIRE),
    "two wires": (3.0, 480.0, 240.0, TWO_WIRE),
    "two wires, larger": (25.0, 480.0, 120.0, TWO_WIRE),
    "no device on a three-phase secondary": (75.0, 480.0, 208.0, {"secondary_protected": False}),
    "no device on a delta": (
        75.0, 480.0, 240.0, {"neutral": False, "secondary_protected": False},
    ),
    "no device beside a neutral": (25.0, 480.0, 240.0, {**TWO_WIRE, "neutral": True}),
    "primary at 200 %": (75.0, 480.0, 208.0, {"primary_percent": 200.0}),
    "primary above what 450.3 allows": (75.0, 480.0, 208.0, {"primary_percent": 250.0}),
    "aluminum": (112.5, 480.0, 208.0, {"material": "aluminum", "insulation": "XHHW-2"}),
    "hot": (75.0, 480.0, 208.0, {"ambient": 46.0}),
    "terminals of 60": (75.0, 480.0, 208.0, {"terminal": 60.0}),
    "terminals of 75": (30.0, 480.0, 208.0, {"terminal": 75.0}),
    "far": (75.0, 480.0, 208.0, {"primary_length": 180.0, "secondary_length": 25.0}),
    "too far": (75.0, 480.0, 208.0, {"secondary_length": 26.0}),
    "low power factor": (75.0, 480.0, 208.0, {"power_factor": 0.5}),
    "EMT": (150.0, 480.0, 208.0, {"raceway": "EMT"}),
    "2017": (75.0, 480.0, 208.0, {"edition": 2017.0}),
    "medium voltage": (500.0, 4160.0, 480.0, {}),
    "not an insulation": (75.0, 480.0, 208.0, {"insulation": "wool"}),
}  # fmt: skip


def installation(kva, primary_volts, secondary_volts, **changed):
    given = {**DEFAULTS, **changed}
    (row,) = xlfuncs.call(FUNCTION.name, kva, primary_volts, secondary_volts, *given.values())
    return dict(zip(COLUMNS, row, strict=True))


def is_message(value):
    return isinstance(value, str) and value.startswith("Check: ")


def passed(*values):
    """The first message among values, which a cell that reads them shows."""
    return next((value for value in values if is_message(value)), None)


def in_sets(size_of):
    """Fewest sets of 500 kcmil or less, and the size; otherwise what one set answers."""
    for sets in range(1, MOST_SETS + 1):
        size = size_of(float(sets))
        if size.removesuffix(" AWG").removesuffix(" kcmil") in SIZES_IN_A_SET:
            return float(sets), size
    size = size_of(1.0)
    return passed(size) or 1.0, size


def volts_to_ground(volts, phases, neutral):
    """The highest: a wye, a 240 V delta with a grounded midpoint, 120/240 V, or two wires."""
    if not neutral:
        return volts
    if phases == 3:
        return volts * 3**0.5 / 2 if volts == 240 else volts / 3**0.5
    return volts if volts in (120, 277, 347) else volts / 2


def step_by_step(kva, primary_volts, secondary_volts, **changed):
    """The row, one worksheet function after the other."""
    ask = xlfuncs.call
    g = {**DEFAULTS, **changed}
    phases, edition, material = g["phases"], g["edition"], g["material"]
    wires = 3.0 if phases == 3 else 2.0

    def device(current, percent, largest):
        wanted = ask("XF_STANDARD_RATING", current * percent / 100, "up", "breaker", edition)
        return passed(wanted, largest) or min(wanted, largest)

    def conductors(device, least, next_size_up):
        return in_sets(
            lambda sets: ask(
                "XF_PROTECTED_SIZE", device, least, material, g["insulation"], g["terminal"],
                g["ambient"], 3.0, next_size_up, sets, edition,
            )
        )  # fmt: skip

    def drop(current, volts, length, size, sets):
        return ask(
            "XF_VOLTAGE_DROP_PERCENT", current, volts, length, size, phases, g["power_factor"],
            material, g["raceway"], sets,
        )  # fmt: skip

    def raceway(size, wires, ground):
        return ask("XF_RACEWAY_SIZE", g["raceway"], g["insulation"], size, wires, ground, 1.0)

    current = ask("XF_FULL_LOAD_CURRENT", kva, primary_volts, phases)
    largest = ask(
        "XF_PRIMARY_PROTECTION", kva, primary_volts, phases, g["secondary_protected"], "breaker",
        None, False, edition,
    )  # fmt: skip
    primary = device(current, g["primary_percent"], largest)
    sets, size = conductors(primary, 1.25 * current, True)
    ground = ask("XF_EQUIPMENT_GROUND", primary, material)
    row = [
        current, primary, largest, sets, size, ground, raceway(size, wires, ground),
        drop(current, primary_volts, g["primary_length"], size, sets),
    ]  # fmt: skip

    current = ask("XF_FULL_LOAD_CURRENT", kva, secondary_volts, phases)
    largest = ask(
        "XF_SECONDARY_PROTECTION", kva, secondary_volts, phases, "breaker", primary_volts, None,
        False, edition,
    )  # fmt: skip
    if g["secondary_protected"]:
        secondary = protection = device(current, 125.0, largest)
        least = ask(
            "XF_SECONDARY_AMPACITY", primary, primary_volts, secondary_volts,
            g["secondary_length"], secondary, current,
        )  # fmt: skip
    else:
        # 240.4(F): only a two-wire unit hands on the protection of its primary, by its ratio.
        secondary = ""
        least = primary * primary_volts / secondary_volts
        if phases == 3 or g["neutral"]:
            least = "Check: " + xlfuncs.installation.NEEDS_DEVICE
        protection = least
    sets, size = conductors(protection, least, False)
    jumper = ask("XF_BONDING_JUMPER", size, 1.0, material, material)
    to_ground = volts_to_ground(secondary_volts, phases, g["neutral"])
    row += [
        current, secondary, sets, size, jumper,
        ask("XF_BONDING_JUMPER", size, sets, material, material),
        ask("XF_ELECTRODE_CONDUCTOR", size, sets, material, material),
        raceway(size, wires + g["neutral"], jumper),
        drop(current, secondary_volts, g["secondary_length"], size, sets),
        to_ground, ask("XF_BOND_OVER_250", to_ground),
    ]  # fmt: skip
    return dict(zip(COLUMNS, row, strict=True))


def agrees(found, expected):
    assert found.keys() == expected.keys()
    for column, value in expected.items():
        if isinstance(value, float):
            assert found[column] == pytest.approx(value, rel=1e-12), column
        else:
            assert found[column] == value, column


@pytest.mark.parametrize("case", CASES)
def test_each_cell_is_the_answer_of_its_step(case):
    *ratings, changed = CASES[case]
    agrees(installation(*ratings, **changed), step_by_step(*ratings, **changed))


def test_a_range_of_rows_is_each_row_alone():
    rows = [[*case[:3], *{**DEFAULTS, **case[3]}.values()] for case in CASES.values()]
    columns = [[[row[number]] for row in rows] for number in range(len(rows[0]) - 1)]
    alone = [xlfuncs.call(FUNCTION.name, *row)[0] for row in rows]
    assert xlfuncs.call(FUNCTION.name, *columns) == alone


@pytest.mark.parametrize("name", DEFAULTS)
def test_what_is_left_out_is_what_the_help_says(name):
    (expected,) = [a.default for a in FUNCTION.arguments if a.name == name]
    assert expected == DEFAULTS[name]
    given = {**DEFAULTS, name: None}
    rows = xlfuncs.call(FUNCTION.name, 75.0, 480.0, 208.0, *given.values())
    agrees(dict(zip(COLUMNS, rows[0], strict=True)), installation(75.0, 480.0, 208.0))


def test_the_cases_tell_one_wiring_from_another():
    """Each argument changes some cell, so that a value in the wrong place would be seen."""
    usual = installation(75.0, 480.0, 208.0)
    for name, other in {
        "primary_length": 26.0, "secondary_length": 11.0, "phases": 1.0, "neutral": False,
        "secondary_protected": False, "primary_percent": 200.0, "material": "aluminum",
        "insulation": "TW", "terminal": 60.0, "ambient": 46.0, "raceway": "EMT",
        "power_factor": 0.5,
    }.items():  # fmt: skip
        assert installation(75.0, 480.0, 208.0, **{name: other}) != usual, name


def working(*cells):
    return [step for step, *_ in xlfuncs.call("XF_STEPS", FUNCTION.name, *cells)]


def test_the_working_says_how_a_device_was_chosen():
    assert {"Primary device", "Secondary device"} <= set(working(75.0, 480.0, 208.0))
    without = working(3.0, 480.0, 240.0, None, None, 1.0, False, *[None] * 6, False)
    assert "Primary device" in without
    assert "Secondary device" not in without
    # One size was tried after the other, but only the one that serves is worked out.
    assert working(300.0, 480.0, 208.0).count("Protected size") == 2


def test_the_working_of_a_device_has_both_ratings():
    lines = xlfuncs.call("XF_STEPS", FUNCTION.name, 75.0, 480.0, 208.0, *[None] * 4, 250.0)
    (line,) = [line for line in lines if line[0] == "Primary device"]
    # 225.5 A: the next rating is 250 A, what 450.3(B) allows at or below it 225 A.
    assert line[1:4] == [
        "the smaller of 250 A (next standard rating) and 225 A (450.3)", 225.0, "A",
    ]  # fmt: skip
