"""One transformer installation for an engineer: two pages from the nameplate to the readings."""

from __future__ import annotations

import textwrap
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

from openpyxl import load_workbook
from xlsxwriter.utility import xl_col_to_name, xl_rowcol_to_cell
from xlsxwriter.worksheet import Worksheet

from xlfuncs.installation import COLUMNS

from .look import (
    ALERT,
    ALERT_INK,
    INK,
    INPUT_HEAD,
    INVENTED,
    LINE,
    QUIET,
    RESULT,
    SLATE,
    STOP,
    Book,
    finish,
)

FILE_NAME = "one_installation.xlsx"
TITLE = "One transformer installation"

YES_NO = ["yes", "no"]


class Entry(NamedTuple):
    """A cell to fill in; other cells find it by its name."""

    name: str
    label: str
    value: Any
    unit: str = ""
    choices: tuple[Any, ...] = ()


ENTRIES = [
    Entry("Rated_kVA", "Rating", 112.5, "kVA"),
    Entry("Phases", "Phases", 3, "", (3, 1)),
    Entry("Primary_V", "Primary, line to line", 480, "V"),
    Entry("Secondary_V", "Secondary, line to line", 208, "V"),
    Entry("Neutral", "Secondary has a neutral", "yes", "", ("yes", "no")),
    Entry("Impedance", "Impedance of the nameplate", 4.2, "%"),
    Entry("Primary_run", "Primary run, one way", 85, "ft"),
    Entry("Secondary_run", "Secondary run to its device", 18, "ft"),
    Entry("Secondary_protected", "Device on the secondary", "yes", "", ("yes", "no")),
    Entry("Panel_fed", "Feeds a panelboard", "yes", "", ("yes", "no")),
    Entry("Primary_percent", "Primary device, part of rated", 125, "%"),
    Entry("Material", "Conductor metal", "copper", "", ("copper", "aluminum")),
    Entry("Insulation", "Insulation", "THHN", "", ("THHN", "THWN-2", "XHHW-2", "THW")),
    Entry("Terminals", "Terminals marked for", 75, "degC", (60, 75)),
    Entry("Ambient", "Ambient of the conductors", 30, "degC"),
    Entry(
        "Raceway", "Raceway", "EMT", "", ("EMT", "FMC", "LFMC", "IMC", "RMC", "PVC40", "PVC80")
    ),
    Entry("Power_factor", "Power factor of the load", 0.85),
    Entry("Condition", "Opposite the panel, 110.26", 2, "", (1, 2, 3)),
    Entry("Load_percent", "Load for the heat", 60, "%"),
    Entry("Edition", "Edition of NFPA 70", 2023, "", (2017, 2020, 2023)),
]  # fmt: skip

INSTALLATION = (
    "Rated_kVA,Primary_V,Secondary_V,Primary_run,Secondary_run,Phases,Secondary_protected,"
    "Primary_percent,Material,Insulation,Terminals,Ambient,Raceway,Neutral,Power_factor,Edition"
)


class Result(NamedTuple):
    """A line of results: from a column of the installation's row, or a formula of its own."""

    label: str
    unit: str
    answer: str
    sources: tuple[str, ...]
    shown: str = "General"
    chosen: str = ""  # what may be chosen in its place, by name


