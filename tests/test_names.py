"""Names and descriptions that every host can show, each name with one meaning throughout."""

import pytest

from xlfuncs.designations import CHOICES, insulation_rating, text_of
from xlfuncs.functions import FUNCTIONS
from xlfuncs.limits import LIMITS, within_limits

from .hosts.excel_names import argument_name_is_free, function_name_is_free, looks_like_a_cell

ARGUMENTS = [
    pytest.param(function, argument, id=f"{function.name} {argument.name}")
    for function in FUNCTIONS.values()
    for argument in function.arguments
]


def meaning(argument):
    return argument.kind, argument.unit, argument.choices


def is_shown(text):
    return 1 <= len(text) <= 255 and text.isascii() and text.isprintable()


@pytest.mark.parametrize(
    "name", ["FLA3", "AWG12", "XFD1048576", "R1C1", "RC", "C7", "IFS", "XLOOKUP", "SUM", "Sub", "X"]
)
def test_a_taken_function_name_is_seen(name):
    assert not function_name_is_free(name)


@pytest.mark.parametrize("name", ["type", "step", "loop", "input", "range", "err", "lambda", "2nd"])
def test_a_taken_argument_name_is_seen(name):
    assert not argument_name_is_free(name)


def test_a_name_beyond_the_last_cell_is_free():
    assert not looks_like_a_cell("XFE1")
    assert not looks_like_a_cell("FLA1048577")


@pytest.mark.parametrize("name", FUNCTIONS)
def test_function_name_is_free(name):
    assert name.startswith("XF_")
    assert function_name_is_free(name)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_argument_names_are_free_and_differ(name):
    names = [argument.name for argument in FUNCTIONS[name].arguments]
    assert [n for n in names if not argument_name_is_free(n)] == []
    assert len(set(names)) == len(names)
    assert len(names) <= 60  # the most that a VBA procedure takes


@pytest.mark.parametrize("name", FUNCTIONS)
def test_texts_can_be_shown(name):
    function = FUNCTIONS[name]
    assert is_shown(function.summary)
    assert [a.name for a in function.arguments if not is_shown(a.help)] == []


def test_an_argument_name_means_one_thing():
    meanings = {}
    for function in FUNCTIONS.values():
        for argument in function.arguments:
            meanings.setdefault(argument.name, {}).setdefault(meaning(argument), function.name)
    assert {name: found for name, found in meanings.items() if len(found) > 1} == {}


@pytest.mark.parametrize(("function", "argument"), ARGUMENTS)
def test_argument_agrees_with_its_limits_and_choices(function, argument):
    if argument.kind in ("number", "numbers"):
        assert argument.unit == LIMITS[argument.name].unit
    elif argument.kind == "count":
        assert LIMITS[argument.name].whole
    elif argument.kind == "choice":
        assert list(argument.choices) == [text_of(choice) for choice in CHOICES[argument.name]]
    else:
        assert argument.name not in CHOICES
        assert argument.name not in LIMITS


@pytest.mark.parametrize(
    ("function", "argument"), [one for one in ARGUMENTS if one.values[1].default not in (None, "")]
)
def test_a_default_is_an_accepted_value(function, argument):
    if argument.kind == "choice":
        assert text_of(argument.default) in argument.choices
    elif argument.name in LIMITS:
        within_limits(**{argument.name: argument.default})
    else:
        assert argument.name in ("insulation",)
        insulation_rating(argument.default)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_optional_arguments_come_last(name):
    required = [argument.required for argument in FUNCTIONS[name].arguments]
    assert required == sorted(required, reverse=True)


# The numbers behind 1 January 2000 and 31 December 2099, which every spreadsheet counts alike.
DATES = (36526, 73050)
# A fault current and the power of a source reach values that a date could have.
AS_LARGE_AS_A_DATE = {"fault_amps", "source_kva"}


@pytest.mark.parametrize("name", sorted(set(LIMITS) - AS_LARGE_AS_A_DATE))
def test_a_date_in_the_wrong_cell_is_above_every_limit(name):
    assert LIMITS[name].high < DATES[0]
