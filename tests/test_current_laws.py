"""Laws of winding currents and of preferred ratings."""

import numpy as np
import pytest

import xlfuncs
from xlfuncs.current import apparent_power, full_load_current, standard_kva

# 10 CFR 431.196(a)(2), read: the sizes of low-voltage dry-type transformers that it lists.
REGULATED = {
    1: [15, 25, 37.5, 50, 75, 100, 167, 250, 333],
    3: [15, 30, 45, 75, 112.5, 150, 225, 300, 500, 750, 1000],
}
LARGEST = {1: 2500, 3: 10_000}  # IEEE C57.12.01, from memory


@pytest.mark.parametrize("phases", [1, 3])
def test_a_load_takes_the_smallest_listed_size_that_carries_it(phases):
    listed = REGULATED[phases]
    loads = np.concatenate([np.linspace(listed[0], listed[-1], 2001), listed])
    for load, got in zip(loads, standard_kva(loads, phases), strict=True):
        assert got == min(size for size in listed if size >= load)


@pytest.mark.parametrize("phases", [1, 3])
def test_a_load_equal_to_a_listed_size_within_rounding_takes_it(phases):
    listed = np.array(REGULATED[phases], float)
    assert (standard_kva(listed * (1 + 5e-7), phases) == listed).all()
    assert (standard_kva(listed[:-1] * (1 + 5e-6), phases) == listed[1:]).all()


@pytest.mark.parametrize("phases", [1, 3])
def test_a_load_above_the_list_is_refused_with_its_end(phases):
    assert standard_kva(LARGEST[phases], phases) == LARGEST[phases]
    answers = xlfuncs.call("XF_STANDARD_KVA", [[50], [1.001 * LARGEST[phases]]], phases)
    assert answers[0][0] == {1: 50, 3: 75}[phases]
    assert answers[1][0] == (
        "Check: kva is above the largest preferred rating (10000 kVA three-phase, "
        "2500 kVA single-phase)"
    )


@pytest.mark.parametrize("phases", [1, 3])
def test_the_power_of_the_rated_current_is_the_rating(phases):
    for volts in (120.0, 208.0, 480.0, 13_800.0):
        for kva in (0.05, 15.0, 75.0, 2500.0):
            current = full_load_current(kva, volts, phases)
            assert apparent_power(current, volts, phases) == pytest.approx(kva)


def test_the_smallest_three_phase_rating_is_3_kva():
    # NEMA ST 20, from memory; single-phase units begin at 1 kVA.
    assert standard_kva([0.5, 1, 2.2], 3).tolist() == [3, 3, 3]
    assert standard_kva([0.5, 1, 2.2], 1).tolist() == [1, 1, 3]
