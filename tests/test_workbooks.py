"""The workbooks for the job: as committed, as worked by hand, and as others open them."""

import importlib.util
import math
import os
import re
import shutil
import subprocess
import zipfile
from collections import Counter
from pathlib import Path

import pytest
from openpyxl import load_workbook

from workbooks import job_list, look, one_installation
from xlfuncs.setup_calc import find_program

ROOT = Path(__file__).parent.parent
MODULES = (job_list, one_installation)
MESSAGE_ROW = "T-130"  # its secondary run is too long on purpose


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """Both workbooks, built and filled again."""
    folder = tmp_path_factory.mktemp("workbooks")
    for module in MODULES:
        module.build(folder / module.FILE_NAME)
        report = look.finish(folder / module.FILE_NAME)
        assert not report.left_alone
        assert not report.errors
    return folder


def committed(module, **options):
    return load_workbook(ROOT / "workbooks" / module.FILE_NAME, **options)


def formula(value):
    """What a cell holds: of an array formula its text and its range."""
    return (value.ref, value.text) if hasattr(value, "text") else value


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.FILE_NAME)
def test_the_committed_workbook_is_the_built_one(module, built):
    for options in ({"data_only": False}, {"data_only": True}):
        ours = load_workbook(built / module.FILE_NAME, **options)
        theirs = committed(module, **options)
        assert ours.sheetnames == theirs.sheetnames
        assert set(ours.defined_names) == set(theirs.defined_names)
        for sheet in ours:
            other = theirs[sheet.title]
            assert sheet.dimensions == other.dimensions
            assert len(sheet._charts) == len(other._charts)
            for row in sheet.iter_rows():
                for cell in row:
                    held = formula(other[cell.coordinate].value)
                    place = f"{sheet.title}!{cell.coordinate}: python -m workbooks"
                    if isinstance(held, float):
                        assert cell.value == pytest.approx(held, rel=1e-9, abs=1e-9), place
                    else:
                        assert formula(cell.value) == held, place
                    assert cell.number_format == other[cell.coordinate].number_format, place


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.FILE_NAME)
def test_no_cell_holds_an_error_or_a_message_that_is_not_meant(module):
    for sheet in committed(module, data_only=True):
        for row in sheet.iter_rows():
            for cell in row:
                text = str(cell.value or "")
                place = f"{sheet.title}!{cell.coordinate}: {text}"
                assert not re.match(r"#[A-Z/0!?]+", text), place
                if text.startswith("Check:"):
                    assert (sheet.title, row[0].value) == ("Jobs", MESSAGE_ROW), place


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.FILE_NAME)
def test_every_formula_has_a_stored_result(module):
    formulas = 0
    with zipfile.ZipFile(ROOT / "workbooks" / module.FILE_NAME) as package:
        for part in package.namelist():
            if part.startswith("xl/worksheets/sheet"):
                for cell in re.findall(r"<c [^>]*[^/]>(.*?)</c>", package.read(part).decode()):
                    formulas += "<f" in cell
                    assert "<f" not in cell or "<v>" in cell or "<v/>" in cell, (part, cell)
        assert "fullCalcOnLoad" not in package.read("xl/workbook.xml").decode()
    assert formulas > 400


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.FILE_NAME)
def test_the_first_sheet_says_what_it_is_and_the_cautions(module):
    sheet = committed(module).worksheets[0]
    assert sheet.title == "Read me"
    text = " ".join(str(value) for row in sheet.values for value in row if value)
    assert sheet["A1"].value == module.TITLE
    for words in ("What it is", "How to use it", "invented", "authority having jurisdiction",
                  "licensed practice", "De-energize", "xlfuncs fill"):  # fmt: skip
        assert words in text, words


def jobs():
    """The rows of the job list by tag, as column name: value."""
    sheet = committed(job_list, data_only=True)["Jobs"]
    head, *rows = sheet.iter_rows(min_row=job_list.HEAD_ROW + 1, values_only=True)
    return {row[0]: dict(zip(head, row, strict=True)) for row in rows if row[0]}


JOBS = jobs()

