"""Leaching balance, plans and salt ledger of a few days, worked by hand.

A full soil of 300 mm down to 1 m, of them 200 mm available. Day 1: 50 mm of irrigation on a soil that lacks 40 mm, so
that 10 drain. Days 2 and 3: 10 mm of evapotranspiration each. Day 4: 30 mm of rain on 20 missing, so that 10 drain.
"""

import dataclasses

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from waterbudget import soil
from waterbudget.errors import InputError
from waterbudget.report import leaching_balance, leaching_calendar, plan_leaching
from waterbudget.report.losses import divide_percolation
from waterbudget.report.salts import salt_ledger
from waterbudget.soil.leaching import (
    leaching_requirement,
    leaching_requirement_frequent,
    required_water,
    root_zone_salinity,
    salinity_at_yield,
    steady_state_profile,
    uptake_weighted_salinity,
)

DAYS = pd.date_range("2024-07-01", periods=5)
CROP = wb.Crop(kc=1.0, root_depth=1.0, depletion_fraction=0.5, adjust_depletion_fraction=False)
SOIL = wb.Soil(field_capacity=0.30, wilting_point=0.10)
EVEN = wb.System(efficiency=1.0)
SPOTS = wb.System(delivered_fraction=1.0, spot_share=[0.5, 1.5])
SALTS = {"soil_water_at_field_capacity": 0.3, "initial_salinity": 2.0}
T_PER_HA = 640 * 1e-5
"""Of 1 mm of 1 dS/m: 640 mg/L (FAO-29), 10 m3 on a hectare."""


def season_of(
    system=EVEN, *, crop=CROP, soil=SOIL, net=50.0, depletion=40.0, extra=None, et_ref=None, **options
):
    weather = xr.Dataset(
        {
            "et_ref": ("time", np.array(et_ref or [0.0, 10.0, 10.0, 0.0, 0.0]), {"surface": "short"}),
            "rain": ("time", np.array([0.0, 0.0, 0.0, 30.0, 0.0])),
        },
        coords={"time": DAYS},
    )
    record = pd.DataFrame({"date": DAYS[:1], "net_mm": [net]})
    if isinstance(depletion, xr.DataArray):
        record = pd.concat([record.assign(field=label) for label in depletion["field"].values])
    options = {"irrigation": record, "extra_irrigation": extra, "initial_depletion": depletion, **options}
    return wb.simulate(weather, crop, soil, system, **options)


def by_field(**values):
    return xr.DataArray(list(values.values()), dims="field", coords={"field": list(values)})


def only(table):
    (row,) = table.to_dict("records")
    return row


# ------------------------------------------------------------------------------ leaching balance
def test_balance_by_hand():
    # 50 - 10 = 40 mm are kept; LR 0.2: 50 mm are needed, 10 must drain; 20 do.
    row = only(leaching_balance(season_of(), 1.5, requirement=0.2))
    assert row == pytest.approx(
        {
            "water_salinity_dS_per_m": 1.5,
            "irrigation_mm": 50.0,
            "rain_entered_mm": 30.0,
            "capillary_rise_mm": 0.0,
            "et_mm": 20.0,
            "drainage_mm": 20.0,
            "leaching_fraction": 0.25,
            "leaching_requirement": 0.2,
            "irrigation_kept_mm": 40.0,
            "required_mm": 10.0,
            "credited_mm": 20.0,
            "shortfall_mm": 0.0,
            "share_short": 0.0,
            "steady_soil_salinity_dS_per_m": root_zone_salinity(1.5 * 50 / 80, 0.25),
        }
    )
    # 4 dS/m on a crop that stands 2.5: LR 4/8.5; 40 LR/(1 - LR) = 40*4/4.5 must drain
    row = only(leaching_balance(season_of(), 4.0, crop_salinity=2.5))
    assert row["leaching_requirement"] == pytest.approx(4 / 8.5)
    assert row["shortfall_mm"] == pytest.approx(160 / 4.5 - 20)
    assert row["share_short"] == 1.0


def test_balance_in_inches():
    metric, us = (
        only(leaching_balance(season_of(), 1.5, requirement=0.5, units=unit)) for unit in ("metric", "us")
    )
    assert us["shortfall_in"] * 25.4 == pytest.approx(metric["shortfall_mm"])
    assert us["leaching_fraction"] == metric["leaching_fraction"]


