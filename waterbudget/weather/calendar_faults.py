"""Dates of which day and month are exchanged, where a time axis itself shows it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

_MONTHS = 12


def exchanged(stamps: pd.DatetimeIndex) -> npt.NDArray[np.datetime64]:
    """Exchange day and month wherever the day is at most 12; done twice it changes nothing.

    Parameters
    ----------
    stamps : DatetimeIndex
        Without a time zone.

    Returns
    -------
    numpy array of datetime64
        In the resolution of `stamps`; a missing stamp stays missing.
    """
    months = stamps.values.astype("datetime64[M]")
    years = months.astype("datetime64[Y]")
    days = stamps.values.astype("datetime64[D]")
    month, day = months - years, days - months  # both counted from 0
    other = (years.astype("datetime64[M]") + day.astype(np.int64)).astype("datetime64[D]")
    other = other + month.astype(np.int64) + (stamps.values - days)
    few = ~np.isnat(stamps.values) & (day < np.timedelta64(_MONTHS, "D"))
    return np.where(few, other, stamps.values).astype(stamps.values.dtype)


def exchanged_days(stamps: pd.DatetimeIndex) -> pd.DatetimeIndex | None:
    """Put a time axis right of which day and month are exchanged wherever the day is at most 12.

    Such an axis comes of dates that were read, or stored by a program, in the wrong order: days 13 to 31
    cannot be taken for a month, and stay right.

    Parameters
    ----------
    stamps : DatetimeIndex
        Daily or in smaller steps, in the order of the rows, without a time zone.

    Returns
    -------
    DatetimeIndex or None
        The axis put right, where it is out of order as it stands, and sorted, unique and of one step with
        day and month exchanged. None for every other axis.
    """
    if stamps.size < 2 or stamps.tz is not None or bool(np.isnat(stamps.values).any()):
        return None
    if bool(stamps.is_monotonic_increasing):
        return None
    mended = exchanged(stamps)
    steps = np.diff(mended)
    if not (steps[0] > np.timedelta64(0) and bool((steps == steps[0]).all())):
        return None
    return pd.DatetimeIndex(mended, name=stamps.name)
