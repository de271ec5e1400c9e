"""Break the day's physics on purpose, one line at a time, and see that the checks notice.

Each mutant is one change to the source of ``balance/step.py``, ``balance/decide.py`` or ``balance/watch.py``: a term dropped, a sign
turned, an order swapped, a clamp missing. It is loaded in place of the real function, and the check named
beside it must fail: a published example of FAO-56 (the tests of ``tests/published``, run as they are), the
water balance itself, the bounds of its quantities, or the definition of `Rule`. The real source passes
all of them.
"""

import collections
import importlib.util
import inspect
import pathlib
from typing import NamedTuple

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from waterbudget.balance import decide, drivers, step, supply
from waterbudget.balance import watch as watching

PUBLISHED = pathlib.Path(__file__).parents[1] / "published"


def load_published(name):
    """Load published checks by their path: test files are no package."""
    spec = importlib.util.spec_from_file_location(f"published_{name}", PUBLISHED / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


published = load_published("test_balance_examples")
stages = load_published("test_stages_of_the_day")


# ------------------------------------------------------------------ checks of ours


def mixed_season():
    """A year with everything in it: storms and drizzle, dry spells, roots that grow and end, two kinds of
    coefficient, soil and system, three orders of percolation, irrigation by rule on half of the cells.
    """
    days = 365
    rng = np.random.default_rng(7)
    time = pd.date_range("2023-01-01", periods=days)
    # Wet winters, a summer that is nearly dry.
    wet = rng.random(days) < np.where(np.abs(np.arange(days) - 190) < 75, 0.05, 0.35)
    weather = xr.Dataset(
        {
            "et_ref": (
                "time",
                3.5 + 3.0 * np.sin((np.arange(days) - 90) / 58) + rng.random(days),
                {"surface": "short"},
            ),
            "rain": ("time", wet * rng.gamma(0.9, 12.0, days)),
        },
        coords={"time": time, "latitude": 45.0, "elevation": 50.0},
    )
    common = {
        "planted": "2023-04-20",
        "stage_days": (25, 35, 60, 25),
        "root_depth": (0.15, 0.9),
        "height": 1.2,
        "depletion_fraction": 0.5,
    }
    crops = {
        "dual": wb.Crop(kcb=(0.15, 1.1, 0.4), **common),
        "single": wb.Crop(kc=(0.4, 1.15, 0.5), **common),
    }
    systems = {
        "pivot": wb.System(efficiency=0.8),
        "drip": wb.System(efficiency=0.9, wetted_fraction=0.35, under_canopy=True),
    }
    # The sand's second stage is shorter than a day's demand can be.
    soils = {
        "loam": wb.Soil(field_capacity=0.25, wilting_point=0.12, rew=8, tew=22),
        "sand": wb.Soil(field_capacity=0.12, wilting_point=0.04, rew=3, tew=7),
    }
    # The dry fields are those whose rule has a last date before the season.
    dates = xr.DataArray(
        np.array(["2023-12-31", "2022-12-31"], dtype="datetime64[ns]"),
        dims="plan",
        coords={"plan": ["watered", "dry"]},
    )
    return wb.simulate(
        weather,
        wb.concat(crops, "crop"),
        wb.concat(soils, "soil"),
        wb.concat(systems, "system"),
        wb.Rule(last_date=dates),
        initial_depletion=10.0,
        initial_depletion_below=50.0,
        initial_evaporation_depletion=5.0,
        et_share_before_percolation=xr.DataArray(
            [0.0, 0.5, 1.0], dims="order", coords={"order": ["0", "half", "1"]}
        ),
    )


def season_of_every_stage():
    """Two wet years on slow, layered, salty soils over a water table, with crops that take turns."""
    days = 600
    rng = np.random.default_rng(11)
    sky = xr.Dataset(
        {
            "et_ref": ("time", 4.0 + 3.0 * np.sin((np.arange(days) - 90) / 58), {"surface": "short"}),
            "rain": ("time", (rng.random(days) < 0.25) * rng.gamma(0.9, 16.0, days)),
        },
        coords={"time": pd.date_range("2023-01-01", periods=days), "latitude": 45.0, "elevation": 50.0},
    )
    common = {
        "stage_days": (20, 30, 40, 20),
        "root_depth": (0.15, 1.1),
        "height": 0.9,
        "depletion_fraction": 0.5,
        "salt_threshold": 2.0,
        "salt_slope": 10.0,
        "yield_response": 1.1,
    }
    spring = wb.Crop(planted="2023-03-10", kcb=(0.15, 1.1, 0.3), surface_uptake=True, **common)
    summer = wb.Crop(planted="2023-07-05", kc=(0.4, 1.1, 0.5), **common)
    again = wb.Crop(planted="2024-04-01", kcb=(0.15, 1.0, 0.4), evaporation_reduction=0.4, **common)
    slow = wb.Soil(
        field_capacity=(0.30, 0.36),
        wilting_point=(0.14, 0.20),
        saturation=(0.42, 0.41),
        layer_bottom=(0.4, 1.5),
        rew=8,
        tew=22,
        drainage_fraction=0.3,
        curve_number=80,
        adjust_curve_number=True,
        soil_salinity=3.5,
    )
    loam = wb.Soil(
        field_capacity=0.30, wilting_point=0.14, rew=8, tew=22,
        water_table_depth=1.6, capillary_a=2.0, capillary_n=2.5,
    )  # fmt: skip
    return wb.simulate(
        sky,
        wb.Rotation(crops=(spring, summer, again)),
        wb.concat({"slow": slow, "loam": loam}, "soil"),
        wb.System(efficiency=0.8),
        wb.Rule(allowable_depletion=0.6),
        initial_depletion_below=40.0,
        et_share_before_percolation=xr.DataArray([0.0, 1.0], dims="order", coords={"order": ["0", "1"]}),
    )


def change(season, name):
    """Change of a state over each day, the first from the state before it."""
    values = season[name]
    before = values.shift(time=1)
    return values - before.fillna(season[f"initial_{name}"])


def check_root_zone_closes():
    season = mixed_season()
    gain = season["met_by_roots"] + season["rain"] + season["irrigation_net"]
    loss = season["percolation"] + season["evaporation"] + season["transpiration"]
    assert float(abs(change(season, "taw") - change(season, "depletion") - (gain - loss)).max()) <= 1e-9


def check_profile_closes():
    season = mixed_season()
    gain = season["rain"] + season["irrigation_net"]
    loss = season["drainage"] + season["evaporation"] + season["transpiration"]
    missing = change(season, "depletion") + change(season, "depletion_below")
    assert float(abs(missing + gain - loss).max()) <= 1e-9


def check_stages_close():
    season = season_of_every_stage()
    gain = season["rain"] - season["runoff"] + season["irrigation_net"] + season["capillary_rise"]
    used = season["evaporation"] + season["transpiration"]
    root_zone = change(season, "taw") - change(season, "depletion") + change(season, "excess_water")
    root_zone = root_zone - (gain + season["met_by_roots"] - season["percolation"] - used)
    profile = change(season, "excess_water") - change(season, "depletion") - change(season, "depletion_below")
    assert float(abs(root_zone).max()) <= 1e-9
    assert float(abs(profile - (gain - season["drainage"] - used)).max()) <= 1e-9


def check_bounds_of_stages():
    season = season_of_every_stage()
    limits = {
        "excess_water": season["excess_capacity"],
        "depletion": season["taw"] + season["air_dry_water"],
        "depletion_below": season["profile_water"] - season["taw"],
        "surface_depletion": season["tew"],
        "capillary_rise": season["capillary_limit"],
        "runoff": season["rain"],
        "ks": season["salt_factor"],
    }
    for name, limit in limits.items():
        assert float(season[name].min()) >= -1e-9, name
        assert float((season[name] - limit).max()) <= 1e-9, name


def check_bounds():
    season = mixed_season()
    rounding = 1e-9
    profile = 1000 * season["available_water"] * season["deepest_root"]
    limits = {
        "depletion": season["taw"] + season["air_dry_water"],
        "depletion_below": profile - season["taw"],
        "surface_depletion": season["tew"],
        "wetted_fraction": 1.0,
        "ks": 1.0,
        "ke": season["kc_max"],
        "evaporation": season["kc_max"] * season["et_ref"],
        "transpiration": (season["kc"] - season["ke"]) * season["et_ref"],
        "et": season["kc"] * season["et_ref"],
        "percolation": season["rain"] + season["irrigation_net"],
        "drainage": season["percolation"],
    }
    for name, limit in limits.items():
        assert float(season[name].min()) >= -rounding, name
        assert float((season[name] - limit).max()) <= rounding, name
    # No more evaporates than the exposed part of the layer holds once water has entered (Eq. 77).
    before = season["surface_depletion"].shift(time=1).fillna(season["initial_surface_depletion"])
    entered = season["rain"] + season["irrigation_net"] / season["wetted_fraction"]
    exposed = np.minimum(1 - season["cover"], season["wetted_fraction"])
    left = season["tew"] - np.maximum(before - entered, 0.0)
    assert float((season["evaporation"] - exposed * left).max()) <= rounding


def check_bounds_of_a_dry_harvest():
    # A root zone at air-dry shrinks from 0.2 to 0.1 m. The soil it leaves holds 13 mm and can lack no more;
    # what evaporation took below wilting point stays with the surface.
    time = pd.date_range("2024-07-01", periods=2)
    weather = xr.Dataset(
        {"et_ref": ("time", np.zeros(2), {"surface": "short"}), "rain": ("time", np.zeros(2))},
        coords={"time": time, "latitude": 40.0, "elevation": 0.0},
    )
    ends = pd.Series([0.2, 0.1], index=time)
    crop = wb.Crop(kcb=ends * 0 + 0.15, root_depth=ends, height=0.1, cover=0.0, depletion_fraction=0.5)
    soil = wb.Soil(field_capacity=0.25, wilting_point=0.12, rew=8, tew=22)
    season = wb.simulate(weather, crop, soil, initial_depletion=26.0 + 9.0)
    assert season["depletion_below"].values[-1] <= 13.0 + 1e-9
    assert season["depletion"].values[-1] <= 13.0 + 9.0 + 1e-9


def watch(rule, days=40, growing_days=30, **options):
    """Dry days of 5 mm: TAW 120 mm, RAW 60; the crop stands on the first of them only."""
    time = pd.date_range("2024-06-01", periods=days)
    weather = xr.Dataset(
        {"et_ref": ("time", np.full(days, 5.0), {"surface": "short"}), "rain": ("time", np.zeros(days))},
        coords={"time": time, "latitude": 40.0, "elevation": 0.0},
    )
    crop = wb.Crop(
        planted="2024-06-01",
        stage_days=(0, 0, growing_days, 0),
        kc=1.0,
        root_depth=1.0,
        depletion_fraction=0.5,
        adjust_depletion_fraction=False,
    )
    soil = wb.Soil(available_water=0.12, rew=9, tew=20)
    season = wb.simulate(weather, crop, soil, rule=wb.Rule(**rule), **options)
    net = season["irrigation_net"].values
    return {int(day): float(round(net[day], 6)) for day in np.flatnonzero(net)}


def check_rule():
    # Definition of Rule. 5 mm a day from field capacity on: 60 mm are missing after 12 days (0 to 11), and day 12
    # waters. It holds on 30 days only.
    assert watch({}) == {12: 60.0, 24: 60.0}
    assert watch({"allowable_depletion": 0.25}) == {6: 30.0, 12: 30.0, 18: 30.0, 24: 30.0}
    assert watch({"refill_to": 0.25}) == {12: 30.0, 18: 30.0, 24: 30.0}
    assert watch({"net_depth": 40.0}) == {12: 40.0, 20: 40.0, 28: 40.0}
    assert watch({"max_depth": 20.0}) == {12: 20.0, 16: 20.0, 20: 20.0, 24: 20.0, 28: 20.0}
    assert watch({"allowable_depletion": 0.0, "min_depth": 35.0}) == {7: 35.0, 14: 35.0, 21: 35.0, 28: 35.0}
    assert watch({"allowable_depletion": 0.1, "min_interval": 9}) == {3: 15.0, 12: 45.0, 21: 45.0}
    assert watch({"last_date": "2024-06-24"}) == {12: 60.0}
    assert watch({"last_date": "2024-06-25"}) == {12: 60.0, 24: 60.0}
    assert watch({}, growing_days=13) == {12: 60.0}
    assert watch({}, growing_days=12) == {}


def spots(share, weight, watched=None):
    return wb.System(delivered_fraction=0.9, spot_share=share, spot_weight=weight, spot_watched=watched)


def check_rule_of_spots():
    # Definition of Rule, by hand: 5 mm a day, watered at 30 mm, no stress before 60. A watering of day 6 finds 30 mm
    # everywhere; what is beyond field capacity covers the day's 5 mm first, the rest percolates.
    quarter = {"allowable_depletion": 0.25}
    driest = quarter | {"watch_driest_quarter": True}
    pair = spots([1.2, 0.8], [0.5, 0.5])
    expected = {6: 30.0, 12: 30.5, 18: 33.3, 24: 34.98, 29: 30.988}
    assert watch(quarter, system=pair) == expected
    expected = {6: 30.0, 11: 31.0, 16: 31.2, 21: 31.24, 26: 31.248}
    assert watch(driest, system=pair) == expected
    # 0.9 of the field are reached by a share of 0.8. Of what is looked at 0.4 of 0.9 are the drier one, filled on day
    # 6, and 0.5 the other one, filled with more than the day takes: 27.2 mm lack after day 11, 32.2 after day 12. The
    # drier one then lacks 35 mm, and so on for ever. The driest quarter is of the drier one alone.
    expected = {6: 37.5, 13: 43.75, 20: 43.75, 27: 43.75}
    assert watch(quarter | {"adequacy": 0.9}, system=pair) == expected
    assert watch(driest | {"adequacy": 0.9}, system=pair) == {6: 37.5, 12: 37.5, 18: 37.5, 24: 37.5}
    # Half is the wetter one. It counts as an even field does, is filled with more than the day takes, and alone is
    # looked at; the other one falls back.
    expected = {6: 30.0, 13: 30.0, 20: 30.0, 27: 30.0}
    assert watch(quarter | {"adequacy": 0.5}, system=pair) == expected
    assert watch(driest | {"adequacy": 0.5}, system=pair) == expected
    # A target of 0.05 leaves 6 mm at the spot that is filled last.
    assert watch(quarter | {"adequacy": 0.9, "refill_to": 0.05}, system=pair)[6] == 30.0
    # The drier spot fills 0.2 of 0.25; 0.05 of the other one count beside it.
    expected = {6: 30.0, 11: 34.0, 15: 32.28, 19: 32.7856, 23: 33.048512, 27: 33.185226}
    assert watch(driest, system=spots([0.6, 1.1], [0.2, 0.8])) == expected
    # A corner without water that nobody watches: 30 mm on 0.8 of the field are 24 mm; a fixed depth stays.
    corner = spots([1.25, 0.0], [0.8, 0.2], [1, 0])
    assert watch(quarter, system=corner) == {6: 24.0, 12: 24.0, 18: 24.0, 24: 24.0}
    expected = {6: 20.0, 11: 20.0, 16: 20.0, 21: 20.0, 26: 20.0}
    assert watch(quarter | {"net_depth": 20.0}, system=corner) == expected
    # Spots of no equal parts: 0.7 of the field are filled when the drier one is left short, 0.85 are not.
    fifth = spots([0.6, 1.1], [0.2, 0.8])
    assert watch(quarter | {"adequacy": 0.7}, system=fifth)[6] == 30.0
    assert watch(quarter | {"adequacy": 0.85}, system=fifth)[6] == 50.0
    # The same pair on 0.8 of a field: 30 mm there are 24 mm of the whole, and the drier one sets 30.
    corner = spots([1.5, 1.0, 0.0], [0.4, 0.4, 0.2], [1, 1, 0])
    assert watch(quarter | {"adequacy": 0.5}, system=corner)[6] == 24.0
    assert watch(quarter | {"adequacy": 0.6}, system=corner)[6] == 30.0
    first_is_corner = spots([0.0, 1.25], [0.2, 0.8], [0, 1])
    assert watch(driest, system=first_is_corner) == {6: 24.0, 12: 24.0, 18: 24.0, 24: 24.0}


def check_depth_for_adequacy(compare):
    # Keller, J., Bliesner, R.D. (1990), "Sprinkle and trickle irrigation", table of the distribution efficiency (from
    # memory, in whole percent): CU 86 % and 95 to 70 % of the field to be filled. 200 spots of normal depths.
    for adequacy, efficiency in zip((0.95, 0.9, 0.85, 0.8, 0.75, 0.7), (71, 77, 82, 85, 88, 91), strict=True):
        normal = wb.System.from_distribution(
            "normal", 0.14 * np.sqrt(np.pi / 2), spots=200, delivered_fraction=1.0
        )
        net = watch({"allowable_depletion": 0.25, "adequacy": adequacy}, days=10, system=normal)[6]
        where = "Keller and Bliesner (1990), distribution efficiency (from memory)"
        compare(where, f"CU 86 %, adequacy {100 * adequacy:g} % [%]", efficiency, 100 * 30.0 / net, 1.0)


def drip(volume, depletion, net, *, et_ref=(5.0,), root_depth=1.0):
    """Days without rain on a wetted and a dry part: available water 120 mm/m, half of it readily."""
    time = pd.date_range("2024-06-01", periods=len(et_ref))
    weather = xr.Dataset(
        {"et_ref": ("time", np.array(et_ref), {"surface": "short"}), "rain": ("time", np.zeros(len(et_ref)))},
        coords={"time": time, "latitude": 40.0, "elevation": 0.0},
    )
    crop = wb.Crop(kc=1.0, root_depth=root_depth, depletion_fraction=0.5, adjust_depletion_fraction=False)
    return wb.simulate(
        weather,
        crop,
        wb.Soil(available_water=0.12, rew=9, tew=20),
        wb.System(efficiency=0.9, wetted_volume=volume, wetted_fraction=volume),
        initial_depletion=depletion,
        irrigation=pd.DataFrame({"date": time, "net_mm": net}),
    )


def check_shared_roots():
    # Jarvis, N.J. (1989), A simple empirical model of root water uptake, Journal of Hydrology 107, 57-72 (from
    # memory): the index is the mean of the stress coefficients, w = v Ks wet + (1 - v) Ks dry. Down to the critical
    # index, here v, the plant gets all it asks for, below it w / v of that; each part gives by its own Ks.
    def of_day(*arguments):
        season = drip(*arguments).isel(time=0)
        return [*season.transpiration.values.round(9), *season.ks.values.round(9)]

    # 36 mm refill the wetted 0.4 from 90 mm; the dry part keeps 90, Ks 0.5: w is 0.7.
    assert of_day(0.4, 90.0, 36.0) == pytest.approx([5 / 0.7, 0.5 * 5 / 0.7, 1.0, 1.0], abs=1e-8)
    # Both at 90 mm: w is 0.5, below 0.8.
    assert of_day(0.8, 90.0, 0.0) == pytest.approx([3.125, 3.125, 0.625, 0.625], abs=1e-8)
    # A dry part at the wilting point gives nothing; the wetted one gives all.
    assert of_day(0.4, 120.0, 48.0) == pytest.approx([12.5, 0.0, 1.0, 1.0], abs=1e-8)


def check_bounds_of_shared_roots():
    # Shallow roots: a day asks for most of what their soil holds.
    net = np.where(np.arange(60) % 6 == 0, 4.0, 0.0)
    season = drip(0.3, 0.0, net, et_ref=np.where(np.arange(60) < 30, 8.0, 3.0), root_depth=0.1)
    rounding = 1e-9
    assert float((season["depletion"] - season["taw"]).max()) <= rounding
    taken = (season["transpiration"] * season["spot_weight"]).sum("spot")
    assert float((taken - season["et_ref"]).max()) <= rounding
    assert float((season["ks"] - 1.0).max()) <= rounding
    gain = season["irrigation_net"] * season["spot_share"]
    loss = season["percolation"] + season["transpiration"]
    assert float(abs(change(season, "depletion") + gain - loss).max()) <= rounding


CHECKS = {
    "Example 31": published.test_example_31_bare_soil_dries,
    "Example 32": published.test_example_32_sprinkler,
    "Example 33": published.test_example_33_alternate_furrows,
    "Example 35": published.test_example_35_evaporation_layer,
    "Eq. 77, Table 20": published.test_equation_77_and_table_20_by_hand,
    "Example 36": published.test_example_36_available_water_of_nine_pairs,
    "p of page 162": published.test_depletion_fraction_follows_evapotranspiration,
    "Example 37": published.test_example_37_dry_down,
    "water enters early": published.test_water_enters_before_stress_is_read,
    "Example 38": published.test_example_38_schedule,
    "Eq. 88": published.test_example_38_what_would_move_the_second_irrigation,
    "printed chain": published.test_printed_chain_from_temperature_to_net_depth,
    "root zone closes": check_root_zone_closes,
    "profile closes": check_profile_closes,
    "bounds": check_bounds,
    "bounds of a dry harvest": check_bounds_of_a_dry_harvest,
    "definition of Rule": check_rule,
    "roots meet a layer": stages.test_roots_meet_the_water_of_the_layer_they_grow_into,
    "roots in the first layer": stages.test_roots_within_the_first_layer_know_nothing_of_the_second,
    "linear reservoir": stages.test_water_above_field_capacity_leaves_as_from_a_linear_reservoir,
    "saturation": stages.test_what_exceeds_saturation_leaves_at_once,
    "saturation by layer": stages.test_the_room_above_field_capacity_is_the_sum_over_the_layers,
    "roots use excess": stages.test_roots_draw_on_the_water_above_field_capacity,
    "Gardner": stages.test_capillary_rise_is_gardners_flow_once_the_readily_available_water_is_used,
    "rise ceases": stages.test_capillary_rise_ceases_towards_field_capacity,
    "curve number between": stages.test_adjusted_curve_number_lies_on_a_straight_line_between,
    "organic mulch": stages.test_organic_mulch_on_half_of_the_ground_saves_a_quarter_of_the_evaporation,
    "uptake from the layer": stages.test_roots_draw_on_the_evaporation_layer,
    "Eq. 89": stages.test_salinity_lowers_transpiration_all_season,
    "rule of spots": check_rule_of_spots,
    "depth for adequacy": check_depth_for_adequacy,
    "Jarvis": check_shared_roots,
    "bounds of shared roots": check_bounds_of_shared_roots,
    "stages close": check_stages_close,
    "bounds of stages": check_bounds_of_stages,
}


# ------------------------------------------------------------------------ mutants


class Mutant(NamedTuple):
    """One change of the source, and the check that must notice it."""

    module: object
    name: str
    old: str
    new: str
    caught_by: str


MUTANTS = [
    # roots
    Mutant(step, "roots take no stored water in", "depletion = state.depletion + moved", "depletion = state.depletion", "root zone closes"),
    Mutant(step, "soil below keeps what roots took", "below = state.depletion_below - moved", "below = state.depletion_below", "profile closes"),
    Mutant(step, "met by roots counts dry soil as full", "met_by_roots = taw - state.taw - moved", "met_by_roots = taw - state.taw", "root zone closes"),
    Mutant(step, "harvest leaves air-dry water behind", "np.minimum(state.depletion, state.taw) * leaving", "state.depletion * leaving", "bounds of a dry harvest"),
    Mutant(step, "roots take all that is below at once", "moved = state.depletion_below * joining", "moved = state.depletion_below", "bounds"),
    # wetting
    Mutant(step, "drizzle wets all of the surface", "(day.rain >= WETTING_RAIN) * day.rain", "day.rain", "Eq. 77, Table 20"),
    Mutant(step, "canopy does not shade drip", "wetting.under_canopy * (2.0 / 3.0)", "wetting.under_canopy * 0.0", "Eq. 77, Table 20"),
    Mutant(step, "buried drip wets the surface", "irrigation * (1.0 - wetting.subsurface)", "irrigation", "Eq. 77, Table 20"),
    Mutant(step, "irrigation enters the layer as I", "on_surface / wetted_fraction", "on_surface", "Eq. 77, Table 20"),
    Mutant(step, "fraction wetted is forgotten overnight", "(1.0 - wetted) * state.wetted_fraction", "(1.0 - wetted)", "Example 35"),
    Mutant(step, "rain and irrigation are not weighted", "(system_fraction * on_surface + rewetting)", "(system_fraction * on_surface + system_fraction * rewetting)", "Example 35"),
    # evaporation
    Mutant(step, "Kr is read before wetting", "left = ground.tew - surface", "left = ground.tew - state.surface_depletion", "Example 35"),
    Mutant(step, "Kr has no upper limit", "np.minimum(left / ground.stage_two, 1.0)", "left / ground.stage_two", "Example 31"),
    Mutant(step, "Kr falls from the start", "left / ground.stage_two", "left / ground.tew", "Example 31"),
    Mutant(step, "few forgets the wetted fraction", "np.minimum(1.0 - day.cover, wetted_fraction)", "1.0 - day.cover + 0.0 * wetted_fraction", "Example 33"),
    Mutant(step, "few forgets the cover", "np.minimum(1.0 - day.cover, wetted_fraction)", "wetted_fraction", "Example 35"),
    Mutant(step, "few Kc max does not limit Ke", "np.minimum(reduction * (day.kc_max - day.coefficient), exposed * day.kc_max)", "(reduction * (day.kc_max - day.coefficient))", "Example 33"),
    Mutant(step, "Ke is not less for transpiration", "reduction * (day.kc_max - day.coefficient)", "reduction * day.kc_max", "Example 31"),
    Mutant(step, "evaporation is spread over the whole surface", "drying = evaporation / exposed", "drying = evaporation", "Example 35"),
    Mutant(step, "single coefficient evaporates as well", "* (drive * day.dual)", "* drive", "Example 37"),
    Mutant(step, "evaporation is not limited to what is held", "evaporation = np.minimum(demand, held)", "evaporation = demand", "bounds"),
    Mutant(step, "layer dries below air-dry", "surface = np.minimum(surface + drying, ground.tew)", "surface = surface + drying", "bounds"),
    # stress
    Mutant(step, "p rises with evapotranspiration", "day.depletion_fraction + 0.04 * (5.0", "day.depletion_fraction - 0.04 * (5.0", "p of page 162"),
    Mutant(step, "p has no limits", "np.minimum(np.maximum(adjusted, 0.1), 0.8)", "adjusted", "p of page 162"),
    Mutant(step, "p is always adjusted", "day.adjust * (adjusted", "(adjusted", "Example 37"),
    Mutant(step, "RAW is that of yesterday's roots", "raw = p * roots.taw", "raw = p * state.taw", "Example 38"),
    Mutant(step, "Ks falls from field capacity on", "(roots.taw - missing) / (roots.taw - raw)", "(roots.taw - missing) / roots.taw", "Example 37"),
    Mutant(step, "Ks is read before water enters", "(roots.taw - missing) / (roots.taw - raw)", "(roots.taw - roots.depletion) / (roots.taw - raw)", "water enters early"),
    Mutant(step, "Ks has no upper limit", "np.minimum(np.maximum((roots.taw - missing) / (roots.taw - raw), 0.0), 1.0)", "np.maximum((roots.taw - missing) / (roots.taw - raw), 0.0)", "Example 37"),
    Mutant(step, "Ks falls below 0", "np.maximum((roots.taw - missing) / (roots.taw - raw), 0.0)", "((roots.taw - missing) / (roots.taw - raw))", "bounds"),
    Mutant(step, "Ks also cuts evaporation", "et = evaporation + transpiration", "et = ks * evaporation + transpiration", "root zone closes"),
    Mutant(step, "transpiration is left out", "et = evaporation + transpiration", "et = evaporation", "Example 37"),
    # balance
    Mutant(step, "rain does not reach the roots", "roots.depletion - day.rain - irrigation", "roots.depletion - irrigation", "Example 38"),
    Mutant(step, "irrigation dries", "roots.depletion - day.rain - irrigation", "roots.depletion - day.rain + irrigation", "Example 38"),
    Mutant(step, "ET always before percolation", "used = ground.et_share * np.minimum(excess, et)", "used = np.minimum(excess, et)", "Example 38"),
    Mutant(step, "ET never before percolation", "used = ground.et_share * np.minimum(excess, et)", "used = 0.0 * np.minimum(excess, et)", "Eq. 88"),
    Mutant(step, "ET takes more than the excess", "ground.et_share * np.minimum(excess, et)", "ground.et_share * et", "bounds"),
    Mutant(step, "percolation counts what ET used", "percolation = excess - used", "percolation = excess", "root zone closes"),
    Mutant(step, "ET is taken twice", "depletion = missing + (et - used)", "depletion = missing + et", "root zone closes"),
    Mutant(step, "depletion grows by potential ET", "depletion = missing + (et - used)", "depletion = missing + (potential + evaporation - used)", "Example 37"),
    Mutant(step, "dry soil below catches nothing", "drainage = np.maximum(percolation - depletion_below, 0.0)", "drainage = percolation", "profile closes"),
    Mutant(step, "soil below overfills", "np.maximum(depletion_below - percolation, 0.0)", "(depletion_below - percolation)", "bounds"),
    # layers
    Mutant(step, "the first layer goes on for ever", "water = water + np.maximum(depth - top, 0.0) * change", "water = water", "roots meet a layer"),
    Mutant(step, "a deeper layer counts from the surface", "np.maximum(depth - top, 0.0)", "depth", "roots meet a layer"),
    Mutant(step, "a deeper layer counts above itself", "np.maximum(depth - top, 0.0)", "(depth - top)", "roots in the first layer"),
    Mutant(step, "growth counts from the whole profile", "np.maximum(ground.profile - state.taw, TINY)", "ground.profile", "roots meet a layer"),
    # mulch and salt
    Mutant(step, "mulch lets all evaporation pass", "drive = day.et_ref * day.evaporation_factor", "drive = day.et_ref", "organic mulch"),
    Mutant(step, "salt does no harm", "ks = day.salt_factor * np.minimum", "ks = np.minimum", "Eq. 89"),
    # slow drainage
    Mutant(step, "held water is forgotten overnight", "roots.depletion - excess_water", "roots.depletion", "stages close"),
    Mutant(step, "held water dries the root zone", "roots.depletion - excess_water", "roots.depletion + excess_water", "linear reservoir"),
    Mutant(step, "all of it is held", "np.minimum(holding.kept * fluxes.percolation, room)", "np.minimum(fluxes.percolation, room)", "linear reservoir"),
    Mutant(step, "saturation is no limit", "np.minimum(holding.kept * fluxes.percolation, room)", "holding.kept * fluxes.percolation", "saturation"),
    Mutant(step, "what is held percolates as well", "percolation = fluxes.percolation - held", "percolation = fluxes.percolation", "stages close"),
    Mutant(step, "roots do not draw on what is held", "drawn = np.minimum(held, end.depletion)", "drawn = 0.0 * held", "roots use excess"),
    Mutant(step, "roots draw more than is held", "drawn = np.minimum(held, end.depletion)", "drawn = end.depletion", "bounds of stages"),
    Mutant(step, "what roots draw is still held", "excess_water=held - drawn", "excess_water=held", "stages close"),
    Mutant(step, "drainage of slow soils is that of quick ones", "fluxes._replace(percolation=percolation, drainage=drainage)", "fluxes._replace(percolation=percolation)", "stages close"),
    Mutant(step, "saturated room is that of the top layer", "within(root_depth, holding.drainable, holding.layer_tops, holding.layer_changes)", "root_depth * holding.drainable", "saturation by layer"),
    # water table
    Mutant(step, "all of the limit rises always", "capillary_limit * np.minimum(end.depletion / end.raw, 1.0)", "capillary_limit", "rise ceases"),
    Mutant(step, "rise grows beyond the limit", "np.minimum(end.depletion / end.raw, 1.0)", "end.depletion / end.raw", "Gardner"),
    Mutant(step, "more rises than is missing", "risen = np.minimum(capillary_limit * np.minimum(end.depletion / end.raw, 1.0), end.depletion)", "risen = capillary_limit * np.minimum(end.depletion / end.raw, 1.0)", "rise ceases"),
    Mutant(step, "what rises dries", "depletion=end.depletion - risen", "depletion=end.depletion + risen", "stages close"),
    # runoff by moisture
    Mutant(step, "wet and dry curve numbers are swapped", "shedding.dry, shedding.wet, surface_depletion", "shedding.wet, shedding.dry, surface_depletion", "curve number between"),
    Mutant(step, "the curve number stays that of a wet soil", "shedding.wet, surface_depletion, shedding.rew", "shedding.wet, 0.0 * surface_depletion, shedding.rew", "curve number between"),
    # evaporation layer and roots
    Mutant(step, "uptake ignores how dry the layer is", "layer_uptake * (left / tew) / moist", "layer_uptake / moist", "uptake from the layer"),
    Mutant(step, "uptake ignores how dry the root zone is", "layer_uptake * (left / tew) / moist", "layer_uptake * (left / tew)", "uptake from the layer"),
    Mutant(step, "uptake dries the layer below air-dry", "np.minimum(part * transpiration, left)", "10.0 * part * transpiration", "bounds of stages"),
    # wet and dry roots
    Mutant(step, "the dry part has no say in the stress index", "wetted_volume * ks_wet + (1.0 - wetted_volume) * ks_dry", "wetted_volume * ks_wet + 0.0 * ks_dry", "Jarvis"),
    Mutant(step, "parts count alike in the stress index", "wetted_volume * ks_wet + (1.0 - wetted_volume) * ks_dry", "0.5 * ks_wet + 0.5 * ks_dry", "Jarvis"),
    Mutant(step, "uptake is made up for without limit", "enough = np.maximum(index, wetted_volume)", "enough = np.maximum(index, TINY)", "Jarvis"),
    Mutant(step, "uptake is not made up for", "enough = np.maximum(index, wetted_volume)", "enough = np.maximum(index, 1.0)", "Jarvis"),
    Mutant(step, "the wetted part gives all always", "return 1.0 / enough, index / enough", "return 1.0 / wetted_volume, index / enough", "bounds of shared roots"),
    Mutant(step, "the plant's stress is the index", "return 1.0 / enough, index / enough", "return 1.0 / enough, index", "Jarvis"),
    Mutant(step, "each part gives by its own stress alone", "ks * (day.uptake * potential)", "ks * potential", "Jarvis"),
    Mutant(step, "roots take more than their part holds", "np.minimum(drawn, np.maximum(roots.taw - missing - evaporation, 0.0))", "drawn", "bounds of shared roots"),
    # decision
    Mutant(decide, "adequacy adds nothing", "refill, filling_depth(wanted, watch, adequacy)", "refill, refill", "depth for adequacy"),
    Mutant(decide, "adequacy fills the quarter that is looked at", "filling_depth(wanted, watch, adequacy)", "filling_depth(wanted, look, adequacy)", "rule of spots"),
    Mutant(decide, "corners are watered as if they were watched", "choice.over_application * np.maximum(", "np.maximum(", "rule of spots"),
    Mutant(decide, "corners make fixed depths smaller", "choice.fixed * choice.net_depth", "choice.fixed * choice.over_application * choice.net_depth", "rule of spots"),
    Mutant(decide, "waits for all available water", "choice.at_stress * morning.raw_before", "choice.at_stress * morning.taw_before", "Example 38"),
    Mutant(decide, "irrigates while water is left", "(morning.depletion_before >= allowance)", "(morning.depletion_before < allowance)", "Example 38"),
    Mutant(decide, "allowance is reached only beyond it", "morning.depletion_before >= allowance", "morning.depletion_before > allowance", "definition of Rule"),
    Mutant(decide, "refill goes beyond its target", "depletion - choice.refill_to * taw", "depletion", "definition of Rule"),
    Mutant(decide, "fixed depth adds to the refill", "(1.0 - choice.fixed) * morning.refill", "morning.refill", "definition of Rule"),
    Mutant(decide, "largest depth is not kept", "np.minimum(wanted, choice.max_depth)", "wanted", "definition of Rule"),
    Mutant(decide, "smallest depth is not kept", "(depth >= choice.min_depth)", "(depth >= 0.0)", "definition of Rule"),
    Mutant(decide, "interval is not kept", "(morning.days_since >= choice.min_interval)", "(morning.days_since >= 1.0)", "definition of Rule"),
    Mutant(decide, "last day is one too early", "(morning.today <= choice.last_day)", "(morning.today < choice.last_day)", "definition of Rule"),
    Mutant(decide, "bare soil is irrigated", "due * morning.growing * depth", "due * depth", "definition of Rule"),
    Mutant(decide, "days since irrigation never restart", "(1.0 - (net > 0.0)) * (days_since + 1.0)", "(days_since + 1.0)", "definition of Rule"),
    # who is watched
    Mutant(watching, "the wettest quarter is watched", "first_part(-depletion,", "first_part(depletion,", "rule of spots"),
    Mutant(watching, "a quarter is half of the field", "QUARTER = 0.25", "QUARTER = 0.5", "rule of spots"),
    Mutant(watching, "the last spot counts whole", "np.minimum(np.cumsum(ranked, axis=0), part)", "np.cumsum(ranked, axis=0)", "rule of spots"),
    Mutant(watching, "corners are watched", "own = weight * watched", "own = weight + 0.0 * watched", "rule of spots"),
    Mutant(watching, "weights of the watched do not add up to 1", "np.asarray(own / total)", "np.asarray(own)", "rule of spots"),
    Mutant(watching, "adequacy counts from the driest spot", "np.argsort(wanted,", "np.argsort(-wanted,", "depth for adequacy"),
    Mutant(watching, "adequacy looks at what is lacking alone", "np.where(reached, share, 1.0)", "np.ones(share.shape)", "depth for adequacy"),
    Mutant(watching, "adequacy looks at shares alone", "np.maximum(lacking, 0.0) * times", "np.broadcast_to(lacking[:1], lacking.shape) * times", "rule of spots"),
    Mutant(watching, "what is given up on is looked at", "np.isnan(adequacy), watch, first_part(wanted, watch, adequacy)", "np.isnan(adequacy), watch, watch + 0.0 * wanted", "rule of spots"),
    Mutant(watching, "an uneven field is given less than an even one", "np.maximum(1.0 / np.where(reached, share, 1.0), over_application)", "1.0 / np.where(reached, share, 1.0)", "rule of spots"),
    Mutant(watching, "an even field's depth counts corners", "np.where(reached, share, 1.0), over_application)", "np.where(reached, share, 1.0), 1.0)", "rule of spots"),
    Mutant(watching, "adequacy counts corners", "np.broadcast_to(weight, wanted.shape), order", "np.full(wanted.shape, 1.0 / len(wanted)), order", "rule of spots"),
    Mutant(watching, "a mean counts its spots alike", "weight[spot] * (values[spot] - first)", "(values[spot] - first) / len(values) + 0.0 * weight[spot]", "rule of spots"),
]  # fmt: skip


def load_mutant(mutant):
    """Load a copy of a module with one text replaced, which must stand in it exactly once."""
    source = pathlib.Path(mutant.module.__file__).read_text()
    count = source.count(mutant.old)
    assert count == 1, f"{mutant.old!r} stands {count} times in {mutant.module.__name__}: mend the mutant"
    names = {"__name__": f"{mutant.module.__name__}_mutant"}
    exec(compile(source.replace(mutant.old, mutant.new), f"<mutant: {mutant.name}>", "exec"), names)
    return names


def run(name, compare):
    """Run a check; those with print are given something to compare by that leaves no record."""
    test = CHECKS[name]
    test(*[compare] * len(inspect.signature(test).parameters))


def catching(names, compare):
    """Names of the checks that fail; any other exception is not a catch."""
    caught = []
    for name in names:
        try:
            run(name, compare)
        except AssertionError:
            caught.append(name)
    return caught


@pytest.mark.parametrize("name", CHECKS)
def test_real_source_passes(name, compare):
    run(name, compare)


@pytest.mark.parametrize("mutant", MUTANTS, ids=[mutant.name for mutant in MUTANTS])
def test_mutant_is_caught(mutant, monkeypatch, compare):
    changed = load_mutant(mutant)
    patched = 0
    for user in {decide, drivers, supply} - {mutant.module}:
        for name, function in changed.items():
            if inspect.isfunction(function) and getattr(user, name, None) is getattr(
                mutant.module, name, None
            ):
                monkeypatch.setattr(user, name, function)
                patched += 1
    assert patched
    assert catching([mutant.caught_by], compare) == [mutant.caught_by]


def test_count_of_mutants(capsys):
    # Not a check of the physics: it says how many mutants there are and what catches them.
    by_check = collections.Counter(mutant.caught_by for mutant in MUTANTS)
    assert set(by_check) <= set(CHECKS)
    assert len({(mutant.module, mutant.old, mutant.new) for mutant in MUTANTS}) == len(MUTANTS) >= 75
    with capsys.disabled():
        parts = ", ".join(f"{name} {count}" for name, count in by_check.most_common())
        print(f"\n{len(MUTANTS)} mutants of the day's physics: {parts}")
