"""What Excel stored stays, unless it depends on the functions or was never there.

Stored values are deliberately wrong (999) so that a value which was computed again shows.
"""

from __future__ import annotations

import random

import pytest

STORED = 999


def stored_sheet(write, formulas, cells=(), **names):
    with write() as book:
        sheet = book.add_worksheet("Data")
        second = book.add_worksheet("Second")
        second.write_formula("A1", "=Data!A1", None, STORED)
        for address, value in dict(cells).items():
            sheet.write(address, value)
        for name, text in names.items():
            book.define_name(name, text)
        for address, formula in formulas.items():
            sheet.write_formula(address, formula, None, STORED)
    return book.path


def test_independent_formulas_keep_their_value_and_feed_the_others(run, write):
    path = stored_sheet(
        write,
        {"B1": "=A1+1", "C1": "=XF_TWICE(B1,0)", "D1": "=C1+B1", "E1": "=B1*2"},
        {"A1": 1},
    )
    filled = run(path)
    assert filled.values("B1:E1") == [[STORED, 1998, 2997, STORED]]
    assert (filled.report.computed, filled.report.kept) == (2, 3)
    assert filled.value("A1", "Second") == STORED


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("=A1", 2),
        ("=SUM(A1:A3)", 2),
        ("=SUM(A:B)", 2),
        ("=SUM(1:1)", None),
        ("=SUM(Result)", 2),
        ("=Deep+1", 3),
        ("=IF(FALSE,A1,5)", 5),
        ("=SUM(Data!$A$1:$C$1)", 2),
        ("=A2", STORED),
        ("=SUM(A2:A9)", STORED),
        ("=SUM(B:C)", STORED),
        ("=Elsewhere", STORED),
    ],
)
def test_dependence_is_found_through(run, write, formula, expected):
    path = stored_sheet(
        write,
        {"A1": "=XF_TWICE(1,0)", "H5": formula},
        Result="=Data!$A$1",
        Deep="=Data!$A$1*Factor",
        Factor="=1",
        Elsewhere="=Data!$B$7",
    )
    filled = run(path)
    if expected is None:
        expected = 2
    assert filled.value("H5") == expected


def test_dependence_through_tables_arrays_and_spills(run, write):
    with write() as book:
        sheet = book.add_worksheet("Data")
        sheet.add_table("A1:B4", {"name": "Jobs", "columns": [{"header": "In"}, {"header": "Out"}]})
        sheet.write_column("A2", [1, 2, 3])
        sheet.write_formula("B3", "=XF_TWICE(A3,0)", None, STORED)
        sheet.write_formula("D1", "=SUM(Jobs[Out])", None, STORED)
        sheet.write_formula("D2", "=SUM(Jobs[In])", None, STORED)
        sheet.write_array_formula("F1:F3", "{=A2:A4+XF_TWICE(0,0)}", None, STORED)
        sheet.write("F2", STORED)
        sheet.write_formula("D3", "=F2*10", None, STORED)
        sheet.write_dynamic_array_formula("H1:H3", "=XF_TABLE(3)", None, STORED)
        sheet.write_formula("D4", "=H2*10", None, STORED)
        sheet.write_formula("D5", "=SUM(_xlfn.ANCHORARRAY(H1))", None, STORED)
    filled = run(book.path)
    # XF_TABLE(3) is 1 1, 2 4, 3 9, which is 20 in all.
    assert filled.values("D1:D5") == [[4], [STORED], [20], [20], [20]]


def test_cells_without_a_stored_value_are_computed(run, write, rewrite):
    path = stored_sheet(write, {"A1": "=2+3", "B1": "=A1*2", "C1": "=7"})
    path = rewrite(
        path,
        "xl/worksheets/sheet1.xml",
        lambda xml: xml.replace(b"<f>2+3</f><v>999</v>", b"<f>2+3</f>"),
    )
    filled = run(path)
    assert filled.values("A1:C1") == [[5, 10, STORED]]
    assert filled.value("A1", "Second") == 5


def test_an_empty_text_is_a_stored_value(run, write, rewrite):
    # Excel marks the empty text of a formula with t="str"; without the mark nothing is stored.
    path = stored_sheet(write, {"A1": '=""', "B1": '=""', "C1": "=XF_TWICE(1,0)"})
    path = rewrite(
        path,
        "xl/worksheets/sheet1.xml",
        lambda xml: xml.replace(
            b'<c r="A1"><f>""</f><v>999</v>', b'<c r="A1" t="str"><f>""</f><v></v>'
        ).replace(b'<c r="B1"><f>""</f><v>999</v>', b'<c r="B1"><f>""</f><v></v>'),
    )
    # With a request to calculate and no calculation chain it would be nobody's result.
    rewrite(path, "xl/workbook.xml", lambda xml: xml.replace(b' fullCalcOnLoad="1"', b""))
    filled = run(path)
    assert (filled.report.computed, filled.report.kept) == (2, 2)


