"""Design of drip and micro irrigation: uniformity, litres and hours of a plant, what is wetted and stored.

Uniformities are fractions: 0.9, not 90 %. Numbers, arrays or DataArrays in and out; NaN, a number that is not
known, gives NaN. 1 mm on 1 m2 is 1 L.
"""

from __future__ import annotations

from typing import Any, Literal, get_args

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.arguments import check_shapes, check_word, plain
from waterbudget.checks import note_where
from waterbudget.errors import Faults, collect
from waterbudget.handbook.classes import rate
from waterbudget.handbook.tables import read
from waterbudget.operands import ranged, within

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
FRACTION = "it is a fraction: give 0.05, not 5"
"""What mends a coefficient of variation above 1."""


# ------------------------------------------------------------------------------ uniformity
def emission_uniformity(cv: Any, emitters_per_plant: Any, lowest_flow: Any, mean_flow: Any) -> Any:
    """Emission uniformity of a design: ``EU = (1 - 1.27 Cv / sqrt(n)) q_min / q_mean``.

    Parameters
    ----------
    cv : float, array or DataArray
        Manufacturer's coefficient of variation [1], 0-1.
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
    with collect() as faults:
        cv = within(cv, "cv", faults, 0.0, 1.0, unit="1", mend=FRACTION)
        emitters_per_plant = within(emitters_per_plant, "emitters_per_plant", faults, 1.0)
        lowest_flow = ranged(lowest_flow, "emitter_flow", faults, "lowest_flow")
        mean_flow = ranged(mean_flow, "emitter_flow", faults, "mean_flow")
        shown = {"lowest_flow": lowest_flow, "mean_flow": mean_flow}
        if check_shapes(faults, cv=cv, emitters_per_plant=emitters_per_plant, **shown):
            none = xr.DataArray(mean_flow == 0.0)
            note_where(faults, "mean_flow", "is 0", none, shown, allowed="above 0")
            # The mean of equal flows may lie below them in its last bit.
            above = xr.DataArray(lowest_flow > mean_flow * (1.0 + 1e-12))
            note_where(faults, "lowest_flow", "is above mean_flow", above, shown)
    return (1.0 - LOW_FLOW * cv / np.sqrt(emitters_per_plant)) * lowest_flow / mean_flow


def statistical_uniformity(hydraulic_variation: Any, exponent: Any, emitter_variation: Any) -> Any:
    """Statistical uniformity of a design: ``Us = 1 - Vq``, ``Vq^2 = (x Vh)^2 + Vpm^2``.

    Parameters
    ----------
    hydraulic_variation : float, array or DataArray
        Coefficient of variation of the pressure over the emitters, Vh [1], 0-1.
    exponent : float, array or DataArray
        Exponent x of the emitters [1], 0-1.
    emitter_variation : float, array or DataArray
        Coefficient of variation of the emitters themselves, manufacture, wear and plugging, Vpm [1],
        0-1.

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
        hydraulic = within(
            hydraulic_variation, "hydraulic_variation", faults, 0.0, 1.0, unit="1", mend=FRACTION
        )
        emitter = within(emitter_variation, "emitter_variation", faults, 0.0, 1.0, unit="1", mend=FRACTION)
        exponent = ranged(exponent, "emitter_exponent", faults, "exponent")
        check_shapes(faults, hydraulic_variation=hydraulic, exponent=exponent, emitter_variation=emitter)
    return 1.0 - variation_of_flow(hydraulic, exponent, emitter)


