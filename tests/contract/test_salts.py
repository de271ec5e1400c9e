"""Leaching and the salt ledger over simulated seasons: what they take, refuse and account for."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from waterbudget import soil as soils

DAYS = pd.date_range("2024-04-01", periods=120, name="time")
LOAM = wb.Soil(field_capacity=0.30, wilting_point=0.10, rew=9, tew=22)
CROP = wb.Crop(
    planted="2024-04-01",
    stage_days=(0, 0, 120, 0),
    kc=(1.0, 1.0, 1.0),
    root_depth=0.5,
    height=0.5,
    depletion_fraction=0.5,
)
WATER = {"water_salinity": 1.2, "crop_salinity": 2.5}
LEDGER = {"water_salinity": 1.2, "soil_water_at_field_capacity": 0.30, "initial_salinity": 1.5}


def season(system=None, rain=0.0, **more):
    wet = np.zeros(120)
    wet[::30] = rain
    weather = xr.Dataset(
        {"et_ref": ("time", np.full(120, 6.0), {"surface": "short"}), "rain": ("time", wet)},
        coords={"time": DAYS, "latitude": 40.0, "elevation": 0.0},
    )
    system = wb.System(efficiency=0.9) if system is None else system
    return wb.simulate(weather, CROP, LOAM, system, wb.Rule(allowable_depletion=0.4), **more)


def refused(call, *args, **kwargs):
    with pytest.raises(wb.InputError) as caught:
        call(*args, **kwargs)
    return str(caught.value)


def test_without_drainage_all_of_the_requirement_is_lacking():
    row = wb.leaching_balance(season(), **WATER).iloc[0]
    requirement = 1.2 / (5 * 2.5 - 1.2)
    assert row["leaching_requirement"] == pytest.approx(requirement)
    assert row["drainage_mm"] == 0.0
    assert row["required_mm"] == pytest.approx(row["irrigation_mm"] * requirement / (1 - requirement))
    assert row["shortfall_mm"] == row["required_mm"]
    assert row["share_short"] == 1.0


def test_uneven_watering_leaches_by_itself():
    uneven = wb.System(delivered_fraction=0.9, spot_share=[0.6, 0.9, 1.1, 1.4])
    row = wb.leaching_balance(season(uneven), **WATER).iloc[0]
    assert row["credited_mm"] > 0
    assert row["shortfall_mm"] < row["required_mm"]
    assert 0 < row["share_short"] < 1  # the wet half is leached, the dry one is not


def test_spray_loss_is_never_credited():
    calm = wb.leaching_balance(season(wb.System(leak_fraction=0.0)), **WATER).iloc[0]
    windy = wb.leaching_balance(season(wb.System(spray_fraction=0.3)), **WATER).iloc[0]
    for name in ("credited_mm", "required_mm", "shortfall_mm"):
        assert windy[name] == calm[name]


@pytest.mark.parametrize("dates", ["with irrigations", ["2024-05-10", "2024-06-20"]])
def test_a_plan_makes_the_shortfall_up(dates):
    run, plans, lacking = season(), [], []
    for _ in range(5):  # what is planned moves later waterings: plan what is left, as the docstring says
        lacking.append(wb.leaching_balance(run, **WATER).iloc[0]["shortfall_mm"])
        if lacking[-1] < 0.5:
            break
        plans.append(wb.plan_leaching(run, **WATER, dates=dates))
        run = season(extra_irrigation=pd.concat(plans))
    assert lacking[0] > 50
    assert lacking == sorted(lacking, reverse=True)
    assert lacking[-1] < 0.5
    assert set(plans[0]["purpose"]) >= {"leaching"}
    kinds = wb.losses(run).set_index("loss")["kind"]
    assert kinds["leaching"] == "intended"


def test_no_shortfall_gives_no_rows():
    plan = wb.plan_leaching(
        season(rain=200.0), water_salinity=0.3, crop_salinity=8.0, dates="with irrigations"
    )
    assert plan.empty
    assert {"date", "net_mm", "purpose"} <= set(plan.columns)


def test_the_ledger_closes_and_salt_stays_where_nothing_drains():
    row = wb.salt_ledger(season(), **LEDGER).iloc[0]
    assert row["salt_drained_t_per_ha"] == 0.0
    irrigated = wb.ledger(season()).iloc[0]["net_mm"]
    assert row["salt_from_irrigation_t_per_ha"] == pytest.approx(soils.leaching.salt_mass(1.2, irrigated))
    assert row["residual_t_per_ha"] == pytest.approx(0.0, abs=1e-9)
    assert row["soil_salinity_at_end_dS_per_m"] > row["soil_salinity_at_start_dS_per_m"] == 1.5


def test_rain_carries_salt_away():
    dry, wet = (wb.salt_ledger(season(rain=depth), **LEDGER).iloc[0] for depth in (0.0, 150.0))
    assert wet["salt_drained_t_per_ha"] > 0
    assert wet["soil_salinity_at_end_dS_per_m"] < dry["soil_salinity_at_end_dS_per_m"]
    half = wb.salt_ledger(season(rain=150.0), **LEDGER, mixing=0.5).iloc[0]
    assert 0 < half["salt_drained_t_per_ha"] < wet["salt_drained_t_per_ha"]


def test_yield_at_the_mean_salinity():
    row = wb.salt_ledger(season(), **LEDGER, salt_threshold=1.7, salt_slope=12.0).iloc[0]
    over = max(row["mean_soil_salinity_dS_per_m"] - 1.7, 0.0)
    assert row["relative_yield_at_mean_salinity"] == pytest.approx(1 - 0.12 * over)
    assert row["relative_yield_at_mean_salinity"] < 1


def test_units():
    metric, us = (
        wb.salt_ledger(season(rain=150.0), **LEDGER, units=units).iloc[0] for units in ("metric", "us")
    )
    # 1 t/ha is 1000/907.18474 tons on 2.47105 acres
    assert us["salt_drained_ton_per_acre"] == pytest.approx(
        metric["salt_drained_t_per_ha"] / 0.90718474 * 0.40468564224
    )


@pytest.mark.parametrize(
    ("call", "given", "words"),
    [
        (wb.leaching_balance, {"water_salinity": 1.2, "requirement": 1.0}, "requirement"),
        (wb.leaching_balance, {"water_salinity": 9.0, "crop_salinity": 2.0}, "1 or more"),
        (wb.leaching_balance, {"water_salinity": -1.0, "crop_salinity": 2.0}, "outside its range"),
        (wb.leaching_balance, {"water_salinity": 1.0}, "crop_salinity"),
        (
            wb.leaching_balance,
            {"water_salinity": 1.0, "crop_salinity": 2.0, "requirement": 0.1},
            "requirement",
        ),
        (wb.salt_ledger, {**LEDGER, "mixing": 0.0}, "mixing"),
        (wb.salt_ledger, {**LEDGER, "initial_salinity": -1.0}, "initial_salinity"),
        (wb.salt_ledger, {**LEDGER, "salt_slope": 12.0}, "salt_threshold"),
    ],
)
def test_what_makes_no_sense_is_refused(call, given, words):
    assert words in refused(call, season(), **given)


def test_formulas_refuse_too():
    assert "1 or more" in refused(soils.leaching_requirement, 9.0, 2.0)
    assert "1 or more" in refused(soils.leaching_requirement_frequent, 9.0, 2.0)
    refused(soils.required_water, 800.0, 1.0)
    refused(soils.steady_state_profile, 1.0, 0.0)
    assert "drainage" in refused(wb.leaching_balance, season().drop_vars("drainage"), **WATER)
