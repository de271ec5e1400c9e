"""System: turns a description into what reaches the soil, how fast, and over which part of it."""

from waterbudget.system.amounts import hours, volume
from waterbudget.system.catch_cans import CatchCans, depth_from_volume
from waterbudget.system.deliver import Delivery, deliver
from waterbudget.system.distribution import (
    DistributionKind,
    adequacy,
    below_zero,
    deep_percolation,
    deficit,
    distribution_efficiency,
    quantile_shares,
    required_depth_factor,
)
from waterbudget.system.distribution import fit as fit_distribution
from waterbudget.system.emitter_curve import (
    EmitterCurve,
    fit_emitter,
    flow_at,
    rated_emitter,
)
from waterbudget.system.emitters import (
    emitter_findings,
    field_uniformity,
    manufacturers_variation,
)
from waterbudget.system.lateral import (
    LateralUniformity,
    lateral_pressures,
    lateral_uniformity,
)
from waterbudget.system.meter import irrigation_from_hours, irrigation_from_meter
from waterbudget.system.micro import (
    emission_uniformity,
    emitters_per_plant,
    hours_for,
    litres_per_plant,
    quality,
    statistical_uniformity,
    wetted_fraction,
    wetted_storage,
)
from waterbudget.system.nozzles import (
    flow_at_pressure,
    implied_coefficient,
    nozzle_flow,
    worn_flow_ratio,
)
from waterbudget.system.overlap import overlap_lateral, overlap_radial, pattern_flow
from waterbudget.system.pipes import (
    Pipe,
    christiansen_factor,
    friction_loss,
)
from waterbudget.system.pumping import (
    pumping_cost,
    pumping_energy,
    pumping_power,
    total_head,
)
from waterbudget.system.rates import (
    application_rate,
    application_rate_of_flow,
    pivot_depth,
    pivot_peak_rate,
    pivot_speed,
    travelling_depth,
    travelling_speed,
)
from waterbudget.system.readings import detectable_change, find_faults, readings_table
from waterbudget.system.sets import (
    Cycles,
    PumpCapacity,
    cycles,
    days_to_cover,
    pump_keeps_up,
    required_flow,
    set_hours,
    sets_per_day,
)
from waterbudget.system.spray import spray_loss, spray_regressions
from waterbudget.system.system import System
from waterbudget.system.uniformity import (
    christiansen_from_low_quarter,
    christiansen_uniformity,
    coefficient_of_variation,
    cv_from_uniformity,
    low_half_uniformity,
    low_quarter_from_christiansen,
    low_quarter_uniformity,
    ring_area,
    run_time_multiplier,
    scheduling_coefficient,
    uniformity_from_cv,
)

__all__ = [
    "CatchCans",
    "Cycles",
    "Delivery",
    "DistributionKind",
    "EmitterCurve",
    "LateralUniformity",
    "Pipe",
    "PumpCapacity",
    "System",
    "adequacy",
    "application_rate",
    "application_rate_of_flow",
    "below_zero",
    "christiansen_factor",
    "christiansen_from_low_quarter",
    "christiansen_uniformity",
    "coefficient_of_variation",
    "cv_from_uniformity",
    "cycles",
    "days_to_cover",
    "deep_percolation",
    "deficit",
    "deliver",
    "depth_from_volume",
    "detectable_change",
    "distribution_efficiency",
    "emission_uniformity",
    "emitter_findings",
    "emitters_per_plant",
    "field_uniformity",
    "find_faults",
    "fit_distribution",
    "fit_emitter",
    "flow_at",
    "flow_at_pressure",
    "friction_loss",
    "hours",
    "hours_for",
    "implied_coefficient",
    "irrigation_from_hours",
    "irrigation_from_meter",
    "lateral_pressures",
    "lateral_uniformity",
    "litres_per_plant",
    "low_half_uniformity",
    "low_quarter_from_christiansen",
    "low_quarter_uniformity",
    "manufacturers_variation",
    "nozzle_flow",
    "overlap_lateral",
    "overlap_radial",
    "pattern_flow",
    "pivot_depth",
    "pivot_peak_rate",
    "pivot_speed",
    "pump_keeps_up",
    "pumping_cost",
    "pumping_energy",
    "pumping_power",
    "quality",
    "quantile_shares",
    "rated_emitter",
    "readings_table",
    "required_depth_factor",
    "required_flow",
    "ring_area",
    "run_time_multiplier",
    "scheduling_coefficient",
    "set_hours",
    "sets_per_day",
    "spray_loss",
    "spray_regressions",
    "statistical_uniformity",
    "total_head",
    "travelling_depth",
    "travelling_speed",
    "uniformity_from_cv",
    "volume",
    "wetted_fraction",
    "wetted_storage",
    "worn_flow_ratio",
]
