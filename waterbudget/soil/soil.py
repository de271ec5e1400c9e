"""Soil, the description: how much water it holds, how its surface dries, what it sheds and draws up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from waterbudget import handbook
from waterbudget.checks import labelled_fields
from waterbudget.descriptions import Origin, flag, freeze, number, with_sources
from waterbudget.errors import Faults, InputError, collect
from waterbudget.soil.check import check, check_layer_counts, check_particles
from waterbudget.soil.layers import LAYERED, fill_layers, on_layers
from waterbudget.soil.pedotransfer import readily_evaporable_water, water_from_particles
from waterbudget.soil.rows import check_depths
from waterbudget.tables import as_table, read_numbers

EVAPORATION_DEPTH = 0.10
"""Depth of the evaporation layer [m] for which FAO-56 Table 19 prints TEW."""

_NEEDED = ("evaporation_depth", "drainage_fraction")
_OPTIONAL = (
    "rew",
    "tew",
    "curve_number",
    "intake_rate",
    "soil_salinity",
    "restricting_depth",
    "water_table_depth",
    "capillary_a",
    "capillary_n",
)
_PARTICLES = (
    "Saxton and Rawls 2006 from sand, clay and organic matter; field capacity at 33 kPa, "
    "wilting point at 1500 kPa"
)
_TEXTURE_REW = "Ritchie and others 1989 from sand and clay (as given by Allen and others 2005)"


@dataclass(frozen=True, kw_only=True, eq=False)
class Soil:
    """A soil: one uniform profile, or layers.

    Every number may be a float in the unit given, text with a unit (``"2 in/ft"``), or a DataArray
    on label dimensions such as ``field``. Those marked *by layer* may also be a sequence with one
    number for each layer, from the surface down, and then become arrays on ``layer``.

    Parameters
    ----------
    field_capacity, wilting_point : number, optional, by layer
        Water contents [m3 m-3]; the first must be the larger.
    available_water : number, optional, by layer
        Their difference [m3 m-3], for a soil of which only that is known. Give the pair or this.
    layer_bottom : sequence of number, optional
        Depth of the bottom of each layer [m], ascending; without it the soil is uniform. Roots and
        the evaporation layer must end within the layers.
    saturation : number, optional, by layer
        Water content at saturation [m3 m-3], above field capacity.
    rew, tew : number, optional
        Readily and totally evaporable water of the surface layer [mm] (FAO-56 Table 19), ``rew``
        below ``tew``; needed where soil evaporation is computed: with ``kcb``, and on days of bare
        soil. Without ``tew`` it follows from field capacity and wilting point by Eq. 73.
    evaporation_depth : number
        Depth of the surface layer [m], 0.05-0.3; 0.10 as in Table 19.
    drainage_fraction : number
        Part of the water above field capacity that percolates in a day, above 0; 1 is all of it at
        once. Below 1 the rest stays, up to saturation, which is then needed.
    curve_number : number, optional
        Curve number for the runoff of rain, 1-100. Without it, an ``intake_rate`` or runoff given
        with the weather no rain runs off.
    adjust_curve_number : bool
        Let the curve number follow the dryness of the evaporation layer; needs ``rew`` and a
        ``tew``.
    intake_rate : number, optional
        Rate at which the soil takes water in [mm h-1], for runoff by the intensity of rain (not
        beside a curve number) and of irrigation whose system has a ``peak_application_rate``.
    soil_salinity : number, optional
        Mean salinity of the saturation extract of the root zone over the season [dS m-1].
    restricting_depth : number, optional
        Depth of a layer that roots do not enter [m].
    water_table_depth : number or daily series, optional
        Depth of the water table [m], below the deepest root.
    capillary_a, capillary_n : number, optional
        Coefficient [mm day-1 m^n] and exponent [1] (above 1) of the steady upward flow
        ``a / distance^n`` (Gardner 1958). They and the water table belong together.
    provenance : mapping
        Filled by `from_handbook` and `from_particles`; not for the user.

    Raises
    ------
    InputError
        With every fault of the description at once.

    Examples
    --------
    >>> Soil(field_capacity=0.23, wilting_point=0.10, rew=8, tew=18)
    >>> Soil(available_water="1.5 in/ft", rew=9, tew=20)
    >>> Soil(layer_bottom=(0.3, 1.2), field_capacity=(0.25, 0.32), wilting_point=(0.12, 0.18), rew=9)
    """

    field_capacity: Any = None
    wilting_point: Any = None
    available_water: Any = None
    layer_bottom: Any = None
    saturation: Any = None
    rew: Any = None
    tew: Any = None
    evaporation_depth: Any = field(
        default=EVAPORATION_DEPTH, metadata={"source": "default: FAO-56 Table 19 (Ze = 0.10 m)"}
    )
    drainage_fraction: Any = field(
        default=1.0, metadata={"source": "default: water above field capacity percolates at once (FAO-56)"}
    )
    curve_number: Any = None
    adjust_curve_number: Any = field(
        default=False, metadata={"source": "default: the curve number stands as given"}
    )
    intake_rate: Any = None
    soil_salinity: Any = None
    restricting_depth: Any = None
    water_table_depth: Any = None
    capillary_a: Any = None
    capillary_n: Any = None
    provenance: Mapping[str, Origin] = field(default_factory=dict, repr=False)

    def __post_init__(self) -> None:
        """Bring every value to its canonical form; raise all faults together."""
        with collect() as faults:
            by_depth = Faults()
            values = {
                name: on_layers(value, name, by_depth)
                for name in (*LAYERED, "layer_bottom")
                if (value := getattr(self, name)) is not None
            }
            faults.extend(tuple(by_depth))
            values |= {
                name: number(value, name, faults, optional=name in _OPTIONAL)
                for name in (*_NEEDED, *_OPTIONAL)
                if (value := _own_unit(self, name, faults)) is not None
            }
            values["adjust_curve_number"] = flag(self.adjust_curve_number, "adjust_curve_number", faults)
            freeze(self, values)
            if by_depth and self.layer_bottom is not None:
                return  # layers at fault cannot be compared with one another
            if check_layer_counts(self, faults) and labelled_fields(self, faults):
                if self.layer_bottom is not None:
                    each = {name: value for name in LAYERED if (value := getattr(self, name)) is not None}
                    freeze(self, {name: fill_layers(each[name], self.layer_bottom) for name in each})
                check(self, faults)

    @classmethod
    def from_handbook(cls, texture: str) -> Soil:
        """Describe a soil by its texture: FAO-56 Table 19, the middle of each printed range.

        Parameters
        ----------
        texture : str
            Texture class, its whole name: ``"sandy loam"``. Table 19 passes over clay loam, sandy clay loam
            and sandy clay: take `from_particles` there.

        Returns
        -------
        Soil
            Vary it with ``dataclasses.replace``.

        Raises
        ------
        InputError
            A texture that Table 19 does not have, with those that it has.
        """
        row = handbook.soil(texture)
        soil = cls(
            field_capacity=row.field_capacity, wilting_point=row.wilting_point, rew=row.rew, tew=row.tew
        )
        return with_sources(soil, {**row.sources, "evaporation_depth": "FAO-56 Table 19 (Ze = 0.10 m)"})

    @classmethod
    def from_layers(cls, table: pd.DataFrame | list[Mapping[str, Any]]) -> Soil:
        """Describe a soil by a table of its layers.

        Parameters
        ----------
        table : DataFrame or list of mappings
            A row for each layer, in any order: ``top_m``, ``bottom_m`` [m] and ``field_capacity``,
            ``wilting_point`` [m3 m-3], or ``available_water`` in their place; ``saturation`` where
            it is known. The first layer begins at 0, each further one where the one above ends.

        Returns
        -------
        Soil
            Add what is not by layer (``rew``, a curve number, ...) with ``dataclasses.replace``.

        Raises
        ------
        InputError
            Unknown or missing columns, depths that are no numbers, layers that overlap, leave a
            hole or do not begin at the surface, with the row; and the faults of the description.

        Examples
        --------
        >>> Soil.from_layers(
        ...     [
        ...         {"top_m": 0.0, "bottom_m": 0.3, "field_capacity": 0.25, "wilting_point": 0.12},
        ...         {"top_m": 0.3, "bottom_m": 1.2, "field_capacity": 0.32, "wilting_point": 0.18},
        ...     ]
        ... )
        """
        what = "layers"
        with collect() as faults:
            frame = as_table(table, what, ("top_m", "bottom_m"), LAYERED, faults)
        assert frame is not None  # or a fault was raised
        with collect() as faults:
            depths = {name: read_numbers(frame, name, what, faults) for name in ("top_m", "bottom_m")}
        frame = frame.assign(**depths).sort_values("top_m", kind="stable")
        with collect() as faults:
            above = frame["bottom_m"].shift().fillna(0.0)  # the first layer begins at the surface
            check_depths(frame["top_m"], frame["bottom_m"], above, what, faults)
        values: dict[str, Any] = {name: frame[name].tolist() for name in LAYERED if name in frame}
        return cls(layer_bottom=frame["bottom_m"].tolist(), **values)

    @classmethod
    def from_particles(
        cls, *, sand: Any, clay: Any, organic_matter: Any, rew: Any = None, tew: Any = None
    ) -> Soil:
        """Describe a soil by its particles: Saxton and Rawls (2006), and REW by texture.

        Parameters
        ----------
        sand, clay : number
            Percent by weight of the mineral particles, the rest is silt; clay at most 60, as in the
            samples of the regressions.
        organic_matter : number
            Percent by weight; at most 8, as in those samples.
        rew, tew : number, optional
            Your own, in place of REW by texture and TEW by Eq. 73 [mm]. Sand of little organic matter
            needs them: there REW by texture is not below TEW by Eq. 73.

        Returns
        -------
        Soil
            With field capacity, wilting point, saturation and ``rew``; ``tew`` follows by Eq. 73.

        Raises
        ------
        InputError
            Numbers outside their ranges, sand and clay above 100 together, particles beyond the
            samples of the regressions, or for which the regressions give no soil (pure sand, a
            wilting point below 0; REW not below TEW).
        """
        with collect() as faults:
            given = {
                name: number(value, name, faults)
                for name, value in (("sand", sand), ("clay", clay), ("organic_matter", organic_matter))
            }
        with collect() as faults:
            check_particles(given, faults)
        water = water_from_particles(**given)
        texture_rew = readily_evaporable_water(given["sand"], given["clay"])
        values = {**water._asdict(), "rew": texture_rew if rew is None else rew, "tew": tew}
        with collect() as faults:
            try:
                soil = cls(**values)
            except InputError as error:  # the regressions give no soil there
                faults.extend(error.faults, "worked out from the particles, ")
        sources = dict.fromkeys(water._fields, _PARTICLES)
        return with_sources(soil, sources if rew is not None else {**sources, "rew": _TEXTURE_REW})


def _own_unit(soil: Soil, name: str, faults: Faults) -> Any:
    """Give a field's value; text for capillary_a is a fault, because its unit depends on n."""
    value = getattr(soil, name)
    if name == "capillary_a" and isinstance(value, str):
        faults.add(
            name,
            "is text, and its unit depends on capillary_n",
            value=repr(value),
            allowed="a number [mm day-1 m^n]",
        )
        return None
    return value
