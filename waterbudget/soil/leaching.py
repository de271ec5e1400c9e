"""Leaching of salts: how much water must pass through the root zone, and how salty it becomes.

Numbers, arrays or DataArrays in and out; NaN stays NaN.

Source, where no other is named: Ayers, R.S., Westcot, D.W. (1985), *Water quality for agriculture*, FAO
Irrigation and Drainage Paper 29 rev. 1, chapter 2 (from memory). It takes the season as a steady state, and
the soil water at field capacity as twice as salty as the saturation extract.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from waterbudget.arguments import check_shapes
from waterbudget.checks import note_where
from waterbudget.errors import Faults, collect
from waterbudget.operands import within

UPTAKE_PATTERN = (0.4, 0.3, 0.2, 0.1)
"""Part of the uptake from each quarter of the root zone, from the top (FAO-29, from memory)."""
SOIL_WATER_OVER_EXTRACT = 2.0
"""ECsw / ECe: salinity of the soil water at field capacity over that of the saturation extract (FAO-29)."""
SALT_PER_LITRE = 640.0
"""Dissolved salts [mg/L] for each dS/m (FAO-29, from memory; waters beyond 5 dS/m hold more)."""

_UNITS = {
    "water_salinity": "dS m-1",
    "crop_salinity": "dS m-1",
    "zero_yield_salinity": "dS m-1",
    "threshold": "dS m-1",
    "slope": "% per dS m-1",
    "et": "mm",
    "required": "mm",
    "percolated": "mm",
    "leaching_requirement": "1",
    "leaching_fraction": "1",
    "relative_yield": "1",
}
"""What the numbers of the formulas are given in."""


# ------------------------------------------------------------------------------ requirement
def leaching_requirement(water_salinity: Any, crop_salinity: Any) -> Any:
    """Leaching requirement under surface irrigation and ordinary sprinkling.

    ``LR = ECw / (5 ECe - ECw)``

    Parameters
    ----------
    water_salinity : float or array
        ECw, electrical conductivity of the irrigation water [dS m-1], 0 or more.
    crop_salinity : float or array
        ECe that the crop stands at the yield wanted, mean of the root zone [dS m-1], above 0; from
        `salinity_at_yield`.

    Returns
    -------
    float or array
        LR, part of the infiltrated irrigation (AW of `required_water`; rain is not in it) that must leave the
        root zone below [1], 0 or more, below 1.

    Raises
    ------
    InputError
        When a salinity is negative, or the requirement would be 1 or more.

    Notes
    -----
    Rhoades, J.D. (1974), Drainage for salinity control, in *Drainage for agriculture*; taken over by FAO-29.
    """
    water_salinity, crop_salinity = _at_least_zero(water_salinity=water_salinity, crop_salinity=crop_salinity)
    with collect() as faults:
        _note(
            faults,
            "leaching requirement",
            "is 1 or more: however much of this water passes, the soil stays saltier than the crop stands",
            water_salinity >= 2.5 * crop_salinity,
            {"water_salinity": water_salinity, "crop_salinity": crop_salinity},
            allowed="water_salinity below 2.5 times crop_salinity",
            mend="fresher water, a crop that stands more salt, or the crop_salinity of a lower yield",
        )
    return water_salinity / (5.0 * crop_salinity - water_salinity)


def leaching_requirement_frequent(water_salinity: Any, zero_yield_salinity: Any) -> Any:
    """Leaching requirement under drip and sprinkling day by day.

    ``LR = ECw / (2 max ECe)``

    Parameters
    ----------
    water_salinity : float or array
        ECw, electrical conductivity of the irrigation water [dS m-1], 0 or more.
    zero_yield_salinity : float or array
        ECe at which nothing is left of the yield [dS m-1], above 0: `salinity_at_yield` of 0.

    Returns
    -------
    float or array
        As `leaching_requirement`.

    Raises
    ------
    InputError
        As `leaching_requirement`.
    """
    water_salinity, zero_yield_salinity = _at_least_zero(
        water_salinity=water_salinity, zero_yield_salinity=zero_yield_salinity
    )
    with collect() as faults:
        _note(
            faults,
            "leaching requirement",
            "is 1 or more: the water alone is as salty as soil on which the crop yields nothing",
            water_salinity >= SOIL_WATER_OVER_EXTRACT * zero_yield_salinity,
            {"water_salinity": water_salinity, "zero_yield_salinity": zero_yield_salinity},
            allowed="water_salinity below 2 times zero_yield_salinity",
            mend="fresher water, or a crop that stands more salt",
        )
    return water_salinity / (SOIL_WATER_OVER_EXTRACT * zero_yield_salinity)


def required_water(et: Any, leaching_requirement: Any) -> Any:
    """Infiltrated water that serves evapotranspiration and leaching.

    ``AW = ET / (1 - LR)``. Of it LR AW passes through the root zone.

    Parameters
    ----------
    et : float or array
        Evapotranspiration that this water is to meet [mm], 0 or more.
    leaching_requirement : float or array
        LR [1], 0 or more, below 1.

    Returns
    -------
    float or array
        Depth [mm]. What percolates because watering is uneven is part of it, spray loss and runoff are not.

    Raises
    ------
    InputError
        When the requirement is negative, or is 1 or more.
    """
    et, leaching_requirement = _at_least_zero(et=et, leaching_requirement=leaching_requirement)
    with collect() as faults:
        _note(
            faults,
            "leaching requirement",
            "is 1 or more: no depth of water would be enough",
            leaching_requirement >= 1.0,
            {"leaching_requirement": leaching_requirement},
            allowed="0 or more, below 1; a fraction, not a percentage",
            mend="fresher water, or a crop that stands more salt",
        )
    return et / (1.0 - leaching_requirement)


def leaching_shortfall(required: Any, percolated: Any) -> Any:
    """Depth that is still to pass through the root zone.

    ``max(required - percolated, 0)``: leaching is what is lacking, not a factor on every irrigation.

    Parameters
    ----------
    required : float or array
        Depth that must pass in a season [mm].
    percolated : float or array
        Depth that rain and uneven watering let pass anyway [mm].

    Returns
    -------
    float or array
        Depth [mm].

    Raises
    ------
    InputError
        When a depth is negative or no number.
    """
    required, percolated = _at_least_zero(required=required, percolated=percolated)
    return np.maximum(required - percolated, 0.0)


# ------------------------------------------------------------------------------ steady state
def steady_state_profile(water_salinity: Any, leaching_fraction: Any) -> tuple[Any, ...]:
    """Salinity of the soil water down the root zone, where every season is like this one.

    ``ECsw = ECw / (1 - (1 - LF) u)``, with u the part of the uptake that lies above the depth: 40, 30, 20 and
    10 % of it come from the four quarters.

    Parameters
    ----------
    water_salinity : float or array
        ECw of the water that infiltrates [dS m-1], 0 or more.
    leaching_fraction : float or array
        LF, part of all water that infiltrated, rain too, that leaves the root zone below [1], above 0, at
        most 1.

    Returns
    -------
    tuple of five float or array
        ECsw [dS m-1] at the surface and at the bottom of each quarter of the root zone, from the top.

    Raises
    ------
    InputError
        When the salinity is negative, or the leaching fraction outside its range: without leaching salts
        build up without end.
    """
    water_salinity, leaching_fraction = _at_least_zero(
        water_salinity=water_salinity, leaching_fraction=leaching_fraction
    )
    with collect() as faults:
        _check_leaching_fraction(faults, leaching_fraction)
    above = (0.0, *np.cumsum(UPTAKE_PATTERN[:-1]).tolist(), 1.0)
    return tuple(water_salinity / (1.0 - (1.0 - leaching_fraction) * part) for part in above)


def root_zone_salinity(water_salinity: Any, leaching_fraction: Any) -> Any:
    """Mean salinity of the root zone in the steady state, as saturation extract.

    Half the mean of the five values of `steady_state_profile`.

    Parameters
    ----------
    water_salinity, leaching_fraction : float or array
        As in `steady_state_profile`.

    Returns
    -------
    float or array
        ECe [dS m-1].

    Raises
    ------
    InputError
        As `steady_state_profile`.
    """
    profile = steady_state_profile(water_salinity, leaching_fraction)
    return sum(profile) / len(profile) / SOIL_WATER_OVER_EXTRACT


def uptake_weighted_salinity(water_salinity: Any, leaching_fraction: Any) -> Any:
    """Salinity that roots meet under frequent irrigation, weighted by where they take water up.

    ``ECe = ECw ln(1 / LF) / (1 - LF) / 2``, whatever the pattern of uptake. Lower than `root_zone_salinity`:
    plants that are watered day by day take most of their water where it is fresh.

    Parameters
    ----------
    water_salinity, leaching_fraction : float or array
        As in `steady_state_profile`; at a leaching fraction of 1 the weighted mean is that of the water.

    Returns
    -------
    float or array
        ECe [dS m-1].

    Raises
    ------
    InputError
        As `steady_state_profile`.

    Notes
    -----
    The integral of the profile above over the uptake. The weighting is that of Bernstein, L., Francois, L.E.
    (1973), Leaching requirement studies, Soil Science Society of America Proceedings 37, 931-943 (from
    memory).
    """
    water_salinity, leaching_fraction = _at_least_zero(
        water_salinity=water_salinity, leaching_fraction=leaching_fraction
    )
    with collect() as faults:
        _check_leaching_fraction(faults, leaching_fraction)
    consumed = 1.0 - leaching_fraction
    whole = consumed == 0.0
    concentration = (whole - np.log1p(-consumed)) / (consumed + whole)  # 1 where nothing is consumed
    return water_salinity * concentration / SOIL_WATER_OVER_EXTRACT


# ------------------------------------------------------------------------------ yield and mass
def salinity_at_yield(threshold: Any, slope: Any, relative_yield: Any) -> Any:
    """Salinity of the root zone that leaves a given yield.

    ``ECe = threshold + 100 (1 - Y) / slope``, the relation of Maas and Hoffman (1977) the other way round.

    Parameters
    ----------
    threshold : float or array
        ECe up to which the crop yields in full [dS m-1] (FAO-56 Table 23), 0 or more.
    slope : float or array
        Yield lost above the threshold [% per dS m-1], above 0.
    relative_yield : float or array
        Yield wanted over the yield without salt [1], 0-1: 0.9 or 1 for `leaching_requirement`, 0 for
        `leaching_requirement_frequent`.

    Returns
    -------
    float or array
        ECe [dS m-1].

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    threshold, slope, relative_yield = _at_least_zero(
        threshold=threshold, slope=slope, relative_yield=relative_yield
    )
    with collect() as faults:
        _note(
            faults,
            "slope",
            "is not above 0: salt would take nothing from the yield",
            slope <= 0.0,
            {"slope": slope},
            allowed="above 0 % per dS/m",
            mend="FAO-56 Table 23 lists it",
        )
        _note(
            faults,
            "relative_yield",
            "is above 1",
            relative_yield > 1.0,
            {"relative_yield": relative_yield},
            allowed="0 to 1",
            mend="give a fraction, not a percentage",
        )
    return threshold + 100.0 * (1.0 - relative_yield) / slope


