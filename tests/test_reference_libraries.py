"""Answers against general-purpose libraries: power flow, root finding, unit conversion.

The resistances and reactances are typed here from Chapter 9 Table 9, not read from the project.
"""

import cmath
import math

import pandapower
import pint
import pytest
from scipy import constants, optimize

import xlfuncs
from xlfuncs.current import full_load_current
from xlfuncs.readings import tap
from xlfuncs.voltage import longest_run, voltage_drop, voltage_drop_percent

# A library below pandapower announces a change of its own.
pytestmark = pytest.mark.filterwarnings("ignore:Downcasting object dtype:FutureWarning")

FEET_PER_KM = 1000 / constants.foot

# Size, material, conduit, then ohm per 1000 ft: resistance, reactance.
CABLES = [
    ("6", "copper", "pvc", 0.49, 0.051),
    ("1/0", "aluminum", "steel", 0.20, 0.055),
    ("4/0", "copper", "steel", 0.063, 0.051),
    ("500", "copper", "steel", 0.029, 0.048),
    ("750", "aluminum", "aluminum", 0.034, 0.038),
]


def power_flow(runs):
    """Return the voltage at the end and the current of each run to a load of constant current.

    A run is volts, amps, feet, power factor, ohm per 1000 ft twice, sets. All of them stand in
    one network, each with a source of its own: building a network is what takes time. The load is
    given at nominal voltage; as a load of constant current it takes less power where the voltage
    is lower, and the same amperes at the same power factor.
    """
    net = pandapower.create_empty_network(f_hz=60)
    ends = []
    for volts, amps, feet, power_factor, resistance, reactance, sets in runs:
        source, end = (pandapower.create_bus(net, vn_kv=volts / 1000) for _ in range(2))
        pandapower.create_ext_grid(net, source)
        pandapower.create_line_from_parameters(
            net,
            source,
            end,
            length_km=feet / FEET_PER_KM,
            r_ohm_per_km=resistance * FEET_PER_KM / 1000,
            x_ohm_per_km=reactance * FEET_PER_KM / 1000,
            c_nf_per_km=0,
            max_i_ka=1,
            parallel=sets,
        )
        power = math.sqrt(3) * volts * amps / 1e6
        pandapower.create_load(
            net,
            end,
            p_mw=power * power_factor,
            q_mvar=power * math.sqrt(1 - power_factor**2),
            const_i_p_percent=100,
            const_i_q_percent=100,
        )
        ends.append(end)
    pandapower.runpp(net, tolerance_mva=1e-11, max_iteration=50, numba=False)
    per_unit = net.res_bus.vm_pu.loc[ends].tolist()
    return [
        (volts * part, 1000 * current)
        for (volts, *_), part, current in zip(
            runs, per_unit, net.res_line.i_ka.tolist(), strict=True
        )
    ]


def across(amps, feet, power_factor, resistance, reactance, sets=1):
    """Part of one conductor's drop that stands at right angles to the load's voltage. [V]

    R cos + X sin is the part along that voltage. With q at right angles and V the source's
    voltage, the magnitude drops by up to q²/(2 V) more; never less.
    """
    sine = math.sqrt(1 - power_factor**2)
    return amps * (reactance * power_factor - resistance * sine) * feet / 1000 / sets


def most_above(amps, feet, power_factor, resistance, reactance, sets, end_volts):
    """Return what the drop line to line can be above R cos + X sin: sqrt(3) q² / (2 V). [V]"""
    q = across(amps, feet, power_factor, resistance, reactance, sets)
    return math.sqrt(3) * q**2 / (2 * end_volts / math.sqrt(3))


