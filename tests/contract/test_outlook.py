"""The days after the last observation: a forecast, past years, members, and what is refused.

In the made-up record every value tells its own day: rain is the number of days since 2000-01-01, in hundredths.
"""

from __future__ import annotations

import dataclasses
import importlib.util
import pathlib

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from waterbudget.weather import outlook
from waterbudget.weather.flags import code_of

ORIGIN = pd.Timestamp("2000-01-01")


def record(first: str, last: str, stations: tuple[str, ...] = ()) -> xr.Dataset:
    """Rain and et_ref that tell their day and, by thousandths of rain, their station."""
    days = pd.date_range(first, last, name="time")
    number = (days - ORIGIN).days.to_numpy().astype(float)
    tables = [
        pd.DataFrame({"rain": number / 100 + place / 1000, "et_ref": number / 1000}, index=days)
        for place in range(max(len(stations), 1))
    ]
    if not stations:
        return wb.read_weather(tables[0], latitude=40.0, elevation=100.0, et_ref_surface="short")
    table = pd.concat(
        [one.reset_index().assign(station=name) for name, one in zip(stations, tables, strict=True)]
    )
    return wb.read_weather(table, latitude=40.0, elevation=100.0, et_ref_surface="short")


def days_of(ahead: xr.Dataset) -> np.ndarray:
    """Read the days that were taken back from the rain."""
    numbers = np.floor(ahead["rain"].values * 100 + 0.05)
    return (
        (ORIGIN + pd.to_timedelta(numbers.ravel(), unit="D"))
        .strftime("%Y-%m-%d")
        .to_numpy()
        .reshape(numbers.shape)
    )


def dates(first: str, last: str) -> list[str]:
    return pd.date_range(first, last).strftime("%Y-%m-%d").tolist()


def message(*args: object, **options: object) -> str:
    with pytest.raises(wb.InputError) as caught:
        outlook(*args, **options)
    return str(caught.value)


@pytest.fixture(scope="module")
def seattle() -> xr.Dataset:
    # The file of tests/data/test_seattle.py, found in the same way.
    spec = importlib.util.find_spec("vega_datasets")
    assert spec is not None, "install the test extra: pip install waterbudget[test]"
    (folder,) = spec.submodule_search_locations
    return wb.read_weather(
        pathlib.Path(folder) / "_data" / "seattle-weather.csv",
        latitude=47.45,
        elevation=130.0,
        columns={"time": "date", "rain": "precipitation", "tmax": "temp_max", "tmin": "temp_min"},
    )


# ------------------------------------------------------------------------------- past years
def test_past_years_of_seattle_are_its_own_rows(seattle):
    ahead = outlook(seattle.sel(time=slice(None, "2015-06-30")), until="2015-09-30")
    assert ahead["member"].values.tolist() == ahead["past_year"].values.tolist() == [2012, 2013, 2014]
    assert ahead["shift"].values.tolist() == [0, 0, 0]
    assert ahead.indexes["time"].equals(pd.date_range("2015-07-01", "2015-09-30"))
    for year in (2012, 2013, 2014):
        rows = seattle.sel(time=slice(f"{year}-07-01", f"{year}-09-30"))
        for name in ("tmin", "tmax", "wind", "rain"):
            assert ahead[name].dims == ("time", "member")
            np.testing.assert_array_equal(ahead[name].sel(member=year), rows[name])
            assert (ahead[f"{name}_flag"] == code_of("past_year")).all()
            assert ahead[name].attrs["units"] == seattle[name].attrs["units"]
    assert ahead["latitude"].item() == 47.45
    assert ahead.attrs["source"] == seattle.attrs["source"]
    assert ahead.attrs["years_left_out"] == "none"
    text = ahead.attrs["outlook"]
    assert "3 members from 3 distinct years (2012, 2013, 2014)" in text
    assert "fewer than 10 distinct years extremes are not in it" in text
    # The totals of the file's own rows; the sun's path is that of the days ahead.
    rain, et_ref = [], []
    for year in (2012, 2013, 2014):
        rows = seattle.sel(time=slice(f"{year}-07-01", f"{year}-09-30")).assign_coords(time=ahead["time"])
        rain.append(float(rows["rain"].sum()))
        et_ref.append(float(wb.reference_et(rows).sum()))
    for name, totals in {"rain": rain, "et_ref": et_ref}.items():
        span = f"{min(totals):.0f} to {max(totals):.0f} mm."
        assert f"Total {name}, from the lowest to the highest member: {span}" in text


