"""Random seasons for the two implementations: wide but realistic ranges, with their edges.

A season is a plain dictionary: numbers, tuples, lists, and `Series` for daily values of a crop. From it come
the inputs of the second implementation (`season_of`) and, in the test, the descriptions of the package. All
is drawn from one numpy Generator, so a seed tells the season. Seasons are drawn in batches of one form, whose
fields can stand side by side in one run.

The numbers are invented. Nothing that the balance compares is drawn from a grid, save rain of exactly 3 mm and
whole days, which are exact in any order of arithmetic: a tie between two roundings has no probability.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from tests.oracle.draw import Draw, Form
from tests.oracle.random_supply import draw_extra, draw_record, draw_rule, draw_system
from tests.oracle.scalar_balance import Season
from tests.oracle.scalar_crop import Crop, Series, degree_days, in_turn
from tests.oracle.scalar_decision import Rule
from tests.oracle.scalar_soil import Ground, Soil
from tests.oracle.scalar_system import System

KINDS = ("stages", "stages", "heat", "constant", "series")


# ------------------------------------------------------------------------------- a batch
def draw_batch(rng: np.random.Generator, size: int) -> list[dict[str, Any]]:
    """Draw seasons of one form."""
    draw = Draw(rng)
    form = _form(draw)
    return [_season(draw, form) for _ in range(size)]


def _form(draw: Draw) -> Form:
    days = draw.whole(120, draw.one_of(250, 250, 500))  # a few of more than a year
    kind = draw.one_of(*KINDS)
    kinds = (kind,)
    if kind in ("stages", "heat") and draw.chance(0.5):
        more = tuple(draw.one_of("stages", "stages", "heat") for _ in range(draw.whole(1, 2)))
        kinds = (kind, *more)
    spots = draw.one_of(None, None, 1, 2, 3, 4, 5, 6)
    drip, daily_spray = draw.chance(0.3), draw.chance(0.3)
    # A daily series may begin before the weather and end before it does, or outlast it.
    start = draw.whole(-20, days // 3)
    return Form(
        days=days,
        kinds=kinds,
        spots=spots,
        drip=drip,
        daily_spray=daily_spray,
        system=spots is not None or drip or daily_spray or draw.chance(0.6),
        rule=draw.chance(0.8),
        layered=draw.chance(0.4),
        runoff=draw.one_of("none", "curve number", "curve number", "intensity", "given"),
        slow_drainage=draw.chance(0.4),
        water_table=draw.one_of("none", "none", "none", "still", "moving"),
        salt=draw.chance(0.3),
        frost=draw.chance(0.3),
        series_of_table=draw.chance(0.3),
        span=(start, draw.whole(60, days)),
        shaped=(draw.chance(0.5), draw.chance(0.5), draw.chance(0.5)),
        recorded_until=draw.whole(0, days // 2) if draw.chance(0.2) else None,
    )


def _season(draw: Draw, form: Form) -> dict[str, Any]:
    weather = _weather(draw, form)
    crops = _crops(draw, form, weather)
    soil = _soil(draw, form, crops)
    system = draw_system(draw, form, soil) if form.system else None
    record = draw_record(draw, form)
    return {
        "weather": weather,
        "crops": crops,
        "soil": soil,
        "system": system,
        "rule": draw_rule(draw, form, system) if form.rule else None,
        "irrigation": record,
        "recorded_until": form.recorded_until,
        "extra_irrigation": draw_extra(draw, form, record),
        "filled": tuple(draw.number(0.0, 1.0, 0.0, 1.0) for _ in range(3)),
        "et_share": draw.number(0.0, 1.0, 0.0, 1.0),
    }


def season_of(values: dict[str, Any]) -> Season:
    """Turn a drawn season into the inputs of the second implementation."""
    crops = [Crop(**crop) for crop in values["crops"]]
    soil = Soil(**values["soil"])
    depletion, below, surface = initial_depletions(values)
    return Season(
        **{name: values["weather"].get(name) for name in ("rain", "et_ref", "tmin", "tmax")},
        rain_intensity=values["weather"].get("rain_intensity"),
        runoff=values["weather"].get("runoff"),
        crops=crops,
        soil=soil,
        system=None if values["system"] is None else System(**values["system"]),
        rule=None if values["rule"] is None else Rule(**values["rule"]),
        irrigation=values["irrigation"],
        recorded_until=values["recorded_until"],
        extra_irrigation=values["extra_irrigation"],
        initial_depletion=depletion,
        initial_depletion_below=below,
        initial_evaporation_depletion=surface,
        et_share=values["et_share"],
    )


def initial_depletions(values: dict[str, Any]) -> tuple[float, float, float]:
    """Fill the stores of the first day to the drawn parts of what they can lose."""
    crops = [Crop(**crop) for crop in values["crops"]]
    ground = Ground(Soil(**values["soil"]), crops)
    weather = values["weather"]
    first = in_turn(crops, 1, weather["tmin"], weather["tmax"])[0]
    taw = ground.available_to(ground.limited(first.root_depth))
    roots, below, surface = values["filled"]
    return roots * (taw + ground.air_dry), below * (ground.whole - taw), surface * ground.tew


# ------------------------------------------------------------------------------- its parts
def _weather(draw: Draw, form: Form) -> dict[str, list[float]]:
    """Make weather up: dry to very wet, cool to hot, with days on which nothing evaporates."""
    rng, days = draw.rng, form.days
    chance, depth = draw.one_of((0.02, 8.0), (0.25, 9.0), (0.6, 14.0))
    rain = (rng.random(days) < chance) * rng.gamma(0.8, depth, days)
    rain[rng.random(days) < 0.01] = 3.0
    rain[rng.random(days) < 0.003] = 150.0
    et_ref = rng.uniform(0.0, draw.one_of(4.0, 7.0, 12.0), days) * (rng.random(days) > 0.04)
    warm = draw.number(8.0, 24.0) + draw.number(0.0, 14.0) * np.sin(
        2.0 * np.pi * (np.arange(days) / 365.0 + draw.number(0.0, 1.0))
    )
    warm += rng.normal(0.0, 3.0, days)
    half = rng.uniform(1.0, 9.0, days)
    made = {"rain": rain, "et_ref": et_ref, "tmin": warm - half, "tmax": warm + half}
    if form.runoff == "intensity":
        made["rain_intensity"] = np.where(rain > 0.0, rng.gamma(1.5, 8.0, days) + 0.01, 0.0)
    if form.runoff == "given":
        made["runoff"] = rain * rng.uniform(0.0, 1.0, days) * (rng.random(days) < 0.3)
    return {name: [float(value) for value in values] for name, values in made.items()}


def _crops(draw: Draw, form: Form, weather: dict[str, list[float]]) -> list[dict[str, Any]]:
    """One crop, or the crops of a rotation in the order of planting."""
    made, first = [], None
    for place, kind in enumerate(form.kinds):
        crop = _common(draw, form)
        if kind in ("constant", "series"):
            crop.pop("killing_frost", None)  # without stages a frost is refused
        if kind == "constant":
            _coefficient(draw, crop, draw.number(0.0, 1.4, 0.0, 0.15))
            crop["root_depth"] = _roots(draw)
            crop["cover"] = draw.number(0.0, 1.0, 0.0, 1.0) if draw.chance(0.4) else None
        elif kind == "series":
            _series(draw, form, crop)
        else:
            _curves(draw, crop)
            rest = len(form.kinds) - place - 1
            if kind == "stages":
                lengths = [draw.whole(0, 70, 0, 1) for _ in range(4)]
                lengths[draw.whole(0, 3)] += 20
                crop["stage_days"] = tuple(lengths)
                low = max(1 - sum(lengths), -math.inf if first is None else first + 1)
            else:
                low = 0 if first is None else max(first + 1, 0)
            high = form.days - 1 - rest
            if first is not None:  # mostly soon, and sometimes before the last one has ended
                high = min(first + draw.whole(5, 160), high)
            first = draw.whole(low, max(low, min(high, form.days * 2 // 3)))
            crop["planted"] = first
            if kind == "heat":
                _heat(draw, crop, weather)
        made.append(crop)
    return made


def _common(draw: Draw, form: Form) -> dict[str, Any]:
    """What crops of every kind have."""

    def mean(low: float, high: float, by_stage: bool) -> Any:
        return tuple(draw.number(low, high) for _ in range(4)) if by_stage else draw.number(low, high)

    by_stage = draw.chance(0.3)
    crop: dict[str, Any] = {
        "depletion_fraction": draw.number(0.1, 0.8, 0.1, 0.8),
        "adjust_depletion_fraction": draw.chance(0.7),
        "height": draw.number(0.05, 3.5, 12.0),
        "climate": (mean(0.5, 7.0, by_stage), mean(10.0, 90.0, by_stage)) if draw.chance(0.6) else None,
        "surface_uptake": draw.chance(0.3),
    }
    if draw.chance(0.4):
        crop["evaporation_reduction"] = draw.number(0.0, 0.9, 1.0)
    if draw.chance(0.4):
        crop["residue_reduction"] = draw.number(0.0, 0.9, 1.0)
    if form.frost:
        crop["killing_frost"] = draw.number(-3.0, 5.0)
    if form.salt:
        crop |= {
            "salt_threshold": draw.number(0.5, 8.0),
            "salt_slope": draw.number(2.0, 10.0),
            "yield_response": draw.number(0.7, 1.5),
        }
    return crop


def _coefficient(draw: Draw, crop: dict[str, Any], value: Any) -> None:
    """Call it basal or single; a single one may do without a height."""
    if draw.chance(0.7):
        crop["kcb"] = value
        return
    crop["kc"] = value
    if draw.chance(0.5):
        crop["height"] = None


def _roots(draw: Draw) -> float:
    return draw.number(0.2, 2.0, 0.05, 0.08)


def _curves(draw: Draw, crop: dict[str, Any]) -> None:
    """Coefficients, roots and cover that follow the stages; numbers in their place now and then."""
    points = (draw.number(0.0, 0.6, 0.15), draw.number(0.3, 1.4), draw.number(0.0, 1.3))
    _coefficient(draw, crop, draw.number(0.1, 1.3) if draw.chance(0.1) else points)
    shallow, deep = sorted((_roots(draw), _roots(draw)))
    crop["root_depth"] = deep if draw.chance(0.15) else (shallow, deep)
    crop["cover"] = draw.one_of(
        None, None, draw.number(0.0, 1.0, 1.0), tuple(draw.number(0.0, 1.0, 0.0, 1.0) for _ in range(3))
    )


def _heat(draw: Draw, crop: dict[str, Any], weather: dict[str, list[float]]) -> None:
    """Stages in degree days, which the weather mostly completes."""
    crop["base_temperature"] = draw.number(0.0, 12.0)
    if draw.chance(0.6):
        crop["upper_temperature"] = draw.number(22.0, 35.0)
    limits = (crop["base_temperature"], crop.get("upper_temperature"))
    pairs = zip(weather["tmin"], weather["tmax"], strict=True)
    each = [degree_days(tmin, tmax, *limits) for tmin, tmax in pairs]
    there = math.fsum(each[crop["planted"] :])
    total = max(there, 50.0) * draw.number(0.3, 1.2)
    parts = draw.rng.dirichlet((2.0, 3.0, 3.0, 2.0))
    crop["stage_degree_days"] = tuple(float(total * part) for part in parts)
    crop["unfinished"] = total >= there or draw.chance(0.3)


def _series(draw: Draw, form: Form, crop: dict[str, Any]) -> None:
    """One value a day, for the coefficient and perhaps for what goes with it."""
    start, length = form.span

    def daily(low: float, high: float) -> Series:
        return Series(start, tuple(float(value) for value in draw.rng.uniform(low, high, length)))

    roots, cover, height = form.shaped
    crop["kc" if form.series_of_table else "kcb"] = daily(0.0, 1.3)
    crop["root_depth"] = daily(0.1, 1.8) if roots else _roots(draw)
    crop["cover"] = daily(0.0, 1.0) if cover else draw.one_of(None, draw.number(0.0, 1.0))
    if height:
        crop["height"] = daily(0.05, 2.5)


def _soil(draw: Draw, form: Form, crops: list[dict[str, Any]]) -> dict[str, Any]:
    """A uniform or layered soil, with the options of the form on for some of its fields."""
    soil: dict[str, Any] = {"evaporation_depth": draw.number(0.1, 0.15, 0.1)}
    deepest = max(_deepest(crop["root_depth"]) for crop in crops)
    contents = [_contents(draw) for _ in range(draw.whole(1, 4))] if form.layered else [_contents(draw)]
    if form.layered:
        parts = draw.rng.dirichlet([2.0] * len(contents)) + 0.05
        bottoms = np.cumsum(parts / parts.sum()) * draw.number(1.01, 1.6) * max(deepest, 0.3)
        soil["layer_bottom"] = tuple(float(bottom) for bottom in bottoms)
    names = ("field_capacity", "wilting_point", "saturation")
    for name, values in zip(names, zip(*contents, strict=True), strict=True):
        soil[name] = values if form.layered else values[0]
    if form.slow_drainage and draw.chance(0.8):
        soil["drainage_fraction"] = draw.number(0.05, 1.0, 1.0)
    elif not form.slow_drainage:
        del soil["saturation"]
    _surface(draw, soil, contents[0])
    if "tew" in soil and "saturation" not in soil and not form.layered and draw.chance(0.2):
        soil["available_water"] = soil.pop("field_capacity") - soil.pop("wilting_point")
    if form.runoff == "curve number" and draw.chance(0.85):
        soil["curve_number"] = draw.number(40.0, 98.0, 30.0, 100.0)
        soil["adjust_curve_number"] = draw.chance(0.5)
    if form.runoff == "intensity" and draw.chance(0.85):
        soil["intake_rate"] = draw.number(2.0, 40.0)
    if draw.chance(0.25):
        soil["restricting_depth"] = draw.number(0.3, 1.5)
    if form.water_table != "none" and (form.water_table == "moving" or draw.chance(0.8)):
        table: Any = deepest + draw.number(0.1, 2.0)
        if form.water_table == "moving":
            moves = draw.rng.uniform(0.0, 1.0, form.days)
            table = Series(0, tuple(float(table + move) for move in moves))
        soil |= {
            "water_table_depth": table,
            "capillary_a": draw.number(0.05, 12.0),
            "capillary_n": draw.number(1.3, 4.5),
        }
    if form.salt and draw.chance(0.8):
        soil["soil_salinity"] = draw.number(0.0, min(map(_deadly_salinity, crops)), 0.0)
    return soil


def _deadly_salinity(crop: dict[str, Any]) -> float:
    """Salinity [dS/m] that leaves a twentieth of yield, or of transpiration by Eq. 89, whichever ends first."""
    lost = 95.0 * min(crop["yield_response"], 1.0)
    return crop["salt_threshold"] + lost / crop["salt_slope"]


def _deepest(depth: Any) -> float:
    if isinstance(depth, Series):
        return max(depth.values)
    return max(depth) if isinstance(depth, tuple) else depth


def _contents(draw: Draw) -> tuple[float, float, float]:
    """Field capacity, wilting point and saturation of a layer."""
    capacity = draw.number(0.08, 0.45)
    wilting = capacity * draw.number(0.1, 0.75)
    return capacity, wilting, capacity + draw.number(0.02, 0.25)


def _surface(draw: Draw, soil: dict[str, Any], top: tuple[float, float, float]) -> None:
    """Water that evaporation takes: measured, or by Eq. 73; now and then a thin second stage."""
    thin = draw.chance(0.15)
    if draw.chance(0.6):
        soil["tew"] = draw.number(5.0, 40.0)
        soil["rew"] = soil["tew"] * (draw.number(0.95, 0.999) if thin else draw.number(0.0, 0.9, 0.0))
        return
    # Of a layered soil the second layer may begin within the evaporation layer: keep well below the whole.
    least = 1000.0 * (top[0] - 0.5 * top[1]) * 0.1
    soil["rew"] = min(least, 4.0) * (0.5 if "layer_bottom" in soil else draw.number(0.0, 0.9))
