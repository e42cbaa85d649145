"""The command ``xlfuncs``.

Each command is a function that takes what its parser has read and returns the exit status. What
only one command needs is imported by that command, because a short one spends most of its time
on imports.
"""

from __future__ import annotations

import argparse
import io
import math
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from .hosts.workbook import Report
    from .practice.mark import Marked
    from .registry import Function

CAUTION = (
    "A calculation is not an installation: the adopted code, the authority having jurisdiction "
    "and a licensed person decide. De-energize and verify before you touch."
)

DONE, WITH_MESSAGES, REFUSED = 0, 1, 2
MOST_SECONDS = 7 * 24 * 3600.0
# What a shell gives a program that was interrupted.
INTERRUPTED = 130


class _CommandError(Exception):
    """What was asked for can't be done; the text says why."""


def fill(
    book: Path,
    output: Path | None,
    in_place: bool,
    share: bool,
    recompute_all: bool,
    check_with: str | None,
    report: Path | None,
    time_limit: float,
) -> int:
    """Compute the formulas of a workbook without a spreadsheet program."""
    from .hosts.workbook import Refusal
    from .hosts.workbook import fill as fill_workbook

    if not book.name:
        raise _CommandError(f"{book} is a folder, not a workbook")
    if in_place and output is not None:
        raise _CommandError("choose either --in-place or --output")
    target = book if in_place else output or book.with_name(f"{book.stem}-filled{book.suffix}")
    with _Progress() as progress:
        try:
            if check_with is not None:
                from . import second_opinion

                second_opinion.need_calc()
            result = fill_workbook(
                book,
                target,
                in_place=in_place,
                share=share,
                recompute_all=recompute_all,
                time_limit=time_limit or None,
                progress=progress,
            )
        except Refusal as refusal:
            raise _CommandError(refusal) from None
        if check_with is not None:
            progress("asking LibreOffice", 0.0)
            result = second_opinion.ask_calc(result, target, time_limit or None)
    _print_report(result, target)
    if report is not None:
        text = result.as_json() if report.suffix.lower() == ".json" else result.as_text()
        try:
            report.write_text(text, "utf-8")
        except OSError as error:
            _print_error(f"the report was not written: {error.strerror}")
            return WITH_MESSAGES
    return result.status


class _Progress:
    """A bar on a terminal, silence elsewhere."""

    def __init__(self) -> None:
        if not sys.stderr.isatty():
            self._bar = None
            return
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

        self._bar = Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            TimeElapsedColumn(),
            console=Console(stderr=True),
            transient=True,
        )
        self._task = self._bar.add_task("", total=1.0)

    def __enter__(self) -> _Progress:
        return self

    def __exit__(self, *_: object) -> None:
        if self._bar is not None:
            self._bar.stop()

    def __call__(self, stage: str, part: float) -> None:
        if self._bar is not None:
            # Not before: the bar's own thread would keep a time limit from forking.
            self._bar.start()
            self._bar.update(self._task, description=stage, completed=part)


MOST_LINES = 20


def _print_report(report: Report, target: Path) -> None:
    """Print the counts, and the first places that need a look."""
    print(
        f"{report.computed} formulas computed, {report.kept} kept as stored, "
        f"{len(report.messages)} with a message, {len(report.errors)} with an error, "
        f"{len(report.left_alone)} left alone ({report.seconds:.1f} s)"
    )
    for title, places in (
        ("Messages", report.messages),
        ("Errors", report.errors),
        ("Left alone", report.left_alone),
    ):
        _print_places(title, places)
    for note in report.notes:
        print(note)
    if report.opinion is not None:
        print(report.opinion.headline)
        _print_places("Different there", report.opinion.differing)
        _print_places("Without an answer there", report.opinion.unanswered)
    print(f"Written: {target}")
    print(CAUTION)


def _print_places(title: str, places: list[tuple[str, str, str]]) -> None:
    if places:
        print(f"{title}:")
    grouped = _grouped(places)
    for line in grouped[:MOST_LINES]:
        # Control characters out of a cell must not reach the terminal.
        print("  " + "".join(letter if letter.isprintable() else " " for letter in line))
    if len(grouped) > MOST_LINES:
        print(f"  ... and {len(grouped) - MOST_LINES} more; --report FILE lists all")


