"""Every public formula takes its numbers as text with a unit too, and gives the same bits as for the numbers."""

import inspect

import numpy as np
import pandas as pd
import pytest

from tests.contract.formulas import only_fault
from waterbudget import soil, system
from waterbudget.units import convert

CURVE = system.rated_emitter(2.0, 100.0, 0.5, lowest_pressure=50.0, highest_pressure=200.0)
PIPE = system.Pipe(diameter=0.0139)

SALTS = {"water_salinity": (1.2, "dS m-1")}
HEAD = {"lift": (20.0, "m"), "pressure": (300.0, "kPa"), "friction": (5.0, "m")}
FALLING = {
    "initial_intake": (60.0, "mm h-1"),
    "basic_intake": (8.0, "mm h-1"),
    "decay": (3.0, "h-1"),
}
PLANT = {"plant_spacing": (3.0, "m"), "row_spacing": (4.0, "m")}
EMITTERS = {"emitter_spacing": (0.5, "m"), "wetted_width": (1.0, "m"), **PLANT}
NEED = {
    "peak_need": (6.0, "mm day-1"),
    "area": (12.0, "ha"),
    "hours_per_day": (20.0, "h"),
    "efficiency": (0.8, "1"),
}
SET = {"gross": (40.0, "mm"), "application_rate": (8.0, "mm h-1")}
# Formula; what it takes beside numbers with a unit; then number and unit by name. "1" is a fraction.
TABLE = [
    (system.nozzle_flow, {}, {"diameter": (0.004, "m"), "pressure": (300.0, "kPa"), "discharge_coefficient": (0.95, "1")}),
    (system.implied_coefficient, {}, {"flow": (1.2, "m3 h-1"), "diameter": (0.05, "m"), "pressure": (300.0, "kPa")}),
    (system.flow_at_pressure, {"exponent": 0.5}, {"flow": (1.2, "m3 h-1"), "pressure": (300.0, "kPa"), "new_pressure": (250.0, "kPa")}),
    (system.worn_flow_ratio, {}, {"diameter": (0.004, "m"), "worn_diameter": (0.0042, "m")}),
    (system.application_rate, {}, {"flow": (1.2, "m3 h-1"), "spacing_along": (12.0, "m"), "spacing_between": (18.0, "m")}),
    (system.application_rate_of_flow, {}, {"flow": (90.0, "m3 h-1"), "area": (12.0, "ha")}),
    (system.pivot_depth, {}, {"flow": (200.0, "m3 h-1"), "area": (50.0, "ha"), "hours_per_turn": (48.0, "h")}),
    (system.pivot_speed, {}, {"radius": (390.0, "m"), "hours_per_turn": (48.0, "h")}),
    (system.pivot_peak_rate, {}, {"flow": (200.0, "m3 h-1"), "radius": (400.0, "m"), "wetted_width": (12.0, "m"), "distance": (350.0, "m")}),
    (system.travelling_depth, {}, {"flow": (60.0, "m3 h-1"), "lane_spacing": (80.0, "m"), "speed": (25.0, "m h-1")}),
    (system.travelling_speed, {}, {"flow": (60.0, "m3 h-1"), "lane_spacing": (80.0, "m"), "gross": (30.0, "mm")}),
    (system.set_hours, {}, SET),
    (system.cycles, {}, SET | {"longest": (2.0, "h"), "soak": (1.0, "h")}),
    (system.sets_per_day, {}, {"hours": (11.0, "h"), "move_hours": (1.0, "h"), "hours_per_day": (24.0, "h")}),
    (system.required_flow, {}, NEED),
    (system.pump_keeps_up, {}, {"flow": (90.0, "m3 h-1"), **NEED}),
    (system.total_head, {}, HEAD),
    (system.pumping_power, {}, {"flow": (90.0, "m3 h-1"), "pump_efficiency": (0.6, "1"), **HEAD}),
    (system.pumping_energy, {}, {"volume": (4800.0, "m3"), "pump_efficiency": (0.6, "1"), **HEAD}),
    (system.pumping_cost, {"price": 0.2}, {"energy": (100.0, "kWh")}),
    (system.depth_from_volume, {}, {"volume": (81.0, "mL"), "can_diameter": (0.1, "m")}),
    (system.flow_at, {"curve": CURVE}, {"pressure": (120.0, "kPa")}),
    (system.friction_loss, {"pipe": PIPE}, {"flow": (0.5, "m3 h-1"), "length": (50.0, "m")}),
    (system.lateral_pressures, {"pipe": PIPE, "curve": CURVE, "outlets": 9}, {"spacing": (0.5, "m"), "first_distance": (0.3, "m"), "slope": (1.0, "%"), "inlet_pressure": (120.0, "kPa")}),
    (system.overlap_radial, {"distance": [1, 9], "rate": [5, 0]}, {"spacing_along": (9.0, "m"), "spacing_between": (12.0, "m")}),
    (system.overlap_lateral, {"position": [0, 5, 10], "depth": [0, 5, 0]}, {"spacing": (8.0, "m")}),
    (system.emission_uniformity, {"emitters_per_plant": 2}, {"cv": (0.05, "1"), "lowest_flow": (3.0, "L h-1"), "mean_flow": (4.0, "L h-1")}),
    (system.statistical_uniformity, {"exponent": 0.5}, {"hydraulic_variation": (0.1, "1"), "emitter_variation": (0.06, "1")}),
    (system.litres_per_plant, {}, {"depth": (5.0, "mm"), **PLANT}),
    (system.hours_for, {"emitters_per_plant": 2}, {"litres": (30.0, "L"), "emitter_flow": (2.0, "L h-1"), "efficiency": (0.9, "1")}),
    (system.emitters_per_plant, {}, {"wetted_fraction": (0.3, "1"), **EMITTERS}),
    (system.wetted_fraction, {"emitters_per_plant": 2}, EMITTERS),
    (system.wetted_storage, {}, {"available_water": (100.0, "mm"), "wetted_volume": (0.3, "1"), "allowable_depletion": (0.5, "1")}),
    (system.spray_loss, {"regression": "Playan 2005 E14", "beyond": "hold"}, {"wind": (3.0, "m s-1"), "humidity": (50.0, "%")}),
    (soil.greatest_rate, {"soil": "silt loam", "ground": "bare"}, {"slope": (6.0, "%")}),
    (soil.family_depth, {"family": 0.5}, {"hours": (2.0, "h")}),
    (soil.longest_set_of_family, {"family": 0.5}, {"rate": (25.0, "mm h-1")}),
    (soil.horton_rate, {}, {"hours": (2.0, "h"), **FALLING}),
    (soil.horton_depth, {}, {"hours": (2.0, "h"), **FALLING}),
    (soil.longest_set, {}, {"rate": (25.0, "mm h-1"), **FALLING}),
    (soil.leaching_requirement, {}, SALTS | {"crop_salinity": (2.5, "dS m-1")}),
    (soil.leaching_requirement_frequent, {}, SALTS | {"zero_yield_salinity": (10.0, "dS m-1")}),
    (soil.required_water, {}, {"et": (800.0, "mm"), "leaching_requirement": (0.1, "1")}),
    (soil.leaching_shortfall, {}, {"required": (90.0, "mm"), "percolated": (40.0, "mm")}),
    (soil.steady_state_profile, {}, SALTS | {"leaching_fraction": (0.15, "1")}),
    (soil.root_zone_salinity, {}, SALTS | {"leaching_fraction": (0.15, "1")}),
    (soil.uptake_weighted_salinity, {}, SALTS | {"leaching_fraction": (0.15, "1")}),
    (soil.salinity_at_yield, {}, {"threshold": (1.7, "dS m-1"), "slope": (12.0, "% per dS m-1"), "relative_yield": (0.9, "1")}),
]  # fmt: skip
FOREIGN = {
    "1": "%", "%": "%", "% per dS m-1": "%/(dS/m)", "dS m-1": "mS/cm", "h": "min", "h-1": "min-1", "ha": "acre",
    "kPa": "psi", "kWh": "MJ", "L": "gal", "L h-1": "gph", "m": "ft", "m h-1": "ft/min", "m s-1": "mph",
    "m3": "gal", "m3 h-1": "gpm", "mL": "cm3", "mm": "in", "mm day-1": "in/day", "mm h-1": "in/h",
}  # fmt: skip
"""Another unit for each."""

