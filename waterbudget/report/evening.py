"""The arithmetic of a day's end, for `explain`: percolation, water held and risen, closure.

It follows the order of `waterbudget.balance.step`: `settle`, then the stages that only some runs have.
Equation numbers are those of FAO Irrigation and Drainage Paper 56 (1998).
"""

from __future__ import annotations

from collections.abc import Mapping

from waterbudget.balance.decide import LONG_AGO
from waterbudget.report.arithmetic import BALANCE, FAO, GIVEN, HERE
from waterbudget.report.sheet import Sheet

UPTAKE = "Allen and others 2005: roots draw on the evaporation layer"
RISE = f"{HERE}: all of the limit once the readily available water is used, in proportion before"


def settle(sheet: Sheet, day: Mapping[str, float], sources: Mapping[str, str]) -> None:
    """Let water above field capacity go, and close the root zone and the soil below it."""
    v = sheet.values
    sheet.part("The day's end")
    share = v["et_share_before_percolation"] * min(v["excess"], v["et"])
    formula = "{et_share_before_percolation} * min({excess}, {et})"
    sheet.line("et_from_excess", formula, share, "mm", f"{FAO}88 (share 1); Example 38 (share 0)")
    formula, percolation = "{excess} - {et_from_excess}", v["excess"] - share
    after, depletion = (
        "{depletion_wetted} + ({et} - {et_from_excess})",
        v["depletion_wetted"] + v["et"] - share,
    )
    held = "excess_water_before" in v or (day["drainage_fraction"] < 1 and percolation > 0)
    if held:
        drawn = _hold_back(sheet, day, sources)
        formula, percolation = f"{formula} - {{held}}", percolation - v["held"]
        after, depletion = f"{after} - {{drawn_from_held}}", depletion - drawn
    sheet.line("percolation", formula, percolation, "mm", f"{FAO}88")
    # Where a water table is near, what has risen is yet to come.
    name = "depletion_without_rise" if day["capillary_limit"] > 0 else "depletion"
    sheet.line(name, after, depletion, "mm", f"{FAO}85, 86")
    below = max(v["below_morning"] - percolation, 0.0)
    store = f"{HERE}: the soil below catches percolation"
    sheet.line("depletion_below", "max({below_morning} - {percolation}, 0)", below, "mm", store)
    drained = max(percolation - v["below_morning"], 0.0)
    sheet.line("drainage", "max({percolation} - {below_morning}, 0)", drained, "mm", store)
    watered = v["irrigation_net"] > 0
    formula = "0" if watered else f"min({{days_since_irrigation_before}} + 1, {LONG_AGO:g})"
    days = 0.0 if watered else min(v["days_since_irrigation_before"] + 1, LONG_AGO)
    sheet.line("days_since_irrigation", formula, days, "day", "counted")


def _hold_back(sheet: Sheet, day: Mapping[str, float], sources: Mapping[str, str]) -> float:
    """Take down what soil that drains slowly holds back; give what the roots drew from it."""
    v = sheet.values
    part = "drainage_fraction"
    sheet.given(part, day[part], "1", sources.get(part, GIVEN))
    room = "saturation less field capacity, down to the root depth"
    sheet.given("excess_capacity", day["excess_capacity"], "mm", room)
    left = v["excess"] - v["et_from_excess"]
    held = min((1 - v[part]) * left, v["excess_capacity"])
    sheet.line(
        "held",
        "min((1 - {drainage_fraction}) * ({excess} - {et_from_excess}), {excess_capacity})",
        held,
        "mm",
        "linear reservoir (Ritchie 1985, first-order drainage), up to saturation",
    )
    drawn = min(held, v["depletion_wetted"] + v["et"] - v["et_from_excess"])
    formula = "min({held}, {depletion_wetted} + {et} - {et_from_excess})"
    sheet.line("drawn_from_held", formula, drawn, "mm", f"{HERE}: the roots draw from it first")
    sheet.line("excess_water", "{held} - {drawn_from_held}", held - drawn, "mm", BALANCE)
    return drawn


