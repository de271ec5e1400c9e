"""What a crop needs at its peak: the number that a pump and its hours are held against."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.errors import collect
from waterbudget.report.frames import (
    UnitSystem,
    check_season,
    check_units,
    label_dims,
    over_spots,
    shown_unit,
    spread,
    table,
)

_NEEDED = ("kc", "et_ref", "crop_stage", "spot_weight")


def peak_need(season: xr.Dataset, days: int = 10, units: UnitSystem = "metric") -> pd.DataFrame:
    """Find the days on end that ask for most water.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`, with any label dimensions.
    days : int
        How many days on end, 1 to the days of the season: about as many as the soil bridges from one
        irrigation to the next.
    units : {"metric", "us"}
        Units of the columns: mm or in.

    Returns
    -------
    DataFrame
        A row per label combination:

        - the label dimensions, if any;
        - ``first_date``, ``last_date``: of those days; of several alike the first ones;
        - ``peak_need_mm_per_day``: mean evapotranspiration of the field over them, without stress and before
          any rain: net, as `waterbudget.system.pump_keeps_up` and `required_flow` take it.

        NaT and NaN where a day is missing, or no crop stands long enough.

    Raises
    ------
    InputError
        When `season` is not a daily result, or `days` is not a whole number of days that it has.

    Notes
    -----
    ``Kc ET_ref`` (FAO-56 Eq. 58 and 69), of days on which a crop stands. It is the need of this season's
    weather: a supply is designed for the year that it must withstand, so run several. That rain is left out
    is common practice, no source.
    """
    check_units(units)
    check_season(season, _NEEDED)
    count = season.sizes["time"]
    with collect() as faults:
        if isinstance(days, bool) or not isinstance(days, int | np.integer) or not 1 <= days <= count:
            faults.add(
                "days", "is no number of days", value=repr(days), allowed=f"a whole number, 1 to {count}"
            )
    need = over_spots(season, ("kc", "spot_weight"))["kc"] * season["et_ref"]
    stands = season["crop_stage"] > 0
    known = (need.notnull() | ~stands).all("time")
    means = need.where(stands).rolling(time=days).construct("window").mean("window", skipna=False)
    last = means.fillna(-np.inf).argmax("time")
    peak = means.max("time").where(known)
    time = season["time"]
    found = {
        "first_date": time[np.maximum(last - (days - 1), 0)].where(peak.notnull()),
        "last_date": time[last].where(peak.notnull()),
    }
    sizes = {dim: season.sizes[dim] for dim in label_dims(season, _NEEDED) if dim != "spot"}
    suffix, size = shown_unit("mm", units)
    found[f"peak_need{suffix}_per_day"] = peak / size
    columns = {name: spread(values, sizes).reshape(-1) for name, values in found.items()}
    places = [at.reshape(-1) for at in np.indices(tuple(sizes.values()))]
    return table(season, sizes, columns, places)
