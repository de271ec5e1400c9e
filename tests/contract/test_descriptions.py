"""Crop, Soil, System, Rule and concat: what they take, what they keep, what they refuse and in which words."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb

CURVE = {
    "planted": "2024-05-05",
    "stage_days": (5, 10, 10, 5),
    "root_depth": (0.2, 0.8),
    "depletion_fraction": 0.5,
}
DAYS = pd.date_range("2024-05-01", periods=6)


def along(values, labels=("north", "south"), dim="field"):
    return xr.DataArray(list(values), dims=dim, coords={dim: list(labels)})


def basal(**changes):
    return wb.Crop(**({**CURVE, "kcb": (0.15, 1.1, 0.3), "height": 0.5} | changes))


def single(**changes):
    return wb.Crop(**({**CURVE, "kc": (0.3, 1.1, 0.3)} | changes))


def loam(**changes):
    return wb.Soil(**({"field_capacity": 0.25, "wilting_point": 0.12, "rew": 9, "tew": 19} | changes))


def refusal(make, *args, **kwargs):
    with pytest.raises(wb.InputError) as caught:
        make(*args, **kwargs)
    return caught.value


def only_fault(make, *args, **kwargs):
    (fault,) = refusal(make, *args, **kwargs).faults
    return fault


# ------------------------------------------------------------------------------ what is accepted
# 1 in = 25.4 mm, 1 ft = 0.3048 m, 1 acre = 4046.8564224 m2: international units, exact by definition.
@pytest.mark.parametrize(
    ("made", "name", "expected"),
    [
        (lambda: wb.Soil(available_water="1.5 in/ft"), "available_water", 0.125),
        (lambda: wb.Soil(available_water="12 %"), "available_water", 0.12),
        (lambda: loam(tew="1 in"), "tew", 25.4),
        (lambda: basal(root_depth="3 ft"), "root_depth", 0.9144),
        (lambda: basal(height="50 cm"), "height", 0.5),
        (lambda: wb.System(efficiency="80 %"), "efficiency", 0.8),
        (lambda: wb.System(efficiency=0.8, application_rate="0.3 in/h"), "application_rate", 7.62),
        (lambda: wb.System(efficiency=0.8, area="60 acre"), "area", 24.2811385344),
        (lambda: wb.System(efficiency=0.8, flow="100 m3/h"), "flow", 100.0),
        (lambda: wb.Rule(max_depth="1.5 in"), "max_depth", 38.1),
        (lambda: wb.Rule(min_interval="1 week"), "min_interval", 7.0),
        (lambda: wb.Rule(net_depth=np.float32(25)), "net_depth", 25.0),
        (lambda: wb.Rule(net_depth=25), "net_depth", 25.0),
    ],
)
def test_a_number_or_text_with_a_unit_becomes_a_float_in_the_canonical_unit(made, name, expected):
    value = getattr(made(), name)
    assert type(value) is float
    assert value == pytest.approx(expected, rel=1e-12)


def test_arrays_keep_their_labels_and_become_float64():
    soil = loam(tew=along([19, 20]))
    assert soil.tew.dtype == np.float64
    assert list(soil.tew["field"].values) == ["north", "south"]
    assert soil.rew == 9.0


def test_a_series_lies_along_its_named_index_and_dates_along_time():
    by_field = pd.Series([19.0, 20.0], index=pd.Index(["north", "south"], name="field"))
    assert loam(tew=by_field).tew.dims == ("field",)
    by_day = pd.Series(np.linspace(0.3, 1.0, 6), index=DAYS)
    assert wb.Crop(kc=by_day, root_depth=0.9, depletion_fraction=0.5).kc.dims == ("time",)
    fault = only_fault(loam, tew=pd.Series([19.0, 20.0]))
    assert (fault.what, "no name" in fault.problem, "rename_axis" in fault.mend) == ("tew", True, True)


@pytest.mark.parametrize(
    "day", ["2024-05-05", pd.Timestamp("2024-05-05 14:00"), np.datetime64("2024-05-05"), DAYS[4].date()]
)
def test_a_date_becomes_midnight(day):
    assert single(planted=day).planted == np.datetime64("2024-05-05T00:00", "ns")


def test_several_dates_need_a_dimension():
    assert only_fault(single, planted=["2024-05-05", "2024-06-01"]).what == "planted"
    assert only_fault(single, planted=pd.Series(["2024-05-05", "2024-06-01"])).what == "planted"


def test_planting_dates_may_differ_by_field():
    planted = along(["2024-05-05", "2024-05-09"])
    for given in (planted, along(pd.to_datetime(planted.values)), planted.to_series()):
        crop = single(planted=given)
        assert crop.planted.dims == ("field",)
        assert crop.planted.dtype.kind == "M"


def test_stages_of_no_days_are_allowed():
    """FAO-56 Table 11 prints stages of 0 days."""
    assert single(stage_days=(0, 20, 0, 10)).stage_days.values.tolist() == [0, 20, 0, 10]


@pytest.mark.parametrize(
    "made",
    [
        basal(),
        loam(),
        wb.System(efficiency=0.8),
        wb.Rule(),
        wb.System(delivered_fraction=0.9, spot_share=(1.1, 0.9)),
    ],
)
def test_descriptions_are_frozen_and_varied_by_replace(made):
    name = dataclasses.fields(made)[0].name
    with pytest.raises(dataclasses.FrozenInstanceError):
        setattr(made, name, 1.0)
    again = dataclasses.replace(made)
    assert again is not made
    for field in dataclasses.fields(made):
        before, after = getattr(made, field.name), getattr(again, field.name)
        assert before.identical(after) if isinstance(before, xr.DataArray) else before == after
    with pytest.raises(TypeError):
        type(made)(1.0)  # keywords alone


def test_what_was_given_is_not_changed_and_not_shared():
    given = along([19, 20])
    planted = along(pd.to_datetime(["2024-05-05 12:00", "2024-05-09 00:00"]))
    copies = given.copy(deep=True), planted.copy(deep=True)
    soil, crop = loam(tew=given), single(planted=planted)
    assert given.identical(copies[0])
    assert planted.identical(copies[1])
    given[0] = 99
    planted[0] = np.datetime64("2030-01-01")
    assert soil.tew.values.tolist() == [19, 20]
    assert str(crop.planted.values[0])[:10] == "2024-05-05"


# ------------------------------------------------------------------------------ what is refused
@pytest.mark.parametrize(
    ("make", "changes", "what", "says", "found", "allowed"),
    [
        (wb.System, {"efficiency": 0}, "efficiency", "outside its range", "0", "above 0 and at most 1"),
        (wb.System, {"efficiency": 70}, "efficiency", "outside its range", "70", "above 0 and at most 1"),
        (wb.System, {"efficiency": 1.2}, "efficiency", "outside its range", "1.2", "above 0 and at most 1"),
        (wb.System, {"efficiency": -0.1}, "efficiency", "outside its range", "-0.1", "above 0"),
        (wb.System, {"efficiency": float("nan")}, "efficiency", "outside its range", "nan", "above 0"),
        (wb.System, {"efficiency": float("inf")}, "efficiency", "outside its range", "inf", "above 0"),
        (wb.System, {"efficiency": True}, "efficiency", "not a number", "True", "DataArray"),
        (wb.System, {"efficiency": [0.8, 0.7]}, "efficiency", "not a number", "[0.8, 0.7]", "DataArray"),
        (wb.System, {}, "efficiency", "missing", "", "above 0"),
        (
            wb.System,
            {"efficiency": 0.8, "wetted_fraction": 0},
            "wetted_fraction",
            "outside",
            "0",
            "0.01 to 1",
        ),
        (
            wb.System,
            {"efficiency": 0.8, "subsurface": "yes"},
            "subsurface",
            "yes or no",
            "'yes'",
            "True or False",
        ),
        (wb.System, {"efficiency": 0.8, "flow": "3 mm"}, "flow", "another kind", "'3 mm'", ""),
        (
            loam,
            {"wilting_point": 0.25},
            "wilting_point",
            "not below field_capacity",
            "0.25",
            "wilting_point < field",
        ),
        (
            loam,
            {"wilting_point": 0.3},
            "wilting_point",
            "not below field_capacity",
            "0.3",
            "wilting_point < field",
        ),
        (loam, {"wilting_point": None}, "wilting_point", "missing", "", ""),
        (loam, {"field_capacity": None}, "field_capacity", "missing", "", ""),
        (loam, {"available_water": 0.2}, "available_water", "contradicts", "0.2", ""),
        (loam, {"rew": 19}, "rew", "not below tew", "rew 19, tew 19", "rew < tew"),
        (loam, {"curve_number": 0}, "curve_number", "outside", "0", "1 to 100"),
        (loam, {"field_capacity": "lots"}, "field_capacity", "begin with a number", "'lots'", ""),
        (loam, {"tew": "19"}, "tew", "no unit", "'19'", ""),
        (wb.Soil, {"rew": 8, "tew": 20}, "soil water", "not given", "", "field_capacity and wilting_point"),
        (
            single,
            {"stage_days": (5, -3, 10, 5)},
            "stage_days (development)",
            "outside",
            "-3",
            "0 to 1000 day",
        ),
        (
            single,
            {"stage_days": (5, 10, 5)},
            "stage_days",
            "needs 4 values",
            "(5, 10, 5)",
            "initial, development",
        ),
        (single, {"stage_days": (0, 0, 0, 0)}, "stage_days", "add up to nothing", "0, 0", ""),
        (single, {"stage_days": None, "kc": 1.0, "root_depth": 0.5}, "stage_days", "missing", "", ""),
        (single, {"planted": None, "kc": 1.0, "root_depth": 0.5}, "planted", "missing", "", ""),
        (single, {"planted": "12.5.2024"}, "planted", "not a date", "'12.5.2024'", "2024-05-12"),
        (single, {"planted": 20240512}, "planted", "not a date", "20240512", "2024-05-12"),
        (single, {"planted": "NaT"}, "planted", "not a date", "'NaT'", "2024-05-12"),
        (single, {"planted": pd.Timestamp("2024-05-05", tz="UTC")}, "planted", "time zone", "", ""),
        (single, {"kcb": 0.9, "height": 0.4}, "kc, kcb", "exactly one", "both", ""),
        (single, {"kc": None}, "kc, kcb", "exactly one", "neither", ""),
        (single, {"kc": (0.3, 3.0, 0.3)}, "kc (mid)", "outside", "3", "0 to 2"),
        (single, {"kc": (0.3, 1.0)}, "kc", "needs 3 values", "(0.3, 1.0)", "initial, mid, end"),
        (basal, {"height": None}, "height", "missing", "", ""),
        (single, {"root_depth": None}, "root_depth", "missing", "", "at planting, full"),
        (single, {"root_depth": (0.8, 0.2)}, "root_depth", "starts deeper", "0.8", ""),
        (single, {"depletion_fraction": 50}, "depletion_fraction", "outside", "50", "0.1 to 0.8"),
        (single, {"basis": "grass"}, "basis", "unknown", "'grass'", "'short' or 'tall'"),
        (single, {"climate": 2.0}, "climate", "two values", "2.0", "wind"),
        (single, {"climate": (2.0, 145)}, "climate (rhmin)", "outside", "145", "0 to 100 %"),
        (wb.Rule, {"allowable_depletion": 50}, "allowable_depletion", "outside", "50", "0 to 1"),
        (wb.Rule, {"net_depth": -5}, "net_depth", "outside", "-5", "above 0"),
        (wb.Rule, {"min_interval": 0}, "min_interval", "outside", "0", "1 to 365"),
        (wb.Rule, {"min_depth": 30, "max_depth": 20}, "min_depth", "larger than max_depth", "", ""),
        (wb.Rule, {"allowable_depletion": 0.3, "refill_to": 0.4}, "refill_to", "more depletion", "", ""),
        (wb.Rule, {"last_date": "autumn"}, "last_date", "not a date", "'autumn'", "2024-05-12"),
    ],
)
def test_one_fault_says_the_thing_the_value_and_what_is_allowed(make, changes, what, says, found, allowed):
    fault = only_fault(make, **changes)
    assert fault.what == what
    assert says in fault.problem
    assert found in fault.value
    assert allowed in fault.allowed
    assert str(fault) in str(refusal(make, **changes))


def test_an_array_names_the_first_place_and_the_count():
    fault = only_fault(wb.System, efficiency=along([0.8, 70, 90], ("a", "b", "c")))
    assert (fault.what, fault.where, fault.value, fault.count) == ("efficiency", "field b", "70", 2)


@pytest.mark.parametrize(
    "changes",
    [
        {"efficiency": 0.9, "delivered_fraction": 0.95},
        {"efficiency": 0.9, "delivered_fraction": None},
    ],
)
def test_a_lumped_efficiency_beside_spots_would_count_unevenness_twice(changes):
    fault = only_fault(wb.System, spot_share=[1.2, 0.8], **changes)
    assert fault.what == "efficiency"
    assert "twice" in fault.problem
    assert "delivered_fraction" in fault.mend


@pytest.mark.parametrize(
    ("changes", "what", "says"),
    [
        ({"spot_share": [1.2, 0.9]}, "spot_share", "does not average 1"),
        ({"spot_share": [1.2, 0.8], "spot_weight": [0.5, 0.6]}, "spot_weight", "do not add up to 1"),
        ({"spot_share": [1.2, 0.8], "spot_weight": [0.5, 0.2, 0.3]}, "spot_weight", "does not match"),
        ({"spot_share": None, "spot_weight": [0.5, 0.5]}, "spot_weight", "needs spot_share"),
        ({"spot_share": None}, "delivered_fraction", "needs spot_share"),
        ({"spot_share": along([1.2, 0.8])}, "spot_share", "dimension spot"),
        ({"spot_share": ["a", "b"]}, "spot_share", "number"),
        ({"spot_share": "even"}, "spot_share", "number"),
        ({"spot_share": [[1.0, 1.0], [1.0, 1.0]]}, "spot_share", "one row of numbers"),
    ],
)
def test_shares_and_weights_that_make_no_field(changes, what, says):
    faults = refusal(wb.System, delivered_fraction=0.9, **changes).faults
    assert any(fault.what == what and says in str(fault) for fault in faults)


def test_every_fault_of_a_description_is_told_at_once():
    error = refusal(
        wb.Crop,
        planted="12.5.2024",
        stage_days=(5, -3, 10, 5),
        kc=(0.3, 3, 0.3),
        root_depth=(0.8, 0.2),
        depletion_fraction=50,
        basis="grass",
    )
    things = [fault.what for fault in error.faults]
    assert set(things) == {
        "planted",
        "stage_days (development)",
        "kc (mid)",
        "root_depth",
        "depletion_fraction",
        "basis",
    }
    assert str(error).startswith("6 faults in the input")


@pytest.mark.parametrize(
    "days",
    [
        ["2024-05-01", "2024-05-01", "2024-05-03"],
        ["2024-05-01", "2024-05-03", "2024-05-04"],
        ["2024-05-03", "2024-05-02", "2024-05-01"],
    ],
)
def test_daily_series_need_every_day_once_and_in_order(days):
    series = pd.Series([0.5, 0.6, 0.7], index=pd.to_datetime(days))
    faults = refusal(wb.Crop, kc=series, root_depth=0.5, depletion_fraction=0.5).faults
    assert {fault.what for fault in faults} == {"kc, time"}


@pytest.mark.parametrize("index", [DAYS.tz_localize("Asia/Tokyo"), DAYS + pd.Timedelta(hours=12)])
def test_daily_series_have_neither_time_zone_nor_noon(index):
    fault = only_fault(wb.Crop, kc=pd.Series(0.5, index=index), root_depth=0.5, depletion_fraction=0.5)
    assert "kc" in fault.what


def test_a_gap_in_a_daily_series_is_named_by_its_date():
    values = pd.Series([0.5, np.nan, 0.7], index=DAYS[:3])
    fault = only_fault(wb.Crop, kc=values, root_depth=0.5, depletion_fraction=0.5)
    assert "2024-05-02" in fault.where


@pytest.mark.parametrize(
    ("make", "changes"),
    [
        (wb.Rule, {"refill_to": along([0.1, np.nan])}),
        (wb.Rule, {"min_depth": along([5, np.nan])}),
        (wb.Rule, {"min_interval": along([3, np.nan])}),
        (wb.System, {"efficiency": along([0.8, np.nan])}),
        (wb.System, {"efficiency": 0.8, "wetted_fraction": along([0.5, np.nan])}),
        (wb.Soil, {"available_water": along([0.1, np.nan])}),
        (loam, {"evaporation_depth": along([0.1, np.nan])}),
        (single, {"root_depth": along([0.5, np.nan])}),
        (single, {"depletion_fraction": along([0.5, np.nan])}),
        (single, {"stage_days": xr.DataArray([5, np.nan, 9, 5], dims="stage")}),
    ],
)
def test_nothing_needed_may_be_missing_for_one_label(make, changes):
    error = refusal(make, **changes)
    assert len(error.faults) == 1


def test_values_of_one_description_have_the_same_labels():
    """xarray would join them to what they share, and fields would be lost without a word."""
    error = refusal(
        wb.Soil,
        field_capacity=along([0.3, 0.3], ("a", "b")),
        wilting_point=along([0.1, 0.1], ("b", "c")),
        rew=8,
        tew=20,
    )
    assert "label" in str(error)


# ------------------------------------------------------------------------------ the handbook
@pytest.mark.parametrize(
    ("make", "near"),
    [
        (lambda: wb.Crop.from_handbook("sweet maise", planted="2024-05-12"), "sweet maize"),
        (lambda: wb.Soil.from_handbook("sandy lome"), "sandy loam"),
        (lambda: wb.System.from_handbook("center pivott"), "centre pivot"),
    ],
)
def test_an_unknown_name_is_answered_with_the_nearest(make, near):
    fault = only_fault(make)
    assert near in fault.allowed


def test_handbook_values_name_their_source_until_they_are_changed():
    soil = wb.Soil.from_handbook("sandy loam")
    assert wb.descriptions.sources(soil)["tew"].startswith("FAO-56 Table 19")
    changed = dataclasses.replace(soil, tew=21.0)
    assert wb.descriptions.sources(changed)["tew"] == "given by the user"
    assert wb.descriptions.sources(changed)["rew"].startswith("FAO-56 Table 19")


# ------------------------------------------------------------------------------ concat
def test_concat_copies_only_what_differs():
    soils = wb.concat({"north": loam(), "south": loam(tew=25)}, "field")
    assert isinstance(soils, wb.Soil)
    assert soils.tew.dims == ("field",)
    assert soils.tew.values.tolist() == [19, 25]
    assert soils.field_capacity == 0.25


def test_concat_joins_every_kind():
    crops = wb.concat({"a": basal(), "b": basal(planted="2024-06-01", kcb=(0.2, 1.0, 0.5))}, "field")
    assert crops.planted.dims == ("field",)
    assert crops.kcb.sizes == {"field": 2, "coefficient": 3}
    systems = wb.concat(
        {"a": wb.System(efficiency=0.7), "b": wb.System(efficiency=0.9, subsurface=True)}, "system"
    )
    assert systems.subsurface.values.tolist() == [0, 1]
    rules = wb.concat({"a": wb.Rule(), "b": wb.Rule(allowable_depletion=0.4, last_date="2024-08-01")}, "rule")
    assert np.isnan(rules.allowable_depletion.values[0])
    table = pd.DataFrame({"rain": 0.0, "et_ref": 5.0}, index=DAYS.rename("time"))
    weather = wb.read_weather(table, et_ref_surface="short")
    both = wb.concat({"a": weather, "b": weather}, "member")
    assert both.sizes["member"] == 2
    assert both.et_ref.attrs["surface"] == "short"


def test_concat_can_be_nested():
    by_field = wb.concat({"north": loam(), "south": loam(tew=25)}, "field")
    again = wb.concat({"dry": by_field, "wet": dataclasses.replace(by_field, rew=5)}, "case")
    assert again.rew.dims == ("case",)
    assert again.tew.dims == ("field",)


def test_concat_tells_the_sources_label_by_label():
    joined = wb.concat({"a": wb.Soil.from_handbook("loam"), "b": loam()}, "field")
    source = wb.descriptions.sources(joined)["tew"]
    assert source["by"] == "field"
    assert source["of"]["a"].startswith("FAO-56 Table 19")
    assert source["of"]["b"] == "given by the user"


@pytest.mark.parametrize(
    ("items", "dim", "says"),
    [
        ({}, "field", "nothing to join"),
        ({"a": basal(), "b": loam()}, "field", "one kind at a time"),
        ({"a": single(), "b": single(basis="tall")}, "field", "'short', 'tall'"),
        (
            {"a": single(), "b": single(kc=pd.Series(0.5, index=DAYS), root_depth=0.5)},
            "field",
            "daily series stands beside a curve",
        ),
        ({"a": 1, "b": 2}, "field", "concat"),
        ({"a": loam(), "b": loam(tew=25)}, "time", "time"),
        ({"a": loam(), "b": loam(tew=25)}, "spot", "spot"),
        ({"a": wb.concat({"a": loam(), "b": loam(tew=25)}, "field"), "b": loam()}, "field", "field"),
        (
            {"a": loam(tew=along([19, 20])), "b": loam(tew=along([19, 20], ("north", "east")))},
            "case",
            "cannot be joined",
        ),
    ],
)
def test_what_cannot_stand_side_by_side(items, dim, says):
    assert says in str(refusal(wb.concat, items, dim))


def test_weather_of_other_days_or_columns_is_not_joined():
    table = pd.DataFrame({"rain": 0.0, "et_ref": 5.0}, index=DAYS.rename("time"))
    weather = wb.read_weather(table, et_ref_surface="short")
    later = weather.assign_coords(time=weather.time + pd.Timedelta(days=1))
    assert "do not share their days" in str(refusal(wb.concat, {"a": weather, "b": later}, "station"))
    assert "different variables" in str(refusal(wb.concat, {"a": weather, "b": weather[["rain"]]}, "station"))
    tall = weather.copy(deep=True)
    tall.et_ref.attrs["surface"] = "tall"
    assert "different surfaces" in str(refusal(wb.concat, {"a": weather, "b": tall}, "station"))
