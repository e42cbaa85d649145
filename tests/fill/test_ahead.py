"""Columns of calls are answered at once; each cell holds what its own call would have given.

The functions here are arithmetic, so that every expected value is worked by hand.
"""

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
