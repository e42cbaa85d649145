"""Sets of problems: the same kinds for the whole class, other figures for each learner."""

from __future__ import annotations

import hashlib
from collections import Counter
from dataclasses import dataclass
from itertools import cycle

from . import chains, single  # enter their kinds
from .problems import KINDS, Kind, Problem, Unusable
from .scenarios import SITES, TOWNS, Lots

__all__ = ["ProblemSet", "build_sets", "chains", "choose_kinds", "pose", "single"]

MOST_PROBLEMS, MOST_LEARNERS = 60, 200
PARTS = (1, 2, 3)
DRAWS = 2000
# After so many draws a question that another learner has too is taken as it is.
DRAWS_FOR_ANOTHER = 40
# Letters and figures that can't be taken for one another when written by hand.
CODE_LETTERS = "ACDEFHJKLMNPRTUVWXY34679"
CODE_LENGTH = 6


@dataclass(frozen=True)
class ProblemSet:
    """One learner's problems, in order."""

    code: str
    learner: int
    town: str
    kinds: tuple[Kind, ...]
    problems: tuple[Problem, ...]


def build_sets(count: int, seed: int, learners: int) -> list[ProblemSet]:
    """Return a set of `count` problems for each learner, the same ones for the same seed."""
    kinds = choose_kinds(count, seed)
    town = Lots("town", seed).one_of("town", TOWNS)
    asked: set[tuple[str, str]] = set()
    sets: list[ProblemSet] = []
    for learner in range(1, learners + 1):
        drawn = []
        for number, kind in enumerate(kinds, 1):
            lots = Lots("problem", seed, learner, number)
            drawn.append(_another(kind, lots, asked))
        sets.append(ProblemSet(_code(drawn), learner, town, kinds, tuple(drawn)))
    return sets


def choose_kinds(count: int, seed: int) -> tuple[Kind, ...]:
    """Choose the kinds: the parts alike in number, rising, subjects mixed, no early repeats."""
    chosen: list[Kind] = []
    for part, size in zip(PARTS, _sizes(count), strict=True):
        order = Lots("kinds", seed, part).shuffled(k for k in KINDS.values() if k.part == part)
        subjects: Counter[str] = Counter(kind.subject for kind in chosen)
        mixed: list[Kind] = []
        while order:
            kind = min(order, key=lambda k: subjects[k.subject])
            order.remove(kind)
            subjects[kind.subject] += 1
            mixed.append(kind)
        chosen += [kind for kind, _ in zip(cycle(mixed), range(size), strict=False)]
    return tuple(chosen)


def _sizes(count: int) -> tuple[int, int, int]:
    """Problems in each part; what does not divide goes to the easier ones."""
    return (count + 2) // 3, (count + 1) // 3, count // 3


def pose(kind: Kind, lots: Lots) -> Problem:
    """Draw figures until they make a problem."""
    for _ in range(DRAWS):
        site = lots.one_of("site", SITES)
        try:
            return kind.pose(lots, site)
        except Unusable:
            continue
    raise RuntimeError(f"no figures found for {kind.name}")


def _another(kind: Kind, lots: Lots, asked: set[tuple[str, str]]) -> Problem:
    """Draw a problem that no learner has been asked yet, as far as there are enough."""
    for _ in range(DRAWS_FOR_ANOTHER):
        problem = pose(kind, lots)
        if (problem.scenario, problem.question) not in asked:
            break
    asked.add((problem.scenario, problem.question))
    return problem


def _code(drawn: list[Problem]) -> str:
    """Name a set by what it asks, so that a workbook of other problems has another code."""
    text = "\n".join(f"{problem.scenario}\n{problem.question}" for problem in drawn)
    number = int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big")
    letters = []
    for _ in range(CODE_LENGTH):
        number, letter = divmod(number, len(CODE_LETTERS))
        letters.append(CODE_LETTERS[letter])
    return "".join(letters)
