"""The marking, from single answers to a class: nothing that comes back may stop it."""

import contextlib
import datetime
import io
import random
import shutil
import zipfile
from pathlib import Path
from types import SimpleNamespace

import pytest
from openpyxl import load_workbook

from tests.hosts.calc_office import Office, need_libreoffice
from xlfuncs.cli import main
from xlfuncs.practice.mark import BLANK, RIGHT, UNREAD, WRONG, judge, mark_files
from xlfuncs.practice.returned import Entry, Given, read_key, read_returned


def entry(answer, unit, form, tolerance=0.01, unsafe="", slips=()):
    return Entry("SETSET", 1, 1, 1, "Kind", answer, unit, form, tolerance, unsafe, slips)


AMPS = entry(90.2, "A", "number", 0.9, "small", ((156.25, "√3 was left out"),))
BREAKER = entry(60.0, "A", "rating", 0.01, "large")
SIZE = entry("6 AWG", "AWG or kcmil", "size", 0.0, "small", (("8 AWG", "the other column"),))
TRADE = entry("1-1/4 in", "in (trade size)", "trade size", 0.0, "small")
PERCENT = entry(2.1, "%", "number", 0.05)
TAP = entry(-2.5, "%", "tap", 0.05)
DEPTH = entry(3.5, "ft", "number", 0.02, "small")
KVA = entry(112.5, "kVA", "kVA", 0.5)


@pytest.mark.parametrize(
    ("asked", "value"),
    [
        (AMPS, 90.2), (AMPS, 90), (AMPS, "90.2 A"), (AMPS, "90 amps"), (AMPS, "0.0902 kA"),
        (AMPS, 91.1), (AMPS, 89.3),
        (BREAKER, 60), (BREAKER, "60 A"), (BREAKER, "60A"), (BREAKER, " 60 "),
        (SIZE, "6 awg"), (SIZE, "#6"), (SIZE, 6), (SIZE, "6"), (SIZE, "No. 6"), (SIZE, "AWG 6"),
        (TRADE, '1-1/4"'), (TRADE, "1 1/4"), (TRADE, 1.25), (TRADE, "1¼ in"), (TRADE, "MD 35"),
        (PERCENT, 2.1), (PERCENT, "2.1 %"), (PERCENT, "2.1"), (PERCENT, 2.13),
        (TAP, -2.5), (TAP, "-2.5 %"), (TAP, "−2.5%"),
        (DEPTH, 3.5), (DEPTH, "3'-6\""), (DEPTH, "42 in"),
        (KVA, "112.5 kVA"), (KVA, 112.5),
    ],
)  # fmt: skip
def test_what_people_write_is_right(asked, value):
    assert judge(asked, Given(value)).verdict == RIGHT


