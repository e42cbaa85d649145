"""Setting Excel up: what is looked at, the one file that is written, and the way back."""

import re
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
import xlwings
from xlwings.utils import read_user_config

from xlfuncs import setup_excel
from xlfuncs.setup_excel import Machine, Refusal, check, install, remove

OURS = "xlfuncs.hosts.excel"
PYTHON = "C:\\Jobs\\env\\Scripts\\python.exe"
SECURITY = r"Software\Microsoft\Office\16.0\Excel\Security"
POLICY = r"Software\Policies\Microsoft\Office\16.0\Excel\Security"
USER = "HKEY_CURRENT_USER"


@pytest.fixture
def registry():
    """A registry as (root, key, name) -> value, with Excel in it and code trusted."""
    return {
        ("HKEY_CLASSES_ROOT", r"Excel.Application\CurVer", ""): "Excel.Application.16",
        (USER, SECURITY, "AccessVBOM"): 1,
    }


@pytest.fixture
def machine(tmp_path, registry):
    """A Windows machine where all is in place but our settings."""
    env = tmp_path / "env"
    package = env / "xlwings"
    start = tmp_path / "roaming" / "Microsoft" / "Excel" / "XLSTART"
    for folder in (env / "Scripts", package / "addin", start):
        folder.mkdir(parents=True)
    for addin in (package / "addin", start):
        (addin / "xlwings.xlam").write_bytes(b"add-in 0.37.8")
    (env / "xlwings64-0.37.8.dll").touch()
    return Machine(
        system="win32",
        python=(3, 11, 7),
        interpreter=str(env / "Scripts" / "python.exe"),
        home=tmp_path / "home",
        roaming=tmp_path / "roaming",
        xlwings=package,
        xlwings_version="0.37.8",
        has_pywin32=True,
        registry=lambda *place: registry.get(place),
        encoding="cp1252",
    )


@pytest.fixture
def settings(machine, monkeypatch):
    """The settings file; xlwings' own reader is pointed at it."""
    machine.settings.parent.mkdir(parents=True)
    monkeypatch.setattr(xlwings, "USER_CONFIG_FILE", str(machine.settings))
    return machine.settings


def left_to_do(machine):
    return {finding.subject for finding in check(machine) if finding.state == "to do"}


def test_all_in_place_but_the_settings(machine):
    assert left_to_do(machine) == {"UDF MODULES", "INTERPRETER_WIN"}


def test_nothing_is_left_to_do_after_install(machine):
    install(machine)
    assert left_to_do(machine) == set()


@pytest.mark.parametrize(
    ("missing", "subject"),
    [
        ({"python": (3, 10, 4)}, "Python"),
        ({"xlwings": None, "xlwings_version": ""}, "xlwings"),
        ({"has_pywin32": False}, "xlwings"),
        ({"xlwings_version": "0.36.0"}, "xlwings library"),
        ({"roaming": Path("elsewhere")}, "xlwings add-in"),
    ],
)
def test_what_is_missing_is_named_with_what_to_do(machine, missing, subject):
    install(machine)
    found = {finding.subject: finding for finding in check(replace(machine, **missing))}
    assert found[subject].state == "to do"
    assert found[subject].action


def test_an_add_in_of_another_version_is_seen(machine):
    (machine.roaming / "Microsoft/Excel/XLSTART/xlwings.xlam").write_bytes(b"add-in 0.30.0")
    assert "xlwings add-in" in left_to_do(machine)


def test_an_add_in_for_all_users_counts(machine, registry, tmp_path):
    (machine.roaming / "Microsoft/Excel/XLSTART/xlwings.xlam").rename(tmp_path / "xlwings.xlam")
    app_paths = r"SOFTWARE\Microsoft\Windows\CurrentVersion\App Paths\excel.exe"
    office = tmp_path / "office"
    (office / "XLSTART").mkdir(parents=True)
    (tmp_path / "xlwings.xlam").rename(office / "XLSTART" / "xlwings.xlam")
    registry["HKEY_LOCAL_MACHINE", app_paths, ""] = str(office / "EXCEL.EXE")
    assert "xlwings add-in" not in left_to_do(machine)


def test_without_excel_its_settings_are_not_asked(machine, registry):
    registry.clear()
    assert "Excel" in left_to_do(machine)
    assert "Macros" not in {finding.subject for finding in check(machine)}


