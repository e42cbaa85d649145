"""Names that a worksheet function or its arguments can't have in Excel.

Sources: MS-VBAL (the VBA language specification), 3.3.5.2, reserved identifiers, from memory;
openpyxl's list of the functions of ECMA-376 Part 1, 18.17.7, and those that Excel has added since.
"""

import keyword
import re

from openpyxl.utils import FORMULAE


def words(text):
    return frozenset(text.split())


VBA_RESERVED = words("""
    call case close const declare defbool defbyte defcur defdate defdbl defdec defint deflng
    deflnglng deflngptr defobj defsng defstr defvar dim do else elseif end endif enum erase event
    exit for friend function get global gosub goto if implements input let lock loop lset next on
    open option print private public put raiseevent redim resume return rset seek select set static
    stop sub type unlock wend while with write rem
    any as byref byval each in new shared until withevents optional paramarray preserve spc tab
    then to addressof and eqv imp is like mod not or typeof xor
    abs cbool cbyte ccur cdate cdbl cdec cint clng clnglng clngptr csng cstr cvar cverr date debug
    doevents fix int len lenb me pset scale sgn string array circle inputb lbound ubound
    boolean byte currency decimal double integer long longlong longptr single variant
    true false nothing empty null attribute lineinput cdecl
""")

# Allowed by the language, but some statement gives these words a meaning: Step in For, Access and
# Read in Open, and Name, Line, Mid and Time of their own.
VBA_CONTEXT = words("""
    access alias append base binary class compare error explicit lib line mid module name object
    output property random read reset step text time width
""")

# What xlwings' wrapper itself uses, so that an argument of this name would hide it.
WRAPPER = words("""
    activeworkbook app application argsarray caller err failed k range thisworkbook xlpy
""")

SINCE_ECMA = words("""
    ACOT ACOTH AGGREGATE ARABIC ARRAYTOTEXT BASE BITAND BITLSHIFT BITOR BITRSHIFT BITXOR BYCOL BYROW
    CHOOSECOLS CHOOSEROWS COMBINA CONCAT COPILOT COT COTH CSC CSCH DAYS DECIMAL DETECTLANGUAGE DROP
    ENCODEURL EXPAND FILTER FILTERXML FORMULATEXT GAMMA GAUSS GROUPBY HSTACK IFNA IFS IMAGE IMCOSH
    IMCOT IMCSC IMCSCH IMSEC IMSECH IMSINH IMTAN ISFORMULA ISOMITTED ISOWEEKNUM LAMBDA LET
    MAKEARRAY MAP MAXIFS MINIFS MUNIT NUMBERVALUE PDURATION PERCENTOF PERMUTATIONA PHI PIVOTBY PY
    RANDARRAY REDUCE REGEXEXTRACT REGEXREPLACE REGEXTEST RRI SCAN SEC SECH SEQUENCE SHEET SHEETS
    SINGLE SORT SORTBY STOCKHISTORY SWITCH TAKE TEXTAFTER TEXTBEFORE TEXTJOIN TEXTSPLIT TOCOL TOROW
    TRANSLATE TRIMRANGE UNICHAR UNICODE UNIQUE VALUETOTEXT VSTACK WEBSERVICE WRAPCOLS WRAPROWS
    XLOOKUP XMATCH XOR
""")

BUILT_IN = frozenset(FORMULAE) | SINCE_ECMA


def looks_like_a_cell(name):
    """Whether Excel would read the name as a reference, such as FLA3, R1C1 or C7."""
    name = name.upper()
    if re.fullmatch(r"R\d*C\d*|R\d*|C\d*", name):
        return True
    written = re.fullmatch(r"([A-Z]{1,3})(\d{1,7})", name)
    if not written:
        return False
    column = 0
    for letter in written[1]:
        column = 26 * column + ord(letter) - ord("A") + 1
    return column <= 16384 and 1 <= int(written[2]) <= 1048576  # XFD1048576 is the last cell


def function_name_is_free(name):
    """Whether a worksheet function may have this name."""
    return (
        re.fullmatch(r"[A-Z][A-Z0-9_]{2,63}", name) is not None
        and not looks_like_a_cell(name)
        and name not in BUILT_IN
        and name.lower() not in VBA_RESERVED | WRAPPER
    )


def argument_name_is_free(name):
    """Whether an argument of the VBA wrapper may have this name."""
    return (
        re.fullmatch(r"[a-z][a-z0-9_]{0,63}", name) is not None
        and name not in VBA_RESERVED | VBA_CONTEXT | WRAPPER
        and not keyword.iskeyword(name)
    )
