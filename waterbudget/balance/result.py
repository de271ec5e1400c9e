"""The result of a run: one Dataset, always with the same variables."""

from __future__ import annotations

import json
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget import descriptions
from waterbudget.balance import drivers
from waterbudget.balance.ground import Made, available_within
from waterbudget.balance.layout import Cells, Days
from waterbudget.balance.record import Record
from waterbudget.balance.rule import NUMBERS as RULE_NUMBERS
from waterbudget.balance.rule import Rule
from waterbudget.balance.start import Start
from waterbudget.balance.supply import Watering, fractions_of
from waterbudget.crop import Crop, Rotation
from waterbudget.descriptions import Number
from waterbudget.soil import Soil, Storage
from waterbudget.system import Delivery, System
from waterbudget.system.losses import LINKS, lost
from waterbudget.system.spray import doubts_in
from waterbudget.variables import attributes
from waterbudget.version import __version__

Array = NDArray[np.float64]

CONVENTIONS = (
    "Depths in mm of water over the field. A day: roots grow; the morning's decision; rain and irrigation "
    "enter; evaporation and stress are read; water above field capacity percolates; evapotranspiration; end "
    "state. FAO Irrigation and Drainage Paper 56 (1998), chapters 6 to 8."
)


class Inputs(NamedTuple):
    """All that a result tells of its run, beside what the day loop wrote."""

    time: pd.DatetimeIndex
    cells: Cells
    days: Days
    made: Made
    et_ref: xr.DataArray
    rain: xr.DataArray
    runoff: xr.DataArray | None
    crop: Crop | Rotation
    soil: Soil
    storage: Storage
    system: System | None
    delivery: Delivery
    watering: Watering
    rule: Rule | None
    record: Record
    start: Start
    share: Number
    resumed: bool
    missing: str

    @property
    def crops(self) -> tuple[Crop, ...]:
        """The crop, or those that follow one another."""
        return self.crop.crops if isinstance(self.crop, Rotation) else (self.crop,)

    @property
    def spotted(self) -> bool:
        """Whether the system has a pattern of spots, or wets a part of the root zone."""
        return self.system is not None and (
            self.system.spot_share is not None or self.watering.wetted_volume is not None
        )


def assemble(run: Inputs, written: dict[str, Array]) -> xr.Dataset:
    """Lay the arrays of the day loop and the run's inputs into one Dataset.

    Parameters
    ----------
    run : Inputs
    written : dict of str to ndarray
        From `drivers.run`; the arrays become the result's own.

    Returns
    -------
    Dataset
    """
    series = _series(run, written)
    known = _parameters(run) | _before(run)
    variables = {
        name: (value.dims, value.values, attributes(name)) for name, value in {**series, **known}.items()
    }
    coords: dict[str, Any] = {"time": run.time, **run.cells.coords}
    season = xr.Dataset(variables, coords=coords, attrs=_texts(run, series))
    season["et_ref"].attrs.update(
        {name: run.et_ref.attrs[name] for name in ("surface", "method", "why") if name in run.et_ref.attrs}
    )
    return season


