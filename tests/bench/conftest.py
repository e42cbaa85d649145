"""Collects what the benchmarks found and prints it as one table, each figure beside its target."""

import pytest

ROWS = pytest.StashKey()


def pytest_configure(config):
    config.stash[ROWS] = []


@pytest.fixture
def record(request, benchmark):
    """Record a figure and its target, and hold the one to the other.

    A figure is a ratio of two times of one run, or a time where the target is one.
    """

    def recorded(what, figure, target, detail=""):
        request.config.stash[ROWS].append((what, figure, target, detail))
        benchmark.extra_info[what] = figure
        return figure

    return recorded


def pytest_terminal_summary(terminalreporter, config):
    rows = config.stash[ROWS]
    if not rows:
        return
    width = max(len(what) for what, *_ in rows)
    terminalreporter.section("figures and targets")
    for what, figure, target, detail in rows:
        verdict = "" if target is None else f"at most {target:g}"
        terminalreporter.write_line(f"{what:{width}}  {figure:9.3g}  {verdict:14}  {detail}")
