"""Every kind of problem against figures worked by hand, and laws that all problems keep."""

import csv
from collections import Counter
from pathlib import Path

import pytest

from xlfuncs.cells import PREFIX
from xlfuncs.designations import text_of
from xlfuncs.practice.mark import RIGHT, WRONG, judge
from xlfuncs.practice.problems import KINDS, LADDERS, NUMBER, SIZE, TRADE_SIZE
from xlfuncs.practice.returned import Entry, Given
from xlfuncs.practice.scenarios import SITES, Lots
from xlfuncs.practice.sets import build_sets, choose_kinds, pose

SEEDS = range(1, 51)


class Told:
    """Draws that a row of the table tells, each held to the choices of the kind."""

    def __init__(self, text):
        self.figures = dict(part.strip().split("=") for part in text.split(";"))
        self.used = set()

    def one_of(self, name, choices):
        wanted = self.figures[name]
        self.used.add(name)
        (found,) = {choice for choice in choices if wanted in self.names(choice)}
        return found

    @staticmethod
    def names(choice):
        if isinstance(choice, tuple):
            return {text_of(choice[0]), "+".join(map(text_of, choice))}
        return {str(choice), text_of(choice)}


def hand_worked():
    lines = (Path(__file__).parent / "hand_worked.csv").read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def entry_of(kind, problem, number=1):
    return Entry(
        "SETSET",
        1,
        number,
        kind.part,
        kind.name,
        problem.answer,
        problem.unit,
        problem.form,
        problem.tolerance,
        problem.unsafe,
        problem.slips,
    )


@pytest.mark.parametrize("row", hand_worked(), ids=lambda row: f"{row['kind']}: {row['given']}")
def test_the_answer_is_the_one_worked_by_hand(row):
    told = Told(row["given"])
    problem = KINDS[row["kind"]].pose(told, SITES[0])
    assert told.used == set(told.figures)
    if problem.form in (SIZE, TRADE_SIZE):
        assert problem.answer == row["answer"]
    else:
        # plain answers are kept to five digits
        allowed = float(row["tolerance"]) + abs(float(row["answer"])) * 1e-5
        assert problem.answer == pytest.approx(float(row["answer"]), abs=allowed, rel=0)


def test_every_kind_is_worked_by_hand():
    assert {row["kind"] for row in hand_worked()} == set(KINDS)
    assert all(row["known"] and row["worked"] for row in hand_worked())


def test_there_are_kinds_enough_of_every_part_and_subject():
    assert len(KINDS) >= 14
    assert min(Counter(kind.part for kind in KINDS.values()).values()) >= 8
    assert len({kind.subject for kind in KINDS.values()}) >= 8


# What the answer of an installation of this size can be.
SENSIBLE = {
    "A": (10, 40_000),
    "V": (0.5, 620),
    "kVA": (5, 350),
    "%": (-10, 12),
    "ft": (3, 2500),
}
SIZES_IN_USE = LADDERS[SIZE][LADDERS[SIZE].index("14 AWG") : LADDERS[SIZE].index("900 kcmil")]
TRADE_SIZES_IN_USE = [
    size for size in LADDERS[TRADE_SIZE] if size not in ("3/8 in", "5 in", "6 in")
]


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.name)
def test_laws_of_every_kind(kind):
    asked = set()
    for seed in SEEDS:
        problem = pose(kind, Lots("law", seed))
        asked.add((problem.scenario, problem.question))
        assert not str(problem.answer).startswith(PREFIX)
        assert problem.steps
        entry = entry_of(kind, problem)
        if problem.form == SIZE:
            assert problem.answer in SIZES_IN_USE
        elif problem.form == TRADE_SIZE:
            assert problem.answer in TRADE_SIZES_IN_USE
        else:
            low, high = SENSIBLE[problem.unit]
            assert low <= problem.answer <= high
        check_own_answer(entry)
        check_neighbors(entry)
        check_slips(entry)
    assert len(asked) > 40


