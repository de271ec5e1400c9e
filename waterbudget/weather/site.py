"""Numbers of the site: latitude, elevation and the height of the anemometer, one or one for each station."""

from __future__ import annotations

import re
from collections.abc import Hashable, Mapping

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.checks import first, in_range, labelled
from waterbudget.errors import Faults, brief
from waterbudget.units import UnitError, convert, parse_quantity
from waterbudget.variables import VARIABLES, attributes
from waterbudget.weather.atmosphere import wind_at_2m

Site = float | str | Mapping[Hashable, float | str] | pd.Series | xr.DataArray
"""A number of the site as a user may give it."""

_STANDARD_HEIGHT = 2.0
_SAME_HEIGHT = 0.02  # of the height: 10 ft is 3.05 m
_HEIGHT = re.compile(
    r"(?<!\d)(?<!\d[.,])(\d+(?:[.,]\d+)?)[ _-]?(m|ft|met(?:er|re)s?|feet)"
    r"(?![a-z\d/²]|[ _.-]?(?:s\b|/|per\b))",
    re.IGNORECASE,
)
# A number without a unit may count sensors; only the two usual heights are taken for one.
_SHORT_HEIGHT = re.compile(r"(?:u|v|w|ff|ws|wind|wspd|wind_?speed)_?(2|10)", re.IGNORECASE)
_EXAMPLES = {
    "latitude": "46.2, negative in the south",
    "elevation": "120 or '394 ft'",
    "wind_height": "10 or '33 ft'",
}


def site(name: str, given: Site, weather: xr.Dataset | None, faults: Faults) -> xr.DataArray | None:
    """Bring a number of the site to canonical form: one number, or one for each label.

    Parameters
    ----------
    name : {"latitude", "elevation", "wind_height"}
    given : float, str, mapping, Series or DataArray
    weather : Dataset or None
        Whose stations they are; None where it could not be read.
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    DataArray or None
        None where a fault was noted.
    """
    if isinstance(given, xr.DataArray):
        data: xr.DataArray | None = _in_its_unit(name, given.reset_coords(drop=True), faults)
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
            mend=f"write it as {_EXAMPLES[name]}",
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


def _in_its_unit(name: str, data: xr.DataArray, faults: Faults) -> xr.DataArray | None:
    """Convert from the unit that an array says of itself; None, with a fault, where it does not fit."""
    unit, wanted = data.attrs.get("units", VARIABLES[name].unit), VARIABLES[name].unit
    if unit == wanted or data.dtype.kind not in "iuf":
        return data
    try:
        return data.copy(data=convert(data.values.astype(np.float64), str(unit), wanted))
    except UnitError as error:
        faults.add(f"{name}, attrs['units']", str(error), value=brief(unit))
        return None


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


def wind_to_2m(weather: xr.Dataset, height: xr.DataArray) -> xr.Dataset:
    """Bring wind to 2 m by FAO-56 Eq. 47; as it stands where it was measured there.

    Parameters
    ----------
    weather : Dataset
    height : DataArray
        Height at which wind was measured [m].

    Returns
    -------
    Dataset
    """
    if "wind" not in weather or bool((height == _STANDARD_HEIGHT).all()):
        return weather
    measured = weather["wind"]
    wind = wind_at_2m(measured, height).where(height != _STANDARD_HEIGHT, measured)
    heights = np.unique(height.values)
    shown = " to ".join(f"{one:g}" for one in dict.fromkeys((heights[0], heights[-1])))
    comment = f"measured at {shown} m, brought to 2 m by FAO-56 Eq. 47"
    attrs = {**measured.attrs, "comment": comment}
    return weather.assign(wind=wind.transpose(*measured.dims).assign_attrs(attrs))


def note_other_height(raw: xr.Dataset, height: xr.DataArray, faults: Faults) -> None:
    """Note wind whose source says that it was measured at another height than the one stated."""
    if "wind" not in raw:
        return
    heading = str(raw["wind"].attrs["heading"])
    own, by = raw["wind"].attrs.get("measured_at"), "its coordinate of height"
    for text in (heading, str(raw["wind"].attrs.get("long_name", ""))):
        if own is None:
            own, by = _height_in(text), f"the name {text!r}"
    if own is not None and bool((np.abs(height - own) > _SAME_HEIGHT * own).any()):
        faults.add(
            "wind_height",
            "is not the height that the source says",
            value=", ".join(f"{one:g} m" for one in np.unique(height.values)[:3]),
            allowed=f"{own:g} m, by {by}",
            mend=f"wind_height={own:g}; if the source is wrong, rename the column or drop the coordinate",
        )


def _height_in(heading: str) -> float | None:
    """Read the height that a heading states, as in ``"Wind 10 m (km/h)"``; None where it states none."""
    short = _SHORT_HEIGHT.fullmatch(heading.strip())
    if short is not None:
        return float(short[1])
    found = _HEIGHT.search(heading)
    if found is None:
        return None
    unit = "ft" if found[2].lower().startswith("f") else "m"
    return parse_quantity(f"{found[1].replace(',', '.')} {unit}", "m")
