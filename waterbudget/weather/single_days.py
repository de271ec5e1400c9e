"""Doubts about single days: ranges, gaps, and values of one day that do not go together.

Estimated values are judged here like readings: a day that cannot be is a doubt wherever it comes from.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import xarray as xr

from waterbudget.checks import quantity
from waterbudget.variables import VARIABLES
from waterbudget.weather import atmosphere
from waterbudget.weather.findings import Doubt, long_runs, over_time
from waterbudget.weather.flags import quantities
from waterbudget.weather.methods import HUMIDITY_EQUATIONS, vapour_pressure
from waterbudget.weather.sun import DAYLIGHT_MARGIN, LEAST_CLEAR_SKY, Sun

# Ways to humidity that stand for the whole day; one extreme alone says less.
_WHOLE_DAY = (("dewpoint",), ("vapour_pressure",), ("rhmin", "rhmax"))

# Common practice, no source, unless an equation is named.
# degC above tmin: the dew point is a mean of the day, tmin one moment of it, and where air masses change
# they part. A sound open station has 75 days a year above 1 degC, and 6 above 4.
_DEWPOINT_MARGIN = 4.0
_SOLAR_MARGIN = 1.05  # times the radiation under a clear sky: haze and height let Eq. 37 miss it by some 5 %
_SOLAR_OFFSET = 0.5  # MJ m-2 day-1, 6 W m-2: offset of a sensor, and twilight where the sun does not rise
_DARKEST = 0.05  # of the radiation under a clear sky: a day of thick cloud has about a tenth
_LEAST_DAYLIGHT = 1.0  # h: shorter days say nothing about sunshine
_SUNNY, _DULL = 0.8, 0.05  # of the longest possible sunshine
_DARK, _BRIGHT = (
    0.4,
    0.8,
)  # of the radiation under a clear sky: Eq. 35 gives 0.87 and 0.37 for _SUNNY and _DULL
_VAPOUR_APART = 0.25  # of the greater: humidity of one moment and of a mean differ by some 10 %
_VAPOUR_DAYS = 3  # in a row: on one day a front comes between the moments
_SATURATED = 100.0  # %: in fog rhmin may equal rhmax


def single_day_doubts(weather: xr.Dataset, sun: Sun | None) -> Iterator[Doubt]:
    """Find doubts about single days, variable by variable, then those between variables."""
    for name in quantities(weather):
        yield from _range(weather, name)
    yield from _temperature(weather)
    yield from _humidity(weather)
    if sun is not None:
        yield from _sunlight(weather, sun)


def _range(weather: xr.Dataset, name: str) -> Iterator[Doubt]:
    """Doubt gaps and rare values of one variable."""
    data, variable = weather[name], VARIABLES[name]
    low, high = variable.plausible
    absent = data.isnull()
    if name == "rain_intensity" and "rain" in weather:
        absent = absent & (weather["rain"] > 0)  # without rain there is no intensity to give
    never = absent.all("time")
    yield Doubt(name, absent & never, "no value at all")
    yield Doubt(name, absent & ~never, "no value")
    if low is not None:
        why = f"below {quantity(low, variable.unit)} is rare"
        if name == "wind":
            why += " (FAO-56 chapter 3 computes with 0.5 m/s at least)"  # from memory, not read
        yield Doubt(name, data < low, why, "least")
    if high is not None:
        yield Doubt(name, data > high, f"above {quantity(high, variable.unit)} is rare", "greatest")


def _temperature(weather: xr.Dataset) -> Iterator[Doubt]:
    if "tmin" in weather and "tmax" in weather:
        yield Doubt("tmin", weather["tmin"] == weather["tmax"], "tmin equals tmax")
    if "tmin" in weather and "dewpoint" in weather:
        wet = weather["dewpoint"] > weather["tmin"] + _DEWPOINT_MARGIN
        yield Doubt("dewpoint", wet, f"more than {_DEWPOINT_MARGIN:g} degC above tmin", "greatest")
    if "tmax" in weather and "vapour_pressure" in weather:
        wet = weather["vapour_pressure"] > atmosphere.saturation_vapour_pressure(weather["tmax"])
        yield Doubt("vapour_pressure", wet, "above saturation at tmax (FAO-56 Eq. 11)", "greatest")


def _humidity(weather: xr.Dataset) -> Iterator[Doubt]:
    """Doubt humidity that is given twice, and not alike."""
    if "rhmin" in weather and "rhmax" in weather:
        same = (weather["rhmin"] == weather["rhmax"]) & (weather["rhmax"] < _SATURATED)
        yield Doubt("rhmin", same, "rhmin equals rhmax")
    known = {}
    for way in _WHOLE_DAY:
        if all(name in weather for name in (*way, "tmin", "tmax")):
            equation = f" (FAO-56 Eq. {HUMIDITY_EQUATIONS[way]})" if way in HUMIDITY_EQUATIONS else ""
            values = {name: weather[name] for name in (*way, "tmin", "tmax")}
            known[way[-1]] = vapour_pressure(way, values), f"{' and '.join(way)}{equation}"
    names = list(known)
    for i, one in enumerate(names):
        for other in names[i + 1 :]:
            (first, first_text), (second, second_text) = known[one], known[other]
            apart = np.abs(first - second) > _VAPOUR_APART * np.maximum(first, second)
            days = over_time(lambda marks: long_runs(marks, _VAPOUR_DAYS), apart)
            why = f"more than {_VAPOUR_APART:.0%} apart for {_VAPOUR_DAYS} days or more"
            yield Doubt(one, days, f"vapour pressures by {first_text} and by {second_text} are {why}")


def _sunlight(weather: xr.Dataset, sun: Sun) -> Iterator[Doubt]:
    """Doubt more sun than the place can have, less than cloud lets through, and a sun of one kind only."""
    clear, daylight = sun.clear_sky, sun.daylight
    if "solar" in weather and clear is not None:
        solar = weather["solar"]
        bright = (solar > _SOLAR_MARGIN * clear) & (solar > clear + _SOLAR_OFFSET)
        why = f"more than {_SOLAR_MARGIN - 1:.0%} above radiation under a clear sky (FAO-56 Eq. 37)"
        yield Doubt("solar", bright, f"{why}; FAO-56 Annex 5 compares the two", "greatest")
        dark = (solar < _DARKEST * clear) & (clear > LEAST_CLEAR_SKY)
        yield Doubt(
            "solar", dark, f"below {_DARKEST:.0%} of radiation under a clear sky (FAO-56 Eq. 37)", "least"
        )
    if "sunshine" not in weather:
        return
    sunshine = weather["sunshine"]
    long = sunshine > daylight + DAYLIGHT_MARGIN
    yield Doubt("sunshine", long, "longer than the day (FAO-56 Eq. 34)", "greatest")
    if "solar" in weather and clear is not None:
        judged = (daylight > _LEAST_DAYLIGHT) & (clear > LEAST_CLEAR_SKY)
        sunny, dull = sunshine > _SUNNY * daylight, sunshine < _DULL * daylight
        against = (sunny & (solar < _DARK * clear)) | (dull & (solar > _BRIGHT * clear))
        yield Doubt("sunshine", against & judged, "sunshine and solar contradict each other (FAO-56 Eq. 35)")
