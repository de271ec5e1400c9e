"""`fill_weather`: each way fills what it is for and no more, flags it, says it; rain is stated or missing."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget import fill_weather, fit_stations, read_weather, reference_et
from waterbudget.errors import Fault, InputError
from waterbudget.weather import atmosphere, radiation

SITE = {"latitude": 46.2, "elevation": 120.0}


def season(days: np.ndarray, mean: float, swing: float) -> np.ndarray:
    """A plain course of the year."""
    return mean + swing * np.cos(2 * np.pi * (days - 200) / 365.25)


def weather(days: int = 40, seed: int = 1, start: str = "2023-06-01", **changes: object) -> xr.Dataset:
    """Weather of a mild place, with a day-to-day scatter."""
    rng = np.random.default_rng(seed)
    time = pd.date_range(start, periods=days)
    doy = time.dayofyear.to_numpy()
    middle = season(doy, 12, 9) + rng.normal(0, 2, days)
    usual = {
        "tmin": middle - 5,
        "tmax": middle + 5 + rng.random(days),
        "rhmin": 40 + 10 * rng.random(days),
        "rhmax": 85 + 10 * rng.random(days),
        "wind": 1.5 + rng.random(days),
        "solar": radiation.extraterrestrial_radiation(46.2, doy) * (0.35 + 0.3 * rng.random(days)),
        "rain": np.where(rng.random(days) < 0.3, rng.exponential(5, days), 0.0),
    }
    frame = pd.DataFrame({**usual, **changes}, index=time).drop(
        columns=[name for name, value in changes.items() if value is None]
    )
    return read_weather(frame, **SITE)


def without(given: xr.Dataset, name: str, days: object) -> xr.Dataset:
    """Blank some days of a variable."""
    blank = given.copy(deep=True)
    blank[name][days] = np.nan
    return blank


def only(given: xr.Dataset, **options: object) -> Fault:
    """Give the one fault of a filling."""
    with pytest.raises(InputError) as caught:
        fill_weather(given, **options)
    (fault,) = caught.value.faults
    return fault


def flags(filled: xr.Dataset, name: str) -> list[int]:
    """Give the flags of a variable."""
    return filled[f"{name}_flag"].values.tolist()


# ------------------------------------------------------------------------------------------- rain
def test_rain_is_never_estimated() -> None:
    dry = without(weather(400), "rain", [5, 6])
    every = fill_weather(
        dry, interpolate=10, climatology=True, regression=weather(400, seed=2), neighbour=weather(400), wind=2
    )
    np.testing.assert_array_equal(every["rain"], dry["rain"])
    assert "rain_flag" not in every


def test_rain_is_what_the_user_says() -> None:
    dry = without(weather(), "rain", [5, 6])
    days = dry["time"].values
    none = fill_weather(dry, rain=0.0)
    assert none["rain"].values[[5, 6]].tolist() == [0.0, 0.0]
    assert [i for i, flag in enumerate(flags(none, "rain")) if flag == 10] == [5, 6]
    by_date = fill_weather(dry, rain={str(days[5])[:10]: 12.5})
    assert float(by_date["rain"][5]) == 12.5
    assert np.isnan(by_date["rain"][6])
    series = pd.Series([12.5], index=days[[5]])
    np.testing.assert_array_equal(fill_weather(dry, rain=series)["rain"], by_date["rain"])
    np.testing.assert_array_equal(fill_weather(dry, rain={days[5]: "12.5 mm"})["rain"], by_date["rain"])
    inches = (xr.ones_like(dry["rain"]) * 0.5).assign_attrs(units="in")
    assert float(fill_weather(dry, rain=inches)["rain"][5]) == 12.7
    gauge = xr.DataArray(np.arange(40.0), dims="time", coords={"time": days})
    np.testing.assert_array_equal(fill_weather(dry, rain=gauge)["rain"][[5, 6]], [5.0, 6.0])
    assert "rain: 1 value as stated by the user; 1 still missing" in json.loads(by_date.attrs["filling"])


def test_rain_that_cannot_be_stated() -> None:
    dry = without(weather(), "rain", [5])
    assert "is outside its range" in only(dry, rain=-1.0).problem
    assert "no day of the weather" in only(dry, rain={"1999-01-01": 0.0}).problem
    assert "a day that is known" in only(dry, rain={"2023-06-02": 0.0}).problem
    assert "isin(days)" in only(dry, rain={"2023-06-02": 0.0}).mend
    assert "does not begin with a number" in only(dry, rain="dry").problem
    assert "is no depth" in only(dry, rain={"2023-06-06": None}).problem
    assert "is no depth" in only(dry, rain={"2023-06-06": np.nan}).problem
    assert "is no depth" in only(dry, rain=np.nan).problem
    day = str(dry["time"].values[5])[:10]
    assert "stated twice" in only(dry, rain={day: 1.0, pd.Timestamp(day): 2.0}).problem
    assert "stated twice" in only(dry, rain=pd.Series([1.0, 2.0], index=pd.DatetimeIndex([day, day]))).problem
    every = dry["rain"].fillna(0.0).to_series()
    assert (only(dry, rain=every).count, only(dry, rain=every).where) == (39, "2023-06-01")
    for odd in (xr.DataArray([1.0, 2.0], dims="time"), xr.concat([dry["rain"]] * 2, "time")):
        assert "stands more than once" in only(dry, rain=odd).problem
    assert "in no unit of rain" in only(dry, rain=dry["rain"].assign_attrs(units="kPa")).problem
    fault = only(dry, rain={"06/06/2023": 3.0})
    assert (fault.what, fault.problem, fault.value) == ("rain, date", "is not a date", "'06/06/2023'")
    assert "has no rain" in only(dry.drop_vars("rain"), rain=0.0).problem
    assert "varies along gauge" in only(dry, rain=xr.DataArray([0.0], dims="gauge")).problem


# ---------------------------------------------------------------------------------- interpolation
def test_short_gaps_are_bridged_and_long_ones_stay() -> None:
    full = weather()
    gaps = without(without(full, "wind", [3, 4, 10, 11, 12, 13]), "wind", [0, 39])
    filled = fill_weather(gaps, interpolate=3)
    a, b = float(full["wind"][2]), float(full["wind"][5])
    np.testing.assert_allclose(filled["wind"][[3, 4]], [a + (b - a) / 3, a + 2 * (b - a) / 3], rtol=1e-12)
    assert bool(filled["wind"][[0, 10, 11, 12, 13, 39]].isnull().all())
    assert [i for i, flag in enumerate(flags(filled, "wind")) if flag == 2] == [3, 4]
    known = ~np.isnan(gaps["wind"].values)
    np.testing.assert_array_equal(filled["wind"].values[known], gaps["wind"].values[known])
    # A value made by interpolation is no end of another line.
    again = fill_weather(without(filled, "wind", [6]), interpolate=1)
    assert float(again["wind"][6]) != pytest.approx(float(filled["wind"][6]))


def test_radiation_is_bridged_by_its_ratio_to_what_the_sun_gives() -> None:
    full = weather()
    outside = radiation.extraterrestrial_radiation(46.2, full["time"].dt.dayofyear)
    clear = full.assign(solar=(0.7 * outside).assign_attrs(full["solar"].attrs))
    filled = fill_weather(without(clear, "solar", slice(10, 16)), interpolate=6)
    np.testing.assert_allclose(filled["solar"], clear["solar"], rtol=1e-12)
    assert "ratio to extraterrestrial radiation" in filled.attrs["filling"]


# -------------------------------------------------------------------------- the station's own sensors
def test_radiation_from_sunshine_and_from_the_range_of_temperature() -> None:
    full = weather(sunshine=8.0 + np.arange(40) % 3)
    day = full["time"].dt.dayofyear
    outside = radiation.extraterrestrial_radiation(46.2, day)
    bare = full.drop_vars("solar")
    sunny = fill_weather(bare, sunshine=(0.20, 0.55))
    expected = (0.20 + 0.55 * full["sunshine"] / radiation.daylight_hours(46.2, day)) * outside
    np.testing.assert_allclose(sunny["solar"], expected, rtol=1e-12)
    assert set(flags(sunny, "solar")) == {3}
    assert sunny["solar"].attrs["units"] == "MJ m-2 day-1"
    for word, number in (("interior", 0.16), ("coast", 0.19), (0.17, 0.17)):
        warm = fill_weather(bare, range_coefficient=word)
        eq_50 = np.minimum(number * np.sqrt(full["tmax"] - full["tmin"]), 0.75 + 2e-5 * 120) * outside
        np.testing.assert_allclose(warm["solar"], eq_50, rtol=1e-12)
        assert set(flags(warm, "solar")) == {4}
    odd = bare.assign(sunshine=bare["sunshine"].where(bare["time"] != bare["time"][3], 20.0))
    odd["sunshine"].attrs = bare["sunshine"].attrs
    late = fill_weather(odd, sunshine=(0.25, 0.50))
    assert np.isnan(late["solar"][3])
    assert "1 days of sunshine longer than the day are not used" in late.attrs["filling"]
    # What is there is not touched, and the first way asked for goes before the next.
    part = without(full, "solar", slice(20, 40))
    part["sunshine"][30:] = np.nan
    both = fill_weather(part, sunshine=(0.25, 0.50), range_coefficient="interior")
    assert flags(both, "solar") == [0] * 20 + [3] * 10 + [4] * 10
    np.testing.assert_array_equal(both["solar"][:20], full["solar"][:20])


def test_the_formulas_of_a_day_take_estimates_of_the_day() -> None:
    bare = without(weather().drop_vars(["rhmin", "rhmax", "solar"]), "tmin", slice(10, 13))
    filled = fill_weather(bare, interpolate=3, dewpoint_offset=1.0, range_coefficient="interior")
    assert not bool(reference_et(filled.assign(wind=weather()["wind"])).isnull().any())
    assert flags(filled, "tmin")[10:13] == [2, 2, 2]
    np.testing.assert_allclose(filled["dewpoint"], filled["tmin"] - 1.0, rtol=1e-12)
    # But no line is fitted to them, and none drawn between them.
    assert fit_stations(filled, weather(seed=5)).set_index("variable").loc["tmin", "days"] == 37


@pytest.mark.parametrize("columns", [["rhmin", "rhmax"], ["rhmax"], ["rhmean"], ["vapour_pressure"], []])
def test_humidity_from_the_minimum_temperature_whatever_the_column(columns: list[str]) -> None:
    """FAO-56 Eq. 48 with an offset, read back by Eq. 14, 17, 18 and 19."""
    full = weather()
    bare = full.drop_vars(["rhmin", "rhmax"]).assign(
        {
            name: xr.full_like(full["tmin"], np.nan).assign_attrs(units=full["rhmin"].attrs["units"])
            for name in columns
        }
    )
    if "vapour_pressure" in columns:
        bare["vapour_pressure"].attrs["units"] = "kPa"
    filled = fill_weather(bare, dewpoint_offset=2.0)
    as_dewpoint = full.drop_vars(["rhmin", "rhmax"]).assign(
        dewpoint=(full["tmin"] - 2.0).assign_attrs(units="degC")
    )
    np.testing.assert_allclose(reference_et(filled), reference_et(as_dewpoint), rtol=1e-12)
    assert all(set(flags(filled, name)) == {7} for name in columns or ["dewpoint"])
    assert ("dewpoint" in filled) is (not columns)


def test_a_stated_wind() -> None:
    """FAO-56 Table 15: light 1, light to moderate 2, moderate to strong 4, strong 5 m/s."""
    bare = weather().drop_vars("wind")
    for word, speed in (
        ("light", 1),
        ("light to moderate", 2),
        ("moderate to strong", 4),
        ("strong", 5),
        (3, 3),
    ):
        filled = fill_weather(bare, wind=word)
        assert set(filled["wind"].values.tolist()) == {float(speed)}
        assert set(flags(filled, "wind")) == {8}


# --------------------------------------------------------------------------------- other stations
def test_radiation_and_wind_from_a_neighbour() -> None:
    full = weather()
    north = weather(seed=7).assign_coords(latitude=47.5)
    gap = without(without(full, "solar", slice(5, 9)), "wind", slice(5, 9))
    filled = fill_weather(gap, neighbour=north)
    day = full["time"].dt.dayofyear
    ratio = radiation.extraterrestrial_radiation(46.2, day) / radiation.extraterrestrial_radiation(47.5, day)
    np.testing.assert_allclose(filled["solar"][5:9], (north["solar"] * ratio)[5:9], rtol=1e-12)
    np.testing.assert_array_equal(filled["wind"][5:9], north["wind"][5:9])
    assert flags(filled, "solar")[4:10] == [0, 5, 5, 5, 5, 0]
    assert flags(filled, "wind")[4:10] == [0, 5, 5, 5, 5, 0]


def test_regression_fills_by_the_line_that_it_reports() -> None:
    full = weather(120)
    other = full.copy(deep=True)
    for name in ("tmin", "tmax", "wind"):
        other[name] = (other[name] - 1.0) / 1.2
    gap = without(without(full, "tmin", slice(50, 60)), "wind", slice(70, 80))
    fits = fit_stations(gap, other).set_index("variable")
    assert fits.loc["tmin", "slope"] == pytest.approx(1.2)
    assert fits.loc["tmin", "intercept"] == pytest.approx(1.0)
    assert fits.loc["tmin", "r2"] == pytest.approx(1.0)
    assert fits.loc["tmin", "days"] == 110
    assert bool(fits.loc["tmin", "fills"])
    filled = fill_weather(gap, regression=other)
    np.testing.assert_allclose(filled["tmin"], full["tmin"], rtol=1e-12)
    np.testing.assert_allclose(filled["wind"], full["wind"], rtol=1e-12)
    assert set(flags(filled, "tmin")[50:60]) == {6}
    assert "y = 1 + 1.200 x, r2 1.00, 110 days" in filled.attrs["filling"]


def test_humidity_of_a_neighbour_that_measures_it_otherwise() -> None:
    """Eq. 17 of the neighbour's humidity, and Eq. 14 of what is wanted: the same vapour pressure on both sides."""
    full = weather(120)
    vapour = atmosphere.vapour_pressure_from_rhmin_rhmax(
        full["tmin"], full["tmax"], full["rhmin"], full["rhmax"]
    )
    damp = full.drop_vars(["rhmin", "rhmax"]).assign(
        vapour_pressure=vapour.assign_attrs(units="kPa"),
        dewpoint=atmosphere.dewpoint_from_vapour_pressure(vapour).assign_attrs(units="degC"),
    )
    gap = without(without(damp, "vapour_pressure", slice(50, 60)), "dewpoint", slice(55, 70))
    filled = fill_weather(gap, regression=full)
    np.testing.assert_allclose(filled["vapour_pressure"], damp["vapour_pressure"], rtol=1e-10)
    np.testing.assert_allclose(filled["dewpoint"], damp["dewpoint"], rtol=1e-9)
    assert "rhmin" not in filled


