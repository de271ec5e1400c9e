"""Drip and micro irrigation: what goes in, what comes out, what is refused in which words."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
import scipy.stats
import xarray as xr

import waterbudget as wb
from tests.contract.formulas import ODD, check_lists_and_labels, check_not_a_number
from waterbudget.errors import InputError
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
    pattern,
)
from waterbudget.system.lateral import (
    lateral_pressures,
    lateral_uniformity,
)
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
from waterbudget.system.pipes import (
    Pipe,
    christiansen_factor,
    friction_loss,
    reynolds_number,
    viscosity,
)

PRESSURE = [50.0, 100.0, 150.0, 200.0]
FLOW = [1.42, 2.0, 2.44, 2.83]
CURVE = rated_emitter(2.0, 100.0, 0.5, lowest_pressure=50.0, highest_pressure=200.0)
PIPE = Pipe(diameter=0.0139)


def faults(make, *args, **kwargs):
    with pytest.raises(InputError) as caught:
        make(*args, **kwargs)
    return caught.value.faults


def only_fault(make, *args, **kwargs):
    (fault,) = faults(make, *args, **kwargs)
    return fault


# ------------------------------------------------------------------------------- one emitter
@pytest.mark.parametrize(
    ("pressure", "flow"),
    [
        (np.array(PRESSURE), tuple(FLOW)),
        (pd.Series(PRESSURE), pd.Series(FLOW)),
        (["0.5 bar", "1 bar", "150 kPa", 200], ["1.42 L/h", "33.333333333333 mL/min", 2.44, 2.83]),
    ],
)
def test_readings_with_and_without_units(pressure, flow):
    curve, plain = fit_emitter(pressure, flow), fit_emitter(PRESSURE, FLOW)
    assert curve.exponent == pytest.approx(plain.exponent, abs=1e-9)
    assert curve.coefficient == pytest.approx(plain.coefficient, rel=1e-9)
    assert (curve.lowest_pressure, curve.highest_pressure, curve.pairs) == (50.0, 200.0, 4)


def test_equal_flows_are_an_exponent_of_zero():
    curve = fit_emitter(PRESSURE, [1.7, 1.7, 1.7, 1.7])
    assert curve.exponent == 0.0
    assert curve.coefficient == pytest.approx(1.7, rel=1e-15)
    assert np.isnan(curve.r_squared)


def test_proportional_flows_are_an_exponent_of_one():
    assert fit_emitter([0.1, 0.3, 0.7], [0.1, 0.3, 0.7]).exponent == 1.0


def test_an_exponent_surely_outside_its_range_is_refused_with_its_cause():
    falls = only_fault(fit_emitter, PRESSURE, [2.1, 2.05, 2.02, 2.0])
    assert falls.what == "exponent of the emitter"
    assert "flow falls as the pressure rises" in falls.problem
    line = scipy.stats.linregress(np.log(PRESSURE), np.log([2.1, 2.05, 2.02, 2.0]))
    margin = line.stderr * scipy.stats.t.ppf(0.975, 2)
    assert falls.value == f"{line.slope:.3g}, {margin:.2g} each way at 95 %"
    assert "0.5 is fully turbulent" in falls.allowed
    assert "rated_emitter with exponent 0" in falls.mend
    exchanged = only_fault(fit_emitter, FLOW, PRESSURE)
    assert "rises faster than the pressure" in exchanged.problem
    assert "columns are not exchanged" in exchanged.mend


def test_few_pairs_do_not_admit_any_exponent():
    # one degree of freedom: an interval of several units each way
    assert "below 0" in only_fault(fit_emitter, [50, 100, 150], [9, 1, 2]).problem
    assert "above 1" in only_fault(fit_emitter, [50, 100, 150], [1, 9, 10]).problem


def test_an_exponent_that_may_be_in_its_range_is_kept_with_a_doubt():
    below = fit_emitter(PRESSURE, [2.1, 2.05, 2.02, 2.1])
    slope, _ = np.polyfit(np.log(PRESSURE), np.log([2.1, 2.05, 2.02, 2.1]), 1)
    assert below.exponent == pytest.approx(slope, rel=1e-6)  # as fitted, not 0
    assert -below.exponent < below.exponent_margin
    assert below.doubts == (
        f"exponent {below.exponent:.3g} is below 0, but within its 95 % confidence interval, "
        f"{below.exponent_margin:.2g} each way: kept as fitted"
    )
    above = fit_emitter(PRESSURE, [0.5, 1.02, 1.51, 2.03])
    assert above.exponent > 1
    assert "is above 1" in above.doubts
    # What is inside has no doubt, and what was not fitted has no interval.
    assert fit_emitter(PRESSURE, FLOW).doubts == CURVE.doubts == ""
    assert CURVE.exponent_margin == 0.0
    fault = only_fault(dataclasses.replace, CURVE, exponent=-0.001)
    assert (fault.what, fault.value) == ("exponent of the emitter", "-0.001")
    assert only_fault(dataclasses.replace, CURVE, exponent=np.nan).problem == "is not known"


def test_a_lateral_with_an_exponent_just_below_0():
    curve = fit_emitter(PRESSURE, [2.1, 2.05, 2.02, 2.1])
    level = dataclasses.replace(curve, exponent=0.0, coefficient=2.067)
    described = {"outlets": 40, "spacing": 0.5, "inlet_pressure": 120.0}
    along, equal = (lateral_pressures(PIPE, one, **described) for one in (curve, level))
    np.testing.assert_allclose(along["pressure_kPa"], equal["pressure_kPa"], rtol=1e-3)
    assert (along["flow_L_per_h"][1:].diff()[1:] >= 0).all()  # a little more where the pressure is lower
    got, even = lateral_uniformity(along, curve, 0.05), lateral_uniformity(equal, level, 0.05)
    assert got.statistical == pytest.approx(even.statistical, abs=1e-4)
    assert got.emission < even.emission == pytest.approx(1 - 1.27 * 0.05)
    up = dict(described, slope=90.0)
    assert "does not bring water to the end" in only_fault(lateral_pressures, PIPE, curve, **up).problem


@pytest.mark.parametrize(
    ("pressure", "flow", "what", "problem"),
    [
        ([100, 100, 100], [2, 2.1, 2], "pressure", "is the same in every reading"),
        ([100, 200], [2, 2.8], "readings", "are too few"),
        ([100, 200, 300], [2, 2.8], "flow", "does not fit pressure"),
        ([100, 200, 0], [2, 2.8, 3.4], "pressure", "is outside its range"),
        ([100, 200, -5], [2, 2.8, 3.4], "pressure", "is outside its range"),
        ([100, 200, 300], [2, -2.8, 3.4], "flow", "is outside its range"),
        ([100, 200, 300], [2, 0, 3.4], "flow", "is 0"),
        ([100, 200, None], [2, 2.8, 3.4], "pressure", "is missing"),
        ([100, 200, "30 foo"], [2, 2.8, 3.4], "pressure", "unit 'foo' is not known"),
        ([100, 200, "30"], [2, 2.8, 3.4], "pressure", "has no unit"),
        ([100, 200, "30 m"], [2, 2.8, 3.4], "pressure", "it is of another kind"),
        ("100", [2, 2.8, 3.4], "pressure", "is not one row of numbers"),
    ],
)
def test_readings_that_make_no_curve(pressure, flow, what, problem):
    fault = only_fault(fit_emitter, pressure, flow)
    assert fault.what == what
    assert problem in fault.problem


def test_all_faults_of_readings_at_once():
    found = faults(fit_emitter, [100, "30 foo", -1], [2, -2, -3])
    assert [fault.what for fault in found] == ["pressure", "pressure", "flow"]
    assert found[2].count == 2
    assert found[2].where == "reading 2"
    assert "a plugged emitter has no curve" in only_fault(fit_emitter, PRESSURE, [1, 0, 2, 0]).mend


def test_nothing_is_extrapolated():
    assert flow_at(CURVE, 200.0) == pytest.approx(2 * np.sqrt(2))
    fault = only_fault(flow_at, CURVE, np.array([100.0, 49.0, 201.0]))
    assert (fault.count, fault.value) == (2, "pressure 49")
    assert fault.allowed == "50 to 200 kPa"
    assert "fit again" in fault.mend


def test_flow_keeps_labels_and_gaps():
    zones = xr.DataArray([100.0, np.nan], dims="zone", coords={"zone": ["a", "b"]})
    for exponent in (0.0, 0.5):
        curve = dataclasses.replace(CURVE, exponent=exponent)
        flow = flow_at(curve, zones)
        assert flow.dims == ("zone",)
        assert float(flow.sel(zone="a")) > 0
        assert np.isnan(flow.sel(zone="b"))  # a number to the power of 0 is 1, an unknown one is not


def test_a_rated_emitter():
    curve = rated_emitter("0.5 gph", "15 psi", 0.0, lowest_pressure="10 psi", highest_pressure="60 psi")
    assert flow_at(curve, 300.0) == pytest.approx(1.892706, abs=1e-6)
    assert (curve.pairs, np.isnan(curve.spread)) == (0, True)
    found = faults(rated_emitter, 0.0, 0.0, 1.2, lowest_pressure=50, highest_pressure=100)
    assert [fault.what for fault in found] == ["pressure", "exponent", "flow"]
    crossed = only_fault(rated_emitter, 2, 100, 0.5, lowest_pressure=100, highest_pressure=50)
    assert "is above highest_pressure" in crossed.problem
    described = {"exponent": 0.5, "lowest_pressure": 50.0, "highest_pressure": 100.0}
    for wrong in (0.0, -1.0, np.nan, np.inf, "2", None, True, [1.0, 2.0]):
        assert only_fault(EmitterCurve, coefficient=wrong, **described).what == "coefficient"


# ------------------------------------------------------------------------------ many emitters
def test_field_test():
    flows = [2.0, "2.1 L/h", 1.9, 0, 2.2, 2.0]
    table = field_uniformity(flows)
    assert table.columns.tolist() == ["quantity", "unit", "value", "low", "high", "quality"]
    assert table["quantity"].tolist() == [
        "mean flow",
        "coefficient of variation",
        "statistical uniformity",
        "emission uniformity",
    ]
    values = np.array([2.0, 2.1, 1.9, 0.0, 2.2, 2.0])
    assert table["value"][0] == pytest.approx(1.7)  # a plugged emitter counts
    assert table["value"][1] == pytest.approx(values.std(ddof=1) / values.mean())
    assert table["value"][3] == pytest.approx((0 + 0.5 * 1.9) / 1.5 / 1.7)
    assert table["quality"].tolist() == ["", "", "unacceptable", "unacceptable"]
    pd.testing.assert_frame_equal(table, field_uniformity(flows))
    assert not table.equals(field_uniformity(flows, seed=1))
    wide, narrow = (field_uniformity(flows, level=level) for level in (0.95, 0.5))
    assert (wide["high"] - wide["low"] >= narrow["high"] - narrow["low"]).all()


def test_weights_of_emitters():
    table = field_uniformity([2.0, 2.0, 1.0, 1.0], [3, 3, 1, 1], resamples=100)
    assert table["value"][0] == pytest.approx(14 / 8)
    assert table["value"][3] == pytest.approx(1.0 / (14 / 8))
    even = field_uniformity([2.0, 1.5, 1.0, 1.2], [5, 5, 5, 5])
    pd.testing.assert_frame_equal(even, field_uniformity([2.0, 1.5, 1.0, 1.2]))


def test_findings_of_a_field_test():
    found = emitter_findings([2.0, 0.0, 2.1, 2.0, 0.0])
    assert found["emitter"].tolist() == [2, 5, pd.NA]
    assert found["finding"].tolist() == ["plugged", "plugged", "only 5 emitters measured"]
    assert "18 or more" in found["why"].iloc[2]
    # 2.5 is 24 % above the mean of the ten that flow, 2.018; 1.62 is 20 % below it, and within the limit
    far = emitter_findings([2.5, 0.0, 1.62, *[2.0] * 8])
    assert far["finding"].tolist()[:2] == ["24 % above the mean of those that flow", "plugged"]
    assert far["emitter"].tolist() == [1, 2, pd.NA]
    assert far["why"].iloc[0] == "above 20 %: look at it (common practice, no source)"
    nothing = emitter_findings([2.0] * 18)
    assert nothing.empty
    assert nothing.dtypes.tolist() == found.dtypes.tolist()


@pytest.mark.parametrize("measure", [field_uniformity, emitter_findings, manufacturers_variation, pattern])
@pytest.mark.parametrize(
    ("flows", "problem"),
    [
        ([0.0, 0.0, 0.0, 0.0], "are all 0"),
        ([2.0, -1.0, 2.0, 2.0], "is outside its range"),
        ([2.0, np.nan, 2.0, 2.0], "is missing"),
        ([2.0, "2 kPa", 2.0, 2.0], "it is of another kind"),
        ([], "are too few"),
    ],
)
def test_flows_that_make_no_test(measure, flows, problem):
    fault = only_fault(measure, flows)
    assert fault.what == "flows"
    assert problem in fault.problem


def test_parameters_of_a_field_test():
    assert only_fault(field_uniformity, [2, 2, 2]).allowed == "4 or more"
    assert only_fault(manufacturers_variation, [2]).allowed == "2 or more"
    found = faults(field_uniformity, [2, 2, 2, 2], level=95, resamples=5, seed=-1)
    assert [fault.what for fault in found] == ["level", "seed", "resamples"]
    for wrong in ("even", {}, [1, 1, 1, "a lot"], [True] * 4):
        assert only_fault(field_uniformity, [2, 2, 2, 2], wrong).what == "weights"
    assert only_fault(field_uniformity, [2, 2, 2, 2], [1, 1]).what == "weights"


def test_emitters_of_a_plant_are_added_up():
    share, weight = pattern([2.0, 2.2, 0.0, 0.0, 2.1, 2.1], emitters_per_plant=2)
    np.testing.assert_allclose(share, [1.5, 0.0, 1.5])
    np.testing.assert_allclose(weight, 1 / 3)
    system = wb.System.from_emitters(
        [2.0, 2.2, 0.0, 0.0, 2.1, 2.1], emitters_per_plant=2, delivered_fraction=1, wetted_fraction=0.3
    )
    np.testing.assert_allclose(system.spot_share, share)
    fault = only_fault(pattern, [2.0, 2.1, 2.2], 2)
    assert (fault.value, fault.allowed) == ("3 emitters", "a multiple of 2")
    for wrong in (0, -1, 1.5, "2", True, None):
        assert only_fault(pattern, [2.0, 2.1], wrong).what == "emitters_per_plant"


def test_ratings_between_the_printed_classes():
    assert quality("statistical uniformity", 0.92) == "between good and excellent"
    assert quality("emission uniformity", 0.5) == "between unacceptable and poor"
    assert quality("statistical uniformity", -0.2) == "unacceptable"
    assert quality("statistical uniformity", 1.0) == "excellent"
    assert quality("variation, point source", 0.05) == "average"  # excellent is below it
    assert quality("variation, point source", 0.07) == "average"  # stands first
    assert quality("emission uniformity", float("nan")) == ""


def test_ratings_refuse():
    assert "give a fraction" in only_fault(quality, "variation, point source", 5.0).mend
    for wrong in ("0.9", None, True, [0.9, 0.8]):
        assert only_fault(quality, "emission uniformity", wrong).what == "value"
    assert "give a fraction" in only_fault(quality, "emission uniformity", 92.0).mend
    assert only_fault(quality, "variation, line source", -0.1).problem == "is negative"
    assert "emission uniformity" in only_fault(quality, "uniformity", 0.9).allowed


def test_uniformity_of_a_design_refuses():
    found = faults(emission_uniformity, -0.1, 0, 3.0, 2.0)
    assert [fault.what for fault in found] == ["cv", "emitters_per_plant", "lowest_flow"]
    assert only_fault(emission_uniformity, 0.05, 1, 0.0, 0.0).problem == "is 0"
    # Each lowest flow beside its own mean, where only one of them has labels.
    means = xr.DataArray([4.0, 6.0], dims="zone", coords={"zone": ["a", "b"]})
    assert emission_uniformity(0.0, 1, np.array([3.0, 5.0]), means).dims == ("zone",)
    fault = only_fault(emission_uniformity, 0.0, 1, np.array([3.0, 7.0]), means)
    assert (fault.where, fault.count, fault.value) == ("zone b", 1, "lowest_flow 3, 7, mean_flow 6")
    found = faults(statistical_uniformity, -0.1, 1.2, -0.2)
    assert [fault.what for fault in found] == ["hydraulic_variation", "emitter_variation", "exponent"]
    # Percentages: 5 % is 0.05.
    for name, make, args in (
        ("cv", emission_uniformity, (5.0, 1, 3.0, 4.0)),
        ("hydraulic_variation", statistical_uniformity, (10.0, 0.5, 0.05)),
        ("emitter_variation", statistical_uniformity, (0.1, 0.5, 5.0)),
    ):
        fault = only_fault(make, *args)
        assert (fault.what, fault.problem, fault.allowed) == (name, "is outside its range", "0 to 1")
        assert fault.mend == "it is a fraction: give 0.05, not 5"
    along = lateral_pressures(PIPE, CURVE, outlets=9, spacing=0.5, inlet_pressure=100.0)
    for wrong in (5.0, "500 %", None, True, np.nan, [0.1, 0.2]):
        assert only_fault(lateral_uniformity, along, CURVE, wrong).what == "emitter_variation"
    assert only_fault(lateral_uniformity, along, CURVE, 0.05, 1.5).what == "emitters_per_plant"
    short = along.drop(columns="pressure_kPa")
    assert only_fault(lateral_uniformity, short, CURVE, 0.05).problem == "has no pressure_kPa"


# ---------------------------------------------------------------------------------- laterals
def test_a_lateral_as_a_table():
    along = lateral_pressures(
        PIPE, CURVE, outlets=3, spacing=0.5, inlet_pressure="1 bar", first_distance=0.25
    )
    assert along.columns.tolist() == ["outlet", "distance_m", "pressure_kPa", "flow_L_per_h"]
    assert along["outlet"].tolist() == [0, 1, 2, 3]
    assert along["distance_m"].tolist() == [0.0, 0.25, 0.75, 1.25]
    assert along["pressure_kPa"][0] == pytest.approx(100.0, abs=1e-6)
    assert along["flow_L_per_h"][0] == pytest.approx(along["flow_L_per_h"][1:].sum())
    one = lateral_pressures(PIPE, CURVE, outlets=1, spacing=0.5, end_pressure=100)
    assert one["pressure_kPa"][1] == 100.0


def test_equal_emitters_without_variation_are_wholly_even():
    steady = dataclasses.replace(CURVE, exponent=0.0, coefficient=2.1)
    along = lateral_pressures(PIPE, steady, outlets=77, spacing=0.5, inlet_pressure=150.0)
    got = lateral_uniformity(along, steady, 0.0)
    assert (got.emission, got.statistical, got.flow_variation) == (1.0, 1.0, 0.0)
    assert got.pressure_variation > 0


def test_a_lateral_beyond_the_tested_pressures():
    fault = only_fault(lateral_pressures, PIPE, CURVE, outlets=400, spacing=0.5, inlet_pressure=100.0)
    assert "is not within the pressures" in fault.problem
    assert fault.where.startswith("emitter ")
    assert fault.allowed == "50 to 200 kPa"


def test_a_lateral_that_does_not_reach_its_end():
    fault = only_fault(
        lateral_pressures, PIPE, CURVE, outlets=100, spacing=1.0, inlet_pressure=100.0, slope=15.0
    )
    assert "does not bring water to the end" in fault.problem
    # 100 m at 15 % climb 14.83 m, 145.5 kPa; friction of what the lower emitters take comes on top.
    assert fault.allowed == "above 148.9 kPa"


def test_a_lateral_refuses():
    found = faults(lateral_pressures, PIPE, CURVE, outlets=0, spacing=-1, slope=200)
    assert [fault.what for fault in found] == [
        "spacing",
        "slope",
        "outlets",
        "inlet_pressure, end_pressure",
    ]
    both = {"inlet_pressure": 100, "end_pressure": 100}
    assert only_fault(lateral_pressures, PIPE, CURVE, outlets=2, spacing=1, **both).mend == "give one of them"
    for wrong in (True, 1.5, "3"):
        fault = only_fault(lateral_pressures, PIPE, CURVE, outlets=wrong, spacing=1, end_pressure=100)
        assert fault.what == "outlets"
    fault = only_fault(lateral_pressures, PIPE, CURVE, outlets=2, spacing=1, end_pressure="9 foo")
    assert fault.what == "end_pressure"


def test_a_pipe_and_its_formula():
    pipe = Pipe(diameter="16 mm", formula="swamee-jain", roughness="0.007 mm")
    assert pipe.diameter == pytest.approx(0.016)
    assert pipe.roughness == pytest.approx(7e-6)
    assert dataclasses.replace(pipe, temperature=10.0).roughness == pipe.roughness
    assert (
        only_fault(Pipe, diameter=0.016, formula="hazen-williams").problem == "is needed with hazen-williams"
    )
    assert only_fault(Pipe, diameter=0.016, formula="swamee-jain").what == "roughness"
    assert "does not belong to blasius" in only_fault(Pipe, diameter=0.016, coefficient=150).problem
    assert "swamee-jain" in only_fault(Pipe, diameter=0.016, formula="smooth").allowed
    rough = only_fault(Pipe, diameter=0.016, formula="swamee-jain", roughness=0.007)
    assert "give it in metres" in rough.mend
    found = faults(Pipe, diameter=0.0, formula="hazen-williams", coefficient=1.5, temperature="warm")
    assert [fault.what for fault in found] == ["diameter", "coefficient", "temperature"]


def test_friction_keeps_its_formula_inside_its_range():
    fault = only_fault(friction_loss, PIPE, np.array([1.0, 5.0]), 10.0)
    assert "beyond the range of Blasius" in fault.problem
    assert "swamee-jain" in fault.mend
    found = faults(friction_loss, PIPE, -1.0, -10.0)
    assert [fault.what for fault in found] == ["flow", "length"]
    assert friction_loss(PIPE, 0.0, 10.0) == 0.0
    assert np.isnan(friction_loss(PIPE, np.nan, 10.0))
    pipes = xr.DataArray([0.5, 1.0], dims="field", coords={"field": ["a", "b"]})
    assert friction_loss(PIPE, pipes, 10.0).dims == ("field",)
    found = faults(christiansen_factor, 0, 3.0)
    assert [fault.what for fault in found] == ["outlets", "exponent"]


# ------------------------------------------------------------------------------- by the plant
def test_plants_on_labels():
    rows = xr.DataArray([3.0, 4.0], dims="field", coords={"field": ["a", "b"]})
    assert litres_per_plant(5.0, 2.0, rows).values.tolist() == [30.0, 40.0]
    assert hours_for(rows, 4, 2.0, 1.0).dims == ("field",)
    assert wetted_fraction(2, 0.5, 1.0, 2.0, rows).sel(field="b") == pytest.approx(1 / 8)
    assert emitters_per_plant(0.25, 0.75, 1.0, 3.0, rows).values.tolist() == [3.0, 4.0]
    assert wetted_storage(rows * 30, 0.3, 0.5).dims == ("field",)
    assert np.isnan(litres_per_plant(np.nan, 2.0, 3.0))


def test_more_ground_than_there_is():
    fault = only_fault(wetted_fraction, 10, 0.8, 1.0, 1.0, 2.0)
    assert (fault.what, fault.value) == ("wetted fraction", "wetted fraction 4")
    assert "take 1" in fault.mend
    assert wetted_fraction(5, 0.8, 1.0, 2.0, 2.0) == 1.0


@pytest.mark.parametrize(
    ("make", "args", "names"),
    [
        (litres_per_plant, (-1, 0, -2), ["depth", "plant_spacing", "row_spacing"]),
        (hours_for, (-1, 0, 0.0, 90), ["litres", "emitters_per_plant", "emitter_flow", "efficiency"]),
        (wetted_fraction, (0, 0, 1, 1, 1), ["emitters_per_plant", "emitter_spacing"]),
        (emitters_per_plant, (0, 1, 0, 1, 1), ["wetted_fraction", "wetted_width"]),
        (wetted_storage, (-1, 30, 1.5), ["available_water", "wetted_volume", "allowable_depletion"]),
    ],
)
def test_numbers_outside_their_range(make, args, names):
    assert [fault.what for fault in faults(make, *args)] == names


# ----------------------------------------------------------- formulas, odd things
GOOD = {
    emission_uniformity: (0.05, 2, 3.0, 4.0),
    statistical_uniformity: (0.1, 0.5, 0.06),
    litres_per_plant: (5.0, 2.0, 3.0),
    hours_for: (30.0, 2, 2.0, 0.9),
    emitters_per_plant: (0.3, 0.5, 1.0, 3.0, 4.0),
    wetted_fraction: (2, 0.5, 1.0, 3.0, 4.0),
    wetted_storage: (100.0, 0.3, 0.5),
    christiansen_factor: (10, 1.75),
}
formulas = pytest.mark.parametrize("formula", GOOD, ids=lambda formula: formula.__name__)


@formulas
@pytest.mark.parametrize("odd", ODD, ids=repr)
def test_what_is_not_a_number_is_refused(formula, odd):
    check_not_a_number(formula, GOOD[formula], odd)


@formulas
def test_unknown_stays_unknown(formula):
    for place in range(len(GOOD[formula])):
        given = list(GOOD[formula])
        given[place] = np.array([np.nan, given[place]])
        assert np.isnan(formula(*given)).tolist() == [True, False]


@formulas
def test_a_list_is_an_array_and_labels_are_not_dropped(formula):
    check_lists_and_labels(formula, GOOD[formula])


@pytest.mark.parametrize(
    ("make", "args", "what"),
    [
        (flow_at, (None, 100.0), "curve"),
        (flow_at, (CURVE, "much"), "pressure"),
        (friction_loss, ("16 mm", 1.0, 10.0), "pipe"),
        (friction_loss, (PIPE, "1 kPa", 10.0), "flow"),
        (friction_loss, (PIPE, 1.0, None), "length"),
        (reynolds_number, (PIPE, [True]), "flow"),
        (viscosity, (80.0,), "temperature"),
        (lateral_uniformity, (None, CURVE, 0.05), "along"),
        (lateral_uniformity, (pd.DataFrame(), 0.5, 0.05), "curve"),
    ],
)
def test_what_cannot_be_read_is_refused(make, args, what):
    assert only_fault(make, *args).what == what


def test_a_lateral_of_odd_things():
    given = {"pipe": PIPE, "curve": CURVE, "outlets": 5, "spacing": 0.5, "inlet_pressure": 100.0}
    for name in given:
        for odd in ("much", None, True, [1.0, 2.0], np.nan):
            if (name, odd) != ("inlet_pressure", None):
                assert name in only_fault(lateral_pressures, **dict(given, **{name: odd})).what
    for wrong in (True, "warm", np.nan, None, [10.0, 20.0]):
        assert only_fault(Pipe, diameter=0.016, temperature=wrong).what == "temperature"