def _series(run: Inputs, written: dict[str, Array]) -> dict[str, xr.Variable]:
    """Give the daily variables their dimensions, and derive those that follow from others.

    Labels were checked to match, so this works on variables without coordinates, by dimension name.
    """
    cells, days = run.cells, run.days
    made: dict[str, xr.Variable] = {}
    for name, array in written.items():
        spot = (cells.spots,) if array.ndim == 3 and run.spotted else ()
        dims = ("time", *(("spot",) if spot else ()), *cells.dims)
        made[name] = xr.Variable(dims, array.reshape(len(run.time), *spot, *cells.shape))
    net = made["irrigation_net"]
    gross = net / _variable(run.delivery.gross_to_net)
    losses = lost(gross, {name: _variable(part) for name, part in fractions_of(run.delivery).items()})
    coefficient, stage = days.coefficient.variable, days.stage.variable
    dual = _variable(days.dual)
    rain = run.rain.transpose("time", ...).variable
    # What no stage wrote is zero on every day: one short row says so.
    zero = xr.Variable("time", np.zeros(len(run.time)))
    for name in drivers.STAGE_OUTPUTS.values():
        made.setdefault(name, zero + 1.0 if name == "uptake_factor" else zero)
    if run.runoff is not None:
        made["runoff"] = run.runoff.variable + made["runoff"]
    series = {
        "et_ref": run.et_ref.transpose("time", ...).variable,
        "rain": rain,
        "crop_stage": stage.astype(np.int8),
        "degree_days": _variable(days.degree_days),
        "frost_ended": _variable(days.frost_ended),
        "crop_number": (_variable(days.number) * stage.copy(data=stage.values > 0)).astype(np.int8),
        "kcb": coefficient if bool(dual.all()) else _where((dual > 0) | (stage == 0), coefficient),
        "kc_max": days.kc_max.variable,
        "cover": days.cover.variable,
        "root_depth": days.root_depth.variable,
        "taw": _variable(available_within(run.storage, days.root_depth)),
        **made,
        "irrigation_gross": gross,
        "application_loss": gross - net,
        **{link.loss: zero for link in LINKS},
        **losses,
        "extra_irrigation": run.record.extra.variable,
        "leaching_irrigation": run.record.leaching.variable,
    }
    if run.system is None:
        series |= {link.loss: gross for link in LINKS}  # nothing is known of them
    unknown = _missing(_variable(run.storage.rew) + _variable(run.storage.tew))
    if bool(unknown.any()):  # no evaporation layer was asked for: how dry it is, is not known
        series["surface_depletion"] = _where(~unknown, made["surface_depletion"])
    if run.missing == "propagate":
        gone = _missing(made["depletion"])
        of_field = gone.any("spot") if "spot" in gone.dims else gone
        shown = [name for name, value in made.items() if value.ndim > 1 or name in written]
        for name in (*shown, "irrigation_gross", "application_loss", *losses):
            series[name] = _where(~(gone if "spot" in series[name].dims else of_field), series[name])
    return series


def _variable(value: Any) -> xr.Variable:
    """Take a number or a labelled array as a variable without coordinates."""
    return value.variable if isinstance(value, xr.DataArray) else xr.Variable((), value)


def _missing(value: xr.Variable) -> xr.Variable:
    """Mark the values that are NaN."""
    return xr.Variable(value.dims, np.isnan(value.values))


def _where(keep: xr.Variable, value: xr.Variable) -> xr.Variable:
    """Keep values where marked, NaN elsewhere."""
    return value * xr.Variable(keep.dims, np.where(keep.values, 1.0, np.nan))


def _parameters(run: Inputs) -> dict[str, xr.Variable]:
    """Collect the numbers of the run that have no time."""
    nan = float("nan")
    rule = run.rule
    delivery, storage, days, made = run.delivery, run.storage, run.days, run.made
    values: dict[str, Any] = {
        "available_water": storage.available_water,
        "rew": storage.rew,
        "tew": storage.tew,
        "evaporation_depth": storage.evaporation_depth,
        "air_dry_water": storage.air_dry_water,
        "curve_number": storage.curve_number,
        "adjust_curve_number": storage.adjust_curve_number,
        "intake_rate": storage.intake_rate,
        "drainage_fraction": storage.drainage_fraction,
        "restricting_depth": storage.restricting_depth,
        "water_table_depth": storage.water_table_depth,
        "soil_salinity": storage.soil_salinity,
        "profile_water": available_within(storage, days.deepest_root),
        "excess_capacity": made.excess_capacity,
        "capillary_limit": made.capillary_limit,
        "layer_uptake": made.layer_uptake,
        "evaporation_factor": days.evaporation_factor,
        "salt_factor": made.salt_factor,
        "yield_response": days.yield_response,
        "stage_yield_response": days.stage_yield_response,
        "depletion_fraction": days.depletion_fraction,
        "adjust_depletion_fraction": days.adjust,
        "deepest_root": days.deepest_root,
        "dual": days.dual,
        "gross_to_net": delivery.gross_to_net,
        "efficiency": nan if run.system is None else run.system.efficiency,
        "delivered_fraction": nan if run.system is None else run.system.delivered_fraction,
        **delivery.fractions,
        "peak_application_rate": delivery.peak_application_rate,
        "lift": delivery.lift,
        "operating_pressure": delivery.operating_pressure,
        "pump_efficiency": delivery.pump_efficiency,
        "wetted_volume": delivery.wetted_volume,
        "system_wetted_fraction": delivery.wetted_fraction,
        "subsurface": delivery.subsurface,
        "under_canopy": delivery.under_canopy,
        "application_rate": delivery.application_rate,
        "flow": delivery.flow,
        "area": delivery.area,
        "spot_share": delivery.spot_share,
        "spot_weight": delivery.spot_weight,
        "spot_watched": delivery.spot_watched,
        "over_application": _of_cells(run.watering.over_application, run.cells),
        "et_share_before_percolation": run.share,
        "irrigated_by_rule": float(rule is not None),
        "rule_free": run.record.free,
    }
    for name in (*RULE_NUMBERS, "watch_driest_quarter"):
        value = None if rule is None else getattr(rule, name)
        values[name] = nan if value is None else value
    last = None if rule is None else rule.last_date
    values["last_date"] = np.datetime64("NaT", "ns") if last is None else last
    if not run.spotted:
        values |= {"spot_share": 1.0, "spot_weight": 1.0, "spot_watched": 1.0}
    return {name: _variable(nan if value is None else value) for name, value in values.items()}


