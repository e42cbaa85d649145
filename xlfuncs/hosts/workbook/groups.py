"""The formula cells of a sheet, grouped by the template they are copies of."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from .book import Book
from .dependents import Group
from .formula import LAST_ROW, FormulaError, Place, tokenize
from .sheet import ArrayFormula, SheetXml, attributes, unescape_xml
from .translate import Kind, Template, Translator

OUTSIDE_SHEET = "it reads cells outside of the sheet"
OUTSIDE_TABLE = "it names its own row of a table, but stands outside of the table's rows"


class Grouper:
    """Groups the formula cells of one sheet.

    A key is the formula's text with its own row number taken out, where that was found to be the
    row of references only; other texts are taken apart, which is slower.
    """

    def __init__(self, sheet: SheetXml, book: Book, translator: Translator) -> None:
        self.sheet = sheet
        self.translator = translator
        self.tables = [table for table in book.tables.values() if table.sheet == sheet.name]
        self.checked: dict[object, bool] = {}
        # The members of keys that need no second look.
        self.sound: dict[object, list[int]] = {}
        self.members: dict[object, list[int]] = defaultdict(list)
        self.make: dict[object, Callable[[], Template]] = {}
        self.masters: dict[str, int] = {}
        self.arrays: dict[int, ArrayFormula] = {}

    def groups(self) -> list[Group]:
        sheet = self.sheet
        rows, columns = sheet.rows.tolist(), sheet.columns.tolist()
        dynamic = bool(sheet.dynamic_cells)
        for index, (tag, raw) in enumerate(zip(sheet.formula_tags, sheet.texts, strict=True)):
            row = rows[index]
            if tag:
                self._add_special(index, attributes(tag), row, columns[index])
            elif dynamic and sheet.is_dynamic(index):
                self._add_array(index, {}, row, columns[index])
            else:
                members = self.sound.get(raw.replace(b"%d" % row, b"\0"))
                if members is not None:
                    members.append(index)
                else:
                    self._add(index, raw, row, columns[index])
        found: list[Group] = []
        for key, members in self.members.items():
            found += self._split(self.make[key](), np.array(members, np.int64))
        return found

    def _template(
        self,
        index: int,
        row: int,
        column: int,
        kind: Kind = "ordinary",
        size: tuple[int, int] = (1, 1),
    ) -> Template:
        text = self.sheet.formula_text(index)
        return self.translator.template(text, Place(self.sheet.name, row), column, kind, size)

    def _add(self, index: int, raw: bytes, row: int, column: int) -> None:
        key: object = raw.replace(b"%d" % row, b"\0")
        in_table = bool(self.tables) and b"[" in raw
        if not self._is_sound(key, index, row):
            key = _rows_as_distances(self.sheet.formula_text(index), row)
        elif not in_table:
            self.sound[key] = self.members[key]
        if in_table:
            # A table reference without a name means the table around the cell.
            key = key, *(table.name for table in self.tables if table.holds(row, column))
        self.members[key].append(index)
        if key not in self.make:
            self.make[key] = lambda: self._template(index, row, column)

    def _is_sound(self, key: object, index: int, row: int) -> bool:
        """Whether a text with its row number taken out means the same in every row."""
        sound = self.checked.get(key)
        if sound is None:
            assert isinstance(key, bytes)
            marked = _own_row_marked(self.sheet.formula_text(index), row)
            # An escape by number could hold the row's digits.
            sound = not (b"&#" in key or b"<" in key) and marked == unescape_xml(key.decode())
            self.checked[key] = sound
        return sound

    def _add_special(self, index: int, tag: dict[str, str], row: int, column: int) -> None:
        kind = tag.get("t")
        if kind == "shared":
            self._add_shared(index, tag.get("si", ""), row, column)
        elif kind == "array":
            self._add_array(index, tag, row, column)
        elif kind == "dataTable":
            reason = "it belongs to a data table"
            template = Template(reason=reason, reads_unknown=reason, sheet=self.sheet.name)
            self.members[index].append(index)
            self.make[index] = lambda: template
        else:
            self._add(index, self.sheet.texts[index], row, column)

    def _add_shared(self, index: int, number: str, row: int, column: int) -> None:
        if self.sheet.texts[index]:
            self.masters[number] = index
        master = self.masters.get(number)
        if master is None:
            template = Template(
                reason="its shared formula is missing from the file",
                reads_unknown="its shared formula is missing from the file",
                sheet=self.sheet.name,
            )
            self.members[index].append(index)
            self.make[index] = lambda: template
            return
        master_row, master_column = int(self.sheet.rows[master]), int(self.sheet.columns[master])
        copied = column - master_column
        key = ("shared", master, copied)
        self.members[key].append(index)
        if key not in self.make:
            text = self.sheet.formula_text(master)
            place = Place(self.sheet.name, master_row, copied)
            self.make[key] = lambda: self.translator.template(text, place, column)

    def _add_array(self, index: int, tag: dict[str, str], row: int, column: int) -> None:
        array = self.sheet.array_formula(index, tag)
        self.arrays[index] = array
        top, left, bottom, right = array.area
        size = bottom - top + 1, right - left + 1
        kind: Kind = "dynamic" if array.dynamic else "array"
        self.members[index].append(index)
        self.make[index] = lambda: self._template(index, row, column, kind, size)

    def _split(self, template: Template, indexes: np.ndarray) -> list[Group]:
        """One group, and others for copies whose references leave the sheet or the table."""
        rows = self.sheet.rows[indexes]
        order = np.argsort(rows, kind="stable")
        indexes, rows = indexes[order], rows[order]
        bad = np.zeros(len(rows), bool)
        outside_table = np.zeros(len(rows), bool)
        for reference in template.reads:
            for line, relative in (
                (reference.top, reference.top_relative),
                (reference.bottom, reference.bottom_relative),
            ):
                at = line + rows * relative
                bad |= (at < 1) | (at > LAST_ROW)
            if reference.within is not None:
                outside_table |= (rows < reference.within[0]) | (rows > reference.within[1])
        found = []
        for mask, reason in (
            (~bad & ~outside_table, template.reason),
            (bad & ~outside_table, OUTSIDE_SHEET),
            (outside_table, OUTSIDE_TABLE),
        ):
            if mask.any():
                found.append(
                    Group(
                        replace(template, reason=reason),
                        self.sheet.name,
                        indexes[mask],
                        rows[mask],
                        self.sheet.columns[indexes[mask]],
                    )
                )
        return found


def _own_row_marked(text: str, row: int) -> str:
    """The text with its own row number made a mark; nothing if it has other relative rows."""
    pieces = []
    try:
        tokens = tokenize(text)
    except FormulaError:
        return ""
    for token in tokens:
        letters = token.text.rstrip("0123456789")
        if token.kind == "rows":
            return ""
        if token.kind != "cell" or letters.endswith("$"):
            pieces.append(token.text)
        elif token.text[len(letters) :] == str(row):
            pieces.append(letters + "\0")
        else:
            return ""
    return "".join(pieces)


def _rows_as_distances(text: str, row: int) -> str:
    """The text with relative rows written as distances from its own row."""
    pieces = []
    try:
        tokens = tokenize(text)
    except FormulaError:
        return text
    for token in tokens:
        if token.kind in ("cell", "rows"):
            for part in token.text.split(":"):
                letters = part.rstrip("0123456789")
                if letters.endswith("$"):
                    pieces.append(part)
                else:
                    pieces.append(f"{letters}\1{int(part[len(letters) :]) - row}\1")
        else:
            pieces.append(token.text)
    return "".join(pieces)
