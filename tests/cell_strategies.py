"""Cells as people, spreadsheets and accidents fill them, for the property tests."""

import datetime

from hypothesis import strategies as st

from xlfuncs.cells import ERRORS
from xlfuncs.designations import CHOICES, INSULATION, SIZES, text_of
from xlfuncs.limits import LIMITS
from xlfuncs.registry import FUNCTIONS

SIZE_TEXTS = [*SIZES.printed, *SIZES.names.tolist(), "#6", "250 MCM", "6.0", "7", "00"]
SYSTEMS = ["480Y/277", "208Y/120", "120/240", "480 delta", "240/120 delta", "480"]
TRADE_SIZES = ["1/2", "3/4", "1", "1-1/4", "1 1/2", "2 in", "2-Jan", "46024", "4"]

ODD = st.one_of(
    st.none(),
    st.just(""),
    st.just("  "),
    st.booleans(),
    st.sampled_from(sorted(ERRORS)),
    st.sampled_from(
        ["Check: kva is blank", "x", "=1+1", "1/2", "30 m", "95 degF", "12'-6\"", "5%"]
    ),
    st.dates(datetime.date(1990, 1, 1), datetime.date(2040, 1, 1)),
    st.datetimes(),
    st.floats(allow_nan=True, allow_infinity=True),
    st.integers(),
    st.text(max_size=12),
)


def within(limit):
    """Numbers that an argument takes, ends and table-like whole numbers included."""
    low, high = float(limit.low), float(limit.high)
    usual = [1, 2, 3, 5.75, 10, 25, 30, 35, 60, 75, 100, 208, 240, 277, 480, 600, 1000, 4160]
    if limit.whole:
        return st.integers(int(low), int(high)).map(float)
    return st.one_of(
        st.sampled_from([low, high, *(n for n in usual if low <= n <= high)]),
        st.floats(low, high, allow_nan=False),
    )


def usual_cells(argument):
    """Cells that `argument` is meant to hold."""
    if argument.kind in ("number", "count", "numbers"):
        return within(LIMITS[argument.name])
    if argument.name in CHOICES:
        values = list(CHOICES[argument.name])
        return st.sampled_from([*values, *map(text_of, values)])
    if argument.name == "system":
        return st.sampled_from(SYSTEMS)
    if argument.name == "insulation":
        return st.sampled_from([*INSULATION.printed["type"].tolist(), 60.0, 75.0, 90.0])
    if argument.name == "trade_size":
        return st.sampled_from(TRADE_SIZES)
    if argument.name == "function_name":
        return st.sampled_from(list(FUNCTIONS))
    if argument.kind == "cell":
        return st.one_of(st.none(), st.sampled_from([75.0, 480.0, 3.0, "6", "copper"]))
    return st.sampled_from(SIZE_TEXTS)


def cells_for(argument):
    """Cells for `argument`: usual ones, left-out ones where allowed, and odd ones."""
    usual = usual_cells(argument)
    choices = [usual, usual, usual, usual, ODD]
    if not argument.required:
        choices += [st.none(), st.none(), st.none()]
    return st.one_of(choices)


def calls(function):
    """Argument lists of `function`, cut at any length that has the required ones."""
    required = sum(argument.required for argument in function.arguments)
    # XF_STEPS offers many arguments for other functions: a few of them are enough here.
    offered = [a for a in function.arguments if a.kind != "cell" or int(a.name[9:]) <= 4]
    whole = st.tuples(*map(cells_for, offered))
    return st.tuples(whole, st.integers(required, len(offered))).map(
        lambda drawn: list(drawn[0][: drawn[1]])
    )
