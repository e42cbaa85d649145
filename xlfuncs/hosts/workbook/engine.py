"""The evaluation engine behind one door: no other file imports it.

It is given a workbook of plain cells, made here: no names, tables, styles or links, only values
and formulas that translate.py wrote.
"""

from __future__ import annotations

import io
import math
import zipfile
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from functools import lru_cache
from typing import Any
from xml.sax.saxutils import quoteattr

import formualizer

from .formula import FormulaError, address, box
from .registered import OverColumns
from .stand_ins import NOT_COMPUTED, STAND_INS, error
from .translate import OMITTED_MARK

ERROR_CODES = {
    "Null": "#NULL!",
    "Div": "#DIV/0!",
    "Value": "#VALUE!",
    "Ref": "#REF!",
    "Name": "#NAME?",
    "Num": "#NUM!",
    "Na": "#N/A",
    "Spill": "#SPILL!",
    "Calc": "#CALC!",
}
KINDS = {code: kind for kind, code in ERROR_CODES.items()}
# Types of values that can be told apart in a memory of calls.
PLAIN = {float, str, bool, type(None)}
# Fewer calls than this are made as fast one by one.
FEWEST = 50
# Excel's limit for the text in a cell.
LONGEST_TEXT = 32_767
LIMITS = {"max_part_bytes": 2 << 30, "max_expanded_bytes": 4 << 30, "max_input_bytes": 4 << 30}

FAILURES = {
    NOT_COMPUTED: "it uses something the engine can't compute",
    "Circ": "it is part of a circular reference",
    "Cancelled": "its computation was cancelled",
    "Error": "the engine failed on it",
}


class Failure(str):
    """Why a cell has no result."""


# Stands for a value that is not known yet.
UNKNOWN = Failure()


class Callbacks:
    """Worksheet functions as the engine calls them; equal calls are answered from memory."""

    def __init__(self, functions: Mapping[str, Callable[..., Any]]) -> None:
        self.functions = {name: self._guarded(name, call) for name, call in functions.items()}
        self.over_columns = {
            name: function
            for name, function in functions.items()
            if isinstance(function, OverColumns)
        }
        # Answers that no call has asked for yet, by function and arguments with their types.
        self.ahead: dict[str, dict[tuple[Any, ...], Any]] = defaultdict(dict)
        # The engine does not say which call gave a cell its error.
        self.failures: dict[str, str] = {}
        self.interrupt: BaseException | None = None
        self.stop: Callable[[], None] = lambda: None

    def _guarded(self, name: str, function: Callable[..., Any]) -> Callable[..., Any]:
        # Ranges come as lists, which are no keys of `remembered`.
        answers: dict[str, Any] = {}

        def call(*values: Any) -> Any:
            try:
                return remembered(*values)
            except TypeError:
                key = repr(values)
                if key not in answers:
                    answers[key] = fresh(*values)
                return answers[key]

        # TRUE equals 1.0 as a key, so the types belong to it.
        @lru_cache(maxsize=None, typed=True)
        def remembered(*values: Any) -> Any:
            key = (*values, *map(type, values))
            return self.ahead[name].pop(key) if key in self.ahead[name] else fresh(*values)

        def fresh(*values: Any) -> Any:
            try:
                return to_engine(function(*map(from_engine, values)))
            except (KeyboardInterrupt, SystemExit) as interrupt:
                # The engine would make an error value of it and go on.
                self.interrupt = interrupt
                self.stop()
                return error("Cancelled")
            except Exception as failure:
                self.failures[name] = f"{name} failed ({type(failure).__name__}: {failure})"
                return error(NOT_COMPUTED)

        return call

    def answer_columns(self, name: str, arguments: list[list[Any]]) -> list[Any]:
        """Answer calls with the arguments in each row of columns, for when the engine makes them.

        Rows that only the engine's own call can answer get `UNKNOWN`.
        """
        kinds = [list(map(type, column)) for column in arguments]
        keys = list(zip(*arguments, *kinds, strict=True))
        count = len(arguments)
        different = [key for key in dict.fromkeys(keys) if set(key[count:]) <= PLAIN]
        if len(different) < FEWEST:
            answers = [self.functions[name](*key[:count]) for key in different]
        else:
            columns = [[[from_engine(key[i])] for key in different] for i in range(count)]
            try:
                rows = self.over_columns[name](*columns)
                answers = [to_engine(value) for (value,) in rows]
            except Exception:
                rows = None
            if not isinstance(rows, list) or len(rows) != len(different):
                # The same calls one by one will tell what is wrong.
                return [UNKNOWN] * len(keys)
            self.ahead[name].update(zip(different, answers, strict=True))
        found = {
            key: UNKNOWN if isinstance(answer, dict) else answer
            for key, answer in zip(different, answers, strict=True)
        }
        return [found.get(key, UNKNOWN) for key in keys]


