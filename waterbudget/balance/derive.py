"""What follows from a result: read back from a day's own balance, not stored."""

from __future__ import annotations

import numpy as np
import xarray as xr


def depletion_before(season: xr.Dataset) -> xr.DataArray:
    """Root-zone depletion when the day's water came, after the roots have grown [mm].

    Read back from the day's balance (FAO-56 Eq. 85): at its end ``depletion`` is what it was, less
    rain (without runoff) and net irrigation, plus evapotranspiration and percolation.

    Parameters
    ----------
    season : Dataset
        Result of `simulate`.

    Returns
    -------
    DataArray
        At least 0: rounding may leave -1e-15 where the soil was full.
    """
    applied = season["irrigation_net"] * season["spot_share"]
    rain = season["rain"] - season["runoff"]
    before = season["depletion"] - season["et"] + applied + rain - season["percolation"]
    return before.clip(min=0.0)


def wetted_depth(season: xr.Dataset) -> xr.DataArray:
    """How deep the day's water brings the soil back to field capacity [m].

    For a shovel or a probe, a day or two later when drainage has ended: ``root_depth * water /
    before``, at most the root depth. It takes the depletion as spread evenly over the root zone
    and the water as filling it from the top. Common practice, no source.

    Parameters
    ----------
    season : Dataset
        Result of `simulate`.

    Returns
    -------
    DataArray
        0 on days without water.
    """
    water = season["irrigation_net"] * season["spot_share"] + season["rain"] - season["runoff"]
    larger = xr.apply_ufunc(np.maximum, depletion_before(season), water)
    # A full soil is wet all the way whatever the water; the larger keeps the part within 1.
    depth: xr.DataArray = season["root_depth"] * water / larger.clip(min=1e-9)
    return depth


def allowance(season: xr.Dataset) -> xr.DataArray:
    """Depletion at which irrigation falls due, at the end of each day [mm].

    A fraction of the available water, or the readily available water where the rule waits for
    stress or where there is no rule.

    Parameters
    ----------
    season : Dataset
        Result of `simulate`.

    Returns
    -------
    DataArray
    """
    fraction = season["allowable_depletion"]
    return (fraction * season["taw"]).where(fraction.notnull(), season["raw"])
