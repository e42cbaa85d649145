"""What the site asks: working space, wire to buy, heat, sound and colors."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import tables
from .designations import choice
from .errors import require
from .limits import at_least, at_most, first_at_least, within_limits
from .registry import worksheet
from .steps import note

_SPACE = tables.read("working_space")
SPACE_VOLTS = np.unique(_SPACE["v_to_ground_max"])
# By voltage and condition 1, 2, 3. [ft]
DEPTH = np.array(
    [
        [
            _SPACE["depth_ft"][
                (_SPACE["v_to_ground_max"] == volts) & (_SPACE["condition"] == condition)
            ].item()
            for condition in (1, 2, 3)
        ]
        for volts in SPACE_VOLTS
    ]
)


@worksheet("XF_WORKING_DEPTH")
def working_depth(volts_to_ground: ArrayLike, condition: ArrayLike = 2) -> NDArray[np.float64]:
    """Depth of working space in front of electrical equipment.

    Parameters
    ----------
    volts_to_ground : number
        Nominal voltage to ground, such as 277 for 480Y/277. [V]
    condition : {1, 2, 3}
        What is opposite: 1 no live or grounded parts, 2 grounded parts, 3 exposed live parts.

    Returns
    -------
    depth : number
        Least depth, measured from live parts or from the front of the enclosure. [ft]

    Raises
    ------
    InputError
        Where an argument is outside its limits, or the voltage to ground is above 1000 V.

    Notes
    -----
    Concrete, brick and tile walls count as grounded: condition 2. Besides the depth the space needs
    a width of at least 30 in or that of the equipment, and a height of at least 6.5 ft or that of
    the equipment. The section allows less in named cases, and local rules may ask for more.

    References
    ----------
    .. [1] NFPA 70-2023, Table 110.26(A)(1).

    Examples
    --------
    =XF_WORKING_DEPTH(277, 2)
    """
    (volts_to_ground,) = within_limits(volts_to_ground=volts_to_ground)
    condition = choice("condition", condition)
    require(
        at_most(volts_to_ground, SPACE_VOLTS[-1]),
        f"volts_to_ground must be up to {SPACE_VOLTS[-1]:g} V: above it Table 110.34(A) applies",
    )

    depth = DEPTH[first_at_least(SPACE_VOLTS, volts_to_ground), condition.astype(np.intp) - 1]
    note(
        "Depth of working space",
        "{volts_to_ground} V to ground, condition {condition}",
        depth,
        "ft",
        "Table 110.26(A)(1)",
        volts_to_ground=volts_to_ground,
        condition=condition,
    )
    return np.asarray(depth)


@worksheet("XF_CONDUCTOR_LENGTH")
def conductor_length(
    run: ArrayLike, count: ArrayLike, tail: ArrayLike = 3, spare: ArrayLike = 5
) -> NDArray[np.float64]:
    """Length of wire to buy for a run.

    Parameters
    ----------
    run : number
        Length of the raceway from enclosure to enclosure. [ft]
    count : count
        Number of conductors of this size in the run, all sets together.
    tail : number
        Wire left free at each of the two ends. [ft]
    spare : number
        Allowance for waste. [%]

    Returns
    -------
    length : number
        Length to buy. [ft]

    Raises
    ------
    InputError
        Where an argument is outside its limits, or spare is above 0 and below 1 %, as a percent
        typed as a fraction is.

    Notes
    -----
    Length = count × (run + 2 × tail) × (1 + spare/100).

    Tails of 3 ft and 5% spare are common practice, no source; 312.6 and the size of the equipment
    may ask for longer tails.

    References
    ----------
    .. [1] Arithmetic; the default allowances are common practice, no source.

    Examples
    --------
    =XF_CONDUCTOR_LENGTH(50, 4)
    """
    run, count, tail, spare = within_limits(run=run, count=count, tail=tail, spare=spare)
    # A cell that shows 5% holds 0.05.
    require((spare == 0) | (spare >= 1), "spare must be 0, or from 1 to 100%: write 5 for 5%")

    length = count * (run + 2 * tail) * (1 + spare / 100)
    note(
        "Wire to buy",
        "{count} × ({run} ft + 2 × {tail} ft) × (1 + {spare}/100)",
        length,
        "ft",
        "arithmetic",
        count=count,
        run=run,
        tail=tail,
        spare=spare,
    )
    return np.asarray(length)


_EFFICIENCY = tables.read("transformer_efficiency")
REGULATED = {
    phases: (
        _EFFICIENCY["kva"][_EFFICIENCY["phases"] == phases],
        _EFFICIENCY["eff_pct_from_2016_01_01"][_EFFICIENCY["phases"] == phases],
    )
    for phases in (1, 3)
}
TEST_LOAD = np.unique(_EFFICIENCY["test_load_pct"]).item()


@worksheet("XF_HEAT_LOSS")
def heat_loss(
    kva: ArrayLike, load_percent: ArrayLike = 100, phases: ArrayLike = 3
) -> NDArray[np.float64]:
    """Heat that a low-voltage dry-type transformer gives off, estimated.

    Parameters
    ----------
    kva : number
        Rated apparent power of the transformer. [kVA]
    load_percent : number
        Load in percent of the rating, such as 100. [%]
    phases : {1, 3}
        Number of phases.

    Returns
    -------
    heat : number
        Losses at that load, given off as heat. [W]

    Raises
    ------
    InputError
        Where an argument is outside its limits, or the rating is outside the regulated sizes.

    Notes
    -----
    Losses at 35% load: P35 = 1000 S × 0.35 × (100/efficiency - 1). At another load:
    P = P35/2 × (1 + (load/35)²).

    The efficiency is the least that the regulation allows at 35% load for units made from 2016 on;
    between listed sizes it is interpolated by kVA, as the regulation says. Assumed: unity power
    factor, and no-load and load losses equal at 35% load, where the efficiency is then highest. A
    unit with less no-load loss gives off more at full load than this estimate, hot windings and
    harmonics add to it, and units made before 2016 may lose much more. Where ventilation or cooling
    depends on it, take the losses of the maker's data sheet.

    References
    ----------
    .. [1] 10 CFR 431.196(a)(2), low-voltage dry-type distribution transformers.

    Examples
    --------
    =XF_HEAT_LOSS(75)
    """
    kva, load_percent = within_limits(kva=kva, load_percent=load_percent)
    three = choice("phases", phases) == 3
    smallest = np.where(three, REGULATED[3][0][0], REGULATED[1][0][0])
    largest = np.where(three, REGULATED[3][0][-1], REGULATED[1][0][-1])
    require(
        at_least(kva, smallest) & at_most(kva, largest),
        "kva must be within the sizes that 10 CFR 431.196 lists: three-phase "
        f"{REGULATED[3][0][0]:g} to {REGULATED[3][0][-1]:g}, single-phase "
        f"{REGULATED[1][0][0]:g} to {REGULATED[1][0][-1]:g} kVA",
    )

    efficiency = np.where(three, np.interp(kva, *REGULATED[3]), np.interp(kva, *REGULATED[1]))
    at_test_load = 1000 * kva * TEST_LOAD / 100 * (100 / efficiency - 1)
    heat = at_test_load / 2 * (1 + (load_percent / TEST_LOAD) ** 2)
    note(
        "Efficiency at 35% load",
        "{kva} kVA, interpolated between listed sizes",
        efficiency,
        "%",
        "10 CFR 431.196(a)(2)",
        kva=kva,
    )
    note(
        "Losses at 35% load",
        "1000 × {kva} kVA × 0.35 × (100/{efficiency} - 1)",
        at_test_load,
        "W",
        "efficiency = output / (output + losses)",
        kva=kva,
        efficiency=efficiency,
    )
    note(
        "Heat",
        "{at_test_load} W / 2 × (1 + ({load_percent}/35)²)",
        heat,
        "W",
        "no-load and load losses taken as equal at 35% load",
        at_test_load=at_test_load,
        load_percent=load_percent,
    )
    return np.asarray(heat)


_SOUND = tables.read("sound_level")
SOUND_KVA = _SOUND["kva_max"]
SOUND_LEVEL = _SOUND["vent_k1_db"]


@worksheet("XF_SOUND_LEVEL")
def sound_level(kva: ArrayLike) -> NDArray[np.float64]:
    """Highest average sound level of a ventilated dry-type transformer.

    Parameters
    ----------
    kva : number
        Rated apparent power of the transformer. [kVA]

    Returns
    -------
    level : number
        Average sound level, as measured in the standard's test. [dB]

    Raises
    ------
    InputError
        Where the rating is outside its limits or above the largest of the table.

    Notes
    -----
    For ventilated units of 1.2 kV and below that are not built for harmonic loads (K-factor 1).
    The test is made at no load in a quiet room; hard walls, a loose mounting or harmonics make a
    transformer louder on site.

    References
    ----------
    .. [1] NEMA ST 20-2014, average sound levels (table from memory).

    Examples
    --------
    =XF_SOUND_LEVEL(75)
    """
    (kva,) = within_limits(kva=kva)
    require(
        at_most(kva, SOUND_KVA[-1]),
        f"kva must be up to {SOUND_KVA[-1]:g} kVA, where the table of NEMA ST 20 ends",
    )

    level = SOUND_LEVEL[first_at_least(SOUND_KVA, kva)]
    note(
        "Average sound level",
        "{kva} kVA, ventilated, not for harmonic loads",
        level,
        "dB",
        "NEMA ST 20",
        kva=kva,
    )
    return np.asarray(level)


# Common practice: one set of colors for the 120/240 V and 208Y/120 V systems, one for 480 V.
LOW_UP_TO = 250
HIGH_UP_TO = 600
LOW, HIGH_LEG, HIGH = 0, 1, 2
NOT_A_RULE = (
    "common practice, not a code rule: 210.5(C) and 215.12 ask that the identification used be "
    "posted"
)
COLORS = np.array(
    [
        f"black, red, blue; neutral white ({NOT_A_RULE})",
        f"black, red, blue; neutral white; a high leg must be orange, 110.15 ({NOT_A_RULE})",
        f"brown, orange, yellow; neutral gray ({NOT_A_RULE})",
    ]
)
# A 240/120 V delta has its high leg at this line voltage; 208 V systems have none.
HIGH_LEG_FROM = 220


@worksheet("XF_PHASE_COLORS")
def phase_colors(volts: ArrayLike) -> NDArray[np.str_]:
    """Usual insulation colors of the phases and the neutral.

    Parameters
    ----------
    volts : number
        Voltage of the system, line to line. [V]

    Returns
    -------
    colors : designation
        Colors of phases A, B, C and of the neutral, in words.

    Raises
    ------
    InputError
        Where the voltage is above 600 V, for which there is no common practice.

    Notes
    -----
    Common practice: black, red, blue and a white neutral up to 250 V (single-phase: black, red),
    brown, orange, yellow and a gray neutral above. What the rules do ask for: white or gray for a
    grounded conductor (200.6), green or bare for an equipment grounding conductor (250.119), orange
    for the high leg of a delta (110.15, 230.56). Local rules and the colors already in a building
    go before this.

    References
    ----------
    .. [1] Common practice, no source.
    .. [2] NFPA 70-2023, 200.6, 210.5(C), 215.12 and 110.15, for what is asked.

    Examples
    --------
    =XF_PHASE_COLORS(480)
    """
    (volts,) = within_limits(volts=volts)
    require(
        at_most(volts, HIGH_UP_TO),
        f"volts must be up to {HIGH_UP_TO} V: above it there is no common practice",
    )

    low = at_most(volts, LOW_UP_TO)
    colors = COLORS[np.where(low, np.where(at_least(volts, HIGH_LEG_FROM), HIGH_LEG, LOW), HIGH)]
    note("Phase colors", "{volts} V line to line", colors, "", "common practice", volts=volts)
    return np.asarray(colors)
