"""Workbooks as programs of others write them, each with a few of our formulas.

A builder writes one file and returns the values that must stand in it afterwards. Those are:
75 kVA at 480 V is 75000 / (sqrt(3) 480) = 90.211 A, by hand; 1/0 AWG is 105.6 kcmil (ASTM B258);
the equipment ground of a 60 A device is 10 AWG copper (NFPA 70, Table 250.122).
"""

from __future__ import annotations

import datetime
import re
import struct
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import xlsxwriter
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.chart import BarChart, LineChart, PieChart, Reference, ScatterChart, Series
from openpyxl.comments import Comment
from openpyxl.formatting.rule import ColorScaleRule, DataBarRule, FormulaRule, IconSetRule
from openpyxl.packaging.custom import DateTimeProperty, StringProperty
from openpyxl.styles import Font, PatternFill, Protection
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.formula import ArrayFormula, DataTableFormula
from openpyxl.worksheet.table import Table

from .package import CONTENT, DOCUMENT, HEAD, MAIN, package, read, relations, sheet, write

AMPERES, KCMIL, GROUND = 90.2110, 105.6, "10 AWG"

Expected = dict[tuple[str, str], Any]
Builder = Callable[[Path], Expected]

BUILDERS: dict[str, Builder] = {}


def builds(name: str) -> Callable[[Builder], Builder]:
    """Enter a builder under the name of the file that it writes."""

    def entered(builder: Builder) -> Builder:
        BUILDERS[name] = builder
        return builder

    return entered


FORMULAS = {
    "C1": "XF_FULL_LOAD_CURRENT(A1,B1)",
    "D1": "ROUND(C1,1)",
    "E1": "XF_EQUIPMENT_GROUND(60)",
    "F1": 'IF(C1>90,"over","under")',
    "G1": 'XF_AREA("1/0")',
}
VALUES = {"C1": AMPERES, "D1": 90.2, "E1": GROUND, "F1": "over", "G1": KCMIL}


def expected(name: str) -> Expected:
    return {(name, address): value for address, value in VALUES.items()}


def with_openpyxl(page: Any) -> Expected:
    page["A1"], page["B1"] = 75, 480
    for address, formula in FORMULAS.items():
        page[address] = f"={formula}"
    return expected(page.title)


def with_xlsxwriter(page: Any, value: Any = 0) -> Expected:
    page.write_row("A1", [75, 480])
    for address, formula in FORMULAS.items():
        page.write_formula(address, f"={formula}", None, value)
    return expected(page.get_name())


def as_cells(*, prefix: str = "", addresses: bool = True, value: str = "<v>0</v>") -> str:
    """The cells of row 1 as XML."""
    x = prefix
    cells = [f"<{x}c{{A1}}><{x}v>75</{x}v></{x}c>", f"<{x}c{{B1}}><{x}v>480</{x}v></{x}c>"]
    for address, formula in FORMULAS.items():
        escaped = formula.replace("&", "&amp;").replace(">", "&gt;")
        cells.append(f"<{x}c{{{address}}}><{x}f>{escaped}</{x}f>{value}</{x}c>")
    text = "".join(cells)
    for address in ("A1", "B1", *FORMULAS):
        text = text.replace(f"{{{address}}}", f' r="{address}"' if addresses else "")
    return text


