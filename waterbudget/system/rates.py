"""Rates: how fast sprinklers, pivots and travellers put water down, and how fast they must move.

Numbers, arrays or DataArrays in and out; NaN gives NaN. All are identities of volume, area and time.
"""

from __future__ import annotations

from typing import Any, Literal, get_args

import numpy as np
import xarray as xr

from waterbudget.arguments import check_shapes, check_word
from waterbudget.checks import note_where
from waterbudget.errors import collect
from waterbudget.operands import ranged, within
from waterbudget.system.amounts import M3_PER_MM_HA

MM_PER_M = 1000.0

Pattern = Literal["even", "elliptical"]
_PEAK = {"even": 1.0, "elliptical": 4.0 / np.pi}
"""Greatest rate along the wetted width over the mean rate there."""


def application_rate(flow: Any, spacing_along: Any, spacing_between: Any) -> Any:
    """Mean rate of sprinklers on a grid: the flow of one over the ground that it stands for.

    Parameters
    ----------
    flow : float, array or DataArray
        Flow of one sprinkler [m3 h-1].
    spacing_along, spacing_between : float, array or DataArray
        Distance of sprinklers along the lateral, and of one lateral from the next [m].

    Returns
    -------
    float, array or DataArray
        Rate [mm h-1]. US handbooks: ``96.3 * gpm / ft2`` in/h.

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        flow = ranged(flow, "flow", faults)
        spacing_along = ranged(spacing_along, "spacing", faults, "spacing_along")
        spacing_between = ranged(spacing_between, "spacing", faults, "spacing_between")
        check_shapes(faults, flow=flow, spacing_along=spacing_along, spacing_between=spacing_between)
    return MM_PER_M * flow / (spacing_along * spacing_between)


def application_rate_of_flow(flow: Any, area: Any) -> Any:
    """Mean rate of a system over the area that it waters at one time.

    Parameters
    ----------
    flow : float, array or DataArray
        Flow of the system [m3 h-1].
    area : float, array or DataArray
        Area watered at one time [ha]: of a set, not of the field.

    Returns
    -------
    float, array or DataArray
        Rate [mm h-1].

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        flow = ranged(flow, "flow", faults)
        area = ranged(area, "area", faults)
        check_shapes(faults, flow=flow, area=area)
    return flow / (area * M3_PER_MM_HA)


def pivot_depth(flow: Any, area: Any, hours_per_turn: Any) -> Any:
    """Mean gross depth that a centre pivot puts down in one turn.

    Parameters
    ----------
    flow : float, array or DataArray
        Flow of the pivot [m3 h-1].
    area : float, array or DataArray
        Area that it waters in a turn [ha].
    hours_per_turn : float, array or DataArray
        Time of one turn [h].

    Returns
    -------
    float, array or DataArray
        Gross depth [mm].

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        flow = ranged(flow, "flow", faults)
        area = ranged(area, "area", faults)
        hours_per_turn = ranged(hours_per_turn, "duration", faults, "hours_per_turn")
        check_shapes(faults, flow=flow, area=area, hours_per_turn=hours_per_turn)
    return flow * hours_per_turn / (area * M3_PER_MM_HA)


def pivot_speed(radius: Any, hours_per_turn: Any) -> Any:
    """Speed of a point of a centre pivot: ``2 pi radius / time of a turn``.

    Parameters
    ----------
    radius : float, array or DataArray
        Distance from the pivot point [m]: that of the last tower gives the speed it is set by.
    hours_per_turn : float, array or DataArray
        Time of one turn [h].

    Returns
    -------
    float, array or DataArray
        Speed [m h-1].

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        radius = ranged(radius, "distance", faults, "radius")
        hours_per_turn = ranged(hours_per_turn, "duration", faults, "hours_per_turn")
        check_shapes(faults, radius=radius, hours_per_turn=hours_per_turn)
    return 2.0 * np.pi * radius / hours_per_turn


