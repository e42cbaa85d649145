"""Problems of one calculation: single look-ups, then rules with several figures."""

from __future__ import annotations

from ..designations import SIZES
from ..steps import plain_text
from .problems import (
    BREAKERS,
    CONDITIONS,
    FACING,
    FEEDER_SIZES,
    KVA,
    LARGE_SIZES,
    METALS,
    PREFERRED,
    RATING,
    SIZE,
    SYSTEMS,
    TAP,
    THREE_PHASE_VOLTS,
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


@kind("Full-load current", "Current", 1)
def full_load_current(draw: Draw, site: Site) -> Problem:
    phases = draw.one_of("phases", (3, 3, 1))
    kva = draw.one_of("kva", TRANSFORMERS if phases == 3 else (10.0, 15.0, 25.0, 37.5, 50.0))
    volts = draw.one_of("volts", THREE_PHASE_VOLTS if phases == 3 else (208.0, 240.0, 480.0))
    working = Working()
    phase = "three-phase" if phases == 3 else "single-phase"
    return problem(
        working,
        working.ask("XF_FULL_LOAD_CURRENT", kva, volts, phases),
        f"{site.place}: the nameplate of the {phase} transformer for {site.load} reads "
        f"{plain_text(kva)} kVA. One of its windings is rated {plain_text(volts)} V.",
        "What is the full-load line current of that winding?",
        "A",
        slips=(
            (
                ask("XF_FULL_LOAD_CURRENT", kva, volts, 4 - phases),
                "√3 was left out" if phases == 3 else "√3 has no place in single-phase",
            ),
        ),
    )


@kind("Load in kVA", "Current", 1)
def load_in_kva(draw: Draw, site: Site) -> Problem:
    volts = draw.one_of("volts", THREE_PHASE_VOLTS)
    amps = draw.one_of("amps", steps_of(20, 240, 4))
    working = Working()
    return problem(
        working,
        working.ask("XF_APPARENT_POWER", amps, volts, 3),
        f"{site.place}: a clamp meter on the three-phase feeder for {site.load} shows "
        f"{plain_text(amps)} A on each line. The system is {plain_text(volts)} V line to line.",
        "What is the apparent power of the load?",
        "kVA",
        slips=((ask("XF_APPARENT_POWER", amps, volts, 1), "√3 was left out"),),
    )


@kind("Transformer rating", "Current", 1, PREFERRED)
def transformer_rating(draw: Draw, site: Site) -> Problem:
    load = draw.one_of("load", steps_of(8, 280, 4))
    working = Working()
    return problem(
        working,
        working.ask("XF_STANDARD_KVA", load, 3),
        f"{site.place}: a three-phase dry-type transformer is to feed {site.load}. The "
        f"calculated load, growth included, is {plain_text(load)} kVA.",
        "What is the smallest preferred three-phase rating that carries the load?",
        "kVA",
        KVA,
        tolerance=0.5,
    )


@kind("Volts to ground", "Current", 1, "Article 100")
def volts_to_ground(draw: Draw, site: Site) -> Problem:
    system, line, told = draw.one_of("system", SYSTEMS)
    working = Working()
    slips: tuple[tuple[float | str, str], ...] = ((line, "that is the voltage line to line"),)
    if system == "240/120 delta":
        slips = (*slips, (120.0, "that is the voltage of the other two legs, not the highest"))
    return problem(
        working,
        working.ask("XF_VOLTS_TO_GROUND", system),
        f"{site.place}: the panel for {site.load} is fed by a system of {told}.",
        "What is the highest voltage to ground of the system?",
        "V",
        tolerance=1.0,
        unsafe="small",
        slips=slips,
    )


def _standard_rating(draw: Draw, site: Site, rounding_way: str) -> Problem:
    amps = draw.one_of("amps", steps_of(16.3, 390.3, 3.7))
    up = rounding_way == "up"
    other = ask("XF_STANDARD_RATING", amps, "down" if up else "up")
    working = Working()
    answer = working.ask("XF_STANDARD_RATING", amps, rounding_way)
    if answer == other:
        raise Unusable("a standard rating already")
    rule = (
        "The rule in question allows the next higher standard rating."
        if up
        else "The rule in question sets a ceiling that must not be passed."
    )
    return problem(
        working,
        answer,
        f"{site.place}: the calculation for the breaker ahead of {site.load} ends at "
        f"{plain_text(amps)} A. {rule}",
        "Which standard rating of a breaker is it?",
        "A",
        RATING,
        unsafe="large",
        slips=((other, f"rounded {'down' if up else 'up'}, not {rounding_way}"),),
    )


@kind("Standard rating, up", "Overcurrent", 1, "240.6(A)")
def standard_rating_up(draw: Draw, site: Site) -> Problem:
    return _standard_rating(draw, site, "up")


@kind("Standard rating, down", "Overcurrent", 1, "240.6(A)")
def standard_rating_down(draw: Draw, site: Site) -> Problem:
    return _standard_rating(draw, site, "down")


@kind("Table ampacity", "Conductors", 1, "Table 310.16")
def table_ampacity(draw: Draw, site: Site) -> Problem:
    size = draw.one_of("size", FEEDER_SIZES)
    metal = draw.one_of("metal", METALS)
    insulation, rating = draw.one_of("insulation", (("THHN", 90), ("THWN", 75), ("TW", 60)))
    working = Working()
    others = [(t, r) for t, r in (("THHN", 90), ("THWN", 75), ("TW", 60)) if r != rating]
    return problem(
        working,
        working.ask("XF_TABLE_AMPACITY", size, metal, insulation),
        f"{site.place}: three {named(size)} {metal} {insulation} conductors in a raceway run "
        f"to {site.load}. {insulation} is rated {rating} °C in this dry place.",
        "Which ampacity does the table print for the insulation, before any correction and "
        "before the terminals are looked at?",
        "A",
        tolerance=0.5,
        unsafe="large",
        slips=tuple(
            (ask("XF_TABLE_AMPACITY", size, metal, other), f"read in the {r} °C column")
            for other, r in others
        ),
    )


@kind("Equipment ground", "Grounding", 1, "Table 250.122")
def equipment_ground(draw: Draw, site: Site) -> Problem:
    device = draw.one_of("device", BREAKERS)
    metal = draw.one_of("metal", METALS)
    other = "aluminum" if metal == "copper" else "copper"
    working = Working()
    return problem(
        working,
        working.ask("XF_EQUIPMENT_GROUND", device, metal),
        f"{site.place}: a {plain_text(device)} A breaker protects the feeder for {site.load}. "
        "The phase conductors were not enlarged.",
        f"What is the smallest {metal} equipment grounding conductor that the table allows?",
        "AWG or kcmil",
        SIZE,
        unsafe="small",
        slips=((ask("XF_EQUIPMENT_GROUND", device, other), f"read in the {other} column"),),
    )


@kind("Bonding jumper", "Grounding", 1, "Table 250.102(C)(1)")
def bonding_jumper(draw: Draw, site: Site) -> Problem:
    size = draw.one_of("size", LARGE_SIZES)
    metal = draw.one_of("metal", METALS)
    other = "aluminum" if metal == "copper" else "copper"
    working = Working()
    return problem(
        working,
        working.ask("XF_BONDING_JUMPER", size, 1, metal, "copper"),
        f"{site.place}: from the transformer for {site.load} one set of {named(size)} {metal} "
        "secondary conductors runs to the first disconnect.",
        "What is the smallest copper supply-side bonding jumper that may run with them?",
        "AWG or kcmil",
        SIZE,
        unsafe="small",
        slips=(
            (
                ask("XF_BONDING_JUMPER", size, 1, other, "copper"),
                f"the phase conductors were taken for {other}",
            ),
        ),
    )


@kind("Electrode conductor", "Grounding", 1, "Table 250.66")
def electrode_conductor(draw: Draw, site: Site) -> Problem:
    size = draw.one_of("size", LARGE_SIZES)
    sets = draw.one_of("sets", (1, 1, 2))
    if sets == 2 and size in ("2", "1"):
        raise Unusable("conductors in parallel are 1/0 AWG and larger")
    electrode, told = draw.one_of(
        "electrode",
        (
            ("structure", "the steel frame of the building, which is its grounding electrode"),
            ("rod", "two ground rods and to no other electrode"),
        ),
    )
    working = Working()
    how_many = "one set" if sets == 1 else "two parallel sets"
    slips: list[tuple[float | str, str]] = []
    if sets == 2:
        slips.append(
            (
                ask("XF_ELECTRODE_CONDUCTOR", size, 1, "copper", "copper", electrode),
                "only one of the two sets was counted",
            ),
        )
    if electrode == "rod":
        slips.append(
            (
                ask("XF_ELECTRODE_CONDUCTOR", size, sets, "copper", "copper", "structure"),
                "the relief for rods alone was not used",
            ),
        )
    return problem(
        working,
        working.ask("XF_ELECTRODE_CONDUCTOR", size, sets, "copper", "copper", electrode),
        f"{site.place}: the secondary of the new transformer for {site.load} has {how_many} of "
        f"{named(size)} copper conductors. Its grounding electrode conductor runs to {told}.",
        "What is the smallest copper grounding electrode conductor?",
        "AWG or kcmil",
        SIZE,
        unsafe="small",
        slips=tuple(slips),
    )


@kind("Working depth", "Site", 1, "Table 110.26(A)(1)")
def working_depth(draw: Draw, site: Site) -> Problem:
    volts = draw.one_of("volts", (120.0, 277.0, 347.0, 480.0))
    condition = draw.one_of("condition", (1, 2, 3))
    working = Working()
    return problem(
        working,
        working.ask("XF_WORKING_DEPTH", volts, condition),
        f"{site.place}: a panel with {plain_text(volts)} V to ground stands by {site.load} and "
        f"is worked on energized at times. Opposite it is {FACING[condition]}.",
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


@kind("Voltage unbalance", "Voltage", 1)
def voltage_unbalance(draw: Draw, site: Site) -> Problem:
    nominal = draw.one_of("nominal", (208, 240, 480))
    away = steps_of(-9, 7, 1)
    readings = [float(nominal + draw.one_of(name, away)) for name in ("A-B", "B-C", "C-A")]
    working = Working()
    answer = working.ask("XF_VOLTAGE_UNBALANCE", [readings])
    if not 0.3 < answer < 4:
        raise Unusable("an unbalance of no interest")
    mean = sum(readings) / 3
    spread = 100 * (max(readings) - min(readings)) / mean
    told = ", ".join(
        f"{name} {plain_text(value)} V"
        for name, value in zip(("A-B", "B-C", "C-A"), readings, strict=True)
    )
    return problem(
        working,
        answer,
        f"{site.place}: the readings at the motor control panel for {site.load} are {told}.",
        "What is the voltage unbalance (largest deviation from the mean, in percent of the mean)?",
        "%",
        tolerance=0.05,
        unsafe="small",
        slips=((spread, "largest minus smallest in place of the deviation from the mean"),),
    )


@kind("Voltage deviation", "Voltage", 1)
def voltage_deviation(draw: Draw, site: Site) -> Problem:
    nominal = draw.one_of("nominal", (120.0, 208.0, 240.0, 277.0, 480.0))
    percent = draw.one_of("percent", [p for p in steps_of(-7, 6, 0.5) if abs(p) > 1])
    reading = float(round(nominal * (1 + percent / 100)))
    working = Working()
    answer = working.ask("XF_VOLTAGE_DEVIATION", reading, nominal)
    return problem(
        working,
        answer,
        f"{site.place}: a meter at the panel for {site.load} reads {plain_text(reading)} V where "
        f"{plain_text(nominal)} V is nominal.",
        "How far is the reading from nominal, in percent of nominal, with its sign?",
        "%",
        tolerance=0.05,
        slips=((100 * (reading - nominal) / reading, "in percent of the reading"),),
    )


@kind("Wire to buy", "Site", 1)
def wire_to_buy(draw: Draw, site: Site) -> Problem:
    run = draw.one_of("run", steps_of(35, 260, 5))
    count = draw.one_of("count", (3, 4, 5))
    tail = draw.one_of("tail", (3.0, 4.0, 5.0))
    spare = draw.one_of("spare", (5.0, 8.0, 10.0))
    working = Working()
    return problem(
        working,
        working.ask("XF_CONDUCTOR_LENGTH", run, count, tail, spare),
        f"{site.place}: {count} conductors of one size go into a raceway of "
        f"{plain_text(run)} ft to {site.load}. {plain_text(tail)} ft of each is left free at "
        f"each end, and {plain_text(spare)} % is added for waste.",
        "How many feet of wire are bought?",
        "ft",
        slips=(
            (ask("XF_CONDUCTOR_LENGTH", run, count, 0.0, spare), "the free ends were left out"),
            (
                ask("XF_CONDUCTOR_LENGTH", run, count, tail / 2, spare),
                "only one of the two free ends was counted",
            ),
            (ask("XF_CONDUCTOR_LENGTH", run, count, tail, 0.0), "nothing was added for waste"),
            (ask("XF_CONDUCTOR_LENGTH", run, 1, tail, spare), "only one conductor was counted"),
        ),
    )


@kind("Breaker for a load", "Overcurrent", 2, "215.3", "240.6(A)")
def breaker_for_a_load(draw: Draw, site: Site) -> Problem:
    continuous = draw.one_of("continuous", steps_of(12, 180, 2))
    other = draw.one_of("noncontinuous", steps_of(5, 90, 5))
    total = 1.25 * continuous + other
    steady(lambda amps: ask("XF_STANDARD_RATING", amps), total)
    working = Working()
    return problem(
        working,
        working.ask("XF_LOAD_PROTECTION", continuous, other),
        f"{site.place}: the feeder for {site.load} carries {plain_text(continuous)} A of "
        f"continuous load and {plain_text(other)} A of other load. The breaker is not listed "
        "for 100 % of its rating.",
        "What is the smallest standard breaker for this feeder?",
        "A",
        RATING,
        slips=(
            (
                ask("XF_LOAD_PROTECTION", 0.0, continuous + other),
                "125 % of the continuous load was left out",
            ),
            (
                ask("XF_LOAD_PROTECTION", continuous + other, 0.0),
                "125 % was taken of the whole load",
            ),
        ),
    )


@kind("Primary device", "Overcurrent", 2, "Table 450.3(B)", "240.6(A)")
def primary_device(draw: Draw, site: Site) -> Problem:
    kva = draw.one_of("kva", TRANSFORMERS)
    volts = draw.one_of("volts", (480.0, 600.0))
    protected = draw.one_of("secondary_protected", (False, True))
    told = (
        "A breaker on the secondary protects the transformer too, within the limits of the table."
        if protected
        else "The transformer has no overcurrent device of its own on the secondary."
    )
    working = Working()
    current = ask("XF_FULL_LOAD_CURRENT", kva, volts)
    steady(
        lambda amps: ask("XF_STANDARD_RATING", (2.5 if protected else 1.25) * amps,
                         "down" if protected else "up"),
        current,
    )  # fmt: skip
    return problem(
        working,
        working.ask("XF_PRIMARY_PROTECTION", kva, volts, 3, protected),
        f"{site.place}: a three-phase transformer of {plain_text(kva)} kVA with a "
        f"{plain_text(volts)} V primary feeds {site.load}. {told}",
        "What is the largest standard breaker that is allowed on the primary?",
        "A",
        RATING,
        unsafe="large",
        slips=(
            (
                ask("XF_PRIMARY_PROTECTION", kva, volts, 3, not protected),
                "read as if the secondary had no device"
                if protected
                else "read as if the secondary had a device",
            ),
            (
                ask("XF_PRIMARY_PROTECTION", kva, volts, 1, protected),
                "√3 was left out of the full-load current",
            ),
        ),
    )


@kind("Secondary device", "Overcurrent", 2, "Table 450.3(B)", "240.6(A)")
def secondary_device(draw: Draw, site: Site) -> Problem:
    kva = draw.one_of("kva", TRANSFORMERS)
    volts = draw.one_of("volts", (208.0, 240.0))
    current = ask("XF_FULL_LOAD_CURRENT", kva, volts)
    steady(lambda amps: ask("XF_STANDARD_RATING", 1.25 * amps), current)
    working = Working()
    return problem(
        working,
        working.ask("XF_SECONDARY_PROTECTION", kva, volts, 3),
        f"{site.place}: a three-phase transformer of {plain_text(kva)} kVA feeds {site.load} at "
        f"{plain_text(volts)} V. It is protected on both sides.",
        "What is the largest standard breaker that is allowed on the secondary?",
        "A",
        RATING,
        unsafe="large",
        slips=(
            (
                ask("XF_STANDARD_RATING", 1.25 * current, "down"),
                "rounded down, where up is allowed",
            ),
            (ask("XF_STANDARD_RATING", current), "125 % was left out"),
        ),
    )


@kind("Conductor for a breaker", "Conductors", 2, "240.4", "Table 310.16")
def conductor_for_a_breaker(draw: Draw, site: Site) -> Problem:
    device = draw.one_of("device", BREAKERS)
    part = draw.one_of("part", (0.55, 0.65, 0.75, 0.85))
    metal = draw.one_of("metal", METALS)
    load = float(round(device * part))
    given = (device, load, metal, "THHN")
    working = Working()
    return problem(
        working,
        working.ask("XF_PROTECTED_SIZE", *given, 75),
        f"{site.place}: a feeder for {site.load} runs from a {plain_text(device)} A breaker. Its "
        f"conductors must carry at least {plain_text(load)} A, the 125 % of the continuous part "
        f"included. {metal.capitalize()} THHN, {CONDITIONS}.",
        "What is the smallest conductor that this breaker may protect, the next standard rating "
        "above the ampacity being allowed?",
        "AWG or kcmil",
        SIZE,
        unsafe="small",
        slips=(
            (ask("XF_PROTECTED_SIZE", *given, 60), "read in the 60 °C column"),
            (
                ask("XF_PROTECTED_SIZE", *given, 75, 30.0, 3.0, False),
                "the next size up of 240.4(B) was not used",
            ),
        ),
    )


@kind("Usable ampacity", "Conductors", 2, "Table 310.16", "310.15(B) and (C)", "110.14(C)")
def usable_ampacity(draw: Draw, site: Site) -> Problem:
    size = draw.one_of("size", FEEDER_SIZES)
    metal = draw.one_of("metal", METALS)
    ambient = draw.one_of("ambient", (33.0, 38.0, 43.0, 48.0))
    count = draw.one_of("count", (4, 5, 6, 7, 9, 12))
    given = (size, metal, "THHN", 75)
    working = Working()
    at_75 = ask("XF_TABLE_AMPACITY", size, metal, 75)
    factors = ask("XF_AMBIENT_FACTOR", ambient, 75) * ask("XF_ADJUSTMENT_FACTOR", count)
    return problem(
        working,
        working.ask("XF_AMPACITY", *given, ambient, count),
        f"{site.place}: {count} current-carrying conductors, {named(size)} {metal} THHN, share "
        f"a raceway to {site.load}, where it is {plain_text(ambient)} °C "
        f"({plain_text(ambient * 1.8 + 32)} °F). The terminals are marked 75 °C.",
        "What is the usable ampacity of each conductor?",
        "A",
        tolerance=0.5,
        unsafe="large",
        slips=(
            (ask("XF_AMPACITY", *given, 30.0, count), "the ambient temperature was left out"),
            (
                ask("XF_AMPACITY", *given, ambient, 3.0),
                "the number of conductors in the raceway was left out",
            ),
            (at_75, "nothing was corrected"),
            (at_75 * factors, "corrected from the 75 °C column, where the insulation's serves"),
        ),
    )


@kind("Breaker for a conductor", "Conductors", 2, "240.4", "Table 310.16", "240.6(A)")
def breaker_for_a_conductor(draw: Draw, site: Site) -> Problem:
    size = draw.one_of("size", ("14", "12", "10", *FEEDER_SIZES))
    metal = draw.one_of("metal", METALS)
    if metal == "aluminum" and size == "14":
        raise Unusable("no aluminum in this size")
    given = (size, metal, "THHN")
    working = Working()
    return problem(
        working,
        working.ask("XF_DEVICE_LIMIT", *given, 75),
        f"{site.place}: {named(size)} {metal} THHN conductors are already in the raceway to "
        f"{site.load}: {CONDITIONS}. They are a feeder, no tap and no transformer secondary.",
        "What is the largest standard breaker that protects them?",
        "A",
        RATING,
        unsafe="large",
        slips=(
            (ask("XF_DEVICE_LIMIT", *given, 60), "read in the 60 °C column"),
            (
                ask("XF_DEVICE_LIMIT", *given, 75, 30.0, 3.0, False),
                "the next size up of 240.4(B) was not used",
            ),
            (
                ask("XF_STANDARD_RATING", ask("XF_TABLE_AMPACITY", size, metal, "THHN")),
                "read in the 90 °C column",
            ),
        ),
    )


@kind("Secondary ampacity", "Conductors", 2, "240.21(C)")
def secondary_ampacity(draw: Draw, site: Site) -> Problem:
    primary = draw.one_of("primary", (100.0, 125.0, 150.0, 200.0, 225.0, 250.0, 400.0))
    volts = draw.one_of("volts", (208.0, 240.0))
    length = draw.one_of("length", (6.0, 8.0, 9.0, 15.0, 18.0, 22.0, 24.0))
    end = draw.one_of("end", (60.0, 100.0, 150.0, 200.0, 225.0, 300.0))
    load = float(round(0.7 * end))
    if end > primary * 480 / volts * 1.25:
        raise Unusable("more on the secondary than the primary device passes")
    given = (primary, 480.0, volts, length, end, load)
    working = Working()
    other = 20.0 if length <= 10 else 8.0
    return problem(
        working,
        working.ask("XF_SECONDARY_AMPACITY", *given),
        f"{site.place}: a {plain_text(primary)} A breaker protects the 480 V primary of a "
        f"three-phase transformer. One set of secondary conductors, {plain_text(volts)} V and "
        f"{plain_text(length)} ft long, ends in a single {plain_text(end)} A breaker for "
        f"{site.load}, with a load of {plain_text(load)} A. They leave the transformer's "
        "enclosure and are protected from damage.",
        "Which ampacity must these secondary conductors have at least?",
        "A",
        tolerance=0.5,
        unsafe="small",
        slips=(
            (
                ask("XF_SECONDARY_AMPACITY", primary, 480.0, volts, other, end, load),
                f"the rule for {'over 10 ft' if length <= 10 else 'up to 10 ft'} was used",
            ),
            (load, "the load alone"),
            (end, "the breaker at the end alone"),
            (
                primary * volts / 480 / (10 if length <= 10 else 3),
                "the ratio of the voltages is upside down",
            ),
        ),
    )


@kind("Voltage drop", "Voltage", 2, "Chapter 9, Table 9")
def voltage_drop(draw: Draw, site: Site) -> Problem:
    size = draw.one_of("size", ("6", "4", "2", "1", "1/0", "2/0", "3/0", "4/0", "250"))
    length = draw.one_of("length", steps_of(80, 320, 10))
    part = draw.one_of("part", (0.5, 0.6, 0.7, 0.8))
    conduit = draw.one_of("conduit", ("steel", "pvc"))
    amps = float(round(part * ask("XF_TABLE_AMPACITY", size, "copper", 75)))
    given = (amps, length, size)
    working = Working()
    return problem(
        working,
        working.ask("XF_VOLTAGE_DROP", *given, 3, 0.85, "copper", conduit),
        f"{site.place}: a three-phase feeder of {named(size)} copper in "
        f"{'steel' if conduit == 'steel' else 'PVC'} conduit runs {plain_text(length)} ft (one "
        f"way) to {site.load} and carries {plain_text(amps)} A at a power factor of 0.85.",
        "What is the voltage drop line to line, found with R cos φ + X sin φ?",
        "V",
        unsafe="small",
        slips=(
            (
                ask("XF_VOLTAGE_DROP", *given, 1, 0.85, "copper", conduit),
                "2 was used where √3 belongs",
            ),
            (
                ask("XF_VOLTAGE_DROP", *given, 1, 0.85, "copper", conduit) / 2,
                "√3 was left out",
            ),
            (
                ask("XF_VOLTAGE_DROP", *given, 3, 0.85, "aluminum", conduit),
                "read in the columns for aluminum",
            ),
            (
                ask("XF_VOLTAGE_DROP", *given, 3, 1.0, "copper", conduit),
                "the resistance alone was used",
            ),
        ),
    )


@kind("Size for a drop", "Voltage", 2, "Chapter 9, Table 9")
def size_for_a_drop(draw: Draw, site: Site) -> Problem:
    volts = draw.one_of("volts", (208.0, 240.0, 480.0))
    amps = draw.one_of("amps", steps_of(30, 150, 5))
    length = draw.one_of("length", steps_of(120, 480, 20))
    limit = draw.one_of("limit", (2.0, 3.0))
    given = (amps, volts, length)
    working = Working()
    size = working.ask("XF_SIZE_FOR_DROP", *given, limit)
    number = SIZES.read(size)
    if SIZES.number["8"] > number or number > SIZES.number["500"]:
        raise Unusable("beyond the sizes of an ordinary feeder")
    smaller = str(SIZES.names[number - 1])
    drops = [ask("XF_VOLTAGE_DROP_PERCENT", *given, one) for one in (size, smaller)]
    if any(abs(drop / limit - 1) < 0.02 for drop in drops):
        raise Unusable("too near the limit")
    return problem(
        working,
        size,
        f"{site.place}: a three-phase {plain_text(volts)} V feeder in steel conduit is to carry "
        f"{plain_text(amps)} A at a power factor of 0.85 over {plain_text(length)} ft (one way) "
        f"to {site.load}.",
        f"What is the smallest copper size of Table 9 that keeps the voltage drop within "
        f"{plain_text(limit)} %? (Voltage drop alone; R cos φ + X sin φ.)",
        "AWG or kcmil",
        SIZE,
        unsafe="small",
        slips=((ask("XF_SIZE_FOR_DROP", *given, limit, 1), "2 was used where √3 belongs"),),
    )


@kind("Fault current", "Fault", 2)
def fault_current(draw: Draw, site: Site) -> Problem:
    kva = draw.one_of("kva", TRANSFORMERS)
    volts = draw.one_of("volts", (208.0, 240.0, 480.0))
    impedance = draw.one_of("impedance", (2.4, 3.2, 3.9, 4.5, 5.1, 5.75))
    working = Working()
    return problem(
        working,
        working.ask("XF_FAULT_CURRENT", kva, volts, impedance),
        f"{site.place}: the transformer for {site.load} is three-phase, {plain_text(kva)} kVA, "
        f"with a {plain_text(volts)} V secondary and an impedance of {plain_text(impedance)} %. "
        "Take the source ahead of it as unlimited and leave motors out.",
        "What is the symmetrical three-phase fault current at the secondary terminals?",
        "A",
        unsafe="small",
        slips=(
            (ask("XF_FAULT_CURRENT", kva, volts, impedance, 1), "√3 was left out"),
            (ask("XF_FULL_LOAD_CURRENT", kva, volts), "that is the full-load current"),
        ),
    )


@kind("Raceway size", "Raceway", 2, "Chapter 9, Tables 1, 4 and 5")
def raceway_size(draw: Draw, site: Site) -> Problem:
    raceway = draw.one_of("raceway", ("EMT", "RMC", "PVC40"))
    phase = draw.one_of("phase", ("8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0", "250"))
    count = draw.one_of("count", (3, 4))
    device = ask("XF_DEVICE_LIMIT", phase, "copper", "THHN", 75)
    ground = ask("XF_EQUIPMENT_GROUND", device)
    if SIZES.read(ground) == SIZES.read(phase):
        raise Unusable("conductors of one size have a rule of their own, note 7")
    told = {"EMT": "EMT", "RMC": "rigid metal conduit", "PVC40": "PVC conduit, schedule 40"}
    working = Working()
    return problem(
        working,
        working.ask("XF_RACEWAY_SIZE", raceway, "THHN", phase, count, ground, 1),
        f"{site.place}: {count} conductors of {named(phase)} and one of {ground} run to "
        f"{site.load}, all insulated THHN. They share one run of {told[raceway]}, no nipple.",
        "What is the smallest trade size of the raceway?",
        "in (trade size)",
        TRADE_SIZE,
        unsafe="small",
        slips=(
            (
                ask("XF_RACEWAY_SIZE", raceway, "THHN", phase, count),
                "the equipment grounding conductor was left out",
            ),
            (
                ask("XF_RACEWAY_SIZE", raceway, "THHN", phase, count, ground, 1, *[None] * 4, True),
                "filled to 60 %, as only a nipple may be",
            ),
        ),
    )


@kind("Tap", "Voltage", 2)
def tap(draw: Draw, site: Site) -> Problem:
    nominal = draw.one_of("nominal", (208.0, 240.0, 480.0))
    percent = draw.one_of("percent", (-9.0, -7.2, -5.2, -4.6, -2.7, -2.2, 2.4, 2.8, 4.8))
    reading = float(round(nominal * (1 + percent / 100)))
    working = Working()
    answer = working.ask("XF_TAP", reading, nominal, 2.5, 2, 4)
    return problem(
        working,
        answer,
        f"{site.place}: on its 0 % tap the transformer for {site.load} gives "
        f"{plain_text(reading)} V where {plain_text(nominal)} V is wanted. The primary has two "
        "taps of 2.5 % above the rated voltage and four of 2.5 % below.",
        "Which tap brings the secondary nearest to what is wanted? Answer in percent of the "
        "rated primary voltage, with its sign.",
        "%",
        TAP,
        tolerance=0.05,
    )
