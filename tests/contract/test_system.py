"""System: the chain of losses, patterns of watering, and what a run makes of them."""

import dataclasses
import json

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from waterbudget.report.performance import performance
from waterbudget.system import deliver
from waterbudget.system.losses import LINKS, lost, passed

DAYS = pd.date_range("2024-05-01", periods=60, name="time")


def sky(rain=None, et=5.0):
    """Give a plain weather: a steady demand, and rain on some days."""
    wet = np.zeros(60)
    for day, depth in (rain or {}).items():
        wet[day] = depth
    return xr.Dataset(
        {"et_ref": ("time", np.full(60, et), {"surface": "short"}), "rain": ("time", wet)},
        coords={"time": DAYS, "latitude": 40.0, "elevation": 100.0},
    )


def crop(**changes):
    """Give a crop that stands all 60 days with one coefficient."""
    values = {
        "planted": "2024-05-01",
        "stage_days": (0, 0, 60, 0),
        "kc": (1.0, 1.0, 1.0),
        "root_depth": 0.5,
        "height": 0.5,
        "depletion_fraction": 0.5,
        "adjust_depletion_fraction": False,
    }
    return wb.Crop(**{**values, **changes})


LOAM = wb.Soil(field_capacity=0.30, wilting_point=0.10, rew=9, tew=22)  # 100 mm in 0.5 m
RULE = wb.Rule(allowable_depletion=0.4)


def run(system, rule=RULE, soil=LOAM, weather=None, **more):
    return wb.simulate(sky() if weather is None else weather, crop(), soil, system, rule, **more)


def assumed(season):
    """Give what a result says it took for granted, as one text."""
    return "; ".join(json.loads(season.attrs["assumptions"]))


def refusal(call, *args, **kwargs):
    with pytest.raises(wb.InputError) as caught:
        call(*args, **kwargs)
    return caught.value


# ------------------------------------------------------------------ the chain of losses
ALL_LINKS = {
    "leak_fraction": 0.05,
    "conveyance_fraction": 0.1,
    "spray_fraction": 0.08,
    "canopy_fraction": 0.02,
    "runoff_fraction": 0.04,
}


def test_the_chain_by_hand():
    # 100 mm: 5 leak, 9.5 of 95 seep, 6.84 of 85.5 drift, 1.5732 of 78.66 stay on leaves, 3.083472 run off
    losses = lost(100.0, ALL_LINKS)
    by_hand = {
        "leak_loss": 5.0,
        "conveyance_loss": 9.5,
        "spray_loss": 6.84,
        "canopy_loss": 1.5732,
        "irrigation_runoff": 3.083472,
    }
    assert losses == pytest.approx(by_hand, abs=1e-12)
    assert passed(ALL_LINKS) == pytest.approx(1 - sum(by_hand.values()) / 100, abs=1e-15)


def test_each_link_is_labelled():
    assert {link.loss: link.kind for link in LINKS} == {
        "leak_loss": "waste",
        "conveyance_loss": "unavoidable",
        "spray_loss": "unavoidable",
        "canopy_loss": "unavoidable",
        "irrigation_runoff": "waste",
        "unattributed_loss": "unattributed",
    }


def test_gross_follows_from_net_through_the_chain():
    season = run(wb.System(**ALL_LINKS))
    net, gross = season["irrigation_net"].sum().item(), season["irrigation_gross"].sum().item()
    assert gross == pytest.approx(net / passed(ALL_LINKS), rel=1e-12)
    for name, depth in lost(gross, ALL_LINKS).items():
        assert season[name].sum().item() == pytest.approx(depth, rel=1e-9), name
    assert season["unattributed_loss"].sum().item() == 0.0
    assert season["unattributed_fraction"].item() == 0.0
    assert np.isnan(season["efficiency"].item())


def test_links_do_not_change_what_the_crop_gets():
    links, whole = run(wb.System(**ALL_LINKS)), run(wb.System(efficiency=0.5))
    for name in ("irrigation_net", "depletion", "percolation", "et"):
        np.testing.assert_array_equal(links[name], whole[name])


def test_one_efficiency_stays_one_unattributed_loss():
    season = run(wb.System(efficiency=0.75))
    np.testing.assert_allclose(season["unattributed_loss"], season["application_loss"], atol=1e-12)
    for link in LINKS[:-1]:
        assert season[link.loss].sizes == {"time": 60}
        assert not season[link.loss].any()
    assert "not attributed" in assumed(season)


