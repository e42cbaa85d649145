"""A set of readings is told apart by what the phasors of each fault give.

The readings are worked out here from the circuit, with phasors, and not taken from the project.
"""

import cmath
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from xlfuncs import InputError
from xlfuncs.diagnosis import CAUTION, SEVERITIES, reading_findings

TURN = cmath.exp(2j * math.pi / 3)
ORDER = (1, TURN**2, TURN)  # A, B, C
loads = st.floats(0.2, 5)
volts = st.floats(0, 35_000)


def wye(line_to_line):
    return [line_to_line / math.sqrt(3) * turn for turn in ORDER]


def between(a, b, c):
    return [abs(a - b), abs(b - c), abs(c - a)]


def to_neutral(lines, neutral=0):
    return [abs(line - neutral) for line in lines]


def worst(*readings):
    return reading_findings(*readings)[0]


def told(*readings):
    return " ".join(finding for _, finding, _ in reading_findings(*readings)[:-1])


def test_a_sound_wye_is_in_order():
    for nominal in (208, 480, 600):
        lines = wye(nominal)
        findings = reading_findings(nominal, *between(*lines), *to_neutral(lines), 0.5)
        assert {severity for severity, _, _ in findings} == {"note"}


def test_the_caution_to_verify_absence_of_voltage_closes_every_answer():
    for readings in ((480, 474, 476, 473), (480, 0, 0, 0), (208, 100, 300, 200, 0, 0, 0, 0)):
        assert reading_findings(*readings)[-1] == CAUTION
    assert "verify absence of voltage" in CAUTION[1]


@given(st.sampled_from([208, 240, 480, 600]), st.lists(volts, min_size=7, max_size=7))
def test_any_readings_get_findings_that_a_cell_can_show(nominal, readings):
    findings = reading_findings(nominal, *readings)
    severities = [SEVERITIES.index(severity) for severity, _, _ in findings]
    assert severities == sorted(severities)
    for _, finding, rule in findings:
        assert len(finding) <= 255
        assert rule
        assert "nan" not in finding


@given(st.lists(volts, min_size=3, max_size=3))
def test_without_a_neutral_nothing_is_said_of_its_voltage(readings):
    findings = reading_findings(480, *readings)
    assert not any("Neutral to ground" in finding for _, finding, _ in findings)


def test_an_open_line_that_floats_on_a_load_between_the_others_is_named():
    """Line C is cut and hangs on the middle of two equal loads from A and from B."""
    a, b, _ = wye(480)
    for place, names in enumerate(("C", "A", "B")):
        lines = [a, b]
        lines.insert((2 + place) % 3, (a + b) / 2)
        severity, finding, _ = worst(480, *between(*lines))
        assert severity == "stop"
        assert f"Line {names} is open" in finding


@given(loads, loads)
def test_an_open_line_is_named_whatever_loads_it_hangs_on(first, second):
    a, b, _ = wye(480)
    c = (a / first + b / second) / (1 / first + 1 / second)
    severity, finding, _ = worst(480, *between(a, b, c))
    assert severity == "stop"
    assert (
        "line C" in finding
        or "Line C" in finding
        or "lines C and A" in finding
        or ("lines B and C" in finding)
    )


def test_an_open_line_that_hangs_on_nothing_is_named():
    """The meter itself then pulls the cut line to the other lead: both readings are 0."""
    assert "Line B is open" in worst(208, 0, 0, 208)[1]
    assert "Line A is open" in worst(208, 3, 207, 2)[1]


@pytest.mark.parametrize("open_line", [0, 1, 2])
def test_a_delta_wye_with_an_open_primary_line_is_recognized(open_line):
    """The cut corner of the delta floats midway: one winding whole, two in series at half."""
    primary = wye(480)
    others = [primary[line] for line in range(3) if line != open_line]
    primary[open_line] = sum(others) / 2
    windings = [primary[line] - primary[(line + 1) % 3] for line in range(3)]
    lines = [120 / 480 * winding for winding in windings]
    findings = reading_findings(208, *between(*lines), *to_neutral(lines), 0)
    assert [severity for severity, _, _ in findings[:2]] == ["stop", "stop"]
    assert "stand at one potential" in findings[0][1]
    assert "primary line open" in findings[1][1]


