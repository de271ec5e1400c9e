"""What is wrong with weather, and what is merely hard to believe.

A fault (a value outside its hard range, tmin above tmax) is raised. A doubt is something that can
be true and seldom is: it is listed, and the numbers are left as they are.

Documents on the integrity of weather data are followed where a doubt names them: FAO-56 (1998) Annex 5
(and Annex 6, on dry ground), and ASCE-EWRI (2005) Appendix D. All are known here from memory only.
They compare solar radiation with that of a clear sky; expect humidity near 100 % at dawn, and the dew
point near tmin, over well-watered ground; look for wind that is too low or stands still; and look
twice at extremes of temperature and at how long they last. Their plots are read by eye: the margins
here are rules of thumb (common practice, no source) unless an equation is named beside them.

Doubts about one day stand in `single_days`, about sensors over weeks and years in `sensors`, about
the order of days in `series`, about units and heights in `magnitudes`; `findings` makes rows of them.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.checks import first, in_range, labelled, quantity, time_axis
from waterbudget.errors import Fault, Faults, collect
from waterbudget.variables import VARIABLES
from waterbudget.weather.findings import Doubt, rows
from waterbudget.weather.flags import flag_faults, quantities
from waterbudget.weather.magnitudes import magnitude_doubts
from waterbudget.weather.sensors import sensor_doubts
from waterbudget.weather.series import series_doubts
from waterbudget.weather.single_days import single_day_doubts
from waterbudget.weather.sun import clearness, sun_of

_ASCENDING = (("tmin", "tmax"), ("rhmin", "rhmax"), ("rhmin", "rhmean"), ("rhmean", "rhmax"))

_TYPES = {
    "variable": "object",
    "station": "object",
    "first_date": "datetime64[ns]",
    "last_date": "datetime64[ns]",
    "days": "int64",
    "value": "float64",
    "why": "object",
}


def value_faults(weather: xr.Dataset, faults: Faults) -> None:
    """Check weather against hard ranges, and minima against maxima.

    Parameters
    ----------
    weather : Dataset
        Weather by its canonical names and in canonical units.
    faults : Faults
        Every fault found is noted here.
    """
    for name in quantities(weather):
        in_range(weather[name], name, faults)
    for low, high in _ASCENDING:
        if low not in weather or high not in weather:
            continue
        lower, upper = xr.broadcast(weather[low], weather[high])
        bad = np.asarray(lower.values > upper.values)
        if bad.any():
            unit = VARIABLES[low].unit
            where, value, count = first(lower, bad)
            _, other, _ = first(upper, bad)
            faults.add(
                f"{low} and {high}",
                f"are the wrong way round: {low} is above {high}",
                where=where,
                value=f"{low} {quantity(value, unit)}, {high} {quantity(other, unit)}",
                count=count,
                allowed=f"{low} at most {high}",
                mend="correct the day's values; if all days have it, the two columns are exchanged",
            )


def weather_faults(weather: xr.Dataset, faults: Faults) -> None:
    """Check that something is daily weather in canonical units, with labels and without impossible values.

    Parameters
    ----------
    weather : Dataset
    faults : Faults
        Every fault found is noted here.
    """
    if not isinstance(weather, xr.Dataset) or "time" not in weather.indexes:
        faults.add(
            "weather",
            "is no Dataset with a dimension time",
            value=type(weather).__name__,
            mend="read it by read_weather",
        )
        return
    time_axis(weather.indexes["time"], faults)
    labelled({"weather": weather}, faults)
    for name in quantities(weather):
        if "time" not in weather[name].dims:
            faults.add(name, "does not vary in time", mend="give a value for each day")
        unit = weather[name].attrs.get("units", VARIABLES[name].unit)
        if unit != VARIABLES[name].unit:
            mend = "read it by read_weather, which converts"
            faults.add(name, "is in another unit", value=repr(unit), allowed=VARIABLES[name].unit, mend=mend)
    flag_faults(weather, faults)
    value_faults(weather, faults)
    for name in ("latitude", "elevation"):
        if name in weather.coords:
            in_range(weather[name], name, faults)


def faults_of(weather: xr.Dataset, what: str) -> tuple[Fault, ...]:
    """Give the faults of weather that is called something else: a forecast, a neighbour.

    Parameters
    ----------
    weather : Dataset
    what : str
        Whose each fault is said to be.

    Returns
    -------
    tuple of Fault
    """
    found = Faults()
    weather_faults(weather, found)
    named = []
    for fault in found:
        own = fault.what == "weather" or fault.what.startswith("weather, ")
        name = f"{what}{fault.what.removeprefix('weather')}" if own else f"{what}, {fault.what}"
        named.append(dataclasses.replace(fault, what=name))
    return tuple(named)


def check_weather(weather: xr.Dataset) -> pd.DataFrame:
    """List every doubt about weather; faults raise.

    Parameters
    ----------
    weather : Dataset
        Daily weather as `waterbudget.read_weather` gives it.

    Returns
    -------
    DataFrame
        A row for each run of consecutive days with the same doubt: ``variable`` (``time`` for dates
        that may be exchanged), ``station`` (its label; other labelled dimensions are named; empty
        where there is none), ``first_date``, ``last_date``, ``days``, ``value`` (the worst of the
        run, in canonical units, or the figure that `why` speaks of; NaN for a gap) and ``why``. A
        doubt that comes up in more than 5 runs of a calendar year is one row, whose ``days``
        are those in doubt, and whose `why` says so. Without a doubt it has no rows.

    Raises
    ------
    InputError
        With every fault: a time axis that is not of consecutive days at midnight, values outside
        their hard range, tmin above tmax, rhmin above rhmax.

    Notes
    -----
    Doubts about single days: values outside their plausible range; gaps, and variables without a
    single value; tmin equal to tmax, rhmin equal to rhmax (but both at 100 %); a dew point more than
    4 degC above tmin; a vapour pressure above saturation at tmax (FAO-56 Eq. 11); two kinds of
    humidity that give vapour pressures more than 25 % apart for 3 days; solar radiation more than 5 %
    above that of a clear sky (FAO-56 Eq. 37), or below 5 % of it; sunshine longer than the day
    (FAO-56 Eq. 34); full sunshine without radiation, or the reverse (Eq. 35).

    About sensors: years of at least 183 values in which the clearest days stay below 0.90 Rso, and a
    fall of the clearest days by more than 0.05 Rso from the first year of at least 330 values to the
    last; radiation that is on average more than 1.25 times what sunshine gives, or less than 0.8
    times; relative humidity at tmin below 90 % for 180 days; rhmax at 99.5 % or above for 28 days; a
    dew point as far below tmin for 10 days; a mean tmin - dew point above 3 degC in months warmer
    than 10 degC (FAO-56 Annex 6); wind below 1 m/s for 14 days.

    About the order of days: a value repeated for 5 days or more (more where rounding makes equal
    neighbours usual); tmin and tmax of 5 days or more that stand earlier in the record; spikes; 90
    days or more without any rain; rain whose dark day is the one before or after, or that comes with
    no less radiation; day and month exchanged, where exchanging them back makes temperature steadier
    from day to day by a fifth or more (years with at least 50 such neighbours).

    About units and heights, reported and never acted on: humidity like a fraction, wind like km/h,
    rain like inches or cm, radiation like kWh m-2, W m-2 or langleys, vapour pressure like hPa,
    temperature like degF, pressure that is more than 2.5 % off that of the elevation (FAO-56 Eq. 7).

    Values that are flagged as estimated count for the doubts about single days alone: the others are
    about readings.
    """
    with collect() as faults:
        weather_faults(weather, faults)
    weather = weather.compute()
    found = [row for doubt in _doubts(weather) for row in rows(weather, doubt)]
    return pd.DataFrame(found, columns=list(_TYPES)).astype(_TYPES)


def _doubts(weather: xr.Dataset) -> Iterator[Doubt]:
    sun = sun_of(weather)
    clear = clearness(weather, sun)
    yield from single_day_doubts(weather, sun)
    yield from series_doubts(weather, sun, clear)
    yield from sensor_doubts(weather, sun, clear)
    yield from magnitude_doubts(weather, sun, clear)