# Worked by hand for terminals of 75 degC, 2023. The source stands beside each figure; the values
# of NFPA 70 were read in tables that tests/published cite.
BY_HAND = {
    "T-106": {  # 75 kVA, 480 to 208Y/120 V, THHN copper in EMT, 55 and 16 ft
        "Primary A": 75_000 / (math.sqrt(3) * 480),
        "Primary device": 125,  # 1.25 x 90.2 = 112.8 A, Table 240.6(A)
        "Largest primary device": 225,  # 2.5 x 90.2 = 225.5 A, Table 450.3(B), rounded down
        "Primary size": "2 AWG",  # 115 A carries 112.8 A, Table 310.16; 125 A by 240.4(B)
        "Equipment ground": "6 AWG",  # Table 250.122, above 100 to 200 A
        "Primary raceway": "1-1/4 in",  # 3 x 0.1158 + 0.0507 = 0.398 in2; 0.346 and 0.598, Table 4
        # R 0.20, X 0.057 ohm of 2 AWG in steel, Chapter 9 Table 9
        "Primary drop %": math.sqrt(3) * 90.211 * (0.2 * 0.85 + 0.057 * math.sqrt(1 - 0.85**2))
        * 55 / 1000 / 480 * 100,
        "Primary bond": "bond",  # 277 V to ground, 250.97
        "Secondary device": 300,  # 1.25 x 208.2 = 260.2 A, Table 450.3(B), rounded up
        "Secondary size": "350 kcmil",  # 310 A, 300 kcmil only 285 A: Table 310.16, 240.21(C)
        "Supply-side jumper": "2 AWG",  # Table 250.102(C)(1), over 3/0 through 350
        "Electrode conductor": "2 AWG",  # Table 250.66, over 3/0 through 350
        "Secondary raceway": "2-1/2 in",  # 4 x 0.5242 + 0.1158 = 2.213 in2; 1.342 and 2.343
        "Secondary bond": "no",  # 120 V to ground
        "Primary wire ft": 3 * (55 + 2 * 5) * 1.05,
    },
    "T-113": {  # 9 kVA, 480 V delta to 208Y/120 V, XHHW-2 copper in PVC40, 30 and 6 ft
        "Secondary device": 35,  # 1.25 x 25.0 = 31.2 A, Table 240.6(A)
        "Secondary size": "8 AWG",  # 10 AWG has 35 A, but 240.4(D) allows it a 30 A device
        "Secondary raceway": "1 in",  # 5 x 0.0437 = 0.219 in2; 0.203 (4.65 of them) and 0.333
    },
    "T-115": {  # 5 kVA, single-phase, 480 to 120 V two-wire without a device on the secondary
        "Primary A": 5000 / 480,
        "Primary device": 15,  # 1.25 x 10.4 = 13.0 A
        "Largest primary device": 15,  # 125 %, rounded up: Table 450.3(B)
        "Secondary device": "none",
        "Least secondary A": 60,  # 15 A x 480 / 120, 240.21(C)(1)
        "Secondary size": "6 AWG",  # 65 A, 8 AWG only 50 A: Table 310.16
        "Secondary wires": 2,
    },
    "T-126": {  # 225 kVA, XHHW-2 aluminum
        "Primary device": 350,  # 1.25 x 270.6 = 338.3 A
        "Primary sets": 2,  # one 500 kcmil aluminum carries 310 A, Table 310.16
        "Primary size": "4/0 AWG",  # 2 x 180 A; 3/0: 2 x 155 A do not carry 338 A
        "Equipment ground": "3 AWG",  # Table 250.122, above 300 to 400 A
        "Secondary sets": 3,  # 800 A / 310 A
        "Secondary size": "400 kcmil",  # 3 x 270 A; 350 kcmil: 3 x 250 A
    },
    "T-128": {  # 15 kVA, 620 ft: a larger size was chosen for the drop
        "Least primary size": "10 AWG",  # 25 A device, 240.4(D)(7)
        "Primary size": "8 AWG",
        "Equipment ground": "8 AWG",  # 10 AWG x 16.51/10.38 in area, 250.122(B), Table 8
        "Verdict": "in order",
    },
    "T-129": {
        # R 0.31, X 0.048 ohm of 4 AWG in PVC, Chapter 9 Table 9
        "Primary drop %": 2 * (25_000 / 480) * (0.31 * 0.85 + 0.048 * math.sqrt(1 - 0.85**2))
        * 540 / 1000 / 480 * 100,
        "Verdict": "drop over limit",
    },
}  # fmt: skip