def test_a_regression_that_is_not_good_enough_fills_nothing_and_says_so() -> None:
    full = weather(120)
    gap = without(full, "wind", slice(70, 80))
    noise = fill_weather(gap, regression=weather(120, seed=9))
    assert bool(noise["wind"][70:80].isnull().all())
    assert "not good enough: nothing filled" in noise.attrs["filling"]
    steep = full.assign(wind=(full["wind"] / 2).assign_attrs(full["wind"].attrs))  # slope 2
    assert not fit_stations(gap, steep).set_index("variable").loc["wind", "fills"]
    never = fill_weather(without(full, "wind", slice(None)), regression=full)
    assert "wind: 0 values from another station by regression: no common days" in never.attrs["filling"]
    few = without(gap, "wind", slice(29, 120))
    assert not fit_stations(few, full).set_index("variable").loc["wind", "fills"]
    level = full.assign(wind=xr.full_like(full["wind"], 2.0))
    row = fit_stations(gap, level).set_index("variable").loc["wind"]
    assert np.isnan(row["slope"])
    assert not row["fills"]


def test_statistics_agree_with_scipy() -> None:
    from scipy.stats import linregress

    one, two = weather(90), weather(90, seed=3)
    row = fit_stations(one, two).set_index("variable").loc["tmax"]
    theirs = linregress(two["tmax"], one["tmax"])
    np.testing.assert_allclose(
        [row["slope"], row["intercept"], row["r2"]],
        [theirs.slope, theirs.intercept, theirs.rvalue**2],
        rtol=1e-10,
    )
    left = one["tmax"] - (theirs.intercept + theirs.slope * two["tmax"])
    assert row["standard_error"] == pytest.approx(float(np.sqrt((left**2).sum() / 88)), rel=1e-10)


