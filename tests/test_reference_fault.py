"""Fault currents against pandapower's short-circuit calculation of the same impedances.

IEC 60909 multiplies the nominal voltage by a factor c, 1.1 for the largest currents in low-voltage
systems of 10% tolerance. Here the voltage is the nominal one, c = 1: the source is given c times
its fault power, so that its impedance is the same, and c is divided out of the result.
"""

import math

import pandapower
import pandapower.shortcircuit
import pytest

from xlfuncs.fault import fault_after_run, fault_current

# A library below pandapower announces a change of its own.
pytestmark = pytest.mark.filterwarnings("ignore:Downcasting object dtype:FutureWarning")

C = 1.1
FEET_PER_KM = 1000 / 0.3048

# Chapter 9 Table 9, ohm per 1000 ft: size, material, conduit, R, X.
CABLES = [
    ("3/0", "copper", "steel", 0.079, 0.052),
    ("6", "copper", "pvc", 0.49, 0.051),
    ("500", "aluminum", "aluminum", 0.048, 0.039),
    ("1/0", "aluminum", "steel", 0.20, 0.055),
]


def network(volts, fault_amps, x_over_r):
    """Return a network of one bus with a source of that fault current."""
    net = pandapower.create_empty_network(f_hz=60)
    bus = pandapower.create_bus(net, vn_kv=volts / 1000)
    pandapower.create_ext_grid(
        net,
        bus,
        s_sc_max_mva=C * math.sqrt(3) * volts * fault_amps / 1e6,
        rx_max=1 / x_over_r,
    )
    return net, bus


def short_circuit(net, bus, fault="3ph"):
    """Return the initial symmetrical current at the voltage factor 1. [A]"""
    pandapower.shortcircuit.calc_sc(net, fault=fault, case="max", lv_tol_percent=10)
    return 1000 * net.res_bus_sc.ikss_ka.at[bus] / C


@pytest.mark.parametrize("x_over_r", [0.8, 4.0, 15.0])
@pytest.mark.parametrize(
    ("size", "material", "conduit", "resistance", "reactance", "sets"),
    [(*cable, 1) for cable in CABLES] + [(*cable, 3) for cable in CABLES if cable[0] != "6"],
)
def test_a_three_phase_run_with_vectors(
    size, material, conduit, resistance, reactance, x_over_r, sets
):
    net, source = network(480, 22_000, x_over_r)
    end = pandapower.create_bus(net, vn_kv=0.48)
    pandapower.create_line_from_parameters(
        net,
        source,
        end,
        length_km=150 / FEET_PER_KM,
        r_ohm_per_km=resistance / 1000 * FEET_PER_KM,
        x_ohm_per_km=reactance / 1000 * FEET_PER_KM,
        c_nf_per_km=0,
        max_i_ka=1,
        parallel=sets,
    )
    got = fault_after_run(22_000, 480, 150, size, 3, material, conduit, sets, x_over_r)
    assert got == pytest.approx(short_circuit(net, end), rel=1e-6)


@pytest.mark.parametrize(("size", "material", "conduit", "resistance", "reactance"), CABLES)
def test_a_fault_between_two_conductors_of_a_run(size, material, conduit, resistance, reactance):
    """A line-to-line fault has the loop of two conductors: the single-phase case."""
    net, source = network(240, 15_000, 3.0)
    end = pandapower.create_bus(net, vn_kv=0.24)
    pandapower.create_line_from_parameters(
        net,
        source,
        end,
        length_km=80 / FEET_PER_KM,
        r_ohm_per_km=resistance / 1000 * FEET_PER_KM,
        x_ohm_per_km=reactance / 1000 * FEET_PER_KM,
        c_nf_per_km=0,
        max_i_ka=1,
    )
    at_source = short_circuit(net, source, "2ph")
    assert at_source == pytest.approx(15_000 * math.sqrt(3) / 2, rel=1e-6)
    got = fault_after_run(at_source, 240, 80, size, 1, material, conduit, 1, 3.0)
    assert got == pytest.approx(short_circuit(net, end, "2ph"), rel=1e-6)


@pytest.mark.parametrize(
    ("kva", "primary", "volts", "impedance"),
    [(75, 480, 208, 5.0), (500, 480, 208, 4.5), (1500, 13_800, 480, 5.75)],
)
@pytest.mark.parametrize("source_kva", [1e8, 250_000, 5_000])
def test_a_transformer_behind_a_source(kva, primary, volts, impedance, source_kva):
    """Source and transformer get one angle, so that magnitudes and vectors add up alike.

    IEC 60909 corrects a transformer's impedance by K = 0.95 c / (1 + 0.6 x). The impedance handed
    over is divided by it, so that the nameplate's remains.
    """
    x_over_r = 5.0
    x = impedance / 100 * x_over_r / math.hypot(1, x_over_r)
    # x of the formula is that of the impedance handed over, x / K: solved for K.
    correction = 0.95 * C - 0.6 * x
    net = pandapower.create_empty_network(f_hz=60)
    high = pandapower.create_bus(net, vn_kv=primary / 1000)
    low = pandapower.create_bus(net, vn_kv=volts / 1000)
    pandapower.create_ext_grid(net, high, s_sc_max_mva=C * source_kva / 1000, rx_max=1 / x_over_r)
    pandapower.create_transformer_from_parameters(
        net,
        high,
        low,
        sn_mva=kva / 1000,
        vn_hv_kv=primary / 1000,
        vn_lv_kv=volts / 1000,
        vk_percent=impedance / correction,
        vkr_percent=impedance / correction / math.hypot(1, x_over_r),
        pfe_kw=0,
        i0_percent=0,
        vector_group="Dyn",
        shift_degree=30,
    )
    got = fault_current(kva, volts, impedance, 3, source_kva)
    assert got == pytest.approx(short_circuit(net, low), rel=1e-6)
