"""Write the generated pages: a page for each subject, the checks, the tables in the README.

Run ``python docs/build.py`` from the project's folder after a change of a function, a table or a
published check. A test compares the committed pages with what this writes.
"""

from __future__ import annotations

import csv
import re
import sys
from pathlib import Path
from typing import Any

import xlfuncs
from xlfuncs import tables
from xlfuncs.descriptions import argument_text, default_text, example_cells
from xlfuncs.functions import FUNCTIONS
from xlfuncs.registry import Function

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT))

from docs import rules_page  # noqa: E402  (found once the project's folder is on the path)

DOCS = ROOT / "docs"
CHECKS = ROOT / "tests" / "published"

GENERATED = "<!-- Written by docs/build.py; edit the functions, not this page. -->"

CAUTION = (
    "> A wrong number can hurt someone. These functions help a qualified person to check work; "
    "they do not replace the adopted code, the authority having jurisdiction or licensed "
    "practice. De-energize and verify the absence of voltage before you touch anything."
)

# Page -> title, what it answers, and the modules whose functions stand on it.
SUBJECTS: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "current": (
        "Current and ratings",
        "Full-load currents, apparent power, preferred ratings, voltage to ground.",
        ("current",),
    ),
    "overcurrent": (
        "Overcurrent protection",
        "Standard ratings, devices for loads, devices for transformers.",
        ("overcurrent",),
    ),
    "conductors": (
        "Conductors",
        "Ampacity and its corrections, sizes for loads and devices, transformer secondaries.",
        ("ampacity", "conductor"),
    ),
    "grounding": (
        "Grounding and bonding",
        "Equipment grounds, bonding jumpers, electrode conductors.",
        ("grounding",),
    ),
    "voltage": (
        "Voltage",
        "Voltage drop, longest runs, and the readings after energizing.",
        ("voltage", "readings", "diagnosis"),
    ),
    "fault": ("Fault current", "At the secondary terminals and after a run.", ("fault",)),
    "raceway": ("Raceway", "Trade sizes and fill.", ("raceway",)),
    "site": (
        "Site",
        "Working space, lengths to buy, heat, sound and colors.",
        ("site",),
    ),
    "installation": (
        "Whole installation",
        "A transformer in one row, its review, and the rule and working of every function.",
        ("installation", "review", "working"),
    ),
}


def functions_of(page: str) -> list[Function]:
    """Functions of a page, in the order of their modules."""
    groups = SUBJECTS[page][2]
    found = [f for f in FUNCTIONS.values() if f.group in groups]
    return sorted(found, key=lambda function: groups.index(function.group))


def shown(value: Any) -> str:
    """Write a cell value as a sheet shows it, for a table of a page."""
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, float):
        return f"{value:.6g}"
    return str(value).replace("|", "\\|")


def rows_table(headings: list[str], rows: list[list[str]]) -> list[str]:
    """Write a Markdown table."""
    return [
        "| " + " | ".join(headings) + " |",
        "|" + "---|" * len(headings),
        *("| " + " | ".join(row) + " |" for row in rows),
    ]


def function_section(function: Function) -> list[str]:
    """Describe one function: arguments, rule, source, example and working."""
    arguments = [
        [
            f"`{a.name}`",
            argument_text(a).replace("|", "\\|"),
            "required" if a.required else f"`{default_text(a)}`",
        ]
        for a in function.arguments
        if a.kind != "cell" or a.name.endswith("_1")
    ]
    cells = example_cells(function.example)
    answer = xlfuncs.call(function.name, *cells)
    lines = [
        f"## {function.name}",
        "",
        function.summary,
        "",
        f"`={function.signature}`",
        "",
        *rows_table(["argument", "meaning", "default"], arguments),
        "",
        f"Result: {function.unit or function.result}.",
        "",
        function.notes,
        "",
        "Source: " + " ".join(function.sources),
        "",
    ]
    if isinstance(answer, list):
        return [*lines, f"Example: `{function.example}` spills", "", *_spilled(function, answer)]
    lines += [f"Example: `{function.example}` gives `{shown(answer)}`.", ""]
    steps = xlfuncs.call("XF_STEPS", function.name, *cells)
    return [
        *lines,
        *rows_table(
            ["step", "working", "value", "unit", "rule"],
            [[shown(value) for value in row] for row in steps[:-1]],
        ),
        "",
    ]


def _spilled(function: Function, rows: list[list[Any]]) -> list[str]:
    """Write a spilled example: one wide row stands upright."""
    if len(rows) == 1 and function.columns:
        pairs = zip(function.columns, rows[0], strict=True)
        return [*rows_table(["column", "value"], [[n, shown(v)] for n, v in pairs]), ""]
    headings = list(function.columns) or [""] * len(rows[0])
    return [*rows_table(headings, [[shown(value) for value in row] for row in rows]), ""]


