"""The tables are whole, and keep the laws that a slip of a digit would break.

A law rests on a source outside the tables (a wire standard, a resistivity, a formula of the
standard, geometry), or on the order that such a table must have.
"""

import csv
import io
from importlib.resources import files

import numpy as np
import pytest

from xlfuncs import tables
from xlfuncs.designations import INSULATION, SIZES

ALL = tables.names()

# ASTM B258: 36 AWG is 0.005 in and 4/0 AWG 0.46 in, 39 steps of one ratio between them.
GAUGE = {str(n): n for n in (18, 16, 14, 12, 10, 8, 6, 4, 3, 2, 1)} | {
    "1/0": 0,
    "2/0": -1,
    "3/0": -2,
    "4/0": -3,
}


def gauge_diameter(number):
    return 0.005 * 92 ** ((36 - number) / 39)


def half_last_digits(printed):
    """Half a unit in the last printed place of every number."""
    return np.array([0.5 * 10.0 ** -len(text.partition(".")[2]) for text in printed])


def rising(values, strictly=True):
    steps = np.diff(values)
    return bool((steps > 0).all() if strictly else (steps >= 0).all())


def lines_of(name):
    return files(tables.__name__).joinpath(f"{name}.csv").read_text("utf-8").splitlines()


@pytest.mark.parametrize("name", ALL)
def test_head_is_complete(name):
    head = tables.read(name).head
    assert list(head) == ["title", "source", "units", "checked"]
    assert all(head.values())


@pytest.mark.parametrize("name", ALL)
def test_rows_are_whole_and_neat(name):
    lines = lines_of(name)
    rows = [line for line in lines if not line.startswith("#")]
    cells = list(csv.reader(io.StringIO("\n".join(rows))))
    assert len({len(row) for row in cells}) == 1
    assert len(set(cells[0])) == len(cells[0])
    assert len({tuple(row) for row in cells}) == len(cells)  # no row twice
    assert all(cell == cell.strip() for row in cells for cell in row)
    assert not any(line.startswith("#") for line in lines[4:])


@pytest.mark.parametrize(
    ("name", "columns"),
    [
        ("ac_impedance", ["size"]),
        ("ampacity", ["size"]),
        ("conductor_properties", ["size"]),
        ("insulated_conductor_area", ["size"]),
        ("small_conductors", ["size"]),
        ("equipment_grounding_conductor", ["cu_size", "al_size"]),
        ("grounding_electrode_conductor", ["gec_cu", "gec_al"]),
        ("bonding_jumper", ["jumper_cu", "jumper_al"]),
    ],
)
def test_sizes_are_sizes_of_the_list(name, columns):
    for column in columns:
        assert {text for text in tables.read(name).printed[column] if text} <= set(SIZES.printed)


@pytest.mark.parametrize(
    ("name", "prefixes"),
    [
        ("preferred_kva", ("ieee", "nema", "doe")),
        ("standard_ratings", ("in_table", "std")),
        ("transformer_protection_1000v", ("required", "next_higher")),
        (
            "transformer_protection_over_1000v",
            ("pri_next", "sec_required", "sec_next", "sec_may_be"),
        ),
    ],
)
def test_marks_are_one_or_nothing(name, prefixes):
    printed = tables.read(name).printed
    marked = [column for column in printed if column.startswith(prefixes)]
    assert len(marked) >= len(prefixes)
    assert all(set(printed[column]) <= {"0", "1", ""} for column in marked)


@pytest.mark.parametrize(
    ("name", "column", "values"),
    [
        ("small_conductors", "edition", {2017, 2020, 2023}),
        ("preferred_kva", "phases", {1, 3}),
        ("transformer_efficiency", "phases", {1, 3}),
        ("transformer_efficiency", "test_load_pct", {35}),
    ],
)
def test_keys_are_of_a_short_list(name, column, values):
    assert set(tables.read(name)[column]) == values


# Conductors


