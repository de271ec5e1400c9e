"""Readings of a flow meter and a pressure gauge: what has changed since the system was known to be good.

The law of outlets, ``flow = k pressure^x``, parts two things: the conductance ``k = flow / pressure^x`` is of
the outlets and pipes alone, the pressure is of the supply. Both are compared in logarithms with their means
over the baseline.

Detection is the generalized likelihood ratio test for a shift of a normal mean at an unknown time. After each
reading: the mean of the last 1, 2, 3, … readings less the mean of the baseline, over its standard error; the
largest of these is held against what it reaches by chance over a whole season without change, by seeded
simulation. Sources, from memory: Lorden, G. (1971), Annals of Mathematical Statistics 42; Siegmund, D.,
Venkatraman, E.S. (1995), Annals of Statistics 23. The season itself counts among those simulated: Phipson,
B., Smyth, G.K. (2010), Statistical Applications in Genetics and Molecular Biology 9, from memory.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Literal, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from waterbudget.descriptions import outside
from waterbudget.errors import Faults, collect
from waterbudget.system.catch_cans import plain_number
from waterbudget.system.meter import Table, as_frame, note_rows, one_column, read_column, read_table
from waterbudget.units import convert
from waterbudget.variables import VARIABLES

Floats = npt.NDArray[np.float64]

FLOWS = {"flow_m3_per_h": "m3/h", "flow_L_per_s": "L/s", "flow_gal_per_min": "gal/min"}
PRESSURES = {"pressure_kPa": "kPa", "pressure_bar": "bar", "pressure_psi": "psi"}
"""Columns that may hold a reading, and their unit."""
FLOW_ERROR, PRESSURE_ERROR = 0.02, 0.03
"""Standard error of one reading of a meter and of a gauge [1 of the value]. Common practice, no source."""
FEWEST_TO_ESTIMATE = 4
"""Fewest baseline readings from which their scatter is estimated. Common practice, no source."""
USUAL_SEASON, LONGEST_SEASON = 10, 100
"""Readings of one zone in a season."""
LEVEL = 0.95
"""Confidence of the intervals of changes."""
CLEAR = 0.01
"""Chance below which a further quantity counts as changed, or a baseline as unsteady."""
EVIDENCE = 8.0
"""How much likelier one course of a change must be than the other to be named: "fairly strong" in Royall, R.
(1997), Statistical Evidence, from memory."""
_SEASONS, _SEED = 50_000, 20240501

Finding = Literal[
    "leak, break or worn outlets",
    "clogged or closed outlets",
    "weak supply or pump",
    "strong supply",
    "mixed",
    "flow changed, pressure not read",
    "pressure changed, flow not read",
]
_TOGETHER = "without the other instrument neither outlets (leak, wear, clogging) nor supply can be ruled out"
_MEANING: dict[Finding, tuple[str, str]] = {
    "leak, break or worn outlets": (
        "a leak or a break, worn or larger nozzles, and one valve too many open all pass more water at the "
        "same pressure",
        "walk the zone for wet spots and geysers, see which valves are open, measure the bore of nozzles, "
        "read the flow with all outlets shut",
    ),
    "clogged or closed outlets": (
        "clogged outlets, a clogged filter or screen beyond the gauge, and a valve half closed all pass less "
        "water at the same pressure",
        "compare the pressure before and after the filter and at the far end, see that all valves are open, "
        "flush the lines, catch a few outlets with a stopwatch",
    ),
    "weak supply or pump": (
        "a worn pump, a lower water level, a clogged suction strainer or filter before the gauge, a "
        "regulator out of order and other zones running all lower flow and pressure together",
        "ask what else ran, read the water level and the pressure at the pump, clean strainer and filter, "
        "compare the pump with its curve",
    ),
    "strong supply": (
        "fewer zones running, a higher water level, a regulator that sticks open and a pump set faster all "
        "raise flow and pressure together",
        "ask what else ran, check the regulator; too high a pressure makes spray drift and strains the pipes",
    ),
    "mixed": (
        "outlets and supply have both changed, or an instrument is at fault; which weighs more is not in "
        "these readings",
        "check meter and gauge against others, then the supply with the zone shut, then the outlets",
    ),
    "flow changed, pressure not read": (_TOGETHER, "read flow and pressure together"),
    "pressure changed, flow not read": (_TOGETHER, "read flow and pressure together"),
}
"""Finding -> what the two instruments cannot tell apart, what to look at next. Common practice, no source."""
_SAFE = "; before opening a pipe or a pump: switch off, lock the pump out, let the pressure down"

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


class Watched(NamedTuple):
    """Logarithms of one quantity in one zone: in its baseline, and later (NaN where it was not read).

    ``error`` is the standard error of one of them, ``estimated`` from the scatter of the baseline or stated.
    """

    name: Literal["flow", "pressure", "conductance"]
    base: Floats
    later: Floats
    error: float
    estimated: bool


class Shift(NamedTuple):
    """Mean shift over some readings: of the logarithm, its interval, and its sign where it is clear."""

    mean: float
    low: float
    high: float
    sign: int


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

    Notes
    -----
    Source: Keller, J., Karmeli, D. (1974), Trickle irrigation design parameters, Transactions of the ASAE 17
    (from memory).
    """
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
        A row for each kind of finding in a zone, as things stood on the day when it was first ``found``;
        empty when nothing was. ``since`` is the reading from which on the change is most likely, and changes
        against the baseline are means from then on. Their 95 % intervals take ``since`` as known: at first
        sight of a change they lean to large ones. ``confidence`` is 1 less the chance of so large a shift in
        a season without any. ``course`` alone goes by all readings, the later ones too: "sudden", "gradual",
        or blank while they cannot say.

    Raises
    ------
    InputError
        With every fault at once: columns that name no unit, flows or pressures that are not above 0, rows
        without either, a reading before the baseline, a zone without one, a parameter outside its range.

    Notes
    -----
    The method and its sources stand at the head of the module. The chance is shared evenly by the quantities
    that the baseline has: conductance, pressure, and flow for rows without a pressure (Bonferroni). A larger
    conductance with more pressure or less flow than before is called mixed, because wider outlets alone do
    not do that; a smaller one with less pressure or more flow likewise.
    """
    with collect() as faults:
        x = plain_number(exponent, "emitter_exponent", faults, what="exponent")
        errors = _errors(flow_error, pressure_error, supply_variation, x, faults)
        _within(false_alarm, "false_alarm", (0.001, 0.5), faults)
        if season_readings is not None:
            _within(season_readings, "season_readings", (1, LONGEST_SEASON), faults)
        later, good = _read_both(readings, baseline, faults)
        if faults:
            return pd.DataFrame()  # never reached: the faults are raised
        zones = {zone: _watch(own, good[good["zone"] == zone], x, errors) for zone, own in _by_zone(later)}
        for zone, watched in zones.items():
            _check_zone(zone, watched, season_readings, faults)
    rows = []
    for zone, own in _by_zone(later):
        season = season_readings or max(len(own), USUAL_SEASON)
        start = good.loc[good["zone"] == zone, "date"].max()
        found = _walk(zones[zone], own["date"], start, false_alarm, int(season))
        rows += [{"zone": zone, **row} for row in found]
    return pd.DataFrame(rows, columns=list(COLUMNS)).astype(COLUMNS)


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
        later, good = _read_both(readings, baseline, faults)
    both = pd.concat([good.assign(baseline=True), later.assign(baseline=False)])
    both = both.sort_values(["date", "baseline"], ascending=[True, False], kind="stable")
    parts = []
    for _, own in _by_zone(both):
        k = conductance(own["flow"], own["pressure"], x)
        mean = {
            name: np.exp(np.log(values[own["baseline"]]).mean())
            for name, values in (("flow", own["flow"]), ("pressure", own["pressure"]), ("k", k))
        }
        parts.append(
            own.assign(
                expected_flow_m3_per_h=mean["k"] * own["pressure"] ** x,
                flow_ratio=own["flow"] / mean["flow"],
                pressure_ratio=own["pressure"] / mean["pressure"],
                conductance_ratio=k / mean["k"],
            )
        )
    named = {"flow": "flow_m3_per_h", "pressure": "pressure_kPa"}
    order = ["zone", "date", "baseline"]
    table = pd.concat(parts, ignore_index=True)
    return table[[*order, *table.columns.drop(order)]].rename(columns=named)


# ------------------------------------------------------------------------------------- detection
def largest_shift(later: Floats, base: Floats, error: float) -> tuple[int, float]:
    """Find the latest readings whose mean lies furthest from that of the baseline.

    Parameters
    ----------
    later : array
        Readings in order, one or more, none of them NaN.
    base : array
        Baseline readings, one or more.
    error : float
        Standard error of one reading, above 0.

    Returns
    -------
    position : int
        Of the first of these readings.
    shift : float
        Their mean less that of the baseline, over its standard error.
    """
    count = np.arange(1, later.size + 1)
    means = np.cumsum(later[::-1]) / count
    shifts = (means - base.mean()) / (error * np.sqrt(1.0 / count + 1.0 / base.size))
    at = int(np.argmax(np.abs(shifts)))
    return later.size - 1 - at, float(shifts[at])


@lru_cache(maxsize=64)
def season_maxima(season: int, base: int, estimated: bool) -> Floats:
    """Simulate how far `largest_shift` strays over seasons in which nothing changes.

    Parameters
    ----------
    season, base : int
        Readings in the season and in the baseline.
    estimated : bool
        Whether the error is taken from the scatter of the baseline; it is known otherwise.

    Returns
    -------
    array
        Largest absolute shift of each of 50,000 seasons, ascending. The same on every call.
    """
    rng = np.random.default_rng(_SEED)
    off = rng.standard_normal((_SEASONS, season)) - rng.standard_normal((_SEASONS, 1)) / np.sqrt(base)
    error = np.sqrt(rng.chisquare(base - 1, _SEASONS) / (base - 1)) if estimated else np.ones(_SEASONS)
    sums = np.hstack([np.zeros((_SEASONS, 1)), np.cumsum(off, axis=1)])
    largest = np.zeros(_SEASONS)
    for count in range(1, season + 1):
        means = np.abs(sums[:, count:] - sums[:, :-count]).max(axis=1) / count
        largest = np.maximum(largest, means / np.sqrt(1.0 / count + 1.0 / base))
    found = np.sort(largest / error)
    found.flags.writeable = False
    return found


def chance_in_season(shift: float, season: int, base: int, estimated: bool) -> float:
    """Chance that some reading of a season without change shows so large a shift; see `season_maxima`."""
    maxima = season_maxima(season, base, estimated)
    reached = maxima.size - int(np.searchsorted(maxima, abs(shift)))
    return (1 + reached) / (1 + maxima.size)


def _walk(
    zone: _Zone, dates: pd.Series[pd.Timestamp], start: pd.Timestamp, false_alarm: float, season: int
) -> list[dict[str, Any]]:
    """Take a zone's readings one after the other, and note each kind of finding when it first shows."""
    days = np.asarray((dates - start).dt.days, dtype=np.float64)
    rows: list[dict[str, Any]] = []
    for upto in range(1, len(dates) + 1):
        for one in zone.watched:
            places = np.flatnonzero(~np.isnan(one.later[:upto]))
            if not places.size:
                continue
            at, shift = largest_shift(one.later[places], one.base, one.error)
            chance = chance_in_season(shift, season, one.base.size, one.estimated) * len(zone.watched)
            if chance <= false_alarm:
                break
        else:
            continue
        since = int(places[at])
        shifts = {name: _mean_shift(each, since, upto) for name, each in zone.quantities.items()}
        signs = {name: each.sign for name, each in shifts.items()} | {one.name: int(np.sign(shift))}
        finding = _name(signs, one.name, both=not np.isnan(shifts["conductance"].mean))
        if finding in [row["finding"] for row in rows]:
            continue
        cannot_tell, look_at = _MEANING[finding]
        rows.append(
            {
                "found": dates.iloc[upto - 1],
                "since": dates.iloc[since],
                "finding": finding,
                **{
                    f"{name}_{end}_percent": 100.0 * np.expm1(value)
                    for name, each in shifts.items()
                    for end, value in (("change", each.mean), ("low", each.low), ("high", each.high))
                },
                "course": _course(one, days),
                "confidence": 1.0 - chance,
                "cannot_tell": cannot_tell + _doubt(one),
                "look_at": look_at + _SAFE,
            }
        )
    return rows


