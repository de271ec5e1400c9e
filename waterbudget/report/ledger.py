"""Where every millimetre of a season went."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget.balance import running_total
from waterbudget.errors import collect
from waterbudget.plan.week import short_of_water
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
from waterbudget.system.losses import LINKS

_Array = NDArray[np.float64]
_STATE = ("depletion", "depletion_below", "excess_water", "taw")
_FLUXES = (
    "irrigation_gross",
    "application_loss",
    *(link.loss for link in LINKS),
    "irrigation_net",
    "rain",
    "runoff",
    "met_by_roots",
    "percolation",
    "drainage",
    "capillary_rise",
    "evaporation",
    "transpiration",
)
_DAILY = (*_STATE, *_FLUXES)
_STRESS = ("kc", "ke", "ks", "salt_factor", "et_ref", "crop_stage")
_START = tuple(f"initial_{name}" for name in _STATE)
_CLOSES = 1e-6
"""A first day that misses its start by more than this [mm] does not follow from that start."""


def ledger(season: xr.Dataset, units: UnitSystem = "metric") -> pd.DataFrame:
    """Account for all the water of a season.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`, all its days, with any label dimensions.
    units : {"metric", "us"}
        Units of the columns: mm or in.

    Returns
    -------
    DataFrame
        Wide: one row per label combination (one row when there is none), sums over the days. Columns, each
        depth with ``_mm`` or ``_in`` behind it:

        - the label dimensions, then ``start``, ``end`` (first and last day) and ``days``;
        - ``irrigations``: days with net irrigation; ``area_ha`` or ``area_acre`` (NaN where not given);
        - ``gross``, ``application_loss``, ``net``: supplied, lost by the system, entered the soil; between
          them what was lost at each link of the chain (``leak_loss``, ``conveyance_loss``, ``spray_loss``,
          ``canopy_loss``, ``irrigation_runoff``, and ``unattributed_loss``, known only as one fraction);
        - ``rain``, ``runoff``, ``effective_rain``: the last is an outcome, what entered less what of it
          percolated;
        - ``stress_days``: days on which a crop stood and was short of water (spots: by their weight); salt
          alone does not count;
        - ``transpiration_missed``: by lack of water and by salt, on all days of the crop;
        - ``evaporation``, ``transpiration``, ``et``;
        - ``met_by_roots``: stored water that growing roots took in (negative: left behind by a harvest);
        - ``capillary_rise`` from a water table into the root zone;
        - ``percolation`` out of the root zone, and of it ``percolation_from_rain``,
          ``percolation_from_irrigation`` and ``percolation_from_before``: of water that the soil held above
          field capacity before the first day; ``drainage`` out of the profile, the part that is lost;
        - ``excess_water``: water above field capacity that the root zone still holds at the end;
        - ``root_zone_change``, ``profile_change``: change of the stored water, end less start;
        - ``root_zone_residual``, ``profile_residual``: what the two balances leave unexplained over the
          season, and ``largest_daily_residual``, the worst single day of either.

        Where fields are split into spots, the numbers are means of the field.
        A label whose season holds a missing number has NaN in the sums that it touches.

    Raises
    ------
    InputError
        When `season` is not a daily result, is cut so that its first day does not follow from the state
        before it, or `units` is unknown.

    Notes
    -----
    The two balances (FAO-56 Eq. 85, with the roots' growth and the soil below them)::

        root_zone_change = met_by_roots + rain - runoff + net + capillary_rise
                           - percolation - evaporation - transpiration
        profile_change   = rain - runoff + net + capillary_rise - drainage - evaporation - transpiration

    Root-zone storage above wilting point is ``taw - depletion + excess_water``; storage of the profile is
    counted from field capacity, ``-(depletion + depletion_below) + excess_water``.

    A day's percolation belongs to rain and to irrigation in the proportion in which they entered the soil
    that day. Where the soil drains slowly, what it still holds of earlier days is mixed in, in the proportion
    it had; on a day without water this is the proportion of the water before (common practice, no source).
    """
    check_units(units)
    check_season(season, (*_DAILY, *_START, *_STRESS, "area", "spot_share", "spot_weight"))
    parts = attributed(season) | stress(season)
    season = over_spots(season.assign(parts), (*_DAILY, *_START, "area", *parts))
    start, last = _before(season), season.isel(time=-1, drop=True)
    root_zone, profile = _residuals(season, start)
    _check_start(root_zone, profile)

    total = {name: over_days(season[name]) for name in _FLUXES}
    sums = {
        "gross": total["irrigation_gross"],
        "application_loss": total["application_loss"],
        **{link.loss: total[link.loss] for link in LINKS},
        "net": total["irrigation_net"],
        "rain": total["rain"],
        "runoff": total["runoff"],
        "effective_rain": total["rain"] - total["runoff"] - over_days(season["from_rain"]),
        "evaporation": total["evaporation"],
        "transpiration": total["transpiration"],
        "et": total["evaporation"] + total["transpiration"],
        "met_by_roots": total["met_by_roots"],
        "capillary_rise": total["capillary_rise"],
        "percolation": total["percolation"],
        "percolation_from_rain": over_days(season["from_rain"]),
        "percolation_from_irrigation": over_days(season["from_irrigation"]),
        "percolation_from_before": over_days(season["from_before"]),
        "drainage": total["drainage"],
        "transpiration_missed": over_days(season["missed"]),
        "excess_water": last["excess_water"],
        "root_zone_change": _in_root_zone(last) - _in_root_zone(start),
        "profile_change": profile_change(season),
        "root_zone_residual": over_days(root_zone) + 0.0,  # -0.0 reads as a slip
        "profile_residual": over_days(profile) + 0.0,
        "largest_daily_residual": xr.apply_ufunc(
            np.maximum, abs(root_zone).max("time", skipna=False), abs(profile).max("time", skipna=False)
        ),
    }
    dims = label_dims(season, (*_DAILY, *_START))
    sizes = {dim: season.sizes[dim] for dim in dims}
    rows = [at.reshape(-1) for at in np.indices(tuple(sizes.values()))]
    count = int(np.prod(tuple(sizes.values()), dtype=int))
    days = season["time"].to_numpy()
    suffix, size = shown_unit("mm", units)
    columns: dict[str, NDArray[Any]] = {
        "start": np.full(count, days[0]),
        "end": np.full(count, days[-1]),
        "days": np.full(count, len(days)),
        "irrigations": spread(count_irrigations(season), sizes).reshape(-1),
    }
    in_area = shown_unit("ha", units)
    columns[f"area{in_area.suffix}"] = spread(season["area"], sizes).reshape(-1) / in_area.size
    columns["stress_days"] = spread(over_days(season["stressed"]), sizes).reshape(-1)
    for name, values in sums.items():
        columns[f"{name}{suffix}"] = spread(values, sizes).reshape(-1) / size
    return table(season, sizes, columns, rows)


def attributed(season: xr.Dataset) -> dict[str, xr.DataArray]:
    """Attribute each day's percolation to the sources of its water; at each spot, where there are spots."""
    rain = season["rain"] - season["runoff"]
    irrigation = season["irrigation_net"] * season["spot_share"]
    first_day = season["time"] == season["time"][0]
    held = season["excess_water"].shift(time=1, fill_value=0.0)
    held = held.where(~first_day, season["initial_excess_water"])
    sources = {"rain": (rain, 0.0), "irrigation": (irrigation, 0.0), "before": (xr.zeros_like(rain), 1.0)}
    return {
        f"from_{name}": season["percolation"]
        * xr.apply_ufunc(
            _share,
            entered,
            rain + irrigation,
            held,
            kwargs={"share": share},
            input_core_dims=[["time"]] * 3,
            output_core_dims=[["time"]],
        )
        for name, (entered, share) in sources.items()
    }


def _share(entered: _Array, water: _Array, held: _Array, *, share: float) -> _Array:
    """Follow the share of one source in the water above field capacity; days along the last axis.

    Parameters
    ----------
    entered, water : ndarray
        What entered from the source, and from all of them [mm].
    held : ndarray
        Water above field capacity left from the day before [mm], mixed with what enters.
    share : float
        The source's share in what was held before the first day.

    Returns
    -------
    ndarray
        Share of each day [1]; where there is no water, that of the day before.
    """
    entered, water, held = np.broadcast_arrays(entered, water, held)
    shares = np.empty(water.shape)
    last: _Array = np.full(water.shape[:-1], share)
    for day in range(water.shape[-1]):
        together = held[..., day] + water[..., day]
        some = together != 0  # NaN stays NaN
        mixed = (last * held[..., day] + entered[..., day]) / np.where(some, together, 1.0)
        last = np.where(some, mixed, last)
        shares[..., day] = last
    return shares


def stress(season: xr.Dataset) -> dict[str, xr.DataArray]:
    """Mark days on which a crop was short of water, and give what transpiration it missed, also by salt."""
    stands = season["crop_stage"] > 0
    potential = (season["kc"] - season["ke"]) * season["et_ref"]
    # The rounding of potential is no missed water where ks is 1. NaN holds nothing back here, and makes the
    # sum missing instead.
    held_back = ((season["ks"] < 1) & stands).astype(np.float64)
    return {
        "stressed": short_of_water(season),
        "missed": (potential - season["transpiration"]) * held_back,
    }


def profile_change(season: xr.Dataset) -> xr.DataArray:
    """Give the water of the profile at the end less that before the first day, mean of the field [mm]."""
    season = over_spots(season, (*_STATE, *_START))
    return _in_profile(season.isel(time=-1, drop=True)) - _in_profile(_before(season))


def count_irrigations(season: xr.Dataset) -> xr.DataArray:
    """Count the days with net irrigation; a missing day makes the count NaN, and all counts floats."""
    net = season["irrigation_net"]
    count = over_days((net > 0).where(net.notnull()))
    return count.astype(np.int64) if bool(count.notnull().all()) else count


def over_days(values: xr.DataArray) -> xr.DataArray:
    """Sum over the days; a missing day makes the sum missing."""
    return running_total(values, "time")


def _before(season: xr.Dataset) -> xr.Dataset:
    """Give the state before the first day, under the names of a day's."""
    return season[list(_START)].rename(dict(zip(_START, _STATE, strict=True)))


def _in_root_zone(state: xr.Dataset) -> xr.DataArray:
    """Give the water of the root zone above the wilting point [mm]."""
    return state["taw"] - state["depletion"] + state["excess_water"]


def _in_profile(state: xr.Dataset) -> xr.DataArray:
    """Give the water of the profile, counted from field capacity [mm]."""
    return state["excess_water"] - (state["depletion"] + state["depletion_below"])


def _change(values: xr.DataArray, start: xr.DataArray) -> xr.DataArray:
    """Give the change of a storage from day to day, the first from the state before it."""
    first = start.expand_dims(time=values["time"][:1])
    return xr.concat([first, values], dim="time").diff("time").assign_coords(time=values["time"])


def _residuals(season: xr.Dataset, start: xr.Dataset) -> tuple[xr.DataArray, xr.DataArray]:
    """Give what the root zone's and the profile's balance leave unexplained each day [mm]."""
    both = (
        season["rain"]
        - season["runoff"]
        + season["irrigation_net"]
        + season["capillary_rise"]
        - season["evaporation"]
        - season["transpiration"]
    )
    root_zone = _change(_in_root_zone(season), _in_root_zone(start))
    profile = _change(_in_profile(season), _in_profile(start))
    return (
        root_zone - (both + season["met_by_roots"] - season["percolation"]),
        profile - (both - season["drainage"]),
    )


def _check_start(root_zone: xr.DataArray, profile: xr.DataArray) -> None:
    """Refuse a season whose first day is not the one that its initial state precedes."""
    with collect() as faults:
        for storage, residual in (("root zone", root_zone), ("profile", profile)):
            first = abs(residual.isel(time=0))
            if bool((first > _CLOSES).any()):
                faults.add(
                    f"season, storage of the {storage}",
                    "on the first day does not follow from the state before it",
                    where=str(residual["time"].to_numpy()[0])[:10],
                    value=f"{float(first.max()):.6g} mm unexplained",
                    mend="pass the season with all its days, not a slice of them",
                )
