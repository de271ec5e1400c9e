"""Hourly and other tables in steps shorter than a day, made into local days by a stated rule.

Amounts of a step (mm, MJ m-2) were made rates by the day when they were read, so that whatever is added
up over a day is here the mean of its rates: a rate is averaged, an amount summed, by one formula.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple, get_args

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from waterbudget.checks import first
from waterbudget.errors import Faults, brief, collect
from waterbudget.units import UnitError, convert
from waterbudget.variables import VARIABLES, attributes
from waterbudget.weather.atmosphere import saturation_vapour_pressure
from waterbudget.weather.dates import with_question
from waterbudget.weather.flags import GIVEN, is_flag, with_flags

Stamp = Literal["start", "end"]

DAY = pd.Timedelta(days=1)

_NIGHT = -0.5
"""MJ m-2 of a day that a pyranometer may show without any sun: some -6 W m-2 (common practice, no source)."""

_LEAST_BRIGHT = 2.0
"""MJ m-2 of a day whose course tells where noon is."""

_FARTHEST_NOON = 4.0
"""Hours between the sun's noon and 12:00 that no time zone reaches: three in the far west of a wide one."""

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


@dataclass(frozen=True, kw_only=True)
class SubDaily:
    """How a table in steps shorter than a day becomes days.

    Parameters
    ----------
    stamp : {"start", "end"}
        Whether a step bears the time at which it began or at which it ended.
    utc_offset : float, optional
        Local standard time less universal time [h], -12 to 14, in quarters: -8 where it is 04:00 at noon
        UTC. Give it where stamps are in UTC or bear a time zone; without it they are local standard
        time. A day is a local day, of 24 hours all year.
    least_share : float
        Share of a day's steps that must be present [1], above 0.5 and at most 1, for minima, maxima and
        means. Rain, evapotranspiration, radiation and sunshine of a day need every step always: what
        fell or shone in a missing hour is not known.

    Raises
    ------
    InputError
        With every option outside its range.

    Examples
    --------
    >>> SubDaily(stamp="end", utc_offset=-8).least_share
    1.0
    """

    stamp: Stamp
    utc_offset: float | None = None
    least_share: float = 1.0

    def __post_init__(self) -> None:
        """Check every option."""
        with collect() as faults:
            if self.stamp not in get_args(Stamp):
                faults.add(
                    "stamp", "is unknown", value=brief(self.stamp), allowed="'start' or 'end' of the step"
                )
            offset = self.utc_offset
            if offset is not None and not (
                _is_number(offset) and -12 <= offset <= 14 and offset * 4 % 1 == 0
            ):
                faults.add(
                    "utc_offset",
                    "is no offset of a local time",
                    value=brief(offset),
                    allowed="-12 to 14 h in quarters of an hour",
                    mend="local standard time less UTC: 1 in central Europe, -8 at the Pacific coast",
                )
            share = self.least_share
            if not (_is_number(share) and 0.5 < share <= 1):
                faults.add("least_share", "is no share", value=brief(share), allowed="above 0.5, at most 1")


def _is_number(value: object) -> bool:
    return isinstance(value, int | float | np.number) and not isinstance(value, bool)


class Grid(NamedTuple):
    """The steps of a table on a whole number of local days.

    Attributes
    ----------
    step : Timedelta
        Length of a step.
    per_day : int
        Steps of a day.
    days : DatetimeIndex
    place : numpy array of int
        Of each row, its number among all the steps of these days.
    """

    step: pd.Timedelta
    per_day: int
    days: pd.DatetimeIndex
    place: npt.NDArray[np.int64]

    def spread(self, data: xr.DataArray) -> npt.NDArray[np.float64]:
        """Lay values out as days, steps of a day, labels; NaN where the table has no row."""
        values = data.transpose("time", ...).values
        full = np.full((len(self.days) * self.per_day, *values.shape[1:]), np.nan)
        full[self.place] = values
        return full.reshape(len(self.days), self.per_day, *values.shape[1:])


