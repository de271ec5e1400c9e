"""What a decision looks at where watering is uneven: the mean of the watched spots, or the driest of them."""

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


def share_reached(share: Array, weight: Array, adequacy: Array) -> Array:
    """Give the share that a part of the watched field receives at least.

    Parameters
    ----------
    share : ndarray, shape (spots, cells) or (spots, 1)
        Depth at each spot over the mean of the field [1].
    weight : ndarray, shape (spots, cells) or (spots, 1)
        From `watch_weight`.
    adequacy : ndarray, shape (cells,) or (1,)
        The part [1].

    Returns
    -------
    ndarray, shape (cells,) or (1,)
        Share of the last spot that is needed, from the wettest on, to make up the part.
    """
    shape = np.broadcast_shapes(share.shape, weight.shape, adequacy.shape)
    shares, weights = np.broadcast_to(share, shape), np.broadcast_to(weight, shape)
    order = np.argsort(-shares, axis=0, kind="stable")
    reached = np.cumsum(np.take_along_axis(weights, order, axis=0), axis=0)
    last = (reached < adequacy - _ROUNDING).sum(axis=0).clip(max=len(shares) - 1)
    ranked = np.take_along_axis(shares, order, axis=0)
    return np.asarray(np.take_along_axis(ranked, last[None], axis=0)[0])
