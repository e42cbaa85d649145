"""Equipment grounding conductors, bonding jumpers and grounding electrode conductors."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import tables
from .ampacity import AMPACITY, COLUMNS, METALS
from .cable import require_parallel
from .designations import SIZES, choice
from .errors import require
from .limits import at_most, first_at_least, within_limits
from .registry import worksheet
from .steps import is_recording, note

METAL_NAMES = np.array(["copper", "aluminum"])  # in the order of METALS

_GROUND = tables.read("equipment_grounding_conductor")
_JUMPER = tables.read("bonding_jumper")
_ELECTRODE = tables.read("grounding_electrode_conductor")


def _sizes(table: tables.Table, column: str) -> NDArray[np.intp]:
    """Sizes of a column by metal, then by row; `SIZES.BLANK` where nothing is printed."""
    printed = [table.printed[column.format(metal=metal)].tolist() for metal in METALS]
    return np.array([[SIZES.read(size) for size in of_metal] for of_metal in printed])


def _areas(table: tables.Table) -> NDArray[np.float64]:
    """Largest area of each row by metal, without the last row, which is open. [kcmil]"""
    return np.array([table[f"{metal}_max_cmil"][:-1] / 1000 for metal in METALS])


DEVICES = _GROUND["ocpd_not_over_a"]
GROUND = _sizes(_GROUND, "{metal}_size")

JUMPER = _sizes(_JUMPER, "jumper_{metal}")
JUMPER_AREAS = _areas(_JUMPER)
# Part of the area that the jumper has above the last row.
JUMPER_PART = _JUMPER["min_fraction_of_area"][-1]

ELECTRODE = _sizes(_ELECTRODE, "gec_{metal}")
ELECTRODE_AREAS = _areas(_ELECTRODE)
# By metal; aluminum is not allowed in concrete.
ROD_CAP, CONCRETE_CAP = _sizes(tables.read("electrode_caps"), "max_required_{metal}").T[:2]

BOND_OVER = 250.0  # V to ground, 250.97
SMALLEST_ALUMINUM = SIZES.names[~np.isnan(AMPACITY[METALS.index("al"), -1])][0]
SMALLEST_PARALLEL = SIZES.number["1/0"]  # 310.10(G)


def _equal_in_other_metal() -> NDArray[np.intp]:
    """Smallest size of the other metal with the ampacity of each size, by its metal.

    The 75 degC column is that of the terminals of such large conductors; `SIZES.BLANK` where the
    other metal has no size as large.
    """
    amps = AMPACITY[:, COLUMNS.tolist().index(75.0)]
    enough = amps[::-1, None, :] >= amps[:, :, None]
    return np.where(enough.any(axis=-1), enough.argmax(axis=-1), SIZES.BLANK)


EQUAL_IN_OTHER_METAL = _equal_in_other_metal()


def _metal(name: str, material: ArrayLike) -> NDArray[np.intp]:
    return np.asarray(choice(name, material) == "aluminum", np.intp)


def _ungrounded(
    size: ArrayLike, sets: ArrayLike, size_material: ArrayLike
) -> tuple[NDArray[np.intp], NDArray[np.float64], NDArray[np.intp]]:
    """Read the ungrounded conductors: size, sets and metal."""
    index = SIZES.index("size", size)
    (sets,) = within_limits(sets=sets)
    metal = _metal("size_material", size_material)
    require(
        ~np.isnan(AMPACITY[metal, -1, index]),
        f"size must be {SMALLEST_ALUMINUM} or larger in aluminum (Table 310.16)",
    )
    require_parallel(index, sets)
    return index, sets, metal


def _area(
    index: NDArray[np.intp], sets: NDArray[np.float64], metal: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Area of all conductors of a phase together. [kcmil]"""
    area = sets * SIZES.area[index]
    note(
        "Area of the ungrounded conductors",
        "{sets} × {area} kcmil ({size} {metal})",
        area,
        "kcmil",
        "Chapter 9, Table 8",
        sets=sets,
        area=SIZES.area[index],
        size=SIZES.names[index],
        metal=METAL_NAMES[metal],
    )
    return area


