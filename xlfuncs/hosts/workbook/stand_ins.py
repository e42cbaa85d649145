"""Excel's own behaviour for the few operations in which the engine has another one.

An error value is a dict with a `kind`, as the engine gives it. NOT_COMPUTED is the kind for a value
that can't be computed; no formula of Excel's makes it, and nothing here catches it.
"""

from __future__ import annotations

import math
import operator
import re
from collections.abc import Callable
from typing import Any

from . import deviations
from .translate import (
    AS_TEXT,
    COMPARE,
    CRITERION,
    DIFFERENCE,
    FIXED_SIZE,
    GIVEN,
    LATE,
    MAYBE_GIVEN,
    NEAREST,
    NUMBER,
    ONCE,
    ONLY_NUMBER,
    PLAIN,
    STAND_IN,
    SURE,
)

NOT_COMPUTED = "NImpl"
# Begins the texts that worksheet functions answer with where they have no result.
MESSAGE = "Check: "
# Excel compares and shows 15 significant digits.
DIGITS = 15
NOISE = 1e-13
NUMERAL = re.compile(r"\s*[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[Ee][+-]?[0-9]+)?(%?)\s*")
PLAIN_LETTER = re.compile("[a-z0-9 ]")


def error(kind: str) -> dict[str, str]:
    return {"type": "Error", "kind": kind}


def is_error(value: Any) -> bool:
    return isinstance(value, dict)


def _elementwise(function: Callable[..., Any]) -> Callable[..., Any]:
    """Repeat a function of single values over arrays, as Excel's operators do."""

    def repeated(*values: Any) -> Any:
        for value in values:
            if type(value) is list:
                break
        else:
            return function(*values)
        grids = [value for value in values if isinstance(value, list)]
        rows = max(len(grid) for grid in grids)
        columns = max(len(line) for grid in grids for line in grid)
        return [
            [function(*(_element(value, i, j) for value in values)) for j in range(columns)]
            for i in range(rows)
        ]

    return repeated


def _element(value: Any, row: int, column: int) -> Any:
    if not isinstance(value, list):
        return value
    row = 0 if len(value) == 1 else row
    if row >= len(value):
        return error("Na")
    line = value[row]
    column = 0 if len(line) == 1 else column
    return line[column] if column < len(line) else error("Na")


def _rounded(number: float) -> float:
    return float(f"{number:.{DIGITS}g}")


# Numbers come before texts, texts before FALSE and TRUE.
def _rank(value: Any) -> int:
    return 2 if isinstance(value, bool) else 1 if isinstance(value, str) else 0


COMPARED: dict[str, Callable[[int, int], bool]] = {
    "=": operator.eq,
    "<>": operator.ne,
    "<": operator.lt,
    ">": operator.gt,
    "<=": operator.le,
    ">=": operator.ge,
}


@_elementwise
def compare(left: Any, sign: str, right: Any) -> Any:
    for side in (left, right):
        if is_error(side):
            return side
    if left is None:
        left = type(right)() if right is not None else 0.0
    if right is None:
        right = type(left)()
    ranks = _rank(left), _rank(right)
    if ranks[0] != ranks[1]:
        order = ranks[0] - ranks[1]
    else:
        if ranks[0] == 0:
            left, right = _rounded(left), _rounded(right)
        elif ranks[0] == 1:
            left, right = left.lower(), right.lower()
            if sign not in ("=", "<>") and not _is_order_sure(left, right):
                return error(NOT_COMPUTED)
        order = (left > right) - (left < right)
    return COMPARED[sign](order, 0)


def _is_order_sure(left: str, right: str) -> bool:
    """Whether two texts are in the order of the codes of their characters everywhere."""
    # Excel passes over these where it can.
    if "-" in left + right or "'" in left + right:
        return left == right
    for pair in zip(left, right, strict=False):
        if pair[0] != pair[1]:
            return all(PLAIN_LETTER.fullmatch(letter) for letter in pair)
    return True


@_elementwise
def as_text(value: Any) -> Any:
    if type(value) is str:
        return value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, int | float):
        text = f"{value:.{DIGITS}g}"
        if "e" in text:
            # From there on Excel's way of writing depends on more than the number.
            return error(NOT_COMPUTED)
        return "0" if text == "-0" else text
    return value


