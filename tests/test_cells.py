"""What a cell may hold, and what becomes of it. The expectations are the project's own rules."""

import datetime

import numpy as np
import pytest

import xlfuncs
from xlfuncs.cells import ERRORS

CURRENT = "XF_FULL_LOAD_CURRENT"


@pytest.mark.parametrize("cells", [(75, 480), (75.0, 480.0, 3), ("75", "480"), (75, 480, None)])
def test_numbers_and_number_texts_are_read(cells):
    assert xlfuncs.call(CURRENT, *cells) == pytest.approx(90.211, abs=0.001)


@pytest.mark.parametrize(
    ("cells", "same"),
    [
        (("1.5 MVA", 480), (1500, 480)),
        (("75 kVA", "0.48 kV"), (75, 480)),
        (("1,500", "480 V"), (1500, 480)),
        (("75KVA", "480Vac"), (75, 480)),
    ],
)
def test_units_are_read(cells, same):
    assert xlfuncs.call(CURRENT, *cells) == pytest.approx(xlfuncs.call(CURRENT, *same), rel=1e-12)


@pytest.mark.parametrize(
    ("cells", "message"),
    [
        (("seventy", 480), "Check: kva is not a number"),
        ((75, "480 A"), "Check: volts is in A, not in V"),
        (("75 kW", 480), "Check: kva is in kW, not in kVA"),
        ((75, "30 parsnips"), "Check: volts has no known unit in 'parsnips'"),
        (
            (75, "480Y/277"),
            "Check: volts must be one voltage, such as 480, not a system such as 480Y/277",
        ),
        ((0, 480), "Check: kva must be above 0 kVA, up to 35000 kVA"),
        ((True, 480), "Check: kva must be a number, not TRUE or FALSE"),
        ((75, 480, 2), "Check: phases must be 1 or 3"),
        ((float("nan"), 480), "Check: kva is not a number"),
        ((float("inf"), 480), "Check: kva is not a number"),
        ((10**400, 480), "Check: kva is not a number"),
        ((75, None), "Check: volts is blank"),
        ((None, 480), "Check: kva is blank"),
        ((75, "  "), "Check: volts is blank"),
        ((75, 480, 3, 1), "Check: XF_FULL_LOAD_CURRENT takes 3 arguments at most"),
    ],
)
def test_a_refusal_names_the_argument(cells, message):
    assert xlfuncs.call(CURRENT, *cells) == message


def test_the_first_argument_that_fails_is_named():
    assert xlfuncs.call(CURRENT, -1, -1, 7).startswith("Check: kva")
    assert xlfuncs.call(CURRENT, 75, -1, 7).startswith("Check: volts")


def test_all_required_blank_is_blank():
    assert xlfuncs.call(CURRENT) == ""
    assert xlfuncs.call(CURRENT, None, "") == ""
    assert xlfuncs.call(CURRENT, None, None, 1) == ""


@pytest.mark.parametrize("error", sorted(ERRORS))
def test_an_error_comes_back_as_that_error(error):
    assert xlfuncs.call(CURRENT, error, 480) == error
    assert xlfuncs.call(CURRENT, None, error) == error
    assert xlfuncs.call(CURRENT, "Check: kva is blank", error) == error


def test_a_message_from_upstream_passes_unchanged():
    upstream = "Check: amps must be above 0 A, up to 35000 A"
    assert xlfuncs.call(CURRENT, upstream, 480) == upstream
    assert xlfuncs.call(CURRENT, -1, upstream) == upstream
    assert xlfuncs.call(CURRENT, None, upstream) == upstream


def test_a_date_is_explained():
    got = xlfuncs.call(CURRENT, datetime.datetime(2026, 1, 2), 480)
    assert got.startswith("Check: kva is a date: the spreadsheet may have read a fraction such as")
    assert len(got) <= 255


def test_a_range_answers_every_cell_as_if_it_stood_alone():
    column = [75, "1.5 MVA", "x", None, -1, "#N/A", "Check: up", True, 480.0]
    volts = [480, 480, 480, None, 480, 480, 480, 480, "x"]
    rows = xlfuncs.call(CURRENT, [[c] for c in column], [[v] for v in volts])
    assert rows == [[xlfuncs.call(CURRENT, c, v)] for c, v in zip(column, volts, strict=True)]


def test_ranges_broadcast():
    rows = xlfuncs.call(CURRENT, [[15], [30]], [[208, 480, 240]])
    assert [len(row) for row in rows] == [3, 3]
    assert rows[1][2] == xlfuncs.call(CURRENT, 30, 240)
    assert xlfuncs.call(CURRENT, [15, 30], 208) == [
        [xlfuncs.call(CURRENT, 15, 208), xlfuncs.call(CURRENT, 30, 208)]
    ]


def test_ranges_that_do_not_fit_are_named():
    got = xlfuncs.call(CURRENT, [[15], [30]], [[208], [480], [240]])
    assert got == "Check: the ranges differ in size (2 x 1, 3 x 1)"
    assert xlfuncs.call(CURRENT, [], 208) == "Check: the range is empty"


def test_a_single_cell_range_gives_a_single_value():
    assert xlfuncs.call(CURRENT, [[75]], [[480]]) == xlfuncs.call(CURRENT, 75, 480)


def test_results_are_plain_values():
    for got in (
        xlfuncs.call(CURRENT, 75, 480),
        xlfuncs.call("XF_STANDARD_KVA", np.float64(62)),
        xlfuncs.call(CURRENT, np.array([[15.0], [30.0]]), 208)[0][0],
    ):
        assert type(got) is float


def test_an_unknown_function_is_an_error_of_the_caller():
    with pytest.raises(LookupError, match="XF_NOPE"):
        xlfuncs.call("XF_NOPE", 1)


def test_a_table_result_can_not_be_spoiled_by_its_reader():
    first = xlfuncs.call("XF_STEPS", CURRENT, 75, 480)
    first[0][0] = "spoiled"
    assert xlfuncs.call("XF_STEPS", CURRENT, 75, 480)[0][0] == "Full-load current"
