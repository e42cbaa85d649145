"""Standard ratings of overcurrent devices, and the devices that loads and transformers take."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import tables
from .current import full_load_current
from .designations import choice
from .errors import require
from .limits import (
    RELATIVE_TOLERANCE,
    at_most,
    first_at_least,
    within_limits,
    within_limits_or_blank,
)
from .registry import worksheet
from .steps import is_recording, note

STANDARD = tables.read("standard_ratings")
RATINGS = STANDARD["rating_a"]
EDITIONS = np.array([2017, 2020, 2023])
DEVICES = ("breaker", "fuse")
# One list of standard ratings for each device and edition: True where it has the rating.
LISTED = np.array(
    [STANDARD[f"std_{device}_{edition}"] == 1 for device in DEVICES for edition in EDITIONS]
)


def _at_or_above() -> NDArray[np.float64]:
    """Rating of each list at or above each of `RATINGS`, NaN after the last."""
    found = np.full((len(LISTED), len(RATINGS) + 1), np.nan)
    for number in reversed(range(len(RATINGS))):
        found[:, number] = np.where(LISTED[:, number], RATINGS[number], found[:, number + 1])
    return found


def _at_or_below() -> NDArray[np.float64]:
    """Rating of each list at or below the one before each place of `RATINGS`, NaN at the first."""
    found = np.full((len(LISTED), len(RATINGS) + 1), np.nan)
    for number in range(len(RATINGS)):
        found[:, number + 1] = np.where(LISTED[:, number], RATINGS[number], found[:, number])
    return found


AT_OR_ABOVE = _at_or_above()
AT_OR_BELOW = _at_or_below()
SMALLEST = AT_OR_ABOVE[:, 0]


def _list_number(device: ArrayLike, edition: ArrayLike) -> NDArray[np.intp]:
    """Row of `LISTED` for a device and an edition."""
    place = np.searchsorted(EDITIONS, edition)
    return np.asarray(place + len(EDITIONS) * _is_fuse(device))


def _is_fuse(device: ArrayLike) -> NDArray[np.intp]:
    return np.asarray(np.asarray(device) == "fuse", np.intp)


def _rounded_up(amps: ArrayLike, number: NDArray[np.intp]) -> NDArray[np.float64]:
    return np.asarray(AT_OR_ABOVE[number, first_at_least(RATINGS, amps)])


def _rounded_down(amps: ArrayLike, number: NDArray[np.intp]) -> NDArray[np.float64]:
    amps = np.asarray(amps, float)
    place = np.searchsorted(RATINGS, amps * (1 + RELATIVE_TOLERANCE), side="right")
    # A missing current sorts last and must not become the largest rating.
    return AT_OR_BELOW[number, np.where(np.isnan(amps), 0, place)]


def next_rating(amps: ArrayLike, device: ArrayLike, edition: ArrayLike) -> NDArray[np.float64]:
    """Smallest standard rating at or above `amps`, NaN where there is none.

    `device` and `edition` are as `choice` returns them; nothing is refused here, so that a rule
    may try candidates along an axis of their own.
    """
    return _rounded_up(amps, _list_number(device, edition))


def rating_at_most(amps: ArrayLike, device: ArrayLike, edition: ArrayLike) -> NDArray[np.float64]:
    """Largest standard rating at or below `amps`, NaN where there is none; unchecked as well."""
    return _rounded_down(amps, _list_number(device, edition))


@worksheet("XF_STANDARD_RATING")
def standard_rating(
    amps: ArrayLike,
    rounding: ArrayLike = "up",
    device: ArrayLike = "breaker",
    edition: ArrayLike = 2023,
) -> NDArray[np.float64]:
    """Standard ampere rating of a fuse or breaker next to a current.

    Parameters
    ----------
    amps : number
        Current, such as a load or an ampacity. [A]
    rounding : {'up', 'down'}
        up: smallest standard rating at or above the current; down: largest at or below it.
    device : {'breaker', 'fuse'}
        Inverse-time circuit breaker or fuse; fuses have the ratings 1, 3, 6, 10 and 601 A too.
    edition : {2017, 2020, 2023}
        Edition of NFPA 70.

    Returns
    -------
    rating : number
        Standard ampere rating. [A]

    Raises
    ------
    InputError
        Where no standard rating lies on that side of the current.

    Notes
    -----
    A current within one part in a million of a standard rating counts as that rating. The 2023
    table adds 10 A; the five further fuse ratings stand in the text of the section.

    References
    ----------
    .. [1] NFPA 70-2023, 240.6(A) and Table 240.6(A).

    Examples
    --------
    =XF_STANDARD_RATING(112.8)
    """
    (amps,) = within_limits(amps=amps)
    up = choice("rounding", rounding) == "up"
    device = choice("device", device)
    edition = choice("edition", edition)

    number = _list_number(device, edition)
    rating = np.where(up, _rounded_up(amps, number), _rounded_down(amps, number))
    require(
        ~(up & np.isnan(rating)),
        f"amps is above the largest standard rating ({RATINGS[-1]:g} A)",
    )
    require(
        ~np.isnan(rating),
        "amps is below the smallest standard rating "
        f"(breaker {SMALLEST[0]:g} A, from the 2023 edition {SMALLEST[2]:g} A; "
        f"fuse {SMALLEST[-1]:g} A)",
    )
    note(
        "Standard rating",
        "smallest standard {device} rating at or above {amps} A",
        rating,
        "A",
        "240.6(A)",
        where=up,
        amps=amps,
        device=device,
    )
    note(
        "Standard rating",
        "largest standard {device} rating at or below {amps} A",
        rating,
        "A",
        "240.6(A)",
        where=~up,
        amps=amps,
        device=device,
    )
    return rating


CONTINUOUS_PERCENT = 125  # of the continuous load: 210.20(A) and 215.3


@worksheet("XF_LOAD_PROTECTION")
def load_protection(
    continuous: ArrayLike,
    noncontinuous: ArrayLike = 0,
    device: ArrayLike = "breaker",
    edition: ArrayLike = 2023,
) -> NDArray[np.float64]:
    r"""Smallest standard overcurrent device for a load.

    Parameters
    ----------
    continuous : number
        Load that runs for 3 hours or more. [A]
    noncontinuous : number
        Rest of the load. [A]
    device : {'breaker', 'fuse'}
        Inverse-time circuit breaker or fuse.
    edition : {2017, 2020, 2023}
        Edition of NFPA 70.

    Returns
    -------
    rating : number
        Standard ampere rating. [A]

    Raises
    ------
    InputError
        Where there is no load, or no standard rating is large enough.

    Notes
    -----
    .. math:: I = 1.25\,I_{continuous} + I_{noncontinuous}

    The next standard rating at or above I. An assembly listed for 100 % of its rating needs less
    and is not counted on here. Motors and other loads with rules of their own are not covered.

    References
    ----------
    .. [1] NFPA 70-2023, 210.20(A) (branch circuits) and 215.3 (feeders).
    .. [2] NFPA 70-2023, 240.6(A).

    Examples
    --------
    =XF_LOAD_PROTECTION(40, 10)
    """
    continuous, noncontinuous = within_limits(continuous=continuous, noncontinuous=noncontinuous)
    device = choice("device", device)
    edition = choice("edition", edition)
    load = continuous * CONTINUOUS_PERCENT / 100 + noncontinuous
    require(load > 0, "continuous and noncontinuous are both 0: one must be above 0 A")

    note(
        "Load for the device",
        f"{CONTINUOUS_PERCENT}% × {{continuous}} A + {{noncontinuous}} A",
        load,
        "A",
        "210.20(A), 215.3",
        continuous=continuous,
        noncontinuous=noncontinuous,
    )
    rating = next_rating(load, device, edition)
    require(
        ~np.isnan(rating),
        f"continuous at {CONTINUOUS_PERCENT}% plus noncontinuous is above the largest standard "
        f"rating ({RATINGS[-1]:g} A)",
    )
    note(
        "Standard rating",
        "smallest standard {device} rating at or above {load} A",
        rating,
        "A",
        "240.6(A)",
        device=device,
        load=load,
    )
    return rating


LOW_VOLTAGE = 1000.0  # V, where Table 450.3(B) ends and Table 450.3(A) begins

LOW = tables.read("transformer_protection_1000v")
FROM_AMPS = np.unique(LOW["current_at_least_a"])


def _low_column(column: str) -> NDArray[np.float64]:
    """Return a column of Table 450.3(B) for each rule (first axis) and each of `FROM_AMPS`."""
    rules = [
        ("primary_only", "primary"),
        ("primary_and_secondary", "primary"),
        ("primary_and_secondary", "secondary"),
    ]
    values = [
        LOW[column][
            (LOW.printed["method"] == method)
            & (LOW.printed["winding"] == winding)
            & (LOW["current_at_least_a"] <= amps)
            & ~(LOW["current_less_than_a"] <= amps)
        ]
        for method, winding in rules
        for amps in FROM_AMPS
    ]
    return np.array(values).reshape(len(rules), len(FROM_AMPS))


LOW_PERCENT = _low_column("max_pct")
LOW_NEXT_UP = _low_column("next_higher_std_ok") == 1

OVER = tables.read("transformer_protection_over_1000v")
OVER_PRIMARY_ONLY = np.flatnonzero(OVER.printed["location"] == "supervised_any_z")[0]
# Rows of Table 450.3(A) with a secondary device: by place (any, supervised), then by impedance.
OVER_ROWS = np.array(
    [np.flatnonzero(OVER.printed["location"] == place) for place in ("any", "supervised")]
)
OVER_IMPEDANCE = OVER["z_max_pct"][OVER_ROWS[0]]
# The percentages by device (as in DEVICES), then by row.
OVER_PRIMARY_PERCENT = np.array([OVER[f"pri_{device}_pct"] for device in DEVICES])
OVER_PRIMARY_NEXT_UP = OVER["pri_next_higher_ok"] == 1
OVER_SECONDARY_PERCENT = np.array([OVER[f"sec_over_1000v_{device}_pct"] for device in DEVICES])
OVER_SECONDARY_LOW_PERCENT = OVER["sec_1000v_or_less_pct"]
OVER_SECONDARY_NEXT_UP = OVER["sec_next_higher_ok"] == 1


def _low_rule(
    amps: ArrayLike, secondary: ArrayLike, secondary_protected: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Percent of Table 450.3(B), and where the next standard rating up may follow it."""
    amps = np.asarray(amps) * (1 + RELATIVE_TOLERANCE)
    step = np.searchsorted(FROM_AMPS, amps, side="right") - 1
    rule = np.where(secondary, 2, np.where(secondary_protected, 1, 0))  # as in _low_column
    return LOW_PERCENT[rule, step], LOW_NEXT_UP[rule, step]


