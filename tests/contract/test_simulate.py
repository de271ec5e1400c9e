"""simulate: what it takes, what the result always holds, and what it refuses in which words."""

import json

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from waterbudget.variables import VARIABLES, attributes

DAYS = pd.date_range("2024-05-01", periods=40, name="time")
DAILY = {
    "et_ref", "rain", "runoff", "crop_stage", "kcb", "ke", "kc", "ks", "kc_max", "cover", "taw", "raw",
    "depletion", "depletion_below", "surface_depletion", "wetted_fraction", "root_depth",
    "days_since_irrigation", "met_by_roots", "percolation", "drainage", "evaporation", "transpiration", "et",
    "irrigation_net", "irrigation_gross", "application_loss",
}  # fmt: skip
PARAMETERS = {
    "available_water", "rew", "tew", "air_dry_water", "depletion_fraction", "adjust_depletion_fraction",
    "deepest_root", "dual", "efficiency", "system_wetted_fraction", "area", "flow", "application_rate",
    "allowable_depletion", "refill_to", "et_share_before_percolation",
}  # fmt: skip
STATES = (
    "depletion", "depletion_below", "surface_depletion", "wetted_fraction", "root_depth", "taw", "raw",
    "days_since_irrigation",
)  # fmt: skip

SOIL = wb.Soil.from_handbook("loam")
SYSTEM = wb.System(efficiency=0.8)
RULE = wb.Rule(allowable_depletion=0.4)