def test_stations_of_one_weather_serve_each_other() -> None:
    north, south = weather(120), weather(120, seed=4)
    south["tmin"] = north["tmin"] + 0.5
    both = xr.concat(
        [north, without(south, "tmin", slice(10, 15))], dim=pd.Index(["north", "south"], name="station")
    )
    filled = fill_weather(both, regression={"south": "north"})
    np.testing.assert_allclose(filled["tmin"].sel(station="south"), south["tmin"], rtol=1e-9)
    assert bool((filled["tmin_flag"].sel(station="north") == 0).all())
    alone = fill_weather(both.sel(station="south").drop_vars("station"), regression=north)
    np.testing.assert_array_equal(filled["tmin"].sel(station="south"), alone["tmin"])
    fits = fit_stations(both, {"south": "north"})
    assert fits.loc[(fits["variable"] == "tmin") & fits["fills"], "station"].tolist() == ["south"]


# ------------------------------------------------------------------------------------- climatology
def test_the_season_of_the_record_fills_long_gaps() -> None:
    days = 3 * 365
    time = pd.date_range("2021-01-01", periods=days)
    doy = time.dayofyear.to_numpy()
    smooth = season(doy, 12, 9)
    # The same clear share of the sun's radiation every day: recovered whatever the day.
    share = radiation.extraterrestrial_radiation(46.2, doy) * 0.6
    full = weather(days, start="2021-01-01", tmin=smooth - 5, tmax=smooth + 5, solar=share)
    gap = full
    for name in ("tmin", "tmax", "solar"):
        gap = without(gap, name, slice(500, 580))
    filled = fill_weather(gap, climatology=True)
    for name in ("tmin", "tmax", "solar"):
        np.testing.assert_allclose(filled[name], full[name], rtol=1e-9)
        assert set(flags(filled, name)[500:580]) == {9}


