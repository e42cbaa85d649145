"""Laws of voltage readings and of the tap that answers them."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from xlfuncs import InputError, call, tables
from xlfuncs.readings import (
    NOMINALS,
    RANGE_LIMITS,
    tap,
    voltage_deviation,
    voltage_range,
    voltage_unbalance,
)

whole_volts = st.integers(1, 1000)
places = st.sampled_from(["service", "utilization"])


@given(st.lists(whole_volts, min_size=3, max_size=3))
def test_unbalance_is_the_largest_deviation_over_the_mean(readings):
    mean = Fraction(sum(readings), 3)
    largest = max(abs(reading - mean) for reading in readings)
    assert voltage_unbalance(readings) == pytest.approx(float(100 * largest / mean))


@given(st.permutations([462.0, 463.0, 455.0]), st.floats(0.1, 10))
def test_unbalance_heeds_neither_order_nor_scale(readings, scale):
    scaled = [scale * reading for reading in readings]
    assert voltage_unbalance(scaled) == pytest.approx(100 * 5 / 460)


def test_readings_may_stand_in_a_row_or_a_column():
    assert call("XF_VOLTAGE_UNBALANCE", [[462], [463], [455]]) == call(
        "XF_VOLTAGE_UNBALANCE", [[462, 463, 455]]
    )


@pytest.mark.parametrize("count", [1, 2, 4, 6])
def test_unbalance_takes_three_readings(count):
    with pytest.raises(InputError, match="readings must be three"):
        voltage_unbalance([480.0] * count)


@given(whole_volts, whole_volts)
def test_deviation_brings_the_reading_back(reading, nominal):
    deviation = voltage_deviation(reading, nominal)
    assert nominal * (1 + deviation / 100) == pytest.approx(reading)


def test_range_a_lies_inside_range_b():
    assert NOMINALS.tolist() == [120, 208, 240, 277, 480, 600]
    low, high = RANGE_LIMITS[..., 0], RANGE_LIMITS[..., 1]
    assert (low[:, 1] < low[:, 0]).all()
    assert (high[:, 1] >= high[:, 0]).all()
    assert (low < NOMINALS[:, None, None]).all()
    assert (high > NOMINALS[:, None, None]).all()


def test_the_limits_are_those_of_120_volts_in_proportion():
    """ANSI C84.1 states its limits on a 120 V base and rounds them to whole volts."""
    base = RANGE_LIMITS[0]
    for nominal, limits in zip(NOMINALS, RANGE_LIMITS, strict=True):
        assert abs(limits - base * nominal / 120).max() <= 1


def test_a_nominal_voltage_has_the_same_limits_in_every_system():
    table = tables.read("voltage_ranges")
    seen = {}
    for pair in ("ll", "ln"):
        for row, nominal in enumerate(table.printed[f"{pair}_nominal"]):
            key = nominal, str(table.printed["range"][row])
            values = [
                str(table.printed[f"{pair}_{place}_{end}"][row])
                for place in ("service", "util")
                for end in ("max", "min")
            ]
            if nominal:
                assert seen.setdefault(key, values) == values


@given(st.floats(0, 700), st.sampled_from(NOMINALS.tolist()), places)
def test_the_range_is_the_first_that_holds_the_reading(reading, nominal, at):
    place = ["service", "utilization"].index(at)
    (a_low, a_high), (b_low, b_high) = RANGE_LIMITS[NOMINALS.tolist().index(nominal), :, place]
    expected = (
        "A" if a_low <= reading <= a_high else "B" if b_low <= reading <= b_high else "outside"
    )
    nearest = min(abs(reading - limit) / limit for limit in (a_low, a_high, b_low, b_high))
    if nearest > 1e-5:
        assert voltage_range(reading, nominal, at) == expected


def test_a_reading_on_a_limit_within_rounding_is_within_it():
    assert voltage_range(456 * (1 - 1e-8), 480) == "A"
    assert voltage_range(456 * (1 - 1e-5), 480) == "B"


@pytest.mark.parametrize("nominal", [115, 230, 347, 440, 460, 4160])
def test_a_voltage_the_standard_does_not_list_is_refused_with_the_list(nominal):
    with pytest.raises(InputError, match="120, 208, 240, 277, 480 or 600 V"):
        voltage_range(nominal, nominal)


@given(
    st.floats(0.81, 1.19), st.sampled_from([1.0, 2.5, 5.0]), st.integers(0, 6), st.integers(0, 6)
)
def test_no_other_tap_brings_the_secondary_nearer(part, step, above, below):
    nominal = 480.0
    reading = part * nominal
    chosen = float(tap(reading, nominal, step, above, below))

    def off(tap):
        return abs(reading / (1 + tap / 100) - nominal)

    taps = [step * number for number in range(-below, above + 1)]
    assert chosen in taps
    assert off(chosen) <= min(map(off, taps)) + 1e-6 * nominal


@pytest.mark.parametrize("expected", [-10, -7.5, -5, -2.5, 0, 2.5, 5])
def test_a_supply_that_fits_a_tap_gets_that_tap(expected):
    """A supply off by the tap's percent reads off by the same percent on the 0 % tap."""
    assert tap(208 * (1 + expected / 100), 208) == expected


