"""The marking: each answer against the key, with what went wrong in words."""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from pathlib import Path

from ..cells import ERRORS, PREFIX
from ..designations import SIZES, text_of, trade_size_number
from ..errors import InputError
from ..steps import plain_text
from ..units import UnreadableError, quantity
from .problems import KVA, LADDERS, NUMBER, RATING, SIZE, TAP, TRADE_SIZE
from .returned import Entry, Given, Key, Returned, Unreadable, read_returned

RIGHT, WRONG, BLANK, UNREAD = "right", "wrong", "not answered", "not read"
# No answer of an installation comes near; longer numbers are typing errors or worse.
BEYOND = 1e12
VERDICTS = (RIGHT, WRONG, BLANK, UNREAD)

_STEP = {
    RATING: "standard rating",
    KVA: "preferred rating",
    SIZE: "size",
    TRADE_SIZE: "trade size",
    TAP: "tap",
}
_SIDES = {TAP: ("too high", "too low")}
_KIND_OF_UNIT = {
    SIZE: "a conductor size in AWG or kcmil is asked",
    TRADE_SIZE: "a trade size in inches is asked",
}
_WITH_UNIT = re.compile(r"(?:#|no\.? ?)?([0-9][0-9/ .-]*?) ?([a-z%°²]+[0-9]?)", re.I)


@dataclass(frozen=True)
class Outcome:
    """What became of one answer."""

    entry: Entry
    given: str
    verdict: str
    remark: str = ""


@dataclass(frozen=True)
class Marked:
    """A workbook that was marked."""

    returned: Returned
    learner: int
    outcomes: tuple[Outcome, ...]

    def count(self, verdict: str) -> int:
        """Answers with this verdict."""
        return sum(outcome.verdict == verdict for outcome in self.outcomes)

    @property
    def name(self) -> str:
        """The learner's name, or the number of the workbook where there is none."""
        return self.returned.name or f"(no name, workbook {self.learner:02d})"


@dataclass(frozen=True)
class Listed:
    """A file that was not marked, and why."""

    path: Path
    reason: str


def mark_files(key: Key, paths: list[Path]) -> tuple[list[Marked], list[Listed]]:
    """Mark the returned workbooks; the first of a set counts."""
    marked: dict[str, Marked] = {}
    listed: list[Listed] = []
    for path in paths:
        try:
            returned = read_returned(path)
            if returned.code not in key:
                raise Unreadable(f"set {returned.code} is not in this key")
            first = marked.get(returned.code)
            if first is not None:
                raise Unreadable(
                    f"set {returned.code} was marked already, from {first.returned.path.name}"
                )
        except Unreadable as reason:
            listed.append(Listed(path, str(reason)))
        else:
            entries = key[returned.code]
            outcomes = tuple(
                judge(entry, returned.answers.get(number))
                for number, entry in sorted(entries.items())
            )
            learner = next(iter(entries.values())).learner
            marked[returned.code] = Marked(returned, learner, outcomes)
    return list(marked.values()), listed


def judge(entry: Entry, given: Given | None) -> Outcome:
    """Mark one answer."""
    if given is None:
        return Outcome(entry, "", UNREAD, "the problem is no longer in the workbook")
    shown = _shown(given)
    refused = _not_an_answer(given)
    if refused is not None:
        return Outcome(entry, shown, *refused)
    try:
        value = _read(entry, given)
    except _WrongUnit as wrong:
        return Outcome(entry, shown, WRONG, str(wrong))
    except Unreadable as reason:
        return Outcome(entry, shown, UNREAD, str(reason))
    if _same(entry, value, entry.answer):
        return Outcome(entry, shown, RIGHT)
    return Outcome(entry, shown, WRONG, _what_went_wrong(entry, value))


class _WrongUnit(Exception):  # noqa: N818  (an answer in a unit of another kind)
    """The unit of the answer is not the one that is asked."""


def _shown(given: Given) -> str:
    value = given.value
    if isinstance(value, (datetime.datetime, datetime.date)):
        return value.strftime("%Y-%m-%d")
    if isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < BEYOND:
        return f"{plain_text(100 * value)}%" if given.is_percent else plain_text(value)
    return " ".join(text_of(value).split())[:80]


def _not_an_answer(given: Given) -> tuple[str, str] | None:
    """Verdict and remark on a cell without an answer in it."""
    value = given.value
    if given.is_formula:
        return UNREAD, "a formula without a stored result: open and save it in a spreadsheet"
    if value is None or (isinstance(value, str) and not value.strip()):
        return BLANK, ""
    if isinstance(value, bool):
        return UNREAD, "the cell holds TRUE or FALSE"
    if isinstance(value, (int, float)) and not abs(value) < BEYOND:
        return UNREAD, "the number is beyond anything asked"
    if isinstance(value, (datetime.date, datetime.time, datetime.timedelta)):
        return UNREAD, "the spreadsheet made a date of it: ask the learner what was typed"
    if isinstance(value, str) and value.strip() in ERRORS:
        return UNREAD, f"the cell holds the error {value.strip()}"
    if isinstance(value, str) and value.startswith(PREFIX):
        return UNREAD, "the cell holds a message, not an answer"
    return None


