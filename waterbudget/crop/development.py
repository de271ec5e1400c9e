"""Development: a crop's day-by-day coefficients, laid out by age in one table.

A table row is one crop, a column one day of its age; the first and last column are bare soil before
and after. The balance looks a day up by its date and the planting date, so a curve is worked out
once for each crop and not once for each field, and powers stay out of the day loop.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget.crop.canonical import COEFFICIENTS, EXTENTS, STAGES, stage_climate
from waterbudget.crop.coefficients import cover_from_basal, tall_to_short_ratio, upper_limit
from waterbudget.crop.heat import ROUNDING, check_heat, stage_clock
from waterbudget.descriptions import OWN_DIMS
from waterbudget.errors import collect

if TYPE_CHECKING:
    from waterbudget.crop.crop import Crop

Array = NDArray[np.float64]
FULL_STAGE = 3
"""A crop without a calendar is taken as fully grown: mid-season."""
ALWAYS_MID = np.array([[0.0, 0.0, 1.0, 0.0]])
"""Stage lengths of such a crop."""


class Development(NamedTuple):
    """A crop by age. Arrays of shape (crops, ages) unless said otherwise.

    Attributes
    ----------
    dims : tuple of str
        Label dimensions along the crops, in the order in which they were flattened; empty for one
        crop, whatever the number of planting dates.
    sizes : dict of str to int
        Lengths of those dimensions.
    first_day : DataArray of datetime64
        Date of age 1, on dimensions of its own; NaT where the crop always grows.
    coefficient, kc_max, cover, root_depth, stage : ndarray
        By age; age 0 is bare soil before, the last column bare soil after.
    dual : ndarray, shape (crops,)
        1.0 where the coefficient is basal.
    deepest_root : ndarray, shape (crops,)
        Deepest root the crop will have [m].
    evaporation_factor : ndarray
        By age: part of the soil evaporation that gets through. 1 before planting, less by the mulch
        while the crop stands, less by its residue afterwards.
    height : ndarray
        By age [m]; 0 on bare soil.
    """

    dims: tuple[str, ...]
    sizes: dict[str, int]
    first_day: xr.DataArray
    coefficient: Array
    kc_max: Array
    cover: Array
    root_depth: Array
    stage: Array
    dual: Array
    deepest_root: Array
    evaporation_factor: Array
    height: Array


def curve(age: Array, stage_days: Array, values: Array) -> Array:
    """Coefficient on each day of age: constant, rising, constant, falling. FAO-56 Fig. 34, Eq. 66.

    Parameters
    ----------
    age : ndarray, shape (ages,)
        Day of the season; 1 is the planting day. Or heat, of shape (crops, days), beside stage lengths in
        degree days.
    stage_days : ndarray, shape (crops, 4)
        Stage lengths [day]; 0 skips a stage.
    values : ndarray, shape (crops, 3)
        Coefficient in the initial stage, at mid-season and at the end.

    Returns
    -------
    ndarray, shape (crops, ages)
    """
    rising, falling = progress(age, stage_days)
    initial, mid, end = (values[:, i : i + 1] for i in range(3))
    # Rounding can bring an end of 0 a little below it.
    return np.maximum(initial + rising * (mid - initial) + falling * (end - mid), 0.0)


def progress(age: Array, stage_days: Array) -> tuple[Array, Array]:
    """How far the development and the late stage have gone on each day, 0 to 1 (Eq. 66)."""
    ends = np.cumsum(stage_days, axis=1)[:, :, None]
    length = stage_days[:, :, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        rising = np.where(length[:, 1] > 0, (age - ends[:, 0]) / length[:, 1], age > ends[:, 0])
        falling = np.where(length[:, 3] > 0, (age - ends[:, 2]) / length[:, 3], age > ends[:, 2])
    return np.clip(rising, 0.0, 1.0), np.clip(falling, 0.0, 1.0)


def develop(crop: Crop, degree_days: xr.DataArray | None = None) -> Development:
    """Work a crop's coefficients, cover, roots and stages out for every day of its age.

    Parameters
    ----------
    crop : Crop
    degree_days : DataArray on ``time``, and labels
        Heat accumulated from the planting day on, that day included, 0 before [degC day]: of
        `accumulate`. Needed by a crop with ``stage_degree_days``, which stands until the heat
        exceeds their sum; others do not use it.

    Returns
    -------
    Development
        Of a crop with ``stage_degree_days`` a daily series over the days of ``degree_days``: the
        heat up to a day decides its values, no later day does.

    Raises
    ------
    InputError
        When a label has neither a calendar nor constant values; when the heat is missing, or does
        not complete the stages of a crop that is not ``unfinished``.
    """
    coefficient = crop.kc if crop.kcb is None else crop.kcb
    if crop.kc is not None and crop.kcb is not None:  # joined crops: some single, some basal
        coefficient = crop.kcb.fillna(crop.kc)
    dual = xr.zeros_like(xr.DataArray(coefficient)) if crop.kcb is None else xr.DataArray(crop.kcb).notnull()
    given = {
        "coefficient": (coefficient, "coefficient", COEFFICIENTS),
        "root_depth": (crop.root_depth, "extent", EXTENTS),
        "height": (0.0 if crop.height is None else crop.height, None, ()),
        "cover": (float("nan") if crop.cover is None else crop.cover, "coefficient", COEFFICIENTS),
        "stage_days": (float("nan") if crop.stage_days is None else crop.stage_days, "stage", STAGES),
        "dual": (dual.max([dim for dim in ("coefficient", "time") if dim in dual.dims]), None, ()),
        "always": (_always(crop), None, ()),
        "wind": (stage_climate(crop.climate)[0], "stage", STAGES),
        "rhmin": (stage_climate(crop.climate)[1], "stage", STAGES),
        "tall": (float(crop.basis == "tall"), None, ()),
        "evaporation_reduction": (crop.evaporation_reduction, None, ()),
        "residue_reduction": (crop.residue_reduction, None, ()),
    }
    if crop.stage_degree_days is not None:
        given |= stage_clock(crop, check_heat(crop, degree_days))
    arrays = {name: xr.DataArray(value) for name, (value, _, _) in given.items()}
    sizes = _label_sizes(arrays)
    dims = tuple(sizes)
    flat: dict[str, NDArray[np.float64]] = {}
    days: pd.DatetimeIndex | None = None
    shapes: dict[str, str] = {}
    for name, (_, axis, labels) in given.items():
        array = arrays[name]
        if "time" in array.dims:
            axis, days, shapes[name] = "time", pd.DatetimeIndex(array["time"].values), "daily"
        elif axis in array.dims:
            shapes[name] = "curve"
        flat[name] = _flatten(array, dims, sizes, axis, 1 if axis == "time" else len(labels))
    planted = xr.DataArray(np.datetime64("NaT", "ns") if crop.planted is None else crop.planted)
    if days is None:
        parts = _from_curves(flat)
    else:
        heated = crop.stage_degree_days is not None
        parts = _from_heat(flat) if heated else _from_series(flat, days, planted, shapes)
        planted = xr.DataArray(days[0].to_datetime64())
    return Development(dims, sizes, planted, *_finish(flat, parts, shapes.get("height") == "daily"))


def _always(crop: Crop) -> float | xr.DataArray:
    """Mark crops without a planting date; a dimension of it only where they stand beside others."""
    if crop.planted is None:
        return 1.0
    missing = np.isnat(crop.planted)
    return missing.astype(np.float64) if bool(missing.any()) else 0.0


def _label_sizes(arrays: dict[str, xr.DataArray]) -> dict[str, int]:
    """Collect the label dimensions of a crop's values."""
    return {
        str(dim): size
        for array in arrays.values()
        for dim, size in array.sizes.items()
        if str(dim) not in OWN_DIMS
    }