def _grouped(places: list[tuple[str, str, str]]) -> list[str]:
    """Say the same text of one sheet once, with the first of its addresses."""
    addresses: dict[tuple[str, str], list[str]] = {}
    for sheet, address, text in places:
        addresses.setdefault((sheet, text), []).append(address)
    lines = []
    for (sheet, text), found in addresses.items():
        more = f" and {len(found) - 3} more" if len(found) > 3 else ""
        lines.append(f"{sheet}!{', '.join(found[:3])}{more}: {text}")
    return lines


def _print_error(text: object) -> None:
    print(f"xlfuncs: {text}", file=sys.stderr)


def _print_table(
    headings: Iterable[str], rows: Iterable[Iterable[object]], width: int, right: str = ""
) -> None:
    """Print a table, `width` wide where there is no terminal; `right` is aligned right."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, collapse_padding=True)
    for heading in headings:
        table.add_column(heading, justify="right" if heading == right else "left")
    for row in rows:
        table.add_row(*(Text(str(value)) for value in row))
    Console(highlight=False, width=None if sys.stdout.isatty() else width).print(table)


def describe(name: str | None) -> int:
    """List the functions, or show one with its arguments, units, rule and source."""
    from .functions import FUNCTIONS

    if name is None:
        _print_table(
            ("Function", "Result", "What it answers"),
            ((f.name, f.unit or f.result, f.summary) for f in FUNCTIONS.values()),
            width=80,
        )
        print(CAUTION)
        return DONE
    found = FUNCTIONS.get(name.upper())
    if found is None:
        near = [known for known in FUNCTIONS if name.upper().removeprefix("XF_") in known]
        hint = f"; do you mean {' or '.join(near[:3])}?" if near else ""
        raise _CommandError(f"no function is named {name}{hint}")
    _describe(found)
    return DONE


def _describe(function: Function) -> None:
    from .descriptions import argument_text, default_text

    print(function.signature, function.summary, "", sep="\n")
    for argument in function.arguments:
        default = "" if argument.required else f" Default: {default_text(argument)}."
        print(f"  {argument.name}: {argument_text(argument)}{default}")
    print()
    print(f"Result: {function.unit or function.result}")
    print(f"Example: {function.example}")
    print("", function.notes, "", sep="\n")
    print("Source: " + "; ".join(function.sources))
    print(CAUTION)


def demo(folder: Path) -> int:
    """Build the job-list demo workbook, fill it and show its results."""
    from .demo import build_demo
    from .hosts.workbook import Refusal

    try:
        path, report, rows = build_demo(folder)
    except Refusal as refusal:
        raise _CommandError(refusal) from None
    except OSError as error:
        raise _CommandError(f"the demo can't be written to {folder}: {error.strerror}") from None
    heading, *body = rows
    _print_table(map(str, heading), body, width=160)
    _print_report(report, path)
    return DONE


def practice(output: Path, problems: int, seed: int, learners: int, overwrite: bool) -> int:
    """Make practice workbooks for learners, and the key for the trainer."""
    from .practice import build
    from .practice.sets import MOST_LEARNERS, MOST_PROBLEMS, build_sets

    if output.suffix.lower() != ".xlsx":
        raise _CommandError(f"{output} must end in .xlsx")
    for name, number, most in (
        ("--problems", problems, MOST_PROBLEMS),
        ("--learners", learners, MOST_LEARNERS),
    ):
        if not 1 <= number <= most:
            raise _CommandError(f"{name} must be from 1 to {most}")
    paths, key = build.practice_paths(output, learners)
    there = [path for path in (*paths, key) if path.exists()]
    if there and not overwrite:
        raise _CommandError(f"{there[0]} is there already; --overwrite replaces it")
    sets = build_sets(problems, seed, learners)
    try:
        with _Progress() as progress:
            for problem_set, path in zip(sets, paths, strict=True):
                progress(path.name, problem_set.learner / (learners + 1))
                build.write_practice(problem_set, path)
            build.write_key(sets, seed, key)
    except OSError as error:
        raise _CommandError(f"{error.filename} can't be written: {error.strerror}") from None
    last = f" to {paths[-1]}" if learners > 1 else ""
    print(f"For the learners: {paths[0]}{last}")
    print(f"For the trainer:  {key}")
    print(CAUTION)
    return DONE


def mark(key: Path, returned: list[Path], output: Path | None) -> int:
    """Mark practice workbooks that came back."""
    from .practice import results
    from .practice.mark import collected, mark_files
    from .practice.returned import Unreadable, read_key

    target = output or key.with_name(f"{key.stem}-results.xlsx")
    if target.suffix.lower() != ".xlsx":
        raise _CommandError(f"{target} must end in .xlsx")
    if not results.may_be_written(target):
        raise _CommandError(
            f"{target} is there already and holds no results: choose another --output"
        )
    files = collected(returned, leave={key.resolve(), target.resolve()})
    try:
        marked, listed = mark_files(read_key(key), files)
    except Unreadable as reason:
        raise _CommandError(f"{key} is no key: {reason}") from None
    if marked:
        try:
            results.write_results(marked, listed, target)
        except OSError as error:
            raise _CommandError(f"{target} can't be written: {error.strerror}") from None
        _print_scores(marked)
    if listed:
        print("Not marked:")
    for one in listed:
        print(f"  {one.path}: {one.reason}")
    if not marked:
        raise _CommandError("nothing was marked")
    print(f"Written: {target}")
    return WITH_MESSAGES if listed else DONE


def _print_scores(marked: list[Marked]) -> None:
    from .practice.mark import RIGHT
    from .practice.results import percent_right

    rows = []
    for one in marked:
        missed = [str(o.entry.number) for o in one.outcomes if o.verdict != RIGHT]
        right = f"{one.count(RIGHT)} of {len(one.outcomes)}"
        score = f"{percent_right(one):.0f} %"
        rows.append((one.name, one.returned.code, right, score, ", ".join(missed)))
    headings = ("Learner", "Set", "Right", "Score", "Not right")
    _print_table(headings, rows, width=120, right="Score")


def setup_excel(check: bool, remove: bool) -> int:
    """Offer the functions in Excel on Windows; elsewhere say what would be done."""
    from . import setup_excel as excel

    try:
        if check:
            for finding in excel.check():
                print(finding)
        else:
            print(excel.remove() if remove else excel.install())
    except excel.Refusal as refusal:
        raise _CommandError(refusal) from None
    return DONE


def setup_calc(profile: Path | None, remove: bool) -> int:
    """Offer the functions in LibreOffice Calc."""
    from . import setup_calc as calc

    try:
        print(calc.remove(profile) if remove else calc.install(profile))
    except calc.Refusal as refusal:
        raise _CommandError(refusal) from None
    return DONE


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="xlfuncs",
        description="Electrical installation calculations as worksheet functions.",
        epilog=CAUTION,
        allow_abbrev=False,
    )
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    new = _command(
        commands,
        "fill",
        fill,
        "Exit status: 0 all computed; 1 written, but some cells hold messages, were left alone or "
        "come out otherwise in the other program; 2 refused and nothing written.",
    )
    new.add_argument("book", metavar="BOOK", type=Path, help="workbook, .xlsx or .xlsm")
    new.add_argument(
        "-o",
        "--output",
        metavar="FILE",
        type=Path,
        help="filled workbook; default: BOOK-filled beside it",
    )
    new.add_argument("--in-place", action="store_true", help="write the results into BOOK itself")
    new.add_argument(
        "--share",
        action="store_true",
        help="make the copy for people without the functions: results stay on opening",
    )
    new.add_argument(
        "--all",
        dest="recompute_all",
        action="store_true",
        help="recompute every formula, also those that hold a result",
    )
    new.add_argument(
        "--check-with",
        choices=["calc"],
        help="have another program compute the workbook too, and list where it differs",
    )
    new.add_argument(
        "--report",
        metavar="FILE",
        type=Path,
        help="write the whole report to this file (.json or text)",
    )
    new.add_argument(
        "--time-limit",
        metavar="SECONDS",
        type=_seconds,
        default=600.0,
        help="give up after this time; 0: never; default: 600",
    )

    new = _command(commands, "describe", describe)
    new.add_argument("name", metavar="FUNCTION", nargs="?", help="a function, such as XF_AMPACITY")

    new = _command(commands, "demo", demo)
    new.add_argument(
        "folder",
        metavar="FOLDER",
        nargs="?",
        type=Path,
        default=Path(),
        help="where to put the workbook; default: here",
    )

    new = _command(
        commands,
        "practice",
        practice,
        "Writes OUT.xlsx for one learner, OUT-01.xlsx and so on for more, and OUT-key.xlsx.",
    )
    new.add_argument("output", metavar="OUT", type=Path, help="practice workbook, .xlsx")
    new.add_argument(
        "--problems",
        metavar="COUNT",
        type=int,
        default=12,
        help="number of problems, 1 to 60; default: 12",
    )
    new.add_argument(
        "--seed",
        metavar="NUMBER",
        type=int,
        default=1,
        help="the same seed makes the same workbooks; default: 1",
    )
    new.add_argument(
        "--learners",
        metavar="COUNT",
        type=int,
        default=1,
        help="learners, 1 to 200; each gets other figures; default: 1",
    )
    new.add_argument(
        "--overwrite", action="store_true", help="replace workbooks that are there already"
    )

    new = _command(
        commands,
        "mark",
        mark,
        "Exit status: 0 all marked; 1 some files listed as not marked; 2 refused: no key, or "
        "nothing to mark.",
    )
    new.add_argument(
        "key", metavar="KEY", type=Path, help="key workbook that xlfuncs practice wrote"
    )
    new.add_argument(
        "returned",
        metavar="RETURNED",
        nargs="+",
        type=Path,
        help="returned workbooks, or folders that hold them",
    )
    new.add_argument(
        "-o",
        "--output",
        metavar="FILE",
        type=Path,
        help="results workbook; default: KEY-results.xlsx",
    )

    setup = commands.add_parser(
        "setup",
        help="put the functions into a spreadsheet program, or take them out",
        description="Put the functions into a spreadsheet program, or take them out.",
        allow_abbrev=False,
    )
    programs = setup.add_subparsers(title="programs", metavar="PROGRAM", required=True)
    new = _command(programs, "excel", setup_excel)
    new.add_argument("--check", action="store_true", help="report only, change nothing")
    new.add_argument("--remove", action="store_true", help="undo the set-up")
    new = _command(programs, "calc", setup_calc)
    new.add_argument(
        "--profile",
        metavar="FOLDER",
        type=Path,
        help="LibreOffice user profile; default: your own",
    )
    new.add_argument("--remove", action="store_true", help="undo the set-up")
    return parser


def _command(
    commands: argparse._SubParsersAction[argparse.ArgumentParser],
    name: str,
    function: Callable[..., int],
    more: str = "",
) -> argparse.ArgumentParser:
    """Parser of the arguments of a function, whose docstring becomes its help."""
    summary = function.__doc__ or ""
    parser: argparse.ArgumentParser = commands.add_parser(
        name,
        help=summary[0].lower() + summary[1:].rstrip("."),
        description=summary,
        epilog=more,
        allow_abbrev=False,
    )
    parser.set_defaults(function=function)
    return parser


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = math.nan
    if not 0 <= seconds <= MOST_SECONDS:
        raise argparse.ArgumentTypeError(f"{text} is not a number of seconds from 0 to a week")
    return seconds


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command and give its exit status."""
    for stream in (sys.stdout, sys.stderr):
        # A console that knows no √ is no reason to stop.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    parser = _parser()
    arguments = sys.argv[1:] if arguments is None else arguments
    if not arguments:
        parser.print_help(sys.stderr)
        return REFUSED
    given = vars(parser.parse_args(arguments))
    function: Callable[..., int] = given.pop("function")
    try:
        status = function(**given)
        if sys.stdout is not None:
            sys.stdout.flush()
    except _CommandError as reason:
        _print_error(reason)
        return REFUSED
    except KeyboardInterrupt:
        _print_error("stopped")
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read the output has gone, as `head` does, and flushing it once more would fail.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return WITH_MESSAGES
    return status
