"""LibreOffice Calc: setting up a profile, and what a real LibreOffice then calculates.

Expected currents are S = sqrt(3) V I, worked by hand; Calc's error codes are those of its help
("Error Codes in LibreOffice Calc").
"""

import datetime
import math
import os
import subprocess
import sys
import time
from pathlib import Path

import openpyxl
import pytest
from openpyxl.worksheet.formula import ArrayFormula

from xlfuncs import setup_calc
from xlfuncs.functions import FUNCTIONS
from xlfuncs.hosts import calc
from xlfuncs.hosts.workbook import fill
from xlfuncs.setup_calc import Refusal

from . import calc_office
from .grid import example

OURS = "{}.{}".format(*sys.version_info[:2])
INDEX = """\
<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE library:library PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "library.dtd">
<library:library xmlns:library="http://openoffice.org/2000/library" library:name="Standard" \
library:readonly="false" library:passwordprotected="false">
 <library:element library:name="Module1"/>
</library:library>
"""


@pytest.fixture
def profile(tmp_path):
    """A profile as LibreOffice leaves it, with a macro of the user's own."""
    library = tmp_path / "profile" / "user" / "basic" / "Standard"
    library.mkdir(parents=True)
    (library / "script.xlb").write_text(INDEX)
    (library / "Module1.xba").write_text("the user's own")
    return tmp_path / "profile"


@pytest.fixture
def program(tmp_path):
    """LibreOffice's programs with a Python of this version beside them."""
    folder = tmp_path / "program"
    (folder / f"python-core-{OURS}.4").mkdir(parents=True)
    return folder


def contents(folder):
    return {file: file.read_bytes() for file in sorted(folder.rglob("*")) if file.is_file()}


def test_installing_twice_is_installing_once(profile, program):
    said = setup_calc.install(profile, program)
    assert str(len(FUNCTIONS)) in said
    once = contents(profile)
    setup_calc.install(profile, program)
    assert contents(profile) == once
    assert any(file.name == "xlfuncs_calc.py" for file in once)


def test_the_folder_user_names_its_profile_too(profile, program):
    assert str(profile) in setup_calc.install(profile / "user", program)


def test_removing_leaves_the_profile_as_it_was(profile, program):
    before = contents(profile)
    setup_calc.install(profile, program)
    assert contents(profile) != before
    assert "removed" in setup_calc.remove(profile)
    after = contents(profile)
    assert set(after) == set(before)
    index = profile / "user" / "basic" / "Standard" / "script.xlb"
    assert b"Module1" in after.pop(index)
    assert calc.MODULE.encode() not in index.read_bytes()
    assert before.pop(index)
    assert after == before


def test_removing_what_is_not_installed_says_so(profile):
    before = contents(profile)
    assert "nothing to remove" in setup_calc.remove(profile)
    assert contents(profile) == before


def refused(profile, program):
    """The one line of a refusal; nothing may be changed by it."""
    before = contents(profile)
    with pytest.raises(Refusal) as refusal:
        setup_calc.install(profile, program)
    assert contents(profile) == before
    line = str(refusal.value)
    assert "\n" not in line
    return line


def test_refuses_while_libreoffice_runs(profile, program):
    (profile / ".lock").write_text("")
    assert "close it" in refused(profile, program)
    with pytest.raises(Refusal, match="close it"):
        setup_calc.remove(profile)


def test_refuses_without_a_profile(tmp_path, program):
    assert "start LibreOffice once" in refused(tmp_path / "none", program)


@pytest.mark.parametrize("version", ["3.8", "3.99"])
def test_refuses_a_python_that_can_not_load_the_packages(profile, tmp_path, version):
    program = tmp_path / "other"
    (program / f"python-core-{version}.1").mkdir(parents=True)
    line = refused(profile, program)
    assert f"Python {version}" in line
    assert f"Python {OURS}" in line


def test_refuses_a_libreoffice_without_python(profile, tmp_path):
    program = tmp_path / "bare"
    program.mkdir()
    (program / "libpyuno.so").write_bytes(b"libpython3.11.so.1.0")
    assert "script-provider-python" in refused(profile, program)


def test_refuses_where_libreoffice_is_not_found(profile, monkeypatch):
    monkeypatch.setattr(setup_calc, "find_program", lambda: None)
    assert "was not found" in refused(profile, None)