@pytest.mark.parametrize(
    ("asked", "value", "verdict", "remark"),
    [
        (AMPS, 91.2, WRONG, "too large by 1.1 %"),
        (AMPS, 45.1, WRONG, "too small by 50 %; on the unsafe side"),
        (AMPS, 156.2, WRONG, "too large by 73 %; √3 was left out"),
        (AMPS, 90200, WRONG, "too large; 1000 times the answer"),
        (AMPS, -90.2, WRONG, "the sign is wrong"),
        (AMPS, "90.2 V", WRONG, "wrong unit: the answer is in V, not in A"),
        (AMPS, "90.2 kVA", WRONG, "wrong unit: the answer is in kVA, not in A"),
        (BREAKER, 70, WRONG, "one standard rating too large; on the unsafe side"),
        (BREAKER, "50 A", WRONG, "one standard rating too small"),
        (BREAKER, 90, WRONG, "3 standard ratings too large; on the unsafe side"),
        (BREAKER, 65, WRONG, "no standard rating, and too large; on the unsafe side"),
        (BREAKER, "60 V", WRONG, "wrong unit: the answer is in V, not in A"),
        (SIZE, "#8", WRONG, "one size too small; the other column; on the unsafe side"),
        (SIZE, 4, WRONG, "one size too large"),
        (SIZE, "1/0", WRONG, "5 sizes too large"),
        (SIZE, "16 mm2", WRONG,
         "wrong unit: the answer is in mm2, a conductor size in AWG or kcmil is asked"),
        (SIZE, "6 A", WRONG,
         "wrong unit: the answer is in A, a conductor size in AWG or kcmil is asked"),
        (SIZE, "6 kcmil", WRONG,
         "wrong unit: the answer is in kcmil, a conductor size in AWG or kcmil is asked"),
        (TRADE, "1", WRONG, "one trade size too small; on the unsafe side"),
        (TRADE, '1-1/2"', WRONG, "one trade size too large"),
        (TRADE, "35 mm", WRONG,
         "wrong unit: the answer is in mm, a trade size in inches is asked"),
        (PERCENT, 0.021, WRONG, "too small by 99 %; a 100th of the answer"),
        (TAP, 2.5, WRONG, "the sign is wrong"),
        (TAP, 5, WRONG, "the sign is wrong, and the figure too"),
        (TAP, -5, WRONG, "one tap too low"),
        (DEPTH, 3, WRONG, "too small by 14 %; on the unsafe side"),
        (KVA, 150, WRONG, "one preferred rating too large"),
        (AMPS, None, BLANK, ""),
        (AMPS, "  ", BLANK, ""),
        (SIZE, None, BLANK, ""),
        (AMPS, "#DIV/0!", UNREAD, "the cell holds the error #DIV/0!"),
        (AMPS, "Check: kva is blank", UNREAD, "the cell holds a message, not an answer"),
        (AMPS, "ninety", UNREAD, "the text is not a number"),
        (AMPS, "=cmd()", UNREAD, "the text is not a number"),
        (AMPS, True, UNREAD, "the cell holds TRUE or FALSE"),
        (AMPS, 10**400, UNREAD, "the number is beyond anything asked"),
        (AMPS, "1e999", UNREAD, "the number is beyond anything asked"),
        (AMPS, "1e300", UNREAD, "the number is beyond anything asked"),
        (SIZE, "six", UNREAD, "the text is no conductor size"),
    ],
)  # fmt: skip
def test_what_went_wrong_is_said(asked, value, verdict, remark):
    outcome = judge(asked, Given(value))
    assert (outcome.verdict, outcome.remark) == (verdict, remark)


def test_a_date_a_percent_cell_and_a_formula_without_result():
    date = judge(TRADE, Given(datetime.datetime(2026, 1, 2)))
    assert date.verdict == UNREAD
    assert "date" in date.remark
    assert judge(PERCENT, Given(0.021, is_percent=True)).verdict == RIGHT
    assert judge(PERCENT, Given(0.031, is_percent=True)).given == "3.1%"
    uncomputed = judge(AMPS, Given(None, is_formula=True))
    assert uncomputed.verdict == UNREAD
    assert "open and save it" in uncomputed.remark
    assert judge(AMPS, None).verdict == UNREAD


def run(*arguments, folder):
    """Run the command in this process, which is much quicker than a new one each time."""
    stdout, stderr = io.StringIO(), io.StringIO()
    with (
        contextlib.chdir(folder),
        contextlib.redirect_stdout(stdout),
        contextlib.redirect_stderr(stderr),
    ):
        status = main(list(map(str, arguments)))
    return SimpleNamespace(returncode=status, stdout=stdout.getvalue(), stderr=stderr.getvalue())


def fill_in(path, key, name, answer):
    """Fill a practice workbook in: `answer` gives the cell for an entry of the key."""
    book = load_workbook(path)
    sheet = book["Problems"]
    entries = key[sheet["B2"].value]
    write_text(sheet["B3"], name)
    sheet["B4"].value = datetime.date(2026, 11, 25)
    for cell in sheet["A"]:
        if isinstance(cell.value, int):
            given = answer(entries[cell.value])
            target = sheet.cell(cell.row + 1, 3)
            target.value = given
            if isinstance(given, str) and not given.startswith("="):
                write_text(target, given)
    book.save(path)


def write_text(cell, text):
    cell.value = text
    cell.data_type = "s"


def as_learners_write(entry):
    if isinstance(entry.answer, float):
        return f"{entry.answer:g} {entry.unit}"
    return entry.answer.replace(" AWG", "").replace(" in", '"')


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("class")
    result = run("practice", "class.xlsx", "--learners", 3, "--seed", 5, folder=folder)
    assert result.returncode == 0, result.stderr
    return folder


