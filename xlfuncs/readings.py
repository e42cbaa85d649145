"""Meter readings: deviation, unbalance, range, the tap to use, and what a set of them tells."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import tables
from .designations import choice
from .errors import require
from .limits import RELATIVE_TOLERANCE, at_least, at_most, within_limits
from .registry import worksheet
from .steps import note

RANGES = tables.read("voltage_ranges")


def _limits_by_nominal() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Nominal voltages, and their lowest and highest by range, place and end.

    A nominal voltage stands in several systems, line to line or line to neutral, with the same
    limits; each counts once.
    """
    found: dict[float, dict[str, list[list[float]]]] = {}
    for pair in ("ll", "ln"):
        columns = [
            f"{pair}_{place}_{end}" for place in ("service", "util") for end in ("min", "max")
        ]
        for row, nominal in enumerate(RANGES[f"{pair}_nominal"].tolist()):
            if nominal == nominal:
                values = [RANGES[column][row] for column in columns]
                found.setdefault(nominal, {})[str(RANGES.printed["range"][row])] = [
                    values[:2],
                    values[2:],
                ]
    nominals = sorted(found)
    return np.array(nominals), np.array([[found[n]["A"], found[n]["B"]] for n in nominals])


# RANGE_LIMITS[nominal, range A or B, service or utilization, lowest or highest]
NOMINALS, RANGE_LIMITS = _limits_by_nominal()
NOMINAL_LIST = ", ".join(f"{nominal:g}" for nominal in NOMINALS[:-1]) + f" or {NOMINALS[-1]:g}"


def service_limits(nominal: float) -> NDArray[np.float64]:
    """Lowest and highest service voltage of Range A and of Range B for a listed nominal. [V]"""
    return np.asarray(RANGE_LIMITS[np.searchsorted(NOMINALS, nominal), :, 0])


# A tap corrects a few percent. A reading further off has another cause, or is a slip.
FURTHEST_FOR_A_TAP = 20
LOWEST_TAP = 50


@worksheet("XF_VOLTAGE_DEVIATION")
def voltage_deviation(reading: ArrayLike, nominal: ArrayLike) -> NDArray[np.float64]:
    r"""Deviation of a reading from the nominal voltage, with its sign.

    Parameters
    ----------
    reading : number
        Voltage read. [V]
    nominal : number
        Nominal voltage between the same points. [V]

    Returns
    -------
    deviation : number
        Deviation in percent of nominal, negative where the reading is low. [%]

    Raises
    ------
    InputError
        Where an argument is outside its limits.

    Notes
    -----
    .. math:: 100\,(V - V_\text{nominal}) / V_\text{nominal}

    References
    ----------
    .. [1] Definition of a deviation in percent.

    Examples
    --------
    =XF_VOLTAGE_DEVIATION(474, 480)
    """
    reading, nominal = within_limits(reading=reading, nominal=nominal)

    deviation = 100 * (reading - nominal) / nominal
    note(
        "Deviation",
        "100 × ({reading} V - {nominal} V) / {nominal} V",
        deviation,
        "%",
        "definition",
        reading=reading,
        nominal=nominal,
    )
    return np.asarray(deviation)


@worksheet("XF_VOLTAGE_UNBALANCE", elementwise=False)
def voltage_unbalance(readings: ArrayLike) -> NDArray[np.float64]:
    r"""Voltage unbalance of three line-to-line readings.

    Parameters
    ----------
    readings : numbers
        The three line-to-line voltages. [V]

    Returns
    -------
    unbalance : number
        Largest deviation from the mean, in percent of the mean. [%]

    Raises
    ------
    InputError
        Where there are not three readings, one is outside its limits, or all are zero.

    Notes
    -----
    .. math:: 100\,\frac{\max_i |V_i - \bar V|}{\bar V}

    NEMA MG 1 derates motors above 1 % and advises against running them above 5 %; ANSI C84.1
    asks for at most 3 % at the meter without load.

    References
    ----------
    .. [1] NEMA MG 1, percent voltage unbalance.
    .. [2] ANSI C84.1, voltage unbalance.

    Examples
    --------
    =XF_VOLTAGE_UNBALANCE({474, 476, 473})
    """
    (readings,) = within_limits(readings=readings)
    require(readings.shape[-1:] == (3,), "readings must be three, line to line")
    mean = readings.mean(axis=-1)
    require(mean > 0, "readings are all zero")

    farthest = np.abs(readings - mean[..., None]).max(axis=-1)
    unbalance = 100 * farthest / mean
    first, second, third = np.moveaxis(readings, -1, 0)
    note(
        "Mean of the readings",
        "({first} V + {second} V + {third} V) / 3",
        mean,
        "V",
        "NEMA MG 1",
        first=first,
        second=second,
        third=third,
    )
    note(
        "Voltage unbalance",
        "100 × {farthest} V / {mean} V",
        unbalance,
        "%",
        "NEMA MG 1, largest deviation from the mean",
        farthest=farthest,
        mean=mean,
    )
    return np.asarray(unbalance)