def _flatten(
    array: xr.DataArray, dims: tuple[str, ...], sizes: dict[str, int], axis: str | None, points: int
) -> NDArray[np.float64]:
    """Spread an array over (crops, points of its axis)."""
    if axis is not None and axis not in array.dims:
        array = array.expand_dims({axis: max(points, 1)}, axis=-1)
    order = [*dims, axis] if axis is not None else list(dims)
    spread = array.expand_dims({dim: size for dim, size in sizes.items() if dim not in array.dims})
    values = spread.transpose(*order).values
    return values.reshape(-1, values.shape[-1] if axis is not None else 1)


class _Parts(NamedTuple):
    """What curves, series and heat all lead to, each of shape (crops, ages).

    ``before`` marks the ages before planting. ``peak`` and ``deepest_root`` are the largest coefficient
    and root depth of the whole season, of shape (crops, 1).
    """

    coefficient: Array
    cover: Array
    root_depth: Array
    stage: Array
    before: NDArray[np.bool_]
    peak: Array
    deepest_root: Array


def _from_curves(flat: dict[str, Array]) -> _Parts:
    """Lay out four-stage curves; a crop without a calendar is constant."""
    always = flat["always"][:, 0] > 0
    values, roots = flat["coefficient"], flat["root_depth"]
    changing = (values != values[:, :1]).any(axis=1) | (roots != roots[:, :1]).any(axis=1)
    with collect() as faults:
        lost = np.flatnonzero(always & changing)
        if lost.size:
            faults.add(
                "planted",
                "is missing for a crop whose coefficient or roots change with age",
                where=f"crop {int(lost[0]) + 1} of {always.size}",
                count=lost.size,
            )
    stage_days = np.where(always[:, None], ALWAYS_MID, flat["stage_days"])
    total = stage_days.sum(axis=1)
    age = np.arange(0.0, float(np.ceil(total.max())) + 2.0)
    growing = ((age >= 1.0) & (age <= total[:, None])) | always[:, None]
    rising, _ = progress(age, stage_days)
    stage = np.where(always[:, None], float(FULL_STAGE), _stage(age, stage_days))
    return _whole(
        coefficient=curve(age, stage_days, values),
        cover=curve(age, stage_days, flat["cover"]),
        root_depth=np.where(growing, roots[:, :1] + rising * (roots[:, 1:] - roots[:, :1]), roots[:, :1]),
        stage=stage * growing,
        before=(age < 1.0) & ~always[:, None],
    )


