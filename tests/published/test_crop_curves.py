"""Coefficient curves and their climate adjustment against the printed examples of FAO-56.

Source of every printed number: FAO Irrigation and Drainage Paper 56 (1998), chapters 6 and 7, read in
the paper (http://www.fao.org/docrep/x0490e/x0490e0b.htm and x0490e0c.htm). Tolerances are half of the
last printed digit unless a note says otherwise; "recomputed" is the printed equation at full precision.
"""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from waterbudget.crop.coefficients import adjust_to_climate, climate_increment, tall_to_short_ratio

PLANTED = "2024-05-22"
STAGES = (25, 25, 30, 20)
"""Dry bean of Box 15: stage lengths of Examples 28 and 30 and Figure 36."""


def run(crop, et_ref=5.0, days=100):
    """Simulate from the planting day on, in a soil so large that nothing is ever short of water."""
    time = pd.date_range(PLANTED, periods=days)
    weather = xr.Dataset(
        {
            "et_ref": ("time", np.broadcast_to(et_ref, days).astype(float), {"surface": "short"}),
            "rain": ("time", np.full(days, 10.0)),
        },
        coords={"time": time, "latitude": 42.0, "elevation": 1200.0},
    )
    return wb.simulate(weather, crop, wb.Soil(available_water=0.3, rew=9, tew=20))


def on_day(values, days):
    """Values on days of the season; day 1 is the planting day."""
    return values.isel(time=np.array(days) - 1).values


# ------------------------------------------------------------------ curve


def test_example_28_single_curve(check):
    # Example 28, Eq. 66.
    crop = wb.Crop(
        planted=PLANTED, stage_days=STAGES, kc=(0.15, 1.19, 0.35), root_depth=1.0, depletion_fraction=0.5
    )
    kc = on_day(run(crop)["kc"], [20, 40, 70, 95])
    printed = [0.15, 0.77, 1.19, 0.56]
    check("FAO-56, Example 28 (Eq. 66)", "Kc on days 20, 40, 70, 95", printed, kc, 0.005)
    np.testing.assert_allclose(kc, [0.15, 0.774, 1.19, 0.56], atol=1e-9)  # recomputed


def test_example_30_basal_curve(check):
    # Example 30, Eq. 66. Day 37 is 0.625 and prints 0.63, day 90 is 0.695 and prints 0.7: hence 0.006.
    crop = wb.Crop(
        planted=PLANTED,
        stage_days=STAGES,
        kcb=(0.15, 1.14, 0.25),
        root_depth=1.0,
        height=0.4,
        depletion_fraction=0.5,
    )
    season = run(crop)
    kcb = on_day(season["kcb"], [12, 37, 65, 90])
    printed = [0.15, 0.63, 1.14, 0.7]
    check("FAO-56, Example 30 (Eq. 66)", "Kcb on days 12, 37, 65, 90", printed, kcb, 0.006)
    # Recomputed by hand: 0.15 + (37 - 25)/25 0.99 = 0.6252; 1.14 - (90 - 80)/20 0.89 = 0.695.
    np.testing.assert_allclose(kcb, [0.15, 0.6252, 1.14, 0.695], atol=1e-9)


def test_figure_36_curve_and_evapotranspiration(check):
    # Figure 36 (dry bean), ten decades. Kc is the value at mid-decade (day 5, 15, ...), not its mean, but
    # for the third decade, which was averaged by hand to 0.20.
    et_ref = [3.0, 3.4, 4.0, 4.2, 4.5, 5.1, 5.6, 6.0, 5.5, 5.2]
    kc_printed = np.array([0.15, 0.15, 0.20, 0.57, 0.98, 1.19, 1.19, 1.19, 0.98, 0.56])
    et_printed = np.array([0.5, 0.5, 0.8, 2.4, 4.4, 6.1, 6.7, 7.1, 5.4, 2.9])
    crop = wb.Crop(
        planted=PLANTED, stage_days=STAGES, kc=(0.15, 1.19, 0.35), root_depth=1.0, depletion_fraction=0.5
    )
    season = run(crop, np.repeat(et_ref, 10))
    middle = np.arange(5, 100, 10)
    kc, et = on_day(season["kc"], middle), on_day(season["et"], middle)
    read = np.arange(10) != 2
    check("FAO-56, Figure 36", "Kc at mid-decade, without the third", kc_printed[read], kc[read], 0.01)
    quantity = "ETc at mid-decade, without the third [mm day-1]"
    check("FAO-56, Figure 36", quantity, et_printed[read], et[read], 0.06)
    recomputed = [0.15, 0.15, 0.15, 0.566, 0.982, 1.19, 1.19, 1.19, 0.98, 0.56]
    np.testing.assert_allclose(kc, recomputed, atol=1e-9)
    # The third decade, and what the daily means would be: up to 0.03 from the readings of the figure.
    means = season["kc"].values.reshape(10, 10).mean(axis=1)
    assert means[2] == pytest.approx(0.20, abs=0.015)
    check("FAO-56, Figure 36", "Kc, means of all decades", kc_printed, means, 0.03)
    assert means[2] * 4.0 == pytest.approx(et_printed[2], abs=0.06)


