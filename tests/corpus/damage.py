"""Ways to damage a workbook file. Each takes its bytes and a random generator.

The answer is the damaged file, or None where there is nothing of the kind to damage.
"""

from __future__ import annotations

import io
import random
import re
import struct
import warnings
import zipfile
from collections.abc import Callable

Damage = Callable[[bytes, random.Random], "bytes | None"]
DAMAGES: dict[str, Damage] = {}

OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def damages(function: Damage) -> Damage:
    DAMAGES[function.__name__] = function
    return function


def members(data: bytes) -> list[tuple[str, bytes]]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return [(info.filename, archive.read(info)) for info in archive.infolist()]


def packed(parts: list[tuple[str, bytes]]) -> bytes:
    buffer = io.BytesIO()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, content in parts:
                archive.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    return buffer.getvalue()


def changed(
    data: bytes, wanted: str, change: Callable[[bytes], bytes], rng: random.Random
) -> bytes | None:
    """The file with one part, of those whose name matches, changed."""
    parts = members(data)
    places = [place for place, (name, _) in enumerate(parts) if re.search(wanted, name)]
    if not places:
        return None
    place = rng.choice(places)
    name, content = parts[place]
    new = change(content)
    if new == content:
        return None
    parts[place] = name, new
    return packed(parts)


SHEET = r"(?i)(worksheets|pages)/.*\.xml$"
BOOK = r"(?i)book\.xml$"
ANY_XML = r"(?i)\.(xml|rels)$"
RELS = r"\.rels$"


def replaced(
    pattern: bytes, new: Callable[[re.Match[bytes]], bytes], rng: random.Random, content: bytes
) -> bytes:
    """The content with one of the matches of a pattern replaced."""
    found = list(re.finditer(pattern, content))
    if not found:
        return content
    match = rng.choice(found)
    return content[: match.start()] + new(match) + content[match.end() :]


# The file as bytes.


@damages
def cut_off(data: bytes, rng: random.Random) -> bytes:
    return data[: rng.randrange(len(data))]


@damages
def head_missing(data: bytes, rng: random.Random) -> bytes:
    return data[rng.randrange(1, len(data)) :]


@damages
def bytes_flipped(data: bytes, rng: random.Random) -> bytes:
    new = bytearray(data)
    for _ in range(rng.choice((1, 1, 3, 40))):
        new[rng.randrange(len(new))] ^= 1 << rng.randrange(8)
    return bytes(new)


@damages
def directory_flipped(data: bytes, rng: random.Random) -> bytes:
    start = data.index(b"PK\x01\x02")
    new = bytearray(data)
    for _ in range(rng.choice((1, 2, 8))):
        new[rng.randrange(start, len(new))] = rng.randrange(256)
    return bytes(new)


@damages
def piece_doubled(data: bytes, rng: random.Random) -> bytes:
    first = rng.randrange(len(data))
    last = rng.randrange(first, len(data))
    return data[:last] + data[first:last] + data[last:]


@damages
def bytes_after_the_end(data: bytes, rng: random.Random) -> bytes:
    return data + rng.randbytes(rng.choice((1, 21, 5000, 70_000)))


@damages
def bytes_before_the_start(data: bytes, rng: random.Random) -> bytes:
    return b"#!/bin/sh\nexit\n" * rng.randrange(1, 99) + data


@damages
def encrypted(data: bytes, rng: random.Random) -> bytes:
    stream = "EncryptedPackage".encode("utf-16-le")
    return OLE + rng.randbytes(512) + stream * rng.randrange(2) + data


@damages
def marked_as_encrypted(data: bytes, rng: random.Random) -> bytes:
    new = bytearray(data)
    for match in re.finditer(rb"PK\x01\x02", data):
        if rng.random() < 0.5:
            new[match.start() + 8] |= 1
    return bytes(new)


@damages
def wrong_checksum(data: bytes, rng: random.Random) -> bytes:
    headers = [match.start() for match in re.finditer(rb"PK\x01\x02", data)]
    new = bytearray(data)
    new[rng.choice(headers) + 16 + rng.randrange(4)] ^= 0xFF
    return bytes(new)


