"""All subjects, imported so that the registry is full."""

from . import ampacity, conductor, current, grounding, overcurrent, readings, voltage, working
from .registry import FUNCTIONS

__all__ = [
    "FUNCTIONS",
    "ampacity",
    "conductor",
    "current",
    "grounding",
    "overcurrent",
    "readings",
    "voltage",
    "working",
]