def weather_of(days=DAYS, **columns):
    table = {
        "rain": [0.0, 0.0, 6.0, 0.0] * (len(days) // 4),
        "et_ref": np.linspace(3.0, 7.0, len(days)),
    } | columns
    return wb.read_weather(pd.DataFrame(table, index=days), et_ref_surface="short")


WEATHER = weather_of()


def along(values, labels=("north", "south"), dim="field"):
    return xr.DataArray(list(values), dims=dim, coords={dim: list(labels)})


def basal(**changes):
    made = {
        "planted": "2024-05-05",
        "stage_days": (5, 10, 10, 5),
        "kcb": (0.15, 1.1, 0.3),
        "height": 0.5,
        "root_depth": (0.2, 0.8),
        "depletion_fraction": 0.5,
    }
    return wb.Crop(**made | changes)


CROP = basal()
FIELDS = wb.Soil(available_water=along([0.12, 0.15]), rew=8, tew=20)


def run(weather=WEATHER, crop=CROP, soil=SOIL, system=SYSTEM, rule=RULE, **options):
    return wb.simulate(weather, crop, soil, system, rule, **options)


def refusal(*args, **options):
    with pytest.raises(wb.InputError) as caught:
        run(*args, **options)
    return caught.value


def only_fault(*args, **options):
    (fault,) = refusal(*args, **options).faults
    return fault


def record(**columns):
    return pd.DataFrame({"date": ["2024-05-10"], "net_mm": [20.0]} | columns)


# ------------------------------------------------------------------------------ the result
PLAIN = wb.Crop(kc=0.8, root_depth=0.6, depletion_fraction=0.5)
ALL_WAYS = {
    "everything": {},
    "no system, no rule": {"system": None, "rule": None},
    "single coefficient": {"crop": basal(kc=(0.3, 1.1, 0.3), kcb=None)},
    "constant, no evaporation layer": {"crop": PLAIN, "soil": wb.Soil(available_water=0.1)},
    "daily series": {"crop": wb.Crop(kc=pd.Series(0.8, index=DAYS), root_depth=0.6, depletion_fraction=0.5)},
    "runoff": {"soil": wb.Soil(available_water=0.13, rew=8, tew=20, curve_number=75)},
    "spots": {"system": wb.System(delivered_fraction=0.9, spot_share=[1.2, 0.8])},
    "fields": {"soil": FIELDS},
    "record": {"irrigation": record()},
    "propagate": {"missing": "propagate"},
}


@pytest.mark.parametrize("changes", ALL_WAYS.values(), ids=ALL_WAYS)
def test_the_result_always_has_the_same_variables_with_units_and_names(changes):
    season = run(**changes)
    assert set(season.data_vars) == set(run().data_vars)
    assert set(season.data_vars) >= DAILY | PARAMETERS | {f"initial_{name}" for name in STATES}
    for name in season.data_vars:
        for key, text in attributes(name).items():
            assert season[name].attrs[key] == text, name
    assert season.sizes["time"] == 40
    assert all("time" in season[name].dims for name in DAILY)
    assert not any("time" in season[name].dims for name in PARAMETERS)
    assert all(isinstance(value, str) for value in season.attrs.values())
    assert season.crop_stage.dtype == np.int8
    assert season.depletion.dtype == np.float64


@pytest.mark.parametrize("changes", [{}, {"crop": PLAIN}], ids=["dual", "single"])
def test_every_daily_number_is_a_number_where_it_has_a_meaning(changes):
    season = run(**changes)
    for name in DAILY - {"kcb"}:
        assert bool(season[name].notnull().all()), name
    assert bool(season.kcb.isnull().any()) is (season.dual.item() == 0)


def test_each_variable_is_on_what_it_depends_on():
    systems = wb.concat({"drip": wb.System(efficiency=0.9), "gun": wb.System(efficiency=0.65)}, "system")
    season = run(soil=FIELDS, system=systems)
    assert season.rain.dims == ("time",)
    assert season.kc_max.dims == ("time",)
    assert set(season.taw.dims) == {"time", "field"}
    assert set(season.irrigation_gross.dims) == {"time", "field", "system"}
    assert season.efficiency.dims == ("system",)
    assert list(season["field"].values) == ["north", "south"]


def test_without_a_system_nothing_is_known_of_gross():
    season = run(system=None)
    assert float(season.irrigation_net.sum()) > 0
    assert bool(season.irrigation_gross.isnull().all())
    assert bool(season.application_loss.isnull().all())
    assert any("no system" in text for text in json.loads(season.attrs["assumptions"]))


def test_without_rule_and_record_nothing_is_irrigated():
    season = run(rule=None)
    assert float(season.irrigation_net.sum()) == 0
    assert bool((season.days_since_irrigation == 366).all())


def test_the_result_tells_its_sources_and_assumptions():
    season = run(irrigation=record(purpose=["germination"]))
    sources = json.loads(season.attrs["sources"])
    assert sources["soil"]["tew"].startswith("FAO-56 Table 19")
    assert sources["crop"]["kcb"] == "given by the user"
    assumed = " ".join(json.loads(season.attrs["assumptions"]))
    for text in (
        "field capacity",
        "standard",
        "no curve number",
        "before percolation: 1 (is|FAO)".split("(")[0],
    ):
        assert text.strip() in assumed
    (entry,) = json.loads(season.attrs["recorded_irrigation"])
    assert entry == {"date": "2024-05-10", "field": "", "purpose": "germination"}
    assert wb.__version__ in season.attrs["version"]


def test_inputs_are_left_alone_and_not_shared_with_the_result():
    weather, irrigation = WEATHER.copy(deep=True), record()
    season = run(weather=weather, irrigation=irrigation)
    assert weather.identical(WEATHER)
    assert irrigation.equals(record())
    season["rain"][:] = 99.0
    season["et_ref"][:] = 99.0
    assert weather.identical(WEATHER)


def test_text_with_units_is_taken_for_initial_depletions():
    inches = run(initial_depletion="1 in", initial_evaporation_depletion="0.5 in")
    plain = run(initial_depletion=25.4, initial_evaporation_depletion=12.7)
    assert inches.depletion.identical(plain.depletion)
    assert inches.initial_depletion.item() == 25.4


def test_a_rain_gauge_on_the_field_overrides_the_station():
    own = WEATHER.assign(rain=WEATHER.rain * along([1.0, 0.0]))
    season = run(weather=own, soil=SOIL)
    assert season.rain.sum("time").values.tolist() == [60.0, 0.0]


def test_stations_are_selected_by_field():
    stations = wb.concat({"hill": WEATHER, "plain": weather_of(rain=0.0)}, "station")
    season = run(weather=stations.sel(station=along(["plain", "hill"])), soil=FIELDS)
    assert season.rain.sum("time").sel(field="north").item() == 0.0
    assert season.rain.sum("time").sel(field="south").item() == 60.0


@pytest.mark.parametrize(
    "key", ["adjust_depletion_fraction", "climate", "height", "cover", "depletion_fraction"]
)
def test_crops_that_differ_in_one_thing_stand_side_by_side(key):
    other = {
        "adjust_depletion_fraction": False,
        "climate": (4.0, 30.0),
        "height": 1.5,
        "cover": 0.4,
        "depletion_fraction": 0.3,
    }[key]
    crops = {"a": basal(), "b": basal(**{key: other})}
    joined = run(crop=wb.concat(crops, "crop"))
    for label, crop in crops.items():
        alone = run(crop=crop)
        for name in ("depletion", "ks", "ke", "irrigation_gross"):
            both = xr.broadcast(joined[name], joined["depletion"])[0]
            np.testing.assert_array_equal(both.sel(crop=label), alone[name])


def test_a_single_and_a_basal_crop_stand_side_by_side():
    """The single one needs no height."""
    crops = {"a": basal(), "b": basal(kc=(0.3, 1.1, 0.3), kcb=None, height=None)}
    joined = run(crop=wb.concat(crops, "crop"))
    for label, crop in crops.items():
        np.testing.assert_array_equal(joined.depletion.sel(crop=label), run(crop=crop).depletion)


# ------------------------------------------------------------------------------ weather that is refused
def test_reference_et_must_say_its_surface():
    bare = WEATHER.copy(deep=True)
    del bare.et_ref.attrs["surface"]
    fault = only_fault(weather=bare)
    assert (fault.what, fault.allowed) == ("et_ref", "short (grass) or tall (alfalfa)")
    assert "et_ref_surface" in fault.mend


@pytest.mark.parametrize(("surface", "basis"), [("tall", "short"), ("short", "tall")])
def test_reference_et_of_the_other_surface_is_refused(surface, basis):
    other = WEATHER.copy(deep=True)
    other.et_ref.attrs["surface"] = surface
    fault = only_fault(weather=other, crop=basal(basis=basis))
    assert fault.what == "et_ref"
    assert surface in fault.problem
    assert basis in fault.problem
    assert "convert" in fault.mend
    converted = run(weather=other, crop=basal(basis=basis).on_basis(surface))
    assert bool(converted.depletion.notnull().all())


def restamped(index):
    return xr.Dataset(
        {
            "rain": ("time", np.zeros(len(index))),
            "et_ref": ("time", np.ones(len(index)), {"surface": "short"}),
        },
        coords={"time": index},
    )


@pytest.mark.parametrize(
    ("index", "says", "mend"),
    [
        (DAYS.tz_localize("America/New_York"), "time zone", "tz_localize(None)"),
        (DAYS + pd.Timedelta(hours=12), "not midnight", ".normalize()"),
        (DAYS[[0, 1, 1, 2]], "more than once", "keep the right row"),
        (DAYS[[0, 2, 1, 3]], "not in order", "sort"),
        (DAYS[[0, 1, 4, 5]], "misses days", "fill"),
        (DAYS[:0], "is empty", "at least one row"),
        (pd.RangeIndex(4), "holds no dates", "to_datetime"),
    ],
)
def test_faults_of_the_time_axis(index, says, mend):
    faults = [fault for fault in refusal(weather=restamped(index)).faults if says in fault.problem]
    assert faults
    assert faults[0].what == "weather, time"
    assert mend in faults[0].mend


@pytest.mark.parametrize(
    ("name", "value", "says", "allowed"),
    [
        ("rain", -1.0, "outside", "0 to 2000 mm"),
        ("rain", np.inf, "infinite", ""),
        ("et_ref", 55.0, "outside", "0 to 40 mm"),
        ("rain", np.nan, "no value", ""),
        ("et_ref", np.nan, "no value", ""),
    ],
)
def test_faults_of_values_name_the_day(name, value, says, allowed):
    bad = WEATHER.copy(deep=True)
    bad[name][[3, 7]] = value
    fault = only_fault(weather=bad)
    assert (fault.what, fault.where, fault.count) == (name, "2024-05-04", 2)
    assert says in fault.problem
    assert allowed in fault.allowed


def test_no_rain_no_time_no_dataset():
    assert "has no rain" in str(refusal(weather=WEATHER.drop_vars("rain")))
    assert "no dimension time" in str(refusal(weather=WEATHER.isel(time=0)))
    assert "not a Dataset" in str(refusal(weather=WEATHER.to_dataframe()))


def test_a_season_that_never_meets_the_weather():
    fault = only_fault(crop=basal(planted=along(["2024-05-05", "2023-05-05"])))
    assert fault.what == "crop planted"
    assert (fault.where, fault.value) == ("field south", "planted 2023-05-05")
    assert fault.allowed == "growing on some day from 2024-05-01 to 2024-06-09"
    assert "year" in fault.mend


def test_stations_are_never_crossed_with_fields():
    stations = wb.concat({"hill": WEATHER, "plain": WEATHER}, "station")
    fault = only_fault(weather=stations, soil=FIELDS)
    assert "several stations" in fault.problem
    assert "field" in fault.problem
    assert "weather.sel(station=field_station)" in fault.mend


# ------------------------------------------------------------------------------ labels
@pytest.mark.parametrize(
    ("labels", "says"),
    [
        (("north", "east"), "have different field labels"),
        (("south", "north"), "in a different order"),
        (("north", "south", "east"), "have different field labels"),
    ],
)
def test_labels_of_weather_and_fields_must_match(labels, says):
    own = WEATHER.assign(rain=WEATHER.rain * along(np.ones(len(labels)), labels))
    error = refusal(weather=own, soil=FIELDS)
    assert says in str(error)
    assert "rain" in error.faults[0].what
    assert "soil" in error.faults[0].what
    assert ".sel(field=" in error.faults[0].mend


def test_labels_within_a_crop_must_match():
    with pytest.raises(wb.InputError, match="have different field labels"):
        basal(height=along([0.5, 0.6]), cover=along([0.5, 0.6, 0.7], ("north", "south", "east")))


def test_two_fields_of_one_name():
    with pytest.raises(wb.InputError, match="two fields of one name; found 'north'"):
        wb.Soil(available_water=along([0.1, 0.12], ("north", "north")), rew=8, tew=20)


def test_dimensions_need_labels():
    with pytest.raises(wb.InputError, match=r"without labels.*\.assign_coords\(field=\[\.\.\.\]\)"):
        wb.Soil(available_water=xr.DataArray([0.1, 0.12], dims="field"), rew=8, tew=20)


# ------------------------------------------------------------------------------ other arguments
def test_arguments_in_each_others_places_are_all_named():
    with pytest.raises(wb.InputError) as caught:
        wb.simulate(WEATHER, SOIL, CROP, RULE, SYSTEM)
    assert [fault.what for fault in caught.value.faults] == ["crop", "soil", "system", "rule"]
    assert [fault.value for fault in caught.value.faults] == ["Soil", "Crop", "Rule", "System"]


def test_evaporation_needs_the_layer():
    fault = only_fault(soil=wb.Soil(available_water=0.1))
    assert fault.what == "soil rew, tew"
    assert "kcb" in fault.problem
    assert "Table 19" in fault.mend


def test_options_are_checked():
    assert only_fault(missing="drop").allowed == "'raise' or 'propagate'"
    assert only_fault(et_share_before_percolation=1.5).value == "1.5"


def test_initial_depletions_beyond_their_bounds():
    error = refusal(
        initial_depletion=along([10, 500]), initial_depletion_below=9999, initial_evaporation_depletion=99
    )
    first, second, third = error.faults
    assert (first.what, first.where, first.value, first.count) == (
        "initial_depletion",
        "field south",
        "500 mm",
        1,
    )
    # 0.2 m of roots in loam of Table 19: 0.13 m3/m3 are 26 mm, and half the wilting point over 0.1 m is 6 mm.
    assert first.allowed.startswith("0 to 32 mm")
    # From 0.2 to 0.8 m: 78 mm.
    assert second.allowed.startswith("0 to 78 mm")
    assert (third.what, third.value) == ("initial_evaporation_depletion", "99 mm")
    assert third.allowed.startswith("0 to 19 mm")
    assert only_fault(initial_depletion=-1).allowed == "at least 0 mm"


def test_several_faults_come_in_one_error():
    bad = WEATHER.copy(deep=True)
    bad["rain"][3] = -1.0
    bad["et_ref"][5] = np.nan
    error = refusal(weather=bad)
    assert [fault.what for fault in error.faults] == ["rain", "et_ref"]
    assert str(error).startswith("2 faults in the input")


# ------------------------------------------------------------------------------ going on from a state
EARLY, LATE = WEATHER.isel(time=slice(0, 15)), WEATHER.isel(time=slice(15, None))


def test_a_state_of_another_day():
    end = run(weather=EARLY).isel(time=-1)
    fault = only_fault(weather=LATE.isel(time=slice(1, None)), state=end)
    assert fault.what == "state"
    assert "day before" in fault.problem
    assert (fault.value, fault.allowed) == ("2024-05-15", "2024-05-16")


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda early: early, "season.isel(time=-1)"),
        (lambda early: early.isel(time=-1).drop_vars(["depletion", "raw"]), "lacks depletion, raw"),
        (lambda early: early.isel(time=-1).drop_vars("time"), "not one day"),
        (lambda early: early.isel(time=-1).depletion, "state"),
        (lambda early: 3, "state"),
    ],
)
def test_what_is_no_state(spoil, says):
    assert says in str(refusal(weather=LATE, state=spoil(run(weather=EARLY))))


