"""Depths of one watering over the field as a distribution: who gets enough, what percolates, what is missing.

Depths are over their mean, so that a distribution has one parameter, its coefficient of variation.
``required`` is the depth wanted over the mean depth applied. All results are exact for the distribution.

Normal theory allows depths below 0: a part of the field, tiny while the coefficient of variation is below
0.3. `below_zero` says how much.
"""

from __future__ import annotations

import math
from typing import Any, Literal, get_args

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from waterbudget.arguments import (
    Floats,
    check_count,
    check_resampling,
    check_shapes,
    check_word,
    note_bad,
    plain,
)
from waterbudget.errors import Faults, collect
from waterbudget.system.uniformity import cv_from_uniformity, standard_deviation, weighted_mean

DistributionKind = Literal["normal", "uniform", "gamma", "lognormal"]
"""Distributions of depth over a field that are known here."""
FEWEST = 4
"""Fewest depths to fit a distribution to."""

_EVEN = "with even depths there is no distribution: leave the pattern out"
_RANGES = {
    "cv": ("coefficient of variation", math.inf, "a number above 0", _EVEN),
    "required": ("required depth over mean depth", math.inf, "a number above 0", ""),
    "adequacy": ("adequacy", 1.0, "above 0 and below 1", ""),
}
"""What to call a number, below which end it must lie, that in words, and how to mend it."""


def adequacy(kind: DistributionKind, cv: Any, required: Any) -> Any:
    """Part of the field that receives at least the required depth.

    Parameters
    ----------
    kind : {"normal", "uniform", "gamma", "lognormal"}
        Distribution of the depths.
    cv : float or array
        Coefficient of variation of the depths [1], above 0.
    required : float or array
        Required depth over the mean depth [1], above 0.

    Returns
    -------
    float or array
        [1], 0-1.

    Raises
    ------
    InputError
        Unknown kind, or a number outside its range.
    """
    cv, required = _check(kind, cv=cv, required=required)
    return _depths(kind, 1.0, cv).sf(required)


def deep_percolation(kind: DistributionKind, cv: Any, required: Any) -> Any:
    """Part of the water applied that falls in excess of the required depth.

    The mean of ``max(depth - required, 0)`` over the mean depth. On a soil whose depletion is the required
    depth everywhere, it percolates.

    Parameters
    ----------
    kind, cv, required
        As in `adequacy`.

    Returns
    -------
    float or array
        [1].

    Raises
    ------
    InputError
        As `adequacy`.

    Notes
    -----
    Closed forms. Normal, with ``z = (required - 1) / cv``: ``cv density(z) - (required - 1) (1 - Phi(z))``.
    Uniform on ``1 - b`` to ``1 + b``, ``b = sqrt(3) cv``: ``(1 + b - required)^2 / (4 b)`` inside that range.
    """
    cv, required = _check(kind, cv=cv, required=required)
    return _mean_above(kind, cv, required) - required * _depths(kind, 1.0, cv).sf(required)


def deficit(kind: DistributionKind, cv: Any, required: Any) -> Any:
    """Part of the water required that the field does not receive where it is short of it.

    The mean of ``max(required - depth, 0)`` over the required depth. With `deep_percolation` it closes:
    ``1 - deep percolation = required (1 - deficit)``.

    Parameters, result and errors are those of `deep_percolation`.
    """
    cv, required = _check(kind, cv=cv, required=required)
    return 1.0 - (1.0 - deep_percolation(kind, cv, required)) / required


def below_zero(kind: DistributionKind, cv: Any) -> Any:
    """Part of the field to which the distribution gives less than no water [1]; 0 for gamma and lognormal."""
    (cv,) = _check(kind, cv=cv)
    return _depths(kind, 1.0, cv).cdf(0.0)


def distribution_efficiency(uniformity: Any, adequacy: Any) -> Any:
    """Distribution efficiency DEpa: required over mean depth, for a stated adequacy and normal depths.

    Parameters
    ----------
    uniformity : float or array
        Christiansen's coefficient of uniformity CU [1].
    adequacy : float or array
        Part of the field that is to receive the required depth or more [1], above 0 and below 1.

    Returns
    -------
    float or array
        [1]. 0 or less where no mean depth, however great, reaches the adequacy under normal theory.

    Raises
    ------
    InputError
        When the adequacy is not between 0 and 1, or CU is above 1.

    Notes
    -----
    Source: Keller, J., Bliesner, R.D. (1990), Sprinkle and Trickle Irrigation, the table of DEpa (from
    memory); exact normal quantiles in place of the table.
    """
    from scipy.stats import norm

    (adequacy,) = _check("normal", adequacy=adequacy)
    cv = cv_from_uniformity(uniformity)
    with collect() as faults:
        check_shapes(faults, uniformity=cv, adequacy=adequacy)
    return 1.0 + cv * norm.ppf(1.0 - np.asarray(adequacy))


