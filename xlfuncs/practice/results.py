"""The results workbook: scores, what each problem gave, and what went wrong."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Alignment
from openpyxl.utils import get_column_letter

from . import sheets
from .mark import BLANK, RIGHT, UNREAD, VERDICTS, WRONG, Listed, Marked, answer_text
from .returned import Unreadable, sheet_names
from .sheets import LINE, put

SHEETS = ("Scores", "By problem", "Remarks")
SIGNS = {RIGHT: "✓", WRONG: "✗", BLANK: "–", UNREAD: "?"}
COLORS = {RIGHT: sheets.RIGHT, WRONG: sheets.WRONG, BLANK: sheets.OPEN, UNREAD: sheets.ANSWER}
LEGEND = ", ".join(f"{sign} {verdict}" for verdict, sign in SIGNS.items())
NOT_READ_HINT = "'not read' counts as no point: look at the answer in Remarks and decide yourself."
LEFT = Alignment(horizontal="left", vertical="top", wrap_text=True)


def may_be_written(path: Path) -> bool:
    """Whether nothing but earlier results would be lost by writing to a path."""
    if not path.exists():
        return True
    try:
        return sheet_names(path) == list(SHEETS)
    except Unreadable:
        return False


def write_results(marked: Sequence[Marked], listed: Sequence[Listed], path: Path) -> None:
    """Write the results of all workbooks that were marked, and list the others."""
    book = sheets.new_book("Results of practice problems")
    _scores(book, marked)
    _by_problem(book, marked)
    _remarks(book, marked, listed)
    sheets.save(book, path)


def percent_right(marked: Marked) -> float:
    """Score of a workbook in percent."""
    return 100 * marked.count(RIGHT) / len(marked.outcomes)


def _scores(book: Workbook, marked: Sequence[Marked]) -> None:
    sheet = book.create_sheet(SHEETS[0])
    numbers = sorted({outcome.entry.number for one in marked for outcome in one.outcomes})
    texts = ["Learner", "Date", "Set", "Right", "Wrong", "Not answered", "Not read", "Of",
             "Score %", "File", *map(str, numbers)]  # fmt: skip
    widths = [26.0, 12, 10, 7, 7, 10, 7, 6, 8, 24, *[4.0] * len(numbers)]
    sheets.headings(sheet, 1, texts, widths)
    sheet.row_dimensions[1].height = 2 * LINE + 4
    first = len(texts) - len(numbers) + 1
    for row, one in enumerate(marked, 2):
        told: list[Any] = [
            one.name, one.returned.date, one.returned.code, *map(one.count, VERDICTS),
            len(one.outcomes), round(percent_right(one), 1), one.returned.path.name,
        ]  # fmt: skip
        for column, value in enumerate(told, 1):
            put(sheet, row, column, value)
        sheets.lined(sheet, row, len(told))
        for column in range(4, 10):
            sheet.cell(row, column).alignment = LEFT
        for outcome in one.outcomes:
            cell = put(
                sheet, row, first + numbers.index(outcome.entry.number), SIGNS[outcome.verdict]
            )
            cell.alignment = sheets.CENTERED
            cell.fill = sheets.filled(COLORS[outcome.verdict])
        sheet.row_dimensions[row].height = (
            LINE * max(sheets.lines_needed(one.name, 26), sheets.lines_needed(told[-1], 24)) + 3
        )
    for below, text in enumerate((LEGEND, NOT_READ_HINT), len(marked) + 3):
        put(sheet, below, 1, text).font = sheets.font(color=sheets.GRAY)
    for column in range(first, len(texts) + 1):
        sheet.cell(1, column).alignment = sheets.CENTERED
    sheets.page(sheet, landscape=True)
    sheet.print_title_rows = "1:1"
    sheet.freeze_panes = "B2"


def _by_problem(book: Workbook, marked: Sequence[Marked]) -> None:
    sheet = book.create_sheet(SHEETS[1])
    texts = ("No.", "Part", "Kind", "Right", "Wrong", "Not answered", "Not read", "Right %",
             "Most common remark")  # fmt: skip
    sheets.headings(sheet, 1, texts, (6, 6, 32, 8, 8, 10, 8, 9, 60))
    sheet.row_dimensions[1].height = 2 * LINE + 4
    outcomes = [outcome for one in marked for outcome in one.outcomes]
    for row, number in enumerate(sorted({outcome.entry.number for outcome in outcomes}), 2):
        these = [outcome for outcome in outcomes if outcome.entry.number == number]
        verdicts = Counter(outcome.verdict for outcome in these)
        remarks = Counter(outcome.remark for outcome in these if outcome.remark).most_common(1)
        remark = f"{remarks[0][0]} ({remarks[0][1]} of {len(these)})" if remarks else ""
        kinds = " / ".join(dict.fromkeys(outcome.entry.kind for outcome in these))
        told = [
            number, these[0].entry.part, kinds, *(verdicts[verdict] for verdict in VERDICTS),
            round(100 * verdicts[RIGHT] / len(these), 1), remark,
        ]  # fmt: skip
        for column, value in enumerate(told, 1):
            put(sheet, row, column, value)
        sheets.lined(sheet, row, len(told))
        for column in range(1, len(told) + 1):
            sheet.cell(row, column).alignment = LEFT
        sheet.row_dimensions[row].height = LINE * sheets.lines_needed(remark, 60) + 3
    sheets.page(sheet, landscape=True)
    sheet.print_title_rows = "1:1"
    sheet.freeze_panes = "A2"


def _remarks(book: Workbook, marked: Sequence[Marked], listed: Sequence[Listed]) -> None:
    sheet = book.create_sheet(SHEETS[2])
    texts = ("Learner", "Set", "No.", "Kind", "Answer given", "Right answer", "Result", "Remark",
             "File")  # fmt: skip
    widths = (24.0, 10, 6, 30, 18, 16, 13, 52, 22)
    sheets.headings(sheet, 1, texts, widths)
    rows: list[tuple[Any, ...]] = [
        ("", "", "", "", "", "", "not marked", one.reason, one.path.name) for one in listed
    ]
    rows += [
        (
            one.name,
            one.returned.code,
            outcome.entry.number,
            outcome.entry.kind,
            outcome.given,
            answer_text(outcome.entry),
            outcome.verdict,
            outcome.remark,
            one.returned.path.name,
        )
        for one in marked
        for outcome in one.outcomes
        if outcome.verdict != RIGHT
    ]
    for row, told in enumerate(rows, 2):
        for column, value in enumerate(told, 1):
            put(sheet, row, column, value)
        sheets.lined(sheet, row, len(told))
        sheet.cell(row, 3).alignment = LEFT
        sheet.cell(row, 7).fill = sheets.filled(COLORS.get(told[6], sheets.ANSWER))
        sheet.row_dimensions[row].height = 3 + LINE * max(
            sheets.lines_needed(str(text), width) for text, width in zip(told, widths, strict=True)
        )
    if not rows:
        put(sheet, 2, 1, "Every answer was right.")
    sheet.auto_filter.ref = f"A1:{get_column_letter(len(texts))}{max(2, len(rows) + 1)}"
    sheets.page(sheet, landscape=True)
    sheet.print_title_rows = "1:1"
    sheet.freeze_panes = "A2"
