"""What uneven watering costs, as an outcome of the daily balance: distribution efficiency, and leaching credited.

Sources stand beside each check. Neither was read: the values are derived or from memory.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import scipy.stats
import xarray as xr

import waterbudget as wb
from waterbudget.report.leaching import leaching_balance
from waterbudget.report.performance import performance
from waterbudget.system.distribution import distribution_efficiency
from waterbudget.system.uniformity import cv_from_uniformity

TABLES = Path(__file__).parent / "tables"
TABLE = pd.read_csv(TABLES / "distribution_efficiency.csv", comment="#", index_col="CU")
PARTS = [name for name in TABLE.columns if name.startswith("pa_")]
PART = np.array([int(name.removeprefix("pa_")) for name in PARTS]) / 100
DERIVED = "Distribution efficiency of normal depths, derived"
CROP = wb.Crop(kc=1.0, root_depth=1.0, depletion_fraction=0.5, adjust_depletion_fraction=False)


# ------------------------------------------------------------------------- distribution efficiency
def test_table_of_distribution_efficiency(check):
    # tables/distribution_efficiency.csv: derived, 64 values printed to one decimal of a per cent.
    got = 100 * distribution_efficiency(TABLE.index.to_numpy()[:, None] / 100, PART)
    check(DERIVED, "whole table [%]", TABLE[PARTS].to_numpy(), got, 0.0501)


def test_distribution_efficiency_by_scipy():
    # General library: quantiles of scipy.stats.norm, whose mean deviation, by integration, is 1 - CU.
    for uniformity in TABLE.index / 100:
        cv = (1 - uniformity) / scipy.stats.norm.expect(np.abs)
        quantiles = scipy.stats.norm(1, cv).isf(PART)
        np.testing.assert_allclose(distribution_efficiency(uniformity, PART), quantiles, rtol=0, atol=1e-8)


def refill(uniformity, parts):
    """Refill 84 mm on one day without evapotranspiration, so that each of ``parts`` of the field is filled."""
    weather = xr.Dataset(
        {"et_ref": ("time", [0.0], {"surface": "short"}), "rain": ("time", [0.0])},
        coords={"time": pd.date_range("2024-07-01", periods=1)},
    )
    system = wb.System.from_distribution(
        "normal", cv_from_uniformity(uniformity), spots=4000, delivered_fraction=1.0
    )
    rule = wb.Rule(allowable_depletion=0.4, adequacy=xr.DataArray(parts, {"part": parts}, "part"))
    return wb.simulate(weather, CROP, wb.Soil(available_water=0.2), system, rule, initial_depletion=84.0)


@pytest.mark.parametrize("percent", [94, 90, 86, 82])
def test_refill_by_rule_has_the_distribution_efficiency_of_theory(check, percent):
    # The next row, CU 78 %: the driest of 4000 spots would get less than no water, and `System` refuses it.
    season = refill(percent / 100, PART)
    got = 84.0 / season["irrigation_net"].sum("time").sel(part=PART)
    # Beside the printed digit, the share of half a spot in 4000 at the thin end of the distribution.
    check(DERIVED, f"CU {percent} %, refilled by rule [%]", TABLE.loc[percent, PARTS], 100 * got, 0.1)
    told = performance(season).set_index("part")["adequacy"]
    np.testing.assert_allclose(told.loc[PART], PART, rtol=0, atol=1 / 4000)


def test_refill_by_rule_has_the_distribution_efficiency_of_the_handbook(check):
    # Keller and Bliesner 1990, table of DEpa at CU 86 %, from memory: whole per cent; 77 stands for 77.5.
    # 0.001: half a spot in 4000, as above.
    parts = [0.95, 0.90, 0.85, 0.80, 0.75, 0.70]
    got = 84.0 / refill(0.86, parts)["irrigation_net"].sum("time").sel(part=parts)
    source = "Keller and Bliesner 1990, distribution efficiency, from memory"
    check(source, "DEpa at CU 0.86, refilled by rule", [0.71, 0.77, 0.82, 0.85, 0.88, 0.91], got, 0.006)


@pytest.mark.parametrize("watch_driest_quarter", [False, True])
def test_a_season_by_rule_has_the_distribution_efficiency_of_theory(check, watch_driest_quarter):
    # Theory looks at one watering of an evenly dry field. Spots that are filled each time are evenly dry, and the
    # last of them sets the depth: it receives what it evapotranspired since, and no more.
    weather = xr.Dataset(
        {"et_ref": ("time", np.full(60, 6.0), {"surface": "short"}), "rain": ("time", np.zeros(60))},
        coords={"time": pd.date_range("2024-05-01", periods=60)},
    )
    cv = cv_from_uniformity(0.86)
    system = wb.System.from_distribution("normal", cv, spots=1000, delivered_fraction=1.0)
    parts = [0.5, 0.75, 0.8, 0.9, 0.95]
    rule = wb.Rule(
        allowable_depletion=0.2,
        adequacy=xr.DataArray(parts, {"part": parts}, "part"),
        watch_driest_quarter=watch_driest_quarter,
    )
    season = wb.simulate(weather, CROP, wb.Soil(available_water=0.2), system, rule)
    for part in parts:
        net = season["irrigation_net"].sel(part=part).values
        days = np.flatnonzero(net)
        assert len(days) > 4
        # From the first watering to the last: the days between them at 6 mm a day.
        efficiency = 6.0 * (days[-1] - days[0]) / net[days[1:]].sum()
        where = f"CU 86 %, {100 * part:g} % filled, a season, driest quarter {watch_driest_quarter} [%]"
        # Beside the printed digit, the share of half a spot in 1000 at the thin end of the distribution.
        check(DERIVED, where, TABLE.loc[86, f"pa_{100 * part:.0f}"], 100 * efficiency, 0.3)
        told = performance(season).set_index("part")["adequacy"]
        assert told.loc[part] >= part - 1e-9


# ------------------------------------------------------------------------------ leaching credited
def test_maize_watered_unevenly_leaches_with_what_percolates(check):
    # FAO-29, maize: ET 800 mm, LR 0.106, efficiency 0.75, all from memory; the sums are derived. Cans whose
    # lowest half catches 0.75 of the mean, and a rule that fills it too: the efficiency is an outcome, and
    # 1067 mm do where the product of factors asks for 800 / 0.75 / 0.894 = 1193 mm.
    days = pd.date_range("2024-05-01", periods=101)
    daily = [8.0] * 100 + [0.0]  # the last day fills the soil again
    weather = xr.Dataset(
        {"et_ref": ("time", daily, {"surface": "short"}), "rain": ("time", np.zeros(101))},
        coords={"time": days},
    )
    soil = wb.Soil(field_capacity=0.30, wilting_point=0.10)
    system = wb.System.from_catch_cans([15.0, 15.0, 25.0, 25.0], delivered_fraction=1.0)
    rule = wb.Rule(
        allowable_depletion=0.17, adequacy=1.0
    )  # due on every fifth day, the last of them included
    season = wb.simulate(weather, CROP, soil, system, rule)
    gross = float(season["irrigation_gross"].sum())
    source = "FAO-29, maize at 75 % efficiency, derived"
    check(source, "watered unevenly by rule, percolation credited [mm]", 1067, gross, 0.5)
    (told,) = leaching_balance(season, 1.2, requirement=0.106).to_dict("records")
    check(source, "evapotranspiration over water applied, an outcome [1]", 0.75, told["et_mm"] / gross, 1e-9)
    assert told["et_mm"] == pytest.approx(800.0, abs=1e-9)
    assert told["credited_mm"] == pytest.approx(800 / 0.75 - 800, abs=1e-6)
    assert told["required_mm"] == pytest.approx(800 * 0.106 / 0.894, abs=1e-6)
    assert told["shortfall_mm"] == 0
    check(source, "leaching on top, not credited [mm]", 1193, (800 + told["required_mm"]) / 0.75, 0.5)
    # The field's mean is leached; the half that got just what it lacked is not, and the balance says so.
    assert told["share_short"] == pytest.approx(0.5)
