"""LibreOffice Calc: a Basic function for each function of the registry, answered in Python.

Calc finds a worksheet function by its name among the Basic functions of the user. Each of them
hands its cells to a Python script of the user, which calls `answer_in_calc` here. The texts of
both are made from the registry; ``xlfuncs setup calc`` puts them into the user's profile.
"""

from __future__ import annotations

import logging
import math
import struct
from collections.abc import Sequence
from itertools import chain
from typing import Any

from ..cells import PREFIX, answer
from ..designations import text_of
from ..functions import FUNCTIONS
from ..registry import Argument, Function

MODULE = "XlfuncsCalc"
SCRIPT = "xlfuncs_calc.py"
MARK = "Written by xlfuncs setup calc"

# Calc keeps an error value as a number that is none, with the error's code in its low bits. These
# are the codes that Calc shows under the names that the spreadsheets share.
ERROR_CODES = {
    "#NULL!": 521,
    "#DIV/0!": 532,
    "#VALUE!": 519,
    "#REF!": 524,
    "#NAME?": 525,
    "#NUM!": 503,
    "#N/A": 32767,
}
_ERRORS = {code: text for text, code in ERROR_CODES.items()}
_QUIET_NAN = 0x7FF8 << 48

# A conductor carries less at the 30 degC of an ambient left out than at 0 degC.
LEFT_OUT_IS_SAFE = {"ambient"}

_log = logging.getLogger(__name__)


def answer_in_calc(name: str, cells: Sequence[Any]) -> Any:
    """Answer a worksheet function for cells as Basic hands them over.

    Parameters
    ----------
    name : str
        Worksheet name.
    cells : sequence
        Numbers, texts, None for a blank cell; a sequence of rows for a range.

    Returns
    -------
    answer : float, str or tuple of tuple
        What Basic can hand back to Calc.
    """
    function = FUNCTIONS.get(name)
    if function is None:
        return f"{PREFIX}{name} is not in this xlfuncs: run xlfuncs setup calc again"
    try:
        given = [_range(cell) if isinstance(cell, tuple) else _cell(cell) for cell in cells]
        return _shown(_answer(function, given))
    except Exception:  # a fault of ours; a cell must not show its traceback
        _log.exception("%s%r", name, cells)
        return f"{PREFIX}{name} has failed, which is its fault. Please report it"


def _cell(value: Any) -> Any:
    if isinstance(value, float) and math.isnan(value):
        (bits,) = struct.unpack("<Q", struct.pack("<d", value))
        return _ERRORS.get(bits & 0xFFFFFFFF, "#VALUE!")
    # On its way through Basic a whole number becomes an integer. Calc has none.
    return float(value) if isinstance(value, int) else value


def _range(rows: tuple[Any, ...]) -> list[list[Any]]:
    return [[_cell(value) for value in row] for row in rows]


def _answer(function: Function, cells: list[Any]) -> Any:
    """Answer, telling arguments left out from zeros as far as that can be done.

    Calc hands over 0 for an argument that is left out before another one. Where the 0 changes
    nothing or would be refused, it was left out, or may as well have been. Where it is an answer
    of its own, no answer is better than a wrong one.
    """
    arguments = _arguments(function, cells)
    zeros = [
        place
        for place, argument in enumerate(arguments)
        if not argument.required and not isinstance(cells[place], list) and cells[place] == 0
    ]
    if not zeros:
        return answer(function, cells)
    left_out = [None if place in zeros else cell for place, cell in enumerate(cells)]
    without = answer(function, left_out)
    for place in zeros:
        argument = arguments[place]
        with_zero = answer(function, [*left_out[:place], 0.0, *left_out[place + 1 :]])
        if not _agrees(with_zero, without) and argument.name not in LEFT_OUT_IS_SAFE:
            return _which(argument)
    return without


def _arguments(function: Function, cells: list[Any]) -> tuple[Argument, ...]:
    """Return what the cells are read as; the working of a function has that one's arguments."""
    arguments = function.arguments
    if len(cells) > 1 and len(arguments) > 1 and arguments[1].kind == "cell":
        name = text_of(cells[0]).upper().lstrip("=").partition("(")[0].strip()
        if name in FUNCTIONS:
            arguments = (arguments[0], *FUNCTIONS[name].arguments)
    return arguments[: len(cells)]


