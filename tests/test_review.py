"""Every finding of the review is there when it must be, and gone when its cause is.

Limits and sizes are read from the sections and tables of NFPA 70-2023 that each case names, and
worked by hand; inrush and the X0 of a unit fed backwards are common practice, no source.
"""

import pytest
from hypothesis import HealthCheck, given, settings

import xlfuncs
from xlfuncs.registry import FUNCTIONS
from xlfuncs.review.unit import SEVERITIES

from .cell_strategies import calls

FUNCTION = FUNCTIONS["XF_INSTALLATION_REVIEW"]

# 75 kVA, 480 V: 90.2 A, 250 % is 225.5 A. 208 V: 208.2 A, 125 % is 260.2 A, next rating 300 A.
# Table 310.16, copper, 75 degC: 4/0 AWG 230 A, 350 kcmil 310 A.
SOUND = {
    "kva": 75, "primary_volts": 480, "secondary_volts": 208, "primary_device": 225,
    "primary_size": "4/0", "secondary_device": 300, "secondary_size": "350",
    "secondary_length": 10, "impedance": 5,
}  # fmt: skip
# 240 V to 208 V: 180.4 A, 250 % is 451 A; 700 kcmil 460 A. Nothing is over 250 V to ground.
QUIET = {**SOUND, "primary_volts": 240, "primary_device": 450, "primary_size": "700"}
ALONE = {"secondary_device": None, "primary_device": 125, "primary_size": "1"}
# 480 V to 240 V: 100 A asks 200 A of the secondary, 3/0 AWG has 200 A, 2/0 AWG 175 A.
DELTA = {**ALONE, "secondary_volts": 240, "secondary_winding": "delta", "primary_device": 100}
# Single-phase 480 V to 120 V, two wires: 60 A asks 240 A, 250 kcmil has 255 A, 4/0 AWG 230 A.
TWO_WIRE = {
    "kva": 25, "phases": 1, "secondary_volts": 120, "secondary_winding": "two-wire",
    "primary_device": 60, "primary_size": "4", "secondary_device": None, "secondary_size": "250",
}  # fmt: skip
SMALL = {
    "kva": 0.5, "phases": 1, "secondary_volts": 120, "primary_size": "14", "secondary_size": "14",
    "secondary_device": None,
}  # fmt: skip
# Single-phase 480 V to 240 V: 12.5 A asks 15.6 A of the device, next rating 20 A.
LITTLE = {
    "kva": 3, "phases": 1, "secondary_volts": 240, "primary_device": 10, "primary_size": "14",
    "secondary_device": 20, "secondary_size": "12", "terminal": 75,
}  # fmt: skip
THREE_WIRE = {**TWO_WIRE, "secondary_winding": "three-wire"}
TO_347 = {
    **TWO_WIRE, "kva": 14.4, "secondary_volts": 347, "primary_device": 40, "primary_size": "8",
    "secondary_size": "4",
}  # fmt: skip
RELYING = {"secondary_device": None, "secondary_winding": "two-wire"}
# 4160 V, 500 kVA: 69.4 A; Table 450.3(A) up to 6 %: breaker 600 %, 416 A, next rating 450 A;
# fuse 300 %, 208 A, next rating 225 A. 480 V: 601.4 A, 125 % is 752 A, next rating 800 A.
OVER_1000 = {
    "kva": 500, "primary_volts": 4160, "secondary_volts": 480, "primary_device": 200,
    "secondary_device": 800, "secondary_size": "500", "secondary_sets": 3, "impedance": 5.75,
}  # fmt: skip
# 800 kVA, 480 V: 962 A. Three sets of 500 kcmil have 1140 A, of 600 kcmil 1260 A.
LARGE = {"kva": 800, "primary_device": 1200, "primary_size": "600", "primary_sets": 3}


def review(**changes):
    arguments = {**SOUND, **changes}
    rows = xlfuncs.call(FUNCTION.name, *(arguments.get(a.name) for a in FUNCTION.arguments))
    assert isinstance(rows, list), rows
    return [tuple(row) for row in rows]


