"""A soil made ready, written a second time: water in its layers, runoff of rain, flow from a water table.

Equation numbers without another name are those of Allen, R.G., Pereira, L.S., Raes, D., Smith, M. (1998), "Crop
evapotranspiration", FAO Irrigation and Drainage Paper 56. Water is in mm, depths are in m.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

from tests.oracle.scalar_crop import Crop, Series, deepest_root


@dataclass(frozen=True)
class Soil:
    """Water contents are numbers, or one a layer with the bottoms of the layers in ``layer_bottom``."""

    rew: float
    field_capacity: float | tuple[float, ...] | None = None
    wilting_point: float | tuple[float, ...] | None = None
    available_water: float | tuple[float, ...] | None = None
    saturation: float | tuple[float, ...] | None = None
    layer_bottom: tuple[float, ...] | None = None
    tew: float | None = None
    evaporation_depth: float = 0.10
    curve_number: float | None = None
    adjust_curve_number: bool = False
    intake_rate: float | None = None
    drainage_fraction: float = 1.0
    restricting_depth: float | None = None
    water_table_depth: float | Series | None = None
    capillary_a: float | None = None
    capillary_n: float | None = None
    soil_salinity: float | None = None


def water_down_to(depth: float, contents: tuple[float, ...], bottoms: tuple[float, ...]) -> float:
    """Eq. 82, layer by layer: water [mm] that a content [m3/m3] makes between the surface and a depth [m]."""
    total, top = 0.0, 0.0
    for content, bottom in zip(contents, bottoms, strict=True):
        if depth > top:
            total += 1000.0 * content * (min(depth, bottom) - top)
        top = bottom
    return total


def steady_upward_flow(a: float, n: float, distance: float) -> float:
    """Gardner (1958): [pi/(n sin(pi/n))]^n a / distance^n [mm/day], the distance in m."""
    return (math.pi / (n * math.sin(math.pi / n))) ** n * a / distance**n


class Roots(NamedTuple):
    """What the roots of a day reach."""

    depth: float
    taw: float
    drainable: float
    upward_limit: float


class Ground:
    """A soil made ready: Eq. 73 and 82, runoff, upward flow."""

    def __init__(self, soil: Soil, crops: list[Crop]):
        def layers(value):
            return value if isinstance(value, tuple) else (value,)

        self.soil = soil
        self.bottoms = (math.inf,) if soil.layer_bottom is None else soil.layer_bottom
        capacity, wilting = layers(soil.field_capacity), layers(soil.wilting_point)
        self.available = layers(soil.available_water)
        if soil.available_water is None:
            self.available = tuple(c - w for c, w in zip(capacity, wilting, strict=True))
        self.drainable = tuple(0.0 for _ in self.bottoms)
        if soil.saturation is not None:
            self.drainable = tuple(s - c for s, c in zip(layers(soil.saturation), capacity, strict=True))
        self.rew, self.tew = soil.rew, soil.tew
        if soil.tew is None:  # Eq. 73, layer by layer
            halves = tuple(c - 0.5 * w for c, w in zip(capacity, wilting, strict=True))
            self.tew = water_down_to(soil.evaporation_depth, halves, self.bottoms)
        # What evaporation takes below the wilting point.
        self.air_dry = max(self.tew - self.available_to(soil.evaporation_depth), 0.0)
        self.deepest = self.limited(deepest_root(crops))
        self.whole = self.available_to(self.deepest)

    def available_to(self, depth: float) -> float:
        return water_down_to(depth, self.available, self.bottoms)

    def drainable_to(self, depth: float) -> float:
        return water_down_to(depth, self.drainable, self.bottoms)

    def limited(self, depth: float) -> float:
        """Roots do not enter a restricting layer."""
        limit = self.soil.restricting_depth
        return depth if limit is None else min(depth, limit)

    def upward_limit(self, root_depth: float, day: int) -> float:
        """Most that can rise from a water table to the roots on a day [mm]."""
        table = self.soil.water_table_depth
        if table is None:
            return 0.0
        if isinstance(table, Series):
            table = table.values[day - table.start]
        return steady_upward_flow(self.soil.capillary_a, self.soil.capillary_n, table - root_depth)

    def roots(self, root_depth: float, day: int) -> Roots:
        """Work out what the roots of a day reach."""
        depth = self.limited(root_depth)
        return Roots(depth, self.available_to(depth), self.drainable_to(depth), self.upward_limit(depth, day))

    def runoff(self, rain: float, intensity: float | None, given: float | None, surface: float) -> float:
        """Rain that runs off on a day that begins with a surface depletion."""
        if given is not None:
            return given
        if self.soil.intake_rate is not None:
            return runoff_by_intensity(rain, intensity, self.soil.intake_rate)
        number = self.soil.curve_number
        if number is None:
            return 0.0
        if self.soil.adjust_curve_number:
            number = adjusted_curve_number(number, surface, self.rew, self.tew)
        return runoff_by_curve_number(rain, number)


def runoff_by_curve_number(rain: float, number: float) -> float:
    """National Engineering Handbook 630, chapter 10: S = 25400/CN - 254 mm, initial abstraction 0.2 S."""
    storage = 25400.0 / number - 254.0
    if rain <= 0.2 * storage:
        return 0.0
    return (rain - 0.2 * storage) ** 2 / (rain + 0.8 * storage)


def adjusted_curve_number(number: float, surface: float, rew: float, tew: float) -> float:
    """Between the wet (III) and dry (I) curve numbers of Hawkins and others (1985), by the surface layer."""
    dry = number / (2.281 - 0.01281 * number)
    wet = number / (0.427 + 0.00573 * number)
    moist, parched = 0.5 * rew, 0.7 * rew + 0.3 * tew
    if surface <= moist:
        return wet
    if surface >= parched:
        return dry
    return wet + (surface - moist) / (parched - moist) * (dry - wet)


def runoff_by_intensity(rain: float, intensity: float, intake: float) -> float:
    """The part of the rain that falls faster than the soil takes it in."""
    if intensity <= intake:
        return 0.0
    return rain * (1.0 - intake / intensity)
