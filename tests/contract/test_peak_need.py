"""The peak need: by hand, from a season of ten days."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from waterbudget.system import pump_keeps_up, required_flow

DAYS = pd.date_range("2024-07-01", periods=10)
ET_REF = np.array([5.0, 5.0, 6.0, 9.0, 8.0, 7.0, 4.0, 4.0, 9.0, 9.0])
CROP = wb.Crop(
    planted="2024-07-02",
    stage_days=(0, 0, 7, 0),
    kc=1.0,
    root_depth=0.8,
    depletion_fraction=0.5,
    adjust_depletion_fraction=False,
)
SOIL = wb.Soil(field_capacity=0.32, wilting_point=0.12, rew=9, tew=20)


def season(et_ref=ET_REF, system=None, **options):
    """Seven days of crop, 2 to 8 July, between bare soil; 20 mm of rain on the hottest day."""
    rain = np.where(np.arange(10) == 3, 20.0, 0.0)
    weather = xr.Dataset(
        {
            "et_ref": (("time", "year")[: np.ndim(et_ref)], et_ref, {"surface": "short"}),
            "rain": ("time", rain),
        },
        coords={"time": DAYS},
    )
    if np.ndim(et_ref) == 2:
        weather = weather.assign_coords(year=["hot", "cool"])
    return wb.simulate(weather, CROP, SOIL, system, **options)


def test_the_hottest_days_on_which_a_crop_stands():
    found = wb.peak_need(season(), days=3)
    assert list(found) == ["first_date", "last_date", "peak_need_mm_per_day"]
    (row,) = found.to_dict("records")
    assert (row["first_date"], row["last_date"]) == (DAYS[3], DAYS[5])
    assert row["peak_need_mm_per_day"] == pytest.approx(
        8.0
    )  # rain on one of them is left out, and so are the last days
    one = wb.peak_need(season(), days=1).iloc[0]
    assert (one["first_date"], one["last_date"]) == (DAYS[3], DAYS[3])
    assert one["peak_need_mm_per_day"] == pytest.approx(9.0)
    assert wb.peak_need(season(), days=7).iloc[0]["peak_need_mm_per_day"] == pytest.approx(43 / 7)


def test_it_is_the_need_and_not_what_a_dry_soil_gave():
    dry = season(initial_depletion=140.0)
    assert float(dry["et"].max()) < 9.0
    assert wb.peak_need(dry, days=3).equals(wb.peak_need(season(), days=3))


def test_by_label_and_over_spots():
    both = season(np.stack([ET_REF, ET_REF / 2], axis=1))
    found = wb.peak_need(both, days=3)
    assert found["year"].tolist() == ["hot", "cool"]
    assert found["peak_need_mm_per_day"].tolist() == pytest.approx([8.0, 4.0])
    spots = wb.System(delivered_fraction=0.9, spot_share=[0.8, 1.2])
    assert wb.peak_need(season(system=spots), days=3).equals(wb.peak_need(season(), days=3))


def test_us_units():
    found = wb.peak_need(season(), days=3, units="us")
    assert found["peak_need_in_per_day"].item() == pytest.approx(8.0 / 25.4)


def test_it_is_what_a_pump_is_held_against():
    need = wb.peak_need(season(), days=3)["peak_need_mm_per_day"].item()
    assert required_flow(need, 10, 20, 0.8) == pytest.approx(10 * 8.0 * 10 / (20 * 0.8))
    assert pump_keeps_up(51, need, 10, 20, 0.8).keeps_up


def test_what_is_not_known():
    longer = wb.peak_need(season(), days=8).iloc[0]  # no crop stands so long
    assert longer.isna().all()
    gap = ET_REF.copy()
    gap[2] = np.nan
    assert wb.peak_need(season(gap, missing="propagate"), days=3).iloc[0].isna().all()


@pytest.mark.parametrize("days", [0, 11, -1, 2.5, True, "3", None])
def test_days_that_are_none(days):
    with pytest.raises(wb.InputError, match="days: is no number of days"):
        wb.peak_need(season(), days=days)


def test_what_is_no_season():
    with pytest.raises(wb.InputError, match="is not a Dataset"):
        wb.peak_need(3)
    with pytest.raises(wb.InputError, match="lacks kc"):
        wb.peak_need(season().drop_vars("kc"))
    with pytest.raises(wb.InputError, match="system of units"):
        wb.peak_need(season(), units="SI")
