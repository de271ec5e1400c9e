"""Flags: where each value of weather comes from, day by day.

The flag of ``wind`` is an int8 variable ``wind_flag`` on the same dimensions, with ``flag_values`` and
``flag_meanings`` as the CF conventions have them. Where no value of a variable was estimated there is no
flag variable: no flag means as given.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from waterbudget.errors import Faults
from waterbudget.variables import VARIABLES


class Flag(NamedTuple):
    """One origin of a value: its code, its name in ``flag_meanings``, and what it says to people."""

    code: int
    name: str
    text: str


FLAGS = (
    Flag(0, "given", "as given"),
    Flag(1, "incomplete_day", "from a day some of whose steps are missing"),
    Flag(2, "interpolated", "interpolated between the days around it"),
    Flag(3, "from_sunshine", "from sunshine (FAO-56 Eq. 35)"),
    Flag(4, "from_temperature_range", "from the day's range of temperature (FAO-56 Eq. 50)"),
    Flag(5, "from_neighbour", "imported from another station (FAO-56 chapter 3; radiation by Eq. 49)"),
    Flag(6, "from_regression", "from another station by regression"),
    Flag(7, "from_tmin", "from the minimum temperature (FAO-56 Eq. 48, less the stated offset)"),
    Flag(8, "from_class", "a stated mean wind"),
    Flag(9, "climatology", "the record's own mean for that day of the year"),
    Flag(10, "stated", "stated by the user"),
    Flag(11, "forecast", "a forecast"),
    Flag(12, "past_year", "of a past year"),
)
"""Every origin; a value's flag is the code. The order never changes, so that files stay readable."""

GIVEN = 0

_CODES = {flag.name: flag.code for flag in FLAGS}
_TEXTS = {flag.code: flag.text for flag in FLAGS}


def code_of(name: str) -> int:
    """Give the code of an origin by its name."""
    return _CODES[name]


def text_of(code: int) -> str:
    """Say in words what a flag means."""
    return _TEXTS[int(code)]


def flag_name(name: str) -> str:
    """Name the flag variable of a weather variable."""
    return f"{name}_flag"


def is_flag(name: object) -> bool:
    """Tell whether a name is that of the flag of a weather variable."""
    stem = str(name).removesuffix("_flag")
    return stem != str(name) and stem in VARIABLES and VARIABLES[stem].kind == "weather"


def quantities(weather: xr.Dataset) -> list[str]:
    """Name the variables that hold daily quantities of the variables table: no flags, codes or site."""
    return [
        str(name)
        for name in weather.data_vars
        if name in VARIABLES and VARIABLES[str(name)].kind not in ("origin", "parameter")
    ]


def flag_attributes(name: str) -> dict[str, object]:
    """Give the attributes of a flag variable, as the CF conventions name them."""
    return {
        "long_name": f"where the value of {name} comes from",
        "units": "1",
        "flag_values": np.array([flag.code for flag in FLAGS], dtype=np.int8),
        "flag_meanings": " ".join(flag.name for flag in FLAGS),
    }


def flags_of(weather: xr.Dataset, name: str) -> xr.DataArray:
    """Give the flags of a variable, on its dimensions; a single 0 where nothing was estimated."""
    if flag_name(name) in weather:
        own = weather[flag_name(name)]
        # What was joined, shifted or cut out brings NaN where there was no flag.
        return own if own.dtype.kind == "i" else own.fillna(GIVEN).astype(np.int8)
    return xr.DataArray(np.int8(GIVEN), attrs=flag_attributes(name))


def is_reading(flags: xr.DataArray) -> xr.DataArray:
    """Mark the values that a sensor read: as given, or of a day some of whose steps are missing."""
    return flags.isin([GIVEN, code_of("incomplete_day")])


def are_ours(flags: xr.DataArray) -> bool:
    """Tell whether flags say of themselves that they are of this table of origins."""
    return str(flags.attrs.get("flag_meanings", "")).split()[:2] == [FLAGS[0].name, FLAGS[1].name]


def note_foreign(name: str, faults: Faults) -> None:
    """Ask whose flags a column of this name holds."""
    faults.add(
        f"column {name!r}",
        "may hold flags of this package, or marks of somebody else: whose are they?",
        mend=f"columns={{{name!r}: {name!r}}} if this package wrote them, columns={{{name!r}: None}} if not",
    )


def flag_faults(weather: xr.Dataset, faults: Faults) -> None:
    """Check that flags hold codes of origins alone; NaN is passed over."""
    for name in map(str, weather.data_vars):
        if not is_flag(name) or weather[name].chunks:
            continue
        values = weather[name].values
        codes = values[~np.isnan(values)] if values.dtype.kind == "f" else values
        odd = ~np.isin(codes, list(_TEXTS))
        if odd.any():
            faults.add(
                name,
                "holds what is no flag",
                value=str(codes[odd].ravel()[0]),
                count=int(odd.sum()),
                allowed=", ".join(f"{flag.code} {flag.name}" for flag in FLAGS),
                mend=f"weather.drop_vars({name!r}), if it is something else",
            )


def with_flags(weather: xr.Dataset, name: str, where: xr.DataArray, origin: str) -> xr.Dataset:
    """Mark values of a variable with their origin; the other values keep their flags.

    Parameters
    ----------
    weather : Dataset
    name : str
        A variable of the weather.
    where : DataArray of bool
        The values to mark, on dimensions of the variable.
    origin : str
        A name in `FLAGS`.

    Returns
    -------
    Dataset
        A new one. Unchanged where nothing is marked.
    """
    if not bool(where.any()):
        return weather
    old = flags_of(weather, name).broadcast_like(weather[name])
    new = old.where(~where, np.int8(code_of(origin))).astype(np.int8)
    new = new.transpose(*weather[name].dims).assign_attrs(flag_attributes(name))
    marked = weather.assign({flag_name(name): new.drop_vars(set(new.coords) - set(new.dims))})
    marked[name] = weather[name].assign_attrs(ancillary_variables=flag_name(name))
    return marked