@pytest.mark.parametrize("kept", [slice(0, 183), slice(0, 330)])
def test_half_a_year_says_nothing_about_the_other(kept: slice) -> None:
    full = weather(365, start="2023-01-01").isel(time=kept)
    gap = without(full, "tmax", slice(100, 150))
    filled = fill_weather(gap, climatology=True)
    assert bool(filled["tmax"][100:150].isnull().all())
    assert "1 of 1 records do not cover the year" in filled.attrs["filling"]


# ---------------------------------------------------------------------------- what holds for all ways
def test_estimates_never_contradict_the_day() -> None:
    cold = weather(400, start="2023-01-01")
    cold["tmin"][200] = cold["tmax"][200] = 33.0
    cold = without(cold, "tmax", 200)
    filled = fill_weather(cold, climatology=True)
    assert np.isnan(filled["tmax"][200])
    assert "1 not taken, outside their range or against another value of the day" in filled.attrs["filling"]


def test_damp_air_is_limited_to_saturation_and_counted() -> None:
    damp = weather(120, rhmax=99.0 + np.arange(120) % 2)
    north = damp.assign(rhmax=(damp["rhmax"] - 1.0).assign_attrs(damp["rhmax"].attrs))
    north["rhmax"][50] = 99.7  # by the line 100.7 %
    filled = fill_weather(without(damp, "rhmax", slice(45, 55)), regression=north)
    assert float(filled["rhmax"][50]) == 100.0
    assert "rhmax: 10 values" in filled.attrs["filling"]
    assert "1 limited to saturation, 100 %" in filled.attrs["filling"]