def test_spots_that_fall_short_are_told_though_the_field_does_not():
    # 25 mm stay on the dry half, which lacks 15 after them; 40 of 75 on the other, 35 drain. The rain: 30 on 35
    # missing and on 20, so 10 drain. kept 25 and 40, required at 0.2: 6.25 and 10; drained 0 and 45.
    row = only(leaching_balance(season_of(SPOTS), 1.5, requirement=0.2))
    assert row["drainage_mm"] == row["credited_mm"] == pytest.approx(22.5)
    assert row["required_mm"] == pytest.approx(8.125)
    assert row["shortfall_mm"] == 0.0
    assert row["share_short"] == 0.5


def test_rain_on_a_corner_leaches_nothing_that_is_irrigated():
    even = only(leaching_balance(season_of(depletion=0.0, net=0.01), 1.5, requirement=0.2))
    corner = wb.System(delivered_fraction=1.0, spot_share=[1.0]).with_part(weight=0.25, share=0.0)
    row = only(leaching_balance(season_of(corner, depletion=0.0, net=0.01), 1.5, requirement=0.2))
    assert row["drainage_mm"] == pytest.approx(even["drainage_mm"])
    # on three quarters 0.0133 mm of irrigation and 10 of rain drain
    assert row["credited_mm"] == pytest.approx(0.75 * 10 + 0.01)
    assert row["share_short"] == 0.0


def test_no_irrigation_requires_nothing():
    row = only(leaching_balance(season_of(net=0.0, depletion=0.0), 1.5, requirement=0.2))
    assert row["irrigation_kept_mm"] == row["required_mm"] == row["shortfall_mm"] == 0.0
    nothing = season_of(net=0.0, depletion=100.0, et_ref=[0.0] * 5)
    row = only(leaching_balance(nothing, 1.5, requirement=0.2))
    assert row["leaching_fraction"] == 0.0
    assert np.isnan(row["steady_soil_salinity_dS_per_m"])


def test_labels_of_water_and_crop_make_rows():
    frame = leaching_balance(season_of(), by_field(north=1.0, south=4.0), crop_salinity=2.5)
    assert frame["field"].tolist() == ["north", "south"]
    assert frame["leaching_requirement"].tolist() == pytest.approx([1 / 11.5, 4 / 8.5])


# ------------------------------------------------------------------------------ plans
def test_plan_shares_the_shortfall_and_fills_the_soil_first():
    # LR 0.5: 40 mm must drain, 20 do; no water is missing on the evening of day 4
    plan = plan_leaching(season_of(), 1.5, requirement=0.5, dates=["2024-07-03", DAYS[4]])
    assert plan.columns.tolist() == ["date", "net_mm", "purpose"]
    assert plan["date"].tolist() == [DAYS[2], DAYS[2], DAYS[4]]
    # a refill of 20 mm brings salts that 20 mm of leaching carry away
    assert plan["net_mm"].tolist() == pytest.approx([20.0, 20.0, 20.0])
    assert plan["purpose"].tolist() == ["refill for leaching", "leaching", "leaching"]
    season = season_of(extra=plan)
    row = only(leaching_balance(season, 1.5, requirement=0.5))
    assert float(season["leaching_irrigation"].sum()) == pytest.approx(60.0)  # the refill is meant for it
    assert row["shortfall_mm"] == 0.0


def test_what_an_earlier_day_filled_is_not_filled_again():
    # day 2 lacks 10 in the evening, day 3 another 10
    plan = plan_leaching(season_of(), 1.5, requirement=0.5, dates=DAYS[1:3])
    assert plan["net_mm"].tolist() == pytest.approx([10.0, 20.0, 10.0, 20.0])


def test_plan_in_inches_and_with_fields():
    season = season_of(depletion=by_field(north=40.0, south=0.0, east=40.0))
    plan = plan_leaching(
        season, 1.5, requirement=by_field(north=0.5, south=0.01, east=0.6), dates=DAYS[4], units="us"
    )
    # south keeps nothing of its 50 mm: nothing is lacking
    assert plan["field"].tolist() == ["north", "east"]
    assert (plan["net_in"] * 25.4).tolist() == pytest.approx([20.0, 40.0])
    again = season_of(depletion=by_field(north=40.0, south=0.0, east=40.0), extra=plan)
    frame = leaching_balance(again, 1.5, requirement=by_field(north=0.5, south=0.01, east=0.6))
    assert frame["shortfall_mm"].tolist() == pytest.approx([0.0, 0.0, 0.0])


def test_nothing_lacking_is_an_empty_plan_that_runs():
    plan = plan_leaching(season_of(), 1.5, requirement=0.01, dates=DAYS[4])
    assert plan.columns.tolist() == ["date", "net_mm", "purpose"]
    assert len(plan) == 0
    xr.testing.assert_identical(season_of(extra=plan)["drainage"], season_of()["drainage"])


