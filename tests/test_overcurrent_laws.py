"""Laws of standard ratings and of the devices that loads and transformers take."""

import itertools

import numpy as np
import pytest

import xlfuncs
from xlfuncs.errors import InputError
from xlfuncs.overcurrent import (
    load_protection,
    next_rating,
    primary_protection,
    protection_percent,
    rating_at_most,
    secondary_protection,
    standard_rating,
)

# NFPA 70, 240.6(A), typed from the text: the table of 2017 and 2020, what 2023 added, and the
# ratings that only fuses have.
TABLE = [
    *(15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125, 150, 175, 200, 225, 250),
    *(300, 350, 400, 450, 500, 600, 700, 800, 1000, 1200, 1600, 2000, 2500, 3000, 4000, 5000),
    6000,
]
FUSES_ONLY = [1, 3, 6, 10, 601]
RATINGS = {
    ("breaker", 2017): TABLE,
    ("breaker", 2020): TABLE,
    ("breaker", 2023): [10, *TABLE],
    **{("fuse", edition): sorted([*FUSES_ONLY, *TABLE]) for edition in (2017, 2020, 2023)},
}
KINDS = list(RATINGS)
CURRENTS = np.geomspace(0.2, 5900, 4001)


@pytest.mark.parametrize(("device", "edition"), KINDS)
def test_the_next_rating_is_the_smallest_that_is_enough(device, edition):
    ratings = RATINGS[device, edition]
    for amps, got in zip(CURRENTS, next_rating(CURRENTS, device, edition), strict=True):
        assert got == min(rating for rating in ratings if rating >= amps)


@pytest.mark.parametrize(("device", "edition"), KINDS)
def test_the_rating_below_is_the_largest_that_is_not_above(device, edition):
    ratings = RATINGS[device, edition]
    for amps, got in zip(CURRENTS, rating_at_most(CURRENTS, device, edition), strict=True):
        below = [rating for rating in ratings if rating <= amps]
        assert got == max(below) if below else np.isnan(got)


@pytest.mark.parametrize(("device", "edition"), KINDS)
def test_a_standard_rating_is_its_own_neighbor_within_rounding(device, edition):
    ratings = np.array(RATINGS[device, edition], float)
    for nearly in (ratings, ratings * (1 + 0.9e-6), ratings * (1 - 0.9e-6)):
        assert (next_rating(nearly, device, edition) == ratings).all()
        assert (rating_at_most(nearly, device, edition) == ratings).all()
    beyond = next_rating(ratings[:-1] * (1 + 2e-6), device, edition)
    assert (beyond == ratings[1:]).all()
    before = rating_at_most(ratings[1:] * (1 - 2e-6), device, edition)
    assert (before == ratings[:-1]).all()


def test_no_rating_is_a_gap_and_never_a_number():
    assert np.isnan(next_rating([6000.1, np.nan], "breaker", 2023)).all()
    assert np.isnan(rating_at_most([9.9, np.nan], "breaker", 2023)).all()
    assert np.isnan(rating_at_most([0.9, np.nan], "fuse", 2023)).all()


def test_candidates_may_stand_on_an_axis_of_their_own():
    devices = np.array([["breaker"], ["fuse"]])
    assert next_rating([5.5, 600.5], devices, 2020).tolist() == [[15, 700], [6, 601]]
    assert rating_at_most([15, 650], devices, 2020).tolist() == [[15, 600], [15, 601]]


@pytest.mark.parametrize(("device", "edition"), KINDS)
def test_a_load_takes_the_smallest_device_that_carries_it_at_80_percent(device, edition):
    """125 % of a continuous load is the same as using 80 % of the device."""
    ratings = RATINGS[device, edition]
    for continuous, noncontinuous in itertools.product((0.0, 3.0, 16.0, 83.3), (0.0, 7.0, 240.0)):
        if continuous + noncontinuous == 0:
            continue
        got = load_protection(continuous, noncontinuous, device, edition)
        left = [r for r in ratings if 0.8 * (r - noncontinuous) >= continuous - 1e-9]
        assert got == min(left)


def unit(amps):
    """Rating and voltage of a single-phase unit with this current."""
    return amps * 240 / 1000, 240, 1