class Engine:
    """One evaluation of one workbook."""

    def __init__(
        self,
        sheets: Iterable[tuple[str, bytes]],
        shared_strings: bytes | None,
        callbacks: Callbacks,
        date_1904: bool,
    ) -> None:
        package = _package(sheets, shared_strings)
        configuration = formualizer.EvaluationConfig()
        # The functions are Python's, so more threads only wait for each other.
        configuration.enable_parallel = False
        configuration.date_system = "1904" if date_1904 else "1900"
        try:
            self.workbook = formualizer.Workbook.from_bytes(
                package,
                config=formualizer.WorkbookConfig(
                    eval_config=configuration, enable_changelog=False
                ),
                load_limits=LIMITS,
            )
        except (OSError, ValueError, RuntimeError) as failure:
            raise EngineError(f"the engine can't read the workbook ({failure})") from None
        self.workbook.set_temporal_egress("serial")
        self.callbacks = callbacks
        callbacks.stop = self.workbook.cancel
        for name, function in [*callbacks.functions.items(), *STAND_INS.items()]:
            self.workbook.register_function(name, function)

    def evaluate(self) -> None:
        try:
            self.workbook.evaluate_all()
        except Exception as failure:
            if self.callbacks.interrupt is None:
                raise EngineError(f"the engine stopped ({failure})") from None
        if self.callbacks.interrupt is not None:
            raise self.callbacks.interrupt

    def values(self, sheet: str, column: int, rows: Any) -> list[Any]:
        """Results of the cells of a column in `rows`, which must rise."""
        first, last = int(rows.min()), int(rows.max())
        if last - first > 8 * len(rows) + 1000:
            return [self.area(sheet, (row, column, row, column))[0][0] for row in rows.tolist()]
        lines = self._lines(sheet, (first, column, last, column))
        values = [result(value) for (value,) in lines]
        if len(values) == len(rows):
            return values
        return [values[row - first] for row in rows.tolist()]

    def area(self, sheet: str, area: tuple[int, int, int, int]) -> list[list[Any]]:
        return [list(map(result, line)) for line in self._lines(sheet, area)]

    def _lines(self, sheet: str, area: tuple[int, int, int, int]) -> list[list[Any]]:
        values: list[list[Any]] = self.workbook.sheet(sheet).get_values(
            formualizer.RangeAddress(sheet, *area)
        )
        return values

    def spill(self, sheet: str, row: int, column: int) -> tuple[int, int, int, int]:
        """Range over which the result of a cell spreads."""
        quoted = sheet.replace("'", "''")
        report = self.workbook.inspect_cell(f"'{quoted}'!{address(row, column)}")
        spill = report.cell.spill
        if spill is None or spill.extent is None:
            return row, column, row, column
        return box(spill.extent.rsplit("!", 1)[1])


class EngineError(Exception):
    """The engine could not take or compute the workbook as a whole."""


def from_engine(value: Any) -> Any:
    if isinstance(value, dict):
        return ERROR_CODES.get(value["kind"], "#VALUE!")
    if isinstance(value, list):
        return [[from_engine(element) for element in line] for line in value]
    return None if value == OMITTED_MARK else value


