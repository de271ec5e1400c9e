"""What became of the water pumped: losses on the way, percolation by cause, and what stayed for the crop."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget.balance import LOOKED_AT, depletion_before, depth_to_fill, watched_mean, watched_weights
from waterbudget.report.frames import (
    UnitSystem,
    check_season,
    check_units,
    label_dims,
    over_spots,
    shown_unit,
    spread,
    table,
)
from waterbudget.report.ledger import attributed, over_days
from waterbudget.system.losses import LINKS, LossKind

_Array = NDArray[np.float64]


class Loss(NamedTuple):
    """One way in which water pumped does not serve the crop.

    Attributes
    ----------
    name : str
        As a variable or a column.
    kind : LossKind
    title : str
        For people.
    """

    name: str
    kind: LossKind
    title: str


PERCOLATED = (
    Loss("leaching", "intended", "leaching"),
    Loss("uneven_application", "unavoidable", "uneven application"),
    Loss("rain_on_watered_soil", "unavoidable", "rain on watered soil"),
    Loss("over_watering", "waste", "over-watering"),
)
"""Why irrigation percolates, in the order in which it is shown."""
LOSSES = (*(Loss(link.loss, link.kind, link.title) for link in LINKS), *PERCOLATED)
"""The whole chain, from the pump to below the root zone."""

NEEDED = (
    "irrigation_net",
    "irrigation_gross",
    *(link.loss for link in LINKS),
    "leaching_irrigation",
    "rain",
    "runoff",
    "et",
    "percolation",
    "capillary_rise",
    "depletion",
    "excess_water",
    "initial_excess_water",
    "et_share_before_percolation",
    *LOOKED_AT,
)
"""What a season must hold for this account."""
_NOTHING = 1e-10
"""A season's percolation [mm] that is rounding: what was missing is read back from the day's balance."""


def losses(season: xr.Dataset, units: UnitSystem = "metric") -> pd.DataFrame:
    """Follow the water pumped to the crop, and name every loss on the way.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`, with any label dimensions. Where the soil drains slowly, all its days.
    units : {"metric", "us"}
        Units of the columns: mm or in.

    Returns
    -------
    DataFrame
        Long: for each label combination a row for the water pumped, for every loss in the order of the chain,
        and for what stayed; a loss that is 0 at every label has no row. Columns:

        - the label dimensions, if any, then ``loss``: what it is;
        - ``kind``: "unavoidable" (every good system has it), "intended" (leaching of salts), "waste" (can be
          mended), "unattributed" (known only as one fraction), "used"; empty for the water pumped;
        - ``depth_mm``: mean of the field over the season; the rows after the first add up to it;
        - ``share_of_gross``: of the water pumped, NaN where there was none.

        Without a system the water pumped and the losses on the way are NaN. A missing day makes NaN.

    Raises
    ------
    InputError
        When `season` is not a daily result, or `units` is unknown.

    Notes
    -----
    The links up to the soil are those of `System`. What of the irrigation percolates, by the ledger's
    attribution, is divided here by cause (our division: common practice, no source). Each day, in this order,
    at most what percolates:

    1. *leaching*: net depth whose purpose is leaching, or the refill for it;
    2. *over-watering*: net depth, without what was meant for leaching, beyond what a full refill takes:
       what the watched spots lacked when the water came and took up that day before it drained (their mean,
       or their driest quarter where the rule looks there), as a depth over the field; where the rule has an
       adequacy, the depth that fills so much of them. Covering the dry spots is no waste; under a record or
       a calendar only where the rule that asks for it is passed beside. Water for frost or germination on a
       moist soil is counted here too;
    3. *rain on watered soil*: irrigation that evenly spread would have stayed, had it not rained;
    4. *uneven application*: the rest. Where all watered spots receive the same, nothing is counted here, and
       the rest belongs to the rain.

    Where the soil holds water above field capacity for some days, it percolates later than it came: what a
    cause has not yet accounted for is carried on, as far as the soil still holds such water.

    Percolation is out of the root zone of the day; roots that grow deeper may still take some of it up
    (``met_by_roots`` and ``drainage`` of the ledger).
    """
    check_units(units)
    check_season(season, NEEDED)
    depths = fate(season)
    shown = [
        ("pumped", "", depths["irrigation_gross"]),
        *((one.title, one.kind, depths[one.name]) for one in LOSSES if bool((depths[one.name] != 0).any())),
        ("stored for the crop", "used", depths["stored"]),
    ]
    sizes = {dim: season.sizes[dim] for dim in label_dims(season, ("irrigation_net", "irrigation_gross"))}
    for values in depths.values():  # in the order of the balance, then what only a loss varies by
        sizes |= {str(dim): values.sizes[dim] for dim in values.dims if dim not in sizes}
    count, rows = int(np.prod(tuple(sizes.values()), dtype=int)), len(shown)
    depth = np.stack([spread(values, sizes).reshape(count) for _, _, values in shown], axis=1)
    pumped = depth[:, :1]
    suffix, size = shown_unit("mm", units)
    columns: dict[str, NDArray[Any]] = {
        "loss": np.array([title for title, _, _ in shown] * count, dtype=object),
        "kind": np.array([kind for _, kind, _ in shown] * count, dtype=object),
        f"depth{suffix}": depth.reshape(-1) / size,
        "share_of_gross": (depth / np.where(pumped > 0, pumped, np.nan)).reshape(-1),
    }
    places = [np.repeat(at.reshape(-1), rows) for at in np.indices(tuple(sizes.values()))]
    return table(season, sizes, columns, places)


def fate(season: xr.Dataset) -> dict[str, xr.DataArray]:
    """Add up where the water pumped went over a season.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`.

    Returns
    -------
    dict of str to DataArray
        Means of the field [mm] on the label dimensions: ``irrigation_gross``, every loss of `LOSSES`, and
        ``stored``, the net depth that did not percolate.
    """
    percolated = divide_percolation(season)
    depths = {name: over_days(season[name]) for name in ("irrigation_gross", *(link.loss for link in LINKS))}
    stored = over_days(season["irrigation_net"])
    for name, daily in percolated.items():
        depth = over_days(daily)
        depths[name] = depth.where(~(depth <= _NOTHING), 0.0)  # NaN stays NaN
        stored = stored - depths[name]
    return {name: values.reset_coords(drop=True) for name, values in {**depths, "stored": stored}.items()}


def divide_percolation(season: xr.Dataset) -> dict[str, xr.DataArray]:
    """Divide each day's percolation of irrigation by its cause.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`.

    Returns
    -------
    dict of str to DataArray
        Means of the field on ``time`` and the label dimensions [mm], by the names of `PERCOLATED`; how they
        are divided stands under `losses`.
    """
    held = season[["excess_water", "spot_weight"]]
    field = over_spots(
        held.assign(percolated=attributed(season)["from_irrigation"]), ("percolated", "excess_water")
    )
    net, leaching = season["irrigation_net"], season["leaching_irrigation"]
    # The day's evapotranspiration is met first, as far as the run says: so much more does not drain.
    lacking = missing_before(season) + season["et_share_before_percolation"] * season["et"]
    beyond = np.maximum(net - leaching - depth_to_fill(season, lacking), 0.0)
    taken = xr.apply_ufunc(
        _in_turn,
        field["percolated"],
        leaching,
        beyond,
        _met_by_rain(season, lacking),
        field["excess_water"],
        input_core_dims=[["time"]] * 5,
        output_core_dims=[["time"]] * 4,
    )
    leached, over_watering, rained, rest = taken
    even = _is_even(season)
    return {
        "leaching": leached,
        "uneven_application": rest * (1.0 - even),
        "rain_on_watered_soil": rained + rest * even,
        "over_watering": over_watering,
    }


def missing_before(season: xr.Dataset) -> xr.DataArray:
    """Give the depletion of the root zone when the day's water came [mm], at each spot."""
    before: xr.DataArray = depletion_before(
        season["depletion"],
        season["et"],
        season["irrigation_net"] * season["spot_share"],
        season["rain"] - season["runoff"],
        season["percolation"],
        season["capillary_rise"],
        season["excess_water"],
    )
    return before


