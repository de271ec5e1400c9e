"""Speed of the balance as ratios within one run.

Run: ``python tests/benchmarks/speed.py`` (about a minute). Every figure is a ratio to something
measured in the same process, because machines differ and drift.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import tracemalloc
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from stopwatch import best

import waterbudget as wb
from waterbudget.balance import drivers
from waterbudget.balance.step import Day, Ground, State, Wetting, grow_roots, step

FIELDS, DAYS = 10_000, 365


def scenario(fields: int) -> dict[str, Any]:
    """One station, reference ET given; planting date, soil and efficiency differ by field."""
    rng = np.random.default_rng(7)
    days = pd.date_range("2024-01-01", periods=DAYS)
    season = np.sin(np.pi * np.arange(DAYS) / DAYS)
    rain = rng.gamma(0.5, 14.0, DAYS) * (rng.random(DAYS) < 0.2)
    weather = xr.Dataset(
        {"et_ref": ("time", 1.0 + 5.0 * season, {"surface": "short"}), "rain": ("time", rain)},
        coords={"time": days, "latitude": 40.0, "elevation": 100.0},
    )
    names = [f"field {number}" for number in range(fields)]
    on = {"dims": "field", "coords": {"field": names}}
    planted = pd.Timestamp("2024-04-01") + pd.to_timedelta(rng.integers(0, 40, fields), unit="D")
    wilting = rng.uniform(0.06, 0.2, fields)
    return {
        "weather": weather,
        "crop": wb.Crop.from_handbook(
            "sweet maize", planted=xr.DataArray(planted.to_numpy(), **on), region="Mediterranean"
        ),
        "soil": wb.Soil(
            field_capacity=xr.DataArray(wilting + rng.uniform(0.08, 0.18, fields), **on),
            wilting_point=xr.DataArray(wilting, **on),
            rew=8.0,
        ),
        "system": wb.System(efficiency=xr.DataArray(rng.uniform(0.6, 0.95, fields), **on)),
        "rule": wb.Rule(allowable_depletion=0.5),
    }


def memory() -> None:
    """Peak of what one run allocates, which numpy reports to tracemalloc, against its output."""
    inputs = scenario(FIELDS)
    wb.simulate(**scenario(2))
    tracemalloc.start()
    season = wb.simulate(**inputs)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    ratio = peak / season.nbytes
    print(f"peak memory / output: {ratio:.2f} (limit 1.5; output {season.nbytes / 2**20:.0f} MiB)")


def import_ratio() -> None:
    """Time of importing the package against that of what it is built on."""
    commands = {"import waterbudget": "import waterbudget", "import xarray, pyet": "import xarray, pyet"}
    with tempfile.TemporaryDirectory() as cache:  # byte code is kept, as after any first use
        kept = {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": cache}
        run = partial(subprocess.run, check=True, env=os.environ | kept)
        seconds = {
            name: best(lambda code=code: run([sys.executable, "-c", code]), 5)
            for name, code in commands.items()
        }
    ratio = seconds["import waterbudget"] / seconds["import xarray, pyet"]
    print(f"import waterbudget / import xarray, pyet: {ratio:.2f} (limit 1.3)")


def copy_seconds() -> float:
    """Time of copying sixteen arrays of a run's shape, all touched before."""
    arrays = [np.ones((DAYS, FIELDS)) for _ in range(16)]
    copies = [np.ones((DAYS, FIELDS)) for _ in range(16)]

    def copy() -> None:
        for source, target in zip(arrays, copies, strict=True):
            np.copyto(target, source)

    return best(copy, 5)


def options(batch: float) -> None:
    """Time of the same run with one option after another switched on, over the run without any."""
    base = scenario(FIELDS)
    soil, crop = base["soil"], base["crop"]
    held = {"saturation": soil.field_capacity + 0.1, "drainage_fraction": 0.4}
    table = {"water_table_depth": 3.0, "capillary_a": 2.0, "capillary_n": 2.0}
    capacity, wilting = soil.field_capacity, soil.wilting_point
    on_layers = {"dim": pd.Index([1, 2], name="layer"), "coords": "minimal", "compat": "override"}
    layers = wb.Soil(
        field_capacity=xr.concat([capacity, capacity + 0.01], **on_layers),
        wilting_point=xr.concat([wilting, wilting], **on_layers),
        layer_bottom=(0.4, 2.0),
        rew=8.0,
    )
    changed = {
        "two layers": {"soil": layers},
        "slow drainage": {"soil": replace(soil, **held)},
        "water table": {"soil": replace(soil, **table)},
        "adjusted curve number": {"soil": replace(soil, curve_number=75.0, adjust_curve_number=True)},
        "roots in the evaporation layer": {"crop": replace(crop, surface_uptake=True)},
        "mulch": {"crop": replace(crop, evaporation_reduction=0.4)},
        "all at once": {
            "soil": replace(soil, curve_number=75.0, adjust_curve_number=True, **held, **table),
            "crop": replace(crop, surface_uptake=True, evaporation_reduction=0.4),
        },
    }
    for name, change in changed.items():
        arguments = base | change
        seconds = best(lambda arguments=arguments: wb.simulate(**arguments), 2)
        print(f"{name} on / all off: {seconds / batch:.2f}")


def neutral_numbers() -> None:
    """Share of a day's step that the numbers of options switched off cost: two multiplications."""
    block = np.full((1, drivers.BLOCK), 0.5)
    one = np.ones(1)
    row = np.full(drivers.BLOCK, 0.5)
    state = State(*([block] * len(State._fields)))
    day = Day(*([row] * len(Day._fields)))._replace(salt_factor=one, evaporation_factor=one)
    ground = Ground(block, (), (), block * 4.0, block * 4.0, block, block, block)
    wetting = Wetting(row, one * 0.0, one * 0.0)
    roots = grow_roots(state, row, ground)
    whole = best(lambda: step(state, roots, row, day, ground, wetting), 200)
    off = best(lambda: (row * one, row * one), 200)
    print(f"two neutral factors / step: {off / whole:.3f}; the stages switched off are not called")


def main() -> None:
    """Print every ratio beside its limit."""
    copying = copy_seconds()
    many, one = scenario(FIELDS), scenario(1)
    wb.simulate(**many)
    batch = best(lambda: wb.simulate(**many), 3)
    single = best(lambda: wb.simulate(**one), 10)
    cells = FIELDS * DAYS
    print(f"copying 16 arrays: {copying / cells * 1e9:.1f} ns a field-day")
    print(f"simulate / copying: {batch / copying:.1f} (limit 12; {batch / cells * 1e9:.0f} ns a field-day)")
    print(f"looping single fields / batch: {single * FIELDS / batch:.0f} (limit at least 400)")
    print(f"one field-season: {single * 1e3:.1f} ms (limit 40)")
    options(batch)
    neutral_numbers()
    memory()
    import_ratio()


if __name__ == "__main__":
    main()
