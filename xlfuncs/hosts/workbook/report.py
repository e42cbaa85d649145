"""What a run did, for people and for programs."""

from __future__ import annotations

import dataclasses
import json
from dataclasses import dataclass

Place = tuple[str, str, str]


@dataclass(frozen=True)
class Report:
    """What became of the formula cells of one workbook.

    Attributes
    ----------
    computed : int
        Formula cells whose stored value was computed and written.
    kept : int
        Formula cells that kept the value Excel had stored, because nothing they read changed.
    messages : list of (sheet, address, text)
        Computed cells that hold a message, a text beginning ``Check: ``.
    errors : list of (sheet, address, code)
        Computed cells that hold an error value.
    left_alone : list of (sheet, address, reason)
        Cells that should have been computed and were not; they hold what they held before.
    notes : list of str
        What else the user has to know.
    sheets : list of str
        Worksheets of the workbook.
    seconds : float
        Duration of the run.
    """

    computed: int
    kept: int
    messages: list[Place]
    errors: list[Place]
    left_alone: list[Place]
    notes: list[str]
    sheets: list[str]
    seconds: float

    @property
    def status(self) -> int:
        """0 where every cell was computed and none holds a message; otherwise 1."""
        return 1 if self.messages or self.left_alone else 0

    def as_text(self) -> str:
        lines = [
            f"{self.computed} formula cells computed, {self.kept} kept as stored, "
            f"in {self.seconds:.1f} s."
        ]
        lines += [f"Note: {note}" for note in self.notes]
        for title, places in (
            ("Left alone", self.left_alone),
            ("Messages", self.messages),
            ("Error values", self.errors),
        ):
            if places:
                lines.append(f"{title} ({len(places)}):")
                lines += [f"  {sheet}!{address}: {text}" for sheet, address, text in places]
        return "\n".join(lines) + "\n"

    def as_json(self) -> str:
        return json.dumps({**dataclasses.asdict(self), "status": self.status}, indent=2)
