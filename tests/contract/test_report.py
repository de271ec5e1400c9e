"""Events, ledger, daily table and picture of four days worked by hand; the arithmetic of published examples.

Available water 200 mm/m. Roots 0.5 m (TAW 100 mm) on days 1 and 2, 0.6 m (120 mm) after; profile 1.1 m. Before
day 1 the root zone lacks 40 mm, the soil below it 10 mm.

day 1  dry; evaporation 1, transpiration 4. Depletion 40 + 5 = 45.
day 2  rain 10, runoff 2, irrigation 45 net: excess 8 above field capacity, of which the day's ET (1.5 + 2.5)
       takes 4 first (FAO-56 Eq. 88), so 4 percolate; depletion 45 - 53 + 4 + 4 = 0. Below: 10 - 4 = 6.
day 3  roots take in 0.1 of the 0.6 m below with 1 of the 6 mm missing there: TAW + 20, depletion + 1, so 19 mm
       are met; ET 2 + 4. Depletion 0 + 1 + 6 = 7, below 5.
day 4  recorded irrigation of 4 mm net on 7 mm of depletion; ET 1 + 2. Depletion 7 - 4 + 3 = 6.
"""

import dataclasses
import json
import sys

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget.balance import Rule, depletion_before, simulate
from waterbudget.crop import Crop, Rotation
from waterbudget.descriptions import with_sources
from waterbudget.errors import InputError
from waterbudget.plan import week_ahead
from waterbudget.report import daily_frame, events, explain, ledger, performance, plot_season
from waterbudget.soil import Soil
from waterbudget.system import System
from waterbudget.variables import attributes

DAYS = pd.date_range("2024-06-01", periods=4)
DAILY = {
    "crop_stage": [1, 1, 1, 1],
    "crop_number": [1, 1, 1, 1],
    "et_ref": [5.0, 4.0, 6.0, 3.0],
    "rain": [0.0, 10.0, 0.0, 0.0],
    "runoff": [0.0, 2.0, 0.0, 0.0],
    "kcb": [0.8, 0.625, 4 / 6, 2 / 3],
    "ke": [0.2, 0.375, 2 / 6, 1 / 3],
    "kc": [1.0] * 4,
    "ks": [1.0] * 4,
    "kc_max": [1.2] * 4,
    "cover": [0.5] * 4,
    "taw": [100.0, 100.0, 120.0, 120.0],
    "raw": [50.0, 50.0, 60.0, 60.0],
    "depletion": [45.0, 0.0, 7.0, 6.0],
    "depletion_below": [10.0, 6.0, 5.0, 5.0],
    "surface_depletion": [10.0, 2.0, 5.0, 2.0],
    "wetted_fraction": [1.0] * 4,
    "root_depth": [0.5, 0.5, 0.6, 0.6],
    "days_since_irrigation": [366.0, 0.0, 1.0, 0.0],
    "met_by_roots": [0.0, 0.0, 19.0, 0.0],
    "percolation": [0.0, 4.0, 0.0, 0.0],
    "drainage": [0.0] * 4,
    "capillary_rise": [0.0] * 4,
    "excess_water": [0.0] * 4,
    "evaporation": [1.0, 1.5, 2.0, 1.0],
    "transpiration": [4.0, 2.5, 4.0, 2.0],
    "et": [5.0, 4.0, 6.0, 3.0],
    "irrigation_net": [0.0, 45.0, 0.0, 4.0],
    "irrigation_gross": [0.0, 56.25, 0.0, 5.0],  # efficiency 0.8
    "application_loss": [0.0, 11.25, 0.0, 1.0],
    "unattributed_loss": [0.0, 11.25, 0.0, 1.0],
    **{
        name: [0.0] * 4
        for name in (
            "leak_loss",
            "conveyance_loss",
            "spray_loss",
            "canopy_loss",
            "irrigation_runoff",
            "extra_irrigation",
            "leaching_irrigation",
        )
    },
    "uptake_factor": [1.0] * 4,
    "rule_free": [1.0, 1.0, 1.0, 0.0],  # the record covers its own day
}
SCALARS = {
    "area": 2.0,
    "flow": np.nan,
    "application_rate": 5.0,
    "efficiency": 0.8,
    "allowable_depletion": 0.4,
    "salt_factor": 1.0,
    "initial_depletion": 40.0,
    "initial_depletion_below": 10.0,
    "initial_taw": 100.0,
    "initial_excess_water": 0.0,
    "spot_share": 1.0,
    "spot_weight": 1.0,
    "spot_watched": 1.0,
    "watch_driest_quarter": 0.0,
    "adequacy": np.nan,
    "over_application": 1.0,
    "wetted_volume": np.nan,
    "refill_to": 0.0,
    "lift": np.nan,
    "operating_pressure": np.nan,
    "pump_efficiency": np.nan,
}
RECORD = [{"date": "2024-06-04", "field": "", "purpose": "germination"}]


def hand_season(**changes):
    """Give the season above; a change is a new scalar or new daily values."""
    values = {**{name: ("time", np.array(v)) for name, v in DAILY.items()}, **SCALARS}
    values.update({k: ("time", v) if np.ndim(v) else v for k, v in changes.items()})
    season = xr.Dataset(values, coords={"time": DAYS}, attrs={"recorded_irrigation": json.dumps(RECORD)})
    for name in season.data_vars:
        season[name].attrs = attributes(name)
    return season


def dry_season():
    """Give day 1 alone: no water came."""
    return hand_season().isel(time=slice(0, 1))


def two_fields():
    """Give two fields on one rain: the south one has an efficiency of 0.5 and no record."""
    north = hand_season()
    south = hand_season(
        irrigation_gross=[0.0, 90.0, 0.0, 8.0], application_loss=[0.0, 45.0, 0.0, 4.0], efficiency=0.5
    )
    both = xr.concat(
        [north, south],
        dim=pd.Index(["north", "south"], name="field"),
        data_vars=["irrigation_gross", "application_loss", "efficiency"],
    )
    both.attrs["recorded_irrigation"] = json.dumps([{**RECORD[0], "field": "north"}])
    return both


# ------------------------------------------------------------------ events
def test_events_are_the_numbers_worked_by_hand():
    frame = events(hand_season())
    assert list(frame.columns) == [
        "date",
        "recorded",
        "purpose",
        "net_mm",
        "gross_mm",
        "volume_m3",
        "hours",
        "wetted_depth_m",
        "depletion_before_mm",
        "energy_kWh",
    ]
    assert frame["date"].tolist() == [DAYS[1], DAYS[3]]
    assert frame["recorded"].tolist() == [False, True]
    assert frame["purpose"].tolist() == ["", "germination"]
    assert frame["net_mm"].tolist() == [45.0, 4.0]
    assert frame["gross_mm"].tolist() == [56.25, 5.0]
    assert frame["volume_m3"].tolist() == [1125.0, 100.0]  # 56.25 mm on 2 ha, 10 m3 per mm and ha
    assert frame["hours"].tolist() == [11.25, 1.0]  # at 5 mm/h
    assert frame["depletion_before_mm"].tolist() == pytest.approx([45.0, 7.0], abs=1e-12)
    # day 2 refills all 0.5 m; day 4 fills 4 of 7 mm missing in 0.6 m
    assert frame["wetted_depth_m"].tolist() == pytest.approx([0.5, 0.6 * 4 / 7], abs=1e-12)