@given(loads, loads, loads)
def test_an_open_neutral_is_told_by_how_far_the_loads_pull_it(first, second, third):
    """Millman: the star point of three resistors without a neutral."""
    lines = wye(208)
    conductances = [1 / first, 1 / second, 1 / third]
    star = sum(g * line for g, line in zip(conductances, lines, strict=True)) / sum(conductances)
    readings = to_neutral(lines, star)
    off = max(abs(reading / (208 / math.sqrt(3)) - 1) for reading in readings)
    findings = reading_findings(208, *between(*lines), *readings, 1)
    texts = told(208, *between(*lines), *readings, 1)
    if off > 0.101:
        assert findings[0][0] == "stop"
        assert "neutral is open or floats" in texts or "neutral stands at line" in texts
    elif 0.031 < off < 0.099:
        assert findings[0][0] in ("check", "stop")
        assert "neutral is shifted" in texts
    elif off < 0.029:
        assert "% of the 120, 120, 120 V" in texts


@given(st.complex_numbers(max_magnitude=400, allow_nan=False))
def test_no_neutral_of_a_true_set_of_readings_is_called_impossible(neutral):
    lines = wye(480)
    assert "no neutral can be" not in told(480, *between(*lines), *to_neutral(lines, neutral), 1)


def test_readings_that_no_neutral_can_give_are_questioned():
    assert "no neutral can be" in told(480, 480, 480, 480, 250, 250, 250, 1)


@given(
    st.complex_numbers(max_magnitude=60, allow_nan=False),
    st.complex_numbers(max_magnitude=60, allow_nan=False),
)
def test_the_neutral_of_an_unbalanced_wye_is_sought_at_the_center(first, second):
    """Unbalance between lines alone is no fault of the neutral."""
    a, b, c = wye(480)
    lines = [a + first, b + second, c - first - second]
    assert "within 0.0 % of the" in told(480, *between(*lines), *to_neutral(lines), 1)


@pytest.mark.parametrize("grounded", [0, 1, 2])
def test_a_neutral_that_stands_at_a_line_is_told(grounded):
    lines = wye(480)
    severity, finding, _ = worst(480, *between(*lines), *to_neutral(lines, lines[grounded]), 0)
    assert severity == "stop"
    assert f"stands at line {'ABC'[grounded]}" in finding


@pytest.mark.parametrize("high", [0, 1, 2])
def test_the_high_leg_of_a_delta_is_found_and_in_order(high):
    lines = wye(240)
    middle = sum(line for number, line in enumerate(lines) if number != high) / 2
    findings = reading_findings(240, *between(*lines), *to_neutral(lines, middle), 0)
    assert {severity for severity, _, _ in findings} == {"note"}
    assert any(f"Line {'ABC'[high]} is the high leg" in finding for _, finding, _ in findings)


def test_a_wye_of_240_volts_is_not_taken_for_a_delta():
    lines = wye(240)
    assert worst(240, *between(*lines), *to_neutral(lines), 0)[0] == "stop"


@pytest.mark.parametrize(
    ("readings", "severity", "words"),
    [
        ((480, 480, 480), "note", "need no derating"),
        ((484.8, 475.2, 480), "note", "need no derating"),
        ((485, 475, 480), "check", "are derated"),
        ((494.4, 465.6, 480), "check", "above 1 %"),
        ((494.5, 465.5, 480), "check", "above 3 %"),
        ((504, 456, 480), "check", "above 3 %"),
        ((504.5, 455.5, 480), "stop", "motors should not run"),
    ],
)
def test_unbalance_is_judged_at_1_3_and_5_percent(readings, severity, words):
    """NEMA MG 1: 1 % and 5 %; ANSI C84.1: 3 %. The mean is 480 V, the deviation the first's."""
    (found,) = [row for row in reading_findings(480, *readings) if "Unbalance" in row[1]]
    assert found[0] == severity
    assert words in found[1]


