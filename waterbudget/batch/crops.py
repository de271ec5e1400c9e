"""A line's crop columns become a crop, or the crops between the cuttings of a forage."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget import handbook
from waterbudget.batch.cells import made, numbers, together, yes_no
from waterbudget.batch.tables import Row
from waterbudget.crop import Crop, Rotation
from waterbudget.descriptions import moment
from waterbudget.errors import Faults

Climate = tuple[float | None, float | None]
"""Stage means of wind [m s-1] and minimum relative humidity [%] stated for a station; None where not."""

_STAGES = ("initial", "development", "mid_season", "late_season")
_HEAT = tuple(f"{stage}_heat" for stage in _STAGES)
_POINTS = ("initial", "mid", "end")
_KINDS = ("dual", "single")
_AS_GIVEN = (
    "height",
    "depletion_fraction",
    "killing_frost",
    "salt_threshold",
    "salt_slope",
    "yield_response",
)


def crops_of(row: Row, of_station: Climate, faults: Faults) -> tuple[Crop, ...]:
    """Describe what a line grows; every fault is noted.

    Parameters
    ----------
    row : Row
        A line of ``fields.csv`` or ``crops.csv``.
    of_station : (wind, rhmin)
        Stage means stated for the station.
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    tuple of Crop
        One, or with cuttings the first and each regrowth. Empty when anything is wrong.
    """
    noted = Faults()
    cuttings = _cuttings(row, noted)
    crop = _crop(row, of_station, noted)
    grown: tuple[Crop, ...] = ()
    if crop is not None and not noted:
        grown = (crop,) if not cuttings else made(lambda: _regrown(crop, cuttings), "cuttings", noted) or ()
    faults.extend(tuple(noted))
    return () if noted else grown


def _crop(row: Row, of_station: Climate, faults: Faults) -> Crop | None:
    """Describe the crop of a line, that of the first cutting where there are any."""
    before = len(list(faults))
    planted = row.date("planted", faults)
    if not row.text("planted"):
        faults.add(
            "planted", "is missing", mend="give the date of planting or leaf-out, also when it is past"
        )
    if not row.text("crop"):
        faults.add("crop", "is missing", mend="give a handbook name, or any name beside own coefficients")
    given = numbers(row, (*_AS_GIVEN, "root_depth"), faults)
    given |= _calendar(row, faults)
    covers = numbers(row, ("organic_mulch_cover", "residue_cover"), faults)
    curves: dict[str, Any] = {}
    for key in ("kc", "kcb"):
        curve = together(row, f"{key} values", tuple(f"{key}_{point}" for point in _POINTS), faults)
        if curve is not None:
            curves[key] = curve
    at_planting = row.number("root_depth_at_planting", faults)
    climate = _climate(row, of_station, faults)
    _check(row, curves, faults)
    if len(list(faults)) > before:
        if row.text("crop") and not curves:  # name all that is wrong, the name of the crop too
            month = 1 if planted is None else pd.Timestamp(planted).month
            region = row.text("region") or None
            made(lambda: handbook.crop(row.text("crop"), month=month, region=region), "crop", faults)
        return None

    def make() -> Crop:
        if curves:
            if at_planting is not None:
                given["root_depth"] = (at_planting, given["root_depth"])
            return _covered(Crop(planted=planted, climate=climate, **given, **curves), covers)
        crop = Crop.from_handbook(
            row.text("crop"),
            planted=planted,
            region=row.text("region") or None,
            stage_days=given.get("stage_days"),
            climate=climate,
            kind="single" if row.text("coefficients") == "single" else "dual",
        )
        if "root_depth" in given:
            given["root_depth"] = _deepened(crop.root_depth, at_planting, given["root_depth"])
        if "stage_degree_days" in given:
            given["stage_days"] = None  # the row's heat takes the place of the handbook's calendar
        return _covered(dataclasses.replace(crop, **given) if given else crop, covers)

    return made(make, "crop", faults)


def _calendar(row: Row, faults: Faults) -> dict[str, Any]:
    """Collect what says how the stages pass: in days, or in degree days."""
    found: dict[str, Any] = {}
    days = together(row, "stage lengths", _STAGES, faults)
    if days is not None:
        found["stage_days"] = days
    heat = together(row, "degree days of the stages", _HEAT, faults)
    by_heat = any(row.text(name) for name in _HEAT)
    beside = numbers(row, ("base_temperature", "upper_temperature"), faults)
    unfinished = yes_no(row, "unfinished", faults)
    if unfinished is not None:
        beside["unfinished"] = unfinished
    if by_heat and any(row.text(name) for name in _STAGES):
        faults.add(
            "stage lengths",
            "stand in days and in degree days",
            mend="keep one of the two, and blank the other",
        )
    if by_heat and not row.text("base_temperature"):
        faults.add(
            "base_temperature",
            "is missing",
            mend="give the temperature that the degree days are counted from",
        )
    if not by_heat and beside:
        faults.add(
            ", ".join(beside),
            "mean nothing without degree days",
            mend=f"give {', '.join(_HEAT)}, or blank them",
        )
    return found if heat is None else {**found, "stage_degree_days": heat, **beside}


def _check(row: Row, curves: dict[str, Any], faults: Faults) -> None:
    """Note columns about the crop that do not go together."""
    kind = row.text("coefficients")
    if kind not in ("", *_KINDS):
        faults.add("coefficients", "is unknown", value=repr(kind), allowed="dual or single; blank is dual")
    if row.text("root_depth_at_planting") and not row.text("root_depth"):
        faults.add(
            "root_depth", "is missing", mend="root_depth_at_planting needs the full root depth beside it"
        )
    if not curves:
        return
    if not any(row.text(name) for name in ("initial", _HEAT[0])):
        faults.add(
            "stage lengths", "is missing", mend="own coefficients need the crop's own values beside them"
        )
    for name in ("root_depth", "depletion_fraction"):
        if not row.text(name):
            faults.add(name, "is missing", mend="own coefficients need the crop's own values beside them")
    for name in ("coefficients", "region"):
        if row.text(name):
            faults.add(name, "chooses in the handbook, but the row has its own coefficients", mend="blank it")


def _covered(crop: Crop, covers: dict[str, float]) -> Crop:
    """Lay mulch under a crop and leave its residue, each by the part of the surface that it covers."""
    if "organic_mulch_cover" in covers:
        crop = crop.with_organic_mulch(covers["organic_mulch_cover"])
    if "residue_cover" in covers:
        crop = crop.with_residue(covers["residue_cover"])
    return crop


def _deepened(handbook: Any, at_planting: float | None, depth: float) -> Any:
    """Put the row's root depth in place of the handbook's full depth."""
    if at_planting is not None:
        return (at_planting, depth)
    if isinstance(handbook, float):  # a perennial roots to its full depth all year
        return depth
    return (min(float(handbook.sel(extent="start")), depth), depth)


def _climate(row: Row, of_station: Climate, faults: Faults) -> tuple[float, float] | None:
    """Take the row's stage means, or else the station's."""
    wind, rhmin = row.number("climate_wind", faults), row.number("climate_rhmin", faults)
    wind = of_station[0] if wind is None else wind
    rhmin = of_station[1] if rhmin is None else rhmin
    if (wind is None) != (rhmin is None):
        faults.add(
            "climate_wind, climate_rhmin",
            "belong together",
            mend="give both in fields.csv or stations.csv, or neither for the standard climate",
        )
    return None if wind is None or rhmin is None else (wind, rhmin)


def _cuttings(row: Row, faults: Faults) -> list[np.datetime64]:
    """Read the dates on which a forage is cut."""
    days = []
    for text in row.text("cuttings").split(";") if row.text("cuttings") else ():
        noted = Faults()
        day = moment(text.strip(), "cuttings", noted)
        if noted or not isinstance(day, np.datetime64) or np.isnat(day):
            faults.add(
                "cuttings",
                "holds what is no date",
                where=f"line {row.line}",
                value=repr(text.strip()),
                allowed="dates written year-month-day with ; between them: 2025-05-12; 2025-06-10",
            )
        else:
            days.append(day)
    return days


def _regrown(crop: Crop, cuttings: list[np.datetime64]) -> tuple[Crop, ...]:
    """Let a crop begin again on the day after each cutting, from the roots that it has."""
    roots = crop.root_depth
    if isinstance(roots, xr.DataArray):
        roots = float(roots.sel(extent="full"))
    regrowth = dataclasses.replace(crop, root_depth=roots)
    crops: tuple[Crop, ...] = Rotation.from_cuttings(crop, regrowth=regrowth, cuttings=cuttings).crops
    return crops
