"""Readings of a flow meter and a pressure gauge: what has changed since the system was known to be good.

The law of outlets, ``flow = k pressure^x``, parts two things: the conductance ``k = flow / pressure^x`` is of
the outlets and pipes alone, the pressure is of the supply. Both are compared in logarithms with their means
over the baseline.

What counts as a change, and what it says, is in `waterbudget.system.change`.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from waterbudget.arguments import check_shapes, plain_number
from waterbudget.errors import Faults, collect
from waterbudget.operands import within
from waterbudget.system.change import Quantity, Watched, Zone, largest_by_chance, smallest_found, walk
from waterbudget.system.gauges import read_both
from waterbudget.tables import Table, by_label

FLOW_ERROR, PRESSURE_ERROR = 0.02, 0.03
"""Standard error of one reading of a meter and of a gauge [1 of the value]. Common practice, no source."""
FEWEST_TO_ESTIMATE = 4
"""Fewest baseline readings from which their scatter is estimated. Common practice, no source."""
WATCHED: tuple[Quantity, ...] = ("conductance", "pressure", "flow")
"""What is compared with the baseline."""
USUAL_SEASON, LONGEST_SEASON = 10, 100
"""Readings of one zone in a season: as many as people take, and as are judged. Common practice, no source."""

COLUMNS = {
    "zone": "object",
    "found": "datetime64[ns]",
    "since": "datetime64[ns]",
    "finding": "object",
    **{
        f"{name}_{end}_percent": "float64"
        for name in ("flow", "pressure", "conductance")
        for end in ("change", "low", "high")
    },
    "course": "object",
    "confidence": "float64",
    "cannot_tell": "object",
    "look_at": "object",
}
DETECTABLE = {
    "zone": "object",
    "quantity": "object",
    "readings": "int64",
    "fall_percent": "float64",
    "rise_percent": "float64",
}
"""Columns of `find_faults` and of `detectable_change`, and their kinds."""


def conductance(flow: Any, pressure: Any, exponent: Any) -> Any:
    """Conductance k of the outlets, ``flow = k pressure^exponent``.

    Parameters
    ----------
    flow : float or array
        Flow [m3 h-1], above 0.
    pressure : float or array
        Pressure at the gauge [kPa], above 0.
    exponent : float or array
        0 (pressure compensating) to 1; 0.5 for nozzles and orifices.

    Returns
    -------
    float or array
        k [m3 h-1 kPa^-x].

    Raises
    ------
    InputError
        When a number is outside its range, or shapes do not fit.

    Notes
    -----
    Source: Keller, J., Karmeli, D. (1974), Trickle irrigation design parameters, Transactions of the ASAE 17
    (from memory).
    """
    with collect() as faults:
        flow = within(flow, "flow", faults, 0.0, above=True, unit="m3 h-1")
        pressure = within(pressure, "pressure", faults, 0.0, above=True, unit="kPa")
        exponent = within(exponent, "exponent", faults, 0.0, 1.0)
        check_shapes(faults, flow=flow, pressure=pressure, exponent=exponent)
    return flow / pressure**exponent


def find_faults(
    readings: Table,
    baseline: Table,
    *,
    flow_error: float | None = FLOW_ERROR,
    pressure_error: float | None = PRESSURE_ERROR,
    supply_variation: float = 0.0,
    exponent: float = 0.5,
    false_alarm: float = 0.05,
    season_readings: int | None = None,
) -> pd.DataFrame:
    """Find leaks, wear, clogging and a failing supply in readings of flow and pressure.

    Parameters
    ----------
    readings : DataFrame or list of mappings
        A row for each reading: ``date``; ``zone`` where there are several; one of ``flow_m3_per_h``,
        ``flow_L_per_s``, ``flow_gal_per_min``; one of ``pressure_kPa``, ``pressure_bar``, ``pressure_psi``.
        Flow or pressure may be blank in a row, or absent. No row may precede the last of the baseline.
        ``date`` may have a time of day; a row like another in all, its time too, is refused as a copy.
    baseline : DataFrame or list of mappings
        The same, taken when each zone was known to be good: 1 reading or more, better 3 to 5. After a
        repair take a new one.
    flow_error, pressure_error : float, optional
        Standard error of one reading of meter and gauge [1 of the value], 0.0001 to 0.5, the reading of the
        scale included; an error that is always the same drops out. None for both: estimated from the
        scatter of each zone's baseline, 4 readings or more (with so few only large changes are found).
    supply_variation : float
        Ordinary variation of the supply's pressure from reading to reading [1 of the value], 0 to 0.5.
    exponent : float
        x of the law of outlets, 0 to 1: 0.5 for nozzles and orifices, near 0 if pressure compensating.
    false_alarm : float
        Chance of any finding in a zone over a season in which nothing changed, 0.001 to 0.5.
    season_readings : int, optional
        Readings of a zone in a season, for which ``false_alarm`` is meant: at least as many as the table
        has, 1 to 100. Left out: 10, or as many as the zone has. Up to that number later readings
        never change an earlier finding.

    Returns
    -------
    DataFrame
        A row for each kind of finding in a zone, as things stood on the day when it was first found; empty
        when nothing was: `detectable_change` says how small a change could have been. Columns:

        - ``zone``, and ``found``: day of the reading that showed it;
        - ``since``: the reading from which on the change stands out most. Of a change that grows this is
          often a reading too late: where ``course`` is "gradual", it began at or before ``since``;
        - ``finding``;
        - ``flow_change_percent``, ``flow_low_percent``, ``flow_high_percent``, and the same of pressure and
          conductance: mean change against the baseline from ``since`` on, with its 95 % interval, which takes
          ``since`` as known: at first sight of a change it leans to large ones;
        - ``course``: "sudden", "gradual", or blank where the readings cannot say. It alone goes by all
          readings, those after ``found`` too;
        - ``confidence``: 1 less the chance of so large a shift in a season without any;
        - ``cannot_tell``, ``look_at``: what the instruments cannot tell apart, a reading in a wrong unit
          among it where the change has that size, and what to look at next.

    Raises
    ------
    InputError
        With every fault at once: columns that name no unit, flows or pressures that are not above 0, rows
        without either, rows given twice, a reading before the baseline, a zone without one, a parameter
        outside its range.

    Notes
    -----
    The method and its sources stand at the head of `waterbudget.system.change`. The chance is shared evenly
    by the quantities that the baseline has: conductance, pressure, and flow for rows without a pressure
    (Bonferroni). A larger conductance with more pressure or less flow than before is called mixed, because
    wider outlets alone do not do that; a smaller one with less pressure or more flow likewise.
    """
    cases = _cases(
        readings,
        baseline,
        (flow_error, pressure_error, supply_variation),
        exponent,
        false_alarm,
        season_readings,
    )
    rows = [
        {"zone": case.label, **row}
        for case in cases
        for row in walk(case.zone, case.dates, case.start, false_alarm, case.season)
    ]
    return pd.DataFrame(rows, columns=list(COLUMNS)).astype(COLUMNS)


def detectable_change(
    readings: Table,
    baseline: Table,
    *,
    flow_error: float | None = FLOW_ERROR,
    pressure_error: float | None = PRESSURE_ERROR,
    supply_variation: float = 0.0,
    exponent: float = 0.5,
    false_alarm: float = 0.05,
    season_readings: int | None = None,
) -> pd.DataFrame:
    """Say how small a change `find_faults` could have found: what its silence is worth.

    Parameters
    ----------
    readings, baseline, flow_error, pressure_error, supply_variation, exponent, false_alarm, season_readings
        As in `find_faults`. What the readings show does not matter here, only how many there are.

    Returns
    -------
    DataFrame
        A row for each zone and quantity in which a change is looked for: ``zone``; ``quantity``
        ("conductance", "pressure", or "flow" of rows without a pressure); ``readings``, how many there are
        of it; ``fall_percent`` and ``rise_percent``, the smallest change of the quantity against its
        baseline [%], below and above 0. Smallest: had it been there, always the same, from the first reading
        to the last, it would have been found in this quantity in half of such cases; a larger one in
        more, one that came later or grew in fewer. A quantity that was not read later has no row.

    Raises
    ------
    InputError
        As `find_faults` does.

    Notes
    -----
    The largest shift that is not yet found is that of `find_faults`, at its ``false_alarm`` and
    ``season_readings``. The half is the median of simulated seasons, the same on every call; where errors are
    estimated, of such baselines too, each with the error that its own scatter shows. Sources: at the head of
    `waterbudget.system.change`.

    Examples
    --------
    >>> detectable_change(
    ...     [{"date": "2024-05-08", "flow_m3_per_h": 50.0, "pressure_kPa": 300.0}],
    ...     baseline=[{"date": "2024-05-01", "flow_m3_per_h": 50.0, "pressure_kPa": 300.0}],
    ... )
    """
    cases = _cases(
        readings,
        baseline,
        (flow_error, pressure_error, supply_variation),
        exponent,
        false_alarm,
        season_readings,
    )
    rows = []
    for case in cases:
        watched = case.zone.watched
        for one in watched:
            count = int(np.count_nonzero(~np.isnan(one.later)))
            if not count:
                continue
            known = (one.base.size, one.estimated)
            limit = largest_by_chance(false_alarm / len(watched), case.season, *known)
            change = one.error * smallest_found(limit, count, *known)
            ends = (100.0 * np.expm1(-change), 100.0 * np.expm1(change))
            rows.append((case.label, one.name, count, *ends))
    return pd.DataFrame(rows, columns=list(DETECTABLE)).astype(DETECTABLE)


def readings_table(readings: Table, baseline: Table, *, exponent: float = 0.5) -> pd.DataFrame:
    """Show each reading beside its zone's baseline.

    Parameters
    ----------
    readings, baseline, exponent
        As in `find_faults`.

    Returns
    -------
    DataFrame
        ``zone``, ``date``, ``baseline`` (whether the row is of it), ``flow_m3_per_h``, ``pressure_kPa``; the
        flow that the baseline's outlets would pass at this pressure, ``expected_flow_m3_per_h``; and the
        ratios of flow, pressure and conductance to their geometric means over the baseline. NaN where
        something was not read.

    Raises
    ------
    InputError
        As `find_faults` does.
    """
    with collect() as faults:
        x = plain_number(exponent, "emitter_exponent", faults, what="exponent")
        later, good = read_both(readings, baseline, faults)
    both = pd.concat([good.assign(baseline=True), later.assign(baseline=False)])
    both = both.sort_values(["date", "baseline"], ascending=[True, False], kind="stable")
    both["conductance"] = conductance(both["flow"], both["pressure"], x)
    parts = []
    for _, own in by_label(both, "zone"):
        mean = np.exp(np.log(own.loc[own["baseline"], list(WATCHED)]).mean())
        ratios = {f"{name}_ratio": own[name] / mean[name] for name in ("flow", "pressure", "conductance")}
        expected = mean["conductance"] * own["pressure"] ** x
        parts.append(own.assign(expected_flow_m3_per_h=expected, **ratios))
    named = {"flow": "flow_m3_per_h", "pressure": "pressure_kPa"}
    order = ["zone", "date", "baseline"]
    table = pd.concat(parts, ignore_index=True).drop(columns=["time", "conductance"])
    return table[[*order, *table.columns.drop(order)]].rename(columns=named)


# ---------------------------------------------------------------------------------- what is given
class _Case(NamedTuple):
    """A zone, its readings, their days, the last day of the baseline, and how many readings make a season."""

    label: Any
    zone: Zone
    dates: pd.Series[pd.Timestamp]
    start: pd.Timestamp
    season: int


def _cases(
    readings: Any,
    baseline: Any,
    instruments: tuple[Any, Any, Any],
    exponent: Any,
    false_alarm: Any,
    season_readings: Any,
) -> list[_Case]:
    """Read what `find_faults` takes; ``instruments`` are the two errors and the supply's variation."""
    with collect() as faults:
        x = plain_number(exponent, "emitter_exponent", faults, what="exponent")
        errors = _errors(*instruments, x, faults)
        _within(false_alarm, "false_alarm", (0.001, 0.5), faults)
        if season_readings is not None:
            _within(season_readings, "season_readings", (1, LONGEST_SEASON), faults)
        later, good = read_both(readings, baseline, faults)
        if faults:
            return []  # never reached: the faults are raised
        later, good = _logarithms(later, x), _logarithms(good, x)
        cases = []
        for label, own in by_label(later, "zone"):
            before = good[good["zone"] == label]
            zone = _watch(own, before, errors)
            _check_zone(label, zone, season_readings, faults)
            season = int(season_readings or max(len(own), USUAL_SEASON))
            cases.append(_Case(label, zone, own["date"], before["date"].max(), season))
    return cases


