"""``python -m xlfuncs`` is the command ``xlfuncs``."""

import sys

from .cli import main

sys.exit(main())
