"""Damaged workbooks are filled, or refused in one line; nothing hangs, dies or is half written.

Without options a fixed sample is tried. A longer run, which also prints the counts:

    XLFUNCS_DAMAGED=20000 pytest tests/corpus/test_damage.py -s
"""

from __future__ import annotations

import os
import random
from collections import Counter

import pytest

from .damage import DAMAGES
from .outcome import BROKEN, FILLED, REFUSED

# Each damage is tried on this many workbooks.
SAMPLE = 4
LONGER = int(os.environ.get("XLFUNCS_DAMAGED", "0"))

ALWAYS_REFUSED = {"cut_off", "encrypted", "bomb"}
ALWAYS_FILLED = {"packed_otherwise"}


def tried(name, count, corpus, fills, folder):
    """Outcomes of `count` damages of one kind, and what is broken."""
    outcomes, broken = Counter(), []
    sources = sorted(path for path, _ in corpus.values())
    for seed in range(count):
        rng = random.Random(f"{name} {seed}")
        source = rng.choice(sources)
        damaged = DAMAGES[name](source.read_bytes(), rng)
        if damaged is None:
            continue
        path = folder / f"damaged{source.suffix}"
        path.write_bytes(damaged)
        output = folder / f"filled{source.suffix}"
        output.unlink(missing_ok=True)
        outcome, value = fills(path, output)
        outcomes[outcome] += 1
        if outcome == BROKEN:
            broken.append(f"{name} {seed} {source.name}: {value.strip().splitlines()[-1]}")
    return outcomes, broken


@pytest.mark.parametrize("name", DAMAGES)
def test_is_filled_or_refused(corpus, fills, tmp_path, name):
    outcomes, broken = tried(name, SAMPLE, corpus, fills, tmp_path)
    assert broken == []
    assert outcomes.total() > 0
    if name in ALWAYS_REFUSED:
        assert outcomes[FILLED] == 0
    if name in ALWAYS_FILLED:
        assert outcomes[REFUSED] == 0


@pytest.mark.skipif(not LONGER, reason="the longer run is asked for with XLFUNCS_DAMAGED=COUNT")
def test_many(corpus, fills, tmp_path):
    total, broken = Counter(), []
    for name in DAMAGES:
        outcomes, found = tried(name, LONGER // len(DAMAGES), corpus, fills, tmp_path)
        total += outcomes
        broken += found
        print(f"{name:28}", *(f"{kind} {outcomes[kind]:4}" for kind in (FILLED, REFUSED, BROKEN)))
    print("in all", dict(total))
    assert broken == []
