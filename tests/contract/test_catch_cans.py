"""Catch cans, distributions and overlap: what is taken, kept, reported, and refused in which words."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget import handbook
from waterbudget.errors import InputError
from waterbudget.handbook.classes import rate
from waterbudget.system.catch_cans import CatchCans, depth_from_volume
from waterbudget.system.distribution import (
    adequacy,
    below_zero,
    deep_percolation,
    deficit,
    distribution_efficiency,
    fit,
    quantile_shares,
    required_depth_factor,
)
from waterbudget.system.overlap import overlap_lateral, overlap_radial
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

FIVE = [10.0, 12.0, 11.0, 9.0, 8.0]


def faults(make, *args, **kwargs):
    with pytest.raises(InputError) as caught:
        make(*args, **kwargs)
    return caught.value.faults


def only_fault(make, *args, **kwargs):
    (fault,) = faults(make, *args, **kwargs)
    return fault


# ------------------------------------------------------------------------------ what is taken
@pytest.mark.parametrize(
    "depths",
    [
        tuple(FIVE),
        np.array(FIVE),
        pd.Series(FIVE, index=list("abcde")),
        xr.DataArray(FIVE, dims="can"),
        [10, "12 mm", "1.1 cm", 9, 8.0],
    ],
)
def test_one_row_of_numbers(depths):
    cans = CatchCans(depths=depths)
    assert cans.depth.tolist() == FIVE
    assert cans.mean == 10.0
    assert cans.weights.tolist() == [0.2] * 5


def test_volumes():
    # 4 in: 81.073 mL are 10 mm
    cans = CatchCans(volumes=[81.073, 81.073, "0.081073 L", 162.146], can_diameter="4 in", duration="30 min")
    np.testing.assert_allclose(cans.depth, [10, 10, 10, 20], atol=1e-3)
    assert cans.duration == 0.5
    assert cans.can_diameter == pytest.approx(0.1016)
    assert cans.depths is None


def test_canonical_form_can_be_given_again_and_not_changed():
    cans = CatchCans(depths=FIVE, distance=[1, 2, 3, 4, 5], note=[None, None, None, None, "spilled"])
    again = dataclasses.replace(cans, duration=2.0)
    assert again.depth.tolist() == FIVE[:4]
    assert again.note == cans.note
    with pytest.raises(ValueError, match="read-only"):
        cans.depths[0] = 0.0
    given = np.array(FIVE)
    CatchCans(depths=given)
    given[0] = 1.0  # the user's own array stays the user's


def test_rings_of_a_pivot():
    cans = CatchCans(depths=FIVE, distance=[50, 100, 150, 200, 250])
    np.testing.assert_allclose(cans.weights, np.array([1, 2, 3, 4, 5]) / 15, atol=1e-15)
    # Unequal: midpoints 10 to 30, 30 to 60, 60 to 90, by hand; order does not matter, one distance is shared.
    distance = [80, 20, 40, 80]
    area = np.array([(90**2 - 60**2) / 2, 30**2 - 10**2, 60**2 - 30**2, (90**2 - 60**2) / 2])
    # outermost: 80 + 20; innermost: 20 - 10
    area[[0, 3]] = (100**2 - 60**2) / 2
    np.testing.assert_allclose(
        CatchCans(depths=[1, 2, 3, 4], distance=distance).weights, area / area.sum(), atol=1e-15
    )
    # A can at the pivot point stands for the disk around it.
    weights = CatchCans(depths=[1, 2, 3, 4], distance=[0, 10, 20, 30]).weights
    assert weights[0] == pytest.approx(5**2 / 35**2)


def test_a_spilled_can_leaves_with_its_ring():
    whole = CatchCans(depths=FIVE, distance=[50, 100, 150, 200, 250])
    note = [None, None, "spilled", None, None]
    less = CatchCans(depths=[10, 12, None, 9, 8], distance=[50, 100, 150, 200, 250], note=note)
    kept = [0, 1, 3, 4]
    np.testing.assert_allclose(less.weights, whole.weights[kept] / whole.weights[kept].sum(), atol=1e-15)
    assert less.depth.tolist() == [10, 12, 9, 8]
    assert less.pattern()[0].shape == (4,)


# --------------------------------------------------------------------------- what is reported
def test_findings_keep_every_can_that_is_odd():
    cans = CatchCans(
        depths=[10, 10, 0, 10, float("nan"), 10, 14, 10],
        note=[None, "out of line", None, None, "spilled", None, None, None],
    )
    found = cans.findings()
    assert found.columns.tolist() == ["can", "depth_mm", "finding", "why"]
    assert found["can"].tolist() == [2, 3, 5, 7, pd.NA]
    assert found["finding"].tolist() == [
        "out of line",
        "caught nothing",
        "spilled",
        "56 % above the mean",
        "only 6 usable cans",
    ]
    np.testing.assert_array_equal(found["depth_mm"], [10, 0, np.nan, 14, np.nan])
    assert found["why"].iloc[0] == "as noted; left out of the statistics"
    assert cans.mean == 9.0  # the zero counts


def test_nothing_to_find():
    found = CatchCans(depths=[10, 10.5, 9.5, 10] * 4).findings()
    assert found.empty
    assert found.dtypes.astype(str).tolist() == ["Int64", "float64", "object", "object"]


def test_few_cans_are_told():
    few, enough = CatchCans(depths=[10.0] * 14 + [9.0]), CatchCans(depths=[10.0] * 15 + [9.0])
    row = few.findings().iloc[-1]
    assert (row["finding"], row["can"]) == ("only 15 usable cans", pd.NA)
    assert row["why"].startswith("16 or more are usual (common practice, no source)")
    assert few.reading().endswith("Only 15 usable cans: " + row["why"] + ".")
    assert enough.findings().empty
    assert "usable" not in enough.reading()


def test_summary():
    cans = CatchCans(depths=FIVE, duration=0.5)
    metric, us = cans.summary(), cans.summary("us")
    assert metric.columns.tolist() == ["quantity", "unit", "value", "low", "high"]
    assert metric["unit"].tolist() == ["mm", "mm/h", "1", "1", "1", "1", "1"]
    assert us["unit"].tolist()[:2] == ["in", "in/h"]
    np.testing.assert_allclose(metric["value"][:2], [10, 20])
    np.testing.assert_allclose(
        us.loc[:1, ["value", "low", "high"]] * 25.4, metric.loc[:1, ["value", "low", "high"]]
    )
    pd.testing.assert_frame_equal(us[2:], metric[2:])
    assert metric.equals(cans.summary(seed=0))
    assert not metric.equals(cans.summary(seed=1))
    rate = CatchCans(depths=FIVE).summary().loc[1]
    assert rate[["value", "low", "high"]].isna().all()


def test_summary_of_dry_cans():
    # A drawn test in which no can caught anything has no uniformity; the mean has its interval all the same.
    summary = CatchCans(depths=[0, 0, 0, 8]).summary().set_index("quantity")
    assert summary.loc["mean depth", ["low", "high"]].notna().all()
    assert summary.loc["Christiansen uniformity", ["low", "high"]].isna().all()
    assert summary.loc["scheduling coefficient", "value"] == np.inf


def test_distribution_of_cans():
    table = CatchCans(depths=[*FIVE, 10.5, 0.0]).distribution(resamples=50)
    assert sorted(table["kind"]) == ["gamma", "lognormal", "normal", "uniform"]
    assert table["ks_statistic"].is_monotonic_increasing
    assert table["p_value"].between(0, 1).all()
    again = CatchCans(depths=[*FIVE, 10.5, 0.0]).distribution(resamples=50)
    assert table.equals(again)
    # A pivot's rings count.
    ring = CatchCans(depths=FIVE, distance=[1, 2, 3, 4, 5]).distribution(resamples=50)
    assert ring["mean_mm"].iloc[0] == pytest.approx(np.average(FIVE, weights=[1, 2, 3, 4, 5]))


def test_uniformity_of_many_tests_at_once():
    rows = np.array([FIVE, [1, 1, 1, 1, 1], [0, 0, 0, 0, 0], [1, 2, np.nan, 4, 5]])
    got = christiansen_uniformity(rows)
    assert got[0] == christiansen_uniformity(FIVE)
    assert got[1] == 1.0
    assert np.isnan(got[2:]).all()  # nothing caught, and a reading that is missing
    assert np.isnan(low_quarter_uniformity(rows)[2:]).all()
    assert scheduling_coefficient([0, 0, 4, 4]) == np.inf


# ---------------------------------------------------------------------------- what is refused
@pytest.mark.parametrize(
    ("given", "what", "words"),
    [
        ({}, "depths, volumes", "both or none"),
        ({"depths": FIVE, "volumes": FIVE, "can_diameter": 0.1}, "depths, volumes", "both or none"),
        ({"volumes": FIVE}, "volumes", "need can_diameter"),
        ({"depths": FIVE, "can_diameter": 0.1}, "can_diameter", "means nothing beside depths"),
        ({"depths": [1, 2, 3]}, "catch cans", "are too few"),
        ({"depths": FIVE, "note": ["spilled", "spilled", None, None, None]}, "catch cans", "3 usable of 5"),
        ({"depths": [0, 0, 0, 0]}, "catch cans", "caught nothing at all"),
        ({"depths": [0, 0, 0, 0, 5], "note": [None] * 4 + ["out of line"]}, "catch cans", "caught nothing"),
        ({"depths": [10, -2, 11, -1, 9]}, "depths", "(2 values); first at can 2; found -2"),
        ({"depths": [10, 12, np.nan, 9, None]}, "depths", "without a reading (2 values); first at can 3"),
        ({"depths": [10, 12, "deep", 9]}, "depths", "first at can 3"),
        ({"depths": [10, 12, "3 h", 9]}, "depths", "of another kind"),
        ({"depths": [10, 12, True, 9]}, "depths", "is not a number"),
        ({"depths": 10.0}, "depths", "not one row"),
        ({"depths": "10 mm"}, "depths", "not one row"),
        ({"depths": [[1, 2], [3, 4]]}, "depths", "not one row"),
        ({"depths": np.ones((2, 2))}, "depths", "not one row"),
        ({"depths": FIVE, "distance": [1, 2, 3]}, "distance", "3 for 5 cans"),
        ({"depths": FIVE, "distance": [5] * 5}, "distance", "same for every can"),
        ({"depths": FIVE, "distance": [1, 2, 3, 4, -5]}, "distance", "first at can 5"),
        ({"depths": FIVE, "distance": [1, 2, 3, 4, None]}, "distance", "is missing"),
        ({"depths": FIVE, "distance": [1, 2, 3, 4, 5], "weight": [1] * 5}, "distance, weight", "twice"),
        ({"depths": FIVE, "weight": [1, 1, 1, 1, 0]}, "weight", "first at can 5"),
        ({"depths": FIVE, "weight": ["much"] * 5}, "weight", "not a number (5 values); first at can 1"),
        ({"depths": FIVE, "weight": ["1"] * 5}, "weight", "found '1'"),
        ({"depths": FIVE, "weight": [True] * 5}, "weight", "found True"),
        ({"depths": FIVE, "weight": [1, 1, 1, 1, None]}, "weight", "first at can 5; found nan"),
        ({"depths": FIVE, "weight": 2.0}, "weight", "not one row"),
        ({"depths": []}, "catch cans", "0 usable of 0"),
        ({"depths": b"12345"}, "depths", "not one row"),
        ({"depths": [[[1], [1, 2]], 3, 4, 5]}, "depths", "not one row"),
        ({"depths": pd.Series(pd.date_range("2024-01-01", periods=5))}, "depths", "not one row"),
        ({"depths": FIVE, "note": [["spilled"], None, None, None, None]}, "note", "not one row"),
        ({"depths": FIVE, "weight": [1] * 4}, "weight", "4 for 5 cans"),
        ({"depths": FIVE, "note": ["lost"] + [None] * 4}, "note", "allowed: spilled, out of line, None"),
        ({"depths": FIVE, "note": "spilled"}, "note", "not one row"),
        ({"depths": FIVE, "note": [None] * 4}, "note", "4 for 5 cans"),
        ({"depths": FIVE, "duration": 0}, "duration", "outside its range"),
        ({"depths": FIVE, "duration": xr.DataArray([1.0, 2.0], dims="field")}, "duration", "varies by label"),
        ({"volumes": FIVE, "can_diameter": 10}, "can_diameter", "0.01 to 2 m"),
        ({"volumes": [10, 900, 10, 10], "can_diameter": 0.02}, "volumes", "first at can 2; found 2864.79 mm"),
    ],
)
def test_what_cans_are_refused(given, what, words):
    fault = only_fault(CatchCans, **given)
    assert fault.what == what
    assert words in str(fault)


def test_all_faults_at_once():
    found = faults(CatchCans, volumes=[1, -2, 3, 4], duration=-1, note=["lost", None, None, None])
    assert [fault.what for fault in found] == ["note", "volumes", "volumes", "duration"]


NO_COUNTS = [None, "a", True, 2.5, -1, float("nan"), [1, 2], np.array([1, 2])]
NO_NUMBERS = [None, "a", "0.9", True, b"1", 1j, {}, pd.NaT, pd.Timestamp("2024-01-01"), np.array(["a"])]
NO_WORDS = [None, "imperial", True, 1, float("nan"), ["us"], np.array(["us", "metric"])]


@pytest.mark.parametrize(
    ("name", "value"),
    [
        *(("units", value) for value in NO_WORDS),
        *(("level", value) for value in [*NO_NUMBERS, 0.0, 1.0, 90, -0.1, float("nan"), [0.5, 0.9]]),
        *(("seed", value) for value in NO_COUNTS),
        *(("resamples", value) for value in [*NO_COUNTS, 5]),
    ],
)
def test_summary_refuses(name, value):
    assert only_fault(CatchCans(depths=FIVE).summary, **{name: value}).what == name


def test_a_pattern_with_two_directions_is_told_by_its_size():
    pattern = xr.DataArray(np.ones((4, 5)), dims=("between", "along"))
    fault = only_fault(CatchCans, depths=pattern)
    assert fault.value == "DataArray of 4 between, 5 along"
    assert "values.ravel()" in fault.mend
    assert only_fault(CatchCans, depths=pattern.values).value == "ndarray of 4 x 5"
    assert len(CatchCans(depths=pattern.values.ravel()).depth) == 20
    long = only_fault(CatchCans, depths="word " * 40)
    assert len(long.value) == 80
    assert long.value.endswith("...")


def test_all_faults_of_a_summary_at_once():
    found = faults(CatchCans(depths=FIVE).summary, "imperial", seed=-1, level="a", resamples=0)
    assert [fault.what for fault in found] == ["units", "level", "seed", "resamples"]
    assert "not a percentage" in only_fault(CatchCans(depths=FIVE).summary, level=90).mend


@pytest.mark.parametrize("units", NO_WORDS)
def test_reading_refuses(units):
    assert only_fault(CatchCans(depths=FIVE).reading, units).allowed == "metric, us"


@pytest.mark.parametrize("value", NO_COUNTS)
@pytest.mark.parametrize("name", ["seed", "resamples"])
def test_distribution_of_cans_refuses(name, value):
    assert only_fault(CatchCans(depths=FIVE).distribution, **{name: value}).what == name


@pytest.mark.parametrize("value", [*NO_NUMBERS, float("inf")])
@pytest.mark.parametrize(
    ("formula", "given", "name"),
    [
        (christiansen_uniformity, {}, "depths"),
        (low_quarter_uniformity, {}, "depths"),
        (low_half_uniformity, {}, "depths"),
        (scheduling_coefficient, {}, "depths"),
        (coefficient_of_variation, {}, "depths"),
        (ring_area, {}, "distance"),
        (uniformity_from_cv, {}, "cv"),
        (cv_from_uniformity, {}, "uniformity"),
        (low_quarter_from_christiansen, {}, "uniformity"),
        (christiansen_from_low_quarter, {}, "low_quarter"),
        (run_time_multiplier, {}, "low_quarter"),
        (adequacy, {"kind": "gamma", "required": 1.0}, "cv"),
        (adequacy, {"kind": "gamma", "cv": 0.2}, "required"),
        (deep_percolation, {"kind": "gamma", "cv": 0.2}, "required"),
        (deficit, {"kind": "gamma", "cv": 0.2}, "required"),
        (below_zero, {"kind": "normal"}, "cv"),
        (distribution_efficiency, {"uniformity": 0.8}, "adequacy"),
        (distribution_efficiency, {"adequacy": 0.8}, "uniformity"),
        (required_depth_factor, {"kind": "gamma", "cv": 0.2}, "adequacy"),
        (quantile_shares, {"kind": "gamma", "spots": 4}, "cv"),
        (fit, {}, "depths"),
        (depth_from_volume, {"can_diameter": 0.1}, "volume"),
        (depth_from_volume, {"volume": 5.0}, "can_diameter"),
    ],
)
def test_what_is_no_number_is_named(formula, given, name, value):
    what = {"cv": "coefficient of variation", "required": "required depth over mean depth"}
    if formula is uniformity_from_cv:
        what = {}
    assert {fault.what for fault in faults(formula, **given, **{name: value})} == {what.get(name, name)}


def test_text_among_numbers_is_counted():
    fault = only_fault(christiansen_uniformity, [10, "12 mm", 11, "9"])
    assert str(fault).startswith(
        "depths: holds what is not a number (2 values); first at can 2; found '12 mm'"
    )
    assert only_fault(cv_from_uniformity, [0.8, True]).where == "value 2"


def test_lists_are_arrays():
    np.testing.assert_array_equal(run_time_multiplier([0.5, 1.0]), run_time_multiplier(np.array([0.5, 1.0])))
    labelled = xr.DataArray([0.5, 1.0], dims="field", coords={"field": ["a", "b"]})
    assert cv_from_uniformity(labelled)["field"].values.tolist() == ["a", "b"]
    assert np.isnan(run_time_multiplier(float("nan")))
    assert np.isnan(christiansen_uniformity([10, None, 11, 9]))


@pytest.mark.parametrize("word", ["trapezoidal", None, 1, ["normal"]])
def test_words_are_known_or_refused(word):
    assert only_fault(uniformity_from_cv, 0.2, word).what == "kind"
    assert only_fault(cv_from_uniformity, 0.8, word).what == "kind"
    assert only_fault(run_time_multiplier, 0.8, word).what == "form"
    assert only_fault(adequacy, word, 0.2, 1.0).what == "kind"
    assert only_fault(overlap_radial, **PROFILE, layout=word).what == "layout"


def test_shapes_and_labels_must_fit():
    assert only_fault(adequacy, "normal", [0.1, 0.2], [1.0, 1.1, 1.2]).what == "cv, required"
    assert only_fault(distribution_efficiency, [0.8, 0.9], [0.7, 0.8, 0.9]).what == "uniformity, adequacy"
    field = xr.DataArray([0.1, 0.2], dims="field", coords={"field": ["a", "b"]})
    year = xr.DataArray([1.0, 1.1], dims="year", coords={"year": [2024, 2025]})
    other = field.assign_coords(field=["b", "a"])
    assert "different dimensions" in str(only_fault(adequacy, "normal", field, year))
    assert "different labels" in str(only_fault(adequacy, "normal", field, other))
    assert only_fault(quantile_shares, "gamma", [0.1, 0.2], 4).problem == "is more than one number"


def test_rings_that_are_refused():
    assert "two differ" in str(only_fault(ring_area, [50.0]))
    assert "two differ" in str(only_fault(ring_area, [50.0, 50.0]))
    assert "first at can 2; found -1" in str(only_fault(ring_area, [50.0, -1.0]))
    assert "first at can 2; found nan" in str(only_fault(ring_area, [50.0, None]))
    assert "first at value 2; found volume -1" in str(only_fault(depth_from_volume, [5.0, -1.0], 0.1))
    assert only_fault(run_time_multiplier, -0.1).allowed == "0 to 1"
    assert only_fault(uniformity_from_cv, -0.1).allowed == "0 or more"


def test_limits_of_findings_stand_in_the_handbook():
    """A test is judged by the handbook's rows, and names their source."""
    table = handbook.table("can_classes")
    pivot = table[table["name"] == "Christiansen uniformity, centre pivot"]
    # by hand: mean 8.967 mm, CU 84.6 %
    cans = CatchCans(depths=[10, 10, 10, 10, 6.9], distance=[50, 100, 150, 200, 250])
    found = cans.findings()
    assert found["finding"].tolist()[:2] == ["23 % below the mean", "review the sprinkler package"]
    assert found["why"].iloc[1] == f"CU 84.6 %, from all cans: class 80 to 85 % ({pivot['source'].iloc[0]})"
    for kind in ("block", "centre pivot"):
        name = f"one can of a {kind}, off the mean"
        assert rate("can_classes", name, 0.2).rating == ""
        assert rate("can_classes", name, 0.2001).rating == "look at the outlets"
        assert rate("can_classes", name, float("nan")).rating == ""