def test_the_running_year_has_no_influence(seattle):
    observed = seattle.sel(time=slice(None, "2015-06-30"))
    plain = outlook(observed, until="2015-09-30", members=9, seed=4)
    running = observed["time"] > np.datetime64("2014-10-07")  # after the last day that a shift can reach
    other = observed.map(
        lambda data: data.where(~running, data + 1.0 if data.name != "tmin" else np.nan), keep_attrs=True
    )
    xr.testing.assert_identical(outlook(other, until="2015-09-30", members=9, seed=4), plain)


def test_years_that_are_not_complete_are_named_with_the_reason():
    weather = record("2010-08-01", "2015-06-30")
    weather["rain"].loc["2012-07-10":"2012-07-12"] = np.nan
    weather["et_ref"].loc["2013-06-30"] = np.nan  # not one of the days
    ahead = outlook(weather, until="2015-07-31")
    assert ahead["member"].values.tolist() == [2011, 2013, 2014]
    assert ahead["rain"].notnull().all()
    assert ahead.attrs["years_left_out"] == "2012: rain has no value (3 missing, first 2012-07-10)"
    longer = outlook(weather, until="2015-08-31")
    assert longer.attrs["years_left_out"].startswith(
        "2010: its days begin on 2010-07-01, and the record on 2010-08-01; 2012: "
    )


def test_no_complete_year_is_refused():
    half = record("2014-10-01", "2015-06-30")
    text = message(half, until="2015-09-30")
    assert "no past year that is complete from 01 July to 30 September" in text
    assert "found a record of 2014-10-01 to 2015-06-30" in text
    weather = record("2013-01-01", "2015-06-30").assign_attrs(source="x")
    summers = weather["time"].dt.month.isin([7, 8, 9])
    text = message(weather.assign(rain=weather["rain"].where(~summers)), until="2015-09-30")
    assert "2013: rain has no value (92 missing, first 2013-07-01); 2014: rain" in text
    # Spring is there each year, and serves.
    spring = outlook(
        weather.assign(rain=weather["rain"].where(~summers)).sel(time=slice(None, "2015-03-31")),
        until="2015-06-30",
    )
    assert spring["member"].values.tolist() == [2013, 2014]
    assert "found 4 more; 2012: its days begin" in message(weather, until="2020-06-30")
    # Two years ahead the last year but one can go on to the last observation, and the last cannot.
    years = outlook(weather, until="2017-06-30")
    assert years["member"].values.tolist() == [2013]
    assert "1 member from 1 distinct year (2013)" in years.attrs["outlook"]
    assert years.attrs["years_left_out"] == (
        "2011: its days begin on 2011-07-01, and the record on 2013-01-01; "
        "2012: its days begin on 2012-07-01, and the record on 2013-01-01; "
        "2014: its days end on 2016-06-30, after the last observation, 2015-06-30"
    )


def test_leap_days():
    weather = record("2010-01-01", "2016-02-27")
    ahead = outlook(weather, until="2016-03-02")
    days = dict(zip(ahead["member"].values.tolist(), days_of(ahead).T.tolist(), strict=True))
    assert days[2013] == ["2013-02-28", "2013-02-28", "2013-03-01", "2013-03-02"]
    assert days[2012] == dates("2012-02-28", "2012-03-02")
    assert (
        "29 February is 28 February of years that have none: 2010, 2011, 2013, 2014, 2015."
        in ahead.attrs["outlook"]
    )
    ahead = outlook(weather.sel(time=slice(None, "2015-02-27")), until="2015-03-02")
    days = dict(zip(ahead["member"].values.tolist(), days_of(ahead).T.tolist(), strict=True))
    assert days[2012] == ["2012-02-28", "2012-03-01", "2012-03-02"]
    assert "29 February" not in ahead.attrs["outlook"]