def texts(severity, rule, **changes):
    return [f for s, f, r in review(**changes) if s == severity and r.startswith(rule)]


# Severity, rule, what the finding must say, the case, and what makes it right.
PAIRS = [
    # 125 %: 112.8 A, next standard rating 125 A.
    ("stop", "Table 450.3(B)", "above 125 A", {**ALONE, "primary_device": 150}, ALONE),
    ("stop", "Table 450.3(B)", "above 225.5 A", {"primary_device": 250}, {}),
    ("stop", "Table 450.3(B)", "limit of 300 A", {"secondary_device": 350}, {}),
    (
        "stop", "Table 450.3(B)", "more needs a secondary device within 300 A",
        {"secondary_device": 350}, {"secondary_device": 350, "primary_device": 125},
    ),
    (
        "check", "Table 450.3(B)", "only because the primary device alone",
        {"secondary_device": 350, "primary_device": 125}, {"primary_device": 125},
    ),
    ("note", "Table 450.3(B)", "the secondary device must stay", {}, {"primary_device": 125}),
    # Below 2 A 300 % of 1.042 A, below 9 A 167 % of 6.25 A: 10.44 A; ceilings.
    (
        "stop", "Table 450.3(B)", "above 3.125 A",
        {**SMALL, "primary_device": 4}, {**SMALL, "primary_device": 3},
    ),
    (
        "stop", "Table 450.3(B)", "above 10.44 A",
        {**SMALL, "kva": 3, "primary_device": 15}, {**SMALL, "kva": 3, "primary_device": 10},
    ),
    # A secondary below 9 A: 167 % of 4.167 A is 6.958 A.
    (
        "stop", "Table 450.3(B)", "limit of 6.958 A",
        {**SMALL, "primary_device": 5, "secondary_device": 10, "primary_volts": 240},
        {**SMALL, "primary_device": 5, "secondary_device": 6, "primary_volts": 240},
    ),
    # 125 A / 90.2 A; 8 × 90.2 A and 12 × 90.2 A, in parts of 125 A.
    ("check", "common practice", "1.39 times the full-load current of 90.21 A", ALONE, {}),
    ("check", "common practice", "721.7 to 1083 A, 5.8 to 8.7 times", ALONE, {}),
    ("check", "common practice", "higher in a unit that steps up",
     {"primary_volts": 208, "secondary_volts": 480, "primary_device": 500}, {}),
    # 12 × 90.2 A is 1083 A, five times 216.5 A.
    ("check", "common practice", "it may trip", {"primary_device": 200}, {}),
    ("check", "215.3", "80 A is 0.89 times", {"primary_device": 80}, {"primary_device": 100}),
    # 3/0 AWG 200 A; 3 AWG 100 A, 2 AWG 115 A whose next rating is 125 A: 240.4(B).
    ("stop", "240.4", "carry 200 A: the device of 225 A", {"primary_size": "3/0"}, {}),
    ("stop", "240.4", "4/0 AWG or larger", {"primary_size": "3/0"}, {}),
    (
        "stop", "240.4", "2 AWG or larger",
        {**ALONE, "primary_size": "3"}, {**ALONE, "primary_size": "2"},
    ),
    # Above 800 A no next rating: 240.4(C).
    ("stop", "240.4", "carry 1140 A", {**LARGE, "primary_size": "500"}, LARGE),
    # 12 AWG has 25 A between 75 degC terminals, and 20 A by 240.4(D).
    (
        "stop", "240.4", "10 AWG or larger",
        {"kva": 15, "primary_device": 25, "primary_size": "12", "terminal": 75},
        {"kva": 15, "primary_device": 25, "primary_size": "10", "terminal": 75},
    ),
    # 3 AWG: 85 A at 60 degC, next rating 90 A; 100 A at 75 degC.
    (
        "stop", "240.4", "75 degC terminals on both ends would be enough",
        {**DELTA, "primary_size": "3"}, {**DELTA, "primary_size": "3", "terminal": 75},
    ),
    (
        "stop", "240.4", "no ampacity in Table 310.16",
        {"primary_size": "14", "material": "aluminum"},
        {"primary_size": "300", "material": "aluminum"},
    ),
    # 125 % of 90.2 A is 112.8 A; 3 AWG 100 A, 2 AWG 115 A.
    (
        "check", "215.2(A)(1)", "112.8 A",
        {"primary_device": 110, "primary_size": "3"}, {"primary_device": 110, "primary_size": "2"},
    ),
    ("stop", "240.21(C)(1)", "(wye) may not rely", ALONE, {}),
    ("stop", "240.21(C)(1)", "(wye) may not rely", {**ALONE, "secondary_size": None}, DELTA),
    ("stop", "240.21(C)(1)", "(three-wire)", {**TWO_WIRE, "secondary_winding": "wye"}, TWO_WIRE),
    ("stop", "240.21(C)(1)", "= 87.5 A", {**DELTA, "secondary_size": "2/0"},
     {**DELTA, "secondary_size": "3/0"}),
    ("stop", "240.21(C)(1)", "carry 200 A: take 3/0 AWG", {**DELTA, "secondary_size": "2/0"},
     {**DELTA, "secondary_size": "3/0"}),
    ("stop", "240.21(C)(1)", "carry 240 A: take 250 kcmil", {**TWO_WIRE, "secondary_size": "4/0"},
     TWO_WIRE),
    ("check", "240.21(C)(1)", "primary is a delta too", DELTA, TWO_WIRE),
    # 100 A × 480 V / 240 V / 3 = 66.7 A: the device at the end decides, whatever the winding.
    (
        "note", "240.21(C)(6)", "not below 200 A",
        {**DELTA, "secondary_device": 200, "secondary_size": "3/0", "secondary_length": 20},
        {**DELTA, "secondary_device": 200, "secondary_size": "3/0", "secondary_length": 60},
    ),
    # 300 kcmil 285 A, below the device; no next rating for secondary conductors.
    ("stop", "240.21(C)(2)", "carry 285 A, below 300 A", {"secondary_size": "300"}, {}),
    ("stop", "240.21(C)(2)", "take 350 kcmil or larger", {"secondary_size": "300"}, {}),
    # 225 A × 480 V / 208 V / 3 = 173.1 A; 1/0 AWG 150 A, 2/0 AWG 175 A. A tenth is 51.9 A.
    (
        "stop", "240.21(C)(6)", "carry 150 A, below 173.1 A",
        {"secondary_device": 150, "secondary_size": "1/0", "secondary_length": 20},
        {"secondary_device": 150, "secondary_size": "2/0", "secondary_length": 20},
    ),
    (
        "stop", "240.21(C)", "below 173.1 A",
        {"secondary_device": 150, "secondary_size": "1/0", "secondary_length": 10.1},
        {"secondary_device": 150, "secondary_size": "1/0", "secondary_length": 10},
    ),
    ("stop", "240.21(C)", "26 ft are longer", {"secondary_length": 26}, {"secondary_length": 25}),
    (
        "stop", "240.21(C)", "longer than 25 ft",
        {"secondary_length": 60}, {**DELTA, "secondary_device": 200, "secondary_length": 60},
    ),
    ("stop", "240.21(C)", "carry 285 A, below the device", {"secondary_size": "300",
     "secondary_length": None}, {"secondary_length": None}),
    ("check", "240.21(C)", "secondary_length is blank", {"secondary_length": None}, {}),
    ("check", "240.21(C)", "secondary_size is blank", {"secondary_size": None}, {}),
    # 75 degC: 14 AWG 20 A, 12 AWG 25 A, 10 AWG 35 A; 240.4(D): 15, 20 and 30 A at most.
    ("stop", "240.4(D)", "device at their end of 20 A: take 12 AWG", {**LITTLE,
     "secondary_size": "14"}, LITTLE),
    ("stop", "240.4(D)", "device at their end of 25 A: take 10 AWG", {**LITTLE,
     "secondary_device": 25}, {**LITTLE, "secondary_device": 25, "secondary_size": "10"}),
    ("stop", "240.4(D)", "device at their end of 35 A: take 8 AWG", {**LITTLE,
     "secondary_device": 35, "secondary_size": "10"}, {**LITTLE, "secondary_device": 30,
     "secondary_size": "10"}),
    ("stop", "240.21(C)(2)", "below 25 A (larger", {**LITTLE, "secondary_device": 25,
     "secondary_size": "14"}, {**LITTLE, "secondary_device": 25}),
    ("stop", "240.21(C)(2)", "take 10 AWG", {**LITTLE, "secondary_device": 25,
     "secondary_size": "14"}, {**LITTLE, "secondary_device": 25}),
    # 10 A × 480 V / 240 V is 20 A to the secondary conductors.
    ("check", "240.4(D)", "than the 20 A that the primary device is to them: take 12 AWG",
     {**LITTLE, **RELYING, "secondary_size": "14"}, {**LITTLE, **RELYING}),
    ("stop", "408.36(B)", "without a device on the secondary", ALONE, {}),
    ("stop", "408.36(B)", "without a device on the secondary", ALONE,
     {**ALONE, "panel_fed": False}),
    ("stop", "408.36(B)", "does not protect", {**DELTA, "secondary_size": "2/0"}, DELTA),
    ("note", "408.36(B)", "not be below 200 A", DELTA, {}),
    ("note", "408.36(B)", "not be below that", {}, {"panel_fed": False}),
    ("note", "408.36(B)", "No panelboard is fed", {"panel_fed": False}, {}),
    ("check", "408.36(B)", "secondary_size is blank", {**DELTA, "secondary_size": None}, DELTA),
    # 6 AWG: 55 A at 60 degC, 65 A at 75 degC, 75 A at 90 degC.
    (
        "note", "110.14(C)", "60 degC column holds, 55 A for 6 AWG, not the 75 A",
        {"kva": 30, "primary_device": 60, "primary_size": "6"}, {},
    ),
    (
        "note", "110.14(C)", "65 A only where both ends are marked for 75 degC",
        {"kva": 30, "primary_device": 60, "primary_size": "6"}, {},
    ),
    ("note", "110.14(C)", "75 degC column holds, 230 A for 4/0 AWG, not the 260 A", {},
     {"terminal": 60}),
    (
        "check", "110.14(C)", "marked 75 degC",
        {"primary_device": 100, "terminal": 75}, {"primary_device": 110, "terminal": 75},
    ),
    ("note", "110.14(C)", "Primary terminals not stated, circuit of 225 A", {}, {"terminal": 75}),
    ("note", "110.14(C)", "Secondary terminals not stated, circuit of 300 A", {}, TO_347),
    ("note", "110.14(C)", "Secondary terminals not stated, circuit of 55.33 A", TO_347, {}),
    ("note", "110.14(C)", "Primary terminals stated 75 degC", {"terminal": 75}, {}),
    ("note", "110.14(C)", "Secondary terminals", OVER_1000, {**OVER_1000, "secondary_size": None}),
    # Without an ampacity: 14 AWG aluminum is not in Table 310.16.
    ("note", "110.14(C)", "Secondary terminals", {"primary_size": "14", "material": "aluminum"},
     {"secondary_size": None}),
    # Table 310.16: 4/0 AWG has 195 A at 60 degC, 230 A at 75; 2/0 AWG 175 A at 75.
    ("stop", "240.4(B)", "75 degC terminals on both ends would be enough",
     {"terminal": 60, "primary_size": "4/0"}, {"terminal": 60, "primary_size": "2/0"}),
    # 1/0 AWG: 125 A at 60 degC, 150 A at 75; 2 AWG 115 A at 75, next rating 125 A.
    ("stop", "240.4(B)", "75 degC terminals on both ends would be enough",
     {"primary_device": 150, "terminal": 60, "primary_size": "1/0"},
     {"primary_device": 150, "terminal": 60, "primary_size": "2"}),
    # 14 AWG copper has 20 A at 75 degC, of which 240.4(D) allows 15 A.
    ("stop", "240.4(D)", "as small conductors are allowed less", {**LITTLE,
     "secondary_device": 16, "secondary_size": "14"}, LITTLE),
    ("stop", "240.4(D)", "as small conductors are allowed less", {**LITTLE,
     "secondary_size": "14"}, {**LITTLE, "secondary_size": "10"}),
    ("stop", "240.21(C)(1)", "", {"secondary_size": None, "secondary_device": None},
     {"secondary_size": None}),
    ("stop", "240.21(C)(1)", "", {"secondary_size": None, "secondary_device": None},
     {**DELTA, "secondary_size": None}),
    # 480 V / √3 = 277.1 V; 415 V / √3 = 239.6 V; a delta has the line voltage.
    ("check", "250.97", "Primary has 277.1 V", {}, {"primary_volts": 240}),
    ("check", "250.97", "Primary has 239.6 to 415 V", {"primary_volts": 415}, {}),
    ("check", "250.97", "Primary has 240 to 480 V", TWO_WIRE, {}),
    # 433 V / 1.7320508 = 249.99 V, 433.1 V / 1.7320508 = 250.05 V.
    ("check", "250.97", "Primary has 250.1 V to ground or more", {"primary_volts": 433.1},
     {"primary_volts": 433}),
    ("check", "250.97", "by the grounding", {"primary_volts": 433}, {"primary_volts": 433.1}),
    ("note", "250.97", "Primary has 250 V to ground at most", {"primary_volts": 250},
     {"primary_volts": 251}),
    ("check", "250.97", "Primary has 250 to 500 V", {**TWO_WIRE, "primary_volts": 500}, {}),
    ("check", "250.97", "to ground or more", {**TWO_WIRE, "primary_volts": 501},
     {**TWO_WIRE, "primary_volts": 500}),
    ("check", "250.97", "two-wire secondary would have", {**THREE_WIRE, "secondary_volts": 251},
     {**THREE_WIRE, "secondary_volts": 250}),
    ("check", "250.97", "two-wire secondary would have", {**THREE_WIRE, "secondary_volts": 500},
     {**THREE_WIRE, "secondary_volts": 501}),
    ("check", "250.97", "two-wire secondary would have", {**THREE_WIRE, "secondary_volts": 480},
     {"secondary_volts": 415}),
    ("check", "250.97", "Secondary has", {"secondary_volts": 480}, {"secondary_volts": 415}),
    ("check", "250.97", "Secondary has 277.1 V", {"secondary_volts": 480}, {}),
    ("check", "250.97", "Secondary has 415 V", {"secondary_volts": 415,
     "secondary_winding": "delta"}, {"secondary_volts": 415}),
    ("check", "250.97", "two-wire secondary would have 480 V", {**TWO_WIRE,
     "secondary_volts": 480, "secondary_winding": "three-wire"}, TWO_WIRE),
    ("note", "250.97", "120.1 V to ground, taken as wye with a grounded neutral", {},
     {"secondary_winding": "delta"}),
    ("note", "250.97", "120 V to ground, taken as three-wire", {**TWO_WIRE,
     "secondary_volts": 240, "secondary_winding": "wye"}, {}),
    # Common practice, no source: 8 to 12 times 90.21 A is 721.7 to 1082.5 A.
    ("note", "common practice", "Inrush of 8 to 12 times that current is 721.7 to 1083 A", {},
     {"primary_volts": 240}),
    ("note", "Table 450.3(A)", "Secondary device", OVER_1000,
     {**OVER_1000, "secondary_device": None}),
    # 40 A x 480 V / 347 V is 55.33 A; Table 310.16, 60 degC: 6 AWG copper 55 A, 4 AWG 70 A.
    ("stop", "240.21(C)(1)", "They must carry 55.33 A: take 4 AWG or larger", {**TO_347,
     "secondary_size": "6"}, TO_347),
    # 60 A x 480 V / 277 V is 103.97 A.
    ("note", "408.36(B)", "must not be below 104 A", {**TWO_WIRE, "secondary_volts": 277}, {}),
    # The voltage to neutral in place of that between lines.
    ("check", "common practice", "Secondary 277 V is what 480Y/277 has", {"secondary_volts": 277},
     {"secondary_volts": 480}),
    ("check", "common practice", "Secondary 120 V is what 208Y/120 has", {"secondary_volts": 120},
     TWO_WIRE),
    ("check", "common practice", "Primary 347 V is what 600Y/347 has", {"primary_volts": 347},
     {"primary_volts": 600}),
    ("check", "450.11(B)", "V is above primary", {"primary_volts": 208,
     "secondary_volts": 480}, {"primary_volts": 480, "secondary_volts": 480}),
    ("check", "common practice", "X0", {"primary_volts": 208, "secondary_volts": 480}, {}),
    ("check", "common practice", "X0", {"primary_volts": 208, "secondary_volts": 480},
     {**TWO_WIRE, "primary_volts": 120, "secondary_volts": 480}),
    ("check", "Table 450.3(A)", "Primary 4160 V is over 1000 V", OVER_1000,
     {**OVER_1000, "primary_volts": 1000}),
    ("check", "Table 450.3(A)", "impedance is blank", {**OVER_1000, "impedance": None}, OVER_1000),
    ("stop", "Table 450.3(A)", "No device", {**OVER_1000, "secondary_device": None}, OVER_1000),
    ("stop", "Table 450.3(A)", "450 A for a breaker, 225 A for fuses",
     {**OVER_1000, "primary_device": 500}, OVER_1000),
    ("check", "Table 450.3(A)", "one kind of device only",
     {**OVER_1000, "primary_device": 450}, {**OVER_1000, "primary_device": 225}),
    ("stop", "Table 450.3(A)", "1000 A is above the limit: 800 A",
     {**OVER_1000, "secondary_device": 1000}, OVER_1000),
    ("check", "Table 450.3(A)", "no column for a primary of 1000 V or less",
     {**OVER_1000, "primary_volts": 480, "secondary_volts": 4160}, OVER_1000),
    ("check", "Article 315", "Primary conductors", OVER_1000, {**OVER_1000, "edition": 2020}),
    ("check", "Article 311", "Primary conductors", {**OVER_1000, "edition": 2020}, OVER_1000),
    ("check", "310.60", "Primary conductors", {**OVER_1000, "edition": 2017}, OVER_1000),
    ("check", "450.21(C)", "35 kV", {**OVER_1000, "primary_volts": 35001},
     {**OVER_1000, "primary_volts": 35000}),
    ("check", "450.21(B)", "112.6 kVA is over 112.5 kVA", {"kva": 112.6}, {"kva": 112.5}),
    ("note", "450.21(A)", "112.5 kVA is not over", {"kva": 112.5}, {"kva": 112.6}),
    ("check", "450.21(A)", "one side is over 1000 V", {**OVER_1000, "kva": 75}, {}),
    # 208.2 A / 5 % = 4164 A.
    ("note", "110.9", "Up to 4164 A", {}, {"impedance": None}),
    ("note", "110.9", "Up to 20818 A", {"impedance": 1}, {}),
    # Table 310.16, 75 degC: 4/0 AWG copper 230 A, two of 1/0 AWG 300 A.
    ("note", "240.4(B)", "Primary conductors (4/0 AWG copper, 75 degC column) carry 230 A", {},
     {"primary_size": "250"}),
    ("note", "240.4(B)", "Primary conductors (2 x 1/0 AWG copper, 75 degC column) carry 300 A",
     {"primary_size": "1/0", "primary_sets": 2}, {}),
    ("check", "110.9", "impedance is blank", {"impedance": None}, {}),
    ("note", "250.20(B)(1)", "120.1 V to ground, not over 150 V", {}, {"secondary_volts": 480}),
    ("note", "250.20(B)(1)", "not over 150 V", {**THREE_WIRE, "secondary_volts": 300},
     {**THREE_WIRE, "secondary_volts": 301}),
    ("check", "250.20(B)", "Settle whether the secondary, 240 V", {**THREE_WIRE,
     "secondary_volts": 480}, {**TWO_WIRE, "secondary_volts": 480}),
    ("check", "250.20(B)", "A two-wire secondary of 480 V has no neutral", {**TWO_WIRE,
     "secondary_volts": 480}, {**THREE_WIRE, "secondary_volts": 480}),
    ("check", "250.20(B)", "A delta secondary of 240 V has no neutral", DELTA,
     {**THREE_WIRE, "secondary_volts": 480}),
    ("note", "250.30(A)(2)", "in each raceway that holds one set",
     {"secondary_sets": 2, "secondary_size": "1/0"}, {}),
    ("note", "250.20(B)(2)", "neutral is a circuit conductor", {"secondary_volts": 480}, {}),
    ("check", "250.20(B)", "ground detectors", DELTA, {}),
    ("check", "250.20(B)", "ground detectors", {**TWO_WIRE, "secondary_volts": 480,
     "secondary_winding": "three-wire"}, TWO_WIRE),
    # Tables 250.102(C)(1) and 250.66: over 3/0 to 350 kcmil copper 2 AWG; over 350 kcmil 1/0 AWG.
    ("note", "250.30(A)(1)", "System bonding jumper 2 AWG", {}, {"secondary_size": "400"}),
    ("note", "250.30(A)(1)", "where the system is grounded", DELTA, {}),
    ("note", "250.30(A)(2)", "Supply-side bonding jumper 2 AWG", {}, {"secondary_size": "400"}),
    ("note", "250.30(A)(5)", "electrode conductor 1/0 AWG", {"secondary_size": "400"}, {}),
    # 4 x 350 kcmil: 1400 kcmil × 12.5 % = 175 kcmil, 4/0 AWG; in a raceway with one set 2 AWG.
    ("note", "250.30(A)(1)", "4/0 AWG", {"secondary_sets": 4}, {}),
    ("note", "250.30(A)(2)", "2 AWG or larger, copper in each raceway", {"secondary_sets": 4}, {}),
    ("check", "250.30(A)", "secondary_size is blank", {"secondary_size": None}, {}),
    # Table 250.122: over 200 to 300 A 4 AWG, over 100 to 200 A 6 AWG.
    ("note", "250.122", "4 AWG", {}, {"primary_device": 200}),
    ("note", "250.122", "full size in each raceway", {"primary_sets": 2}, {}),
    # 250.190(C), from memory: over 1000 V not smaller than 6 AWG copper.
    ("check", "250.190(C)", "6 AWG copper at least", OVER_1000, {}),
    ("note", "250.122", "", {}, OVER_1000),
    ("stop", "310.10(G)", "Primary conductors 2 x 1", {"primary_size": "1",
     "primary_sets": 2}, {"primary_size": "1/0", "primary_sets": 2}),
    ("stop", "310.10(H)", "Secondary conductors 2 x 1", {"secondary_size": "1",
     "secondary_sets": 2, "edition": 2017}, {"secondary_size": "1/0", "secondary_sets": 2,
     "edition": 2017}),
    ("note", "450.11(A)", "25 kVA or more the impedance", {"kva": 25}, {"kva": 24}),
    ("note", "450.11(A)", "may show no impedance", {"kva": 24}, {"kva": 25}),
]  # fmt: skip