def test_calendar_holds_the_waterings_of_the_season():
    # evening of day 1: nothing is missing, so all of the 20 mm passes
    calendar = leaching_calendar(season_of(), 1.5, requirement=0.5)
    assert calendar["net_mm"].tolist() == pytest.approx([50.0, 20.0])
    assert calendar["purpose"].tolist() == ["", "leaching"]
    assert only(leaching_balance(season_of(irrigation=calendar), 1.5, requirement=0.5))["shortfall_mm"] == 0.0
    enough = leaching_calendar(season_of(), 1.5, requirement=0.01)
    assert enough["net_mm"].tolist() == pytest.approx([50.0])
    # planned again, what was for leaching stays so
    assert leaching_calendar(season_of(irrigation=calendar), 1.5, requirement=0.5)["purpose"].tolist() == [
        "",
        "leaching",
    ]


SUMMER = pd.date_range("2024-04-01", periods=213)


def summer(system, rule, **options):
    """Run a dry summer between showers in spring and autumn, on a soil that is dry below the first roots."""
    season = np.arange(213)
    wet = (season < 30) | (season > 190)
    weather = xr.Dataset(
        {
            "et_ref": ("time", 3.0 + 3.0 * np.sin(season * np.pi / 213), {"surface": "short"}),
            "rain": ("time", np.where(wet & (season % 9 == 0), 9.0, 0.0)),
        },
        coords={"time": SUMMER},
    )
    crop = wb.Crop(
        planted="2024-04-20",
        stage_days=(20, 30, 60, 30),
        kc=(0.4, 1.15, 0.6),
        root_depth=(0.2, 1.0),
        height=1.5,
        depletion_fraction=0.5,
    )
    soil = wb.Soil(field_capacity=0.3, wilting_point=0.15, rew=8, tew=20)
    return wb.simulate(weather, crop, soil, system, rule, initial_depletion_below=30.0, **options)


@pytest.mark.parametrize(
    ("system", "near"),
    [
        (EVEN, 0.02),
        # uneven watering fills its dry spots before they drain
        (wb.System(delivered_fraction=0.9, spot_share=[0.7, 0.9, 1.1, 1.3]), 0.1),
        (
            wb.System(delivered_fraction=0.9, spot_share=[0.9, 1.1], wetted_volume=0.5, wetted_fraction=0.4),
            0.15,
        ),
    ],
)
@pytest.mark.parametrize(
    "rule", [wb.Rule(allowable_depletion=0.4), wb.Rule(allowable_depletion=0.4, refill_to=0.1)]
)
def test_a_season_with_its_calendar_lacks_about_nothing(system, near, rule):
    season = summer(system, rule)
    before = only(leaching_balance(season, 2.5, crop_salinity=2.5))
    assert before["shortfall_mm"] > 50
    calendar = leaching_calendar(season, 2.5, crop_salinity=2.5)
    again = summer(system, rule, irrigation=calendar)
    after = only(leaching_balance(again, 2.5, crop_salinity=2.5))
    left = after["required_mm"] - after["credited_mm"]
    assert abs(left) < near * before["required_mm"]


def test_a_small_leaching_drains_with_a_later_watering_that_was_planned_without_it():
    # 40 mm are missing; 6 mm for leaching come with them, and the day's 10 mm of evapotranspiration take these
    # 6 first: 4 are missing in the evening. The next watering would have filled 10: 6 are too much, and drain.
    waterings = pd.DataFrame(
        {"date": DAYS[[0, 0, 1]], "net_mm": [40.0, 6.0, 10.0], "purpose": ["", "leaching", ""]}
    )
    season = season_of(irrigation=waterings, et_ref=[10.0, 0.0, 0.0, 0.0, 0.0])
    drained = divide_percolation(season)
    assert float(drained["leaching"].sum()) == 0.0
    assert drained["over_watering"].sel(time=DAYS[1]).item() == pytest.approx(6.0)
    told = only(leaching_balance(season, 1.5, requirement=0.2))
    assert told["credited_mm"] == pytest.approx(6.0 + 30.0)  # and the rain on a full soil


def test_a_calendars_over_watering_leaches_as_well():
    season = summer(EVEN, wb.Rule(allowable_depletion=0.4))
    calendar = leaching_calendar(season, 1.0, crop_salinity=2.5)
    again = summer(EVEN, wb.Rule(allowable_depletion=0.4), irrigation=calendar)
    assert float(divide_percolation(season)["over_watering"].sum()) == 0.0
    assert float(divide_percolation(again)["over_watering"].sum()) > 5.0
    told = only(leaching_balance(again, 1.0, crop_salinity=2.5))
    assert told["shortfall_mm"] < 0.01 * told["required_mm"]


