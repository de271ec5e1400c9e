"""The irrigations of a season, one row each."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget.balance import LOOKED_AT, depletion_before, watched_mean, weights_looked_at, wetted_depth
from waterbudget.errors import collect
from waterbudget.report.frames import (
    UnitSystem,
    check_season,
    check_units,
    label_dims,
    labels_of,
    over_spots,
    shown_unit,
    spread,
    table,
)
from waterbudget.system import hours, pumping_energy, volume

_NEEDED = (
    "irrigation_net",
    "irrigation_gross",
    "rain",
    "runoff",
    "percolation",
    "capillary_rise",
    "et",
    "depletion",
    "excess_water",
    "root_depth",
    "area",
    "flow",
    "application_rate",
    "lift",
    "operating_pressure",
    "pump_efficiency",
)


def events(season: xr.Dataset, units: UnitSystem = "metric") -> pd.DataFrame:
    """List every irrigation of a season.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`, with any label dimensions.
    units : {"metric", "us"}
        Units of the columns: mm, m3, m, or in, gal, ft.

    Returns
    -------
    DataFrame
        A row for every day and label combination with net irrigation above 0, by label, then by date:

        - the label dimensions, if any (``field``, ``system``, ...), then ``date``;
        - ``recorded``: True where the depth comes from the irrigation record, False where it is the rule's or
          planned on top of it;
        - ``purpose``: text of the record or the plan, empty otherwise;
        - ``net_mm``: depth that entered the soil; ``gross_mm``: depth supplied (NaN without a system);
        - ``volume_m3``: gross depth times the system's area (NaN without one);
        - ``hours``: gross depth over application rate or, without a rate, volume over flow, or NaN; where
          they are more than 24, the balance counted the watering whole on its first day all the same;
        - ``wetted_depth_m``: how deep the day's water brings the soil back to field capacity (below);
        - ``depletion_before_mm``: root-zone depletion when the water came;
        - ``energy_kWh``: to lift the volume and give it its pressure (NaN without area, lift or operating
          pressure, and pump efficiency).

        Where fields are split into spots, depths are means of the field; the wetted depth and the depletion
        before are those of the spots that the decision watches. A season without
        irrigation gives no rows, with the same columns and types.

    Raises
    ------
    InputError
        When `season` is not a daily result, `units` is unknown, or the record names fields and the season
        has no label ``field`` to find them by.

    Notes
    -----
    Depletion before watering is read back from the day's own balance (`depletion_before`). The wetted depth
    (`wetted_depth`) counts all water of the day, rain less runoff as well, and takes it, where only a part of
    the surface is wetted, that the missing water is missing there. Look a day or two later, when drainage has
    ended; water that reached deeper than the root depth has percolated.
    """
    check_units(units)
    check_season(season, (*_NEEDED, *LOOKED_AT))
    before, wetted = _at_spots(season)
    season = over_spots(season, _NEEDED)
    labels = label_dims(season, _NEEDED)
    sizes = {dim: season.sizes[dim] for dim in (*labels, "time")}
    rows = np.nonzero(spread(season["irrigation_net"], sizes) > 0)

    day = {name: _at_rows(season[name], sizes, rows) for name in _NEEDED}
    net, gross = day["irrigation_net"], day["irrigation_gross"]
    depth_before, depth_wetted = (_at_rows(values, sizes, rows) for values in (before, wetted))
    recorded, purpose = _record(season, sizes, rows)

    in_depth, in_length, in_volume = (shown_unit(unit, units) for unit in ("mm", "m", "m3"))
    columns: dict[str, NDArray[Any]] = {
        "recorded": recorded,
        "purpose": purpose,
        f"net{in_depth.suffix}": net / in_depth.size,
        f"gross{in_depth.suffix}": gross / in_depth.size,
        f"volume{in_volume.suffix}": volume(gross, day["area"]) / in_volume.size,
        "hours": hours(gross, day["application_rate"], day["flow"], day["area"]),
        f"wetted_depth{in_length.suffix}": depth_wetted / in_length.size,
        f"depletion_before{in_depth.suffix}": depth_before / in_depth.size,
        "energy_kWh": pumping_energy(
            volume(gross, day["area"]), day["lift"], day["operating_pressure"], day["pump_efficiency"]
        ),
    }
    return table(season, sizes, columns, rows)


def _at_spots(season: xr.Dataset) -> tuple[xr.DataArray, xr.DataArray]:
    """Give depletion before watering and depth wetted, of the spots that the decision watches."""
    rain = season["rain"] - season["runoff"]
    net = season["irrigation_net"] * season["spot_share"]
    before = depletion_before(
        season["depletion"],
        season["et"],
        net,
        rain,
        season["percolation"],
        season["capillary_rise"],
        season["excess_water"],
    )
    water = (net + rain).where(season["irrigation_net"] > 0)
    wetted = wetted_depth(season["root_depth"], water, before)
    weights = weights_looked_at(season, before, season["taw"])
    return watched_mean(before, weights), watched_mean(wetted, weights)


def _at_rows(values: xr.DataArray, sizes: dict[str, int], rows: tuple[NDArray[np.intp], ...]) -> NDArray[Any]:
    """Give the values at the rows, from an array that may lack some of the dimensions."""
    return np.asarray(spread(values, sizes)[rows])


def purposes(
    season: xr.Dataset, attribute: str = "recorded_irrigation"
) -> dict[tuple[np.datetime64, str], list[str]]:
    """Read the irrigation record of a season, or what is planned on top of the rule.

    Parameters
    ----------
    season : Dataset
        Result of `simulate`.
    attribute : {"recorded_irrigation", "planned_irrigation"}
        Which of the two.

    Returns
    -------
    dict of (day, field) to list of str
        Purposes of each recorded irrigation, each once, empty ones left out; ``""`` is the field of a run
        without fields.
    """
    found: dict[tuple[np.datetime64, str], list[str]] = {}
    for entry in json.loads(season.attrs.get(attribute, "[]")):
        texts = found.setdefault((np.datetime64(entry["date"], "D"), entry["field"]), [])
        if entry["purpose"] and entry["purpose"] not in texts:
            texts.append(entry["purpose"])
    return found


def _record(
    season: xr.Dataset, sizes: dict[str, int], rows: tuple[NDArray[np.intp], ...]
) -> tuple[NDArray[np.bool_], NDArray[np.object_]]:
    """Say for each row whether the record holds it, and for what purpose."""
    record, plan = purposes(season), purposes(season, "planned_irrigation")
    count = len(rows[-1])
    recorded = np.zeros(count, dtype=bool)
    purpose = np.full(count, "", dtype=object)
    if not record and not plan:
        return recorded, purpose

    named = {field for _, field in (*record, *plan) if field}
    if not named:
        fields = np.full(count, "")
    elif "field" in sizes:
        fields = labels_of(season, "field").astype(str)[rows[list(sizes).index("field")]]
    elif "field" in season.coords:
        fields = np.full(count, str(season["field"].item()))
    else:
        with collect() as faults:
            faults.add(
                "season",
                "has no label 'field', but its irrigation record names fields",
                value=", ".join(sorted(named)),
                mend="keep the label when selecting: season.sel(field=...) without drop=True",
            )
    days = labels_of(season, "time").astype("datetime64[D]")[rows[-1]]
    for row, key in enumerate(zip(days, fields, strict=True)):
        recorded[row] = key in record
        purpose[row] = "; ".join((*record.get(key, ()), *plan.get(key, ())))
    return recorded, purpose
