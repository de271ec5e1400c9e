"""The daily soil-water balance, written a second time: one field, plain numbers, one day after another.

It is written from FAO-56 (Allen, R.G., Pereira, L.S., Raes, D., Smith, M., 1998, "Crop evapotranspiration",
FAO Irrigation and Drainage Paper 56; equation numbers below are its own) and, for what the paper leaves
open, from docs/theory.md. It shares no code with the package: a fault would have to be made twice, in two
styles, to go unseen. Depths are in mm, soil depths in m; days are counted from 0, the first day of the weather.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import NamedTuple

from tests.oracle.scalar_crop import BARE, Crop, Day, in_turn
from tests.oracle.scalar_decision import (
    Morning,
    Rule,
    decide,
    depth_to_fill,
    depths_wanted,
    mean,
    over_application,
    weights_looked_at,
)
from tests.oracle.scalar_soil import Ground, Roots, Soil
from tests.oracle.scalar_system import Part, System, parts_of, supply, wetted_within

NEVER = 366
"""Days since the last irrigation when there was none for a year."""
LEAST_WETTING = 3.0
"""Rain [mm] that wets the whole surface (p. 149, "3 to 4 mm")."""


@dataclass(frozen=True)
class Season:
    """One field and its weather: lists of one number a day."""

    rain: list[float]
    et_ref: list[float]
    tmin: list[float]
    tmax: list[float]
    crops: list[Crop]
    soil: Soil
    system: System | None = None
    rule: Rule | None = None
    rain_intensity: list[float] | None = None
    runoff: list[float] | None = None
    irrigation: list[tuple[int, float]] = field(default_factory=list)
    recorded_until: int | None = None
    extra_irrigation: list[tuple[int, float]] = field(default_factory=list)
    initial_depletion: float = 0.0
    initial_depletion_below: float = 0.0
    initial_evaporation_depletion: float = 0.0
    et_share: float = 1.0


class Spot(NamedTuple):
    """What one spot holds at the end of a day."""

    depletion: float
    below: float
    excess_water: float
    surface: float
    wetted: float
    taw: float
    raw: float


class Water(NamedTuple):
    """What entered, moved and left at one spot on a day, and its coefficients."""

    ke: float
    ks: float
    uptake_factor: float
    met_by_roots: float
    percolation: float
    drainage: float
    capillary_rise: float
    runoff: float
    evaporation: float
    transpiration: float


# ------------------------------------------------------------------------------- the surface layer
def exposed_and_wetted(cover: float, wetted: float) -> float:
    """Eq. 75."""
    return min(1.0 - cover, wetted)


def evaporation_reduction(surface: float, rew: float, tew: float) -> float:
    """Eq. 74; 1 while the readily evaporable water lasts."""
    if surface <= rew:
        return 1.0
    return max((tew - surface) / (tew - rew), 0.0)


def wetted_by_system(system: System, cover: float) -> float:
    """Table 20: drip under a canopy wets less of what the sun reaches."""
    fraction = wetted_within(system)
    return fraction * (1.0 - 2.0 / 3.0 * cover) if system.under_canopy else fraction


def wetted_fraction(before: float, rain: float, water: float, by_system: float, subsurface: bool) -> float:
    """Part of the surface that is wetted, p. 149: rain and irrigation of a day weighed by what entered."""
    irrigates = water > 0.0 and not subsurface
    if rain >= LEAST_WETTING and irrigates:
        return (rain * 1.0 + water * by_system) / (rain + water)
    if rain >= LEAST_WETTING:
        return 1.0
    return by_system if irrigates else before


# ------------------------------------------------------------------------------- stress
def depletion_fraction(crop: Crop, et_crop: float) -> float:
    """p of Table 22, adjusted to the day's evapotranspiration (p. 162)."""
    if not crop.adjust_depletion_fraction:
        return crop.depletion_fraction
    return min(max(crop.depletion_fraction + 0.04 * (5.0 - et_crop), 0.1), 0.8)


def water_stress(depletion: float, taw: float, raw: float) -> float:
    """Eq. 84."""
    if depletion <= raw:
        return 1.0
    return max((taw - depletion) / (taw - raw), 0.0)


