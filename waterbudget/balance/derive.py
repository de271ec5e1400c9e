"""What follows from a day of a result: formulas on plain numbers, arrays or DataArrays."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from waterbudget.balance.watch import QUARTER, filling_depth, first_part, look_weights, wanted_depths

LOOKED_AT = (
    "spot_share",
    "spot_weight",
    "spot_watched",
    "watch_driest_quarter",
    "adequacy",
    "over_application",
    "refill_to",
)
"""What a season must hold for the spots that its decisions look at."""


def depletion_before(
    depletion: Any,
    et: Any,
    net: Any,
    rain: Any,
    percolation: Any,
    capillary_rise: Any = 0.0,
    excess_water: Any = 0.0,
) -> Any:
    """Root-zone depletion when the day's water came, after the roots have grown.

    Read back from the day's own balance (FAO-56 Eq. 85): its end is what it was, less rain,
    irrigation and capillary rise, plus evapotranspiration and percolation.

    Parameters
    ----------
    depletion : float or array
        At the end of the day [mm].
    et, net, rain, percolation, capillary_rise : float or array
        Of the day [mm]; rain less runoff.
    excess_water : float or array
        Water above field capacity that the root zone holds at the end of the day [mm].

    Returns
    -------
    float or array
        At least 0 [mm]: a soil that held water above field capacity lacked none, and rounding may
        leave -1e-15 where it was just full.
    """
    water = net + rain + capillary_rise
    return np.maximum(depletion - excess_water - et + water - percolation, 0.0)


def wetted_depth(root_depth: Any, water: Any, before: Any) -> Any:
    """How deep the day's water brings the soil back to field capacity.

    For a shovel or a probe, a day or two later when drainage has ended: ``root_depth * water /
    before``, at most the root depth. It takes the depletion as spread evenly over the root zone
    and the water as filling it from the top. Common practice, no source.

    Parameters
    ----------
    root_depth : float or array
        Depth of the root zone [m].
    water : float or array
        All that entered that day, above 0 [mm].
    before : float or array
        Depletion when it came [mm], from `depletion_before`.

    Returns
    -------
    float or array
        Depth [m].
    """
    # A full soil is wet all the way whatever the water; the larger keeps the part within 1.
    return root_depth * water / np.maximum(before, water)


def allowance(season: xr.Dataset) -> xr.DataArray:
    """Depletion at which irrigation falls due, at the end of each day.

    A fraction of the available water, or the readily available water where the rule waits for
    stress or where there is no rule.

    Parameters
    ----------
    season : Dataset
        Result of `simulate`.

    Returns
    -------
    DataArray
        Depth [mm], on the dimensions of ``taw`` and the rule.
    """
    fraction = season["allowable_depletion"]
    return (fraction * season["taw"]).where(fraction.notnull(), season["raw"])


def watched_weights(season: xr.Dataset) -> xr.DataArray:
    """Give each spot's part of the watched field [1], wherever within it the rule looks."""
    watched: xr.DataArray = season["spot_weight"] * season["spot_watched"]
    if "spot" not in watched.dims:
        return watched
    return watched / watched.sum("spot")


def quarter_weights(season: xr.Dataset, order: xr.DataArray) -> xr.DataArray:
    """Weights of a quarter of the watched field, taken from the smallest value up.

    Parameters
    ----------
    season : Dataset
        Result of `simulate`.
    order : DataArray
        On ``spot``.

    Returns
    -------
    DataArray
        Adds up to 1 over ``spot``.
    """
    values, watched = _spots_first(order, watched_weights(season))
    return values.copy(data=first_part(values.values, watched.values, QUARTER))


def weights_looked_at(season: xr.Dataset, depletion: xr.DataArray, taw: xr.DataArray) -> xr.DataArray:
    """Weights of the spots that a decision looks at.

    Parameters
    ----------
    season : Dataset
        Result of `simulate`.
    depletion : DataArray
        On ``spot`` where the season has spots [mm]: it says which are the driest, and which are to be filled.
    taw : DataArray
        Available water of that time [mm].

    Returns
    -------
    DataArray
        Adds up to 1 over ``spot``; on more dimensions where the driest quarter or a part is looked at.
    """
    return _look(season, depletion, depletion - season["refill_to"].fillna(0.0) * taw)


def _look(season: xr.Dataset, depletion: xr.DataArray, lacking: xr.DataArray) -> xr.DataArray:
    """Give the weights for a depletion, of which so much lacks."""
    watched = watched_weights(season)
    driest, adequacy = season["watch_driest_quarter"], season["adequacy"]
    if "spot" not in depletion.dims or not bool((driest > 0).any() | adequacy.notnull().any()):
        return watched
    given = (depletion, watched, driest, lacking, season["spot_share"], season["over_application"], adequacy)
    first = _spots_first(*given)
    spots, watch, asked, lack, share, over, part = (one.values for one in first)
    return first[0].copy(data=look_weights(spots, watch, asked[0], wanted_depths(lack, share, over), part[0]))


def _spots_first(*arrays: xr.DataArray) -> tuple[xr.DataArray, ...]:
    """Lay arrays out on the same dimensions, spots first."""
    return tuple(array.transpose("spot", ...) for array in xr.broadcast(*arrays))


def watched_mean(values: xr.DataArray, weights: xr.DataArray) -> xr.DataArray:
    """Take the mean over the spots that a decision looks at; values without spots stay as they are."""
    if "spot" not in values.dims:
        return values
    return running_total(values * weights, "spot")


def depth_to_fill(season: xr.Dataset, lacking: xr.DataArray) -> xr.DataArray:
    """Give the mean depth over the field that gives the watched spots what they lack.

    Parameters
    ----------
    season : Dataset
        Result of `simulate`.
    lacking : DataArray
        On ``spot`` where the season has spots [mm].

    Returns
    -------
    DataArray
        [mm]. The mean of what the decision looks at, times the depth for each mm of it; where the rule has an
        adequacy, the depth that fills this part of the watched spots.
    """
    over, adequacy = season["over_application"], season["adequacy"]
    depth = over * watched_mean(lacking, _look(season, lacking, lacking))
    if "spot" not in lacking.dims or not bool(adequacy.notnull().any()):
        return depth
    given = (lacking, season["spot_share"], over, watched_weights(season), adequacy)
    first = _spots_first(*given)
    lack, share, times, watch, part = (one.values for one in first)
    filled = first[0].isel(spot=0, drop=True)
    filled = filled.copy(data=filling_depth(wanted_depths(lack, share, times), watch, part[0]))
    return filled.where(adequacy.notnull(), depth)


def running_total(values: xr.DataArray, dim: str) -> xr.DataArray:
    """Sum along a dimension; a missing value makes the sum missing.

    A running sum adds one by one whatever the layout in memory, so that a field gives the same bits alone and
    among others; numpy's own sum does not.
    """
    return values.cumsum(dim, skipna=False).isel({dim: -1})
