"""What must fit together in a description of a system."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from waterbudget.checks import note_where
from waterbudget.descriptions import Number
from waterbudget.errors import Faults
from waterbudget.system.losses import check_left

if TYPE_CHECKING:
    from waterbudget.system.system import System

_BEFORE_FIELD = ("leak_fraction", "conveyance_fraction")
_PUMPING = ("lift", "operating_pressure", "pump_efficiency")
_IN_FIELD = ("spray_fraction", "canopy_fraction", "runoff_fraction")


def check_system(system: System, faults: Faults) -> None:
    """Note what does not fit together."""
    _check_time(system, faults)
    _check_chain(system, faults)
    if system.application_rate is not None and system.flow is not None and system.area is not None:
        both = _given(system, "application_rate") & _given(system, "flow") & _given(system, "area")
        if bool(both.any()):
            faults.add(
                "application_rate, flow", "say the same thing twice", mend="give one of them with the area"
            )
    _check_wetting(system, faults)
    _check_spots(system, faults)
    given = [name for name in _PUMPING if getattr(system, name) is not None]
    for name in ("lift", "operating_pressure"):
        if given and name not in given:
            faults.add(name, f"is needed beside {given[0]}", mend="0 where there is none")
    if given and system.pump_efficiency is None:
        faults.add(
            "pump_efficiency",
            "is needed beside lift or operating_pressure",
            allowed="above 0 and at most 1",
            mend="water power over power from the line: measure it, or give your adviser's",
        )


def _value(system: System, name: str, otherwise: float) -> Number:
    """Give a number, and another where it is not given."""
    value = getattr(system, name)
    return otherwise if value is None else value


def _check_time(system: System, faults: Faults) -> None:
    """Note numbers that vary by day and may not, and days without a spray loss."""
    for field in dataclasses.fields(system):
        value = getattr(system, field.name)
        if not isinstance(value, xr.DataArray) or "time" not in value.dims:
            continue
        if field.name != "spray_fraction":
            faults.add(
                field.name, "varies by day", allowed="one number for the run; spray_fraction may vary by day"
            )
            continue
        gaps = value.isnull()
        if gaps.ndim > 1:  # a label that is NaN throughout has no spray loss given
            gaps = gaps & ~gaps.all("time")
        note_where(
            faults,
            field.name,
            "has days without a value",
            gaps,
            {},
            mend="give every day, 0 where none is lost",
        )


def _given(system: System, name: str) -> xr.DataArray:
    """Mark the labels for which a number is given."""
    value = getattr(system, name)
    if value is None:
        return xr.DataArray(False)
    if not isinstance(value, xr.DataArray):
        return xr.DataArray(True)
    if value.dims == ("time",):
        return xr.DataArray(True)  # days without a value are a fault of their own
    given = value.notnull()
    return given.any("time") if "time" in given.dims else given


def _check_chain(system: System, faults: Faults) -> None:
    """Note links that count a loss twice, and labels for which nothing is known."""
    efficiency, delivered = _given(system, "efficiency"), _given(system, "delivered_fraction")
    links = {name: _given(system, name) for name in (*_BEFORE_FIELD, *_IN_FIELD)}
    peak, uneven = _given(system, "peak_application_rate"), _uneven(system)
    twice = (
        (
            "efficiency, delivered_fraction",
            "say the same thing twice",
            efficiency & delivered & ~uneven,
            "give one of them",
        ),
        (
            "runoff_fraction, peak_application_rate",
            "say the same thing twice",
            links["runoff_fraction"] & peak,
            "give one of them: a peak rate gives the runoff from the intake of the soil",
        ),
    )
    for what, problem, both, mend in twice:
        note_where(faults, what, problem, both, {}, mend=mend)
    whole = (efficiency | delivered) & peak
    note_where(
        faults,
        "peak_application_rate",
        "stands beside one number that holds the runoff as well: it would count twice",
        whole,
        {},
        mend="give the links of the chain in place of the one number; what cans measured, as "
        "spray_fraction = 1 - delivered_fraction",
    )
    for name in _IN_FIELD:
        note_where(
            faults,
            f"efficiency, {name}",
            "count a loss twice: an application efficiency holds all losses of the field",
            efficiency & links[name],
            {},
            mend="give the links alone, or the efficiency alone (leaks and conveyance may stand beside it)",
        )
    for name, given in links.items():
        note_where(
            faults,
            f"delivered_fraction, {name}",
            "count a loss twice: the delivered fraction holds all losses before the soil",
            delivered & given,
            {},
            mend="give the links alone, or the delivered fraction alone",
        )
    note_where(
        faults,
        "efficiency",
        "is one lumped number beside spots: unevenness would count twice",
        efficiency & uneven,
        {},
        mend="give delivered_fraction (what reaches the soil) in its place, or the links of the chain",
    )
    if system.spot_share is None:
        note_where(
            faults,
            "delivered_fraction",
            "needs spot_share beside it",
            delivered,
            {},
            mend="or give efficiency",
        )
    left = xr.DataArray(1.0)
    for name in (*_BEFORE_FIELD, *_IN_FIELD):
        left = left * (1.0 - xr.DataArray(_value(system, name, 0.0)).fillna(0.0))
    for name in ("efficiency", "delivered_fraction"):
        left = left * xr.DataArray(_value(system, name, 1.0)).fillna(1.0)
    if not faults:  # a link outside its range is the fault then
        check_left(left, faults)
    anything = efficiency | delivered | peak
    for given in links.values():
        anything = anything | given
    if not bool(anything.any()):
        if system.spot_share is not None:
            faults.add(
                "delivered_fraction",
                "is missing",
                allowed="above 0 and at most 1",
                mend="give the part of the water supplied that reaches the ground, 1 where nothing is lost "
                "on the way; or the links of the chain (spray_fraction, leak_fraction, ...)",
            )
            return
        faults.add(
            "efficiency",
            "is missing",
            allowed="above 0 and at most 1",
            mend="measure it, take the usual one, System.from_handbook('centre pivot'), or give the links of "
            "the chain (spray_fraction, leak_fraction, ...)",
        )
    elif anything.dims:
        note_where(faults, "efficiency", "is not given for every label", ~anything, {})


def _check_wetting(system: System, faults: Faults) -> None:
    """Note ground that is wet on the surface and, at the same place, dry below."""
    if system.wetted_volume is None:
        return
    volume, surface = xr.DataArray(system.wetted_volume), xr.DataArray(system.wetted_fraction)
    note_where(
        faults,
        "wetted_fraction",
        "is more than wetted_volume: the surface would be wet above ground that stays dry",
        (surface > volume) & (xr.DataArray(system.subsurface) == 0.0) & (not faults),
        {"wetted_fraction": surface, "wetted_volume": volume},
        allowed="at most the wetted volume",
        mend="give the part of the surface that the emitters wet (drip 0.3-0.4, FAO-56 Table 20), as seen "
        "after a set; water spreads further below",
    )


def _uneven(system: System) -> xr.DataArray:
    """Mark the labels whose watched spots receive different depths."""
    share = system.spot_share
    if not isinstance(share, xr.DataArray):
        return xr.DataArray(False)
    watched = system.spot_watched
    if isinstance(watched, xr.DataArray) and watched.sizes.get("spot") == share.sizes["spot"]:
        share = share.where(watched > 0)
    return share.max("spot") - share.min("spot") > 1e-12


def _check_spots(system: System, faults: Faults) -> None:
    """Note shares and weights that do not make one field."""
    share, weight, watched = system.spot_share, system.spot_weight, system.spot_watched
    if share is None:
        for name, value in (("spot_weight", weight), ("spot_watched", watched)):
            if value is not None:
                faults.add(name, "needs spot_share beside it")
        return
    if not isinstance(share, xr.DataArray):
        return  # its fault is noted
    spots = share.sizes["spot"]
    unlike = [
        name
        for name, value in (("spot_weight", weight), ("spot_watched", watched))
        if not isinstance(value, xr.DataArray) or value.sizes.get("spot") != spots
    ]
    for name in unlike:
        faults.add(
            name,
            "does not match spot_share",
            allowed=f"{spots} numbers on spot",
            mend="give it with the new shares, or as None for equal parts, all watched",
        )
    known = share.notnull().all() & weight.notnull().all() & watched.notnull().all()
    if unlike or not bool(known):  # what is not known has no sum, and its fault is noted
        return
    whole, mean = weight.sum("spot"), (weight * share).sum("spot")
    parted = np.abs(whole - 1.0) > 1e-9
    mend = "divide the weights by their sum"
    note_where(faults, "spot_weight", "do not add up to 1", parted, {"sum": whole}, allowed="1", mend=mend)
    off = (np.abs(mean - 1.0) > 1e-9) & ~parted
    mend = "divide the depths by their weighted mean"
    note_where(faults, "spot_share", "does not average 1", off, {"mean": mean}, allowed="1", mend=mend)
    if bool(((watched * weight * share).sum("spot") <= 0).any()):
        faults.add("spot_watched", "leaves no spot that is watered", mend="watch one that irrigation reaches")
