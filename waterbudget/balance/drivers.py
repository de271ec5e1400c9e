"""Runs `decide` and `step` over days: days outside, cells inside, in blocks that stay in cache.

A cell is one combination of labels. Spots of one field lie on an axis of their own in front of the
cells: the balance runs per spot, the decision once per field.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import partial
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from waterbudget.balance.decide import Choice, Morning, count_days, decide, lacking_depth, refill_depth
from waterbudget.balance.step import (
    TINY,
    Day,
    Ground,
    Holding,
    Shedding,
    State,
    Wetting,
    grow_roots,
    hold_back,
    release,
    rise,
    share_roots,
    shed,
    step,
    take_up,
)
from waterbudget.balance.watch import look_weights, spot_mean, wanted_depths

Array = NDArray[np.float64]

BLOCK = 16_384
"""Cells a block: enough to make the cost of a call small, few enough to stay in cache."""

SPOT_OUTPUTS = (
    "ke",
    "kc",
    "ks",
    "raw",
    "depletion",
    "depletion_below",
    "surface_depletion",
    "wetted_fraction",
    "met_by_roots",
    "percolation",
    "drainage",
    "evaporation",
    "transpiration",
    "et",
)
"""What is written for every spot and day."""
STAGE_OUTPUTS = {
    "shedding": "runoff",
    "holding": "excess_water",
    "capillary_limit": "capillary_rise",
    "wetted_volume": "uptake_factor",
}
"""What a stage writes for every spot and day, where the run has it."""
FIELD_OUTPUTS = ("irrigation_net", "days_since_irrigation")
"""What is written for every field and day, whatever its spots."""


class Feed(NamedTuple):
    """A daily series, held only along what it depends on.

    ``values`` has shape (days, own cells), or one row that holds for all days. ``place`` finds the
    own cell of each cell; None when they are the same, or when there is but one own cell for all.
    """

    values: Array
    place: NDArray[np.intp] | None

    def row(self, day: int, block: slice) -> Array:
        """Give the day's values for a block of cells, or one value for all of them."""
        row: Array = self.values[day if len(self.values) > 1 else 0]
        if self.place is not None:
            return row.take(self.place[block])
        return cut(row, block)


class Feeds(NamedTuple):
    """The daily series of a run; one row stands for what does not vary in time."""

    et_ref: Feed
    rain: Feed  # less runoff
    coefficient: Feed
    kc_max: Feed
    cover: Feed
    root_depth: Feed
    stage: Feed
    dual: Feed  # 1 where the coefficient is basal
    evaporation_factor: Feed
    depletion_fraction: Feed
    adjust: Feed
    salt_factor: Feed
    recorded: Feed  # net depth that is recorded, or planned on top of the rule
    free: Feed  # 1 where no record stands and the rule decides


class Rows(NamedTuple):
    """One day of every `Feeds` series, for a block of cells."""

    et_ref: Array
    rain: Array
    coefficient: Array
    kc_max: Array
    cover: Array
    root_depth: Array
    stage: Array
    dual: Array
    evaporation_factor: Array
    depletion_fraction: Array
    adjust: Array
    salt_factor: Array
    recorded: Array
    free: Array


class Stages(NamedTuple):
    """What only some runs have: None where no cell asks for it."""

    shedding: Shedding | None
    holding: Holding | None
    layer_uptake: Feed | None
    capillary_limit: Feed | None
    wetted_volume: Array | None = (
        None  # part of the root zone that irrigation wets; spots are wetted parts, then dry
    )
    driest: Array | None = None  # 1 where the decision watches the driest quarter
    adequacy: Array | None = None  # part of the watched spots to be filled; NaN where their mean is refilled

    def outputs(self) -> list[str]:
        """Name what the stages of this run write."""
        return [name for stage, name in STAGE_OUTPUTS.items() if getattr(self, stage) is not None]


class Spots(NamedTuple):
    """An uneven pattern: each of shape (spots, 1) or (spots, cells)."""

    share: Array
    weight: Array
    watch: Array  # weights of the spots that the decision looks at


class Numbers(NamedTuple):
    """The numbers of a run that do not change from day to day, each of shape (1,) or (cells,).

    Those of the ground have an axis for spots in front.
    """

    ground: Ground
    wetting: Wetting
    stages: Stages
    choice: Choice | None
    spots: Spots
    neutral_layer: NDArray[np.bool_]  # no evaporation layer was asked for