def test_events_hours_come_from_the_flow_where_no_rate_is_given():
    frame = events(hand_season(application_rate=np.nan, flow=50.0))
    assert frame["hours"].tolist() == [22.5, 2.0]  # 1125 m3 at 50 m3/h


def test_events_in_us_units():
    # exact definitions: in = 25.4 mm, ft = 0.3048 m, US gallon = 231 in3 = 3.785411784 L
    frame = events(hand_season(), units="us")
    assert frame.loc[0, "net_in"] == pytest.approx(45 / 25.4, rel=1e-15)
    assert frame.loc[0, "gross_in"] == pytest.approx(56.25 / 25.4, rel=1e-15)
    assert frame.loc[0, "volume_gal"] == pytest.approx(1125 / 0.003785411784, rel=1e-14)
    assert frame.loc[0, "wetted_depth_ft"] == pytest.approx(0.5 / 0.3048, rel=1e-14)
    assert frame.loc[0, "hours"] == 11.25


def test_events_water_on_full_soil_wets_the_root_zone():
    # 4 mm of recorded water on a full root zone: all of it percolates when ET has no share
    full = hand_season(depletion=[45.0, 0.0, 0.0, 3.0], percolation=[0.0, 4.0, 0.0, 4.0])
    frame = events(full)
    assert frame.loc[1, "depletion_before_mm"] == 0.0
    assert frame.loc[1, "wetted_depth_m"] == 0.6


def test_events_without_a_system_have_no_gross():
    nothing = np.full(4, np.nan)
    frame = events(hand_season(irrigation_gross=nothing, area=np.nan, application_rate=np.nan))
    assert len(frame) == 2
    assert frame[["gross_mm", "volume_m3", "hours"]].isna().all(axis=None)
    assert frame["net_mm"].tolist() == [45.0, 4.0]


def test_events_of_a_dry_season_keep_columns_and_types():
    empty, full = events(dry_season()), events(hand_season())
    assert len(empty) == 0
    pd.testing.assert_series_equal(empty.dtypes, full.dtypes)


def test_events_of_fields_keep_every_row_and_tell_whose_record_it_is():
    frame = events(two_fields())
    assert frame["field"].tolist() == ["north", "north", "south", "south"]
    assert frame["recorded"].tolist() == [False, True, False, False]
    assert frame["gross_mm"].tolist() == [56.25, 5.0, 90.0, 8.0]
    alone = events(two_fields().sel(field="north"))
    assert alone["recorded"].tolist() == [False, True]


def test_events_of_a_record_by_field_need_the_label():
    with pytest.raises(InputError, match=r"names fields.*north.*drop=True"):
        events(two_fields().sel(field="north", drop=True))


def test_events_give_no_row_where_the_season_is_missing():
    frame = events(hand_season(irrigation_net=[0.0, 45.0, np.nan, np.nan]))
    assert frame["date"].tolist() == [DAYS[1]]


def test_events_do_not_depend_on_dimension_order():
    season = two_fields()
    pd.testing.assert_frame_equal(events(season.transpose("time", "field")), events(season))


# ------------------------------------------------------------------ ledger
def test_ledger_is_the_sums_worked_by_hand():
    frame = ledger(hand_season())
    assert len(frame) == 1
    row = frame.iloc[0]
    assert (row["start"], row["end"], row["days"], row["irrigations"]) == (DAYS[0], DAYS[3], 4, 2)
    expected = {
        "gross_mm": 61.25,
        "application_loss_mm": 12.25,
        "leak_loss_mm": 0.0,
        "conveyance_loss_mm": 0.0,
        "spray_loss_mm": 0.0,
        "canopy_loss_mm": 0.0,
        "irrigation_runoff_mm": 0.0,
        "unattributed_loss_mm": 12.25,
        "net_mm": 49.0,
        "rain_mm": 10.0,
        "runoff_mm": 2.0,
        "effective_rain_mm": 8 - 4 * 8 / 53,  # 4 mm percolated of 8 mm rain and 45 mm irrigation
        "evaporation_mm": 5.5,
        "transpiration_mm": 12.5,
        "et_mm": 18.0,
        "met_by_roots_mm": 19.0,
        "capillary_rise_mm": 0.0,
        "percolation_mm": 4.0,
        "percolation_from_rain_mm": 4 * 8 / 53,
        "percolation_from_irrigation_mm": 4 * 45 / 53,
        "percolation_from_before_mm": 0.0,
        "drainage_mm": 0.0,
        "transpiration_missed_mm": 0.0,
        "excess_water_mm": 0.0,
        "root_zone_change_mm": (120 - 6) - (100 - 40),  # 19 + 8 + 49 - 4 - 18
        "profile_change_mm": (40 + 10) - (6 + 5),  # 8 + 49 - 0 - 18
        "root_zone_residual_mm": 0.0,
        "profile_residual_mm": 0.0,
        "largest_daily_residual_mm": 0.0,
    }
    assert list(frame.columns) == ["start", "end", "days", "irrigations", "area_ha", "stress_days", *expected]
    assert row["stress_days"] == 0
    assert row["area_ha"] == 2.0
    for name, value in expected.items():
        assert row[name] == pytest.approx(value, abs=1e-12), name


def test_ledger_counts_stress_and_what_it_cost():
    # day 3 under stress: 0.5 of the potential 4 mm; bare soil is never short of water
    stressed = {"ks": [1.0, 1.0, 0.5, 0.9], "transpiration": [4.0, 2.5, 2.0, 2.0], "crop_stage": [1, 1, 1, 0]}
    row = ledger(hand_season(**stressed)).iloc[0]
    assert row["stress_days"] == 1
    assert row["transpiration_missed_mm"] == pytest.approx(2.0, abs=1e-12)


def test_ledger_counts_salt_as_missed_and_not_as_lack_of_water():
    # salt takes a fifth all season, lack of water half of the rest on day 3: without both, 5 + 3.125 + 10 + 2.5 mm
    ks = np.array([0.8, 0.8 * (1 - 1e-12), 0.4, 0.8])
    unstressed = np.array([4.0, 2.5, 4.0, 2.0]) / ks
    kc = np.array(DAILY["ke"]) + unstressed / np.array(DAILY["et_ref"])
    row = ledger(hand_season(ks=ks, kc=kc, salt_factor=0.8)).iloc[0]
    assert row["stress_days"] == 1
    assert row["transpiration_missed_mm"] == pytest.approx(1 + 0.625 + 6 + 0.5, abs=1e-9)


def slowly_drained(**changes):
    """Give the season above on soil that drains slowly, over a water table.

    Before day 1 it holds 2 mm above field capacity in place of lacking 40 mm, and 1 mm of it percolates on day 1,
    dry: 5 mm of ET take the other, so it lacks 4. On day 2 rain and irrigation bring 53 mm, ET takes 4: 45 are in
    excess, of which 30 are held. They leave on day 3 all but what ET (6) and the roots' new soil (1 mm missing)
    take, so 23. On day 4 come 4 mm of irrigation and 0.5 mm from below, ET takes 3: 1.5 are held.
    """
    return hand_season(
        initial_depletion=0.0,
        initial_excess_water=2.0,
        initial_depletion_below=50.0,
        depletion=[4.0, 0.0, 0.0, 0.0],
        excess_water=[0.0, 30.0, 0.0, 1.5],
        percolation=[1.0, 15.0, 23.0, 0.0],
        depletion_below=[49.0, 34.0, 34.0 - 1.0 - 23.0, 10.0],
        capillary_rise=[0.0, 0.0, 0.0, 0.5],
        **changes,
    )