@pytest.fixture
def class_room(made, tmp_path):
    folder = tmp_path / "class"
    shutil.copytree(made, folder)
    return folder, read_key(folder / "class-key.xlsx")


def test_practice_says_what_it_wrote_and_overwrites_nothing(class_room):
    folder, _ = class_room
    assert sorted(path.name for path in folder.iterdir()) == [
        "class-01.xlsx", "class-02.xlsx", "class-03.xlsx", "class-key.xlsx",
    ]  # fmt: skip
    before = (folder / "class-01.xlsx").read_bytes()
    again = run("practice", "class.xlsx", "--learners", 3, "--seed", 6, folder=folder)
    assert again.returncode == 2
    assert again.stderr == "xlfuncs: class-01.xlsx is there already; --overwrite replaces it\n"
    assert (folder / "class-01.xlsx").read_bytes() == before
    over = run("practice", "class.xlsx", "--learners", 3, "--overwrite", folder=folder)
    assert over.returncode == 0
    assert (folder / "class-01.xlsx").read_bytes() != before
    assert "class-01.xlsx to class-03.xlsx" in over.stdout
    assert "licensed person decide" in over.stdout


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        (["out.ods"], "must end in .xlsx"),
        (["out.xlsx", "--problems", "0"], "--problems must be from 1 to 60"),
        (["out.xlsx", "--learners", "201"], "--learners must be from 1 to 200"),
        (["no/folder/out.xlsx"], "can't be written"),
    ],
)
def test_practice_refuses_in_one_line(tmp_path, arguments, reason):
    result = run("practice", *arguments, folder=tmp_path)
    assert result.returncode == 2
    assert reason in result.stderr
    assert result.stderr.count("\n") == 1
    assert not list(tmp_path.iterdir())


def test_right_answers_give_full_marks(class_room):
    folder, key = class_room
    for learner in (1, 2, 3):
        fill_in(folder / f"class-0{learner}.xlsx", key, f"Learner {learner}", as_learners_write)
    result = run("mark", "class-key.xlsx", *folder.glob("class-0*.xlsx"), folder=folder)
    assert result.returncode == 0, result.stdout + result.stderr
    assert result.stdout.count("12 of 12") == 3
    book = load_workbook(folder / "class-key-results.xlsx")
    assert book.sheetnames == ["Scores", "By problem", "Remarks"]
    scores = {row[0]: row for row in book["Scores"].iter_rows(min_row=2, values_only=True)}
    for learner in (1, 2, 3):
        assert scores[f"Learner {learner}"][1] == "2026-11-25"
        assert scores[f"Learner {learner}"][3:9] == (12, 0, 0, 0, 12, 100)
    by_problem = list(book["By problem"].iter_rows(min_row=2, values_only=True))
    assert [row[0] for row in by_problem] == list(range(1, 13))
    assert all(row[3] == 3 and row[7] == 100 for row in by_problem)
    assert book["Remarks"]["A2"].value == "Every answer was right."


def test_wrong_answers_are_counted_and_explained(class_room):
    folder, key = class_room

    def sloppy(entry):
        if entry.number == 1:
            return None
        if entry.number == 2:
            return "=1/3"  # never computed
        if entry.number == 3:
            return "#N/A"
        return as_learners_write(entry) if entry.number > 4 else "5 dB"

    fill_in(folder / "class-02.xlsx", key, "Second", sloppy)
    result = run("mark", "class-key.xlsx", "class-02.xlsx", "-o", "r.xlsx", folder=folder)
    assert result.returncode == 0
    assert "8 of 12" in result.stdout
    assert "1, 2, 3, 4" in result.stdout
    book = load_workbook(folder / "r.xlsx")
    row = next(book["Scores"].iter_rows(min_row=2, values_only=True))
    assert row[3:9] == (8, 1, 1, 2, 12, 66.7)
    assert row[10:14] == ("–", "?", "?", "✗")
    assert set(row[14:]) == {"✓"}
    remarks = [r[6:8] for r in book["Remarks"].iter_rows(min_row=2, values_only=True)]
    assert remarks[0] == ("not answered", None)
    assert remarks[1][1].startswith("a formula without a stored result")
    assert remarks[2] == ("not read", "the cell holds the error #N/A")
    assert remarks[3][1].startswith("wrong unit: the answer is in dB")


