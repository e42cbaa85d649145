"""Conductors in raceways: the trade size that takes them, and how full it is."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import tables
from .designations import (
    CHOICES,
    INSULATION,
    RACEWAY_AREA,
    SIZES,
    TRADE_SIZES,
    choice,
    insulation_type,
    trade_size_number,
)
from .errors import require
from .limits import at_least, at_most, within_limits, within_limits_or_blank
from .registry import worksheet
from .steps import note

RACEWAYS = np.array(list(CHOICES["raceway"]))
NAMES = np.array([f"{size} in" for size in TRADE_SIZES])
_NOTES = tables.read("raceway_fill_notes")
_NOTE = dict(zip(_NOTES.printed["item"].tolist(), _NOTES["value"].tolist(), strict=True))
# Percent for one, two and more conductors, and for a nipple.
PERCENT = np.append(tables.read("raceway_fill_limit")["fill_pct"], _NOTE["nipple_max_fill"])
NIPPLE = 3
# Note 7: from 0.8 of a conductor on, a further one of the same size counts.
SHORT_OF_ONE = 1 - _NOTE["round_up_decimal_at_least"]
TABLE_5 = tables.read("insulated_conductor_area")
NO_AREA = "{} must be from 14 AWG to 1000 kcmil, the sizes of Chapter 9 Table 5"


def _by_trade_size(column: str) -> NDArray[np.float64]:
    """Area by raceway and trade size, NaN where the table has none. [in2]"""
    areas = np.full((len(RACEWAYS), len(TRADE_SIZES)), np.nan)
    for raceway, size, area in zip(
        RACEWAY_AREA.printed["raceway"].tolist(),
        RACEWAY_AREA.printed["trade_size"].tolist(),
        RACEWAY_AREA[column],
        strict=True,
    ):
        areas[RACEWAYS.tolist().index(raceway), TRADE_SIZES.index(size)] = area
    return areas


INTERNAL = _by_trade_size("area_100_in2")
# By number of conductors (one, two, more, nipple), raceway and trade size.
FILLABLE = np.array(
    [_by_trade_size(f"area_{part}_in2") for part in ("1wire_53", "2wire_31", "over2_40", "60")]
)
# Annex C counts with the unrounded part of the area; the columns above, printed to 0.001 in2,
# would miss some of its numbers.
UNROUNDED = PERCENT[:, None, None] / 100 * INTERNAL
# 3/8 is for the few uses of 348.20(A) and 350.20(A): it is not offered where a size is chosen.
OFFERED = FILLABLE.copy()
OFFERED[..., TRADE_SIZES.index("3/8")] = np.nan

_COLUMNS = list(dict.fromkeys(filter(None, INSULATION.printed["area_column"].tolist())))
# By column and size; the last row holds the types without a column, and ratings.
AREA = np.array(
    [SIZES.column(TABLE_5, f"{column}_area_in2") for column in _COLUMNS]
    + [np.full(len(SIZES.names), np.nan)]
)
_WITH_AREA = INSULATION.printed["area_column"] != ""
_ROW = np.array(
    [
        _COLUMNS.index(column) if column else len(_COLUMNS)
        for column in INSULATION.printed["area_column"].tolist()
    ]
)
INSULATIONS = ", ".join(INSULATION.printed["type"][_WITH_AREA].tolist())


class Fill(NamedTuple):
    """The conductors of a raceway."""

    area: NDArray[np.float64]
    number: NDArray[np.float64]
    alike: NDArray[np.bool_]


def _insulation_row(insulation: ArrayLike) -> NDArray[np.intp]:
    """Read `insulation` as a row of `AREA`."""
    number = insulation_type(insulation)
    is_type = number < len(INSULATION)
    require(
        is_type,
        "insulation must be a type here, for a temperature rating has no area: write THHN, "
        "XHHW-2 or another marking",
    )
    row = _ROW[number]
    require(row < len(_COLUMNS), f"insulation has no area in the table: it has {INSULATIONS}")
    return np.asarray(row)


def _conductors(
    insulation: ArrayLike, sizes: tuple[ArrayLike, ...], counts: tuple[ArrayLike | None, ...]
) -> Fill:
    """Add up to four groups of conductors of one insulation."""
    row = _insulation_row(insulation)
    total: NDArray[np.float64] = np.zeros(())
    number: NDArray[np.float64] = np.zeros(())
    smallest, largest = np.asarray(np.inf), np.asarray(0.0)
    for group, (size, count) in enumerate(zip(sizes, counts, strict=True), start=1):
        if group > 1 and count is None and isinstance(size, str) and not size:  # left out
            continue
        this_size, this_count = f"size_{group}", f"count_{group}"
        if group == 1:
            index = SIZES.index(this_size, size)
            (given,) = within_limits(**{this_count: count})
        else:
            index = SIZES.index_or_blank(this_size, size)
            (given,) = within_limits_or_blank(**{this_count: count})
        used = index != SIZES.BLANK
        each = np.where(used, AREA[row, index], 0.0)
        require(~np.isnan(each), NO_AREA.format(this_size))
        given = np.where(np.isnan(given), 0.0, given)
        require(~used | (given > 0), f"{this_count} must be above 0 where {this_size} is given")
        require(used | (given == 0), f"{this_size} is blank, but {this_count} is given")
        total = total + given * each
        number = number + given
        smallest = np.minimum(smallest, np.where(used, each, np.inf))
        largest = np.maximum(largest, each)
        note(
            "Conductor area",
            "{count} × {each} in2 ({size})",
            given * each,
            "in2",
            "Chapter 9 Table 5",
            where=used,
            count=given,
            each=each,
            size=SIZES.names[index],
        )
    note("All conductors", "sum of {number} conductors", total, "in2", "", number=number)
    return Fill(total, number, smallest == largest)


def _raceway_number(raceway: ArrayLike) -> NDArray[np.intp]:
    """Read `raceway` as an index into `RACEWAYS`."""
    return np.asarray((choice("raceway", raceway)[..., None] == RACEWAYS).argmax(axis=-1))


def _rule(count: NDArray[np.float64]) -> NDArray[np.intp]:
    """Place in `PERCENT` for a number of conductors."""
    return np.asarray(np.minimum(count, 3).astype(np.intp) - 1)


@worksheet("XF_RACEWAY_SIZE")
def raceway_size(
    raceway: ArrayLike,
    insulation: ArrayLike,
    size_1: ArrayLike,
    count_1: ArrayLike,
    size_2: ArrayLike = "",
    count_2: ArrayLike | None = None,
    size_3: ArrayLike = "",
    count_3: ArrayLike | None = None,
    size_4: ArrayLike = "",
    count_4: ArrayLike | None = None,
    nipple: ArrayLike = False,
) -> NDArray[np.str_]:
    """Smallest trade size of a raceway that takes the conductors.

    Parameters
    ----------
    raceway : {'EMT', 'FMC', 'LFMC', 'IMC', 'RMC', 'PVC40', 'PVC80'}
        Kind of raceway.
    insulation : designation
        Insulation type of all conductors, such as THHN or XHHW-2.
    size_1 : designation
        Conductor size of the first group, such as 6, 1/0 or 250.
    count_1 : count
        Number of conductors of the first group, the equipment grounding conductor included.
    size_2 : designation
        Conductor size of the second group, or blank.
    count_2 : count
        Number of conductors of the second group.
    size_3 : designation
        Conductor size of the third group, or blank.
    count_3 : count
        Number of conductors of the third group.
    size_4 : designation
        Conductor size of the fourth group, or blank.
    count_4 : count
        Number of conductors of the fourth group.
    nipple : {TRUE, FALSE}
        TRUE for a nipple not over 24 in between boxes or cabinets, which may be filled to 60%.

    Returns
    -------
    size : designation
        Trade size, such as 1-1/4 in.

    Raises
    ------
    InputError
        Where an argument is outside its limits, a size or an insulation has no area in Table 5,
        or the conductors don't fit the largest trade size listed.

    Notes
    -----
    The areas of all conductors together must fit the part of the raceway that Chapter 9 Table 1
    allows: 53% for one conductor, 31% for two, 40% for more, 60% in a nipple. Equipment grounding
    conductors count, here with the insulation of the others; a bare one is smaller. RHH, RHW and
    RHW-2 have the areas without an outer covering: with one they are larger, and so may be their
    raceway.

    Where all conductors are of one size, note 7 applies as in the tables of Annex C: if the area
    has room for n - 0.2 of them, n are allowed. Such a raceway is filled a little above the
    percentage.

    Trade size 3/8 is not offered, as it is only for the uses that 348.20(A) and 350.20(A) name.
    Sizes 5 and 6 are not in the tables of EMT and IMC used here. Ease of pulling, jamming and
    bends may ask for a larger raceway, the number of current-carrying conductors for a larger
    conductor: check with XF_ADJUSTMENT_FACTOR. The local code and its authority decide.

    References
    ----------
    .. [1] NFPA 70-2023, Chapter 9, Tables 1, 4 and 5, notes 3, 4 and 7 to the tables.

    Examples
    --------
    =XF_RACEWAY_SIZE("EMT", "THHN", "3/0", 4, "6", 1)
    """
    kind = _raceway_number(raceway)
    fill = _conductors(
        insulation, (size_1, size_2, size_3, size_4), (count_1, count_2, count_3, count_4)
    )
    in_nipple = np.asarray(choice("nipple", nipple), bool)

    rule = np.where(in_nipple, NIPPLE, _rule(fill.number))
    room = OFFERED[rule, kind]
    by_area = at_most(fill.area[..., None], room)
    # Room for n - 0.2 conductors of the one size is as good as room for n.
    places = UNROUNDED[rule, kind] * (fill.number / fill.area)[..., None]
    by_note_7 = fill.alike[..., None] & at_least(places, fill.number[..., None] - SHORT_OF_ONE)
    fits = by_area | (by_note_7 & ~np.isnan(room))
    require(
        fits.any(axis=-1),
        "the conductors don't fit the largest trade size listed for this raceway: "
        "divide them among raceways",
    )
    number = fits.argmax(axis=-1)
    chosen_room = OFFERED[rule, kind, number]
    within = at_most(fill.area, chosen_room)
    note(
        "Fill allowed",
        "{count} conductors",
        PERCENT[rule],
        "%",
        "Chapter 9 Table 1",
        where=~in_nipple,
        count=fill.number,
    )
    note(
        "Fill allowed",
        "nipple up to 24 in",
        PERCENT[rule],
        "%",
        "Chapter 9 note 4",
        where=in_nipple,
    )
    note(
        "Trade size",
        "first with room for {area} in2: {room} in2 may be filled",
        NAMES[number],
        "",
        "Chapter 9 Table 4",
        where=within,
        area=fill.area,
        room=chosen_room,
    )
    note(
        "Trade size",
        "{room} in2 / {each} in2 = {places} equal conductors, 0.8 or more counts as one",
        NAMES[number],
        "",
        "Chapter 9 Table 4 and note 7",
        where=~within,
        room=UNROUNDED[rule, kind, number],
        each=fill.area / fill.number,
        places=UNROUNDED[rule, kind, number] * fill.number / fill.area,
    )
    return np.asarray(NAMES[number])


@worksheet("XF_RACEWAY_FILL")
def raceway_fill(
    raceway: ArrayLike,
    trade_size: ArrayLike,
    insulation: ArrayLike,
    size_1: ArrayLike,
    count_1: ArrayLike,
    size_2: ArrayLike = "",
    count_2: ArrayLike | None = None,
    size_3: ArrayLike = "",
    count_3: ArrayLike | None = None,
    size_4: ArrayLike = "",
    count_4: ArrayLike | None = None,
) -> NDArray[np.float64]:
    """Part of a raceway's area that the conductors fill.

    Parameters
    ----------
    raceway : {'EMT', 'FMC', 'LFMC', 'IMC', 'RMC', 'PVC40', 'PVC80'}
        Kind of raceway.
    trade_size : designation
        Trade size such as 3/4, 1-1/4 or 2; a metric designator is written with MD, as MD 27.
    insulation : designation
        Insulation type of all conductors, such as THHN or XHHW-2.
    size_1 : designation
        Conductor size of the first group, such as 6, 1/0 or 250.
    count_1 : count
        Number of conductors of the first group, the equipment grounding conductor included.
    size_2 : designation
        Conductor size of the second group, or blank.
    count_2 : count
        Number of conductors of the second group.
    size_3 : designation
        Conductor size of the third group, or blank.
    count_3 : count
        Number of conductors of the third group.
    size_4 : designation
        Conductor size of the fourth group, or blank.
    count_4 : count
        Number of conductors of the fourth group.

    Returns
    -------
    fill : number
        Area of the conductors in percent of the raceway's area. [%]

    Raises
    ------
    InputError
        Where an argument is outside its limits, the raceway is not listed in that trade size, or
        a size or an insulation has no area in Table 5.

    Notes
    -----
    Fill = 100 × (sum of count × area of one conductor) / (internal area of the raceway).

    The result is the fill as it is, also above what Chapter 9 Table 1 allows: 53% for one
    conductor, 31% for two, 40% for more, and by note 4 60% in a nipple not over 24 in. Compare
    before relying on it. Conductors all of one size may by note 7 go a little above; FMC of
    trade size 3/8 has a table of its own, 348.22. RHH, RHW and RHW-2 are taken without an outer
    covering.

    References
    ----------
    .. [1] NFPA 70-2023, Chapter 9, Tables 1, 4 and 5.

    Examples
    --------
    =XF_RACEWAY_FILL("EMT", "2", "THHN", "3/0", 4, "6", 1)
    """
    kind = _raceway_number(raceway)
    number = trade_size_number("trade_size", trade_size)
    internal = INTERNAL[kind, number]
    require(~np.isnan(internal), "trade_size is not listed for this raceway in Chapter 9 Table 4")
    fill = _conductors(
        insulation, (size_1, size_2, size_3, size_4), (count_1, count_2, count_3, count_4)
    )

    percent = 100 * fill.area / internal
    note(
        "Fill",
        "100 × {area} in2 / {internal} in2",
        percent,
        "%",
        "Chapter 9 Table 4",
        area=fill.area,
        internal=internal,
    )
    note(
        "Fill allowed",
        "{count} conductors, not in a nipple",
        PERCENT[_rule(fill.number)],
        "%",
        "Chapter 9 Table 1",
        count=fill.number,
    )
    return np.asarray(percent)
