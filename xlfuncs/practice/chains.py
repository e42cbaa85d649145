"""Problems of several calculations, each figure found feeding the next one."""

from __future__ import annotations

from ..designations import SIZES
from ..steps import plain_text
from .problems import (
    CONDITIONS,
    FACING,
    PREFERRED,
    RATING,
    SIZE,
    TRADE_SIZE,
    TRANSFORMERS,
    Problem,
    Unusable,
    Working,
    ask,
    kind,
    named,
    problem,
    steady,
    steps_of,
)
from .scenarios import Draw, Site

# 215.2(A)(1): 125 % of a continuous load, here the full-load current of the transformer.
CONTINUOUS = 1.25


def _primary_device(working: Working, kva: float, volts: float) -> float:
    """125 % of the full-load current, next standard rating up: no device on the secondary."""
    current = ask("XF_FULL_LOAD_CURRENT", kva, volts)
    if current < 9.5:  # Table 450.3(B) has other rules below 9 A
        raise Unusable("too near the 9 A of the table")
    steady(lambda amps: ask("XF_STANDARD_RATING", CONTINUOUS * amps), current)
    return float(working.ask("XF_PRIMARY_PROTECTION", kva, volts, 3, False))


@kind("Nameplate to primary conductor", "Conductors", 3, "Table 450.3(B)", "240.4", "Table 310.16")
def nameplate_to_primary_conductor(draw: Draw, site: Site) -> Problem:
    kva = draw.one_of("kva", TRANSFORMERS[:7])
    volts = draw.one_of("volts", (480.0, 600.0))
    working = Working()
    device = _primary_device(working, kva, volts)
    load = CONTINUOUS * ask("XF_FULL_LOAD_CURRENT", kva, volts)
    steady(lambda amps: ask("XF_PROTECTED_SIZE", device, amps, "copper", "THHN", 75), load)
    return problem(
        working,
        working.ask("XF_PROTECTED_SIZE", device, load, "copper", "THHN", 75),
        f"{site.place}: a three-phase transformer of {plain_text(kva)} kVA, {plain_text(volts)} V "
        f"primary, feeds {site.load} without an overcurrent device on its secondary. On the "
        "primary goes the largest standard breaker that Table 450.3(B) allows. Copper THHN, "
        f"{CONDITIONS}.",
        "What is the smallest primary conductor that this breaker may protect and that carries "
        "125 % of the full-load current?",
        "AWG or kcmil",
        SIZE,
        unsafe="small",
        slips=(
            (
                ask("XF_PROTECTED_SIZE", device, load, "copper", "THHN", 60),
                "read in the 60 °C column",
            ),
            (
                ask("XF_CONDUCTOR_SIZE", load / CONTINUOUS, "copper", "THHN", 75),
                "sized for the full-load current alone",
            ),
        ),
    )


@kind("Nameplate to equipment ground", "Grounding", 3, "Table 450.3(B)", "Table 250.122")
def nameplate_to_equipment_ground(draw: Draw, site: Site) -> Problem:
    kva = draw.one_of("kva", TRANSFORMERS)
    volts = draw.one_of("volts", (480.0, 600.0))
    working = Working()
    device = _primary_device(working, kva, volts)
    current = ask("XF_FULL_LOAD_CURRENT", kva, volts)
    return problem(
        working,
        working.ask("XF_EQUIPMENT_GROUND", device),
        f"{site.place}: a three-phase transformer of {plain_text(kva)} kVA, {plain_text(volts)} V "
        f"primary, feeds {site.load} without an overcurrent device on its secondary. On the "
        "primary goes the largest standard breaker that Table 450.3(B) allows.",
        "What is the smallest copper equipment grounding conductor of the primary circuit?",
        "AWG or kcmil",
        SIZE,
        unsafe="small",
        slips=(
            (
                ask("XF_EQUIPMENT_GROUND", ask("XF_STANDARD_RATING", current)),
                "the breaker was taken without the 125 %",
            ),
            (ask("XF_EQUIPMENT_GROUND", device, "aluminum"), "read in the aluminum column"),
        ),
    )


