"""Findings on the conductors: what protects them, what they carry, their terminals."""

from __future__ import annotations

from ..ampacity import SMALL_CIRCUIT
from ..conductor import LONG_RUN, SHORT_RUN
from ..designations import SIZES
from ..limits import at_least, at_most
from ..steps import silent
from .unit import (
    CHECK,
    NOTE,
    STOP,
    TWO_WIRE_OR_DELTA,
    Findings,
    RefusedError,
    Side,
    Unit,
    ask,
    shown,
)

# 215.2(A)(1) and 215.3: a continuous load counts 125 %; a transformer may run at its rating for
# hours.
CONTINUOUS = 1.25
SMALLEST_PARALLEL = SIZES.number["1/0"]  # 310.10(G)


def _over_voltage_of_tables(side: Side) -> Findings:
    """Say that the rules of conductors up to 1000 V do not reach a side."""
    article = {2017: "310.60", 2020: "Article 311", 2023: "Article 315"}[int(side.edition)]
    yield (
        CHECK,
        f"{side.name} conductors and their protection could not be checked: "
        f"{shown(side.volts)} V is over 1000 V, where other rules hold.",
        f"{article}; overcurrent protection over 1000 V",
    )


def primary_conductors(unit: Unit) -> Findings:
    side = unit.primary
    if not side.low:
        yield from _over_voltage_of_tables(side)
        return
    rule = "240.4(B), (C) and (D)"

    def needed(terminal: float) -> str:
        return str(
            ask(
                "XF_PROTECTED_SIZE", side.device, 0.0, side.material, 90.0, terminal, 30.0, 3.0,
                True, side.sets, side.edition,
            )
        )  # fmt: skip

    least = needed(side.terminal)
    carried = f"{side.conductors} {side.carry}"
    if SIZES.read(side.size) >= SIZES.read(least):
        yield NOTE, f"{carried}: the device of {shown(side.device)} A protects them.", rule
    else:
        with silent():
            enough = side.terminal == 60.0 and SIZES.read(side.size) >= SIZES.read(needed(75.0))
        warmer = "; 75 degC terminals on both ends would be enough" if enough else ""
        yield (
            STOP,
            f"{carried}: the device of {shown(side.device)} A does not protect them, it needs "
            f"{least} or larger{warmer}.",
            rule,
        )
    load = CONTINUOUS * side.current
    if not at_least(side.ampacity, load):
        yield (
            CHECK,
            f"{carried}, less than 125% of the full-load current ({shown(load)} A): hold the "
            "continuous load to what they carry.",
            "215.2(A)(1)",
        )


def parallel(unit: Unit) -> Findings:
    for side in (unit.primary, unit.secondary):
        if side.size and side.sets > 1 and SIZES.read(side.size) < SMALLEST_PARALLEL:
            yield (
                STOP,
                f"{side.name} conductors {side.several}{side.size}: below 1/0 AWG they must not "
                "be in parallel.",
                "310.10(H)" if unit.edition == 2017 else "310.10(G)",
            )


def small_secondary_conductors(unit: Unit) -> Findings:
    """Say where 240.4(D) allows less of a device than the secondary conductors have ampacity."""
    side = unit.secondary
    relying = side.device == 0
    if not side.low or not side.size or side.sets > 1 or (relying and not unit.may_rely):
        return  # other findings say so, and small conductors are never in parallel
    device = unit.seen_device if relying else side.device
    if not at_least(side.ampacity, device):
        return
    least = _protected_size(side, device, device)
    if SIZES.read(side.size) >= SIZES.read(least):
        return
    small = f"{side.conductors} {side.carry}, but as small conductors are allowed less"
    if relying:
        yield (
            CHECK,
            f"{small} than the {shown(device)} A that the primary device is to them: take {least} "
            "or larger, unless the authority having jurisdiction reads 240.4(F) otherwise.",
            "240.4(D)",
        )
    else:
        yield (
            STOP,
            f"{small} than the device at their end of {shown(device)} A: take {least} or larger.",
            "240.4(D)",
        )


def secondary_conductors(unit: Unit) -> Findings:
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
            f"Secondary conductors of {shown(unit.length)} ft are longer than {LONG_RUN:g} ft: "
            "they need their device at the transformer, or another rule of the section (outdoors, "
            "supervised industry).",
            "240.21(C)",
        )
        yield from _carry_the_end_device(unit)
    else:
        yield from _run_of_conductors(unit, unit.length)


def _must_not_rely(unit: Unit) -> Findings:
    yield (
        STOP,
        f"No device is given on the secondary. Its conductors ({unit.winding}) may not rely on "
        f"the primary device: {TWO_WIRE_OR_DELTA}.",
        "240.21(C)(1)",
    )


