"""Spray loss, nozzles, rates, intake, sets and pumping: what goes in, what comes out, what is refused in which words."""

import dataclasses
import inspect
import json

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from tests.contract.formulas import ODD, check_lists_and_labels, check_not_a_number
from waterbudget.errors import InputError
from waterbudget.soil import intake
from waterbudget.soil.intake import basic_intake, family_depth, greatest_rate, longest_set
from waterbudget.system import nozzles, pumping, rates, sets
from waterbudget.system.spray import spray_loss, spray_regressions

WIND = xr.DataArray(
    [1.0, 7.0, 5.0, 8.0], dims="time", coords={"time": pd.date_range("2024-05-01", periods=4)}, name="wind"
)


def faults(make, *args, **kwargs):
    with pytest.raises(InputError) as caught:
        make(*args, **kwargs)
    return caught.value.faults


def only_fault(make, *args, **kwargs):
    (fault,) = faults(make, *args, **kwargs)
    return fault


@pytest.mark.parametrize(
    ("make", "what"),
    [
        (lambda: greatest_rate("coarse sand", "2", "bare"), "slope"),
        (lambda: greatest_rate("coarse sand", np.nan, "bare"), "slope"),
        (lambda: family_depth(0.5, "long"), "hours"),
        (lambda: longest_set(5, 12, None, 1), "basic_intake"),
        (lambda: longest_set(5, 12, 3, True), "decay"),
        (lambda: longest_set([5, 6], [12, 12, 12], 3, 1), "initial_intake"),
    ],
)
def test_what_is_no_number_of_the_intake_is_named(make, what):
    assert what in only_fault(make).what


def test_the_intake_takes_lists():
    assert longest_set([5, 6], 12, 3, 1).shape == family_depth(0.5, [1, 2]).shape == (2,)


# ------------------------------------------------------------------------------ spray loss
def test_spray_loss_keeps_the_days_and_feeds_a_system():
    wind = WIND.clip(max=4.0)
    loss = spray_loss("Playan 2005 E14", wind, humidity=50.0)
    assert loss.dims == ("time",)
    assert loss.indexes["time"].equals(wind.indexes["time"])
    np.testing.assert_allclose(loss, (26.1 + 1.64 * wind - 0.274 * 50.0) / 100.0)
    assert (loss.attrs["units"], loss.attrs["doubts"]) == ("1", "")
    assert "equation E14" in loss.attrs["source"]
    xr.testing.assert_allclose(wb.System(spray_fraction=loss).spray_fraction, loss)
    plain = spray_loss("Playan 2005 E14", 3.0, humidity=50.0)
    assert plain.dims == ()
    assert wb.System(spray_fraction=plain).spray_fraction == pytest.approx(0.1732)


def test_source_and_doubts_of_a_spray_loss_reach_the_result():
    days = pd.date_range("2024-05-01", periods=40, name="time")
    wind = xr.DataArray(np.linspace(1.0, 9.0, 40), dims="time", coords={"time": days})
    sky = xr.Dataset(
        {"et_ref": ("time", np.full(40, 5.0), {"surface": "short"}), "rain": ("time", np.zeros(40))},
        coords={"time": days},
    )
    crop = wb.Crop(kc=1.0, root_depth=1.0, depletion_fraction=0.5)
    soil = wb.Soil(available_water=0.15)
    windy = wb.System(spray_fraction=spray_loss("Playan 2005 E23", wind, beyond="hold"))
    calm = wb.System(spray_fraction=spray_loss("Playan 2005 E4", wind.clip(max=3.0)))
    both = wb.concat({"windy": windy, "calm": calm}, dim="system")
    later = dataclasses.replace(both, area=3.0)  # remembers each
    season = wb.simulate(sky, crop, soil, later, wb.Rule())
    told = json.loads(season.attrs["sources"])["system"]["spray_fraction"]["of"]
    assert "equation E23" in told["windy"]
    assert "equation E4" in told["calm"]
    (doubt,) = [text for text in json.loads(season.attrs["assumptions"]) if text.startswith("spray loss")]
    assert doubt.startswith(
        "spray loss: windy: wind outside 0.5 to 6 m s-1, held at its end: 15 values, first at"
    )
    changed = dataclasses.replace(windy, spray_fraction=0.1)
    assert not [t for t in assumptions(wb.simulate(sky, crop, soil, changed)) if t.startswith("spray loss")]


