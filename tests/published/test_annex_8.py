"""FAO-56 (1998), Annex 8: the conventions of its spreadsheet for dry bean at Kimberly, Idaho, 1974.

The annex prints inputs and formulas; its table of daily results is a picture that was not readable. So the
formulas are evaluated here by hand on weather of our own, and compared with what the balance does. Box 15
has the planting on 23 May, the sheet on the 22nd; Box 16 has REW 9, the sheet 8: the sheet is followed. The
sheet's Ks looks at a first estimate of the depletion at the end of the day, Example 37 at its start; the
balance follows the example.
"""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb

STAGES = (25, 25, 30, 20)
KCB = (0.15, 1.10, 0.25)
FULL_HEIGHT, SHALLOW, DEEP = 0.4, 0.2, 0.8
DAYS = pd.date_range("1974-05-15", "1974-08-31")
LAST = pd.Timestamp("1974-08-13")  # day 225 of the year, half way through the late season


@pytest.fixture(scope="module")
def season():
    rng = np.random.default_rng(8)
    weather = xr.Dataset(
        {
            "et_ref": ("time", rng.uniform(4.0, 8.0, len(DAYS)), {"surface": "short"}),
            "rain": ("time", (rng.random(len(DAYS)) < 0.1) * rng.uniform(0.5, 12.0, len(DAYS))),
        },
        coords={"time": DAYS, "latitude": 42.4, "elevation": 1207.0},
    )
    beans = wb.Crop(
        planted="1974-05-22",
        stage_days=STAGES,
        kcb=KCB,
        root_depth=(SHALLOW, DEEP),
        height=FULL_HEIGHT,
        depletion_fraction=0.45,
        adjust_depletion_fraction=False,
    )
    return wb.simulate(
        weather,
        beans,
        wb.Soil(available_water=0.16, rew=8, tew=22),
        wb.System(efficiency=0.7, wetted_fraction=0.5),
        wb.Rule(last_date=LAST),
        initial_evaporation_depletion=18.0,
    )


def kcb_of(season):
    """Eq. 66 for the age of each day, 1 on the planting day; 0 outside the season."""
    age = (DAYS - pd.Timestamp("1974-05-22")).days + 1
    ends = np.cumsum(STAGES)
    curve = np.interp(age, [1, ends[0], ends[1], ends[2], ends[3]], [KCB[0], KCB[0], KCB[1], KCB[1], KCB[2]])
    return np.where((age >= 1) & (age <= ends[3]), curve, 0.0)


def test_coefficient_by_age(season, check):
    source = "FAO-56, Annex 8 with Eq. 66"
    check(source, "Kcb of every day [1]", kcb_of(season), season["kcb"].values, 1e-9)


def test_roots_follow_the_coefficient_and_never_shrink(season, check):
    # Eq. 8-1: Zr = Zr min + (Zr max - Zr min) (Kcb - Kcb ini) / (Kcb mid - Kcb ini).
    grown = SHALLOW + (DEEP - SHALLOW) * (kcb_of(season) - KCB[0]) / (KCB[1] - KCB[0])
    stands = season["crop_stage"].values > 0
    expected = np.maximum.accumulate(grown[stands])
    check("FAO-56, Annex 8 Eq. 8-1", "root depth [m]", expected, season["root_depth"].values[stands], 1e-9)


def test_height_follows_the_coefficient_and_never_falls(season, check):
    # Height = Kcb / Kcb mid h max; it is seen through cover, Eq. 72 and 76 in the standard climate.
    kcb = kcb_of(season)
    height = np.maximum.accumulate(kcb) / KCB[1] * FULL_HEIGHT
    limit = np.maximum(1.2, kcb + 0.05)
    cover = (np.maximum(kcb - 0.15, 0.0) / (limit - 0.15)) ** (1 + 0.5 * height)
    stands = season["crop_stage"].values > 0
    got = season["cover"].values[stands]
    check("FAO-56, Annex 8 with Eq. 76", "cover, by the day's height [1]", cover[stands], got, 1e-9)


def test_layer_and_wetted_fraction_begin_as_in_the_sheet(season):
    assert float(season["initial_surface_depletion"]) == 18.0
    assert float(season["initial_wetted_fraction"]) == 1.0
    watered = (season["irrigation_net"] > 0).values & (season["rain"].values < 3.0)
    assert watered.any()
    assert set(season["wetted_fraction"].values[watered]) == {0.5}


def test_irrigation_is_decided_in_the_evening_and_given_in_the_morning(season):
    net, stands = season["irrigation_net"].values[1:], season["crop_stage"].values[1:] > 0
    depletion, raw = season["depletion"].values[:-1], season["raw"].values[:-1]
    due = (depletion >= raw) & stands & (DAYS[1:] <= LAST)
    np.testing.assert_array_equal(net > 0, due)
    assert due.sum() >= 5
    # The depth is the depletion, with what the roots met that morning.
    grown = season["taw"].values[1:] - season["taw"].values[:-1] - season["met_by_roots"].values[1:]
    np.testing.assert_allclose(net[due], (depletion + grown)[due], rtol=0, atol=1e-9)


def test_no_irrigation_after_the_last_date(season):
    late = DAYS > LAST
    assert (season["crop_stage"].values > 0)[late].any()
    assert not season["irrigation_net"].values[late].any()
