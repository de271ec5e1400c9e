"""What a test with catch cans calls for: the trade's reading, and what is worth a look.

The classes are rows of the handbook (``can_classes``), each with its source.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from waterbudget import units as conversion
from waterbudget.arguments import Floats
from waterbudget.handbook.classes import Rated, rate
from waterbudget.handbook.tables import read
from waterbudget.system.uniformity import christiansen_uniformity, driest_mean, weighted_mean

_TABLE = "can_classes"
_DISAGREES = {
    True: "its limit is the stricter one, and a tune-up is a small change",
    False: "the driest cans are near the mean, and a few far above it",
}
"""Whether CU is in its best class while the driest quarter is not, or the reverse -> how both can be true.

By the limits of the two: a normal catch with CU 85 % has its driest quarter 24 % below the mean; where that
is 10 % below or less, CU is under 85 % only if more than three quarters of the area lie below the mean."""


def reading(depth: Floats, weights: Floats, unit: str) -> str:
    """Read a test as the trade does; see `CatchCans.reading`.

    Parameters
    ----------
    depth, weights : array
        Of the usable cans [mm], and the area that each stands for.
    unit : str
        To show depths in: mm or in.
    """
    mean, driest, rated = _by_driest_quarter(depth, weights)
    below = 100.0 * (1.0 - driest / mean)
    low, all_cans = (conversion.convert(each, "mm", unit) for each in (driest, mean))
    told = (
        f"The driest quarter of {depth.size} cans caught {low:.3g} {unit}, {below:.0f} % "
        f"less than the mean of all, {all_cans:.3g} {unit}: {rated.rating} ({rated.source})."
    )
    few = _too_few(depth.size)
    return f"{told} {few[0].capitalize()}: {few[1]}." if few else told


def _too_few(cans: int) -> tuple[str, str] | None:
    """Say that a test has few cans, and why that matters; None where it has enough."""
    rows = read(_TABLE)
    wanted = rows[rows["name"] == "cans in a test"].iloc[0]
    if cans >= wanted["low"]:
        return None
    why = f"{wanted['low']:g} or more are usual ({wanted['source']}); see the confidence intervals"
    return f"only {cans} usable cans", why


def _by_driest_quarter(depth: Floats, weights: Floats) -> tuple[float, float, Rated]:
    """Give the mean of all cans and of the driest quarter [mm], and its class."""
    mean, driest = float(weighted_mean(depth, weights)), float(driest_mean(depth, weights, 0.25))
    return mean, driest, rate(_TABLE, "driest quarter, below the mean", 1.0 - driest / mean)


def findings(
    depth: Floats, note: tuple[str | None, ...], weights: Floats, distance: Floats | None
) -> pd.DataFrame:
    """List what is worth a look; see `CatchCans.findings`.

    Parameters
    ----------
    depth : array
        Of all cans [mm].
    note : tuple of str or None
        Of all cans; None for a usable one.
    weights : array
        Area that each usable can stands for.
    distance : array, optional
        Of all cans from the pivot point [m].
    """
    usable = np.array([one is None for one in note], dtype=np.bool_)
    kind = "block" if distance is None else "centre pivot"
    rows = _of_cans(depth, note, float(weighted_mean(depth[usable], weights)), kind)
    if distance is not None:
        whole = _of_a_pivot(depth[usable], weights, distance[usable])
        rows += [(pd.NA, np.nan, finding, why) for finding, why in whole]
    few = _too_few(int(usable.sum()))
    rows += [(pd.NA, np.nan, *few)] if few else []
    frame = pd.DataFrame(rows, columns=["can", "depth_mm", "finding", "why"])
    return frame.astype({"can": "Int64", "depth_mm": np.float64, "finding": object, "why": object})


def _of_cans(depth: Floats, note: tuple[str | None, ...], mean: float, kind: str) -> list[tuple[Any, ...]]:
    """List the cans that were noted, caught nothing, or are far from the mean."""
    rows: list[tuple[Any, ...]] = []
    for can, (caught, noted) in enumerate(zip(depth, note, strict=True), start=1):
        if noted is not None:
            rows.append((can, caught, noted, "as noted; left out of the statistics"))
            continue
        if caught == 0.0:
            rows.append((can, caught, "caught nothing", "counted as it stands; see what keeps water from it"))
            continue
        off = caught / mean - 1.0
        rated = rate(_TABLE, f"one can of a {kind}, off the mean", abs(off))
        if rated.rating:
            side = "above" if off > 0 else "below"
            why = f"{rated.limits}: {rated.rating} ({rated.source})"
            rows.append((can, caught, f"{100 * abs(off):.0f} % {side} the mean", why))
    return rows


def _of_a_pivot(depth: Floats, weights: Floats, distance: Floats) -> list[tuple[str, str]]:
    """Give the class of a centre pivot, and whether its catch rises or falls outward."""
    from scipy.stats import kendalltau

    uniformity = float(christiansen_uniformity(depth, weights))
    rated = rate(_TABLE, "Christiansen uniformity, centre pivot", uniformity)
    why = f"CU {100 * uniformity:.1f} %, from all cans: class {rated.limits} ({rated.source})"
    if rated.best != _by_driest_quarter(depth, weights)[2].best:
        why += f"; the reading by the driest quarter alone disagrees: {_DISAGREES[rated.best]}"
    found = [(rated.rating, why)]
    tau, chance = kendalltau(distance, depth)  # NaN where all caught the same
    if rate(_TABLE, "trend along a centre pivot, chance where there is none", float(chance)).rating:
        way, flow = ("rises", "above") if tau > 0 else ("falls", "below")
        why = f"flow or pressure {flow} design ({rated.source}); Kendall's tau {tau:.2f}, p {chance:.2g}"
        found.append((f"catch {way} outward", why))
    return found
