"""Set Excel on Windows up for the functions: see what is in place, name the module, undo it.

One file is written, the user's settings of xlwings, with a copy of its former state beside it. The
registry is read only: whether to trust code is for the user to say, in Excel.
"""

from __future__ import annotations

import importlib
import importlib.metadata
import importlib.util
import json
import os
import re
import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

MODULE = "xlfuncs.hosts.excel"

# Keys of xlwings.conf, as its add-in reads them.
MODULES = "UDF MODULES"
INTERPRETER = "INTERPRETER_WIN"

OLDEST_PYTHON = (3, 11)

OK, TO_DO, NOTE = "ok", "to do", "note"

TRUST = (
    "In Excel: File > Options > Trust Center > Trust Center Settings > Macro Settings, "
    "tick 'Trust access to the VBA project object model'."
)
SAVE = "Restart Excel and save the workbook as .xlsm."
REFER = "Press Alt+F11, choose Tools > References, tick xlwings, close the editor."
IMPORT = "In the xlwings tab press Import Functions."
TRY = "Type =XF_FULL_LOAD_CURRENT(75, 480) into a cell. It shows 90.2 A."
UNTRUST = "Take the tick of the Trust Center off again: only Import Functions needs it."


class Refusal(Exception):  # noqa: N818  (its text is an answer to the user)
    """Why the settings were left as they are, in one line."""


@dataclass(frozen=True)
class Machine:
    """What the set-up depends on, apart from the settings file itself."""

    system: str
    python: tuple[int, ...]
    interpreter: str
    home: Path
    roaming: Path
    xlwings: Path | None
    xlwings_version: str
    has_pywin32: bool
    registry: Callable[[str, str, str], Any]
    encoding: str

    @property
    def is_windows(self) -> bool:
        return self.system == "win32"

    @property
    def settings(self) -> Path:
        """The user's settings of xlwings."""
        return self.home / ".xlwings" / "xlwings.conf"

    @property
    def copy(self) -> Path:
        """The settings as they were before the last change."""
        return self.settings.with_name("xlwings.conf.before-xlfuncs")

    @property
    def record(self) -> Path:
        """What the settings held before xlfuncs was named in them."""
        return self.settings.with_name("xlfuncs.json")


def this_machine() -> Machine:
    """Return the machine that this Python runs on."""
    home = Path.home()
    spec = importlib.util.find_spec("xlwings")  # found, not imported: that takes a while
    return Machine(
        system=sys.platform,
        python=sys.version_info[:3],
        interpreter=sys.executable,
        home=home,
        roaming=Path(os.environ.get("APPDATA", home / "AppData" / "Roaming")),
        xlwings=Path(spec.origin).parent if spec and spec.origin else None,
        xlwings_version=importlib.metadata.version("xlwings") if spec else "",
        has_pywin32=importlib.util.find_spec("pythoncom") is not None,
        registry=read_registry,
        # The add-in's VBA reads the file in the code page of Windows.
        encoding="mbcs" if sys.platform == "win32" else "utf-8",
    )


def read_registry(root: str, key: str, name: str) -> Any:
    """Return a value of the Windows registry, None where it is not set."""
    try:
        winreg: Any = importlib.import_module("winreg")
    except ImportError:
        return None
    try:
        with winreg.OpenKey(getattr(winreg, root), key) as opened:
            return winreg.QueryValueEx(opened, name)[0]
    except OSError:
        return None


@dataclass(frozen=True)
class Finding:
    """One thing that the functions need in Excel: its state, and what is left to do about it."""

    state: str
    subject: str
    text: str
    action: str = ""

    def __str__(self) -> str:
        line = f"{self.state:<5}  {self.subject}: {self.text}"
        return f"{line}\n       {self.action}" if self.action else line


@dataclass(frozen=True)
class Change:
    """A setting before and after; None where there is none."""

    key: str
    before: str | None
    after: str | None

    def __str__(self) -> str:
        before, after = (
            "(not set)" if value is None else f'"{value}"' for value in (self.before, self.after)
        )
        return f"{self.key}: {before} -> {after}"


