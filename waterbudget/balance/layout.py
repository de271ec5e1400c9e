"""From named dimensions to a flat row of cells, and a crop's days laid along time."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget.balance.decide import Choice
from waterbudget.balance.drivers import Feed
from waterbudget.checks import complete, first_label, labelled
from waterbudget.crop import Crop, Development
from waterbudget.descriptions import OWN_DIMS, Number
from waterbudget.errors import Faults, collect
from waterbudget.variables import VARIABLES

Array = NDArray[np.float64]

MID_SEASON = 3
"""The stage from which on a killing frost ends a crop."""

CROP_FIELDS = (
    "planted",
    "stage_days",
    "kc",
    "kcb",
    "root_depth",
    "height",
    "cover",
    "climate",
    "depletion_fraction",
    "adjust_depletion_fraction",
    "stage_degree_days",
    "base_temperature",
    "upper_temperature",
    "killing_frost",
    "evaporation_reduction",
    "residue_reduction",
    "surface_uptake",
    "salt_threshold",
    "salt_slope",
    "yield_response",
    "stage_yield_response",
)


@dataclass(frozen=True)
class Cells:
    """Every combination of labels, flattened in the order of ``dims``."""

    dims: tuple[str, ...]
    coords: dict[str, pd.Index]
    spots: int

    @property
    def shape(self) -> tuple[int, ...]:
        """Number of labels along each dimension."""
        return tuple(len(self.coords[dim]) for dim in self.dims)

    @property
    def count(self) -> int:
        """Number of cells."""
        return int(np.prod(self.shape, dtype=np.int64))

    def spread(self, value: Number) -> Array:
        """Give a number for every cell: shape (cells,), or (1,) when it does not vary."""
        if not isinstance(value, xr.DataArray) or not value.dims:
            return np.asarray([float(value)])
        return self._over(value, ()).reshape(-1)

    def spread_spots(self, value: xr.DataArray) -> Array:
        """Give a number for every spot and cell: shape (spots, cells) or (spots, 1)."""
        if value.dims == ("spot",):
            return value.values[:, None].astype(np.float64)
        return self._over(value, ("spot",)).reshape(self.spots, -1)

    def spread_state(self, value: xr.DataArray) -> Array:
        """Give a state for every spot and cell: shape (spots, cells)."""
        if "spot" not in value.dims:
            value = value.expand_dims(spot=self.spots)
        return self._over(value, ("spot",)).reshape(self.spots, -1)

    def feed(self, series: Number) -> Feed:
        """Lay a daily series out for the day loop, along its own labels only; a number as one row."""
        if not isinstance(series, xr.DataArray) or "time" not in series.dims:
            return Feed(self.spread(series)[None], None)
        own = tuple(dim for dim in self.dims if dim in series.dims)
        values = series.transpose("time", *own).values
        values = np.ascontiguousarray(values.reshape(len(values), -1), dtype=np.float64)
        if own == self.dims or not own:
            return Feed(values, None)
        lengths = [len(self.coords[dim]) for dim in own]
        numbers = xr.DataArray(np.arange(values.shape[1]).reshape(lengths), dims=own)
        return Feed(values, self._over(numbers, ()).reshape(-1).astype(np.intp))

    def in_order(self, series: xr.DataArray) -> xr.DataArray:
        """Bring a daily series to the order of the cells' dimensions, time first."""
        return series.transpose("time", *(dim for dim in self.dims if dim in series.dims))

    def name(self, marked: NDArray[np.bool_]) -> str:
        """Name the first marked cell by its labels; empty when all cells share the mark."""
        if marked.shape[-1] != self.count or not self.dims:
            return ""
        at = (int(i) for i in np.unravel_index(int(np.flatnonzero(marked)[0]), self.shape))
        return ", ".join(f"{dim} {self.coords[dim][i]}" for dim, i in zip(self.dims, at, strict=True))

    def _over(self, value: xr.DataArray, first: tuple[str, ...]) -> NDArray[Any]:
        """Broadcast over all cells, ``first`` dimensions in front."""
        missing = {dim: len(self.coords[dim]) for dim in self.dims if dim not in value.dims}
        bare = value.drop_vars([name for name in value.coords if name in missing])
        return np.ascontiguousarray(bare.expand_dims(missing).transpose(*first, *self.dims).values)