@pytest.mark.parametrize(
    ("depths", "read", "classed", "words"),
    [
        # Far out rings are as good as equal. By hand: driest quarter 18 % below 10 mm, CU 88.5 %.
        ([8.2, 8.2, 9, 10, 10, 11, 11.8, 11.8], "may need a tune-up", "no major change", "stricter"),
        # Driest quarter 9.5 % below 10 mm, CU 84.5 %.
        (
            [9.05, 9.05, 9.1, 9.1, 9.15, 9.15, 9.2, 16.2],
            "even enough",
            "review the sprinkler package",
            "far above",
        ),
        ([9.5, 10.5, 10, 10, 10, 10, 9.5, 10.5], "even enough", "no major change", None),
        ([5, 5, 8, 8, 12, 12, 15, 15], "needs a tune-up", "redesign the sprinkler package", None),
    ],
)
def test_where_two_measures_of_a_pivot_disagree_it_is_said_once(depths, read, classed, words):
    cans = CatchCans(depths=depths, distance=1000 + np.arange(8))
    assert f": {read} (" in cans.reading()
    row = cans.findings().query("can.isna()").iloc[0]
    assert row["finding"] == classed
    assert row["why"].startswith("CU ")
    assert classed not in row["why"]
    assert ("the reading by the driest quarter alone disagrees" in row["why"]) == (words is not None)
    assert words is None or words in row["why"]


