"""The account of losses: what each millimetre pumped became, worked by hand.

A crop without evapotranspiration on a soil of 200 mm/m, so that the depths are whole numbers.
"""

import dataclasses

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget.balance import Rule, simulate
from waterbudget.crop import Crop
from waterbudget.errors import InputError
from waterbudget.report.losses import losses
from waterbudget.soil import Soil
from waterbudget.system import System

DAYS = pd.date_range("2024-07-01", periods=6)
CROP = Crop(kc=1.0, root_depth=1.0, depletion_fraction=0.5)
SOIL = Soil(available_water=0.2)
SLOW = Soil(field_capacity=0.3, wilting_point=0.1, saturation=0.45, drainage_fraction=0.5)
EVEN = System(efficiency=1.0)
SPOTS = System(delivered_fraction=1.0, spot_share=[0.8, 1.0, 1.2])
EMPTY = Rule(allowable_depletion=0.2)


def weather(rain=0.0, et_ref=0.0):
    """Give six days; rain falls on the first."""
    return xr.Dataset(
        {
            "et_ref": ("time", np.full(6, et_ref), {"surface": "short"}),
            "rain": ("time", np.r_[rain, np.zeros(5)]),
        },
        coords={"time": DAYS},
    )


def record(purpose="", **depth):
    """Give one watering on the first day; the record covers all days, or the rule would go on."""
    return pd.DataFrame({"date": ["2024-07-01"], "purpose": [purpose], **{k: [v] for k, v in depth.items()}})


def water_once(system, depletion, *, soil=SOIL, rain=0.0, purpose="", crop=CROP, **depth):
    table = record(purpose, **depth)
    return simulate(weather(rain), crop, soil, system, irrigation=table, initial_depletion=depletion)


def told(season, **options):
    """Give the rows as a dictionary of loss to (kind, depth)."""
    frame = losses(season, **options)
    depth = next(name for name in frame if name.startswith("depth"))
    return {row["loss"]: (row["kind"], row[depth]) for row in frame.to_dict("records")}


def depths(season):
    return {name: depth for name, (_, depth) in told(season).items()}


def test_each_link_takes_its_part_of_what_arrives():
    # 100 pumped; a tenth leaks: 10 of 100; a fifth of the 90 left is spray loss: 18; of 72 a quarter runs off: 18
    system = System(leak_fraction=0.1, spray_fraction=0.2, runoff_fraction=0.25)
    frame = losses(water_once(system, 60.0, gross_mm=100.0))
    assert list(frame.columns) == ["loss", "kind", "depth_mm", "share_of_gross"]
    assert frame["loss"].tolist() == [
        "pumped",
        "leaks",
        "spray evaporation and wind drift",
        "runoff of irrigation",
        "stored for the crop",
    ]
    assert frame["kind"].tolist() == ["", "waste", "unavoidable", "waste", "used"]
    assert frame["depth_mm"].tolist() == pytest.approx([100.0, 10.0, 18.0, 18.0, 54.0], abs=1e-9)
    assert frame["share_of_gross"].tolist() == pytest.approx([1.0, 0.10, 0.18, 0.18, 0.54], abs=1e-12)


def test_one_efficiency_stays_one_unattributed_loss():
    season = water_once(System(efficiency=0.75), 80.0, net_mm=60.0)
    assert told(season) == {
        "pumped": ("", pytest.approx(80.0)),
        "known only as one fraction": ("unattributed", pytest.approx(20.0)),
        "stored for the crop": ("used", pytest.approx(60.0)),
    }


def test_a_measured_fraction_is_not_called_an_efficiency():
    season = water_once(System(delivered_fraction=0.8, spot_share=[1.0, 1.0]), 80.0, net_mm=60.0)
    assert told(season) == {
        "pumped": ("", pytest.approx(75.0)),
        "known only as one fraction": ("unattributed", pytest.approx(15.0)),
        "stored for the crop": ("used", pytest.approx(60.0)),
    }


def test_water_beyond_a_full_refill_is_waste():
    # 60 mm on a soil that lacks 40
    season = water_once(EVEN, 40.0, net_mm=60.0)
    assert told(season)["over-watering"] == ("waste", pytest.approx(20.0))
    assert depths(season)["stored for the crop"] == pytest.approx(40.0)


def test_leaching_is_intended():
    season = water_once(EVEN, 40.0, net_mm=60.0, purpose="leaching")
    assert told(season) == {
        "pumped": ("", 60.0),
        "leaching": ("intended", pytest.approx(20.0)),
        "stored for the crop": ("used", pytest.approx(40.0)),
    }