def test_ampacity_rises_with_size_and_temperature_and_is_higher_in_copper():
    table = tables.read("ampacity")
    assert table.printed["size"].tolist() == SIZES.printed
    for metal in ("cu", "al"):
        columns = np.array([table[f"{metal}_{rating}c"] for rating in (60, 75, 90)])
        listed = ~np.isnan(columns).any(axis=0)
        assert rising(columns[:, listed].T.max(axis=1))
        assert all(rising(column[listed]) for column in columns)
        assert (np.diff(columns[:, listed], axis=0) > 0).all()
    for rating in (60, 75, 90):
        copper, aluminum = table[f"cu_{rating}c"], table[f"al_{rating}c"]
        both = ~np.isnan(aluminum)
        assert (aluminum[both] < copper[both]).all()


@pytest.mark.parametrize("rating", [60, 90])
@pytest.mark.parametrize(("metal", "zero"), [("cu", 234.5), ("al", 228.1)])
def test_ampacity_columns_follow_from_the_heat_balance(metal, zero, rating):
    # Equation of 310.14(B) without its loss terms (Neher and McGrath, 1957), with the temperature
    # of zero resistance of copper and aluminum: I^2 R(T) / (T - 30) is one constant for a size.
    # The table rounds to 5 A.
    table = tables.read("ampacity")
    base = table[f"{metal}_75c"]
    expected = base * np.sqrt((rating - 30) / 45 * (zero + 75) / (zero + rating))
    printed = table[f"{metal}_{rating}c"]
    listed = ~np.isnan(base)
    np.testing.assert_allclose(printed[listed], expected[listed], atol=2.51, rtol=0)


# Cells that changed between NFPA 70-2008 and 2011: size, column, old value, new value. Reprints
# of the old table are still about.
CHANGED_IN_2011 = [
    ("14", "cu_60c", 20, 15),
    ("12", "cu_60c", 25, 20),
    ("600", "cu_60c", 355, 350),
    ("1500", "cu_60c", 520, 525),
    ("2000", "cu_60c", 560, 555),
    ("3", "cu_90c", 110, 115),
    ("1", "cu_90c", 150, 145),
    ("12", "al_60c", 20, 15),
    ("8", "al_60c", 30, 35),
    ("300", "al_60c", 190, 195),
    ("700", "al_60c", 310, 315),
    ("6", "al_90c", 60, 55),
    ("300", "al_90c", 255, 260),
    ("700", "al_90c", 420, 425),
    ("800", "al_90c", 450, 445),
]


@pytest.mark.parametrize(("size", "column", "old", "new"), CHANGED_IN_2011)
def test_ampacity_holds_the_values_since_2011(size, column, old, new):
    table = tables.read("ampacity")
    value = table[column][table.printed["size"].tolist().index(size)]
    assert value == new != old


def test_ambient_factors_follow_from_the_formula():
    # 310.15(B): the factor at the warm end of the band, rounded to two places.
    table = tables.read("ambient_factor")
    ends = table["ambient_max_c"]
    for rating in (60, 75, 90):
        factors = table[f"factor_{rating}c"]
        below = ends < rating
        exact = np.sqrt((rating - ends[below]) / (rating - 30))
        np.testing.assert_allclose(factors[below], exact, atol=0.005 + 1e-9, rtol=0)
        assert np.isnan(factors[~below]).all()


def test_ambient_bands_join_and_agree_in_both_scales():
    table = tables.read("ambient_factor")
    np.testing.assert_array_equal(table["ambient_min_c"][1:], table["ambient_max_c"][:-1] + 1)
    np.testing.assert_array_equal(table["ambient_min_f"][1:], table["ambient_max_f"][:-1] + 1)
    np.testing.assert_array_equal(table["ambient_max_f"], table["ambient_max_c"] * 9 / 5 + 32)


def test_adjustment_and_fill_rows_join():
    for name, column in (("adjustment_factor", "factor_pct"), ("raceway_fill_limit", "fill_pct")):
        table = tables.read(name)
        np.testing.assert_array_equal(table["conductors_min"][1:], table["conductors_max"][:-1] + 1)
        assert np.isnan(table["conductors_max"]).tolist() == [False] * (len(table) - 1) + [True]
        assert ((table[column] > 0) & (table[column] < 100)).all()
    adjustment = tables.read("adjustment_factor")
    assert adjustment["conductors_min"][0] == 4  # Table 310.16 holds for up to three
    assert rising(-adjustment["factor_pct"])
    assert (adjustment["factor_pct"] % 5 == 0).all()
    assert tables.read("raceway_fill_limit")["conductors_min"][0] == 1