@pytest.mark.parametrize(
    ("system", "even", "whole"),
    [
        (wb.System(efficiency=0.75), True, False),
        (wb.System(leak_fraction=0.1), True, False),
        (wb.System.from_handbook("drip"), True, True),
        (wb.System.from_handbook("subsurface drip"), True, True),
        (wb.System(efficiency=0.9, wetted_fraction=0.4, wetted_volume=0.4), True, False),
        (wb.System(delivered_fraction=0.9, spot_share=[0.8, 1.2]), False, False),
        (wb.System(delivered_fraction=0.9, spot_share=[0.8, 1.2], wetted_fraction=0.4), False, True),
        (wb.System(leak_fraction=0.1).with_part(weight=0.2, share=0.0), True, False),
    ],
)
def test_the_result_says_what_no_pattern_and_no_wetted_volume_are_taken_for(system, even, whole):
    told = assumed(run(system))
    assert ("taken as even" in told) == even
    assert ("refills the whole root zone" in told) == whole


def test_the_result_says_it_where_only_one_of_several_lacks_a_wetted_volume():
    drip = wb.System(efficiency=0.9, wetted_fraction=0.4, wetted_volume=0.4)
    both = {"measured": drip, "handbook": wb.System.from_handbook("drip")}
    assert "refills the whole root zone" in assumed(run(wb.concat(both, dim="system")))


def test_a_watering_that_takes_longer_than_its_day_is_told():
    slow = {"slow": wb.System(efficiency=0.8, flow=10.0, area=1.0)}  # 1 mm/h
    fast = {"fast": wb.System(efficiency=0.8, flow=30.0, area=1.0)}
    for systems in (slow, slow | fast):
        season = run(wb.concat(systems, dim="system"))
        longest = wb.events(season)["hours"].max()
        assert longest >= 50  # 40 mm or more, through 0.8
        assert f"however long it takes: the longest {longest:.0f} hours" in assumed(season)
    assert "hours" not in assumed(run(wb.concat(fast, dim="system")))
    assert "hours" not in assumed(run(wb.System(efficiency=0.8)))  # nothing is known of them


def test_a_depth_that_is_made_for_24_hours_fits_into_the_day():
    # 3 mm/h through 0.7: 50.4 mm net in 24 hours, or a few billionths of an hour more
    system = wb.System(efficiency=0.7, application_rate=3.0)
    season = run(system, wb.Rule(allowable_depletion=0.6, net_depth=24 * 3.0 * 0.7))
    assert wb.events(season)["hours"].to_numpy() == pytest.approx(24.0)
    assert "hours" not in assumed(season)
    assert "the longest 25 hours" in assumed(
        run(system, wb.Rule(allowable_depletion=0.6, net_depth=25 * 3.0 * 0.7))
    )


def test_conveyance_stands_before_an_efficiency():
    # FAO Training Manual 4: scheme efficiency e = ec ea, here 0.8 * 0.6
    season = run(wb.System(efficiency=0.6, conveyance_fraction=0.2))
    assert season["gross_to_net"].item() == pytest.approx(0.48, abs=1e-15)


def test_spray_may_change_with_the_day():
    spray = xr.DataArray(np.where(np.arange(60) % 2, 0.05, 0.25), dims="time", coords={"time": DAYS})
    season = run(wb.System(spray_fraction=spray))
    np.testing.assert_allclose(season["spray_loss"], season["irrigation_gross"] * spray, atol=1e-12)
    record = pd.DataFrame({"date": ["2024-05-02", "2024-05-03"], "gross_mm": [20.0, 20.0]})
    season = run(wb.System(spray_fraction=spray), rule=None, irrigation=record)
    assert season["irrigation_net"].values[1:3].tolist() == pytest.approx([19.0, 15.0])


def test_irrigation_runs_off_where_it_outruns_the_soil():
    soil = dataclasses.replace(LOAM, intake_rate=12.0)
    season = run(wb.System(peak_application_rate=16.0), soil=soil)
    assert season["runoff_fraction"].item() == 0.25
    gross, runoff = season["irrigation_gross"].sum().item(), season["irrigation_runoff"].sum().item()
    assert runoff == pytest.approx(gross / 4, rel=1e-12)
    assert run(wb.System(peak_application_rate=10.0), soil=soil)["runoff_fraction"].item() == 0.0
    labels = xr.DataArray([10.0, 24.0], dims="system", coords={"system": ["slow", "fast"]})
    both = run(wb.System(peak_application_rate=labels), soil=soil)
    assert both["runoff_fraction"].values.tolist() == [0.0, 0.5]
    wb.explain(both, "2024-05-10", at={"system": "fast"})


