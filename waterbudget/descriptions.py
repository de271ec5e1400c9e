"""What every description shares: coercion of numbers, labels, joining, and where a value came from.

A description (`Crop`, `Soil`, `System`, `Rule`) is a frozen dataclass. Whatever the user gave, its
fields hold one canonical form: a float in the documented unit, or a float64 DataArray on named
dimensions. These are functions, not a base class, so that a description stays a plain record.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple, TypeVar

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.errors import Faults, collect
from waterbudget.units import UnitError, parse_quantity
from waterbudget.variables import VARIABLES, Variable

Number = float | xr.DataArray
"""Canonical form of a number: a float, or a float64 DataArray on label dimensions."""

GivenNumber = float | int | str | np.number[Any] | xr.DataArray | pd.Series
"""A number as a user may write it: in the documented unit, or as text with its own unit."""

Moment = np.datetime64 | xr.DataArray
"""Canonical form of a date: a datetime64, or a DataArray of datetime64 on label dimensions."""


class Origin(NamedTuple):
    """Where a value came from, and the value it had then."""

    value: Any
    source: str


OWN_DIMS = frozenset({"time", "spot", "coefficient", "extent", "stage", "mean"})
"""Dimensions that belong to one quantity; every other dimension is labelled and makes cells."""

D = TypeVar("D")


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
        try:
            value = parse_quantity(value, variable.unit)
        except UnitError as error:
            faults.add(what, str(error), value=repr(value))
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


def outside(variable: Variable, values: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """Mark the values outside a variable's hard range (NaN is not marked)."""
    low, high = variable.hard
    bad = np.zeros(values.shape, dtype=bool)
    if low is not None:
        bad |= (values <= low) if variable.above else (values < low)
    if high is not None:
        bad |= values > high
    return bad


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
        where = ", ".join(
            f"{dim} {result[dim].values[i] if dim in result.coords else i}"
            for dim, i in zip(result.dims, at, strict=True)
        )
        faults.add(
            what,
            "is outside its range or missing",
            where=where,
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
    if isinstance(value, xr.DataArray) and dim in value.dims:
        checked = number(value, name, faults, what=what, optional=True)
        return checked if isinstance(checked, xr.DataArray) else xr.DataArray(checked)
    if isinstance(value, str) or not isinstance(value, Sequence) or len(value) != len(labels):
        faults.add(what, f"needs {len(labels)} values", value=repr(value), allowed=", ".join(labels))
        return xr.DataArray([float("nan")] * len(labels), dims=dim, coords={dim: list(labels)})
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
            value=repr(value)[:60],
            mend="name it: pd.Series(dates, index=fields).rename_axis('field')",
        )
        return nothing
    given = _dates(np.atleast_1d(raw).ravel())
    if given is None or (array is None and given.hasnans):
        faults.add(
            what, "is not a date", value=repr(value)[:80], allowed="year-month-day, for example 2024-05-12"
        )
        return nothing
    if given.tz is not None:
        faults.add(what, "carries a time zone", mend="drop it: date.tz_localize(None)")
        return nothing
    days = given.normalize().to_numpy().astype("datetime64[ns]")
    if array is None:
        return np.datetime64(days[0])
    return array.copy(data=days.reshape(array.shape))


def _dates(values: np.ndarray[Any, Any]) -> pd.DatetimeIndex | None:
    """Read dates; None when one of them is not a date, or is text in another order."""
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


def with_sources(description: D, sources: Mapping[str, str]) -> D:
    """Give a description that remembers where some of its values came from."""
    origins = {name: Origin(getattr(description, name), source) for name, source in sources.items()}
    known = getattr(description, "provenance", {})
    return dataclasses.replace(description, provenance={**known, **origins})  # type: ignore[type-var]


def sources(description: Any) -> dict[str, str]:
    """Report the source of every value that is still the one its source gave.

    Returns
    -------
    dict of str
        Field name to source; a value changed since then is "given by the user", as is one that
        never had a source. Fields that hold None are left out.
    """
    found: dict[str, str] = {}
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


