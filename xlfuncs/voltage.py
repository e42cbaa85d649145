"""Voltage drop of a run: the drop, the longest run and the size that keep to a limit."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .cable import RESISTANCE, require_listed, require_parallel, resistance_and_reactance
from .designations import SIZES, choice
from .errors import require
from .limits import at_most, within_limits
from .registry import worksheet
from .steps import note

SQRT3 = np.sqrt(3.0)

SMALLEST_PARALLEL = SIZES.number["1/0"]  # NFPA 70-2023, 310.10(G)

# The sizes of Chapter 9 Table 9, smallest first.
LISTED = np.flatnonzero(~np.isnan(RESISTANCE[0, 0]))


def _effective_impedance(
    size: NDArray[np.intp],
    power_factor: NDArray[np.float64],
    material: ArrayLike,
    conduit: ArrayLike,
) -> NDArray[np.float64]:
    """R cos + X sin of one conductor, refused where Table 9 has none. [ohm per 1000 ft]"""
    resistance, reactance = resistance_and_reactance(size, material, conduit)
    require_listed(resistance)
    sine = np.sqrt(1 - power_factor**2)
    impedance = resistance * power_factor + reactance * sine
    note(
        "Effective impedance",
        "{resistance} × {power_factor} + {reactance} × {sine}",
        impedance,
        "ohm/1000 ft",
        "Chapter 9 Table 9, R cos + X sin",
        resistance=resistance,
        power_factor=power_factor,
        reactance=reactance,
        sine=sine,
    )
    return np.asarray(impedance)


def _way(three: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Factor from the drop of one conductor to the drop between lines, or out and back."""
    return np.where(three, SQRT3, 2.0)


@worksheet("XF_VOLTAGE_DROP")
def voltage_drop(
    amps: ArrayLike,
    length: ArrayLike,
    size: ArrayLike,
    phases: ArrayLike = 3,
    power_factor: ArrayLike = 0.85,
    material: ArrayLike = "copper",
    conduit: ArrayLike = "steel",
    sets: ArrayLike = 1,
) -> NDArray[np.float64]:
    r"""Voltage drop of a run, line to line, or out and back where single-phase.

    Parameters
    ----------
    amps : number
        Current of the load, all sets together. [A]
    length : number
        One-way length of the run. [ft]
    size : designation
        Conductor size such as 6, 1/0 or 250.
    phases : {1, 3}
        Number of phases.
    power_factor : number
        Power factor of the load, lagging, such as 0.85. [-]
    material : {'copper', 'aluminum'}
        Conductor material.
    conduit : {'steel', 'aluminum', 'pvc'}
        Conduit around the conductors.
    sets : count
        Parallel sets of conductors, 1/0 and larger.

    Returns
    -------
    drop : number
        Voltage drop, phase to phase or to the return. [V]

    Raises
    ------
    InputError
        Where an argument is outside its limits, the size is not in Table 9, or sets in parallel
        are smaller than 1/0.

    Notes
    -----
    .. math:: \Delta V = \sqrt{3}\,I\,(R\cos\varphi + X\sin\varphi)\,\frac{L}{1000\,n},
              \qquad \text{single-phase: } 2 \text{ in place of } \sqrt{3}

    R and X are the printed values of the table for three single conductors in one conduit at
    75 degC and 60 Hz. They have two or three digits, so the last digit of an answer says little.
    The formula is a close approximation: the exact drop is never smaller, and larger by at most
    half the square of I Z over V; with I Z at 5 % of V, that is 0.13 % of V. A leading power factor
    is not covered.

    References
    ----------
    .. [1] NFPA 70-2023, Chapter 9 Table 9, with its note 2.
    .. [2] NFPA 70-2023, 310.10(G).

    Examples
    --------
    =XF_VOLTAGE_DROP(90, 150, "2")
    """
    amps, length = within_limits(amps=amps, length=length)
    index = SIZES.index("size", size)
    three = choice("phases", phases) == 3
    (power_factor,) = within_limits(power_factor=power_factor)
    material = choice("material", material)
    conduit = choice("conduit", conduit)
    (sets,) = within_limits(sets=sets)
    require_parallel(index, sets)

    impedance = _effective_impedance(index, power_factor, material, conduit)
    drop = _way(three) * amps * impedance * length / (1000 * sets)
    for way, there in (("√3", three), ("2", ~three)):
        note(
            "Voltage drop",
            way + " × {amps} A × {impedance} × {length} ft / (1000 × sets: {sets})",
            drop,
            "V",
            "Chapter 9 Table 9, note 2",
            where=there,
            amps=amps,
            impedance=impedance,
            length=length,
            sets=sets,
        )
    return np.asarray(drop)


