"""What a decision looks at where watering is uneven.

All that is watched, or the part of it that is to be filled; of that the mean, or the driest quarter.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

QUARTER = 0.25
_ROUNDING = 1e-9
"""Rounding in sums of weights."""


def spot_mean(values: Array, weight: Array) -> Array:
    """Mean over spots, as an ordered sum of deviations from the first.

    The order is fixed, so that a field gives the same bits alone and in a batch, and equal spots
    give exactly their common value.

    Parameters
    ----------
    values : ndarray, shape (spots, cells)
    weight : ndarray, shape (spots, cells) or (spots, 1)
        Adds up to 1 over the spots.

    Returns
    -------
    ndarray, shape (cells,)
    """
    if values.ndim == 0:
        return values
    first: Array = values[0]
    if len(values) == 1:
        return first
    total = np.zeros_like(first)
    for spot in range(1, len(values)):
        total = total + weight[spot] * (values[spot] - first)
    return first + total


def watch_weight(weight: Array, watched: Array) -> Array:
    """Give the weights of the watched spots, which add up to 1.

    Parameters
    ----------
    weight, watched : ndarray, shape (spots, cells) or (spots, 1)
        Part of the field, and 1 where the decision looks.

    Returns
    -------
    ndarray
        ``weight`` itself where every spot is watched.
    """
    if bool((watched == 1.0).all()):
        return weight
    own = weight * watched
    total = np.zeros(own.shape[1:])
    for spot in own:
        total = total + spot
    return np.asarray(own / total)


def first_part(order: Array, weight: Array, part: Array | float) -> Array:
    """Give the weights of a part of the watched field, taken in an order.

    Spots are taken from the smallest value up, those of equal value in their own order, until they make up
    the part; the last of them counts with what still fits.

    Parameters
    ----------
    order : ndarray, shape (spots, cells)
        Spots have one weather, so that all are missing (NaN) or none.
    weight : ndarray, shape (spots, cells) or (spots, 1)
        Adds up to 1 over the spots, as from `watch_weight`.
    part : float or ndarray, shape (cells,) or (1,)
        Of the watched field [1], above 0.

    Returns
    -------
    ndarray, shape (spots, cells)
        Adds up to 1 over the spots.
    """
    ranks = np.argsort(order, axis=0, kind="stable")
    ranked = np.take_along_axis(np.broadcast_to(weight, order.shape), ranks, axis=0)
    reached = np.minimum(np.cumsum(ranked, axis=0), part)
    taken = np.diff(reached, axis=0, prepend=0.0)
    weights = np.empty_like(taken)
    np.put_along_axis(weights, ranks, taken / reached[-1], axis=0)
    return weights


def look_weights(
    depletion: Array, watch: Array, driest: Array | None, wanted: Array | None, adequacy: Array | None
) -> Array:
    """Give the weights of the spots that a decision looks at.

    Where a part of the field is to be filled it looks at this part alone: what is given up on would ask for
    water every day. Of what is to be filled it takes the mean, or the driest quarter.

    Parameters
    ----------
    depletion : ndarray, shape (spots, cells)
        Today's [mm].
    watch : ndarray, shape (spots, cells) or (spots, 1)
        From `watch_weight`.
    driest : ndarray, shape (cells,) or (1,), or None
        1 where the decision looks at the driest quarter; None: nowhere.
    wanted : ndarray, shape (spots, cells), or None
        From `wanted_depths`; needed with `adequacy`.
    adequacy : ndarray, shape (cells,) or (1,), or None
        Part of the watched field to be filled [1]; NaN, or None for all cells: all of it counts.

    Returns
    -------
    ndarray, shape (spots, cells) or (spots, 1)
        Adds up to 1 over the spots.
    """
    look = watch
    if adequacy is not None and wanted is not None:
        look = np.where(np.isnan(adequacy), watch, first_part(wanted, watch, adequacy))
    if driest is not None:
        look = np.where(driest > 0.0, first_part(-depletion, look, QUARTER), look)
    return look


def wanted_depths(lacking: Array, share: Array, over_application: Array) -> Array:
    """Give the mean depth over the field at which each spot receives what it lacks.

    A spot that receives more than the mean counts as if it received the mean, so that an uneven field is
    never given less than an even one.

    Parameters
    ----------
    lacking : ndarray, shape (spots, cells)
        What each spot lacks [mm]; below 0 where it has more than enough.
    share : ndarray, shape (spots, cells) or (spots, 1)
        Depth at each spot over the mean of the field [1].
    over_application : ndarray, shape (cells,) or (1,)
        Mean depth over the field for each mm that the watched spots receive as a mean [1].

    Returns
    -------
    ndarray, shape (spots, cells)
        [mm]; 0 where nothing lacks, infinite where something does and no water comes.
    """
    reached = share > 0.0
    times = np.maximum(1.0 / np.where(reached, share, 1.0), over_application)
    wanted = np.maximum(lacking, 0.0) * times
    return np.where(~reached & (lacking > 0.0), np.inf, wanted)


def last_filled(wanted: Array, weight: Array, adequacy: Array) -> NDArray[np.intp]:
    """Find the spot that completes the part of the watched field to be filled.

    Spots are taken as in `first_part`, by the depth that they want: the smallest depth that fills the part is
    that of the last one.

    Parameters
    ----------
    wanted : ndarray, shape (spots, cells)
        From `wanted_depths`.
    weight : ndarray, shape (spots, cells) or (spots, 1)
        From `watch_weight`.
    adequacy : ndarray, shape (cells,) or (1,)
        The part [1].

    Returns
    -------
    ndarray of int, shape (cells,)
    """
    order = np.argsort(wanted, axis=0, kind="stable")
    ranked = np.take_along_axis(np.broadcast_to(weight, wanted.shape), order, axis=0)
    last = (np.cumsum(ranked, axis=0) < adequacy - _ROUNDING).sum(axis=0).clip(max=len(wanted) - 1)
    return np.asarray(np.take_along_axis(order, last[None], axis=0)[0])


def filling_depth(wanted: Array, weight: Array, adequacy: Array) -> Array:
    """Give the smallest mean depth over the field that fills a part of what is watched.

    Parameters
    ----------
    wanted, weight, adequacy : ndarray
        As in `last_filled`.

    Returns
    -------
    ndarray, shape (cells,)
        [mm]; infinite where no depth fills so much.
    """
    last = last_filled(wanted, weight, adequacy)
    return np.asarray(np.take_along_axis(wanted, last[None], axis=0)[0])