@damages
def wrong_sizes(data: bytes, rng: random.Random) -> bytes:
    headers = [match.start() for match in re.finditer(rb"PK\x01\x02", data)]
    new = bytearray(data)
    place = rng.choice(headers) + rng.choice((20, 24, 42))
    new[place : place + 4] = struct.pack(
        "<L", rng.choice((0, 1, 100, 0x7FFFFFFF, 0xFFFFFFFE, 0xFFFFFFFF))
    )
    return bytes(new)


@damages
def unknown_packing(data: bytes, rng: random.Random) -> bytes:
    headers = [match.start() for match in re.finditer(rb"PK\x01\x02", data)]
    new = bytearray(data)
    place = rng.choice(headers) + 10
    new[place : place + 2] = struct.pack("<H", rng.choice((0, 1, 9, 12, 14, 95, 99)))
    return bytes(new)


# The members.


@damages
def part_missing(data: bytes, rng: random.Random) -> bytes:
    parts = members(data)
    del parts[rng.randrange(len(parts))]
    return packed(parts)


@damages
def part_doubled(data: bytes, rng: random.Random) -> bytes:
    parts = members(data)
    name, content = rng.choice(parts)
    name = rng.choice((name, name.swapcase(), name.upper()))
    return packed([*parts, (name, content[: rng.randrange(len(content) + 1)])])


@damages
def part_empty(data: bytes, rng: random.Random) -> bytes:
    parts = members(data)
    place = rng.randrange(len(parts))
    parts[place] = parts[place][0], b"" if rng.random() < 0.5 else b" \n"
    return packed(parts)


@damages
def parts_swapped(data: bytes, rng: random.Random) -> bytes:
    parts = members(data)
    one, other = rng.sample(range(len(parts)), 2)
    (name, content), (other_name, other_content) = parts[one], parts[other]
    parts[one], parts[other] = (name, other_content), (other_name, content)
    return packed(parts)


@damages
def path_like_name(data: bytes, rng: random.Random) -> bytes:
    name = rng.choice(
        (
            "../../escaped.xml",
            "/etc/escaped",
            "xl/../../escaped.xml",
            "C:\\escaped.xml",
            "..\\escaped.xml",
            "xl/\0.xml",
            "xl//double.xml",
            "./xl/dot.xml",
            "a" * 5000,
            "",
            "con",
            "xl/worksheets/sheet1.xml/inside.xml",
            "\u202exl.xml",
        )
    )
    parts = members(data)
    if rng.random() < 0.5:
        parts.append((name, b"<a/>"))
    else:
        parts[rng.randrange(len(parts))] = name, b"<a/>"
    return packed(parts)


@damages
def bomb(data: bytes, rng: random.Random) -> bytes:
    blanks = b" " * rng.choice((17_000_000, 30_000_000))
    parts = members(data)
    places = [p for p, (name, _) in enumerate(parts) if re.search(ANY_XML, name)]
    place = rng.choice(places)
    name, content = parts[place]
    parts[place] = name, content.rstrip() + blanks
    return packed(parts)


@damages
def many_members(data: bytes, rng: random.Random) -> bytes:
    extra = [(f"xl/media/{number}.bin", b"") for number in range(rng.choice((200, 20_001)))]
    return packed(members(data) + extra)


# The XML.


@damages
def xml_cut_off(data: bytes, rng: random.Random) -> bytes | None:
    return changed(data, ANY_XML, lambda xml: xml[: rng.randrange(max(1, len(xml)))], rng)


@damages
def xml_flipped(data: bytes, rng: random.Random) -> bytes | None:
    def flip(xml: bytes) -> bytes:
        new = bytearray(xml or b" ")
        for _ in range(rng.choice((1, 1, 5))):
            new[rng.randrange(len(new))] = rng.choice(b"<>/\"'&=;#! \x00\x08\xc3\xff0A")
        return bytes(new)

    return changed(data, rng.choice((SHEET, ANY_XML)), flip, rng)


