"""Cells for every function of the registry, made from its example and the kinds it declares."""

import ast
import re

READINGS = [[474.0], [476.0], [473.0]]


def example(function):
    """The arguments of the function's own example, as cells hold them."""
    inside = function.example.splitlines()[0].removeprefix(f"={function.name}(").rstrip(")")
    inside = re.sub(r"\b[A-Z]+\d+:[A-Z]+\d+\b", "READINGS", inside)
    inside = re.sub(r"\b(TRUE|FALSE)\b", lambda word: word[0].capitalize(), inside)
    tree = ast.parse(f"[{inside}]", mode="eval").body
    return [
        [row[:] for row in READINGS] if isinstance(part, ast.Name) else ast.literal_eval(part)
        for part in tree.elts
    ]
