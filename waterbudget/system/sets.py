"""Sets: how long to run, in how many cycles, how many a day, and whether the pump keeps up.

A set is the part of a field that is watered at one time. Numbers, arrays or DataArrays in and out; NaN gives
NaN, but `pump_keeps_up`, which gives a verdict, refuses it. Depths are gross where the name says so, net
otherwise.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from waterbudget.arguments import check_shapes
from waterbudget.checks import note_where
from waterbudget.errors import Faults, collect
from waterbudget.operands import ranged, within
from waterbudget.system.amounts import HOURS_PER_DAY, M3_PER_MM_HA

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
        Whether the depth is the peak need or more.
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
        gross = within(gross, "gross", faults, 0.0, unit="mm")
        application_rate = ranged(application_rate, "application_rate", faults)
        check_shapes(faults, gross=gross, application_rate=application_rate)
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
    with collect() as faults:
        gross = within(gross, "gross", faults, 0.0, unit="mm")
        application_rate = ranged(application_rate, "application_rate", faults)
        mend = "lower the application rate: smaller nozzles, wider spacing, a wider wetted strip"
        longest = within(longest, "longest", faults, 0.0, np.inf, above=True, unit="h", mend=mend)
        soak = within(soak, "soak", faults, 0.0, unit="h")
        check_shapes(faults, gross=gross, application_rate=application_rate, longest=longest, soak=soak)
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
        hours = ranged(hours, "duration", faults, "hours")
        move_hours = within(move_hours, "move_hours", faults, 0.0, unit="h")
        hours_per_day = within(
            hours_per_day, "hours_per_day", faults, 0.0, HOURS_PER_DAY, above=True, unit="h"
        )
        check_shapes(faults, hours=hours, move_hours=move_hours, hours_per_day=hours_per_day)
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
        sets = within(sets, "sets", faults, 0.0, above=True)
        mend = "0 sets a day: one set and its move do not fit in a day; apply less at a time, or faster"
        per_day = within(per_day, "per_day", faults, 0.0, above=True, mend=mend)
        check_shapes(faults, sets=sets, per_day=per_day)
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
        given = _supply(peak_need, area, hours_per_day, efficiency, faults)
        check_shapes(faults, **given)
    peak_need, area, hours_per_day, efficiency = given.values()
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
        When a number is outside its range, or not known: there is no verdict without it.
    """
    with collect() as faults:
        given = {"flow": ranged(flow, "flow", faults)}
        given |= _supply(peak_need, area, hours_per_day, efficiency, faults)
        check_shapes(faults, **given)
        if not faults:  # a number at fault has become NaN
            _check_known(given, faults)
    flow, peak_need, area, hours_per_day, efficiency = given.values()
    by_hour = flow * efficiency / (area * M3_PER_MM_HA)
    depth = by_hour * hours_per_day
    return PumpCapacity(depth, peak_need / by_hour, depth >= peak_need)


def _supply(peak_need: Any, area: Any, hours_per_day: Any, efficiency: Any, faults: Faults) -> dict[str, Any]:
    """Take what says how much water a field must have, by name."""
    return {
        "peak_need": within(peak_need, "peak_need", faults, 0.0, unit="mm day-1"),
        "area": ranged(area, "area", faults),
        "hours_per_day": within(
            hours_per_day, "hours_per_day", faults, 0.0, HOURS_PER_DAY, above=True, unit="h"
        ),
        "efficiency": ranged(efficiency, "efficiency", faults),
    }


def _check_known(given: dict[str, Any], faults: Faults) -> None:
    """Note NaN where there must be a verdict."""
    for name, value in given.items():
        array = xr.DataArray(value)
        mend = "leave it out; required_flow gives NaN where a number is not known"
        note_where(faults, name, "is not known", array.isnull(), {name: array}, allowed="a number", mend=mend)