def test_over_watering_and_leaching_on_one_day():
    # 25 mm for leaching and 55 mm beside it, on a soil that lacks 40: 40 stay, 15 are too much, 25 leach
    table = pd.concat([record("leaching", net_mm=25.0), record("", net_mm=55.0)])
    season = simulate(weather(), CROP, SOIL, EVEN, irrigation=table, initial_depletion=40.0)
    found = told(season)
    assert found["leaching"] == ("intended", pytest.approx(25.0))
    assert found["over-watering"] == ("waste", pytest.approx(15.0))


def test_rain_on_the_day_of_watering_is_neither_waste_nor_unevenness():
    # 40 mm fill the soil, then 20 mm of rain: of the 20 too many, 40/60 are counted to irrigation
    season = water_once(EVEN, 40.0, net_mm=40.0, rain=20.0)
    assert told(season) == {
        "pumped": ("", 40.0),
        "rain on watered soil": ("unavoidable", pytest.approx(40.0 / 3.0)),
        "stored for the crop": ("used", pytest.approx(80.0 / 3.0)),
    }


def test_uneven_watering_percolates_where_it_is_wet():
    # 50 mm on 50 mm: 60 at the wettest of three spots, of which 10 percolate; 10/3 as a mean
    season = water_once(SPOTS, 50.0, net_mm=50.0)
    assert told(season)["uneven application"] == ("unavoidable", pytest.approx(10.0 / 3.0))
    assert "over-watering" not in told(season)


def test_uneven_watering_and_rain_are_told_apart():
    # spots 40, 50, 60 and rain 5 on 50 mm: 0, 5, 15 percolate, of which irrigation 0, 50/55 of 5, 60/65 of 15.
    # Evenly spread, 50 mm would have lost 50/55 of 5 to the rain.
    season = water_once(SPOTS, 50.0, net_mm=50.0, rain=5.0)
    together = (50 / 55 * 5 + 60 / 65 * 15) / 3
    found = depths(season)
    assert found["rain on watered soil"] == pytest.approx(50 / 55 * 5)
    assert found["uneven application"] == pytest.approx(together - 50 / 55 * 5)


def test_covering_dry_spots_is_not_waste_but_more_than_that_is():
    rule = Rule(allowable_depletion=0.2, adequacy=1.0)
    season = simulate(weather(), CROP, SOIL, SPOTS, rule, initial_depletion=48.0)
    # the driest spot receives 0.8 of the mean: 60 mm; then 48, 60, 72 fall on 48: 0, 12, 24 percolate
    found = depths(season)
    assert found["uneven application"] == pytest.approx(12.0)
    assert "over-watering" not in found
    fixed = Rule(allowable_depletion=0.2, net_depth=75.0)
    too_much = simulate(weather(), CROP, SOIL, SPOTS, fixed, initial_depletion=48.0)
    # 60, 75, 90 on 48: 12, 27, 42 percolate, mean 27, of which all 27 are beyond the mean depletion
    assert told(too_much)["over-watering"] == ("waste", pytest.approx(27.0))
    assert "uneven application" not in told(too_much)


def test_a_rule_that_looks_at_the_driest_quarter_does_not_over_water_by_that():
    # the record leaves 10 mm missing at the driest of three spots, none at the others; then 20 mm of ET
    first = record(net_mm=50.0)
    season = simulate(
        weather(et_ref=5.0),
        CROP,
        SOIL,
        SPOTS,
        Rule(allowable_depletion=0.1, watch_driest_quarter=True),
        irrigation=first,
        initial_depletion=50.0,
        et_share_before_percolation=0.0,
    )
    day = season.isel(time=2)
    assert float(day["irrigation_net"]) == pytest.approx(20.0)  # what the driest spot lacks on day 3
    found = depths(season)
    # spots 16, 20, 24 on 20, 10, 10: 0, 10, 14 percolate, as a mean 8, and 10/3 from the first watering
    assert found["uneven application"] == pytest.approx(8.0 + 10.0 / 3.0)
    assert "over-watering" not in found


def test_slow_drainage_keeps_the_cause_of_what_percolates_later():
    season = water_once(EVEN, 40.0, soil=SLOW, net_mm=60.0)
    assert float((season["percolation"] > 0).sum()) == 6  # half of what is left, day after day
    assert told(season)["over-watering"] == ("waste", pytest.approx(20.0 * (1 - 0.5**6)))
    leached = water_once(EVEN, 40.0, soil=SLOW, net_mm=60.0, purpose="leaching")
    assert told(leached)["leaching"] == ("intended", pytest.approx(20.0 * (1 - 0.5**6)))
    spots = water_once(SPOTS, 50.0, soil=SLOW, net_mm=50.0)
    assert told(spots)["uneven application"][1] == pytest.approx(10.0 / 3.0 * (1 - 0.5**6))


