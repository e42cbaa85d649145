"""Edits of the bytes of a file, a million of them at a time."""

from __future__ import annotations

import io
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import chain

import numpy as np

from .tags import Positions, pieces

# Where a piece starts and ends, and what is put in its place.
Edit = tuple[int, int, bytes]

# Pieces that are copied at once; more only take memory.
BATCH = 1 << 14


@dataclass(frozen=True)
class Edits:
    """Pieces of a file that are replaced: they do not overlap, and stand in order."""

    starts: Positions
    ends: Positions
    new: list[bytes]

    def with_others(self, others: Iterable[Edit]) -> Edits:
        """These and others in order; what is inserted goes before what is replaced there."""
        other_starts, other_ends, other_new = zip(*others, strict=True)
        starts = np.append(self.starts, other_starts)
        ends = np.append(self.ends, other_ends)
        new = [*self.new, *other_new]
        order = np.lexsort((ends, starts))
        return Edits(starts[order], ends[order], [new[i] for i in order.tolist()])

    def made(self, data: bytes, start: int = 0, end: int | None = None) -> bytes:
        """Copy of the data from `start` to `end` with the edits made."""
        kept_starts = np.append(start, self.ends)
        kept_ends = np.append(self.starts, len(data) if end is None else end)
        new = [*self.new, b""]
        result = io.BytesIO()
        for at in range(0, len(new), BATCH):
            batch = slice(at, at + BATCH)
            kept = pieces(data, kept_starts[batch], kept_ends[batch])
            result.write(b"".join(chain.from_iterable(zip(kept, new[batch], strict=True))))
        return result.getvalue()