@worksheet("XF_VOLTAGE_RANGE")
def voltage_range(
    reading: ArrayLike, nominal: ArrayLike, at: ArrayLike = "service"
) -> NDArray[np.str_]:
    """Voltage range that a reading falls in: A, B or outside.

    Parameters
    ----------
    reading : number
        Voltage read. [V]
    nominal : number
        Nominal voltage between the same points: 120, 208, 240, 277, 480 or 600. [V]
    at : {'service', 'utilization'}
        Where the reading was taken.

    Returns
    -------
    range : designation
        A, B or outside.

    Raises
    ------
    InputError
        Where an argument is outside its limits or the standard does not list the nominal voltage.

    Notes
    -----
    Range A is where a supply belongs, Range B is for a limited time and extent, outside both asks
    for prompt action. A reading on a limit is within it. The utilization limits are those of
    circuits that supply lighting, the narrower ones.

    References
    ----------
    .. [1] ANSI C84.1, Table 1, values of the 1995 to 2011 editions; later ones were not compared.

    Examples
    --------
    =XF_VOLTAGE_RANGE(474, 480)
    """
    reading, nominal = within_limits(reading=reading, nominal=nominal)
    place = np.asarray(choice("at", at) == "utilization", np.intp)
    row = np.minimum(
        np.searchsorted(NOMINALS, nominal * (1 - RELATIVE_TOLERANCE)), len(NOMINALS) - 1
    )
    require(
        np.isclose(NOMINALS[row], nominal, rtol=RELATIVE_TOLERANCE, atol=0),
        f"nominal must be {NOMINAL_LIST} V, the voltages of ANSI C84.1 to 600 V",
    )

    limits = np.moveaxis(RANGE_LIMITS[row, :, place], -1, 0)
    lowest, highest = limits
    within = at_least(reading[..., None], lowest) & at_most(reading[..., None], highest)
    found = np.where(within[..., 0], "A", np.where(within[..., 1], "B", "outside"))
    for number, name in enumerate("AB"):
        note(
            f"Range {name}",
            "{reading} V against {lowest} to {highest} V",
            np.where(within[..., number], "within", "outside"),
            "",
            "ANSI C84.1, Table 1",
            reading=reading,
            lowest=lowest[..., number],
            highest=highest[..., number],
        )
    return np.asarray(found)


@worksheet("XF_TAP")
def tap(
    reading: ArrayLike,
    nominal: ArrayLike,
    tap_step: ArrayLike = 2.5,
    above: ArrayLike = 2,
    below: ArrayLike = 4,
) -> NDArray[np.float64]:
    r"""Primary tap that brings the secondary reading nearest to nominal.

    Parameters
    ----------
    reading : number
        Secondary voltage, read with the transformer on its 0 % tap. [V]
    nominal : number
        Secondary voltage wanted. [V]
    tap_step : number
        Step between taps in percent of the rated primary voltage: write 2.5 for 2.5 %. [%]
    above : count
        Number of taps above the rated primary voltage.
    below : count
        Number of taps below the rated primary voltage.

    Returns
    -------
    tap : number
        Tap in percent of the rated primary voltage, -2.5 for one step below; 0 to leave it. [%]

    Raises
    ------
    InputError
        Where an argument is outside its limits, the taps reach below -50 %, or the reading is
        more than 20 % from nominal.

    Notes
    -----
    .. math:: V_\text{tap} = \frac{V}{1 + t/100}

    A tap below has fewer primary turns and raises the secondary: a low reading asks for a
    negative tap. Of two taps equally near, the one closer to 0 is taken. The answer is the
    nearest tap there is; where it is the last one, the voltage may still be off, so compare with
    XF_VOLTAGE_RANGE. A reading more than 20 % from nominal is no matter for a tap: look for an
    open phase or another nominal voltage (limit: common practice, no source).

    Taps are set with the transformer de-energized on both sides, locked out and proven dead, all
    phases alike, as the nameplate shows. Read at ordinary load, and consider the voltage at light
    load, when the supply is highest.

    References
    ----------
    .. [1] Turns ratio of a transformer: V2 = V1 N2 / N1.
    .. [2] UFC 3-520-01 (2002), 4-1.6.2: two taps of 2.5 % above and four below.

    Examples
    --------
    =XF_TAP(468, 480)
    """
    reading, nominal = within_limits(reading=reading, nominal=nominal)
    require(
        at_most(100 * np.abs(reading - nominal), FURTHEST_FOR_A_TAP * nominal),
        f"reading is more than {FURTHEST_FOR_A_TAP}% from nominal: no tap is meant for that",
    )
    tap_step, above, below = within_limits(tap_step=tap_step, above=above, below=below)
    require(
        at_most(tap_step * below, LOWEST_TAP),
        f"tap_step times below must be at most {LOWEST_TAP}%",
    )

    # One more axis: the taps from the one nearest 0, so that the first of equals is taken.
    most = int(max(above.max(initial=0), below.max(initial=0)))
    steps = np.array(sorted(range(-most, most + 1), key=abs))
    taps = tap_step[..., None] * steps
    there = (steps <= above[..., None]) & (steps >= -below[..., None])
    with np.errstate(divide="ignore"):
        predicted = reading[..., None] / (1 + taps / 100)
    off = np.where(there, np.abs(predicted - nominal[..., None]), np.inf)
    equal = off <= off.min(axis=-1, keepdims=True) + RELATIVE_TOLERANCE * nominal[..., None]
    best = equal.argmax(axis=-1)[..., None]
    taps, predicted, _ = np.broadcast_arrays(taps, predicted, off)
    chosen = np.take_along_axis(taps, best, -1)[..., 0] + 0.0
    note(
        "Secondary voltage on the tap",
        "{reading} V / (1 + {chosen} / 100), nearest to {nominal} V",
        np.take_along_axis(predicted, best, -1)[..., 0],
        "V",
        "V2 = V1 N2 / N1",
        reading=reading,
        chosen=chosen,
        nominal=nominal,
    )
    return np.asarray(chosen)