def test_a_state_of_other_fields_or_spots():
    end = run(weather=EARLY, soil=FIELDS).isel(time=-1)
    others = wb.Soil(available_water=along([0.12, 0.15], ("north", "east")), rew=8, tew=20)
    assert "have different field labels" in str(refusal(weather=LATE, soil=others, state=end))
    spots = wb.System(delivered_fraction=0.9, spot_share=[1.1, 0.9])
    assert "number of spots" in str(
        refusal(weather=LATE, system=spots, state=run(weather=EARLY).isel(time=-1))
    )


def test_a_state_and_initial_depletions_say_the_same_thing_twice():
    end = run(weather=EARLY).isel(time=-1)
    assert "initial_depletion" in str(refusal(weather=LATE, state=end, initial_depletion=30))


def test_a_run_goes_on_after_harvest():
    """The season is over, but the soil goes on drying and filling."""
    whole = run()
    cut = int(np.flatnonzero(whole.crop_stage.values > 0)[-1]) + 2
    end = run(weather=WEATHER.isel(time=slice(0, cut))).isel(time=-1)
    late = run(weather=WEATHER.isel(time=slice(cut, None)), state=end)
    np.testing.assert_array_equal(late.depletion, whole.depletion[cut:])


# ------------------------------------------------------------------------------ the rule
def test_a_fixed_depth_is_applied_to_the_last_bit():
    season = run(rule=wb.Rule(allowable_depletion=0.3, net_depth=29.85, min_depth=29.85))
    net = season.irrigation_net.values
    assert set(net[net > 0]) == {29.85}


