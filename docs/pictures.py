"""Make the pictures of the workbooks that the pages show, as LibreOffice prints them.

Run ``python docs/pictures.py`` from the project's folder after a change of a workbook. It needs
LibreOffice and pdftoppm (poppler-utils). LibreOffice has a profile of its own, without the
functions: the pictures show the stored results.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from xlfuncs.setup_calc import find_program

DOCS = Path(__file__).parent
WORKBOOKS = DOCS.parent / "workbooks"
PICTURES = DOCS / "pictures"


class Picture(NamedTuple):
    """A part of a printed page; the box is left, top, right, bottom in inches."""

    workbook: str
    page: int
    box: tuple[float, float, float, float]
    dots_per_inch: int


SHOWN = {
    "job-list-primary": Picture("job_list", 2, (0.3, 0.35, 16.7, 7.5), 78),
    "job-list-secondary": Picture("job_list", 3, (0.3, 0.35, 16.7, 7.5), 78),
    "take-off": Picture("job_list", 4, (0.25, 0.35, 10.7, 7.4), 100),
    "charts": Picture("job_list", 5, (0.25, 0.35, 10.75, 7.95), 90),
    "installation": Picture("one_installation", 2, (0.3, 0.4, 8.2, 6.3), 110),
    "review": Picture("one_installation", 2, (0.3, 6.25, 8.2, 10.25), 110),
    "readings": Picture("one_installation", 3, (0.3, 0.4, 8.2, 3.8), 110),
    "steps": Picture("one_installation", 3, (0.3, 3.75, 8.2, 9.9), 100),
    "practice": Picture("class-01", 2, (0.3, 0.4, 8.2, 7.0), 80),
}


def as_pdf(workbook: Path, folder: Path) -> Path:
    """Print a workbook to a PDF in `folder`, by a LibreOffice that does not know the functions."""
    program = find_program()
    if program is None:
        raise FileNotFoundError("LibreOffice is not installed")
    command = [
        shutil.which("soffice", path=str(program)) or "soffice",
        f"-env:UserInstallation={(folder / 'profile').resolve().as_uri()}",
        "--headless",
        "--convert-to",
        "pdf",
        "--outdir",
        str(folder),
        str(workbook),
    ]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    return folder / f"{workbook.stem}.pdf"


def _workbook(name: str, folder: Path) -> Path:
    """A workbook of the project, or the practice workbook that docs/practice.md hands out."""
    if name != "class-01":
        return WORKBOOKS / f"{name}.xlsx"
    arguments = ["practice", "class.xlsx", "--learners", "3", "--seed", "2026"]
    command = [sys.executable, "-m", "xlfuncs", *arguments]
    subprocess.run(command, cwd=folder, check=True, capture_output=True)
    return folder / f"{name}.xlsx"


def main() -> None:
    """Write all pictures."""
    PICTURES.mkdir(exist_ok=True)
    with TemporaryDirectory() as folder:
        pages = {
            name: as_pdf(_workbook(name, Path(folder)), Path(folder))
            for name in dict.fromkeys(picture.workbook for picture in SHOWN.values())
        }
        for name, picture in SHOWN.items():
            left, top, right, bottom = (round(x * picture.dots_per_inch) for x in picture.box)
            options = {
                "-r": picture.dots_per_inch, "-f": picture.page, "-l": picture.page,
                "-x": left, "-y": top, "-W": right - left, "-H": bottom - top,
            }  # fmt: skip
            flags = [str(part) for pair in options.items() for part in pair]
            target = PICTURES / name
            subprocess.run(
                ["pdftoppm", "-png", "-singlefile", *flags, pages[picture.workbook], target],
                check=True,
            )
            print(f"{target.name}.png: {target.with_suffix('.png').stat().st_size // 1000} kB")


if __name__ == "__main__":
    main()
