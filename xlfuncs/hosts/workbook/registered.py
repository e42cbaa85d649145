"""The worksheet functions as a run is given them.

Apart from the engine, so that a process that only waits for another need not load that.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

from xlfuncs import cells
from xlfuncs.functions import FUNCTIONS


class OverColumns(functools.partial[Any]):
    """A function that answers each row of columns as it answers that row alone."""


def registered_functions() -> dict[str, Callable[..., object]]:
    """Every worksheet function, as a sheet calls it."""
    return {
        name: (OverColumns if function.elementwise and not function.columns else functools.partial)(
            cells.call, name
        )
        for name, function in FUNCTIONS.items()
    }