@damages
def nul_bytes(data: bytes, rng: random.Random) -> bytes | None:
    def put(xml: bytes) -> bytes:
        place = rng.randrange(len(xml) + 1)
        return xml[:place] + rng.choice((b"\0", b"&#0;", b"\x1b", b"\xef\xbf\xbf")) + xml[place:]

    return changed(data, ANY_XML, put, rng)


@damages
def entities(data: bytes, rng: random.Random) -> bytes | None:
    laughs = "".join(
        '<!ENTITY e{} "{}">'.format(number, f"&e{number - 1};" * 10 if number else "ha")
        for number in range(12)
    )
    declared = rng.choice(
        (
            '<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]>',
            '<!DOCTYPE x SYSTEM "http://example.invalid/x.dtd">',
            f"<!DOCTYPE x [{laughs}]>",
            "<!doctype x>",
            '<!DOCTYPE x [<!ENTITY % p SYSTEM "http://example.invalid/"> %p;]>',
            "",
        )
    ).encode()

    def declare(xml: bytes) -> bytes:
        end = xml.find(b"?>")
        end = 0 if end < 0 else end + 2
        xml = xml[:end] + declared + xml[end:]
        return replaced(rb"(?<=<v>)[^<]*", lambda _: rng.choice((b"&e;", b"&e11;")), rng, xml)

    return changed(data, rng.choice((SHEET, ANY_XML)), declare, rng)


@damages
def other_encoding(data: bytes, rng: random.Random) -> bytes | None:
    def encode(xml: bytes) -> bytes:
        text = xml.decode("utf-8", "replace")
        kind = rng.choice(("utf-16", "utf-16-be", "utf-32", "latin-1", "utf-7"))
        if rng.random() < 0.5:
            text = re.sub(r'encoding="[^"]*"', f'encoding="{kind}"', text)
        return text.encode(kind, "replace")

    return changed(data, ANY_XML, encode, rng)


@damages
def deep_xml(data: bytes, rng: random.Random) -> bytes | None:
    depth = rng.choice((300, 5000, 200_000))

    def deepen(xml: bytes) -> bytes:
        place = xml.rfind(b"</")
        return xml[:place] + b"<a>" * depth + b"</a>" * depth + xml[place:]

    return changed(data, rng.choice((SHEET, BOOK, ANY_XML)), deepen, rng)


ADDRESSES = (
    b"A0",
    b"A1048577",
    b"XFE1",
    b"ZZZZ1",
    b"A99999999999",
    b"1A",
    b"",
    b"A",
    b"1",
    b"A-1",
    b"$A$1",
    b"a1",
    b"A1:B2",
    b"A1B2",
    b" A1 ",
    b"R1C1",
    b"A1.5",
    b"A\xc2\xb2",
    b"A\xd9\xa1",
    b"A1:",
    b"A1:XFD1048576",
)


@damages
def absurd_address(data: bytes, rng: random.Random) -> bytes | None:
    return changed(
        data,
        SHEET,
        lambda xml: replaced(rb'(?<=<c r=")[^"]*', lambda _: rng.choice(ADDRESSES), rng, xml),
        rng,
    )


@damages
def absurd_row(data: bytes, rng: random.Random) -> bytes | None:
    rows = (b"0", b"-1", b"1048577", b"99999999999999999999", b"", b"x", b"1.5", b"1", b"\xd9\xa1")
    return changed(
        data,
        SHEET,
        lambda xml: replaced(rb'(?<=<row r=")[^"]*', lambda _: rng.choice(rows), rng, xml),
        rng,
    )


@damages
def absurd_range(data: bytes, rng: random.Random) -> bytes | None:
    return changed(
        data,
        r"(worksheets|tables|pages)/",
        lambda xml: replaced(rb'(?<=ref=")[^"]*', lambda _: rng.choice(ADDRESSES), rng, xml),
        rng,
    )


