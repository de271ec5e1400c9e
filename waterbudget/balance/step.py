"""One day's physics, written once.

Only arithmetic, comparisons as 0 or 1, ``np.minimum`` and ``np.maximum``: no branches, no powers,
nothing that looks beyond its own cell. The same source therefore runs on one field and on ten
thousand with the same bits, and can be compiled as it stands. Missing options are neutral numbers,
never NaN or infinity.

Equation numbers are those of FAO Irrigation and Drainage Paper 56 (1998).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

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


class Ground(NamedTuple):
    """Soil and crop numbers that do not change from day to day."""

    available: Array  # mm of available water per m of depth
    deepest_root: Array  # m
    tew: Array  # mm
    stage_two: Array  # mm, tew - rew
    air_dry_water: Array  # mm
    depletion_fraction: Array
    adjust: Array  # 1 where p follows the day's evapotranspiration
    et_share: Array  # share of ET taken before percolation


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


def grow_roots(state: State, root_depth: Array, ground: Ground) -> Roots:
    """Move the lower boundary of the root zone to today's root depth.

    Roots that grow take in the soil below with the water stored there; roots that end leave soil
    behind with the water of the root zone, in proportion to depth. Water above the wilting point
    is shared; what evaporation took from below it stays with the surface.
    """
    grown = np.maximum(root_depth - state.root_depth, 0.0)
    ended = np.maximum(state.root_depth - root_depth, 0.0)
    joining = np.minimum(grown / np.maximum(ground.deepest_root - state.root_depth, TINY), 1.0)
    leaving = ended / state.root_depth
    moved = state.depletion_below * joining - np.minimum(state.depletion, state.taw) * leaving
    depletion = state.depletion + moved
    below = state.depletion_below - moved
    taw = ground.available * root_depth
    met_by_roots = taw - state.taw - moved
    return Roots(depletion, below, taw, met_by_roots)


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

    # Soil evaporation (Eq. 71), no more than the layer and the root zone hold.
    demand = (
        np.minimum(reduction * (day.kc_max - day.coefficient), exposed * day.kc_max) * day.et_ref * day.dual
    )
    held = np.minimum(exposed * left, np.maximum(roots.taw + ground.air_dry_water - missing, 0.0))
    evaporation = np.minimum(demand, held)
    ke = evaporation / np.maximum(day.et_ref, TINY)
    # Under a single coefficient the layer only keeps track of how dry a bare patch would be.
    drying = evaporation / exposed + (1.0 - day.dual) * reduction * day.kc_max * day.et_ref
    surface = np.minimum(surface + drying, ground.tew)

    # Stress (Eq. 84) from today's readily available water (Eq. 83), p adjusted as on p. 162.
    potential = day.coefficient * day.et_ref
    adjusted = ground.depletion_fraction + 0.04 * (5.0 - (potential + evaporation))
    adjusted = np.minimum(np.maximum(adjusted, 0.1), 0.8)
    p = ground.depletion_fraction + ground.adjust * (adjusted - ground.depletion_fraction)
    raw = p * roots.taw
    ks = np.minimum(np.maximum((roots.taw - missing) / (roots.taw - raw), 0.0), 1.0)
    transpiration = np.minimum(ks * potential, np.maximum(roots.taw - missing - evaporation, 0.0))
    et = evaporation + transpiration

    # Percolation (Eq. 88 when et_share is 1), caught by the soil below the roots.
    used = ground.et_share * np.minimum(excess, et)
    percolation = excess - used
    depletion = missing + (et - used)
    drainage = np.maximum(percolation - roots.depletion_below, 0.0)
    depletion_below = np.maximum(roots.depletion_below - percolation, 0.0)

    end = State(depletion, depletion_below, surface, wetted_fraction, day.root_depth, roots.taw, raw)
    return end, Fluxes(ke, ks, evaporation, transpiration, et, percolation, drainage)