def test_ledger_attributes_slow_percolation_to_the_water_that_came_last():
    row = ledger(slowly_drained()).iloc[0]
    assert row["percolation_mm"] == pytest.approx(39.0, abs=1e-12)
    assert row["percolation_from_before_mm"] == pytest.approx(1.0, abs=1e-12)  # day 1: no water had come yet
    # 15 mm on day 2 and 23 mm on dry day 3, both of its 8 mm of rain and 45 mm of irrigation
    assert row["percolation_from_rain_mm"] == pytest.approx(38 * 8 / 53, abs=1e-12)
    assert row["percolation_from_irrigation_mm"] == pytest.approx(38 * 45 / 53, abs=1e-12)
    assert row["effective_rain_mm"] == pytest.approx(8 - 38 * 8 / 53, abs=1e-12)


def test_ledger_mixes_water_held_with_water_that_comes():
    # 30 mm are held, 8 parts in 53 of them rain. Day 3 brings 10 mm of rain: of these 40 mm, 10 + 30 * 8 / 53
    # are rain, and in this proportion its 23 mm percolate
    row = ledger(slowly_drained(rain=[0.0, 10.0, 10.0, 0.0])).iloc[0]
    share = (10 + 30 * 8 / 53) / 40
    assert row["percolation_from_rain_mm"] == pytest.approx(15 * 8 / 53 + 23 * share, abs=1e-12)
    assert row["percolation_from_irrigation_mm"] == pytest.approx(15 * 45 / 53 + 23 * (1 - share), abs=1e-12)


def test_ledger_closes_with_water_held_and_risen():
    row = ledger(slowly_drained()).iloc[0]
    assert row["largest_daily_residual_mm"] == pytest.approx(0.0, abs=1e-12)
    assert row["capillary_rise_mm"] == 0.5
    assert row["excess_water_mm"] == 1.5
    # root zone: 120 + 1.5 after 100 + 2; profile: 1.5 - 10 after 2 - 50
    assert row["root_zone_change_mm"] == pytest.approx(19.5, abs=1e-12)
    assert row["profile_change_mm"] == pytest.approx(39.5, abs=1e-12)
    lost = ledger(slowly_drained().assign(capillary_rise=("time", [0.0, 0.0, 0.0, 0.0]))).iloc[0]
    assert lost["root_zone_residual_mm"] == pytest.approx(0.5, abs=1e-12)
    assert lost["profile_residual_mm"] == pytest.approx(0.5, abs=1e-12)


def test_ledger_attributes_by_field_and_does_not_reach_back_beyond_the_first_water():
    # the same percolation, on a field where water came and on one that had none before day 4
    late = {"rain": [0.0, 0.0, 0.0, 10.0], "runoff": [0.0] * 4, "irrigation_net": [0.0] * 4}
    both = xr.concat(
        [slowly_drained(), slowly_drained(**late)],
        dim=pd.Index(["wet", "dry"], name="field"),
        data_vars=list(late),
    )
    frame = ledger(both.transpose("time", "field")).set_index("field")
    assert frame.loc["wet", "percolation_from_irrigation_mm"] == pytest.approx(38 * 45 / 53, abs=1e-12)
    assert frame.loc["dry", "percolation_from_before_mm"] == pytest.approx(39.0, abs=1e-12)
    assert frame.loc["dry", ["percolation_from_rain_mm", "percolation_from_irrigation_mm"]].tolist() == [0, 0]


def test_events_read_the_depletion_back_through_water_held_and_risen():
    # day 2: 4 mm were missing; day 4: the full soil held nothing, and lacked nothing, when 4 mm came
    frame = events(slowly_drained())
    assert frame["depletion_before_mm"].tolist() == pytest.approx([4.0, 0.0], abs=1e-12)


def test_depletion_before_is_the_days_balance_turned_round():
    # 20 mm missing, 8 mm rain, 5 mm irrigation, 4 mm ET, 2 mm risen: ends at 20 - 8 - 5 + 4 - 2 = 9
    assert depletion_before(9.0, 4.0, 5.0, 8.0, 0.0, 2.0) == 20.0
    # 3 mm missing, 20 mm rain, 4 mm ET: 13 in excess of which 5 percolate and 8 are held
    assert depletion_before(0.0, 4.0, 0.0, 20.0, 5.0, excess_water=8.0) == 3.0
    # 6 mm held overnight: none was missing
    assert depletion_before(0.0, 4.0, 0.0, 0.0, 2.0) == 0.0


def test_ledger_shows_water_that_is_not_accounted_for():
    row = ledger(hand_season(drainage=[0.0, 0.0, 0.0, 0.5])).iloc[0]
    assert row["profile_residual_mm"] == pytest.approx(0.5, abs=1e-12)
    assert row["largest_daily_residual_mm"] == pytest.approx(0.5, abs=1e-12)
    assert row["root_zone_residual_mm"] == pytest.approx(0.0, abs=1e-12)


def test_ledger_largest_daily_residual_does_not_cancel():
    depletion = np.array(DAILY["depletion"])
    depletion[2] += 0.25  # a slip on day 3 that day 4 takes back
    row = ledger(hand_season(depletion=depletion)).iloc[0]
    assert row["root_zone_residual_mm"] == pytest.approx(0.0, abs=1e-12)
    assert row["largest_daily_residual_mm"] == pytest.approx(0.25, abs=1e-12)


def test_ledger_of_fields_and_units():
    frame = ledger(two_fields(), units="us")
    assert frame["field"].tolist() == ["north", "south"]
    assert frame["gross_in"].tolist() == pytest.approx([61.25 / 25.4, 98 / 25.4], rel=1e-14)
    assert frame["net_in"].tolist() == pytest.approx([49 / 25.4] * 2, rel=1e-14)


def test_ledger_refuses_a_cut_season():
    with pytest.raises(
        InputError, match=r"2 faults(.|\n)*root zone.*2024-06-03(.|\n)*profile.*slice of them"
    ):
        ledger(hand_season().isel(time=slice(2, 4)))


def test_ledger_keeps_a_missing_number_missing():
    row = ledger(hand_season(rain=[0.0, 10.0, 0.0, np.nan])).iloc[0]
    assert np.isnan(row["rain_mm"])
    assert np.isnan(row["effective_rain_mm"])
    assert np.isnan(row["largest_daily_residual_mm"])
    assert row["net_mm"] == 49.0


# ------------------------------------------------------------------ daily table
def test_daily_frame_has_a_row_a_day_and_units_in_its_names():
    frame = daily_frame(two_fields())
    assert len(frame) == 8
    assert list(frame.columns[:5]) == ["field", "date", "crop_stage", "crop_number", "et_ref_mm"]
    assert frame["field"].tolist() == ["north"] * 4 + ["south"] * 4
    assert frame["date"].tolist() == [*DAYS, *DAYS]
    assert frame["irrigation_gross_mm"].tolist() == [0, 56.25, 0, 5, 0, 90, 0, 8]
    assert frame["rain_mm"].tolist() == [0, 10, 0, 0] * 2  # of the station: shared
    assert {"ks", "root_depth_m", "taw_mm", "depletion_mm", "days_since_irrigation"} <= set(frame.columns)


