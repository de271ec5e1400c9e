"""No salt is made or lost, over random seasons and systems, and the mixing is that of a tank.

The tank is written again here, day by day and spot by spot, from the definition in the ledger's docstring. Its approach
to the steady state is the closed form of a stirred tank (a geometric series).
"""

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

import waterbudget as wb
from tests.properties.test_ledger import floats
from tests.properties.test_losses import seasons
from waterbudget.report import ledger
from waterbudget.report.leaching import leaching_balance
from waterbudget.report.salts import salt_ledger

pytestmark = pytest.mark.slow
KG_PER_MM = 6.4
"""Salts [kg/ha] of 1 mm of 1 dS/m: 640 mg/L (FAO-29, from memory) in 10 m3."""


def held_at_field_capacity(season):
    """Give a water content at which the season's available water and more fits into the profile."""
    return float(season["profile_water"] / season["deepest_root"]) / 1000 + 0.15


def tank(season, capacity, water, initial, rain, table, mixing):
    """Work the salts of one season out, spot by spot: end and drained [kg/ha], means by weight."""
    days, spots = season.sizes["time"], season.sizes.get("spot", 1)

    def at(name, spot, day=None):
        values = season[name]
        place = {"spot": spot} if "spot" in values.dims else {}
        if "time" in values.dims:
            place["time"] = day
        return float(values.isel(place))

    ends = drained = 0.0
    for spot in range(spots):
        full = capacity * float(season["deepest_root"]) * 1000
        missing = at("initial_depletion", spot) + at("initial_depletion_below", spot)
        held = full - missing + at("initial_excess_water", spot)
        salt, out = 2 * initial * full, 0.0
        for day in range(days):
            irrigation = at("irrigation_net", spot, day) * at("spot_share", spot)
            rained = at("rain", spot, day) - at("runoff", spot, day)
            salt += irrigation * water + rained * rain
            leaving = at("drainage", spot, day)
            if leaving > 0:
                leaving *= mixing * salt / (held + irrigation + rained)
            salt += at("capillary_rise", spot, day) * table - leaving
            out += leaving
            held = full - at("depletion", spot, day) - at("depletion_below", spot, day)
            held += at("excess_water", spot, day)
        ends += at("spot_weight", spot) * salt
        drained += at("spot_weight", spot) * out
    return ends * KG_PER_MM, drained * KG_PER_MM


@given(
    season=seasons(),
    water=floats(0, 8),
    initial=floats(0, 12),
    rain=floats(0, 0.5),
    table=floats(0, 20),
    mixing=floats(0.1, 1),
)
def test_no_salt_is_made_or_lost(season, water, initial, rain, table, mixing):
    capacity = held_at_field_capacity(season)
    row = salt_ledger(
        season,
        water,
        soil_water_at_field_capacity=capacity,
        initial_salinity=initial,
        rain_salinity=rain,
        water_table_salinity=table,
        mixing=mixing,
    ).iloc[0]
    assert abs(row["residual_t_per_ha"]) <= 1e-9
    end, drained = tank(season, capacity, water, initial, rain, table, mixing)
    assert row["salt_at_end_t_per_ha"] * 1000 == pytest.approx(end, abs=1e-6)
    assert row["salt_drained_t_per_ha"] * 1000 == pytest.approx(drained, abs=1e-6)
    depths = ledger(season).iloc[0]
    brought = depths["net_mm"] * water * KG_PER_MM
    assert row["salt_from_irrigation_t_per_ha"] * 1000 == pytest.approx(brought, abs=1e-6)
    assert end >= -1e-9
    full = capacity * float(season["deepest_root"]) * 1000
    assert row["soil_salinity_at_end_dS_per_m"] == pytest.approx(end / KG_PER_MM / full / 2, abs=1e-9)
    assert row["soil_salinity_at_start_dS_per_m"] == pytest.approx(initial, abs=1e-9)