def test_small_conductors_have_the_device_of_their_60_degree_column():
    # 240.4(D) restates the 60 degC ampacity of 14 to 10 AWG.
    ampacity, small = tables.read("ampacity"), tables.read("small_conductors")
    checked = 0
    for size, material, device in zip(
        small.printed["size"], small.printed["material"], small["max_ocpd_a"], strict=True
    ):
        if size in ("14", "12", "10") and material != "cca":
            column = ampacity[f"{material[:2]}_60c"]
            assert column[ampacity.printed["size"].tolist().index(size)] == device
            checked += 1
    assert checked == 15


def test_small_conductor_load_is_80_percent_of_the_device():
    small = tables.read("small_conductors")
    given = ~np.isnan(small["max_continuous_load_a"])
    np.testing.assert_allclose(
        small["max_continuous_load_a"][given], 0.8 * small["max_ocpd_a"][given]
    )


def test_insulation_types_have_a_rating_and_an_area_column_that_exist():
    assert set(INSULATION["rating_c"]) == {60.0, 75.0, 90.0}
    areas = tables.read("insulated_conductor_area").printed
    for column in filter(None, INSULATION.printed["area_column"]):
        assert f"{column}_area_in2" in areas
    # Marked -2, or HH: 90 degC, wet and dry (from memory of Table 310.4(1)).
    for name, rating in zip(INSULATION.printed["type"], INSULATION["rating_c"], strict=True):
        if name.endswith("-2") or (name in ("THHN", "RHH", "XHH")):
            assert rating == 90


def properties():
    table = tables.read("conductor_properties")
    return table, table["area_cmil"], table["strands"]


def test_gauge_sizes_have_the_area_of_the_wire_standard():
    table, area, _ = properties()
    for size, cmil in zip(table.printed["size"], area, strict=True):
        exact = 1e6 * gauge_diameter(GAUGE[size]) ** 2 if size in GAUGE else 1000 * float(size)
        assert cmil == pytest.approx(exact, rel=0.003)  # 18 AWG is printed 1620 for 1624


def test_solid_conductors_have_the_diameter_of_the_wire_standard():
    table, _, strands = properties()
    solid = strands == 1
    assert solid.sum() == 6
    exact = [gauge_diameter(GAUGE[size]) for size in table.printed["size"][solid]]
    np.testing.assert_allclose(table["overall_dia_in"][solid], exact, atol=0.0005 + 1e-9, rtol=0)


def test_strands_make_up_the_area():
    table, area, strands = properties()
    several = strands > 1
    exact = np.sqrt(area[several] / strands[several]) / 1000
    np.testing.assert_allclose(table["strand_dia_in"][several], exact, atol=0.0006, rtol=0)


def test_overall_area_is_that_of_the_diameter():
    table, _, _ = properties()
    diameter = table["overall_dia_in"]
    # Stranded 12 AWG is printed 0.006 for 0.00665: cut off, not rounded.
    slack = 0.0006 + np.pi / 2 * diameter * 0.0005
    assert (np.abs(table["overall_area_in2"] - np.pi / 4 * diameter**2) <= slack).all()


def test_square_millimeters_are_the_circular_mils():
    table, area, _ = properties()
    exact = area * np.pi / 4 * 0.0254**2
    slack = half_last_digits(table.printed["area_mm2"]) + 0.003 * exact
    assert (np.abs(table["area_mm2"] - exact) <= slack).all()


# Resistivity at 20 degC in ohm mm2/m and its temperature coefficient: annealed copper of
# IEC 60028; hard-drawn aluminum of IEC 60889 (61 percent conductivity).
RESISTIVITY = {"cu_uncoated": (1 / 58, 0.00393), "al": (0.028264, 0.00403)}