@pytest.mark.parametrize(
    ("severity", "rule", "says", "wrong", "right"),
    PAIRS,
    ids=[f"{number}: {one[0]} {one[1]} {one[2]}" for number, one in enumerate(PAIRS)],
)
def test_a_finding_comes_and_goes_with_its_cause(severity, rule, says, wrong, right):
    assert [text for text in texts(severity, rule, **wrong) if says in text]
    assert not [text for text in texts(severity, rule, **right) if says in text]


@pytest.mark.parametrize(
    "right",
    [SOUND, QUIET, {**ALONE, **DELTA, "primary_size": "1/0"}, TWO_WIRE, OVER_1000, LARGE],
)
def test_nothing_stops_a_right_installation(right):
    changes = {"secondary_device": 300} if right is LARGE else {}
    assert [finding for finding in review(**right, **changes) if finding[0] == "stop"] == []


def test_where_nothing_is_wrong_notes_say_what_was_checked():
    findings = review(**QUIET)
    assert {severity for severity, _, _ in findings} == {"note"}
    rules = {rule for _, _, rule in findings}
    assert rules >= {
        "Table 450.3(B)", "240.4(B), (C) and (D)", "240.21(C)(2)", "408.36(B)", "110.14(C)",
        "110.9", "250.97", "250.20(B)(1)", "250.122", "450.21(A)", "450.9", "450.14", "450.11(A)",
        "90.4",
    }  # fmt: skip


