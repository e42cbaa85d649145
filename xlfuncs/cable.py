"""Impedance of cables, as the subjects of voltage and fault current need it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import tables
from .designations import SIZES
from .errors import require

IMPEDANCE = tables.read("ac_impedance")
# Ohm to neutral per 1000 ft by material, conduit and size; NaN where the table has no value.
RESISTANCE = np.array(
    [
        [
            SIZES.column(IMPEDANCE, f"r_{metal}_{conduit}")
            for conduit in ("steel", "al_conduit", "pvc")
        ]
        for metal in ("cu", "al")
    ]
)
REACTANCE = np.array(
    [
        SIZES.column(IMPEDANCE, column)
        for column in ("xl_steel_conduit", "xl_pvc_or_al_conduit", "xl_pvc_or_al_conduit")
    ]
)


def resistance_and_reactance(
    size: NDArray[np.intp], material: ArrayLike, conduit: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Resistance and reactance of one conductor at 75 degC and 60 Hz. [ohm per 1000 ft]

    `material` and `conduit` are as `choice` returns them. A size or a metal without a value in
    the table gives NaN, so that a rule may try sizes along an axis of their own.
    """
    metal = np.asarray(np.asarray(material) == "aluminum", np.intp)
    conduit = np.asarray(conduit)
    around = np.where(conduit == "steel", 0, np.where(conduit == "aluminum", 1, 2))
    return RESISTANCE[metal, around, size], np.broadcast_to(
        REACTANCE[around, size], np.broadcast_shapes(metal.shape, around.shape, np.shape(size))
    )


def require_listed(resistance: NDArray[np.float64]) -> None:
    """Refuse the sizes that the table has no resistance for."""
    require(
        ~np.isnan(resistance),
        "size must be one of Chapter 9 Table 9: 14 AWG (aluminum 12 AWG) to 1000 kcmil, "
        "without 700, 800 and 900 kcmil",
    )


def require_parallel(size: NDArray[np.intp], sets: NDArray[np.float64]) -> None:
    """Refuse conductors in parallel that are too small for it: NFPA 70, 310.10(G)."""
    require((sets == 1) | (size >= SIZES.number["1/0"]), "sets above 1 need size 1/0 or larger")
