"""concat: descriptions, or weather, side by side along a new labelled dimension."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any, overload

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.descriptions import OWN_DIMS, D, Source, same, sources, with_sources
from waterbudget.errors import Faults, InputError, collect


@overload
def concat(items: Mapping[str, xr.Dataset], dim: str) -> xr.Dataset: ...
@overload
def concat(items: Mapping[str, D], dim: str) -> D: ...
def concat(items: Mapping[str, Any], dim: str) -> Any:
    """Join descriptions, or weather, along a new labelled dimension.

    Parameters
    ----------
    items : mapping of str to description or Dataset
        Label to `Crop`, `Rotation`, `Soil`, `System`, `Rule` or weather Dataset; all of one kind.
        Rotations hold equally many crops: the first of each are joined, the second, and so on.
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
                allowed="Crop, Rotation, Soil, System, Rule, Dataset",
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
    layers = max(_count(value, "layer") for value in values)
    spots = [_count(value, "spot") for value in values]
    with collect() as faults:
        mend = (
            "describe an even one by as many equal spots, spot_share=[1.0, 1.0, ...]; or simulate them in "
            "separate calls, as compare does"
        )
        alike = _equally_many(spots, labels, dim, f"{kind.__name__}.spot_share", "spots", mend, faults)
        for field in dataclasses.fields(values[0]):
            if field.name == "provenance" or (not alike and field.name.startswith("spot_")):
                continue
            each = [getattr(value, field.name) for value in values]
            if isinstance(each[0], tuple):
                joined[field.name] = _join_members(each, labels, dim, f"{kind.__name__}.{field.name}", faults)
                continue
            try:
                joined[field.name] = _join(each, pd.Index(labels, name=dim), layers)
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
    found: set[str] = set()
    for field in dataclasses.fields(value):
        one = getattr(value, field.name)
        for part in one if isinstance(one, tuple) else (one,):
            found |= {str(dim) for dim in part.dims} if isinstance(part, xr.DataArray) else _dims(part)
    return found


def _join_members(
    each: list[tuple[Any, ...]], labels: list[str], dim: str, what: str, faults: Faults
) -> tuple[Any, ...]:
    """Join descriptions that hold others, such as the crops of rotations: first with first, and so on."""
    lengths = [len(members) for members in each]
    if not _equally_many(lengths, labels, dim, what, "members", "simulate them in separate calls", faults):
        return each[0]
    joined = []
    for place, members in enumerate(zip(*each, strict=True), 1):
        try:
            joined.append(_concat_descriptions(dict(zip(labels, members, strict=True)), dim))
        except InputError as error:
            faults.extend(error.faults, prefix=f"{what}, number {place}: ")
    return tuple(joined)


def _equally_many(
    counts: list[int], labels: list[str], dim: str, what: str, members: str, mend: str, faults: Faults
) -> bool:
    """Note descriptions that hold different numbers of something; tell whether they hold equally many."""
    odd = next((place for place, count in enumerate(counts) if count != counts[0]), None)
    if odd is not None:
        faults.add(
            what,
            f"cannot be joined along {dim!r}: they hold different numbers of {members}",
            where=labels[odd],
            value=f"{counts[odd]}, and {counts[0]} in {labels[0]}",
            allowed="equally many in each",
            mend=mend,
        )
    return odd is None


def _count(description: Any, dim: str) -> int:
    """Count the layers or the spots of a description; 0 when it has none."""
    arrays = (getattr(description, field.name) for field in dataclasses.fields(description))
    return max((array.sizes.get(dim, 0) for array in arrays if isinstance(array, xr.DataArray)), default=0)


def _join(each: list[Any], index: pd.Index[Any], layers: int) -> Any:
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
    if any("layer" in array.dims for array in arrays):
        arrays = _on_equal_layers(arrays, layers)
    spread = xr.broadcast(*xr.align(*arrays, join="exact"))
    return xr.concat(spread, dim=index, coords="minimal", compat="override")


def _on_equal_layers(arrays: list[xr.DataArray], layers: int) -> list[xr.DataArray]:
    """Give values one number of layers: those that some lack are NaN, a plain number is the first layer."""
    layered = (array if "layer" in array.dims else array.expand_dims(layer=[1]) for array in arrays)
    return [array.reindex(layer=range(1, layers + 1)) for array in layered]


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


def _joined_texts(values: list[xr.Dataset], index: pd.Index[Any]) -> dict[str, Any]:
    """Keep the attributes that are the same in all; of what differs say whose it is."""
    names = dict.fromkeys(name for value in values for name in value.attrs)
    texts = {}
    for name in names:
        each = [value.attrs.get(name) for value in values]
        if all(one == each[0] for one in each):
            texts[name] = each[0]
        elif all(isinstance(one, str | None) for one in each):
            given = zip(index, each, strict=True)
            texts[name] = "; ".join(f"{label}: {text}" for label, text in given if text is not None)
    return texts


def _with_same_flags(values: list[xr.Dataset]) -> list[xr.Dataset]:
    """Give each the flags that any of them has; where a Dataset has none its values are as given, code 0."""
    flags = {
        str(name): value[name].attrs
        for value in values
        for name in value.data_vars
        if str(name).endswith("_flag") and "flag_values" in value[name].attrs
    }
    return [
        value.assign(
            {
                name: (value[stem].dims, np.zeros(value[stem].shape, dtype=np.int8), attrs)
                for name, attrs in flags.items()
                if name not in value and (stem := name.removesuffix("_flag")) in value
            }
        )
        for value in values
    ]


def _concat_weather(values: list[xr.Dataset], index: pd.Index[Any]) -> xr.Dataset:
    """Join weather Datasets that have the same days and the same variables."""
    values = _with_same_flags(values)
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
            joined: xr.Dataset = xr.concat(
                values,
                dim=index,
                join="exact",
                coords="different",
                compat="equals",
                combine_attrs="drop_conflicts",
            )
            joined.attrs = _joined_texts(values, index)
            return joined
        except ValueError as error:
            faults.add(
                "concat",
                f"weather Datasets do not share their days or labels: {error}",
                mend="cut them to the same days: weather.sel(time=slice(first, last))",
            )
    raise AssertionError  # the block above returns or raises
