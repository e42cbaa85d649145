"""Trade sizes of raceways as people write them. The spellings are the project's own list."""

import pytest

from xlfuncs import InputError
from xlfuncs.designations import TRADE_SIZES, trade_size_number


@pytest.mark.parametrize(
    ("written", "size"),
    [
        ("1/2", "1/2"),
        ("1/2 in", "1/2"),
        ('1/2"', "1/2"),
        ("½", "1/2"),
        (0.5, "1/2"),
        (".5", "1/2"),
        ("3/8", "3/8"),
        (1, "1"),
        ("1 in", "1"),
        ("1-1/4", "1-1/4"),
        ("1 1/4", "1-1/4"),
        ('1-1/4"', "1-1/4"),
        ("1¼ inches", "1-1/4"),
        (1.25, "1-1/4"),
        (2.0, "2"),
        ("2-1/2 in.", "2-1/2"),
        ("3.50", "3-1/2"),
        ("MD 27", "1"),
        ("md103", "4"),
        (6, "6"),
    ],
)
def test_a_trade_size_is_read_as_people_write_it(written, size):
    assert TRADE_SIZES[trade_size_number("trade_size", written)] == size


@pytest.mark.parametrize(
    "written",
    [0, -1, "-1/2", 0.25, "5/8", 1.125, "11/4", "1-1/3", 7, 10, "27 mm", "MD 28", True, "9" * 5000],
)
def test_other_trade_sizes_are_refused(written):
    with pytest.raises(InputError, match="trade_size must be a trade size such as 1/2"):
        trade_size_number("trade_size", written)


@pytest.mark.parametrize("written", [16, "53", 103.0])
def test_a_bare_metric_designator_is_asked_for_its_mark(written):
    with pytest.raises(InputError, match="write it with MD"):
        trade_size_number("trade_size", written)


# 46024 is 2 January 2026, 45350 is 28 February 2024, 37989 is 4 January 2004 (1-1/4).
@pytest.mark.parametrize(
    "written", [46024, "46024", 45350.0, 37989, "2-Jan", "1-Feb", "Jan-04", "1/2/2026"]
)
def test_a_fraction_that_became_a_date_is_explained(written):
    with pytest.raises(InputError, match="read a fraction such as 1/2 as a date"):
        trade_size_number("trade_size", written)


def test_a_blank_trade_size_is_named():
    with pytest.raises(InputError, match="trade_size is blank"):
        trade_size_number("trade_size", "")