def test_a_peak_rate_needs_an_intake_that_takes_something_in():
    peak = wb.System(peak_application_rate=60.0)
    assert "peak_application_rate: means nothing without the intake rate" in str(refusal(run, peak))
    intake = xr.DataArray([12.0, np.nan], dims="field", coords={"field": ["a", "b"]})
    error = refusal(run, peak, soil=dataclasses.replace(LOAM, intake_rate=intake))
    assert "first at field b" in str(error)
    tight = dataclasses.replace(LOAM, intake_rate=0.5)
    error = refusal(run, peak, soil=tight)
    assert "the links of the chain: leave next to nothing of the water" in str(error)
    assert "part left 0.00833" in str(error)
    assert "intake_rate" in str(error)
    with_leak = wb.System(leak_fraction=0.9, peak_application_rate=60.0)  # 0.1 of 0.05
    error = refusal(run, with_leak, soil=dataclasses.replace(LOAM, intake_rate=3.0))
    assert "leave next to nothing" in str(error)


def test_a_soil_that_only_takes_irrigation_in_needs_no_intensity_of_rain():
    soil = dataclasses.replace(LOAM, intake_rate=12.0)
    season = run(wb.System(peak_application_rate=16.0), soil=soil, weather=sky({20: 30.0}))
    assert not season["runoff"].any()
    error = refusal(run, wb.System(efficiency=0.8), soil=soil)
    assert "rain_intensity" in str(error)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({}, "efficiency: is missing"),
        ({"efficiency": 0.8, "spray_fraction": 0.1}, "efficiency, spray_fraction: count a loss twice"),
        ({"efficiency": 0.8, "runoff_fraction": 0.1}, "efficiency, runoff_fraction: count a loss twice"),
        (
            {"delivered_fraction": 0.9, "spot_share": [1.1, 0.9], "leak_fraction": 0.1},
            "delivered_fraction, leak_fraction: count a loss twice",
        ),
        ({"efficiency": 0.9, "delivered_fraction": 0.9}, "efficiency, delivered_fraction: say the same"),
        (
            {"runoff_fraction": 0.1, "peak_application_rate": 20},
            "runoff_fraction, peak_application_rate: say",
        ),
        ({"efficiency": 0.8, "peak_application_rate": 20}, "peak_application_rate: stands beside one number"),
        ({"leak_fraction": 0.99, "spray_fraction": 0.99}, "leave next to nothing of the water"),
        ({"efficiency": 1e-6}, "leave next to nothing of the water"),
        (
            {"efficiency": 0.8, "lift": 20, "pump_efficiency": 0.6},
            "operating_pressure: is needed beside lift",
        ),
        ({"leak_fraction": 1.0}, "leak_fraction: is outside its range; found 1; allowed: 0 to 0.99"),
        ({"spray_fraction": 15}, "give a fraction, not a percentage"),
        ({"leak_fraction": -0.1}, "leak_fraction: is outside its range"),
        ({"leak_fraction": 0.1, "lift": 20}, "pump_efficiency: is needed beside lift"),
        ({"leak_fraction": 0.1, "wetted_volume": 0}, "wetted_volume: is outside its range"),
        (
            {"leak_fraction": 0.1, "wetted_volume": 0.4},
            "wetted_fraction: is more than wetted_volume: the surface would be wet above ground that stays "
            "dry; found wetted_fraction 1, wetted_volume 0.4; allowed: at most the wetted volume",
        ),
    ],
)
def test_a_chain_that_does_not_fit_is_refused(values, words):
    assert words in str(refusal(wb.System, **values))


def test_the_wetted_surface_of_each_label_lies_above_its_wetted_volume():
    volume = xr.DataArray([0.4, np.nan, 0.2], dims="field", coords={"field": ["a", "b", "c"]})
    error = refusal(wb.System, efficiency=0.9, wetted_fraction=0.3, wetted_volume=volume)
    assert "first at field c" in str(error)
    wb.System(efficiency=0.9, wetted_volume=volume, subsurface=True)  # wets no surface