def salt_stress(crop: Crop, salinity: float | None) -> float:
    """Eq. 89 without its water stress: 1 - b / (100 Ky) (ECe - threshold)."""
    if salinity is None or crop.salt_threshold is None or salinity <= crop.salt_threshold:
        return 1.0
    return 1.0 - crop.salt_slope / (100.0 * crop.yield_response) * (salinity - crop.salt_threshold)


# ------------------------------------------------------------------------------- a day
def roots_move(spot: Spot, ground: Ground, taw: float) -> tuple[float, float, float]:
    """Growing roots take in what lies below; roots that end leave their share of the depletion behind."""
    moved = 0.0
    if taw > spot.taw:
        moved = spot.below * min((taw - spot.taw) / (ground.whole - spot.taw), 1.0)
    elif taw < spot.taw:
        moved = -min(spot.depletion, spot.taw) * (spot.taw - taw) / spot.taw
    return spot.depletion + moved, spot.below - moved, taw - spot.taw - moved


class Field(NamedTuple):
    """What does not change from day to day."""

    ground: Ground
    system: System
    parts: list[Part]
    et_share: float


class Sky(NamedTuple):
    """The weather of a day."""

    rain: float
    et_ref: float
    intensity: float | None
    runoff: float | None


class Noon(NamedTuple):
    """A spot after the day's water has entered and the surface has dried; its roots have yet to draw."""

    depletion: float
    below: float
    excess: float
    surface: float
    wetted: float
    raw: float
    ks: float  # of drought alone
    ke: float
    met_by_roots: float
    runoff: float
    evaporation: float


def until_noon(spot: Spot, today: Day, roots: Roots, sky: Sky, water: float, field: Field) -> Noon:
    """Let ``water`` mm of irrigation and the rain into a spot, and let its surface evaporate."""
    crop, taw = today.crop, roots.taw
    ground, system = field.ground, field.system
    depletion, below, met = roots_move(spot, ground, taw)

    # Water enters early in the day, beside what yesterday left above field capacity.
    runoff = ground.runoff(sky.rain, sky.intensity, sky.runoff, spot.surface)
    rain = sky.rain - runoff
    by_system = wetted_by_system(system, today.cover)
    wetted = wetted_fraction(spot.wetted, rain, water, by_system, system.subsurface)
    on_surface = 0.0 if system.subsurface else water / wetted
    surface = max(spot.surface - rain - on_surface, 0.0)  # Eq. 77
    balance = depletion - spot.excess_water - rain - water
    depletion, excess = max(balance, 0.0), max(-balance, 0.0)

    # Soil evaporation, Eq. 71; under a single coefficient the layer dries as a bare and wholly wetted patch would.
    apart = crop.basal or today.stage == BARE
    few = exposed_and_wetted(today.cover, wetted) if apart else 1.0
    reduction = evaporation_reduction(surface, ground.rew, ground.tew)
    taken = today.coefficient if apart else 0.0
    ke = min(reduction * (today.kc_max - taken), few * today.kc_max) * today.evaporation_factor
    from_layer = min(ke * sky.et_ref, few * (ground.tew - surface))
    evaporation = 0.0
    if apart:
        evaporation = max(min(from_layer, taw + ground.air_dry - depletion), 0.0)
        from_layer = evaporation
    surface = min(surface + from_layer / few, ground.tew)  # Eq. 77, 78
    ke = evaporation / sky.et_ref if sky.et_ref > 0.0 else 0.0

    et_crop = today.coefficient * sky.et_ref + evaporation  # Eq. 69 or 58
    raw = depletion_fraction(crop, et_crop) * taw  # Eq. 83
    ks = water_stress(depletion, taw, raw)
    return Noon(depletion, below, excess, surface, wetted, raw, ks, ke, met, runoff, evaporation)


class Pull(NamedTuple):
    """How hard the roots draw at a spot: uptake over demand without salt, the plant's Ks, the uptake factor."""

    part: float
    ks: float
    factor: float