def pivot_peak_rate(
    flow: Any, radius: Any, wetted_width: Any, distance: Any, pattern: Pattern = "elliptical"
) -> Any:
    """Greatest rate under a centre pivot at a distance from its point: ``2 r Q / (R^2 w)``, times the peak.

    A turn leaves a mean depth ``Q T / (pi R^2)``; at distance r the pattern passes in ``w T / (2 pi r)``, so
    that the rate there grows with the distance and does not depend on the speed. To be held against the
    intake of the soil; as ``peak_application_rate`` of `System` it makes an upper bound of the runoff,
    because the peak lasts for a moment, and at that distance alone.

    Parameters
    ----------
    flow : float, array or DataArray
        Flow Q of the pivot [m3 h-1].
    radius : float, array or DataArray
        Radius R of the watered circle [m].
    wetted_width : float, array or DataArray
        Width w of the wetted strip along the direction of travel at ``distance`` [m].
    distance : float, array or DataArray
        Distance r from the pivot point [m], at most the radius.
    pattern : {"even", "elliptical"}
        How the rate is spread over the wetted width: everywhere the same, or as half an ellipse, whose peak
        is 4 / pi of its mean.

    Returns
    -------
    float, array or DataArray
        Rate [mm h-1].

    Raises
    ------
    InputError
        When a number is outside its range, or the distance beyond the radius.

    Notes
    -----
    Common practice; derived above from volume, area and time.
    """
    with collect() as faults:
        check_word(pattern, "pattern", faults, get_args(Pattern), "is no choice")
        flow = ranged(flow, "flow", faults)
        radius = ranged(radius, "spacing", faults, "radius")
        wetted_width = ranged(wetted_width, "spacing", faults, "wetted_width")
        distance = ranged(distance, "distance", faults)
        if check_shapes(faults, flow=flow, radius=radius, wetted_width=wetted_width, distance=distance):
            beyond = xr.DataArray(distance > radius)
            shown = {"distance": distance, "radius": radius}
            note_where(faults, "distance", "is beyond the watered circle", beyond, shown)
    return _PEAK[pattern] * MM_PER_M * 2.0 * distance * flow / (radius**2 * wetted_width)


def travelling_depth(flow: Any, lane_spacing: Any, speed: Any) -> Any:
    """Gross depth of a travelling gun or a linear move: ``flow / (lane spacing * speed)``.

    Parameters
    ----------
    flow : float, array or DataArray
        Flow [m3 h-1].
    lane_spacing : float, array or DataArray
        Distance of one lane from the next; of a linear move the watered length [m].
    speed : float, array or DataArray
        Speed of travel [m h-1].

    Returns
    -------
    float, array or DataArray
        Gross depth [mm].

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        flow = ranged(flow, "flow", faults)
        lane_spacing = ranged(lane_spacing, "spacing", faults, "lane_spacing")
        speed = within(speed, "speed", faults, 0.0, above=True, unit="m h-1")
        check_shapes(faults, flow=flow, lane_spacing=lane_spacing, speed=speed)
    return MM_PER_M * flow / (lane_spacing * speed)


def travelling_speed(flow: Any, lane_spacing: Any, gross: Any) -> Any:
    """Speed that puts down a gross depth: `travelling_depth` turned round.

    Parameters
    ----------
    flow, lane_spacing : float, array or DataArray
        As in `travelling_depth`.
    gross : float, array or DataArray
        Gross depth wanted [mm].

    Returns
    -------
    float, array or DataArray
        Speed [m h-1].

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        flow = ranged(flow, "flow", faults)
        lane_spacing = ranged(lane_spacing, "spacing", faults, "lane_spacing")
        gross = within(gross, "gross", faults, 0.0, above=True, unit="mm")
        check_shapes(faults, flow=flow, lane_spacing=lane_spacing, gross=gross)
    return MM_PER_M * flow / (lane_spacing * gross)
