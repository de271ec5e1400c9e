"""Outcomes of a season by field and by spot, worked by hand.

Three spots that receive 0.8, 1 and 1.2 of the mean, on a soil of 200 mm/m. The first watering refills a mean
depletion of 50 mm: 40, 50 and 60 mm fall, so 10, 0 and 0 are still missing and 0, 0 and 10 percolate. After
20 mm of evapotranspiration 30, 20 and 20 are missing, 23.33 as a mean: 18.67, 23.33 and 28 fall, and 0, 3.33 and
8 percolate.
"""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget.balance import Rule, simulate
from waterbudget.crop import Crop, Rotation
from waterbudget.errors import InputError
from waterbudget.joining import concat
from waterbudget.report import ledger, relative_yield
from waterbudget.report.performance import performance
from waterbudget.soil import Soil
from waterbudget.system import System

SPOTS = System(delivered_fraction=0.8, spot_share=[0.8, 1.0, 1.2])
RULE = Rule(allowable_depletion=0.25)
SOIL = Soil(available_water=0.2)


def crop(**changes):
    values = {"kc": 1.0, "root_depth": 1.0, "depletion_fraction": 0.5, "adjust_depletion_fraction": False}
    return Crop(**{**values, **changes})


def season_of(
    system=SPOTS, rule=RULE, *, et_ref=(0.0, 10.0, 10.0, 0.0), depletion=50.0, soil=SOIL, **changes
):
    """Give a dry season that begins with 50 mm missing everywhere."""
    weather = xr.Dataset(
        {
            "et_ref": ("time", np.asarray(et_ref), {"surface": "short"}),
            "rain": ("time", np.zeros(len(et_ref))),
        },
        coords={"time": pd.date_range("2024-07-01", periods=len(et_ref))},
    )
    return simulate(weather, crop(**changes), soil, system, rule, initial_depletion=depletion)


def row(season, **options):
    (only,) = performance(season, **options).to_dict("records")
    return only


def test_one_full_refill():
    found = row(season_of(et_ref=(0.0,)))
    assert found["irrigations"] == 1
    assert found["net_mm"] == pytest.approx(50.0)
    assert found["gross_mm"] == pytest.approx(62.5)
    assert found["percolation_from_irrigation_mm"] == pytest.approx(10 / 3)
    assert found["application_efficiency"] == pytest.approx((50 - 10 / 3) / 62.5)
    assert found["delivered"] == pytest.approx(0.8)
    assert found["adequacy"] == pytest.approx(2 / 3)  # the spot that receives the mean is just filled
    assert found["distribution_uniformity"] == pytest.approx(0.8)
    assert found["wettest_spot_percolation_from_irrigation_mm"] == pytest.approx(10.0)
    assert list(found) == [
        "irrigations",
        "gross_mm",
        "net_mm",
        "application_efficiency",
        "delivered",
        "percolation_from_irrigation_mm",
        "percolation_mm",
        "drainage_mm",
        "stress_days",
        "transpiration_missed_mm",
        "et_mm",
        "adequacy",
        "relative_yield",
        "distribution_uniformity",
        "driest_spot_transpiration_missed_mm",
        "driest_spot_relative_yield",
        "wettest_spot_percolation_from_irrigation_mm",
    ]


def test_dry_spots_stay_dry_so_the_next_refill_is_another():
    frame = performance(season_of(rule=Rule(allowable_depletion=0.1)), by="spot")
    second = np.array([0.0, 70 / 3 - 20, 28.0 - 20])
    assert frame["percolation_from_irrigation_mm"].tolist() == pytest.approx(
        [0.0, second[1], second[2] + 10.0]
    )
    assert frame["net_mm"].tolist() == pytest.approx([0.8 * 220 / 3, 220 / 3, 1.2 * 220 / 3])
    # the field's first refill lost 10/3 of 50 mm, the second 3.78 of 23.3: not the closed form of the first
    assert second.mean() / (70 / 3) > 1.5 * (10 / 3) / 50


def test_rows_by_spot():
    frame = performance(season_of(rule=Rule(allowable_depletion=0.1)), by="spot")
    assert list(frame.columns[:4]) == ["spot", "weight", "share", "watched"]
    assert frame["spot"].tolist() == [0, 1, 2]
    assert frame["weight"].tolist() == pytest.approx([1 / 3] * 3)
    assert frame["share"].tolist() == [0.8, 1.0, 1.2]
    assert frame["watched"].tolist() == [True, True, True]
    assert frame["adequacy"].tolist() == [0.0, 1.0, 1.0]
    assert frame["gross_mm"].tolist() == pytest.approx((frame["net_mm"] / 0.8).tolist())
    assert frame["irrigations"].tolist() == [2, 2, 2]