def _over_row(impedance: ArrayLike, supervised: ArrayLike) -> NDArray[np.intp]:
    """Row of Table 450.3(A) with a secondary device; the last one where none fits."""
    step = np.minimum(first_at_least(OVER_IMPEDANCE, impedance), len(OVER_IMPEDANCE) - 1)
    return np.asarray(OVER_ROWS[np.asarray(supervised, np.intp), step])


def _impedance_holds(impedance: NDArray[np.float64]) -> NDArray[np.bool_]:
    return at_most(impedance, OVER_IMPEDANCE[-1])


IMPEDANCE_MESSAGE = (
    "impedance of the nameplate is needed over 1000 V, and must be "
    f"{OVER_IMPEDANCE[-1]:g}% or less (Table 450.3(A))"
)


def _refuse(
    ceiling: NDArray[np.float64],
    percent: NDArray[np.float64],
    smallest: NDArray[np.float64],
    missing: NDArray[np.bool_],
) -> None:
    """Refuse the elements whose limit lies outside the standard ratings.

    The message states the limit, so only the elements that share it are refused at once.
    """
    require(
        ~(missing & (ceiling > RATINGS[-1])),
        f"kva at these volts takes a device above the largest standard rating ({RATINGS[-1]:g} A)",
    )
    shown, percent, smallest, missing = np.broadcast_arrays(
        np.floor(ceiling * 100) / 100, percent, smallest, missing
    )
    first = np.unravel_index(np.argmax(missing), missing.shape)
    alike = missing & (shown == shown[first]) & (percent == percent[first])
    require(
        ~(alike & (smallest == smallest[first])),
        f"kva at these volts allows no device above {shown[first]:g} A ({percent[first]:g}% of "
        f"the rated current), and the smallest standard rating is {smallest[first]:g} A",
    )


