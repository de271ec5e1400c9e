"""Plants whose roots share a wetted and a dry part of the ground.

Where irrigation wets a part of the root zone spots come twice: the wetted parts of all, then their dry parts.
"""

from __future__ import annotations

import xarray as xr


def parted(season: xr.Dataset) -> bool:
    """Tell whether spots come twice: the wetted parts of all, then their dry parts."""
    return bool(season["wetted_volume"].notnull().any())


def halves(values: xr.DataArray) -> tuple[xr.DataArray, xr.DataArray]:
    """Give the values of the wetted parts, and of the dry ones."""
    half = values.sizes["spot"] // 2
    return values.isel(spot=slice(None, half)), values.isel(spot=slice(half, None))


def wetted_half(values: xr.DataArray, season: xr.Dataset) -> xr.DataArray:
    """Take the values at the wetted part of each plant."""
    return halves(values)[0] if parted(season) and "spot" in values.dims else values


def of_plants(values: xr.DataArray, season: xr.Dataset) -> xr.DataArray:
    """Take the mean of each plant's two parts, by their areas."""
    if not parted(season) or "spot" not in values.dims:
        return values
    wetted, dry = halves(values)
    wet_weight, dry_weight = halves(season["spot_weight"])
    return (wetted * wet_weight + dry * dry_weight) / (wet_weight + dry_weight)


def where_roots_draw(values: xr.DataArray, season: xr.Dataset) -> xr.DataArray:
    """Take the mean of each plant's two parts, by the water that its roots take from them.

    By their areas on a day on which they take none.
    """
    if not parted(season) or "spot" not in values.dims:
        return values
    taken = of_plants(season["transpiration"], season)
    drawn = of_plants(values * season["transpiration"], season) / taken.where(taken != 0, 1.0)
    return drawn.where(taken != 0, of_plants(values, season))


def plant_weight(season: xr.Dataset) -> xr.DataArray:
    """Give the part of the field that each plant stands for."""
    if not parted(season):
        return season["spot_weight"]
    wetted, dry = halves(season["spot_weight"])
    return wetted + dry