@_elementwise
def difference(left: Any, right: Any) -> Any:
    """Excel makes a last difference 0 where only the noise of binary fractions is left."""
    values = []
    for side in (left, right):
        if is_error(side):
            return side
        number = _number(side)
        if is_error(number):
            return number
        values.append(number)
    result = values[0] - values[1]
    if _rounded(values[0]) == _rounded(values[1]):
        return 0.0
    return result


@_elementwise
def sure(value: Any, step: Any) -> Any:
    """A value that is to be cut to whole steps, unless noise would decide about the last step."""
    for side in (value, step):
        if is_error(side):
            return side
    if type(value) is not float or type(step) is not float or not step:
        return value
    steps = value / step
    if not math.isfinite(steps):
        return value
    away = abs(steps - round(steps))
    return error(NOT_COMPUTED) if 0 < away < NOISE * max(1.0, abs(steps)) else value


@_elementwise
def modulo(value: Any, divisor: Any) -> Any:
    """MOD as Excel defines it, n - d * INT(n / d); the engine divides on with the noise."""
    numbers = [side if is_error(side) else _number(side) for side in (value, divisor)]
    for number in numbers:
        if is_error(number):
            return number
    number, divisor = numbers
    if divisor == 0:
        return error("Div")
    certain = sure(number, divisor)
    return certain if is_error(certain) else number - divisor * math.floor(number / divisor)


@_elementwise
def power(base: Any, exponent: Any) -> Any:
    """Excel has no answer for 0^0; the engine makes 1 of it."""
    numbers = [side if is_error(side) else _number(side) for side in (base, exponent)]
    for number in numbers:
        if is_error(number):
            return number
    if numbers == [0.0, 0.0]:
        return error("Num")
    if numbers[0] == 0 and numbers[1] < 0:
        return error("Div")
    try:
        return math.pow(*numbers)
    except (ValueError, OverflowError):
        return error("Num")


@_elementwise
def proper(text: Any) -> Any:
    """A capital after everything that is no letter, digits included."""
    if not isinstance(text, str):
        return text
    capital = re.compile(r"[^\W\d_]+")
    return capital.sub(lambda word: word[0][:1].upper() + word[0][1:].lower(), text)


def _number(value: Any) -> Any:
    """A value where a number is wanted."""
    if value is None:
        return 0.0
    if isinstance(value, str):
        return as_number(value) if value.strip() else error("Value")
    return float(value)


@_elementwise
def as_number(value: Any) -> Any:
    """VALUE: plain numbers only; money, dates and grouped digits depend on the region."""
    if is_error(value):
        return value
    if not isinstance(value, str):
        return error("Value") if isinstance(value, bool) else float(value or 0.0)
    match = NUMERAL.fullmatch(value)
    if match is not None:
        number = float(value.strip().rstrip("%"))
        return number / 100 if match[1] else number
    if any(letter.isdigit() for letter in value) and not value.startswith(MESSAGE):
        return error(NOT_COMPUTED)
    return error("Value")


@_elementwise
def plain(value: Any) -> Any:
    """A value where a number is wanted, unless only Excel may find one in it."""
    if not isinstance(value, str) or NUMERAL.fullmatch(value):
        return value
    return error(NOT_COMPUTED) if deviations.NUMBER_TO_EXCEL.fullmatch(value) else value


@_elementwise
def late(date: Any, first: float) -> Any:
    """A date as its number, unless Excel and the engine may count it otherwise."""
    if is_error(date):
        return date
    if isinstance(date, bool):
        return error(NOT_COMPUTED)
    number = _number(date)
    return error(NOT_COMPUTED) if not is_error(number) and number < first else number


def given(value: Any) -> Any:
    """A value that a formula gives to a total: a text is a number or an error, blank or not."""
    return as_number(value) if isinstance(value, str) else value


def maybe_given(value: Any) -> Any:
    """The same where the value may be a cell's, whose text would be passed over."""
    return error(NOT_COMPUTED) if isinstance(value, str) else value


@_elementwise
def only_number(value: Any) -> Any:
    """A value of a computed array in SUMPRODUCT, which takes all that is no number for 0."""
    return value if is_error(value) or type(value) is float else 0.0


@_elementwise
def nearest(value: Any) -> Any:
    """What an approximate look-up looks for: the engine takes a text for the number in it."""
    return error(NOT_COMPUTED) if isinstance(value, str) and NUMERAL.fullmatch(value) else value


def once(place: Any, count: Any) -> Any:
    """A place found in falling order, unless several are equal: which one Excel takes is unsure."""
    return error(NOT_COMPUTED) if type(count) is float and count > 1 else place


