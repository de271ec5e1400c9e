"""Four seasons on open weather data: Seattle, 2012 to 2015.

Data: ``seattle-weather.csv`` inside the wheel of the PyPI package ``vega_datasets`` (daily rain [mm], maximum
and minimum temperature [degC] and wind [m s-1]; no humidity). Latitude 47.45 degrees north and an elevation of
about 130 m are those of the city's airport, from memory; Hargreaves does not use the elevation.
"""

import importlib.util
import pathlib

import numpy as np
import pandas as pd
import pytest

import waterbudget as wb
from waterbudget.report.ledger import ledger

YEARS = [2012, 2013, 2014, 2015]
LATITUDE = 47.45


def csv_path():
    """Find the file without importing the package, whose import is not ours to keep free of warnings."""
    spec = importlib.util.find_spec("vega_datasets")
    assert spec is not None, "install the test extra: pip install waterbudget[test]"
    (folder,) = spec.submodule_search_locations
    return pathlib.Path(folder) / "_data" / "seattle-weather.csv"


@pytest.fixture(scope="module")
def weather():
    return wb.read_weather(
        csv_path(),
        latitude=LATITUDE,
        elevation=130.0,
        columns={"time": "date", "rain": "precipitation", "tmax": "temp_max", "tmin": "temp_min"},
    )


def test_every_day_is_read(weather):
    assert weather.sizes["time"] == 1461
    assert str(weather["time"].values[[0, -1]].astype("datetime64[D]")) == "['2012-01-01' '2015-12-31']"
    plain = pd.read_csv(csv_path())
    for name, column in {
        "rain": "precipitation",
        "tmax": "temp_max",
        "tmin": "temp_min",
        "wind": "wind",
    }.items():
        np.testing.assert_array_equal(weather[name].values, plain[column].to_numpy())


def test_rain_of_each_year(check, weather):
    # Totals of the file's own column, by year, in whole mm.
    totals = weather["rain"].groupby("time.year").sum()
    assert totals["year"].values.tolist() == YEARS
    check("vega_datasets, Seattle", "rain of 2012 to 2015 [mm]", [1226, 828, 1233, 1139], totals, 0.5)


def eq_52(table):
    """FAO-56 Eq. 52 with Eq. 21 to 25, written out in numpy alone."""
    day = pd.to_datetime(table["date"]).dt.dayofyear.to_numpy()
    latitude = np.radians(LATITUDE)
    distance = 1 + 0.033 * np.cos(2 * np.pi / 365 * day)
    declination = 0.409 * np.sin(2 * np.pi / 365 * day - 1.39)
    sunset = np.arccos(-np.tan(latitude) * np.tan(declination))
    shape = sunset * np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.sin(
        sunset
    )
    extraterrestrial = 24 * 60 / np.pi * 0.0820 * distance * shape
    high, low = table["temp_max"].to_numpy(), table["temp_min"].to_numpy()
    return 0.0023 * ((high + low) / 2 + 17.8) * np.sqrt(high - low) * 0.408 * extraterrestrial


def test_hargreaves_of_each_year(check, weather):
    # FAO-56 Eq. 52, evaluated independently of this package: 799, 832, 866, 899 mm.
    et_ref = wb.reference_et(weather, method="hargreaves")
    assert et_ref.attrs["surface"] == "short"
    totals = et_ref.groupby("time.year").sum()
    quantity = "ETo of 2012 to 2015 by Eq. 52, evaluated independently [mm]"
    check("vega_datasets, Seattle", quantity, [799, 832, 866, 899], totals, 0.5)
    np.testing.assert_allclose(et_ref.values, eq_52(pd.read_csv(csv_path())), rtol=1e-12)
    # Without humidity and radiation it is also what "auto" takes.
    auto = wb.reference_et(weather)
    assert auto.attrs["method"] == "hargreaves"
    np.testing.assert_array_equal(auto.values, et_ref.values)


