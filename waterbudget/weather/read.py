"""Weather in: any column names and units by mapping, one Dataset out, every fault reported at once."""

from __future__ import annotations

import os
from collections.abc import Hashable, Mapping
from typing import Literal, NamedTuple, get_args

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from waterbudget.checks import first, in_range, labelled, quantity
from waterbudget.errors import Faults, collect
from waterbudget.units import UnitError, convert, parse_quantity
from waterbudget.variables import VARIABLES, attributes
from waterbudget.weather.atmosphere import wind_at_2m
from waterbudget.weather.doubts import value_faults
from waterbudget.weather.sources import WEATHER, Source, load, meant
from waterbudget.weather.stated import is_depth, stated_unit, usual

Surface = Literal["short", "tall"]
Site = float | str | Mapping[Hashable, float | str] | pd.Series | xr.DataArray

_LOWEST_WIND_HEIGHT = 0.1
_STANDARD_WIND_HEIGHT = 2.0
_MISSING_CODES = (-99.0, -99.9, -999.0, -999.9, -9999.0, -9999.9, 999.9, 9999.0, 9999.9)
_SITE_EXAMPLES = {"latitude": "46.2, negative in the south", "elevation": "120 or '394 ft'"}


class _Options(NamedTuple):
    """What the user said about the source."""

    columns: Mapping[str, Hashable]
    units: Mapping[str, str]
    wind_height: float
    surface: Surface | None


def read_weather(
    source: Source,
    *,
    latitude: Site | None = None,
    elevation: Site | None = None,
    columns: Mapping[str, Hashable] | None = None,
    units: Mapping[str, str] | None = None,
    wind_height: float = 2.0,
    et_ref_surface: Surface | None = None,
) -> xr.Dataset:
    """Read daily weather from a CSV file, a DataFrame or a Dataset.

    Nothing is guessed, filled, sorted or dropped: what does not fit is reported, all of it at once.
    Blank cells are NaN.

    Parameters
    ----------
    source : str, path-like, DataFrame or Dataset
        A comma-separated file with a header line, a DataFrame with a column ``time`` or ``date`` or
        with a date index, or a Dataset with a dimension ``time``. Dates are written year-month-day.
        A column ``station`` in a file or DataFrame makes several stations of it.
    latitude : float, str, mapping, Series or DataArray, optional
        Degrees north, -90 to 90; text has its unit. With several stations a number for all or a
        number for each station by its name. A Dataset may bring it as a coordinate. It may be left
        out only where `et_ref` is given.
    elevation : float, str, mapping, Series or DataArray, optional
        Height above sea level [m], or text with its unit (``"394 ft"``), given like `latitude`.
    columns : mapping of str to str, optional
        Canonical name to the source's own: ``{"tmax": "TX", "time": "day"}``. Canonical names are
        tmin, tmax, dewpoint [degC]; rhmin, rhmax, rhmean [%]; vapour_pressure, pressure [kPa];
        wind [m s-1]; solar [MJ m-2 day-1]; sunshine [h]; rain, et_ref [mm day-1]; time; station.
        Other columns are passed over, but not one whose name is a canonical name misspelt.
    units : mapping of str to str, optional
        Canonical name to the unit in the source: ``{"tmax": "degF", "rain": "in"}``. Without it a
        Dataset's own ``attrs["units"]`` holds, and else the canonical unit. An amount such as "in"
        or "MJ m-2" is that of the day. A column whose own name states another unit than the canonical
        one, such as "Precip (in)", is refused until its unit is given here: a name is not acted on.
    wind_height : float
        Height at which wind was measured [m]; it is brought to 2 m by FAO-56 Eq. 47.
    et_ref_surface : {"short", "tall"}, optional
        What `et_ref` is the evapotranspiration of: clipped grass or alfalfa. Needed with `et_ref`,
        unless a Dataset's own ``et_ref.attrs["surface"]`` says it.

    Returns
    -------
    Dataset
        float64 variables by their canonical names and in their canonical units, on ``time`` and,
        where there is one, ``station`` (a Dataset may have other labelled dimensions); coordinates
        ``latitude`` and ``elevation``.

    Raises
    ------
    InputError
        With every fault found: columns that are absent or misspelt, units that do not fit or that only
        a column's name states, text in place of numbers, dates that are not consecutive days at
        midnight without a time zone, values outside their hard range, tmin above tmax, rhmin above
        rhmax, `et_ref` without its surface, no latitude or elevation.
    OSError
        When the file is not there or may not be read.

    Examples
    --------
    >>> weather = read_weather(
    ...     "station.csv", latitude=46.2, elevation=120, columns={"tmax": "TX"}, units={"tmax": "degF"}
    ... )
    """
    options = _Options(columns or {}, units or {}, wind_height, et_ref_surface)
    with collect() as faults:
        _check_options(options, faults)
        raw = load(source, options.columns, faults)
        weather = None if raw is None else _canonical(raw, options, faults)
        sites = {}
        for name, given in (("latitude", latitude), ("elevation", elevation)):
            if given is None and raw is not None and name in raw.coords:
                given = raw[name]
            sites[name] = _site(name, given, weather, faults)
    assert weather is not None  # without a table there was a fault
    weather = weather.assign_coords({name: data for name, data in sites.items() if data is not None})
    return weather.assign_attrs(source=_describe(source))