def _largest_device(
    current: NDArray[np.float64],
    percent: NDArray[np.float64],
    next_up: NDArray[np.bool_],
    over: NDArray[np.bool_],
    device: ArrayLike,
    edition: ArrayLike,
) -> NDArray[np.float64]:
    """Largest standard device that a percentage of Table 450.3 allows, with its working."""
    ceiling = current * percent / 100
    number = _list_number(device, edition)
    rating = np.where(next_up, _rounded_up(ceiling, number), _rounded_down(ceiling, number))
    missing = np.isnan(rating)
    if missing.any():
        _refuse(ceiling, percent, SMALLEST[number], missing)

    if is_recording():
        for table, there in (("450.3(B)", ~over), ("450.3(A)", over)):
            note(
                "Limit of the table",
                "{percent}% × {current} A",
                ceiling,
                "A",
                f"Table {table}",
                where=there,
                percent=percent,
                current=current,
            )
            note(
                "Largest device",
                "next standard {device} rating at or above {ceiling} A",
                rating,
                "A",
                f"Table {table}, note 1; 240.6(A)",
                where=there & next_up,
                device=device,
                ceiling=ceiling,
            )
            note(
                "Largest device",
                "largest standard {device} rating at or below {ceiling} A",
                rating,
                "A",
                f"Table {table}; 240.6(A)",
                where=there & ~next_up,
                device=device,
                ceiling=ceiling,
            )
    return rating


