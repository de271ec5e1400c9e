"""The arithmetic of one day, written line by line beside the names, numbers and equations it uses.

It follows the order of `waterbudget.balance.step` and `waterbudget.balance.decide`, in plain floats, and
starts from what a season stores. `Sheet` compares every line with the stored result.
Equation numbers are those of FAO Irrigation and Drainage Paper 56 (1998).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from waterbudget.balance.step import TINY, WETTING_RAIN
from waterbudget.report.sheet import Sheet

FAO = "FAO-56 Eq. "
HERE = "this package's convention"
BALANCE = "conservation of water"
GIVEN = "given by the user"


def set_down_start(sheet: Sheet, before: Mapping[str, float], source: str) -> None:
    """Take down the state before the day."""
    sheet.part("The evening before")
    for name, unit in (
        ("depletion", "mm"),
        ("depletion_below", "mm"),
        ("surface_depletion", "mm"),
        ("wetted_fraction", "1"),
        ("root_depth", "m"),
        ("taw", "mm"),
        ("raw", "mm"),
        ("days_since_irrigation", "day"),
    ):
        sheet.given(f"{name}_before", before[name], unit, source)
    if before["excess_water"] > 0:
        sheet.given("excess_water_before", before["excess_water"], "mm", f"{source}: above field capacity")


def is_layered(sources: Mapping[str, str]) -> bool:
    """Say whether the soil was described by layers."""
    return "layer_bottom" in sources


def set_down_inputs(sheet: Sheet, day: Mapping[str, float], sources: Mapping[str, str]) -> None:
    """Take down what the day brings and what the field is."""
    sheet.part("What the day brings, and what the field is")
    basal = not math.isnan(day["kcb"])
    curve = f"basal: curve, {FAO}66" if basal else f"single: curve, {FAO}66"
    sheet.given("et_ref", day["et_ref"], "mm", sources["et_ref"])
    sheet.given("rain", day["rain"], "mm", sources["rain"])
    sheet.given("crop_stage", day["crop_stage"], "1", "0 bare soil, 1 initial, 2 development, 3 mid, 4 late")
    sheet.given("coefficient", day["kcb"] if basal else day["kc"], "1", curve)
    sheet.given("kc_max", day["kc_max"], "1", f"{FAO}72")
    sheet.given("cover", day["cover"], "1", f"{FAO}76, or given with the crop")
    roots = "growth of the roots with the curve (Annex 8)"
    if day["root_depth"] == day["restricting_depth"]:
        roots += f"; they end at the restricting depth: {sources.get('restricting_depth', GIVEN)}"
    sheet.given("root_depth", day["root_depth"], "m", roots)
    capacity = f"field capacity less wilting point; {sources.get('field_capacity', GIVEN)}"
    water = sources.get("available_water", capacity)
    layered = "of the top layer: " if is_layered(sources) else ""
    sheet.given("available_water", day["available_water"], "m3 m-3", layered + water)
    sheet.given("deepest_root", day["deepest_root"], "m", sources.get("root_depth", GIVEN))
    sheet.given(
        "depletion_fraction", day["depletion_fraction"], "1", sources.get("depletion_fraction", GIVEN)
    )
    share = "et_share_before_percolation"
    sheet.given(share, day[share], "1", "stated for the run; 1 unless given")


def grow(sheet: Sheet, day: Mapping[str, float], sources: Mapping[str, str]) -> None:
    """Move the lower boundary of the root zone; water held above field capacity counts as today's."""
    v = sheet.values
    sheet.part("Roots grow, or end, before anything else")
    _available_within(sheet, "taw", "root_depth", day, sources)
    growth = v["taw"] - v["taw_before"]
    formula, moved = "0", 0.0
    if growth > 0:
        _available_within(sheet, "profile_water", "deepest_root", day, sources)
        room = max(v["profile_water"] - v["taw_before"], TINY)
        formula = (
            "{depletion_below_before} * min(({taw} - {taw_before}) / ({profile_water} - {taw_before}), 1)"
        )
        moved = v["depletion_below_before"] * min(growth / room, 1.0)
    elif growth < 0:
        formula = "-min({depletion_before}, {taw_before}) * ({taw_before} - {taw}) / {taw_before}"
        moved = -min(v["depletion_before"], v["taw_before"]) * (-growth / v["taw_before"])
    proportion = f"{HERE}: in proportion to the available water that changes sides"
    sheet.line("depletion_moved", formula, moved, "mm", proportion)
    formula, morning = "{depletion_before} + {depletion_moved}", v["depletion_before"] + moved
    if "excess_water_before" in v:
        formula, morning = f"{formula} - {{excess_water_before}}", morning - v["excess_water_before"]
    sheet.line("depletion_morning", formula, morning, "mm", BALANCE)
    below = v["depletion_below_before"] - moved
    sheet.line("below_morning", "{depletion_below_before} - {depletion_moved}", below, "mm", BALANCE)
    met = v["taw"] - v["taw_before"] - moved
    sheet.line("met_by_roots", "{taw} - {taw_before} - {depletion_moved}", met, "mm", BALANCE)


