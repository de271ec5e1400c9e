"""What a decision looks at where watering is uneven.

The mean of the watched spots, the driest of them, or the one that completes the part to be filled.
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


def driest_quarter(depletion: Array, weight: Array) -> Array:
    """Give the weights of the driest quarter of the watched field.

    Spots are taken in order of depletion, those of equal depletion in their own order, until a quarter of
    the watched area is full; the last of them counts with the part that still fits.

    Parameters
    ----------
    depletion : ndarray, shape (spots, cells)
        Today's [mm].
    weight : ndarray, shape (spots, cells) or (spots, 1)
        From `watch_weight`.

    Returns
    -------
    ndarray, shape (spots, cells)
        Adds up to 1 over the spots.
    """
    order = np.argsort(-depletion, axis=0, kind="stable")
    ranked = np.take_along_axis(np.broadcast_to(weight, depletion.shape), order, axis=0)
    reached = np.minimum(np.cumsum(ranked, axis=0), QUARTER)
    part = np.diff(reached, axis=0, prepend=0.0)
    quarter = np.empty_like(part)
    np.put_along_axis(quarter, order, part / reached[-1], axis=0)
    return quarter


def wanted_depths(lacking: Array, share: Array) -> Array:
    """Give the mean depth over the field at which each spot receives what it lacks.

    Parameters
    ----------
    lacking : ndarray, shape (spots, cells)
        What each spot lacks [mm]; below 0 where it has more than enough.
    share : ndarray, shape (spots, cells) or (spots, 1)
        Depth at each spot over the mean of the field [1].

    Returns
    -------
    ndarray, shape (spots, cells)
        [mm]; 0 where nothing lacks, infinite where something does and no water comes.
    """
    reached = share > 0.0
    wanted = np.maximum(lacking, 0.0) / np.where(reached, share, 1.0)
    return np.where(~reached & (lacking > 0.0), np.inf, wanted)


def last_filled(wanted: Array, weight: Array, adequacy: Array) -> NDArray[np.intp]:
    """Find the spot that completes the part of the watched field to be filled.

    Spots are taken in order of the depth they want, those that want the same in their own order, until they
    make up the part: the smallest depth that fills it is that of the last one.

    Parameters
    ----------
    wanted : ndarray, shape (spots, cells)
        From `wanted_depths`. Spots have one weather, so that all are missing (NaN) or none.
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


def filling_depth(lacking: Array, share: Array, weight: Array, adequacy: Array) -> Array:
    """Give the smallest mean depth over the field that fills a part of what is watched.

    Parameters
    ----------
    lacking, share : ndarray
        As in `wanted_depths`.
    weight, adequacy : ndarray
        As in `last_filled`.

    Returns
    -------
    ndarray, shape (cells,)
        [mm]; infinite where no depth fills so much.
    """
    wanted = wanted_depths(lacking, share)
    last = last_filled(wanted, weight, adequacy)
    return np.asarray(np.take_along_axis(wanted, last[None], axis=0)[0])
