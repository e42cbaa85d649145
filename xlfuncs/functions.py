"""All subjects, imported so that the registry is full."""

from . import (
    ampacity,
    conductor,
    current,
    diagnosis,
    fault,
    grounding,
    installation,
    overcurrent,
    raceway,
    readings,
    review,
    site,
    voltage,
    working,
)
from .registry import FUNCTIONS

__all__ = [
    "FUNCTIONS",
    "ampacity",
    "conductor",
    "current",
    "diagnosis",
    "fault",
    "grounding",
    "installation",
    "overcurrent",
    "raceway",
    "readings",
    "review",
    "site",
    "voltage",
    "working",
]
