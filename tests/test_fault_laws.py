"""Laws of fault current: Ohm's law, and what a longer run or a larger conductor must do."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from xlfuncs import InputError
from xlfuncs.fault import fault_after_run, fault_current

# Sizes of Chapter 9 Table 9 that may run in parallel.
SIZES = ["1/0", "2/0", "3/0", "4/0", "250", "300", "350", "400", "500", "600", "750", "1000"]

faults = st.floats(500, 100_000)
volts = st.sampled_from([208.0, 240.0, 480.0, 600.0])
lengths = st.floats(1, 2000)
sizes = st.sampled_from(SIZES)
ratios = st.one_of(st.none(), st.floats(0.1, 50))
PLACE = {
    "phases": st.sampled_from([1, 3]),
    "material": st.sampled_from(["copper", "aluminum"]),
    "conduit": st.sampled_from(["steel", "aluminum", "pvc"]),
    "sets": st.integers(1, 6),
    "x_over_r": ratios,
}
places = st.fixed_dictionaries(PLACE)


@given(faults, volts, lengths, sizes, places)
def test_a_run_lowers_the_current_and_a_longer_one_lowers_it_further(
    fault, voltage, length, size, place
):
    near = fault_after_run(fault, voltage, length, size, **place)
    assert near < fault
    assert fault_after_run(fault, voltage, 2 * length, size, **place) < near


@given(faults, volts, sizes, places)
def test_a_run_of_no_length_changes_nothing(fault, voltage, size, place):
    assert fault_after_run(fault, voltage, 1e-6, size, **place) == pytest.approx(fault)


@given(faults, volts, lengths, st.integers(0, len(SIZES) - 2), places)
def test_a_larger_conductor_lets_more_through(fault, voltage, length, place_in_list, place):
    # Only as magnitudes: with vectors a rounded reactance of the table may tip the balance.
    place |= {"x_over_r": None}
    smaller, larger = SIZES[place_in_list : place_in_list + 2]
    assert fault_after_run(fault, voltage, length, larger, **place) >= fault_after_run(
        fault, voltage, length, smaller, **place
    )


@given(faults, volts, lengths, lengths, sizes, places)
def test_two_runs_in_a_row_are_one_long_run(fault, voltage, first, second, size, place):
    place |= {"x_over_r": None}
    between = fault_after_run(fault, voltage, first, size, **place)
    assert fault_after_run(between, voltage, second, size, **place) == pytest.approx(
        fault_after_run(fault, voltage, first + second, size, **place)
    )


@given(faults, volts, lengths, sizes, st.sampled_from([1, 3]), st.floats(0.1, 50))
def test_magnitudes_never_give_more_than_vectors_and_at_most_29_percent_less(
    fault, voltage, length, size, phases, ratio
):
    magnitudes = fault_after_run(fault, voltage, length, size, phases)
    vectors = fault_after_run(fault, voltage, length, size, phases, x_over_r=ratio)
    assert magnitudes <= vectors * (1 + 1e-12)
    assert magnitudes >= vectors / math.sqrt(2) * (1 - 1e-12)


def test_a_source_with_the_angle_of_the_cable_adds_the_same_either_way():
    # Chapter 9 Table 9, 4/0 copper in steel: 0.063 and 0.051 ohm.
    either = fault_after_run(15_000, 480, 120, "4/0", x_over_r=0.051 / 0.063)
    assert either == pytest.approx(float(fault_after_run(15_000, 480, 120, "4/0")))


@given(faults, volts, lengths, sizes, places)
def test_parallel_sets_act_as_a_run_of_a_part_of_the_length(fault, voltage, length, size, place):
    once = place | {"sets": 1}
    assert fault_after_run(fault, voltage, length, size, **place) == pytest.approx(
        float(fault_after_run(fault, voltage, length / place["sets"], size, **once))
    )


@given(faults, st.sampled_from([120.0, 240.0, 480.0]), lengths, sizes, ratios)
def test_single_phase_is_a_loop_out_and_back(fault, voltage, length, size, ratio):
    # A loop of twice the length at V is a phase of a three-phase run at sqrt(3) V.
    loop = fault_after_run(fault, voltage, length, size, 1, x_over_r=ratio)
    phase = fault_after_run(fault, math.sqrt(3) * voltage, 2 * length, size, 3, x_over_r=ratio)
    assert loop == pytest.approx(float(phase))


@given(st.floats(3, 2500), volts, st.floats(0.5, 10), st.sampled_from([1, 3]))
def test_the_source_limits_the_current(kva, voltage, impedance, phases):
    unlimited = fault_current(kva, voltage, impedance, phases)
    assert fault_current(kva, voltage, impedance, phases, 1e8) <= unlimited
    # A source as strong as the transformer's own short-circuit power halves the current.
    own = 100 * kva / impedance
    assert fault_current(kva, voltage, impedance, phases, own) == pytest.approx(unlimited / 2)


def test_a_blank_source_and_a_blank_ratio_may_stand_beside_given_ones():
    together = fault_current(75.0, 208.0, 5.0, 3, np.array([np.nan, 50_000.0]))
    assert together[0] == fault_current(75.0, 208.0, 5.0)
    assert together[1] == fault_current(75.0, 208.0, 5.0, 3, 50_000.0)
    runs = fault_after_run(9000.0, 208.0, 50.0, "1/0", x_over_r=np.array([np.nan, 4.0]))
    assert runs[0] == fault_after_run(9000.0, 208.0, 50.0, "1/0")
    assert runs[1] == fault_after_run(9000.0, 208.0, 50.0, "1/0", x_over_r=4.0)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((10_000, 4160, 50, "1/0"), "volts must be up to 1000 V"),
        ((10_000, 480, 50, "700"), "size must be one of Chapter 9 Table 9"),
        ((10_000, 480, 50, "18"), "size must be one of Chapter 9 Table 9"),
        ((10_000, 480, 50, "14", 3, "aluminum"), "size must be one of Chapter 9 Table 9"),
        ((10_000, 480, 50, ""), "size is blank"),
        ((10_000, 480, 50, "1", 3, "copper", "steel", 2), "sets above 1 need size 1/0"),
        ((10_000, 480, 50, "1", 3, "copper", "steel", 1, 0), "x_over_r must be from 0.1 to 100"),
        ((10_000, 480, 0, "1"), "length must be above 0"),
        ((0, 480, 50, "1"), "fault_amps must be above 0"),
    ],
)
def test_a_refusal_names_the_argument(arguments, message):
    with pytest.raises(InputError, match=message):
        fault_after_run(*arguments)


def test_1000_volts_within_rounding_is_not_above_1000_volts():
    least = fault_after_run(10_000, 1000, 50, "1/0")
    assert fault_after_run(10_000, 1000 * (1 + 5e-7), 50, "1/0") == pytest.approx(least)
    with pytest.raises(InputError, match="volts must be up to 1000 V"):
        fault_after_run(10_000, 1000 * (1 + 5e-6), 50, "1/0")
