"""Excel on Windows: one worksheet function for each function of the registry, through xlwings.

Name this module, ``xlfuncs.hosts.excel``, as UDF module in the xlwings tab and press Import
Functions. Elsewhere the module imports too, and its functions take cells as xlwings hands them
over, but no Excel calls them.
"""

from __future__ import annotations

import inspect
import logging
import os
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import xlwings

from ..cells import PREFIX, answer
from ..descriptions import argument_text, default_text
from ..functions import FUNCTIONS
from ..registry import Argument, Function

CATEGORY = "Electrical installation"

# Set in the environment, this lets an unexpected exception through instead of a message.
RAISE = "XLFUNCS_RAISE"

# CVErr(n) arrives as 0x800A0000 + n, read as a signed number. xlwings knows the first seven.
_ERROR_BASE = -2146828288
_ERRORS = {
    2000: "#NULL!",
    2007: "#DIV/0!",
    2015: "#VALUE!",
    2023: "#REF!",
    2029: "#NAME?",
    2036: "#NUM!",
    2042: "#N/A",
    2043: "#GETTING_DATA",
    2045: "#SPILL!",
    2046: "#CONNECT!",
    2047: "#BLOCKED!",
    2048: "#UNKNOWN!",
    2049: "#FIELD!",
    2050: "#CALC!",
}

_log = logging.getLogger(__name__)


def prompt(argument: Argument) -> str:
    """Text beside the argument in Excel's function dialog."""
    if argument.required:
        return argument_text(argument)
    default = default_text(argument)
    left_out = "May be left out." if default == "blank" else f"Left out: {default}."
    return f"{argument_text(argument)} {left_out}"


def _cell(value: Any) -> Any:
    """Read one value of Excel as the cells of the project hold it."""
    if isinstance(value, int) and not isinstance(value, bool):
        code = value - _ERROR_BASE
        return _ERRORS.get(code, "#UNKNOWN!") if 2000 <= code < 3000 else value
    if isinstance(value, Decimal):  # a cell formatted as currency
        return float(value)
    return value


def _cells(value: Any) -> Any:
    """Read one argument: a list of rows, a single cell as the value itself, None if left out."""
    if not isinstance(value, list):
        return value
    rows = [[_cell(one) for one in row] for row in value]
    return rows[0][0] if len(rows) == 1 and len(rows[0]) == 1 else rows


def offer(function: Function) -> Callable[..., Any]:
    """Return `function` as a worksheet function of Excel."""

    def in_sheet(*arguments: Any) -> Any:
        try:
            return answer(function, [_cells(argument) for argument in arguments])
        except Exception:  # a fault of ours; a cell must not show its traceback
            if os.environ.get(RAISE):
                raise
            _log.exception("%s%r", function.name, arguments)
            return f"{PREFIX}{function.name} has failed by a fault of its own. Please report it"

    in_sheet.__name__ = in_sheet.__qualname__ = function.name
    in_sheet.__module__ = __name__
    in_sheet.__doc__ = function.summary
    in_sheet.__annotations__ = {}  # xlwings takes a type hint for a converter
    # Left-out arguments arrive as None, and cells applies the default, as it does for a blank.
    in_sheet.__signature__ = inspect.Signature(  # type: ignore[attr-defined]
        [
            inspect.Parameter(
                argument.name,
                inspect.Parameter.POSITIONAL_OR_KEYWORD,
                default=inspect.Parameter.empty if argument.required else None,
            )
            for argument in function.arguments
        ]
    )
    for argument in function.arguments:
        xlwings.arg(argument.name, ndim=2, err_to_str=True, doc=prompt(argument))(in_sheet)
    # Last, because xlwings.arg sets the category back.
    return xlwings.func(category=CATEGORY)(in_sheet)


globals().update({name: offer(function) for name, function in FUNCTIONS.items()})
