"""Catch cans: what a test in the field says about the water that reaches the ground, and how surely."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np
import numpy.typing as npt
import pandas as pd

from waterbudget import units as conversion
from waterbudget.arguments import (
    Floats,
    check_level,
    check_resampling,
    check_shapes,
    check_word,
    members,
    note_bad,
    numbers,
    plain,
    plain_number,
)
from waterbudget.descriptions import freeze
from waterbudget.errors import Faults, brief, collect
from waterbudget.operands import within
from waterbudget.system import can_findings, distribution
from waterbudget.system.uniformity import (
    christiansen_uniformity,
    coefficient_of_variation,
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
Units = Literal["metric", "us"]


def depth_from_volume(volume: Any, can_diameter: Any) -> Any:
    """Depth of water from the volume that a can caught.

    Parameters
    ----------
    volume : float or array
        Volume [mL], 0 or more.
    can_diameter : float or array
        Diameter of the opening [m], above 0.

    Returns
    -------
    float or array
        Volume over the area of the opening [mm]; NaN where one of them is NaN.

    Raises
    ------
    InputError
        When one is no number or outside its range, or their shapes do not fit.
    """
    with collect() as faults:
        volume = within(volume, "volume", faults, 0.0, unit="mL")
        can_diameter = within(can_diameter, "can_diameter", faults, 0.0, above=True, unit="m")
        check_shapes(faults, volume=volume, can_diameter=can_diameter)
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
            if self.volumes is None and self.can_diameter is not None:
                mend = "leave it out, or give volumes in place of depths"
                faults.add("can_diameter", "means nothing beside depths", mend=mend)
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
        return np.array([one is None for one in self.note], dtype=np.bool_)

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
        units: Units = "metric",
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
            When a parameter is outside its range, or of another kind.

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
            check_word(units, "units", faults, get_args(Units), "are not known")
            check_level(level, faults)
            check_resampling(seed, resamples, faults, least=100, usual="2000 are usual")
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
        tails = ((1.0 - float(level)) / 2.0, (1.0 + float(level)) / 2.0)
        rows = []
        for quantity, unit, statistic in statistics:
            # Order statistics, not interpolated: a scheduling coefficient may be infinite.
            low, high = np.quantile(statistic(depths, weights), tails, method="closest_observation")
            value = float(statistic(self.depth, self.weights))
            rows.append((quantity, unit, value, float(low), float(high)))
        return pd.DataFrame(rows, columns=["quantity", "unit", "value", "low", "high"])

    def reading(self, units: Units = "metric") -> str:
        """Read the test as the trade does: the mean of all against the mean of the driest quarter.

        Parameters
        ----------
        units : {"metric", "us"}
            Of the depths: mm or in.

        Returns
        -------
        str
            Of 16 cans the driest quarter is the lowest four. How far it lies below the mean says whether
            the system is even enough, may need a tune-up, or needs one: the handbook's ``can_classes``,
            common practice, no source.

        Raises
        ------
        InputError
            When the units are not known.
        """
        with collect() as faults:
            check_word(units, "units", faults, get_args(Units), "are not known")
        return can_findings.reading(self.depth, self.weights, "mm" if units == "metric" else "in")

    def findings(self) -> pd.DataFrame:
        """List what is worth a look, can by can, then of the whole test.

        Returns
        -------
        DataFrame
            Columns ``can`` (numbered from 1 as given; <NA> for the whole test), ``depth_mm``, ``finding`` and
            ``why``. Cans with a note; cans that caught nothing; cans far from the mean: a limit for centre
            pivots, for other tests (a block) common practice. For a centre pivot (``distance`` given) also
            its class by CU, which weighs all cans, with a word where `reading`, by the driest quarter alone,
            disagrees; and whether the catch rises or falls outward (Kendall's tau). Fewer than 16 cans.
            Limits and sources: the handbook's ``can_classes``. Empty when there is nothing.
        """
        return can_findings.findings(self._all_depths, self.note, self.weights, self.distance)

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
        """Fit distributions to the cans; parameters, result and errors are those of `distribution.fit`."""
        return distribution.fit(self.depth, self.weights, seed=seed, resamples=resamples)


def _areas(value: Any, faults: Faults) -> Floats:
    """Bring weights, which have no unit, to an array of numbers above 0."""
    given, noted = members(value), Faults()
    row = np.array(np.full(0, np.nan) if given is None else plain(given, "weight", noted, each="can"))
    if given is None:
        noted.add("weight", "is not one row of numbers", value=brief(value), allowed="one for each can")
    if not noted:
        bad = ~((row > 0.0) & np.isfinite(row))
        allowed = "above 0, on any scale"
        note_bad(noted, "weight", "is not an area", row, bad, each="can", allowed=allowed)
    faults.extend(tuple(noted))
    row.flags.writeable = False
    return row


def _notes(value: Any, faults: Faults) -> tuple[str | None, ...] | None:
    """Bring notes to a tuple of known ones; None where none are given."""
    if value is None:
        return None
    given = members(value)
    if given is None:
        faults.add("note", "is not one row", value=brief(value), allowed="one note or None for each can")
        return None
    notes: list[Any] = [None if pd.isna(one) else one for one in given]
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
