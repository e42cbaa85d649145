"""The workbooks: one for each learner, without a trace of the answers, and the trainer's key."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Protection
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.worksheet import Worksheet

from ..steps import plain_text
from . import sheets
from .problems import SIZE, TRADE_SIZE, Problem
from .sets import ProblemSet
from .sheets import LINE, put

EDITION = "NFPA 70-2023"
PROBLEMS_SHEET, KEY_SHEET, SLIPS_SHEET = "Problems", "Key", "Slips"
SET_LABEL, NAME_LABEL, DATE_LABEL = "Set", "Name", "Date"
NUMBER_COLUMN, TEXT_COLUMN, ANSWER_COLUMN, UNIT_COLUMN = 1, 2, 3, 4
# The answer stands this many rows below the number of its problem.
ANSWER_BELOW = 1
HEADINGS_ROW = 6
WIDTHS = (6.0, 56.0, 16.0, 13.0)
WORKING_HEIGHT = 50.0
# Points of a letter page between its margins, less some for fonts that run larger.
PAGE_HEIGHT = 675.0
PARTS = {
    1: "Part 1: one look-up or one formula",
    2: "Part 2: rules with several figures",
    3: "Part 3: chains, each figure feeds the next",
}
KEY_HEADINGS = (
    "Set", "Learner", "No.", "Part", "Subject", "Kind", "Problem", "Answer", "Unit", "Form",
    "Tolerance", "Unsafe side",
)  # fmt: skip
SLIPS_HEADINGS = ("Set", "No.", "Answer", "What it shows")
CAUTION = (
    "A wrong number can hurt someone. These are exercises: the adopted code with its local "
    "amendments, the authority having jurisdiction and a licensed person decide about a real "
    "installation. De-energize and verify the absence of voltage before you touch anything."
)


def practice_paths(out: Path, learners: int) -> tuple[list[Path], Path]:
    """Return the paths of the practice workbooks and of the key."""
    digits = max(2, len(str(learners)))
    numbered = [
        out.with_name(f"{out.stem}-{learner:0{digits}d}{out.suffix}")
        for learner in range(1, learners + 1)
    ]
    return [out] if learners == 1 else numbered, out.with_name(f"{out.stem}-key{out.suffix}")


def write_practice(problem_set: ProblemSet, path: Path) -> None:
    """Write the workbook of one learner."""
    book = sheets.new_book("Practice problems")
    _practice_read_me(book, problem_set)
    _problems_sheet(book, problem_set)
    _scratch(book)
    book.active = 1
    sheets.save(book, path)


def _practice_read_me(book: Workbook, problem_set: ProblemSet) -> None:
    sheet = sheets.read_me(
        book,
        "Practice problems: transformers and feeders",
        [
            f"Set {problem_set.code}. The jobs are in {problem_set.town}, a town that does not "
            "exist: names, places and figures are invented.",
            "Write your name and the date at the top of the sheet 'Problems', and each answer in "
            "its yellow cell. The unit that is expected stands beside it; you may write it with "
            "the answer, as in 52 A. Conductor sizes are written like 6, #6, 1/0 or 250 kcmil, "
            "trade sizes like 3/4 or 1-1/4. A formula in an answer cell is fine.",
            "There is room for your working below each problem, and the sheet 'Scratch' is all "
            "yours. The other cells are locked, so that the workbook can be marked.",
            "Work as you would on a job: read the table, write down the figure, then go on. Do "
            "not round before the end. Off by one standard size is told apart from far off.",
            _needs(problem_set),
            "Save the workbook as .xlsx in a spreadsheet program and hand it back. The set code "
            "ties it to the trainer's key, so leave it in place. Nothing in this workbook tells "
            "the answers.",
            CAUTION,
        ],
    )
    sheet.protection.sheet = True


def _needs(problem_set: ProblemSet) -> str:
    needs = sorted({need for kind in problem_set.kinds for need in kind.needs})
    if not needs:
        return "No code book is needed: the rules that apply stand in the questions."
    return (
        f"You need a code book, {EDITION}. The problems use: {'; '.join(needs)}. Other editions "
        "differ in places."
    )


def _problems_sheet(book: Workbook, problem_set: ProblemSet) -> None:
    sheet = book.create_sheet(PROBLEMS_SHEET)
    sheets.page(sheet, fit=False, code=f"Set {problem_set.code}")
    put(sheet, 1, 1, "Practice problems").font = sheets.font(bold=True, size=16, color=sheets.DARK)
    sheet.row_dimensions[1].height = 24
    put(sheet, 2, 2, problem_set.code).font = sheets.font(bold=True, size=12)
    for row, label in enumerate((SET_LABEL, NAME_LABEL, DATE_LABEL), 2):
        put(sheet, row, 1, label).font = sheets.font(color=sheets.GRAY)
        sheet.row_dimensions[row].height = 20
        sheet.cell(row, 1).alignment = sheet.cell(row, 2).alignment = Alignment(vertical="center")
    for row, shown in ((3, "@"), (4, "yyyy-mm-dd")):
        cell = sheet.cell(row, 2)
        _open(sheet, row, 2, sheets.ANSWER)
        cell.number_format = shown
        cell.alignment = Alignment(horizontal="left", vertical="center")
    sheets.headings(sheet, HEADINGS_ROW, ("No.", "Problem", "Answer", "Unit"), WIDTHS)
    sheet.row_dimensions[HEADINGS_ROW].height = 20
    _problem_rows(sheet, problem_set)
    sheet.print_title_rows = f"{HEADINGS_ROW}:{HEADINGS_ROW}"
    sheet.freeze_panes = f"A{HEADINGS_ROW + 1}"
    sheet.protection.sheet = True
    sheet.protection.formatRows = sheet.protection.formatColumns = False


def _open(sheet: Worksheet, row: int, column: int, color: str) -> None:
    """Make a cell one that the learner fills in."""
    cell = sheet.cell(row, column)
    cell.fill = sheets.filled(color)
    cell.border = sheets.box()
    cell.protection = Protection(locked=False)


def _problem_rows(sheet: Worksheet, problem_set: ProblemSet) -> None:
    row, used, part = HEADINGS_ROW + 1, 24.0 + 3 * 20 + LINE + 20, 0
    for number, (kind, problem) in enumerate(
        zip(problem_set.kinds, problem_set.problems, strict=True), 1
    ):
        scenario = LINE * sheets.lines_needed(problem.scenario, sum(WIDTHS[1:])) + 6
        question = max(26.0, LINE * sheets.lines_needed(problem.question, 0.9 * WIDTHS[1]) + 4)
        heading = 26.0 if kind.part != part else 0.0
        height = heading + scenario + question + WORKING_HEIGHT
        if used + height > PAGE_HEIGHT:
            sheet.row_breaks.append(Break(id=row - 1))
            used = 20.0
        used += height
        if kind.part != part:
            part = kind.part
            cell = put(sheet, row, 1, PARTS[part])
            cell.font = sheets.font(bold=True, color=sheets.DARK, size=12)
            cell.alignment = Alignment(vertical="center")
            sheet.row_dimensions[row].height = heading
            row += 1
        _problem(sheet, row, number, problem)
        for below, points in enumerate((scenario, question, WORKING_HEIGHT)):
            sheet.row_dimensions[row + below].height = points
        row += 3
    sheet.print_area = f"A1:D{row - 1}"


def _problem(sheet: Worksheet, row: int, number: int, problem: Problem) -> None:
    """Write the three rows of a problem: scenario, question with answer and unit, working."""
    cell = put(sheet, row, NUMBER_COLUMN, number)
    cell.font = sheets.font(bold=True, size=12, color=sheets.DARK)
    cell.alignment = Alignment(horizontal="center", vertical="top")
    put(sheet, row, TEXT_COLUMN, problem.scenario)
    for column in range(NUMBER_COLUMN, UNIT_COLUMN + 1):
        sheet.cell(row, column).border = Border(top=sheets.THIN)
    _merge(sheet, row)

    question = row + ANSWER_BELOW
    cell = put(sheet, question, TEXT_COLUMN, problem.question)
    cell.font = sheets.font(bold=True)
    cell.alignment = Alignment(vertical="center", wrap_text=True)
    _open(sheet, question, ANSWER_COLUMN, sheets.ANSWER)
    cell = sheet.cell(question, ANSWER_COLUMN)
    # Text keeps 1/2 from becoming a date; a number keeps its format, so that a formula works.
    cell.number_format = "@" if problem.form in (SIZE, TRADE_SIZE) else "General"
    cell.alignment = sheets.CENTERED
    cell.font = sheets.font(bold=True, size=12)
    unit = put(sheet, question, UNIT_COLUMN, problem.unit)
    unit.alignment = Alignment(horizontal="left", vertical="center", wrap_text=True, indent=1)

    working = question + 1
    label = put(sheet, working, NUMBER_COLUMN, "work")
    label.font = sheets.font(size=8, color=sheets.GRAY)
    label.alignment = Alignment(horizontal="center", vertical="top")
    for column in range(TEXT_COLUMN, UNIT_COLUMN + 1):
        sheet.cell(working, column).protection = Protection(locked=False)
    _merge(sheet, working)


def _merge(sheet: Worksheet, row: int) -> None:
    sheet.cell(row, TEXT_COLUMN).alignment = sheets.WRAPPED
    sheet.merge_cells(start_row=row, end_row=row, start_column=TEXT_COLUMN, end_column=UNIT_COLUMN)


def _scratch(book: Workbook) -> None:
    """Add a sheet with nothing on it, so that it costs no paper unless it is used."""
    book.create_sheet("Scratch")


def write_key(sets: Sequence[ProblemSet], seed: int, path: Path) -> None:
    """Write the key of all sets, for the trainer alone."""
    book = sheets.new_book("Key of practice problems")
    sheets.read_me(
        book,
        "Key: for the trainer",
        [
            "Keep this workbook away from the learners. It holds the answers of all sets, what "
            "known slips lead to, and the worked steps.",
            f"Made with seed {seed}, {len(sets[0].problems)} problems, "
            f"{len(sets)} {'learner' if len(sets) == 1 else 'learners'}. The same figures make "
            "the same workbooks again; whoever knows the seed and has the program can make the "
            "key too.",
            "To mark what comes back: xlfuncs mark KEY.xlsx RETURNED.xlsx ...",
            "Sheet 'Key': one row for each problem. The marking reads answer, unit, form, "
            "tolerance and unsafe side from here; you may change a tolerance. Unsafe side: the "
            "direction of a wrong answer that would do harm in the field.",
            "Sheet 'Working': the steps as the calculation recorded them, each with its rule. "
            "The figures are shown to five digits.",
            "Sheet 'Slips': wrong answers that point to one known mistake; the marking names it.",
            f"Answers by {EDITION} as the tables of this program hold it. " + CAUTION,
        ],
    )
    _key_sheet(book, sets)
    _working_sheet(book, sets)
    _slips_sheet(book, sets)
    sheets.save(book, path)


def _key_sheet(book: Workbook, sets: Sequence[ProblemSet]) -> None:
    sheet = book.create_sheet(KEY_SHEET)
    widths = (9, 8, 5, 5, 13, 22, 66, 12, 14, 11, 10, 8)
    sheets.headings(sheet, 1, KEY_HEADINGS, widths)
    sheet.row_dimensions[1].height = 2 * LINE
    row = 2
    for problem_set in sets:
        for number, (kind, problem) in enumerate(
            zip(problem_set.kinds, problem_set.problems, strict=True), 1
        ):
            text = f"{problem.scenario} {problem.question}"
            told: list[float | str] = [
                problem_set.code, problem_set.learner, number, kind.part, kind.subject, kind.name,
                text, problem.answer, problem.unit, problem.form, problem.tolerance,
                problem.unsafe,
            ]  # fmt: skip
            for column, value in enumerate(told, 1):
                put(sheet, row, column, value)
            sheets.lined(sheet, row, len(told))
            sheet.cell(row, 8).font = sheets.font(bold=True)
            for column in (2, 3, 4, 8, 11):
                sheet.cell(row, column).alignment = Alignment(horizontal="left", vertical="top")
            sheet.row_dimensions[row].height = LINE * sheets.lines_needed(text, widths[6]) + 4
            row += 1
    sheets.page(sheet, landscape=True)
    sheet.print_title_rows = "1:1"
    sheet.freeze_panes = "A2"
    sheet.auto_filter.ref = f"A1:L{row - 1}"


def _working_sheet(book: Workbook, sets: Sequence[ProblemSet]) -> None:
    sheet = book.create_sheet("Working")
    widths = (30, 52, 13, 12, 36)
    sheets.headings(sheet, 1, ("Step", "Working", "Value", "Unit", "Rule"), widths)
    row = 2
    for problem_set in sets:
        for number, (kind, problem) in enumerate(
            zip(problem_set.kinds, problem_set.problems, strict=True), 1
        ):
            unit = "" if isinstance(problem.answer, str) else f" {problem.unit}"
            put(
                sheet,
                row,
                1,
                f"Set {problem_set.code}, No. {number}: {kind.name}. "
                f"Answer: {plain_text(problem.answer)}{unit}",
            )
            for column in range(1, 6):
                sheet.cell(row, column).fill = sheets.filled(sheets.PALE)
            sheet.cell(row, 1).font = sheets.font(bold=True)
            row += 1
            for step in problem.steps:
                value = step.value
                if isinstance(value, float):
                    value = float(plain_text(value))
                texts = (step.step, step.working, value, step.unit, step.rule)
                for column, text in enumerate(texts, 1):
                    put(sheet, row, column, text)
                sheets.lined(sheet, row, 5)
                sheet.cell(row, 3).alignment = Alignment(horizontal="left", vertical="top")
                lines = max(
                    sheets.lines_needed(str(text), width)
                    for text, width in zip(texts, widths, strict=True)
                )
                sheet.row_dimensions[row].height = LINE * lines + 2
                row += 1
    sheets.page(sheet, landscape=True)
    sheet.print_title_rows = "1:1"
    sheet.freeze_panes = "A2"


def _slips_sheet(book: Workbook, sets: Sequence[ProblemSet]) -> None:
    sheet = book.create_sheet(SLIPS_SHEET)
    sheets.headings(sheet, 1, SLIPS_HEADINGS, (9, 6, 14, 72))
    row = 2
    for problem_set in sets:
        for number, problem in enumerate(problem_set.problems, 1):
            for answer, text in problem.slips:
                shown = answer if isinstance(answer, str) else float(plain_text(answer))
                for column, value in enumerate((problem_set.code, number, shown, text), 1):
                    put(sheet, row, column, value)
                sheets.lined(sheet, row, 4)
                for column in (2, 3):
                    sheet.cell(row, column).alignment = Alignment(horizontal="left")
                row += 1
    sheets.page(sheet)
    sheet.print_title_rows = "1:1"
    sheet.freeze_panes = "A2"