@worksheet("XF_VOLTAGE_DROP_PERCENT")
def voltage_drop_percent(
    amps: ArrayLike,
    volts: ArrayLike,
    length: ArrayLike,
    size: ArrayLike,
    phases: ArrayLike = 3,
    power_factor: ArrayLike = 0.85,
    material: ArrayLike = "copper",
    conduit: ArrayLike = "steel",
    sets: ArrayLike = 1,
) -> NDArray[np.float64]:
    r"""Voltage drop of a run in percent of the voltage.

    Parameters
    ----------
    amps : number
        Current of the load, all sets together. [A]
    volts : number
        Voltage, line to line; single-phase: between the two conductors. [V]
    length : number
        One-way length of the run. [ft]
    size : designation
        Conductor size such as 6, 1/0 or 250.
    phases : {1, 3}
        Number of phases.
    power_factor : number
        Power factor of the load, lagging, such as 0.85. [-]
    material : {'copper', 'aluminum'}
        Conductor material.
    conduit : {'steel', 'aluminum', 'pvc'}
        Conduit around the conductors.
    sets : count
        Parallel sets of conductors, 1/0 and larger.

    Returns
    -------
    drop : number
        Voltage drop in percent of volts. [%]

    Raises
    ------
    InputError
        Where an argument is outside its limits, the size is not in Table 9, sets in parallel are
        smaller than 1/0, or the drop would be the whole voltage.

    Notes
    -----
    .. math:: 100\,\Delta V / V

    The drop is that of XF_VOLTAGE_DROP. The code recommends, and does not require, at most 3 % on
    a feeder or a branch circuit and 5 % on both together; a sensitive load may ask for less.

    References
    ----------
    .. [1] NFPA 70-2023, Chapter 9 Table 9, with its note 2.
    .. [2] NFPA 70-2023, informational notes of 210.19 and 215.2.

    Examples
    --------
    =XF_VOLTAGE_DROP_PERCENT(90, 480, 150, "2")
    """
    amps, volts = within_limits(amps=amps, volts=volts)
    drop = voltage_drop(amps, length, size, phases, power_factor, material, conduit, sets)
    require(
        drop < volts,
        "volts must be above the drop of the run: check amps, volts, length and size",
    )

    percent = 100 * drop / volts
    note(
        "Voltage drop in percent",
        "100 × {drop} V / {volts} V",
        percent,
        "%",
        "210.19 and 215.2, informational notes: 3 %, 5 % in all",
        drop=drop,
        volts=volts,
    )
    return np.asarray(percent)


@worksheet("XF_LONGEST_RUN")
def longest_run(
    amps: ArrayLike,
    volts: ArrayLike,
    size: ArrayLike,
    limit: ArrayLike = 3,
    phases: ArrayLike = 3,
    power_factor: ArrayLike = 0.85,
    material: ArrayLike = "copper",
    conduit: ArrayLike = "steel",
    sets: ArrayLike = 1,
) -> NDArray[np.float64]:
    r"""Longest run, one way, that keeps the voltage drop within a limit.

    Parameters
    ----------
    amps : number
        Current of the load, all sets together. [A]
    volts : number
        Voltage, line to line; single-phase: between the two conductors. [V]
    size : designation
        Conductor size such as 6, 1/0 or 250.
    limit : number
        Largest voltage drop allowed, in percent of volts: write 3 for 3 %. [%]
    phases : {1, 3}
        Number of phases.
    power_factor : number
        Power factor of the load, lagging, such as 0.85. [-]
    material : {'copper', 'aluminum'}
        Conductor material.
    conduit : {'steel', 'aluminum', 'pvc'}
        Conduit around the conductors.
    sets : count
        Parallel sets of conductors, 1/0 and larger.

    Returns
    -------
    run : number
        One-way length at which the drop reaches the limit. [ft]

    Raises
    ------
    InputError
        Where an argument is outside its limits, the size is not in Table 9, or sets in parallel
        are smaller than 1/0.

    Notes
    -----
    The voltage drop formula solved for the length:

    .. math:: L = \frac{1000\,n\,V\,p/100}{\sqrt{3}\,I\,(R\cos\varphi + X\sin\varphi)},
              \qquad \text{single-phase: } 2 \text{ in place of } \sqrt{3}

    Whether the conductor carries the current is another question: XF_AMPACITY.

    References
    ----------
    .. [1] NFPA 70-2023, Chapter 9 Table 9, with its note 2.
    .. [2] NFPA 70-2023, informational notes of 210.19 and 215.2 (3 %).

    Examples
    --------
    =XF_LONGEST_RUN(90, 480, "2")
    """
    amps, volts = within_limits(amps=amps, volts=volts)
    index = SIZES.index("size", size)
    (limit,) = within_limits(limit=limit)
    three = choice("phases", phases) == 3
    (power_factor,) = within_limits(power_factor=power_factor)
    material = choice("material", material)
    conduit = choice("conduit", conduit)
    (sets,) = within_limits(sets=sets)
    require_parallel(index, sets)

    impedance = _effective_impedance(index, power_factor, material, conduit)
    allowed = volts * limit / 100
    note(
        "Voltage drop allowed",
        "{limit} % of {volts} V",
        allowed,
        "V",
        "210.19 and 215.2, informational notes: 3 %, 5 % in all",
        limit=limit,
        volts=volts,
    )
    run = 1000 * sets * allowed / (_way(three) * amps * impedance)
    for way, there in (("√3", three), ("2", ~three)):
        note(
            "Longest run",
            "1000 × sets: {sets} × {allowed} V / (" + way + " × {amps} A × {impedance})",
            run,
            "ft",
            "Chapter 9 Table 9, note 2",
            where=there,
            sets=sets,
            allowed=allowed,
            amps=amps,
            impedance=impedance,
        )
    return np.asarray(run)


