"""What `simulate` refuses and does where crop, soil and weather have to fit one another."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb

DAYS = pd.date_range("2024-05-01", periods=120)
RNG = np.random.default_rng(5)
WEATHER = xr.Dataset(
    {
        "et_ref": ("time", RNG.uniform(2.0, 7.0, 120), {"surface": "short"}),
        "rain": ("time", (RNG.random(120) < 0.3) * RNG.gamma(0.9, 12.0, 120)),
        "tmin": ("time", RNG.uniform(5.0, 15.0, 120)),
        "tmax": ("time", RNG.uniform(18.0, 32.0, 120)),
    },
    coords={"time": DAYS, "latitude": 40.0, "elevation": 0.0},
)
CALENDAR = {"planted": "2024-05-05", "stage_days": (20, 25, 30, 20)}
CROP = wb.Crop(kcb=(0.15, 1.1, 0.4), root_depth=(0.2, 0.8), height=0.9, depletion_fraction=0.5, **CALENDAR)
HEAT = dataclasses.replace(
    CROP, stage_days=None, stage_degree_days=(150, 250, 400, 200), base_temperature=8, upper_temperature=30
)
SOIL = wb.Soil(field_capacity=0.30, wilting_point=0.15, rew=8, tew=22)
TABLE = {"water_table_depth": 2.0, "capillary_a": 4.0, "capillary_n": 2.0}


def refused(**changes):
    with pytest.raises(wb.InputError) as caught:
        wb.simulate(**({"weather": WEATHER, "crop": CROP, "soil": SOIL} | changes))
    return caught.value.faults


def only_fault(**changes):
    (fault,) = refused(**changes)
    return fault


def soil(**changes):
    return dataclasses.replace(SOIL, **changes)


# --------------------------------------------------------------------------- refusals
def test_roots_deeper_than_the_layers():
    layered = wb.Soil(
        field_capacity=(0.3, 0.25), wilting_point=(0.15, 0.12), layer_bottom=(0.3, 0.6), rew=8, tew=22
    )
    two = wb.concat({"north": SOIL, "south": layered}, "field")
    fault = only_fault(soil=two)
    assert fault.what == "crop root_depth"
    assert fault.where == "field south"
    assert "0.8" in fault.value
    assert "0.6" in fault.value
    assert "restricting_depth" in fault.mend
    wb.simulate(WEATHER, CROP, dataclasses.replace(layered, restricting_depth=0.6))


def test_salinity_over_zero_yield_names_the_field():
    salty = soil(soil_salinity=xr.DataArray([3.0, 12.0], dims="field", coords={"field": ["east", "west"]}))
    crop = dataclasses.replace(CROP, salt_threshold=1.7, salt_slope=12.0, yield_response=1.25)
    fault = only_fault(crop=crop, soil=salty)
    assert fault.what == "soil_salinity"
    assert fault.where == "field west"
    assert "leaves no yield" in fault.problem
    assert "12" in fault.value
    assert "10.03" in fault.value


def test_salinity_needs_the_crops_tolerance():
    fault = only_fault(soil=soil(soil_salinity=3.0))
    assert "salt_threshold" in fault.what
    assert "Tables 23 and 24" in fault.mend
    crop = dataclasses.replace(CROP, salt_threshold=1.0, salt_slope=20.0, yield_response=0.5)
    assert "stops transpiration" in only_fault(crop=crop, soil=soil(soil_salinity=4.0)).problem


def test_a_water_table_in_the_root_zone():
    fault = only_fault(soil=soil(**TABLE | {"water_table_depth": 0.7}))
    assert fault.what == "soil water_table_depth"
    assert "0.7" in fault.value
    daily = xr.DataArray(np.full(119, 2.0), dims="time", coords={"time": DAYS[:-1]})
    fault = only_fault(soil=soil(**TABLE | {"water_table_depth": daily}))
    assert fault.value == "119 days"
    assert "interp" in fault.mend


def test_temperatures_that_a_crop_follows_must_be_there():
    cold = WEATHER.drop_vars(["tmin", "tmax"])
    assert {fault.problem.split(",")[0] for fault in refused(weather=cold, crop=HEAT)} == {
        "has no tmin",
        "has no tmax",
    }
    frost = dataclasses.replace(CROP, killing_frost=-2.0)
    assert only_fault(weather=cold, crop=frost).problem.startswith("has no tmin")
    gap = WEATHER.copy(deep=True)
    gap["tmin"][7] = np.nan
    assert only_fault(weather=gap, crop=frost).where == "2024-05-08"


def test_heat_of_days_before_the_weather_is_not_guessed():
    late = WEATHER.isel(time=slice(20, None))
    fault = only_fault(weather=late, crop=HEAT)
    assert fault.what == "crop planted"
    assert "state of an earlier run" in fault.mend


def test_a_stage_that_is_never_completed_names_stage_and_field():
    lengths = xr.DataArray(
        [[150.0, 250, 400, 200], [150, 250, 400, 3000]],
        dims=("field", "stage"),
        coords={"field": ["east", "west"], "stage": ["initial", "development", "mid", "late"]},
    )
    fault = only_fault(crop=dataclasses.replace(HEAT, stage_degree_days=lengths))
    assert fault.what == "stage 'late'"
    assert fault.where == "field west"
    assert "unfinished=True" in fault.mend


def test_intake_needs_intensity_and_runoff_is_told_once():
    fault = only_fault(soil=soil(intake_rate=10.0))
    assert "rain_intensity" in fault.problem
    assert "hourly_runoff" in fault.mend
    sky = WEATHER.assign(rain_intensity=0.0 * WEATHER["rain"])
    assert "not given on a day of rain" in only_fault(weather=sky, soil=soil(intake_rate=10.0)).problem
    known = WEATHER.assign(runoff=0.1 * WEATHER["rain"])
    assert "beside a curve number" in only_fault(weather=known, soil=soil(curve_number=80)).problem
    more = WEATHER.assign(runoff=2.0 * WEATHER["rain"])
    assert "more than the rain" in only_fault(weather=more).problem


# --------------------------------------------------------------------------- what it does
def test_runoff_given_with_the_weather_is_used_as_it_stands():
    known = WEATHER.assign(runoff=0.25 * WEATHER["rain"])
    season = wb.simulate(known, CROP, SOIL)
    np.testing.assert_array_equal(season["runoff"], known["runoff"])


def test_a_crop_by_heat_goes_on_from_an_earlier_run():
    whole = wb.simulate(WEATHER, HEAT, SOIL)
    first = wb.simulate(WEATHER.isel(time=slice(None, 40)), dataclasses.replace(HEAT, unfinished=True), SOIL)
    rest = wb.simulate(WEATHER.isel(time=slice(40, None)), HEAT, SOIL, state=first.isel(time=-1))
    np.testing.assert_array_equal(rest["crop_stage"], whole["crop_stage"][40:])
    np.testing.assert_allclose(rest["depletion"], whole["depletion"][40:], rtol=0, atol=1e-9)
    np.testing.assert_allclose(rest["degree_days"], whole["degree_days"][40:], rtol=0, atol=1e-9)


def test_frost_ends_the_crop_from_mid_season_on():
    cold = WEATHER.copy(deep=True)
    cold["tmin"][[10, 60]] = -3.0  # in the initial stage, and in mid-season
    season = wb.simulate(cold, dataclasses.replace(CROP, killing_frost=-2.0), SOIL)
    stage = season["crop_stage"].values
    assert stage[11] == 1
    assert stage[60] == 3
    assert not stage[61:].any()
    unhurt = wb.simulate(WEATHER, CROP, SOIL)
    np.testing.assert_array_equal(season["depletion"][:61], unhurt["depletion"][:61])


def test_a_rotation_takes_the_field_over_on_planting():
    second = dataclasses.replace(
        CROP,
        planted="2024-07-10",
        kcb=None,
        kc=(0.4, 1.1, 0.6),
        depletion_fraction=0.3,
        root_depth=(0.15, 1.1),
        residue_reduction=0.0,
    )
    first = dataclasses.replace(CROP, residue_reduction=0.4)
    season = wb.simulate(WEATHER, wb.Rotation(crops=(first, second)), SOIL)
    day = int(np.flatnonzero(DAYS == "2024-07-10")[0])
    assert season["crop_number"].values[day - 1] == 1  # the first would stand until August
    assert season["crop_number"].values[day] == 2
    assert float(season["deepest_root"]) == 1.1
    assert season["depletion_fraction"].values[[day - 1, day]].tolist() == [0.5, 0.3]
    assert season["dual"].values[[day - 1, day]].tolist() == [1.0, 0.0]
    assert "crop 2" in season.attrs["sources"]


def test_cuttings_restart_the_crop():
    hay = wb.Crop(
        planted="2024-05-01",
        stage_days=(10, 20, 20, 10),
        kcb=(0.3, 1.1, 1.05),
        root_depth=1.0,
        height=0.7,
        depletion_fraction=0.55,
    )
    regrowth = dataclasses.replace(hay, stage_days=(5, 15, 15, 10))
    plan = wb.Rotation.from_cuttings(hay, regrowth=regrowth, cuttings=["2024-06-15", "2024-07-25"])
    season = wb.simulate(WEATHER, plan, SOIL)
    on = {day: int(np.flatnonzero(DAYS == day)[0]) for day in ("2024-06-15", "2024-06-16", "2024-07-26")}
    assert season["kcb"].values[on["2024-06-15"]] > 1.0
    assert season["kcb"].values[on["2024-06-16"]] == pytest.approx(0.3)
    assert season["kcb"].values[on["2024-07-26"]] == pytest.approx(0.3)
    assert season["crop_number"].values[on["2024-07-26"]] == 3


def test_off_options_take_no_room():
    season = wb.simulate(WEATHER, CROP, wb.concat({"a": SOIL, "b": soil(rew=9)}, "field"))
    for name in ("runoff", "capillary_rise", "excess_water"):
        assert season[name].dims == ("time",)
        assert not season[name].values.any()
    for name in ("capillary_limit", "layer_uptake", "excess_capacity", "degree_days"):
        assert season[name].dims == ()
    for name in ("evaporation_factor", "salt_factor"):
        assert float(season[name]) == 1.0


def test_held_water_does_not_vanish_on_a_soil_that_drains_at_once():
    slow = soil(saturation=0.42, drainage_fraction=0.1)
    wet = WEATHER.isel(time=slice(None, 20)).copy(deep=True)
    wet["rain"][-1] = 200.0
    end = wb.simulate(wet, CROP, slow).isel(time=-1)
    fault = only_fault(weather=WEATHER.isel(time=slice(20, None)), state=end)
    assert fault.what == "state, excess_water"
    assert "drainage_fraction" in fault.mend


def test_a_crop_that_frost_ended_stays_ended_in_the_next_run():
    cold = WEATHER.copy(deep=True)
    cold["tmin"][60] = -3.0
    crop = dataclasses.replace(CROP, killing_frost=-2.0)
    whole = wb.simulate(cold, crop, SOIL, rule=wb.Rule())
    first = wb.simulate(cold.isel(time=slice(None, 65)), crop, SOIL, rule=wb.Rule())
    for cut in (61, 65):  # on the evening of the frost, and later
        end = first.isel(time=cut - 1)
        rest = wb.simulate(cold.isel(time=slice(cut, None)), crop, SOIL, rule=wb.Rule(), state=end)
        np.testing.assert_array_equal(rest["crop_stage"], whole["crop_stage"][cut:])
        np.testing.assert_array_equal(rest["depletion"], whole["depletion"][cut:])


def test_a_frost_nobody_measured_is_not_taken_for_none():
    two = {"field": ["east", "west"]}
    sky = WEATHER.copy()
    sky["tmin"] = (WEATHER["tmin"] + xr.DataArray([0.0, 0.0], dims="field", coords=two)).transpose()
    sky["tmin"][{"field": 1, "time": 60}] = np.nan
    crop = dataclasses.replace(CROP, killing_frost=-2.0)
    season = wb.simulate(sky, crop, SOIL, missing="propagate")
    assert not season["depletion"].sel(field="east").isnull().any()
    lost = season["depletion"].sel(field="west").isnull().values
    assert not lost[:60].any()
    assert lost[60:].all()


def test_heat_nobody_measured_leaves_its_field_unknown_from_then_on():
    two = {"field": ["east", "west"]}
    sky = WEATHER.copy()
    sky["tmin"] = (WEATHER["tmin"] + xr.DataArray([0.0, 0.0], dims="field", coords=two)).transpose()
    sky["tmin"][{"field": 1, "time": 30}] = np.nan
    season = wb.simulate(sky, HEAT, SOIL, missing="propagate")
    assert not season["depletion"].sel(field="east").isnull().any()
    lost = season["depletion"].sel(field="west").isnull().values
    assert not lost[:30].any()
    assert lost[30:].all()


def test_a_rotation_by_heat_goes_on_in_its_second_crop():
    second = dataclasses.replace(
        HEAT, planted="2024-07-20", stage_degree_days=(30.0, 60.0, 80.0, 40.0), depletion_fraction=0.4
    )
    plan = wb.Rotation(crops=(HEAT, second))
    whole = wb.simulate(WEATHER, plan, SOIL)
    cut = 90  # 30 July
    end = whole.isel(time=cut - 1)
    rest = wb.simulate(WEATHER.isel(time=slice(cut, None)), plan, SOIL, state=end)
    np.testing.assert_array_equal(rest["crop_number"], whole["crop_number"][cut:])
    np.testing.assert_array_equal(rest["crop_stage"], whole["crop_stage"][cut:])
    np.testing.assert_allclose(rest["depletion"], whole["depletion"][cut:], rtol=0, atol=1e-9)


def test_a_crop_by_heat_that_frost_ended_is_complete():
    cold = WEATHER.copy(deep=True)
    cold["tmin"][70] = -3.0
    long = dataclasses.replace(HEAT, stage_degree_days=(150.0, 250.0, 400.0, 3000.0), killing_frost=-2.0)
    season = wb.simulate(cold, long, SOIL)
    assert season["crop_stage"].values[70] >= 3
    assert not season["crop_stage"].values[71:].any()


def test_readings_of_another_day_do_not_begin_a_run():
    readings = pd.DataFrame(
        {"date": ["2024-04-20", "2024-04-30"], "top_m": 0.0, "bottom_m": 0.8, "water_content": [0.25, 0.22]}
    )
    found = wb.observed_depletion(readings, SOIL, 0.2)
    for wrong in (found, found.isel(time=0)):
        with pytest.raises(wb.InputError, match=r"initial_depletion: is not of the day before.*2024-04-30"):
            wb.simulate(WEATHER, CROP, SOIL, initial_depletion=wrong)
    season = wb.simulate(WEATHER, CROP, SOIL, initial_depletion=found.isel(time=1))
    assert float(season["initial_depletion"]) == pytest.approx(0.08 * 200)


def test_a_result_says_how_crops_gave_way_to_one_another():
    short = dataclasses.replace(CROP, stage_days=(10, 10, 10, 10))
    second = dataclasses.replace(CROP, planted="2024-06-30")
    told = wb.simulate(WEATHER, wb.Rotation(crops=(short, second)), SOIL).attrs["assumptions"]
    assert "bare for up to 16 days between crops 1 and 2" in told
    early = dataclasses.replace(CROP, planted="2024-06-10")
    told = wb.simulate(WEATHER, wb.Rotation(crops=(CROP, early)), SOIL).attrs["assumptions"]
    assert "takes the field over from crop 1 before its late stage" in told