def _read(entry: Entry, given: Given) -> float:
    """Return the answer as a number: in the unit of the key, or its place among the sizes."""
    value = given.value
    if entry.form == SIZE:
        return _size(text_of(value))
    if entry.form == TRADE_SIZE:
        return _trade_size(text_of(value))
    if isinstance(value, str):
        text = value.strip().replace("−", "-")  # the minus sign of typesetting
        try:
            number = quantity(text, entry.unit)
        except UnreadableError as error:
            if str(error).startswith("is in "):
                raise _WrongUnit(f"wrong unit: the answer {error}") from None
            raise Unreadable(f"the text {error}") from None
        if not abs(number) < BEYOND:
            raise Unreadable("the number is beyond anything asked")
        return number
    number = float(value)
    return 100 * number if given.is_percent and entry.unit == "%" else number


def _size(text: str) -> float:
    written = re.sub(r"^awg ?", "", text.strip(), flags=re.I)
    place = SIZES.read(written)
    if place >= 0:
        return place
    _refuse_unit(written, SIZE)
    raise Unreadable("the text is no conductor size")


def _trade_size(text: str) -> float:
    try:
        return float(trade_size_number("answer", text))
    except InputError as error:
        _refuse_unit(text, TRADE_SIZE)
        raise Unreadable(error.message) from None


def _refuse_unit(text: str, form: str) -> None:
    """Name the unit of a text that is a number with another unit than a size has."""
    written = _WITH_UNIT.fullmatch(text.strip())
    if written:
        raise _WrongUnit(f"wrong unit: the answer is in {written[2]}, {_KIND_OF_UNIT[form]}")


def _place(form: str, answer: float | str) -> float:
    """Return an answer of the key, or a slip, in the form that `_read` gives."""
    if form == SIZE:
        return SIZES.read(str(answer))
    if form == TRADE_SIZE:
        return float(trade_size_number("answer", answer))
    return float(answer)


def _same(entry: Entry, value: float, answer: float | str) -> bool:
    # A hair more than the tolerance, so that its own end, as printed in the key, still counts.
    return abs(value - _place(entry.form, answer)) <= entry.tolerance * (1 + 1e-9) + 1e-9


def _what_went_wrong(entry: Entry, value: float) -> str:
    """Say how far off an answer is, which slip leads there, and whether it is unsafe."""
    right = _place(entry.form, entry.answer)
    large = value > right
    if value * right < 0:
        also = "" if _same(entry, -value, entry.answer) else ", and the figure too"
        return f"the sign is wrong{also}"
    remarks = [_distance(entry, value, right)]
    slip = next((text for answer, text in entry.slips if _same(entry, value, answer)), None)
    remarks += [slip] if slip else _factor(value, right) if entry.form == NUMBER else []
    if entry.unsafe == ("large" if large else "small"):
        remarks.append("on the unsafe side")
    return "; ".join(remarks)


def _distance(entry: Entry, value: float, right: float) -> str:
    side = _SIDES.get(entry.form, ("too large", "too small"))[value < right]
    if entry.form == NUMBER:
        percent = abs(100 * (value - right) / right)
        return f"{side} by {plain_text(float(f'{percent:.2g}'))} %" if percent < 1000 else side
    ladder = LADDERS[entry.form]
    places = [_place(entry.form, step) for step in ladder]
    if not any(abs(value - place) < 1e-6 for place in places):
        return f"no {_STEP[entry.form]}, and {side}"
    low, high = sorted((value, right))
    steps = sum(low + 1e-6 < place <= high + 1e-6 for place in places)
    how_many = "one" if steps == 1 else str(steps)
    plural = "" if steps == 1 else "s"
    return f"{how_many} {_STEP[entry.form]}{plural} {side}"


def _factor(value: float, right: float) -> list[str]:
    """Name a factor that a misplaced prefix or percent sign makes."""
    if value == 0 or right == 0:
        return []
    ratio = value / right
    for factor in (1000, 100, 10):
        if abs(ratio / factor - 1) < 0.02:
            return [f"{factor} times the answer"]
        if abs(ratio * factor - 1) < 0.02:
            return [f"a {factor}th of the answer"]
    return []


def answer_text(entry: Entry) -> str:
    """Write the answer of the key with its unit."""
    if isinstance(entry.answer, str):
        return entry.answer
    return f"{plain_text(entry.answer)} {entry.unit}"


def collected(paths: list[Path], *, leave: set[Path]) -> list[Path]:
    """Return the files to mark: folders opened, the key and the results themselves left out."""
    files: list[Path] = []
    for path in paths:
        inside = sorted(path.glob("*.xlsx")) if path.is_dir() else [path]
        files += [file for file in inside if not file.name.startswith("~$")]
    return [file for file in files if file.resolve() not in leave]