def test_leaching_fraction_and_requirement_are_parts_of_other_waters():
    # 20 of 50 + 30 mm drain. LR 0.3 is of the irrigation alone: of 40 / 0.7 mm, and 17.1 mm are less than 20
    told = only(leaching_balance(season_of(), 1.5, requirement=0.3))
    assert told["leaching_fraction"] == pytest.approx(20 / 80)
    assert told["leaching_fraction"] < told["leaching_requirement"] == 0.3
    assert told["required_mm"] == pytest.approx(0.3 * 40 / 0.7)
    assert told["shortfall_mm"] == 0.0


@pytest.mark.parametrize("system", [EVEN, wb.System(delivered_fraction=0.9, spot_share=[0.7, 0.9, 1.1, 1.3])])
def test_leaching_after_harvest_closes_in_a_few_rounds(system):
    rule = wb.Rule(allowable_depletion=0.4)
    season = summer(system, rule)
    dates = ["2024-09-20", "2024-09-25"]
    plan = plan_leaching(season, 2.5, crop_salinity=2.5, dates=dates)
    required = leaching_balance(season, 2.5, crop_salinity=2.5)["required_mm"][0]
    for _ in range(2):
        again = summer(system, rule, extra_irrigation=plan)
        row = only(leaching_balance(again, 2.5, crop_salinity=2.5))
        # bare soil that is wetted evaporates before the second day
        assert abs(row["required_mm"] - row["credited_mm"]) < 0.15 * required
        plan = pd.concat([plan, plan_leaching(again, 2.5, crop_salinity=2.5, dates=dates)])
    final = only(leaching_balance(summer(system, rule, extra_irrigation=plan), 2.5, crop_salinity=2.5))
    assert final["shortfall_mm"] < 0.01 * required


RULE = wb.Rule(allowable_depletion=0.4)


@pytest.mark.parametrize("system", [EVEN, wb.System(delivered_fraction=0.9, spot_share=[0.7, 0.9, 1.1, 1.3])])
@pytest.mark.parametrize("dates", [["2024-09-20"], pd.date_range("2024-05-10", periods=12, freq="9D")])
def test_a_plan_that_is_tried_meets_the_requirement(system, dates):
    """Also one of many small waterings in a dry summer, each of which evaporates in part."""
    tried = []

    def run_with(plan):
        tried.append(plan)
        return summer(system, RULE, extra_irrigation=plan)

    plan = plan_leaching(summer(system, RULE), 2.0, crop_salinity=2.5, dates=dates, rerun=run_with)
    pd.testing.assert_frame_equal(tried[-1], plan)
    assert len(tried) <= len(dates) + 5
    told = only(leaching_balance(run_with(plan), 2.0, crop_salinity=2.5))
    assert told["shortfall_mm"] < 0.1
    # No more than is needed, but for what the last filling of dry spots leaches.
    assert told["credited_mm"] < told["required_mm"] + 10.0
    assert set(plan["date"]) <= set(pd.DatetimeIndex(dates))


def test_a_plan_is_tried_for_several_fields_and_in_inches():
    systems = wb.concat({"even": EVEN, "uneven": wb.System(efficiency=0.8)}, dim="field")
    salty = {"crop_salinity": 2.5, "dates": ["2024-09-20", "2024-09-25"]}
    needs = by_field(even=2.0, uneven=0.0)  # the second water has no salts
    season = summer(systems, RULE)

    def run_with(plan):
        return summer(systems, RULE, extra_irrigation=plan)

    metric = plan_leaching(season, needs, **salty, rerun=run_with)
    inches = plan_leaching(season, needs, **salty, rerun=run_with, units="us")
    assert set(metric["field"]) == {"even"}
    assert (inches["net_in"] * 25.4).tolist() == pytest.approx(metric["net_mm"].tolist())
    left = leaching_balance(run_with(inches), needs, crop_salinity=2.5)
    assert (left["shortfall_mm"] < 0.1).all()


def test_a_plan_that_never_closes_is_refused():
    season, calls = season_of(), []

    def forgetful(plan):
        calls.append(plan)
        return season

    with pytest.raises(
        InputError, match="rerun: still leaves a shortfall of leaching after 20 rounds"
    ) as told:
        plan_leaching(season, 1.5, requirement=0.5, dates=DAYS[4], rerun=forgetful)
    assert "found 20 mm" in str(told.value)
    assert "takes the plan as extra_irrigation" in str(told.value)
    assert len(calls) == 21  # one to fill the soil
    with pytest.raises(InputError, match="season: is not a Dataset"):
        plan_leaching(season, 1.5, requirement=0.5, dates=DAYS[4], rerun=lambda plan: plan)


