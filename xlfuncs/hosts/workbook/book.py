"""What a workbook says about itself: sheets, defined names, tables, date system, recalculation."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from lxml import etree

from .formula import FormulaError, box
from .package import Package
from .refusal import Refusal

MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
STRICT_MAIN = b"http://purl.oclc.org/ooxml/spreadsheetml/main"
RELATION_ID = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
DYNAMIC_ARRAY = "XLDAPR"


@dataclass(frozen=True)
class TableArea:
    """A table of a sheet; rows and columns as in the sheet."""

    name: str
    sheet: str
    top: int
    left: int
    bottom: int
    right: int
    header_rows: int
    total_rows: int
    columns: tuple[str, ...]
    filtered: bool

    def holds(self, row: int, column: int) -> bool:
        return self.top <= row <= self.bottom and self.left <= column <= self.right


@dataclass(frozen=True)
class Book:
    """Facts about one workbook. Names of names and tables are kept in lower case."""

    part: str
    xml: bytes
    sheet_parts: Mapping[str, str]
    names: Mapping[tuple[str, str], str]
    tables: Mapping[str, TableArea]
    date_1904: bool
    dynamic_cells: frozenset[str]
    shared_strings: str | None
    recalculates: bool
    # Excel itself leaves a calculation chain and no request to calculate on loading. A program that
    # writes formulas without computing them does the opposite, and may store 0 beside each.
    never_calculated: bool
    rounds_as_displayed: bool

    def sheet_named(self, name: str) -> str | None:
        """The sheet's own spelling; Excel compares without regard to case."""
        if name in self.sheet_parts:
            return name
        return next((sheet for sheet in self.sheet_parts if sheet.lower() == name.lower()), None)

    def name_text(self, name: str, sheet: str) -> str | None:
        """What a defined name stands for: the sheet's own name goes before the workbook's."""
        return self.names.get((sheet, name.lower())) or self.names.get(("", name.lower()))

    def table_at(self, sheet: str, row: int, column: int) -> TableArea | None:
        found = (t for t in self.tables.values() if t.sheet == sheet and t.holds(row, column))
        return next(found, None)


def read_book(package: Package) -> Book:
    main = [
        target for kind, target in relations_of(package, "").values() if kind == "officeDocument"
    ]
    if not main:
        raise Refusal("Not a workbook: the file does not name its main part.")
    part = main[0]
    if part.endswith(".bin"):
        raise Refusal("This is an .xlsb workbook; save it as .xlsx or .xlsm first.")
    xml = package.read_xml(part)
    if STRICT_MAIN in xml[:4096]:
        raise Refusal("This is a Strict Open XML workbook; save it as an ordinary .xlsx first.")
    root = _parse(xml)
    if root.tag != f"{MAIN}workbook":
        raise Refusal("Not a workbook: the file's main part is something else.")
    relations = relations_of(package, part)
    order = [sheet.get("name", "") for sheet in root.iterfind(f"{MAIN}sheets/{MAIN}sheet")]
    sheet_parts: dict[str, str] = {}
    for sheet in root.iterfind(f"{MAIN}sheets/{MAIN}sheet"):
        kind, target = relations.get(sheet.get(RELATION_ID, ""), ("", ""))
        if kind == "worksheet":
            sheet_parts[sheet.get("name", "")] = target
    if not sheet_parts:
        raise Refusal("The workbook has no worksheet.")
    by_kind = dict(relations.values())
    properties = root.find(f"{MAIN}workbookPr")
    calculation = root.find(f"{MAIN}calcPr")
    return Book(
        part=part,
        xml=xml,
        sheet_parts=sheet_parts,
        names=dict(_names(root, order)),
        tables={
            table.name.lower(): table
            for sheet, sheet_part in sheet_parts.items()
            for table in _tables(package, sheet, sheet_part)
        },
        date_1904=properties is not None and _is_true(properties.get("date1904")),
        dynamic_cells=_dynamic_cells(package, by_kind.get("sheetMetadata")),
        shared_strings=by_kind.get("sharedStrings"),
        rounds_as_displayed=calculation is not None
        and calculation.get("fullPrecision") in ("0", "false"),
        never_calculated=calculation is not None
        and _is_true(calculation.get("fullCalcOnLoad"))
        and "calcChain" not in by_kind,
        recalculates=calculation is not None
        and (
            _is_true(calculation.get("fullCalcOnLoad"))
            or _is_true(calculation.get("forceFullCalc"))
        ),
    )


def _parse(xml: bytes) -> etree._Element:
    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False)
    try:
        return etree.fromstring(xml, parser)
    except etree.XMLSyntaxError as error:
        raise Refusal(f"The file is damaged: its XML can't be read ({error}).") from None


def _number(text: str) -> int:
    """A count or an index; no workbook holds more of anything than nine digits say."""
    if not re.fullmatch("[0-9]{1,9}", text):
        raise Refusal(f"The file is damaged: {text[:20]!r} stands where a number belongs.")
    return int(text)