@worksheet("XF_PRIMARY_PROTECTION")
def primary_protection(
    kva: ArrayLike,
    volts: ArrayLike,
    phases: ArrayLike = 3,
    secondary_protected: ArrayLike = False,
    device: ArrayLike = "breaker",
    impedance: ArrayLike | None = None,
    supervised: ArrayLike = False,
    edition: ArrayLike = 2023,
) -> NDArray[np.float64]:
    """Largest overcurrent device that is allowed on the primary of a transformer.

    Parameters
    ----------
    kva : number
        Rated apparent power of the transformer. [kVA]
    volts : number
        Rated voltage of the primary, line to line. [V]
    phases : {1, 3}
        Number of phases.
    secondary_protected : {TRUE, FALSE}
        TRUE where the secondary has a device within its own limit.
    device : {'breaker', 'fuse'}
        Inverse-time circuit breaker or fuse.
    impedance : number
        Impedance of the nameplate; needed over 1000 V only. [%]
    supervised : {TRUE, FALSE}
        TRUE where only qualified persons monitor and service it; counts over 1000 V only.
    edition : {2017, 2020, 2023}
        Edition of NFPA 70.

    Returns
    -------
    rating : number
        Standard ampere rating. [A]

    Raises
    ------
    InputError
        Where the limit lies outside the standard ratings, or Table 450.3(A) has no row.

    Notes
    -----
    This protects the transformer. The conductors need their own protection (240.4, 240.21), and
    the authority having jurisdiction decides.

    1000 V or less, primary only: 125 %, next standard rating up; below 9 A 167 % and below 2 A
    300 %, both ceilings. With a protected secondary: 250 %, a ceiling. A ceiling gives the
    standard rating at or below it. Thermal overload protection inside the unit, which allows
    more, is not counted on.

    Over 1000 V the impedance decides, and the secondary must have a device too unless the place
    is supervised. There the table's note 1 means the next rating that is commercially available:
    compare the answer, a rating of 240.6(A), with the maker's list. The voltage of the primary
    alone is known here: a step-up unit with a secondary over 1000 V is not covered.

    References
    ----------
    .. [1] NFPA 70-2023, 450.3(A) and Table 450.3(A), over 1000 V.
    .. [2] NFPA 70-2023, 450.3(B) and Table 450.3(B), 1000 V or less.
    .. [3] NFPA 70-2023, 240.6(A).

    Examples
    --------
    =XF_PRIMARY_PROTECTION(75, 480)
    """
    kva, volts = within_limits(kva=kva, volts=volts)
    phases = choice("phases", phases)
    secondary_protected = choice("secondary_protected", secondary_protected).astype(bool)
    device = choice("device", device)
    (impedance,) = within_limits_or_blank(impedance=impedance)
    supervised = choice("supervised", supervised).astype(bool)
    edition = choice("edition", edition)
    over = ~at_most(volts, LOW_VOLTAGE)
    require(
        ~over | secondary_protected | supervised,
        "secondary_protected must be TRUE over 1000 V, unless supervised is TRUE (Table 450.3(A))",
    )
    require(~over | ~secondary_protected | _impedance_holds(impedance), IMPEDANCE_MESSAGE)

    current = full_load_current(kva, volts, phases)
    low_percent, low_next_up = _low_rule(current, False, secondary_protected)
    row = np.where(secondary_protected, _over_row(impedance, supervised), OVER_PRIMARY_ONLY)
    percent = np.where(over, OVER_PRIMARY_PERCENT[_is_fuse(device), row], low_percent)
    next_up = np.where(over, OVER_PRIMARY_NEXT_UP[row], low_next_up)
    return _largest_device(current, percent, next_up, over, device, edition)