def _row(
    areas: NDArray[np.float64], metal: NDArray[np.intp], area: NDArray[np.float64]
) -> NDArray[np.intp]:
    return np.where(metal == 1, first_at_least(areas[1], area), first_at_least(areas[0], area))


@worksheet("XF_EQUIPMENT_GROUND")
def equipment_ground(
    device_amps: ArrayLike,
    material: ArrayLike = "copper",
    needed_size: ArrayLike = "",
    used_size: ArrayLike = "",
) -> NDArray[np.str_]:
    r"""Smallest equipment grounding conductor of a circuit.

    Parameters
    ----------
    device_amps : number
        Rating of the overcurrent device ahead. [A]
    material : {'copper', 'aluminum'}
        Metal of the equipment grounding conductor.
    needed_size : designation
        Smallest phase conductor that would have enough ampacity; blank: not increased.
    used_size : designation
        Phase conductor that is installed, of the same metal; blank: not increased.

    Returns
    -------
    size : designation
        Smallest size of a wire-type equipment grounding conductor.

    Raises
    ------
    InputError
        Where the device is above the table, or only one of the two sizes is given.

    Notes
    -----
    Phase conductors larger than their ampacity asks for, as against voltage drop, raise the
    equipment grounding conductor in proportion of area, to the next listed size:

    .. math:: A \ge A_{table}\,A_{used} / A_{needed}

    It is never required to be larger than the phase conductor that is installed. The table is a
    minimum: where it would not carry the fault current, a larger one is needed. Parallel
    raceways each take a full-size one. An increase that ambient temperature or the number of
    conductors asks for does not count in the 2020 and 2023 editions: enter it in both sizes. In
    2017 it counts: enter as needed_size the one before correction and adjustment.

    References
    ----------
    .. [1] NFPA 70-2023, 250.4(A)(5), 250.122(A), (B), (F) and Table 250.122 with its note.
    .. [2] NFPA 70-2023, Chapter 9, Table 8 (areas).

    Examples
    --------
    =XF_EQUIPMENT_GROUND(400)
    """
    (device_amps,) = within_limits(device_amps=device_amps)
    metal = _metal("material", material)
    needed = SIZES.index_or_blank("needed_size", needed_size)
    used = SIZES.index_or_blank("used_size", used_size)
    row = first_at_least(DEVICES, device_amps)
    require(
        row < len(DEVICES),
        f"device_amps must not be above {DEVICES[-1]:g} A, the end of Table 250.122",
    )
    require(
        (needed == SIZES.BLANK) == (used == SIZES.BLANK),
        "needed_size and used_size must be given together, or both left blank",
    )
    require(used >= needed, "used_size must not be smaller than needed_size")

    table = GROUND[metal, row]
    given = used != SIZES.BLANK
    area = SIZES.area[table] * np.where(given, SIZES.area[used] / SIZES.area[needed], 1.0)
    raised = first_at_least(SIZES.area, area)
    index = np.where(given, np.minimum(raised, used), table)
    if is_recording():
        note(
            "Equipment grounding conductor of the table",
            "{metal}, device of {device} A",
            SIZES.names[table],
            "",
            "Table 250.122",
            metal=METAL_NAMES[metal],
            device=device_amps,
        )
        increased = given & (used != needed)
        note(
            "Area in proportion",
            "{table} kcmil × {used} kcmil / {needed} kcmil",
            area,
            "kcmil",
            "250.122(B)",
            where=increased,
            table=SIZES.area[table],
            used=SIZES.area[used],
            needed=SIZES.area[needed],
        )
        note(
            "Equipment grounding conductor",
            "next listed size at or above {area} kcmil",
            SIZES.names[index],
            "",
            "250.122(B)",
            where=increased & (raised <= used),
            area=area,
        )
        note(
            "Equipment grounding conductor",
            "not larger than the phase conductor, {used}",
            SIZES.names[index],
            "",
            "250.122(A)",
            where=given & (raised > used),
            used=SIZES.names[used],
        )
    return np.asarray(SIZES.names[index])


