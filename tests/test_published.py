"""Every function gives the values that outside sources print, to the digits printed.

A row names where the value stands, what it proves (`lookup`: a row of the table that the function
reads, which proves the reading only; `example`, `formula`, `physics`: more than that) and how the
value is known. Expected values never come from this project's code.
"""

import csv
from pathlib import Path

import pytest

import xlfuncs
from xlfuncs.registry import FUNCTIONS

FOLDER = Path(__file__).parent / "published"
PROVES = {"lookup", "example", "formula", "physics"}


def rows(file):
    lines = [line for line in file.read_text("utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


CHECKS = [(file.stem, row) for file in sorted(FOLDER.glob("*.csv")) for row in rows(file)]


def cell(text):
    """Read an argument as a cell would hold it; {1, 2; 3, 4} is a range of two rows."""
    text = text.strip()
    if text.startswith("{"):
        return [[cell(one) for one in row.split(",")] for row in text.strip("{}").split("|")]
    if text in ("TRUE", "FALSE"):
        return text == "TRUE"
    try:
        return float(text)
    except ValueError:
        return text or None


def half_last_digit(printed):
    """Half a unit in the last printed place: what a printed number can mean."""
    return 0.5 * 10.0 ** -len(printed.partition(".")[2])


@pytest.mark.parametrize(
    ("source", "row"), CHECKS, ids=[f"{s}: {r['function']} {r['where']}" for s, r in CHECKS]
)
def test_gives_the_published_value(source, row):
    got = xlfuncs.call(row["function"], *map(cell, row["arguments"].split(";")))
    if row.get("place"):  # of a table: row and column, counted from 1
        line, column = map(int, row["place"].split(","))
        got = got[line - 1][column - 1]
    printed = row["printed"]
    if printed == "refused":
        assert str(got).startswith("Check: ")
        return
    expected = cell(printed)
    if isinstance(expected, float) and FUNCTIONS[row["function"]].result in ("number", "table"):
        tolerance = float(row["tolerance"]) if row["tolerance"] else half_last_digit(printed)
        assert got == pytest.approx(expected, abs=tolerance + 1e-9, rel=0)
    else:
        assert got == expected


def test_every_row_says_what_it_proves_and_how_it_is_known():
    for source, row in CHECKS:
        assert row["proves"] in PROVES, (source, row["where"])
        assert row["known"], (source, row["where"])
        assert None not in row.values(), (source, row["where"])
        assert None not in row, (source, row["where"])


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_function_has_a_check_that_is_no_lookup(name):
    assert any(
        row["function"] == name and row["proves"] != "lookup" and row["printed"] != "refused"
        for _, row in CHECKS
    )
