"""What every description shares: coercion of numbers, labels, joining, and where a value came from.

A description (`Crop`, `Soil`, `System`, `Rule`) is a frozen dataclass. Whatever the user gave, its
fields hold one canonical form: a float in the documented unit, or a float64 DataArray on named
dimensions. These are functions, not a base class, so that a description stays a plain record.
"""

from __future__ import annotations

import copy
import dataclasses
import re
from collections.abc import Hashable, Mapping, Sequence
from typing import Any, ClassVar, NamedTuple, Protocol, TypeVar

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.errors import Faults, brief
from waterbudget.units import UnitError, parse_quantity
from waterbudget.variables import VARIABLES, Variable

Number = float | xr.DataArray
"""Canonical form of a number: a float, or a float64 DataArray on label dimensions."""

GivenNumber = float | int | str | np.number[Any] | xr.DataArray | pd.Series
"""A number as a user may write it: in the documented unit, or as text with its own unit."""

Moment = np.datetime64 | xr.DataArray
"""Canonical form of a date: a datetime64, or a DataArray of datetime64 on label dimensions."""


Source = str | Mapping[str, Any]
"""Where a value came from: text, or ``{"by": dimension, "of": {label: Source}}`` after joining."""


class Origin(NamedTuple):
    """Where a value came from, and the value it had then."""

    value: Any
    source: Source


OWN_DIMS = frozenset({"time", "spot", "coefficient", "extent", "stage", "mean", "layer"})
"""Dimensions that belong to one quantity; every other dimension is labelled and makes cells."""


class Description(Protocol):
    """What `Crop`, `Soil`, `System` and `Rule` have in common: a dataclass that knows its sources."""

    __dataclass_fields__: ClassVar[dict[str, Any]]

    @property
    def provenance(self) -> Mapping[str, Origin]:
        """Where values came from, by field name."""


D = TypeVar("D", bound=Description)


# ------------------------------------------------------------------------------------ numbers
def number(value: Any, name: str, faults: Faults, *, what: str = "", optional: bool = False) -> Number:
    """Bring a number to its canonical form and check it against its hard range.

    Parameters
    ----------
    value : GivenNumber
        A number in the unit of the variables table, text with a unit of its own (``"24 in"``), or
        an array on named dimensions.
    name : str
        Its row in the variables table.
    faults : Faults
        Takes what is wrong; nothing is raised here.
    what : str
        What to call it in a message; ``name`` when empty.
    optional : bool
        Allow NaN inside an array, which then means "not given for this label".

    Returns
    -------
    float or DataArray
        NaN where a fault was noted.
    """
    variable = VARIABLES[name]
    what = what or name
    if isinstance(value, str):
        value = from_text(value, variable.unit, what, faults)
        if np.isnan(value):
            return float("nan")
    if isinstance(value, pd.Series):
        value = _from_series(value, what, faults)
        if value is None:
            return float("nan")
    if isinstance(value, xr.DataArray):
        return _array(value, variable, what, faults, optional)
    if isinstance(value, bool | np.bool_) or not isinstance(value, int | float | np.number):
        faults.add(
            what,
            "is not a number",
            value=repr(value),
            allowed=f"a number [{variable.unit}], text with a unit, or a DataArray on named dimensions",
        )
        return float("nan")
    result = float(value)
    if not np.isfinite(result) or outside(variable, np.asarray(result)).any():
        faults.add(
            what,
            "is outside its range",
            value=f"{result:g}",
            allowed=variable.allowed(),
            mend=variable.mend(result),
        )
    return result


def from_text(text: str, unit: str, what: str, faults: Faults) -> float:
    """Read a number with its unit, such as ``"24 in"``, and convert it; NaN where a fault was noted."""
    try:
        return parse_quantity(text, unit)
    except UnitError as error:
        faults.add(what, str(error), value=repr(text))
        return float("nan")


