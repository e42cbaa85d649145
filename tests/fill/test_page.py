"""docs/fill.md says what the fill does: its table of differences is run line by line."""

from __future__ import annotations

import re
from pathlib import Path

import openpyxl
import pytest
from sheet_functions import FUNCTIONS

from xlfuncs.hosts.workbook import deviations, fill

PAGE = (Path(__file__).parents[2] / "docs" / "fill.md").read_text("utf-8")
TABLE = PAGE.partition("<!-- deviations: begin -->")[2].partition("<!-- deviations: end -->")[0]
LINES = [
    (formula, outcome)
    for formula, outcome in re.findall(r"^\| `(=.*?)` \| .* \| (.+?) \|$", TABLE, re.M)
]


def test_every_line_is_read():
    assert len(LINES) == TABLE.count("\n| `=") > 30


@pytest.mark.parametrize(("formula", "outcome"), LINES)
def test_the_table_is_true(tmp_path, formula, outcome):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet["A1"], sheet["A2"], sheet["A3"], sheet["B1"] = 1, 2, 4, "1,000"
    sheet["C1"] = "=0.1+0.2"
    sheet["D1"] = re.sub(r"^=F\.DIST", "=_xlfn.F.DIST", formula)
    book.save(tmp_path / "in.xlsx")
    report = fill(tmp_path / "in.xlsx", tmp_path / "out.xlsx", functions=FUNCTIONS)
    left = {address for _, address, _ in report.left_alone}
    value = openpyxl.load_workbook(tmp_path / "out.xlsx", data_only=True).active["D1"].value
    if outcome == "left alone":
        assert "D1" in left
        assert value is None
    else:
        assert "D1" not in left
        shown = str(value).upper() if isinstance(value, bool) else str(value)
        assert shown == outcome


def test_what_is_always_left_alone_stands_in_the_table_or_is_like_what_does():
    families = {
        "MODE.SNGL": "MODE", "TIMEVALUE": "DATEVALUE", "FIXED": "DOLLAR", "INFO": "CELL",
    }  # fmt: skip
    for name in deviations.LEFT_ALONE:
        assert f"={families.get(name, name)}(" in TABLE, name
    for names in (deviations.HIDDEN_ROWS_MATTER, deviations.PAIRS_OF_CRITERIA):
        assert all(f"={name}(" in TABLE for name in names)
    assert {"MOD", "VALUE", "IFERROR", "POWER", "PROPER"} <= deviations.REPLACED
    for name in ("MOD", "VALUE", "IFERROR", "POWER", "PROPER"):
        assert f"={name}(" in TABLE


def test_the_functions_that_are_computed_are_listed():
    listed = PAGE.partition("<!-- functions: begin -->")[2].partition("<!-- functions: end -->")[0]
    assert listed.split() == sorted(deviations.COMPARED)
