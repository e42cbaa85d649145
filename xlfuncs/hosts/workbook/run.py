"""One run over one workbook: decide what to compute, compute it, put the results into the XML."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any
from xml.sax.saxutils import unescape

import numpy as np
import numpy.typing as npt

from . import deviations
from .ahead import Ahead, Answers, Copies
from .book import read_book, without_recalculation
from .dependents import Area, Dependents, Group, Indexes, Marks
from .edits import Edit, Edits
from .engine import FAILURES, Callbacks, Engine, EngineError, ErrorCode, Failure, Knowledge
from .formula import Call, FormulaError, Literal, Reference, address
from .groups import Grouper
from .package import Package
from .refusal import Refusal
from .report import Place, Report
from .sheet import SheetXml
from .stand_ins import MESSAGE, NOT_COMPUTED, REASONS
from .translate import COMPARE, Template, Translator, walk

MAY_READ_NO_VALUE = "it may read a cell that was left alone and holds no stored value"
NO_VALUE = "it depends on a cell that was left alone and holds no stored value"

# A function takes 255 arguments.
MOST_RUNS = 250

Progress = Callable[[str, float], None]


@dataclass
class Sheet:
    """A sheet with what the run found out about it, one entry for each formula cell."""

    xml: SheetXml
    arrays: Mapping[int, Any]
    templates: list[Template]
    left: dict[int, str] = field(default_factory=dict)

    def place(self, index: int) -> tuple[int, int]:
        return int(self.xml.rows[index]), int(self.xml.columns[index])


@dataclass
class Results:
    """Values of one sheet: by formula cell, and by cell for those an array formula fills."""

    values: dict[int, Any] = field(default_factory=dict)
    areas: dict[int, Area] = field(default_factory=dict)
    spread: dict[tuple[int, int], Any] = field(default_factory=dict)


class Run:
    """Fills one workbook."""

    def __init__(
        self,
        package: Package,
        functions: Mapping[str, Callable[..., Any]],
        recompute_all: bool,
        progress: Progress,
    ) -> None:
        self.package = package
        self.recompute_all = recompute_all
        self.progress = progress
        functions = {name.upper(): function for name, function in functions.items()}
        self.callbacks = Callbacks(functions)
        self.knowledge = Knowledge(functions)
        self.book = read_book(package)
        translator = Translator(self.book, functions, self.knowledge.function)
        self.sheets: dict[str, Sheet] = {}
        self.zeros = 0
        groups: list[Group] = []
        for number, (name, part) in enumerate(self.book.sheet_parts.items()):
            progress("reading", number / len(self.book.sheet_parts))
            xml = SheetXml(package.read_xml(part), name, self.book.dynamic_cells)
            if self.book.never_calculated:
                self.zeros += xml.forget_zeros()
            grouper = Grouper(xml, self.book, translator)
            found = grouper.groups()
            templates = np.full(len(xml.rows), Template(), object)
            for group in found:
                templates[group.indexes] = group.template
            self.sheets[name] = Sheet(xml, grouper.arrays, templates.tolist())
            groups += found
        self.groups = groups
        self.dependents = Dependents(groups)
        for name, sheet in self.sheets.items():
            self.dependents.rows[name] = sheet.xml.rows
            self.dependents.columns[name] = sheet.xml.columns
            for index, array in sheet.arrays.items():
                self.dependents.areas[name, index] = array.area
        self.results: dict[str, Results] = {}
        self.computed: dict[str, Indexes] = {name: np.empty(0, np.int64) for name in self.sheets}
        self.totals: dict[str, list[tuple[int, int]]] = {}

    def compute(self) -> None:
        """Evaluate until no more cells turn out to be left alone or to be affected."""
        needed = self._needed()
        self._leave_known(needed)
        while True:
            self._leave_without_value(needed)
            self.computed = {
                name: np.flatnonzero(needed[name] & ~_marks(sheet.left, len(needed[name])))
                for name, sheet in self.sheets.items()
            }
            if not any(map(len, self.computed.values())):
                self.results = {name: Results() for name in self.sheets}
                break
            failed = self._evaluate()
            # Only arrays that spread further than before can reach more cells.
            grown = self._needed() if self.dependents.areas else needed
            more = any((grown[name] & ~needed[name]).any() for name in needed)
            if more:
                self._leave_known(grown)
            needed = grown
            if not failed and not more:
                break
        self.needed = needed
        self._report_unknown_reads()

    def _needed(self) -> Marks:
        everything = {name: np.ones(len(s.xml.rows), bool) for name, s in self.sheets.items()}
        if self.recompute_all:
            return everything
        seeds = {name: ~sheet.xml.has_value for name, sheet in self.sheets.items()}
        for group in self.groups:
            if group.template.calls_ours:
                seeds[group.sheet][group.indexes] = True
        indexes = {name: np.flatnonzero(marks) for name, marks in seeds.items()}
        return self.dependents.spread(indexes, everything)

    def _leave_known(self, needed: Marks) -> None:
        """Leave alone what is known beforehand not to be computable."""
        for group in self.groups:
            sheet, template = self.sheets[group.sheet], group.template
            chosen = needed[group.sheet][group.indexes]
            reason = template.reason
            if chosen.any() and not reason:
                try:
                    (text,) = template.texts(group.rows[chosen][:1])
                    self.knowledge.check(unescape(text.decode()))
                except FormulaError as failure:
                    reason = str(failure)
            indexes, rows = group.indexes[chosen].tolist(), group.rows[chosen].tolist()
            if reason:
                sheet.left |= {index: sheet.left.get(index, reason) for index in indexes}
            elif template.by_row:
                for index, row in zip(indexes, rows, strict=True):
                    try:
                        template.text_in(row, self)
                    except FormulaError as failure:
                        sheet.left.setdefault(index, str(failure))

    def _leave_without_value(self, needed: Marks) -> None:
        """Leave alone what reads a cell that was left alone and holds nothing."""
        empty = {name: needed[name] & ~sheet.xml.has_value for name, sheet in self.sheets.items()}
        if not any(empty[name][i] for name, sheet in self.sheets.items() for i in sheet.left):
            return
        for group in self.groups:
            if group.template.reads_unknown:
                for index in group.indexes[needed[group.sheet][group.indexes]].tolist():
                    self.sheets[group.sheet].left.setdefault(index, MAY_READ_NO_VALUE)
        seeds = {
            name: np.array(sorted(i for i in sheet.left if empty[name][i]), np.int64)
            for name, sheet in self.sheets.items()
        }
        for name, marks in self.dependents.spread(seeds, empty).items():
            for index in np.flatnonzero(marks).tolist():
                self.sheets[name].left.setdefault(index, NO_VALUE)

    def _report_unknown_reads(self) -> None:
        if not any(map(len, self.computed.values())):
            return
        for group in self.groups:
            if not group.template.reads_unknown:
                continue
            for index in group.indexes[~self.needed[group.sheet][group.indexes]].tolist():
                reason = (
                    f"which cells it reads can't be known ({group.template.reads_unknown}), "
                    "so it kept its stored value"
                )
                self.sheets[group.sheet].left.setdefault(index, reason)

    def stored_spill(self, spill: Reference, row: int) -> Area | None:
        """Range of a spilled array that is not computed again."""
        sheet = self.sheets[spill.sheet]
        index = sheet.xml.formula_cells.get((spill.rows(row)[0], spill.left))
        if index is None or index not in sheet.arrays or index in self.computed[spill.sheet]:
            return None
        area: Area = sheet.arrays[index].area
        return area

    def counted_rows(self, call: Call, area: Reference, row: int) -> list[tuple[int, int]]:
        """Runs of rows of a range that a SUBTOTAL or AGGREGATE counts.

        Left out are hidden rows, as the function's code says, and rows that hold another total.
        """
        sheet = self.sheets[area.sheet]
        top, bottom = area.rows(row)
        hidden = {line for line in sheet.xml.hidden_rows if top <= line <= bottom}
        filtered = {line for line in hidden if self._is_filtered(area.sheet, line)}
        if call.name == "SUBTOTAL":
            skipped = hidden if _code(call, 0) > 100 else filtered
        else:
            option = _code(call, 1)
            if option > 3:
                raise FormulaError("AGGREGATE that counts other totals in its range")
            if option % 2 == 0 and filtered:
                raise FormulaError("AGGREGATE over filtered rows without the option to skip them")
            skipped = hidden if option % 2 else set()
        for line, column in self._totals(area.sheet):
            if top <= line <= bottom and area.left <= column <= area.right:
                if area.left != area.right:
                    raise FormulaError(f"{call.name} over a range that holds other totals")
                skipped = skipped | {line}
        runs: list[tuple[int, int]] = []
        start = top
        for line in sorted(skipped):
            if line > start:
                runs.append((start, line - 1))
            start = line + 1
        if start <= bottom:
            runs.append((start, bottom))
        if not runs:
            raise FormulaError(f"{call.name} over a range of which nothing is counted")
        if len(runs) > MOST_RUNS:
            raise FormulaError(f"{call.name} over a range with too many hidden rows")
        return runs

    def _totals(self, sheet: str) -> list[tuple[int, int]]:
        """Cells of a sheet that hold a SUBTOTAL or AGGREGATE."""
        if sheet not in self.totals:
            self.totals[sheet] = [
                (row, column)
                for group in self.groups
                if group.template.totals and group.sheet == sheet
                for row, column in zip(group.rows.tolist(), group.columns.tolist(), strict=True)
            ]
        return self.totals[sheet]

    def _is_filtered(self, sheet: str, row: int) -> bool:
        """Whether a hidden row lies below the heading of a filter that is set."""
        area = self.sheets[sheet].xml.filtered_area
        if area is not None and area[0] < row <= area[2]:
            return True
        return any(
            table.filtered and table.sheet == sheet and table.top < row <= table.bottom
            for table in self.book.tables.values()
        )

    def _evaluate(self) -> bool:
        """Evaluate once; True where cells turned out not to be computable."""
        self.progress("computing", 0.0)
        try:
            answered = self._answered_ahead()
            engine = self._engine(
                (name, self._feed(name, answered[name])) for name in self._sheets_read()
            )
            engine.evaluate()
        except EngineError as failure:
            raise Refusal(f"The workbook can't be computed: {failure}.") from None
        self.progress("computing", 1.0)
        self.results = {name: Results() for name in self.sheets}
        failed = {name: self._collect(engine, name, answered[name]) for name in self.sheets}
        self._leave_failed(failed)
        return any(failed.values())

    @cached_property
    def _shared_strings(self) -> bytes | None:
        part = self.book.shared_strings
        return None if part is None else self.package.read_xml(part)

    def _engine(self, feeds: Iterable[tuple[str, bytes]]) -> Engine:
        return Engine(feeds, self._shared_strings, self.callbacks, self.book.date_1904)

    def _answered_ahead(self) -> Answers:
        """Results of formula cells that need no engine."""
        computed: dict[tuple[str, int], Indexes] = {}
        for name, indexes in self.computed.items():
            xml = self.sheets[name].xml
            rows, columns = xml.rows[indexes], xml.columns[indexes]
            for column in np.unique(columns).tolist():
                computed[name, column] = rows[columns == column]
        return Ahead(
            computed,
            {name for name in self.sheets if self._computed_arrays(name)},
            lambda names: self._engine((name, self._constants(name)) for name in names),
            self.callbacks,
        ).answers(self._copies())

    def _computed_arrays(self, name: str) -> list[int]:
        arrays = self.sheets[name].arrays
        computed = self.computed[name].tolist() if arrays else []
        return [index for index in computed if index in arrays]

    def _leave_failed(self, failed: Mapping[str, Mapping[int, Failure]]) -> None:
        """Leave alone the cells at which failures begin; those that read them are tried again."""
        indexes = {name: np.array(sorted(cells), np.int64) for name, cells in failed.items()}
        reading = self.dependents.readers(indexes)
        first = {name: set(cells) - set(reading.get(name, ())) for name, cells in failed.items()}
        # In a circle every cell reads another.
        chosen = first if any(first.values()) else failed
        for name, cells in chosen.items():
            for index in cells:
                self.sheets[name].left[index] = self._reason(name, index, failed[name][index])

    def _reason(self, name: str, index: int, failure: Failure) -> str:
        if failure != FAILURES[NOT_COMPUTED]:
            return str(failure)
        tree = self.sheets[name].templates[index].tree
        calls = [] if tree is None else [n.name for n in walk(tree) if isinstance(n, Call)]
        known = self.callbacks.failures | REASONS
        # Comparisons stand in many formulas, where something else is likelier to have failed.
        likely = sorted(calls, key=COMPARE.__eq__)
        return next((known[call] for call in likely if call in known), str(failure))

    def _sheets_read(self) -> list[str]:
        """Sheets that the engine needs; all of them where a formula may read anything."""
        wanted = {name for name, indexes in self.computed.items() if len(indexes)}
        computed = self._marks_of_computed()
        for group in self.groups:
            if computed[group.sheet][group.indexes].any():
                if group.template.reads_unknown:
                    return list(self.sheets)
                wanted |= {reference.sheet for reference in group.template.reads}
        return [name for name in self.sheets if name in wanted]

    def _marks_of_computed(self) -> Marks:
        return {
            name: _marks(self.computed[name], len(sheet.xml.rows))
            for name, sheet in self.sheets.items()
        }

    def _constants(self, name: str) -> bytes:
        """The sheet as the engine gets it, without the cells to compute."""
        xml = self.sheets[name].xml
        return xml.feed(xml.without(self.computed[name]))

    def _feed(self, name: str, answered: Mapping[int, Any]) -> bytes:
        """The sheet as the engine gets it: formulas to compute, and constants for the rest."""
        sheet = self.sheets[name]
        xml = sheet.xml
        count = len(xml.rows)
        formulas = _marks(self.computed[name], count) & ~_marks(answered, count)
        new = np.full(count, b"", object)
        for group in self.groups:
            if group.sheet == name:
                chosen = formulas[group.indexes]
                template, rows = group.template, group.rows[chosen]
                if template.by_row:
                    texts = [template.text_in(row, self).encode() for row in rows.tolist()]
                    new[group.indexes[chosen]] = [xml.formula(text) for text in texts]
                else:
                    new[group.indexes[chosen]] = template.texts(rows, xml.formula)
        starts = xml.formula_start.copy()
        ends = np.where(formulas, xml.inner_end, xml.formula_end)
        if answered:
            constants = np.fromiter(answered, np.int64)
            starts[constants] = xml.address_end[constants]
            ends[constants] = xml.inner_end[constants]
            new[constants] = xml.constants(answered)
        edits = Edits(starts, ends, new.tolist())
        emptied: list[Edit] = []
        for index in self._computed_arrays(name):
            for row, column in _cells(sheet.arrays[index].area):
                position = xml.cells.get((row, column))
                if position is not None and (row, column) not in xml.formula_cells:
                    head_end, close, _ = xml.cell_span(position)
                    emptied.append((head_end, close, b""))
        return xml.feed(edits.with_others(emptied) if emptied else edits)

    def _copies(self) -> Iterator[Copies]:
        """The cells that are going to be computed, but for array formulas."""
        computed = self._marks_of_computed()
        for group in self.groups:
            tree = group.template.tree
            # An array formula is the only one in its group.
            if tree is None or int(group.indexes[0]) in self.sheets[group.sheet].arrays:
                continue
            chosen = computed[group.sheet][group.indexes]
            for column in np.unique(group.columns[chosen]).tolist():
                members = chosen & (group.columns == column)
                yield Copies(tree, group.sheet, column, group.rows[members], group.indexes[members])

    def _collect(
        self, engine: Engine, name: str, answered: Mapping[int, Any]
    ) -> dict[int, Failure]:
        """Take the results of one sheet; the cells that have none, and why."""
        sheet, results = self.sheets[name], self.results[name]
        results.values.update(answered)
        indexes = self.computed[name]
        indexes = indexes[~_marks(answered, len(sheet.xml.rows))[indexes]]
        columns = sheet.xml.columns[indexes]
        failed: dict[int, Failure] = {}
        for column in np.unique(columns).tolist():
            members = indexes[columns == column]
            values = engine.values(name, column, sheet.xml.rows[members])
            results.values.update(zip(members.tolist(), values, strict=True))
            if not set(map(type, values)) & {ErrorCode, Failure}:
                continue
            for index, value in zip(members.tolist(), values, strict=True):
                if isinstance(value, ErrorCode) and value == "#VALUE!":
                    value = self._doubted(engine, name, index, value)
                if isinstance(value, Failure):
                    failed[index] = value
                    del results.values[index]
        for index, array in sheet.arrays.items():
            if index not in results.values:
                continue
            area = array.area
            if array.dynamic:
                area = engine.spill(name, *sheet.place(index))
                if any(_overlap(area, merged) for merged in sheet.xml.merged_areas):
                    failed[index] = Failure("its results would spread into merged cells")
                    continue
                if any(place in sheet.xml.formula_cells for place in _cells(area)[1:]):
                    failed[index] = Failure("its results would spread over another formula")
                    continue
                old = self.dependents.areas[name, index]
                self.dependents.areas[name, index] = _around(old, area)
            results.areas[index] = area
            values = engine.area(name, area)
            for row, column in _cells(array.area):
                results.spread[row, column] = None
            for row, column in _cells(area):
                results.spread[row, column] = values[row - area[0]][column - area[1]]
            for place in [*_cells(array.area), *_cells(area)]:
                if place in sheet.xml.formula_cells:
                    results.spread.pop(place, None)
        return failed

    def _doubted(self, engine: Engine, name: str, index: int, value: ErrorCode) -> Any:
        """The #VALUE! of a cell, or a failure where Excel may find a number in a text it reads."""
        sheet = self.sheets[name]
        row, template = int(sheet.xml.rows[index]), sheet.templates[index]
        texts = [
            engine.area(cell.sheet, (cell.rows(row)[0], cell.left, cell.rows(row)[0], cell.left))
            for cell in template.reads
            if cell.single
        ]
        written = [] if template.tree is None else walk(template.tree)
        texts += [
            [[node.text[1:-1]]]
            for node in written
            if isinstance(node, Literal) and node.kind == "text"
        ]
        for ((text,),) in texts:
            if isinstance(text, str) and deviations.NUMBER_TO_EXCEL.fullmatch(text):
                return Failure(f"Excel may find a number in the text {text!r} that it reads")
        return value

    def changed_parts(self, share: bool) -> dict[str, bytes]:
        """New contents of the members that change."""
        changed: dict[str, bytes] = {}
        for name, results in self.results.items():
            if results.values:
                self.progress("writing", len(changed) / len(self.sheets))
                sheet = self.sheets[name]
                areas = {
                    index: _range(area)
                    for index, area in results.areas.items()
                    if area != sheet.arrays[index].area
                }
                edits = sheet.xml.value_edits(results.values)
                others = [
                    *sheet.xml.range_edits(areas),
                    *sheet.xml.area_edits(results.spread),
                ]
                if others:
                    edits = edits.with_others(others)
                changed[self.book.sheet_parts[name]] = edits.made(sheet.xml.xml)
        if share:
            xml = without_recalculation(self.book.xml)
            if xml != self.book.xml:
                changed[self.book.part] = xml
        return changed

    def report(self, share: bool, started: float) -> Report:
        messages: list[Place] = []
        errors: list[Place] = []
        left: list[Place] = []
        computed = total = 0
        for name, sheet in self.sheets.items():
            results = self.results[name]
            total += len(sheet.xml.rows)
            computed += len(results.values)
            shown = {
                sheet.place(index): value
                for index, value in results.values.items()
                if type(value) is not float and _is_worth_a_line(value)
            }
            shown |= {p: value for p, value in results.spread.items() if _is_worth_a_line(value)}
            for (row, column), value in sorted(shown.items()):
                place = name, address(row, column), str(value)
                (errors if isinstance(value, ErrorCode) else messages).append(place)
            for (row, column), index in sorted((sheet.place(i), i) for i in sheet.left):
                left.append((name, address(row, column), sheet.left[index]))
        kept = total - computed - len(left)
        return Report(
            computed=computed,
            kept=kept,
            messages=messages,
            errors=errors,
            left_alone=left,
            notes=self._notes(share, kept),
            sheets=list(self.sheets),
            seconds=round(time.perf_counter() - started, 3),
            places={name: self._computed_places(name) for name in self.sheets},
        )

    def _computed_places(self, name: str) -> Indexes:
        """Rows and columns of the cells of a sheet that were computed, one cell in each line."""
        xml, results = self.sheets[name].xml, self.results[name]
        indexes = np.array(sorted(results.values), np.int64)
        formulas = np.stack((xml.rows[indexes], xml.columns[indexes]), axis=1)
        filled = np.array(list(results.spread), np.int64).reshape(-1, 2)
        return np.unique(np.concatenate((formulas, filled)), axis=0) if len(filled) else formulas

    def _notes(self, share: bool, kept: int) -> list[str]:
        notes = []
        if self.recompute_all:
            notes.append(
                "all formulas were computed again (--all); results that Excel had stored were "
                "replaced by those of another program"
            )
        if self.zeros:
            notes.append(
                "the workbook was never calculated by a spreadsheet program: the 0 or empty text "
                f"beside {self.zeros} formulas was taken for no result"
            )
        if self.book.rounds_as_displayed and any(map(len, self.computed.values())):
            notes.append(
                "the workbook is set to compute with the precision displayed; the results were "
                "computed with full precision"
            )
        held = {
            name: np.array(sorted(i for i in sheet.left if sheet.xml.has_value[i]), np.int64)
            for name, sheet in self.sheets.items()
        }
        readers = self.dependents.readers(held)
        if any(np.isin(self.computed[name], readers.get(name, ())).any() for name in self.computed):
            notes.append(
                "some cells read a cell that was left alone; they were computed with the value "
                "it holds"
            )
        if self.book.recalculates and share:
            notes.append(
                "the request to recalculate on opening was dropped (--share), so the results stay "
                "visible without the add-in"
            )
        elif self.book.recalculates:
            notes.append(
                "the workbook asks Excel to recalculate on opening; people without the add-in "
                "will see #NAME?: use --share"
            )
        if self.book.recalculates and kept and not self.recompute_all:
            notes.append(
                f"CAUTION: {kept} formula cells kept their stored values, which may be out of date "
                "or were never computed, as that request says: use --all to compute them"
            )
        return notes