def test_what_was_filled_is_told_in_order_and_kept_over_calls() -> None:
    gap = without(weather(), "wind", [3, 4, 5, 6, 7])
    first = fill_weather(gap, interpolate=2)
    second = fill_weather(first, wind=2.0)
    said = json.loads(second.attrs["filling"])
    assert "wind: 0 values interpolated over gaps of at most 2 days; 5 still missing" in said
    assert said[-1] == "wind: 5 values of a stated mean of 2 m/s; 0 still missing"
    assert flags(second, "wind")[3:8] == [8] * 5
    xr.testing.assert_identical(read_weather(second), second.assign_attrs(read_weather(second).attrs))


def test_weather_is_left_as_it_is() -> None:
    gap = without(weather(), "wind", [3])
    before = gap.copy(deep=True)
    filled = fill_weather(gap, interpolate=2)
    xr.testing.assert_identical(gap, before)
    filled["wind"][:] = 0.0
    xr.testing.assert_identical(gap, before)


@pytest.mark.parametrize(
    ("options", "what", "words"),
    [
        ({}, "fill_weather", "asked for nothing"),
        ({"interpolate": 11}, "interpolate", "no length of a gap"),
        ({"interpolate": True}, "interpolate", "no length of a gap"),
        ({"interpolate": 2.5}, "interpolate", "no length of a gap"),
        ({"range_coefficient": 0.5}, "range_coefficient", "outside its range"),
        ({"range_coefficient": "inland"}, "range_coefficient", "outside its range"),
        ({"dewpoint_offset": -1}, "dewpoint_offset", "outside its range"),
        ({"wind": 0.1}, "wind", "outside its range"),
        ({"wind": "breezy"}, "wind", "outside its range"),
        ({"climatology": 3}, "climatology", "neither True nor False"),
        ({"regression": "north"}, "regression", "is no station"),
        ({"neighbour": {"south": "north"}}, "neighbour", "the weather has none"),
    ],
)
def test_options_that_are_none(options: dict[str, object], what: str, words: str) -> None:
    fault = only(weather(), **options)
    assert fault.what == what
    assert words in str(fault)


