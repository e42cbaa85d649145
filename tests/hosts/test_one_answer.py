"""The same cells give the same grid: from Python, in Excel, filled, and in LibreOffice Calc.

The grid is made from the registry, so that a new function is in it by itself. What a host can't
do the same is in the table of docs/hosts.md; each row there names its test here.
"""

import re
from pathlib import Path

import openpyxl
import pytest

import xlfuncs
from xlfuncs.functions import FUNCTIONS
from xlfuncs.hosts.workbook import fill

from . import grid
from .excel_stubs import ERRORS, Time, cells, error, server
from .excel_stubs import LEFT_OUT as NOTHING
from .grid import DATE, LEFT_OUT, cases, differs, numbers_for_all, numbers_for_dates

HOSTS_PAGE = Path(__file__).parents[2] / "docs" / "hosts.md"


def of(name):
    return [case for case in cases() if case.function == name]


def wrong(answers):
    """Lines for the cases whose answer differs, the first few of them."""
    lines = [
        f"{case.id}\n    expected {expected!r}\n    got      {got!r}"
        for case, got, expected in answers
        if differs(got, expected)
    ]
    return "\n".join(lines[:10])


def test_every_function_is_asked_for_good_blank_and_wrong_cells():
    for name in FUNCTIONS:
        answers = [str(case.answer) for case in of(name)]
        assert any("Check: " not in answer and answer for answer in answers), name
        assert any("Check: " in answer for answer in answers), name
        assert any(case.about == "nothing" for case in of(name))


@pytest.mark.parametrize(
    ("got", "expected"),
    [
        (1.0, 1.0 + 1e-11),
        ("60", 60.0),
        (True, 1.0),
        ([[1.0]], 1.0),
        ([[1.0], [2.0]], [[1.0, 2.0]]),
        ("Check: a", "Check: b"),
        (None, 0.0),
    ],
)
def test_a_difference_is_seen(got, expected):
    assert differs(got, expected)
    assert differs(expected, got)


# Excel, over xlwings' own code.


@pytest.fixture(scope="module")
def excel():
    with pytest.MonkeyPatch.context() as patch, server() as host:
        patch.setenv("XLFUNCS_RAISE", "1")
        yield host


def as_excel_hands_over(argument):
    if argument is LEFT_OUT:
        return NOTHING
    rows = argument if isinstance(argument, list) else [[argument]]
    return cells([[_in_excel(cell) for cell in row] for row in rows])


def _in_excel(cell):
    if cell == DATE:
        return Time(DATE.year, DATE.month, DATE.day)
    return error(cell) if cell in ERRORS else cell


def as_excel_shows(answer):
    """Excel hands a single row back as a flat one."""
    if isinstance(answer, list) and answer and not isinstance(answer[0], (list, tuple)):
        return [list(answer)]
    return [list(row) for row in answer] if isinstance(answer, list) else answer


@pytest.mark.parametrize("name", FUNCTIONS)
def test_excel_gives_the_same(excel, name):
    taken = [case for case in of(name) if len(case.arguments) <= len(FUNCTIONS[name].arguments)]
    answers = []
    for case in taken:
        got = as_excel_shows(excel.call(name, *map(as_excel_hands_over, case.arguments)))
        answers.append((case, got, case.answer))
    assert not wrong(answers)


# The headless fill.


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    path = tmp_path_factory.mktemp("grid") / "grid.xlsx"
    grid.build(path)
    return path


@pytest.fixture(scope="module")
def filled(book):
    fill(book, book.with_name("filled.xlsx"))
    return openpyxl.load_workbook(book.with_name("filled.xlsx"), data_only=True).active


@pytest.mark.parametrize("name", FUNCTIONS)
def test_the_filled_workbook_holds_the_same(filled, name):
    answers = []
    for case in of(name):
        expected = xlfuncs.call(name, *map(numbers_for_dates, case.held))
        answers.append((case, grid.read(filled, case, expected), expected))
    assert not wrong(answers)


# A real LibreOffice.


@pytest.fixture(scope="module")
def calculated(office, book):
    return office.values(book)


def as_calc_shows(answer):
    if isinstance(answer, list):
        return [[as_calc_shows(one) for one in row] for row in answer]
    return float(answer) if isinstance(answer, bool) else answer


def expected_in_calc(case):
    answer = as_calc_shows(xlfuncs.call(case.function, *map(numbers_for_all, case.held)))
    wanted = error_among(case.held)
    if wanted is None:
        return answer
    return [[wanted for _ in row] for row in answer] if isinstance(answer, list) else wanted


def error_among(arguments):
    """The error value among the cells: in Calc it is the answer of the whole call."""
    for argument in arguments:
        for row in argument if isinstance(argument, list) else [[argument]]:
            for cell in row:
                if cell in ERRORS:
                    return cell
    return None


def zero_stands_for_left_out(sheet, case):
    """Calc does not tell a 0 from an argument left out: it asks, or takes it for left out."""
    arguments = FUNCTIONS[case.function].arguments[: len(case.arguments)]
    zeros = [
        place
        for place, argument in enumerate(arguments)
        if not argument.required and _zero(case.arguments[place])
    ]
    if not zeros:
        return False
    first = grid.read(sheet, case, None)
    asked = re.match(r"Check: (\w+) is (0|FALSE) or left out, and LibreOffice", str(first))
    if asked:
        return asked[1] in {arguments[place].name for place in zeros}
    left_out = [None if n in zeros else numbers_for_all(cell) for n, cell in enumerate(case.held)]
    expected = as_calc_shows(xlfuncs.call(case.function, *left_out))
    return not differs(grid.read(sheet, case, expected), expected)


def _zero(cell):
    return cell is LEFT_OUT or (isinstance(cell, (int, float)) and cell == 0)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_libreoffice_gives_the_same(calculated, name):
    answers = []
    for case in of(name):
        if not zero_stands_for_left_out(calculated, case):
            expected = expected_in_calc(case)
            answers.append((case, grid.read(calculated, case, expected), expected))
    assert not wrong(answers)