def cells_of(arrays: dict[str, xr.DataArray], weather: xr.Dataset) -> Cells:
    """Collect the label dimensions of everything that takes part, in order of appearance.

    Raises
    ------
    InputError
        When labels do not match, or stations would be crossed with fields.
    """
    with collect() as faults:
        labelled(arrays, faults)
        _check_stations(weather, arrays, faults)
        for name in {str(dim) for array in arrays.values() for dim in array.dims} & set(VARIABLES) - OWN_DIMS:
            faults.add(f"dimension {name!r}", "has the name of a quantity", mend="rename it: .rename(...)")
    coords: dict[str, pd.Index] = {}
    spots = 1
    for array in arrays.values():
        for dim in array.dims:
            name = str(dim)
            if name == "spot":
                spots = max(spots, array.sizes[dim])
            elif name not in OWN_DIMS and name not in coords:
                coords[name] = array.indexes[name]
    return Cells(tuple(coords), coords, spots)


def _check_stations(weather: xr.Dataset, arrays: dict[str, xr.DataArray], faults: Faults) -> None:
    """Note stations that would be crossed with fields; what the weather itself has beside them is meant."""
    others = {str(dim) for array in arrays.values() for dim in array.dims} - OWN_DIMS - {*weather.dims}
    if "station" in weather.dims and others:
        faults.add(
            "weather",
            f"has several stations, and the run has {', '.join(sorted(others))} beside them",
            value=f"{weather.sizes['station']} stations",
            mend="select each field's own: weather.sel(station=field_station), field_station on field",
        )


class Days(NamedTuple):
    """A crop along time: arrays on ``time`` and the crop's own labels.

    From ``dual`` on: numbers that do not vary in time under one crop, and do in a rotation.
    """

    coefficient: xr.DataArray
    kc_max: xr.DataArray
    cover: xr.DataArray
    root_depth: xr.DataArray
    stage: xr.DataArray
    evaporation_factor: Number  # a plain 1.0 where nothing covers the soil
    dual: Number
    depletion_fraction: Number
    adjust: Number
    surface_uptake: Number
    salt_threshold: Number
    salt_slope: Number
    yield_response: Number
    stage_yield_response: Number  # of the day's stage: varies in time where it is given
    deepest_root: Number  # of all crops that stand in turn: no time
    degree_days: Number  # heat since planting of a crop that develops by heat, else 0
    frost_ended: Number  # 1 from the day on which a killing frost ends the crop
    number: Number  # of the crop that stands, or that stood last; 1 before the first


class Frost(NamedTuple):
    """What can end a crop by cold."""

    killing: xr.DataArray  # of bool, on time: days cold enough
    before: Number  # 1 where an earlier run saw it happen


