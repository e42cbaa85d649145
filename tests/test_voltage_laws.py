"""Laws of the voltage drop of a run."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from xlfuncs import InputError
from xlfuncs.designations import SIZES
from xlfuncs.steps import recording
from xlfuncs.voltage import (
    LISTED,
    longest_run,
    size_for_drop,
    voltage_drop,
    voltage_drop_percent,
)

NAMES = SIZES.names[LISTED].tolist()
PARALLEL = NAMES[NAMES.index("1/0 AWG") :]

amps = st.floats(0.1, 2000)
volts = st.sampled_from([120.0, 208.0, 240.0, 480.0, 600.0])
lengths = st.floats(1, 5000)
limits = st.floats(0.2, 20)
phases = st.sampled_from([1, 3])
power_factors = st.floats(0.02, 1)
materials = st.sampled_from(["copper", "aluminum"])
conduits = st.sampled_from(["steel", "aluminum", "pvc"])
sets = st.integers(1, 6)
RUNS = {
    "phases": phases,
    "power_factor": power_factors,
    "material": materials,
    "conduit": conduits,
    "sets": sets,
}


def test_the_sizes_are_those_of_table_9():
    listed = "14 12 10 8 6 4 3 2 1 1/0 2/0 3/0 4/0 250 300 350 400 500 600 750 1000"
    assert " ".join(name.split()[0] for name in NAMES) == listed


@given(amps, volts, st.sampled_from(PARALLEL), limits, st.fixed_dictionaries(RUNS))
def test_the_longest_run_drops_exactly_the_limit(amps, volts, size, limit, run):
    length = longest_run(amps, volts, size, limit, **run)
    if length <= 20_000:
        assert voltage_drop_percent(amps, volts, length, size, **run) == pytest.approx(limit)


@given(amps, lengths, st.sampled_from(PARALLEL), st.fixed_dictionaries(RUNS))
def test_the_drop_is_in_proportion_to_current_length_and_sets(amps, length, size, run):
    drop = voltage_drop(amps, length, size, **run)
    assert voltage_drop(3 * amps, length, size, **run) == pytest.approx(3 * drop)
    assert voltage_drop(amps, 3 * length, size, **run) == pytest.approx(3 * drop)
    assert voltage_drop(amps, length, size, **run | {"sets": 1}) == pytest.approx(
        run["sets"] * drop
    )
    assert voltage_drop(amps, length, size, **run | {"phases": 1}) / voltage_drop(
        amps, length, size, **run | {"phases": 3}
    ) == pytest.approx(2 / math.sqrt(3))


@given(amps, volts, lengths, limits, st.fixed_dictionaries(RUNS))
def test_the_size_for_a_drop_keeps_to_it_and_the_next_smaller_does_not(
    amps, volts, length, limit, run
):
    def percent(size):
        return 100 * voltage_drop(amps, length, size, **run) / volts

    usable = PARALLEL if run["sets"] > 1 else NAMES
    if run["material"] == "aluminum" and usable is NAMES:
        usable = NAMES[1:]
    try:
        size = str(size_for_drop(amps, volts, length, limit, **run))
    except InputError:
        assert percent(usable[-1]) > limit
        return
    place = usable.index(size)
    for larger in usable[place:]:
        assert percent(larger) <= limit * (1 + 1e-6)
    if place:
        assert percent(usable[place - 1]) > limit


@given(
    amps,
    volts,
    st.sampled_from(PARALLEL),
    limits,
    # Below about 0.1 a larger size can drop more than its neighbor.
    st.fixed_dictionaries(RUNS | {"power_factor": st.floats(0.3, 1)}),
)
def test_the_size_for_the_longest_run_of_a_size_is_not_larger(amps, volts, size, limit, run):
    length = longest_run(amps, volts, size, limit, **run)
    if length <= 20_000:
        found = str(size_for_drop(amps, volts, length, limit, **run))
        assert NAMES.index(found) <= NAMES.index(size)


def test_at_a_very_low_power_factor_a_larger_size_can_drop_more():
    """4/0 in steel has 0.051 ohm of reactance, 250 kcmil 0.052, 300 kcmil 0.051 again."""
    run = {"power_factor": 0.05}
    drop = {size: voltage_drop(100, 1000, size, **run) for size in ("4/0", "250", "300")}
    assert drop["300"] < drop["4/0"] < drop["250"]
    between = 100 * (drop["4/0"] + drop["250"]) / 2 / 480
    assert size_for_drop(100, 480, 1000, between, **run) == "300 kcmil"


@pytest.mark.parametrize("size", ["700", "800", "900", "1250", "2000", "18", "16"])
def test_a_size_that_table_9_leaves_out_is_refused_and_the_table_named(size):
    for function, before in (
        (voltage_drop, (10, 10)),
        (voltage_drop_percent, (10, 480, 10)),
        (longest_run, (10, 480)),
    ):
        with pytest.raises(InputError, match="size must be one of Chapter 9 Table 9"):
            function(*before, size)


def test_one_bad_element_is_named_and_the_others_are_not():
    with pytest.raises(InputError) as refusal:
        voltage_drop_percent([10, 10, 10], 480, 100, np.array(["6", "700", "6"], object))
    assert refusal.value.mask.tolist() == [False, True, False]
    with pytest.raises(InputError, match="volts must be above the drop") as refusal:
        voltage_drop_percent([10, 1000], 120, 500, "6")
    assert refusal.value.mask.tolist() == [False, True]
    with pytest.raises(InputError, match="limit is not kept") as refusal:
        size_for_drop([10, 1000, 10], 208, [100, 2000, 100])
    assert refusal.value.mask.tolist() == [False, True, False]


def test_a_drop_equal_to_the_limit_within_rounding_is_within_it():
    run = float(longest_run(100, 480, "2"))
    assert size_for_drop(100, 480, run * (1 + 1e-8)) == "2 AWG"
    assert size_for_drop(100, 480, run * (1 + 1e-5)) == "1 AWG"


@pytest.mark.parametrize("length", [1, 10, 15, 20, 60, 140, 600, 700])
def test_the_working_shows_the_size_and_the_next_smaller_one_that_drops_too_much(length):
    with recording() as lines:
        size = str(size_for_drop(90, 480, length, 1))
    told = {(line.step, line.value): line.working.split()[1::3] for line in lines}
    place = NAMES.index(size)
    smaller = {("Next smaller size", name) for name in NAMES[:place][-1:]}
    assert set(told) == {("Size for the drop", size)} | smaller
    for (step, one), (percent, limit) in told.items():
        assert float(percent) == pytest.approx(voltage_drop_percent(90, 480, length, one), rel=1e-4)
        assert (float(percent) > 1) == (step == "Next smaller size")
        assert limit == "1"


def test_a_drop_of_the_whole_voltage_is_refused():
    drop = float(voltage_drop(1000, 1000, "6"))
    with pytest.raises(InputError, match="volts must be above the drop"):
        voltage_drop_percent(1000, drop, 1000, "6")
    assert voltage_drop_percent(1000, 1.001 * drop, 1000, "6") == pytest.approx(99.9, abs=0.01)
