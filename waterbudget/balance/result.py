"""The result of a run: one Dataset, always with the same variables."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget import descriptions
from waterbudget.balance import drivers
from waterbudget.balance.assumptions import assumptions
from waterbudget.balance.ground import available_within
from waterbudget.balance.inputs import Inputs
from waterbudget.balance.layout import Cells
from waterbudget.balance.rule import NUMBERS as RULE_NUMBERS
from waterbudget.balance.supply import fractions_of
from waterbudget.system.losses import LINKS, lost
from waterbudget.variables import VARIABLES, attributes
from waterbudget.version import __version__
from waterbudget.weather.flags import GIVEN, flag_attributes
from waterbudget.weather.methods import method_attributes

Array = NDArray[np.float64]

ORIGINS = tuple(name for name, variable in VARIABLES.items() if variable.kind == "origin")
"""Variables that say where the weather of a day comes from."""

CONVENTIONS = (
    "Depths in mm of water over the field. A day: roots grow; the morning's decision; rain and irrigation "
    "enter; evaporation and stress are read; water above field capacity percolates; evapotranspiration; end "
    "state. FAO Irrigation and Drainage Paper 56 (1998), chapters 6 to 8."
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
    for name in ORIGINS:
        season[name].attrs.update(_code_attributes(name))
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
        **_origins(run),
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


def _origins(run: Inputs) -> dict[str, xr.Variable]:
    """Give the codes of where the weather comes from; one code where it is the same every day."""
    given = xr.DataArray(np.int8(GIVEN))
    found = {name: run.origins.get(name, given).variable.astype(np.int8).compute() for name in ORIGINS}
    return {name: codes.transpose("time", ..., missing_dims="ignore") for name, codes in found.items()}


def _code_attributes(name: str) -> dict[str, Any]:
    """Say what the codes of an origin mean, beside what every variable says."""
    meanings = method_attributes() if name == "et_ref_method" else flag_attributes(name)
    return {key: meanings[key] for key in ("flag_values", "flag_meanings")}


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
        "assumptions": json.dumps(assumptions(run, series["irrigation_gross"])),
        "recorded_irrigation": run.record.entries,
        "planned_irrigation": run.record.planned,
    }
    if run.missing == "propagate":
        texts["missing"] = _lost_cells(series["depletion"], run.time)
    return texts


def _lost_cells(depletion: xr.Variable, time: pd.DatetimeIndex) -> str:
    """Say how many cells became NaN, and from when on."""
    lost = np.isnan(depletion.values).reshape(len(time), -1)
    ever = lost.any(axis=0)
    if not ever.any():
        return "none"
    first = int(lost[:, ever].argmax(axis=0).min())
    return f"{int(ever.sum())} of {ever.size} cells are NaN, the first from {time[first]:%Y-%m-%d} on"