@pytest.mark.parametrize("rule", ["450.9", "450.14", "450.11(A)", "90.4"])
@pytest.mark.parametrize("changes", [{}, ALONE, OVER_1000])
def test_what_always_holds_is_always_said(rule, changes):
    assert texts("note", rule, **changes)


def test_stops_come_first_then_checks_then_notes():
    severities = [severity for severity, _, _ in review(**ALONE, impedance=None)]
    assert set(severities) == set(SEVERITIES)
    assert severities == sorted(severities, key=["stop", "check", "note"].index)


def test_what_a_function_refuses_is_said_and_the_rest_stands():
    """30000 kVA single-phase at 480 V is 62.5 kA, above what the functions take."""
    changes = {**TWO_WIRE, "kva": 30_000}
    assert any("could not be checked: amps" in text for text in texts("check", "450.3", **changes))
    assert texts("note", "450.14", **changes)


@pytest.mark.parametrize(
    "blank", ["secondary_size", "secondary_length", "impedance", "secondary_device"]
)
def test_no_blank_passes_in_silence(blank):
    whole = {(severity, rule) for severity, _, rule in review() if severity != "note"}
    assert {(s, r) for s, _, r in review(**{blank: None}) if s != "note"} - whole


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"kva": -5}, "kva must be above 0"),
        ({"primary_size": None}, "primary_size is blank"),
        ({"primary_device": 0}, "primary_device must be above 0"),
        ({"primary_size": "5/0"}, "primary_size must be a conductor size"),
        ({"secondary_winding": "two-wire"}, "secondary_winding must be wye or delta"),
        ({"secondary_winding": "delta", "phases": 1}, "three-wire or two-wire for one"),
        ({"secondary_winding": "zigzag"}, "secondary_winding must be"),
        ({"secondary_length": 0}, "secondary_length must be above 0"),
        ({"impedance": 0.05}, "write 5.75 for 5.75%"),
        ({"secondary_volts": "#N/A"}, "#N/A"),
        ({"kva": [[75], [45]]}, "kva takes one cell"),
    ],
)
def test_wrong_inputs_give_a_message(changes, says):
    arguments = {**SOUND, **changes}
    answer = xlfuncs.call(FUNCTION.name, *(arguments.get(a.name) for a in FUNCTION.arguments))
    assert says in answer