def lay_out(stamps: pd.Index, how: SubDaily, faults: Faults) -> Grid | None:
    """Check the stamps of a table in steps, and lay them out on local days.

    Parameters
    ----------
    stamps : Index
        One for each row; rows may be absent, not repeated.
    how : SubDaily
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    Grid or None
        None where a fault was noted.
    """
    what = "weather, time"
    if not isinstance(stamps, pd.DatetimeIndex) or not len(stamps):
        faults.add(what, "holds no stamps", value=brief(stamps), mend="pd.to_datetime(time, format=...)")
        return None
    absent = np.asarray(stamps.isna())
    if absent.any():
        row = int(absent.argmax()) + 1
        mend = "write the date and time, or leave the row out"
        faults.add(what, "has rows without a date", where=f"row {row}", count=int(absent.sum()), mend=mend)
        return None
    if stamps.tz is not None and how.utc_offset is None:
        faults.add(
            what,
            "bears a time zone, and a day is a local day",
            value=str(stamps[0]),
            mend="wb.SubDaily(utc_offset=...), local standard time less UTC",
        )
        return None
    local = stamps.tz_convert("UTC").tz_localize(None) if stamps.tz is not None else stamps
    if how.utc_offset is not None:
        local = local + pd.Timedelta(hours=float(how.utc_offset))
    step = step_of(local, what, faults)
    if step is None:
        return None
    starts = local - step if how.stamp == "end" else local
    odd = np.asarray((starts - starts.normalize()) % step != pd.Timedelta(0))
    if odd.any():
        at = int(odd.argmax())
        faults.add(
            what,
            "holds steps that do not lie within days",
            where=f"row {at + 1}",
            value=str(stamps[at]),
            count=int(odd.sum()),
            allowed=f"steps of {_written(step)}, counted from local midnight",
            mend="a stamp is the beginning or the end of a step, not its middle; see utc_offset too",
        )
        return None
    days = pd.date_range(starts[0].normalize(), starts[-1].normalize(), freq="D", name="time")
    place = np.asarray((starts - days[0]) // step, dtype=np.int64)
    return Grid(step, round(DAY / step), days, place)


def step_of(stamps: pd.DatetimeIndex, what: str, faults: Faults) -> pd.Timedelta | None:
    """Find the length of a step.

    Parameters
    ----------
    stamps : DatetimeIndex
        In the order of the rows.
    what : str
        Whose they are, in a message.
    faults : Faults
        Takes stamps that are in no order, stand twice, or are not of one step.

    Returns
    -------
    Timedelta or None
        None where a fault was noted.
    """
    apart = stamps[1:] - stamps[:-1]
    if not len(apart):
        faults.add(what, "has one row only", allowed="two steps or more")
        return None
    found = Faults()
    again, back = np.asarray(apart == pd.Timedelta(0)), np.asarray(apart < pd.Timedelta(0))
    twice = np.asarray(stamps.duplicated())
    if back.any():
        at = int(back.argmax()) + 1
        value = f"{stamps[at]} after {stamps[at - 1]}"
        mend = "sort the rows; where clocks were put back, stamps must be in standard time or in UTC"
        found.add(
            what, "is not in order", where=f"row {at + 1}", value=value, count=int(back.sum()), mend=mend
        )
    if again.any() or (twice.any() and not back.any()):
        found.add(
            what,
            "has stamps that stand more than once",
            where=str(stamps[twice][0]),
            count=int(twice.sum()),
            allowed="one row a step",
            mend="keep the right row; where clocks were put back, stamps must be in standard time or in UTC; "
            "rows of several stations name them by a column",
        )
    if found:
        faults.extend(with_question(tuple(found), stamps))
        return None
    step = pd.Series(apart).mode().min()
    if DAY % step != pd.Timedelta(0) or step >= DAY:
        faults.add(
            what,
            "is not in steps of which a whole number makes a day",
            value=_written(step),
            allowed="10 min, 30 min, 1 h, 3 h, ...",
            mend="leave sub_daily out if a row is a day",
        )
        return None
    odd = np.asarray(apart % step != pd.Timedelta(0))
    if odd.any():
        at = int(odd.argmax()) + 1
        faults.add(
            what,
            f"has stamps between the steps of {_written(step)}",
            where=f"row {at + 1}",
            value=str(stamps[at]),
            count=int(odd.sum()),
            mend="bring the table to one step",
        )
        return None
    return pd.Timedelta(step)


def _written(step: pd.Timedelta) -> str:
    minutes = step / pd.Timedelta(minutes=1)
    return f"{minutes / 60:g} h" if minutes >= 60 else f"{minutes:g} min"


def note_absent_days(grid: Grid, faults: Faults) -> None:
    """Note days of which there is not one row; those at the edges are cut elsewhere."""
    absent = np.setdiff1d(np.arange(len(grid.days)), grid.place // grid.per_day)
    if absent.size:
        faults.add(
            "weather, time",
            "misses days",
            where=f"{grid.days[absent[0]]:%Y-%m-%d}",
            count=int(absent.size),
            allowed="a row at least of every day from the first to the last",
            mend='read_weather(..., missing_days="nan") adds the days as NaN, to be filled by fill_weather',
        )


def is_amount(name: str, unit: str) -> bool | None:
    """Tell whether a unit is that of the amount of a step, or of a rate; None where it is neither."""
    if name not in AMOUNTS:
        return False
    try:
        convert(1.0, unit, AMOUNTS[name])
    except UnitError:
        try:
            convert(1.0, unit, VARIABLES[name].unit)
        except UnitError:
            return None
        return False
    return True


def step_faults(steps: xr.Dataset, faults: Faults) -> None:
    """Check the rates of steps that have another range than those of days."""
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
    missing = {name: int(np.isnan(values).sum()) for name, values in spread.items() if name in steps}
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
    if not bright.any():
        return ""
    course = np.moveaxis(by_step, 1, 0)[:, bright].mean(axis=1)
    angle = 2 * np.pi * (np.arange(grid.per_day) + 0.5) / grid.per_day
    hour = np.arctan2(course @ np.sin(angle), course @ np.cos(angle)) / (2 * np.pi) * 24 % 24
    shown = f"{int(hour):02d}:{int(hour % 1 * 60):02d}"
    if abs(hour - 12) > _FARTHEST_NOON:
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


def _account(grid: Grid, how: SubDaily, missing: Mapping[str, int], cut: int) -> str:
    """Say how days were made, and what was missing."""
    rows = len(grid.days) * grid.per_day - len(grid.place)
    lacking = ", ".join(f"{name} {count}" for name, count in missing.items() if count)
    zone = "local time as stamped" if how.utc_offset is None else f"local time = UTC {how.utc_offset:+g} h"
    return (
        f"days made of steps of {_written(grid.step)} that bear the time of their {how.stamp}; {zone}; "
        f"{rows} steps have no row; missing values, with these: {lacking or 'none'}; "
        f"minima, maxima and means need {how.least_share:.0%} of a day's steps, amounts every one; "
        f"days at the edges left out for want of steps: {cut}"
    )
