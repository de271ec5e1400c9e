"""Doubts about sensors: radiation, humidity and wind over weeks and years.

Only readings are judged here: values whose flag says that they were estimated are passed over.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.weather import atmosphere
from waterbudget.weather.findings import (
    Bools,
    Doubt,
    Floats,
    by_month,
    by_year,
    judged,
    long_runs,
    mean,
    over_time,
    quantile,
    readings,
    spread,
)
from waterbudget.weather.magnitudes import CLEAREST
from waterbudget.weather.methods import HUMIDITY, vapour_pressure
from waterbudget.weather.radiation import solar_from_sunshine
from waterbudget.weather.sun import LEAST_CLEAR_SKY, Sun

# Radiation. That the clearest days lie at Rso, and that 3 to 5 % off it is worth a calibration, is of FAO-56
# Annex 5 and ASCE-EWRI 2005 Appendix D; 10 % leaves room for haze and for the coefficients of Eq. 36.
_LEAST_CLEAREST = 0.90  # of Rs/Rso
_HALF_YEAR = 183  # values of a calendar year, so that it has clear days at all
_WHOLE_YEAR = 330  # values of a year that is compared with another: both then have the same seasons
_LEAST_DRIFT = 0.05  # of Rs/Rso: the clearest days of two sound years are 1 or 2 % apart
_SUNSHINE_DAYS = 30
_SUNSHINE_RATIO = 1.25  # mean Rs by Eq. 35, more or less: local coefficients are within some 15 %

# Humidity. That it nears 100 % at dawn over watered ground is of FAO-56 Annex 5 and ASCE-EWRI 2005
# Appendix D; the lengths are common practice, no source.
_DAWN = 90.0  # %
_NEVER_DAYS = 180  # a dry season of five months is common, half a year without one damp dawn is not
_STUCK = 99.5  # %
_STUCK_DAYS = 28
_BOUND_DAYS = 10
_BOUND_STEP = 0.01  # degC, closer than any sensor of dew point
_DRY_AIR = 3.0  # degC; FAO-56 Annex 6 mends a mean tmin - dewpoint above 2 degC, one more is for the noise
_GROWING = 10.0  # degC, mean of a month in which plants grow (common practice, no source)
_MONTH_DAYS = 20
_DRIEST = 1e-3  # kPa; below it a dew point has no meaning

# Wind (common practice, no source).
_CALM = 1.0  # m s-1
_CALM_DAYS = 14

_DOCUMENTS = "(FAO-56 Annex 5, ASCE-EWRI 2005 Appendix D)"

_RELATIVE = ("rhmax", "dewpoint", "vapour_pressure")


def sensor_doubts(weather: xr.Dataset, sun: Sun | None, clear: xr.DataArray | None) -> Iterator[Doubt]:
    """Find doubts about sensors; `clear` is the solar radiation over that under a clear sky."""
    time = pd.DatetimeIndex(weather.indexes["time"])
    if clear is not None:
        yield from _radiation(clear, time)
    if sun is not None and "solar" in weather and "sunshine" in weather:
        yield from _sunshine(weather, sun)
    yield from _dawn(weather)
    if "tmin" in weather and "tmax" in weather:
        yield from _dry_air(weather, time)
    if "wind" in weather:
        calm = over_time(lambda x: long_runs(x < _CALM, _CALM_DAYS), readings(weather, "wind"))
        why = f"below {_CALM:g} m/s for {_CALM_DAYS} days or more: a worn bearing, or a sheltered place"
        yield Doubt("wind", calm, f"{why} (ASCE-EWRI 2005 Appendix D)", "least")


def _radiation(clear: xr.DataArray, time: pd.DatetimeIndex) -> Iterator[Doubt]:
    """Doubt years whose clearest days stay dark, and clearest days that darken over the years."""
    whole = f"Rs/Rso that {1 - CLEAREST:.0%} of days exceed"
    yield judged(
        "solar",
        over_time(partial(_dim_years, years=by_year(time)), clear),
        f"even the clearest days of the year are dark: {whole} (the value) stays below "
        f"{_LEAST_CLEAREST:g}: dirt, shade or calibration {_DOCUMENTS}",
    )
    yield judged(
        "solar",
        over_time(partial(_drift, years=by_year(time)), clear),
        f"drift: from the first to the last year {whole} fell by the value, more than {_LEAST_DRIFT:g} "
        "(FAO-56 Annex 5)",
    )


def _dim_years(clear: Floats, years: list[slice]) -> Floats:
    """Give Rs/Rso of the clearest days to the years in which it is low."""
    found = np.full(clear.shape, np.nan)
    for year in years:
        figure = quantile(clear[..., year], CLEAREST, _HALF_YEAR)
        found[..., year] = spread(np.where(figure < _LEAST_CLEAREST, figure, np.nan), clear[..., year])
    return found


def _drift(clear: Floats, years: list[slice]) -> Floats:
    """Give the fall of the clearest days from the first full year to the last, where it is great."""
    figures = np.concatenate([quantile(clear[..., year], CLEAREST, _WHOLE_YEAR) for year in years], axis=-1)
    full = ~np.isnan(figures)
    first = np.take_along_axis(figures, full.argmax(axis=-1, keepdims=True), axis=-1)
    last = np.take_along_axis(figures[..., ::-1], full[..., ::-1].argmax(axis=-1, keepdims=True), axis=-1)
    fall = np.where(first - last > _LEAST_DRIFT, first - last, np.nan)
    return spread(fall, clear)


def _sunshine(weather: xr.Dataset, sun: Sun) -> Iterator[Doubt]:
    """Doubt radiation that is, on the whole, not what the sunshine makes of it."""
    told = solar_from_sunshine(readings(weather, "sunshine"), sun.daylight, sun.outside)
    told = told.where(sun.outside > LEAST_CLEAR_SKY)

    def ratio(solar: Floats, told: Floats) -> Floats:
        both = ~np.isnan(solar) & ~np.isnan(told)
        solar, told = np.where(both, solar, np.nan), np.where(both, told, np.nan)
        figure = mean(solar, _SUNSHINE_DAYS) / np.maximum(mean(told), LEAST_CLEAR_SKY / 10)
        apart = (figure > _SUNSHINE_RATIO) | (figure < 1 / _SUNSHINE_RATIO)
        return spread(np.where(apart, figure, np.nan), solar)

    yield judged(
        "solar",
        over_time(ratio, readings(weather, "solar"), told),
        "is on average the value times what sunshine gives (FAO-56 Eq. 35): one of the two is wrong",
    )


def _dawn(weather: xr.Dataset) -> Iterator[Doubt]:
    """Doubt humidity that never nears saturation at dawn, that always stands there, or that follows tmin."""
    for name in _RELATIVE:
        if name not in weather or (name != "rhmax" and "tmin" not in weather):
            continue
        humidity = readings(weather, name)
        if name != "rhmax":
            if name == "dewpoint":
                humidity = atmosphere.vapour_pressure_from_dewpoint(humidity)
            humidity = 100 * humidity / atmosphere.saturation_vapour_pressure(readings(weather, "tmin"))
        yield Doubt(
            name,
            over_time(_never_damp, humidity),
            f"relative humidity at tmin (the value: its greatest, %) never reaches {_DAWN:g} % in "
            f"{_NEVER_DAYS} days or more, as it does at dawn over watered ground {_DOCUMENTS}",
            "greatest",
            humidity.fillna(0.0),
        )
    if "rhmax" in weather:
        stuck = over_time(lambda x: long_runs(x >= _STUCK, _STUCK_DAYS), readings(weather, "rhmax"))
        yield Doubt(
            "rhmax",
            stuck,
            f"at {_STUCK:g} % or above for {_STUCK_DAYS} days or more: a wet sensor, or a drifted one",
        )
    if "tmin" in weather and "dewpoint" in weather:
        below = readings(weather, "tmin") - readings(weather, "dewpoint")
        bound = over_time(_bound, below)
        why = f"stays as far below tmin as the value says (degC) for {_BOUND_DAYS} days or more"
        yield Doubt("dewpoint", bound, f"{why}: computed from it, not read", shown=below)


def _never_damp(humidity: Floats) -> Bools:
    """Mark long stretches with values on half of their days at least, all below that of a damp dawn."""
    valid = ~np.isnan(humidity)
    below = ~np.isnan(spread(np.zeros((*humidity.shape[:-1], 1)), humidity)) & ~(humidity >= _DAWN)
    return long_runs(below, _NEVER_DAYS) & long_runs(below, _NEVER_DAYS // 2, counted=valid)


def _bound(below: Floats) -> Bools:
    """Mark days on which the difference is as on the day before, or after, for long."""
    tie = np.zeros(below.shape, dtype=bool)
    tie[..., 1:] = np.abs(below[..., 1:] - below[..., :-1]) < _BOUND_STEP
    long = long_runs(tie, _BOUND_DAYS - 1)
    long[..., :-1] |= long[..., 1:]
    return long


def _dry_air(weather: xr.Dataset, time: pd.DatetimeIndex) -> Iterator[Doubt]:
    """Doubt months of the growing season in which the dew point lies far below tmin."""
    tmin, tmax = readings(weather, "tmin"), readings(weather, "tmax")
    known: xr.DataArray | None = None
    for name, vapour in _vapour_pressures(weather, tmin, tmax):
        below = tmin - atmosphere.dewpoint_from_vapour_pressure(np.maximum(vapour, _DRIEST))
        # One kind of humidity a day is enough: `single_days` says where two disagree.
        judged_here = below if known is None else below.where(~known)
        known = below.notnull() if known is None else known | below.notnull()
        figures = over_time(partial(_dry_months, months=by_month(time)), judged_here, (tmin + tmax) / 2)
        yield Doubt(
            name,
            figures.notnull(),
            f"mean tmin - dew point of the month (the value: its greatest, degC) is above {_DRY_AIR:g} degC "
            "in the growing season: the station may stand over dry ground (FAO-56 Annex 6)",
            "greatest",
            figures,
        )


def _vapour_pressures(
    weather: xr.Dataset, tmin: xr.DataArray, tmax: xr.DataArray
) -> Iterator[tuple[str, xr.DataArray]]:
    """Give vapour pressure by each kind of humidity that there is, in FAO-56's order of preference."""
    values = {name: readings(weather, name) for way in HUMIDITY for name in way if name in weather}
    values |= {"tmin": tmin, "tmax": tmax}
    for way in HUMIDITY:
        if all(name in values for name in way):
            yield way[-1], vapour_pressure(way, values)


def _dry_months(below: Floats, warmth: Floats, months: list[slice]) -> Floats:
    """Give the mean difference to the months of the growing season in which it is great."""
    found = np.full(below.shape, np.nan)
    for month in months:
        figure, grows = mean(below[..., month], _MONTH_DAYS), mean(warmth[..., month]) >= _GROWING
        dry = grows & (figure > _DRY_AIR)
        found[..., month] = spread(np.where(dry, figure, np.nan), below[..., month])
    return found
