"""Findings on the unit itself: how it is fed, its voltages, its place and its nameplate."""

from __future__ import annotations

from ..limits import at_least, at_most
from .unit import CHECK, NOTE, Findings, Unit, shown

FIRE_ROOM_OVER = 112.5  # kVA, 450.21(A) and (B)
VAULT_OVER = 35_000.0  # V, 450.21(C)
IMPEDANCE_SHOWN_FROM = 25.0  # kVA, 450.11(A)
# Voltages to neutral of the usual systems, and what these have between lines.
TO_NEUTRAL = {120.0: 208.0, 277.0: 480.0, 347.0: 600.0}


def between_lines(unit: Unit) -> Findings:
    for side in (unit.primary, unit.secondary):
        if side.phases == 3 and side.volts in TO_NEUTRAL:
            line = TO_NEUTRAL[side.volts]
            yield (
                CHECK,
                f"{side.name} {shown(side.volts)} V is what {shown(line)}Y/{shown(side.volts)} has "
                f"to neutral. Three-phase volts are between lines: give {shown(line)} if that is "
                "the system, or the current comes out too large.",
                "common practice, no source",
            )


def step_up(unit: Unit) -> Findings:
    if not unit.steps_up:
        return
    yield (
        CHECK,
        f"Secondary {shown(unit.secondary.volts)} V is above primary "
        f"{shown(unit.primary.volts)} V: use a unit built to step up, or feed one backwards only "
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


def high_voltage(unit: Unit) -> Findings:
    for side in (unit.primary, unit.secondary):
        if not side.low:
            yield (
                CHECK,
                f"{side.name} {shown(side.volts)} V is over 1000 V: Table 450.3(A) asks for the "
                "impedance, and insulation, working space, guarding and devices have rules of "
                "their own.",
                "Table 450.3(A)",
            )
    if max(unit.primary.volts, unit.secondary.volts) > VAULT_OVER:
        yield CHECK, "A dry-type unit over 35 kV stands in a vault.", "450.21(C)"


def where_it_stands(unit: Unit) -> Findings:
    kva = f"{shown(unit.kva)} kVA"
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


def nameplate(unit: Unit) -> Findings:
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


def caution(unit: Unit) -> Findings:
    yield (
        NOTE,
        f"Reviewed by NFPA 70-{unit.edition:g} for 30 degC and three current-carrying conductors; "
        "load, taps and place were not seen. The local code, the authority having jurisdiction "
        "and licensed practice decide.",
        "90.4",
    )