def test_a_season_that_crosses_new_year_goes_on_into_the_next_year_of_the_record():
    weather = record("2011-03-01", "2014-11-30")
    ahead = outlook(weather, until="2015-02-28")
    assert ahead["member"].values.tolist() == [2011, 2012, 2013]
    assert days_of(ahead)[:, 0].tolist() == [day for day in dates("2011-12-01", "2012-02-28")]
    # Up to the last observation at most.
    whole = outlook(record("2012-01-01", "2014-12-31"), until="2015-12-31")
    assert days_of(whole)[:, -1].tolist() == dates("2014-01-01", "2014-12-31")


# ------------------------------------------------------------------------------- drawn members
def test_each_year_is_used_once_before_any_twice_and_then_shifted():
    weather = record("2009-01-01", "2015-06-30")
    ahead = outlook(weather, until="2015-08-31", members=20, seed=11)
    assert ahead["member"].values.tolist() == list(range(1, 21))
    years, shifts = ahead["past_year"].values, ahead["shift"].values
    assert sorted(years[:6]) == sorted(years[6:12]) == sorted(years[12:18]) == list(range(2009, 2015))
    assert (shifts[:6] == 0).all()
    assert ((np.abs(shifts[6:]) >= 1) & (np.abs(shifts[6:]) <= 7)).all()
    assert len(set(zip(years.tolist(), shifts.tolist(), strict=True))) == 20
    for place in range(20):
        first = pd.Timestamp(f"{years[place]}-07-01") + pd.Timedelta(days=int(shifts[place]))
        assert days_of(ahead)[:, place].tolist() == dates(str(first), str(first + pd.Timedelta(days=61)))
    text = ahead.attrs["outlook"]
    assert "20 members from 6 distinct years (2009 " in text
    assert "drawn from 6 complete years with seed 11" in text
    assert "14 members of a year used again, shifted by 1 to 7 days: not independent" in text
    assert "extremes" in text
    assert "extremes" not in outlook(record("2005-01-01", "2015-06-30"), until="2015-07-01").attrs["outlook"]
    few = outlook(weather, until="2015-08-31", members=4, seed=np.int64(11))
    assert "4 members from 4 distinct years" in few.attrs["outlook"]
    assert "shifted" not in few.attrs["outlook"]


def test_a_seed_makes_the_same_members_again():
    weather = record("2009-01-01", "2015-06-30")
    one, again, other = (outlook(weather, until="2015-07-31", members=12, seed=seed) for seed in (5, 5, 6))
    xr.testing.assert_identical(one, again)
    assert not one["rain"].equals(other["rain"])


def test_no_member_is_made_twice_and_no_shift_leaves_what_is_known():
    weather = record("2013-07-01", "2015-06-30")  # 2013 has no day before 1 July
    weather["rain"].loc["2014-08-03"] = np.nan  # three days after the end
    most = 1 + 7 + 1 + 7 + 2
    ahead = outlook(weather, until="2015-07-31", members=most, seed=1)
    of_2013, of_2014 = (ahead["shift"].values[ahead["past_year"].values == year] for year in (2013, 2014))
    assert sorted(of_2013) == list(range(8))
    assert sorted(of_2014) == list(range(-7, 3))
    text = message(weather, until="2015-07-31", members=most + 1, seed=1)
    assert f"found {most + 1}; allowed: 1 to {most}: 2 complete past years" in text


# ------------------------------------------------------------------------------- forecasts
def test_a_forecast_comes_first_and_past_years_go_on():
    whole = record("2012-01-01", "2015-07-31")
    observed, forecast = (
        whole.sel(time=slice(None, "2015-06-30")),
        whole.sel(time=slice("2015-07-01", "2015-07-07")),
    )
    forecast = forecast.assign(tmax=forecast["rain"] / 100).assign_attrs(source="file ahead.csv")
    forecast["tmax"].attrs = {"units": "degC"}
    before = forecast.copy(deep=True)
    ahead = outlook(observed, until="2015-07-31", forecast=forecast)
    xr.testing.assert_identical(forecast, before)
    days = days_of(ahead)
    assert days[:7].T.tolist() == [dates("2015-07-01", "2015-07-07")] * 3
    assert days[7:, 1].tolist() == dates("2013-07-08", "2013-07-31")
    flags = np.repeat([code_of("forecast"), code_of("past_year")], [7, 24])
    for name in ("rain_flag", "et_ref_flag"):
        assert ahead[name].dims == ("time", "member")
        np.testing.assert_array_equal(ahead[name].values, np.tile(flags[:, None], 3))
    assert ahead["et_ref"].attrs["surface"] == "short"
    text = ahead.attrs["outlook"]
    assert (
        "2015-07-01 to 2015-07-07 are of the forecast (file ahead.csv). These days are the same in every member"
        in text
    )
    assert "Not used of the forecast, as the weather has none: tmax." in text
    drawn = outlook(observed, until="2015-07-31", forecast=forecast, members=5, seed=2)
    np.testing.assert_array_equal(days_of(drawn)[:7], np.tile(days[:7, :1], 5))