def test_keeps_a_module_of_someone_else(profile, program):
    (profile / "user" / "basic" / "Standard" / f"{calc.MODULE}.xba").write_text("mine")
    assert "someone else" in refused(profile, program)
    assert "nothing to remove" in setup_calc.remove(profile)


def test_refuses_a_damaged_index(profile, program):
    (profile / "user" / "basic" / "Standard" / "script.xlb").write_text("<library")
    with pytest.raises(Refusal, match="damaged"):
        setup_calc.install(profile, program)


def test_finds_the_python_of_each_kind_of_libreoffice(tmp_path):
    bundled = tmp_path / "windows" / "program"
    (bundled / "python-core-3.10.18").mkdir(parents=True)
    assert setup_calc.office_python(bundled) == (3, 10)

    apple = tmp_path / "LibreOffice.app" / "Contents"
    (apple / "Frameworks" / "LibreOfficePython.framework" / "Versions" / "3.9").mkdir(parents=True)
    (apple / "MacOS").mkdir()
    assert setup_calc.office_python(apple / "MacOS") == (3, 9)

    distribution = tmp_path / "lib" / "program"
    distribution.mkdir(parents=True)
    (distribution / "libpyuno.so").write_bytes(b"\0libuno.so\0libpython3.13.so.1.0\0")
    (distribution / "pythonscript.py").write_text("")
    assert setup_calc.office_python(distribution) == (3, 13)


@pytest.mark.parametrize(
    ("platform", "expected"),
    [
        ("linux", ".config/libreoffice/4"),
        ("darwin", "Library/Application Support/LibreOffice/4"),
        ("win32", "AppData/Roaming/LibreOffice/4"),
    ],
)
def test_knows_the_users_own_profile(monkeypatch, platform, expected):
    monkeypatch.setattr(sys, "platform", platform)
    for variable in ("APPDATA", "XDG_CONFIG_HOME"):
        monkeypatch.delenv(variable, raising=False)
    assert setup_calc.default_profile() == Path.home() / expected


def test_the_script_finds_the_packages_from_nowhere(profile, program, tmp_path):
    setup_calc.install(profile, program)
    script = profile / "user" / "Scripts" / "python" / "xlfuncs_calc.py"
    code = (
        f"import runpy; answer = runpy.run_path({str(script)!r})['answer'];"
        "print(answer('XF_FULL_LOAD_CURRENT', (75, 480)))"
    )
    run = [sys.executable, "-S", "-c", code]
    printed = subprocess.run(run, cwd=tmp_path, capture_output=True, text=True, check=True)
    assert float(printed.stdout) == pytest.approx(75_000 / math.sqrt(3) / 480)


def test_the_script_says_what_is_missing(tmp_path):
    script = tmp_path / "script.py"
    script.write_text(calc.python_script([]), "utf-8")
    code = f"import runpy; print(runpy.run_path({str(script)!r})['answer']('XF_AREA', ('6',)))"
    run = [sys.executable, "-S", "-I", "-c", code]
    printed = subprocess.run(run, cwd=tmp_path, capture_output=True, text=True, check=True)
    assert printed.stdout.startswith("Check: xlfuncs can't be loaded")
    assert "run xlfuncs setup calc again" in printed.stdout


def test_a_function_of_an_older_setup_is_told_so():
    assert calc.answer_in_calc("XF_NO_MORE", ()).startswith("Check: XF_NO_MORE is not in this")


def test_a_fault_of_ours_is_a_message(monkeypatch):
    monkeypatch.setattr(calc, "answer", lambda *_: 1 / 0)
    assert calc.answer_in_calc("XF_AREA", ("6",)).endswith("Please report it")


def optional_arguments():
    return [
        pytest.param(function, place, id=f"{function.name} {argument.name}")
        for function in FUNCTIONS.values()
        for place, argument in enumerate(function.arguments)
        if not argument.required and argument.kind != "cell"
    ]


@pytest.mark.parametrize(("function", "place"), optional_arguments())
def test_an_argument_left_out_before_another_never_counts_as_zero(function, place):
    """LibreOffice hands over 0 for it: the default's answer, or a message that says so."""
    argument = function.arguments[place]
    required = [a.required for a in function.arguments].count(True)
    cells = [*example(function)[:required], *[None] * (place - required)]
    got = calc.answer_in_calc(function.name, (*cells, 0))
    if "left out, and LibreOffice" in str(got):
        assert got.startswith(f"Check: {argument.name} is ")
        assert argument.default not in (0, False)
    else:
        assert got == calc.answer_in_calc(function.name, (*cells, None))


