"""How the workbooks of this package look, and how they are written."""

from __future__ import annotations

import datetime
import io
import re
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.utils.indexed_list import IndexedList
from openpyxl.worksheet.header_footer import HeaderFooterItem
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

PAPER_LETTER = 1
LINE = 13.5
FACE = "Arial"  # its widths are the same in every spreadsheet program, under one name or another
MOST_CHARACTERS = 1000

DARK, PALE, ANSWER, GRAY = "2F4A46", "E6ECEA", "FFF3C9", "6B7674"
RIGHT, WRONG, OPEN = "DCEBDD", "F6D9CF", "ECECEC"
THIN = Side("thin", color="B9C2C0")
EDGE = Side("medium", color=DARK)

WRAPPED = Alignment(wrap_text=True, vertical="top")
CENTERED = Alignment(horizontal="center", vertical="center", wrap_text=True)

STAMP = datetime.datetime(2000, 1, 1)
ZIP_STAMP = (1980, 1, 1, 0, 0, 0)


def filled(color: str) -> PatternFill:
    """Return a plain fill."""
    return PatternFill("solid", fgColor=color)


def font(*, size: float = 10, bold: bool = False, color: str = "000000") -> Font:
    """Return the one typeface of these workbooks."""
    return Font(name=FACE, size=size, bold=bold, color=color)


def box() -> Border:
    """Return the frame of a cell that is filled in."""
    return Border(left=EDGE, right=EDGE, top=EDGE, bottom=EDGE)


def new_book(title: str) -> Workbook:
    """Return a workbook with no sheet and with properties that tell nothing of the machine."""
    book = Workbook()
    book.remove(book.worksheets[0])
    # The first font is that of every cell without one, and the widths of columns go by it.
    book._fonts = IndexedList([font()])  # type: ignore[attr-defined]
    book._named_styles["Normal"].font = font()  # type: ignore[attr-defined]
    book.properties.title = title
    book.properties.creator = "xlfuncs"
    book.properties.created = STAMP
    return book


def put(sheet: Worksheet, row: int, column: int, value: Any) -> Any:
    """Write a plain value; a text stays a text, whatever it begins with."""
    cell = sheet.cell(row, column)
    if isinstance(value, str):
        cell.value = ILLEGAL_CHARACTERS_RE.sub(" ", value)[:MOST_CHARACTERS]
        if cell.data_type != "s" or value.startswith(("=", "+", "-", "@")):
            # openpyxl takes "=..." for a formula and "#N/A" for an error; the prefix keeps a
            # program from turning the text into a formula when the cell is edited.
            cell.data_type = "s"
            cell.quotePrefix = True
    else:
        cell.value = value
    return cell


def headings(sheet: Worksheet, row: int, texts: Sequence[str], widths: Sequence[float]) -> None:
    """Write the row of headings and set the widths of the columns."""
    for column, (text, width) in enumerate(zip(texts, widths, strict=True), 1):
        cell = put(sheet, row, column, text)
        cell.font = font(bold=True, color="FFFFFF")
        cell.fill = filled(DARK)
        cell.alignment = Alignment(wrap_text=True, vertical="center")
        sheet.column_dimensions[get_column_letter(column)].width = width


def lined(sheet: Worksheet, row: int, columns: int) -> None:
    """Draw a thin line below the cells of a row and let their texts wrap."""
    for column in range(1, columns + 1):
        cell = sheet.cell(row, column)
        cell.border = Border(bottom=THIN)
        cell.alignment = WRAPPED


def lines_needed(text: str, width: float) -> int:
    """Lines that a text takes in a column; a little generous, as fonts differ."""
    return sum(max(1, -(-len(part) // int(1.15 * width))) for part in text.split("\n"))


def page(sheet: Worksheet, *, landscape: bool = False, fit: bool = True, code: str = "") -> None:
    """Set the sheet up for paper: letter, narrow margins, title and page number at the edges."""
    setup = sheet.page_setup
    setup.paperSize = PAPER_LETTER
    setup.orientation = "landscape" if landscape else "portrait"
    margins = sheet.page_margins
    margins.left = margins.right = 0.6
    margins.top = margins.bottom = 0.7
    margins.header = margins.footer = 0.35
    if fit:
        sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
        setup.fitToWidth = 1
        setup.fitToHeight = 0
    footer = HeaderFooterItem()
    footer.left.text, footer.right.text = code or sheet.title, "page &P of &N"
    sheet.oddFooter = footer
    sheet.sheet_view.showGridLines = False


def read_me(book: Workbook, title: str, texts: Sequence[str]) -> Worksheet:
    """Add the first sheet: a title and paragraphs."""
    sheet: Worksheet = book.create_sheet("Read me")
    sheet.column_dimensions["A"].width = 88
    for row, text in enumerate([title, *texts], 1):
        cell = put(sheet, row, 1, text)
        cell.alignment = WRAPPED
        if row == 1:
            cell.font = font(bold=True, size=16, color=DARK)
            sheet.row_dimensions[row].height = 2 * LINE
        else:
            sheet.row_dimensions[row].height = LINE * lines_needed(text, 88) + 6
    page(sheet)
    return sheet


def save(book: Workbook, path: Path) -> None:
    """Write the workbook so that the same contents give the same bytes."""
    raw = io.BytesIO()
    book.save(raw)
    fixed = io.BytesIO()
    with zipfile.ZipFile(raw) as before, zipfile.ZipFile(fixed, "w", zipfile.ZIP_DEFLATED) as after:
        for info in before.infolist():
            content = before.read(info)
            if info.filename == "docProps/core.xml":  # openpyxl stamps the time of saving
                stamp = STAMP.isoformat().encode() + b"Z"
                content = re.sub(rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>" + stamp, content)
            member = zipfile.ZipInfo(info.filename, ZIP_STAMP)
            member.compress_type = zipfile.ZIP_DEFLATED
            after.writestr(member, content)
    path.write_bytes(fixed.getvalue())
