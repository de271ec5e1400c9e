"""Leaching of a season: what is lacking of it, and a plan for it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget.balance import watch_weights, watched_mean
from waterbudget.balance.record import LEACHING
from waterbudget.checks import note_where
from waterbudget.descriptions import GivenNumber, read_dates
from waterbudget.errors import Faults, collect
from waterbudget.report.frames import UnitSystem, check_season, check_units, labels_of, shown_unit
from waterbudget.report.ledger import attributed, over_days
from waterbudget.report.losses import missing_before
from waterbudget.report.performance import Outcome, outcome_table
from waterbudget.report.salts import ROUNDING, SALINITY, entered, of_field, read_numbers
from waterbudget.soil.leaching import (
    leaching_requirement,
    leaching_shortfall,
    required_water,
    root_zone_salinity,
)

_Array = NDArray[np.float64]
WITH_IRRIGATIONS = "with irrigations"
REFILL = "refill before leaching"
"""Purpose of the water that fills what is missing, so that the leaching passes through."""

_NEEDED = (
    "irrigation_net",
    "rain",
    "runoff",
    "et",
    "capillary_rise",
    "percolation",
    "drainage",
    "excess_water",
    "initial_excess_water",
    "spot_share",
    "spot_weight",
)
_PLANNED = (
    *_NEEDED,
    "depletion",
    "depletion_below",
    "spot_watched",
    "watch_driest_quarter",
    "over_application",
    "rule_free",
)


def leaching_balance(
    season: xr.Dataset,
    water_salinity: GivenNumber,
    *,
    crop_salinity: GivenNumber | None = None,
    requirement: GivenNumber | None = None,
    units: UnitSystem = "metric",
) -> pd.DataFrame:
    """Set the leaching that a season's irrigation requires against what passed below the roots anyway.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`, with any label dimensions; best a whole year, so that the rain outside the
        season of irrigation counts too.
    water_salinity : number
        ECw, electrical conductivity of the irrigation water [dS m-1], mean of the season.
    crop_salinity : number
        ECe that the crop stands at the yield wanted [dS m-1], for the requirement of surface irrigation and
        ordinary sprinkling. Give this or `requirement`.
    requirement : number
        LR [1], 0 or more, below 1: from `leaching_requirement_frequent` under drip or daily sprinkling.
    units : {"metric", "us"}
        Units of the depths: mm or in.

    Returns
    -------
    DataFrame
        A row per label combination, sums over the days; depths, with ``_mm`` or ``_in`` behind them, are
        means of the field:

        - the label dimensions, if any, then ``water_salinity_dS_per_m``;
        - ``irrigation``, ``rain_entered``, ``capillary_rise``, ``et``, ``drainage``: what entered the profile
          and left it;
        - ``leaching_fraction``: drainage over irrigation and rain, on the ground that is irrigated;
          ``leaching_requirement``;
        - ``irrigation_kept``: irrigation less its part of the drainage, what evapotranspiration took from it;
        - ``required``: depth that must drain, ``LR AW`` with ``AW = irrigation_kept / (1 - LR)``;
        - ``credited``: drainage, of rain and of irrigation, on the ground that is irrigated;
        - ``shortfall``: required less credited, at least 0;
        - ``share_short``: part of the field at whose own spot less drains than is required there;
        - ``steady_soil_salinity_dS_per_m``: ECe that the irrigated ground comes to where every year is like
          this one, irrigation diluted by rain (NaN where nothing drains: salts build up without end).

    Raises
    ------
    InputError
        When `season` is not a daily result, a number is negative or has other labels than the season, both or
        none of `crop_salinity` and `requirement` are given, or the requirement is 1 or more.

    Notes
    -----
    ``AW = ET / (1 - LR)`` is that of FAO Irrigation and Drainage Paper 29 (Ayers and Westcot 1985), for the
    evapotranspiration that irrigation is to meet. Ours is how rain and storage enter: a season that ends as
    moist as it began keeps of its irrigation just ET less effective rain; what was drawn from storage counts
    when irrigation fills it again, and ground that is not irrigated has no requirement. A day's drainage
    belongs to rain and irrigation as the ledger attributes its percolation. Spray loss, leaks and runoff do
    not drain, and so are not credited. Salts that rise from a water table are not in the requirement; see
    `salt_ledger`.
    """
    check_units(units)
    return outcome_table(season, _leaching(season, water_salinity, crop_salinity, requirement), units)


def _leaching(
    season: xr.Dataset,
    water_salinity: GivenNumber,
    crop_salinity: GivenNumber | None,
    requirement: GivenNumber | None,
) -> dict[str, Outcome]:
    """Work the leaching balance of each field out."""
    check_season(season, _NEEDED)
    with collect() as faults:
        if (crop_salinity is None) == (requirement is None):
            faults.add(
                "crop_salinity, requirement",
                "are both given" if crop_salinity is not None else "are not given",
                allowed="one of the two",
            )
        given = read_numbers(
            season[list(_NEEDED)],
            {
                "water_salinity": ("water_salinity", water_salinity),
                "crop_salinity": ("soil_salinity", crop_salinity),
                "requirement": ("et_share_before_percolation", requirement),  # a row of the same range
            },
            faults,
        )
    salinity = given["water_salinity"]
    part = (
        leaching_requirement(salinity, given["crop_salinity"])
        if requirement is None
        else given["requirement"]
    )
    irrigation, rain = entered(season)
    percolation = season["percolation"]
    of_irrigation = attributed(season)["from_irrigation"] / percolation.where(percolation != 0, 1.0)
    kept = np.maximum(over_days(irrigation - season["drainage"] * of_irrigation), 0.0)
    watered = season["spot_share"] > 0
    spots = {
        "irrigation": over_days(irrigation),
        "rain_entered": over_days(rain),
        "capillary_rise": over_days(season["capillary_rise"]),
        "et": over_days(season["et"]),
        "drainage": over_days(season["drainage"]),
        "irrigation_kept": kept,
        "required": part * required_water(kept, part),
        "credited": over_days(season["drainage"]) * watered,
    }
    lacking = spots["required"] - spots["credited"]
    short = (lacking > ROUNDING).where(lacking.notnull())
    field = {name: of_field(values, season) for name, values in spots.items()}
    shortfall = leaching_shortfall(field["required"], field["credited"])
    infiltrated = of_field((spots["irrigation"] + spots["rain_entered"]) * watered, season)
    infiltrated = infiltrated.where(infiltrated > 0)
    fraction = field["credited"] / infiltrated
    leached = fraction.where((fraction > 0) & (fraction <= 1))
    steady = root_zone_salinity(salinity * field["irrigation"] / infiltrated, leached)
    water = ("irrigation", "rain_entered", "capillary_rise", "et", "drainage")
    return {
        f"water_salinity{SALINITY}": Outcome("1", xr.DataArray(salinity)),
        **{name: Outcome("mm", field[name]) for name in water},
        "leaching_fraction": Outcome("1", fraction),
        "leaching_requirement": Outcome("1", xr.DataArray(part)),
        **{name: Outcome("mm", field[name]) for name in ("irrigation_kept", "required", "credited")},
        "shortfall": Outcome("mm", shortfall.where(~(shortfall <= ROUNDING), 0.0)),
        "share_short": Outcome("1", of_field(short, season)),
        f"steady_soil_salinity{SALINITY}": Outcome("1", steady),
    }


def plan_leaching(
    season: xr.Dataset,
    water_salinity: GivenNumber,
    *,
    dates: Any,
    crop_salinity: GivenNumber | None = None,
    requirement: GivenNumber | None = None,
    units: UnitSystem = "metric",
) -> pd.DataFrame:
    """Plan waterings that make up the shortfall of `leaching_balance`.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`, of one field or on the label ``field``.
    water_salinity, crop_salinity, requirement
        As in `leaching_balance`.
    dates : dates, or "with irrigations"
        Days that share the shortfall equally; or the season's days of irrigation, in proportion to their net
        depth. Days that a record covers are past, and not taken.
    units : {"metric", "us"}
        Unit of the depth: mm or in.

    Returns
    -------
    DataFrame
        For ``simulate(..., extra_irrigation=...)``: ``date``, ``field`` where the season has fields,
        ``net_mm`` or ``net_in``, and ``purpose``. Beside ``"leaching"`` a day may have a row ``"refill before
        leaching"``: what root zone and profile still lack after the water of that day, and would fill first.
        Without a shortfall the table has no rows.

    Raises
    ------
    InputError
        As `leaching_balance`; when the shortfall is not known, or varies along another dimension than
        ``field``; when a date is none, comes twice, lies outside the season or on a day that a record covers,
        or a field with a shortfall has no day of irrigation.

    Notes
    -----
    The depths are read from the season as it was. Simulated again with them, watering may fall on other days,
    and uneven watering fills its dry spots before they drain: see `leaching_balance` of the new season, plan
    what is left, and join the tables (``pandas.concat``). How the shortfall is shared is ours.
    """
    check_units(units)
    shortfall = _leaching(season, water_salinity, crop_salinity, requirement)["shortfall"].values
    check_season(season, _PLANNED)
    fields = "field" in season.dims
    with collect() as faults:
        other = [str(dim) for dim in shortfall.dims if dim != "field"]
        if other:
            faults.add(
                "season",
                f"needs other leaching along {', '.join(other)}, and a plan has fields alone",
                mend=f"plan one at a time: season.sel({other[0]}=...)",
            )
        note_where(faults, "shortfall of leaching", "is not known", shortfall.isnull(), {}, mend=_UNKNOWN)
    per_field = {"field": season.sizes["field"]} if fields else {}

    def daily(values: xr.DataArray) -> _Array:
        """Lay a daily series out by field and day."""
        spread = values.expand_dims({dim: n for dim, n in per_field.items() if dim not in values.dims})
        return np.asarray(spread.transpose(..., "time").to_numpy().reshape(-1, values.sizes["time"]))

    lacking = np.broadcast_to(shortfall.to_numpy().reshape(-1), (per_field.get("field", 1),))
    net, free = daily(season["irrigation_net"]), daily(season["rule_free"].broadcast_like(season["time"]))
    weights = _weights(dates, season.indexes["time"], net, (lacking > 0)[:, None] & (free > 0), lacking > 0)
    leaching = lacking[:, None] * weights
    root, below = (daily(values) for values in _missing_after(season))
    refill = _refill(root, below, np.cumsum(net > 0, axis=1), leaching > 0)
    depths = np.stack([refill, leaching], axis=-1)
    at, day, kind = np.nonzero(depths)
    suffix, size = shown_unit("mm", units)
    columns: dict[str, Any] = {"date": season["time"].to_numpy()[day]}
    if fields:
        columns["field"] = labels_of(season, "field")[at]
    columns[f"net{suffix}"] = depths[at, day, kind] / size
    columns["purpose"] = np.array([REFILL, LEACHING], dtype=object)[kind]
    return pd.DataFrame(columns)


_UNKNOWN = "a day of the season is missing: fill the weather first"


def _weights(
    dates: Any, time: pd.Index, net: _Array, allowed: NDArray[np.bool_], wanted: NDArray[np.bool_]
) -> _Array:
    """Share each field's leaching over the days.

    Parameters
    ----------
    dates
        As in `plan_leaching`.
    time : Index
        Days of the season.
    net : ndarray, shape (fields, days)
        Net irrigation [mm].
    allowed : ndarray of bool, shape (fields, days)
        Days without a record, of fields that need leaching.
    wanted : ndarray of bool, shape (fields,)
        Fields that need leaching.

    Returns
    -------
    ndarray, shape (fields, days)
        Adds up to 1 over the days of a field that needs leaching.
    """
    weights = np.zeros(net.shape)
    with collect() as faults:
        if isinstance(dates, str) and dates == WITH_IRRIGATIONS:
            weights = net * allowed
            lost = wanted & ~(weights.sum(axis=1) > 0)
            if lost.any():
                faults.add(
                    "dates",
                    "has no day of irrigation to leach on, after those that a record covers",
                    count=int(lost.sum()),
                    mend="give dates",
                )
        else:
            days = _days(dates, time, faults)
            weights[:, days] = 1.0
            covered = wanted[:, None] & ~allowed & (weights > 0)
            if covered.any():
                first = time[int(np.argwhere(covered)[0][1])]
                faults.add(
                    "dates",
                    "falls on a day that the record covers",
                    where=f"{first:%Y-%m-%d}",
                    count=int(covered.any(axis=0).sum()),
                    mend="plan from the day after the record on",
                )
    total = weights.sum(axis=1, keepdims=True)
    return np.asarray(weights / np.where(total > 0, total, 1.0))


def _days(dates: Any, time: pd.Index, faults: Faults) -> NDArray[np.intp]:
    """Find the positions of the dates in the season."""
    given = (
        [dates]
        if isinstance(dates, str) or not isinstance(dates, Sequence | np.ndarray | pd.Index)
        else dates
    )
    found = read_dates(np.array(list(given), dtype=object))
    if found is None or found.tz is not None or not len(found) or found.hasnans:
        faults.add(
            "dates",
            "is not a list of dates",
            value=repr(dates)[:80],
            allowed=f"dates, year-month-day and without time zone, or {WITH_IRRIGATIONS!r}",
        )
        return np.empty(0, dtype=np.intp)
    found = found.normalize()
    days = time.get_indexer(found)
    for bad, problem in ((days < 0, "lies outside the season"), (found.duplicated(), "comes twice")):
        if bad.any():
            faults.add(
                "dates",
                problem,
                where=f"position {int(np.flatnonzero(bad)[0]) + 1}",
                value=f"{found[bad][0]:%Y-%m-%d}",
                count=int(bad.sum()),
                allowed=f"{time[0]:%Y-%m-%d} to {time[-1]:%Y-%m-%d}, each once",
            )
    return np.asarray(days[days >= 0])


def _missing_after(season: xr.Dataset) -> tuple[xr.DataArray, xr.DataArray]:
    """Give what root zone and soil below still lack after the day's water, as depths over the field [mm]."""
    irrigation, rain = entered(season)
    missing = missing_before(season)
    weights = watch_weights(season, missing)
    root = watched_mean(missing - irrigation - rain, weights) * season["over_application"]
    below = watched_mean(season["depletion_below"], weights) * season["over_application"]
    return root.where(~(root < 0.0), 0.0), below


def _refill(root: _Array, below: _Array, watered: NDArray[np.int_], planned: NDArray[np.bool_]) -> _Array:
    """Give what must be filled on each planned day before water passes; all arrays (fields, days).

    Water filled on an earlier planned day is there until the season's next irrigation, which then would be
    smaller; in the soil below the roots it stays.
    """
    refill = np.zeros(root.shape)
    count = len(root)
    filled, deep, since = np.zeros(count), np.zeros(count), np.zeros(count)
    for day in np.flatnonzero(planned.any(axis=0)):
        here = planned[:, day]
        filled = np.where(here & (watered[:, day] > since), 0.0, filled)
        more = np.maximum(root[:, day] - filled, 0.0) * here
        deeper = np.maximum(below[:, day] - deep, 0.0) * here
        filled, deep = filled + more, deep + deeper
        since = np.where(here, watered[:, day], since)
        refill[:, day] = more + deeper
    return np.where(refill > ROUNDING, refill, 0.0)
