"""The job list of an estimator: transformers in, sizes and quantities to buy out."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, NamedTuple

from xlsxwriter.utility import xl_col_to_name, xl_range_abs, xl_rowcol_to_cell
from xlsxwriter.worksheet import Worksheet

from .look import (
    ALERT,
    ALERT_INK,
    BUY_HEAD,
    FONT,
    GOOD_INK,
    INPUT_HEAD,
    INVENTED,
    LINE,
    QUIET,
    SERIES,
    SLATE,
    Book,
)

FILE_NAME = "job_list.xlsx"
TITLE = "Transformer job list with take-off"
TABLE = "Jobs"
HEAD_ROW = 5  # the table's headings, counted from 0
LAST_ROW = 300  # choices and marks are laid down to here, for rows typed below the table

# Tag, place, kVA, phases, primary V and system, secondary V and system, device on the secondary,
# material, insulation, raceway, runs in feet, way to the electrode in feet, larger size wanted.
JOBS: list[tuple[Any, ...]] = [
    ("T-101", "Town hall, ground floor", 45, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "copper", "THHN", "EMT", 80, 10, 25, None),
    ("T-102", "Town hall, council chamber", 15, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "copper", "THHN", "EMT", 115, 8, 40, None),
    ("T-103", "Town hall, records and servers", 30, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "copper", "THHN", "EMT", 140, 10, 60, None),
    ("T-104", "Library, reading room", 30, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "copper", "THHN", "EMT", 65, 9, 20, None),
    ("T-105", "Library, annex", 112.5, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "copper", "THHN", "EMT", 85, 18, 30, None),
    ("T-106", "Fire station, bays", 75, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "copper", "THHN", "EMT", 55, 16, 15, None),
    ("T-107", "Fire station, quarters", 25, 1, 480, "480Y/277", 240, "120/240", "yes",
     "copper", "THHN", "EMT", 60, 10, 15, None),
    ("T-108", "Grade school, east wing", 112.5, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "aluminum", "XHHW-2", "EMT", 160, 20, 35, None),
    ("T-109", "Grade school, kitchen", 75, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "copper", "THHN", "EMT", 95, 12, 30, None),
    ("T-110", "Grade school, gymnasium", 45, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "aluminum", "XHHW-2", "EMT", 210, 10, 45, None),
    ("T-111", "Grade school, workshop", 50, 1, 480, "480Y/277", 240, "120/240", "yes",
     "copper", "THHN", "EMT", 130, 10, 30, None),
    ("T-112", "Water works, pump hall", 150, 3, 480, "480 delta", 208, "208Y/120", "yes",
     "copper", "XHHW-2", "PVC40", 70, 22, 12, None),
    ("T-113", "Water works, control room", 9, 3, 480, "480 delta", 208, "208Y/120", "yes",
     "copper", "XHHW-2", "PVC40", 30, 6, 12, None),
    ("T-114", "Water works, step-up to the wells", 75, 3, 208, "208Y/120", 480, "480Y/277", "yes",
     "copper", "XHHW-2", "PVC40", 25, 24, 18, None),
    ("T-115", "Water works, valve heaters", 5, 1, 480, "480 delta", 120, "two-wire", "no",
     "copper", "XHHW-2", "PVC40", 90, 15, 12, None),
    ("T-116", "Bakery, ovens", 112.5, 3, 480, "480Y/277", 240, "240 delta", "yes",
     "copper", "THHN", "EMT", 60, 14, 20, None),
    ("T-117", "Bakery, shop", 10, 1, 480, "480Y/277", 240, "120/240", "yes",
     "copper", "THHN", "EMT", 45, 7, 20, None),
    ("T-118", "Clinic, imaging", 150, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "copper", "THHN", "EMT", 90, 15, 40, None),
    ("T-119", "Clinic, wards", 75, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "copper", "THHN", "EMT", 130, 10, 55, None),
    ("T-120", "Clinic, laundry", 45, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "copper", "THHN", "LFMC", "42 m", "3 m", 50, None),
    ("T-121", "Sawmill, planer hall", 225, 3, 600, "600Y/347", 480, "480Y/277", "yes",
     "copper", "XHHW-2", "RMC", 100, 20, 25, None),
    ("T-122", "Sawmill, office", 37.5, 1, 600, "600Y/347", 240, "120/240", "yes",
     "copper", "XHHW-2", "RMC", 85, 9, 25, None),
    ("T-123", "Sawmill, dust plant", 30, 3, 600, "600Y/347", 480, "480Y/277", "yes",
     "copper", "XHHW-2", "LFMC", 45, 8, 30, None),
    ("T-124", "Cinema, projection", 15, 1, 480, "480Y/277", 240, "120/240", "yes",
     "copper", "THHN", "FMC", 75, 8, 25, None),
    ("T-125", "Market hall, stalls", 112.5, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "copper", "THHN", "EMT", 140, 25, 30, None),
    ("T-126", "Market hall, cold store", 225, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "aluminum", "XHHW-2", "EMT", 60, 16, 20, None),
    ("T-127", "Bus depot, charging bays", 300, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "copper", "THHN", "EMT", 45, 12, 20, None),
    ("T-128", "Bus depot, yard lights", 15, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "copper", "THWN-2", "PVC40", 620, 10, 15, "8 AWG"),
    ("T-129", "Sports field, far stand", 25, 1, 480, "480Y/277", 240, "120/240", "yes",
     "copper", "THWN-2", "PVC40", 540, 10, 15, None),
    ("T-130", "Swimming pool, plant room", 75, 3, 480, "480Y/277", 208, "208Y/120", "yes",
     "copper", "THWN-2", "PVC40", "160'-6\"", 34, 25, None),
]  # fmt: skip


# Rows whose verdict is a whole message: a spreadsheet program does not fit a row to a formula.
LONG_VERDICTS = {"T-130"}


ANY = "General"  # any number, with the digits that were typed


class Column(NamedTuple):
    """A column of the job list: an input has no formula."""

    name: str
    width: float
    formula: str = ""
    shown: str = "@"  # text
    note: str = ""


NAMES = [Column("Tag", 7), Column("Place", 29)]
INPUTS = [
    Column("kVA", 6.5, shown=ANY),
    Column("Phases", 7, shown="0"),
    Column("Primary V", 8, shown=ANY),
    Column("Primary system", 9.5),
    Column("Secondary V", 9, shown=ANY),
    Column("Secondary system", 9.5),
    Column("Secondary protected", 9),
    Column("Material", 9.5),
    Column("Insulation", 9),
    Column("Raceway", 8.5),
    Column("Primary run", 7.5, shown=ANY, note="ft one way, or such as 42 m"),
    Column("Secondary run", 9, shown=ANY, note="ft one way, or such as 3 m"),
    Column("Electrode run", 9, shown=ANY, note="ft to the grounding electrode"),
    Column("Larger primary size", 9, note="only where a larger one is wanted, for the drop"),
]

# A name in square brackets is the column of the same row.
# It stands next to the place, where it stays in sight.
VERDICT = Column(
    "Verdict",
    31,
    '=IF(COUNTIF([Primary A]:[Secondary bond],"Check:*")>0,'
    'INDEX([Primary A]:[Secondary bond],MATCH("Check:*",[Primary A]:[Secondary bond],0)),'
    'IF([Primary A]="","fill in",'
    "IF(NOT(AND(ISNUMBER([Largest primary device]),ISNUMBER([Primary drop %]),"
    'ISNUMBER([Secondary drop %]))),"not complete",'
    'IF(([Phases]=1)<>OR([Secondary system]="120/240",[Secondary system]="two-wire"),'
    '"phases and system differ",'
    'IF(OR(COUNTIF([Primary system],"*"&[Primary V]&"*")=0,AND([Secondary system]<>"two-wire",'
    'COUNTIF([Secondary system],"*"&[Secondary V]&"*")=0)),"volts and system differ",'
    'IF([Primary device]>[Largest primary device],"primary device over 450.3(B)",'
    'IF([Primary drop %]+[Secondary drop %]>Drop_limit,"drop over limit","in order")))))))',
)


def _bond(volts_to_ground: str) -> str:
    """Formula that says whether a metal raceway is bonded: in words, for SUMIFS.

    Calc has 1 and 0 where Excel has TRUE and FALSE; both are equal to them there.
    """
    asked = f"XF_BOND_OVER_250({volts_to_ground})"
    return (
        f'=IF(LEFT([Raceway],3)="PVC","no",IF({asked}=TRUE,"bond",IF({asked}=FALSE,"no",{asked})))'
    )


PRIMARY = [
    Column("Primary A", 8, "=XF_FULL_LOAD_CURRENT([kVA],[Primary V],[Phases])", "0.0"),
    Column("Primary device", 8.5, '=XF_LOAD_PROTECTION([Primary A],0,"breaker",Edition)', "0"),
    Column(
        "Largest primary device", 8.5,
        '=XF_PRIMARY_PROTECTION([kVA],[Primary V],[Phases],[Secondary protected],"breaker",,,'
        "Edition)",
        "0",
    ),
    Column(
        "Primary sets", 7.5,
        "=IF(ISNUMBER([Primary device]),MAX(ROUNDUP([Primary device]/XF_DEVICE_LIMIT(Largest_size,"
        "[Material],[Insulation],Terminals,Ambient),0),ROUNDUP(1.25*[Primary A]/XF_AMPACITY("
        "Largest_size,[Material],[Insulation],Terminals,Ambient),0)),[Primary device])",
        "0",
    ),
    Column(
        "Least primary size", 9.5,
        "=XF_PROTECTED_SIZE([Primary device],IF(ISNUMBER([Primary A]),1.25*[Primary A],"
        "[Primary A]),[Material],[Insulation],Terminals,Ambient,3,TRUE,[Primary sets],Edition)",
    ),
    Column(
        "Primary size", 9.5,
        '=IF(OR([Larger primary size]="",LEFT([Least primary size],6)="Check:"),'
        "[Least primary size],IF(XF_AREA([Larger primary size])<XF_AREA([Least primary size]),"
        '"Check: larger primary size is smaller than the least one",[Larger primary size]))',
    ),
    Column(
        "Equipment ground", 9.5,
        '=XF_EQUIPMENT_GROUND([Primary device],"copper",[Least primary size],[Primary size])',
    ),
    Column(
        "Primary raceway", 8.5,
        "=XF_RACEWAY_SIZE([Raceway],[Insulation],[Primary size],IF([Phases]=1,2,3),"
        "[Equipment ground],1)",
    ),
    Column(
        "Primary drop %", 8.5,
        "=XF_VOLTAGE_DROP_PERCENT([Primary A],[Primary V],[Primary run],[Primary size],[Phases],"
        "Power_factor,[Material],[Raceway],[Primary sets])",
        "0.00",
    ),
    Column("Primary bond", 8, _bond("XF_VOLTS_TO_GROUND([Primary system])")),
]  # fmt: skip

SECONDARY = [
    Column("Secondary A", 11, "=XF_FULL_LOAD_CURRENT([kVA],[Secondary V],[Phases])", "0.0"),
    Column(
        "Secondary device", 11,
        '=IF([Secondary protected]="no","none",XF_SECONDARY_PROTECTION([kVA],[Secondary V],'
        '[Phases],"breaker",[Primary V],,,Edition))',
        "0",
    ),
    Column(
        "Secondary wires", 11,
        '=IF([Phases]=1,2,3)+COUNTIF([Secondary system],"*/*")', "0",
    ),
    Column(
        "Least secondary A", 11,
        '=IF([Secondary protected]<>"no",XF_SECONDARY_AMPACITY([Primary device],[Primary V],'
        "[Secondary V],[Secondary run],[Secondary device],[Secondary A]),"
        'IF([Secondary system]<>"two-wire",'
        '"Check: a device on the secondary is needed unless it is two-wire, 240.21(C)(1)",'
        "IF(ISNUMBER([Primary device]),[Primary device]*[Primary V]/[Secondary V],"
        "[Primary device])))",
        "0",
    ),
    Column(
        "Secondary sets", 11,
        "=IF(ISNUMBER([Least secondary A]),ROUNDUP([Least secondary A]/XF_AMPACITY(Largest_size,"
        "[Material],[Insulation],Terminals,Ambient),0),[Least secondary A])",
        "0",
    ),
    Column(
        "Secondary size", 11.5,
        "=XF_PROTECTED_SIZE(IF(ISNUMBER([Secondary device]),[Secondary device],"
        "[Least secondary A]),[Least secondary A],[Material],[Insulation],Terminals,Ambient,3,"
        '"no",[Secondary sets],Edition)',
    ),
    Column(
        "Supply-side jumper", 12,
        '=XF_BONDING_JUMPER([Secondary size],1,[Material],"copper")',
    ),
    Column(
        "System jumper", 11,
        '=IF(AND([Secondary wires]=3,COUNTIF([Secondary system],"*delta")=1),"none",'
        'XF_BONDING_JUMPER([Secondary size],[Secondary sets],[Material],"copper"))',
    ),
    Column(
        "Electrode conductor", 12,
        '=XF_ELECTRODE_CONDUCTOR([Secondary size],[Secondary sets],[Material],"copper")',
    ),
    Column(
        "Secondary raceway", 11,
        "=XF_RACEWAY_SIZE([Raceway],[Insulation],[Secondary size],[Secondary wires],"
        "[Supply-side jumper],1)",
    ),
    Column(
        "Secondary drop %", 11,
        "=XF_VOLTAGE_DROP_PERCENT([Secondary A],[Secondary V],[Secondary run],[Secondary size],"
        "[Phases],Power_factor,[Material],[Raceway],[Secondary sets])",
        "0.00",
    ),
    Column(
        "Secondary bond", 11,
        _bond('IF([Secondary system]="two-wire",[Secondary V],XF_VOLTS_TO_GROUND('
              "[Secondary system]))"),
    ),
]  # fmt: skip

# Blank where that side has no answer: nothing is bought before the message is gone.
TO_BUY = [
    Column(
        "Primary wire ft", 11,
        "=IF(ISNUMBER([Primary drop %]),XF_CONDUCTOR_LENGTH([Primary run],IF([Phases]=1,2,3)*"
        '[Primary sets],Tail,Spare),"")',
        "#,##0",
    ),
    Column(
        "Ground ft", 11,
        "=IF(ISNUMBER([Primary drop %]),XF_CONDUCTOR_LENGTH([Primary run],[Primary sets],Tail,"
        'Spare),"")',
        "#,##0",
    ),
    Column(
        "Primary raceway ft", 11,
        "=IF(ISNUMBER([Primary drop %]),XF_CONDUCTOR_LENGTH([Primary run],[Primary sets],"
        '"0 ft",Spare),"")',
        "#,##0",
    ),
    Column(
        "Secondary wire ft", 11,
        "=IF(ISNUMBER([Secondary drop %]),XF_CONDUCTOR_LENGTH([Secondary run],[Secondary wires]*"
        '[Secondary sets],Tail,Spare),"")',
        "#,##0",
    ),
    Column(
        "Jumper ft", 11,
        "=IF(ISNUMBER([Secondary drop %]),XF_CONDUCTOR_LENGTH([Secondary run],[Secondary sets],"
        'Tail,Spare),"")',
        "#,##0",
    ),
    Column(
        "Secondary raceway ft", 11,
        "=IF(ISNUMBER([Secondary drop %]),XF_CONDUCTOR_LENGTH([Secondary run],[Secondary sets],"
        '"0 ft",Spare),"")',
        "#,##0",
    ),
    Column(
        "Electrode ft", 11,
        '=IF(AND(ISNUMBER([Secondary drop %]),[Electrode run]<>""),XF_CONDUCTOR_LENGTH('
        '[Electrode run],1,Tail,Spare),"")',
        "#,##0",
    ),
]  # fmt: skip

BANDS = [
    ("Transformer", INPUT_HEAD, NAMES),
    ("Verdict", SLATE, [VERDICT]),
    ("Fill in", INPUT_HEAD, INPUTS),
    ("Primary", SLATE, PRIMARY),
    ("Secondary", SLATE, SECONDARY),
    ("To buy", BUY_HEAD, TO_BUY),
]
COLUMNS = [column for _, _, columns in BANDS for column in columns]
PLACE = {column.name: number for number, column in enumerate(COLUMNS)}

SYSTEMS = ["480Y/277", "208Y/120", "600Y/347", "120/240", "240 delta", "480 delta", "240/120 delta"]
CHOICES = {
    "Phases": [3, 1],
    "Primary system": SYSTEMS,
    "Secondary system": [*SYSTEMS, "two-wire"],
    "Secondary protected": ["yes", "no"],
    "Material": ["copper", "aluminum"],
    "Insulation": ["THHN", "THWN-2", "XHHW-2", "THW"],
    "Raceway": ["EMT", "FMC", "LFMC", "IMC", "RMC", "PVC40", "PVC80"],
}

# Name, what it is, value, choices or limits, note.
SETTINGS: list[tuple[str, str, Any, dict[str, Any], str]] = [
    ("Edition", "Edition of NFPA 70", 2023, {"validate": "list", "source": [2017, 2020, 2023]},
     "The one that is adopted where the job is"),
    ("Terminals", "Terminal rating, degC", 75, {"validate": "list", "source": [60, 75]},
     "75 only where the equipment is marked for it; blank: 60 up to 100 A, 110.14(C)"),
    ("Ambient", "Ambient of the conductors, degC", 30,
     {"validate": "decimal", "criteria": "between", "minimum": -50, "maximum": 80},
     "Of the hottest place on their way: roofs, boiler rooms"),
    ("Largest_size", "Largest conductor of one set", "500 kcmil", {},
     "Beyond it sets run in parallel; common practice, no source"),
    ("Power_factor", "Power factor of the loads", 0.85,
     {"validate": "decimal", "criteria": "between", "minimum": 0.01, "maximum": 1},
     "For the voltage drop"),
    ("Drop_limit", "Limit of the drop, %", 3,
     {"validate": "decimal", "criteria": "between", "minimum": 0.1, "maximum": 20},
     "Primary and secondary together; 3 % is advice of 215.2, no rule"),
    ("Tail", "Wire left free at each end, ft", 5,
     {"validate": "decimal", "criteria": "between", "minimum": 0, "maximum": 100},
     "Common practice, no source; 312.6 may ask for more"),
    ("Spare", "Allowance for waste, %", 5,
     {"validate": "decimal", "criteria": "between", "minimum": 0, "maximum": 100},
     "Wire and raceway; common practice, no source"),
]  # fmt: skip

SIZES = [
    *(f"{size} AWG" for size in ("14", "12", "10", "8", "6", "4", "3", "2", "1")),
    *(f"{size}/0 AWG" for size in (1, 2, 3, 4)),
    *(f"{size} kcmil" for size in (250, 300, 350, 400, 500, 600)),
]
WIRES = [("copper", "THHN"), ("copper", "XHHW-2"), ("aluminum", "XHHW-2"), ("copper", "THWN-2")]
TRADE_SIZES = [
    f"{size} in"
    for size in ("1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4")
]  # fmt: skip
RACEWAYS = ["EMT", "FMC", "LFMC", "RMC", "PVC40"]
RATINGS = [
    15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125, 150, 175, 200, 225, 250, 300,
    350, 400, 450, 500, 600, 700, 800, 1000, 1200,
]  # fmt: skip
RATED = [3, 5, 7.5, 9, 10, 15, 25, 30, 37.5, 45, 50, 75, 100, 112.5, 150, 225, 300, 500]

READ_ME = [
    ("What it is", [
        "A job list for an estimator. One row is one dry-type transformer with its feeders; the "
        "row answers currents, devices, conductors, grounding, raceways and voltage drop, and "
        "the feet to buy. The take-off adds them up.",
        INVENTED,
    ]),
    ("How to use it", [
        "Settings: choose the edition, the terminals, the allowances. They hold for all rows.",
        "Jobs: fill in the white cells under the blue headings. Type in the row below the last "
        "one and the table grows with its formulas; choices drop down. The gray cells are "
        "formulas.",
        "Read the verdict of each row. 'In order' means that every cell has an answer and the "
        "drop is within the limit of the settings; it is no approval.",
        "A verdict that begins with 'Check:' says which entry to look at. That side of the row is "
        "left out of the take-off until it is settled. One row is such on purpose, T-130: its "
        "secondary run is too long for the rule.",
        "Where the drop is too large, choose a larger primary size: T-128 did, and its equipment "
        "ground grew with it (250.122(B)); T-129 is left for you to try.",
        "Take-off: feet by size, raceway by trade size, devices by rating. The line 'Not listed' "
        "must show 0; if not, the job list holds a size or type that the take-off has no line for.",
        "Lengths may be typed as 85, 42 m or 160'-6\". Write sizes as they stand in the choices.",
        "Jobs prints on 11 by 17 in. paper, two pages wide, headings and names repeated; all other "
        "sheets on letter paper.",
    ]),
    ("What is assumed", [
        "Devices are breakers: primary 125 % of the full-load current, next standard rating up; "
        "secondary the largest that Table 450.3(B) allows. The full load counts as continuous.",
        "The neutral is as large as the phases and is not counted as current-carrying. Grounding "
        "and bonding conductors are copper. One set runs in each raceway, with three "
        "current-carrying conductors at most.",
        "Bonding where 250.97 asks for it is counted as one bushing at each end of each metal "
        "raceway. Knockouts that are not oversized or concentric may need none.",
    ]),
    ("With and without the functions", [
        "The results are stored in the file, so anyone can read and print them. To compute again "
        "after a change: open it in a spreadsheet that has the functions, or run "
        "'xlfuncs fill job_list.xlsx'.",
    ]),
]  # fmt: skip


def build(path: Path) -> None:
    """Write the workbook; its formulas are not computed yet."""
    book = Book(path, TITLE)
    book.read_me(TITLE, READ_ME)
    _jobs(book)
    _take_off(book)
    _charts(book)
    _settings(book)
    book.close()


def in_row(formula: str) -> str:
    """Write [Column] as the file form of a reference to that column in the same row."""
    return re.sub(r"(\[[^\]]+\](?::\[[^\]]+\])?)", rf"{TABLE}[[#This Row],\1]", formula)


def _jobs(book: Book) -> None:
    sheet = book.sheet("Jobs", INPUT_HEAD)
    first, last = HEAD_ROW + 1, HEAD_ROW + len(JOBS)
    sheet.set_row(0, 26)
    sheet.write(0, 0, "Brindlemoor: transformers and feeders", book.look(bold=True, font_size=16))
    sheet.write(1, 0, "Invented town. White: fill in. Gray: formulas. Orange: read it.",
                book.look(font_color=QUIET))  # fmt: skip
    sheet.write(2, 0, "The adopted code, the authority having jurisdiction and a licensed person "
                "decide.", book.look(font_color=ALERT_INK))  # fmt: skip
    _bands(book, sheet)
    sheet.set_row(HEAD_ROW, 40)
    sheet.add_table(
        HEAD_ROW,
        0,
        last,
        len(COLUMNS) - 1,
        {
            "name": TABLE,
            "style": None,
            "autofilter": True,
            "columns": [
                {
                    "header": column.name,
                    "header_format": book.head(color, align="center", font_size=9),
                    "formula": in_row(column.formula) or None,
                    "format": _cell_look(book, column),
                }
                for _, color, columns in BANDS
                for column in columns
            ],
        },
    )
    for number, column in enumerate(COLUMNS):
        sheet.set_column(number, number, column.width)
    for row, job in enumerate(JOBS, first):
        sheet.set_row(row, 54 if job[0] in LONG_VERDICTS else 17)
        for column, value in zip([*NAMES, *INPUTS], job, strict=True):
            sheet.write(row, PLACE[column.name], value, _cell_look(book, column))
    _choices(sheet, first)
    verdict = xl_col_to_name(PLACE["Verdict"])
    good = book.book.add_format({"font_color": GOOD_INK})
    alert = book.book.add_format({"bg_color": ALERT, "font_color": ALERT_INK, "bold": True})
    marked = f"{verdict}{first + 1}:{verdict}{LAST_ROW}"
    own = f"${verdict}{first + 1}"
    for criteria, look in ((f'={own}="in order"', good), (f'={own}<>""', alert)):
        sheet.conditional_format(
            marked, {"type": "formula", "criteria": criteria, "format": look, "stop_if_true": True}
        )
    start = xl_col_to_name(PLACE["Primary A"])
    end = xl_col_to_name(len(COLUMNS) - 1)
    book.mark_messages(sheet, f"{start}{first + 1}:{end}{LAST_ROW}", f"{start}{first + 1}")
    sheet.freeze_panes(first, 3)
    sheet.set_landscape()
    sheet.set_paper(3)  # 11 by 17 in: the row is long
    sheet.fit_to_pages(2, 0)
    sheet.repeat_rows(HEAD_ROW - 1, HEAD_ROW)
    sheet.repeat_columns(0, 2)
    sheet.set_zoom(90)


def _bands(book: Book, sheet: Worksheet) -> None:
    """Write what the columns are about, above their headings."""
    at = 0
    for title, color, columns in BANDS:
        look = book.head(color, border=0, text_wrap=False)
        for offset in range(len(columns)):
            sheet.write(HEAD_ROW - 1, at + offset, None if offset else title, look)
        at += len(columns)


def _cell_look(book: Book, column: Column) -> Any:
    # A message in a cell for numbers begins at its left; so numbers keep the general alignment,
    # and the space at their right comes from the number format.
    number = column.shown != "@"
    properties = {"num_format": column.shown + "_i"} if number else {"align": "left", "indent": 1}
    if column.name == "Verdict":
        properties |= {"bold": True, "text_wrap": True}
    return book.result(**properties) if column.formula else book.input(**properties)


def _choices(sheet: Worksheet, first: int) -> None:
    for name, listed in CHOICES.items():
        rule = {"validate": "list", "source": listed, "error_title": name,
                "error_message": f"{name}: choose one of the list."}  # fmt: skip
        sheet.data_validation(first, PLACE[name], LAST_ROW - 1, PLACE[name], rule)
    sizes = {
        "validate": "list",
        "source": "='Take-off'!" + xl_range_abs(SIZE_ROW, 0, SIZE_ROW + len(SIZES) - 1, 0),
        "error_message": "Choose a size of the list, or leave it blank.",
    }
    larger = PLACE["Larger primary size"]
    sheet.data_validation(first, larger, LAST_ROW - 1, larger, sizes)
    for name in ("kVA", "Primary V", "Secondary V"):
        rule = {"validate": "decimal", "criteria": ">", "value": 0,
                "error_message": f"{name} is a number above 0."}  # fmt: skip
        sheet.data_validation(first, PLACE[name], LAST_ROW - 1, PLACE[name], rule)
    guard = {
        "validate": "custom",
        "value": "=FALSE",
        "error_title": "Verdict",
        "error_message": "The verdict is a formula. Change the row's entries instead.",
    }
    sheet.data_validation(first, PLACE["Verdict"], LAST_ROW - 1, PLACE["Verdict"], guard)
    for column in INPUTS:
        if column.note:
            at = PLACE[column.name]
            if column.name != "Larger primary size":
                sheet.data_validation(
                    first, at, LAST_ROW - 1, at,
                    {"validate": "any", "input_title": column.name, "input_message": column.note},
                )  # fmt: skip


SIZE_ROW = 8  # first size of the take-off, counted from 0
RACEWAY_AT, DEVICE_AT = 10, 18  # first columns of these blocks
RATED_ROW = SIZE_ROW + len(TRADE_SIZES) + 7
QUANTITY = '#,##0;-#,##0;"–"'


def _take_off(book: Book) -> None:
    sheet = book.sheet("Take-off", BUY_HEAD)
    sheet.set_row(0, 26)
    sheet.write(0, 0, "Take-off", book.look(bold=True, font_size=16))
    sheet.write(1, 0, "Feet include tails and waste of the settings. Fittings, supports, lugs and "
                "labor are not in it.", book.look(font_color=QUIET))  # fmt: skip
    _state(book, sheet)
    _wire(book, sheet)
    _raceway(book, sheet)
    _devices(book, sheet)
    _transformers(book, sheet)
    sheet.set_column(0, 0, 10)
    sheet.set_column(1, 8, 9.5)
    sheet.set_column(9, 9, 1.5)
    sheet.set_column(RACEWAY_AT, RACEWAY_AT + 6, 8)
    sheet.set_column(17, 17, 1.5)
    sheet.set_column(DEVICE_AT, DEVICE_AT, 7)
    sheet.set_column(DEVICE_AT + 1, DEVICE_AT + 4, 9.5)
    for row in range(SIZE_ROW - 3, RATED_ROW + len(RATED) + 2):
        sheet.set_row(row, 17)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 1)
    sheet.freeze_panes(SIZE_ROW, 1)


def _state(book: Book, sheet: Worksheet) -> None:
    """Write how much of the job list the take-off covers."""
    parts = [
        ("Rows in the job list", f"=COUNTA({TABLE}[Tag])", "="),
        ("Rows to look at", f'=COUNTA({TABLE}[Tag])-COUNTIF({TABLE}[Verdict],"in order")', ">"),
        ("Rows left out in part", f'=COUNTIF({TABLE}[Verdict],"Check:*")+COUNTIF({TABLE}'
         '[Verdict],"not complete")+COUNTIF('f'{TABLE}[Verdict],"fill in")', ">"),
    ]  # fmt: skip
    alert = book.book.add_format({"bg_color": ALERT, "font_color": ALERT_INK})
    for number, (label, formula, mark) in enumerate(parts):
        at = 3 * number
        sheet.merge_range(3, at, 3, at + 1, label, book.look(border=1, border_color=LINE))
        sheet.write_formula(3, at + 2, formula, book.result(bold=True, align="center"))
        if mark == ">":
            cell = xl_rowcol_to_cell(3, at + 2)
            sheet.conditional_format(
                cell, {"type": "cell", "criteria": ">", "value": 0, "format": alert}
            )


def _head(book: Book, sheet: Worksheet, row: int, column: int, title: str, width: int) -> None:
    sheet.merge_range(row, column, row, column + width - 1, title, book.head(BUY_HEAD))


def _sums(
    book: Book, sheet: Worksheet, first: int, last: int, columns: dict[int, str], label_at: int
) -> None:
    """Write the total of each column and what of the job list it does not hold."""
    alert = book.book.add_format({"bg_color": ALERT, "font_color": ALERT_INK})
    sheet.write(last + 1, label_at, "Total", book.result(bold=True))
    sheet.write(last + 2, label_at, "Not listed", book.look(font_color=QUIET, font_size=9))
    for column, whole in columns.items():
        area = xl_range_abs(first, column, last, column)
        sheet.write_formula(
            last + 1, column, f"=SUM({area})",
            book.result(bold=True, align="center", num_format=QUANTITY),
        )  # fmt: skip
        if whole:
            sheet.write_formula(
                last + 2, column, f"=ROUND({whole},2)",
                book.look(align="center", font_color=QUIET, font_size=9, num_format="#,##0"),
            )  # fmt: skip
            sheet.conditional_format(
                last + 2, column, last + 2, column,
                {"type": "cell", "criteria": "!=", "value": 0, "format": alert},
            )  # fmt: skip


def _wire(book: Book, sheet: Worksheet) -> None:
    head = book.head(align="center", font_size=9)
    choose = book.input(align="center", bold=True, font_color=INPUT_HEAD)
    _head(book, sheet, SIZE_ROW - 3, 0, "Phase and neutral conductors, ft", 5)
    _head(book, sheet, SIZE_ROW - 3, 5, "Grounding and bonding, copper", 4)
    for row, name in ((SIZE_ROW - 2, "Material"), (SIZE_ROW - 1, "Insulation")):
        sheet.write(row, 0, name, book.head(font_size=9))
        for number, kind in enumerate(WIRES, 1):
            sheet.write(row, number, kind[row - SIZE_ROW + 2], choose)
            rule = {"validate": "list", "source": CHOICES[name]}
            sheet.data_validation(row, number, row, number, rule)
    grounds = [
        ("Equipment ground, ft", "Ground ft", "Equipment ground"),
        ("Supply-side jumper, ft", "Jumper ft", "Supply-side jumper"),
        ("Electrode conductor, ft", "Electrode ft", "Electrode conductor"),
    ]
    for number, (title, _, _) in enumerate(grounds, 5):
        sheet.merge_range(SIZE_ROW - 2, number, SIZE_ROW - 1, number, title, head)
    sheet.merge_range(SIZE_ROW - 2, 8, SIZE_ROW - 1, 8, "System jumper, each", head)
    look = book.result(align="center", num_format=QUANTITY)
    for row, size in enumerate(SIZES, SIZE_ROW):
        sheet.write(row, 0, size, book.input(bold=True, indent=1))
        for column in range(1, len(WIRES) + 1):
            kind = xl_col_to_name(column)
            parts = (
                f"SUMIFS({TABLE}[{side} wire ft],{TABLE}[{side} size],$A{row + 1},"
                f"{TABLE}[Material],{kind}${SIZE_ROW - 1},{TABLE}[Insulation],{kind}${SIZE_ROW})"
                for side in ("Primary", "Secondary")
            )
            sheet.write_formula(row, column, "=" + "+".join(parts), look)
        for column, (_, feet, sized) in enumerate(grounds, 5):
            sheet.write_formula(
                row, column, f"=SUMIFS({TABLE}[{feet}],{TABLE}[{sized}],$A{row + 1})", look
            )
        sheet.write_formula(
            row, 8,
            f'=COUNTIFS({TABLE}[System jumper],$A{row + 1},{TABLE}[Jumper ft],">0")', look,
        )  # fmt: skip
    last = SIZE_ROW + len(SIZES) - 1
    every = xl_range_abs(SIZE_ROW, 1, last, len(WIRES))
    whole = f"SUM({TABLE}[Primary wire ft])+SUM({TABLE}[Secondary wire ft])-SUM({every})"
    columns = {1: whole, 2: "", 3: "", 4: ""}
    for column, (_, feet, _) in enumerate(grounds, 5):
        columns[column] = (
            f"SUM({TABLE}[{feet}])-SUM({xl_range_abs(SIZE_ROW, column, last, column)})"
        )
    columns[8] = (
        f'COUNT({TABLE}[Jumper ft])-COUNTIFS({TABLE}[System jumper],"none",{TABLE}[Jumper ft],'
        f'">0")-SUM({xl_range_abs(SIZE_ROW, 8, last, 8)})'
    )
    _sums(book, sheet, SIZE_ROW, last, columns, 0)


def _raceway(book: Book, sheet: Worksheet) -> None:
    head = book.head(align="center", font_size=9)
    at = RACEWAY_AT
    _head(book, sheet, SIZE_ROW - 3, at, "Raceway, ft, and bonding", 7)
    sheet.merge_range(SIZE_ROW - 2, at, SIZE_ROW - 1, at, "Trade size", head)
    for number, kind in enumerate(RACEWAYS, at + 1):
        sheet.write(SIZE_ROW - 2, number, "", head)
        sheet.write(SIZE_ROW - 1, number, kind,
                    book.input(align="center", bold=True, font_color=INPUT_HEAD))  # fmt: skip
        rule = {"validate": "list", "source": CHOICES["Raceway"]}
        sheet.data_validation(SIZE_ROW - 1, number, SIZE_ROW - 1, number, rule)
    sheet.merge_range(SIZE_ROW - 2, at + 6, SIZE_ROW - 1, at + 6, "Bushings, each", head)
    look = book.result(align="center", num_format=QUANTITY)
    name = xl_col_to_name(at)
    for row, size in enumerate(TRADE_SIZES, SIZE_ROW):
        sheet.write(row, at, size, book.input(bold=True, indent=1))
        for column in range(at + 1, at + 1 + len(RACEWAYS)):
            kind = xl_col_to_name(column)
            parts = (
                f"SUMIFS({TABLE}[{side} raceway ft],{TABLE}[{side} raceway],${name}{row + 1},"
                f"{TABLE}[Raceway],{kind}${SIZE_ROW})"
                for side in ("Primary", "Secondary")
            )
            sheet.write_formula(row, column, "=" + "+".join(parts), look)
        parts = (
            f"SUMIFS({TABLE}[{side} sets],{TABLE}[{side} raceway],${name}{row + 1},"
            f'{TABLE}[{side} bond],"bond")'
            for side in ("Primary", "Secondary")
        )
        sheet.write_formula(row, at + 6, f"=2*({'+'.join(parts)})", look)
    last = SIZE_ROW + len(TRADE_SIZES) - 1
    every = xl_range_abs(SIZE_ROW, at + 1, last, at + len(RACEWAYS))
    columns = dict.fromkeys(range(at + 1, at + 7), "")
    columns[at + 1] = (
        f"SUM({TABLE}[Primary raceway ft])+SUM({TABLE}[Secondary raceway ft])-SUM({every})"
    )
    bushings = xl_range_abs(SIZE_ROW, at + 6, last, at + 6)
    columns[at + 6] = (
        f'2*(SUMIFS({TABLE}[Primary sets],{TABLE}[Primary bond],"bond",{TABLE}'
        f'[Primary raceway ft],">0")+SUMIFS({TABLE}[Secondary sets],{TABLE}[Secondary bond],'
        f'"bond",{TABLE}[Secondary raceway ft],">0"))-SUM({bushings})'
    )
    _sums(book, sheet, SIZE_ROW, last, columns, at)


def _devices(book: Book, sheet: Worksheet) -> None:
    head = book.head(align="center", font_size=9)
    at = DEVICE_AT
    _head(book, sheet, SIZE_ROW - 3, at, "Breakers, each", 5)
    sheet.merge_range(SIZE_ROW - 2, at, SIZE_ROW - 1, at, "Rating, A", head)
    # A device is bought once its side of the row has an answer.
    bought = {"Primary": "Ground ft", "Secondary": "Jumper ft"}
    kinds = [
        (side, phases, f'{TABLE}[Phases],{phases},{TABLE}[{bought[side]}],">0"')
        for side in ("Primary", "Secondary")
        for phases in (3, 1)
    ]
    for column, (side, phases, _) in enumerate(kinds, at + 1):
        title = f"{side}\n{phases}-phase"
        sheet.merge_range(SIZE_ROW - 2, column, SIZE_ROW - 1, column, title, head)
    look = book.result(align="center", num_format=QUANTITY)
    name = xl_col_to_name(at)
    for row, rating in enumerate(RATINGS, SIZE_ROW):
        sheet.write(row, at, rating, book.input(bold=True, align="left", indent=1))
        for column, (side, _, counted) in enumerate(kinds, at + 1):
            rated = f"{TABLE}[{side} device],${name}{row + 1}"
            sheet.write_formula(row, column, f"=COUNTIFS({rated},{counted})", look)
    last = SIZE_ROW + len(RATINGS) - 1
    columns = {
        column: f'COUNTIFS({TABLE}[{side} device],">0",{counted})-SUM('
        f"{xl_range_abs(SIZE_ROW, column, last, column)})"
        for column, (side, _, counted) in enumerate(kinds, at + 1)
    }
    _sums(book, sheet, SIZE_ROW, last, columns, at)


def _transformers(book: Book, sheet: Worksheet) -> None:
    head = book.head(align="center", font_size=9)
    at = RACEWAY_AT
    _head(book, sheet, RATED_ROW - 3, at, "Transformers, each", 3)
    sheet.merge_range(RATED_ROW - 2, at, RATED_ROW - 1, at, "Rating, kVA", head)
    look = book.result(align="center", num_format=QUANTITY)
    name = xl_col_to_name(at)
    for column, phases in enumerate((3, 1), at + 1):
        title = f"{phases}-phase"
        sheet.merge_range(RATED_ROW - 2, column, RATED_ROW - 1, column, title, head)
        for row in range(RATED_ROW, RATED_ROW + len(RATED)):
            sheet.write_formula(
                row, column,
                f"=COUNTIFS({TABLE}[kVA],${name}{row + 1},{TABLE}[Phases],{phases})", look,
            )  # fmt: skip
    for row, rating in enumerate(RATED, RATED_ROW):
        sheet.write(row, at, rating, book.input(bold=True, align="left", indent=1))
    last = RATED_ROW + len(RATED) - 1
    columns = {
        column: f"COUNTIFS({TABLE}[Phases],{phases})-SUM("
        f"{xl_range_abs(RATED_ROW, column, last, column)})"
        for column, phases in enumerate((3, 1), at + 1)
    }
    _sums(book, sheet, RATED_ROW, last, columns, at)


def _charts(book: Book) -> None:
    sheet = book.sheet("Charts", BUY_HEAD)
    sheet.set_row(0, 26)
    sheet.set_column(0, 15, 9)
    sheet.write(0, 0, "To look at", book.look(bold=True, font_size=16))
    sheet.write_formula(
        1, 0,
        '="Largest drop: "&TEXT(MAX(Jobs[Primary drop %]),"0.0")&" % on the primary of "&INDEX('
        "Jobs[Tag],MATCH(MAX(Jobs[Primary drop %]),Jobs[Primary drop %],0))&"
        '", "&INDEX(Jobs[Place],MATCH(MAX(Jobs[Primary drop %]),Jobs[Primary drop %],0))',
        book.look(font_color=QUIET),
    )  # fmt: skip
    sheet.write_formula(
        2, 0,
        '="Voltage drop at full load in %, primary and secondary; limit of the settings: "&'
        'Drop_limit&" %"',
        book.look(bold=True, font_size=12),
    )  # fmt: skip
    rows = HEAD_ROW + 1, HEAD_ROW + len(JOBS)
    drops = book.book.add_chart({"type": "column", "subtype": "stacked"})
    for side, color in (("Primary", SERIES[0]), ("Secondary", SERIES[2])):
        at = PLACE[f"{side} drop %"]
        drops.add_series(
            {
                "name": side,
                "categories": ["Jobs", rows[0], 0, rows[1], 0],
                "values": ["Jobs", rows[0], at, rows[1], at],
                "fill": {"color": color},
                "gap": 40,
            }
        )
    drops.set_y_axis(_axis(num_format="0", major_unit=1, min=0))
    drops.set_x_axis(_axis(num_font={"name": FONT, "size": 8, "rotation": -90, "color": QUIET}))
    _place(sheet, drops, "A4")
    sheet.write(21, 0, "Wire to buy in feet, phases and neutrals, by size",
                book.look(bold=True, font_size=12))  # fmt: skip
    feet = book.book.add_chart({"type": "column", "subtype": "stacked"})
    last = SIZE_ROW + len(SIZES) - 1
    for number, color in enumerate(SERIES, 1):
        material, insulation = WIRES[number - 1]
        feet.add_series(
            {
                "name": f"{material} {insulation}",
                "categories": ["Take-off", SIZE_ROW, 0, last, 0],
                "values": ["Take-off", SIZE_ROW, number, last, number],
                "fill": {"color": color},
                "gap": 40,
            }
        )
    feet.set_y_axis(_axis(num_format="#,##0", min=0))
    feet.set_x_axis(_axis(num_font={"name": FONT, "size": 8, "rotation": -90, "color": QUIET}))
    _place(sheet, feet, "A23")
    sheet.set_landscape()
    sheet.fit_to_pages(1, 1)
    sheet.print_area("A1:N41")
    sheet.center_horizontally()


def _axis(**properties: Any) -> dict[str, Any]:
    return {
        "num_font": {"name": FONT, "size": 9, "color": QUIET},
        "line": {"color": LINE},
        "major_gridlines": {"visible": "min" in properties, "line": {"color": LINE}},
        **properties,
    }


def _place(sheet: Worksheet, chart: Any, cell: str) -> None:
    chart.set_legend({"position": "top", "font": {"name": FONT, "size": 9}})
    chart.set_chartarea({"border": {"none": True}})
    chart.set_size({"width": 950, "height": 340})
    sheet.insert_chart(cell, chart, {"object_position": 2})


def _settings(book: Book) -> None:
    sheet = book.sheet("Settings", INPUT_HEAD)
    sheet.set_column(0, 0, 34)
    sheet.set_column(1, 1, 14)
    sheet.set_column(2, 2, 76)
    sheet.set_row(0, 26)
    sheet.write(0, 0, "Settings", book.look(bold=True, font_size=16))
    for column, title in enumerate(("Setting", "Value", "Why")):
        sheet.write(2, column, title, book.head(INPUT_HEAD))
    for row, (name, label, value, rule, why) in enumerate(SETTINGS, 3):
        sheet.set_row(row, 18)
        sheet.write(row, 0, label, book.look(border=1, border_color=LINE))
        sheet.write(row, 1, value, book.input(align="center", bold=True))
        sheet.write(row, 2, why, book.look(border=1, border_color=LINE, font_color=QUIET))
        book.book.define_name(name, f"=Settings!{xl_rowcol_to_cell(row, 1, True, True)}")
        if rule:
            sheet.data_validation(row, 1, row, 1, rule)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