BY_THE_DAY = {
    "adjusted_curve_number",
    "curve_number_runoff",
    "curve_numbers_dry_wet",
    "hours",
    "intensity_runoff",
    "readily_evaporable_water",
    "saturated_conductivity",
    "steady_upward_flow",
    "store",
    "deliver",
    "texture_class",
    "total_evaporable_water",
    "volume",
    "water_from_particles",
}
"""Bare arithmetic, done for every day and cell or within descriptions: it takes numbers alone."""
ROWS = {
    "detectable_change",
    "emitter_findings",
    "field_uniformity",
    "find_faults",
    "fit_distribution",
    "fit_emitter",
    "hourly_runoff",
    "irrigation_from_hours",
    "irrigation_from_meter",
    "manufacturers_variation",
    "observed_depletion",
    "pattern_flow",
    "rated_emitter",
    "readings_table",
    "ring_area",
}
"""They take rows, tables or series, with tests of their own."""
WITHOUT_UNIT = {
    "adequacy",
    "basic_intake",
    "below_zero",
    "christiansen_factor",
    "christiansen_from_low_quarter",
    "christiansen_uniformity",
    "coefficient_of_variation",
    "cv_from_uniformity",
    "days_to_cover",
    "deep_percolation",
    "deficit",
    "distribution_efficiency",
    "lateral_uniformity",
    "low_half_uniformity",
    "low_quarter_from_christiansen",
    "low_quarter_uniformity",
    "quality",
    "quantile_shares",
    "required_depth_factor",
    "run_time_multiplier",
    "scheduling_coefficient",
    "spray_regressions",
    "uniformity_from_cv",
}
"""Counts, ratios and words."""

