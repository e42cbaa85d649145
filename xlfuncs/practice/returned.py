"""What stands in a key and in a workbook that comes back; whatever is odd about it is said."""

from __future__ import annotations

import datetime
import warnings
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from openpyxl import load_workbook

from .build import (
    ANSWER_BELOW,
    ANSWER_COLUMN,
    DATE_LABEL,
    KEY_HEADINGS,
    KEY_SHEET,
    NAME_LABEL,
    NUMBER_COLUMN,
    PROBLEMS_SHEET,
    SET_LABEL,
    SLIPS_SHEET,
    TEXT_COLUMN,
    UNIT_COLUMN,
)
from .problems import LADDERS, NUMBER

# A returned workbook is small; a file that unpacks to more than this is none.
MOST_BYTES = 64 * 1024 * 1024
MOST_ROWS = 2000
MOST_NAME = 80


class Unreadable(Exception):  # noqa: N818  (a file that is listed, not a failure)
    """Why a file can't be marked."""


@dataclass(frozen=True)
class Entry:
    """One problem of one set, as the key tells it."""

    code: str
    learner: int
    number: int
    part: int
    kind: str
    answer: float | str
    unit: str
    form: str
    tolerance: float
    unsafe: str
    slips: tuple[tuple[float | str, str], ...]


Key = dict[str, dict[int, Entry]]


@dataclass(frozen=True)
class Given:
    """What an answer cell holds."""

    value: Any
    is_percent: bool = False
    is_formula: bool = False


@dataclass(frozen=True)
class Returned:
    """A workbook that came back."""

    path: Path
    code: str
    name: str
    date: str
    answers: dict[int, Given]


@contextmanager
def _opened(path: Path, *, values: bool) -> Iterator[Any]:
    """Open a workbook; whatever a broken file makes the reader raise becomes `Unreadable`."""
    if not path.is_file():
        raise Unreadable("there is no such file")
    if path.suffix.lower() != ".xlsx":
        raise Unreadable("not an .xlsx workbook: save it as .xlsx in a spreadsheet program")
    try:
        with zipfile.ZipFile(path) as archive:
            size = sum(info.file_size for info in archive.infolist())
    except Exception as error:  # zipfile, too, raises several kinds for a damaged file
        raise Unreadable(f"not a workbook, or damaged ({error})") from None
    if size > MOST_BYTES:
        raise Unreadable("far too large for a practice workbook")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # openpyxl tells of parts that it leaves out
        try:
            book = load_workbook(path, read_only=True, data_only=values)
        except Exception as error:  # openpyxl raises many kinds for a file that is no workbook
            raise Unreadable(f"not a workbook, or damaged ({type(error).__name__})") from None
        try:
            yield book
        finally:
            book.close()


def _rows(book: Any, sheet: str, columns: int, most: int | None = None) -> list[tuple[Any, ...]]:
    """Read the cells of a sheet, as far as they can matter."""
    if sheet not in book.sheetnames:
        raise Unreadable(f"it has no sheet '{sheet}'")
    try:
        return list(book[sheet].iter_rows(max_row=most, max_col=columns))
    except Exception as error:
        raise Unreadable(f"damaged: sheet '{sheet}' ({type(error).__name__})") from None


def sheet_names(path: Path) -> list[str]:
    """Names of the sheets of a workbook."""
    with _opened(path, values=True) as book:
        return list(book.sheetnames)


def read_key(path: Path) -> Key:
    """Read a key: set code to problem number to entry."""
    with _opened(path, values=True) as book:
        rows = _rows(book, KEY_SHEET, len(KEY_HEADINGS))
        if not rows or tuple(cell.value for cell in rows[0]) != KEY_HEADINGS:
            raise Unreadable(f"the headings of its sheet '{KEY_SHEET}' are not those of a key")
        slips: dict[tuple[str, int], list[tuple[float | str, str]]] = {}
        for row in _rows(book, SLIPS_SHEET, 4)[1:]:
            code, number, answer, text = (cell.value for cell in row)
            if code is not None:
                slips.setdefault((code, number), []).append((answer, text))
        key: Key = {}
        for row in rows[1:]:
            told = dict(zip(KEY_HEADINGS, (cell.value for cell in row), strict=True))
            if told["Set"] is None:
                continue
            entry = _entry(told, slips)
            key.setdefault(entry.code, {})[entry.number] = entry
    if not key:
        raise Unreadable("the key is empty")
    return key