@worksheet("XF_SECONDARY_PROTECTION")
def secondary_protection(
    kva: ArrayLike,
    volts: ArrayLike,
    phases: ArrayLike = 3,
    device: ArrayLike = "breaker",
    primary_volts: ArrayLike | None = None,
    impedance: ArrayLike | None = None,
    supervised: ArrayLike = False,
    edition: ArrayLike = 2023,
) -> NDArray[np.float64]:
    """Largest overcurrent device that is allowed on the secondary of a transformer.

    Parameters
    ----------
    kva : number
        Rated apparent power of the transformer. [kVA]
    volts : number
        Rated voltage of the secondary, line to line. [V]
    phases : {1, 3}
        Number of phases.
    device : {'breaker', 'fuse'}
        Inverse-time circuit breaker or fuse.
    primary_volts : number
        Rated voltage of the primary; blank: 1000 V or less. [V]
    impedance : number
        Impedance of the nameplate; needed where a winding is over 1000 V. [%]
    supervised : {TRUE, FALSE}
        TRUE where only qualified persons monitor and service it; counts over 1000 V only.
    edition : {2017, 2020, 2023}
        Edition of NFPA 70.

    Returns
    -------
    rating : number
        Standard ampere rating. [A]

    Raises
    ------
    InputError
        Where the limit lies outside the standard ratings, or Table 450.3(A) has no row.

    Notes
    -----
    This protects the transformer. The secondary conductors need their own protection
    (240.21(C)), where the next rating up is not allowed; the authority having jurisdiction
    decides.

    Both windings 1000 V or less: 125 %, next standard rating up; below 9 A 167 %, a ceiling that
    gives the standard rating at or below it. The answer holds where a device is wanted; where
    the primary alone protects the unit, the table asks for none.

    A winding over 1000 V: 125 % for a secondary of 1000 V or less, next standard rating up, and
    250 %, a ceiling, where supervised; for a secondary over 1000 V the impedance and the device
    decide, and the table's note 1 means the next rating that is commercially available.

    References
    ----------
    .. [1] NFPA 70-2023, 450.3(A) and Table 450.3(A), over 1000 V.
    .. [2] NFPA 70-2023, 450.3(B) and Table 450.3(B), 1000 V or less.
    .. [3] NFPA 70-2023, 240.6(A).

    Examples
    --------
    =XF_SECONDARY_PROTECTION(75, 208)
    """
    kva, volts = within_limits(kva=kva, volts=volts)
    phases = choice("phases", phases)
    device = choice("device", device)
    primary_volts, impedance = within_limits_or_blank(
        primary_volts=primary_volts, impedance=impedance
    )
    supervised = choice("supervised", supervised).astype(bool)
    edition = choice("edition", edition)
    over = ~at_most(np.fmax(volts, primary_volts), LOW_VOLTAGE)
    require(~over | _impedance_holds(impedance), IMPEDANCE_MESSAGE)

    current = full_load_current(kva, volts, phases)
    low_percent, low_next_up = _low_rule(current, True, True)
    row = _over_row(impedance, supervised)
    over_percent = np.where(
        at_most(volts, LOW_VOLTAGE),
        OVER_SECONDARY_LOW_PERCENT[row],
        OVER_SECONDARY_PERCENT[_is_fuse(device), row],
    )
    percent = np.where(over, over_percent, low_percent)
    next_up = np.where(over, OVER_SECONDARY_NEXT_UP[row], low_next_up)
    return _largest_device(current, percent, next_up, over, device, edition)