def test_a_forecast_alone_is_one_member_or_those_it_has():
    whole = record("2015-01-01", "2015-07-09")
    observed, forecast = whole.sel(time=slice(None, "2015-06-30")), whole.sel(time=slice("2015-07-01", None))
    ahead = outlook(observed, until="2015-07-07", forecast=forecast, past_years=False)
    assert ahead["member"].values.tolist() == [1]
    assert days_of(ahead)[:, 0].tolist() == dates("2015-07-01", "2015-07-07")
    assert "past_year" not in ahead.coords
    assert "2 later days of the forecast are not used." in ahead.attrs["outlook"]
    spread = forecast.expand_dims(member=["a", "b"], axis=1).copy(deep=True)
    spread["rain"].loc[{"member": "b"}] += 1
    both = outlook(observed, until="2015-07-07", forecast=spread, past_years=False)
    assert both["member"].values.tolist() == ["a", "b"]
    np.testing.assert_array_equal(both["rain"], spread["rain"].sel(time=slice(None, "2015-07-07")))
    assert "Its 2 members are as it has them" in both.attrs["outlook"]
    shared = spread.assign(et_ref=forecast["et_ref"])  # the members share what does not differ
    same = outlook(observed, until="2015-07-07", forecast=shared, past_years=False)
    assert same["et_ref"].equals(both["et_ref"])
    # Of one of its members past years go on.
    mixed = outlook(record("2013-01-01", "2015-06-30"), until="2015-07-31", forecast=spread.sel(member="b"))
    assert mixed["member"].values.tolist() == [2013, 2014]
    # What is handed out shares no memory with what was given.
    ahead["rain"].values[:] = 0.0
    assert (forecast["rain"] > 0).all()


def test_earlier_flags_give_way():
    whole = record("2013-01-01", "2015-07-03")
    flag = xr.full_like(whole["rain"], 2).astype(np.int8)
    whole = whole.assign(rain_flag=flag)
    observed, forecast = whole.sel(time=slice(None, "2015-06-30")), whole.sel(time=slice("2015-07-01", None))
    ahead = outlook(observed, until="2015-07-04", forecast=forecast)
    codes = [code_of("forecast")] * 3 + [code_of("past_year")]
    assert ahead["rain_flag"].sel(member=2014).values.tolist() == codes
    assert ahead["rain"].attrs["ancillary_variables"] == "rain_flag"


# ------------------------------------------------------------------------------- labels
def test_stations_share_the_year_of_a_member():
    names = ("north", "south")
    weather = record("2012-01-01", "2015-06-30", names)
    weather["rain"].loc[{"time": "2013-07-02", "station": "south"}] = np.nan
    ahead = outlook(weather, until="2015-07-31", members=8, seed=3)
    assert ahead["rain"].dims == ("time", "member", "station")
    assert set(ahead["past_year"].values.tolist()) == {2012, 2014}
    assert (
        ahead.attrs["years_left_out"]
        == "2013: rain has no value (1 missing, first 2013-07-02, station south)"
    )
    days = days_of(ahead)
    np.testing.assert_array_equal(days[..., 0], days[..., 1])
    np.testing.assert_allclose(ahead["rain"].diff("station").values, 0.001, atol=1e-12)
    assert "member: north " in ahead.attrs["outlook"]
    many = record("2013-01-01", "2015-06-30", tuple(f"s{place:02d}" for place in range(11)))
    assert "mm, over all labels." in outlook(many, until="2015-07-01").attrs["outlook"]


