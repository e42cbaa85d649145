"""How people write sizes, metals and other designations, read into one form.

Each reader takes text or numbers, alone or in arrays, and refuses what it can't read.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from fractions import Fraction
from functools import lru_cache, partial
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import tables
from .errors import require

# Argument name -> accepted value -> other ways of writing it (lower case).
CHOICES: dict[str, dict[float | str | bool, tuple[str, ...]]] = {
    "phases": {
        1: ("1-phase", "1 phase", "1ph", "single", "single-phase", "single phase"),
        3: ("3-phase", "3 phase", "3ph", "three", "three-phase", "three phase"),
    },
    "material": {"copper": ("cu",), "aluminum": ("al", "aluminium")},
    "size_material": {"copper": ("cu",), "aluminum": ("al", "aluminium")},
    "conduit": {
        "steel": ("emt", "rmc", "imc", "fmc", "lfmc"),
        "aluminum": ("al", "aluminium"),
        "pvc": ("pvc40", "pvc80", "nonmetallic"),
    },
    "raceway": {
        "EMT": (),
        "FMC": (),
        "LFMC": (),
        "IMC": (),
        "RMC": (),
        "PVC40": ("pvc 40", "pvc-40", "pvc sch 40", "pvc schedule 40"),
        "PVC80": ("pvc 80", "pvc-80", "pvc sch 80", "pvc schedule 80"),
    },
    "device": {"breaker": ("circuit breaker", "cb"), "fuse": ("fuses",)},
    "rounding": {"up": (), "down": ()},
    "winding": {"primary": (), "secondary": ()},
    "secondary_winding": {
        "wye": ("y", "star"),
        "delta": ("d",),
        "three-wire": ("3-wire", "3 wire", "three wire"),
        "two-wire": ("2-wire", "2 wire", "two wire"),
    },
    "electrode": {
        "structure": ("building", "building steel", "water pipe"),
        "pipe": (),
        "rod": ("ground rod", "plate"),
        "concrete": ("concrete-encased", "concrete encased", "ufer"),
    },
    "at": {"service": (), "utilization": ("utilisation", "equipment")},
    "terminal": {60: ("60c", "60 c"), 75: ("75c", "75 c")},
    "condition": {1: (), 2: (), 3: ()},
    "edition": {2017: (), 2020: (), 2023: ()},
    "secondary_protected": {True: ("yes", "y", "1"), False: ("no", "n", "0")},
    "supervised": {True: ("yes", "y", "1"), False: ("no", "n", "0")},
    "next_size_up": {True: ("yes", "y", "1"), False: ("no", "n", "0")},
    "panel_fed": {True: ("yes", "y", "1"), False: ("no", "n", "0")},
    "neutral": {True: ("yes", "y", "1"), False: ("no", "n", "0")},
    "nipple": {True: ("yes", "y", "1"), False: ("no", "n", "0")},
    "headings": {True: ("yes", "y", "1"), False: ("no", "n", "0")},
}

# Arguments that may be left blank: the rule then decides.
MAY_BE_BLANK = {"terminal"}


def text_of(value: object) -> str:
    """Write a cell value as text: a whole number without its decimal point."""
    if isinstance(value, str):
        return value.strip()
    if value is None:
        return ""
    if isinstance(value, (bool, np.bool_)):
        return "TRUE" if value else "FALSE"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, (float, np.number)):
        number = float(value)
        return str(int(number)) if number.is_integer() else "" if number != number else repr(number)
    return str(value).strip()


def once_each(read: Callable[[Any], Any], elements: list[Any]) -> list[Any]:
    """Apply a function to every element, once for those that are equal: columns repeat."""
    alike = len(set(map(type, elements))) <= 1
    # 1 equals TRUE, but reads otherwise.
    keys = elements if alike else list(zip(map(type, elements), elements, strict=True))
    different = dict(zip(keys, elements, strict=True))
    answers = {key: read(element) for key, element in different.items()}
    return list(map(answers.__getitem__, keys))


def _each(read: Callable[[str], int], values: ArrayLike | None) -> NDArray[np.intp]:
    """Apply a reader of one text to every element, once for equal ones."""
    if isinstance(values, str) or values is None:
        return np.asarray(read(text_of(values)), np.intp)
    array = np.asarray(values)
    numbers = once_each(lambda value: read(text_of(value)), array.ravel().tolist())
    return np.array(numbers, np.intp).reshape(array.shape)


def _or_list(words: Iterable[object]) -> str:
    listed = [text_of(word) for word in words]
    return " or ".join([", ".join(listed[:-1]), listed[-1]]) if len(listed) > 1 else listed[0]


@lru_cache(maxsize=4096)
def _choice_number(name: str, text: str) -> int:
    wanted = text.casefold()
    for number, (value, others) in enumerate(CHOICES[name].items()):
        if wanted == text_of(value).casefold() or wanted in others:
            return number
    return -2 if not wanted and name in MAY_BE_BLANK else -1


def choice(name: str, values: ArrayLike | None) -> NDArray[np.generic]:
    """Read the argument `name` as one of its choices.

    Returns
    -------
    values : ndarray
        Numbers, texts or booleans, as the choices are; NaN where a number may be left blank.
    """
    if values is None or isinstance(values, (str, bool, int, float)):  # one cell: no arrays yet
        alone = _choice_number(name, text_of(values))
        require(alone != -1, _REFUSAL[name])
        return _ALONE[name][alone]
    number = _each(partial(_choice_number, name), values)
    require(number != -1, _REFUSAL[name])
    return np.asarray(_ACCEPTED[name][number])


# The values of each choice as an array; a blank that is allowed stands at the end, where the
# number -2 finds it, followed by one place that -1 would find and never does.
_ACCEPTED: dict[str, NDArray[np.generic]] = {
    name: np.array([*choices, np.nan, np.nan] if name in MAY_BE_BLANK else list(choices))
    for name, choices in CHOICES.items()
}
_ALONE = {name: [np.asarray(value) for value in values] for name, values in _ACCEPTED.items()}
_REFUSAL = {name: f"{name} must be {_or_list(choices)}" for name, choices in CHOICES.items()}


class Sizes:
    """The conductor sizes of the tables, 18 AWG to 2000 kcmil, in order of area.

    An index into this list stands for a size in a calculation, so that the next larger size is
    the index plus one.
    """

    BLANK = -1

    def __init__(self) -> None:
        properties = tables.read("conductor_properties")
        # Sizes 18 to 8 are printed solid and stranded; the area is the same.
        self.printed = list(dict.fromkeys(properties.printed["size"].tolist()))
        self.number = {size: index for index, size in enumerate(self.printed)}
        first = [properties.printed["size"].tolist().index(size) for size in self.printed]
        self.area = properties["area_cmil"][first] / 1000
        self.names = np.array([self._name(size) for size in self.printed])
        self.read = lru_cache(maxsize=4096)(self._read)

    @staticmethod
    def _name(size: str) -> str:
        return f"{size} kcmil" if size.isdigit() and int(size) >= 250 else f"{size} AWG"

    def _read(self, text: str) -> int:
        """Index of a size as people write it: #6, 6 AWG, No. 6, 1/0, 00, 250 MCM; else -2."""
        if not text:
            return self.BLANK
        written = re.fullmatch(
            r"(?:#|no\.? ?)?(\d+(?:/0)?)(?:\.0*)? ?(awg|kcmil|mcm)?", text.strip().casefold()
        )
        if not written:
            return -2
        number, unit = written.groups()
        if re.fullmatch("0{2,4}", number):  # 00 is 2/0
            number = f"{len(number)}/0"
        index = self.number.get(number, -2)
        kcmil = index >= self.number["250"]
        wrong_unit = index >= 0 and unit is not None and (unit == "awg") == kcmil
        return -2 if wrong_unit else index

    def index(self, name: str, values: ArrayLike | None) -> NDArray[np.intp]:
        """Read the argument `name` as sizes; a blank is refused."""
        found = self.index_or_blank(name, values)
        require(found != self.BLANK, f"{name} is blank")
        return found

    def index_or_blank(self, name: str, values: ArrayLike | None) -> NDArray[np.intp]:
        """Read the argument `name` as sizes; `BLANK` where nothing is given."""
        found = _each(self.read, values)
        require(
            found != -2,
            f"{name} must be a conductor size such as 6, 1/0 or 250 (18 AWG to 2000 kcmil)",
        )
        return found

    def column(self, table: tables.Table, column: str) -> NDArray[np.float64]:
        """Values of a table's column for every size of this list, NaN where it has none."""
        values = np.full(len(self.printed), np.nan)
        for size, value in zip(table.printed["size"].tolist(), table[column], strict=True):
            values[self.number[size]] = value
        return values


