"""NetCDF and Zarr by the CF conventions: what a variable is, by its standard name and cell methods.

Names of the CF standard name table; what a name does not settle (which of two temperatures, which of
two radiations) is asked.
"""

from __future__ import annotations

import os
import re
from collections.abc import Collection, Hashable, Mapping
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.errors import Faults
from waterbudget.units import UnitError, convert

SUFFIXES = (".nc", ".nc4", ".cdf", ".zarr")
"""Endings of paths that are read by xarray and not as text."""

_QUANTITIES: Mapping[str, str] = {
    "dew_point_temperature": "dewpoint",
    "water_vapor_partial_pressure_in_air": "vapour_pressure",
    "surface_air_pressure": "pressure",
    "air_pressure": "pressure",
    "wind_speed": "wind",
    "surface_downwelling_shortwave_flux_in_air": "solar",
    "integral_wrt_time_of_surface_downwelling_shortwave_flux_in_air": "solar",
    "duration_of_sunshine": "sunshine",
    "precipitation_flux": "rain",
    "precipitation_amount": "rain",
    "lwe_precipitation_rate": "rain",
    "lwe_thickness_of_precipitation_amount": "rain",
    "rainfall_flux": "rain",
    "rainfall_rate": "rain",
    "rainfall_amount": "rain",
    "thickness_of_rainfall_amount": "rain",
}
_OF_DAYS: Mapping[tuple[str, str], str] = {
    ("air_temperature", "minimum"): "tmin",
    ("air_temperature", "maximum"): "tmax",
    ("relative_humidity", "minimum"): "rhmin",
    ("relative_humidity", "maximum"): "rhmax",
    ("relative_humidity", "mean"): "rhmean",
}
_OF_STEPS: Mapping[str, str] = {"air_temperature": "temperature", "relative_humidity": "relative_humidity"}
_SITES: Mapping[str, str] = {
    "latitude": "latitude",
    "height_above_mean_sea_level": "elevation",
    "surface_altitude": "elevation",
    "altitude": "elevation",
}
_DEGREES_NORTH = (
    "degrees_north",
    "degree_north",
    "degree_N",
    "degrees_N",
    "degreeN",
    "degreesN",
)
_METHOD = re.compile(r"\btime\s*:\s*(\w+)")


def open_dataset(path: str | os.PathLike[str], faults: Faults) -> xr.Dataset | None:
    """Read a NetCDF file or a Zarr store whole; None, with a fault, where that cannot be done.

    Raises
    ------
    OSError
        When there is no such file, or it may not be read.
    """
    place = Path(path)
    if not place.exists():
        raise FileNotFoundError(2, os.strerror(2), str(path))
    try:
        if place.suffix == ".zarr":
            opened: xr.Dataset = xr.open_zarr(place, decode_timedelta=False, chunks=None)
        else:
            opened = xr.open_dataset(place, decode_timedelta=False)
        with opened:
            return opened.load()
    except (ValueError, ImportError) as error:
        extra = "zarr" if place.suffix == ".zarr" else "netcdf"
        faults.add(
            f"file {path}",
            "cannot be read",
            value=str(error).splitlines()[0],
            allowed="NetCDF and Zarr that xarray can open",
            mend=f'pip install "waterbudget[{extra}]", if the reader is missing',
        )
        return None


def names_of(
    source: xr.Dataset, time: Hashable, steps: bool, settled: Collection[str], faults: Faults
) -> dict[str, Hashable]:
    """Find variables by their standard names.

    Parameters
    ----------
    source : Dataset
    time : hashable
        Its dimension of time; variables without it are passed over.
    steps : bool
        Whether its steps are shorter than a day.
    settled : collection of str
        Canonical names that need not be found by meaning.
    faults : Faults
        Takes a quantity that several variables claim to be.

    Returns
    -------
    dict
        Canonical name to the source's own.
    """
    found: dict[str, list[Hashable]] = {}
    for own, data in source.data_vars.items():
        name = _meaning(data, steps) if time in data.dims else None
        if name is not None and name not in settled:
            found.setdefault(name, []).append(own)
    for name, several in found.items():
        if len(several) > 1:
            shown = ", ".join(map(str, several))
            faults.add(
                f"{name}",
                "may be more than one variable by its standard name: which is it?",
                value=shown,
                count=len(several),
                mend=f"columns={{{name!r}: {several[0]!r}}}",
            )
    return {name: several[0] for name, several in found.items() if len(several) == 1}


def _meaning(data: xr.DataArray, steps: bool) -> str | None:
    standard = data.attrs.get("standard_name", "")
    if standard in _QUANTITIES:
        return _QUANTITIES[standard]
    methods = _METHOD.findall(str(data.attrs.get("cell_methods", "")))
    for method in methods:
        if (standard, method) in _OF_DAYS and not (steps and method == "mean"):
            return _OF_DAYS[standard, method]
    return _OF_STEPS.get(standard) if steps else None


def site_names(source: xr.Dataset) -> dict[str, Hashable]:
    """Find latitude and elevation: by their own names, else by standard name."""
    found: dict[str, Hashable] = {}
    for own, data in source.variables.items():
        name = _SITES.get(str(data.attrs.get("standard_name", "")))
        if str(data.attrs.get("units", "")) in _DEGREES_NORTH:  # by which CF knows a latitude
            name = "latitude"
        if name is not None and name not in found:
            found[name] = own
    return found | {name: name for name in ("latitude", "elevation") if name in source.variables}


def time_name(source: xr.Dataset) -> Hashable:
    """Find the dimension of time: ``time``, else the one whose standard name says so."""
    if "time" in source.dims:
        return "time"
    named = [dim for dim in source.dims if source[dim].attrs.get("standard_name") == "time"]
    return named[0] if len(named) == 1 else "time"


def days_by_bounds(source: xr.Dataset, time: Hashable) -> pd.DatetimeIndex | None:
    """Give the days that the bounds of the times say; None where they are not from midnight to midnight."""
    bounds = source.get(str(source[time].attrs.get("bounds", "")))
    if bounds is None or bounds.ndim != 2 or bounds.dtype.kind != "M":
        return None
    edges = bounds.transpose(time, ...).values
    starts, ends = pd.DatetimeIndex(edges[:, 0]), pd.DatetimeIndex(edges[:, 1])
    whole = bool((starts == starts.normalize()).all() and (ends - starts == np.timedelta64(1, "D")).all())
    return starts.as_unit("ns") if whole else None


def height_of(data: xr.DataArray) -> float | None:
    """Read the height at which a variable was measured, where a scalar coordinate says it [m]."""
    for coordinate in data.coords.values():
        if coordinate.size == 1 and coordinate.attrs.get("standard_name") == "height":
            try:
                return convert(
                    float(coordinate.values.ravel()[0]), str(coordinate.attrs.get("units", "m")), "m"
                )
            except UnitError:  # nothing that tells a height
                return None
    return None
