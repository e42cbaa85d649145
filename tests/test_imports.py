"""Imports run one way, and each library of others stands behind the module that needs it."""

import ast
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
FILES = {
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
    for folder in ("xlfuncs", "workbooks")
    for path in sorted((ROOT / folder).rglob("*.py"))
}

# A module imports from the rows above its own, and from its own row.
ORDER = [
    {"errors"},
    {"registry", "steps", "tables", "units"},
    {"limits", "designations"},
    {"SUBJECTS"},
    {"working", "installation", "review"},
    {"functions"},
    {""},
    {"hosts"},
    {"COMMANDS"},
    {"cli"},
    {"__main__"},
]
# Between the sheet and the functions, without knowing any of them.
BESIDE_SUBJECTS = {"cells", "descriptions"}
# Shared by subjects, without a function of their own.
SUBJECT_HELPERS = {"ampacity", "cable"}

# Library -> modules that may import it, what they hold included.
OTHERS = {
    "pint": {"xlfuncs.units"},
    "xlwings": {"xlfuncs.hosts.excel"},
    "formualizer": {"xlfuncs.hosts.workbook.engine"},
    "lxml": {"xlfuncs.hosts.workbook", "xlfuncs.setup_calc"},
    "uno": {"xlfuncs.hosts.calc"},
    "unohelper": {"xlfuncs.hosts.calc"},
    "openpyxl": {"workbooks", "xlfuncs.demo", "xlfuncs.practice"},
    "rich": {"xlfuncs.cli"},
}


def imported(source, module, is_package=False):
    """Full names of what a source imports anywhere in it: modules, or names in modules."""
    package = module.split(".") if is_package else module.split(".")[:-1]
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found.update(name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            start = package[: len(package) + 1 - node.level] if node.level else []
            base = ".".join([*start, *([node.module] if node.module else [])])
            found.update(f"{base}.{name.name}" for name in node.names)
    return found


def module_of(name, modules):
    """The module of ours that holds an imported name; None for a library of others."""
    while name not in modules:
        name, dot, _ = name.rpartition(".")
        if not dot:
            return None
    return name


IMPORTED = {
    module: imported(path.read_text("utf-8"), module, path.name == "__init__.py")
    for module, path in FILES.items()
}
GRAPH = {
    module: {module_of(name, FILES) for name in names} - {None, module}
    for module, names in IMPORTED.items()
}
SUBJECTS = {
    module.removeprefix("xlfuncs.") for module in GRAPH["xlfuncs.functions"]
} | SUBJECT_HELPERS


def row_of(module):
    """Number of the row of ORDER that holds a module of the package."""
    top = module.removeprefix("xlfuncs").removeprefix(".").partition(".")[0]
    for number, row in enumerate(ORDER):
        if top in row:
            return number
    kind = "SUBJECTS" if top in SUBJECTS | BESIDE_SUBJECTS else "COMMANDS"
    return next(number for number, row in enumerate(ORDER) if kind in row)


def wrong_way(module, target):
    """Whether a module of the package must not import the other."""
    sides = {name.partition(".")[2] in BESIDE_SUBJECTS for name in (module, target)}
    if row_of(module) == row_of(target) == row_of("xlfuncs.cells") and len(sides) == 2:
        return True
    return row_of(target) > row_of(module)


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("import pint", {"pint"}),
        ("from . import tables", {"xlfuncs.hosts.tables"}),
        ("from ..cells import answer", {"xlfuncs.cells.answer"}),
        ("def late():\n    from .. import units", {"xlfuncs.units"}),
        ("from xlwings.utils import prepare", {"xlwings.utils.prepare"}),
    ],
)
def test_an_import_is_seen(source, found):
    assert imported(source, "xlfuncs.hosts.excel") == found


@pytest.mark.parametrize(
    ("module", "target"),
    [
        ("xlfuncs.current", "xlfuncs.cells"),
        ("xlfuncs.cells", "xlfuncs.current"),
        ("xlfuncs.current", "xlfuncs.hosts.excel"),
        ("xlfuncs.cable", "xlfuncs.functions"),
        ("xlfuncs.cells", "xlfuncs.functions"),
        ("xlfuncs.tables", "xlfuncs.limits"),
        ("xlfuncs.registry", "xlfuncs.current"),
        ("xlfuncs.errors", "xlfuncs.steps"),
        ("xlfuncs.hosts.excel", "xlfuncs.cli"),
        ("xlfuncs.hosts.workbook.fill", "xlfuncs.setup_excel"),
        ("xlfuncs.functions", "xlfuncs"),
    ],
)
def test_a_wrong_way_is_seen(module, target):
    assert wrong_way(module, target)


@pytest.mark.parametrize("module", [module for module in GRAPH if module.startswith("xlfuncs")])
def test_imports_run_one_way(module):
    ours = {target for target in GRAPH[module] if target.startswith("xlfuncs")}
    assert sorted(target for target in ours if wrong_way(module, target)) == []


def test_the_package_does_not_need_the_workbook_builders():
    assert [
        (module, target)
        for module, targets in GRAPH.items()
        for target in targets
        if module.startswith("xlfuncs") and target.startswith("workbooks")
    ] == []


def test_there_is_no_circle():
    within = {
        module: {target for target in targets if not module.startswith(f"{target}.")}
        for module, targets in GRAPH.items()
    }
    try:
        list(TopologicalSorter(within).static_order())
    except CycleError as circle:
        pytest.fail(" <- ".join(circle.args[1]))


@pytest.mark.parametrize("library", OTHERS)
def test_a_library_stands_behind_its_module(library):
    users = {
        module
        for module, names in IMPORTED.items()
        if any(name.partition(".")[0] == library for name in names)
    }
    assert {
        user
        for user in users
        if not any(f"{user}.".startswith(f"{allowed}.") for allowed in OTHERS[library])
    } == set()