@pytest.mark.parametrize("metal", RESISTIVITY)
def test_resistance_follows_from_the_resistivity(metal):
    table, area, strands = properties()
    rho, alpha = RESISTIVITY[metal]
    mm2 = area * np.pi / 4 * 0.0254**2
    solid = rho * (1 + alpha * 55) / mm2 * 304.8  # ohm per 1000 ft at 75 degC
    column = f"r_dc75_{metal}_ohm_per_kft"
    printed, slack = table[column], half_last_digits(table.printed[column])
    # The lay of the strands makes them some 2 percent longer than the conductor.
    lay = np.where(strands > 1, 1.02, 1.0)
    assert (np.abs(printed - solid * lay) <= slack + 0.007 * solid).all()


@pytest.mark.parametrize(("metal", "k"), [("cu_uncoated", 12.9), ("al", 21.2)])
def test_resistance_of_1000_kcmil_is_the_installers_factor(metal, k):
    # The factor of the voltage drop formula in the trade, ohm cmil/ft.
    table, _, _ = properties()
    row = table.printed["size"].tolist().index("1000")
    assert 1000 * table[f"r_dc75_{metal}_ohm_per_kft"][row] == pytest.approx(k, abs=0.05)


def test_tinned_copper_has_more_resistance_than_bare():
    table, _, _ = properties()
    ratio = table["r_dc75_cu_coated_ohm_per_kft"] / table["r_dc75_cu_uncoated_ohm_per_kft"]
    assert ((ratio > 1.02) & (ratio < 1.08)).all()


def test_alternating_current_meets_more_resistance_than_direct():
    ac, dc = tables.read("ac_impedance"), tables.read("conductor_properties")
    for metal, bare in (("cu", "cu_uncoated"), ("al", "al")):
        of_size = dict(zip(dc.printed["size"], dc[f"r_dc75_{bare}_ohm_per_kft"], strict=True))
        direct = np.array([of_size[size] for size in ac.printed["size"]])
        for conduit in ("pvc", "al_conduit", "steel"):
            column = f"r_{metal}_{conduit}"
            listed = ~np.isnan(ac[column])
            slack = half_last_digits(ac.printed[column])[listed]
            assert (ac[column][listed] >= direct[listed] - slack - 0.02 * direct[listed]).all()
            assert rising(-ac[column][listed])
            # Skin and proximity effect together stay below 60 percent at 60 Hz and 1000 kcmil.
            assert (ac[column][listed] <= 1.6 * direct[listed] + slack).all()


def test_steel_conduit_raises_the_reactance_by_a_quarter():
    # Usual allowance for magnetic conduit (from memory).
    table = tables.read("ac_impedance")
    ratio = table["xl_steel_conduit"] / table["xl_pvc_or_al_conduit"]
    assert ((ratio > 1.22) & (ratio < 1.29)).all()
    assert not any(np.isnan(table[f"xl_{c}"]).any() for c in ("steel_conduit", "pvc_or_al_conduit"))


# Raceways


def test_insulated_area_is_that_of_the_diameter_and_holds_the_conductor():
    table, bare = tables.read("insulated_conductor_area"), tables.read("conductor_properties")
    metal = dict(zip(bare.printed["size"], bare["overall_dia_in"], strict=True))
    within = np.array([metal[size] for size in table.printed["size"]])
    kinds = [name.removesuffix("_dia_in") for name in table.printed if name.endswith("_dia_in")]
    assert len(kinds) == 4
    for kind in kinds:
        diameter, area = table[f"{kind}_dia_in"], table[f"{kind}_area_in2"]
        assert (np.abs(area - np.pi / 4 * diameter**2) <= 0.00006).all(), kind
        assert rising(diameter)
        # Insulation of 600 V is between 15 and 110 mil thick; nylon over it 4 to 9 mil.
        assert ((diameter - within > 0.030) & (diameter - within < 0.2205)).all(), kind


def test_raceway_area_is_that_of_the_diameter():
    table = tables.read("raceway_area")
    exact = np.pi / 4 * table["internal_dia_in"] ** 2
    slack = 0.0005 + np.pi / 2 * table["internal_dia_in"] * 0.0005
    assert (np.abs(table["area_100_in2"] - exact) <= slack).all()


