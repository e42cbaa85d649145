"""The working of a calculation, recorded by the calculation itself.

A function calls `note` where a person would write a line. Nothing is recorded unless `recording`
is on, and a line never changes a result.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np


@dataclass(frozen=True)
class Step:
    """One line of working."""

    step: str
    working: str
    value: float | str | bool
    unit: str
    rule: str


_lines: list[Step] | None = None


@contextmanager
def recording() -> Iterator[list[Step]]:
    """Collect the steps of the single calculation made inside the block."""
    global _lines
    outer, _lines = _lines, []
    try:
        yield _lines
    finally:
        _lines = outer


@contextmanager
def silent() -> Iterator[None]:
    """Keep the steps of a trial calculation, such as a candidate, out of the record."""
    global _lines
    outer, _lines = _lines, None
    try:
        yield
    finally:
        _lines = outer


def is_recording() -> bool:
    """Whether a calculation is being recorded, so that it must run and not be remembered."""
    return _lines is not None


def note(
    step: str,
    working: str,
    value: Any,
    unit: str = "",
    rule: str = "",
    *,
    where: Any = True,
    **numbers: Any,
) -> None:
    """Record a line of working.

    Parameters
    ----------
    step : str
        What the line finds, such as ``Full-load current``.
    working : str
        The formula with its numbers as format fields: ``"1000 x {kva} / {volts}"``.
    value : scalar
        The result of the line.
    unit, rule : str
        Unit of the result and the rule that it rests on.
    where : bool
        Record only where true: the branch that this calculation took.
    **numbers : scalar
        The numbers put into `working`.
    """
    if _lines is None or not np.all(where):
        return
    shown = {name: plain_text(number) for name, number in numbers.items()}
    _lines.append(Step(step, working.format(**shown), plain_value(value), unit, rule))


def plain_value(value: Any) -> float | str | bool:
    """Return a numpy scalar, or an array of one element, as a plain value."""
    plain: float | str | bool = np.asarray(value).reshape(-1)[0].item()
    return plain


def plain_text(value: Any) -> str:
    """Write a number as a person would: up to five significant digits, no exponent."""
    plain = plain_value(value)
    if isinstance(plain, bool) or not isinstance(plain, (int, float)):
        return str(plain)
    if plain == round(plain) and abs(plain) < 1e15:
        return str(round(plain))
    digits = max(0, 4 - int(np.floor(np.log10(abs(plain)))))
    return f"{plain:.{digits}f}".rstrip("0").rstrip(".") if digits else str(round(plain))
