"""Two crops on one field, side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.checks import labelled, note_where
from waterbudget.crop.canonical import inside
from waterbudget.crop.development import Development, develop
from waterbudget.crop.sparse import two_crops
from waterbudget.descriptions import OWN_DIMS, same
from waterbudget.errors import Faults, collect

if TYPE_CHECKING:
    from waterbudget.crop.crop import Crop

_NO_SOURCE = "common practice, no source"
_ALONE = {
    "kcb": f"share times kcb while one crop stands alone ({_NO_SOURCE})",
    "kc": f"its own kc while one crop stands alone ({_NO_SOURCE})",
}


class _Days(NamedTuple):
    """A crop along a run of days, each on ``time`` and its labels."""

    coefficient: xr.DataArray
    height: xr.DataArray
    cover: xr.DataArray
    root_depth: xr.DataArray
    stands: xr.DataArray


def side_by_side(
    first: Crop, other: Crop, share: Any, other_share: Any
) -> tuple[dict[str, Any], dict[str, str]]:
    """Combine two crops day by day by FAO-56 Eq. 104. Parameters and errors as `Crop.intercropped_with`.

    Returns
    -------
    values : dict
        What to give `Crop`, by field name.
    sources : dict of str to str
        Where each comes from.
    """
    with collect() as faults:
        _check(first, other, faults)
        _check_shares(share, other_share, faults)
    tables = [develop(first), develop(other)]
    days = _days_of(tables)
    ours, theirs = (_along(*pair, days) for pair in zip((first, other), tables, strict=True))
    key = "kc" if first.kcb is None else "kcb"
    # Off its days a crop's coefficient is 0, so that the sum is that of the one that stands alone.
    # A single coefficient holds the evaporation of all the ground, and is not weighed by share.
    parts = (share, other_share) if key == "kcb" else (1.0, 1.0)
    alone = parts[0] * ours.coefficient + parts[1] * theirs.coefficient
    both = two_crops(share, ours.height, ours.coefficient, other_share, theirs.height, theirs.coefficient)
    coefficient = xr.DataArray(both).where(ours.stands & theirs.stands, alone)
    values: dict[str, Any] = {
        key: coefficient,
        "height": np.maximum(ours.height, theirs.height),
        "root_depth": np.maximum(ours.root_depth, theirs.root_depth),
        "climate": first.climate,
        "basis": first.basis,
        "depletion_fraction": np.minimum(first.depletion_fraction, other.depletion_fraction),
        "adjust_depletion_fraction": first.adjust_depletion_fraction,
    }
    sources = {
        key: f"FAO-56 Eq. 104 with the heights of the day; {_ALONE[key]}",
        "height": f"the taller of the two on the day; {_NO_SOURCE}",
        "root_depth": f"the deeper of the two on the day; {_NO_SOURCE}",
        "depletion_fraction": f"the smaller of the two; {_NO_SOURCE}",
    }
    if key == "kcb":
        values["cover"] = np.minimum(share * ours.cover + other_share * theirs.cover, 0.99)
        sources["cover"] = f"sum of each crop's cover times its share; {_NO_SOURCE}"
    return values, sources


def _check(first: Crop, other: Crop, faults: Faults) -> None:
    """Note crops that cannot stand on one field in one reckoning."""
    pair = (("first crop", first), ("other crop", other))
    kinds = [(crop.kc is not None, crop.kcb is not None) for _, crop in pair]
    if kinds[0] != kinds[1] or all(kinds[0]):
        faults.add("kc, kcb", "differ in kind", mend="describe both by kcb, or both by kc")
    for name, alike in (
        ("basis", first.basis == other.basis),
        ("climate", same(first.climate, other.climate)),
        (
            "adjust_depletion_fraction",
            same(first.adjust_depletion_fraction, other.adjust_depletion_fraction),
        ),
    ):
        if not alike:
            faults.add(name, "differs between the two crops", mend="give both the same")
    for what, crop in pair:
        if crop.height is None:
            faults.add(f"{what}, height", "is missing", mend="Eq. 104 weighs crops by height: give it")
        if crop.stage_degree_days is not None:
            faults.add(
                f"{what}, stage_degree_days", "needs weather, which is not at hand", mend="give stage_days"
            )
        if _anywhere(crop.evaporation_reduction) or _anywhere(crop.residue_reduction):
            faults.add(f"{what}, mulch", "belongs to the field", mend="lay it after the crops are combined")
    if first.planted is None and other.planted is None and not (_is_daily(first) or _is_daily(other)):
        faults.add("planted", "is missing in both crops", mend="give one of them its season")
    arrays = {
        f"{what}, {name}": value
        for what, crop in pair
        for name, value in vars(crop).items()
        if isinstance(value, xr.DataArray)
    }
    labels = {
        name: value.isel({dim: 0 for dim in OWN_DIMS if dim in value.dims}) for name, value in arrays.items()
    }
    labelled(labels, faults)


def _check_shares(share: Any, other_share: Any, faults: Faults) -> None:
    """Note shares out of range, or of more than the whole field together."""
    own = Faults()
    shares = {"share": share, "other_share": other_share}
    for name, part in shares.items():
        inside(part, name, (0.001, 1.0), own)
    if not own:
        labelled({name: part for name, part in shares.items() if isinstance(part, xr.DataArray)}, own)
    if not own:
        total = xr.DataArray(share + other_share)
        note_where(
            own,
            "share, other_share",
            "add up to more than the whole field",
            total > 1.0 + 1e-9,
            {name: xr.DataArray(part) for name, part in shares.items()},
            allowed="a sum of 1 or less",
        )
    faults.extend(tuple(own))


def _anywhere(value: Any) -> bool:
    return bool(np.any(xr.DataArray(value).values))


def _is_daily(crop: Crop) -> bool:
    coefficient = crop.kc if crop.kcb is None else crop.kcb
    return isinstance(coefficient, xr.DataArray) and "time" in coefficient.dims


def _days_of(tables: list[Development]) -> pd.DatetimeIndex:
    """Give the days from the first planting to the last day of either crop."""
    begins, ends = [], []
    for table in tables:
        planted = table.first_day.values.ravel()
        planted = planted[~np.isnat(planted)]
        if planted.size:
            begins.append(planted.min())
            ends.append(planted.max() + np.timedelta64(_last_age(table) - 1, "D"))
    return pd.date_range(min(begins), max(ends))


def _last_age(table: Development) -> int:
    """Give the last age on which any of the crops stands."""
    standing = np.flatnonzero((table.stage[:, :-1] > 0).any(axis=0))
    return int(standing[-1]) if standing.size else 1


def _along(crop: Crop, table: Development, days: pd.DatetimeIndex) -> _Days:
    """Look each day up in a crop's table of ages."""
    ages = table.stage.shape[1]
    time = xr.DataArray(days.to_numpy(), dims="time", coords={"time": days})
    age = (time - table.first_day.drop_vars("time", errors="ignore")) / np.timedelta64(1, "D") + 1.0
    place = age.fillna(1.0).clip(0, ages - 1).astype(np.intp)  # without a planting date it always grows
    if table.dims:
        rows = np.arange(len(table.stage)).reshape([table.sizes[dim] for dim in table.dims])
        place = xr.DataArray(rows * ages, dims=table.dims) + place
    labels = {
        dim: value[dim]
        for value in vars(crop).values()
        if isinstance(value, xr.DataArray)
        for dim in value.dims
        if dim in place.dims and dim not in OWN_DIMS
    }
    place = place.assign_coords(labels)
    coefficient, height, cover, root_depth, stage = (
        place.copy(data=one.ravel()[place.values])
        for one in (table.coefficient, table.height, table.cover, table.root_depth, table.stage)
    )
    return _Days(coefficient, height, cover, root_depth, stage > 0)