# ------------------------------------------------------------------------------------ joining
def concat(items: Mapping[str, D], dim: str) -> D:
    """Join descriptions, or weather, along a new labelled dimension.

    Parameters
    ----------
    items : mapping of str to description or Dataset
        Label to `Crop`, `Soil`, `System`, `Rule` or weather Dataset; all of one kind.
    dim : str
        Name of the new dimension, for example ``"field"`` or ``"system"``.

    Returns
    -------
    description or Dataset
        Of the same kind. A value that is the same in all of them is not copied along ``dim``. A
        value that only some of them have is NaN ("not given") for the others.

    Raises
    ------
    InputError
        When there is nothing to join, the kinds differ, or values have forms that cannot stand
        side by side (a curve beside a daily series, a short beside a tall basis).

    Examples
    --------
    >>> soils = concat({"north": Soil.from_handbook("loam"), "south": Soil.from_handbook("sand")}, "field")
    """
    with collect() as faults:
        if not isinstance(items, Mapping):
            faults.add("concat", "needs a mapping of label to description", value=type(items).__name__)
        elif not items:
            faults.add("concat", "has nothing to join", mend="give at least one label and description")
        if dim in OWN_DIMS:
            faults.add("concat", f"cannot join along {dim!r}", allowed="a name of your own, such as 'field'")
    values = list(items.values())
    labels = list(items)
    with collect() as faults:
        if len({type(value) for value in values}) > 1:
            kinds = ", ".join(sorted({type(value).__name__ for value in values}))
            faults.add("concat", "joins one kind at a time", value=kinds)
        elif not isinstance(values[0], xr.Dataset) and not hasattr(values[0], "provenance"):
            kind = type(values[0]).__name__
            faults.add(
                "concat",
                "joins descriptions or weather",
                value=kind,
                allowed="Crop, Soil, System, Rule, Dataset",
            )
        for label, value in zip(labels, values, strict=True):
            if dim in _dims(value):
                faults.add(
                    f"concat, {label!r}", f"already has the dimension {dim!r}", mend="choose another name"
                )
    index = pd.Index(labels, name=dim)
    first = values[0]
    if isinstance(first, xr.Dataset):
        return _concat_weather(values, index)  # type: ignore[arg-type, return-value]
    joined: dict[str, Any] = {}
    with collect() as faults:
        for field in dataclasses.fields(first):  # type: ignore[arg-type]
            if field.name == "provenance":
                continue
            each = [getattr(value, field.name) for value in values]
            try:
                joined[field.name] = _join(each, index)
            except (ValueError, TypeError) as error:
                faults.add(
                    f"{type(first).__name__}.{field.name}",
                    f"cannot be joined along {dim!r}: {error}",
                    mend="join descriptions of one form, or simulate them in separate calls",
                )
    made: D = type(first)(**joined)
    return with_sources(made, _joined_sources(values, labels, made))


def _dims(value: Any) -> set[str]:
    """Collect the dimensions of a Dataset, or of a description's values."""
    if isinstance(value, xr.Dataset):
        return {str(dim) for dim in value.dims}
    if not dataclasses.is_dataclass(value):
        return set()
    arrays = (getattr(value, field.name) for field in dataclasses.fields(value))
    return {str(dim) for array in arrays if isinstance(array, xr.DataArray) for dim in array.dims}


def _join(each: list[Any], index: pd.Index[Any]) -> Any:
    """Join one field's values; equal values stay as they are."""
    if all(same(each[0], other) for other in each[1:]):
        return each[0]
    if any(isinstance(value, str) for value in each):
        message = f"values {sorted({str(value) for value in each})} differ"
        raise ValueError(message)
    dated = any(_is_date(value) for value in each)
    empty: Any = np.datetime64("NaT", "ns") if dated else float("nan")
    arrays = [xr.DataArray(empty if value is None else value) for value in each]
    daily = [("time" in array.dims) for array in arrays]
    if any(daily) and not all(daily):
        message = "a daily series stands beside a curve or a number"
        raise ValueError(message)
    spread = xr.broadcast(*xr.align(*arrays, join="exact"))
    return xr.concat(spread, dim=index, coords="minimal", compat="override")


def _is_date(value: Any) -> bool:
    return isinstance(value, np.datetime64) or (isinstance(value, xr.DataArray) and value.dtype.kind == "M")


def _joined_sources(values: Sequence[Any], labels: Sequence[str], made: Any) -> dict[str, str]:
    """Name the sources of joined values; where they differ, label by label."""
    each = [sources(value) for value in values]
    result: dict[str, str] = {}
    for field in dataclasses.fields(made):
        texts = {
            label: known[field.name] for label, known in zip(labels, each, strict=True) if field.name in known
        }
        distinct = sorted(set(texts.values()))
        if len(distinct) == 1:
            result[field.name] = distinct[0]
        elif distinct:
            result[field.name] = "; ".join(f"{label}: {text}" for label, text in texts.items())
    return result


def _concat_weather(values: list[xr.Dataset], index: pd.Index[Any]) -> xr.Dataset:
    """Join weather Datasets that have the same days and the same variables."""
    names = [set(value.data_vars) for value in values]
    with collect() as faults:
        if any(name != names[0] for name in names[1:]):
            odd = sorted(str(name) for name in set.union(*names) - set.intersection(*names))
            faults.add("concat", "weather Datasets have different variables", value=", ".join(odd))
        surfaces = {value["et_ref"].attrs.get("surface") for value in values if "et_ref" in value}
        if len(surfaces) > 1:
            faults.add(
                "concat", "et_ref stands for different surfaces", value=str(sorted(map(str, surfaces)))
            )
    with collect() as faults:
        try:
            return xr.concat(
                values,
                dim=index,
                join="exact",
                coords="different",
                compat="equals",
                combine_attrs="drop_conflicts",
            )
        except ValueError as error:
            faults.add(
                "concat",
                f"weather Datasets do not share their days or labels: {error}",
                mend="cut them to the same days: weather.sel(time=slice(first, last))",
            )
    raise AssertionError  # the block above returns or raises


def freeze(description: Any, changes: Mapping[str, Any]) -> None:
    """Put canonical values into a frozen description, from within its ``__post_init__``."""
    for name, value in changes.items():
        object.__setattr__(description, name, value)
