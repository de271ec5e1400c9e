"""Ways to estimate missing weather, each a function of the weather that gives estimates variable by variable.

Sources: FAO-56 (1998) chapter 3 for Eq. 35 and 48 to 50; its Annex 4 for regressions between stations.
Estimates are not fitted to, interpolated between or borrowed; the formulas of a day take what it has.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

import numpy as np
import xarray as xr

from waterbudget.variables import VARIABLES, attributes
from waterbudget.weather import atmosphere, fits, radiation
from waterbudget.weather.atmosphere import Numbers
from waterbudget.weather.flags import flags_of, is_reading, with_flags
from waterbudget.weather.methods import HUMIDITY as WAYS_TO_HUMIDITY
from waterbudget.weather.methods import vapour_pressure
from waterbudget.weather.sun import DAYLIGHT_MARGIN, Sun, sun_of

HUMIDITY = ("dewpoint", "vapour_pressure", "rhmin", "rhmean", "rhmax")
ESTIMATED = ("tmin", "tmax", *HUMIDITY, "pressure", "wind", "solar", "sunshine")
"""What may be interpolated, or taken from another station or the record's own season: never rain."""

_PAIRS = (("tmin", "tmax"), ("rhmin", "rhmean"), ("rhmean", "rhmax"), ("rhmin", "rhmax"))
RELATIVE = ("rhmin", "rhmean", "rhmax")
SATURATION = 100.0  # %: a line or a season goes a little beyond it where the air is damp

_SHOWN = 8
"""Fits that a text writes out one by one."""

_LEAST_SUN = 0.1
"""MJ m-2 or h below which a ratio to what the sun can give says nothing: the polar night."""


class Estimate(NamedTuple):
    """Values for what is missing of a variable, and where they come from."""

    name: str
    values: xr.DataArray
    origin: str
    how: str


Way = Callable[[xr.Dataset], Iterator[Estimate]]


def put(weather: xr.Dataset, estimate: Estimate) -> tuple[xr.Dataset, str]:
    """Fill what is missing of a variable, flag it, and say so.

    Parameters
    ----------
    weather : Dataset
    estimate : Estimate
        Of a variable that is there, or of one that is not: a sensor that never was.

    Returns
    -------
    Dataset
        A new one. An estimate that would leave its range, or contradict another value of its day, is not
        taken; relative humidity is limited to saturation.
    str
        How many values were filled and how; how many were limited or not taken, and are still missing. Empty
        where none was missing.
    """
    name = estimate.name
    if name in weather:
        old = weather[name]
    else:
        model = weather["tmin"] if "tmin" in weather else next(iter(weather.data_vars.values()))
        old = xr.full_like(model, np.nan, dtype=np.float64).rename(name)
        old.attrs = attributes(name)
    if not bool(old.isnull().any()):
        return weather, ""
    low, high = VARIABLES[name].hard
    labels = estimate.values.isel(time=0, drop=True) if "time" in estimate.values.dims else estimate.values
    spread = old.broadcast_like(labels)
    # A series that all stations shared becomes one for each where the estimates are.
    old = spread.transpose(*old.dims) if set(spread.dims) == set(old.dims) else spread.transpose("time", ...)
    new = estimate.values.broadcast_like(old).transpose(*old.dims)
    wanted = old.isnull() & new.notnull()
    limited = wanted & (new > SATURATION) if name in RELATIVE else xr.zeros_like(wanted)
    new = new.where(~limited, SATURATION)
    taken = wanted
    if low is not None:
        taken = taken & (new >= low)
    if high is not None:
        taken = taken & (new <= high)
    for lower, upper in _PAIRS:
        against = None
        if name == lower and upper in weather:
            against = new > weather[upper]
        elif name == upper and lower in weather:
            against = new < weather[lower]
        if against is not None:  # of a series that stations share, at any of them
            taken = taken & ~against.any([dim for dim in against.dims if dim not in old.dims])
    filled = old.where(~taken, new).assign_attrs(old.attrs).reset_coords(drop=True)
    count, refused = int(taken.sum()), int((wanted & ~taken).sum())
    left = int(filled.isnull().sum())
    text = f"{name}: {count} {'value' if count == 1 else 'values'} {estimate.how}"
    if limited.any():
        text += f"; {int(limited.sum())} limited to saturation, {SATURATION:g} %"
    if refused:
        text += f"; {refused} not taken, outside their range or against another value of the day"
    text += f"; {left} still missing"
    if not count:
        return weather, text
    result = weather.assign({name: (old.dims, filled.values, old.attrs)})
    return with_flags(result, name, taken, estimate.origin), text


def given(weather: xr.Dataset, name: str) -> xr.DataArray:
    """Take the values of a variable that were read; NaN where they were estimated."""
    return weather[name].where(is_reading(flags_of(weather, name)))


def stated_rain(weather: xr.Dataset, rain: xr.DataArray) -> Iterator[Estimate]:
    """Take what the user says of missing rain."""
    yield Estimate("rain", rain, "stated", "as stated by the user")


