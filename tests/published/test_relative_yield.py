"""Relative yield of whole runs, against published chains from evapotranspiration to yield.

Sources stand beside each check. FAO-56 is FAO Irrigation and Drainage Paper 56 (1998); FAO-33 is FAO Irrigation and
Drainage Paper 33 (Doorenbos and Kassam 1979).
"""

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.balance import Rule, simulate
from waterbudget.crop import Crop
from waterbudget.report import relative_yield
from waterbudget.soil import Soil

STAGES = (20, 30, 40, 20)


def moist_season(*, soil_salinity=None, **crop):
    """Run a single coefficient that is watered before it lacks any water: salt alone can hold it back."""
    time = pd.date_range("2024-05-01", periods=sum(STAGES))
    weather = xr.Dataset(
        {
            "rain": ("time", np.zeros(len(time))),
            "et_ref": ("time", np.full(len(time), 5.0), {"surface": "short"}),
        },
        coords={"time": time},
    )
    described = Crop(
        planted=time[0],
        stage_days=STAGES,
        kc=(0.4, 1.15, 0.6),
        root_depth=(0.3, 1.0),
        depletion_fraction=0.5,
        adjust_depletion_fraction=False,
        **crop,
    )
    soil = Soil(available_water=0.15, soil_salinity=soil_salinity)
    return simulate(weather, described, soil, rule=Rule(allowable_depletion=0.3))


def test_seasonal_response_of_maize(check):
    # From memory: FAO-33, Ky 1.25 of maize; a season that lacks 20 % of its ET yields 75 %. The 20 % are made by
    # salt: threshold and slope of maize, FAO-56 Table 23 (1.7 dS/m, 12 % per dS/m); Eq. 89 loses 25 % of the yield at
    # 25 / 12 dS/m above the threshold, and Eq. 90 with Ky 1.25 holds ET back by 20 %.
    season = moist_season(
        salt_threshold=1.7, salt_slope=12.0, yield_response=1.25, soil_salinity=1.7 + 25 / 12
    )
    row = relative_yield(season).iloc[0]
    check("FAO-33, maize, from memory", "relative ET of a run, by salt", 0.8, row["relative_et"], 1e-9)
    check("FAO-33, maize, from memory", "relative yield of a run", 0.75, row["relative_yield"], 1e-9)
    assert row["within_limits"]


def test_example_44_from_yield_to_stress_and_back(check):
    # FAO-56 Example 44 (Eq. 90, 103): dry beans, 1100 of 1800 kg/ha, Ky 1.15, Ks 0.66. Tolerance of beans from Table
    # 23: 1.0 dS/m, 19 % per dS/m; Eq. 89 leaves 1100 of 1800 at the salinity below.
    salinity = 1.0 + 100 * (1 - 1100 / 1800) / 19
    season = moist_season(salt_threshold=1.0, salt_slope=19.0, yield_response=1.15, soil_salinity=salinity)
    row = relative_yield(season).iloc[0]
    source = "FAO-56, Example 44 (Eq. 90)"
    check(source, "relative ET of a run of dry beans", 0.66, row["relative_et"], 0.005)
    check(source, "yield of a run of dry beans [kg/ha]", 1100, 1800 * row["relative_yield"], 0.5)
    stress = season["ks"].where(season["crop_stage"] > 0).mean()
    check(source, "Ks through a run of dry beans", 0.66, stress, 0.005)


def test_stages_added_and_multiplied(check):
    # From memory, FAO-33: Ky of maize by stage (vegetative, flowering, yield formation, ripening) 0.4, 1.5, 0.5, 0.2;
    # deficits of our own choosing. By hand: 1 - (0.04 + 0.30 + 0.05 + 0) and 0.96 0.70 0.95 1.
    season = moist_season(stage_yield_response=(0.4, 1.5, 0.5, 0.2))
    deficit = xr.DataArray(np.array([0.0, 0.1, 0.2, 0.1, 0.0])[season["crop_stage"]], dims="time")
    short = season.assign(et=season["kc"] * season["et_ref"] * (1 - deficit))
    for form, published in (("additive", 0.61), ("multiplicative", 0.6384)):
        row = relative_yield(short, form).iloc[0]
        check(
            "FAO-33, maize by stage, from memory",
            f"relative yield of a season, {form}",
            published,
            row["relative_yield"],
            1e-4,
        )
        assert row["within_limits"]
