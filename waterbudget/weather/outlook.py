"""The days after the last observation: from a forecast, from past years of the record, or both.

A past year lends its own days as they followed one another, with all their variables and for all labels
together, so that hot days stay dry days and neighbours share their weather.
"""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.errors import InputError, collect
from waterbudget.variables import attributes
from waterbudget.weather.flags import GIVEN, is_flag, with_flags
from waterbudget.weather.methods import method_attributes
from waterbudget.weather.options import WEATHER
from waterbudget.weather.outlook_checks import TAKEN, checked, series_of
from waterbudget.weather.past_years import FURTHEST, Member, Past, choose, lend, look_up
from waterbudget.weather.reference import CODES, reference_et
from waterbudget.weather.ways import HUMIDITY, RELATIVE, SATURATION, humidity_as

_FEW_YEARS = 10
"""Distinct years below which the text says that extremes are missing (common practice, no source)."""

_SHOWN = 10
"""Labels whose totals are written out one by one."""

_DAY = pd.Timedelta(days=1)


def outlook(
    weather: xr.Dataset,
    *,
    until: Any,
    forecast: xr.Dataset | None = None,
    past_years: bool = True,
    members: int | None = None,
    seed: int | None = None,
) -> xr.Dataset:
    """Give weather for the days after the last observation, from a forecast, from past years, or both.

    Each member is one way in which the days ahead may go. Go on from a season of the observed weather
    with ``simulate(ahead, ..., state=season.isel(time=-1))``: every member begins with the same state.

    Parameters
    ----------
    weather : Dataset
        Observed daily weather as `read_weather` gives it, up to the last day known and back as many
        years as there are. It may also hold ``runoff``.
    until : date
        Last day ahead; later than the last day of `weather`.
    forecast : Dataset, optional
        Read by `read_weather`, from the day after the last day of `weather` on: the variables, labels and
        place of `weather`, without a gap; humidity in any measure (relative
        humidity made of another is limited to 100 %). What it lacks `fill_weather` can
        estimate. Its days after `until`, and variables that `weather` has not, are not used; the attributes
        say so. It may have ``member`` where `past_years` is False.
    past_years : bool
        Whether days after the forecast, or all days without one, are those of past years. If False the
        forecast must reach `until`.
    members : int, optional
        How many members, 1 or more. Without it every complete past year is one, in order and as it was. With
        it past years are drawn: each once before any twice; a year used again is shifted by
        1 to 7 whole days either way, differently each time (common practice, no source). So 15 members
        for each complete year are the most there can be.
    seed : int, optional
        0 or more: needed with `members`, so that the draw can be repeated, and refused without.

    Returns
    -------
    Dataset
        The variables of `weather` on ``time``, ``member`` and their own labels, from the day after its
        last day to `until`, with its attributes and those of its coordinates that do not vary in time.
        ``member`` is the past year, or with `members` 1, 2, ...; 1 for a forecast alone. Past years
        have the coordinates ``past_year``, the year of the first day taken, and ``shift`` [day]:
        the day taken less the day ahead, within the year. Every variable but ``runoff`` has its flags:
        ``forecast`` or ``past_year``, whatever flag the value had before.

        ``attrs["outlook"]`` says in words what the members are, how far their spread can be trusted, and
        the range of total rain and reference evapotranspiration over them; ``attrs["years_left_out"]``
        names the years that are not complete, with the reason.

    Raises
    ------
    InputError
        With every fault: `until` that is no day ahead, a forecast that leaves a gap, overlaps, ends before
        `until` or does not match, values out of range, weather that has members already, no past year
        that is complete, more members than can be made, `members` without `seed` or `seed` without
        `members`.

    Notes
    -----
    A past year is used when the record has all values on the same calendar days, for all variables and
    labels, up to the last observation at most. Days ahead that cross New Year go on into the next year of
    the record. 29 February ahead is 28 February in a year that has none; 29 February of a past year
    that is not needed is passed over. Nothing later than the days taken has any influence: what was observed
    in the running season stands in its state alone.

    Examples
    --------
    >>> season = simulate(weather.sel(time=slice("2015-05-01", None)), crop, soil, system, rule)
    >>> ahead = outlook(weather, until="2015-09-30")
    >>> seasons = simulate(ahead, crop, soil, system, rule, state=season.isel(time=-1))
    >>> seasons["irrigation_net"].sum("time").quantile([0.1, 0.5, 0.9], "member")
    """
    if isinstance(forecast, xr.Dataset) and isinstance(weather, xr.Dataset):
        forecast = _humidity_as_in(weather, forecast)
    last = checked(weather, until, forecast, (past_years, members, seed))
    if "et_ref" in weather and any(CODES in one.variables for one in (weather, forecast or weather)):
        weather = _with_methods(weather)
        forecast = None if forecast is None else _with_methods(forecast)
    names = [*series_of(weather), *([CODES] if CODES in weather.data_vars else [])]
    record = pd.DatetimeIndex(weather.indexes["time"])
    time = pd.date_range(record[-1] + _DAY, last, freq="D").as_unit(record.unit)
    days, parts, left_out = time, [], ""
    said = [f"Days after the last observation, of {record[-1]:%Y-%m-%d}."]
    if forecast is not None:
        told = forecast[names].sel(time=slice(None, last)).reset_coords(drop=True)
        days = time[told.sizes["time"] :]
        parts.append(told)
        said += _said_of_forecast(forecast, told, names)
    if past_years:
        past = look_up(weather[names], days)
        with collect() as faults:
            chosen = choose(past, members, seed, faults)
        parts.append(lend(weather[names], past, chosen, numbered=members is not None))
        left_out = past.reasons()
        said += _said_of_years(past, chosen, seed)
    ahead = _joined(weather, parts, names).assign_coords(time=("time", time, weather["time"].attrs))
    lent = ahead["time"].isin(days)
    for name in names:
        if name in WEATHER:
            ahead = with_flags(ahead, name, ~lent, "forecast")
            ahead = with_flags(ahead, name, lent, "past_year")
    said += _said_of_totals(ahead)
    if CODES in ahead:
        codes = ahead[CODES].astype(np.int8).assign_attrs(method_attributes())
        ahead = ahead.assign_coords({CODES: codes})
    return ahead.assign_attrs(outlook=" ".join(said), years_left_out=left_out or "none")


