"""Soil: turns a description into the water it holds, evaporates, sheds and draws up."""

from waterbudget.soil.capillary import steady_upward_flow
from waterbudget.soil.observed import observed_depletion
from waterbudget.soil.pedotransfer import (
    ParticleWater,
    readily_evaporable_water,
    saturated_conductivity,
    texture_class,
    water_from_particles,
)
from waterbudget.soil.runoff import (
    adjusted_curve_number,
    curve_number_runoff,
    curve_numbers_dry_wet,
    hourly_runoff,
    intensity_runoff,
)
from waterbudget.soil.soil import Soil
from waterbudget.soil.storage import Storage, store, total_evaporable_water

__all__ = [
    "ParticleWater",
    "Soil",
    "Storage",
    "adjusted_curve_number",
    "curve_number_runoff",
    "curve_numbers_dry_wet",
    "hourly_runoff",
    "intensity_runoff",
    "observed_depletion",
    "readily_evaporable_water",
    "saturated_conductivity",
    "steady_upward_flow",
    "store",
    "texture_class",
    "total_evaporable_water",
    "water_from_particles",
]