def _available_within(
    sheet: Sheet, name: str, depth: str, day: Mapping[str, float], sources: Mapping[str, str]
) -> None:
    """Take down the available water down to a depth: computed, or as it was summed over layers."""
    if is_layered(sources):
        sheet.given(name, day[name], "mm", f"{FAO}82, summed over the layers down to {depth}")
        return
    water = 1000 * sheet.values["available_water"] * sheet.values[depth]
    sheet.line(name, f"1000 * {{available_water}} * {{{depth}}}", water, "mm", f"{FAO}82")


def wet(sheet: Sheet, day: Mapping[str, float], sources: Mapping[str, str]) -> None:
    """Let water in, and read how much of the surface it wetted."""
    v = sheet.values
    sheet.part("Water enters, early in the day")
    sheet.line("rain_in", "{rain} - {runoff}", v["rain"] - v["runoff"], "mm", f"{FAO}85, P - RO")
    if day["spot_share"] != 1.0:
        sheet.given("spot_share", day["spot_share"], "1", sources.get("spot_share", "system"))
        depth = v["irrigation_net"] * day["spot_share"]
        sheet.line("irrigation", "{irrigation_net} * {spot_share}", depth, "mm", "depth at this spot")
    else:
        sheet.line("irrigation", "{irrigation_net}", v["irrigation_net"], "mm", f"{FAO}85, I")
    surface, where = ("0", "subsurface") if day["subsurface"] else ("{irrigation}", "all of it")
    depth = 0.0 if day["subsurface"] else v["irrigation"]
    sheet.line("on_surface", surface, depth, "mm", f"irrigation on the surface: {where}")
    counts = v["rain_in"] if v["rain_in"] >= WETTING_RAIN else 0.0
    formula = "{rain_in}" if counts else "0"
    source = f"FAO-56 p. 149: rain of {WETTING_RAIN:g} mm or more wets all the surface"
    sheet.line("rain_rewetting", formula, counts, "mm", source)
    water = v["on_surface"] + v["rain_rewetting"]
    if water > 0:
        fraction = sheet.given(
            "system_wetted_fraction",
            day["system_wetted_fraction"],
            "1",
            sources.get("wetted_fraction", "FAO-56 Table 20"),
        )
        formula = "{system_wetted_fraction}"
        if day["under_canopy"]:
            formula += " * (1 - 2 / 3 * {cover})"
            fraction *= 1 - 2 / 3 * v["cover"]
        sheet.line("fraction_by_irrigation", formula, fraction, "1", "FAO-56 Table 20")
        sheet.line(
            "wetted_fraction",
            "({fraction_by_irrigation} * {on_surface} + {rain_rewetting})"
            " / ({on_surface} + {rain_rewetting})",
            (fraction * v["on_surface"] + v["rain_rewetting"]) / max(water, TINY),
            "1",
            f"{HERE}: weighted by what entered from each",
        )
    else:
        sheet.line(
            "wetted_fraction",
            "{wetted_fraction_before}",
            v["wetted_fraction_before"],
            "1",
            "FAO-56 p. 149: as the last wetting left it",
        )
    missing = max(v["depletion_morning"] - v["rain_in"] - v["irrigation"], 0.0)
    sheet.line(
        "depletion_wetted",
        "max({depletion_morning} - {rain_in} - {irrigation}, 0)",
        missing,
        "mm",
        f"{FAO}85, water enters first",
    )
    excess = max(v["rain_in"] + v["irrigation"] - v["depletion_morning"], 0.0)
    formula = "max({rain_in} + {irrigation} - {depletion_morning}, 0)"
    sheet.line("excess", formula, excess, "mm", "water above field capacity")


