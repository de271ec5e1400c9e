"""Design of drip and micro irrigation: uniformity, litres and hours of a plant, what is wetted and stored.

Uniformities are fractions: 0.9, not 90 %. Numbers, arrays or DataArrays in and out; NaN, a number that is not
known, gives NaN. 1 mm on 1 m2 is 1 L.
"""

from __future__ import annotations

from typing import Any, Literal, get_args

import numpy as np
import xarray as xr

from waterbudget.checks import in_range, note_where
from waterbudget.errors import Faults, collect
from waterbudget.handbook.tables import read

Measure = Literal[
    "variation, point source",
    "variation, line source",
    "statistical uniformity",
    "emission uniformity",
]
"""What `quality` can rate."""
LOW_FLOW = 1.27
"""How far the mean of the lowest quarter lies below the mean of a normal distribution, in deviations, as the
formula of emission uniformity rounds it (Keller and Karmeli 1974)."""
OVERLAP = 0.8
"""Spacing over wetted width beyond which emitters wet no more each: at this spacing spots just make a strip.
Source: Keller, J., Bliesner, R.D. (1990), Sprinkle and Trickle Irrigation (from memory)."""


# ------------------------------------------------------------------------------ uniformity
def emission_uniformity(cv: Any, emitters_per_plant: Any, lowest_flow: Any, mean_flow: Any) -> Any:
    """Emission uniformity of a design: ``EU = (1 - 1.27 Cv / sqrt(n)) q_min / q_mean``.

    Parameters
    ----------
    cv : float, array or DataArray
        Manufacturer's coefficient of variation [1], 0 or more.
    emitters_per_plant : int, array or DataArray
        n, 1 or more; 1 where several plants share one emitter.
    lowest_flow : float, array or DataArray
        Flow at the lowest pressure, by the emitter's curve [L h-1].
    mean_flow : float, array or DataArray
        Mean flow, or flow at the mean pressure [L h-1], above 0 and at least ``lowest_flow``.

    Returns
    -------
    float, array or DataArray
        EU [1], at most 1. Below 0 where Cv is above ``0.79 sqrt(n)``: the formula is not made for that.

    Raises
    ------
    InputError
        When a number is outside its range.

    Notes
    -----
    Source: Keller and Karmeli (1974), as in ASABE EP405; 1.27 is the mean of the lowest quarter of a normal
    distribution in deviations.
    """
    number, mean, low = xr.DataArray(emitters_per_plant), xr.DataArray(mean_flow), xr.DataArray(lowest_flow)
    with collect() as faults:
        _check_variation(cv, "cv", faults)
        shown = {"emitters_per_plant": number}
        note_where(faults, "emitters_per_plant", "is below 1", number < 1, shown, allowed="1 or more")
        in_range(low, "emitter_flow", faults, what="lowest_flow")
        in_range(mean, "emitter_flow", faults, what="mean_flow")
        values = {"lowest_flow": low, "mean_flow": mean}
        note_where(faults, "mean_flow", "is 0", mean == 0.0, values, allowed="above 0")
        above = low > mean * (1.0 + 1e-12)  # the mean of equal flows may lie below them in its last bit
        note_where(faults, "lowest_flow", "is above mean_flow", above, values)
    return (1.0 - LOW_FLOW * cv / np.sqrt(emitters_per_plant)) * lowest_flow / mean_flow


def statistical_uniformity(hydraulic_variation: Any, exponent: Any, emitter_variation: Any) -> Any:
    """Statistical uniformity of a design: ``Us = 1 - Vq``, ``Vq^2 = (x Vh)^2 + Vpm^2``.

    Parameters
    ----------
    hydraulic_variation : float, array or DataArray
        Coefficient of variation of the pressure over the emitters, Vh [1].
    exponent : float, array or DataArray
        Exponent x of the emitters [1], 0-1.
    emitter_variation : float, array or DataArray
        Coefficient of variation of the emitters themselves, manufacture, wear and plugging, Vpm [1].

    Returns
    -------
    float, array or DataArray
        Us [1].

    Raises
    ------
    InputError
        When a number is outside its range.

    Notes
    -----
    Source: Bralts, V.F., Wu, I.P., Gitlin, H.M. (1981), Transactions of the ASAE 24, as in ASABE EP458 (from
    memory). ``x Vh`` is the first term of a series: good while Vh is small.
    """
    with collect() as faults:
        _check_variation(hydraulic_variation, "hydraulic_variation", faults)
        _check_variation(emitter_variation, "emitter_variation", faults)
        in_range(xr.DataArray(exponent), "emitter_exponent", faults, what="exponent")
    return 1.0 - np.hypot(exponent * hydraulic_variation, emitter_variation)


