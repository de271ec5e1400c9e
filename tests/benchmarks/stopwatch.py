"""The stopwatch of the benchmarks: ratios are of shortest times within one run."""

from __future__ import annotations

import time
from collections.abc import Callable


def best(call: Callable[[], object], times: int = 3) -> float:
    """Shortest of several runs [s]."""
    found = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        found.append(time.perf_counter() - start)
    return min(found)
