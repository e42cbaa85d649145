"""Laws of raceway fill, and the counts of Annex C."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import xlfuncs
from xlfuncs import InputError
from xlfuncs.raceway import raceway_fill, raceway_size

from .working import lines_of

TABLES = Path(xlfuncs.__file__).parent / "tables"


def rows(file):
    """Return the rows of a table, read apart from the functions."""
    lines = file.read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


AREA = {
    row["size"]: float(row["thhn_thwn2_area_in2"])
    for row in rows(TABLES / "insulated_conductor_area.csv")
}
SIZES = ["1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4", "5", "6"]
LISTED = {}
for row in rows(TABLES / "raceway_area.csv"):
    LISTED.setdefault(row["raceway"], {})[row["trade_size"]] = row

ANNEX_C = [
    (row["raceway"], row["insulation"], row["size"], size, int(row[size]))
    for row in rows(Path(__file__).parent / "annex_c.csv")
    for size in list(row)[3:]
    if row[size]
]
# Counts above this are beyond what a count may be.
LARGEST_COUNT = 500

raceways = st.sampled_from(list(LISTED))
groups = st.lists(
    st.tuples(st.sampled_from(list(AREA)), st.integers(1, 12)), min_size=1, max_size=4
)


def flat(pairs):
    return [part for pair in pairs for part in pair]


def place(answer):
    """Return the place of a trade size among all."""
    return SIZES.index(str(answer).removesuffix(" in"))


@pytest.mark.parametrize(("raceway", "insulation", "size", "trade_size", "most"), ANNEX_C)
def test_the_counts_are_those_of_annex_c(raceway, insulation, size, trade_size, most):
    if 0 < most <= LARGEST_COUNT:
        assert place(raceway_size(raceway, insulation, size, most)) <= SIZES.index(trade_size)
    if most < LARGEST_COUNT:
        more = xlfuncs.call("XF_RACEWAY_SIZE", raceway, insulation, size, most + 1)
        assert more.startswith("Check: ") or place(more) > SIZES.index(trade_size)


@given(raceways, groups)
def test_the_next_smaller_size_would_be_overfilled(raceway, pairs):
    count = sum(number for _, number in pairs)
    total = sum(AREA[size] * number for size, number in pairs)
    column = {1: "area_1wire_53_in2", 2: "area_2wire_31_in2"}.get(count, "area_over2_40_in2")
    part = {1: 0.53, 2: 0.31}.get(count, 0.40)
    alike = len({size for size, _ in pairs}) == 1
    enough = [
        size
        for size, row in LISTED[raceway].items()
        if size != "3/8"
        and (
            float(row[column]) >= total * (1 - 1e-6)
            # Note 7: 0.8 of a conductor counts as one where all are of one size.
            or (alike and part * float(row["area_100_in2"]) / (total / count) >= count - 0.2)
        )
    ]
    if enough:
        assert raceway_size(raceway, "THHN", *flat(pairs)) == f"{enough[0]} in"
    else:
        with pytest.raises(InputError, match="divide them among raceways"):
            raceway_size(raceway, "THHN", *flat(pairs))


@given(raceways, groups, st.randoms(use_true_random=False))
def test_the_order_of_the_groups_does_not_matter(raceway, pairs, random):
    shuffled = random.sample(pairs, len(pairs))
    call = xlfuncs.call
    assert call("XF_RACEWAY_SIZE", raceway, "THHN", *flat(pairs)) == call(
        "XF_RACEWAY_SIZE", raceway, "THHN", *flat(shuffled)
    )


@given(raceways, st.sampled_from(list(AREA)), st.integers(2, 12))
def test_one_size_in_two_groups_is_one_group(raceway, size, count):
    call = xlfuncs.call
    together = call("XF_RACEWAY_SIZE", raceway, "THHN", size, count)
    assert call("XF_RACEWAY_SIZE", raceway, "THHN", size, count - 1, size, 1) == together


@given(raceways, st.sampled_from(list(AREA)), st.integers(3, 12))
def test_more_conductors_never_take_a_smaller_raceway(raceway, size, count):
    few = xlfuncs.call("XF_RACEWAY_SIZE", raceway, "THHN", size, count)
    many = xlfuncs.call("XF_RACEWAY_SIZE", raceway, "THHN", size, count + 1)
    if not many.startswith("Check: "):
        assert place(many) >= place(few)


@given(raceways, groups)
def test_a_nipple_is_never_larger(raceway, pairs):
    groups = flat(pairs) + [None, None] * (4 - len(pairs))
    run = xlfuncs.call("XF_RACEWAY_SIZE", raceway, "THHN", *groups)
    nipple = xlfuncs.call("XF_RACEWAY_SIZE", raceway, "THHN", *groups, True)
    if not run.startswith("Check: "):
        assert place(nipple) <= place(run)


@given(raceways, groups)
def test_fill_is_the_sum_of_the_areas(raceway, pairs):
    total = sum(AREA[size] * number for size, number in pairs)
    for size, row in LISTED[raceway].items():
        fill = raceway_fill(raceway, size, "THHN", *flat(pairs))
        assert fill == pytest.approx(100 * total / float(row["area_100_in2"]))


def test_the_percent_columns_follow_from_the_area():
    # Chapter 9 Table 1 and note 4; print may differ by 0.001 in2, Table 4 rounds each on its own.
    for raceway in LISTED.values():
        for row in raceway.values():
            area = float(row["area_100_in2"])
            for column, part in (
                ("area_60_in2", 0.60),
                ("area_1wire_53_in2", 0.53),
                ("area_2wire_31_in2", 0.31),
                ("area_over2_40_in2", 0.40),
            ):
                assert float(row[column]) == pytest.approx(part * area, abs=0.0015)


def test_rows_may_leave_groups_out():
    cells = [
        ["EMT", "THHN", 12.0, 9.0, None, None],
        ["EMT", "THHN", 12.0, 9.0, 10.0, 1.0],
        ["EMT", "THHN", 12.0, 9.0, "", 0.0],
        ["EMT", "THHN", 8.0, 6.0, None, None],
        ["EMT", "THHN", 12.0, 9.0, 10.0, None],
        ["EMT", "THHN", 12.0, 9.0, None, 1.0],
    ]
    columns = [[[cell] for cell in column] for column in zip(*cells, strict=True)]
    assert xlfuncs.call("XF_RACEWAY_SIZE", *columns) == [
        ["1/2 in"],
        ["3/4 in"],
        ["1/2 in"],
        ["3/4 in"],
        ["Check: count_2 must be above 0 where size_2 is given"],
        ["Check: size_2 is blank, but count_2 is given"],
    ]
    for row, expected in zip(cells, xlfuncs.call("XF_RACEWAY_SIZE", *columns), strict=True):
        assert xlfuncs.call("XF_RACEWAY_SIZE", *row) == expected[0]


def test_only_the_elements_that_do_not_fit_are_refused():
    with pytest.raises(InputError) as refusal:
        raceway_size("EMT", "THHN", "500", np.array([3, 30, 4]))
    assert refusal.value.mask.tolist() == [False, True, False]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("PEX", "THHN", 12, 3), "raceway must be EMT, FMC"),
        (("EMT", 75, 12, 3), "insulation must be a type here"),
        (("EMT", "XHWN-2", 12, 3), "insulation has no area in the table: it has TW, THW"),
        (("EMT", "NOPE", 12, 3), "insulation must be a type such as"),
        (("EMT", "THHN", 16, 3), "size_1 must be from 14 AWG to 1000 kcmil"),
        (("EMT", "THHN", 12, 3, 1250, 1), "size_2 must be from 14 AWG to 1000 kcmil"),
        (("EMT", 60, 12, 3), "insulation must be a type here"),
        (("EMT", "THHN", "", 3), "size_1 is blank$"),
        (("EMT", "THHN", "", None), "size_1 is blank$"),
        (("EMT", "THHN", "", None, "10", 2), "size_1 is blank$"),
        (("EMT", "THHN", 12, 0), "count_1 must be a whole number from 1"),
        (("EMT", "THHN", 12, 2.5), "count_1 must be a whole number from 1"),
        (("EMT", "THHN", 12, 3, "10", 0), "count_2 must be above 0 where size_2 is given"),
    ],
)
def test_a_refusal_names_the_argument(arguments, message):
    with pytest.raises(InputError, match=message):
        raceway_size(*arguments)


def test_a_trade_size_that_the_raceway_lacks_is_refused():
    with pytest.raises(InputError, match="not listed for this raceway"):
        raceway_fill("EMT", "3/8", "THHN", 12, 1)
    assert raceway_fill("FMC", "3/8", "THHN", 12, 1) == pytest.approx(100 * 0.0133 / 0.116)


def test_a_group_in_between_may_be_left_out():
    left_out = raceway_size("EMT", "THHN", "12", 9, "", None, "10", 1)
    assert left_out == raceway_size("EMT", "THHN", "12", 9, "10", 1) == "3/4 in"


def test_an_area_equal_to_the_room_within_rounding_fits():
    # Chapter 9: 7 x 0.0097 + 3 x 0.0507 = 0.22 in2, and RMC 3/4 has 0.220 in2 for 40 %.
    assert raceway_size("RMC", "THHN", "14", 7, "6", 3) == "3/4 in"
    assert lines_of("XF_RACEWAY_SIZE", "RMC", "THHN", "14", 7, "6", 3)[-1] == (
        "Trade size: first with room for 0.22 in2: 0.22 in2 may be filled: 3/4 in"
    )


def test_the_working_tells_the_groups_and_the_rule():
    """Chapter 9 Tables 1, 4 and 5: 8 AWG THW 0.0437 in2, EMT 3/4 0.533 in2."""
    assert lines_of("XF_RACEWAY_SIZE", "EMT", "THW", "8", 5, "", 0) == [
        "Conductor area: 5 × 0.0437 in2 (8 AWG): 0.2185",
        "All conductors: sum of 5 conductors: 0.2185",
        "Fill allowed: 5 conductors: 40",
        "Trade size: 0.2132 in2 / 0.0437 in2 = 4.8787 equal conductors, 0.8 or more counts as "
        "one: 3/4 in",
    ]