@pytest.mark.parametrize(
    ("formula", "words"),
    [
        (lambda: soil.leaching_requirement("10", 2), "water_salinity: '10' has no unit"),
        (lambda: soil.leaching_requirement([1, 2], [3, 4, 5]), "water_salinity, crop_salinity: do not fit"),
        (lambda: soil.leaching_shortfall(-5, 20), "required: is outside its range"),
        (lambda: soil.salinity_at_yield(1, None, 0.9), "slope: is not a number"),
        (lambda: soil.root_zone_salinity(1, True), "leaching_fraction: is not a number"),
    ],
)
def test_formulas_name_what_is_no_number(formula, words):
    with pytest.raises(InputError, match=words):
        formula()


def test_formulas_take_lists():
    np.testing.assert_allclose(soil.leaching_requirement([1, 2], 4), [1 / 19, 2 / 18])
    np.testing.assert_allclose(soil.required_water([90.0], 0.1), [100.0])


def test_a_refill_is_planned_once_across_the_end_of_the_crop():
    """What is filled around the roots before harvest lies below them afterwards; it is not wanted again."""
    season = summer(EVEN, wb.Rule(allowable_depletion=0.4, last_date="2024-08-20"))
    days = [f"2024-09-{day:02d}" for day in range(1, 31)]
    rooted = season["root_depth"].sel(time=days).values
    change = int(np.argmax(rooted < rooted[0]))
    assert change > 0  # the crop ends in this month
    dates = [days[change - 1], days[change + 2]]
    refills = [
        plan.loc[plan["purpose"] == "refill for leaching", "net_mm"].sum()
        for plan in (
            plan_leaching(season, 2.5, crop_salinity=2.5, dates=given) for given in (dates, dates[1:])
        )
    ]
    assert refills[1] > 20
    assert refills[0] == pytest.approx(refills[1], abs=1e-6)
    plan = plan_leaching(season, 2.5, crop_salinity=2.5, dates=dates)
    rule = wb.Rule(allowable_depletion=0.4, last_date="2024-08-20")
    told = wb.losses(summer(EVEN, rule, extra_irrigation=plan)).set_index("loss")["depth_mm"]
    assert told["leaching"] > 20
    assert "over-watering" not in told  # the plan is intended, all of it


def test_a_calendar_from_a_day_on_leaves_what_was_before():
    season = summer(EVEN, wb.Rule(allowable_depletion=0.4))
    calendar = leaching_calendar(season, 2.5, crop_salinity=2.5, start="2024-07-01")
    leaching = calendar[calendar["purpose"] == "leaching"]
    assert leaching["date"].min() >= pd.Timestamp("2024-07-01")
    lacking = leaching_balance(season, 2.5, crop_salinity=2.5)["shortfall_mm"][0]
    refill = calendar.loc[calendar["purpose"] == "refill for leaching", "net_mm"].sum()
    needed = lacking + refill * 0.25 / 0.75  # LR 2.5/(12.5 - 2.5)
    assert leaching["net_mm"].sum() == pytest.approx(needed)
    own = calendar[calendar["purpose"] == ""]
    net = season["irrigation_net"].to_series()
    assert own["net_mm"].tolist() == net[net > 0].tolist()
    late = own[own["date"] >= "2024-07-01"]
    parts = leaching["net_mm"].to_numpy() / late["net_mm"].to_numpy()
    assert parts == pytest.approx(needed / late["net_mm"].sum())


# ------------------------------------------------------------------------------ salt ledger
def test_ledger_by_hand():
    # start: 2 dS/m of extract is 4 of soil water, on 300 mm: 1200. Day 1: 260 + 50 mm hold 1200 + 75; 10 drain.
    # Day 4: 280 + 30 mm hold what is left; 10 drain.
    first = 10 * 1275 / 310
    second = 10 * (1275 - first) / 310
    end = 1275 - first - second
    row = only(salt_ledger(season_of(), 1.5, **SALTS, salt_threshold=1.7, salt_slope=12.0))
    mean = np.mean([1275 - first] * 3 + [end] * 2) / 600
    assert row == pytest.approx(
        {
            "salt_at_start_t_per_ha": 1200 * T_PER_HA,
            "salt_from_irrigation_t_per_ha": 75 * T_PER_HA,
            "salt_from_rain_t_per_ha": 0.0,
            "salt_from_water_table_t_per_ha": 0.0,
            "salt_drained_t_per_ha": (first + second) * T_PER_HA,
            "salt_at_end_t_per_ha": end * T_PER_HA,
            "salt_change_t_per_ha": (end - 1200) * T_PER_HA,
            "residual_t_per_ha": 0.0,
            "soil_salinity_at_start_dS_per_m": 2.0,
            "soil_salinity_at_end_dS_per_m": end / 600,
            "mean_soil_salinity_dS_per_m": mean,
            "drainage_salinity_dS_per_m": (first + second) / 20,
            "relative_yield_at_mean_salinity": 1 - 0.12 * (mean - 1.7),
        },
        abs=1e-12,
    )


def test_the_ledgers_yield_counts_its_salts_and_the_seasons_yield_what_was_stated():
    crop = dataclasses.replace(CROP, yield_response=1.25, salt_threshold=1.7, salt_slope=12.0)
    tolerance = {"salt_threshold": 1.7, "salt_slope": 12.0}
    season = season_of(crop=crop)
    found = only(salt_ledger(season, 1.5, **SALTS, **tolerance))
    assert found["relative_yield_at_mean_salinity"] < 0.97
    assert only(wb.performance(season))["relative_yield"] == 1.0  # watered well, and no salt was stated
    # the same salinity stated before the run costs as much, under a single coefficient
    stated = dataclasses.replace(SOIL, soil_salinity=found["mean_soil_salinity_dS_per_m"])
    both = season_of(crop=crop, soil=stated)
    assert only(wb.performance(both))["relative_yield"] == pytest.approx(
        found["relative_yield_at_mean_salinity"]
    )
    # lack of water is in the season's yield alone
    dry = season_of(crop=crop, depletion=190.0, net=10.0)
    assert only(wb.performance(dry))["relative_yield"] < 0.5
    assert only(salt_ledger(dry, 1.5, **SALTS, **tolerance))["relative_yield_at_mean_salinity"] > 0.5


def test_ledger_of_salty_rain_slow_mixing_and_water_by_the_day():
    season = season_of()
    row = only(salt_ledger(season, 1.5, **SALTS, rain_salinity=0.1, mixing=0.5))
    first = 0.5 * 10 * 1275 / 310
    second = 0.5 * 10 * (1275 - first + 3) / 310
    assert row["salt_from_rain_t_per_ha"] == pytest.approx(3 * T_PER_HA)
    assert row["salt_drained_t_per_ha"] == pytest.approx((first + second) * T_PER_HA)
    daily = xr.DataArray([1.5, 9.0, 9.0, 9.0, 9.0], dims="time", coords={"time": DAYS})
    assert salt_ledger(season, daily, **SALTS).equals(salt_ledger(season, 1.5, **SALTS))


def test_ledger_of_spots_is_the_mean_of_each_by_itself():
    together = only(salt_ledger(season_of(SPOTS), 1.5, **SALTS))
    # the same depths as two fields that are watered evenly
    parts = [only(salt_ledger(season_of(net=net), 1.5, **SALTS)) for net in (25.0, 75.0)]
    for name in ("salt_from_irrigation_t_per_ha", "salt_drained_t_per_ha", "soil_salinity_at_end_dS_per_m"):
        assert together[name] == pytest.approx(np.mean([part[name] for part in parts])), name


def test_salts_of_a_drip_are_those_that_the_roots_meet():
    # 150 of 200 mm are missing. 100 mm on the wetted half bring 150 to its 1200: ECe 2.25; the dry half stays at 2. No
    # water drains. On day 2 Ks is 1 and 0.5, and the wetted half gives two thirds; on the other days nothing is drawn.
    drip = wb.System(delivered_fraction=1.0, spot_share=[1.0], wetted_volume=0.5, wetted_fraction=0.5)
    season = season_of(drip, depletion=150.0, et_ref=[0.0, 10.0, 0.0, 0.0, 0.0])
    row = only(salt_ledger(season, 1.5, **SALTS, salt_threshold=1.7, salt_slope=12.0))
    mean = (4 * (2.25 + 2.0) / 2 + (2 * 2.25 + 2.0) / 3) / 5
    assert row["mean_soil_salinity_dS_per_m"] == pytest.approx(mean)
    assert row["relative_yield_at_mean_salinity"] == pytest.approx(1 - 0.12 * (mean - 1.7))
    assert row["soil_salinity_at_end_dS_per_m"] == pytest.approx(2.125)
    # of the ground that is irrigated all lacks leaching: nothing drains
    assert only(leaching_balance(season, 1.5, requirement=0.2))["share_short"] == 1.0


def test_ledger_in_tons_of_2000_pounds_per_acre():
    metric, us = (only(salt_ledger(season_of(), 1.5, **SALTS, units=unit)) for unit in ("metric", "us"))
    # 1 t/ha is 2204.6226 lb on 2.4710538 acres
    ratio = 2204.6226 / 2000 / 2.4710538
    assert us["salt_drained_ton_per_acre"] == pytest.approx(metric["salt_drained_t_per_ha"] * ratio, rel=1e-6)
    assert us["mean_soil_salinity_dS_per_m"] == metric["mean_soil_salinity_dS_per_m"]