RESULTS = [
    Result("Primary current", "A", "primary current A", ("FULL_LOAD_CURRENT",), "0.0"),
    Result("Primary device", "A", "primary device A", ("STANDARD_RATING",), "0", "Primary_device"),
    Result("Largest allowed there", "A", "largest primary device A", ("PRIMARY_PROTECTION",), "0"),
    Result("Primary sets", "", "primary sets", ("PROTECTED_SIZE",), "0", "Primary_sets"),
    Result(
        "Primary conductor", "", "primary conductor", ("PROTECTED_SIZE",), chosen="Primary_size"
    ),
    Result(
        "Equipment ground", "",
        "=XF_EQUIPMENT_GROUND({Primary_device},Material,{primary conductor},{Primary_size})",
        ("EQUIPMENT_GROUND",),
    ),
    Result(
        "Primary raceway", "",
        "=XF_RACEWAY_SIZE(Raceway,Insulation,{Primary_size},IF(Phases=1,2,3),{Equipment ground},1)",
        ("RACEWAY_SIZE",),
    ),
    Result(
        "Primary drop", "%",
        "=XF_VOLTAGE_DROP_PERCENT({primary current A},Primary_V,Primary_run,{Primary_size},Phases,"
        "Power_factor,Material,Raceway,{Primary_sets})",
        ("VOLTAGE_DROP_PERCENT",), "0.00",
    ),
    Result("Secondary current", "A", "secondary current A", ("FULL_LOAD_CURRENT",), "0.0"),
    Result(
        "Secondary device", "A", "secondary device A", ("SECONDARY_PROTECTION",), "0",
        "Secondary_device",
    ),
    Result(
        "Secondary sets", "", "secondary sets", ("SECONDARY_AMPACITY",), "0", "Secondary_sets"
    ),
    Result(
        "Secondary conductor", "", "secondary conductor", ("SECONDARY_AMPACITY", "PROTECTED_SIZE"),
        chosen="Secondary_size",
    ),
    Result(
        "Supply-side bonding jumper", "",
        "=XF_BONDING_JUMPER({Secondary_size},1,Material,Material)", ("BONDING_JUMPER",),
    ),
    Result(
        "System bonding jumper", "",
        "=XF_BONDING_JUMPER({Secondary_size},{Secondary_sets},Material,Material)",
        ("BONDING_JUMPER",),
    ),
    Result(
        "Electrode conductor", "",
        "=XF_ELECTRODE_CONDUCTOR({Secondary_size},{Secondary_sets},Material,Material)",
        ("ELECTRODE_CONDUCTOR",),
    ),
    Result(
        "Secondary raceway", "",
        "=XF_RACEWAY_SIZE(Raceway,Insulation,{Secondary_size},IF(Phases=1,2,3)+IF(Neutral="
        '"yes",1,0),{Supply-side bonding jumper},1)',
        ("RACEWAY_SIZE",),
    ),
    Result(
        "Secondary drop", "%",
        "=XF_VOLTAGE_DROP_PERCENT({secondary current A},Secondary_V,Secondary_run,"
        "{Secondary_size},Phases,Power_factor,Material,Raceway,{Secondary_sets})",
        ("VOLTAGE_DROP_PERCENT",), "0.00",
    ),
    Result(
        "Secondary to ground", "V", "secondary volts to ground V", ("VOLTS_TO_GROUND",), "0"
    ),
    Result("Bond it over 250 V", "", "bond over 250 V", ("BOND_OVER_250",)),
    Result(
        "Fault current, supply unlimited", "A",
        "=XF_FAULT_CURRENT(Rated_kVA,Secondary_V,Impedance,Phases)", ("FAULT_CURRENT",), "#,##0",
    ),
    Result(
        "Working depth at the panel", "ft",
        "=XF_WORKING_DEPTH({secondary volts to ground V},Condition)", ("WORKING_DEPTH",), "0.0",
    ),
    Result(
        "Heat at that load", "W", "=XF_HEAT_LOSS(Rated_kVA,Load_percent,Phases)", ("HEAT_LOSS",),
        "#,##0",
    ),
    Result(
        "Secondary colors", "", "=XF_PHASE_COLORS(Secondary_V)", ("PHASE_COLORS",),
    ),
]  # fmt: skip

# Their sources take two lines of the page.
LONG_SOURCES = {
    "PRIMARY_PROTECTION", "SECONDARY_PROTECTION", "EQUIPMENT_GROUND", "BONDING_JUMPER",
    "ELECTRODE_CONDUCTOR", "FAULT_CURRENT",
}  # fmt: skip

# Sheet of the tables that come whole; first column of each, and the lines that are shown of it.
SPILLED = "Spilled"
STEPS_AT, REVIEW_AT, READINGS_AT, ROW_AT = 0, 6, 10, 14
STEPS_SHOWN, REVIEW_SHOWN, READINGS_SHOWN = 56, 24, 8

# Nominal reading, line to line and line to neutral; what the meter showed, invented.
READINGS = {
    "A to B": 205.1, "B to C": 206.4, "C to A": 204.8,
    "A to N": 118.2, "B to N": 119.0, "C to N": 118.7, "N to ground": 0.7,
}  # fmt: skip

