"""The texts that describe arguments, for every host, the command and the docs."""

from __future__ import annotations

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
