"""Excel's worksheet functions through xlwings' own code: wrappers, cells in, answers out."""

import datetime
import re
import subprocess
import sys
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

import xlfuncs
from xlfuncs.cells import PREFIX
from xlfuncs.descriptions import example_cells
from xlfuncs.functions import FUNCTIONS

from .excel_stubs import (
    ERRORS,
    LEFT_OUT,
    ComError,
    Excel,
    Time,
    cells,
    error,
    not_for_a_cell,
    server,
)

DATE = datetime.datetime(2024, 2, 1)

# What a cell holds as pywin32 hands it over, and the same cell as xlfuncs.call takes it.
KINDS = {
    "number": (480.0, 480.0),
    "zero": (0.0, 0.0),
    "negative": (-1.0, -1.0),
    "small": (1.0, 1.0),
    "currency": (Decimal("3.0000"), 3.0),
    "whole": (3, 3),
    "text": ("abc", "abc"),
    "text number": ("480", "480"),
    "unit": ("30 m", "30 m"),
    "size": ("#6", "#6"),
    "true": (True, True),
    "false": (False, False),
    "date": (Time(2024, 2, 1), DATE),
    "blank": (None, None),
    "empty text": ("", None),
    "spaces": ("  ", "  "),
    "message": ("Check: kva is blank", "Check: kva is blank"),
    **{text: (error(text), text) for text in ERRORS},
}


SHAPES = {
    "one cell": [["given"]],
    "column": [["given"], ["given"], ["blank"], ["#N/A"], ["#SPILL!"]],
    "row": [["given", "empty text", "date", "true"]],
    "block": [["given", "#CALC!", 0.0], ["blank", "given", "text"]],
    "blank column": [["blank"], ["blank"]],
}


ONE_ANSWER_AN_ELEMENT = [
    name for name, function in FUNCTIONS.items() if function.elementwise and not function.columns
]


@pytest.fixture(scope="module")
def excel():
    with pytest.MonkeyPatch.context() as patch, server() as host:
        patch.setenv("XLFUNCS_RAISE", "1")
        yield host


def example(function):
    """The arguments of the function's own example, as cells hold them."""
    return example_cells(function.example)


def handed(held):
    """A cell or a range of the sheet, as Excel hands it over."""
    return cells(held)


def with_one(arguments, place, value):
    return [*arguments[:place], value, *arguments[place + 1 :]]


def as_excel_takes_it(result):
    """Xlwings hands a single row over as a flat one."""
    if isinstance(result, list) and len(result) == 1:
        return result[0] if len(result[0]) > 1 else result[0][0]
    return result


def same(excel, function, handed, held):
    """Call with the cells that Excel hands over, and with the same cells from Python."""
    got = excel.call(function.name, *handed)
    assert not_for_a_cell(got) == []
    assert got == as_excel_takes_it(xlfuncs.call(function.name, *held)), (handed, held)
    return got


@pytest.mark.parametrize(
    "result",
    [None, float("nan"), np.float64(1), np.bool_(True), 2**31, [], [["a"], ["b", "c"]], ["a", []]],
)
def test_what_a_cell_cannot_hold_is_seen(result):
    assert not_for_a_cell(result)


def test_the_functions_of_the_registry_are_offered_and_nothing_else(excel):
    offered = {name for name, one in vars(excel.module).items() if hasattr(one, "__xlfunc__")}
    assert offered == set(FUNCTIONS)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_descriptions_fit_the_function_dialog(excel, name):
    record = excel.record(name)
    texts = [record["ret"]["doc"], *(argument["doc"] for argument in record["args"])]
    assert [text for text in texts if not 1 <= len(text) <= 255 or not text.isascii()] == []
    assert all(text.isprintable() for text in texts)
    assert record["category"] == "Electrical installation"


@pytest.mark.parametrize("name", FUNCTIONS)
def test_arguments_are_read_as_blocks_with_their_errors(excel, name):
    record = excel.record(name)
    for argument in record["args"]:
        assert argument["options"] == {"ndim": 2, "err_to_str": True}
    assert record["ret"]["options"] == {}
    assert not record["volatile"]
    assert record["call_in_wizard"]


def test_wrappers_declare_the_arguments_in_order(excel):
    written = {}
    for name, arguments in re.findall(r"^Function (\w+)\((.*)\)$", excel.wrapper(), re.M):
        assert name not in written
        written[name] = arguments.split(", ") if arguments else []
    assert written == {
        name: [a.name if a.required else f"Optional {a.name}" for a in function.arguments]
        for name, function in FUNCTIONS.items()
    }


