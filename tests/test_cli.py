"""The command as people run it."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook

from xlfuncs.functions import FUNCTIONS


def xlfuncs(*arguments, folder):
    return subprocess.run(
        [sys.executable, "-m", "xlfuncs", *map(str, arguments)],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


@pytest.fixture
def job(tmp_path):
    """A workbook with one good row and, if asked, one wrong one."""

    def build(*kva):
        book = Workbook()
        sheet = book.active
        for row, value in enumerate(kva, 1):
            sheet.cell(row, 1, value)
            sheet.cell(row, 2, f"=XF_FULL_LOAD_CURRENT(A{row},480)")
            sheet.cell(row, 3, f"=ROUND(B{row},1)")
        path = tmp_path / "job.xlsx"
        book.save(path)
        return path

    return build


def test_fill_writes_a_copy_and_says_what_it_did(job):
    path = job(75)
    before = path.read_bytes()
    run = xlfuncs("fill", path.name, folder=path.parent)
    assert run.returncode == 0, run.stderr
    assert run.stdout.startswith("2 formulas computed, 0 kept as stored, 0 with a message")
    assert "licensed person decide" in run.stdout
    assert run.stderr == ""  # no progress bar where the output is piped
    assert path.read_bytes() == before
    sheet = load_workbook(path.with_name("job-filled.xlsx"), data_only=True).active
    # 75000 / (sqrt(3) x 480) by hand
    assert sheet["B1"].value == pytest.approx(90.211, abs=0.001)
    assert sheet["C1"].value == 90.2


def test_messages_make_status_1_and_are_listed(job):
    path = job(75, -1)
    run = xlfuncs("fill", path.name, "--in-place", "--report", "r.json", folder=path.parent)
    assert run.returncode == 1
    assert "Sheet!B2: Check: kva must be above 0 kVA" in run.stdout
    report = json.loads((path.parent / "r.json").read_text())
    assert report["messages"] == [
        ["Sheet", "B2", "Check: kva must be above 0 kVA, up to 35000 kVA"]
    ]
    text = xlfuncs("fill", path.name, "--report", "r.txt", folder=path.parent)
    assert text.returncode == 1
    assert "B2: Check: kva" in (path.parent / "r.txt").read_text()


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        (["missing.xlsx"], "missing.xlsx"),
        (["."], "folder"),
        (["note.txt"], "note.txt"),
        (["job.xlsx", "-o", "no/such/folder/out.xlsx"], "folder"),
        (["job.xlsx", "--in-place", "-o", "out.xlsx"], "choose either --in-place or --output"),
    ],
)
def test_a_refusal_is_one_line_and_status_2(job, arguments, reason):
    path = job(75)
    (path.parent / "note.txt").write_text("no workbook")
    before = sorted(p.name for p in path.parent.iterdir())
    run = xlfuncs("fill", *arguments, folder=path.parent)
    assert run.returncode == 2
    assert run.stderr.startswith("xlfuncs: ")
    assert reason in run.stderr
    assert run.stderr.count("\n") == 1
    assert run.stdout == ""
    assert sorted(p.name for p in path.parent.iterdir()) == before


def test_share_and_all_say_so(job):
    path = job(75)
    run = xlfuncs("fill", path.name, "--share", "--all", folder=path.parent)
    assert run.returncode == 0
    assert "--share" in run.stdout
    assert "--all" in run.stdout


def test_help_names_every_command_and_its_caution(tmp_path):
    run = xlfuncs("--help", folder=tmp_path)
    assert run.returncode == 0
    for command in ("fill", "describe", "demo", "practice", "mark", "setup"):
        assert f"\n    {command} " in run.stdout
    assert "licensed person decide" in " ".join(run.stdout.split())
    status = " ".join(xlfuncs("fill", "--help", folder=tmp_path).stdout.split())
    assert "2 refused and nothing written" in status


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["fil", "job.xlsx"],
        ["fill"],
        ["fill", "job.xlsx", "--rep", "r.txt"],
        ["fill", "job.xlsx", "--check-with", "paper"],
        ["fill", "job.xlsx", "--time-limit", "-1"],
        ["fill", "job.xlsx", "--time-limit", "soon"],
        ["fill", "job.xlsx", "--time-limit", "nan"],
        ["fill", "job.xlsx", "--time-limit", "inf"],
        ["fill", "job.xlsx", "--time-limit", "1e300"],
        ["setup", "paper"],
    ],
)
def test_what_the_command_does_not_know_is_refused(job, arguments):
    path = job(75)
    run = xlfuncs(*arguments, folder=path.parent)
    assert run.returncode == 2
    assert run.stderr.startswith("usage: xlfuncs ")
    assert run.stdout == ""
    assert [p.name for p in path.parent.iterdir()] == [path.name]


def test_output_that_no_one_reads_any_more_is_no_fault(tmp_path):
    command = [sys.executable, "-m", "xlfuncs", "describe", "XF_AMPACITY"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as run:
        run.stdout.close()
        assert run.stderr.read() == b""
    assert run.returncode == 1


def test_a_console_that_knows_no_root_sign_gets_a_question_mark(tmp_path):
    environment = {**os.environ, "PYTHONIOENCODING": "ascii"}
    run = subprocess.run(
        [sys.executable, "-m", "xlfuncs", "describe", "XF_FULL_LOAD_CURRENT"],
        env=environment, capture_output=True, timeout=60, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    assert b"?3" in run.stdout


def test_a_process_that_waits_loads_nothing_that_computes(job):
    path = job(75)
    show = "import sys\nfrom xlfuncs.cli import main\nmain()\nprint(*sys.modules, file=sys.stderr)"
    run = subprocess.run(
        [sys.executable, "-c", show, "fill", path.name],
        cwd=path.parent, capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    loaded = set(run.stderr.split())
    assert "xlfuncs.hosts.workbook.fill" in loaded
    # With the engine loaded, the other process would have to begin anew.
    assert loaded.isdisjoint({"formualizer", "lxml", "pint", "openpyxl", "rich"})


def test_describe_lists_every_function(tmp_path):
    run = xlfuncs("describe", folder=tmp_path)
    assert run.returncode == 0
    assert all(name in run.stdout for name in FUNCTIONS)
    assert "licensed person decide" in run.stdout


@pytest.mark.parametrize("name", ["XF_PRIMARY_PROTECTION", "xf_ampacity"])
def test_describe_shows_one_function(tmp_path, name):
    run = xlfuncs("describe", name, folder=tmp_path)
    function = FUNCTIONS[name.upper()]
    assert run.returncode == 0
    assert run.stdout.startswith(function.signature)
    assert all(f"  {argument.name}: " in run.stdout for argument in function.arguments)
    assert all(source in run.stdout for source in function.sources)


def test_describe_refuses_an_unknown_name(tmp_path):
    run = xlfuncs("describe", "AMPACITY_", folder=tmp_path)
    assert run.returncode == 2
    assert run.stderr == "xlfuncs: no function is named AMPACITY_\n"
    near = xlfuncs("describe", "AMPACITY", folder=tmp_path)
    assert "do you mean XF_" in near.stderr


def test_demo_builds_fills_and_shows_the_job_list(tmp_path):
    run = xlfuncs("demo", "folder", folder=tmp_path)
    assert run.returncode == 0, run.stderr  # the messages are there on purpose
    path = tmp_path / "folder" / "xlfuncs-demo.xlsx"
    assert f"Written: {Path('folder') / path.name}" in run.stdout
    book = load_workbook(path, data_only=True)
    good = list(book["Job list"].iter_rows(min_row=2, values_only=True))
    assert len(good) >= 24
    assert all(value is not None for row in good for value in row)
    assert not [v for row in good for v in row if isinstance(v, str) and v.startswith("Check")]
    headings = [cell.value for cell in book["Job list"][1]]
    sizes = {row[0]: row[headings.index("Primary size")] for row in good}
    # 125 % of 208.2, 270.6 and 104.2 A, NFPA 70-2023, 215.2(A)(1): 260.2, 338.3 and 130.2 A.
    # Table 310.16: 250 kcmil has 255 A, 400 kcmil 335 A, 1 AWG 130 A.
    assert sizes["T-12"] == "300 kcmil"
    assert sizes["T-23"] == "500 kcmil"
    assert sizes["T-25"] == "1/0 AWG"
    wrong = list(book["Wrong on purpose"].iter_rows(min_row=2, values_only=True))
    assert all(
        any(isinstance(v, str) and v.startswith(("Check: ", "#N/A")) for v in row) for row in wrong
    )
    totals = dict(book["Totals"].iter_rows(values_only=True))
    assert totals["Transformers"] == len(good)
    assert totals["Installed kVA"] == sum(row[2] for row in good)
    assert totals["Wrong rows caught"] == len(wrong)


def test_setup_excel_elsewhere_only_says_what_it_would_do(tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    run = xlfuncs("setup", "excel", folder=tmp_path)
    assert run.returncode == 0
    if sys.platform != "win32":
        assert "nothing was changed here" in run.stdout
    assert "xlfuncs.hosts.excel" in run.stdout
    check = xlfuncs("setup", "excel", "--check", folder=tmp_path)
    assert check.returncode == 0
    assert "Python" in check.stdout
    assert list(tmp_path.iterdir()) == []


def test_setup_calc_refuses_without_a_profile(tmp_path):
    run = xlfuncs("setup", "calc", "--profile", "none", folder=tmp_path)
    assert run.returncode == 2
    assert run.stderr.startswith("xlfuncs: ")
    assert run.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []
