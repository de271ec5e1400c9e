"""The state before the first day: set out from given depletions, or go on from an earlier run."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget.balance.decide import LONG_AGO
from waterbudget.balance.drivers import Feeds, Numbers, before_first_day
from waterbudget.balance.layout import Cells
from waterbudget.balance.step import State, within
from waterbudget.descriptions import Number
from waterbudget.errors import Faults, collect
from waterbudget.variables import VARIABLES

Array = NDArray[np.float64]

TOLERANCE = 1e-9
"""Rounding that an earlier run may have left in a state [mm]."""


class Start(NamedTuple):
    """The state before the first day: `State` of shape (spots, cells), days since of shape (cells,)."""

    state: State
    days_since: Array


def set_out(given: dict[str, Number], feeds: Feeds, numbers: Numbers, cells: Cells) -> Start:
    """Begin with given depletions, the roots of day 1, and a surface wetted all over.

    A whole surface wetted (fraction 1) before the first event is what FAO-56 Annex 8 starts with.
    """
    shape = (cells.spots, cells.count)
    block = slice(0, cells.count)
    root_depth = np.broadcast_to(feeds.root_depth.row(0, block), shape).copy()
    taw = _taw(root_depth, numbers)
    state = State(
        depletion=np.broadcast_to(cells.spread(given["initial_depletion"]), shape).copy(),
        depletion_below=np.broadcast_to(cells.spread(given["initial_depletion_below"]), shape).copy(),
        surface_depletion=np.broadcast_to(cells.spread(given["initial_surface_depletion"]), shape).copy(),
        wetted_fraction=np.ones(shape),
        root_depth=root_depth,
        taw=taw,
        raw=np.zeros(shape),
        excess_water=np.zeros(shape),
    )
    return Start(before_first_day(state, feeds, numbers), np.full(cells.count, LONG_AGO))


def _taw(root_depth: Array, numbers: Numbers) -> Array:
    """Total available water down to a depth [mm]."""
    ground = numbers.ground
    taw: Array = within(root_depth, ground.available, ground.layer_tops, ground.layer_changes)
    return taw


def resume(state: xr.Dataset, first: pd.Timestamp, numbers: Numbers, cells: Cells) -> Start:
    """Go on from the end state of an earlier run.

    Raises
    ------
    InputError
        When it lacks a variable, is not of the day before, holds missing numbers, or is of another
        soil or of deeper roots.
    """
    wanted = (*State._fields, "days_since_irrigation")
    with collect() as faults:
        lacking = [name for name in wanted if name not in state]
        if lacking:
            faults.add(
                "state", f"lacks {', '.join(lacking)}", mend="give season.isel(time=-1) of an earlier run"
            )
        if "time" in state.dims or "time" not in state.coords:
            faults.add("state", "is not one day", mend="give season.isel(time=-1)")
        elif pd.DatetimeIndex([state["time"].values])[0] + pd.Timedelta(days=1) != first:
            faults.add(
                "state",
                "is not of the day before the weather begins",
                value=str(state["time"].values)[:10],
                allowed=f"{first - pd.Timedelta(days=1):%Y-%m-%d}",
            )
        spots = state["depletion"].sizes.get("spot", 1) if "depletion" in state else 1
        if not lacking and spots != cells.spots:
            faults.add("state", "has another number of spots", value=str(spots), allowed=str(cells.spots))
    shape = (cells.spots, cells.count)
    parts = [
        np.broadcast_to(cells.spread_state(state[name].reset_coords(drop=True)), shape).copy()
        for name in State._fields
    ]
    known = State(*parts)
    # Where no evaporation layer was asked for, the earlier run knew no surface depletion: it is neutral.
    neutral = np.isnan(known.surface_depletion) & numbers.neutral_layer
    known = known._replace(surface_depletion=np.where(neutral, 0.0, known.surface_depletion))
    days = np.broadcast_to(
        cells.spread(state["days_since_irrigation"].reset_coords(drop=True)), (cells.count,)
    )
    with collect() as faults:
        _check_resumed(known, days, numbers, cells, faults)
    return Start(known, days.copy())


def _check_resumed(state: State, days: Array, numbers: Numbers, cells: Cells, faults: Faults) -> None:
    """Note numbers that no run can have ended with, on this soil and under this crop."""
    for name, values in {**state._asdict(), "days_since_irrigation": days[None]}.items():
        low, high = VARIABLES[name].hard
        bad = ~np.isfinite(values)
        bad |= (values < (0.0 if low is None else low)) | (values > (np.inf if high is None else high))
        if VARIABLES[name].above:
            bad |= values <= 0.0
        if bad.any():
            where = cells.name(np.asarray(bad.any(axis=0)))
            value = f"{values[bad][0]:g}"
            faults.add(f"state, {name}", "is missing or outside its range", where=where, value=value)
    ground = numbers.ground
    other = np.abs(state.taw - _taw(state.root_depth, numbers)) > 1e-6
    if other.any():
        faults.add(
            "state",
            "is of another soil: its available water does not fit its root depth",
            where=cells.name(np.asarray(other.any(axis=0))),
            mend="go on with the soil of the earlier run, or begin anew with initial_depletion",
        )
    if numbers.stages.holding is None and state.excess_water.any():
        held = state.excess_water > 0.0
        faults.add(
            "state, excess_water",
            "is of a soil that drains slowly, and this one drains at once",
            where=cells.name(np.asarray(held.any(axis=0))),
            value=_shown(state.excess_water, held),
            mend="go on with the soil of the earlier run (drainage_fraction, saturation)",
        )
    room = ground.profile - state.taw
    deeper = (room < -TOLERANCE) | (state.depletion_below > np.maximum(room, 0.0) + TOLERANCE)
    if deeper.any() and not other.any():
        faults.add(
            "state",
            "is of a profile deeper than this crop's deepest root",
            where=cells.name(np.asarray(deeper.any(axis=0))),
            value=f"available water down to the deepest root {_shown(ground.profile, deeper)}, of the "
            f"earlier root zone {_shown(state.taw, deeper)}",
            mend="begin the next crop anew, with initial_depletion and initial_depletion_below",
        )


def _shown(values: Array, marked: NDArray[np.bool_]) -> str:
    """Show the first marked depth."""
    return f"{np.broadcast_to(values, marked.shape)[marked][0]:g} mm"


def check_start(start: Start, numbers: Numbers, cells: Cells, faults: Faults) -> None:
    """Note depletions that the soil cannot have."""
    state, ground = start.state, numbers.ground
    limits = {
        "initial_depletion": (
            state.depletion,
            state.taw + ground.air_dry_water,
            "available water of the root zone plus what evaporation takes below the wilting point",
        ),
        "initial_depletion_below": (
            state.depletion_below,
            np.maximum(ground.profile - state.taw, 0.0),
            "available water between the roots of day 1 and the deepest root",
        ),
        "initial_evaporation_depletion": (state.surface_depletion, ground.tew, "tew of the soil"),
    }
    for name, (value, limit, meaning) in limits.items():
        top = np.broadcast_to(limit, value.shape)
        over = value > top + TOLERANCE
        if over.any():
            at = tuple(int(i) for i in np.argwhere(over)[0])
            faults.add(
                name,
                "is more than the soil can lose",
                where=cells.name(np.asarray(over.any(axis=0))),
                value=f"{value[at]:g} mm",
                count=int(over.sum()),
                allowed=f"0 to {top[at]:g} mm ({meaning})",
            )