def _of_cells(values: Array, cells: Cells) -> xr.DataArray | float:
    """Give a number of each cell its dimensions; one number where it is the same for all."""
    if len(values) == 1:
        return float(values[0])
    return xr.DataArray(values.reshape(cells.shape), dims=cells.dims)


def _before(run: Inputs) -> dict[str, xr.Variable]:
    """Give the state before the first day."""
    cells = run.cells
    dims = (("spot",) if run.spotted else ()) + cells.dims
    shape = ((cells.spots,) if run.spotted else ()) + cells.shape
    values = {
        f"initial_{name}": xr.Variable(dims, value.reshape(shape))
        for name, value in run.start.state._asdict().items()
    }
    days = run.start.days_since.reshape(cells.shape)
    values["initial_days_since_irrigation"] = xr.Variable(cells.dims, days)
    return values


def _texts(run: Inputs, series: dict[str, xr.Variable]) -> dict[str, str]:
    """Write what a reader of the result must know: sources, assumptions, what went missing."""
    crops = run.crops
    known: dict[str, descriptions.Description | None] = {
        **{"crop" if len(crops) == 1 else f"crop {place}": one for place, one in enumerate(crops, start=1)},
        "soil": run.soil,
        "system": run.system,
        "rule": run.rule,
    }
    sources = {name: descriptions.sources(value) for name, value in known.items() if value is not None}
    method = run.et_ref.attrs.get("method")
    sources["weather"] = {
        "et_ref": f"{method}: {run.et_ref.attrs.get('why', '')}" if method else "given by the user"
    }
    texts = {
        "title": "daily soil-water balance",
        "version": f"waterbudget {__version__}",
        "conventions": CONVENTIONS,
        "sources": json.dumps(sources),
        "assumptions": json.dumps([*_assumptions(run), *_of_salt(run), *_turns(run)]),
        "recorded_irrigation": run.record.entries,
        "planned_irrigation": run.record.planned,
    }
    if run.missing == "propagate":
        texts["missing"] = _lost_cells(series["depletion"], run.time)
    return texts


def _assumptions(run: Inputs) -> list[str]:
    """List what the run took for granted."""
    found = []
    if not run.resumed:
        zero = [
            text
            for text, value in (
                ("root zone", run.start.state.depletion),
                ("soil below the roots", run.start.state.depletion_below),
                ("evaporation layer", run.start.state.surface_depletion),
            )
            if not value.any()
        ]
        if zero:
            found.append(
                f"before the first day: {', '.join(zero)} at field capacity "
                "(FAO-56 chapter 8 suggests it after heavy rain)"
            )
        found.append("before the first day the whole soil surface was wetted (FAO-56 Annex 8)")
    if any(crop.climate is None or bool(crop.climate.isnull().any()) for crop in run.crops):
        found.append(
            "where no climate is stated, Kc max is for the standard one: "
            "wind 2 m/s, minimum humidity 45 % (FAO-56 Eq. 72)"
        )
    stages = run.made.stages
    if run.runoff is None and stages.shedding is None:
        found.append("no rain runs off: no curve number, and no intensity of rain, was given")
    if stages.shedding is not None:
        found.append(
            "the curve number follows the dryness of the evaporation layer (ASCE Manual 70), between those "
            "of a dry and a wet soil (Hawkins and others 1985)"
        )
    if stages.holding is not None:
        found.append("water above field capacity leaves over several days, a fixed part of it each day")
    if stages.capillary_limit is not None:
        found.append(
            "water rises from the water table at the rate of steady flow (Gardner 1958), in full once the "
            "readily available water is used"
        )
    if stages.layer_uptake is not None:
        found.append("roots draw on the evaporation layer where the crop asks for it (Allen and others 2005)")
    if run.system is None:
        found.append("no system was given: gross depths are not known")
    else:
        found += _of_system(run)
    if not bool(_variable(run.days.dual).all()):
        found.append(
            "under a single coefficient all evapotranspiration of the crop is counted as transpiration"
        )
    found.append(
        "share of the day's evapotranspiration taken before percolation: "
        f"{_shown(run.share)} (1 is FAO-56 Eq. 88)"
    )
    return found