def test_daily_frame_in_us_units():
    frame = daily_frame(hand_season(), units="us")
    assert frame["rain_in"].tolist() == [0.0, 10 / 25.4, 0.0, 0.0]
    assert frame["root_depth_ft"].iloc[0] == pytest.approx(0.5 / 0.3048, rel=1e-15)
    assert not [name for name in frame.columns if name.endswith("_mm")]


# ------------------------------------------------------------------ bad input
@pytest.mark.parametrize("report", [events, ledger, daily_frame])
def test_an_unknown_system_of_units_is_refused(report):
    with pytest.raises(InputError, match=r"units.*'imperial'.*'metric' or 'us'"):
        report(hand_season(), units="imperial")


@pytest.mark.parametrize(
    "report", [events, ledger, daily_frame, plot_season, lambda season: explain(season, "2024-06-01")]
)
def test_what_is_no_season_is_refused(report):
    with pytest.raises(InputError, match="not a Dataset"):
        report(pd.DataFrame({"rain": [1.0]}))
    with pytest.raises(InputError, match="has no days"):
        report(hand_season().isel(time=-1))
    with pytest.raises(InputError, match=r"lacks depletion.*as it came"):
        report(hand_season().drop_vars("depletion"))


def test_a_label_that_bears_a_columns_name_is_refused():
    season = two_fields().rename(field="net_mm")
    season.attrs["recorded_irrigation"] = "[]"
    with pytest.raises(InputError, match="'net_mm'"):
        events(season)


# ------------------------------------------------------------------ picture
@pytest.fixture
def axes():
    figure = pytest.importorskip("matplotlib.figure").Figure()
    return figure.subplots()


def test_plot_draws_on_the_callers_axes(axes):
    assert plot_season(hand_season(), axes) is axes
    low, high = axes.get_ylim()
    assert low > 120 > 0 > -55 > high  # downward: all available water below, the 55 mm bar above
    assert "[mm]" in axes.get_ylabel()
    assert axes.get_xlabel()
    shown = [text.get_text() for text in axes.get_legend().get_texts()]
    assert shown == [
        "depletion of the root zone",
        "allowable depletion",
        "readily available water: stress begins",
        "total available water",
        "rain",
        "net irrigation, recorded",
        "net irrigation, by the rule",
    ]
    lines = {line.get_label(): line.get_ydata() for line in axes.get_lines()}
    assert list(lines["depletion of the root zone"]) == DAILY["depletion"]
    assert list(lines["allowable depletion"]) == pytest.approx([40.0, 40.0, 48.0, 48.0])
    assert list(lines["total available water"]) == DAILY["taw"]


def test_plot_stacks_irrigation_on_rain(axes):
    plot_season(hand_season(), axes)
    second_day = [bar for bar in axes.patches if bar.get_height() and bar.get_x() + 0.5 == bar_day(DAYS[1])]
    spans = sorted(sorted((bar.get_y(), bar.get_y() + bar.get_height())) for bar in second_day)
    assert spans == [[-55.0, -10.0], [-10.0, 0.0]]  # 10 mm of rain, 45 mm of irrigation above it


def test_plot_draws_no_bars_of_nothing(axes):
    plot_season(hand_season(), axes)
    came = sum(np.count_nonzero(DAILY[name]) for name in ("rain", "irrigation_net"))
    assert len(axes.patches) == came


def test_plot_says_of_what_its_lines_and_bars_are(axes):
    def labels(system):
        season = simulate(
            xr.Dataset(
                {
                    "et_ref": ("time", np.full(20, 6.0), {"surface": "short"}),
                    "rain": ("time", np.full(20, 1.0)),
                },
                {"time": pd.date_range("2024-06-01", periods=20)},
            ),
            Crop(kc=1.0, root_depth=0.5, depletion_fraction=0.5),
            Soil(field_capacity=0.3, wilting_point=0.15),
            system,
            Rule(allowable_depletion=0.3),
        )
        plot_season(season, axes)
        shown = [text.get_text() for text in axes.get_legend().get_texts()]
        axes.clear()
        return shown[0], shown[-1]

    rain = "net irrigation, by the rule"
    assert labels(System(efficiency=0.8)) == ("depletion of the root zone", rain)
    uneven = System(delivered_fraction=0.9, spot_share=[0.8, 1.2])
    assert labels(uneven) == ("depletion of the spots looked at", f"{rain}, mean of the field")
    drip = System(efficiency=0.9, wetted_fraction=0.3, wetted_volume=0.4)
    assert labels(drip) == ("depletion of the wetted part", f"{rain}, mean of the field")


def bar_day(day):
    return pytest.importorskip("matplotlib.dates").date2num(day)


def test_plot_shows_readily_available_water_where_the_rule_waits_for_stress(axes):
    plot_season(hand_season(allowable_depletion=np.nan), axes, units="us")
    lines = {line.get_label(): line.get_ydata() for line in axes.get_lines()}
    limit = lines["readily available water: stress begins"]
    assert list(limit) == pytest.approx([value / 25.4 for value in DAILY["raw"]])
    assert "[in]" in axes.get_ylabel()


def test_plot_draws_no_limit_on_bare_soil(axes):
    plot_season(hand_season(crop_stage=[0, 1, 1, 0]), axes)
    limit = next(line for line in axes.get_lines() if line.get_label() == "allowable depletion").get_ydata()
    assert np.isnan(limit).tolist() == [True, False, False, True]


def test_plot_shows_capillary_rise_where_there_is_any(axes):
    plot_season(slowly_drained(), axes)
    labels = [text.get_text() for text in axes.get_legend().get_texts()]
    assert labels[-1] == "capillary rise"
    last = [bar for bar in axes.patches if bar.get_height() and bar.get_x() + 0.5 == bar_day(DAYS[3])]
    spans = sorted(sorted((bar.get_y(), bar.get_y() + bar.get_height())) for bar in last)
    assert spans == [[-4.5, -4.0], [-4.0, 0.0]]  # 0.5 mm risen, above 4 mm of irrigation


def test_plot_takes_one_season_only(axes):
    with pytest.raises(InputError, match=r"'field'.*2 labels.*season.sel\(field=\.\.\.\)"):
        plot_season(two_fields(), axes)


def test_plot_without_matplotlib_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "matplotlib.dates", None)
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    with pytest.raises(ImportError, match=r"pip install waterbudget\[plots\]"):
        plot_season(hand_season())


