"""Fault current at a transformer and at the end of a run."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .cable import require_listed, require_parallel, resistance_and_reactance
from .current import SQRT3, full_load_current
from .designations import SIZES, choice
from .errors import require
from .limits import at_most, within_limits, within_limits_or_blank
from .registry import worksheet
from .steps import note

# Chapter 9 Table 9 holds for 600 V cables, which serve up to this voltage at most.
LARGEST_VOLTS = 1000


@worksheet("XF_FAULT_CURRENT")
def fault_current(
    kva: ArrayLike,
    volts: ArrayLike,
    impedance: ArrayLike,
    phases: ArrayLike = 3,
    source_kva: ArrayLike | None = None,
) -> NDArray[np.float64]:
    """Symmetrical fault current at the secondary terminals of a transformer.

    Parameters
    ----------
    kva : number
        Rated apparent power of the transformer. [kVA]
    volts : number
        Rated secondary voltage, line to line. [V]
    impedance : number
        Impedance on the nameplate, such as 5.75. [%]
    phases : {1, 3}
        Number of phases.
    source_kva : number
        Fault power available at the primary terminals; blank is an unlimited source. [kVA]

    Returns
    -------
    current : number
        Symmetrical rms current of a bolted fault: three-phase, or single-phase line to line. [A]

    Raises
    ------
    InputError
        Where an argument is outside its limits.

    Notes
    -----
    I = 100 I_FL / (Z + 100 S / S_source), with I_FL the full-load current, Z the impedance in
    percent, S and S_source the power of transformer and source.

    The two impedances are added as magnitudes. That makes the current a little lower than the sum
    as vectors would; the unlimited source gives the highest. Three things raise the real current
    above this one: motors that run on the secondary (about four to six times their full-load
    current), an impedance below the nameplate's (tolerance about 10%; 0.9 times the impedance
    covers it), and, near a single-phase transformer with a mid tap, a fault from line to neutral.
    To choose the interrupting rating of equipment take the utility's figure for the source, add
    the motors, and have a licensed engineer check the study.

    References
    ----------
    .. [1] Ohm's law in per unit of the transformer's rating.
    .. [2] NFPA 70-2023, 110.9 and 110.24, for which such currents are needed.

    Examples
    --------
    =XF_FAULT_CURRENT(75, 208, 5)
    """
    kva, volts, impedance = within_limits(kva=kva, volts=volts, impedance=impedance)
    full_load = full_load_current(kva, volts, phases)
    (source_kva,) = within_limits_or_blank(source_kva=source_kva)

    unlimited = np.isnan(source_kva)
    source = np.where(unlimited, 0.0, 100 * kva / source_kva)
    current = 100 * full_load / (impedance + source)
    note(
        "Source impedance",
        "100 × {kva} kVA / {source_kva} kVA",
        source,
        "%",
        "per unit of the transformer's rating",
        where=~unlimited,
        kva=kva,
        source_kva=source_kva,
    )
    note(
        "Fault current",
        "100 × {full_load} A / ({impedance}% + {source}%)",
        current,
        "A",
        "Ohm's law, impedances added as magnitudes",
        where=~unlimited,
        full_load=full_load,
        impedance=impedance,
        source=source,
    )
    note(
        "Fault current",
        "100 × {full_load} A / {impedance}%",
        current,
        "A",
        "Ohm's law, unlimited source",
        where=unlimited,
        full_load=full_load,
        impedance=impedance,
    )
    return np.asarray(current)


@worksheet("XF_FAULT_AFTER_RUN")
def fault_after_run(
    fault_amps: ArrayLike,
    volts: ArrayLike,
    length: ArrayLike,
    size: ArrayLike,
    phases: ArrayLike = 3,
    material: ArrayLike = "copper",
    conduit: ArrayLike = "steel",
    sets: ArrayLike = 1,
    x_over_r: ArrayLike | None = None,
) -> NDArray[np.float64]:
    """Symmetrical fault current at the end of a run of conductors.

    Parameters
    ----------
    fault_amps : number
        Symmetrical fault current at the beginning of the run. [A]
    volts : number
        Voltage, line to line; single-phase: between the two conductors. [V]
    length : number
        One-way length of the run. [ft]
    size : designation
        Conductor size such as 6, 1/0 or 250.
    phases : {1, 3}
        Number of phases.
    material : {'copper', 'aluminum'}
        Conductor material.
    conduit : {'steel', 'aluminum', 'pvc'}
        Conduit around the conductors.
    sets : count
        Parallel sets of conductors, 1/0 and larger.
    x_over_r : number
        Reactance over resistance at the beginning of the run; blank adds magnitudes. [-]

    Returns
    -------
    current : number
        Symmetrical rms current of a bolted fault: three-phase, or between the two conductors. [A]

    Raises
    ------
    InputError
        Where an argument is outside its limits, the voltage is above 1000 V, Chapter 9 Table 9
        has no impedance for the size, or conductors in parallel are smaller than 1/0.

    Notes
    -----
    Source: Zs = V / (√3 Is). Cable, n sets: Zc = √(R² + X²) L / (1000 n). I = V / (√3 (Zs + Zc)).
    Single-phase without the √3, and with twice the length. With x_over_r the source impedance is
    split into resistance and reactance, and the two impedances are added as vectors.

    Which way the result errs: magnitudes add up to more than vectors, so that with x_over_r left
    blank the current comes out too low. Behind a small transformer and with conductors of its size
    that is up to 3%; where thin conductors leave a large source it can pass 20%, and 29% is the
    most that geometry allows. Too low is the careful side for a device that must still trip, and
    the wrong side for an interrupting rating: give x_over_r for that. Table 9 holds for conductors
    at 75 degC; in cold ones the resistance is about 16% less, which raises the current too. Motors
    along the way add to it. To choose the interrupting rating of equipment take the utility's
    figure for the source, add the motors, and have a licensed engineer check the study.

    References
    ----------
    .. [1] NFPA 70-2023, Chapter 9 Table 9, ohms to neutral of conductors in conduit.
    .. [2] Ohm's law; the sum of magnitudes is known as the point-to-point method.

    Examples
    --------
    =XF_FAULT_AFTER_RUN(9000, 208, 50, "3/0")
    """
    fault_amps, volts, length = within_limits(fault_amps=fault_amps, volts=volts, length=length)
    require(
        at_most(volts, LARGEST_VOLTS),
        f"volts must be up to {LARGEST_VOLTS} V: the cable impedances hold for low voltage",
    )
    index = SIZES.index("size", size)
    three = choice("phases", phases) == 3
    resistance, reactance = resistance_and_reactance(
        index, choice("material", material), choice("conduit", conduit)
    )
    require_listed(resistance)
    (sets,) = within_limits(sets=sets)
    require_parallel(index, sets)
    (x_over_r,) = within_limits_or_blank(x_over_r=x_over_r)

    root = np.where(three, SQRT3, 1.0)
    source = volts / (root * fault_amps)
    # Single-phase current goes out and comes back.
    way = np.where(three, 1.0, 2.0) * length / 1000 / sets
    cable_r, cable_x = way * resistance, way * reactance
    cable = np.hypot(cable_r, cable_x)
    as_vectors = ~np.isnan(x_over_r)
    source_r = source / np.hypot(1.0, x_over_r)
    source_x = source_r * x_over_r
    total = np.where(as_vectors, np.hypot(source_r + cable_r, source_x + cable_x), source + cable)
    current = volts / (root * total)

    note(
        "Source impedance",
        "{volts} V / (√3 × {fault_amps} A)",
        source,
        "ohm",
        "Ohm's law",
        where=three,
        volts=volts,
        fault_amps=fault_amps,
    )
    note(
        "Source impedance",
        "{volts} V / {fault_amps} A",
        source,
        "ohm",
        "Ohm's law",
        where=~three,
        volts=volts,
        fault_amps=fault_amps,
    )
    note(
        "Cable impedance",
        "{way} thousand ft × √({resistance}² + {reactance}²) ohm per 1000 ft",
        cable,
        "ohm",
        "Chapter 9 Table 9",
        way=way,
        resistance=resistance,
        reactance=reactance,
    )
    note(
        "Source resistance",
        "{source} / √(1 + {x_over_r}²); the reactance is {x_over_r} times it",
        source_r,
        "ohm",
        "X/R of the source",
        where=as_vectors,
        source=source,
        x_over_r=x_over_r,
    )
    note(
        "Total impedance",
        "{source} + {cable}, magnitudes",
        total,
        "ohm",
        "point-to-point method",
        where=~as_vectors,
        source=source,
        cable=cable,
    )
    note(
        "Total impedance",
        "√(({source_r} + {cable_r})² + ({source_x} + {cable_x})²)",
        total,
        "ohm",
        "impedances added as vectors",
        where=as_vectors,
        source_r=source_r,
        cable_r=cable_r,
        source_x=source_x,
        cable_x=cable_x,
    )
    note(
        "Fault current",
        "{volts} V / (√3 × {total} ohm)",
        current,
        "A",
        "Ohm's law",
        where=three,
        volts=volts,
        total=total,
    )
    note(
        "Fault current",
        "{volts} V / {total} ohm",
        current,
        "A",
        "Ohm's law",
        where=~three,
        volts=volts,
        total=total,
    )
    return np.asarray(current)