@pytest.mark.parametrize("tag", BY_HAND)
def test_rows_of_the_job_list_are_as_worked_by_hand(tag):
    for column, expected in BY_HAND[tag].items():
        value = JOBS[tag][column]
        if isinstance(expected, float):
            assert value == pytest.approx(expected, rel=1e-4), column
        else:
            assert value == expected, column


def test_the_job_list_is_long_enough_and_its_verdicts_are_the_meant_ones():
    assert len(JOBS) >= 24
    others = {tag: row["Verdict"] for tag, row in JOBS.items() if row["Verdict"] != "in order"}
    assert set(others) == {"T-129", MESSAGE_ROW}
    assert others[MESSAGE_ROW].startswith("Check: length must not be above 25 ft")  # 240.21(C)(6)
    assert [JOBS[MESSAGE_ROW][name] for name in ("Jumper ft", "Secondary wire ft")] == [None, None]


FEET = {"42 m": 42 / 0.3048, "3 m": 3 / 0.3048, "160'-6\"": 160.5}
TO_GROUND = {"480Y/277": 277, "600Y/347": 347, "208Y/120": 120, "480 delta": 480,
             "120/240": 120, "240 delta": 240, "two-wire": 120}  # fmt: skip


def feet(run):
    return FEET.get(run, run)


def taken_off():
    """Quantities of the take-off, worked from the entries and sizes of the rows alone."""
    counts = {name: Counter() for name in ("wire", "ground", "jumper", "electrode", "system",
                                           "raceway", "bushing", "device", "unit")}  # fmt: skip

    def bought(run, count, tail=5):
        return count * (feet(run) + 2 * tail) * 1.05

    for tag, row in JOBS.items():
        kind = row["Material"], row["Insulation"]
        phases = 2 if row["Phases"] == 1 else 3
        neutral = 1 if "/" in row["Secondary system"] else 0
        metal = not row["Raceway"].startswith("PVC")
        counts["unit"][row["kVA"], row["Phases"]] += 1
        sides = [("Primary", phases)]
        if tag != MESSAGE_ROW:
            sides.append(("Secondary", phases + neutral))
        for side, wires in sides:
            sets, run = row[f"{side} sets"], row[f"{side} run"]
            counts["wire"][*kind, row[f"{side} size"]] += bought(run, wires * sets)
            counts["raceway"][row["Raceway"], row[f"{side} raceway"]] += bought(run, sets, 0)
            if row[f"{side} device"] != "none":
                counts["device"][side, row["Phases"], row[f"{side} device"]] += 1
            if metal and TO_GROUND[row[f"{side} system"]] > 250:
                counts["bushing"][row[f"{side} raceway"]] += 2 * sets
            ground, size = ("ground", "Equipment ground"), ("jumper", "Supply-side jumper")
            name, column = ground if side == "Primary" else size
            counts[name][row[column]] += bought(run, sets)
        if tag != MESSAGE_ROW:
            counts["electrode"][row["Electrode conductor"]] += bought(row["Electrode run"], 1)
            if row["System jumper"] != "none":
                counts["system"][row["System jumper"]] += 1
    return counts


def test_the_take_off_is_the_sum_of_the_rows():
    sheet = committed(job_list, data_only=True)["Take-off"]
    expected = taken_off()
    top = job_list.SIZE_ROW + 1
    at, rated = job_list.RACEWAY_AT + 1, job_list.DEVICE_AT + 1
    found = {name: Counter() for name in expected}
    for row in range(top, top + len(job_list.SIZES)):
        size = sheet.cell(row, 1).value
        for column in range(2, 6):
            kind = (sheet.cell(top - 2, column).value, sheet.cell(top - 1, column).value)
            found["wire"][*kind, size] += sheet.cell(row, column).value
        for column, name in enumerate(("ground", "jumper", "electrode", "system"), 6):
            found[name][size] += sheet.cell(row, column).value
    for row in range(top, top + len(job_list.TRADE_SIZES)):
        size = sheet.cell(row, at).value
        for column in range(at + 1, at + 6):
            found["raceway"][sheet.cell(top - 1, column).value, size] += sheet.cell(
                row, column
            ).value
        found["bushing"][size] += sheet.cell(row, at + 6).value
    for row in range(top, top + len(job_list.RATINGS)):
        kinds = [("Primary", 3), ("Primary", 1), ("Secondary", 3), ("Secondary", 1)]
        for column, kind in enumerate(kinds, rated + 1):
            found["device"][*kind, sheet.cell(row, rated).value] += sheet.cell(row, column).value
    for row in range(job_list.RATED_ROW + 1, job_list.RATED_ROW + 1 + len(job_list.RATED)):
        for column, phases in ((at + 1, 3), (at + 2, 1)):
            found["unit"][sheet.cell(row, at).value, phases] += sheet.cell(row, column).value
    for name, counted in expected.items():
        assert +counted == pytest.approx(dict(+found[name]), abs=1e-6), name


