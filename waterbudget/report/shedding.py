"""The arithmetic of a day's runoff, for `explain`: by a curve number, by intensity, or given."""

from __future__ import annotations

import math
from collections.abc import Mapping

from waterbudget.report.arithmetic import GIVEN, set_down_layer
from waterbudget.report.sheet import Sheet
from waterbudget.soil import curve_number_runoff
from waterbudget.soil.runoff import adjusted_curve_number, curve_numbers_dry_wet

HANDBOOK = "NEH 630 ch. 10, curve number"
HAWKINS = "Hawkins and others 1985"
DRYNESS = "ASCE Manual 70, 2nd ed. 2016: by the dryness of the evaporation layer"


def set_down_runoff(sheet: Sheet, day: Mapping[str, float], sources: Mapping[str, str]) -> None:
    """Take down how much of the day's rain ran off, and why."""
    if not math.isnan(day["intake_rate"]):
        sheet.given("intake_rate", day["intake_rate"], "mm h-1", sources.get("intake_rate", GIVEN))
        rule = "rain that fell faster than the soil takes water in (common practice, no source)"
        if day["runoff"] == 0:
            rule = "no rain fell faster than the soil takes water in, or its intensity was not given"
        sheet.given("runoff", day["runoff"], "mm", rule)
    elif math.isnan(day["curve_number"]):
        neither = "no curve number was given: no rain runs off"
        source = "given with the weather" if day["runoff"] > 0 else neither
        sheet.given("runoff", day["runoff"], "mm", source)
    else:
        sheet.given("curve_number", day["curve_number"], "1", sources.get("curve_number", GIVEN))
        adjusted = day["adjust_curve_number"] > 0
        _by_curve_number(sheet, _adjusted(sheet, day, sources) if adjusted else "curve_number")


def _adjusted(sheet: Sheet, day: Mapping[str, float], sources: Mapping[str, str]) -> str:
    """Take down the curve number of the day; give the name of its line."""
    v = sheet.values
    set_down_layer(sheet, day, sources, ("rew", "tew"))
    dry, wet = curve_numbers_dry_wet(v["curve_number"])
    formula = "{curve_number} / (2.281 - 0.01281 * {curve_number})"
    sheet.line("curve_number_dry", formula, dry, "1", f"{HAWKINS}, condition I")
    formula = "{curve_number} / (0.427 + 0.00573 * {curve_number})"
    sheet.line("curve_number_wet", formula, wet, "1", f"{HAWKINS}, condition III")
    number = float(adjusted_curve_number(dry, wet, v["surface_depletion_before"], v["rew"], v["tew"]))
    formula = (
        "{curve_number_wet} + min(max(({surface_depletion_before} - 0.5 * {rew})"
        " / (0.2 * {rew} + 0.3 * {tew}), 0), 1) * ({curve_number_dry} - {curve_number_wet})"
    )
    sheet.line("curve_number_today", formula, number, "1", DRYNESS)
    return "curve_number_today"


def _by_curve_number(sheet: Sheet, name: str) -> None:
    """Take down the runoff by the curve number of this name."""
    v = sheet.values
    kept = 25400 / v[name] - 254
    sheet.line("retention", f"25400 / {{{name}}} - 254", kept, "mm", HANDBOOK)
    over = max(v["rain"] - 0.2 * kept, 0.0)
    above = sheet.line("effective", "max({rain} - 0.2 * {retention}, 0)", over, "mm", HANDBOOK)
    formula = "{effective} * {effective} / ({rain} + 0.8 * {retention})" if above > 0 else "0"
    sheet.line("runoff", formula, float(curve_number_runoff(v["rain"], v[name])), "mm", HANDBOOK)
