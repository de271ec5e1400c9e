"""Doubts about units and heights: numbers of a size that another unit would have.

They are reported and never acted on: a size proves nothing. Only readings are judged, and never fewer than a
month of them. The bounds are common practice, no source, unless an equation is named.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import xarray as xr

from waterbudget.weather import atmosphere
from waterbudget.weather.findings import Bools, Doubt, Floats, judged, over_time, quantile, readings, spread
from waterbudget.weather.sun import Sun

CLEAREST = 0.98
"""Share of days that are darker than the seven clearest of a year: cloudy climates too have as many."""

_LEAST = 30  # values: a size is judged by no fewer

_KILOWATT_HOURS = 0.2, 0.35  # Rs/Rso of the clearest days in kWh m-2 read as MJ m-2: 1 / 3.6 = 0.28
_BRIGHTER = 3.0  # Rs/Rso of the middle day; W m-2 makes it 11.6, langleys 23.9 times what it is
_WINDY = 6.0  # m s-1, middle day; a usual mean is 2 m/s (FAO-56 chapter 3), 7 km/h; few places have 6 m/s
_HARD_RAIN = 3.0  # mm, exceeded on 1 wet day in 20; usual are 10 to 40 mm, 0.4 to 1.6 in
_WET_SHARE = 0.95
_HUMID = 3.0  # times saturation at tmin; hPa makes it some 9, mm of mercury some 6
_COOL = 20.0  # MJ m-2 day-1 of Ra: winter outside the tropics
_WARM = 15.0  # degC above the number of Ra: no winter is as warm, and 40 degF with an Ra of 12 is
_PRESSURE = 0.025  # of Eq. 7; weather moves a mean by 1 %, and 1 % is 90 m of height
_SAME_PRESSURE = 0.015
_SEA = 101.3  # kPa, FAO-56 Eq. 7 at elevation 0
_FOOT = 0.3048  # m


def magnitude_doubts(weather: xr.Dataset, sun: Sun | None, clear: xr.DataArray | None) -> Iterator[Doubt]:
    """Find doubts about units and heights; `clear` is the solar radiation over that under a clear sky."""
    for name in ("rhmin", "rhmax", "rhmean"):
        if name in weather:
            fraction = _whole(lambda x: quantile(x, 1.0, _LEAST), lambda top: top <= 1.0)
            figures = over_time(fraction, readings(weather, name))
            yield judged(name, figures, "never above 1 (the value: its greatest): like a fraction, not %")
    if "wind" in weather:
        windy = _whole(lambda x: quantile(x, 0.5, _LEAST), lambda middle: middle > _WINDY)
        why = f"the middle day is windier than {_WINDY:g} m/s: like km/h, mph or knots"
        yield judged("wind", over_time(windy, readings(weather, "wind")), why)
    if "rain" in weather:
        drizzle = _whole(_rain_of_wet_days, lambda rain: rain < _HARD_RAIN)
        why = (
            f"19 wet days in 20 have less than the value, which is below {_HARD_RAIN:g} mm: like inches or cm"
        )
        yield judged("rain", over_time(drizzle, readings(weather, "rain")), why)
    if clear is not None:
        yield from _solar(clear)
    if "vapour_pressure" in weather and "tmin" in weather:
        full = atmosphere.saturation_vapour_pressure(readings(weather, "tmin"))
        humid = _whole(lambda x: quantile(x, 0.5, _LEAST), lambda middle: middle > _HUMID)
        why = (
            "the middle day has the value times saturation at tmin (FAO-56 Eq. 11): like hPa or mm of mercury"
        )
        figures = over_time(humid, readings(weather, "vapour_pressure") / full)
        yield judged("vapour_pressure", figures, why)
    if sun is not None and "tmin" in weather and "tmax" in weather:
        yield from _winter(weather, sun)
    if "pressure" in weather and "elevation" in weather.coords:
        yield from _pressure(weather)


def _whole(figure: Callable[[Floats], Floats], odd: Callable[[Floats], Bools]) -> Callable[[Floats], Floats]:
    """Make a judge of whole series: the figure on all their days where it is odd, else NaN."""

    def judge(values: Floats) -> Floats:
        number = figure(values)
        return spread(np.where(odd(number), number, np.nan), values)

    return judge


def _rain_of_wet_days(rain: Floats) -> Floats:
    return quantile(np.where(rain > 0, rain, np.nan), _WET_SHARE, _LEAST)


def _solar(clear: xr.DataArray) -> Iterator[Doubt]:
    low, high = _KILOWATT_HOURS
    dark = _whole(lambda x: quantile(x, CLEAREST, _LEAST), lambda top: (top > low) & (top < high))
    bright = _whole(lambda x: quantile(x, 0.5, _LEAST), lambda middle: middle > _BRIGHTER)
    why = "Rs/Rso of the clearest days (the value) is about 1 / 3.6: like kWh m-2"
    yield judged("solar", over_time(dark, clear), why)
    why = "Rs/Rso of the middle day (the value) is far above 1: like W m-2 (11.6 times) or langleys (23.9)"
    yield judged("solar", over_time(bright, clear), why)


def _winter(weather: xr.Dataset, sun: Sun) -> Iterator[Doubt]:
    """Doubt winters as warm as summers."""
    degrees = (readings(weather, "tmin") + readings(weather, "tmax")) / 2
    winter = degrees.where(sun.outside < _COOL)

    def judge(winter: Floats, outside: Floats) -> Floats:
        warm = quantile(winter - outside, 0.5, _LEAST) > _WARM
        return spread(np.where(warm, quantile(winter, 0.5), np.nan), winter)

    why = (
        f"a middle day of the value (degC) while Ra is below {_COOL:g} MJ m-2 day-1, as in winter: like degF"
    )
    yield judged("tmax", over_time(judge, winter, sun.outside), why)


def _pressure(weather: xr.Dataset) -> Iterator[Doubt]:
    """Doubt pressure that is not that of the height."""
    elevation = weather["elevation"]
    expected = atmosphere.pressure_from_elevation(elevation)
    in_feet = atmosphere.pressure_from_elevation(elevation * _FOOT)
    middle = _whole(lambda x: quantile(x, 0.5, _LEAST), np.isfinite)
    pressure = over_time(middle, readings(weather, "pressure"))
    off = np.abs(pressure / expected - 1) > _PRESSURE
    from_feet, from_sea = np.abs(pressure / in_feet - 1), np.abs(pressure / _SEA - 1)
    feet = off & (from_feet < _SAME_PRESSURE) & (from_feet < from_sea)
    sea = off & ~feet & (from_sea < _SAME_PRESSURE)
    start = (
        f"the middle day (the value) is more than {_PRESSURE:.1%} off that of the elevation (FAO-56 Eq. 7)"
    )
    for days, end in (
        (feet, "it is that of the same number of feet"),
        (sea, "it may be reduced to sea level"),
        (off & ~feet & ~sea, "one of the two is wrong"),
    ):
        yield judged("pressure", pressure.where(days), f"{start}: {end}")
