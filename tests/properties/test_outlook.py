"""Days ahead from past years: every value is one of the record, where plain calendar arithmetic puts it."""

from __future__ import annotations

import datetime
from collections import Counter

import numpy as np
import pandas as pd
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

from waterbudget.weather import outlook

FIRST = datetime.date(2003, 1, 1)


def numbered(days: int) -> xr.Dataset:
    """Rain that is the number of the day."""
    time = pd.date_range(FIRST, periods=days)
    return xr.Dataset({"rain": ("time", np.arange(days) / 10)}, coords={"time": time})


def same_day(day: datetime.date, year: int) -> datetime.date:
    """Find a calendar day in another year; 28 February for a 29th that it has not."""
    try:
        return day.replace(year=year)
    except ValueError:
        return day.replace(year=year, day=28)


@given(
    days=st.integers(800, 3400),
    horizon=st.integers(1, 340),
    members=st.integers(1, 40),
    seed=st.integers(0, 2**32),
)
def test_members_are_the_calendar_days_of_their_year(days, horizon, members, seed):
    weather = numbered(days)
    last = FIRST + datetime.timedelta(days=days - 1)
    begin = last + datetime.timedelta(days=1)
    plain = outlook(weather, until=last + datetime.timedelta(days=horizon))
    years = plain["member"].values.tolist()
    members = min(members, 8 * len(years))  # as it was, and 7 days later at least
    drawn = outlook(weather, until=last + datetime.timedelta(days=horizon), members=members, seed=seed)
    for ahead in (plain, drawn):
        rain, lent, shifts = ahead["rain"].values, ahead["past_year"].values, ahead["shift"].values
        for place in range(ahead.sizes["member"]):
            for row in range(horizon):
                day = begin + datetime.timedelta(days=row + int(shifts[place]))
                source = same_day(day, day.year - begin.year + int(lent[place]))
                assert source <= last
                assert rain[row, place] == (source - FIRST).days / 10
    uses = Counter(drawn["past_year"].values.tolist())
    assert max(uses.values()) - min(uses[year] for year in years) <= 1
    assert (drawn["shift"].values[: len(years)] == 0).all()
    assert (drawn["shift"].values[len(years) :] != 0).all()