@pytest.mark.parametrize("name", ["=cmd()", "+1+1", "-2", "@SUM(A1)", '=HYPERLINK("x")', "#N/A"])
def test_a_name_is_never_written_as_a_formula(class_room, name):
    folder, key = class_room
    fill_in(folder / "class-01.xlsx", key, name, lambda entry: name)
    result = run("mark", "class-key.xlsx", "class-01.xlsx", folder=folder)
    assert result.returncode == 0, result.stderr
    assert name in result.stdout
    for values in (False, True):
        book = load_workbook(folder / "class-key-results.xlsx", data_only=values)
        cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
        assert {cell.data_type for cell in cells}.isdisjoint({"f", "e"})
        found = [cell for cell in cells if cell.value == name]
        assert len(found) >= 2
        if name[0] in "=+-@":
            assert all(cell.quotePrefix for cell in found)


def test_a_name_of_many_lines_and_brackets_is_one_plain_line(class_room):
    folder, key = class_room
    fill_in(folder / "class-01.xlsx", key, "[red]A\nB\t\x85[/red]" + "x" * 500, lambda entry: None)
    result = run("mark", "class-key.xlsx", "class-01.xlsx", folder=folder)
    assert result.returncode == 0, result.stderr
    name = load_workbook(folder / "class-key-results.xlsx")["Scores"]["A2"].value
    assert name.startswith("[red]A B [/red]xxx")
    assert len(name) == 80


