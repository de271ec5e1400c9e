"""When to irrigate and how much: one field, one day, written once."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from waterbudget.balance.watch import filling_depth, spot_mean

Array = NDArray[np.float64]

LONG_AGO = 366.0
"""Days since irrigation are counted up to this: a year, longer, or never."""


class Choice(NamedTuple):
    """A rule as plain numbers; what is not asked for is neutral."""

    at_stress: Array  # 1: the allowance is the readily available water
    allowable: Array  # else this fraction of available water
    refill_to: Array  # fraction of available water left as depletion
    fixed: Array  # 1: every irrigation is net_depth
    net_depth: Array  # mm
    min_depth: Array  # mm
    max_depth: Array  # mm
    min_interval: Array  # days
    last_day: Array  # number of the last day on which to irrigate
    over_application: Array  # mean depth over the field for each mm that the watched spots lack


class Morning(NamedTuple):
    """What is known in the morning, as means of the spots that the decision watches."""

    depletion_before: Array  # mm, end of yesterday
    taw_before: Array  # mm
    raw_before: Array  # mm
    refill: Array  # mm over the field, after root growth: see `refill_depth`
    days_since: Array  # days since the last irrigation, today included
    growing: Array  # 1 while a crop stands
    today: float  # number of the day


def lacking_depth(depletion: Array, taw: Array, choice: Choice) -> Array:
    """Give what each spot lacks of what the rule refills to [mm]; below 0 where it has more."""
    return depletion - choice.refill_to * taw


def refill_depth(
    lacking: Array,
    look: Array,
    watch: Array,
    choice: Choice,
    wanted: Array | None,
    adequacy: Array | None,
) -> Array:
    """Give the mean depth over the field that refills today what is watched [mm].

    Parameters
    ----------
    lacking : ndarray, shape (spots, cells)
        From `lacking_depth`, today's, after root growth.
    look, watch : ndarray, shape (spots, cells) or (spots, 1)
        Weights of the spots that are looked at today, and of all that are watched.
    choice : Choice
    wanted : ndarray, shape (spots, cells), or None
        From `wanted_depths`; needed with `adequacy`.
    adequacy : ndarray, shape (cells,) or (1,), or None
        Part of what is watched that is to be filled [1]; NaN, or None for all cells: the mean of the spots
        that are looked at is refilled.

    Returns
    -------
    ndarray, shape (cells,)
    """
    refill: Array = choice.over_application * np.maximum(spot_mean(lacking, look), 0.0)
    if adequacy is None or wanted is None:
        return refill
    return np.where(np.isnan(adequacy), refill, filling_depth(wanted, watch, adequacy))


def decide(morning: Morning, choice: Choice) -> Array:
    """Net depth to irrigate today [mm]; 0 when none is due.

    Irrigation is due when yesterday ended at or beyond its allowable depletion, a crop stands, the
    interval has passed, the last date has not, and the depth is worth it. The depth is a refill
    or the fixed one; rain of the day is not foreseen.
    """
    allowance = choice.at_stress * morning.raw_before + choice.allowable * morning.taw_before
    wanted = (1.0 - choice.fixed) * morning.refill + choice.fixed * choice.net_depth
    depth = np.minimum(wanted, choice.max_depth)
    due = (
        (morning.depletion_before >= allowance)
        & (morning.days_since >= choice.min_interval)
        & (morning.today <= choice.last_day)
        & (depth >= choice.min_depth)
    )
    return due * morning.growing * depth


def count_days(days_since: Array, net: Array) -> Array:
    """Days since the last irrigation at the end of a day on which ``net`` mm were applied."""
    return np.minimum((1.0 - (net > 0.0)) * (days_since + 1.0), LONG_AGO)
