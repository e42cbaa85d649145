"""Laws that conductors and their devices keep, whatever the table says."""

import itertools

import numpy as np
import pytest

import xlfuncs
from xlfuncs.conductor import (
    ambient_factor,
    ampacity,
    area,
    conductor_size,
    device_limit,
    protected_size,
    secondary_ampacity,
    size_fits,
    table_ampacity,
)
from xlfuncs.designations import SIZES
from xlfuncs.errors import InputError
from xlfuncs.overcurrent import RATINGS
from xlfuncs.steps import recording

from .working import lines_of

NAMES = SIZES.names.tolist()
COPPER = NAMES[NAMES.index("14 AWG") :]
ALUMINUM = NAMES[NAMES.index("12 AWG") :]
POWER = {"copper": COPPER, "aluminum": ALUMINUM}
STANDARD = [rating for rating in RATINGS.tolist() if rating >= 15 and rating != 601]

CONDITIONS = list(
    itertools.product(
        ("copper", "aluminum"),
        (60.0, 75.0, 90.0),  # insulation
        (60.0, 75.0),  # terminal
        (10.0, 30.0, 43.0),  # ambient
        (3.0, 9.0),  # conductors
    )
)
WHERE = [" ".join(map(str, conditions)) for conditions in CONDITIONS]


def amps_of(sizes, conditions, sets=1.0):
    return ampacity(np.array(sizes, object), *conditions) * sets


@pytest.mark.parametrize("conditions", CONDITIONS, ids=WHERE)
@pytest.mark.parametrize("sets", [1.0, 3.0])
def test_smallest_size_carries_the_current_and_the_next_smaller_does_not(conditions, sets):
    sizes = [n for n in POWER[conditions[0]] if sets == 1 or n in NAMES[NAMES.index("1/0 AWG") :]]
    carried = amps_of(sizes, conditions, sets)
    for amps in (3.0, 17.5, 52.0, 99.0, 163.0, 0.999 * carried[-1]):
        chosen = sizes.index(str(conductor_size(amps, *conditions, sets)))
        assert carried[chosen] >= amps
        assert chosen == 0 or carried[chosen - 1] < amps
    with pytest.raises(InputError):
        conductor_size(1.001 * carried[-1], *conditions, sets)


@pytest.mark.parametrize("conditions", CONDITIONS, ids=WHERE)
def test_a_current_equal_to_a_sizes_ampacity_takes_that_size(conditions):
    sizes = POWER[conditions[0]]
    carried = amps_of(sizes, conditions)
    assert conductor_size(carried, *conditions).tolist() == sizes
    assert conductor_size(carried * (1 + 5e-7), *conditions).tolist() == sizes
    assert conductor_size(carried[:-1] * (1 + 1e-5), *conditions).tolist() == sizes[1:]


@pytest.mark.parametrize("conditions", CONDITIONS, ids=WHERE)
def test_larger_conductors_carry_more(conditions):
    carried = amps_of(POWER[conditions[0]], conditions)
    assert (np.diff(carried) > 0).all()


@pytest.mark.parametrize("conditions", CONDITIONS, ids=WHERE)
def test_usable_ampacity_is_within_insulation_and_terminal(conditions):
    material, insulation, terminal, _, conductors = conditions
    sizes = np.array(POWER[material], object)
    carried = amps_of(sizes, conditions)
    cold = ampacity(sizes, material, insulation, terminal, 30.0, 3.0)
    lower = min(insulation, terminal)
    np.testing.assert_array_equal(cold, table_ampacity(sizes, material, lower))
    assert (carried <= cold).all()
    if conductors > 3:
        own = table_ampacity(sizes, material, insulation)
        assert (carried <= 0.7 * own * ambient_factor(conditions[3], insulation) + 1e-9).all()


@pytest.mark.parametrize("material", POWER)
@pytest.mark.parametrize("terminal", [60.0, 75.0])
def test_heat_and_company_take_ampacity_away(material, terminal):
    for insulation in (60.0, 75.0, 90.0):
        ambients = np.arange(-50, {60.0: 56, 75.0: 71, 90.0: 86}[insulation], 1.0)
        for size in ("12", "6", "1", "1/0", "500"):
            by_ambient = ampacity(size, material, insulation, terminal, ambients, 4.0)
            by_number = ampacity(size, material, insulation, terminal, 40.0, np.arange(1.0, 60))
            assert (np.diff(by_ambient) <= 0).all()
            assert (np.diff(by_number) <= 0).all()
            assert by_ambient[-1] < by_ambient[0]
            assert by_number[-1] < by_number[0]