# ------------------------------------------------------------------------------ recorded irrigation
def test_net_and_gross_and_inches():
    table = pd.DataFrame(
        {
            "date": ["2024-05-08", "2024-05-10", "2024-05-10", "2024-05-12"],
            "net_mm": [20, np.nan, np.nan, np.nan],
            "gross_in": [np.nan, 1, 1, np.nan],
            "net_in": [np.nan, np.nan, np.nan, 0.5],
        }
    )
    season = run(irrigation=table, rule=None)
    net = season.irrigation_net.to_series()
    assert net["2024-05-08"] == 20.0
    assert net["2024-05-10"] == pytest.approx(2 * 25.4 * 0.8, rel=1e-14)
    assert net["2024-05-12"] == 12.7
    assert season.irrigation_gross.to_series()["2024-05-10"] == pytest.approx(50.8, rel=1e-14)


def test_the_record_covers_first_to_last_entry_or_up_to_the_day_given():
    two = pd.DataFrame({"date": ["2024-05-10", "2024-05-14"], "net_mm": [5.0, 5.0]})
    free = run(irrigation=two).rule_free.to_series()
    assert list(free.index[free == 0]) == list(pd.date_range("2024-05-10", "2024-05-14"))
    free = run(irrigation=two, recorded_until="2024-05-20").rule_free.to_series()
    assert list(free.index[free == 0]) == list(pd.date_range("2024-05-01", "2024-05-20"))
    free = run(recorded_until="2024-05-03").rule_free.to_series()
    assert free.values.tolist() == [0.0] * 3 + [1.0] * 37


