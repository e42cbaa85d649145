"""What the readings at a three-phase secondary or panel tell, taken together."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from . import tables
from .errors import require
from .limits import at_most, within_limits, within_limits_or_blank
from .readings import service_limits, voltage_range, voltage_unbalance
from .registry import worksheet
from .steps import note, plain_text, silent

Finding = tuple[str, str, str]

SEVERITIES = ("stop", "check", "note")
RANGE_SEVERITY = {"A": "note", "B": "check", "outside": "stop"}

UNBALANCE = dict(
    zip(
        tables.read("unbalance").printed["item"].tolist(),
        tables.read("unbalance")["value"].tolist(),
        strict=True,
    )
)
DERATE_ABOVE = UNBALANCE["mg1_no_derating_up_to"]
SUPPLY_AT_MOST = UNBALANCE["c84_1_max_at_meter_no_load"]
NO_MOTOR_ABOVE = UNBALANCE["mg1_operation_not_recommended_above"]

# Nominal voltage to neutral by that between lines. 240 V is the delta with one winding tapped in
# its middle, whose third line is the high leg; 600Y/347 has no line-to-neutral range in C84.1.
TO_NEUTRAL = {208.0: 120.0, 240.0: 120.0, 480.0: 277.0, 600.0: 347.0}
HIGH_LEG_SYSTEM, HIGH_LEG = 240.0, 208.0
WITHOUT_RANGE = 347.0

PRACTICE = "common practice, no source"
GEOMETRY = "geometry of the phasors"
NEUTRAL_FITS = 3  # percent between line to neutral and what line to line asks for
NEUTRAL_IS_LOST = 10
NEUTRAL_TO_GROUND = 3  # V on a loaded neutral
NEUTRAL_IS_LIVE = 10  # percent of the line-to-neutral voltage
DEAD = 10  # percent of nominal that a lost supply may still read
ONE_PHASE = 1.05  # two readings that make up the third within a meter's error

LINES = "ABC"
PAIRS = ("A-B", "B-C", "C-A")

CAUTION = (
    "note",
    "Readings never show that a part is safe to touch. Before touching: de-energize, lock out and "
    "verify absence of voltage with a tester proven before and after. Qualified persons only; "
    "local code and the authority having jurisdiction decide.",
    "NFPA 70E, Article 120; 29 CFR 1910.333(b)",
)


def _volts(readings: list[float]) -> str:
    return ", ".join(plain_text(round(reading, 1)) for reading in readings) + " V"


def _range(kind: str, readings: list[float], nominals: list[float]) -> Finding:
    """Judge readings by the worst range that one of them falls in."""
    with silent():
        found = voltage_range(readings, nominals).tolist()
    worst = max(found, key=list(RANGE_SEVERITY).index)
    (a_low, a_high), (b_low, b_high) = service_limits(nominals[found.index(worst)])
    nominal = plain_text(nominals[found.index(worst)])
    told = {
        "A": f"within Range A of {nominal} V ({a_low:g} to {a_high:g} V).",
        "B": f"outside Range A of {nominal} V ({a_low:g} to {a_high:g} V), in Range B, meant for "
        "a limited time only. Look at supply, load and taps.",
        "outside": f"outside Range B of {nominal} V ({b_low:g} to {b_high:g} V). Put no equipment "
        "on it: wrong tap, supply fault, or another nominal voltage than given.",
    }
    return RANGE_SEVERITY[worst], f"{kind} {_volts(readings)}: {told[worst]}", "ANSI C84.1, Table 1"


def _lost_line(nominal: float, readings: list[float]) -> Finding | None:
    """Find a lost line: the three readings then lie on one line, in place of a triangle."""
    low, middle, high = sorted(readings)
    shown = f"Line to line {_volts(readings)}:"
    if high <= nominal * DEAD / 100:
        return (
            "stop",
            f"{shown} no supply. A switch, breaker or fuses are open ahead, or the meter is not "
            "measuring. This does not prove the conductors dead.",
            PRACTICE,
        )
    if low + middle > ONE_PHASE * high:
        return None
    if middle >= 0.9 * high:
        first, second = PAIRS[readings.index(low)].split("-")
        return (
            "stop",
            f"{shown} lines {first} and {second} stand at one potential. One of them is open "
            "ahead, here or on the primary, and fed back through a load, or both are on one "
            "phase. Keep three-phase loads off.",
            "Kirchhoff's voltage law",
        )
    # The pair that reads high leaves out the line that is open.
    (lost,) = set(LINES) - set(PAIRS[readings.index(high)])
    return (
        "stop",
        f"{shown} {PAIRS[readings.index(high)]} is a phase, line {lost} has none of its own. Line "
        f"{lost} is open ahead (blown fuse, open pole, loose lug) and floats or is fed back "
        "through a load. Keep three-phase loads off.",
        "Kirchhoff's voltage law",
    )


def _unbalance(readings: list[float]) -> Finding:
    unbalance = float(voltage_unbalance(readings))
    shown = f"Unbalance {unbalance:.2f} %"
    if at_most(unbalance, DERATE_ABOVE):
        return "note", f"{shown}: up to {DERATE_ABOVE:g} % motors need no derating.", "NEMA MG 1"
    if at_most(unbalance, SUPPLY_AT_MOST):
        return (
            "check",
            f"{shown}: above {DERATE_ABOVE:g} % motors are derated. Spread the single-phase loads "
            "and look for a poor connection.",
            "NEMA MG 1",
        )
    if at_most(unbalance, NO_MOTOR_ABOVE):
        return (
            "check",
            f"{shown}: above {SUPPLY_AT_MOST:g} %, the most that a supply should have at the meter "
            "without load. Motors are derated. Take it up with the supplier if it stays without "
            "load.",
            "ANSI C84.1; NEMA MG 1",
        )
    return (
        "stop",
        f"{shown}: above {NO_MOTOR_ABOVE:g} % motors should not run. Look for a lost or weak "
        "phase, a poor connection or a fuse.",
        "NEMA MG 1",
    )


def _asked_of_neutral(nominal: float, between: list[float], high_leg: int) -> list[float]:
    """Line-to-neutral voltages that go with the line-to-line ones. [V]

    The neutral of a wye is the center of the triangle, that of a high-leg delta the middle of the
    side opposite the high leg.
    """
    asked = []
    for line in range(3):
        opposite, one, other = (between[(line + turn) % 3] for turn in (1, 0, 2))
        median = math.sqrt(max(2 * one**2 + 2 * other**2 - opposite**2, 0)) / 2
        if nominal != HIGH_LEG_SYSTEM:
            asked.append(median * 2 / 3)
        else:
            asked.append(median if line == high_leg else between[(high_leg + 1) % 3] / 2)
    return asked


def _neutral_place(nominal: float, between: list[float], readings: list[float]) -> Finding:
    """Judge where the neutral stands among the lines."""
    mean = sum(between) / 3
    asked = _asked_of_neutral(nominal, between, readings.index(max(readings)))
    off = max(abs(reading / ask - 1) for reading, ask in zip(readings, asked, strict=True)) * 100
    shown = f"Line to neutral {_volts(readings)}"
    system = " in a 240/120 V delta" if nominal == HIGH_LEG_SYSTEM else ""
    fits = f"{', '.join(f'{ask:.0f}' for ask in asked)} V that line to line asks for{system}"
    note(
        "Line to neutral, farthest from what line to line asks for",
        "{asked} V asked for",
        off,
        "%",
        GEOMETRY,
        asked=", ".join(f"{ask:.1f}" for ask in asked),
    )
    low, middle, _ = sorted(readings)
    if at_most(off, NEUTRAL_FITS):
        return "note", f"{shown}: within {off:.1f} % of the {fits}.", GEOMETRY
    if low <= mean * DEAD / 100 and middle >= 0.9 * mean:
        line = LINES[readings.index(low)]
        return (
            "stop",
            f"{shown}: the neutral stands at line {line}. That line is grounded (corner-grounded "
            "delta), or neutral and line are crossed. Connect no line-to-neutral load.",
            GEOMETRY,
        )
    # No point lies nearer to the corners of a triangle, by the sum of squares, than its center.
    if math.hypot(*readings) < math.hypot(*between) / math.sqrt(3) * (1 - NEUTRAL_FITS / 100):
        return (
            "check",
            f"{shown}: lower together than the {fits}, which no neutral can be. Check meter and "
            "leads and take all readings again.",
            GEOMETRY,
        )
    if at_most(off, NEUTRAL_IS_LOST):
        return (
            "check",
            f"{shown}: up to {off:.1f} % from the {fits}. The neutral is shifted: check its "
            "connections and the spread of the line-to-neutral loads.",
            PRACTICE,
        )
    return (
        "stop",
        f"{shown}: up to {off:.0f} % from the {fits}. The neutral is open or floats, and loads on "
        "it may get far too much voltage. Take them off before the neutral is found.",
        PRACTICE,
    )


def _to_neutral_of_lost_line(nominal: float, readings: list[float]) -> Finding:
    """Tell the pattern of a delta-wye transformer with one primary line open.

    One winding has its full voltage, the two others share it in series, reversed: 1, 1/2, 1/2.
    """
    low, middle, high = sorted(readings)
    shown = f"Line to neutral {_volts(readings)}"
    full = abs(high / TO_NEUTRAL[nominal] - 1) <= 0.1
    if full and low >= 0.4 * high and middle <= 0.6 * high:
        return (
            "stop",
            f"{shown}: one full and two at half is what a delta-wye transformer gives with one "
            "primary line open. Look at the primary fuses and switch.",
            GEOMETRY,
        )
    return "note", f"{shown}: read again once line to line is in order.", PRACTICE


def _to_neutral(
    nominal: float, between: list[float], readings: list[float], three_phase: bool
) -> list[Finding]:
    """Judge the line-to-neutral readings."""
    given = sum(not math.isnan(reading) for reading in readings)
    if not given:
        text = (
            "No line-to-neutral readings: right for a three-wire system, else read them and "
            "neutral to ground too."
        )
        return [("note", text, PRACTICE)]
    if given < 3:
        text = f"Line to neutral: {given} of 3 readings. Not judged: give all three."
        return [("check", text, PRACTICE)]
    if not three_phase:
        return [_to_neutral_of_lost_line(nominal, readings)]
    place = _neutral_place(nominal, between, readings)
    if place[0] == "stop":  # the ranges would send the reader to the supply
        return [place]
    findings = [place]
    nominals = [TO_NEUTRAL[nominal]] * 3
    if nominal == HIGH_LEG_SYSTEM:
        high_leg = readings.index(max(readings))
        nominals[high_leg] = HIGH_LEG
        text = f"Line {LINES[high_leg]} is the high leg, to be marked orange. No 120 V load on it."
        findings.append(("note", text, "NFPA 70, 110.15"))
    if TO_NEUTRAL[nominal] != WITHOUT_RANGE:
        findings.append(_range("Line to neutral", readings, nominals))
    return findings


def _neutral_to_ground(nominal: float, reading: float, three_phase: bool) -> Finding:
    shown = f"Neutral to ground {_volts([reading])}"
    if at_most(reading, NEUTRAL_TO_GROUND) and not three_phase:
        return "note", f"{shown}: read again once line to line is in order.", PRACTICE
    if at_most(reading, NEUTRAL_TO_GROUND):
        text = (
            f"{shown}: usual for a bonded neutral under load (up to about {NEUTRAL_TO_GROUND} V)."
        )
        return "note", text, PRACTICE
    if reading < TO_NEUTRAL[nominal] * NEUTRAL_IS_LIVE / 100:
        text = (
            f"{shown}: above about {NEUTRAL_TO_GROUND} V. A loaded, long or thin neutral, "
            "harmonics, or a poor connection: check neutral and bond."
        )
        return "check", text, PRACTICE
    text = (
        f"{shown}: no bonded neutral reads that. The neutral is open, or not bonded to ground at "
        "its source, or a line is on it. Treat the neutral as live."
    )
    return "stop", text, "NFPA 70, 250.30(A)(1)"


@worksheet("XF_READINGS", elementwise=False, columns=("severity", "finding", "rule"))
def reading_findings(
    nominal: ArrayLike,
    a_b: ArrayLike,
    b_c: ArrayLike,
    c_a: ArrayLike,
    a_n: ArrayLike | None = None,
    b_n: ArrayLike | None = None,
    c_n: ArrayLike | None = None,
    n_g: ArrayLike | None = None,
) -> list[Finding]:
    """Findings on the voltage readings of a three-phase secondary or panel.

    Parameters
    ----------
    nominal : number
        Nominal voltage, line to line: 208, 240, 480 or 600. [V]
    a_b : number
        Reading from line A to line B. [V]
    b_c : number
        Reading from line B to line C. [V]
    c_a : number
        Reading from line C to line A. [V]
    a_n : number
        Reading from line A to neutral; blank where there is no neutral. [V]
    b_n : number
        Reading from line B to neutral; blank where there is no neutral. [V]
    c_n : number
        Reading from line C to neutral; blank where there is no neutral. [V]
    n_g : number
        Reading from neutral to ground; blank where there is no neutral. [V]

    Returns
    -------
    findings : table
        The findings, the gravest first: stop, check or note, the finding, and its rule.

    Raises
    ------
    InputError
        Where a reading is outside its limits or the nominal voltage is not one of the list.

    Notes
    -----
    The readings are compared with the service ranges, their unbalance with its limits, line to
    The readings are compared with the service ranges, their unbalance with its limits, line to
    neutral with line to line (in a balanced wye, over the square root of three; 240 V is taken
    as the 240/120 V delta with its high leg), and the neutral with ground. Two line-to-line
    readings that together make up no more than the third tell a lost line.

    A neutral may be 3 % off what line to line asks for before it is checked, 10 % before it is
    taken for lost, and read 3 V to ground, 10 % of line to neutral before it is taken for live:
    common practice, no source. A cause that is named is the usual one, not the only one.

    The readings are a help for a qualified person, not a test for dead: de-energize, lock out and
    verify absence of voltage before touching anything.

    References
    ----------
    .. [1] ANSI C84.1, Table 1, values of the 1995 to 2011 editions, and voltage unbalance.
    .. [2] NEMA MG 1, percent voltage unbalance.
    .. [3] NFPA 70-2023, 250.30(A)(1).
    .. [4] NFPA 70E, Article 120; 29 CFR 1910.333(b).

    Examples
    --------
    =XF_READINGS(480, 474, 476, 473, 274, 273, 275, 0.8)
    """
    (nominal,) = within_limits(nominal=nominal)
    between = [float(one) for one in within_limits(a_b=a_b, b_c=b_c, c_a=c_a)]
    neutral = [float(one) for one in within_limits_or_blank(a_n=a_n, b_n=b_n, c_n=c_n)]
    (ground,) = within_limits_or_blank(n_g=n_g)
    known = [voltage for voltage in TO_NEUTRAL if np.isclose(voltage, nominal, rtol=1e-6)]
    require(bool(known), "nominal must be 208, 240, 480 or 600 V, line to line")
    line = known[0]

    lost = _lost_line(line, between)
    if lost is None:
        findings = [_range("Line to line", between, [line] * 3), _unbalance(between)]
    else:
        findings = [lost]
    findings += _to_neutral(line, between, neutral, lost is None)
    if not math.isnan(ground):
        findings.append(_neutral_to_ground(line, float(ground), lost is None))
    elif not all(map(math.isnan, neutral)):
        text = "No neutral-to-ground reading: read it too."
        findings.append(("check", text, PRACTICE))
    return [*sorted(findings, key=lambda finding: SEVERITIES.index(finding[0])), CAUTION]