def subject_page(page: str) -> str:
    """Write the page of a subject."""
    title, answers, _ = SUBJECTS[page]
    functions = functions_of(page)
    lines = [GENERATED, "", f"# {title}", "", answers, "", CAUTION, ""]
    lines += [f"- [{f.name}](#{f.name.lower()}): {f.summary}" for f in functions]
    lines.append("")
    for function in functions:
        lines += function_section(function)
    return "\n".join(lines).rstrip() + "\n"


def published_checks() -> list[tuple[str, dict[str, str]]]:
    """Every row of tests/published with the source that its file names."""
    found = []
    for file in sorted(CHECKS.glob("*.csv")):
        lines = file.read_text("utf-8").splitlines()
        source = next(line[9:].strip() for line in lines if line.startswith("# source:"))
        rows = csv.DictReader(line for line in lines if not line.startswith("#"))
        found += [(source, row) for row in rows]
    return found


def checks_page() -> str:
    """Write the page that lists how each function is checked."""
    checks = published_checks()
    lines = [
        GENERATED,
        "",
        "# How results are checked",
        "",
        "Every function is held against values that others published, against formulas of the "
        "standards, or against physics. Expected values never come from this project's code. A "
        "row of the table that a function reads proves only the reading, and is marked lookup.",
        "",
        f"{len(checks)} published checks of {len(FUNCTIONS)} functions, besides property tests "
        "over any cell content, laws (a cell alone and in a range agree; the next smaller size "
        "fails; inverses), and comparisons with general-purpose libraries (power flow, short "
        "circuit, unit conversion).",
        "",
        CAUTION,
        "",
    ]
    for page, (title, _, _) in SUBJECTS.items():
        lines += [f"## {title}", ""]
        for function in functions_of(page):
            rows = [
                [
                    row["where"].replace("|", "\\|"),
                    f"`{row['arguments']}`",
                    f"`{row['printed']}`",
                    row["proves"],
                    source.replace("|", "\\|"),
                    row["known"],
                ]
                for source, row in checks
                if row["function"] == function.name
            ]
            headings = ["where", "arguments", "value", "proves", "source", "how it is known"]
            lines += [f"### {function.name}", "", *rows_table(headings, rows), ""]
    return "\n".join(lines).rstrip() + "\n"


def tables_page() -> str:
    """Write the page that lists the published tables and how sure each is."""
    heads = {name: tables.read(name).head for name in tables.names()}
    rows = [
        [f"`{name}`", head["title"], head["source"], head["checked"]]
        for name, head in heads.items()
    ]
    lines = [
        GENERATED,
        "",
        "# Published tables",
        "",
        "Each table is a file of `xlfuncs/tables`, as printed. The last column says how its "
        "values were confirmed; what is from memory must be compared with a licensed copy before "
        "you rely on it.",
        "",
        *rows_table(["table", "what", "source", "how it was checked"], rows),
    ]
    return "\n".join(lines) + "\n"


def function_table() -> str:
    """Write the table of functions for the README."""
    lines = []
    for page, (title, _, _) in SUBJECTS.items():
        lines += [f"**{title}** ([page](docs/functions/{page}.md))", ""]
        lines += rows_table(
            ["function", "answers", "result"],
            [[f"`{f.signature}`", f.summary, f.unit or f.result] for f in functions_of(page)],
        )
        lines.append("")
    return "\n".join(lines).rstrip()


def readme() -> str:
    """Write the README with its generated part renewed."""
    text = (ROOT / "README.md").read_text("utf-8")
    start, end = "<!-- functions: begin -->", "<!-- functions: end -->"
    return re.sub(
        rf"{start}.*?{end}",
        lambda _: f"{start}\n{function_table()}\n{end}",
        text,
        flags=re.DOTALL,
    )


def pages() -> dict[Path, str]:
    """Every generated page with its text."""
    return {
        **{DOCS / "functions" / f"{page}.md": subject_page(page) for page in SUBJECTS},
        DOCS / "checks.md": checks_page(),
        DOCS / "tables.md": tables_page(),
        DOCS / "rules.md": rules_page.page(),
        ROOT / "README.md": readme(),
    }


def main() -> int:
    """Write the pages; with --check only tell which differ."""
    stale = [
        page for page, text in pages().items() if not page.exists() or page.read_text() != text
    ]
    for page in stale:
        print(page.relative_to(ROOT))
    if "--check" in sys.argv:
        return 1 if stale else 0
    for page, text in pages().items():
        page.parent.mkdir(parents=True, exist_ok=True)
        page.write_text(text, "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