def assumptions(season):
    return json.loads(season.attrs["assumptions"])


def test_spray_loss_on_stations_and_days():
    humidity = xr.DataArray([40.0, 60.0], dims="station", coords={"station": ["north", "south"]})
    loss = spray_loss("Playan 2005 E5", WIND.clip(max=4.0), humidity=humidity)
    assert set(loss.dims) == {"time", "station"}
    np.testing.assert_allclose(loss.sel(station="south"), (38.6 - 0.407 * 60.0) / 100.0)


def test_wind_beyond_the_range_is_refused():
    fault = only_fault(spray_loss, "Playan 2005 E14", WIND, humidity=50.0)
    assert fault.what.startswith("wind, solid set, day and night, wind and humidity")
    assert fault.problem == "is outside the range of the regression"
    assert (fault.where, fault.value, fault.count) == ("2024-05-02", "7 m s-1", 2)
    assert fault.allowed == "0.5 to 6 m s-1"
    assert "beyond='hold'" in fault.mend
    # Both variables at once, and each by its own range.
    both = faults(spray_loss, "Playan 2005 E14", 9.0, humidity=95.0)
    assert [fault.value for fault in both] == ["9 m s-1", "95 %"]


def test_night_regressions_do_not_explode():
    # U^9.2 at 4 m/s would be 2000 % and more.
    fault = only_fault(spray_loss, "Playan 2005 E26", 4.0)
    assert fault.allowed == "0.5 to 2 m s-1"


def test_held_values_are_told():
    loss = spray_loss("Playan 2005 E14", WIND, humidity=50.0, beyond="hold")
    edge = (26.1 + 1.64 * 6.0 - 0.274 * 50.0) / 100.0
    np.testing.assert_allclose(loss.values[[1, 3]], edge)
    held, windy = loss.attrs["doubts"].split("; ")
    assert held == ("wind outside 0.5 to 6 m s-1, held at its end: 2 values, first at 2024-05-02: 7 m s-1")
    assert windy.startswith("wind above 4 m s-1, where sprinkling is better stopped (Yacoubi et al. (2012))")
    assert windy.endswith("3 values, first at 2024-05-02: 7 m s-1")
    assert list(WIND.values) == [1.0, 7.0, 5.0, 8.0]  # what was given is not changed


def test_losses_beyond_anything_measured_are_told():
    given = {"nozzle_diameter": 0.0035, "vapour_pressure_deficit": 2.5, "pressure": 450.0}
    loss = spray_loss("Trimmer 1987", 4.0, **given)
    assert float(loss) > 0.488
    assert loss.attrs["doubts"].startswith(
        "loss above the greatest measured, 48.8 % (Sarwar, Peters and Mohamed"
    )


def test_unknown_wind_stays_unknown():
    loss = spray_loss("Playan 2005 E4", xr.DataArray([np.nan, 2.0], dims="time"))
    assert np.isnan(loss.values).tolist() == [True, False]
    assert np.isnan(spray_loss("Playan 2005 E4", float("nan"), beyond="hold"))


def test_variables_of_a_regression():
    assert only_fault(spray_loss, "Playan 2005 E14", 3.0).problem == "is missing"
    fault = only_fault(spray_loss, "Playan 2005 E4", 3.0, humidity=50.0)
    assert (fault.what, fault.problem) == ("humidity", "is not in this regression")
    assert fault.allowed == "5.2 + 2.9 U"
    assert only_fault(spray_loss, "Playan 2005 E5", None, humidity=50.0).what == "wind"


def test_impossible_values_are_refused_even_when_held():
    assert only_fault(spray_loss, "Playan 2005 E4", -1.0, beyond="hold").value == "-1 m s-1"
    assert only_fault(spray_loss, "Playan 2005 E14", 3.0, humidity=120.0, beyond="hold").value == "120 %"
    assert only_fault(spray_loss, "Playan 2005 E4", 3.0, beyond="clip").what == "beyond"


def test_diameters_in_millimetres_are_not_guessed():
    given = {"vapour_pressure_deficit": 1.5, "pressure": 300.0}
    fault = only_fault(spray_loss, "Trimmer 1987", 3.0, nozzle_diameter=4.4, **given)
    assert (fault.value, fault.allowed) == ("4.4 m", "0.0035 to 0.008 m")


def test_different_days_are_not_cut_to_the_common_ones():
    humidity = xr.full_like(WIND.isel(time=slice(2)), 50.0)
    fault = only_fault(spray_loss, "Playan 2005 E14", WIND.clip(max=4.0), humidity=humidity)
    assert fault.problem == "have different labels"