def test_wrappers_hand_the_arguments_over_in_order(excel):
    calls = re.findall(
        r'= XLPy\.CallUDF\("([\w.]+)", "(\w+)", Array\((.*?)\), (\w+)', excel.wrapper()
    )
    assert calls == [
        ("xlfuncs.hosts.excel", name, ", ".join(a.name for a in FUNCTIONS[name].arguments), book)
        for name, book in ((name, "ThisWorkbook") for name in sorted(FUNCTIONS))
    ]
    assert "ThisWorkbook" not in excel.wrapper("Electrical.xlam")


def test_wrappers_keep_to_the_line_length_of_vba(excel):
    # 1023 characters a line: Visual Basic language limits, from memory.
    assert max(map(len, excel.wrapper().splitlines())) <= 1023


def test_import_functions_describes_every_function(excel, tmp_path):
    described, imported = {}, []

    def describe(macro, **options):
        described[macro] = options

    def bring_in(file):
        imported.append(Path(file).read_text())

    class Components:
        Import = staticmethod(bring_in)

        def __call__(self, name):
            return name

        def Remove(self, name):  # noqa: N802  (Excel's name)
            raise ComError("there is none yet")

    book = Excel(
        Name="Job.xlsm",
        Worksheets=[],
        Application=Excel(Version="16.0", MacroOptions=describe),
        VBProject=Excel(VBComponents=Components()),
    )
    excel.udfs.import_udfs(excel.module.__name__, book)
    assert [f"Function {name}(" in imported[0] for name in FUNCTIONS] == [True] * len(FUNCTIONS)
    assert set(described) == {f"'Job.xlsm'!{name}" for name in FUNCTIONS}
    for name, function in FUNCTIONS.items():
        options = described[f"'Job.xlsm'!{name}"]
        assert options["Description"] == function.summary
        assert options["Category"] == "Electrical installation"
        assert len(options["ArgumentDescriptions"]) == len(function.arguments)


def test_an_argument_text_gives_unit_choices_and_default(excel):
    texts = [argument["doc"] for argument in excel.record("XF_FULL_LOAD_CURRENT")["args"]]
    assert "kVA" in texts[0]
    assert texts[2].endswith("One of 1, 3. Left out: 3.")
    assert excel.record("XF_FAULT_CURRENT")["args"][4]["doc"].endswith("May be left out.")


@pytest.mark.parametrize("name", FUNCTIONS)
def test_example_gives_an_answer(excel, name):
    arguments = example(FUNCTIONS[name])
    got = same(excel, FUNCTIONS[name], map(handed, arguments), arguments)
    assert not str(got).startswith(PREFIX)


@pytest.mark.parametrize("name", FUNCTIONS)
@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_cell_in_every_place(excel, name, kind):
    function = FUNCTIONS[name]
    from_excel, held = KINDS[kind]
    for place in range(len(function.arguments)):
        arguments = example(function)
        arguments += [None] * (place + 1 - len(arguments))
        arguments[place] = held
        others = [handed(argument) for argument in arguments]
        same(excel, function, with_one(others, place, cells(from_excel)), arguments)
        same(excel, function, with_one(others, place, from_excel), arguments)


@pytest.mark.parametrize("name", FUNCTIONS)
@pytest.mark.parametrize("shape", SHAPES)
def test_every_shape_in_every_place(excel, name, shape):
    function = FUNCTIONS[name]
    for place in range(len(function.arguments)):
        arguments = example(function)
        arguments += [None] * (place + 1 - len(arguments))
        given = arguments[place][0][0] if isinstance(arguments[place], list) else arguments[place]
        block = [[given if one == "given" else one for one in row] for row in SHAPES[shape]]
        held = [[KINDS[one][1] if one in KINDS else one for one in row] for row in block]
        block = [[KINDS[one][0] if one in KINDS else one for one in row] for row in block]
        arguments[place] = given if shape == "one cell" else held
        others = [handed(argument) for argument in arguments]
        same(excel, function, with_one(others, place, cells(block)), arguments)
        same(excel, function, with_one(others, place, tuple(map(tuple, block))), arguments)


