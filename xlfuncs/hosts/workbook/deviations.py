"""Where the engine's answer may differ from Excel's, and what is done about it.

Seen with formualizer 0.13.0. A formula that is caught here and can't be rewritten safely keeps its
stored value and is reported. docs/fill.md lists them for users.
"""

from __future__ import annotations

import re


def _words(text: str) -> list[str]:
    return text.split()


# What a function does with a range or an array in each argument; the last letter repeats.
#   r  takes it whole
#   a  takes it whole, and computes an expression inside as an array even in an ordinary formula
#   p  passes it on as its result
#   l  one value; in an array formula the engine repeats the function as Excel does
#   s  one value: an ordinary formula intersects with its own row or column; in an array formula
#      Excel repeats the function for every element, which the engine does not
#   t  one value, converted to text: Excel writes 15 significant digits, the engine 17
#   T  takes it whole, converted to text
ARGUMENTS: dict[str, str] = {
    "IF": "lpp",
    "IFERROR": "l",
    "IFNA": "l",
    "CHOOSE": "sp",
    "LET": "p",
    "INDEX": "as",
    "OFFSET": "rs",
    "MATCH": "srs",
    "XMATCH": "srs",
    "VLOOKUP": "srs",
    "HLOOKUP": "srs",
    "LOOKUP": "sa",
    "XLOOKUP": "srrs",
    "SUMIF": "rsr",
    "AVERAGEIF": "rsr",
    "SUMIFS": "r" + "rs" * 126,
    "AVERAGEIFS": "r" + "rs" * 126,
    "MAXIFS": "r" + "rs" * 126,
    "MINIFS": "r" + "rs" * 126,
    "COUNTIFS": "rs" * 127,
    "SUMPRODUCT": "a",
    "FILTER": "aas",
    "SORT": "as",
    "SORTBY": "aas",
    "UNIQUE": "as",
    "TRANSPOSE": "a",
    "TAKE": "as",
    "DROP": "as",
    "RANK": "srs",
    "RANK.EQ": "srs",
    "RANK.AVG": "srs",
    "SUBTOTAL": "sr",
    "AGGREGATE": "ssr",
    "NPV": "sr",
    "LEFT": "ts",
    "RIGHT": "ts",
    "MID": "ts",
    "REPT": "ts",
    "LEN": "t",
    "UPPER": "t",
    "LOWER": "t",
    "PROPER": "t",
    "TRIM": "t",
    "CLEAN": "t",
    "EXACT": "t",
    "COMPLEX": "t",
    "FIND": "tts",
    "SEARCH": "tts",
    "SUBSTITUTE": "ttts",
    "REPLACE": "tsst",
    "CONCATENATE": "t",
    "CONCAT": "T",
    "TEXTJOIN": "tsT",
    "GCD": "s",
    "LCM": "s",
    **dict.fromkeys(
        _words(
            "ABS ROUND ROUNDUP ROUNDDOWN INT TRUNC MOD QUOTIENT MROUND CEILING CEILING.MATH FLOOR "
            "FLOOR.MATH EVEN ODD SQRT EXP LN LOG LOG10 POWER SIGN FACT SIN COS TAN ASIN ACOS ATAN "
            "ATAN2 RADIANS DEGREES DATE TIME YEAR MONTH DAY HOUR MINUTE SECOND WEEKDAY EDATE "
            "EOMONTH DAYS TEXT VALUE CHAR CODE N T NOT ISERROR ISERR ISNA ISNUMBER ISTEXT ISBLANK "
            "ISLOGICAL ISNONTEXT ISEVEN ISODD IFS SWITCH CONVERT"
        ),
        "s",
    ),
    **dict.fromkeys(
        _words(
            "COUNTIF LARGE SMALL PERCENTILE PERCENTILE.INC PERCENTILE.EXC QUARTILE QUARTILE.INC "
            "QUARTILE.EXC IRR"
        ),
        "rs",
    ),
    **dict.fromkeys(
        _words(
            "SUM AVERAGE AVERAGEA MIN MINA MAX MAXA COUNT COUNTA COUNTBLANK PRODUCT SUMSQ AND OR "
            "XOR MEDIAN STDEV STDEV.S STDEV.P STDEVP VAR VAR.S VAR.P VARP GEOMEAN HARMEAN AVEDEV "
            "DEVSQ ROWS COLUMNS ROW COLUMN CORREL SUMXMY2 SLOPE INTERCEPT RSQ"
        ),
        "r",
    ),
}