@pytest.mark.parametrize(
    ("column", "part"),
    [
        ("area_60_in2", 0.60),
        ("area_1wire_53_in2", 0.53),
        ("area_2wire_31_in2", 0.31),
        ("area_over2_40_in2", 0.40),
    ],
)
def test_raceway_percent_columns_follow_from_the_area(column, part):
    table = tables.read("raceway_area")
    np.testing.assert_allclose(table[column], part * table["area_100_in2"], atol=0.0011, rtol=0)


def test_fill_limits_are_those_of_the_raceway_columns():
    # Chapter 9 states the percent twice: in Table 1 and note 4, and as columns of Table 4.
    table, limits = tables.read("raceway_area"), tables.read("raceway_fill_limit")["fill_pct"]
    columns = ("area_1wire_53_in2", "area_2wire_31_in2", "area_over2_40_in2")
    for column, percent in zip(columns, limits, strict=True):
        ratio = table[column].sum() / table["area_100_in2"].sum()
        assert 100 * ratio == pytest.approx(percent, abs=0.01)
    notes = tables.read("raceway_fill_notes")
    nipple = notes["value"][notes.printed["item"].tolist().index("nipple_max_fill")]
    ratio = table["area_60_in2"].sum() / table["area_100_in2"].sum()
    assert 100 * ratio == pytest.approx(nipple, abs=0.01)


def test_raceways_rise_with_trade_size():
    table = tables.read("raceway_area")
    for raceway in set(table.printed["raceway"]):
        of_raceway = table.printed["raceway"] == raceway
        assert rising(table["metric_designator"][of_raceway])
        assert rising(table["area_100_in2"][of_raceway])


def test_trade_sizes_have_one_metric_designator():
    table = tables.read("raceway_area")
    pairs = set(zip(table.printed["trade_size"], table.printed["metric_designator"], strict=True))
    assert len(pairs) == len({trade for trade, _ in pairs})


def test_schedule_80_is_narrower_than_schedule_40():
    table = tables.read("raceway_area")
    bore = {
        kind: dict(
            zip(
                table.printed["trade_size"][table.printed["raceway"] == kind],
                table["internal_dia_in"][table.printed["raceway"] == kind],
                strict=True,
            )
        )
        for kind in ("PVC40", "PVC80")
    }
    assert bore["PVC40"].keys() == bore["PVC80"].keys()
    assert all(bore["PVC80"][trade] < bore["PVC40"][trade] for trade in bore["PVC40"])


# Grounding


def index_of(sizes):
    return np.array([SIZES.number[size] for size in sizes])


def test_equipment_grounding_rises_and_aluminum_is_larger():
    table = tables.read("equipment_grounding_conductor")
    copper, aluminum = index_of(table.printed["cu_size"]), index_of(table.printed["al_size"])
    assert rising(table["ocpd_not_over_a"])
    assert set(table["ocpd_not_over_a"]) <= set(tables.read("standard_ratings")["rating_a"])
    assert rising(copper)
    assert rising(aluminum, strictly=False)
    assert (SIZES.area[aluminum] >= 1.25 * SIZES.area[copper]).all()


def circular_mils(size):
    # 1100 kcmil ends a row, though no conductor has that size.
    return 1000 * SIZES.area[SIZES.number[size]] if size in SIZES.number else 1000 * float(size)


@pytest.mark.parametrize("name", ["grounding_electrode_conductor", "bonding_jumper"])
def test_grounding_rows_join_and_give_the_area_of_their_size(name):
    table = tables.read(name)
    for metal in ("cu", "al"):
        upper = table[f"{metal}_max_cmil"][:-1]
        named = [circular_mils(size) for size in table.printed[f"{metal}_to"][:-1]]
        np.testing.assert_allclose(upper, named)
        assert rising(upper)
        assert np.isnan(table[f"{metal}_max_cmil"][-1])
        starts, ends = table.printed[f"{metal}_from"][1:], table.printed[f"{metal}_to"][:-1]
        for start, end in zip(starts, ends, strict=True):
            if start.startswith("over "):
                assert start == f"over {end}"
            else:
                assert SIZES.number[start] == SIZES.number[end] + 1