@pytest.mark.parametrize(
    ("depths", "weights", "words"),
    [
        (FIVE, [1, 2], "weights: do not fit the depths"),
        ([1, -2, -3, 4], None, "depths: are negative or infinite (2 values); first at can 2; found -2"),
        ([1, np.inf, 3, 4], None, "first at can 2"),
        (FIVE, [1, 1, 1, 1, -1], "weights: are negative or infinite"),
        (FIVE, [0] * 5, "weights: add up to 0"),
        (5.0, None, "depths: are not a row of numbers"),
        ([], None, "depths: are not a row of numbers"),
    ],
)
def test_what_depths_are_refused(depths, weights, words):
    assert any(words in str(fault) for fault in faults(christiansen_uniformity, depths, weights))


@pytest.mark.parametrize("formula", [cv_from_uniformity, low_quarter_from_christiansen, run_time_multiplier])
def test_a_percentage_is_refused(formula):
    assert "not a percentage" in str(only_fault(formula, 86.0))


def test_what_distributions_are_refused():
    assert only_fault(adequacy, "triangular", 0.2, 1.0).allowed == "normal, uniform, gamma, lognormal"
    assert [fault.what for fault in faults(deep_percolation, "normal", 0.0, -1.0)] == [
        "coefficient of variation",
        "required depth over mean depth",
    ]
    assert only_fault(distribution_efficiency, 0.86, 80).allowed == "above 0 and below 1"
    assert only_fault(adequacy, "gamma", float("nan"), 1.0).value == "nan"
    beyond = only_fault(required_depth_factor, "normal", 0.6, 0.99)
    assert "reached by no depth" in beyond.problem
    assert beyond.allowed == "below 0.952"
    assert only_fault(quantile_shares, "gamma", 0.2, 2.5).what == "spots"
    assert only_fault(quantile_shares, "gamma", 0.2, 0).what == "spots"


