"""Functions that the fill trusts to the engine, computed by LibreOffice too.

LibreOffice is another program by other people, so that the two agree is worth something; that
both are Excel is not shown by it. The values in test_parity.py are published ones.
"""

import itertools

import pytest
import xlsxwriter

from tests.hosts import calc_office
from xlfuncs import second_opinion
from xlfuncs.hosts.workbook import deviations, fill

NUMBERS = (0.1, 0.25, 0.7, 1, 1.5, 2, 3.7, 12)
ABOVE_ONE = (1.01, 1.5, 2, 3.7, 12)
# Excel and LibreOffice count alike from 1 March 1900 on.
DATES = (45000, 45291, 45351, 45352, 44985, 43890, 36526)


def of_one(name, arguments):
    return [f"{name}({argument})" for argument in arguments]


def of_dates(name, *more):
    return [
        f"{name}({first},{last}{''.join(f',{argument}' for argument in more)})"
        for first, last in itertools.pairwise(DATES)
    ]


OF_A_NUMBER = (
    "ACOT", "ASINH", "COSH", "COT", "COTH", "CSC", "CSCH", "ERF", "ERF.PRECISE", "ERFC",
    "ERFC.PRECISE", "GAUSS", "PHI", "SEC", "SECH", "SINH", "SQRTPI", "TANH",
)  # fmt: skip

CALLS = {
    **{name: of_one(name, NUMBERS) for name in OF_A_NUMBER},
    "NORM.S.INV": of_one("NORM.S.INV", (0.01, 0.25, 0.5, 0.7, 0.999)),
    "ACOSH": of_one("ACOSH", ABOVE_ONE),
    "ACOTH": of_one("ACOTH", ABOVE_ONE),
    "ATANH": of_one("ATANH", (-0.9, 0, 0.25, 0.7)),
    "ADDRESS": [
        "ADDRESS(5,2)", "ADDRESS(5,28,4)", "ADDRESS(1000,3,2)", "ADDRESS(7,16384,3)",
    ],
    "BASE": ["BASE(7,2)", "BASE(255,16)", "BASE(255,16,6)", "BASE(100,36)"],
    "CEILING.PRECISE": ["CEILING.PRECISE(4.3)", "CEILING.PRECISE(4.3,0.5)"],
    "FLOOR.PRECISE": ["FLOOR.PRECISE(4.3)", "FLOOR.PRECISE(4.3,0.5)"],
    "ISO.CEILING": ["ISO.CEILING(4.3)", "ISO.CEILING(4.3,0.5)"],
    "COMBIN": ["COMBIN(8,2)", "COMBIN(8,8)", "COMBIN(50,6)", "COMBIN(8.9,2.9)"],
    "PERMUT": ["PERMUT(8,2)", "PERMUT(8,8)", "PERMUT(50,3)"],
    "FACTDOUBLE": of_one("FACTDOUBLE", (0, 1, 6, 7, 15)),
    "DATEDIF": [
        call for unit in ['"d"', '"m"', '"y"', '"ym"']
        for call in (f"DATEDIF(36526,45352,{unit})", f"DATEDIF(44985,45351,{unit})")
    ],
    "DAYS360": [*of_dates("DAYS360"), *of_dates("DAYS360", "TRUE")],
    "DELTA": ["DELTA(5,5)", "DELTA(5,4)", "DELTA(0)"],
    "GESTEP": ["GESTEP(5,4)", "GESTEP(-1)", "GESTEP(4,4)"],
    "HEX2DEC": ['HEX2DEC("A5")', 'HEX2DEC("FFFFFFFF5B")', 'HEX2DEC("3DA408B9")'],
    **{name: of_one(name, ('"3+4i"', '"1-2i"', '"-i"', '"0.5"', '"2j"')) for name in (
        "IMABS", "IMAGINARY", "IMARGUMENT", "IMREAL",
    )},
    "ISREF": ["ISREF(A1)", 'ISREF("A1")'],
    "ISOWEEKNUM": of_one("ISOWEEKNUM", DATES),
    # LibreOffice begins its weeks otherwise at the turn of some years.
    "WEEKNUM": [*of_one("WEEKNUM", (45000, 45200, 43890)), "WEEKNUM(45000,2)"],
    "NETWORKDAYS": [*of_dates("NETWORKDAYS"), "NETWORKDAYS(45000,45352,45100)"],
    "NETWORKDAYS.INTL": [
        *of_dates("NETWORKDAYS.INTL"),
        "NETWORKDAYS.INTL(45000,45352,7)", 'NETWORKDAYS.INTL(45000,45352,"0000011")',
    ],
    "WORKDAY": ["WORKDAY(45000,10)", "WORKDAY(45000,-200)", "WORKDAY(45291,1,45292)"],
    "WORKDAY.INTL": ["WORKDAY.INTL(45000,10)", "WORKDAY.INTL(45000,30,7)"],
    "YEARFRAC": [call for basis in range(5) for call in of_dates("YEARFRAC", basis)],
    "FV": ["FV(0.005,10,-200,-500,1)", "FV(0.01,12,-1000)", "FV(0,12,-100,-50)"],
    "PV": ["PV(0.08/12,240,500)", "PV(0.08/12,240,500,1000,1)"],
    "PMT": ["PMT(0.08/12,10,10000)", "PMT(0.08/12,10,10000,0,1)", "PMT(0,10,10000)"],
    "NPER": ["NPER(0.01,-100,-1000,10000,1)", "NPER(0.01,-100,-1000,10000)"],
    "RATE": ["RATE(48,-200,8000)", "RATE(12,-100,1000,50,1)"],
    "IPMT": ["IPMT(0.1/12,1,36,8000)", "IPMT(0.1,3,3,8000)"],
    "PPMT": ["PPMT(0.1/12,1,24,2000)", "PPMT(0.08,10,10,200000)"],
    "ISPMT": ["ISPMT(0.1/12,1,36,8000000)"],
    "SLN": ["SLN(30000,7500,10)"],
    "NOMINAL": ["NOMINAL(0.053543,4)"],
    "PDURATION": ["PDURATION(0.025,2000,2200)"],
    "RRI": ["RRI(96,10000,11000)"],
    "NORM.DIST": ["NORM.DIST(42,40,1.5,TRUE)", "NORM.DIST(42,40,1.5,FALSE)"],
    "NORM.INV": ["NORM.INV(0.908789,40,1.5)", "NORM.INV(0.1,0,2)"],
    "NORM.S.DIST": ["NORM.S.DIST(1.333333,TRUE)", "NORM.S.DIST(1.333333,FALSE)"],
    "STANDARDIZE": ["STANDARDIZE(42,40,1.5)"],
    "PI": ["PI()"],
    "TRUE": ["TRUE()"],
    "FALSE": ["FALSE()"],
    "NA": ["NA()"],
    "TYPE": ["TYPE(1)", 'TYPE("a")'],
    "UNICHAR": of_one("UNICHAR", (66, 937, 8486)),
    "UNICODE": ['UNICODE("B")', 'UNICODE("Ωm")'],
    "INDIRECT": ['INDIRECT("A1")'],
    "HYPERLINK": ['HYPERLINK("#A1","here")'],
}  # fmt: skip