def _marks(indexes: Iterable[int], count: int) -> npt.NDArray[np.bool_]:
    marks = np.zeros(count, bool)
    marks[np.fromiter(indexes, np.int64)] = True
    return marks


def _is_worth_a_line(value: Any) -> bool:
    """Whether a result is an error or a message, which the report lists."""
    return isinstance(value, str) and (value.startswith(MESSAGE) or isinstance(value, ErrorCode))


def readers(
    package: Package, functions: Iterable[str], cells: Iterable[tuple[str, int, int]]
) -> set[tuple[str, int, int]]:
    """Formula cells of a workbook that read one of these formula cells, through others too."""
    run = Run(package, dict.fromkeys(functions, str), False, lambda _stage, _part: None)
    chosen: dict[str, list[int]] = {name: [] for name in run.sheets}
    for name, row, column in cells:
        index = run.sheets[name].xml.formula_cells.get((row, column))
        if index is not None:
            chosen[name].append(index)
    seeds = {name: np.array(sorted(indexes), np.int64) for name, indexes in chosen.items()}
    everything = {name: np.ones(len(s.xml.rows), bool) for name, s in run.sheets.items()}
    marks = run.dependents.spread(seeds, everything)
    return {
        (name, *run.sheets[name].place(index))
        for name, found in marks.items()
        for index in np.flatnonzero(found).tolist()
    }


def _code(call: Call, index: int) -> int:
    """The number in an argument of a SUBTOTAL or AGGREGATE; translate.py let only numbers pass."""
    argument = call.arguments[index]
    assert isinstance(argument, Literal)
    return int(float(argument.text))


def _cells(area: Area) -> list[tuple[int, int]]:
    top, left, bottom, right = area
    return [(row, column) for row in range(top, bottom + 1) for column in range(left, right + 1)]


def _overlap(one: Area, other: Area) -> bool:
    if one[:2] == one[2:]:
        return False
    return one[0] <= other[2] and other[0] <= one[2] and one[1] <= other[3] and other[1] <= one[3]


def _around(one: Area, other: Area) -> Area:
    return (
        min(one[0], other[0]),
        min(one[1], other[1]),
        max(one[2], other[2]),
        max(one[3], other[3]),
    )


def _range(area: Area) -> str:
    top, left, bottom, right = area
    first, last = address(top, left), address(bottom, right)
    return first if first == last else f"{first}:{last}"
