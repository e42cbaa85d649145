"""Cells for every function of the registry, made from its example and the kinds it declares.

A case is one call of a function: what its argument cells hold, and where they stand in a sheet.
"""

import ast
import datetime
import re
from dataclasses import dataclass
from functools import cache, cached_property

import openpyxl
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.formula import ArrayFormula

import xlfuncs
from xlfuncs.designations import CHOICES
from xlfuncs.functions import FUNCTIONS

READINGS = [[474.0], [476.0], [473.0]]
DATE = datetime.datetime(2024, 2, 1)
DATE_NUMBER = 45323.0  # days from 1899-12-30
MESSAGE = "Check: kva is blank"


def none_for_zero(cell):
    """A cell whose zero may be an argument left out."""
    return None if isinstance(cell, (int, float)) and cell == 0 else cell


class LeftOut:
    """An argument left out before another one: nothing between two commas."""

    def __repr__(self):
        return "left out"


LEFT_OUT = LeftOut()


@dataclass
class Case:
    """One call: its argument cells (a list of rows for a range) and the plain answer."""

    function: str
    about: str
    arguments: list
    row: int = 0

    @property
    def id(self):
        return f"{self.function}: {self.about}: {self.arguments}"

    @property
    def held(self):
        """The arguments as xlfuncs.call takes them."""
        return [None if argument is LEFT_OUT else argument for argument in self.arguments]

    @cached_property
    def answer(self):
        return xlfuncs.call(self.function, *self.held)

    @cached_property
    def area(self):
        """Rows and columns of the array formula, None for the formula of one cell.

        An answer may be longer where a host reads a date or a boolean as a number, or a zero as
        an argument left out.
        """
        answers = [
            self.answer,
            xlfuncs.call(self.function, *map(numbers_for_dates, self.held)),
            xlfuncs.call(self.function, *map(numbers_for_all, self.held)),
            xlfuncs.call(self.function, *map(none_for_zero, self.held)),
        ]
        tables = [answer for answer in answers if isinstance(answer, list)]
        if not tables:
            return None
        return max(map(len, tables)), max(len(table[0]) for table in tables)


def numbers_for_dates(cell):
    """A cell as the file of a workbook has it: a date is a number with a format."""
    if isinstance(cell, list):
        return [[numbers_for_dates(one) for one in row] for row in cell]
    return DATE_NUMBER if cell == DATE else cell


def numbers_for_all(cell):
    """A cell as Calc hands it over: dates and booleans are numbers with a format."""
    if isinstance(cell, list):
        return [[numbers_for_all(one) for one in row] for row in cell]
    cell = numbers_for_dates(cell)
    return float(cell) if isinstance(cell, bool) else cell


def example(function):
    """The arguments of the function's own example, as cells hold them."""
    inside = function.example.splitlines()[0].removeprefix(f"={function.name}(").rstrip(")")
    inside = re.sub(r"\b(TRUE|FALSE)\b", lambda word: word[0].capitalize(), inside)
    inside = re.sub(r"\b[A-Z]+\d+:[A-Z]+\d+\b", str(READINGS), inside)
    inside = re.sub(r"\{(.*?)\}", lambda rows: f"[[{rows[1].replace(';', '],[')}]]", inside)
    return ast.literal_eval(f"[{inside}]")


def kinds(argument, given):
    """What the cell of an argument may hold, good and bad, each with a word for it."""
    yield "blank", None
    yield "empty text", ""
    yield "other text", "abc"
    yield "message", MESSAGE
    yield "error", "#N/A"
    yield "date", DATE
    yield "boolean", True
    if argument.kind in ("number", "count"):
        yield "zero", 0.0
        yield "negative", -1.0
        yield "huge", 1e12
        yield "fraction", 2.5
        if isinstance(given, (int, float)):
            yield "text number", f"{given:g}"
            unit = argument.unit.replace("-", "")
            yield "unit", f"{given:g} {unit}"
            yield "wrong unit", f"{given:g} kg"
    elif argument.kind == "choice":
        for choice in CHOICES[argument.name]:
            yield "choice", choice
    elif argument.kind == "designation":
        yield "number", 6.0


