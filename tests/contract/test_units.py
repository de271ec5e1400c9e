"""Conversions at the door: every unit that people write for a quantity of the variables table.

Factors are those of the international yard and pound (1 in = 25.4 mm, 1 lb = 0.45359237 kg), of the US liquid
gallon (231 in3) and of the acre (43560 ft2): definitions, as in NIST Special Publication 811, Appendix B (from
memory). Radiation and depth: FAO-56 Table 3 and Annex 1, in tests/published/test_units.py.
"""

import math
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from waterbudget.units import UnitError, convert, parse_quantity
from waterbudget.variables import VARIABLES

FT = 0.3048
GALLON = 231 * 0.0254**3
ACRE = 43560 * FT**2

QUANTITIES = [
    ("24 in", "mm", 609.6),
    ("24in", "mm", 609.6),
    ("24 inches", "mm", 609.6),
    ("  1.5 cm ", "mm", 15),
    ("3 ft", "m", 3 * FT),
    ("3 feet", "m", 3 * FT),
    ("0.3 in/h", "mm h-1", 7.62),
    ("0.3 in/hr", "mm h-1", 7.62),
    ("8 mm h-1", "mm h-1", 8),
    ("5 gpm", "m3 h-1", 5 * GALLON * 60),
    ("5 gal/min", "m3 h-1", 5 * GALLON * 60),
    ("1 gph", "m3 h-1", GALLON),
    ("2 cfs", "m3 h-1", 2 * FT**3 * 3600),
    ("2 ft3/s", "m3 h-1", 2 * FT**3 * 3600),
    ("5 L/s", "m3 h-1", 18),
    ("5 lps", "m3 h-1", 18),
    ("1.2e3 m3/h", "m3 h-1", 1200),
    ("1 acre-ft/day", "m3 h-1", ACRE * FT / 24),
    ("12 ac", "ha", 12 * ACRE / 1e4),
    ("1 acre", "ha", ACRE / 1e4),
    ("2 acres", "ha", 2 * ACRE / 1e4),
    ("2500 m2", "ha", 0.25),
    ("3 ha", "ha", 3),
    ("68 degF", "degC", 20),
    ("68 °F", "degC", 20),
    ("68 F", "degC", 20),
    ("-40 degF", "degC", -40),
    ("20 C", "degC", 20),
    ("293.15 K", "degC", 20),
    ("250 W m-2", "MJ m-2 day-1", 21.6),
    ("250 W/m2", "MJ m-2 day-1", 21.6),
    ("20 MJ/m2/day", "MJ m-2 day-1", 20),
    ("20 MJ m^-2 d^-1", "MJ m-2 day-1", 20),
    ("20 MJ·m⁻²·day⁻¹", "MJ m-2 day-1", 20),
    ("20 MJ/m2", "MJ m-2 day-1", 20),
    ("500 langley/day", "MJ m-2 day-1", 20.92),
    ("500 ly/day", "MJ m-2 day-1", 20.92),
    ("500 cal/cm2/day", "MJ m-2 day-1", 20.92),
    ("10 mph", "m s-1", 4.4704),
    ("36 km/h", "m s-1", 10),
    ("10 knots", "m s-1", 18520 / 3600),
    ("20 psi", "kPa", 20 * 0.45359237 * 9.80665 / 0.0254**2 / 1000),
    ("1013 hPa", "kPa", 101.3),
    ("1013 mbar", "kPa", 101.3),
    ("1.5 in/ft", "m3 m-3", 0.125),
    ("150 mm/m", "m3 m-3", 0.15),
    ("13 %", "m3 m-3", 0.13),
    ("13 percent", "1", 0.13),
    ("80 pct", "1", 0.8),
    ("0.8 fraction", "%", 80),
    ("0.2 in", "mm day-1", 5.08),
    ("0.2 in/day", "mm day-1", 5.08),
    ("1 L/s/ha", "mm day-1", 8.64),
    ("90 min", "h", 1.5),
    ("3 weeks", "day", 21),
    ("40.5 degree", "degrees_north", 40.5),
    ("40.5 °", "degrees_north", 40.5),
    ("40.5 degrees_north", "degrees_north", 40.5),
    ("40.5 degree_north", "degrees_north", 40.5),
    ("40.5 degrees_N", "degrees_north", 40.5),
    ("40.5 deg", "degrees_north", 40.5),
    ("500 Ly/day", "MJ m-2 day-1", 20.92),
    ("5 GPM", "m3 h-1", 5 * GALLON * 60),
    ("30 cb", "kPa", 30),
    ("20 °C", "degC", 20),
    ("5000 ft", "m", 1524),
]