# ------------------------------------------------------------------ the arithmetic of a day
def example_38(**changes):
    """Give FAO-56 Example 38 (with the surface layer of Example 35) as a season of ten days from 2024-07-01."""
    days = pd.date_range("2024-07-01", periods=10)

    def daily(values):
        return xr.DataArray(np.asarray(values), dims="time", coords={"time": days})

    weather = xr.Dataset(
        {
            "et_ref": daily([4.5, 5.0, 3.9, 4.2, 4.8, 2.7, 5.8, 5.1, 4.7, 5.2]).assign_attrs(surface="short"),
            "rain": daily([0.0] * 5 + [6.0] + [0.0] * 4),
        }
    )
    crop = Crop(
        kcb=daily(np.linspace(0.30, 0.40, 10)),
        cover=daily(np.linspace(0.08, 0.14, 10)),
        root_depth=daily(np.linspace(0.30, 0.35, 10)),
        height=daily([0.3] * 10),
        climate=(1.6, 35.0),
        depletion_fraction=0.6,
        adjust_depletion_fraction=False,
    )
    given = {
        "soil": Soil(field_capacity=0.23, wilting_point=0.10, rew=8.0, tew=18.0),
        "system": System(efficiency=0.8, wetted_fraction=0.8),
        "rule": Rule(),
        "irrigation": pd.DataFrame({"date": ["2024-07-01"], "net_mm": [40.0], "purpose": ["germination"]}),
        "initial_depletion": 78 * 0.3,
        "initial_evaporation_depletion": 18.0,
        "et_share_before_percolation": 0.0,
    }
    return simulate(weather, crop, **{**given, **changes})


def four_fields():
    """Give Example 38 on two fields under two systems."""
    fields, systems = pd.Index(["north", "south"], name="field"), pd.Index(["drip", "gun"], name="system")
    return example_38(
        irrigation=None,
        initial_depletion=xr.DataArray([23.4, 0.0], dims="field", coords={"field": fields}),
        system=System(
            efficiency=xr.DataArray([0.9, 0.65], dims="system", coords={"system": systems}),
            wetted_fraction=0.8,
        ),
    )


def test_explain_shows_the_first_day_of_example_38():
    day = explain(example_38(), "2024-07-01")
    # FAO-56 (1998) Examples 35 and 38, day 1, as printed
    printed = {
        "few": (0.8, 0.005),
        "kr": (1.0, 0.005),
        "kc_max": (1.21, 0.005),
        "ke": (0.91, 0.005),
        "evaporation": (4.1, 0.05),
        "surface_depletion": (5.0, 0.5),
        "kc": (1.21, 0.005),
        "et": (5.5, 0.05),
        "ks": (1.0, 0.0),
        "raw": (23.0, 0.5),
        "percolation": (17.0, 0.5),
        "depletion": (5.0, 0.5),
    }
    for name, (value, tolerance) in printed.items():
        assert abs(day[name].value - value) <= tolerance, name
    # by hand: 130 mm/m of available water in 0.30 m; 40 mm on 23.4 mm of depletion
    assert day["taw"] == (
        "taw",
        "1000 * available_water * root_depth",
        "1000 * 0.13 * 0.3",
        39.0,
        "mm",
        "FAO-56 Eq. 82",
    )
    assert day["excess"].value == pytest.approx(16.6, abs=1e-9)
    assert day["excess"].numbers == "max(0 + 40 - 23.4, 0)"
    assert day["depletion_before"].source == "initial state"
    assert day.verdict == "Irrigated 40 mm net, 50 mm gross: by the record (germination)."
    assert day["irrigation_gross"].numbers == "40 / 0.8"


def test_explain_says_why_the_rule_irrigates():
    day = explain(example_38(), "2024-07-10")
    # FAO-56 Example 38: irrigate on day 10, 27 mm, since 27.2 mm of day 9 exceed its RAW of 26.9 mm
    assert day["irrigation_net"].value == pytest.approx(27.2, abs=0.25)
    assert day["allowance"].value == pytest.approx(78 * (0.30 + 0.05 * 8 / 9), abs=1e-9)
    assert day["allowance"].formula == "raw_before"
    assert "at stress" in day["allowance"].source
    assert day["reached"] == (
        "reached",
        "depletion_before >= allowance",
        day["reached"].numbers,
        1.0,
        "yes or no",
        "FAO-56 ch. 8: irrigate when RAW is used",
    )
    assert "had reached the allowable 26.87 mm" in day.verdict
    assert day["depletion_before"].source == "end of 2024-07-09"


def test_explain_reads_as_text():
    text = str(explain(example_38(), "2024-07-10"))
    assert text.startswith("2024-07-10\nIrrigated 27.")
    assert (
        "  taw = 1000 * available_water * root_depth  [FAO-56 Eq. 82]\n      = 1000 * 0.13 * 0.35 = 45.5 mm\n"
        in text
    )
    assert ": yes\n" in text
    for number in (58, 66, 71, 72, 74, 75, 76, 77, 82, 83, 84, 85, 88):
        shown = text if number != 58 else str(explain(single_coefficient(), "2024-07-02"))
        assert f"FAO-56 Eq. {number}" in shown, number


def single_coefficient():
    """Give three days of a single crop coefficient on a soil without an evaporation layer."""
    days = pd.date_range("2024-07-01", periods=3)
    rain = xr.DataArray([0.0, 20.0, 0.0], dims="time", coords={"time": days})
    weather = xr.Dataset({"rain": rain, "et_ref": (rain * 0 + 5.0).assign_attrs(surface="short")})
    crop = Crop(kc=1.2, root_depth=0.8, depletion_fraction=0.4, adjust_depletion_fraction=False)
    return simulate(weather, crop, Soil(available_water=0.2), initial_depletion=67.0)


def test_explain_of_a_single_coefficient():
    day = explain(single_coefficient(), "2024-07-01")
    # FAO-56 Example 37, day 3: TAW 160, RAW 64, depletion 67, ETc 6.0: Ks 0.97, ETc adj 5.8, end 72.8
    assert day["ks"].value == pytest.approx(0.97, abs=0.005)
    assert day["et"].value == pytest.approx(5.8, abs=0.05)
    assert day["depletion"].value == pytest.approx(72.8, abs=0.05)
    assert day["evaporation"].value == 0.0
    assert day.verdict == "Not irrigated: no rule was given, and nothing is recorded."


@pytest.mark.parametrize(
    ("rule", "date", "said"),
    [
        (Rule(allowable_depletion=0.9), "2024-07-05", "had not reached the allowable"),
        (Rule(allowable_depletion=0.0, min_interval=5), "2024-07-03", "day 2 since the last irrigation"),
        (
            Rule(allowable_depletion=0.0, last_date="2024-07-02"),
            "2024-07-05",
            "last date, 2024-07-02, has passed",
        ),
        (Rule(allowable_depletion=0.0, min_depth=15.0), "2024-07-02", "below the rule's smallest, 15 mm"),
    ],
)
def test_explain_says_why_not(rule, date, said):
    day = explain(example_38(rule=rule), date)
    assert day.verdict.startswith("Not irrigated: ")
    assert said in day.verdict


def test_explain_counts_the_day_on_which_the_interval_is_over():
    # recorded on July 1; five days later is July 6
    day = explain(example_38(rule=Rule(allowable_depletion=0.0, min_interval=5)), "2024-07-06")
    assert day["rested"].numbers == "4 + 1 >= 5"
    assert day["irrigation_net"].value > 0