@damages
def absurd_number(data: bytes, rng: random.Random) -> bytes | None:
    """Indexes and counts: styles, shared texts, shared formulas, metadata, sheets."""
    numbers = (
        b"-1",
        b"4294967296",
        b"99999999999999999999999",
        b"",
        b"x",
        b"1e9",
        b"0",
        b"\xc2\xb2",
    )
    return changed(
        data,
        ANY_XML,
        lambda xml: replaced(
            rb'(?<=[a-zA-Z]=")[0-9]+(?=")',
            lambda _: rng.choice(numbers),
            rng,
            xml,
        ),
        rng,
    )


@damages
def absurd_value(data: bytes, rng: random.Random) -> bytes | None:
    values = (
        b"1e999",
        b"-1e999",
        b"nan",
        b"inf",
        b"",
        b"0x10",
        b"1,5",
        b"9" * 400,
        b"text",
        b"1_000",
        b" 1 ",
        b"TRUE",
        b"#N/A",
        b"-0",
        b"1e-400",
        b"\xd9\xa1",
        b"_x0000_",
        b"x" * 40_000,
    )
    return changed(
        data,
        SHEET,
        lambda xml: replaced(rb"(?<=<v>)[^<]*", lambda _: rng.choice(values), rng, xml),
        rng,
    )


@damages
def absurd_type(data: bytes, rng: random.Random) -> bytes | None:
    types = (b"s", b"e", b"b", b"d", b"inlineStr", b"str", b"n", b"x", b"")

    def change(xml: bytes) -> bytes:
        return replaced(
            rb"<((?:\w+:)?)c(?=[ >])",
            lambda m: m[0] + b' t="' + rng.choice(types) + b'"',
            rng,
            re.sub(rb'(<(?:\w+:)?c [^>]*) t="\w+"', rb"\1", xml),
        )

    return changed(data, SHEET, change, rng)


