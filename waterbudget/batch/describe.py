"""One line of ``fields.csv`` becomes the descriptions of a field."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
import pandas as pd

from waterbudget import handbook
from waterbudget.balance import Rule
from waterbudget.batch.columns import PARTS
from waterbudget.batch.tables import Row
from waterbudget.crop import Crop
from waterbudget.errors import Faults, InputError
from waterbudget.soil import Soil
from waterbudget.system import System

_STAGES = ("initial", "development", "mid_season", "late_season")
_POINTS = ("initial", "mid", "end")
_KINDS = ("dual", "single")
_YES_NO = ("yes", "no")

D = TypeVar("D")


@dataclass(frozen=True, kw_only=True, eq=False)
class Field:
    """A field as the folder describes it.

    Attributes
    ----------
    name, station, crop_name : str
        As written in ``fields.csv``.
    crop, soil : Crop, Soil
    system : System or None
        None where the row names neither a system nor an efficiency.
    rule : Rule or None
        None where the row says that the field is not irrigated: then only the record waters it.
    initial_depletion, initial_depletion_below : float or None
        Depletion before the first day of the weather [mm]; None where not given.
    """

    name: str
    station: str
    crop_name: str
    crop: Crop
    soil: Soil
    system: System | None
    rule: Rule | None
    initial_depletion: float | None
    initial_depletion_below: float | None


def describe(
    row: Row, climate: tuple[float | None, float | None], made: dict[Hashable, Any], faults: Faults
) -> Field | None:
    """Describe a field by its line; every fault of the line is noted.

    Parameters
    ----------
    row : Row
        A line of ``fields.csv``.
    climate : (wind, rhmin)
        Stage means stated for the station [m s-1], [%]; None where it states none.
    made : dict
        Descriptions of earlier lines; a line with the same cells shares them. This adds to it.
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    Field or None
        None when anything is wrong.
    """
    noted = Faults()
    crop = _shared("crop", lambda own: _crop(row, climate, own), row, climate, made, noted)
    soil = _shared("soil", lambda own: _soil(row, own), row, None, made, noted)
    system = _shared("system", lambda own: _system(row, own), row, None, made, noted)
    rule = _shared("rule", lambda own: _rule(row, own), row, None, made, noted)
    initial = row.number("initial_depletion", noted)
    below = row.number("initial_depletion_below", noted)
    faults.extend(tuple(noted))
    if noted or crop is None or soil is None:
        return None
    return Field(
        name=row.text("field"),
        station=row.text("station"),
        crop_name=row.text("crop"),
        crop=crop,
        soil=soil,
        system=system,
        rule=rule,
        initial_depletion=initial,
        initial_depletion_below=below,
    )


def _shared(
    part: str,
    make: Callable[[Faults], D],
    row: Row,
    beside: Hashable,
    made: dict[Hashable, Any],
    faults: Faults,
) -> D:
    """Make a part of a field's description, or take that of a line with the same cells."""
    key = (part, beside, tuple((name, row.text(name)) for name in PARTS[part]))
    if key in made:
        known: D = made[key]
        return known
    own = Faults()
    result = make(own)
    faults.extend(tuple(own))
    if not own:  # a fault names its line, so it is found anew
        made[key] = result
    return result


def _made(make: Callable[[], D], what: str, faults: Faults) -> D | None:
    """Make a description; note its faults under the name of the thing described."""
    try:
        return make()
    except InputError as error:
        prefix = f"{what}, "
        for fault in error.faults:
            named = fault.what == what or fault.what.startswith(f"{what} ")
            faults.extend((fault,), "" if named else prefix)
        return None


def _numbers(row: Row, names: tuple[str, ...], faults: Faults) -> dict[str, Any]:
    """Collect the given numbers of a row."""
    found = {name: row.number(name, faults) for name in names}
    return {name: value for name, value in found.items() if value is not None}


def _crop(row: Row, of_station: tuple[float | None, float | None], faults: Faults) -> Crop | None:
    before = len(list(faults))
    planted = row.date("planted", faults)
    if not row.text("planted"):
        faults.add(
            "planted", "is missing", mend="give the date of planting or leaf-out, also when it is past"
        )
    if not row.text("crop"):
        faults.add("crop", "is missing", mend="give a handbook name, or any name beside own coefficients")
    given = _numbers(row, ("height", "depletion_fraction", "root_depth"), faults)
    stages = _together(row, "stage lengths", [*_STAGES], faults)
    if stages is not None:
        given["stage_days"] = stages
    curves: dict[str, Any] = {}
    for key in ("kc", "kcb"):
        curve = _together(row, f"{key} values", [f"{key}_{point}" for point in _POINTS], faults)
        if curve is not None:
            curves[key] = curve
    at_planting = row.number("root_depth_at_planting", faults)
    climate = _climate(row, of_station, faults)
    _check_crop(row, curves, faults)
    if len(list(faults)) > before:
        if row.text("crop") and not curves:  # name all that is wrong, the name of the crop too
            month = 1 if planted is None else pd.Timestamp(planted).month
            region = row.text("region") or None
            _made(lambda: handbook.crop(row.text("crop"), month=month, region=region), "crop", faults)
        return None
    if curves:
        if at_planting is not None:
            given["root_depth"] = (at_planting, given["root_depth"])
        return _made(lambda: Crop(planted=planted, climate=climate, **given, **curves), "crop", faults)

    def make() -> Crop:
        crop = Crop.from_handbook(
            row.text("crop"),
            planted=planted,
            region=row.text("region") or None,
            stage_days=stages,
            climate=climate,
            kind="single" if row.text("coefficients") == "single" else "dual",
        )
        if "root_depth" in given:
            given["root_depth"] = _deepened(crop.root_depth, at_planting, given["root_depth"])
        return dataclasses.replace(crop, **given) if given else crop

    return _made(make, "crop", faults)


