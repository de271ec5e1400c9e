"""A doubt about weather, how doubts become rows of a table, and the figures that judge a series.

Time is the last axis of every array here; what stands before it are labels, all judged at once. NaN is no
value: it is passed over, and no figure comes of nothing but NaN.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import groupby, pairwise
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from waterbudget.weather.flags import flags_of, is_reading

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Row = tuple[object, ...]

# More runs than this of one doubt, at one station and in one year, are one row: nobody reads a hundred
# calm days one by one (common practice, no source).
_MOST_RUNS = 5

_WORST: dict[str, Callable[[Floats], float]] = {
    "first": lambda values: float(values[0]),
    "least": lambda values: float(values.min()),
    "greatest": lambda values: float(values.max()),
}


class Doubt(NamedTuple):
    """Days that are hard to believe, before they are gathered into runs.

    ``shown`` is the number to show for them, where it is not the variable's own value. With ``separate`` a
    run also ends where that number changes.
    """

    variable: str
    days: xr.DataArray
    why: str
    worst: Literal["first", "least", "greatest"] = "first"
    shown: xr.DataArray | None = None
    separate: bool = False


def judged(variable: str, figures: xr.DataArray, why: str) -> Doubt:
    """Make a doubt of the days that have a figure; days of another figure are another run."""
    return Doubt(variable, figures.notnull(), why, shown=figures, separate=True)


def readings(weather: xr.Dataset, name: str) -> xr.DataArray:
    """Give the values of a variable that were read; NaN where its flag says that they were estimated."""
    data = weather[name].astype(np.float64)
    return data.where(is_reading(flags_of(weather, name)))


def over_time(function: Callable[..., npt.NDArray[np.generic]], *arrays: xr.DataArray) -> xr.DataArray:
    """Apply a function of arrays whose last axis is time, and that gives such an array back."""
    result: xr.DataArray = xr.apply_ufunc(
        function,
        *(xr.broadcast(*arrays) if len(arrays) > 1 else arrays),
        input_core_dims=[["time"]] * len(arrays),
        output_core_dims=[["time"]],
    )
    return result


def rows(weather: xr.Dataset, doubt: Doubt, most: int = _MOST_RUNS) -> Iterator[Row]:
    """Gather one doubt into rows, label by label: one for each run of days, or for a year of many runs."""
    if not doubt.days.values.any():
        return
    data = weather[doubt.variable] if doubt.shown is None else doubt.shown
    data, days = xr.broadcast(data, doubt.days)
    labels = [dim for dim in data.dims if dim != "time"]
    values, marks = (array.transpose(*labels, "time").values for array in (data, days))
    shape, time = values.shape[:-1], pd.DatetimeIndex(data.indexes["time"])
    years = time.year.tolist()
    values, marks = values.reshape(-1, time.size), marks.reshape(-1, time.size)
    series, starts, stops = _runs(marks, values if doubt.separate else None)
    found = zip(series.tolist(), starts.tolist(), stops.tolist(), strict=True)
    for (one, _), group in groupby(found, lambda run: (run[0], years[run[1]])):
        at = zip(labels, np.unravel_index(one, shape), strict=True) if labels else ()
        place = _label({str(dim): data.indexes[dim][int(i)] for dim, i in at})
        for runs, why in _rows_of_year([(start, stop) for _, start, stop in group], doubt.why, most):
            worst = _WORST[doubt.worst](np.concatenate([values[one, start:stop] for start, stop in runs]))
            count = sum(stop - start for start, stop in runs)
            yield doubt.variable, place, time[runs[0][0]], time[runs[-1][1] - 1], count, worst, why


def _rows_of_year(
    runs: list[tuple[int, int]], why: str, most: int
) -> list[tuple[list[tuple[int, int]], str]]:
    if len(runs) > most:
        return [(runs, f"{why}; more than {most} times this year")]
    return [([run], why) for run in runs]


def _runs(marks: Bools, values: npt.NDArray[np.generic] | None) -> tuple[npt.NDArray[np.intp], ...]:
    """Find runs of marked days as series, start and stop; with `values` a run also ends where they change."""
    begins, ends = marks.copy(), marks.copy()
    apart = ~(marks[:, 1:] & marks[:, :-1])
    if values is not None:
        apart |= values[:, 1:] != values[:, :-1]
    begins[:, 1:] &= apart
    ends[:, :-1] &= apart
    series, starts = np.nonzero(begins)
    return series, starts, np.nonzero(ends)[1] + 1


def _label(labels: dict[str, object]) -> str:
    """Name a series by its station alone, or by every dimension."""
    if list(labels) == ["station"]:
        return str(labels["station"])
    return ", ".join(f"{dim} {label}" for dim, label in labels.items())


def run_totals(begins: Bools, counted: Bools) -> npt.NDArray[np.int64]:
    """Count the counted days of the run in which each day lies; a run begins where `begins` says."""
    begins = begins.copy()
    begins[..., 0] = True
    run = np.cumsum(begins.ravel()) - 1
    totals: npt.NDArray[np.int64] = np.bincount(run, weights=counted.ravel()).astype(np.int64)
    return np.asarray(totals[run].reshape(begins.shape))


def long_runs(marks: Bools, least: int, counted: Bools | None = None) -> Bools:
    """Keep the marked days of runs of at least `least` days, or of as many that are counted."""
    begins = np.ones(marks.shape, dtype=bool)
    begins[..., 1:] = marks[..., 1:] != marks[..., :-1]
    return marks & (run_totals(begins, marks if counted is None else counted & marks) >= least)


def previous(values: Floats, days: int = 1) -> Floats:
    """Give for each day the value of so many days before it; of days after it, where `days` is negative."""
    moved = np.full(values.shape, np.nan)
    if days > 0:
        moved[..., days:] = values[..., :-days]
    else:
        moved[..., :days] = values[..., -days:]
    return moved


def mean(values: Floats, least: int = 1) -> Floats:
    """Mean of each series on an axis of length 1; NaN where it has fewer than `least` values."""
    count = (~np.isnan(values)).sum(axis=-1, keepdims=True)
    total = np.nansum(values, axis=-1, keepdims=True)
    return np.where(count >= least, total / np.maximum(count, 1), np.nan)


def quantile(values: Floats, share: float, least: int = 1) -> Floats:
    """Value below which a share of each series lies, on an axis of length 1; NaN where it has too few."""
    if values.shape[-1] == 0:
        return np.full((*values.shape[:-1], 1), np.nan)
    ordered = np.sort(values, axis=-1)  # NaN comes last
    count = (~np.isnan(values)).sum(axis=-1, keepdims=True)
    place = np.rint(share * np.maximum(count - 1, 0)).astype(np.intp)
    return np.where(count >= least, np.take_along_axis(ordered, place, axis=-1), np.nan)


def spread(figure: Floats, values: Floats) -> Floats:
    """Give the figure of each series to its days, from its first value to its last."""
    valid = ~np.isnan(values)
    begun = np.maximum.accumulate(valid, axis=-1)
    unfinished = np.maximum.accumulate(valid[..., ::-1], axis=-1)[..., ::-1]
    return np.where(begun & unfinished, figure, np.nan)


def by_year(time: pd.DatetimeIndex) -> list[slice]:
    """Give the days of each calendar year."""
    return _groups(np.asarray(time.year))


def by_month(time: pd.DatetimeIndex) -> list[slice]:
    """Give the days of each month of each year."""
    return _groups(np.asarray(time.year * 12 + time.month))


def _groups(keys: npt.NDArray[np.generic]) -> list[slice]:
    edges = [0, *(np.flatnonzero(keys[1:] != keys[:-1]) + 1).tolist(), keys.size]
    return [slice(start, stop) for start, stop in pairwise(edges)]
