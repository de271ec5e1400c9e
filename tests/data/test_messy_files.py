"""Weather files as they arrived: three that ship inside wheels (records.py), read in one call each.

What tests/data/test_soil_moisture.py makes of the hourly one by pandas is the other side here.
"""

import numpy as np
import pandas as pd
import pytest

import waterbudget as wb
from tests.data import records
from tests.data.records import EXCHANGED, FULDA, HOURS, SEATTLE, SITE_24
from tests.data.records import SITE_24_COLUMNS as COLUMNS
from tests.data.records import SITE_24_PLACE as HERE
from tests.data.records import SITE_24_UNITS as UNITS


def faults_of(source, **options):
    with pytest.raises(wb.InputError) as caught:
        wb.read_weather(source, **{**HERE, **options})
    return {fault.what: fault for fault in caught.value.faults}


@pytest.fixture(scope="module")
def site_24():
    return records.site_24()


def test_the_swap_is_found_before_it_does_harm():
    found = faults_of(SITE_24, columns=COLUMNS, units=UNITS, sub_daily=HOURS)
    assert list(found) == ["weather, time"]
    assert "if day and month were exchanged" in found["weather, time"].problem
    assert found["weather, time"].mend.endswith("exchanged_dates=True) changes them back")


def test_whether_rain_is_a_rate_is_asked_and_its_two_sums_are_told_apart(site_24):
    found = faults_of(SITE_24, columns=COLUMNS, units={"pressure": "hPa"}, sub_daily=HOURS, layout=EXCHANGED)
    assert set(found) == {"units, 'rain'", "units, 'solar'"}
    # As amounts of each hour the sum would be 24 times as large, and no day of weather.
    amounts = faults_of(
        SITE_24, columns=COLUMNS, units={**UNITS, "rain": "mm"}, sub_daily=HOURS, layout=EXCHANGED
    )
    assert "is outside its range" in amounts["rain of a step"].problem
    written = pd.read_csv(SITE_24, comment="#")["rain_mmday"]
    assert float(site_24["rain"].sum()) == pytest.approx(written.sum() / 24, rel=1e-12)


def test_hours_become_the_days_that_pandas_makes_of_them(site_24):
    driver = pd.read_csv(SITE_24, comment="#")
    # A row of the file is an hour in order, whatever its date says: 24 rows are a day.
    hourly = {name: driver[own].to_numpy().reshape(1096, 24) for name, own in COLUMNS.items()}
    assert site_24.indexes["time"].equals(pd.date_range("2014-01-01", "2016-12-31", name="time"))
    saturated = 0.6108 * np.exp(17.27 * hourly["temperature"] / (hourly["temperature"] + 237.3))
    for name, expected in {
        "tmin": hourly["temperature"].min(axis=1),
        "tmax": hourly["temperature"].max(axis=1),
        "rhmin": hourly["relative_humidity"].min(axis=1),
        "rhmax": hourly["relative_humidity"].max(axis=1),
        "wind": hourly["wind"].mean(axis=1),
        "solar": hourly["solar"].mean(axis=1) * 0.0864,  # FAO-56 chapter 3, Table 3
        "rain": hourly["rain"].mean(axis=1),
        "pressure": hourly["pressure"].mean(axis=1) / 10,
        "vapour_pressure": (saturated * hourly["relative_humidity"] / 100).mean(axis=1),
    }.items():
        np.testing.assert_allclose(site_24[name].values, expected, rtol=1e-11, err_msg=name)
    assert "0 steps have no row at all; missing values, with these: none" in site_24.attrs["steps"]


def test_a_line_of_units_that_looks_like_a_comment():
    columns = records.FULDA_COLUMNS
    unread = faults_of(FULDA, columns=columns)
    assert list(unread) == ["date column 'date'"]
    assert 'date_format="%d.%m.%Y"' in unread["date column 'date'"].mend
    asked = faults_of(FULDA, columns=columns, layout=wb.TableLayout(comment=None, date_format="%d.%m.%Y"))
    assert "second header?" in asked["line 2"].problem
    weather = records.fulda()
    assert weather.indexes["time"].equals(pd.date_range("1979-01-01", "1988-12-31", name="time"))
    table = pd.read_csv(FULDA, skiprows=[1])
    np.testing.assert_array_equal(weather["tmax"], table["tmax"])
    np.testing.assert_array_equal(weather["rain"], table["Prec"])


def test_seattle_through_a_file_of_another_kind(tmp_path):
    weather = records.seattle()
    path = tmp_path / "seattle.nc"
    weather.to_netcdf(path)
    found = wb.read_weather(path)
    for name in weather.data_vars:
        np.testing.assert_array_equal(found[name], weather[name])
        assert found[name].attrs == weather[name].attrs
    # The same table as Europe writes it.
    table = pd.read_csv(SEATTLE).assign(
        date=lambda data: pd.to_datetime(data["date"]).dt.strftime("%d.%m.%Y")
    )
    other = tmp_path / "seattle.csv"
    table.to_csv(other, sep=";", decimal=",", index=False)
    layout = wb.TableLayout(decimal=",", date_format="%d.%m.%Y")
    again = wb.read_weather(
        other, columns=records.SEATTLE_COLUMNS, layout=layout, latitude=47.45, elevation=130.0
    )
    for name in weather.data_vars:
        np.testing.assert_array_equal(again[name], weather[name])
