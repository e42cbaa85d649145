"""Ampacity of insulated conductors: the table, its factors, and how much of it may be used."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import tables
from .designations import SIZES, choice, insulation_rating
from .errors import require
from .limits import at_most, first_at_least, within_limits
from .registry import worksheet
from .steps import is_recording, note

METALS = ("cu", "al")
# Temperature rating at the head of the table's columns, degC.
COLUMNS = np.array([60.0, 75.0, 90.0])

_TABLE = tables.read("ampacity")
AMPACITY = np.array(
    [[SIZES.column(_TABLE, f"{metal}_{column:g}c") for column in COLUMNS] for metal in METALS]
)
# First size that the columns of terminals, 60 and 75 degC, list: copper, aluminum.
_SMALLEST = [SIZES.names[~np.isnan(of_metal[0])][0] for of_metal in AMPACITY]

_AMBIENT = tables.read("ambient_factor")
_AMBIENT_ENDS = _AMBIENT["ambient_max_c"]
# One place more than the table has bands: too hot for any insulation.
_AMBIENT_FACTOR = np.array(
    [np.append(_AMBIENT[f"factor_{column:g}c"], np.nan) for column in COLUMNS]
)
_HOTTEST = [_AMBIENT_ENDS[~np.isnan(factors[:-1])][-1] for factors in _AMBIENT_FACTOR]
TOO_HOT = "ambient must not be above " + ", ".join(
    f"{hottest:g} degC with {column:g} degC insulation"
    for hottest, column in zip(_HOTTEST, COLUMNS, strict=True)
)

_ADJUSTMENT = tables.read("adjustment_factor")
_ADJUSTMENT_STARTS = _ADJUSTMENT["conductors_min"]
# Below the first row of the table, up to three conductors, there is nothing to adjust.
_ADJUSTMENT_FACTOR = np.append(1.0, _ADJUSTMENT["factor_pct"] / 100)

# 110.14(C)(1): terminals are taken as rated 60 degC for circuits up to this current, or sizes up
# to this one, and as rated 75 degC above, unless they are marked.
SMALL_CIRCUIT = 100.0
SMALL_SIZE = SIZES.number["1"]
BY_SIZE = "60 degC for sizes up to 1 AWG, 75 degC above"
BY_AMPS = f"60 degC for circuits up to {SMALL_CIRCUIT:g} A, 75 degC above"

NOT_IN_TABLE = (
    f"size must be {_SMALLEST[0]} or larger ({_SMALLEST[1]} in aluminum): Table 310.16 has none "
    "below but copper with 90 degC insulation"
)
NOT_FOR_TERMINALS = (
    f"size must be {_SMALLEST[0]} or larger ({_SMALLEST[1]} in aluminum): "
    "Table 310.16 has none below for terminals rated 60 or 75 degC"
)


def _column_of(rating: NDArray[np.float64]) -> NDArray[np.intp]:
    return np.asarray(COLUMNS.searchsorted(rating))


def _metal_of(material: ArrayLike) -> NDArray[np.intp]:
    return np.asarray(choice("material", material) == "aluminum", np.intp)


@dataclass(frozen=True)
class Conditions:
    """What the ampacity of a conductor depends on besides its size."""

    metal: NDArray[np.intp]
    column: NDArray[np.intp]
    terminal: NDArray[np.float64]
    ambient: NDArray[np.float64]
    conductors: NDArray[np.float64]
    ambient_factor: NDArray[np.float64]
    adjustment_factor: NDArray[np.float64]

    @classmethod
    def read(
        cls,
        material: ArrayLike,
        insulation: ArrayLike,
        terminal: ArrayLike | None,
        ambient: ArrayLike,
        conductors: ArrayLike,
    ) -> Conditions:
        """Read and hold the arguments; the terminal stays NaN where it is blank."""
        metal = _metal_of(material)
        column = _column_of(insulation_rating(insulation))
        rating = np.asarray(choice("terminal", terminal), float)
        ambient, conductors = within_limits(ambient=ambient, conductors=conductors)
        corrected = _ambient_factor(ambient, column)
        require(~np.isnan(corrected), TOO_HOT)
        adjusted = _adjustment_factor(conductors)
        return cls(metal, column, rating, ambient, conductors, corrected, adjusted)

    @property
    def factor(self) -> NDArray[np.float64]:
        """Ambient and adjustment factor together."""
        return self.ambient_factor * self.adjustment_factor

    def terminal_by_size(self, size: NDArray[np.intp]) -> NDArray[np.float64]:
        """Terminal rating; where it is blank, the code's for the size."""
        default = np.where(size <= SMALL_SIZE, COLUMNS[0], COLUMNS[1])
        return np.where(np.isnan(self.terminal), default, self.terminal)

    def terminal_by_amps(self, amps: NDArray[np.float64]) -> NDArray[np.float64]:
        """Terminal rating; where it is blank, the code's for the current of the circuit."""
        default = np.where(at_most(amps, SMALL_CIRCUIT), COLUMNS[0], COLUMNS[1])
        return np.where(np.isnan(self.terminal), default, self.terminal)

    def _limiting_column(self, terminal: NDArray[np.float64]) -> NDArray[np.intp]:
        # The lowest rating of terminal and conductor holds, 110.14(C).
        return np.minimum(_column_of(terminal), self.column)

    def usable(self, size: NDArray[np.intp], terminal: NDArray[np.float64]) -> NDArray[np.float64]:
        """Usable ampacity of a size, NaN where the table has none. [A]"""
        corrected = AMPACITY[self.metal, self.column, size] * self.factor
        limit = AMPACITY[self.metal, self._limiting_column(terminal), size]
        return np.asarray(np.minimum(corrected, limit))

    def usable_of_all(self, terminal: NDArray[np.float64]) -> NDArray[np.float64]:
        """Usable ampacity of every size, along a last axis of their own. [A]"""
        corrected = AMPACITY[self.metal, self.column] * self.factor[..., None]
        limit = AMPACITY[self.metal, self._limiting_column(terminal)]
        return np.asarray(np.minimum(corrected, limit))

    def show(
        self,
        size: NDArray[np.intp],
        terminal: NDArray[np.float64],
        amps: NDArray[np.float64],
        default: str,
    ) -> None:
        """Note how the usable ampacity `amps` of a size comes about.

        `default` tells in words what decided the rating of unmarked terminals.
        """
        if not is_recording():
            return
        table = AMPACITY[self.metal, self.column, size]
        limit = AMPACITY[self.metal, self._limiting_column(terminal), size]
        corrected = table * self.factor
        _note_table(self.metal, self.column, size, table)
        _note_ambient(self.ambient, self.column, self.ambient_factor)
        _note_adjustment(self.conductors, self.adjustment_factor)
        note(
            "Corrected and adjusted ampacity",
            "{table} A × {ambient} × {adjustment}",
            corrected,
            "A",
            "310.15(B) and (C)",
            table=table,
            ambient=self.ambient_factor,
            adjustment=self.adjustment_factor,
        )
        note(
            "Terminal rating",
            f"not stated: {default}",
            terminal,
            "degC",
            "110.14(C)(1)",
            where=np.isnan(self.terminal),
        )
        note(
            "Limit of the terminals",
            "{size} in the {rating} degC column",
            limit,
            "A",
            "110.14(C) and Table 310.16",
            size=SIZES.names[size],
            rating=COLUMNS[self._limiting_column(terminal)],
        )
        note(
            "Usable ampacity",
            "smaller of {corrected} A and {limit} A",
            amps,
            "A",
            "110.14(C)",
            corrected=corrected,
            limit=limit,
        )


