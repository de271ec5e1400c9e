"""Observed water contents: readings by depth turned into the depletion of the root zone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.descriptions import Number, number, outside
from waterbudget.errors import Faults, collect
from waterbudget.soil.rows import HAIR, check_depths
from waterbudget.soil.soil import Soil
from waterbudget.soil.storage import Layered, by_layer, layer_tops
from waterbudget.tables import as_table, note_rows, read_labels, read_numbers, read_times, shown
from waterbudget.variables import VARIABLES

_WHAT = "readings"


def observed_depletion(
    table: pd.DataFrame | list[Mapping[str, Any]], soil: Soil, root_depth: Any
) -> xr.DataArray:
    """Root-zone depletion from readings of water content at several depths.

    ``1000 * integral from 0 to root depth of (field capacity - water content)``. A reading with
    ``top_m`` and ``bottom_m`` stands for that layer. One at ``depth_m`` stands for the soil halfway
    to its neighbours: the uppermost from the surface down, the lowest as far down as up, a single
    one down to twice its depth.

    Parameters
    ----------
    table : DataFrame or list of mappings
        A row for each reading: ``date``, ``field`` where there are several, ``water_content``
        [m3 m-3], and either ``top_m`` and ``bottom_m`` or ``depth_m`` [m].
    soil : Soil
        With field capacity, uniform or layered; its numbers may lie on ``field``.
    root_depth : number, labelled on ``field``, or daily on ``time``
        Depth of the root zone [m]: a number, or ``season["root_depth"]``.

    Returns
    -------
    DataArray
        Depletion [mm] on ``time``, the days with readings, and on ``field`` when the table has
        fields (those of soil and root depth in their order); NaN where a field was not read on a
        day. Negative where the soil holds more than field capacity.

    Raises
    ------
    InputError
        Unknown or missing columns, dates or numbers; readings that overlap, leave a hole or do not
        reach from the surface to the root depth; fields or days that soil or root depth do not
        have; a soil without field capacity, or one whose layers end above the root depth.

    Notes
    -----
    Source: common practice, no source (water missing below field capacity, summed over the depths).

    Examples
    --------
    >>> observed_depletion(
    ...     [
    ...         {"date": "2024-07-01", "top_m": 0.0, "bottom_m": 0.3, "water_content": 0.18},
    ...         {"date": "2024-07-01", "top_m": 0.3, "bottom_m": 0.6, "water_content": 0.22},
    ...     ],
    ...     Soil.from_handbook("loam"),
    ...     root_depth=0.6,
    ... )
    """
    with collect() as faults:
        readings = _read(table, faults)
        depth = number(root_depth, "root_depth", faults, optional=isinstance(root_depth, xr.DataArray))
        if soil.field_capacity is None:
            mend = "depletion counts from it: give field_capacity and wilting_point"
            faults.add("soil, field_capacity", "is missing", mend=mend)
    assert readings is not None  # or a fault was raised
    known = {
        "soil, field_capacity": soil.field_capacity,
        "soil, layer_bottom": soil.layer_bottom,
        "root_depth": depth,
    }
    arrays = {name: value for name, value in known.items() if isinstance(value, xr.DataArray)}
    with collect() as faults:
        for name, array in arrays.items():
            _check_labels(readings, name, array, faults)
        layers = _as_layers(readings, faults)
    tops = layer_tops(soil)
    capacity = by_layer(soil.field_capacity, len(tops))
    uppermost = _by_row(capacity.top, layers)
    own = Layered(uppermost, tuple(_by_row(one, layers) for one in capacity.changes))
    starts = tuple(_by_row(top, layers) for top in tops)
    roots = _by_row(depth, layers)
    end = _by_row(float("nan") if soil.layer_bottom is None else soil.layer_bottom.max("layer"), layers)
    with collect() as faults:
        _check_reach(layers, roots, uppermost, end, faults)
    top, bottom = (
        xr.DataArray(np.minimum(layers[name].to_numpy(), roots.values), dims="row")
        for name in ("top_m", "bottom_m")
    )
    present = 1000.0 * layers["water_content"].to_numpy() * (bottom - top)
    missing = xr.DataArray(own.down_to(bottom, starts)) - own.down_to(top, starts) - present
    by_day = pd.Series(missing.values, index=layers.index).groupby([layers[name] for name in _groups(layers)])
    return _laid_out(by_day.sum(), readings, list(arrays.values()))


def _groups(readings: pd.DataFrame) -> list[str]:
    return [name for name in ("date", "field") if name in readings]


def _read(table: Any, faults: Faults) -> pd.DataFrame | None:
    """Check the columns and bring their values to dates and numbers; None where a fault was noted."""
    names = table.columns if isinstance(table, pd.DataFrame) else _names(table)
    depths = ("depth_m",) if "depth_m" in names else ("top_m", "bottom_m")
    frame = as_table(table, _WHAT, ("date", *depths, "water_content"), ("field",), faults)
    if frame is None:
        return None
    own = Faults()
    dates = read_times(frame, _WHAT, own).dt.normalize()
    labels = {"field": read_labels(frame, "field", _WHAT, own)} if "field" in frame else {}
    numbers = {name: read_numbers(frame, name, _WHAT, own) for name in (*depths, "water_content")}
    variable = VARIABLES["water_content"]
    high = pd.Series(outside(variable, numbers["water_content"].to_numpy()), index=frame.index)
    note_rows(
        own,
        f"{_WHAT}, water_content",
        "is outside its range",
        high,
        shown(frame["water_content"]),
        allowed=variable.allowed(),
        mend="give m3 of water per m3 of soil, not a percentage",
    )
    faults.extend(tuple(own))
    return None if own else frame.assign(date=dates, **labels, **numbers)


def _names(table: Any) -> set[str]:
    """Collect the keys of a list of mappings."""
    rows = table if isinstance(table, list | tuple) else ()
    return {str(name) for row in rows if isinstance(row, Mapping) for name in row}


def _check_labels(readings: pd.DataFrame, what: str, value: xr.DataArray, faults: Faults) -> None:
    """Note labels that the readings and the soil or the root depth do not share."""
    other = [str(dim) for dim in value.dims if dim not in ("field", "layer", "time")]
    if other:
        faults.add(
            what,
            f"differs by {', '.join(other)}, which the readings do not name",
            mend=f"select one: .sel({other[0]}=...)",
        )
    if "field" in value.dims and "field" not in readings:
        faults.add(
            _WHAT,
            f"have no column 'field', and {what} differs by field",
            mend="name the field of each reading, or give the numbers of one field",
        )
    for dim, column in (("field", "field"), ("time", "date")):
        if dim in value.dims and column in readings:
            given = readings[column]
            unknown = ~given.isin(value.indexes[dim])
            problem = f"is not among those of {what}"
            note_rows(faults, f"{_WHAT}, {column}", problem, unknown, shown(given))


def _as_layers(readings: pd.DataFrame, faults: Faults) -> pd.DataFrame:
    """Give each reading the layer it stands for, in order of depth within its day and field."""
    groups, by_point = _groups(readings), "depth_m" in readings
    layers = readings.sort_values([*groups, "depth_m" if by_point else "top_m"], kind="stable")
    grouped = layers.groupby(groups, sort=False)
    if not by_point:
        above = grouped["bottom_m"].shift().fillna(0.0)  # the first reading begins at the surface
        check_depths(layers["top_m"], layers["bottom_m"], above, _WHAT, faults)
        return layers
    depth, previous, following = (grouped["depth_m"].shift(by) for by in (0, 1, -1))
    wrong = {"has a depth twice": depth == previous, "has a depth that is not below 0 m": depth <= 0}
    allowed = "one reading at a depth, for each day and field"
    for problem, bad in wrong.items():
        note_rows(faults, _WHAT, problem, bad, lambda row: f"depth_m {depth[row]:g}", allowed=allowed)
    top = ((previous + depth) / 2.0).fillna(0.0)
    bottom = ((depth + following) / 2.0).fillna(2.0 * depth - top)
    return layers.assign(top_m=top, bottom_m=bottom)


def _by_row(value: Number, layers: pd.DataFrame) -> xr.DataArray:
    """Give a number for each reading, by its field and day."""
    array = xr.DataArray(value)
    at = {
        dim: xr.DataArray(layers[column].to_numpy(), dims="row")
        for dim, column in (("field", "field"), ("time", "date"))
        if dim in array.dims
    }
    chosen: xr.DataArray = array.sel(at) if at else array.expand_dims(row=len(layers))
    return chosen.drop_vars(list(chosen.coords))


def _check_reach(
    layers: pd.DataFrame, roots: xr.DataArray, capacity: xr.DataArray, end: xr.DataArray, faults: Faults
) -> None:
    """Note days whose readings or soil do not reach the roots, and numbers that a field does not have."""
    rows, last = layers.index, ~layers.duplicated(_groups(layers), keep="last")
    deep, bottom = pd.Series(roots.values, rows), layers["bottom_m"]
    soil_end = pd.Series(end.values, rows)

    def reading(row: int) -> str:
        field = f", field {layers['field'][row]}" if "field" in layers else ""
        return f"{layers['date'][row]:%Y-%m-%d}{field}"

    def reach(ends: pd.Series[float]) -> Callable[[int], str]:
        return lambda row: f"{reading(row)}: {ends[row]:g} m, roots to {deep[row]:g} m"

    absent = {"root_depth": deep.isna(), "soil, field_capacity": pd.Series(np.isnan(capacity.values), rows)}
    for what, bad in absent.items():
        note_rows(faults, what, "is not given for a reading", bad, reading)
    for what, problem, ends in (
        (_WHAT, "end above the root depth", bottom),
        ("soil, layer_bottom", "ends above the root depth", soil_end),
    ):
        short = last & (ends < deep - HAIR)
        mend = "give it down to the root depth, or a smaller depth"
        note_rows(faults, what, problem, short, reach(ends), mend=mend)


def _laid_out(
    depletion: pd.Series[float], readings: pd.DataFrame, arrays: list[xr.DataArray]
) -> xr.DataArray:
    """Lay the days out on time, and on field in the order of the soil's or the roots' labels."""
    result: xr.DataArray = xr.DataArray.from_series(depletion).rename(date="time").rename("depletion")
    result.attrs = {"units": "mm", "long_name": VARIABLES["depletion"].long_name}
    if "field" not in readings:
        return result
    orders = [array.indexes["field"] for array in arrays if "field" in array.dims]
    return result.reindex(field=orders[0] if orders else readings["field"].unique())
