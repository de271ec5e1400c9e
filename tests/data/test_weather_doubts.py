"""What `check_weather` says of records that nobody made for it, and of the two stations of the demo.

Data: Seattle, 2012 to 2015 (``vega_datasets``); site 24 at the Schwingbach, 2014 to 2016, hourly, and the Fulda
basin, 1979 to 1988 (both ``spotpy``); each is described in `records`. The stations of
``data_demo`` are drawn by ``make_weather.py``. Every row was looked at: it stands here with what is behind it.
"""

from __future__ import annotations

import pathlib

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from tests.data import records
from waterbudget.weather.calendar_faults import exchanged_days

DEMO = pathlib.Path(__file__).parents[2] / "data_demo"
DEMO_COLUMNS = {
    "time": "date",
    "tmin": "tmin_degC",
    "tmax": "tmax_degC",
    "rhmin": "rhmin_percent",
    "rhmax": "rhmax_percent",
    "wind": "wind_m_per_s",
    "solar": "solar_MJ_per_m2",
    "rain": "rain_mm",
}


seattle = pytest.fixture(records.seattle, scope="module")
site24 = pytest.fixture(records.site_24, scope="module")
fulda = pytest.fixture(records.fulda, scope="module")


def demo(station: str) -> xr.Dataset:
    latitude, elevation = {"bench": (38.6, 342.0), "bottomland": (38.5, 64.0)}[station]
    intensity = {"rain_intensity": "rain_intensity_mm_per_h"} if station == "bench" else {}
    return wb.read_weather(
        DEMO / f"weather_{station}.csv",
        latitude=latitude,
        elevation=elevation,
        columns=DEMO_COLUMNS | intensity,
    )


def told(doubts: pd.DataFrame) -> list[tuple[str, str, str, int]]:
    """Each row as its variable, the start of why, its first date and its days."""
    return [
        (row.variable, row.why[:22], str(row.first_date.date()), row.days)
        for row in doubts.sort_values(["variable", "first_date", "why"]).itertuples()
    ]


def test_seattle_has_one_calm_day(seattle):
    # Five nights of 8.9 degC are no doubt: the file is rounded to steps of 1 degF, and 1 night in 8 is as the last.
    assert told(wb.check_weather(seattle)) == [("wind", "below 0.5 m s-1 is rar", "2013-10-23", 1)]


def test_fulda_has_no_doubts_in_ten_years(fulda):
    assert fulda.sizes["time"] == 3653
    assert wb.check_weather(fulda).empty


def test_site_24_shows_what_its_owners_say_and_more(site24):
    assert told(wb.check_weather(site24)) == [
        # 1012 hPa on average is the sea's level, not that of 239 m.
        ("pressure", "the middle day (the va", "2014-01-01", 1096),
        # 159 mm in one evening: true, the water table rose in the same hours.
        ("rain", "above 150 mm day-1 is ", "2014-07-24", 1),
        # 100 % for a month and more, in July too: three nights in four touch 100 %, as no air over a meadow does.
        ("rhmax", "at 99.5 % or above for", "2014-07-06", 36),
        ("rhmax", "at 99.5 % or above for", "2014-09-14", 37),
        ("rhmax", "at 99.5 % or above for", "2014-10-29", 31),
        ("rhmax", "at 99.5 % or above for", "2016-05-18", 44),
        ("rhmax", "at 99.5 % or above for", "2016-07-15", 48),
        ("rhmax", "at 99.5 % or above for", "2016-10-03", 45),
        # The sensor of radiation is shaded: its clearest days have 0.62 to 0.69 of a clear sky.
        ("solar", "even the clearest days", "2014-01-01", 365),
        ("solar", "even the clearest days", "2015-01-01", 365),
        ("solar", "even the clearest days", "2016-01-01", 366),
        # A sheltered valley: one day in six is calm.
        ("wind", "below 0.5 m s-1 is rar", "2014-01-22", 67),
        ("wind", "below 1 m/s for 14 day", "2014-07-08", 14),
        ("wind", "below 1 m/s for 14 day", "2014-08-11", 15),
        ("wind", "below 0.5 m s-1 is rar", "2015-01-06", 67),
        ("wind", "below 1 m/s for 14 day", "2015-10-15", 25),
        ("wind", "below 0.5 m s-1 is rar", "2016-01-06", 38),
        ("wind", "below 1 m/s for 14 day", "2016-08-26", 20),
        ("wind", "below 1 m/s for 14 day", "2016-10-22", 15),
    ]


