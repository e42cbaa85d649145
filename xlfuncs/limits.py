"""What a number may be: one range and one unit for each argument name.

The ranges keep slips out (a percent typed as a fraction, a length in the wrong place); the rules
of a subject narrow them further where its tables end.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .errors import require

# A value this close to a limit counts as equal to it: a product of nameplate figures must not
# miss 60 A by rounding.
RELATIVE_TOLERANCE = 1e-6


def at_most(value: ArrayLike, limit: ArrayLike) -> NDArray[np.bool_]:
    """Tell where `value` is not above `limit`, equal within rounding included."""
    # numpy's own absolute term would make all small currents equal, hence the relative form.
    limit = np.asarray(limit, float)
    return np.asarray(np.asarray(value, float) <= limit * (1 + RELATIVE_TOLERANCE))


def at_least(value: ArrayLike, limit: ArrayLike) -> NDArray[np.bool_]:
    """Tell where `value` is not below `limit`, equal within rounding included."""
    return at_most(limit, value)


def first_at_least(listed: NDArray[np.float64], value: ArrayLike) -> NDArray[np.intp]:
    """Index of the first of the rising `listed` values that is at least `value`.

    Equal within rounding counts; the number of listed values where none is large enough.
    """
    return np.asarray(np.searchsorted(listed, np.asarray(value) / (1 + RELATIVE_TOLERANCE)))


@dataclass(frozen=True)
class Limit:
    """Range of an argument, ends included unless `above`."""

    low: float
    high: float
    unit: str
    above: bool = False
    whole: bool = False
    hint: str = ""

    def __str__(self) -> str:
        unit = "" if self.unit == "-" else "%" if self.unit == "%" else f" {self.unit}"
        kind = "a whole number " if self.whole else ""
        ends = (
            f"above {self.low:.12g}{unit}, up to {self.high:.12g}{unit}"
            if self.above
            else f"from {self.low:.12g} to {self.high:.12g}{unit}"
        )
        return f"{kind}{ends}{self.hint}"


def _positive(high: float, unit: str) -> Limit:
    return Limit(0, high, unit, above=True)


def _count(low: int, high: int) -> Limit:
    return Limit(low, high, "-", whole=True)


# Ends stay below the numbers behind today's dates (36526 is 1 January 2000), so that a date in
# the wrong cell, which some hosts hand over as its number, is refused.
_KVA = _positive(35_000, "kVA")
_VOLTS = _positive(36_500, "V")
_VOLTS_OR_NONE = Limit(0, 35_000, "V")
_AMPS = _positive(35_000, "A")
_AMPS_OR_NONE = Limit(0, 35_000, "A")
_RUN = _positive(20_000, "ft")
_PERCENT_HINT = ": write 3 for 3%"

LIMITS: dict[str, Limit] = {
    "kva": _KVA,
    "source_kva": _positive(100_000_000, "kVA"),
    "volts": _VOLTS,
    "primary_volts": _VOLTS,
    "secondary_volts": _VOLTS,
    "volts_to_ground": _VOLTS,
    "nominal": _VOLTS,
    **dict.fromkeys(
        ("reading", "readings", "a_b", "b_c", "c_a", "a_n", "b_n", "c_n", "n_g"), _VOLTS_OR_NONE
    ),
    "amps": _AMPS,
    "fault_amps": _positive(500_000, "A"),
    "device_amps": _AMPS,
    "primary_device": _AMPS,
    "secondary_device": _AMPS_OR_NONE,
    "end_device": _AMPS_OR_NONE,
    "load": _AMPS_OR_NONE,
    "continuous": _AMPS_OR_NONE,
    "noncontinuous": _AMPS_OR_NONE,
    "impedance": Limit(0.5, 30, "%", hint=": write 5.75 for 5.75%"),
    "limit": Limit(0.1, 50, "%", hint=_PERCENT_HINT),
    "tap_step": Limit(0.5, 10, "%", hint=": write 2.5 for 2.5%"),
    "spare": Limit(0, 100, "%", hint=": write 5 for 5%"),
    "primary_percent": Limit(100, 250, "%", hint=": write 125 for 125%"),
    # A cell that shows 200% holds 2.
    "load_percent": Limit(5, 200, "%", hint=": write 100 for 100%"),
    "power_factor": Limit(0, 1, "-", above=True, hint=": write 0.85 for 85%"),
    "x_over_r": Limit(0.1, 100, "-"),
    "ambient": Limit(-50, 85, "degC"),
    "length": _RUN,
    "run": _RUN,
    "primary_length": _RUN,
    "secondary_length": _RUN,
    "tail": Limit(0, 100, "ft"),
    "conductors": _count(1, 500),
    "sets": _count(1, 20),
    "primary_sets": _count(1, 20),
    "secondary_sets": _count(1, 20),
    "count": _count(1, 10_000),
    "count_1": _count(1, 500),
    "count_2": _count(0, 500),
    "count_3": _count(0, 500),
    "count_4": _count(0, 500),
    "above": _count(0, 10),
    "below": _count(0, 10),
}


def within_limits(**arguments: ArrayLike | None) -> tuple[NDArray[np.float64], ...]:
    """Return the arguments as numbers, each held to its limit.

    Arguments
    ---------
    **arguments
        Values by argument name, as listed in `LIMITS`.

    Raises
    ------
    InputError
        Where a value is outside the limit of its name, or is no number.
    """
    return tuple(_within(name, values) for name, values in arguments.items())


def within_limits_or_blank(**arguments: ArrayLike | None) -> tuple[NDArray[np.float64], ...]:
    """Return the arguments as numbers, each held to its limit or NaN where it is left blank."""
    return tuple(_within(name, values, blank=True) for name, values in arguments.items())


BLANK = np.asarray(np.nan)
BLANK.setflags(write=False)


def _holds(limit: Limit, number: float) -> bool:
    low = number > limit.low if limit.above else number >= limit.low
    return low and number <= limit.high and (not limit.whole or number.is_integer())


def _within(name: str, values: ArrayLike | None, blank: bool = False) -> NDArray[np.float64]:
    limit = LIMITS[name]
    if type(values) in (float, int):  # one cell: no arrays yet
        number = float(values)  # type: ignore[arg-type]
        if _holds(limit, number):
            return np.asarray(number)
    if values is None and blank:
        return BLANK
    numbers = np.asarray(values, float)
    holds = numbers > limit.low if limit.above else numbers >= limit.low
    holds = holds & (numbers <= limit.high)
    if limit.whole:
        holds = holds & (numbers == np.rint(numbers))
    if blank:
        holds = holds | np.isnan(numbers)
    if not holds.all():
        require(holds, f"{name} must be {limit}")
    return numbers