def required_depth_factor(kind: DistributionKind, cv: Any, adequacy: Any) -> Any:
    """Mean depth to apply over the required depth, so that a stated part of the field gets enough.

    Parameters
    ----------
    kind, cv
        As in `adequacy`.
    adequacy : float or array
        Part of the field that is to receive the required depth or more [1], above 0 and below 1.

    Returns
    -------
    float or array
        [1]; below 1 where the adequacy wanted is small.

    Raises
    ------
    InputError
        Unknown kind, a number outside its range, or an adequacy that no depth reaches because the
        distribution gives that part of the field nothing.
    """
    cv, adequacy = _check(kind, cv=cv, adequacy=adequacy)
    least = np.asarray(_depths(kind, 1.0, cv).ppf(1.0 - np.asarray(adequacy)))
    with collect() as faults:
        if bool((least <= 0).any()):
            faults.add(
                "adequacy",
                f"is reached by no depth: the {kind} distribution gives that part of the field nothing",
                value=f"{np.max(adequacy):g} at a coefficient of variation of {np.max(cv):g}",
                count=int((least <= 0).sum()),
                allowed=f"below {1.0 - np.max(below_zero(kind, cv)):.3g}",
                mend="ask for less, or take the gamma distribution, which has no depths below 0",
            )
    return (1.0 / least)[()]


def quantile_shares(kind: DistributionKind, cv: float, spots: int) -> Floats:
    """Depths at spots of equal weight over their mean, driest first.

    Each spot is the mean of its part of the distribution, not its middle, so that the mean of all is kept.

    Parameters
    ----------
    kind, cv
        As in `adequacy`, one number.
    spots : int
        How many, 1 or more.

    Returns
    -------
    array
        Shares [1], ascending; their mean is 1.

    Raises
    ------
    InputError
        Unknown kind, a number outside its range, or shares below 0.
    """
    with collect() as faults:
        check_count(spots, "spots", faults)
        cv = plain(cv, _RANGES["cv"][0], faults, single=True)
    (cv,) = _check(kind, cv=cv)
    edges = _depths(kind, 1.0, cv).ppf(np.linspace(0.0, 1.0, spots + 1))
    shares = -np.diff(_mean_above(kind, cv, edges))
    shares = shares / shares.mean()  # rounding alone; one spot is 1 to the last bit
    below = int((shares < 0.0).sum())
    with collect() as faults:
        if below:
            faults.add(
                "spots",
                "would receive less than no water",
                where="spot 1",
                value=f"a share of {shares[0]:.3g}",
                count=below,
                allowed="shares of 0 or more",
                mend=f"the {kind} distribution cannot have a coefficient of variation of {cv:g}: take gamma, "
                "or the depths caught",
            )
    return np.asarray(shares, dtype=np.float64)


def fit(
    depths: npt.ArrayLike, weights: npt.ArrayLike | None = None, *, seed: int = 0, resamples: int = 1000
) -> pd.DataFrame:
    """Fit every kind of distribution to depths, and say how well it fits.

    Mean and coefficient of variation are those of the depths (method of moments).

    Parameters
    ----------
    depths : array_like
        Depth in each can [mm], 0 or more, not all equal.
    weights : array_like, optional
        Area that each can stands for, on any scale.
    seed : int
        Of the resampling: one seed, one result.
    resamples : int
        How many sets of cans are drawn for the p-value.

    Returns
    -------
    DataFrame
        A row a kind, best first: ``kind``, ``mean_mm``, ``cv``, ``below_zero`` (part of the field that the
        distribution gives less than no water), ``ks_statistic`` (Kolmogorov-Smirnov: greatest distance
        between the distribution and the depths, weighted) and ``p_value``. A small p-value (0.05) says that
        cans like these would seldom come from such a distribution; a large one, with few cans, says little.

    Raises
    ------
    InputError
        When depths are missing, negative or all equal, the weights do not fit them, or seed or resamples
        are no counts.

    Notes
    -----
    The p-value of the tables holds for a distribution stated beforehand. Here its parameters come from the
    same cans, for which that value is too large. So it is found by parametric bootstrap: cans are drawn from
    the fitted distribution and refitted, and their statistic compared (Stute, W., Gonzales Manteiga, W.,
    Presedo Quindimil, M. (1993), Metrika 40, 243-256). Cans are taken as independent of one another.
    """
    with collect() as faults:
        check_resampling(seed, resamples, faults, least=1, usual="1000 is usual")
        d = np.asarray(plain(depths, "depths", faults, each="can"))
        w = np.ones(d.shape) if weights is None else np.asarray(plain(weights, "weights", faults, each="can"))
        if not faults:
            _check_fit(d, w, faults)
    mean, deviation = weighted_mean(d, w), standard_deviation(d, w)
    rows = []
    for kind in get_args(DistributionKind):
        chosen = _depths(kind, mean, deviation)
        statistic = _distance(kind, d, w)
        drawn = chosen.rvs(size=(resamples, d.size), random_state=np.random.default_rng(seed))
        as_far = int((_distance(kind, drawn, np.broadcast_to(w, drawn.shape)) >= statistic).sum())
        rows.append(
            {
                "kind": kind,
                "mean_mm": float(mean),
                "cv": float(deviation / mean),
                "below_zero": float(chosen.cdf(0.0)),
                "ks_statistic": float(statistic),
                "p_value": (as_far + 1) / (resamples + 1),
            }
        )
    return pd.DataFrame(rows).sort_values("ks_statistic", kind="stable", ignore_index=True)