def test_the_drop_of_a_three_phase_run_is_that_of_a_power_flow():
    cases = [
        (amps, feet, power_factor, cable, sets)
        for amps, feet, sets in ((60, 90, 1), (200, 150, 1), (900, 200, 4))
        for power_factor in (0.3, 0.7, 0.85, 1.0)
        for cable in CABLES
        if sets == 1 or cable[0] != "6"  # no parallel sets below 1/0
    ]
    runs = [
        (480, amps, feet, power_factor, *cable[3:], sets)
        for amps, feet, power_factor, cable, sets in cases
    ]
    for (amps, feet, power_factor, cable, sets), (end_volts, flow) in zip(
        cases, power_flow(runs), strict=True
    ):
        assert flow == pytest.approx(amps, rel=1e-6)
        ours = voltage_drop(amps, feet, cable[0], 3, power_factor, *cable[1:3], sets)
        most = most_above(amps, feet, power_factor, *cable[3:], sets, end_volts)
        assert -1e-4 <= 480 - end_volts - ours <= most + 1e-4


def test_the_longest_run_drops_its_limit_in_a_power_flow():
    feet = [float(longest_run(100, 480, cable[0], 3, 3, 0.85, *cable[1:3])) for cable in CABLES]
    runs = [
        (480, 100, length, 0.85, *cable[3:], 1) for length, cable in zip(feet, CABLES, strict=True)
    ]
    for run, (end_volts, _) in zip(runs, power_flow(runs), strict=True):
        assert -1e-4 <= 0.97 * 480 - end_volts <= most_above(*run[1:], end_volts) + 1e-4


@pytest.mark.parametrize("power_factor", [0.5, 0.85, 1.0])
@pytest.mark.parametrize(("size", "material", "conduit", "resistance", "reactance"), CABLES)
def test_the_drop_of_a_single_phase_run_is_that_of_its_phasors(
    size, material, conduit, resistance, reactance, power_factor
):
    """Out and back is twice the impedance; the load's voltage is the one that leaves 240 V."""
    amps, feet, volts = 40, 120, 240
    loop = 2 * complex(resistance, reactance) * feet / 1000
    current = cmath.rect(amps, -math.acos(power_factor))
    load_volts = optimize.brentq(lambda v: abs(v + current * loop) - volts, 0, volts, xtol=1e-12)
    ours = voltage_drop(amps, feet, size, 1, power_factor, material, conduit)
    most = (2 * across(amps, feet, power_factor, resistance, reactance)) ** 2 / (2 * load_volts)
    assert -1e-9 <= volts - load_volts - ours <= most + 1e-9


def test_the_longest_run_is_where_a_root_finder_sees_the_limit():
    for size, limit, phases in (("2", 3, 3), ("4/0", 2, 1), ("750", 5, 3)):
        found = optimize.brentq(
            lambda feet, s=size, p=limit, n=phases: (
                float(voltage_drop_percent(150, 480, feet, s, n)) - p
            ),
            1,
            5000,
            xtol=1e-9,
        )
        assert longest_run(150, 480, size, limit, phases) == pytest.approx(found, rel=1e-9)


def test_the_full_load_current_is_that_of_a_power_flow():
    """A load that takes its power at nominal voltage, at the source itself."""
    ratings = [(75, 480), (112.5, 208), (1500, 13_800)]
    net = pandapower.create_empty_network(f_hz=60)
    for kva, volts in ratings:
        source, end = (pandapower.create_bus(net, vn_kv=volts / 1000) for _ in range(2))
        pandapower.create_ext_grid(net, source)
        pandapower.create_line_from_parameters(
            net, source, end, 1e-3, r_ohm_per_km=1e-2, x_ohm_per_km=1e-2, c_nf_per_km=0, max_i_ka=1
        )
        pandapower.create_load(net, end, p_mw=0.8 * kva / 1000, q_mvar=0.6 * kva / 1000)
    pandapower.runpp(net, numba=False)
    for (kva, volts), flow in zip(ratings, net.res_line.i_ka.tolist(), strict=True):
        assert full_load_current(kva, volts) == pytest.approx(1000 * flow, rel=1e-4)


