"""Where the invented jobs are, and the drawing of lots that makes each learner's differ."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol, TypeVar

T = TypeVar("T")


@dataclass(frozen=True)
class Site:
    """A building of the town, and what is fed there."""

    place: str
    load: str


# Every name is made up; no town of these names was meant.
TOWNS = ("Quillmere", "Varnholt", "Ostrelle", "Dunmarrow", "Pellow Ferry", "Kestwick Bend")

SITES = (
    Site("Library", "the reading room"),
    Site("Town hall", "the council offices"),
    Site("Fire station", "the vehicle bays"),
    Site("Primary school", "the east wing"),
    Site("Primary school", "the kitchen"),
    Site("Water works", "the pump hall"),
    Site("Bakery", "the ovens"),
    Site("Clinic", "the laundry"),
    Site("Clinic", "the treatment rooms"),
    Site("Sawmill", "the planer"),
    Site("Cinema", "the foyer"),
    Site("Market hall", "the cold store"),
    Site("Bus depot", "the workshop"),
    Site("Swimming pool", "the filter plant"),
    Site("Boat yard", "the slipway"),
    Site("Feed mill", "the mixer floor"),
    Site("Museum", "the gallery"),
    Site("Greenhouse", "the grow lights"),
)


class Draw(Protocol):
    """Chooses the figures of a problem; each choice has a name."""

    def one_of(self, name: str, choices: Sequence[T]) -> T:
        """Return one of the choices."""


class Lots:
    """Draws that are the same for the same seed, on every machine.

    Only `random.Random.random` is promised to keep its sequence over Python versions, so that
    everything here is made from it.
    """

    def __init__(self, *seed: object) -> None:
        self._random = random.Random("/".join(map(str, seed)))

    def one_of(self, name: str, choices: Sequence[T]) -> T:
        return choices[int(self._random.random() * len(choices))]

    def shuffled(self, items: Iterable[T]) -> list[T]:
        """Return the items in a drawn order."""
        return [item for _, item in sorted(((self._random.random(), i) for i in items), key=_first)]


def _first(pair: tuple[float, object]) -> float:
    return pair[0]