FORMULAS = (
    b"XF_AREA(",
    b"=",
    b"XF_AREA(1))",
    b'"',
    b"'",
    b"A1:",
    b"(" * 3000 + b"1" + b")" * 3000,
    b"-" * 5000 + b"1",
    b"1" + b"+1" * 5000,
    b"{1,2",
    b"Sheet99!A1+XF_AREA(6)",
    b"A1048577+XF_AREA(6)",
    b"XFE1",
    b"SUM(A:XFD)+XF_AREA(6)",
    b"SUM(1:1048576)+XF_AREA(6)",
    b"XF_AREA(A:A)",
    b"XF_AREA(1:1)",
    b"XF_AREA(A1:XFD1048576)",
    b'INDIRECT("A1")+XF_AREA(6)',
    b"OFFSET(A1,1E9,0)+XF_AREA(6)",
    b'REPT("x",1E9)&amp;XF_AREA(6)',
    b"SUMPRODUCT(A1:A1048576*B1:B1048576)+XF_AREA(6)",
    b"_xlfn.SEQUENCE(1048576,16384)+XF_AREA(6)",
    b"_xlfn.SEQUENCE(-1)+XF_AREA(6)",
    b"FACT(1E9)+XF_AREA(6)",
    b"2^1E9+XF_AREA(6)",
    b"1/0+XF_AREA(6)",
    b"T[[#This Row],[x]]",
    b"[1]!",
    b"[1]S!A1+XF_AREA(6)",
    b"'[x",
    b"A1#+XF_AREA(6)",
    b"@A1:A9+XF_AREA(6)",
    b"A1 B1+XF_AREA(6)",
    b"#REF!+XF_AREA(6)",
    b"#REF!A1+XF_AREA(6)",
    b"\xc3\xa4(1)",
    b"XF_AREA(\xe2\x81\xa3omitted\xe2\x81\xa3)",
    b"&#1;",
    b"&lt;",
    b"XLFILL_COMPARE(1,2)",
    b"%d%s%n+XF_AREA(6)",
    b"50%%+XF_AREA(6)",
    b'"%d"&amp;XF_AREA(6)',
    b'XF_STEPS("XF_STEPS","XF_STEPS")',
    b"XF_INSTALLATION(75,480,208)",
    b"LAMBDA(x,x(x))(LAMBDA(x,x(x)))",
    b"LET(_xlpm.x,XF_AREA(6),_xlpm.x)",
    b"IF(" * 200 + b"1" + b",1)" * 200,
    b'XF_AREA("")',
    b"",
    b'CELL("filename")&amp;XF_AREA(6)',
    b'RTD("x",,1)',
    b'CALL("kernel32","x")',
    b'EXEC("x")',
    b'HYPERLINK("file:///etc/passwd",XF_AREA(6))',
    b"cmd|'/c calc'!A0",
    b"1E400+XF_AREA(6)",
    b"RANDARRAY(99999,9999)+XF_AREA(6)",
    b"MMULT(A1:ZZ999,A1:ZZ999)+XF_AREA(6)",
    b'TEXT(1,REPT("0",9999))&amp;XF_AREA(6)',
    b'SUBSTITUTE(REPT("a",32767),"a",REPT("b",32767))&amp;XF_AREA(6)',
    b"COMBIN(1E9,5E8)+XF_AREA(6)",
    b"DATE(1E15,1,1)+XF_AREA(6)",
    b"NETWORKDAYS(1,1E15)+XF_AREA(6)",
    b"WORKDAY(1,1E15)+XF_AREA(6)",
    b"EDATE(1,1E15)+XF_AREA(6)",
    b"ROUND(1,1E15)+XF_AREA(6)",
    b"BASE(1E300,2)&amp;XF_AREA(6)",
    b"PERMUT(1E15,1E15)+XF_AREA(6)",
    b"GCD(1E300,3)+XF_AREA(6)",
    b"LARGE(A1:A1048576,1E300)+XF_AREA(6)",
    b"CHOOSE(1E300,1)+XF_AREA(6)",
    b"INDEX(A1:B2,1E300,-1E300)+XF_AREA(6)",
    b'MID("abc",1E300,1E300)&amp;XF_AREA(6)',
    b'LEFT("abc",-1)&amp;XF_AREA(6)',
    b"CHAR(1E300)&amp;XF_AREA(6)",
    b"MROUND(1E300,1E-300)+XF_AREA(6)",
    b"NPER(0,0,0)+XF_AREA(6)",
    b"IRR(A1:A9,-1)+XF_AREA(6)",
    b"RATE(1E9,1,1)+XF_AREA(6)",
)


@damages
def absurd_formula(data: bytes, rng: random.Random) -> bytes | None:
    return changed(
        data,
        SHEET,
        lambda xml: replaced(rb"(?<=[:<]f>)[^<]*(?=</)", lambda _: rng.choice(FORMULAS), rng, xml),
        rng,
    )


@damages
def absurd_formula_tag(data: bytes, rng: random.Random) -> bytes | None:
    tags = (
        b'f t="shared" si="0"',
        b'f t="shared" ref="A1:B2" si="0"',
        b'f t="shared"',
        b'f t="shared" si="-1" ref="A1"',
        b'f t="array"',
        b'f t="array" ref=""',
        b'f t="array" ref="A1:XFD1048576"',
        b'f t="array" ref="A1:A1048576"',
        b'f t="array" ref="A0:B2"',
        b'f t="array" ref="C5:A1"',
        b'f t="array" ref="B2"',
        b'f t="dataTable" ref="A1:B2" r1="A1"',
        b'f t="nonsense"',
        b'f ca="1"',
        b'f t="array" ref="ZZZZ1:ZZZZ9"',
        b'f xml:space="preserve"',
    )
    return changed(
        data,
        SHEET,
        lambda xml: replaced(rb"(?<=<)f(?=>)", lambda _: rng.choice(tags), rng, xml),
        rng,
    )


