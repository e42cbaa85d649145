"""Columns of calls are answered at once; each cell holds what its own call would have given.

The functions here are arithmetic, so that every expected value is worked by hand.
"""

import re

import pytest

from xlfuncs.hosts.workbook.registered import OverColumns

ROWS = 80


def single(value, factor=2.0):
    """Twice a number; what it is given, where that is no number."""
    if isinstance(value, bool) or not isinstance(value, float):
        return f"{type(value).__name__} {value}"
    return value * factor


class Counted:
    """Answers cells and columns, and keeps what it was asked."""

    def __init__(self):
        self.asked = []

    def __call__(self, *cells):
        self.asked.append(cells)
        if not isinstance(cells[0], list):
            return single(*cells)
        return [[single(*row)] for row in zip(*([v for (v,) in c] for c in cells), strict=True)]


class Answers:
    """Gives each row the answer at its number, so that answers of every kind come ahead."""

    def __init__(self, *answers):
        self.answers = answers

    def __call__(self, number):
        if isinstance(number, list):
            return [[self(value)] for (value,) in number]
        return self.answers[int(number) % len(self.answers)]


@pytest.fixture
def counted():
    return Counted()


def fill_with(run, path, counted):
    return run(path, functions={"XF_TIMES": OverColumns(counted)})


def test_a_column_is_one_call(run, plain, counted):
    cells = {f"A{n}": n for n in range(1, ROWS + 1)}
    cells |= {f"B{n}": f"=XF_TIMES(A{n})" for n in range(1, ROWS + 1)}
    filled = fill_with(run, plain(cells), counted)
    assert filled.values(f"B1:B{ROWS}") == [[2 * n] for n in range(1, ROWS + 1)]
    assert len(counted.asked) == 1


def test_a_chain_is_one_call_for_each_link(run, plain, counted):
    cells = {f"A{n}": n for n in range(1, ROWS + 1)} | {"D1": 3}
    cells |= {f"C{n}": f"=XF_TIMES(B{n},$D$1)" for n in range(1, ROWS + 1)}
    cells |= {f"B{n}": f"=XF_TIMES(A{n},10)" for n in range(1, ROWS + 1)}
    filled = fill_with(run, plain(cells), counted)
    assert filled.values(f"C1:C{ROWS}") == [[30 * n] for n in range(1, ROWS + 1)]
    # Rows 1 and 10 have a digit in common with the factor, so their formulas stand apart.
    assert len(counted.asked) <= 6


def test_what_the_engine_computes_first_is_asked_cell_by_cell(run, plain, counted):
    cells = {f"A{n}": n for n in range(1, ROWS + 1)}
    cells |= {f"B{n}": f"=A{n}+1" for n in range(1, ROWS + 1)}
    cells |= {f"C{n}": f"=XF_TIMES(B{n})+0" for n in range(1, ROWS + 1)}
    filled = fill_with(run, plain(cells), counted)
    assert filled.values(f"C1:C{ROWS}") == [[2 * (n + 1)] for n in range(1, ROWS + 1)]
    assert len(counted.asked) == ROWS


def test_each_kind_of_value_keeps_its_own_answer(run, plain, counted):
    kinds = {1: True, 2: 1, 3: "one", 4: None, 5: "=1/0", 6: "1"}
    cells = {f"A{n}": kinds.get(n, n) for n in range(1, ROWS + 1) if kinds.get(n, n) is not None}
    cells |= {f"B{n}": f"=XF_TIMES(A{n})" for n in range(1, ROWS + 1)}
    filled = fill_with(run, plain(cells), counted)
    values = [value for (value,) in filled.values(f"B1:B{ROWS}")]
    assert values[:6] == [
        "bool True",
        2,
        "str one",
        "NoneType None",
        "str #DIV/0!",
        "str 1",
    ]
    assert values[6:] == [2 * n for n in range(7, ROWS + 1)]


def test_a_call_that_fails_for_the_column_is_made_cell_by_cell(run, plain):
    def fails_for_columns(value):
        return 2 * value + 0.0

    cells = {f"A{n}": n for n in range(1, ROWS + 1)}
    cells |= {f"B{n}": f"=XF_TIMES(A{n})" for n in range(1, ROWS + 1)}
    filled = fill_with(run, plain(cells), fails_for_columns)
    assert filled.values(f"B1:B{ROWS}") == [[2 * n] for n in range(1, ROWS + 1)]
    assert not filled.report.left_alone


@pytest.mark.parametrize("message", ["Check: no", "#N/A", "x" * ROWS])
def test_one_answer_for_a_whole_column_is_not_taken_apart(run, plain, message):
    def refuses_columns(value):
        return message if isinstance(value, list) else 2 * value

    cells = {f"A{n}": n for n in range(1, ROWS + 1)}
    cells |= {f"B{n}": f"=XF_TIMES(A{n})" for n in range(1, ROWS + 1)}
    filled = fill_with(run, plain(cells), refuses_columns)
    assert filled.values(f"B1:B{ROWS}") == [[2 * n] for n in range(1, ROWS + 1)]


def test_a_call_without_arguments(run, plain):
    cells = {f"B{n}": "=XF_TIMES()" for n in range(1, ROWS + 1)}
    filled = fill_with(run, plain(cells), lambda: 7.0)
    assert filled.values(f"B1:B{ROWS}") == [[7]] * ROWS


