"""A workbook is data: nothing in it runs, nothing is fetched for it, no text becomes a formula."""

from __future__ import annotations

import http.server
import os
import re
import subprocess
import sys
import threading
from urllib.parse import quote

import openpyxl
import pytest

from xlfuncs.hosts.workbook import Refusal, fill

from ..hosts import calc_office
from .package import HEAD, MAIN, package, raw_members, read, relations, sheet, write

SECRET = "what-stands-in-the-other-file"


@pytest.fixture
def server():
    """A server on this machine that notes what is asked of it."""
    asked: list[str] = []

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_GET(self):
            asked.append(self.path)
            self.send_response(200)
            self.end_headers()
            self.wfile.write(b"75")

        do_HEAD = do_OPTIONS = do_PROPFIND = do_GET  # noqa: N815

        def log_message(self, *_):
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    server.asked = asked
    yield server
    server.shutdown()
    thread.join()


def test_the_server_would_notice(server):
    import urllib.request

    urllib.request.urlopen(f"http://127.0.0.1:{server.server_port}/seen").read()
    assert server.asked == ["/seen"]


@pytest.fixture
def baited(server, tmp_path):
    """A workbook with everything that could lead out of it."""
    web = f"http://127.0.0.1:{server.server_port}"
    other = tmp_path / "other.csv"
    other.write_text(f"{SECRET}\n")
    there = f"file://{quote(str(other))}"
    formulas = [
        "XF_AREA(6)",
        f'WEBSERVICE("{web}/webservice")&XF_AREA(6)',
        f'FILTERXML(WEBSERVICE("{web}/filterxml"),"//a")',
        f'IMAGE("{web}/image")',
        f'HYPERLINK("{web}/hyperlink","x")&XF_AREA(6)',
        "[1]Other!A1&XF_AREA(6)",
        "[2]Other!A1",
        "[3]!A0",
        f"'{there}'#$Sheet1.A1",
        f"'{web}/[book.xlsx]Sheet1'!A1&XF_AREA(6)",
        'CALL("kernel32","WinExec","JCJ","calc",0)',
        'EXEC("touch ran")',
        'RTD("server",,"topic")',
        "cmd|'/c calc'!A0",
        f'DDE("soffice","{other}","a1")',
        'INDIRECT("[1]Other!A1")&XF_AREA(6)',
        'SHELL("touch ran")',
        "Auto_Open()",
    ]
    rows = "".join(
        f'<row r="{row}"><c r="A{row}"><f>{text.replace("&", "&amp;")}</f></c></row>'
        for row, text in enumerate(formulas, 1)
    )
    links = dict.fromkeys(
        (1, 2),
        f'{HEAD}<externalLink xmlns="{MAIN}" xmlns:r="http://schemas.openxmlformats.org/'
        'officeDocument/2006/relationships"><externalBook r:id="rId1"><sheetNames>'
        '<sheetName val="Other"/></sheetNames></externalBook></externalLink>',
    )
    parts = package(
        {"S": sheet(rows, after='<drawing r:id="rIdD"/><legacyDrawing r:id="rIdP"/>')},
        macros=True,
        workbook="<externalReferences>"
        '<externalReference r:id="rIdL1"/><externalReference r:id="rIdL2"/></externalReferences>'
        '<definedNames><definedName name="Auto_Open" xlm="1" function="1">S!$A$1</definedName>'
        "</definedNames>",
        relate=(
            ("rIdL1", "externalLink", "externalLinks/externalLink1.xml"),
            ("rIdL2", "externalLink", "externalLinks/externalLink2.xml"),
            ("rIdT", "attachedTemplate", f"{web}/template"),
            ("rIdV", "vbaProject", "vbaProject.bin"),
        ),
        extra={
            "xl/vbaProject.bin": b"\xd0\xcf\x11\xe0" + b"Auto_Open Shell touch ran" * 50,
            "xl/externalLinks/externalLink1.xml": links[1],
            "xl/externalLinks/externalLink2.xml": links[2],
            "xl/externalLinks/_rels/externalLink1.xml.rels": relations(
                ("rId1", "externalLinkPath", f"{web}/book.xlsx"), external=("rId1",)
            ),
            "xl/externalLinks/_rels/externalLink2.xml.rels": relations(
                ("rId1", "externalLinkPath", there), external=("rId1",)
            ),
            "xl/worksheets/_rels/sheet1.xml.rels": relations(
                ("rIdD", "image", f"{web}/picture"),
                ("rIdP", "printerSettings", f"{web}/printer"),
                external=("rIdD", "rIdP"),
            ),
        },
    )
    return write(parts, tmp_path / "baited.xlsm")


WATCHED = """
import sys
from pathlib import Path
watching = False
def watch(event, arguments):
    if not watching:
        return
    if event.startswith(("socket.", "urllib.", "http.", "ftplib.", "smtplib.", "os.system",
                         "os.exec", "os.spawn", "os.posix_spawn", "subprocess.", "ctypes.dlopen",
                         "webbrowser.", "winreg.", "os.startfile")):
        print("EVENT", event, arguments)
    if event == "open" and "other.csv" in str(arguments[0]):
        print("EVENT", event, arguments)
sys.addaudithook(watch)
import xlfuncs.functions, xlfuncs.hosts.workbook.run
from xlfuncs.hosts.workbook import fill
watching = True
report = fill(Path(sys.argv[1]), Path(sys.argv[2]))
watching = False
print("computed", report.computed)
"""