def _cases(function):
    given = example(function)
    count = len(function.arguments)
    yield "example", given
    yield "nothing", []
    yield "all blank", [None] * count
    yield "too many", [*given, *[None] * (count - len(given)), 1.0]
    required = sum(argument.required for argument in function.arguments)
    if required > 1:
        yield "one missing", given[: required - 1]
    if len(given) > 1:
        yield "required left out", [LEFT_OUT, *given[1:]]
    for place, argument in enumerate(function.arguments):
        around = [*given, *[None] * (place + 1 - len(given))]
        if argument.kind == "numbers":
            readings = around[place]
            for about, cell in kinds(argument, None):
                rows = [[cell], *readings[1:]]
                yield f"{about} in {argument.name}", [*around[:place], rows, *around[place + 1 :]]
            continue
        if argument.kind == "cell" and place > len(given):
            continue
        for about, cell in kinds(argument, around[place]):
            yield f"{about} in {argument.name}", [*around[:place], cell, *around[place + 1 :]]
        if place < count - 1 and not argument.required and argument.kind != "cell":
            after = [*around[place + 1 :]] or [None]
            yield f"{argument.name} left out", [*around[:place], LEFT_OUT, *after]
    if function.elementwise and not function.columns:
        for place, argument in enumerate(function.arguments[: len(given)]):
            rows = [[given[place]], [None], ["abc"], [given[place]]]
            yield f"range in {argument.name}", [*given[:place], rows, *given[place + 1 :]]
        yield "error in a range", [[[given[0]], ["#N/A"], [given[0]]], *given[1:]]
        yield "ranges", [[[one], [one], [None]] for one in given]
        yield "ranges of different size", [[[one]] * (2 + n) for n, one in enumerate(given)]
        yield "a row", [[[given[0], given[0]]], *given[1:]]


@cache
def cases():
    """All cases, each with a row of the sheet of its own."""
    row, found = 1, []
    for function in FUNCTIONS.values():
        for about, arguments in _cases(function):
            case = Case(function.name, about, arguments, row)
            found.append(case)
            heights = [len(argument) for argument in case.held if isinstance(argument, list)]
            row += max([1, *heights, *(case.area or ())[:1]])
    return found


# A range stands in the columns of its argument; rows of more than one column get room.
WIDTH = 2
RESULT = 1 + WIDTH * 40


def build(path, which=None):
    """Write a workbook whose one sheet asks every case."""
    book = openpyxl.Workbook()
    sheet = book.active
    for case in which or cases():
        places = [_put(sheet, case.row, 1 + WIDTH * n, a) for n, a in enumerate(case.arguments)]
        formula = f"={case.function}({','.join(places)})"
        first = f"{get_column_letter(RESULT)}{case.row}"
        if case.area:
            rows, columns = case.area
            last = f"{get_column_letter(RESULT + columns - 1)}{case.row + rows - 1}"
            sheet[first] = ArrayFormula(f"{first}:{last}", formula)
        else:
            sheet[first] = formula
    book.save(path)


def _put(sheet, row, column, argument):
    """Put an argument into its cells; return the reference to them."""
    if argument is LEFT_OUT:
        return ""
    rows = argument if isinstance(argument, list) else [[argument]]
    for down, cells in enumerate(rows):
        for right, cell in enumerate(cells):
            if cell == "":  # a text cell without text, which openpyxl would leave blank
                sheet.cell(row + down, column + right, '=""')
            else:
                sheet.cell(row + down, column + right, cell)
    first = f"{get_column_letter(column)}{row}"
    last = f"{get_column_letter(column + len(rows[0]) - 1)}{row + len(rows) - 1}"
    return first if first == last else f"{first}:{last}"


def read(sheet, case, expected):
    """What stands in the result cells of a case, in the shape of the expected answer."""
    if not isinstance(expected, list):
        return sheet.cell(case.row, RESULT).value
    return [
        [sheet.cell(case.row + down, RESULT + right).value for right in range(len(expected[0]))]
        for down in range(len(expected))
    ]


def differs(got, expected):
    """Tell whether two answers differ: numbers by more than 1 part in 1e12, blank is empty text."""
    if isinstance(expected, list) or isinstance(got, list):
        return (
            not isinstance(got, list)
            or not isinstance(expected, list)
            or len(got) != len(expected)
            or any(
                len(a) != len(b) or any(map(differs, a, b))
                for a, b in zip(got, expected, strict=True)
            )
        )
    got, expected = ("" if value is None else value for value in (got, expected))
    if isinstance(got, bool) != isinstance(expected, bool):
        return True
    if isinstance(got, (int, float)) and isinstance(expected, (int, float)):
        return abs(got - expected) > 1e-12 * max(abs(got), abs(expected))
    return got != expected