# Given single values only, with which they were compared with another program. What is in none of
# these lists was not compared, or came out otherwise, and is left alone.
SINGLE_VALUES_ONLY = frozenset(
    _words(
        "ACOSH ACOT ACOTH ADDRESS ASINH ATANH BASE CEILING.PRECISE COMBIN COSH COT COTH CSC "
        "CSCH DATEDIF DAYS360 DELTA ERF ERF.PRECISE ERFC ERFC.PRECISE ERROR.TYPE FACTDOUBLE "
        "FALSE FLOOR.PRECISE FV GAUSS GESTEP HEX2DEC HYPERLINK IMABS IMAGINARY IMARGUMENT "
        "IMREAL INDIRECT IPMT ISO.CEILING ISOWEEKNUM ISPMT ISREF NA NETWORKDAYS "
        "NETWORKDAYS.INTL NOMINAL NORM.DIST NORM.INV NORM.S.DIST NORM.S.INV NOW NPER PDURATION "
        "PERMUT PHI PI PMT PPMT PV RAND RANDARRAY RANDBETWEEN RATE RRI SEC SECH SEQUENCE SINH "
        "SLN SQRTPI STANDARDIZE TANH TODAY TRUE TYPE UNICHAR UNICODE WEEKNUM WORKDAY "
        "WORKDAY.INTL YEARFRAC"
    )
)

RETURN_ARRAYS = frozenset(
    _words(
        "FILTER SORT SORTBY UNIQUE TRANSPOSE SEQUENCE RANDARRAY TAKE DROP OFFSET INDIRECT INDEX "
        "XLOOKUP LET CHOOSE"
    )
)

COMPARED = SINGLE_VALUES_ONLY | ARGUMENTS.keys()

# Their arguments do not name all the cells that they read.
READ_ANYTHING = frozenset({"INDIRECT", "OFFSET"})

HIDDEN_ROWS_MATTER = frozenset({"SUBTOTAL", "AGGREGATE"})

LEFT_ALONE: dict[str, str] = {
    "MODE": "the engine may pick another of several most frequent values",
    "MODE.SNGL": "the engine may pick another of several most frequent values",
    "F.DIST": "the engine's result differs from Excel's",
    "SUMX2PY2": "the engine's result differs from Excel's",
    "CELL": "its result depends on the program that opens the workbook",
    "INFO": "its result depends on the program that opens the workbook",
    "FORMULATEXT": "the engine is given formulas in other words",
    "ISFORMULA": "the engine is given some formulas as their results",
    "SHEET": "the engine is given only the sheets that it needs",
    "SHEETS": "the engine is given only the sheets that it needs",
    "DATEVALUE": "which texts are dates depends on the computer's region",
    "TIMEVALUE": "which texts are times depends on the computer's region",
    "DOLLAR": "its result depends on the computer's region",
    "FIXED": "its result depends on the computer's region",
}

# With a significance of 0 or below, Excel and the engine round differently.
SIGNIFICANCE = frozenset(
    _words("CEILING CEILING.MATH CEILING.PRECISE ISO.CEILING FLOOR FLOOR.MATH FLOOR.PRECISE")
)

# They round what binary fractions leave of a whole number of steps (2.9999999999999996) to the step
# below or above; whether Excel does so too is not known.
NOISE_MATTERS = frozenset(_words("INT TRUNC QUOTIENT MROUND CEILING CEILING.MATH FLOOR FLOOR.MATH"))

# Formats in which TEXT was found to answer as Excel does.
_DATE_PART = r"(?:yyyy|yy|mmmm|mmm|mm|m|dddd|ddd|dd|d)"
TEXT_FORMAT = re.compile(
    rf"[$]?(?:[#]*0+|#,##0)(?:\.[0#]+)?%?|{_DATE_PART}(?:[-/., ]+{_DATE_PART})*"
)

