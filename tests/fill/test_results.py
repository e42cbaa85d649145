"""Results in the cells. Expected values are arithmetic by hand unless a check says otherwise."""

from __future__ import annotations

import math
import re

import pytest

from xlfuncs.hosts.workbook import engine


def test_functions_and_what_depends_on_them(run, plain):
    filled = run(
        plain(
            {
                "A1": 4,
                "B1": "=XF_TWICE(A1,1)",
                "C1": "=B1+1",
                "D1": '=IF(C1>9,"large","small")',
                "A2": "=SUM(B:B)",
            }
        )
    )
    assert filled.values("A1:D2") == [[4, 9, 10, "large"], [9, None, None, None]]
    assert filled.formula("B1") == "=XF_TWICE(A1,1)"
    assert (filled.report.computed, filled.report.kept, filled.report.status) == (4, 0, 0)


def test_omitted_and_blank_arguments_reach_the_function_as_none(run, plain):
    filled = run(
        plain(
            {
                "A1": "=XF_TWICE(1,)",
                "A2": "=XF_TWICE(,5)",
                "A3": "=XF_TWICE(1,Z99)",
                "A4": "=XF_TWICE(1,0)",
                "A5": '=XF_TWICE(1, ,"ignored")',
            }
        ),
        functions={"XF_TWICE": lambda *values: repr(values)},
    )
    assert filled.values("A1:A5") == [
        ["(1.0, None)"],
        ["(None, 5.0)"],
        ["(1.0, None)"],
        ["(1.0, 0.0)"],
        ["(1.0, None, 'ignored')"],
    ]


@pytest.mark.parametrize("prefix", ["_xll.", "_xludf.", "[1]!", "'My Book.xlam'!", "Book.xlam!"])
def test_prefixes_of_an_add_in_are_understood(run, plain, prefix):
    assert run(plain({"A1": f"={prefix}XF_TWICE(3,0)+1"})).value("A1") == 7


def test_errors_go_in_as_text_and_come_out_as_errors(run, plain):
    filled = run(
        plain({"A1": "=1/0", "A2": "=XF_TWICE(A1)", "A3": '=XF_ECHO("#N/A")', "A4": "=ISNA(A3)"})
    )
    assert filled.values("A2:A4") == [["#DIV/0!"], ["#N/A"], [True]]
    assert 't="e"' in filled.xml()
    assert ("Sheet", "A3", "#N/A") in filled.report.errors


def test_messages_are_reported(run, plain):
    filled = run(plain({"A1": '=XF_TWICE("ten")'}))
    assert filled.report.messages == [("Sheet", "A1", "Check: 'ten' is not a number.")]
    assert filled.report.status == 1


def test_kinds_of_values(run, plain):
    filled = run(
        plain(
            {
                "A1": "=XF_ECHO(TRUE)",
                "A2": '=XF_ECHO("=1+1")',
                "A3": '=XF_ECHO("a<b & ""c""")',
                "A4": "=XF_ECHO(Z1)",
                "A5": "=XF_ECHO(0.1)",
                "A6": "=XF_ECHO(1E+300)",
            }
        )
    )
    assert filled.values("A1:A6") == [[True], ["=1+1"], ['a<b & "c"'], [None], [0.1], [1e300]]
    assert '<c r="A2" t="str"><f>XF_ECHO("=1+1")</f><v>=1+1</v></c>' in filled.xml()


def test_characters_that_xml_cannot_hold_are_escaped(run, plain):
    # ECMA-376 part 1, 22.9.2.19: _xHHHH_ stands for such a character, _x005F_ for an underscore
    # that would be read as the beginning of one.
    filled = run(plain({"A1": '=XF_ECHO("x")'}), functions={"XF_ECHO": lambda _: "a\x01b\r_x0041_"})
    assert "<v>a_x0001_b_x000D__x005F_x0041_</v>" in filled.xml()


