"""Coefficients of a crop by another of its conditions: how often the soil is wetted, what grows beneath."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from waterbudget.checks import note_where
from waterbudget.crop.canonical import inside, said_too, stage_climate
from waterbudget.crop.coefficients import BARE_COEFFICIENT, cover_from_basal, upper_limit
from waterbudget.crop.initial import Texture, initial_coefficient
from waterbudget.crop.sparse import basal_by_density, full_cover_basal
from waterbudget.descriptions import Source, number, sources
from waterbudget.errors import Faults, collect

if TYPE_CHECKING:
    from waterbudget.crop.crop import Crop

Changes = tuple[dict[str, Any], dict[str, Source]]
"""New values of a crop by field name, and their sources."""
TOGETHER = "; with the plants between, at least that of FAO-56 Eq. 76 for the field's kcb and height"
"""What is said of a cover by `cover_together`."""


def initial_by_wetting(
    crop: Crop, interval: Any, depth: Any, et_ref: Any, *, texture: Texture, wetted_fraction: Any
) -> Changes:
    """Set Kc ini by wetting. Parameters and errors as in `Crop.with_initial_coefficient`."""
    with collect() as faults:
        if crop.kc is None:
            faults.add("kc", "is not given", mend="kcb has its evaporation apart: leave its initial value")
        else:
            check_curve(crop, "kc", faults)
        if crop.basis != "short":
            faults.add("basis", "is not the short reference", value=repr(crop.basis), allowed="'short'")
        if texture not in ("coarse", "medium", "fine"):
            faults.add("texture", "is unknown", value=repr(texture), allowed="'coarse', 'medium' or 'fine'")
        every = inside(interval, "interval [day]", (0.01, 1000.0), faults)
        deep = inside(depth, "depth [mm]", (0.0, 1000.0), faults)
        drawn = inside(et_ref, "et_ref [mm day-1]", (0.01, 40.0), faults)
        part = inside(wetted_fraction, "wetted_fraction", (0.01, 1.0), faults)
    made = xr.DataArray(initial_coefficient(every, deep, drawn, texture, part))
    later = crop.kc.sel(coefficient=["mid", "end"])
    first = made.expand_dims(coefficient=["initial"], axis=-1)
    spread = xr.broadcast(first, later, exclude=["coefficient"])
    curve = xr.concat(spread, dim="coefficient", coords="minimal", compat="override")
    note = "; initial value by FAO-56 Eq. 59 to 61 and Annex 7, from the wettings stated"
    return {"kc": curve}, {"kc": said_too(sources(crop)["kc"], note)}


def over_ground_cover(crop: Crop, kcb: Any) -> Changes:
    """Put plants between the rows. Parameters and errors as in `Crop.with_ground_cover`."""
    with collect() as faults:
        if crop.kcb is None or crop.kc is not None:
            faults.add("kcb", "is not the crop's coefficient", mend="describe the crop by kcb")
        if crop.basis != "short":
            faults.add("basis", "is not the short reference", value=repr(crop.basis), allowed="'short'")
        ground = number(kcb, "ground_cover_kcb", faults)
        if _lies_on(crop.cover, "coefficient") and _lies_on(crop.kcb, "time"):
            faults.add(
                "cover", "is a curve beside daily kcb", mend="give a number or a daily series of cover"
            )
    wind, rhmin = (part.sel(stage="mid", drop=True) for part in stage_climate(crop.climate))
    full = full_cover_basal(crop.height, wind, rhmin)
    density = np.maximum((crop.kcb - BARE_COEFFICIENT) / (full - BARE_COEFFICIENT), 0.0)
    with collect() as faults:
        above = xr.DataArray(density) > 1.0
        note_where(
            faults,
            "kcb",
            "is above that of full cover at this height and climate (FAO-56 Eq. 99)",
            above,
            {"full cover": xr.DataArray(full)},
            mend="check kcb and height: such a stand shades its ground cover fully",
        )
    note = "; over a ground cover of the stated coefficient (Allen and Pereira 2009)"
    made = basal_by_density(density, full, ground)
    told = sources(crop)
    values, origins = {"kcb": made}, {"kcb": said_too(told["kcb"], note)}
    if crop.cover is not None:
        values["cover"] = cover_together(crop.cover, made, crop.height, crop.climate)
        origins["cover"] = said_too(told["cover"], TOGETHER)
    return values, origins


def cover_together(cover: Any, kcb: Any, height: Any, climate: xr.DataArray | None) -> Any:
    """Cover of a stand and of the plants between, at least what Eq. 76 gives for the field.

    Parameters
    ----------
    cover : float or DataArray
        Of the stand alone [1]; NaN, not given, stays so.
    kcb : float or DataArray
        Of both together, on the short basis [1].
    height : float or DataArray
        Full height of the stand, or its daily height [m].
    climate : DataArray, optional
        Stage means, as of `Crop`.

    Returns
    -------
    float or DataArray
        [1].
    """
    wind, rhmin = stage_climate(climate)
    if _lies_on(kcb, "coefficient"):
        wind, rhmin = (
            part.sel(stage=["initial", "mid", "late"])
            .rename(stage="coefficient")
            .assign_coords(coefficient=kcb["coefficient"].values)
            for part in (wind, rhmin)
        )
    else:
        wind, rhmin = (part.sel(stage="mid", drop=True) for part in (wind, rhmin))
    axis = next((dim for dim in ("coefficient", "time") if _lies_on(kcb, dim)), None)
    if axis is not None and not _lies_on(height, "time"):  # it grows with the coefficient (Annex 8)
        reached = xr.apply_ufunc(
            np.maximum.accumulate,
            kcb,
            input_core_dims=[[axis]],
            output_core_dims=[[axis]],
            kwargs={"axis": -1},
        )
        height = height * reached / np.maximum(kcb.max(axis), 1e-9)
    made = np.maximum(cover, cover_from_basal(kcb, upper_limit(kcb, wind, rhmin, height), height))
    dims = [dim for dim in ("coefficient", "time") if _lies_on(made, dim)]
    return made.transpose(..., *dims) if isinstance(made, xr.DataArray) else made


def _lies_on(value: Any, dim: str) -> bool:
    return isinstance(value, xr.DataArray) and dim in value.dims


def check_curve(crop: Crop, key: str, faults: Faults) -> None:
    """Note coefficients from which the initial one cannot be told apart."""
    curve = getattr(crop, key)
    if not isinstance(curve, xr.DataArray) or "coefficient" not in curve.dims:
        faults.add(
            key,
            "is not a curve, so that its initial value cannot be told apart",
            allowed="(initial, mid, end)",
            mend="give a curve; or evaporation_reduction itself, with dataclasses.replace",
        )
