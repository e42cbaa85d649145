"""The file around the results: what is refused, what stays byte for byte, how it is written."""

from __future__ import annotations

import io
import json
import os
import re
import stat
import struct
import sys
import time
import zipfile
from pathlib import Path

import openpyxl
import pytest
from sheet_functions import FUNCTIONS

from xlfuncs.hosts.workbook import Refusal, fill
from xlfuncs.hosts.workbook import package as package_module
from xlfuncs.hosts.workbook import run as run_module


@pytest.fixture
def rich(write):
    """A workbook with many kinds of parts."""
    with write("rich.xlsx") as book:
        sheet = book.add_worksheet("Data")
        other = book.add_worksheet("Other")
        sheet.write_formula("A1", "=XF_TWICE(1,0)", None, 0)
        sheet.write_comment("B2", "a comment")
        sheet.write_url("C3", "https://example.invalid/")
        chart = book.add_chart({"type": "column"})
        chart.add_series({"values": "=Data!$A$1:$A$3"})
        other.insert_chart("B2", chart)
        book.set_custom_property("Checked", True)
    return book.path


def raw_members(path):
    """Compressed bytes of every member, with its place in the order of the file."""
    data = path.read_bytes()
    with zipfile.ZipFile(path) as archive:
        members = {}
        for info in archive.infolist():
            name, extra = struct.unpack("<2H", data[info.header_offset + 26 :][:4])
            start = info.header_offset + 30 + name + extra
            members[info.filename] = data[start : start + info.compress_size]
    return members


def test_all_other_members_keep_their_bytes(run, rich):
    filled = run(rich)
    before, after = raw_members(rich), raw_members(filled.output)
    assert list(before) == list(after)
    changed = [name for name in before if before[name] != after[name]]
    assert changed == ["xl/worksheets/sheet1.xml"]
    with zipfile.ZipFile(filled.output) as archive:
        assert archive.testzip() is None
    assert filled.value("A1") == 2


def test_only_the_value_changes_in_the_sheet(run, rich):
    with zipfile.ZipFile(rich) as archive:
        before = archive.read("xl/worksheets/sheet1.xml").decode()
    after = run(rich).xml()
    assert after == before.replace("</f><v>0</v>", "</f><v>2</v>")


def test_nothing_to_do_copies_the_file(run, plain):
    path = plain({"A1": 1})
    assert run(path).output.read_bytes() == path.read_bytes()


def test_members_with_data_descriptors(run, rich, tmp_path):
    class Stream(io.RawIOBase):
        """An output that can't be wound back, so that zipfile writes descriptors."""

        def __init__(self):
            self.data = bytearray()

        def writable(self):
            return True

        def write(self, chunk):
            self.data += chunk
            return len(chunk)

    stream = Stream()
    with zipfile.ZipFile(rich) as source, zipfile.ZipFile(stream, "w", 8) as archive:
        for info in source.infolist():
            archive.writestr(info.filename, source.read(info))
    path = tmp_path / "streamed.xlsx"
    path.write_bytes(stream.data)
    filled = run(path)
    with zipfile.ZipFile(filled.output) as archive:
        assert archive.testzip() is None
    assert filled.value("A1") == 2


def test_macros_are_carried_along_and_not_run(run, write, tmp_path):
    macros = tmp_path / "vbaProject.bin"
    macros.write_bytes(b"not really macros" * 100)
    with write("macros.xlsm") as book:
        sheet = book.add_worksheet()
        book.add_vba_project(str(macros))
        sheet.write_formula("A1", "=XF_TWICE(1,0)", None, 0)
    filled = run(book.path)
    assert (
        raw_members(book.path)["xl/vbaProject.bin"]
        == raw_members(filled.output)["xl/vbaProject.bin"]
    )
    assert filled.report.computed == 1