def _humidity_as_in(weather: xr.Dataset, forecast: xr.Dataset) -> xr.Dataset:
    """Give a forecast the measures of humidity that the weather has, from the one that it has itself.

    Relative humidity is limited to saturation: a dew point above tmin is no fault of a forecast.
    """
    there = {str(name): data for name, data in forecast.data_vars.items() if data.dtype.kind in "fiu"}
    made = {}
    for name in HUMIDITY:
        values = humidity_as(name, there) if name in weather and name not in forecast else None
        if values is not None:
            values = values.clip(max=SATURATION) if name in RELATIVE else values
            made[name] = values.assign_attrs(attributes(name))
    return forecast.assign(made)


def _with_methods(weather: xr.Dataset) -> xr.Dataset:
    """Let the code of the method stand beside each value of `et_ref`, a series continued like it."""
    codes = weather[CODES].reset_coords(drop=True) if CODES in weather.variables else xr.DataArray(GIVEN)
    series = codes.broadcast_like(weather["et_ref"]).reset_coords(drop=True).astype(np.float64)
    return weather.drop_vars(CODES, errors="ignore").assign({CODES: series})


def _joined(weather: xr.Dataset, parts: list[xr.Dataset], names: list[str]) -> xr.Dataset:
    """Set the parts one after the other into what the weather has that does not vary in time."""
    last = parts[-1]  # past years and an ensemble forecast have members; a single forecast is one for all
    members = {name: coord for name, coord in last.coords.items() if coord.dims == ("member",)}
    members = members or {"member": xr.DataArray([1], dims="member")}
    along = xr.concat(
        [part.reset_coords(drop=True) for part in parts],
        dim="time",
        join="exact",
        coords="minimal",
        compat="override",
        combine_attrs="drop_conflicts",
    )
    # The weather may itself be a member of an earlier outlook, joined to what was observed before it.
    old = [name for name in weather.variables if is_flag(name) or name in ("member", "past_year", "shift")]
    ahead = weather.drop_vars(old).drop_dims("time").assign_coords(members)
    for name in names:
        labels = (dim for dim in weather[name].dims if dim != "time")
        series = along[name]
        if "member" not in series.dims:
            series = series.expand_dims(member=ahead["member"].values)
        series = series.transpose("time", "member", *labels)
        ahead[name] = (series.dims, series.values.copy(), series.attrs)
    return ahead


