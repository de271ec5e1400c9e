"""What the balance needs of a soil: plain labelled numbers, the same for uniform and layered soils.

A quantity of a layered soil is written as its value in the top layer and its change at the top of
each further layer. Integrated from the surface down to a depth z it is

    top value * z + sum over the further layers of  change * max(z - top of the layer, 0)

which is arithmetic alone, and gives a soil of equal layers the bits of the uniform soil, because
each change is exactly 0.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import xarray as xr

from waterbudget.descriptions import Number

if TYPE_CHECKING:
    from waterbudget.soil.soil import Soil


class Storage(NamedTuple):
    """What the balance needs of a soil: plain labelled numbers; NaN where something is not given.

    Attributes
    ----------
    available_water : float or DataArray
        Field capacity less wilting point [m3 m-3], of the top layer.
    layer_tops : tuple of float or DataArray
        Tops of the second and further layers [m]; empty for a uniform soil. 0 where a label has
        fewer layers than another.
    layer_changes : tuple of float or DataArray
        Change of available water from the layer above to each of these [m3 m-3]; 0 where a label
        has fewer layers.
    rew, tew : float or DataArray
        Readily and totally evaporable water of the surface layer [mm].
    evaporation_depth : float or DataArray
        Depth of the surface layer [m].
    air_dry_water : float or DataArray
        Water below wilting point that evaporation can take from the surface layer [mm].
    curve_number : float or DataArray
        NaN where no runoff by curve number is asked for.
    adjust_curve_number : float or DataArray
        1 where it follows the dryness of the evaporation layer, else 0.
    intake_rate : float or DataArray
        Rate at which the soil takes water in [mm h-1].
    drainage_fraction : float or DataArray
        Part of the water above field capacity that percolates in a day; 1 is at once.
    drainable_water : float or DataArray
        Saturation less field capacity [m3 m-3], of the top layer; 0 where saturation is unknown.
    drainable_changes : tuple of float or DataArray
        Its changes at ``layer_tops`` [m3 m-3].
    soil_salinity : float or DataArray
        Mean salinity of the saturation extract over the season [dS m-1].
    restricting_depth : float or DataArray
        Depth of a layer that roots do not enter [m].
    layers_end : float or DataArray
        Bottom of the last layer [m], below which nothing is known; NaN for a uniform soil.
    water_table_depth : float or DataArray
        Depth of the water table [m], perhaps on ``time``.
    capillary_a, capillary_n : float or DataArray
        Coefficient [mm day-1 m^n] and exponent [1] of the steady upward flow.
    """

    available_water: Number
    layer_tops: tuple[Number, ...]
    layer_changes: tuple[Number, ...]
    rew: Number
    tew: Number
    evaporation_depth: Number
    air_dry_water: Number
    curve_number: Number
    adjust_curve_number: Number
    intake_rate: Number
    drainage_fraction: Number
    drainable_water: Number
    drainable_changes: tuple[Number, ...]
    soil_salinity: Number
    restricting_depth: Number
    layers_end: Number
    water_table_depth: Number
    capillary_a: Number
    capillary_n: Number


class Layered(NamedTuple):
    """A quantity of the soil by depth: its value at the top and its changes further down."""

    top: Number
    changes: tuple[Number, ...]

    def down_to(self, depth: Number, layer_tops: tuple[Number, ...]) -> Number:
        """Integrate from the surface to a depth [m], as a depth of water [mm]."""
        total = 1000.0 * self.top * depth
        for start, change in zip(layer_tops, self.changes, strict=True):
            total = total + 1000.0 * change * plain(np.maximum(depth - start, 0.0))
        return total


def total_evaporable_water(field_capacity: Number, wilting_point: Number, depth: Number) -> Number:
    """Total evaporable water of the surface layer, FAO-56 Eq. 73.

    Parameters
    ----------
    field_capacity, wilting_point : float or DataArray
        Water contents [m3 m-3].
    depth : float or DataArray
        Depth of the layer [m].

    Returns
    -------
    float or DataArray
        ``1000 (field_capacity - 0.5 wilting_point) depth`` [mm]: evaporation can dry the layer to
        half the wilting point.
    """
    return 1000.0 * (field_capacity - 0.5 * wilting_point) * depth


def store(soil: Soil) -> Storage:
    """Work out the numbers that the balance needs of a soil.

    Parameters
    ----------
    soil : Soil

    Returns
    -------
    Storage
        TEW (where not given) and the air-dry water of a layered soil are integrated over the layers
        within the evaporation depth.
    """
    nan = float("nan")
    available = nan if soil.available_water is None else soil.available_water
    tew = _or_nan(soil.tew)
    tops = layer_tops(soil)
    if soil.field_capacity is not None and soil.wilting_point is not None:
        available = first_known(available, soil.field_capacity - soil.wilting_point)
        tew = first_known(tew, _evaporable(soil, tops))
    drainable: Number = nan
    if soil.saturation is not None and soil.field_capacity is not None:
        drainable = soil.saturation - soil.field_capacity
    held, free = by_layer(available, len(tops)), by_layer(drainable, len(tops))
    # What the layer can lose below the wilting point. With Eq. 73 it is half the wilting point over
    # the layer; written as a difference it also holds for a tew that the user measured.
    air_dry = np.maximum(tew - held.down_to(soil.evaporation_depth, tops), 0.0)
    return Storage(
        available_water=held.top,
        layer_tops=tops,
        layer_changes=held.changes,
        rew=_or_nan(soil.rew),
        tew=tew,
        evaporation_depth=soil.evaporation_depth,
        air_dry_water=plain(air_dry),
        curve_number=_or_nan(soil.curve_number),
        adjust_curve_number=soil.adjust_curve_number,
        intake_rate=_or_nan(soil.intake_rate),
        drainage_fraction=soil.drainage_fraction,
        drainable_water=first_known(free.top, 0.0),
        drainable_changes=free.changes,
        soil_salinity=_or_nan(soil.soil_salinity),
        restricting_depth=_or_nan(soil.restricting_depth),
        layers_end=nan if soil.layer_bottom is None else plain(soil.layer_bottom.max("layer")),
        water_table_depth=_or_nan(soil.water_table_depth),
        capillary_a=_or_nan(soil.capillary_a),
        capillary_n=_or_nan(soil.capillary_n),
    )


def layer_tops(soil: Soil) -> tuple[Number, ...]:
    """Give the tops of the second and further layers [m]; 0 where a label has fewer layers."""
    if soil.layer_bottom is None:
        return ()
    bottom: xr.DataArray = soil.layer_bottom
    there = bottom.notnull()
    return tuple(
        plain(bottom.isel(layer=k - 1, drop=True).where(there.isel(layer=k, drop=True), 0.0))
        for k in range(1, bottom.sizes["layer"])
    )


def by_layer(value: Number, further: int) -> Layered:
    """Write a quantity as its value in the top layer and its changes further down.

    Parameters
    ----------
    value : float or DataArray
        On ``layer`` or not. NaN in further layers: the label has fewer of them.
    further : int
        How many layers there are beside the top one.

    Returns
    -------
    Layered
    """
    if not isinstance(value, xr.DataArray) or "layer" not in value.dims:
        return Layered(value, (0.0,) * further)
    each = [value.isel(layer=k, drop=True) for k in range(1 + further)]
    changes = (
        # A change is unknown only where there is no such layer, or the quantity is unknown from the top on.
        plain((below - above).fillna(0.0))
        for above, below in pairwise(each)
    )
    return Layered(plain(each[0]), tuple(changes))


def first_known(first: Number, second: Number) -> Number:
    """Take the first number, and the second where the first is not given."""
    if isinstance(first, xr.DataArray):
        return first.fillna(second)
    return second if np.isnan(first) else first


def plain(value: Any) -> Number:
    """Give a number without dimensions as a float."""
    return value if isinstance(value, xr.DataArray) and value.dims else float(value)


def _evaporable(soil: Soil, tops: tuple[Number, ...]) -> Number:
    """Work out TEW by Eq. 73, integrated over the layers within the evaporation depth."""
    capacity = by_layer(soil.field_capacity, len(tops))
    wilting = by_layer(soil.wilting_point, len(tops))
    total = total_evaporable_water(capacity.top, wilting.top, soil.evaporation_depth)
    for start, more, drier in zip(tops, capacity.changes, wilting.changes, strict=True):
        within = plain(np.maximum(soil.evaporation_depth - start, 0.0))
        total = total + total_evaporable_water(more, drier, within)
    return total


def _or_nan(value: Number | None) -> Number:
    return float("nan") if value is None else value
