"""Evaluate a plan on the values of a weather Dataset, in blocks of labels or inside a dask graph.

Every operation stands for one value alone, so that the blocks a series is cut into change no bit. Blocks
keep what is worked out on the way small: some twenty arrays of the size of the result would otherwise stand
in memory.
"""

from __future__ import annotations

from functools import partial
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import xarray as xr

from waterbudget.errors import collect
from waterbudget.weather import atmosphere, radiation
from waterbudget.weather.choice import GROUPS, Plan, check_values
from waterbudget.weather.flags import GIVEN, code_of, flag_name
from waterbudget.weather.methods import (
    METHODS,
    NONE,
    RADIATION,
    Sky,
    Way,
    hargreaves,
    penman_monteith,
    priestley_taylor,
    vapour_pressure,
)

BLOCK = 2**18
"""Values that are worked out at a time: 2 MiB for each array on the way. Measured: fewer, and the calls
themselves take longer than the numbers; many more, and the arrays leave the cache."""

Values = dict[str, Any]
"""Arrays by name, each with all dimensions of the result; of length 1 where it does not vary."""


class Task(NamedTuple):
    """A plan with its options: the least wind [m s-1], and the groups whose flags are wanted."""

    plan: Plan
    least_wind: float | None
    groups: tuple[str, ...]


def is_lazy(weather: xr.Dataset) -> bool:
    """Tell whether any column is held by dask."""
    return bool(weather.chunks)


def dims_of(weather: xr.Dataset) -> tuple[str, ...]:
    """Give the dimensions of the result: time, then the labels in the order of the columns."""
    # A grid has its latitude as a dimension of its own, which is no data variable.
    labels = dict.fromkeys(
        str(dim) for data in (*weather.data_vars.values(), *weather.coords.values()) for dim in data.dims
    )
    return ("time", *(dim for dim in labels if dim != "time"))


def evaluate_now(weather: xr.Dataset, task: Task, block: int = BLOCK) -> xr.Dataset:
    """Evaluate a task on values that are at hand.

    Parameters
    ----------
    weather : Dataset
        The columns of the plan and the site, as variables; flags; `slope` and `intercept` of a calibration.
    task : Task
    block : int
        Values that are worked out at a time, about.

    Returns
    -------
    Dataset
        ``et_ref`` [mm day-1]; ``method``, the codes, where the plan is per value; ``<group>_flag``
        of the groups of the task. In its attributes ``negative``: how many values came out below 0 and are 0.
    """
    dims = dims_of(weather)
    values = {str(name): _spread(data, dims) for name, data in weather.variables.items()}
    values["day_of_year"] = _spread(weather["time"].dt.dayofyear, dims)
    shape = tuple(weather.sizes[dim] for dim in dims)
    found: Values = {"et_ref": np.empty(shape)}
    if task.plan.per_value:
        found["method"] = np.empty(shape, dtype=np.int8)
    found |= {flag_name(group): np.empty(shape, dtype=np.int8) for group in task.groups}
    negative = 0
    for at in _blocks(shape, block):
        part = {name: _cut(array, at) for name, array in values.items()}
        made = _evaluate_block(part, task, found["et_ref"][at].shape)
        negative += int((made["et_ref"] < 0).sum())
        np.maximum(made.pop("et_ref"), 0.0, out=found["et_ref"][at])
        for name, array in made.items():
            found[name][at] = array
    return xr.Dataset({name: (dims, array) for name, array in found.items()}, attrs={"negative": negative})


def evaluate_later(weather: xr.Dataset, task: Task) -> xr.Dataset:
    """Put a task into the dask graph of its columns; nothing is worked out yet.

    Parameters
    ----------
    weather, task
        As in `evaluate_now`.

    Returns
    -------
    Dataset
        As `evaluate_now` gives it, without attributes, held by dask. A value that cannot be raises its
        `InputError` when the block that it is in is worked out; the places are named by their labels.
    """
    import dask.array as da

    dims = dims_of(weather)
    weather = weather.unify_chunks()
    chunks = tuple(weather.chunksizes.get(dim, (weather.sizes[dim],)) for dim in dims)
    shape = tuple(weather.sizes[dim] for dim in dims)
    kinds = {"et_ref": np.float64} | ({"method": np.int8} if task.plan.per_value else {})
    kinds |= dict.fromkeys(map(flag_name, task.groups), np.int8)
    template = xr.Dataset(
        {name: (dims, da.empty(shape, chunks=chunks, dtype=kind)) for name, kind in kinds.items()},
        coords={dim: weather[dim] for dim in dims if dim in weather.indexes},
    )
    # partial hides the plan, whose tuples dask would take for tasks of its own.
    return xr.map_blocks(partial(_evaluate_chunk, task=task), weather, template=template)


def _evaluate_chunk(weather: xr.Dataset, task: Task) -> xr.Dataset:
    """Check and evaluate one chunk of a dask graph."""
    with collect() as faults:
        check_values(weather, (*task.plan.columns, *task.plan.site), faults)
    found = evaluate_now(weather, task)
    found.attrs = {}
    return found.assign_coords({dim: weather[dim] for dim in found.dims if dim in weather.indexes})


def count_low(weather: xr.Dataset, limit: float, codes: xr.DataArray) -> int:
    """Count the values of wind below a limit that Penman-Monteith reads."""
    low = weather["wind"] < limit
    if codes.ndim:
        windy = [method.code for method in METHODS.values() if "wind" in method.reads]
        low = low & codes.isin(windy)
    return int(low.sum())


# ------------------------------------------------------------------ one block