def test_a_corner_without_water_makes_no_unevenness_of_its_own():
    season = water_once(EVEN.with_part(weight=0.2, share=0.0), 40.0, net_mm=48.0)
    # 48 as a mean of the field is 60 on the watered four fifths, which lack 40: 0.8 * 20 too much
    assert told(season)["over-watering"] == ("waste", pytest.approx(16.0))
    assert "uneven application" not in told(season)


def test_under_emitters_a_full_wetted_volume_is_needed_and_no_more():
    # half the root zone lacks 40 mm: 20 mm over the field fill it; 30 are 10 too many
    system = System(efficiency=1.0, wetted_fraction=0.5, wetted_volume=0.5)
    season = water_once(system, 40.0, net_mm=30.0)
    assert told(season)["over-watering"] == ("waste", pytest.approx(10.0))


def test_labels_and_rows_that_are_nothing_anywhere():
    names = pd.Index(["north", "south"], name="field")
    leaks = xr.DataArray([0.0, 0.1], dims="field", coords={"field": names})
    table = pd.DataFrame({"date": "2024-07-01", "field": names, "net_mm": 36.0})
    system = System(leak_fraction=leaks, spray_fraction=0.0)
    season = simulate(weather(), CROP, SOIL, system, irrigation=table, initial_depletion=50.0)
    frame = losses(season)
    assert list(frame.columns[:3]) == ["field", "loss", "kind"]
    assert frame["field"].tolist() == ["north"] * 3 + ["south"] * 3
    assert frame["loss"].tolist() == ["pumped", "leaks", "stored for the crop"] * 2
    assert frame["depth_mm"].tolist() == pytest.approx([36.0, 0.0, 36.0, 40.0, 4.0, 36.0])
    alone = losses(season.sel(field="south"))
    rows = frame.loc[frame["field"] == "south"].drop(columns="field").reset_index(drop=True)
    pd.testing.assert_frame_equal(alone, rows, check_exact=True)


def test_without_irrigation_no_share_is_known():
    season = simulate(weather(), CROP, SOIL, EVEN, initial_depletion=20.0)
    frame = losses(season)
    assert frame["loss"].tolist() == ["pumped", "stored for the crop"]
    assert frame["depth_mm"].tolist() == [0.0, 0.0]
    assert frame["share_of_gross"].isna().all()


def test_without_a_system_what_was_pumped_and_lost_is_not_known():
    frame = losses(water_once(None, 40.0, net_mm=60.0))
    known = frame.set_index("loss")["depth_mm"].dropna()
    assert known.to_dict() == {
        "over-watering": pytest.approx(20.0),
        "stored for the crop": pytest.approx(40.0),
    }
    assert np.isnan(frame["depth_mm"].iloc[0])


def test_a_missing_day_makes_no_number():
    gap = weather()
    gap["rain"][3] = np.nan
    season = simulate(
        gap, CROP, SOIL, EVEN, irrigation=record(net_mm=60.0), initial_depletion=40.0, missing="propagate"
    )
    frame = losses(season).set_index("loss")
    assert np.isnan(frame.loc["pumped", "depth_mm"])
    assert np.isnan(frame.loc["stored for the crop", "depth_mm"])


def test_units():
    season = water_once(EVEN, 40.0, net_mm=60.0)
    frame = losses(season, units="us")
    assert frame["depth_in"].tolist() == pytest.approx(
        [60 / 25.4, 20 / 25.4, 40 / 25.4]
    )  # exact: 1 in = 25.4 mm
    with pytest.raises(InputError, match="metric"):
        losses(season, units="feet")


def test_what_is_no_season_is_refused():
    season = water_once(EVEN, 40.0, net_mm=60.0)
    with pytest.raises(InputError, match="over_application"):
        losses(season.drop_vars("over_application"))
    with pytest.raises(InputError, match="Dataset"):
        losses("season")


def test_inputs_stay_as_they_are():
    season = water_once(dataclasses.replace(SPOTS, wetted_fraction=0.5), 50.0, net_mm=50.0)
    before = season.copy(deep=True)
    losses(season)
    xr.testing.assert_identical(season, before)
