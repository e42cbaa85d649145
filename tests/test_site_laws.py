"""Laws of the small questions of a site."""

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import xlfuncs
from xlfuncs import InputError
from xlfuncs.site import conductor_length, heat_loss, phase_colors, sound_level, working_depth

# 10 CFR 431.196(a)(2), percent at 35% load, read.
EFFICIENCY = {
    1: {15: 97.70, 25: 98.00, 37.5: 98.20, 50: 98.30, 75: 98.50, 100: 98.60, 167: 98.70}
    | {250: 98.80, 333: 98.90},
    3: {15: 97.89, 30: 98.23, 45: 98.40, 75: 98.60, 112.5: 98.74, 150: 98.83, 225: 98.94}
    | {300: 99.02, 500: 99.14, 750: 99.23, 1000: 99.28},
}
EVERY_SIZE = [(phases, kva) for phases, listed in EFFICIENCY.items() for kva in listed]


def efficiency(kva, load_percent, phases):
    """Output over output and losses, at unity power factor. [%]"""
    output = 1000 * kva * load_percent / 100
    return 100 * output / (output + heat_loss(kva, load_percent, phases))


@pytest.mark.parametrize(("phases", "kva"), EVERY_SIZE)
def test_at_35_percent_load_the_regulated_efficiency_comes_back(phases, kva):
    assert efficiency(kva, 35, phases) == pytest.approx(EFFICIENCY[phases][kva], abs=1e-9)


@pytest.mark.parametrize(("phases", "kva"), EVERY_SIZE)
def test_efficiency_is_highest_where_both_losses_are_equal(phases, kva):
    # Maximum efficiency theorem: constant and square losses equal.
    best = efficiency(kva, 35, phases)
    for load in (5, 10, 30, 34, 36, 40, 60, 100, 150):
        assert efficiency(kva, load, phases) < best


@given(st.sampled_from([1, 3]), st.floats(0, 1), st.integers(0, 20))
def test_between_listed_sizes_the_efficiency_lies_on_the_line(phases, part, place):
    listed = list(EFFICIENCY[phases].items())
    (low, below), (high, above) = listed[place % (len(listed) - 1) :][:2]
    kva = low + part * (high - low)
    assert efficiency(kva, 35, phases) == pytest.approx(below + part * (above - below), abs=1e-9)


@given(st.floats(15, 333), st.floats(5, 200), st.sampled_from([1, 3]))
def test_losses_are_a_constant_and_a_square(kva, load, phases):
    # Three points fix a parabola through (0, constant): the fourth must lie on it.
    constant = (4 * heat_loss(kva, 50, phases) - heat_loss(kva, 100, phases)) / 3
    square = heat_loss(kva, 100, phases) - constant
    assert heat_loss(kva, load, phases) == pytest.approx(constant + square * (load / 100) ** 2)


@given(st.floats(1, 5000), st.integers(1, 200), st.floats(0, 20), st.just(0.0) | st.floats(1, 50))
def test_wire_to_buy(run, count, tail, spare):
    length = conductor_length(run, count, tail, spare)
    assert length >= count * run
    # Tails are a longer run; spare is a part of the whole.
    assert length == pytest.approx(conductor_length(run + 2 * tail, count, 0, spare))
    assert length / conductor_length(run, count, tail, 0) == pytest.approx(1 + spare / 100)
    assert length == pytest.approx(count * conductor_length(run, 1, tail, spare))


@given(st.floats(1, 1000), st.floats(1, 1000), st.sampled_from([1, 2, 3]))
def test_depth_rises_with_voltage_and_condition(one, other, condition):
    low, high = sorted((one, other))
    assert working_depth(low, condition) <= working_depth(high, condition)
    assert working_depth(low, 1) <= working_depth(low, 2) <= working_depth(low, 3)
    assert working_depth(low, condition) >= 3


@pytest.mark.parametrize(
    ("volts", "condition", "depth"),
    # 150 V belongs to the first row, anything above it to the second: no gap in between.
    [(150, 3, 3), (150.0001, 3, 3), (150.5, 3, 4), (600, 3, 4), (600.5, 3, 5), (1000, 2, 4)],
)
def test_the_rows_of_the_working_space_meet(volts, condition, depth):
    assert working_depth(volts, condition) == depth