def test_recompute_all(run, write):
    path = stored_sheet(write, {"B1": "=A1+1"}, {"A1": 1})
    filled = run(path, recompute_all=True)
    assert filled.value("B1") == 2
    assert any("--all" in note for note in filled.report.notes)


def test_a_function_that_fails_leaves_its_cell_alone(run, write):
    path = stored_sheet(
        write,
        {
            "A1": "=XF_FAIL(1)",
            "A2": "=A1+1",
            "A3": "=IFERROR(XF_FAIL(2),0)",
            "A4": "=ISERROR(XF_FAIL(3))",
            "A5": "=XF_TWICE(1,0)",
            "A6": "=IFERROR(1/0+XF_TWICE(0,0),5)",
        },
    )
    filled = run(path)
    # A2 reads the value that A1 keeps.
    assert filled.values("A1:A6") == [[STORED], [1000], [STORED], [STORED], [2], [5]]
    assert set(filled.left()) == {"A1", "A3", "A4"}
    assert "broken on purpose" in filled.left()["A1"]
    assert filled.report.status == 1


def test_unknown_functions_are_named_and_what_needs_them_is_left_alone(run, plain):
    filled = run(plain({"A1": "=NOSUCH(1)", "A2": "=A1+1", "A3": "=IFERROR(A2,0)", "A4": "=1+1"}))
    assert filled.values("A1:A4") == [[None], [None], [None], [2]]
    assert "NOSUCH" in filled.left()["A1"]
    assert "holds no stored value" in filled.left()["A2"]
    assert set(filled.left()) == {"A1", "A2", "A3"}


@pytest.mark.parametrize("formula", ['=INDIRECT("A"&1)', "=OFFSET(A2,-1,0)", "=SUM(Moving)"])
def test_formulas_that_may_read_anything_are_reported(run, write, formula):
    path = stored_sheet(
        write, {"A1": "=XF_TWICE(1,0)", "C1": formula}, Moving="=OFFSET(Data!$A$2,-1,0)"
    )
    filled = run(path)
    assert filled.value("C1") == STORED
    assert "can't be known" in filled.left()["C1"]


def test_circular_references_are_left_alone(run, write):
    path = stored_sheet(write, {"A1": "=B1+XF_TWICE(1,0)", "B1": "=A1+1", "C1": "=XF_TWICE(2,0)"})
    filled = run(path)
    assert filled.values("A1:C1") == [[STORED, STORED, 4]]
    assert "circular" in filled.left()["A1"]


@pytest.mark.parametrize(
    "formula",
    [
        "=SUM((A1,A3))",
        "=SUM(A1:A3 A2:B2)",
        "=[1]Sheet1!A1",
        "=CEILING(A1,B1)",
        "=MODE(A1:A3)",
        "=SUMPRODUCT(LEN(A1:A3))",
        '=TEXT(A1,"# ?/?")',
        '=A1*1E20&"x"',
        "=SUM(Data:Second!A1)",
    ],
)
def test_what_the_engine_does_otherwise_is_left_alone(run, write, formula):
    path = stored_sheet(write, {"A1": "=XF_TWICE(1,0)", "D4": formula})
    filled = run(path)
    assert filled.value("D4") == STORED
    assert "D4" in filled.left() or formula.startswith("=[1]")


@pytest.mark.parametrize(
    ("code", "expected"),
    [
        # Excel's documentation of SUBTOTAL: 1 to 11 include rows hidden by hand, 101 to 111 do
        # not; rows that a filter hides are never included.
        ("9", 15),
        ("109", 11),
        ("2", 5),
        ("102", 4),
        ("1", 3),
    ],
)
def test_subtotal_over_rows_hidden_by_hand(run, write, code, expected):
    with write() as book:
        sheet = book.add_worksheet("Data")
        sheet.write_column("A1", [1, 2, 3, 4])
        sheet.write_formula("A5", "=XF_TWICE(2,1)", None, STORED)
        sheet.set_row(3, None, None, {"hidden": True})
        sheet.write_formula("A7", f"=SUBTOTAL({code},A1:A5)", None, STORED)
    assert run(book.path).value("A7") == expected


@pytest.mark.parametrize("code", ["9", "109"])
def test_subtotal_over_filtered_rows(run, write, code):
    with write() as book:
        sheet = book.add_worksheet("Data")
        sheet.write_column("A1", ["Load", 1, 2, 3, 4])
        sheet.write_formula("A6", "=XF_TWICE(2,1)", None, STORED)
        sheet.autofilter("A1:A6")
        sheet.filter_column("A", "x != 2")
        sheet.set_row(2, None, None, {"hidden": True})
        sheet.write_formula("A8", f"=SUBTOTAL({code},A2:A6)", None, STORED)
        sheet.write_formula("A9", "=AGGREGATE(9,4,A2:A6)", None, STORED)
        sheet.write_formula("A10", "=AGGREGATE(9,5,A2:A6)", None, STORED)
    filled = run(book.path)
    assert filled.value("A8") == 13
    assert filled.value("A9") == STORED
    assert set(filled.left()) >= {"A9"}


