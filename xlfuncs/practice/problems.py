"""What a problem is: the question, the answer of our functions and how it was found.

Each kind of problem is a function that draws its figures and returns a `Problem`. Figures that
give no answer, or an answer that hangs on rounding, raise `Unusable` and are drawn again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from .. import functions, tables
from ..cells import PREFIX, answer_with_steps, call
from ..designations import SIZES, TRADE_SIZES
from ..steps import Step, plain_text
from .scenarios import Draw, Site

NUMBER, RATING, KVA, SIZE, TRADE_SIZE, TAP = "number", "rating", "kVA", "size", "trade size", "tap"


def _ladder(table: str, column: str, mark: str, **only: str) -> tuple[float, ...]:
    printed = tables.read(table)
    return tuple(
        float(value)
        for row, value in enumerate(printed.printed[column])
        if printed.printed[mark][row] == "1"
        and all(printed.printed[name][row] == text for name, text in only.items())
    )


# What an answer of a form can be, in rising order, so that a neighbor can be named.
LADDERS: dict[str, tuple[float | str, ...]] = {
    RATING: _ladder("standard_ratings", "rating_a", "std_breaker_2023"),
    KVA: _ladder("preferred_kva", "kva", "nema_st20_common_lv", phases="3"),
    SIZE: tuple(SIZES.names.tolist()),
    TRADE_SIZE: tuple(f"{size} in" for size in TRADE_SIZES),
    TAP: (-10.0, -7.5, -5.0, -2.5, 0.0, 2.5, 5.0),
}


class Unusable(Exception):  # noqa: N818  (asks for other figures, is no error)
    """These figures make no problem with one clear answer."""


@dataclass(frozen=True)
class Problem:
    """What a learner is asked and what the trainer needs to mark it.

    Attributes
    ----------
    unsafe : {'small', 'large', ''}
        The direction of a wrong answer that would hurt most in the field.
    slips : tuple of (answer, text)
        Answers that a known slip leads to.
    """

    scenario: str
    question: str
    unit: str
    form: str
    answer: float | str
    tolerance: float
    unsafe: str
    slips: tuple[tuple[float | str, str], ...]
    steps: tuple[Step, ...]


Pose = Callable[[Draw, Site], Problem]


@dataclass(frozen=True)
class Kind:
    """A kind of problem.

    Attributes
    ----------
    part : int
        Calculations in the problem: 1, 2 for rules with several figures, 3 for chains.
    needs : tuple of str
        Tables and sections that the learner looks up.
    """

    name: str
    subject: str
    part: int
    needs: tuple[str, ...]
    pose: Pose


KINDS: dict[str, Kind] = {}


def kind(name: str, subject: str, part: int, *needs: str) -> Callable[[Pose], Pose]:
    """Enter a kind of problem in `KINDS`."""

    def enter(pose: Pose) -> Pose:
        KINDS[name] = Kind(name, subject, part, needs, pose)
        return pose

    return enter


class Working:
    """Asks our functions and keeps the steps that they record."""

    def __init__(self) -> None:
        self.steps: list[Step] = []

    def ask(self, name: str, *cells: Any) -> Any:
        answer, lines = answer_with_steps(functions.FUNCTIONS[name], cells)
        _refuse_message(answer)
        self.steps += lines
        return answer


def ask(name: str, *cells: Any) -> Any:
    """Answer without keeping the steps: for slips and for checks of the figures."""
    answer = call(name, *cells)
    _refuse_message(answer)
    return answer


def _refuse_message(answer: Any) -> None:
    if isinstance(answer, str) and answer.startswith(PREFIX):
        raise Unusable(answer)


# Where an answer is one of a list of figures, only the noise of a formula is forgiven.
EXACT = 0.01
# Rounding that is usual in the unit, however small the answer.
USUAL_ROUNDING = {"A": 0.5, "V": 0.05, "kVA": 0.05, "ft": 0.5, "%": 0.05}


def problem(
    working: Working,
    answer: float | str,
    scenario: str,
    question: str,
    unit: str,
    form: str = NUMBER,
    tolerance: float = 0.0,
    unsafe: str = "",
    slips: tuple[tuple[float | str, str], ...] = (),
) -> Problem:
    """Put a problem together; slips that lead to the right answer after all are dropped."""
    if isinstance(answer, float):
        answer = float(plain_text(answer))
        tolerance = tolerance or (rounding(answer, unit) if form == NUMBER else EXACT)
    told: dict[float | str, str] = {}
    for slip, text in slips:
        if _differs(slip, answer, tolerance):
            told.setdefault(slip, text)
    return Problem(
        scenario,
        question,
        unit,
        form,
        answer,
        tolerance,
        unsafe,
        tuple(told.items()),
        tuple(working.steps),
    )


def rounding(answer: float, unit: str) -> float:
    """Tolerance of a calculated number: 1 %, which forgives rounded figures on the way."""
    return float(f"{max(0.01 * abs(answer), USUAL_ROUNDING[unit]):.2g}")


def _differs(slip: float | str, answer: float | str, tolerance: float) -> bool:
    if isinstance(slip, str) or isinstance(answer, str):
        return slip != answer
    return abs(slip - answer) > 2 * tolerance


def steady(answer_for: Callable[[float], Any], value: float) -> Any:
    """Answer for a value found on the way; unusable if rounding the value changes the answer."""
    answers = {answer_for(v) for v in (value, round(value, 1), round(value), value * 1.003)}
    if len(answers) > 1:
        raise Unusable("the answer hangs on the rounding of a figure on the way")
    return answers.pop()


TRANSFORMERS = (15.0, 30.0, 45.0, 75.0, 112.5, 150.0, 225.0, 300.0)
THREE_PHASE_VOLTS = (208.0, 240.0, 480.0, 600.0)
BREAKERS = (15.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0, 125.0, 150.0, 175.0,
            200.0, 225.0, 250.0, 300.0, 400.0)  # fmt: skip
FEEDER_SIZES = ("8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0", "250", "350", "500")
LARGE_SIZES = ("2", "1", "1/0", "2/0", "3/0", "4/0", "250", "300", "350", "400", "500", "600")
METALS = ("copper", "copper", "aluminum")
PREFERRED = "the preferred transformer ratings (NEMA ST 20)"
CONDITIONS = (
    "terminals marked 75 °C, an ambient of 30 °C, three current-carrying conductors in the raceway"
)
SYSTEMS = (
    ("480Y/277", 480.0, "480Y/277 V, three-phase, four-wire, the neutral grounded"),
    ("208Y/120", 208.0, "208Y/120 V, three-phase, four-wire, the neutral grounded"),
    ("600Y/347", 600.0, "600Y/347 V, three-phase, four-wire, the neutral grounded"),
    ("120/240", 240.0, "120/240 V, single-phase, three-wire, the middle wire grounded"),
    (
        "240/120 delta",
        240.0,
        "240/120 V, three-phase, four-wire delta, the middle of one phase grounded",
    ),
    ("480 delta", 480.0, "480 V, three-phase, three-wire delta, ungrounded"),
    ("240 delta", 240.0, "240 V, three-phase, three-wire delta, ungrounded"),
)
FACING = {
    1: "a painted wooden partition with nothing live or grounded on it",
    2: "a bare concrete wall",
    3: "another panel whose live parts are exposed while it is worked on",
}


def named(size: str) -> str:
    """Write a size with its unit."""
    return str(SIZES.names[SIZES.read(size)])


def steps_of(low: float, high: float, step: float) -> list[float]:
    """Return the figures from low to high in steps."""
    return [round(low + step * number, 6) for number in range(round((high - low) / step) + 1)]