def test_names_of_regressions():
    fault = only_fault(spray_loss, "Playan 2005", 3.0)
    assert fault.problem == "the name fits 28 entries of the handbook"
    assert only_fault(spray_loss, "moonlight", 3.0).problem == "the handbook has no entry of this name"
    listed = spray_regressions()
    for name in listed["name"]:
        assert listed["name"].tolist().count(name) == 1
    assert list(listed) == ["name", "system", "period", "formula", "range", "range_source", "source"]
    row = listed.set_index("name").filter(like="Tarjuelo", axis=0).iloc[0]
    assert row["formula"] == "0.844 U + 7.38 VPD^0.5 + 0.007 P"
    assert row["range"] == "U 0.5 to 6, VPD 0.3 to 3, P 250 to 450"
    assert (listed["range_source"] == "from memory, with caution").all()


# ----------------------------------------------------------- formulas, all kinds of numbers
GOOD = {
    nozzles.nozzle_flow: (0.004, 300.0, 0.95),
    nozzles.implied_coefficient: (1.2, 0.005, 300.0),
    nozzles.flow_at_pressure: (1.2, 300.0, 250.0, 0.5),
    nozzles.worn_flow_ratio: (0.004, 0.0042),
    rates.application_rate: (1.2, 12.0, 18.0),
    rates.application_rate_of_flow: (90.0, 12.0),
    rates.pivot_depth: (200.0, 50.0, 48.0),
    rates.pivot_speed: (390.0, 48.0),
    rates.pivot_peak_rate: (200.0, 400.0, 12.0, 350.0),
    rates.travelling_depth: (60.0, 80.0, 25.0),
    rates.travelling_speed: (60.0, 80.0, 30.0),
    sets.set_hours: (40.0, 8.0),
    sets.sets_per_day: (11.0, 1.0, 24.0),
    sets.days_to_cover: (15.0, 2.0),
    sets.required_flow: (6.0, 12.0, 20.0, 0.8),
    pumping.total_head: (20.0, 300.0, 5.0),
    pumping.pumping_power: (90.0, 20.0, 300.0, 0.6, 5.0),
    pumping.pumping_energy: (4800.0, 20.0, 300.0, 0.6, 5.0),
    pumping.pumping_cost: (100.0, 0.2),
    intake.horton_rate: (2.0, 60.0, 8.0, 3.0),
    intake.horton_depth: (2.0, 60.0, 8.0, 3.0),
    intake.longest_set: (25.0, 60.0, 8.0, 3.0),
}
names = pytest.mark.parametrize("formula", GOOD, ids=lambda formula: formula.__name__)


def values_of(result):
    return np.asarray(result, dtype=float)


@names
def test_numbers_arrays_and_labelled_arrays_agree(formula):
    plain = formula(*GOOD[formula])
    assert np.ndim(plain) == 0
    assert float(plain) > 0
    for place in range(len(GOOD[formula])):
        given = list(GOOD[formula])
        given[place] = np.full(3, given[place])
        np.testing.assert_array_equal(formula(*given), np.full(3, plain))
        labelled = xr.DataArray(given[place], dims="field", coords={"field": ["a", "b", "c"]})
        given[place] = labelled
        got = formula(*given)
        assert isinstance(got, xr.DataArray)
        assert got.indexes["field"].equals(labelled.indexes["field"])
        np.testing.assert_array_equal(got, np.full(3, plain))


@names
def test_unknown_stays_unknown(formula):
    for place in range(len(GOOD[formula])):
        given = list(GOOD[formula])
        given[place] = np.array([np.nan, given[place]])
        assert np.isnan(values_of(formula(*given))).tolist() == [True, False]


@names
def test_numbers_below_zero_are_refused(formula):
    for place, name in enumerate(list(inspect.signature(formula).parameters)[: len(GOOD[formula])]):
        given = list(GOOD[formula])
        given[place] = np.array([given[place], -1.0])
        found = faults(formula, *given)
        assert any(name in fault.what and fault.count == 1 for fault in found), (name, found)


# Those of the soil have checks of their own.
of_system = pytest.mark.parametrize(
    "formula", [formula for formula in GOOD if "system" in formula.__module__], ids=lambda one: one.__name__
)


