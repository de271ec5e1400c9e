"""Where the weather of a day comes from: through reference evapotranspiration and the balance to the reader."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from waterbudget.weather.flags import FLAGS

DAYS = pd.date_range("2024-05-01", periods=60, name="time")
NAMES = (
    "et_ref_method",
    "et_ref_flag",
    "temperature_flag",
    "humidity_flag",
    "radiation_flag",
    "wind_flag",
    "rain_flag",
)


def weather() -> xr.Dataset:
    """Weather with every sensor, some of whose days are missing."""
    day = np.arange(60.0)
    frame = pd.DataFrame(
        {
            "tmin": 10 + 4 * np.sin(day / 20),
            "tmax": 24 + 6 * np.sin(day / 20),
            "rhmin": 40.0 + day % 5,
            "rhmax": 80.0 + day % 7,
            "wind": 1.5 + day % 3 / 2,
            "solar": 18.0 + day % 4,
            "rain": (day % 9 == 3) * 7.0,
        },
        index=DAYS,
    )
    for name, gone in (
        ("wind", [20, 21]),
        ("solar", [21, 40]),
        ("rain", [30]),
        ("rhmax", [50]),
        ("tmax", [55]),
    ):
        frame.iloc[gone, frame.columns.get_loc(name)] = np.nan
    return wb.read_weather(frame, latitude=46.2, elevation=120)


def filled() -> xr.Dataset:
    """Fill the gaps, each by another way."""
    short = wb.fill_weather(weather(), interpolate=1, rain={"2024-05-31": 2.0})
    return wb.fill_weather(short, wind="light to moderate")


@pytest.fixture(scope="module")
def season() -> xr.Dataset:
    """Run the filled weather."""
    return run(filled())


def run(given: xr.Dataset) -> xr.Dataset:
    """Run a season of maize."""
    crop = wb.Crop.from_handbook("sweet maize", planted="2024-05-05", region="Mediterranean")
    return wb.simulate(given, crop, wb.Soil.from_handbook("sandy loam"), rule=wb.Rule())


def marked(season: xr.Dataset, name: str) -> dict[int, str]:
    """Give the days that carry a flag, with its word."""
    codes = season[name].values
    return {int(day): FLAGS[codes[day]].name for day in np.flatnonzero(codes)}


def test_flags_travel_into_the_result(season: xr.Dataset) -> None:
    assert marked(season, "wind_flag") == {20: "from_class", 21: "from_class"}
    assert marked(season, "radiation_flag") == {21: "interpolated", 40: "interpolated"}
    assert marked(season, "humidity_flag") == {50: "interpolated"}
    assert marked(season, "temperature_flag") == {55: "interpolated"}
    assert marked(season, "rain_flag") == {30: "stated"}
    assert int(season["et_ref_method"]) == 1
    assert season["et_ref_method"].attrs["flag_meanings"].split()[2] == "fao56"
    for name in NAMES:
        assert season[name].dtype == np.int8
        assert len(season[name].attrs["flag_values"]) == len(season[name].attrs["flag_meanings"].split())


def test_what_was_measured_throughout_is_one_code() -> None:
    sound = weather().isel(time=slice(0, 20))
    plain = run(sound)
    assert all(plain[name].ndim == 0 for name in NAMES)
    assert all(int(plain[name]) == 0 for name in NAMES if name != "et_ref_method")


def test_explain_says_what_was_estimated_and_how(season: xr.Dataset) -> None:
    text = str(wb.explain(season, DAYS[21]))
    assert (
        "[FAO-56 Penman-Monteith (Eq. 6); radiation: interpolated between the days around it; "
        "wind: a stated mean wind]" in text
    )
    assert "rain = 2 mm  [weather: stated by the user]" in str(wb.explain(season, DAYS[30]))
    measured = str(wb.explain(season, DAYS[10]))
    assert "[FAO-56 Penman-Monteith (Eq. 6)]" in measured
    assert "rain = 0 mm  [weather]" in measured


def test_a_method_chosen_by_day_travels_with_its_series() -> None:
    gaps = wb.fill_weather(weather(), rain=0.0).isel(time=slice(0, 55))
    whole = gaps.assign(et_ref=wb.reference_et(gaps, method="best per day"))
    season = run(whole)
    words = season["et_ref_method"].attrs["flag_meanings"].split()
    names = [words[code + 1] for code in season["et_ref_method"].values]
    # Without wind Priestley-Taylor, without radiation or humidity Hargreaves.
    assert {day: name for day, name in enumerate(names) if name != "fao56"} == {
        20: "priestley_taylor",
        21: "hargreaves",
        40: "hargreaves",
        50: "hargreaves",
    }
    assert "[Priestley-Taylor (1972)]" in str(wb.explain(season, DAYS[20]))
    np.testing.assert_array_equal(season["et_ref"], whole["et_ref"])
    assert "best per day" in season.attrs["sources"]


def test_flags_of_stations_go_to_fields() -> None:
    other = weather().assign(
        {name: weather()[name].fillna(weather()[name].mean()) for name in weather().data_vars}
    )
    for name in other.data_vars:
        other[name].attrs = weather()[name].attrs
    assert "wind_flag" not in other
    both = wb.concat({"gaps": filled(), "sound": other}, dim="station")
    fields = xr.DataArray(["sound", "gaps", "gaps"], dims="field", coords={"field": ["a", "b", "c"]})
    season = run(both.sel(station=fields).drop_vars("station"))
    assert season["wind_flag"].dims == ("time", "field")
    assert season["wind_flag"].sum("time").values.tolist() == [0, 16, 16]
    text = str(wb.explain(season, DAYS[21], {"field": "b"}))
    assert "wind: a stated mean wind" in text


def test_every_estimate_is_listed_for_weather_and_for_a_season(season: xr.Dataset) -> None:
    table = wb.estimates(filled())
    assert list(table.columns) == ["variable", "station", "first_date", "last_date", "days", "origin"]
    found = {(row.variable, str(row.first_date)[:10], row.days): row.origin for row in table.itertuples()}
    assert found == {
        ("rain", "2024-05-31", 1): "stated by the user",
        ("tmax", "2024-06-25", 1): "interpolated between the days around it",
        ("rhmax", "2024-06-20", 1): "interpolated between the days around it",
        ("solar", "2024-05-22", 1): "interpolated between the days around it",
        ("solar", "2024-06-10", 1): "interpolated between the days around it",
        ("wind", "2024-05-21", 2): "a stated mean wind",
    }
    of_season = wb.estimates(season)
    assert set(of_season["variable"]) == {"rain", "temperature", "humidity", "radiation", "wind"}
    assert int(of_season["days"].sum()) == int(table["days"].sum())
    none = wb.estimates(weather())
    assert none.empty
    assert none.dtypes.equals(table.dtypes)
    both = wb.concat({"a": filled(), "b": filled()}, dim="station")
    assert set(wb.estimates(both)["station"]) == {"a", "b"}
    with pytest.raises(wb.InputError, match="no Dataset on time"):
        wb.estimates(table)


def test_a_result_is_written_and_read_back_with_its_codes(season: xr.Dataset, tmp_path: Path) -> None:
    path = tmp_path / "season.nc"
    season.to_netcdf(path)
    with xr.open_dataset(path, decode_timedelta=False) as found:
        for name in NAMES:
            np.testing.assert_array_equal(found[name], season[name])
            assert found[name].attrs["flag_meanings"] == season[name].attrs["flag_meanings"]


def test_a_missing_rain_day_stops_the_run() -> None:
    with pytest.raises(wb.InputError) as caught:
        run(wb.fill_weather(weather(), interpolate=5, climatology=True))
    (fault,) = caught.value.faults
    assert (fault.what, fault.where) == ("rain", "2024-05-31")
    assert "fill_weather(weather, rain=...)" in fault.mend