def test_sunshine_coefficients_and_what_a_way_needs() -> None:
    sunny = weather(sunshine=8.0)
    for pair in ((0.25,), (0.25, 0.9), 0.25, ("a", "b")):
        assert only(sunny, sunshine=pair).what == "sunshine"
    assert only(weather(), sunshine=(0.25, 0.5)).value == "sunshine"
    assert only(weather().drop_vars("elevation"), range_coefficient="coast").value == "elevation"
    given = weather()[["rain"]].assign(
        et_ref=weather()["wind"].assign_attrs(surface="short", units="mm day-1")
    )
    assert only(given, dewpoint_offset=0).value == "tmin, tmax"


def test_stations_that_cannot_serve() -> None:
    both = xr.concat([weather(), weather(seed=2)], dim=pd.Index(["north", "south"], name="station"))
    assert only(both, regression={"south": "east"}).value == "'east'"
    assert "for itself" in only(both, regression={"south": "south"}).problem
    assert "varies along station" in only(weather(), regression=both).problem
    fault = only(weather(), neighbour=weather(start="1999-01-01"))
    assert (fault.problem, fault.value) == ("has no day of the weather", "1999-01-01 to 1999-02-09")
    broken = weather()
    broken["wind"][3] = -5.0
    assert only(weather(), neighbour=broken).what == "neighbour, wind"
    assert only(broken, interpolate=3).what == "wind"