def test_share_drops_the_request_to_recalculate(run, rich):
    filled = run(rich, share=True)
    before, after = raw_members(rich), raw_members(filled.output)
    changed = [name for name in before if before[name] != after[name]]
    assert sorted(changed) == ["xl/workbook.xml", "xl/worksheets/sheet1.xml"]
    with zipfile.ZipFile(rich) as archive:
        old = archive.read("xl/workbook.xml").decode()
    assert 'fullCalcOnLoad="1"' in old
    assert filled.xml("xl/workbook.xml") == old.replace(
        '<calcPr calcId="124519" fullCalcOnLoad="1"/>', '<calcPr calcId="191029"/>'
    )
    assert any("--share" in note for note in filled.report.notes)


def test_in_place(plain):
    path = plain({"A1": "=XF_TWICE(1,0)"})
    before = path.read_bytes()
    with pytest.raises(Refusal, match="in place"):
        fill(path, path, functions=FUNCTIONS)
    assert path.read_bytes() == before
    fill(path, path, in_place=True, functions=FUNCTIONS)
    assert openpyxl.load_workbook(path, data_only=True).active["A1"].value == 2


@pytest.mark.skipif(os.name != "posix", reason="file modes of POSIX")
def test_file_mode_is_kept(run, plain):
    path = plain({"A1": "=XF_TWICE(1,0)"})
    path.chmod(0o640)
    assert stat.S_IMODE(run(path).output.stat().st_mode) == 0o640


def test_a_failed_write_leaves_the_old_file_and_no_other(plain, tmp_path, monkeypatch):
    path = plain({"A1": "=XF_TWICE(1,0)"})
    output = tmp_path / "out.xlsx"
    output.write_bytes(b"old")
    monkeypatch.setattr(
        package_module.os, "replace", lambda *_: (_ for _ in ()).throw(OSError(28, "disk full"))
    )
    before = sorted(tmp_path.iterdir())
    with pytest.raises(Refusal, match="disk full"):
        fill(path, output, functions=FUNCTIONS)
    assert output.read_bytes() == b"old"
    assert sorted(tmp_path.iterdir()) == before


def test_open_elsewhere(plain, tmp_path, monkeypatch):
    path = plain({"A1": 1})

    def refused(*_):
        raise PermissionError(13, "in use")

    monkeypatch.setattr(package_module.os, "replace", refused)
    with pytest.raises(Refusal, match="open elsewhere"):
        fill(path, tmp_path / "out.xlsx", functions=FUNCTIONS)


@pytest.mark.parametrize("lock", ["~${}", ".~lock.{}#"])
def test_lock_files_of_other_programs(plain, tmp_path, lock):
    path = plain({"A1": 1})
    (tmp_path / lock.format(path.name)).write_bytes(b"")
    with pytest.raises(Refusal, match="open in another program"):
        fill(path, tmp_path / "out.xlsx", functions=FUNCTIONS)


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("a.xlsx", OLE + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le"), "password"),
        ("a.xlsx", OLE + b"\0" * 600, "old .xls"),
        ("a.xls", OLE + b"\0" * 600, "old .xls"),
        ("a.csv", b"a,b\n1,2\n", "csv"),
        ("a.xlsx", b"a,b\n1,2\n", "not an .xlsx"),
        ("a.xlsx", b"", "empty"),
        ("a.xlsx", b"PK\x03\x04 and then nothing", "damaged"),
    ],
)
def test_files_that_are_not_workbooks(tmp_path, name, content, says):
    path = tmp_path / name
    path.write_bytes(content)
    refuse(path, says)


def refuse(path, says):
    output = path.with_name("refused" + path.suffix)
    with pytest.raises(Refusal, match=says) as refusal:
        fill(path, output, functions=FUNCTIONS)
    assert "\n" not in str(refusal.value)
    assert not output.exists()
    assert not list(path.parent.glob("*.tmp"))


def test_missing_files_and_folders(plain, tmp_path):
    refuse(tmp_path / "nowhere.xlsx", "no file")
    path = plain({"A1": 1})
    with pytest.raises(Refusal, match="no folder"):
        fill(path, tmp_path / "nowhere" / "out.xlsx", functions=FUNCTIONS)
    with pytest.raises(Refusal, match=r"must end in \.xlsx"):
        fill(path, tmp_path / "out.xlsm", functions=FUNCTIONS)