def _from_heat(flat: dict[str, Array]) -> _Parts:
    """Lay out four-stage curves along the days of the weather, by what each day's heat has reached.

    Nothing that a day gets depends on a later one: the peak of the coefficient and the deepest root
    are those of the curve, reached or not.
    """
    always = flat["always"] > 0
    values, roots = flat["coefficient"], flat["root_depth"]
    lengths = np.where(always, ALWAYS_MID, flat["lengths"])
    clock = np.where(always, 1.0, flat["clock"])
    before = (flat["age"] < 1.0) & ~always
    growing = ~before & (clock - ROUNDING <= lengths.sum(axis=1, keepdims=True))
    rising, _ = progress(clock, lengths)
    stage = np.where(always, float(FULL_STAGE), _stage(clock - ROUNDING, lengths))
    parts = _Parts(
        coefficient=curve(clock, lengths, values),
        cover=curve(clock, lengths, flat["cover"]),
        root_depth=np.where(growing, roots[:, :1] + rising * (roots[:, 1:] - roots[:, :1]), roots[:, :1]),
        stage=stage * growing,
        before=before,
        peak=values.max(axis=1, keepdims=True),
        deepest_root=roots.max(axis=1, keepdims=True),
    )
    made = _between_bare_days(parts)
    made.root_depth[:, [0, -1]] = roots[:, :1]  # of bare soil, not of a day that is cut off
    return made


def _stage(age: Array, stage_days: Array) -> Array:
    """Give the stage, 1 to 4, of each day of age."""
    ends = np.cumsum(stage_days, axis=1)
    result = np.ones(np.broadcast_shapes(age.shape, (len(ends), 1)))
    for i in range(3):
        result = result + (age > ends[:, i : i + 1])
    return result