def outside(variable: Variable, values: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """Mark the values outside a variable's hard range (NaN is not marked)."""
    low, high = variable.hard
    bad = np.zeros(values.shape, dtype=bool)
    if low is not None:
        bad |= (values <= low) if variable.above else (values < low)
    if high is not None:
        bad |= values > high
    return bad


def place(array: xr.DataArray, at: Mapping[Hashable, int]) -> str:
    """Name a place in an array for people: ``"2024-07-03, station north"``.

    Parameters
    ----------
    array : DataArray
        Its labels name the place; along a dimension without labels it is a position, from 1 on.
    at : mapping of str to int
        Index along each dimension; empty for a plain number, which has no place.

    Returns
    -------
    str
    """
    words = []
    for dim, i in at.items():
        label = array.indexes[dim][i] if dim in array.indexes else i + 1
        # A list has no names: its one axis becomes dim_0.
        name = "value " if array.dims == ("dim_0",) else f"{dim} "
        if isinstance(label, pd.Timestamp):
            name = "" if dim == "time" else name
            label = f"{label:%Y-%m-%d}" if label == label.normalize() else f"{label:%Y-%m-%d %H:%M}"
        words.append(f"{name}{label}")
    return ", ".join(words)


def _from_series(value: pd.Series, what: str, faults: Faults) -> xr.DataArray | None:
    """Turn a Series into an array: a date index is ``time``, any other must be named; None at fault."""
    dim = "time" if isinstance(value.index, pd.DatetimeIndex) else value.index.name
    if isinstance(value.index, pd.DatetimeIndex) and value.index.tz is not None:
        faults.add(what, "carries a time zone", mend="drop it: series.tz_localize(None)")
        return None
    if not isinstance(dim, str):
        faults.add(
            what,
            "is a Series whose index has no name",
            mend="name the index after its dimension: series.rename_axis('field')",
        )
        return None
    return xr.DataArray(value.to_numpy(), dims=dim, coords={dim: value.index.to_numpy()})


def _array(value: xr.DataArray, variable: Variable, what: str, faults: Faults, optional: bool) -> Number:
    """Check an array; without dimensions it is a plain number."""
    if value.dtype.kind not in "fiu":
        faults.add(what, "does not hold numbers", value=f"dtype {value.dtype}")
        return float("nan")
    result: xr.DataArray = value.astype(np.float64)
    values = result.values
    bad = outside(variable, values) | np.isinf(values)
    if not optional:
        bad |= np.isnan(values)
    if bad.any():
        at = tuple(int(i) for i in np.argwhere(bad)[0])
        faults.add(
            what,
            "is outside its range or missing",
            where=place(result, dict(zip(result.dims, at, strict=True))),
            value=f"{values[at]:g}",
            count=int(bad.sum()),
            allowed=variable.allowed(),
            mend=variable.mend(float(values[at])),
        )
    extra = [name for name in result.coords if name not in result.dims]
    result = result.drop_vars(extra)
    return result if result.dims else float(values)


def points(
    value: Any, name: str, axis: tuple[str, Sequence[str]], faults: Faults, *, what: str = ""
) -> xr.DataArray:
    """Bring several numbers that belong together to one array on an axis of their own.

    Parameters
    ----------
    value : sequence of GivenNumber, or DataArray already on the axis
        For example the lengths of four stages.
    axis : tuple of str and sequence of str
        Name and labels of the axis.

    Returns
    -------
    DataArray
        Dimensions: those of the single numbers, then the axis.
    """
    dim, labels = axis
    what = what or name
    empty = xr.DataArray([float("nan")] * len(labels), dims=dim, coords={dim: list(labels)})
    if isinstance(value, xr.DataArray) and dim in value.dims:
        if dim not in value.coords or set(value[dim].values.tolist()) != set(labels):
            found = value[dim].values.tolist() if dim in value.coords else "no labels"
            faults.add(what, f"has other labels on {dim!r}", value=str(found), allowed=", ".join(labels))
            return empty
        checked = number(value.sel({dim: list(labels)}), name, faults, what=what, optional=True)
        return checked if isinstance(checked, xr.DataArray) else empty
    if isinstance(value, str) or not isinstance(value, Sequence) or len(value) != len(labels):
        faults.add(what, f"needs {len(labels)} values", value=repr(value), allowed=", ".join(labels))
        return empty
    each = [
        number(one, name, faults, what=f"{what} ({label})") for one, label in zip(value, labels, strict=True)
    ]
    return _stack(each, dim, labels).transpose(..., dim)


def _stack(values: Sequence[Number], dim: str, labels: Sequence[str]) -> xr.DataArray:
    """Lay numbers side by side along a new first dimension."""
    arrays = xr.broadcast(*(xr.DataArray(value) for value in values))
    return xr.concat(arrays, dim=pd.Index(list(labels), name=dim), coords="minimal", compat="override")


def flag(value: Any, what: str, faults: Faults) -> Number:
    """Bring a yes or no, or an array of them, to 1.0 and 0.0."""
    if isinstance(value, xr.DataArray):
        if not np.isin(value.values, (0, 1)).all():
            faults.add(what, "holds values other than yes and no", allowed="True, False, 1, 0")
        return value.astype(np.float64) if value.dims else float(value)
    if isinstance(value, bool | np.bool_) or (isinstance(value, int | float) and value in (0, 1)):
        return float(value)
    faults.add(what, "is not yes or no", value=repr(value), allowed="True or False")
    return 0.0


def moment(value: Any, what: str, faults: Faults) -> Moment:
    """Bring a date, or an array of dates, to midnight datetime64[ns].

    Text must be written year-month-day, because any other order would have to be guessed.

    Parameters
    ----------
    value : date, text or DataArray or named Series of dates
        NaT in an array means "not given for this label".
    what : str
        What to call it in a message.
    faults : Faults
        Takes what is wrong; nothing is raised here.

    Returns
    -------
    datetime64 or DataArray
        NaT where a fault was noted.
    """
    nothing = np.datetime64("NaT", "ns")
    if isinstance(value, pd.Series):
        value = _from_series(value, what, faults)
        if value is None:
            return nothing
    array = value if isinstance(value, xr.DataArray) else None
    raw = value if array is None else array.values
    if array is None and np.ndim(value) > 0:
        faults.add(
            what,
            "holds several dates without a dimension",
            value=brief(value),
            mend="name it: pd.Series(dates, index=fields).rename_axis('field')",
        )
        return nothing
    given = read_dates(np.atleast_1d(raw).ravel())
    if given is None or (array is None and given.hasnans):
        faults.add(
            what, "is not a date", value=brief(value), allowed="year-month-day, for example 2024-05-12"
        )
        return nothing
    if given.tz is not None:
        faults.add(what, "carries a time zone", mend="drop it: date.tz_localize(None)")
        return nothing
    days = given.normalize().to_numpy().astype("datetime64[ns]")
    if array is None:
        return np.datetime64(days[0])
    return array.copy(data=days.reshape(array.shape))


def read_dates(values: np.ndarray[Any, Any]) -> pd.DatetimeIndex | None:
    """Read dates; None when one of them is not a date, or is text in another order.

    Parameters
    ----------
    values : ndarray, one-dimensional
        Dates, or text written year-month-day.

    Returns
    -------
    DatetimeIndex or None
    """
    if values.dtype.kind not in "MOUT":
        return None
    if not all(_is_iso(value) for value in values if isinstance(value, str)):
        return None
    if any(isinstance(value, int | float) and value == value for value in values):  # NaN is no date given
        return None
    try:
        return pd.DatetimeIndex(pd.to_datetime(values, format="ISO8601"))
    except (ValueError, TypeError):
        return None


def _is_iso(text: str) -> bool:
    return re.match(r"\d{4}-\d{2}-\d{2}", text.strip()) is not None


# ------------------------------------------------------------------------------- provenance
def same(left: Any, right: Any) -> bool:
    """Tell whether two canonical values are equal, arrays by value and labels."""
    if isinstance(left, xr.DataArray) or isinstance(right, xr.DataArray):
        return isinstance(left, xr.DataArray) and isinstance(right, xr.DataArray) and left.identical(right)
    if isinstance(left, np.datetime64) and isinstance(right, np.datetime64):
        return bool(left == right) or (bool(np.isnat(left)) and bool(np.isnat(right)))
    return bool(left == right)


def with_sources(description: D, sources: Mapping[str, Source]) -> D:
    """Give a description that remembers where some of its values came from."""
    origins = {name: Origin(getattr(description, name), source) for name, source in sources.items()}
    made = copy.copy(description)  # its values are canonical and were checked: not once more
    freeze(made, {"provenance": {**description.provenance, **origins}})
    return made


def sources(description: Description) -> dict[str, Source]:
    """Report the source of every value that is still the one its source gave.

    Returns
    -------
    dict of str to Source
        Field name to source; a value changed since then is "given by the user", as is one that
        never had a source. Fields that hold None are left out.
    """
    found: dict[str, Source] = {}
    for field in dataclasses.fields(description):
        value = getattr(description, field.name)
        if field.name == "provenance" or value is None:
            continue
        origin = description.provenance.get(field.name)
        if origin is not None and same(origin.value, value):
            found[field.name] = origin.source
        elif "source" in field.metadata and same(value, _canonical(field.default)):
            found[field.name] = str(field.metadata["source"])
        else:
            found[field.name] = "given by the user"
    return found


def _canonical(value: Any) -> Any:
    return float(value) if isinstance(value, bool | int) else value


def freeze(description: Any, changes: Mapping[str, Any]) -> None:
    """Put canonical values into a frozen description, from within its ``__post_init__``."""
    for name, value in changes.items():
        object.__setattr__(description, name, value)
