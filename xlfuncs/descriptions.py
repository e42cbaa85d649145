"""The texts that describe arguments, for every host, the command and the docs."""

from __future__ import annotations

import re
from typing import Any

from .designations import text_of
from .limits import LIMITS
from .registry import Argument


def default_text(argument: Argument) -> str:
    """Write the default of an optional argument."""
    return text_of(argument.default) or "blank"


def argument_text(argument: Argument) -> str:
    """Describe an argument: what it is, its choices or its unit and limits."""
    text = argument.help
    if argument.kind == "choice":
        return f"{text} One of {', '.join(argument.choices)}."
    limit = LIMITS.get(argument.name)
    if limit is None:
        return text
    return f"{text} {str(limit)[0].upper()}{str(limit)[1:]}."


def example_cells(example: str) -> list[Any]:
    """Read the arguments of an example formula as cells; {1,2,3} is a row, an empty place None."""
    inside = example.partition("(")[2].rpartition(")")[0]
    places = re.findall(r'("(?:[^"]|"")*"|\{[^}]*\}|[^,]*)(?:,|$)', inside)
    return [_example_cell(place.strip()) for place in places[: -1 if inside else None]]


def _example_cell(text: str) -> Any:
    if text.startswith("{"):
        return [
            [_example_cell(one.strip()) for one in row.split(",")]
            for row in text.strip("{}").split(";")
        ]
    if text.startswith('"'):
        return text[1:-1].replace('""', '"')
    if text.upper() in ("TRUE", "FALSE"):
        return text.upper() == "TRUE"
    return float(text) if text else None