def test_aluminum_never_carries_more_than_copper():
    for terminal in (60.0, 75.0):
        sizes = np.array(ALUMINUM, object)
        copper = ampacity(sizes, "copper", 90.0, terminal)
        assert (ampacity(sizes, "aluminum", 90.0, terminal) < copper).all()


def test_terminals_of_75_degrees_never_carry_less():
    sizes = np.array(COPPER, object)
    assert (ampacity(sizes, terminal=75.0) > ampacity(sizes, terminal=60.0)).all()


@pytest.mark.parametrize("insulation", [60.0, 75.0, 90.0])
def test_ambient_factor_never_exceeds_the_heat_balance(insulation):
    # The equation of 310.15(B) at the ambient itself; the table rounds to two places.
    ambients = np.linspace(10, {60.0: 55.0, 75.0: 70.0, 90.0: 85.0}[insulation], 901)
    exact = np.sqrt((insulation - ambients) / (insulation - 30))
    assert (ambient_factor(ambients, insulation) <= exact + 0.005 + 1e-9).all()


@pytest.mark.parametrize("conditions", CONDITIONS, ids=WHERE)
@pytest.mark.parametrize("rounding", [True, False])
def test_the_protected_size_is_the_smallest_that_the_device_protects(conditions, rounding):
    sizes = POWER[conditions[0]]
    usable = []
    for size in sizes:
        try:
            usable.append(float(device_limit(size, *conditions, rounding)))
        except InputError:
            usable.append(0.0)  # carries less than any standard device
    usable = np.array(usable)
    for device in STANDARD:
        allowed = np.flatnonzero(usable >= device)
        if allowed.size:
            assert str(protected_size(device, 0.0, *conditions, rounding)) == sizes[allowed[0]]
        else:
            with pytest.raises(InputError):
                protected_size(device, 0.0, *conditions, rounding)


@pytest.mark.parametrize("conditions", CONDITIONS, ids=WHERE)
def test_a_load_above_the_device_rule_asks_for_a_size_that_carries_it(conditions):
    for device, load in ((20.0, 19.5), (60.0, 58.0), (225.0, 204.0)):
        by_load = conductor_size(load, *conditions)
        both = protected_size(device, load, *conditions)
        alone = protected_size(device, 0.0, *conditions)
        order = [NAMES.index(str(size)) for size in (by_load, alone, both)]
        assert order[2] == max(order[:2])


def test_without_rounding_up_the_device_is_never_above_the_ampacity():
    for sets in (1.0, 2.0, 4.0):
        sizes = np.array(NAMES[NAMES.index("1/0 AWG") :], object)
        limit = device_limit(sizes, next_size_up=False, sets=sets)
        assert (limit <= ampacity(sizes) * sets).all()


def test_rounding_up_is_one_standard_rating_and_ends_at_800():
    for sets in (1.0, 2.0, 4.0):
        sizes = np.array(NAMES[NAMES.index("1/0 AWG") :], object)
        down = device_limit(sizes, next_size_up=False, sets=sets)
        up = device_limit(sizes, sets=sets)
        raised = up > down
        steps = np.searchsorted(STANDARD, up) - np.searchsorted(STANDARD, down)
        assert (steps[raised] == 1).all()
        assert (up[raised] <= 800).all()
    assert raised.sum() < len(raised)


@pytest.mark.parametrize(("size", "device"), [("14", 15), ("12", 20), ("10", 30)])
@pytest.mark.parametrize("edition", [2017, 2020, 2023])
def test_small_copper_keeps_its_device_at_any_terminal(size, device, edition):
    # 240.4(D), as the trade knows it.
    for terminal in (60.0, 75.0, None):
        assert device_limit(size, terminal=terminal, edition=edition) == device


def test_unmarked_terminals_are_decided_by_size_or_by_current():
    for size, terminal in (("14", 60.0), ("1", 60.0), ("1/0", 75.0), ("2000", 75.0)):
        assert ampacity(size) == ampacity(size, terminal=terminal)
        assert device_limit(size) == device_limit(size, terminal=terminal)
    for amps, terminal in ((100.0, 60.0), (100.00005, 60.0), (100.001, 75.0), (300.0, 75.0)):
        assert conductor_size(amps) == conductor_size(amps, terminal=terminal)
        assert protected_size(amps) == protected_size(amps, terminal=terminal)


def test_unmarked_terminals_are_decided_by_the_whole_circuit():
    # 300 A in four sets is a circuit above 100 A, though each conductor carries 75 A.
    with recording() as lines:
        conductor_size(300.0, sets=4.0)
    assert [line.value for line in lines if line.step == "Terminal rating"] == [75.0]


