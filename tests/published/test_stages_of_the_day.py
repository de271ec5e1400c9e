"""What few fields need, day by day through `simulate`, against published relations worked out by hand.

Slow drainage is the linear reservoir (Ritchie 1985; the form is from memory): without evapotranspiration it
has a closed solution. Capillary rise is Gardner (1958). Runoff by curve number is NEH 630 chapter 10, the
conversion to dry and wet soil Hawkins and others (1985), both from memory. The rest is FAO-56.
"""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb

FIRST = pd.Timestamp("2024-06-01")


def weather(rain, et_ref=0.0):
    """Give the days of a run by their rain."""
    days = len(rain)
    return xr.Dataset(
        {
            "et_ref": ("time", np.broadcast_to(et_ref, days).astype(float), {"surface": "short"}),
            "rain": ("time", np.asarray(rain, dtype=float)),
        },
        coords={"time": pd.date_range(FIRST, periods=days), "latitude": 40.0, "elevation": 0.0},
    )


def crop(**changes):
    """Give a crop of 1 m of roots that draws all that the reference asks for; p is 0.5 and stays so."""
    made = {"kc": 1.0, "root_depth": 1.0, "depletion_fraction": 0.5, "adjust_depletion_fraction": False}
    return wb.Crop(**(made | changes))


def loam(**changes):
    """Give a soil of 150 mm of available water in the first metre."""
    return wb.Soil(**({"field_capacity": 0.30, "wilting_point": 0.15, "rew": 8.0, "tew": 22.0} | changes))


# ----------------------------------------------------------------------------------- layers
def test_available_water_is_the_sum_over_the_layers(check):
    soil = wb.Soil(
        field_capacity=(0.30, 0.20, 0.35),
        wilting_point=(0.15, 0.08, 0.20),
        layer_bottom=(0.3, 0.7, 1.5),
        rew=8,
        tew=22,
    )
    depths = pd.Series([0.2, 0.3, 0.5, 0.7, 1.0], index=pd.date_range(FIRST, periods=5))
    season = wb.simulate(weather(np.zeros(5)), crop(kc=depths * 0.0 + 1.0, root_depth=depths), soil)
    expected = [30.0, 45.0, 45.0 + 24.0, 45.0 + 48.0, 45.0 + 48.0 + 45.0]
    check("FAO-56, Eq. 82 layer by layer", "TAW [mm]", expected, season["taw"].values, 1e-9)


def test_roots_meet_the_water_of_the_layer_they_grow_into():
    # 0.3 m at 150 mm/m above 0.7 m at 100 mm/m, which lacks 35 mm of its 70. Growth to 0.65 m takes in half of it.
    soil = wb.Soil(available_water=(0.15, 0.10), layer_bottom=(0.3, 1.0), rew=8, tew=22)
    depths = pd.Series([0.3, 0.65, 1.0], index=pd.date_range(FIRST, periods=3))
    grows = crop(kc=depths * 0.0 + 1.0, root_depth=depths)
    season = wb.simulate(weather(np.zeros(3)), grows, soil, initial_depletion_below=35.0)
    np.testing.assert_allclose(season["depletion"], [0.0, 17.5, 35.0], rtol=0, atol=1e-9)
    np.testing.assert_allclose(season["met_by_roots"], [0.0, 17.5, 17.5], rtol=0, atol=1e-9)
    np.testing.assert_allclose(season["depletion_below"], [35.0, 17.5, 0.0], rtol=0, atol=1e-9)


def test_roots_within_the_first_layer_know_nothing_of_the_second():
    # 30 mm in 0.2 m, 45 in 0.3 m, 115 in 1 m: of the 85 mm below, half is missing; growth takes in 15 of them.
    soil = wb.Soil(available_water=(0.15, 0.10), layer_bottom=(0.3, 1.0), rew=8, tew=22)
    depths = pd.Series([0.2, 0.3, 1.0], index=pd.date_range(FIRST, periods=3))
    grows = crop(kc=depths * 0.0 + 1.0, root_depth=depths)
    season = wb.simulate(weather(np.zeros(3)), grows, soil, initial_depletion_below=42.5)
    np.testing.assert_allclose(season["depletion"], [0.0, 7.5, 42.5], rtol=0, atol=1e-9)


def test_roots_and_profile_stop_at_a_restricting_layer():
    season = wb.simulate(weather([60.0, 0.0]), crop(), loam(restricting_depth=0.4), initial_depletion=20.0)
    assert season["root_depth"].values.tolist() == [0.4, 0.4]
    assert season["taw"].values == pytest.approx([60.0, 60.0])
    assert season["drainage"].values == pytest.approx([40.0, 0.0])


