"""Pressure, humidity and wind against the printed values of FAO Irrigation and Drainage Paper 56.

Source, unless another stands beside the check: Allen, Pereira, Raes and Smith (1998), FAO-56,
chapter 3 (http://www.fao.org/docrep/x0490e/x0490e07.htm) and Annex 2 (.../x0490e0j.htm). A tolerance is half
of the last printed digit, with a hundredth of it on top for numbers that stand on the half itself.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget.weather import atmosphere

TABLES = Path(__file__).parent / "tables"


def printed(name):
    return pd.read_csv(TABLES / f"fao56_annex2_{name}.csv", comment="#")


def test_example_2_pressure_and_psychrometric_constant(check):
    pressure = atmosphere.pressure_from_elevation(1800)
    gamma = atmosphere.psychrometric_constant(pressure)
    check("FAO-56, Example 2 (Eq. 7)", "pressure at 1800 m [kPa]", 81.8, pressure, 0.05)
    check("FAO-56, Example 2 (Eq. 8)", "psychrometric constant [kPa degC-1]", 0.054, gamma, 0.0005)


def test_example_3_saturation_vapour_pressure(check):
    # Printed to 0.001; e0(24.5) is 3.0746, which the paper prints as 3.075.
    e0 = atmosphere.saturation_vapour_pressure
    mean = atmosphere.mean_saturation_vapour_pressure(15.0, 24.5)
    check("FAO-56, Example 3 (Eq. 11)", "e0 at 24.5 degC [kPa]", 3.075, e0(24.5), 0.000505)
    check("FAO-56, Example 3 (Eq. 11)", "e0 at 15.0 degC [kPa]", 1.705, e0(15.0), 0.000505)
    check("FAO-56, Example 3 (Eq. 12)", "mean of e0 at 15.0 and 24.5 degC [kPa]", 2.39, mean, 0.005)
    check("FAO-56, Example 3 (Eq. 11)", "e0 at 19.75 degC [kPa]", 2.30, e0(19.75), 0.005)


def test_example_4_psychrometer(check):
    pressure = atmosphere.pressure_from_elevation(1200)
    saturated = atmosphere.saturation_vapour_pressure(19.5)
    vapour = atmosphere.vapour_pressure_from_psychrometer(25.6, 19.5, pressure, 0.000662)
    check("FAO-56, Example 4 (Eq. 7)", "pressure at 1200 m [kPa]", 87.9, pressure, 0.05)
    check("FAO-56, Example 4 (Eq. 11)", "e0 at 19.5 degC [kPa]", 2.267, saturated, 0.000505)
    check("FAO-56, Example 4 (Eq. 15)", "vapour pressure, psychrometer [kPa]", 1.91, vapour, 0.005)


def test_example_5_relative_humidity(check):
    # The printed working leaves out the division by 2; the printed result has it.
    e0 = atmosphere.saturation_vapour_pressure
    both = atmosphere.vapour_pressure_from_rhmin_rhmax(18, 25, 54, 82)
    mean = atmosphere.vapour_pressure_from_rhmean(18, 25, 68)
    check("FAO-56, Example 5 (Eq. 11)", "e0 at 18 degC [kPa]", 2.064, e0(18.0), 0.000505)
    check("FAO-56, Example 5 (Eq. 11)", "e0 at 25 degC [kPa]", 3.168, e0(25.0), 0.000505)
    check("FAO-56, Example 5 (Eq. 17)", "vapour pressure, RHmin and RHmax [kPa]", 1.70, both, 0.005)
    check("FAO-56, Example 5 (Eq. 19)", "vapour pressure, RHmean [kPa]", 1.78, mean, 0.005)


def test_example_5_maximum_humidity_alone():
    # Eq. 18 is the first of the two products of the example: 2.064 [82/100]; the product is arithmetic.
    assert atmosphere.vapour_pressure_from_rhmax(18, 82) == pytest.approx(2.064 * 0.82, abs=0.0005)


def test_example_6_vapour_pressure_deficit(check):
    # Printed with ea rounded to 1.70, so a whole last digit is allowed.
    deficit = atmosphere.mean_saturation_vapour_pressure(
        18, 25
    ) - atmosphere.vapour_pressure_from_rhmin_rhmax(18, 25, 54, 82)
    check("FAO-56, Example 6", "vapour pressure deficit [kPa]", 0.91, deficit, 0.01)


def test_example_14_wind_at_2m(check):
    wind = atmosphere.wind_at_2m
    check("FAO-56, Example 14 (Eq. 47)", "factor from 10 m to 2 m", 0.75, wind(1.0, 10), 0.005)
    check("FAO-56, Example 14 (Eq. 47)", "3.2 m/s at 10 m, at 2 m [m s-1]", 2.4, wind(3.2, 10), 0.05)


def test_annex_2_table_2_1_pressure(check):
    table = printed("pressure")
    assert len(table) == 81
    ours = atmosphere.pressure_from_elevation(table["z_m"].to_numpy())
    check("FAO-56, Annex 2 Table 2.1 (Eq. 7)", "pressure, all elevations [kPa]", table["p_kpa"], ours, 0.0505)


def test_annex_2_table_2_2_psychrometric_constant(check):
    table = printed("gamma")
    assert len(table) == 41
    ours = atmosphere.psychrometric_constant(atmosphere.pressure_from_elevation(table["z_m"].to_numpy()))
    gamma = table["gamma_kpa_per_c"]
    quantity = "psychrometric constant, all elevations [kPa degC-1]"
    check("FAO-56, Annex 2 Table 2.2 (Eq. 8)", quantity, gamma, ours, 0.000505)


def test_annex_2_table_2_3_saturation_vapour_pressure(check):
    table = printed("temperature_functions")
    assert len(table) == 96
    ours = atmosphere.saturation_vapour_pressure(table["t_c"].to_numpy())
    check("FAO-56, Annex 2 Table 2.3 (Eq. 11)", "e0, all temperatures [kPa]", table["e0_kpa"], ours, 0.000505)


def test_annex_2_table_2_3_is_also_the_vapour_pressure_at_a_dew_point():
    # Eq. 14 is Eq. 11 at the dew point.
    table = printed("temperature_functions")
    ours = atmosphere.vapour_pressure_from_dewpoint(table["t_c"].to_numpy())
    np.testing.assert_allclose(ours, table["e0_kpa"], rtol=0, atol=0.000505)


def test_annex_2_table_2_4_slope(check):
    table = printed("temperature_functions")
    ours = atmosphere.saturation_slope(table["t_c"].to_numpy())
    slope = table["slope_kpa_per_c"]
    quantity = "slope of e0, all temperatures [kPa degC-1]"
    check("FAO-56, Annex 2 Table 2.4 (Eq. 13)", quantity, slope, ours, 0.000505)


def test_annex_2_table_2_9_wind_factor(check):
    table = printed("wind_factor")
    ours = atmosphere.wind_at_2m(1.0, table["z_m"].to_numpy())
    factor = table["factor_to_2m"]
    check("FAO-56, Annex 2 Table 2.9 (Eq. 47)", "factor to 2 m, all heights", factor, ours, 0.000505)


def test_slope_is_the_derivative_of_the_curve():
    temperature = np.linspace(-10, 50, 61)
    curve = atmosphere.saturation_vapour_pressure
    numeric = (curve(temperature + 1e-4) - curve(temperature - 1e-4)) / 2e-4
    # 17.27 * 237.3 is 4098.17 where Eq. 13 has 4098: 4.2e-5 apart.
    np.testing.assert_allclose(atmosphere.saturation_slope(temperature), numeric, rtol=5e-5)


@pytest.mark.parametrize(
    ("low", "high", "tolerance"), [(-10, -2.5, 0.003), (-2.5, 30, 0.0025), (30, 50, 0.005)]
)
def test_metpy_saturation_vapour_pressure(check, low, high, tolerance):
    """An independent library: MetPy over a grid of temperatures.

    MetPy from 1.7 evaluates Ambaum (2020) Eq. 13, the Clausius-Clapeyron equation with a latent heat that is
    linear in temperature; before, it had Bolton (1980), 17.67 and 243.5 for our 17.27 and 237.3. FAO-56 Eq. 11
    is the older fit of Tetens. The tolerances are what the published constants differ by (Ambaum: 0.23 % at
    -10, 0.2 % at 30 and 0.45 % at 50 degC; Bolton: 0.4, 0.1 and 0.5 %), so they tell a slip of a constant or of
    a unit, not the third digit of e0: that is what Table 2.3 is for.
    """
    calc = pytest.importorskip("metpy.calc")
    units = pytest.importorskip("metpy.units").units
    temperature = np.arange(low, high + 0.1, 0.5)
    theirs = calc.saturation_vapor_pressure(units.Quantity(temperature, "degC")).to("kPa").magnitude
    ratio = atmosphere.saturation_vapour_pressure(temperature) / theirs
    quantity = f"e0 over theirs, {low:g} to {high:g} degC in steps of 0.5"
    check("MetPy, saturation_vapor_pressure", quantity, 1.0, ratio, tolerance)


def test_metpy_dewpoint_from_relative_humidity(check):
    """MetPy again: relative humidity to dew point, by its own saturation on the way there and back.

    The two fits of e0 part by 0.25 % at most from -2.5 to 30 degC (the test above), once on each way; e0 grows by
    5.7 % a degree and more there (FAO-56 Eq. 13 over Eq. 11), so dew points part by 0.5 / 5.7 of a degree at most.
    """
    calc = pytest.importorskip("metpy.calc")
    units = pytest.importorskip("metpy.units").units
    temperature, humidity = np.meshgrid(np.arange(10.0, 30.1, 2.5), np.arange(45.0, 101.0, 5.0))
    theirs = calc.dewpoint_from_relative_humidity(
        units.Quantity(temperature, "degC"), units.Quantity(humidity, "percent")
    )
    vapour = atmosphere.vapour_pressure_from_rhmean(temperature, temperature, humidity)
    ours = atmosphere.dewpoint_from_vapour_pressure(vapour)
    quantity = "dew point, 10 to 30 degC and 45 to 100 % [degC]"
    check("MetPy, dewpoint_from_relative_humidity", quantity, theirs.to("degC").magnitude, ours, 0.09)


def test_the_dew_point_is_that_of_eq_14():
    dewpoint = np.arange(-20.0, 35.0, 0.5)
    vapour = atmosphere.vapour_pressure_from_dewpoint(dewpoint)
    np.testing.assert_allclose(atmosphere.dewpoint_from_vapour_pressure(vapour), dewpoint, rtol=0, atol=1e-12)


def test_numbers_arrays_and_data_arrays_give_their_own_kind():
    assert isinstance(atmosphere.pressure_from_elevation(100.0), float)
    array = atmosphere.saturation_vapour_pressure(np.array([10.0, np.nan]))
    assert isinstance(array, np.ndarray)
    labelled = atmosphere.saturation_vapour_pressure(xr.DataArray([10.0, np.nan], dims="time"))
    assert labelled.dims == ("time",)
    np.testing.assert_array_equal(labelled.values, array)
    np.testing.assert_array_equal(np.isnan(array), [False, True])
