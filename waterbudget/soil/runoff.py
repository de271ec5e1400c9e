"""Runoff of rain: by curve number, by the day's moisture, by the rate at which soil takes water in."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.checks import labelled
from waterbudget.descriptions import number
from waterbudget.errors import Faults, collect

_DRY_RETENTION = 2.281
"""Retention of a dry soil (condition I) over that of an average one (II): Hawkins and others 1985."""
_WET_RETENTION = 0.427
"""Retention of a wet soil (condition III) over that of an average one (II): Hawkins and others 1985."""
_HOURS = 24


def curve_number_runoff(rain: Any, curve_number: Any) -> Any:
    """Runoff of a day's rain by the curve-number relation.

    ``(P - 0.2 S)^2 / (P + 0.8 S)`` once ``P`` exceeds the initial abstraction ``0.2 S``, where
    ``S = 25400 / CN - 254`` mm is the potential retention. The curve number is taken as given;
    `adjusted_curve_number` follows the day's moisture.

    Parameters
    ----------
    rain : float, ndarray or DataArray
        Rain of the day [mm].
    curve_number : float, ndarray or DataArray
        1 to 100; 100 sheds all rain.

    Returns
    -------
    float, ndarray or DataArray
        Runoff [mm], broadcast over both.

    Notes
    -----
    Source: USDA Natural Resources Conservation Service, National Engineering Handbook, part 630,
    chapter 10 (relation written from memory).
    """
    retention = 25400.0 / curve_number - 254.0
    effective = np.maximum(rain - 0.2 * retention, 0.0)
    # Rounding would shed a little more than the rain at a curve number of 100.
    return np.minimum(effective * effective / np.maximum(rain + 0.8 * retention, 1e-9), rain)


def curve_numbers_dry_wet(curve_number: Any) -> tuple[Any, Any]:
    """Curve numbers of a dry (condition I) and of a wet soil (III) from that of an average one (II).

    Hawkins and others: the potential retention ``S = 25400 / CN - 254`` is 2.281 times as large in
    a dry soil and 0.427 times as large in a wet one, which is
    ``CN_I = CN / (2.281 - 0.01281 CN)`` and ``CN_III = CN / (0.427 + 0.00573 CN)``.

    Parameters
    ----------
    curve_number : float, ndarray or DataArray
        Of average moisture, 1 to 100.

    Returns
    -------
    dry, wet : float, ndarray or DataArray
        Both 100 where the curve number is 100.

    Notes
    -----
    Source: Hawkins, R.H., Hjelmfelt, A.T., Zevenbergen, A.W. (1985), Runoff probability, storm
    depth, and curve numbers, Journal of Irrigation and Drainage Engineering 111(4), 330-340 (from
    memory). Other published forms, and the printed table, differ from it by up to 3.
    """
    return _with_retention(curve_number, _DRY_RETENTION), _with_retention(curve_number, _WET_RETENTION)


def _with_retention(curve_number: Any, ratio: float) -> Any:
    """Give the curve number whose potential retention is so many times as large."""
    return curve_number / (ratio - (ratio - 1.0) / 100.0 * curve_number)


def adjusted_curve_number(dry: Any, wet: Any, surface_depletion: Any, rew: Any, tew: Any) -> Any:
    """Curve number of a day by the dryness of the evaporation layer.

    That of a wet soil (condition III) while the layer has lost up to half of its readily evaporable
    water, that of a dry soil (I) from ``0.7 REW + 0.3 TEW`` on, a straight line between.

    Parameters
    ----------
    dry, wet : float, ndarray or DataArray
        Curve numbers of a dry and of a wet soil, see `curve_numbers_dry_wet`.
    surface_depletion : float, ndarray or DataArray
        Depletion of the evaporation layer before the rain [mm], 0 to ``tew``.
    rew, tew : float, ndarray or DataArray
        Readily and totally evaporable water [mm]; ``rew`` 0 or more and below ``tew``.

    Returns
    -------
    float, ndarray or DataArray
        Between ``dry`` and ``wet``.

    Notes
    -----
    Source: Allen, R.G., Wright, J.L., Pruitt, W.O., Pereira, L.S., Jensen, M.E. (2007), Water
    requirements, in Design and operation of farm irrigation systems, 2nd ed., ASABE; and ASCE
    Manual 70, 2nd ed. (2016) (from memory).
    """
    start = 0.5 * rew
    dryness = (surface_depletion - start) / (0.7 * rew + 0.3 * tew - start)
    return wet + np.minimum(np.maximum(dryness, 0.0), 1.0) * (dry - wet)


def intensity_runoff(rain: Any, rain_intensity: Any, intake_rate: Any) -> Any:
    """Runoff of a day's rain that fell faster than the soil takes water in.

    ``P max(1 - intake rate / intensity, 0)``: rain at one mean intensity, of which what exceeds the
    intake rate runs off.

    Parameters
    ----------
    rain : float, ndarray or DataArray
        Rain of the day [mm].
    rain_intensity : float, ndarray or DataArray
        Mean intensity while it fell [mm h-1], 0 or more; where it is 0 nothing runs off.
    intake_rate : float, ndarray or DataArray
        Rate at which the soil takes water in [mm h-1], above 0.

    Returns
    -------
    float, ndarray or DataArray
        Runoff [mm], broadcast over all three.

    Notes
    -----
    Source: common practice, no source (infiltration excess at constant rates).
    """
    return rain * np.maximum(1.0 - intake_rate / np.maximum(rain_intensity, 1e-9), 0.0)


def hourly_runoff(hourly_rain: Any, intake_rate: Any) -> xr.DataArray:
    """Daily runoff from hourly rain: what falls in an hour beyond what the soil takes in.

    Parameters
    ----------
    hourly_rain : DataArray or Series
        Rain of each hour [mm] on ``time``, and perhaps on labels; whole days of 24 stamps from 00:00
        to 23:00. A stamp is the beginning of its hour, so that the hour before midnight belongs
        to the day that ends.
    intake_rate : number
        Rate at which the soil takes water in [mm h-1], above 0; may be labelled.

    Returns
    -------
    DataArray
        Runoff [mm day-1] on daily ``time`` (and labels), fit for the weather's ``runoff``. A day with
        an hour of unknown rain (NaN) is NaN.

    Raises
    ------
    InputError
        Rain that is not a series on ``time``, is negative or infinite, a time axis that is not
        hourly, has a time zone, gaps or incomplete days, an intake rate out of its range.

    Notes
    -----
    Source: common practice, no source (infiltration excess at a constant intake rate).
    """
    with collect() as faults:
        rate = number(intake_rate, "intake_rate", faults)
        rain = _hourly(hourly_rain, faults)
    with collect() as faults:
        labelled(
            {name: value for name, value in (("hourly_rain", rain), ("intake_rate", xr.DataArray(rate)))},
            faults,
        )
    excess: xr.DataArray = rain - rate
    over = excess.clip(min=0.0).transpose("time", ...)
    days = pd.DatetimeIndex(over["time"].values[::_HOURS]).rename("time")
    daily = over.values.reshape(len(days), _HOURS, *over.shape[1:]).sum(axis=1)
    labels = {dim: over.indexes[dim] for dim in over.dims if dim != "time"}
    return xr.DataArray(
        daily, dims=over.dims, coords={"time": days, **labels}, name="runoff", attrs={"units": "mm day-1"}
    )


def _hourly(rain: Any, faults: Faults) -> xr.DataArray:
    """Check hourly rain: numbers on whole days of hours, none below 0."""
    checked = number(rain, "rain", faults, what="hourly_rain", optional=True)
    if not isinstance(checked, xr.DataArray) or "time" not in checked.dims or not checked.size:
        if not faults:
            faults.add(
                "hourly_rain",
                "is not a series on time",
                allowed="a DataArray on 'time', or a Series with a date index",
            )
        return xr.DataArray([], dims="time")
    index = checked.indexes.get("time")
    if not isinstance(index, pd.DatetimeIndex) or index.tz is not None:
        faults.add(
            "hourly_rain, time",
            "holds no local dates",
            value="no labels" if index is None else str(index.dtype),
            allowed="datetime64 without a time zone",
        )
        return checked
    hours = pd.date_range(
        index.min().normalize(), index.max().normalize() + pd.Timedelta(hours=_HOURS - 1), freq="h"
    )
    missing, odd = hours.difference(index), index.difference(hours)
    if len(missing):
        faults.add(
            "hourly_rain, time",
            "misses hours",
            where=str(missing[0]),
            count=len(missing),
            allowed="every hour, from 00:00 of the first day to 23:00 of the last",
            mend="add them as NaN if they are unknown, or cut to whole days",
        )
    if len(odd):
        faults.add(
            "hourly_rain, time",
            "has stamps that are not on the hour",
            where=str(odd[0]),
            count=len(odd),
            mend="sum shorter steps to hours first: .resample(time='1h').sum()",
        )
    if not index.is_monotonic_increasing or index.has_duplicates:
        faults.add("hourly_rain, time", "is not in order, or has an hour twice", allowed="ascending hours")
    return checked