def grow(crop: Crop, growth: Development, time: pd.DatetimeIndex, cells: Cells, frost: Frost | None) -> Days:
    """Look every day of the run up in the crop's table of ages.

    Parameters
    ----------
    crop : Crop
    growth : Development
        From `develop`.
    time : DatetimeIndex
    cells : Cells
    frost : Frost, optional
        Its days end the crop, once it is in mid-season; the first such day is the crop's last.

    Returns
    -------
    Days
    """
    index = _index(growth, time, cells)
    stage = _look_up(growth.stage, index, time, cells)
    ended: Number = 0.0
    if frost is not None:
        ages = growth.stage.shape[1]
        struck = (frost.killing & (stage >= MID_SEASON)).astype(np.float64).cumsum("time") + frost.before
        ended = cells.in_order((struck > 0).astype(np.float64))
        gone = (struck.shift(time=1, fill_value=0.0) > 0) | (xr.DataArray(frost.before) > 0)
        # The last column of a crop's row is the bare soil after it.
        last = index - index % ages + (ages - 1)
        index = cells.in_order(last.where(gone, index))
        stage = _look_up(growth.stage, index, time, cells)
    covered = bool((growth.evaporation_factor != 1.0).any())
    look_up = partial(_look_up, index=index, time=time, cells=cells)
    return Days(
        coefficient=look_up(growth.coefficient),
        kc_max=look_up(growth.kc_max),
        cover=look_up(growth.cover),
        root_depth=look_up(growth.root_depth),
        stage=stage,
        evaporation_factor=look_up(growth.evaporation_factor) if covered else 1.0,
        dual=_per_crop(growth.dual, growth, cells),
        depletion_fraction=crop.depletion_fraction,
        adjust=crop.adjust_depletion_fraction,
        surface_uptake=crop.surface_uptake,
        salt_threshold=_or_nan(crop.salt_threshold),
        salt_slope=_or_nan(crop.salt_slope),
        yield_response=_or_nan(crop.yield_response),
        stage_yield_response=_by_stage(crop.stage_yield_response, stage, cells),
        deepest_root=_per_crop(growth.deepest_root, growth, cells),
        degree_days=0.0,
        frost_ended=ended,
        number=1.0,
    )


def _index(growth: Development, time: pd.DatetimeIndex, cells: Cells) -> xr.DataArray:
    """Find each day's place in the flattened tables of a crop: rows of crops, columns of ages."""
    ages = growth.coefficient.shape[1]
    planted = growth.first_day
    days = time.to_numpy().astype("datetime64[D]").astype(np.int64)
    first = planted.values.astype("datetime64[D]")
    number = np.where(np.isnat(first), 0, first.astype(np.int64))
    age = days.reshape(-1, *([1] * planted.ndim)) - (number - 1)
    np.clip(age, 0, ages - 1, out=age)
    if np.isnat(first).any():
        age = np.where(np.isnat(first), 1, age)
    index = xr.DataArray(age, dims=("time", *planted.dims))
    if growth.dims:
        rows = np.arange(len(growth.coefficient)).reshape([growth.sizes[dim] for dim in growth.dims])
        index = xr.DataArray(rows * ages, dims=growth.dims) + index
    return cells.in_order(index)


def _look_up(table: Array, index: xr.DataArray, time: pd.DatetimeIndex, cells: Cells) -> xr.DataArray:
    """Take a table's values at the places of an index.

    Every index is inside the table; "clip" only spares numpy the check of each one.
    """
    labels: dict[str, pd.Index] = {"time": time, **cells.coords}
    own = {str(dim): labels[str(dim)] for dim in index.dims}
    return xr.DataArray(table.ravel().take(index.values, mode="clip"), dims=index.dims, coords=own)


def _per_crop(values: Array, growth: Development, cells: Cells) -> Number:
    """Give a number of each crop its labels."""
    if not growth.dims:
        return float(values[0])
    shape = [growth.sizes[dim] for dim in growth.dims]
    own = {dim: cells.coords[dim] for dim in growth.dims}
    return xr.DataArray(values.reshape(shape), dims=growth.dims, coords=own)


def _by_stage(values: xr.DataArray | None, stage: xr.DataArray, cells: Cells) -> Number:
    """Give each day the value of its stage; NaN on bare days and where none is given."""
    if values is None:
        return float("nan")
    placed = values.drop_vars("stage", errors="ignore")
    parts = [placed.isel(stage=place).where(stage == place + 1) for place in range(4)]
    found = parts[0]
    for part in parts[1:]:
        found = found.fillna(part)
    return cells.in_order(found)


def _or_nan(value: Number | None) -> Number:
    return float("nan") if value is None else value