@damages
def circle_of_shared_formulas(data: bytes, rng: random.Random) -> bytes | None:
    range_ = ' ref="A1:B999"'
    cells = "".join(
        f'<row r="{row}"><c r="A{row}"><f t="shared" si="{row % 3}"{range_ * (row % 5 == 0)}>'
        f"{f'B{row + 1}+XF_AREA(6)' * (row % 5 == 0)}</f></c>"
        f'<c r="B{row}"><f>A{rng.randrange(1, 40)}+XF_AREA(6)</f></c></row>'
        for row in range(1, 40)
    )
    return changed(
        data,
        SHEET,
        lambda xml: re.sub(
            rb"(<sheetData>).*(</sheetData>)",
            lambda match: match[1] + cells.encode() + match[2],
            xml,
            flags=re.DOTALL,
        ),
        rng,
    )


@damages
def tag_removed(data: bytes, rng: random.Random) -> bytes | None:
    return changed(
        data,
        rng.choice((SHEET, ANY_XML)),
        lambda xml: replaced(rb"<[^>]*>", lambda _: b"", rng, xml),
        rng,
    )


@damages
def element_doubled(data: bytes, rng: random.Random) -> bytes | None:
    return changed(
        data,
        rng.choice((SHEET, BOOK, ANY_XML)),
        lambda xml: replaced(
            rb"<([\w:]+)(?: [^>]*)?(?:/>|>[^<>]*</\1>)",
            lambda m: m[0] * rng.choice((2, 500)),
            rng,
            xml,
        ),
        rng,
    )


@damages
def attribute_removed(data: bytes, rng: random.Random) -> bytes | None:
    return changed(
        data,
        rng.choice((SHEET, BOOK, RELS, ANY_XML)),
        lambda xml: replaced(rb' [\w:]+="[^"]*"', lambda _: b"", rng, xml),
        rng,
    )


@damages
def names_swapped(data: bytes, rng: random.Random) -> bytes | None:
    pairs = [
        (b"<f>", b"<v>"),
        (b"<v>", b"<is>"),
        (b"worksheet", b"chartsheet"),
        (b"<row", b"<c"),
        (b"sheetData", b"sheetdata"),
        (b"<c ", b"<C "),
        (b"workbook", b"worksheet"),
    ]
    one, other = rng.choice(pairs)
    return changed(
        data,
        rng.choice((SHEET, BOOK)),
        lambda xml: xml.replace(one, other).replace(
            one.replace(b"<", b"</").strip(), other.replace(b"<", b"</").strip()
        ),
        rng,
    )


@damages
def nested_cells(data: bytes, rng: random.Random) -> bytes | None:
    inside = rng.choice(
        (
            b'<c r="A1"><c r="B1"><f>XF_AREA(6)</f></c></c>',
            b"<f>1</f>",
            b'<c r="Z9"><f>XF_AREA(6)</f><f>2</f><v>1</v><v>2</v></c>',
            b'<c r="Z9"><v>1</v><f>XF_AREA(6)</f></c>',
            b"<sheetData><row/></sheetData>",
            b'<c r="Z9"><f><!-- x -->XF_AREA(6)</f></c>',
            b"<c r='Z9'><f>XF_AREA(6)<x/></f></c>",
            b'<c r="A1"><f>XF_AREA(6)</f></c><c r="A1"><f>XF_AREA(4)</f></c>',
            b"stray text",
            b'<c r="Z9" x=">"><f>XF_AREA(6)</f></c>',
            b"<c r='Z9'><v>1</v><is><t>x</t></is><f>XF_AREA(6)</f></c>",
            b'<c r="Z9"><f/></c>',
            b'<c r="Z9"><f></f><v/></c>',
            b"<f/>",
            b"<v>1</v>",
            b'<q:c xmlns:q="urn:q" r="Z9"><q:f>XF_AREA(6)</q:f></q:c>',
            b'<c r="Z9"><f>XF_AREA(6)</f><v>0</v><extLst><ext uri="x"/></extLst></c>',
        )
    )
    return changed(
        data,
        SHEET,
        lambda xml: replaced(rb"</(?:row|c|sheetData)>", lambda m: inside + m[0], rng, xml),
        rng,
    )


# What the parts say of each other.