def _said_of_forecast(forecast: xr.Dataset, told: xr.Dataset, names: list[str]) -> list[str]:
    """Say which days are the forecast's, and what of it is not used."""
    time = told.indexes["time"]
    source = f" ({forecast.attrs['source']})" if "source" in forecast.attrs else ""
    said = [f"{time[0]:%Y-%m-%d} to {time[-1]:%Y-%m-%d} are of the forecast{source}."]
    if "member" in forecast.dims:
        said.append(f"Its {forecast.sizes['member']} members are as it has them: the spread is its own.")
    else:
        said.append(
            "These days are the same in every member: they have no spread, which does not mean that the "
            "forecast is sure."
        )
    later = forecast.sizes["time"] - time.size
    if later:
        said.append(f"{later} later days of the forecast are not used.")
    more = [str(name) for name in forecast.data_vars if name not in names and name in TAKEN]
    if more:
        said.append(f"Not used of the forecast, as the weather has none: {', '.join(more)}.")
    return said


def _said_of_years(past: Past, chosen: list[Member], seed: int | None) -> list[str]:
    """Say from how many years the members are, and how far their spread can be trusted."""
    begin, end = past.days[[0, -1]]
    uses = Counter(sorted(member.year for member in chosen))
    years = ", ".join(f"{year}" if uses[year] == 1 else f"{year} {uses[year]} times" for year in uses)
    drawn = "" if seed is None else f", drawn from {_count(len(past.back), 'complete year')} with seed {seed}"
    said = [
        f"{begin:%Y-%m-%d} to {end:%Y-%m-%d} are the same calendar days of past years: "
        f"{_count(len(chosen), 'member')} from {_count(len(uses), 'distinct year')} ({years}){drawn}.",
        "The spread is that of these years alone.",
    ]
    shifted = sum(member.shift != 0 for member in chosen)
    if shifted:
        said.append(
            f"{_count(shifted, 'member')} of a year used again, shifted by 1 to {FURTHEST} days: not "
            "independent of the others of that year, and no more is known of the spread by them."
        )
    if len(uses) < _FEW_YEARS:
        said.append(f"With fewer than {_FEW_YEARS} distinct years extremes are not in it.")
    short = sorted({member.year for member in chosen if past.lacks_leap_day(member)})
    if short:
        said.append(f"29 February is 28 February of years that have none: {', '.join(map(str, short))}.")
    return said


def _said_of_totals(ahead: xr.Dataset) -> list[str]:
    """Give the range of total rain and reference evapotranspiration over the members."""
    totals = {}
    if "rain" in ahead:
        totals["rain"] = ahead["rain"].sum("time", skipna=False)
    surface: Any = ahead["et_ref"].attrs.get("surface") if "et_ref" in ahead else "short"
    try:
        totals["et_ref"] = reference_et(ahead, surface=surface).sum("time", skipna=False)
    except InputError:  # the weather is not enough for it, and need not be
        pass
    return [
        f"Total {name}, from the lowest to the highest member: {_ranges(total)}."
        for name, total in totals.items()
        if not bool(total.isnull().any())
    ]


def _ranges(total: xr.DataArray) -> str:
    """Write the range over members for each label; over all of them where there are many."""
    low, high = total.min("member"), total.max("member")
    if low.size > _SHOWN:
        return f"{_range(float(low.min()), float(high.max()))}, over all labels"
    texts = []
    for at in np.ndindex(low.shape):
        labels = ", ".join(str(low.indexes[dim][i]) for dim, i in zip(low.dims, at, strict=True))
        texts.append(f"{labels} {_range(float(low.values[at]), float(high.values[at]))}".strip())
    return "; ".join(texts)


def _range(low: float, high: float) -> str:
    return f"{low:.0f} mm" if low == high else f"{low:.0f} to {high:.0f} mm"


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"