def test_every_form_of_weather_goes_on_in_the_same_form():
    weather = record("2012-01-01", "2015-06-30").transpose("time")
    weather = weather.drop_vars("et_ref").assign(runoff=weather["rain"] / 2, tmin=weather["rain"])
    weather = weather.assign_coords(season=("time", weather["time"].dt.season.values), plot="A3")
    weather["runoff"].attrs, weather["tmin"].attrs = {"units": "mm day-1"}, {"units": "degC"}
    weather["time"].attrs["comment"] = "local days"
    before = weather.copy(deep=True)
    ahead = outlook(weather, until=pd.Timestamp("2015-07-05"))
    xr.testing.assert_identical(weather, before)
    assert set(ahead.data_vars) == {"rain", "runoff", "tmin", "rain_flag", "tmin_flag"}
    assert set(ahead.coords) == {"time", "member", "past_year", "shift", "latitude", "elevation", "plot"}
    assert ahead["time"].attrs == {"comment": "local days"}
    np.testing.assert_array_equal(ahead["runoff"], ahead["rain"] / 2)
    assert "Total rain" in ahead.attrs["outlook"]
    assert "et_ref" not in ahead.attrs["outlook"]  # cannot be worked out, and is not made up


# ------------------------------------------------------------------------------- runs
def test_members_go_on_from_one_state_as_if_run_in_one(seattle):
    observed = seattle.sel(time=slice(None, "2015-06-30"))
    forecast = seattle.sel(time=slice("2015-07-01", "2015-07-05"))
    ahead = outlook(observed, until="2015-10-31", forecast=forecast, members=5, seed=8)
    season_days = observed.sel(time=slice("2015-05-01", None))
    field = (
        wb.Crop.from_handbook("sweet maize", planted="2015-05-10"),
        dataclasses.replace(wb.Soil.from_handbook("sandy loam"), curve_number=80, adjust_curve_number=True),
        wb.System.from_handbook("centre pivot"),
        wb.Rule(allowable_depletion=0.5, min_interval=4),
    )
    state = wb.simulate(season_days, *field).isel(time=-1)
    assert "member" not in state.dims
    seasons = wb.simulate(ahead, *field, state=state)
    assert seasons["depletion"].dims == ("time", "member")
    for member in (1, 4):
        one = ahead.sel(member=member, drop=True)[list(season_days.data_vars)]
        joined = xr.concat([season_days, one], dim="time", coords="minimal", compat="override", join="exact")
        whole = wb.simulate(joined, *field).sel(time=ahead["time"])
        for name in ("depletion", "irrigation_net", "et", "percolation", "surface_depletion", "runoff"):
            np.testing.assert_array_equal(seasons[name].sel(member=member), whole[name])
    assert float(seasons["irrigation_net"].sum("time").std()) > 0


def test_heat_goes_on_in_every_member(seattle):
    days = seattle.sel(time=slice("2012-01-01", "2015-06-30"))
    crop = wb.Crop(
        planted="2015-05-01",
        stage_degree_days=[200, 300, 500, 300],
        base_temperature=8.0,
        kc=[0.4, 1.1, 0.6],
        root_depth=1.0,
        depletion_fraction=0.5,
        unfinished=True,
    )
    soil = wb.Soil.from_handbook("loam")
    spring = days.sel(time=slice("2015-04-20", None))
    state = wb.simulate(spring, crop, soil).isel(time=-1)
    ahead = outlook(days, until="2015-10-31")
    seasons = wb.simulate(ahead, crop, soil, state=state)
    one = ahead.sel(member=2013, drop=True)[list(days.data_vars)]
    joined = xr.concat([spring, one], dim="time", coords="minimal", compat="override", join="exact")
    whole = wb.simulate(joined, crop, soil).sel(time=ahead["time"])
    for name in ("degree_days", "depletion", "crop_stage"):
        np.testing.assert_array_equal(seasons[name].sel(member=2013), whole[name])