def test_patterns_take_links_in_place_of_a_delivered_fraction():
    links = {"leak_fraction": 0.04, "spray_fraction": 0.1}
    cans = wb.System.from_catch_cans([9, 10, 11, 10, 10], **links)
    plants = wb.System.from_emitters([2, 2.1, 1.9], wetted_fraction=0.3, **links)
    normal = wb.System.from_distribution("normal", 0.2, **links)
    for system in (cans, plants, normal):
        assert system.delivered_fraction is None
        assert run(system)["gross_to_net"].item() == pytest.approx(0.96 * 0.9, rel=1e-12)
    for make in (
        lambda: wb.System.from_emitters([2, 2.1, 1.9], wetted_fraction=0.3),
        lambda: wb.System.from_distribution("normal", 0.2),
    ):
        error = str(refusal(make))
        assert "delivered_fraction: is missing" in error
        assert "1 where nothing is lost on the way; or the links" in error
    both = refusal(wb.System.from_distribution, "normal", 0.2, delivered_fraction=0.9, **links)
    assert "count a loss twice" in str(both)


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ({"weight": "20%", "share": 0}, "weight: is not a number"),
        ({"weight": True, "share": None}, "share: is not a number"),
        ({"weight": 20, "share": 0}, "weight: is not a part of the field"),
        ({"weight": 0.2, "share": np.nan}, "share: is negative or not known"),
        ({"weight": 0.2, "share": np.inf}, "share: is negative or not known"),
        ({"weight": 0.2, "share": 0, "watched": "yes"}, "watched"),
    ],
)
def test_a_part_that_cannot_be_is_refused(part, words):
    assert words in str(refusal(UNEVEN.with_part, **part))


def test_all_faults_of_a_chain_come_at_once():
    error = refusal(wb.System, leak_fraction=1.2, spray_fraction=-1, lift=10, wetted_volume=2)
    assert len(error.faults) == 5  # two of them: lift without pressure and without pump efficiency


def test_a_label_without_any_loss_known_is_named():
    leak = xr.DataArray([0.1, np.nan], dims="field", coords={"field": ["a", "b"]})
    error = refusal(wb.System, leak_fraction=leak)
    assert "not given for every label; first at field b" in str(error)
    wb.System(leak_fraction=leak, efficiency=xr.DataArray([np.nan, 0.8], leak.coords))


def test_a_daily_spray_loss_must_be_on_the_days_of_the_run():
    spray = xr.DataArray(np.full(30, 0.1), dims="time", coords={"time": DAYS[:30]})
    assert "not on the days of the weather" in str(refusal(run, wb.System(spray_fraction=spray)))
    holes = spray.copy(data=np.where(np.arange(30) == 3, np.nan, 0.1))
    error = refusal(wb.System, spray_fraction=holes)
    assert "days without a value" in str(error)
    assert "2024-05-04" in str(error)
    nothing = xr.full_like(spray, np.nan)
    assert "days without a value" in str(refusal(wb.System, leak_fraction=0.1, spray_fraction=nothing))
    (fault,) = refusal(wb.System, spray_fraction=nothing).faults  # the link was given: not that none is
    assert "days without a value" in fault.problem
    assert "varies by day" in str(refusal(wb.System, leak_fraction=spray))


def test_what_is_not_known_has_no_sum():
    share = refusal(wb.System, spot_share=[1.0, np.nan], delivered_fraction=0.9).faults
    weight = refusal(
        wb.System, spot_share=[1.0, 1.0], spot_weight=[np.nan, 0.5], delivered_fraction=0.9
    ).faults
    assert [fault.what for fault in (*share, *weight)] == ["spot_share", "spot_weight"]
    assert "1.1; allowed: 1; mend: divide the weights" in str(
        refusal(wb.System, spot_share=[1.0, 1.0], spot_weight=[0.5, 0.6], delivered_fraction=0.9)
    )
    two = xr.DataArray([[0.8, 1.2], [0.8, 1.0]], dims=("field", "spot"), coords={"field": ["a", "b"]})
    assert "first at field b; found mean 0.9" in str(
        refusal(wb.System, spot_share=two, delivered_fraction=0.9)
    )


def test_systems_of_both_kinds_join():
    both = wb.concat(
        {"links": wb.System(**ALL_LINKS), "whole": wb.System(efficiency=0.8, area=3)}, dim="system"
    )
    season = run(both)
    for name in ("links", "whole"):
        alone = run(wb.System(**ALL_LINKS) if name == "links" else wb.System(efficiency=0.8, area=3))
        for loss in ("irrigation_gross", *(link.loss for link in LINKS)):
            own = season[loss].sel(system=name) if "system" in season[loss].dims else season[loss]
            np.testing.assert_array_equal(own, alone[loss], err_msg=loss)


def test_deliver_of_no_system():
    nothing = deliver(None)
    assert np.isnan(nothing.gross_to_net)
    assert set(nothing.fractions.values()) == {0.0}
    season = run(None, rule=None, irrigation=pd.DataFrame({"date": ["2024-05-05"], "net_mm": [10.0]}))
    assert season["irrigation_gross"].isnull().all()
    assert season["leak_loss"].isnull().all()


