"""Emitters by the dozen: variation of manufacture, and what flows measured in the field say.

Flows are in L/h, or text with a unit (``"34 mL/min"``). The flow of one emitter by pressure is in
`waterbudget.system.emitter_curve`.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from waterbudget.arguments import Floats, check_count, check_level, check_resampling, numbers, plain
from waterbudget.errors import collect
from waterbudget.handbook.classes import rate
from waterbudget.system.catch_cans import FEWEST
from waterbudget.system.micro import Measure, limit, quality
from waterbudget.system.uniformity import (
    coefficient_of_variation,
    low_quarter_uniformity,
    weighted_mean,
)


def manufacturers_variation(flows: Any) -> float:
    """Manufacturer's coefficient of variation of a sample of new emitters: standard deviation over the mean.

    Parameters
    ----------
    flows : sequence of numbers
        Flow of each emitter at one pressure and temperature [L h-1], two or more; 25 and more are usual.

    Returns
    -------
    float
        Cv [1]. The divisor is n - 1. ``quality("variation, point source", cv)`` rates it.

    Raises
    ------
    InputError
        When flows are fewer than two, negative, or all 0.

    Notes
    -----
    Source: ASABE EP405 and ISO 9261 (from memory).
    """
    return float(_variation(_read_flows(flows, 2), None))


def field_uniformity(
    flows: Any,
    weights: npt.ArrayLike | None = None,
    *,
    seed: int = 0,
    level: float = 0.9,
    resamples: int = 2000,
) -> pd.DataFrame:
    """Give mean flow and uniformity of emitters measured in the field, with confidence intervals and ratings.

    Parameters
    ----------
    flows : sequence of numbers
        Flow of each emitter [L h-1], four or more; 18 or more are wanted. A plugged one is a 0 and counts.
    weights : array_like, optional
        Part of the field that each emitter stands for, on any scale; equal when not given.
    seed : int
        Of the resampling: one seed, one result.
    level : float
        Of the confidence interval [1], above 0 and below 1.
    resamples : int
        How many tests are drawn from the emitters.

    Returns
    -------
    DataFrame
        Columns ``quantity``, ``unit``, ``value``, ``low``, ``high``, ``quality``. The rows are mean flow,
        coefficient of variation (divisor n - 1), statistical uniformity (1 less it), and emission uniformity
        (mean of the low quarter over the mean). `emitter_findings` says what to look at.

    Raises
    ------
    InputError
        When flows are fewer than four, negative, or all 0; when a parameter is outside its range.

    Notes
    -----
    Statistical uniformity: ASABE EP458 (from memory). Emission uniformity in the field: Merriam, J.L.,
    Keller, J. (1978), Farm Irrigation System Evaluation (from memory). Interval: percentile bootstrap, with
    the limits that `CatchCans.summary` names.
    """
    with collect() as faults:
        check_level(level, faults)
        check_resampling(seed, resamples, faults, least=100, usual="2000 are usual")
    q = _read_flows(flows, FEWEST)
    with collect() as faults:
        w = plain(np.ones(q.size) if weights is None else weights, "weights", faults, each="emitter")
    w = np.asarray(w)  # without labels
    uniformity = low_quarter_uniformity(q, w)  # refuses weights that do not fit
    drawn = np.random.default_rng(seed).integers(0, q.size, (resamples, q.size))
    many, heavy = q[drawn], w[drawn]
    variation, variations = _variation(q, w), _variation(many, heavy)
    quantities: tuple[tuple[str, str, Any, Any, Measure | None], ...] = (
        ("mean flow", "L/h", weighted_mean(q, w), weighted_mean(many, heavy), None),
        ("coefficient of variation", "1", variation, variations, None),
        ("statistical uniformity", "1", 1.0 - variation, 1.0 - variations, "statistical uniformity"),
        ("emission uniformity", "1", uniformity, low_quarter_uniformity(many, heavy), "emission uniformity"),
    )
    tails = ((1.0 - level) / 2.0, (1.0 + level) / 2.0)
    rows = []
    for quantity, unit, value, draws, measure in quantities:
        low, high = np.quantile(draws, tails, method="closest_observation")
        rated = "" if measure is None else quality(measure, float(value))
        rows.append((quantity, unit, float(value), float(low), float(high), rated))
    return pd.DataFrame(rows, columns=["quantity", "unit", "value", "low", "high", "quality"])


def emitter_findings(flows: Any) -> pd.DataFrame:
    """List what is worth a look, emitter by emitter, then of the whole test.

    Parameters
    ----------
    flows : sequence of numbers
        As in `field_uniformity`.

    Returns
    -------
    DataFrame
        Columns ``emitter`` (numbered from 1 as given; <NA> for the whole test), ``flow_L_per_h``, ``finding``
        and ``why``: emitters without flow or far from the mean of those that flow, and fewer than 18
        measured. Limits and sources: the handbook's ``micro_classes``. Empty when there is nothing.

    Raises
    ------
    InputError
        As `field_uniformity`.
    """
    q = _read_flows(flows, FEWEST)
    mean = float(q[q > 0.0].mean())
    rows: list[tuple[Any, ...]] = []
    for emitter, flow in enumerate(q.tolist(), start=1):
        off = flow / mean - 1.0
        rated = rate("micro_classes", "one emitter, off the mean of those that flow", abs(off))
        if flow == 0.0:
            why = "counted as it stands; clean or replace it, and look at filter and flushing"
            rows.append((emitter, flow, "plugged", why))
        elif rated.rating:
            side = "above" if off > 0 else "below"
            why = f"{rated.limits}: {rated.rating} ({rated.source})"
            rows.append((emitter, flow, f"{100 * abs(off):.0f} % {side} the mean of those that flow", why))
    wanted = limit("emitters measured in the field")
    if q.size < wanted["low"]:
        why = f"{wanted['low']:g} or more are wanted ({wanted['source']}): see the confidence interval"
        rows.append((pd.NA, np.nan, f"only {q.size} emitters measured", why))
    frame = pd.DataFrame(rows, columns=["emitter", "flow_L_per_h", "finding", "why"])
    return frame.astype({"emitter": "Int64", "flow_L_per_h": np.float64, "finding": object, "why": object})


def pattern(flows: Any, emitters_per_plant: int = 1) -> tuple[Floats, Floats]:
    """Give the pattern for `System`: each plant a spot.

    Parameters
    ----------
    flows : sequence of numbers
        Flow of each emitter [L h-1]; those of one plant follow one another.
    emitters_per_plant : int
        How many. Emitters that share a root system are not independent spots: they are added up.

    Returns
    -------
    share : array
        Flow of a plant over the mean of the plants [1]; 0 where all its emitters are plugged.
    weight : array
        Part of the field [1]; they add up to 1.

    Raises
    ------
    InputError
        When flows are negative or all 0, or do not make whole plants.
    """
    q = _read_flows(flows, 1)
    with collect() as faults:
        check_count(emitters_per_plant, "emitters_per_plant", faults)
        if not faults and q.size % emitters_per_plant:
            faults.add(
                "flows",
                "do not make whole plants",
                value=f"{q.size} emitters",
                allowed=f"a multiple of {emitters_per_plant}",
                mend="measure all emitters of a plant",
            )
    plants = q.reshape(-1, emitters_per_plant).sum(axis=1)
    return plants / plants.mean(), np.full(plants.size, 1.0 / plants.size)


# ------------------------------------------------------------------------------- shared
def _variation(flows: Floats, weights: Floats | None) -> Any:
    """Coefficient of variation over the last axis, with divisor n - 1."""
    n = flows.shape[-1]
    return coefficient_of_variation(flows, weights) * np.sqrt(n / (n - 1))


def _read_flows(flows: Any, fewest: int) -> Floats:
    """Bring flows [L h-1] to an array, and refuse what makes no test."""
    with collect() as faults:
        q = numbers(flows, "emitter_flow", faults, what="flows", each="emitter")
        if not faults and q.size < fewest:
            faults.add(
                "flows",
                "are too few",
                value=q.size,
                allowed=f"{fewest} or more",
                mend="measure more emitters",
            )
        elif not faults and not q.any():
            faults.add("flows", "are all 0", count=q.size, mend="see that the system ran")
    return q
