"""The balance against a second implementation: random seasons must agree to a billionth of a millimetre.

`tests/oracle/scalar_balance.py` was written from FAO-56 and the conventions of docs/theory.md alone, in plain
scalar Python, and shares no code with the package. Nothing is skipped: every season drawn is compared, in every
daily variable of the balance. A decision can fall either way only where its two sides are equal to rounding;
how near any decision came to that is counted, and must be farther than the tolerance.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import settings

import waterbudget as wb
from tests.oracle.random_seasons import draw_batch, initial_depletions, season_of
from tests.oracle.scalar_balance import Result, Season, run
from tests.oracle.scalar_crop import Series
from tests.oracle.scalar_system import System

pytestmark = pytest.mark.slow
FIRST = pd.Timestamp("2023-01-01")
TOLERANCE = 1e-9
BATCH = 50
BATCHES = min(40, 4 * settings.default.max_examples)
"""Of the seasons above: 2,000 seasons at the long profile, 1,200 at that of CI."""
ENOUGH = 3
"""Seasons in which an option must count for something."""


# ------------------------------------------------------------------------------- drawn seasons, described
STAGES = ["initial", "development", "mid", "late"]
COEFFICIENTS = ["initial", "mid", "end"]
AXES: dict[str, tuple[str, list[str] | None]] = {
    "stage_days": ("stage", STAGES),
    "stage_degree_days": ("stage", STAGES),
    "kc": ("coefficient", COEFFICIENTS),
    "kcb": ("coefficient", COEFFICIENTS),
    "cover": ("coefficient", COEFFICIENTS),
    "root_depth": ("extent", ["start", "full"]),
    "spot_share": ("spot", None),
    "spot_weight": ("spot", None),
    "spot_watched": ("spot", None),
}
"""The dimension, and its labels, on which the points of a value lie; all others are by soil layer."""


def date(day: int) -> pd.Timestamp:
    return FIRST + pd.Timedelta(days=day)


def labelled(each: list[Any], fields: list[str]) -> xr.DataArray:
    """One number or date a field."""
    return xr.DataArray(each, dims="field", coords={"field": fields})


def side_by_side(name: str, each: list[Any], fields: list[str]) -> Any:
    """One value of a description on ``field``: NaN where a field has none, a plain value where all have the same."""
    if all(value == each[0] for value in each):
        each = each[:1]
    if name in ("planted", "last_date"):
        made = [np.datetime64("NaT", "ns") if day is None else date(day).to_datetime64() for day in each]
        return labelled(made, fields) if len(made) > 1 else None if each[0] is None else date(each[0])
    series = next((value for value in each if isinstance(value, Series)), None)
    points = max((len(value) for value in each if isinstance(value, tuple)), default=0)
    if series is not None:
        dim, index = "time", pd.date_range(date(series.start), periods=len(series.values))
        rows = [_on_days(value, len(series.values)) for value in each]
    elif points:
        dim, index = AXES.get(name, ("layer", list(range(1, points + 1))))
        rows = [_on_points(value, points) for value in each]
    elif len(each) == 1:
        return each[0]
    else:
        return labelled([np.nan if value is None else value for value in each], fields)
    coords = {"field": fields} if index is None else {"field": fields, dim: index}
    if len(rows) == 1:
        return xr.DataArray(rows[0], dims=dim, coords={} if index is None else {dim: index})
    return xr.DataArray(rows, dims=("field", dim), coords=coords)


def _on_points(value: Any, points: int) -> list[float]:
    """A value at every point: a number is the same at all, missing layers and missing values are NaN."""
    if isinstance(value, tuple):
        return [*value, *[np.nan] * (points - len(value))]
    return [np.nan if value is None else value] * points


def _on_days(value: Any, days: int) -> list[float]:
    """A value on every day: a number is the same on all, a missing one is NaN."""
    if isinstance(value, Series):
        return list(value.values)
    return [np.nan if value is None else value] * days


def climates(each: list[Any], fields: list[str]) -> xr.DataArray:
    """Stage means on ``field``, ``mean`` and ``stage``; NaN where a field states none."""
    nothing = (np.nan, np.nan)
    values = [[_on_points(mean, len(STAGES)) for mean in climate or nothing] for climate in each]
    coords = {"field": fields, "mean": ["wind", "rhmin"], "stage": STAGES}
    return xr.DataArray(values, dims=("field", "mean", "stage"), coords=coords)


def described(kind: type, each: list[dict[str, Any]], fields: list[str]) -> Any:
    """One description for all the fields. What a field does not say is the default."""
    defaults = {field.name: field.default for field in dataclasses.fields(kind)}
    made = {}
    for name in sorted(set().union(*each)):
        values = [season.get(name, defaults[name]) for season in each]
        known = any(value is not None for value in values)
        if name == "climate" and known:
            made[name] = climates(values, fields)
        else:
            made[name] = side_by_side(name, values, fields)
    return kind(**made)


def weather_of(batch: list[dict[str, Any]], fields: list[str]) -> xr.Dataset:
    """Lay the weather of all the fields side by side."""
    time = pd.date_range(FIRST, periods=len(batch[0]["weather"]["rain"]))
    series = {
        name: (("field", "time"), [values["weather"][name] for values in batch])
        for name in batch[0]["weather"]
    }
    table = xr.Dataset(series, coords={"time": time, "field": fields})
    units = {"rain_intensity": "mm/h"} if "rain_intensity" in table else {}
    weather = wb.read_weather(table, et_ref_surface="short", units=units)
    return weather.assign(runoff=table.runoff) if "runoff" in table else weather


def arguments(batch: list[dict[str, Any]]) -> dict[str, Any]:
    """Give the arguments of the one call that runs all the seasons of a batch, one a field."""
    fields = [f"f{place}" for place in range(len(batch))]
    first = batch[0]
    crops = [
        described(wb.Crop, [values["crops"][place] for values in batch], fields)
        for place in range(len(first["crops"]))
    ]
    made: dict[str, Any] = {
        "weather": weather_of(batch, fields),
        "crop": crops[0] if len(crops) == 1 else wb.Rotation(crops=crops),
        "et_share_before_percolation": labelled([values["et_share"] for values in batch], fields),
    }
    for name, kind in (("soil", wb.Soil), ("system", wb.System), ("rule", wb.Rule)):
        if first[name] is not None:
            made[name] = described(kind, [values[name] for values in batch], fields)
    names = ("initial_depletion", "initial_depletion_below", "initial_evaporation_depletion")
    starts = zip(*(initial_depletions(values) for values in batch), strict=True)
    made |= {name: labelled(list(each), fields) for name, each in zip(names, starts, strict=True)}
    for name in ("irrigation", "extra_irrigation"):
        rows = [
            (date(day), field, depth)
            for field, values in zip(fields, batch, strict=True)
            for day, depth in values[name]
        ]
        if rows:
            made[name] = pd.DataFrame(rows, columns=["date", "field", "net_mm"])
    if first["recorded_until"] is not None:
        made["recorded_until"] = date(first["recorded_until"])
    return made


# ------------------------------------------------------------------------------- comparing
@dataclasses.dataclass
class Tally:
    """What a comparison has seen."""

    seasons: int = 0
    nearest: float = np.inf
    worst: float = 0.0
    differences: list[str] = dataclasses.field(default_factory=list)


def laid_out(season: xr.Dataset, names: list[str], fields: int) -> dict[str, np.ndarray]:
    """Give daily variables as arrays of (field, time, spot); of length 1 where they do not vary."""
    made = {}
    for name in names:
        array = season[name]
        array = array.expand_dims([dim for dim in ("field", "time", "spot") if dim not in array.dims])
        values = array.transpose("field", "time", "spot").values.astype(float)
        made[name] = np.broadcast_to(values, (fields, *values.shape[1:]))
    return made


def compare(got: dict[str, np.ndarray], wanted: dict[str, np.ndarray], where: str, tally: Tally) -> None:
    """Set every daily variable of one field, arrays of (time, spot), beside the second implementation's."""
    found = []
    spots = wanted["depletion"].shape[1]
    for name, expected in wanted.items():
        # Fields whose emitters wet all of the root zone may have dry parts of no weight, last.
        ours, theirs = np.broadcast_arrays(got[name][:, :spots], expected)
        apart = np.abs(ours - theirs)
        if name == "uptake_factor" and (theirs != 1.0).any():
            # A stress coefficient over one that may be as small as rounding: compared is what it makes of that.
            apart = apart * wanted["ks"]
        wrong = ~(apart <= TOLERANCE)  # written so that NaN is wrong
        tally.worst = max(tally.worst, float(np.nanmax(apart)))
        if wrong.any():
            day, spot = (int(at) for at in np.argwhere(wrong)[0])
            text = f"{name}, spot {spot}: {ours[day, spot]:.12g}, expected {theirs[day, spot]:.12g}"
            found.append((day, text))
    tally.seasons += 1
    if found:
        begin = min(day for day, _ in found)
        first = "; ".join(text for day, text in found if day == begin)
        tally.differences.append(f"{where}, day {begin}: {first}")


