"""Tables in steps shorter than a day: which steps make a day, what is averaged, what is added up."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget import SubDaily, TableLayout, read_weather, reference_et
from waterbudget.errors import Fault, InputError

SITE = {"latitude": 46.2, "elevation": 120.0}
START = SubDaily(stamp="start")
UNITS = {"rain": "mm", "solar": "W m-2"}


def hours(days: int = 3, step: str = "1h", **changes: object) -> pd.DataFrame:
    """Weather in steps that bear the time of their start, with a plain course of the day."""
    stamps = pd.date_range(
        "2024-07-01", periods=round(days * (pd.Timedelta(days=1) / pd.Timedelta(step))), freq=step
    )
    hour = (stamps.hour + stamps.minute / 60).to_numpy()
    day = (stamps.normalize() - stamps[0]).days.to_numpy()
    frame = pd.DataFrame(
        {
            "time": stamps,
            "temperature": 15 - 5 * np.cos(2 * np.pi * (hour - 3) / 24) + day,
            "relative_humidity": 70 + 20 * np.cos(2 * np.pi * (hour - 3) / 24),
            "wind": 2.0 + day + (hour > 12),
            "solar": np.where((hour > 6) & (hour < 18), 500.0, -1.0),
            "rain": np.where(hour == 17, 4.0, 0.0),
        }
    )
    return frame.assign(**changes)


def read(
    source: object, how: SubDaily = START, units: dict[str, str] = UNITS, **options: object
) -> xr.Dataset:
    """Read at the usual place."""
    return read_weather(source, sub_daily=how, units=units, **{**SITE, **options})


def only(source: object, *how: object, **options: object) -> Fault:
    """Give the one fault that a source has."""
    with pytest.raises(InputError) as caught:
        read(source, *how, **options)
    (fault,) = caught.value.faults
    return fault


def of_day(frame: pd.DataFrame, column: str) -> np.ndarray:
    """Values of a column, a row a day."""
    return frame[column].to_numpy().reshape(-1, 24)


# ------------------------------------------------------------------------------------ making days
def test_extremes_means_and_sums() -> None:
    frame = hours()
    weather = read(frame)
    assert weather.indexes["time"].equals(pd.date_range("2024-07-01", periods=3, name="time"))
    expected = {
        "tmin": of_day(frame, "temperature").min(axis=1),
        "tmax": of_day(frame, "temperature").max(axis=1),
        "rhmin": of_day(frame, "relative_humidity").min(axis=1),
        "rhmax": of_day(frame, "relative_humidity").max(axis=1),
        "wind": of_day(frame, "wind").mean(axis=1),
        # W m-2 of a day's mean over 86400 s (FAO-56 Table 3); what the sensor shows at night is not clipped.
        "solar": of_day(frame, "solar").mean(axis=1) * 0.0864,
        "rain": of_day(frame, "rain").sum(axis=1),
    }
    for name, values in expected.items():
        np.testing.assert_allclose(weather[name], values, rtol=1e-12, err_msg=name)
    assert set(weather.data_vars) == {*expected, "vapour_pressure"}
    # FAO-56 Eq. 11 of each hour, times its relative humidity.
    saturated = 0.6108 * np.exp(17.27 * frame["temperature"] / (frame["temperature"] + 237.3))
    vapour = (saturated * frame["relative_humidity"] / 100).to_numpy().reshape(-1, 24).mean(axis=1)
    np.testing.assert_allclose(weather["vapour_pressure"], vapour, rtol=1e-12)
    assert reference_et(weather).attrs["method"] == "fao56"


@pytest.mark.parametrize("step", ["10min", "30min", "1h", "3h"])
def test_amounts_are_summed_and_rates_averaged_whatever_the_step(step: str) -> None:
    frame = hours(step=step)
    length = pd.Timedelta(step) / pd.Timedelta(hours=1)
    rate, energy = frame["rain"] / length, frame["solar"] * 3600 * length / 1e6
    amounts = read(frame.assign(solar=energy), units={"rain": "mm", "solar": "MJ m-2"})
    rates = read(frame.assign(rain=rate), units={"rain": "mm/h", "solar": "W m-2"})
    by_day = read(frame.assign(rain=rate * 24), units={"rain": "mm/day", "solar": "W m-2"})
    total = frame["rain"].to_numpy().reshape(3, -1).sum(axis=1)
    for weather in (amounts, rates, by_day):
        np.testing.assert_allclose(weather["rain"], total, rtol=1e-12)
        np.testing.assert_allclose(weather["solar"], amounts["solar"], rtol=1e-12)
    minutes = read(hours(step=step, sunshine=30.0 * length), units={**UNITS, "sunshine": "min"})
    np.testing.assert_allclose(minutes["sunshine"], 12.0, rtol=1e-12)


def test_whether_an_amount_or_a_rate_is_meant_is_a_question() -> None:
    with pytest.raises(InputError) as caught:
        read(hours(), units={})
    solar, rain = caught.value.faults
    assert (solar.what, rain.what) == ("units, 'solar'", "units, 'rain'")
    assert "the amount of each step, or a rate?" in rain.problem
    assert "'mm', or a rate such as 'mm/h'" in rain.allowed


def test_stamps_at_the_end_belong_to_the_step_before() -> None:
    frame = hours()
    ended = frame.assign(time=frame["time"] + pd.Timedelta(hours=1))
    xr.testing.assert_equal(read(ended, SubDaily(stamp="end")), read(frame))
    # Hour 24 is the midnight at which a day ends.
    text = ended.assign(time=ended["time"].dt.strftime("%Y-%m-%d %H:%M"))
    last = text["time"].str.endswith("00:00")
    day = (ended["time"] - pd.Timedelta(days=1)).dt.strftime("%Y-%m-%d 24:00")
    text = text.assign(time=text["time"].where(~last, day))
    xr.testing.assert_equal(read(text, SubDaily(stamp="end")), read(frame))
    hour = ended["time"].dt.strftime("%H00").where(~last, "2400")
    apart = ended.assign(day=day.str[:10].where(last, ended["time"].dt.strftime("%Y-%m-%d")), hour=hour)
    found = read(
        apart.drop(columns="time"),
        SubDaily(stamp="end"),
        columns={"time": ("day", "hour")},
        layout=TableLayout(date_format="%Y-%m-%d %H%M"),
    )
    xr.testing.assert_equal(found, read(frame))


def test_a_day_is_a_local_day() -> None:
    frame = hours(4)
    in_utc = frame.assign(time=frame["time"] + pd.Timedelta(hours=8))
    local = read(frame)
    xr.testing.assert_equal(read(in_utc, SubDaily(stamp="start", utc_offset=-8)), local)
    zoned = in_utc.assign(time=in_utc["time"].dt.tz_localize("UTC"))
    xr.testing.assert_equal(read(zoned, SubDaily(stamp="start", utc_offset=-8)), local)
    text = in_utc.assign(time=frame["time"].dt.strftime("%Y-%m-%dT%H:%M:%S-08:00"))
    xr.testing.assert_equal(read(text, SubDaily(stamp="start", utc_offset=-8)), local)
    fault = only(zoned)
    assert "bears a time zone, and a day is a local day" in fault.problem
    assert "utc_offset" in fault.mend
    # The same hours as days of UTC are other days, with other extremes.
    dark = in_utc.drop(columns="solar")
    assert not read(dark, START, units={"rain": "mm"})["tmax"].equals(local["tmax"])


@pytest.mark.parametrize("wrong", [0, 8])
def test_stamps_that_are_not_local_are_seen_by_the_sun(wrong: int) -> None:
    in_utc = hours(14).assign(time=hours(14)["time"] + pd.Timedelta(hours=8))
    fault = only(in_utc, SubDaily(stamp="start", utc_offset=wrong))
    assert fault.what == "solar"
    assert "are the stamps in local time?" in fault.problem
    assert "utc_offset" in fault.mend
    assert "radiation is centred at 12:" in read(hours(4)).attrs["steps"]
    night = read(hours(4, solar=0.0))
    assert "centred" not in night.attrs["steps"]


def test_no_step_begins_at_hour_24() -> None:
    text = hours(2).assign(
        time=[f"2024-07-0{day} {hour}:00" for day in (1, 2) for hour in (f"{n:02d}" for n in range(1, 25))]
    )
    fault = only(text, START)
    assert (fault.count, fault.where, fault.value) == (2, "row 24", "'2024-07-01 24:00'")
    assert 'stamp="end"' in fault.mend
    assert read(text, SubDaily(stamp="end")).sizes["time"] == 2
    daily = text.rename(columns={"temperature": "tmin"})
    with pytest.raises(
        InputError, match=r'hour 24 is midnight where steps end: sub_daily=wb.SubDaily\(stamp="end"\)'
    ):
        read_weather(daily, layout=TableLayout(date_format="%Y-%m-%d %H:%M"), units=UNITS, **SITE)


def test_days_at_the_edges_of_which_nothing_is_known_are_left_out_and_told() -> None:
    frame = hours(3).iloc[5:-3]
    weather = read(frame)
    assert weather.indexes["time"].equals(pd.DatetimeIndex(["2024-07-02"], name="time"))
    assert "left out for want of steps: 2" in weather.attrs["steps"]
    assert "8 steps have no row at all" in weather.attrs["steps"]


# -------------------------------------------------------------------------------- completeness
def test_a_day_with_missing_steps_is_missing_unless_a_share_is_enough() -> None:
    frame = hours()
    gone = frame.drop(index=[30, 31])  # two rows of the second day
    blank = frame.copy()
    blank.loc[[30, 31], ["temperature", "wind", "relative_humidity", "rain", "solar"]] = np.nan
    strict = read(gone)
    xr.testing.assert_equal(read(blank), strict)
    assert bool(strict.isel(time=1).to_array().isnull().all())
    assert "wind_flag" not in strict
    enough = read(gone, SubDaily(stamp="start", least_share=0.9))  # 22 of 24 are
    present = gone[(gone["time"] >= "2024-07-02") & (gone["time"] < "2024-07-03")]
    assert float(enough["wind"][1]) == pytest.approx(present["wind"].mean(), rel=1e-12)
    assert float(enough["tmin"][1]) == present["temperature"].min()
    # What fell or shone in the missing hours is not known.
    assert np.isnan(enough["rain"][1])
    assert np.isnan(enough["solar"][1])
    for name in ("tmin", "tmax", "rhmin", "rhmax", "wind", "vapour_pressure"):
        assert enough[f"{name}_flag"].values.tolist() == [0, 1, 0], name
    assert "rain_flag" not in enough
    three = read(frame.drop(index=[30, 31, 32]), SubDaily(stamp="start", least_share=0.9))
    assert np.isnan(three["wind"][1])
    told = read(blank).attrs["steps"]
    assert "missing values, with these: wind 2, solar 2, rain 2, temperature 2, relative_humidity 2;" in told
    assert "days that lack steps: 1 (2024-07-02 2);" in told
    assert "days that lack steps: 0;" in read(frame).attrs["steps"]


def test_stations_with_steps_of_their_own() -> None:
    north, south = hours().assign(station="north"), hours(wind=1.0).assign(station="south").iloc[24:]
    several = pd.concat([north, south]).sort_values("time", kind="stable")
    weather = read(several, missing_days="nan")
    assert weather["tmin"].dims == ("time", "station")
    xr.testing.assert_equal(
        weather.sel(station="north").drop_vars("station"), read(north.drop(columns="station"))
    )
    assert weather["wind"].sel(station="south").isnull().values.tolist() == [True, False, False]
    twice = pd.concat([north, south.iloc[:1], south])
    fault = only(twice)
    assert fault.what == "weather, station south, time"
    assert "stand more than once" in fault.problem
    assert "is not in order" in only(pd.concat([north, south.iloc[::-1]])).problem
    halves = hours(step="30min").assign(station="west")
    fault = only(pd.concat([north, halves]))
    assert (fault.what, fault.problem) == ("weather, station north", "has longer steps than another station")


def test_codes_of_steps_and_traces() -> None:
    frame = hours()
    frame["rain"] = frame["rain"].astype(object)
    frame.loc[3, "rain"], frame.loc[30, "temperature"] = "T", -999.0
    weather = read(frame, trace={"T": 0.2}, missing_codes=(-999,))
    np.testing.assert_allclose(weather["rain"], [4.2, 4.0, 4.0], rtol=1e-12)
    assert weather["tmin"].isnull().values.tolist() == [False, True, False]


# ------------------------------------------------------------------------------------- bad input
def test_clocks_that_were_put_back_are_named() -> None:
    stamps = pd.date_range("2024-10-26", periods=48, freq="h", tz="UTC").tz_convert("Europe/Berlin")
    local = hours(2).assign(time=stamps.tz_localize(None))
    with pytest.raises(InputError) as caught:
        read(local)
    assert any("clocks were put back" in fault.mend for fault in caught.value.faults)


@pytest.mark.parametrize(
    ("stamps", "problem"),
    [
        (pd.date_range("2024-07-01 00:30", periods=72, freq="h"), "do not lie within days"),
        (pd.date_range("2024-07-01", periods=72, freq="5h"), "of which a whole number makes a day"),
        (pd.date_range("2024-07-01", periods=72, freq="D"), "of which a whole number makes a day"),
        (pd.date_range("2024-07-01", periods=72, freq="h")[::-1], "is not in order"),
        (
            pd.date_range("2024-07-01", periods=71, freq="h").append(pd.DatetimeIndex(["2024-07-03 23:10"])),
            "has stamps between the steps of 1 h",
        ),
        (
            pd.date_range("2024-07-01", periods=71, freq="h").append(pd.DatetimeIndex([None])),
            "without a date",
        ),
    ],
)
def test_stamps_that_make_no_days(stamps: pd.DatetimeIndex, problem: str) -> None:
    fault = only(hours().assign(time=stamps))
    assert problem in fault.problem
    assert fault.what == "weather, time"
    assert fault.mend


def test_steps_without_being_told_are_refused_with_the_way() -> None:
    frame = hours().rename(columns={"temperature": "tmin"})
    with pytest.raises(InputError, match=r"sub_daily=wb.SubDaily\(stamp=...\)"):
        read_weather(frame, units={"rain": "mm", "solar": "W m-2"}, **SITE)


def test_values_that_no_step_can_have() -> None:
    frame = hours()
    frame.loc[3, "solar"], frame.loc[4, "rain"], frame.loc[5, "temperature"] = -30.0, -1.0, 85.0
    with pytest.raises(InputError) as caught:
        read(frame)
    found = {fault.what: fault for fault in caught.value.faults}
    assert found["solar of a step"].where == "2024-07-01 03:00"
    assert "rain of a step" in found
    assert found["temperature"].value == "85 degC"
    assert "tmax" not in found
    for name, value in (("wind", -9.0), ("dewpoint", 200.0), ("pressure", 0.0), ("sunshine", 7.0)):
        steps = hours().assign(
            **{name: {"wind": 2.0, "dewpoint": 9.0, "pressure": 95.0, "sunshine": 0.5}[name]}
        )
        steps.loc[7, name] = value
        assert only(steps, units={**UNITS, **({"sunshine": "h"} if name == "sunshine" else {})}).what == name
    double = hours(tmax=20.0)
    assert "is both given and made of temperature" in only(double).problem


@pytest.mark.parametrize(
    ("options", "what"),
    [
        ({"stamp": "middle"}, "stamp"),
        ({"utc_offset": 25}, "utc_offset"),
        ({"utc_offset": 1.1}, "utc_offset"),
        ({"utc_offset": "UTC"}, "utc_offset"),
        ({"least_share": 0.5}, "least_share"),
        ({"least_share": 1.5}, "least_share"),
        ({"least_share": True}, "least_share"),
    ],
)
def test_options_that_are_none(options: dict[str, object], what: str) -> None:
    with pytest.raises(InputError) as caught:
        SubDaily(**{"stamp": "start", **options})
    assert [fault.what for fault in caught.value.faults] == [what]


# ---------------------------------------------------------------------- what a second reader met
@pytest.mark.parametrize("minutes", [1, 2, 6, 12])
def test_minute_24_is_no_hour(minutes: int) -> None:
    frame = hours(1, step=f"{minutes}min")
    text = frame.assign(time=frame["time"].dt.strftime("%Y-%m-%d %H:%M"))
    rate = {"rain": "mm/h", "solar": "W m-2"}
    xr.testing.assert_equal(read(text, units=rate), read(frame, units=rate))


def test_year_24_is_no_hour() -> None:
    frame = hours(2)
    text = frame.assign(time=frame["time"].dt.strftime("%H:%M %d.%m.%y"))
    layout = TableLayout(date_format="%H:%M %d.%m.%y")
    xr.testing.assert_equal(read(text, layout=layout), read(frame))
    ended = frame.assign(time=frame["time"] + pd.Timedelta(hours=1))
    written = ended["time"].dt.strftime("%H:%M %d.%m.%y")
    midnight = (ended["time"] - pd.Timedelta(days=1)).dt.strftime("24:00 %d.%m.%y")
    text = ended.assign(time=written.where(~written.str.startswith("00:00"), midnight))
    xr.testing.assert_equal(read(text, SubDaily(stamp="end"), layout=layout), read(frame))


def test_the_intensity_of_a_day_is_not_made_of_steps() -> None:
    fault = only(hours(intensity=1.0), columns={"rain_intensity": "intensity"})
    assert (fault.what, fault.problem) == ("columns, 'rain_intensity'", "is no canonical name")


def test_days_without_a_row_are_added_only_when_asked_for() -> None:
    frame = hours(4).drop(index=range(24, 72))
    fault = only(frame)
    assert (fault.problem, fault.where, fault.count) == ("misses days", "2024-07-02", 2)
    weather = read(frame, missing_days="nan")
    assert weather["tmin"].isnull().values.tolist() == [False, True, True, False]


def test_days_with_a_trace_are_flagged() -> None:
    frame = hours(2)
    frame["rain"] = frame["rain"].astype(object)
    frame.loc[3, "rain"] = "T"
    weather = read(frame, trace={"T": 0.1})
    assert weather["rain_flag"].values.tolist() == [10, 0]
    np.testing.assert_allclose(weather["rain"], [4.1, 4.0], rtol=1e-12)


def test_the_polar_night_of_a_pyranometer_is_dark() -> None:
    night = read(hours(3, solar=-2.0), latitude=78.0)
    np.testing.assert_array_equal(night["solar"], 0.0)
    assert "radiation of 3 days was a little below 0, and is 0" in night.attrs["steps"]
    assert "centred" not in night.attrs["steps"]
    with pytest.raises(InputError) as caught:
        read(hours(3, solar=-15.0))
    assert [fault.what for fault in caught.value.faults] == ["solar"]


def test_a_few_dark_days_tell_no_noon() -> None:
    storm = hours(3)
    hour = storm["time"].dt.hour
    storm["solar"] = np.where((hour > 4) & (hour < 10), 300.0, 0.0)
    weather = read(storm)  # refused, were it a fortnight of such days
    assert "radiation is centred at 07:" in weather.attrs["steps"]
    with pytest.raises(InputError, match="are the stamps in local time"):
        read(
            pd.concat([hours(14, solar=0.0).assign(solar=np.where(np.arange(14 * 24) % 24 < 5, 900.0, 0.0))])
        )
    half_days = hours(12, step="12h", solar=200.0)
    assert "centred" not in read(half_days).attrs["steps"]


def test_stations_of_which_one_lacks_days_or_lies_between_the_steps() -> None:
    north, south = hours(6).assign(station="north"), hours(6).assign(station="south")
    fault = only(pd.concat([north, south.drop(index=range(48, 96))]))
    assert (fault.what, fault.problem, fault.count) == ("weather, station south, time", "misses days", 2)
    fault = only(pd.concat([north, south.iloc[24:]]))
    assert fault.problem == "has not the days that another station has"
    gap = read(pd.concat([north, south.iloc[24:]]), missing_days="nan")
    assert gap["tmin"].sel(station="south").isnull().values.tolist() == [True] + [False] * 5
    between = south.assign(time=south["time"] + pd.Timedelta(minutes=30))
    fault = only(pd.concat([north, between]))
    assert (fault.what, fault.problem) == (
        "weather, station south, time",
        "holds steps that do not lie within days",
    )
