"""What must hold before weather can be continued: the observations, the forecast and the wish."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.checks import complete, labelled
from waterbudget.descriptions import moment
from waterbudget.errors import Faults, brief, collect
from waterbudget.weather.doubts import faults_of
from waterbudget.weather.flags import is_flag
from waterbudget.weather.options import WEATHER
from waterbudget.weather.past_years import known

TAKEN = (*WEATHER, "runoff")
"""Variables that are continued."""

_SITE = ("latitude", "elevation")
_DAY = pd.Timedelta(days=1)


def checked(weather: Any, until: Any, forecast: Any, draw: tuple[Any, Any, Any]) -> pd.Timestamp:
    """Check everything that was given, and hand back the last day ahead.

    Parameters
    ----------
    weather, until, forecast
        As given to `waterbudget.weather.outlook`.
    draw : tuple
        Its ``past_years``, ``members`` and ``seed``.

    Returns
    -------
    Timestamp
        At midnight, after the last day of the weather.

    Raises
    ------
    InputError
        With every fault that can be found without looking years of the record up.
    """
    with collect() as faults:
        _check_draw(*draw, faults)
        past_years = draw[0] is not False
        sound = _check_daily(weather, "weather", faults)
        if isinstance(weather, xr.Dataset) and "member" in weather.dims:
            sound = False
            faults.add(
                "weather",
                "has members already",
                value=f"{weather.sizes['member']} members",
                allowed="one observed series for each label",
                mend="weather.sel(member=...)",
            )
        last = _last_day(until, weather if sound else None, faults)
        if forecast is None and not past_years:
            faults.add("forecast", "is missing", mend="forecast=..., or past_years=True")
        if forecast is not None and _check_daily(forecast, "forecast", faults) and sound:
            _check_match(forecast, weather, past_years, faults)
            _check_place(forecast, weather, faults)
            _check_span(forecast, weather, last, past_years, faults)
    return last


def _check_draw(past_years: Any, members: Any, seed: Any, faults: Faults) -> None:
    """Check how the members are wanted."""
    if not isinstance(past_years, bool):
        faults.add("past_years", "is neither True nor False", value=brief(past_years))
    for name, value, least in (("members", members, 1), ("seed", seed, 0)):
        whole = isinstance(value, int | np.integer) and not isinstance(value, bool)
        if value is not None and not (whole and value >= least):
            faults.add(
                name, "is no such number", value=brief(value), allowed=f"a whole number, {least} or more"
            )
    if past_years is False and (members is not None or seed is not None):
        faults.add("members, seed", "are for past years, and those are not wanted", mend="leave them out")
    elif members is not None and seed is None:
        faults.add(
            "seed", "is missing, so that the members could not be made again", mend="any whole number, seed=1"
        )
    elif seed is not None and members is None:
        faults.add(
            "seed",
            "is given, and without members nothing is drawn",
            value=brief(seed),
            mend="leave it out, or say how many members",
        )


def _check_daily(weather: Any, what: str, faults: Faults) -> bool:
    """Check weather by itself; tell whether it can be worked with."""
    found = faults_of(weather, what)
    own = Faults()
    if isinstance(weather, xr.Dataset) and "time" in weather.indexes:
        for name in map(str, weather.data_vars):
            if not is_flag(name) and name not in (*TAKEN, *_SITE, "et_ref_method"):
                own.add(
                    f"{what}, {name!r}",
                    "is no variable of weather",
                    allowed=", ".join(TAKEN),
                    mend=f"map it by read_weather(columns=...), or weather.drop_vars({name!r})",
                )
        if not series_of(weather):
            own.add(what, "has no variable of weather", mend="read it by read_weather")
    faults.extend((*found, *own))
    return not found and not own


def series_of(weather: xr.Dataset) -> list[str]:
    """Name the variables that are continued."""
    return [str(name) for name in weather.data_vars if name in TAKEN]


def _last_day(until: Any, weather: xr.Dataset | None, faults: Faults) -> pd.Timestamp:
    """Read the last day ahead; NaT where it is none."""
    own = Faults()
    day = moment(until, "until", own)
    if np.ndim(day) > 0:
        own.add("until", "holds several dates", value=brief(until), allowed="one date for all labels")
        day = np.datetime64("NaT", "ns")
    last = pd.DatetimeIndex(np.atleast_1d(np.asarray(day)))[0]
    if weather is not None and not own:
        first_ahead = weather.indexes["time"][-1] + _DAY
        if pd.isna(last) or last < first_ahead:
            own.add(
                "until",
                "is no day after the last observation",
                value=brief(until),
                allowed=f"{first_ahead:%Y-%m-%d} or later",
                mend="a later date; to look ahead from an earlier day cut the weather, "
                "weather.sel(time=slice(None, day))",
            )
    faults.extend(tuple(own))
    return last


def _check_match(forecast: xr.Dataset, weather: xr.Dataset, past_years: bool, faults: Faults) -> None:
    """Check that a forecast is of the variables and the labels of the weather."""
    labelled({"weather": weather, "forecast": forecast}, faults)
    if past_years and "member" in forecast.dims:
        faults.add(
            "forecast",
            "has members, and past years have their own",
            value=f"{forecast.sizes['member']} members",
            allowed="one forecast, or one with members up to until",
            mend="forecast.sel(member=...), or past_years=False",
        )
    for name in series_of(weather):
        if name not in forecast:
            faults.add(
                f"forecast, {name}",
                "is missing, and the weather has it",
                allowed=f"the variables of the weather: {', '.join(series_of(weather))}",
                mend=f"read it, columns={{{name!r}: ...}}; or estimate it, fill_weather(forecast, ...); or "
                f"weather.drop_vars({name!r}), if it can be done without",
            )
            continue
        theirs, ours = ({str(dim) for dim in one[name].dims} - {"member"} for one in (forecast, weather))
        if theirs != ours:
            faults.add(
                f"forecast, {name}",
                "has other dimensions than in the weather",
                value=", ".join(sorted(theirs)),
                allowed=", ".join(sorted(ours)),
                mend="give the forecast for the labels of the weather, each with its own",
            )


def _check_place(forecast: xr.Dataset, weather: xr.Dataset, faults: Faults) -> None:
    """Check that a forecast is for the surface and the place of the weather."""
    surfaces = [one["et_ref"].attrs.get("surface") for one in (weather, forecast) if "et_ref" in one]
    if "et_ref" in weather and len(set(surfaces)) > 1:
        faults.add(
            "forecast, et_ref",
            "is of another surface than in the weather",
            value=repr(surfaces[1]),
            allowed=repr(surfaces[0]),
        )
    for name in _SITE:
        if name not in weather or name not in forecast:
            continue
        ours, theirs = (one[name].reset_coords(drop=True) for one in (weather, forecast))
        if not bool((ours == theirs).all()):
            faults.add(
                f"forecast, {name}",
                "is not that of the weather",
                value=brief(theirs.values.tolist()),
                allowed=brief(ours.values.tolist()),
                mend="take the forecast of the same place, and read it with the place of the weather",
            )


def _check_span(
    forecast: xr.Dataset, weather: xr.Dataset, last: pd.Timestamp, past_years: bool, faults: Faults
) -> None:
    """Check that a forecast begins on the first day ahead, goes as far as it must, and has every value."""
    observed, time = weather.indexes["time"][-1], forecast.indexes["time"]
    ahead = observed + _DAY
    if time[0] != ahead:
        mend = f"give the days from {ahead:%Y-%m-%d} on, observed or forecast"
        if time[0] < ahead:
            mend = f'forecast.sel(time=slice("{ahead:%Y-%m-%d}", None)): what was observed stands'
        if time[-1] < ahead:
            mend = "take a newer forecast, or leave it out"
        faults.add(
            "forecast",
            "leaves days out after the last observation" if time[0] > ahead else "overlaps the observations",
            value=f"{time[0]:%Y-%m-%d} to {time[-1]:%Y-%m-%d}",
            allowed=f"from {ahead:%Y-%m-%d} on",
            mend=mend,
        )
        return
    if not past_years and time[-1] < last:
        faults.add(
            "until",
            "lies after the end of the forecast",
            value=f"{last:%Y-%m-%d}",
            allowed=f"{time[-1]:%Y-%m-%d} or earlier",
            mend="past_years=True takes the days after it from past years",
        )
    if past_years and time[-1] >= last:
        faults.add(
            "past_years",
            "has no days to fill: the forecast reaches until, and all members would be the same",
            value=f"forecast to {time[-1]:%Y-%m-%d}, until {last:%Y-%m-%d}",
            mend="past_years=False, or a later until",
        )
    used = forecast if pd.isna(last) else forecast.sel(time=slice(None, last))
    for name in series_of(weather):
        if name in used:
            missing = Faults()
            complete(used[name].fillna(0.0).where(known(used, name)), missing, f"forecast, {name}")
            for fault in missing:
                faults.add(
                    fault.what,
                    fault.problem,
                    where=fault.where,
                    value=fault.value,
                    count=fault.count,
                    mend="fill it, or cut the forecast before that day: past years go on from there",
                )
