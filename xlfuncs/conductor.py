"""Selection of conductors, and the devices that protect them."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import tables
from .ampacity import (
    BY_AMPS,
    BY_SIZE,
    METALS,
    NOT_FOR_TERMINALS,
    Conditions,
    adjustment_factor,
    ambient_factor,
    ampacity,
    table_ampacity,
)
from .designations import SIZES, choice
from .errors import require
from .limits import at_least, at_most, within_limits
from .overcurrent import EDITIONS, next_rating, rating_at_most
from .registry import worksheet
from .steps import is_recording, note

__all__ = [
    "adjustment_factor",
    "ambient_factor",
    "ampacity",
    "area",
    "conductor_size",
    "device_limit",
    "protected_size",
    "secondary_ampacity",
    "size_fits",
    "table_ampacity",
]

EVERY_SIZE = np.arange(len(SIZES.printed))

# 310.10(G): conductors in parallel are of this size or larger.
SMALLEST_PARALLEL = SIZES.number["1/0"]
# 240.4(B)(3): the next standard rating above the ampacity may be taken up to this one.
LARGEST_NEXT_RATING = 800.0

# 240.21(C)(2) and (C)(6): length of transformer secondary conductors, and the part of the primary
# device, referred to the secondary, that they must carry.
SHORT_RUN, SHORT_PART = 10.0, 1 / 10
LONG_RUN, LONG_PART = 25.0, 1 / 3

TOO_SMALL_IN_PARALLEL = "sets must be 1 for a size below 1/0 AWG: 310.10(G)"


def _small_conductor_limits() -> NDArray[np.float64]:
    """Largest device of 240.4(D) by edition, metal and size; infinite where it sets none."""
    limits = np.full((len(EDITIONS), len(METALS), len(SIZES.printed)), np.inf)
    table = tables.read("small_conductors")
    for edition, size, material, amps in zip(
        table["edition"],
        table.printed["size"].tolist(),
        table.printed["material"].tolist(),
        table["max_ocpd_a"],
        strict=True,
    ):
        # The rows of copper-clad aluminum alone have no column in the ampacity table.
        if material != "cca":
            metal = METALS.index(material.removesuffix("_or_cca"))
            limits[EDITIONS.searchsorted(edition), metal, SIZES.number[size]] = amps
    return limits


SMALL_CONDUCTOR_LIMIT = _small_conductor_limits()


def _first(suits: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Index of the first size that suits, the number of sizes where none does."""
    return np.asarray(np.where(suits.any(axis=-1), suits.argmax(axis=-1), suits.shape[-1]))


def _may_be_parallel(sets: NDArray[np.float64], size: NDArray[np.intp]) -> NDArray[np.bool_]:
    return np.asarray((sets == 1) | (size >= SMALLEST_PARALLEL))