def expected_of(result: Result) -> dict[str, np.ndarray]:
    """Arrays of (time, spot)."""
    each = {**result.field, **result.spots}
    return {
        name: np.reshape(np.array(values, dtype=float), (len(values), -1)) for name, values in each.items()
    }


def run_both(seed: int, tally: Tally) -> None:
    """Run one batch through the package, and its seasons one by one through the second implementation."""
    batch = draw_batch(np.random.default_rng(seed), BATCH)
    season = wb.simulate(**arguments(batch))
    results = [run(season_of(values)) for values in batch]
    expected = [expected_of(result) for result in results]
    found = laid_out(season, sorted(set().union(*expected)), len(batch))
    for place, result in enumerate(results):
        got = {name: values[place] for name, values in found.items()}
        compare(got, expected[place], f"seed {seed}, field {place}", tally)
        tally.nearest = min(tally.nearest, result.nearest)


def assert_agreement(seeds: range) -> None:
    tally = Tally()
    for seed in seeds:
        run_both(seed, tally)
    shown = "\n".join(tally.differences[:10])
    assert not tally.differences, f"{len(tally.differences)} of {tally.seasons} seasons differ\n{shown}"
    assert tally.seasons == BATCH * len(seeds)
    assert tally.nearest > TOLERANCE, f"a decision hung on {tally.nearest:g} mm"


