"""Hourly and other tables in steps shorter than a day, made into local days by a stated rule.

Amounts of a step (mm, MJ m-2) were made rates by the day when they were read, so that whatever is added
up over a day is here the mean of its rates: a rate is averaged, an amount summed, by one formula.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping

import numpy as np
import numpy.typing as npt
import xarray as xr

from waterbudget.checks import first, in_range
from waterbudget.errors import Faults
from waterbudget.units import UnitError, convert
from waterbudget.variables import VARIABLES, attributes
from waterbudget.weather.atmosphere import saturation_vapour_pressure
from waterbudget.weather.flags import GIVEN, is_flag, quantities, with_flags
from waterbudget.weather.steps import Grid, written
from waterbudget.weather.sub_daily import SubDaily

_NIGHT = -0.5
"""MJ m-2 of a day that a pyranometer may show without any sun: some -6 W m-2 (common practice, no source)."""

_LEAST_BRIGHT = 2.0
"""MJ m-2 of a day whose course tells where noon is."""

_LEAST_DAYS, _LEAST_STEPS, _LEAST_COURSE = 10, 4, 0.3
"""Bright days, steps of a day, and the first wave's part of the mean that tell a noon at all."""

_FARTHEST_NOON = 4.0
"""Hours between the sun's noon and 12:00 that no time zone reaches: three in the far west of a wide one."""

_LISTED = 10
"""Days whose missing steps are counted one by one."""

AMOUNTS: Mapping[str, str] = {"rain": "mm", "et_ref": "mm", "solar": "MJ m-2", "sunshine": "h"}
"""What may be the amount of a step, and the unit of one. A day of it needs every step."""

STEP_RANGES: Mapping[str, tuple[float, float]] = {
    # A pyranometer shows a little less than nothing at night: to -20 W m-2. Up to 1700 W m-2 of a moment.
    "solar": (-20 * 0.0864, 1700 * 0.0864),
    "rain": (0.0, 48000.0),  # 2000 mm h-1
    "et_ref": (-24.0, 100.0),  # mm a day, from -1 mm h-1: dew at night
}
"""Rates of a step that may be outside the hard range of a day."""

_EXTREMES: Mapping[str, tuple[tuple[str, str], ...]] = {
    "temperature": (("tmin", "min"), ("tmax", "max")),
    "relative_humidity": (("rhmin", "min"), ("rhmax", "max")),
    "tmin": (("tmin", "min"),),
    "tmax": (("tmax", "max"),),
    "rhmin": (("rhmin", "min"),),
    "rhmax": (("rhmax", "max"),),
}
"""What is made of a variable of steps; of every other one the mean."""


def is_amount(name: str, unit: str) -> bool:
    """Tell whether a unit that fits a variable is that of the amount of a step, and not of a rate."""
    if name not in AMOUNTS:
        return False
    try:
        convert(1.0, unit, AMOUNTS[name])
    except UnitError:
        return False
    return True


def step_faults(steps: xr.Dataset, faults: Faults) -> None:
    """Check the values of steps: a mean would hide one that cannot be. Rates have ranges of their own."""
    for name in quantities(steps):
        if name not in STEP_RANGES:
            in_range(steps[name], name, faults)
    for name, (low, high) in STEP_RANGES.items():
        if name not in steps:
            continue
        values = steps[name].values
        bad = (values < low) | (values > high)
        if bad.any():
            unit = VARIABLES[name].unit
            where, value, count = first(steps[name], bad)
            faults.add(
                f"{name} of a step",
                "is outside its range",
                where=where,
                value=f"{value:.6g} {unit}",
                count=count,
                allowed=f"{low:.6g} to {high:.6g} {unit}",
                mend=f"correct the value; an amount of a step is in {AMOUNTS[name]}, a rate in {unit}",
            )


def to_days(steps: xr.Dataset, grid: Grid, how: SubDaily, faults: Faults) -> xr.Dataset:
    """Make days of steps.

    Parameters
    ----------
    steps : Dataset
        Canonical units, rates by the day; its rows are those of `grid`.
    grid : Grid
    how : SubDaily
    faults : Faults
        Takes a variable that would be made twice.

    Returns
    -------
    Dataset
        Daily variables by their canonical names, with flags for days of which steps are missing. A first
        and a last day of which nothing can be known are left out; ``attrs["steps"]`` says so.
    """
    coords: dict[Hashable, object] = {name: steps.coords[name] for name in steps.coords if name != "time"}
    days = xr.Dataset(coords={**coords, "time": grid.days})
    short: dict[str, xr.DataArray] = {}
    spread = {str(name): grid.spread(data) for name, data in steps.data_vars.items() if not is_flag(name)}
    if {"temperature", "relative_humidity"} <= set(spread) and "vapour_pressure" not in spread:
        saturated = saturation_vapour_pressure(spread["temperature"])
        spread["vapour_pressure"] = saturated * spread["relative_humidity"] / 100
    for name, values in spread.items():
        origin = steps[name] if name in steps else steps["temperature"]
        dims = ("time", *(dim for dim in origin.dims if dim != "time"))
        present = (~np.isnan(values)).sum(axis=1)
        needed = grid.per_day if name in AMOUNTS else math.ceil(how.least_share * grid.per_day)
        for made, kind in _EXTREMES.get(name, ((name, "mean"),)):
            if made in days:
                mend = "map one of them"
                faults.add(f"{made}", f"is both given and made of {name}", mend=mend)
                continue
            with np.errstate(invalid="ignore"):
                of_day = _reduce(values, kind)
            of_day = np.where(present >= needed, of_day, np.nan)
            days[made] = (dims, of_day, attributes(made))
            short[made] = xr.DataArray((present < grid.per_day) & (present >= needed), dims=dims)
    missing = {name: np.isnan(values) for name, values in spread.items() if name in steps}
    kept = _whole(days)
    text = _account(grid, how, missing, days.sizes["time"] - kept.sizes["time"])
    kept = kept[[name for name in VARIABLES if name in kept.data_vars]]
    if "solar" in spread:
        text += _noon(spread["solar"], grid, faults) + _from_nought(kept)
    for name in map(str, steps.data_vars):
        if is_flag(name):  # of an amount that a code stood for
            stated = (grid.spread(steps[name]) > GIVEN).any(axis=1)
            dims = ("time", *(dim for dim in steps[name].dims if dim != "time"))
            marks = xr.DataArray(stated, dims=dims, coords={"time": grid.days}).sel(time=kept["time"])
            own = name.removesuffix("_flag")
            kept = with_flags(kept, own, marks & kept[own].notnull(), "stated")
    for name, marks in short.items():
        marks = marks.assign_coords(time=grid.days).sel(time=kept["time"])
        kept = with_flags(kept, name, marks, "incomplete_day")
    return kept.assign_attrs(steps=text)


