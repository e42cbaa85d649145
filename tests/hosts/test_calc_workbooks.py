"""The workbooks for the job, calculated again in LibreOffice Calc with the functions installed."""

from pathlib import Path

import pytest
from openpyxl import load_workbook

FOLDER = Path(__file__).parent.parent.parent / "workbooks"
BOOKS = ("job_list.xlsx", "one_installation.xlsx")


@pytest.fixture(scope="module")
def recalculated(office):
    saved = office.recalculate([FOLDER / name for name in BOOKS])
    return dict(zip(BOOKS, saved, strict=True))


@pytest.mark.parametrize("name", BOOKS)
def test_calc_finds_what_the_workbook_stores(name, recalculated):
    stored, found = (load_workbook(p, data_only=True) for p in (FOLDER / name, recalculated[name]))
    compared = 0
    for sheet in stored:
        for row in sheet.iter_rows():
            for cell in row:
                ours, theirs = cell.value, found[sheet.title][cell.coordinate].value
                place = f"{sheet.title}!{cell.coordinate}"
                if isinstance(ours, bool) or ours == "FALSE":
                    assert theirs == (ours is True), place  # Calc keeps it as 1 or 0
                elif isinstance(ours, (int, float)):
                    assert theirs == pytest.approx(ours, rel=1e-9, abs=1e-9), place
                    compared += 1
                else:
                    assert (theirs or "") == (ours or ""), place
    assert compared > 100
