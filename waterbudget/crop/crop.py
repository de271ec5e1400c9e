"""Crop, the description: when it grows, what it draws, how deep it roots."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget import handbook
from waterbudget.checks import first_label, labelled_fields, note_where, time_axis
from waterbudget.crop.coefficients import (
    STANDARD_RHMIN,
    STANDARD_WIND,
    adjust_to_climate,
    tall_to_short_ratio,
)
from waterbudget.descriptions import (
    Moment,
    Number,
    Origin,
    Source,
    flag,
    freeze,
    moment,
    number,
    points,
    with_sources,
)
from waterbudget.errors import Faults, InputError, collect

STAGES = ("initial", "development", "mid", "late")
COEFFICIENTS = ("initial", "mid", "end")
EXTENTS = ("start", "full")
CLIMATE = ("wind", "rhmin")

START_ROOT_DEPTH = 0.2
"""Root depth [m] of an annual at planting: the value of FAO-56 Annex 8's spreadsheet."""


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
    provenance : mapping
        Filled by `from_handbook`; not for the user.

    Attributes
    ----------
    stage_days : DataArray on ``stage``
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
    provenance: Mapping[str, Origin] = field(default_factory=dict, repr=False)

    def __post_init__(self) -> None:
        """Bring every value to its canonical form; raise all faults together."""
        with collect() as faults:
            values: dict[str, Any] = {
                "planted": None if self.planted is None else moment(self.planted, "planted", faults),
                "stage_days": None
                if self.stage_days is None
                else points(self.stage_days, "stage_days", ("stage", STAGES), faults),
                "kc": _curve(self.kc, "kc", ("coefficient", COEFFICIENTS), faults),
                "kcb": _curve(self.kcb, "kcb", ("coefficient", COEFFICIENTS), faults),
                "root_depth": _curve(
                    self.root_depth, "root_depth", ("extent", EXTENTS), faults, optional=False
                ),
                "height": _curve(self.height, "height", None, faults),
                "cover": _curve(self.cover, "cover", ("coefficient", COEFFICIENTS), faults),
                "climate": None if self.climate is None else _climate(self.climate, faults),
                "depletion_fraction": number(self.depletion_fraction, "depletion_fraction", faults),
                "adjust_depletion_fraction": flag(
                    self.adjust_depletion_fraction, "adjust_depletion_fraction", faults
                ),
            }
            freeze(self, values)
            if labelled_fields(self, faults):
                _check(self, faults)

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
        rule: the middle, but the smaller root depth. Annuals root from 0.2 m (Annex 8).

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
        with collect() as faults:
            if kind not in ("dual", "single"):
                faults.add("kind", "is unknown", value=repr(kind), allowed="'dual' or 'single'")
            day = moment(planted, "planted", faults)
            try:
                row = handbook.crop(name, month=_month(day), region=region, stages=stage_days is None)
            except InputError as error:
                faults.extend(error.faults)
        key = "kcb" if kind == "dual" else "kc"
        coefficients = row.kcb if kind == "dual" else row.kc
        with collect() as faults:
            if stage_days is None and row.stage_days is None:
                faults.add(
                    f"crop {row.name!r}",
                    "has no stage lengths in FAO-56 Table 11",
                    mend="give your own: stage_days=(initial, development, mid, late) in days",
                )
            if coefficients is None:
                table = "17 (basal)" if kind == "dual" else "12 (single)"
                other = "single" if kind == "dual" else "dual"
                faults.add(
                    f"crop {row.name!r}", f"has no row in FAO-56 Table {table}", mend=f"kind={other!r}"
                )
        sources = dict(row.sources)
        sources.pop("kcb" if key == "kc" else "kc", None)
        height = row.height_m or 0.0
        values: Any = coefficients
        if climate is not None and coefficients is not None:
            values, note = _adjusted(coefficients, climate, height)
            sources[key] += note
        else:
            sources[key] += "; for the standard climate, 2 m/s and 45 %"
        roots: Any = row.root_depth_m
        if not row.perennial:
            roots = (min(START_ROOT_DEPTH, row.root_depth_m), row.root_depth_m)
            sources["root_depth"] += "; 0.2 m at planting, as in FAO-56 Annex 8"
        crop = cls(
            planted=day,
            stage_days=row.stage_days if stage_days is None else stage_days,
            root_depth=roots,
            height=row.height_m,
            climate=climate,
            depletion_fraction=row.depletion_fraction,
            **{key: values},
        )
        return with_sources(crop, sources)

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
        wind, rhmin = climate_of(self)
        ratio = tall_to_short_ratio(wind.isel(stage=2, drop=True), rhmin.isel(stage=2, drop=True))
        factor = 1.0 / ratio if basis == "tall" else ratio
        key = "kc" if self.kcb is None else "kcb"
        made = dataclasses.replace(self, basis=basis, **{key: getattr(self, key) * factor})
        origin = self.provenance.get(key)
        before = origin.source if origin is not None else "given by the user"
        return with_sources(
            made, {key: _said_too(before, f"; converted to the {basis} reference by FAO-56 Eq. 68")}
        )


