"""A look over a whole transformer installation: what is wrong, what to look at, what holds.

Each topic asks the worksheet functions, so that the numbers are theirs. Where one of them refuses,
its message becomes a finding: a topic is never left out in silence.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from numpy.typing import ArrayLike

from .ampacity import SMALL_CIRCUIT
from .cells import PREFIX, call
from .conductor import LONG_RUN, SHORT_RUN
from .current import SQRT3
from .designations import SIZES, choice
from .errors import require
from .grounding import BOND_OVER
from .limits import at_least, at_most, within_limits, within_limits_or_blank
from .overcurrent import LOW_VOLTAGE
from .registry import worksheet
from .steps import note, plain_text, silent

STOP, CHECK, NOTE = SEVERITIES = ("stop", "check", "note")
Finding = tuple[str, str, str]
Findings = Iterator[Finding]

# Common practice, no source: the peak that a winding draws when it is switched on, in multiples
# of its full-load current, and where a molded-case breaker may trip at once, in multiples of its
# rating.
INRUSH = (8.0, 12.0)
TRIPS_AT_ONCE = 5.0

# 215.2(A)(1) and 215.3: a continuous load counts 125 %; a transformer may run at its rating for
# hours.
CONTINUOUS = 1.25

NEXT_RATING_PERCENT = 125.0  # the only figure of Table 450.3(B) that may be rounded up
SMALLEST_PARALLEL = SIZES.number["1/0"]  # 310.10(G)
GROUNDED_UP_TO = 150.0  # V to ground, 250.20(B)(1)
FIRE_ROOM_OVER = 112.5  # kVA, 450.21(A) and (B)
VAULT_OVER = 35_000.0  # V, 450.21(C)
IMPEDANCE_SHOWN_FROM = 25.0  # kVA, 450.11(A)

TWO_WIRE_OR_DELTA = (
    "only a single-phase two-wire or a three-phase delta-delta three-wire secondary may rely on it"
)


class _RefusedError(Exception):
    """A worksheet function had no answer; its message is the text."""


def _ask(name: str, *cells: Any) -> Any:
    value = call(name, *cells)
    if isinstance(value, str) and value.startswith(PREFIX):
        raise _RefusedError(value.removeprefix(PREFIX))
    return value


def _shown(number: float) -> str:
    """Write a number with the digits that a reader compares: four, and whole from 1000 up."""
    return plain_text(round(number) if abs(number) >= 1000 else float(f"{number:.4g}"))


@dataclass(frozen=True)
class _Side:
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
        return float(_ask("XF_FULL_LOAD_CURRENT", self.kva, self.volts, self.phases))

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
            one = _ask("XF_AMPACITY", self.size, self.material, 90.0, terminal)
        except _RefusedError:
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
        return f"carry {_shown(self.ampacity)} A"


@dataclass(frozen=True)
class _Unit:
    """The installation under review."""

    primary: _Side
    secondary: _Side
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


@worksheet("XF_INSTALLATION_REVIEW", elementwise=False, columns=("severity", "finding", "rule"))
def installation_review(
    kva: ArrayLike,
    primary_volts: ArrayLike,
    secondary_volts: ArrayLike,
    primary_device: ArrayLike,
    primary_size: ArrayLike,
    secondary_device: ArrayLike = 0.0,
    secondary_size: ArrayLike = "",
    secondary_length: ArrayLike | None = None,
    secondary_winding: ArrayLike = "wye",
    panel_fed: ArrayLike = True,
    phases: ArrayLike = 3,
    terminal: ArrayLike | None = None,
    impedance: ArrayLike | None = None,
    edition: ArrayLike = 2023,
    material: ArrayLike = "copper",
    primary_sets: ArrayLike = 1.0,
    secondary_sets: ArrayLike = 1.0,
) -> list[Finding]:
    """Review of a transformer installation: what is wrong, what to look at, what holds.

    Parameters
    ----------
    kva : number
        Rated apparent power of the transformer. [kVA]
    primary_volts : number
        Rated primary voltage, line to line. [V]
    secondary_volts : number
        Rated secondary voltage, line to line. [V]
    primary_device : number
        Rating of the overcurrent device on the primary side. [A]
    primary_size : designation
        Size of the primary conductors.
    secondary_device : number
        Rating of the overcurrent device on the secondary side; 0: none. [A]
    secondary_size : designation
        Size of the secondary conductors; blank: not known.
    secondary_length : number
        Length of the secondary conductors from the transformer to the device at their end. [ft]
    secondary_winding : {'wye', 'delta', 'three-wire', 'two-wire'}
        Three-phase: wye, or delta without a neutral. Single-phase: three-wire, as the default is
        read there, or two-wire.
    panel_fed : {TRUE, FALSE}
        TRUE where the secondary feeds a panelboard.
    phases : {1, 3}
        Number of phases.
    terminal : {60, 75}
        Temperature rating of all terminals in degC; blank: 60 up to 100 A, 75 above.
    impedance : number
        Impedance of the nameplate. [%]
    edition : {2017, 2020, 2023}
        Edition of NFPA 70.
    material : {'copper', 'aluminum'}
        Metal of the conductors on both sides.
    primary_sets : count
        Primary conductors in parallel for each phase.
    secondary_sets : count
        Secondary conductors in parallel for each phase.

    Returns
    -------
    findings : table
        One finding a row, stops first: severity, finding, rule. stop: the values given break a
        rule; check: look at it, or it could not be checked; note: it holds, or is good to know.

    Raises
    ------
    InputError
        Where an argument is outside its limits.

    Notes
    -----
    A review of the values given and of nothing else. It assumes terminals and insulation of
    75 degC or more unless stated, 30 degC ambient and up to three current-carrying conductors in
    a raceway; a place that is not supervised; conductors that are no feeder tap of 240.21(B); and
    copper jumpers and grounding conductors. Without a stop the installation may still be wrong:
    the local code, the authority having jurisdiction and licensed practice decide.

    Inrush of 8 to 12 times the full-load current is common practice, no source: a primary device
    below 12/5 of the full-load current gives a check, since a molded-case breaker may trip at
    once from about 5 times its rating.

    References
    ----------
    .. [1] NFPA 70-2023, 450.3, Tables 450.3(A) and 450.3(B), 450.9, 450.11(A) and (B), 450.14,
       450.21(A), (B) and (C).
    .. [2] NFPA 70-2023, 240.4(B), (C) and (D), 240.21(C)(1), (2) and (6), 408.36(B), 215.2(A)(1),
       215.3, 310.10(G), 110.9, 110.14(C).
    .. [3] NFPA 70-2023, 250.20(B), 250.21(B), 250.30(A), 250.66, 250.97, 250.102(C), 250.122.
    .. [4] Inrush and what it does to a breaker: common practice, no source.

    Examples
    --------
    =XF_INSTALLATION_REVIEW(75, 480, 208, 125, "2", 300, "350", 10)
    """
    kva, primary_volts, secondary_volts, primary_device = within_limits(
        kva=kva,
        primary_volts=primary_volts,
        secondary_volts=secondary_volts,
        primary_device=primary_device,
    )
    first = SIZES.index("primary_size", primary_size)
    (secondary_device,) = within_limits(secondary_device=secondary_device)
    second = SIZES.index_or_blank("secondary_size", secondary_size)
    (secondary_length,) = within_limits_or_blank(secondary_length=secondary_length)
    winding = str(choice("secondary_winding", secondary_winding))
    panel_fed = bool(choice("panel_fed", panel_fed))
    phases = float(choice("phases", phases))
    terminal = float(choice("terminal", terminal))
    (impedance,) = within_limits_or_blank(impedance=impedance)
    edition = float(choice("edition", edition))
    material = str(choice("material", material))
    primary_sets, secondary_sets = within_limits(
        primary_sets=primary_sets, secondary_sets=secondary_sets
    )
    require(
        (phases == 3) == (winding in ("wye", "delta")) or winding == "wye",
        "secondary_winding must be wye or delta for three phases, three-wire or two-wire for one",
    )

    referred = primary_device * primary_volts / secondary_volts
    primary = _Side(
        name="Primary",
        volts=float(primary_volts),
        kva=float(kva),
        phases=phases,
        device=float(primary_device),
        circuit=float(primary_device),
        size=str(SIZES.names[first]),
        sets=float(primary_sets),
        material=material,
        stated_terminal=_or_none(terminal),
        edition=edition,
    )
    secondary = _Side(
        name="Secondary",
        volts=float(secondary_volts),
        kva=float(kva),
        phases=phases,
        device=float(secondary_device),
        circuit=float(secondary_device if secondary_device > 0 else referred),
        size="" if second == SIZES.BLANK else str(SIZES.names[second]),
        sets=float(secondary_sets),
        material=material,
        stated_terminal=_or_none(terminal),
        edition=edition,
    )
    unit = _Unit(
        primary=primary,
        secondary=secondary,
        length=_or_none(float(secondary_length)),
        winding="three-wire" if phases == 1 and winding == "wye" else winding,
        panel_fed=panel_fed,
        impedance=_or_none(float(impedance)),
    )
    findings = [finding for topic in TOPICS for finding in topic.findings(unit)]
    return sorted(findings, key=lambda finding: SEVERITIES.index(finding[0]))


def _or_none(number: float) -> float | None:
    return number if number == number else None


@dataclass(frozen=True)
class _Topic:
    """A question of the review, asked in every case."""

    about: str
    rule: str
    ask: Callable[[_Unit], Findings]

    def findings(self, unit: _Unit) -> Findings:
        try:
            yield from self.ask(unit)
        except _RefusedError as refusal:
            yield CHECK, f"{self.about} could not be checked: {refusal}", self.rule


def _limit(side: _Side, both: bool) -> tuple[float, str]:
    """Limit of Table 450.3(B) for the device of a side, and how it comes about.

    `both` tells whether the other side has its device too. The device itself may have a rating
    that 240.6(A) does not list, so a ceiling is not rounded down.
    """
    percent = float(_ask("XF_PROTECTION_PERCENT", side.current, side.name, both))
    ceiling = side.current * percent / 100
    working = f"{percent:g}% of {_shown(side.current)} A"
    if percent != NEXT_RATING_PERCENT:
        return ceiling, working
    rating = float(_ask("XF_STANDARD_RATING", ceiling, "up", "breaker", side.edition))
    return rating, f"{working}, next standard rating"


def _within(side: _Side, limit: float) -> bool:
    return bool(at_most(side.device, limit))


def _transformer_protection(unit: _Unit) -> Findings:
    if not unit.low:
        yield from _protection_over_1000(unit)
        return
    rule = "Table 450.3(B)"
    primary, secondary = unit.primary, unit.secondary
    alone, alone_working = _limit(primary, both=False)
    stated = f"Primary device {_shown(primary.device)} A"
    if secondary.device == 0:
        if _within(primary, alone):
            yield NOTE, f"{stated} is within {_shown(alone)} A ({alone_working}).", rule
        else:
            yield (
                STOP,
                f"{stated} is above {_shown(alone)} A, its limit without a device on the "
                f"secondary ({alone_working}).",
                rule,
            )
        return

    both, both_working = max(_limit(primary, both=True), (alone, alone_working))
    largest, working = _limit(secondary, both=True)
    own = f"Secondary device {_shown(secondary.device)} A"
    if _within(secondary, largest):
        yield NOTE, f"{own} is within {_shown(largest)} A ({working}).", rule
    elif _within(primary, alone):
        yield (
            CHECK,
            f"{own} is above {_shown(largest)} A ({working}): allowed only because the primary "
            f"device alone protects the transformer, being within {_shown(alone)} A.",
            rule,
        )
    else:
        yield STOP, f"{own} is above its limit of {_shown(largest)} A ({working}).", rule
    if _within(primary, alone):
        yield NOTE, f"{stated} is within {_shown(alone)} A ({alone_working}).", rule
    elif not _within(primary, both):
        yield (
            STOP,
            f"{stated} is above {_shown(both)} A ({both_working}), its limit with a device on "
            "the secondary.",
            rule,
        )
    elif _within(secondary, largest):
        yield (
            NOTE,
            f"{stated} is within {_shown(both)} A ({both_working}), above the {_shown(alone)} A "
            "of a primary alone: the secondary device must stay.",
            rule,
        )
    else:
        yield (
            STOP,
            f"{stated} is above {_shown(alone)} A ({alone_working}): more needs a secondary "
            f"device within {_shown(largest)} A.",
            rule,
        )


def _protection_over_1000(unit: _Unit) -> Findings:
    """Table 450.3(A), of a place that is not supervised, for either kind of device."""
    rule = "Table 450.3(A)"
    primary, secondary = unit.primary, unit.secondary
    if secondary.device == 0:
        yield (
            STOP,
            "No device is given on the secondary: over 1000 V the table asks for one, unless "
            "only qualified persons monitor and service the installation.",
            rule,
        )
    if unit.impedance is None:
        yield (
            CHECK,
            "The devices could not be checked against the table, which asks for the impedance "
            "of the nameplate over 1000 V: impedance is blank.",
            rule,
        )
        return
    if primary.low:
        yield (
            CHECK,
            f"Primary device {_shown(primary.device)} A could not be checked: the table has no "
            "column for a primary of 1000 V or less with a secondary above.",
            rule,
        )
    else:
        yield from _over_1000(
            primary,
            *(
                _ask(
                    "XF_PRIMARY_PROTECTION", unit.kva, primary.volts, primary.phases, True,
                    device, unit.impedance, False, unit.edition,
                )
                for device in ("breaker", "fuse")
            ),
        )  # fmt: skip
    if secondary.device > 0:
        yield from _over_1000(
            secondary,
            *(
                _ask(
                    "XF_SECONDARY_PROTECTION", unit.kva, secondary.volts, secondary.phases,
                    device, primary.volts, unit.impedance, False, unit.edition,
                )
                for device in ("breaker", "fuse")
            ),
        )  # fmt: skip


def _over_1000(side: _Side, breaker: float, fuse: float) -> Findings:
    rule = "Table 450.3(A)"
    stated = f"{side.name} device {_shown(side.device)} A"
    limits = f"{_shown(breaker)} A for a breaker, {_shown(fuse)} A for fuses"
    if _within(side, min(breaker, fuse)):
        yield NOTE, f"{stated} is within the limit: {limits}.", rule
    elif _within(side, max(breaker, fuse)):
        yield CHECK, f"{stated} is allowed as one kind of device only: {limits}.", rule
    else:
        yield STOP, f"{stated} is above the limit: {limits}.", rule


def _inrush(unit: _Unit) -> Findings:
    rule = "common practice, no source"
    side = unit.primary
    current, device = side.current, side.device
    multiple = device / current
    low, high = (times * current for times in INRUSH)
    note(
        "Device in multiples of the full-load current",
        "{device} A / {current} A",
        multiple,
        "",
        rule,
        device=device,
        current=current,
    )
    note(
        "Highest usual inrush",
        f"{INRUSH[1]:g} × {{current}} A",
        high,
        "A",
        rule,
        current=current,
    )
    stated = (
        f"Primary device {_shown(device)} A is {multiple:.2f} times the full-load current of "
        f"{_shown(current)} A"
    )
    if not at_least(device, current):
        yield CHECK, f"{stated}: it does not carry the transformer's rating.", "215.3"
    inrush = (
        f"Inrush of {INRUSH[0]:g} to {INRUSH[1]:g} times that current is {_shown(low)} to "
        f"{_shown(high)} A, {low / device:.1f} to {high / device:.1f} times the device"
    )
    if unit.steps_up:
        yield CHECK, f"{stated}. {inrush}, and higher in a unit that steps up.", rule
    elif high > TRIPS_AT_ONCE * device:
        yield CHECK, f"{stated}. {inrush}: it may trip when switched on; compare its curve.", rule
    else:
        yield NOTE, f"{stated}. {inrush}.", rule


def _over_voltage_of_tables(side: _Side) -> Findings:
    """Say that the rules of conductors up to 1000 V do not reach a side."""
    article = {2017: "310.60", 2020: "Article 311", 2023: "Article 315"}[int(side.edition)]
    yield (
        CHECK,
        f"{side.name} conductors and their protection could not be checked: "
        f"{_shown(side.volts)} V is over 1000 V, where other rules hold.",
        f"{article}; overcurrent protection over 1000 V",
    )


def _primary_conductors(unit: _Unit) -> Findings:
    side = unit.primary
    if not side.low:
        yield from _over_voltage_of_tables(side)
        return
    rule = "240.4(B), (C) and (D)"

    def needed(terminal: float) -> str:
        return str(
            _ask(
                "XF_PROTECTED_SIZE", side.device, 0.0, side.material, 90.0, terminal, 30.0, 3.0,
                True, side.sets, side.edition,
            )
        )  # fmt: skip

    least = needed(side.terminal)
    carried = f"{side.conductors} {side.carry}"
    if SIZES.read(side.size) >= SIZES.read(least):
        yield NOTE, f"{carried}: the device of {_shown(side.device)} A protects them.", rule
    else:
        with silent():
            enough = side.terminal == 60.0 and SIZES.read(side.size) >= SIZES.read(needed(75.0))
        warmer = "; 75 degC terminals on both ends would be enough" if enough else ""
        yield (
            STOP,
            f"{carried}: the device of {_shown(side.device)} A does not protect them, it needs "
            f"{least} or larger{warmer}.",
            rule,
        )
    load = CONTINUOUS * side.current
    if not at_least(side.ampacity, load):
        yield (
            CHECK,
            f"{carried}, less than 125% of the full-load current ({_shown(load)} A): hold the "
            "continuous load to what they carry.",
            "215.2(A)(1)",
        )


def _parallel(unit: _Unit) -> Findings:
    for side in (unit.primary, unit.secondary):
        if side.size and side.sets > 1 and SIZES.read(side.size) < SMALLEST_PARALLEL:
            yield (
                STOP,
                f"{side.name} conductors {side.several}{side.size}: below 1/0 AWG they must not "
                "be in parallel.",
                "310.10(H)" if unit.edition == 2017 else "310.10(G)",
            )


def _secondary_conductors(unit: _Unit) -> Findings:
    side = unit.secondary
    if not side.low:
        yield from _over_voltage_of_tables(side)
    elif not side.size:
        if side.device == 0 and not unit.may_rely:
            yield from _must_not_rely(unit)
        yield (
            CHECK,
            "Secondary conductors could not be checked: secondary_size is blank.",
            "240.21(C)",
        )
    elif side.device == 0:
        yield from _relying_conductors(unit)
    elif unit.length is not None and at_most(unit.length, LONG_RUN) and _runs(unit, unit.length):
        yield from _run_of_conductors(unit, unit.length)
    elif unit.relies:
        yield from _relying_conductors(unit)
    elif unit.length is None:
        yield (
            CHECK,
            "The rule of the secondary conductors could not be chosen: secondary_length is "
            f"blank. Up to {SHORT_RUN:g} ft they carry 1/10, up to {LONG_RUN:g} ft 1/3 of the "
            "primary device referred to the secondary.",
            "240.21(C)(2) and (C)(6)",
        )
        yield from _carry_the_end_device(unit)
    elif not at_most(unit.length, LONG_RUN):
        yield (
            STOP,
            f"Secondary conductors of {_shown(unit.length)} ft are longer than {LONG_RUN:g} ft: "
            "they need their device at the transformer, or another rule of the section (outdoors, "
            "supervised industry).",
            "240.21(C)",
        )
        yield from _carry_the_end_device(unit)
    else:
        yield from _run_of_conductors(unit, unit.length)


def _must_not_rely(unit: _Unit) -> Findings:
    yield (
        STOP,
        f"No device is given on the secondary. Its conductors ({unit.winding}) may not rely on "
        f"the primary device: {TWO_WIRE_OR_DELTA}.",
        "240.21(C)(1)",
    )


def _relying_conductors(unit: _Unit) -> Findings:
    if not unit.may_rely:
        yield from _must_not_rely(unit)
        return
    rule = "240.21(C)(1)"
    primary, side = unit.primary, unit.secondary
    seen = (
        f"{_shown(side.ampacity)} A × {_shown(side.volts)} V / {_shown(primary.volts)} V = "
        f"{_shown(unit.referred)} A"
    )
    if unit.relies:
        yield (
            NOTE,
            f"{side.conductors} are protected by the primary device of "
            f"{_shown(primary.device)} A: {seen}.",
            rule,
        )
    else:
        least = primary.device * primary.volts / side.volts
        yield (
            STOP,
            f"{side.conductors} are not protected by the primary device of "
            f"{_shown(primary.device)} A: {seen}. They must carry {_shown(least)} A: "
            f"{_larger_size(side, least)}.",
            rule,
        )
    if unit.winding == "delta":
        yield (
            CHECK,
            "Relying on the primary device is for delta-delta with three wires: make sure that "
            "the primary is a delta too and that no neutral leaves the secondary.",
            rule,
        )


def _larger_size(side: _Side, least: float) -> str:
    """Tell what would carry a current."""
    try:
        with silent():
            size = _ask(
                "XF_CONDUCTOR_SIZE", least, side.material, 90.0, side.terminal, 30.0, 3.0, side.sets
            )
    except _RefusedError:
        return "take more parallel sets"
    return f"take {size} or larger"


def _carry_the_end_device(unit: _Unit) -> Findings:
    """The part that every rule of 240.21(C) with a device at the end shares."""
    side = unit.secondary
    carried = f"{side.conductors} {side.carry}"
    if at_least(side.ampacity, side.device):
        yield (
            NOTE,
            f"{carried}, not below the device at their end of {_shown(side.device)} A.",
            "240.21(C)",
        )
    else:
        yield (
            STOP,
            f"{carried}, below the device at their end of {_shown(side.device)} A: "
            f"{_larger_size(side, side.device)}. The next rating up is not for them.",
            "240.21(C)",
        )


def _least_ampacity(unit: _Unit, length: float) -> float:
    primary, side = unit.primary, unit.secondary
    return float(
        _ask(
            "XF_SECONDARY_AMPACITY", primary.device, primary.volts, side.volts, length, side.device
        )
    )


def _runs(unit: _Unit, length: float) -> bool:
    """Whether the conductors have the ampacity of their length."""
    with silent():
        return bool(at_least(unit.secondary.ampacity, _least_ampacity(unit, length)))


def _run_of_conductors(unit: _Unit, length: float) -> Findings:
    side = unit.secondary
    short = at_most(length, SHORT_RUN)
    rule, share = ("240.21(C)(2)", "1/10") if short else ("240.21(C)(6)", "1/3")
    least = _least_ampacity(unit, length)
    carried = f"{side.conductors}, {_shown(length)} ft, {side.carry}"
    asked = (
        f"{_shown(least)} A (larger of their end device and {share} of the primary device "
        "referred to them)"
    )
    if _runs(unit, length):
        yield NOTE, f"{carried}, not below {asked}. Protect them from damage to their end.", rule
    else:
        yield (
            STOP,
            f"{carried}, below {asked}: {_larger_size(side, least)}. The next rating up is not "
            "for them.",
            rule,
        )


def _panelboard(unit: _Unit) -> Findings:
    rule = "408.36(B)"
    device = unit.secondary.device
    if not unit.panel_fed:
        yield NOTE, "No panelboard is fed: its protection was not looked at.", rule
    elif device > 0:
        yield (
            NOTE,
            f"The panelboard has a device of {_shown(device)} A on the secondary side of the "
            "transformer: its own rating must not be below that.",
            rule,
        )
    elif not unit.may_rely:
        yield (
            STOP,
            "A panelboard is fed through the transformer without a device on the secondary side: "
            f"the primary device does not count, {TWO_WIRE_OR_DELTA}.",
            rule,
        )
    elif not unit.secondary.size:
        yield (
            CHECK,
            "Whether the primary device may protect the panelboard could not be checked: "
            "secondary_size is blank.",
            rule,
        )
    elif unit.relies:
        referred = unit.primary.device * unit.primary.volts / unit.secondary.volts
        yield (
            NOTE,
            "The panelboard relies on the primary device, as the exception allows: its rating "
            f"must not be below {_shown(referred)} A.",
            rule,
        )
    else:
        yield (
            STOP,
            "A panelboard is fed through the transformer without a device on the secondary side, "
            "and the primary device does not protect the secondary conductors.",
            rule,
        )


def _terminals(unit: _Unit) -> Findings:
    rule = "110.14(C)"
    for side in (unit.primary, unit.secondary):
        if not side.low or not side.size:
            continue  # their own finding says that the conductors were not checked
        why = (
            f"stated {side.terminal:g} degC"
            if side.stated_terminal is not None
            else f"not stated, circuit of {_shown(side.circuit)} A"
        )
        if side.ampacity == 0:
            continue
        with silent():
            table = side.sets * float(_ask("XF_TABLE_AMPACITY", side.size, side.material, 90.0))
            warmer = side.ampacity_at(75.0)
        text = (
            f"{side.name} terminals {why}: the {side.terminal:g} degC column holds, "
            f"{_shown(side.ampacity)} A for {side.several}{side.size}, not the {_shown(table)} A "
            "of 90 degC insulation"
        )
        if side.terminal == 60.0:
            yield (
                NOTE,
                f"{text}; {_shown(warmer)} A only where both ends are marked for 75 degC.",
                rule,
            )
        elif at_most(side.circuit, SMALL_CIRCUIT):
            yield CHECK, f"{text}. Up to 100 A make sure that both ends are marked 75 degC.", rule
        else:
            yield NOTE, f"{text}.", rule


def _over_250(unit: _Unit) -> Findings:
    rule = "250.97"
    primary, secondary = unit.primary, unit.secondary
    least = primary.volts / (SQRT3 if primary.phases == 3 else 2.0)
    means = "bond its metal raceways as at a service, or use knockouts that need none of it"
    if least > BOND_OVER:
        yield (
            CHECK,
            f"Primary has {_shown(least)} V to ground or more, over 250 V: {means}.",
            rule,
        )
    elif primary.volts > BOND_OVER:
        yield (
            CHECK,
            f"Primary has {_shown(least)} to {_shown(primary.volts)} V to ground, by the grounding "
            f"of its system: where over 250 V, {means}.",
            rule,
        )
    else:
        yield (
            NOTE,
            f"Primary has {_shown(primary.volts)} V to ground at most, not over 250 V.",
            rule,
        )
    volts = unit.volts_to_ground
    taken = {
        "wye": "wye with a grounded neutral",
        "delta": "delta without a neutral, the whole line voltage",
        "three-wire": "three-wire with a grounded midpoint, half the voltage",
        "two-wire": "two-wire, the whole voltage",
    }[unit.winding]
    stated = f"Secondary has {_shown(volts)} V to ground, taken as {taken}"
    if not at_most(volts, BOND_OVER):
        yield CHECK, f"{stated}, over 250 V: {means}.", rule
    else:
        yield NOTE, f"{stated}, not over 250 V.", rule
    if unit.winding == "three-wire" and secondary.volts > BOND_OVER >= volts:
        yield (
            CHECK,
            f"A two-wire secondary would have {_shown(secondary.volts)} V to ground: make sure "
            "that the midpoint is brought out and grounded.",
            rule,
        )


def _step_up(unit: _Unit) -> Findings:
    if not unit.steps_up:
        return
    yield (
        CHECK,
        f"Secondary {_shown(unit.secondary.volts)} V is above primary "
        f"{_shown(unit.primary.volts)} V: use a unit built to step up, or feed one backwards only "
        "as its maker's instructions allow. Then inrush is higher, and taps work the other way.",
        "450.11(B)",
    )
    if unit.primary.phases == 3:
        yield (
            CHECK,
            "In a delta-wye unit fed backwards the wye is no source: connect its X0 neither to "
            "ground nor to the neutral of the supply.",
            "common practice, no source",
        )


def _high_voltage(unit: _Unit) -> Findings:
    for side in (unit.primary, unit.secondary):
        if not side.low:
            yield (
                CHECK,
                f"{side.name} {_shown(side.volts)} V is over 1000 V: Table 450.3(A) asks for the "
                "impedance, and insulation, working space, guarding and devices have rules of "
                "their own.",
                "Table 450.3(A)",
            )
    if max(unit.primary.volts, unit.secondary.volts) > VAULT_OVER:
        yield CHECK, "A dry-type unit over 35 kV stands in a vault.", "450.21(C)"


def _place(unit: _Unit) -> Findings:
    kva = f"{_shown(unit.kva)} kVA"
    if not at_most(unit.kva, FIRE_ROOM_OVER):
        yield (
            CHECK,
            f"{kva} is over 112.5 kVA: indoors in a room of 1 hour fire rating, unless insulated "
            "for 155 degC or more and enclosed except for vents, or behind a barrier, or 6 ft "
            "beside and 12 ft above clear.",
            "450.21(B)",
        )
    elif unit.low:
        yield (
            NOTE,
            f"{kva} is not over 112.5 kVA: indoors 12 in from combustible material, unless fully "
            "enclosed except for vents (both sides are 1000 V or less).",
            "450.21(A)",
        )
    else:
        yield (
            CHECK,
            f"{kva} is not over 112.5 kVA, but one side is over 1000 V: indoors 12 in from "
            "combustible material, or a fire-resistant, heat-insulating barrier between.",
            "450.21(A)",
        )
    yield (
        NOTE,
        "Keep the clearance for ventilation that the nameplate states, and the vents open.",
        "450.9",
    )
    yield (
        NOTE,
        "Disconnect the primary in sight of the transformer, or by a lockable means whose place "
        "is marked on the transformer.",
        "450.14",
    )


def _nameplate(unit: _Unit) -> Findings:
    shows = "kVA, volts of both sides, frequency, clearances and insulation class"
    if at_least(unit.kva, IMPEDANCE_SHOWN_FROM):
        yield (
            NOTE,
            f"Compare with the nameplate: {shows}, and at 25 kVA or more the impedance.",
            "450.11(A)",
        )
    else:
        yield (
            NOTE,
            f"Compare with the nameplate: {shows}; below 25 kVA it may show no impedance.",
            "450.11(A)",
        )


def _fault_current(unit: _Unit) -> Findings:
    side = unit.secondary
    amps = _ask("XF_FAULT_CURRENT", unit.kva, side.volts, unit.impedance, side.phases)
    yield (
        NOTE,
        f"Up to {_shown(amps)} A of fault current at the secondary terminals, supply taken as "
        f"unlimited: devices there must interrupt that, and what "
        "motors add.",
        "110.9",
    )


def _grounded_system(unit: _Unit) -> Findings:
    volts = unit.volts_to_ground
    if at_most(volts, GROUNDED_UP_TO):
        yield (
            NOTE,
            f"The secondary can be grounded with {_shown(volts)} V to ground, not over 150 V: it "
            "must be a grounded system.",
            "250.20(B)(1)",
        )
    elif unit.winding == "wye":
        yield (
            NOTE,
            "A wye whose neutral is a circuit conductor must be a grounded system.",
            "250.20(B)(2)",
        )
    elif unit.winding == "three-wire":
        yield (
            CHECK,
            f"Settle whether the secondary, {_shown(volts)} V to ground, is grounded or has "
            "ground detectors.",
            "250.20(B), 250.21(B)",
        )
    else:
        yield (
            CHECK,
            f"A {unit.winding} secondary of {_shown(volts)} V has no neutral to ground: ground "
            "one conductor, or run it ungrounded with ground detectors.",
            "250.20(B), 250.21(B)",
        )


def _grounding_sizes(unit: _Unit) -> Findings:
    side = unit.secondary
    if not side.size:
        yield (
            CHECK,
            "Bonding jumpers and electrode conductor could not be sized: secondary_size is blank.",
            "250.30(A)",
        )
        return
    given = f"copper, for {side.several}{side.size} {side.material}"
    if_grounded = "" if unit.winding in ("wye", "three-wire") else ", where the system is grounded"
    jumper = _ask("XF_BONDING_JUMPER", side.size, side.sets, side.material, "copper")
    yield (
        NOTE,
        f"System bonding jumper {jumper} or larger ({given}){if_grounded}: at the transformer or "
        "the first disconnect, in one place only.",
        "250.30(A)(1), Table 250.102(C)(1)",
    )
    one = _ask("XF_BONDING_JUMPER", side.size, 1.0, side.material, "copper")
    several = " in each raceway that holds one set" if side.sets > 1 else ""
    yield (
        NOTE,
        f"Supply-side bonding jumper {one} or larger, copper{several}, between the transformer "
        "and the first disconnect.",
        "250.30(A)(2), Table 250.102(C)(1)",
    )
    electrode = _ask("XF_ELECTRODE_CONDUCTOR", side.size, side.sets, side.material, "copper")
    yield (
        NOTE,
        f"Grounding electrode conductor {electrode} or larger ({given}), connected where the "
        "system bonding jumper is.",
        "250.30(A)(5), Table 250.66",
    )


def _equipment_ground(unit: _Unit) -> Findings:
    side = unit.primary
    size = _ask("XF_EQUIPMENT_GROUND", side.device, "copper")
    several = ", full size in each raceway" if side.sets > 1 else ""
    yield (
        NOTE,
        f"Equipment grounding conductor with the primary {size} or larger, copper{several}, by "
        f"the device of {_shown(side.device)} A.",
        "250.122",
    )


def _caution(unit: _Unit) -> Findings:
    yield (
        NOTE,
        f"Reviewed by NFPA 70-{unit.edition:g} for 30 degC and three current-carrying conductors; "
        "load, taps and place were not seen. The local code, the authority having jurisdiction "
        "and licensed practice decide.",
        "90.4",
    )


TOPICS = (
    _Topic("Transformer protection", "450.3", _transformer_protection),
    _Topic("Primary conductors", "240.4(B), (C) and (D)", _primary_conductors),
    _Topic("Secondary conductors", "240.21(C)", _secondary_conductors),
    _Topic("Parallel conductors", "310.10(G)", _parallel),
    _Topic("The panelboard's protection", "408.36(B)", _panelboard),
    _Topic("Inrush", "common practice, no source", _inrush),
    _Topic("Terminals", "110.14(C)", _terminals),
    _Topic("Whether devices can interrupt a secondary fault", "110.9", _fault_current),
    _Topic("Bonding over 250 V", "250.97", _over_250),
    _Topic("Step-up", "450.11(B)", _step_up),
    _Topic("Voltage over 1000 V", "Table 450.3(A)", _high_voltage),
    _Topic("The system's grounding", "250.20(B)", _grounded_system),
    _Topic("Jumpers and electrode conductor", "250.30(A)", _grounding_sizes),
    _Topic("Equipment grounding conductor", "250.122", _equipment_ground),
    _Topic("Place", "450.21", _place),
    _Topic("Nameplate", "450.11(A)", _nameplate),
    _Topic("The whole", "90.4", _caution),
)