def test_spots_and_field_agree():
    season = season_of(rule=Rule(allowable_depletion=0.5), et_ref=np.full(40, 8.0), yield_response=1.1)
    whole, spots = row(season), performance(season, by="spot")
    for name in ("gross_mm", "net_mm", "percolation_mm", "drainage_mm", "et_mm", "stress_days"):
        assert (spots[name] * spots["weight"]).sum() == pytest.approx(whole[name], abs=1e-9), name
    told = ledger(season).iloc[0]
    for name in ("percolation_from_irrigation_mm", "transpiration_missed_mm", "stress_days", "et_mm"):
        assert told[name] == pytest.approx(whole[name], abs=1e-9), name
    assert whole["adequacy"] == pytest.approx((spots["adequacy"] * spots["weight"]).sum())
    driest = spots.iloc[0]
    assert whole["driest_spot_transpiration_missed_mm"] == pytest.approx(driest["transpiration_missed_mm"])
    assert whole["driest_spot_transpiration_missed_mm"] > 0
    assert whole["driest_spot_relative_yield"] == pytest.approx(driest["relative_yield"])
    assert whole["relative_yield"] == relative_yield(season)["relative_yield"].iloc[0]
    assert driest["relative_yield"] < whole["relative_yield"] < spots["relative_yield"].iloc[-1]


def test_yield_of_a_spot_by_hand():
    # no irrigation: with p = 0.5 and 200 mm, ks = (200 - depletion)/100 once 100 mm are missing; the day begins
    # at 150: ks 0.5, ET 5 of 10; Ky 0.8: 1 - 0.8 * 0.5 at every spot
    season = season_of(rule=None, et_ref=(10.0,), depletion=150.0, yield_response=0.8)
    assert performance(season, by="spot")["relative_yield"].tolist() == pytest.approx([0.6] * 3)
    assert row(season)["driest_spot_relative_yield"] == pytest.approx(0.6)


def test_yield_is_not_known_without_a_response_or_for_crops_in_turn():
    assert np.isnan(row(season_of())["relative_yield"])
    first = Crop(
        planted="2024-07-01",
        stage_days=(1, 1, 1, 1),
        kc=(1.0, 1.0, 1.0),
        root_depth=1.0,
        depletion_fraction=0.5,
        yield_response=1.0,
    )
    second = Crop(
        planted="2024-07-05",
        stage_days=(1, 1, 1, 1),
        kc=(1.0, 1.0, 1.0),
        root_depth=1.0,
        depletion_fraction=0.5,
        yield_response=1.0,
    )
    weather = xr.Dataset(
        {"et_ref": ("time", np.full(8, 5.0), {"surface": "short"}), "rain": ("time", np.zeros(8))},
        coords={"time": pd.date_range("2024-07-01", periods=8)},
    )
    season = simulate(weather, Rotation(crops=(first, second)), SOIL, SPOTS, RULE)
    found = performance(season, by="spot")
    assert found["relative_yield"].isna().all()


def test_even_watering_fills_all_and_has_no_measured_uniformity():
    found = row(season_of(System(efficiency=0.75)))
    assert found["adequacy"] == 1.0
    assert found["application_efficiency"] == pytest.approx(0.75)
    assert np.isnan(found["distribution_uniformity"])
    (only,) = performance(season_of(System(efficiency=0.75)), by="spot").to_dict("records")
    assert only["spot"] == 0
    assert only["weight"] == only["share"] == 1.0


def test_refill_to_a_target_is_filled_at_the_target():
    # leaves a tenth of 200 mm: 30 mm as a mean; the wettest of three spots gets 36, the driest 24
    found = row(season_of(rule=Rule(allowable_depletion=0.25, refill_to=0.1), et_ref=(0.0,)))
    assert found["net_mm"] == pytest.approx(30.0)
    assert found["adequacy"] == pytest.approx(2 / 3)


@pytest.mark.parametrize("less", [{"net_depth": 20.0}, {"max_depth": 20.0}])
def test_an_even_field_whose_rule_does_not_fill_has_no_adequacy_and_no_stress(less):
    # 50 mm are missing and 20 fall everywhere, as the rule means it: filled nowhere, short of water never
    found = row(season_of(System(efficiency=0.75), Rule(allowable_depletion=0.25, **less), et_ref=(0.0,)))
    assert found["net_mm"] == pytest.approx(20.0)
    assert found["adequacy"] == 0.0
    assert found["stress_days"] == 0


