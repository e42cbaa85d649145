"""What the workbooks share: colors, cell formats, the first sheet, and filling."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Any

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from xlfuncs.hosts.workbook import Report, fill

FONT = "Arial"  # its widths are the same in every spreadsheet program
INK = "#22303A"
SLATE = "#3B4A54"
INPUT_HEAD = "#2E6E8E"
BUY_HEAD = "#8A5A1F"
RESULT = "#EDEFF1"
LINE = "#C3CAD0"
QUIET = "#6B7780"
ALERT = "#F6D9B8"
ALERT_INK = "#7A3B00"
GOOD_INK = "#2F6B3C"
STOP = "#E9B8B1"
SERIES = ("#2E6E8E", "#8FB8CC", "#C9873B", "#7C8B57")

CAUTIONS = [
    "A wrong number can hurt someone. This workbook helps a qualified person to check work. The "
    "adopted code, the authority having jurisdiction and licensed practice decide.",
    "De-energize, lock out and verify the absence of voltage before you touch anything. No figure "
    "in this workbook shows that a part is dead.",
    "The rules are those of the model code, paraphrased; local amendments are not in it. Tables "
    "that are from memory are marked so in the project's list of tables.",
]

INVENTED = (
    "Every town, place, person and figure in this workbook is invented. Put your own job in and "
    "take ours out."
)

# The same file comes out of the same code, whenever it runs.
CREATED = datetime.datetime(2025, 1, 1, tzinfo=datetime.UTC).replace(tzinfo=None)


class Book:
    """A workbook being written, with its formats kept by what they hold."""

    def __init__(self, path: Path, title: str) -> None:
        self.book = xlsxwriter.Workbook(str(path))
        self.book.set_properties({"title": title, "created": CREATED})
        self.book.formats[0].set_font_name(FONT)
        self.book.formats[0].set_font_size(10)
        self._formats: dict[tuple[tuple[str, Any], ...], Format] = {}

    def look(self, **properties: Any) -> Format:
        """Return the cell format with these properties, on top of the workbook's own."""
        whole = {
            "font_name": FONT,
            "font_size": 10,
            "font_color": INK,
            "valign": "vcenter",
            **properties,
        }
        key = tuple(sorted(whole.items()))
        if key not in self._formats:
            self._formats[key] = self.book.add_format(whole)
        return self._formats[key]

    def input(self, **properties: Any) -> Format:
        """Return the look of a cell to fill in: white, framed."""
        return self.look(border=1, border_color=LINE, **properties)

    def result(self, **properties: Any) -> Format:
        """Return the look of a cell that a formula answers: gray."""
        return self.look(border=1, border_color=LINE, bg_color=RESULT, **properties)

    def head(self, color: str = SLATE, **properties: Any) -> Format:
        """Return the look of a heading."""
        return self.look(
            **{
                "bold": True,
                "font_color": "#FFFFFF",
                "bg_color": color,
                "border": 1,
                "border_color": "#FFFFFF",
                "text_wrap": True,
                **({} if "align" in properties else {"indent": 1}),
                **properties,
            }
        )

    def sheet(self, name: str, tab: str = SLATE) -> Worksheet:
        """Add a sheet without gridlines, set up for US letter paper with a footer."""
        sheet = self.book.add_worksheet(name)
        sheet.hide_gridlines(2)
        sheet.set_tab_color(tab)
        sheet.set_paper(1)
        sheet.set_margins(left=0.4, right=0.4, top=0.45, bottom=0.6)
        sheet.set_footer("&L&8&F, &A&C&8Check by the adopted code before use&R&8Page &P of &N")
        return sheet

    def read_me(self, title: str, sections: list[tuple[str, list[str]]]) -> Worksheet:
        """Write the first sheet: what the workbook is, how to use it, the cautions."""
        sheet = self.sheet("Read me", INPUT_HEAD)
        sheet.set_portrait()
        sheet.fit_to_pages(1, 1)
        sheet.set_column(0, 0, 3)
        sheet.set_column(1, 1, 96)
        sheet.set_row(0, 34)
        sheet.merge_range(0, 0, 0, 1, title, self.look(bold=True, font_size=18))
        row = 1
        for heading, lines in [*sections, ("Cautions", CAUTIONS)]:
            alert = heading == "Cautions"
            color = {"font_color": ALERT_INK} if alert else {"font_color": INPUT_HEAD}
            sheet.set_row(row, 24)
            sheet.write(row, 0, heading, self.look(bold=True, font_size=12, **color))
            row += 1
            for line in lines:
                back = {"bg_color": ALERT} if alert else {}
                sheet.set_row(row, 5 + 13.5 * (1 + len(line) // 112))
                sheet.write(row, 0, "•", self.look(align="right", valign="top", **back))
                sheet.write(row, 1, line, self.look(text_wrap=True, valign="top", **back))
                row += 1
        sheet.print_area(0, 0, row - 1, 1)
        return sheet

    def mark_messages(self, sheet: Worksheet, area: str, first: str) -> None:
        """Let messages and what stands for trouble be seen: a fill in `area`."""
        alert = self.book.add_format({"bg_color": ALERT, "font_color": ALERT_INK})
        sheet.conditional_format(
            area,
            {"type": "formula", "criteria": f'=LEFT({first},6)="Check:"', "format": alert},
        )

    def close(self) -> None:
        self.book.close()


def finish(path: Path) -> Report:
    """Compute all formulas of a built workbook and store the results in it."""
    return fill(path, path, in_place=True, share=True, recompute_all=True)
