"""The page of rules is what the code says, and leaves no section and no edition out."""

import importlib.util
import re
from pathlib import Path

import pytest

from xlfuncs import tables
from xlfuncs.registry import FUNCTIONS

PATH = Path(__file__).parent.parent / "docs" / "rules_page.py"


def rules_module():
    spec = importlib.util.spec_from_file_location("rules_page", PATH)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


RULES = rules_module()
PAGE = RULES.page()


def part_of_page(title):
    return re.search(rf"^## {title}\n(.*?)(?=^## |\Z)", PAGE, re.S | re.M)[1]


def test_the_committed_page_is_the_generated_one():
    assert RULES.PAGE.read_text("utf-8") == PAGE, "run: python -m docs.rules_page"


def test_the_caution_stands_before_the_first_section():
    assert "authority having jurisdiction" in PAGE.partition("\n## ")[0]


@pytest.mark.parametrize(
    ("reference", "found"),
    [
        ("NFPA 70-2023, 240.4(B), (C) and (D)", ["240.4(B)", "240.4(C)", "240.4(D)"]),
        ("240.21(C)(1), (2) and (6)", ["240.21(C)(1)", "240.21(C)(2)", "240.21(C)(6)"]),
        ("240.21(C)(2) and (C)(6)", ["240.21(C)(2)", "240.21(C)(6)"]),
        ("450.3(B) and Table 450.3(B), 1000 V or less", ["450.3(B)", "Table 450.3(B)"]),
        ("Table 310.15(B)(1)(1)", ["Table 310.15(B)(1)(1)"]),
        ("Chapter 9, Tables 1, 4, 5 and 9", ["Table 1", "Table 4", "Table 5", "Table 9"]),
        ("210.20(A), 215.3", ["210.20(A)", "215.3"]),
        ("90.4", ["90.4"]),
        ("29 CFR 1910.333(b)", []),
        ("UFC 3-520-01 (2002), 4-1.6.2", []),
    ],
)
def test_sections_are_found_in_a_reference(reference, found):
    assert [part for _, part in RULES._sections(reference)] == found


def test_every_section_used_is_explained_and_none_besides():
    assert set(RULES.sections()) == set(RULES.ASKS)


def test_every_function_stands_under_a_section_or_another_source():
    above = PAGE.partition("## Editions")[0]
    assert [name for name in FUNCTIONS if f"`{name}`" not in above] == []


def test_every_table_stands_with_its_source_and_check():
    confirmed = part_of_page("How each table was confirmed")
    for name in tables.names():
        head = tables.read(name).head
        assert f"| `{name}` | {head['source']} | {head['checked']} |" in confirmed


def test_differences_between_editions():
    """NFPA 70-2023 added 10 A to Table 240.6(A) and 14 AWG copper-clad aluminum to 240.4(D)."""
    assert RULES.rating_differences() == ["240.6(A): 10 A for a breaker in 2023 only."]
    assert RULES.small_conductor_differences() == [
        "240.4(D): 14 AWG copper-clad aluminum, 10 A at most, in 2023 only."
    ]
    editions = part_of_page("Editions")
    assert "| Ampacity of conductors in raceway | 310.15(B)(16) | 310.16 | 310.16 |" in editions
    for function in FUNCTIONS.values():
        takes = any(argument.name == "edition" for argument in function.arguments)
        assert (f"`{function.name}`" in editions.partition("Where our tables differ")[0]) == takes


@pytest.mark.parametrize(
    "section", ["240.21(B)", "240.92", "250.30(A)(6)", "310.15(B)(2)", "Article 430", "110.24"]
)
def test_what_is_left_to_the_code_book_is_said(section):
    assert section in part_of_page("Left to the code book")


def test_what_no_section_covers_is_said():
    left = part_of_page("Left to the code book")
    for word in ("K-factor", "arc-flash", "seismic", "selective coordination", "harmonics"):
        assert word in left