def test_totals_do_not_count_other_totals(run, write):
    path = stored_sheet(
        write,
        {
            "A1": "=XF_TWICE(1,0)",
            "A2": "=XF_TWICE(2,0)",
            "A3": "=SUBTOTAL(9,A1:A2)",
            "A4": "=SUBTOTAL(9,C1:C2)",
            "A5": "=SUBTOTAL(9,A1:A4)",
        },
    )
    filled = run(path)
    assert filled.values("A3:A5") == [[6], [STORED], [6]]


def test_recalculation_flag_is_mentioned(run, write):
    path = stored_sheet(write, {"A1": "=1+1", "A2": "=XF_TWICE(1,0)"})
    notes = " ".join(run(path).report.notes)
    assert "--share" in notes
    assert "CAUTION: 2 formula cells kept their stored values" in notes


def test_a_spilled_range_that_is_not_computed_again(run, write):
    with write() as book:
        sheet = book.add_worksheet()
        sheet.write_dynamic_array_formula("A1:A3", "=_xlfn.SEQUENCE(3)", None, 1)
        sheet.write("A2", 2)
        sheet.write("A3", 3)
        sheet.write_formula("C1", "=SUM(_xlfn.ANCHORARRAY(A1))+XF_TWICE(0,0)", None, STORED)
    filled = run(book.path)
    assert filled.value("C1") == 6
    assert filled.report.kept == 1


def test_what_may_read_a_missing_value_is_left_alone(run, plain):
    filled = run(plain({"A1": "=NOSUCH()", "B1": '=INDIRECT("A1")+XF_TWICE(1,0)', "C1": "=B1+1"}))
    assert filled.values("A1:C1") == [[None, None, None]]
    assert set(filled.left()) == {"A1", "B1", "C1"}


def test_other_tables_on_the_sheet_do_not_mix_up_rows(run, write):
    with write() as book:
        sheet = book.add_worksheet("Data")
        for row, name in ((0, "First"), (5, "Second")):
            sheet.add_table(
                row, 0, row + 3, 1, {"name": name, "columns": [{"header": "In"}, {"header": "Out"}]}
            )
            for line in range(1, 4):
                sheet.write(row + line, 0, row + line)
                formula = f"=XF_TWICE({name}[[#This Row],[In]],{row + line + 1})"
                sheet.write_formula(row + line, 1, formula, None, STORED)
        sheet.write_formula("D2", "=XF_TWICE(A2,2)", None, STORED)
        sheet.write_formula("D3", "=XF_TWICE(A3,3)", None, STORED)
    filled = run(book.path)
    # 2 * n + (n + 1) where n is the row's number less 1
    assert filled.values("B2:B4") == [[4], [7], [10]]
    assert filled.values("B7:B9") == [[19], [22], [25]]
    assert filled.values("D2:D3") == [[4], [7]]


def test_texts_that_excel_reads_as_numbers_are_not_called_errors(run, plain):
    filled = run(
        plain({"A1": "1,000", "A2": "words", "B1": "=A1*2", "B2": "=A2*100", "B3": '="1/2"+0'})
    )
    assert filled.values("B1:B3") == [[None], ["#VALUE!"], [None]]
    assert set(filled.left()) == {"B1", "B3"}


@pytest.mark.parametrize("seed", range(6))
def test_dependence_is_what_a_plain_search_finds(run, write, seed):
    """Random formulas; what reads what is written down while they are made."""
    rng = random.Random(seed)
    reads: dict[tuple[int, int], set[tuple[int, int]]] = {}
    texts: dict[tuple[int, int], str] = {}

    def name(row, column):
        return "$" * rng.randint(0, 1) + "ABCDEF"[column] + "$" * rng.randint(0, 1) + str(row + 1)

    for row in range(30):
        for column in range(6):
            if rng.random() < 0.35:
                continue
            cells, parts = set(), []
            for _ in range(rng.randint(1, 2)):
                # Upwards or to the left, so that no circle comes about.
                top = rng.randint(max(0, row - 4), row)
                bottom = rng.randint(top, row)
                right = column - 1 if bottom == row else 5
                if right < 0:
                    continue
                left = rng.randint(0, right)
                right = rng.randint(left, right)
                cells |= {(r, c) for r in range(top, bottom + 1) for c in range(left, right + 1)}
                parts.append(f"SUM({name(top, left)}:{name(bottom, right)})")
            reads[row, column] = cells
            texts[row, column] = "=" + "+".join(parts or ["1"])
    ours = {(0, 0), (rng.randint(8, 20), 0)}
    for place in ours:
        texts[place], reads[place] = "=XF_TWICE(0,0)", set()
    with write(f"seed{seed}.xlsx") as book:
        sheet = book.add_worksheet()
        for (row, column), text in texts.items():
            sheet.write_formula(row, column, text, None, STORED)
    affected = set(ours)
    while True:
        more = {place for place, cells in reads.items() if cells & affected} - affected
        if not more:
            break
        affected |= more
    report = run(book.path).report
    assert report.left_alone == []
    assert (report.computed, report.kept) == (len(affected), len(texts) - len(affected))