def zip_of(path, members):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members:
            archive.writestr(name, content)
    return path


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize(
    ("members", "says"),
    [
        ([("readme.txt", "x")], "not a workbook"),
        ([("mimetype", "application/vnd.oasis.opendocument.spreadsheet")], "OpenDocument"),
        ([("[Content_Types].xml", "<Types/>")], "main part"),
        ([("[Content_Types].xml", "<a/>"), ("../evil.xml", "x")], "unsafe name"),
        ([("[Content_Types].xml", "<a/>"), ("/evil.xml", "x")], "unsafe name"),
        ([("[Content_Types].xml", "<a/>"), ("a/../../e", "x")], "unsafe name"),
        ([("[Content_Types].xml", "<a/>"), ("xl/A.xml", "x"), ("xl/a.xml", "y")], "twice"),
        ([("[Content_Types].xml", "<a/>"), ("xl/a.xml", "x"), ("xl/a.xml", "y")], "twice"),
        ([("[Content_Types].xml", "<a/>"), ("bomb.xml", b"\0" * (40 << 20))], "expands"),
    ],
)
def test_packages_that_are_not_opened(tmp_path, members, says):
    refuse(zip_of(tmp_path / "a.xlsx", members), says)


def test_declared_size_over_the_limit(rich, monkeypatch):
    monkeypatch.setattr(package_module, "EXPANDED_LIMIT", 10_000)
    refuse(rich, "expand")


def test_size_that_lies(rich):
    data = rich.read_bytes()
    with zipfile.ZipFile(rich) as archive:
        info = archive.getinfo("xl/worksheets/sheet1.xml")
    true, false = struct.pack("<L", info.file_size), struct.pack("<L", info.file_size - 100)
    head = data[: info.header_offset + 30]
    assert data.count(true) >= 1
    rich.write_bytes(head + data[len(head) :].replace(true, false))
    refuse(rich, "damaged")


def test_damaged_contents(rich):
    data = bytearray(rich.read_bytes())
    with zipfile.ZipFile(rich) as archive:
        info = archive.getinfo("xl/worksheets/sheet1.xml")
    data[info.header_offset + 60] ^= 0xFF
    data[info.header_offset + 61] ^= 0xFF
    rich.write_bytes(data)
    refuse(rich, "damaged")