def test_ledger_of_labels():
    frame = salt_ledger(
        season_of(), 1.5, soil_water_at_field_capacity=0.3, initial_salinity=by_field(north=1.0, south=2.0)
    )
    assert frame["field"].tolist() == ["north", "south"]
    assert frame["soil_salinity_at_start_dS_per_m"].tolist() == [1.0, 2.0]
    assert "relative_yield_at_mean_salinity" not in frame


def test_ledger_after_harvest_without_drainage():
    crop = wb.Crop(
        planted="2024-07-01",
        stage_days=(1, 1, 1, 1),
        kc=(0.4, 1.0, 0.5),
        root_depth=1.0,
        depletion_fraction=0.5,
        height=0.5,
    )
    soil = wb.Soil(field_capacity=0.30, wilting_point=0.10, rew=8.0, tew=20.0)
    weather = xr.Dataset(
        {"et_ref": ("time", np.full(5, 5.0), {"surface": "short"}), "rain": ("time", np.zeros(5))},
        coords={"time": DAYS},
    )
    grown = wb.simulate(weather, crop, soil, EVEN)
    later = weather.assign_coords(time=DAYS + pd.Timedelta(days=5))
    season = wb.simulate(later, crop, soil, EVEN, state=grown.isel(time=-1))
    row = only(salt_ledger(season, 1.5, **SALTS))
    assert row["soil_salinity_at_end_dS_per_m"] == 2.0  # evaporation leaves the salts behind
    assert np.isnan(row["mean_soil_salinity_dS_per_m"])
    assert np.isnan(row["drainage_salinity_dS_per_m"])


def test_water_that_rises_brings_its_salts():
    soil = wb.Soil(
        field_capacity=0.3, wilting_point=0.1, water_table_depth=1.5, capillary_a=2.0, capillary_n=2.0
    )
    season = season_of(soil=soil)
    rise = float(season["capillary_rise"].sum())
    assert rise > 0
    row = only(salt_ledger(season, 1.5, **SALTS, water_table_salinity=8.0))
    assert row["salt_from_water_table_t_per_ha"] == pytest.approx(8.0 * rise * T_PER_HA)
    with pytest.raises(InputError, match="water rises from the water table"):
        salt_ledger(season, 1.5, **SALTS)


