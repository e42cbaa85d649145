"""Currents and ratings of transformer windings."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import tables
from .designations import choice, system_voltages
from .errors import require
from .limits import first_at_least, within_limits
from .registry import worksheet
from .steps import note

SQRT3 = np.sqrt(3.0)


@worksheet("XF_FULL_LOAD_CURRENT")
def full_load_current(
    kva: ArrayLike, volts: ArrayLike, phases: ArrayLike = 3
) -> NDArray[np.float64]:
    """Line current of a transformer winding at its rated load.

    Parameters
    ----------
    kva : number
        Rated apparent power of the transformer. [kVA]
    volts : number
        Rated voltage of the winding, line to line. [V]
    phases : {1, 3}
        Number of phases.

    Returns
    -------
    current : number
        Line current at rated load. [A]

    Raises
    ------
    InputError
        Where an argument is outside its limits.

    Notes
    -----
    Three-phase: I = 1000 S / (√3 V). Single-phase: I = 1000 S / V.

    References
    ----------
    .. [1] Definition of apparent power: S = V I single-phase, S = √3 V I three-phase.

    Examples
    --------
    =XF_FULL_LOAD_CURRENT(75, 480)
    """
    kva, volts = within_limits(kva=kva, volts=volts)
    three = choice("phases", phases) == 3

    current = 1000 * kva / (np.where(three, SQRT3, 1.0) * volts)
    note(
        "Full-load current",
        "1000 × {kva} kVA / (√3 × {volts} V)",
        current,
        "A",
        "S = √3 V I",
        where=three,
        kva=kva,
        volts=volts,
    )
    note(
        "Full-load current",
        "1000 × {kva} kVA / {volts} V",
        current,
        "A",
        "S = V I",
        where=~three,
        kva=kva,
        volts=volts,
    )
    return current


@worksheet("XF_APPARENT_POWER")
def apparent_power(amps: ArrayLike, volts: ArrayLike, phases: ArrayLike = 3) -> NDArray[np.float64]:
    """Apparent power of a load from its line current.

    Parameters
    ----------
    amps : number
        Line current. [A]
    volts : number
        Voltage, line to line; single-phase: between the two conductors. [V]
    phases : {1, 3}
        Number of phases.

    Returns
    -------
    power : number
        Apparent power. [kVA]

    Raises
    ------
    InputError
        Where an argument is outside its limits.

    Notes
    -----
    Three-phase: S = √3 V I / 1000. Single-phase: S = V I / 1000.

    References
    ----------
    .. [1] Definition of apparent power: S = V I single-phase, S = √3 V I three-phase.

    Examples
    --------
    =XF_APPARENT_POWER(90.2, 480)
    """
    amps, volts = within_limits(amps=amps, volts=volts)
    three = choice("phases", phases) == 3

    power = np.where(three, SQRT3, 1.0) * volts * amps / 1000
    note(
        "Apparent power",
        "√3 × {volts} V × {amps} A / 1000",
        power,
        "kVA",
        "S = √3 V I",
        where=three,
        volts=volts,
        amps=amps,
    )
    note(
        "Apparent power",
        "{volts} V × {amps} A / 1000",
        power,
        "kVA",
        "S = V I",
        where=~three,
        volts=volts,
        amps=amps,
    )
    return power


PREFERRED = tables.read("preferred_kva")
RATINGS = {phases: PREFERRED["kva"][PREFERRED["phases"] == phases] for phases in (1, 3)}


def _preferred(phases: int, kva: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the preferred rating at or above `kva`, NaN above the list."""
    listed = np.append(RATINGS[phases], np.nan)
    return np.asarray(listed[first_at_least(RATINGS[phases], kva)])


@worksheet("XF_STANDARD_KVA")
def standard_kva(kva: ArrayLike, phases: ArrayLike = 3) -> NDArray[np.float64]:
    """Smallest preferred transformer rating that carries a load.

    Parameters
    ----------
    kva : number
        Load. [kVA]
    phases : {1, 3}
        Number of phases.

    Returns
    -------
    rating : number
        Preferred rating, at or above the load. [kVA]

    Raises
    ------
    InputError
        Where the load is above the largest preferred rating of the list.

    Notes
    -----
    A rating counts where either list has it. The load is taken as it is given: a margin for
    growth, temperature or harmonics is the designer's.

    References
    ----------
    .. [1] Preferred ratings of IEEE C57.12.01 and NEMA ST 20 (lists from memory).
    .. [2] 10 CFR 431.196(a)(2), sizes regulated (read).

    Examples
    --------
    =XF_STANDARD_KVA(62)
    """
    (kva,) = within_limits(kva=kva)
    three = choice("phases", phases) == 3

    rating = np.where(three, _preferred(3, kva), _preferred(1, kva))
    require(
        ~np.isnan(rating),
        "kva is above the largest preferred rating ("
        f"{RATINGS[3][-1]:g} kVA three-phase, {RATINGS[1][-1]:g} kVA single-phase)",
    )
    note(
        "Standard rating",
        "next preferred rating at or above {kva} kVA",
        rating,
        "kVA",
        "IEEE C57.12.01, NEMA ST 20",
        kva=kva,
    )
    return rating


@worksheet("XF_VOLTS_TO_GROUND")
def volts_to_ground(system: ArrayLike) -> NDArray[np.float64]:
    """Highest voltage to ground of a system.

    Parameters
    ----------
    system : designation
        System voltage such as 480Y/277, 208Y/120, 120/240, 480 delta or 240/120 delta.

    Returns
    -------
    voltage : number
        Highest voltage between a conductor and ground. [V]

    Raises
    ------
    InputError
        Where the system is not written in one of these ways.

    Notes
    -----
    Grounded wye and mid-tapped single-phase: the lower voltage of the pair. Delta without a
    second voltage, ungrounded or corner-grounded: the line voltage. Mid-tapped delta: the high
    leg, which stands at the square root of three times half the line voltage.

    References
    ----------
    .. [1] NFPA 70-2023, Article 100, Voltage to Ground.

    Examples
    --------
    =XF_VOLTS_TO_GROUND("480Y/277")
    """
    line, ground = system_voltages(system)
    note(
        "Voltage to ground",
        "highest voltage to ground of a system with {line} V line to line",
        ground,
        "V",
        "Article 100, Voltage to Ground",
        line=line,
    )
    return ground
