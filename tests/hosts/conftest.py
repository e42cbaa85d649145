"""Fixtures of the host tests."""

from .calc_office import office

__all__ = ["office"]
