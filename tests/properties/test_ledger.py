"""Every millimetre is accounted for, and every line of `explain` is true, over random seasons."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

from waterbudget.balance import Rule, simulate
from waterbudget.crop import Crop, Rotation
from waterbudget.report import daily_frame, events, explain, ledger
from waterbudget.report.frames import DAILY_COLUMNS
from waterbudget.soil import Soil
from waterbudget.system import System
from waterbudget.system.losses import LINKS

pytestmark = pytest.mark.slow
FIRST = pd.Timestamp("2024-05-01")
GIVEN = {"et_ref", "rain", "crop_stage", "crop_number", "kcb", "kc_max", "cover", "root_depth"}
"""What a day is told, as against what it works out."""
OPTIONAL = {
    "irrigation_gross",
    "application_loss",
    *(link.loss for link in LINKS),
    "extra_irrigation",
    "leaching_irrigation",
    "excess_water",
    "capillary_rise",
}
"""What is not shown on a day on which there is none of it."""


def floats(low, high):
    return st.floats(low, high, allow_nan=False).map(lambda value: round(value, 4))


@st.composite
def weathers(draw):
    days = draw(st.integers(5, 45))
    rain = draw(st.lists(st.one_of(st.just(0.0), floats(0, 12), floats(0, 90)), min_size=days, max_size=days))
    et_ref = draw(st.lists(st.one_of(floats(0, 9), st.just(0.0)), min_size=days, max_size=days))
    time = pd.date_range(FIRST, periods=days)
    return xr.Dataset(
        {"rain": ("time", np.array(rain)), "et_ref": ("time", np.array(et_ref), {"surface": "short"})},
        coords={"time": time},
    )


@st.composite
def crops(draw):
    stages = draw(st.lists(st.integers(0, 12), min_size=4, max_size=4).filter(lambda days: sum(days) > 5))
    curve = draw(st.tuples(floats(0.1, 1.2), floats(0.3, 1.25), floats(0.1, 1.1)))
    start = draw(floats(0.1, 0.5))
    # planted up to 5 days before or 4 after the first day: growth, harvest and bare soil all come up
    planted = FIRST + pd.Timedelta(days=draw(st.integers(-5, 4)))
    return Crop(
        planted=planted,
        stage_days=stages,
        **{draw(st.sampled_from(["kc", "kcb"])): curve},
        root_depth=(start, start + draw(floats(0, 1.2))),
        height=draw(floats(0.05, 3)),
        depletion_fraction=draw(floats(0.1, 0.8)),
        adjust_depletion_fraction=draw(st.booleans()),
        surface_uptake=draw(st.booleans()),
        evaporation_reduction=draw(st.one_of(st.just(0.0), floats(0, 1))),
        residue_reduction=draw(st.one_of(st.just(0.0), floats(0, 1))),
        salt_threshold=1.7,
        salt_slope=12.0,
        yield_response=1.25,
    )


@st.composite
def plantings(draw):
    """Draw one crop, or two that follow one another."""
    first = draw(crops())
    if draw(st.booleans()):
        return first
    second = draw(crops())
    later = first.planted + np.timedelta64(draw(st.integers(1, 25)), "D")
    return Rotation(crops=(first, dataclasses.replace(second, planted=later)))


@st.composite
def soils(draw):
    wilting = draw(floats(0.02, 0.25))
    rew = draw(floats(0, 12))
    capacity = wilting + draw(floats(0.05, 0.25))
    water = {"field_capacity": capacity, "wilting_point": wilting}
    drains, rises = draw(st.booleans()), draw(st.booleans())
    if drains:
        water["saturation"] = capacity + draw(floats(0.01, 0.2))
    if draw(st.booleans()):  # layers: each holds its own part of the water of the one above
        parts = draw(st.lists(floats(0.3, 1.0), min_size=2, max_size=3))
        water = {name: [value, *(part * value for part in parts)] for name, value in water.items()}
        water["layer_bottom"] = [*[0.2, 0.5, 1.0][: len(parts)], 3.0]
    number = draw(st.one_of(st.none(), floats(40, 99)))
    return Soil(
        **water,
        rew=rew,
        tew=rew + draw(floats(1, 25)),
        curve_number=number,
        adjust_curve_number=number is not None and draw(st.booleans()),
        drainage_fraction=draw(floats(0.05, 1)) if drains else 1.0,
        soil_salinity=draw(st.one_of(st.none(), floats(0, 5))),
        restricting_depth=draw(st.one_of(st.none(), floats(0.3, 1.5))),
        water_table_depth=draw(floats(1.8, 3)) if rises else None,
        capillary_a=draw(floats(0.1, 10)) if rises else None,
        capillary_n=draw(floats(1.5, 4)) if rises else None,
    )


def top_water(soil, depth):
    """Give available water down to a depth [mm], the layers' own parts of it."""
    held = 1000 * (soil.field_capacity - soil.wilting_point)
    if soil.layer_bottom is None:
        return float(held) * depth
    bottom = soil.layer_bottom.to_numpy()
    thick = np.diff(np.minimum(bottom, depth), prepend=0.0)
    return float((held.to_numpy() * thick).sum())