# ------------------------------------------------------------------ patterns
def test_cans_flow_and_stopwatch_measure_what_arrives():
    # 20 m3/h on 0.1 ha for 2 h is 40 mm; the cans caught 34 mm
    system = wb.System.from_catch_cans([30.0, 34.0, 38.0, 34.0], duration=2, flow="20 m3/h", area="0.1 ha")
    assert system.delivered_fraction == pytest.approx(0.85, abs=1e-15)
    assert system.spot_share.values.tolist() == pytest.approx([30 / 34, 1, 38 / 34, 1])
    assert system.application_rate is None
    season = run(system)
    sources = json.loads(season.attrs["sources"])["system"]
    assert "flow meter" in sources["delivered_fraction"]
    assert sources["spot_share"] == "4 catch cans"


def test_cans_and_stopwatch_give_the_rate():
    system = wb.System.from_catch_cans([9.0, 10.0, 11.0, 10.0], duration="30 min", delivered_fraction=0.8)
    assert system.application_rate == pytest.approx(
        25.0
    )  # 10 mm in half an hour were 80 % of what left the nozzles
    cans = wb.CatchCans(depths=[9.0, 10.0, 11.0, 10.0], duration="30 min")
    assert wb.System.from_catch_cans(cans, delivered_fraction=0.8).application_rate == system.application_rate


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"depths": [1.0, 2.0, 3.0], "delivered_fraction": 0.9}, "too few"),
        ({"depths": [0.0] * 8, "delivered_fraction": 0.9}, "caught nothing at all"),
        ({"depths": [1.0, -2.0, 3.0, 4.0], "delivered_fraction": 0.9}, "outside its range"),
        ({"volumes": [80.0, 90.0, 70.0, 85.0], "delivered_fraction": 0.9}, "need can_diameter"),
        ({"depths": [8.0, 9.0, 7.0, 8.5]}, "without duration, flow, area it cannot be measured"),
        (
            {"depths": [8.0, 9.0, 7.0, 8.5], "duration": 1, "flow": 5, "area": 0.1},
            "caught more than was supplied",
        ),
    ],
)
def test_bad_cans_are_refused(given, words):
    given = dict(given)
    assert words in str(refusal(wb.System.from_catch_cans, given.pop("depths", None), **given))


def test_a_whole_test_takes_nothing_beside_it():
    cans = wb.CatchCans(depths=[9.0, 10.0, 11.0, 10.0])
    error = refusal(wb.System.from_catch_cans, cans, duration=1, delivered_fraction=0.9)
    assert "beside a whole test" in str(error)


def test_plants_are_spots_and_emitters_are_not():
    system = wb.System.from_emitters(
        [2.0, 2.2, 1.0, 1.2, 2.1, 2.1],
        emitters_per_plant=2,
        delivered_fraction=1,
        wetted_fraction=0.3,
        wetted_volume=0.4,
    )
    assert system.spot_share.values.tolist() == pytest.approx(
        [4.2 / 3.5333333333, 2.2 / 3.5333333333, 4.2 / 3.5333333333]
    )
    assert system.under_canopy == 1.0
    season = run(system)
    assert season.sizes["spot"] == 6  # three wetted parts, then their dry parts
    assert season["spot_watched"].values.tolist() == [1, 1, 1, 0, 0, 0]
    with pytest.raises(wb.InputError):
        wb.System.from_emitters(
            [2.0, 2.2, 1.0], emitters_per_plant=2, delivered_fraction=1, wetted_fraction=0.3
        )


def test_a_distribution_becomes_spots_of_equal_weight():
    system = wb.System.from_distribution("normal", 0.2, spots=12, delivered_fraction=0.9)
    assert system.spot_share.sizes == {"spot": 12}
    assert float((system.spot_share * system.spot_weight).sum()) == pytest.approx(1.0, abs=1e-12)
    assert "coefficient of variation 0.2" in str(system.provenance["spot_share"].source)