def test_a_zero_that_would_change_the_answer_is_asked_for_in_words():
    got = calc.answer_in_calc("XF_DEVICE_LIMIT", ("6", None, None, 75, None, None, 0, 1))
    assert 'Write "FALSE" in quotes, or TRUE' in got
    told = calc.answer_in_calc("XF_DEVICE_LIMIT", ("6", None, None, 75, None, None, "FALSE", 1))
    assert told == 60  # 65 A at 75 degC of Table 310.16, not the next rating above it


def test_the_steps_of_a_function_know_its_arguments_left_out():
    left_out = calc.answer_in_calc("XF_STEPS", ("XF_AMPACITY", "6", 0, 0, 0, 0, 9))
    assert left_out == calc.answer_in_calc("XF_STEPS", ("XF_AMPACITY", "6", *[None] * 4, 9))
    assert len(left_out) > 1


# What a real LibreOffice calculates. One workbook, one run.

CURRENT = 75_000 / math.sqrt(3) / 480
CURRENT_75_KVA_208_V = 75_000 / math.sqrt(3) / 208

INPUTS = {
    "A1": 75,
    "A2": 480,
    "A3": True,
    "A4": datetime.date(2024, 1, 2),
    "A6": "=1/0",
    "A7": "#N/A",
    "A8": "Check: kva is blank",
    "A9": "75 kVA",
    "A10": 0,
    "A11": '=""',
}

FORMULAS = {
    "numbers": ("=XF_FULL_LOAD_CURRENT(75,480)", CURRENT),
    "cells": ("=XF_FULL_LOAD_CURRENT(A1,A2)", CURRENT),
    "lower case": ("=xf_full_load_current(A1,A2)", CURRENT),
    "single-phase": ("=XF_FULL_LOAD_CURRENT(A1,A2,1)", 156.25),
    "text with a unit": ("=XF_FULL_LOAD_CURRENT(A9,A2)", CURRENT),
    "inside a formula": ("=ROUND(XF_FULL_LOAD_CURRENT(A1,A2)*1.25,1)", 112.8),
    "all blank": ("=XF_FULL_LOAD_CURRENT(A5,B5)", None),
    "no argument": ("=XF_FULL_LOAD_CURRENT()", None),
    "one blank": ("=XF_FULL_LOAD_CURRENT(A5,A2)", "Check: kva is blank"),
    "empty text": ("=XF_FULL_LOAD_CURRENT(A11,A2)", "Check: kva is blank"),
    "blank optional": ("=XF_FULL_LOAD_CURRENT(A1,A2,A5)", CURRENT),
    "missing": ("=XF_FULL_LOAD_CURRENT(A1)", "Check: volts is blank"),
    "left out at the end": ("=XF_FULL_LOAD_CURRENT(A1,A2,)", CURRENT),
    "too many": (
        "=XF_FULL_LOAD_CURRENT(75,480,3,1)",
        "Check: XF_FULL_LOAD_CURRENT takes 3 arguments at most",
    ),
    "many too many": (
        "=XF_FULL_LOAD_CURRENT(75,480,3,1,2,3)",
        "Check: XF_FULL_LOAD_CURRENT takes 3 arguments at most",
    ),
    "upstream message": ("=XF_FULL_LOAD_CURRENT(A8,A2)", "Check: kva is blank"),
    "refusal": (
        "=XF_FULL_LOAD_CURRENT(-1,A2)",
        "Check: kva must be above 0 kVA, up to 35000 kVA",
    ),
    "error in a cell": ("=XF_FULL_LOAD_CURRENT(A6,A2)", "#DIV/0!"),
    "#N/A in a cell": ("=XF_FULL_LOAD_CURRENT(A7,A2)", "#N/A"),
    "error as text": ('=XF_FULL_LOAD_CURRENT("#REF!",A2)', "#REF!"),
    "error is one": ('=ISERROR(XF_FULL_LOAD_CURRENT("#REF!",A2))', True),
    "error caught": ('=IFERROR(XF_FULL_LOAD_CURRENT("#REF!",A2),"caught")', "caught"),
    "range": ("=SUM(XF_FULL_LOAD_CURRENT(A1:A2,480))", CURRENT + 480_000 / math.sqrt(3) / 480),
    "left out before another": ('=XF_EQUIPMENT_GROUND(400,,"","")', "3 AWG"),
    "true": ('=XF_SIZE_FITS("2/0","6","300")=TRUE', True),
    "false": ('=XF_SIZE_FITS("2/0","250","300")=FALSE', True),
}

