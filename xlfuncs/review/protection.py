"""Findings on the devices: transformer, inrush, fault current, panelboard."""

from __future__ import annotations

from ..limits import at_least, at_most
from ..steps import note
from .unit import CHECK, NOTE, STOP, TWO_WIRE_OR_DELTA, Findings, Side, Unit, ask, shown

# Common practice, no source: the peak that a winding draws when it is switched on, in multiples
# of its full-load current, and where a molded-case breaker may trip at once, in multiples of its
# rating.
INRUSH = (8.0, 12.0)
TRIPS_AT_ONCE = 5.0
NEXT_RATING_PERCENT = 125.0  # the only figure of Table 450.3(B) that may be rounded up


def _limit(side: Side, both: bool) -> tuple[float, str]:
    """Limit of Table 450.3(B) for the device of a side, and how it comes about.

    `both` tells whether the other side has its device too. The device itself may have a rating
    that 240.6(A) does not list, so a ceiling is not rounded down.
    """
    percent = float(ask("XF_PROTECTION_PERCENT", side.current, side.name, both))
    ceiling = side.current * percent / 100
    working = f"{percent:g}% of {shown(side.current)} A"
    if percent != NEXT_RATING_PERCENT:
        return ceiling, working
    rating = float(ask("XF_STANDARD_RATING", ceiling, "up", "breaker", side.edition))
    return rating, f"{working}, next standard rating"


def _within(side: Side, limit: float) -> bool:
    return bool(at_most(side.device, limit))


def transformer_protection(unit: Unit) -> Findings:
    if not unit.low:
        yield from _protection_over_1000(unit)
        return
    rule = "Table 450.3(B)"
    primary, secondary = unit.primary, unit.secondary
    alone, alone_working = _limit(primary, both=False)
    stated = f"Primary device {shown(primary.device)} A"
    if secondary.device == 0:
        if _within(primary, alone):
            yield NOTE, f"{stated} is within {shown(alone)} A ({alone_working}).", rule
        else:
            yield (
                STOP,
                f"{stated} is above {shown(alone)} A, its limit without a device on the "
                f"secondary ({alone_working}).",
                rule,
            )
        return

    both, both_working = max(_limit(primary, both=True), (alone, alone_working))
    largest, working = _limit(secondary, both=True)
    own = f"Secondary device {shown(secondary.device)} A"
    if _within(secondary, largest):
        yield NOTE, f"{own} is within {shown(largest)} A ({working}).", rule
    elif _within(primary, alone):
        yield (
            CHECK,
            f"{own} is above {shown(largest)} A ({working}): allowed only because the primary "
            f"device alone protects the transformer, being within {shown(alone)} A.",
            rule,
        )
    else:
        yield STOP, f"{own} is above its limit of {shown(largest)} A ({working}).", rule
    if _within(primary, alone):
        yield NOTE, f"{stated} is within {shown(alone)} A ({alone_working}).", rule
    elif not _within(primary, both):
        yield (
            STOP,
            f"{stated} is above {shown(both)} A ({both_working}), its limit with a device on "
            "the secondary.",
            rule,
        )
    elif _within(secondary, largest):
        yield (
            NOTE,
            f"{stated} is within {shown(both)} A ({both_working}), above the {shown(alone)} A "
            "of a primary alone: the secondary device must stay.",
            rule,
        )
    else:
        yield (
            STOP,
            f"{stated} is above {shown(alone)} A ({alone_working}): more needs a secondary "
            f"device within {shown(largest)} A.",
            rule,
        )


def _protection_over_1000(unit: Unit) -> Findings:
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
            f"Primary device {shown(primary.device)} A could not be checked: the table has no "
            "column for a primary of 1000 V or less with a secondary above.",
            rule,
        )
    else:
        yield from _over_1000(
            primary,
            *(
                ask(
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
                ask(
                    "XF_SECONDARY_PROTECTION", unit.kva, secondary.volts, secondary.phases,
                    device, primary.volts, unit.impedance, False, unit.edition,
                )
                for device in ("breaker", "fuse")
            ),
        )  # fmt: skip


def _over_1000(side: Side, breaker: float, fuse: float) -> Findings:
    rule = "Table 450.3(A)"
    stated = f"{side.name} device {shown(side.device)} A"
    limits = f"{shown(breaker)} A for a breaker, {shown(fuse)} A for fuses"
    if _within(side, min(breaker, fuse)):
        yield NOTE, f"{stated} is within the limit: {limits}.", rule
    elif _within(side, max(breaker, fuse)):
        yield CHECK, f"{stated} is allowed as one kind of device only: {limits}.", rule
    else:
        yield STOP, f"{stated} is above the limit: {limits}.", rule


def inrush(unit: Unit) -> Findings:
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
        f"Primary device {shown(device)} A is {multiple:.2f} times the full-load current of "
        f"{shown(current)} A"
    )
    if not at_least(device, current):
        yield CHECK, f"{stated}: it does not carry the transformer's rating.", "215.3"
    inrush = (
        f"Inrush of {INRUSH[0]:g} to {INRUSH[1]:g} times that current is {shown(low)} to "
        f"{shown(high)} A, {low / device:.1f} to {high / device:.1f} times the device"
    )
    if unit.steps_up:
        yield CHECK, f"{stated}. {inrush}, and higher in a unit that steps up.", rule
    elif high > TRIPS_AT_ONCE * device:
        yield CHECK, f"{stated}. {inrush}: it may trip when switched on; compare its curve.", rule
    else:
        yield NOTE, f"{stated}. {inrush}.", rule


def fault_current(unit: Unit) -> Findings:
    side = unit.secondary
    amps = ask("XF_FAULT_CURRENT", unit.kva, side.volts, unit.impedance, side.phases)
    yield (
        NOTE,
        f"Up to {shown(amps)} A of fault current at the secondary terminals, supply taken as "
        f"unlimited: devices there must interrupt that, and what "
        "motors add.",
        "110.9",
    )


def panelboard(unit: Unit) -> Findings:
    rule = "408.36(B)"
    device = unit.secondary.device
    if not unit.panel_fed:
        yield NOTE, "No panelboard is fed: its protection was not looked at.", rule
    elif device > 0:
        yield (
            NOTE,
            f"The panelboard has a device of {shown(device)} A on the secondary side of the "
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
            f"must not be below {shown(referred)} A.",
            rule,
        )
    else:
        yield (
            STOP,
            "A panelboard is fed through the transformer without a device on the secondary side, "
            "and the primary device does not protect the secondary conductors.",
            rule,
        )