def _is_true(text: str | None) -> bool:
    return text in ("1", "true")


def relations_of(package: Package, part: str) -> dict[str, tuple[str, str]]:
    """Kind and target of each relation inside the package; links to elsewhere are left out."""
    folder, name = posixpath.split(part)
    path = posixpath.join(folder, "_rels", f"{name}.rels")
    if path not in package.members:
        return {}
    relations = {}
    for relation in _parse(package.read_xml(path)).iter("{*}Relationship"):
        target = relation.get("Target", "")
        if relation.get("TargetMode") != "External":
            kind = relation.get("Type", "").rsplit("/", 1)[-1]
            resolved = posixpath.normpath(posixpath.join("/", folder, target)).lstrip("/")
            relations[relation.get("Id", "")] = (kind, resolved)
    return relations


def _names(root: etree._Element, order: list[str]) -> Iterator[tuple[tuple[str, str], str]]:
    for name in root.iterfind(f"{MAIN}definedNames/{MAIN}definedName"):
        scope = name.get("localSheetId")
        sheet = ""
        if scope is not None:
            place = _number(scope)
            if place >= len(order):
                continue
            sheet = order[place]
        yield (sheet, name.get("name", "").lower()), name.text or "#REF!"


def _tables(package: Package, sheet: str, sheet_part: str) -> Iterator[TableArea]:
    for kind, target in relations_of(package, sheet_part).values():
        if kind != "table":
            continue
        table = _parse(package.read_xml(target))
        try:
            top, left, bottom, right = box(table.get("ref", ""))
        except FormulaError as error:
            raise Refusal(f"The file is damaged: {target}: {error}.") from None
        yield TableArea(
            name=table.get("displayName", ""),
            sheet=sheet,
            top=top,
            left=left,
            bottom=bottom,
            right=right,
            header_rows=_number(table.get("headerRowCount", "1")),
            total_rows=_number(table.get("totalsRowCount", "0")),
            columns=tuple(
                unescape_characters(column.get("name", "")).lower()
                for column in table.iterfind(f"{MAIN}tableColumns/{MAIN}tableColumn")
            ),
            filtered=table.find(f"{MAIN}autoFilter/{MAIN}filterColumn") is not None,
        )


def unescape_characters(text: str) -> str:
    """Resolve the _xHHHH_ escapes in which the format writes what XML can't hold."""
    return re.sub(r"_x([0-9A-Fa-f]{4})_", lambda match: chr(int(match[1], 16)), text)


def _dynamic_cells(package: Package, part: str | None) -> frozenset[str]:
    """Values of a cell's `cm` attribute that mark a formula as a dynamic array."""
    if part is None or part not in package.members:
        return frozenset()
    root = _parse(package.read_xml(part))
    types = [kind.get("name") for kind in root.iterfind(f"{MAIN}metadataTypes/{MAIN}metadataType")]
    dynamic = set()
    for number, block in enumerate(root.iterfind(f"{MAIN}cellMetadata/{MAIN}bk"), start=1):
        for record in block.iterfind(f"{MAIN}rc"):
            index = _number(record.get("t", "0"))
            if 1 <= index <= len(types) and types[index - 1] == DYNAMIC_ARRAY:
                dynamic.add(str(number))
    return frozenset(dynamic)


CALCULATION = re.compile(rb"<(?:\w+:)?calcPr\b[^>]*?(?=/?>)")
# The calculation engine's number of Excel 2019 and later; an older number than the reader's own
# makes Excel recalculate on opening.
CURRENT_CALCULATION_ID = b"191029"


def without_recalculation(xml: bytes) -> bytes:
    """Workbook part that lets Excel show the stored values as they are."""
    match = CALCULATION.search(xml)
    if match is None:
        # Without the element Excel takes the stored values for those of an older version.
        before = re.search(rb"</(\w+:)?sheets>", xml)
        later = list(re.finditer(rb"</(?:\w+:)?(?:externalReferences|definedNames)>", xml))
        if before is None:
            return xml
        place = later[-1].end() if later else before.end()
        tag = b'<%scalcPr calcId="%s"/>' % (before[1] or b"", CURRENT_CALCULATION_ID)
        return xml[:place] + tag + xml[place:]
    tag = re.sub(
        rb"""\s(?:fullCalcOnLoad|forceFullCalc)\s*=\s*(?:"[^"]*"|'[^']*')""", b"", match[0]
    )
    identifier = rb"""(\scalcId\s*=\s*)(?:"[^"]*"|'[^']*')"""
    if re.search(identifier, tag):
        tag = re.sub(identifier, rb'\g<1>"' + CURRENT_CALCULATION_ID + b'"', tag)
    else:
        tag += b' calcId="' + CURRENT_CALCULATION_ID + b'"'
    return xml[: match.start()] + tag + xml[match.end() :]
