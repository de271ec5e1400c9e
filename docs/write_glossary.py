"""Write docs/glossary.md from the tables and docstrings in the code: ``python docs/write_glossary.py``."""

from __future__ import annotations

import inspect
from pathlib import Path
from types import ModuleType
from typing import get_args

from waterbudget import report, soil, system, weather
from waterbudget.batch.columns import FILES, Column
from waterbudget.variables import VARIABLES, Variable

PAGE = Path(__file__).with_name("glossary.md")

HEAD = """\
# Glossary

Every name, written by `python docs/write_glossary.py` from the tables that the checks and the results use.
Unit `1` is a plain number. A value outside its hard range is refused; one outside its plausible range is a
doubt that `check_weather` lists (weather), or a reason to look twice. `initial_` before a state is that state
before the first day. In a CSV or DataFrame the unit stands at the end of the name: `depletion_mm`.
"""

KINDS = {
    "weather": "Weather",
    "step": "Weather of a step shorter than a day",
    "origin": "Where the weather of a day comes from (codes; `flag_meanings` says them in words)",
    "flux": "Water that moved in a day",
    "state": "State at the end of a day",
    "coefficient": "Coefficients of a day",
    "parameter": "Parameters: site, crop, soil, system, rule",
}

COLUMNS = """
## Columns of the farm folder

The files are described in [farm-folder.md](farm-folder.md). A column of numbers is named by its quantity and
one of the units listed; a blank cell means "not given".
"""

FUNCTIONS = """
## Functions

Every public name of four rooms, by the first line of its help; `help(wb.system.pump_keeps_up)` has the rest.
A number that has a unit may be text there: `"300 m3/h"`, `"80 %"`. Measures of uniformity and distributions
have no unit, and take numbers alone. So does the arithmetic that the balance does for every day, which checks
nothing: `hours` and `volume`, runoff by curve number and by intensity, water by particles, evaporable water
and the rise from a water table.
"""

ROOMS = {"weather": weather, "system": system, "soil": soil, "report": report}


MEANINGS = {
    "setting": "`name` or `today`",
    "value": "value of the setting",
    "note": "remark; not read, but in `cans.csv`: `spilled` or `out of line`",
    "station": "name of the weather station",
    "wind_height": "height of the anemometer",
    "wind": "mean wind speed at the height of the anemometer",
    "field": "name of the field",
    "crop": "name in the handbook; beside own coefficients any name",
    "planted": "day 1 of the initial stage",
    "region": "part of a region as printed in FAO-56 Table 11",
    "coefficients": "`dual` or `single`",
    "initial": "length of the initial stage",
    "development": "length of the development stage",
    "mid_season": "length of the mid-season stage",
    "late_season": "length of the late stage",
    "initial_heat": "degree days of the initial stage",
    "development_heat": "degree days of the development stage",
    "mid_season_heat": "degree days of the mid-season stage",
    "late_season_heat": "degree days of the late stage",
    "unfinished": "`yes`: the weather may end before the degree days of all stages are reached",
    "cuttings": "days of cutting, in order, with `;` between them",
    "organic_mulch_cover": "fraction of the ground under organic mulch while the crop stands",
    "residue_cover": "fraction of the ground under residue after the crop",
    "kc_initial": "single coefficient of the initial stage",
    "kc_mid": "single coefficient of the mid-season",
    "kc_end": "single coefficient at the end",
    "kcb_initial": "basal coefficient of the initial stage",
    "kcb_mid": "basal coefficient of the mid-season",
    "kcb_end": "basal coefficient at the end",
    "root_depth": "full depth of the roots",
    "root_depth_at_planting": "depth from which the roots grow",
    "soil": "texture in the handbook, or name of a soil in `layers.csv`",
    "top": "depth of the top of a soil layer",
    "adjust_curve_number": "`yes`: the curve number follows the dryness of the surface",
    "system": "kind of system in the handbook",
    "irrigated": "`no`: only the record waters this field",
    "last_date": "last day on which the rule irrigates",
    "watch_driest_quarter": "`yes`: decide by the driest quarter of the field that morning",
    "initial_depletion": "water missing in the root zone before the first day of weather",
    "initial_depletion_below": "water missing below the roots before the first day of weather",
    "date": "the day",
    "et_ref_short": "reference evapotranspiration of clipped grass",
    "et_ref_tall": "reference evapotranspiration of alfalfa",
    "purpose": "germination, frost protection, leaching, ...",
    "can": "number or name of the catch can",
    "depth": "depth that the can caught",
    "volume": "volume that the can caught",
    "duration": "how long water was applied in the test",
    "distance": "distance of the can from the pivot point",
    "zone": "name of a part of the farm that runs by itself",
    "pressure": "pressure at the gauge of the zone; in `weather_<station>.csv` that of the air",
    "baseline": "`yes`: read when the zone was known to be good",
}
"""What a column holds where the variables table does not say it, or says it of something else."""


def page() -> str:
    """Compose the whole page."""
    parts = [HEAD]
    for kind, title in KINDS.items():
        parts.append(f"\n## {title}\n")
        parts.append("| name | unit | meaning | hard range | plausible range |")
        parts.append("|---|---|---|---|---|")
        parts += [_variable(variable) for variable in VARIABLES.values() if variable.kind == kind]
    parts.append(COLUMNS)
    for file, columns in FILES.items():
        name = "weather_<station>.csv" if file == "weather" else f"{file}.csv"
        parts.append(f"\n### `{name}`\n")
        parts.append("| column | cells | meaning | needed |")
        parts.append("|---|---|---|---|")
        parts += [_column(stem, column) for stem, column in columns.items()]
    parts.append(FUNCTIONS)
    for name, room in ROOMS.items():
        parts.append(f"\n### `waterbudget.{name}`\n")
        parts.append("| name | what it answers |")
        parts.append("|---|---|")
        parts += [_function(one, room) for one in room.__all__]
    return "\n".join(parts) + "\n"


def _function(name: str, room: ModuleType) -> str:
    """Write one public name: the first line of its docstring, or the words that it stands for."""
    thing = getattr(room, name)
    choices = get_args(thing)
    line = (
        f"one of {', '.join(map(repr, choices))}" if choices else str(inspect.getdoc(thing)).splitlines()[0]
    )
    return f"| `{name}` | {line.replace('``', '`').rstrip('.')} |"


def _variable(variable: Variable) -> str:
    """Write one row of the variables table."""
    bounded = variable.hard != (None, None)
    hard = variable.allowed() if bounded else ""
    plausible = _range(variable.plausible)
    return f"| `{variable.name}` | {variable.unit} | {variable.long_name} | {hard} | {plausible} |"


def _range(ends: tuple[float | None, float | None]) -> str:
    """Write a closed range; nothing where it is open."""
    low, high = ends
    return "" if low is None or high is None else f"{low:g} to {high:g}"


def _column(stem: str, column: Column) -> str:
    """Write one column of a file: its headings and what its cells hold."""
    headings = ", ".join(f"`{name}`" for name in column.names(stem))
    meaning = MEANINGS[stem] if stem in MEANINGS else VARIABLES[column.variable].long_name
    return f"| {headings} | {column.kind} | {meaning} | {'yes' if column.required else ''} |"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
