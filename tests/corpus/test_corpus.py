"""Workbooks that programs of others wrote are filled, and nothing else in them changes."""

from __future__ import annotations

import warnings

import openpyxl
import pytest

from xlfuncs.hosts.workbook import fill
from xlfuncs.hosts.workbook.formula import address
from xlfuncs.hosts.workbook.package import open_package
from xlfuncs.hosts.workbook.stored import stored_values

from ..hosts import calc_office
from .books import BUILDERS
from .outcome import FILLED
from .package import package, read, sheet, write


def unlike(path, expected):
    """Cells of a filled workbook that do not hold what they must."""
    with warnings.catch_warnings():
        # What openpyxl can't read of a workbook it would drop on saving; nothing is saved here.
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(path, data_only=True, keep_links=False)
    found = {place: book[place[0]][place[1]].value for place in expected}
    return {
        place: (found[place], value)
        for place, value in expected.items()
        if (
            found[place] != pytest.approx(value, rel=1e-4)
            if isinstance(value, int | float)
            else found[place] != value
        )
    }


@pytest.mark.parametrize("name", BUILDERS)
def test_is_filled_and_nothing_else_changes(corpus, fills, tmp_path, name):
    source, expected = corpus[name]
    output = tmp_path / name
    outcome, report = fills(source, output)
    assert outcome == FILLED, report
    assert unlike(output, expected) == {}
    assert report.computed >= 4


@pytest.mark.parametrize("name", BUILDERS)
def test_what_is_stored_is_read_for_a_second_opinion(corpus, fills, tmp_path, name):
    source, expected = corpus[name]
    output = tmp_path / name
    assert fills(source, output)[0] == FILLED
    found = {
        (sheet, address(row, column)): value
        for sheet, row, column, value in stored_values(open_package(output))
    }
    for place, value in expected.items():
        if isinstance(value, int | float):
            assert found[place] == pytest.approx(value, rel=1e-4)
        else:
            assert found[place] == value


@pytest.mark.parametrize("name", BUILDERS)
def test_filling_what_was_filled_changes_nothing(corpus, fills, tmp_path, name):
    source, _ = corpus[name]
    first, second = tmp_path / f"first {name}", tmp_path / f"second {name}"
    assert fills(source, first)[0] == FILLED
    assert fills(first, second)[0] == FILLED
    assert read(first) == read(second)


@pytest.mark.parametrize("name", ["plain.xlsx", "everything.xlsm", "chain.xlsx"])
def test_options_keep_the_promise_too(corpus, fills, tmp_path, name):
    source, expected = corpus[name]
    output = tmp_path / name
    outcome, report = fills(source, output, recompute_all=True)
    assert outcome == FILLED, report
    kept = {place: value for place, value in expected.items() if place != ("S", "D2")}
    assert unlike(output, kept) == {}


# One run of LibreOffice for all of them; it keeps what it does not know out of its own files.
RESAVED = ["plain.xlsx", "dressed.xlsx", "tables.xlsx", "everything.xlsm", "inline.xlsx"]


@pytest.fixture(scope="module")
def resaved(corpus, tmp_path_factory):
    """Workbooks that LibreOffice has opened and saved, without our functions in it."""
    calc_office.need_libreoffice()
    folder = tmp_path_factory.mktemp("resaved")
    copies = []
    for name in RESAVED:
        copy = folder / name.replace(" ", "_").replace(".xlsm", ".xlsx")
        parts = read(corpus[name][0])
        parts.pop("xl/vbaProject.bin", None)
        parts["[Content_Types].xml"] = parts["[Content_Types].xml"].replace(
            b"ms-excel.sheet.macroEnabled", b"openxmlformats-officedocument.spreadsheetml.sheet"
        )
        copies.append(write(parts, copy))
    office = calc_office.Office(tmp_path_factory.mktemp("profile"))
    return dict(zip(RESAVED, office.recalculate(copies), strict=True))


@pytest.mark.parametrize("name", RESAVED)
def test_what_libreoffice_saved_is_filled(corpus, resaved, fills, tmp_path, name):
    expected = corpus[name][1]
    output = tmp_path / "filled.xlsx"
    outcome, report = fills(resaved[name], output)
    assert outcome == FILLED, report
    # Tables lose their names there, and dynamic arrays their mark.
    lost = {("Sheet", "F2"), ("Other", "H13")}
    kept = {place: value for place, value in expected.items() if place not in lost}
    assert unlike(output, kept) == {}


def test_a_formula_beside_an_extension_keeps_it(tmp_path):
    cell = '<c r="A1"><f>XF_AREA("1/0")</f><v>0</v><extLst><ext uri="x"/></extLst></c>'
    path = write(package({"S": sheet(f'<row r="1">{cell}</row>')}), tmp_path / "a.xlsx")
    fill(path, tmp_path / "b.xlsx")
    xml = read(tmp_path / "b.xlsx")["xl/worksheets/sheet1.xml"].decode()
    assert '<v>105.6</v><extLst><ext uri="x"/></extLst></c>' in xml


def test_the_corpus_has_what_it_names(corpus):
    """Every kind of part that a fill must carry along stands in some workbook of the corpus."""
    parts = {part for path, _ in corpus.values() for part in read(path)}
    contents = b"".join(
        bytes(content) for path, _ in corpus.values() for content in read(path).values()
    )
    for folder in (
        "xl/charts/", "xl/media/", "xl/comments", "xl/pivotTables/", "xl/pivotCache/",
        "xl/externalLinks/", "xl/tables/", "xl/chartsheets/", "xl/printerSettings/",
        "xl/vbaProject.bin", "xl/calcChain.xml", "docProps/custom.xml", "xl/metadata.xml",
    ):  # fmt: skip
        assert any(part.startswith(folder) for part in parts), folder
    for mark in (
        b"veryHidden", b"date1904", b"dataValidation ", b"<conditionalFormatting",
        b"sheetProtection",
        b't="shared"', b't="array"', b't="dataTable"', b"inlineStr", b"<x:worksheet", b"<r><rPr>",
        b"hyperlink", b"XFD1048576", b"<row>", b"sparkline", b"mc:AlternateContent",
    ):  # fmt: skip
        assert mark in contents, mark