@pytest.mark.parametrize(
    ("values", "to_do"),
    [
        ({}, True),
        ({(USER, SECURITY): 0}, True),
        ({(USER, SECURITY): 1}, False),
        ({(USER, SECURITY): 1, (USER, POLICY): 0}, True),
        ({(USER, SECURITY): 0, (USER, POLICY): 1}, False),
    ],
)
def test_trust_is_read_and_a_policy_goes_before(machine, registry, values, to_do):
    registry.pop((USER, SECURITY, "AccessVBOM"))
    registry.update({(*place, "AccessVBOM"): value for place, value in values.items()})
    assert ("Access to the VBA project" in left_to_do(machine)) == to_do


@pytest.mark.parametrize(("value", "to_do"), [(None, 0), (1, 0), (2, 0), (3, 1), (4, 1)])
def test_macros_that_are_off_are_seen(machine, registry, value, to_do):
    registry[USER, SECURITY, "VBAWarnings"] = value
    assert ("Macros" in left_to_do(machine)) == bool(to_do)


def test_check_changes_nothing(machine):
    check(machine)
    assert not machine.settings.parent.exists()


def test_install_makes_settings_that_xlwings_reads(machine, settings):
    outcome = install(machine)
    assert outcome.written
    assert outcome.copy is None
    assert read_user_config() == {"udf modules": OURS, "interpreter_win": machine.interpreter}


def test_install_keeps_what_is_there(machine, settings):
    before = (
        b'"PYTHONPATH","C:\\B\xfccher"\r\n"Udf Modules","mine;other;"\r\n\r\n"SHOW CONSOLE","True"'
    )
    settings.write_bytes(before)
    outcome = install(machine)
    assert settings.read_bytes().splitlines() == [
        b'"PYTHONPATH","C:\\B\xfccher"',
        f'"UDF MODULES","mine;other;{OURS}"'.encode(),
        b"",
        b'"SHOW CONSOLE","True"',
        f'"INTERPRETER_WIN","{machine.interpreter}"'.encode(),
    ]
    assert outcome.copy is not None
    assert outcome.copy.read_bytes() == before


def test_install_shows_each_change_old_and_new(machine, settings):
    settings.write_text(f'"UDF MODULES","mine"\n"INTERPRETER_WIN","{PYTHON}"\n')
    shown = str(install(machine))
    assert f'UDF MODULES: "mine" -> "mine;{OURS}"' in shown
    assert f'INTERPRETER_WIN: "{PYTHON}" -> "{machine.interpreter}"' in shown
    assert "functions of yours" in shown


def test_a_second_install_changes_nothing(machine, settings):
    settings.write_text('"UDF MODULES","mine"\n')
    install(machine)
    once, copy = settings.read_bytes(), machine.copy.read_bytes()
    outcome = install(machine)
    assert not outcome.written
    assert "needs no change" in str(outcome)
    assert (settings.read_bytes(), machine.copy.read_bytes()) == (once, copy)


def test_install_says_that_workbook_modules_are_no_longer_found_by_name(machine, settings):
    assert "named like the workbook" in str(install(machine))
    settings.write_text('"UDF MODULES","mine"\n')
    assert "named like the workbook" not in str(install(machine))


def test_install_lists_the_clicks_that_are_left(machine, registry):
    registry[USER, SECURITY, "AccessVBOM"] = 0
    (machine.roaming / "Microsoft/Excel/XLSTART/xlwings.xlam").unlink()
    steps = install(machine).steps
    order = ["addin install", "Trust access", ".xlsm", "References", "Import", "=XF_FULL_LOAD"]
    places = [next(n for n, step in enumerate(steps) if word in step) for word in order]
    assert places == sorted(places)


@pytest.mark.parametrize(
    "before",
    [
        None,
        '"UDF MODULES",""\r\n',
        '"SHOW CONSOLE","True"\r\n',
        f'"UDF MODULES","mine"\r\n"INTERPRETER_WIN","{PYTHON}"\r\n"PYTHONPATH","C:\\Jobs"\r\n',
    ],
)
@pytest.mark.parametrize("installs", [1, 2])
def test_remove_goes_back(machine, settings, before, installs):
    if before is not None:
        settings.write_bytes(before.encode())
    for _ in range(installs):
        install(machine)
    assert remove(machine).written
    assert (settings.read_bytes().decode() if settings.exists() else None) == before
    assert not machine.record.exists()


