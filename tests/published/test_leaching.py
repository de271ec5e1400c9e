"""Leaching and salinity, against FAO-29 and general libraries.

FAO Irrigation and Drainage Paper 29 rev. 1 (Ayers and Westcot 1985) was not read for these tests: its numbers are from
memory, and where a line says derived they are arithmetic on them. FAO-56 Table 23 was read.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from scipy.integrate import quad

import waterbudget as wb
from waterbudget import handbook
from waterbudget.crop.stress import salt_yield
from waterbudget.report import leaching_balance, leaching_calendar
from waterbudget.report.salts import salt_ledger
from waterbudget.soil.leaching import (
    leaching_requirement,
    leaching_requirement_frequent,
    leaching_shortfall,
    required_water,
    root_zone_salinity,
    salinity_at_yield,
    salt_mass,
    steady_state_profile,
    uptake_weighted_salinity,
)

FAO29 = "FAO-29, maize example (from memory)"
TABLES = Path(__file__).parent / "tables"
MAIZE = (1.7, 12.0)
"""FAO-56 Table 23: threshold [dS/m] and slope [% per dS/m] of maize."""


# ------------------------------------------------------------------------------ formulas
def test_maize_of_table_23():
    row = handbook.salt_tolerance("Maize")
    assert (row.salt_threshold, row.salt_slope) == MAIZE


def test_requirement_of_maize(check):
    # ECw 1.2 dS/m, ECe 2.5 at 90 % of the yield; LR is printed as 0.10, and 0.106 is the unrounded number.
    check(FAO29, "leaching requirement [1]", 0.106, leaching_requirement(1.2, 2.5), 0.0005)
    # Printed with LR rounded to 0.10: 800/0.9 = 888.9, within 3 mm of print (895 with the unrounded number is not).
    check(FAO29, "water for ET and leaching, LR 0.10 [mm]", 890, required_water(800, 0.10), 3)
    check(FAO29, "ECe at 90 % of the yield [dS/m]", 2.5, salinity_at_yield(*MAIZE, 0.9), 0.05)


def test_requirement_under_drip(check):
    # ECw 2 dS/m, no yield at 10 dS/m: maize again, 1.7 + 100/12 = 10.03.
    check(
        "FAO-29, drip (from memory)",
        "leaching requirement [1]",
        0.10,
        leaching_requirement_frequent(2, 10),
        1e-12,
    )
    check(FAO29, "ECe without yield [dS/m]", 10, salinity_at_yield(*MAIZE, 0.0), 0.5)


def test_stacking_and_crediting(check):
    # Derived: 800 mm at 75 % and LR 0.106. The trade's product of factors gives 1193 mm; where the quarter that
    # is not used percolates, it leaches, and 1067 mm do.
    source = "FAO-29, maize at 75 % efficiency, derived"
    required = 0.106 * required_water(800, 0.106)
    stacked = required_water(800, 0.106) / 0.75
    check(source, "leaching stacked on the efficiency [mm]", 1193, stacked, 0.5)
    percolated = 800 / 0.75 - 800
    credited = 800 / 0.75 + leaching_shortfall(required, percolated)
    check(source, "percolation credited [mm]", 1067, credited, 0.5)
    # Spray loss percolates nothing: all of the leaching is lacking, as if stacked.
    check(source, "spray loss not credited [mm]", 1193, (800 + leaching_shortfall(required, 0.0)) / 0.75, 0.5)


def test_profile_at_a_leaching_fraction_of_15_percent(check):
    # ECw 1 dS/m, ET 1000 mm, LF 0.15, uptake 40-30-20-10 %; printed to one decimal.
    source = "FAO-29, steady-state profile (from memory)"
    profile = steady_state_profile(1.0, 0.15)
    check(source, "ECsw down the root zone [dS/m]", [1.0, 1.5, 2.5, 4.3, 6.7], profile, 0.05)
    check(source, "mean ECsw [dS/m]", 3.2, np.mean(profile), 0.05)
    check(source, "mean ECe [dS/m]", 1.6, root_zone_salinity(1.0, 0.15), 0.05)
    # printed as a whole number; the leaching fraction is a requirement that was met
    check(source, "water applied [mm]", 1176, required_water(1000, 0.15), 0.5)


def test_concentration_factors(check):
    table = pd.read_csv(TABLES / "fao29_concentration_factors.csv", comment="#")
    got = root_zone_salinity(1.0, table["leaching_fraction"].to_numpy())
    source = "FAO-29, table of concentration factors (from memory)"
    check(source, "ECe over ECw, LF 0.05 to 0.8 [1]", table["ece_over_ecw"].to_numpy(), got, 0.05)


@pytest.mark.parametrize("fraction", [0.05, 0.15, 0.4, 0.9, 1.0])
def test_weighting_by_uptake_is_the_integral_over_the_uptake(check, fraction):
    # Independent: scipy's integration over the part u of the uptake that lies above, whatever its pattern by depth.
    integral, _ = quad(lambda u: 3.0 / (1 - (1 - fraction) * u), 0, 1)
    got = uptake_weighted_salinity(3.0, fraction)
    check("scipy, quad", f"uptake-weighted ECe, LF {fraction:g} [dS/m]", integral / 2, got, 1e-7)
    assert got <= root_zone_salinity(3.0, fraction) + 1e-12


def test_yield_there_and_back():
    # Identity: the inverse of FAO-56 Eq. 89.
    yields = np.array([0.25, 0.5, 0.9, 1.0])
    np.testing.assert_allclose(
        salt_yield(salinity_at_yield(*MAIZE, yields), *MAIZE), yields, rtol=0, atol=1e-12
    )


def test_mass_of_salts(check):
    # FAO-29 (from memory): 640 mg/L for each dS/m. 1000 m3 of 1 dS/m hold 640 kg: 100 mm on a hectare.
    check(
        "FAO-29, conversion (from memory)",
        "salts in 100 mm of 1 dS/m [t/ha]",
        0.64,
        salt_mass(1.0, 100.0),
        1e-12,
    )


# ------------------------------------------------------------------------------ simulated
CROP = wb.Crop(kc=1.0, root_depth=1.0, depletion_fraction=0.5, adjust_depletion_fraction=False)
SOIL = wb.Soil(field_capacity=0.30, wilting_point=0.10)


def maize(system, net, extra=None):
    """Run 100 days of 8 mm without rain, watered every fifth day: 800 mm, and a full soil at both ends."""
    days = pd.date_range("2024-05-01", periods=100)
    weather = xr.Dataset(
        {"et_ref": ("time", np.full(100, 8.0), {"surface": "short"}), "rain": ("time", np.zeros(100))},
        coords={"time": days},
    )
    record = pd.DataFrame({"date": days[4::5], "net_mm": net}) if extra is None else extra
    return wb.simulate(weather, CROP, SOIL, system, irrigation=record)


def told(season):
    (row,) = leaching_balance(season, 1.2, requirement=0.106).to_dict("records")
    return row


def test_inefficiency_that_percolates_is_credited(check):
    season = maize(wb.System(efficiency=1.0), 800 / 0.75 / 20)
    row = told(season)
    assert row["drainage_mm"] == pytest.approx(800 / 0.75 - 800, abs=1e-6)
    assert row["required_mm"] == pytest.approx(800 * 0.106 / 0.894)
    assert row["shortfall_mm"] == 0
    check(
        "FAO-29, maize at 75 % efficiency, derived",
        "simulated, percolation credited [mm]",
        1067,
        float(season["irrigation_gross"].sum()),
        0.5,
    )


def test_spray_loss_is_not_credited(check):
    system = wb.System(spray_fraction=0.25)
    season = maize(system, 40.0)
    row = told(season)
    assert row["drainage_mm"] == pytest.approx(0.0, abs=1e-9)
    assert row["shortfall_mm"] == pytest.approx(row["required_mm"])
    again = maize(system, None, leaching_calendar(season, 1.2, requirement=0.106))
    assert told(again)["shortfall_mm"] == pytest.approx(0.0, abs=1e-6)
    check(
        "FAO-29, maize at 75 % efficiency, derived",
        "simulated, spray loss not credited [mm]",
        1193,
        float(again["irrigation_gross"].sum()),
        0.5,
    )


def test_drainage_becomes_as_salty_as_the_bottom_of_the_steady_profile(check):
    # FAO-29 (from memory): in the steady state the water that drains has ECw / LF, whatever happens above.
    days = pd.date_range("2024-01-01", periods=2000)
    weather = xr.Dataset(
        {"et_ref": ("time", np.full(2000, 6.0), {"surface": "short"}), "rain": ("time", np.zeros(2000))},
        coords={"time": days},
    )
    record = pd.DataFrame({"date": days, "net_mm": 7.5})  # LF 1.5/7.5
    season = wb.simulate(weather, CROP, SOIL, irrigation=record)
    salts = {"soil_water_at_field_capacity": 0.3, "initial_salinity": 1.0}
    first = salt_ledger(season, 1.5, **salts).iloc[0]
    end = first["soil_salinity_at_end_dS_per_m"]
    again = salt_ledger(season, 1.5, soil_water_at_field_capacity=0.3, initial_salinity=end).iloc[0]
    source = "FAO-29, steady-state profile (from memory)"
    deepest = steady_state_profile(1.5, 0.2)[-1]
    check(
        source,
        "simulated, EC of the drainage at LF 0.2 [dS/m]",
        deepest,
        again["drainage_salinity_dS_per_m"],
        0.001,
    )
    assert again["salt_change_t_per_ha"] == pytest.approx(0.0, abs=0.001)
    assert leaching_balance(season, 1.5, crop_salinity=2.5)["leaching_fraction"][0] == pytest.approx(0.2)
