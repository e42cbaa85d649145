"""Which formula cells depend on which, found for whole columns of copies at a time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from .formula import Reference
from .translate import Template

Indexes = npt.NDArray[np.int64]
Marks = dict[str, npt.NDArray[np.bool_]]
Area = tuple[int, int, int, int]

# References over more columns than this are not entered under each of their columns.
NARROW = 64


@dataclass(frozen=True)
class Group:
    """The formula cells of one sheet that share a template, by row."""

    template: Template
    sheet: str
    indexes: Indexes
    rows: Indexes
    columns: Indexes


class Dependents:
    """The formula cells of a workbook by what they read."""

    def __init__(self, groups: Iterable[Group]) -> None:
        self.rows: dict[str, Indexes] = {}
        self.columns: dict[str, Indexes] = {}
        # Cells into which the result of an array formula spreads, by sheet and formula cell.
        self.areas: dict[tuple[str, int], Area] = {}
        self.narrow: dict[tuple[str, int], list[tuple[Group, Reference]]] = defaultdict(list)
        self.wide: dict[str, list[tuple[Group, Reference]]] = defaultdict(list)
        for group in groups:
            for reference in group.template.reads:
                if reference.right - reference.left < NARROW:
                    for column in range(reference.left, reference.right + 1):
                        self.narrow[reference.sheet, column].append((group, reference))
                else:
                    self.wide[reference.sheet].append((group, reference))

    def spread(self, seeds: Mapping[str, Indexes], passing: Marks) -> Marks:
        """Mark the seeds and all that depend on them, through marked cells in `passing` only.

        A cell that is not in `passing` is marked where it reads a marked one, but what reads it is
        not marked for its sake.
        """
        marks = {sheet: np.zeros(len(rows), bool) for sheet, rows in self.rows.items()}
        for sheet, indexes in seeds.items():
            marks[sheet][indexes] = True
        front = dict(seeds)
        while front:
            following: dict[str, Indexes] = {}
            for sheet, indexes in self.readers(front).items():
                new = indexes[~marks[sheet][indexes]]
                marks[sheet][new] = True
                new = new[passing[sheet][new]]
                if len(new):
                    following[sheet] = new
            front = following
        return marks

    def readers(self, cells: Mapping[str, Indexes]) -> dict[str, Indexes]:
        """Formula cells that read one of these formula cells, or what an array put beside one."""
        found: dict[str, list[Indexes]] = defaultdict(list)
        for (sheet, column), parts in self._places(cells).items():
            rows = _joined(parts)
            for group, reference in self._reading(sheet, column):
                found[group.sheet].append(readers_of(group, reference, rows))
        return {sheet: _marked(parts, len(self.rows[sheet])) for sheet, parts in found.items()}

    def _places(self, cells: Mapping[str, Indexes]) -> dict[tuple[str, int], list[Indexes]]:
        """Rows of formula cells by sheet and column."""
        places: dict[tuple[str, int], list[Indexes]] = defaultdict(list)
        for sheet, indexes in cells.items():
            rows, columns = self.rows[sheet][indexes], self.columns[sheet][indexes]
            for column in np.unique(columns).tolist():
                places[sheet, column].append(rows[columns == column])
            for index in indexes.tolist() if self.areas else ():
                area = self.areas.get((sheet, index))
                if area is not None:
                    top, left, bottom, right = area
                    for column in range(left, right + 1):
                        places[sheet, column].append(np.arange(top, bottom + 1))
        return places

    def _reading(self, sheet: str, column: int) -> Sequence[tuple[Group, Reference]]:
        wide = [
            (group, reference)
            for group, reference in self.wide.get(sheet, ())
            if reference.left <= column <= reference.right
        ]
        return [*self.narrow.get((sheet, column), ()), *wide]


def _marked(parts: list[Indexes], count: int) -> Indexes:
    """Several arrays of numbers below `count` as one, sorted and each number once."""
    marks = np.zeros(count, bool)
    for part in parts:
        marks[part] = True
    return np.flatnonzero(marks)


def _joined(parts: list[Indexes]) -> Indexes:
    """Several sorted arrays as one, each number once."""
    return parts[0] if len(parts) == 1 else np.unique(np.concatenate(parts))


def readers_of(group: Group, reference: Reference, rows: Indexes) -> Indexes:
    """Formula cells of a group whose `reference` holds one of the sorted `rows`."""
    start, end = 0, len(group.rows)
    # Where both ends move with the formula, only formulas near the rows can read them.
    if reference.top_relative and reference.bottom_relative:
        near, far = sorted((reference.top, reference.bottom))
        start = int(np.searchsorted(group.rows, rows[0] - far, "left"))
        end = int(np.searchsorted(group.rows, rows[-1] - near, "right"))
    at = group.rows[start:end]
    if not len(at):
        return at
    top = reference.top + at * reference.top_relative
    bottom = reference.bottom + at * reference.bottom_relative
    first, last = np.minimum(top, bottom), np.maximum(top, bottom)
    hit = np.searchsorted(rows, first, "left") < np.searchsorted(rows, last, "right")
    return group.indexes[start:end][hit]