# ------------------------------------------------------------------------------ bad input
@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: leaching_requirement(6.25, 2.5), "is 1 or more: however much"),
        (lambda: leaching_requirement(20.0, 2.5), "is 1 or more: however much"),  # negative denominator
        (lambda: leaching_requirement(-1.0, 2.5), "water_salinity: is outside its range"),
        (
            lambda: leaching_requirement(by_field(a=1.0, b=9.0), 2.5),
            "first at field b; found water_salinity 9, crop",
        ),
        (lambda: leaching_requirement(np.array([9.0, 1.0, 9.0]), 2.5), "2 values"),
        (lambda: leaching_requirement_frequent(20.0, 10.0), "yields nothing"),
        (lambda: leaching_requirement_frequent(1.0, -10.0), "zero_yield_salinity: is outside its range"),
        (lambda: required_water(800.0, 1.0), "no depth of water would be enough"),
        (lambda: required_water(800.0, -0.1), "leaching_requirement: is outside its range"),
        (lambda: steady_state_profile(1.0, 0.0), "build up without end"),
        (lambda: root_zone_salinity(1.0, 1.5), "a fraction, not a percentage"),
        (lambda: uptake_weighted_salinity(1.0, 0.0), "build up without end"),
        (lambda: salinity_at_yield(1.7, 0.0, 0.9), "slope: is not above 0"),
        (lambda: salinity_at_yield(1.7, 12.0, 90.0), "give a fraction, not a percentage"),
        (lambda: leaching_balance(season_of(), 1.5), "are not given"),
        (lambda: leaching_balance(season_of(), 1.5, crop_salinity=2.0, requirement=0.1), "are both given"),
        (lambda: leaching_balance(season_of(), 9.0, crop_salinity=2.0), "is 1 or more"),
        (lambda: leaching_balance(season_of(), 1.5, requirement=1.0), "is 1 or more"),
        (
            lambda: leaching_balance(season_of(), 1.5, requirement=15.0),
            "0 or more, below 1; a fraction, not a percentage",
        ),
        (
            lambda: leaching_balance(season_of(), -1.5, requirement=0.1),
            "water_salinity: is outside its range",
        ),
        (
            lambda: leaching_balance(season_of(), float("nan"), requirement=0.1),
            "water_salinity: is outside its range",
        ),
        (lambda: leaching_balance(season_of().drop_vars("drainage"), 1.5, requirement=0.1), "lacks drainage"),
        (lambda: leaching_balance(season_of(), 1.5, requirement=0.1, units="si"), "no system of units"),
        (
            lambda: leaching_balance(season_of(), season_of()["et_ref"] + 1.0, requirement=0.1),
            "varies along a dimension that it may not have",
        ),
        (
            lambda: leaching_balance(
                season_of(depletion=by_field(a=1.0, b=2.0)), by_field(a=1.0, c=2.0), requirement=0.1
            ),
            "have different field labels",
        ),
        (
            lambda: salt_ledger(season_of(), 1.5, soil_water_at_field_capacity=0.19, initial_salinity=1),
            "too little",
        ),
        (
            lambda: salt_ledger(season_of(), 1.5, soil_water_at_field_capacity=30, initial_salinity=1),
            "outside its range",
        ),
        (
            lambda: salt_ledger(
                season_of(), 1.5, soil_water_at_field_capacity=float("nan"), initial_salinity=1
            ),
            "soil_water_at_field_capacity: is outside its range",
        ),
        (
            lambda: salt_ledger(season_of(), 1.5, soil_water_at_field_capacity=0.3, initial_salinity=-1),
            "outside its range",
        ),
        (
            lambda: salt_ledger(season_of(), 1.5, **SALTS, rain_salinity=-0.1),
            "rain_salinity: is outside its range",
        ),
        (lambda: salt_ledger(season_of(), 1.5, **SALTS, mixing=0.0), "mixing: is outside its range"),
        (lambda: salt_ledger(season_of(), 1.5, **SALTS, salt_slope=12.0), "are not both given"),
        (
            lambda: salt_ledger(season_of().isel(time=slice(1, None)), 1.5, **SALTS),
            "do not follow from the day before",
        ),
        (
            lambda: salt_ledger(season_of().isel(time=[0, 2, 3]), 1.5, **SALTS),
            "do not follow from the day before",
        ),
        (
            lambda: salt_ledger(season_of(), (season_of()["et_ref"] + 1.0).isel(time=slice(3)), **SALTS),
            "has other days than the season",
        ),
        (
            lambda: plan_leaching(season_of(), 1.5, requirement=0.5, dates="with irrigations"),
            "leaching_calendar",
        ),
        (lambda: plan_leaching(season_of(), 1.5, requirement=0.5, dates=[]), "is not a list of dates"),
        (
            lambda: plan_leaching(season_of(), 1.5, requirement=0.5, dates="2025-07-01"),
            "lies outside the season",
        ),
        (lambda: plan_leaching(season_of(), 1.5, requirement=0.5, dates=[DAYS[4], DAYS[4]]), "comes twice"),
        (
            lambda: plan_leaching(season_of(), 1.5, requirement=0.5, dates=DAYS[:2]),
            "day that the record covers",
        ),
        (
            lambda: plan_leaching(season_of(), by_water(a=1.0, b=2.0), crop_salinity=2.5, dates=DAYS[4]),
            "needs other leaching along water",
        ),
        (
            lambda: leaching_calendar(season_of(), 1.5, requirement=0.5, start="2024-07-02"),
            "no irrigation to leach with",
        ),
        (lambda: leaching_calendar(season_of(), 1.5, requirement=0.5, start="July"), "start: is not a date"),
    ],
)
def test_bad_input_is_refused(make, says):
    with pytest.raises(InputError, match=says):
        make()


def by_water(**values):
    return by_field(**values).rename(field="water")


def test_all_faults_are_told_at_once():
    with pytest.raises(InputError) as caught:
        salt_ledger(season_of(), -1.5, soil_water_at_field_capacity=2.0, initial_salinity=-1.0, mixing=2.0)
    assert len(caught.value.faults) == 4


def test_a_season_with_a_missing_day_is_not_planned():
    weather = xr.Dataset(
        {
            "et_ref": ("time", np.array([0.0, 10.0, np.nan, 0.0, 0.0]), {"surface": "short"}),
            "rain": ("time", np.zeros(5)),
        },
        coords={"time": DAYS},
    )
    season = wb.simulate(weather, CROP, SOIL, EVEN, missing="propagate")
    row = only(leaching_balance(season, 1.5, requirement=0.2))
    assert np.isnan(row["shortfall_mm"])
    assert np.isnan(row["share_short"])
    assert np.isnan(only(salt_ledger(season, 1.5, **SALTS))["salt_at_end_t_per_ha"])
    with pytest.raises(InputError, match="shortfall of leaching: is not known"):
        plan_leaching(season, 1.5, requirement=0.2, dates=DAYS[4])
