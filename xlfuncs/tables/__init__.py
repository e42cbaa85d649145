"""Published tables as printed: one CSV for each, its citation in the head."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray


class Table:
    """One published table.

    Attributes
    ----------
    head : dict of str
        ``title``, ``source``, ``units`` and ``checked`` (how the values were confirmed).
    printed : dict of ndarray of str
        The columns, digit for digit as printed; an empty place is an empty text.
    """

    def __init__(self, head: dict[str, str], rows: list[dict[str, str]]) -> None:
        self.head = head
        self.printed = {name: np.array([row[name] for row in rows]) for name in rows[0]}

    def __getitem__(self, column: str) -> NDArray[np.float64]:
        """Return a column as numbers, NaN where nothing is printed."""
        return np.array([float(text) if text else np.nan for text in self.printed[column]])

    def __len__(self) -> int:
        return len(next(iter(self.printed.values())))


@cache
def read(name: str) -> Table:
    """Read the table `name` of this folder."""
    lines = files(__name__).joinpath(f"{name}.csv").read_text("utf-8").splitlines()
    head = dict(line[1:].split(":", 1) for line in lines if line.startswith("#"))
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    return Table({key.strip(): text.strip() for key, text in head.items()}, rows)


def names() -> list[str]:
    """Names of all tables."""
    return sorted(
        entry.name.removesuffix(".csv")
        for entry in files(__name__).iterdir()
        if entry.name.endswith(".csv")
    )