@pytest.mark.parametrize(
    ("volts", "severity"), [(0, "note"), (3, "note"), (3.1, "check"), (27, "check"), (28, "stop")]
)
def test_neutral_to_ground_is_judged_by_common_practice(volts, severity):
    lines = wye(480)
    findings = reading_findings(480, *between(*lines), *to_neutral(lines), volts)
    (found,) = [row for row in findings if "Neutral to ground" in row[1]]
    assert found[0] == severity


def test_a_neutral_is_not_called_usual_where_there_is_no_supply():
    for lines in ((0, 0, 0), (480, 240, 240)):
        assert "usual for a bonded neutral" not in told(480, *lines, None, None, None, 0)
        assert "Neutral to ground 0 V: read again" in told(480, *lines, None, None, None, 0)
        assert "Treat the neutral as live" in told(480, *lines, None, None, None, 100)


def test_a_neutral_that_is_half_read_is_asked_for():
    assert worst(480, 480, 480, 480, 277, None, 277)[0] == "check"
    assert "1 of 3" in told(480, 480, 480, 480, None, 277)
    assert "read it too" in told(480, 480, 480, 480, 277, 277, 277)


@pytest.mark.parametrize("nominal", [120, 277, 460, 347, 4160])
def test_a_nominal_voltage_that_is_none_between_three_lines_is_refused(nominal):
    with pytest.raises(InputError, match="nominal must be 208, 240, 480 or 600 V"):
        reading_findings(nominal, nominal, nominal, nominal)


@pytest.mark.parametrize(
    ("volts", "words"),
    [
        (480, "Line to line 480, 480, 480 V: within Range A of 480 V (456 to 504 V)."),
        (450, "outside Range A of 480 V (456 to 504 V), in Range B"),
        (430, "outside Range B of 480 V (440 to 508 V)."),
    ],
)
def test_the_range_is_told_with_its_limits(volts, words):
    # ANSI C84.1, Table 1, service voltage.
    assert words in told(480, volts, volts, volts)


@pytest.mark.parametrize(
    ("readings", "words", "said"),
    [
        # A tenth of 480 V is 48 V.
        ((47, 47, 47), "no supply", True),
        ((49, 49, 49), "no supply", False),
        # 1.05 x 480 = 504 V: below it two readings make up the third within a meter's error.
        ((480, 300, 203), "has none of its own", True),
        ((480, 300, 205), "has none of its own", False),
        # The neutral at a line: one reading under a tenth of 480 V, the next above nine tenths.
        ((480, 480, 480, 45, 470, 470, 0), "stands at line A", True),
        ((480, 480, 480, 60, 470, 470, 0), "stands at line", False),
        ((480, 480, 480, 45, 420, 480, 0), "stands at line", False),
        # Together 3 % below 277 V: no point is that near to the three corners.
        ((480, 480, 480, 266, 266, 266, 0), "no neutral can be", True),
        ((480, 480, 480, 277, 277, 260, 0), "no neutral can be", False),
        ((480, 480, 480, 277, 277, 260, 0), "neutral is shifted", True),
    ],
)
def test_readings_are_told_apart_at_the_limits_of_common_practice(readings, words, said):
    assert (words in told(480, *readings)) == said


@pytest.mark.parametrize(
    ("readings", "said"),
    [((120, 60, 60), True), ((120, 75, 60), False), ((120, 60, 45), False), ((90, 45, 45), False)],
)
def test_an_open_primary_line_is_one_full_and_two_at_about_half(readings, said):
    assert ("with one primary line open" in told(208, 208, 104, 104, *readings, 0)) == said


