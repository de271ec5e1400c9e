"""The sun of a place, day by day, by which radiation and sunshine are judged and filled."""

from __future__ import annotations

from typing import NamedTuple

import xarray as xr

from waterbudget.weather.findings import readings
from waterbudget.weather.radiation import clear_sky_radiation, daylight_hours, extraterrestrial_radiation

LEAST_CLEAR_SKY = 2.0
"""Radiation under a clear sky [MJ m-2 day-1] below which a ratio to it says nothing: the sun hardly rises
(common practice, no source)."""


DAYLIGHT_MARGIN = 0.5
"""Hours that a recorder may show beyond the longest sunshine of Eq. 34 (common practice, no source)."""


class Sun(NamedTuple):
    """What the sun gives outside the atmosphere, under a clear sky, and for how long."""

    outside: xr.DataArray
    clear_sky: xr.DataArray | None
    daylight: xr.DataArray


def sun_of(weather: xr.Dataset) -> Sun | None:
    """Compute the sun of a place; None without a latitude, no clear sky without an elevation."""
    if "latitude" not in weather.variables:
        return None
    latitude, day = weather["latitude"].reset_coords(drop=True), weather["time"].dt.dayofyear
    outside: xr.DataArray = extraterrestrial_radiation(latitude, day).transpose("time", ...)
    daylight: xr.DataArray = daylight_hours(latitude, day).transpose("time", ...)
    elevation = weather["elevation"].reset_coords(drop=True) if "elevation" in weather.variables else None
    return Sun(outside, None if elevation is None else clear_sky_radiation(outside, elevation), daylight)


def clearness(weather: xr.Dataset, sun: Sun | None) -> xr.DataArray | None:
    """Give solar readings over radiation under a clear sky, Rs/Rso; None where either is not known."""
    if sun is None or sun.clear_sky is None or "solar" not in weather:
        return None
    clear = sun.clear_sky
    return readings(weather, "solar") / clear.where(clear > LEAST_CLEAR_SKY)