def test_files_that_cannot_be_marked_are_listed(class_room):
    folder, key = class_room
    fill_in(folder / "class-01.xlsx", key, "First", as_learners_write)
    shutil.copy(folder / "class-01.xlsx", folder / "copy.xlsx")
    (folder / "broken.xlsx").write_bytes(b"PK\x03\x04 nothing")
    (folder / "text.txt").write_text("no workbook")
    cut = (folder / "class-02.xlsx").read_bytes()
    (folder / "cut.xlsx").write_bytes(cut[: len(cut) // 2])
    run("practice", "foreign.xlsx", "--seed", 77, folder=folder)
    book = load_workbook(folder / "class-03.xlsx")
    book["Problems"]["B2"].value = None
    book.save(folder / "nocode.xlsx")
    book.remove(book["Problems"])
    book.save(folder / "nosheet.xlsx")
    names = ["class-01.xlsx", "copy.xlsx", "broken.xlsx", "text.txt", "cut.xlsx", "foreign.xlsx",
             "nocode.xlsx", "nosheet.xlsx", "missing.xlsx"]  # fmt: skip
    result = run("mark", "class-key.xlsx", *names, folder=folder)
    assert result.returncode == 1, result.stderr
    assert result.stdout.count("12 of 12") == 1
    listed = dict(
        line.strip().split(": ", 1)
        for line in result.stdout.partition("Not marked:")[2].splitlines()
        if ".xlsx: " in line or ".txt: " in line
    )
    assert set(listed) == set(names[1:])
    assert "was marked already, from class-01.xlsx" in listed["copy.xlsx"]
    assert "damaged" in listed["broken.xlsx"]
    assert "damaged" in listed["cut.xlsx"]
    assert "not an .xlsx workbook" in listed["text.txt"]
    assert "is not in this key" in listed["foreign.xlsx"]
    assert "names no set" in listed["nocode.xlsx"]
    assert "no sheet 'Problems'" in listed["nosheet.xlsx"]
    assert "no such file" in listed["missing.xlsx"]
    rows = load_workbook(folder / "class-key-results.xlsx")["Remarks"].iter_rows(values_only=True)
    told = {row[8]: row[7] for row in rows if row[6] == "not marked"}
    assert told == listed


def test_no_damage_to_a_file_stops_the_marking(class_room, recwarn):
    """Bytes changed in the file, and characters changed or lost in the XML of a part."""
    folder, key = class_room
    path = folder / "class-01.xlsx"
    whole = path.read_bytes()
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    numbers = random.Random(1)
    damaged = folder / "damaged.xlsx"
    listed_in_all = 0
    for attempt in range(120):
        if attempt % 3 == 0:
            content = bytearray(whole)
            for _ in range(3):
                content[numbers.randrange(len(content))] = numbers.randrange(256)
            damaged.write_bytes(content)
        else:
            name = numbers.choice(list(parts))
            content = bytearray(parts[name])
            place = numbers.randrange(len(content))
            if attempt % 3 == 1:
                content[place] = numbers.choice(b'<>"&/0159eE-=.')
            else:
                del content[place : place + numbers.randint(1, 30)]
            with zipfile.ZipFile(damaged, "w") as archive:
                for part, text in parts.items():
                    archive.writestr(part, bytes(content) if part == name else text)
        marked, listed = mark_files(key, [damaged])
        assert len(marked) + len(listed) == 1
        listed_in_all += len(listed)
    assert 20 < listed_in_all < 120
    assert not recwarn.list


def test_a_folder_is_marked_without_key_and_results(class_room):
    folder, key = class_room
    fill_in(folder / "class-01.xlsx", key, "First", as_learners_write)
    for _ in range(2):  # the second time the results lie there too
        result = run("mark", "class-key.xlsx", ".", folder=folder)
        assert result.returncode == 0, result.stdout + result.stderr
        assert "12 of 12" in result.stdout
        assert "(no name, workbook 03)" in result.stdout


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        (["class-01.xlsx", "class-02.xlsx"], "class-01.xlsx is no key"),
        (["missing.xlsx", "class-02.xlsx"], "missing.xlsx is no key: there is no such file"),
        (["class-key.xlsx", "missing.xlsx"], "nothing was marked"),
        (["class-key.xlsx", "class-key.xlsx"], "nothing was marked"),
        (["class-key.xlsx", "class-01.xlsx", "-o", "class-01.xlsx"], "holds no results"),
        (["class-key.xlsx", "class-01.xlsx", "-o", "class-key.xlsx"], "holds no results"),
        (["class-key.xlsx", "class-01.xlsx", "-o", "r.csv"], "must end in .xlsx"),
    ],
)
def test_mark_refuses_with_status_2_and_writes_nothing(class_room, arguments, reason):
    folder, _ = class_room
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    result = run("mark", *arguments, folder=folder)
    assert result.returncode == 2
    assert reason in result.stderr
    assert result.stderr.count("\n") == 1
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_a_tolerance_that_the_trainer_changed_counts(class_room):
    folder, key = class_room
    code = next(iter(key))
    number = next(n for n, e in key[code].items() if e.form == "number" and e.answer > 0)
    fill_in(
        folder / "class-01.xlsx",
        key,
        "First",
        lambda e: e.answer + 3 * e.tolerance if e.number == number else as_learners_write(e),
    )
    path = folder / "class-key.xlsx"
    assert "11 of 12" in run("mark", path, "class-01.xlsx", folder=folder).stdout
    book = load_workbook(path)
    book["Key"].cell(number + 1, 11).value *= 4
    book.save(path)
    assert "12 of 12" in run("mark", path, "class-01.xlsx", folder=folder).stdout


def test_what_a_spreadsheet_program_saves_can_be_marked(class_room, tmp_path):
    """LibreOffice computes the formula in an answer cell and saves the workbook."""
    need_libreoffice()
    folder, key = class_room
    code, entries = next(iter(key.items()))
    number = next(n for n, e in entries.items() if isinstance(e.answer, float))

    def answer(entry):
        if entry.number == number:
            return f"={entry.answer / 2!r}*2"
        return as_learners_write(entry)

    fill_in(folder / "class-01.xlsx", key, "First", answer)
    (saved,) = Office(tmp_path / "profile").recalculate([folder / "class-01.xlsx"])
    assert read_returned(saved).code == code
    result = run("mark", "class-key.xlsx", Path(saved), folder=folder)
    assert result.returncode == 0, result.stdout + result.stderr
    assert "12 of 12" in result.stdout
    assert "First" in result.stdout
