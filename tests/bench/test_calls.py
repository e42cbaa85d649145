"""One cell, a column of cells, and arrays of a million rows."""

import itertools
import time

import numpy as np
import pytest

import xlfuncs
from xlfuncs.current import full_load_current
from xlfuncs.grounding import equipment_ground
from xlfuncs.overcurrent import load_protection

MICRO, MILLI = 1e6, 1e3

# Not remembered: every call has other numbers.
CELLS = {
    "XF_FULL_LOAD_CURRENT": (lambda n: (5 + n / 1000, 480.0), 30),
    "XF_VOLTAGE_DEVIATION": (lambda n: (470 + n / 1000, 480.0), 30),
    "XF_LOAD_PROTECTION": (lambda n: (5 + n / 1000, 10.0), None),
    "XF_CONDUCTOR_SIZE": (lambda n: (5 + n / 1000, "copper", "THWN-2", 75.0, 35.0, 8.0), None),
    "XF_VOLTAGE_DROP": (lambda n: (90.0, 5 + n / 1000, "2"), None),
    "XF_PRIMARY_PROTECTION": (lambda n: (5 + n / 1000, 480.0), None),
}


@pytest.mark.parametrize("name", CELLS)
def test_a_cell(benchmark, record, name):
    arguments, target = CELLS[name]
    numbers = itertools.count()
    benchmark.pedantic(
        xlfuncs.call, setup=lambda: ((name, *arguments(next(numbers))), {}), rounds=3000
    )
    median = benchmark.stats.stats.median * MICRO
    record(f"{name}, one cell, µs", median, target)
    assert target is None or median <= target


def test_a_cell_that_was_asked_before(benchmark, record):
    benchmark.pedantic(xlfuncs.call, args=("XF_PRIMARY_PROTECTION", 75.0, 480.0), rounds=3000)
    median = benchmark.stats.stats.median * MICRO
    record("a call with the same cells again, µs", median, 30)
    assert median <= 30


def column(values, rows):
    return [[value] for value, _ in zip(itertools.cycle(values), range(rows), strict=False)]


COLUMNS = {
    "XF_FULL_LOAD_CURRENT": (([15.0, 75.0, 112.5], [480.0, 208.0]), 5),
    "XF_CONDUCTOR_SIZE": (
        ([20.0, 90.0, 112.5, 180.5], ["copper"], ["THWN-2"], [75.0], [35.0, 40.0], [3.0, 8.0]),
        30,
    ),
    "XF_RACEWAY_FILL": (
        (["EMT"], ["2", "3"], ["THHN"], ["3/0", "2"], [3.0, 4.0], ["6"], [1.0]),
        None,
    ),
}


@pytest.mark.parametrize("name", COLUMNS)
def test_a_column_and_how_it_grows(benchmark, record, name):
    columns, target = COLUMNS[name]

    def measured(rows):
        cells = [column(values, rows) for values in columns]
        times = []
        for _ in range(15 if rows <= 10_000 else 4):
            begun = time.process_time()
            xlfuncs.call(name, *cells)
            times.append(time.process_time() - begun)
        return min(times) * MILLI

    small, large = measured(1000), measured(100_000)
    cells = [column(values, 10_000) for values in columns]
    benchmark.pedantic(xlfuncs.call, args=(name, *cells), rounds=15)
    middle = measured(10_000)
    record(
        f"{name}, 10,000 rows, ms",
        middle,
        target,
        f"1,000 rows {small:.2f} ms, 100,000 rows {large:.0f} ms",
    )
    assert target is None or middle <= target


def test_a_million_rows_of_three_functions(benchmark, record):
    random = np.random.default_rng(20)

    def chain(rows):
        kva = random.choice([15.0, 30.0, 45.0, 75.0, 112.5, 150.0], rows)
        volts = random.choice([208.0, 480.0], rows)
        begun = time.perf_counter()
        equipment_ground(load_protection(full_load_current(kva, volts)))
        return time.perf_counter() - begun

    times = {rows: min(chain(rows) for _ in range(3)) for rows in (10_000, 100_000)}
    benchmark.pedantic(chain, args=(1_000_000,), rounds=5)
    seconds = min(chain(1_000_000) for _ in range(3))
    record(
        "current, protection, ground: 1,000,000 rows, s",
        seconds,
        1.5,
        f"10,000 rows {times[10_000] * MILLI:.1f} ms, 100,000 rows {times[100_000] * MILLI:.0f} ms",
    )
    assert seconds <= 1.5