def picture() -> bytes:
    """A red dot as PNG."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">L", len(data)) + kind + data + struct.pack(">L", zlib.crc32(kind + data))
        )

    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", struct.pack(">2L5B", 1, 1, 8, 2, 0, 0, 0))
        + chunk(b"IDAT", zlib.compress(b"\0\xff\0\0"))
        + chunk(b"IEND", b"")
    )


# Written by openpyxl, which stores no results.


@builds("plain.xlsx")
def plain(path: Path) -> Expected:
    book = openpyxl.Workbook()
    found = with_openpyxl(book.active)
    other = book.create_sheet("Long name's (2) & more")
    other["A1"] = "=Sheet!C1*2"
    book.create_sheet("Empty")
    book.save(path)
    return found | {(other.title, "A1"): 2 * AMPERES}


@builds("charts.xlsx")
def charts(path: Path) -> Expected:
    book = openpyxl.Workbook()
    page = book.active
    found = with_openpyxl(page)
    for row in range(2, 12):
        page.append([row, row * row])
    data = Reference(page, min_col=2, min_row=2, max_row=11)
    for place, chart in (("I1", BarChart()), ("I20", LineChart()), ("S1", PieChart())):
        chart.add_data(data)
        page.add_chart(chart, place)
    scatter = ScatterChart()
    scatter.series.append(Series(data, Reference(page, min_col=1, min_row=2, max_row=11)))
    alone = book.create_chartsheet("Chart only")
    alone.add_chart(scatter)
    book.save(path)
    return found


@builds("dressed.xlsx")
def dressed(path: Path) -> Expected:
    book = openpyxl.Workbook()
    page = book.active
    found = with_openpyxl(page)
    page["C1"].comment = Comment("as on the plate", "someone")
    page["A3"].hyperlink = "https://example.invalid/a?b=1&c=2"
    page["A4"] = CellRichText("plain ", TextBlock(InlineFont(b=True), "bold"), " & <plain>")
    page["A5"].font = Font(bold=True, color="FF0000")
    page["A5"].fill = PatternFill("solid", fgColor="FFFF00")
    page["A6"] = datetime.datetime(2024, 2, 29, 12, 30)
    page["A7"], page["A8"] = True, "#N/A"
    page.merge_cells("A9:C10")
    choice = DataValidation(type="list", formula1='"15,30,45,75"', allow_blank=True)
    choice.add("A1")
    page.add_data_validation(choice)
    for rule in (
        ColorScaleRule(start_type="min", start_color="FFFFFF", end_type="max", end_color="FF0000"),
        IconSetRule("3Arrows", "percent", [0, 33, 67]),
        DataBarRule("min", None, "max", None, "638EC6"),
        FormulaRule(formula=["C1>90"], fill=PatternFill("solid", bgColor="FF0000")),
    ):
        page.conditional_formatting.add("A1:G1", rule)
    page.protection.sheet = True
    page.protection.password = "secret"
    page["A1"].protection = Protection(locked=False)
    page.freeze_panes = "B2"
    page.auto_filter.ref = "A1:G9"
    page.print_area = "A1:G10"
    page.print_title_rows = "1:1"
    page.oddHeader.center.text = "Page &P of &N & more"
    page.row_dimensions.group(12, 14, hidden=True)
    page.column_dimensions["K"].hidden = True
    hidden = book.create_sheet("Very hidden")
    hidden.sheet_state = "veryHidden"
    found |= with_openpyxl(hidden)
    book.security.lockStructure = True
    book.custom_doc_props.append(StringProperty(name="Job", value="A-7"))
    book.custom_doc_props.append(
        DateTimeProperty(name="Day", value=datetime.datetime(2024, 1, 2, 3, 4))
    )
    book.save(path)
    return found


@builds("names.xlsx")
def names(path: Path) -> Expected:
    book = openpyxl.Workbook()
    page = book.active
    found = with_openpyxl(page)
    for name, text in {
        "Rating": "Sheet!$A$1",
        "Ratings": "Sheet!$A$1:$A$9",
        "Volts": "480",
        "Label": '"60"',
        "Gone": "#REF!",
        "Elsewhere": "[1]Other!$A$1",
        "Moving": "Sheet!A1",
        "Growing": "OFFSET(Sheet!$A$1,0,0,COUNTA(Sheet!$A:$A),1)",
        "Two": "Sheet!$A$1,Sheet!$C$1",
        "Whole": "Sheet!$A:$A",
        "Listed": "{1,2;3,4}",
        "Itself": "Itself+1",
        "_xlnm._FilterDatabase": "Sheet!$A$1:$B$2",
        "Larger": "LAMBDA(_xlpm.x,_xlpm.x+1)",
        "Größe": "Sheet!$B$1",
        "\\odd.name?": "75",
        "R_": "3",
    }.items():
        book.defined_names[name] = DefinedName(name, attr_text=text)
    page.defined_names["Rating"] = DefinedName("Rating", attr_text="Sheet!$B$1")
    book.defined_names["Hidden_one"] = DefinedName("Hidden_one", attr_text="7", hidden=True)
    other = book.create_sheet("Other")
    other["A1"] = "=XF_FULL_LOAD_CURRENT(Rating,Volts)"
    other["A2"] = "=XF_EQUIPMENT_GROUND(Label)"
    other["A3"] = "=SUM(Ratings)+Hidden_one"
    other["A4"] = "=XF_FULL_LOAD_CURRENT(\\odd.name?,Größe)"
    other["A5"] = "=XF_FULL_LOAD_CURRENT(Gone,480)"
    for row, name in enumerate(
        ("Elsewhere", "Moving", "SUM(Growing)", "SUM(Two)", "Itself", "Larger(1)", "Nowhere"), 6
    ):
        other[f"A{row}"] = f"={name}+XF_AREA(6)"
    book.save(path)
    return found | {
        ("Other", "A1"): AMPERES,
        ("Other", "A2"): GROUND,
        ("Other", "A3"): 82,
        ("Other", "A4"): AMPERES,
    }


@builds("tables.xlsx")
def tables(path: Path) -> Expected:
    book = openpyxl.Workbook()
    page = book.active
    page.append(["kVA", "Volts", "Amps", "Ground [x]"])
    for row in range(2, 6):
        page.append(
            [75, 480, "=XF_FULL_LOAD_CURRENT(Jobs[[#This Row],[kVA]],Jobs[[#This Row],[Volts]])"]
        )
        page[f"D{row}"] = "=XF_EQUIPMENT_GROUND(60)"
    page["A6"] = "=SUBTOTAL(109,Jobs[kVA])"
    listed = Table(displayName="Jobs", ref="A1:D6", totalsRowCount=1)
    page.add_table(listed)
    page["F1"] = "=SUM(Jobs[Amps])"
    page["F2"] = "=INDEX(Jobs[Ground '[x']],2)"
    page["F3"] = ArrayFormula("F3:F6", "=Jobs[kVA]*2")
    page["H1"] = DataTableFormula("H1:H2", dt2D=False, r1="A1", ca=False)
    book.save(path)
    return {
        ("Sheet", "C3"): AMPERES,
        ("Sheet", "A6"): 300,
        ("Sheet", "F1"): 4 * AMPERES,
        ("Sheet", "F2"): GROUND,
        ("Sheet", "F5"): 150,
    }


@builds("first day 1904.xlsx")
def date_1904(path: Path) -> Expected:
    book = openpyxl.Workbook()
    book.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    found = with_openpyxl(book.active)
    book.active["A2"] = datetime.date(2024, 1, 1)
    book.active["A3"] = "=YEAR(A2)"
    book.save(path)
    return found | {("Sheet", "A3"): 2024}


@builds("styles.xlsx")
def styles(path: Path) -> Expected:
    book = openpyxl.Workbook()
    page = book.active
    found = with_openpyxl(page)
    for number in range(1500):
        cell = page.cell(2 + number // 50, 1 + number % 50, number)
        cell.number_format = f'0.{"0" * (number % 9)}" A{number}"'
        cell.fill = PatternFill("solid", fgColor=f"{number:06X}")
    book.save(path)
    return found


# Written by XlsxWriter, which stores 0, or what it is told, as the result of a formula.


@builds("everything.xlsm")
def everything(path: Path) -> Expected:
    macros = path.with_suffix(".bin")
    macros.write_bytes(bytes(range(256)) * 40)
    book = xlsxwriter.Workbook(path)
    page = book.add_worksheet("Data")
    found = with_xlsxwriter(page)
    book.add_vba_project(str(macros))
    dot = path.with_suffix(".png")
    dot.write_bytes(picture())
    page.insert_image("I3", dot)
    page.insert_image("I4", dot, {"url": "https://example.invalid/"})
    page.embed_image("I5", dot)
    page.set_background(dot)
    page.set_header("&C&G", {"image_center": dot})
    page.insert_textbox("I8", "a text & more", {"textlink": "=$A$1"})
    page.insert_button("I12", {"macro": "run_me", "caption": "Run"})
    page.insert_checkbox("I14", True)
    page.write_comment("A1", "a comment", {"visible": True})
    page.write_rich_string("A3", "plain ", book.add_format({"bold": True}), "bold", " rest")
    page.write_url("A4", "internal:'Other'!A1")
    page.write_url("A5", "external:other.xlsx#Sheet1!A1")
    page.write_datetime("A6", datetime.datetime(2024, 2, 29), book.add_format({"num_format": 14}))
    page.write_boolean("A7", True)
    page.write_blank("A8", None, book.add_format({"bg_color": "yellow"}))
    page.add_sparkline("I16", {"range": "Data!A1:B1"})
    page.data_validation("A1", {"validate": "list", "source": [15, 30, 45, 75]})
    page.conditional_format("A1:G1", {"type": "3_color_scale"})
    page.conditional_format("A1:G1", {"type": "data_bar", "data_bar_2010": True})
    page.conditional_format("A1:G1", {"type": "formula", "criteria": "=$C$1>90"})
    page.protect("secret", {"sort": True})
    page.unprotect_range("A1:B1", "Inputs")
    page.set_row(20, None, None, {"hidden": True, "level": 1})
    page.freeze_panes(1, 1)
    page.set_h_pagebreaks([20])
    page.ignore_errors({"number_stored_as_text": "A1:A9"})
    for kind in ("column", "line", "pie", "scatter", "area", "bar", "radar", "doughnut"):
        chart = book.add_chart({"type": kind})
        chart.add_series(
            {"categories": "=Data!$A$1:$B$1", "values": "=Data!$A$1:$B$1", "name": "=Data!$A$3"}
        )
        page.insert_chart("K3", chart)
    alone = book.add_chartsheet("Chart only")
    chart = book.add_chart({"type": "line"})
    chart.add_series({"values": "=Data!$A$1:$B$1"})
    alone.set_chart(chart)
    other = book.add_worksheet("Other")
    other.add_table("A1:B3", {"name": "Listed", "columns": [{"header": "a"}, {"header": "b"}]})
    other.write_column("A2", [1, 2])
    other.autofilter("D1:E9")
    other.filter_column("D", "x > 3")
    other.write_array_formula("D12:D13", "{=A2:A3*XF_AREA(6)}", None, 0)
    other.write_dynamic_array_formula("F12", "=_xlfn.SORT(A2:A3,1,-1)", None, 2)
    other.write_dynamic_array_formula("H12", "=XF_FULL_LOAD_CURRENT(A2:A3*75,480)", None, 0)
    book.add_worksheet("Hidden").very_hidden()
    book.define_name("Rating", "=Data!$A$1")
    book.set_properties({"title": "A & B", "company": "none"})
    book.set_custom_property("Checked", True)
    book.set_calc_mode("manual")
    book.close()
    return found | {("Other", "H12"): AMPERES, ("Other", "H13"): 2 * AMPERES}


@builds("streamed.xlsx")
def streamed(path: Path) -> Expected:
    book = xlsxwriter.Workbook(path, {"constant_memory": True})
    page = book.add_worksheet("Data")
    page.write_row("A1", [75, 480])
    for address, formula in FORMULAS.items():
        page.write_formula(address, f"={formula}", None, 0)
    for row in range(1, 40):
        page.write(row, 0, f" text {row} & <more>")
    book.close()
    return expected("Data")


@builds("large records.xlsx")
def large_records(path: Path) -> Expected:
    book = xlsxwriter.Workbook(path, {"date_1904": True})
    book.use_zip64()
    found = with_xlsxwriter(book.add_worksheet("Data"), "old")
    book.close()
    return found


@builds("computed.xlsx")
def computed(path: Path) -> Expected:
    """As a spreadsheet leaves it: no request to recalculate, a result beside every formula."""
    book = xlsxwriter.Workbook(path)
    page = book.add_worksheet("Data")
    found = with_xlsxwriter(page, 999)
    page.write_formula("A3", "=A1+1", None, 999)
    book.close()
    parts = read(path)
    xml = parts["xl/workbook.xml"]
    assert isinstance(xml, bytes)
    parts["xl/workbook.xml"] = xml.replace(b' fullCalcOnLoad="1"', b"")
    write(parts, path)
    return found | {("Data", "A3"): 999}


# Written part by part.


@builds("no addresses.xlsx")
def no_addresses(path: Path) -> Expected:
    """Rows and cells need no `r`: they then follow the one before (ECMA-376 part 1, 18.3.1)."""
    rows = (
        f"<row>{as_cells(addresses=False)}</row>"
        '<row r="3"><c><v>1</v></c><c r="D3"><v>2</v></c><c><f>D3*XF_AREA("1/0")</f></c></row>'
        "<row><c/><c><f>A1+C1</f></c></row>"
    )
    write(package({"S": sheet(rows)}), path)
    return expected("S") | {("S", "E3"): 2 * KCMIL, ("S", "B4"): 75 + AMPERES}


def prefixed(xml: str | bytes, prefix: str = "x") -> str:
    """The same XML with the main namespace behind a prefix."""
    text = xml.decode() if isinstance(xml, bytes) else xml
    text = re.sub(r"<(/?)([a-zA-Z][\w]*)(?=[\s/>])", rf"<\1{prefix}:\2", text)
    return text.replace(f'xmlns="{MAIN}"', f'xmlns:{prefix}="{MAIN}"')


@builds("prefixes.xlsx")
def prefixes(path: Path) -> Expected:
    parts = package(
        {"S": sheet(f'<row r="1">{as_cells()}</row>')},
        workbook='<definedNames><definedName name="N">S!$A$1</definedName></definedNames>'
        '<calcPr calcId="1" fullCalcOnLoad="1"/>',
    )
    for part in ("xl/workbook.xml", "xl/worksheets/sheet1.xml"):
        parts[part] = prefixed(parts[part])
    write(parts, path)
    return expected("S")


@builds("far.xlsx")
def far(path: Path) -> Expected:
    rows = (
        f'<row r="1" spans="1:16384">{as_cells()}</row>'
        '<row r="1048576"><c r="A1048576"><v>2</v></c>'
        '<c r="XFD1048576"><f>XF_AREA("1/0")*A1048576</f></c></row>'
    )
    write(package({"S": sheet(rows, before='<dimension ref="A1:XFD1048576"/>')}), path)
    return expected("S") | {("S", "XFD1048576"): 2 * KCMIL}


@builds("inline.xlsx")
def inline(path: Path) -> Expected:
    rows = (
        f'<row r="1">{as_cells()}</row>'
        '<row r="2"><c r="A2" t="inlineStr"><is><t xml:space="preserve">60 </t></is></c>'
        '<c r="B2" t="inlineStr"><is><r><t>1/</t></r><r><rPr><b/></rPr><t>0</t></r></is></c>'
        '<c r="C2"><f>XF_EQUIPMENT_GROUND(A2)</f></c><c r="D2"><f>XF_AREA(B2)</f></c>'
        '<c r="E2" t="d"><v>2024-01-01T00:00:00</v></c></row>'
    )
    write(package({"S": sheet(rows)}), path)
    return expected("S") | {("S", "C2"): GROUND, ("S", "D2"): KCMIL}


@builds("shared.xlsx")
def shared(path: Path) -> Expected:
    first = '<f t="shared" ref="C1:C4" si="0">XF_FULL_LOAD_CURRENT($A1,B1)</f>'
    copy = '<f t="shared" si="0"/>'
    rows = "".join(
        f'<row r="{row}"><c r="A{row}"><v>75</v></c><c r="B{row}"><v>480</v></c>'
        f'<c r="C{row}">{first if row == 1 else copy}<v>0</v></c>'
        f'<c r="D{row}"><f t="shared" si="7"/><v>5</v></c></row>'
        for row in range(1, 5)
    )
    write(package({"S": sheet(rows)}), path)
    return {("S", f"C{row}"): AMPERES for row in range(1, 5)}


@builds("pivot.xlsx")
def pivot(path: Path) -> Expected:
    cache = (
        f'{HEAD}<pivotCacheDefinition xmlns="{MAIN}" xmlns:r="{DOCUMENT}" r:id="rId1" '
        'refreshOnLoad="1" recordCount="1"><cacheSource type="worksheet">'
        '<worksheetSource ref="A1:B2" sheet="S"/></cacheSource><cacheFields count="2">'
        '<cacheField name="75" numFmtId="0"><sharedItems containsNumber="1"><n v="1"/>'
        '</sharedItems></cacheField><cacheField name="480" numFmtId="0"><sharedItems/>'
        "</cacheField></cacheFields></pivotCacheDefinition>"
    )
    records = (
        f'{HEAD}<pivotCacheRecords xmlns="{MAIN}" count="1"><r><x v="0"/><n v="2"/></r>'
        "</pivotCacheRecords>"
    )
    table = (
        f'{HEAD}<pivotTableDefinition xmlns="{MAIN}" name="P" cacheId="1" dataCaption="V">'
        '<location ref="A1:B2" firstHeaderRow="1" firstDataRow="1" firstDataCol="1"/>'
        '<pivotFields count="2"><pivotField axis="axisRow" showAll="0"/><pivotField dataField="1"/>'
        "</pivotFields></pivotTableDefinition>"
    )
    parts = package(
        {"S": sheet(f'<row r="1">{as_cells()}</row>'), "P": sheet("")},
        workbook='<pivotCaches><pivotCache cacheId="1" r:id="rIdP"/></pivotCaches>',
        relate=(("rIdP", "pivotCacheDefinition", "pivotCache/pivotCacheDefinition1.xml"),),
        extra={
            "xl/pivotCache/pivotCacheDefinition1.xml": cache,
            "xl/pivotCache/pivotCacheRecords1.xml": records,
            "xl/pivotCache/_rels/pivotCacheDefinition1.xml.rels": relations(
                ("rId1", "pivotCacheRecords", "pivotCacheRecords1.xml")
            ),
            "xl/pivotTables/pivotTable1.xml": table,
            "xl/pivotTables/_rels/pivotTable1.xml.rels": relations(
                ("rId1", "pivotCacheDefinition", "../pivotCache/pivotCacheDefinition1.xml")
            ),
            "xl/worksheets/_rels/sheet2.xml.rels": relations(
                ("rId1", "pivotTable", "../pivotTables/pivotTable1.xml")
            ),
        },
        types={
            "/xl/pivotCache/pivotCacheDefinition1.xml": f"{CONTENT}.pivotCacheDefinition+xml",
            "/xl/pivotCache/pivotCacheRecords1.xml": f"{CONTENT}.pivotCacheRecords+xml",
            "/xl/pivotTables/pivotTable1.xml": f"{CONTENT}.pivotTable+xml",
        },
    )
    write(parts, path)
    return expected("S")


@builds("links.xlsm")
def links(path: Path) -> Expected:
    link = (
        f'{HEAD}<externalLink xmlns="{MAIN}" xmlns:r="{DOCUMENT}"><externalBook r:id="rId1">'
        '<sheetNames><sheetName val="Other"/></sheetNames><definedNames>'
        '<definedName name="There" refersTo="=\'Other\'!$A$1"/></definedNames><sheetDataSet>'
        '<sheetData sheetId="0"><row r="1"><cell r="A1"><v>75</v></cell></row></sheetData>'
        "</sheetDataSet></externalBook></externalLink>"
    )
    dde = (
        f'{HEAD}<externalLink xmlns="{MAIN}"><ddeLink ddeService="cmd" ddeTopic="/c calc">'
        '<ddeItems><ddeItem name="A0" advise="1"/></ddeItems></ddeLink></externalLink>'
    )
    rows = (
        f'<row r="1">{as_cells()}</row><row r="2">'
        '<c r="A2"><f>[1]Other!A1</f><v>75</v></c>'
        '<c r="B2"><f>XF_FULL_LOAD_CURRENT(A2,480)</f><v>0</v></c>'
        '<c r="C2"><f>XF_FULL_LOAD_CURRENT([1]Other!A1,480)</f><v>7</v></c>'
        "<c r=\"D2\"><f>XF_AREA('file:///etc/[passwd]x'!A1)</f><v>7</v></c>"
        '<c r="E2"><f>[1]!XF_AREA("1/0")</f><v>7</v></c>'
        '<c r="F2"><f>[2]!A0</f><v>7</v></c>'
        '<c r="G2"><f>WEBSERVICE("https://example.invalid/")&amp;XF_AREA(6)</f><v>7</v></c></row>'
    )
    parts = package(
        {"S": sheet(rows)},
        macros=True,
        workbook='<externalReferences><externalReference r:id="rIdL"/>'
        '<externalReference r:id="rIdD"/></externalReferences>',
        relate=(
            ("rIdL", "externalLink", "externalLinks/externalLink1.xml"),
            ("rIdD", "externalLink", "externalLinks/externalLink2.xml"),
            ("rIdV", "vbaProject", "vbaProject.bin"),
        ),
        extra={
            "xl/externalLinks/externalLink1.xml": link,
            "xl/externalLinks/externalLink2.xml": dde,
            "xl/externalLinks/_rels/externalLink1.xml.rels": relations(
                ("rId1", "externalLinkPath", "file:///etc/passwd"), external=("rId1",)
            ),
            "xl/externalLinks/_rels/externalLink2.xml.rels": relations(),
            "xl/vbaProject.bin": b"\xd0\xcf\x11\xe0 no macros" * 99,
            "xl/printerSettings/printerSettings1.bin": b"\0P\0r\0i\0n\0t" * 99,
            "xl/worksheets/_rels/sheet1.xml.rels": relations(
                ("rId1", "printerSettings", "../printerSettings/printerSettings1.bin")
            ),
            "customXml/item1.xml": "<a xmlns='urn:x'><b/></a>",
            "xl/connections.xml": f'{HEAD}<connections xmlns="{MAIN}"><connection id="1" name="c" '
            'type="1"><dbPr connection="Provider=none" command="x"/></connection></connections>',
        },
    )
    write(parts, path)
    return expected("S") | {
        ("S", "A2"): 75,
        ("S", "B2"): AMPERES,
        ("S", "C2"): 7,
        ("S", "D2"): 7,
        ("S", "E2"): KCMIL,
        ("S", "F2"): 7,
        ("S", "G2"): 7,
    }


@builds("odd places.xlsx")
def odd_places(path: Path) -> Expected:
    """Parts under other names, absolute targets, a byte order mark, no XML declaration."""
    parts = package({"S": sheet(f'<row r="1">{as_cells()}</row>'), "T": sheet("")})
    parts["Work/book.xml"] = str(parts.pop("xl/workbook.xml")).removeprefix(HEAD)
    first = str(parts.pop("xl/worksheets/sheet1.xml"))
    parts["Work/pages/one.XML"] = b"\xef\xbb\xbf" + first.replace("\n", "\r\n").encode()
    parts["two.xml"] = str(parts.pop("xl/worksheets/sheet2.xml"))
    parts["_rels/.rels"] = relations(("main", "officeDocument", "/Work/book.xml"))
    del parts["xl/_rels/workbook.xml.rels"]
    parts["Work/_rels/book.xml.rels"] = relations(
        ("rId1", "worksheet", "./pages/../pages/one.XML"), ("rId2", "worksheet", "/two.xml")
    )
    parts["[Content_Types].xml"] = (
        str(parts["[Content_Types].xml"])
        .replace("/xl/workbook.xml", "/Work/book.xml")
        .replace("/xl/worksheets/sheet1.xml", "/Work/pages/one.XML")
        .replace("/xl/worksheets/sheet2.xml", "/two.xml")
    )
    write(parts, path)
    return expected("S")


@builds("extensions.xlsx")
def extensions(path: Path) -> Expected:
    """Namespaces, attributes and elements that newer versions add."""
    before = (
        "<!-- written by a program --><sheetPr codeName=\"S\"><tabColor rgb='FF00FF00'/></sheetPr>"
        '<dimension ref="A1"/><sheetViews><sheetView workbookViewId="0"/></sheetViews>'
        '<sheetFormatPr defaultRowHeight="15" x14ac:dyDescent="0.25"/>'
        '<cols><col min="1" max="1"/></cols>'
    )
    rows = f'<row r="1" spans="1:7" x14ac:dyDescent="0.25">{as_cells()}</row>'
    after = (
        '<mc:AlternateContent><mc:Choice Requires="x14"><controls><f>not a formula</f><c r="Q1"/>'
        "</controls></mc:Choice></mc:AlternateContent>"
        '<extLst><ext uri="{78C0D931-6437-407d-A8EE-F0AAD7539E65}"><x14:conditionalFormattings>'
        '<x14:conditionalFormatting><x14:cfRule type="expression"><xm:f>C1&gt;90</xm:f>'
        "</x14:cfRule><xm:sqref>A1</xm:sqref></x14:conditionalFormatting>"
        "</x14:conditionalFormattings></ext></extLst>"
    )
    xml = sheet(rows, before, after).replace(
        "<worksheet ",
        '<worksheet mc:Ignorable="x14ac xr" xr:uid="{0}" '
        'xmlns:mc="http://schemas.openxmlformats.org/markup-compatibility/2006" '
        'xmlns:x14ac="http://schemas.microsoft.com/office/spreadsheetml/2009/9/ac" '
        'xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main" '
        'xmlns:xm="http://schemas.microsoft.com/office/excel/2006/main" '
        'xmlns:xr="http://schemas.microsoft.com/office/spreadsheetml/2014/revision" ',
    )
    write(package({"S": xml}), path)
    return expected("S")


@builds("plain zip.xlsx")
def plain_zip(path: Path) -> Expected:
    """Stored instead of packed, with folders as members, an extra field and a comment."""
    parts = package({"S": sheet(f'<row r="1">{as_cells()}</row>')})
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as archive:
        archive.comment = b"a comment of the archive"
        archive.writestr("xl/", b"")
        for name, content in parts.items():
            info = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            info.extra = struct.pack("<2H4s", 0x9999, 4, b"mine")
            info.comment = b"a part"
            archive.writestr(info, content)
    return expected("S")


@builds("chain.xlsx")
def chain(path: Path) -> Expected:
    """A calculation chain, a circle among ordinary cells, errors and texts as stored results."""
    rows = (
        f'<row r="1">{as_cells()}</row>'
        '<row r="2"><c r="A2" t="e"><f>1/0</f><v>#DIV/0!</v></c>'
        '<c r="B2" t="str"><f>"a"&amp;"b"</f><v>ab</v></c><c r="C2" t="b"><f>1=1</f><v>1</v></c>'
        '<c r="D2"><f>E2</f><v>5</v></c><c r="E2"><f>D2</f><v>5</v></c>'
        '<c r="F2" t="e"><f>XF_FULL_LOAD_CURRENT(A2,480)</f><v>#NAME?</v></c></row>'
    )
    chained = "".join(f'<c r="{address}" i="1"/>' for address in FORMULAS)
    write(
        package(
            {"S": sheet(rows)},
            relate=(("rIdC", "calcChain", "calcChain.xml"),),
            extra={"xl/calcChain.xml": f'{HEAD}<calcChain xmlns="{MAIN}">{chained}</calcChain>'},
            types={"/xl/calcChain.xml": f"{CONTENT}.calcChain+xml"},
        ),
        path,
    )
    return expected("S") | {("S", "D2"): 5, ("S", "F2"): "#DIV/0!"}


def build_all(folder: Path) -> dict[Path, Expected]:
    folder.mkdir(parents=True, exist_ok=True)
    return {folder / name: builder(folder / name) for name, builder in BUILDERS.items()}