SIZES = Sizes()
INSULATION = tables.read("insulation_types")
# A temperature rating alone stands for any type that has it, behind the types themselves.
_RATINGS = (60, 75, 90)
_INSULATION_RATING = np.append(INSULATION["rating_c"], _RATINGS)
_INSULATION_NUMBER = {
    name: number
    for number, name in enumerate([*INSULATION.printed["type"].tolist(), *map(str, _RATINGS)])
}


@lru_cache(maxsize=4096)
def _insulation_number(text: str) -> int:
    name = re.sub(r"\s+", "", text.upper().replace("_", "-"))
    rating = re.fullmatch(r"(60|75|90)(?:DEG|°)?C?", name)
    if rating:
        name = rating[1]
    return _INSULATION_NUMBER.get(name, -1)


def insulation_type(insulation: ArrayLike | None) -> NDArray[np.intp]:
    """Row of an insulation type in `INSULATION`; behind its end where a rating is given."""
    number = _each(_insulation_number, insulation)
    require(
        number != -1,
        "insulation must be a type such as THHN, THWN-2, XHHW-2, THW or TW, or 60, 75 or 90",
    )
    return number


def insulation_rating(insulation: ArrayLike | None) -> NDArray[np.float64]:
    """Temperature rating of an insulation type, or of a rating given as such. [degC]"""
    return np.asarray(_INSULATION_RATING[insulation_type(insulation)])


