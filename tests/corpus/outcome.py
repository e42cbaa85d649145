"""One fill of one file and what came of it, in a process that can be ended.

Everything that a fill promises about the file is checked here: other members byte for byte, nothing
but results of formulas changed in a sheet, nothing written on refusal, one line of reason.
"""

from __future__ import annotations

import io
import multiprocessing
import re
import subprocess
import sys
import traceback
import zipfile
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from lxml import etree

from xlfuncs.hosts.workbook import Refusal, fill
from xlfuncs.hosts.workbook.fill import OWN_FAULT

from .package import raw_members

SECONDS = 20.0
FILLED, REFUSED, BROKEN = "filled", "refused", "broken"

MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"


class Fills:
    """A process that fills one workbook after another and is replaced when it hangs or dies."""

    def __init__(self) -> None:
        self.process: Any = None
        self._start()

    def _start(self) -> None:
        context = multiprocessing.get_context("spawn")
        self.pipe, theirs = context.Pipe()
        self.process = context.Process(target=_work, args=(theirs,), daemon=True)
        self.process.start()
        theirs.close()

    def _renew(self) -> None:
        self.close()
        self._start()

    def close(self) -> None:
        self.process.kill()
        self.process.join()

    def __call__(self, source: Path, output: Path, **options: Any) -> tuple[str, Any]:
        """Outcome of a fill and its report, the reason of its refusal, or what is broken."""
        before = sorted(source.parent.iterdir())
        original = source.read_bytes()
        try:
            self.pipe.send((source, output, options))
            if self.pipe.poll(SECONDS):
                outcome, value = self.pipe.recv()
            else:
                self._renew()
                outcome, value = _given_up(source, output)
        except (EOFError, OSError) as failure:
            self._renew()
            return BROKEN, f"the process died ({failure!r})"
        broken = ""
        if source.read_bytes() != original:
            broken = "the source was changed"
        elif outcome == REFUSED:
            if "\n" in value or not value.strip() or len(value) > 500:
                broken = f"the reason is not one line: {value!r}"
            elif output.exists():
                broken = "refused, but written"
            elif sorted(source.parent.iterdir()) != before:
                broken = "refused, but something is left behind"
        elif outcome == FILLED:
            broken = what_else_changed(original, output.read_bytes())
        return (BROKEN, broken) if broken else (outcome, value)


def _given_up(source: Path, output: Path) -> tuple[str, str]:
    """What the command says of a workbook that takes too long; it has to end by itself."""
    command = [sys.executable, "-m", "xlfuncs", "fill", str(source), "-o", str(output)]
    try:
        run = subprocess.run(
            [*command, "--time-limit", "2"], capture_output=True, text=True, timeout=60, check=False
        )
    except subprocess.TimeoutExpired:
        return BROKEN, "the time limit did not end it"
    if run.returncode != 2 or "took longer than 2 s" not in run.stderr:
        return BROKEN, f"status {run.returncode}: {run.stdout}{run.stderr}"
    return REFUSED, run.stderr.strip()


def _work(pipe: Connection) -> None:
    while True:
        source, output, options = pipe.recv()
        try:
            pipe.send((FILLED, fill(source, output, **options)))
        except Refusal as refusal:
            if str(refusal).startswith(OWN_FAULT):
                pipe.send((BROKEN, traceback.format_exc()))
            else:
                pipe.send((REFUSED, str(refusal)))
        except BaseException:
            pipe.send((BROKEN, traceback.format_exc()))


def what_else_changed(before: bytes, after: bytes) -> str:
    """What a fill changed beyond the results of formulas; nothing where it kept its word."""
    old, new = raw_members(before), raw_members(after)
    if list(old) != list(new):
        return f"other members: {sorted(set(old) ^ set(new))}"
    changed = [name for name in old if old[name] != new[name]]
    with zipfile.ZipFile(io.BytesIO(before)) as first, zipfile.ZipFile(io.BytesIO(after)) as second:
        for name in changed:
            one, other = (_without_results(archive.read(name)) for archive in (first, second))
            if one != other:
                return f"{name} changed beyond its results"
    return ""


def _without_results(xml: bytes) -> bytes:
    """A sheet without the results of its formulas, and without cells that arrays fill."""
    parser = etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True)
    try:
        root = etree.fromstring(xml, parser)
    except etree.XMLSyntaxError:
        # Too deep for this parser; its cells are then checked by other damages.
        return re.sub(rb"<(?:\w+:)?sheetData.*</(?:\w+:)?sheetData", b"", xml, flags=re.DOTALL)
    if root.tag != f"{MAIN}worksheet":
        return b"not a sheet"
    if b"array" in xml or b" cm=" in xml:
        # What an array formula spreads over is checked by its values.
        for data in root.iter(f"{MAIN}sheetData"):
            data.clear()
        return bytes(etree.tostring(root))
    for cell in root.iter(f"{MAIN}c"):
        if cell.find(f"{MAIN}f") is not None:
            for attribute in ("t", "vm"):
                cell.attrib.pop(attribute, None)
            for value in (*cell.findall(f"{MAIN}v"), *cell.findall(f"{MAIN}is")):
                cell.remove(value)
    return re.sub(rb"\s+", b" ", etree.tostring(root, method="c14n"))