def test_the_working_shows_the_limits():
    arguments = [ALONE.get(a.name, SOUND.get(a.name)) for a in FUNCTION.arguments]
    while arguments[-1] is None:
        arguments.pop()
    steps = xlfuncs.call("XF_STEPS", FUNCTION.name, *arguments)
    found = {(step, round(value, 2)) for step, _, value, _, _ in steps if isinstance(value, float)}
    assert found >= {
        ("Full-load current", 90.21),
        ("Limit of the table", 125.0),
        ("Standard rating", 125.0),
        ("Device in multiples of the full-load current", 1.39),
        ("Highest usual inrush", 1082.53),
    }


@settings(
    max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)
@given(calls(FUNCTION))
def test_findings_fit_a_cell_and_name_their_rule(cells):
    """A macro of a spreadsheet may hand over texts of up to 255 characters only."""
    answer = xlfuncs.call(FUNCTION.name, *cells)
    if isinstance(answer, list):
        for severity, finding, rule in answer:
            assert severity in SEVERITIES
            assert 0 < len(finding) <= 255
            assert rule


def test_the_working_of_the_inrush():
    arguments = (SOUND.get(argument.name) for argument in FUNCTION.arguments)
    lines = {line[0]: line[1:4] for line in xlfuncs.call("XF_STEPS", FUNCTION.name, *arguments)}
    what, amps, unit = lines["Highest usual inrush"]
    # 75000 / (1.7320508 x 480) = 90.211 A, and 12 times that.
    assert (what, unit) == ("12 × 90.211 A", "A")
    assert amps == pytest.approx(1082.53, abs=0.01)