@dataclass(frozen=True)
class Outcome:
    """What was changed, or would be, and what is left to do by hand."""

    file: Path
    written: bool
    changes: list[Change]
    notes: list[str] = field(default_factory=list)
    steps: list[str] = field(default_factory=list)
    copy: Path | None = None

    def __str__(self) -> str:
        if not self.changes:
            lines = [f"{self.file} needs no change."]
        elif self.written:
            lines = [f"Changed {self.file}:", *(f"  {change}" for change in self.changes)]
        else:
            lines = [
                "Excel runs such functions on Windows only, so nothing was changed here.",
                f"On Windows, {self.file} would be changed:",
                *(f"  {change}" for change in self.changes),
            ]
        if self.copy is not None:
            lines.append(f"The file as it was: {self.copy}")
        lines += [f"Note: {note}" for note in self.notes]
        if self.steps:
            lines.append("Left to do, in this order:")
            lines += [f"  {number}. {step}" for number, step in enumerate(self.steps, 1)]
        return "\n".join(lines)


def check(machine: Machine | None = None) -> list[Finding]:
    """Report what the functions need in Excel and whether it is there; change nothing."""
    machine = machine or this_machine()
    findings = [_python(machine), _packages(machine)]
    if not machine.is_windows:
        text = f"this is {machine.system}; Excel runs such functions on Windows only"
        return [Finding(NOTE, "System", text), *findings]
    version = _excel_version(machine)
    findings += [_library(machine), _excel(version), _add_in(machine)]
    if version:
        findings += [_macros(machine, version), _trust(machine, version)]
    return findings + _settings(machine)


def install(machine: Machine | None = None) -> Outcome:
    """Name the module and this Python in the settings of xlwings; keep all else that they hold.

    Elsewhere than on Windows nothing is changed, and the outcome says what would be.

    Raises
    ------
    Refusal
        Where the settings can't be read or written.
    """
    machine = machine or this_machine()
    lines = _read(machine)
    named = _modules(_value(lines, MODULES))
    changes = []
    if MODULE not in named:
        changes.append(Change(MODULES, _value(lines, MODULES), ";".join([*named, MODULE])))
    interpreter = _value(lines, INTERPRETER)
    if not _is_this_python(machine, interpreter):
        changes.append(Change(INTERPRETER, interpreter, machine.interpreter))

    notes = []
    if not named:
        notes.append(
            "so far xlwings took the module named like the workbook. A workbook that has one "
            f"needs '{MODULES}' in an xlwings.conf sheet of its own now."
        )
    if interpreter and not _is_this_python(machine, interpreter):
        notes.append(
            f"functions of yours in {interpreter} will run in this Python instead, and need "
            "their packages here. xlfuncs setup excel --remove goes back."
        )
    if not (machine.is_windows and changes):
        return Outcome(machine.settings, False, changes, notes, _steps(machine))
    known = _record(machine)
    for change in changes:
        earlier = known.get(change.key, {})
        ours = change.before is not None and earlier.get("set") == change.before
        before = earlier.get("before") if ours else change.before
        known[change.key] = {"before": before, "set": change.after}
    copy = _write(machine, lines, changes, known)
    return Outcome(machine.settings, True, changes, notes, _steps(machine), copy)


def remove(machine: Machine | None = None) -> Outcome:
    """Take the module out of the settings of xlwings, and put back the Python named before.

    Raises
    ------
    Refusal
        Where the settings can't be read or written.
    """
    machine = machine or this_machine()
    lines = _read(machine)
    known = _record(machine)
    changes, notes = [], []
    value = _value(lines, MODULES)
    if MODULE in _modules(value):
        left = ";".join(name for name in _modules(value) if name != MODULE)
        before = known.get(MODULES, {}).get("before")
        changes.append(Change(MODULES, value, left or ("" if before == "" else None)))
    interpreter = _value(lines, INTERPRETER)
    recorded = known.get(INTERPRETER)
    if recorded is not None and interpreter == recorded.get("set"):
        changes.append(Change(INTERPRETER, interpreter, recorded.get("before")))
    elif interpreter is not None:
        notes.append(f"{INTERPRETER} was not set by xlfuncs, or was changed since: it stays.")
    steps = [
        "In workbooks that hold the functions: Alt+F11, remove the module xlwings_udfs. Formulas "
        "keep their last result until they are recalculated.",
        "xlwings addin remove, if no other workbook uses the add-in.",
        "pip uninstall xlfuncs",
    ]
    if not (machine.is_windows and changes):
        return Outcome(machine.settings, False, changes, notes, steps)
    copy = _write(machine, lines, changes, {})
    return Outcome(machine.settings, True, changes, notes, steps, copy)