def stated_wind(weather: xr.Dataset, number: float) -> Iterator[Estimate]:
    """Take a stated mean wind."""
    yield Estimate("wind", xr.DataArray(number), "from_class", f"of a stated mean of {number:g} m/s")


def interpolated(weather: xr.Dataset, longest: int) -> Iterator[Estimate]:
    """Draw a line over short gaps; for radiation and sunshine through their ratios to what the sun gives."""
    for name in ESTIMATED:
        if name in weather:
            most = _most(weather, name)
            ratio = (given(weather, name) / most).transpose("time", ...)
            line = ratio.copy(data=fits.interpolate(ratio.values, longest))
            how = f"interpolated over gaps of at most {longest} days{_by_ratio(weather, name)}"
            yield Estimate(name, line * most, "interpolated", how)


def from_sunshine(weather: xr.Dataset, coefficients: tuple[float, float]) -> Iterator[Estimate]:
    """Make radiation of the station's own sunshine, FAO-56 Eq. 35."""
    first, second = coefficients
    outside, _, daylight = _sun(weather)
    sunshine = weather["sunshine"]
    solar = radiation.solar_from_sunshine(sunshine, daylight, outside, first, second)
    long = sunshine > daylight + DAYLIGHT_MARGIN
    how = f"from sunshine by FAO-56 Eq. 35 with as {first:g}, bs {second:g}"
    if bool(long.any()):
        how += f" ({int(long.sum())} days of sunshine longer than the day are not used)"
    yield Estimate("solar", solar.where(~long), "from_sunshine", how)


def by_regression(weather: xr.Dataset, other: xr.Dataset) -> Iterator[Estimate]:
    """Take values from another station by a straight line through the common days, FAO-56 Annex 4."""
    for name in ESTIMATED:
        theirs = _theirs(other, name)
        if name not in weather or theirs is None:
            continue
        x, line = _fit(weather, theirs, name)
        labels = {dim: coord for dim, coord in x.coords.items() if dim != "time" and dim in x.dims}
        dims = [dim for dim in x.dims if dim != "time"]
        accepted = line.accepted()
        slope = xr.DataArray(np.where(accepted, line.slope, np.nan), dims=dims, coords=labels)
        intercept = xr.DataArray(line.intercept, dims=dims, coords=labels)
        how = f"from another station by regression: {_told(x, line)}"
        yield Estimate(name, intercept + slope * x, "from_regression", how)


def fit_rows(weather: xr.Dataset, other: xr.Dataset, name: str) -> Iterator[tuple[object, ...]]:
    """Give the fits of a variable, a row for each label."""
    theirs = _theirs(other, name)
    if name not in weather or theirs is None:
        return
    x, line = _fit(weather, theirs, name)
    accepted = line.accepted()
    for at in np.ndindex(accepted.shape):
        yield (
            name,
            _label(x, at),
            line.slope[at],
            line.intercept[at],
            line.standard_error[at],
            line.r2[at],
            line.days[at],
            accepted[at],
        )


def _theirs(other: xr.Dataset, name: str) -> xr.DataArray | None:
    """Give a variable of another station; a measure of humidity that it lacks from one that it has."""
    if name in other:
        return given(other, name)
    return humidity_as(
        name, {str(own): given(other, str(own)) for own in other.data_vars if own in ESTIMATED}
    )


def humidity_as(name: str, values: Mapping[str, xr.DataArray]) -> xr.DataArray | None:
    """Turn the best humidity that there is into another measure of it.

    Parameters
    ----------
    name : str
        A variable of weather.
    values : mapping of str to DataArray
        Variables that are there, tmin and tmax among them.

    Returns
    -------
    DataArray or None
        None where `name` is no measure of humidity, or nothing tells it.
    """
    if name not in HUMIDITY or not {"tmin", "tmax"} <= set(values):
        return None
    for way in WAYS_TO_HUMIDITY:
        if all(own in values for own in way):
            vapour = vapour_pressure(way, dict(values))
            return _measures(values["tmin"], values["tmax"], vapour)[name]
    return None


def _measures(tmin: xr.DataArray, tmax: xr.DataArray, vapour: xr.DataArray) -> dict[str, xr.DataArray]:
    """Give every measure of humidity of one vapour pressure, so that Eq. 14, 17, 18 and 19 give it back."""
    return {
        "dewpoint": atmosphere.dewpoint_from_vapour_pressure(vapour),
        "vapour_pressure": vapour,
        "rhmin": 100 * vapour / atmosphere.saturation_vapour_pressure(tmax),
        "rhmean": 100 * vapour / atmosphere.mean_saturation_vapour_pressure(tmin, tmax),
        "rhmax": 100 * vapour / atmosphere.saturation_vapour_pressure(tmin),
    }