def _name(signs: dict[str, int], alarm: str, *, both: bool) -> Finding:
    """Name what the signs of the changes say; ``both`` tells whether the conductance is known."""
    flow, pressure, outlets = signs["flow"], signs["pressure"], signs["conductance"]
    if both and outlets:
        # Wider outlets alone never raise the pressure nor lower the flow; narrower ones are the reverse.
        if outlets * pressure > 0 or outlets * flow < 0:
            return "mixed"
        return "leak, break or worn outlets" if outlets > 0 else "clogged or closed outlets"
    if both and pressure:
        return "weak supply or pump" if pressure < 0 else "strong supply"
    return "pressure changed, flow not read" if alarm == "pressure" else "flow changed, pressure not read"


def _mean_shift(one: Watched, since: int, upto: int) -> Shift:
    """Give the mean shift of a quantity over some readings; NaN where it was not read."""
    from scipy.stats import t

    values = one.later[since:upto]
    values = values[~np.isnan(values)]
    if not values.size or not one.base.size or not one.error > 0:
        return Shift(np.nan, np.nan, np.nan, 0)
    mean = float(values.mean() - one.base.mean())
    error = one.error * np.sqrt(1.0 / values.size + 1.0 / one.base.size)
    freedom = one.base.size - 1 if one.estimated else np.inf
    half = float(t.ppf((1.0 + LEVEL) / 2.0, freedom) * error)
    clear = 2.0 * t.sf(abs(mean) / error, freedom) < CLEAR
    return Shift(mean, mean - half, mean + half, int(np.sign(mean)) if clear else 0)