CHECKS = [
    "Nameplate compared", "Torque of terminals recorded", "System jumper in one place only",
    "Insulation resistance, MΩ", "Phase rotation", "Vents and clearances",
]  # fmt: skip

READ_ME = [
    ("What it is", [
        "The calculation and the record of one dry-type transformer with its feeders, for an "
        "engineer: two printed pages. Page 1 is the installation with its rules and its review; "
        "page 2 is the record after energizing and the worked steps.",
        INVENTED,
    ]),
    ("How to use it", [
        "Installation: fill in the white cells at the left. The results beside them follow, each "
        "with its unit and the sections behind it.",
        "Where you choose another device, size or number of sets, write it in the column 'Chosen'. "
        "Grounds, jumpers, raceways, drops, the one-line diagram and the review follow what is "
        "chosen; whether the choice itself holds is for the review to say.",
        "Review: first what stops, then what to look at, then what holds. Settle every stop.",
        "Record: after energizing write the readings in the white cells; deviations, ranges, "
        "unbalance, tap and findings follow. Fill in the checks, sign and file both pages.",
        "A text that begins with 'Check:' is no result: it names the entry and its limit.",
    ]),
    ("What is assumed", [
        "Breakers; the full load counts as continuous; the neutral is as large as the phases and "
        "not counted as current-carrying; one set in each raceway; jumpers of the same metal.",
        "The review sees the values on page 1 and nothing else: not the place, not the load.",
        "A 240 V secondary with a neutral is a high-leg delta where it has three phases; this "
        "workbook is not made for it.",
    ]),
    ("With and without the functions", [
        "The results are stored in the file, so anyone can read and print them. To compute again "
        "after a change: open it in a spreadsheet that has the functions, or run "
        "'xlfuncs fill one_installation.xlsx'.",
        "A hidden sheet, Spilled, holds the tables that the functions return whole; the pages show "
        "its lines. Where a table has more lines than the page, the page says so. Where a finding "
        "is cut off, select its rows and fit their height.",
    ]),
]  # fmt: skip


def build(path: Path) -> None:
    """Write the workbook; its formulas are not computed yet.

    A draft tells how long the findings are, for the heights of their rows.
    """
    with TemporaryDirectory() as folder:
        draft = Path(folder) / FILE_NAME
        _write(draft, {})
        finish(draft)
        lines = _lines_of_findings(draft)
    _write(path, lines)


def _write(path: Path, lines: dict[tuple[str, int], int]) -> None:
    book = Book(path, TITLE)
    book.read_me(TITLE, READ_ME)
    page = InstallationPage(book)
    page.write()
    record = RecordPage(book)
    record.write()
    _spilled(book, page, record)
    for (name, row), count in lines.items():
        book.book.get_worksheet_by_name(name).set_row(row, 12 * count + 3)
    book.close()


def _lines_of_findings(path: Path) -> dict[tuple[str, int], int]:
    """Lines that each finding takes in its cell: by sheet and row."""
    book = load_workbook(path, data_only=True)
    found = {}
    for name, page in (("Installation", InstallationPage), ("Record", RecordPage)):
        width = page.FINDING_CHARACTERS
        for row in range(page.FINDINGS, page.FINDINGS + page.SHOWN):
            text = book[name].cell(row + 1, 2).value or ""
            found[name, row] = max(1, len(textwrap.wrap(text, width)))
    return found


def _line(column: int, row: int) -> str:
    """Refer to a cell of a spilled table."""
    return f"{SPILLED}!{xl_rowcol_to_cell(row, column, True, True)}"


def _write_merged(
    sheet: Worksheet, row: int, first: int, last: int, value: Any, look: Any, end: int | None = None
) -> None:
    """Write over columns (and rows) as one cell."""
    end = row if end is None else end
    if first == last and end == row:
        sheet.write(row, first, value, look)
        return
    sheet.merge_range(row, first, end, last, "", look)
    sheet.write(row, first, value, look)