def _check_crop(row: Row, curves: dict[str, Any], faults: Faults) -> None:
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
    for name in ("initial", "root_depth", "depletion_fraction"):
        if not row.text(name):
            what = "stage lengths" if name == "initial" else name
            faults.add(what, "is missing", mend="own coefficients need the crop's own values beside them")
    for name in ("coefficients", "region"):
        if row.text(name):
            faults.add(name, "chooses in the handbook, but the row has its own coefficients", mend="blank it")


def _deepened(handbook: Any, at_planting: float | None, depth: float) -> Any:
    """Put the row's root depth in place of the handbook's full depth."""
    if at_planting is not None:
        return (at_planting, depth)
    if isinstance(handbook, float):  # a perennial roots to its full depth all year
        return depth
    return (min(float(handbook.sel(extent="start")), depth), depth)


def _together(row: Row, what: str, names: list[str], faults: Faults) -> tuple[float, ...] | None:
    """Give numbers that mean something only together; None when none is given."""
    given = [name for name in names if row.text(name)]
    if not given:
        return None
    values = [row.number(name, faults) for name in names]
    missing = [name for name in names if not row.text(name)]
    if missing:
        faults.add(what, f"lack {', '.join(missing)}", mend=f"give all {len(names)} of them, or none")
    return None if any(value is None for value in values) else tuple(v for v in values if v is not None)


def _climate(
    row: Row, of_station: tuple[float | None, float | None], faults: Faults
) -> tuple[float, float] | None:
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


def _soil(row: Row, faults: Faults) -> Soil | None:
    before = len(list(faults))
    names = (
        "field_capacity",
        "wilting_point",
        "available_water",
        "rew",
        "tew",
        "curve_number",
    )
    given = _numbers(row, names, faults)
    texture = row.text("soil")
    if not texture and not given:
        faults.add("soil", "is missing", mend="give a texture, or field_capacity and wilting_point")
    if len(list(faults)) > before:
        if texture:
            _made(lambda: handbook.soil(texture), "soil", faults)
        return None
    if not texture:
        return _made(lambda: Soil(**given), "soil", faults)
    water = {"field_capacity", "wilting_point"} & set(given)
    if water and "tew" not in given:
        given["tew"] = None  # it follows from the row's own water contents (FAO-56 Eq. 73)
    return _made(lambda: dataclasses.replace(Soil.from_handbook(texture), **given), "soil", faults)


def _system(row: Row, faults: Faults) -> System | None:
    before = len(list(faults))
    site = _numbers(row, ("area", "flow", "application_rate"), faults)
    own = _numbers(row, ("efficiency", "wetted_fraction"), faults)
    name = row.text("system")
    if len(list(faults)) > before:
        if name:
            _made(lambda: handbook.system(name), "system", faults)
        return None
    if not (name or own or site):
        return None
    given: dict[str, Any] = {**site, **own}
    if name:
        return _made(lambda: dataclasses.replace(System.from_handbook(name, **site), **own), "system", faults)
    return _made(lambda: System(**given), "system", faults)


def _rule(row: Row, faults: Faults) -> Rule | None:
    before = len(list(faults))
    names = ("allowable_depletion", "refill_to", "net_depth", "min_depth", "max_depth", "min_interval")
    given = _numbers(row, names, faults)
    last: np.datetime64 | None = row.date("last_date", faults)
    if last is not None:
        given["last_date"] = last
    irrigated = row.text("irrigated").lower() or "yes"
    if irrigated not in _YES_NO:
        faults.add(
            "irrigated", "is neither yes nor no", value=repr(row.text("irrigated")), allowed="yes or no"
        )
    elif irrigated == "no" and given:
        faults.add(
            "irrigated", f"is no, but the row gives {', '.join(given)}", mend="blank these, or say yes"
        )
    if len(list(faults)) > before or irrigated == "no":
        return None
    return _made(lambda: Rule(**given), "rule", faults)