@pytest.mark.parametrize(("device", "edition"), KINDS)
@pytest.mark.parametrize("amps", [9.0, 10.4, 12.0, 41.64, 80.0, 135.3, 208.2, 481.0, 4000.0])
def test_125_percent_goes_no_further_than_the_next_rating(device, edition, amps):
    ratings = RATINGS[device, edition]
    primary = primary_protection(*unit(amps), False, device, None, False, edition)
    secondary = secondary_protection(*unit(amps), device, None, None, False, edition)
    assert primary == secondary
    assert primary >= 1.25 * amps - 1e-6
    assert all(rating < 1.25 * amps for rating in ratings if rating < primary)


@pytest.mark.parametrize(("device", "edition"), KINDS)
@pytest.mark.parametrize(
    ("amps", "protected", "times"),
    [
        *((amps, False, 3.00) for amps in (0.4, 1.04, 1.99)),
        *((amps, False, 1.67) for amps in (2.0, 3.125, 6.2, 8.99)),
        *((amps, True, 2.50) for amps in (0.5, 1.04, 2.0, 6.2, 9.0, 54.13, 2000.0, 4000.0)),
    ],
)
def test_a_ceiling_is_never_passed(device, edition, amps, protected, times):
    allowed = [rating for rating in RATINGS[device, edition] if rating <= times * amps + 1e-9]
    arguments = (*unit(amps), protected, device, None, False, edition)
    if allowed:
        assert primary_protection(*arguments) == max(allowed)
    else:
        with pytest.raises(InputError):
            primary_protection(*arguments)


@pytest.mark.parametrize(("device", "edition"), KINDS)
@pytest.mark.parametrize("amps", [0.7, 1.9, 2.0, 4.2, 8.33, 8.99])
def test_a_small_secondary_is_held_to_its_ceiling(device, edition, amps):
    allowed = [rating for rating in RATINGS[device, edition] if rating <= 1.67 * amps]
    arguments = (*unit(amps), device, None, None, False, edition)
    if allowed:
        assert secondary_protection(*arguments) == max(allowed)
    else:
        with pytest.raises(InputError):
            secondary_protection(*arguments)


def test_supervision_and_impedance_count_over_1000_v_only():
    kva = np.array([15.0, 75.0, 500.0])
    plain = primary_protection(kva, 480)
    assert (primary_protection(kva, 480, 3, False, "breaker", 25, True) == plain).all()
    plain = secondary_protection(kva, 208)
    assert (secondary_protection(kva, 208, 3, "breaker", 480, 25, True) == plain).all()
    assert (secondary_protection(kva, 208, 3, "breaker", 480, 5, True) == plain).all()


def test_a_value_equal_to_a_limit_within_rounding_is_within_it():
    nearly = 1 + 5e-7
    for impedance in (6, 10):  # Table 450.3(A): "not more than 6 %", "not more than 10 %"
        rating = primary_protection(1000, 12470, 3, True, "breaker", impedance)
        assert primary_protection(1000, 12470, 3, True, "breaker", impedance * nearly) == rating
    # 450.3(A) is for over 1000 V.
    assert primary_protection(100, 1000 * nearly) == primary_protection(100, 1000)
    assert secondary_protection(100, 1000 * nearly) == secondary_protection(100, 1000)
    both = [secondary_protection(300, v, 3, "breaker", 12470, 5) for v in (1000, 1000 * nearly)]
    assert both[0] == both[1]
    # Table 450.3(B): "9 amperes or more", "less than 2 amperes".
    assert protection_percent([9, 9 / nearly, 9 / (1 + 2e-6)]).tolist() == [125, 125, 167]
    assert protection_percent([2, 2 / nearly, 2 / (1 + 2e-6)]).tolist() == [167, 167, 300]


@pytest.mark.parametrize("supervised", [False, True])
@pytest.mark.parametrize("device", ["breaker", "fuse"])
def test_more_impedance_never_allows_more(device, supervised):
    kva = np.geomspace(200, 8000, 60)
    primary = [primary_protection(kva, 13800, 3, True, device, z, supervised) for z in (2, 6, 7)]
    assert (primary[0] == primary[1]).all()
    assert (primary[1] >= primary[2]).all()
    secondary = [
        secondary_protection(kva, 4160, 3, device, 13800, z, supervised) for z in (2, 6, 7)
    ]
    assert (secondary[0] == secondary[1]).all()
    assert (secondary[1] >= secondary[2]).all()


