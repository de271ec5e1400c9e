"""What holds for every run of the balance, whatever the weather, crop, soil, system and rule.

The equations named are those of FAO Irrigation and Drainage Paper 56 (1998). Bounds and closures follow
from the definitions of the quantities; that two ways of asking for the same run give the same bits is
this project's own promise.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import waterbudget as wb
from waterbudget.balance import drivers

pytestmark = pytest.mark.slow
FIRST = pd.Timestamp("2023-04-20")
SLACK = 1e-9  # mm; the closure that is promised for a day


# ------------------------------------------------------------------------------- random fields
@dataclass(frozen=True)
class Field:
    """One field as a user would describe it; fields of one case can be joined."""

    weather: xr.Dataset = dataclasses.field(repr=False)
    crop: wb.Crop
    soil: wb.Soil
    system: wb.System | None
    rule: wb.Rule | None
    net: tuple[tuple[int, float], ...]  # recorded irrigation: day of the run, mm
    filled: tuple[float, float, float]  # initial depletions, as parts of their bounds
    et_share: float

    @property
    def record(self) -> pd.DataFrame:
        days = [self.weather.indexes["time"][day] for day, _ in self.net]
        depths = [depth for _, depth in self.net]
        return pd.DataFrame({"date": pd.DatetimeIndex(days), "net_mm": np.array(depths, dtype=float)})

    @cached_property
    def initial(self) -> dict[str, float]:
        dry = wb.simulate(self.weather, self.crop, self.soil)
        air_dry = float(dry.air_dry_water.fillna(0.0))
        below = max(float(dry.profile_water - dry.initial_taw), 0.0)
        bounds = (float(dry.initial_taw) + air_dry, below, float(dry.tew.fillna(0.0)))
        names = ("initial_depletion", "initial_depletion_below", "initial_evaporation_depletion")
        return {name: part * bound for name, part, bound in zip(names, self.filled, bounds, strict=True)}

    def run(self, **changes: Any) -> xr.Dataset:
        """Simulate, with some arguments replaced."""
        own = {"irrigation": self.record, "et_share_before_percolation": self.et_share}
        if "state" not in changes:
            own |= self.initial
        parts = {name: getattr(self, name) for name in ("weather", "crop", "soil", "system", "rule")}
        return wb.simulate(**(parts | own | changes))


def weather_of(seed: int, days: int, kind: str) -> xr.Dataset:
    """Make weather up: dry, showery or very wet, with days on which nothing evaporates."""
    rng = np.random.default_rng(seed)
    chance, depth = {"dry": (0.0, 1.0), "showers": (0.3, 9.0), "wet": (0.8, 30.0)}[kind]
    rain = (rng.random(days) < chance) * rng.gamma(0.8, depth, days)
    et_ref = rng.uniform(0.0, 10.0, days) * (rng.random(days) > 0.1)
    tmin = rng.uniform(-5.0, 20.0, days)
    table = pd.DataFrame(
        {"rain": rain, "et_ref": et_ref, "tmin": tmin, "tmax": tmin + rng.uniform(0.0, 20.0, days)},
        index=pd.date_range(FIRST, periods=days, name="time"),
    )
    return wb.read_weather(table, et_ref_surface="short")


def part(low: float = 0.0, high: float = 1.0) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_subnormal=False)


CROPS = (
    "dual",
    "single",
    "dual constant",
    "single constant",
    "dual series",
    "single series",
    "dual series and roots",
    "dual by heat",
)


@st.composite
def crops(draw: st.DrawFn, days: int, kind: str) -> wb.Crop:
    """Describe a crop that stands on at least one of the days."""
    key = "kcb" if kind.startswith("dual") else "kc"
    shallow, deep = sorted((draw(part(0.1, 1.5)), draw(part(0.1, 1.5))))
    made: dict[str, Any] = {
        "height": draw(part(0.05, 3.0)) if key == "kcb" or draw(st.booleans()) else None,
        "root_depth": deep,
        "depletion_fraction": draw(part(0.1, 0.8)),
        "adjust_depletion_fraction": draw(st.booleans()),
        "climate": draw(st.none() | st.tuples(part(0.5, 7.0), part(10.0, 90.0))),
        "evaporation_reduction": draw(st.just(0.0) | part()),
        "residue_reduction": draw(st.just(0.0) | part()),
        "surface_uptake": draw(st.booleans()),
        "killing_frost": None
        if "constant" in kind or "series" in kind
        else draw(st.none() | part(-5.0, 0.0)),
        "salt_threshold": 2.0,  # of use only in a soil with salt
        "salt_slope": draw(part(1.0, 20.0)),
        "yield_response": draw(part(0.9, 1.5)),
    }
    if kind.endswith("constant"):
        made[key] = draw(part(0.0, 1.3))
    elif "series" in kind:
        rng = np.random.default_rng(draw(st.integers(0, 999)))
        # It may begin before the weather and end before it does.
        span = pd.date_range(FIRST - pd.Timedelta(days=3), periods=days - days % 7)
        made[key] = pd.Series(rng.uniform(0.0, 1.3, len(span)), index=span)
        if kind.endswith("and roots"):  # they grow and die back
            made["root_depth"] = pd.Series(rng.uniform(0.1, 1.5, len(span)), index=span)
    else:
        stages = draw(st.lists(st.integers(0, 25), min_size=4, max_size=4).filter(lambda s: sum(s) > 0))
        planted = draw(st.integers(1 - sum(stages), days - 1))
        made |= {
            "planted": FIRST + pd.Timedelta(days=planted),
            "stage_days": stages,
            key: tuple(draw(part(0.0, 1.3)) for _ in range(3)),
            "root_depth": (shallow, deep),
        }
        if kind.endswith("heat"):
            heat = [10.0 * length for length in made.pop("stage_days")]
            day = FIRST + pd.Timedelta(days=draw(st.integers(0, days - 1)))
            made |= {"planted": day, "stage_degree_days": heat, "unfinished": True}
            made |= {"base_temperature": draw(part(0.0, 12.0)), "upper_temperature": 30.0}
    if key == "kcb" and draw(st.booleans()):
        made["cover"] = draw(part(0.0, 1.0))
    return wb.Crop(**made)


@st.composite
def soils(draw: st.DrawFn) -> wb.Soil:
    """Describe a soil, with any of its options at random: each off in half of the draws or more."""
    layers = draw(st.sampled_from((1, 1, 2, 3)))
    capacity = [draw(part(0.08, 0.5)) for _ in range(layers)]
    wilting = [one * draw(part(0.0, 0.8)) for one in capacity]
    tew = draw(part(5.0, 40.0))
    made: dict[str, Any] = {"rew": tew * draw(part(0.0, 0.9)), "tew": tew}
    if layers > 1:
        made["layer_bottom"] = [*np.cumsum([draw(part(0.05, 0.6)) for _ in range(layers - 1)]), 3.0]
    water = {"field_capacity": capacity, "wilting_point": wilting}
    slow = draw(st.booleans())
    if not (slow or draw(st.booleans())):
        water = {"available_water": [one - dry for one, dry in zip(capacity, wilting, strict=True)]}
    if slow:
        water["saturation"] = [one + draw(part(0.001, 0.3)) for one in capacity]
        made["drainage_fraction"] = draw(part(0.05, 1.0))
    made |= water if layers > 1 else {name: values[0] for name, values in water.items()}
    if draw(st.booleans()):
        made |= {"curve_number": draw(part(40.0, 99.0)), "adjust_curve_number": draw(st.booleans())}
    if draw(st.booleans()):
        made |= {"water_table_depth": draw(part(1.6, 4.0)), "capillary_n": draw(part(1.2, 5.0))}
        made["capillary_a"] = draw(part(0.1, 50.0))
    if draw(st.booleans()):
        made["restricting_depth"] = draw(part(0.1, 1.5))
    if draw(st.booleans()):
        made["soil_salinity"] = draw(part(0.0, 6.0))
    return wb.Soil(**made)


@st.composite
def systems(draw: st.DrawFn, spots: int = 0) -> wb.System:
    made: dict[str, Any] = {
        "wetted_fraction": draw(part(0.05, 1.0)),
        "subsurface": draw(st.booleans()),
        "under_canopy": draw(st.booleans()),
    }
    if not spots:
        return wb.System(efficiency=draw(part(0.3, 1.0)), **made)
    weight = np.array([draw(part(0.2, 1.0)) for _ in range(spots)])
    share = np.array([draw(part(0.0, 2.0)) for _ in range(spots)]) + 0.01
    weight /= weight.sum()
    share /= (weight * share).sum()
    assume(share.max() <= 10.0)
    return wb.System(delivered_fraction=draw(part(0.3, 1.0)), spot_share=share, spot_weight=weight, **made)


@st.composite
def rules(draw: st.DrawFn, days: int) -> wb.Rule:
    allowable = draw(st.none() | part(0.05, 0.95))
    smallest = draw(st.sampled_from((0.0, 10.0)))
    fixed = draw(st.none() | part(max(5.0, smallest), 60.0))
    left = draw(part(0.0, 0.9)) * (0.1 if allowable is None else allowable)
    largest = draw(st.none() | part(12.0, 50.0))
    return wb.Rule(
        allowable_depletion=allowable,
        refill_to=left if fixed is None else 0.0,
        net_depth=fixed,
        min_depth=smallest,
        max_depth=largest if largest is None or fixed is None else max(largest, fixed),
        min_interval=draw(st.sampled_from((1, 2, 7))),
        last_date=draw(st.none() | st.integers(0, days).map(lambda day: FIRST + pd.Timedelta(days=day))),
    )


@st.composite
def several(
    draw: st.DrawFn, least: int = 1, most: int = 1, *, spots: tuple[int, ...] = (0, 0, 3), mixed: bool = False
) -> list[Field]:
    """Draw fields that can be joined: one kind of crop, one number of spots, the same days."""
    days = draw(st.integers(12, 45))
    number = draw(st.integers(least, most))
    kind = draw(st.sampled_from(CROPS[:4] if mixed else CROPS))
    spot_count = draw(st.sampled_from(spots))
    has_system = spot_count > 0 or draw(st.booleans())
    has_rule = draw(st.sampled_from((True, True, False)))
    et_share = draw(st.sampled_from((0.0, 1.0)) | part())
    fields = []
    for _ in range(number):
        kind = draw(st.sampled_from(CROPS[:4])) if mixed else kind
        sky = draw(st.sampled_from(("dry", "showers", "wet")))
        waterings = st.tuples(st.integers(0, days - 1), part(0.0, 80.0).map(lambda depth: round(depth, 2)))
        fields.append(
            Field(
                weather=weather_of(draw(st.integers(0, 9999)), days, sky),
                crop=draw(crops(days, kind)),
                soil=draw(soils()),
                system=draw(systems(spot_count)) if has_system else None,
                rule=draw(rules(days)) if has_rule else None,
                net=tuple(draw(st.lists(waterings, max_size=3))),
                filled=(draw(part()), draw(part()), draw(part())),
                et_share=et_share,
            )
        )
    return fields


one = several().map(lambda fields: fields[0])


def joined(fields: list[Field], dim: str = "field") -> dict[str, Any]:
    """Give the arguments of the one call that runs all the fields."""
    labels = [f"f{i}" for i in range(len(fields))]
    made: dict[str, Any] = {
        name: wb.concat(dict(zip(labels, (getattr(f, name) for f in fields), strict=True)), dim)
        for name in ("weather", "crop", "soil", "system", "rule")
        if getattr(fields[0], name) is not None
    }
    initial = [f.initial for f in fields]
    for name in initial[0]:
        made[name] = xr.DataArray([values[name] for values in initial], dims=dim, coords={dim: labels})
    records = [f.record.assign(**{dim: label}) for f, label in zip(fields, labels, strict=True)]
    made["irrigation"] = pd.concat([r for r in records if len(r)]) if any(map(len, records)) else None
    made["et_share_before_percolation"] = fields[0].et_share
    return made


# ------------------------------------------------------------------------------- comparing runs
def daily(season: xr.Dataset) -> list[str]:
    return [str(name) for name in season.data_vars if "time" in season[name].dims]


def bits(array: xr.DataArray) -> Any:
    values = np.ascontiguousarray(array.values)
    if values.dtype != np.float64:
        return values
    return np.where(np.isnan(values), np.nan, values).view(np.int64)


def assert_same_bits(left: xr.Dataset, right: xr.Dataset, names: list[str] | None = None) -> None:
    """Compare daily variables bit for bit, spread over the same dimensions."""
    for name in names or daily(left):
        ours, theirs = xr.broadcast(left[name], right[name])
        different = bits(ours) != bits(theirs.transpose(*ours.dims))
        if different.any():
            at = tuple(np.argwhere(different)[0])
            pytest.fail(
                f"{name} differs at {at}: {ours.values[at]!r} and {theirs.transpose(*ours.dims).values[at]!r}"
            )


def before(season: xr.Dataset, name: str) -> xr.DataArray:
    """Give a state at the start of each day."""
    start = season[f"initial_{name}"].broadcast_like(season[name].isel(time=0, drop=True))
    start = start.expand_dims(time=season.time[:1])
    rest = season[name].isel(time=slice(None, -1)).assign_coords(time=season.time[1:])
    return xr.concat([start, rest], "time", join="outer", coords="minimal", compat="override")


def residuals(season: xr.Dataset) -> tuple[xr.DataArray, xr.DataArray]:
    """Give what the daily balances of root zone and profile lack to closing [mm]."""
    water = season.rain - season.runoff + season.irrigation_net * season.spot_share
    water = water + season.capillary_rise
    held = season.excess_water - before(season, "excess_water")
    stored = season.taw - season.depletion - (before(season, "taw") - before(season, "depletion")) + held
    root_zone = stored - (
        season.met_by_roots + water - season.percolation - season.evaporation - season.transpiration
    )
    missing = season.depletion + season.depletion_below
    gained = before(season, "depletion") + before(season, "depletion_below") - missing + held
    profile = gained - (water - season.drainage - season.evaporation - season.transpiration)
    return root_zone, profile


# ------------------------------------------------------------------------------- closure, bounds
@given(one)
def test_every_day_closes(field):
    for residual in residuals(field.run()):
        assert float(np.abs(residual).max()) <= SLACK
        assert float(np.abs(residual.sum("time")).max()) <= 1e-6


@given(one)
def test_stores_stay_within_what_the_soil_can_hold_and_lose(field):
    season = field.run()
    air_dry = season.air_dry_water.fillna(0.0)
    below = season.profile_water - season.taw
    bounds = {
        "excess_water": season.excess_capacity,
        "capillary_rise": season.capillary_limit,
        "salt_factor": 1.0,
        "evaporation_factor": 1.0,
        "depletion": season.taw + air_dry,
        "depletion_below": below,
        "surface_depletion": season.tew,
        "raw": season.taw,
        "ks": 1.0,
        "cover": 0.99,
        "wetted_fraction": 1.0,
        "runoff": season.rain,
        "drainage": season.percolation,
        "days_since_irrigation": 366.0,
        "root_depth": season.deepest_root,
    }
    for name, top in bounds.items():
        assert float(season[name].min()) >= -SLACK, name
        assert not bool((season[name] > top + SLACK).any()), name
    for name in ("percolation", "drainage", "evaporation", "transpiration", "irrigation_net", "ke", "runoff"):
        assert float(season[name].min()) >= 0.0, name


@given(one)
def test_no_more_evaporates_than_the_weather_asks_for(field):
    """Eq. 71: Kcb + Ke never exceeds Kc max; a single coefficient is its own limit."""
    season = field.run()
    unstressed = season.kc_max.where((season.dual > 0) | (season.crop_stage == 0), season.kc)
    assert not bool((season.et > unstressed * season.et_ref + SLACK).any())
    assert not bool((season.et > season.kc * season.et_ref + SLACK).any())
    np.testing.assert_allclose(season.et, season.evaporation + season.transpiration, rtol=0, atol=SLACK)
    # np.minimum in the balance may take less than Ks allows, where the soil holds less.
    coefficient = season.kc - season.ke
    assert not bool((season.transpiration > season.ks * coefficient * season.et_ref + SLACK).any())


@given(one)
def test_percolation_follows_only_water_above_field_capacity(field):
    """Eq. 88: as long as the root zone is below field capacity, nothing percolates.

    A soil that drains slowly lets its part go, and what exceeds saturation.
    """
    season = field.run()
    entered = season.rain - season.runoff + season.irrigation_net * season.spot_share
    roots = before(season, "depletion") - (season.met_by_roots - (season.taw - before(season, "taw")))
    excess = np.maximum(entered + before(season, "excess_water") - roots, 0.0)
    rest = excess - season.et_share_before_percolation * np.minimum(excess, season.et)
    held = np.minimum((1.0 - season.drainage_fraction) * rest, season.excess_capacity)
    expected = rest - held
    np.testing.assert_allclose(*xr.broadcast(season.percolation, expected), rtol=0, atol=1e-8)


@given(one)
def test_the_rule_is_kept(field):
    rule = field.rule
    assume(rule is not None)
    season = field.run(irrigation=None)
    net = season.irrigation_net
    watered = net > 0
    assert not bool((watered & (season.crop_stage == 0)).any())
    assert not bool((net[watered] < rule.min_depth).any())
    if rule.max_depth is not None:
        assert float(net.max()) <= rule.max_depth
    if rule.net_depth is not None and rule.max_depth is None:
        assert set(net.values[watered.values]) <= {rule.net_depth}
    if rule.last_date is not None:
        assert not bool(watered[season.time.values > rule.last_date].any())
    days = np.flatnonzero(watered)
    assert (np.diff(days) >= rule.min_interval).all()
    if "spot" not in season.dims:
        limit = (
            before(season, "raw")
            if rule.allowable_depletion is None
            else rule.allowable_depletion * before(season, "taw")
        )
        assert not bool((before(season, "depletion") < limit)[watered].any())


# ------------------------------------------------------------------------------- the same run, asked in other ways
@given(one, st.data())
def test_a_restart_goes_on_bit_for_bit(field, data):
    last = field.weather.indexes["time"][max((day for day, _ in field.net), default=0)]
    whole = field.run(recorded_until=last)
    stands = np.flatnonzero(whole.crop_stage.values > 0)
    assume(stands[0] < stands[-1])  # both halves need a day with the crop
    cut = data.draw(st.integers(int(stands[0]) + 1, int(stands[-1])))
    early, late = slice(None, cut), slice(cut, None)
    record = field.record
    first = field.run(
        weather=field.weather.isel(time=early),
        irrigation=record[record.date < field.weather.time.values[cut]],
        recorded_until=last,
        **field.initial,
    )
    second = field.run(
        weather=field.weather.isel(time=late),
        irrigation=record[record.date >= field.weather.time.values[cut]],
        recorded_until=last,
        state=first.isel(time=-1),
    )
    assert_same_bits(whole.isel(time=early), first)
    assert_same_bits(whole.isel(time=late), second)


@given(several(2, 4))
def test_a_batch_gives_each_field_what_it_gets_alone(fields):
    season = wb.simulate(**joined(fields))
    for i, field in enumerate(fields):
        assert_same_bits(field.run(), season.isel(field=i))


@given(several(2, 4, mixed=True))
def test_single_and_basal_crops_stand_side_by_side(fields):
    season = wb.simulate(**joined(fields))
    for i, field in enumerate(fields):
        assert_same_bits(field.run(), season.isel(field=i))


@given(several(4, 4), st.integers(1, 3))
def test_blocks_of_cells_give_the_bits_of_one_block(fields, size):
    arguments = joined(fields)
    whole = wb.simulate(**arguments)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(drivers, "BLOCK", size)
        assert_same_bits(whole, wb.simulate(**arguments))


@given(one, st.data())
def test_tomorrow_never_changes_yesterday(field, data):
    days = field.weather.sizes["time"]
    day = data.draw(st.integers(1, days - 1))
    other = weather_of(data.draw(st.integers(0, 9999)), days, data.draw(st.sampled_from(("dry", "wet"))))
    mixed = xr.concat([field.weather.isel(time=slice(None, day)), other.isel(time=slice(day, None))], "time")
    initial = field.initial
    known = slice(None, day)
    assert_same_bits(field.run().isel(time=known), field.run(weather=mixed, **initial).isel(time=known))


@given(several(2, 3), st.data())
def test_the_order_of_dimensions_does_not_matter(fields, data):
    arguments = joined(fields)
    systems_ = wb.concat(
        {"a": wb.System(efficiency=0.7, wetted_fraction=0.4), "b": wb.System(efficiency=0.9)}, "system"
    )
    spread = xr.DataArray([0.9, 1.0], dims="system", coords={"system": ["a", "b"]})
    arguments |= {"system": systems_, "initial_depletion": arguments["initial_depletion"] * spread}
    arguments["weather"] = arguments["weather"] * (1.0 * spread / spread)
    arguments["weather"]["et_ref"].attrs["surface"] = "short"
    arguments["soil"] = dataclasses.replace(
        arguments["soil"],
        rew=arguments["soil"].rew * spread,
        tew=arguments["soil"].tew * (0.0 * spread + 1.0),
    )
    season = wb.simulate(**arguments)
    turned = dict(arguments)
    for name in ("weather", "initial_depletion"):
        dims = list(arguments[name].dims)
        turned[name] = arguments[name].transpose(*data.draw(st.permutations(dims)))
    soil = arguments["soil"]
    turned["soil"] = dataclasses.replace(soil, rew=soil.rew.transpose(), tew=soil.tew.transpose())
    assert_same_bits(season, wb.simulate(**turned))


@given(one)
def test_one_spot_is_a_field_without_spots(field):
    system = field.system or wb.System(efficiency=0.8)
    ratio = system.efficiency or system.delivered_fraction
    none = dict.fromkeys(("delivered_fraction", "spot_share", "spot_weight", "spot_watched"))
    plain = dataclasses.replace(system, **{**none, "efficiency": ratio})
    spotted = dataclasses.replace(plain, efficiency=None, delivered_fraction=ratio, spot_share=[1.0])
    assert_same_bits(field.run(system=plain), field.run(system=spotted).isel(spot=0))


@given(one, st.lists(part(0.1), min_size=2, max_size=6))
def test_equal_spots_give_the_bits_of_one(field, weights):
    system = field.system or wb.System(efficiency=0.8)
    ratio = system.efficiency or system.delivered_fraction
    none = dict.fromkeys(("delivered_fraction", "spot_share", "spot_weight", "spot_watched"))
    plain = dataclasses.replace(system, **{**none, "efficiency": ratio})
    spotted = dataclasses.replace(
        plain,
        efficiency=None,
        delivered_fraction=ratio,
        spot_share=[1.0] * len(weights),
        spot_weight=np.array(weights) / sum(weights),
    )
    many, single = field.run(system=spotted), field.run(system=plain)
    for spot in range(len(weights)):
        assert_same_bits(single, many.isel(spot=spot))


# ------------------------------------------------------------------------------- layers, rotations
@given(one, st.lists(part(0.03, 0.7), min_size=1, max_size=3))
def test_layers_of_a_uniform_soil_change_nothing(field, thickness):
    bottoms = [*np.cumsum(thickness), 9.0]
    soil = field.soil
    assume(soil.layer_bottom is None)
    water = ("field_capacity", "wilting_point", "available_water", "saturation")
    same = {name: [value] * len(bottoms) for name in water if (value := getattr(soil, name)) is not None}
    cut = dataclasses.replace(soil, layer_bottom=bottoms, **same)
    assert_same_bits(field.run(), field.run(soil=cut))


@given(one, st.integers(1, 20))
def test_a_crop_far_away_in_the_rotation_changes_nothing(field, years):
    crop = field.crop
    assume(crop.planted is not None)
    later = dataclasses.replace(crop, planted=crop.planted + np.timedelta64(400 * years, "D"))
    followed = field.run(crop=wb.Rotation(crops=(crop, later)))
    assert_same_bits(field.run(), followed)


@given(several(2, 2), st.integers(3, 20))
def test_a_rotation_closes_and_goes_on_bit_for_bit(fields, gap):
    first, second = (field.crop for field in fields)
    assume(first.planted is not None)
    assume(first.stage_degree_days is None)
    second = dataclasses.replace(second, planted=FIRST + np.timedelta64(gap + 2, "D"))
    first = dataclasses.replace(first, planted=FIRST)
    crop = wb.Rotation(crops=(first, second))
    field = dataclasses.replace(fields[0], crop=crop)
    assume(field.weather.sizes["time"] > gap + 4)
    whole = field.run(irrigation=None)
    for residual in residuals(whole):
        assert float(np.abs(residual).max()) <= SLACK
    early, late = slice(None, gap), slice(gap, None)
    end = field.run(weather=field.weather.isel(time=early), irrigation=None, **field.initial).isel(time=-1)
    if second.stage_degree_days is None:
        rest = field.run(weather=field.weather.isel(time=late), irrigation=None, state=end)
        assert_same_bits(whole.isel(time=late), rest)


# ------------------------------------------------------------------------------- systems
@given(one)
def test_gross_depth_times_efficiency_is_net(field):
    season = field.run()
    if field.system is None:
        assert bool(season.irrigation_gross.isnull().all())
        assert bool(season.application_loss.isnull().all())
        return
    ratio = season.efficiency.fillna(season.delivered_fraction)
    np.testing.assert_allclose(season.irrigation_gross * ratio, season.irrigation_net, rtol=1e-14, atol=0)
    loss = season.irrigation_gross - season.irrigation_net
    np.testing.assert_allclose(season.application_loss, loss, rtol=0, atol=1e-12)


@given(several(spots=(0,)), part(0.3), part(0.3))
def test_better_efficiency_never_asks_for_more_water(fields, one_efficiency, other):
    worse, better = sorted((one_efficiency, other))
    (field,) = fields
    system = field.system or wb.System(efficiency=1.0)
    poor, good = (
        field.run(system=dataclasses.replace(system, efficiency=value)) for value in (worse, better)
    )
    assert_same_bits(poor, good, ["irrigation_net", "depletion"])
    assert not bool((good.irrigation_gross > poor.irrigation_gross).any())


# ------------------------------------------------------------------------------- missing weather
@given(several(2, 4), st.data())
def test_missing_weather_stays_in_its_cell_from_its_day_on(fields, data):
    arguments = joined(fields)
    weather = arguments["weather"].copy(deep=True)
    hit = data.draw(st.integers(0, len(fields) - 1))
    day = data.draw(st.integers(0, weather.sizes["time"] - 1))
    name = data.draw(st.sampled_from(("rain", "et_ref")))
    weather[name][{"field": hit, "time": day}] = np.nan
    whole = wb.simulate(**arguments)
    season = wb.simulate(**arguments | {"weather": weather}, missing="propagate")

    others = [i for i in range(len(fields)) if i != hit]
    assert_same_bits(whole.isel(field=others), season.isel(field=others))
    earlier = {"field": hit, "time": slice(None, day)}
    assert_same_bits(whole.isel(earlier), season.isel(earlier))
    for lost in (
        "depletion",
        "et",
        "percolation",
        "drainage",
        "irrigation_net",
        "ks",
        "days_since_irrigation",
    ):
        assert bool(season[lost].isel(field=hit, time=slice(day, None)).isnull().all()), lost
    assert str(weather.time.values[day])[:10] in season.attrs["missing"]
    with pytest.raises(wb.InputError) as caught:
        wb.simulate(**arguments | {"weather": weather})
    assert f"field f{hit}" in str(caught.value)


# ------------------------------------------------------------------------------- whole years
@pytest.mark.slow
@settings(max_examples=max(2, settings.default.max_examples // 10))
@given(st.integers(0, 9999), st.sampled_from(("dry", "showers", "wet")), st.data())
def test_years_close(seed, sky, data):
    days = 730
    field = Field(
        weather=weather_of(seed, days, sky),
        crop=data.draw(crops(days, data.draw(st.sampled_from(CROPS)))),
        soil=data.draw(soils()),
        system=data.draw(systems(4)),
        rule=data.draw(rules(days)),
        net=(),
        filled=(0.5, 0.5, 0.5),
        et_share=data.draw(part()),
    )
    season = field.run(irrigation=None)
    for residual in residuals(season):
        assert float(np.abs(residual).max()) <= SLACK
        assert float(np.abs(residual.sum("time")).max()) <= 1e-6