def _table_lines(
    book: Book,
    sheet: Worksheet,
    top: int,
    shown: int,
    source: int,
    places: list[tuple[int, int]],
    number_at: int | None = None,
) -> None:
    """Show the lines of a spilled table, and say where it goes on.

    `places` gives the first and last column of each of the table's columns, `number_at` the one
    that holds numbers.
    """
    line = {"font_size": 9, "bottom": 4, "bottom_color": LINE, "align": "left"}
    line |= {"shrink": True} if number_at is not None else {"text_wrap": True}
    for row in range(shown):
        head = _line(source, row)
        for number, (first, last) in enumerate(places):
            cell = _line(source + number, row)
            # A table that is refused is one message; it goes into the widest column. A dash stands
            # for a blank, since LibreOffice computes again where the stored text is empty.
            told, look = f'IF({cell}="","–",{cell})', {"indent": 1}
            if number == 0:
                told, look = f'IF(LEFT({head},6)="Check:","stop",{head})', {"bold": True}
            elif number == 1:
                told, look = f'IF(LEFT({head},6)="Check:",{head},{cell})', {}
            elif number == number_at:
                told, look = f'IF(ISNUMBER({cell}),ROUND({cell},4),{cell}&"")', {"align": "right"}
            formula = f'=IF({head}="","",{told})'
            _write_merged(sheet, top + row, first, last, formula, book.look(**{**line, **look}))
    over = _line(source, shown)
    last = max(last for _, last in places)
    sheet.write(
        top - 1, last,
        f'=IF({over}="","All lines are shown","Check: more lines than shown here")',
        book.head(align="right", bold=False, font_size=8),
    )  # fmt: skip
    book.mark_messages(sheet, xl_rowcol_to_cell(top - 1, last), xl_rowcol_to_cell(top - 1, last))


def _fit_heights(book: Book, sheet: Worksheet, top: int, shown: int, column: int) -> None:
    """Lay the findings into a column outside the print area, as wide as the cells that show them.

    Merged cells do not set the height of their row; these cells do, where people fit it.
    """
    look = book.look(font_size=9, font_color="#FFFFFF", text_wrap=True)
    for row in range(top, top + shown):
        sheet.write(row, column, f'=IF(B{row + 1}="","",B{row + 1})', look)


def _mark_severity(book: Book, sheet: Worksheet, top: int, shown: int, last: int) -> None:
    area = f"A{top + 1}:{xl_col_to_name(last)}{top + shown}"
    for severity, color in (("stop", STOP), ("check", ALERT)):
        sheet.conditional_format(
            area,
            {
                "type": "formula",
                "criteria": f'=LEFT($A{top + 1},{len(severity)})="{severity}"',
                "format": book.book.add_format({"bg_color": color}),
            },
        )