@kind("Secondary conductor", "Conductors", 3, "Table 450.3(B)", "240.21(C)", "Table 310.16")
def secondary_conductor(draw: Draw, site: Site) -> Problem:
    kva = draw.one_of("kva", (30.0, 45.0, 75.0, 112.5))
    volts = draw.one_of("volts", (208.0, 240.0))
    length = draw.one_of("length", (7.0, 9.0, 12.0, 16.0, 20.0))
    primary = draw.one_of("primary", (60.0, 80.0, 100.0, 125.0, 150.0, 175.0))
    working = Working()
    current = working.ask("XF_FULL_LOAD_CURRENT", kva, 480.0)
    if not 1.25 <= primary / current <= 2.5:
        raise Unusable("no primary breaker for this transformer")
    at_secondary = ask("XF_FULL_LOAD_CURRENT", kva, volts)
    steady(lambda amps: ask("XF_STANDARD_RATING", CONTINUOUS * amps), at_secondary)
    device = working.ask("XF_SECONDARY_PROTECTION", kva, volts, 3)
    load = CONTINUOUS * at_secondary
    least = working.ask("XF_SECONDARY_AMPACITY", primary, 480.0, volts, length, device, load)
    return problem(
        working,
        working.ask("XF_CONDUCTOR_SIZE", least, "copper", "THHN", 75),
        f"{site.place}: a three-phase transformer of {plain_text(kva)} kVA, 480 V to "
        f"{plain_text(volts)} V, has a {plain_text(primary)} A breaker on the primary. Its "
        f"secondary conductors run {plain_text(length)} ft to one breaker for {site.load}, the "
        "largest standard one that Table 450.3(B) allows. One set of copper THHN, "
        f"{CONDITIONS}.",
        "What is the smallest secondary conductor?",
        "AWG or kcmil",
        SIZE,
        unsafe="small",
        slips=(
            (
                ask("XF_PROTECTED_SIZE", device, load, "copper", "THHN", 75),
                "the next size up of 240.4(B) is not for transformer secondaries",
            ),
            (
                ask("XF_CONDUCTOR_SIZE", at_secondary, "copper", "THHN", 75),
                "sized for the full-load current, not for the breaker at the end",
            ),
        ),
    )


@kind("Transformer to voltage drop", "Voltage", 3, "Chapter 9, Table 9")
def transformer_to_voltage_drop(draw: Draw, site: Site) -> Problem:
    kva, size = draw.one_of(
        "kva and size",
        ((30.0, "6"), (45.0, "4"), (75.0, "1"), (75.0, "1/0"), (112.5, "3/0"), (150.0, "4/0")),
    )
    length = draw.one_of("length", steps_of(80, 360, 20))
    working = Working()
    current = working.ask("XF_FULL_LOAD_CURRENT", kva, 480.0)
    given = (current, 480.0, length, size)
    return problem(
        working,
        working.ask("XF_VOLTAGE_DROP_PERCENT", *given),
        f"{site.place}: the 480 V primary feeder of a {plain_text(kva)} kVA three-phase "
        f"transformer is {named(size)} copper in steel conduit, {plain_text(length)} ft one way. "
        f"{site.load.capitalize()} may load the transformer fully, at a power factor of 0.85.",
        "What is the voltage drop of the feeder in percent of 480 V, found with "
        "R cos φ + X sin φ at the full-load current?",
        "%",
        tolerance=0.05,
        unsafe="small",
        slips=(
            (ask("XF_VOLTAGE_DROP_PERCENT", *given, 1), "2 was used where √3 belongs"),
            (ask("XF_VOLTAGE_DROP", current, length, size), "that is the drop in volts"),
            (
                ask("XF_VOLTAGE_DROP_PERCENT", *given, 3, 1.0),
                "the resistance alone was used",
            ),
        ),
    )