def test_a_kept_result_is_what_its_readers_get(run, write, counted):
    """A stored value goes into the call, not what its formula would give."""
    with write() as book:
        sheet = book.add_worksheet()
        for n in range(ROWS):
            sheet.write_formula(n, 0, f"={n}+1", None, 100 + n)
            sheet.write_formula(n, 1, f"=XF_TIMES(A{n + 1})", None, 0)
    filled = fill_with(run, book.path, counted)
    assert filled.values(f"B1:B{ROWS}") == [[2 * (100 + n)] for n in range(ROWS)]
    assert len(counted.asked) == 1


READERS = {
    "C": '=B{n}&"x"',
    "D": "=ISTEXT(B{n})",
    "E": "=ISNUMBER(B{n})",
    "F": "=ISBLANK(B{n})",
    "G": "=ISLOGICAL(B{n})",
    "H": "=ISERROR(B{n})",
    "I": "=B{n}=2",
    "J": "=LEN(B{n})",
}
# What Excel makes of a cell with the answer: of the text "2" no number, of an empty text no blank.
READ = {
    "2": ["2x", True, False, False, False, False, False, 1],
    "1/0": ["1/0x", True, False, False, False, False, False, 3],
    " 4 AWG ": [" 4 AWG x", True, False, False, False, False, False, 7],
    "TRUE": ["TRUEx", True, False, False, False, False, False, 4],
    # The file format writes the first underscore so.
    "_x0041_": ["_x005F_x0041_x", True, False, False, False, False, False, 7],
    "a\nb": ["a\nbx", True, False, False, False, False, False, 3],
    "<&>": ["<&>x", True, False, False, False, False, False, 3],
    "": ["x", True, False, False, False, False, False, 0],
    None: ["x", True, False, False, False, False, False, 0],
    2.0: ["2x", False, True, False, False, False, True, 1],
    True: ["TRUEx", False, False, False, True, False, False, 4],
    "#N/A": ["#N/A", False, False, False, False, True, "#N/A", "#N/A"],
}


def test_every_kind_of_answer_reads_as_the_result_of_a_formula(run, plain):
    cells = {f"A{n}": n for n in range(1, ROWS + 1)}
    cells |= {f"B{n}": f"=XF_ANSWER(A{n})" for n in range(1, ROWS + 1)}
    for column, formula in READERS.items():
        cells |= {f"{column}{n}": formula.format(n=n) for n in range(1, ROWS + 1)}
    function = OverColumns(Answers(*READ))
    filled = run(plain(cells), functions={"XF_ANSWER": function})
    for n, values in enumerate(filled.values(f"C1:J{ROWS}"), 1):
        answer = list(READ)[n % len(READ)]
        assert values == READ[answer], answer
    assert not filled.report.left_alone


def test_a_result_of_a_column_is_a_formula_to_what_looks_for_one(run, plain, counted):
    cells = {f"A{n}": n for n in range(1, ROWS + 1)}
    cells |= {f"B{n}": f"=XF_TIMES(A{n})" for n in range(1, ROWS + 1)}
    cells |= {"D1": "=_xlfn.ISFORMULA(B1)", "D2": "=_xlfn.FORMULATEXT(B1)"}
    filled = fill_with(run, plain(cells), counted)
    # What the engine holds in the cell is not the formula of the workbook.
    assert filled.left().keys() == {"D1", "D2"}


@pytest.mark.parametrize("stored", [7, None])
def test_what_an_array_formula_fills_is_not_read_before(run, write, counted, stored):
    """What an array left behind when the workbook was stored, or nothing, is no constant."""
    with write() as book:
        sheet = book.add_worksheet()
        area = "E1" if stored is None else f"E1:E{ROWS}"
        sheet.write_dynamic_array_formula(area, f"=XF_TIMES(10)+A1:A{ROWS}", None, stored or "")
        for n in range(1, ROWS + 1):
            sheet.write(f"A{n}", n)
            if n > 1:
                sheet.write(f"E{n}", stored)
                sheet.write_formula(f"F{n}", f"=XF_TIMES(E{n})")
                sheet.write_formula(f"G{n}", f"=XF_TIMES(F{n})")
    filled = fill_with(run, book.path, counted)
    assert filled.values(f"G2:G{ROWS}") == [[4 * (20 + n)] for n in range(2, ROWS + 1)]


def test_cells_without_an_address_stay_where_they_are(run, plain, rewrite, counted):
    cells = {f"A{n}": n for n in range(1, ROWS + 1)}
    cells |= {f"B{n}": f"=XF_TIMES(A{n})" for n in range(1, ROWS + 1)}
    cells |= {f"C{n}": 5 for n in range(1, ROWS + 1)}
    cells |= {f"D{n}": f"=XF_TIMES(C{n},100)" for n in range(1, ROWS + 1)}
    path = plain(cells)
    rewrite(
        path,
        "xl/worksheets/sheet1.xml",
        lambda xml: re.sub(rb'<c r="[BC][0-9]+"', b"<c", xml),
    )
    filled = fill_with(run, path, counted)
    assert filled.values(f"D1:D{ROWS}") == [[500]] * ROWS
    assert filled.values(f"B1:B{ROWS}") == [[2 * n] for n in range(1, ROWS + 1)]


@pytest.mark.parametrize("rows", [3, ROWS])
def test_a_constant_text_is_the_same_in_few_rows_and_in_many(run, write, counted, rows):
    with write() as book:
        sheet = book.add_worksheet()
        for n in range(rows):
            sheet.write_formula(n, 0, '=XF_TIMES("_x0034_")')
    filled = fill_with(run, book.path, counted)
    assert filled.values(f"A1:A{rows}") == [["str 4"]] * rows
