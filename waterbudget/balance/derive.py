"""What follows from a day of a result: formulas on plain numbers, arrays or DataArrays."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from waterbudget.balance.watch import driest_quarter, filling_depth


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


def watch_weights(season: xr.Dataset, depletion: xr.DataArray) -> xr.DataArray:
    """Weights of the spots that a decision looks at.

    Parameters
    ----------
    season : Dataset
        Result of `simulate`.
    depletion : DataArray
        That by which the driest quarter is found, on ``spot`` where the season has spots [mm].

    Returns
    -------
    DataArray
        Adds up to 1 over ``spot``; on more dimensions where the driest quarter is watched.
    """
    watched = season["spot_weight"] * season["spot_watched"]
    if "spot" not in watched.dims:
        return watched
    watched = watched / watched.sum("spot")
    driest = season["watch_driest_quarter"] > 0
    if "spot" not in depletion.dims or not bool(driest.any()):
        return watched
    first, spread = (part.transpose("spot", ...) for part in xr.broadcast(depletion, watched))
    quarter = first.copy(data=driest_quarter(first.values, spread.values))
    return quarter.where(driest, watched)


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
    depth = season["over_application"] * watched_mean(lacking, watch_weights(season, lacking))
    adequacy = season["adequacy"]
    if "spot" not in lacking.dims or not bool(adequacy.notnull().any()):
        return depth
    whole = watch_weights(season.assign(watch_driest_quarter=0.0), lacking)
    several = xr.broadcast(lacking, season["spot_share"], whole)
    spots, share, weight = (part.transpose("spot", ...) for part in several)
    part = adequacy.broadcast_like(spots.isel(spot=0, drop=True)).transpose(*spots.dims[1:])
    filled = part.copy(data=filling_depth(spots.values, share.values, weight.values, part.values))
    return filled.where(adequacy.notnull(), depth)


def running_total(values: xr.DataArray, dim: str) -> xr.DataArray:
    """Sum along a dimension; a missing value makes the sum missing.

    A running sum adds one by one whatever the layout in memory, so that a field gives the same bits alone and
    among others; numpy's own sum does not.
    """
    return values.cumsum(dim, skipna=False).isel({dim: -1})
