"""Answers worksheet functions for whole columns, before the engine calls them cell by cell.

An array of ten thousand rows is answered in the time of a hundred single calls. Only calls whose
arguments are plain cells and constants are found beforehand; the engine makes all others.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from .dependents import Indexes
from .engine import FEWEST, Callbacks, Engine
from .formula import Call, Literal, Node, Reference, Unary
from .translate import unwrapped, walk


@dataclass(frozen=True)
class Copies:
    """Cells of one column that are going to be computed with copies of one formula."""

    tree: Node
    sheet: str
    column: int
    rows: Indexes

    def calls(self) -> Iterator[Call]:
        """Calls in the formula whose arguments are plain cells and constants."""
        for node in walk(self.tree):
            if isinstance(node, Call) and node.arguments and all(map(_is_plain, node.arguments)):
                yield node

    def is_only(self, call: Call) -> bool:
        """Whether the formula is nothing but this call, behind the @ for one value."""
        tree = unwrapped(self.tree)
        if isinstance(tree, Unary) and tree.operator == "@":
            tree = unwrapped(tree.operand)
        return tree is call


def _is_plain(node: Node) -> bool:
    if isinstance(node, Reference):
        return node.single
    return isinstance(node, Literal) and node.kind in ("number", "text", "boolean")


def answer_ahead(every: Iterable[Copies], engine: Engine, callbacks: Callbacks) -> None:
    """Answer calls whose arguments are known before the engine computes anything.

    The answer of a call is known to the calls that read its cell.
    """
    every = list(every)
    known = _Known(every, engine)
    waiting = [
        (copies, call)
        for copies in every
        if known.count(copies) >= FEWEST
        for call in copies.calls()
        if call.name in callbacks.over_columns
    ]
    before = len(waiting) + 1
    while len(waiting) < before:
        before = len(waiting)
        still: list[tuple[Copies, Call]] = []
        for copies, call in waiting:
            arguments = [known.values(argument, copies.rows) for argument in call.arguments]
            columns = [values for values in arguments if values is not None]
            if len(columns) < len(arguments):
                still.append((copies, call))
                continue
            answers = callbacks.answer_columns(call.name, columns)
            if copies.is_only(call):
                known.add(copies, answers)
        waiting = still


class _Known:
    """Values of cells before the engine computes: constants, and what was answered ahead."""

    def __init__(self, every: Iterable[Copies], engine: Engine) -> None:
        self.engine = engine
        computed: dict[tuple[str, int], list[Indexes]] = defaultdict(list)
        for copies in every:
            computed[copies.sheet, copies.column].append(copies.rows)
        self.computed = {place: np.concatenate(rows) for place, rows in computed.items()}
        # Several calls read the same columns.
        self.read: dict[tuple[str, int, bytes], list[Any]] = {}
        self.answered: dict[tuple[str, int], dict[int, Any]] = defaultdict(dict)

    def count(self, copies: Copies) -> int:
        """How many cells of its column are going to be computed."""
        return len(self.computed[copies.sheet, copies.column])

    def add(self, copies: Copies, answers: list[Any]) -> None:
        rows = copies.rows.tolist()
        self.answered[copies.sheet, copies.column].update(zip(rows, answers, strict=True))

    def values(self, node: Node, rows: Indexes) -> list[Any] | None:
        """What an argument is in the copies of a formula in `rows`; None if not all are known."""
        if isinstance(node, Literal):
            return [_constant(node)] * len(rows)
        assert isinstance(node, Reference)
        place = node.sheet, node.left
        at = node.top + rows if node.top_relative else np.array([node.top])
        if np.isin(at, self.computed.get(place, ())).any():
            answered = self.answered[place]
            try:
                values = [answered[row] for row in at.tolist()]
            except KeyError:
                return None
        else:
            key = *place, at.tobytes()
            if key not in self.read:
                self.read[key] = self.engine.values(node.sheet, node.left, at)
            values = self.read[key]
        return values if len(values) == len(rows) else values * len(rows)


def _constant(node: Literal) -> float | str | bool:
    if node.kind == "number":
        return float(node.text)
    if node.kind == "boolean":
        return node.text == "TRUE"
    return node.text[1:-1].replace('""', '"')