def test_the_take_off_says_that_nothing_is_missing():
    sheet = committed(job_list, data_only=True)["Take-off"]
    ends = {0: 9, job_list.RACEWAY_AT: 17, job_list.DEVICE_AT: 23}  # the blocks of columns
    lines = [
        [cell.value for cell in row[index : ends[index]] if isinstance(cell.value, (int, float))]
        for row in sheet.iter_rows()
        for index, start in enumerate(row)
        if start.value == "Not listed"
    ]
    assert [len(line) for line in sorted(lines, key=len)] == [2, 2, 4, 5]
    assert all(value == 0 for line in lines for value in line)
    assert [sheet[cell].value for cell in ("C4", "F4", "I4")] == [len(JOBS), 2, 1]


@pytest.fixture
def changed(tmp_path):
    """Change cells of a built workbook and fill it again.

    The XML is edited, since openpyxl does not keep what marks a formula as one that spills.
    """

    def change(module, sheet, cells):
        built, path = tmp_path / "built.xlsx", tmp_path / "changed.xlsx"
        module.build(built)
        part = f"xl/worksheets/sheet{load_workbook(built).sheetnames.index(sheet) + 1}.xml"
        with zipfile.ZipFile(built) as old, zipfile.ZipFile(path, "w") as new:
            for member in old.namelist():
                text = old.read(member)
                new.writestr(member, edited(text.decode(), cells) if member == part else text)
        look.finish(path)
        return load_workbook(path, data_only=True)

    return change


def edited(xml, cells):
    """Put values, formulas or nothing into cells of a sheet's XML."""
    for address, value in cells.items():
        kind, inner = "", f"<v>{value}</v>"
        if value is None:
            inner = ""
        elif str(value).startswith("="):
            inner = f"<f>{value[1:]}</f>"
        elif isinstance(value, str):
            kind, inner = ' t="inlineStr"', f"<is><t>{value}</t></is>"
        xml, count = re.subn(
            rf'<c r="{address}"( s="\d+")[^>]*?(?:/>|>.*?</c>)',
            rf'<c r="{address}"\1{kind}>{inner}</c>',
            xml,
        )
        assert count == 1, address
    return xml


def column_of(name):
    return job_list.xl_col_to_name(job_list.PLACE[name])


def row_of(tag):
    return job_list.HEAD_ROW + 2 + list(JOBS).index(tag)


@pytest.mark.parametrize(
    ("column", "value", "verdict"),
    [
        ("Secondary system", "480Y/277", "volts and system differ"),
        ("Primary system", "208Y/120", "volts and system differ"),
        ("Phases", 1, "phases and system differ"),
        ("kVA", None, "Check: kva is blank"),
        ("kVA", -75, "Check: kva must be above 0 kVA"),
        ("Secondary protected", "no", "Check: a device on the secondary is needed"),
        ("Larger primary size", "8 AWG", "Check: larger primary size is smaller"),
        ("Primary run", "85 s", "Check: length"),
        ("Primary run", "=NA()", "not complete"),
        ("Primary run", 900, "drop over limit"),
    ],
)
def test_a_wrong_entry_shows_in_the_verdict_and_leaves_the_take_off(
    changed, column, value, verdict
):
    row = row_of("T-106")
    book = changed(job_list, "Jobs", {f"{column_of(column)}{row}": value})
    sheet = book["Jobs"]
    assert sheet[f"{column_of('Verdict')}{row}"].value.startswith(verdict)
    if verdict.startswith(("Check", "not")):
        bought = ("Primary wire ft", "Secondary wire ft")
        assert not all(sheet[f"{column_of(name)}{row}"].value for name in bought)
        assert book["Take-off"]["I4"].value == 2  # this row and the one that is wrong on purpose