def test_remove_goes_back_over_a_change_of_environment(machine, settings):
    settings.write_text(f'"INTERPRETER_WIN","{PYTHON}"\n')
    install(machine)
    newer = replace(machine, interpreter="D:\\newer\\python.exe")
    install(newer)
    remove(newer)
    assert settings.read_text() == f'"INTERPRETER_WIN","{PYTHON}"\n'


def test_remove_leaves_what_the_user_changed_since(machine, settings):
    install(machine)
    changed = settings.read_text().replace(OURS, f"mine;{OURS};other")
    settings.write_text(changed.replace(machine.interpreter, PYTHON))
    shown = str(remove(machine))
    assert read_user_config() == {"udf modules": "mine;other", "interpreter_win": PYTHON}
    assert "it stays" in shown


@pytest.mark.parametrize("record", [None, "", "[1]", '{"INTERPRETER_WIN": 1}'])
def test_remove_without_a_record_takes_out_the_module_alone(machine, settings, record):
    install(machine)
    machine.record.unlink()
    if record is not None:
        machine.record.write_text(record)
    remove(machine)
    assert read_user_config() == {"interpreter_win": machine.interpreter}


def test_remove_twice_changes_nothing_more(machine, settings):
    install(machine)
    remove(machine)
    assert not remove(machine).written


def test_a_path_that_the_file_cannot_hold_is_refused(machine, settings):
    settings.write_text('"UDF MODULES","mine"\n')
    with pytest.raises(Refusal, match="letters"):
        install(replace(machine, interpreter="C:\\Работа\\python.exe"))
    assert settings.read_text() == '"UDF MODULES","mine"\n'
    assert [file.name for file in settings.parent.iterdir()] == ["xlwings.conf"]


def test_settings_that_cannot_be_read_are_refused(machine):
    machine.settings.mkdir(parents=True)
    for act in (install, remove):
        with pytest.raises(Refusal, match="cannot be read"):
            act(machine)
    assert "Settings" in left_to_do(machine)


def test_settings_that_cannot_be_written_are_refused(machine, settings, monkeypatch):
    def refuse(*arguments):
        raise PermissionError("in use")

    settings.write_text('"UDF MODULES","mine"\n')
    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(Refusal, match="cannot be written"):
        install(machine)
    assert settings.read_text() == '"UDF MODULES","mine"\n'


@pytest.mark.parametrize("act", [install, remove])
@pytest.mark.parametrize("system", ["linux", "darwin"])
def test_elsewhere_nothing_is_changed(machine, settings, act, system):
    settings.write_text(f'"UDF MODULES","mine;{OURS}"\n')
    before = settings.read_bytes()
    outcome = act(replace(machine, system=system))
    assert not outcome.written
    assert "nothing was changed" in str(outcome)
    assert settings.read_bytes() == before
    assert [file.name for file in settings.parent.iterdir()] == ["xlwings.conf"]
    assert f"this is {system}" in str(check(replace(machine, system=system))[0])


def test_what_is_shown_can_be_read_in_any_console(machine):
    shown = [*map(str, check(machine)), str(install(machine)), str(remove(machine))]
    assert all(text.isascii() for text in shown)
    assert not re.search(r"\bNone\b|Finding\(|Change\(", "\n".join(shown))


def test_this_machine_is_seen_without_importing_xlwings(monkeypatch):
    monkeypatch.delitem(sys.modules, "xlwings")
    machine = setup_excel.this_machine()
    assert "xlwings" not in sys.modules
    assert (machine.xlwings / "addin" / "xlwings.xlam").exists()
    assert machine.interpreter == sys.executable
    assert machine.settings == Path.home() / ".xlwings" / "xlwings.conf"


def test_the_registry_is_read(monkeypatch):
    asked = []

    class Key:
        def __enter__(self):
            return self

        def __exit__(self, *error):
            pass

    def open_key(root, key):
        asked.append((root, key))
        if "Policies" in key:
            raise FileNotFoundError
        return Key()

    winreg = SimpleNamespace(
        HKEY_CURRENT_USER="HKCU", OpenKey=open_key, QueryValueEx=lambda key, name: (1, 4)
    )
    monkeypatch.setitem(sys.modules, "winreg", winreg)
    assert setup_excel.read_registry(USER, SECURITY, "AccessVBOM") == 1
    assert setup_excel.read_registry(USER, POLICY, "AccessVBOM") is None
    assert asked == [("HKCU", SECURITY), ("HKCU", POLICY)]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has a registry")
def test_there_is_no_registry_elsewhere():
    assert setup_excel.read_registry(USER, SECURITY, "AccessVBOM") is None
