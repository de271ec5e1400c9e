"""The week ahead: worked by hand from a season of ten days."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb

DAYS = pd.date_range("2024-07-01", periods=10)


def season(rule: wb.Rule | None = None, system: wb.System | None = None, **options: object) -> xr.Dataset:
    """5 mm a day from 160 mm of available water; 55 mm are missing before the first day."""
    weather = xr.Dataset(
        {"et_ref": ("time", np.full(10, 5.0), {"surface": "short"}), "rain": ("time", np.zeros(10))},
        coords={"time": DAYS, "latitude": 40.0, "elevation": 100.0},
    )
    crop = wb.Crop(kc=1.0, root_depth=0.8, depletion_fraction=0.5, adjust_depletion_fraction=False)
    soil = wb.Soil(field_capacity=0.32, wilting_point=0.12)
    return wb.simulate(weather, crop, soil, system, rule, initial_depletion=55, **options)


def test_a_field_that_falls_due():
    # 55 + 5 + 5 = 65 mm after two days; the allowance is 0.4 * 160 = 64 mm, so day 3 waters 65 mm.
    system = wb.System(efficiency=0.5, area=2.0, flow=20.0)
    week = wb.week_ahead(season(wb.Rule(allowable_depletion=0.4), system), "2024-07-02", days=4)
    assert len(week) == 1
    row = week.iloc[0]
    assert row["depletion_mm"] == pytest.approx(60)
    assert row["allowable_mm"] == pytest.approx(64)
    assert row["irrigations"] == 1
    assert row["next_date"] == pd.Timestamp("2024-07-03")
    assert row["net_mm"] == pytest.approx(65)
    assert row["gross_mm"] == pytest.approx(130)
    assert row["volume_m3"] == pytest.approx(2600)  # 130 mm on 2 ha
    assert row["hours"] == pytest.approx(130)  # at 20 m3/h
    assert row["wetted_depth_m"] == pytest.approx(0.8)
    assert row["et_mm"] == pytest.approx(20)


def test_a_field_that_does_not():
    row = wb.week_ahead(season(wb.Rule(allowable_depletion=0.9)), "2024-07-01").iloc[0]
    assert row["depletion_mm"] == pytest.approx(55)  # before the first day
    assert row["irrigations"] == 0
    assert pd.isna(row["next_date"])
    assert np.isnan(row[["net_mm", "gross_mm", "hours", "wetted_depth_m"]].to_numpy(dtype=float)).all()


def test_salt_alone_is_no_lack_of_water():
    # 55 mm are missing and 5 more each day, RAW is 80 mm: day 7 begins with 85, and it and the 3 after it are short
    dry = season()
    assert wb.week_ahead(dry, "2024-07-01", days=10)["stress_days"].item() == 4
    salty = dry.assign(salt_factor=0.7, ks=dry["ks"] * 0.7)
    assert wb.week_ahead(salty, "2024-07-01", days=10)["stress_days"].item() == 4
    full = dry.assign(salt_factor=0.7, ks=xr.full_like(dry["ks"], 0.7 * (1 - 1e-12)))
    assert wb.week_ahead(full, "2024-07-01", days=10)["stress_days"].item() == 0


def test_a_part_refill_wets_a_part_of_the_root_zone():
    # 65 mm missing over 0.8 m, evenly: 26 mm fill the upper 0.32 m.
    week = wb.week_ahead(season(wb.Rule(allowable_depletion=0.4, net_depth=26)), "2024-07-02")
    assert week["wetted_depth_m"].iloc[0] == pytest.approx(0.8 * 26 / 65)


def test_a_row_for_each_label_and_a_week_cut_short_at_the_end():
    systems = wb.concat({"old": wb.System(efficiency=0.5), "new": wb.System(efficiency=0.8)}, dim="system")
    week = wb.week_ahead(season(wb.Rule(allowable_depletion=0.4), systems), "2024-07-09")
    assert list(week["system"]) == ["old", "new"]
    assert list(week["et_mm"]) == pytest.approx([10, 10])


@pytest.mark.parametrize("today", ["tomorrow", None, "7/4/2024", "2024-07"])
def test_what_is_no_date_is_not_guessed(today):
    with pytest.raises(wb.InputError, match=r"is not a date.*year-month-day"):
        wb.week_ahead(season(), today)


@pytest.mark.parametrize("today", ["2024-06-30", "2024-07-11"])
def test_a_day_outside_the_season(today):
    with pytest.raises(wb.InputError, match="2024-07-01 to 2024-07-10"):
        wb.week_ahead(season(), today)


def test_a_week_of_no_days():
    with pytest.raises(wb.InputError, match="not positive"):
        wb.week_ahead(season(), "2024-07-02", days=0)
