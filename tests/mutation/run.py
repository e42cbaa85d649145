"""Change the subject modules one place at a time and see whether a test goes red.

    python tests/mutation/run.py                  the modules below, all mutants
    python tests/mutation/run.py current voltage  these modules only
    python tests/mutation/run.py --again          only those that survived without a reason

The work is done in a copy of the package and its tests, never in this folder. Cosmic Ray makes
the mutants; each one is imported and tested in a child of its own. What became of it is kept in
`build/mutation/<module>.json`; docs/mutation.md gives the reason for each one that survives.
"""

import argparse
import ast
import contextlib
import importlib
import json
import os
import re
import shutil
import signal
import sys
import tempfile
import time
from pathlib import Path

import hypothesis
import numpy  # noqa: F401  loaded once, for all the children
import pint  # noqa: F401
import pytest
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.plugins import get_operator, operator_names

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(Path(__file__).parent))
from operators import OWN  # noqa: E402

# Tests of each module, in the order in which they run; the first that goes red ends the run.
TESTS = {
    "overcurrent": ["test_overcurrent_laws"],
    "ampacity": ["test_conductor_laws"],
    "conductor": ["test_conductor_laws"],
    "grounding": ["test_grounding_laws"],
    "current": ["test_current_laws", "test_fault_laws"],
    "cable": ["test_voltage_laws", "test_fault_laws"],
    "voltage": ["test_voltage_laws"],
    "fault": ["test_fault_laws"],
    "raceway": ["test_raceway_laws", "test_trade_sizes"],
    "readings": ["test_readings_laws", "test_diagnosis"],
    "diagnosis": ["test_diagnosis"],
    "site": ["test_site_laws"],
    "installation": ["test_installation_laws"],
    "review.__init__": ["test_review"],
    "review.conductors": ["test_review"],
    "review.grounding": ["test_review"],
    "review.place": ["test_review"],
    "review.protection": ["test_review"],
    "review.unit": ["test_review"],
}
EVERY_MODULE = ["test_published", "test_steps_laws", "test_cells"]

# Operators that numbers and masks may meet; Cosmic Ray's others, such as a shift of a number or
# the `is` of two arrays, raise at once and would only flatter the score.
ARITHMETIC = ("Add", "Sub", "Mul", "Div", "FloorDiv", "Pow")
LOGIC = ("BitOr", "BitAnd", "BitXor")
COMPARISON = ("Eq", "NotEq", "Lt", "LtE", "Gt", "GtE")
OTHERS = (
    "NumberReplacer",
    "AddNot",
    "ReplaceTrueWithFalse",
    "ReplaceFalseWithTrue",
    "ReplaceAndWithOr",
    "ReplaceOrWithAnd",
    "ReplaceBreakWithContinue",
    "ReplaceContinueWithBreak",
    "ZeroIterationForLoop",
    "RemoveDecorator",
)


def is_used(name):
    short = name.partition("/")[2]
    binary = re.fullmatch("ReplaceBinaryOperator_([A-Za-z]+)_([A-Za-z]+)", short)
    if binary:
        return any(set(binary.groups()) <= set(family) for family in (ARITHMETIC, LOGIC))
    comparison = re.fullmatch("ReplaceComparisonOperator_([A-Za-z]+)_([A-Za-z]+)", short)
    if comparison:
        pair = set(comparison.groups())
        return pair <= set(COMPARISON) or pair == {"Is", "IsNot"}
    return short in OTHERS or short.startswith("ReplaceUnaryOperator_Delete")


OPERATORS = {
    name: operator
    for name in operator_names()
    if is_used(name) and not (operator := get_operator(name)).arguments()
} | OWN


# One process, no cache, and none of the options of the usual run.
ALONE = ["-x", "-q", "-o", "addopts=", "-p", "no:cacheprovider"]
TOO_SLOW = "too slow"


class OnlyWhatRuns(ast.NodeTransformer):
    """Leave out what no calculation reads: annotations and docstrings."""

    def visit_arg(self, node):
        node.annotation = None
        return node

    def visit_AnnAssign(self, node):
        self.generic_visit(node)
        node.annotation = ast.Constant(None)
        return node

    def visit_FunctionDef(self, node):
        self.generic_visit(node)
        node.returns = None
        return node


def what_runs(code):
    return ast.dump(OnlyWhatRuns().visit(ast.parse(code)))


def mutants(code):
    """Name and code of every mutant; alike ones and those that change nothing once."""
    seen = {what_runs(code)}
    tree = get_ast(code)
    for name, factory in OPERATORS.items():
        places = [place for node in ast_nodes(tree) for place in factory().mutation_positions(node)]
        for occurrence in range(len(places)):
            changed = mutate_code(code, factory(), occurrence)
            try:
                runs = what_runs(changed)
            except SyntaxError:
                continue
            if runs not in seen:
                seen.add(runs)
                yield f"{name} {occurrence}", changed


def named_mutant(code, name):
    operator, occurrence = name.split()
    return mutate_code(code, OPERATORS[operator](), int(occurrence))


class Watch:
    """Put the tests that name the module's functions first, and keep the name of a red one."""

    def __init__(self, functions, killer):
        self.functions = functions
        self.killer = killer

    def pytest_collection_modifyitems(self, items):
        named = re.compile(rf"({'|'.join(self.functions)})[ -]") if self.functions else None

        def is_away(item):
            return not (named and named.search(item.nodeid))

        # The last tests of a file are mostly the short ones, for single values and texts.
        items.reverse()
        items.sort(key=is_away)

    def pytest_runtest_logreport(self, report):
        if report.failed:
            self.killer.write_text(report.nodeid)

    def pytest_collectreport(self, report):
        if report.failed:
            self.killer.write_text(f"{report.nodeid} (import)")