@pytest.mark.parametrize("name", ONE_ANSWER_AN_ELEMENT)
def test_a_spilled_column_equals_its_cells(excel, name):
    function = FUNCTIONS[name]
    arguments = example(function)
    for place, given in enumerate(arguments):
        column = [[given], [None], ["#N/A"], [-1.0], [given]]
        spilled = excel.call(
            name, *with_one([handed(one) for one in arguments], place, cells(column))
        )
        alone = [xlfuncs.call(name, *with_one(arguments, place, row[0])) for row in column]
        assert spilled == [[answer] for answer in alone]


@pytest.mark.parametrize("name", FUNCTIONS)
def test_left_out_is_blank_is_the_default(excel, name):
    function = FUNCTIONS[name]
    required = [argument for argument in function.arguments if argument.required]
    given = example(function)[: len(required)]
    left_out = excel.call(name, *map(handed, given))
    blanks = [cells(None) for argument in function.arguments[len(required) :]]
    defaults = [cells(argument.default) for argument in function.arguments[len(required) :]]
    assert excel.call(name, *map(handed, given), *blanks) == left_out
    assert excel.call(name, *map(handed, given), *defaults) == left_out
    assert excel.call(name, *map(handed, given), *[LEFT_OUT for _ in blanks]) == left_out


@pytest.mark.parametrize("text", ERRORS)
def test_an_error_comes_back_as_itself(excel, text):
    assert excel.call("XF_FULL_LOAD_CURRENT", cells(error(text)), 480.0) == text
    assert excel.call("XF_FULL_LOAD_CURRENT", cells([[75.0], [error(text)]]), 480.0)[1] == [text]


def test_an_error_that_is_not_listed_is_an_error_all_the_same(excel):
    future = error("#NULL!") + 200
    assert excel.call("XF_FULL_LOAD_CURRENT", 75.0, cells(future)) == "#UNKNOWN!"


def test_the_formula_dragged_past_the_last_row_is_blank(excel):
    assert excel.call("XF_FULL_LOAD_CURRENT", cells(None), cells("")) == ""


def test_ranges_of_different_size_are_refused(excel):
    two, three = cells([[75.0]] * 2), cells([[480.0]] * 3)
    assert excel.call("XF_FULL_LOAD_CURRENT", two, three).startswith(PREFIX)


@pytest.fixture
def broken(excel, monkeypatch):
    """A worksheet function with a fault of its own."""

    def core(kva, volts, phases):
        raise ZeroDivisionError("divided by nothing")

    function = replace(FUNCTIONS["XF_FULL_LOAD_CURRENT"], name="XF_BROKEN", core=core)
    monkeypatch.setitem(FUNCTIONS, "XF_BROKEN", function)
    monkeypatch.setattr(excel.module, "XF_BROKEN", excel.module.offer(function), raising=False)


@pytest.mark.usefixtures("broken")
@pytest.mark.parametrize("kva", [75.0, cells([[75.0], [45.0]])])
def test_a_fault_of_ours_is_a_short_message_in_the_cell(excel, monkeypatch, caplog, kva):
    monkeypatch.delenv("XLFUNCS_RAISE")
    got = excel.call("XF_BROKEN", kva, 480.0)
    assert got.startswith(f"{PREFIX}XF_BROKEN ")
    assert "report" in got
    assert "Traceback" not in got
    assert "divided" not in got
    assert "ZeroDivisionError: divided by nothing" in caplog.text


@pytest.mark.usefixtures("broken")
def test_a_fault_of_ours_is_raised_under_test(excel):
    with pytest.raises(ZeroDivisionError):
        excel.call("XF_BROKEN", 75.0, 480.0)


def modules_after(statement):
    """Names of the modules that a fresh Python has loaded after `statement`."""
    show = f"import sys; {statement}; print(*sys.modules)"
    root = Path(xlfuncs.__file__).parents[1]
    run = subprocess.run(
        [sys.executable, "-c", show], cwd=root, capture_output=True, text=True, check=True
    )
    return set(run.stdout.split())


def test_the_host_starts_light():
    loaded = modules_after("import xlfuncs.hosts.excel")
    assert loaded.isdisjoint({"pint", "openpyxl", "formualizer", "lxml", "rich"})
    heavy = modules_after("import xlwings, numpy")
    added = {name.partition(".")[0] for name in loaded - heavy}
    assert added <= {"numpy", "xlfuncs", *sys.stdlib_module_names}


def test_the_host_imports_without_pywin32():
    assert "pythoncom" not in modules_after("import xlfuncs.hosts.excel")
    modules_after(
        "from xlfuncs.hosts.excel import XF_FULL_LOAD_CURRENT as current; "
        "assert current([[0.1]], [[100.0]], [[1.0]]) == 1"
    )