class InstallationPage:
    """Page 1: entries, results, one-line diagram, review."""

    # Columns: A B entry, C value, D unit, E gap, F result, G calculated, H chosen, I unit, J K rule
    WIDTHS = (9, 18, 11, 6, 1, 27, 11.5, 11.5, 5, 15, 31)
    FIT = 12
    DIAGRAM, LISTS = 6, 14
    REVIEW = LISTS + 2 + len(RESULTS) + 1
    FINDINGS, SHOWN, FINDING_CHARACTERS = REVIEW + 1, REVIEW_SHOWN, 145

    def __init__(self, book: Book) -> None:
        self.book = book
        self.sheet = book.sheet("Installation", INPUT_HEAD)
        self.cells: dict[str, str] = {}
        self.used: dict[str, str] = {}
        for number, result in enumerate(RESULTS):
            row = self.LISTS + 2 + number
            cell, chosen = (
                f"Installation!{xl_rowcol_to_cell(row, column, True, True)}" for column in (6, 7)
            )
            self.cells |= {result.answer: cell, result.label: cell}
            if result.chosen:
                self.used[result.chosen] = f'IF({chosen}="",{cell},{chosen})'

    def write(self) -> None:
        sheet, book = self.sheet, self.book
        for column, width in enumerate(self.WIDTHS):
            sheet.set_column(column, column, width)
        sheet.set_column(self.FIT, self.FIT, sum(self.WIDTHS[1:10]))
        sheet.set_row(0, 26)
        sheet.write(0, 0, TITLE, book.look(bold=True, font_size=16))
        caution = (
            "Helps a qualified person to check work; the adopted code, the authority having "
            "jurisdiction and licensed practice decide. De-energize and verify before you touch."
        )
        sheet.write(1, 0, caution, book.look(font_color=ALERT_INK, font_size=9))
        self._job()
        self._diagram()
        self._entries()
        self._results()
        self._review()
        sheet.set_portrait()
        sheet.fit_to_pages(1, 1)
        sheet.print_area(0, 0, self.REVIEW + REVIEW_SHOWN, 10)
        sheet.freeze_panes(2, 0)

    def _job(self) -> None:
        label = self.book.look(font_color=QUIET, font_size=9)
        lines = [
            ("Project", "Library annex, Brindlemoor (invented)", "Prepared by", "A. Sample"),
            ("Transformer", "T-105, electrical room, ground floor", "Reviewed by", ""),
        ]
        for row, (first, project, second, name) in enumerate(lines, 3):
            self.sheet.write(row, 0, first, label)
            _write_merged(self.sheet, row, 1, 5, project, self.book.input(align="left", indent=1))
            self.sheet.write(row, 6, second, label)
            _write_merged(self.sheet, row, 7, 9, name, self.book.input(align="left", indent=1))
            self.sheet.write(row, 10, "Date:", self.book.input(align="left", font_color=QUIET))

    def _diagram(self) -> None:
        """Draw supply, device, conductors, transformer, conductors, device and panel as cells."""
        sheet, book, top = self.sheet, self.book, self.DIAGRAM
        box = {"border": 2, "border_color": SLATE, "align": "center", "text_wrap": True}
        used, of = self.used, self.cells
        phases = 'IF(Phases=1,"1-phase","3-phase")'
        wires = 'IF(Phases=1,2,3)+IF(Neutral="yes",1,0)'
        _write_merged(sheet, top, 0, 10, "One-line diagram, not to scale", book.head())
        for row in range(top + 1, top + 7):
            sheet.set_row(row, 14)
        boxes = [
            (0, 1, f'="Supply"&CHAR(10)&Primary_V&" V, "&{phases}', RESULT),
            (2, 3, f'="Device"&CHAR(10)&{used["Primary_device"]}&" A"', "#FFFFFF"),
            (6, 7, '=Rated_kVA&" kVA"&CHAR(10)&Primary_V&" / "&Secondary_V&" V"', RESULT),
            (10, 10, f'="Device "&IF({used["Secondary_device"]}="","none",'
             f'{used["Secondary_device"]}&" A")&CHAR(10)&IF(Panel_fed="yes","Panelboard","Load")'
             '&" "&Secondary_V&" V"', RESULT),
        ]  # fmt: skip
        for first, last, formula, color in boxes:
            look = book.look(**box, bold=True, bg_color=color)
            _write_merged(sheet, top + 2, first, last, formula, look, end=top + 5)
        above = book.look(align="center", font_size=9)
        line = book.look(align="center", font_size=9, bottom=2, bottom_color=SLATE)
        runs = [
            (4, 5, "Primary", used["Primary_sets"], "IF(Phases=1,2,3)", used["Primary_size"],
             of["Equipment ground"], "ground", "Primary_run"),
            (8, 9, "Secondary", used["Secondary_sets"], wires, used["Secondary_size"],
             of["Supply-side bonding jumper"], "jumper", "Secondary_run"),
        ]  # fmt: skip
        for first, last, side, sets, count, size, ground, kind, run in runs:
            several = f'IF({sets}>1,{sets}&" sets of ","")'
            texts = [
                (top + 2, f'={several}&({count})&" × "&{size}', above),
                (top + 3, f'="with "&{ground}&" {kind}"', line),
                (top + 4, f'={of[f"{side} raceway"]}&" "&Raceway&", "&{run}&" ft"', above),
                (top + 5, f'="drop "&TEXT({of[f"{side} drop"]},"0.00")&" %"', above),
            ]
            for row, formula, look in texts:
                _write_merged(sheet, row, first, last, formula, look)
        ground = (
            f'="Jumpers and electrode at the transformer or its first disconnect: system "&'
            f"{of['System bonding jumper']}&"
            f'", supply-side "&{of["Supply-side bonding jumper"]}&'
            f'", electrode conductor "&{of["Electrode conductor"]}'
        )
        _write_merged(sheet, top + 6, 0, 10, ground, book.look(align="center", font_size=9))

    def _entries(self) -> None:
        sheet, book = self.sheet, self.book
        _write_merged(sheet, self.LISTS, 0, 3, "Fill in", book.head(INPUT_HEAD))
        sub = book.look(font_color=QUIET, font_size=8)
        _write_merged(sheet, self.LISTS + 1, 0, 1, "Nameplate and installation", sub)
        for row, entry in enumerate(ENTRIES, self.LISTS + 2):
            look = book.look(bottom=4, bottom_color=LINE)
            _write_merged(sheet, row, 0, 1, entry.label, look)
            sheet.write(row, 2, entry.value, book.input(bold=True, align="center"))
            sheet.write(row, 3, entry.unit, book.look(font_color=QUIET, indent=1))
            cell = xl_rowcol_to_cell(row, 2, True, True)
            book.book.define_name(entry.name, f"=Installation!{cell}")
            if entry.choices:
                rule = {"validate": "list", "source": list(entry.choices),
                        "error_message": f"{entry.label}: choose one of the list."}  # fmt: skip
                sheet.data_validation(row, 2, row, 2, rule)

    def _results(self) -> None:
        sheet, book = self.sheet, self.book
        _write_merged(sheet, self.LISTS, 5, 10, "Results", book.head())
        sub = book.look(font_color=QUIET, font_size=8, align="center")
        for column, title in ((6, "Calculated"), (7, "Chosen")):
            sheet.write(self.LISTS + 1, column, title, sub)
        _write_merged(
            sheet, self.LISTS + 1, 9, 10, "Rule (numbering of NFPA 70-2023 where not named)",
            book.look(font_color=QUIET, font_size=8),
        )  # fmt: skip
        for row, result in enumerate(RESULTS, self.LISTS + 2):
            long = len(result.sources) > 1 or LONG_SOURCES.intersection(result.sources)
            sheet.set_row(row, 22 if long else 15)
            line = {"bottom": 4, "bottom_color": LINE}
            sheet.write(row, 5, result.label, book.look(**line))
            look = book.result(align="center", num_format=result.shown, bold=True)
            if result.label == "Secondary colors":
                colors = book.result(align="left", font_size=9, shrink=True)
                _write_merged(sheet, row, 6, 10, self._formula(result), colors)
            else:
                sheet.write(row, 6, self._formula(result), look)
                sheet.write(row, 8, result.unit, book.look(font_color=QUIET, indent=1))
            if result.chosen:
                # As text, or a spreadsheet program reads 1/0 as a date.
                typed = {"num_format": "@"} if result.shown == "General" else {}
                look = book.input(bold=True, align="center", font_color=INPUT_HEAD, **typed)
                sheet.write_blank(row, 7, None, look)
            sources = '&"; "&'.join(f'XF_SOURCE("XF_{name}")' for name in result.sources)
            rule = f'=SUBSTITUTE({sources},"NFPA 70-2023, ","")'
            if result.label != "Secondary colors":
                small = book.look(font_size=8, font_color=INK, text_wrap=True, **line)
                _write_merged(sheet, row, 9, 10, rule, small)
        first, last = self.LISTS + 2, self.LISTS + 1 + len(RESULTS)
        book.mark_messages(sheet, f"G{first + 1}:G{last + 1}", f"G{first + 1}")

    def _formula(self, result: Result) -> str:
        if result.answer.startswith("="):
            return result.answer.format(**self.cells, **self.used)
        cell = _line(ROW_AT + COLUMNS.index(result.answer), 0)
        # Where the whole row is refused, its first cell holds the message and the rest is blank.
        first = _line(ROW_AT, 0)
        blank, told = '"Check: no answer here"', cell
        if result.chosen == "Secondary_device":
            blank = f'IF(Secondary_protected="no","none",{blank})'
        if result.answer == "bond over 250 V":
            told = f'IF({cell}=TRUE,"yes",IF({cell}=FALSE,"no",{cell}))'
        return f'=IF(LEFT({first},6)="Check:",{first},IF({cell}="",{blank},{told}))'

    def _review(self) -> None:
        sheet, book, top = self.sheet, self.book, self.REVIEW
        _write_merged(sheet, top, 0, 9, "Review of what is used (chosen, else calculated)",
                      book.head())  # fmt: skip
        _table_lines(
            book, sheet, self.FINDINGS, REVIEW_SHOWN, REVIEW_AT, [(0, 0), (1, 9), (10, 10)]
        )
        _fit_heights(book, sheet, self.FINDINGS, REVIEW_SHOWN, self.FIT)
        _mark_severity(book, sheet, self.FINDINGS, REVIEW_SHOWN, 10)

    def review(self) -> str:
        """Formula of the review of what is used."""
        used = self.used
        winding = (
            'IF(Phases=1,IF(Neutral="yes","three-wire","two-wire"),IF(Neutral="yes","wye","delta"))'
        )
        device = used["Secondary_device"]
        return (
            f"XF_INSTALLATION_REVIEW(Rated_kVA,Primary_V,Secondary_V,{used['Primary_device']},"
            f'{used["Primary_size"]},IF({device}="none",0,{device}),{used["Secondary_size"]},'
            f"Secondary_run,{winding},Panel_fed,Phases,Terminals,Impedance,Edition,Material,"
            f"{used['Primary_sets']},{used['Secondary_sets']})"
        )


