"""Fill a workbook: the checks before, the run, and the writing after."""

from __future__ import annotations

import gc
import multiprocessing
import sys
import threading
import time
from collections.abc import Callable, Mapping
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .formula import FormulaError
from .package import open_package, package_from_bytes, write_atomically
from .refusal import Refusal
from .registered import registered_functions
from .report import Report

if TYPE_CHECKING:
    from .run import Progress

Job = tuple[bytes, str, Mapping[str, Callable[..., Any]] | None, bool, bool, float]

OWN_FAULT = "xlfuncs has failed on this workbook, which is its fault. Please report it"

OTHER_FORMATS = {
    ".xlsb": "an .xlsb workbook",
    ".ods": "an OpenDocument workbook",
    ".xls": "an old .xls workbook",
    ".csv": "a .csv text file",
}


def fill(
    source: Path,
    output: Path,
    *,
    in_place: bool = False,
    share: bool = False,
    recompute_all: bool = False,
    time_limit: float | None = None,
    progress: Progress | None = None,
    functions: Mapping[str, Callable[..., object]] | None = None,
) -> Report:
    """Compute the worksheet functions of a workbook and store their results in it.

    What Excel stored stays: only cells that call the functions, cells that depend on those, and
    formula cells without a stored value are computed. Formulas are never changed.

    Parameters
    ----------
    source : Path
        Workbook, ``.xlsx`` or ``.xlsm``.
    output : Path
        Where the filled copy is written.
    in_place : bool
        Allow `output` to be `source`.
    share : bool
        Drop the request to recalculate on opening, for people without the add-in.
    recompute_all : bool
        Compute every formula cell.
    time_limit : float, optional
        Seconds after which the run is given up. It then takes place in another process, which
        may have to import the functions: in a script, call `fill` below
        ``if __name__ == "__main__":``.
    progress : callable, optional
        Called with the stage and the part of it that is done.
    functions : mapping, optional
        Worksheet functions by name; all of the registry's where it is not given.

    Returns
    -------
    report : Report
        What was computed, kept and left alone.

    Raises
    ------
    Refusal
        Where the workbook can't be filled; nothing has been written then.
    """
    started = time.perf_counter()
    source, output = Path(source), Path(output)
    _check_places(source, output, in_place)
    data = open_package(source).data
    job: Job = (data, source.name, functions, recompute_all, share, started)
    report_progress = progress or (lambda _stage, _part: None)
    if time_limit is None:
        content, report = _compute(*job, report_progress)
    else:
        content, report = _compute_within(time_limit, job, report_progress)
    write_atomically(content, output, source)
    return report


def _check_places(source: Path, output: Path, in_place: bool) -> None:
    kind = OTHER_FORMATS.get(source.suffix.lower())
    if source.is_file() and kind:
        open_package(source)
        raise Refusal(f"{source.name} is {kind}; save it as .xlsx or .xlsm first.")
    if not output.parent.is_dir():
        raise Refusal(f"There is no folder {output.parent}.")
    if output.is_dir():
        raise Refusal(f"{output} is a folder.")
    if source.exists() and output.exists() and source.samefile(output) and not in_place:
        raise Refusal(f"{output.name} is the workbook itself; ask for it to be filled in place.")
    if source.suffix.lower() != output.suffix.lower():
        raise Refusal(
            f"{output.name} must end in {source.suffix}, as {source.name} does: "
            "the file's kind does not change."
        )
    for path in (source, output):
        for lock in (f"~${path.name}", f".~lock.{path.name}#"):
            if (path.parent / lock).exists():
                raise Refusal(
                    f"{path.name} is open in another program; close it first "
                    f"(or delete {lock}, if it was left behind)."
                )


def _compute(
    data: bytes,
    name: str,
    functions: Mapping[str, Callable[..., Any]] | None,
    recompute_all: bool,
    share: bool,
    started: float,
    progress: Progress,
) -> tuple[bytes, Report]:
    # A process that only waits for the one that computes need not load what computes.
    from .run import Run

    if functions is None:
        functions = registered_functions()
    collecting = gc.isenabled()
    # A run makes millions of lists, and the collector would look through all of them again and
    # again.
    gc.disable()
    try:
        run = Run(package_from_bytes(data, name), functions, recompute_all, progress)
        run.compute()
        changed = run.changed_parts(share)
        content = run.package.with_members(changed) if changed else data
        return content, run.report(share, started)
    except Refusal:
        raise
    except FormulaError as error:
        raise Refusal(f"The file is damaged: {error}.") from None
    except MemoryError:
        raise Refusal(f"{name} needs more memory than there is.") from None
    except Exception as error:
        # A person who wants a result is not helped by a traceback; `from` keeps it for us.
        reason = f"{type(error).__name__}: {error}".splitlines()[0]
        raise Refusal(f"{OWN_FAULT} ({reason[:200]}); nothing was written.") from error
    finally:
        if collecting:
            gc.enable()


def _compute_within(seconds: float, job: Job, progress: Progress) -> tuple[bytes, Report]:
    """The same in another process, because the engine can't be interrupted in its own."""
    # A fork need not import everything anew, but copies no thread, which may hold a lock; the
    # engine has threads once it has run.
    alone = (
        sys.platform == "linux"
        and threading.active_count() == 1
        and "formualizer" not in sys.modules
    )
    context: Any = multiprocessing.get_context("fork" if alone else "spawn")
    ours, theirs = context.Pipe()
    process = context.Process(
        target=_work, args=(theirs, ours if alone else None, job), daemon=True
    )
    deadline = time.monotonic() + seconds
    process.start()
    theirs.close()
    try:
        while ours.poll(max(0.0, deadline - time.monotonic())):
            kind, *values = ours.recv()
            if kind == "progress":
                progress(*values)
            elif kind == "failed":
                raise values[0]
            else:
                return values[0], values[1]
    except EOFError:
        raise Refusal(
            "The computation was ended from outside, perhaps for want of memory; "
            "nothing was written."
        ) from None
    finally:
        process.kill()
        process.join()
    raise Refusal(f"The computation took longer than {seconds:g} s and was given up.")


def _work(pipe: Connection, other_end: Connection | None, job: Job) -> None:
    if other_end is not None:
        # With it open, sending to a parent that was ended would wait forever.
        other_end.close()

    def progress(stage: str, part: float) -> None:
        pipe.send(("progress", stage, part))

    try:
        pipe.send(("done", *_compute(*job, progress)))
    except BaseException as failure:
        pipe.send(("failed", failure))