def _said_too(source: Source, note: str) -> Source:
    """Add a note to a source, under every label of a joined one."""
    if isinstance(source, str):
        return source + note
    return {**source, "of": {label: _said_too(one, note) for label, one in source["of"].items()}}


def climate_of(crop: Crop) -> tuple[xr.DataArray, xr.DataArray]:
    """Give the stage means of wind [m s-1] and minimum humidity [%], each on ``stage``."""
    stages = {"stage": list(STAGES)}
    if crop.climate is None:
        shape = xr.DataArray(np.ones(len(STAGES)), dims="stage", coords=stages)
        return shape * STANDARD_WIND, shape * STANDARD_RHMIN
    climate = crop.climate
    if "stage" not in climate.dims:
        climate = climate.expand_dims(stages, axis=-1)
    wind, rhmin = climate.sel(mean="wind", drop=True), climate.sel(mean="rhmin", drop=True)
    return wind.fillna(STANDARD_WIND), rhmin.fillna(STANDARD_RHMIN)  # joined crops: not stated for some


def _curve(
    value: Any, name: str, axis: tuple[str, Sequence[str]] | None, faults: Faults, *, optional: bool = True
) -> Any:
    """Bring a coefficient or depth to a number, a curve on its axis, or a daily series."""
    if value is None:
        return None
    on_axis = axis is not None and isinstance(value, xr.DataArray) and axis[0] in value.dims
    if axis is not None and (on_axis or isinstance(value, tuple | list)):
        return points(value, name, axis, faults)
    return number(value, name, faults, optional=optional and isinstance(value, xr.DataArray))


def _climate(value: Any, faults: Faults) -> xr.DataArray:
    """Bring (wind, rhmin), each one number or four, to one array on ``mean`` and perhaps ``stage``."""
    if isinstance(value, xr.DataArray) and "mean" in value.dims:
        return _climate_array(value, faults)
    if not isinstance(value, tuple | list) or len(value) != len(CLIMATE):
        faults.add("climate", "needs two values", value=repr(value)[:80], allowed="(wind [m s-1], rhmin [%])")
        return xr.DataArray([STANDARD_WIND, STANDARD_RHMIN], dims="mean", coords={"mean": list(CLIMATE)})
    each: list[Number] = []
    for one, name in zip(value, CLIMATE, strict=True):
        row, what = f"{name}_climate", f"climate ({name})"
        if isinstance(one, tuple | list):
            each.append(points(one, row, ("stage", STAGES), faults, what=what))
        else:
            each.append(number(one, row, faults, what=what))
    arrays = xr.broadcast(*(xr.DataArray(one) for one in each))
    return xr.concat(arrays, dim=pd.Index(list(CLIMATE), name="mean"), coords="minimal", compat="override")


def _climate_array(value: xr.DataArray, faults: Faults) -> xr.DataArray:
    """Check stage means that came as one array; a label of joined crops may have neither mean."""
    if "mean" not in value.coords or set(value["mean"].values.tolist()) != set(CLIMATE):
        faults.add("climate", "has other labels on 'mean'", allowed=", ".join(CLIMATE))
        return xr.DataArray([STANDARD_WIND, STANDARD_RHMIN], dims="mean", coords={"mean": list(CLIMATE)})
    value = value.sel(mean=list(CLIMATE)).astype(np.float64)
    for name in CLIMATE:
        part = value.sel(mean=name, drop=True)
        number(part, f"{name}_climate", faults, what=f"climate ({name})", optional=bool(part.dims))
    one = value.isnull().sum("mean") == 1
    if bool(one.any()):
        faults.add("climate", "has one of the two means only", where=first_label(one), count=int(one.sum()))
    return value


def _adjusted(coefficients: tuple[float, float, float], climate: Any, height: float) -> tuple[Any, str]:
    """Adjust tabled mid and end coefficients to the stated climate of their own stages."""
    with collect() as faults:
        stated = _climate(climate, faults)
    if "stage" not in stated.dims:
        stated = stated.expand_dims({"stage": list(STAGES)}, axis=-1)
    wind, rhmin = stated.sel(mean="wind", drop=True), stated.sel(mean="rhmin", drop=True)
    initial, mid, end = coefficients
    at = {"mid": wind.sel(stage="mid", drop=True), "end": wind.sel(stage="late", drop=True)}
    humid = {"mid": rhmin.sel(stage="mid", drop=True), "end": rhmin.sel(stage="late", drop=True)}
    made = (
        initial,
        adjust_to_climate(mid, at["mid"], humid["mid"], height),
        adjust_to_climate(end, at["end"], humid["end"], height),
    )
    return made, "; mid and end adjusted to the stated climate by FAO-56 Eq. 62, 65 or 70"