@worksheet("XF_BONDING_JUMPER")
def bonding_jumper(
    size: ArrayLike,
    sets: ArrayLike = 1,
    size_material: ArrayLike = "copper",
    material: ArrayLike = "copper",
) -> NDArray[np.str_]:
    r"""Smallest system or supply-side bonding jumper.

    Parameters
    ----------
    size : designation
        Ungrounded conductor, at a transformer that of the secondary; the largest one.
    sets : count
        Parallel sets of it.
    size_material : {'copper', 'aluminum'}
        Metal of the ungrounded conductors.
    material : {'copper', 'aluminum'}
        Metal of the bonding jumper.

    Returns
    -------
    size : designation
        Smallest size of the bonding jumper.

    Raises
    ------
    InputError
        Where the sizes of the tables do not reach far enough.

    Notes
    -----
    The area of all sets together finds the row of the table. Above its last row, 1100 kcmil
    copper or 1750 kcmil aluminum:

    .. math:: A \ge 0.125\,n\,A_{conductor}

    Where the metals differ there, the conductors are first replaced by as many of the jumper's
    metal, each the smallest size with at least the same ampacity in the 75 degC column. A jumper
    in each of several raceways is sized from the conductors of that raceway: enter those sets.

    References
    ----------
    .. [1] NFPA 70-2023, 250.28(D)(1), 250.30(A), 250.102(C).
    .. [2] NFPA 70-2023, Table 250.102(C)(1) and its notes 1 to 3.
    .. [3] NFPA 70-2023, Table 310.16 (ampacity) and Chapter 9, Table 8 (areas).

    Examples
    --------
    =XF_BONDING_JUMPER("500", 4)
    """
    index, sets, metal = _ungrounded(size, sets, size_material)
    jumper_metal = _metal("material", material)
    row = _row(JUMPER_AREAS, metal, sets * SIZES.area[index])
    above = row == len(JUMPER_AREAS[0])
    differ = above & (metal != jumper_metal)
    equal = EQUAL_IN_OTHER_METAL[metal, index]
    require(
        ~differ | (equal != SIZES.BLANK),
        "size has more ampacity than any size of the jumper's material in Table 310.16",
    )
    assumed = np.where(
        differ, np.where(sets > 1, np.maximum(equal, SMALLEST_PARALLEL), equal), index
    )
    least = JUMPER_PART * sets * SIZES.area[assumed]
    listed = first_at_least(SIZES.area, least)
    require(
        ~above | (listed < len(SIZES.area)),
        f"sets of this size need a jumper above {SIZES.names[-1]}, the largest listed size",
    )

    area = _area(index, sets, metal)
    jumper = np.where(above, listed, JUMPER[jumper_metal, row])
    note(
        "Conductors of the jumper's metal",
        "smallest {metal} size with the ampacity of {size}",
        SIZES.names[assumed],
        "",
        "Table 250.102(C)(1), note 2; Table 310.16, 75 degC",
        where=differ,
        metal=METAL_NAMES[jumper_metal],
        size=SIZES.names[index],
    )
    note(
        "Least area of the jumper",
        "{part} × {sets} × {area} kcmil",
        least,
        "kcmil",
        "Table 250.102(C)(1), note 1",
        where=above,
        part=JUMPER_PART,
        sets=sets,
        area=SIZES.area[assumed],
    )
    note(
        "Bonding jumper",
        "{metal}, next listed size at or above {least} kcmil",
        SIZES.names[jumper],
        "",
        "Table 250.102(C)(1), note 1",
        where=above,
        metal=METAL_NAMES[jumper_metal],
        least=least,
    )
    note(
        "Bonding jumper",
        "{jumper} for {area} kcmil {metal}",
        SIZES.names[jumper],
        "",
        "Table 250.102(C)(1)",
        where=~above,
        jumper=METAL_NAMES[jumper_metal],
        area=area,
        metal=METAL_NAMES[metal],
    )
    return np.asarray(SIZES.names[jumper])