def _met_by_rain(season: xr.Dataset, lacking: xr.DataArray) -> xr.DataArray:
    """Give the irrigation that, spread evenly, percolates because of the day's rain, mean of the field [mm].

    Of water ``W`` and rain ``R`` on a depletion ``D``, irrigation loses its part of the excess,
    ``W (W + R - D) / (W + R)``; without the rain it would lose ``W - D``.
    """
    weight, share = season["spot_weight"] * season["spot_watched"], season["spot_share"]
    area = weight.sum("spot") if "spot" in weight.dims else weight
    watched = watched_weights(season)
    water = season["irrigation_net"] * watched_mean(share, watched)
    rain = watched_mean(season["rain"] - season["runoff"], watched)
    missing = watched_mean(lacking, watched)
    part = water / (water + rain).where(water > 0, 1.0)
    lost = np.maximum(water - missing * part, 0.0) - np.maximum(water - missing, 0.0)
    return area * lost


def _is_even(season: xr.Dataset) -> xr.DataArray:
    """Mark with 1 the labels at which all watered spots receive the same."""
    share = season["spot_share"]
    if "spot" not in share.dims:
        return xr.ones_like(share)
    watered = share.where((season["spot_watched"] > 0) & (season["spot_weight"] > 0))
    return (watered.max("spot") == watered.min("spot")).astype(np.float64)


def _in_turn(
    percolated: _Array, leaching: _Array, beyond: _Array, rained: _Array, held: _Array
) -> tuple[_Array, ...]:
    """Let causes account for percolation, one after the other; days along the last axis.

    Parameters
    ----------
    percolated : ndarray
        Irrigation that percolates [mm].
    leaching, beyond, rained : ndarray
        The most that each cause accounts for [mm], in this order.
    held : ndarray
        Water above field capacity at the end of the day [mm]: so much of what a cause has not accounted for
        may percolate later.

    Returns
    -------
    tuple of ndarray
        What each cause accounts for, and the rest.
    """
    percolated, held, *causes = np.broadcast_arrays(percolated, held, leaching, beyond, rained)
    parts = tuple(np.empty(percolated.shape) for _ in (*causes, "rest"))
    carried = [np.zeros(percolated.shape[:-1]) for _ in causes]
    for day in range(percolated.shape[-1]):
        left, room = percolated[..., day], held[..., day]
        for place, cause in enumerate(causes):
            due = carried[place] + cause[..., day]
            taken = np.minimum(left, due)
            carried[place] = np.minimum(due - taken, room)
            left, room = left - taken, room - carried[place]
            parts[place][..., day] = taken
        parts[-1][..., day] = left
    return parts
