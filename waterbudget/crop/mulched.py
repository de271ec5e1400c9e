"""What a mulch changes in a crop's values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from waterbudget import handbook
from waterbudget.crop.canonical import COEFFICIENTS, inside, said_too
from waterbudget.crop.mulch import organic_reduction, plastic_coefficients
from waterbudget.crop.varied import Changes, check_curve
from waterbudget.descriptions import Source, number, points, sources
from waterbudget.errors import Faults, InputError, collect

if TYPE_CHECKING:
    from waterbudget.crop.crop import Crop

BASAL_REDUCTION = 0.10
"""Fall of basal coefficients under plastic mulch in FAO-56 Example 45, beside 0.15 of the single ones."""
ORGANIC_RULE = "FAO-56 p. 197: 5 % less evaporation for each 10 % of the surface covered"


def under_organic(crop: Crop, cover: Any, kcb: Any) -> Changes:
    """Lay an organic mulch. Parameters and errors as in `Crop.with_organic_mulch`."""
    with collect() as faults:
        _check_bare(crop, faults)
        covered = number(cover, "cover", faults, what="cover of the mulch")
        basal = None if kcb is None else points(kcb, "kcb", ("coefficient", COEFFICIENTS), faults)
        if crop.kc is not None:
            check_curve(crop, "kc", faults)
        if kcb is not None and crop.kc is None:
            faults.add("kcb", "is for a single coefficient", mend="leave it out: the crop has its own kcb")
    reduction = organic_reduction(covered)
    values: dict[str, Any] = {"evaporation_reduction": reduction}
    told: dict[str, Source] = {"evaporation_reduction": ORGANIC_RULE}
    if crop.kc is not None:
        first = crop.kc.sel(coefficient=["initial"])
        later = crop.kc.sel(coefficient=["mid", "end"])
        if basal is None:
            falls, note = 0.0 * later, "its initial value"
        else:
            falls = later - basal.sel(coefficient=["mid", "end"])
            note = "its initial value, and what mid and end have above the basal ones,"
        with collect() as faults:
            if bool((falls < 0).any()):
                faults.add("kcb", "is above kc", mend="basal coefficients leave evaporation out: give those")
        parts = xr.broadcast(first - reduction * first, later - reduction * falls, exclude=["coefficient"])
        values["kc"] = xr.concat(parts, dim="coefficient", coords="minimal", compat="override")
        told["kc"] = said_too(
            sources(crop)["kc"], f"; {note} less by the mulch's reduction (FAO-56 p. 197-198)"
        )
    return values, told


def under_plastic(crop: Crop, name: str, kcb_reduction: Any) -> Changes:
    """Lay a plastic mulch. Parameters and errors as in `Crop.with_plastic_mulch`."""
    with collect() as faults:
        _check_bare(crop, faults)
        basal = inside(kcb_reduction, "kcb_reduction", (0.0, 1.0), faults)
        for key in ("kc", "kcb"):
            if getattr(crop, key) is not None:
                check_curve(crop, key, faults)
        try:
            row = handbook.plastic_mulch(name)
        except InputError as error:
            faults.extend(error.faults)
    with collect() as faults:
        if row.evaporation_reduction is None:
            faults.add(
                f"plastic mulch, {row.name!r}",
                "has no printed reduction of evaporation in FAO-56 Table 25",
                mend="name 'Average', the row for crops in general",
            )
    values: dict[str, Any] = {"evaporation_reduction": row.evaporation_reduction}
    told: dict[str, Source] = {"evaporation_reduction": row.sources["evaporation_reduction"]}
    notes = {
        "kc": (row.kc_reduction, row.sources["kc_reduction"]),
        "kcb": (basal, "FAO-56 Example 45 takes 10 % for basal coefficients"),
    }
    for key, (reduction, origin) in notes.items():
        curve = getattr(crop, key)
        if curve is not None:
            initial, mid, end = (curve.sel(coefficient=one, drop=True) for one in COEFFICIENTS)
            values[key] = plastic_coefficients(initial, mid, end, reduction)
            note = f"; under plastic mulch: initial 0.10 (Example 45), mid and end less ({origin})"
            told[key] = said_too(sources(crop)[key], note)
    return values, told


def _check_bare(crop: Crop, faults: Faults) -> None:
    """Note a mulch on a mulch."""
    if bool(np.any(xr.DataArray(crop.evaporation_reduction).values)):
        faults.add("mulch", "is there already", mend="begin from the crop without it")