def test_spots_with_less_than_no_water_are_counted():
    fault = only_fault(quantile_shares, "normal", 0.8, 20)
    assert fault.what == "spots"
    assert fault.count == 2
    assert "gamma" in fault.mend
    assert (quantile_shares("gamma", 0.8, 20) > 0).all()


@pytest.mark.parametrize(
    ("depths", "weights", "words"),
    [
        ([1, 2, 3], None, "too few"),
        ([1, 2, np.nan, 4], None, "first at can 3"),
        ([1, 2, -1, 4], None, "found -1"),
        ([3, 3, 3, 3], None, "all equal"),
        ([1, 2, 3, 4], [1, 1, 1], "weights"),
    ],
)
def test_what_cannot_be_fitted(depths, weights, words):
    assert words in str(only_fault(fit, depths, weights))
    assert only_fault(fit, FIVE, resamples=0).what == "resamples"


PROFILE = {"distance": [0, 6, 12], "rate": [5, 4, 0], "spacing_along": 9, "spacing_between": "12 m"}


@pytest.mark.parametrize(
    ("changes", "what", "words"),
    [
        ({"distance": [0, 12, 6]}, "distance", "does not ascend; first at point 3; found 6 after 12"),
        ({"rate": [5, 4, 1]}, "rate", "does not end at 0"),
        ({"rate": [5, -4, 0]}, "rate", "first at point 2"),
        ({"rate": [5, 0]}, "distance, rate", "3 and 2"),
        ({"spacing_along": 0}, "spacing_along", "outside its range"),
        ({"layout": "round"}, "layout", "rectangular, triangular"),
        ({"grid": 0}, "grid", "whole number"),
    ],
)
def test_what_overlap_is_refused(changes, what, words):
    fault = only_fault(overlap_radial, **(PROFILE | changes))
    assert fault.what == what
    assert words in str(fault)


def test_overlap_is_laid_out_by_distance():
    caught = overlap_radial(**PROFILE, grid=3)
    assert caught.dims == ("between", "along")
    assert caught["along"].values.tolist() == [1.5, 4.5, 7.5]
    assert caught["between"].values.tolist() == [2.0, 6.0, 10.0]
    assert caught.attrs["units"] == "mm h-1"
    triangular = overlap_radial(**PROFILE, grid=3, layout="triangular")
    assert triangular.sizes == {"between": 6, "along": 3}
    # Closer spacing waters more evenly, here.
    wide = overlap_radial(**(PROFILE | {"spacing_along": 18, "spacing_between": 18}))
    assert christiansen_uniformity(wide.values.ravel()) < christiansen_uniformity(caught.values.ravel())


def test_lateral_must_end_dry_on_both_sides():
    assert "does not begin at 0" in str(only_fault(overlap_lateral, [0, 5, 9], [1, 2, 0], spacing=6))
    assert "does not end at 0" in str(only_fault(overlap_lateral, [0, 5, 9], [0, 2, 1], spacing=6))
    assert only_fault(overlap_lateral, [0, 5, 9], [0, 2, 0], spacing="6 h").what == "spacing"