def _describe(source: Source) -> str:
    if isinstance(source, xr.Dataset):
        return str(source.attrs.get("source", "Dataset"))
    return "DataFrame" if isinstance(source, pd.DataFrame) else f"file {os.path.basename(source)}"


def _check_options(options: _Options, faults: Faults) -> None:
    """Check what can be checked before the source is read."""
    for option, given in (("columns", options.columns), ("units", options.units)):
        allowed = (*WEATHER, "time", "station") if option == "columns" else WEATHER
        for name in given:
            if name not in allowed:
                faults.add(
                    f"{option}, {name!r}",
                    "is no canonical name",
                    allowed=", ".join(allowed),
                    mend=meant(name, allowed) or "the canonical name stands first, then your own",
                )
    height = options.wind_height
    if not _is_height(height):
        faults.add(
            "wind_height",
            "is no height of an anemometer",
            value=repr(height),
            allowed=f"a number above {_LOWEST_WIND_HEIGHT} m; FAO-56 tabulates 1 to 10 m",
        )
    if options.surface is not None and options.surface not in get_args(Surface):
        faults.add("et_ref_surface", "is unknown", value=repr(options.surface), allowed='"short" or "tall"')


def _is_height(height: object) -> bool:
    if isinstance(height, bool) or not isinstance(height, int | float | np.integer | np.floating):
        return False
    return bool(_LOWEST_WIND_HEIGHT < height < np.inf)


def _canonical(raw: xr.Dataset, options: _Options, faults: Faults) -> xr.Dataset:
    """Bring values to canonical units and check them."""
    for name in options.units:
        if name in WEATHER and name not in raw and name not in options.columns:
            faults.add(f"units, {name!r}", "is of a variable that is not in the source", mend="leave it out")
    weather = xr.Dataset(coords=raw.coords)
    believed = {}
    for name in map(str, raw.data_vars):
        values = _converted(raw[name], options.units.get(name), faults)
        weather[name] = (raw[name].dims, values, attributes(name))
        codes = _missing_codes(raw[name], weather[name], faults)
        if codes.values.any():
            believed[name] = weather[name].where(~codes)
    height = options.wind_height
    if "wind" in weather and _is_height(height) and height != _STANDARD_WIND_HEIGHT:
        weather["wind"].values = wind_at_2m(weather["wind"].values, height)
        weather["wind"].attrs["comment"] = f"measured at {height:g} m, brought to 2 m by FAO-56 Eq. 47"
    _surface(raw, weather, options.surface, faults)
    # What has been named as a code for "missing" is not named once more as a value.
    value_faults(weather.assign(believed), faults)
    return weather