def _ambient_factor(ambient: NDArray[np.float64], column: NDArray[np.intp]) -> NDArray[np.float64]:
    """Ambient factor of a column, NaN where the ambient is too hot for it."""
    return np.asarray(_AMBIENT_FACTOR[column, first_at_least(_AMBIENT_ENDS, ambient)])


def _adjustment_factor(conductors: NDArray[np.float64]) -> NDArray[np.float64]:
    row = _ADJUSTMENT_STARTS.searchsorted(conductors, side="right")
    return np.asarray(_ADJUSTMENT_FACTOR[row])


def _note_table(
    metal: NDArray[np.intp],
    column: NDArray[np.intp],
    size: NDArray[np.intp],
    amps: NDArray[np.float64],
) -> None:
    for number, name in enumerate(("copper", "aluminum")):
        note(
            "Table ampacity",
            f"{{size}} {name} in the {{rating}} degC column",
            amps,
            "A",
            "Table 310.16",
            where=metal == number,
            size=SIZES.names[size],
            rating=COLUMNS[column],
        )


def _note_ambient(
    ambient: NDArray[np.float64], column: NDArray[np.intp], factor: NDArray[np.float64]
) -> None:
    note(
        "Ambient factor",
        "{ambient} degC around {rating} degC insulation",
        factor,
        "",
        "Table 310.15(B)(1)(1)",
        ambient=ambient,
        rating=COLUMNS[column],
    )


def _note_adjustment(conductors: NDArray[np.float64], factor: NDArray[np.float64]) -> None:
    note(
        "Adjustment factor",
        "current-carrying conductors: {conductors}",
        factor,
        "",
        "Table 310.15(C)(1)",
        conductors=conductors,
    )


@worksheet("XF_TABLE_AMPACITY")
def table_ampacity(
    size: ArrayLike, material: ArrayLike = "copper", insulation: ArrayLike = "THHN"
) -> NDArray[np.float64]:
    """Ampacity of an insulated conductor as the table prints it.

    Parameters
    ----------
    size : designation
        Conductor size, such as 6, 1/0 or 250.
    material : {'copper', 'aluminum'}
        Conductor metal.
    insulation : designation
        Insulation type such as THHN, XHHW-2 or THW, or its temperature rating 60, 75 or 90.

    Returns
    -------
    ampacity : number
        Ampacity at 30 degC ambient, three current-carrying conductors at most. [A]

    Raises
    ------
    InputError
        Where the table has no value: 18 and 16 AWG other than copper with 90 degC insulation,
        and 14 AWG aluminum.

    Notes
    -----
    The printed value is the start of a calculation: terminals, ambient temperature, the number
    of conductors and the device that protects a small size limit it further.

    References
    ----------
    .. [1] NFPA 70-2023, Table 310.16; NFPA 70-2017, Table 310.15(B)(16), same values.

    Examples
    --------
    =XF_TABLE_AMPACITY("3/0", "copper", 75)
    """
    index = SIZES.index("size", size)
    metal = _metal_of(material)
    column = _column_of(insulation_rating(insulation))

    amps = np.asarray(AMPACITY[metal, column, index])
    require(~np.isnan(amps), NOT_IN_TABLE)
    _note_table(metal, column, index, amps)
    return amps