def check_own_answer(entry):
    assert judge(entry, Given(entry.answer)).verdict == RIGHT
    if isinstance(entry.answer, float):
        assert judge(entry, Given(f"{entry.answer:.10g} {entry.unit}")).verdict == RIGHT
    if entry.form == NUMBER:
        assert judge(entry, Given(float(f"{entry.answer:.3g}"))).verdict == RIGHT


# Two percent and as much as people round away in the unit: more than that is no rounding.
NO_ROUNDING = {"A": 0.5, "V": 1.0, "kVA": 0.1, "ft": 0.5, "%": 0.1}


def check_neighbors(entry):
    if entry.form == NUMBER:
        off = 0.02 * abs(entry.answer) + NO_ROUNDING[entry.unit]
        assert judge(entry, Given(entry.answer + off)).verdict == WRONG
        assert judge(entry, Given(entry.answer - off)).verdict == WRONG
        for factor, side in ((1.5, "large"), (0.5, "small")):
            outcome = judge(entry, Given(entry.answer * factor))
            assert outcome.verdict == WRONG
            if entry.answer > 0 and not any("sign" in text for _, text in entry.slips):
                assert f"too {side} by 50 %" in outcome.remark
                assert ("unsafe" in outcome.remark) == (entry.unsafe == side)
        return
    ladder = LADDERS[entry.form]
    place = ladder.index(entry.answer)
    for step, sides in ((1, ("large", "high")), (-1, ("small", "low"))):
        if 0 <= place + step < len(ladder):
            outcome = judge(entry, Given(ladder[place + step]))
            assert outcome.verdict == WRONG
            if "sign" not in outcome.remark:
                assert outcome.remark.startswith("one ")
                assert any(f"too {side}" in outcome.remark for side in sides)
                assert ("unsafe" in outcome.remark) == (entry.unsafe in sides)


def check_slips(entry):
    for answer, text in entry.slips:
        outcome = judge(entry, Given(answer))
        assert outcome.verdict == WRONG, text
        if "sign" not in outcome.remark:
            assert any(told in outcome.remark for _, told in entry.slips)


def test_some_kinds_have_their_slips_named():
    kind = KINDS["Fault current"]
    problem = kind.pose(Told("kva=75; volts=208; impedance=4.5"), SITES[0])
    # 75000 / 208 / 0.045 by hand
    outcome = judge(entry_of(kind, problem), Given(8012.8))
    assert outcome.remark == "too large by 73 %; √3 was left out"


@pytest.mark.parametrize("count", [1, 2, 3, 12, 13, 60])
def test_difficulty_rises_and_subjects_are_mixed(count):
    for seed in SEEDS:
        kinds = choose_kinds(count, seed)
        assert len(kinds) == count
        parts = [kind.part for kind in kinds]
        assert parts == sorted(parts)
        if count == 12:
            assert Counter(parts) == {1: 4, 2: 4, 3: 4}
            assert len({kind.name for kind in kinds}) == 12
            assert len({kind.subject for kind in kinds}) >= 6


def test_learners_differ_in_every_problem_and_in_the_code():
    for seed in SEEDS:
        sets = build_sets(12, seed, 3)
        assert len({one.code for one in sets}) == 3
        assert len({one.kinds for one in sets}) == 1
        for problems in zip(*(one.problems for one in sets), strict=True):
            assert len({(p.scenario, p.question) for p in problems}) == 3


def test_the_same_seed_makes_the_same_sets_and_another_makes_others():
    assert build_sets(12, 7, 2) == build_sets(12, 7, 2)
    assert build_sets(12, 7, 2)[0] == build_sets(12, 7, 5)[0]
    assert build_sets(12, 7, 1)[0].code != build_sets(12, 8, 1)[0].code


def test_draws_follow_the_sequence_that_python_promises():
    # random.Random("a/1").random(), ten times each and cut off, as CPython 3.11 gives them
    lots = Lots("a", 1)
    drawn = [lots.one_of("", range(10)) for _ in range(12)]
    assert drawn == [3, 8, 7, 1, 5, 2, 9, 3, 4, 5, 0, 6]
