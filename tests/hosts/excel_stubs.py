"""xlwings' Windows code on any system: only what belongs to the system is put in its place.

xlwings' decorators, its writer of VBA wrappers, its conversion and its server of calls are the
shipped ones; pywin32 and Excel's objects are stood in for. What this can't show: that VBA compiles
the wrappers, that pywin32 marshals the values, and what Excel does with them in its cells.
"""

import atexit
import ctypes
import datetime
import importlib
import io
import sys
from contextlib import contextmanager
from types import ModuleType, SimpleNamespace
from unittest.mock import MagicMock

import pytest

# Interface of Excel's Range; xlwings asks an argument for it to tell a range from a value.
RANGE = "{00020846-0000-0000-C000-000000000046}"

# DISP_E_PARAMNOTFOUND, 0x80020004: what VBA hands over for an optional argument left out.
LEFT_OUT = 0x80020004 - 2**32

# XlCVError of Excel's object model; CVErr(n) is the code 0x800A0000 + n as a signed number.
ERRORS = {
    "#NULL!": 2000,
    "#DIV/0!": 2007,
    "#VALUE!": 2015,
    "#REF!": 2023,
    "#NAME?": 2029,
    "#NUM!": 2036,
    "#N/A": 2042,
    "#GETTING_DATA": 2043,
    "#SPILL!": 2045,
    "#CONNECT!": 2046,
    "#BLOCKED!": 2047,
    "#UNKNOWN!": 2048,
    "#FIELD!": 2049,
    "#CALC!": 2050,
}


def error(text):
    """The number that stands for an error value of a cell."""
    return 0x800A0000 + ERRORS[text] - 2**32


class Time(datetime.datetime):
    """pywintypes.TimeType, a subclass of datetime since pywin32 300."""


class ComError(Exception):
    """pywintypes.com_error."""


class Excel:
    """An object of Excel: properties by name, anything else is missing."""

    def __init__(self, **properties):
        self.__dict__.update(properties)


def cells(rows):
    """A range of Excel holding rows of values; a single value as Excel gives it, bare."""
    block = rows if isinstance(rows, list) else [[rows]]
    one = len(block) == 1 and len(block[0]) == 1
    kind = SimpleNamespace(GetTypeAttr=lambda: SimpleNamespace(iid=RANGE))
    book = Excel(Name="Job.xlsm", Application=Excel(Hwnd=1))
    return Excel(
        Value=block[0][0] if one else tuple(map(tuple, block)),
        Row=1,
        Column=1,
        Rows=Excel(Count=len(block)),
        Columns=Excel(Count=len(block[0])),
        Worksheet=Excel(Name="Sheet1", Parent=book),
        _oleobj_=SimpleNamespace(GetTypeInfo=lambda: kind),
    )


def _no_python_object(value):
    raise ComError("not an object of this server")


def _modules():
    """The modules of pywin32 that xlwings imports, with the names that it takes from them."""
    client = {
        "Dispatch": lambda value, **options: value,
        "DispatchEx": MagicMock(),
        "CDispatch": type("CDispatch", (), {}),
        "CoClassBaseClass": type("CoClassBaseClass", (), {}),
        "DispatchBaseClass": type("DispatchBaseClass", (), {}),
    }
    util = {"unwrap": _no_python_object, "wrap": lambda value, *rest, **options: value}
    contents = {
        "pywintypes": {"com_error": ComError, "error": ComError, "TimeType": Time, "IID": str},
        "pythoncom": {
            "com_error": ComError,
            "ole_error": ComError,
            "CoInitialize": lambda: None,
            "IID_IDispatch": "IDispatch",
            "TypeIIDs": {"IDispatch": type("PyIDispatch", (), {})},
            "__file__": "pythoncom",
        },
        "win32com": {},
        "win32com.client": client,
        "win32com.server": {},
        "win32com.server.util": util,
        "win32com.server.policy": {"DefaultPolicy": object},
        "win32com.server.dispatcher": {},
        "win32timezone": {"TimeZoneInfo": SimpleNamespace(utc=lambda: datetime.UTC)},
        "win32process": {"GetWindowThreadProcessId": lambda window: (1, 4242)},
        "win32api": {},
        "win32con": {},
        "win32gui": {},
        "win32event": {},
    }
    modules = {}
    for name, names in contents.items():
        modules[name] = ModuleType(name)
        vars(modules[name]).update(names)
        parent, _, child = name.rpartition(".")
        if parent:
            setattr(modules[parent], child, modules[name])
    return modules


