"""Sets: how long to run, in how many cycles, how many a day, and whether the pump keeps up.

A set is the part of a field that is watered at one time. Numbers, arrays or DataArrays in and out; NaN gives
NaN. Depths are gross where the name says so, net otherwise.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from waterbudget.checks import in_range, note_where
from waterbudget.errors import Faults, collect
from waterbudget.system.amounts import M3_PER_MM_HA

HOURS_PER_DAY = 24.0
_HAIR = 1e-9
"""Rounding that a whole number may have: 3 cycles must not become 4."""


class Cycles(NamedTuple):
    """A set cut into cycles: their ``number``, the ``hours`` of water in each, and the ``elapsed`` hours."""

    number: Any
    hours: Any
    elapsed: Any


class PumpCapacity(NamedTuple):
    """What a pump can do against what the crop needs at its peak.

    Attributes
    ----------
    depth : float, array or DataArray
        Net depth that it can put on the whole area in a day [mm day-1].
    hours : float, array or DataArray
        Hours a day that it must run for the peak need; more than there are where it cannot keep up.
    keeps_up : bool, array or DataArray of bool
        Whether the depth is the peak need or more; False where a number is not known.
    """

    depth: Any
    hours: Any
    keeps_up: Any


def set_hours(gross: Any, application_rate: Any) -> Any:
    """Hours that a set must run for a gross depth: ``gross / application rate``.

    Parameters
    ----------
    gross : float, array or DataArray
        Gross depth [mm], 0 or more.
    application_rate : float, array or DataArray
        Mean depth applied per hour [mm h-1].

    Returns
    -------
    float, array or DataArray
        Time [h].

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        _check_amounts(faults, gross=gross)
        in_range(xr.DataArray(application_rate), "application_rate", faults)
    return gross / application_rate


def cycles(gross: Any, application_rate: Any, longest: Any, soak: Any = 0.0) -> Cycles:
    """Cut a set into equal cycles, none longer than the soil can take water without runoff.

    Parameters
    ----------
    gross, application_rate : float, array or DataArray
        As in `set_hours`.
    longest : float, array or DataArray
        Longest time without runoff [h], above 0; infinite where there is no limit.
        `waterbudget.soil.longest_set` gives it.
    soak : float, array or DataArray
        Pause between two cycles [h], as you choose it. How long the soil needs until it takes water as
        at first is not worked out here: too short a pause, and a later cycle runs off before its end.

    Returns
    -------
    Cycles
        The number is ``total / longest``, rounded up; a depth of 0 takes none.

    Raises
    ------
    InputError
        When a number is outside its range; at 0 h no cycle is short enough.
    """
    limit = xr.DataArray(longest)
    with collect() as faults:
        _check_amounts(faults, gross=gross, soak=soak)
        in_range(xr.DataArray(application_rate), "application_rate", faults)
        mend = "lower the application rate: smaller nozzles, wider spacing, a wider wetted strip"
        note_where(
            faults,
            "longest",
            "leaves no time",
            limit <= 0.0,
            {"longest": limit},
            allowed="above 0 h",
            mend=mend,
        )
    total = gross / application_rate
    # An infinite limit makes the quotient 0: one cycle all the same, and none for a depth of 0.
    number = np.maximum(np.ceil(total / longest - _HAIR), np.sign(total)) + 0.0  # no -0
    return Cycles(number, total / np.maximum(number, 1.0), total + np.maximum(number - 1.0, 0.0) * soak)