def test_a_fill_runs_and_fetches_nothing(baited, server, tmp_path):
    output = tmp_path / "out.xlsm"
    run = subprocess.run(
        [sys.executable, "-c", WATCHED, str(baited), str(output)],
        cwd=tmp_path, capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    assert "EVENT" not in run.stdout
    assert "computed" in run.stdout
    assert server.asked == []
    assert not (tmp_path / "ran").exists()
    before, after = raw_members(baited.read_bytes()), raw_members(output.read_bytes())
    assert {name for name in before if before[name] != after[name]} == {"xl/worksheets/sheet1.xml"}
    assert SECRET.encode() not in b"".join(read(output).values())
    assert openpyxl.load_workbook(output, data_only=True, keep_links=False)["S"]["A1"].value > 26


def test_a_second_opinion_runs_and_fetches_nothing(baited, server, tmp_path):
    calc_office.need_libreoffice()
    from xlfuncs import second_opinion

    output = tmp_path / "out.xlsm"
    report = second_opinion.ask_calc(fill(baited, output), output, 120)
    assert report.opinion.failure == ""
    assert server.asked == []
    assert not (tmp_path / "ran").exists()
    shown = [there for *_, there in report.opinion.differences]
    assert SECRET not in " ".join(shown)


PAYLOADS = [
    "=1+1",
    "=cmd|'/c calc'!A0",
    "+1+1",
    "-1+1",
    "@SUM(1)",
    "\t=1+1",
    "</v><f>1+1</f><v>",
    "]]><f>1+1</f>",
    '"/><f>1</f>',
    "&lt;f&gt;1&lt;/f&gt;",
    "{=1+1}",
    "#REF!x",
    "_x003D_1+1",
    '<?xml version="1.0"?>',
    "<!-- ",
]


@pytest.mark.parametrize("text", PAYLOADS)
@pytest.mark.parametrize("spread", [False, True])
def test_a_text_is_never_written_as_a_formula(tmp_path, text, spread):
    book = openpyxl.Workbook()
    book.active["A1"] = "=XF_SAY(1)"
    book.active["A2"] = '=A1&""'
    if spread:
        book.active["C1"] = openpyxl.worksheet.formula.ArrayFormula("C1:D2", "=XF_GRID(1)")
    book.save(tmp_path / "in.xlsx")
    functions = {"XF_SAY": lambda _: text, "XF_GRID": lambda _: [[text, text], [text, 1.0]]}
    fill(tmp_path / "in.xlsx", tmp_path / "out.xlsx", functions=functions)

    def formulas(name):
        xml = read(tmp_path / name)["xl/worksheets/sheet1.xml"]
        return re.findall(rb"<f[ >].*?</f>", re.sub(rb"<v>[^<]*</v>", b"", xml))

    assert formulas("in.xlsx") == formulas("out.xlsx")
    values = openpyxl.load_workbook(tmp_path / "out.xlsx", data_only=True).active
    wanted = ["A1", "A2", *(["C1", "D1", "C2"] if spread else [])]
    written = text.replace("_x003D_", "_x005F_x003D_")
    assert {values[cell].value for cell in wanted} <= {text, written}
    assert all(values[cell].data_type in ("s", "d") for cell in wanted)


def test_messages_reach_the_terminal_as_text(tmp_path):
    """Neither markup nor control characters of a workbook act on the terminal."""
    book = openpyxl.Workbook()
    book.active["A1"] = '=XF_EQUIPMENT_GROUND("[bold]x[/bold] [/] _x001B_[31m")'
    book.active["A2"] = '=XF_AREA("\x7f[/nothing]")'
    book.save(tmp_path / "in.xlsx")
    run = subprocess.run(
        [sys.executable, "-m", "xlfuncs", "fill", "in.xlsx"],
        cwd=tmp_path, capture_output=True, text=True, timeout=60, check=False,
        env={**os.environ, "FORCE_COLOR": "1"},
    )  # fmt: skip
    assert run.returncode == 1, run.stderr
    assert "Traceback" not in run.stderr
    assert (
        "\x1b" not in run.stdout.replace("\x1b[", "", 0).split("Messages")[-1].split("Written")[0]
    )
    assert "\x7f" not in run.stdout


@pytest.mark.skipif(os.name != "posix", reason="links of POSIX")
def test_in_place_through_a_link_fills_the_workbook_behind_it(tmp_path):
    folder = tmp_path / "real"
    folder.mkdir()
    book = openpyxl.Workbook()
    book.active["A1"] = '=XF_AREA("1/0")'
    book.save(folder / "book.xlsx")
    link = tmp_path / "link.xlsx"
    link.symlink_to(folder / "book.xlsx")
    fill(link, link, in_place=True)
    assert link.is_symlink()
    assert openpyxl.load_workbook(folder / "book.xlsx", data_only=True).active["A1"].value == 105.6


def test_too_much_to_compute_is_given_up(tmp_path):
    book = openpyxl.Workbook()
    text = 'SUBSTITUTE(REPT("a",32767),"a",REPT("b",32767))'
    book.active["A1"] = f"=LEN({text})+XF_AREA(6)"
    book.active["A2"] = f'=LEN(SUBSTITUTE({text},"b","cc"))'
    book.save(tmp_path / "in.xlsx")
    run = subprocess.run(
        [sys.executable, "-m", "xlfuncs", "fill", "in.xlsx", "--time-limit", "1.5"],
        cwd=tmp_path, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert run.returncode == 2
    assert "took longer than 1.5 s" in run.stderr
    assert run.stderr.count("\n") == 1
    assert [path.name for path in tmp_path.iterdir()] == ["in.xlsx"]


def test_names_that_lead_elsewhere_are_refused(tmp_path):
    path = write({**package({"S": sheet("")}), "../../../escaped.txt": "x"}, tmp_path / "a.xlsx")
    with pytest.raises(Refusal, match="unsafe name"):
        fill(path, tmp_path / "b.xlsx")
    assert [found.name for found in tmp_path.iterdir()] == ["a.xlsx"]
