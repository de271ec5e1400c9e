"""Soil: turns a description into the water it holds, evaporates, sheds and draws up."""

from waterbudget.soil.capillary import steady_upward_flow
from waterbudget.soil.intake import (
    BasicIntake,
    basic_intake,
    family_depth,
    greatest_rate,
    horton_depth,
    horton_rate,
    longest_set,
    longest_set_of_family,
)
from waterbudget.soil.leaching import (
    leaching_requirement,
    leaching_requirement_frequent,
    leaching_shortfall,
    required_water,
    root_zone_salinity,
    salinity_at_yield,
    steady_state_profile,
    uptake_weighted_salinity,
)
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
    "BasicIntake",
    "ParticleWater",
    "Soil",
    "Storage",
    "adjusted_curve_number",
    "basic_intake",
    "curve_number_runoff",
    "curve_numbers_dry_wet",
    "family_depth",
    "greatest_rate",
    "horton_depth",
    "horton_rate",
    "hourly_runoff",
    "intensity_runoff",
    "leaching_requirement",
    "leaching_requirement_frequent",
    "leaching_shortfall",
    "longest_set",
    "longest_set_of_family",
    "observed_depletion",
    "readily_evaporable_water",
    "required_water",
    "root_zone_salinity",
    "salinity_at_yield",
    "saturated_conductivity",
    "steady_state_profile",
    "steady_upward_flow",
    "store",
    "texture_class",
    "total_evaporable_water",
    "uptake_weighted_salinity",
    "water_from_particles",
]