def _agrees(with_zero: Any, without: Any) -> bool:
    """Tell whether a zero is refused or gives the answer that leaving out gives."""
    if isinstance(with_zero, list):
        same_rows = isinstance(without, list) and len(without) == len(with_zero)
        if same_rows and len(without[0]) == len(with_zero[0]):
            return all(map(_agrees, chain(*with_zero), chain(*without)))
        return _refused(with_zero[0][0])
    return _refused(with_zero) or bool(with_zero == without)


def _refused(value: Any) -> bool:
    return isinstance(value, str) and value.startswith(PREFIX)


def _which(argument: Argument) -> str:
    zero = "FALSE" if argument.kind == "choice" else "0"
    default = text_of(argument.default)
    return (
        f"{PREFIX}{argument.name} is {zero} or left out, and LibreOffice does not tell which. "
        f'Write "{zero}" in quotes, or {default or "an empty text"} for what leaving out means'
    )


def _shown(value: Any) -> Any:
    if isinstance(value, list):
        return tuple(tuple(_shown(one) for one in row) for row in value)
    if isinstance(value, (bool, int)):  # Basic's True is -1, and text in an array
        return float(value)
    if value in ERROR_CODES:
        return struct.unpack("<d", struct.pack("<Q", _QUIET_NAN | ERROR_CODES[value]))[0]
    return value


def basic_module() -> str:
    """Text of the Basic module with one function for each function of the registry."""
    return "\n".join([_BRIDGE, *(_basic_function(function) for function in FUNCTIONS.values())])


_BRIDGE = f'''\
Rem {MARK}; it is written again by the next setup.
Option Explicit
Global oXlfuncsScript As Object

Function XlfuncsAnswer(sName As String, vCells As Variant) As Variant
  Dim oFactory As Object
  Dim vAnswer, vRow
  Dim nRow As Long, nColumn As Long
  On Error Goto Failed
  If IsNull(oXlfuncsScript) Then
    oFactory = createUnoService("com.sun.star.script.provider.MasterScriptProviderFactory")
    oXlfuncsScript = oFactory.createScriptProvider("user").getScript( _
      "vnd.sun.star.script:{SCRIPT}$answer?language=Python&location=user")
  End If
  vAnswer = oXlfuncsScript.invoke(Array(sName, vCells), Array(), Array())
  If IsArray(vAnswer) Then
    vRow = vAnswer(0)
    Dim vGrid(UBound(vAnswer), UBound(vRow))
    For nRow = 0 To UBound(vAnswer)
      vRow = vAnswer(nRow)
      For nColumn = 0 To UBound(vRow)
        vGrid(nRow, nColumn) = vRow(nColumn)
      Next
    Next
    XlfuncsAnswer = vGrid
  Else
    XlfuncsAnswer = vAnswer
  End If
  Exit Function
Failed:
  XlfuncsAnswer = "{PREFIX}LibreOffice did not reach xlfuncs: run xlfuncs setup calc again"
End Function
'''


def _basic_function(function: Function) -> str:
    """Text of one Basic function.

    One argument more than the function has lets a call with too many be told so; Basic drops
    what is beyond.
    """
    count = len(function.arguments) + 1
    names = [f"v{number}" for number in range(1, count + 1)]
    lines = [f"Function {function.name}({', '.join(f'Optional {n}' for n in names)}) As Variant"]
    for given in range(count):
        keyword = "If" if given == 0 else "ElseIf"
        lines.append(f"  {keyword} IsMissing({names[given]}) Then")
        lines.append(f"    {_handed_over(function, names[:given])}")
    lines += ["  Else", f"    {_handed_over(function, names)}", "  End If", "End Function", ""]
    return "\n".join(lines)


def _handed_over(function: Function, names: list[str]) -> str:
    return f'{function.name} = XlfuncsAnswer("{function.name}", Array({", ".join(names)}))'


def python_script(folders: Sequence[str]) -> str:
    """Text of the Python script that Basic calls; `folders` hold the packages it needs."""
    listed = "".join(f"    {folder!r},\n" for folder in folders)
    return f'''\
# {MARK}; it is written again by the next setup.
import sys

FOLDERS = [
{listed}]
sys.path[:0] = [folder for folder in FOLDERS if folder not in sys.path]


def answer(name, cells):
    try:
        from xlfuncs.hosts.calc import answer_in_calc
    except Exception as error:
        return f"{PREFIX}xlfuncs can't be loaded ({{error}}): run xlfuncs setup calc again"
    return answer_in_calc(name, cells)


g_exportedScripts = (answer,)
'''