def _logarithms(table: pd.DataFrame, x: float) -> pd.DataFrame:
    """Bring the readings of all zones to logarithms, and their conductance beside them."""
    k = conductance(table["flow"], table["pressure"], x)
    return table.assign(conductance=np.log(k), pressure=np.log(table["pressure"]), flow=np.log(table["flow"]))


def _watch(own: pd.DataFrame, good: pd.DataFrame, errors: dict[Quantity, float]) -> Zone:
    """Choose what is watched in a zone; its readings are logarithms."""
    quantities: dict[Quantity, Watched] = {}
    for name in WATCHED:
        known = good[name].dropna().to_numpy()
        later = own[name].to_numpy()
        error = errors[name]
        estimated = bool(np.isnan(error))
        if estimated:
            error = float(known.std(ddof=1)) if known.size > 1 else np.nan
        quantities[name] = Watched(name, known, later, error, estimated)
    outlets, flow = quantities["conductance"], quantities["flow"]
    if outlets.base.size:  # the flow tells something of its own only where the pressure is blank
        flow = flow._replace(later=np.where(np.isnan(outlets.later), flow.later, np.nan))
    chosen = (outlets, quantities["pressure"], flow)
    return Zone(quantities, tuple(one for one in chosen if one.base.size))


def _check_zone(zone: Any, found: Zone, season: int | None, faults: Faults) -> None:
    """Note a zone that cannot be judged."""
    what = f"zone {zone!r}" if zone != "" else "readings"
    count, most = found.quantities["flow"].later.size, season or LONGEST_SEASON
    if count > most:
        mend = "state season_readings" if season else "give a mean for each week"
        mend += ", or begin a new season with a new baseline"
        faults.add(what, "has more readings than a season", value=count, allowed=f"{most}", mend=mend)
    if all(np.isnan(one.later).all() for one in found.watched):
        mend = "take a baseline with the same instruments"
        faults.add(what, "has no instrument that was read for the baseline as well", mend=mend)
    for one in found.watched:
        few = one.base.size < FEWEST_TO_ESTIMATE
        if one.estimated and (few or not one.error > 0):
            faults.add(
                what,
                f"has a baseline from which no error of its {one.name} can be estimated",
                value=f"{one.base.size} readings, scatter {one.error:.2g}",
                allowed=f"{FEWEST_TO_ESTIMATE} readings or more that are not all the same",
                mend="state flow_error and pressure_error",
            )


