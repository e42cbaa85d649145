"""Electrical installation calculations as worksheet functions.

`call` answers as a sheet does: cell values in, a cell value out. The subjects (`current`,
`overcurrent`, `conductor`, `grounding`, `voltage` and others) hold the same calculations as
pure functions on arrays: they broadcast as numpy does and raise `InputError` for what has no
answer.
"""

from . import functions  # fills the registry
from .cells import call
from .errors import InputError

__all__ = ["InputError", "call", "functions"]
__version__ = "0.1.0"
