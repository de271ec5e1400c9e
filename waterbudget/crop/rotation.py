"""Rotation, the description: successive crops on one field."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.checks import first_label, labelled, note_where
from waterbudget.crop.crop import Crop
from waterbudget.descriptions import Moment, Origin, freeze, moment
from waterbudget.errors import Faults, brief, collect

_DAY = np.timedelta64(1, "D")


@dataclass(frozen=True, kw_only=True, eq=False)
class Rotation:
    """Successive crops on one field, in one run.

    From its planting day on a crop takes the field over from the one before it, whether or not that
    one had ended. Before the first the soil is bare; between crops and after the last it is under
    the residue of the crop that ended.

    Parameters
    ----------
    crops : sequence of Crop
        In order of planting, at every label. Each has a planting date, or is a daily series, which
        begins on its first day. All are on one ``basis``.
    provenance : mapping
        Not for the user; each crop knows its own sources.

    Attributes
    ----------
    crops : tuple of Crop

    Raises
    ------
    InputError
        With every fault at once.

    Examples
    --------
    >>> wheat = Crop.from_handbook("winter wheat (non-frozen soils)", planted="2023-10-20", region="Calif")
    >>> beans = Crop.from_handbook("dry beans", planted="2024-06-20")
    >>> both = Rotation(crops=(wheat, beans))
    """

    crops: Any
    provenance: Mapping[str, Origin] = field(default_factory=dict, repr=False)

    def __post_init__(self) -> None:
        """Bring the crops to a tuple; raise all faults together."""
        with collect() as faults:
            crops = (self.crops,) if isinstance(self.crops, Crop) else self.crops
            if not isinstance(crops, Sequence) or isinstance(crops, str) or not crops:
                faults.add("crops", "holds no crops", value=brief(self.crops), allowed="a tuple of Crop")
                return
            for place, crop in enumerate(crops, 1):
                if not isinstance(crop, Crop):
                    faults.add(_nth(place), "is no crop", value=type(crop).__name__, allowed="Crop")
            freeze(self, {"crops": tuple(crops)})
            if not faults:
                _check(self.crops, faults)

    @classmethod
    def from_cuttings(cls, first: Crop, *, regrowth: Crop, cuttings: Sequence[Any]) -> Rotation:
        """Describe a crop that is cut and grows again, such as alfalfa for hay.

        Parameters
        ----------
        first : Crop
            From planting, or green-up, to the first cutting.
        regrowth : Crop
            What begins again on the day after each cutting; its own planting date does not count. The
            roots stay alive at a cutting, so that it begins at the full root depth of the crop that is cut
            or deeper: ``root_depth`` a number.
        cuttings : sequence of dates
            In order; each may be a DataArray of dates on labels.

        Returns
        -------
        Rotation
            Of one crop more than there are cuttings.

        Raises
        ------
        InputError
            Cuttings out of order, or on or before the planting day of ``first``; a regrowth that
            begins with shallower roots than the crop that is cut has when full.
        """
        with collect() as faults:
            if isinstance(cuttings, str | xr.DataArray) or not isinstance(cuttings, Iterable):
                faults.add("cuttings", "is not a sequence of dates", value=brief(cuttings))
                cuttings = ()
            days = [moment(cut, f"cutting {place}", faults) for place, cut in enumerate(cuttings, 1)]
            if not days and not faults:
                faults.add("cuttings", "holds no dates", mend="give the first day of cutting, or use Crop")
        with collect() as faults:
            before, name = _begin(first, "first", faults), "planting of the first crop"
            for place, day in enumerate(days, 1):
                _check_order(before, xr.DataArray(day), (name, f"cutting {place}"), faults)
                before, name = xr.DataArray(day), f"cutting {place}"
            _check_regrowth(first, regrowth, "first", faults)
            if len(days) > 1:
                _check_regrowth(regrowth, regrowth, "regrowth", faults)
        regrown = [dataclasses.replace(regrowth, planted=day + _DAY) for day in days]
        return cls(crops=(first, *regrown))

    @classmethod
    def yearly(cls, crop: Crop, years: Iterable[int]) -> Rotation:
        """Repeat a crop year after year, planted on the same day of each.

        Parameters
        ----------
        crop : Crop
            With a planting date.
        years : iterable of int
            Years of planting, in order. Of labels planted in different years, those of the earliest; the
            others follow as many years later. 29 February becomes 28 February where there is none.

        Returns
        -------
        Rotation
        """
        wanted = list(years)
        with collect() as faults:
            if not wanted or not all(
                isinstance(year, int | np.integer) and not isinstance(year, bool) for year in wanted
            ):
                faults.add("years", "are not years", value=brief(wanted), allowed="whole numbers")
            if crop.planted is None or bool(xr.DataArray(crop.planted).isnull().any()):
                faults.add("planted", "is missing", mend="give the crop a planting date, at every label")
        first = int(pd.DatetimeIndex(np.atleast_1d(crop.planted).ravel()).year.min())
        return cls(
            crops=tuple(
                dataclasses.replace(crop, planted=_years_later(crop.planted, int(year) - first))
                for year in wanted
            )
        )


def _years_later(planted: Moment, years: int) -> Moment:
    """Move dates by whole years; a day that the month lacks becomes its last."""
    dates = np.asarray(planted, dtype="datetime64[D]")
    month = dates.astype("datetime64[M]")
    into = dates - month.astype("datetime64[D]")
    month = month + 12 * years
    last = (month + 1).astype("datetime64[D]") - month.astype("datetime64[D]") - _DAY
    made = (month.astype("datetime64[D]") + np.minimum(into, last)).astype("datetime64[ns]")
    return planted.copy(data=made) if isinstance(planted, xr.DataArray) else np.datetime64(made[()])


def _check(crops: tuple[Crop, ...], faults: Faults) -> None:
    """Note crops that do not follow one another."""
    bases = [crop.basis for crop in crops]
    for place, basis in enumerate(bases, 1):
        if basis != bases[0]:
            faults.add(
                f"{_nth(place)}, basis",
                "differs from that of the first crop",
                value=repr(basis),
                allowed=repr(bases[0]),
                mend=f"crop.on_basis({bases[0]!r})",
            )
    begins = [_begin(crop, _nth(place), faults) for place, crop in enumerate(crops, 1)]
    if not faults:
        for place in range(1, len(crops)):
            names = (f"planting of {_nth(place)}", f"planting of {_nth(place + 1)}")
            _check_order(begins[place - 1], begins[place], names, faults)


def _check_regrowth(cut: Crop, regrowth: Crop, name: str, faults: Faults) -> None:
    """Note labels at which the regrowth begins with shallower roots than the crop that is cut."""
    own = Faults()
    (_, full), (start, _) = _extents(cut), _extents(regrowth)
    labelled({f"root_depth of {name}": full, "root_depth of regrowth": start}, own)
    if not own:
        note_where(
            own,
            "regrowth, root_depth",
            f"starts shallower than the full depth of the crop that is cut ({name})",
            start < full - 1e-9,
            {"start": start, "full depth of the cut crop": full},
            allowed="that full depth or deeper: roots stay alive at a cutting",
            mend=f"dataclasses.replace(regrowth, root_depth={float(full.max()):g})",
        )
    faults.extend(tuple(own))


def _extents(crop: Crop) -> tuple[xr.DataArray, xr.DataArray]:
    """Give the root depth at the start and the full one, on labels."""
    roots = xr.DataArray(crop.root_depth)
    if "time" in roots.dims:
        return roots.isel(time=0, drop=True), roots.max("time")
    if "extent" in roots.dims:
        return roots.sel(extent="start", drop=True), roots.sel(extent="full", drop=True)
    return roots, roots


def _begin(crop: Crop, name: str, faults: Faults) -> xr.DataArray:
    """Give the first day of a crop; note one that always grows."""
    coefficient = crop.kc if crop.kcb is None else crop.kcb
    if isinstance(coefficient, xr.DataArray) and "time" in coefficient.dims:
        return xr.DataArray(coefficient["time"].values[0])
    day = xr.DataArray(np.datetime64("NaT", "ns") if crop.planted is None else crop.planted)
    missing = day.isnull()
    if bool(missing.any()):
        faults.add(
            f"{name}, planted",
            "is missing, so that it would always grow",
            where=first_label(missing),
            count=int(missing.sum()),
            mend="give each crop of a rotation its planting date",
        )
    return day


def _check_order(before: xr.DataArray, after: xr.DataArray, names: tuple[str, str], faults: Faults) -> None:
    """Note labels at which the second day does not come after the first."""
    own = Faults()
    labelled(dict(zip(names, (before, after), strict=True)), own)
    faults.extend(tuple(own))
    if own:
        return
    wrong = after <= before
    if bool(wrong.any()):
        late, early = (
            str(day.broadcast_like(wrong).transpose(*wrong.dims).values[wrong.values].ravel()[0])[:10]
            for day in (before, after)
        )
        faults.add(
            names[1],
            f"is not after the {names[0]}",
            where=first_label(wrong),
            value=f"{early}, and {late} before it",
            count=int(wrong.sum()),
            allowed="dates in order, each after the one before",
        )


def _nth(place: int) -> str:
    return f"crop {place}"