def test_names(run, write):
    with write() as book:
        sheet = book.add_worksheet("Data")
        other = book.add_worksheet("It's")
        sheet.write_column("A1", [1, 2, 3])
        book.define_name("Inputs", "=Data!$A$1:$A$3")
        book.define_name("Factor", "=2.5")
        book.define_name("Doubled", "=SUM(Data!$A$1:$A$3)*2")
        book.define_name("Data!Local", "=7")
        book.define_name("Local", "=9")
        sheet.write_formula("C1", "=XF_TOTAL(Inputs)*Factor", None, 0)
        sheet.write_formula("C2", "=XF_TWICE(Doubled,Local)", None, 0)
        other.write_formula("A1", "=XF_TWICE(Local,0)+Data!A2", None, 0)
    filled = run(book.path)
    # 6 * 2.5; 2 * 12 + 7; 2 * 9 + 2
    assert filled.values("C1:C2") == [[15], [31]]
    assert filled.value("A1", "It's") == 20


def make_table(book, totals=False):
    sheet = book.add_worksheet("Jobs list")
    sheet.add_table(
        "B3:E6",
        {
            "name": "Jobs",
            "total_row": totals,
            "columns": [{"header": h} for h in ("kVA", "a [b]#1", "Fed 'by'", "Result")],
        },
    )
    last = 5 if totals else 6
    for row in range(4, last + 1):
        sheet.write_row(row - 1, 1, [row * 10, row * 100, row])
    return sheet


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("=XF_TWICE(Jobs[[#This Row],[kVA]],0)", 100),
        ("=XF_TWICE(Jobs[@kVA],0)", 100),
        ("=XF_TWICE(Jobs[@[a '[b']'#1]],0)", 1000),
        ("=XF_TWICE(Jobs[[#This Row],[Fed ''by'']],0)", 10),
        ("=XF_TOTAL(Jobs[kVA])", 150),
        ("=XF_TOTAL(Jobs[[kVA]:[a '[b']'#1]])", 1650),
        ("=XF_TOTAL(Jobs[@[kVA]:[a '[b']'#1]])", 550),
        ('=XF_ECHO(Jobs[[#Headers],[kVA]])&"!"', "kVA!"),
        ("=ROWS(Jobs[[#All],[kVA]])+XF_TWICE(0,0)", 4),
        ("=ROWS(Jobs[])+XF_TWICE(0,0)", 3),
        ("=XF_TOTAL(Jobs[[#Data],[kVA]])", 150),
        ("=XF_TOTAL(Jobs[a '[b']'#1])", 1500),
        ("=XF_TOTAL(Jobs[ [#Data] , [kVA] ])", 150),
    ],
)
def test_table_references(run, write, formula, expected):
    with write() as book:
        sheet = make_table(book)
        sheet.write_formula("G5", formula, None, 0)
    # XlsxWriter turns @ into [#This Row] in table columns only, so both forms reach the file.
    assert run(book.path).value("G5") == expected


def test_table_totals_and_rows_outside(run, write):
    with write() as book:
        sheet = make_table(book, totals=True)
        sheet.write("B6", 90)
        sheet.write_formula("G5", "=XF_TWICE(Jobs[[#Totals],[kVA]],0)", None, 0)
        sheet.write_formula("G9", "=XF_TWICE(Jobs[[#This Row],[kVA]],0)", None, 12)
    filled = run(book.path)
    assert filled.value("G5") == 180
    assert filled.value("G9") == 12
    assert "outside of the table" in filled.left()["G9"]


def test_shared_formulas(run, plain, rewrite):
    path = plain({"A1": 1, "A2": 2, "A3": 3, "B1": "=0", "B2": "=0", "C3": "=0"})

    def shared(xml):
        master = rb'<f t="shared" ref="B1:C3" si="0">XF_TWICE(A1,$A$1)</f></c>'
        xml = re.sub(rb'(?<=<c r="B1">).*?</c>', master, xml)
        return re.sub(rb'(?<=<c r="(B2|C3)">).*?</c>', rb'<f t="shared" si="0"/></c>', xml)

    filled = run(rewrite(path, "xl/worksheets/sheet1.xml", shared))
    # B1 = 2*A1+A1, B2 = 2*A2+A1; C3 is a copy one to the right: 2*B3+A1 with B3 blank.
    assert filled.values("B1:C3") == [[3, None], [5, None], [None, 1]]
    assert '<f t="shared" si="0"/>' in filled.xml()