def test_a_record_belongs_to_its_field():
    season = run(irrigation=record(field=["south"]), soil=FIELDS, rule=None)
    assert season.irrigation_net.sum("time").values.tolist() == [0.0, 20.0]


def test_one_record_under_several_systems():
    systems = wb.concat({"drip": wb.System(efficiency=0.9), "gun": wb.System(efficiency=0.65)}, "system")
    season = run(irrigation=record(), system=systems, rule=None)
    np.testing.assert_allclose(season.irrigation_gross.sum("time"), [20 / 0.9, 20 / 0.65], rtol=1e-14)
    gross = pd.DataFrame({"date": ["2024-05-10"], "gross_mm": [20.0]})
    assert "gross" in str(refusal(irrigation=gross, system=systems))


def test_a_trace_of_water_changes_nothing():
    dry, trace = run(rule=None), run(rule=None, irrigation=record(net_mm=[1e-12]))
    np.testing.assert_allclose(trace.depletion, dry.depletion, rtol=0, atol=0.5)
    assert float(trace.wetted_fraction.min()) > 0.1
    assert bool(run(rule=None, irrigation=record(net_mm=[1e-90])).depletion.notnull().all())


@pytest.mark.parametrize(
    ("table", "what", "says", "found", "mend"),
    [
        (record().rename(columns={"net_mm": "net_m"}), "irrigation, column 'net_m'", "unknown", "", "net_mm"),
        (record(feild=["a"]), "irrigation, column 'feild'", "unknown", "", "field"),
        (record().drop(columns="net_mm"), "irrigation", "no depth", "", ""),
        (record().drop(columns="date"), "irrigation", "no column date", "", ""),
        (record(date=["2023-05-10"]), "irrigation, date", "outside", "2023-05-10", ""),
        (record(date=["10/5/2024"]), "irrigation, date", "not a date", "", ""),
        (record(date=[None]), "irrigation, date", "missing", "None", ""),
        (record(gross_mm=[25.0]), "irrigation depth", "exactly one value", "2 values", ""),
        (record(net_mm=[np.nan]), "irrigation depth", "exactly one value", "0 values", ""),
        (record(net_mm=[-5.0]), "irrigation, net_mm", "not a number of 0 or more", "-5", ""),
        (record(net_mm=[np.inf]), "irrigation, net_mm", "not a number of 0 or more", "inf", ""),
        (record(net_mm=["lots"]), "irrigation, net_mm", "not a number of 0 or more", "lots", ""),
        (record(net_mm=[True]), "irrigation, net_mm", "not a number of 0 or more", "True", ""),
        (
            record(net_mm=pd.to_datetime(["2024-05-10"])),
            "irrigation, net_mm",
            "not a number of 0 or more",
            "2024",
            "",
        ),
        ([("2024-05-10", 20)], "irrigation", "not a DataFrame", "list", ""),
    ],
)
def test_faults_of_the_record(table, what, says, found, mend):
    faults = [
        fault for fault in refusal(irrigation=table).faults if fault.what == what and says in fault.problem
    ]
    assert faults, str(refusal(irrigation=table))
    assert found in faults[0].value
    assert mend in faults[0].mend