@pytest.fixture(scope="module", params=YEARS)
def season(weather, request):
    """A year of sweet maize from the handbook, planted on 10 May, irrigated at stress."""
    return wb.simulate(
        weather.sel(time=str(request.param)),
        wb.Crop.from_handbook("sweet maize", planted=f"{request.param}-05-10"),
        wb.Soil.from_handbook("sandy loam"),
        wb.System.from_handbook("centre pivot"),
        wb.Rule(),
    )


def test_crop_hardly_feels_stress(season):
    # Refilled at stress, so that transpiration stays above 99 % of potential while the crop stands.
    growing = season["crop_stage"] > 0
    potential = (season["kcb"] * season["et_ref"]).where(growing, 0.0).sum()
    transpired = season["transpiration"].where(growing, 0.0).sum()
    assert 0.99 < float(transpired / potential) <= 1.0
    # And what little it lacks, it lacks on days on which p fell below that of the morning's decision.
    assert float(season["ks"].where(growing, 1.0).min()) > 0.8


def test_morning_after_allowance_irrigates(season):
    watered = season["irrigation_net"].values > 0
    reached = season["depletion"].values >= season["raw"].values
    growing = season["crop_stage"].values > 0
    assert watered.sum() >= 3
    np.testing.assert_array_equal(watered[1:], reached[:-1] & growing[1:])
    # Each refills what was missing: without rain it ends at that day's evapotranspiration.
    dry = watered & (season["rain"].values == 0)
    assert dry.any()
    np.testing.assert_allclose(season["depletion"].values[dry], season["et"].values[dry], rtol=0, atol=1e-9)


def test_water_is_accounted_for(season):
    # Net irrigation + effective rain + storage used = ET, of the root zone with what its roots met, and of
    # the profile; by the arrays, and by the ledger.
    total = {name: float(season[name].sum()) for name in season.data_vars if season[name].dims == ("time",)}
    end = season.isel(time=-1)
    used = float(end["depletion"] - season["initial_depletion"])
    used_below = float(end["depletion_below"] - season["initial_depletion_below"])
    effective_rain = total["rain"] - total["runoff"] - total["drainage"]
    assert total["irrigation_net"] + effective_rain + used + used_below == pytest.approx(
        total["et"], abs=1e-6
    )

    (row,) = ledger(season).to_dict("records")
    # Percolation of the ledger's effective rain is that of rain alone; the irrigation's share is apart.
    net = row["net_mm"] - row["percolation_from_irrigation_mm"]
    storage = row["met_by_roots_mm"] - row["root_zone_change_mm"]
    assert net + row["effective_rain_mm"] + storage == pytest.approx(row["et_mm"], abs=1e-6)
    assert row["et_mm"] == pytest.approx(total["et"], abs=1e-6)
    assert row["largest_daily_residual_mm"] <= 1e-9
    # A refill at field capacity loses nothing unless rain falls on the same day.
    assert 0 <= row["percolation_from_irrigation_mm"] < 0.2 * row["net_mm"]
    assert 0 < row["effective_rain_mm"] < row["rain_mm"]


def test_plan_is_of_the_right_size(season):
    # Loose bounds from what the place is like, not a published number: dry summers, wet winters. Most of what
    # the maize takes is irrigation, and most of the year's rain drains away.
    growing = season["crop_stage"].values > 0
    reference = float(season["et_ref"].values[growing].sum())
    et, net = float(season["et"].values[growing].sum()), float(season["irrigation_net"].sum())
    assert 0.5 * reference < et < 1.2 * reference  # Kc max of a wet day is about 1.2 (FAO-56 Eq. 72)
    assert 0.5 * et < net < et
    np.testing.assert_allclose(season["irrigation_gross"], season["irrigation_net"] / 0.8)
    assert float(season["drainage"].sum()) > 0.4 * float(season["rain"].sum())
