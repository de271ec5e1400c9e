"""The measure by which a crop's stages pass where they are stated in degree days."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from waterbudget.checks import first, first_label, labelled, note_where, time_axis
from waterbudget.crop.canonical import STAGES, said_too
from waterbudget.crop.thermal import LIMITS, Limit, accumulate
from waterbudget.descriptions import Source, number, sources
from waterbudget.errors import Faults, collect

if TYPE_CHECKING:
    from waterbudget.crop.crop import Crop

ROUNDING = 1e-6
"""Degree days [degC day] within which a stage counts as complete: sums of daily heat are not exact."""

_HEAT = "degree_days"


def check_heat(crop: Crop, degree_days: xr.DataArray | None) -> xr.DataArray:
    """Check that a crop's heat is there and completes its stages.

    Parameters
    ----------
    crop : Crop
        With ``stage_degree_days``, perhaps not at every label.
    degree_days : DataArray on ``time``, and labels
        As in `develop`.

    Returns
    -------
    DataArray
        ``degree_days``.

    Raises
    ------
    InputError
        When the heat is not given or not daily, labels differ, it has gaps while the crop stands, or
        leaves a stage incomplete.
    """
    with collect() as faults:
        if not isinstance(degree_days, xr.DataArray) or "time" not in degree_days.dims:
            faults.add(
                _HEAT,
                "is not given, and the crop's stages are in degree days",
                value="none" if degree_days is None else type(degree_days).__name__,
                allowed="a DataArray on time: heat accumulated since planting [degC day]",
                mend="the weather needs tmin and tmax",
            )
    assert degree_days is not None  # or a fault was raised
    with collect() as faults:
        time_axis(degree_days["time"], faults, what=_HEAT)
        names = ("planted", "stage_degree_days", "stage_days", "kc", "kcb", "root_depth")
        arrays = {name: getattr(crop, name) for name in names} | {_HEAT: degree_days}
        labelled({name: one for name, one in arrays.items() if isinstance(one, xr.DataArray)}, faults)
    with collect() as faults:
        _check_season(crop, degree_days, faults)
    return degree_days


def _check_season(crop: Crop, heat: xr.DataArray, faults: Faults) -> None:
    """Note heat that has gaps while the crop stands, or ends before it does."""
    days = heat["time"].values
    planted = xr.DataArray(crop.planted)
    ends = crop.stage_degree_days.cumsum("stage", skipna=False)
    total = ends.isel(stage=-1, drop=True)
    by_heat = total.notnull()
    # Heat only grows: once it exceeds the total the crop has ended, and later gaps do not matter.
    ended = (heat > total).cumsum("time") > 0
    gap = (heat.isnull() & by_heat & ~ended & (heat["time"] >= planted)).transpose("time", ...)
    if bool(gap.any()):
        where, _, count = first(gap.astype(float), gap.values)
        faults.add(
            _HEAT,
            "has no value while the crop stands",
            where=where,
            value="NaN",
            count=count,
            mend="fill the missing temperatures",
        )
        return
    reached = heat.isel(time=-1, drop=True)
    begun = by_heat & (planted <= days[-1]) & (xr.DataArray(crop.unfinished) == 0)
    short = begun & (reached < total - ROUNDING)
    if bool(short.any()):
        at = _first_cell(short)
        limits = _pick(ends, at)
        reached_there = float(_pick(reached, at))
        stage = STAGES[int((limits.values <= reached_there + ROUNDING).sum())]
        needed = float(limits.sel(stage=stage))
        faults.add(
            f"stage {stage!r}",
            "is not complete on the last day of the weather",
            where=first_label(short) or _day(days[-1]),
            value=f"{reached_there:g} degC day by {_day(days[-1])}",
            count=int(short.sum()),
            allowed=f"{needed:g} degC day or more since planting",
            mend="give weather to the end of the season, or say unfinished=True",
        )


def stage_clock(crop: Crop, heat: xr.DataArray) -> dict[str, tuple[Any, str | None, tuple[str, ...]]]:
    """Give the measure of the stages on each day, and their lengths in that measure.

    A joined crop may have stages in degree days at some labels and in days at others: at these the
    day of age is the measure.

    Returns
    -------
    dict
        ``age`` [day] and ``clock`` on ``time``, ``lengths`` on ``stage``, each with its axis and labels.
    """
    planted = xr.DataArray(crop.planted)
    age = (heat["time"] - planted) / np.timedelta64(1, "D") + 1.0
    lengths, clock = crop.stage_degree_days, heat
    by_heat = lengths.notnull().all("stage")
    if crop.stage_days is not None:
        lengths, clock = lengths.fillna(crop.stage_days), heat.where(by_heat, age)
    return {
        "age": (age.drop_vars("time"), "time", ()),
        "clock": (clock, "time", ()),
        "lengths": (lengths, "stage", STAGES),
    }


def degree_days_of_stages(
    crop: Crop, weather: xr.Dataset, base: Any, upper: Any, limit: Limit
) -> tuple[dict[str, Any], dict[str, Source]]:
    """Measure a calendar in degree days. Parameters and errors as in `Crop.in_degree_days`.

    Returns
    -------
    values : dict
        What changes in the crop, by field name.
    sources : dict of str to Source
        Where it comes from.
    """
    with collect() as faults:
        low = number(base, "base_temperature", faults)
        high = None if upper is None else number(upper, "upper_temperature", faults)
        if limit not in LIMITS:
            faults.add("limit", "is unknown", value=repr(limit), allowed="'extremes' or 'mean'")
        if crop.planted is None or crop.stage_days is None:
            faults.add("stage_days", "is missing", mend="give the crop planted and stage_days")
        elif bool(crop.stage_days.isnull().any()) or bool(xr.DataArray(crop.planted).isnull().any()):
            faults.add(
                "stage_days", "is not given at every label", mend="turn each crop before they are joined"
            )
        lacking = [name for name in ("tmin", "tmax") if name not in weather]
        if lacking:
            faults.add("weather", f"has no {', '.join(lacking)}", mend="read_weather(..., columns={...})")
        if "time" not in weather.dims:
            faults.add("weather", "has no dimension time", mend="make it with read_weather")
        else:
            time_axis(weather["time"], faults)
    tmin, tmax = (weather[name].reset_coords(drop=True) for name in ("tmin", "tmax"))
    days = weather["time"].values
    before = (xr.DataArray(crop.planted) - days[0]) / np.timedelta64(1, "D")
    ages = crop.stage_days.cumsum("stage").assign_coords(stage=list(STAGES))
    with collect() as faults:
        held = (before >= 0) & (before + ages.isel(stage=-1, drop=True) <= len(days))
        note_where(
            faults,
            "weather",
            "does not hold the crop's season",
            xr.DataArray(~held),
            {},
            allowed=f"a season from {_day(days[0])} to {_day(days[-1])}",
            mend="take the normal year's weather on the dates of the season: weather.assign_coords(time=...)",
        )
    heat = accumulate(tmin, tmax, crop.planted, low, high, limit)
    # Heat at the end of the day before the weather is 0; a stage may end within a day.
    heat = heat.drop_vars("time").pad(time=(1, 0), constant_values=0.0)
    place = before + ages
    whole = np.floor(place)
    lower = heat.isel(time=whole.astype(np.intp))
    upper_heat = heat.isel(time=np.ceil(place).astype(np.intp))
    ends = lower + (place - whole) * (upper_heat - lower)
    with collect() as faults:
        note_where(
            faults,
            "weather",
            "has no temperature on some day of the season",
            ends.isnull().any("stage"),
            {},
            mend="fill the missing temperatures",
        )
    lengths = ends - ends.shift(stage=1, fill_value=0.0)
    told = f"; turned into degree days on the weather from {_day(days[0])} to {_day(days[-1])}"
    values = {
        "stage_days": None,
        "stage_degree_days": lengths.transpose(..., "stage"),
        "base_temperature": low,
        "upper_temperature": high,
        "heat_limit": limit,
    }
    return values, {"stage_degree_days": said_too(sources(crop)["stage_days"], told)}


def _first_cell(marked: xr.DataArray) -> dict[str, int]:
    """Give the position of the first marked cell along each dimension."""
    at = np.unravel_index(int(np.flatnonzero(marked.values)[0]), marked.shape) if marked.dims else ()
    return {str(dim): int(i) for dim, i in zip(marked.dims, at, strict=True)}


def _pick(array: xr.DataArray, at: dict[str, int]) -> xr.DataArray:
    return array.isel({dim: i for dim, i in at.items() if dim in array.dims})


def _day(moment: Any) -> str:
    return str(moment)[:10]
