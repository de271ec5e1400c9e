"""Doubts about the order of days: values that stand still, come back, jump, or lie on other dates.

Only readings are judged here: values whose flag says that they were estimated are passed over.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from waterbudget.variables import VARIABLES
from waterbudget.weather.calendar_faults import exchange
from waterbudget.weather.findings import (
    Bools,
    Doubt,
    Floats,
    by_year,
    judged,
    long_runs,
    mean,
    over_time,
    previous,
    quantile,
    readings,
    run_totals,
    spread,
)
from waterbudget.weather.flags import quantities
from waterbudget.weather.sun import Sun

# Values that weather itself may repeat for days: dry, dark, overcast, saturated, without demand.
_MAY_REPEAT = {"rain": 0.0, "sunshine": 0.0, "solar": 0.0, "rhmax": 100.0, "et_ref": 0.0}

# Common practice, no source, all of what follows.
_CLOUDLESS = 0.5  # h below the longest possible sunshine: a spell without cloud repeats itself
_REPEATED_DAYS = 5
_REPEATS_BY_CHANCE = 0.05  # runs that rounding alone may make in a record; more of them need longer runs
_MOST_TIES = 0.9
_LEAST_TIES = 1e-6
_BLOCKS_BY_CHANCE = 1e-3
_DRY_DAYS = 90

# A spike is so many times the record's own scatter of changes from day to day, and so much at least. Sound
# records that were looked at (three open, two drawn) have up to 4 times for temperature and 9 for wind.
_SPIKES = {
    "tmin": (5.0, 8.0),
    "tmax": (5.0, 8.0),
    "dewpoint": (5.0, 10.0),
    "vapour_pressure": (8.0, 1.0),
    "pressure": (6.0, 2.5),
    "wind": (8.0, 6.0),
}
_SPIKE_DAYS = 30  # values, for a scatter
_TO_DEVIATION = 1.4826  # median of the magnitudes of normal numbers to their standard deviation

_WET = 1.0  # mm: a day that was cloudy
_WET_DAYS = 20
_SURE = 3.0  # standard errors
_LEAST_STEP = 0.03  # of Rs/Rso
_LEAST_DARKENING = 0.02  # of Rs/Rso; it is some 0.15 to 0.4

_EXCHANGED_PAIRS = 50  # of neighbours in a year; a full year has some 140
_LEAST_GAIN = 0.2  # a sound record loses, one of exchanged dates gains six tenths and more
_STILL = 1e-6  # degC


def series_doubts(weather: xr.Dataset, sun: Sun | None, clear: xr.DataArray | None) -> Iterator[Doubt]:
    """Find doubts about the order of days; `clear` is the solar radiation over that under a clear sky."""
    for name in quantities(weather):
        values = readings(weather, name)
        varies = values
        if name == "sunshine" and sun is not None:
            varies = values.where(values < sun.daylight - _CLOUDLESS)
        stuck = over_time(partial(_repeated, may_repeat=_MAY_REPEAT.get(name, np.nan)), varies)
        yield Doubt(name, stuck, "the same value day after day", separate=True)
        if name in _SPIKES:
            times, least = _SPIKES[name]
            spike = over_time(partial(_spikes, times=times, least=least), values)
            unit = VARIABLES[name].unit
            why = f"{times:g} times the record's scatter, {least:g} {unit} at least"
            yield Doubt(name, spike, f"far from the days before and after it: {why}")
    if "rain" in weather:
        dry = over_time(lambda rain: long_runs(rain == 0, _DRY_DAYS), readings(weather, "rain"))
        yield Doubt("rain", dry, "no rain at all in a season")
    if "tmin" in weather and "tmax" in weather:
        back = over_time(_copied, readings(weather, "tmin"), readings(weather, "tmax"))
        why = f"tmin and tmax of {_REPEATED_DAYS} days or more in a row are those of as many days before"
        yield judged("tmin", back, f"{why} as the value says")
    if "rain" in weather and clear is not None:
        yield from _rain_and_sun(readings(weather, "rain"), clear)
    temperatures = [readings(weather, name) for name in ("tmin", "tmax") if name in weather]
    if temperatures:
        time = pd.DatetimeIndex(weather.indexes["time"])
        total = temperatures[0] + temperatures[-1]
        yield judged(
            "time",
            over_time(partial(_calmer_when_exchanged, time=time), total / 2),
            "day and month may be exchanged where the day is at most 12: exchanged back, temperature changes "
            "less from day to day, by the value as a fraction; wb.TableLayout(exchanged_dates=True) changes "
            "them back",
        )


def _repeated(values: Floats, may_repeat: float) -> Bools:
    """Mark runs of one value, longer than the rounding of the record makes likely."""
    usable = ~np.isnan(values) & (values != may_repeat)
    before = previous(values)
    tie = usable & (values == before)
    length = run_totals(~tie, usable)
    # How often neighbours are equal is counted outside such runs, or a dead sensor would excuse itself.
    outside = usable & ~np.isnan(before) & (before != may_repeat) & (length < _REPEATED_DAYS)
    pairs = np.maximum(outside.sum(axis=-1, keepdims=True), 1)
    ties = np.clip((outside & tie).sum(axis=-1, keepdims=True) / pairs, _LEAST_TIES, _MOST_TIES)
    days = np.maximum(usable.sum(axis=-1, keepdims=True), 1)
    needed = 1 + np.log(np.minimum(_REPEATS_BY_CHANCE / days, 1)) / np.log(ties)
    return np.asarray(usable & (length >= np.maximum(_REPEATED_DAYS, np.ceil(needed))))


def _copied(tmin: Floats, tmax: Floats) -> Floats:
    """Give how many days back a block of days stood first; NaN for days that stand once."""
    pairs = tmin + 1j * tmax
    found = np.full(tmin.shape, np.nan)
    for at in np.ndindex(tmin.shape[:-1]):
        found[at] = _copied_in(pairs[at])
    return found


def _copied_in(pairs: npt.NDArray[np.complex128]) -> Floats:
    back = np.full(pairs.shape, np.nan)
    usable = ~np.isnan(pairs)
    changes = np.ones(pairs.shape, dtype=bool)
    changes[1:] = pairs[1:] != pairs[:-1]
    usable &= run_totals(changes, usable) < _REPEATED_DAYS  # values that stand still are told by themselves
    count = int(usable.sum())
    if count <= _REPEATED_DAYS:
        return back
    _, codes, often = np.unique(pairs[usable], return_inverse=True, return_counts=True)
    # Coarse numbers meet by chance; days that follow a meeting meet more often, hence the root.
    chance = np.sqrt(((often / count) ** 2).sum())
    if chance >= _MOST_TIES:
        return back
    needed = np.ceil(np.log(_BLOCKS_BY_CHANCE / (count**2 / 2)) / np.log(chance))
    length = max(_REPEATED_DAYS, int(needed))
    starts = pairs.size - length + 1
    if starts < 2:
        return back
    numbers = -1 - np.arange(pairs.size, dtype=np.int64)  # days that are passed over are like no other
    numbers[usable] = codes
    blocks = np.zeros(starts, dtype=np.uint64)
    for day in range(length):  # one number for each block of days; what overflows is meant to
        blocks = blocks * np.uint64(0x9E3779B97F4A7C15) + numbers[day : day + starts].astype(np.uint64)
    _, first, same = np.unique(blocks, return_index=True, return_inverse=True)
    ago = np.arange(starts) - first[same]
    again = np.flatnonzero(ago)
    for day in range(length):
        back[again + day] = ago[again]
    return back


def _spikes(values: Floats, times: float, least: float) -> Bools:
    """Mark days far above both neighbours, or far below."""
    up, down = values - previous(values), values - previous(values, -1)
    scatter = _TO_DEVIATION * quantile(np.abs(up), 0.5, _SPIKE_DAYS)
    height = np.where(np.sign(up) == np.sign(down), np.minimum(np.abs(up), np.abs(down)), np.nan)
    return (height > times * scatter) & (height > least)


def _rain_and_sun(rain: xr.DataArray, clear: xr.DataArray) -> Iterator[Doubt]:
    """Doubt rain whose days are not the dark ones."""
    for ago, day in ((1, "before"), (-1, "after")):
        why = (
            f"the dark day is the one {day} the rain (Rs/Rso lower by the value): dates of one are shifted "
            "by a day, or rain is that of the day until the morning reading"
        )
        yield judged("rain", over_time(partial(_shifted, ago=ago), rain, clear), why)
    why = "wet days are hardly darker than dry ones (Rs/Rso lower by the value)"
    unrelated = over_time(_unrelated, rain, clear)
    yield judged("rain", unrelated, f"{why}: rain and radiation are not of one place or time")


def _darker(rain: Floats, clear: Floats, ago: int) -> tuple[Floats, Floats]:
    """Give how much darker the day so many days before a wet day is than the wet day, and how surely."""
    step = np.where(rain >= _WET, clear - previous(clear, ago), np.nan)
    fall = mean(step, _WET_DAYS)
    count = (~np.isnan(step)).sum(axis=-1, keepdims=True)
    error = np.sqrt(mean((step - fall) ** 2) / np.maximum(count, 1))
    return fall, error


def _shifted(rain: Floats, clear: Floats, ago: int) -> Floats:
    """Give the fall where the day before (after) the rain is darker than its own and that after (before)."""
    (fall, error), (other, _) = _darker(rain, clear, ago), _darker(rain, clear, -ago)
    found = (fall > _SURE * error) & (fall > _LEAST_STEP) & (fall > other)
    return spread(np.where(found, fall, np.nan), rain)


def _unrelated(rain: Floats, clear: Floats) -> Floats:
    """Give how much darker wet days are than dry ones, where they hardly are and no shift explains it."""
    wet, dry = np.where(rain >= _WET, clear, np.nan), np.where(rain == 0, clear, np.nan)
    darkening = mean(dry, _WET_DAYS) - mean(wet, _WET_DAYS)
    found = spread(np.where(darkening < _LEAST_DARKENING, darkening, np.nan), rain)
    shifted = ~np.isnan(_shifted(rain, clear, 1)) | ~np.isnan(_shifted(rain, clear, -1))
    return np.where(shifted, np.nan, found)


def _calmer_when_exchanged(values: Floats, time: pd.DatetimeIndex) -> Floats:
    """Give to each year by what part changes from day to day shrink with day and month exchanged."""
    found = np.full(values.shape, np.nan)
    partner = time.get_indexer(exchange(time))
    order = np.where(partner >= 0, partner, np.arange(time.size))
    moved = order != np.arange(time.size)
    near = np.zeros(time.size, dtype=bool)
    near[1:] = moved[1:] | moved[:-1]
    mended = values[..., order]
    as_is, put_back = np.abs(values - previous(values)), np.abs(mended - previous(mended))
    use = near & ~np.isnan(as_is) & ~np.isnan(put_back)
    for year in by_year(time):
        now = mean(np.where(use, as_is, np.nan)[..., year], _EXCHANGED_PAIRS)
        then = mean(np.where(use, put_back, np.nan)[..., year], _EXCHANGED_PAIRS)
        gain = 1 - then / np.maximum(now, _STILL)
        found[..., year] = spread(np.where(gain > _LEAST_GAIN, gain, np.nan), values[..., year])
    return found
