"""A second opinion on a filled workbook: LibreOffice computes it too, with the same functions."""

from __future__ import annotations

import math
import os
import shutil
import signal
import subprocess
import tempfile
from dataclasses import replace
from pathlib import Path

from . import setup_calc
from .cells import PREFIX
from .functions import FUNCTIONS
from .hosts.workbook import Refusal, Report, SecondOpinion
from .hosts.workbook.fill import OWN_FAULT
from .hosts.workbook.formula import address
from .hosts.workbook.package import open_package
from .hosts.workbook.run import readers
from .hosts.workbook.stored import Error, Value, bare_copy, stored_values

# Programs add up in different orders; what electrical work needs is far above this.
TOLERANCE = 1e-9
# LibreOffice otherwise keeps the results that a workbook stores; 0 is "always".
RECALCULATE = "".join(
    '<item oor:path="/org.openoffice.Office.Calc/Formula/Load">'
    f'<prop oor:name="{name}" oor:op="fuse"><value>0</value></prop></item>'
    for name in ("OOXMLRecalcMode", "ODFRecalcMode")
)
UNKNOWN_THERE = "LibreOffice does not know a function or a name in it"


def need_calc() -> Path:
    """Folder of LibreOffice's programs.

    Raises
    ------
    Refusal
        Where there is no LibreOffice that could run the functions.
    """
    program = setup_calc.find_program()
    if program is None:
        raise Refusal(
            "There is no second opinion without LibreOffice: install it, or leave out --check-with."
        )
    try:
        setup_calc.need_python(program)
    except setup_calc.Refusal as reason:
        raise Refusal(f"LibreOffice can't give a second opinion: {reason}") from None
    return program


def ask_calc(report: Report, filled: Path, seconds: float | None) -> Report:
    """Let LibreOffice compute a filled workbook, and add to the report where it differs.

    LibreOffice works on a bare copy in a profile of its own, both deleted afterwards. Neither
    macros nor links of the workbook reach it.

    Parameters
    ----------
    report : Report
        Report of the fill.
    filled : Path
        Workbook that the fill wrote.
    seconds : float, optional
        Time after which LibreOffice is ended.

    Returns
    -------
    report : Report
        With the second opinion, or with the reason why there is none.
    """
    program = need_calc()
    opinion = SecondOpinion("LibreOffice", tolerance=TOLERANCE)
    with tempfile.TemporaryDirectory(prefix="xlfuncs-") as folder:
        try:
            answered = _recalculated(program, filled, Path(folder), seconds)
            return replace(report, opinion=_compared(opinion, report, filled, answered))
        except (Refusal, setup_calc.Refusal) as reason:
            return replace(report, opinion=replace(opinion, failure=str(reason)))
        except Exception as error:  # the workbook is filled: a fault here must not hide that
            fault = f"{OWN_FAULT} ({type(error).__name__}: {error})"
            return replace(report, opinion=replace(opinion, failure=fault.splitlines()[0]))


def _recalculated(program: Path, filled: Path, folder: Path, seconds: float | None) -> Path:
    profile = folder / "profile"
    _run(program, profile, seconds, "--terminate_after_init")
    settings = profile / "user" / "registrymodifications.xcu"
    if not settings.exists():
        raise Refusal("LibreOffice did not start.")
    text = settings.read_text("utf-8")
    settings.write_text(text.replace("</oor:items>", f"{RECALCULATE}</oor:items>"), "utf-8")
    setup_calc.install(profile, program)
    bare = folder / "book.xlsx"
    bare_copy(filled, bare)
    out = folder / "out"
    _run(program, profile, seconds, "--convert-to", "xlsx", "--outdir", str(out), str(bare))
    if not (out / bare.name).exists():
        raise Refusal("LibreOffice could not open the workbook.")
    return out / bare.name


def _run(program: Path, profile: Path, seconds: float | None, *arguments: str) -> None:
    """Run LibreOffice to its end; past the limit, end it and what it has started."""
    command = [
        shutil.which("soffice", path=str(program)) or "soffice",
        "--headless",
        "--norestore",
        "--nologo",
        f"-env:UserInstallation={profile.resolve().as_uri()}",
        *arguments,
    ]
    process = subprocess.Popen(
        command,
        env=setup_calc.office_environment(),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        process.wait(seconds)
    except subprocess.TimeoutExpired:
        raise Refusal(f"LibreOffice took longer than {seconds:g} s.") from None
    finally:
        if process.poll() is None:
            if os.name == "posix":
                os.killpg(process.pid, signal.SIGKILL)
            process.kill()
            process.wait()


def _compared(
    opinion: SecondOpinion, report: Report, filled: Path, answered: Path
) -> SecondOpinion:
    theirs = {
        (sheet, row, column): value
        for sheet, row, column, value in stored_values(open_package(answered))
    }
    wanted = {
        (sheet, row, column)
        for sheet, places in report.places.items()
        for row, column in places.tolist()
    }
    ours = {
        (sheet, row, column): value
        for sheet, row, column, value in stored_values(open_package(filled))
        if (sheet, row, column) in wanted
    }
    answers = {cell: (ours.get(cell), theirs.get(cell)) for cell in sorted(wanted)}
    silent = {cell: reason for cell, pair in answers.items() if (reason := _no_answer(*pair))}
    reading = readers(open_package(filled), FUNCTIONS, silent) if silent else set()
    differences, unanswered = [], []
    for cell, (here, there) in answers.items():
        sheet, place = cell[0], address(*cell[1:])
        if cell in silent:
            unanswered.append((sheet, place, silent[cell]))
        elif not agree(here, there):
            if cell in reading:
                unanswered.append((sheet, place, "it depends on a cell without an answer there"))
            else:
                differences.append((sheet, place, _shown(here), _shown(there)))
    return replace(
        opinion,
        compared=len(answers) - len(unanswered),
        differences=differences,
        unanswered=unanswered,
    )


def _no_answer(here: Value, there: Value) -> str:
    """Why what LibreOffice stored is no answer; nothing where it is one."""
    if isinstance(there, Error) and there == "#NAME?" and here != there:
        return UNKNOWN_THERE
    if isinstance(there, str) and there.startswith(PREFIX) and "LibreOffice" in there:
        return there.removeprefix(PREFIX)
    return ""


def agree(here: Value, there: Value) -> bool:
    """Whether two values are the same to a reader of the sheet.

    LibreOffice keeps truth values as 1 and 0, also where a text is made of them, and an empty text
    like an empty cell.
    """
    if here in ("TRUE", "FALSE") and there in ("1", "0", 1.0, 0.0):
        return (here == "TRUE") == (float(there) == 1)
    numbers = [float(value) for value in (here, there) if isinstance(value, bool | float)]
    if len(numbers) == 2:
        return math.isclose(*numbers, rel_tol=TOLERANCE, abs_tol=TOLERANCE)
    here, there = ("" if value is None else value for value in (here, there))
    return here == there and isinstance(here, Error) == isinstance(there, Error)


def _shown(value: Value) -> str:
    return "nothing" if value in (None, "") else str(value)
