"""Has a flow or a pressure changed, since when, and what does that say: statistics, thresholds and decision.

Detection is the generalized likelihood ratio test for a shift of a normal mean at an unknown time. After each
reading: the mean of the last 1, 2, 3, … readings less the mean of the baseline, over its standard error; the
largest of these is held against what it reaches by chance over a whole season without change, by seeded
simulation. Sources, from memory: Lorden, G. (1971), Annals of Mathematical Statistics 42; Siegmund, D.,
Venkatraman, E.S. (1995), Annals of Statistics 23. The season itself counts among those simulated: Phipson,
B., Smyth, G.K. (2010), Statistical Applications in Genetics and Molecular Biology 9, from memory.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import permutations
from typing import Any, Literal, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from waterbudget.system.gauges import FLOWS, PRESSURES
from waterbudget.units import convert

Floats = npt.NDArray[np.float64]
Quantity = Literal["flow", "pressure", "conductance"]

LEVEL = 0.95
"""Confidence of the intervals of changes. Common practice, no source."""
CLEAR = 0.01
"""Chance below which a further quantity counts as changed, or a baseline as unsteady. Common practice, no
source."""
EVIDENCE = 8.0
"""How much likelier one course of a change must be than the other to be named: "fairly strong" in Royall, R.
(1997), Statistical Evidence, from memory."""
NEAR = 1.1
"""How near to a ratio of two units a change may be a slip of the pen. Common practice, no source."""
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


class Watched(NamedTuple):
    """Logarithms of one quantity in one zone: in its baseline, and later (NaN where it was not read).

    ``error`` is the standard error of one of them, ``estimated`` from the scatter of the baseline or stated.
    """

    name: Quantity
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


class Zone(NamedTuple):
    """Quantities of one zone by name, and those in which a change is looked for, in this order."""

    quantities: dict[Quantity, Watched]
    watched: tuple[Watched, ...]


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


def _simulate(season: int, base: int, estimated: bool) -> tuple[Floats, Floats]:
    """Draw seasons in which nothing changes: sums of readings less the baseline's mean, and the error taken.

    The sums, of shape (seasons, readings + 1), run from 0 on.
    """
    rng = np.random.default_rng(_SEED)
    off = rng.standard_normal((_SEASONS, season)) - rng.standard_normal((_SEASONS, 1)) / np.sqrt(base)
    error = np.sqrt(rng.chisquare(base - 1, _SEASONS) / (base - 1)) if estimated else np.ones(_SEASONS)
    return np.hstack([np.zeros((_SEASONS, 1)), np.cumsum(off, axis=1)]), error


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
    sums, error = _simulate(season, base, estimated)
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


def largest_by_chance(chance: float, season: int, base: int, estimated: bool) -> float:
    """Give the largest shift that does not count as a change: any above it has at most this chance.

    Parameters
    ----------
    chance : float
        Of so large a shift in a season without change, as `chance_in_season` has it.
    season, base, estimated
        As in `season_maxima`.

    Returns
    -------
    float
        Of a mean, over its standard error.
    """
    maxima = season_maxima(season, base, estimated)
    return float(maxima[-int(chance * (1 + maxima.size))])


@lru_cache(maxsize=64)
def smallest_found(limit: float, readings: int, base: int, estimated: bool) -> float:
    """Give the change that, there from the first reading to the last, passes a limit in half of all cases.

    Parameters
    ----------
    limit : float
        `largest_by_chance`.
    readings : int
        From the first to the last.
    base, estimated
        As in `season_maxima`.

    Returns
    -------
    float
        Change over the error of one reading: median of simulated seasons of the least rise which would have
        brought the mean of some readings that follow one another above the limit. A fall is its mirror image.
    """
    sums, error = _simulate(readings, base, estimated)
    least = np.full(_SEASONS, np.inf)
    for count in range(1, readings + 1):
        means = (sums[:, count:] - sums[:, :-count]).max(axis=1) / count
        least = np.minimum(least, limit * np.sqrt(1.0 / count + 1.0 / base) - means / error)
    return float(np.median(least))


def walk(
    zone: Zone, dates: pd.Series[pd.Timestamp], start: pd.Timestamp, false_alarm: float, season: int
) -> list[dict[str, Any]]:
    """Take a zone's readings one after the other, and note each kind of finding when it first shows.

    Parameters
    ----------
    zone : Zone
        Something is watched in it.
    dates : Series of Timestamp
        Days of the later readings, in order.
    start : Timestamp
        Last day of the baseline.
    false_alarm : float
        Chance of any finding in a season in which nothing changed.
    season : int
        Readings in a season.

    Returns
    -------
    list of dict
        A row of `waterbudget.system.find_faults` for each kind, without its zone.
    """
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
                "cannot_tell": cannot_tell + _doubt(one) + _slip(shifts),
                "look_at": look_at + _SAFE,
            }
        )
    return rows


def _name(signs: dict[Quantity, int], alarm: str, *, both: bool) -> Finding:
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


def _slip(shifts: dict[Quantity, Shift]) -> str:
    """Say so where readings in one unit beside a baseline in another would look the same."""
    found = ""
    columns_of: dict[Quantity, dict[str, str]] = {"flow": FLOWS, "pressure": PRESSURES}
    for name, columns in columns_of.items():
        for read, base in permutations(columns.values(), 2):
            if abs(shifts[name].mean + np.log(convert(1.0, read, base))) < np.log(NEAR):
                found += f"; a {name} in {read} beside a baseline in {base} would look the same"
    return found
