"""One day's physics, written once.

Only arithmetic, comparisons as 0 or 1, ``np.minimum`` and ``np.maximum``: no branches, no powers,
nothing that looks beyond its own cell. The same source therefore runs on one field and on ten
thousand with the same bits, and can be compiled as it stands. Missing options are neutral numbers,
never NaN or infinity.

`grow_roots` and `step` make every day. What few fields need stands in stages of its own (`release`,
`shed`, `share_roots`, `hold_back`, `take_up`, `rise`), which the driver chooses before the first day: a
run that does not ask for them does not pay for them.

Equation numbers are those of FAO Irrigation and Drainage Paper 56 (1998).
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from waterbudget.soil.runoff import adjusted_curve_number, curve_number_runoff

Array = NDArray[np.float64]

WETTING_RAIN = 3.0
"""Rain [mm] that is needed to rewet the whole surface (FAO-56 p. 149: 3 to 4 mm)."""
TINY = 1e-300
"""Keeps a quotient finite where its numerator is zero as well; smaller than any depth."""


class State(NamedTuple):
    """What a day hands on to the next: end of the day, in mm unless said otherwise."""

    depletion: Array
    depletion_below: Array
    surface_depletion: Array
    wetted_fraction: Array
    root_depth: Array  # m
    taw: Array
    raw: Array
    excess_water: Array


class Ground(NamedTuple):
    """Soil and crop numbers that do not change from day to day."""

    available: Array  # mm of available water per m of depth, in the top layer
    layer_tops: tuple[Array, ...]  # m, tops of the further layers
    layer_changes: tuple[Array, ...]  # mm per m, change of available water there
    profile: Array  # mm of available water down to the deepest root
    tew: Array  # mm
    stage_two: Array  # mm, tew - rew
    air_dry_water: Array  # mm
    et_share: Array  # share of ET taken before percolation


class Shedding(NamedTuple):
    """Rain that runs off by a curve number that follows the dryness of the evaporation layer."""

    dry: Array  # curve number of a dry layer
    wet: Array  # curve number of a wet layer
    rew: Array  # mm
    tew: Array  # mm


class Holding(NamedTuple):
    """Soil that drains slowly: what it may hold above field capacity."""

    kept: Array  # part of the water above field capacity that a day leaves behind
    drainable: Array  # mm per m between field capacity and saturation, in the top layer
    layer_tops: tuple[Array, ...]  # m
    layer_changes: tuple[Array, ...]  # mm per m


class Wetting(NamedTuple):
    """How irrigation meets the surface."""

    wetted_fraction: Array
    subsurface: Array
    under_canopy: Array


class Day(NamedTuple):
    """What the day brings."""

    et_ref: Array  # mm
    rain: Array  # mm, less runoff
    coefficient: Array  # basal or single
    kc_max: Array
    cover: Array
    root_depth: Array  # m
    dual: Array  # 1 where soil evaporation is computed apart
    evaporation_factor: Array  # part that a mulch lets pass
    depletion_fraction: Array
    adjust: Array  # 1 where p follows the day's evapotranspiration
    salt_factor: Array  # salinity stress of the season
    uptake: Array  # 1, or what this part of a shared root system gives more than its share of the ground


class Roots(NamedTuple):
    """The root zone once the roots have grown, before water enters."""

    depletion: Array
    depletion_below: Array
    taw: Array
    met_by_roots: Array


class Fluxes(NamedTuple):
    """What happened in the day, mm, and the coefficients behind it."""

    ke: Array
    ks: Array
    evaporation: Array
    transpiration: Array
    et: Array
    percolation: Array
    drainage: Array


def within(depth: Any, first: Any, layer_tops: tuple[Any, ...], layer_changes: tuple[Any, ...]) -> Any:
    """Water down to a depth [mm], layer by layer: each further layer counts by what it changes.

    A soil cut into equal layers has changes of exactly 0, and so the bits of a uniform one.
    """
    water = depth * first
    for top, change in zip(layer_tops, layer_changes, strict=True):
        water = water + np.maximum(depth - top, 0.0) * change
    return water


def grow_roots(state: State, root_depth: Array, ground: Ground) -> Roots:
    """Move the lower boundary of the root zone to today's root depth.

    Roots that grow take in the soil below with the water stored there; roots that end leave soil
    behind with the water of the root zone: each in proportion to the available water that changes
    sides. Water above the wilting point is shared; what evaporation took from below it stays with
    the surface.
    """
    taw = within(root_depth, ground.available, ground.layer_tops, ground.layer_changes)
    grown = np.maximum(taw - state.taw, 0.0)
    ended = np.maximum(state.taw - taw, 0.0)
    joining = np.minimum(grown / np.maximum(ground.profile - state.taw, TINY), 1.0)
    leaving = ended / state.taw
    moved = state.depletion_below * joining - np.minimum(state.depletion, state.taw) * leaving
    depletion = state.depletion + moved
    below = state.depletion_below - moved
    met_by_roots = taw - state.taw - moved
    return Roots(depletion, below, taw, met_by_roots)


def release(roots: Roots, excess_water: Array) -> Roots:
    """Let what the soil held above field capacity overnight count as water of today."""
    return roots._replace(depletion=roots.depletion - excess_water)


def shed(rain: Array, surface_depletion: Array, shedding: Shedding) -> Array:
    """Runoff of the day's rain, by how dry the evaporation layer was in the morning [mm]."""
    number = adjusted_curve_number(shedding.dry, shedding.wet, surface_depletion, shedding.rew, shedding.tew)
    runoff: Array = curve_number_runoff(rain, number)
    return runoff


