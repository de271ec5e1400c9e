"""Past years of a record in place of days that nobody knows yet: which are complete, and which are drawn."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from waterbudget.checks import first
from waterbudget.errors import Faults

FURTHEST = 7
"""Most days by which a year used again is shifted (common practice, no source)."""

_SHOWN = 3
"""Years that a message names."""


class Member(NamedTuple):
    """A past year as it is used: rows of the record, one for each day ahead that it fills."""

    year: int
    shift: int
    rows: npt.NDArray[np.intp]


class Past(NamedTuple):
    """What the record has for the days ahead: by year how many years back; what is left out, and why."""

    days: pd.DatetimeIndex
    record: pd.DatetimeIndex
    whole: npt.NDArray[np.bool_]
    back: dict[int, int]
    left_out: dict[int, str]

    def rows(self, back: int, shift: int = 0) -> npt.NDArray[np.intp]:
        """Find the rows of the same calendar days some years back; -1 where the record has none."""
        # An offset of years goes from 29 February to the 28th where a year has none.
        return self.record.get_indexer(self.days + pd.Timedelta(days=shift) - pd.DateOffset(years=back))

    def lacks_leap_day(self, member: Member) -> bool:
        """Tell whether a day ahead is 29 February, and the year of the member has none."""
        moved = self.days + pd.Timedelta(days=member.shift)
        leap = np.asarray((moved.month == 2) & (moved.day == 29))
        return bool((self.record[member.rows[leap]].day == 28).any())

    def reasons(self, most: int | None = None) -> str:
        """Write which years are left out, and why; the latest alone where there are more than asked for."""
        texts = [f"{year}: {why}" for year, why in self.left_out.items()]
        if most is not None and len(texts) > most:
            texts = [f"{len(texts) - most} more", *texts[-most:]]
        return "; ".join(texts)

    def usable(self, rows: npt.NDArray[np.intp]) -> bool:
        """Tell whether all rows are there and complete."""
        return bool((rows >= 0).all() and self.whole[rows].all())


def known(weather: xr.Dataset, name: str) -> xr.DataArray:
    """Mark the values that are there; the intensity of rain has none on a day without any."""
    here = weather[name].notnull()
    return here | (weather["rain"] == 0) if name == "rain_intensity" and "rain" in weather else here


def look_up(weather: xr.Dataset, days: pd.DatetimeIndex) -> Past:
    """Look every year of the record up for the same calendar days.

    Parameters
    ----------
    weather : Dataset
        Variables that must all have their values, on ``time`` and any labels; no flags.
    days : DatetimeIndex
        Days ahead that are to be filled, at least one, after the last day of the weather.

    Returns
    -------
    Past
        Years in ascending order. One none of whose days lies in the record is neither used nor left out.
    """
    record = weather.indexes["time"]
    assert isinstance(record, pd.DatetimeIndex)  # checked before
    whole = np.ones(record.size, dtype=bool)
    for name in weather.data_vars:
        here = known(weather, str(name))
        whole &= here.all([dim for dim in here.dims if dim != "time"]).values
    past = Past(days, record, whole, {}, {})
    for back in range(days[-1].year - record[0].year, 0, -1):
        rows = past.rows(back)
        year = days[0].year - back
        if past.usable(rows):
            past.back[year] = back
        elif (rows >= 0).any():
            past.left_out[year] = _why_not(weather, past, rows, back)
    return past


def _why_not(weather: xr.Dataset, past: Past, rows: npt.NDArray[np.intp], back: int) -> str:
    """Say why a year is not complete."""
    begin, end = (day - pd.DateOffset(years=back) for day in past.days[[0, -1]])
    record = past.record
    reasons = []
    if begin < record[0]:
        reasons.append(f"its days begin on {begin:%Y-%m-%d}, and the record on {record[0]:%Y-%m-%d}")
    if end > record[-1]:
        reasons.append(f"its days end on {end:%Y-%m-%d}, after the last observation, {record[-1]:%Y-%m-%d}")
    inside = weather.isel(time=np.unique(rows[rows >= 0]))
    for name in inside.data_vars:
        absent = ~known(inside, str(name))
        if bool(absent.any()):
            where, _, count = first(absent.astype(np.float64), absent.values)
            reasons.append(f"{name} has no value ({count} missing, first {where})")
    return ", ".join(reasons)


def choose(past: Past, members: int | None, seed: int | None, faults: Faults) -> list[Member]:
    """Take every complete year once, or draw as many members as are wanted.

    Parameters
    ----------
    past : Past
    members : int, optional
        1 or more; None takes each year once, as it was.
    seed : int, optional
        Given where `members` is.
    faults : Faults
        Notes that no year is complete, or that `members` is more than can be made without making one twice.

    Returns
    -------
    list of Member
        No two alike; empty where a fault was noted.
    """
    if not past.back:
        begin, end = past.days[[0, -1]]
        faults.add(
            "weather",
            f"has no past year that is complete from {begin:%d %B} to {end:%d %B}",
            value=past.reasons(_SHOWN)
            or f"a record of {past.record[0]:%Y-%m-%d} to {past.record[-1]:%Y-%m-%d}",
            allowed="every value of these days in one earlier year at least",
            mend="give a longer record, fill its gaps, drop a variable that can be done without, or give a "
            "forecast up to until with past_years=False",
        )
        return []
    if members is None:
        return [Member(year, 0, past.rows(back)) for year, back in past.back.items()]
    rng = np.random.default_rng(seed)
    waiting: dict[int, list[Member]] = {}
    for year, back in past.back.items():
        shifts = rng.permutation([shift for shift in range(-FURTHEST, FURTHEST + 1) if shift]).tolist()
        ways = [Member(year, shift, past.rows(back, shift)) for shift in (0, *shifts)]
        waiting[year] = [way for way in ways if past.usable(way.rows)]
    most = sum(map(len, waiting.values()))
    if members > most:
        faults.add(
            "members",
            "is more than can be made without making one twice",
            value=str(members),
            allowed=f"1 to {most}: {len(waiting)} complete past years, each as it was and shifted by up to "
            f"{FURTHEST} days either way, as far as its values are there",
            mend=f"members={most}, or a longer record",
        )
        return []
    chosen: list[Member] = []
    while len(chosen) < members:  # a round uses each year once
        left = [year for year, ways in waiting.items() if ways]
        chosen += [waiting[year].pop(0) for year in rng.permutation(left).tolist()]
    return chosen[:members]


def lend(weather: xr.Dataset, past: Past, chosen: list[Member], *, numbered: bool) -> xr.Dataset:
    """Lay the days of past years out along the days ahead, a member for each.

    Parameters
    ----------
    weather : Dataset
        What `look_up` was given.
    past : Past
    chosen : list of Member
        At least one.
    numbered : bool
        Whether members are labelled 1, 2, ... and not by their year.

    Returns
    -------
    Dataset
        On ``time``, ``member`` and the labels of the weather, with ``past_year`` and ``shift`` on ``member``.
    """
    rows = xr.DataArray(np.stack([member.rows for member in chosen], axis=1), dims=("time", "member"))
    years, shifts = [member.year for member in chosen], [member.shift for member in chosen]
    labels = np.arange(1, len(chosen) + 1) if numbered else np.array(years)
    return (
        weather.reset_coords(drop=True)
        .drop_vars("time")
        .isel(time=rows)
        .assign_coords(
            time=past.days,
            member=labels,
            past_year=("member", years, {"long_name": "year of the first day taken from the record"}),
            shift=(
                "member",
                shifts,
                {"long_name": "day taken less day ahead, within the year", "units": "day"},
            ),
        )
    )
