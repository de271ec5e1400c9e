"""Faults of stations put into sound weather, each found by a row of its own; sound weather has none.

The weather is drawn: waves of the year, departures that last for days, rain that comes with cloud. It is sound by
construction: radiation of clear days is that of a clear sky (FAO-56 Eq. 36 and 37), sunshine is that of Eq. 35.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import pytest
import xarray as xr

from waterbudget.weather import check_weather, read_weather
from waterbudget.weather.calendar_faults import exchanged_days
from waterbudget.weather.flags import with_flags
from waterbudget.weather.radiation import clear_sky_radiation, daylight_hours, extraterrestrial_radiation

LATITUDE, ELEVATION = 46.2, 120.0
FIRST, LAST = "2022-01-01", "2024-12-31"
Array = npt.NDArray[np.float64]


def lasting(rng: np.random.Generator, days: int, memory: float) -> Array:
    """Departures of mean 0 and spread 1 that remember part of the day before."""
    series = rng.standard_normal(days)
    for day in range(1, days):
        series[day] = memory * series[day - 1] + np.sqrt(1 - memory**2) * series[day]
    return series


def saturation(temperature: Array) -> Array:
    return 0.6108 * np.exp(17.27 * temperature / (temperature + 237.3))


def draw(seed: int) -> pd.DataFrame:
    """Three years of sound weather with every kind of column, rounded as instruments print."""
    rng = np.random.default_rng(seed)
    time = pd.date_range(FIRST, LAST, name="time")
    days, day = time.size, time.dayofyear.to_numpy()
    summer = 0.5 - 0.5 * np.cos(2 * np.pi * (day - 20) / 365.25)
    cloud = lasting(rng, days, 0.5)
    wet = cloud > 0.6
    clear = np.clip(np.where(wet, 0.35, 0.92) - 0.12 * cloud, 0.12, 1.0) * rng.uniform(0.97, 1.01, days)
    outside = extraterrestrial_radiation(LATITUDE, day)
    middle = 1.0 + 20.0 * summer + 3.2 * lasting(rng, days, 0.75)
    half = 2.0 + 5.0 * clear + 0.4 * rng.standard_normal(days)
    tmin, tmax = middle - np.maximum(half, 1.0), middle + np.maximum(half, 1.0)
    dewpoint = tmin - np.clip(1.0 + 0.8 * summer + 0.8 * lasting(rng, days, 0.5), 0.1, None)
    vapour = saturation(dewpoint)
    rhmax = np.minimum(100 * vapour / saturation(tmin) + 3 * rng.standard_normal(days), 100)
    shine = daylight_hours(LATITUDE, day) * np.clip((0.75 * clear - 0.25) / 0.5, 0, 1)
    table = {
        "tmin": tmin.round(1),
        "tmax": tmax.round(1),
        "dewpoint": dewpoint.round(1),
        "rhmin": np.minimum(100 * vapour / saturation(tmax), rhmax - 1).round(1),
        "rhmax": rhmax.round(1),
        "vapour_pressure": vapour.round(3),
        "pressure": (99.9 + 0.7 * lasting(rng, days, 0.7)).round(2),
        "wind": np.exp(0.75 + 0.35 * lasting(rng, days, 0.4)).round(2),
        "solar": (clear * clear_sky_radiation(outside, ELEVATION)).round(2),
        "sunshine": shine.round(1),
        "rain": np.where(wet, 0.2 + rng.gamma(0.9, 9.0, days), 0.0).round(1),
    }
    return pd.DataFrame(table, index=time)


@functools.cache
def sound() -> pd.DataFrame:
    return draw(7)


def read(table: pd.DataFrame, latitude: float = LATITUDE, elevation: float = ELEVATION) -> xr.Dataset:
    return read_weather(table, latitude=latitude, elevation=elevation)


def test_sound_weather_gives_an_empty_table() -> None:
    stations = [read(draw(seed)) for seed in range(4)]
    together = xr.concat(stations, dim=pd.Index(["a", "b", "c", "d"], name="station"))
    doubts = check_weather(together)
    assert doubts.empty, doubts.to_string()


def holding(column: str, first: str, last: str, value: float) -> Callable[[pd.DataFrame], object]:
    def put(table: pd.DataFrame) -> None:
        table.loc[first:last, column] = value

    return put


def times(column: str, first: str, last: str, factor: float) -> Callable[[pd.DataFrame], object]:
    def put(table: pd.DataFrame) -> None:
        table.loc[first:last, column] *= factor

    return put


def plus(column: str, first: str, last: str, more: float) -> Callable[[pd.DataFrame], object]:
    def put(table: pd.DataFrame) -> None:
        table.loc[first:last, column] += more

    return put


def holding_steps(column: str, first: str, last: str, value: float) -> Callable[[pd.DataFrame], object]:
    """About one value, which changes from day to day."""

    def put(table: pd.DataFrame) -> None:
        days = len(table.loc[first:last])
        table.loc[first:last, column] = value + 0.05 * (np.arange(days) % 3)

    return put


def thunder(table: pd.DataFrame) -> None:
    table.loc["2023-06-10", ["solar", "sunshine", "rain"]] = 3.0, 0.0, 60.0


def low_and_high(table: pd.DataFrame) -> None:
    """Pressure that climbs by 4 kPa twice in a row: a change, and no spike."""
    table.loc["2023-11-01":"2023-11-09", "pressure"] += [-1.0, -2.0, -3.0, -4.0, 0.0, 4.0, 3.0, 2.0, 1.0]


def cloudless(table: pd.DataFrame) -> None:
    days = pd.date_range("2023-06-15", "2023-06-24")
    clear = clear_sky_radiation(extraterrestrial_radiation(LATITUDE, days.dayofyear.to_numpy()), ELEVATION)
    table.loc[days, ["sunshine", "rain"]] = 15.4, 0.0
    table.loc[days, "solar"] = (clear * (0.95 + np.arange(10) * 0.618 % 1 * 0.05)).round(2)


def dry_spell(table: pd.DataFrame) -> None:
    table.loc["2023-05-31":"2023-08-29", "rain"] = 0.0
    table.loc[["2023-05-31", "2023-08-29"], "rain"] = 3.0


def equal(column: str, other: str) -> Callable[[pd.DataFrame], object]:
    def put(table: pd.DataFrame) -> None:
        table.loc["2023-06-10", column] = table.loc["2023-06-10", other]

    return put


def dust(table: pd.DataFrame) -> None:
    """Dust on a sensor of radiation: 3 % more each year, so that no year is low by itself."""
    table["solar"] *= np.interp(np.arange(len(table)), [0, len(table)], [1.0, 0.91])


def sunny_in_the_dark(table: pd.DataFrame) -> None:
    table.loc["2023-08-18", ["sunshine", "solar"]] = 13.0, 4.0


def dry_sensor(table: pd.DataFrame) -> None:
    table[["rhmin", "rhmax"]] *= 0.85


def dry_ground(table: pd.DataFrame) -> None:
    table.loc["2023-06-01":"2023-08-31", "dewpoint"] -= 3.0
    table[["rhmin", "rhmax", "vapour_pressure"]] = np.nan


def dry_summer(table: pd.DataFrame) -> None:
    table.loc["2023-04-30":"2023-09-02", "rain"] = 0.0
    table.loc[["2023-04-30", "2023-09-02"], "rain"] = 3.0


def from_tmin(table: pd.DataFrame) -> None:
    table.loc["2023-05-01":"2023-05-31", "dewpoint"] = table["tmin"] - 1.0


def copied_week(table: pd.DataFrame) -> None:
    table.loc["2024-03-01":"2024-03-07"] = table.loc["2023-02-10":"2023-02-16"].to_numpy()


def rain_of_the_day_before(table: pd.DataFrame) -> None:
    table["rain"] = table["rain"].shift(1, fill_value=0.0)


def rain_of_the_day_after(table: pd.DataFrame) -> None:
    table["rain"] = table["rain"].shift(-1, fill_value=0.0)


def rain_of_elsewhere(table: pd.DataFrame) -> None:
    table["rain"] = np.roll(table["rain"].to_numpy(), 41)


def exchanged_2023(table: pd.DataFrame) -> None:
    """Values of 1 February stand at 2 January, and so on; the days themselves are in order."""
    year = table.index[table.index.year == 2023]
    few = year[year.day <= 12]
    other = pd.DatetimeIndex([pd.Timestamp(2023, stamp.day, stamp.month) for stamp in few])
    table.loc[few] = table.loc[other].to_numpy()


def only(table: pd.DataFrame, first: str, last: str) -> None:
    table[(table.index < first) | (table.index > last)] = np.nan


def fraction(table: pd.DataFrame) -> None:
    table[["rhmin", "rhmax"]] /= 100


def fahrenheit_winter(table: pd.DataFrame) -> None:
    only(table, "2022-12-01", "2023-01-31")
    for column in ("tmin", "tmax", "dewpoint"):
        table[column] = (table[column] * 1.8 + 32).round(1)


def hectopascal_winter(table: pd.DataFrame) -> None:
    only(table, "2022-12-01", "2023-02-15")
    table["vapour_pressure"] = np.minimum(table["vapour_pressure"] * 10, 10.0)


def watts_winter(table: pd.DataFrame) -> None:
    only(table, "2022-12-10", "2023-01-20")
    table["solar"] = np.minimum(table["solar"] / 0.0864, 50.0)


# What was put in; variable, first and last date and number of days of its row; a part of why.
FAULTS: dict[str, tuple[Callable[[pd.DataFrame], object], str, str, str, str]] = {
    "no value at all": (holding("wind", FIRST, LAST, np.nan), "wind", FIRST, LAST, "no value at all"),
    "a gap": (holding("tmin", "2023-04-02", "2023-04-05", np.nan), "tmin", "2023-04-02", "2023-04-05", "no value"),
    "radiation above a clear sky": (holding("solar", "2023-06-10", "2023-06-11", 35.0), "solar", "2023-06-10", "2023-06-11", "above radiation under a clear sky"),
    "radiation of a dead sensor": (holding("solar", "2023-06-10", "2023-06-20", 0.0), "solar", "2023-06-10", "2023-06-20", "below 5% of radiation"),
    "a dirty pyranometer in one year": (times("solar", "2023-01-01", "2023-12-31", 0.8), "solar", "2023-01-01", "2023-12-31", "clearest days of the year are dark"),
    "dust year after year": (dust, "solar", FIRST, LAST, "drift"),
    "a dry sensor of humidity": (dry_sensor, "rhmax", FIRST, LAST, "never reaches 90 %"),
    "a dew point too low all year": (plus("dewpoint", FIRST, LAST, -3.0), "dewpoint", FIRST, LAST, "never reaches 90 %"),
    "vapour pressure too low all year": (times("vapour_pressure", FIRST, LAST, 0.85), "vapour_pressure", FIRST, LAST, "never reaches 90 %"),
    "humidity stuck at 100 %": (holding("rhmax", "2023-07-01", "2023-08-04", 100.0), "rhmax", "2023-07-01", "2023-08-04", "for 28 days or more"),
    "a summer over dry ground": (dry_ground, "dewpoint", "2023-06-01", "2023-08-31", "over dry ground"),
    "a dew point made of tmin": (from_tmin, "dewpoint", "2023-05-01", "2023-05-31", "computed from it"),
    "an anemometer that stands": (holding("wind", "2023-09-01", "2023-09-09", 1.2), "wind", "2023-09-01", "2023-09-09", "same value day after day"),
    "a calm day": (holding("wind", "2023-09-01", "2023-09-01", 0.4), "wind", "2023-09-01", "2023-09-01", "below 0.5 m s-1"),
    "a worn bearing": (times("wind", "2023-09-01", "2023-10-15", 0.1), "wind", "2023-09-01", "2023-10-15", "for 14 days or more"),
    "a week copied": (copied_week, "tmin", "2024-03-01", "2024-03-07", "as many days before"),
    "a hot day": (plus("tmax", "2023-05-03", "2023-05-03", 22.0), "tmax", "2023-05-03", "2023-05-03", "far from the days before and after"),
    "a night of frost in summer": (plus("tmin", "2023-07-03", "2023-07-03", -22.0), "tmin", "2023-07-03", "2023-07-03", "far from the days before and after"),
    "a gust for a mean": (holding("wind", "2023-05-03", "2023-05-03", 14.5), "wind", "2023-05-03", "2023-05-03", "far from the days before and after"),
    "a jump of pressure": (plus("pressure", "2023-05-03", "2023-05-03", -6.0), "pressure", "2023-05-03", "2023-05-03", "far from the days before and after"),
    "a jump of humidity": (holding("vapour_pressure", "2023-02-03", "2023-02-03", 3.5), "vapour_pressure", "2023-02-03", "2023-02-03", "far from the days before and after"),
    "rain a day late": (rain_of_the_day_before, "rain", FIRST, LAST, "the one before the rain"),
    "rain a day early": (rain_of_the_day_after, "rain", FIRST, LAST, "the one after the rain"),
    "rain of elsewhere": (rain_of_elsewhere, "rain", FIRST, LAST, "hardly darker"),
    "day and month exchanged": (exchanged_2023, "time", "2023-01-01", "2023-12-31", "day and month may be exchanged"),
    "wind in km/h": (times("wind", FIRST, LAST, 3.6), "wind", FIRST, LAST, "like km/h"),
    "radiation in kWh m-2": (times("solar", FIRST, LAST, 1 / 3.6), "solar", FIRST, LAST, "like kWh m-2"),
    "radiation in W m-2": (watts_winter, "solar", "2022-12-10", "2023-01-20", "like W m-2"),
    "rain in inches": (times("rain", FIRST, LAST, 1 / 25.4), "rain", FIRST, LAST, "like inches"),
    "rain in cm": (times("rain", FIRST, LAST, 0.1), "rain", FIRST, LAST, "like inches or cm"),
    "wind in mph": (times("wind", FIRST, LAST, 2.9), "wind", FIRST, LAST, "mph"),  # of a windy place, 3 m/s
    "humidity as a fraction": (fraction, "rhmax", FIRST, LAST, "like a fraction"),
    "a winter in degF": (fahrenheit_winter, "tmax", "2022-12-01", "2023-01-31", "like degF"),
    "vapour pressure in hPa": (hectopascal_winter, "vapour_pressure", "2022-12-01", "2023-02-15", "like hPa"),
    "sunshine longer than the day": (holding("sunshine", "2023-12-10", "2023-12-10", 11.0), "sunshine", "2023-12-10", "2023-12-10", "longer than the day"),
    "sunshine in the dark": (sunny_in_the_dark, "sunshine", "2023-08-18", "2023-08-18", "contradict each other"),
    "sunshine and radiation apart": (times("sunshine", FIRST, LAST, 0.3), "solar", FIRST, LAST, "times what sunshine gives"),
    "a dew point above tmin": (plus("dewpoint", "2023-06-10", "2023-06-10", 9.0), "dewpoint", "2023-06-10", "2023-06-10", "above tmin"),
    "two kinds of humidity": (times("vapour_pressure", "2023-06-10", "2023-06-16", 0.6), "dewpoint", "2023-06-10", "2023-06-16", "25% apart"),
    "tmin for tmax": (equal("tmax", "tmin"), "tmin", "2023-06-10", "2023-06-10", "tmin equals tmax"),
    "rhmin for rhmax": (equal("rhmin", "rhmax"), "rhmin", "2023-06-10", "2023-06-10", "rhmin equals rhmax"),
    "a summer without rain": (dry_summer, "rain", "2023-05-01", "2023-09-01", "no rain at all"),
}  # fmt: skip


# What sound stations may show: each is less than a fault of the same kind.
NEAR_MISSES: dict[str, Callable[[pd.DataFrame], object]] = {
    "a little haze": times("solar", FIRST, LAST, 0.94),
    "one hazy year of three": times("solar", "2024-01-01", "2024-12-31", 0.97),
    "a day of thunder": thunder,
    "nights a little dry": plus("dewpoint", "2023-06-01", "2023-08-31", -0.8),
    "three weeks of fog": holding("rhmax", "2023-11-01", "2023-11-21", 100.0),
    "four days alike": holding("wind", "2023-09-01", "2023-09-04", 2.2),
    "ten days of light wind": holding_steps("wind", "2023-09-01", "2023-09-10", 0.6),
    "a warm front": plus("tmax", "2023-05-03", "2023-05-03", 5.0),
    "a storm": holding("wind", "2023-11-03", "2023-11-03", 7.5),
    "a passing low": low_and_high,
    "a spell without cloud": cloudless,
    "a low": plus("pressure", "2023-11-03", "2023-11-03", -1.5),
    "a windy place": times("wind", FIRST, LAST, 1.8),
    "a drizzly place": times("rain", FIRST, LAST, 0.25),
    "89 dry days": dry_spell,
    "a height read from a map": plus("pressure", FIRST, LAST, 1.5),
    "other coefficients of sunshine": times("sunshine", FIRST, LAST, 0.8),
}


def test_near_misses_are_no_doubts() -> None:
    stations = []
    for put in NEAR_MISSES.values():
        table = sound().copy()
        put(table)
        stations.append(read(table))
    doubts = check_weather(xr.concat(stations, dim=pd.Index(NEAR_MISSES, name="station")))
    assert doubts.empty, doubts.to_string()


@functools.cache
def doubts_of_faults() -> pd.DataFrame:
    """Doubts about a station for each fault, all in one call: what is wrong at one is not seen at another."""
    stations = []
    for put, *_ in FAULTS.values():
        table = sound().copy()
        put(table)
        stations.append(read(table))
    return check_weather(xr.concat(stations, dim=pd.Index(FAULTS, name="station")))


def row_of(fault: str) -> Any:
    """The one row that tells a fault."""
    _, variable, _, _, why = FAULTS[fault]
    doubts = doubts_of_faults()
    doubts = doubts[doubts["station"] == fault]
    rows = doubts[(doubts["variable"] == variable) & doubts["why"].str.contains(why, regex=False)]
    assert len(rows) == 1, doubts.to_string()
    return next(rows.itertuples())


@pytest.mark.parametrize("fault", FAULTS)
def test_each_fault_is_found_by_its_own_row(fault: str) -> None:
    _, _, first, last, _ = FAULTS[fault]
    found = row_of(fault)
    assert (found.first_date, found.last_date) == (pd.Timestamp(first), pd.Timestamp(last))
    assert found.days == (found.last_date - found.first_date).days + 1


def test_doubts_name_the_documents_they_follow() -> None:
    """Annex 5 of FAO-56 and Appendix D of ASCE-EWRI 2005, where the doubt is one of theirs."""
    for fault, document in (
        ("a dirty pyranometer in one year", "(FAO-56 Annex 5, ASCE-EWRI 2005 Appendix D)"),
        ("a dry sensor of humidity", "(FAO-56 Annex 5, ASCE-EWRI 2005 Appendix D)"),
        ("dust year after year", "(FAO-56 Annex 5)"),
        ("a summer over dry ground", "(FAO-56 Annex 6)"),
        ("a worn bearing", "(ASCE-EWRI 2005 Appendix D)"),
    ):
        assert row_of(fault).why.endswith(document)


def test_values_say_how_much() -> None:
    def value(fault: str) -> float:
        return float(row_of(fault).value)

    assert value("a dirty pyranometer in one year") == pytest.approx(0.8, abs=0.015)
    assert value("dust year after year") == pytest.approx(
        0.06, abs=0.015
    )  # 9 % in three years, first to last mean
    assert value("a week copied") == (pd.Timestamp("2024-03-01") - pd.Timestamp("2023-02-10")).days
    assert value("a dew point made of tmin") == pytest.approx(1.0)
    assert value("a worn bearing") < 0.5
    assert 3.0 < value("a summer over dry ground") < 6.0


def test_coarse_numbers_that_meet_are_no_copy() -> None:
    """Whole degrees of a steady climate: five days like five others come by chance, a copied month does not."""
    rng = np.random.default_rng(5)
    time = pd.date_range(FIRST, LAST, name="time")
    table = pd.DataFrame(
        {"tmin": rng.integers(23, 26, time.size), "tmax": rng.integers(30, 34, time.size)}, index=time
    )
    table = table.astype(float)

    def copies() -> pd.DataFrame:
        doubts = check_weather(read(table, latitude=2.0))
        assert "time" not in set(
            doubts["variable"]
        )  # without memory no order of the days is the steadier one
        return doubts[doubts["why"].str.contains("as many days before")]

    assert copies().empty
    table.loc["2024-03-01":"2024-03-31"] = table.loc["2023-01-01":"2023-01-31"].to_numpy()
    (row,) = copies().itertuples()
    assert row.value == 425
    # The days around the block may be like those around its source by chance.
    assert row.first_date <= pd.Timestamp("2024-03-01")
    assert row.last_date >= pd.Timestamp("2024-03-31")
    assert 31 <= row.days <= 34


def test_short_records_are_not_judged_as_a_whole() -> None:
    """A wet month is too short for the calendar, for the clearest days and for the units of most columns."""
    table = sound().loc["2023-05-01":"2023-05-25"].copy()
    table[["solar", "rain"]] *= [0.85, 1 / 25.4]
    table["wind"] = 7 + np.arange(25) * 0.618 % 1
    assert check_weather(read(table)).empty


FLAGGED = {
    "an anemometer that stands": "wind",
    "a hot day": "tmax",
    "a week copied": "tmin",
    "humidity stuck at 100 %": "rhmax",
    "a dirty pyranometer in one year": "solar",
    "a dew point made of tmin": "dewpoint",
    "rain a day late": "rain",
    "rain in inches": "rain",
    "day and month exchanged": "tmin",
}


def test_estimated_values_are_not_judged_as_readings() -> None:
    stations = []
    for fault in FLAGGED:
        table = sound().copy()
        FAULTS[fault][0](table)
        stations.append(read(table))
    weather = xr.concat(stations, dim=pd.Index(FLAGGED, name="station"))
    for name in ("tmin", "tmax", "rhmax", "dewpoint", "wind", "solar", "rain"):
        weather = with_flags(weather, name, xr.ones_like(weather[name], dtype=bool), "from_neighbour")
    doubts = check_weather(weather)
    for fault, variable in FLAGGED.items():
        here = doubts[(doubts["station"] == fault) & (doubts["variable"] == variable)]
        assert not here["why"].str.contains(FAULTS[fault][4], regex=False).any(), here.to_string()
    assert not (doubts["variable"] == "time").any()


def test_estimated_values_keep_their_ranges_and_gaps() -> None:
    table = sound().copy()
    table.loc["2023-06-10", ["wind", "solar"]] = 0.2, 40.0
    table.loc["2023-06-12", "rain"] = np.nan
    weather = read(table)
    for name in ("wind", "solar", "rain"):
        weather = with_flags(weather, name, xr.ones_like(weather[name], dtype=bool), "stated")
    doubts = check_weather(weather)
    assert doubts["variable"].tolist() == ["wind", "solar", "rain", "solar"]
    assert not doubts["variable"].str.endswith("_flag").any()


def test_the_pole_has_no_doubts_about_its_night() -> None:
    """At 90 degrees north the sun does not rise for half a year: radiation and sunshine are 0, or nearly."""
    rng = np.random.default_rng(3)
    time = pd.date_range("2023-01-01", "2023-12-31", name="time")
    outside = extraterrestrial_radiation(90.0, time.dayofyear.to_numpy())
    clear = np.where(rng.random(time.size) < 0.3, 0.5, 0.98) * rng.uniform(0.95, 1.0, time.size)
    tmin = -15 + 12 * np.sin(2 * np.pi * (time.dayofyear - 110) / 365) + 2 * rng.standard_normal(time.size)
    table = pd.DataFrame(
        {
            "tmin": tmin,
            "tmax": tmin + 5 + rng.random(time.size),
            "solar": (clear * clear_sky_radiation(outside, 0.0)).round(2)
            + 0.4 * rng.random(time.size) * (outside == 0),
            "sunshine": np.where(outside > 0, 24 * np.clip((0.75 * clear - 0.25) / 0.5, 0, 1), 0.0),
            "rain": np.where(clear < 0.6, 0.5 + 8 * rng.random(time.size), 0.0),
        },
        index=time,
    )
    doubts = check_weather(read(table, latitude=90.0, elevation=0.0))
    assert doubts.empty, doubts.to_string()
    dark = table.assign(solar=table["solar"].where(outside > 0, 0.0))
    assert check_weather(read(dark, latitude=90.0, elevation=0.0)).empty


def test_pressure_and_elevation() -> None:
    """FAO-56 Eq. 7: 101.3 kPa at the sea, 90.2 kPa at 984 m, 72.4 kPa at 2810 m."""
    for elevation, level, end in (
        (984.0, 90.2, None),
        (984.0, 101.3, "it may be reduced to sea level"),
        (984.0, 98.0, "it is that of the same number of feet"),
        (984.0, 85.0, "one of the two is wrong"),
        (2810.0, 72.4, None),
    ):
        table = sound()[["tmin", "tmax", "pressure"]].assign(pressure=lambda t: t["pressure"] - 99.9)
        table["pressure"] += level
        doubts = check_weather(read(table, elevation=elevation))
        if end is None:
            assert doubts.empty
        else:
            (row,) = doubts.itertuples()
            assert row.variable == "pressure"
            assert row.why.endswith(f"elevation (FAO-56 Eq. 7): {end}")
            assert row.value == pytest.approx(level, abs=0.2)


def test_two_stations_with_other_kinds_of_humidity_are_both_judged() -> None:
    one, two = sound().copy(), sound().copy()
    for table in (one, two):
        dry_ground(table)
    two["vapour_pressure"] = saturation(two["dewpoint"])
    two["dewpoint"] = np.nan
    weather = xr.concat([read(one), read(two)], dim=pd.Index(["dewpoint", "vapour_pressure"], name="station"))
    doubts = check_weather(weather)
    doubts = doubts[doubts["why"].str.contains("dry ground")]
    assert sorted(doubts["variable"]) == ["dewpoint", "vapour_pressure"]
    assert (doubts["variable"] == doubts["station"]).all()


def test_doubts_of_several_dimensions_are_placed() -> None:
    """A fault of one member at one station, radiation of all of them, and time in the middle."""
    table = sound().loc["2023"]
    weather = read(table)
    lift = xr.DataArray(
        np.zeros((2, 3)), dims=("member", "station"), coords={"member": [0, 1], "station": list("abc")}
    )
    wind = (weather["wind"] + lift).transpose("member", "time", "station").copy()
    wind.loc[{"member": 1, "station": "b", "time": slice("2023-09-01", "2023-09-09")}] = 1.2
    tmax = (weather["tmax"] + lift).copy()
    tmax.loc[{"member": 0, "station": "c", "time": "2023-05-03"}] += 22.0
    weather = weather.assign(wind=wind, tmax=tmax, solar=0.85 * weather["solar"])
    weather = weather.assign_coords(latitude=lift.isel(member=0, drop=True) + LATITUDE)
    doubts = check_weather(weather)
    assert doubts[["variable", "station", "days"]].values.tolist() == [
        ["tmax", "member 0, station c", 1],
        ["wind", "member 1, station b", 9],
        ["solar", "a", 365],
        ["solar", "b", 365],
        ["solar", "c", 365],
    ]


def test_rain_and_radiation_are_compared_with_care() -> None:
    """Cloud without memory, so that a rain of other days says nothing at all about radiation."""
    rng = np.random.default_rng(11)
    time = pd.date_range("2023-01-01", "2023-12-31", name="time")
    few, many = rng.random((2, time.size)) < [[0.08], [0.3]]
    clear = np.where(many, 0.4, 0.95) * rng.uniform(0.9, 1.05, time.size)
    cloudless_sky = clear_sky_radiation(
        extraterrestrial_radiation(LATITUDE, time.dayofyear.to_numpy()), ELEVATION
    )
    base = sound().loc["2023", ["tmin", "tmax"]].assign(solar=clear * cloudless_sky)
    drawn = np.where(few, rng.uniform(2, 20, time.size), 0.0)
    elsewhere = [read(base.assign(rain=np.roll(drawn, days))) for days in range(0, 360, 9)]
    doubts = check_weather(xr.concat(elsewhere, dim=pd.Index(range(40), name="station")))
    # Of some thirty wet days the day before, or after, is often the darker one by chance, and hardly ever surely.
    surely = doubts["why"].str.startswith("the dark day is")
    assert surely.sum() <= 1
    assert doubts.loc[~surely, "why"].str.startswith("wet days are hardly darker").all()
    assert len(doubts) > 20
    rain = np.where(many, rng.uniform(2, 20, time.size), 0.0)
    assert check_weather(read(base.assign(rain=rain))).empty
    for days, side in ((1, "before"), (-1, "after")):
        (row,) = check_weather(read(base.assign(rain=np.roll(rain, days)))).itertuples()
        assert row.why.startswith(f"the dark day is the one {side} the rain")
        told = [day for day in np.flatnonzero(many) if 0 <= day + days < time.size]
        lighter = np.mean([clear[day + days] - clear[day] for day in told])
        assert row.value == pytest.approx(
            lighter, abs=0.01
        )  # a wrapped day at the end of the year is left out
    # Rain on a bright day between dark ones: the darker of them tells the shift, and it is told once.
    between = np.array([0.5, 0.9, 0.4, 0.9, 0.9])[np.arange(time.size) % 5] * rng.uniform(
        0.95, 1.05, time.size
    )
    rain = np.where(np.arange(time.size) % 5 == 1, rng.uniform(2, 20, time.size), 0.0)
    (row,) = check_weather(read(base.assign(rain=rain, solar=between * cloudless_sky))).itertuples()
    assert row.why.startswith("the dark day is the one after the rain")
    assert row.value == pytest.approx(0.5, abs=0.02)


def test_a_broken_sensor_of_humidity_is_not_a_dry_one() -> None:
    table = sound().copy()
    table.loc["2023-02-01":"2023-12-15", "rhmax"] = np.nan
    (row,) = check_weather(read(table)).itertuples()
    assert (row.variable, row.why, row.days) == ("rhmax", "no value", 318)


def test_no_intensity_is_asked_for_on_days_without_rain() -> None:
    table = sound()[["tmin", "tmax", "rain"]].copy()
    wet = table["rain"] > 0
    table["rain_intensity"] = np.where(wet, 2 + table["rain"] / 7, np.nan)
    assert check_weather(read(table)).empty
    day = table.index[wet][9]
    table.loc[day, "rain_intensity"] = np.nan
    (row,) = check_weather(read(table)).itertuples()
    assert (row.variable, row.first_date, row.why) == ("rain_intensity", day, "no value")


def test_exchanged_dates_are_put_right() -> None:
    days = pd.date_range("2023-01-01", "2024-12-31", name="day")
    exchanged = pd.DatetimeIndex(
        [pd.Timestamp(day.year, day.day, day.month) if day.day <= 12 else day for day in days]
    )
    mended = exchanged_days(exchanged.rename("day"))
    assert mended is not None
    pd.testing.assert_index_equal(mended, days, exact="equiv")
    assert mended.name == "day"
    hours = pd.date_range("2023-03-01", "2023-03-31 23:30", freq="30min")
    half = pd.DatetimeIndex(
        [hour.replace(month=hour.day, day=hour.month) if hour.day <= 12 else hour for hour in hours]
    )
    mended = exchanged_days(half)
    assert mended is not None
    assert mended.equals(hours)


@pytest.mark.parametrize(
    "stamps",
    [
        pd.date_range("2023-01-01", periods=60),  # in order as it is
        pd.date_range("2023-01-13", periods=10),  # in order either way
        pd.DatetimeIndex([]),
        pd.DatetimeIndex(["2023-01-02"]),
        pd.date_range("2023-01-01", periods=60)[::-1],  # exchanged or not, out of order
        pd.DatetimeIndex(["2023-02-01", "2023-01-02", "2023-01-02"]),  # not unique
        pd.DatetimeIndex(["2023-01-01", "2023-02-01", "2023-01-03", "2023-01-05"][::-1]),  # no day tells
        pd.DatetimeIndex(["2023-02-01", pd.NaT, "2023-01-03"]),
    ],
)
def test_other_axes_are_not_put_right(stamps: pd.DatetimeIndex) -> None:
    assert exchanged_days(stamps) is None
