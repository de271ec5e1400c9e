"""Dates of which day and month are exchanged, where a time axis itself shows it."""

from __future__ import annotations

import numpy as np
import pandas as pd

_MONTHS = 12


def exchange(stamps: pd.DatetimeIndex) -> pd.DatetimeIndex:
    """Exchange day and month wherever the day is at most 12; done twice it changes nothing.

    Parameters
    ----------
    stamps : DatetimeIndex

    Returns
    -------
    DatetimeIndex
        In the resolution and the time zone of `stamps`; a missing stamp stays missing.
    """
    if stamps.tz is not None:
        return exchange(stamps.tz_localize(None)).tz_localize(stamps.tz)
    months = stamps.values.astype("datetime64[M]")
    years = months.astype("datetime64[Y]")
    days = stamps.values.astype("datetime64[D]")
    month, day = months - years, days - months  # both counted from 0
    other = (years.astype("datetime64[M]") + day.astype(np.int64)).astype("datetime64[D]")
    other = other + month.astype(np.int64) + (stamps.values - days)
    few = ~np.isnat(stamps.values) & (day < np.timedelta64(_MONTHS, "D"))
    values = np.where(few, other, stamps.values).astype(stamps.values.dtype)
    return pd.DatetimeIndex(values, name=stamps.name)


def exchanged_days(stamps: pd.DatetimeIndex) -> pd.DatetimeIndex | None:
    """Put a time axis right of which day and month are exchanged wherever the day is at most 12.

    Such an axis comes of dates that were read, or stored by a program, in the wrong order: days 13 to 31
    cannot be taken for a month, and stay right.

    Parameters
    ----------
    stamps : DatetimeIndex
        Daily or in smaller steps, in the order of the rows; rows may be missing.

    Returns
    -------
    DatetimeIndex or None
        The axis put right, where it is out of order as it stands, sorted and unique with day and month
        exchanged, and has a day above 12 that shows the order. None for every other axis.
    """
    if stamps.hasnans or bool(stamps.is_monotonic_increasing) or not bool((stamps.day > _MONTHS).any()):
        return None
    mended = exchange(stamps)
    return mended if bool(mended.is_monotonic_increasing and mended.is_unique) else None
