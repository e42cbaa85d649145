"""What a run did, for people and for programs."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Place = tuple[str, str, str]


@dataclass(frozen=True)
class SecondOpinion:
    """What another program computed for the same cells.

    Attributes
    ----------
    program : str
        The other program.
    compared : int
        Cells for which both have an answer.
    tolerance : float
        Numbers agree within this part of the larger one.
    differences : list of (sheet, address, ours, theirs)
        Cells in which the two answers differ.
    unanswered : list of (sheet, address, reason)
        Cells for which the other program has no answer.
    failure : str
        Why there is no second opinion at all.
    """

    program: str
    compared: int = 0
    tolerance: float = 0.0
    differences: list[tuple[str, str, str, str]] = field(default_factory=list)
    unanswered: list[Place] = field(default_factory=list)
    failure: str = ""

    @property
    def agrees(self) -> bool:
        return not self.differences and not self.failure

    @property
    def headline(self) -> str:
        if self.failure:
            return f"No second opinion: {self.failure}"
        return (
            f"Second opinion of {self.program}: {self.compared} cells compared, "
            f"{len(self.differences)} differ by more than {self.tolerance:.0e} of the value, "
            f"{len(self.unanswered)} without an answer there"
        )

    @property
    def differing(self) -> list[Place]:
        return [
            (sheet, address, f"{ours} here, {theirs} there")
            for sheet, address, ours, theirs in self.differences
        ]


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
    places : mapping of str to array
        Rows and columns of the computed cells by sheet, those that an array fills among them.
    opinion : SecondOpinion, optional
        What another program says of the computed cells, where it was asked.
    """

    computed: int
    kept: int
    messages: list[Place]
    errors: list[Place]
    left_alone: list[Place]
    notes: list[str]
    sheets: list[str]
    seconds: float
    places: Mapping[str, npt.NDArray[np.int64]] = field(
        default_factory=dict, repr=False, compare=False
    )
    opinion: SecondOpinion | None = None

    @property
    def status(self) -> int:
        """0 where every cell was computed, none holds a message and nobody differs; otherwise 1."""
        in_doubt = self.opinion is not None and not self.opinion.agrees
        return 1 if self.messages or self.left_alone or in_doubt else 0

    def as_text(self) -> str:
        lines = [
            f"{self.computed} formula cells computed, {self.kept} kept as stored, "
            f"in {self.seconds:.1f} s."
        ]
        lines += [f"Note: {note}" for note in self.notes]
        listed = [
            ("Left alone", self.left_alone),
            ("Messages", self.messages),
            ("Error values", self.errors),
        ]
        if self.opinion is not None:
            lines.append(self.opinion.headline)
            listed += [
                ("Different there", self.opinion.differing),
                ("Without an answer there", self.opinion.unanswered),
            ]
        for title, places in listed:
            if places:
                lines.append(f"{title} ({len(places)}):")
                lines += [f"  {sheet}!{address}: {text}" for sheet, address, text in places]
        return "\n".join(lines) + "\n"

    def as_json(self) -> str:
        facts = dataclasses.asdict(dataclasses.replace(self, places={}))
        del facts["places"]
        return json.dumps({**facts, "status": self.status}, indent=2)