def _course(one: Watched, days: Floats) -> str:
    """Say whether a change came at once or grew, where one is `EVIDENCE` times likelier than the other.

    All readings are taken: when a change has only just been found, it cannot be told.

    At once: a step at one of the readings. Grown: a straight line in time from the end of the
    baseline or from one of the readings on. Both have a free beginning and a free size.
    """
    read = ~np.isnan(one.later)
    off, day = one.later[read] - one.base.mean(), days[read]
    steps = [(np.arange(off.size) >= first).astype(float) for first in range(off.size)]
    lines = [np.maximum(day - first, 0.0) for first in (0.0, *day[:-1])]

    def best(shapes: list[Floats]) -> float:
        """Largest fall of the sum of squares that one of the shapes brings."""
        return max(
            (float((shape @ off) ** 2 / (shape @ shape)) for shape in shapes if shape.any()), default=0.0
        )

    evidence = (best(steps) - best(lines)) / (2.0 * one.error**2)
    if abs(evidence) < np.log(EVIDENCE):
        return ""
    return "sudden" if evidence > 0 else "gradual"


def _doubt(one: Watched) -> str:
    """Say so where the baseline scatters more than the stated errors allow."""
    from scipy.stats import chi2

    if one.estimated or one.base.size < 2:
        return ""
    squares = float(((one.base - one.base.mean()) ** 2).sum()) / one.error**2
    if chi2.sf(squares, one.base.size - 1) >= CLEAR:
        return ""
    return f"; {one.name} scatters more in the baseline than the stated errors allow: less sure than it says"


