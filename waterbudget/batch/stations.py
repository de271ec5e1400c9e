"""Read the stations of a farm folder: reference evapotranspiration and rain of each."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from pathlib import Path
from typing import Literal, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.batch.tables import Heading, Row, read_headings, read_table
from waterbudget.errors import Fault, Faults, InputError
from waterbudget.variables import attributes
from waterbudget.weather import read_weather, reference_et

_SURFACES: Mapping[str, Literal["short", "tall"]] = {"et_ref_short": "short", "et_ref_tall": "tall"}
_PASSED_OVER = ("date", "note", "runoff")
_FOLLOWED = ("tmin", "tmax", "rain_intensity")
"""Beside reference evapotranspiration and rain: what a crop or soil may follow, day by day."""
_IN_FILES = (
    ("misses days", "add the missing rows to {file}"),
    ("is not in order of date", "sort the rows of {file} by date"),
    ("is not midnight", "write the date alone; data in smaller steps must be made daily first"),
    ("holds what is no date", "write year, month, day: 2025-05-12"),
    ("holds dates", "write year, month, day: 2025-05-12"),
    ('file\'s code for "missing"', "leave these cells of {file} blank"),
    ("is missing", "give it in stations.csv, or a column of reference evapotranspiration in {file}"),
)
"""Problems that `read_weather` mends in Python, and how they are mended in a file."""


class Station(NamedTuple):
    """A weather station.

    Attributes
    ----------
    weather : Dataset or None
        ``et_ref`` and ``rain`` [mm day-1] on ``time``, and what else the file has of ``tmin``, ``tmax``
        [degC], ``rain_intensity`` [mm h-1] and ``runoff`` [mm day-1]; None when the station is at fault.
    climate : (wind, rhmin)
        Stage means stated for its site [m s-1], [%]; None where not stated.
    faults : tuple of Fault
    """

    weather: xr.Dataset | None
    climate: tuple[float | None, float | None]
    faults: tuple[Fault, ...]


def read_stations(folder: Path, rows: list[Row], today: np.datetime64 | None) -> dict[str, Station]:
    """Read every station of ``stations.csv`` with its weather.

    Parameters
    ----------
    folder : Path
    rows : list of Row
        The lines of ``stations.csv``.
    today : datetime64 or None
        Must lie within the weather, when given.

    Returns
    -------
    dict of str to Station
        A station at fault has its faults, and no weather.
    """
    return {row.text("station"): _station(folder, row, today) for row in rows}


def _station(folder: Path, row: Row, today: np.datetime64 | None) -> Station:
    name = row.text("station")
    faults, noted = Faults(), Faults()
    numbers = {
        stem: row.number(stem, noted)
        for stem in ("latitude", "elevation", "wind_height", "climate_wind", "climate_rhmin")
    }
    faults.extend(tuple(noted), f"stations.csv, {name}, ")
    path = folder / f"weather_{name}.csv"
    headings = read_headings(path, "weather", faults) if path.is_file() else None
    if not path.is_file():
        faults.add(path.name, "is missing from the folder", mend="name the file after the station")
    weather = None if headings is None or noted else _weather(path, headings, numbers, faults)
    if weather is not None:
        _check_today(path.name, weather, today, faults)
    climate = (numbers["climate_wind"], numbers["climate_rhmin"])
    return Station(None if faults else weather, climate, tuple(faults))


def _weather(
    path: Path, headings: Mapping[str, Heading], numbers: Mapping[str, float | None], faults: Faults
) -> xr.Dataset | None:
    """Read a station's file and work out its reference evapotranspiration."""
    given = [stem for stem in _SURFACES if stem in headings]
    if len(given) > 1:
        faults.add(
            path.name, "has reference evapotranspiration of both surfaces", mend="keep one of the columns"
        )
        return None
    canonical = {
        "et_ref" if stem in _SURFACES else stem: heading
        for stem, heading in headings.items()
        if stem not in _PASSED_OVER
    }
    if "rain" not in canonical:
        faults.add(path.name, "has no column of rain", mend="add rain_mm or rain_in, 0 where it was dry")
    wind_height = numbers["wind_height"]
    try:
        weather = read_weather(
            path,
            latitude=numbers["latitude"],
            elevation=numbers["elevation"],
            columns={name: heading.text for name, heading in canonical.items()} | {"time": "date"},
            units={name: heading.unit for name, heading in canonical.items()},
            wind_height=2.0 if wind_height is None else wind_height,
            et_ref_surface=_SURFACES[given[0]] if given else None,
        )
        if "rain" not in weather:
            return None
        surface = _SURFACES[given[0]] if given else "short"
        et_ref = reference_et(weather, surface=surface)
    except InputError as error:
        faults.extend(tuple(_mended(fault, path.name) for fault in error.faults), f"{path.name}, ")
        return None
    if "wind" in weather and wind_height is None:
        faults.add(
            "stations.csv, wind_height", "is missing", mend="give the height of the anemometer, such as 2 m"
        )
    _check_gaps(path.name, weather, et_ref, faults)
    kept = {"et_ref": et_ref, "rain": weather["rain"]}
    kept |= {name: weather[name] for name in _FOLLOWED if name in weather}
    if "runoff" in headings:
        kept["runoff"] = _runoff(path, weather["time"], faults)
    method = et_ref["et_ref_method"].drop_vars("et_ref_method")  # so that a season says how it was worked out
    made = xr.Dataset(kept).reset_coords(drop=True).assign(et_ref_method=method)
    return made.assign_attrs(weather.attrs)