@worksheet("XF_AMBIENT_FACTOR")
def ambient_factor(ambient: ArrayLike, insulation: ArrayLike = "THHN") -> NDArray[np.float64]:
    """Correction factor of the ampacity for the temperature around the conductor.

    Parameters
    ----------
    ambient : number
        Ambient temperature. [degC]
    insulation : designation
        Insulation type such as THHN, XHHW-2 or THW, or its temperature rating 60, 75 or 90.

    Returns
    -------
    factor : number
        Factor on the ampacity of the insulation's own column. [-]

    Raises
    ------
    InputError
        Where the ambient is above the last band of the table for the insulation.

    Notes
    -----
    The table has bands of whole degrees, and each factor is that of the warm end of its band:
    F = √((Tc - Ta) / (Tc - 30)), with the rating Tc of the insulation and the ambient Ta in degC.
    A temperature between two bands takes the warmer one. Below the first band its factor holds.
    A raceway close above a roof in the sun is warmer than the air: add the rise before.

    References
    ----------
    .. [1] NFPA 70-2023, Table 310.15(B)(1)(1) and the equation of 310.15(B).

    Examples
    --------
    =XF_AMBIENT_FACTOR(39, 75)
    """
    (ambient,) = within_limits(ambient=ambient)
    column = _column_of(insulation_rating(insulation))

    factor = _ambient_factor(ambient, column)
    require(~np.isnan(factor), TOO_HOT)
    _note_ambient(ambient, column, factor)
    return factor


@worksheet("XF_ADJUSTMENT_FACTOR")
def adjustment_factor(conductors: ArrayLike) -> NDArray[np.float64]:
    """Adjustment factor of the ampacity for the number of conductors in a raceway or cable.

    Parameters
    ----------
    conductors : count
        Current-carrying conductors in the raceway or cable, all circuits together.

    Returns
    -------
    factor : number
        Factor on the ampacity; 1 for up to three conductors. [-]

    Raises
    ------
    InputError
        Where the number of conductors is not a whole number from 1 up.

    Notes
    -----
    A neutral that carries only the unbalance of its circuit does not count; one that carries
    harmonic currents of the load does. Equipment grounding conductors never count. A nipple up
    to 24 in long needs no adjustment: enter 3 for it.

    References
    ----------
    .. [1] NFPA 70-2023, Table 310.15(C)(1), 310.15(E) and (F).

    Examples
    --------
    =XF_ADJUSTMENT_FACTOR(9)
    """
    (conductors,) = within_limits(conductors=conductors)

    factor = _adjustment_factor(conductors)
    _note_adjustment(conductors, factor)
    return factor


@worksheet("XF_AMPACITY")
def ampacity(
    size: ArrayLike,
    material: ArrayLike = "copper",
    insulation: ArrayLike = "THHN",
    terminal: ArrayLike | None = None,
    ambient: ArrayLike = 30.0,
    conductors: ArrayLike = 3.0,
) -> NDArray[np.float64]:
    """Usable ampacity of a conductor between terminals.

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
        Current-carrying conductors in the raceway or cable.

    Returns
    -------
    ampacity : number
        Usable ampacity. [A]

    Raises
    ------
    InputError
        Where the table has no ampacity for the size and the terminals, or the ambient is too hot
        for the insulation.

    Notes
    -----
    The smaller of two: insulation's column × ambient factor × adjustment factor, and terminal's
    column. The insulation's own column is corrected and adjusted; the terminal's column is not. An
    insulation rated lower than the terminals is held to its own column. Terminals marked for
    75 degC take 75; where only the size is known, blank terminals count as the code's default
    for that size. Both ends of the conductor count: enter the lower rating. A small conductor
    carries no more than its device allows: see XF_DEVICE_LIMIT.

    References
    ----------
    .. [1] NFPA 70-2023, 110.14(C)(1), 310.15(B) and (C), Table 310.16.

    Examples
    --------
    =XF_AMPACITY("2/0", "copper", "THWN-2", 75, 35, 8)
    """
    index = SIZES.index("size", size)
    conditions = Conditions.read(material, insulation, terminal, ambient, conductors)

    rating = conditions.terminal_by_size(index)
    amps = conditions.usable(index, rating)
    require(~np.isnan(amps), NOT_FOR_TERMINALS)
    conditions.show(index, rating, amps, BY_SIZE)
    return amps