def test_stations_go_to_fields_beside_members():
    weather = record("2012-01-01", "2015-06-30", ("north", "south"))
    own = xr.DataArray(["south", "north"], dims="field", coords={"field": ["A", "B"]})
    crop = wb.Crop(kc=1.0, root_depth=0.8, depletion_fraction=0.5, adjust_depletion_fraction=False)
    soil = wb.Soil(field_capacity=0.32, wilting_point=0.12)
    fields = weather.sel(station=own).drop_vars("station")
    state = wb.simulate(fields.sel(time=slice("2015-06-01", None)), crop, soil).isel(time=-1)
    ahead = outlook(weather, until="2015-07-10").sel(station=own).drop_vars("station")
    seasons = wb.simulate(ahead, crop, soil, state=state)
    assert seasons["depletion"].sizes == {"time": 10, "member": 3, "field": 2}
    xr.testing.assert_identical(outlook(fields, until="2015-07-10")["rain"], ahead["rain"])


def test_a_member_joined_to_what_was_observed_is_weather_again():
    weather = record("2012-01-01", "2015-06-30")
    one = outlook(weather, until="2015-07-31").sel(member=2013)
    joined = xr.concat(
        [weather, one[["rain", "et_ref"]]], dim="time", coords="minimal", compat="override", join="exact"
    )
    again = outlook(joined, until="2015-08-31")
    assert again["member"].values.tolist() == [2012, 2013, 2014]
    alone = outlook(
        one.sel(time=slice(None, "2015-07-01")),
        until="2015-07-31",
        forecast=one.sel(time=slice("2015-07-02", None)),
        past_years=False,
    )
    assert set(alone.coords) == {"time", "member", "latitude", "elevation"}


# ------------------------------------------------------------------------------- refusals
OBSERVED = record("2012-01-01", "2015-06-30")
AHEAD = record("2015-07-01", "2015-07-07")
UNTIL = "2015-09-30"


def other(name: str, **attrs: str) -> xr.Dataset:
    """The weather with an attribute of one variable changed."""
    return OBSERVED.assign({name: OBSERVED[name].assign_attrs(attrs)})


