"""Time and memory of reference evapotranspiration as ratios within one run.

Run: ``python tests/benchmarks/reference.py`` (about half a minute). The yardstick is pyet called straight on
the same arrays, without any check.
"""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable

import numpy as np
import pandas as pd
import pyet
import xarray as xr
from stopwatch import best

import waterbudget as wb

STATIONS, DAYS = 10_000, 365


def peak(call: Callable[[], object]) -> int:
    """Peak of what one run allocates, which numpy reports to tracemalloc [bytes]."""
    tracemalloc.start()
    call()
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return most


def scenario() -> xr.Dataset:
    """Weather of all kinds at many stations."""
    rng = np.random.default_rng(7)
    shape = (DAYS, STATIONS)
    tmin = rng.uniform(-5, 20, shape)
    columns = {
        "tmin": tmin,
        "tmax": tmin + rng.uniform(1, 15, shape),
        "rhmin": rng.uniform(10, 60, shape),
        "rhmax": rng.uniform(60, 100, shape),
        "wind": rng.uniform(0, 8, shape),
        "solar": rng.uniform(1, 30, shape),
    }
    return xr.Dataset(
        {name: (("time", "station"), values) for name, values in columns.items()},
        coords={
            "time": pd.date_range("2023-01-01", periods=DAYS),
            "station": np.arange(STATIONS),
            "latitude": ("station", np.linspace(-60, 60, STATIONS)),
            "elevation": ("station", np.linspace(0, 2000, STATIONS)),
        },
    )


def main() -> None:
    """Print every ratio beside its limit."""
    weather = scenario()
    day = {name: weather[name] for name in ("tmin", "tmax", "rhmin", "rhmax", "wind", "elevation")}
    day |= {"rs": weather["solar"], "lat": np.deg2rad(weather["latitude"])}

    def bare() -> xr.DataArray:
        return pyet.pm_fao56((weather["tmin"] + weather["tmax"]) / 2, **day)

    gaps = weather.assign(wind=weather["wind"].where(weather["wind"] > 0.5))
    cases: dict[str, tuple[Callable[[], object], str]] = {
        "reference_et": (lambda: wb.reference_et(weather), " (limits 1.25 and 1.5)"),
        "best per day, wind with gaps": (lambda: wb.reference_et(gaps, "best per day"), ""),
    }
    bare()
    seconds, memory = best(bare), peak(bare)
    print(f"pyet.pm_fao56, {STATIONS} stations, {DAYS} days: {seconds:.2f} s, {memory / 2**20:.0f} MiB")
    for name, (call, limits) in cases.items():
        call()
        print(f"{name} / pyet: time {best(call) / seconds:.2f}, memory {peak(call) / memory:.2f}{limits}")


if __name__ == "__main__":
    main()