def _ceiling(
    amps: NDArray[np.float64],
    next_size_up: NDArray[np.bool_],
    edition: NDArray[np.generic],
    small: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Rating that the device of conductors may have: 240.4(B), (C) and (D). [A]"""
    up = next_rating(amps, "breaker", edition)
    rounded = np.where(next_size_up & at_most(up, LARGEST_NEXT_RATING), up, amps)
    return np.minimum(rounded, small)


def _note_sets(
    amps: NDArray[np.float64], sets: NDArray[np.float64], total: NDArray[np.float64]
) -> None:
    note(
        "Ampacity of the parallel sets",
        "{sets} × {amps} A",
        total,
        "A",
        "310.10(G)",
        where=sets > 1,
        sets=sets,
        amps=amps,
    )


@worksheet("XF_CONDUCTOR_SIZE")
def conductor_size(
    amps: ArrayLike,
    material: ArrayLike = "copper",
    insulation: ArrayLike = "THHN",
    terminal: ArrayLike | None = None,
    ambient: ArrayLike = 30.0,
    conductors: ArrayLike = 3.0,
    sets: ArrayLike = 1.0,
) -> NDArray[np.str_]:
    """Smallest conductor whose usable ampacity carries a current.

    Parameters
    ----------
    amps : number
        Current of the circuit; continuous load counts 125 %, unless the assembly is listed for
        100 %. [A]
    material : {'copper', 'aluminum'}
        Conductor metal.
    insulation : designation
        Insulation type such as THHN, XHHW-2 or THW, or its temperature rating 60, 75 or 90.
    terminal : {60, 75}
        Temperature that the terminals are marked for; blank: 60 for circuits up to 100 A, 75
        above.
    ambient : number
        Ambient temperature. [degC]
    conductors : count
        Current-carrying conductors in each raceway or cable.
    sets : count
        Conductors in parallel for each phase; 2 and more need 1/0 AWG or larger.

    Returns
    -------
    size : designation
        Conductor size, 14 AWG and larger in copper, 12 AWG and larger in aluminum.

    Raises
    ------
    InputError
        Where the largest size of the table does not carry the current.

    Notes
    -----
    A conductor must carry 125 % of the continuous load by the table alone, and the load itself
    after correction and adjustment: the 125 % figure given here answers both on the safe side.
    Each set carries its equal part of the current. Blank terminals are decided by the current of
    the whole circuit, not by the size: a circuit of 101 A takes the 75 degC column, so that its
    conductor may be smaller than that of 100 A. Where the equipment of a larger circuit is marked
    for 14 to 1 AWG and nothing else, enter 60; where that of a smaller one is marked for 75 degC,
    enter 75. The size carries the current; whether a device protects it is the question of
    XF_PROTECTED_SIZE.

    References
    ----------
    .. [1] NFPA 70-2023, 110.14(C)(1), 310.10(G), 310.15(B) and (C), Table 310.16.

    Examples
    --------
    =XF_CONDUCTOR_SIZE(119, "copper", "THWN-2", 75, 35, 8)
    """
    (amps,) = within_limits(amps=amps)
    conditions = Conditions.read(material, insulation, terminal, ambient, conductors)
    (sets,) = within_limits(sets=sets)

    rating = conditions.terminal_by_amps(amps)
    carried = conditions.usable_of_all(rating) * sets[..., None]
    suits = at_least(carried, amps[..., None]) & _may_be_parallel(sets[..., None], EVERY_SIZE)
    size = _first(suits)
    require(
        size < len(EVERY_SIZE),
        f"amps must not be above what {SIZES.names[-1]} carries under these conditions: "
        "take more sets",
    )
    _show_choice(conditions, size, rating, sets)
    note(
        "Conductor size",
        "smallest size that carries {amps} A",
        SIZES.names[size],
        rule="Table 310.16",
        amps=amps,
    )
    return np.asarray(SIZES.names[size])


def _show_choice(
    conditions: Conditions,
    size: NDArray[np.intp],
    rating: NDArray[np.float64],
    sets: NDArray[np.float64],
) -> None:
    if not is_recording():
        return
    amps = conditions.usable(size, rating)
    conditions.show(size, rating, amps, BY_AMPS)
    _note_sets(amps, sets, amps * sets)


@worksheet("XF_DEVICE_LIMIT")
def device_limit(
    size: ArrayLike,
    material: ArrayLike = "copper",
    insulation: ArrayLike = "THHN",
    terminal: ArrayLike | None = None,
    ambient: ArrayLike = 30.0,
    conductors: ArrayLike = 3.0,
    next_size_up: ArrayLike = True,
    sets: ArrayLike = 1.0,
    edition: ArrayLike = 2023,
) -> NDArray[np.float64]:
    """Largest standard overcurrent device that protects a conductor.

    Parameters
    ----------
    size : designation
        Conductor size, such as 6, 1/0 or 250.
    material : {'copper', 'aluminum'}
        Conductor metal.
    insulation : designation
        Insulation type such as THHN, XHHW-2 or THW, or its temperature rating 60, 75 or 90.
    terminal : {60, 75}
        Temperature that the terminals are marked for; blank: 60 for sizes 14 to 1 AWG, 75 above.
    ambient : number
        Ambient temperature. [degC]
    conductors : count
        Current-carrying conductors in each raceway or cable.
    next_size_up : {TRUE, FALSE}
        Whether the next standard rating above the ampacity may be taken, up to 800 A.
    sets : count
        Conductors in parallel for each phase; 2 and more need 1/0 AWG or larger.
    edition : {2017, 2020, 2023}
        Edition of NFPA 70.

    Returns
    -------
    rating : number
        Standard ampere rating of a breaker. [A]

    Raises
    ------
    InputError
        Where the table has no ampacity for the size and the terminals, where a size below 1/0
        AWG is in parallel, or where the ampacity is below the smallest standard rating.

    Notes
    -----
    An ampacity that is no standard rating may have the next one up, as far as that is 800 A at
    most; above, the device is the standard rating at or below the ampacity. Copper 14, 12 and 10
    AWG have 15, 20 and 30 A at most, aluminum 12 and 10 AWG 15 and 25 A. The next size up is not
    for transformer secondary conductors, feeder taps, or branch circuits of several receptacles
    for cord-connected loads: enter FALSE for them. The load must stay within the ampacity all the
    same. Motor circuits and other cases of 240.4(E) and (G) have rules of their own.

    References
    ----------
    .. [1] NFPA 70-2023, 240.4(B), (C) and (D), 240.6(A), 110.14(C)(1), Table 310.16.

    Examples
    --------
    =XF_DEVICE_LIMIT(6)
    """
    index = SIZES.index("size", size)
    conditions = Conditions.read(material, insulation, terminal, ambient, conductors)
    may_round_up = np.asarray(choice("next_size_up", next_size_up), bool)
    (sets,) = within_limits(sets=sets)
    edition = choice("edition", edition)
    require(_may_be_parallel(sets, index), TOO_SMALL_IN_PARALLEL)

    rating = conditions.terminal_by_size(index)
    one = conditions.usable(index, rating)
    require(~np.isnan(one), NOT_FOR_TERMINALS)
    total = one * sets
    small = SMALL_CONDUCTOR_LIMIT[EDITIONS.searchsorted(edition), conditions.metal, index]
    ceiling = _ceiling(total, may_round_up, edition, small)
    limit = rating_at_most(ceiling, "breaker", edition)
    require(
        ~np.isnan(limit),
        "size carries less than the smallest standard device under these conditions: 240.6(A)",
    )
    conditions.show(index, rating, one, BY_SIZE)
    _note_sets(one, sets, total)
    rounded_up = (ceiling > total) & (ceiling < small)
    note(
        "Device by ampacity",
        "{amps} A is no standard rating: next one up, not above {largest} A",
        limit,
        "A",
        "240.4(B) and 240.6(A)",
        where=rounded_up,
        amps=total,
        largest=LARGEST_NEXT_RATING,
    )
    for rule, there in (
        ("240.4 and 240.6(A)", at_most(total, LARGEST_NEXT_RATING)),
        ("240.4(C) and 240.6(A)", ~at_most(total, LARGEST_NEXT_RATING)),
    ):
        note(
            "Device by ampacity",
            "standard rating at or below {amps} A",
            limit,
            "A",
            rule,
            where=there & ~rounded_up & (ceiling < small),
            amps=total,
        )
    note(
        "Small conductor",
        "{size} has {small} A at most, whatever its ampacity",
        limit,
        "A",
        "240.4(D)",
        where=ceiling == small,
        size=SIZES.names[index],
        small=small,
    )
    return limit


@worksheet("XF_PROTECTED_SIZE")
def protected_size(
    device_amps: ArrayLike,
    load: ArrayLike = 0.0,
    material: ArrayLike = "copper",
    insulation: ArrayLike = "THHN",
    terminal: ArrayLike | None = None,
    ambient: ArrayLike = 30.0,
    conductors: ArrayLike = 3.0,
    next_size_up: ArrayLike = True,
    sets: ArrayLike = 1.0,
    edition: ArrayLike = 2023,
) -> NDArray[np.str_]:
    """Smallest conductor that a device protects and that carries the load.

    Parameters
    ----------
    device_amps : number
        Rating of the overcurrent device. [A]
    load : number
        Current that the conductor must carry; continuous load counts 125 %, unless the assembly
        is listed for 100 %; 0: the device alone decides. [A]
    material : {'copper', 'aluminum'}
        Conductor metal.
    insulation : designation
        Insulation type such as THHN, XHHW-2 or THW, or its temperature rating 60, 75 or 90.
    terminal : {60, 75}
        Temperature that the terminals are marked for; blank: 60 for devices up to 100 A, 75
        above.
    ambient : number
        Ambient temperature. [degC]
    conductors : count
        Current-carrying conductors in each raceway or cable.
    next_size_up : {TRUE, FALSE}
        Whether the device may be the next standard rating above the ampacity, up to 800 A.
    sets : count
        Conductors in parallel for each phase; 2 and more need 1/0 AWG or larger.
    edition : {2017, 2020, 2023}
        Edition of NFPA 70.

    Returns
    -------
    size : designation
        Conductor size, 14 AWG and larger in copper, 12 AWG and larger in aluminum.

    Raises
    ------
    InputError
        Where the largest size of the table does not suffice.

    Notes
    -----
    The rule of XF_DEVICE_LIMIT from the device's side: the size has an ampacity not below the
    device, or, up to 800 A and where next_size_up is TRUE, an ampacity whose next standard rating
    is not below the device; 14 to 10 AWG keep their own limits. Its usable ampacity carries the
    load too. Blank terminals are decided by the rating of the device, so that XF_DEVICE_LIMIT,
    which sees the size only, may answer with the other column: state the terminals where they
    are known. Where the load is not known, take it as equal to the device: enter FALSE for
    next_size_up, as for transformer secondary conductors and feeder taps.

    References
    ----------
    .. [1] NFPA 70-2023, 240.4(B), (C) and (D), 240.6(A), 110.14(C)(1), 310.10(G), Table 310.16.

    Examples
    --------
    =XF_PROTECTED_SIZE(60)
    """
    device_amps, load = within_limits(device_amps=device_amps, load=load)
    conditions = Conditions.read(material, insulation, terminal, ambient, conductors)
    may_round_up = np.asarray(choice("next_size_up", next_size_up), bool)
    (sets,) = within_limits(sets=sets)
    edition = choice("edition", edition)

    rating = conditions.terminal_by_amps(device_amps)
    carried = conditions.usable_of_all(rating) * sets[..., None]
    small = SMALL_CONDUCTOR_LIMIT[EDITIONS.searchsorted(edition), conditions.metal]
    ceiling = _ceiling(carried, may_round_up[..., None], edition[..., None], small)
    size = _first(
        at_most(device_amps[..., None], ceiling)
        & at_most(load[..., None], carried)
        & _may_be_parallel(sets[..., None], EVERY_SIZE)
    )
    require(
        size < len(EVERY_SIZE),
        f"device_amps and load must not be above what {SIZES.names[-1]} allows under these "
        "conditions: take more sets",
    )
    _show_choice(conditions, size, rating, sets)
    note(
        "Protected size",
        "smallest size that a device of {device} A protects and that carries {load} A",
        SIZES.names[size],
        rule="240.4(B), (C) and (D)",
        device=device_amps,
        load=load,
    )
    return np.asarray(SIZES.names[size])


@worksheet("XF_SECONDARY_AMPACITY")
def secondary_ampacity(
    primary_device: ArrayLike,
    primary_volts: ArrayLike,
    secondary_volts: ArrayLike,
    length: ArrayLike,
    end_device: ArrayLike = 0.0,
    load: ArrayLike = 0.0,
) -> NDArray[np.float64]:
    """Least ampacity of the secondary conductors of a transformer.

    Parameters
    ----------
    primary_device : number
        Rating of the overcurrent device on the primary side. [A]
    primary_volts : number
        Rated primary voltage, line to line. [V]
    secondary_volts : number
        Rated secondary voltage, line to line. [V]
    length : number
        Length of the secondary conductors from the transformer to the device at their end. [ft]
    end_device : number
        Rating of the device or equipment that they end in; 0: not chosen yet, load decides. [A]
    load : number
        Calculated load of the secondary conductors. [A]

    Returns
    -------
    ampacity : number
        Least ampacity. [A]

    Raises
    ------
    InputError
        Where the conductors are longer than 25 ft, or neither end_device nor load is stated.

    Notes
    -----
    The largest of the load, the device at the end, and a part of the primary device referred to
    the secondary side: primary_device × primary_volts / secondary_volts, divided by 10 up to
    10 ft and by 3 up to 25 ft. Conductors up to 10 ft are taken as field-installed and leaving
    the enclosure; they end in a device or in equipment such as a panelboard, whose rating counts.
    Conductors over 10 ft end in a single breaker or set of fuses. With end_device 0 the device
    chosen later must not be larger than the ampacity of the conductors. The next size up is not
    allowed for secondary conductors: in XF_PROTECTED_SIZE enter the device at the end as
    device_amps, the result as load, and FALSE for next_size_up. XF_CONDUCTOR_SIZE does not see
    what 240.4(D) allows for 14 to 10 AWG. Outdoor conductors (240.21(C)(4)), supervised
    industrial ones and those that the primary device protects by itself are not covered.
    Protection from damage and the rest of the section remain to be met, and the authority having
    jurisdiction decides.

    References
    ----------
    .. [1] NFPA 70-2023, 240.21(C)(2) and (C)(6).

    Examples
    --------
    =XF_SECONDARY_AMPACITY(125, 480, 208, 10, 225)
    """
    primary_device, primary_volts, secondary_volts, length, end_device, load = within_limits(
        primary_device=primary_device,
        primary_volts=primary_volts,
        secondary_volts=secondary_volts,
        length=length,
        end_device=end_device,
        load=load,
    )
    require(
        at_most(length, LONG_RUN),
        f"length must not be above {LONG_RUN:g} ft: longer secondary conductors need their "
        "device at the transformer, 240.21(C)",
    )
    require(
        (end_device > 0) | (load > 0),
        "end_device or load must be above 0: the conductors must carry what they feed, "
        "240.21(C)(2) and (6)",
    )

    short = at_most(length, SHORT_RUN)
    referred = primary_device * primary_volts / secondary_volts
    part = referred * np.where(short, SHORT_PART, LONG_PART)
    least = np.maximum(np.maximum(part, end_device), load)
    for where, share, rule in (
        (short, "10", "240.21(C)(2)"),
        (~short, "3", "240.21(C)(6)"),
    ):
        note(
            "Part of the primary device",
            f"{{device}} A × {{primary}} V / {{secondary}} V / {share}",
            part,
            "A",
            rule,
            where=where,
            device=primary_device,
            primary=primary_volts,
            secondary=secondary_volts,
        )
        note(
            "Least ampacity",
            "largest of {part} A, the device at the end of {end} A and the load of {load} A",
            least,
            "A",
            rule,
            where=where & (end_device > 0),
            part=part,
            end=end_device,
            load=load,
        )
        note(
            "Least ampacity",
            "larger of {part} A and the load of {load} A; the device at the end must not be "
            "above the ampacity chosen",
            least,
            "A",
            rule,
            where=where & (end_device == 0),
            part=part,
            load=load,
        )
    return least


@worksheet("XF_SIZE_FITS")
def size_fits(size: ArrayLike, smallest: ArrayLike, largest: ArrayLike) -> NDArray[np.bool_]:
    """Whether a lug marked with a range of sizes takes a conductor.

    Parameters
    ----------
    size : designation
        Conductor size.
    smallest : designation
        Smallest size that the lug is marked for.
    largest : designation
        Largest size that the lug is marked for.

    Returns
    -------
    fits : bool
        TRUE where the size is in the range, its ends included.

    Raises
    ------
    InputError
        Where smallest is larger than largest.

    Notes
    -----
    Sizes are compared by their area. The marking also tells the metals, the number of conductors
    and the stranding that the lug takes: those are not seen here.

    References
    ----------
    .. [1] NFPA 70-2023, 110.3(B) and 110.14: connectors are used as they are listed and marked.

    Examples
    --------
    =XF_SIZE_FITS("2/0", "6 AWG", "300 kcmil")
    """
    index = SIZES.index("size", size)
    first = SIZES.index("smallest", smallest)
    last = SIZES.index("largest", largest)
    require(first <= last, "smallest must not be larger than largest")

    fits = (first <= index) & (index <= last)
    note(
        "Lug",
        "{size} in a lug for {first} to {last}",
        fits,
        rule="110.14",
        size=SIZES.names[index],
        first=SIZES.names[first],
        last=SIZES.names[last],
    )
    return fits


@worksheet("XF_AREA")
def area(size: ArrayLike) -> NDArray[np.float64]:
    """Cross section of the metal of a conductor.

    Parameters
    ----------
    size : designation
        Conductor size, such as 6, 1/0 or 250.

    Returns
    -------
    area : number
        Area in thousands of circular mils. [kcmil]

    Raises
    ------
    InputError
        Where the size is none of 18 AWG to 2000 kcmil.

    Notes
    -----
    A circular mil is the area of a circle of 0.001 in. The table rounds the sizes of the
    gauge, whose diameter in inches is 0.005 × 92^((36 - n) / 39), with n = 0, -1, -2 and -3 for
    1/0 to 4/0.

    References
    ----------
    .. [1] NFPA 70-2023, Chapter 9, Table 8.
    .. [2] ASTM B258, standard nominal diameters of solid round wires.

    Examples
    --------
    =XF_AREA("4/0")
    """
    index = SIZES.index("size", size)

    kcmil = np.asarray(SIZES.area[index])
    note("Area", "{size}", kcmil, "kcmil", "Chapter 9, Table 8", size=SIZES.names[index])
    return kcmil