@pytest.mark.parametrize("seed", range(BATCHES))
def test_seasons_agree_with_the_second_implementation(seed):
    assert_agreement(range(seed, seed + 1))


def test_many_more_seasons_agree():
    """20,000 at the long profile, 100 at that of CI."""
    batches = settings.default.max_examples * 2 // 5
    assert_agreement(range(1000, 1000 + batches))


# ------------------------------------------------------------------------------- the seasons themselves
OPTIONS = {
    "crops": (
        "upper_temperature",
        "climate",
        "cover",
        "adjust_depletion_fraction",
        "killing_frost",
        "evaporation_reduction",
        "residue_reduction",
        "surface_uptake",
    ),
    "soil": (
        "curve_number",
        "adjust_curve_number",
        "intake_rate",
        "drainage_fraction",
        "restricting_depth",
        "water_table_depth",
        "soil_salinity",
    ),
    "system": (
        "efficiency",
        "delivered_fraction",
        "leak_fraction",
        "conveyance_fraction",
        "spray_fraction",
        "canopy_fraction",
        "runoff_fraction",
        "peak_application_rate",
        "wetted_fraction",
        "wetted_volume",
        "subsurface",
        "under_canopy",
        "spot_watched",
    ),
    "rule": (
        "allowable_depletion",
        "refill_to",
        "net_depth",
        "min_depth",
        "max_depth",
        "min_interval",
        "last_date",
        "watch_driest_quarter",
        "adequacy",
    ),
    "": (
        "runoff",
        "irrigation",
        "recorded_until",
        "extra_irrigation",
        "initial_depletion",
        "initial_depletion_below",
        "initial_evaporation_depletion",
        "et_share",
    ),
}
"""Options of the parts of a season (and of the season itself), each with a default that switches it off."""


def without(part: Any, name: str) -> Any:
    """Give a part of a season with one option at its default; None where it is so already."""
    field = {field.name: field for field in dataclasses.fields(part)}[name]
    default = [] if name.endswith("irrigation") else field.default
    return None if getattr(part, name) == default else dataclasses.replace(part, **{name: default})


def variants(season: Season) -> Iterator[tuple[str, Season]]:
    """Give a season with each of its options switched off in turn."""
    for part, names in OPTIONS.items():
        for name in names:
            if not part:
                changed = without(season, name)
            elif part == "crops":
                each = [without(crop, name) for crop in season.crops]
                kept = [new or old for new, old in zip(each, season.crops, strict=True)]
                changed = dataclasses.replace(season, crops=kept) if any(each) else None
            else:
                own = getattr(season, part)
                new = None if own is None else without(own, name)
                if name == "spot_watched" and season.rule is not None and season.rule.adequacy is not None:
                    continue  # it cannot fill a spot that no water reaches
                changed = None if new is None else dataclasses.replace(season, **{part: new})
            if changed is not None:
                yield name, changed


def test_every_option_matters_in_some_of_the_seasons():
    """An option that changes nothing would agree however wrong it was."""
    matters = dict.fromkeys((name for names in OPTIONS.values() for name in names), 0)
    forms = dict.fromkeys(
        (
            "layers",
            "rotation",
            "heat",
            "series",
            "several spots",
            "corner",
            "spray by day",
            "drip beside others",
        ),
        0,
    )
    for seed in range(BATCHES):
        batch = draw_batch(np.random.default_rng(seed), BATCH)
        volumes = {(values["system"] or {}).get("wetted_volume") is None for values in batch}
        forms["drip beside others"] += len(volumes) == 2
        for values in batch[:10]:
            season, as_drawn = season_of(values), None
            for name, changed in variants(season):
                if matters[name] < ENOUGH:
                    as_drawn = as_drawn or run(season)[:2]
                    matters[name] += run(changed)[:2] != as_drawn
            forms["layers"] += season.soil.layer_bottom is not None and len(season.soil.layer_bottom) > 1
            forms["rotation"] += len(season.crops) > 1
            forms["heat"] += any(crop.stage_degree_days is not None for crop in season.crops)
            forms["series"] += any(isinstance(crop.kc or crop.kcb, Series) for crop in season.crops)
            system = season.system or System()
            forms["several spots"] += len(system.spot_share or ()) > 1
            forms["corner"] += 0.0 in (system.spot_watched or ())
            forms["spray by day"] += isinstance(system.spray_fraction, Series)
    rare = {name: count for name, count in {**matters, **forms}.items() if count < ENOUGH}
    assert not rare, f"seasons in which an option counts: {rare}"
