"""What holds of reading, filling and reference evapotranspiration, whatever the gaps."""

import json

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

import waterbudget as wb
from waterbudget.weather.radiation import extraterrestrial_radiation

NAMES = ("tmin", "tmax", "rhmin", "rhmax", "wind", "solar", "rain")
DAYS = pd.date_range("2022-11-05", periods=420, name="time")
WAYS = {
    "interpolate": 3,
    "range_coefficient": "interior",
    "dewpoint_offset": 2.0,
    "wind": 2.0,
    "climatology": True,
}


def station(seed):
    """A year and more of weather with gaps of all lengths."""
    rng = np.random.default_rng(seed)
    count = len(DAYS)
    middle = 12 + 9 * np.cos(2 * np.pi * (DAYS.dayofyear.to_numpy() - 200) / 365) + rng.normal(0, 3, count)
    values = {
        "tmin": middle - 6 * rng.random(count),
        "tmax": middle + 8 * rng.random(count),
        "rhmin": 20 + 30 * rng.random(count),
        "rhmax": 60 + 40 * rng.random(count),
        "wind": 0.5 + 3 * rng.random(count),
        "solar": extraterrestrial_radiation(46.0, DAYS.dayofyear.to_numpy())
        * (0.2 + 0.5 * rng.random(count)),
        "rain": rng.exponential(3, count),
    }
    for name in values:
        for _ in range(6):
            start = rng.integers(0, count)
            values[name][start : start + rng.integers(1, 12)] = np.nan
    return pd.DataFrame(values, index=DAYS)


def read(table, **more):
    return wb.read_weather(table, latitude=46.0, elevation=200.0, **more)


SEEDS = st.lists(st.integers(0, 10_000), min_size=2, max_size=3, unique=True)


@st.composite
def ways(draw):
    names = draw(st.lists(st.sampled_from(sorted(WAYS)), min_size=1, unique=True))
    return {name: WAYS[name] for name in names}


@given(SEEDS, ways())
def test_filling_touches_nothing_that_is_given_and_flags_all_that_it_fills(several, asked):
    weather = read(station(several[0]))
    filled = wb.fill_weather(weather, **asked)
    for name in NAMES:
        known = weather[name].notnull()
        np.testing.assert_array_equal(filled[name].where(known), weather[name])
        new = filled[name].notnull() & ~known
        flags = filled.get(f"{name}_flag", xr.zeros_like(new, dtype=np.int8))
        np.testing.assert_array_equal(flags != 0, new)
    assert not bool((filled["tmin"] > filled["tmax"]).any())
    assert not bool((filled["rhmin"] > filled["rhmax"]).any())
    assert int(wb.estimates(filled)["days"].sum()) == sum(
        int((filled[name].notnull() & weather[name].isnull()).sum()) for name in NAMES
    )
    assert all("value" in text for text in json.loads(filled.attrs["filling"]))


@given(SEEDS, ways())
def test_a_station_alone_has_the_bits_that_it_has_among_others(several, asked):
    alone = {f"s{seed}": read(station(seed)) for seed in several}
    near = read(station(77))
    both = wb.concat(alone, dim="station")
    filled = wb.fill_weather(both, regression=near, neighbour=near, **asked)
    assert filled["tmin"].dims == ("station", "time")
    for label, weather in alone.items():
        one = wb.fill_weather(weather, regression=near, neighbour=near, **asked)
        for name in NAMES:
            np.testing.assert_array_equal(filled[name].sel(station=label), one[name], err_msg=name)
        for method in ("auto", "best per day"):
            among = wb.reference_et(filled, method=method).sel(station=label)
            np.testing.assert_array_equal(among, wb.reference_et(one, method=method))
            np.testing.assert_array_equal(
                wb.reference_et(filled.transpose("time", ...), method=method).sel(station=label), among
            )


@given(st.integers(0, 10_000), st.sampled_from([10, 30, 60, 180]), st.sampled_from(["start", "end"]))
def test_days_of_steps_keep_every_drop_and_every_extreme(seed, minutes, stamp):
    rng = np.random.default_rng(seed)
    per_day = 1440 // minutes
    count = 3 * per_day
    step = pd.Timedelta(minutes=minutes)
    starts = pd.date_range("2024-02-28", periods=count, freq=step)
    table = pd.DataFrame(
        {
            "time": starts + (step if stamp == "end" else pd.Timedelta(0)),
            "temperature": rng.normal(10, 5, count),
            "rain": rng.exponential(0.2, count),
        }
    )
    gone = rng.random(count) < 0.02
    weather = read(
        table[~gone],
        sub_daily=wb.SubDaily(stamp=stamp, least_share=0.75),
        units={"rain": "mm"},
    )
    for day in weather["time"].values:
        of_day = (starts >= day) & (starts < day + np.timedelta64(1, "D"))
        here = weather.sel(time=day)
        present = of_day & ~gone
        if present.sum() >= 0.75 * per_day:
            assert float(here["tmin"]) == table["temperature"][present].min()
            assert float(here["tmax"]) == table["temperature"][present].max()
        else:
            assert np.isnan(here["tmin"])
        if present.sum() == per_day:
            assert float(here["rain"]) == pytest.approx(table["rain"][present].sum(), rel=1e-12)
        else:
            assert np.isnan(here["rain"])