# ---------------------------------------------------- climate adjustment


def test_box_14_wheat_in_nine_climates(check):
    # Box 14 (wheat, h = 1.0 m, Kc mid 1.15), Eq. 62. Minimum humidity is not printed: 30, 45 and 80 %
    # reproduce the table. Its increments are rounded to 0.05 first and do not add up in calm wind,
    # hence 0.01.
    wind = np.array([4.0, 2.0, 1.0])
    printed = {30: [1.25, 1.20, 1.17], 45: [1.20, 1.15, 1.12], 80: [1.10, 1.05, 1.02]}
    recomputed = {30: [1.251, 1.193, 1.164], 45: [1.208, 1.150, 1.121], 80: [1.107, 1.049, 1.021]}
    for rhmin, values in printed.items():
        kc = adjust_to_climate(1.15, wind, rhmin, 1.0)
        check("FAO-56, Box 14 (Eq. 62)", f"Kc mid at 4, 2, 1 m/s and RHmin {rhmin} %", values, kc, 0.01)
        np.testing.assert_allclose(kc, recomputed[rhmin], atol=0.0006)


def test_box_15_mid_adjusted_end_not(check):
    # Box 15 (dry bean), Eq. 62: 1.15 becomes 1.19; Kc end 0.35 is below 0.45 and stays.
    mid, end = adjust_to_climate(np.array([1.15, 0.35]), 2.2, 30, 0.4)
    check("FAO-56, Box 15 (Eq. 62)", "Kc mid of dry bean", 1.19, mid, 0.005)
    assert mid == pytest.approx(1.187, abs=0.0005)
    assert end == 0.35


def test_example_29_basal(check):
    # Example 29 (dry bean), Eq. 70: 0.15, 1.10, 0.25 become 0.15, 1.14, 0.25.
    mid, end = adjust_to_climate(np.array([1.10, 0.25]), 2.2, 30, 0.4)
    check("FAO-56, Example 29 (Eq. 70)", "Kcb mid of dry bean", 1.14, mid, 0.005)
    assert mid == pytest.approx(1.137, abs=0.0005)
    assert end == 0.25


@pytest.mark.parametrize(
    ("kind", "printed"),
    [("single", (1.19, 0.35)), ("dual", (1.14, 0.25))],
    ids=["box 15", "example 29"],
)
def test_handbook_crop_is_adjusted_as_in_the_paper(check, kind, printed):
    # Box 15 and Example 29 take their coefficients from Tables 12 and 17, as `from_handbook` does. Box 15
    # reads Kc ini, which comes from a figure and not from Table 12, so the initial value is not compared.
    crop = wb.Crop.from_handbook("dry bean", planted=PLANTED, climate=(2.2, 30), kind=kind)
    curve = crop.kc if kind == "single" else crop.kcb
    source = f"FAO-56, {'Box 15' if kind == 'single' else 'Example 29'}, from the handbook"
    check(source, "dry bean, mid and end", printed, curve.sel(coefficient=["mid", "end"]), 0.005)


def test_eq_68_tall_to_short(check):
    # Eq. 68 with u2 = 2.2 m/s, RHmin = 30 %: 1.24.
    check("FAO-56, Eq. 68", "Kc short over Kc tall, 2.2 m/s, 30 %", 1.24, tall_to_short_ratio(2.2, 30), 0.005)
    # Evaluated by hand: 1.2 + (0.04 0.2 + 0.004 15) (0.5/3)^0.3 = 1.2 + 0.068 0.58418.
    assert tall_to_short_ratio(2.2, 30) == pytest.approx(1.23972, abs=5e-6)
    crop = wb.Crop(kc=1.2, root_depth=1.0, depletion_fraction=0.5, climate=(2.2, 30))
    assert crop.on_basis("tall").kc == pytest.approx(1.2 / 1.24, abs=0.005)
    assert crop.on_basis("tall").on_basis("short").kc == pytest.approx(1.2, abs=1e-12)