@kind("Fault current at a panel", "Fault", 3, "Chapter 9, Table 9")
def fault_current_at_a_panel(draw: Draw, site: Site) -> Problem:
    kva, size = draw.one_of(
        "kva and size", ((45.0, "1/0"), (75.0, "4/0"), (112.5, "350"), (150.0, "500"))
    )
    impedance = draw.one_of("impedance", (2.8, 3.5, 4.0, 4.6, 5.2))
    length = draw.one_of("length", steps_of(20, 90, 5))
    working = Working()
    start = working.ask("XF_FAULT_CURRENT", kva, 208.0, impedance)
    return problem(
        working,
        working.ask("XF_FAULT_AFTER_RUN", start, 208.0, length, size),
        f"{site.place}: a three-phase transformer of {plain_text(kva)} kVA with a 208 V secondary "
        f"and {plain_text(impedance)} % impedance feeds the panel for {site.load} over "
        f"{plain_text(length)} ft (one way) of {named(size)} copper, one set in steel conduit. "
        "Take the source as unlimited and leave motors out.",
        "What is the symmetrical three-phase fault current at the panel, the magnitudes of the "
        "impedances being added?",
        "A",
        unsafe="small",
        slips=(
            (start, "that is the current at the transformer, before the run"),
            (
                ask("XF_FAULT_AFTER_RUN", start, 208.0, 2 * length, size),
                "the run was counted both ways",
            ),
            (
                ask("XF_FAULT_AFTER_RUN", start, 208.0, length, size, 3, "aluminum"),
                "read in the columns for aluminum",
            ),
        ),
    )


@kind("Load to primary device", "Overcurrent", 3, PREFERRED, "Table 450.3(B)", "240.6(A)")
def load_to_primary_device(draw: Draw, site: Site) -> Problem:
    amps = draw.one_of("amps", steps_of(50, 600, 10))
    working = Working()
    load = working.ask("XF_APPARENT_POWER", amps, 208.0, 3)
    steady(lambda power: ask("XF_STANDARD_KVA", power, 3), load)
    kva = working.ask("XF_STANDARD_KVA", load, 3)
    device = _primary_device(working, kva, 480.0)
    return problem(
        working,
        device,
        f"{site.place}: {site.load} will draw {plain_text(amps)} A at 208 V, three-phase, growth "
        "included. The smallest preferred three-phase transformer that carries this is bought, "
        "480 V to 208 V, without an overcurrent device on its secondary.",
        "What is the largest standard breaker that is allowed on the primary of that transformer?",
        "A",
        RATING,
        unsafe="large",
        slips=(
            (
                ask("XF_PRIMARY_PROTECTION", load, 480.0, 3, False),
                "taken from the load, not from the transformer's rating",
            ),
            (
                ask("XF_PRIMARY_PROTECTION", kva, 480.0, 3, True),
                "read as if the secondary had a device",
            ),
        ),
    )


@kind("System to working depth", "Site", 3, "Article 100", "Table 110.26(A)(1)")
def system_to_working_depth(draw: Draw, site: Site) -> Problem:
    system, told = draw.one_of(
        "system",
        (
            ("480Y/277", "480Y/277 V, the neutral grounded"),
            ("208Y/120", "208Y/120 V, the neutral grounded"),
            ("480 delta", "480 V delta, ungrounded"),
            ("240 delta", "240 V delta, ungrounded"),
            ("240/120 delta", "240/120 V delta with a high leg"),
        ),
    )
    condition = draw.one_of("condition", (1, 2, 3))
    working = Working()
    volts = working.ask("XF_VOLTS_TO_GROUND", system)
    return problem(
        working,
        working.ask("XF_WORKING_DEPTH", volts, condition),
        f"{site.place}: a panel for {site.load} is fed by a three-phase system of {told}. It is "
        f"worked on energized at times, and opposite it is {FACING[condition]}.",
        "What is the least depth of the working space in front of the panel?",
        "ft",
        tolerance=0.02,
        unsafe="small",
        slips=tuple(
            (ask("XF_WORKING_DEPTH", volts, other), f"that is condition {other}")
            for other in (1, 2, 3)
            if other != condition
        ),
    )