def _fit(weather: xr.Dataset, theirs: xr.DataArray, name: str) -> tuple[xr.DataArray, fits.Line]:
    """Fit a variable of the weather to that of another station."""
    x, y = xr.broadcast(theirs.reset_coords(drop=True), given(weather, name).reset_coords(drop=True))
    x, y = x.transpose("time", ...), y.transpose("time", ...)
    return x, fits.regress(x.values, y.values)


def _label(data: xr.DataArray, at: tuple[int, ...]) -> str:
    """Name a series by its labels."""
    dims = [dim for dim in data.dims if dim != "time"]
    return ", ".join(str(data.indexes[dim][i]) for dim, i in zip(dims, at, strict=True))


def _told(x: xr.DataArray, line: fits.Line) -> str:
    """Write the fits; of many only how they lie."""
    accepted = line.accepted()
    if accepted.size > _SHOWN:
        return f"{int(accepted.sum())} of {accepted.size} fits are good enough (see fit_stations)"
    texts = []
    for at in np.ndindex(accepted.shape):
        label = _label(x, at)
        if not line.days[at]:
            texts.append(f"{label + ': ' if label else ''}no common days")
            continue
        fit = (
            f"y = {line.intercept[at]:.3g} + {line.slope[at]:.3f} x, r2 {line.r2[at]:.2f}, "
            f"{line.days[at]} days, standard error {line.standard_error[at]:.2g}"
        )
        verdict = "" if accepted[at] else " (not good enough: nothing filled)"
        texts.append(f"{label + ': ' if label else ''}{fit}{verdict}")
    return "; ".join(texts)


def from_neighbour(weather: xr.Dataset, other: xr.Dataset) -> Iterator[Estimate]:
    """Import radiation by FAO-56 Eq. 49, and wind as it stands, from a near station of the same weather."""
    if "solar" in other:
        theirs = _sun(other).outside if "latitude" in other.variables else _sun(weather).outside
        ratio = given(other, "solar").reset_coords(drop=True) / theirs.where(theirs > _LEAST_SUN)
        how = "imported by FAO-56 Eq. 49"
        yield Estimate("solar", ratio * _sun(weather).outside, "from_neighbour", how)
    if "wind" in other:
        wind = given(other, "wind").reset_coords(drop=True)
        yield Estimate("wind", wind, "from_neighbour", "imported as they stand (FAO-56 chapter 3)")


def from_range(weather: xr.Dataset, number: float) -> Iterator[Estimate]:
    """Make radiation of the day's range of temperature, FAO-56 Eq. 50."""
    tmin, tmax = weather["tmin"], weather["tmax"]
    solar = radiation.solar_from_temperature_range(
        tmin, tmax, _sun(weather).outside, weather["elevation"], number
    )
    how = f"from the range of temperature by FAO-56 Eq. 50 with {number:g}"
    yield Estimate("solar", solar, "from_temperature_range", how)


def from_tmin(weather: xr.Dataset, number: float) -> Iterator[Estimate]:
    """Make humidity of tmin, FAO-56 Eq. 48: in the columns that there are, or a dew point."""
    tmin, tmax = weather["tmin"], weather["tmax"]
    vapour = atmosphere.vapour_pressure_from_dewpoint(tmin - number)
    made = {**_measures(tmin, tmax, vapour), "dewpoint": tmin - number}
    how = f"from tmin less {number:g} degC as dew point (FAO-56 Eq. 48)"
    for name in [name for name in HUMIDITY if name in weather] or ["dewpoint"]:
        yield Estimate(name, made[name], "from_tmin", how)


def by_season(weather: xr.Dataset) -> Iterator[Estimate]:
    """Take the record's own smooth season."""
    day = weather["time"].dt.dayofyear.values
    for name in ESTIMATED:
        if name not in weather:
            continue
        most = _most(weather, name)
        ratio = (given(weather, name) / most).transpose("time", ...)
        fitted, scatter = fits.season(ratio.values, day)
        short = int(np.isnan(scatter).sum())
        how = f"of the record's own season{_by_ratio(weather, name)}"
        if short:
            how += f" ({short} of {scatter.size} records do not cover the year)"
        yield Estimate(name, ratio.copy(data=fitted) * most, "climatology", how)


def _sun(weather: xr.Dataset) -> Sun:
    sun = sun_of(weather)
    assert sun is not None  # a way that needs the latitude is not taken without it
    return sun


def _most(weather: xr.Dataset, name: str) -> Numbers:
    """Give what the sun can give of a variable, NaN in the polar night; 1 for what does not follow it.

    Without a latitude radiation and sunshine are taken as they stand.
    """
    sun = sun_of(weather) if name in ("solar", "sunshine") else None
    if sun is None:
        return 1.0
    most = sun.outside if name == "solar" else sun.daylight
    return most.where(most > _LEAST_SUN)


def _by_ratio(weather: xr.Dataset, name: str) -> str:
    ratios = {"solar": "extraterrestrial radiation", "sunshine": "day length"}
    known = name in ratios and "latitude" in weather.variables
    return f", by the ratio to {ratios[name]}" if known else ""
