"""A plan for the leaching that a season lacks: on given days, or with its irrigations."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget.balance import LOOKED_AT, depth_to_fill
from waterbudget.balance.record import LEACHING, REFILL
from waterbudget.checks import note_where
from waterbudget.descriptions import GivenNumber, moment, read_dates
from waterbudget.errors import Faults, brief, collect
from waterbudget.report.frames import UnitSystem, check_season, check_units, labels_of, shown_unit, spread
from waterbudget.report.leaching import NEEDED, leaching_outcomes

_Array = NDArray[np.float64]
_LEAST = 0.1
"""A refill, or a shortfall that is left, below this [mm] is not worth a row: common practice, no source."""
_ROUNDS = 20
"""Times that leaching is tried and what it leaves lacking is added."""

_PLANNED = (
    *NEEDED,
    "leaching_irrigation",
    "depletion",
    "depletion_below",
    "rule_free",
    *LOOKED_AT,
)


def plan_leaching(
    season: xr.Dataset,
    water_salinity: GivenNumber,
    *,
    dates: Any,
    crop_salinity: GivenNumber | None = None,
    requirement: GivenNumber | None = None,
    rerun: Callable[[pd.DataFrame], xr.Dataset] | None = None,
    units: UnitSystem = "metric",
) -> pd.DataFrame:
    """Plan waterings on given days that make up the shortfall of `leaching_balance`, beside the rule.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`, of one field or on the label ``field``.
    water_salinity, crop_salinity, requirement
        As in `leaching_balance`.
    dates : dates
        Days that share the shortfall equally; best few, and after harvest, when the soil is to be filled
        anyway. A plan that is tried leaves the later days out once what fills an uneven field leaches enough.
    rerun : callable, optional
        Takes a plan and gives the season with it: ``lambda plan: simulate(..., extra_irrigation=plan)``. Day
        after day the season is then run with what is planned so far, to see what the profile lacks that
        evening; and with the leaching, until less than 0.1 mm lacks: a run for each date, and some more.
        Without it the depths are those that the season as it was calls for.
    units : {"metric", "us"}
        Unit of the depth: mm or in.

    Returns
    -------
    DataFrame
        For ``simulate(..., extra_irrigation=...)``: ``date``, ``field`` where the season has fields,
        ``net_mm`` or ``net_in``, and ``purpose``. Beside ``"leaching"`` a day may have a row ``"refill for
        leaching"``: what the profile lacks that evening, which would fill first, and brings salts of its
        own that are leached with the rest. Without a shortfall the table has no rows.

    Raises
    ------
    InputError
        As `leaching_balance`; when the shortfall is not known, or varies along another dimension than
        ``field``; when a date is none, comes twice, lies outside the season or on a day that a record covers;
        when `rerun` gives no season, or 20 rounds leave a shortfall.

    Notes
    -----
    Under a plan the soil is wetter: each watering is followed by evaporation that the season did not have,
    the rule may irrigate on other days, uneven watering fills its dry spots before they drain, and more water
    brings more salts. A plan of many small waterings that was not tried can leave more lacking than there was
    before it. How the shortfall is shared is ours. To leach with the irrigations themselves, see
    `leaching_calendar`.
    """
    lacking, again = _lacking(season, water_salinity, crop_salinity, requirement, units)
    lacking = np.where(lacking < _LEAST, 0.0, lacking)
    planned = _planned(season, dates, lacking > 0)
    if rerun is None:
        net = _by_field(season["irrigation_net"], season)
        refill = _refill(season, planned, np.cumsum(net > 0, axis=1, dtype=np.float64))
        leaching = _shared(lacking + again * refill.sum(axis=1), planned)
        return _plan(season, {REFILL: refill, LEACHING: leaching}, units)
    refill, leaching = np.zeros((2, *planned.shape))

    def tried() -> xr.Dataset:
        return rerun(_plan(season, {REFILL: refill, LEACHING: leaching}, units))

    def still_lacking(run: xr.Dataset) -> _Array:
        left, _ = _lacking(run, water_salinity, crop_salinity, requirement, units)
        return np.asarray(left * ((left >= _LEAST) & (lacking > 0)))

    run, left = season, lacking
    for day in np.flatnonzero(planned.any(axis=0)):
        planned[:, day] &= left > 0  # where watering is uneven, what fills the soil may leach enough
        missing = _missing(run)[:, day] * planned[:, day]
        refill[:, day] = np.where(missing < _LEAST, 0.0, missing)
        run = tried()
        left = still_lacking(run)
    rounds = 0
    while left.any():
        with collect() as faults:
            if rounds == _ROUNDS:
                faults.add(
                    "rerun",
                    f"still leaves a shortfall of leaching after {_ROUNDS} rounds",
                    value=f"{left.max():.3g} mm",
                    count=int((left > 0).sum()),
                    mend="see that rerun takes the plan as extra_irrigation; take fewer days, or days after "
                    "harvest",
                )
        leaching = leaching + _shared(left, planned)
        left, rounds = still_lacking(tried()), rounds + 1
    return _plan(season, {REFILL: refill, LEACHING: leaching}, units)


def _planned(season: xr.Dataset, dates: Any, wanted: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mark the days of the plan, at the fields (fields, days) that want one."""
    free = _by_field(season["rule_free"], season) > 0
    time = season.indexes["time"]
    planned = np.zeros(free.shape, dtype=bool)
    with collect() as faults:
        planned[:, _days(dates, time, faults)] = True
        planned &= wanted[:, None]
        covered = (planned & ~free).any(axis=0)
        if covered.any():
            faults.add(
                "dates",
                "falls on a day that the record covers",
                where=f"{time[int(np.argmax(covered))]:%Y-%m-%d}",
                count=int(covered.sum()),
                mend="plan from the day after the record on",
            )
    return planned


def _shared(depth: _Array, planned: NDArray[np.bool_]) -> _Array:
    """Share the depth of each field equally among its days."""
    return np.asarray(depth[:, None] * planned / np.maximum(planned.sum(axis=1, keepdims=True), 1))


def leaching_calendar(
    season: xr.Dataset,
    water_salinity: GivenNumber,
    *,
    crop_salinity: GivenNumber | None = None,
    requirement: GivenNumber | None = None,
    start: Any = None,
    units: UnitSystem = "metric",
) -> pd.DataFrame:
    """Plan the season's irrigations again, each with its part of the shortfall of `leaching_balance`.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`, of one field or on the label ``field``.
    water_salinity, crop_salinity, requirement, units
        As in `plan_leaching`.
    start : date, optional
        First day of leaching; what was irrigated before it stays as it was. The first day of the season, when
        not given.

    Returns
    -------
    DataFrame
        For ``simulate(..., irrigation=...)``, columns as in `plan_leaching`: the waterings of the season
        (``purpose`` empty), and ``"leaching"`` with each of them in proportion to its net depth. On the last
        of them ``"refill for leaching"`` is what the profile lacks that evening.

    Raises
    ------
    InputError
        As `leaching_balance`; when the shortfall is not known, varies along another dimension than ``field``,
        `start` is no date, or a field that needs leaching has no irrigation from then on.

    Notes
    -----
    A calendar, because a rule that decides anew beside the leaching takes part of it for its own: a soil that
    is wetter after each watering is watered later, and what was planned for its day then falls on dry soil.
    Sharing by net depth is ours.

    `leaching_balance` of the new season may still lack a little, and `losses` may call a part of the leaching
    over-watering. Both come from the depths of the season, which stand as they were. Under even watering too,
    a small leaching does not drain on its day: the day's evapotranspiration is met from it first (see
    ``et_share_before_percolation``). The soil is then wetter at the next watering, whose depth is more than
    is lacking. What is too much drains in the place of the leaching, carries salts as well and is credited
    like it; only its name is over-watering. What more evaporates, or stays because rain drains in its place,
    asks for leaching of its own and is lacking; where watering is uneven, leaching also fills dry spots
    before it drains. Plan what is still lacking with `plan_leaching`, on the new season.

    Pass the rule beside the calendar all the same. It waters nothing on the days that the calendar covers,
    but `losses` goes by its adequacy: what covers dry spots is over-watering of a season that has none.
    """
    lacking, again = _lacking(season, water_salinity, crop_salinity, requirement, units)
    net = _by_field(season["irrigation_net"], season)
    leached = _by_field(season["leaching_irrigation"], season)
    with collect() as faults:
        first = season.indexes["time"][0] if start is None else moment(start, "start", faults)
        if isinstance(first, xr.DataArray):
            faults.add("start", "is several dates", allowed="one date")
    open_days = season.indexes["time"] >= first
    shares = net * open_days * (lacking > 0)[:, None]
    total = shares.sum(axis=1, keepdims=True)
    with collect() as faults:
        stranded = (lacking > 0) & ~(total[:, 0] > 0)
        if stranded.any():
            faults.add(
                "season",
                "has no irrigation to leach with",
                where="" if start is None else f"{first} and later",
                count=int(stranded.sum()),
                mend="plan_leaching(..., dates=...)",
            )
    last = (shares > 0) & (np.cumsum(shares[:, ::-1] > 0, axis=1)[:, ::-1] == 1)
    refill = _refill(season, last, np.zeros(net.shape))
    depth = (lacking + again * refill.sum(axis=1))[:, None]
    more = depth * shares / np.where(total > 0, total, 1.0)
    return _plan(season, {"": net - leached, REFILL: refill, LEACHING: leached + more}, units)


def _lacking(
    season: xr.Dataset,
    water_salinity: GivenNumber,
    crop_salinity: GivenNumber | None,
    requirement: GivenNumber | None,
    units: UnitSystem,
) -> tuple[_Array, _Array]:
    """Give the shortfall of each field [mm], and what a mm of refill needs for its own salts [mm]."""
    check_units(units)
    balance = leaching_outcomes(season, water_salinity, crop_salinity, requirement)
    shortfall, part = balance["shortfall"].values, balance["leaching_requirement"].values
    check_season(season, _PLANNED)
    with collect() as faults:
        other = [str(dim) for dim in shortfall.dims if dim != "field"]
        if other:
            faults.add(
                "season",
                f"needs other leaching along {', '.join(other)}, and a plan has fields alone",
                mend=f"plan one at a time: season.sel({other[0]}=...)",
            )
        mend = "a day of the season is missing: fill the weather first"
        note_where(faults, "shortfall of leaching", "is not known", shortfall.isnull(), {}, mend=mend)
    count = (season.sizes.get("field", 1),)
    lacking, again = (
        np.array(np.broadcast_to(values.to_numpy().reshape(-1), count))
        for values in (shortfall, part / (1.0 - part))
    )
    return lacking, again


def _by_field(values: xr.DataArray, season: xr.Dataset) -> _Array:
    """Lay a daily series out by fields (one where the season has none) and days."""
    sizes = {dim: season.sizes[dim] for dim in ("field", "time") if dim in season.dims}
    return spread(values, sizes).reshape(-1, season.sizes["time"])


def _days(dates: Any, time: pd.Index, faults: Faults) -> NDArray[np.intp]:
    """Find the positions of the dates in the season."""
    several = isinstance(dates, Sequence | np.ndarray | pd.Index | pd.Series) and not isinstance(dates, str)
    found = read_dates(np.array(list(dates) if several else [dates], dtype=object))
    if found is None or found.tz is not None or not len(found) or found.hasnans:
        faults.add(
            "dates",
            "is not a list of dates",
            value=brief(dates),
            allowed="year-month-day, without time zone",
            mend="to leach with the irrigations of the season, take leaching_calendar",
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


def _missing(season: xr.Dataset) -> _Array:
    """Give what the profile lacks in the evening, as a depth over the field (fields, days) [mm]."""
    profile = season["depletion"] - season["excess_water"] + season["depletion_below"]
    return np.maximum(_by_field(depth_to_fill(season, profile), season), 0.0)


def _refill(season: xr.Dataset, planned: NDArray[np.bool_], watered: _Array) -> _Array:
    """Give what the profile takes on each planned day before water passes, as depths over the field [mm].

    Parameters
    ----------
    season : Dataset
    planned : ndarray of bool, shape (fields, days)
    watered : ndarray, shape (fields, days)
        Rises where an irrigation of the season fills the root zone again: water that an earlier planned day
        put there makes that irrigation smaller. In the soil below the roots it stays.

    Returns
    -------
    ndarray, shape (fields, days)
    """
    whole, below = _missing(season), _by_field(depth_to_fill(season, season["depletion_below"]), season)
    refill = np.zeros(planned.shape)
    filled, deep, since = np.zeros((3, len(planned)))
    for day in np.flatnonzero(planned.any(axis=0)):
        here = planned[:, day]
        filled = np.where(here & (watered[:, day] > since), np.minimum(filled, deep), filled)
        since = np.where(here, watered[:, day], since)
        # One account for both: when roots end, what was filled around them lies below.
        refill[:, day] = np.maximum(whole[:, day] - filled, 0.0) * here
        filled = filled + refill[:, day]
        deep = np.where(here, np.maximum(deep, below[:, day]), deep)
    return np.where(refill >= _LEAST, refill, 0.0)


def _plan(season: xr.Dataset, depths: dict[str, _Array], units: UnitSystem) -> pd.DataFrame:
    """Lay depths (fields, days) of each purpose out as a table of waterings, the days of a field together."""
    together = np.stack(list(depths.values()), axis=-1)
    field, day, purpose = np.nonzero(together)
    suffix, size = shown_unit("mm", units)
    columns: dict[str, Any] = {"date": season["time"].to_numpy()[day]}
    if "field" in season.dims:
        columns["field"] = labels_of(season, "field")[field]
    columns[f"net{suffix}"] = together[field, day, purpose] / size
    columns["purpose"] = np.array(list(depths), dtype=object)[purpose]
    return pd.DataFrame(columns)