@pytest.mark.parametrize("high", [0, 1, 2])
def test_the_neutral_of_a_high_leg_delta_is_the_middle_of_the_side_opposite(high):
    # B-C is opposite A. Sides of 240, 230 and 240 V: half of 230, and the median by Apollonius.
    sides = [240.0, 240.0, 240.0]
    sides[(high + 1) % 3] = 230.0
    asked = [115, 115, 115]
    asked[high] = round(math.sqrt(2 * 240**2 + 2 * 240**2 - 230**2) / 2)
    assert f"{', '.join(map(str, asked))} V that line to line asks for" in told(
        240, *sides, *asked, 0
    )


def test_the_worst_reading_of_a_set_decides_its_range():
    # ANSI C84.1, Table 1: 430 V is below Range B of 480 V, 450 V in it.
    assert worst(480, 480, 480, 430)[0] == "stop"
    assert "outside Range B" in told(480, 480, 470, 430)
    assert "in Range B" in told(480, 480, 470, 450)


def test_the_supply_is_not_blamed_for_a_neutral_that_is_lost():
    lost = told(208, 208, 208, 208, 170, 150, 60, 1)
    assert "neutral is open or floats" in lost
    assert "Line to neutral 170, 150, 60 V: outside" not in lost
    for nominal, neutral, has_range in ((208, 120, True), (480, 277, True), (600, 346.4, False)):
        text = told(nominal, *[nominal] * 3, *[neutral] * 3, 1)
        assert (f"within Range A of {neutral} V" in text) == has_range


def test_only_240_volts_is_taken_for_a_delta():
    assert "in a 240/120 V delta" in told(240, 240, 240, 240, 208, 120, 120, 0)
    for nominal in (208, 480):
        neutral = nominal / math.sqrt(3)
        assert "delta" not in told(nominal, *[nominal] * 3, *[neutral] * 3, 0)


def test_a_part_of_a_volt_counts():
    assert "no supply" in told(208, 20.5, 20.5, 20.5)
    assert "no supply" in told(480, 47.6, 47.6, 47.6)
    assert "no supply" not in told(480, 48.4, 48.4, 48.4)
    assert "stands at line A" in told(208, 208, 208, 208, 20.5, 204, 204, 0)
    assert "stands at line A" in told(480, 480, 480, 480, 47.6, 470, 470, 0)
    assert "stands at line A" not in told(480, 480, 480, 480, 48.4, 470, 470, 0)
    assert "with one primary line open" in told(208, 208, 104, 104, 115, 57, 57, 0)
    # The middle of a side of 231 V, and the median sqrt(4 x 237**2 - 231**2) / 2 = 206.95 V.
    assert "207, 116, 116 V that line to line" in told(240, 237, 231, 237, 208, 116, 116, 0)
    assert "Line to line 480.4, 480, 479.7 V" in told(480, 480.44, 480.04, 479.66)


def test_a_neutral_is_shifted_up_to_ten_percent_and_lost_above():
    # 480 / sqrt(3) = 277.13 V; the other two are raised, as a shifted neutral raises them.
    for part, words in ((0.903, "neutral is shifted"), (0.8985, "neutral is open or floats")):
        assert words in told(480, 480, 480, 480, 277.13 * part, 290, 290, 0)
    assert "within 3.0 %" in told(480, 480, 480, 480, 277.13 * 0.9702, 281, 281, 0)
    assert "neutral is shifted" in told(480, 480, 480, 480, 277.13 * 0.9698, 281, 281, 0)


def test_a_neutral_is_taken_for_live_from_a_tenth_of_line_to_neutral():
    for volts, severity in ((27.6, "check"), (27.75, "stop")):
        findings = reading_findings(480, 480, 480, 480, 277, 277, 277, volts)
        (found,) = [row for row in findings if "Neutral to ground" in row[1]]
        assert found[0] == severity


def test_neutral_to_ground_is_asked_for_where_one_neutral_reading_is_there():
    assert "No neutral-to-ground reading" in told(480, 480, 480, 480, 277)
    assert "No neutral-to-ground reading" not in told(480, 480, 480, 480)


def test_a_nominal_voltage_within_rounding_is_taken():
    assert worst(480 * (1 + 5e-7), 480, 480, 480)[0] == "note"
