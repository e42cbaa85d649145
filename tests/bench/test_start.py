"""Starting: what the Excel host adds to its libraries, and how soon the command answers."""

import subprocess
import sys

from . import programs

IMPORT = """
import time, numpy, xlwings
begun = time.process_time()
import xlfuncs.hosts.excel
print(time.process_time() - begun)
"""


def test_importing_the_excel_host(benchmark, record, tmp_path, monkeypatch):
    # Bytecode is kept, as it is where packages are installed.
    monkeypatch.setenv("PYTHONPYCACHEPREFIX", str(tmp_path))
    monkeypatch.delenv("PYTHONDONTWRITEBYTECODE", raising=False)

    def started():
        command = [sys.executable, "-c", IMPORT]
        return float(subprocess.run(command, check=True, capture_output=True, text=True).stdout)

    started()
    benchmark.pedantic(started, rounds=1)
    milliseconds = min(started() for _ in range(8)) * 1000
    record("import of the Excel host, processor, ms", milliseconds, 100)
    assert milliseconds <= 100


def test_describe(benchmark, record, tmp_path, monkeypatch):
    monkeypatch.setenv("PYTHONPYCACHEPREFIX", str(tmp_path))

    def described():
        code, taken = programs.run(sys.executable, "-m", "xlfuncs", "describe", "XF_AMPACITY")
        assert code == 0
        return taken

    described()
    benchmark.pedantic(described, rounds=1)
    times = [described() for _ in range(8)]
    record(
        "xlfuncs describe, s",
        min(t.seconds for t in times),
        0.5,
        f"processor {min(t.cpu for t in times):.2f} s",
    )
