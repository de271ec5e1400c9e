"""From a season's Dataset to a table for people: labels as columns, the unit in each column's name.

A Dataset keeps the unit of a variable in its attributes. A DataFrame or a CSV file has no such place, so
the column name carries it: ``gross_mm``, or ``gross_in`` with ``units="us"``. The factors are the exact
definitions: inch 25.4 mm, foot 0.3048 m, US gallon 231 cubic inches, international acre 4046.8564224 m2.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Any, Literal, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget.balance import watched_mean
from waterbudget.errors import collect
from waterbudget.variables import VARIABLES

UnitSystem = Literal["metric", "us"]
"""How numbers are shown: canonical metric units, or the units customary in the United States."""


class ShownUnit(NamedTuple):
    """How a canonical unit is shown: the end of the column name, and canonical units in one of it."""

    suffix: str
    size: float


_METRIC: Mapping[str, ShownUnit] = MappingProxyType(
    {
        "mm": ShownUnit("_mm", 1.0),
        "mm day-1": ShownUnit("_mm", 1.0),  # a row is a day or a sum of days: the depth itself
        "m": ShownUnit("_m", 1.0),
        "m3": ShownUnit("_m3", 1.0),
        "ha": ShownUnit("_ha", 1.0),
        "mm h-1": ShownUnit("_mm_per_h", 1.0),
        "m3 h-1": ShownUnit("_m3_per_h", 1.0),
        "1": ShownUnit("", 1.0),
        "day": ShownUnit("", 1.0),  # such names say "days" themselves
        "kWh": ShownUnit("_kWh", 1.0),
        "h": ShownUnit("", 1.0),  # such a name says "hours" itself
    }
)
_GALLON = 231 * 0.0254**3
_US: Mapping[str, ShownUnit] = MappingProxyType(
    {
        **_METRIC,
        "mm": ShownUnit("_in", 25.4),
        "mm day-1": ShownUnit("_in", 25.4),
        "m": ShownUnit("_ft", 0.3048),
        "m3": ShownUnit("_gal", _GALLON),
        "ha": ShownUnit("_acre", 0.40468564224),
        "mm h-1": ShownUnit("_in_per_h", 25.4),
        "m3 h-1": ShownUnit("_gal_per_min", _GALLON * 60),
    }
)
_SYSTEMS: Mapping[str, Mapping[str, ShownUnit]] = MappingProxyType({"metric": _METRIC, "us": _US})

DAILY_COLUMNS = (
    "crop_stage",
    "crop_number",
    "et_ref",
    "rain",
    "runoff",
    "irrigation_net",
    "irrigation_gross",
    "application_loss",
    "leak_loss",
    "conveyance_loss",
    "spray_loss",
    "canopy_loss",
    "irrigation_runoff",
    "unattributed_loss",
    "extra_irrigation",
    "leaching_irrigation",
    "kcb",
    "ke",
    "kc",
    "ks",
    "uptake_factor",
    "kc_max",
    "cover",
    "evaporation",
    "transpiration",
    "et",
    "met_by_roots",
    "percolation",
    "drainage",
    "capillary_rise",
    "root_depth",
    "taw",
    "raw",
    "depletion",
    "depletion_below",
    "excess_water",
    "surface_depletion",
    "wetted_fraction",
    "days_since_irrigation",
)
"""The daily variables of a season in the order in which `daily_frame` shows them."""


def check_units(units: str) -> None:
    """Refuse a name that is no system of units.

    Raises
    ------
    InputError
        When `units` is neither ``"metric"`` nor ``"us"``.
    """
    with collect() as faults:
        if units not in _SYSTEMS:
            faults.add(
                "units", "is no system of units", value=repr(units), allowed=" or ".join(map(repr, _SYSTEMS))
            )


def shown_unit(unit: str, units: UnitSystem = "metric") -> ShownUnit:
    """Say how a canonical unit is shown.

    Parameters
    ----------
    unit : str
        Canonical unit, as in `waterbudget.variables`.
    units : {"metric", "us"}
        The system of units wanted.

    Returns
    -------
    ShownUnit
        Suffix of the column name, and how many canonical units make one shown unit.

    Raises
    ------
    InputError
        When `units` is no system of units.
    """
    check_units(units)
    return _SYSTEMS[units][unit]


def check_season(season: xr.Dataset, names: Iterable[str]) -> None:
    """Refuse what is not the daily result of `simulate`, naming all that it lacks.

    Parameters
    ----------
    season : Dataset
        What the caller gave.
    names : iterable of str
        The variables that the report needs.

    Raises
    ------
    InputError
        When it is no Dataset, has no day, or lacks a variable.
    """
    with collect() as faults:
        if not isinstance(season, xr.Dataset):
            faults.add(
                "season", "is not a Dataset", value=type(season).__name__, mend="pass what simulate returned"
            )
            return
        lacking = [name for name in dict.fromkeys(names) if name not in season.variables]
        if "time" not in season.dims or season.sizes["time"] == 0:
            faults.add(
                "season", "has no days", mend="pass the whole result of simulate, with its time dimension"
            )
        elif lacking:
            faults.add(
                "season",
                f"lacks {', '.join(lacking)}",
                count=len(lacking),
                mend="pass the result of simulate as it came",
            )


def label_dims(season: xr.Dataset, names: Iterable[str]) -> tuple[str, ...]:
    """List the label dimensions that any of these variables depends on, in the order found.

    Parameters
    ----------
    season : Dataset
        Result of `simulate`.
    names : iterable of str
        Variables to look at.

    Returns
    -------
    tuple of str
        Every dimension but ``time``.
    """
    dims = dict.fromkeys(str(dim) for name in names for dim in season[name].dims)
    return tuple(dim for dim in dims if dim != "time")


def spread(values: xr.DataArray, sizes: Mapping[str, int]) -> NDArray[Any]:
    """Give an array on exactly these dimensions, in this order, without copying it.

    Parameters
    ----------
    values : DataArray
        On any of the dimensions.
    sizes : mapping of str to int
        The dimensions wanted and their lengths.

    Returns
    -------
    ndarray
        A read-only view.
    """
    own = [dim for dim in sizes if dim in values.dims]
    shape = [sizes[dim] if dim in own else 1 for dim in sizes]
    return np.broadcast_to(values.transpose(*own).to_numpy().reshape(shape), tuple(sizes.values()))


def over_spots(season: xr.Dataset, names: Iterable[str]) -> xr.Dataset:
    """Take variables of a season as means of each field.

    Parameters
    ----------
    season : Dataset
        Result of `simulate`.
    names : iterable of str
        The variables wanted.

    Returns
    -------
    Dataset
        Those variables; where fields are split into spots, each spot is weighted by its part of the field.
    """
    wanted = season[list(names)]
    if "spot" not in wanted.dims:
        return wanted
    split = {name: values for name, values in wanted.data_vars.items() if "spot" in values.dims}
    means = {name: watched_mean(values, season["spot_weight"]) for name, values in split.items()}
    return wanted.assign(means).drop_vars("spot", errors="ignore")


def labels_of(season: xr.Dataset, dim: str) -> NDArray[Any]:
    """Give the labels along a dimension, or the positions where it bears none."""
    return season[dim].to_numpy()  # xarray counts from 0 where there is no coordinate


def table(
    season: xr.Dataset, sizes: Mapping[str, int], columns: Mapping[str, NDArray[Any]], rows: Sequence[Any]
) -> pd.DataFrame:
    """Build a frame of label columns, then the given columns.

    Parameters
    ----------
    season : Dataset
        Where the labels stand.
    sizes : mapping of str to int
        Dimensions that `rows` walks through; ``time`` becomes the column ``date``.
    columns : mapping of str to ndarray
        The other columns, of one length.
    rows : sequence of integer ndarray
        For each dimension of `sizes` the position of every row.

    Returns
    -------
    DataFrame
        One row per position.

    Raises
    ------
    InputError
        When a label dimension bears the name of a column.
    """
    with collect() as faults:
        for dim in sizes:
            if dim in columns or dim == "date":
                faults.add(
                    f"dimension {dim!r}", "bears the name of a column", mend=f"season.rename({dim}=...)"
                )
    labels = {
        "date" if dim == "time" else dim: labels_of(season, dim)[at]
        for dim, at in zip(sizes, rows, strict=True)
    }
    return pd.DataFrame({**labels, **columns})


def daily_frame(season: xr.Dataset, units: UnitSystem = "metric") -> pd.DataFrame:
    """Lay a season's daily balance out as a table.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`, with any label dimensions.
    units : {"metric", "us"}
        Units of the columns; each name carries its own.

    Returns
    -------
    DataFrame
        A row per day and label combination, the days of one field together; where a field is split into
        spots, a row per spot. Columns: the label dimensions, ``date``, then `DAILY_COLUMNS` with the unit
        behind the name. A missing number is NaN.

    Raises
    ------
    InputError
        When `season` is not a daily result, or `units` is unknown.
    """
    check_units(units)
    check_season(season, DAILY_COLUMNS)
    dims = label_dims(season, DAILY_COLUMNS)
    sizes = {dim: season.sizes[dim] for dim in (*dims, "time")}
    columns = {}
    for name in DAILY_COLUMNS:
        suffix, size = shown_unit(VARIABLES[name].unit, units)
        values = spread(season[name], sizes).reshape(-1)
        columns[f"{name}{suffix}"] = values if size == 1.0 else values / size
    rows = [at.reshape(-1) for at in np.indices(tuple(sizes.values()), sparse=False)]
    return table(season, sizes, columns, rows)