def test_the_mean_of_a_pair_is_kept_by_eq_17() -> None:
    """Minimum and maximum humidity from one vapour pressure give it back by FAO-56 Eq. 17."""
    vapour = atmosphere.vapour_pressure_from_dewpoint(8.0)
    rhmax = 100 * vapour / atmosphere.saturation_vapour_pressure(10.0)
    rhmin = 100 * vapour / atmosphere.saturation_vapour_pressure(20.0)
    again = atmosphere.vapour_pressure_from_rhmin_rhmax(10.0, 20.0, rhmin, rhmax)
    assert again == pytest.approx(vapour, rel=1e-12)


def test_series_that_stations_share_become_one_for_each() -> None:
    both = xr.concat([weather(), weather(seed=2)], dim=pd.Index(["a", "b"], name="station"))
    shared = both.assign(solar=without(weather(), "solar", [5])["solar"]).assign_coords(
        latitude=("station", [46.0, 50.0])
    )
    for ways in (
        {"range_coefficient": "interior"},
        {"interpolate": 2},
        {"regression": weather(seed=3)},
        {"neighbour": weather(seed=3)},
    ):
        filled = fill_weather(shared, **ways)
        if "regression" not in ways:  # whose fit is not good enough
            assert not bool(filled["solar"].isnull().any())
            assert set(filled["solar"].dims) == {"time", "station"}
            assert filled["solar_flag"].dims == filled["solar"].dims
        np.testing.assert_array_equal(filled["solar"].isel(time=4) - shared["solar"].isel(time=4), 0)


def test_what_an_attribute_of_filling_holds_is_not_trusted() -> None:
    gap = without(weather(), "wind", [3]).assign_attrs(filling="hello")
    assert json.loads(fill_weather(gap, interpolate=1).attrs["filling"])[0] == "hello"


def test_a_station_at_the_pole_an_empty_column_and_half_a_year() -> None:
    """Nothing is made of nothing: no value, no warning."""
    polar = weather(366, start="2024-01-01", solar=0.0, sunshine=np.nan).assign_coords(latitude=90.0)
    polar = without(polar, "solar", [3, 200])
    filled = fill_weather(polar, interpolate=2, sunshine=(0.25, 0.5), regression=polar, climatology=True)
    assert bool(filled["sunshine"].isnull().all())
    assert np.isnan(filled["solar"][3])  # the sun does not rise: its ratio to nothing is not known
    by_range = fill_weather(polar, range_coefficient="coast")
    assert float(by_range["solar"][3]) == 0.0


def test_a_shared_series_beside_one_of_each_station() -> None:
    full = weather()
    both = full.assign(
        tmin=xr.concat([full["tmin"], full["tmin"] - 1], dim=pd.Index(["a", "b"], name="station"))
    )
    filled = fill_weather(without(both, "tmax", [5]), interpolate=1)
    assert filled["tmax"].dims == ("time",)
    assert not bool(filled["tmax"].isnull().any())


def test_what_needs_a_latitude_says_so_and_what_does_without_does_not_claim_it() -> None:
    frame = pd.DataFrame({"et_ref": 4.0, "solar": [20.0, np.nan, 22.0]}, index=weather(3).indexes["time"])
    bare = read_weather(frame, et_ref_surface="short")
    assert only(bare, neighbour=weather(3)).value == "latitude"
    filled = fill_weather(bare, interpolate=1)
    assert float(filled["solar"][1]) == 21.0
    assert "ratio" not in filled.attrs["filling"]
    wrong = weather()
    wrong["wind"].attrs["units"] = "km/h"
    assert only(weather(), neighbour=wrong).problem == "is in another unit"
