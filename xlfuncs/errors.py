"""The one way in which a calculation refuses an input."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike


class InputError(ValueError):
    """Elements of an input that have no answer.

    Attributes
    ----------
    message : str
        The argument and the limit that it breaks, in plain words.
    mask : ndarray of bool
        True at the elements that are refused.
    """

    def __init__(self, message: str, mask: ArrayLike = True) -> None:
        super().__init__(message)
        self.message = message
        self.mask = np.asarray(mask, bool)


def require(holds: ArrayLike, message: str) -> None:
    """Refuse the elements where `holds` is not true.

    State what must hold, never its negation: a comparison with NaN is false, so that a missing
    number is refused.
    """
    if isinstance(holds, (bool, np.bool_)) and holds:  # one cell: no arrays
        return
    holds = np.asarray(holds, bool)
    if not holds.all():
        raise InputError(message, ~holds)