def test_limits_of_the_climate_adjustment():
    # Text of Eq. 62: for 1 <= u2 <= 6 m/s and 20 <= RHmin <= 80 %, 0.1 m < h < 10 m. Beyond them the value
    # at the limit holds (our reading: the paper gives the range, not what to do outside it).
    assert climate_increment(9.0, 45, 2.0) == climate_increment(6.0, 45, 2.0)
    assert climate_increment(0.2, 45, 2.0) == climate_increment(1.0, 45, 2.0)
    assert climate_increment(2.0, 5, 2.0) == climate_increment(2.0, 20, 2.0)
    assert climate_increment(2.0, 95, 2.0) == climate_increment(2.0, 80, 2.0)
    assert climate_increment(4.0, 30, 15.0) == climate_increment(4.0, 30, 10.0)
    # At 2 m/s and 45 %, for which the tables hold, nothing changes.
    assert climate_increment(2.0, 45.0, 2.0) == 0.0


# ------------------------------------------- coefficients by mulch, mixture, wetting, cover


def curve_of(**values):
    """A crop with the coefficients of an example; what the example does not need is invented."""
    rest = {"planted": PLANTED, "stage_days": STAGES, "root_depth": 1.0, "depletion_fraction": 0.5}
    return wb.Crop(**(rest | values))


def test_example_45_basal_under_plastic_mulch(check):
    # FAO-56 Example 45 (drip cucumber): Kcb 0.15, 0.95, 0.70 become 0.10, 0.86, 0.63 (10 % less at mid and end).
    crop = curve_of(kcb=(0.15, 0.95, 0.70), height=0.3).with_plastic_mulch("cucumber")
    check("FAO-56, Example 45", "Kcb under plastic mulch", [0.10, 0.86, 0.63], crop.kcb, 0.006)
    # Table 25, cucumber: evaporation falls by 40 to 60 %, Kc by 15 to 20 %.
    check("FAO-56, Table 25", "fall of evaporation, cucumber", 0.50, crop.evaporation_reduction, 0.1)
    kc = curve_of(kc=(0.4, 1.0, 0.75)).with_plastic_mulch("cucumber").kc
    # The example takes 15 %, the lower end; the middle of the printed range is 17.5 %, so within 0.025 Kc.
    check("FAO-56, Example 45", "Kc under plastic mulch", [0.10, 0.85, 0.64], kc, [0.006, 0.0251, 0.0251])


def test_page_197_organic_mulch():
    # FAO-56 p. 197: half of the surface under organic mulch lessens evaporation by 25 %.
    crop = curve_of(kcb=(0.15, 0.95, 0.70), height=0.3).with_organic_mulch(0.5)
    assert crop.evaporation_reduction == 0.25
    # p. 197-198, single coefficients: Kc ini by 25 %, mid and end by 25 % of Kc less Kcb. By hand:
    # 0.40 - 0.10; 1.00 - 0.25 0.05; 0.75 - 0.25 0.05.
    single = curve_of(kc=(0.40, 1.00, 0.75)).with_organic_mulch(0.5, kcb=(0.15, 0.95, 0.70))
    np.testing.assert_allclose(single.kc, [0.30, 0.9875, 0.7375], atol=1e-12)


def test_example_46_two_crops(check):
    # FAO-56 Example 46 (Eq. 104): maize (f 0.3, h 2 m, Kc 1.2) with squash (0.7, 0.3 m, 0.95): Kc 1.14.
    always = {"stage_days": (0, 0, 10, 0)}
    maize = curve_of(kc=(1.2, 1.2, 1.2), height=2.0, **always)
    squash = curve_of(kc=(0.95, 0.95, 0.95), height=0.3, **always)
    field = maize.intercropped_with(squash, 0.3, 0.7)
    check("FAO-56, Example 46 (Eq. 104)", "Kc of maize with squash", 1.14, field.kc, 0.006)
    np.testing.assert_allclose(
        field.kc, (0.3 * 2 * 1.2 + 0.7 * 0.3 * 0.95) / (0.3 * 2 + 0.7 * 0.3), atol=1e-9
    )