def _from_series(
    flat: dict[str, Array], days: pd.DatetimeIndex, planted: xr.DataArray, shapes: dict[str, str]
) -> _Parts:
    """Lay out daily series; outside their days the soil is bare.

    A calendar given beside them sets the stages, the growth of roots given as two depths, and cover
    given at three points. ``shapes`` says which values are daily and which are curves.
    """
    shape = (flat["coefficient"].shape[0], len(days))
    roots, cover = flat["root_depth"], flat["cover"]
    if "stage_days" in shapes and not planted.dims:
        before = (days[0] - pd.DatetimeIndex([planted.values[()]])[0]).days
        age = before + 1.0 + np.arange(len(days), dtype=np.float64)
        stage = _stage(age, flat["stage_days"])
        if shapes.get("root_depth") == "curve":
            rising, _ = progress(age, flat["stage_days"])
            roots = roots[:, :1] + rising * (roots[:, 1:] - roots[:, :1])
        if shapes.get("cover") == "curve":
            cover = curve(age, flat["stage_days"], cover)
    else:
        stage = np.full(shape, float(FULL_STAGE))
        with collect() as faults:
            for name in ("root_depth", "cover"):
                if shapes.get(name) == "curve":
                    faults.add(
                        name,
                        "is a curve beside a daily coefficient, without one calendar",
                        mend="give a number or a daily series, or planted and stage_days as well",
                    )
    if "root_depth" not in shapes:
        roots = roots[:, :1]
    if "cover" not in shapes:
        cover = cover[:, :1]
    coefficient, cover, roots, stage = (
        np.broadcast_to(part, shape) for part in (flat["coefficient"], cover, roots, stage)
    )
    return _between_bare_days(_whole(coefficient, cover, roots, stage, np.zeros(shape, dtype=np.bool_)))


def _whole(
    coefficient: Array, cover: Array, root_depth: Array, stage: Array, before: NDArray[np.bool_]
) -> _Parts:
    """Add the peaks of a season that is all laid out."""
    return _Parts(
        coefficient,
        cover,
        root_depth,
        stage,
        before,
        peak=np.where(stage > 0, coefficient, 0.0).max(axis=1, keepdims=True),
        deepest_root=root_depth.max(axis=1, keepdims=True),
    )


def _between_bare_days(parts: _Parts) -> _Parts:
    """Put a bare day on either side of daily values, with the roots of the nearest day."""
    by_day = parts._asdict()
    peaks = {name: by_day.pop(name) for name in ("peak", "deepest_root")}
    made = _Parts(
        **{name: np.pad(part, ((0, 0), (1, 1)), mode="edge") for name, part in by_day.items()}, **peaks
    )
    made.stage[:, [0, -1]] = 0.0
    made.before[:, 0], made.before[:, -1] = True, False
    return made


def _finish(
    flat: dict[str, Array], parts: _Parts, daily_height: bool
) -> tuple[Array, Array, Array, Array, Array, Array, Array, Array, Array]:
    """Add Kc max and cover, and lay bare soil on both sides; in the order of `Development`."""
    growing = parts.stage > 0
    coefficient = np.where(growing, parts.coefficient, 0.0)
    dual = flat["dual"] > 0
    height = flat["height"]
    if daily_height:
        height = np.pad(height, ((0, 0), (1, 1)), mode="edge")
    else:  # a full height: it follows the coefficient and never falls (Annex 8)
        peak = np.maximum(parts.peak, 1e-9)
        reached = np.maximum.accumulate(coefficient, axis=1)
        if "clock" in flat:  # by heat: the days may begin in mid-season, where an earlier run ended
            initial, mid = flat["coefficient"][:, :1], flat["coefficient"][:, 1:2]
            reached = np.maximum(reached, np.where(parts.stage > 3, np.maximum(initial, mid), initial))
        height = height[:, :1] * reached / peak
    # Joined crops may have no height where they are single; it then changes nothing.
    height = np.where(growing, np.nan_to_num(height), 0.0)
    by_stage = np.clip(parts.stage.astype(np.intp) - 1, 0, 3)
    wind = np.take_along_axis(flat["wind"], by_stage, axis=1)
    rhmin = np.take_along_axis(flat["rhmin"], by_stage, axis=1)
    # Eq. 72 and 76 are written for the short reference.
    ratio = np.where(flat["tall"] > 0, tall_to_short_ratio(wind, rhmin), 1.0)
    short = coefficient * ratio
    limit = upper_limit(short, wind, rhmin, height)
    known = ~np.isnan(parts.cover)
    cover = np.where(known, np.minimum(parts.cover, 0.99), cover_from_basal(short, limit, height))
    cover = np.where(growing & (dual | known), cover, 0.0)
    mulched = 1.0 - flat["evaporation_reduction"]
    return (
        coefficient,
        limit / ratio,
        cover,
        parts.root_depth,
        parts.stage,
        dual[:, 0].astype(np.float64),
        parts.deepest_root[:, 0],
        np.where(parts.before, 1.0, np.where(growing, mulched, 1.0 - flat["residue_reduction"])),
        height,
    )