def variation_of_flow(hydraulic_variation: Any, exponent: Any, emitter_variation: Any) -> Any:
    """Coefficient of variation of the flow, Vq, as `statistical_uniformity` takes it; nothing is checked."""
    return np.hypot(exponent * hydraulic_variation, emitter_variation)


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
        When there is no such measure, or the value cannot be one: above 1, or below 0 for a variation.
    """
    with collect() as faults:
        check_word(measure, "measure", faults, get_args(Measure))
        value = float(plain(value, "value", faults, single=True))
        if not faults:
            _check_rated(measure, round(value, 12), faults)
    return rate("micro_classes", measure, value).rating


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
        depth = within(depth, "depth", faults, 0.0, unit="mm")
        plant_spacing = ranged(plant_spacing, "spacing", faults, "plant_spacing")
        row_spacing = ranged(row_spacing, "spacing", faults, "row_spacing")
        check_shapes(faults, depth=depth, plant_spacing=plant_spacing, row_spacing=row_spacing)
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
    with collect() as faults:
        litres = within(litres, "litres", faults, 0.0, unit="L")
        emitters_per_plant = within(emitters_per_plant, "emitters_per_plant", faults, 0.0, above=True)
        emitter_flow = ranged(emitter_flow, "emitter_flow", faults)
        flow = xr.DataArray(emitter_flow)
        note_where(faults, "emitter_flow", "is 0", flow == 0.0, {"emitter_flow": flow}, allowed="above 0")
        efficiency = ranged(efficiency, "efficiency", faults)
        check_shapes(
            faults,
            litres=litres,
            emitters_per_plant=emitters_per_plant,
            emitter_flow=emitter_flow,
            efficiency=efficiency,
        )
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
        part = ranged(wetted_fraction, "wetted_fraction", faults)
        given = _ground(emitter_spacing, wetted_width, plant_spacing, row_spacing, faults)
        check_shapes(faults, wetted_fraction=part, **given)
    # Without the last bits, so that exactly four emitters do not become five.
    return np.ceil(np.round(part / _wetted_by_one(**given), 9))


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
        number = within(emitters_per_plant, "emitters_per_plant", faults, 0.0, above=True)
        given = _ground(emitter_spacing, wetted_width, plant_spacing, row_spacing, faults)
        check_shapes(faults, emitters_per_plant=number, **given)
    part = number * _wetted_by_one(**given)
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
        available_water = within(available_water, "available_water", faults, 0.0, unit="mm")
        wetted_volume = ranged(wetted_volume, "wetted_volume", faults)
        allowable_depletion = ranged(allowable_depletion, "allowable_depletion", faults)
        check_shapes(
            faults,
            available_water=available_water,
            wetted_volume=wetted_volume,
            allowable_depletion=allowable_depletion,
        )
    return allowable_depletion * available_water * wetted_volume


def _wetted_by_one(emitter_spacing: Any, wetted_width: Any, plant_spacing: Any, row_spacing: Any) -> Any:
    """Part of a plant's ground that one emitter wets [1]."""
    apart = float(limit("emitter spacing over wetted width")["high"])
    return np.minimum(emitter_spacing, apart * wetted_width) * wetted_width / (plant_spacing * row_spacing)


def limit(name: str) -> pd.Series[Any]:
    """Give the row of the handbook's ``micro_classes`` that stands alone under its name."""
    rows = read("micro_classes")
    return rows[rows["name"] == name].iloc[0]


def _ground(
    emitter_spacing: Any, wetted_width: Any, plant_spacing: Any, row_spacing: Any, faults: Faults
) -> dict[str, Any]:
    """Take the distances of emitters and plants, by name."""
    given = {
        "emitter_spacing": emitter_spacing,
        "wetted_width": wetted_width,
        "plant_spacing": plant_spacing,
        "row_spacing": row_spacing,
    }
    return {name: ranged(value, "spacing", faults, name) for name, value in given.items()}


def _check_rated(measure: str, value: float, faults: Faults) -> None:
    """Note a fraction that no measure can have."""
    if measure.startswith("variation") and value < 0.0:
        faults.add(measure, "is negative", value=f"{value:g}", allowed="0 to 1")
    elif value > 1.0:
        mend = "give a fraction, not a percentage"
        faults.add(measure, "is above 1", value=f"{value:g}", allowed="at most 1", mend=mend)