@given(st.floats(0.1, 1000), st.floats(0.1, 1000))
def test_a_larger_transformer_is_never_quieter(one, other):
    low, high = sorted((one, other))
    assert sound_level(low) <= sound_level(high)


@pytest.mark.parametrize("volts", [120, 208, 240])
def test_colors_of_low_systems(volts):
    colors = str(phase_colors(volts)).partition("(")[0]
    assert colors.startswith("black, red, blue; neutral white")
    assert ("orange" in colors) == (volts == 240)


@pytest.mark.parametrize("volts", [277, 480, 600])
def test_colors_of_480_volt_systems(volts):
    assert str(phase_colors(volts)).startswith("brown, orange, yellow; neutral gray")


@pytest.mark.parametrize("volts", [120, 240, 480])
def test_colors_are_never_given_as_a_rule(volts):
    assert "common practice, not a code rule" in str(phase_colors(volts))


@pytest.mark.parametrize(
    ("function", "arguments", "message"),
    [
        (working_depth, (1000.5,), "volts_to_ground must be up to 1000 V"),
        (working_depth, (277, 4), "condition must be 1, 2 or 3"),
        (heat_loss, (14.9,), "three-phase 15 to 1000, single-phase 15 to 333 kVA"),
        (heat_loss, (500, 100, 1), "three-phase 15 to 1000, single-phase 15 to 333 kVA"),
        (heat_loss, (75, 0.35), "load_percent must be from 5 to 200%: write 100"),
        (heat_loss, (75, 1.0), "load_percent must be from 5 to 200%: write 100"),
        (heat_loss, (75, 2.0), "load_percent must be from 5 to 200%: write 100"),
        (sound_level, (1001,), "kva must be up to 1000 kVA"),
        (phase_colors, (601,), "volts must be up to 600 V"),
        (conductor_length, (50, 2.5), "count must be a whole number"),
        (conductor_length, (50, 4, -1), "tail must be from 0 to 100 ft"),
        (conductor_length, (50, 4, 3, 101), "spare must be from 0 to 100%: write 5 for 5%"),
        (conductor_length, (50, 4, 3, 0.05), "spare must be 0, or from 1 to 100%: write 5"),
        (conductor_length, (50, 4, 3, 0.99), "spare must be 0, or from 1 to 100%: write 5"),
    ],
)
def test_a_refusal_names_the_argument(function, arguments, message):
    with pytest.raises(InputError, match=message):
        function(*arguments)


def test_the_efficiencies_here_are_those_of_the_table():
    lines = (Path(xlfuncs.__file__).parent / "tables" / "transformer_efficiency.csv").read_text()
    table = csv.DictReader(line for line in lines.splitlines() if not line.startswith("#"))
    printed = {
        (int(row["phases"]), float(row["kva"])): float(row["eff_pct_from_2016_01_01"])
        for row in table
    }
    assert printed == {key: EFFICIENCY[key[0]][key[1]] for key in EVERY_SIZE}


def test_colors_change_at_250_volts_and_a_high_leg_begins_at_220():
    assert str(phase_colors(250)).startswith("black, red, blue; neutral white")
    assert str(phase_colors(250.5)).startswith("brown")
    assert "high leg" in str(phase_colors(220))
    assert "high leg" not in str(phase_colors(219.5))


def test_a_value_equal_to_a_limit_within_rounding_is_within_it():
    nearly = 1 + 5e-7
    assert working_depth(1000 * nearly) == working_depth(1000)
    assert heat_loss(1000 * nearly) == pytest.approx(heat_loss(1000))
    assert heat_loss(15 / nearly) == pytest.approx(heat_loss(15))
    assert sound_level(1000 * nearly) == sound_level(1000)
    assert sound_level(150 * nearly) == sound_level(150) < sound_level(150.01)
    assert phase_colors(600 * nearly) == phase_colors(600)
    assert phase_colors(250 * nearly) == phase_colors(250)
    assert phase_colors(220 / nearly) == phase_colors(220)