def test_weights_and_watch_are_written_out():
    system = wb.System(delivered_fraction=0.9, spot_share=[1.2, 0.8])
    assert system.spot_weight.values.tolist() == [0.5, 0.5]
    assert system.spot_watched.values.tolist() == [1, 1]
    given = wb.System(spray_fraction=0.1, spot_share=[1.1, 0.9], spot_weight=[0.5, 0.5])
    assert run(wb.concat({"a": system, "b": given}, dim="field")).sizes["field"] == 2


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"spot_watched": [0, 0]}, "leaves no spot that is watered"),
        ({"spot_watched": [1, 1, 1]}, "spot_watched: does not match spot_share"),
        ({"spot_watched": [1, 0.5]}, "other than yes and no"),
    ],
)
def test_a_watch_that_does_not_fit(values, words):
    assert words in str(refusal(wb.System, delivered_fraction=0.9, spot_share=[1.2, 0.8], **values))


def test_a_plugged_plant_makes_watering_uneven():
    system = wb.System.from_emitters([2, 2, 2, 0], delivered_fraction=1, wetted_fraction=0.4)
    told = wb.losses(run(system)).set_index("loss")["depth_mm"]
    assert told["uneven application"] > 100
    assert "rain on watered soil" not in told


# ------------------------------------------------------------------ parts of a field
def test_a_corner_without_water():
    whole = wb.System(efficiency=0.8, area=10)
    cornered = whole.with_part(weight=0.2, share=0.0)
    assert cornered.spot_share.values.tolist() == [1.25, 0.0]
    assert cornered.spot_weight.values.tolist() == [0.8, 0.2]
    assert cornered.spot_watched.values.tolist() == [1, 0]
    season, plain = run(cornered), run(whole)
    np.testing.assert_allclose(season["irrigation_net"], 0.8 * plain["irrigation_net"], rtol=1e-12)
    np.testing.assert_allclose(season["depletion"].isel(spot=0), plain["depletion"], atol=1e-9)
    assert season["ks"].isel(spot=1).min() < 0.5 < season["ks"].isel(spot=0).min()


def test_an_end_gun_is_watched_as_it_is_watered():
    # 27 mm net are 30 mm of the whole field, and 60 mm where it is watered, at 12 mm/h
    half = wb.System(delivered_fraction=0.9, spot_share=[1.0], application_rate=12.0)
    half = half.with_part(weight=0.5, share=0.0)
    assert half.application_rate == 6.0
    record = pd.DataFrame({"date": ["2024-05-10"], "net_mm": [27.0]})
    watered = wb.events(run(half, rule=None, irrigation=record)).iloc[0]
    assert watered["gross_mm"] == pytest.approx(30.0)
    assert watered["hours"] == pytest.approx(5.0)
    gun = wb.System(delivered_fraction=0.9, spot_share=[1.1, 0.9]).with_part(weight=0.1, share=0.6)
    assert gun.spot_weight.values.tolist() == pytest.approx([0.45, 0.45, 0.1])
    mean = 0.9 + 0.06
    assert gun.spot_share.values.tolist() == pytest.approx([1.1 / mean, 0.9 / mean, 0.6 / mean])
    assert gun.spot_watched.values.tolist() == [1, 1, 1]
    assert gun.with_part(weight=0.1, share=0.5, watched=False).spot_watched.values.tolist() == [1, 1, 1, 0]


def test_an_end_gun_beside_one_efficiency_counts_twice():
    error = refusal(wb.System(efficiency=0.8).with_part, weight=0.1, share=0.6)
    assert "unevenness would count twice" in str(error)


@pytest.mark.parametrize(
    "values", [{"weight": 0.0, "share": 1}, {"weight": 1.0, "share": 1}, {"weight": 0.1, "share": -1}]
)
def test_a_part_outside_its_range(values):
    refusal(wb.System(efficiency=0.8).with_part, **values)


# ------------------------------------------------------------------ the decision on an uneven field
UNEVEN = wb.System(delivered_fraction=0.9, spot_share=[1.4, 1.2, 0.8, 0.6])


def test_adequacy_sets_the_depth():
    # The field lacks 45 mm when it falls due: 90 % filled needs the share of the driest spot, 75 % that of the third;
    # spots that receive more than the mean are not relied on.
    for adequacy, share in ((0.9, 0.6), (0.75, 0.8), (0.5, 1.0), (0.25, 1.0)):
        season = run(UNEVEN, wb.Rule(allowable_depletion=0.45, adequacy=adequacy))
        first = season["irrigation_net"].values[season["irrigation_net"].values > 0][0]
        assert first == pytest.approx(50 / share) or first == pytest.approx(45 / share)