@pytest.mark.parametrize(
    ("weather", "options", "words"),
    [
        (
            OBSERVED,
            {"until": "2015-06-30"},
            "until: is no day after the last observation; found '2015-06-30'; allowed: 2015-07-01 or later",
        ),
        (OBSERVED, {"until": "soon"}, "until: is not a date"),
        (OBSERVED, {"until": 20150930}, "until: is not a date"),
        (
            OBSERVED,
            {"until": xr.DataArray(pd.to_datetime([UNTIL, UNTIL]), dims="field")},
            "until: holds several dates",
        ),
        (OBSERVED, {"until": UNTIL, "members": 0, "seed": 1}, "members: is no such number; found 0"),
        (OBSERVED, {"until": UNTIL, "members": True, "seed": 1}, "members: is no such number; found True"),
        (OBSERVED, {"until": UNTIL, "members": 5, "seed": 1.5}, "seed: is no such number; found 1.5"),
        (
            OBSERVED,
            {"until": UNTIL, "members": 5, "seed": -1},
            "seed: is no such number; found -1; allowed: a whole number, 0 or more",
        ),
        (
            OBSERVED,
            {"until": UNTIL, "members": 5},
            "seed: is missing, so that the members could not be made again",
        ),
        (OBSERVED, {"until": UNTIL, "seed": 1}, "seed: is given, and without members nothing is drawn"),
        (OBSERVED, {"until": UNTIL, "past_years": "no"}, "past_years: is neither True nor False; found 'no'"),
        (OBSERVED, {"until": UNTIL, "past_years": False}, "forecast: is missing"),
        (OBSERVED, {"until": UNTIL, "past_years": False, "members": 3}, "members, seed: are for past years"),
        (
            OBSERVED.to_dataframe(),
            {"until": UNTIL},
            "weather: is no Dataset with a dimension time; found DataFrame",
        ),
        (OBSERVED.isel(time=0), {"until": UNTIL}, "weather: is no Dataset with a dimension time"),
        (OBSERVED.isel(time=[0, 1, 3]), {"until": UNTIL}, "weather, time: misses days"),
        (OBSERVED.isel(time=slice(0)), {"until": UNTIL}, "weather, time: is empty"),
        (OBSERVED.drop_vars(["rain", "et_ref"]), {"until": UNTIL}, "weather: has no variable of weather"),
        (OBSERVED.expand_dims(member=[1]), {"until": UNTIL}, "weather: has members already; found 1 members"),
        (
            OBSERVED.assign({"Precip (in)": OBSERVED["rain"]}),
            {"until": UNTIL},
            "weather, 'Precip (in)': is no variable of weather",
        ),
        (OBSERVED.assign(tmin=5.0), {"until": UNTIL}, "weather, tmin: does not vary in time"),
        (
            other("rain", units="in day-1"),
            {"until": UNTIL},
            "weather, rain: is in another unit; found 'in day-1'; allowed: mm day-1",
        ),
        (
            OBSERVED.assign(rain=-OBSERVED["rain"]),
            {"until": UNTIL},
            "weather, rain: is outside its range (1277 values)",
        ),
        (
            OBSERVED.assign(rain=OBSERVED["rain"].astype(str)),
            {"until": UNTIL},
            "weather, rain: is not a number",
        ),
        (OBSERVED, {"until": UNTIL, "forecast": "rainy"}, "forecast: is no Dataset with a dimension time"),
        (
            OBSERVED,
            {"until": UNTIL, "forecast": AHEAD.drop_vars("rain")},
            "forecast, rain: is missing, and the weather has it",
        ),
        (
            OBSERVED,
            {"until": UNTIL, "forecast": AHEAD.isel(time=slice(2, None))},
            "forecast: leaves days out after the last observation; found 2015-07-03 to 2015-07-07; allowed: from 2015-07-01 on",
        ),
        (
            record("2012-01-01", "2015-07-03"),
            {"until": UNTIL, "forecast": record("2015-06-30", "2015-07-02")},
            "mend: take a newer forecast",
        ),
        (
            OBSERVED,
            {"until": UNTIL, "forecast": record("2015-06-28", "2015-07-07")},
            'forecast: overlaps the observations; found 2015-06-28 to 2015-07-07; allowed: from 2015-07-01 on; mend: forecast.sel(time=slice("2015-07-01", None))',
        ),
        (
            OBSERVED,
            {"until": UNTIL, "forecast": AHEAD, "past_years": False},
            "until: lies after the end of the forecast; found 2015-09-30; allowed: 2015-07-07 or earlier",
        ),
        (OBSERVED, {"until": "2015-07-07", "forecast": AHEAD}, "past_years: has no days to fill"),
        (
            OBSERVED,
            {"until": UNTIL, "forecast": AHEAD.where(AHEAD["time"] < AHEAD["time"][3])},
            "forecast, rain: has no value (4 values); first at 2015-07-04",
        ),
        (
            OBSERVED,
            {"until": UNTIL, "forecast": AHEAD.expand_dims(member=[1, 2])},
            "forecast: has members, and past years have their own; found 2 members",
        ),
        (
            OBSERVED,
            {"until": UNTIL, "forecast": AHEAD.expand_dims(station=["a"])},
            "forecast, rain: has other dimensions than in the weather; found station, time; allowed: time",
        ),
        (
            OBSERVED.expand_dims(station=["a"]),
            {"until": UNTIL, "forecast": AHEAD.expand_dims(station=["b"])},
            "weather and forecast: have different station labels",
        ),
        (
            OBSERVED,
            {"until": UNTIL, "forecast": AHEAD.assign_coords(latitude=41.0)},
            "forecast, latitude: is not that of the weather; found 41.0; allowed: 40.0",
        ),
        (
            other("et_ref", surface="tall"),
            {"until": UNTIL, "forecast": AHEAD},
            "forecast, et_ref: is of another surface than in the weather; found 'short'; allowed: 'tall'",
        ),
    ],
)
def test_refusals(weather, options, words):
    assert words in message(weather, **options)


def test_faults_are_told_together():
    text = message(
        OBSERVED.assign(rain=-OBSERVED["rain"]), until=7, members=0, forecast=3, past_years=None, seed=1.0
    )
    for words in ("6 faults", "past_years:", "members:", "seed:", "weather, rain:", "until:", "forecast:"):
        assert words in text