# ---------------------------------------------------------------------------------- what is given
class _Zone(NamedTuple):
    """Quantities of one zone by name, and those in which a change is looked for, in this order."""

    quantities: dict[str, Watched]
    watched: tuple[Watched, ...]


def _by_zone(frame: pd.DataFrame) -> list[tuple[Any, pd.DataFrame]]:
    """Part a table by zone, in the order of the table, each in order of date."""
    return [(zone, own.sort_values("date", kind="stable")) for zone, own in frame.groupby("zone", sort=False)]


def _watch(own: pd.DataFrame, good: pd.DataFrame, x: float, errors: dict[str, float]) -> _Zone:
    """Bring a zone's readings to logarithms, and choose what is watched."""
    base, later = (
        {
            "conductance": np.log(conductance(each["flow"], each["pressure"], x)).to_numpy(),
            "pressure": np.log(each["pressure"]).to_numpy(),
            "flow": np.log(each["flow"]).to_numpy(),
        }
        for each in (good, own)
    )
    quantities = {}
    for name in ("conductance", "pressure", "flow"):
        known = base[name][~np.isnan(base[name])]
        error = errors[name]
        estimated = bool(np.isnan(error))
        if estimated:
            error = float(known.std(ddof=1)) if known.size > 1 else np.nan
        quantities[name] = Watched(name, known, later[name], error, estimated)
    outlets, flow = quantities["conductance"], quantities["flow"]
    if outlets.base.size:  # the flow tells something of its own only where the pressure is blank
        flow = flow._replace(later=np.where(np.isnan(outlets.later), flow.later, np.nan))
    chosen = (outlets, quantities["pressure"], flow)
    return _Zone(quantities, tuple(one for one in chosen if one.base.size))


