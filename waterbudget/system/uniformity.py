"""How evenly water falls: the uniformity of depths caught, and what normal theory makes of it.

Every function of depths takes the cans on the last axis, and weights that say how much area each can stands
for, on any scale. Uniformities are fractions: 0.86, not 86 %. Where nothing was caught, or a depth is NaN,
the result is NaN.
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import Any, Literal, get_args

import numpy as np
import numpy.typing as npt

from waterbudget.arguments import Floats, check_word, note_bad, plain
from waterbudget.errors import Faults, collect

NormalOrUniform = Literal["normal", "uniform"]
RunTimeForm = Literal["trade", "normal"]

MEAN_DEVIATION = {"normal": math.sqrt(2.0 / math.pi), "uniform": math.sqrt(3.0) / 2.0}
"""Mean absolute deviation over the standard deviation, of the two distributions with a closed form."""
LOW_QUARTER_DEVIATION = NormalDist().pdf(NormalDist().inv_cdf(0.25)) / 0.25
"""How far the mean of the lowest quarter of a normal distribution lies below the mean, in deviations."""


# ------------------------------------------------------------------------------- of depths
def christiansen_uniformity(depths: npt.ArrayLike, weights: npt.ArrayLike | None = None) -> Any:
    """Coefficient of uniformity CU: 1 less the mean absolute deviation over the mean.

    ``1 - sum of w |d - mean| / sum of w d``

    Parameters
    ----------
    depths : array_like
        Depth in each can [mm], 0 or more; cans on the last axis.
    weights : array_like, optional
        Area that each can stands for, on any scale; equal when not given. For equally spaced cans along
        the radius of a centre pivot it is the distance from the pivot point.

    Returns
    -------
    float or array
        [1]; 1 where all cans caught the same. Below 0 when most cans caught next to nothing.

    Raises
    ------
    InputError
        When depths or weights are no numbers, negative or infinite, or the weights do not fit the depths.

    Notes
    -----
    Source: Christiansen, J.E. (1942), Irrigation by sprinkling, California Agricultural Experiment Station
    Bulletin 670. Weighted: Heermann, D.F., Hein, P.R. (1968), Transactions of the ASAE 11, 11-15, the form of
    ISO 11545 for centre pivots (from memory).
    """
    d, w = _read(depths, weights)
    mean = weighted_mean(d, w)
    return 1.0 - _over(weighted_mean(np.abs(d - mean[..., None]), w), mean)


def low_quarter_uniformity(depths: npt.ArrayLike, weights: npt.ArrayLike | None = None) -> Any:
    """Distribution uniformity of the low quarter: mean of the driest quarter over the mean of all.

    Parameters
    ----------
    depths, weights : array_like
        As in `christiansen_uniformity`.

    Returns
    -------
    float or array
        [1], 0-1.

    Raises
    ------
    InputError
        As `christiansen_uniformity`.

    Notes
    -----
    The quarter is a quarter of the area. The can in which it ends counts with the part of its area that
    falls inside: sixteen equal cans give the mean of the lowest four, five give the lowest with a quarter
    of the next. Source: National Engineering Handbook of the USDA (from memory); the rule for the can in
    which the quarter ends is ours, since the definition leaves it open.
    """
    return _low_uniformity(depths, weights, 0.25)


def low_half_uniformity(depths: npt.ArrayLike, weights: npt.ArrayLike | None = None) -> Any:
    """Distribution uniformity of the low half: mean of the drier half of the area over the mean of all.

    Parameters, result and errors are those of `low_quarter_uniformity`, as is the rule for the can in which
    the half ends.
    """
    return _low_uniformity(depths, weights, 0.5)


def scheduling_coefficient(depths: npt.ArrayLike, weights: npt.ArrayLike | None = None) -> Any:
    """Scheduling coefficient: the mean of all over the mean of the driest quarter of the area.

    How many times as much water must be applied so that the driest quarter gets, on average, what is wanted.

    Parameters
    ----------
    depths, weights : array_like
        As in `christiansen_uniformity`.

    Returns
    -------
    float or array
        [1], 1 or more; infinite where the driest quarter caught nothing.

    Raises
    ------
    InputError
        As `christiansen_uniformity`.

    Notes
    -----
    1 / DUlq. The other form in use, with the driest *adjacent* area of a stated size, needs to know where
    each can stood, and is not computed here.
    """
    with np.errstate(divide="ignore"):
        return 1.0 / low_quarter_uniformity(depths, weights)


def coefficient_of_variation(depths: npt.ArrayLike, weights: npt.ArrayLike | None = None) -> Any:
    """Coefficient of variation: standard deviation over the mean.

    Parameters
    ----------
    depths, weights : array_like
        As in `christiansen_uniformity`.

    Returns
    -------
    float or array
        [1]. The divisor is the number of cans (the sum of the weights), not one less.

    Raises
    ------
    InputError
        As `christiansen_uniformity`.
    """
    d, w = _read(depths, weights)
    return _over(standard_deviation(d, w), weighted_mean(d, w))


def ring_area(distance: npt.ArrayLike) -> Floats:
    """Area of the ring that each can along the radius of a centre pivot stands for.

    A ring reaches halfway to the neighbouring distances; the innermost and the outermost reach as far to
    their free side, the innermost at most to the pivot point. Cans at one distance share their ring. For cans
    at equal distances from the pivot point on, it is the distance times a constant, the weight of Heermann
    and Hein (1968) and ISO 11545 (from memory).

    Parameters
    ----------
    distance : array_like
        Distance of each can from the pivot point [m], in any order, at least two of them different.

    Returns
    -------
    array
        Area over pi [m2].

    Raises
    ------
    InputError
        When distances are missing, negative or infinite, or fewer than two differ.
    """
    with collect() as faults:
        distance = np.asarray(plain(distance, "distance", faults, each="can"))
        faults.raise_if_any()
        bad = ~((distance >= 0.0) & np.isfinite(distance))
        problem, allowed = "is missing, negative or infinite", "0 m or more for each can"
        note_bad(faults, "distance", problem, distance, bad, each="can", allowed=allowed)
        if not faults and (distance.ndim != 1 or np.unique(distance).size < 2):
            allowed = "one row, of which two differ"
            faults.add("distance", "makes no line of cans", value=f"shape {distance.shape}", allowed=allowed)
    radius, place, count = np.unique(distance, return_inverse=True, return_counts=True)
    between = (radius[1:] + radius[:-1]) / 2.0
    inner = np.maximum(np.concatenate([[2.0 * radius[0] - between[0]], between]), 0.0)
    outer = np.concatenate([between, [2.0 * radius[-1] - between[-1]]])
    ring: Floats = (outer * outer - inner * inner) / count
    return ring[place]


def weighted_mean(depths: Floats, weights: Floats) -> Any:
    """Weighted mean over the last axis; of equal depths it is that depth to the last bit."""
    first = depths[..., :1]
    return first[..., 0] + np.sum(weights * (depths - first), axis=-1) / np.sum(weights, axis=-1)


def standard_deviation(depths: Floats, weights: Floats) -> Any:
    """Weighted standard deviation over the last axis; the divisor is the sum of the weights."""
    deviations = depths - weighted_mean(depths, weights)[..., None]
    return np.sqrt(weighted_mean(deviations * deviations, weights))


def driest_mean(depths: Floats, weights: Floats, part: float) -> Any:
    """Mean depth over the driest part of the area; the can in which it ends counts in proportion.

    Parameters
    ----------
    depths, weights : array
        Of one shape, cans on the last axis.
    part : float
        Part of the area [1], above 0 and at most 1.
    """
    order = np.argsort(depths, axis=-1, kind="stable")
    d, w = np.take_along_axis(depths, order, -1), np.take_along_axis(weights, order, -1)
    end = np.cumsum(w, axis=-1)
    inside = np.clip(part * end[..., -1:] - (end - w), 0.0, w)
    return weighted_mean(d, inside)


def _low_uniformity(depths: npt.ArrayLike, weights: npt.ArrayLike | None, part: float) -> Any:
    d, w = _read(depths, weights)
    return _over(driest_mean(d, w, part), weighted_mean(d, w))


def _over(value: Any, mean: Any) -> Any:
    """Divide by the mean; 0/0, where nothing was caught, is NaN."""
    with np.errstate(invalid="ignore"):
        return value / mean


def _read(depths: npt.ArrayLike, weights: npt.ArrayLike | None) -> tuple[Floats, Floats]:
    """Bring depths and weights to arrays of one shape, and refuse what is neither."""
    with collect() as faults:
        d = np.asarray(plain(depths, "depths", faults, each="can"))
        w = np.ones(d.shape) if weights is None else np.asarray(plain(weights, "weights", faults, each="can"))
        faults.raise_if_any()
        if d.ndim == 0 or d.shape[-1] == 0:
            faults.add(
                "depths", "are not a row of numbers", value=f"shape {d.shape}", allowed="one for each can"
            )
        if w.shape not in (d.shape, d.shape[-1:]):
            faults.add(
                "weights",
                "do not fit the depths",
                value=f"shape {w.shape}",
                allowed=f"one for each can, {d.shape}",
            )
        for name, values in (("depths", d), ("weights", w)):
            bad = (values < 0) | np.isinf(values)
            problem, mend = "are negative or infinite", "correct the reading"
            note_bad(faults, name, problem, values, bad, each="can", allowed="0 or more", mend=mend)
        if w.ndim and bool((np.sum(w, axis=-1) == 0).any()):
            faults.add("weights", "add up to 0", allowed="the area that each can stands for, on any scale")
    return d, np.broadcast_to(w, d.shape)


# --------------------------------------------------------------------------- normal theory
def uniformity_from_cv(cv: Any, kind: NormalOrUniform = "normal") -> Any:
    """Coefficient of uniformity CU of depths that are normally or uniformly distributed.

    ``1 - sqrt(2 / pi) cv`` for normal, ``1 - sqrt(3) / 2 cv`` for uniform depths.

    Parameters
    ----------
    cv : float or array
        Coefficient of variation [1], 0 or more.
    kind : {"normal", "uniform"}
        Distribution of the depths over the field.

    Returns
    -------
    float or array
        [1]. Exact for the distribution; measured patterns with a CU below about 0.7 are seldom close to
        normal (common practice, no source).

    Raises
    ------
    InputError
        When cv is no number, negative or infinite, or the kind is not known.
    """
    with collect() as faults:
        cv = plain(cv, "cv", faults)
        bad = np.less(cv, 0.0) | np.isinf(cv)
        note_bad(faults, "cv", "is negative or infinite", cv, bad, allowed="0 or more")
        check_word(kind, "kind", faults, get_args(NormalOrUniform))
    return 1.0 - MEAN_DEVIATION[kind] * cv


def cv_from_uniformity(uniformity: Any, kind: NormalOrUniform = "normal") -> Any:
    """Coefficient of variation of depths with a given CU: `uniformity_from_cv` turned round.

    Raises
    ------
    InputError
        When CU is no number or above 1, or the kind is not known.
    """
    with collect() as faults:
        uniformity = _fraction("uniformity", uniformity, faults)
        check_word(kind, "kind", faults, get_args(NormalOrUniform))
    return (1.0 - uniformity) / MEAN_DEVIATION[kind]


def low_quarter_from_christiansen(uniformity: Any) -> Any:
    """Low-quarter uniformity DUlq from CU, for normally distributed depths.

    ``1 - 1.5931 (1 - CU)``; handbooks round to ``100 - 1.59 (100 - CU)``.

    Parameters
    ----------
    uniformity : float or array
        Coefficient of uniformity CU [1].

    Returns
    -------
    float or array
        [1]. Below 0 where CU is below 0.372: depths are then not normal, and the result has no meaning.

    Raises
    ------
    InputError
        When CU is no number or above 1.
    """
    return 1.0 - LOW_QUARTER_DEVIATION * cv_from_uniformity(uniformity)


def christiansen_from_low_quarter(low_quarter: Any) -> Any:
    """CU from low-quarter uniformity, for normally distributed depths.

    ``1 - 0.6277 (1 - DUlq)``; handbooks round to ``100 - 0.63 (100 - DU)``. It is the uniformity of the low
    half as well: under normal theory the two are one number.

    Raises
    ------
    InputError
        When DUlq is no number or above 1.
    """
    with collect() as faults:
        low_quarter = _fraction("low_quarter", low_quarter, faults)
    return uniformity_from_cv((1.0 - low_quarter) / LOW_QUARTER_DEVIATION)


def run_time_multiplier(low_quarter: Any, form: RunTimeForm = "trade") -> Any:
    """How many times as long a set must run, because water falls unevenly.

    Parameters
    ----------
    low_quarter : float or array
        Low-quarter uniformity DUlq [1], 0-1.
    form : {"trade", "normal"}
        ``"trade"``: ``1 / (0.4 + 0.6 DU)``, the rounded form in use (common practice, no source).
        ``"normal"``: ``1 / (0.372 + 0.628 DU)``, one over the low-half uniformity of normal depths, exactly.

    Returns
    -------
    float or array
        [1], 1 or more.

    Raises
    ------
    InputError
        When DUlq is no number or outside its range, or the form is not known.
    """
    with collect() as faults:
        low_quarter = _fraction("low_quarter", low_quarter, faults)
        below = np.less(low_quarter, 0.0)
        note_bad(faults, "low_quarter", "is outside its range", low_quarter, below, allowed="0 to 1")
        check_word(form, "form", faults, get_args(RunTimeForm))
    if form == "trade":
        return 1.0 / (0.4 + 0.6 * low_quarter)
    return 1.0 / christiansen_from_low_quarter(low_quarter)


def _fraction(name: str, value: Any, faults: Faults) -> Any:
    """Take a uniformity, and refuse one above 1, which is most often a percentage."""
    value = plain(value, name, faults)
    bad, mend = np.greater(value, 1.0) | np.isinf(value), "give a fraction, not a percentage"
    note_bad(faults, name, "is outside its range", value, bad, allowed="at most 1", mend=mend)
    return value