def _relying_conductors(unit: Unit) -> Findings:
    if not unit.may_rely:
        yield from _must_not_rely(unit)
        return
    rule = "240.21(C)(1)"
    primary, side = unit.primary, unit.secondary
    seen = (
        f"{shown(side.ampacity)} A × {shown(side.volts)} V / {shown(primary.volts)} V = "
        f"{shown(unit.referred)} A"
    )
    if unit.relies:
        yield (
            NOTE,
            f"{side.conductors} are protected by the primary device of "
            f"{shown(primary.device)} A: {seen}.",
            rule,
        )
    else:
        least = unit.seen_device
        yield (
            STOP,
            f"{side.conductors} are not protected by the primary device of "
            f"{shown(primary.device)} A: {seen}. They must carry {shown(least)} A: "
            f"{_larger_size(side, least, least)}.",
            rule,
        )
    if unit.winding == "delta":
        yield (
            CHECK,
            "Relying on the primary device is for delta-delta with three wires: make sure that "
            "the primary is a delta too and that no neutral leaves the secondary.",
            rule,
        )


def _protected_size(side: Side, device: float, least: float) -> str:
    """Smallest size that carries `least` and that `device` protects without rounding up."""
    with silent():
        return str(
            ask(
                "XF_PROTECTED_SIZE", device, least, side.material, 90.0, side.terminal, 30.0, 3.0,
                False, side.sets, side.edition,
            )
        )  # fmt: skip


def _larger_size(side: Side, device: float, least: float) -> str:
    """Tell what would carry a current behind or before a device."""
    try:
        return f"take {_protected_size(side, device, least)} or larger"
    except RefusedError:
        return "take more parallel sets"


def _carry_the_end_device(unit: Unit) -> Findings:
    """The part that every rule of 240.21(C) with a device at the end shares."""
    side = unit.secondary
    carried = f"{side.conductors} {side.carry}"
    if at_least(side.ampacity, side.device):
        yield (
            NOTE,
            f"{carried}, not below the device at their end of {shown(side.device)} A.",
            "240.21(C)",
        )
    else:
        yield (
            STOP,
            f"{carried}, below the device at their end of {shown(side.device)} A: "
            f"{_larger_size(side, side.device, side.device)}. The next rating up is not for "
            "them.",
            "240.21(C)",
        )


def _least_ampacity(unit: Unit, length: float) -> float:
    primary, side = unit.primary, unit.secondary
    return float(
        ask("XF_SECONDARY_AMPACITY", primary.device, primary.volts, side.volts, length, side.device)
    )


def _runs(unit: Unit, length: float) -> bool:
    """Whether the conductors have the ampacity of their length."""
    with silent():
        return bool(at_least(unit.secondary.ampacity, _least_ampacity(unit, length)))


def _run_of_conductors(unit: Unit, length: float) -> Findings:
    side = unit.secondary
    short = at_most(length, SHORT_RUN)
    rule, share = ("240.21(C)(2)", "1/10") if short else ("240.21(C)(6)", "1/3")
    least = _least_ampacity(unit, length)
    carried = f"{side.conductors}, {shown(length)} ft, {side.carry}"
    asked = (
        f"{shown(least)} A (larger of their end device and {share} of the primary device "
        "referred to them)"
    )
    if _runs(unit, length):
        yield NOTE, f"{carried}, not below {asked}. Protect them from damage to their end.", rule
    else:
        yield (
            STOP,
            f"{carried}, below {asked}: {_larger_size(side, side.device, least)}. The next rating "
            "up is not for them.",
            rule,
        )


def terminals(unit: Unit) -> Findings:
    rule = "110.14(C)"
    for side in (unit.primary, unit.secondary):
        if not side.low or not side.size:
            continue  # their own finding says that the conductors were not checked
        why = (
            f"stated {side.terminal:g} degC"
            if side.stated_terminal is not None
            else f"not stated, circuit of {shown(side.circuit)} A"
        )
        if side.ampacity == 0:
            continue
        with silent():
            table = side.sets * float(ask("XF_TABLE_AMPACITY", side.size, side.material, 90.0))
            warmer = side.ampacity_at(75.0)
        text = (
            f"{side.name} terminals {why}: the {side.terminal:g} degC column holds, "
            f"{shown(side.ampacity)} A for {side.several}{side.size}, not the {shown(table)} A "
            "of 90 degC insulation"
        )
        if side.terminal == 60.0:
            yield (
                NOTE,
                f"{text}; {shown(warmer)} A only where both ends are marked for 75 degC.",
                rule,
            )
        elif at_most(side.circuit, SMALL_CIRCUIT):
            yield CHECK, f"{text}. Up to 100 A make sure that both ends are marked 75 degC.", rule
        else:
            yield NOTE, f"{text}.", rule