def test_a_date_with_a_time_zone_in_the_record():
    table = record(date=pd.to_datetime(["2024-05-10"]).tz_localize("UTC"))
    assert "time zone" in str(refusal(irrigation=table))


def test_a_record_of_unknown_fields_names_the_nearest():
    fault = only_fault(irrigation=record(field=["nroth"]), soil=FIELDS)
    assert (fault.what, fault.where, fault.value) == ("irrigation, field", "row 1", "'nroth'")
    assert "did you mean north" in fault.mend


def test_a_record_without_fields_for_several_fields():
    assert "no column field" in str(refusal(irrigation=record(), soil=FIELDS))


def test_gross_depths_need_a_system():
    table = pd.DataFrame({"date": ["2024-05-10"], "gross_mm": [20.0]})
    fault = only_fault(irrigation=table, system=None)
    assert "no one system" in fault.problem
    assert "system=" in fault.mend


def test_all_faults_of_a_record_come_at_once():
    table = pd.DataFrame(
        {"date": ["2023-05-10", "2024-05-11"], "net_mm": [5.0, -1.0], "field": ["north", "weest"]}
    )
    things = {fault.what for fault in refusal(irrigation=table, soil=FIELDS).faults}
    assert things == {"irrigation, date", "irrigation, net_mm", "irrigation, field"}


@pytest.mark.parametrize("value", ["autumn", 20240520, "NaT", pd.Timestamp("2024-05-20", tz="UTC")])
def test_recorded_until_is_a_date(value):
    fault = only_fault(irrigation=record(), recorded_until=value)
    assert fault.what == "recorded_until"


def test_every_name_of_the_result_is_in_the_table_of_variables():
    for name in run().data_vars:
        assert str(name).removeprefix("initial_") in VARIABLES