def pulls(noons: list[Noon], system: System) -> list[Pull]:
    """Roots of a spot draw by its own Ks; those that wet and dry parts share make up for one in the other.

    Compensated uptake after Jarvis (1989), its critical value the wetted part of the volume.
    """
    if not system.dry_parts:
        return [Pull(noon.ks, noon.ks, 1.0) for noon in noons]
    made, half, volume = [], len(noons) // 2, system.wetted_volume
    for at, noon in enumerate(noons):
        wet, dry = noons[at % half], noons[at % half + half]
        omega = volume * wet.ks + (1.0 - volume) * dry.ks
        factor = noon.ks / omega if omega > 0.0 else 0.0
        made.append(Pull(noon.ks / max(omega, volume), omega / max(omega, volume), factor))
    return made


def until_night(
    noon: Noon, pull: Pull, today: Day, roots: Roots, sky: Sky, field: Field
) -> tuple[Spot, Water]:
    """Let the roots of a spot draw, and let go of what it cannot hold."""
    crop, taw = today.crop, roots.taw
    ground, et_share = field.ground, field.et_share
    soil, depletion, surface, evaporation = ground.soil, noon.depletion, noon.surface, noon.evaporation

    # Transpiration, Eq. 80 and 81.
    salt = salt_stress(crop, soil.soil_salinity)
    demand = today.coefficient * sky.et_ref
    transpiration = max(min(pull.part * salt * demand, taw - depletion - evaporation), 0.0)
    et = evaporation + transpiration

    # Percolation and what is held back from it, Eq. 85, 86, 88.
    used = et_share * min(noon.excess, et)
    rest = noon.excess - used
    depletion += et - used
    held = min((1.0 - soil.drainage_fraction) * rest, roots.drainable)
    percolation = rest - held
    covered = min(held, depletion)
    depletion -= covered
    excess_water = held - covered

    # Roots draw on the evaporation layer (Allen and others 2005).
    if crop.surface_uptake and crop.basal:
        left = ground.tew - surface
        share = min(soil.evaporation_depth / roots.depth, 1.0) ** 0.6
        part = min(share * (left / ground.tew) / max(1.0 - depletion / taw, 0.001), 1.0)
        surface += min(part * transpiration, left)

    drainage = max(percolation - noon.below, 0.0)
    below = max(noon.below - percolation, 0.0)
    rise = min(roots.upward_limit * min(depletion / noon.raw, 1.0), depletion)
    depletion -= rise
    end = Spot(depletion, below, excess_water, surface, noon.wetted, taw, noon.raw)
    water = Water(
        ke=noon.ke,
        ks=pull.ks * salt,
        uptake_factor=pull.factor,
        met_by_roots=noon.met_by_roots,
        percolation=percolation,
        drainage=drainage,
        capillary_rise=rise,
        runoff=noon.runoff,
        evaporation=evaporation,
        transpiration=transpiration,
    )
    return end, water


def one_day(
    spots: list[Spot], today: Day, roots: Roots, sky: Sky, depth: float, field: Field
) -> list[tuple[Spot, Water]]:
    """Bring all spots over one day, on which ``depth`` mm of irrigation reach the field."""
    noons = [
        until_noon(spot, today, roots, sky, depth * part.share, field)
        for spot, part in zip(spots, field.parts, strict=True)
    ]
    drawn = pulls(noons, field.system)
    return [
        until_night(noon, pull, today, roots, sky, field) for noon, pull in zip(noons, drawn, strict=True)
    ]


# ------------------------------------------------------------------------------- what is written down
def recorded(season: Season, days: int) -> list[float | None]:
    """Net irrigation [mm] of the days that the record covers, None on the others."""
    covered: list[float | None] = [None] * days
    entries = [day for day, _ in season.irrigation]
    if season.recorded_until is not None:
        first, last = 0, max([season.recorded_until, *entries])
    elif entries:
        first, last = min(entries), max(entries)
    else:
        return covered
    for day in range(first, last + 1):
        covered[day] = 0.0
    for day, depth in season.irrigation:
        covered[day] += depth
    return covered


def added(season: Season, days: int) -> list[float]:
    """Net irrigation [mm] that is planned on top of what rule or record gives."""
    depths = [0.0] * days
    for day, depth in season.extra_irrigation:
        depths[day] += depth
    return depths


# ------------------------------------------------------------------------------- a season
STATES = {
    "depletion": "depletion",
    "depletion_below": "below",
    "excess_water": "excess_water",
    "surface_depletion": "surface",
    "wetted_fraction": "wetted",
    "taw": "taw",
    "raw": "raw",
}