def quality(measure: Measure, value: float) -> str:
    """Rate a variation or a uniformity by the handbook's classes (``micro_classes``, from memory).

    Parameters
    ----------
    measure : str
        ``"variation, point source"`` or ``"variation, line source"`` of manufacture,
        ``"statistical uniformity"``, ``"emission uniformity"``.
    value : float
        [1], not a percentage.

    Returns
    -------
    str
        The rating; ``"between good and excellent"`` where the printed classes leave a gap; empty for NaN.

    Raises
    ------
    InputError
        When there is no such measure, or the value cannot be one: below 0 for a variation, above 1 for a
        uniformity.
    """
    rated, variation = round(value, 12), str(measure).startswith("variation")
    with collect() as faults:
        if measure not in get_args(Measure):
            faults.add("measure", "is not known", value=repr(measure), allowed="; ".join(get_args(Measure)))
        elif variation and rated < 0.0:
            faults.add(measure, "is negative", value=f"{value:g}", allowed="0 or more")
        elif not variation and rated > 1.0:
            mend = "give a fraction, not a percentage"
            faults.add(measure, "is above 1", value=f"{value:g}", allowed="at most 1", mend=mend)
    if np.isnan(value):
        return ""
    rows = read("micro_classes")
    rows = rows[rows["name"] == measure]
    shown = round(value * (100.0 if rows["unit"].iloc[0] == "percent" else 1.0), 9)
    low, high = rows["low"].fillna(-np.inf), rows["high"].fillna(np.inf)
    limit_counts = rows["relation"] == "range"
    inside = (low < shown) & (shown < high) | limit_counts & ((shown == low) | (shown == high))
    if inside.any():
        return str(rows.loc[inside, "rating"].iloc[0])
    worse, better = high.where(high <= shown).idxmax(), low.where(low >= shown).idxmin()
    return f"between {rows.loc[worse, 'rating']} and {rows.loc[better, 'rating']}"


# ----------------------------------------------------------------------------- by the plant
def litres_per_plant(depth: Any, plant_spacing: Any, row_spacing: Any) -> Any:
    """Water of a plant: depth over the field times the ground of a plant.

    Parameters
    ----------
    depth : float, array or DataArray
        Depth over the field [mm], 0 or more; of a day for litres a day.
    plant_spacing, row_spacing : float, array or DataArray
        Distance of plants in the row, and of rows [m].

    Returns
    -------
    float, array or DataArray
        Water [L]. In US units gallons are 0.623 times inches times square feet.

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        _note_negative(depth, "depth", faults)
        _check_spacing(plant_spacing, row_spacing, faults)
    return depth * plant_spacing * row_spacing


def hours_for(litres: Any, emitters_per_plant: Any, emitter_flow: Any, efficiency: Any) -> Any:
    """Hours to give a plant its water: ``litres / (emitters flow efficiency)``.

    Parameters
    ----------
    litres : float, array or DataArray
        Net water of a plant [L], 0 or more.
    emitters_per_plant : float, array or DataArray
        How many, above 0; half where two plants share one.
    emitter_flow : float, array or DataArray
        Mean flow of an emitter [L h-1], above 0.
    efficiency : float, array or DataArray
        Net over gross water [1], above 0 and at most 1.

    Returns
    -------
    float, array or DataArray
        Hours.

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    flow = xr.DataArray(emitter_flow)
    with collect() as faults:
        _note_negative(litres, "litres", faults)
        _check_emitters(emitters_per_plant, faults)
        in_range(flow, "emitter_flow", faults)
        note_where(faults, "emitter_flow", "is 0", flow == 0.0, {"emitter_flow": flow}, allowed="above 0")
        in_range(xr.DataArray(efficiency), "efficiency", faults)
    return litres / (emitters_per_plant * emitter_flow * efficiency)