def test_explain_shows_runoff_and_drip_under_leaves():
    season = example_38(
        soil=Soil(field_capacity=0.23, wilting_point=0.10, rew=8.0, tew=18.0, curve_number=90.0),
        system=System(efficiency=0.9, wetted_fraction=0.3, under_canopy=True),
    )
    wet = explain(season, "2024-07-06")
    # by hand: retention 25400 / 90 - 254 = 28.222 mm, a fifth of it 5.644; 0.3556^2 / (6 + 22.578) = 0.0044 mm
    assert wet["retention"].value == pytest.approx(28.2222, abs=1e-4)
    assert wet["runoff"].value == pytest.approx(0.004424, abs=1e-6)
    assert wet["rain_in"].value == pytest.approx(6 - 0.004424, abs=1e-6)
    # Table 20, note: fw of drip under a canopy is multiplied by 1 - 2/3 of the cover, 0.08 on day 1
    first = explain(season, "2024-07-01")
    assert first["fraction_by_irrigation"].value == pytest.approx(0.3 * (1 - 2 / 3 * 0.08), abs=1e-12)
    assert first["wetted_fraction"].value == first["fraction_by_irrigation"].value


def test_explain_tells_a_recorded_dry_day():
    record = pd.DataFrame({"date": ["2024-07-01", "2024-07-04"], "net_mm": [40.0, 10.0]})
    season = example_38(irrigation=record)
    assert (
        explain(season, "2024-07-02").verdict
        == "Not irrigated: the record covers this day and has no irrigation."
    )
    assert explain(season, "2024-07-04").verdict == "Irrigated 10 mm net, 12.5 mm gross: by the record."


def test_explain_takes_one_field_of_several():
    season = four_fields()
    day = explain(season, "2024-07-01", at={"field": "north", "system": "gun"})
    assert dict(day.labels) == {"field": "north", "system": "gun"}
    assert str(day).startswith("2024-07-01, field north, system gun\n")
    assert day["efficiency"].value == 0.65
    assert day["depletion"].value == season["depletion"].sel(field="north").isel(time=0).to_numpy().ravel()[0]


def test_explain_shows_a_spot_and_decides_by_the_field():
    system = System(delivered_fraction=0.9, spot_share=[0.8, 1.2], wetted_fraction=1.0)
    season = example_38(system=system, irrigation=None)
    dates = [str(day)[:10] for day in events(season)["date"]]
    for date in ("2024-07-01", *dates):
        light, heavy = (explain(season, date, at={"spot": spot}) for spot in (0, 1))
        mean = 0.5 * (light["depletion_before"].value + heavy["depletion_before"].value)
        assert light["mean_depletion_before"].value == pytest.approx(mean, abs=1e-12)
        assert heavy["irrigation"].value == pytest.approx(1.2 * heavy["irrigation_net"].value, abs=1e-12)
    assert ledger(season).loc[0, "largest_daily_residual_mm"] <= 1e-9


def test_explain_lists_every_fault_of_the_call():
    with pytest.raises(InputError) as caught:
        explain(four_fields(), "2024-08-01", at={"field": "west", "farm": 1})
    text = str(caught.value)
    assert text.startswith("4 faults")
    assert "date: is not a day of the season; found 2024-08-01; allowed: 2024-07-01 to 2024-07-10" in text
    assert "at, field: is no label of the season; found 'west'; allowed: north, south" in text
    assert "at: does not say which system; allowed: drip, gun; mend: at={'system': 'drip'}" in text
    assert "at: names the dimension 'farm', which the season does not have" in text


@pytest.mark.parametrize("date", ["soon", None, object(), "2024-06-30", pd.NaT])
def test_explain_refuses_what_is_no_day_of_the_season(date):
    with pytest.raises(InputError, match="date: is not a"):
        explain(example_38(), date)


def test_explain_takes_any_form_of_a_date():
    season = example_38()
    for date in (
        pd.Timestamp("2024-07-02"),
        np.datetime64("2024-07-02"),
        DAYS[0].date().replace(month=7, day=2),
    ):
        assert explain(season, date).date == "2024-07-02"


@pytest.mark.parametrize(
    "name", ["ks", "depletion", "evaporation", "wetted_fraction", "irrigation_net", "rain"]
)
def test_explain_never_shows_arithmetic_that_was_not_computed(name):
    season = example_38()
    season[name] = season[name] + 1e-6
    with pytest.raises(InputError, match=r"is not what the season's own inputs give.*2024-07-10"):
        explain(season, "2024-07-10")


def test_explain_refuses_the_first_day_of_a_cut_season():
    with pytest.raises(InputError, match="with all its days"):
        explain(example_38().isel(time=slice(4, None)), "2024-07-05")


def test_explain_refuses_a_missing_day():
    season = example_38()
    season["depletion"] = season["depletion"].where(season["time"] < np.datetime64("2024-07-08"))
    with pytest.raises(InputError, match=r"missing on this day.*2024-07-08"):
        explain(season, "2024-07-09")


# ------------------------------------------------------------------ options of the day
def bean(**changes):
    """Describe a crop of 28 days from 2024-05-03 on."""
    given = {
        "planted": "2024-05-03",
        "stage_days": (5, 8, 10, 5),
        "kcb": (0.2, 1.1, 0.5),
        "root_depth": (0.2, 0.9),
        "height": 1.0,
        "depletion_fraction": 0.5,
    }
    return Crop(**{**given, **changes})


def may(rain=20.0, days=40):
    """Give weather from 2024-05-01 on: a day of rain every fifth, 5 mm of reference evapotranspiration a day."""
    time = pd.date_range("2024-05-01", periods=days)
    wet = np.where(np.arange(days) % 5 == 4, rain, 0.0)
    return xr.Dataset(
        {"rain": ("time", wet), "et_ref": ("time", np.full(days, 5.0), {"surface": "short"})},
        coords={"time": time},
    )


def loam(**changes):
    return Soil(**{"field_capacity": 0.30, "wilting_point": 0.15, "rew": 8.0, "tew": 20.0, **changes})


def shown_days(season):
    """Explain every day of a season, so that every line is compared with what was computed."""
    return [explain(season, day) for day in season["time"].to_numpy()]


NEW_LINES = {
    "excess_water_before",
    "held",
    "capillary_rise",
    "layer_uptake",
    "salt_factor",
    "evaporation_factor",
    "curve_number_today",
    "crop_number",
    "intake_rate",
}


def test_explain_prints_nothing_of_options_that_are_off():
    for day in shown_days(simulate(may(), bean(), loam())):
        assert not NEW_LINES & {line.name for line in day.lines}
        assert "above field capacity" not in day["depletion_before"].source


def test_explain_shows_the_water_of_layers():
    rows = [
        {"top_m": 0.0, "bottom_m": 0.4, "field_capacity": 0.25, "wilting_point": 0.10},
        {"top_m": 0.4, "bottom_m": 1.2, "field_capacity": 0.32, "wilting_point": 0.20},
    ]
    soil = dataclasses.replace(Soil.from_layers(rows), rew=8.0, tew=20.0)
    season = simulate(may(rain=4.0), bean(), soil, initial_depletion_below=60.0)
    days = shown_days(season)
    # full roots of 0.9 m: 0.4 m of 150 mm/m and 0.5 m of 120 mm/m
    assert days[20]["taw"].value == pytest.approx(60 + 60, abs=1e-9)
    assert "summed over the layers" in days[20]["taw"].source
    assert "of the top layer" in days[20]["available_water"].source
    # growth takes of what lies below in proportion to the available water, here on the first day of growth
    first = days[7]
    assert first["root_depth"].value == pytest.approx(0.2 + 0.7 / 8, abs=1e-12)
    share = (first["taw"].value - 30) / (120 - 30)
    assert first["depletion_moved"].value == pytest.approx(60 * share, abs=1e-9)
    assert days[30]["depletion_moved"].value < 0  # the crop ended on day 30