def pass_down(percolation: Array, depletion_below: Array) -> tuple[Array, Array]:
    """Let percolation fill the soil below the roots; the rest is drainage. Both in mm."""
    drainage = np.maximum(percolation - depletion_below, 0.0)
    return drainage, np.maximum(depletion_below - percolation, 0.0)


def step(
    state: State, roots: Roots, irrigation: Array, day: Day, ground: Ground, wetting: Wetting
) -> tuple[State, Fluxes]:
    """Carry one cell, or many, through one day.

    Parameters
    ----------
    state : State
        End of yesterday.
    roots : Roots
        From `grow_roots`.
    irrigation : ndarray
        Depth that enters the soil today [mm].
    day, ground, wetting
        What the day brings, and the numbers of the field.

    Returns
    -------
    State, Fluxes
        End of today, and what happened.
    """
    # Fraction wetted (Table 20 and p. 149): by what infiltrated from each, on a day with both.
    on_surface = irrigation * (1.0 - wetting.subsurface)
    rewetting = (day.rain >= WETTING_RAIN) * day.rain
    system_fraction = wetting.wetted_fraction * (1.0 - wetting.under_canopy * (2.0 / 3.0) * day.cover)
    water = on_surface + rewetting
    wetted = water > 0.0
    fraction = (system_fraction * on_surface + rewetting) / np.maximum(water, TINY)
    wetted_fraction = wetted * fraction + (1.0 - wetted) * state.wetted_fraction
    exposed = np.minimum(1.0 - day.cover, wetted_fraction)  # Eq. 75

    # The evaporation layer after wetting (Eq. 77) and its reduction coefficient (Eq. 74).
    surface = np.maximum(state.surface_depletion - day.rain - on_surface / wetted_fraction, 0.0)
    left = ground.tew - surface
    reduction = np.minimum(left / ground.stage_two, 1.0)

    # The root zone after wetting: what is missing, or what is in excess of field capacity.
    balance = roots.depletion - day.rain - irrigation
    excess = np.maximum(-balance, 0.0)
    missing = np.maximum(balance, 0.0)

    # Soil evaporation (Eq. 71) under what a mulch lets pass, no more than the layer and the root zone hold.
    drive = day.et_ref * day.evaporation_factor
    demand = np.minimum(reduction * (day.kc_max - day.coefficient), exposed * day.kc_max) * (drive * day.dual)
    held = np.minimum(exposed * left, np.maximum(roots.taw + ground.air_dry_water - missing, 0.0))
    evaporation = np.minimum(demand, held)
    ke = evaporation / np.maximum(day.et_ref, TINY)
    # Under a single coefficient the layer only keeps track of how dry a bare patch would be.
    drying = evaporation / exposed + (1.0 - day.dual) * reduction * day.kc_max * drive
    surface = np.minimum(surface + drying, ground.tew)

    # Stress (Eq. 84) from today's readily available water (Eq. 83), p adjusted as on p. 162.
    potential = day.coefficient * day.et_ref
    adjusted = day.depletion_fraction + 0.04 * (5.0 - (potential + evaporation))
    adjusted = np.minimum(np.maximum(adjusted, 0.1), 0.8)
    p = day.depletion_fraction + day.adjust * (adjusted - day.depletion_fraction)
    raw = p * roots.taw
    ks = day.salt_factor * np.minimum(np.maximum((roots.taw - missing) / (roots.taw - raw), 0.0), 1.0)
    drawn = ks * (day.uptake * potential)
    transpiration = np.minimum(drawn, np.maximum(roots.taw - missing - evaporation, 0.0))
    et = evaporation + transpiration

    # Percolation (Eq. 88 when et_share is 1), caught by the soil below the roots.
    used = ground.et_share * np.minimum(excess, et)
    percolation = excess - used
    depletion = missing + (et - used)
    drainage, below = pass_down(percolation, roots.depletion_below)

    end = State(
        depletion, below, surface, wetted_fraction, day.root_depth, roots.taw, raw, state.excess_water
    )
    return end, Fluxes(ke, ks, evaporation, transpiration, et, percolation, drainage)


