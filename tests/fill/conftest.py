"""Workbooks made at test time, and ways to look into a file."""

from __future__ import annotations

import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import xlsxwriter
from sheet_functions import FUNCTIONS

from xlfuncs.hosts.workbook import Report, fill


class Filled:
    """A workbook before and after."""

    def __init__(self, source: Path, output: Path, report: Report) -> None:
        self.source, self.output, self.report = source, output, report

    def value(self, address: str, sheet: str | None = None) -> Any:
        book = openpyxl.load_workbook(self.output, data_only=True)
        return (book[sheet] if sheet else book.worksheets[0])[address].value

    def values(self, area: str, sheet: str | None = None) -> list[list[Any]]:
        book = openpyxl.load_workbook(self.output, data_only=True)
        cells = (book[sheet] if sheet else book.worksheets[0])[area]
        return [[cell.value for cell in row] for row in cells]

    def formula(self, address: str) -> Any:
        return openpyxl.load_workbook(self.output).worksheets[0][address].value

    def xml(self, part: str = "xl/worksheets/sheet1.xml") -> str:
        with zipfile.ZipFile(self.output) as archive:
            return archive.read(part).decode()

    def left(self) -> dict[str, str]:
        return {address: reason for _, address, reason in self.report.left_alone}


@pytest.fixture
def run(tmp_path: Path) -> Callable[..., Filled]:
    """Fill a workbook with the functions above."""

    def filled(source: Path, **options: Any) -> Filled:
        output = tmp_path / f"filled{source.suffix}"
        report = fill(source, output, **{"functions": FUNCTIONS, **options})
        return Filled(source, output, report)

    return filled


@pytest.fixture
def write(tmp_path: Path) -> Callable[..., Any]:
    """Open a workbook of XlsxWriter, which stores values beside formulas as Excel does."""

    @contextmanager
    def opened(name: str = "book.xlsx", **options: Any) -> Iterator[Any]:
        path = tmp_path / name
        book = xlsxwriter.Workbook(path, options)
        book.path = path
        yield book
        book.close()

    return opened


@pytest.fixture
def plain(tmp_path: Path) -> Callable[[dict[str, Any]], Path]:
    """A workbook of openpyxl, which stores no values beside formulas, with one sheet."""

    def written(cells: dict[str, Any]) -> Path:
        book = openpyxl.Workbook()
        for address, value in cells.items():
            book.active[address] = value
        path = tmp_path / "plain.xlsx"
        book.save(path)
        return path

    return written


@pytest.fixture
def rewrite() -> Callable[[Path, str, Callable[[bytes], bytes]], Path]:
    """Change one member of a workbook file."""

    def rewritten(path: Path, part: str, change: Callable[[bytes], bytes]) -> Path:
        with zipfile.ZipFile(path) as archive:
            contents = {info: archive.read(info) for info in archive.infolist()}
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for info, content in contents.items():
                archive.writestr(
                    info.filename, change(content) if info.filename == part else content
                )
        return path

    return rewritten
