"""Standard ratings of overcurrent devices, and the devices that loads and transformers take."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import tables
from .designations import choice
from .errors import require
from .limits import RELATIVE_TOLERANCE, first_at_least, within_limits
from .registry import worksheet
from .steps import note

STANDARD = tables.read("standard_ratings")
RATINGS = STANDARD["rating_a"]
EDITIONS = np.array([2017, 2020, 2023])
DEVICES = ("breaker", "fuse")
# True where a rating (last axis) is standard for a device and an edition.
LISTED = np.array(
    [[STANDARD[f"std_{device}_{edition}"] == 1 for edition in EDITIONS] for device in DEVICES]
)


def _at_or_above() -> NDArray[np.float64]:
    """Standard rating at or above each rating of the list, NaN after the last."""
    found = np.full((*LISTED.shape[:-1], len(RATINGS) + 1), np.nan)
    for number in reversed(range(len(RATINGS))):
        found[..., number] = np.where(LISTED[..., number], RATINGS[number], found[..., number + 1])
    return found


def _at_or_below() -> NDArray[np.float64]:
    """Standard rating at or below the rating before each place of the list, NaN at the first."""
    found = np.full((*LISTED.shape[:-1], len(RATINGS) + 1), np.nan)
    for number in range(len(RATINGS)):
        found[..., number + 1] = np.where(LISTED[..., number], RATINGS[number], found[..., number])
    return found


AT_OR_ABOVE = _at_or_above()
AT_OR_BELOW = _at_or_below()
SMALLEST = AT_OR_ABOVE[..., 0]


def next_rating(amps: ArrayLike, device: ArrayLike, edition: ArrayLike) -> NDArray[np.float64]:
    """Smallest standard rating at or above `amps`, NaN where there is none.

    `device` and `edition` are as `choice` returns them; nothing is refused here, so that a rule
    may try candidates along an axis of their own.
    """
    place = first_at_least(RATINGS, amps)
    return np.asarray(AT_OR_ABOVE[_device_number(device), _edition_number(edition), place])


def rating_at_most(amps: ArrayLike, device: ArrayLike, edition: ArrayLike) -> NDArray[np.float64]:
    """Largest standard rating at or below `amps`, NaN where there is none."""
    amps = np.asarray(amps, float)
    place = np.searchsorted(RATINGS, amps * (1 + RELATIVE_TOLERANCE), side="right")
    rating = AT_OR_BELOW[_device_number(device), _edition_number(edition), place]
    return np.where(np.isnan(amps), np.nan, rating)


def _device_number(device: ArrayLike) -> NDArray[np.intp]:
    return np.asarray(np.asarray(device) == "fuse", np.intp)


def _edition_number(edition: ArrayLike) -> NDArray[np.intp]:
    return np.asarray(np.searchsorted(EDITIONS, edition))


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

    rating = np.where(up, next_rating(amps, device, edition), rating_at_most(amps, device, edition))
    require(
        ~(up & np.isnan(rating)),
        f"amps is above the largest standard rating ({RATINGS[-1]:g} A)",
    )
    require(
        ~np.isnan(rating),
        "amps is below the smallest standard rating "
        f"(breaker {SMALLEST[0, 0]:g} A, from the 2023 edition {SMALLEST[0, 2]:g} A; "
        f"fuse {SMALLEST[1, 0]:g} A)",
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
