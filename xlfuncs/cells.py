"""From the cells of a sheet to a core function, and back to cells.

What a cell may hold, and what becomes of it, is the same for every host: that is decided here.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from itertools import chain
from typing import Any

import numpy as np

from . import units
from .designations import once_each, text_of
from .errors import InputError
from .registry import FUNCTIONS, Argument, Function
from .steps import Step, is_recording, recording

Cell = float | int | str | bool | datetime.date | None
Grid = list[list[Cell]]

PREFIX = "Check: "

ERRORS = frozenset(
    {
        "#NULL!",
        "#DIV/0!",
        "#VALUE!",
        "#REF!",
        "#NAME?",
        "#NUM!",
        "#N/A",
        "#GETTING_DATA",
        "#SPILL!",
        "#CALC!",
        "#CONNECT!",
        "#BLOCKED!",
        "#UNKNOWN!",
        "#FIELD!",
    }
)


class Stop(Exception):  # noqa: N818  (it carries an answer, not an error)
    """A cell that decides the answer by itself: an error, a message, a blank, a refusal.

    `rank` orders them where several cells of one call do: an error of the sheet goes before a
    message from upstream, that before a blank, and that before a refusal of our own.
    """

    ERROR, UPSTREAM, BLANK, REFUSED = range(4)

    def __init__(self, rank: int, text: str = "") -> None:
        self.rank = rank
        self.text = text


def call(name: str, *cells: Any) -> Any:
    """Answer a worksheet function as a sheet would.

    Parameters
    ----------
    name : str
        Worksheet name, such as ``XF_FULL_LOAD_CURRENT``.
    *cells
        Cell values: numbers, texts, booleans, dates, None for an empty cell; a list of rows for
        a range, a flat list for one row. Ranges broadcast as numpy's arrays do.

    Returns
    -------
    answer
        A plain value, or a list of rows of them where a range went in. A refusal is a text that
        begins with ``Check: ``.

    Raises
    ------
    LookupError
        Where no function has this name.
    """
    function = FUNCTIONS.get(name.upper())
    if function is None:
        raise LookupError(f"no function is named {name}")
    return answer(function, cells)


def answer(function: Function, cells: Sequence[Any]) -> Any:
    """Answer `function` for cell values or ranges of them."""
    if len(cells) > len(function.arguments):
        return _too_many(function)
    if not function.elementwise:
        return _answer_whole(function, cells)
    if not any(isinstance(cell, (list, tuple, np.ndarray)) for cell in cells):
        remembered = _answer_alone.__wrapped__ if is_recording() else _answer_alone
        alone = remembered(function.name, *cells)
        return [row[:] for row in alone] if isinstance(alone, list) else alone
    return _answer_range(function, [_grid(cell) for cell in cells])


@lru_cache(maxsize=65536, typed=True)
def _answer_alone(name: str, *cells: Cell) -> Any:
    """Answer one cell. A job list repeats its inputs, so the answers are kept."""
    function = FUNCTIONS[name]
    outcomes = [
        _outcome(argument, cell)
        for argument, cell in zip(function.arguments, _padded(function, cells), strict=True)
    ]
    stopped = _stopped(function, outcomes)
    if stopped is not None:
        return stopped
    try:
        return _plain(function, outcomes, function.core(*outcomes))
    except InputError as error:
        return PREFIX + error.message


def answer_with_steps(function: Function, cells: Sequence[Any]) -> tuple[Any, list[Step]]:
    """Answer one calculation and give the working that it recorded."""
    if len(cells) > len(function.arguments):
        return _too_many(function), []
    with recording() as lines:
        if function.elementwise:
            result = _answer_alone.__wrapped__(function.name, *cells)
        else:
            result = _answer_whole(function, cells)
    return result, lines


def _answer_range(function: Function, grids: list[_Grid]) -> Any:
    """Answer every element of the broadcast ranges, each as if it stood alone."""
    try:
        shape = np.broadcast_shapes(*(grid.shape for grid in grids))
    except ValueError:
        sizes = ", ".join(
            f"{rows} x {columns}" for rows, columns in (g.shape for g in grids if len(g.cells) != 1)
        )
        return f"{PREFIX}the ranges differ in size ({sizes})"
    count = math.prod(shape)
    if count == 0:
        return f"{PREFIX}the range is empty"

    columns: list[_Column] = []
    for argument, grid in zip(function.arguments, _padded(function, grids), strict=True):
        columns.append(_Column.of(argument, [None] if grid is None else grid.over(shape)))

    answers = np.empty(count, object)
    stopped = np.zeros(count, bool)
    for column in columns:
        stopped |= column.stopped
    for element in np.flatnonzero(stopped).tolist():
        answers[element] = _stopped(function, [column.outcome(element) for column in columns])
    left = np.flatnonzero(~stopped)
    while left.size:
        try:
            results = function.core(*(column.at(left, count) for column in columns))
            elements = _elements(function, results, left.size)
            if left.size == count:
                answers = elements
            else:
                answers[left] = elements
            break
        except InputError as error:
            refused = np.broadcast_to(error.mask, left.shape)
            if not refused.any():
                raise
            answers[left[refused]] = PREFIX + error.message
            left = left[~refused]
    if function.columns:
        return _table(function, answers.tolist(), [column.outcome(0) for column in columns])
    rows = answers.reshape(shape).tolist()
    return rows[0][0] if count == 1 else rows


def _answer_whole(function: Function, cells: Sequence[Any]) -> Any:
    """Answer a function of whole ranges: one refused cell refuses the answer."""
    outcomes: list[Any] = []
    for argument, cell in zip(function.arguments, _padded(function, cells), strict=True):
        if argument.kind == "cell":
            outcomes.append(cell)
        elif argument.kind == "numbers":
            outcomes.append(_numbers(argument, cell))
        elif isinstance(cell, (list, tuple, np.ndarray)):
            grid = _grid(cell)
            if len(grid.cells) != 1:
                return f"{PREFIX}{argument.name} takes one cell, not a range"
            outcomes.append(_outcome(argument, grid.cells[0]))
        else:
            outcomes.append(_outcome(argument, cell))
    stopped = _stopped(function, outcomes)
    if stopped is not None:
        return stopped
    try:
        result = function.core(*outcomes)
    except InputError as error:
        return PREFIX + error.message
    if function.result == "table":
        return [list(row) for row in result]
    return _checked(function, np.asarray(result).item())


def _too_many(function: Function) -> str:
    return f"{PREFIX}{function.name} takes {len(function.arguments)} arguments at most"


def _padded(function: Function, cells: Sequence[Any]) -> list[Any]:
    """Return the cells, None for each argument left out."""
    return [*cells, *[None] * (len(function.arguments) - len(cells))]


@dataclass(frozen=True)
class _Grid:
    """A range: its cells row by row, and how many rows and columns they form."""

    cells: list[Any]
    shape: tuple[int, int]

    def over(self, shape: tuple[int, ...]) -> list[Any]:
        """The cells of the range repeated to `shape`; one cell stays one."""
        if len(self.cells) == 1 or self.shape == shape:
            return self.cells
        grid = np.empty(len(self.cells), object)
        grid[:] = self.cells
        repeated: list[Any] = np.broadcast_to(grid.reshape(self.shape), shape).ravel().tolist()
        return repeated


def _grid(cell: Any) -> _Grid:
    """Read a cell or a range."""
    if not isinstance(cell, (list, tuple, np.ndarray)):
        rows: list[Any] = [[cell]]
    else:
        rows = cell.tolist() if isinstance(cell, np.ndarray) else list(cell)
        if not any(isinstance(row, (list, tuple)) for row in rows):
            rows = [rows]
    widths = list(map(len, rows))
    width = max(widths, default=0)
    if min(widths, default=0) != width:  # a short row ends in empty cells
        rows = [[*row, *[None] * (width - len(row))] for row in rows]
    return _Grid(list(chain.from_iterable(rows)), (len(rows), width))


class _Column:
    """What an argument holds for all elements: values to calculate with, and the stops."""

    def __init__(
        self,
        outcomes: list[Any] | None,
        values: np.ndarray[Any, Any],
        stopped: np.ndarray[Any, Any],
    ) -> None:
        self._outcomes = outcomes
        self._values = values
        self.stopped = stopped

    @classmethod
    def of(cls, argument: Argument, cells: list[Cell]) -> _Column:
        if argument.kind in ("number", "count") and set(map(type, cells)) == {float}:
            values = np.array(cells)
            if np.isfinite(values).all():
                return cls(None, values, np.zeros(len(cells), bool))
        outcomes = once_each(partial(_outcome, argument), cells)
        values = np.array(outcomes, object)
        stopped = np.zeros(len(cells), bool)
        if Stop in set(map(type, outcomes)):
            stopped[:] = [isinstance(outcome, Stop) for outcome in outcomes]
            values[stopped] = None
        return cls(outcomes, values, stopped)

    def outcome(self, element: int) -> Any:
        alone = len(self._values) == 1
        source = self._values if self._outcomes is None else self._outcomes
        return source[0 if alone else element]

    def at(self, elements: np.ndarray[Any, Any], count: int) -> Any:
        """Values at the elements; a single value stands for all of them."""
        if len(self._values) == 1:
            return self._values.item()
        values = self._values if len(elements) == count else self._values[elements]
        if values.dtype != object:
            return values
        kinds = set(map(type, values.tolist()))
        if kinds <= {float, int, type(None)}:
            return values.astype(float)  # None, an argument left blank, becomes NaN
        return values


def _stopped(function: Function, outcomes: Sequence[Any]) -> str | None:
    """Return the answer that the stops among the outcomes decide, None if there are none."""
    stops = [outcome for outcome in outcomes if isinstance(outcome, Stop)]
    if not stops:
        return None
    first = min(stops, key=lambda stop: stop.rank)
    if first.rank != Stop.BLANK:
        return first.text if first.rank < Stop.BLANK else PREFIX + first.text
    required = [
        isinstance(outcome, Stop) and outcome.rank == Stop.BLANK
        for argument, outcome in zip(function.arguments, outcomes, strict=True)
        if argument.required
    ]
    return "" if all(required) else PREFIX + first.text


def _outcome(argument: Argument, cell: Cell) -> Any:
    """Return the value to calculate with, or a `Stop`."""
    try:
        return _read(argument, cell)
    except Stop as stop:
        return stop


def _read(argument: Argument, cell: Cell) -> Any:
    if type(cell) is float and argument.kind in ("number", "count") and math.isfinite(cell):
        return cell
    if cell is None or (isinstance(cell, str) and not cell.strip()):
        if argument.required:
            raise Stop(Stop.BLANK, f"{argument.name} is blank")
        return argument.default
    if isinstance(cell, str):
        if cell.strip() in ERRORS:
            raise Stop(Stop.ERROR, cell.strip())
        if cell.startswith(PREFIX):
            raise Stop(Stop.UPSTREAM, cell)
    elif isinstance(cell, (datetime.date, datetime.time, datetime.timedelta)):
        raise Stop(
            Stop.REFUSED,
            f"{argument.name} is a date: the spreadsheet may have read a fraction such as 1/2 "
            "as a date. Format the cell as text, or type '1/2",
        )
    return _READERS[argument.kind](argument, cell)


def _number(argument: Argument, cell: Cell) -> float:
    if isinstance(cell, (bool, np.bool_)):
        raise Stop(Stop.REFUSED, f"{argument.name} must be a number, not TRUE or FALSE")
    if isinstance(cell, str):
        try:
            number = units.quantity(cell, argument.unit or "-")
        except units.UnreadableError as error:
            raise Stop(Stop.REFUSED, f"{argument.name} {error}") from None
    else:
        try:
            number = float(cell)  # type: ignore[arg-type]  # a foreign object is refused here
        except (TypeError, ValueError, OverflowError):
            raise Stop(Stop.REFUSED, f"{argument.name} is not a number") from None
    if not math.isfinite(number):
        raise Stop(Stop.REFUSED, f"{argument.name} is not a number")
    return number


def _text(argument: Argument, cell: Cell) -> str:
    return text_of(cell)


_READERS: dict[str, Callable[[Argument, Cell], Any]] = {
    "number": _number,
    "count": _number,
    "designation": _text,
    "choice": _text,
}


def _numbers(argument: Argument, cell: Any) -> Any:
    """Read a range as one list of numbers: blank only where all of it is blank."""
    one_reading = replace(argument, kind="number", required=True)
    outcomes = [_outcome(one_reading, one) for one in _grid(cell).cells]
    stops = [outcome for outcome in outcomes if isinstance(outcome, Stop)]
    if not stops:
        return outcomes
    first = min(stops, key=lambda stop: stop.rank)
    if first.rank == Stop.BLANK and len(stops) < len(outcomes):
        return Stop(Stop.REFUSED, f"one of the {argument.name} is blank")
    return first


def _plain(function: Function, outcomes: Sequence[Any], results: Any) -> Any:
    """Return the result of a core function for one element as cells hold it."""
    if function.columns:
        return _table(function, _elements(function, results, 1).tolist(), outcomes)
    return _checked(function, np.asarray(results).item())


def _table(function: Function, answers: list[Any], outcomes: Sequence[Any]) -> Grid:
    """Return the rows, a message or a blank in the first cell of its row, headings on request."""
    width = len(function.columns)
    rows = [a if isinstance(a, list) else [a, *[""] * (width - 1)] for a in answers]
    for argument, outcome in zip(function.arguments, outcomes, strict=True):
        if argument.name == "headings" and outcome in (True, "TRUE"):
            rows.insert(0, list(function.columns))
    return rows


def _elements(function: Function, results: Any, count: int) -> np.ndarray[Any, Any]:
    """Return the results by element: a value each, or a row of them."""
    if function.columns:
        elements = np.empty(count, object)
        columns = [np.broadcast_to(np.asarray(one), count).tolist() for one in results]
        for number, row in enumerate(zip(*columns, strict=True)):
            elements[number] = [_checked(function, value) for value in row]
        return elements
    values = np.broadcast_to(results, count)
    if values.dtype.kind != "f" or np.isfinite(values).all():
        return values
    return np.array([_checked(function, value) for value in values.tolist()], object)


def _checked(function: Function, value: Any) -> Any:
    """Pass a plain value on; a number that is none must never reach a cell."""
    if isinstance(value, float) and not math.isfinite(value):
        return f"{PREFIX}{function.name} has no finite answer for these values"
    return value