def test_annex_7_initial_coefficient_of_a_crop(check):
    # FAO-56 Annex 7, Example 7-1: every 3.5 days 20 mm on coarse soil at 5 mm/day. Printed 0.63 inherits
    # an arithmetic error (0.57 for an expression that is 0.533); its own steps give 0.605, and Example 25, from
    # the graphs, 0.60.
    crop = curve_of(kc=(0.3, 1.15, 0.7)).with_initial_coefficient(
        interval=3.5, depth=20, et_ref=5, texture="coarse"
    )
    check("FAO-56, Annex 7, Example 7-1, mended", "Kc ini", 0.605, crop.kc.sel(coefficient="initial"), 0.0006)
    np.testing.assert_array_equal(crop.kc.sel(coefficient=["mid", "end"]), [1.15, 0.7])


def test_density_coefficient_of_observed_cover(check):
    # Allen and Pereira (2009), Irrigation Science 28, 17-34: Kd = min(1, M fc, fc^(1/(1+h))). Numbers chosen
    # here, formula from memory: fc 0.4, h 3 m, M 1.5, Kcb full 1.2: Kd 0.6, Kcb 0.15 + 0.6 1.05 = 0.78; and
    # fc 0.7, h 0.4 m, Kcb full 1.04: Kd 0.7751, Kcb 0.8398.
    for cover, height, full, kcb in ((0.4, 3.0, 1.2, 0.78), (0.7, 0.4, 1.04, 0.8398)):
        seen = pd.Series([cover, cover], index=pd.to_datetime(["2024-06-01", "2024-06-11"]))
        crop = wb.Crop.from_cover(seen, height=height, root_depth=1.0, depletion_fraction=0.5)
        check("Allen and Pereira 2009 (from memory)", f"Kcb at cover {cover}", kcb, crop.kcb, 5e-5)
        # In the standard climate Kcb full is min(1 + 0.1 h, 1.2) by FAO-56 Eq. 100: 1.2 and 1.04.
        stated = wb.Crop.from_cover(
            seen, height=height, full_kcb=full, root_depth=1.0, depletion_fraction=0.5
        )
        np.testing.assert_allclose(stated.kcb, crop.kcb, atol=1e-12)


def test_example_41_shade_at_noon(check):
    # FAO-56 Example 41: trees in rows, fc 0.3, latitude 40, day 200 (18 July 2024 is day 200), HWR 1: fc eff 0.41.
    # Kd is M fc eff = 1.5 0.41 = 0.61, less than fc eff^(1/3) = 0.74, so fc eff follows from Kcb. 1.5 m/s, 55 %.
    seen = pd.Series([0.3], index=pd.to_datetime(["2024-07-18"]))
    crop = wb.Crop.from_cover(
        seen, height=2.0, latitude=40, climate=(1.5, 55), root_depth=1.0, depletion_fraction=0.5
    )
    shade = (crop.kcb.item() - 0.15) / (1.147 - 0.15) / 1.5  # Kcb full 1.147, recomputed
    check("FAO-56, Example 41", "cover shaded at noon", 0.41, shade, 0.01)


def test_yield_response_where_table_24_has_none():
    # FAO-56 p. 177: Ky = 1 may be used for a crop that Table 24 does not list. Table 23 lists carrots (1.0 dS/m,
    # 14 % per dS/m), Table 24 does not; dry onion (1.2, 16, Ky 1.1) is in both.
    carrots = wb.Crop.from_handbook("carrots", planted="2024-03-01", stage_days=(20, 30, 40, 20))
    assert (carrots.salt_threshold, carrots.salt_slope, carrots.yield_response) == (1.0, 14.0, 1.0)
    onion = wb.Crop.from_handbook("onion, dry", planted="2024-05-01")
    assert (onion.salt_threshold, onion.salt_slope, onion.yield_response) == (1.2, 16.0, 1.1)
    # p. 156: roots of less than 0.5 m (Table 22: onions 0.3-0.6 m, maize 0.8-1.2 m) draw on the surface layer.
    assert onion.surface_uptake == 1.0
    assert wb.Crop.from_handbook("sweet maize", planted="2024-05-12").surface_uptake == 0.0
