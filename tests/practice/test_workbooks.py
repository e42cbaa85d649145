"""The workbooks that are handed out and the key: what is in them and, more so, what is not."""

import re
import shutil
import subprocess
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.hosts.calc_office import Office, need_libreoffice
from xlfuncs.practice.build import practice_paths, write_key, write_practice
from xlfuncs.practice.problems import KINDS
from xlfuncs.practice.sets import build_sets
from xlfuncs.steps import Step


@pytest.fixture(scope="module")
def problem_set():
    return build_sets(12, 1, 1)[0]


@pytest.fixture(scope="module")
def written(problem_set, tmp_path_factory):
    path = tmp_path_factory.mktemp("practice") / "class.xlsx"
    write_practice(problem_set, path)
    return path


def test_nothing_that_is_written_depends_on_the_answers(problem_set, written, tmp_path):
    """The strongest form of "no key inside": with other answers the very same bytes."""
    other = replace(
        problem_set,
        problems=tuple(
            replace(
                problem,
                answer="7 AWG" if isinstance(problem.answer, str) else -1234.5,
                tolerance=99.0,
                unsafe="large",
                slips=((5.0, "slip"),),
                steps=(Step("step", "working", 1.0, "A", "rule"),),
            )
            for problem in problem_set.problems
        ),
    )
    path = tmp_path / "other.xlsx"
    write_practice(other, path)
    assert path.read_bytes() == written.read_bytes()


def test_nothing_is_hidden_and_nothing_is_calculated(written):
    book = load_workbook(written)
    assert book.sheetnames == ["Read me", "Problems", "Scratch"]
    assert not book.defined_names
    for sheet in book:
        assert sheet.sheet_state == "visible"
        assert set(sheet.defined_names) <= {"Print_Titles", "Print_Area"}
        assert not any(column.hidden for column in sheet.column_dimensions.values())
        assert not any(row.hidden for row in sheet.row_dimensions.values())
        assert not sheet.data_validations.dataValidation
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "f"
                assert cell.comment is None
    with zipfile.ZipFile(written) as archive:
        names = archive.namelist()
        assert not [n for n in names if "custom" in n.lower() or "comments" in n or "calc" in n]


def test_only_name_date_answers_and_working_can_be_filled_in(written, problem_set):
    book = load_workbook(written)
    sheet = book["Problems"]
    assert sheet.protection.sheet
    assert sheet.protection.password is None
    assert book.security is None or book.security.workbookPassword is None
    numbers = {c.value: c.row for c in sheet["A"] if isinstance(c.value, int)}
    assert sorted(numbers) == list(range(1, 13))
    answers = {f"C{row + 1}" for row in numbers.values()}
    working = {f"{column}{row + 2}" for row in numbers.values() for column in "BCD"}
    opened = {
        cell.coordinate for row in sheet.iter_rows() for cell in row if not cell.protection.locked
    }
    assert opened == answers | working | {"B3", "B4"}
    assert all(sheet[address].fill.fgColor.rgb == "00FFF3C9" for address in answers)
    for row, problem in zip(numbers.values(), problem_set.problems, strict=True):
        assert sheet[f"B{row}"].value == problem.scenario
        assert sheet[f"B{row + 1}"].value == problem.question
        assert sheet[f"D{row + 1}"].value == problem.unit
        text = isinstance(problem.answer, str)
        assert sheet[f"C{row + 1}"].number_format == ("@" if text else "General")
    assert not book["Scratch"].protection.sheet


def test_the_first_sheet_says_what_a_learner_must_know(written, problem_set):
    book = load_workbook(written)
    text = " ".join(str(cell.value) for cell in book["Read me"]["A"])
    assert problem_set.code in text
    assert "invented" in text
    assert "NFPA 70-2023" in text
    assert "authority having jurisdiction" in text
    assert "De-energize" in text
    for kind in problem_set.kinds:
        assert all(need in text for need in kind.needs)
    assert book["Problems"]["B2"].value == problem_set.code


def test_the_same_set_gives_the_same_bytes_at_any_time(written, problem_set, tmp_path):
    path = tmp_path / "again.xlsx"
    write_practice(problem_set, path)
    assert path.read_bytes() == written.read_bytes()
    with zipfile.ZipFile(written) as archive:
        assert {info.date_time for info in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        core = archive.read("docProps/core.xml").decode()
    assert set(re.findall(r"\d{4}-\d\d-\d\dT", core)) == {"2000-01-01T"}


def test_the_key_holds_answers_tolerances_and_steps(problem_set, tmp_path):
    path = tmp_path / "key.xlsx"
    write_key([problem_set], 1, path)
    book = load_workbook(path)
    assert book.sheetnames == ["Read me", "Key", "Working", "Slips"]
    rows = list(book["Key"].iter_rows(min_row=2, values_only=True))
    assert [row[7] for row in rows] == [problem.answer for problem in problem_set.problems]
    assert [row[10] for row in rows] == [problem.tolerance for problem in problem_set.problems]
    written = list(book["Working"].iter_rows(min_row=2, values_only=True))
    working = [(row[0], row[1], row[4] or "") for row in written if row[1]]
    steps = [step for problem in problem_set.problems for step in problem.steps]
    assert working == [(step.step, step.working, step.rule) for step in steps]


@pytest.mark.parametrize(
    ("learners", "first", "last"),
    [(1, "class.xlsx", "class.xlsx"), (3, "class-01.xlsx", "class-03.xlsx"),
     (120, "class-001.xlsx", "class-120.xlsx")],
)  # fmt: skip
def test_names_of_the_files(tmp_path, learners, first, last):
    paths, key = practice_paths(tmp_path / "class.xlsx", learners)
    assert (len(paths), paths[0].name, paths[-1].name) == (learners, first, last)
    assert key.name == "class-key.xlsx"


def test_problems_fit_the_width_of_the_paper(problem_set, written, tmp_path):
    need_libreoffice()
    pdftotext = shutil.which("pdftotext")
    if pdftotext is None:
        pytest.skip("pdftotext is not installed")
    office = Office(tmp_path / "profile")
    office.run("--convert-to", "pdf", "--outdir", str(tmp_path), str(written))
    printed = subprocess.run(
        [pdftotext, "-layout", str(tmp_path / "class.pdf"), "-"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    read_me, *pages = printed.rstrip("\f\n").split("\f")
    assert "Practice problems" in read_me
    assert 3 <= len(pages) <= 4
    for page in pages:
        assert re.search(r"No\. +Problem +Answer +Unit", page)
    flat = " ".join(" ".join(pages).split())
    for number, problem in enumerate(problem_set.problems, 1):
        assert f"{number} {problem.scenario[:20]}" in flat
        last = problem.scenario.split()[-1]
        assert last in flat


def test_the_page_for_trainers_names_every_kind_and_shows_what_is_printed():
    page = (Path(__file__).parents[2] / "docs" / "practice.md").read_text("utf-8")
    assert [name for name in KINDS if name not in page] == []
    codes = [one.code for one in build_sets(12, 2026, 3)]
    assert re.findall(r"^\w+ \w+ +([A-Z0-9]{6}) ", page, re.M) == codes
