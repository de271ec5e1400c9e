"""Flags of weather values: one table of origins, CF attributes, and marking without loss."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import xarray as xr

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
