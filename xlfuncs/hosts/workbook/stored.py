"""What another program is given of a workbook, and the values that it has stored."""

from __future__ import annotations

import io
import posixpath
import zipfile
from collections.abc import Iterator
from pathlib import Path

from lxml import etree

from .book import MAIN, read_book, relations_of, unescape_characters
from .formula import box
from .package import Package, open_package

# Parts by kind of relation that a computation may need. Macros, links to other files, pictures and
# connections are none of them.
NEEDED = frozenset({"officeDocument", "worksheet", "sharedStrings", "table", "sheetMetadata"})
MACROS = b"application/vnd.ms-excel.sheet.macroEnabled.main+xml"
ORDINARY = b"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"

RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships"
DOCUMENT = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"


def bare_copy(source: Path, target: Path) -> None:
    """Write an .xlsx with the cells, names and tables of a workbook and nothing else of it."""
    package = open_package(source)
    parts = {"[Content_Types].xml": package.read("[Content_Types].xml").replace(MACROS, ORDINARY)}
    waiting = [""]
    while waiting:
        part = waiting.pop()
        kept = {
            key: (kind, place)
            for key, (kind, place) in relations_of(package, part).items()
            if kind in NEEDED and place in package.members
        }
        if kept:
            folder, name = posixpath.split(part)
            parts[posixpath.join(folder, "_rels", f"{name}.rels")] = _relations(kept)
        for _, place in kept.values():
            if place not in parts:
                parts[place] = package.read_xml(place)
                waiting.append(place)
    parts["[Content_Types].xml"] = _types(parts)
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)


def _relations(kept: dict[str, tuple[str, str]]) -> bytes:
    root = etree.Element("Relationships", xmlns=RELATIONS)
    for key, (kind, place) in kept.items():
        etree.SubElement(
            root, "Relationship", Id=key, Type=f"{DOCUMENT}/{kind}", Target=f"/{place}"
        )
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)


def _types(parts: dict[str, bytes]) -> bytes:
    """The list of types without the parts that were left out."""
    root = etree.fromstring(parts["[Content_Types].xml"])
    for entry in root.findall("{*}Override"):
        if entry.get("PartName", "").lstrip("/") not in parts:
            root.remove(entry)
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)


class Error(str):
    """An error value that a cell holds."""


Value = float | str | bool | None


def stored_values(package: Package) -> Iterator[tuple[str, int, int, Value]]:
    """Sheet, row, column and value of every cell that holds one."""
    book = read_book(package)
    texts = [] if book.shared_strings is None else _shared(package.read_xml(book.shared_strings))
    for sheet, part in book.sheet_parts.items():
        row = column = 0
        for event, element in etree.iterparse(
            io.BytesIO(package.read_xml(part)),
            events=("start", "end"),
            tag=(f"{MAIN}row", f"{MAIN}c"),
            resolve_entities=False,
            huge_tree=True,
        ):
            place = element.get("r")
            if event == "start" and element.tag == f"{MAIN}row":
                # A row or cell without an address follows the one before.
                row, column = int(place) if place else row + 1, 0
            elif event == "end" and element.tag == f"{MAIN}c":
                row, column, _, _ = box(place) if place else (row, column + 1, 0, 0)
                value = _value(element, texts)
                if value is not None:
                    yield sheet, row, column, value
                element.clear()


def _shared(xml: bytes) -> list[str]:
    parser = etree.XMLParser(resolve_entities=False, no_network=True)
    return [_text(item) for item in etree.fromstring(xml, parser).iterfind(f"{MAIN}si")]


def _text(item: etree._Element) -> str:
    """The text of a plain or formatted string, without what is written above it."""
    pieces = [
        piece.text or ""
        for piece in item.iter(f"{MAIN}t")
        if (parent := piece.getparent()) is None or parent.tag != f"{MAIN}rPh"
    ]
    return unescape_characters("".join(pieces))


def _value(cell: etree._Element, texts: list[str]) -> Value:
    kind = cell.get("t", "n")
    if kind == "inlineStr":
        inside = cell.find(f"{MAIN}is")
        return None if inside is None else _text(inside)
    content = cell.findtext(f"{MAIN}v")
    if content is None:
        return None
    match kind:
        case "s" if content.isascii() and content.isdigit() and int(content) < len(texts):
            return texts[int(content)]
        case "str":
            return unescape_characters(content)
        case "b":
            return content == "1"
        case "e":
            return Error(content)
    try:
        return float(content) if content else None
    except ValueError:
        # A date as text, or what no number is.
        return content