def _runoff(path: Path, time: xr.DataArray, faults: Faults) -> xr.DataArray:
    """Read a column of runoff, which is no weather; the file's days are known to be in order."""
    noted = Faults()
    values = []
    for row in read_table(path, "weather", noted):
        depth = row.number("runoff", noted)
        if not row.text("runoff"):
            noted.add("runoff", "is blank", where=f"line {row.line}", mend="write 0 on days without runoff")
        elif depth is not None and depth < 0:
            noted.add("runoff", "is negative", where=f"line {row.line}", value=row.text("runoff"))
        values.append(np.nan if depth is None else depth)
    faults.extend(tuple(noted), f"{path.name}, ")
    return xr.DataArray(
        np.array(values, dtype=np.float64), dims="time", coords={"time": time}, attrs=attributes("runoff")
    )


def _mended(fault: Fault, file: str) -> Fault:
    """Say how a fault is mended by one who has files and no Python."""
    for problem, mend in _IN_FILES:
        if problem in fault.problem:
            return dataclasses.replace(fault, mend=mend.format(file=file))
    return fault


def _check_gaps(file: str, weather: xr.Dataset, et_ref: xr.DataArray, faults: Faults) -> None:
    """Note days on which a value is missing that the balance needs."""
    for what, data in (("reference evapotranspiration", et_ref), ("rain", weather["rain"])):
        gaps = np.flatnonzero(np.isnan(data.to_numpy()))
        if gaps.size:
            day = weather.isel(time=int(gaps[0]))
            blank = [
                str(name)
                for name in weather.data_vars
                if name != "rain_intensity" and np.isnan(float(day[name]))
            ]
            faults.add(
                file,
                f"has days without {what}",
                where=str(day["time"].to_numpy())[:10],
                value=f"blank: {', '.join(blank)}" if blank else "",
                count=int(gaps.size),
                mend="fill the gaps by a published procedure (as fill_weather does), and keep a note of it",
            )


def _check_today(file: str, weather: xr.Dataset, today: np.datetime64 | None, faults: Faults) -> None:
    """Note a day of planning that lies outside the weather."""
    days = pd.DatetimeIndex(weather["time"].values)
    if today is not None and not days[0] <= pd.Timestamp(today) <= days[-1]:
        faults.add(
            file,
            "does not hold the day from which the week ahead is planned",
            value=str(today)[:10],
            allowed=f"{days[0]:%Y-%m-%d} to {days[-1]:%Y-%m-%d}",
            mend="add rows of forecast or of a mean year from that day on",
        )
