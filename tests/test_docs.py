"""The pages are what the code says, and what they point to is there."""

import importlib.util
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


def build_module():
    spec = importlib.util.spec_from_file_location("docs_build", ROOT / "docs" / "build.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


BUILD = build_module()
MARKDOWN = [
    *sorted(ROOT.glob("*.md")),
    *sorted((ROOT / "docs").rglob("*.md")),
]


@pytest.mark.parametrize("page", BUILD.pages(), ids=lambda page: page.name)
def test_the_committed_page_is_the_generated_one(page):
    assert page.read_text("utf-8") == BUILD.pages()[page], "run: python docs/build.py"


def anchors(text):
    """The anchors of a page's headings, as a viewer of Markdown makes them."""
    headings = re.findall(r"^#+ (.+)$", text, re.M)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


@pytest.mark.parametrize("page", MARKDOWN, ids=lambda page: str(page.relative_to(ROOT)))
def test_links_lead_somewhere(page):
    text = re.sub(r"```.*?```", "", page.read_text("utf-8"), flags=re.S)
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        assert not target.startswith("http"), f"{target} can't be checked here"
        path, _, anchor = target.partition("#")
        linked = (page.parent / path).resolve() if path else page
        assert linked.exists(), target
        if anchor:
            assert anchor in anchors(linked.read_text("utf-8")), target


def test_every_function_stands_on_one_page():
    names = [f.name for page in BUILD.SUBJECTS for f in BUILD.functions_of(page)]
    assert sorted(names) == sorted(BUILD.FUNCTIONS)


def test_ci_runs_the_command_that_the_readme_gives():
    readme = (ROOT / "README.md").read_text("utf-8")
    script = (ROOT / ".ci" / "run").read_text("utf-8")
    commands = re.findall(r"^```sh\n(.+)\n```", readme, re.M)
    (tests,) = [command for command in commands if "pytest" in command]
    for part in tests.split(" && "):
        assert part.replace("pip install", "pip install -q") in script or part in script


def test_pages_name_no_folder_of_one_machine():
    for page in MARKDOWN:
        assert not re.search(
            r"(?:/root/|/home/\w|/Users/\w|\\Users\\\w)", page.read_text("utf-8")
        ), page


def test_the_cautions_stand_where_people_look():
    for name in ("README.md", *(f"docs/functions/{page}.md" for page in BUILD.SUBJECTS)):
        text = " ".join((ROOT / name).read_text("utf-8").replace(">", "").split())
        assert "authority having jurisdiction" in text, name
        assert "licensed practice" in text, name
        assert "De-energize" in text, name