def salt_mass(salinity: Any, depth: Any) -> Any:
    """Salts dissolved in a depth of water.

    Parameters
    ----------
    salinity : float or array
        Electrical conductivity of the water [dS m-1].
    depth : float or array
        Depth of it [mm].

    Returns
    -------
    float or array
        Mass [t/ha]: 640 mg/L for each dS/m, and 10 m3 of water on a hectare for each mm. A negative depth
        (water that is lost) gives a negative mass.
    """
    return salinity * depth * SALT_PER_LITRE * 1e-5


# ------------------------------------------------------------------------------ checks
def _at_least_zero(**values: Any) -> list[Any]:
    """Take numbers; refuse those that are negative or none, and shapes or labels that do not fit."""
    with collect() as faults:
        taken = {name: within(value, name, faults, 0.0, unit=_UNITS[name]) for name, value in values.items()}
        check_shapes(faults, **taken)
    return list(taken.values())


def _check_leaching_fraction(faults: Faults, leaching_fraction: Any) -> None:
    """Note a leaching fraction outside its range."""
    outside = (leaching_fraction <= 0.0) | (leaching_fraction > 1.0)
    _note(
        faults,
        "leaching_fraction",
        "is outside its range; without leaching salts build up without end",
        outside,
        {"leaching_fraction": leaching_fraction},
        allowed="above 0, at most 1; a fraction, not a percentage",
        mend="drainage over the water that infiltrated",
    )


def _note(
    faults: Faults,
    what: str,
    problem: str,
    bad: Any,
    values: Mapping[str, Any],
    *,
    allowed: str,
    mend: str = "correct the value",
) -> None:
    """Note what is marked, whether the numbers have labels or not."""
    marked = xr.DataArray(bad)
    shown = {
        name: value
        if isinstance(value, xr.DataArray)
        else xr.DataArray(np.broadcast_to(value, marked.shape), dims=marked.dims)
        for name, value in values.items()
    }
    note_where(faults, what, problem, marked, shown, allowed=allowed, mend=mend)
