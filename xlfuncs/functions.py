"""All subjects, imported so that the registry is full."""

from . import current, overcurrent, working
from .registry import FUNCTIONS

__all__ = ["FUNCTIONS", "current", "overcurrent", "working"]