@given(season=seasons(), water=floats(0, 4), part=floats(0, 0.9))
def test_what_leaching_requires(season, water, part):
    row, depths = leaching_balance(season, water, requirement=part).iloc[0], ledger(season).iloc[0]
    assert row["irrigation_mm"] == pytest.approx(depths["net_mm"], abs=1e-9)
    assert row["rain_entered_mm"] == pytest.approx(depths["rain_mm"] - depths["runoff_mm"], abs=1e-9)
    assert row["drainage_mm"] == pytest.approx(depths["drainage_mm"], abs=1e-9)
    # of the irrigation at most that percolated can have drained, and at least all of it less that of the rain
    kept = row["irrigation_kept_mm"]
    assert row["irrigation_mm"] - depths["percolation_from_irrigation_mm"] - 1e-9 <= kept
    assert kept <= row["irrigation_mm"] + 1e-9
    assert row["required_mm"] == pytest.approx(kept * part / (1 - part), abs=1e-9)
    assert -1e-9 <= row["credited_mm"] <= row["drainage_mm"] + 1e-9
    lacking = row["required_mm"] - row["credited_mm"]
    assert row["shortfall_mm"] == pytest.approx(max(lacking, 0.0), abs=1e-8)
    assert -1e-12 <= row["share_short"] <= 1 + 1e-12
    if row["shortfall_mm"] > 1e-6:
        assert row["share_short"] > 0  # somewhere it is lacking
    # a higher requirement never lacks less
    more = leaching_balance(season, water, requirement=min(part + 0.05, 0.95)).iloc[0]
    assert more["shortfall_mm"] >= row["shortfall_mm"] - 1e-9


CROP = wb.Crop(kc=1.0, root_depth=1.0, depletion_fraction=0.5, adjust_depletion_fraction=False)
SOIL = wb.Soil(field_capacity=0.30, wilting_point=0.10)


@given(
    et=floats(1, 8),
    fraction=floats(0.05, 0.6),
    water=floats(0.1, 5),
    initial=floats(0, 10),
    days=st.integers(1, 90),
)
def test_a_tank_that_is_watered_every_day_nears_its_steady_state_by_a_geometric_series(
    et, fraction, water, initial, days
):
    net = et / (1 - fraction)
    time = pd.date_range("2024-05-01", periods=days)
    weather = xr.Dataset(
        {"et_ref": ("time", np.full(days, et), {"surface": "short"}), "rain": ("time", np.zeros(days))},
        coords={"time": time},
    )
    season = wb.simulate(weather, CROP, SOIL, irrigation=pd.DataFrame({"date": time, "net_mm": net}))
    row = salt_ledger(season, water, soil_water_at_field_capacity=0.3, initial_salinity=initial).iloc[0]
    # 300 mm and the day's water are mixed, of which net - et drain: S' = (S + net ECw) r
    stays = 1 - (net - et) / (300 + net)
    steady = net * water * stays / (1 - stays)
    salts = steady + (2 * initial * 300 - steady) * stays**days
    assert row["soil_salinity_at_end_dS_per_m"] == pytest.approx(salts / 600, rel=1e-9, abs=1e-12)
    assert leaching_balance(season, water, requirement=0.1)["leaching_fraction"][0] == pytest.approx(fraction)


@given(season=seasons(), water=floats(0, 8), initial=floats(0, 12))
def test_fields_read_alike_alone_and_side_by_side(season, water, initial):
    capacity = held_at_field_capacity(season)
    waters = xr.DataArray([0.5 * water, water], dims="field", coords={"field": ["north", "south"]})
    salts = {
        "soil_water_at_field_capacity": capacity,
        "initial_salinity": initial,
        "water_table_salinity": 3.0,
    }
    both = salt_ledger(season, waters, **salts)
    alone = salt_ledger(season, water, **salts)
    own = both[both["field"] == "south"].drop(columns="field").reset_index(drop=True)
    pd.testing.assert_frame_equal(own, alone, check_exact=True)