@pytest.mark.parametrize(("metal", "jumper"), [("cu", "jumper_cu"), ("al", "jumper_al")])
def test_one_eighth_above_the_bonding_table_never_falls_below_its_last_size(metal, jumper):
    # 250.102(C)(1), note 1: 12.5 percent of the area above the last row.
    table = tables.read("bonding_jumper")
    last = SIZES.area[SIZES.number[table.printed[jumper][-2]]]
    assert table["min_fraction_of_area"][-1] == 0.125
    assert 0.125 * table[f"{metal}_max_cmil"][-2] / 1000 >= last
    assert rising(index_of(table.printed[jumper][:-1]))


def test_electrode_conductor_and_jumper_agree_row_by_row():
    # 250.66 and 250.102(C)(1) part only above 1100 kcmil copper or 1750 kcmil aluminum.
    electrode = tables.read("grounding_electrode_conductor").printed
    jumper = tables.read("bonding_jumper").printed
    for metal in ("cu", "al"):
        assert electrode[f"gec_{metal}"][:-1].tolist() == jumper[f"jumper_{metal}"][:-1].tolist()
        assert rising(index_of(electrode[f"gec_{metal}"]))


# Devices and transformers


def test_standard_ratings_rise_and_are_listed_for_both_devices():
    table = tables.read("standard_ratings")
    assert rising(table["rating_a"])
    more_fuses = {1.0, 3.0, 6.0, 10.0, 601.0}  # 240.6(A), further ratings of fuses
    for edition in (2017, 2020, 2023):
        main = table[f"in_table_{edition}"] == 1
        np.testing.assert_array_equal(table[f"std_breaker_{edition}"] == 1, main)
        fuses = set(table["rating_a"][table[f"std_fuse_{edition}"] == 1])
        assert fuses == set(table["rating_a"][main]) | more_fuses
    assert (table["rating_a"][table["in_table_2023"] == 1] % 5 == 0).all()
    added = (table["in_table_2023"] == 1) & (table["in_table_2020"] == 0)
    assert table["rating_a"][added].tolist() == [10.0]


def test_preferred_ratings_rise_and_hold_the_regulated_ones():
    table, regulated = tables.read("preferred_kva"), tables.read("transformer_efficiency")
    for phases in (1, 3):
        rated = table["kva"][table["phases"] == phases]
        assert rising(rated)
        marked = table["kva"][
            (table["phases"] == phases) & (table["doe_regulated_10cfr431_196"] == 1)
        ]
        listed = regulated["kva"][regulated["phases"] == phases]
        assert marked.tolist() == listed.tolist()
        assert set(listed) <= set(rated)


def test_larger_transformers_are_more_efficient_and_the_later_rule_is_stricter():
    table = tables.read("transformer_efficiency")
    for phases in (1, 3):
        later = table["eff_pct_from_2016_01_01"][table["phases"] == phases]
        sooner = table["eff_pct_from_2007_01_01"][table["phases"] == phases]
        assert rising(later)
        assert rising(sooner)
        assert (later >= sooner).all()
        # Loss at a load grows as the three-quarter power of the rating, or slower.
        kva = table["kva"][table["phases"] == phases]
        loss = kva * (100 / later - 1)
        power = np.diff(np.log(loss)) / np.diff(np.log(kva))
        assert ((power > 0.5) & (power < 1)).all()


def test_sound_level_rows_join_and_rise():
    table = tables.read("sound_level")
    np.testing.assert_array_equal(table["kva_over"][1:], table["kva_max"][:-1])
    for column in ("vent_k1_db", "vent_k4_k9_db", "vent_k13_k20_db", "sealed_nonvent_db"):
        assert rising(table[column], strictly=False)
    assert (table["vent_k13_k20_db"] >= table["vent_k1_db"]).all()