def test_array_formulas_keep_their_range(run, write):
    with write() as book:
        sheet = book.add_worksheet()
        sheet.write_column("A1", [1, 2, 3])
        sheet.write_array_formula("C1:C3", "{=A1:A3*XF_TWICE(1,0)}", None, 0)
        sheet.write_array_formula("E1:F4", "{=XF_TABLE(2)}", None, 0)
        sheet.write_array_formula("H1:H1", "{=SUM(A1:A3*A1:A3)+XF_TWICE(0,0)}", None, 0)
    filled = run(book.path)
    assert filled.values("C1:C3") == [[2], [4], [6]]
    # Beyond the result an array formula shows #N/A.
    assert filled.values("E1:F4") == [[1, 1], [2, 4], ["#N/A", "#N/A"], ["#N/A", "#N/A"]]
    assert filled.value("H1") == 14
    assert 'ref="E1:F4"' in filled.xml()


def test_dynamic_arrays_spill_and_grow(run, write):
    with write() as book:
        sheet = book.add_worksheet()
        sheet.write("A1", 4)
        sheet.write_dynamic_array_formula("C2", "=XF_TABLE(A1)", None, 0)
        sheet.write("D4", None, book.add_format({"bold": True}))
        sheet.write_formula("F1", "=SUM(C2:D9)", None, 1)
        sheet.write_formula("F2", "=COUNT(_xlfn.ANCHORARRAY(C2))", None, 1)
        sheet.write_formula("F3", "=D5*10", None, 1)
    filled = run(book.path)
    assert filled.values("C2:D5") == [[1, 1], [2, 4], [3, 9], [4, 16]]
    assert 'ref="C2:D5"' in filled.xml()
    assert filled.values("F1:F3") == [[40], [8], [160]]
    styled = filled.xml().partition('r="D4"')[2][:8]
    assert styled.startswith(' s="'), "a cell that receives a value keeps its format"


def test_dynamic_array_that_shrinks_clears_its_old_cells(run, write):
    with write() as book:
        sheet = book.add_worksheet()
        sheet.write_dynamic_array_formula("A1:B3", "=XF_TABLE(1)", None, 5)
    filled = run(book.path)
    assert filled.values("A1:B3") == [[1, 1], [None, None], [None, None]]


def test_blocked_spill_is_an_error_and_overwrites_nothing(run, write):
    with write() as book:
        sheet = book.add_worksheet()
        sheet.write_dynamic_array_formula("A1", "=XF_TABLE(3)", None, 0)
        sheet.write("B3", "in the way")
    filled = run(book.path)
    # Excel stores #SPILL! as #VALUE!, for versions that do not know it.
    assert filled.value("A1") == "#VALUE!"
    assert filled.value("B3") == "in the way"
    assert ("Sheet1", "A1", "#SPILL!") in filled.report.errors


def test_spill_into_merged_cells_is_left_alone(run, write):
    with write() as book:
        sheet = book.add_worksheet()
        sheet.write_dynamic_array_formula("A1", "=XF_TABLE(3)", None, 8)
        sheet.merge_range("A3:B3", "")
    filled = run(book.path)
    assert filled.value("A1") == 8
    assert "merged" in filled.left()["A1"]


def test_ordinary_formulas_do_not_spill(run, plain):
    # Excel shows a formula without the dynamic array mark as one with @: the value of the own row
    # of a range, and the first value of an array.
    filled = run(
        plain(
            {
                "A1": 1,
                "A2": 2,
                "A3": 3,
                "B2": "=A1:A3*10+XF_TWICE(0,0)",
                "C2": "=XF_TABLE(3)",
                "D2": "=ABS(A1:A3)+XF_TWICE(0,0)",
                "E2": "=SUM(A1:A3*2)+XF_TWICE(0,0)",
                "F2": "=SUMPRODUCT(A1:A3*2)+XF_TWICE(0,0)",
            }
        )
    )
    assert filled.values("B2:F2") == [[20, 1, 2, 4, 12]]
    assert filled.values("C3:D3") == [[None, None]]


def test_dates_count_from_the_workbooks_own_beginning(run, write):
    # 1 January 2024 is day 45292 of the 1900 system; the 1904 system counts 1462 days less.
    for options, expected in (({}, 45292), ({"date_1904": True}, 43830)):
        with write(**options) as book:
            sheet = book.add_worksheet()
            sheet.write_formula("A1", "=DATE(2024,1,1)+XF_TWICE(0,0)", None, 0)
            sheet.write_formula("A2", '=TEXT(A1,"yyyy-mm-dd")', None, "")
        filled = run(book.path)
        assert filled.values("A1:A2")[1] == ["2024-01-01"]
        assert f"<v>{expected}</v>" in filled.xml()