@_elementwise
def number(value: Any) -> Any:
    """A value where a number is wanted."""
    return value if is_error(value) else _number(value)


@_elementwise
def replace(old: Any, start: Any, count: Any, new: Any) -> Any:
    """REPLACE; behind the end of the text it appends."""
    for value in (old, start, count, new):
        if is_error(value):
            return value
    numbers = [_number(start), _number(count)]
    for value in numbers:
        if is_error(value):
            return value
    first, length = map(int, numbers)
    if first < 1 or length < 0:
        return error("Value")
    return old[: first - 1] + new + old[first - 1 + length :]


@_elementwise
def criterion(value: Any) -> Any:
    """A criterion, unless a blank cell may fit it."""
    fits = isinstance(value, str) and (value in ("", "=") or value.startswith("<>"))
    return error(NOT_COMPUTED) if fits else value


def _caught(value: Any) -> bool:
    return is_error(value) and value["kind"] != NOT_COMPUTED


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _passing(test: Callable[[Any], bool]) -> Callable[[Any], Any]:
    """A test of a value; one that could not be computed passes through."""

    @_elementwise
    def answer(value: Any) -> Any:
        return value if is_error(value) and not _caught(value) else test(value)

    return answer


@_elementwise
def if_error(value: Any, instead: Any = None) -> Any:
    return instead if _caught(value) else value


@_elementwise
def if_na(value: Any, instead: Any = None) -> Any:
    return instead if _caught(value) and value["kind"] == "Na" else value


def fixed_size(value: Any, rows: float, columns: float) -> Any:
    """What an array formula shows in its fixed range: cut off, repeated, or #N/A where it ends."""
    grid = value if isinstance(value, list) else [[value]]
    return [[_element(grid, i, j) for j in range(int(columns))] for i in range(int(rows))]


# Why a stand-in gave NOT_COMPUTED.
REASONS: dict[str, str] = {
    COMPARE: "the order of two texts in it depends on the region",
    NEAREST: "it looks a text with a number in it up, and takes the nearest",
    ONCE: "MATCH finds several equal numbers in falling order",
    AS_TEXT: "a very large or very small number becomes text in it",
    SURE: "it cuts a number to whole steps that is a whole number of steps but for noise",
    STAND_IN.format("MOD"): "it divides by a number that fits in it but for noise",
    PLAIN: "Excel may find a number in a text that it reads",
    LATE: "it counts with a date before March 1900, or with what may be one",
    MAYBE_GIVEN: "a total gets a text that may be a cell's or not",
    CRITERION: "it counts blank cells of a whole column together with another one",
    DIFFERENCE: "it subtracts texts whose meaning as numbers depends on the region",
    GIVEN: "a total gets a text whose meaning as a number depends on the region",
    NUMBER: "it reads a text whose meaning as a number depends on the region",
    STAND_IN.format("VALUE"): "it reads a text whose meaning as a number depends on the region",
}

STAND_INS: dict[str, Callable[..., Any]] = {
    COMPARE: compare,
    AS_TEXT: as_text,
    DIFFERENCE: difference,
    FIXED_SIZE: fixed_size,
    SURE: sure,
    PLAIN: plain,
    LATE: late,
    CRITERION: criterion,
    GIVEN: given,
    MAYBE_GIVEN: maybe_given,
    NUMBER: number,
    ONLY_NUMBER: only_number,
    ONCE: once,
    NEAREST: nearest,
    STAND_IN.format("VALUE"): as_number,
    STAND_IN.format("MOD"): modulo,
    STAND_IN.format("POWER"): power,
    STAND_IN.format("PROPER"): proper,
    STAND_IN.format("REPLACE"): replace,
    STAND_IN.format("IFERROR"): if_error,
    STAND_IN.format("IFNA"): if_na,
    STAND_IN.format("ISERROR"): _passing(_caught),
    STAND_IN.format("ISNUMBER"): _passing(_is_number),
    STAND_IN.format("ISTEXT"): _passing(lambda value: isinstance(value, str)),
    STAND_IN.format("ISNONTEXT"): _passing(lambda value: not isinstance(value, str)),
    STAND_IN.format("ISLOGICAL"): _passing(lambda value: isinstance(value, bool)),
    STAND_IN.format("ISERR"): _passing(lambda value: _caught(value) and value["kind"] != "Na"),
    STAND_IN.format("ISNA"): _passing(lambda value: _caught(value) and value["kind"] == "Na"),
}
