"""A crop's values from the published tables, with their sources."""

from __future__ import annotations

from typing import Any, Literal

from waterbudget import handbook
from waterbudget.crop.canonical import STAGES, climate_value, month_of
from waterbudget.crop.coefficients import adjust_to_climate
from waterbudget.descriptions import moment
from waterbudget.errors import InputError, collect

START_ROOT_DEPTH = 0.2
"""Root depth [m] of an annual at planting: the value of FAO-56 Annex 8's spreadsheet."""
SHALLOW = 0.5
"""Full root depth [m] under which roots draw on the evaporation layer noticeably (FAO-56 p. 156)."""
UNKNOWN_YIELD_RESPONSE = 1.0
"""Ky where Table 24 does not list the crop (FAO-56 p. 177)."""


def tabled(
    name: str,
    *,
    planted: Any,
    region: str | None,
    stage_days: Any,
    climate: Any,
    kind: Literal["dual", "single"],
) -> tuple[dict[str, Any], dict[str, str]]:
    """Look a crop's values up. Parameters and errors as in `Crop.from_handbook`.

    Returns
    -------
    values : dict
        What to give `Crop`, by field name.
    sources : dict of str to str
        Where each comes from.
    """
    with collect() as faults:
        if kind not in ("dual", "single"):
            faults.add("kind", "is unknown", value=repr(kind), allowed="'dual' or 'single'")
        day = moment(planted, "planted", faults)
        try:
            row = handbook.crop(name, month=month_of(day), region=region, stages=stage_days is None)
        except InputError as error:
            faults.extend(error.faults)
    key = "kcb" if kind == "dual" else "kc"
    coefficients = row.kcb if kind == "dual" else row.kc
    with collect() as faults:
        if stage_days is None and row.stage_days is None:
            faults.add(
                f"crop {row.name!r}",
                "has no stage lengths in FAO-56 Table 11",
                mend="give your own: stage_days=(initial, development, mid, late) in days",
            )
        if coefficients is None:
            table = "17 (basal)" if kind == "dual" else "12 (single)"
            other = "single" if kind == "dual" else "dual"
            faults.add(f"crop {row.name!r}", f"has no row in FAO-56 Table {table}", mend=f"kind={other!r}")
    sources = dict(row.sources)
    sources.pop("kcb" if key == "kc" else "kc", None)
    response = row.yield_response
    if row.salt_threshold is not None and response is None:
        response = UNKNOWN_YIELD_RESPONSE
        sources["yield_response"] = "FAO-56 p. 177: 1 may be used where Table 24 has no Ky for the crop"
    shallow = row.root_depth_m < SHALLOW
    if shallow:
        sources["surface_uptake"] = "FAO-56 p. 156: shallow roots draw on the evaporation layer"
    curve: Any = coefficients
    if climate is not None and coefficients is not None:
        curve, note = _adjusted(coefficients, climate, row.height_m or 0.0)
        sources[key] += note
    else:
        sources[key] += "; for the standard climate, 2 m/s and 45 %"
    roots: Any = row.root_depth_m
    if not row.perennial:
        roots = (min(START_ROOT_DEPTH, row.root_depth_m), row.root_depth_m)
        sources["root_depth"] += "; 0.2 m at planting, as in FAO-56 Annex 8"
    values = {
        "planted": day,
        "stage_days": row.stage_days if stage_days is None else stage_days,
        key: curve,
        "root_depth": roots,
        "height": row.height_m,
        "climate": climate,
        "depletion_fraction": row.depletion_fraction,
        "surface_uptake": shallow,
        "salt_threshold": row.salt_threshold,
        "salt_slope": row.salt_slope,
        "yield_response": response,
    }
    return values, sources


def _adjusted(coefficients: tuple[float, float, float], climate: Any, height: float) -> tuple[Any, str]:
    """Adjust tabled mid and end coefficients to the stated climate of their own stages."""
    with collect() as faults:
        stated = climate_value(climate, faults)
    if "stage" not in stated.dims:
        stated = stated.expand_dims({"stage": list(STAGES)}, axis=-1)
    wind, rhmin = stated.sel(mean="wind", drop=True), stated.sel(mean="rhmin", drop=True)
    initial, mid, end = coefficients
    at = {"mid": wind.sel(stage="mid", drop=True), "end": wind.sel(stage="late", drop=True)}
    humid = {"mid": rhmin.sel(stage="mid", drop=True), "end": rhmin.sel(stage="late", drop=True)}
    made = (
        initial,
        adjust_to_climate(mid, at["mid"], humid["mid"], height),
        adjust_to_climate(end, at["end"], humid["end"], height),
    )
    return made, "; mid and end adjusted to the stated climate by FAO-56 Eq. 62, 65 or 70"
