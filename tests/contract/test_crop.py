"""What a crop can be told beside its calendar: heat, mulch, cover, salt, mixtures, rotations; and what it refuses."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from waterbudget.crop import Rotation, develop
from waterbudget.crop.thermal import accumulate
from waterbudget.descriptions import sources

CURVE = {
    "planted": "2024-05-05",
    "stage_days": (5, 10, 10, 5),
    "root_depth": (0.2, 0.8),
    "depletion_fraction": 0.5,
}
DAYS = pd.date_range("2024-04-25", "2024-07-31")
HEAT = {"stage_days": None, "stage_degree_days": (60, 100, 100, 40), "base_temperature": 8}


def basal(**changes):
    return wb.Crop(**({**CURVE, "kcb": (0.15, 1.1, 0.3), "height": 0.5} | changes))


def single(**changes):
    return wb.Crop(**({**CURVE, "kc": (0.4, 1.1, 0.3)} | changes))


def along(values, labels=("north", "south"), dim="field"):
    return xr.DataArray(list(values), dims=dim, coords={dim: list(labels)})


def dates(*values):
    return along(np.array(values, dtype="datetime64[ns]"))


def normal_year(days=DAYS):
    """Invented temperatures that differ from day to day."""
    warmth = 3.0 * np.sin(np.arange(len(days)) / 9.0)
    return xr.Dataset({"tmin": ("time", 9 + warmth), "tmax": ("time", 24 + warmth)}, coords={"time": days})


def heat_of(crop, weather):
    return accumulate(
        weather["tmin"], weather["tmax"], crop.planted, crop.base_temperature, crop.upper_temperature
    )


def refusal(make, *args, **kwargs):
    with pytest.raises(wb.InputError) as caught:
        make(*args, **kwargs)
    return caught.value


def only_fault(make, *args, **kwargs):
    (fault,) = refusal(make, *args, **kwargs).faults
    return fault


# ------------------------------------------------------------------------------ canonical forms
def test_new_values_have_one_form_and_defaults_say_their_source():
    crop = basal()
    assert (
        crop.unfinished == crop.surface_uptake == crop.evaporation_reduction == crop.residue_reduction == 0.0
    )
    assert crop.stage_degree_days is crop.killing_frost is crop.salt_threshold is None
    assert sources(crop)["evaporation_reduction"] == "default: no mulch"
    told = basal(
        **HEAT, upper_temperature="86 degF", unfinished=True, stage_yield_response=(0.4, 0.4, 1.5, 0.5)
    )
    assert told.stage_degree_days.dims == told.stage_yield_response.dims == ("stage",)
    assert told.upper_temperature == pytest.approx(30.0)  # 86 degF, by definition
    assert told.unfinished == 1.0
    assert sources(told)["unfinished"] == "given by the user"


@pytest.mark.parametrize(
    ("changes", "what", "says"),
    [
        ({"cover": 1.2}, "cover", "outside its range"),
        ({"depletion_fraction": 0.05}, "depletion_fraction", "outside its range"),
        ({"depletion_fraction": 0.85}, "depletion_fraction", "outside its range"),
        ({"evaporation_reduction": 1.1}, "evaporation_reduction", "outside its range"),
        ({"residue_reduction": -0.1}, "residue_reduction", "outside its range"),
        ({"unfinished": "perhaps"}, "unfinished", "not yes or no"),
        ({"stage_days": None}, "kcb, root_depth", "without a calendar"),
        (
            {"stage_degree_days": (60, 100, 100, 40), "base_temperature": 8},
            "stage_days, stage_deg",
            "both given",
        ),
        ({**HEAT, "base_temperature": None}, "base_temperature", "missing for stages in degree days"),
        ({**HEAT, "upper_temperature": 8}, "base_temperature", "not below upper_temperature"),
        ({**HEAT, "stage_degree_days": (0, 0, 0, 0)}, "stage_degree_days", "add up to nothing"),
        ({**HEAT, "stage_degree_days": (60, 100)}, "stage_degree_days", "needs 4 values"),
        ({"salt_threshold": 1.7, "yield_response": 1.25}, "salt_slope", "is not given beside"),
        ({"salt_threshold": 1.7, "salt_slope": 12}, "yield_response", "is not given beside"),
        ({"salt_slope": 12, "yield_response": 1.25}, "salt_threshold", "is not given beside"),
        ({"stage_yield_response": (1, 1)}, "stage_yield_response", "needs 4 values"),
    ],
)
def test_what_does_not_fit_is_refused(changes, what, says):
    faults = refusal(basal, **changes).faults
    assert any(what in fault.what and says in fault.problem for fault in faults), faults


def test_degree_days_beside_a_daily_series_are_refused():
    series = pd.Series(0.8, index=DAYS)
    error = refusal(basal, **HEAT, kcb=series, root_depth=0.8)
    assert "stands beside a daily series" in str(error)


def test_labels_at_fault_are_named():
    fault = only_fault(
        basal, salt_threshold=along([1.7, 1.0]), salt_slope=along([12, np.nan]), yield_response=1
    )
    assert (fault.what, fault.where) == ("salt_slope", "field south")
    both = along([8, 8])
    fault = only_fault(basal, **{**HEAT, "base_temperature": both, "upper_temperature": along([30, 6])})
    assert (fault.where, fault.value) == ("field south", "base 8, upper 6")


# ------------------------------------------------------------------------------ joining
def test_crops_join_when_only_some_have_the_new_values():
    rich = basal(
        salt_threshold=1.7, salt_slope=12, yield_response=1.25, killing_frost=-2, evaporation_reduction=0.25,
        surface_uptake=True, stage_yield_response=(0.4, 0.4, 1.5, 0.5),
    )  # fmt: skip
    joined = wb.concat({"a": basal(), "b": rich}, "field")
    np.testing.assert_array_equal(joined.salt_threshold, [np.nan, 1.7])
    np.testing.assert_array_equal(joined.killing_frost, [np.nan, -2])
    np.testing.assert_array_equal(joined.evaporation_reduction, [0, 0.25])
    np.testing.assert_array_equal(joined.surface_uptake, [0, 1])
    np.testing.assert_array_equal(joined.stage_yield_response.isel(field=1), [0.4, 0.4, 1.5, 0.5])
    factor = develop(joined).evaporation_factor
    assert factor[0].min() == 1.0
    assert factor[1].min() == 0.75


def test_days_and_degree_days_join_and_develop_as_they_do_alone():
    weather = normal_year()
    by_days, by_heat = basal(), basal(**HEAT, upper_temperature=30)
    always = wb.Crop(kcb=0.9, height=0.5, root_depth=0.8, depletion_fraction=0.5)
    joined = wb.concat({"days": by_days, "heat": by_heat, "always": always}, "way")
    together = develop(joined, heat_of(joined, weather))
    alone = develop(by_heat, heat_of(by_heat, weather))
    assert together.dims == ("way",)
    for name in ("coefficient", "kc_max", "cover", "root_depth", "stage", "evaporation_factor", "height"):
        np.testing.assert_array_equal(getattr(together, name)[1], getattr(alone, name)[0])
    first = 1 + int((pd.Timestamp("2024-05-05") - DAYS[0]).days)
    calendar = develop(by_days)
    for name in ("coefficient", "kc_max", "cover", "root_depth", "stage"):
        np.testing.assert_allclose(
            getattr(together, name)[0, first : first + 30], getattr(calendar, name)[0, 1:31], atol=1e-12
        )
    assert (together.coefficient[2, 1:-1] == 0.9).all()


def test_rotations_join_crop_by_crop():
    first = Rotation(crops=(basal(), basal(planted="2024-07-01")))
    other = Rotation(crops=(basal(planted="2024-05-10"), basal(planted="2024-07-01", kcb=(0.2, 1.0, 0.4))))
    joined = wb.concat({"north": first, "south": other}, "field")
    assert len(joined.crops) == 2
    assert joined.crops[0].planted.dims == ("field",)
    assert joined.crops[0].kcb.dims == ("coefficient",)
    assert joined.crops[1].kcb.sizes == {"field": 2, "coefficient": 3}
    fault = only_fault(wb.concat, {"north": first, "south": Rotation(crops=(basal(),))}, "field")
    assert fault.where == "south"
    assert "different numbers" in fault.problem
    short = Rotation(crops=(basal(basis="tall"), basal(basis="tall", planted="2024-07-01")))
    error = refusal(wb.concat, {"north": first, "south": short}, "field")
    assert error.faults[0].what.startswith("Rotation.crops, number 1: Crop.basis")
    assert "already has the dimension" in str(refusal(wb.concat, {"x": joined, "y": joined}, "field"))


# ------------------------------------------------------------------------------ development
def test_evaporation_factor_before_during_and_after():
    crop = basal(evaporation_reduction=0.25, residue_reduction=0.4)
    growth = develop(crop)
    factor, stage = growth.evaporation_factor[0], growth.stage[0]
    assert factor[0] == 1.0
    assert (factor[1:31] == 0.75).all()
    assert (stage[1:31] > 0).all()
    assert (factor[31:] == 0.6).all()
    series = wb.Crop(
        kcb=pd.Series(0.8, index=DAYS), height=0.5, root_depth=0.8, depletion_fraction=0.5,
        evaporation_reduction=0.25, residue_reduction=0.4,
    )  # fmt: skip
    daily = develop(series).evaporation_factor[0]
    assert (daily[0], daily[1], daily[-2], daily[-1]) == (1.0, 0.75, 0.75, 0.6)
    always = wb.Crop(kc=0.9, root_depth=0.8, depletion_fraction=0.5, evaporation_reduction=0.25)
    assert (develop(always).evaporation_factor == 0.75).all()


def test_stages_pass_by_heat_and_not_by_days():
    # 10 degC days every day above a base of 8 degC: 60 degC days are 6 days, and so on. By hand.
    weather = xr.Dataset(
        {"tmin": ("time", np.full(len(DAYS), 12.0)), "tmax": ("time", np.full(len(DAYS), 24.0))},
        coords={"time": DAYS},
    )
    crop = basal(**HEAT, residue_reduction=0.4)
    growth = develop(crop, heat_of(crop, weather))
    assert growth.first_day.values == DAYS[0]
    stage = growth.stage[0, 1:-1]
    planted = 10  # 5 May is the eleventh day
    assert [int((stage == number).sum()) for number in (1, 2, 3, 4)] == [6, 10, 10, 4]
    assert stage[:planted].max() == 0
    assert stage[planted] == 1
    kcb = growth.coefficient[0, 1:-1]
    # Day 11 of the crop has 110 of 60 + 100 degC days: halfway up from 0.15 to 1.1.
    assert kcb[planted + 10] == pytest.approx(0.625, abs=1e-12)
    assert growth.root_depth[0, 1:-1][planted + 10] == pytest.approx(0.5, abs=1e-12)
    factor = growth.evaporation_factor[0, 1:-1]
    assert (factor[:planted] == 1).all()
    assert (factor[planted : planted + 30] == 1).all()
    assert (factor[planted + 30 :] == 0.6).all()


def test_cold_days_hold_the_crop_back():
    weather = normal_year()
    cold = weather.copy(deep=True)
    cold["tmax"][20:30] = 7.0
    cold["tmin"][20:30] = 2.0
    crop = basal(**HEAT)
    warm_stage, cold_stage = (develop(crop, heat_of(crop, each)).stage[0] for each in (weather, cold))
    assert (cold_stage == 1).sum() + (cold_stage == 2).sum() > (warm_stage == 1).sum() + (
        warm_stage == 2
    ).sum()
    assert len(set(cold_stage[21:31])) == 1


def test_no_later_day_changes_an_earlier_one():
    crop = basal(**HEAT, unfinished=True)
    weather = normal_year()
    whole = develop(crop, heat_of(crop, weather))
    for days in (15, 25, 40):
        part = develop(crop, heat_of(crop, weather.isel(time=slice(days))))
        for name in ("coefficient", "kc_max", "cover", "root_depth", "stage", "height", "evaporation_factor"):
            np.testing.assert_array_equal(
                getattr(part, name)[:, : days + 1], getattr(whole, name)[:, : days + 1]
            )
        np.testing.assert_array_equal(part.deepest_root, whole.deepest_root)


def test_labels_of_heat_and_of_planting_are_kept():
    crop = basal(**HEAT, planted=dates("2024-05-05", "2024-05-15"))
    heat = heat_of(crop, normal_year()).expand_dims(member=["a", "b", "c"])
    growth = develop(crop, heat)
    assert growth.sizes == {"field": 2, "member": 3} or growth.sizes == {"member": 3, "field": 2}
    assert growth.first_day.dims == ()


def test_heat_that_does_not_serve_is_refused():
    weather = normal_year()
    crop = basal(**HEAT)
    assert "is not given" in only_fault(develop, crop).problem
    short = weather.sel(time=slice(None, "2024-05-14"))
    fault = only_fault(develop, crop, heat_of(crop, short))
    assert fault.what == "stage 'development'"
    assert "is not complete" in fault.problem
    assert fault.allowed == "160 degC day or more since planting"
    assert "unfinished=True" in fault.mend
    two = basal(**HEAT, planted=dates("2024-04-26", "2024-06-20"))
    fault = only_fault(develop, two, heat_of(two, weather.sel(time=slice(None, "2024-06-30"))))
    assert (fault.where, fault.count) == ("field south", 1)
    gap = weather.copy(deep=True)
    gap["tmin"][20] = np.nan
    fault = only_fault(develop, crop, heat_of(crop, gap))
    assert (fault.where, fault.value) == ("2024-05-15", "NaN")
    gap = weather.copy(deep=True)
    gap["tmin"][-1] = np.nan  # the crop has ended by then
    assert develop(crop, heat_of(crop, gap)).stage[0, -2] == 0
    other = xr.DataArray(
        np.zeros((2, 3)), dims=("field", "time"), coords={"field": ["x", "y"], "time": DAYS[:3]}
    )
    assert "different field labels" in str(refusal(develop, two, other))


# ------------------------------------------------------------------------------ degree days of a calendar
def test_a_calendar_in_degree_days_gives_the_same_stages_in_the_same_weather():
    weather = normal_year()
    for planted in ("2024-05-05", dates("2024-05-05", "2024-06-01")):
        crop = basal(planted=planted)
        by_heat = crop.in_degree_days(weather, 8, upper=30)
        assert by_heat.stage_days is None
        assert "turned into degree days" in sources(by_heat)["stage_degree_days"]
        growth = develop(by_heat, heat_of(by_heat, weather))
        for stage in growth.stage:
            assert [int((stage == number).sum()) for number in (1, 2, 3, 4)] == [5, 10, 10, 5]


def test_half_a_day_takes_half_of_its_heat():
    weather = normal_year()
    halves = basal(stage_days=(5.5, 9.5, 10, 5)).in_degree_days(weather, 8)
    whole = basal(stage_days=(5, 1, 9, 15)).in_degree_days(weather, 8)
    first, sixth = whole.stage_degree_days.values[:2]
    assert halves.stage_degree_days.values[0] == pytest.approx(first + sixth / 2, abs=1e-9)


def test_heat_is_limited_as_the_crop_says():
    weather = normal_year()
    # Nights below the base of 13 degC: the two limits differ.
    extremes, mean = (basal().in_degree_days(weather, 13, 30, limit=limit) for limit in ("extremes", "mean"))
    assert (basal().heat_limit, extremes.heat_limit, mean.heat_limit) == ("extremes", "extremes", "mean")
    assert sources(basal())["heat_limit"].startswith("default")
    assert bool((extremes.stage_degree_days > mean.stage_degree_days).all())
    heat = accumulate(weather["tmin"], weather["tmax"], mean.planted, 13, 30, limit=mean.heat_limit)
    assert [int((develop(mean, heat).stage == number).sum()) for number in (1, 2, 3, 4)] == [5, 10, 10, 5]
    error = refusal(wb.concat, {"a": extremes, "b": mean}, "way")
    assert [fault.what for fault in error.faults] == ["Crop.heat_limit"]
    assert only_fault(basal, heat_limit="both").what == "heat_limit"
    assert only_fault(basal().in_degree_days, weather, 14, limit="both").what == "limit"


def test_a_calendar_that_cannot_be_turned_is_refused():
    crop, weather = basal(), normal_year()
    assert "does not hold" in only_fault(crop.in_degree_days, weather.isel(time=slice(30)), 8).problem
    assert "does not hold" in only_fault(crop.in_degree_days, weather.isel(time=slice(12, None)), 8).problem
    assert "has no tmin" in str(refusal(crop.in_degree_days, weather[["tmax"]], 8))
    assert "stage_days" in str(refusal(basal(**HEAT).in_degree_days, weather, 8))
    assert "not below" in str(refusal(crop.in_degree_days, weather, 8, upper=8))
    gap = weather.copy(deep=True)
    gap["tmax"][15] = np.nan
    assert "no temperature" in only_fault(crop.in_degree_days, gap, 8).problem


# ------------------------------------------------------------------------------ cover
SEEN = pd.Series([0.1, 0.5, 0.3], index=pd.to_datetime(["2024-05-01", "2024-05-11", "2024-05-15"]))
TREES = {"height": 3.0, "root_depth": 1.2, "depletion_fraction": 0.5}


def test_cover_lies_on_straight_lines_between_observations():
    crop = wb.Crop.from_cover(SEEN, **TREES)
    np.testing.assert_allclose(crop.cover, [*np.linspace(0.1, 0.5, 11), 0.45, 0.4, 0.35, 0.3], atol=1e-12)
    assert crop.cover.sizes == crop.kcb.sizes == {"time": 15}
    assert "straight lines between observations" in sources(crop)["cover"]
    assert "no latitude" in sources(crop)["kcb"]
    fields = xr.DataArray(
        [[0.1, 0.5, 0.3], [0.2, 0.2, 0.2]],
        dims=("field", "time"),
        coords={"field": ["a", "b"], "time": SEEN.index},
    )
    both = wb.Crop.from_cover(fields, **TREES)
    np.testing.assert_allclose(both.kcb.sel(field="a"), crop.kcb, atol=1e-12)
    grown = wb.Crop.from_cover(SEEN, **{**TREES, "height": pd.Series([2, 3, 3], index=SEEN.index)})
    assert grown.height.sel(time="2024-05-06") == pytest.approx(2.5)


def test_ground_cover_raises_the_coefficient_of_a_stand():
    bare = wb.Crop.from_cover(SEEN, **TREES)
    green = wb.Crop.from_cover(SEEN, **TREES, ground_cover_kcb=0.6)
    # By hand for cover 0.5, h 3 m: Kd = min(0.75, 0.5^0.25 = 0.841) = 0.75; 0.15 + 0.75 1.05 and 0.6 + 0.75 0.6.
    assert bare.kcb.sel(time="2024-05-11") == pytest.approx(0.9375)
    assert green.kcb.sel(time="2024-05-11") == pytest.approx(1.05)
    assert bool((green.kcb > bare.kcb).all())
    shaded = wb.Crop.from_cover(SEEN, **TREES, latitude=40)
    assert bool((shaded.kcb > bare.kcb).all())


def test_ground_cover_under_a_tabled_orchard():
    trees = basal(kcb=(0.15, 0.9, 0.65), height=4)
    # By hand: Kcb full 1.2, Kd 0, 0.75/1.05, 0.5/1.05; 0.6 + Kd 0.6.
    np.testing.assert_allclose(trees.with_ground_cover(0.6).kcb, [0.6, 0.6 + 3 / 7, 0.6 + 2 / 7], atol=1e-12)
    np.testing.assert_allclose(trees.with_ground_cover(0.15).kcb, trees.kcb, atol=1e-12)
    assert "ground cover" in sources(trees.with_ground_cover(0.6))["kcb"]
    assert only_fault(single().with_ground_cover, 0.6).what == "kcb"
    assert (
        "above that of full cover" in only_fault(basal(kcb=(0.15, 1.3, 0.3)).with_ground_cover, 0.6).problem
    )


def equation_76(crop):
    """Cover by age of a crop whose cover is not stated."""
    return develop(dataclasses.replace(crop, cover=None)).cover


def test_cover_is_of_trees_and_of_the_plants_between_them():
    # FAO-56 Eq. 76 by hand on 11 May, cover 0.5 seen, Kcb 1.05, h 3 m: (0.9 / 1.05)^2.5 = 0.680.
    green = wb.Crop.from_cover(SEEN, **TREES, ground_cover_kcb=0.6)
    assert green.cover.sel(time="2024-05-11") == pytest.approx((0.9 / 1.05) ** 2.5)
    assert "Eq. 76" in sources(green)["cover"]
    grown = {**TREES, "height": pd.Series([2, 3, 3], index=SEEN.index), "climate": (3, 30)}
    for each in (TREES, grown):
        bare, green = wb.Crop.from_cover(SEEN, **each), wb.Crop.from_cover(SEEN, **each, ground_cover_kcb=0.6)
        expected = np.maximum(bare.cover, equation_76(green)[0, 1:-1])
        np.testing.assert_allclose(green.cover, expected, atol=1e-12)
    fields = SEEN.rename_axis("time").to_xarray() * along([1.0, 0.5])
    both = wb.Crop.from_cover(fields, **TREES, ground_cover_kcb=along([0.3, 0.6]))
    assert both.cover.dims[-1] == "time"
    assert bool((both.cover >= fields).all())


@pytest.mark.parametrize("cover", [0.3, (0.05, 0.4, 0.9), along([0.3, 0.6])])
def test_a_stated_cover_is_raised_by_a_ground_cover(cover):
    trees = basal(kcb=(0.4, 0.9, 0.65), height=4, cover=cover, climate=(3, 40))
    green = trees.with_ground_cover(0.8)
    before, after, least = develop(trees).cover, develop(green).cover, equation_76(green)
    assert (after >= before - 1e-12).all()
    assert (after >= least - 0.02).all()  # Eq. 76 is not straight between the three points
    assert (after[:, 20] >= least[:, 20] - 1e-12).all()
    assert "Eq. 76" in sources(green)["cover"]
    assert basal(kcb=(0.4, 0.9, 0.65), height=4).with_ground_cover(0.8).cover is None


def test_a_curve_of_covers_cannot_be_raised_day_by_day():
    trees = basal(kcb=pd.Series(0.6, index=DAYS), cover=(0.1, 0.5, 0.4), height=4)
    assert only_fault(trees.with_ground_cover, 0.6).what == "cover"
    daily = dataclasses.replace(trees, cover=0.3).with_ground_cover(0.6)
    np.testing.assert_allclose(develop(daily).cover[0, 1:-1], daily.cover, atol=1e-12)


@pytest.mark.parametrize(
    ("cover", "changes", "what", "says"),
    [
        (SEEN + 0.6, {}, "cover", "outside its range"),
        (SEEN - 0.2, {}, "cover", "outside its range"),
        (SEEN.where(SEEN > 0.2), {}, "cover", "outside its range or missing"),
        (SEEN[::-1], {}, "cover, dates", "not in order"),
        (SEEN.iloc[[0, 0, 1]], {}, "cover, dates", "not in order"),
        (SEEN.set_axis(SEEN.index + pd.Timedelta(hours=9)), {}, "cover", "at an hour"),
        (SEEN[:0], {}, "cover", "no observations"),
        (0.5, {}, "cover", "has no dates"),
        (SEEN, {"height": pd.Series([3.0, 3.0], index=SEEN.index[:2])}, "height", "not observed on all days"),
        (SEEN, {"multiplier": 3}, "multiplier", "outside its range"),
        (SEEN, {"multiplier": "2"}, "multiplier", "not a number"),
        (SEEN, {"latitude": 95}, "latitude", "outside its range"),
        (SEEN, {"arrangement": "square"}, "arrangement", "unknown"),
        (SEEN, {"ground_cover_kcb": 2}, "ground_cover_kcb", "outside its range"),
        (SEEN, {"depletion_fraction": 0.9}, "depletion_fraction", "outside its range"),
    ],
)
def test_cover_that_does_not_serve_is_refused(cover, changes, what, says):
    fault = only_fault(wb.Crop.from_cover, cover, **{**TREES, **changes})
    assert fault.what == what
    assert says in fault.problem


# ------------------------------------------------------------------------------ mulch, wetting
def test_mulch_and_residue():
    crop = basal().with_organic_mulch(0.6).with_residue(along([0.2, 1.0]))
    assert crop.evaporation_reduction == pytest.approx(0.3)
    np.testing.assert_allclose(crop.residue_reduction, [0.1, 0.5])
    assert "p. 197" in sources(crop)["evaporation_reduction"]
    assert crop.kcb.identical(basal().kcb)
    straw = single().with_organic_mulch(along([0.0, 0.5]))
    np.testing.assert_allclose(straw.kc.sel(coefficient="initial"), [0.4, 0.3])
    np.testing.assert_allclose(straw.kc.sel(coefficient="mid"), 1.1)
    plastic = single(kc=(along([0.4, 0.05]), 1.1, 0.3)).with_plastic_mulch()
    np.testing.assert_allclose(plastic.kc.sel(coefficient="initial"), [0.1, 0.05])
    assert "Table 25" in sources(plastic)["kc"]


@pytest.mark.parametrize(
    ("change", "what", "says"),
    [
        (lambda: basal().with_organic_mulch(1.2), "cover of the mulch", "outside its range"),
        (lambda: basal().with_residue(50), "cover of the residue", "outside its range"),
        (lambda: basal().with_organic_mulch(0.5).with_organic_mulch(0.5), "mulch", "there already"),
        (lambda: basal().with_organic_mulch(0.5).with_plastic_mulch(), "mulch", "there already"),
        (lambda: basal().with_organic_mulch(0.5, kcb=(0.1, 1, 0.2)), "kcb", "for a single coefficient"),
        (lambda: single().with_organic_mulch(0.5, kcb=(0.1, 1.2, 0.2)), "kcb", "above kc"),
        (lambda: single(kc=0.9).with_organic_mulch(0.5), "kc", "not a curve"),
        (lambda: basal(kcb=0.9).with_plastic_mulch(), "kcb", "not a curve"),
        (lambda: basal().with_plastic_mulch("tomato"), "plastic mulch, 'Tomato'", "no printed reduction"),
        (lambda: basal().with_plastic_mulch(kcb_reduction=1.5), "kcb_reduction", "outside its range"),
        (
            lambda: single().with_initial_coefficient(interval=0, depth=20, et_ref=5),
            "interval [day]",
            "outside",
        ),
        (
            lambda: single().with_initial_coefficient(interval=4, depth=20, et_ref=5, texture="loamy"),
            "texture",
            "unknown",
        ),
        (
            lambda: single().with_initial_coefficient(interval=4, depth=20, et_ref=5, wetted_fraction=1.1),
            "wetted_fraction",
            "outside",
        ),
        (lambda: basal().with_initial_coefficient(interval=4, depth=20, et_ref=5), "kc", "not given"),
    ],
)
def test_mulch_and_wetting_that_do_not_serve_are_refused(change, what, says):
    fault = only_fault(change)
    assert fault.what == what
    assert says in fault.problem


def test_an_unknown_row_of_plastic_mulch_names_the_rows():
    assert "Cucumber" in str(refusal(basal().with_plastic_mulch, "cucumbre"))


def test_initial_coefficient_by_label():
    crop = single().with_initial_coefficient(interval=along([2, 10]), depth=20, et_ref=5, wetted_fraction=0.4)
    initial = crop.kc.sel(coefficient="initial")
    assert initial.dims == ("field",)
    assert float(initial[0]) > float(initial[1])
    assert float(initial.max()) <= 1.15 * 0.4
    assert "Annex 7" in sources(crop)["kc"]


# ------------------------------------------------------------------------------ two crops on a field
def test_two_crops_day_by_day():
    early = basal()
    late = basal(
        planted="2024-05-20", kcb=(0.2, 0.8, 0.4), height=0.2, root_depth=(0.2, 0.5), depletion_fraction=0.3
    )
    field = early.intercropped_with(late, 0.4, 0.6)
    assert field.kcb["time"].values[0] == np.datetime64("2024-05-05")
    assert field.kcb["time"].values[-1] == np.datetime64("2024-06-18")
    table, other = develop(early), develop(late)
    # While one stands alone, the field has its share of it; at first of the early one, at last of the late one.
    for days, share, one, ages in (
        (slice(15), 0.4, table, slice(1, 16)),
        (slice(30, None), 0.6, other, slice(16, 31)),
    ):
        np.testing.assert_allclose(field.kcb[days], share * one.coefficient[0, ages], rtol=1e-9)
        np.testing.assert_allclose(field.cover[days], share * one.cover[0, ages], rtol=1e-9)
    # On 25 May (age 21 and 6) Eq. 104 with the heights of the day.
    weights = 0.4 * table.height[0, 21], 0.6 * other.height[0, 6]
    by_hand = np.average([table.coefficient[0, 21], other.coefficient[0, 6]], weights=weights)
    assert field.kcb.sel(time="2024-05-25").item() == pytest.approx(by_hand, abs=1e-12)
    assert field.root_depth.max() == 0.8
    assert field.depletion_fraction == 0.3
    assert "Eq. 104" in sources(field)["kcb"]
    by_field = basal(planted=dates("2024-05-05", "2024-05-09")).intercropped_with(
        late, along([0.3, 0.4]), 0.6
    )
    assert by_field.kcb.sizes["field"] == 2


@pytest.mark.parametrize(
    ("other", "shares", "what"),
    [
        (single(height=0.5), (0.5, 0.5), "kc, kcb"),
        (basal(basis="tall"), (0.5, 0.5), "basis"),
        (basal(climate=(3, 30)), (0.5, 0.5), "climate"),
        (basal(evaporation_reduction=0.2), (0.5, 0.5), "other crop, mulch"),
        (basal(**HEAT), (0.5, 0.5), "other crop, stage_degree_days"),
        (basal(), (0, 0.5), "share"),
        (basal(), (0.5, 1.5), "other_share"),
        (basal(), (0.5, 0.6), "share, other_share"),
        (basal(), (along([0.5, 0.3]), along([0.5, 0.8])), "share, other_share"),
    ],
)
def test_two_crops_that_do_not_go_together_are_refused(other, shares, what):
    assert only_fault(basal().intercropped_with, other, *shares).what == what


def test_shares_of_more_than_the_field_are_both_named():
    fault = only_fault(basal().intercropped_with, basal(), along([0.5, 0.3]), 0.6)
    assert (fault.where, fault.value, fault.count) == ("field north", "share 0.5, other_share 0.6", 1)
    assert basal().intercropped_with(basal(), 1 / 3, 2 / 3).kcb.max() == pytest.approx(1.1)


def test_a_single_crop_alone_keeps_its_coefficient_which_holds_the_evaporation_of_all_the_ground():
    early, late = single(height=0.5), single(height=0.2, planted="2024-05-20")
    field = early.intercropped_with(late, 0.4, 0.6)
    np.testing.assert_allclose(field.kc[:15], develop(early).coefficient[0, 1:16], rtol=1e-9)
    assert "its own kc" in sources(field)["kc"]


def test_two_single_crops_need_heights():
    error = refusal(single().intercropped_with, single(), 0.5, 0.5)
    assert [fault.what for fault in error.faults] == ["first crop, height", "other crop, height"]


# ------------------------------------------------------------------------------ rotations
def test_rotation_holds_crops_in_order():
    late = basal(planted="2024-07-01")
    assert Rotation(crops=[basal(), late]).crops[1] is late
    assert Rotation(crops=basal()).crops[0].height == 0.5
    assert wb.Rotation is Rotation


@pytest.mark.parametrize(
    ("crops", "what", "says"),
    [
        ((), "crops", "holds no crops"),
        ("maize", "crops", "holds no crops"),
        ((basal(), "maize"), "crop 2", "is no crop"),
        ((basal(), basal()), "planting of crop 2", "is not after the planting of crop 1"),
        ((basal(), basal(planted="2024-04-01")), "planting of crop 2", "is not after"),
        ((basal(), basal(planted="2024-08-01", basis="tall")), "crop 2, basis", "differs"),
        ((wb.Crop(kc=1, root_depth=1, depletion_fraction=0.5), basal()), "crop 1, planted", "always grow"),
    ],
)
def test_rotations_that_do_not_serve_are_refused(crops, what, says):
    fault = only_fault(lambda: Rotation(crops=crops))
    assert fault.what == what
    assert says in fault.problem


def test_rotation_names_the_label_out_of_order():
    later = basal(planted=dates("2024-07-01", "2024-05-01"))
    fault = only_fault(lambda: Rotation(crops=(basal(), later)))
    assert (fault.where, fault.count) == ("field south", 1)
    assert fault.value == "2024-05-01, and 2024-05-05 before it"


def test_a_daily_series_begins_on_its_first_day():
    seen = wb.Crop.from_cover(SEEN, **TREES)
    assert len(Rotation(crops=(seen, basal(planted="2024-06-01"))).crops) == 2
    assert "is not after" in only_fault(lambda: Rotation(crops=(basal(), seen))).problem


def test_cuttings_restart_the_regrowth_on_the_day_after():
    regrowth = basal(stage_days=(2, 5, 10, 5), root_depth=0.8)
    hay = Rotation.from_cuttings(
        basal(), regrowth=regrowth, cuttings=["2024-06-01", dates("2024-06-20", "2024-06-25")]
    )
    assert [crop.root_depth is regrowth.root_depth for crop in hay.crops] == [False, True, True]
    assert hay.crops[1].planted == np.datetime64("2024-06-02")
    np.testing.assert_array_equal(hay.crops[2].planted, dates("2024-06-21", "2024-06-26"))


@pytest.mark.parametrize(
    ("cuttings", "what", "where"),
    [
        (["2024-05-01"], "cutting 1", ""),
        (["2024-05-05"], "cutting 1", ""),
        (["2024-06-20", "2024-06-10"], "cutting 2", ""),
        (["2024-06-01", dates("2024-06-20", "2024-05-20")], "cutting 2", "field south"),
        (["June"], "cutting 1", ""),
        ([], "cuttings", ""),
        ("2024-06-01", "cuttings", ""),
    ],
)
def test_cuttings_that_do_not_serve_are_refused(cuttings, what, where):
    regrowth = basal(stage_days=(2, 5, 10, 5), root_depth=0.8)
    fault = refusal(Rotation.from_cuttings, basal(), regrowth=regrowth, cuttings=cuttings).faults[0]
    assert (fault.what, fault.where) == (what, where)


def test_roots_stay_alive_at_a_cutting():
    once, twice = ["2024-06-01"], ["2024-06-01", "2024-06-20"]
    fault = only_fault(Rotation.from_cuttings, basal(), regrowth=basal(), cuttings=once)
    assert fault.what == "regrowth, root_depth"
    assert fault.value == "start 0.2, full depth of the cut crop 0.8"
    assert "root_depth=0.8" in fault.mend
    labels = basal(root_depth=(0.2, along([0.8, 1.0])))
    fault = only_fault(Rotation.from_cuttings, labels, regrowth=basal(root_depth=0.8), cuttings=once)
    assert (fault.where, fault.count) == ("field south", 1)
    # Roots that go on growing serve one cutting; at the second they would fall back.
    deeper = basal(root_depth=(0.8, 1.0))
    assert len(Rotation.from_cuttings(basal(), regrowth=deeper, cuttings=once).crops) == 2
    assert only_fault(Rotation.from_cuttings, basal(), regrowth=deeper, cuttings=twice).value == (
        "start 0.8, full depth of the cut crop 1"
    )


def test_a_crop_year_after_year():
    crop = basal(planted=dates("2023-10-20", "2024-02-29"))
    years = Rotation.yearly(crop, range(2023, 2026))
    np.testing.assert_array_equal(years.crops[0].planted, dates("2023-10-20", "2024-02-29"))
    np.testing.assert_array_equal(years.crops[1].planted, dates("2024-10-20", "2025-02-28"))
    assert [str(one.planted)[:10] for one in Rotation.yearly(basal(), [2020, 2022]).crops] == [
        "2020-05-05",
        "2022-05-05",
    ]
    assert "is not after" in str(refusal(Rotation.yearly, basal(), [2024, 2024]))
    assert only_fault(Rotation.yearly, basal(), ["2024"]).what == "years"
    assert only_fault(Rotation.yearly, basal(), []).what == "years"
    always = wb.Crop(kc=1, root_depth=1, depletion_fraction=0.5)
    assert only_fault(Rotation.yearly, always, [2024]).what == "planted"


# ------------------------------------------------------------------------------ sources
def test_a_changed_value_loses_the_source_that_gave_it():
    crop = basal().with_organic_mulch(0.5)
    assert (
        sources(dataclasses.replace(crop, evaporation_reduction=0.4))["evaporation_reduction"]
        == "given by the user"
    )
