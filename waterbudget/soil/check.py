"""What must fit together within one soil."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from waterbudget.checks import labelled, note_where, time_axis
from waterbudget.descriptions import Number
from waterbudget.errors import Faults
from waterbudget.soil.layers import LAYERED, present
from waterbudget.soil.pedotransfer import FITTED_CLAY, FITTED_ORGANIC_MATTER
from waterbudget.soil.storage import store

if TYPE_CHECKING:
    from waterbudget.soil.soil import Soil


def check(soil: Soil, faults: Faults) -> None:
    """Note what does not fit together.

    Parameters
    ----------
    soil : Soil
        With its values in canonical form, whose labels agree.
    faults : Faults
        Takes what is wrong.
    """
    if soil.layer_bottom is not None:
        _check_layers(soil, faults)
    _check_water(soil, faults)
    _check_saturation(soil, faults)
    if not faults:
        water = xr.DataArray(store(soil).available_water)
        note_where(
            faults,
            "soil water",
            "is not given for every label",
            water.isnull(),
            {},
            mend="give field_capacity and wilting_point, or available_water",
        )
    _check_evaporation(soil, faults)
    _check_runoff(soil, faults)
    _check_water_table(soil, faults)


def check_layer_counts(soil: Soil, faults: Faults) -> bool:
    """Note values by layer whose number is not that of ``layer_bottom``; tell whether all agree."""
    bottom = soil.layer_bottom
    values = {name: getattr(soil, name) for name in LAYERED}
    counts = {name: value.sizes["layer"] for name, value in values.items() if _by_layer(value)}
    if bottom is None:
        if counts:
            faults.add(
                "layer_bottom",
                "is missing",
                value=f"{', '.join(counts)} by layer",
                mend="give the depth of the bottom of each layer [m]",
            )
        return not counts
    if not _by_layer(bottom):
        faults.add(
            "layer_bottom", "does not have one value for each layer", allowed="a sequence of depths [m]"
        )
        return False
    wrong = {name: count for name, count in counts.items() if count != bottom.sizes["layer"]}
    for name, count in wrong.items():
        faults.add(
            name,
            "does not have as many layers as layer_bottom",
            value=f"{count} values",
            allowed=f"one number, or one for each of {bottom.sizes['layer']} layers",
        )
    return not wrong


def check_particles(given: Mapping[str, Number], faults: Faults) -> None:
    """Note particles that do not add up, or lie beyond the samples of the regressions."""
    arrays = {name: xr.DataArray(value) for name, value in given.items()}
    before = len(list(faults))
    labelled(arrays, faults)
    if len(list(faults)) > before:
        return
    together = arrays["sand"] + arrays["clay"]
    note_where(
        faults,
        "sand and clay",
        "are more than all particles",
        together > 100.0,
        {name: arrays[name] for name in ("sand", "clay")},
        allowed="together at most 100 %",
    )
    for name, most in (("clay", FITTED_CLAY), ("organic_matter", FITTED_ORGANIC_MATTER)):
        note_where(
            faults,
            name,
            "is beyond the samples that the equations were fitted to",
            arrays[name] > most,
            {name: arrays[name]},
            allowed=f"at most {most:g} %",
            mend="give measured field_capacity and wilting_point in place of the particles",
        )


def _by_layer(value: object) -> bool:
    return isinstance(value, xr.DataArray) and "layer" in value.dims


def _known(soil: Soil, name: str) -> xr.DataArray:
    """Mark the labels for which a field is given."""
    value = getattr(soil, name)
    if not isinstance(value, xr.DataArray):  # a plain NaN was given, and noted as a fault of its own
        return xr.DataArray(value is not None)
    there = value.notnull()
    return there.any([dim for dim in ("layer", "time") if dim in there.dims])


def _check_layers(soil: Soil, faults: Faults) -> None:
    """Note bottoms that do not go down, and values that layers lack or that have no layer."""
    bottom: xr.DataArray = soil.layer_bottom
    deeper, there = bottom.diff("layer"), bottom.notnull()
    note_where(
        faults,
        "layer_bottom",
        "does not go down from layer to layer",
        deeper <= 0,
        {"bottom": bottom, "lower by": deeper},
        allowed="ascending depths [m]",
    )
    # Compared by position: layer k + 1 is there and layer k is not.
    skipped = there.isel(layer=slice(1, None)) & ~there.shift(layer=1, fill_value=True).isel(
        layer=slice(1, None)
    )
    note_where(
        faults, "layer_bottom", "is missing above a layer that has one", skipped, {}, allowed="every bottom"
    )
    layers = present(bottom)
    for name in LAYERED:
        value = getattr(soil, name)
        if value is None:
            continue
        given = value.notnull()
        note_where(
            faults,
            name,
            "is given where there is no layer",
            (given & ~layers).transpose(..., "layer"),
            {name: value},
            mend="give the bottom of that layer, or leave its value out (NaN)",
        )
        note_where(
            faults,
            name,
            "is missing in a layer",
            (layers & ~given & given.any("layer")).transpose(..., "layer"),
            {},
            mend="give it for all layers, or for none",
        )
    end = bottom.max("layer", skipna=True)
    depth = xr.DataArray(soil.evaporation_depth)
    note_where(
        faults,
        "layer_bottom",
        "ends above the bottom of the evaporation layer",
        end < depth,
        {"last bottom": end, "evaporation_depth": depth},
        allowed="at least evaporation_depth",
    )


def _check_water(soil: Soil, faults: Faults) -> None:
    """Note water contents that are missing or contradict one another."""
    pair = (soil.field_capacity is not None, soil.wilting_point is not None)
    if pair[0] != pair[1]:
        faults.add(
            "wilting_point" if pair[0] else "field_capacity",
            "is missing",
            mend="give field_capacity and wilting_point, or available_water alone",
        )
    if soil.available_water is None and not any(pair):
        faults.add(
            "soil water",
            "is not given",
            allowed="field_capacity and wilting_point, or available_water [m3 m-3]",
            mend="Soil.from_handbook('sandy loam') takes them from the texture",
        )
    if not all(pair):
        return
    capacity, wilting = xr.DataArray(soil.field_capacity), xr.DataArray(soil.wilting_point)
    held = capacity - wilting
    shown = {"wilting_point": wilting, "field_capacity": capacity}
    note_where(
        faults,
        "wilting_point",
        "is not below field_capacity",
        held <= 0,
        shown,
        allowed="wilting_point < field_capacity",
    )
    if soil.available_water is not None:
        available = xr.DataArray(soil.available_water)
        note_where(
            faults,
            "available_water",
            "contradicts field_capacity and wilting_point",
            abs(available - held) > 1e-9,
            shown | {"available_water": available},
            mend="give the pair or the difference, not both",
        )


def _check_saturation(soil: Soil, faults: Faults) -> None:
    """Note saturation that is not above field capacity, or missing where drainage is slow."""
    known = _known(soil, "saturation")
    if soil.saturation is not None:
        saturation = xr.DataArray(soil.saturation)
        note_where(
            faults,
            "saturation",
            "is given without field_capacity",
            known & ~_known(soil, "field_capacity"),
            {},
            mend="give field_capacity and wilting_point in place of available_water",
        )
        if soil.field_capacity is not None:
            capacity = xr.DataArray(soil.field_capacity)
            note_where(
                faults,
                "saturation",
                "is not above field_capacity",
                saturation <= capacity,
                {"saturation": saturation, "field_capacity": capacity},
                allowed="saturation > field_capacity",
            )
    fraction = xr.DataArray(soil.drainage_fraction)
    note_where(
        faults,
        "drainage_fraction",
        "is below 1 without saturation",
        (fraction < 1) & ~known,
        {"drainage_fraction": fraction},
        mend="give saturation: water above field capacity that stays must have room",
    )


def _check_evaporation(soil: Soil, faults: Faults) -> None:
    """Note readily evaporable water that is not below the total."""
    if faults or soil.rew is None:
        return
    rew, tew = xr.DataArray(soil.rew), xr.DataArray(store(soil).tew)
    note_where(
        faults,
        "rew",
        "is not below tew",
        rew >= tew,
        {"rew": rew, "tew": tew},
        allowed="rew < tew",
        mend="" if soil.tew is not None else "tew follows from the water contents (FAO-56 Eq. 73): give both",
    )


def _check_runoff(soil: Soil, faults: Faults) -> None:
    """Note two runoff methods for one label, and a curve number that has nothing to follow."""
    note_where(
        faults,
        "intake_rate",
        "stands beside a curve_number: two ways to work out runoff",
        _known(soil, "intake_rate") & _known(soil, "curve_number"),
        {name: getattr(soil, name) for name in ("intake_rate", "curve_number")},
        mend="give one of them",
    )
    adjusted = xr.DataArray(soil.adjust_curve_number) > 0
    note_where(
        faults,
        "adjust_curve_number",
        "is asked for without a curve_number",
        adjusted & ~_known(soil, "curve_number"),
        {},
        mend="give curve_number",
    )
    if not faults:
        water = store(soil)
        note_where(
            faults,
            "adjust_curve_number",
            "is asked for without rew and tew, whose depletion it follows",
            adjusted & (xr.DataArray(water.rew).isnull() | xr.DataArray(water.tew).isnull()),
            {"rew": water.rew, "tew": water.tew},
            mend="give rew= and tew= (FAO-56 Table 19)",
        )


def _check_water_table(soil: Soil, faults: Faults) -> None:
    """Note a water table and its coefficients that do not stand together, and gaps in its series."""
    names = ("water_table_depth", "capillary_a", "capillary_n")
    known = {name: _known(soil, name) for name in names}
    any_given = known["water_table_depth"] | known["capillary_a"] | known["capillary_n"]
    for name in names:
        note_where(
            faults,
            name,
            "is missing beside the other numbers of capillary rise",
            any_given & ~known[name],
            {},
            mend=f"{', '.join(names)} belong together: give all or none",
        )
    table = soil.water_table_depth
    if isinstance(table, xr.DataArray) and "time" in table.dims:
        time_axis(table["time"], faults, what="water_table_depth")
        gaps = table.isnull() & table.notnull().any("time")
        if bool(gaps.any()):
            day = gaps.any([dim for dim in gaps.dims if dim != "time"])
            faults.add(
                "water_table_depth",
                "has days without a value",
                where=str(table["time"].values[np.flatnonzero(day.values)[0]])[:10],
                count=int(gaps.sum()),
                mend="fill the gaps, for example by straight lines: .interpolate_na('time')",
            )