RACEWAY_AREA = tables.read("raceway_area")
_METRIC_DESIGNATORS = dict(
    zip(
        RACEWAY_AREA.printed["metric_designator"].tolist(),
        RACEWAY_AREA.printed["trade_size"].tolist(),
        strict=True,
    )
)
# From 3/8 to 6, in the order of their metric designators.
TRADE_SIZES = [_METRIC_DESIGNATORS[mark] for mark in sorted(_METRIC_DESIGNATORS, key=int)]
_TRADE_SIZE_NUMBER = {size: number for number, size in enumerate(TRADE_SIZES)}
_TRADE_SIZE_IN_INCHES = {
    float(sum(map(Fraction, size.split("-")))): number
    for size, number in _TRADE_SIZE_NUMBER.items()
}
_FRACTIONS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅜": "3/8"}
_INCHES = re.compile(r"(.*?) ?(?:\"|″|''|in\.?|inch|inches)")
# What a spreadsheet makes of 1/2: 2-Jan, 1/2/2026, or the day's serial number, here from 2000 to
# 2099; no trade size and no metric designator is near those.
_DATE = re.compile(
    r"(?:\d{1,4}[-/ ])?(?:\d{1,2}[-/. ])?(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*"
    r"(?:[-/. ]\d{1,4})?|\d{1,2}[-/.]\d{1,2}[-/.]\d{2,4}|\d{4}-\d{1,2}-\d{1,2}.*"
)
_SERIALS = range(36526, 73051)
_UNREADABLE, _NO_TRADE_SIZE, _METRIC, _A_DATE = -1, -2, -3, -4


