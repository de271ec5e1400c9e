"""What must fit together within one crop."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from waterbudget.checks import first_label, note_where, time_axis
from waterbudget.errors import Faults

if TYPE_CHECKING:
    from waterbudget.crop.crop import Crop


def check(crop: Crop, faults: Faults) -> None:
    """Note what does not fit together.

    Parameters
    ----------
    crop : Crop
        With its values in canonical form, whose labels agree.
    faults : Faults
        Takes what is wrong.
    """
    if crop.basis not in ("short", "tall"):
        faults.add("basis", "is unknown", value=repr(crop.basis), allowed="'short' or 'tall'")
    if not _one_coefficient(crop):
        faults.add("kc, kcb", "give exactly one of the two", value="neither" if crop.kc is None else "both")
    if crop.root_depth is None:
        faults.add("root_depth", "is missing", allowed="a depth [m], (at planting, full), or a daily series")
    lacking = _lacks_height(crop)
    if bool(lacking.any()) and crop.height is not None:
        faults.add(
            "height", "is not given where kcb is", where=first_label(lacking), count=int(lacking.sum())
        )
    if crop.kcb is not None and crop.height is None:
        faults.add(
            "height", "is missing", mend="kcb needs the crop height for Kc max and cover (FAO-56 Eq. 72, 76)"
        )
    _check_forms(crop, faults)
    _check_roots(crop, faults)
    _check_calendar(crop, faults)
    _check_heat(crop, faults)
    _check_frost(crop, faults)
    _check_salt(crop, faults)


def _check_frost(crop: Crop, faults: Faults) -> None:
    """Note a killing frost for a crop without stages: nobody knows from which day on it counts."""
    if crop.killing_frost is None:
        return
    planted = xr.DataArray(np.datetime64("NaT", "ns") if crop.planted is None else crop.planted)
    lost = xr.DataArray(crop.killing_frost).notnull() & planted.isnull()
    if bool(lost.any()):
        faults.add(
            "killing_frost",
            "is given for a crop without stages",
            where=first_label(lost),
            count=int(lost.sum()),
            mend="give planted and stage_days: frost ends a season from mid-season on",
        )


def _check_forms(crop: Crop, faults: Faults) -> None:
    """Note curves without a calendar, and daily series that do not match."""
    shaped = {
        name: getattr(crop, name)
        for name in ("kc", "kcb", "root_depth", "height", "cover")
        if isinstance(getattr(crop, name), xr.DataArray)
    }
    daily = {name: value for name, value in shaped.items() if "time" in value.dims}
    curves = [name for name, value in shaped.items() if {"coefficient", "extent"} & set(value.dims)]
    stages = crop.stage_days is not None or crop.stage_degree_days is not None
    if curves and (crop.planted is None or not stages):
        faults.add(
            ", ".join(curves),
            "is a curve without a calendar",
            mend="give planted and stage_days, or a constant, or a daily series",
        )
    if (crop.planted is None) == stages:
        missing = "planted" if crop.planted is None else "stage_days"
        faults.add(
            missing, "is missing", mend="planted and stage_days (or stage_degree_days) belong together"
        )
    if daily and not ({"kc", "kcb"} & set(daily)):
        faults.add(
            ", ".join(daily),
            "is a daily series beside a coefficient that is not",
            mend="give kc or kcb as a series too",
        )
    if daily and crop.stage_degree_days is not None:
        faults.add(
            "stage_degree_days",
            "stands beside a daily series",
            value=", ".join(daily),
            mend="give planted and stage_days beside daily series, or curves beside stage_degree_days",
        )
    spans = {
        (value["time"].values[0], value["time"].values[-1], value.sizes["time"]) for value in daily.values()
    }
    if len(spans) > 1:
        faults.add(", ".join(daily), "are daily series over different days", mend="cut them to the same days")
    for name, value in daily.items():
        time_axis(value["time"], faults, what=name)


def _lacks_height(crop: Crop) -> xr.DataArray:
    """Mark the labels that have a basal coefficient and no height."""
    if crop.kcb is None or crop.height is None:
        return xr.DataArray(False)
    basal, known = xr.DataArray(crop.kcb).notnull(), xr.DataArray(crop.height).notnull()
    basal = basal.any([dim for dim in ("coefficient", "time") if dim in basal.dims])
    return basal & ~known.all([dim for dim in ("time",) if dim in known.dims])


def _one_coefficient(crop: Crop) -> bool:
    """Tell whether each label has exactly one of kc and kcb: joined crops may hold NaN in the other."""
    if crop.kc is None or crop.kcb is None:
        return (crop.kc is None) != (crop.kcb is None)
    return bool((xr.DataArray(crop.kc).notnull() != xr.DataArray(crop.kcb).notnull()).all())


def _check_roots(crop: Crop, faults: Faults) -> None:
    """Note roots that shrink as they grow."""
    roots = crop.root_depth
    if isinstance(roots, xr.DataArray) and "extent" in roots.dims:
        start, full = roots.sel(extent="start"), roots.sel(extent="full")
        start, full = start.drop_vars("extent", errors="ignore"), full.drop_vars("extent", errors="ignore")
        note_where(
            faults, "root_depth", "starts deeper than it ends", start > full, {"start": start, "full": full}
        )


def _check_calendar(crop: Crop, faults: Faults) -> None:
    """Note stages that add up to nothing, stand in both measures, or lack where a crop is planted."""
    totals: dict[str, xr.DataArray] = {}
    for name in ("stage_days", "stage_degree_days"):
        stages = getattr(crop, name)
        if isinstance(stages, xr.DataArray):
            totals[name] = stages.sum("stage", skipna=False)
            values = {name.removeprefix("stage_").replace("_", " "): stages}
            note_where(faults, name, "add up to nothing", totals[name] <= 0, values)
    known = [total.notnull() for total in totals.values()]
    if len(known) == 2:
        note_where(
            faults,
            "stage_days, stage_degree_days",
            "are both given",
            known[0] & known[1],
            totals,
            mend="keep one of the two: stages are measured in days or in degree days",
        )
    planted = crop.planted is not None and not faults and ~np.isnat(xr.DataArray(crop.planted))
    if known:
        either = known[0] if len(known) == 1 else known[0] | known[1]
        note_where(faults, next(iter(totals)), "are not given though it is planted", ~either & planted, {})


def _check_heat(crop: Crop, faults: Faults) -> None:
    """Note degree days without a base temperature, and a base at or above the upper temperature."""
    base = xr.DataArray(float("nan") if crop.base_temperature is None else crop.base_temperature)
    if isinstance(crop.stage_degree_days, xr.DataArray):
        total = crop.stage_degree_days.sum("stage", skipna=False)
        note_where(
            faults,
            "base_temperature",
            "is missing for stages in degree days",
            total.notnull() & base.isnull(),
            {"degree days": total},
            mend="give the temperature [degC] that the degree days were counted from",
        )
    if crop.upper_temperature is not None:
        upper = xr.DataArray(crop.upper_temperature)
        note_where(
            faults,
            "base_temperature",
            "is not below upper_temperature",
            base >= upper,
            {"base": base, "upper": upper},
            allowed="base_temperature < upper_temperature",
        )


def _check_salt(crop: Crop, faults: Faults) -> None:
    """Note a salinity threshold without the slope and the yield response that it needs (Eq. 88, 89)."""
    if crop.salt_threshold is None and crop.salt_slope is None:
        return
    needed = ("salt_threshold", "salt_slope", "yield_response")
    values = {
        name: xr.DataArray(float("nan") if getattr(crop, name) is None else getattr(crop, name))
        for name in needed
    }
    tolerant = values["salt_threshold"].notnull() | values["salt_slope"].notnull()
    for name, value in values.items():
        others = {other: number for other, number in values.items() if other != name}
        mend = "give all three: stress by salt needs them together (FAO-56 Eq. 89)"
        if name == "yield_response":
            mend += "; where no yield_response is known, 1 may be used (FAO-56 p. 177)"
        note_where(
            faults,
            name,
            "is not given beside the other values of salt tolerance",
            tolerant & value.isnull(),
            others,
            mend=mend,
        )
