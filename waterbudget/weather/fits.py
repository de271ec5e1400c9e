"""What a record says about itself and about its neighbour: regressions, seasons, and short gaps.

Functions on arrays whose first axis is time; the other axes are stations or other labels, each by itself.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

LEAST_COMMON_DAYS = 30
"""Days that two stations must share for a regression (common practice, no source)."""

LEAST_R2 = 0.7
SLOPES = (0.7, 1.3)
"""Limits of a regression that may fill a record: FAO-56 Annex 4, r2 at least 0.7 and b from 0.7 to 1.3 (both
from memory)."""

_LEAST_POINTS = 3
"""Days with which a line has a scatter at all."""

SEASON_HARMONICS = 2
"""Waves a year of a smooth season: the year and the half year (common practice, no source)."""

LEAST_SEASON_DAYS = 330
LONGEST_SEASON_GAP = 31
"""A season is fitted to this many days at least, and to a calendar that has no stretch longer than this [day]
without a value in any year (common practice, no source): half a year says nothing about the other."""

_YEAR = 365.25


class Line(NamedTuple):
    """A regression y = intercept + slope x of each label."""

    slope: Floats
    intercept: Floats
    r2: Floats
    standard_error: Floats
    days: npt.NDArray[np.int64]

    def accepted(self) -> npt.NDArray[np.bool_]:
        """Mark the labels whose regression may fill a record."""
        fits = (self.r2 >= LEAST_R2) & (self.slope >= SLOPES[0]) & (self.slope <= SLOPES[1])
        return np.asarray(fits & (self.days >= LEAST_COMMON_DAYS))


def regress(x: Floats, y: Floats) -> Line:
    """Fit a straight line to the days on which both have a value, by least squares.

    Parameters
    ----------
    x, y : numpy array
        Of one shape, time first.

    Returns
    -------
    Line
        NaN where there are fewer than three common days, or x does not vary; r2 also where y does not.
    """
    shape = x.shape[1:]
    pairs = zip(x.reshape(len(x), -1).T, y.reshape(len(y), -1).T, strict=True)
    columns = np.array([_one_line(one, other) for one, other in pairs]).reshape(-1, 5).T
    slope, intercept, r2, error, days = (column.reshape(shape) for column in columns)
    return Line(slope, intercept, r2, error, days.astype(np.int64))


def _one_line(x: Floats, y: Floats) -> tuple[float, float, float, float, int]:
    """Fit one label, by itself: what numpy's sums make of it must not depend on those beside it."""
    both = ~np.isnan(x) & ~np.isnan(y)
    x, y, days = x[both], y[both], int(both.sum())
    if days < _LEAST_POINTS:
        return np.nan, np.nan, np.nan, np.nan, days
    dx, dy = x - x.mean(), y - y.mean()
    sxx, syy, sxy = float((dx * dx).sum()), float((dy * dy).sum()), float((dx * dy).sum())
    if not sxx > 0:
        return np.nan, np.nan, np.nan, np.nan, days
    slope = sxy / sxx
    left = max(syy - slope * sxy, 0.0)
    r2 = sxy * sxy / (sxx * syy) if syy > 0 else np.nan
    return slope, y.mean() - slope * x.mean(), r2, (left / (days - 2)) ** 0.5, days


def season(values: Floats, day_of_year: npt.NDArray[np.int64]) -> tuple[Floats, Floats]:
    """Fit a smooth season to a record, each label by itself.

    Parameters
    ----------
    values : numpy array
        Time first.
    day_of_year : numpy array of int
        Number of each day in its year.

    Returns
    -------
    fitted : numpy array
        The season on every day; NaN for a label whose values do not cover the year.
    scatter : numpy array
        Standard deviation of the values about it, for each label.
    """
    angle = 2 * np.pi * day_of_year / _YEAR
    waves = [wave(turn * angle) for turn in range(1, SEASON_HARMONICS + 1) for wave in (np.cos, np.sin)]
    design = np.column_stack([np.ones_like(angle), *waves])
    flat = values.reshape(len(values), -1)
    fitted, scatter = np.full_like(flat, np.nan), np.full(flat.shape[1], np.nan)
    for column in range(flat.shape[1]):
        known = ~np.isnan(flat[:, column])
        if not covers_year(day_of_year[known]):
            continue
        weights, *_ = np.linalg.lstsq(design[known], flat[known, column], rcond=None)
        fitted[:, column] = design @ weights
        scatter[column] = np.std(flat[known, column] - fitted[known, column])
    return fitted.reshape(values.shape), scatter.reshape(values.shape[1:])


def covers_year(day_of_year: npt.NDArray[np.int64]) -> bool:
    """Tell whether days, of whatever years, are enough to say what a season is like."""
    if len(day_of_year) < LEAST_SEASON_DAYS:
        return False
    days = np.unique(day_of_year)
    around = np.append(days, days[0] + 366)
    return bool((np.diff(around) - 1).max() <= LONGEST_SEASON_GAP)


def interpolate(values: Floats, longest: int) -> Floats:
    """Draw a straight line over gaps of at most some days; NaN where there is none to draw.

    Parameters
    ----------
    values : numpy array
        Time first.
    longest : int
        Most days of a gap; it must have a value before and after.

    Returns
    -------
    numpy array
        The line in the gaps, NaN everywhere else.
    """
    days = np.arange(len(values)).reshape((-1,) + (1,) * (values.ndim - 1))
    known = ~np.isnan(values)
    before = np.maximum.accumulate(np.where(known, days, -1), axis=0)
    after = np.minimum.accumulate(np.where(known, days, len(values))[::-1], axis=0)[::-1]
    short = ~known & (before >= 0) & (after < len(values)) & (after - before - 1 <= longest)
    low = np.take_along_axis(values, np.clip(before, 0, None), axis=0)
    high = np.take_along_axis(values, np.clip(after, None, len(values) - 1), axis=0)
    share = np.where(short, (days - before) / np.where(short, after - before, 1), np.nan)
    return np.asarray(low + (high - low) * share)