def test_adequacy_asked_of_the_rule_is_reached():
    rule = Rule(allowable_depletion=0.25, adequacy=0.9)
    found = row(season_of(rule=rule, et_ref=(0.0,)))
    assert found["net_mm"] == pytest.approx(50 / 0.8)
    assert found["adequacy"] == pytest.approx(1.0)


def test_low_quarter_counts_the_part_of_a_spot_that_fits():
    # a fifth of the field at 0.5 and a twentieth of the next at 1.125: (0.2*0.5 + 0.05*1.125)/0.25 = 0.625
    system = System(delivered_fraction=1.0, spot_share=[1.125, 0.5], spot_weight=[0.8, 0.2])
    assert row(season_of(system))["distribution_uniformity"] == pytest.approx(0.625)


def test_a_corner_is_not_watched():
    season = season_of(SPOTS.with_part(weight=0.25, share=0.0), et_ref=(0.0,))
    whole, spots = row(season), performance(season, by="spot")
    assert whole["net_mm"] == pytest.approx(37.5)  # 50 mm on three quarters of the field
    assert whole["distribution_uniformity"] == pytest.approx(0.8)
    assert whole["adequacy"] == pytest.approx(2 / 3)
    assert spots["watched"].tolist() == [True, True, True, False]
    assert np.isnan(spots["application_efficiency"].iloc[-1])  # nothing was supplied there


def test_a_plant_under_emitters_is_one_spot():
    # half of the root zone is wetted. 100 mm are missing there, 50 over the field; the dry halves receive nothing.
    system = System(
        delivered_fraction=1.0, spot_share=[0.8, 1.0, 1.2], wetted_fraction=0.5, wetted_volume=0.5
    )
    season = season_of(system, et_ref=(0.0,), depletion=100.0)
    assert season.sizes["spot"] == 6
    frame, whole = performance(season, by="spot"), row(season)
    assert frame["weight"].tolist() == pytest.approx([1 / 3] * 3)
    assert frame["share"].tolist() == pytest.approx([0.8, 1.0, 1.2])
    assert frame["watched"].all()
    assert frame["adequacy"].tolist() == [0.0, 1.0, 1.0]
    # the wetted half of the third plant gets 120 mm on 100: 20 percolate there, 10 over the plant
    assert frame["percolation_from_irrigation_mm"].tolist() == pytest.approx([0.0, 0.0, 10.0])
    assert whole["net_mm"] == pytest.approx(50.0)
    assert whole["adequacy"] == pytest.approx(2 / 3)
    assert whole["distribution_uniformity"] == pytest.approx(0.8)
    assert whole["wettest_spot_percolation_from_irrigation_mm"] == pytest.approx(10.0)


def test_without_irrigation_or_system_what_depends_on_it_is_not_known():
    found = row(season_of(rule=None))
    assert found["irrigations"] == 0
    assert np.isnan([found[name] for name in ("application_efficiency", "delivered", "adequacy")]).all()
    unknown = row(season_of(None))
    assert np.isnan([unknown[name] for name in ("gross_mm", "application_efficiency", "delivered")]).all()
    assert unknown["adequacy"] == 1.0


def test_labels_read_alike_alone_and_together():
    systems = {"worn": SPOTS, "new": System(delivered_fraction=0.9, spot_share=[0.9, 1.0, 1.1])}
    together = season_of(concat(systems, dim="system"), et_ref=np.full(20, 8.0), yield_response=1.0)
    for by in ("field", "spot"):
        frame = performance(together, by=by)
        for name in systems:
            alone = performance(together.sel(system=name), by=by)
            rows = frame[frame["system"] == name].drop(columns="system").reset_index(drop=True)
            pd.testing.assert_frame_equal(alone, rows, check_exact=True)
    assert performance(together)["distribution_uniformity"].tolist() == pytest.approx([0.8, 0.9])


def test_units():
    # exact: 1 in = 25.4 mm
    found = row(season_of(et_ref=(0.0,)), units="us")
    assert found["net_in"] == pytest.approx(50 / 25.4)
    assert found["driest_spot_transpiration_missed_in"] == 0.0


def test_bad_input():
    season = season_of()
    with pytest.raises(InputError, match="'field' or 'spot'"):
        performance(season, by="zone")
    with pytest.raises(InputError, match="units"):
        performance(season, units="imperial")
    with pytest.raises(InputError, match="wetted_volume"):
        performance(season.drop_vars("wetted_volume"))
    with pytest.raises(InputError, match="Dataset"):
        performance(None)