def follow(each: list[Days], first_days: list[xr.DataArray], time: pd.DatetimeIndex, cells: Cells) -> Days:
    """Lay the crops of a rotation along time, one after the other.

    From its planting day on a crop takes the field over from the one before it, whether or not that
    one had ended.

    Parameters
    ----------
    each : list of Days
        The crops by themselves, in order of planting.
    first_days : list of DataArray of datetime64
        Planting dates, on labels.
    time : DatetimeIndex
    cells : Cells

    Returns
    -------
    Days
    """
    merged = each[0]
    days = xr.DataArray(time.to_numpy(), dims="time", coords={"time": time})
    for number, (own, first_day) in enumerate(zip(each[1:], first_days[1:], strict=True), start=2):
        takes = days >= first_day
        own = own._replace(number=float(number))
        changed: dict[str, Any] = {
            name: _from_its_day_on(takes, getattr(own, name), getattr(merged, name), cells)
            for name in Days._fields
            if name != "deepest_root"
        }
        merged = Days(
            **changed,
            deepest_root=_larger(own.deepest_root, merged.deepest_root),
        )
    return merged


def _from_its_day_on(takes: xr.DataArray, new: Number, old: Number, cells: Cells) -> Number:
    """Take the new on the days that it takes over, the old before; numbers that agree stay as they are."""
    if not isinstance(new, xr.DataArray) and not isinstance(old, xr.DataArray):
        if new == old or (np.isnan(new) and np.isnan(old)):
            return new
    return cells.in_order(xr.DataArray(new).where(takes, old))


def _larger(one: Number, other: Number) -> Number:
    first, second = xr.broadcast(xr.DataArray(one), xr.DataArray(other))
    larger = first.where(first > second, second)
    return larger if larger.dims else float(larger)


def restrict(days: Days, restricting_depth: Number, cells: Cells) -> Days:
    """Keep roots, and with them the profile, above a layer that they do not enter."""
    limit = xr.DataArray(restricting_depth)
    if not bool(limit.notnull().any()):
        return days
    deepest = _at_most(xr.DataArray(days.deepest_root), limit)
    return days._replace(
        root_depth=cells.in_order(_at_most(days.root_depth, limit)),
        deepest_root=deepest if deepest.dims else float(deepest),
    )


def _at_most(depth: xr.DataArray, limit: xr.DataArray) -> xr.DataArray:
    """Keep a depth within a limit; NaN is no limit."""
    depth, limit = xr.broadcast(depth, limit)
    return depth.where(~(depth > limit), limit)


def check_days(days: Days, faults: Faults) -> None:
    """Note crop values that are missing on some day, for some label."""
    for name in ("coefficient", "kc_max", "cover", "root_depth"):
        complete(getattr(days, name), faults, f"crop {name}")


def check_season(crops: tuple[Crop, ...], days: Days, time: pd.DatetimeIndex, faults: Faults) -> None:
    """Note labels on which no crop stands on any day of the weather."""
    stands = (days.stage > 0).any("time")
    if bool(stands.all()):
        return
    planted = crops[0].planted
    shown = "" if planted is None else xr.DataArray(planted).broadcast_like(stands).values[~stands.values]
    faults.add(
        "crop planted",
        "has a season that never meets the weather",
        where=first_label(~stands),
        value="" if planted is None else f"planted {str(np.ravel(shown)[0])[:10]}",
        count=int((~stands).sum()),
        allowed=f"growing on some day from {time[0]:%Y-%m-%d} to {time[-1]:%Y-%m-%d}",
        mend="check the days of the series" if planted is None else "check the year of planting",
    )


def choice_of(choice: dict[str, Number] | None, over_application: Array, cells: Cells) -> Choice | None:
    """Spread a rule's numbers over the cells."""
    if choice is None:
        return None
    numbers = {name: cells.spread(value) for name, value in choice.items()}
    return Choice(**numbers, over_application=over_application)