def _noon(solar: npt.NDArray[np.float64], grid: Grid, faults: Faults) -> str:
    """Say at which hour radiation is centred; ask where that is too far from noon for a local time."""
    by_step = solar.reshape(len(grid.days), grid.per_day, -1)
    bright = by_step.mean(axis=1) > _LEAST_BRIGHT  # days with every step; the polar night tells nothing
    if not bright.any() or grid.per_day < _LEAST_STEPS:
        return ""
    course = np.moveaxis(by_step, 1, 0)[:, bright].mean(axis=1)
    angle = 2 * np.pi * (np.arange(grid.per_day) + 0.5) / grid.per_day
    east, north = course @ np.sin(angle), course @ np.cos(angle)
    hour = np.arctan2(east, north) / (2 * np.pi) * 24 % 24
    shown = f"{int(hour):02d}:{int(hour % 1 * 60):02d}"
    # A few days of storm, or a sun that circles, tell no noon.
    clear = bright.sum() >= _LEAST_DAYS and np.hypot(east, north) > _LEAST_COURSE * course.sum()
    if clear and abs(hour - 12) > _FARTHEST_NOON:
        faults.add(
            "solar",
            "is centred far from noon: are the stamps in local time?",
            value=f"{shown} of the day as stamped",
            allowed=f"within {_FARTHEST_NOON:g} h of 12:00",
            mend="if in UTC: wb.SubDaily(utc_offset=...), local standard time less UTC; see its sign",
        )
    return f"; radiation is centred at {shown}"


def _from_nought(days: xr.Dataset) -> str:
    """Take radiation that a sensor shows a little below nothing for none; say of how many days."""
    if "solar" not in days:
        return ""
    solar = days["solar"].values
    dark = (solar < 0) & (solar >= _NIGHT)
    days["solar"].values = np.where(dark, 0.0, solar)
    return f"; radiation of {int(dark.sum())} days was a little below 0, and is 0" if dark.any() else ""


def _reduce(values: npt.NDArray[np.float64], kind: str) -> npt.NDArray[np.float64]:
    """Take the minimum, maximum or mean of each day's steps that are present; NaN where none is."""
    if kind == "min":
        return np.asarray(np.fmin.reduce(values, axis=1))
    if kind == "max":
        return np.asarray(np.fmax.reduce(values, axis=1))
    count = (~np.isnan(values)).sum(axis=1)
    total = np.zeros_like(count, dtype=np.float64)
    # In order, one by one: what numpy's own sum makes of a station depends on how many lie beside it.
    for step in np.moveaxis(np.where(np.isnan(values), 0.0, values), 1, 0):
        total = total + step
    return np.asarray(total / np.where(count == 0, np.nan, count))


def _whole(days: xr.Dataset) -> xr.Dataset:
    """Leave out a first and a last day of which no variable is known."""
    known = np.zeros(days.sizes["time"], dtype=bool)
    for data in days.data_vars.values():
        known |= (~np.isnan(data.values)).reshape(len(known), -1).any(axis=1)
    start = 0 if known[0] or not known.any() else 1
    stop = len(known) if known[-1] or not known.any() else len(known) - 1
    return days.isel(time=slice(start, stop))


def _account(grid: Grid, how: SubDaily, missing: Mapping[str, npt.NDArray[np.bool_]], cut: int) -> str:
    """Say how days were made, and what was missing: of each variable, and of each day the most of any."""
    rows = len(grid.days) * grid.per_day - len(grid.place)
    lacking = ", ".join(f"{name} {int(gone.sum())}" for name, gone in missing.items() if gone.any())
    most = np.zeros(len(grid.days), dtype=np.int64)
    for gone in missing.values():
        most = np.maximum(most, gone.sum(axis=1).reshape(len(most), -1).max(axis=1))
    short = np.flatnonzero(most)
    listed = ", ".join(f"{grid.days[day]:%Y-%m-%d} {most[day]}" for day in short[:_LISTED])
    listed += ", ..." if short.size > _LISTED else ""
    zone = "local time as stamped" if how.utc_offset is None else f"local time = UTC {how.utc_offset:+g} h"
    return (
        f"days made of steps of {written(grid.step)} that bear the time of their {how.stamp}; {zone}; "
        f"{rows} steps have no row at all; missing values, with these: {lacking or 'none'}; "
        f"days that lack steps: {short.size}{f' ({listed})' if listed else ''}; "
        f"minima, maxima and means need {how.least_share:.0%} of a day's steps, amounts every one; "
        f"days at the edges left out for want of steps: {cut}"
    )
