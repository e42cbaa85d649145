"""Quantities as people write them in a cell, read into the unit that an argument declares.

pint knows the units; it is imported when a text first needs it. What stands here is the trade's
way of writing: feet and inches, thousands separators, MCM and the like.
"""

from __future__ import annotations

import re
from functools import cache
from typing import Any

_NUMBER = r"[+-]?(?:\d{1,3}(?:,\d{3})+|\d+)?(?:\.\d*)?(?:[eE][+-]?\d{1,3})?"
_PLAIN = re.compile(_NUMBER, re.ASCII)
_QUANTITY = re.compile(rf"({_NUMBER})\s*([A-Za-z°ºµ%'\"′″][A-Za-z0-9°º^²/ ]{{0,23}})", re.ASCII)
_FEET_INCHES = re.compile(
    r"(\d+(?:\.\d+)?)\s*(?:'|′|ft\.?|feet|foot)\s*-?\s*"
    r"(\d+(?:\.\d+)?)?(?:\s*-?\s*(\d+)/(\d+))?\s*(?:\"|″|''|in\.?|inch|inches)",
    re.I | re.ASCII,
)

_SYSTEM = re.compile(r"\d{3,5} ?[Yy/] ?/? ?\d{2,5} ?[Vv]?", re.ASCII)

# Trade spellings that pint does not know or would take for another unit (F is its farad).
_SPELLED = {
    "'": "foot",
    "′": "foot",
    '"': "inch",
    "″": "inch",
    "''": "inch",
    "f": "degF",
    "c": "degC",
    "k": "kelvin",
    "deg f": "degF",
    "deg c": "degC",
    "degf": "degF",
    "degc": "degC",
    "°f": "degF",
    "°c": "degC",
    "ºf": "degF",
    "ºc": "degC",
    "%": "percent",
    "pct": "percent",
    "a": "ampere",
    "amp": "ampere",
    "amps": "ampere",
    "ka": "kiloampere",
    "ma": "milliampere",
    "v": "volt",
    "vac": "volt",
    "volts": "volt",
    "kv": "kilovolt",
    "va": "apparent_power_unit",
    "kva": "kiloapparent_power_unit",
    "mva": "megaapparent_power_unit",
    "w": "watt",
    "kw": "kilowatt",
    "ft": "foot",
    "ft.": "foot",
    "feet": "foot",
    "in": "inch",
    "in.": "inch",
    "m": "meter",
    "mm": "millimeter",
    "cm": "centimeter",
    "km": "kilometer",
    "yd": "yard",
    "mi": "mile",
    "in2": "inch**2",
    "mm2": "millimeter**2",
    "mcm": "kcmil",
    "kcmil": "kcmil",
}

_DECLARED = {
    "kVA": "kiloapparent_power_unit",
    "V": "volt",
    "A": "ampere",
    "ft": "foot",
    "degC": "degC",
    "%": "percent",
    "W": "watt",
    "in2": "inch**2",
    "kcmil": "kcmil",
    "dB": "decibel",
    "-": "",
}


class UnreadableError(ValueError):
    """A text that is no quantity of the declared unit; the message says why."""


@cache
def _registry() -> Any:
    import pint

    registry: Any = pint.UnitRegistry(autoconvert_offset_to_baseunit=False)
    registry.define("kcmil = 1000 * circular_mil")
    # Apparent power has a dimension of its own here: kW in place of kVA is a mistake to name.
    registry.define("apparent_power_unit = [apparent_power]")
    return registry


def plain_number(text: str) -> float | None:
    """Read a number without a unit, thousands separators allowed; None if it is none."""
    text = text.strip()
    if not text or not _PLAIN.fullmatch(text) or not any(c.isdigit() for c in text):
        return None
    return float(text.replace(",", ""))


@cache
def _conversion(written: str, declared: str) -> tuple[float, float]:
    """Factor and offset from a written unit to a declared one."""
    import pint

    registry = _registry()
    spelled = _SPELLED.get(written.casefold(), written)
    try:
        unit = registry.parse_units(spelled.replace("^", "**").replace("²", "**2"))
        zero = registry.Quantity(0.0, unit).to(_DECLARED[declared]).magnitude
        one = registry.Quantity(1.0, unit).to(_DECLARED[declared]).magnitude
    except pint.DimensionalityError:
        raise UnreadableError(f"is in {written}, not in {declared}") from None
    except Exception:  # pint's parser raises many kinds of error for a text that is no unit
        raise UnreadableError(f"has no known unit in '{written}'") from None
    return float(one - zero), float(zero)


def quantity(text: str, declared: str) -> float:
    """Read "30 m", "95 degF", "1.5 MVA" or 12'-6" in the declared unit.

    Parameters
    ----------
    text : str
        The text of a cell. A number alone is in the declared unit.
    declared : str
        Unit of the argument, such as ``ft``; ``-`` for a plain ratio.

    Raises
    ------
    UnreadableError
        Where the text is no number, or a quantity of another kind.
    """
    text = text.strip()
    number = plain_number(text)
    if number is not None:
        return number
    feet = _FEET_INCHES.fullmatch(text)
    if feet:
        whole, inches, top, bottom = feet.groups()
        if bottom is not None and int(bottom) == 0:
            raise UnreadableError("is not a number")
        part = float(inches or 0) + (int(top) / int(bottom) if top else 0)
        if part >= 12 or (inches is None and top is None):
            raise UnreadableError("must be written like 12'-6\", with less than 12 inches")
        factor, offset = _conversion("ft", declared)
        return (float(whole) + part / 12) * factor + offset
    if declared == "V" and _SYSTEM.fullmatch(text):
        raise UnreadableError(f"must be one voltage, such as 480, not a system such as {text}")
    written = _QUANTITY.fullmatch(text)
    if not written or not any(c.isdigit() for c in written[1]):
        raise UnreadableError("is not a number")
    if declared == "-" and written[2].strip() != "%":
        raise UnreadableError(f"takes no unit, but has '{written[2].strip()}'")
    factor, offset = _conversion(written[2].strip(), declared)
    # Twelve digits drop the conversion's own rounding: 95 degF is 35 degC, on the limit of a band.
    return float(f"{float(written[1].replace(',', '')) * factor + offset:.12g}")
