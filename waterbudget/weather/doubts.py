"""What is wrong with weather, and what is merely hard to believe.

A fault (a value outside its hard range, tmin above tmax) is raised. A doubt is something that can
be true and seldom is: it is listed, and the numbers are left as they are. The margins are rules of
thumb (common practice, no source) unless an equation is named.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from waterbudget.checks import first, in_range, labelled, quantity, time_axis
from waterbudget.errors import Faults, collect
from waterbudget.variables import VARIABLES
from waterbudget.weather.atmosphere import saturation_vapour_pressure
from waterbudget.weather.radiation import clear_sky_radiation, daylight_hours, extraterrestrial_radiation

_ASCENDING = (("tmin", "tmax"), ("rhmin", "rhmax"), ("rhmin", "rhmean"), ("rhmean", "rhmax"))

# Values that weather itself may repeat for days: dry, overcast, saturated.
_MAY_REPEAT = {"rain": 0.0, "sunshine": 0.0, "rhmax": 100.0}

_REPEATED_DAYS = 5
_DRY_DAYS = 90
_DEWPOINT_MARGIN = 1.0  # degC above tmin
_SOLAR_MARGIN = 1.05  # times the radiation under a clear sky
_DAYLIGHT_MARGIN = 0.5  # h above the longest possible sunshine

_TYPES = {
    "variable": "object",
    "station": "object",
    "first_date": "datetime64[ns]",
    "last_date": "datetime64[ns]",
    "days": "int64",
    "value": "float64",
    "why": "object",
}


class _Doubt(NamedTuple):
    """Days that are hard to believe, before they are gathered into runs."""

    variable: str
    flags: xr.DataArray
    why: str
    least_days: int = 1
    repeats: bool = False
    worst: Callable[[npt.NDArray[np.float64]], np.float64] = lambda values: values[0]


def value_faults(weather: xr.Dataset, faults: Faults) -> None:
    """Check weather against hard ranges, and minima against maxima.

    Parameters
    ----------
    weather : Dataset
        Weather by its canonical names and in canonical units.
    faults : Faults
        Every fault found is noted here.
    """
    for name in map(str, weather.data_vars):
        if name in VARIABLES:
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
    for name in weather.data_vars:
        if name in VARIABLES and "time" not in weather[name].dims:
            faults.add(str(name), "does not vary in time", mend="give a value for each day")
    value_faults(weather, faults)
    for name in ("latitude", "elevation"):
        if name in weather.coords:
            in_range(weather[name], name, faults)


def check_weather(weather: xr.Dataset) -> pd.DataFrame:
    """List every doubt about weather; faults raise.

    Parameters
    ----------
    weather : Dataset
        Daily weather as `waterbudget.read_weather` gives it.

    Returns
    -------
    DataFrame
        A row for each run of consecutive days with the same doubt: ``variable``, ``station`` (its
        label; other labelled dimensions are named; empty where there is none), ``first_date``,
        ``last_date``, ``days``, ``value`` (the worst of the run, in canonical units; NaN for a
        gap) and ``why``. Without a doubt it has no rows.

    Raises
    ------
    InputError
        With every fault: a time axis that is not of consecutive days at midnight, values outside
        their hard range, tmin above tmax, rhmin above rhmax.

    Notes
    -----
    Doubts are: values outside their plausible range; gaps; a value repeated for 5 days or more;
    tmin equal to tmax; a dew point more than 1 degC above tmin; a vapour pressure above saturation
    at tmax (FAO-56 Eq. 11); solar radiation more than 5 % above that of a clear sky (FAO-56
    Eq. 37); sunshine longer than the day (FAO-56 Eq. 34); 90 days or more without any rain.
    """
    with collect() as faults:
        weather_faults(weather, faults)
    rows = [row for doubt in _doubts(weather) for row in _rows(weather[doubt.variable], doubt)]
    return pd.DataFrame(rows, columns=list(_TYPES)).astype(_TYPES)


def _doubts(weather: xr.Dataset) -> Iterator[_Doubt]:
    """Find every doubt, variable by variable, then those between variables."""
    for name in map(str, weather.data_vars):
        if name not in VARIABLES:
            continue
        data, variable = weather[name], VARIABLES[name]
        low, high = variable.plausible
        absent = data.copy(data=np.isnan(data.values))
        yield _Doubt(name, absent, "no value")
        if low is not None:
            yield _Doubt(name, data < low, f"below {quantity(low, variable.unit)} is rare", worst=np.min)
        if high is not None:
            yield _Doubt(name, data > high, f"above {quantity(high, variable.unit)} is rare", worst=np.max)
        varies = ~absent & (data != _MAY_REPEAT.get(name, np.nan))
        yield _Doubt(name, varies, "the same value day after day", _REPEATED_DAYS, repeats=True)
    if "rain" in weather:
        yield _Doubt("rain", weather["rain"] == 0, "no rain at all in a season", _DRY_DAYS)
    yield from _temperature(weather)
    yield from _sun(weather)


def _temperature(weather: xr.Dataset) -> Iterator[_Doubt]:
    """Doubt temperatures and humidity that do not go together."""
    if "tmin" in weather and "tmax" in weather:
        yield _Doubt("tmin", weather["tmin"] == weather["tmax"], "tmin equals tmax")
    if "tmin" in weather and "dewpoint" in weather:
        wet = weather["dewpoint"] > weather["tmin"] + _DEWPOINT_MARGIN
        yield _Doubt("dewpoint", wet, f"more than {_DEWPOINT_MARGIN:g} degC above tmin", worst=np.max)
    if "tmax" in weather and "vapour_pressure" in weather:
        wet = weather["vapour_pressure"] > saturation_vapour_pressure(weather["tmax"])
        yield _Doubt("vapour_pressure", wet, "above saturation at tmax (FAO-56 Eq. 11)", worst=np.max)


def _sun(weather: xr.Dataset) -> Iterator[_Doubt]:
    """Doubt more sun than the place can have."""
    if "latitude" not in weather.coords:
        return
    latitude, day = weather["latitude"], weather["time"].dt.dayofyear
    if "solar" in weather and "elevation" in weather.coords:
        outside = extraterrestrial_radiation(latitude, day)
        bright = weather["solar"] > _SOLAR_MARGIN * clear_sky_radiation(outside, weather["elevation"])
        why = f"more than {_SOLAR_MARGIN - 1:.0%} above radiation under a clear sky (FAO-56 Eq. 37)"
        yield _Doubt("solar", bright, why, worst=np.max)
    if "sunshine" in weather:
        long = weather["sunshine"] > daylight_hours(latitude, day) + _DAYLIGHT_MARGIN
        yield _Doubt("sunshine", long, "longer than the day (FAO-56 Eq. 34)", worst=np.max)


def _rows(data: xr.DataArray, doubt: _Doubt) -> Iterator[tuple[object, ...]]:
    """Gather one doubt into runs of days, for each label."""
    data, flags = xr.broadcast(data, doubt.flags)
    labels = [dim for dim in data.dims if dim != "time"]
    values, marks = (array.transpose(*labels, "time").values for array in (data, flags))
    time = data.indexes["time"]
    for at in np.ndindex(values.shape[:-1]):
        for start, stop in _runs(marks[at], values[at] if doubt.repeats else None):
            if stop - start >= doubt.least_days:
                run = values[at][start:stop]
                place = _label({str(dim): data.indexes[dim][i] for dim, i in zip(labels, at, strict=True)})
                yield (
                    doubt.variable,
                    place,
                    time[start],
                    time[stop - 1],
                    stop - start,
                    doubt.worst(run),
                    doubt.why,
                )


def _runs(marks: npt.NDArray[np.bool_], values: npt.NDArray[np.float64] | None) -> list[tuple[int, int]]:
    """Find runs of marked days as start and stop; with `values` a run also ends where they change."""
    if not marks.any():
        return []
    change = marks[1:] != marks[:-1]
    if values is not None:
        change = change | (values[1:] != values[:-1])
    edges = [0, *(np.flatnonzero(change) + 1).tolist(), marks.size]
    return [(start, stop) for start, stop in pairwise(edges) if marks[start]]


def _label(labels: dict[str, object]) -> str:
    """Name a series by its station alone, or by every dimension."""
    if list(labels) == ["station"]:
        return str(labels["station"])
    return ", ".join(f"{dim} {label}" for dim, label in labels.items())
