"""Runs a program and tells what it took."""

import os
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.hosts.calc_office import RECALCULATE
from xlfuncs import setup_calc


@dataclass(frozen=True)
class Taken:
    """Seconds on the clock, seconds of processor time and the most memory, in MB."""

    seconds: float
    cpu: float
    memory: float


def run(*command):
    """Run a command with its children to the end."""
    # Installed programs keep their bytecode.
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    begun = time.perf_counter()
    process = subprocess.Popen(
        [str(part) for part in command],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env=environment,
    )
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    taken = time.perf_counter() - begun
    return process.returncode, Taken(taken, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)


CALL = """
import sys, time, pathlib
from xlfuncs.hosts.workbook import fill
from xlfuncs import functions
begun = time.perf_counter(), time.process_time()
fill(pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]))
print(time.perf_counter() - begun[0], time.process_time() - begun[1])
"""


def fill_call(source, output):
    """Fill a workbook from a Python that runs already, and has imported the package."""
    command = [sys.executable, "-c", CALL, str(source), str(output)]
    printed = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    seconds, cpu = map(float, printed.split())
    return Taken(seconds, cpu, 0.0)


def fill_command(source, output):
    """Fill a workbook as a user does, with the command."""
    code, taken = run(sys.executable, "-m", "xlfuncs", "fill", source, "-o", output)
    # 1 says that some cells hold messages.
    assert code in (0, 1)
    return taken


class Office:
    """Headless LibreOffice, told to compute everything when it opens a workbook."""

    def __init__(self, folder):
        self.program = setup_calc.find_program()
        if self.program is None:
            pytest.skip("LibreOffice, which the fill is compared with, is not installed")
        self.profile = folder / "profile"
        (self.profile / "user").mkdir(parents=True)
        (self.profile / "user" / "registrymodifications.xcu").write_text(
            '<?xml version="1.0" encoding="UTF-8"?>'
            '<oor:items xmlns:oor="http://openoffice.org/2001/registry">'
            f"{RECALCULATE}</oor:items>",
            "utf-8",
        )

    def convert(self, source, folder):
        """Load, compute and save a workbook."""
        code, taken = run(
            Path(self.program) / "soffice",
            f"-env:UserInstallation={self.profile.as_uri()}",
            "--headless",
            "--convert-to",
            "xlsx:Calc MS Excel 2007 XML",
            "--outdir",
            folder,
            source,
        )
        assert code == 0
        assert (folder / source.name).exists()
        return taken