def ask_the_published_values(functions, killer):
    """Give the module's own published checks without pytest, which takes longer to start."""
    published = importlib.import_module("tests.test_published")
    for source, row in published.CHECKS:
        if row["function"] in functions:
            killer.write_text(f"{source}: {row['function']} {row['where']}")
            published.test_gives_the_published_value(source, row)
    steps = importlib.import_module("tests.test_steps_laws")
    for name, arguments in steps.CALLS:
        if name in functions:
            killer.write_text(f"steps: {name} {arguments}")
            steps.test_the_steps_are_right_and_end_in_the_answer(name, arguments)


def in_a_child(work, functions, files, timeout):
    """Run the tests in a child process: red, green or too slow, and the test that told."""
    killer = work / "killer.txt"
    killer.write_text("import")
    child = os.fork()
    if child == 0:
        quiet = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(quiet, stream)
        code = 1
        with contextlib.suppress(BaseException):
            if not files:
                ask_the_published_values(functions, killer)
                code = 0
            else:
                watch = Watch(functions, killer)
                code = pytest.main([*ALONE, *files], plugins=[watch])
        os._exit(int(code))
    ends = time.monotonic() + timeout
    while time.monotonic() < ends:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            green = os.waitstatus_to_exitcode(status) == 0
            return ("survived", "") if green else ("killed", killer.read_text())
        time.sleep(0.02)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return "killed", TOO_SLOW


def changed_line(code, changed):
    """Return the number of the line that a mutant changes, the line, and what becomes of it."""
    pairs = zip(code.splitlines(), changed.splitlines(), strict=False)
    return next(
        (number, [old.strip(), new.strip()])
        for number, (old, new) in enumerate(pairs, start=1)
        if old != new
    )


def has_a_reason(module, differs):
    """Whether docs/mutation.md lists this survivor."""
    page = (ROOT / "docs" / "mutation.md").read_text("utf-8")
    section = page.partition(f"\n### {module}\n")[2].partition("\n### ")[0]
    return "- `{}` → `{}`\n".format(*differs) in section


def first_red(stages, work, functions):
    """Ask stage after stage until a test goes red: the outcome, and the test that told."""
    for files, timeout in stages:
        outcome, told = in_a_child(work, functions, files, timeout)
        if outcome == "killed":
            return outcome, told
    return "survived", ""


def run_module(module, work, results, again):
    """Test every mutant of a module and keep what became of it."""
    path = work / "xlfuncs" / f"{module.replace('.', '/')}.py"
    stat = path.stat()
    code = path.read_text("utf-8")
    functions = re.findall(r'^@worksheet\("(\w+)"', code, re.M)
    if module.startswith("review."):
        functions = ["XF_INSTALLATION_REVIEW"]
    stages = []
    # This run leaves its bytecode behind; the mutants' runs use it and add none, for a file
    # written twice in one second looks unchanged.
    sys.dont_write_bytecode = False
    begun = time.monotonic()
    for names in ([], TESTS[module], EVERY_MODULE):
        files = [f"tests/{name}.py" for name in names]
        started = time.monotonic()
        outcome, told = first_red([(files, 600)], work, functions)
        if outcome == "killed":
            sys.exit(f"{module}: the tests fail without any mutant: {told}")
        stages.append((files, 10 + 5 * (time.monotonic() - started)))
    sys.dont_write_bytecode = True

    stored = results / f"{module}.json"
    before = json.loads(stored.read_text()) if again else {"code": "", "mutants": {}}
    found = before["mutants"] if before["code"] == code else {}
    left = [
        (name, named_mutant(code, name))
        for name, mutant in found.items()
        if mutant["by"] == TOO_SLOW
        or (mutant["outcome"] == "survived" and not has_a_reason(module, mutant["differs"]))
    ]
    complete = code if found else ""
    try:
        for name, changed in left if found else mutants(code):
            line, differs = changed_line(code, changed)
            path.write_text(changed, "utf-8")
            outcome, told = first_red(stages, work, functions)
            found[name] = {"line": line, "differs": differs, "outcome": outcome, "by": told}
        complete = code
    finally:
        path.write_text(code, "utf-8")
        os.utime(path, (stat.st_atime, stat.st_mtime))
        stored.write_text(json.dumps({"code": complete, "mutants": found}, indent=1))
    survived = [mutant for mutant in found.values() if mutant["outcome"] == "survived"]
    killed = len(found) - len(survived)
    print(
        f"{module}: {len(found)} mutants, {killed} killed, {len(survived)} survived, "
        f"{killed / len(found):.1%}, {time.monotonic() - begun:.0f} s",
        flush=True,
    )
    for mutant in survived:
        if not has_a_reason(module, mutant["differs"]):
            print(f"  {mutant['line']}: {'  ->  '.join(mutant['differs'])}", flush=True)


def main():
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("modules", nargs="*", metavar="module", help=", ".join(TESTS))
    options.add_argument("--again", action="store_true", help="survivors without a reason")
    chosen = options.parse_args()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # keep what is known so far
    results = ROOT / "build" / "mutation"
    results.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        for name in ("xlfuncs", "tests"):
            shutil.copytree(ROOT / name, work / name)
        shutil.copy(ROOT / "pyproject.toml", work)
        os.chdir(work)
        sys.path.insert(0, folder)
        hypothesis.settings.register_profile("mutation", database=None, derandomize=True)
        hypothesis.settings.load_profile("mutation")
        for module in chosen.modules or TESTS:
            run_module(module, work, results, chosen.again)


if __name__ == "__main__":
    main()