def first_water(crop, soil):
    """Give available water of the root zone at planting of the first crop [mm]."""
    first = crop.crops[0] if isinstance(crop, Rotation) else crop
    depth = float(first.root_depth[0])
    limit = soil.restricting_depth
    return top_water(soil, depth if limit is None else min(depth, limit))


@st.composite
def systems(draw):
    if draw(st.integers(0, 4)) == 0:
        return None
    surface = {
        "wetted_fraction": draw(floats(0.05, 1)),
        "subsurface": draw(st.booleans()),
        "under_canopy": draw(st.booleans()),
        "area": 3.0,
        "flow": 40.0,
    }
    if draw(st.booleans()):
        return System(efficiency=draw(floats(0.3, 1)), **surface)
    less = draw(floats(0, 0.9))
    return System(delivered_fraction=draw(floats(0.5, 1)), spot_share=[1 - less, 1.0, 1 + less], **surface)


@st.composite
def rules(draw):
    if draw(st.integers(0, 5)) == 0:
        return None
    allowable = draw(st.one_of(st.none(), floats(0.0, 0.9)))
    fixed = draw(st.one_of(st.none(), floats(20, 60)))
    left = draw(floats(0, 1)) * (allowable or 0.0)
    return Rule(
        allowable_depletion=allowable,
        refill_to=left if fixed is None else 0.0,
        net_depth=fixed,
        min_depth=draw(st.one_of(st.just(0.0), floats(0, 20))),
        max_depth=draw(st.one_of(st.none(), floats(60, 90))),
        min_interval=draw(st.integers(1, 6)),
        last_date=draw(st.one_of(st.none(), st.integers(0, 40).map(lambda n: FIRST + pd.Timedelta(days=n)))),
    )


@st.composite
def seasons(draw):
    weather, crop, soil = draw(weathers()), draw(plantings()), draw(soils())
    days = weather.sizes["time"]
    record = None
    if draw(st.booleans()):
        numbers = draw(st.lists(st.integers(0, days - 1), min_size=1, max_size=4))
        record = pd.DataFrame(
            {
                "date": [FIRST + pd.Timedelta(days=number) for number in numbers],
                "net_mm": draw(st.lists(floats(0, 80), min_size=len(numbers), max_size=len(numbers))),
                "purpose": "leaching",
            }
        )
    dry = draw(floats(0, 1))
    return simulate(
        weather,
        crop,
        soil,
        draw(systems()),
        draw(rules()),
        irrigation=record,
        initial_depletion=dry * first_water(crop, soil),
        initial_evaporation_depletion=draw(floats(0, 1)) * soil.tew,
        et_share_before_percolation=draw(st.sampled_from([0.0, 0.4, 1.0])),
    )


def places(season):
    """Say which spot, where there are spots."""
    return [{"spot": number} for number in range(season.sizes.get("spot", 0))] or [{}]


@given(season=seasons())
def test_every_millimetre_is_accounted_for(season):
    row = ledger(season).iloc[0]
    assert row["largest_daily_residual_mm"] <= 1e-9
    assert abs(row["root_zone_residual_mm"]) <= 1e-6
    assert abs(row["profile_residual_mm"]) <= 1e-6
    # what was evaporated came from irrigation, rain, the soil that roots reached, or storage
    stayed = row["net_mm"] - row["percolation_from_irrigation_mm"]
    stored = row["met_by_roots_mm"] + row["capillary_rise_mm"] - row["root_zone_change_mm"]
    assert row["et_mm"] == pytest.approx(stayed + row["effective_rain_mm"] + stored, abs=1e-6)
    parts = row["percolation_from_rain_mm"] + row["percolation_from_irrigation_mm"]
    assert row["percolation_mm"] == pytest.approx(parts, abs=1e-9)
    assert row["percolation_from_before_mm"] == 0
    assert row["excess_water_mm"] >= 0
    assert row["capillary_rise_mm"] >= 0
    assert -1e-9 <= row["effective_rain_mm"] <= row["rain_mm"] - row["runoff_mm"] + 1e-9
    assert row["drainage_mm"] <= row["percolation_mm"] + 1e-9