@worksheet("XF_PROTECTION_PERCENT")
def protection_percent(
    amps: ArrayLike,
    winding: ArrayLike = "primary",
    secondary_protected: ArrayLike = False,
) -> NDArray[np.float64]:
    """Limit of a transformer's overcurrent device in percent of the winding's rated current.

    Parameters
    ----------
    amps : number
        Rated current of the winding. [A]
    winding : {'primary', 'secondary'}
        Winding that the device protects.
    secondary_protected : {TRUE, FALSE}
        TRUE where the secondary has a device within its own limit; counts for the primary only.

    Returns
    -------
    percent : number
        Largest rating or setting of the device. [%]

    Raises
    ------
    InputError
        Where an argument is outside its limits.

    Notes
    -----
    Transformers of 1000 V or less. 125 % may go to the next standard rating up; the others are
    ceilings. A secondary needs no device where the primary alone protects the transformer; the
    percentage given for it is that of a device which is there.

    References
    ----------
    .. [1] NFPA 70-2023, 450.3(B) and Table 450.3(B).

    Examples
    --------
    =XF_PROTECTION_PERCENT(90.2)
    """
    (amps,) = within_limits(amps=amps)
    secondary = choice("winding", winding) == "secondary"
    secondary_protected = choice("secondary_protected", secondary_protected).astype(bool)

    percent, _ = _low_rule(amps, secondary, secondary_protected)
    note(
        "Limit of the table",
        "primary of {amps} A, secondary without protection",
        percent,
        "%",
        "Table 450.3(B)",
        where=~secondary & ~secondary_protected,
        amps=amps,
    )
    note(
        "Limit of the table",
        "primary of {amps} A, secondary protected",
        percent,
        "%",
        "Table 450.3(B)",
        where=~secondary & secondary_protected,
        amps=amps,
    )
    note(
        "Limit of the table",
        "secondary of {amps} A",
        percent,
        "%",
        "Table 450.3(B)",
        where=secondary,
        amps=amps,
    )
    return percent
