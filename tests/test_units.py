"""Quantities as people write them. Conversions are exact definitions: 1 ft is 0.3048 m."""

import subprocess
import sys

import pytest

from xlfuncs.units import UnreadableError, quantity


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("30 m", "ft", 30 / 0.3048),
        ("30m", "ft", 30 / 0.3048),
        ("1.2e2 ft", "ft", 120),
        ("12'-6\"", "ft", 12.5),
        ("12' 6\"", "ft", 12.5),
        ("12'6 1/2\"", "ft", 12 + 6.5 / 12),
        ("12 ft 6 in", "ft", 12.5),
        ("12'", "ft", 12),
        ('30"', "ft", 2.5),
        ("95 degF", "degC", 35),
        ("95°F", "degC", 35),
        ("95 F", "degC", 35),
        ("104 °F", "degC", 40),
        ("40 C", "degC", 40),
        ("-4 degF", "degC", -20),
        ("1.5 MVA", "kVA", 1500),
        ("75000 VA", "kVA", 75),
        ("0.48 kV", "V", 480),
        ("0.2 kA", "A", 200),
        ("3%", "%", 3),
        ("3 percent", "%", 3),
        ("85%", "-", 0.85),
        ("1,234.5", "A", 1234.5),
        ("+5", "A", 5),
        (".5", "A", 0.5),
        ("350 MCM", "kcmil", 350),
    ],
)
def test_reads(text, unit, value):
    assert quantity(text, unit) == pytest.approx(value, rel=1e-11)


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("", "ft"),
        ("1,2", "A"),
        ("12,34", "A"),
        ("30 s", "ft"),
        ("75 kW", "kVA"),
        ("75 kVA", "W"),
        ("208/120", "V"),
        ("9**9**9", "V"),
        ("9 m**999999999", "ft"),
        ("1 __import__('os')", "ft"),
        ("12'-13\"", "ft"),
        ("12' 6 1/0\"", "ft"),
        ("0.85 V", "-"),
        ("nan", "ft"),
        ("infinity", "ft"),
        ("=1+1", "ft"),
        ("٣", "ft"),
        ("1" * 5000 + " m", "kVA"),
    ],
)
def test_refuses(text, unit):
    with pytest.raises(UnreadableError):
        quantity(text, unit)


def test_pint_is_imported_only_when_a_unit_needs_it():
    code = (
        "import sys, xlfuncs; xlfuncs.call('XF_FULL_LOAD_CURRENT', '75', 480); "
        "assert 'pint' not in sys.modules; xlfuncs.call('XF_FULL_LOAD_CURRENT', '75 kVA', 480); "
        "assert 'pint' in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