@given(season=seasons())
def test_no_irrigation_is_lost_on_the_way_to_the_table(season):
    frame, row, daily = events(season), ledger(season).iloc[0], daily_frame(season)
    assert len(frame) == row["irrigations"]
    assert frame["net_mm"].sum() == pytest.approx(row["net_mm"], abs=1e-9)
    assert set(frame["date"]) == set(daily.loc[daily["irrigation_net_mm"] > 0, "date"])
    if not np.isnan(season["efficiency"]):
        assert (frame["gross_mm"] * float(season["efficiency"])).to_numpy() == pytest.approx(
            frame["net_mm"].to_numpy()
        )
        # 1 mm on 1 ha is 10 m3; 3 ha and 40 m3/h
        assert frame["hours"].to_numpy() == pytest.approx(frame["gross_mm"].to_numpy() * 30 / 40)
    depth = season["root_depth"].sel(time=frame["date"].to_numpy()).to_numpy()
    assert (frame["wetted_depth_m"].to_numpy() > 0).all()
    assert (frame["wetted_depth_m"].to_numpy() <= depth * (1 + 1e-12)).all()


@given(season=seasons(), data=st.data())
def test_every_line_of_an_explanation_is_true(season, data):
    number = data.draw(st.integers(0, season.sizes["time"] - 1))
    for place in places(season):
        day = explain(season, season["time"].to_numpy()[number], at=place)
        known = {"min": min, "max": max}
        for line in day.lines:
            assert line.name not in known, "a name means one thing"
            if line.formula:
                # the formula, computed as printed from the lines above it, is the value
                assert eval(line.formula, {}, known) == pytest.approx(line.value, abs=1e-9, rel=1e-12), line
                if line.unit != "yes or no":  # six figures may hide which side of a limit a number is on
                    shown = eval(line.numbers, {"min": min, "max": max})
                    assert shown == pytest.approx(line.value, abs=0.02, rel=1e-3), line
            known[line.name] = line.value


@given(season=seasons())
def test_an_explanation_holds_every_number_that_the_day_worked_out(season):
    last = season.isel(time=-1)
    for place in places(season):
        day = explain(season, last["time"].to_numpy(), at=place)
        shown = {line.name: line.value for line in day.lines}
        own = last.isel(place) if "spot" in last.dims else last
        for name in set(DAILY_COLUMNS) - GIVEN:
            stored = float(own[name])
            unshared = name == "uptake_factor" and np.isnan(float(own["wetted_volume"]))
            if np.isnan(stored) or (name in OPTIONAL and stored == 0) or unshared:
                continue
            assert shown[name] == pytest.approx(stored, abs=1e-9), name


@given(
    weather=weathers(),
    crop=plantings(),
    soil=soils(),
    rule=rules(),
    dry=st.lists(floats(0, 1), min_size=2, max_size=3),
)
def test_a_field_reads_alike_alone_and_among_others(weather, crop, soil, rule, dry):
    names = pd.Index([f"field {number}" for number in range(len(dry))], name="field")
    depletion = xr.DataArray(np.array(dry) * first_water(crop, soil), dims="field", coords={"field": names})
    season = simulate(weather, crop, soil, None, rule, initial_depletion=depletion)
    rows, table, daily = ledger(season), events(season), daily_frame(season)
    assert rows["field"].tolist() == list(names)
    for number, name in enumerate(names):
        alone = season.sel(field=name)
        pd.testing.assert_frame_equal(
            ledger(alone), rows.iloc[[number]].drop(columns="field").reset_index(drop=True), check_exact=True
        )
        for whole, part in ((table, events(alone)), (daily, daily_frame(alone))):
            own = whole[whole["field"] == name].drop(columns="field").reset_index(drop=True)
            pd.testing.assert_frame_equal(part, own, check_exact=True)
        assert explain(season, FIRST, at={"field": name}).lines == explain(alone, FIRST).lines
