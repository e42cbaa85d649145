"""Answers worksheet functions for whole columns, before the engine computes anything.

An array of ten thousand rows is answered in the time of a hundred single calls, and a cell whose
formula is such a call goes to the engine as a constant. Only calls whose arguments are plain cells
and constants are found beforehand; the engine makes all others.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from .dependents import Indexes
from .engine import FEWEST, Callbacks, Engine
from .formula import Call, Literal, Node, Reference, Unary
from .translate import unwrapped, walk

# Results by sheet and number of the formula cell there.
Answers = dict[str, dict[int, Any]]


@dataclass(frozen=True)
class Copies:
    """Cells of one column that are going to be computed with copies of one formula.

    `indexes` are their numbers among the formula cells of the sheet.
    """

    tree: Node
    sheet: str
    column: int
    rows: Indexes
    indexes: Indexes

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
    if not isinstance(node, Literal):
        return False
    # The file format may write a character of a text as _x0041_; the engine knows.
    return node.kind in ("number", "boolean") or (node.kind == "text" and "_x" not in node.text)


@dataclass(frozen=True)
class Ahead:
    """What is known before the engine computes.

    Attributes
    ----------
    computed : mapping of (sheet, column) to rows
        Every cell that is going to be computed.
    filled : collection of str
        Sheets on which array formulas are going to fill cells, nobody knows which.
    constants : callable
        Gives an engine with the constants of sheets.
    callbacks : Callbacks
        The worksheet functions.
    """

    computed: Mapping[tuple[str, int], Indexes]
    filled: Collection[str]
    constants: Callable[[Collection[str]], Engine]
    callbacks: Callbacks

    def answers(self, every: Iterable[Copies]) -> Answers:
        """Answer calls; give the results of cells that are nothing but such a call.

        Other answers are kept for when the engine makes the call.
        """
        waiting = [
            (copies, call)
            for copies in every
            if len(self.computed[copies.sheet, copies.column]) >= FEWEST
            for call in copies.calls()
            if call.name in self.callbacks.over_columns
        ]
        results: Answers = defaultdict(dict)
        if not waiting:
            return results
        read = {cell.sheet for _, call in waiting for cell in _cells_read(call)}
        known = _Known(self.computed, self.constants(read))
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
                answers = self.callbacks.answer_columns(call.name, columns)
                sure = not any(cell.sheet in self.filled for cell in _cells_read(call))
                if sure and copies.is_only(call):
                    known.add(copies, answers)
                    # TRUE and 1.0 are one element of a set, and both are constants.
                    constants = set(filter(_is_constant, set(answers)))
                    results[copies.sheet] |= {
                        index: answer
                        for index, answer in zip(copies.indexes.tolist(), answers, strict=True)
                        if answer in constants
                    }
            waiting = still
        return results


def _cells_read(call: Call) -> Iterator[Reference]:
    return (argument for argument in call.arguments if isinstance(argument, Reference))


def _is_constant(answer: Any) -> bool:
    """Whether a constant with this value is to every reader what a formula with it is.

    An empty text would be a blank cell, an error is for the engine to make, and blanks at the ends
    of a text or letters that XML has no room for may not come through.
    """
    if type(answer) is str:
        return answer != "" and answer.isprintable() and answer == answer.strip()
    return type(answer) in (float, bool)


class _Known:
    """Values of cells before the engine computes: constants, and what was answered ahead."""

    def __init__(self, computed: Mapping[tuple[str, int], Indexes], constants: Engine) -> None:
        self.computed = computed
        self.constants = constants
        # Several calls read the same columns.
        self.read: dict[tuple[str, int, bytes], list[Any]] = {}
        self.answered: dict[tuple[str, int], dict[int, Any]] = defaultdict(dict)

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
                self.read[key] = self.constants.values(node.sheet, node.left, at)
            values = self.read[key]
        return values if len(values) == len(rows) else values * len(rows)


def _constant(node: Literal) -> float | str | bool:
    if node.kind == "number":
        return float(node.text)
    if node.kind == "boolean":
        return node.text == "TRUE"
    return node.text[1:-1].replace('""', '"')