# Texts in which Excel finds a number, money, fraction, date or time and the engine finds #VALUE!.
NUMBER_TO_EXCEL = re.compile(r"[-+(]?\s*[$€£]?\s*[0-9][0-9.,/:\s-]*[%)]?\s*(?:[AaPp][Mm])?\s*")

# Functions that stand_ins.py answers instead of the engine. Those that catch an error are among
# them so that a value which could not be computed does not vanish.
REPLACED = frozenset(_words("IFERROR IFNA ISERROR ISERR ISNA VALUE MOD POWER PROPER REPLACE"))
# The engine answers these for cells, stand_ins.py for computed values, with the same care.
REPLACED_FOR_COMPUTED = frozenset(_words("ISNUMBER ISTEXT ISNONTEXT ISLOGICAL"))
ERROR_SWALLOWERS = frozenset(_words("ISBLANK COUNT COUNTA TYPE ERROR.TYPE"))

# Excel may find a number in a text such as "1,000" where the engine finds #VALUE!. In a cell that
# shows, but not inside these functions, which do otherwise than in Excel then.
VALUE_ERROR_CHANGES = frozenset(_words("IFERROR ISERROR ISERR ISNUMBER ISTEXT ISNONTEXT ISLOGICAL"))
# Functions of numbers, which read a text as one.
OF_NUMBERS = frozenset(
    _words(
        "ABS ROUND ROUNDUP ROUNDDOWN INT TRUNC MOD QUOTIENT MROUND CEILING CEILING.MATH FLOOR "
        "FLOOR.MATH EVEN ODD SQRT EXP LN LOG LOG10 POWER SIGN FACT SIN COS TAN ASIN ACOS ATAN "
        "ATAN2 RADIANS DEGREES DATE TIME YEAR MONTH DAY HOUR MINUTE SECOND WEEKDAY EDATE EOMONTH "
        "DAYS CHAR CONVERT"
    )
)

# Excel counts 29 February 1900, a day that never was, as day 60; the engine does so in some
# functions only, and makes 1 March of it in others.
FIRST_SURE_DATE = 62
DATES_AS_RESULTS = frozenset(_words("DATE EDATE EOMONTH WORKDAY WORKDAY.INTL"))
DATES_AS_ARGUMENTS = frozenset(
    _words(
        "EDATE EOMONTH WORKDAY WORKDAY.INTL NETWORKDAYS NETWORKDAYS.INTL YEARFRAC DATEDIF DAYS "
        "DAYS360 WEEKNUM ISOWEEKNUM"
    )
)
# Arguments that are no dates although they stand among the first two.
NO_DATES = frozenset(_words("EDATE EOMONTH WORKDAY WORKDAY.INTL WEEKNUM"))

# A text in a cell is passed over by these; one that a formula gives them is a number or an error,
# and the engine passes over that as well.
PASS_OVER_TEXTS = frozenset(
    _words(
        "AVERAGE AVERAGEA MIN MINA MAX MAXA PRODUCT MEDIAN STDEV STDEV.S STDEV.P STDEVP VAR VAR.S "
        "VAR.P VARP GEOMEAN HARMEAN AVEDEV DEVSQ"
    )
)
# These may give a cell rather than what is in it.
MAY_GIVE_CELLS = frozenset(_words("IF IFS CHOOSE SWITCH LET IFERROR IFNA INDEX XLOOKUP"))

# Arguments in which the engine takes a text that is no number for 0, by the first of them.
NUMBERS_FROM = {"LEFT": 1, "RIGHT": 1, "MID": 1, "SUBSTITUTE": 3}

# Units that the engine converts; for others that Excel knows it has #N/A.
UNITS = frozenset(_words("m km cm mm mi Nmi in ft yd g kg mg lbm ozm ton C F K cel fah kel"))
# In whole years and months the rest of the days is counted in more ways than one.
DATEDIF_UNITS = frozenset(_words("d m y ym"))

# The engine ends whole columns at their last cell. Where several of them go together row by row,
# or an operator is repeated over one, what lies below is lost.
ROW_BY_ROW = frozenset(_words("LOOKUP XLOOKUP FILTER SORTBY SUMXMY2 CORREL SLOPE"))
# Here only rows below the end of the first range are lost, and only if a blank there fits.
PAIRS_OF_CRITERIA = frozenset(_words("COUNTIFS"))
