"""Any source of weather brought to canonical names, still in its own units.

A CSV file or DataFrame with several stations is laid out on ``(time, station)``; a Dataset keeps its
labelled dimensions. What cannot be laid out stays on its rows, so that its values can still be
checked; there is a fault then, and nothing is handed to the user.
"""

from __future__ import annotations

import os
from collections.abc import Hashable, Iterable, Mapping, Sequence

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.checks import labelled, time_axis
from waterbudget.errors import Faults
from waterbudget.variables import VARIABLES
from waterbudget.weather.tables import DATE_COLUMNS, from_frame, nearest, read_csv, to_dates, to_numbers

Source = str | os.PathLike[str] | pd.DataFrame | xr.Dataset

WEATHER = tuple(name for name, variable in VARIABLES.items() if variable.kind == "weather")
"""Canonical names of the weather variables."""


def load(source: Source, columns: Mapping[str, Hashable], faults: Faults) -> xr.Dataset | None:
    """Bring any source to a Dataset of canonical names, still in its own units.

    Parameters
    ----------
    source : str, path-like, DataFrame or Dataset
        As in `waterbudget.weather.read_weather`.
    columns : mapping of str to str
        Canonical name to the source's own.
    faults : Faults
        Every fault found is noted here.

    Returns
    -------
    Dataset or None
        None when nothing can be read at all. ``attrs["heading"]`` of a variable is the source's own name.
    """
    if isinstance(source, xr.Dataset):
        return _from_dataset(source, columns, faults)
    if isinstance(source, pd.DataFrame):
        table: pd.DataFrame | None = from_frame(source, columns.get("time"))
    elif isinstance(source, str | os.PathLike):
        table = read_csv(source, faults)
    else:
        faults.add(
            "source",
            "cannot be read",
            value=type(source).__name__,
            allowed="a CSV path, DataFrame or Dataset",
        )
        return None
    return None if table is None else _from_table(table, columns, faults)


def _pick(names: Sequence[Hashable], columns: Mapping[str, Hashable], faults: Faults) -> dict[str, Hashable]:
    """Find the source's own name of everything that it holds."""
    found: dict[str, Hashable] = {}
    for name in (*WEATHER, "time", "station"):
        if name in columns:
            if columns[name] in names:
                found[name] = columns[name]
            else:
                faults.add(
                    f"column {columns[name]!r} for {name!r}",
                    "is not in the source",
                    allowed="one of " + ", ".join(str(own) for own in names),
                    mend=meant(columns[name], names) or "correct the name in columns=",
                )
        elif name == "time":
            found.update(_date_column(names, faults))
        elif name in names:
            found[name] = name
    used: dict[Hashable, str] = {}
    for name, own in found.items():
        if own in used:
            faults.add(f"column {own!r}", f"stands for both {used[own]!r} and {name!r}", mend="map it once")
        elif list(names).count(own) > 1:
            faults.add(f"column {own!r}", "stands in the source more than once", mend="rename all but one")
        used[own] = name
    _misspelt(names, found, faults)
    if not any(name in WEATHER for name in (*found, *columns)):
        faults.add(
            "weather",
            "has no column that is known",
            value=", ".join(str(own) for own in names),
            allowed=", ".join(WEATHER),
            mend='name yours by columns={"tmax": "their name", ...}',
        )
    return found


def _date_column(names: Sequence[Hashable], faults: Faults) -> dict[str, Hashable]:
    """Find the dates where the user did not say which column holds them."""
    known = [name for name in DATE_COLUMNS if name in names]
    if len(known) == 1:
        return {"time": known[0]}
    faults.add(
        "date column",
        "is not known: there are both 'time' and 'date'" if known else "is missing",
        value=", ".join(str(own) for own in names),
        allowed="a column 'time' or 'date', or a date index",
        mend='name it by columns={"time": "their name"}',
    )
    return {}


def _misspelt(names: Sequence[Hashable], found: Mapping[str, Hashable], faults: Faults) -> None:
    """Refuse to pass over a column that is likely to be a canonical one under another spelling."""
    taken = set(found.values())
    for own in names:
        near = [name for name in nearest(own, WEATHER)[:1] if name not in found]
        if own not in taken and near and _alike(str(own), near[0]):
            faults.add(
                f"column {own!r}",
                f"is much like {near[0]!r}, which is missing",
                mend=f"columns={{{near[0]!r}: {own!r}}}, or leave the column out if it is something else",
            )


def _alike(one: str, other: str) -> bool:
    """Tell whether two names differ by no more than case, signs and one letter in four."""
    return nearest(one.replace("_", ""), [other.replace("_", "")], cutoff=0.75) != []