ERRORS = ["#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A"]

ARRAYS = {
    "H1:H3": "=XF_FULL_LOAD_CURRENT(B1:B3,480)",
    "I1:J2": "=XF_FULL_LOAD_CURRENT(B1:B2,C1:D1)",
    "H5:H11": "=XF_FULL_LOAD_CURRENT({" + ";".join(f'"{text}"' for text in ERRORS) + "},480)",
    "H13:H15": "=XF_FULL_LOAD_CURRENT(IF(B1:B3=75,NA(),75),480)",
    "K1:O3": '=XF_STEPS("XF_FULL_LOAD_CURRENT",75,480)',
}


# What LibreOffice does in its own way, in column Q.
ONLY_HERE = [
    '=IFERROR(XF_FULL_LOAD_CURRENT(A7,A2),"caught")',
    '=IF(ISERROR(A7),"caught",XF_FULL_LOAD_CURRENT(A7,A2))',
    "=XF_FULL_LOAD_CURRENT(A1:A2,480)",
    "=[1]!XF_FULL_LOAD_CURRENT(75,480)",
    "='Electrical.xlam'!XF_FULL_LOAD_CURRENT(75,480)",
    "=_xll.XF_FULL_LOAD_CURRENT(75,480)",
]


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    book = openpyxl.Workbook()
    sheet = book.active
    for address, value in INPUTS.items():
        sheet[address] = value
    sheet["B1"], sheet["B2"], sheet["B3"] = 75, "x", None
    sheet["C1"], sheet["D1"] = 480, 208
    for row, (formula, _) in enumerate(FORMULAS.values(), 1):
        sheet.cell(row, 6, formula)
    for area, formula in ARRAYS.items():
        sheet[area.partition(":")[0]] = ArrayFormula(area, formula)
    for row, formula in enumerate(ONLY_HERE, 1):
        sheet.cell(row, 17, formula)
    path = tmp_path_factory.mktemp("calc") / "book.xlsx"
    book.save(path)
    return path


@pytest.fixture(scope="module")
def calculated(office, book):
    """What LibreOffice saves of the workbook, and of an .ods that it made of it before."""
    (ods,) = office.recalculate([book], "ods")
    return office.recalculate([book, ods.rename(ods.with_name("again.ods"))])


@pytest.fixture(scope="module")
def sheet(calculated):
    return openpyxl.load_workbook(calculated[0], data_only=True).active


@pytest.fixture(scope="module")
def from_ods(calculated):
    return openpyxl.load_workbook(calculated[1], data_only=True).active


@pytest.fixture(scope="module")
def filled(book):
    fill(book, book.with_name("filled.xlsx"))
    return openpyxl.load_workbook(book.with_name("filled.xlsx"), data_only=True).active


def same(got, expected):
    if isinstance(expected, float):
        assert got == pytest.approx(expected, rel=1e-12)
    else:
        assert got == expected
        assert isinstance(got, bool) == isinstance(expected, bool)


@pytest.mark.parametrize("case", FORMULAS)
def test_calculates_in_libreoffice(sheet, case):
    same(sheet.cell(list(FORMULAS).index(case) + 1, 6).value, FORMULAS[case][1])


def test_a_range_gives_an_array(sheet):
    same(sheet["H1"].value, CURRENT)
    assert sheet["H2"].value == "Check: kva is not a number"
    assert sheet["H3"].value == "Check: kva is blank"
    same(sheet["I1"].value, CURRENT)
    same(sheet["J1"].value, CURRENT_75_KVA_208_V)
    assert sheet["I2"].value == sheet["J2"].value == "Check: kva is not a number"


def test_errors_are_true_errors_in_an_array_too(sheet):
    cells = [row[0] for row in sheet["H5:H11"]]
    assert [cell.value for cell in cells] == ERRORS
    assert {cell.data_type for cell in cells} == {"e"}