def _month(day: Moment) -> int | None:
    """Give the month of a date; of several dates, the middle one's."""
    dates = pd.DatetimeIndex(np.sort(np.atleast_1d(np.asarray(day)).ravel())).dropna()
    return int(dates[len(dates) // 2].month) if len(dates) else None


def _check(crop: Crop, faults: Faults) -> None:
    """Note what does not fit together."""
    if crop.basis not in ("short", "tall"):
        faults.add("basis", "is unknown", value=repr(crop.basis), allowed="'short' or 'tall'")
    if not _one_coefficient(crop):
        faults.add("kc, kcb", "give exactly one of the two", value="neither" if crop.kc is None else "both")
    if crop.root_depth is None:
        faults.add("root_depth", "is missing", allowed="a depth [m], (at planting, full), or a daily series")
    lacking = _lacks_height(crop)
    if bool(lacking.any()) and crop.height is not None:
        faults.add(
            "height", "is not given where kcb is", where=first_label(lacking), count=int(lacking.sum())
        )
    if crop.kcb is not None and crop.height is None:
        faults.add(
            "height", "is missing", mend="kcb needs the crop height for Kc max and cover (FAO-56 Eq. 72, 76)"
        )
    shaped = {
        name: getattr(crop, name)
        for name in ("kc", "kcb", "root_depth", "height", "cover")
        if isinstance(getattr(crop, name), xr.DataArray)
    }
    daily = {name: value for name, value in shaped.items() if "time" in value.dims}
    curves = [name for name, value in shaped.items() if {"coefficient", "extent"} & set(value.dims)]
    calendar = crop.planted is not None and crop.stage_days is not None
    if curves and not calendar:
        faults.add(
            ", ".join(curves),
            "is a curve without a calendar",
            mend="give planted and stage_days, or a constant, or a daily series",
        )
    if (crop.planted is None) != (crop.stage_days is None):
        missing = "planted" if crop.planted is None else "stage_days"
        faults.add(missing, "is missing", mend="planted and stage_days belong together")
    if daily and not ({"kc", "kcb"} & set(daily)):
        faults.add(
            ", ".join(daily),
            "is a daily series beside a coefficient that is not",
            mend="give kc or kcb as a series too",
        )
    spans = {
        (value["time"].values[0], value["time"].values[-1], value.sizes["time"]) for value in daily.values()
    }
    if len(spans) > 1:
        faults.add(", ".join(daily), "are daily series over different days", mend="cut them to the same days")
    for name, value in daily.items():
        time_axis(value["time"], faults, what=name)
    _check_roots(crop, faults)


def _lacks_height(crop: Crop) -> xr.DataArray:
    """Mark the labels that have a basal coefficient and no height."""
    if crop.kcb is None or crop.height is None:
        return xr.DataArray(False)
    basal, known = xr.DataArray(crop.kcb).notnull(), xr.DataArray(crop.height).notnull()
    basal = basal.any([dim for dim in ("coefficient", "time") if dim in basal.dims])
    return basal & ~known.all([dim for dim in ("time",) if dim in known.dims])


def _one_coefficient(crop: Crop) -> bool:
    """Tell whether each label has exactly one of kc and kcb: joined crops may hold NaN in the other."""
    if crop.kc is None or crop.kcb is None:
        return (crop.kc is None) != (crop.kcb is None)
    return bool((xr.DataArray(crop.kc).notnull() != xr.DataArray(crop.kcb).notnull()).all())


def _check_roots(crop: Crop, faults: Faults) -> None:
    """Note roots that shrink as they grow, and coefficients that no stage can use."""
    roots = crop.root_depth
    if isinstance(roots, xr.DataArray) and "extent" in roots.dims:
        start, full = roots.sel(extent="start"), roots.sel(extent="full")
        start, full = start.drop_vars("extent", errors="ignore"), full.drop_vars("extent", errors="ignore")
        note_where(
            faults, "root_depth", "starts deeper than it ends", start > full, {"start": start, "full": full}
        )
    if isinstance(crop.stage_days, xr.DataArray):
        total = crop.stage_days.sum("stage", skipna=False)
        note_where(faults, "stage_days", "add up to nothing", total <= 0, {"days": crop.stage_days})
        planted = crop.planted is not None and not faults and ~np.isnat(xr.DataArray(crop.planted))
        note_where(faults, "stage_days", "are not given though it is planted", total.isnull() & planted, {})