def sets_per_day(hours: Any, move_hours: Any, hours_per_day: Any = HOURS_PER_DAY) -> Any:
    """How many whole sets a day has room for: ``hours per day / (set + move)``, rounded down.

    Parameters
    ----------
    hours : float, array or DataArray
        Time of one set [h].
    move_hours : float, array or DataArray
        Time to move to the next set [h], 0 or more.
    hours_per_day : float, array or DataArray
        Hours a day that the system may run and be moved [h], above 0 and at most 24.

    Returns
    -------
    float, array or DataArray
        A whole number; 0 where a set and its move do not fit in a day.

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        in_range(xr.DataArray(hours), "duration", faults, what="hours")
        _check_amounts(faults, move_hours=move_hours)
        _check_hours_per_day(hours_per_day, faults)
    return np.floor(hours_per_day / (hours + move_hours) + _HAIR)


def days_to_cover(sets: Any, per_day: Any) -> Any:
    """Days until every set of a field was watered once: ``sets / sets per day``, rounded up.

    Parameters
    ----------
    sets : float, array or DataArray
        Sets that the field has.
    per_day : float, array or DataArray
        Sets watered in a day, as `sets_per_day` gives them; above 0.

    Returns
    -------
    float, array or DataArray
        Days, a whole number. More than the days between two irrigations means that the field dries faster
        than it is watered.

    Raises
    ------
    InputError
        When a number is not above 0.
    """
    with collect() as faults:
        for name, value in (("sets", sets), ("per_day", per_day)):
            count = xr.DataArray(value)
            note_where(faults, name, "is not above 0", count <= 0.0, {name: count}, allowed="1 or more")
    return np.ceil(sets / per_day - _HAIR)


def required_flow(peak_need: Any, area: Any, hours_per_day: Any, efficiency: Any) -> Any:
    """Flow that meets a peak need: ``10 * need * area / (hours per day * efficiency)``.

    Parameters
    ----------
    peak_need : float, array or DataArray
        Net need of the crop at its peak [mm day-1], 0 or more.
    area : float, array or DataArray
        Irrigated area [ha].
    hours_per_day : float, array or DataArray
        Hours a day that water flows [h], above 0 and at most 24.
    efficiency : float, array or DataArray
        Net over gross depth [1], above 0 and at most 1.

    Returns
    -------
    float, array or DataArray
        Flow [m3 h-1]. US handbooks: ``452.57 * gross in/day / hours per day`` gallons a minute for each acre.

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        _check_supply(peak_need, area, hours_per_day, efficiency, faults)
    return peak_need * area * M3_PER_MM_HA / (hours_per_day * efficiency)


def pump_keeps_up(flow: Any, peak_need: Any, area: Any, hours_per_day: Any, efficiency: Any) -> PumpCapacity:
    """Tell whether a flow meets a peak need, and by how much.

    Parameters
    ----------
    flow : float, array or DataArray
        Flow of the pump [m3 h-1].
    peak_need, area, hours_per_day, efficiency : float, array or DataArray
        As in `required_flow`.

    Returns
    -------
    PumpCapacity

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        in_range(xr.DataArray(flow), "flow", faults)
        _check_supply(peak_need, area, hours_per_day, efficiency, faults)
    by_hour = flow * efficiency / (area * M3_PER_MM_HA)
    depth = by_hour * hours_per_day
    return PumpCapacity(depth, peak_need / by_hour, depth >= peak_need)


def _check_supply(peak_need: Any, area: Any, hours_per_day: Any, efficiency: Any, faults: Faults) -> None:
    _check_amounts(faults, peak_need=peak_need)
    in_range(xr.DataArray(area), "area", faults)
    _check_hours_per_day(hours_per_day, faults)
    in_range(xr.DataArray(efficiency), "efficiency", faults)


def _check_amounts(faults: Faults, **given: Any) -> None:
    for name, value in given.items():
        amount = xr.DataArray(value)
        bad = (amount < 0.0) | np.isinf(amount)
        note_where(faults, name, "is negative or infinite", bad, {name: amount}, allowed="0 or more")


def _check_hours_per_day(hours_per_day: Any, faults: Faults) -> None:
    hours = xr.DataArray(hours_per_day)
    bad = (hours <= 0.0) | (hours > HOURS_PER_DAY)
    allowed = f"above 0 and at most {HOURS_PER_DAY:g} h"
    note_where(faults, "hours_per_day", "is outside a day", bad, {"hours_per_day": hours}, allowed=allowed)
