"""Catch cans: what a test in the field says about the water that reaches the ground, and how surely."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from waterbudget import units as conversion
from waterbudget.descriptions import freeze, number
from waterbudget.errors import Fault, Faults, collect
from waterbudget.system import distribution
from waterbudget.system.uniformity import (
    Floats,
    christiansen_uniformity,
    coefficient_of_variation,
    driest_mean,
    low_half_uniformity,
    low_quarter_uniformity,
    ring_area,
    scheduling_coefficient,
    weighted_mean,
)
from waterbudget.variables import VARIABLES

NOTES = ("spilled", "out of line")
"""What may have happened to a can. It then stays out of the statistics, and stands among the findings."""
FEWEST = 4
"""Fewest usable cans: a quarter of them is one can."""
TUNE_UP = (0.10, 0.20)
"""Mean less driest quarter, over the mean [1]: from the first on a system may need a tune-up, above the
second it needs one. Common practice, no source."""
PIVOT_CLASSES = (0.80, 0.85)
"""CU of a centre pivot [1]: redesign below the first, review below the second. Source: `PIVOT_SOURCE`."""
FAR_FROM_MEAN = 0.20
"""Part of the mean [1] by which one can of a pivot may differ. Source: `PIVOT_SOURCE`."""
PIVOT_SOURCE = "Michigan State University Extension, letters on pivot uniformity"
TREND_LEVEL = 0.05
"""Chance of calling a trend along the radius where there is none. Common practice, no source."""


def depth_from_volume(volume: Any, can_diameter: Any) -> Any:
    """Depth of water from the volume that a can caught.

    Parameters
    ----------
    volume : float or array
        Volume [mL].
    can_diameter : float or array
        Diameter of the opening [m], above 0.

    Returns
    -------
    float or array
        Volume over the area of the opening [mm].
    """
    return volume * 1e-3 / (np.pi / 4.0 * can_diameter * can_diameter)


@dataclass(frozen=True, kw_only=True, eq=False)
class CatchCans:
    """A test with catch cans.

    A sequence may be a list, an array, a Series or a one-dimensional DataArray; its numbers are in the unit
    given or text with a unit of its own (``"0.25 in"``).

    Parameters
    ----------
    depths : sequence of numbers, optional
        Depth in each can [mm]; either this or ``volumes``. A can with a note may be NaN or None.
    volumes : sequence of numbers, optional
        Volume in each can [mL], beside ``can_diameter``.
    can_diameter : number, optional
        Diameter of the opening of the cans [m].
    duration : number, optional
        How long water was applied [h]; it gives the application rate.
    distance : sequence of numbers, optional
        Distance of each can from the pivot point [m], for a centre pivot: each can then stands for a ring
        (`waterbudget.system.ring_area`).
    weight : sequence of numbers, optional
        In place of ``distance``: area that each can stands for, above 0, on any scale. Equal when neither is
        given.
    note : sequence of {"spilled", "out of line", None}, optional
        What happened to a can. A can with a note keeps its row in `findings` and is left out of the
        statistics, with its area. A can that caught nothing stays in.

    Raises
    ------
    InputError
        With every fault at once: both or neither of depths and volumes, volumes without a diameter, lengths
        that differ, missing or negative readings, fewer than four usable cans, no can that caught anything.

    Examples
    --------
    >>> CatchCans(depths=[10, 12, 11, 9], duration="30 min")
    >>> CatchCans(volumes=[81, "95 mL", 78, 90, 12], can_diameter="4 in", note=[None] * 4 + ["spilled"])
    """

    depths: Any = None
    volumes: Any = None
    can_diameter: Any = None
    duration: Any = None
    distance: Any = None
    weight: Any = None
    note: Any = None

    def __post_init__(self) -> None:
        """Bring every value to its canonical form; raise all faults together."""
        with collect() as faults:
            name, row = ("depths", "can_depth") if self.volumes is None else ("volumes", "can_volume")
            given = getattr(self, name)
            note = _notes(self.note, faults)
            if (self.depths is None) == (self.volumes is None):
                faults.add("depths, volumes", "both or none are given", allowed="one of them")
                return
            if self.volumes is not None and self.can_diameter is None:
                mend = "give the diameter of the opening, or depths"
                faults.add("volumes", "need can_diameter beside them", mend=mend)
            changes: dict[str, Any] = {"note": note}
            changes[name] = numbers(given, row, faults, what=name, each="can", optional=True)
            if self.distance is not None:
                changes["distance"] = numbers(self.distance, "distance", faults, what="distance", each="can")
            if self.weight is not None:
                changes["weight"] = _areas(self.weight, faults)
            for single in ("can_diameter", "duration"):
                if getattr(self, single) is not None:
                    changes[single] = plain_number(getattr(self, single), single, faults)
            if faults:
                return
            if note is None:
                changes["note"] = (None,) * len(changes[name])
            freeze(self, changes)
            self._check(faults)

    def _check(self, faults: Faults) -> None:
        """Note what does not fit together, and cans that make no test."""
        caught = self._all_depths
        cans = len(caught)
        if self.distance is not None and self.weight is not None:
            faults.add("distance, weight", "say the same thing twice", mend="give one of them")
        for name in ("distance", "weight", "note"):
            value = getattr(self, name)
            if value is not None and len(value) != cans:
                faults.add(name, "does not fit the cans", value=f"{len(value)} for {cans} cans")
        if faults:
            return
        missing = np.isnan(caught) & self.usable
        if missing.any():
            faults.add(
                "depths" if self.volumes is None else "volumes",
                "have a can without a reading",
                where=f"can {int(np.argmax(missing)) + 1}",
                value="NaN",
                count=int(missing.sum()),
                mend="give the reading, or note what happened to the can: " + ", ".join(NOTES),
            )
        if self.distance is not None and len(np.unique(self.distance)) < 2:
            faults.add(
                "distance", "is the same for every can", mend="leave it out if the cans stood in no line"
            )
        usable = caught[self.usable]
        deepest = VARIABLES["can_depth"].hard[1]
        if deepest is not None and bool((usable > deepest).any()):
            faults.add(
                "volumes",
                "make a depth outside its range",
                where=f"can {int(np.argmax(np.where(self.usable, caught, -1.0))) + 1}",
                value=f"{usable.max():g} mm",
                allowed=VARIABLES["can_depth"].allowed(),
                mend="see that volumes are in mL and can_diameter is in m",
            )
        if usable.size < FEWEST:
            faults.add(
                "catch cans",
                "are too few",
                value=f"{usable.size} usable of {cans}",
                allowed=f"{FEWEST} usable cans or more; 16 and more are usual",
                mend="set out more cans",
            )
        elif not bool((usable > 0).any()):
            mend = "see that the system ran and the cans stood in its reach"
            faults.add("catch cans", "caught nothing at all", count=usable.size, mend=mend)

    # ------------------------------------------------------------------------- the cans
    @property
    def _all_depths(self) -> Floats:
        depths = self.depths
        if depths is None:
            depths = depth_from_volume(self.volumes, self.can_diameter)
        return np.asarray(depths, dtype=np.float64)

    @property
    def usable(self) -> npt.NDArray[np.bool_]:
        """Mark the cans that count: those without a note."""
        return np.array([one is None for one in self.note])

    @property
    def depth(self) -> Floats:
        """Depth in each usable can [mm]."""
        return self._all_depths[self.usable]

    @property
    def weights(self) -> Floats:
        """Part of the area that each usable can stands for [1]; they add up to 1."""
        if self.distance is not None:
            area = ring_area(self.distance)
        else:
            area = np.ones(len(self.note)) if self.weight is None else self.weight
        kept = area[self.usable]
        return np.asarray(kept / kept.sum(), dtype=np.float64)

    @property
    def mean(self) -> float:
        """Mean depth over the area [mm]."""
        return float(weighted_mean(self.depth, self.weights))

    # --------------------------------------------------------------------- what they say
    def summary(
        self,
        units: Literal["metric", "us"] = "metric",
        *,
        seed: int = 0,
        level: float = 0.9,
        resamples: int = 2000,
    ) -> pd.DataFrame:
        """Give mean, rate and uniformity of the test, each with its confidence interval.

        Parameters
        ----------
        units : {"metric", "us"}
            Of depth and rate: mm and mm/h, or in and in/h.
        seed : int
            Of the resampling: one seed, one result.
        level : float
            Of the confidence interval [1], above 0 and below 1.
        resamples : int
            How many tests are drawn from the cans.

        Returns
        -------
        DataFrame
            Columns ``quantity``, ``unit``, ``value``, ``low``, ``high``; the rows are mean depth, application
            rate (NaN without a duration), Christiansen uniformity, low-quarter uniformity, low-half
            uniformity, scheduling coefficient and coefficient of variation.

        Raises
        ------
        InputError
            When a parameter is outside its range.

        Notes
        -----
        Percentile bootstrap (Efron, B., Tibshirani, R.J. (1993), An Introduction to the Bootstrap; from
        memory): cans are drawn with replacement, each with its weight. They are taken as independent, which
        neighbours are not quite, and the interval says nothing of wind on another day. With few cans it
        is too narrow, and shifted to the even side: for normal depths the 90 % interval of the low-quarter
        uniformity held the true one in 3 of 4 tests with 16 cans, in 5 of 6 with 40 (simulated). Where a
        drawn test caught nothing at all, uniformity is not defined and its interval is NaN.
        """
        with collect() as faults:
            if units not in ("metric", "us"):
                faults.add("units", "are not known", value=repr(units), allowed="metric, us")
            if not 0.0 < level < 1.0:
                faults.add("level", "is outside its range", value=f"{level:g}", allowed="above 0 and below 1")
            if resamples < 100:
                faults.add("resamples", "are too few", value=resamples, allowed="100 or more; 2000 are usual")
        cans = self.depth.size
        drawn = np.random.default_rng(seed).integers(0, cans, (resamples, cans))
        depths, weights = self.depth[drawn], self.weights[drawn]
        depth_unit, rate_unit = ("mm", "mm/h") if units == "metric" else ("in", "in/h")
        per_depth = conversion.convert(1.0, "mm", depth_unit)
        per_rate = per_depth / (float("nan") if self.duration is None else self.duration)
        statistics = (
            ("mean depth", depth_unit, lambda d, w: weighted_mean(d, w) * per_depth),
            ("application rate", rate_unit, lambda d, w: weighted_mean(d, w) * per_rate),
            ("Christiansen uniformity", "1", christiansen_uniformity),
            ("low-quarter uniformity", "1", low_quarter_uniformity),
            ("low-half uniformity", "1", low_half_uniformity),
            ("scheduling coefficient", "1", scheduling_coefficient),
            ("coefficient of variation", "1", coefficient_of_variation),
        )
        tails = ((1.0 - level) / 2.0, (1.0 + level) / 2.0)
        rows = []
        for quantity, unit, statistic in statistics:
            # Order statistics, not interpolated: a scheduling coefficient may be infinite.
            low, high = np.quantile(statistic(depths, weights), tails, method="closest_observation")
            value = float(statistic(self.depth, self.weights))
            rows.append((quantity, unit, value, float(low), float(high)))
        return pd.DataFrame(rows, columns=["quantity", "unit", "value", "low", "high"])

    def reading(self, units: Literal["metric", "us"] = "metric") -> str:
        """Read the test as the trade does: the mean of all against the mean of the driest quarter.

        Parameters
        ----------
        units : {"metric", "us"}
            Of the depths: mm or in.

        Returns
        -------
        str
            Of 16 cans the driest quarter is the lowest four. Less than 10 % apart: even; 10-20 %: the
            system may need a tune-up; more: it needs one. Common practice, no source.
        """
        mean = self.mean
        driest = float(driest_mean(self.depth, self.weights, 0.25))
        apart = round(1.0 - driest / mean, 9)
        if apart < TUNE_UP[0]:
            verdict = "even enough"
        elif apart <= TUNE_UP[1]:
            verdict = "may need a tune-up"
        else:
            verdict = "needs a tune-up"
        with collect() as faults:
            if units not in ("metric", "us"):
                faults.add("units", "are not known", value=repr(units), allowed="metric, us")
        unit = "mm" if units == "metric" else "in"
        low, all_cans = (conversion.convert(depth, "mm", unit) for depth in (driest, mean))
        return (
            f"The driest quarter of {self.depth.size} cans caught {low:.3g} {unit}, {100.0 * apart:.0f} % "
            f"less than the mean of all, {all_cans:.3g} {unit}: {verdict} (common practice, no source)."
        )

    def findings(self) -> pd.DataFrame:
        """List what is worth a look, can by can, then of the whole test.

        Returns
        -------
        DataFrame
            Columns ``can`` (numbered from 1 as given; <NA> for the whole test), ``depth_mm``, ``finding`` and
            ``why``. Cans with a note; cans that caught nothing; cans more than 20 % from the mean. For a
            centre pivot (``distance`` given) also its class by CU, and whether the catch rises or falls
            outward (Kendall's tau). Empty when there is nothing.
        """
        rows: list[tuple[Any, ...]] = []
        mean = self.mean
        for can, (depth, note) in enumerate(zip(self._all_depths, self.note, strict=True), start=1):
            off = depth / mean - 1.0
            if note is not None:
                rows.append((can, depth, note, "as noted; left out of the statistics"))
            elif depth == 0.0:
                rows.append(
                    (can, depth, "caught nothing", "counted as it stands; see what keeps water from it")
                )
            elif round(abs(off), 9) > FAR_FROM_MEAN:
                side = "above" if off > 0 else "below"
                why = f"over {100 * FAR_FROM_MEAN:.0f} %: look at the outlets (pivot tests: {PIVOT_SOURCE})"
                rows.append((can, depth, f"{100 * abs(off):.0f} % {side} the mean", why))
        if self.distance is not None:
            rows += [(pd.NA, np.nan, finding, why) for finding, why in (self._pivot_class(), *self._trend())]
        frame = pd.DataFrame(rows, columns=["can", "depth_mm", "finding", "why"])
        return frame.astype({"can": "Int64", "depth_mm": np.float64, "finding": object, "why": object})

    def _pivot_class(self) -> tuple[str, str]:
        """Give the class of a centre pivot by its uniformity."""
        uniformity = float(christiansen_uniformity(self.depth, self.weights))
        if uniformity < PIVOT_CLASSES[0]:
            verdict = "redesign the sprinkler package"
        elif uniformity < PIVOT_CLASSES[1]:
            verdict = "review the sprinkler package"
        else:
            verdict = "no major change"
        classes = "85 % and more no major change, 80-85 % review, below redesign"
        return verdict, f"CU {100 * uniformity:.1f} %: {classes} ({PIVOT_SOURCE})"

    def _trend(self) -> list[tuple[str, str]]:
        """Say whether the catch of a centre pivot rises or falls outward, if it does."""
        from scipy.stats import kendalltau

        tau, chance = kendalltau(self.distance[self.usable], self.depth)
        if not chance < TREND_LEVEL:  # NaN where all caught the same
            return []
        way, flow = ("rises", "above") if tau > 0 else ("falls", "below")
        why = f"flow or pressure {flow} design ({PIVOT_SOURCE}); Kendall's tau {tau:.2f}, p {chance:.2g}"
        return [(f"catch {way} outward", why)]

    def pattern(self) -> tuple[Floats, Floats]:
        """Give the pattern for `System`: each usable can a spot.

        Returns
        -------
        share : array
            Depth over the mean depth [1]; the weighted mean is 1.
        weight : array
            Part of the area [1]; they add up to 1.
        """
        return self.depth / self.mean, self.weights

    def distribution(self, *, seed: int = 0, resamples: int = 1000) -> pd.DataFrame:
        """Fit distributions to the cans; see `waterbudget.system.distribution.fit`."""
        return distribution.fit(self.depth, self.weights, seed=seed, resamples=resamples)


def numbers(
    values: Any,
    name: str,
    faults: Faults,
    *,
    what: str,
    each: str,
    optional: bool = False,
) -> Floats:
    """Bring one row of numbers to an array that cannot be changed.

    Parameters
    ----------
    values : sequence, array, Series or one-dimensional DataArray
        Numbers in the unit of the variables table, or text with a unit.
    name : str
        Row of the variables table.
    faults : Faults
        Takes what is wrong: one fault, with its count and first place.
    what, each : str
        What to call the row and one of its members in a message.
    optional : bool
        Allow None and NaN for a number that is missing.

    Returns
    -------
    array
        NaN where a number is missing or a fault was noted.
    """
    if isinstance(values, pd.Series | xr.DataArray | np.ndarray):
        values = np.asarray(values).tolist()
    if isinstance(values, str) or not isinstance(values, Sequence) or any(np.ndim(one) for one in values):
        faults.add(what, "is not one row of numbers", value=repr(values)[:60], allowed=f"one for each {each}")
        return np.full(0, np.nan)
    row = np.full(len(values), np.nan)
    wrong: dict[str, list[tuple[int, Fault]]] = {}
    for i, one in enumerate(values):
        noted = Faults()
        if not pd.isna(one):
            row[i] = number(one, name, noted, what=what)
        elif not optional:
            noted.add(what, "is missing", value=one, mend="give the number")
        for fault in noted:
            wrong.setdefault(fault.problem, []).append((i + 1, fault))
    for found in wrong.values():
        place, fault = found[0]
        faults.add(
            fault.what,
            fault.problem,
            where=f"{each} {place}",
            value=fault.value,
            count=len(found),
            allowed=fault.allowed,
            mend=fault.mend,
        )
    row.flags.writeable = False
    return row


def plain_number(value: Any, name: str, faults: Faults, *, what: str = "") -> float:
    """Bring a number to a float, as `waterbudget.descriptions.number` does; one for each label is refused."""
    result = number(value, name, faults, what=what)
    if isinstance(result, xr.DataArray):
        faults.add(what or name, "varies by label", allowed="one number", mend="describe one test at a time")
        return float("nan")
    return result


def _areas(value: Any, faults: Faults) -> Floats:
    """Bring weights, which have no unit, to an array of numbers above 0."""
    try:
        row = np.array(value, dtype=np.float64)
    except (ValueError, TypeError):
        row = np.full((0, 0), np.nan)
    if row.ndim != 1:
        faults.add("weight", "is not one row of numbers", value=repr(value)[:60], allowed="one for each can")
        return row
    bad = ~((row > 0.0) & np.isfinite(row))
    if bad.any():
        place = int(np.argmax(bad))
        faults.add(
            "weight",
            "is not an area",
            where=f"can {place + 1}",
            value=f"{row[place]:g}",
            count=int(bad.sum()),
            allowed="above 0, on any scale",
        )
    row.flags.writeable = False
    return row


def _notes(value: Any, faults: Faults) -> tuple[str | None, ...] | None:
    """Bring notes to a tuple of known ones; None where none are given."""
    if value is None:
        return None
    if isinstance(value, str) or not isinstance(value, Sequence | np.ndarray | pd.Series):
        faults.add("note", "is not one row", value=repr(value)[:60], allowed="one note or None for each can")
        return None
    notes: list[Any] = [None if pd.isna(one) else one for one in value]
    unknown = [(i, one) for i, one in enumerate(notes, start=1) if one is not None and one not in NOTES]
    if unknown:
        faults.add(
            "note",
            "is not known",
            where=f"can {unknown[0][0]}",
            value=repr(unknown[0][1]),
            count=len(unknown),
            allowed=", ".join((*NOTES, "None")),
        )
    return tuple(notes)