def cut(part: Array, block: slice) -> Array:
    """Take a block of cells; a single value stands for every cell."""
    if part.ndim == 0 or part.shape[-1] == 1:
        return part
    taken: Array = part[..., block]
    return taken


def scalar(part: Array) -> Array:
    """Take the one value of an array as a numpy scalar: the same bits, in a fraction of the time."""
    value: Array = part.reshape(-1)[0]
    return value


ONE = scalar(np.ones(1))
"""Uptake where no root system is shared."""


def each(numbers: Numbers, change: Callable[[Array], Array]) -> Numbers:
    """Apply a change to every array among the numbers of a run; series keep their own rows."""

    def parts(group: Iterable[Any]) -> Iterator[Any]:
        for part in group:
            yield tuple(map(change, part)) if isinstance(part, tuple) else change(part)

    def known(part: Array | None) -> Array | None:
        return None if part is None else change(part)

    stages = numbers.stages
    shedding, holding = stages.shedding, stages.holding
    return numbers._replace(
        ground=Ground(*parts(numbers.ground)),
        wetting=Wetting(*parts(numbers.wetting)),
        stages=stages._replace(
            shedding=None if shedding is None else Shedding(*parts(shedding)),
            holding=None if holding is None else Holding(*parts(holding)),
            wetted_volume=known(stages.wetted_volume),
            driest=known(stages.driest),
            adequacy=known(stages.adequacy),
        ),
        choice=None if numbers.choice is None else Choice(*parts(numbers.choice)),
        spots=Spots(*parts(numbers.spots)),
    )


def run(
    first_day: int,
    feeds: Feeds,
    numbers: Numbers,
    state: State,
    days_since: Array,
    written: dict[str, Array],
) -> None:
    """Run every cell over every day with numpy.

    Parameters
    ----------
    first_day : int
        Number of the first day since 1970-01-01.
    feeds, numbers
        What drives the run.
    state : State
        Before the first day, each of shape (spots, cells).
    days_since : ndarray, shape (cells,)
        Days since the last irrigation, before the first day.
    written : dict of str to ndarray
        Filled in place: shape (days, spots, cells) for every name of `SPOT_OUTPUTS` and of
        `Stages.outputs`, (days, cells) for those of `FIELD_OUTPUTS`.
    """
    cells = written["irrigation_net"].shape[1]
    if cells == 1 and len(numbers.spots.share) == 1:
        series = Feeds(*map(_alone, feeds))
        own = State(*map(scalar, state))
        one = each(numbers, scalar)
        uptake, limit = one.stages.layer_uptake, one.stages.capillary_limit
        one = one._replace(
            stages=one.stages._replace(
                layer_uptake=None if uptake is None else _alone(uptake),
                capillary_limit=None if limit is None else _alone(limit),
            )
        )
        _run_block(first_day, series, one, own, scalar(days_since), slice(0, 1), written)
        return
    for start in range(0, cells, BLOCK):
        block = slice(start, min(start + BLOCK, cells))
        own = State(*(cut(part, block) for part in state))
        views = {name: array[..., block] for name, array in written.items()}
        part = each(numbers, partial(cut, block=block))
        _run_block(first_day, feeds, part, own, days_since[block], block, views)


def _alone(feed: Feed) -> Feed:
    """Take the series of the only cell as numpy scalars by day."""
    return Feed(feed.values[:, 0], None)


def _today(rows: Rows, rain: Array) -> Day:
    """Gather what the day brings. Bare soil evaporates by the layer under a single coefficient too."""
    dual = np.maximum(rows.dual, 1.0 - np.minimum(rows.stage, 1.0))
    return Day(
        rows.et_ref,
        rain,
        rows.coefficient,
        rows.kc_max,
        rows.cover,
        rows.root_depth,
        dual,
        rows.evaporation_factor,
        rows.depletion_fraction,
        rows.adjust,
        rows.salt_factor,
        ONE,
    )


def _one_root_system(ks: Array, day: Day, wetted_volume: Array) -> tuple[Day, Array, Array]:
    """Join the wetted and the dry part of each spot to one root system.

    Returns
    -------
    Day
        With the uptake of the day.
    ndarray
        Stress coefficient of the plant, at every part.
    ndarray
        Uptake of each part over what the plant's coefficient would give it.
    """
    half = len(ks) // 2
    uptake, plant = share_roots(ks[:half], ks[half:], wetted_volume)
    both = np.concatenate((uptake, uptake))
    plant = np.concatenate((plant, plant))
    alike = ks * both / np.maximum(plant, TINY)
    shared = wetted_volume < 1.0
    alike[:half] = shared * alike[:half] + (1.0 - shared)
    return day._replace(uptake=both), plant * day.salt_factor, alike


