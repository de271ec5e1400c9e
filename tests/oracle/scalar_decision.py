"""When and how much, written a second time: who is watched, and what the rule then asks for.

Written from docs/theory.md, plain numbers alone; nothing here comes from the package. Depths are in mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

from tests.oracle.scalar_system import Part

QUARTER = 0.25
ROUNDING = 1e-9
"""Parts of a field that differ by less than this are the same part."""


@dataclass(frozen=True)
class Rule:
    allowable_depletion: float | None = None
    refill_to: float = 0.0
    net_depth: float | None = None
    min_depth: float = 0.0
    max_depth: float | None = None
    min_interval: int = 1
    last_date: int | None = None
    watch_driest_quarter: bool = False
    adequacy: float | None = None


# ------------------------------------------------------------------------------- who is watched
def watched_area(parts: list[Part]) -> float:
    return sum(part.weight for part in parts if part.watched)


def weights_of_all(parts: list[Part]) -> list[float]:
    """Weights for a mean over all watched parts."""
    whole = watched_area(parts)
    return [part.weight / whole if part.watched else 0.0 for part in parts]


def first_of(order: list[float], weights: list[float], part: float) -> list[float]:
    """Weights of a part of what is weighted, smallest first; of two alike the one that comes first."""
    taken = [0.0] * len(weights)
    room = part
    for at in sorted(range(len(order)), key=lambda at: (order[at], at)):
        own = min(weights[at], room)
        taken[at] = own / part
        room -= own
    return taken


def weights_looked_at(
    parts: list[Part], depletions: list[float], wanted: list[float], rule: Rule
) -> list[float]:
    """Weights of what the decision looks at: what is to be filled, and of it all or the driest quarter."""
    weights = weights_of_all(parts)
    if rule.adequacy is not None:
        weights = first_of(wanted, weights, rule.adequacy)
    if rule.watch_driest_quarter:
        weights = first_of([-depletion for depletion in depletions], weights, QUARTER)
    return weights


def over_application(parts: list[Part]) -> float:
    """Mean depth over the field for each mm that the watched parts lack, as a mean."""
    watched = [part for part in parts if part.watched]
    return watched_area(parts) / sum(part.weight * part.share for part in watched)


def depths_wanted(parts: list[Part], lacking: list[float]) -> list[float]:
    """The mean depth over the field that gives each part what it lacks, and no less than an even field would."""
    depths = []
    for part, lack in zip(parts, lacking, strict=True):
        if lack <= 0.0:
            depths.append(0.0)
        elif part.share <= 0.0:
            depths.append(math.inf)
        else:
            depths.append(max(lack / part.share, lack * over_application(parts)))
    return depths


def depth_to_fill(parts: list[Part], depths: list[float], adequacy: float) -> float:
    """The smallest of the depths that is enough for so much of the watched area."""
    watched = [(part.weight, own) for part, own in zip(parts, depths, strict=True) if part.watched]
    enough = (adequacy - ROUNDING) * watched_area(parts)
    return min(
        depth for _, depth in watched if sum(weight for weight, own in watched if own <= depth) >= enough
    )


def mean(values: list[float], weights: list[float]) -> float:
    return sum(value * weight for value, weight in zip(values, weights, strict=True))


# ------------------------------------------------------------------------------- what the rule asks for
class Morning(NamedTuple):
    """What the decision knows: means of the field, or of the driest quarter of it; and the depth that refills it."""

    depletion_yesterday: float
    taw_yesterday: float
    raw_yesterday: float
    refill: float
    days_since: int


def decide(rule: Rule, morning: Morning, day: int, stands: bool) -> tuple[float, float]:
    """Net depth [mm] that the rule asks for, and how near the decision was to the other one [mm]."""
    late = rule.last_date is not None and day > rule.last_date
    if not stands or late or morning.days_since + 1 < rule.min_interval:
        return 0.0, math.inf
    if rule.net_depth is None:
        depth = morning.refill
    else:
        depth = rule.net_depth
    if rule.max_depth is not None:
        depth = min(depth, rule.max_depth)
    if rule.allowable_depletion is None:
        limit = morning.raw_yesterday
    else:
        limit = rule.allowable_depletion * morning.taw_yesterday
    due, worth = morning.depletion_yesterday >= limit, depth >= rule.min_depth
    near = abs(morning.depletion_yesterday - limit) if worth and depth > 0.0 else math.inf
    if due and rule.min_depth > 0.0 and depth not in (rule.net_depth, rule.max_depth):
        near = min(near, abs(depth - rule.min_depth))
    return (depth if due and worth else 0.0), near
