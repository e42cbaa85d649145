"""The XML of one sheet: where its formula cells are, and how their stored values are replaced.

Nothing but the found places is ever changed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import chain
from typing import Any
from xml.sax.saxutils import escape, unescape

import numpy as np
import numpy.typing as npt
from lxml import etree

from .edits import Edit, Edits
from .formula import LAST_COLUMN, LAST_ROW, FormulaError, address, box
from .refusal import Refusal
from .tags import SLASH, Positions, Tags, matching, pieces

ROOT = re.compile(rb"<((?:[A-Za-z_][\w.-]*:)?)worksheet[\s>]")
# Comments, CDATA sections and processing instructions may hold what looks like a tag.
NOT_TAGS = re.compile(rb"<!--.*?-->|<!\[CDATA\[.*?\]\]>|<\?.*?\?>", re.DOTALL)
CDATA = re.compile(r"<!\[CDATA\[(.*?)\]\]>", re.DOTALL)
ATTRIBUTE = re.compile(rb"""([\w:.-]+)\s*=\s*(?:"([^"]*)"|'([^']*)')""")
NOT_XML = re.compile("[\x00-\x08\x0b-\x1f\ud800-\udfff\ufffe\uffff]|_(?=x[0-9A-Fa-f]{4}_)")

QUOTE = ord('"')
# An array formula over more cells than a column has would take longer than anyone waits.
LARGEST_ARRAY = LAST_ROW


def attributes(tag: bytes) -> dict[str, str]:
    """Attributes of a tag given as bytes."""
    return {
        match[1].decode(): unescape(
            (match[2] if match[2] is not None else match[3]).decode(), {"&quot;": '"'}
        )
        for match in ATTRIBUTE.finditer(tag)
    }


def unescape_xml(text: str) -> str:
    """Text with the references to characters resolved."""
    if "&" not in text:
        return text
    text = re.sub(r"&#x([0-9A-Fa-f]+);", lambda match: chr(int(match[1], 16)), text)
    text = re.sub(r"&#([0-9]+);", lambda match: chr(int(match[1])), text)
    return unescape(text, {"&quot;": '"', "&apos;": "'"})


@dataclass(frozen=True)
class ArrayFormula:
    """An array formula: its fixed range, or the range over which a dynamic one spilled."""

    area: tuple[int, int, int, int]
    dynamic: bool