def test_a_size_that_the_take_off_has_no_line_for_is_shown_as_not_listed(changed):
    cell = f"{column_of('Insulation')}{row_of('T-106')}"
    book = changed(job_list, "Jobs", {cell: "THW"})
    total = job_list.SIZE_ROW + 1 + len(job_list.SIZES)
    # 3 x 65 ft and 4 x 26 ft, 5 % more
    assert book["Take-off"].cell(total + 1, 2).value == pytest.approx((195 + 104) * 1.05, abs=0.01)


def test_new_rows_get_the_formulas_and_choices():
    sheet = committed(job_list)["Jobs"]
    (table,) = sheet.tables.values()
    assert table.displayName == "Jobs"
    calculated = {c.name for c in table.tableColumns if c.calculatedColumnFormula is not None}
    assert calculated == {column.name for column in job_list.COLUMNS if column.formula}
    below = f"{column_of('Material')}{row_of(list(JOBS)[-1]) + 1}"
    lists = [v for v in sheet.data_validations.dataValidation if below in v.sqref]
    assert [v.formula1 for v in lists] == ['"copper,aluminum"']


def test_the_job_list_prints_with_its_headings():
    sheet = committed(job_list)["Jobs"]
    assert sheet.page_setup.orientation == "landscape"
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert sheet.page_setup.fitToHeight == 0
    assert sheet.print_title_rows == f"${job_list.HEAD_ROW}:${job_list.HEAD_ROW + 1}"
    assert sheet.print_title_cols == "$A:$C"


FIRST = one_installation.InstallationPage.FINDINGS + 1  # row of the first finding of the review


def results(book):
    sheet = book["Installation"]
    return {sheet.cell(r, 6).value: sheet.cell(r, 7).value for r in range(17, 40)}


# 112.5 kVA, 480 to 208Y/120 V, THHN copper in EMT, terminals of 75 degC; as above.
INSTALLATION = {
    "Primary current": 112_500 / (math.sqrt(3) * 480),
    "Primary device": 175,  # 1.25 x 135.3 = 169.1 A, Table 240.6(A)
    "Largest allowed there": 300,  # 2.5 x 135.3 = 338 A rounded down, Table 450.3(B)
    "Primary conductor": "2/0 AWG",  # 175 A, Table 310.16
    "Equipment ground": "6 AWG",  # Table 250.122
    "Primary raceway": "1-1/2 in",  # 3 x 0.2223 + 0.0507 = 0.718 in2; 0.598 and 0.814, Table 4
    "Secondary device": 400,  # 1.25 x 312.3 = 390.3 A
    "Secondary sets": 2,  # 400 A needs 600 kcmil in one set
    "Secondary conductor": "3/0 AWG",  # 2 x 200 A, Table 310.16, 240.21(C)(6)
    "Supply-side bonding jumper": "4 AWG",  # in each raceway, Table 250.102(C)(1)
    "System bonding jumper": "2 AWG",  # for 335.6 kcmil, Table 250.102(C)(1)
    "Electrode conductor": "2 AWG",  # for 335.6 kcmil, Table 250.66
    "Secondary raceway": "2 in",  # 4 x 0.2679 + 0.0824 = 1.154 in2; 0.814 and 1.342
    "Fault current, supply unlimited": 112_500 / (math.sqrt(3) * 208) / 0.042,
    "Working depth at the panel": 3.0,  # 120 V to ground, Table 110.26(A)(1)
    # 98.74 % at 35 % load, 10 CFR 431.196(a)(2); half of those losses grow with the load squared
    "Heat at that load": 112_500 * 0.35 * (1 / 0.9874 - 1) / 2 * (1 + (60 / 35) ** 2),
}  # fmt: skip


def test_the_installation_is_as_worked_by_hand():
    found = results(committed(one_installation, data_only=True))
    for label, expected in INSTALLATION.items():
        if isinstance(expected, float):
            assert found[label] == pytest.approx(expected, rel=1e-4), label
        else:
            assert found[label] == expected, label


