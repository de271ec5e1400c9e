"""From named dimensions to a flat row of cells, and a crop's days laid along time."""

from __future__ import annotations

from dataclasses import dataclass
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

    def feed(self, series: xr.DataArray) -> Feed:
        """Lay a daily series out for the day loop, along its own labels only."""
        own = tuple(dim for dim in self.dims if dim in series.dims)
        values = series.transpose("time", *own).values
        values = np.ascontiguousarray(values.reshape(len(values), -1), dtype=np.float64)
        if own == self.dims or not own:
            return Feed(values, None)
        lengths = [len(self.coords[dim]) for dim in own]
        numbers = xr.DataArray(np.arange(values.shape[1]).reshape(lengths), dims=own)
        return Feed(values, self._over(numbers, ()).reshape(-1).astype(np.intp))

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
    """Note stations that would be crossed with fields."""
    others = {str(dim) for array in arrays.values() for dim in array.dims} - OWN_DIMS - {"station"}
    if "station" in weather.dims and others:
        faults.add(
            "weather",
            f"has several stations, and the run has {', '.join(sorted(others))} beside them",
            value=f"{weather.sizes['station']} stations",
            mend="select each field's own: weather.sel(station=field_station), field_station on field",
        )


class Days(NamedTuple):
    """A crop along time: arrays on ``time`` and the crop's own labels.

    ``dual`` and ``deepest_root`` have no time.
    """

    coefficient: xr.DataArray
    kc_max: xr.DataArray
    cover: xr.DataArray
    root_depth: xr.DataArray
    stage: xr.DataArray
    dual: Number
    deepest_root: Number


def grow(growth: Development, time: pd.DatetimeIndex, cells: Cells) -> Days:
    """Look every day of the run up in the crop's table of ages.

    Parameters
    ----------
    growth : Development
    time : DatetimeIndex
    cells : Cells

    Returns
    -------
    Days
    """
    ages = growth.coefficient.shape[1]
    planted = growth.first_day
    days = time.to_numpy().astype("datetime64[D]").astype(np.int64)
    first = planted.values.astype("datetime64[D]")
    number = np.where(np.isnat(first), 0, first.astype(np.int64))
    age = days.reshape(-1, *([1] * planted.ndim)) - (number - 1)
    np.clip(age, 0, ages - 1, out=age)
    if np.isnat(first).any():
        age = np.where(np.isnat(first), 1, age)
    dims = tuple(dim for dim in cells.dims if dim in growth.dims or dim in planted.dims)
    labels: dict[str, pd.Index] = {"time": time} | {dim: cells.coords[dim] for dim in dims}
    index = xr.DataArray(age, dims=("time", *planted.dims))
    if growth.dims:
        rows = np.arange(len(growth.coefficient)).reshape([growth.sizes[dim] for dim in growth.dims])
        index = xr.DataArray(rows * ages, dims=growth.dims) + index
    where = index.transpose("time", *dims).values
    tables = (growth.coefficient, growth.kc_max, growth.cover, growth.root_depth, growth.stage)
    coefficient, kc_max, cover, root_depth, stage = (
        # Every index is inside the table; "clip" only spares numpy the check of each one.
        xr.DataArray(table.ravel().take(where, mode="clip"), dims=("time", *dims), coords=labels)
        for table in tables
    )
    own = {dim: cells.coords[dim] for dim in growth.dims}
    shape = [growth.sizes[dim] for dim in growth.dims]
    dual, deepest = (
        xr.DataArray(value.reshape(shape), dims=growth.dims, coords=own) if growth.dims else float(value[0])
        for value in (growth.dual, growth.deepest_root)
    )
    return Days(coefficient, kc_max, cover, root_depth, stage, dual, deepest)


def check_days(days: Days, faults: Faults) -> None:
    """Note crop values that are missing on some day, for some label."""
    for name in ("coefficient", "kc_max", "cover", "root_depth"):
        complete(getattr(days, name), faults, f"crop {name}")


def check_season(growth: Development, days: Days, time: pd.DatetimeIndex, crop: Crop, faults: Faults) -> None:
    """Note crops that never stand on a day of the weather."""
    stands = (days.stage > 0).any("time")
    if bool(stands.all()):
        return
    planted = growth.first_day
    shown = (
        planted.broadcast_like(stands).values[~stands.values] if planted.dims else planted.values.reshape(1)
    )
    faults.add(
        "crop planted",
        "has a season that never meets the weather",
        where=first_label(~stands),
        value=f"planted {str(shown[0])[:10]}",
        count=int((~stands).sum()),
        allowed=f"growing on some day from {time[0]:%Y-%m-%d} to {time[-1]:%Y-%m-%d}",
        mend="check the year of planting" if crop.planted is not None else "check the days of the series",
    )


def choice_of(choice: dict[str, Number] | None, cells: Cells) -> Choice | None:
    """Spread a rule's numbers over the cells."""
    if choice is None:
        return None
    return Choice(**{name: cells.spread(value) for name, value in choice.items()})