def _from_dataset(source: xr.Dataset, columns: Mapping[str, Hashable], faults: Faults) -> xr.Dataset | None:
    """Take the weather out of a Dataset; its labelled dimensions stay."""
    other = {"latitude", "elevation"} | ({"date"} if "time" in source.dims else set())
    names = [name for name in {**source.sizes, **source.variables} if name not in other]
    found = _pick(names, columns, faults)
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
    coords["time"] = days.as_unit("ns") if isinstance(days, pd.DatetimeIndex) else days
    raw = xr.Dataset(coords={dim: (dim, index.rename(dim)) for dim, index in coords.items()})
    for name in WEATHER:
        if name not in found or found[name] not in source.variables:
            continue
        data = source[found[name]]
        if own_time not in data.dims:
            faults.add(name, "does not vary in time", mend=f"give a value for each day on {own_time!r}")
            continue
        flat = pd.Series(data.values.ravel(), index=pd.RangeIndex(1, data.size + 1, name="value"))
        values = to_numbers(flat, name, faults).reshape(data.shape)
        raw[name] = (
            [dims.get(dim, dim) for dim in data.dims],
            values,
            {**data.attrs, "heading": found[name]},
        )
        raw[name] = raw[name].transpose("time", ...)
    for name in ("latitude", "elevation"):
        if name in source.variables:
            site = source[name]
            raw.coords[name] = ([dims.get(dim, dim) for dim in site.dims], site.values)
    time_axis(coords["time"], faults)
    labelled({"weather": raw}, faults)
    return raw


def _from_table(table: pd.DataFrame, columns: Mapping[str, Hashable], faults: Faults) -> xr.Dataset | None:
    """Take the weather out of a table, one station or several."""
    found = _pick(list(table.columns), columns, faults)
    if len(table) == 0:
        faults.add("weather", "has no rows", allowed="a row for each day", mend="give a table with data")
        return None
    place = str(table.index.name)
    picked = {name: table[own] for name, own in found.items() if (table.columns == own).sum() == 1}
    rows = xr.Dataset(coords={place: table.index})
    for name in WEATHER:
        if name in picked:
            own = "" if found[name] == name else f" (column {found[name]!r})"
            values = to_numbers(picked[name], f"{name}{own}", faults)
            rows[name] = (place, values, {"heading": found[name]})
    times = to_dates(picked["time"], faults) if "time" in picked else None
    times = None if times is None else times.rename("time")
    if "station" not in picked:
        if times is None:
            return rows
        time_axis(times, faults)
        return rows.assign_coords({place: times.rename(place)}).rename({place: "time"})
    stations = _stations(picked["station"], faults)
    if stations is None:
        return rows
    rows = rows.assign_coords(station=(place, stations))
    if times is None or not _same_days(times, stations, faults):
        return rows  # on its rows, for the checks that follow; it is never returned
    return _unstack(rows, times)


def _stations(column: pd.Series, faults: Faults) -> pd.Index | None:
    """Read the stations' names; None when a row has none."""
    blank = np.asarray(column.isna() | (column.astype(str).str.strip() == ""))
    if blank.any():
        faults.add(
            f"station column {column.name!r}",
            "has no name",
            where=f"{column.index.name} {column.index[int(blank.argmax())]}",
            count=int(blank.sum()),
            mend="name the station in every row",
        )
        return None
    return pd.Index(column.to_numpy(dtype=object))


def _same_days(times: pd.DatetimeIndex, stations: pd.Index, faults: Faults) -> bool:
    """Check the days of each station, and that all stations have the same."""
    days = {label: times[stations == label] for label in stations.unique()}
    before = len(list(faults))
    for label, own in days.items():
        time_axis(own, faults, f"weather, station {label}")
    if len(list(faults)) > before:
        return False
    every = pd.DatetimeIndex(sorted({*times}))
    for label, own in days.items():
        missing = every.difference(own)
        if missing.size:
            faults.add(
                f"weather, station {label}",
                "has not all the days that other stations have",
                where=missing[0].strftime("%Y-%m-%d"),
                count=missing.size,
                allowed=f"{every[0]:%Y-%m-%d} to {every[-1]:%Y-%m-%d}",
                mend="cut the stations to the same days, add the days with blank values, or read each apart",
            )
    return len(list(faults)) == before


def _unstack(rows: xr.Dataset, times: pd.DatetimeIndex) -> xr.Dataset:
    """Lay stations side by side, in the order in which they first appear."""
    labels = pd.Index(rows["station"].values)
    stations = labels.unique()
    row, column = times.unique().sort_values().get_indexer(times), stations.get_indexer(labels)
    result = xr.Dataset(coords={"time": times.unique().sort_values(), "station": stations})
    for name, data in rows.data_vars.items():
        values = np.full((result.sizes["time"], result.sizes["station"]), np.nan)
        values[row, column] = data.values
        result[name] = (("time", "station"), values, data.attrs)
    return result


def meant(word: object, known: Iterable[object]) -> str:
    """Write the known names that a word is much like; empty when there is none."""
    near = nearest(word, known)
    return f"did you mean {' or '.join(repr(name) for name in near)}?" if near else ""