def test_comparison_and_text_use_15_digits(run, plain):
    # Excel: =0.1+0.2=0.3 is TRUE, =(0.1+0.2)&"" is 0.3, =0.1+0.2-0.3 is 0; the exact sum of the
    # binary fractions is 0.30000000000000004. From memory of Excel's behaviour.
    filled = run(
        plain(
            {
                "A1": "=XF_ECHO(0.1)+0.2",
                "A2": "=A1=0.3",
                "A3": '=A1&" A"',
                "A4": "=A1-0.3",
                "A5": '=CONCATENATE("x",A1)',
                "A6": "=A1>0.3",
                "A7": "=LEN(A1)",
            }
        )
    )
    assert filled.values("A2:A7") == [[True], ["0.3 A"], [0], ["x0.3"], [False], [3]]


def test_prefixed_xml(run, plain, rewrite):
    path = plain({"A1": 5, "B1": "=XF_TWICE(A1,0)", "C1": "=B1+1", "C5": "=XF_TABLE(2)"})

    def prefixed(xml):
        xml = re.sub(rb"<(/?)([a-zA-Z])", rb"<\1x:\2", xml)
        return xml.replace(b'xmlns="', b'xmlns:x="')

    filled = run(rewrite(path, "xl/worksheets/sheet1.xml", prefixed))
    assert filled.values("A1:C1") == [[5, 10, 11]]


def test_comments_and_cdata_in_the_sheet(run, plain, rewrite):
    path = plain({"A1": 5, "B1": "=XF_TWICE(A1,0)", "C1": '=B1&"<c>"', "D1": "stays"})

    def dressed(xml):
        xml = xml.replace(
            b"<sheetData>", b'<sheetData><!-- <row r="1"><c r="A1"><f>1</f></c></row> --><?x <c ?>'
        )
        return xml.replace(b'B1&amp;"&lt;c&gt;"', b'<![CDATA[B1&"<c>"]]>')

    filled = run(rewrite(path, "xl/worksheets/sheet1.xml", dressed))
    assert filled.values("A1:D1") == [[5, 10, "10<c>", "stays"]]
    assert "<!-- <row" in filled.xml()
    assert '<![CDATA[B1&"<c>"]]>' in filled.xml()


def test_equal_rows_of_different_formulas_are_told_apart(run, plain):
    # The own row number also stands as a constant and in other references.
    cells = {}
    for row in range(1, 13):
        cells[f"A{row}"] = row
        cells[f"B{row}"] = f"=XF_TWICE(A{row},{row})"
        cells[f"C{row}"] = "=A12+A1+XF_TWICE(0,0)"
    filled = run(plain(cells))
    assert filled.values("B1:B12") == [[3 * row] for row in range(1, 13)]
    assert filled.values("C1:C12") == [[13]] * 12


def test_running_total_down_a_column(run, plain):
    cells = {"A1": 1, "B1": "=XF_TWICE(A1,0)"}
    for row in range(2, 40):
        cells[f"A{row}"] = row
        cells[f"B{row}"] = f"=B{row - 1}+A{row}"
    filled = run(plain(cells))
    # 2 + (2 + ... + 39) = 2 + 779
    assert filled.value("B39") == 781


def test_escaped_characters_are_read(run, write, rewrite):
    with write() as book:
        sheet = book.add_worksheet()
        sheet.write_formula("A1", '="x"', None, "in_x000D_result")
        sheet.write("A2", "in\rtext")
        sheet.write("A3", "_x0041_")
        for row in (1, 2, 3):
            sheet.write_formula(f"B{row}", f"=LEN(A{row})+XF_TWICE(0,0)", None, 0)
        sheet.write_formula("C3", "=XF_ECHO(A3)", None, 0)
    filled = run(
        rewrite(
            book.path,
            "xl/worksheets/sheet1.xml",
            lambda xml: xml.replace(b"in_x005F_x000D_result", b"in_x000D_result"),
        )
    )
    assert filled.values("B1:B3") == [[9], [7], [7]]
    assert "<v>_x005F_x0041_</v>" in filled.xml()


