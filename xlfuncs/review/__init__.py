"""A look over a whole transformer installation: what is wrong, what to look at, what holds.

Each topic asks the worksheet functions, so that the numbers are theirs. Where one of them refuses,
its message becomes a finding: a topic is never left out in silence.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from numpy.typing import ArrayLike

from ..designations import SIZES, choice
from ..errors import require
from ..limits import within_limits, within_limits_or_blank
from ..registry import worksheet
from .conductors import (
    parallel,
    primary_conductors,
    secondary_conductors,
    small_secondary_conductors,
    terminals,
)
from .grounding import equipment_ground, grounded_system, grounding_sizes, over_250
from .place import (
    between_lines,
    caution,
    high_voltage,
    nameplate,
    step_up,
    where_it_stands,
)
from .protection import fault_current, inrush, panelboard, transformer_protection
from .unit import CHECK, SEVERITIES, Finding, Findings, RefusedError, Side, Unit


@worksheet("XF_INSTALLATION_REVIEW", elementwise=False, columns=("severity", "finding", "rule"))
def installation_review(
    kva: ArrayLike,
    primary_volts: ArrayLike,
    secondary_volts: ArrayLike,
    primary_device: ArrayLike,
    primary_size: ArrayLike,
    secondary_device: ArrayLike = 0.0,
    secondary_size: ArrayLike = "",
    secondary_length: ArrayLike | None = None,
    secondary_winding: ArrayLike = "wye",
    panel_fed: ArrayLike = True,
    phases: ArrayLike = 3,
    terminal: ArrayLike | None = None,
    impedance: ArrayLike | None = None,
    edition: ArrayLike = 2023,
    material: ArrayLike = "copper",
    primary_sets: ArrayLike = 1.0,
    secondary_sets: ArrayLike = 1.0,
) -> list[Finding]:
    """Review of a transformer installation: what is wrong, what to look at, what holds.

    Parameters
    ----------
    kva : number
        Rated apparent power of the transformer. [kVA]
    primary_volts : number
        Rated primary voltage, line to line. [V]
    secondary_volts : number
        Rated secondary voltage, line to line. [V]
    primary_device : number
        Rating of the overcurrent device on the primary side. [A]
    primary_size : designation
        Size of the primary conductors.
    secondary_device : number
        Rating of the overcurrent device on the secondary side; 0: none. [A]
    secondary_size : designation
        Size of the secondary conductors; blank: not known.
    secondary_length : number
        Length of the secondary conductors from the transformer to the device at their end. [ft]
    secondary_winding : {'wye', 'delta', 'three-wire', 'two-wire'}
        Three-phase: wye, or delta without a neutral. Single-phase: three-wire, as the default is
        read there, or two-wire.
    panel_fed : {TRUE, FALSE}
        TRUE where the secondary feeds a panelboard.
    phases : {1, 3}
        Number of phases.
    terminal : {60, 75}
        Temperature rating of all terminals in degC; blank: 60 up to 100 A, 75 above.
    impedance : number
        Impedance of the nameplate. [%]
    edition : {2017, 2020, 2023}
        Edition of NFPA 70.
    material : {'copper', 'aluminum'}
        Metal of the conductors on both sides.
    primary_sets : count
        Primary conductors in parallel for each phase.
    secondary_sets : count
        Secondary conductors in parallel for each phase.

    Returns
    -------
    findings : table
        One finding a row, stops first: severity, finding, rule. stop: the values given break a
        rule; check: look at it, or it could not be checked; note: it holds, or is good to know.

    Raises
    ------
    InputError
        Where an argument is outside its limits.

    Notes
    -----
    A review of the values given and of nothing else. It assumes terminals and insulation of
    75 degC or more unless stated, 30 degC ambient and up to three current-carrying conductors in
    a raceway; a place that is not supervised; conductors that are no feeder tap of 240.21(B); and
    copper jumpers and grounding conductors. Without a stop the installation may still be wrong:
    the local code, the authority having jurisdiction and licensed practice decide.

    Inrush of 8 to 12 times the full-load current is common practice, no source: a primary device
    below 12/5 of the full-load current gives a check, since a molded-case breaker may trip at
    once from about 5 times its rating.

    References
    ----------
    .. [1] NFPA 70-2023, 450.3, Tables 450.3(A) and 450.3(B), 450.9, 450.11(A) and (B), 450.14,
       450.21(A), (B) and (C).
    .. [2] NFPA 70-2023, 240.4(B), (C) and (D), 240.21(C)(1), (2) and (6), 408.36(B), 215.2(A)(1),
       215.3, 310.10(G), 110.9, 110.14(C).
    .. [3] NFPA 70-2023, 250.20(B), 250.21(B), 250.30(A), 250.66, 250.97, 250.102(C), 250.122 and
       250.190(C) (from memory).
    .. [4] Inrush and what it does to a breaker: common practice, no source.

    Examples
    --------
    =XF_INSTALLATION_REVIEW(75, 480, 208, 125, "2", 300, "350", 10)
    """
    kva, primary_volts, secondary_volts, primary_device = within_limits(
        kva=kva,
        primary_volts=primary_volts,
        secondary_volts=secondary_volts,
        primary_device=primary_device,
    )
    first = SIZES.index("primary_size", primary_size)
    (secondary_device,) = within_limits(secondary_device=secondary_device)
    second = SIZES.index_or_blank("secondary_size", secondary_size)
    (secondary_length,) = within_limits_or_blank(secondary_length=secondary_length)
    winding = str(choice("secondary_winding", secondary_winding))
    panel_fed = bool(choice("panel_fed", panel_fed))
    phases = float(choice("phases", phases))
    terminal = float(choice("terminal", terminal))
    (impedance,) = within_limits_or_blank(impedance=impedance)
    edition = float(choice("edition", edition))
    material = str(choice("material", material))
    primary_sets, secondary_sets = within_limits(
        primary_sets=primary_sets, secondary_sets=secondary_sets
    )
    require(
        (phases == 3) == (winding in ("wye", "delta")) or winding == "wye",
        "secondary_winding must be wye or delta for three phases, three-wire or two-wire for one",
    )

    referred = primary_device * primary_volts / secondary_volts
    primary = Side(
        name="Primary",
        volts=float(primary_volts),
        kva=float(kva),
        phases=phases,
        device=float(primary_device),
        circuit=float(primary_device),
        size=str(SIZES.names[first]),
        sets=float(primary_sets),
        material=material,
        stated_terminal=_or_none(terminal),
        edition=edition,
    )
    secondary = Side(
        name="Secondary",
        volts=float(secondary_volts),
        kva=float(kva),
        phases=phases,
        device=float(secondary_device),
        circuit=float(secondary_device if secondary_device > 0 else referred),
        size="" if second == SIZES.BLANK else str(SIZES.names[second]),
        sets=float(secondary_sets),
        material=material,
        stated_terminal=_or_none(terminal),
        edition=edition,
    )
    unit = Unit(
        primary=primary,
        secondary=secondary,
        length=_or_none(float(secondary_length)),
        winding="three-wire" if phases == 1 and winding == "wye" else winding,
        panel_fed=panel_fed,
        impedance=_or_none(float(impedance)),
    )
    findings = [finding for topic in TOPICS for finding in topic.findings(unit)]
    return sorted(findings, key=lambda finding: SEVERITIES.index(finding[0]))


def _or_none(number: float) -> float | None:
    return number if number == number else None


@dataclass(frozen=True)
class _Topic:
    """A question of the review, asked in every case."""

    about: str
    rule: str
    ask: Callable[[Unit], Findings]

    def findings(self, unit: Unit) -> Findings:
        try:
            yield from self.ask(unit)
        except RefusedError as refusal:
            yield CHECK, f"{self.about} could not be checked: {refusal}", self.rule


TOPICS = (
    _Topic("Transformer protection", "450.3", transformer_protection),
    _Topic("Primary conductors", "240.4(B), (C) and (D)", primary_conductors),
    _Topic("Secondary conductors", "240.21(C)", secondary_conductors),
    _Topic("Small secondary conductors", "240.4(D)", small_secondary_conductors),
    _Topic("Parallel conductors", "310.10(G)", parallel),
    _Topic("The panelboard's protection", "408.36(B)", panelboard),
    _Topic("Inrush", "common practice, no source", inrush),
    _Topic("Terminals", "110.14(C)", terminals),
    _Topic("Whether devices can interrupt a secondary fault", "110.9", fault_current),
    _Topic("Bonding over 250 V", "250.97", over_250),
    _Topic("Voltage between lines", "common practice, no source", between_lines),
    _Topic("Step-up", "450.11(B)", step_up),
    _Topic("Voltage over 1000 V", "Table 450.3(A)", high_voltage),
    _Topic("The system's grounding", "250.20(B)", grounded_system),
    _Topic("Jumpers and electrode conductor", "250.30(A)", grounding_sizes),
    _Topic("Equipment grounding conductor", "250.122", equipment_ground),
    _Topic("Place", "450.21", where_it_stands),
    _Topic("Nameplate", "450.11(A)", nameplate),
    _Topic("The whole", "90.4", caution),
)
