"""An irrigation system, written a second time: what is lost on the way, and which spot receives what.

Written from docs/theory.md, plain numbers alone; nothing here comes from the package. Depths are in mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from tests.oracle.scalar_crop import Series
from tests.oracle.scalar_soil import Soil

CHAIN = (
    ("leak_loss", "leak_fraction"),
    ("conveyance_loss", "conveyance_fraction"),
    ("spray_loss", "spray_fraction"),
    ("canopy_loss", "canopy_fraction"),
    ("irrigation_runoff", "runoff_fraction"),
)
"""The links, in the order in which water meets them: what is lost there, and the part of what arrives."""


@dataclass(frozen=True)
class System:
    efficiency: float | None = None
    delivered_fraction: float | None = None
    leak_fraction: float | None = None
    conveyance_fraction: float | None = None
    spray_fraction: float | Series | None = None
    canopy_fraction: float | None = None
    runoff_fraction: float | None = None
    peak_application_rate: float | None = None
    wetted_fraction: float = 1.0
    wetted_volume: float | None = None
    subsurface: bool = False
    under_canopy: bool = False
    spot_share: tuple[float, ...] | None = None
    spot_weight: tuple[float, ...] | None = None
    spot_watched: tuple[float, ...] | None = None

    @property
    def dry_parts(self) -> bool:
        """Whether emitters leave a part of the root zone dry."""
        return self.wetted_volume is not None and self.wetted_volume < 1.0


# ------------------------------------------------------------------------------- losses
def lost_at(link: str, system: System, soil: Soil, day: int) -> float:
    """Part of the water arriving at a link that is lost there."""
    part = getattr(system, link)
    if isinstance(part, Series):
        return part.values[day - part.start]
    if part is not None:
        return part
    peak, intake = system.peak_application_rate, soil.intake_rate
    if link == "runoff_fraction" and peak is not None and intake is not None:
        return max(1.0 - intake / peak, 0.0)
    return 0.0


def supply(net: float, system: System, soil: Soil, day: int) -> dict[str, float]:
    """Gross depth of a net one, and each loss on the way; what only one number tells of is lost last."""
    useful = 1.0
    for number in (system.efficiency, system.delivered_fraction):
        useful = useful if number is None else number
    product = useful
    for _, link in CHAIN:
        product *= 1.0 - lost_at(link, system, soil, day)
    gross = net / product
    made = {"irrigation_gross": gross, "application_loss": gross - net}
    arriving = gross
    for loss, link in CHAIN:
        made[loss] = lost_at(link, system, soil, day) * arriving
        arriving -= made[loss]
    return made | {"unattributed_loss": (1.0 - useful) * arriving}


# ------------------------------------------------------------------------------- spots
class Part(NamedTuple):
    """A spot, or the wetted or the dry part of one: depth there over the mean, part of the field, whether watched."""

    share: float
    weight: float
    watched: bool


def parts_of(system: System) -> list[Part]:
    """Spots of a pattern; where emitters leave a part of the root zone dry, all wetted parts, then all dry ones."""
    shares = system.spot_share or (1.0,)
    weights = system.spot_weight or (1.0 / len(shares),) * len(shares)
    watched = system.spot_watched or (1.0,) * len(shares)
    rows = list(zip(shares, weights, watched, strict=True))
    if not system.dry_parts:
        return [Part(share, weight, watch > 0.0) for share, weight, watch in rows]
    volume = system.wetted_volume
    wetted = [Part(share / volume, weight * volume, watch > 0.0) for share, weight, watch in rows]
    return wetted + [Part(0.0, weight * (1.0 - volume), False) for _, weight, _ in rows]


def wetted_within(system: System) -> float:
    """Part of the surface that irrigation wets, of the ground above the wetted volume where there is one."""
    if not system.dry_parts:
        return system.wetted_fraction
    return min(system.wetted_fraction / system.wetted_volume, 1.0)