def _check_zone(zone: Any, found: _Zone, season: int | None, faults: Faults) -> None:
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


def _errors(flow: Any, pressure: Any, supply: Any, x: float, faults: Faults) -> dict[str, float]:
    """Give the standard error of each quantity's logarithm; NaN to estimate it from the baseline."""
    unknown = dict.fromkeys(("conductance", "pressure", "flow"), np.nan)
    own = Faults()
    _within(supply, "supply_variation", (0.0, 0.5), own)
    if flow is None and pressure is None:
        if supply:
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


def _read_both(readings: Any, baseline: Any, faults: Faults) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Read the two tables, and note readings that have no baseline or precede it."""
    later, good = _read_one(readings, "readings", faults), _read_one(baseline, "baseline", faults)
    if later is None or good is None:
        return pd.DataFrame(), pd.DataFrame()
    without = ~later["zone"].isin(good["zone"])
    mend = "take a baseline, and name the zones alike"
    note_rows(faults, "readings, zone", "has no baseline", without, later["zone"], mend=mend)
    early = later["date"] < later["zone"].map(good.groupby("zone")["date"].max())
    mend = "put it into the baseline if all was well then, or leave it out"
    note_rows(
        faults,
        "readings, date",
        "lies before the end of the zone's baseline",
        early,
        later["date"],
        mend=mend,
    )
    return later, good


def _read_one(table: Any, what: str, faults: Faults) -> pd.DataFrame | None:
    """Read a table of readings: date, zone, flow [m3 h-1] and pressure [kPa]; None where it is at fault."""
    own = Faults()
    frame = as_frame(table)
    for name, columns in (("flow", FLOWS), ("pressure", PRESSURES)):
        if name in frame:
            mend = "name the column with its unit"
            own.add(f"{what}, column {name!r}", "names no unit", allowed=", ".join(columns), mend=mend)
            frame = frame.drop(columns=name)
    known = read_table(table if frame.empty else frame, what, "zone", (*FLOWS, *PRESSURES), own)
    if known is None:
        faults.extend(tuple(own))
        return None
    values = {}
    for name, columns in (("flow", FLOWS), ("pressure", PRESSURES)):
        values[name] = pd.Series(np.nan, index=known.index)
        if not known.columns.intersection(list(columns)).empty and (
            column := one_column(known, columns, what, own)
        ):
            variable = VARIABLES["flow" if name == "flow" else "outlet_pressure"]
            given = read_column(known, column, what, own, blank=True)
            values[name] = given * convert(1.0, columns[column], variable.unit)
            note_rows(
                own,
                f"{what}, {column}",
                "is outside its range",
                pd.Series(outside(variable, values[name].to_numpy()), index=known.index),
                given,
                allowed=variable.allowed(),
                mend="a reading is taken while the zone runs; leave blank what was not read",
            )
    if not own:
        neither = values["flow"].isna() & values["pressure"].isna()
        note_rows(
            own, what, "have neither flow nor pressure", neither, known["date"], mend="leave the row out"
        )
    faults.extend(tuple(own))
    return None if own else known[["date", "zone"]].assign(**values)