@lru_cache(maxsize=4096)
def _trade_size_place(text: str) -> int:
    """Index of a trade size as people write it: 1-1/4, 1 1/4, 1.25, 1-1/4", 1 in, MD 35."""
    written = re.sub(r"[ \u00a0]+", " ", text.strip().casefold()).replace("–", "-")
    for mark, fraction in _FRACTIONS.items():
        written = written.replace(mark, f" {fraction}").strip()
    if not written:
        return _NO_TRADE_SIZE
    if _DATE.fullmatch(written) or (re.fullmatch("[0-9]{5}", written) and int(written) in _SERIALS):
        return _A_DATE
    marked = re.fullmatch(r"md ?(\d+)", written)
    if marked:
        size = _METRIC_DESIGNATORS.get(marked[1], "")
        return _TRADE_SIZE_NUMBER.get(size, _UNREADABLE)
    if written in _METRIC_DESIGNATORS:
        return _METRIC
    inches = _INCHES.fullmatch(written)
    number = inches[1] if inches else written
    number = re.sub(" ?[- ] ?", "-", number)
    if re.fullmatch(r"[0-9]*\.?[0-9]+", number):
        return _TRADE_SIZE_IN_INCHES.get(float(number), _UNREADABLE)
    return _TRADE_SIZE_NUMBER.get(number, _UNREADABLE)


def trade_size_number(name: str, values: ArrayLike | None) -> NDArray[np.intp]:
    """Read the argument `name` as trade sizes of raceways: indices into `TRADE_SIZES`."""
    number = _each(_trade_size_place, values)
    require(number != _NO_TRADE_SIZE, f"{name} is blank")
    require(
        number != _A_DATE,
        f"{name} is a date: the spreadsheet may have read a fraction such as 1/2 as a date. "
        "Format the cell as text, or type '1/2",
    )
    require(
        number != _METRIC,
        f"{name} looks like a metric designator: write it with MD, such as MD 27, "
        "or write the trade size",
    )
    require(
        number != _UNREADABLE,
        f"{name} must be a trade size such as 1/2, 3/4, 1, 1-1/4 or 2 (3/8 to 6)",
    )
    return number


_SYSTEM = re.compile(
    r"(\d+(?:\.\d+)?) ?v?(?: ?(y|/) ?/? ?(\d+(?:\.\d+)?) ?v?)?(?: ?(wye|y|delta|d))?", re.I
)


@lru_cache(maxsize=4096)
def _system(text: str) -> tuple[float, float]:
    """Line voltage and highest voltage to ground of a system designation; NaN if unreadable."""
    unreadable = (np.nan, np.nan)
    written = _SYSTEM.fullmatch(re.sub(r"\s+", " ", text.strip().replace("Δ", "delta")))
    if not written:
        return unreadable
    first, mark, second, ending = written.groups()
    one = float(first)
    delta = (ending or "").casefold() in ("delta", "d")
    if not one > 0:
        return unreadable
    if second is None:  # without a second voltage only a delta is complete
        return (one, one) if delta else unreadable
    line, leg = max(one, float(second)), min(one, float(second))
    if leg <= 0:
        return unreadable
    if abs(line / leg - np.sqrt(3)) < 0.01 and not delta:
        return line, leg
    if abs(line / leg - 2) < 1e-9 and (mark or "").casefold() != "y" and ending is None:
        return line, leg
    if abs(line / leg - 2) < 1e-9 and delta:  # the high leg of a mid-tapped delta
        return line, line * np.sqrt(3) / 2
    return unreadable


def system_voltages(system: ArrayLike | None) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Line voltage and highest voltage to ground of systems such as 480Y/277 or 480 delta. [V]"""
    array = np.asarray("" if system is None else system)
    pairs = np.array([_system(text_of(value)) for value in array.ravel().tolist()], float)
    line, ground = pairs.reshape(*array.shape, 2)[..., 0], pairs.reshape(*array.shape, 2)[..., 1]
    require(
        ~np.isnan(line),
        "system must be written like 480Y/277, 208Y/120, 120/240, 480 delta or 240/120 delta",
    )
    return line, ground