def test_explain_says_where_roots_stop():
    season = simulate(may(), bean(), loam(restricting_depth=0.5))
    day = shown_days(season)[20]
    assert day["root_depth"].value == 0.5
    assert "restricting depth" in day["root_depth"].source
    assert "restricting" not in explain(season, "2024-05-03")["root_depth"].source


def test_explain_shows_salt():
    crop = bean(salt_threshold=1.0, salt_slope=19.0, yield_response=1.15)
    day = explain(simulate(may(), crop, loam(soil_salinity=2.0)), "2024-05-20")
    # FAO-56 Eq. 89 in Eq. 90, dry beans (Table 23 and 24): 1 - 19 / (100 * 1.15) * (2 - 1)
    assert day["salt_factor"].value == pytest.approx(1 - 0.19 / 1.15, abs=1e-12)
    assert day["ks"].formula.startswith("salt_factor * ")
    assert day["ks"].value == pytest.approx(day["salt_factor"].value, abs=1e-12)  # a moist day
    fresh = explain(simulate(may(), crop, loam(soil_salinity=0.9)), "2024-05-20")
    assert not NEW_LINES & {line.name for line in fresh.lines}


@pytest.mark.parametrize("kind", ["kcb", "kc"])
def test_explain_shows_mulch_and_residue(kind):
    crop = bean(**{"kcb": None, kind: (0.2, 1.1, 0.5)}, evaporation_reduction=0.4, residue_reduction=0.25)
    season = simulate(may(), crop, loam())
    before, standing, after = (
        {line.name: line for line in explain(season, date).lines}
        for date in ("2024-05-02", "2024-05-06", "2024-06-05")
    )
    assert "evaporation_factor" not in before
    assert standing["evaporation_factor"].value == pytest.approx(0.6, abs=1e-12)
    assert "evaporation reduction: given by the user" in standing["evaporation_factor"].source
    assert after["evaporation_factor"].value == 0.75
    assert "residue reduction" in after["evaporation_factor"].source
    acts_on = "evaporation_demand" if kind == "kcb" else "surface_depletion"
    assert "* evaporation_factor" in standing[acts_on].formula
    assert len(shown_days(season)) == 40


def test_explain_shows_a_curve_number_that_follows_the_surface():
    season = simulate(may(rain=40.0), bean(), loam(curve_number=75.0, adjust_curve_number=True))
    wet, dry = explain(season, "2024-05-05"), explain(season, "2024-05-30")
    # Hawkins and others (1985), from memory: CN 75 is 56.8 dry, 87.5 wet
    for day in (wet, dry):
        assert day["curve_number_dry"].value == pytest.approx(56.8, abs=0.05)
        assert day["curve_number_wet"].value == pytest.approx(87.5, abs=0.05)
        # the layer after evaporation of the days before, on the line from 0.5 REW (wet) to 0.7 REW + 0.3 TEW (dry)
        part = np.clip((day["surface_depletion_before"].value - 4.0) / (11.6 - 4.0), 0.0, 1.0)
        between = 87.5401 + part * (56.8074 - 87.5401)
        assert day["curve_number_today"].value == pytest.approx(between, abs=1e-3)
        kept = 25400 / between - 254
        assert day["runoff"].value == pytest.approx((40 - 0.2 * kept) ** 2 / (40 + 0.8 * kept), abs=1e-3)
    assert shown_days(season)[0]["runoff"].value == 0.0


def test_explain_says_how_runoff_was_known():
    given = may().assign(runoff=may()["rain"] * 0.25)
    day = explain(simulate(given, bean(), loam()), "2024-05-05")
    assert (day["runoff"].value, day["runoff"].source) == (5.0, "given with the weather")
    fast = may().assign(rain_intensity=may()["rain"] * 0 + 16.0)
    day = explain(simulate(fast, bean(), loam(intake_rate=12.0)), "2024-05-05")
    assert day["runoff"].value == pytest.approx(20 * (1 - 12 / 16), abs=1e-12)
    assert day["intake_rate"].value == 12.0
    assert "common practice, no source" in day["runoff"].source


def test_explain_shows_water_held_and_let_go():
    soil = loam(saturation=0.45, drainage_fraction=0.4)
    season = simulate(may(rain=60.0), bean(), soil)
    wet, dry = explain(season, "2024-05-15"), explain(season, "2024-05-16")
    left = wet["excess"].value - wet["et_from_excess"].value
    assert left > 0
    assert wet["held"].value == pytest.approx(0.6 * left, abs=1e-9)
    assert wet["percolation"].value == pytest.approx(0.4 * left, abs=1e-9)
    assert dry["rain"].value == 0.0
    assert dry["excess_water_before"].value == wet["excess_water"].value
    assert dry["excess"].value == pytest.approx(
        wet["excess_water"].value - dry["depletion_moved"].value, abs=1e-9
    )
    assert dry["percolation"].value > 0  # without any water coming
    days = shown_days(season)
    assert any("held" not in {line.name for line in day.lines} for day in days)
    # up to saturation and no further: 150 mm/m in 0.2 m, on the first 60 mm
    full = explain(simulate(may(rain=200.0), bean(), soil), "2024-05-05")
    assert full["held"].value == pytest.approx(0.15 * 200, abs=1e-9)


def test_explain_shows_what_rises_and_what_roots_take_from_the_surface():
    soil = loam(water_table_depth=1.6, capillary_a=2.0, capillary_n=2.0)
    season = simulate(may(rain=3.0), bean(surface_uptake=True), soil)
    day = explain(season, "2024-05-26")
    # Gardner (1958): (pi / 2)^2 a / d^2, 0.7 m from the table to full roots
    assert day["capillary_limit"].value == pytest.approx((np.pi / 2) ** 2 * 2.0 / 0.7**2, abs=1e-9)
    missing = day["depletion_without_rise"].value
    assert day["capillary_rise"].value == pytest.approx(
        day["capillary_limit"].value * min(missing / day["raw"].value, 1), abs=1e-9
    )
    assert day["depletion"].value == pytest.approx(missing - day["capillary_rise"].value, abs=1e-9)
    # Allen and others (2005): (0.1 / 0.9)^0.6
    assert day["layer_uptake"].value == pytest.approx((0.1 / 0.9) ** 0.6, abs=1e-12)
    assert day["surface_depletion"].value > day["surface_dried"].value
    assert len(shown_days(season)) == 40


def rotation():
    """Give a crop and, 9 days after its end, another with more mulch and its own p."""
    second = bean(planted="2024-06-09", depletion_fraction=0.3, evaporation_reduction=0.5)
    crops = tuple(
        with_sources(crop, {"depletion_fraction": f"leaflet {number}"})
        for number, crop in enumerate((bean(residue_reduction=0.2), second), start=1)
    )
    return simulate(may(days=80), Rotation(crops=crops), loam(), rule=Rule())