def share_roots(ks_wet: Array, ks_dry: Array, wetted_volume: Array) -> tuple[Array, Array]:
    """Let one root system draw on a wetted and a dry part of the soil.

    Each part gives by its own stress coefficient, and while the parts together can, more than its share
    of the ground: uptake is compensated (Jarvis 1989) down to the stress index at which the wetted part
    alone would be without stress. With a wetted volume of 1 nothing is shared.

    Parameters
    ----------
    ks_wet, ks_dry : ndarray
        Stress coefficient of each part for lack of water [1].
    wetted_volume : ndarray
        Part of the root zone's volume that irrigation wets [1].

    Returns
    -------
    uptake : ndarray
        Factor on the uptake of both parts [1].
    ks : ndarray
        Stress coefficient of the plant [1].
    """
    index = wetted_volume * ks_wet + (1.0 - wetted_volume) * ks_dry
    enough = np.maximum(index, wetted_volume)
    return 1.0 / enough, index / enough


def hold_back(
    end: State, fluxes: Fluxes, roots: Roots, root_depth: Array, holding: Holding
) -> tuple[State, Fluxes]:
    """Let the water above field capacity leave over several days.

    Each day a fixed part of it percolates (a linear reservoir), and whatever the soil cannot hold
    up to saturation; from the rest the roots draw first.
    """
    room = within(root_depth, holding.drainable, holding.layer_tops, holding.layer_changes)
    held = np.minimum(holding.kept * fluxes.percolation, room)
    percolation = fluxes.percolation - held
    drawn = np.minimum(held, end.depletion)
    drainage, below = pass_down(percolation, roots.depletion_below)
    return (
        end._replace(depletion=end.depletion - drawn, depletion_below=below, excess_water=held - drawn),
        fluxes._replace(percolation=percolation, drainage=drainage),
    )


def take_up(end: State, transpiration: Array, layer_uptake: Array, tew: Array) -> State:
    """Let roots draw part of the transpiration from the evaporation layer.

    The part is that of Allen and others (2005): ``(layer / root depth)^0.6`` (``layer_uptake``) times
    how wet the layer is beside the root zone. The layer gauges dryness: only it changes.
    """
    left = tew - end.surface_depletion
    moist = np.maximum(1.0 - end.depletion / end.taw, 0.001)
    part = np.minimum(layer_uptake * (left / tew) / moist, 1.0)
    return end._replace(surface_depletion=end.surface_depletion + np.minimum(part * transpiration, left))


def rise(end: State, capillary_limit: Array) -> tuple[State, Array]:
    """Let water rise from a water table into what is missing at the end of the day.

    All of the limit rises once the readily available water is used, less in proportion before that,
    none at field capacity, and never more than is missing.
    """
    risen = np.minimum(capillary_limit * np.minimum(end.depletion / end.raw, 1.0), end.depletion)
    return end._replace(depletion=end.depletion - risen), risen
