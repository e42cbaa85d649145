"""The command ``xlfuncs``."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console
from rich.table import Table

if TYPE_CHECKING:
    from .hosts.workbook import Report
    from .practice.mark import Marked
    from .registry import Function

CAUTION = (
    "A calculation is not an installation: the adopted code, the authority having jurisdiction "
    "and a licensed person decide. De-energize and verify before you touch."
)

app = typer.Typer(
    help="Electrical installation calculations as worksheet functions.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
out = Console(highlight=False, soft_wrap=True)
err = Console(stderr=True, highlight=False, soft_wrap=True)

DONE, WITH_MESSAGES, REFUSED = 0, 1, 2


def _refuse(reason: object) -> typer.Exit:
    err.print(f"xlfuncs: {reason}", markup=False)
    return typer.Exit(REFUSED)


class SecondProgram(StrEnum):
    """Programs that can compute a workbook too."""

    CALC = "calc"


@app.command()
def fill(
    book: Annotated[Path, typer.Argument(help="Workbook, .xlsx or .xlsm.")],
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="Filled workbook; default: BOOK-filled beside it."),
    ] = None,
    in_place: Annotated[
        bool, typer.Option("--in-place", help="Write the results into BOOK itself.")
    ] = False,
    share: Annotated[
        bool,
        typer.Option(
            "--share",
            help="Make the copy for people without the functions: results stay on opening.",
        ),
    ] = False,
    recompute_all: Annotated[
        bool,
        typer.Option("--all", help="Recompute every formula, also those that hold a result."),
    ] = False,
    check_with: Annotated[
        SecondProgram | None,
        typer.Option(
            "--check-with",
            help="Have another program compute the workbook too, and list where it differs.",
        ),
    ] = None,
    report: Annotated[
        Path | None,
        typer.Option("--report", help="Write the whole report to this file (.json or text)."),
    ] = None,
    time_limit: Annotated[
        float,
        typer.Option("--time-limit", min=0, help="Give up after this many seconds; 0: never."),
    ] = 600,
) -> None:
    """Compute the formulas of a workbook without a spreadsheet program.

    Exit status: 0 all computed, 1 written but some cells hold messages, were left alone or come
    out otherwise in the other program, 2 refused and nothing written.
    """
    from . import second_opinion
    from .hosts.workbook import Refusal
    from .hosts.workbook import fill as fill_workbook

    if in_place and output is not None:
        raise _refuse("choose either --in-place or --output")
    target = book if in_place else output or book.with_name(f"{book.stem}-filled{book.suffix}")
    with _progress() as progress:
        try:
            if check_with is not None:
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
            raise _refuse(refusal) from None
        if check_with is not None:
            progress("asking LibreOffice", 0.0)
            result = second_opinion.ask_calc(result, target, time_limit or None)
    _print_report(result, target)
    if report is not None:
        text = result.as_json() if report.suffix.lower() == ".json" else result.as_text()
        try:
            report.write_text(text, "utf-8")
        except OSError as error:
            err.print(f"xlfuncs: the report was not written: {error.strerror}", markup=False)
            raise typer.Exit(WITH_MESSAGES) from None
    raise typer.Exit(result.status)


class _Progress:
    """A bar on a terminal, silence elsewhere."""

    def __init__(self) -> None:
        from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

        self._bar = Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            TimeElapsedColumn(),
            console=err,
            transient=True,
            disable=not sys.stderr.isatty(),
        )
        self._task = self._bar.add_task("", total=1.0)

    def __enter__(self) -> _Progress:
        return self

    def __exit__(self, *_: object) -> None:
        self._bar.stop()

    def __call__(self, stage: str, part: float) -> None:
        # Not before: the bar's own thread would keep a time limit from forking.
        self._bar.start()
        self._bar.update(self._task, description=stage, completed=part)


def _progress() -> _Progress:
    return _Progress()


MOST_LINES = 20


def _print_report(report: Report, target: Path) -> None:
    """Print the counts, and the first places that need a look."""
    out.print(
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
        out.print(note, markup=False)
    if report.opinion is not None:
        out.print(report.opinion.headline, markup=False)
        _print_places("Different there", report.opinion.differing)
        _print_places("Without an answer there", report.opinion.unanswered)
    out.print(f"Written: {target}", markup=False)
    out.print(CAUTION)


def _print_places(title: str, places: list[tuple[str, str, str]]) -> None:
    if places:
        out.print(f"{title}:")
    grouped = _grouped(places)
    for line in grouped[:MOST_LINES]:
        # Control characters out of a cell must not reach the terminal.
        shown = "".join(letter if letter.isprintable() else " " for letter in line)
        out.print(f"  {shown}", markup=False)
    if len(grouped) > MOST_LINES:
        out.print(f"  ... and {len(grouped) - MOST_LINES} more; --report FILE lists all")


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


@app.command()
def describe(
    name: Annotated[str | None, typer.Argument(help="A function, such as XF_AMPACITY.")] = None,
) -> None:
    """List the functions, or show one with its arguments, units, rule and source."""
    from .functions import FUNCTIONS

    if name is None:
        table = Table(box=None, pad_edge=False)
        table.add_column("Function")
        table.add_column("Result")
        table.add_column("What it answers")
        for function in FUNCTIONS.values():
            table.add_row(function.name, function.unit or function.result, function.summary)
        Console(highlight=False).print(table)
        out.print(CAUTION)
        return
    found = FUNCTIONS.get(name.upper())
    if found is None:
        near = [known for known in FUNCTIONS if name.upper().removeprefix("XF_") in known]
        hint = f"; do you mean {' or '.join(near[:3])}?" if near else ""
        raise _refuse(f"no function is named {name}{hint}")
    _describe(found)


def _describe(function: Function) -> None:
    from .descriptions import argument_text, default_text

    out.print(function.signature, markup=False)
    out.print(function.summary, markup=False)
    out.print("")
    for argument in function.arguments:
        default = "" if argument.required else f" Default: {default_text(argument)}."
        out.print(f"  {argument.name}: {argument_text(argument)}{default}", markup=False)
    out.print("")
    out.print(f"Result: {function.unit or function.result}", markup=False)
    out.print(f"Example: {function.example}", markup=False)
    out.print("")
    out.print(function.notes, markup=False)
    out.print("")
    out.print("Source: " + "; ".join(function.sources), markup=False)
    out.print(CAUTION)


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(help="Where to put the workbook.")] = Path(),
) -> None:
    """Build the job-list demo workbook, fill it and show its results."""
    from .demo import build_demo
    from .hosts.workbook import Refusal

    try:
        path, report, rows = build_demo(folder)
    except Refusal as refusal:
        raise _refuse(refusal) from None
    except OSError as error:
        raise _refuse(f"the demo can't be written to {folder}: {error.strerror}") from None
    heading, *body = rows
    table = Table(box=None, pad_edge=False, collapse_padding=True)
    for column in heading:
        table.add_column(str(column), justify="left")
    for row in body:
        table.add_row(*map(str, row))
    width = None if sys.stdout.isatty() else 160
    Console(highlight=False, width=width).print(table)
    _print_report(report, path)


@app.command()
def practice(
    output: Annotated[Path, typer.Argument(metavar="OUT", help="Practice workbook, .xlsx.")],
    problems: Annotated[int, typer.Option(help="Number of problems, 1 to 60.")] = 12,
    seed: Annotated[int, typer.Option(help="The same seed makes the same workbooks.")] = 1,
    learners: Annotated[int, typer.Option(help="Learners, 1 to 200; each gets other figures.")] = 1,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Replace workbooks that are there already.")
    ] = False,
) -> None:
    """Make practice workbooks for learners, and the key for the trainer.

    OUT.xlsx for one learner, OUT-01.xlsx and so on for more, and OUT-key.xlsx.
    """
    from .practice import build
    from .practice.sets import MOST_LEARNERS, MOST_PROBLEMS, build_sets

    if output.suffix.lower() != ".xlsx":
        raise _refuse(f"{output} must end in .xlsx")
    for name, number, most in (
        ("--problems", problems, MOST_PROBLEMS),
        ("--learners", learners, MOST_LEARNERS),
    ):
        if not 1 <= number <= most:
            raise _refuse(f"{name} must be from 1 to {most}")
    paths, key = build.practice_paths(output, learners)
    there = [path for path in (*paths, key) if path.exists()]
    if there and not overwrite:
        raise _refuse(f"{there[0]} is there already; --overwrite replaces it")
    sets = build_sets(problems, seed, learners)
    try:
        with _progress() as progress:
            for problem_set, path in zip(sets, paths, strict=True):
                progress(path.name, problem_set.learner / (learners + 1))
                build.write_practice(problem_set, path)
            build.write_key(sets, seed, key)
    except OSError as error:
        raise _refuse(f"{error.filename} can't be written: {error.strerror}") from None
    last = f" to {paths[-1]}" if learners > 1 else ""
    out.print(f"For the learners: {paths[0]}{last}", markup=False)
    out.print(f"For the trainer:  {key}", markup=False)
    out.print(CAUTION)


@app.command()
def mark(
    key: Annotated[Path, typer.Argument(help="Key workbook that xlfuncs practice wrote.")],
    returned: Annotated[
        list[Path], typer.Argument(help="Returned workbooks, or folders that hold them.")
    ],
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="Results workbook; default: KEY-results.xlsx."),
    ] = None,
) -> None:
    """Mark practice workbooks that came back.

    Exit status: 0 all marked, 1 some files listed as not marked, 2 refused: no key, or nothing
    to mark.
    """
    from .practice import results
    from .practice.mark import collected, mark_files
    from .practice.returned import Unreadable, read_key

    target = output or key.with_name(f"{key.stem}-results.xlsx")
    if target.suffix.lower() != ".xlsx":
        raise _refuse(f"{target} must end in .xlsx")
    if not results.may_be_written(target):
        raise _refuse(f"{target} is there already and holds no results: choose another --output")
    files = collected(returned, leave={key.resolve(), target.resolve()})
    try:
        marked, listed = mark_files(read_key(key), files)
    except Unreadable as reason:
        raise _refuse(f"{key} is no key: {reason}") from None
    if marked:
        try:
            results.write_results(marked, listed, target)
        except OSError as error:
            raise _refuse(f"{target} can't be written: {error.strerror}") from None
        _print_scores(marked)
    if listed:
        out.print("Not marked:")
    for one in listed:
        out.print(f"  {one.path}: {one.reason}", markup=False)
    if not marked:
        raise _refuse("nothing was marked")
    out.print(f"Written: {target}", markup=False)
    raise typer.Exit(WITH_MESSAGES if listed else DONE)


def _print_scores(marked: list[Marked]) -> None:
    from rich.text import Text

    from .practice.mark import RIGHT
    from .practice.results import percent_right

    table = Table(box=None, pad_edge=False)
    for heading in ("Learner", "Set", "Right", "Score", "Not right"):
        table.add_column(heading, justify="right" if heading == "Score" else "left")
    for one in marked:
        missed = [str(o.entry.number) for o in one.outcomes if o.verdict != RIGHT]
        table.add_row(
            Text(one.name),
            one.returned.code,
            f"{one.count(RIGHT)} of {len(one.outcomes)}",
            f"{percent_right(one):.0f} %",
            ", ".join(missed),
        )
    Console(highlight=False, width=None if sys.stdout.isatty() else 120).print(table)


setup_app = typer.Typer(
    help="Put the functions into a spreadsheet program, or take them out.", no_args_is_help=True
)
app.add_typer(setup_app, name="setup")


@setup_app.command("excel")
def setup_excel(
    check: Annotated[bool, typer.Option("--check", help="Report only, change nothing.")] = False,
    remove: Annotated[bool, typer.Option("--remove", help="Undo the set-up.")] = False,
) -> None:
    """Offer the functions in Excel on Windows; elsewhere say what would be done."""
    from . import setup_excel as excel

    try:
        if check:
            for finding in excel.check():
                out.print(str(finding), markup=False)
            return
        out.print(str(excel.remove() if remove else excel.install()), markup=False)
    except excel.Refusal as refusal:
        raise _refuse(refusal) from None


@setup_app.command("calc")
def setup_calc(
    profile: Annotated[
        Path | None,
        typer.Option("--profile", help="LibreOffice user profile; default: your own."),
    ] = None,
    remove: Annotated[bool, typer.Option("--remove", help="Undo the set-up.")] = False,
) -> None:
    """Offer the functions in LibreOffice Calc."""
    from . import setup_calc as calc

    try:
        out.print(calc.remove(profile) if remove else calc.install(profile), markup=False)
    except calc.Refusal as refusal:
        raise _refuse(refusal) from None


def main() -> None:
    """Run the command."""
    app()
