"""The installation under review, and how its topics ask the worksheet functions."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from ..ampacity import SMALL_CIRCUIT
from ..cells import PREFIX, call
from ..current import SQRT3
from ..limits import at_most
from ..overcurrent import LOW_VOLTAGE
from ..steps import note, plain_text

STOP, CHECK, NOTE = SEVERITIES = ("stop", "check", "note")

Finding = tuple[str, str, str]
Findings = Iterator[Finding]
TWO_WIRE_OR_DELTA = (
    "only a single-phase two-wire or a three-phase delta-delta three-wire secondary may rely on it"
)


class RefusedError(Exception):
    """A worksheet function had no answer; its message is the text."""


def ask(name: str, *cells: Any) -> Any:
    value = call(name, *cells)
    if isinstance(value, str) and value.startswith(PREFIX):
        raise RefusedError(value.removeprefix(PREFIX))
    return value


def shown(number: float) -> str:
    """Write a number with the digits that a reader compares: four, and whole from 1000 up."""
    return plain_text(round(number) if abs(number) >= 1000 else float(f"{number:.4g}"))


@dataclass(frozen=True)
class Side:
    """One side of the transformer: volts, device and conductors."""

    name: str
    volts: float
    kva: float
    phases: float
    device: float
    circuit: float  # A, what decides the column of unmarked terminals
    size: str
    sets: float
    material: str
    stated_terminal: float | None
    edition: float

    @cached_property
    def current(self) -> float:
        return float(ask("XF_FULL_LOAD_CURRENT", self.kva, self.volts, self.phases))

    @property
    def low(self) -> bool:
        return bool(at_most(self.volts, LOW_VOLTAGE))

    @property
    def terminal(self) -> float:
        if self.stated_terminal is not None:
            return self.stated_terminal
        return 60.0 if at_most(self.circuit, SMALL_CIRCUIT) else 75.0

    @cached_property
    def ampacity(self) -> float:
        """Usable ampacity of all sets, 0 for a size that has none between terminals. [A]"""
        return self.ampacity_at(self.terminal)

    def ampacity_at(self, terminal: float) -> float:
        try:
            one = ask("XF_AMPACITY", self.size, self.material, 90.0, terminal)
        except RefusedError:
            return 0.0
        return float(one) * self.sets

    @property
    def several(self) -> str:
        """The number of sets, as it stands before a size."""
        return f"{self.sets:g} x " if self.sets > 1 else ""

    @property
    def conductors(self) -> str:
        """The conductors in words, as the subject of a sentence."""
        return (
            f"{self.name} conductors ({self.several}{self.size} {self.material}, "
            f"{self.terminal:g} degC column)"
        )

    @property
    def carry(self) -> str:
        """What the conductors carry, after their name and before a comma or colon."""
        if self.ampacity == 0:
            return "have no ampacity in Table 310.16"
        return f"carry {shown(self.ampacity)} A"


@dataclass(frozen=True)
class Unit:
    """The installation under review."""

    primary: Side
    secondary: Side
    length: float | None
    winding: str
    panel_fed: bool
    impedance: float | None

    @property
    def kva(self) -> float:
        return self.primary.kva

    @property
    def edition(self) -> float:
        return self.primary.edition

    @property
    def low(self) -> bool:
        return self.primary.low and self.secondary.low

    @property
    def steps_up(self) -> bool:
        return not at_most(self.secondary.volts, self.primary.volts)

    @property
    def may_rely(self) -> bool:
        """Whether the winding is one that 240.21(C)(1) names."""
        return self.winding in ("delta", "two-wire")

    @property
    def seen_device(self) -> float:
        """Primary device as the secondary conductors see it. [A]"""
        return self.primary.device * self.primary.volts / self.secondary.volts

    @cached_property
    def referred(self) -> float:
        """Ampacity of the secondary conductors as the primary device sees it, 240.21(C)(1)."""
        side = self.secondary
        referred = side.ampacity * side.volts / self.primary.volts
        note(
            "Secondary ampacity seen from the primary",
            "{ampacity} A × {secondary} V / {primary} V",
            referred,
            "A",
            "240.21(C)(1)",
            ampacity=side.ampacity,
            secondary=side.volts,
            primary=self.primary.volts,
        )
        return referred

    @property
    def relies(self) -> bool:
        """Whether the primary device protects the secondary conductors, 240.21(C)(1)."""
        return self.may_rely and bool(at_most(self.primary.device, self.referred))

    @property
    def volts_to_ground(self) -> float:
        """Highest voltage to ground of the secondary: of a winding without a neutral, all of it."""
        parts = {"wye": SQRT3, "three-wire": 2.0}
        return float(self.secondary.volts / parts.get(self.winding, 1.0))