def _depths(kind: DistributionKind, mean: Any, deviation: Any) -> Any:
    """Give the distribution of scipy with a mean and a standard deviation."""
    from scipy import stats

    if kind == "normal":
        return stats.norm(mean, deviation)
    if kind == "uniform":
        half = math.sqrt(3.0) * np.asarray(deviation)
        return stats.uniform(mean - half, 2.0 * half)
    variance = (np.asarray(deviation) / mean) ** 2
    if kind == "gamma":
        return stats.gamma(1.0 / variance, scale=variance * mean)
    return stats.lognorm(np.sqrt(np.log1p(variance)), scale=mean / np.sqrt(1.0 + variance))


def _mean_above(kind: DistributionKind, cv: Any, depth: Any) -> Any:
    """Integrate depth over the part of the field that receives more than a depth; the mean is 1."""
    if kind == "normal":
        normal = _depths(kind, 1.0, cv)
        return normal.sf(depth) + np.square(cv) * normal.pdf(depth)
    if kind == "uniform":
        half = math.sqrt(3.0) * np.asarray(cv)
        inside = np.clip(depth, 1.0 - half, 1.0 + half)
        return (np.square(1.0 + half) - np.square(inside)) / (4.0 * half)
    # Depth times density is, for these two, again a density of their kind.
    variance = np.square(cv)
    if kind == "gamma":
        from scipy.stats import gamma

        return gamma(1.0 / variance + 1.0, scale=variance).sf(depth)
    return _depths(kind, 1.0 + variance, cv * (1.0 + variance)).sf(depth)


def _distance(kind: DistributionKind, depths: Floats, weights: Floats) -> Any:
    """Greatest distance between fitted and observed cumulative distribution, cans on the last axis."""
    mean, deviation = weighted_mean(depths, weights), standard_deviation(depths, weights)
    order = np.argsort(depths, axis=-1)
    d, w = np.take_along_axis(depths, order, -1), np.take_along_axis(weights, order, -1)
    upto = np.cumsum(w, axis=-1) / np.sum(w, axis=-1, keepdims=True)
    before = upto - w / np.sum(w, axis=-1, keepdims=True)
    fitted = _depths(kind, mean[..., None], deviation[..., None]).cdf(d)
    return np.max(np.maximum(upto - fitted, fitted - before), axis=-1)


def _check(kind: str, **given: Any) -> tuple[Any, ...]:
    """Take numbers by their name; refuse those outside their range, shapes that differ, an unknown kind."""
    found = []
    with collect() as faults:
        check_word(kind, "kind", faults, get_args(DistributionKind), "is no distribution known here")
        for name, value in given.items():
            words, end, allowed, mend = _RANGES[name]
            noted = Faults()
            found.append(plain(value, words, noted))
            if not noted:
                bad = ~(np.greater(found[-1], 0.0) & np.less(found[-1], end))
                note_bad(noted, words, "is outside its range", found[-1], bad, allowed=allowed, mend=mend)
            faults.extend(tuple(noted))
        check_shapes(faults, **dict(zip(given, found, strict=True)))
        if len({value.dims for value in found if isinstance(value, xr.DataArray) and value.ndim}) > 1:
            allowed = "one number, or arrays on the same dimensions"
            faults.add(", ".join(given), "have different dimensions", allowed=allowed)
    return tuple(found)


def _check_fit(depths: Floats, weights: Floats, faults: Faults) -> None:
    """Note depths and weights that cannot be fitted."""
    if depths.ndim != 1 or depths.size < FEWEST:
        value, allowed = f"shape {depths.shape}", f"{FEWEST} or more"
        faults.add("depths", "are too few, or not one row", value=value, allowed=allowed)
        return
    bad = ~(np.isfinite(depths) & (depths >= 0))
    problem = "are missing, negative or infinite"
    note_bad(faults, "depths", problem, depths, bad, each="can", allowed="0 or more")
    if not bad.any() and np.ptp(depths) == 0.0:
        faults.add(
            "depths", "are all equal", value=f"{depths[0]:g}", mend="an even field needs no distribution"
        )
    if weights.shape != depths.shape or not bool(((weights > 0) & np.isfinite(weights)).all()):
        faults.add("weights", "do not fit the depths", allowed="a number above 0 for each can")