@of_system
@pytest.mark.parametrize("odd", ODD, ids=repr)
def test_what_is_not_a_number_is_refused(formula, odd):
    check_not_a_number(formula, GOOD[formula], odd)


@of_system
def test_a_list_is_an_array_and_labels_are_not_dropped(formula):
    check_lists_and_labels(formula, GOOD[formula])


def test_flow_at_an_unknown_pressure_is_unknown():
    # A number to the power of 0, and 1 to any power, are 1; the flow is not known all the same.
    assert np.isnan(nozzles.flow_at_pressure(1.2, 300.0, np.nan, 0.0))
    assert np.isnan(nozzles.flow_at_pressure(1.2, 300.0, 300.0, np.nan))
    assert nozzles.flow_at_pressure(1.2, 300.0, 250.0, 0.0) == 1.2


@pytest.mark.parametrize("odd", [True, [1.0, "calm"], np.array(["calm"])])
def test_wind_that_is_not_a_number(odd):
    fault = only_fault(spray_loss, "Playan 2005 E4", odd)
    assert fault.what == "wind"
    assert "not a number" in fault.problem
    assert only_fault(spray_loss, "Playan 2005 E14", 3.0, humidity=odd).what == "humidity"
    assert only_fault(spray_loss, "Playan 2005 E4", 3.0, beyond=odd).what == "beyond"


@pytest.mark.parametrize(
    ("formula", "place", "value"),
    [
        (sets.set_hours, 1, 0.0),
        (sets.sets_per_day, 2, 25.0),
        (sets.sets_per_day, 2, 0.0),
        (sets.required_flow, 3, 0.0),
        (sets.required_flow, 3, 80.0),
        (sets.required_flow, 0, np.inf),
        (pumping.pumping_energy, 3, 0.0),
        (pumping.pumping_power, 3, 1.1),
        (rates.application_rate, 0, 0.0),
        (rates.application_rate, 1, 0.0),
        (rates.pivot_peak_rate, 3, 401.0),
        (rates.travelling_depth, 2, 0.0),
        (nozzles.nozzle_flow, 2, 1.2),
        (nozzles.worn_flow_ratio, 1, 0.0039),
        (nozzles.flow_at_pressure, 3, 1.5),
        (intake.longest_set, 1, 7.0),
        (intake.horton_rate, 3, 0.0),
        (sets.days_to_cover, 1, 0.0),
    ],
)
def test_numbers_that_cannot_be(formula, place, value):
    given = list(GOOD[formula])
    given[place] = value
    fault = only_fault(formula, *given)
    assert f"{value:g}" in fault.value


def test_all_faults_at_once():
    assert len(faults(nozzles.nozzle_flow, -1.0, 0.0, 2.0)) == 3
    assert len(faults(pumping.pumping_energy, -1.0, -1.0, -1.0, 0.0, -1.0)) == 5
    assert len(faults(sets.pump_keeps_up, 0.0, -1.0, 0.0, 25.0, 0.0)) == 5


def test_the_label_at_fault_is_named():
    efficiency = xr.DataArray([0.6, 0.0], dims="field", coords={"field": ["north", "south"]})
    fault = only_fault(pumping.pumping_energy, 100.0, 20.0, 300.0, efficiency)
    assert fault.where == "field south"


def test_pivot_pattern():
    assert only_fault(rates.pivot_peak_rate, 200.0, 400.0, 12.0, 350.0, "round").what == "pattern"


# ------------------------------------------------------------------------------ intake, sets
def test_longest_set_at_its_ends():
    assert longest_set(8.0, 60.0, 8.0, 3.0) == np.inf
    assert longest_set(7.0, 60.0, 8.0, 3.0) == np.inf
    assert longest_set(60.0, 60.0, 8.0, 3.0) == 0.0
    assert longest_set(61.0, 60.0, 8.0, 3.0) == 0.0
    # Constant intake: any time, or none.
    got = longest_set(np.array([7.0, 8.0, 8.5]), 8.0, 8.0, 3.0)
    assert got.tolist() == [np.inf, np.inf, 0.0]


