"""Speed of the balance as ratios within one run.

Run: ``python tests/benchmarks/speed.py`` (about a minute). Every figure is a ratio to something
measured in the same process, because machines differ and drift.
"""

from __future__ import annotations

import subprocess
import sys
import time
import tracemalloc
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

import waterbudget as wb

FIELDS, DAYS = 10_000, 365


def best(call: Callable[[], object], times: int) -> float:
    """Shortest of several runs [s]."""
    found = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        found.append(time.perf_counter() - start)
    return min(found)


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
    seconds = {
        name: best(lambda code=code: subprocess.run([sys.executable, "-c", code], check=True), 5)
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
    memory()
    import_ratio()


if __name__ == "__main__":
    main()