@pytest.mark.parametrize("driest", [False, True])
@pytest.mark.parametrize("adequacy", [0.25, 0.5, 0.75, 1.0])
def test_every_watering_fills_what_is_asked(adequacy, driest):
    rule = wb.Rule(allowable_depletion=0.45, adequacy=adequacy, watch_driest_quarter=driest)
    season = run(UNEVEN, rule)
    days = np.flatnonzero(season["irrigation_net"].values > 0)
    assert len(days) > 4
    for day in days:
        part = season.isel(time=[day])
        # in the morning: the evening before, since roots do not grow
        lack = season["depletion"].isel(time=day - 1).values
        got = season["irrigation_net"].values[day] * season["spot_share"].values
        assert (got >= lack - 1e-9).mean() >= adequacy
        assert performance(part)["adequacy"].item() >= adequacy
        told = wb.explain(season, str(part["time"].values[0])[:10], at={"spot": 0})
        spot = int(told["share_to_fill"].source.split()[1].rstrip(","))
        share = float(season["spot_share"].values[spot])
        assert got[spot] == pytest.approx(lack[spot] * max(share, 1.0))


@pytest.mark.parametrize("driest", [False, True])
@pytest.mark.parametrize("adequacy", [0.25, 0.5, 0.75])
def test_what_is_given_up_on_does_not_ask_for_water(adequacy, driest):
    """Spots that stay dry would fall due every day: the field is watered no more often than an even one."""
    rule = wb.Rule(allowable_depletion=0.45, adequacy=adequacy, watch_driest_quarter=driest)
    uneven, even = run(UNEVEN, rule), run(wb.System(delivered_fraction=0.9, spot_share=[1.0]), rule)
    waters, of_even = (np.flatnonzero(season["irrigation_net"].values > 0) for season in (uneven, even))
    assert 4 < len(waters) <= len(of_even)
    assert np.diff(waters).min() >= np.diff(of_even).min() > 5
    told = assumed(uneven)
    assert "the decision looks at the part of the field to be filled, and the rest stays dry" in told
    assert "adequacy has no effect" in assumed(even)
    assert "adequacy" not in assumed(run(UNEVEN))


def test_runoff_under_a_peak_rate_is_told_to_be_an_upper_bound():
    soil = wb.Soil(field_capacity=0.30, wilting_point=0.20, intake_rate=10)
    fast, slow = (
        run(wb.System(spray_fraction=0.1, peak_application_rate=rate), soil=soil) for rate in (20, 5)
    )
    assert float(fast["irrigation_runoff"].sum()) > 0
    assert "runoff of irrigation is an upper bound" in assumed(fast)
    assert "upper bound" not in assumed(slow)


def test_the_driest_quarter_is_looked_at():
    mean = run(UNEVEN, wb.Rule(allowable_depletion=0.45))
    driest = run(UNEVEN, wb.Rule(allowable_depletion=0.45, watch_driest_quarter=True))
    # the first watering is the same, for all begin alike; the next comes sooner, and more of it
    waters = [np.flatnonzero(season["irrigation_net"].values > 0) for season in (mean, driest)]
    assert waters[0][0] == waters[1][0]
    assert waters[1][1] < waters[0][1]
    assert driest["ks"].min() > mean["ks"].min()
    assert driest["watch_driest_quarter"].item() == 1.0
    assert "driest quarter" in assumed(driest)
    day = str(driest["time"].values[waters[1][1]])[:10]
    told = wb.explain(driest, day, at={"spot": 3})
    assert "driest quarter" in str(told)


def test_rules_may_differ_by_label():
    rules = wb.concat(
        {
            "a": wb.Rule(allowable_depletion=0.45, watch_driest_quarter=True, adequacy=0.75),
            "b": wb.Rule(allowable_depletion=0.45),
        },
        dim="field",
    )
    both = run(UNEVEN, rules)
    for name, rule in (
        ("a", wb.Rule(allowable_depletion=0.45, watch_driest_quarter=True, adequacy=0.75)),
        ("b", wb.Rule(allowable_depletion=0.45)),
    ):
        np.testing.assert_array_equal(both["depletion"].sel(field=name), run(UNEVEN, rule)["depletion"])


def test_an_adequacy_that_no_water_can_give():
    dry = UNEVEN.with_part(weight=0.2, share=0.0, watched=True)
    error = refusal(run, dry, wb.Rule(adequacy=0.95))
    assert "no water reaches" in str(error)
    assert "no effect beside net_depth" in str(refusal(wb.Rule, net_depth=20, adequacy=0.9))
    assert "outside its range" in str(refusal(wb.Rule, adequacy=90))


# ------------------------------------------------------------------ drip that wets a part of the root zone
DRIP = wb.System(efficiency=0.9, wetted_fraction=0.3, wetted_volume=0.4)


