"""The week ahead: where each field stands this morning and when to irrigate next."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.balance import allowance, depletion_before, watched_mean, weights_looked_at, wetted_depth
from waterbudget.descriptions import moment
from waterbudget.errors import collect
from waterbudget.system import hours, volume

_ROUNDING = 1e-9
"""Part of a stress coefficient that is taken for rounding."""


def week_ahead(season: xr.Dataset, today: Any, days: int = 7) -> pd.DataFrame:
    """List for every field what the days from today on ask for.

    Parameters
    ----------
    season : Dataset
        Result of `simulate` over the days so far and the days ahead. The weather of the days ahead
        is the user's: a forecast, or averages that they trust.
    today : date
        First day of the week; the morning's depletion is the end of the day before.
    days : int
        Length of the week, 1 or more; cut short where the season ends.

    Returns
    -------
    DataFrame
        A row for each combination of labels:

        - the label dimensions, if any (``field``, ``system``, …);
        - ``crop_stands``: whether a crop stands on the first day;
        - ``depletion_mm``, ``allowable_mm``, ``readily_available_mm``: root-zone depletion this morning, its
          allowance, and the depletion at which stress begins; where watering is uneven, of the spots that the
          decision watches;
        - ``et_mm``, ``rain_mm``: expected over the week;
        - ``stress_days``: days of the week on which a crop stands and is short of water; salt alone does
          not count;
        - ``next_date``: the first day that irrigates, NaT when none is due;
        - ``net_mm``, ``gross_mm``, ``volume_m3``, ``hours``: of that first irrigation, NaN when none is
          due or not known; one of more than 24 hours takes the days after it too, and is counted on its
          first;
        - ``wetted_depth_m``: how deep it should wet the soil, to be verified with a shovel;
        - ``irrigations``, ``week_net_mm``, ``week_gross_mm``, ``week_hours``: all irrigations of the week,
          not known (NA) where the field is.

    Raises
    ------
    InputError
        When ``today`` is not a day of the season, or ``days`` is not positive.
    """
    time = pd.DatetimeIndex(season["time"].values)
    with collect() as faults:
        day = moment(today, "today", faults)
        first = pd.DatetimeIndex(np.atleast_1d(np.asarray(day)))
        if not faults and not first.isin(time)[0]:
            faults.add(
                "today",
                "is not a day of the season",
                value=repr(today),
                allowed=f"{time[0]:%Y-%m-%d} to {time[-1]:%Y-%m-%d}",
            )
        if not isinstance(days, int) or days < 1:
            faults.add("days", "is not positive", value=repr(days), allowed="a whole number, 1 or more")
    at = int(time.get_indexer(first)[0])
    week = season.isel(time=slice(at, at + days))
    depletion, allowable, readily = _this_morning(season, at)
    stands = week["crop_stage"] > 0
    week_gross = week["irrigation_gross"].sum("time", skipna=False)
    net = week["irrigation_net"]
    waters = net > 0
    due = waters.any("time")
    place = waters.argmax("time")
    gross = week["irrigation_gross"].isel(time=place, drop=True).where(due)
    rain = (week["rain"] - week["runoff"]).broadcast_like(net)
    before = depletion_before(
        week["depletion"],
        week["et"],
        net * season["spot_share"],
        rain,
        week["percolation"],
        week["capillary_rise"],
        week["excess_water"],
    )
    wetted = wetted_depth(week["root_depth"], (net * season["spot_share"] + rain).where(waters), before)
    wetted = watched_mean(wetted, weights_looked_at(season, before, week["taw"]))
    site = season["application_rate"], season["flow"], season["area"]
    columns = {
        "crop_stands": stands.isel(time=0, drop=True),
        "depletion_mm": depletion,
        "allowable_mm": allowable,
        "readily_available_mm": readily,
        "et_mm": _field_mean(week["et"], season).sum("time", skipna=False),
        "rain_mm": week["rain"].sum("time", skipna=False),
        "stress_days": _field_mean(short_of_water(week), season).sum("time", skipna=False),
        "next_date": week["time"].isel(time=place, drop=True).where(due),
        "net_mm": net.isel(time=place, drop=True).where(due),
        "gross_mm": gross,
        "volume_m3": volume(gross, season["area"]),
        "hours": xr.apply_ufunc(hours, gross, *site),
        "wetted_depth_m": wetted.isel(time=place, drop=True).where(due),
        "irrigations": waters.sum("time").where(net.notnull().all("time")),
        "week_net_mm": net.sum("time", skipna=False),
        "week_gross_mm": week_gross,
        "week_hours": xr.apply_ufunc(hours, week_gross, *site),
    }
    return _table(columns, tuple(str(dim) for dim in net.dims if dim != "time"), season)


def short_of_water(season: xr.Dataset) -> xr.DataArray:
    """Mark days on which lack of water held a crop's transpiration back, beyond what salt does all season.

    Parameters
    ----------
    season : Dataset
        Result of `simulate`.

    Returns
    -------
    DataArray
        1 on such days, else 0, on the dimensions of ``ks``; NaN where a crop stands and it is NaN.
    """
    ks, stands = season["ks"], season["crop_stage"] > 0
    short = (ks < season["salt_factor"] * (1.0 - _ROUNDING)) & stands
    return short.astype(np.float64).where(ks.notnull() | ~stands)


def _this_morning(season: xr.Dataset, at: int) -> tuple[xr.DataArray, xr.DataArray, xr.DataArray]:
    """Give depletion, allowance and readily available water of the evening before, where they are watched."""
    if at > 0:
        before = season.isel(time=at - 1, drop=True)
    else:
        names = ("depletion", "taw", "raw")
        before = season.drop_vars([*names, "time"]).rename({f"initial_{name}": name for name in names})
    weights = weights_looked_at(season, before["depletion"], before["taw"])
    depletion, allowable, readily = (
        watched_mean(values, weights) for values in (before["depletion"], allowance(before), before["raw"])
    )
    return depletion, allowable, readily


def _field_mean(values: xr.DataArray, season: xr.Dataset) -> xr.DataArray:
    """Take the mean over spots, by their weights."""
    if "spot" not in values.dims:
        return values
    return (values * season["spot_weight"]).sum("spot", skipna=False)


def _table(columns: dict[str, xr.DataArray], labels: tuple[str, ...], season: xr.Dataset) -> pd.DataFrame:
    """Lay arrays on label dimensions out as a table, a row for each combination."""
    sizes = {dim: season.sizes[dim] for dim in labels}
    table = {}
    for name, values in columns.items():
        bare = values.drop_vars(list(values.coords))
        spread = bare.expand_dims({dim: size for dim, size in sizes.items() if dim not in bare.dims})
        table[name] = spread.transpose(*labels).values.reshape(-1)
    if not labels:
        return pd.DataFrame(table).astype({"irrigations": "Int64"})
    index = pd.MultiIndex.from_product([season.indexes[dim] for dim in labels], names=labels)
    frame = pd.DataFrame(table, index=index).reset_index()
    return frame.astype({"irrigations": "Int64"})