@pytest.mark.parametrize("length", [1.0, 10.0, 10.000001, 25.000001])
def test_secondary_conductors_carry_load_and_device(length):
    for device, load in ((50.0, 80.0), (90.0, 80.0), (0.0, 80.0), (90.0, 0.0)):
        least = secondary_ampacity(10.0, 480.0, 208.0, length, device, load)
        assert least == max(device, load)


def test_part_of_the_primary_device_scales_with_the_voltage_ratio():
    for length, part in ((10.0, 10), (10.00001, 10), (10.001, 3), (25.00001, 3)):
        equal = secondary_ampacity(400.0, 480.0, 480.0, length, 1.0)
        down = secondary_ampacity(400.0, 480.0, 120.0, length, 1.0)
        assert equal == pytest.approx(400 / part)
        assert down == pytest.approx(4 * equal)
    with pytest.raises(InputError):
        secondary_ampacity(400.0, 480.0, 208.0, 25.001, 225.0)


def test_a_lug_takes_exactly_the_sizes_between_its_marks():
    sizes = np.array(NAMES, object)
    areas = area(sizes)
    for first, last in itertools.combinations(range(len(NAMES)), 2):
        fits = size_fits(sizes, NAMES[first], NAMES[last])
        np.testing.assert_array_equal(fits, (areas >= areas[first]) & (areas <= areas[last]))


@pytest.mark.parametrize(
    ("name", "arguments", "message"),
    [
        # Table 310.16 begins at 14 AWG copper and 12 AWG aluminum below its 90 degC column.
        ("TABLE_AMPACITY", ("18", "copper", 75), "size must be 14 AWG or larger (12 AWG in alumin"),
        ("AMPACITY", ("16",), "size must be 14 AWG or larger (12 AWG in aluminum): Table 310.16"),
        ("DEVICE_LIMIT", ("14", "al"), "size must be 14 AWG or larger (12 AWG in aluminum)"),
        # Table 310.15(B)(1)(1) ends at 55, 70 and 85 degC.
        *(
            (
                name,
                arguments,
                "ambient must not be above 55 degC with 60 degC insulation, 70 degC with 75 degC "
                "insulation, 85 degC with 90 degC insulation",
            )
            for name, arguments in (
                ("AMBIENT_FACTOR", (56, "TW")),
                ("AMPACITY", ("6", "copper", 75, 60, 71)),
                ("CONDUCTOR_SIZE", (20, "copper", 60, 60, 71)),
            )
        ),
        ("CONDUCTOR_SIZE", (666,), "amps must not be above what 2000 kcmil carries"),
        ("PROTECTED_SIZE", (1000,), "device_amps and load must not be above what 2000 kcmil"),
        (
            "DEVICE_LIMIT",
            ("1", "copper", 75, 75, 30, 3, True, 2),
            "sets must be 1 for a size below",
        ),
        ("DEVICE_LIMIT", ("14", "copper", 90, 75, 30, 41, False, 1, 2020), "smallest standard dev"),
        ("SECONDARY_AMPACITY", (125, 480, 208, 25.1, 225), "length must not be above 25 ft"),
        ("SECONDARY_AMPACITY", (125, 480, 208, 10), "end_device or load must be above 0"),
        ("SIZE_FITS", ("6", "4", "8"), "smallest must not be larger than largest"),
    ],
)
def test_a_refusal_names_the_argument_and_the_limit(name, arguments, message):
    answer = xlfuncs.call(f"XF_{name}", *arguments)
    assert answer.startswith("Check: ")
    assert message in answer


def test_the_working_names_metal_column_and_terminals():
    lines = lines_of("XF_AMPACITY", "4/0", "aluminum", 90, 75, 40, 8)
    assert "Table ampacity: 4/0 AWG aluminum in the 90 degC column: 205" in lines
    assert "Limit of the terminals: 4/0 AWG in the 75 degC column: 180" in lines
    assert not any("not stated" in line for line in lines)
    lines = lines_of("XF_AMPACITY", "4/0", "copper", 75)
    assert "Table ampacity: 4/0 AWG copper in the 75 degC column: 230" in lines
    assert "Terminal rating: not stated: 60 degC for sizes up to 1 AWG, 75 degC above: 75" in lines
    lines = lines_of("XF_CONDUCTOR_SIZE", 100)
    assert (
        "Terminal rating: not stated: 60 degC for circuits up to 100 A, 75 degC above: 60" in lines
    )


