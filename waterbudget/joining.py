"""concat: descriptions, or weather, side by side along a new labelled dimension."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any, overload

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.descriptions import OWN_DIMS, D, Source, same, sources, with_sources
from waterbudget.errors import collect


@overload
def concat(items: Mapping[str, xr.Dataset], dim: str) -> xr.Dataset: ...
@overload
def concat(items: Mapping[str, D], dim: str) -> D: ...
def concat(items: Mapping[str, Any], dim: str) -> Any:
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
    if isinstance(values[0], xr.Dataset):
        return _concat_weather(values, pd.Index(labels, name=dim))
    return _concat_descriptions(items, dim)


def _concat_descriptions(items: Mapping[str, D], dim: str) -> D:
    """Join descriptions of one kind, field by field."""
    values, labels = list(items.values()), list(items)
    kind = type(values[0])
    joined: dict[str, Any] = {}
    with collect() as faults:
        for field in dataclasses.fields(values[0]):
            if field.name == "provenance":
                continue
            each = [getattr(value, field.name) for value in values]
            try:
                joined[field.name] = _join(each, pd.Index(labels, name=dim))
            except (ValueError, TypeError) as error:
                faults.add(
                    f"{kind.__name__}.{field.name}",
                    f"cannot be joined along {dim!r}: {error}",
                    mend="join descriptions of one form, or simulate them in separate calls",
                )
    return with_sources(kind(**joined), _joined_sources(values, labels, dim))


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
    spotted = [("spot" in array.dims) for array in arrays]
    if any(spotted) and not all(spotted):
        message = "one has spots beside none in another"
        raise ValueError(message)
    if any(daily) and not all(daily):
        message = "a daily series stands beside a curve or a number"
        raise ValueError(message)
    spread = xr.broadcast(*xr.align(*arrays, join="exact"))
    return xr.concat(spread, dim=index, coords="minimal", compat="override")


def _is_date(value: Any) -> bool:
    return isinstance(value, np.datetime64) or (isinstance(value, xr.DataArray) and value.dtype.kind == "M")


def _joined_sources(values: Sequence[Any], labels: Sequence[str], dim: str) -> dict[str, Source]:
    """Name the sources of joined values; where they differ, label by label."""
    each = [sources(value) for value in values]
    result: dict[str, Source] = {}
    for name in dict.fromkeys(name for known in each for name in known):
        given = {label: known[name] for label, known in zip(labels, each, strict=True) if name in known}
        first, *others = given.values()
        result[name] = first if all(other == first for other in others) else {"by": dim, "of": given}
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
        for name in ("latitude", "elevation"):
            if len({name in value.coords for value in values}) > 1:
                faults.add("concat", f"some weather Datasets have no {name}", mend=f"give each its {name}")
        for name in sorted(str(name) for name in values[0].data_vars):
            units = {value[name].attrs.get("units") for value in values if name in value}
            if len(units) > 1:
                faults.add("concat", f"{name} is in different units", value=str(sorted(map(str, units))))
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