def evaporate(sheet: Sheet, day: Mapping[str, float], sources: Mapping[str, str]) -> None:
    """Work the evaporation layer out; without rew and tew there is none."""
    v = sheet.values
    sheet.part("Evaporation from the soil surface")
    dual = bool(day["dual"]) or v["crop_stage"] == 0
    if math.isnan(day["tew"]) or math.isnan(day["rew"]):
        sheet.line(
            "evaporation", "0", 0.0, "mm", "within the single crop coefficient; rew and tew are not known"
        )
        sheet.line("ke", "0", 0.0, "1", "within the single crop coefficient")
        return
    set_down_layer(sheet, day, sources, ("rew", "tew", "air_dry_water"))
    # Where roots draw on the layer as well, what evaporation leaves is not yet the end of the day.
    dried = "surface_dried" if day["layer_uptake"] > 0 else "surface_depletion"
    factor = day["evaporation_factor"]
    passed = ""
    if factor != 1.0:
        passed = " * {evaporation_factor}"
        reduction = "evaporation_reduction" if v["crop_stage"] > 0 else "residue_reduction"
        source = f"1 less {reduction.replace('_', ' ')}: {sources.get(reduction, GIVEN)}"
        sheet.given("evaporation_factor", factor, "1", source)
    exposed = min(1 - v["cover"], v["wetted_fraction"])
    sheet.line("few", "min(1 - {cover}, {wetted_fraction})", exposed, "1", f"{FAO}75")
    sheet.line(
        "surface_wetted",
        "max({surface_depletion_before} - {rain_in} - {on_surface} / {wetted_fraction}, 0)",
        max(v["surface_depletion_before"] - v["rain_in"] - v["on_surface"] / v["wetted_fraction"], 0.0),
        "mm",
        f"{FAO}77, water enters first",
    )
    left = v["tew"] - v["surface_wetted"]
    kr = min(left / (v["tew"] - v["rew"]), 1.0)
    sheet.line("kr", "min(({tew} - {surface_wetted}) / ({tew} - {rew}), 1)", kr, "1", f"{FAO}74")
    if not dual:
        sheet.line("evaporation", "0", 0.0, "mm", "within the single crop coefficient")
        sheet.line("ke", "0", 0.0, "1", "within the single crop coefficient")
        sheet.line(
            dried,
            f"min({{surface_wetted}} + {{kr}} * {{kc_max}} * {{et_ref}}{passed}, {{tew}})",
            min(v["surface_wetted"] + kr * v["kc_max"] * v["et_ref"] * factor, v["tew"]),
            "mm",
            f"{FAO}77, as a bare patch would dry",
        )
        return
    demand = min(kr * (v["kc_max"] - v["coefficient"]), exposed * v["kc_max"]) * v["et_ref"] * factor
    sheet.line(
        "evaporation_demand",
        f"min({{kr}} * ({{kc_max}} - {{coefficient}}), {{few}} * {{kc_max}}) * {{et_ref}}{passed}",
        demand,
        "mm",
        f"{FAO}71",
    )
    sheet.line(
        "layer_holds", "{few} * ({tew} - {surface_wetted})", exposed * left, "mm", f"{FAO}77, De at most TEW"
    )
    sheet.line(
        "root_zone_holds",
        "max({taw} + {air_dry_water} - {depletion_wetted}, 0)",
        max(v["taw"] + v["air_dry_water"] - v["depletion_wetted"], 0.0),
        "mm",
        BALANCE,
    )
    evaporation = min(demand, v["layer_holds"], v["root_zone_holds"])
    formula = "min({evaporation_demand}, {layer_holds}, {root_zone_holds})"
    sheet.line("evaporation", formula, evaporation, "mm", "no more than there is")
    formula = "{evaporation} / {et_ref}" if v["et_ref"] > TINY else "{evaporation} / 1e-300"
    sheet.line("ke", formula, evaporation / max(v["et_ref"], TINY), "1", f"{FAO}71")
    sheet.line(
        dried,
        "min({surface_wetted} + {evaporation} / {few}, {tew})",
        min(v["surface_wetted"] + evaporation / exposed, v["tew"]),
        "mm",
        f"{FAO}77",
    )


def set_down_layer(
    sheet: Sheet, day: Mapping[str, float], sources: Mapping[str, str], names: tuple[str, ...]
) -> None:
    """Take down numbers of the evaporation layer, each once."""
    for name in names:
        if name not in sheet.values:
            sheet.given(name, day[name], "mm", sources.get(name, f"{FAO}73, and available water"))


