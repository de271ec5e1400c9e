"""The crops of a run along its time: what they take from the weather, and from an earlier run."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.balance import layout
from waterbudget.checks import note_where
from waterbudget.crop import Crop, develop
from waterbudget.crop.heat import check_heat
from waterbudget.crop.thermal import accumulate
from waterbudget.descriptions import Number
from waterbudget.errors import collect

Temperatures = dict[str, xr.DataArray]


def lay_out(
    crops: tuple[Crop, ...],
    temperatures: Temperatures,
    time: pd.DatetimeIndex,
    cells: layout.Cells,
    state: xr.Dataset | None,
) -> tuple[layout.Days, xr.DataArray | None]:
    """Lay the crops along time, in the weather where they follow it.

    Parameters
    ----------
    crops : tuple of Crop
        In the order of planting.
    temperatures : dict of str to DataArray
        ``tmin`` and ``tmax`` on ``time``, where a crop follows them; NaN is not known.
    time : DatetimeIndex
    cells : Cells
    state : Dataset, optional
        End state of an earlier run, which knows the heat and the frost of the days before.

    Returns
    -------
    Days
    DataArray of bool, optional
        Days on which, for want of a temperature, nobody knows how the crop stands.

    Raises
    ------
    InputError
        When heat of days before the weather is needed and not known, or a stage is not completed.
    """
    each: list[layout.Days] = []
    begins = [_begin(crop) for crop in crops]
    unknown: list[xr.DataArray] = []
    for place, crop in enumerate(crops):
        after = begins[place + 1] if place + 1 < len(crops) else None
        in_turn = _in_turn(begins[place], after, time[0].to_datetime64())
        warmth, lost = None, xr.DataArray(False)
        if crop.stage_degree_days is not None:
            heat = _warmth(crop, temperatures, time, state, in_turn)
            planted = heat["time"] >= xr.DataArray(crop.planted)
            lost = heat.isnull() & planted & crop.stage_degree_days.notnull().all("stage")
            # Heat only grows: what it was before the gap stands in for it, and its days are marked.
            warmth = heat.fillna(heat.max("time")).fillna(0.0)
        frost = None
        if crop.killing_frost is not None:
            known = 0.0 if state is None or "frost_ended" not in state else state["frost_ended"] * in_turn
            frost = layout.Frost(temperatures["tmin"] <= crop.killing_frost, _bare(known))
        growing = crop if warmth is None else dataclasses.replace(crop, unfinished=True)
        own = layout.grow(crop, develop(growing, warmth), time, cells, frost)
        if frost is not None:
            blind = temperatures["tmin"].isnull() & (own.stage >= layout.MID_SEASON)
            lost = lost | (blind.cumsum("time") > 0)
        if warmth is not None:
            own = own._replace(degree_days=cells.in_order(warmth))
            _check_complete(crop, warmth, own, lost, after, time)
        if bool(lost.any()):
            unknown.append(lost & _stands_in_turn(begins[place], after, time))
        each.append(own)
    days = layout.follow(each, begins, time, cells)
    if not unknown:
        return days, None
    every = unknown[0]
    for more in unknown[1:]:
        every = every | more
    return days, every.cumsum("time") > 0


def _begin(crop: Crop) -> xr.DataArray:
    """Give the day on which a crop takes the field over; NaT where it always stands."""
    if crop.planted is not None:
        return xr.DataArray(crop.planted)
    for value in (crop.kcb, crop.kc):
        if isinstance(value, xr.DataArray) and "time" in value.dims:
            return xr.DataArray(value["time"].values[0])
    return xr.DataArray(np.datetime64("NaT", "ns"))


def _in_turn(begin: xr.DataArray, after: xr.DataArray | None, first: np.datetime64) -> xr.DataArray:
    """Mark labels whose crop had the field on the day before the weather begins."""
    had = begin < first
    return had if after is None else had & (after >= first)


def _stands_in_turn(begin: xr.DataArray, after: xr.DataArray | None, time: pd.DatetimeIndex) -> xr.DataArray:
    """Mark the days on which a crop has the field."""
    days = xr.DataArray(time.to_numpy(), dims="time", coords={"time": time})
    has = (days >= begin) | begin.isnull()
    return has if after is None else has & (days < after)


def _bare(known: Number) -> Number:
    return known.reset_coords(drop=True) if isinstance(known, xr.DataArray) else known


def _warmth(
    crop: Crop,
    temperatures: Temperatures,
    time: pd.DatetimeIndex,
    state: xr.Dataset | None,
    in_turn: xr.DataArray,
) -> xr.DataArray:
    """Accumulate a crop's heat since planting; of days before the weather the earlier run knows it."""
    by_heat = crop.stage_degree_days.notnull().all("stage")
    before: Number | None = None
    if state is not None and "degree_days" in state:
        before = state["degree_days"].reset_coords(drop=True) * (in_turn & by_heat)
    warmth = accumulate(
        temperatures["tmin"],
        temperatures["tmax"],
        crop.planted,
        crop.base_temperature,
        crop.upper_temperature,
        crop.heat_limit,
        0.0 if before is None else before,
    )
    early = by_heat & (xr.DataArray(crop.planted) < time[0].to_datetime64())
    if before is not None:
        return warmth
    with collect() as faults:
        note_where(
            faults,
            "crop planted",
            "lies before the weather, so that the heat since then is not known",
            early,
            {},
            allowed=f"{time[0]:%Y-%m-%d} or later",
            mend="begin the weather on the planting day, or go on from the state of an earlier run",
        )
    return warmth


def _check_complete(
    crop: Crop,
    warmth: xr.DataArray,
    own: layout.Days,
    lost: xr.DataArray,
    after: xr.DataArray | None,
    time: pd.DatetimeIndex,
) -> None:
    """Note stages left incomplete, but for a crop that frost or the next crop ended, or that is unknown."""
    ended = xr.DataArray(own.frost_ended)
    ended = (ended.isel(time=-1, drop=True) if "time" in ended.dims else ended) > 0
    ended = ended | (lost.isel(time=-1, drop=True) if "time" in lost.dims else lost)
    if after is not None:
        ended = ended | (after <= time[-1].to_datetime64())
    excused = np.maximum(xr.DataArray(crop.unfinished), ended.astype(np.float64))
    check_heat(dataclasses.replace(crop, unfinished=excused), warmth)
