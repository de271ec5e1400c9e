"""One day's arithmetic, line by line, recomputed and compared with what the season stores."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget.balance import depletion_before
from waterbudget.balance.step import State
from waterbudget.balance.watch import last_filled, look_weights, spot_mean, wanted_depths, watch_weight
from waterbudget.descriptions import moment
from waterbudget.errors import Faults, collect
from waterbudget.report import arithmetic, evening
from waterbudget.report.decision import Morning, set_down_decision
from waterbudget.report.events import purposes
from waterbudget.report.frames import DAILY_COLUMNS, check_season, label_dims, labels_of
from waterbudget.report.shedding import set_down_runoff
from waterbudget.report.sheet import Explanation, Sheet
from waterbudget.system.losses import LINKS
from waterbudget.variables import VARIABLES
from waterbudget.weather import flags
from waterbudget.weather.methods import title_of

_ORIGINS = tuple(name for name, variable in VARIABLES.items() if variable.kind == "origin")
_STATE = (*State._fields, "days_since_irrigation")
_PARAMETERS = (
    "available_water",
    "rew",
    "tew",
    "air_dry_water",
    "curve_number",
    "adjust_curve_number",
    "intake_rate",
    "drainage_fraction",
    "excess_capacity",
    "soil_salinity",
    "salt_factor",
    "restricting_depth",
    "water_table_depth",
    "capillary_limit",
    "evaporation_depth",
    "evaporation_factor",
    "layer_uptake",
    "profile_water",
    "depletion_fraction",
    "adjust_depletion_fraction",
    "deepest_root",
    "dual",
    "gross_to_net",
    "efficiency",
    "delivered_fraction",
    *(link.fraction for link in LINKS),
    "wetted_volume",
    "system_wetted_fraction",
    "subsurface",
    "under_canopy",
    "spot_share",
    "spot_weight",
    "spot_watched",
    "watch_driest_quarter",
    "adequacy",
    "over_application",
    "et_share_before_percolation",
    "irrigated_by_rule",
    "rule_free",
    "allowable_depletion",
    "refill_to",
    "net_depth",
    "min_depth",
    "max_depth",
    "min_interval",
)
_NEEDED = (*DAILY_COLUMNS, *_PARAMETERS, *_ORIGINS, "last_date", *(f"initial_{name}" for name in _STATE))


def explain(season: xr.Dataset, date: Any, at: Mapping[str, object] | None = None) -> Explanation:
    """Show the arithmetic of one day.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`, all its days.
    date : date or str
        The day: ``"2024-07-12"``.
    at : mapping of str to label, optional
        Which field, system, ... where the season has several: ``{"field": "north"}``. Where a field is split
        into spots, ``"spot"`` is the number of one, from 0.

    Returns
    -------
    Explanation
        Print it to read the day; ``.lines`` holds name, formula, numbers, value, unit and source of each
        step.

    Raises
    ------
    InputError
        When the date is outside the season, a label is missing or unknown, the day is missing (NaN), or the
        season is cut or changed, so that a line worked out again from the stored inputs differs from the
        stored result by more than 1e-9. What is shown is always what was computed.

    Notes
    -----
    Equations are those of FAO Irrigation and Drainage Paper 56 (1998), by number. Day 1 starts from the
    ``initial_`` variables; there, with no evening before, the readily available water that a rule "at stress"
    looks at is that of day 1 itself without any water.
    """
    check_season(season, _NEEDED)
    place = dict(at or {})
    with collect() as faults:
        number = _day_number(season, date, faults)
        cell = _select(season, place, faults)
    days = cell["time"].to_numpy().astype("datetime64[D]").astype(str)
    today, labels = str(days[number]), {dim: str(label) for dim, label in place.items() if dim in season.dims}
    spot = int(str(place["spot"])) if "spot" in cell.dims else None

    spots = _numbers(cell, number)
    before = _evening(cell, number)
    _check_known(spots, cell, days)
    own = {name: _one(value, spot) for name, value in spots.items()}
    alone = {str(name): str(value.item()) for name, value in cell.coords.items() if value.ndim == 0}
    numbers = cell["crop_number"].to_numpy()
    turn = int(numbers[: number + 1].max(initial=1))  # bare soil belongs to the crop before it
    sources = _sources(season, alone | labels, turn) | _origins(cell, number)
    where = ", ".join((today, *(f"{dim} {label}" for dim, label in labels.items())))
    with collect() as faults:
        sheet = Sheet(own, faults, where)
        since = f"end of {days[number - 1]}" if number else "initial state"
        arithmetic.set_down_start(sheet, {name: _one(value, spot) for name, value in before.items()}, since)
        arithmetic.set_down_inputs(sheet, own, sources)
        if numbers.max() > 1:
            place_of = "place of the crop in the rotation; 0 bare soil"
            sheet.given("crop_number", own["crop_number"], "1", place_of)
        set_down_runoff(sheet, own, sources)
        arithmetic.grow(sheet, own, sources)
        morning = _morning(sheet, spots, before, cell, today)
        verdict = set_down_decision(sheet, own, sources, morning)
        arithmetic.wet(sheet, own, sources)
        arithmetic.evaporate(sheet, own, sources)
        arithmetic.transpire(sheet, own, sources, _other_part(spots, spot))
        evening.settle(sheet, own, sources)
        evening.take_up(sheet, own, sources)
        evening.rise(sheet, own, sources)
        evening.close(sheet)
    return Explanation(date=today, labels=labels, verdict=verdict, parts=sheet.parts())


def _day_number(season: xr.Dataset, date: Any, faults: Faults) -> int:
    """Find the day; -1, with a fault noted, when the season does not have it."""
    days = pd.DatetimeIndex(season["time"].to_numpy())
    allowed = f"{days[0]:%Y-%m-%d} to {days[-1]:%Y-%m-%d}"
    if isinstance(date, xr.DataArray | np.ndarray) and date.ndim == 0:  # season["time"][3]
        date = np.asarray(date)[()]
    own = Faults()
    wanted = moment(date, "date", own)
    if own or isinstance(wanted, xr.DataArray):
        faults.extend(tuple(own))
        return -1
    number = int(days.get_indexer(pd.DatetimeIndex([wanted]))[0])
    if number < 0:
        faults.add("date", "is not a day of the season", value=str(date), allowed=allowed)
    return number


def _select(season: xr.Dataset, place: Mapping[str, object], faults: Faults) -> xr.Dataset:
    """Take the one cell that is meant; its spots stay, since the decision looks at all of them."""
    dims = label_dims(season, _NEEDED)
    cell = season[list(_NEEDED)]
    for dim in place:
        if dim not in season.dims or dim == "time":
            known = ", ".join(dims) or "none: the season has no labels"
            faults.add("at", f"names the dimension {dim!r}, which the season does not have", allowed=known)
    for dim in dims:
        held = labels_of(season, dim)
        labels = list(held) if held.dtype.kind == "M" else held.tolist()
        some = ", ".join(str(label) for label in labels[:12]) + (", ..." if len(labels) > 12 else "")
        if dim not in place:
            mend = f"at={{{dim!r}: {labels[0]!r}}}"
            faults.add("at", f"does not say which {dim}", allowed=some, mend=mend)
        elif place[dim] not in labels:
            faults.add(f"at, {dim}", "is no label of the season", value=repr(place[dim]), allowed=some)
        elif dim != "spot":
            cell = cell.isel({dim: labels.index(place[dim])})
    return cell


def _numbers(cell: xr.Dataset, number: int) -> dict[str, NDArray[np.float64]]:
    """Give every stored number of the day, those of spots on one axis."""
    return {
        name: (cell[name].isel(time=number) if "time" in cell[name].dims else cell[name])
        .to_numpy()
        .astype(float)
        for name in (*DAILY_COLUMNS, *_PARAMETERS)
    }


def _evening(cell: xr.Dataset, number: int) -> dict[str, NDArray[np.float64]]:
    """Give the state before the day."""
    stored = {name: cell[f"initial_{name}"] for name in _STATE}
    if number:
        yesterday = cell.isel(time=number - 1)
        stored = {name: yesterday[name] for name in _STATE}
    return {name: value.to_numpy().astype(float) for name, value in stored.items()}


def _one(value: NDArray[np.float64], spot: int | None) -> float:
    """Take a spot's value, or the only one."""
    return float(value[spot] if value.ndim else value)


def _check_known(day: Mapping[str, NDArray[np.float64]], cell: xr.Dataset, days: NDArray[np.str_]) -> None:
    """Refuse a day that is missing."""
    with collect() as faults:
        if np.isnan(day["depletion"]).any():
            lost = (
                np.isnan(cell["depletion"].transpose("time", ...).to_numpy())
                .reshape(len(days), -1)
                .any(axis=1)
            )
            first = str(days[int(lost.argmax())])
            faults.add(
                "season",
                "is missing on this day",
                where=first,
                count=int(lost.sum()),
                mend="fill the weather",
            )


def _other_part(day: Mapping[str, NDArray[np.float64]], spot: int | None) -> float | None:
    """Give the stress coefficient of the other part of a shared root system; None where there is none."""
    if spot is None or math.isnan(float(day["wetted_volume"])):
        return None
    spots = len(day["depletion"])
    other = (spot + spots // 2) % spots
    own = {name: _one(value, other) for name, value in day.items()}
    rain, net = own["rain"] - own["runoff"], own["irrigation_net"] * own["spot_share"]
    morning = depletion_before(
        own["depletion"], own["et"], net, rain, own["percolation"], own["capillary_rise"], own["excess_water"]
    )
    left = own["taw"] - max(float(morning) - rain - net, 0.0)
    return min(max(left / (own["taw"] - own["raw"]), 0.0), 1.0)


def _morning(
    sheet: Sheet,
    day: Mapping[str, NDArray[np.float64]],
    before: Mapping[str, NDArray[np.float64]],
    cell: xr.Dataset,
    today: str,
) -> Morning:
    """Gather what the decision knew; means over the spots where there are several."""
    spotted = "spot" in cell.dims
    driest, adequacy = float(day["watch_driest_quarter"]), float(day["adequacy"])
    whole = bool((day["spot_watched"] == 1).all()) and not driest > 0 and math.isnan(adequacy)
    mean = ("mean_" if whole else "watched_") if spotted else ""
    names = (
        f"{mean}depletion_before",
        f"{mean}taw_before",
        f"{mean}raw_before",
        f"{mean}depletion_morning",
        f"{mean}taw",
    )
    to_fill = None
    if mean:
        weight = np.broadcast_to(day["spot_weight"], cell.sizes["spot"])
        spots = State(*(np.broadcast_to(before[name], weight.shape) for name in State._fields))
        moved = day["taw"] - spots.taw - day["met_by_roots"]
        taw = np.broadcast_to(day["taw"], weight.shape)
        # What one spot has too much of does not water another.
        morning = np.maximum(spots.depletion + moved - spots.excess_water, 0.0)
        values = (spots.depletion, spots.taw, spots.raw, morning, taw)
        watch = watch_weight(weight, np.broadcast_to(day["spot_watched"], weight.shape))
        share = np.broadcast_to(day["spot_share"], weight.shape)
        refill_to = 0.0 if math.isnan(day["refill_to"]) else day["refill_to"]
        wanted = wanted_depths(morning - refill_to * taw, share, day["over_application"])
        look = look_weights(morning, watch, np.array(driest), wanted, np.array(adequacy))
        over = f"the {len(weight)} spots of the field" if whole else "the spots that the decision watches"
        source = "spots, weighted by the part of the field"
        if not math.isnan(adequacy):
            over = f"{adequacy:g} of the watched field, the part to be filled"
            source = "spots in order of the depth that fills them, up to this part"
        if driest > 0:
            over = f"the driest quarter of {'the field' if math.isnan(adequacy) else over}"
            source = "rule: today's driest spots, up to a quarter"
        sheet.part(f"Means over {over}")
        for name, value in zip(names, values, strict=True):
            sheet.given(name, float(spot_mean(value, look)), "mm", source)
        if not math.isnan(adequacy):
            spot = int(last_filled(wanted, watch, np.array(adequacy)))
            to_fill = _spot_to_fill(sheet, adequacy, spot, (morning, taw, share))
    last = cell["last_date"].to_numpy().astype("datetime64[D]")
    field = str(cell["field"].item()) if "field" in cell.coords else ""
    key = (np.datetime64(today, "D"), field)
    purpose, planned = (
        "; ".join(purposes(cell, which).get(key, []))
        for which in ("recorded_irrigation", "planned_irrigation")
    )
    return Morning(
        names,
        to_fill,
        bool(np.datetime64(today) > last),
        "" if np.isnat(last) else str(last),
        purpose,
        planned,
    )


def _spot_to_fill(
    sheet: Sheet, adequacy: float, spot: int, values: tuple[NDArray[np.float64], ...]
) -> tuple[str, str, str]:
    """Take down the spot that completes the part of the field to be filled; give the names of its lines."""
    names = ("depletion_to_fill", "taw_to_fill", "share_to_fill")
    sheet.part(f"The spot that completes {adequacy:g} of the watched field")
    source = f"spot {spot}, the last when spots are taken in order of the depth that fills them"
    for name, value, unit in zip(names, values, ("mm", "mm", "1"), strict=True):
        sheet.given(name, float(value[spot]), unit, source)
    return names


def _sources(season: xr.Dataset, labels: Mapping[str, str], turn: int) -> dict[str, str]:
    """Read the source of each input from the season's own record, at these labels and for this crop."""
    groups = json.loads(season.attrs.get("sources", "{}"))
    others = {name for name in groups if name.startswith("crop ")} - {f"crop {turn}"}
    return {
        name: _source(source, labels)
        for title, group in groups.items()
        if title not in others
        for name, source in group.items()
    }


def _origins(cell: xr.Dataset, number: int) -> dict[str, str]:
    """Say of the day's weather how it was worked out, and what of it was estimated."""
    codes = {
        name: int(cell[name].isel(time=number) if "time" in cell[name].dims else cell[name])
        for name in _ORIGINS
    }
    parts = [
        f"{name.removesuffix('_flag')}: {flags.text_of(code)}"
        for name, code in codes.items()
        if name not in ("et_ref_method", "rain_flag") and code != flags.GIVEN
    ]
    rain = codes["rain_flag"]
    return {
        "et_ref": "; ".join([title_of(codes["et_ref_method"]), *parts]),
        "rain": "weather" if rain == flags.GIVEN else f"weather: {flags.text_of(rain)}",
    }


def _source(source: Any, labels: Mapping[str, str]) -> str:
    """Choose the source of a joined value by label; all of them where the label is not known."""
    if isinstance(source, str):
        return source
    chosen = source["of"].get(labels.get(source["by"]))
    if chosen is not None:
        return _source(chosen, labels)
    return "; ".join(f"{label}: {_source(one, labels)}" for label, one in source["of"].items())
