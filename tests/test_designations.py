"""Sizes, systems and choices as people write them. The spellings are the project's own list."""

import numpy as np
import pytest

from xlfuncs import InputError
from xlfuncs.designations import CHOICES, SIZES, choice, insulation_rating, system_voltages


@pytest.mark.parametrize(
    ("written", "size"),
    [
        (6, "6 AWG"),
        (6.0, "6 AWG"),
        ("6", "6 AWG"),
        ("#6", "6 AWG"),
        ("6 AWG", "6 AWG"),
        ("6awg", "6 AWG"),
        ("No. 6", "6 AWG"),
        ("1/0", "1/0 AWG"),
        ("#4/0", "4/0 AWG"),
        ("00", "2/0 AWG"),
        ("0000", "4/0 AWG"),
        (250, "250 kcmil"),
        ("250 kcmil", "250 kcmil"),
        ("250 MCM", "250 kcmil"),
        ("250MCM", "250 kcmil"),
        ("2000 kcmil", "2000 kcmil"),
    ],
)
def test_a_size_is_read_as_people_write_it(written, size):
    assert SIZES.names[SIZES.index("size", written)] == size


@pytest.mark.parametrize(
    "written",
    [
        7,
        0,
        "0",
        -6,
        6.5,
        "6.5",
        "6/0",
        "5/0",
        "250 AWG",
        "4/0 kcmil",
        "16 mm2",
        "6-6",
        "x",
        True,
        "٦",
    ],
)
def test_other_sizes_are_refused(written):
    with pytest.raises(InputError, match="size must be a conductor size"):
        SIZES.index("size", written)


def test_a_blank_size_is_refused_by_name():
    with pytest.raises(InputError, match="size is blank"):
        SIZES.index("size", "")


def test_only_the_refused_elements_are_masked():
    with pytest.raises(InputError) as refusal:
        SIZES.index("size", ["6", "7", "4"])
    assert refusal.value.mask.tolist() == [False, True, False]


def test_the_sizes_stand_in_order_of_area():
    assert np.all(np.diff(SIZES.area) > 0)


@pytest.mark.parametrize(
    ("written", "line", "ground"),
    [
        ("480Y/277", 480, 277),
        ("480Y/277V", 480, 277),
        ("277/480", 480, 277),
        ("208Y/120", 208, 120),
        ("120/208Y", 208, 120),
        ("600Y/347", 600, 347),
        ("120/240", 240, 120),
        ("120/240V", 240, 120),
        ("480 delta", 480, 480),
        ("480Δ", 480, 480),
        ("240 D", 240, 240),
    ],
)
def test_a_system_is_read(written, line, ground):
    assert [float(v) for v in system_voltages(written)] == [line, ground]


@pytest.mark.parametrize("written", ["", "480", 480, "480Y/120", "208/100", "delta", "0 delta"])
def test_other_systems_are_refused(written):
    with pytest.raises(InputError, match="system must be written like"):
        system_voltages(written)


@pytest.mark.parametrize(
    ("written", "rating"),
    [("THHN", 90), ("thwn-2", 90), ("XHHW", 75), ("THW", 75), ("TW", 60), (75, 75), ("90 C", 90)],
)
def test_an_insulation_has_its_rating(written, rating):
    assert float(insulation_rating(written)) == rating


def test_unknown_insulation_is_refused():
    with pytest.raises(InputError, match="insulation must be a type"):
        insulation_rating(["THHN", "ABC"])


@pytest.mark.parametrize(
    ("name", "written", "value"),
    [
        ("material", "Cu", "copper"),
        ("material", "ALUMINIUM", "aluminum"),
        ("phases", "3-phase", 3),
        ("phases", 1.0, 1),
        ("secondary_protected", "yes", True),
        ("secondary_protected", 0, False),
        ("edition", "2020", 2020),
        ("terminal", 60, 60),
    ],
)
def test_a_choice_is_read(name, written, value):
    assert choice(name, written) == value
    assert choice(name, [written, written]).tolist() == [value, value]


def test_a_blank_terminal_leaves_it_to_the_code():
    assert np.isnan(choice("terminal", None))
    assert np.isnan(choice("terminal", ["", 60])).tolist() == [True, False]


@pytest.mark.parametrize("name", CHOICES)
def test_a_wrong_choice_is_refused_by_name(name):
    for wrong in ("something else", 17, ["something else"]):
        with pytest.raises(InputError, match=f"{name} must be "):
            choice(name, wrong)
    with pytest.raises(InputError, match=f"{name} must be "):
        choice(name, np.array(["", "x"]))