# ----------------------------------------------------------------------------------- slow drainage
def test_water_above_field_capacity_leaves_as_from_a_linear_reservoir(check):
    soil = loam(saturation=0.40, drainage_fraction=0.4)
    season = wb.simulate(weather([80.0, 0, 0, 0, 0, 0]), crop(), soil)
    check(
        "Ritchie 1985, linear reservoir (form from memory)",
        "water above field capacity [mm], 80 (1 - 0.4)^n",
        80.0 * 0.6 ** np.arange(1, 7),
        season["excess_water"].values,
        1e-9,
    )
    assert season["percolation"].values[:2] == pytest.approx([32.0, 19.2])
    assert season["drainage"].sum() + season["excess_water"][-1] == pytest.approx(80.0)


def test_what_exceeds_saturation_leaves_at_once():
    # 1 m of 0.10 between field capacity and saturation holds 100 mm.
    season = wb.simulate(weather([300.0, 0.0]), crop(), loam(saturation=0.40, drainage_fraction=0.2))
    assert season["excess_water"].values == pytest.approx([100.0, 80.0])
    assert season["percolation"].values == pytest.approx([200.0, 20.0])


def test_the_room_above_field_capacity_is_the_sum_over_the_layers():
    # 0.4 m with 0.12 and 0.6 m with 0.05 between field capacity and saturation: 48 and 30 mm.
    soil = wb.Soil(
        field_capacity=(0.30, 0.36),
        wilting_point=(0.14, 0.20),
        saturation=(0.42, 0.41),
        layer_bottom=(0.4, 1.5),
        rew=8,
        tew=22,
        drainage_fraction=0.2,
    )
    season = wb.simulate(weather([300.0]), crop(), soil)
    assert season["excess_water"].values == pytest.approx([78.0])
    assert season["excess_capacity"].values == pytest.approx([78.0])


def test_roots_draw_on_the_water_above_field_capacity():
    # 20 mm stay half a day's drainage; 6 mm a day are used from it before the depletion grows.
    for share, held in ((1.0, [7.0, 0.5, 0.0]), (0.0, [4.0, 0.0, 0.0])):
        season = wb.simulate(
            weather([20.0, 0.0, 0.0], 6.0),
            crop(),
            loam(saturation=0.40, drainage_fraction=0.5),
            et_share_before_percolation=share,
        )
        assert season["excess_water"].values == pytest.approx(held)
        assert float(season["depletion"][0]) == 0.0
        lost = season["et"].sum() + season["percolation"].sum()
        assert 20.0 + float(season["depletion"][-1]) == pytest.approx(
            float(lost + season["excess_water"][-1])
        )


# ----------------------------------------------------------------------------------- water table
def test_capillary_rise_is_gardners_flow_once_the_readily_available_water_is_used(check):
    # Gardner 1958, n = 2: (pi / 2)^2 a / d^2 = 2.4674 a / d^2, from the table at 3 m to roots of 1 m.
    limit = 2.4674 * 4.0 / 2.0**2
    soil = loam(water_table_depth=3.0, capillary_a=4.0, capillary_n=2.0)
    season = wb.simulate(weather([0.0]), crop(), soil, initial_depletion=100.0)
    source = "Gardner 1958, steady flow of n = 2"
    check(source, "capillary rise [mm]", limit, float(season["capillary_rise"][0]), 5e-4)
    assert float(season["depletion"][0]) == pytest.approx(100.0 - limit, abs=5e-4)


def test_capillary_rise_ceases_towards_field_capacity():
    # RAW is 75 mm: at 30 mm missing 0.4 of the limit rises, at 0 nothing, and never more than is missing.
    limit = (np.pi / 2.0) ** 2 * 4.0 / 2.0**2
    soil = loam(water_table_depth=3.0, capillary_a=4.0, capillary_n=2.0)
    for missing in (0.0, 30.0):
        season = wb.simulate(weather([0.0]), crop(), soil, initial_depletion=missing)
        assert float(season["capillary_rise"][0]) == pytest.approx(missing / 75.0 * limit)
    near = loam(water_table_depth=1.05, capillary_a=4.0, capillary_n=2.0)
    season = wb.simulate(weather([0.0]), crop(), near, initial_depletion=30.0)
    assert float(season["capillary_rise"][0]) == 30.0
    assert float(season["depletion"][0]) == 0.0


# ----------------------------------------------------------------------------------- runoff
def runoff_mm(rain, retention):
    """(P - 0.2 S)^2 / (P + 0.8 S)."""
    return (rain - 0.2 * retention) ** 2 / (rain + 0.8 * retention)