def transpire(
    sheet: Sheet, day: Mapping[str, float], sources: Mapping[str, str], ks_other: float | None = None
) -> None:
    """Work out stress, and what the crop took; ``ks_other``: of the other part of a shared root system."""
    v = sheet.values
    basal = bool(day["dual"]) or v["crop_stage"] == 0
    sheet.part("Stress and crop evapotranspiration")
    kc = v["coefficient"] + v["ke"]
    sheet.line("kc", "{coefficient} + {ke}", kc, "1", f"{FAO}69, dual" if basal else f"{FAO}58, single")
    potential = v["coefficient"] * v["et_ref"]
    sheet.line("potential", "{coefficient} * {et_ref}", potential, "mm", "transpiration without stress")
    if day["adjust_depletion_fraction"]:
        adjusted = v["depletion_fraction"] + 0.04 * (5 - (potential + v["evaporation"]))
        formula = "min(max({depletion_fraction} + 0.04 * (5 - ({potential} + {evaporation})), 0.1), 0.8)"
        sheet.line("p", formula, min(max(adjusted, 0.1), 0.8), "1", "FAO-56 p. 162 and Table 22")
    else:
        sheet.line("p", "{depletion_fraction}", v["depletion_fraction"], "1", "p, not adjusted")
    sheet.line("raw", "{p} * {taw}", v["p"] * v["taw"], "mm", f"{FAO}83")
    left = v["taw"] - v["depletion_wetted"]
    ks = min(max(left / (v["taw"] - v["raw"]), 0.0), 1.0)
    formula, source = "min(max(({taw} - {depletion_wetted}) / ({taw} - {raw}), 0), 1)", f"{FAO}84"
    factor = ""
    if ks_other is not None:
        formula, ks = _share_roots(sheet, day, formula, ks, ks_other)
        factor, source = "{uptake_factor} * ", "of the plant: both parts together (Jarvis 1989)"
    if day["salt_factor"] != 1.0:
        sheet.given("soil_salinity", day["soil_salinity"], "dS m-1", sources.get("soil_salinity", GIVEN))
        tolerance = f"{FAO}89 put into Eq. 90; tolerance of the crop: {sources.get('salt_threshold', GIVEN)}"
        ks *= sheet.given("salt_factor", day["salt_factor"], "1", tolerance)
        formula, source = f"{{salt_factor}} * {formula}", f"{source}, times the stress by salt (chapter 8)"
    sheet.line("ks", formula, ks, "1", source)
    sheet.line(
        "transpiration",
        f"min({factor}{{ks}} * {{potential}}, max({{taw}} - {{depletion_wetted}} - {{evaporation}}, 0))",
        min(v.get("uptake_factor", 1.0) * ks * potential, max(left - v["evaporation"], 0.0)),
        "mm",
        f"{FAO}80" if basal else f"{FAO}81",
    )
    et = v["evaporation"] + v["transpiration"]
    sheet.line("et", "{evaporation} + {transpiration}", et, "mm", f"{FAO}80" if basal else f"{FAO}81")


def _share_roots(
    sheet: Sheet, day: Mapping[str, float], formula: str, ks: float, ks_other: float
) -> tuple[str, float]:
    """Take down how one root system draws on a wetted and a dry part; give formula and value of its ks."""
    wetted = day["spot_share"] > 0
    sheet.given(
        "wetted_volume",
        day["wetted_volume"],
        "1",
        f"system; this is the {'wetted' if wetted else 'dry'} part",
    )
    sheet.line("ks_here", formula, ks, "1", f"{FAO}84, of this part")
    sheet.given("ks_other", ks_other, "1", f"{FAO}84, of the other part of this root system")
    volume = day["wetted_volume"]
    own, other = ("ks_here", "ks_other") if wetted else ("ks_other", "ks_here")
    index = volume * sheet.values[own] + (1 - volume) * sheet.values[other]
    index_formula = f"{{wetted_volume}} * {{{own}}} + (1 - {{wetted_volume}}) * {{{other}}}"
    sheet.line("stress_index", index_formula, index, "1", "Jarvis 1989: mean by volume")
    sheet.line(
        "uptake_factor",
        "{ks_here} / {stress_index}" if index > 0 else "0",
        ks / index if index > 0 else 0.0,
        "1",
        "Jarvis 1989: the part that can give more gives more",
    )
    return "{stress_index} / max({stress_index}, {wetted_volume})", index / max(index, volume)
