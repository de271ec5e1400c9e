"""The seasons of a crop that is planted anew each year, within weather of one or many years."""

from __future__ import annotations

import dataclasses
from typing import NamedTuple

import pandas as pd
import xarray as xr

from waterbudget.balance import Rule
from waterbudget.crop import Crop, Rotation
from waterbudget.crop.thermal import accumulate
from waterbudget.descriptions import sources, with_sources
from waterbudget.errors import collect
from waterbudget.system import System


class Season(NamedTuple):
    """One season to run.

    Attributes
    ----------
    year : int
        Calendar year of its first day.
    weather : Dataset
        Its days alone.
    crop : Crop or Rotation
        Planted in that year.
    rule : Rule or None
        With its last date in that season.
    """

    year: int
    weather: xr.Dataset
    crop: Crop | Rotation
    rule: Rule | None


def yearly(weather: xr.Dataset, crop: Crop | Rotation, rule: Rule | None) -> list[Season]:
    """Cut the weather into the seasons of a crop.

    Parameters
    ----------
    weather : Dataset
        With a daily time axis.
    crop : Crop or Rotation
    rule : Rule or None

    Returns
    -------
    list of Season
        From planting to the last day of the crop, for each year in which both lie within the weather. One
        season, all the weather, where the crop is no `Crop` with one planting date and stages.

    Raises
    ------
    InputError
        When no season is whole, or the crop develops by heat and the weather has no temperatures.
    """
    time = weather.indexes["time"]
    if not isinstance(crop, Crop) or not _repeats(crop):
        return [Season(time[0].year, weather, crop, rule)]
    found = []
    for year in range(time[0].year, time[-1].year + 1):
        own, limited = _moved(crop, rule, year)
        first = pd.Timestamp(own.planted)
        last = _last_day(own, weather) if first >= time[0] else None
        if last is not None and last <= time[-1]:
            found.append(Season(year, weather.sel(time=slice(first, last)), own, limited))
    if not found:
        with collect() as faults:
            faults.add(
                "weather",
                "holds no whole season of the crop",
                value=f"{time[0]:%Y-%m-%d} to {time[-1]:%Y-%m-%d}",
                allowed=f"from planting on {pd.Timestamp(crop.planted):%d %B} to the end of the last stage",
                mend="give longer weather; simulate takes a season that is not whole",
            )
    return found


def _repeats(crop: Crop) -> bool:
    """Tell whether a crop can be planted again in another year: one date, and stages that end."""
    curves = (crop.kc, crop.kcb, crop.cover, crop.height, crop.root_depth)
    daily = any(isinstance(curve, xr.DataArray) and "time" in curve.dims for curve in curves)
    one_date = crop.planted is not None and not isinstance(crop.planted, xr.DataArray)
    return one_date and not daily and (crop.stage_days is not None or crop.stage_degree_days is not None)


def _moved(crop: Crop, rule: Rule | None, year: int) -> tuple[Crop, Rule | None]:
    """Plant a crop in another year; the last date of the rule moves as far."""
    planted = pd.Timestamp(crop.planted)
    shift = pd.DateOffset(years=year - planted.year)
    own = dataclasses.replace(crop, planted=planted + shift)
    if rule is None or rule.last_date is None:
        return own, rule
    dates = xr.DataArray(rule.last_date)
    moved = dates.copy(data=(pd.DatetimeIndex(dates.values.reshape(-1)) + shift).values.reshape(dates.shape))
    return own, dataclasses.replace(rule, last_date=moved if moved.dims else pd.Timestamp(moved.item()))


def _last_day(crop: Crop, weather: xr.Dataset) -> pd.Timestamp | None:
    """Find the last day of a crop's last stage, of all labels; None where the weather ends before it."""
    first = pd.Timestamp(crop.planted)
    last = first
    if crop.stage_days is not None:
        last = first + pd.Timedelta(days=int(crop.stage_days.sum("stage", skipna=False).max()) - 1)
    if crop.stage_degree_days is None:
        return last
    with collect() as faults:
        for name in ("tmin", "tmax"):
            if name not in weather:
                faults.add("weather", f"has no {name}, which a crop that develops by heat needs")
    ahead = weather.sel(time=slice(first, None))
    if ahead.sizes["time"] == 0:
        return None
    heat = accumulate(
        ahead["tmin"],
        ahead["tmax"],
        crop.planted,
        crop.base_temperature,
        crop.upper_temperature,
        crop.heat_limit,
    )
    wanted = crop.stage_degree_days.sum("stage", skipna=False)
    complete = (heat >= wanted) | wanted.isnull()
    every = complete.all([dim for dim in complete.dims if dim != "time"])
    if not bool(every.any()):
        return None
    return max(last, pd.Timestamp(every["time"].to_numpy()[int(every.argmax("time"))]))


def within(system: System, weather: xr.Dataset) -> System:
    """Take a daily spray loss on the days of the run alone."""
    loss = system.spray_fraction
    if not isinstance(loss, xr.DataArray) or "time" not in loss.dims:
        return system
    days = loss.indexes["time"].isin(weather.indexes["time"])
    cut = dataclasses.replace(system, spray_fraction=loss.isel(time=days))
    return with_sources(cut, {"spray_fraction": sources(system)["spray_fraction"]})