@pytest.mark.parametrize(
    ("arguments", "lines"),
    [
        # Table 310.16 read by eye, the rules of 240.4(B), (C) and (D) by hand.
        (
            ("6",),
            ["Device by ampacity: 55 A is no standard rating: next one up, not above 800 A: 60"],
        ),
        (
            ("600", "copper", 75, 75, 30, 3, True, 2),
            [
                "Ampacity of the parallel sets: 2 × 420 A: 840",
                "Device by ampacity: standard rating at or below 840 A: 800",
            ],
        ),
        (("3", "copper", 75, 75), ["Device by ampacity: standard rating at or below 100 A: 100"]),
        (("14",), ["Small conductor: 14 AWG has 15 A at most, whatever its ampacity: 15"]),
        (
            ("14", "copper", 90, 75, 30, 20),  # 25 A x 0.5 = 12.5 A, and 15 A is the next rating
            ["Small conductor: 14 AWG has 15 A at most, whatever its ampacity: 15"],
        ),
        (
            ("10", "al", 75, 75),
            ["Small conductor: 10 AWG has 25 A at most, whatever its ampacity: 25"],
        ),
        (
            ("14", "copper", 90, 75, 30, 41),
            ["Device by ampacity: 8.75 A is no standard rating: next one up, not above 800 A: 10"],
        ),
        (
            ("12", "copper", 90, 75, 30, 41, False),
            ["Device by ampacity: standard rating at or below 10.5 A: 10"],
        ),
    ],
)
def test_the_working_tells_how_the_device_follows_from_the_ampacity(arguments, lines):
    all_lines = lines_of("XF_DEVICE_LIMIT", *arguments)
    usable = next(place for place, line in enumerate(all_lines) if line.startswith("Usable"))
    assert all_lines[usable + 1 :] == lines


def test_the_working_of_secondary_conductors_tells_what_decides():
    tenth = "Part of the primary device: 125 A × 480 V / 208 V / 10: 28.846"
    assert lines_of("XF_SECONDARY_AMPACITY", 125, 480, 208, 10, 225) == [
        tenth,
        "Least ampacity: largest of 28.846 A, the device at the end of 225 A and the load of "
        "0 A: 225",
    ]
    assert lines_of("XF_SECONDARY_AMPACITY", 125, 480, 208, 10, None, 80) == [
        tenth,
        "Least ampacity: larger of 28.846 A and the load of 80 A; the device at the end must not "
        "be above the ampacity chosen: 80",
    ]
    assert (
        "the device at the end of 1 A"
        in lines_of("XF_SECONDARY_AMPACITY", 125, 480, 208, 10, 1).pop()
    )
    lines = lines_of("XF_SECONDARY_AMPACITY", 125, 480, 208, 10.1, 60)
    assert lines[0] == "Part of the primary device: 125 A × 480 V / 208 V / 3: 96.154"


def test_what_no_size_carries_is_refused_and_the_others_are_not():
    for name in ("XF_CONDUCTOR_SIZE", "XF_PROTECTED_SIZE"):
        (first,), (second,), (third,) = xlfuncs.call(name, [[20], [7000], [20]])
        assert first == third == "12 AWG"
        assert second.startswith("Check: ")


def test_a_device_or_a_load_equal_within_rounding_takes_the_same_size():
    nearly = 1 + 5e-7
    assert protected_size(100 * nearly, next_size_up=False, terminal=75.0) == "3 AWG"
    assert protected_size(100, 100 * nearly, terminal=75.0) == "3 AWG"


def test_a_lug_for_one_size_takes_that_size():
    fits = size_fits(np.array(["8", "6", "4"], object), "6", "6")
    assert fits.tolist() == [False, True, False]


@pytest.mark.parametrize(
    ("arguments", "rule"),
    [
        # 240.4(C) begins above 800 A; below, the ampacity itself protects.
        (("8",), "240.4 and 240.6(A)"),
        (("500", "copper", "THHN", 75, 30, 3, False), "240.4 and 240.6(A)"),
        (("500", "copper", "THHN", 75), "240.4(B) and 240.6(A)"),
        (("600", "copper", "THHN", 75, 30, 3, True, 2), "240.4(C) and 240.6(A)"),
        (("14", "copper", "THHN", 75), "240.4(D)"),
    ],
)
def test_the_device_of_a_conductor_names_its_own_rule(arguments, rule):
    *_, last, _ = xlfuncs.call("XF_STEPS", "XF_DEVICE_LIMIT", *arguments)
    assert last[4] == rule
