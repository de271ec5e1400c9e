"""Ways of drawing, and what the seasons of a batch have in common."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np


@dataclass(frozen=True)
class Form:
    """What the seasons of a batch have in common."""

    days: int
    kinds: tuple[str, ...]
    spots: int | None  # None: no pattern
    drip: bool
    daily_spray: bool
    system: bool
    rule: bool
    layered: bool
    runoff: str  # none, curve number, intensity or given
    slow_drainage: bool
    water_table: str  # none, still or moving
    salt: bool
    frost: bool
    series_of_table: bool
    span: tuple[int, int]
    shaped: tuple[bool, bool, bool]  # roots, cover, height of a daily series are daily too
    recorded_until: int | None


class Draw:
    """A Generator with the few ways of drawing that are needed."""

    def __init__(self, rng: np.random.Generator):
        self.rng = rng

    def chance(self, part: float) -> bool:
        return bool(self.rng.random() < part)

    def number(self, low: float, high: float, *edges: float) -> float:
        """Anything between two numbers; sometimes one of the edges."""
        if edges and self.chance(0.12):
            return float(edges[int(self.rng.integers(len(edges)))])
        return float(self.rng.uniform(low, high))

    def whole(self, low: int, high: int, *edges: int) -> int:
        """A whole number, both ends included; sometimes one of the edges."""
        if edges and self.chance(0.12):
            return int(edges[int(self.rng.integers(len(edges)))])
        return int(self.rng.integers(low, high + 1))

    def one_of(self, *values: Any) -> Any:
        return values[int(self.rng.integers(len(values)))]
