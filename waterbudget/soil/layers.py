"""Soil by layers: numbers and sequences of them brought to arrays on ``layer``.

Layers are numbered from 1 at the surface. A label of joined soils that has fewer layers holds NaN
in the others; a uniform soil beside layered ones has values in layer 1 and no bottom.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.descriptions import Number, number
from waterbudget.errors import Faults, brief

LAYERED = ("field_capacity", "wilting_point", "available_water", "saturation")
"""Fields of `Soil` that may differ by layer."""


def on_layers(value: Any, name: str, faults: Faults, *, optional: bool = True) -> Number:
    """Bring a number, or one for each layer, to its canonical form.

    Parameters
    ----------
    value : GivenNumber, sequence of GivenNumber, or DataArray
        A sequence has one value for each layer, from the surface down.
    name : str
        Its row in the variables table.
    faults : Faults
        Takes what is wrong; nothing is raised here.
    optional : bool
        Allow NaN inside an array: "not given for this label".

    Returns
    -------
    float or DataArray
        A sequence becomes an array whose last dimension is ``layer``, labelled 1, 2, ...
    """
    if isinstance(value, xr.DataArray) and "layer" in value.dims:
        wanted = list(range(1, value.sizes["layer"] + 1))
        if "layer" not in value.coords or value["layer"].values.tolist() != wanted:
            faults.add(
                name,
                "has other labels on 'layer'",
                value=str(value["layer"].values.tolist()) if "layer" in value.coords else "no labels",
                allowed="1, 2, ... from the surface down",
            )
            return float("nan")
        checked = number(value, name, faults, optional=optional)
        return checked.transpose(..., "layer") if isinstance(checked, xr.DataArray) else checked
    if isinstance(value, str) or not isinstance(value, Sequence | np.ndarray):
        checked = number(value, name, faults, optional=optional)
        by_name = isinstance(checked, xr.DataArray) and "layer" in checked.dims  # of a Series
        return on_layers(checked, name, faults, optional=optional) if by_name else checked
    if (isinstance(value, np.ndarray) and value.ndim != 1) or len(value) == 0:
        faults.add(name, "does not have one value for each layer", value=brief(value))
        return float("nan")
    each = [
        xr.DataArray(number(one, name, faults, what=f"{name}, layer {k}")) for k, one in enumerate(value, 1)
    ]
    index = pd.RangeIndex(1, len(each) + 1, name="layer")
    try:
        spread = xr.broadcast(*xr.align(*each, join="exact"))
    except ValueError:
        faults.add(name, "has other labels in one layer than in another")
        return float("nan")
    return xr.concat(spread, dim=index, coords="minimal", compat="override").transpose(..., "layer")


def present(layer_bottom: xr.DataArray) -> xr.DataArray:
    """Mark the layers that there are: the first, and every one with a bottom."""
    return layer_bottom.notnull() | (layer_bottom["layer"] == 1)


def fill_layers(value: Number, layer_bottom: xr.DataArray) -> xr.DataArray:
    """Give a number that is the same in all layers to each of them."""
    if isinstance(value, xr.DataArray) and "layer" in value.dims:
        return value
    return xr.DataArray(value).where(present(layer_bottom)).transpose(..., "layer")