def _entry(told: dict[str, Any], slips: dict[tuple[str, int], list[Any]]) -> Entry:
    code, number = told["Set"], told["No."]
    where = f"set {code}, problem {number} of the key"
    if told["Form"] not in {NUMBER, *LADDERS}:
        raise Unreadable(f"{where}: form '{told['Form']}' is unknown")
    answer = told["Answer"]
    if isinstance(answer, bool) or not isinstance(answer, (int, float, str)):
        raise Unreadable(f"{where}: the answer is missing")
    if not all(isinstance(told[name], (int, float)) for name in ("Learner", "No.", "Part")):
        raise Unreadable(f"{where}: learner, number or part is missing")
    if not isinstance(told["Tolerance"], (int, float)) or told["Tolerance"] < 0:
        raise Unreadable(f"{where}: the tolerance must be a number from 0")
    return Entry(
        str(code),
        int(told["Learner"]),
        int(number),
        int(told["Part"]),
        str(told["Kind"]),
        answer if isinstance(answer, str) else float(answer),
        str(told["Unit"]),
        told["Form"],
        float(told["Tolerance"]),
        told["Unsafe side"] or "",
        tuple(slips.get((code, number), ())),
    )


def read_returned(path: Path) -> Returned:
    """Read the set code, the learner's name and date and all answers."""
    with _opened(path, values=True) as book:
        rows = _rows(book, PROBLEMS_SHEET, UNIT_COLUMN, MOST_ROWS)
        labels = {
            row[0].value: row[TEXT_COLUMN - 1].value
            for row in reversed(rows)
            if len(row) >= TEXT_COLUMN and row[0].value in (SET_LABEL, NAME_LABEL, DATE_LABEL)
        }
        answers = {
            number: Given(cell.value, "%" in str(getattr(cell, "number_format", "")))
            for number, cell in _answer_cells(rows).items()
        }
    code = labels.get(SET_LABEL)
    if not isinstance(code, str) or not code.strip():
        raise Unreadable("it names no set: it is no practice workbook, or its code was removed")
    if any(given.value is None for given in answers.values()):
        answers = _with_formulas(path, answers)
    return Returned(
        path,
        code.strip().upper(),
        _plain(labels.get(NAME_LABEL)),
        _plain(labels.get(DATE_LABEL)),
        answers,
    )


def _answer_cells(rows: list[tuple[Any, ...]]) -> dict[int, Any]:
    """Find each answer by the number of its problem, so that inserted rows do no harm."""
    cells: dict[int, Any] = {}
    for row, below in zip(rows, rows[ANSWER_BELOW:], strict=False):
        number: Any = row[NUMBER_COLUMN - 1].value if row else None
        is_number = isinstance(number, (int, float)) and float(number).is_integer()
        if is_number and len(below) >= ANSWER_COLUMN:
            cells.setdefault(int(number), below[ANSWER_COLUMN - 1])
    return cells


def _with_formulas(path: Path, answers: dict[int, Given]) -> dict[int, Given]:
    """Tell an empty cell from a formula that no program has computed."""
    with _opened(path, values=False) as book:
        cells = _answer_cells(_rows(book, PROBLEMS_SHEET, UNIT_COLUMN, MOST_ROWS))
    return {
        number: Given(
            given.value,
            given.is_percent,
            given.value is None and number in cells and cells[number].value is not None,
        )
        for number, given in answers.items()
    }


def _plain(value: Any) -> str:
    """Return a cell as one line of text without control characters."""
    if value is None:
        return ""
    if isinstance(value, (datetime.datetime, datetime.date)):
        return value.strftime("%Y-%m-%d")
    text = "".join(letter if letter.isprintable() else " " for letter in str(value))
    return " ".join(text.split())[:MOST_NAME]