class Server:
    """The Excel host over xlwings' own Windows code."""

    def __init__(self, module, udfs, com):
        self.module = module
        self.udfs = udfs
        self.com = com

    def wrapper(self, workbook="Job.xlsm"):
        """The VBA text that Import Functions would put into `workbook`."""
        text = io.StringIO()
        self.udfs.generate_vba_wrapper(
            self.module.__name__, self.module, text, SimpleNamespace(Name=workbook)
        )
        return text.getvalue()

    def record(self, name):
        """What xlwings keeps of a function: category, arguments, descriptions."""
        return getattr(self.module, name).__xlfunc__

    def call(self, name, *arguments):
        """Call a function as its VBA wrapper does; arguments not given are left out."""
        left_out = len(self.record(name)["args"]) - len(arguments)
        return self.com.XLPython().CallUDF(
            self.module.__name__, name, [*arguments, *[LEFT_OUT] * left_out], None, cells(None)
        )


def not_for_a_cell(result):
    """The values that pywin32 can't hand to a cell unchanged; a result it can take gives none."""
    if isinstance(result, (list, tuple)):
        if not result or (
            any(isinstance(one, (list, tuple)) for one in result)
            and (len({len(one) if isinstance(one, (list, tuple)) else -1 for one in result}) != 1)
        ):
            return [result]  # empty and ragged arrays are none
        return [bad for one in result for bad in not_for_a_cell(one)]
    if type(result) is float:
        return [] if result - result == 0 else [result]
    whole = type(result) is int and abs(result) < 2**31  # a larger one becomes VT_I8, #VALUE!
    text = type(result) is str and len(result) <= 32767
    return [] if whole or text or type(result) is bool else [result]


@contextmanager
def server():
    """Xlwings with its Windows half, and the Excel host imported on top of it."""
    import xlwings

    import xlfuncs.hosts

    with pytest.MonkeyPatch.context() as patch:
        for name, module in _modules().items():
            patch.setitem(sys.modules, name, module)
        for name in ("windll", "oledll", "PyDLL"):
            patch.setattr(ctypes, name, MagicMock(), raising=False)
        for name in ("_xlwindows", "udfs", "com_server"):
            patch.delitem(sys.modules, f"xlwings.{name}", raising=False)
            module = importlib.import_module(f"xlwings.{name}")
            patch.setitem(sys.modules, f"xlwings.{name}", module)
            patch.setattr(xlwings, name, module, raising=False)
        atexit.unregister(xlwings._xlwindows.cleanup)  # it would look for orphaned Excels
        patch.setattr(xlwings, "engines", xlwings.main.Engines())
        xlwings.engines.add(xlwings.Engine(impl=xlwings._xlwindows.engine))
        for name, real in (("func", "xlfunc"), ("arg", "xlarg"), ("ret", "xlret")):
            patch.setattr(xlwings, name, getattr(xlwings.udfs, real))
        patch.delitem(sys.modules, "xlfuncs.hosts.excel", raising=False)
        module = importlib.import_module("xlfuncs.hosts.excel")
        patch.setitem(sys.modules, "xlfuncs.hosts.excel", module)
        patch.setattr(xlfuncs.hosts, "excel", module)

        yield Server(module, xlwings.udfs, xlwings.com_server)

        xlwings.udfs.com_executor.shutdown()
        xlwings.com_server.loop.close()