def _missing_codes(raw: xr.DataArray, data: xr.DataArray, faults: Faults) -> xr.DataArray:
    """Mark values that cannot be, and are as files write them for "missing"; they stay a fault."""
    variable = VARIABLES[str(data.name)]
    low, high = (
        limit if end is None else end for end, limit in zip(variable.hard, (-np.inf, np.inf), strict=True)
    )
    marks = raw.copy(data=np.isin(raw.values, _MISSING_CODES) & ((data.values < low) | (data.values > high)))
    if marks.values.any():
        where, value, count = first(data, marks.values)
        written = f"{first(raw, marks.values)[1]:.6g}"
        converted = "" if np.array_equal(raw, data, equal_nan=True) else f", {quantity(value, variable.unit)}"
        faults.add(
            str(data.name),
            'holds what looks like the file\'s code for "missing"',
            where=where,
            value=f"{written} as written{converted}",
            count=count,
            allowed=f"{variable.allowed()}; blank where there is no value",
            mend=f"leave these cells blank, as by pd.read_csv(path, na_values=[{written}])",
        )
    return marks


def _converted(data: xr.DataArray, unit: str | None, faults: Faults) -> npt.NDArray[np.float64]:
    """Convert the values of one variable; as they are when the unit is at fault."""
    name = str(data.name)
    canonical = VARIABLES[name].unit
    values: npt.NDArray[np.float64] = data.values
    # Values in an unknown unit have no range to be held against.
    unknown = np.full_like(values, np.nan)
    if unit is None and "units" not in data.attrs and not _name_agrees(name, data.attrs["heading"], faults):
        return unknown
    given = data.attrs.get("units", canonical) if unit is None else unit
    if not isinstance(given, str):
        faults.add(f"units, {name!r}", "is no text", value=repr(given), allowed=f"such as {canonical!r}")
        return values
    try:
        converted = convert(values, given, canonical)
    except UnitError as error:
        faults.add(f"units, {name!r}", str(error), value=repr(given))
        return unknown
    if canonical == "mm day-1" and not is_depth(given):
        faults.add(
            f"units, {name!r}",
            "is not a unit of water",
            value=repr(given),
            allowed="a depth (mm, cm, in), or a depth per day or hour (mm/day, in/h)",
            mend="give the unit of the depth",
        )
        return unknown
    return converted


def _name_agrees(name: str, heading: Hashable, faults: Faults) -> bool:
    """Tell whether a column's own name lets the canonical unit be assumed; note it where it does not."""
    assumed = usual(VARIABLES[name].unit)
    stated = stated_unit(str(heading), VARIABLES[name].unit)
    if stated is None:
        return True
    problem = f"its name states the unit {stated.word!r}, "
    other = f'units={{"{name}": "{assumed}"}} if the name is wrong'
    if stated.unit:
        problem += f"and without units= it would be taken as {assumed}"
        mend = f'units={{"{name}": "{stated.unit}"}}, or {other}'
    else:
        problem += f"which is none of {name}"
        mend = f"map the right column to {name!r}, or {other}"
    faults.add(f"column {heading!r} for {name!r}", problem, mend=mend)
    return False


def _surface(raw: xr.Dataset, weather: xr.Dataset, surface: Surface | None, faults: Faults) -> None:
    """Note on `et_ref` what surface it is of; it is never guessed."""
    if "et_ref" not in weather:
        if surface is not None:
            faults.add(
                "et_ref_surface", "is given, and there is no et_ref", mend="leave it out, or map et_ref"
            )
        return
    own = raw["et_ref"].attrs.get("surface")
    if own is not None and surface is not None and own != surface:
        faults.add("et_ref_surface", f"contradicts the Dataset, which says {own!r}", value=repr(surface))
    known = own if surface is None else surface
    if known is None:
        faults.add(
            "et_ref",
            "does not say which surface it is of",
            allowed='"short" (clipped grass, ETo) or "tall" (alfalfa, ETr)',
            mend='et_ref_surface="short" or "tall"',
        )
    elif known not in get_args(Surface) and surface is None:
        faults.add("et_ref, attrs['surface']", "is unknown", value=repr(known), allowed='"short" or "tall"')
    else:
        weather["et_ref"].attrs["surface"] = known