@worksheet("XF_ELECTRODE_CONDUCTOR")
def electrode_conductor(
    size: ArrayLike,
    sets: ArrayLike = 1,
    size_material: ArrayLike = "copper",
    material: ArrayLike = "copper",
    electrode: ArrayLike = "structure",
) -> NDArray[np.str_]:
    """Smallest grounding electrode conductor.

    Parameters
    ----------
    size : designation
        Ungrounded conductor, at a transformer that of the secondary; the largest one.
    sets : count
        Parallel sets of it.
    size_material : {'copper', 'aluminum'}
        Metal of the ungrounded conductors.
    material : {'copper', 'aluminum'}
        Metal of the grounding electrode conductor.
    electrode : {'structure', 'pipe', 'rod', 'concrete'}
        structure: building steel or a water pipe; pipe, rod: driven for grounding, or a plate;
        concrete: concrete-encased.

    Returns
    -------
    size : designation
        Smallest size of the grounding electrode conductor.

    Raises
    ------
    InputError
        Where the size is not listed for its metal, or the electrode can't take the conductor.

    Notes
    -----
    The area of all sets together finds the row of the table. A conductor to rods, pipes or plates
    need not be larger than 6 AWG copper or 4 AWG aluminum, one to a concrete-encased electrode
    not larger than 4 AWG copper: only where it leads on to no electrode that needs a larger one.
    Aluminum is kept from concrete and from earth. A common conductor for several transformers
    has a rule of its own, 250.30(A)(6).

    References
    ----------
    .. [1] NFPA 70-2023, 250.66, 250.66(A), (B) and Table 250.66.
    .. [2] NFPA 70-2023, 250.30(A)(5) (separately derived systems) and 250.64(A) (aluminum).

    Examples
    --------
    =XF_ELECTRODE_CONDUCTOR("3/0")
    """
    index, sets, metal = _ungrounded(size, sets, size_material)
    own_metal = _metal("material", material)
    electrode = choice("electrode", electrode)
    rod = (electrode == "rod") | (electrode == "pipe")
    concrete = electrode == "concrete"
    cap = np.where(
        rod,
        ROD_CAP[own_metal],
        np.where(concrete, CONCRETE_CAP[own_metal], len(SIZES.area)),
    )
    require(
        cap != SIZES.BLANK,
        "material must be copper at a concrete electrode (250.64(A), 250.66(B))",
    )

    area = _area(index, sets, metal)
    table = ELECTRODE[own_metal, _row(ELECTRODE_AREAS, metal, area)]
    conductor = np.minimum(table, cap)
    note(
        "Electrode conductor of the table",
        "{own} for {area} kcmil {metal}",
        SIZES.names[table],
        "",
        "Table 250.66",
        own=METAL_NAMES[own_metal],
        area=area,
        metal=METAL_NAMES[metal],
    )
    for electrodes, there, rule in (
        ("rods, driven pipes and plates", rod, "250.66(A)"),
        ("a concrete-encased electrode", concrete, "250.66(B)"),
    ):
        note(
            "Electrode conductor",
            f"for {electrodes} not required larger than {{conductor}}",
            SIZES.names[conductor],
            "",
            rule,
            where=there & (table > cap),
            conductor=SIZES.names[conductor],
        )
    return np.asarray(SIZES.names[conductor])


@worksheet("XF_BOND_OVER_250")
def bond_over_250(volts_to_ground: ArrayLike) -> NDArray[np.bool_]:
    """Whether metal raceways need the bonding of circuits over 250 V to ground.

    Parameters
    ----------
    volts_to_ground : number
        Highest voltage to ground of the circuit. [V]

    Returns
    -------
    needed : bool
        TRUE where the circuit is over 250 V to ground.

    Raises
    ------
    InputError
        Where the voltage is outside its limits.

    Notes
    -----
    There metal raceways and cables are bonded by the means that services take, other than the
    grounded conductor. The section's exception accepts connections without oversized, concentric
    or eccentric knockouts, or with ones listed for it.

    References
    ----------
    .. [1] NFPA 70-2023, 250.97.

    Examples
    --------
    =XF_BOND_OVER_250(277)
    """
    (volts_to_ground,) = within_limits(volts_to_ground=volts_to_ground)

    over = ~at_most(volts_to_ground, BOND_OVER)
    note(
        "Bonding over 250 V",
        f"{{volts}} V to ground above {BOND_OVER:g} V",
        over,
        "",
        "250.97",
        volts=volts_to_ground,
    )
    return over
