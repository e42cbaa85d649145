"""Put the worksheet functions into a LibreOffice profile, and take them out again."""

from __future__ import annotations

import importlib.util
import os
import re
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import escape

from lxml import etree

from .functions import FUNCTIONS
from .hosts.calc import MARK, MODULE, SCRIPT, basic_module, python_script

PACKAGES = ("xlfuncs", "numpy", "pint")

_LIBRARY = "{http://openoffice.org/2000/library}"
_MODULE = """\
<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE script:module PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "module.dtd">
<script:module xmlns:script="http://openoffice.org/2000/script" script:name="{name}" \
script:language="StarBasic" script:moduleType="normal">{text}</script:module>
"""


class Refusal(Exception):  # noqa: N818  (its text is an answer to the user)
    """Why the profile was left as it is, in one line."""


@dataclass(frozen=True)
class Profile:
    """The files of a LibreOffice user profile that matter here."""

    folder: Path

    @property
    def lock(self) -> Path:
        return self.folder / ".lock"

    @property
    def library(self) -> Path:
        """The user's Standard library of Basic modules."""
        return self.folder / "user" / "basic" / "Standard"

    @property
    def index(self) -> Path:
        return self.library / "script.xlb"

    @property
    def module(self) -> Path:
        return self.library / f"{MODULE}.xba"

    @property
    def script(self) -> Path:
        return self.folder / "user" / "Scripts" / "python" / SCRIPT


def default_profile() -> Path:
    """Folder of the user's own LibreOffice profile."""
    home = Path.home()
    if sys.platform == "win32":
        base = Path(os.environ.get("APPDATA", home / "AppData" / "Roaming")) / "LibreOffice"
    elif sys.platform == "darwin":
        base = home / "Library" / "Application Support" / "LibreOffice"
    else:
        base = Path(os.environ.get("XDG_CONFIG_HOME", home / ".config")) / "libreoffice"
    return base / "4"


def find_program() -> Path | None:
    """Folder of LibreOffice's programs, None where it is not installed."""
    command = shutil.which("soffice") or shutil.which("libreoffice")
    places = [
        *([Path(command).resolve().parent] if command else []),
        Path("/Applications/LibreOffice.app/Contents/MacOS"),
        Path("/usr/lib/libreoffice/program"),
        Path("/usr/lib64/libreoffice/program"),
        *sorted(Path("/opt").glob("libreoffice*/program"), reverse=True),
        *(
            Path(os.environ[variable]) / "LibreOffice" / "program"
            for variable in ("PROGRAMFILES", "PROGRAMFILES(X86)")
            if variable in os.environ
        ),
    ]
    return next((place for place in places if any(place.glob("soffice*"))), None)


def office_python(program: Path) -> tuple[int, int] | None:
    """Version of the Python that LibreOffice runs scripts with, None where it has none."""
    inside = program.parent if program.name == "MacOS" else program
    for pattern, version in (
        ("python-core-*", r"python-core-(\d+)\.(\d+)"),
        ("Frameworks/LibreOfficePython.framework/Versions/3.*", r"Versions[/\\](\d+)\.(\d+)"),
    ):
        for folder in sorted(inside.glob(pattern)):
            if found := re.search(version, str(folder)):
                return int(found[1]), int(found[2])
    # A distribution's LibreOffice uses the system's Python; its bridge names the library.
    bridge = program / "libpyuno.so"
    if bridge.exists() and (program / "pythonscript.py").exists():
        named = re.search(rb"libpython(\d+)\.(\d+)", bridge.read_bytes())
        if named:
            return int(named[1]), int(named[2])
    return None


def office_environment() -> dict[str, str]:
    """Environment in which a distribution's LibreOffice finds its own Python.

    It looks for its library beside the first python3 of the PATH, which in an activated
    environment is another one.
    """
    kept = {k: v for k, v in os.environ.items() if k not in ("PYTHONHOME", "PYTHONPATH")}
    if os.name == "posix":
        kept["PATH"] = os.pathsep.join(["/usr/bin", "/bin", kept.get("PATH", "")])
    return kept