def test_of_two_taps_equally_near_the_one_closer_to_zero_is_taken():
    between = (468 + 468 / 0.95) / 2
    assert tap(468, between, 5) == 0
    assert tap(468, between + 0.01, 5) == -5
    between = (492 + 492 / 1.05) / 2
    assert tap(492, between, 5) == 0
    assert tap(492, between - 0.01, 5) == 5


@pytest.mark.parametrize(("reading", "nominal"), [(0, 480), (277, 480), (480, 208), (383, 480)])
def test_a_reading_that_no_tap_is_meant_for_is_refused(reading, nominal):
    with pytest.raises(InputError, match="reading is more than 20% from nominal"):
        tap(reading, nominal)


def test_taps_that_would_leave_half_a_winding_are_refused():
    with pytest.raises(InputError, match="tap_step times below must be at most 50%"):
        tap(480, 480, 10, 2, 6)
    assert tap(480, 480, 10, 10, 5) == 0


def test_limits_hold_within_rounding_and_no_further():
    assert voltage_range(504 * (1 + 1e-8), 480) == "A"
    assert voltage_range(504 * (1 + 1e-5), 480) == "B"
    for nominal in (480 * (1 + 5e-7), 480 * (1 - 5e-7)):
        assert voltage_range(474, nominal) == "A"
    for nominal in (479.5, 480.5):
        with pytest.raises(InputError, match="nominal must be"):
            voltage_range(474, nominal)
    assert tap(480 * 1.2 * (1 + 1e-8), 480) == tap(480 * 1.199, 480) == 5
    with pytest.raises(InputError, match="more than 20% from nominal"):
        tap(480 * 1.201, 480)
    assert tap(480, 480, 5 * (1 + 1e-7), 2, 10) == 0
    # Half a part in a million of the nominal voltage is no reason to move a tap.
    assert tap(468, (468 + 468 / 0.95) / 2 + 2e-4, 5) == 0


def test_two_taps_above_and_four_below_are_taken_where_nothing_is_stated():
    # UFC 3-520-01 (2002), 4-1.6.2.
    assert tap(480 * 1.19, 480) == 5
    assert tap(480 * 0.81, 480) == -10


def test_a_range_of_readings_gets_the_taps_of_its_cells():
    readings = np.array([468.0, 480.0, 492.0, 504.0, 390.0])
    above, below = np.array([2.0, 2.0, 0.0, 1.0, 2.0]), np.array([4.0, 0.0, 4.0, 2.0, 2.0])
    alone = [
        float(tap(*cells, above=high, below=low))
        for *cells, high, low in zip(readings, [480.0] * 5, [2.5] * 5, above, below, strict=True)
    ]
    assert tap(readings, 480.0, 2.5, above, below).tolist() == alone == [-2.5, 0, 0, 2.5, -5]


def test_several_sets_of_readings_have_an_unbalance_each():
    sets = [[474, 476, 473], [480, 480, 480], [462, 463, 455], [208, 120, 208]]
    alone = [float(voltage_unbalance(readings)) for readings in sets]
    assert voltage_unbalance(sets).tolist() == alone
    with pytest.raises(InputError, match="readings must be three"):
        voltage_unbalance([[474, 476], [473, 480], [480, 480]])


def test_readings_of_zero_have_no_unbalance():
    with pytest.raises(InputError, match="readings are all zero"):
        voltage_unbalance([0, 0, 0])