@worksheet("XF_SIZE_FOR_DROP")
def size_for_drop(
    amps: ArrayLike,
    volts: ArrayLike,
    length: ArrayLike,
    limit: ArrayLike = 3,
    phases: ArrayLike = 3,
    power_factor: ArrayLike = 0.85,
    material: ArrayLike = "copper",
    conduit: ArrayLike = "steel",
    sets: ArrayLike = 1,
) -> NDArray[np.str_]:
    """Smallest size that keeps the voltage drop of a run within a limit.

    Parameters
    ----------
    amps : number
        Current of the load, all sets together. [A]
    volts : number
        Voltage, line to line; single-phase: between the two conductors. [V]
    length : number
        One-way length of the run. [ft]
    limit : number
        Largest voltage drop allowed, in percent of volts: write 3 for 3 %. [%]
    phases : {1, 3}
        Number of phases.
    power_factor : number
        Power factor of the load, lagging, such as 0.85. [-]
    material : {'copper', 'aluminum'}
        Conductor material.
    conduit : {'steel', 'aluminum', 'pvc'}
        Conduit around the conductors.
    sets : count
        Parallel sets of conductors, 1/0 and larger.

    Returns
    -------
    size : designation
        Smallest size of Table 9 that keeps to the limit.

    Raises
    ------
    InputError
        Where an argument is outside its limits, or no size to 1000 kcmil keeps to the limit.

    Notes
    -----
    This is the size for the drop alone. It does not check that the conductor carries the current
    or that the overcurrent device protects it: take the larger of this size and those of
    XF_CONDUCTOR_SIZE and XF_PROTECTED_SIZE. Conductors made larger for the drop make the
    equipment grounding conductor larger too: XF_EQUIPMENT_GROUND.

    The answer is the size from which on all larger sizes keep to the limit as well; at a very
    low power factor a larger size can drop slightly more than its neighbor.

    References
    ----------
    .. [1] NFPA 70-2023, Chapter 9 Table 9, with its note 2.
    .. [2] NFPA 70-2023, informational notes of 210.19 and 215.2 (3 %).
    .. [3] NFPA 70-2023, 310.10(G).

    Examples
    --------
    =XF_SIZE_FOR_DROP(90, 480, 400)
    """
    amps, volts, length, limit = within_limits(amps=amps, volts=volts, length=length, limit=limit)
    three = choice("phases", phases) == 3
    (power_factor,) = within_limits(power_factor=power_factor)
    material = choice("material", material)
    conduit = choice("conduit", conduit)
    (sets,) = within_limits(sets=sets)

    # One more axis: the candidate sizes. `load` is all of the drop but the impedance.
    load = 100 * _way(three) * amps * length / (1000 * sets * volts)
    load, limit, power_factor, sets = np.broadcast_arrays(load, limit, power_factor, sets)
    resistance, reactance = resistance_and_reactance(
        LISTED, np.asarray(material)[..., None], np.asarray(conduit)[..., None]
    )
    sine = np.sqrt(1 - power_factor**2)
    percent = load[..., None] * (resistance * power_factor[..., None] + reactance * sine[..., None])
    keeps = at_most(percent, limit[..., None])
    keeps &= (sets[..., None] == 1) | (LISTED >= SMALLEST_PARALLEL)
    # Trailing sizes that keep to the limit, counted from the largest.
    holding = np.logical_and.accumulate(keeps[..., ::-1], axis=-1).sum(axis=-1)
    require(
        holding > 0,
        "limit is not kept by any size to 1000 kcmil: more sets, a shorter length or a higher "
        "limit is needed",
    )
    chosen = len(LISTED) - holding
    size = SIZES.names[LISTED[chosen]]
    smaller = np.maximum(chosen - 1, 0)
    smaller_percent = np.take_along_axis(percent, smaller[..., None], -1)[..., 0]
    note(
        "Next smaller size",
        "drops {percent} %, above {limit} %",
        SIZES.names[LISTED[smaller]],
        "",
        "Chapter 9 Table 9, R cos + X sin",
        where=smaller_percent > limit,
        percent=smaller_percent,
        limit=limit,
    )
    note(
        "Size for the drop",
        "drops {percent} %, within {limit} %",
        size,
        "",
        "Chapter 9 Table 9, R cos + X sin",
        percent=np.take_along_axis(percent, chosen[..., None], -1),
        limit=limit,
    )
    return np.asarray(size)