def _site(name: str, given: Site | None, weather: xr.Dataset | None, faults: Faults) -> xr.DataArray | None:
    """Bring latitude or elevation to a number, or to a number for each label."""
    if given is None:
        if weather is not None and "et_ref" not in weather:
            faults.add(
                name,
                "is missing",
                allowed=VARIABLES[name].allowed(),
                mend=f"{name}=...; without it only a given et_ref can be used",
            )
        return None
    if isinstance(given, xr.DataArray):
        data: xr.DataArray | None = given.reset_coords(drop=True)
    elif isinstance(given, Mapping | pd.Series):
        data = _by_station(name, given, weather, faults)
    else:
        data = xr.DataArray(given)
    data = None if data is None else _measured(name, data)
    if data is None:
        return None
    if data.dtype.kind not in "iuf":
        faults.add(
            name,
            "is no number",
            value=repr(given),
            allowed=VARIABLES[name].allowed(),
            mend=f"write it as {_SITE_EXAMPLES[name]}",
        )
        return None
    data = data.astype(np.float64).rename(name).assign_attrs(attributes(name))
    if weather is not None:
        alien = [str(dim) for dim in data.dims if dim not in weather.coords or dim == "time"]
        if alien:
            faults.add(
                name, f"varies along {', '.join(alien)}", allowed="one number, or one for each station"
            )
        else:
            apart = Faults()
            labelled({"weather": weather, name: data}, apart)
            faults.extend(tuple(fault for fault in apart if fault not in list(faults)))
    in_range(data, name, faults)
    absent = np.isnan(data.values)
    if absent.any():
        where, _, count = first(data, absent)
        faults.add(
            name, "has no value", where=where, value="NaN", count=count, allowed=VARIABLES[name].allowed()
        )
    return data


def _measured(name: str, data: xr.DataArray) -> xr.DataArray:
    """Read text with a unit; as it is where a text cannot be read so."""
    if data.dtype.kind not in "OU":
        return data
    try:
        numbers = [
            parse_quantity(value, VARIABLES[name].unit) if isinstance(value, str) else value
            for value in data.values.ravel()
        ]
    except UnitError:
        return data
    return data.copy(data=np.array(numbers).reshape(data.shape))


def _by_station(
    name: str, given: Mapping[Hashable, float | str] | pd.Series, weather: xr.Dataset | None, faults: Faults
) -> xr.DataArray | None:
    """Lay out what was given for each station; None when it does not fit."""
    if weather is None:
        return None
    if "station" not in weather.coords:
        faults.add(name, "is given by station, and the weather has none", allowed="a number")
        return None
    if isinstance(given, pd.Series) and not given.index.is_unique:
        faults.add(
            name, "names a station more than once", value=str(given.index[given.index.duplicated()][0])
        )
        return None
    stations = pd.Index(weather["station"].values).unique()
    absent = [repr(label) for label in stations if label not in given]
    if absent:
        faults.add(
            name,
            "is missing for a station",
            value=", ".join(absent),
            count=len(absent),
            mend=f"give one for each of {', '.join(map(repr, stations))}",
        )
        return None
    values = [given[label] for label in stations]
    text = any(isinstance(value, str) for value in values)  # numpy would write the numbers beside it as text
    array = np.array(values, dtype=object) if text else values
    return xr.DataArray(array, dims="station", coords={"station": stations})