class SheetXml:
    """Where the formula cells of a sheet are. Arrays have one entry for each formula cell."""

    def __init__(self, xml: bytes, name: str, dynamic_cells: frozenset[str]) -> None:
        self.xml = xml
        self.name = name
        self.dynamic_cells = dynamic_cells
        # The XML declaration itself ends before. A single byte is found faster than two.
        self.has_hidden_text = any(xml.find(mark, 64) >= 0 for mark in (b"<!--", b"<![CDATA[")) or (
            xml.find(b"?", 64) >= 0 and xml.find(b"<?", 64) >= 0
        )
        scan = xml
        if self.has_hidden_text:
            scan = NOT_TAGS.sub(lambda match: b" " * len(match[0]), xml)
        self.scan = scan
        root = ROOT.search(scan)
        if root is None:
            raise Refusal(f"The file is damaged: the sheet {name} is not a worksheet.")
        self.prefix = root[1]
        self.data_start = scan.find(self.tag(b"sheetData"))
        # Start of the closing tag, and the end of the sheet's cells.
        self.data_end, self.cells_end = -1, -1
        if self.data_start >= 0 and b"</" + self.prefix + b"sheetData" in scan:
            self.data_end, self.cells_end = self.find_closing(b"sheetData", self.data_start)
        self._find_formulas()

    def tag(self, name: bytes) -> bytes:
        return b"<" + self.prefix + name

    def closing(self, name: bytes) -> bytes:
        return b"</" + self.prefix + name + b">"

    def formula(self, text: bytes) -> bytes:
        """Element of a formula."""
        return self.tag(b"f>") + text + self.closing(b"f")

    def find_closing(self, name: bytes, start: int) -> tuple[int, int]:
        """Start and end of the next closing tag; blanks may stand before its ``>``."""
        begin = self.scan.index(b"</" + self.prefix + name, start)
        return begin, self.scan.index(b">", begin) + 1

    def _find_formulas(self) -> None:
        scan = self.scan
        if self.data_end < 0 or self.tag(b"f") not in scan:
            none = np.empty(0, np.int64)
            self.all_cells = self.cell_start = self.head_end = none
            self.formula_start = self.formula_end = self.inner_end = self.cell_end = none
            self.rows = self.columns = self.address_end = none
            self.has_value = self.holds_more = np.empty(0, bool)
            self.formula_tags: list[bytes] = []
            self.texts: list[bytes] = []
            return
        tags = Tags(scan, self.data_start, self.cells_end)
        every = tags.named(self.prefix + b"c")
        formulas = tags.named(self.prefix + b"f")
        closings = tags.named(b"/" + self.prefix + b"c")
        cells = formulas - 1
        # Where a cell has no end, the end of all stands for it.
        ends = np.append(closings, len(tags.starts) - 1)
        cell_ends = ends[np.searchsorted(closings, formulas)]
        self._refuse_disorder(tags, every, formulas, cell_ends)
        self.all_cells = tags.starts[every]
        self.cell_start = tags.starts[cells]
        self.head_end = tags.ends[cells] + 1
        self.inner_end = tags.starts[cell_ends]
        self.cell_end = tags.ends[cell_ends] + 1
        # A formula without a text has no closing tag.
        textless = tags.is_empty(formulas)
        self.formula_start = tags.starts[formulas]
        last = formulas + ~textless
        self.formula_end = tags.ends[last] + 1
        # Whether a cell holds more than the tags of a formula and a result.
        self.holds_more = cell_ends - last > 3

        # Opening tags that say more than that a formula follows.
        formula_tag_end = tags.ends[formulas]
        self.formula_tags = [b""] * len(formulas)
        special = formula_tag_end - self.formula_start >= len(self.tag(b"f>"))
        for index in np.flatnonzero(special).tolist():
            self.formula_tags[index] = scan[self.formula_start[index] : formula_tag_end[index]]
        text_start = formula_tag_end + 1
        text_end = np.where(textless, text_start, tags.starts[formulas + 1])
        self.texts = pieces(self.xml, text_start, text_end)

        self.has_value = self._have_values(tags, formulas, cell_ends)
        self.rows, self.columns, self.address_end = self._addresses(tags.data, self.cell_start)
        self._refuse_impossible_places()

    def _refuse_disorder(
        self, tags: Tags, cells: Positions, formulas: Positions, cell_ends: Positions
    ) -> None:
        """Refuse a sheet where a formula is not the first thing in a cell, and a text only."""
        following = np.append(cells, len(tags.starts) - 1)[np.searchsorted(cells, formulas)]
        with_text = formulas[~tags.is_empty(formulas)]
        if not (
            np.isin(formulas - 1, cells).all()
            and not tags.is_empty(formulas - 1).any()
            and np.array_equal(tags.named(b"/" + self.prefix + b"f"), with_text + 1)
            and np.all((formulas < cell_ends) & (cell_ends < following))
        ):
            raise Refusal(
                f"The file is damaged: the sheet {self.name} has a formula that is not the first "
                "thing in its cell."
            )

    def _refuse_impossible_places(self) -> None:
        rows, columns = self.rows, self.columns
        inside = (rows >= 1) & (rows <= LAST_ROW) & (columns >= 1) & (columns <= LAST_COLUMN)
        if not inside.all():
            raise Refusal(
                f"The file is damaged: the sheet {self.name} has a formula in a cell that no "
                "sheet has."
            )
        if np.any(np.diff(rows) < 0):
            raise Refusal(f"The file is damaged: the sheet {self.name} has rows out of order.")
        places = rows * (LAST_COLUMN + 1) + columns
        if np.any(np.diff(places) <= 0) and len(np.unique(places)) < len(places):
            raise Refusal(
                f"The file is damaged: the sheet {self.name} has two formulas for one cell."
            )

    def _have_values(
        self, tags: Tags, formulas: Positions, cell_ends: Positions
    ) -> npt.NDArray[np.bool_]:
        """Whether a value is stored beside each formula."""
        values = tags.named(self.prefix + b"v")
        if not len(values):
            return np.zeros(len(formulas), bool)
        index = np.searchsorted(values, formulas)
        value = values[np.minimum(index, len(values) - 1)]
        present = (index < len(values)) & (value < cell_ends)
        filled: npt.NDArray[np.bool_] = (
            present & ~tags.is_empty(value) & (tags.starts[value + 1] > tags.ends[value] + 1)
        )
        # An empty text is a stored value; an empty number is what a program writes that has none.
        for i in np.flatnonzero(present & ~filled).tolist():
            head = attributes(self.scan[self.cell_start[i] : self.head_end[i]])
            filled[i] = head.get("t") == "str"
        return filled

    def forget_zeros(self) -> int:
        """Take every number 0 and every empty text beside a formula for no value; count them."""
        opening, closing = self.tag(b"v>"), self.closing(b"v")
        data = np.frombuffer(self.scan, np.uint8)
        lengths = self.inner_end - self.formula_end

        def holding(result: bytes) -> Positions:
            likely = np.flatnonzero(self.has_value & (lengths == len(result)))
            return likely[matching(data, self.formula_end[likely], result)]

        zeros = holding(opening + b"0" + closing)
        # With a type it is no number; a head that ends behind the address has none.
        long = self.head_end[zeros] - self.address_end[zeros] > len(b'">')
        heads = pieces(self.scan, self.address_end[zeros[long]], self.head_end[zeros[long]])
        long[long] = [b"t=" in head for head in heads]
        found = np.concatenate(
            (zeros[~long], holding(opening + closing), holding(self.tag(b"v/>")))
        )
        self.has_value[found] = False
        return len(found)

    def _addresses(
        self, data: npt.NDArray[np.uint8], cells: Positions
    ) -> tuple[Positions, Positions, Positions]:
        """Rows and columns of cells, read from their ``r`` attribute, and where that ends.

        What follows is the same in many cells; where the attribute is not in its usual place, it
        is all of the opening tag.
        """
        rows = np.zeros(len(cells), np.int64)
        columns = np.zeros(len(cells), np.int64)
        usual = np.frombuffer(self.tag(b'c r="'), np.uint8)
        fast = np.ones(len(cells), bool)
        for index, letter in enumerate(usual):
            fast &= data[cells + index] == letter
        position = cells + len(usual)
        after = np.where(fast, position, cells)
        open_ = fast.copy()
        # Three letters and seven digits at most.
        for _ in range(11):
            letters = data[np.minimum(position, len(data) - 1)].astype(np.int64)
            is_letter = open_ & (letters >= 65) & (letters <= 90)
            is_digit = open_ & (letters >= 48) & (letters <= 57)
            columns[is_letter] = columns[is_letter] * 26 + letters[is_letter] - 64
            rows[is_digit] = rows[is_digit] * 10 + letters[is_digit] - 48
            open_ = is_letter | is_digit
            if not open_.any():
                break
            after += open_
            position = position + 1
        # Anything else in the attribute makes it no address.
        rows[fast & (data[np.minimum(after, len(data) - 1)] != QUOTE)] = 0
        for i in np.flatnonzero(~fast).tolist():
            end = self.scan.find(b">", cells[i])
            reference = attributes(self.scan[cells[i] : end]).get("r")
            if reference is None:
                rows[i], columns[i] = self.implied_places[int(cells[i])]
            else:
                rows[i], columns[i], _, _ = box(reference)
        return rows, columns, after

    @cached_property
    def implied_places(self) -> dict[int, tuple[int, int]]:
        """Row and column of the cells without an address, by where they start.

        Such a row or cell follows the one before it (ECMA-376 part 1, 18.3.1.4 and 18.3.1.73).
        """
        places: dict[int, tuple[int, int]] = {}
        row = column = 0
        pattern = re.compile(b"<" + re.escape(self.prefix) + rb"(row|c)(?=[\s/>])[^>]*")
        for match in pattern.finditer(self.scan, self.data_start, self.cells_end):
            given = attributes(match[0]).get("r")
            if match[1] == b"row":
                row = _row_number(given) if given else row + 1
                column = 0
            elif given:
                _, column, _, _ = box(given)
            else:
                column += 1
                places[match.start()] = row, column
        return places

    def formula_text(self, index: int) -> str:
        """Formula as a person would read it, XML escapes resolved."""
        raw = self.texts[index].decode()
        if "<" in raw:
            raw = CDATA.sub(lambda match: escape(match[1]), raw)
            raw = re.sub(r"<!--.*?-->|<\?.*?\?>", "", raw, flags=re.DOTALL)
        return unescape_xml(raw)

    def array_formula(self, index: int, tag: dict[str, str]) -> ArrayFormula:
        try:
            area = box(tag.get("ref", ""))
        except FormulaError:
            row, column = int(self.rows[index]), int(self.columns[index])
            area = row, column, row, column
        top, left, bottom, right = area
        if (bottom - top + 1) * (right - left + 1) > LARGEST_ARRAY:
            raise Refusal(
                f"The sheet {self.name} has an array formula over more than {LARGEST_ARRAY} cells."
            )
        if (top, left) != (self.rows[index], self.columns[index]):
            raise Refusal(
                f"The file is damaged: the sheet {self.name} has an array formula whose range "
                "begins in another cell."
            )
        return ArrayFormula(area, self.is_dynamic(index))

    def is_dynamic(self, index: int) -> bool:
        head = self.scan[self.cell_start[index] : self.head_end[index]]
        return b"cm" in head and attributes(head).get("cm") in self.dynamic_cells

    @cached_property
    def cells(self) -> dict[tuple[int, int], int]:
        """Start of every cell of the sheet by row and column; built only where arrays need it."""
        data = np.frombuffer(self.scan, np.uint8)
        rows, columns, _ = self._addresses(data, self.all_cells)
        places = zip(rows.tolist(), columns.tolist(), strict=True)
        return dict(zip(places, self.all_cells.tolist(), strict=True))

    @cached_property
    def lines(self) -> dict[int, tuple[int, int, bytes]]:
        """Start, end and attributes of each row's opening tag, by row number."""
        found: dict[int, tuple[int, int, bytes]] = {}
        number = 0
        pattern = re.compile(re.escape(self.tag(b"row")) + rb"\b[^>]*>")
        for match in pattern.finditer(self.scan, max(self.data_start, 0)):
            given = re.search(rb"""\sr\s*=\s*["']([0-9]{1,7})["']""", match[0])
            number = int(given[1]) if given else number + 1
            found[number] = (match.start(), match.end(), match[0])
        return found

    @cached_property
    def hidden_rows(self) -> frozenset[int]:
        hidden = re.compile(rb"""\shidden\s*=\s*["'](?:1|true)["']""")
        return frozenset(row for row, line in self.lines.items() if hidden.search(line[2]))

    @cached_property
    def filtered_area(self) -> tuple[int, int, int, int] | None:
        """Range of the sheet's own filter where one is set, heading included."""
        tail = self.scan[max(self.data_end, 0) :]
        pattern = re.escape(self.tag(b"autoFilter")) + rb"\b([^>]*[^/])>"
        match = re.search(pattern, tail)
        if match is None or self.tag(b"filterColumn") not in tail:
            return None
        return box(attributes(match[1]).get("ref", ""))

    @cached_property
    def merged_areas(self) -> list[tuple[int, int, int, int]]:
        tail = self.scan[max(self.data_end, 0) :]
        pattern = re.compile(re.escape(self.tag(b"mergeCell")) + rb"\s[^>]*>")
        return [box(attributes(match[0]).get("ref", "")) for match in pattern.finditer(tail)]

    @cached_property
    def formula_cells(self) -> dict[tuple[int, int], int]:
        """Index of every formula cell by row and column."""
        places = zip(self.rows.tolist(), self.columns.tolist(), strict=True)
        return {place: index for index, place in enumerate(places)}

    def cell_span(self, start: int) -> tuple[int, int, int]:
        """End of a cell's opening tag, start of its closing tag and its end."""
        head_end = self.scan.index(b">", start) + 1
        if self.scan[head_end - 2] == SLASH:
            return head_end, head_end, head_end
        return head_end, *self.find_closing(b"c", head_end)

    def without(self, indexes: Positions) -> Edits:
        """Edits that leave constants only: results of formulas, but none of some formula cells."""
        starts, ends = self.formula_start.copy(), self.formula_end.copy()
        if self.scan.count(self.tag(b'c r="')) == len(self.all_cells):
            starts[indexes], ends[indexes] = self.cell_start[indexes], self.cell_end[indexes]
        else:
            # A cell without an address stands beside the one before it, which has to stay.
            ends[indexes] = self.inner_end[indexes]
        # Cells that follow each other go at once.
        joined = starts[1:] == ends[:-1]
        starts = starts[np.append(True, ~joined)[: len(starts)]]
        ends = ends[np.append(~joined, True)[: len(ends)]]
        return Edits(starts, ends, [b""] * len(starts))

    def constants(self, values: Mapping[int, Any]) -> list[bytes]:
        """What stands behind the address of formula cells once constants take their place."""
        indexes = np.fromiter(values, np.int64)
        return [head + content for head, content in self._stored(indexes, values)]

    def _stored(
        self, indexes: Positions, values: Mapping[int, Any]
    ) -> Iterator[tuple[bytes, bytes]]:
        """Rest of the opening tag behind the address, and ``<v>`` element, for each value."""
        # Types, values and what stands beside an address repeat themselves.
        encoded = lru_cache(maxsize=1 << 16, typed=True)(self.encoded)
        typed = lru_cache(maxsize=1 << 16)(with_type)
        heads = pieces(self.xml, self.address_end[indexes], self.head_end[indexes])
        results = map(encoded, map(values.__getitem__, indexes.tolist()))
        for head, (kind, content) in zip(heads, results, strict=True):
            yield typed(head, kind), content

    def value_edits(self, values: Mapping[int, Any]) -> Edits:
        """Edits that store values in formula cells."""
        indexes = np.sort(np.fromiter(values, np.int64, len(values)))
        starts = np.stack((self.address_end[indexes], self.formula_end[indexes]), axis=1)
        ends = np.stack((self.head_end[indexes], self.inner_end[indexes]), axis=1)
        new = list(chain.from_iterable(self._stored(indexes, values)))
        # All but the result stays, such as a list of extensions.
        result = re.compile(
            rb"<(%s(?:v|is))\b[^>]*?(?:/>|>.*?</\1\s*>)" % re.escape(self.prefix), re.DOTALL
        )
        for number in np.flatnonzero(self.holds_more[indexes]).tolist():
            inner = self.xml[starts[number, 1] : ends[number, 1]]
            new[2 * number + 1] += result.sub(b"", inner, count=1)
        return Edits(starts.ravel(), ends.ravel(), new)

    def range_edits(self, areas: Mapping[int, str]) -> Iterator[Edit]:
        """Edits that give array formulas a new range."""
        for index, area in areas.items():
            start = int(self.formula_start[index])
            end = self.scan.index(b">", start)
            new = rb'\1"%s"' % area.encode()
            tag = re.sub(rb"""(\sref\s*=\s*)["'][^"']*["']""", new, self.xml[start:end])
            yield start, end, tag

    def encoded(self, value: Any) -> tuple[bytes, bytes]:
        """Type attribute and ``<v>`` element of a value."""
        if value is None:
            return b"", b""
        kind, text = encode(value)
        return kind, self.tag(b"v>") + text + self.closing(b"v")

    def feed(self, edits: Edits) -> bytes:
        """The sheet with edits made, reduced to its cells."""
        root = ROOT.search(self.scan)
        assert root is not None
        opening = self.xml[root.start() : self.scan.index(b">", root.end() - 1) + 1]
        if self.data_end < 0:
            return opening + self.tag(b"sheetData/>") + self.closing(b"worksheet")
        cells = edits.made(self.xml, self.data_start, self.cells_end)
        xml = opening + cells + self.closing(b"worksheet")
        if self.has_hidden_text:
            parser = etree.XMLParser(
                resolve_entities=False,
                no_network=True,
                remove_comments=True,
                remove_pis=True,
                huge_tree=True,
            )
            try:
                xml = etree.tostring(etree.fromstring(xml, parser))
            except etree.XMLSyntaxError as error:
                raise Refusal(f"The sheet {self.name} can't be read ({error}).") from None
        return self._with_characters(xml) if b"_x" in xml else xml

    def _with_characters(self, xml: bytes) -> bytes:
        """XML with _xHHHH_ resolved in results of formulas, where the engine does not do it."""

        def character(match: re.Match[bytes]) -> bytes:
            code = int(match[1], 16)
            allowed = code in (9, 10, 13) or 0x20 <= code < 0xD800 or 0xE000 <= code < 0xFFFE
            start = xml.rfind(b"<", 0, match.start())
            tag = xml[start : start + 32]
            return b"&#%d;" % code if allowed and tag.startswith(results) else match[0]

        results = (self.tag(b"v"), self.tag(b"f"))
        return re.sub(rb"_x([0-9A-Fa-f]{4})_", character, xml)

    def plain_cell(self, row: int, column: int, value: Any, head: bytes | None = None) -> bytes:
        """A cell with a value and no formula; `head` is the opening tag it has already."""
        kind, content = self.encoded(value)
        if head is None:
            head = self.tag(b"c r=") + b'"' + address(row, column).encode() + b'">'
        head = with_type(head.rstrip(b"/>") + b">", kind)
        return head + content + self.closing(b"c")

    def area_edits(self, values: Mapping[tuple[int, int], Any]) -> list[Edit]:
        """Edits that store values in cells without a formula, inserting the missing ones."""
        edits: list[Edit] = []
        missing: dict[int, list[int]] = {}
        for (row, column), value in values.items():
            start = self.cells.get((row, column))
            if start is not None:
                head_end, _, end = self.cell_span(start)
                new = self.plain_cell(row, column, value, self.xml[start:head_end])
                edits.append((start, end, new))
            elif value is not None:
                missing.setdefault(row, []).append(column)
        in_row: dict[int, list[tuple[int, int]]] = {}
        if missing:
            for (row, column), start in self.cells.items():
                if row in missing:
                    in_row.setdefault(row, []).append((column, start))
        new_lines: dict[int, bytes] = {}
        for row, columns in sorted(missing.items()):
            if row not in self.lines:
                cells = b"".join(
                    self.plain_cell(row, column, values[row, column]) for column in sorted(columns)
                )
                line = self.tag(b"row r=") + b'"%d">' % row + cells + self.closing(b"row")
                new_lines[row] = line
                continue
            _, opening_end, opening = self.lines[row]
            if opening.endswith(b"/>"):
                cells = b"".join(
                    self.plain_cell(row, column, values[row, column]) for column in sorted(columns)
                )
                new = opening[:-2].rstrip() + b">" + cells + self.closing(b"row")
                edits.append((*self.lines[row][:2], new))
                continue
            row_end, _ = self.find_closing(b"row", opening_end)
            places: dict[int, list[bytes]] = {}
            for column in sorted(columns):
                right = [start for other, start in in_row.get(row, []) if other > column]
                place = min(right, default=row_end)
                new = self.plain_cell(row, column, values[row, column])
                places.setdefault(place, []).append(new)
            edits += [(place, place, b"".join(new)) for place, new in places.items()]
        places_of_lines: dict[int, list[bytes]] = {}
        for row, line in sorted(new_lines.items()):
            below = [start for other, (start, _, _) in self.lines.items() if other > row]
            place = min(below, default=self.data_end)
            places_of_lines.setdefault(place, []).append(line)
        edits += [(place, place, b"".join(new)) for place, new in places_of_lines.items()]
        return edits