def test_functions_that_names_of_the_workbook_hide(run, write):
    with write() as book:
        sheet = book.add_worksheet("Data")
        sheet.write("A1", 4)
        book.define_name("Hidden", "=XF_TWICE(Data!$A$1,0)")
        book.define_name("Moving", "=Data!A1*2")
        sheet.write_formula("C1", "=Hidden+1", None, 999)
        sheet.write_formula("C2", "=Moving", None, 999)
    filled = run(book.path)
    assert filled.values("C1:C2") == [[9], [999]]
    assert "relative" in filled.left()["C2"]


def test_names_that_multiply_each_other_end(run, write):
    with write() as book:
        sheet = book.add_worksheet("Data")
        book.define_name("Grow0", "=1")
        for number in range(1, 25):
            book.define_name(f"Grow{number}_", f"=Grow{number - 1}_+Grow{number - 1}_")
        book.define_name("Grow0_", "=1")
        sheet.write_formula("A1", "=Grow24_+XF_TWICE(0,0)", None, 999)
        book.define_name("Round_", "=Round_+1")
        sheet.write_formula("A2", "=Round_+XF_TWICE(0,0)", None, 999)
    filled = run(book.path)
    assert filled.values("A1:A2") == [[999], [999]]
    assert set(filled.left()) == {"A1", "A2"}


def test_very_long_formulas_do_not_end_the_run(run, plain):
    filled = run(plain({"A1": "=XF_TWICE(1,0)", "A2": "=" + "+".join(["A1"] * 2500)}))
    assert filled.value("A1") == 2
    assert filled.value("A2") == 5000 or "too long" in filled.left()["A2"]


@pytest.mark.parametrize("order", ["before", "after"])
def test_indirect_references_in_computed_cells(run, plain, order):
    target, reader = ("A1", "C9") if order == "before" else ("C9", "A1")
    filled = run(plain({target: "=XF_TWICE(4,0)", reader: f'=INDIRECT("{target}")+1'}))
    assert filled.value(reader) == 9


def test_rows_of_a_sheet_are_inserted_for_a_spill(run, plain, rewrite):
    path = plain({"B2": "=XF_TABLE(3)", "A6": "below"})
    metadata = (
        b'<metadata xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
        b'<metadataTypes count="1"><metadataType name="XLDAPR"/></metadataTypes>'
        b'<cellMetadata count="1"><bk><rc t="1" v="0"/></bk></cellMetadata></metadata>'
    )
    relation = (
        b'<Relationship Id="rM" Target="/xl/theme/theme1.xml" Type="http://schemas.openxmlformats.'
        b'org/officeDocument/2006/relationships/sheetMetadata"/></Relationships>'
    )
    # The theme's part stands in for the metadata, so that no part has to be added.
    rewrite(path, "xl/theme/theme1.xml", lambda _: metadata)
    rewrite(
        path,
        "xl/_rels/workbook.xml.rels",
        lambda xml: xml.replace(b"</Relationships>", relation),
    )
    rewrite(
        path,
        "xl/worksheets/sheet1.xml",
        lambda xml: re.sub(rb'<c r="B2"><f>', b'<c r="B2" cm="1"><f t="array" ref="B2">', xml),
    )
    filled = run(path)
    assert filled.values("A2:C6") == [
        [None, 1, 1],
        [None, 2, 4],
        [None, 3, 9],
        [None, None, None],
        ["below", None, None],
    ]
    rows = [int(row) for row in re.findall(r'<row r="(\d+)"', filled.xml())]
    assert rows == sorted(rows)


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        # Documentation of each function in Excel, and arithmetic by hand.
        ("=MOD(5.5,0.1)", 0),
        ("=MOD(-7,3)", 2),
        ("=MOD(7,0)", "#DIV/0!"),
        ("=INT(-2.5)", -3),
        ("=TRUNC(-2.7)", -2),
        ("=CEILING(7.1,0.5)", 7.5),
        ("=ROUNDUP(3.0000000000000004,0)", 3),
        ("=SUMXMY2(A1:A3,B1:B3)", 1134),
        ("=LOOKUP(2,1/(A1:A3=2),B1:B3)", 20),
        ("=INDEX((A1:A3>1)*B1:B3,3)", 30),
        ("=SUMPRODUCT((A1:A3>1)*B1:B3)", 50),
        ("=LEFT(C1:C3,1)", None),
        ('=IF(C1:C3="","blank","filled")', "blank"),
        ("=XF_TWICE(1,@C1:C3)", 102),
        ("=XF_TWICE(1,@C:C)", 102),
        ("=@A5:A9", "#VALUE!"),
        ('=IF(A1:A3=2,"yes","no")', "yes"),
        ("=IFERROR(1/0,7)", 7),
        ("=ISERR(NA())", False),
        ('=VALUE("12.5%")', 0.125),
        ("=-2^2", 4),
        ('=TEXT(1234.5,"#,##0.00")&" A"', "1,234.50 A"),
    ],
)
def test_excels_own_functions(run, plain, formula, expected):
    cells = {"A1": 1, "A2": 2, "A3": 3, "B1": 10, "B2": 20, "B3": 30, "C1": "text"}
    filled = run(plain({**cells, "E2": formula}))
    assert filled.report.left_alone == []
    assert filled.value("E2") == expected


