"""The working of a call as a reader of XF_STEPS sees it."""

import xlfuncs


def lines_of(name, *arguments):
    """Each step as one text: what it finds, its working, its value to five digits."""
    *steps, _ = xlfuncs.call("XF_STEPS", name, *arguments)
    return [
        f"{step}: {working}: {value:.5g}"
        if isinstance(value, float)
        else f"{step}: {working}: {value}"
        for step, working, value, _, _ in steps
    ]