def test_cycles():
    few = sets.cycles(15.0, 40.0, np.array([0.375, 0.125, 0.1, np.inf]), soak=0.5)
    assert few.number.tolist() == [1, 3, 4, 1]
    np.testing.assert_allclose(few.hours, [0.375, 0.125, 0.09375, 0.375])
    np.testing.assert_allclose(few.elapsed, [0.375, 1.375, 1.875, 0.375])
    assert sets.cycles(0.0, 40.0, 0.1, soak=1.0) == (0, 0, 0)
    assert np.isnan(sets.cycles(np.nan, 40.0, 0.1).number)
    assert np.isnan(sets.cycles(15.0, 40.0, np.nan).hours)
    field = xr.DataArray([15.0, 30.0], dims="field", coords={"field": ["a", "b"]})
    assert sets.cycles(field, 40.0, 0.1).number.sel(field="b") == 8


def test_no_cycle_is_short_enough():
    fault = only_fault(sets.cycles, 15.0, 70.0, longest_set(70.0, 60.0, 8.0, 3.0))
    assert (fault.what, fault.value, fault.allowed) == ("longest", "longest 0", "above 0 h")
    assert "lower the application rate" in fault.mend


def test_sets_that_do_not_fit_a_day():
    assert sets.sets_per_day(23.5, 1.0) == 0
    assert sets.sets_per_day(0.1, 0.0, 0.3) == 3  # 0.3 / 0.1 is 2.9999999999999996


def test_pump_against_peak_need():
    check = sets.pump_keeps_up(np.array([30.0, 60.0]), 6.0, 12.0, 20.0, 0.8)
    np.testing.assert_allclose(check.depth, [4.0, 8.0])
    np.testing.assert_allclose(check.hours, [30.0, 15.0])
    assert check.keeps_up.tolist() == [False, True]


def test_no_verdict_on_a_pump_without_its_numbers():
    given = (60.0, 6.0, 12.0, 20.0, 0.8)
    for place, name in enumerate(("flow", "peak_need", "area", "hours_per_day", "efficiency")):
        unknown = [np.nan if i == place else value for i, value in enumerate(given)]
        fault = only_fault(sets.pump_keeps_up, *unknown)
        assert (fault.what, fault.problem) == (name, "is not known")
    needs = xr.DataArray([6.0, np.nan], dims="field", coords={"field": ["north", "south"]})
    fault = only_fault(sets.pump_keeps_up, 60.0, needs, 12.0, 20.0, 0.8)
    assert (fault.where, fault.count) == ("field south", 1)
    assert np.isnan(sets.required_flow(needs, 12.0, 20.0, 0.8)).values.tolist() == [False, True]


def test_families():
    allowed = only_fault(family_depth, 0.55, 1.0).allowed
    assert "0.5, 0.6" in allowed
    assert only_fault(family_depth, 0.5, -1.0).what == "hours"
    assert len(faults(intake.longest_set_of_family, 0.0, 9.0)) == 2
    got = family_depth(0.5, xr.DataArray([0.0, 2.0], dims="set"))
    np.testing.assert_allclose(got, [6.985, 49.93], atol=0.005)


def test_greatest_rate_looked_up():
    assert greatest_rate("silt loam", 5.0, "bare") == pytest.approx(
        12.7
    )  # the end belongs to the flatter class
    assert greatest_rate("silt loam", 5.1, "bare") == pytest.approx(0.4 * 25.4)
    assert greatest_rate("clay loam", 12.0, "covered") == pytest.approx(0.12 * 25.4)
    assert [fault.what for fault in faults(greatest_rate, "coarse sand", 13.0, "mulched")] == [
        "ground",
        "slope",
    ]
    assert only_fault(greatest_rate, "coarse sand", float("nan"), "bare").what == "slope"
    assert only_fault(greatest_rate, "loam", 3.0, "bare").problem == "the name fits 3 entries of the handbook"


def test_basic_intake_is_of_whole_names():
    low, high, source = basic_intake("Sandy loam")
    assert (low, high) == pytest.approx((8.89, 12.7))
    assert "Nebraska" in source
    for other in ("loam", "sand", "silty clay"):  # parts of names in the table, but other textures
        assert only_fault(basic_intake, other).problem == "the handbook has no rate for it"


def test_a_refused_intake_says_what_the_handbook_has():
    fault = only_fault(basic_intake, "clay loam")
    assert fault.allowed == "Fine sand, Sandy loam, Silt loam, Clay"
    assert "greatest_rate tells what sprinklers may apply on 'Heavy clay or clay loam'" in fault.mend
    assert greatest_rate("clay loam", 4.0, "covered") == pytest.approx(0.2 * 25.4)
    for other in ("loam", "silty clay", None):  # loam is part of three names, the others of none
        assert "greatest_rate" not in only_fault(basic_intake, other).mend
