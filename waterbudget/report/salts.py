"""Salts of a season: where they came from, where they went, and how salty the soil became."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget.balance import watched_mean
from waterbudget.checks import labelled, note_where
from waterbudget.crop.stress import salt_yield
from waterbudget.descriptions import GivenNumber, Number, number
from waterbudget.errors import Faults, collect
from waterbudget.report.frames import UnitSystem, check_season, check_units
from waterbudget.report.ledger import over_days
from waterbudget.report.performance import Outcome, outcome_table
from waterbudget.report.plants import plant_weight, where_roots_draw
from waterbudget.soil.leaching import SOIL_WATER_OVER_EXTRACT, salt_mass

_Array = NDArray[np.float64]
_NEEDED = (
    "irrigation_net",
    "rain",
    "runoff",
    "et",
    "capillary_rise",
    "drainage",
    "depletion",
    "depletion_below",
    "excess_water",
    "initial_depletion",
    "initial_depletion_below",
    "initial_excess_water",
    "spot_share",
    "spot_weight",
    "deepest_root",
    "profile_water",
    "crop_stage",
    "transpiration",
    "wetted_volume",
)
ROUNDING = 1e-9
"""A depth [mm] that is rounding."""
_CLOSES = 1e-6
"""A day that misses its own balance by more than this [mm] does not follow from the day before."""
SALINITY = "_dS_per_m"
"""End of the name of a column that holds salinity."""
_MASS = {"metric": ("_t_per_ha", 1.0), "us": ("_ton_per_acre", 0.90718474 / 0.40468564224)}
"""Column suffix, and t/ha in one of it; the ton of the United States is 2000 lb, 0.90718474 t."""


def salt_ledger(
    season: xr.Dataset,
    water_salinity: GivenNumber,
    *,
    soil_water_at_field_capacity: GivenNumber,
    initial_salinity: GivenNumber,
    rain_salinity: GivenNumber = 0.0,
    water_table_salinity: GivenNumber | None = None,
    mixing: GivenNumber = 1.0,
    salt_threshold: GivenNumber | None = None,
    salt_slope: GivenNumber | None = None,
    units: UnitSystem = "metric",
) -> pd.DataFrame:
    """Account for the salts of a season.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`, all its days, with any label dimensions.
    water_salinity : number
        ECw of the irrigation water [dS m-1]; it may vary along ``time``.
    soil_water_at_field_capacity : number
        Water content at field capacity, mean of the profile [m3 m-3].
    initial_salinity : number
        ECe of the profile before the first day [dS m-1].
    rain_salinity : number
        EC of the rain [dS m-1]. Rain is taken as free of salt unless it is given.
    water_table_salinity : number
        EC of the ground water [dS m-1]; needed where water rises from it.
    mixing : number
        Leaching efficiency [1], above 0, at most 1: salinity of the water that drains over that of the mixed
        water of the profile. Below 1 part of it passes through cracks and coarse pores.
    salt_threshold, salt_slope : number
        ECe up to which the crop yields in full [dS m-1], and yield lost above it [% per dS m-1] (FAO-56
        Table 23), both or none.
    units : {"metric", "us"}
        Units of the salts: t/ha, or ton/acre (2000 lb).

    Returns
    -------
    DataFrame
        A row per label combination; salts, with ``_t_per_ha`` or ``_ton_per_acre`` behind them, are means of
        the field:

        - the label dimensions, if any;
        - ``salt_at_start``, ``salt_from_irrigation``, ``salt_from_rain``, ``salt_from_water_table``,
          ``salt_drained``, ``salt_at_end``, ``salt_change`` (end less start) of the profile, and
          ``residual``, what they leave unexplained;
        - ``soil_salinity_at_start_dS_per_m``, ``soil_salinity_at_end_dS_per_m``: ECe of the profile;
          ``mean_soil_salinity_dS_per_m``: what the roots meet, of the days on which a crop stands (NaN where
          none does). Where irrigation wets a part of the root zone, each day's is the mean of the wetted and
          the dry part by the water that the roots take from them;
        - ``drainage_salinity_dS_per_m``: EC of the water that drained (NaN where none did);
        - ``relative_yield_at_mean_salinity``: with threshold and slope, by Maas and Hoffman (1977): what
          these salts alone leave of the yield of a crop that never lacked water, each spot by its own mean.

    Raises
    ------
    InputError
        When `season` is not a daily result or is cut, a number is outside its range or has other labels than
        the season, the soil water is less than the season's available water, one of threshold and slope is
        given alone, or water rises from a water table of unknown salinity.

    Notes
    -----
    The profile, down to the deepest root, is one well-mixed store (ours: salts that lie deeper than the roots
    of the day count too). It holds ``field capacity * deepest_root - (depletion + depletion_below) +
    excess_water``. A day's irrigation and rain mix with what it held the evening before; what drains leaves
    with the salinity of the mixture times `mixing`; evapotranspiration leaves the salts behind, and what
    rises brings its own. Each spot has its own store, and so have the wetted and the dry part of a drip.
    No salt settles out or dissolves. From FAO Irrigation and Drainage Paper 29 (Ayers and Westcot 1985, from
    memory): soil water at field capacity is twice as salty as the saturation extract, 1 dS/m is 640 mg/L, and
    a crop answers to the salinity where it takes its water up.

    The yield here is not that of `relative_yield` and `performance`. Theirs comes from the evapotranspiration
    of the season: it counts lack of water, and salt only as far as ``soil_salinity`` was stated, one number
    before the run. This one counts the salinity that the ledger finds, and no lack of water. The ledger does
    not change the season: state its mean salinity as ``soil_salinity`` and run again to have both in one
    yield. Under a basal coefficient the same salinity costs less there than here.
    """
    check_units(units)
    check_season(season, _NEEDED)
    season = season[list(_NEEDED)]
    rise = season["capillary_rise"]
    with collect() as faults:
        given = read_numbers(
            season,
            {
                "water_salinity": ("water_salinity", water_salinity),
                "soil_water_at_field_capacity": ("field_capacity", soil_water_at_field_capacity),
                "initial_salinity": ("soil_salinity", initial_salinity),
                "rain_salinity": ("water_salinity", rain_salinity),
                "water_table_salinity": ("water_salinity", water_table_salinity),
                "mixing": ("drainage_fraction", mixing),  # a row of the same range
                "salt_threshold": ("salt_threshold", salt_threshold),
                "salt_slope": ("salt_slope", salt_slope),
            },
            faults,
            by_day=("water_salinity",),
        )
        if (salt_threshold is None) != (salt_slope is None):
            faults.add("salt_threshold, salt_slope", "are not both given", allowed="both or none")
        if water_table_salinity is None:
            note_where(
                faults,
                "water_table_salinity",
                "is not given, and water rises from the water table",
                (rise > 0).any("time"),
                {"capillary_rise [mm]": rise.sum("time")},
                mend="measure the ground water; what rises leaves its salts in the root zone",
            )
    full = given["soil_water_at_field_capacity"] * season["deepest_root"] * 1000.0
    before, after = _stores(season, full)
    irrigation, rain = entered(season)
    _check_stores(season, full, before, after)
    salts = {
        "salt_from_irrigation": irrigation * given["water_salinity"],
        "salt_from_rain": rain * given["rain_salinity"],
        "salt_from_water_table": rise * given.get("water_table_salinity", 0.0),
    }
    start = SOIL_WATER_OVER_EXTRACT * given["initial_salinity"] * full
    daily, salts["salt_drained"] = xr.apply_ufunc(
        _mix,
        start,
        before,
        irrigation + rain,
        salts["salt_from_irrigation"] + salts["salt_from_rain"],
        season["drainage"],
        salts["salt_from_water_table"],
        given["mixing"],
        input_core_dims=[[], *[["time"]] * 5, []],
        output_core_dims=[["time"]] * 2,
    )
    extract = daily / (SOIL_WATER_OVER_EXTRACT * full)
    stands = season["crop_stage"] > 0
    met = where_roots_draw(extract, season).where(stands, 0.0)
    mean = over_days(met) / stands.sum("time").where(stands.any("time"))
    sums = {name: of_field(over_days(values), season) for name, values in salts.items()}
    first, last = of_field(start, season), of_field(daily.isel(time=-1), season)
    came = sum(values for name, values in sums.items() if name != "salt_drained")
    drained = of_field(over_days(season["drainage"]), season)
    masses = {
        "salt_at_start": first,
        **sums,
        "salt_at_end": last,
        "salt_change": last - first,
        "residual": last - first - (came - sums["salt_drained"]),
    }
    suffix, size = _MASS[units]
    salinities = {
        "soil_salinity_at_start": of_field(start / (SOIL_WATER_OVER_EXTRACT * full), season),
        "soil_salinity_at_end": of_field(extract.isel(time=-1), season),
        "mean_soil_salinity": _of_all_plants(mean, season),
        "drainage_salinity": sums["salt_drained"] / drained.where(drained > 0),
    }
    told = {f"{name}{suffix}": Outcome("1", salt_mass(value, 1.0) / size) for name, value in masses.items()}
    told |= {f"{name}{SALINITY}": Outcome("1", value) for name, value in salinities.items()}
    if salt_threshold is not None:
        left = xr.DataArray(salt_yield(mean, given["salt_threshold"], given["salt_slope"]))
        told["relative_yield_at_mean_salinity"] = Outcome("1", _of_all_plants(left, season))
    return table_of(season, told, units)


def _mix(
    salt: _Array,
    before: _Array,
    entered: _Array,
    brought: _Array,
    drained: _Array,
    risen: _Array,
    mixing: _Array,
) -> tuple[_Array, _Array]:
    """Carry the salts of a well-mixed store from day to day; days along the last axis.

    Parameters
    ----------
    salt, mixing : ndarray
        Salts before the first day [dS m-1 mm], and the leaching efficiency [1]; without days.
    before, entered, drained : ndarray
        Water the evening before, what entered from above, and what drained [mm].
    brought, risen : ndarray
        Salts that came with the water from above, and from below [dS m-1 mm].

    Returns
    -------
    tuple of ndarray
        Salts at the end of each day, and those that drained [dS m-1 mm].
    """
    shape = np.broadcast_shapes(
        *(part.shape for part in (before, entered, brought, drained, risen)), (*np.shape(salt), 1)
    )
    before, entered, brought, drained, risen = (
        np.broadcast_to(part, shape) for part in (before, entered, brought, drained, risen)
    )
    ends, leached = np.empty(shape), np.empty(shape)
    for day in range(shape[-1]):
        mixed, water = salt + brought[..., day], before[..., day] + entered[..., day]
        leached[..., day] = mixing * drained[..., day] * mixed / np.where(water == 0, 1.0, water)
        salt = mixed - leached[..., day] + risen[..., day]
        ends[..., day] = salt
    return ends, leached


def _stores(season: xr.Dataset, full: xr.DataArray) -> tuple[xr.DataArray, xr.DataArray]:
    """Give the water of the profile the evening before each day, and at its end [mm]."""
    after = full - (season["depletion"] + season["depletion_below"]) + season["excess_water"]
    start = full - (season["initial_depletion"] + season["initial_depletion_below"])
    start = start + season["initial_excess_water"]
    before = after.shift(time=1)
    first = season["time"] == season["time"][0]
    return before.where(~first, start), after


def _check_stores(season: xr.Dataset, full: xr.DataArray, before: xr.DataArray, after: xr.DataArray) -> None:
    """Refuse soil water that the season does not fit into, and a season with days cut out."""
    irrigation, rain = entered(season)
    change = irrigation + rain + season["capillary_rise"] - season["drainage"] - season["et"]
    with collect() as faults:
        available = season["profile_water"]
        small = (full < available - ROUNDING) | (after < -ROUNDING).any("time")
        note_where(
            faults,
            "soil_water_at_field_capacity",
            "is too little for this season's soil",
            small,
            {"soil_water_at_field_capacity": full, "profile_water": available},
            allowed="at least profile_water [mm]",
            mend="give all the water at field capacity, that below the wilting point too",
        )
        off = (abs(after - before - change) > _CLOSES).any("time")
        note_where(
            faults,
            "season",
            "has days that do not follow from the day before",
            off,
            {},
            mend="pass the season with all its days, not a slice of them",
        )


# ------------------------------------------------------------------------------ shared
def entered(season: xr.Dataset) -> tuple[xr.DataArray, xr.DataArray]:
    """Give the irrigation and the rain that entered the soil each day, at each spot [mm]."""
    return season["irrigation_net"] * season["spot_share"], season["rain"] - season["runoff"]


def of_field(values: xr.DataArray, season: xr.Dataset) -> xr.DataArray:
    """Take the mean of each field over its spots."""
    return watched_mean(values, season["spot_weight"]).reset_coords(drop=True)


def _of_all_plants(values: xr.DataArray, season: xr.Dataset) -> xr.DataArray:
    """Take the mean of each field over its plants."""
    return watched_mean(values, plant_weight(season)).reset_coords(drop=True)


def table_of(season: xr.Dataset, told: Mapping[str, Outcome], units: UnitSystem) -> pd.DataFrame:
    """Lay outcomes out; labels may also be those of a number that the season does not vary with."""
    labels = {
        dim: one.values[dim] for one in told.values() for dim in one.values.dims if dim in one.values.coords
    }
    return outcome_table(season.assign_coords(labels), told, units)


def read_numbers(
    season: xr.Dataset,
    given: Mapping[str, tuple[str, GivenNumber | None]],
    faults: Faults,
    by_day: Sequence[str] = (),
) -> dict[str, Number]:
    """Bring numbers to their canonical form; their labels must be those of the season.

    Parameters
    ----------
    season : Dataset
        The variables that they will meet.
    given : mapping of str to tuple
        Name for people, then the row in the variables table and the number; None is left out.
    faults : Faults
        Takes what is wrong.
    by_day : sequence of str
        Those that may vary along ``time``.

    Returns
    -------
    dict of str to float or DataArray
    """
    read = {
        what: number(value, row, faults, what=what)
        for what, (row, value) in given.items()
        if value is not None
    }
    arrays = {what: value for what, value in read.items() if isinstance(value, xr.DataArray)}
    labelled({"season": season, **arrays}, faults)
    for what, array in arrays.items():
        if "spot" in array.dims or ("time" in array.dims and what not in by_day):
            faults.add(
                what,
                "varies along a dimension that it may not have",
                value=", ".join(map(str, array.dims)),
                allowed="one number for a field",
            )
        elif "time" in array.dims and not season.indexes["time"].equals(array.indexes.get("time")):
            faults.add(what, "has other days than the season", mend=f"{what}.sel(time=season.time)")
    return read