@kind(
    "Primary raceway", "Raceway", 3,
    "240.4", "Table 310.16", "Table 250.122", "Chapter 9, Tables 1, 4 and 5",
)  # fmt: skip
def primary_raceway(draw: Draw, site: Site) -> Problem:
    device = draw.one_of("device", (40.0, 60.0, 70.0, 90.0, 100.0, 125.0, 150.0, 200.0, 225.0))
    load = float(round(0.8 * device))
    working = Working()
    phase = working.ask("XF_PROTECTED_SIZE", device, load, "copper", "THHN", 75)
    ground = working.ask("XF_EQUIPMENT_GROUND", device)
    if SIZES.read(ground) == SIZES.read(phase):
        raise Unusable("conductors of one size have a rule of their own, note 7")
    return problem(
        working,
        working.ask("XF_RACEWAY_SIZE", "EMT", "THHN", phase, 3, ground, 1),
        f"{site.place}: a {plain_text(device)} A breaker protects the three-phase feeder, without "
        f"neutral, to the transformer for {site.load}; {plain_text(load)} A must be carried. The "
        "smallest copper THHN conductors that the breaker may protect share one EMT with the "
        f"smallest copper THHN equipment grounding conductor: {CONDITIONS}.",
        "What is the smallest trade size of the EMT, which is no nipple?",
        "in (trade size)",
        TRADE_SIZE,
        unsafe="small",
        slips=(
            (
                ask("XF_RACEWAY_SIZE", "EMT", "THHN", phase, 3),
                "the equipment grounding conductor was left out",
            ),
            (
                ask("XF_RACEWAY_SIZE", "EMT", "THHN", phase, 4, ground, 1),
                "a neutral was counted",
            ),
        ),
    )


@kind(
    "Electrode conductor of a transformer", "Grounding", 3,
    "240.21(C)", "Table 310.16", "Table 250.66",
)  # fmt: skip
def electrode_conductor_of_a_transformer(draw: Draw, site: Site) -> Problem:
    primary = draw.one_of("primary", (60.0, 100.0, 125.0, 150.0, 175.0, 200.0))
    end = draw.one_of("end", (60.0, 100.0, 125.0, 150.0, 200.0, 225.0, 300.0))
    length = draw.one_of("length", (8.0, 15.0, 20.0))
    if not 0.6 < end / (primary * 480 / 208) < 1.2:
        raise Unusable("devices that no transformer would stand between")
    load = float(round(0.8 * end))
    working = Working()
    least = working.ask("XF_SECONDARY_AMPACITY", primary, 480.0, 208.0, length, end, load)
    size = working.ask("XF_CONDUCTOR_SIZE", least, "copper", "THHN", 75)
    return problem(
        working,
        working.ask("XF_ELECTRODE_CONDUCTOR", size),
        f"{site.place}: a three-phase transformer, 480 V to 208Y/120 V, has a "
        f"{plain_text(primary)} A breaker ahead. Its secondary conductors run {plain_text(length)} "
        f"ft to a single {plain_text(end)} A breaker for {site.load} with a load of "
        f"{plain_text(load)} A. They are the smallest allowed: one set of copper THHN, "
        f"{CONDITIONS}. The steel frame of the building is the grounding electrode.",
        "What is the smallest copper grounding electrode conductor of the transformer?",
        "AWG or kcmil",
        SIZE,
        unsafe="small",
        slips=(
            (ask("XF_EQUIPMENT_GROUND", end), "perhaps read in Table 250.122"),
            (
                ask("XF_ELECTRODE_CONDUCTOR", size, 1, "copper", "aluminum"),
                "read in the aluminum column",
            ),
        ),
    )