def to_engine(value: Any) -> Any:
    """A function's answer as the engine takes it."""
    if isinstance(value, list):
        return [[to_engine(element) for element in line] for line in value]
    if isinstance(value, str):
        if value in KINDS:
            return error(KINDS[value])
        return value if len(value) <= LONGEST_TEXT else error("Value")
    if isinstance(value, bool) or value is None:
        return "" if value is None else value
    if isinstance(value, int | float):
        return float(value) if math.isfinite(value) else error("Num")
    raise TypeError(f"{type(value).__name__} is not a value of a cell")


def result(value: Any) -> Any:
    """What the engine gives for a cell: a value, a code of Excel's, or a `Failure`."""
    if type(value) is dict:
        kind = value["kind"]
        if kind in FAILURES:
            return Failure(FAILURES[kind])
        return ErrorCode(ERROR_CODES.get(kind, "#VALUE!"))
    if type(value) is float and not math.isfinite(value):
        return Failure("the engine's result is no finite number")
    return value


class ErrorCode(str):
    """An error value of a cell."""


def _scratch() -> Any:
    workbook = formualizer.Workbook()
    workbook.add_sheet("Scratch")
    return workbook


class Knowledge:
    """What the engine can read, asked once per function or formula."""

    def __init__(self, functions: Mapping[str, Callable[..., Any]]) -> None:
        self.workbook = _scratch()
        self.known: dict[str, bool] = {}
        for name in [*functions, *STAND_INS]:
            self.workbook.register_function(name, lambda *_: 0.0)

    def function(self, name: str) -> bool:
        if name not in self.known:
            try:
                self.workbook.set_formula("Scratch", 1, 1, f"={name}()")
                value = self.workbook.evaluate_cell("Scratch", 1, 1)
            except Exception:
                value = {"kind": "Name"}
            self.known[name] = not (isinstance(value, dict) and value["kind"] == "Name")
        return self.known[name]

    def check(self, formula: str) -> None:
        """Raise FormulaError for a text that would make the engine refuse the whole workbook."""
        try:
            formualizer.parse("=" + formula)
        except Exception as failure:
            raise FormulaError(f"the engine can't read it ({failure})") from None


TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"
RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships"
DOCUMENT = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
CONTENT = "application/vnd.openxmlformats-officedocument.spreadsheetml"


def _package(sheets: Iterable[tuple[str, bytes]], shared_strings: bytes | None) -> bytes:
    """A minimal workbook around the XML of its sheets, which are made and written one by one."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_STORED) as archive:
        kinds: dict[str, str] = {}
        names = ""
        for number, (name, xml) in enumerate(sheets, 1):
            part = f"xl/worksheets/sheet{number}.xml"
            archive.writestr(part, xml)
            kinds[part] = "worksheet"
            names += f'<sheet name={quoteattr(name)} sheetId="{number}" r:id="r{number}"/>'
            del xml
        if shared_strings is not None:
            archive.writestr("xl/sharedStrings.xml", shared_strings)
            kinds["xl/sharedStrings.xml"] = "sharedStrings"
        overrides = "".join(
            f'<Override PartName="/{part}" ContentType="{CONTENT}.{kind}+xml"/>'
            for part, kind in [*kinds.items(), ("xl/workbook.xml", "sheet.main")]
        )
        relations = "".join(
            f'<Relationship Id="r{number}" Type="{DOCUMENT}/{kind}" Target="/{part}"/>'
            for number, (part, kind) in enumerate(kinds.items(), 1)
        )
        archive.writestr(
            "[Content_Types].xml",
            f'<Types xmlns="{TYPES}">'
            '<Default Extension="rels" '
            'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
            f'<Default Extension="xml" ContentType="application/xml"/>{overrides}</Types>',
        )
        archive.writestr(
            "_rels/.rels",
            f'<Relationships xmlns="{RELATIONS}"><Relationship Id="r1" '
            f'Type="{DOCUMENT}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        )
        archive.writestr(
            "xl/_rels/workbook.xml.rels",
            f'<Relationships xmlns="{RELATIONS}">{relations}</Relationships>',
        )
        archive.writestr(
            "xl/workbook.xml",
            f'<workbook xmlns="{MAIN}" xmlns:r="{DOCUMENT}"><sheets>{names}</sheets></workbook>',
        )
    return buffer.getvalue()