def test_the_tap_is_the_one_that_serves_best_in_a_power_flow():
    """Transformers of 480 to 208 V without load, one for each supply and tap of 2.5 %."""
    supplies = [0.87, 0.905, 0.92, 0.94, 0.965, 0.98, 1.0, 1.02, 1.04, 1.08]
    net = pandapower.create_empty_network(f_hz=60)
    secondaries = {}
    for supply in supplies:
        primary = pandapower.create_bus(net, vn_kv=0.48)
        pandapower.create_ext_grid(net, primary, vm_pu=supply)
        for position in range(-4, 3):
            secondaries[supply, position] = pandapower.create_bus(net, vn_kv=0.208)
            pandapower.create_transformer_from_parameters(
                net,
                primary,
                secondaries[supply, position],
                sn_mva=0.075,
                vn_hv_kv=0.48,
                vn_lv_kv=0.208,
                vkr_percent=2,
                vk_percent=5,
                pfe_kw=0,
                i0_percent=0,
                tap_side="hv",
                tap_neutral=0,
                tap_min=-4,
                tap_max=2,
                tap_step_percent=2.5,
                tap_step_degree=0,
                tap_pos=position,
                tap_changer_type="Ratio",
            )
    pandapower.runpp(net, numba=False)
    volts = {key: 208 * net.res_bus.vm_pu.at[bus] for key, bus in secondaries.items()}
    for supply in supplies:
        best = min(range(-4, 3), key=lambda place, at=supply: abs(volts[at, place] - 208))
        assert tap(volts[supply, 0], 208) == 2.5 * best
    assert {float(tap(volts[supply, 0], 208)) for supply in supplies} == {
        *(-10, -7.5, -5, -2.5, 0, 2.5, 5)
    }


@pytest.mark.parametrize(
    ("text", "feet"),
    [
        ("30 m", 30 / constants.foot),
        ("0.25 km", 250 / constants.foot),
        ("120 yd", 120 * constants.yard / constants.foot),
        ("1500 in", 1500 * constants.inch / constants.foot),
        ("0.2 mi", 0.2 * constants.mile / constants.foot),
        ("2400 cm", 24 / constants.foot),
        ("12'-6\"", 12.5),
    ],
)
def test_a_length_in_another_unit_is_converted_as_by_definition(text, feet):
    assert xlfuncs.call("XF_VOLTAGE_DROP", 90, text, "2") == pytest.approx(
        xlfuncs.call("XF_VOLTAGE_DROP", 90, feet, "2"), rel=1e-9
    )


@pytest.mark.parametrize(
    ("name", "cells", "place", "unit"),
    [
        ("XF_FULL_LOAD_CURRENT", ("1.5 MVA", 13_800), 0, "kV*A"),
        ("XF_FULL_LOAD_CURRENT", (75, "0.48 kV"), 1, "V"),
        ("XF_VOLTAGE_DROP", ("0.09 kA", 150, "2"), 0, "A"),
        ("XF_VOLTAGE_DROP", (90, "45.72 m", "2"), 1, "ft"),
        ("XF_LONGEST_RUN", (90, "0.48 kV", "2"), 1, "V"),
        ("XF_VOLTAGE_DEVIATION", ("474000 mV", 480), 0, "V"),
        ("XF_AMBIENT_FACTOR", ("104 degF",), 0, "degC"),
        ("XF_AMBIENT_FACTOR", ("313.15 K",), 0, "degC"),
    ],
)
def test_a_quantity_with_its_unit_gives_what_pint_converts_it_to(name, cells, place, unit):
    registry = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    number, written = cells[place].split()
    written = {"MVA": "MV*A", "K": "kelvin"}.get(written, written)
    converted = registry.Quantity(float(number), written).to(unit).magnitude
    plain = [*cells[:place], round(converted, 9), *cells[place + 1 :]]
    assert xlfuncs.call(name, *cells) == pytest.approx(xlfuncs.call(name, *plain), rel=1e-9)
