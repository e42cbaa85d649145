"""The same cells give the same grid: from Python, in Excel, filled, and in LibreOffice Calc.

The grid is made from the registry, so that a new function is in it by itself. What a host can't
do the same is in the table of docs/hosts.md; each row there names its test here.
"""

import re
from itertools import zip_longest
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

# Left out it means 30 degC, at which a conductor carries less than at 0.
SAFE_LEFT_OUT = {"ambient"}

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
    cells = [
        0.0 if cell is LEFT_OUT and argument.required else cell
        for cell, argument in zip_longest(case.arguments, FUNCTIONS[case.function].arguments)
    ][: len(case.arguments)]
    cells = [None if cell is LEFT_OUT else numbers_for_all(cell) for cell in cells]
    answer = as_calc_shows(xlfuncs.call(case.function, *cells))
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
    if differs(grid.read(sheet, case, expected), expected):
        return False
    # A typed 0 that has an answer of its own must not turn into another answer in silence.
    typed = [place for place in zeros if case.arguments[place] is not LEFT_OUT]
    own = as_calc_shows(xlfuncs.call(case.function, *map(numbers_for_all, case.held)))
    refused = "Check: " in str(own)
    return not typed or refused or {arguments[place].name for place in typed} <= SAFE_LEFT_OUT


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


# What a host can't do the same: the rows of the table in docs/hosts.md.

FULL_LOAD = 1000 / (3**0.5 * 480)


def one(name, about):
    (case,) = (case for case in of(name) if case.about == about)
    return case


def in_excel(excel, case):
    return as_excel_shows(excel.call(case.function, *map(as_excel_hands_over, case.arguments)))


def test_a_date_is_named_in_excel_and_too_large_a_number_elsewhere(excel, filled, calculated):
    case = one("XF_FULL_LOAD_CURRENT", "date in kva")
    assert in_excel(excel, case).startswith("Check: kva is a date")
    for sheet in (filled, calculated):
        assert grid.read(sheet, case, "").startswith("Check: kva must be above 0 kVA, up to")


def test_a_boolean_is_one_or_zero_in_calc(excel, filled, calculated):
    case = one("XF_FULL_LOAD_CURRENT", "boolean in kva")
    for got in (in_excel(excel, case), grid.read(filled, case, "")):
        assert got == "Check: kva must be a number, not TRUE or FALSE"
    assert not differs(grid.read(calculated, case, 0.0), FULL_LOAD)


def test_a_true_result_is_one_in_calc(excel, filled, calculated):
    case = one("XF_SIZE_FITS", "example")
    assert in_excel(excel, case) is True
    assert grid.read(filled, case, True) is True
    assert grid.read(calculated, case, 1.0) == 1
    assert not isinstance(grid.read(calculated, case, 1.0), bool)


def test_calc_asks_where_a_zero_may_be_left_out(excel, filled, calculated):
    case = one("XF_CONDUCTOR_LENGTH", "tail left out")
    assert in_excel(excel, case) == grid.read(filled, case, 0.0) == case.answer
    asked = grid.read(calculated, case, "")
    assert asked.startswith("Check: tail is 0 or left out, and LibreOffice does not tell which")


def test_calc_takes_a_zero_ambient_for_left_out(excel, filled, calculated):
    case = one("XF_AMPACITY", "zero in ambient")
    assert in_excel(excel, case) == grid.read(filled, case, 0.0) == case.answer
    got = grid.read(calculated, case, 0.0)
    assert got == one("XF_AMPACITY", "blank in ambient").answer
    assert got < case.answer


def test_a_required_argument_left_out_before_another_is_zero_in_calc(excel, filled, calculated):
    case = one("XF_LOAD_PROTECTION", "required left out")
    assert case.arguments[1:] == [10]
    assert in_excel(excel, case) == ""
    assert grid.read(filled, case, "") in (None, "")
    # 10 A at 100 %; Table 240.6(A) of NFPA 70-2023 begins with 10 A.
    assert grid.read(calculated, case, 10.0) == 10


def test_an_error_in_a_range_is_the_whole_answer_in_calc(excel, filled, calculated):
    case = one("XF_FULL_LOAD_CURRENT", "error in a range")
    elsewhere = [[75 * FULL_LOAD], ["#N/A"], [75 * FULL_LOAD]]
    for got in (in_excel(excel, case), grid.read(filled, case, elsewhere)):
        assert not differs(got, elsewhere)
    assert grid.read(calculated, case, elsewhere) == [["#N/A"]] * 3


def test_an_error_comes_back_as_text_in_excel_and_as_an_error_elsewhere(excel, filled, calculated):
    case = one("XF_FULL_LOAD_CURRENT", "error in kva")
    assert in_excel(excel, case) == "#N/A"
    for sheet in (filled, calculated):
        cell = sheet.cell(case.row, grid.RESULT)
        assert (cell.value, cell.data_type) == ("#N/A", "e")


def test_the_table_of_the_page_names_these_tests_and_no_others():
    here = Path(__file__).parent
    rows = re.findall(r"^\|.*`(test_\w+)` \|$", HOSTS_PAGE.read_text("utf-8"), re.M)
    assert len(rows) == len(set(rows))
    written = {
        name
        for file in ("test_one_answer.py", "test_calc.py", "test_excel.py")
        for name in re.findall(r"^def (test_\w+)", (here / file).read_text("utf-8"), re.M)
    }
    assert set(rows) <= written
    mine = Path(__file__).read_text("utf-8").partition("# What a host can't do the same")[2]
    differences = set(re.findall(r"^def (test_\w+)", mine, re.M))
    assert differences - {"test_the_table_of_the_page_names_these_tests_and_no_others"} <= set(rows)
