"""A headless LibreOffice with a profile of its own, the functions installed in it.

`Office.recalculate` lets LibreOffice open a workbook, calculate all of it and save it, and reads
what then stands in the cells.
"""

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest

from xlfuncs import setup_calc

# Far above what a slow machine needs: only what hangs is ended.
SECONDS = 90

# 0 is "always": LibreOffice otherwise keeps the values that a workbook stores.
RECALCULATE = "".join(
    '<item oor:path="/org.openoffice.Office.Calc/Formula/Load">'
    f'<prop oor:name="{name}" oor:op="fuse"><value>0</value></prop></item>'
    for name in ("OOXMLRecalcMode", "ODFRecalcMode")
)


def why_not():
    """Why LibreOffice can't be tried here, None where it can."""
    program = setup_calc.find_program()
    if program is None:
        return "LibreOffice is not installed"
    version = setup_calc.office_python(program)
    if version is None:
        return "LibreOffice has no Python for scripts (libreoffice-script-provider-python)"
    if version != sys.version_info[:2]:
        return "LibreOffice's Python is {}.{}, the tests' is {}.{}".format(
            *version, *sys.version_info[:2]
        )
    return None


def need_libreoffice():
    """Skip where LibreOffice can't be tried; in continuous integration that is a failure."""
    reason = why_not()
    if reason and os.environ.get("CI"):
        pytest.fail(reason)
    if reason:
        pytest.skip(reason)


class Office:
    """LibreOffice with the profile in `folder`."""

    def __init__(self, folder):
        self.folder = Path(folder)
        self.program = setup_calc.find_program()
        self.run("--terminate_after_init")
        settings = self.folder / "user" / "registrymodifications.xcu"
        text = settings.read_text("utf-8")
        settings.write_text(text.replace("</oor:items>", f"{RECALCULATE}</oor:items>"), "utf-8")

    def run(self, *arguments):
        """Run LibreOffice to its end; past the time limit kill it and its children."""
        command = [
            shutil.which("soffice", path=str(self.program)) or "soffice",
            "--headless",
            "--norestore",
            "--nologo",
            f"-env:UserInstallation={self.folder.resolve().as_uri()}",
            *arguments,
        ]
        process = subprocess.Popen(
            command,
            env=setup_calc.office_environment(),
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        )
        try:
            printed, _ = process.communicate(timeout=SECONDS)
        except subprocess.TimeoutExpired:
            self._kill(process)
            raise AssertionError(f"LibreOffice took more than {SECONDS} s: {arguments}") from None
        except BaseException:
            self._kill(process)
            raise
        assert process.returncode == 0, printed
        return printed

    @staticmethod
    def _kill(process):
        if os.name == "posix":
            os.killpg(process.pid, signal.SIGKILL)
        else:
            process.kill()
        process.communicate()

    def recalculate(self, books, kind="xlsx"):
        """Open the books, calculate them, save them as `kind`; return where they are saved."""
        out = self.folder / f"saved-{kind}"
        printed = self.run("--convert-to", kind, "--outdir", str(out), *map(str, books))
        saved = [out / f"{book.stem}.{kind}" for book in books]
        assert all(book.exists() for book in saved), printed
        return saved

    def values(self, book):
        """Open `book`, calculate it and return its sheet: cells as openpyxl reads them."""
        (saved,) = self.recalculate([book])
        return openpyxl.load_workbook(saved, data_only=True).active

    def install(self):
        """Install the functions, as `xlfuncs setup calc` does."""
        return setup_calc.install(self.folder)


@pytest.fixture(scope="session")
def office(tmp_path_factory):
    """LibreOffice with the functions installed."""
    need_libreoffice()
    office = Office(tmp_path_factory.mktemp("libreoffice"))
    office.install()
    return office