def test_irrigation_refills_the_wetted_part_and_rain_all_of_it():
    season = run(DRIP, weather=sky({40: 200.0}))
    wet, dry = (season["depletion"].isel(spot=spot) for spot in (0, 1))
    assert (wet <= 55).all()  # the rule keeps it there
    assert dry.isel(time=39) > 60  # what was stored is used and not given back
    assert dry.isel(time=41) < 20
    assert float(season["irrigation_net"].max()) < 0.4 * 60


def test_a_plant_on_a_wetted_part_is_without_stress():
    season = run(DRIP)
    assert season["ks"].min() == 1.0
    np.testing.assert_allclose((season["et"] * season["spot_weight"]).sum("spot"), 5.0, atol=1e-9)
    assert season["uptake_factor"].isel(spot=0).max() > 1.3
    assert wb.week_ahead(season, "2024-06-01")["depletion_mm"].item() <= 55
    for day in ("2024-05-02", "2024-06-20"):
        for spot in (0, 1):
            wb.explain(season, day, at={"spot": spot})


def test_labels_with_and_without_a_wetted_volume_run_together():
    parts = {"drip": DRIP, "sprinkler": wb.System(efficiency=0.8)}
    both = run(wb.concat(parts, dim="system"))
    for name, system in parts.items():
        alone, own = run(system), both.sel(system=name)
        first = alone["depletion"].isel(spot=0) if "spot" in alone.dims else alone["depletion"]
        np.testing.assert_array_equal(own["depletion"].isel(spot=0), first)
        np.testing.assert_array_equal(own["irrigation_net"], alone["irrigation_net"])


# ------------------------------------------------------------------ planned on top of the rule
def test_what_is_planned_comes_on_top():
    plan = pd.DataFrame({"date": ["2024-05-20"], "net_mm": [40.0], "purpose": ["leaching"]})
    season, plain = run(wb.System(efficiency=0.8), extra_irrigation=plan), run(wb.System(efficiency=0.8))
    day = DAYS.get_loc("2024-05-20")
    assert season["irrigation_net"].values[day] == plain["irrigation_net"].values[day] + 40
    assert season["extra_irrigation"].values[day] == season["leaching_irrigation"].values[day] == 40.0
    np.testing.assert_array_equal(season["depletion"].values[:day], plain["depletion"].values[:day])
    row = wb.events(season).set_index("date").loc["2024-05-20"]
    assert row["purpose"] == "leaching"
    assert not row["recorded"]
    assert "as planned (leaching)" in str(wb.explain(season, "2024-05-20"))
    alone = run(wb.System(efficiency=0.8), rule=None, extra_irrigation=plan)
    assert alone["irrigation_net"].sum() == 40
    assert "as planned (leaching)" in str(wb.explain(alone, "2024-05-20"))


def test_a_plan_does_not_touch_what_is_recorded():
    plan = pd.DataFrame({"date": ["2024-05-20"], "net_mm": [40.0]})
    error = refusal(run, wb.System(efficiency=0.8), extra_irrigation=plan, recorded_until="2024-05-25")
    assert "falls on a day that the record covers" in str(error)
    run(wb.System(efficiency=0.8), extra_irrigation=plan, recorded_until="2024-05-19")
    error = refusal(run, wb.System(efficiency=0.8), extra_irrigation=plan.assign(net_mm=-1))
    assert "extra_irrigation, net_mm: is not a number of 0 or more" in str(error)


def test_a_recorded_leaching_is_told_apart():
    record = pd.DataFrame({"date": ["2024-05-05"] * 2, "net_mm": [10.0, 25.0], "purpose": ["", "leaching"]})
    season = run(wb.System(efficiency=0.8), irrigation=record)
    assert season["leaching_irrigation"].sum() == 25.0
    assert season["extra_irrigation"].sum() == 0.0


# ------------------------------------------------------------------ energy
def test_energy_to_lift_and_press():
    # 10 ha m of water... 1 m3 lifted 367 m takes 1 kWh: 3.6e6 J / (1000 kg * 9.80665 m s-2) = 367.1 m
    system = wb.System(efficiency=0.8, area=1, lift=30, operating_pressure="300 kPa", pump_efficiency=0.6)
    frame = wb.events(run(system))
    head = 30 + 300 / 9.80665
    assert frame["energy_kWh"].tolist() == pytest.approx(
        (frame["volume_m3"] * head / 367.0978 / 0.6).tolist(), rel=1e-6
    )
    assert wb.events(run(wb.System(efficiency=0.8, area=1)))["energy_kWh"].isna().all()
