"""Flags of weather values: one table of origins, CF attributes, and marking without loss."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from waterbudget.weather import flags


def wind(values: list[float]) -> xr.Dataset:
    """Wind of as many days as there are values."""
    days = pd.date_range("2024-07-01", periods=len(values))
    return xr.Dataset({"wind": ("time", values)}, coords={"time": days})


def test_codes_count_from_nought_and_names_are_single_words() -> None:
    assert [flag.code for flag in flags.FLAGS] == list(range(len(flags.FLAGS)))
    assert len({flag.name for flag in flags.FLAGS}) == len(flags.FLAGS)
    assert all(flag.name.isidentifier() for flag in flags.FLAGS)
    assert flags.text_of(flags.code_of("interpolated")) == "interpolated between the days around it"
    with pytest.raises(KeyError):
        flags.code_of("guessed")


def test_no_flag_variable_means_as_given() -> None:
    weather = wind([1.0, 2.0])
    assert int(flags.flags_of(weather, "wind")) == flags.GIVEN
    none = xr.zeros_like(weather["wind"], dtype=bool)
    xr.testing.assert_identical(flags.with_flags(weather, "wind", none, "stated"), weather)


def test_marks_join_earlier_marks_and_leave_the_weather_as_it_was() -> None:
    weather = wind([1.0, 2.0, 3.0])
    before = weather.copy(deep=True)
    first = flags.with_flags(weather, "wind", weather["wind"] > 2, "interpolated")
    both = flags.with_flags(first, "wind", weather["wind"] < 2, "from_class")
    xr.testing.assert_identical(weather, before)
    assert both["wind_flag"].dtype == np.int8
    assert both["wind_flag"].values.tolist() == [8, 0, 2]
    assert both["wind"].attrs["ancillary_variables"] == "wind_flag"
    meanings = both["wind_flag"].attrs["flag_meanings"].split()
    assert len(meanings) == len(both["wind_flag"].attrs["flag_values"])
    assert meanings[8] == "from_class"


def test_which_names_are_flags() -> None:
    assert flags.is_flag("wind_flag")
    assert not any(flags.is_flag(name) for name in ("wind", "_flag", "flag", "depletion_flag", "colour_flag"))


def test_joined_flags_with_nan_mean_as_given_and_other_codes_are_refused() -> None:
    """What xarray makes of weather with flags beside weather without: NaN."""
    given = pd.DataFrame(
        {"tmin": 10.0, "tmax": [20.0, 21, 22, 23], "rain": 0.0, "et_ref": 5.0},
        index=pd.date_range("2024-07-01", periods=4),
    )
    weather = wb.read_weather(given, et_ref_surface="short")
    first = flags.with_flags(weather.isel(time=slice(0, 2)), "tmax", weather["tmax"][:2] > 20, "interpolated")
    joined = xr.concat([first, weather.isel(time=slice(2, 4))], "time")
    assert joined["tmax_flag"].dtype.kind == "f"
    assert flags.flags_of(joined, "tmax").values.tolist() == [0, 2, 0, 0]
    assert len(wb.estimates(joined)) == 1
    wb.check_weather(joined)
    assert wb.read_weather(joined)["tmax_flag"].values.tolist() == [0, 2, 0, 0]
    crop = wb.Crop(kc=1.0, root_depth=0.5, depletion_fraction=0.5)
    season = wb.simulate(joined, crop, wb.Soil.from_handbook("loam"))
    assert int(season["rain_flag"]) == 0
    bad = joined.assign(rain_flag=("time", [0, 99, 0, 0]))
    for use in (
        wb.check_weather,
        lambda data: wb.fill_weather(data, interpolate=1),
        wb.reference_et,
        lambda data: wb.simulate(data, crop, wb.Soil.from_handbook("loam")),
        lambda data: wb.read_weather(data, columns={"rain_flag": "rain_flag"}),
    ):
        with pytest.raises(wb.InputError, match="holds what is no flag"):
            use(bad)


def test_a_day_with_missing_steps_is_still_a_reading() -> None:
    weather = wind([1.0, 2.0, np.nan, 4.0])
    weather = flags.with_flags(weather, "wind", weather["wind"] > 1, "incomplete_day")
    assert flags.is_reading(weather["wind_flag"]).all()
    filled = wb.fill_weather(weather, interpolate=1)
    assert float(filled["wind"][2]) == 3.0


def test_texts_of_joined_weather_say_whose_they_are() -> None:
    weather = wind([1.0, np.nan, 3.0])
    filled = wb.fill_weather(weather, interpolate=1)
    other = filled.drop_attrs(deep=False).assign_attrs(source="x")
    both = wb.concat({"a": filled.assign_attrs(source="x"), "b": other}, dim="station")
    assert both.attrs["source"] == "x"
    assert both.attrs["filling"].startswith("a: [")
    again = wb.fill_weather(both, wind=2.0)
    assert "a: [" in again.attrs["filling"]