@pytest.mark.parametrize(("text", "wanted", "expected"), QUANTITIES)
def test_quantities_as_people_write_them(text, wanted, expected):
    assert parse_quantity(text, wanted) == pytest.approx(expected, rel=1e-12, abs=1e-12)


def test_inch_of_mercury():
    # 3386.389 Pa at 0 degC: NIST SP 811, Appendix B.8 (from memory).
    assert convert(29.92, "inHg", "kPa") == pytest.approx(29.92 * 3.386389, rel=1e-6)


@pytest.mark.parametrize("unit", sorted({variable.unit for variable in VARIABLES.values()}))
def test_every_canonical_unit_is_itself(unit):
    assert convert(3.25, unit, unit) == 3.25
    # With blanks inside it is not the same string, and must be understood.
    assert convert(3.25, f" {unit.replace(' ', '  ')} ", unit) == pytest.approx(3.25, rel=1e-15)


def test_arrays_are_converted_and_not_changed():
    values = np.array([32.0, np.nan, 212.0])
    np.testing.assert_allclose(convert(values, "degF", "degC"), [0, np.nan, 100], atol=1e-12)
    np.testing.assert_array_equal(values, [32.0, np.nan, 212.0])
    same = convert(values, "degF", "degF")
    assert same is not values
    np.testing.assert_array_equal(same, values)


def test_shapes_are_kept():
    assert convert(np.zeros((3, 2)), "in", "mm").shape == (3, 2)
    assert isinstance(convert(1.0, "in", "mm"), float)


@pytest.mark.parametrize(
    ("text", "wanted", "message"),
    [
        ("24", "mm", "has no unit.*such as mm, cm, in"),
        ("24 ", "mm", "has no unit"),
        ("", "mm", "does not begin with a number"),
        ("in", "mm", "does not begin with a number"),
        ("nan mm", "mm", "does not begin with a number"),
        ("inf mm", "mm", "does not begin with a number"),
        ("1e999 mm", "mm", "too large"),
        ("1/2 in", "mm", "decimal point"),
        ("1,5 in", "mm", "decimal point"),
        ("2-3 ft", "m", "ranges"),
        ("5 2 mm", "mm", "not one number"),
        ("5 inhes", "mm", "'inhes' is not known.*spelling"),
        ("5 in of water", "mm", "not known"),
        ("5 mm;", "mm", "not a unit alone"),
        ("5 (", "mm", "not known"),
        ("5 psi", "mm", "'psi' cannot become 'mm'"),
        ("5 mm", "mm h-1", "cannot become"),
        ("5 mm/day", "mm", "cannot become"),
        ("5 W/m2", "mm day-1", "cannot become.*in/day"),
        ("50 %", "degrees_north", "cannot become"),
        ("0.5 degree", "1", "cannot become"),
        ("20 degC m", "degC", "cannot become"),
        ("5 delta_degC", "degC", "cannot become"),
        ("5 dB", "1", "cannot become"),
        ("3 a", "ha", "two meanings"),
        ("3 t", "mm", "two meanings"),
    ],
)
def test_what_cannot_be_understood_is_refused(text, wanted, message):
    with pytest.raises(UnitError, match=message):
        parse_quantity(text, wanted)


def test_an_empty_unit_is_refused():
    with pytest.raises(UnitError, match="unit is empty"):
        convert(1.0, " ", "mm")


@given(st.text(max_size=10) | st.text("mMJdayhin/*^-() 0123456789.%°²acftgp", max_size=14))
def test_any_text_is_a_number_or_a_unit_error(unit):
    try:
        value = parse_quantity(f"1 {unit}", "mm")
    except UnitError:
        return
    assert math.isfinite(value)


def test_pint_is_imported_only_when_a_conversion_is_asked_for():
    code = (
        "import sys, waterbudget.units as u; u.convert(1.0, 'mm', 'mm'); assert 'pint' not in sys.modules; "
        "u.convert(1.0, 'in', 'mm'); assert 'pint' in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
