"""Workbook files written part by part, for what no library writes."""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Mapping
from pathlib import Path

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
DOCUMENT = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships"
TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"
CONTENT = "application/vnd.openxmlformats-officedocument.spreadsheetml"
HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'

Parts = dict[str, str | bytes]


def relations(*entries: tuple[str, str, str], external: tuple[str, ...] = ()) -> str:
    """A relationships part; each entry is an identifier, a kind and a target."""
    outside = dict.fromkeys(external, ' TargetMode="External"')
    inside = "".join(
        f'<Relationship Id="{key}" Type="{DOCUMENT}/{kind}" Target="{target}"'
        f"{outside.get(key, '')}/>"
        for key, kind, target in entries
    )
    return f'{HEAD}<Relationships xmlns="{RELATIONS}">{inside}</Relationships>'


def sheet(rows: str, before: str = "", after: str = "") -> str:
    return (
        f'{HEAD}<worksheet xmlns="{MAIN}" xmlns:r="{DOCUMENT}">{before}'
        f"<sheetData>{rows}</sheetData>{after}</worksheet>"
    )


def package(
    sheets: Mapping[str, str],
    *,
    workbook: str = "",
    extra: Parts | None = None,
    relate: tuple[tuple[str, str, str], ...] = (),
    types: Mapping[str, str] | None = None,
    macros: bool = False,
) -> Parts:
    """Parts of a workbook: sheets by name, more parts, and what the workbook part says of them."""
    parts: Parts = {}
    names, entries = [], []
    for number, (name, xml) in enumerate(sheets.items(), 1):
        part = f"xl/worksheets/sheet{number}.xml"
        parts[part] = xml
        names.append(f'<sheet name="{name}" sheetId="{number}" r:id="rId{number}"/>')
        entries.append((f"rId{number}", "worksheet", f"worksheets/sheet{number}.xml"))
    kind = "application/vnd.ms-excel.sheet.macroEnabled.main" if macros else f"{CONTENT}.sheet.main"
    overrides = {
        "/xl/workbook.xml": f"{kind}+xml",
        **{f"/{part}": f"{CONTENT}.worksheet+xml" for part in parts},
        **(types or {}),
    }
    parts |= extra or {}
    parts["xl/workbook.xml"] = (
        f'{HEAD}<workbook xmlns="{MAIN}" xmlns:r="{DOCUMENT}"><sheets>{"".join(names)}</sheets>'
        f"{workbook}</workbook>"
    )
    parts["xl/_rels/workbook.xml.rels"] = relations(*entries, *relate)
    parts["_rels/.rels"] = relations(("rId1", "officeDocument", "xl/workbook.xml"))
    parts["[Content_Types].xml"] = (
        f'{HEAD}<Types xmlns="{TYPES}"><Default Extension="rels" '
        'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="xml" ContentType="application/xml"/>'
        '<Default Extension="bin" ContentType="application/octet-stream"/>'
        + "".join(
            f'<Override PartName="{part}" ContentType="{of}"/>' for part, of in overrides.items()
        )
        + "</Types>"
    )
    # Readers look for this part first.
    return {"[Content_Types].xml": parts.pop("[Content_Types].xml"), **parts}


def write(parts: Parts, path: Path, method: int = zipfile.ZIP_DEFLATED) -> Path:
    with zipfile.ZipFile(path, "w", method) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return path


def read(path: Path) -> Parts:
    with zipfile.ZipFile(path) as archive:
        return {info.filename: archive.read(info) for info in archive.infolist()}


def raw_members(data: bytes) -> dict[str, bytes]:
    """Local header, name, extra field and packed bytes of each member, as they stand in a file."""
    members: dict[str, bytes] = {}
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for info in archive.infolist():
            name, extra = struct.unpack("<2H", data[info.header_offset + 26 :][:4])
            end = info.header_offset + 30 + name + extra + info.compress_size
            members[info.filename] = data[info.header_offset : end]
    return members