class RecordPage:
    """Page 2: the readings and their verdicts, the checks, the worked steps."""

    WIDTHS = (30, 17, 17, 17, 17, 11.5, 13, 36)
    FIT = 9
    READ, FINDINGS = 3, 11
    SHOWN, FINDING_CHARACTERS = READINGS_SHOWN, 122
    CHECKED = FINDINGS + READINGS_SHOWN + 1
    STEPS = CHECKED + 5

    def __init__(self, book: Book) -> None:
        self.book = book
        self.sheet = book.sheet("Record", INPUT_HEAD)
        self.values = [
            xl_rowcol_to_cell(self.READ + 1, column, True, True)
            for column in range(1, 1 + len(READINGS))
        ]

    def write(self) -> None:
        sheet, book = self.sheet, self.book
        for column, width in enumerate(self.WIDTHS):
            sheet.set_column(column, column, width)
        sheet.set_column(self.FIT, self.FIT, sum(self.WIDTHS[1:7]))
        sheet.set_row(0, 26)
        sheet.write(0, 0, "Record after energizing", book.look(bold=True, font_size=16))
        caution = (
            "Readings on live parts: qualified persons only, with the protection that the task "
            "asks for. A reading never shows that a part is safe to touch."
        )
        sheet.write(1, 0, caution, book.look(font_color=ALERT_INK, font_size=9))
        self._readings()
        self._checks()
        self._steps()
        sheet.set_portrait()
        sheet.fit_to_pages(1, 1)
        sheet.print_area(0, 0, self.STEPS + STEPS_SHOWN, 7)
        sheet.freeze_panes(2, 0)

    def _readings(self) -> None:
        sheet, book, top = self.sheet, self.book, self.READ
        sheet.write(top, 0, "Readings at the panel, V", book.head(INPUT_HEAD))
        center = {"align": "center"}
        labels = ["Reading", "Nominal", "Deviation, %", "Range of ANSI C84.1"]
        for row, label in enumerate(labels, top + 1):
            sheet.write(row, 0, label, book.look(bottom=4, bottom_color=LINE))
        for column, (name, value) in enumerate(READINGS.items(), 1):
            sheet.write(top, column, name, book.head(INPUT_HEAD, **center))
            sheet.write(top + 1, column, value, book.input(bold=True, num_format="0.0", **center))
            if name == "N to ground":
                sheet.write(top + 2, column, "with the load on", book.look(font_color=QUIET,
                                                                            **center))  # fmt: skip
                continue
            reading = xl_rowcol_to_cell(top + 1, column)
            nominal = xl_rowcol_to_cell(top + 2, column)
            sheet.write(top + 2, column, self._nominal(name), book.result(**center))
            sheet.write(top + 3, column, f"=XF_VOLTAGE_DEVIATION({reading},{nominal})",
                        book.result(num_format='+0.0;-0.0;0.0', **center))  # fmt: skip
            sheet.write(top + 4, column, f"=XF_VOLTAGE_RANGE({reading},{nominal})",
                        book.result(bold=True, **center))  # fmt: skip
        book.mark_messages(sheet, f"B{top + 3}:H{top + 6}", f"B{top + 3}")
        lines = f"{self.values[0]}:{self.values[2]}"
        row = top + 5
        sheet.write(row, 0, "Unbalance of the lines, %", book.look(bottom=4, bottom_color=LINE))
        sheet.write(row, 1, f'=IF(Phases=3,XF_VOLTAGE_UNBALANCE({lines}),"single-phase")',
                    book.result(num_format="0.00", bold=True, **center))  # fmt: skip
        _write_merged(sheet, row, 2, 3, "Tap nearest to nominal, %", book.look(align="right"))
        sheet.write(row, 4, f'=IF(COUNT({lines})=0,"",XF_TAP(AVERAGE({lines}),Secondary_V))',
                    book.result(num_format="+0.0;-0.0;0.0", bold=True, **center))  # fmt: skip
        _write_merged(sheet, row, 5, 6, "Load when read, A", book.look(align="right"))
        sheet.write(row, 7, 140, book.input(**center))
        top = self.FINDINGS
        _write_merged(sheet, top - 1, 0, 6, "Findings on the readings", book.head())
        _table_lines(book, sheet, top, READINGS_SHOWN, READINGS_AT, [(0, 0), (1, 6), (7, 7)])
        _fit_heights(book, sheet, top, READINGS_SHOWN, self.FIT)
        _mark_severity(book, sheet, top, READINGS_SHOWN, 7)

    @staticmethod
    def _nominal(name: str) -> str:
        """Nominal voltage of a pair; line to neutral as ANSI C84.1 names it."""
        if "N" not in name:
            return "=Secondary_V"
        return (
            '=IF(Neutral<>"yes","",IF(Secondary_V=600,347,'
            "ROUND(Secondary_V/IF(Phases=3,SQRT(3),2),0)))"
        )

    def _checks(self) -> None:
        sheet, book, top = self.sheet, self.book, self.CHECKED
        _write_merged(sheet, top, 0, 7, "Checked before energizing, and signed", book.head())
        places = [(0, 0), (1, 2), (3, 4), (5, 6), (7, 7)]
        for (first, last), text in zip(places, [*CHECKS[:4], CHECKS[4]], strict=True):
            look = book.input(font_size=9, font_color=QUIET, valign="top")
            _write_merged(sheet, top + 1, first, last, f"{text}:", look)
        names = [f"{CHECKS[5]}:", "Tested by:", "Date and time:", "Meter, last calibrated:",
                 "Engineer, signature:"]  # fmt: skip
        for (first, last), text in zip(places, names, strict=True):
            look = book.input(font_size=9, font_color=QUIET, valign="top")
            _write_merged(sheet, top + 2, first, last, text, look)
        sheet.set_row(top + 1, 26)
        sheet.set_row(top + 2, 26)

    def _steps(self) -> None:
        sheet, book, top = self.sheet, self.book, self.STEPS
        _write_merged(sheet, top - 1, 0, 6, "Worked steps of the calculated values", book.head())
        places = [(0, 0), (1, 4), (5, 5), (6, 6), (7, 7)]
        _table_lines(book, sheet, top, STEPS_SHOWN, STEPS_AT, places, number_at=2)
        for row in range(top, top + STEPS_SHOWN):
            sheet.set_row(row, 12.5)

    def readings(self) -> str:
        """Formula of the findings on the readings."""
        return f"XF_READINGS(Secondary_V,{','.join(f'Record!{cell}' for cell in self.values)})"


def _spilled(book: Book, page: InstallationPage, record: RecordPage) -> None:
    """Write the tables that come whole, each by one formula that spills."""
    sheet = book.book.add_worksheet(SPILLED)
    single = 'Phases=3,{},"Check: the findings are for three phases; read the ranges above"'
    formulas = [
        (STEPS_AT, f'=XF_STEPS("XF_INSTALLATION",{INSTALLATION})'),
        (REVIEW_AT, f"={page.review()}"),
        (READINGS_AT, f"=IF({single.format(record.readings())})"),
        (ROW_AT, f"=XF_INSTALLATION({INSTALLATION})"),
    ]
    for column, formula in formulas:
        cell = xl_rowcol_to_cell(0, column)
        sheet.write_dynamic_array_formula(f"{cell}:{cell}", formula)
    sheet.hide()
