"""Any source of weather brought to canonical names, still in its own units.

A text table or DataFrame with several stations is laid out on ``(time, station)``; a Dataset keeps its
labelled dimensions.
"""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.checks import labelled
from waterbudget.errors import Faults
from waterbudget.weather import cf
from waterbudget.weather.axis import in_days
from waterbudget.weather.flags import are_ours, flag_faults, flag_name, flags_of, note_foreign
from waterbudget.weather.layout import TableLayout
from waterbudget.weather.naming import pick
from waterbudget.weather.options import Options, Source
from waterbudget.weather.rows import from_table
from waterbudget.weather.tables import from_frame, to_numbers
from waterbudget.weather.text import read_text


def load(source: Source, options: Options, faults: Faults) -> xr.Dataset | None:
    """Bring any source to a Dataset of canonical names, still in its own units.

    Parameters
    ----------
    source : str, path-like, DataFrame or Dataset
        As in `waterbudget.weather.read_weather`.
    options : Options
    faults : Faults
        Every fault found is noted here.

    Returns
    -------
    Dataset or None
        None when nothing can be read at all. ``attrs["heading"]`` of a variable is the source's own name;
        ``"rain_stated"`` holds the amounts that codes stand for, where there are any.
    """
    units: dict[str, str] = {}
    if isinstance(source, str | os.PathLike) and Path(source).suffix.casefold() in cf.SUFFIXES:
        opened = cf.open_dataset(source, faults)
        if opened is None:
            return None
        source = opened
    if isinstance(source, xr.Dataset):
        return _from_dataset(source, options, faults)
    if isinstance(source, pd.DataFrame):
        _note_useless(options.layout, faults)
        table = from_frame(source, options.columns.get("time"))
    elif isinstance(source, str | os.PathLike):
        written = read_text(source, options.layout, faults)
        if written is None:
            return None
        table, units = written
    else:
        faults.add(
            "source",
            "cannot be read",
            value=type(source).__name__,
            allowed="the path of a text table, of NetCDF or Zarr, a DataFrame or a Dataset",
        )
        return None
    return from_table(table, units, options, faults)


def _note_useless(layout: TableLayout, faults: Faults) -> None:
    useless = layout.of_text_alone()
    if useless:
        allowed = "decimal, date_format, exchanged_dates"
        faults.add("layout", "says what only a text file has", value=", ".join(useless), allowed=allowed)


def _from_dataset(source: xr.Dataset, options: Options, faults: Faults) -> xr.Dataset | None:
    """Take the weather out of a Dataset; its labelled dimensions stay."""
    sites = cf.site_names(source)
    own_time = options.columns.get("time", cf.time_name(source))
    other = {*sites.values(), *sites} | ({"date"} if "time" in source.dims else set())
    names = [name for name in {**source.sizes, **source.variables} if name not in other]
    settled = {*options.columns, *map(str, source.data_vars)}
    meaning = cf.names_of(source, own_time, options.sub_daily is not None, settled, faults)
    meaning["time"] = own_time
    claims = options._replace(columns={"time": own_time, **options.columns})
    found = pick(names, claims if own_time in names else options, faults, meaning)
    own_time = found.get("time", "time")
    if own_time not in source.dims or own_time not in source.indexes:
        faults.add(
            "weather, time",
            "is no dimension with dates",
            value=f"dimensions {', '.join(str(dim) for dim in source.dims) or 'none'}",
            mend='name it by columns={"time": "their name"}, or .assign_coords(time=...)',
        )
        return None
    dims = {found[name]: name for name in ("time", "station") if found.get(name) in source.dims}
    # An index keeps what an array of its values would lose: the time zone.
    coords = {dims.get(dim, dim): source.indexes[dim] for dim in source.dims if dim in source.indexes}
    days = coords["time"]
    if isinstance(days, xr.CFTimeIndex):
        faults.add(
            "weather, time",
            "is of a calendar that is not ours",
            value=days.calendar,
            allowed="the standard calendar, with 29 February",
            mend='.convert_calendar("standard"), and look at the days that this adds',
        )
        return None
    if options.sub_daily is None and isinstance(days, pd.DatetimeIndex):
        by_bounds = cf.days_by_bounds(source, own_time)
        days = days if by_bounds is None else by_bounds
    coords["time"] = days.as_unit("ns") if isinstance(days, pd.DatetimeIndex) else days
    raw = xr.Dataset(
        coords={dim: (dim, index.rename(dim)) for dim, index in coords.items()}, attrs=source.attrs
    )
    for name in options.names():
        if name not in found or found[name] not in source.variables:
            continue
        data = source[found[name]]
        if own_time not in data.dims:
            faults.add(name, "does not vary in time", mend=f"give a value for each day on {own_time!r}")
            continue
        flat = pd.Series(data.values.ravel(), index=pd.RangeIndex(1, data.size + 1, name="value"))
        numbers = to_numbers(flat, name, faults, options.codes(name))
        own_dims = [dims.get(dim, dim) for dim in data.dims]
        by_meaning = found[name] == meaning.get(name) and found[name] != options.columns.get(name)
        attrs = {**data.attrs, "heading": found[name], "by_meaning": by_meaning}
        height = cf.height_of(data)
        if height is not None:
            attrs["measured_at"] = height
        raw[name] = (own_dims, numbers.values.reshape(data.shape), attrs)
        raw[name] = raw[name].transpose("time", ...)
        if not np.isnan(numbers.stated).all():
            raw[f"{name}_stated"] = (own_dims, numbers.stated.reshape(data.shape))
        flag = flag_name(name)
        if flag in source and options.sub_daily is None and options.columns.get(flag, flag) is not None:
            if flag in options.columns or are_ours(source[flag]):
                raw[flag] = flags_of(source, name).rename(dims).transpose("time", ...)
            else:
                note_foreign(flag, faults)
    for name, own in sites.items():
        site = source[own]
        raw.coords[name] = ([dims.get(dim, dim) for dim in site.dims], site.values, site.attrs)
    flag_faults(raw, faults)
    raw = in_days(raw, options, faults)
    labelled({"weather": raw}, faults)
    return raw
