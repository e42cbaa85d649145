"""The rule and the working behind a function, shown in the sheet."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .cells import ERRORS, PREFIX, answer_with_steps
from .designations import text_of
from .errors import InputError, require
from .registry import FUNCTIONS, Function, worksheet

UNKNOWN = "function_name must be the name of a function, such as XF_FULL_LOAD_CURRENT, in quotes"


def _function(function_name: Any) -> Function | None:
    """Find a function by its name, as people copy it: with the equals sign or arguments too."""
    name = text_of(function_name).upper().lstrip("=").partition("(")[0].strip()
    return FUNCTIONS.get(name)


@worksheet("XF_SOURCE")
def source(function_name: ArrayLike) -> NDArray[np.str_]:
    """Standard and section behind a function.

    Parameters
    ----------
    function_name : designation
        Name of the function, in quotes.

    Returns
    -------
    source : designation
        The sources, separated by semicolons.

    Raises
    ------
    InputError
        Where no function has this name.

    References
    ----------
    .. [1] The references that each function of this library declares.

    Examples
    --------
    =XF_SOURCE("XF_PRIMARY_PROTECTION")
    """
    names = np.asarray(function_name)
    found = [_function(name) for name in names.ravel().tolist()]
    require(np.array([f is not None for f in found]).reshape(names.shape), UNKNOWN)

    texts = ["; ".join(reference.rstrip(".") for reference in f.sources) for f in found if f]
    return np.array(texts).reshape(names.shape)


@worksheet("XF_STEPS", elementwise=False, columns=("step", "working", "value", "unit", "rule"))
def steps(function_name: Any, *arguments: Any) -> list[tuple[Any, ...]]:
    """Worked steps of a calculation, one a row: step, working, value, unit, rule.

    Parameters
    ----------
    function_name : designation
        Name of the function, in quotes.
    *arguments : cell
        An argument of that function, in its order.

    Returns
    -------
    steps : table
        The steps in the order of the calculation; the last row is the function's own answer.

    Raises
    ------
    InputError
        Where no function has this name, or the calculation is refused: its own message.

    Notes
    -----
    The lines come from the calculation itself, which records them while it runs.

    References
    ----------
    .. [1] The rule of each step stands in its last column.

    Examples
    --------
    =XF_STEPS("XF_PRIMARY_PROTECTION", 75, 480)
    """
    function = _function(function_name)
    if function is None or function.core is steps:
        raise InputError(UNKNOWN)
    cells = list(arguments)
    while cells and cells[-1] is None:
        cells.pop()
    if function.elementwise and any(_is_range(cell) for cell in cells):
        raise InputError("XF_STEPS shows one calculation: give single cells, not ranges")
    result, lines = answer_with_steps(function, [_single(cell) for cell in cells])
    if isinstance(result, str) and (result in ERRORS or result.startswith(PREFIX)):
        return [(result, "", "", "", "")]
    rows: list[tuple[Any, ...]] = [
        (line.step, line.working, line.value, line.unit, line.rule) for line in lines
    ]
    if isinstance(result, list):
        return rows
    return [*rows, ("Answer", function.name, result, function.unit, "")]


def _is_range(cell: Any) -> bool:
    return isinstance(cell, (list, tuple)) and not _is_single(cell)


def _is_single(cell: Any) -> bool:
    return (
        isinstance(cell, (list, tuple))
        and len(cell) == 1
        and (not isinstance(cell[0], (list, tuple)) or len(cell[0]) == 1)
    )


def _single(cell: Any) -> Any:
    """Return the value of a range of one cell, as Excel hands every cell over."""
    while _is_single(cell):
        cell = cell[0]
    return cell
