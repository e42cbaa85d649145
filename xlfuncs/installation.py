"""A whole transformer installation in one row: each side from full-load current to raceway.

The row is put together from the worksheet functions, as a workbook would do it cell by cell, so
that a message in one cell passes to the cells that depend on it and the rest stands.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .cells import PREFIX, answer
from .current import SQRT3
from .designations import SIZES, choice
from .limits import within_limits
from .registry import FUNCTIONS, worksheet
from .steps import note, silent

COLUMNS = (
    "primary current A",
    "primary device A",
    "largest primary device A",
    "primary sets",
    "primary conductor",
    "equipment ground",
    "primary raceway",
    "primary drop %",
    "secondary current A",
    "secondary device A",
    "secondary sets",
    "secondary conductor",
    "supply-side bonding jumper",
    "system bonding jumper",
    "electrode conductor",
    "secondary raceway",
    "secondary drop %",
    "secondary volts to ground V",
    "bond over 250 V",
)

# 215.2(A)(1): a feeder's conductors carry 125 % of a continuous load. A transformer may run at
# its rating for hours, so that its full-load current is taken as continuous.
CONTINUOUS = 1.25

# Common practice, no source: larger conductors are hard to pull and to land in usual lugs, so
# that sets are added in parallel beyond this size.
LARGEST_IN_ONE_SET = SIZES.number["500"]
MOST_SETS = 12

# Single-phase voltages that systems have from line to neutral: one of two wires is grounded.
TWO_WIRE_VOLTS = (120.0, 277.0, 347.0)
# Three-phase with a neutral at this voltage is the delta with one winding tapped in its middle.
HIGH_LEG_SYSTEM = 240.0

NEEDS_DEVICE = (
    "secondary conductors may rely on the primary device only in a single-phase two-wire unit "
    "(phases 1, neutral FALSE): else set secondary_protected to TRUE (240.21(C)(1))"
)

Values = list[Any]


class _Row:
    """The worksheet functions, asked for all elements at once."""

    def __init__(self, count: int) -> None:
        self.count = count

    def spread(self, values: Any) -> Values:
        """Return one value for each element; None stands for an argument left blank."""
        listed = np.broadcast_to(np.asarray(values, object), self.count).tolist()
        return [None if value != value else value for value in listed]  # NaN is no blank cell

    def ask(self, name: str, *arguments: Any) -> Values:
        """Answer the function `name` for every element."""
        columns = [a if isinstance(a, list) else self.spread(a) for a in arguments]
        function = FUNCTIONS[name]
        if self.count == 1:
            return [answer(function, [column[0] for column in columns])]
        rows = answer(function, [[[value] for value in column] for column in columns])
        return [row[0] for row in rows]

    def each(self, calculate: Callable[..., Any], *columns: Values) -> Values:
        """Calculate for every element; a message or a blank among its values passes on."""
        return [_passed(values) or calculate(*values) for values in zip(*columns, strict=True)]

    def in_sets(self, name: str, arguments: Sequence[Any]) -> tuple[Values, Values]:
        """Answer a sizing function with the fewest parallel sets that serve.

        `arguments` holds ``...`` in the place of the number of sets.
        """

        def with_sets(sets: Values) -> Values:
            return self.ask(name, *(sets if a is ... else a for a in arguments))

        sets = self.spread(1.0)
        with silent():
            first = with_sets(sets)
            open_ = [not _serves(size) for size in first]
            for number in range(2, MOST_SETS + 1):
                if not any(open_):
                    break
                trial = with_sets(self.spread(float(number)))
                for element, size in enumerate(trial):
                    if open_[element] and _serves(size):
                        sets[element], open_[element] = float(number), False
        sizes = with_sets(sets)
        return self.each(lambda size, number: number, sizes, sets), sizes


def _passed(values: Sequence[Any]) -> str | None:
    """Return the first message among the values, None if there is none."""
    return next((v for v in values if isinstance(v, str) and v.startswith(PREFIX)), None)


def _serves(size: Any) -> bool:
    return bool(0 <= SIZES.read(str(size)) <= LARGEST_IN_ONE_SET)


@worksheet("XF_INSTALLATION", columns=COLUMNS)
def installation(
    kva: ArrayLike,
    primary_volts: ArrayLike,
    secondary_volts: ArrayLike,
    primary_length: ArrayLike = 25.0,
    secondary_length: ArrayLike = 10.0,
    phases: ArrayLike = 3,
    secondary_protected: ArrayLike = True,
    primary_percent: ArrayLike = 125.0,
    material: ArrayLike = "copper",
    insulation: ArrayLike = "THHN",
    terminal: ArrayLike | None = None,
    ambient: ArrayLike = 30.0,
    raceway: ArrayLike = "FMC",
    neutral: ArrayLike = True,
    power_factor: ArrayLike = 0.85,
    edition: ArrayLike = 2023,
    headings: ArrayLike = False,
) -> tuple[NDArray[np.object_], ...]:
    """Transformer installation in one row: currents, devices, conductors, grounding, raceways.

    Parameters
    ----------
    kva : number
        Rated apparent power of the transformer. [kVA]
    primary_volts : number
        Rated primary voltage, line to line. [V]
    secondary_volts : number
        Rated secondary voltage, line to line. [V]
    primary_length : number
        Length of the primary conductors, one way. [ft]
    secondary_length : number
        Length of the secondary conductors from the transformer to the device at their end. [ft]
    phases : {1, 3}
        Number of phases.
    secondary_protected : {TRUE, FALSE}
        TRUE where a device on the secondary protects the transformer.
    primary_percent : number
        Primary device in percent of the full-load current, before rounding to a rating. [%]
    material : {'copper', 'aluminum'}
        Conductor material.
    insulation : designation
        Insulation type, such as THHN or XHHW-2.
    terminal : {60, 75}
        Temperature rating of the terminals in degC; blank: 60 up to 100 A, 75 above.
    ambient : number
        Ambient temperature of the conductors. [degC]
    raceway : {'EMT', 'FMC', 'LFMC', 'IMC', 'RMC', 'PVC40', 'PVC80'}
        Kind of raceway on both sides.
    neutral : {TRUE, FALSE}
        TRUE where the secondary has a grounded neutral that is brought out.
    power_factor : number
        Power factor of the load, for the voltage drop. [-]
    edition : {2017, 2020, 2023}
        Edition of NFPA 70.
    headings : {TRUE, FALSE}
        TRUE: the first row names the columns.

    Returns
    -------
    row : table
        One row a transformer, the columns named by headings. Where a part has no answer its
        cells hold the message and the rest stands.

    Raises
    ------
    InputError
        Where an argument is outside its limits.

    Notes
    -----
    Primary device: the standard rating at or above primary_percent of the full-load current,
    never above what 450.3 allows. Secondary device: 125 %, next standard rating up. Primary
    conductors: protected by their device (240.4) and for 125 % of the full-load current as a
    continuous load. Secondary conductors: 240.21(C) with the device at their end, no next size up
    and 240.4(D) for 14 to 10 AWG; without a device on the secondary only a single-phase two-wire
    unit may rely on the primary device. Sets are added in parallel where one set above 500 kcmil
    would be needed; each set runs in a raceway of its own with a full-size equipment ground or
    bonding jumper. Primary raceway: phases and ground. Secondary raceway: phases, neutral and
    jumper. The neutral is as large as the phases and not counted as current-carrying.

    Voltage to ground with a neutral: three-phase that of a wye, at 240 V that of the high leg of a
    240/120 V delta; single-phase half the voltage, at 120, 277 and 347 V all of it, as in a
    two-wire unit with one wire grounded. Without a neutral: the line voltage.

    References
    ----------
    .. [1] NFPA 70-2023, Tables 450.3(A) and 450.3(B), 215.2(A)(1), 240.4, 240.6(A).
    .. [2] NFPA 70-2023, 240.21(C), 250.30(A), Tables 250.66, 250.102(C)(1) and 250.122, 250.97.
    .. [3] NFPA 70-2023, Table 310.16 and Chapter 9, Tables 1, 4, 5 and 9.

    Examples
    --------
    =XF_INSTALLATION(75, 480, 208)
    """
    kva, primary_volts, secondary_volts, primary_length, secondary_length = within_limits(
        kva=kva,
        primary_volts=primary_volts,
        secondary_volts=secondary_volts,
        primary_length=primary_length,
        secondary_length=secondary_length,
    )
    phases = choice("phases", phases)
    secondary_protected = choice("secondary_protected", secondary_protected)
    (primary_percent,) = within_limits(primary_percent=primary_percent)
    material = choice("material", material)
    raceway = choice("raceway", raceway)
    neutral = choice("neutral", neutral)
    edition = choice("edition", edition)

    inputs = np.broadcast_arrays(
        kva, primary_volts, secondary_volts, primary_length, secondary_length, phases,
        secondary_protected, primary_percent, material, np.asarray(insulation, object),
        np.asarray(terminal, object), np.asarray(ambient, object), raceway, neutral,
        np.asarray(power_factor, object), edition,
    )  # fmt: skip
    row = _Row(inputs[0].size)
    given = _Given(*(row.spread(values) for values in inputs))
    primary = _primary_side(row, given)
    secondary = _secondary_side(row, given, primary["primary device A"])
    answers = {**primary, **secondary}
    return tuple(_objects(answers[column]) for column in COLUMNS)


@dataclass(frozen=True)
class _Given:
    """The arguments, one value for each element."""

    kva: Values
    primary_volts: Values
    secondary_volts: Values
    primary_length: Values
    secondary_length: Values
    phases: Values
    secondary_protected: Values
    primary_percent: Values
    material: Values
    insulation: Values
    terminal: Values
    ambient: Values
    raceway: Values
    neutral: Values
    power_factor: Values
    edition: Values


def _objects(values: Values) -> NDArray[np.object_]:
    array = np.empty(len(values), object)
    array[:] = values
    return array


def _primary_side(row: _Row, given: _Given) -> dict[str, Values]:
    ask, each = row.ask, row.each
    current = ask("XF_FULL_LOAD_CURRENT", given.kva, given.primary_volts, given.phases)
    largest = ask(
        "XF_PRIMARY_PROTECTION", given.kva, given.primary_volts, given.phases,
        given.secondary_protected, "breaker", None, False, given.edition,
    )  # fmt: skip
    part = each(lambda amps, percent: amps * percent / 100, current, given.primary_percent)
    wanted = ask("XF_STANDARD_RATING", part, "up", "breaker", given.edition)
    device = each(min, wanted, largest)
    _note_device(row, "Primary device", wanted, largest, device)
    load = each(lambda amps: CONTINUOUS * amps, current)
    sets, conductor = row.in_sets(
        "XF_PROTECTED_SIZE",
        (device, load, given.material, given.insulation, given.terminal, given.ambient, 3.0, True,
         ..., given.edition),
    )  # fmt: skip
    ground = ask("XF_EQUIPMENT_GROUND", device, given.material)
    raceway = ask(
        "XF_RACEWAY_SIZE", given.raceway, given.insulation, conductor,
        [_wires(phases) for phases in given.phases], ground, 1.0,
    )  # fmt: skip
    drop = ask(
        "XF_VOLTAGE_DROP_PERCENT", current, given.primary_volts, given.primary_length, conductor,
        given.phases, given.power_factor, given.material, given.raceway, sets,
    )  # fmt: skip
    answers = [current, device, largest, sets, conductor, ground, raceway, drop]
    return dict(zip(COLUMNS[:8], answers, strict=True))


def _secondary_side(row: _Row, given: _Given, primary_device: Values) -> dict[str, Values]:
    ask, each = row.ask, row.each
    current = ask("XF_FULL_LOAD_CURRENT", given.kva, given.secondary_volts, given.phases)
    device = _secondary_device(row, given, current)
    least = _secondary_ampacity(row, given, primary_device, device, current)
    # Without a device at their end the primary one stands for it, as it is seen from there.
    protection = [own if own != "" else seen for own, seen in zip(device, least, strict=True)]
    sets, conductor = row.in_sets(
        "XF_PROTECTED_SIZE",
        (protection, least, given.material, given.insulation, given.terminal, given.ambient, 3.0,
         False, ..., given.edition),
    )  # fmt: skip
    jumper = ask("XF_BONDING_JUMPER", conductor, 1.0, given.material, given.material)
    system_jumper = ask("XF_BONDING_JUMPER", conductor, sets, given.material, given.material)
    electrode = ask("XF_ELECTRODE_CONDUCTOR", conductor, sets, given.material, given.material)
    wires = [
        _wires(phases) + (1.0 if neutral else 0.0)
        for phases, neutral in zip(given.phases, given.neutral, strict=True)
    ]
    raceway = ask("XF_RACEWAY_SIZE", given.raceway, given.insulation, conductor, wires, jumper, 1.0)
    drop = ask(
        "XF_VOLTAGE_DROP_PERCENT", current, given.secondary_volts, given.secondary_length,
        conductor, given.phases, given.power_factor, given.material, given.raceway, sets,
    )  # fmt: skip
    to_ground = each(_volts_to_ground, given.secondary_volts, given.phases, given.neutral)
    bond = ask("XF_BOND_OVER_250", to_ground)
    answers = [
        current, device, sets, conductor, jumper, system_jumper, electrode, raceway, drop,
        to_ground, bond,
    ]  # fmt: skip
    return dict(zip(COLUMNS[8:], answers, strict=True))


def _wires(phases: float) -> float:
    """Ungrounded conductors of a side."""
    return 3.0 if phases == 3 else 2.0


def _volts_to_ground(volts: float, phases: float, neutral: bool) -> float:
    """Highest voltage to ground of a secondary: without a neutral the line voltage."""
    if not neutral:
        return volts
    if phases == 3:
        return float(volts * SQRT3 / 2 if volts == HIGH_LEG_SYSTEM else volts / SQRT3)
    return volts if volts in TWO_WIRE_VOLTS else volts / 2


def _secondary_device(row: _Row, given: _Given, current: Values) -> Values:
    """125 % and the next standard rating up, within 450.3; blank where there is no device."""
    wanted = row.ask(
        "XF_STANDARD_RATING", row.each(lambda amps: 1.25 * amps, current), "up", "breaker",
        given.edition,
    )  # fmt: skip
    largest = row.ask(
        "XF_SECONDARY_PROTECTION", given.kva, given.secondary_volts, given.phases, "breaker",
        given.primary_volts, None, False, given.edition,
    )  # fmt: skip
    device = row.each(min, wanted, largest)
    answers = [
        rating if protected else ""
        for rating, protected in zip(device, given.secondary_protected, strict=True)
    ]
    _note_device(row, "Secondary device", wanted, largest, answers)
    return answers


def _secondary_ampacity(
    row: _Row, given: _Given, primary_device: Values, device: Values, current: Values
) -> Values:
    """Least ampacity of the secondary conductors by 240.21(C)."""
    with_device = row.ask(
        "XF_SECONDARY_AMPACITY", primary_device, given.primary_volts, given.secondary_volts,
        given.secondary_length, device, current,
    )  # fmt: skip

    def without_device(rating: float, primary: float, secondary: float) -> float:
        return rating * primary / secondary

    two_wire = row.each(without_device, primary_device, given.primary_volts, given.secondary_volts)
    answers = []
    for element, protected in enumerate(given.secondary_protected):
        if protected:
            answers.append(with_device[element])
        elif given.phases[element] == 1 and not given.neutral[element]:
            answers.append(two_wire[element])
        else:
            answers.append(f"{PREFIX}{NEEDS_DEVICE}")
    return answers


def _note_device(row: _Row, step: str, wanted: Values, largest: Values, device: Values) -> None:
    """Record which of the two ratings a device took, where a single row is worked."""
    if row.count == 1 and isinstance(device[0], float):
        note(
            step,
            "the smaller of {wanted} A (next standard rating) and {largest} A (450.3)",
            device[0],
            "A",
            "Table 450.3(B), 240.6(A)",
            wanted=wanted[0],
            largest=largest[0],
        )