def test_protection_rows_join_and_keep_their_order():
    table = tables.read("transformer_protection_1000v")
    for method, winding in set(zip(table.printed["method"], table.printed["winding"], strict=True)):
        rows = (table.printed["method"] == method) & (table.printed["winding"] == winding)
        np.testing.assert_array_equal(
            table["current_at_least_a"][rows][:-1], table["current_less_than_a"][rows][1:]
        )
        assert table["current_at_least_a"][rows][-1] == 0
        assert np.isnan(table["current_less_than_a"][rows][0])
        percent = table["max_pct"][rows]
        if not np.isnan(percent).any():
            assert rising(percent, strictly=False)
    # Only 125 percent may go to the next standard rating, note 1.
    np.testing.assert_array_equal(table["next_higher_std_ok"] == 1, table["max_pct"] == 125)


def test_protection_over_1000_v_allows_a_fuse_no_more_than_a_breaker():
    table = tables.read("transformer_protection_over_1000v")
    assert (table["pri_fuse_pct"] <= table["pri_breaker_pct"]).all()
    given = ~np.isnan(table["sec_over_1000v_fuse_pct"])
    assert (table["sec_over_1000v_fuse_pct"] <= table["sec_over_1000v_breaker_pct"])[given].all()


def test_taps_reach_as_far_as_their_steps():
    table = tables.read("taps")
    for side in ("above", "below"):
        np.testing.assert_array_equal(
            table[f"range_{side}_pct"], table[f"taps_{side}"] * table["step_pct"]
        )


# Voltages and space


def test_voltage_ranges_are_in_proportion_to_120_volts():
    # ANSI C84.1 gives the ranges on a 120 V base; those of other systems are multiples, rounded.
    table = tables.read("voltage_ranges")
    kinds = ("service_max", "service_min", "util_max", "util_min", "util_min_no_lighting")
    for label in ("A", "B"):
        rows = table.printed["range"] == label
        base = np.flatnonzero(rows & (table.printed["nominal"] == "120"))[0]
        for kind in kinds:
            unit = table[f"ll_{kind}"][base] / 120
            assert (np.abs(table[f"ll_{kind}"] - unit * table["ll_nominal"])[rows] <= 4).all(), (
                label,
                kind,
            )
            given = rows & ~np.isnan(table["ln_nominal"])
            off = np.abs(table[f"ln_{kind}"] - unit * table["ln_nominal"])
            assert (off[given] <= 2).all(), (label, kind)


def test_range_b_is_wider_than_range_a():
    table = tables.read("voltage_ranges")
    a, b = table.printed["range"] == "A", table.printed["range"] == "B"
    assert table.printed["nominal"][a].tolist() == table.printed["nominal"][b].tolist()
    for side in ("ll", "ln"):
        given = ~np.isnan(table[f"{side}_nominal"][a])
        for kind in ("service", "util"):
            top, bottom = table[f"{side}_{kind}_max"], table[f"{side}_{kind}_min"]
            assert (top[b] > top[a])[given].all()
            assert (bottom[b] < bottom[a])[given].all()


def test_wye_voltages_are_line_voltages_over_root_three():
    table = tables.read("voltage_ranges")
    wye = np.char.find(table.printed["nominal"], "Y/") > 0
    assert wye.sum() == 4
    for kind in ("nominal", "service_max", "service_min", "util_max", "util_min"):
        line, ground = table[f"ll_{kind}"][wye], table[f"ln_{kind}"][wye]
        np.testing.assert_allclose(ground, line / np.sqrt(3), atol=1.5, rtol=0)


def test_working_space_deepens_with_voltage_and_condition():
    table = tables.read("working_space")
    depth = table["depth_ft"].reshape(3, 3)
    assert table["condition"].tolist() == [1, 2, 3] * 3
    assert (np.diff(depth, axis=0) >= 0).all()
    assert (np.diff(depth, axis=1) >= 0).all()
    # The metric depths are rounded to 100 mm.
    assert (np.abs(table["depth_mm"] - 304.8 * table["depth_ft"]) <= 75).all()
    assert (table["depth_mm"] % 100 == 0).all()
    ends = table["v_to_ground_max"].reshape(3, 3)
    starts = table["v_to_ground_min"].reshape(3, 3)
    assert (np.diff(ends, axis=1) == 0).all()
    assert (starts[0] == 0).all()
    np.testing.assert_array_equal(starts[1:], ends[:-1] + 1)