def _spread(data: xr.DataArray | xr.Variable, dims: tuple[str, ...]) -> npt.NDArray[Any]:
    """Give the values with every dimension, in this order and without copying them."""
    inside = [dim for dim in dims if dim in data.dims]
    new = tuple(slice(None) if dim in data.dims else np.newaxis for dim in dims)
    array: npt.NDArray[Any] = data.transpose(*inside).values[new]
    return array


def _blocks(shape: tuple[int, ...], block: int) -> list[tuple[slice, ...]]:
    """Cut the longest dimension of labels, so that a block has about as many values as wanted."""
    everything = (slice(None),) * len(shape)
    if len(shape) == 1 or not all(shape):
        return [everything]
    axis = 1 + int(np.argmax(shape[1:]))
    step = max(1, block // (int(np.prod(shape)) // shape[axis]))
    return [
        (*everything[:axis], slice(start, start + step), *everything[axis + 1 :])
        for start in range(0, shape[axis], step)
    ]


def _cut(array: npt.NDArray[Any], at: tuple[slice, ...]) -> npt.NDArray[Any]:
    """Take a block of an array that may be of length 1 along any dimension."""
    return array[tuple(slice(None) if n == 1 else part for n, part in zip(array.shape, at, strict=True))]


def _evaluate_block(values: Values, task: Task, shape: tuple[int, ...]) -> Values:
    """Work one block out: evapotranspiration that may be below 0, codes and flags."""
    plan = task.plan
    flags: Values = {
        group: _first_estimated(values, GROUPS[group]) for group in ("temperature", "wind", "et_ref")
    }
    if "temperature" in plan.reads:
        values["ra"] = radiation.extraterrestrial_radiation(values["latitude"], values["day_of_year"])
    if task.least_wind is not None and "wind" in values:
        values["wind"] = np.maximum(values["wind"], task.least_wind)
    sky = None
    if "radiation" in plan.reads:
        sky, flags["humidity"], flags["radiation"] = _sky(values, plan)
    if not plan.per_value:
        found: Values = {"et_ref": np.broadcast_to(_by_method(plan.methods[0], values, sky, plan), shape)}
        return found | {flag_name(group): flags[group] for group in task.groups}

    et, codes = np.full(shape, np.nan), np.full(shape, NONE, dtype=np.int8)
    for name in plan.methods:
        open_ = np.isnan(et)
        if not open_.any():
            break
        value = np.broadcast_to(_by_method(name, values, sky, plan), shape)
        taken = open_ & ~np.isnan(value)
        np.copyto(et, value, where=taken)
        codes[taken] = METHODS[name].code
    found = {"et_ref": et, "method": codes}
    for group in task.groups:
        reading = [method.code for method in METHODS.values() if group in method.reads]
        found[flag_name(group)] = np.where(np.isin(codes, reading), flags[group], GIVEN)
    return found


def _by_method(name: str, values: Values, sky: Sky | None, plan: Plan) -> Any:
    """Evaluate one method."""
    if name == "given":
        return values["et_ref"]
    if name == "hargreaves":
        et = hargreaves(values["tmin"], values["tmax"], values["ra"])
        if "slope" in values:
            et = values["intercept"] + values["slope"] * np.maximum(et, 0.0)
        return et
    assert sky is not None  # every other method reads radiation
    if name == "priestley-taylor":
        return priestley_taylor((sky.tmin + sky.tmax) / 2, sky.net_radiation, sky.pressure)
    return penman_monteith(sky, values["wind"], name, plan.surface)


def _sky(values: Values, plan: Plan) -> tuple[Sky, Any, Any]:
    """Prepare humidity, radiation and pressure; give the flags of the first two."""
    tmin, tmax, elevation = values["tmin"], values["tmax"], values["elevation"]
    vapour, humidity_flag = _first_there(
        (vapour_pressure(way, values), _first_estimated(values, way)) for way in plan.humidity
    )
    solar, radiation_flag = _first_there(_solar(way, values) for way in plan.radiation)
    pressure, _ = _first_there(
        (values[name] if name == "pressure" else atmosphere.pressure_from_elevation(elevation), GIVEN)
        for name in plan.pressure
    )
    clear_sky = radiation.clear_sky_radiation(values["ra"], elevation)
    longwave = radiation.net_longwave(tmin, tmax, vapour, solar, clear_sky)
    net = radiation.net_shortwave(solar) - longwave
    return Sky(tmin, tmax, vapour, net, pressure), humidity_flag, radiation_flag


def _solar(way: Way, values: Values) -> tuple[Any, Any]:
    """Give solar radiation by one way, and its flag."""
    flag = _first_estimated(values, way)
    if way == RADIATION[0]:
        return values["solar"], flag
    daylight = radiation.daylight_hours(values["latitude"], values["day_of_year"])
    solar = radiation.solar_from_sunshine(values["sunshine"], daylight, values["ra"])
    return solar, np.where(flag == GIVEN, np.int8(code_of("from_sunshine")), flag)


def _first_there(ways: Any) -> tuple[Any, Any]:
    """Take each value, and its flag, from the first way that has it."""
    value, flag = next(ways)
    for other, other_flag in ways:
        gap = np.isnan(value)
        value, flag = np.where(gap, other, value), np.where(gap, other_flag, flag)
    return value, flag


def _first_estimated(values: Values, columns: tuple[str, ...]) -> Any:
    """Give the flag of columns that are read together: the first that is not 0."""
    flag: Any = np.int8(GIVEN)
    for name in reversed(columns):
        own = values.get(flag_name(name), flag)
        flag = np.where(own == GIVEN, flag, own)
    return flag