def take_up(sheet: Sheet, day: Mapping[str, float], sources: Mapping[str, str]) -> None:
    """Let roots draw part of the transpiration from the evaporation layer."""
    if not day["layer_uptake"] > 0:
        return
    v = sheet.values
    sheet.part("Uptake from the evaporation layer")
    name = "evaporation_depth"
    depth = sheet.given(name, day[name], "m", sources.get(name, GIVEN))
    uptake = min(depth / v["root_depth"], 1.0) ** 0.6
    sheet.line("layer_uptake", "min({evaporation_depth} / {root_depth}, 1) ** 0.6", uptake, "1", UPTAKE)
    depletion = "depletion_without_rise" if "depletion_without_rise" in v else "depletion"
    left = v["tew"] - v["surface_dried"]
    moist = max(1 - v[depletion] / v["taw"], 0.001)
    formula = (
        "min({layer_uptake} * (({tew} - {surface_dried}) / {tew})"
        f" / max(1 - {{{depletion}}} / {{taw}}, 0.001), 1)"
    )
    part = sheet.line("layer_part", formula, min(uptake * (left / v["tew"]) / moist, 1.0), "1", UPTAKE)
    sheet.line(
        "surface_depletion",
        "{surface_dried} + min({layer_part} * {transpiration}, {tew} - {surface_dried})",
        v["surface_dried"] + min(part * v["transpiration"], left),
        "mm",
        f"{FAO}77, with the transpiration from the layer",
    )


def rise(sheet: Sheet, day: Mapping[str, float], sources: Mapping[str, str]) -> None:
    """Let water rise from a water table into what is missing."""
    if not day["capillary_limit"] > 0:
        return
    v = sheet.values
    sheet.part("Capillary rise")
    name = "water_table_depth"
    sheet.given(name, day[name], "m", sources.get(name, GIVEN))
    steady = "steady flow over the water table's distance from the roots (Gardner 1958)"
    limit = sheet.given("capillary_limit", day["capillary_limit"], "mm", steady)
    missing = v["depletion_without_rise"]
    risen = min(limit * min(missing / v["raw"], 1.0), missing)
    formula = "min({capillary_limit} * min({depletion_without_rise} / {raw}, 1), {depletion_without_rise})"
    sheet.line("capillary_rise", formula, risen, "mm", RISE)
    sheet.line("depletion", "{depletion_without_rise} - {capillary_rise}", missing - risen, "mm", BALANCE)


def close(sheet: Sheet) -> None:
    """Take down what the two balances leave unexplained: nothing."""
    v = sheet.values
    sheet.part("Closure")
    risen, rise_term = (v["capillary_rise"], " + {capillary_rise}") if "capillary_rise" in v else (0.0, "")
    held, held_term = 0.0, ""
    if "excess_water" in v:
        held, held_term = v["excess_water"], " + {excess_water}"
    if "excess_water_before" in v:
        held, held_term = held - v["excess_water_before"], f"{held_term} - {{excess_water_before}}"
    root_zone = (
        (v["taw"] - v["depletion"])
        - (v["taw_before"] - v["depletion_before"])
        + held
        - (v["met_by_roots"] + v["rain_in"] + v["irrigation"] + risen - v["percolation"] - v["et"])
    )
    sheet.nought(
        "root_zone_residual",
        f"({{taw}} - {{depletion}}) - ({{taw_before}} - {{depletion_before}}){held_term}"
        f" - ({{met_by_roots}} + {{rain_in}} + {{irrigation}}{rise_term} - {{percolation}} - {{et}})",
        root_zone,
    )
    profile = (
        (v["depletion_before"] + v["depletion_below_before"])
        - (v["depletion"] + v["depletion_below"])
        + held
        - (v["rain_in"] + v["irrigation"] + risen - v["drainage"] - v["et"])
    )
    sheet.nought(
        "profile_residual",
        "({depletion_before} + {depletion_below_before}) - ({depletion} + {depletion_below})"
        f"{held_term} - ({{rain_in}} + {{irrigation}}{rise_term} - {{drainage}} - {{et}})",
        profile,
    )
