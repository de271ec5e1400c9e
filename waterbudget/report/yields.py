"""What a season's lack of water left of the yield."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget.checks import first_label
from waterbudget.crop.stress import (
    relative_yield_additive,
    relative_yield_multiplicative,
    relative_yield_seasonal,
)
from waterbudget.errors import Faults, collect
from waterbudget.report.frames import check_season, label_dims, over_spots, spread, table

YieldForm = Literal["seasonal", "additive", "multiplicative"]
"""One response to the whole season, or one a stage: losses added, or what is left multiplied."""

_SUMMED = ("et", "kc", "et_ref")
_NEEDED = (*_SUMMED, "crop_number", "crop_stage", "kcb", "salt_factor")
_RESPONSE = {
    "seasonal": "yield_response",
    "additive": "stage_yield_response",
    "multiplicative": "stage_yield_response",
}
_MEND = {
    "yield_response": "Crop(yield_response=...): FAO-56 Table 24 lists Ky; Crop.from_handbook takes it over",
    "stage_yield_response": "Crop(stage_yield_response=(four numbers)); FAO-56 Table 24 has Ky of the season "
    "alone: form='seasonal'",
}
_STAGES = (1, 2, 3, 4)
_MID_SEASON = 3
_LIMIT = 0.5
"""Relative evapotranspiration down to which Ky holds: deficits up to a half (FAO-33; FAO-56 chapter 8)."""


class _Told(NamedTuple):
    """One crop of a rotation, in every cell; arrays on the label dimensions."""

    first: xr.DataArray  # positions along time; the season's length where it never stands
    last: xr.DataArray
    et: xr.DataArray
    unstressed: xr.DataArray
    left: xr.DataArray  # relative yield
    lowest: xr.DataArray  # relative evapotranspiration that the response was asked about: the least
    missed: dict[str, xr.DataArray]  # stage: where it has no day
    salty: xr.DataArray  # where salt held back a basal coefficient, and so not the evaporation


def relative_yield(season: xr.Dataset, form: YieldForm = "seasonal") -> pd.DataFrame:
    """Work out the yield left by a season's lack of water, beside that without stress.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`, with any label dimensions. Its crops need ``yield_response`` (Ky of the
        season), or ``stage_yield_response`` (four) for the two forms by stage.
    form : {"seasonal", "additive", "multiplicative"}
        ``1 - Ky (1 - r)`` with r of the whole season (Eq. 90); or by stage s, the losses added,
        ``1 - sum of Ky_s (1 - r_s)``, or what is left multiplied, ``product of 1 - Ky_s (1 - r_s)``. The
        last two answer differently from the same numbers, and from the first.

    Returns
    -------
    DataFrame
        One row per label combination and crop of a rotation:

        - the label dimensions, then ``crop_number`` (1 where there is one crop);
        - ``first_day``, ``last_day``: on which it stood within the season;
        - ``et_mm``, and ``et_unstressed_mm``: the ETc of Eq. 90, sum of ``kc * et_ref`` with the kc that was
          computed, kcb + ke or the single coefficient: soil evaporation is that of the season as it was
          watered;
        - ``relative_et``: their ratio r over all the crop's days; ``relative_yield``;
        - ``within_limits``: False where r, or that of a stage, is below 0.5, where no yield is left, or where
          the yield is not known. Numbers outside the limits stand as the relation gives them;
        - ``note``: what a reader must know; empty where there is nothing.

        Where fields are split into spots, evapotranspiration is the mean of the field.

    Raises
    ------
    InputError
        When `season` is not a daily result, no crop stands in it, `form` is unknown, a crop that stands has
        no yield response factor, or a form by stage is asked of a crop without stages: one whose days are all
        mid-season.

    Notes
    -----
    Doorenbos, J., Kassam, A.H. (1979), Yield response to water, FAO Irrigation and Drainage Paper 33; FAO
    Irrigation and Drainage Paper 56 (1998), chapter 8, Eq. 90. Ky was found for deficits of up to 50 %. That
    losses of stages add, or that what they leave multiplies, is common practice, no source. Salinity acts
    through the stress coefficient of the season. Under a single coefficient it costs by Eq. 90 the loss of
    Eq. 89; under a basal one it holds transpiration back and not evaporation, so that it costs less, as
    ``note`` tells. The forms by stage do not give back the loss of Eq. 89, which is a season's.
    """
    check_season(season, (*_NEEDED, *_RESPONSE.values(), "spot_weight"))
    with collect() as faults:
        if form not in _RESPONSE:
            faults.add(
                "form", "is unknown", value=repr(form), allowed="'seasonal', 'additive' or 'multiplicative'"
            )
    name = _RESPONSE[form]
    season = over_spots(
        season.assign(unstressed=season["kc"] * season["et_ref"]), (*_NEEDED, "unstressed", name)
    )
    crops = int(season["crop_number"].max())
    with collect() as faults:
        if crops < 1:
            faults.add("season", "has no day on which a crop stands")
        for number in range(1, crops + 1):
            title = f"crop {number}" if crops > 1 else "crop"
            _check_response(season, name, number, title, faults)
            if form != "seasonal":
                _check_stages(season, number, title, faults)
    dims = label_dims(season, (*_NEEDED, name))
    sizes = {dim: season.sizes[dim] for dim in dims}
    told = [tell(season, form, number) for number in range(1, crops + 1)]
    return _table(season, told, sizes, form)


def _check_response(season: xr.Dataset, name: str, number: int, title: str, faults: Faults) -> None:
    """Note a crop that stands without a yield response factor."""
    lacking = (season["crop_number"] == number) & season[name].isnull()
    where = lacking.any("time")
    if bool(where.any()):
        faults.add(
            f"{title} {name}",
            "is not given",
            where=first_label(where),
            count=int(where.sum()),
            mend=_MEND[name],
        )


def _check_stages(season: xr.Dataset, number: int, title: str, faults: Faults) -> None:
    """Note a crop without stages; all its days count as mid-season."""
    stands = season["crop_number"] == number
    other = (stands & (season["crop_stage"] != _MID_SEASON)).any("time")
    where = stands.any("time") & ~other
    if bool(where.any()):
        faults.add(
            f"{title} stages",
            "are not known: all its days are mid-season, and a response by stage needs its stages",
            where=first_label(where),
            count=int(where.sum()),
            mend="form='seasonal', or give planted and stage_days",
        )


def tell(season: xr.Dataset, form: YieldForm, number: int) -> _Told:
    """Work one crop out in every cell."""
    stands = season["crop_number"] == number
    days = season.sizes["time"]
    order = xr.DataArray(np.arange(days), dims="time", coords={"time": season["time"]})
    et, unstressed = (_sum(season[name], stands) for name in ("et", "unstressed"))
    missed: dict[str, xr.DataArray] = {}
    if form == "seasonal":
        lowest = _ratio(et, unstressed)
        response = season["yield_response"].where(stands).max("time")  # the same on all its days
        left = relative_yield_seasonal(lowest, response)
    else:
        ratios, responses = [], []
        for stage in _STAGES:
            own = stands & (season["crop_stage"] == stage)
            none = ~own.any("time")
            ratio = _ratio(_sum(season["et"], own), _sum(season["unstressed"], own))
            # A stage without days has lost nothing; the note tells of it.
            ratios.append(ratio.where(~none, 1.0))
            responses.append(season["stage_yield_response"].where(own).max("time").where(~none, 0.0))
            missed[str(stage)] = none & stands.any("time")
        together = relative_yield_additive if form == "additive" else relative_yield_multiplicative
        left = together(ratios, responses)
        lowest = xr.concat(ratios, dim="stage", coords="minimal").min("stage", skipna=False)
    return _Told(
        first=order.where(stands, days).min("time"),
        last=order.where(stands, -1).max("time"),
        et=et,
        unstressed=unstressed,
        left=xr.DataArray(left),
        lowest=lowest,
        missed=missed,
        salty=(stands & (season["salt_factor"] < 1) & season["kcb"].notnull()).any("time"),
    )


def _sum(values: xr.DataArray, days: xr.DataArray) -> xr.DataArray:
    """Sum over marked days, day by day whatever the layout in memory; NaN where one is missing."""
    return values.where(days, 0.0).cumsum("time", skipna=False).isel(time=-1, drop=True)


def _ratio(et: xr.DataArray, unstressed: xr.DataArray) -> xr.DataArray:
    """Give relative evapotranspiration; NaN where there was none to compare with."""
    return et / unstressed.where(unstressed > 0)


def _table(season: xr.Dataset, told: list[_Told], sizes: dict[str, int], form: YieldForm) -> pd.DataFrame:
    """Lay the crops of every cell out, the crops of one cell together."""
    count = int(np.prod(tuple(sizes.values()), dtype=int))
    crops = len(told)

    def column(values: list[xr.DataArray]) -> NDArray[np.float64]:
        """Bring one array per crop to one value per row: cells first, crops within."""
        return np.stack([spread(value, sizes).reshape(count) for value in values], axis=1).reshape(-1)

    days = season["time"].to_numpy()
    first, last = column([one.first for one in told]), column([one.last for one in told])
    stood = last >= 0
    et, unstressed = column([one.et for one in told]), column([one.unstressed for one in told])
    left, lowest = column([one.left for one in told]), column([one.lowest for one in told])
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(unstressed > 0, et / unstressed, np.nan)
    within = stood & (lowest >= _LIMIT) & (left > 0)  # NaN is not within
    missed = {stage: column([one.missed[stage] for one in told]) for stage in told[0].missed}
    salty = column([one.salty for one in told])
    begun = column([(season["crop_stage"].isel(time=0, drop=True) > 1) for _ in told]) & (first == 0)
    number = np.tile(np.arange(1, crops + 1), count)
    notes = [
        "; ".join(
            _notes(
                stood=bool(stood[row]),
                begun=bool(begun[row]),
                open_end=bool(last[row] == len(days) - 1),
                left=float(left[row]),
                lowest=float(lowest[row]),
                missed=[stage for stage, where in missed.items() if where[row]],
                salty=bool(salty[row]),
                seasonal=form == "seasonal",
            )
        )
        for row in range(count * crops)
    ]
    never = np.datetime64("NaT", "ns")
    columns: dict[str, NDArray[np.generic]] = {
        "crop_number": number,
        "first_day": np.where(stood, days[np.minimum(first, len(days) - 1).astype(np.intp)], never),
        "last_day": np.where(stood, days[np.maximum(last, 0).astype(np.intp)], never),
        "et_mm": np.where(stood, et, np.nan),
        "et_unstressed_mm": np.where(stood, unstressed, np.nan),
        "relative_et": ratio,
        "relative_yield": np.where(stood, left, np.nan),
        "within_limits": within,
        "note": np.array(notes, dtype=object),
    }
    rows = [np.repeat(at.reshape(-1), crops) for at in np.indices(tuple(sizes.values()))]
    return table(season, sizes, columns, rows)


def _notes(
    *,
    stood: bool,
    begun: bool,
    open_end: bool,
    left: float,
    lowest: float,
    missed: list[str],
    salty: bool,
    seasonal: bool,
) -> list[str]:
    """Say what a reader of one row must know."""
    if not stood:
        return ["does not stand on any day of the season"]
    found = []
    if np.isnan(left):
        found.append("evapotranspiration is missing on some day, or there was none to be had")
    if lowest < _LIMIT:
        of = "the season" if seasonal else "a stage"
        found.append(
            f"relative evapotranspiration of {of} is {lowest:.2f}: Ky holds down to {_LIMIT:g} "
            "(FAO-33, deficits of up to 50 %)"
        )
    if left <= 0:
        found.append("the response leaves no yield: the relation does not hold so far")
    if missed:
        stages = "stages" if len(missed) > 1 else "stage"
        found.append(f"no day in {stages} {', '.join(missed)}: counted as without loss")
    if salty:
        found.append(
            "under a basal coefficient salt holds back transpiration, not evaporation: "
            f"what it costs here is {'less than' if seasonal else 'not'} the loss of Eq. 89"
        )
    if begun:
        found.append("stood before the season began: its earlier days are not counted")
    if open_end:
        found.append("stands on the last day of the season: later days, if it has any, are not counted")
    return found
