"""Values of a source brought to canonical units, each by a unit that somebody stated."""

from __future__ import annotations

from collections.abc import Hashable
from typing import get_args

import numpy as np
import numpy.typing as npt
import xarray as xr

from waterbudget.checks import first, quantity
from waterbudget.errors import Faults
from waterbudget.units import UnitError, convert
from waterbudget.variables import VARIABLES, attributes
from waterbudget.weather.days import AMOUNTS, STEP_RANGES, is_amount
from waterbudget.weather.flags import is_flag, with_flags
from waterbudget.weather.options import Options, Surface
from waterbudget.weather.stated import is_depth, stated_unit, unit_of, usual

_ASKED = object()
"""In place of a unit that nobody stated."""

_RATES = {"rain": "mm/h", "et_ref": "mm/h", "solar": "W m-2", "sunshine": "h/day"}
_MISSING_CODES = (-99.0, -99.9, -999.0, -999.9, -9999.0, -9999.9, 999.9, 9999.0, 9999.9)


def to_canonical(
    raw: xr.Dataset, options: Options, per_day: int | None, faults: Faults
) -> tuple[xr.Dataset, dict[str, xr.DataArray]]:
    """Bring values to canonical units.

    Parameters
    ----------
    raw : Dataset
        From `sources.load`.
    options : Options
    per_day : int or None
        Steps of a day, where the rows are steps: their amounts become rates by the day.
    faults : Faults
        Takes units that are missing or do not fit, and values that are a code for "missing".

    Returns
    -------
    Dataset
        By canonical names.
    dict of str to DataArray
        The variables that hold such codes, without them: what remains of them to be checked.
    """
    for name in options.units:
        if name in options.names() and name not in raw and name not in options.columns:
            faults.add(f"units, {name!r}", "is of a variable that is not in the source", mend="leave it out")
    weather = xr.Dataset(coords=raw.coords)
    believed = {}
    for name in map(str, raw.data_vars):
        if is_flag(name) or name.endswith("_stated"):
            continue
        values = _converted(raw[name], options, per_day, faults)
        weather[name] = (raw[name].dims, values, attributes(name))
        codes = _missing_codes(raw[name], weather[name], per_day is not None, faults)
        if codes.values.any():
            believed[name] = weather[name].where(~codes)
    _surface(raw, weather, options.surface, faults)
    for name in map(str, raw.data_vars):
        if is_flag(name):
            weather[name] = raw[name]
            weather[name.removesuffix("_flag")].attrs["ancillary_variables"] = name
        elif name.endswith("_stated"):
            weather = _with_stated(weather, name.removesuffix("_stated"), raw[name], per_day)
    return weather, believed


def _with_stated(weather: xr.Dataset, name: str, amounts: xr.DataArray, per_day: int | None) -> xr.Dataset:
    """Put in the amounts that codes stand for."""
    known = amounts.notnull()
    stated = amounts if per_day is None else amounts * per_day
    result = weather.assign({name: weather[name].where(~known, stated).assign_attrs(weather[name].attrs)})
    return with_flags(result, name, known, "stated")


def _missing_codes(raw: xr.DataArray, data: xr.DataArray, steps: bool, faults: Faults) -> xr.DataArray:
    """Mark values that can hardly be, and are as files write them for "missing"; they stay a fault."""
    variable = VARIABLES[str(data.name)]
    # A code may hide within the hard range once it is converted: -99 degF are -72.8 degC.
    ends = STEP_RANGES.get(variable.name, variable.plausible) if steps else variable.plausible
    low, high = (limit if end is None else end for end, limit in zip(ends, (-np.inf, np.inf), strict=True))
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
            mend=f"if it is, say so: read_weather(..., missing_codes=({written},))",
        )
    return marks


def _converted(
    data: xr.DataArray, options: Options, per_day: int | None, faults: Faults
) -> npt.NDArray[np.float64]:
    """Convert the values of one variable; NaN where the unit is at fault: no range is known for them."""
    name = str(data.name)
    canonical = VARIABLES[name].unit
    values: npt.NDArray[np.float64] = data.values
    unknown = np.full_like(values, np.nan)
    given = _unit(data, options, faults)
    if given is _ASKED:
        return unknown
    if not isinstance(given, str):
        faults.add(f"units, {name!r}", "is no text", value=repr(given), allowed=f"such as {canonical!r}")
        return unknown
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
    if per_day is not None and is_amount(name, given):
        return converted * per_day
    return converted


def _unit(data: xr.DataArray, options: Options, faults: Faults) -> object:
    """Find the unit that was stated for a variable; `_ASKED`, with a fault, where it must be asked."""
    name = str(data.name)
    canonical = VARIABLES[name].unit
    if name in options.units:
        return options.units[name]
    if "units" in data.attrs:
        return data.attrs["units"]
    if "in_units_line" in data.attrs:
        return unit_of(data.attrs["in_units_line"], canonical)
    if options.sub_daily is not None and name in AMOUNTS:
        faults.add(
            f"units, {name!r}",
            "is not given: is it the amount of each step, or a rate?",
            value=f"column {data.attrs['heading']!r}",
            allowed=f"an amount such as {AMOUNTS[name]!r}, or a rate such as {_RATES[name]!r}",
            mend=f'units={{"{name}": ...}}',
        )
        return _ASKED
    if data.attrs.get("by_meaning"):
        faults.add(
            f"units, {name!r}",
            "is not given, and the variable is known by its standard name alone",
            value=f"variable {data.attrs['heading']!r}",
            mend=f'units={{"{name}": ...}}, or its attrs["units"]',
        )
        return _ASKED
    return canonical if _name_agrees(name, data.attrs["heading"], faults) else _ASKED


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