class Result(NamedTuple):
    """Daily values: of the field (one a day), and of its spots (one a spot a day)."""

    field: dict[str, list[float]]
    spots: dict[str, list[list[float]]]
    nearest: float
    """How near [mm] any decision came to falling the other way."""


def run(season: Season) -> Result:
    """Carry a field through all its days."""
    days = len(season.rain)
    system = season.system or System()
    field = Field(Ground(season.soil, season.crops), system, parts_of(system), season.et_share)
    rule = season.rule
    grown = in_turn(season.crops, days, season.tmin, season.tmax)
    record, extra = recorded(season, days), added(season, days)
    spots = start(season, field, grown[0])
    since, nearest = NEVER, math.inf
    own: dict[str, list[float]] = {
        "irrigation_net": [],
        "extra_irrigation": extra,
        "days_since_irrigation": [],
        "crop_stage": [],
        "root_depth": [],
    }
    supplied, ends, moves = [], [], []
    for day, today in enumerate(grown):
        roots = field.ground.roots(today.root_depth, day)
        depth = record[day]
        if depth is None and rule is not None:
            morning = survey(spots, field, roots.taw, since, rule)
            depth, near = decide(rule, morning, day, today.stage != BARE)
            nearest = min(nearest, near)
        depth = (depth or 0.0) + extra[day]
        made = one_day(spots, today, roots, sky_of(season, day), depth, field)
        spots = [spot for spot, _ in made]
        since = 0 if depth > 0.0 else min(since + 1, NEVER)
        ends.append(spots)
        moves.append([water for _, water in made])
        supplied.append(supply(depth, system, season.soil, day))
        own["irrigation_net"].append(depth)
        own["days_since_irrigation"].append(since)
        own["crop_stage"].append(today.stage)
        own["root_depth"].append(roots.depth)
    if season.system is not None:
        own |= {name: [losses[name] for losses in supplied] for name in supplied[0]}
    if rule is not None and rule.net_depth is None:
        own["over_application"] = [over_application(field.parts)]
    told = {name: [[getattr(spot, key) for spot in row] for row in ends] for name, key in STATES.items()}
    told |= {name: [[getattr(water, name) for water in row] for row in moves] for name in Water._fields}
    return Result(own, told, nearest)


def sky_of(season: Season, day: int) -> Sky:
    intensity = None if season.rain_intensity is None else season.rain_intensity[day]
    runoff = None if season.runoff is None else season.runoff[day]
    return Sky(season.rain[day], season.et_ref[day], intensity, runoff)


def start(season: Season, field: Field, today: Day) -> list[Spot]:
    """Before day 1: given depletions, roots and allowance of day 1, the whole surface wetted (Annex 8)."""
    roots = field.ground.roots(today.root_depth, 0)
    spot = Spot(
        depletion=season.initial_depletion,
        below=season.initial_depletion_below,
        excess_water=0.0,
        surface=season.initial_evaporation_depletion,
        wetted=1.0,
        taw=roots.taw,
        raw=0.0,
    )
    without_water = Sky(0.0, season.et_ref[0], 0.0, 0.0)
    raw = until_noon(spot, today, roots, without_water, 0.0, field).raw
    return [spot._replace(raw=raw)] * len(field.parts)


def survey(spots: list[Spot], field: Field, taw: float, since: int, rule: Rule) -> Morning:
    """Look at the field before the day's water: means over the spots that are watched."""
    now = [max(roots_move(spot, field.ground, taw)[0] - spot.excess_water, 0.0) for spot in spots]
    target = rule.refill_to * taw
    wanted = depths_wanted(field.parts, [depletion - target for depletion in now])
    weights = weights_looked_at(field.parts, now, wanted, rule)
    if rule.adequacy is None:
        refill = over_application(field.parts) * max(mean(now, weights) - target, 0.0)
    else:
        refill = depth_to_fill(field.parts, wanted, rule.adequacy)
    return Morning(
        depletion_yesterday=mean([spot.depletion for spot in spots], weights),
        taw_yesterday=mean([spot.taw for spot in spots], weights),
        raw_yesterday=mean([spot.raw for spot in spots], weights),
        refill=refill,
        days_since=since,
    )