def emitters_per_plant(
    wetted_fraction: Any, emitter_spacing: Any, wetted_width: Any, plant_spacing: Any, row_spacing: Any
) -> Any:
    """Fewest emitters that wet a part of the ground: the formula of `wetted_fraction`, turned round.

    Parameters
    ----------
    wetted_fraction : float, array or DataArray
        Part of the ground to be wetted [1], above 0 and at most 1.
    emitter_spacing, wetted_width, plant_spacing, row_spacing : float, array or DataArray
        As in `wetted_fraction`.

    Returns
    -------
    float, array or DataArray
        Whole emitters of a plant, rounded up.

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        in_range(xr.DataArray(wetted_fraction), "wetted_fraction", faults)
        _check_wetting(emitter_spacing, wetted_width, faults)
        _check_spacing(plant_spacing, row_spacing, faults)
    ground = plant_spacing * row_spacing
    # Without the last bits, so that exactly four emitters do not become five.
    return np.ceil(np.round(wetted_fraction * ground / _wetted_area(emitter_spacing, wetted_width), 9))


def wetted_fraction(
    emitters_per_plant: Any, emitter_spacing: Any, wetted_width: Any, plant_spacing: Any, row_spacing: Any
) -> Any:
    """Part of the ground that emitters wet: ``Pw = e Se Sw / (Sp Sr)``, Se at most 0.8 Sw.

    Parameters
    ----------
    emitters_per_plant : float, array or DataArray
        e, above 0.
    emitter_spacing : float, array or DataArray
        Distance of emitters along the lateral, Se [m].
    wetted_width : float, array or DataArray
        Width of the strip, or diameter of the spot, that an emitter wets, Sw [m]: dug, some 0.3 m deep, after
        a usual watering. It is the user's to measure; soils differ too much for a table.
    plant_spacing, row_spacing : float, array or DataArray
        Distance of plants in the row, Sp, and of rows, Sr [m].

    Returns
    -------
    float, array or DataArray
        Pw [1]: ``wetted_fraction`` of a `System` where measured at the surface, ``wetted_volume`` where in
        the depth of the roots.

    Raises
    ------
    InputError
        When a number is outside its range, or more ground would be wetted than there is.

    Notes
    -----
    Source: Keller and Karmeli (1974); spots apart from one another count 0.8 Sw each way, close to the area
    of their circle: Keller and Bliesner (1990); both from memory.
    """
    with collect() as faults:
        _check_emitters(emitters_per_plant, faults)
        _check_wetting(emitter_spacing, wetted_width, faults)
        _check_spacing(plant_spacing, row_spacing, faults)
    part = emitters_per_plant * _wetted_area(emitter_spacing, wetted_width) / (plant_spacing * row_spacing)
    shown = xr.DataArray(part)
    with collect() as faults:
        note_where(
            faults,
            "wetted fraction",
            "is above 1",
            shown > 1.0 + 1e-12,
            {"wetted fraction": shown},
            allowed="at most 1",
            mend="where wetted strips overlap, all of the ground is wetted: take 1",
        )
    return np.minimum(part, 1.0)  # without the last bits of the division


def wetted_storage(available_water: Any, wetted_volume: Any, allowable_depletion: Any) -> Any:
    """Net depth over the field that one irrigation of the wetted soil can store: ``dx = MAD AW Z Pw``.

    Parameters
    ----------
    available_water : float, array or DataArray
        Total available water of the whole root zone [mm], ``AW Z``.
    wetted_volume : float, array or DataArray
        Part of the root zone that is wetted, Pw [1].
    allowable_depletion : float, array or DataArray
        Part of the available water that may be used before, MAD [1].

    Returns
    -------
    float, array or DataArray
        Depth [mm].

    Raises
    ------
    InputError
        When a number is outside its range.

    Notes
    -----
    Source: Keller and Karmeli (1974) (from memory).
    """
    with collect() as faults:
        _note_negative(available_water, "available_water", faults)
        in_range(xr.DataArray(wetted_volume), "wetted_volume", faults)
        in_range(xr.DataArray(allowable_depletion), "allowable_depletion", faults)
    return allowable_depletion * available_water * wetted_volume


def _wetted_area(emitter_spacing: Any, wetted_width: Any) -> Any:
    """Ground that one emitter wets [m2]."""
    return np.minimum(emitter_spacing, OVERLAP * wetted_width) * wetted_width


def _check_wetting(emitter_spacing: Any, wetted_width: Any, faults: Faults) -> None:
    in_range(xr.DataArray(emitter_spacing), "spacing", faults, what="emitter_spacing")
    in_range(xr.DataArray(wetted_width), "spacing", faults, what="wetted_width")


def _check_spacing(plant_spacing: Any, row_spacing: Any, faults: Faults) -> None:
    in_range(xr.DataArray(plant_spacing), "spacing", faults, what="plant_spacing")
    in_range(xr.DataArray(row_spacing), "spacing", faults, what="row_spacing")


def _check_emitters(count: Any, faults: Faults) -> None:
    emitters = xr.DataArray(count)
    shown = {"emitters_per_plant": emitters}
    note_where(faults, "emitters_per_plant", "is not above 0", emitters <= 0.0, shown, allowed="above 0")


def _note_negative(value: Any, name: str, faults: Faults) -> None:
    array = xr.DataArray(value)
    note_where(faults, name, "is negative", array < 0.0, {name: array}, allowed="0 or more")


def _check_variation(value: Any, name: str, faults: Faults) -> None:
    """Note coefficients of variation below 0."""
    array = xr.DataArray(value)
    note_where(faults, name, "is below 0", array < 0.0, {name: array}, allowed="0 or more, a fraction")
