"""Mutations of this project's own vocabulary, beside the general ones of Cosmic Ray."""

from cosmic_ray.operators.operator import Example, Operator
from parso.python.tree import Name, String

SWAPS = [
    ("minimum", "maximum"),
    ("fmin", "fmax"),
    ("min", "max"),
    ("any", "all"),
    ("argmin", "argmax"),
    ("floor", "ceil"),
    ("next_rating", "rating_at_most"),
    ("_rounded_up", "_rounded_down"),
    ("terminal_by_size", "terminal_by_amps"),
]
OTHER_NAME = dict(SWAPS) | {second: first for first, second in SWAPS}
OTHER_NAME["at_most"] = "(lambda value, limit: at_most(limit, value))"
OTHER_NAME["at_least"] = "(lambda value, limit: at_least(limit, value))"
EXACT = {
    "at_most": "(lambda value, limit: np.asarray(value) <= limit)",
    "at_least": "(lambda value, limit: np.asarray(value) >= limit)",
    "first_at_least": "np.searchsorted",
}
REFUSALS = ("require", "require_listed", "require_parallel")
SIDES = {'"left"': '"right"', '"right"': '"left"'}


def called_name(node):
    """Name that a call begins with, such as require in require(...)."""
    children = getattr(node, "children", [])
    is_call = node.type in ("atom_expr", "power") and isinstance(children[0], Name)
    return children[0].value if is_call else None


def is_use_of(node, names):
    """Whether a node is the use of one of the names, not its import or a keyword."""
    return (
        isinstance(node, Name)
        and node.value in names
        and not node.is_definition()
        and node.parent.type not in ("import_as_names", "import_from", "argument")
    )


class Swap(Operator):
    """Put a function in place of its opposite, such as a minimum for a maximum."""

    def mutation_positions(self, node):
        if is_use_of(node, OTHER_NAME):
            yield node.start_pos, node.end_pos

    def mutate(self, node, index):
        node.value = OTHER_NAME[node.value]
        return node

    @classmethod
    def examples(cls):
        return (Example("np.minimum(a, b)", "np.maximum(a, b)"),)


class Exact(Operator):
    """Compare without the allowance for rounding."""

    def mutation_positions(self, node):
        if is_use_of(node, EXACT):
            yield node.start_pos, node.end_pos

    def mutate(self, node, index):
        node.value = EXACT[node.value]
        return node

    @classmethod
    def examples(cls):
        return (Example("first_at_least(a, b)", "np.searchsorted(a, b)"),)


class NeverRefuse(Operator):
    """Let a refusal pass."""

    def mutation_positions(self, node):
        if called_name(node) in REFUSALS and node.parent.type in ("expr_stmt", "simple_stmt"):
            yield node.start_pos, node.end_pos

    def mutate(self, node, index):
        node.children[0].value = "type"
        node.children[1].children[1:-1] = [Name("None", node.children[1].start_pos)]
        return node

    @classmethod
    def examples(cls):
        return (Example("require(x > 0, 'x')\n", "type(None)\n"),)


class NoteAlways(Operator):
    """Record a line of working where its branch was not taken."""

    def mutation_positions(self, node):
        if node.type == "argument" and is_where(node.children[0]) and called_by_note(node):
            yield node.children[2].start_pos, node.children[2].end_pos

    def mutate(self, node, index):
        node.children[2] = Name("True", node.children[2].start_pos)
        return node

    @classmethod
    def examples(cls):
        return (Example("note('Sum', where=three)", "note('Sum', where=True)"),)


class SwapSide(Operator):
    """Look a value up on the other side of equal ones."""

    def mutation_positions(self, node):
        if isinstance(node, String) and node.value in SIDES:
            yield node.start_pos, node.end_pos

    def mutate(self, node, index):
        node.value = SIDES[node.value]
        return node

    @classmethod
    def examples(cls):
        return (Example('f(x, side="left")', 'f(x, side="right")'),)


class OtherWord(Operator):
    """Compare with a word that is never given."""

    def mutation_positions(self, node):
        if isinstance(node, String) and node.parent.type == "comparison" and len(node.value) > 2:
            yield node.start_pos, node.end_pos

    def mutate(self, node, index):
        node.value = node.value[:-1] + "?" + node.value[-1]
        return node

    @classmethod
    def examples(cls):
        return (Example('x == "fuse"', 'x == "fuse?"'),)


def is_where(node):
    return isinstance(node, Name) and node.value == "where"


def called_by_note(node):
    arguments = node.parent
    return arguments.type == "arglist" and called_name(arguments.parent.parent) == "note"


OWN = {
    operator.__name__: operator
    for operator in (Swap, Exact, NeverRefuse, NoteAlways, SwapSide, OtherWord)
}