def install(profile: Path | None = None, program: Path | None = None) -> str:
    """Make the functions usable in Calc with this profile.

    Parameters
    ----------
    profile : path, optional
        Folder of a LibreOffice profile, the one that holds `user`. Default: the user's own.
    program : path, optional
        Folder of LibreOffice's programs. Default: found by itself.

    Returns
    -------
    str
        What was done, in a few lines.

    Raises
    ------
    Refusal
        Where the functions would not work there. Nothing is changed then.
    """
    found = _profile(profile)
    need_python(program or find_program())
    if found.module.exists() and MARK not in found.module.read_text("utf-8"):
        raise Refusal(f"the profile holds a Basic module {MODULE} of someone else: rename it first")
    _write(found.script, python_script(package_folders()))
    _write(found.module, _MODULE.format(name=MODULE, text=escape(basic_module())))
    _list_module(found.index, wanted=True)
    return (
        f"{len(FUNCTIONS)} functions installed in {found.folder}\n"
        "Start LibreOffice Calc and try =XF_FULL_LOAD_CURRENT(75;480)\n"
        "Run this again after an update of xlfuncs or of LibreOffice."
    )


def remove(profile: Path | None = None) -> str:
    """Take the functions out of a profile; the user's other macros stay.

    Returns
    -------
    str
        What was done, in one line.

    Raises
    ------
    Refusal
        Where LibreOffice is running or there is no such profile.
    """
    found = _profile(profile)
    ours = [
        file
        for file in (found.module, found.script)
        if file.exists() and MARK in file.read_text("utf-8")
    ]
    if not ours:
        return f"nothing to remove: xlfuncs is not installed in {found.folder}"
    if found.module in ours:
        _list_module(found.index, wanted=False)
    for file in ours:
        file.unlink()
    return f"xlfuncs removed from {found.folder}"


def _profile(folder: Path | None) -> Profile:
    chosen = folder or default_profile()
    if chosen.name == "user" and (chosen / "basic").is_dir():
        chosen = chosen.parent
    profile = Profile(chosen)
    if not profile.index.exists():
        raise Refusal(
            f"there is no LibreOffice profile in {chosen} yet: start LibreOffice once, close it, "
            "and run this again"
        )
    if profile.lock.exists():
        raise Refusal(
            "LibreOffice is running with this profile: close it and run this again "
            f"(if it is not running, delete {profile.lock})"
        )
    return profile


def need_python(program: Path | None) -> None:
    """Refuse where LibreOffice's Python could not load this environment's packages."""
    if program is None:
        raise Refusal("LibreOffice was not found: install it, or put soffice on the PATH")
    version = office_python(program)
    if version is None:
        raise Refusal(
            f"LibreOffice in {program} has no Python for scripts: install that part of it "
            "(Debian and Ubuntu: libreoffice-script-provider-python)"
        )
    ours = sys.version_info[:2]
    if version != ours:
        wanted, have = (".".join(map(str, numbers)) for numbers in (version, ours))
        raise Refusal(
            f"LibreOffice runs Python {wanted}, xlfuncs is installed for Python {have}, and numpy "
            f"serves one version only: install xlfuncs in a Python {wanted} environment and run "
            "its setup"
        )


def package_folders() -> list[str]:
    """Folders that hold this environment's packages, ours first."""
    folders = []
    for package in PACKAGES:
        spec = importlib.util.find_spec(package)
        if spec is None or spec.origin is None:
            raise Refusal(f"the package {package} is missing in this environment")
        folders.append(str(Path(spec.origin).resolve().parents[1]))
    return list(dict.fromkeys(folders))


def _list_module(index: Path, *, wanted: bool) -> None:
    """Name our module in the library's index, or take its name out; leave the others alone."""
    try:
        tree = etree.parse(str(index), etree.XMLParser(resolve_entities=False, no_network=True))
    except etree.XMLSyntaxError:
        raise Refusal(
            f"{index} is damaged: open LibreOffice's macro editor and save once"
        ) from None
    library = tree.getroot()
    listed = [
        element
        for element in library.iter(f"{_LIBRARY}element")
        if element.get(f"{_LIBRARY}name") == MODULE
    ]
    if wanted == bool(listed):
        return
    if wanted:
        element = etree.SubElement(library, f"{_LIBRARY}element")
        element.set(f"{_LIBRARY}name", MODULE)
    for element in listed if not wanted else ():
        library.remove(element)
    _write(index, etree.tostring(tree, xml_declaration=True, encoding="UTF-8").decode("utf-8"))


def _write(file: Path, text: str) -> None:
    """Write all of a file or nothing."""
    file.parent.mkdir(parents=True, exist_ok=True)
    partial = file.with_name(f"{file.name}.partial")
    partial.write_text(text, "utf-8", newline="\n")
    partial.replace(file)
