"""Crop, the description: when it grows, what it draws, how deep it roots."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import xarray as xr

from waterbudget.checks import labelled_fields
from waterbudget.crop.canonical import (
    COEFFICIENTS,
    EXTENTS,
    climate_value,
    curve_value,
    said_too,
    stage_climate,
    stage_values,
)
from waterbudget.crop.check import check
from waterbudget.crop.coefficients import tall_to_short_ratio
from waterbudget.crop.heat import degree_days_of_stages
from waterbudget.crop.initial import Texture
from waterbudget.crop.intercrop import side_by_side
from waterbudget.crop.mulch import organic_reduction
from waterbudget.crop.mulched import ORGANIC_RULE, under_organic, under_plastic
from waterbudget.crop.observed import by_cover
from waterbudget.crop.tabled import tabled
from waterbudget.crop.thermal import LIMITS, Limit
from waterbudget.crop.varied import Changes, initial_by_wetting, over_ground_cover
from waterbudget.descriptions import Origin, flag, freeze, moment, number, with_sources
from waterbudget.errors import collect

_OPTIONAL = (
    "base_temperature",
    "upper_temperature",
    "killing_frost",
    "salt_threshold",
    "salt_slope",
    "yield_response",
)
"""Numbers that a crop, or a label of joined crops, may lack."""
_REDUCTIONS = ("evaporation_reduction", "residue_reduction")
_FLAGS = ("adjust_depletion_fraction", "unfinished", "surface_uptake")


@dataclass(frozen=True, kw_only=True, eq=False)
class Crop:
    """A crop on a field: its calendar, coefficients, roots and sensitivity to drought.

    Every number may be a float in the unit given, text with a unit (``"3 ft"``), or a DataArray on
    label dimensions such as ``field``. The canonical forms are listed under Attributes.

    Parameters
    ----------
    planted : date or DataArray of dates, optional
        Day 1 of the initial stage; may lie before the weather begins. Without it the crop grows on
        every day (or on the days of its daily series).
    stage_days : four numbers, optional
        Lengths of the initial, development, mid and late stage [day], 0 or more.
    kc : number, three numbers or daily series, optional
        Single crop coefficient [1]: constant, (initial, mid, end), or one value a day.
    kcb : number, three numbers or daily series, optional
        Basal crop coefficient [1], in the same forms; soil evaporation is then computed apart.
        Give exactly one of ``kc`` and ``kcb``.
    root_depth : number, two numbers or daily series
        Depth of the roots [m]: constant, (at planting, full), or one value a day. Two numbers grow
        over the development stage (FAO-56 Annex 8, Eq. 8-1).
    height : number or daily series, optional
        Full crop height [m]; needed with ``kcb``. It grows with the coefficient (Annex 8).
    stage_degree_days : four numbers, optional
        Growing degree days that each stage takes [degC day], in place of ``stage_days``: stages then
        pass by the heat since planting, and the weather needs tmin and tmax.
    base_temperature, upper_temperature : number, optional
        Temperatures [degC] between which heat counts; the base is needed with ``stage_degree_days``
        and lies below the upper one.
    heat_limit : {"extremes", "mean"}
        What is kept between them, as in `degree_days`: the day's two temperatures, or their mean.
        Crops that are joined share it.
    unfinished : bool
        Accept weather that ends before the degree days of all stages are reached.
    killing_frost : number, optional
        Minimum temperature of a day [degC] that ends the crop from mid-season on.
    cover : number, three numbers or daily series, optional
        Fraction of the ground covered [1]; from ``kcb`` and height by Eq. 76 when not given.
    climate : (wind, rhmin), optional
        Stated stage means of wind speed at 2 m [m s-1] and of minimum relative humidity [%]: each
        one number, or four, one a stage. They set the upper limit of the coefficient (Eq. 72).
        Without them the standard climate (2 m/s, 45 %) holds, and the result says so.
    basis : {"short", "tall"}
        Reference surface for which the coefficients hold.
    depletion_fraction : number
        Fraction p of the available water that the crop takes without stress at 5 mm/day [1].
    adjust_depletion_fraction : bool
        Adjust p to the day's evapotranspiration (FAO-56 p. 162): ``p + 0.04 (5 - ETc)``, in 0.1-0.8.
    evaporation_reduction, residue_reduction : number
        Part of the soil evaporation [1] that a mulch suppresses while the crop stands, and that its
        residue suppresses afterwards.
    surface_uptake : bool
        Roots draw on the evaporation layer (FAO-56 p. 156: of shallow-rooted crops).
    salt_threshold, salt_slope : number, optional
        Salinity of the saturation extract [dS m-1] up to which yield is full, and the yield lost above
        it [% per dS m-1] (FAO-56 Table 23). They go together and with ``yield_response``.
    yield_response : number, optional
        Seasonal yield response factor Ky [1] (FAO-56 Table 24).
    stage_yield_response : four numbers, optional
        Yield response factor of each stage [1].
    provenance : mapping
        Filled by methods that know their sources; not for the user.

    Attributes
    ----------
    stage_days, stage_degree_days, stage_yield_response : DataArray on ``stage``
    kc, kcb, cover : float, DataArray on ``coefficient``, or DataArray on ``time``
    root_depth : float, DataArray on ``extent``, or DataArray on ``time``
    climate : DataArray on ``mean`` (and ``stage``)

    Raises
    ------
    InputError
        With every fault of the description at once.

    Notes
    -----
    The user's own coefficients are never adjusted for climate; those of the handbook are, when
    `from_handbook` is told the climate.

    Examples
    --------
    >>> beans = Crop(planted="2024-05-23", stage_days=(25, 25, 30, 20), kcb=(0.15, 1.14, 0.25),
    ...              root_depth=(0.2, 0.8), height=0.4, depletion_fraction=0.45)
    """

    planted: Any = None
    stage_days: Any = None
    kc: Any = None
    kcb: Any = None
    root_depth: Any
    height: Any = None
    cover: Any = None
    climate: Any = None
    basis: Literal["short", "tall"] = field(
        default="short", metadata={"source": "default: FAO-56 coefficients are for the short reference"}
    )
    depletion_fraction: Any
    adjust_depletion_fraction: Any = field(
        default=True, metadata={"source": "default: FAO-56 p. 162 and Table 22"}
    )
    stage_degree_days: Any = None
    base_temperature: Any = None
    upper_temperature: Any = None
    heat_limit: Limit = field(
        default="extremes",
        metadata={"source": "default: tmin and tmax each limited, the practice for maize"},
    )
    unfinished: Any = field(default=False, metadata={"source": "default: the season must be complete"})
    killing_frost: Any = None
    evaporation_reduction: Any = field(default=0.0, metadata={"source": "default: no mulch"})
    residue_reduction: Any = field(default=0.0, metadata={"source": "default: no residue"})
    surface_uptake: Any = field(
        default=False, metadata={"source": "default: roots do not draw on the evaporation layer"}
    )
    salt_threshold: Any = None
    salt_slope: Any = None
    yield_response: Any = None
    stage_yield_response: Any = None
    provenance: Mapping[str, Origin] = field(default_factory=dict, repr=False)

    def __post_init__(self) -> None:
        """Bring every value to its canonical form; raise all faults together."""
        with collect() as faults:
            values: dict[str, Any] = {
                "planted": None if self.planted is None else moment(self.planted, "planted", faults),
                "stage_days": stage_values(self.stage_days, "stage_days", faults),
                "kc": curve_value(self.kc, "kc", ("coefficient", COEFFICIENTS), faults),
                "kcb": curve_value(self.kcb, "kcb", ("coefficient", COEFFICIENTS), faults),
                "root_depth": curve_value(
                    self.root_depth, "root_depth", ("extent", EXTENTS), faults, optional=False
                ),
                "height": curve_value(self.height, "height", None, faults),
                "cover": curve_value(self.cover, "cover", ("coefficient", COEFFICIENTS), faults),
                "climate": None if self.climate is None else climate_value(self.climate, faults),
                "depletion_fraction": number(self.depletion_fraction, "depletion_fraction", faults),
                "stage_degree_days": stage_values(self.stage_degree_days, "stage_degree_days", faults),
                "stage_yield_response": stage_values(
                    self.stage_yield_response, "stage_yield_response", faults
                ),
            }
            values |= {name: number(getattr(self, name), name, faults) for name in _REDUCTIONS}
            values |= {name: flag(getattr(self, name), name, faults) for name in _FLAGS}
            values |= {
                name: number(value, name, faults, optional=True)
                for name in _OPTIONAL
                if (value := getattr(self, name)) is not None
            }
            freeze(self, values)
            if self.heat_limit not in LIMITS:
                faults.add(
                    "heat_limit", "is unknown", value=repr(self.heat_limit), allowed="'extremes' or 'mean'"
                )
            if labelled_fields(self, faults):
                check(self, faults)

    @classmethod
    def from_handbook(
        cls,
        name: str,
        *,
        planted: Any,
        region: str | None = None,
        stage_days: Any = None,
        climate: Any = None,
        kind: Literal["dual", "single"] = "dual",
    ) -> Crop:
        """Describe a crop by the tables of FAO-56.

        Stage lengths come from Table 11, coefficients from Table 12 (single) or 17 (basal), height
        from Table 12, root depth and p from Table 22. Ranges are resolved by the handbook's stated
        rule: the middle, but the smaller root depth. Annuals root from 0.2 m (Annex 8). Salt tolerance
        comes from Table 23 and yield response from Table 24, where they list the crop. Roots of less
        than 0.5 m draw on the evaporation layer (p. 156).

        Parameters
        ----------
        name : str
            Crop, in plain words: ``"sweet maize"``. A name that fits several rows lists them.
        planted : date or DataArray of dates
            Day 1 of the initial stage. Its month chooses among the calendars of Table 11 unless
            ``region`` does.
        region : str, optional
            Part of a region's name as printed in Table 11.
        stage_days : four numbers, optional
            Your own stage lengths [day] in place of Table 11; needed for a crop it does not list.
        climate : (wind, rhmin), optional
            Stated stage means, as in `Crop`. When given, the mid and end coefficients of 0.45 and
            more are adjusted by Eq. 62, 65 or 70; otherwise they stand as printed, for the
            standard climate.
        kind : {"dual", "single"}
            Basal coefficient with soil evaporation apart, or single coefficient.

        Returns
        -------
        Crop
            Vary it with ``dataclasses.replace``.

        Raises
        ------
        InputError
            Unknown or ambiguous name or region; a crop without the table row that is needed.
        """
        values, sources = tabled(
            name, planted=planted, region=region, stage_days=stage_days, climate=climate, kind=kind
        )
        return with_sources(cls(**values), sources)

    @classmethod
    def from_cover(
        cls,
        cover: Any,
        *,
        height: Any,
        root_depth: Any,
        depletion_fraction: Any,
        climate: Any = None,
        ground_cover_kcb: Any = None,
        full_kcb: Any = None,
        multiplier: Any = 1.5,
        latitude: Any = None,
        height_to_width: Any = 1.0,
        arrangement: Literal["rows", "round"] = "rows",
    ) -> Crop:
        """Describe a crop by its observed cover, with the density coefficient (Allen and Pereira 2009).

        Between observations cover (and height) lie on straight lines; before the first and after the
        last the soil is bare. Made for orchards, vines and stands seen from the air.

        Parameters
        ----------
        cover : Series with a date index, or DataArray on ``time``
            Fraction of the ground that the crop covers on some dates [1], 0 to 1.
        height : number or dated values
            Height of the plants [m].
        root_depth : number or daily series
            Depth of the roots [m].
        depletion_fraction, climate
            As in `Crop`.
        ground_cover_kcb : number, optional
            Basal coefficient of plants between the rows where nothing shades them [1]; without it the
            ground is bare. Their cover is not part of this ``cover``; that of the crop made is of both
            together: what was seen, or what Eq. 76 gives from ``kcb`` and height where that is more.
        full_kcb : number, optional
            Basal coefficient at full cover [1]; by FAO-56 Eq. 99 from height and climate without it.
        multiplier : number
            M of `density_coefficient` [1], 1 to 2.
        latitude : number, optional
            [degree]; gives the shade at noon. Without it the sun is taken as overhead.
        height_to_width, arrangement
            As in `effective_cover`.

        Returns
        -------
        Crop
            With daily ``kcb`` and ``cover``.

        Raises
        ------
        InputError
            Values out of range, dates out of order, heights not observed on all days.
        """
        values, told = by_cover(
            cover,
            height=height,
            climate=climate,
            ground_cover_kcb=ground_cover_kcb,
            multiplier=multiplier,
            full_kcb=full_kcb,
            shade=(latitude, height_to_width, arrangement),
        )
        crop = cls(root_depth=root_depth, depletion_fraction=depletion_fraction, climate=climate, **values)
        return with_sources(crop, told)

    def with_ground_cover(self, kcb: Any) -> Crop:
        """Grow plants between the rows of an orchard or vineyard (Allen and Pereira 2009).

        The density coefficient that the crop's ``kcb`` stands for over bare ground is kept; the ground's
        0.15 gives way to ``kcb``. A stated cover is raised to what Eq. 76 gives from the new coefficient and
        the height where that is more (a curve of covers at its three points): it is of trees and of
        the plants between them together. Without one, Eq. 76 follows the new coefficient by itself.

        Parameters
        ----------
        kcb : number
            Basal coefficient of the ground cover where nothing shades it [1].

        Returns
        -------
        Crop

        Raises
        ------
        InputError
            For a crop with a single coefficient, or without a height at every label; for a curve of
            covers beside daily coefficients.
        """
        return self._varied(over_ground_cover(self, kcb))

    def with_organic_mulch(self, cover: Any, *, kcb: Any = None) -> Crop:
        """Lay straw, residue or another organic mulch while the crop stands (FAO-56 p. 197).

        Soil evaporation falls by 5 % for each 10 % of the surface covered. A single coefficient holds
        evaporation: its initial value falls by the same part, and with ``kcb`` so do the mid and end
        values, in what they have above the basal ones.

        Parameters
        ----------
        cover : number
            Fraction of the surface under mulch [1], 0 to 1.
        kcb : three numbers, optional
            Basal coefficients of a crop with single ones [1].

        Returns
        -------
        Crop

        Raises
        ------
        InputError
            Cover out of range; a mulch laid before; a single coefficient that is no curve.
        """
        return self._varied(under_organic(self, cover, kcb))

    def with_plastic_mulch(self, name: str = "Average", *, kcb_reduction: Any = 0.10) -> Crop:
        """Lay a complete plastic mulch over drip lines (FAO-56 Table 25 and Example 45).

        The initial coefficient becomes 0.10. Single mid and end coefficients fall by the middle of Table
        25, basal ones by ``kcb_reduction``; soil evaporation falls by the middle of Table 25.

        Parameters
        ----------
        name : str
            Row of Table 25: a vegetable, or ``"Average"``.
        kcb_reduction : number
            Part by which basal coefficients fall [1]: 0.10 in Example 45.

        Returns
        -------
        Crop

        Raises
        ------
        InputError
            Unknown name, or a row without an evaporation; a mulch laid before; no curve.
        """
        return self._varied(under_plastic(self, name, kcb_reduction))

    def with_residue(self, cover: Any) -> Crop:
        """Leave residue on the soil after the crop; evaporation falls as in `with_organic_mulch`.

        Parameters
        ----------
        cover : number
            Fraction of the surface under residue [1], 0 to 1.

        Returns
        -------
        Crop
        """
        with collect() as faults:
            covered = number(cover, "cover", faults, what="cover of the residue")
        reduction = organic_reduction(covered)
        return self._varied(({"residue_reduction": reduction}, {"residue_reduction": ORGANIC_RULE}))

    def with_initial_coefficient(
        self,
        *,
        interval: Any,
        depth: Any,
        et_ref: Any,
        texture: Texture = "medium",
        wetted_fraction: Any = 1.0,
    ) -> Crop:
        """Set the initial single coefficient by how often and how deeply the soil is wetted.

        FAO-56 Eq. 59 to 61 with Annex 7, the numeric form of Figures 29 and 30.

        Parameters
        ----------
        interval : number
            Mean time between wettings [day], above 0.
        depth : number
            Mean depth that enters the soil in one wetting [mm].
        et_ref : number
            Mean reference evapotranspiration of the initial stage, short surface [mm day-1], above 0.
        texture : {"coarse", "medium", "fine"}
        wetted_fraction : number
            Fraction of the surface that a wetting wets [1], above 0.

        Returns
        -------
        Crop

        Raises
        ------
        InputError
            Values out of range; a crop without a curve of single coefficients on the short basis.
        """
        return self._varied(
            initial_by_wetting(
                self, interval, depth, et_ref, texture=texture, wetted_fraction=wetted_fraction
            )
        )

    def in_degree_days(
        self, weather: xr.Dataset, base: Any, upper: Any = None, limit: Limit = "extremes"
    ) -> Crop:
        """Turn the calendar into degree days: those that its stages take in the weather of a normal year.

        Parameters
        ----------
        weather : Dataset
            With ``tmin`` and ``tmax`` [degC] on every day of the season.
        base, upper : number
            Temperatures [degC] between which heat counts, as ``base_temperature`` and
            ``upper_temperature``.
        limit : {"extremes", "mean"}
            As ``heat_limit``.

        Returns
        -------
        Crop
            With ``stage_degree_days`` in place of ``stage_days``.

        Raises
        ------
        InputError
            For a crop without a calendar; weather that does not hold its season; an unknown limit.
        """
        return self._varied(degree_days_of_stages(self, weather, base, upper, limit))

    def intercropped_with(self, other: Crop, share: Any, other_share: Any) -> Crop:
        """Grow another crop on the same field, side by side (FAO-56 Eq. 104).

        On days on which both stand their coefficients are weighed by share and height. While one stands
        alone its share of the field has its ``kcb`` and its cover, and the rest is bare; a single ``kc``
        holds the evaporation of that rest too and stays whole. Roots, height and p are the deeper, the
        taller and the smaller of the two (all this: common practice, no source). Salt tolerance, yield
        response, frost and uptake from the surface belong to each crop and are not carried over.

        Parameters
        ----------
        other : Crop
            Of the same kind (both ``kcb`` or both ``kc``), basis and climate; both need a height.
        share, other_share : number
            Fraction of the surface planted with each [1], above 0; together at most 1.

        Returns
        -------
        Crop
            With daily values from the first planting to the last day of either.

        Raises
        ------
        InputError
            Crops that do not go together; shares out of range, or above 1 together.
        """
        values, told = side_by_side(self, other, share, other_share)
        return with_sources(Crop(**values), told)

    def on_basis(self, basis: Literal["short", "tall"]) -> Crop:
        """Convert the coefficients to the other reference surface by FAO-56 Eq. 68.

        The ratio is taken at the stated climate (the standard one when none is stated).

        Parameters
        ----------
        basis : {"short", "tall"}

        Returns
        -------
        Crop
            With ``kc`` or ``kcb`` divided (to tall) or multiplied (to short) by the ratio.
        """
        if basis == self.basis:
            return self
        wind, rhmin = stage_climate(self.climate)
        ratio = tall_to_short_ratio(wind.isel(stage=2, drop=True), rhmin.isel(stage=2, drop=True))
        factor = 1.0 / ratio if basis == "tall" else ratio
        key = "kc" if self.kcb is None else "kcb"
        made = dataclasses.replace(self, basis=basis, **{key: getattr(self, key) * factor})
        origin = self.provenance.get(key)
        before = origin.source if origin is not None else "given by the user"
        return with_sources(
            made, {key: said_too(before, f"; converted to the {basis} reference by FAO-56 Eq. 68")}
        )

    def _varied(self, changes: Changes) -> Crop:
        """Give the crop with new values and their sources."""
        values, told = changes
        return with_sources(dataclasses.replace(self, **values), told)