def _of_system(run: Inputs) -> list[str]:
    """Say what is not known of the system's losses, and how its pattern is taken."""
    found = []
    delivery = run.delivery
    if bool((xr.DataArray(delivery.unattributed_fraction) > 0).any()):
        found.append(
            "the losses of the system are one application efficiency; they are not attributed"
            if run.system is not None and run.system.efficiency is not None
            else "the losses before the soil are one delivered fraction; they are not attributed"
        )
    if run.system is not None:
        spray = descriptions.sources(run.system).get("spray_fraction", "")
        found += [f"spray loss: {doubt}" for doubt in doubts_in(spray)]
    links = run.system is not None and run.system.efficiency is None
    if links and delivery.spot_share.sizes["spot"] == 1:
        found.append("watering is taken as even: no pattern of cans or emitters was given")
    if run.watering.wetted_volume is not None:
        found.append(
            "where a wetted volume is given, irrigation refills that part of the root zone alone, and one "
            "root system draws on the wetted and the dry part (compensated uptake, Jarvis 1989)"
        )
    if run.made.stages.driest is not None:
        found.append("the decision watches the driest quarter of the spots where the rule asks for it")
    return found


def _of_salt(run: Inputs) -> list[str]:
    """Say what a salty field's plan leaves out."""
    if isinstance(run.made.salt_factor, float):
        return []
    leaching = bool((run.record.leaching > 0).any())
    plan = "the leaching in the plan does not change it" if leaching else "the plan has no leaching in it"
    return [f"salinity is the mean of the season, and {plan}"]


def _turns(run: Inputs) -> list[str]:
    """Say where a crop gave way before its stages were complete, or left the soil bare for the next."""
    found = []
    number = xr.DataArray(run.days.number)
    for place in range(1, len(run.crops)):
        own, after = number == place, number == place + 1
        if "time" not in number.dims or not bool(after.any()):
            continue
        stage = run.days.stage.where(own, 0.0)
        last = stage.where(after.shift(time=-1, fill_value=False), 0.0).max("time")
        if bool(((last > 0) & (last < 4)).any()):
            found.append(
                f"crop {place + 1} takes the field over from crop {place} before its late stage: where that "
                f"is no cutting, check the calendar of crop {place}"
            )
        stood = (stage > 0).cumsum("time") > 0
        bare = (own & stood & (stage == 0) & after.any("time")).sum("time")
        if bool((bare > 0).any()):
            days = int(bare.max())
            found.append(f"the soil is bare for up to {days} days between crops {place} and {place + 1}")
    return found


def _shown(value: Number) -> str:
    if isinstance(value, xr.DataArray):
        return ", ".join(f"{one:g}" for one in np.unique(value.values)[:4])
    return f"{value:g}"


def _lost_cells(depletion: xr.Variable, time: pd.DatetimeIndex) -> str:
    """Say how many cells became NaN, and from when on."""
    lost = np.isnan(depletion.values).reshape(len(time), -1)
    ever = lost.any(axis=0)
    if not ever.any():
        return "none"
    first = int(lost[:, ever].argmax(axis=0).min())
    return f"{int(ever.sum())} of {ever.size} cells are NaN, the first from {time[first]:%Y-%m-%d} on"