# Other values every time, or nothing that LibreOffice has.
ELSEWHERE = {"NOW", "TODAY", "RAND", "RANDARRAY", "RANDBETWEEN", "SEQUENCE", "ERROR.TYPE"}


def test_every_function_that_is_trusted_is_compared():
    assert CALLS.keys() | ELSEWHERE == deviations.SINGLE_VALUES_ONLY
    assert not CALLS.keys() & ELSEWHERE


def test_libreoffice_agrees(tmp_path):
    calc_office.need_libreoffice()
    calls = [call for listed in CALLS.values() for call in listed]
    source, output = tmp_path / "calls.xlsx", tmp_path / "filled.xlsx"
    with xlsxwriter.Workbook(source, {"use_future_functions": True}) as book:
        sheet = book.add_worksheet()
        sheet.write("A1", 7)
        for row, call in enumerate(calls, 1):
            sheet.write_formula(row, 1, f"={call}", None, "")
    report = fill(source, output)
    assert report.left_alone == []
    assert report.computed == len(calls)
    opinion = second_opinion.ask_calc(report, output, 120).opinion
    by_cell = {f"B{row}": call for row, call in enumerate(calls, 2)}
    different = [(by_cell[cell], *values) for _, cell, *values in opinion.differences]
    assert different == []
    assert [by_cell[cell] for _, cell, _ in opinion.unanswered] == []
    assert opinion.compared == len(calls)


@pytest.mark.parametrize("name", ["IMSUM", "GAMMA", "T.DIST", "CHISQ.INV", "VARA", "DEC2OCT"])
def test_what_came_out_otherwise_is_left_alone(name):
    """Seen to differ from LibreOffice and from what the documentation says of the function."""
    assert name not in deviations.COMPARED
