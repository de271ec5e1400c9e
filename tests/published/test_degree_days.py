"""Growing degree days, and crop coefficients that follow them.

Sources stand beside each check. The polynomials of Sammis and others (1985) were read in the quotation of New
Mexico State University (http://aces.nmsu.edu/aes/irrigation/corn.html, sorghum.html and alfalfa.html): the
coefficients are published, the degree days were chosen here and the polynomial evaluated.
"""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget.crop.thermal import accumulate, coefficient_by_degree_days, degree_days


def test_degree_days_of_maize(check):
    # OSU Extension, growing degree days of maize: 50 degF base, 86 degF limit; a day of 63 to 87 degF has 24.5.
    # Limits in degC give the same heat in degC.
    got = degree_days(63.0, 87.0, 50.0, 86.0)
    check("OSU Extension, growing degree days of maize", "a day of 63 to 87 degF [degF day]", 24.5, got, 1e-9)
    celsius = degree_days((63 - 32) / 1.8, (87 - 32) / 1.8, 10.0, 30.0)
    assert celsius == pytest.approx(24.5 / 1.8, abs=1e-9)


def test_what_is_limited():
    # By hand, base 10 and upper limit 30 degC.
    tmin, tmax = np.array([4.0, 2.0, 15.0, 32.0, 20.0]), np.array([20.0, 8.0, 36.0, 40.0, 30.0])
    assert degree_days(tmin, tmax, 10.0, 30.0).tolist() == [5.0, 0.0, 12.5, 20.0, 15.0]
    assert degree_days(tmin, tmax, 10.0, 30.0, limit="mean").tolist() == [2.0, 0.0, 15.5, 20.0, 15.0]
    # Without an upper limit.
    assert degree_days(tmin, tmax, 10.0).tolist() == [5.0, 0.0, 15.5, 26.0, 15.0]
    assert degree_days(tmin, tmax, 10.0, np.inf).tolist() == [5.0, 0.0, 15.5, 26.0, 15.0]
    # A missing temperature is never a number, whatever the limits.
    for limit in ("extremes", "mean"):
        assert np.isnan(degree_days(np.nan, 25.0, 10.0, 30.0, limit))
        assert np.isnan(degree_days(5.0, np.nan, 10.0, 30.0, limit))


@pytest.mark.parametrize(
    ("crop", "coefficients", "published"),
    [
        ("Corn", (0.12, 0.00168, -2.46e-07, -4.37e-10), (0.8439, 1.117, 0.6116)),
        ("Sorghum", (0.0893, 0.00159, -7.462e-07, 8.36e-13), (0.6979, 0.9339, 0.7982)),
        ("Alfalfa", (0.405, 0.00111, -4.25e-07, 3.56e-11), (0.8582, 1.1256, 1.2339)),
    ],
)
def test_polynomials_by_degree_days(check, crop, coefficients, published):
    # Sammis and others (1985); the values at 500, 1000 and 1500 degC day were evaluated apart to four decimals.
    heat = np.array([500.0, 1000.0, 1500.0])
    kc = coefficient_by_degree_days(heat, coefficients)
    source = "Sammis and others 1985, second-hand, New Mexico State University"
    check(source, f"Kc of {crop} at 500, 1000, 1500 degC day", published, kc, 1e-4)
    # An independent evaluation.
    np.testing.assert_allclose(kc, np.polynomial.Polynomial(coefficients)(heat), rtol=1e-12)


FIELDS = {"field": ["a", "b", "c"]}
TIME = pd.date_range("2024-05-01", periods=6)


def on_time(values):
    return xr.DataArray(np.asarray(values, dtype=float), dims="time", coords={"time": TIME})


def test_accumulated_from_planting_on():
    # By hand: 5, 10, 15, 20, 10 and 0 degC day, base 10.
    tmin, tmax = on_time([10, 15, 20, 25, 15, 2]), on_time([20, 25, 30, 35, 25, 8])
    heat = accumulate(tmin, tmax, np.datetime64("2024-05-03"), 10.0)
    assert heat.values.tolist() == [0.0, 0.0, 15.0, 35.0, 45.0, 45.0]
    assert (heat["time"].values == TIME.values).all()
    # Planted before the weather begins: its own days only. Planted after: nothing yet.
    assert accumulate(tmin, tmax, np.datetime64("2024-04-20"), 10.0).values[-1] == 60.0
    assert accumulate(tmin, tmax, np.datetime64("2024-06-20"), 10.0).values[-1] == 0.0
    # With an upper limit of 30 degC the fourth day has (25 + 30)/2 - 10 = 17.5.
    assert accumulate(tmin, tmax, np.datetime64("2024-05-03"), 10.0, 30.0).values[-1] == 42.5


def test_accumulated_by_field():
    tmin, tmax = on_time([10] * 6), on_time([20] * 6)
    planted = xr.DataArray(
        np.array(["2024-05-02", "2024-05-05", "NaT"], dtype="datetime64[ns]"), dims="field", coords=FIELDS
    )
    base = xr.DataArray([10.0, 5.0, 10.0], dims="field", coords=FIELDS)
    upper = xr.DataArray([np.nan, 18.0, np.nan], dims="field", coords=FIELDS)  # not given, given, not given
    heat = accumulate(tmin, tmax, planted, base, upper)
    assert set(heat.dims) == {"time", "field"}
    assert heat.sel(field="a").values.tolist() == [0.0, 5.0, 10.0, 15.0, 20.0, 25.0]
    assert heat.sel(field="b").values.tolist() == [0.0, 0.0, 0.0, 0.0, 9.0, 18.0]
    assert heat.sel(field="c").isnull().all()  # no planting date, no heat


def test_missing_temperature_is_never_bridged():
    tmin = on_time([10, np.nan, 10, 10, 10, 10])
    tmax = on_time([20, 20, 20, 20, np.nan, 20])
    heat = accumulate(tmin, tmax, np.datetime64("2024-05-03"), 10.0)
    # Before planting a gap does not count; from a gap after it on nothing is known.
    np.testing.assert_array_equal(heat.values, [0.0, 0.0, 5.0, 10.0, np.nan, np.nan])


def test_dates_that_differ_are_refused():
    tmin = on_time([10] * 6)
    with pytest.raises(ValueError, match="exact"):
        accumulate(tmin, tmin.isel(time=slice(1, None)) + 10.0, np.datetime64("2024-05-03"), 10.0)
