"""Each function is declared once; every host builds its own interface from that record.

The docstring is the schema. It is read strictly: a docstring that disagrees with its signature, a
number without a unit, a function without source or example stops the import.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, TypeVar

FUNCTIONS: dict[str, Function] = {}

KINDS = ("number", "count", "numbers", "designation", "choice", "cell")
RESULT_KINDS = ("number", "designation", "bool", "table")

# A core function that takes *arguments offers this many optional ones: a worksheet function has
# a fixed list, and no function of ours has more arguments.
MOST_ARGUMENTS = 18

Core = TypeVar("Core", bound=Callable[..., Any])


@dataclass(frozen=True)
class Argument:
    """One argument of a worksheet function.

    `kind` is ``number`` (a unit in `unit`), ``count`` (a whole number), ``numbers`` (a range read
    as one), ``designation`` (a size, a type, a system), ``choice`` (one of `choices`) or
    ``cell`` (handed on as it stands).
    """

    name: str
    kind: str
    help: str
    unit: str
    default: Any
    required: bool
    choices: tuple[str, ...]


@dataclass(frozen=True)
class Function:
    """One worksheet function, as every host offers it."""

    name: str
    core: Callable[..., Any]
    group: str
    summary: str
    arguments: tuple[Argument, ...]
    result: str
    unit: str
    notes: str
    sources: tuple[str, ...]
    example: str
    elementwise: bool
    columns: tuple[str, ...]

    @property
    def signature(self) -> str:
        """The call as a user would write it, optional arguments in brackets."""
        shown = [a.name if a.required else f"[{a.name}]" for a in self.arguments]
        return f"{self.name}({', '.join(shown)})"


def worksheet(
    name: str, *, elementwise: bool = True, columns: tuple[str, ...] = ()
) -> Callable[[Core], Core]:
    """Offer a core function to every host as `name`; return it unchanged.

    Parameters
    ----------
    name : str
        Worksheet name, stable once workbooks use it.
    elementwise : bool
        Whether each element of the arguments has its own answer. A function of a whole range,
        such as an unbalance, is not elementwise.
    columns : tuple of str
        Headings of the columns, where each element answers with several values.
    """

    def declare(core: Core) -> Core:
        if name in FUNCTIONS:
            raise ValueError(f"{name} is declared twice")
        FUNCTIONS[name] = _read(core, name, elementwise, columns)
        return core

    return declare


def _read(
    core: Callable[..., Any], name: str, elementwise: bool, columns: tuple[str, ...]
) -> Function:
    doc = inspect.getdoc(core) or ""
    parameters = inspect.signature(core).parameters
    stated = _entries(name, doc, "Parameters")
    if list(stated) != list(parameters):
        raise ValueError(f"{name}: docstring and signature disagree")
    arguments = tuple(
        argument
        for parameter in parameters.values()
        for argument in _arguments(name, parameter, *stated[parameter.name])
    )
    results = list(_entries(name, doc, "Returns").values())
    if len(results) != 1 or results[0][0] not in RESULT_KINDS:
        raise ValueError(f"{name}: Returns must hold one entry of kind {RESULT_KINDS}")
    kind, _, unit = results[0]
    if kind == "number" and not unit:
        raise ValueError(f"{name}: the result has no unit")
    references = re.findall(r"^\.\. \[\d+\] (.+(?:\n {3,}.+)*)", _section(doc, "References"), re.M)
    example = _section(doc, "Examples").strip()
    if not references or not example.startswith(f"={name}("):
        raise ValueError(f"{name}: needs a reference and an example")
    return Function(
        name=name,
        core=core,
        group=core.__module__.rpartition(".")[2],
        summary=doc.partition("\n")[0],
        arguments=arguments,
        result=kind,
        unit=unit,
        notes=_section(doc, "Notes").strip(),
        sources=tuple(" ".join(reference.split()) for reference in references),
        example=example,
        elementwise=elementwise,
        columns=columns,
    )


def _arguments(
    function: str, parameter: inspect.Parameter, kind: str, help: str, unit: str
) -> Iterator[Argument]:
    choices: tuple[str, ...] = ()
    if kind.startswith("{"):
        choices = tuple(word.strip().strip("'") for word in kind.strip("{}").split(","))
        kind = "choice"
    if kind not in KINDS:
        raise ValueError(f"{function}: {parameter.name} is of no known kind: {kind}")
    if kind in ("number", "numbers") and not unit:
        raise ValueError(f"{function}: {parameter.name} is a number without a unit")
    if parameter.kind is inspect.Parameter.VAR_POSITIONAL:
        singular = parameter.name.removesuffix("s")
        for number in range(1, MOST_ARGUMENTS + 1):
            yield Argument(f"{singular}_{number}", kind, help, unit, None, False, choices)
        return
    required = parameter.default is inspect.Parameter.empty
    default = None if required else parameter.default
    yield Argument(parameter.name, kind, help, unit, default, required, choices)


def _section(doc: str, title: str) -> str:
    found = re.search(rf"^{title}\n-+\n(.*?)(?=\n\n[A-Z]\w+\n-+\n|\Z)", doc, re.S | re.M)
    return found[1] if found else ""


def _entries(function: str, doc: str, title: str) -> dict[str, tuple[str, str, str]]:
    """Name -> (kind, help, unit) for the entries of one numpydoc section."""
    found: dict[str, tuple[str, str, str]] = {}
    for name, kind, body in re.findall(
        r"^\*?(\w+) : (.+)\n((?: {4}.*\n?)+)", _section(doc, title) + "\n", re.M
    ):
        text = " ".join(body.split())
        unit = re.search(r" \[([^\]]+)\]$", text)
        if unit:
            text = text[: unit.start()]
        found[name] = kind, text, unit[1] if unit else ""
    if not found:
        raise ValueError(f"{function}: no {title} in the docstring")
    return found