def _row_number(text: str) -> int:
    top, _, _, _ = box(f"A{text}")
    return top


TYPE = re.compile(rb"""\s(?:t|vm)\s*=\s*(?:"[^"]*"|'[^']*')""")


def with_type(head: bytes, kind: bytes) -> bytes:
    """Opening tag of a cell with another type; metadata of the old value (`vm`) goes."""
    if b"t" in head or b"v" in head:
        head = TYPE.sub(b"", head)
    return head[:-1] + b' t="' + kind + b'">' if kind else head


def encode(value: Any) -> tuple[bytes, bytes]:
    """Type and text of a stored value as the format writes them."""
    if type(value) is float:
        if value.is_integer() and abs(value) < 1e15:
            return b"", b"%d" % value
        return b"", repr(value).encode()
    if isinstance(value, bool):
        return b"b", b"1" if value else b"0"
    if isinstance(value, int):
        return b"", b"%d" % value
    # Error codes are texts of their own class.
    if type(value) is not str:
        # Excel itself stores the newer errors as #VALUE!, which older versions can read.
        code = str(value)
        return b"e", b"#VALUE!" if code in ("#SPILL!", "#CALC!") else code.encode()
    if NOT_XML.search(value):
        value = NOT_XML.sub(lambda match: f"_x{ord(match[0]):04X}_", value)
    return b"str", escape(value).encode()
