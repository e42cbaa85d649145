"""A fill that is killed leaves the workbook as it was, or as it is filled; nothing in between.

The command runs in a process of its own and gets a real SIGKILL.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
import zipfile

import pytest

from .books import AMPERES, BUILDERS
from .test_corpus import unlike

# Some kills fall anywhere in the run, others after the new file has begun to be written.
TIMES = int(os.environ.get("XLFUNCS_KILLS", "3"))

pytestmark = pytest.mark.skipif(os.name != "posix", reason="SIGKILL is POSIX's")


@pytest.fixture
def heavy(tmp_path):
    """A workbook whose writing takes a while: most of it is a picture that does not shrink."""
    path = tmp_path / "heavy.xlsx"
    BUILDERS["plain.xlsx"](path)
    with zipfile.ZipFile(path, "a", zipfile.ZIP_STORED) as archive:
        archive.writestr("xl/media/picture.bin", random.Random(1).randbytes(15_000_000))
    return path


def started(path):
    return subprocess.Popen(
        [sys.executable, "-m", "xlfuncs", "fill", "--in-place", str(path)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


def ended(process):
    """Kill the command and whatever it started."""
    os.kill(process.pid, signal.SIGKILL)
    process.wait()


def test_killed_while_it_writes(heavy, tmp_path):
    original = heavy.read_bytes()
    rng = random.Random(2)
    hits = 0
    for _ in range(TIMES):
        process = started(heavy)
        # Busy on purpose: the file is being written for some ten milliseconds only.
        while process.poll() is None and not list(tmp_path.glob(".heavy-*.tmp")):
            pass
        time.sleep(rng.uniform(0, 0.02))
        ended(process)
        now = heavy.read_bytes()
        left = list(tmp_path.glob(".heavy-*.tmp"))
        hits += bool(left)
        for partial in left:
            partial.unlink()
        if now != original:
            assert unlike(heavy, {("Sheet", "C1"): AMPERES}) == {}
            with zipfile.ZipFile(heavy) as archive:
                assert archive.testzip() is None
            heavy.write_bytes(original)
    assert hits > 0, "no kill fell into the writing"


def test_killed_at_any_moment(heavy, tmp_path):
    original = heavy.read_bytes()
    begun = time.monotonic()
    started(heavy).wait()
    whole = time.monotonic() - begun
    filled = heavy.read_bytes()
    assert filled != original
    heavy.write_bytes(original)
    for number in range(TIMES):
        process = started(heavy)
        time.sleep(whole * (number + 0.5) / TIMES)
        ended(process)
        assert heavy.read_bytes() in (original, filled)
        heavy.write_bytes(original)


def test_what_a_kill_leaves_does_not_stay_in_the_way(heavy):
    process = started(heavy)
    time.sleep(0.3)
    ended(process)
    assert started(heavy).wait() == 0
    assert unlike(heavy, {("Sheet", "C1"): AMPERES}) == {}


def test_the_computing_process_ends_with_the_command(heavy):
    """What computes for the command is not left running when the command is killed."""
    process = started(heavy)
    time.sleep(0.5)
    ended(process)
    deadline = time.monotonic() + 20
    while time.monotonic() < deadline:
        try:
            os.killpg(process.pid, 0)
        except ProcessLookupError:
            return
        time.sleep(0.05)
    pytest.fail("a process of the killed command still runs")
