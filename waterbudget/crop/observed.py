"""A crop from its observed cover: dated values become daily coefficients by the density coefficient."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.checks import note_where
from waterbudget.crop.canonical import climate_value, inside, stage_climate
from waterbudget.crop.coefficients import BARE_COEFFICIENT
from waterbudget.crop.sparse import basal_by_density, density_coefficient, effective_cover, full_cover_basal
from waterbudget.crop.varied import TOGETHER, cover_together
from waterbudget.descriptions import Number, number
from waterbudget.errors import Faults, collect

_PAPER = "Allen and Pereira 2009, density coefficient"


def by_cover(
    cover: Any,
    *,
    height: Any,
    climate: Any,
    ground_cover_kcb: Any,
    multiplier: Any,
    full_kcb: Any,
    shade: tuple[Any, Any, Literal["rows", "round"]],
) -> tuple[dict[str, Any], dict[str, str]]:
    """Work daily basal coefficients out of observed cover. Parameters and errors as in `Crop.from_cover`.

    ``shade`` is (latitude, height to width, arrangement).

    Returns
    -------
    values : dict
        ``kcb``, ``cover`` and ``height``, daily or plain.
    sources : dict of str to str
        Where each comes from.
    """
    latitude, height_to_width, arrangement = shade
    with collect() as faults:
        seen = number(cover, "cover", faults)
        tall = number(height, "height", faults)
        if isinstance(seen, xr.DataArray) and "time" in seen.dims:
            _check_dates(seen, "cover", faults)
        elif not faults:
            faults.add(
                "cover",
                "has no dates",
                value=type(cover).__name__,
                mend="give a Series with a date index, or a DataArray on time; for one value: kcb and cover",
            )
        if isinstance(tall, xr.DataArray) and "time" in tall.dims:
            _check_dates(tall, "height", faults)
        means = None if climate is None else climate_value(climate, faults)
        wind, rhmin = stage_climate(means)
        ground = (
            BARE_COEFFICIENT
            if ground_cover_kcb is None
            else number(ground_cover_kcb, "ground_cover_kcb", faults)
        )
        full = None if full_kcb is None else number(full_kcb, "kcb", faults, what="full_kcb")
        factor = inside(multiplier, "multiplier", (1.0, 2.0), faults)
        width = inside(height_to_width, "height_to_width", (0.0, 10.0), faults)
        where = None if latitude is None else number(latitude, "latitude", faults)
        if arrangement not in ("rows", "round"):
            faults.add("arrangement", "is unknown", value=repr(arrangement), allowed="'rows' or 'round'")
    assert isinstance(seen, xr.DataArray)  # or a fault was raised
    days = between_observations(seen)
    tall = _on_days_of(days, tall)
    told = "stated coefficient at full cover"
    closed: Any = full
    if full is None:
        closed = full_cover_basal(tall, wind.sel(stage="mid", drop=True), rhmin.sel(stage="mid", drop=True))
        told = "full cover by FAO-56 Eq. 99"
    if where is None:
        shaded: Any = days
        told += "; sun taken as overhead: no latitude"
    else:
        shaded = effective_cover(days, where, days["time"].dt.dayofyear, width, arrangement)
    density = density_coefficient(shaded, tall, factor)
    note = "observed cover, straight lines between observations"
    kcb = basal_by_density(density, closed, ground)
    over, seen_too = "bare ground", note
    if ground_cover_kcb is not None:
        over, seen_too = "ground cover of the stated coefficient", note + TOGETHER
        days = cover_together(days, kcb, tall, means)
    values = {"kcb": kcb, "cover": days, "height": tall}
    return values, {"kcb": f"{_PAPER}, over {over}; {told}; {note}", "cover": seen_too}


def between_observations(observed: xr.DataArray) -> xr.DataArray:
    """Draw straight lines between dated values; one value a day from the first to the last date.

    Parameters
    ----------
    observed : DataArray on ``time``, and labels
        Dates in order, without gaps in the values.

    Returns
    -------
    DataArray
        Labels first, ``time`` last.
    """
    dates = pd.DatetimeIndex(observed["time"].values)
    days = pd.date_range(dates[0], dates[-1])
    rows = observed.transpose(..., "time")
    known = (dates - dates[0]).days.to_numpy(dtype=np.float64)
    wanted = (days - dates[0]).days.to_numpy(dtype=np.float64)
    flat = rows.values.reshape(-1, len(dates))
    drawn = np.stack([np.interp(wanted, known, row) for row in flat])
    labels = {dim: rows[dim].values for dim in rows.dims[:-1] if dim in rows.coords}
    return xr.DataArray(
        drawn.reshape(*rows.shape[:-1], len(days)), dims=rows.dims, coords={**labels, "time": days}
    )


def _check_dates(observed: xr.DataArray, what: str, faults: Faults) -> None:
    """Note dates that are not midnights in order, each once."""
    if observed["time"].dtype.kind != "M":
        faults.add(what, "has no dates on time", mend="pd.to_datetime(...)")
        return
    dates = pd.DatetimeIndex(observed["time"].values)
    if len(dates) == 0:
        faults.add(what, "has no observations")
    elif not bool((dates == dates.normalize()).all()):
        faults.add(what, "is observed at an hour", allowed="dates", mend="series.index.normalize()")
    elif not (dates.is_monotonic_increasing and dates.is_unique):
        place = int(np.argmax(np.diff(dates.to_numpy()) <= np.timedelta64(0, "D"))) + 1
        faults.add(
            f"{what}, dates",
            "are not in order, each once",
            where=f"observation {place + 1}",
            value=f"{dates[place]:%Y-%m-%d} after {dates[place - 1]:%Y-%m-%d}",
            mend="sort them, and keep one value a date",
        )


def _on_days_of(days: xr.DataArray, height: Number) -> Number:
    """Bring observed heights to the days of the cover."""
    if not isinstance(height, xr.DataArray) or "time" not in height.dims:
        return height
    drawn = between_observations(height)
    with collect() as faults:
        first, last = days["time"].values[[0, -1]]
        outside = (days["time"] < drawn["time"].values[0]) | (days["time"] > drawn["time"].values[-1])
        note_where(
            faults,
            "height",
            "is not observed on all days of the cover",
            outside,
            {},
            allowed=f"observations from {str(first)[:10]} or before to {str(last)[:10]} or after",
        )
    return drawn.sel(time=days["time"])