every = pytest.mark.parametrize(
    ("formula", "beside", "numbers"), TABLE, ids=[formula.__name__ for formula, *_ in TABLE]
)


def bits(result):
    """Give all the numbers of a result as bytes."""
    if isinstance(result, pd.DataFrame):
        result = result.to_numpy()
    return np.asarray(result, dtype=np.float64).tobytes()


def test_no_formula_is_forgotten():
    public = {
        name for room in (soil, system) for name in room.__all__ if inspect.isfunction(getattr(room, name))
    }
    here = {formula.__name__ for formula, *_ in TABLE}
    assert public == here | BY_THE_DAY | ROWS | WITHOUT_UNIT


@every
def test_text_in_the_unit_of_the_formula_gives_the_same_bits(formula, beside, numbers):
    plain = formula(**beside, **{name: value for name, (value, _) in numbers.items()})
    text = {
        name: f"{value!r} {'fraction' if unit == '1' else unit}" for name, (value, unit) in numbers.items()
    }
    assert bits(formula(**beside, **text)) == bits(plain)


@every
def test_text_in_another_unit_is_converted(formula, beside, numbers):
    plain = {name: value for name, (value, _) in numbers.items()}
    for name, (value, unit) in numbers.items():
        other = FOREIGN[unit]
        there = float(f"{value / convert(1.0, other, unit):.8g}")
        back = plain | {name: convert(there, other, unit)}
        assert bits(formula(**beside, **plain | {name: f"{there!r} {other}"})) == bits(
            formula(**beside, **back)
        )


@every
@pytest.mark.parametrize(
    ("end", "problem"), [("", "has no unit"), (" foo", "is not known"), (" degC", "of another kind")]
)
def test_text_that_does_not_fit_is_refused(formula, beside, numbers, end, problem):
    plain = {name: value for name, (value, _) in numbers.items()}
    for name, (value, _) in numbers.items():
        fault = only_fault(formula, **beside, **plain | {name: f"{value!r}{end}"})
        assert fault.what == name
        assert problem in fault.problem
        assert "such as" in fault.problem


@pytest.mark.parametrize(
    ("formula", "given", "place"),
    [
        (system.christiansen_factor, (10, 1.75), 0),
        (system.days_to_cover, (15, 2), 1),
        (system.pumping_cost, (100, 0.2), 1),
        (system.hours_for, (30, 2, 2, 0.9), 1),
    ],
)
def test_counts_and_prices_have_no_unit(formula, given, place):
    for text in ("2", "2 m", "2 %"):
        fault = only_fault(formula, *given[:place], text, *given[place + 1 :])
        assert fault.problem == "is not a number"


def test_a_row_of_text_is_no_row_of_numbers():
    assert "not a number" in only_fault(system.set_hours, ["1 in", 40.0], 8.0).problem