def test_the_record_is_as_worked_by_hand():
    sheet = committed(one_installation, data_only=True)["Record"]
    # 205.1, 206.4 and 204.8 V: mean 205.433 V, farthest 0.967 V from it; NEMA MG 1
    assert sheet["B9"].value == pytest.approx(0.967 / 205.433 * 100, abs=0.001)
    assert sheet["B7"].value == pytest.approx((205.1 - 208) / 208 * 100)
    # 208 V: 197 to 218 V and 120 V: 114 to 126 V are Range A of ANSI C84.1
    assert [sheet.cell(8, column).value for column in range(2, 8)] == ["A"] * 6
    # 2.5 % more would be 210.7 V, farther from 208 V than 205.4 V
    assert sheet["E9"].value == 0
    severities = [sheet.cell(row, 1).value for row in range(12, 20)]
    assert severities == ["note"] * 6 + [None] * 2


def test_what_is_chosen_goes_through_the_page(changed):
    rows = {result.label: 17 + number for number, result in enumerate(one_installation.RESULTS)}
    cells = {
        f"H{rows['Primary device']}": 200,
        f"H{rows['Primary conductor']}": "3/0",
    }
    book = changed(one_installation, "Installation", cells)
    sheet, found = book["Installation"], results(book)
    findings = list(sheet.iter_rows(FIRST, FIRST + 23, values_only=True))
    # 3/0 carries the 200 A, Table 310.16; 3 x 0.2679 + 0.0507 = 0.854 in2, above 0.814 in2
    assert found["Primary raceway"] == "2 in"
    # 6 AWG is asked for up to 200 A; it grows with the conductor, 26.24 x 167.8/133.1 = 33.1 kcmil
    assert found["Equipment ground"] == "4 AWG"
    assert sheet["C9"].value == "Device\n200 A"
    text = " ".join(str(row[1]) for row in findings if row[1])
    assert "device of 200 A protects them" in text
    assert "stop" not in [row[0] for row in findings]


def test_a_choice_that_does_not_hold_stops_the_review(changed):
    rows = {result.label: 17 + number for number, result in enumerate(one_installation.RESULTS)}
    book = changed(one_installation, "Installation", {f"H{rows['Primary conductor']}": "1 AWG"})
    sheet = book["Installation"]
    assert sheet.cell(FIRST, 1).value == "stop"  # 130 A for a device of 175 A: Table 310.16, 240.4


def test_a_refused_entry_is_told_in_the_widest_cell(changed):
    book = changed(one_installation, "Installation", {"C17": -1})
    sheet = book["Installation"]
    message = "Check: kva must be above 0 kVA"
    assert sheet.cell(FIRST, 1).value == "stop"
    assert sheet.cell(FIRST, 2).value.startswith(message)
    assert all(str(results(book)[label]).startswith(message) for label in INSTALLATION
               if label != "Working depth at the panel")  # fmt: skip


def pictures_module():
    spec = importlib.util.spec_from_file_location("pictures", ROOT / "docs" / "pictures.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_pictures_are_there_and_small():
    module = pictures_module()
    stored = {path.stem: path.stat().st_size for path in module.PICTURES.glob("*.png")}
    assert set(stored) == set(module.SHOWN)
    assert max(stored.values()) < 250_000


@pytest.mark.parametrize(
    ("module", "pages", "texts"),
    [
        (job_list, 6, ["T-106", "350 kcmil", "Check: length", "Take-off", "drop over limit"]),
        (one_installation, 3, ["2/0 AWG", "Table 250.122", "205.1", "All lines are shown"]),
    ],
    ids=["job_list", "one_installation"],
)
def test_libreoffice_shows_the_results_without_the_functions(module, pages, texts, tmp_path):
    reason = next(
        (f"{tool} is missing" for tool, found in
         {"LibreOffice": find_program(), "pdftotext": shutil.which("pdftotext")}.items()
         if not found), None,
    )  # fmt: skip
    if reason and os.environ.get("CI"):
        pytest.fail(reason)
    if reason:
        pytest.skip(reason)
    pdf = pictures_module().as_pdf(ROOT / "workbooks" / module.FILE_NAME, tmp_path)
    printed = subprocess.run(
        ["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True, check=True
    ).stdout
    assert printed.count("\f") == pages
    assert "#NAME?" not in printed
    assert "#VALUE!" not in printed
    for text in texts:
        assert text in printed, text