# ---------------------------------------------------------- methods, and a forecast with fewer sensors
def sensors(first: str, last: str) -> xr.Dataset:
    """Weather with every sensor, a little different each day."""
    days = pd.date_range(first, last, name="time")
    step = np.arange(len(days), dtype=float)
    table = pd.DataFrame(
        {
            "tmin": 10 + step % 7 / 3,
            "tmax": 22 + step % 5 / 2,
            "rhmin": 40 + step % 11,
            "rhmax": 80 + step % 9,
            "wind": 1 + step % 4 / 2,
            "solar": 14 + step % 6,
            "rain": (step % 8 == 0) * 5.0,
        },
        index=days,
    )
    return wb.read_weather(table, latitude=40.0, elevation=100.0)


def test_every_value_of_et_ref_keeps_its_method():
    observed, told = sensors("2021-01-01", "2023-06-30"), sensors("2023-07-01", "2023-07-05")
    weather = observed.assign(et_ref=wb.reference_et(observed))[["et_ref", "rain"]]
    forecast = told.assign(et_ref=wb.reference_et(told, "hargreaves"))[["et_ref", "rain"]]
    ahead = outlook(weather, until="2023-07-20", forecast=forecast)
    assert "et_ref_method" in ahead.coords
    assert ahead["et_ref_method"].dtype == np.int8
    # 3 is Hargreaves, of the forecast; 1 Penman-Monteith, of the past years.
    assert ahead["et_ref_method"].sel(member=2022).values.tolist() == [3] * 5 + [1] * 15
    given = forecast.drop_vars("et_ref_method")
    ahead = outlook(weather, until="2023-07-20", forecast=given)
    assert ahead["et_ref_method"].sel(member=2021).values.tolist() == [0] * 5 + [1] * 15
    plain = outlook(weather.drop_vars("et_ref_method"), until="2023-07-20", forecast=given)
    assert "et_ref_method" not in plain.variables


def test_a_forecast_of_temperature_and_rain_is_completed_and_its_humidity_put_as_the_weather_has_it():
    observed = sensors("2021-01-01", "2023-06-30")
    told = sensors("2023-07-01", "2023-07-05")[["tmin", "tmax", "rain"]]
    assert "estimate it, fill_weather(forecast, ...)" in message(observed, until="2023-07-20", forecast=told)
    filled = wb.fill_weather(told, dewpoint_offset=1, range_coefficient="interior", wind=2.0)
    assert "rhmin" not in filled
    ahead = outlook(observed, until="2023-07-20", forecast=filled)
    assert "dewpoint" not in ahead
    of_forecast = ahead.isel(time=slice(0, 5), member=0)
    np.testing.assert_allclose(wb.reference_et(of_forecast), wb.reference_et(filled), rtol=1e-12)
    assert set(ahead["rhmin_flag"].isel(time=slice(0, 5)).values.ravel()) == {code_of("forecast")}


def test_the_intensity_of_rain_is_missing_on_dry_days_alone():
    weather = sensors("2021-01-01", "2023-06-30")
    wet = weather["rain"] > 0
    intensity = xr.where(wet, 3.0, np.nan).assign_attrs(units="mm h-1")
    weather = weather.assign(rain_intensity=intensity)
    ahead = outlook(weather, until="2023-07-20")
    np.testing.assert_array_equal(ahead["rain_intensity"].notnull(), ahead["rain"] > 0)
    gone = weather.copy(deep=True)
    gone["rain_intensity"][np.flatnonzero(wet.sel(time="2021-07").values)[0] + 181] = np.nan
    ahead = outlook(gone, until="2023-07-20")
    assert ahead["member"].values.tolist() == [2022]
    assert "2021: rain_intensity has no value" in ahead.attrs["years_left_out"]


def test_a_dew_point_above_tmin_is_no_fault_of_a_forecast():
    observed = sensors("2021-01-01", "2023-06-30")
    told = sensors("2023-07-01", "2023-07-05").drop_vars(["rhmin", "rhmax"])
    damp = told.assign(dewpoint=(told["tmin"] + 2).assign_attrs(units="degC"))
    ahead = outlook(observed, until="2023-07-20", forecast=damp)
    assert float(ahead["rhmax"].isel(time=slice(0, 5)).max()) == 100.0
    words = told.assign(dewpoint=told["tmin"].astype(str).assign_attrs(units="degC"))
    assert "is not a number" in message(observed, until="2023-07-20", forecast=words)
