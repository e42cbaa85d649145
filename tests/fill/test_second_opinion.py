"""A filled workbook computed again by LibreOffice, and what becomes of the differences."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace

import openpyxl
import pytest
import xlsxwriter

from tests.hosts import calc_office
from xlfuncs import demo, second_opinion, setup_calc
from xlfuncs.hosts.workbook import Refusal, fill
from xlfuncs.hosts.workbook.package import open_package
from xlfuncs.hosts.workbook.stored import Error, bare_copy, stored_values

SECONDS = 120


@pytest.fixture
def libreoffice():
    calc_office.need_libreoffice()


def asked(path, **options):
    output = path.with_name("filled.xlsx")
    report = fill(path, output, **options)
    return second_opinion.ask_calc(report, output, SECONDS)


@pytest.mark.usefixtures("libreoffice")
def test_the_demo_agrees(tmp_path):
    path = tmp_path / "demo.xlsx"
    demo.build(path)
    report = asked(path)
    opinion = report.opinion
    assert opinion.failure == ""
    assert opinion.differences == []
    assert opinion.compared > 0.85 * report.computed
    # What is left is the argument that LibreOffice can't tell from FALSE, and what reads it.
    assert {reason.partition(" ")[0] for _, _, reason in opinion.unanswered} <= {
        "next_size_up",
        "it",
    }


# Formulas that both programs are meant to have, over the cells of `ordinary` below.
ORDINARY = [
    "VLOOKUP(30,A2:D7,3,FALSE)", 'INDEX(B2:B7,MATCH("east 3",B2:B7,0))', "HLOOKUP(480,A1:D2,2,0)",
    "LOOKUP(40,A2:A7,C2:C7)", 'XF_FULL_LOAD_CURRENT(INDEX(A2:A7,MATCH("west 1",B2:B7,0)),480)',
    "DATE(2024,2,29)", "EDATE(DATE(2024,1,31),1)", "EOMONTH(DATE(2024,1,15),1)",
    "WEEKDAY(D3,2)",
    'TEXT(D3,"yyyy-mm-dd")', "YEAR(D2)+MONTH(D3)/100",
    "_xlfn.DAYS(D3,D2)", "NETWORKDAYS(D2,D3)",
    'B2&" / "&A2', "LEFT(B2,4)&RIGHT(B3,1)&MID(B4,2,3)", "UPPER(B2)", 'SUBSTITUTE(B2,"west","w")',
    'FIND("t",B2)', "LEN(TRIM(B7))", 'TEXT(1234.567,"#,##0.00")', "EXACT(B2,B3)", "PROPER(B3)",
    "SUM(A2:A7)", "AVERAGE(C2:C7)", 'SUMIF(B2:B7,"west*",A2:A7)', 'COUNTIF(A2:A7,">=45")',
    'SUMIFS(A2:A7,B2:B7,"east*",C2:C7,"<5")', "SUMPRODUCT(A2:A7,C2:C7)", "SUBTOTAL(9,A2:A7)",
    "MEDIAN(C2:C7)", "STDEV(C2:C7)", "LARGE(A2:A7,2)", "RANK(45,A2:A7)", "PERCENTILE(C2:C7,0.3)",
    "ROUND(2.345,2)", "ROUNDUP(-1.21,1)", "MROUND(17,5)", "CEILING(7.2,0.5)", "INT(-7.5)",
    "MOD(-7,3)", "POWER(2,0.5)", "SQRT(A2)*PI()", "LN(EXP(1))", "ATAN2(1,2)", "-2^2", "1/3",
    "50%+1",
    'IF(AND(A2>10,OR(C2<3,NOT(A3=A2))),"yes","no")', "IFERROR(1/0,5)", "ISBLANK(Z99)",
    "0.1+0.2=0.3",
    "IRR({-100,60,60})", "PMT(0.05/12,60,-10000)", "NPV(0.1,100,200)", "1/0", "MATCH(7,A2:A7,0)",
]  # fmt: skip


@pytest.fixture
def ordinary(tmp_path):
    path = tmp_path / "ordinary.xlsx"
    book = xlsxwriter.Workbook(path)
    sheet = book.add_worksheet("Jobs")
    sheet.write_row("A1", [208, 240, 480, 600])
    day = book.add_format({"num_format": "yyyy-mm-dd"})
    for row, (kva, place, run) in enumerate(
        [(15, "west 1", 1.5), (30, "west 2", 2.25), (45, "east 3", 7), (75, "east 4", 3.125),
         (112.5, "east 5", 9), (150, " north  6 ", 4)], 1,
    ):  # fmt: skip
        sheet.write_row(row, 0, [kva, place, run])
        sheet.write_number(row, 3, 45292 + 40 * row, day)
    for row, formula in enumerate(ORDINARY):
        sheet.write_formula(row, 6, f"={formula}", None, "")
    sheet.write_array_formula("I2:I7", "{=A2:A7*C2:C7}")
    sheet.write_array_formula("J2:L2", "{=TRANSPOSE(A2:A4)}")
    sheet.write_formula("M2", "=SUMPRODUCT((A2:A7>20)*(C2:C7<5))")
    book.close()
    return path


@pytest.mark.usefixtures("libreoffice")
def test_ordinary_formulas_agree(ordinary):
    report = asked(ordinary, recompute_all=True)
    assert report.left_alone == []
    assert report.opinion.failure == ""
    assert report.opinion.differences == []
    assert report.opinion.unanswered == []
    assert report.opinion.compared == len(report.places["Jobs"]) >= len(ORDINARY) + 10


@pytest.mark.usefixtures("libreoffice")
def test_a_difference_is_found_and_said(ordinary):
    output = ordinary.with_name("filled.xlsx")
    report = fill(ordinary, output, recompute_all=True)
    # A wrong result is put into the filled workbook, as a wrong engine would do.
    book = openpyxl.load_workbook(output, data_only=True)
    assert book["Jobs"]["G23"].value == 427.5
    from tests.corpus.package import read, write

    parts = read(output)
    part = "xl/worksheets/sheet1.xml"
    assert parts[part].count(b"<f>SUM(A2:A7)</f><v>427.5</v>") == 1
    parts[part] = parts[part].replace(b"</f><v>427.5</v>", b"</f><v>427.6</v>")
    write(parts, output)
    report = second_opinion.ask_calc(report, output, SECONDS)
    assert ("Jobs", "G23", "427.6", "427.5") in report.opinion.differences
    assert report.status == 1
    assert json.loads(report.as_json())["opinion"]["differences"][0][1] == "G23"
    assert "Jobs!G23: 427.6 here, 427.5 there" in report.as_text()


@pytest.mark.usefixtures("libreoffice")
def test_what_libreoffice_does_not_know_is_no_difference(tmp_path):
    book = openpyxl.Workbook()
    book.active["A1"] = "=_xlfn.SEQUENCE(1)+XF_AREA(6)"
    book.active["A2"] = "=A1+1"
    book.active["A3"] = "=XF_AREA(6)"
    path = tmp_path / "new.xlsx"
    book.save(path)
    report = asked(path)
    if report.opinion.compared == 3:
        pytest.skip("this LibreOffice has SEQUENCE")
    assert report.opinion.differences == []
    assert [address for _, address, _ in report.opinion.unanswered] == ["A1", "A2"]
    assert report.opinion.compared == 1
    assert report.status == 0


def test_it_gets_neither_macros_nor_links(tmp_path):
    from tests.corpus.books import BUILDERS
    from tests.corpus.package import read

    for name in ("links.xlsm", "everything.xlsm"):
        source, bare = tmp_path / name, tmp_path / "bare.xlsx"
        BUILDERS[name](source)
        bare_copy(source, bare)
        parts = read(bare)
        assert not [part for part in parts if "vba" in part or "external" in part.lower()]
        assert not [part for part in parts if "drawing" in part or "connections" in part]
        relations = b"".join(content for part, content in parts.items() if ".rels" in part)
        assert b"External" not in relations
        assert b"macroEnabled" not in parts["[Content_Types].xml"]
        assert list(stored_values(open_package(source))) == list(stored_values(open_package(bare)))


@pytest.mark.usefixtures("libreoffice")
def test_the_command(ordinary):
    run = subprocess.run(
        [sys.executable, "-m", "xlfuncs", "fill", ordinary.name, "--all", "--check-with", "calc"],
        cwd=ordinary.parent, capture_output=True, text=True, timeout=SECONDS, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stdout + run.stderr
    assert "Second opinion of LibreOffice: " in run.stdout
    assert " 0 differ by more than 1e-09 of the value, 0 without an answer" in run.stdout


@pytest.mark.usefixtures("libreoffice")
def test_a_hanging_office_is_ended(ordinary, monkeypatch):
    output = ordinary.with_name("filled.xlsx")
    report = fill(ordinary, output)
    report = second_opinion.ask_calc(report, output, 0.05)
    assert "longer than 0.05 s" in report.opinion.failure
    assert report.status == 1


def test_without_libreoffice_nothing_is_written(ordinary, monkeypatch):
    monkeypatch.setattr(setup_calc, "find_program", lambda: None)
    with pytest.raises(Refusal, match="without LibreOffice"):
        second_opinion.need_calc()
    run = subprocess.run(
        [sys.executable, "-c",
         "import sys\nfrom xlfuncs import setup_calc, cli\nsetup_calc.find_program = lambda: None\n"
         "sys.exit(cli.main())",
         "fill", ordinary.name, "--check-with", "calc"],
        cwd=ordinary.parent, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert run.returncode == 2
    assert run.stderr.startswith("xlfuncs: There is no second opinion without LibreOffice")
    assert run.stderr.count("\n") == 1
    assert [path.name for path in ordinary.parent.iterdir()] == [ordinary.name]


@pytest.mark.parametrize(
    ("here", "there", "same"),
    [
        (1.0, 1.0 + 1e-12, True),
        (1.0, 1.0 + 1e-8, False),
        (0.0, 1e-12, True),
        (1e6, 1e6 + 1e-4, True),
        (True, 1.0, True),
        (True, 0.0, False),
        (None, "", True),
        (None, 0.0, False),
        ("FALSE", "0", True),
        ("FALSE", "1", False),
        ("FALSE", 0.0, True),
        ("TRUE", 0.0, False),
        ("a", "A", False),
        (Error("#N/A"), Error("#N/A"), True),
        (Error("#N/A"), "#N/A", False),
        (Error("#N/A"), 5.0, False),
        (1.0, "1", False),
    ],
)
def test_agreement(here, there, same):
    assert second_opinion.agree(here, there) is same


def test_status_and_no_opinion(ordinary):
    report = fill(ordinary, ordinary.with_name("filled.xlsx"), recompute_all=True)
    opinion = second_opinion.SecondOpinion("LibreOffice", failure="it is away")
    assert report.status == 0
    assert replace(report, opinion=opinion).status == 1
    assert "No second opinion: it is away" in replace(report, opinion=opinion).as_text()
