"""Soil, the description: how much water it holds, and how its surface dries."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from waterbudget import handbook
from waterbudget.checks import labelled_fields, note_where
from waterbudget.descriptions import Number, Origin, freeze, number, with_sources
from waterbudget.errors import Faults, collect

EVAPORATION_DEPTH = 0.10
"""Depth of the evaporation layer [m] for which FAO-56 Table 19 prints TEW."""

_FIELDS = (
    "field_capacity",
    "wilting_point",
    "available_water",
    "rew",
    "tew",
    "evaporation_depth",
    "curve_number",
)


@dataclass(frozen=True, kw_only=True, eq=False)
class Soil:
    """A soil: one uniform profile.

    Every number may be a float in the unit given, text with a unit (``"2 in/ft"``), or a DataArray
    on label dimensions such as ``field``.

    Parameters
    ----------
    field_capacity, wilting_point : number, optional
        Water contents [m3 m-3]; the first must be the larger.
    available_water : number, optional
        Their difference [m3 m-3], for a soil of which only that is known. Give the pair or this.
    rew, tew : number, optional
        Readily and totally evaporable water of the surface layer [mm] (FAO-56 Table 19); needed
        where soil evaporation is computed: with ``kcb``, and on days of bare soil. Without ``tew``
        it follows from field capacity and wilting point by Eq. 73.
    evaporation_depth : number
        Depth of the surface layer [m]; 0.10 as in Table 19.
    curve_number : number, optional
        Curve number for the runoff of rain, 1-100. Without it no rain runs off.
    provenance : mapping
        Filled by `from_handbook`; not for the user.

    Raises
    ------
    InputError
        With every fault of the description at once.

    Examples
    --------
    >>> Soil(field_capacity=0.23, wilting_point=0.10, rew=8, tew=18)
    >>> Soil(available_water="1.5 in/ft", rew=9, tew=20)
    """

    field_capacity: Any = None
    wilting_point: Any = None
    available_water: Any = None
    rew: Any = None
    tew: Any = None
    evaporation_depth: Any = field(
        default=EVAPORATION_DEPTH, metadata={"source": "default: FAO-56 Table 19 (Ze = 0.10 m)"}
    )
    curve_number: Any = None
    provenance: Mapping[str, Origin] = field(default_factory=dict, repr=False)

    def __post_init__(self) -> None:
        """Bring every value to its canonical form; raise all faults together."""
        with collect() as faults:
            freeze(
                self,
                {
                    name: number(value, name, faults, optional=name != "evaporation_depth")
                    for name in _FIELDS
                    if (value := getattr(self, name)) is not None
                },
            )
            if labelled_fields(self, faults):
                _check(self, faults)

    @classmethod
    def from_handbook(cls, texture: str) -> Soil:
        """Describe a soil by its texture: FAO-56 Table 19, the middle of each printed range.

        Parameters
        ----------
        texture : str
            Texture class: ``"sandy loam"``. A name that fits several rows lists them.

        Returns
        -------
        Soil
            Vary it with ``dataclasses.replace``.

        Raises
        ------
        InputError
            Unknown or ambiguous texture, with the nearest names.
        """
        row = handbook.soil(texture)
        soil = cls(
            field_capacity=row.field_capacity, wilting_point=row.wilting_point, rew=row.rew, tew=row.tew
        )
        return with_sources(soil, {**row.sources, "evaporation_depth": "FAO-56 Table 19 (Ze = 0.10 m)"})


class Storage(NamedTuple):
    """What the balance needs of a soil: plain labelled numbers.

    Attributes
    ----------
    available_water : float or DataArray
        Field capacity less wilting point [m3 m-3].
    rew, tew : float or DataArray
        NaN where unknown [mm].
    air_dry_water : float or DataArray
        Water below wilting point that evaporation can take from the surface layer [mm].
    curve_number : float or DataArray
        NaN where rain does not run off.
    """

    available_water: Number
    rew: Number
    tew: Number
    evaporation_depth: Number
    air_dry_water: Number
    curve_number: Number


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
    """
    nan = float("nan")
    available = nan if soil.available_water is None else soil.available_water
    pair = soil.field_capacity is not None and soil.wilting_point is not None
    tew = nan if soil.tew is None else soil.tew
    if pair:
        available = _first_known(available, soil.field_capacity - soil.wilting_point)
        tew = _first_known(
            tew, total_evaporable_water(soil.field_capacity, soil.wilting_point, soil.evaporation_depth)
        )
    # What the layer can lose below the wilting point. With Eq. 73 it is half the wilting point over
    # the layer; written as a difference it also holds for a tew that the user measured.
    air_dry = np.maximum(tew - 1000.0 * available * soil.evaporation_depth, 0.0)
    return Storage(
        available_water=available,
        rew=nan if soil.rew is None else soil.rew,
        tew=tew,
        evaporation_depth=soil.evaporation_depth,
        air_dry_water=air_dry if isinstance(air_dry, xr.DataArray) else float(air_dry),
        curve_number=nan if soil.curve_number is None else soil.curve_number,
    )


def _first_known(first: Number, second: Number) -> Number:
    """Take the first number, and the second where the first is not given."""
    if isinstance(first, xr.DataArray):
        return first.fillna(second)
    return second if np.isnan(first) else first


def _check(soil: Soil, faults: Faults) -> None:
    """Note what does not fit together."""
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
    known = {name: xr.DataArray(value) for name in _FIELDS if (value := getattr(soil, name)) is not None}
    if all(pair):
        held = known["field_capacity"] - known["wilting_point"]
        shown = {name: known[name] for name in ("wilting_point", "field_capacity")}
        note_where(
            faults,
            "wilting_point",
            "is not below field_capacity",
            held <= 0,
            shown,
            allowed="wilting_point < field_capacity",
        )
        if soil.available_water is not None:
            note_where(
                faults,
                "available_water",
                "contradicts field_capacity and wilting_point",
                abs(known["available_water"] - held) > 1e-9,
                shown | {"available_water": known["available_water"]},
                mend="give the pair or the difference, not both",
            )
    if not faults:
        note_where(
            faults,
            "soil water",
            "is not given for every label",
            xr.DataArray(store(soil).available_water).isnull(),
            {},
            mend="give field_capacity and wilting_point, or available_water",
        )
    if soil.rew is not None and soil.tew is not None:
        shown = {name: known[name] for name in ("rew", "tew")}
        note_where(
            faults, "rew", "is not below tew", known["rew"] >= known["tew"], shown, allowed="rew < tew"
        )
