"""A crop day by day, written a second time from FAO-56: plain numbers, one day after another.

Nothing here comes from the package. Equation numbers are those of Allen, R.G., Pereira, L.S., Raes, D., Smith,
M. (1998), "Crop evapotranspiration", FAO Irrigation and Drainage Paper 56. What the paper leaves open is
decided as docs/theory.md says. Days are counted from 0, the first day of the weather; depths of roots are in m.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

BARE, INITIAL, DEVELOPMENT, MID_SEASON, LATE = range(5)
STANDARD_WIND, STANDARD_HUMIDITY = 2.0, 45.0


class Series(NamedTuple):
    """One value a day from the day ``start`` on."""

    start: int
    values: tuple[float, ...]


@dataclass(frozen=True)
class Crop:
    """What is said about a crop. Coefficients, roots, cover and height: a number, points of a curve, or a Series."""

    root_depth: float | tuple[float, float] | Series
    depletion_fraction: float
    planted: int | None = None
    stage_days: tuple[int, ...] | None = None
    stage_degree_days: tuple[float, ...] | None = None
    base_temperature: float | None = None
    upper_temperature: float | None = None
    unfinished: bool = False
    kc: float | tuple[float, ...] | Series | None = None
    kcb: float | tuple[float, ...] | Series | None = None
    height: float | Series | None = None
    cover: float | tuple[float, ...] | Series | None = None
    climate: tuple | None = None
    adjust_depletion_fraction: bool = True
    killing_frost: float | None = None
    evaporation_reduction: float = 0.0
    residue_reduction: float = 0.0
    surface_uptake: bool = False
    salt_threshold: float | None = None
    salt_slope: float | None = None
    yield_response: float | None = None

    @property
    def basal(self) -> bool:
        return self.kcb is not None


class Day(NamedTuple):
    """A crop on one day; ``crop`` says whose p, salt and roots hold."""

    crop: Crop
    stage: int
    coefficient: float
    kc_max: float
    cover: float
    root_depth: float
    evaporation_factor: float


# ------------------------------------------------------------------------------- equations
def climate_increment(wind: float, humidity: float, height: float) -> float:
    """The bracket of Eq. 62, 70 and 72, within the ranges that the text gives."""
    if height <= 0.0:
        return 0.0
    wind = min(max(wind, 1.0), 6.0)
    humidity = min(max(humidity, 20.0), 80.0)
    return (0.04 * (wind - 2.0) - 0.004 * (humidity - 45.0)) * (min(height, 10.0) / 3.0) ** 0.3


def kc_max(basal: float, wind: float, humidity: float, height: float) -> float:
    """Eq. 72."""
    return max(1.2 + climate_increment(wind, humidity, height), basal + 0.05)


def cover_from_coefficient(basal: float, limit: float, height: float) -> float:
    """Eq. 76, at most 0.99."""
    if basal <= 0.15:
        return 0.0
    return min(((basal - 0.15) / (limit - 0.15)) ** (1.0 + 0.5 * height), 0.99)


def degree_days(tmin: float, tmax: float, base: float, upper: float | None) -> float:
    """Both extremes kept within the two limits; their mean above the base."""
    top = math.inf if upper is None else upper
    return (min(max(tmin, base), top) + min(max(tmax, base), top)) / 2.0 - base


def stage_of(gone: float, lengths: tuple[float, ...]) -> int:
    """The stage on which a day falls, by the days (or heat) gone, that day included."""
    ends = 0.0
    for stage, length in enumerate(lengths, start=INITIAL):
        ends += length
        if gone <= ends:
            return stage
    return BARE


def along_curve(gone: float, lengths: tuple[float, ...], points: tuple[float, ...]) -> float:
    """Figure 34 and Eq. 66: constant, straight line, constant, straight line."""
    initial, mid, end = points
    stage = stage_of(gone, lengths)
    if stage == INITIAL:
        return initial
    if stage == DEVELOPMENT:
        return initial + (gone - lengths[0]) / lengths[1] * (mid - initial)
    if stage == MID_SEASON:
        return mid
    return mid + (gone - sum(lengths[:3])) / lengths[3] * (end - mid)


def roots_along(gone: float, lengths: tuple[float, ...], depths: tuple[float, float]) -> float:
    """Annex 8, Eq. 8-1: from the depth at planting to full depth through the development stage."""
    stage = stage_of(gone, lengths)
    if stage == INITIAL:
        return depths[0]
    if stage == DEVELOPMENT:
        return depths[0] + (gone - lengths[0]) / lengths[1] * (depths[1] - depths[0])
    return depths[1]


# ------------------------------------------------------------------------------- along the days of a run
def _time_gone(crop: Crop, days: int, tmin: list[float], tmax: list[float]) -> list[float | None]:
    """Days or heat since planting, that day included; None before planting."""
    if crop.stage_days is not None:
        return [float(day - crop.planted + 1) if day >= crop.planted else None for day in range(days)]
    gone, heat = [], 0.0
    for day in range(days):
        if day < crop.planted:
            gone.append(None)
        else:
            heat += degree_days(tmin[day], tmax[day], crop.base_temperature, crop.upper_temperature)
            gone.append(heat)
    return gone


def _highest(crop: Crop, points: tuple[float, ...]) -> float:
    """The coefficient at which the crop is of full height: the largest of its whole season."""
    if crop.stage_days is None:
        return max(points)
    total = sum(crop.stage_days)
    return max(along_curve(float(day), crop.stage_days, points) for day in range(1, total + 1))


def _stage_mean(value, stage: int) -> float:
    return value[stage - 1] if isinstance(value, tuple) else value


def _shape(
    crop: Crop, stage: int, coefficient: float, height: float, cover: float | None
) -> tuple[float, float]:
    """Kc max and cover of a day on which the crop stands."""
    wind, humidity = crop.climate or (STANDARD_WIND, STANDARD_HUMIDITY)
    limit = kc_max(coefficient, _stage_mean(wind, stage), _stage_mean(humidity, stage), height)
    if cover is not None:
        return limit, min(cover, 0.99)
    return limit, cover_from_coefficient(coefficient, limit, height) if crop.basal else 0.0


def _bare(crop: Crop, root_depth: float, after: bool) -> Day:
    """Bare soil before the crop, or after it under its residue."""
    factor = 1.0 - crop.residue_reduction if after else 1.0
    return Day(crop, BARE, 0.0, kc_max(0.0, STANDARD_WIND, STANDARD_HUMIDITY, 0.0), 0.0, root_depth, factor)


def one_crop(crop: Crop, days: int, tmin: list[float], tmax: list[float]) -> list[Day]:
    """A crop by itself on every day of the run."""
    coefficient = crop.kcb if crop.basal else crop.kc
    if isinstance(coefficient, Series):
        made, after = _by_series(crop, coefficient, days)
    elif crop.planted is None:
        made, after = _always(crop, coefficient, days)
    else:
        made, after = _by_stages(crop, coefficient, days, tmin, tmax)
    if crop.killing_frost is not None:
        for day, own in enumerate(made):
            if own.stage >= MID_SEASON and tmin[day] <= crop.killing_frost:  # its last day
                return made[: day + 1] + [after] * (days - day - 1)
    return made


def _by_series(crop: Crop, coefficient: Series, days: int) -> tuple[list[Day], Day]:
    made, tallest = [], 0.0
    top = max(coefficient.values)

    def on(value, at):
        return value.values[at] if isinstance(value, Series) else value

    for at, one in enumerate(coefficient.values):
        if isinstance(crop.height, Series):
            height = crop.height.values[at]
        else:  # grows with the coefficient, never falls (Annex 8)
            tallest = max(tallest, one)
            height = (crop.height or 0.0) * (tallest / top if top > 0.0 else 0.0)
        limit, cover = _shape(crop, MID_SEASON, one, height, on(crop.cover, at))
        factor = 1.0 - crop.evaporation_reduction
        made.append(Day(crop, MID_SEASON, one, limit, cover, on(crop.root_depth, at), factor))
    before, after = _bare(crop, made[0].root_depth, False), _bare(crop, made[-1].root_depth, True)
    start, stop = coefficient.start, coefficient.start + len(made)
    return [before if d < start else after if d >= stop else made[d - start] for d in range(days)], after


def _always(crop: Crop, coefficient: float, days: int) -> tuple[list[Day], Day]:
    """Without a planting date the crop stands, fully grown, on every day."""
    height = crop.height or 0.0
    limit, cover = _shape(crop, MID_SEASON, coefficient, height if coefficient > 0.0 else 0.0, crop.cover)
    factor = 1.0 - crop.evaporation_reduction
    day = Day(crop, MID_SEASON, coefficient, limit, cover, crop.root_depth, factor)
    return [day] * days, _bare(crop, crop.root_depth, True)


def _by_stages(
    crop: Crop, coefficient: float | tuple[float, ...], days: int, tmin: list[float], tmax: list[float]
) -> tuple[list[Day], Day]:
    lengths = crop.stage_degree_days if crop.stage_days is None else crop.stage_days
    points = coefficient if isinstance(coefficient, tuple) else (coefficient,) * 3
    depths = crop.root_depth if isinstance(crop.root_depth, tuple) else (crop.root_depth,) * 2
    covers = crop.cover if isinstance(crop.cover, tuple) or crop.cover is None else (crop.cover,) * 3
    top = _highest(crop, points)
    # Growth before the weather begins counts for the height, which never falls.
    tallest = 0.0
    if crop.stage_days is not None:
        for age in range(1, min(-crop.planted, sum(lengths)) + 1):
            tallest = max(tallest, along_curve(float(age), lengths, points))
    before, after = _bare(crop, depths[0], False), _bare(crop, depths[0], True)
    made = []
    for gone in _time_gone(crop, days, tmin, tmax):
        stage = BARE if gone is None else stage_of(gone, lengths)
        if stage == BARE:
            made.append(before if gone is None else after)
            continue
        one = along_curve(gone, lengths, points)
        tallest = max(tallest, one)
        height = (crop.height or 0.0) * (tallest / top if top > 0.0 else 0.0)
        cover = None if covers is None else along_curve(gone, lengths, covers)
        limit, cover = _shape(crop, stage, one, height, cover)
        roots = roots_along(gone, lengths, depths)
        made.append(Day(crop, stage, one, limit, cover, roots, 1.0 - crop.evaporation_reduction))
    return made, after


def in_turn(crops: list[Crop], days: int, tmin: list[float], tmax: list[float]) -> list[Day]:
    """One crop, or a rotation: from its planting day on a crop takes the field over from the one before it."""
    each = [one_crop(crop, days, tmin, tmax) for crop in crops]
    chosen = []
    for day in range(days):
        has_field = each[0]  # also before anything is planted
        for crop, own in zip(crops[1:], each[1:], strict=True):
            if crop.planted <= day:
                has_field = own
        chosen.append(has_field[day])
    return chosen


def deepest_root(crops: list[Crop]) -> float:
    """The profile ends at the deepest root that any of the crops will have in its calendar."""
    deepest = 0.0
    for crop in crops:
        depth = crop.root_depth
        if isinstance(depth, Series):
            depth = max(depth.values)
        elif isinstance(depth, tuple) and crop.stage_days is not None:
            last = float(sum(crop.stage_days))
            depth = roots_along(last, crop.stage_days, depth)
        elif isinstance(depth, tuple):
            depth = depth[1]
        deepest = max(deepest, depth)
    return deepest
