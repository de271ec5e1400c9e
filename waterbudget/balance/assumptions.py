"""What a run took for granted, in words for those who read its result."""

from __future__ import annotations

import numpy as np
import xarray as xr

from waterbudget import descriptions
from waterbudget.balance.inputs import Inputs
from waterbudget.descriptions import Number
from waterbudget.system.amounts import beyond_a_day, hours
from waterbudget.system.spray import doubts_in


def assumptions(run: Inputs, gross: xr.Variable) -> list[str]:
    """List what the run took for granted.

    Parameters
    ----------
    run : Inputs
    gross : Variable
        Irrigation supplied each day [mm].

    Returns
    -------
    list of str
        One statement each.
    """
    return [*_of_run(run), *_of_salt(run), *_of_hours(run, gross), *_turns(run)]


def _of_run(run: Inputs) -> list[str]:
    """Say how the run began, and which of its stages were asked for."""
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
        found.append("no system was given: gross depths are not known, and watering is taken as even")
    else:
        found += _of_system(run)
    if not bool(xr.DataArray(run.days.dual).all()):
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
    watered = (delivery.spot_watched * delivery.spot_weight > 0).sum("spot")
    if bool((watered < 2).any()):
        found.append("watering is taken as even where no pattern of cans or emitters is given: the best case")
    if bool((xr.DataArray(delivery.wetted_volume).isnull() & (delivery.wetted_fraction < 1)).any()):
        found.append(
            "where a part of the surface is wetted and no wetted volume is given, as under a drip system of "
            "the handbook, irrigation refills the whole root zone"
        )
    if run.watering.wetted_volume is not None:
        found.append(
            "where a wetted volume is given, irrigation refills that part of the root zone alone, and one "
            "root system draws on the wetted and the dry part (compensated uptake, Jarvis 1989)"
        )
    if run.made.stages.driest is not None:
        found.append("the decision watches the driest quarter of the spots where the rule asks for it")
    rate = xr.DataArray(delivery.peak_application_rate)
    if bool((rate.notnull() & (xr.DataArray(delivery.runoff_fraction) > 0)).any()):
        found.append(
            "the runoff of irrigation is an upper bound: the peak rate is taken to last, and no water waits "
            "on the surface"
        )
    asked = None if run.rule is None else run.rule.adequacy
    if asked is not None and bool((xr.DataArray(asked).notnull() & (watered < 2)).any()):
        found.append(
            "where watering is taken as even, the rule's adequacy has no effect: all is filled alike"
        )
    if run.made.stages.adequacy is not None:
        found.append(
            "where the rule has an adequacy, the decision looks at the part of the field to be filled, "
            "and the rest stays dry"
        )
    return found


def _of_salt(run: Inputs) -> list[str]:
    """Say what a salty field's plan leaves out."""
    if isinstance(run.made.salt_factor, float):
        return []
    leaching = bool((run.record.leaching > 0).any())
    plan = "the leaching in the plan does not change it" if leaching else "the plan has no leaching in it"
    return [f"salinity is the mean of the season, and {plan}"]


def _of_hours(run: Inputs, gross: xr.Variable) -> list[str]:
    """Say where a watering takes longer than the day on which it is counted."""
    delivery = run.delivery
    most = xr.DataArray(gross).max("time")
    longest = xr.apply_ufunc(hours, most, delivery.application_rate, delivery.flow, delivery.area)
    if not bool(beyond_a_day(longest).any()):
        return []
    return [
        "a watering is counted whole on its first day, however long it takes: the longest "
        f"{float(longest.max()):.0f} hours"
    ]


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
