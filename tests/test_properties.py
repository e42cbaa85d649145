"""Whatever a cell holds, every function gives a plain value or a message, alone and in a range."""

import math
import os

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import xlfuncs
from xlfuncs.cells import ERRORS, PREFIX
from xlfuncs.registry import FUNCTIONS

from .cell_strategies import calls

ELEMENTWISE = [name for name, function in FUNCTIONS.items() if function.elementwise]
# Enough to find a fault in one of the functions at once; XLFUNCS_EXAMPLES=500 looks longer.
QUICK = settings(
    max_examples=int(os.environ.get("XLFUNCS_EXAMPLES", "25")),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=True,
)


def is_plain(value):
    if type(value) is float:
        return math.isfinite(value)
    return type(value) in (bool, int, str)


def is_answer(function, value):
    """A value of the declared kind, an error of the sheet, a blank, or a short message."""
    if isinstance(value, str) and (value in ERRORS or value == "" or value.startswith(PREFIX)):
        return len(value) <= 255
    kinds = {"number": (float, int), "bool": (bool,), "designation": (str,)}
    return function.result == "table" or type(value) in kinds[function.result]


@pytest.mark.parametrize("name", FUNCTIONS)
def test_any_cells_give_a_plain_answer(name):
    function = FUNCTIONS[name]

    @QUICK
    @given(calls(function))
    def holds(cells):
        answer = xlfuncs.call(name, *cells)
        rows = answer if isinstance(answer, list) else [[answer]]
        assert len({len(row) for row in rows}) == 1
        assert all(is_plain(value) for row in rows for value in row)
        assert all(is_answer(function, row[0]) for row in rows)

    holds()


@pytest.mark.parametrize("name", ELEMENTWISE)
def test_a_cell_alone_and_in_a_range_agree(name):
    function = FUNCTIONS[name]

    @QUICK
    @given(st.lists(calls(function), min_size=2, max_size=12))
    def holds(rows):
        width = max(map(len, rows))
        padded = [[*row, *[None] * (width - len(row))] for row in rows]
        columns = [[[row[k]] for row in padded] for k in range(width)]
        whole = xlfuncs.call(name, *columns)
        alone = [xlfuncs.call(name, *row) for row in padded]
        if function.columns:  # a row each: a message or a blank stands in its first cell
            assert len(whole) in (len(alone), len(alone) + 1)
            for row, single in zip(whole[-len(alone) :], alone, strict=True):
                assert row == (single[-1] if isinstance(single, list) else [single, *row[1:]])
        else:
            assert whole == [[single] for single in alone]

    holds()


@pytest.mark.parametrize("name", FUNCTIONS)
def test_usual_cells_reach_the_calculation(name):
    """The strategies are worth their time: not all that they draw is refused."""
    answered = 0

    @settings(QUICK, max_examples=60)
    @given(calls(FUNCTIONS[name]))
    def count(cells):
        nonlocal answered
        answer = xlfuncs.call(name, *cells)
        first = answer[0][0] if isinstance(answer, list) else answer
        answered += not (isinstance(first, str) and (not first or first.startswith(PREFIX)))

    count()
    assert answered >= 3
