"""`check_weather`: faults raise, doubts come as one table, and the numbers stay as they are."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget.errors import InputError
from waterbudget.weather import check_weather, read_weather

COLUMNS = ["variable", "station", "first_date", "last_date", "days", "value", "why"]


def weather(days: int = 12, start: str = "2024-07-01", **columns: object) -> xr.Dataset:
    """Unremarkable weather of a summer at 46 degrees north, with changes."""
    step = np.arange(days, dtype=float)
    usual = {
        # Steps of the golden ratio: no week of them comes back.
        "tmin": 10 + step * 0.618 % 1 * 3,
        "tmax": 24 + step * 0.382 % 1 * 1.6,
        "rain": np.where(step % 6 == 0, 4 + step / 10, 0.0),
    }
    frame = pd.DataFrame({**usual, **columns}, index=pd.date_range(start, periods=days))
    return read_weather(frame, latitude=46.2, elevation=120)


def changed(name: str, values: dict[int, float], days: int = 12, usual: object = None) -> xr.Dataset:
    """Weather in which some days of one variable are set."""
    column = weather(days)[name].values.copy() if usual is None else np.array(usual, dtype=float)
    for day, value in values.items():
        column[day] = value
    return weather(days, **{name: column})


def test_without_a_doubt_the_table_is_empty_and_typed() -> None:
    doubts = check_weather(weather())
    assert list(doubts.columns) == COLUMNS
    assert len(doubts) == 0
    filled = check_weather(changed("rain", {3: np.nan}))
    assert doubts.dtypes.equals(filled.dtypes)
    assert [str(kind) for kind in doubts.dtypes] == [
        "object", "object", "datetime64[ns]", "datetime64[ns]", "int64", "float64", "object",
    ]  # fmt: skip


def test_gaps_are_gathered_into_runs() -> None:
    doubts = check_weather(changed("rain", {2: np.nan, 3: np.nan, 7: np.nan}))
    assert doubts["first_date"].tolist() == [pd.Timestamp("2024-07-03"), pd.Timestamp("2024-07-08")]
    assert doubts["last_date"].tolist() == [pd.Timestamp("2024-07-04"), pd.Timestamp("2024-07-08")]
    assert doubts["days"].tolist() == [2, 1]
    assert doubts["value"].isna().all()
    assert set(doubts["why"]) == {"no value"}
    assert set(doubts["station"]) == {""}


def test_rare_values_show_the_worst_of_the_run() -> None:
    (row,) = check_weather(changed("tmax", {4: 51, 5: 53, 6: 52})).itertuples()
    assert (row.variable, row.days, row.value) == ("tmax", 3, 53.0)
    assert row.why == "above 50 degC is rare"
    (row,) = check_weather(changed("tmin", {4: -41, 5: -45})).itertuples()
    assert (row.variable, row.days, row.value) == ("tmin", 2, -45.0)
    assert row.why == "below -40 degC is rare"


def test_a_value_repeated_for_five_days() -> None:
    (row,) = check_weather(changed("tmax", dict.fromkeys(range(3, 8), 22.0))).itertuples()
    assert (row.variable, row.days, row.value, row.first_date) == (
        "tmax",
        5,
        22.0,
        pd.Timestamp("2024-07-04"),
    )
    assert row.why == "the same value day after day"
    assert check_weather(changed("tmax", dict.fromkeys(range(3, 7), 22.0))).empty
    two = {**dict.fromkeys(range(5), 22.0), **dict.fromkeys(range(5, 10), 23.5)}
    assert check_weather(changed("tmax", two))["value"].tolist() == [22.0, 23.5]
    # Days without rain, without sun or in fog may follow each other.
    assert check_weather(weather(rain=0.0, sunshine=0.0, rhmax=100.0)).empty
    assert check_weather(weather(rain=2.0))["days"].tolist() == [12]


def test_temperatures_and_humidity_that_do_not_go_together() -> None:
    (row,) = check_weather(changed("tmax", {4: float(weather()["tmin"][4])})).itertuples()
    assert (row.variable, row.why, row.days) == ("tmin", "tmin equals tmax", 1)
    tmin = weather()["tmin"].values
    # As far from tmin on every day it would be a doubt of its own.
    assert check_weather(weather(dewpoint=tmin + np.linspace(0.7, 0.9, 12))).empty
    (row,) = check_weather(changed("dewpoint", {5: 18.0}, usual=tmin - 1)).itertuples()
    assert (row.variable, row.value, row.why) == ("dewpoint", 18.0, "more than 4 degC above tmin")


def test_vapour_pressure_above_saturation() -> None:
    """FAO-56 Annex 2 Table 2.3: saturation at 20 degC is 2.338 kPa."""
    step = np.arange(12) % 3 / 100
    usual = {"tmin": 10 + step, "tmax": 20.0 - step * 0, "vapour_pressure": 1.2 + step}
    near = {**usual, "vapour_pressure": np.where(np.arange(12) == 6, 2.3375, usual["vapour_pressure"])}
    above = {**usual, "vapour_pressure": np.where(np.arange(12) == 6, 2.3395, usual["vapour_pressure"])}
    why = "above saturation at tmax (FAO-56 Eq. 11)"
    assert why not in set(check_weather(weather(**near))["why"])
    doubts = check_weather(weather(**above))
    assert doubts.loc[doubts["why"] == why, "first_date"].tolist() == [pd.Timestamp("2024-07-07")]


def test_more_sun_than_the_place_can_have() -> None:
    """FAO-56 Examples 8 and 9: on 3 September at 20 degrees south Ra is 32.2 and N 11.7 h; Eq. 36: 0.75 Ra."""
    clear = 0.75 * 32.2
    for solar, doubted in ((1.04 * clear, False), (1.06 * clear, True)):
        frame = pd.DataFrame(
            {"tmin": [15.0], "tmax": [25.0], "solar": solar}, index=pd.DatetimeIndex(["2024-09-02"])
        )
        # 2024 is a leap year: its day 246 is 2 September.
        doubts = check_weather(read_weather(frame, latitude=-20, elevation=0))
        assert (doubts["variable"].tolist() == ["solar"]) is doubted
    for sunshine, doubted in ((12.1, False), (12.3, True)):
        frame = pd.DataFrame({"tmin": [15.0], "tmax": [25.0], "sunshine": sunshine}, index=frame.index)
        doubts = check_weather(read_weather(frame, latitude=-20, elevation=0))
        assert (doubts["variable"].tolist() == ["sunshine"]) is doubted
    given = frame[[]].assign(et_ref=5.0, solar=35.0)
    assert check_weather(read_weather(given, et_ref_surface="short")).empty


def test_a_season_without_any_rain() -> None:
    assert check_weather(weather(89, rain=0.0)).empty
    (row,) = check_weather(weather(90, rain=0.0)).itertuples()
    assert (row.variable, row.days, row.value) == ("rain", 90, 0.0)
    assert row.why == "no rain at all in a season"


def test_stations_are_named() -> None:
    north, south = weather(), changed("rain", {2: np.nan})
    both = xr.concat([north, south], dim=pd.Index(["north", "south"], name="station"))
    (row,) = check_weather(both).itertuples()
    assert (row.station, row.first_date) == ("south", pd.Timestamp("2024-07-03"))
    (row,) = check_weather(both.expand_dims(member=[7])).itertuples()
    assert row.station == "member 7, station south"


def test_faults_raise_all_at_once() -> None:
    good = weather(rhmax=90.0 + np.arange(12) % 5)
    bad = good.isel(time=[0, 1, 3, 2]).copy(deep=True)
    bad["rain"][1] = -2.0
    bad["rhmax"][2] = 104.0
    bad["tmin"][0] = 40.0
    bad = bad.assign_coords(latitude=462.0)
    with pytest.raises(InputError) as caught:
        check_weather(bad)
    things = [fault.what for fault in caught.value.faults]
    assert things == ["weather, time", "rhmax", "rain", "tmin and tmax", "latitude"]
    with pytest.raises(InputError, match="'field' without labels") as caught:
        check_weather(good.expand_dims(field=2).assign(wind=2.0))
    assert [fault.what for fault in caught.value.faults] == ["weather", "wind"]
    with pytest.raises(InputError, match="read_weather"):
        check_weather(good.to_dataframe())


def test_both_values_of_a_pair_stand_at_the_place_that_is_named() -> None:
    station = xr.DataArray([0.0, 0.0], dims="station", coords={"station": ["north", "south"]})
    data = weather(3)
    tmax = (data["tmax"] + station).transpose("station", "time")
    tmax[0, 2], tmax[1, 1] = 1.0, 2.0  # the first in time is not the first in the array
    with pytest.raises(InputError) as caught:
        check_weather(data.assign(tmax=tmax))
    fault = next(one for one in caught.value.faults if one.what == "tmin and tmax")
    assert (fault.where, fault.count) == ("2024-07-02, station south", 2)
    assert fault.value.endswith("tmax 2 degC")


def test_weather_in_chunks_is_judged_like_any_other() -> None:
    given = changed("rain", {2: np.nan, 3: 160.0})
    pd.testing.assert_frame_equal(check_weather(given.chunk({"time": 5})), check_weather(given))


def test_weather_is_left_as_it_is() -> None:
    given = changed("rain", {2: np.nan})
    before = given.copy(deep=True)
    check_weather(given)
    xr.testing.assert_identical(given, before)


def test_a_doubt_of_many_runs_is_one_row_a_year() -> None:
    wind = 2 + np.arange(120) * 0.618 % 1
    wind[[3, 5, 7, 9, 11]] = 0.4
    doubts = check_weather(weather(120, start="2023-12-01", wind=wind))
    assert doubts["days"].tolist() == [1] * 5
    wind[[13, 14, 40, 41]] = 0.4, 0.3, 0.2, 0.4
    doubts = check_weather(weather(120, start="2023-12-01", wind=wind))
    many, few = doubts.itertuples()
    assert (many.first_date, many.last_date) == (pd.Timestamp("2023-12-04"), pd.Timestamp("2023-12-15"))
    assert (many.days, many.value) == (7, 0.3)
    assert many.why.endswith("; more than 5 times this year")
    assert (few.first_date, few.days, few.value) == (pd.Timestamp("2024-01-10"), 2, 0.2)


def test_rounding_makes_repeats_and_they_need_more_days() -> None:
    """Humidity to whole 5 %: neighbours are often equal, so that 5 equal days prove nothing and 20 do."""
    pattern = [90, 90, 95, 95, 95, 90, 85, 85, 90, 90, 90, 90, 95, 90, 90, 85]
    rhmax = np.tile(pattern, 12).astype(float)
    rhmax[100:105] = 80.0
    assert not (check_weather(weather(192, rhmax=rhmax))["variable"] == "rhmax").any()
    rhmax[100:120] = 80.0
    doubts = check_weather(weather(192, rhmax=rhmax))
    (row,) = doubts[doubts["variable"] == "rhmax"].itertuples()
    assert (row.days, row.value) == (20, 80.0)
