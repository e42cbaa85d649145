"""Findings on grounding and bonding."""

from __future__ import annotations

from ..current import SQRT3
from ..grounding import BOND_OVER
from ..limits import at_most
from .unit import CHECK, NOTE, Findings, Unit, ask, shown

GROUNDED_UP_TO = 150.0  # V to ground, 250.20(B)(1)


def over_250(unit: Unit) -> Findings:
    rule = "250.97"
    primary, secondary = unit.primary, unit.secondary
    least = primary.volts / (SQRT3 if primary.phases == 3 else 2.0)
    means = "bond its metal raceways as at a service, or use knockouts that need none of it"
    if least > BOND_OVER:
        yield (
            CHECK,
            f"Primary has {shown(least)} V to ground or more, over 250 V: {means}.",
            rule,
        )
    elif primary.volts > BOND_OVER:
        yield (
            CHECK,
            f"Primary has {shown(least)} to {shown(primary.volts)} V to ground, by the grounding "
            f"of its system: where over 250 V, {means}.",
            rule,
        )
    else:
        yield (
            NOTE,
            f"Primary has {shown(primary.volts)} V to ground at most, not over 250 V.",
            rule,
        )
    volts = unit.volts_to_ground
    taken = {
        "wye": "wye with a grounded neutral",
        "delta": "delta without a neutral, the whole line voltage",
        "three-wire": "three-wire with a grounded midpoint, half the voltage",
        "two-wire": "two-wire, the whole voltage",
    }[unit.winding]
    stated = f"Secondary has {shown(volts)} V to ground, taken as {taken}"
    if not at_most(volts, BOND_OVER):
        yield CHECK, f"{stated}, over 250 V: {means}.", rule
    else:
        yield NOTE, f"{stated}, not over 250 V.", rule
    if unit.winding == "three-wire" and secondary.volts > BOND_OVER >= volts:
        yield (
            CHECK,
            f"A two-wire secondary would have {shown(secondary.volts)} V to ground: make sure "
            "that the midpoint is brought out and grounded.",
            rule,
        )


def grounded_system(unit: Unit) -> Findings:
    volts = unit.volts_to_ground
    if at_most(volts, GROUNDED_UP_TO):
        yield (
            NOTE,
            f"The secondary can be grounded with {shown(volts)} V to ground, not over 150 V: it "
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
            f"Settle whether the secondary, {shown(volts)} V to ground, is grounded or has "
            "ground detectors.",
            "250.20(B), 250.21(B)",
        )
    else:
        yield (
            CHECK,
            f"A {unit.winding} secondary of {shown(volts)} V has no neutral to ground: ground "
            "one conductor, or run it ungrounded with ground detectors.",
            "250.20(B), 250.21(B)",
        )


def grounding_sizes(unit: Unit) -> Findings:
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
    jumper = ask("XF_BONDING_JUMPER", side.size, side.sets, side.material, "copper")
    yield (
        NOTE,
        f"System bonding jumper {jumper} or larger ({given}){if_grounded}: at the transformer or "
        "the first disconnect, in one place only.",
        "250.30(A)(1), Table 250.102(C)(1)",
    )
    one = ask("XF_BONDING_JUMPER", side.size, 1.0, side.material, "copper")
    several = " in each raceway that holds one set" if side.sets > 1 else ""
    yield (
        NOTE,
        f"Supply-side bonding jumper {one} or larger, copper{several}, between the transformer "
        "and the first disconnect.",
        "250.30(A)(2), Table 250.102(C)(1)",
    )
    electrode = ask("XF_ELECTRODE_CONDUCTOR", side.size, side.sets, side.material, "copper")
    yield (
        NOTE,
        f"Grounding electrode conductor {electrode} or larger ({given}), connected where the "
        "system bonding jumper is.",
        "250.30(A)(5), Table 250.66",
    )


def equipment_ground(unit: Unit) -> Findings:
    side = unit.primary
    if not side.low:
        yield (
            CHECK,
            "Equipment grounding conductor with the primary could not be sized: over 1000 V it has "
            "rules of its own, 6 AWG copper at least where it is no part of a cable.",
            "250.190(C)",
        )
        return
    size = ask("XF_EQUIPMENT_GROUND", side.device, "copper")
    several = ", full size in each raceway" if side.sets > 1 else ""
    yield (
        NOTE,
        f"Equipment grounding conductor with the primary {size} or larger, copper{several}, by "
        f"the device of {shown(side.device)} A.",
        "250.122",
    )