def _python(machine: Machine) -> Finding:
    version = ".".join(map(str, machine.python))
    if machine.python >= OLDEST_PYTHON:
        return Finding(OK, "Python", f"{version}, {machine.interpreter}")
    oldest = ".".join(map(str, OLDEST_PYTHON))
    return Finding(TO_DO, "Python", f"{version} is too old", f"Install Python {oldest} or later.")


def _packages(machine: Machine) -> Finding:
    if machine.xlwings is None:
        return Finding(TO_DO, "xlwings", "not installed in this Python", "pip install xlwings")
    text = f"{machine.xlwings_version} in this Python"
    if machine.is_windows and not machine.has_pywin32:
        return Finding(TO_DO, "xlwings", f"{text}, without pywin32", "pip install pywin32")
    return Finding(OK, "xlwings", text)


def _library(machine: Machine) -> Finding:
    """The add-in loads xlwings' library from the folder of Python, or from the one above it."""
    folder = Path(machine.interpreter).parent
    name = f"xlwings*-{machine.xlwings_version}.dll"
    if any(any(place.glob(name)) for place in (folder, folder.parent)):
        return Finding(OK, "xlwings library", "beside this Python")
    return Finding(
        TO_DO,
        "xlwings library",
        f"no {name} beside this Python",
        "pip install --force-reinstall --no-deps xlwings",
    )


def _excel_version(machine: Machine) -> str:
    """Version of the Excel installed, such as 16.0; empty where there is none."""
    current = machine.registry("HKEY_CLASSES_ROOT", r"Excel.Application\CurVer", "")
    found = re.fullmatch(r"Excel\.Application\.(\d+)", str(current))
    return f"{found[1]}.0" if found else ""


def _excel(version: str) -> Finding:
    if version:
        return Finding(OK, "Excel", f"version {version}")
    return Finding(TO_DO, "Excel", "not found", "Install Excel for Windows, not its web version.")


def _add_in(machine: Machine) -> Finding:
    """The add-in must be the one of the package: both name the library by its version."""
    program = machine.registry(
        "HKEY_LOCAL_MACHINE",
        r"SOFTWARE\Microsoft\Windows\CurrentVersion\App Paths\excel.exe",
        "",
    )
    places = [machine.roaming / "Microsoft" / "Excel" / "XLSTART"]
    if program:
        places.append(Path(program).parent / "XLSTART")
    found = next((p / "xlwings.xlam" for p in places if (p / "xlwings.xlam").exists()), None)
    if found is None:
        return Finding(
            TO_DO,
            "xlwings add-in",
            f"not in {places[0]}",
            "Close Excel, then run: xlwings addin install",
        )
    shipped = machine.xlwings and machine.xlwings / "addin" / "xlwings.xlam"
    if shipped and shipped.exists() and shipped.read_bytes() == found.read_bytes():
        return Finding(OK, "xlwings add-in", f"of this xlwings, {found}")
    return Finding(
        TO_DO,
        "xlwings add-in",
        f"{found} is of another version than xlwings {machine.xlwings_version}",
        "Close Excel, then run: xlwings addin install",
    )


def _security(machine: Machine, version: str, name: str) -> tuple[Any, bool]:
    """A security setting of Excel, and whether the organization's policy sets it."""
    for folder in ("Policies\\", ""):
        key = rf"Software\{folder}Microsoft\Office\{version}\Excel\Security"
        value = machine.registry("HKEY_CURRENT_USER", key, name)
        if value is not None:
            return value, bool(folder)
    return None, False


def _macros(machine: Machine, version: str) -> Finding:
    value, by_policy = _security(machine, version, "VBAWarnings")
    if value not in (3, 4):  # 1: all run; 2, or not set: Excel asks
        return Finding(OK, "Macros", "allowed, after Enable Content where Excel asks")
    text = "only signed macros run" if value == 3 else "all macros are off"
    action = (
        "The organization's policy sets this: ask its administrator."
        if by_policy
        else "In the Trust Center's Macro Settings choose 'Disable VBA macros with notification'."
    )
    return Finding(TO_DO, "Macros", text, action)


def _trust(machine: Machine, version: str) -> Finding:
    subject = "Access to the VBA project"
    value, by_policy = _security(machine, version, "AccessVBOM")
    if value == 1:
        return Finding(OK, subject, "trusted; Import Functions needs it")
    if by_policy:
        action = "The organization's policy sets this: ask its administrator."
        return Finding(TO_DO, subject, "not trusted; Import Functions needs it", action)
    return Finding(TO_DO, subject, "not trusted; Import Functions needs it", TRUST)