@pytest.mark.parametrize(
    ("dryness", "ratio"),
    # 0.5 REW is 4 mm, 0.7 REW + 0.3 TEW is 12.2 mm.
    [(0.0, 0.427), (4.0, 0.427), (12.2, 2.281), (20.0, 2.281)],
)
def test_adjusted_curve_number_of_a_wet_and_a_dry_soil(check, dryness, ratio):
    # CN 75: S = 25400 / 75 - 254 = 84.67 mm; Hawkins and others 1985: 0.427 S when wet, 2.281 S when dry.
    retention = 25400.0 / 75.0 - 254.0
    soil = loam(curve_number=75.0, adjust_curve_number=True)
    season = wb.simulate(weather([70.0]), crop(), soil, initial_evaporation_depletion=dryness)
    check(
        "Hawkins and others 1985 with NEH 630 chapter 10 (from memory)",
        f"runoff of 70 mm, layer depletion {dryness:g} mm [mm]",
        runoff_mm(70.0, ratio * retention),
        float(season["runoff"][0]),
        1e-9,
    )
    assert float(season["percolation"][0]) == pytest.approx(70.0 - float(season["runoff"][0]))


def test_adjusted_curve_number_lies_on_a_straight_line_between():
    wet, dry = (25400.0 / (254.0 + ratio * (25400.0 / 75.0 - 254.0)) for ratio in (0.427, 2.281))
    number = wet + 0.25 * (dry - wet)  # a layer depletion of 6.05 mm, between 4 and 12.2
    soil = loam(curve_number=75.0, adjust_curve_number=True)
    season = wb.simulate(weather([70.0]), crop(), soil, initial_evaporation_depletion=6.05)
    assert float(season["runoff"][0]) == pytest.approx(runoff_mm(70.0, 25400.0 / number - 254.0))


def test_rain_faster_than_the_intake_runs_off():
    # 30 mm at 20 mm/h fall in 1.5 h, of which 12 mm/h enter: 18 mm. A drizzle of 5 mm/h enters all.
    sky = weather([30.0, 30.0, 0.0])
    sky["rain_intensity"] = ("time", [20.0, 5.0, 0.0])
    season = wb.simulate(sky, crop(), loam(intake_rate=12.0))
    assert season["runoff"].values == pytest.approx([12.0, 0.0, 0.0])


# ----------------------------------------------------------------------------------- mulch, layer, salt
def bare(**changes):
    """Give bare ground: a basal coefficient of 0 without cover."""
    made = {"kcb": 0.0, "cover": 0.0, "height": 0.1, "root_depth": 0.3, "depletion_fraction": 0.5}
    return wb.Crop(**(made | changes))


def test_organic_mulch_on_half_of_the_ground_saves_a_quarter_of_the_evaporation(check):
    # FAO-56 chapter 10, p. 197: about 5 % for each 10 % of the surface.
    plain = wb.simulate(weather([0.0], 5.0), bare(), loam())
    covered = wb.simulate(weather([0.0], 5.0), bare().with_organic_mulch(0.5), loam())
    left = float(covered["evaporation"][0] / plain["evaporation"][0])
    check("FAO-56, chapter 10 (organic mulch)", "evaporation left under 50 % cover [1]", 0.75, left, 1e-9)


def test_roots_draw_on_the_evaporation_layer():
    # Allen and others 2005: Kt = (0.1 / 0.4)^0.6 (1 - De / TEW) / (1 - Dr / TAW); T = 5 mm without stress, no
    # evaporation under full cover but 0.01 of the ground.
    shallow = {"kcb": 1.0, "cover": 1.0, "height": 0.3, "root_depth": 0.4, "depletion_fraction": 0.5}
    soil = loam()
    plain = wb.simulate(weather([0.0], 5.0), wb.Crop(**shallow), soil, initial_depletion=10.0)
    drawn = wb.simulate(
        weather([0.0], 5.0), wb.Crop(surface_uptake=True, **shallow), soil, initial_depletion=10.0
    )
    dry, depletion = float(plain["surface_depletion"][0]), float(plain["depletion"][0])
    part = 0.25**0.6 * (1 - dry / 22.0) / (1 - depletion / 60.0)
    assert float(drawn["surface_depletion"][0]) == pytest.approx(dry + min(part, 1.0) * 5.0)
    assert float(drawn["depletion"][0]) == depletion


def test_salinity_lowers_transpiration_all_season(check):
    # Eq. 89, no drought: Ks = 1 - b / (Ky 100) (ECe - threshold); maize of Tables 23 and 24: 1.7 dS/m, 12 %, 1.25.
    salty = crop(salt_threshold=1.7, salt_slope=12.0, yield_response=1.25)
    season = wb.simulate(weather([0.0], 6.0), salty, loam(soil_salinity=4.2))
    check("FAO-56, Eq. 89 by hand", "Ks of maize at 4.2 dS/m [1]", 0.76, float(season["ks"][0]), 1e-9)
    assert float(season["transpiration"][0]) == pytest.approx(0.76 * 6.0)
    dry = wb.simulate(weather([0.0], 6.0), salty, loam(soil_salinity=4.2), initial_depletion=112.5)
    assert float(dry["ks"][0]) == pytest.approx(0.76 * 0.5)
    sweet = wb.simulate(weather([0.0], 6.0), salty, loam(soil_salinity=1.0))
    assert float(sweet["ks"][0]) == 1.0