@pytest.mark.parametrize("function", [primary_protection, secondary_protection])
def test_only_the_current_counts(function):
    """Three-phase at V is single-phase at sqrt(3) V; twice the size at twice the voltage too."""
    kva = np.array([1.7, 3.0, 9.0, 15.0, 45.0, 112.5])
    three = function(kva, 240.0, 3, device="fuse")
    assert (three == function(kva, 240.0 * np.sqrt(3), 1, device="fuse")).all()
    assert (three == function(2 * kva, 480.0, 3, device="fuse")).all()


@pytest.mark.parametrize("protected", [False, True])
def test_the_percentage_and_the_device_agree(protected):
    amps = np.array([9.0, 20.0, 77.0, 300.0])
    kva, volts, phases = unit(amps)
    limit = amps * protection_percent(amps, "primary", protected) / 100
    rounding = "down" if protected else "up"
    expected = standard_rating(limit, rounding)
    assert (primary_protection(kva, volts, phases, protected) == expected).all()


def test_a_refusal_states_the_limit_of_its_own_unit():
    answers = xlfuncs.call("XF_PRIMARY_PROTECTION", [[0.5], [75], [1], [0.5]], 480, 1)
    assert answers[1] == [200.0]  # 156.25 A x 1.25 = 195.3 A
    assert answers[0] == answers[3]
    assert "3.12 A (300%" in answers[0][0]  # 1.0417 A x 3 = 3.125 A
    assert "3.47 A (167%" in answers[2][0]  # 2.0833 A x 1.67 = 3.479 A


def test_elements_are_refused_together_only_where_their_limit_is_the_same():
    """In any order; the limits are worked by hand from Table 450.3(B)."""
    told = {
        (0.5, False, 2023): "3.12 A (300% of the rated current), and the smallest standard "
        "rating is 10 A",
        (0.6, False, 2023): "3.75 A (300% of the rated current), and the smallest standard "
        "rating is 10 A",  # 1.25 A x 3
        (0.6, True, 2023): "3.12 A (250% of the rated current), and the smallest standard "
        "rating is 10 A",  # 1.25 A x 2.5
        (1.0, False, 2023): "3.47 A (167% of the rated current), and the smallest standard "
        "rating is 10 A",
        (1.0, False, 2020): "3.47 A (167% of the rated current), and the smallest standard "
        "rating is 15 A",
        (75.0, False, 2020): "",
    }
    for units in itertools.permutations(told, 3):
        kva, protected, edition = ([[one] for one in column] for column in zip(*units, strict=True))
        answers = xlfuncs.call(
            "XF_PRIMARY_PROTECTION", kva, 480, 1, protected, "breaker", None, False, edition
        )
        for one, (answer,) in zip(units, answers, strict=True):
            if told[one]:
                assert answer.endswith(f"allows no device above {told[one]}")
            else:
                assert answer == 200  # 156.25 A x 1.25 = 195.3 A


@pytest.mark.parametrize(
    ("name", "arguments", "message"),
    [
        ("STANDARD_RATING", (6001,), "amps is above the largest standard rating (6000 A)"),
        (
            "STANDARD_RATING",
            (0.9, "down", "fuse"),
            "amps is below the smallest standard rating (breaker 15 A, from the 2023 edition 10 A; "
            "fuse 1 A)",
        ),
        ("LOAD_PROTECTION", (5000,), "above the largest standard rating (6000 A)"),
        ("LOAD_PROTECTION", (0, 0), "one must be above 0 A"),
        ("PRIMARY_PROTECTION", (10000, 480), "above the largest standard rating (6000 A)"),
        ("SECONDARY_PROTECTION", (300, 480, 3, "fuse", 12470), "must be 10% or less"),
    ],
)
def test_a_refusal_names_the_limit(name, arguments, message):
    # 240.6(A): 15 to 6000 A, 10 A from 2023 on, fuses from 1 A; Table 450.3(A) ends at 10 %.
    answer = xlfuncs.call(f"XF_{name}", *arguments)
    assert answer.startswith("Check: ")
    assert message in answer


def test_the_working_is_what_a_person_would_write():
    lines = xlfuncs.call("XF_STEPS", "XF_PRIMARY_PROTECTION", 45, 480, 3, True)
    text = [" | ".join(map(str, line)) for line in lines]
    assert any("250% × 54.127 A" in line and "Table 450.3(B)" in line for line in text)
    assert any("at or below 135.32 A" in line and "125" in line for line in text)
    assert not any("note 1" in line for line in text)