def _settings(machine: Machine) -> list[Finding]:
    try:
        lines = _read(machine)
    except Refusal as refusal:
        return [Finding(TO_DO, "Settings", str(refusal))]
    modules, interpreter = _value(lines, MODULES), _value(lines, INTERPRETER)
    action = "xlfuncs setup excel"
    return [
        Finding(OK, MODULES, str(modules))
        if MODULE in _modules(modules)
        else Finding(TO_DO, MODULES, f"{MODULE} is not in {machine.settings}", action),
        Finding(OK, INTERPRETER, "this Python")
        if _is_this_python(machine, interpreter)
        else Finding(TO_DO, INTERPRETER, f"is {interpreter or 'not set'}, not this Python", action),
    ]


def _steps(machine: Machine) -> list[str]:
    """What is left to do by hand once the settings are written."""
    findings = [one for one in check(machine) if one.subject not in (MODULES, INTERPRETER)]
    by_hand = [finding.action for finding in findings if finding.state == TO_DO and finding.action]
    if not machine.is_windows:
        by_hand = ["On Windows: close Excel, run xlwings addin install", TRUST]
    return [*by_hand, SAVE, REFER, IMPORT, TRY, UNTRUST]


def _modules(value: str | None) -> list[str]:
    return [name.strip() for name in (value or "").split(";") if name.strip()]


def _is_this_python(machine: Machine, interpreter: str | None) -> bool:
    expanded = os.path.expandvars(interpreter or "")
    return expanded.casefold() == machine.interpreter.casefold()


_LINE = re.compile(r'\s*"([^"]*)"\s*,\s*"([^"]*)"\s*')


def _read(machine: Machine) -> list[str]:
    """Lines of the settings, with their ends; none where there is no file."""
    try:
        return machine.settings.read_bytes().decode(machine.encoding).splitlines(keepends=True)
    except FileNotFoundError:
        return []
    except (OSError, UnicodeError) as error:
        raise Refusal(f"{machine.settings} cannot be read ({error})") from None


def _value(lines: list[str], key: str) -> str | None:
    """Value of a setting; the add-in takes the first line of that key, in any case."""
    for line in lines:
        written = _LINE.fullmatch(line)
        if written and written[1].casefold() == key.casefold():
            return written[2]
    return None


def _changed(lines: list[str], change: Change, end: str) -> list[str]:
    """Return the lines with one setting changed in its place, added at the end, or left out."""
    new = [] if change.after is None else [f'"{change.key}","{change.after}"{end}']
    for number, line in enumerate(lines):
        written = _LINE.fullmatch(line)
        if written and written[1].casefold() == change.key.casefold():
            return [*lines[:number], *new, *lines[number + 1 :]]
    if lines and not lines[-1].endswith(("\n", "\r")):
        lines = [*lines[:-1], lines[-1] + end]
    return [*lines, *new]


def _write(
    machine: Machine, lines: list[str], changes: list[Change], known: dict[str, dict[str, Any]]
) -> Path | None:
    """Write the settings with the changes, and what to go back to; return the copy kept."""
    end = "\n" if lines and not lines[0].endswith("\r\n") else "\r\n"
    for change in changes:
        lines = _changed(lines, change, end)
    try:
        content = "".join(lines).encode(machine.encoding)
    except UnicodeEncodeError:
        raise Refusal(
            f"{machine.interpreter} has letters that the settings of xlwings cannot hold: "
            "install into a folder with a plainer name"
        ) from None
    copy = machine.copy if machine.settings.exists() else None
    try:
        machine.settings.parent.mkdir(parents=True, exist_ok=True)
        if copy is not None:
            shutil.copy2(machine.settings, copy)
        if known:
            machine.record.write_text(json.dumps(known, indent=1), "utf-8")
        if content:
            beside = machine.settings.with_name("xlwings.conf.new")
            beside.write_bytes(content)
            beside.replace(machine.settings)
        else:
            machine.settings.unlink()
        if not known:
            machine.record.unlink(missing_ok=True)
    except OSError as error:
        raise Refusal(f"{machine.settings} cannot be written ({error})") from None
    return copy


def _record(machine: Machine) -> dict[str, dict[str, Any]]:
    """What the settings held before, by key; a record that can't be read counts as none."""
    try:
        known = json.loads(machine.record.read_text("utf-8"))
        return {key: dict(entry) for key, entry in known.items()}
    except (OSError, ValueError, TypeError, AttributeError):
        return {}