def test_truncated_file(rich):
    data = rich.read_bytes()
    rich.write_bytes(data[: len(data) // 2])
    refuse(rich, "damaged")


@pytest.mark.parametrize("part", ["xl/worksheets/sheet1.xml", "xl/workbook.xml"])
def test_document_types_are_refused(rich, rewrite, part):
    doctype = b'<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]>'
    rewrite(rich, part, lambda xml: xml.replace(b"?>", b"?>" + doctype, 1))
    refuse(rich, "document type")


def test_broken_and_foreign_xml(rich, rewrite):
    part = "xl/worksheets/sheet1.xml"
    rewrite(rich, part, lambda xml: xml.replace(b"</sheetData>", b""))
    refuse(rich, "not well-formed")


def test_utf16_is_refused(rich, rewrite):
    rewrite(rich, "xl/workbook.xml", lambda xml: xml.decode().encode("utf-16"))
    refuse(rich, "UTF-16")


def test_a_workbook_without_worksheets(rich, rewrite):
    rewrite(
        rich,
        "xl/_rels/workbook.xml.rels",
        lambda xml: xml.replace(b"relationships/worksheet", b"relationships/chartsheet"),
    )
    refuse(rich, "no worksheet")


def test_binary_workbooks_are_named(rich, rewrite):
    rewrite(rich, "_rels/.rels", lambda xml: xml.replace(b"xl/workbook.xml", b"xl/workbook.bin"))
    refuse(rich, "xlsb")
    path = rich.rename(rich.with_suffix(".xlsb"))
    refuse(path, "xlsb")


def slow(*_):
    time.sleep(60)
    return 1.0


def quick(value):
    return value * 3


def test_time_limit(plain, tmp_path):
    path = plain({"A1": "=XF_SLOW(1)"})
    started = time.monotonic()
    with pytest.raises(Refusal, match="longer than 2 s"):
        fill(path, tmp_path / "out.xlsx", time_limit=2, functions={"XF_SLOW": slow})
    assert time.monotonic() - started < 10
    assert sorted(p.name for p in tmp_path.iterdir()) == ["plain.xlsx"]


def test_within_the_time_limit(plain, tmp_path):
    path = plain({"A1": "=XF_QUICK(2)"})
    stages = []
    report = fill(
        path,
        tmp_path / "out.xlsx",
        time_limit=60,
        functions={"XF_QUICK": quick},
        progress=lambda stage, part: stages.append(stage),
    )
    assert report.computed == 1
    assert set(stages) == {"reading", "computing", "writing"}
    path.write_bytes(b"PK\x03\x04")
    with pytest.raises(Refusal, match="damaged"):
        fill(path, tmp_path / "out.xlsx", time_limit=60, functions={"XF_QUICK": quick})


def test_interrupt_inside_a_function_ends_the_run(plain, tmp_path):
    def interrupted(*_):
        raise KeyboardInterrupt

    path = plain({"A1": "=IFERROR(XF_STOP(1),0)"})
    with pytest.raises(KeyboardInterrupt):
        fill(path, tmp_path / "out.xlsx", functions={"XF_STOP": interrupted})
    assert not (tmp_path / "out.xlsx").exists()


def test_report_as_text_and_json(run, plain):
    filled = run(plain({"A1": '=XF_TWICE("x")', "A2": "=NOSUCH()", "A3": "=1/0"}))
    text = filled.report.as_text()
    assert "Sheet!A1: Check: 'x' is not a number." in text
    assert "Sheet!A2: " in text
    data = json.loads(filled.report.as_json())
    assert data["errors"] == [["Sheet", "A3", "#DIV/0!"]]
    assert data["status"] == 1


def test_equal_calls_are_answered_from_memory(run, plain):
    calls = []

    def counted(value):
        calls.append(value)
        return value

    cells = {f"A{row}": "=XF_COUNTED(7)" for row in range(1, 50)}
    cells |= {"B1": "=XF_COUNTED(1)", "B2": "=XF_COUNTED(TRUE)"}
    filled = run(plain(cells), functions={"XF_COUNTED": counted})
    assert calls.count(7.0) == 1
    assert filled.values("B1:B2") == [[1], [True]]


def test_engine_is_imported_by_one_file_only():
    folder = Path(package_module.__file__).parent
    importing = [
        path.name
        for path in folder.glob("*.py")
        if any(
            line.strip().startswith(("import formualizer", "from formualizer"))
            for line in path.read_text().splitlines()
        )
    ]
    assert importing == ["engine.py"]
    assert "formualizer" in sys.modules


def test_a_fault_of_the_fill_itself_is_one_line(plain, tmp_path, monkeypatch):
    def broken(*_):
        raise ZeroDivisionError("first line\nsecond line")

    monkeypatch.setattr(run_module.Run, "compute", broken)
    refuse(plain({"A1": "=XF_TWICE(1,0)"}), "its fault.*ZeroDivisionError: first line")


def test_a_process_that_dies_is_one_line(plain, tmp_path):
    with pytest.raises(Refusal, match="ended from outside"):
        fill(
            plain({"A1": "=XF_DIE(1)"}),
            tmp_path / "out.xlsx",
            time_limit=60,
            functions={"XF_DIE": die},
        )
    assert not (tmp_path / "out.xlsx").exists()


def die(*_):
    os._exit(9)


def test_rows_out_of_order_are_refused(run, plain, rewrite):
    """Excel takes such a file for damaged."""
    path = plain({"A1": 1, "B1": "=XF_TWICE(A1)", "A2": 2, "B2": "=XF_TWICE(A2)"})
    row = rb'(<row r="1".*?</row>)(<row r="2".*?</row>)'
    rewrite(path, "xl/worksheets/sheet1.xml", lambda xml: re.sub(row, rb"\2\1", xml))
    refuse(path, "rows out of order")