@damages
def wrong_target(data: bytes, rng: random.Random) -> bytes | None:
    targets = (
        b"../../../../etc/passwd",
        b"/",
        b"",
        b".",
        b"file:///etc/passwd",
        b"http://example.invalid/x",
        b"worksheets/none.xml",
        b"workbook.xml",
        b"styles.xml",
        b"sharedStrings.xml",
        b"#top",
        b"worksheets/sheet1.xml",
        b"_rels/workbook.xml.rels",
        b"..\\..\\x",
        b"\xc3\xa4",
        b"%2e%2e/x",
    )
    return changed(
        data,
        RELS,
        lambda xml: replaced(rb'(?<=Target=")[^"]*', lambda _: rng.choice(targets), rng, xml),
        rng,
    )


@damages
def wrong_relation(data: bytes, rng: random.Random) -> bytes | None:
    kinds = (
        b"worksheet",
        b"chartsheet",
        b"styles",
        b"sharedStrings",
        b"table",
        b"sheetMetadata",
        b"officeDocument",
        b"externalLink",
        b"vbaProject",
        b"nonsense",
    )
    return changed(
        data,
        RELS,
        lambda xml: replaced(
            rb'(?<=relationships/)[A-Za-z]+(?=")', lambda _: rng.choice(kinds), rng, xml
        ),
        rng,
    )


@damages
def types_swapped(data: bytes, rng: random.Random) -> bytes | None:
    def swap(xml: bytes) -> bytes:
        found = re.findall(rb'ContentType="([^"]*)"', xml)
        return replaced(rb'(?<=ContentType=")[^"]*', lambda _: rng.choice(found), rng, xml)

    return changed(data, r"Content_Types", swap, rng)


@damages
def absurd_sheets(data: bytes, rng: random.Random) -> bytes | None:
    names = (
        b"",
        b"x" * 300,
        b"a/b\\c?*[]:",
        b"'",
        b"Sheet!A1",
        b"S",
        b"&#10;",
        b"=1+1",
        b"  ",
        b"\xf0\x9f\x94\x8c",
        b"History",
        b"#REF!",
        b"%d",
    )
    return changed(
        data,
        BOOK,
        lambda xml: replaced(rb'(?<=sheet name=")[^"]*', lambda _: rng.choice(names), rng, xml),
        rng,
    )


@damages
def absurd_names(data: bytes, rng: random.Random) -> bytes | None:
    text = rng.choice(
        (
            b'<definedName name="A1">5</definedName>',
            b'<definedName name="">5</definedName>',
            b"<definedName>5</definedName>",
            b'<definedName name="XF_AREA">5</definedName>',
            b'<definedName name="N" localSheetId="99">5</definedName>',
            b'<definedName name="N" localSheetId="-1">5</definedName>',
            b'<definedName name="N" localSheetId="&#178;">5</definedName>',
            b'<definedName name="N">N</definedName>',
            b'<definedName name="N">"</definedName>',
            b'<definedName name="N">' + b"(" * 5000 + b"</definedName>",
            b'<definedName name="N"/>',
            b'<definedName name="SUM">SUM(1)</definedName>' * 3,
        )
    )

    def put(xml: bytes) -> bytes:
        return xml.replace(b"</sheets>", b"</sheets><definedNames>" + text + b"</definedNames>", 1)

    with_name = changed(data, BOOK, put, rng)
    if with_name is None:
        return None
    return changed(
        with_name,
        SHEET,
        lambda xml: replaced(rb"(?<=<f>)[^<]*", lambda _: b"N+XF_AREA(6)", rng, xml),
        rng,
    )


@damages
def packed_otherwise(data: bytes, rng: random.Random) -> bytes:
    """Correct, but unusual: other order, other method, descriptors. Must be filled."""
    parts = members(data)
    rng.shuffle(parts)
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name, content in parts:
            info = zipfile.ZipInfo(name, (2107, 12, 31, 23, 59, 58))
            info.compress_type = rng.choice((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED))
            archive.writestr(info, content)
    return buffer.getvalue()