def _run_block(
    first_day: int,
    feeds: Feeds,
    numbers: Numbers,
    state: State,
    days_since: Array,
    block: slice,
    written: dict[str, Array],
) -> None:
    """Carry one block of cells from the first day to the last."""
    share, _, watch = numbers.spots
    ground, stages = numbers.ground, numbers.stages
    for number in range(len(written["irrigation_net"])):
        rows = Rows(*(feed.row(number, block) for feed in feeds))
        roots = grow_roots(state, rows.root_depth, ground)
        missing = roots.depletion
        if stages.holding is not None:
            roots = release(roots, state.excess_water)
            # What one spot has too much of does not water another.
            missing = np.maximum(roots.depletion, 0.0)
        net = rows.recorded
        if numbers.choice is not None:
            lacking, wanted = lacking_depth(missing, roots.taw, numbers.choice), None
            if stages.adequacy is not None:
                wanted = wanted_depths(lacking, share, numbers.choice.over_application)
            look = look_weights(missing, watch, stages.driest, wanted, stages.adequacy)
            morning = Morning(
                depletion_before=spot_mean(state.depletion, look),
                taw_before=spot_mean(state.taw, look),
                raw_before=spot_mean(state.raw, look),
                refill=refill_depth(lacking, look, watch, numbers.choice, wanted, stages.adequacy),
                days_since=days_since + 1.0,
                growing=np.minimum(rows.stage, 1.0),
                today=float(first_day + number),
            )
            net = net + rows.free * decide(morning, numbers.choice)
        days_since = count_days(days_since, net)
        today: dict[str, Array] = {}
        rain = rows.rain
        if stages.shedding is not None:
            today["runoff"] = shed(rain, state.surface_depletion, stages.shedding)
            rain = rain - today["runoff"]
        day = _today(rows, rain)
        water = net * share
        if stages.wetted_volume is not None:
            apart = step(state, roots, water, day, ground, numbers.wetting)[1].ks / day.salt_factor
            day, plant, today["uptake_factor"] = _one_root_system(apart, day, stages.wetted_volume)
        state, fluxes = step(state, roots, water, day, ground, numbers.wetting)
        if stages.wetted_volume is not None:
            fluxes = fluxes._replace(ks=plant)
        if stages.holding is not None:
            state, fluxes = hold_back(state, fluxes, roots, rows.root_depth, stages.holding)
            today["excess_water"] = state.excess_water
        if stages.layer_uptake is not None:
            uptake = stages.layer_uptake.row(number, block)
            state = take_up(state, fluxes.transpiration, uptake, ground.tew)
        if stages.capillary_limit is not None:
            limit = stages.capillary_limit.row(number, block)
            state, today["capillary_rise"] = rise(state, limit)
        today |= {
            "ke": fluxes.ke,
            "kc": rows.coefficient + fluxes.ke,
            "ks": fluxes.ks,
            "raw": state.raw,
            "depletion": state.depletion,
            "depletion_below": state.depletion_below,
            "surface_depletion": state.surface_depletion,
            "wetted_fraction": state.wetted_fraction,
            "met_by_roots": roots.met_by_roots,
            "percolation": fluxes.percolation,
            "drainage": fluxes.drainage,
            "evaporation": fluxes.evaporation,
            "transpiration": fluxes.transpiration,
            "et": fluxes.et,
            "irrigation_net": net,
            "days_since_irrigation": days_since,
        }
        for name, value in today.items():
            written[name][number] = value


def before_first_day(state: State, feeds: Feeds, numbers: Numbers) -> State:
    """Complete a start without a yesterday: its allowance is that of day 1 without water.

    The decision of day 1 compares with "its own" readily available water, which needs the day's
    evapotranspiration for p; it is worked out by `step` itself on a dry copy of the day.
    """
    rows = Rows(*(feed.row(0, slice(0, None)) for feed in feeds))
    dry = np.zeros_like(state.depletion)
    roots = grow_roots(state, rows.root_depth, numbers.ground)
    after, _ = step(state, roots, dry, _today(rows, dry), numbers.ground, numbers.wetting)
    return state._replace(raw=after.raw)
