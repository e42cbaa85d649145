"""``python -m xlfuncs`` is the command ``xlfuncs``."""

from .cli import main

main()
