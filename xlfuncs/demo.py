"""The demo: a job list of an invented small town, built, filled and shown."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

from openpyxl import Workbook, load_workbook
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.table import Table, TableStyleInfo
from openpyxl.worksheet.worksheet import Worksheet

from .cells import PREFIX
from .hosts.workbook import Report, fill

FILE_NAME = "xlfuncs-demo.xlsx"

# Tag, place, kVA, phases, primary V, secondary V, system of the secondary, runs in feet.
JOBS: list[tuple[Any, ...]] = [
    ("T-01", "Library, reading room", 15, 3, 480, 208, "208Y/120", 40, 8),
    ("T-02", "Library, stacks", 30, 3, 480, 208, "208Y/120", 65, 9),
    ("T-03", "Town hall, offices", 45, 3, 480, 208, "208Y/120", 80, 10),
    ("T-04", "Town hall, server room", 30, 3, 480, 208, "208Y/120", 110, 10),
    ("T-05", "Fire station, bays", 75, 3, 480, 208, "208Y/120", 55, 18),
    ("T-06", "Fire station, quarters", 25, 1, 480, 240, "120/240", 60, 10),
    ("T-07", "Primary school, east wing", 112.5, 3, 480, 208, "208Y/120", 120, 20),
    ("T-08", "Primary school, kitchen", 75, 3, 480, 208, "208Y/120", 95, 12),
    ("T-09", "Primary school, gym", 45, 3, 480, 208, "208Y/120", 150, 10),
    ("T-10", "Water works, pump hall", 150, 3, 480, 208, "208Y/120", 70, 22),
    ("T-11", "Water works, control room", 9, 3, 480, 208, "208Y/120", 30, 6),
    ("T-12", "Water works, step-up for wells", 75, 3, 208, 480, "480Y/277", 25, 24),
    ("T-13", "Bakery, ovens", 112.5, 3, 480, 240, "240 delta", 60, 14),
    ("T-14", "Bakery, shop", 10, 1, 480, 240, "120/240", 45, 7),
    ("T-15", "Clinic, imaging", 150, 3, 480, 208, "208Y/120", 90, 15),
    ("T-16", "Clinic, wards", 75, 3, 480, 208, "208Y/120", 130, 10),
    ("T-17", "Clinic, laundry", 45, 3, 480, 208, "208Y/120", "42 m", "3 m"),
    ("T-18", "Sawmill, planer", 225, 3, 600, 480, "480Y/277", 100, 20),
    ("T-19", "Sawmill, office", 37.5, 1, 480, 240, "120/240", 85, 9),
    ("T-20", "Cinema, projection", 15, 1, 480, 240, "120/240", 75, 8),
    ("T-21", "Cinema, foyer", 30, 3, 480, 208, "208Y/120", 50, 10),
    ("T-22", "Market hall, stalls", 112.5, 3, 480, 208, "208Y/120", 140, 25),
    ("T-23", "Market hall, cold store", 225, 3, 480, 208, "208Y/120", 60, 16),
    ("T-24", "Bus depot, chargers", 300, 3, 480, 208, "208Y/120", 45, 12),
    ("T-25", "Bus depot, workshop", 50, 1, 480, 240, "120/240", 65, 10),
    ("T-26", "Swimming pool, plant", 75, 3, 480, 208, "208Y/120", "160'-6\"", 9),
]

WRONG: list[tuple[Any, ...]] = [
    ("W-01", "no rating on the nameplate", None, 3, 480, 208, "208Y/120", 40, 8),
    ("W-02", "rating below zero", -75, 3, 480, 208, "208Y/120", 40, 8),
    ("W-03", "kW where kVA belongs", "75 kW", 3, 480, 208, "208Y/120", 40, 8),
    ("W-04", "two phases", 75, 2, 480, 208, "208Y/120", 40, 8),
    ("W-05", "secondary run over 25 ft", 75, 3, 480, 208, "208Y/120", 40, 60),
    ("W-06", "run in seconds", 75, 3, 480, 208, "208Y/120", "40 s", 8),
    ("W-07", "system that does not exist", 75, 3, 480, 208, "208/100", 40, 8),
    ("W-08", "error from another sheet", 75, 3, "=NA()", 208, "208Y/120", 40, 8),
    ("W-09", "words in place of a number", "see drawing", 3, 480, 208, "208Y/120", 40, 8),
]

INPUTS = [
    "Tag", "Place", "kVA", "Phases", "Primary V", "Secondary V", "System",
    "Primary run", "Secondary run",
]  # fmt: skip

# Heading and formula of each result; a name in square brackets is the column of the same row.
RESULTS = [
    ("Primary A", "=XF_FULL_LOAD_CURRENT([kVA],[Primary V],[Phases])", "0.0"),
    ("Secondary A", "=XF_FULL_LOAD_CURRENT([kVA],[Secondary V],[Phases])", "0.0"),
    ("Primary device", "=XF_LOAD_PROTECTION([Primary A])", "0"),
    ("Secondary device", "=XF_LOAD_PROTECTION([Secondary A])", "0"),
    (
        "Primary sets",
        '=IF(ISNUMBER([Primary device]),IF([Primary device]>400,2,1),"")',
        "0",
    ),
    (
        "Primary size",
        # 215.2(A)(1): the transformer's load is taken as continuous.
        "=XF_PROTECTED_SIZE([Primary device],IF(ISNUMBER([Primary A]),1.25*[Primary A],"
        '[Primary A]),"copper","THHN",,30,3,"yes",[Primary sets])',
        "General",
    ),
    (
        "Secondary least A",
        "=XF_SECONDARY_AMPACITY([Primary device],[Primary V],[Secondary V],[Secondary run],"
        "[Secondary device])",
        "0",
    ),
    (
        "Secondary sets",
        '=IF(ISNUMBER([Secondary least A]),ROUNDUP([Secondary least A]/380,0),"")',
        "0",
    ),
    (
        "Secondary size",
        '=XF_PROTECTED_SIZE([Secondary device],[Secondary least A],"copper","THHN",,30,3,"no",'
        "[Secondary sets])",
        "General",
    ),
    ("Ground", "=XF_EQUIPMENT_GROUND([Primary device])", "General"),
    (
        "Drop %",
        "=XF_VOLTAGE_DROP_PERCENT([Primary A],[Primary V],[Primary run],[Primary size],[Phases],"
        ",,,[Primary sets])",
        "0.00",
    ),
    ("Bond over 250 V", '=XF_BOND_OVER_250(XF_VOLTS_TO_GROUND([System]))&""', "General"),
    (
        "Verdict",
        f'=IF(COUNTIF([Primary A]:[Bond over 250 V],"{PREFIX.strip()}*")>0,"see message",'
        'IF(ISNUMBER([Drop %]),IF([Drop %]>3,"drop over 3 %","in order"),"see error"))',
        "General",
    ),
]

READ_ME = [
    "Job list of an invented town",
    "Every name, place and figure here is made up. Fill in the white columns of the job list; the "
    "gray columns are formulas.",
    "The sheet 'Wrong on purpose' shows what the functions say to wrong inputs: a message that "
    "begins with 'Check:' and names the argument.",
    "Without the functions the stored results stay visible. To compute again after a change: "
    "xlfuncs fill FILE.",
    "A wrong number can hurt someone. The adopted code, the authority having jurisdiction and a "
    "licensed person decide; de-energize and verify before you touch.",
]

_HEAD = PatternFill("solid", fgColor="3B4A54")
_RESULT = PatternFill("solid", fgColor="EDEFF1")
_ALERT = PatternFill("solid", fgColor="F6D9B8")


def build_demo(folder: Path) -> tuple[Path, Report, list[list[object]]]:
    """Build the demo in `folder`, fill it in place and read a short table of results.

    Returns
    -------
    path : Path
        The filled workbook.
    report : Report
        What the fill did.
    rows : list of list
        Headings and one row a transformer.
    """
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / FILE_NAME
    build(path)
    report = fill(path, path, in_place=True, share=True)
    return path, report, _short_table(path)


def build(path: Path) -> None:
    """Write the workbook, its formulas not yet computed."""
    book = Workbook()
    _read_me(book.active)
    _job_sheet(book.create_sheet("Job list"), "Jobs", JOBS)
    _job_sheet(book.create_sheet("Wrong on purpose"), "WrongJobs", WRONG)
    _totals(book.create_sheet("Totals"))
    book.save(path)


def _read_me(sheet: Any) -> None:
    sheet.title = "Read me"
    sheet.column_dimensions["A"].width = 70
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.sheet_view.showGridLines = False
    for row, text in enumerate(READ_ME, 1):
        cell = sheet.cell(row, 1, text)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        cell.font = Font(bold=row == 1, size=16 if row == 1 else 11)
        # Nothing else makes room for a second line when the sheet is opened.
        sheet.row_dimensions[row].height = 24 if row == 1 else 18 * math.ceil(len(text) / 62)


def _job_sheet(sheet: Worksheet, table: str, jobs: list[tuple[Any, ...]]) -> None:
    headings = [*INPUTS, *(heading for heading, _, _ in RESULTS)]
    sheet.append(headings)
    for number, job in enumerate(jobs, 2):
        sheet.append([*job, *(_in_table(table, formula) for _, formula, _ in RESULTS)])
        for column, (_, _, shown) in enumerate(RESULTS, len(INPUTS) + 1):
            cell = sheet.cell(number, column)
            cell.number_format = shown
            cell.fill = _RESULT
    for column, heading in enumerate(headings, 1):
        cell = sheet.cell(1, column)
        cell.font = Font(bold=True, color="FFFFFF")
        cell.fill = _HEAD
        cell.alignment = Alignment(wrap_text=True, vertical="center")
        width = 28 if heading == "Place" else 13
        sheet.column_dimensions[get_column_letter(column)].width = width
    reference = f"A1:{get_column_letter(len(headings))}{len(jobs) + 1}"
    listed = Table(displayName=table, ref=reference)
    listed.tableStyleInfo = TableStyleInfo(name="TableStyleLight1", showRowStripes=False)
    sheet.add_table(listed)
    first = get_column_letter(len(INPUTS) + 1)
    alert = FormulaRule(  # type: ignore[no-untyped-call]
        formula=[f'LEFT({first}2,6)="{PREFIX.strip()}"'], fill=_ALERT
    )
    sheet.conditional_formatting.add(
        f"{first}2:{get_column_letter(len(headings))}{len(jobs) + 1}", alert
    )
    sheet.freeze_panes = "C2"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.print_title_rows = "1:1"
    sheet.row_dimensions[1].height = 32


def _in_table(table: str, formula: str) -> str:
    """Write [Column] as the file form of a reference to that column in the same row."""
    return re.sub(
        r"((?:\[[^\]]+\])(?::\[[^\]]+\])?)",
        rf"{table}[[#This Row],\1]",
        formula,
    )


def _totals(sheet: Worksheet) -> None:
    rows: list[tuple[str, str]] = [
        ("Transformers", "=COUNTA(Jobs[Tag])"),
        ("Installed kVA", "=SUM(Jobs[kVA])"),
        ("Three-phase kVA", "=SUMIFS(Jobs[kVA],Jobs[Phases],3)"),
        ("Largest primary device, A", "=MAX(Jobs[Primary device])"),
        ("Primary 60 A devices", "=COUNTIF(Jobs[Primary device],60)"),
        (
            "Where the largest drop is",
            "=INDEX(Jobs[Place],MATCH(MAX(Jobs[Drop %]),Jobs[Drop %],0))",
        ),
        ("Rows to look at", '=COUNTIF(Jobs[Verdict],"<>in order")'),
        ("Wrong rows caught", '=COUNTIF(WrongJobs[Verdict],"see *")'),
    ]
    sheet.column_dimensions["A"].width = 30
    sheet.column_dimensions["B"].width = 30
    for row, (label, formula) in enumerate(rows, 1):
        sheet.cell(row, 1, label)
        sheet.cell(row, 2, formula).alignment = Alignment(horizontal="left")


SHOWN = [
    "Tag", "kVA", "Primary A", "Secondary A", "Primary device", "Secondary device",
    "Primary sets", "Primary size", "Secondary sets", "Secondary size", "Ground", "Drop %",
    "Verdict",
]  # fmt: skip


def _short_table(path: Path) -> list[list[object]]:
    """Read the results that the fill stored."""
    sheet = load_workbook(path, data_only=True, read_only=True)["Job list"]
    rows = list(sheet.iter_rows(values_only=True))
    places = [rows[0].index(heading) for heading in SHOWN]
    return [list(SHOWN), *([_shown(row[place]) for place in places] for row in rows[1:])]


def _shown(value: object) -> object:
    if isinstance(value, float):
        return f"{value:.2f}".rstrip("0").rstrip(".")
    return value