def test_reports_of_a_rotation_tell_its_crops_apart():
    season = rotation()
    first, between, second, after = (
        explain(season, date) for date in ("2024-05-20", "2024-06-04", "2024-06-20", "2024-07-15")
    )
    assert [day["crop_number"].value for day in (first, between, second, after)] == [1, 0, 2, 0]
    assert (first["depletion_fraction"].value, first["depletion_fraction"].source) == (0.5, "leaflet 1")
    assert (second["depletion_fraction"].value, second["depletion_fraction"].source) == (0.3, "leaflet 2")
    assert between["evaporation_factor"].value == 0.8
    assert second["evaporation_factor"].value == 0.5
    assert "evaporation_factor" not in {line.name for line in after.lines}
    assert len(shown_days(season)) == 80
    daily = daily_frame(season)
    assert daily.loc[daily["crop_number"] == 2, "date"].min() == pd.Timestamp("2024-06-09")
    assert ledger(season).loc[0, "largest_daily_residual_mm"] <= 1e-9
    assert (events(season)["net_mm"] > 0).all()


def test_plot_draws_a_rotation(axes):
    plot_season(rotation(), axes)
    limits = {line.get_label(): line.get_ydata() for line in axes.get_lines()}
    bare = np.isnan(limits["readily available water: stress begins"])
    assert bare.sum() == 80 - 2 * 28


@pytest.mark.parametrize(
    "name",
    ["excess_water", "capillary_rise", "salt_factor", "evaporation_factor", "runoff", "taw", "layer_uptake"],
)
def test_explain_refuses_options_that_were_changed_afterwards(name):
    season = simulate(
        may(rain=60.0),
        bean(
            salt_threshold=1.0,
            salt_slope=19.0,
            yield_response=1.15,
            surface_uptake=True,
            evaporation_reduction=0.2,
        ),
        loam(
            saturation=0.45,
            drainage_fraction=0.4,
            soil_salinity=2.0,
            water_table_depth=1.6,
            capillary_a=2.0,
            capillary_n=2.0,
            curve_number=75.0,
            adjust_curve_number=True,
        ),
    )
    explain(season, "2024-05-15")
    season[name] = season[name] + 1e-5
    with pytest.raises(InputError, match=r"is not what the season's own inputs give|does not close"):
        explain(season, "2024-05-15")


def test_reports_of_spots_with_runoff_of_their_own():
    soil = loam(curve_number=80.0, adjust_curve_number=True, saturation=0.45, drainage_fraction=0.5)
    system = System(delivered_fraction=0.9, spot_share=[0.5, 1.5])
    season = simulate(may(rain=45.0), bean(), soil, system, Rule(allowable_depletion=0.1))
    assert "spot" in season["runoff"].dims
    row = ledger(season).iloc[0]
    assert row["largest_daily_residual_mm"] <= 1e-9
    assert row["runoff_mm"] == pytest.approx(float(season["runoff"].mean("spot").sum()), abs=1e-9)
    for spot in (0, 1):
        for day in season["time"].to_numpy():
            explain(season, day, at={"spot": spot})
    assert len(events(season)) == row["irrigations"] > 0


# ------------------------------------------------------------------ runs that go on, fall short or have spots
def season_of(weather, **more):
    soil = Soil(field_capacity=0.23, wilting_point=0.10, rew=8.0, tew=18.0)
    crop = Crop(planted="2024-07-01", stage_days=(5, 5, 20, 5), kcb=(0.2, 1.1, 0.5), root_depth=(0.3, 0.9), height=1.0,
                depletion_fraction=0.5)  # fmt: skip
    return simulate(weather, crop, soil, System(efficiency=0.8), Rule(), **more)


def thirty_days():
    days = pd.date_range("2024-07-01", periods=30)
    rain = np.zeros(30)
    rain[[4, 5, 19]] = 12.0, 60.0, 7.0
    return xr.Dataset(
        {"rain": ("time", rain), "et_ref": ("time", np.full(30, 6.0), {"surface": "short"})},
        coords={"time": days},
    )


def test_a_run_that_goes_on_is_reported_from_where_the_first_stopped():
    weather = thirty_days()
    whole, first = season_of(weather), season_of(weather.isel(time=slice(0, 12)))
    second = season_of(weather.isel(time=slice(12, None)), state=first.isel(time=-1))
    depths = [name for name in ledger(whole).columns if name.endswith("_mm") and "residual" not in name]
    parts = ledger(first)[depths] + ledger(second)[depths]
    pd.testing.assert_frame_equal(parts, ledger(whole)[depths], rtol=1e-12, atol=1e-9)
    assert explain(second, "2024-07-13")["depletion_before"].source == "initial state"
    assert explain(second, "2024-07-13")["depletion"].value == explain(whole, "2024-07-13")["depletion"].value


def test_a_season_that_falls_short_shows_what_is_known():
    weather = thirty_days()
    weather["et_ref"] = weather["et_ref"].where(weather["time"] != np.datetime64("2024-07-20"))
    season = season_of(weather, missing="propagate")
    before = season_of(thirty_days())
    kept = events(before).query("date < '2024-07-20'")
    pd.testing.assert_frame_equal(events(season), kept)
    row = ledger(season).iloc[0]
    assert np.isnan(row["et_mm"])
    assert np.isnan(row["largest_daily_residual_mm"])
    assert row["rain_mm"] == 79.0
    for table in (ledger(season), performance(season)):  # what is not known is not counted as none
        assert np.isnan(table["stress_days"][0])
        assert table["irrigations"].isna().all()
    assert np.isnan(week_ahead(season, "2024-07-18")["stress_days"][0])
    explain(season, "2024-07-19")
    with pytest.raises(InputError, match=r"missing on this day \(11 values\); first at 2024-07-20"):
        explain(season, "2024-07-25")


def test_spots_are_averaged_by_the_part_of_the_field_they_stand_for():
    # full soil, no ET: all that enters percolates; irrigation 10 mm net over spots of 0.5 (3/4) and 2.5 (1/4)
    weather = thirty_days().isel(time=slice(0, 5)).copy(deep=True)
    weather["rain"][:] = [0.0, 0.0, 0.0, 0.0, 8.0]
    weather["et_ref"][:] = 0.0
    season = simulate(
        weather,
        Crop(kc=1.0, root_depth=0.5, depletion_fraction=0.5),
        Soil(available_water=0.1),
        System(delivered_fraction=0.8, spot_share=[0.5, 2.5], spot_weight=[0.75, 0.25]),
        irrigation=pd.DataFrame({"date": ["2024-07-05"], "net_mm": [10.0]}),
        initial_depletion=6.0,
    )
    # spots receive 8 + 5 and 8 + 25 mm on 6 mm of depletion: 7 and 27 mm percolate
    row = ledger(season).iloc[0]
    assert row["percolation_mm"] == pytest.approx(0.75 * 7 + 0.25 * 27, abs=1e-12)
    assert row["percolation_from_rain_mm"] == pytest.approx(0.75 * 7 * 8 / 13 + 0.25 * 27 * 8 / 33, abs=1e-12)
    assert row["profile_residual_mm"] == pytest.approx(0.0, abs=1e-12)
    event = events(season).iloc[0]
    assert event["net_mm"] == 10.0
    assert event["gross_mm"] == 12.5
    assert event["depletion_before_mm"] == pytest.approx(6.0, abs=1e-12)
    assert event["wetted_depth_m"] == 0.5
    assert daily_frame(season)["spot"].tolist() == [0] * 5 + [1] * 5
