"""Stamps of steps shorter than a day, laid out on local days.

A stamp in no order, between the steps, or without a zone that is needed is a fault, never mended.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from waterbudget.errors import Faults, brief
from waterbudget.weather.dates import with_question
from waterbudget.weather.sub_daily import SubDaily

DAY = pd.Timedelta(days=1)


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
            allowed=f"steps of {written(step)}, counted from local midnight",
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
            value=written(step),
            allowed="10 min, 30 min, 1 h, 3 h, ...",
            mend="leave sub_daily out if a row is a day",
        )
        return None
    odd = np.asarray(apart % step != pd.Timedelta(0))
    if odd.any():
        at = int(odd.argmax()) + 1
        faults.add(
            what,
            f"has stamps between the steps of {written(step)}",
            where=f"row {at + 1}",
            value=str(stamps[at]),
            count=int(odd.sum()),
            mend="bring the table to one step",
        )
        return None
    return pd.Timedelta(step)


def written(step: pd.Timedelta) -> str:
    """Write the length of a step for people: ``"30 min"``."""
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
