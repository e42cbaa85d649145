"""Write docs/rules.md: which rule stands where, per edition, and what is left to the code book.

Run ``python -m docs.rules_page`` from the project's folder after a change of a reference, a step
or a table. What the code knows is read from it: the functions' references and working, the tables
and their heads. What stands here by hand is what a rule asks, in our own words.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import xlfuncs
from xlfuncs import tables
from xlfuncs.descriptions import example_cells
from xlfuncs.functions import FUNCTIONS
from xlfuncs.registry import Function

ROOT = Path(__file__).parent.parent
PAGE = ROOT / "docs" / "rules.md"
EDITIONS = (2017, 2020, 2023)

HEAD = """<!-- Written by docs/rules_page.py; edit the functions or that file, not this page. -->

# Which rule stands where

> A wrong number can hurt someone. These functions help a qualified person to check work; they do
> not replace the adopted code, the authority having jurisdiction or licensed practice. What this
> page says about a rule is a reminder, not its text: read the section in the edition that your
> jurisdiction adopted, with its amendments. De-energize and verify the absence of voltage before
> you touch anything.

Section numbers are those of NFPA 70-2023 unless a row says otherwise. `XF_SOURCE` gives the
references of one function in a cell, `XF_STEPS` the rule beside each line of its working.
"""

# What a section asks, as far as the functions use it.
ASKS = {
    "90.4": "The authority having jurisdiction interprets the code and approves.",
    "Article 100": "Voltage to ground: of a grounded system to the grounded conductor, of an "
    "ungrounded one the highest between conductors.",
    "110.3": "Listed equipment is used as its listing and marking say.",
    "110.9": "A device that interrupts faults is rated for the fault current where it stands.",
    "110.14": "The coolest rating among conductor, device and lug sets the column; unmarked "
    "terminals count 60 degC up to 100 A and 75 degC above.",
    "110.15": "The high leg of a delta with a grounded midpoint is orange.",
    "110.24": "Service equipment is marked with the fault current available to it.",
    "110.26": "Depth of the clear space before equipment that is worked on while energized.",
    "200.6": "Grounded conductors are white or gray.",
    "210.5": "The means of telling branch-circuit systems apart is documented or posted.",
    "210.19": "A note suggests 3% drop in a branch circuit and 5% in all.",
    "210.20": "A branch-circuit device carries 125% of the continuous load and the rest.",
    "215.2": "Feeder conductors carry 125% of the continuous load and the rest; a note suggests "
    "3% drop.",
    "215.3": "A feeder device carries 125% of the continuous load and the rest.",
    "215.12": "The means of telling feeder systems apart is documented or posted.",
    "240.4": "A device protects a conductor at its ampacity; up to 800 A the next standard rating "
    "may be taken; small conductors have their own limits.",
    "240.6": "The standard ampere ratings of fuses and breakers.",
    "240.21": "Where transformer secondary conductors may run without a device at their start, "
    "how long, and what they must carry.",
    "250.4": "An equipment ground is a path that clears a ground fault.",
    "250.20": "Systems that must be grounded: those that can be held to 150 V to ground, and a "
    "wye whose neutral is used.",
    "250.21": "Systems that may run ungrounded have ground detectors.",
    "250.28": "The system bonding jumper is sized by the table of bonding jumpers.",
    "250.30": "Grounding of a separately derived system: system bonding jumper in one place, "
    "supply-side jumper, electrode conductor.",
    "250.64": "Where an aluminum electrode conductor must not be.",
    "250.66": "Size of an electrode conductor, with a largest size that rods and concrete ask for.",
    "250.97": "Bonding of raceways and enclosures of circuits over 250 V to ground.",
    "250.102": "Size of bonding jumpers, 12.5% of the area above the table.",
    "250.122": "Size of equipment grounding conductors, raised with conductors that are larger "
    "than they need to be.",
    "250.190": "Grounding of equipment over 1000 V, with its own smallest grounding conductor.",
    "310.10": "Parallel conductors are 1/0 AWG or larger and alike.",
    "310.15": "Ampacity corrected for ambient temperature and for more than three conductors.",
    "310.16": "Ampacity of up to three conductors in a raceway, cable or earth.",
    "408.36": "A panelboard fed through a transformer has its device on the secondary side.",
    "450.3": "Largest devices of a transformer in percent of its rated currents.",
    "450.9": "Losses must leave: vents open, marked clearances kept.",
    "450.11": "What the nameplate shows; a unit is fed backwards only as its maker allows.",
    "450.14": "A disconnect in sight, or a lockable one whose place is marked on the unit.",
    "450.21": "Dry-type units indoors: distance from combustible material, a room or a vault.",
    "Chapter 9": "Fill of raceways (Tables 1, 4, 5), conductor properties (Table 8), impedance of "
    "conductors in conduit (Table 9).",
}

# The same rule under another number; numbers of 2017 and 2020 from memory.
RENUMBERED = [
    ("Ampacity of conductors in raceway", "310.15(B)(16)", "310.16", "310.16"),
    ("Ambient correction, base 30 degC", "310.15(B)(2)(a)", "310.15(B)(1)", "310.15(B)(1)(1)"),
    ("More than three conductors", "310.15(B)(3)(a)", "310.15(C)(1)", "310.15(C)(1)"),
    ("Raceways on roofs in the sun", "310.15(B)(3)(c)", "310.15(B)(2)", "310.15(B)(2)"),
    ("Parallel conductors", "310.10(H)", "310.10(G)", "310.10(G)"),
    ("Insulation types", "Table 310.104(A)", "Table 310.4(A)", "Table 310.4(1)"),
    ("Ampacity of medium-voltage cable", "310.60", "Article 311", "Article 315"),
    ("Overcurrent protection over 1000 V", "Article 240, Part IX", "Article 240, Part IX",
     "Article 245"),
]  # fmt: skip

WORDED = [
    "250.122(B): the 2017 edition raises the equipment grounding conductor with every increase of "
    "the phase conductors; 2020 and 2023 leave out an increase that ambient temperature or the "
    "number of conductors asks for. `XF_EQUIPMENT_GROUND` takes the two sizes and does not choose: "
    "enter the same size twice for such an increase under the later editions.",
    "240.4(D): `XF_DEVICE_LIMIT` and `XF_PROTECTED_SIZE` know copper and aluminum. The rows of "
    "copper-clad aluminum are in the table, and no function reads those that it has alone.",
]

# Our word -> what it stands for.
WORDS = {
    "device": "overcurrent protective device: a fuse or an inverse-time circuit breaker",
    "ceiling": "a limit in percent that must not be rounded up to the next standard rating",
    "usable ampacity": "ampacity after correction and adjustment, not above the terminals' column",
    "set": "one of several parallel conductors of a phase",
    "secondary_protected": "the secondary has a device within its own limit of 450.3",
    "supervised": "only qualified persons monitor and service the installation, 450.3",
    "structure": "building steel or a water pipe as the electrode",
    "end device": "the device in which secondary conductors end",
    "stop, check, note": "severity of a finding in the review and the readings; no code has them",
    "Range A, Range B, outside": "A and B are words of ANSI C84.1; outside is ours",
}

# What a person still has to look up: section, and what it is about.
LEFT = {
    "90.3, 90.4": "local amendments, and what the authority having jurisdiction decides",
    "110.24, 110.16": "marking of the available fault current; arc-flash warning",
    "110.26(B) to (F)": "width, height, access and dedicated space; only the depth is given",
    "110.34": "working space above the voltages of Table 110.26(A)(1)",
    "210.8, 215.9, 230.95, 215.10": "ground-fault protection of persons and of equipment",
    "220": "load calculation: the functions take the load as given",
    "225, 230": "outside feeders and services",
    "240.4(E), (G)": "taps, and motor, welder or air conditioning circuits",
    "240.21(B)": "feeder taps of 10, 25 and more feet, and (B)(3), a tap that feeds a transformer "
    "with primary and secondary together",
    "240.21(C)(3), (4), (5)": "industrial, outdoor and tap-fed secondary conductors",
    "240.87, 240.67": "arc energy reduction from 1200 A up",
    "240.92": "supervised industrial installations",
    "Article 245 (2023)": "overcurrent protection over 1000 V",
    "250.36, 250 Part X": "impedance grounding, systems over 1000 V",
    "250.30(A)(3), (B)": "the grounded conductor when the bonding jumper is not at the source; "
    "ungrounded derived systems",
    "250.30(A)(6)": "one common electrode conductor for several transformers",
    "250.50 to 250.64, 250.104": "which electrodes, how the conductor runs, bonding of pipe and "
    "steel",
    "300.5, 300.20, 300.34": "burial, induced heating, bending",
    "310.15(B)(2)": "raceways close above a roof in the sun: 33 degC are added to the ambient",
    "310.15(E), (F)": "which neutrals and grounding conductors count as current-carrying",
    "314, 312.6, 366, 376": "boxes, bending space, auxiliary gutters and wireways",
    "Article 430, 440": "motor and compressor loads, whose devices and conductors differ",
    "450.3, notes": "thermal protection inside the unit, and sets of up to six secondary devices",
    "450.4, 450.5, 450.6": "autotransformers, grounding autotransformers, secondary ties",
    "450.10, 450.13": "terminal bar for grounding conductors; accessibility, hollow spaces",
    "450.22 to 450.28, Part III": "outdoor, liquid-filled and sealed units; vaults",
    "517, 547, 645, 680, 690, 700 to 702": "health care, farms, data rooms, pools, photovoltaics, "
    "emergency and standby systems",
    "700.32, 701.32, 708.54": "selective coordination",
    "no single section": "harmonics and K-factor, sound on site, seismic support, arc-flash study, "
    "coordination study, inrush against a trip curve, derating for altitude, utility rules",
}

_SECTION = re.compile(
    r"(?P<table>Tables? )?(?<![\d.])(?P<base>\d{2,3}\.\d{1,3})(?P<part>(?:\(\w+\))*)"
    r"(?P<more>(?:(?:, and |, | and | or )(?:\(\w+\))+)*)"
)


def _sections(reference: str) -> Iterator[tuple[str, str]]:
    """Sections of NFPA 70 in a reference, each as its number and the part as printed."""
    for found in _SECTION.finditer(reference):
        table = "Table " if found["table"] else ""
        whole = found["base"] + found["part"]
        yield found["base"], table + whole
        for further in re.findall(r"(?:\(\w+\))+", found["more"]):
            same_depth = found["part"].count("(") - further.count("(")
            kept = re.findall(r"\(\w+\)", found["part"])[: max(0, same_depth)]
            yield found["base"], table + found["base"] + "".join(kept) + further
    if "Article 100" in reference:
        yield "Article 100", "Article 100"
    for found in re.finditer(r"Chapter 9,? Tables? (\d+(?:(?:, | and )\d+)*)", reference):
        for number in re.findall(r"\d+", found[1]):
            yield "Chapter 9", f"Table {number}"


def _is_of_the_code(reference: str) -> bool:
    return not re.search(r"\bCFR\b|NFPA 70E|UFC|ANSI|NEMA|IEEE|ASTM", reference)


def _rules_of(function: Function) -> Iterator[str]:
    """References of a function, and the rules that its own example works with."""
    yield from function.sources
    if function.name == "XF_STEPS":
        return
    cells = example_cells(function.example)
    yield from (row[4] for row in xlfuncs.call("XF_STEPS", function.name, *cells))
    if "rule" in function.columns:
        column = function.columns.index("rule")
        yield from (row[column] for row in xlfuncs.call(function.name, *cells))


def sections() -> dict[str, tuple[set[str], list[Function]]]:
    """Section -> the parts named, and the functions that name them."""
    found: dict[str, tuple[set[str], list[Function]]] = {}
    for function in FUNCTIONS.values():
        for rule in filter(_is_of_the_code, _rules_of(function)):
            for base, part in _sections(rule):
                parts, functions = found.setdefault(base, (set(), []))
                parts.add(part)
                if function not in functions:
                    functions.append(function)
    return found


def _order(base: str) -> tuple[float, float]:
    if base == "Chapter 9":
        return 1000.0, 0.0
    article, _, section = base.removeprefix("Article ").partition(".")
    return float(article), float(section or 0)


def _row(*cells: str) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _table(*headings: str) -> list[str]:
    return [_row(*headings), "|" + "---|" * len(headings)]


def _part_order(part: str) -> tuple[bool, bool, int, str]:
    """Sections before their tables; the tables of Chapter 9 by number."""
    number = part.removeprefix("Table ")
    return part != number, number.isdigit(), int(number) if number.isdigit() else 0, part


def _where() -> Iterator[str]:
    yield from _table("section", "asks", "parts used", "functions", "files")
    for base, (parts, functions) in sorted(sections().items(), key=lambda one: _order(one[0])):
        named = sorted(parts - {base}, key=_part_order)
        yield _row(
            base,
            ASKS[base],
            ", ".join(named) or base,
            ", ".join(f"`{function.name}`" for function in functions),
            ", ".join(dict.fromkeys(f"`{_file_of(function)}`" for function in functions)),
        )


def _file_of(function: Function) -> str:
    path = function.core.__module__.replace(".", "/")
    return f"{path}/__init__.py" if (ROOT / path).is_dir() else f"{path}.py"


def _others() -> Iterator[str]:
    yield from _table("source", "functions")
    found: dict[str, list[str]] = {}
    for function in FUNCTIONS.values():
        for source in function.sources:
            if not source.startswith("NFPA 70-"):
                found.setdefault(source.rstrip("."), []).append(f"`{function.name}`")
    for source, names in found.items():
        yield _row(source, ", ".join(names))


def rating_differences() -> list[str]:
    """Standard ratings that not all editions list, as sentences."""
    table = tables.read("standard_ratings")
    lines = []
    for device in ("breaker", "fuse"):
        for row, rating in enumerate(table["rating_a"]):
            listed = [year for year in EDITIONS if table[f"std_{device}_{year}"][row] == 1]
            if listed and len(listed) < len(EDITIONS):
                lines.append(f"240.6(A): {rating:g} A for a {device} in {_years(listed)} only.")
    return lines


def small_conductor_differences() -> list[str]:
    """Rows of 240.4(D) that not all editions have, as sentences."""
    table = tables.read("small_conductors")
    names = {"cu": "copper", "al": "aluminum", "cca": "copper-clad aluminum",
             "al_or_cca": "aluminum and copper-clad aluminum"}  # fmt: skip
    years: dict[tuple[str, str, str], list[int]] = {}
    for row in range(len(table)):
        size, metal, amps = (table.printed[c][row] for c in ("size", "material", "max_ocpd_a"))
        years.setdefault((size, metal, amps), []).append(int(table["edition"][row]))
    return [
        f"240.4(D): {size} AWG {names[metal]}, {amps} A at most, in {_years(listed)} only."
        for (size, metal, amps), listed in years.items()
        if len(listed) < len(EDITIONS)
    ]


def _years(listed: list[int]) -> str:
    return " and ".join(map(str, listed))


def _editions() -> Iterator[str]:
    with_edition = [f for f in FUNCTIONS.values() if any(a.name == "edition" for a in f.arguments)]
    yield "These functions take the edition; all others give the same figures for the three:"
    yield ", ".join(f"`{function.name}`" for function in with_edition) + "."
    yield ""
    yield "Where our tables differ:"
    yield ""
    for line in [*rating_differences(), *small_conductor_differences()]:
        yield f"- {line}"
    yield ""
    yield "Where the wording differs:"
    yield ""
    for line in WORDED:
        yield f"- {line}"
    yield ""
    yield "The same rule under another number (those of 2017 and 2020 from memory):"
    yield ""
    yield from _table("rule", *map(str, EDITIONS))
    for row in RENUMBERED:
        yield _row(*row)


def _confirmed() -> Iterator[str]:
    yield from _table("table", "source", "checked")
    for name in tables.names():
        head = tables.read(name).head
        yield _row(f"`{name}`", head["source"], head["checked"])


def page() -> str:
    """Write the page."""
    lines = [
        HEAD,
        "## Section by section",
        "",
        "Read from each function's references and from the working of its example.",
        "",
        *_where(),
        "",
        "## Other sources",
        "",
        "What rests on no section of NFPA 70: other standards, definitions, physics, and common "
        "practice, which is named as such.",
        "",
        *_others(),
        "",
        "## Editions",
        "",
        *_editions(),
        "",
        "## Words that are ours",
        "",
        "Figures, section numbers and table values are taken over; every sentence is written for "
        "this project. These words are ours, or are used in a narrower sense than the code's:",
        "",
        *_table("word", "stands for"),
        *(_row(word, meaning) for word, meaning in WORDS.items()),
        "",
        "## How each table was confirmed",
        "",
        "A transcription is another publication of the same table. What is from memory is to be "
        "compared with a licensed copy before anyone relies on it. [What each table "
        "holds](tables.md).",
        "",
        *_confirmed(),
        "",
        "## Left to the code book",
        "",
        "Related rules that no function answers, or answers in part. The list is a reminder from "
        "memory, not complete.",
        "",
        *_table("section", "about"),
        *(_row(section, about) for section, about in LEFT.items()),
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    PAGE.write_text(page(), "utf-8")
