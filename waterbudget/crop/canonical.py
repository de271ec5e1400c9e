"""Canonical forms of a crop's values: axes, curves, stage means of climate."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.checks import first_label, note_where
from waterbudget.crop.coefficients import STANDARD_RHMIN, STANDARD_WIND
from waterbudget.descriptions import Moment, Number, Source, number, points
from waterbudget.errors import Faults, brief

STAGES = ("initial", "development", "mid", "late")
COEFFICIENTS = ("initial", "mid", "end")
EXTENTS = ("start", "full")
CLIMATE = ("wind", "rhmin")


def curve_value(
    value: Any, name: str, axis: tuple[str, Sequence[str]] | None, faults: Faults, *, optional: bool = True
) -> Any:
    """Bring a coefficient or depth to a number, a curve on its axis, or a daily series.

    Parameters
    ----------
    value : GivenNumber, sequence of GivenNumber, or None
        None stays None.
    name : str
        Its row in the variables table.
    axis : tuple of str and sequence of str, or None
        Name and labels of the axis that a curve of it lies on.
    faults : Faults
        Takes what is wrong.
    optional : bool
        Allow NaN inside an array, which then means "not given for this label".

    Returns
    -------
    float, DataArray or None
    """
    if value is None:
        return None
    on_axis = axis is not None and isinstance(value, xr.DataArray) and axis[0] in value.dims
    if axis is not None and (on_axis or isinstance(value, tuple | list)):
        return points(value, name, axis, faults)
    return number(value, name, faults, optional=optional and isinstance(value, xr.DataArray))


def stage_values(value: Any, name: str, faults: Faults) -> xr.DataArray | None:
    """Bring four numbers, one a stage, to an array on ``stage``; None stays None."""
    return None if value is None else points(value, name, ("stage", STAGES), faults)


def climate_value(value: Any, faults: Faults) -> xr.DataArray:
    """Bring (wind, rhmin), each one number or four, to one array on ``mean`` and perhaps ``stage``."""
    if isinstance(value, xr.DataArray) and "mean" in value.dims:
        return _climate_array(value, faults)
    if not isinstance(value, tuple | list) or len(value) != len(CLIMATE):
        faults.add("climate", "needs two values", value=brief(value), allowed="(wind [m s-1], rhmin [%])")
        return xr.DataArray([STANDARD_WIND, STANDARD_RHMIN], dims="mean", coords={"mean": list(CLIMATE)})
    each: list[Number] = []
    for one, name in zip(value, CLIMATE, strict=True):
        row, what = f"{name}_climate", f"climate ({name})"
        if isinstance(one, tuple | list):
            each.append(points(one, row, ("stage", STAGES), faults, what=what))
        else:
            each.append(number(one, row, faults, what=what))
    arrays = xr.broadcast(*(xr.DataArray(one) for one in each))
    return xr.concat(arrays, dim=pd.Index(list(CLIMATE), name="mean"), coords="minimal", compat="override")


def _climate_array(value: xr.DataArray, faults: Faults) -> xr.DataArray:
    """Check stage means that came as one array; a label of joined crops may have neither mean."""
    if "mean" not in value.coords or set(value["mean"].values.tolist()) != set(CLIMATE):
        faults.add("climate", "has other labels on 'mean'", allowed=", ".join(CLIMATE))
        return xr.DataArray([STANDARD_WIND, STANDARD_RHMIN], dims="mean", coords={"mean": list(CLIMATE)})
    value = value.sel(mean=list(CLIMATE)).astype(np.float64)
    for name in CLIMATE:
        part = value.sel(mean=name, drop=True)
        number(part, f"{name}_climate", faults, what=f"climate ({name})", optional=bool(part.dims))
    one = value.isnull().sum("mean") == 1
    if bool(one.any()):
        faults.add("climate", "has one of the two means only", where=first_label(one), count=int(one.sum()))
    return value


def stage_climate(climate: xr.DataArray | None) -> tuple[xr.DataArray, xr.DataArray]:
    """Give the stage means of wind [m s-1] and minimum humidity [%], each on ``stage``.

    Parameters
    ----------
    climate : DataArray on ``mean`` (and ``stage``), or None
        As `Crop` holds it; where nothing is stated the standard climate stands.
    """
    stages = {"stage": list(STAGES)}
    if climate is None:
        shape = xr.DataArray(np.ones(len(STAGES)), dims="stage", coords=stages)
        return shape * STANDARD_WIND, shape * STANDARD_RHMIN
    if "stage" not in climate.dims:
        climate = climate.expand_dims(stages, axis=-1)
    wind, rhmin = climate.sel(mean="wind", drop=True), climate.sel(mean="rhmin", drop=True)
    return wind.fillna(STANDARD_WIND), rhmin.fillna(STANDARD_RHMIN)  # joined crops: not stated for some


def month_of(day: Moment) -> int | None:
    """Give the month of a date; of several dates, the middle one's."""
    dates = pd.DatetimeIndex(np.sort(np.atleast_1d(np.asarray(day)).ravel())).dropna()
    return int(dates[len(dates) // 2].month) if len(dates) else None


def said_too(source: Source, note: str) -> Source:
    """Add a note to a source, under every label of a joined one."""
    if isinstance(source, str):
        return source + note
    return {**source, "of": {label: said_too(one, note) for label, one in source["of"].items()}}


def inside(value: Any, what: str, limits: tuple[float, float], faults: Faults) -> Any:
    """Check a number that is no quantity of a crop, such as a factor of a method, against its range.

    Parameters
    ----------
    value : float or DataArray
    what : str
        What to call it.
    limits : tuple of float
        Least and greatest value allowed [1].
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    float or DataArray
        NaN where a fault was noted.
    """
    array = value if isinstance(value, xr.DataArray) else None
    plain = isinstance(value, int | float | np.number) and not isinstance(value, bool)
    allowed = f"{limits[0]:g} to {limits[1]:g}"
    if not plain and (array is None or array.dtype.kind not in "fiu"):
        faults.add(what, "is not a number", value=brief(value), allowed=allowed)
        return float("nan")
    bad = ~((xr.DataArray(value) >= limits[0]) & (xr.DataArray(value) <= limits[1]))
    note_where(faults, what, "is outside its range", bad, {"found": value}, allowed=allowed)
    return value