def test_clearest_days_of_site_24(site24):
    doubts = wb.check_weather(site24)
    dim = doubts[doubts["why"].str.startswith("even the clearest")]
    np.testing.assert_allclose(dim["value"], [0.62, 0.66, 0.69], atol=0.005)


@pytest.mark.parametrize("station", ["bench", "bottomland"])
def test_measured_days_of_the_demo_have_one_doubt(station):
    # The made-up valley has dry summer nights: a dew point 3.9 degC below tmin on average in June.
    measured = demo(station).sel(time=slice(None, "2025-07-14"))
    (row,) = wb.check_weather(measured).itertuples()
    assert (row.variable, str(row.first_date.date()), row.days) == ("rhmax", "2025-06-01", 30)
    assert row.why.endswith("over dry ground (FAO-56 Annex 6)")
    assert row.value == pytest.approx(3.9, abs=0.05)


@pytest.mark.parametrize("station", ["bench", "bottomland"])
def test_mean_year_of_the_demo_repeats_itself(station):
    # From 15 July on the file holds no measurements: a mean year changes little from day to day, and has no rain.
    doubts = wb.check_weather(demo(station))
    after = doubts[doubts["first_date"] > "2025-07-14"]
    assert set(after["variable"]) == {"tmin", "rhmin", "rhmax", "wind"}
    assert after["why"].str.startswith("the same value day after day").all()
    assert len(after) == 4
    before = doubts[doubts["first_date"] <= "2025-07-14"]
    assert before["variable"].tolist() == ["rain", "rhmax"]
    assert before["why"].iloc[0] == "no rain at all in a season"


def with_dates_exchanged(weather: xr.Dataset) -> xr.Dataset:
    """Weather as it stands when day and month are read in the wrong order, and the days are sorted."""
    time = pd.DatetimeIndex(weather["time"].values)
    wrong = [day.replace(month=day.day, day=day.month) if day.day <= 12 else day for day in time]
    order = time.get_indexer(pd.DatetimeIndex(wrong))
    order = np.where(order >= 0, order, np.arange(time.size))
    return weather.isel(time=order).assign_coords(time=weather["time"])


def test_exchanged_dates_are_found_in_every_year(seattle, site24, fulda):
    for weather, years in ((seattle, 4), (site24, 3), (fulda, 10)):
        doubts = wb.check_weather(with_dates_exchanged(weather)[["tmin", "tmax"]])
        doubts = doubts[doubts["variable"] == "time"]
        assert len(doubts) == years
        # Temperature changes by a third to two fifths of that from day to day, once the dates are put right.
        assert doubts["value"].between(0.6, 0.75).all()


def test_exchanged_dates_are_found_in_part_of_a_year():
    for station in ("bench", "bottomland"):
        doubts = wb.check_weather(with_dates_exchanged(demo(station))[["tmin", "tmax"]])
        assert "time" in set(doubts["variable"])


def test_hours_of_site_24_are_put_right():
    # Every date of the file is one; read as they stand, a third of the hours are not one after the last.
    plain = pd.DatetimeIndex(
        pd.to_datetime(pd.read_csv(records.SITE_24, comment="#")["time"], format="%Y-%m-%d %H:%M:%S")
    )
    mended = exchanged_days(plain)
    assert mended is not None
    assert mended.equals(pd.date_range("2014-01-01 00:00", "2016-12-31 23:00", freq="h"))
    assert exchanged_days(mended) is None
