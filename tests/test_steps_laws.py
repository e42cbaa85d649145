"""The steps of a calculation are its own: their arithmetic is right and ends in the answer.

A line of working is read as a person would read it and worked out anew, with the numbers that it
shows. The cells are those of the published checks.
"""

import math
import re

import pytest

import xlfuncs
from xlfuncs.registry import FUNCTIONS

from .test_published import CHECKS, cell

CALLS = sorted(
    {
        (row["function"], row["arguments"])
        for _, row in CHECKS
        if FUNCTIONS[row["function"]].result != "table" and row["function"] != "XF_SOURCE"
    }
)
# Lines of a kind that may stand more than once in one calculation.
REPEATED = {"Conductor area"}
# What stands in a line beside its arithmetic: units, and the name of what is counted.
WORDS = re.compile(
    r"ohm per 1000 ft|thousand ft|in2|kVA|kcmil|\b(?:sets:|V|A|W|ft|ohm)(?![\w])|"
    r"\([^()]*(?:AWG|kcmil)[^()]*\)$|[,;=].*$"
)
SIGNS = {"√3": "math.sqrt(3)", "√(": "math.sqrt(", "²": "**2", "×": "*"}


def worked_out(working):
    """Value of a line of arithmetic, None where the line is in words."""
    text = re.sub(r"\([^()]*(?:AWG|kcmil) [^()]*\)$|\([^()]*(?:AWG|kcmil)\)$", "", working)
    text = re.sub(r"(\S+) ?% (?:×|of) ", r"\1 / 100 × ", text)
    text = WORDS.sub("", text).replace("%", "")
    for sign, code in SIGNS.items():
        text = text.replace(sign, code)
    if not re.search(r"[-+*/]", text) or re.search(r"[^-+*/(). \d]", text.replace("math.sqrt", "")):
        return None
    return eval(text)


def tells(steps, answer):
    """Whether the answer can be read from the steps."""
    if steps[0][0] == "Range A":  # judged one range after the other
        letters = [step[-1] for step, _, value, _, _ in steps if value == "within"]
        return answer == (letters[0] if letters else "outside")
    return any(
        value == answer or (step == "Secondary voltage on the tap" and f"{answer:g} /" in working)
        for step, working, value, _, _ in steps
    )


@pytest.mark.parametrize(
    ("working", "value"),
    [
        ("1000 × 75 kVA / (√3 × 480 V)", 90.21098),
        ("125% × 90.2 A", 112.75),
        ("3 % of 480 V", 14.4),
        ("0.1 thousand ft × √(0.03² + 0.04²) ohm per 1000 ft", 0.005),
        ("2 × 211.6 kcmil (4/0 AWG copper)", 423.2),
        ("100 × 208.18 A / (5% + 1%)", 3469.67),
        ("468 V / (1 + -2.5 / 100), nearest to 480 V", 480.0),
        ("3/0 AWG copper in the 75 degC column", None),
        ("next standard breaker rating at or above 112.76 A", None),
    ],
)
def test_a_line_is_read_as_a_person_reads_it(working, value):
    assert worked_out(working) == (None if value is None else pytest.approx(value, rel=1e-6))


@pytest.mark.parametrize(("name", "arguments"), CALLS)
def test_the_steps_are_right_and_end_in_the_answer(name, arguments):
    cells = [cell(argument) for argument in arguments.split(";")]
    answer = xlfuncs.call(name, *cells)
    *steps, last = xlfuncs.call("XF_STEPS", name, *cells)
    if str(answer).startswith("Check: "):
        assert not steps
        assert last == [answer, "", "", "", ""]
        return
    assert last[:3] == ["Answer", name, answer]
    for step, working, value, _, _ in steps:
        told = worked_out(working)
        if told is not None:
            # Each number is shown to five digits; a difference of two of them has fewer.
            assert value == pytest.approx(told, rel=2e-3, abs=1e-6), (step, working)
        assert not isinstance(value, float) or math.isfinite(value), step
    assert tells(steps, answer)
    named = [step for step, *_ in steps if step not in REPEATED]
    assert len(named) == len(set(named))