def _errors(flow: Any, pressure: Any, supply: Any, x: float, faults: Faults) -> dict[Quantity, float]:
    """Give the standard error of each quantity's logarithm; NaN to estimate it from the baseline."""
    unknown: dict[Quantity, float] = {"conductance": np.nan, "pressure": np.nan, "flow": np.nan}
    own = Faults()
    _within(supply, "supply_variation", (0.0, 0.5), own)
    if flow is None and pressure is None:
        if not own and supply:
            mend = "leave it out"
            own.add("supply_variation", "is in the scatter of the baseline already", value=supply, mend=mend)
    elif flow is None or pressure is None:
        own.add("flow_error, pressure_error", "are not both given", allowed="both, or None for both")
    else:
        _within(flow, "flow_error", (1e-4, 0.5), own)
        _within(pressure, "pressure_error", (1e-4, 0.5), own)
    faults.extend(tuple(own))
    if own or flow is None:
        return unknown
    return {
        "conductance": float(np.hypot(flow, x * pressure)),
        "pressure": float(np.hypot(pressure, supply)),
        "flow": float(np.hypot(flow, x * supply)),
    }


def _within(value: Any, name: str, ends: tuple[float, float], faults: Faults) -> None:
    """Note a parameter that is no number between two ends."""
    whole = isinstance(ends[0], int)
    kinds = int | np.integer if whole else int | float | np.number
    if isinstance(value, bool) or not isinstance(value, kinds) or not ends[0] <= value <= ends[1]:
        kind = "a whole number" if whole else "a number"
        faults.add(
            name, "is outside its range", value=repr(value), allowed=f"{kind}, {ends[0]:g} to {ends[1]:g}"
        )