@pytest.mark.parametrize(
    "formula", ["=INT(0.3/0.1)", "=MOD(0.3,0.1)", "=FLOOR(147.2,0.1)", "=SKEW(A1:A3)"]
)
def test_what_noise_would_decide_is_left_alone(run, plain, formula):
    filled = run(plain({"A1": 1, "A2": 2, "A3": 4, "E2": formula, "E3": "=IFERROR(E2,0)"}))
    assert filled.values("E2:E3") == [[None], [None]]
    assert set(filled.left()) == {"E2", "E3"}


def test_blanks_inside_tags(run, write, rewrite):
    with write() as book:
        sheet = book.add_worksheet()
        sheet.write_formula("A1", "=XF_TWICE(1,0)", None, "old")
        sheet.write_formula("B1", "=A1+1", None, 5)
        sheet.write_dynamic_array_formula("D1", "=XF_TABLE(2)", None, 0)

    def spaced(xml):
        xml = re.sub(rb"</(f|c|v|row|sheetData)>", rb"</\1 \n>", xml)
        return xml.replace(b' t="str"', b'\n t = "str"').replace(b' cm="1"', b"\tcm = '1'")

    filled = run(rewrite(book.path, "xl/worksheets/sheet1.xml", spaced))
    assert filled.values("A1:E2") == [[2, 3, None, 1, 1], [None, None, None, 2, 4]]


@pytest.mark.parametrize(
    ("formula", "value"),
    [
        ('=ISNUMBER(SEARCH("THHN",A1))', True),
        ('=ISNUMBER(SEARCH("TW",A1))', False),
        ("=ISNUMBER(MATCH(5,A1:A3,0))", True),
        ("=ISNUMBER(XF_TWICE(A2,0))", True),
        ("=ISTEXT(XF_ECHO(A1))", True),
        ("=ISNONTEXT(XF_TWICE(A2,0))", True),
        ("=ISNONTEXT(A1&A2)", False),
        ("=ISLOGICAL(NOT(A2=5))", True),
        ("=ISLOGICAL(1*(A2=5))", False),
        ("=ISNUMBER(NOT(A2=5))", False),
        ("=ISTEXT(1/0&A1)", False),
    ],
)
def test_the_kind_of_a_computed_value_is_told(run, plain, formula, value):
    """The idiom of searching a text; kinds as the spreadsheet's documentation defines them."""
    filled = run(plain({"A1": "copper THHN", "A2": 5, "A3": True, "C1": formula}))
    assert filled.value("C1") is value
    assert filled.report.left_alone == []


def test_the_kind_of_a_value_that_was_not_computed_is_not_guessed(run, plain):
    filled = run(plain({"A1": 5, "C1": "=ISNUMBER(NOSUCHFUNCTION(A1))"}))
    assert filled.value("C1") is None
    assert [place[1] for place in filled.report.left_alone] == ["C1"]


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_what_is_no_finite_number_is_no_result(number):
    """A sheet can't hold it: a workbook with it would be taken for damaged."""
    assert isinstance(engine.result(number), engine.Failure)
    assert engine.result(1.5) == 1.5