def test_an_error_inside_a_calculated_array_keeps_its_place(sheet):
    assert sheet["H13"].value == "#N/A"
    same(sheet["H14"].value, CURRENT)


def test_steps_stand_in_rows(sheet):
    first, last = ([cell.value for cell in row] for row in sheet["K1:O2"])
    assert first[0] == "Full-load current"
    same(first[2], CURRENT)
    assert last[:2] == ["Answer", "XF_FULL_LOAD_CURRENT"]


def test_an_error_in_a_cell_is_not_caught_by_iferror(sheet, filled):
    assert sheet["Q1"].data_type == "e"
    assert sheet["Q2"].value == filled["Q1"].value == filled["Q2"].value == "caught"


def test_without_array_entry_a_range_shows_its_first_answer(sheet, filled):
    same(sheet["Q3"].value, CURRENT)
    same(filled["Q3"].value, CURRENT)


def test_names_with_an_add_in_before_them_are_unknown(sheet, filled):
    for row in (4, 5, 6):
        assert sheet[f"Q{row}"].value == "#NAME?"
        same(filled[f"Q{row}"].value, CURRENT)


def test_works_in_an_ods_as_in_an_xlsx(sheet, from_ods):
    for row in range(1, len(FORMULAS) + 1):
        got, expected = from_ods.cell(row, 6).value, sheet.cell(row, 6).value
        # An .ods keeps no boolean format for the result of a function such as ISERROR.
        same(got, float(expected) if isinstance(expected, (bool, int)) else expected)


def test_installing_again_and_removing_in_a_real_profile(office, tmp_path):
    folder = tmp_path / "second"
    second = calc_office.Office(folder)
    setup_calc.install(folder)
    assert "removed" in setup_calc.remove(folder)
    book = openpyxl.Workbook()
    book.active["A1"] = "=XF_FULL_LOAD_CURRENT(75,480)"
    book.save(tmp_path / "plain.xlsx")
    assert second.values(tmp_path / "plain.xlsx")["A1"].value == "#NAME?"


def test_a_thousand_rows_take_a_few_seconds(office, tmp_path):
    book = openpyxl.Workbook()
    sheet = book.active
    for row in range(1, 1001):
        sheet.append([15 + row / 10, 480, f"=XF_FULL_LOAD_CURRENT(A{row},B{row})"])
    book.save(tmp_path / "thousand.xlsx")
    started = time.monotonic()
    got = office.values(tmp_path / "thousand.xlsx")
    assert time.monotonic() - started < 20  # 1 s alone on a small machine
    same(got["C1000"].value, 115_000 / math.sqrt(3) / 480)


def test_a_libreoffice_that_hangs_is_ended(office, monkeypatch):
    seen = []
    kill = office._kill
    monkeypatch.setattr(calc_office, "SECONDS", 2)
    monkeypatch.setattr(office, "_kill", lambda p: (seen.extend(running(office.folder)), kill(p)))
    with pytest.raises(AssertionError, match="more than 2 s"):
        office.run()
    assert seen
    time.sleep(0.2)
    assert not running(office.folder)


def running(folder):
    """Command lines of the LibreOffice processes with this profile."""
    found = []
    for entry in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            command = entry.read_bytes()
        except OSError:
            continue
        if str(folder).encode() in command and b"soffice" in command:
            found.append(command)
    return found


def test_a_missing_libreoffice_is_a_skip_here_and_a_failure_in_ci(monkeypatch):
    monkeypatch.setattr(calc_office, "why_not", lambda: "LibreOffice is not installed")
    monkeypatch.delenv("CI", raising=False)
    with pytest.raises(pytest.skip.Exception, match="not installed"):
        calc_office.need_libreoffice()
    monkeypatch.setenv("CI", "true")
    with pytest.raises(pytest.fail.Exception, match="not installed"):
        calc_office.need_libreoffice()


def test_another_python_on_the_path_does_not_keep_libreoffice_from_its_own(monkeypatch, tmp_path):
    """As in a terminal in which an environment is activated, or another Python stands first."""
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}{os.environ['PATH']}")
    monkeypatch.setenv("PYTHONHOME", str(tmp_path))
    environment = setup_calc.office_environment()
    assert "PYTHONHOME" not in environment
    if os.name == "posix":
        assert environment["PATH"].split(os.pathsep)[:2] == ["/usr/bin", "/bin"]
