"""Checks shared by every room: time axis, ranges, gaps and labels.

Each check notes every fault that it finds in a `Faults` and raises nothing, so that a caller can
run them all and raise once.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from waterbudget.descriptions import place
from waterbudget.errors import Faults, brief
from waterbudget.variables import VARIABLES

UNLABELLED = frozenset({"time", "spot"})
"""Dimensions that `labelled` passes over: time has its own check, spots carry no labels."""

_SHOWN = 3


def time_axis(time: pd.Index | xr.DataArray, faults: Faults, what: str = "weather") -> None:
    """Check that a time axis is daily: midnight, no time zone, sorted, unique, no gaps.

    Parameters
    ----------
    time : pandas.Index or DataArray
        The dates, one for each row.
    faults : Faults
        Every fault found is noted here.
    what : str
        Whose time axis it is.
    """
    thing = f"{what}, time"
    index = _index(time)
    if index.size == 0:
        faults.add(thing, "is empty", allowed="at least one day", mend="give data with at least one row")
        return
    if not isinstance(index, pd.DatetimeIndex):
        faults.add(
            thing,
            "holds no dates",
            value=f"{index[0]} ({type(index).__name__}, {index.dtype})",
            allowed="datetime64",
            mend="pd.to_datetime(time, format=...), for periods .to_timestamp()",
        )
        return
    if index.tz is not None:
        faults.add(
            thing,
            "has a time zone",
            value=str(index.tz),
            allowed="local dates without a time zone",
            mend=".tz_localize(None), before the days are made, so that a day is a local day",
        )
        index = index.tz_localize(None)
    absent = np.asarray(index.isna())
    if absent.any():
        faults.add(
            thing,
            "has rows without a date",
            where=f"row {int(absent.argmax()) + 1}",
            count=int(absent.sum()),
            mend="write the date, or leave the row out",
        )
        index = index[~absent]
    if index.size:
        _days(index, faults, thing)


def _index(time: pd.Index | xr.DataArray) -> pd.Index:
    """Take the index itself where there is one: only it knows a time zone."""
    if isinstance(time, pd.Index):
        return time
    if time.name in time.indexes:
        index: pd.Index = time.indexes[time.name]
        return index
    return pd.Index(np.atleast_1d(time.values))


def _days(index: pd.DatetimeIndex, faults: Faults, thing: str) -> None:
    """Check dates that are known to be dates: midnight, order, repeats and gaps."""
    days = index.normalize()
    late = np.asarray(index != days)
    if late.any():
        faults.add(
            thing,
            "is not midnight",
            where=_day(days[late][0]),
            value=str(index[late][0]),
            count=int(late.sum()),
            allowed="one stamp a day, at 00:00",
            mend="if each stamp is one day, .normalize() the dates (of a Dataset: "
            '.assign_coords(time=data.indexes["time"].normalize())); shorter steps are made days by '
            "read_weather(..., sub_daily=wb.SubDaily(stamp=...))",
        )
    backward = np.asarray(days[1:] < days[:-1])
    if backward.any():
        place = int(backward.argmax()) + 1
        faults.add(
            thing,
            "is not in order of date",
            where=f"row {place + 1}",
            value=f"{_day(days[place])} after {_day(days[place - 1])}",
            count=int(backward.sum()),
            allowed="ascending dates",
            mend='.sort_index(), for a Dataset .sortby("time"); rows of stations name them by a column',
        )
    again = np.asarray(days.duplicated())
    if again.any():
        faults.add(
            thing,
            "has days that stand more than once",
            where=_day(days[again][0]),
            count=int(again.sum()),
            allowed="one row a day",
            mend="keep the right row of each day; if rows belong to several stations, name them by a column",
        )
    missing = pd.date_range(days.min(), days.max(), freq="D").difference(days)
    if missing.size:
        faults.add(
            thing,
            "misses days",
            where=_day(missing[0]),
            count=missing.size,
            allowed="every day from the first to the last",
            mend='read_weather(..., missing_days="nan") adds the days as NaN, to be filled by fill_weather',
        )


def in_range(data: xr.DataArray, name: str, faults: Faults, what: str | None = None) -> None:
    """Check that values are numbers within the hard range of their name; NaN is passed over.

    Parameters
    ----------
    data : DataArray
        Numbers in the canonical unit of `name`; text, None, truth values and dates are none.
    name : str
        A name in `waterbudget.variables.VARIABLES`.
    faults : Faults
        Every fault found is noted here.
    what : str, optional
        The thing in the user's words; `name` when not given.
    """
    variable = VARIABLES[name]
    thing = what or name
    if data.size == 0:
        return
    values = np.asarray(data.values)
    if values.dtype.kind not in "iuf":
        odd = _odd(values)
        if odd.any():
            faults.add(
                thing,
                "is not a number",
                where=first_label(data.copy(data=odd)),
                value=brief(values[odd].tolist()[0]),
                count=int(odd.sum()),
                allowed="numbers, and NaN for what is not known",
            )
            return
        values = values.astype(np.float64)
    # The usual case is a large array without a fault: two reductions that need no copy.
    least, greatest = float(np.fmin.reduce(values, axis=None)), float(np.fmax.reduce(values, axis=None))
    if np.isinf(least) or np.isinf(greatest):
        where, value, count = first(data, np.isinf(values))
        faults.add(
            thing,
            "is infinite",
            where=where,
            value=f"{value:g}",
            count=count,
            allowed=variable.allowed(),
            mend="give the number; what is not known is NaN",
        )
    low, high = variable.hard
    low = -np.inf if low is None else low
    high = np.inf if high is None else high
    if not (least <= low if variable.above else least < low) and not greatest > high:
        return
    bad = ((values <= low if variable.above else values < low) | (values > high)) & np.isfinite(values)
    if bad.any():
        where, value, count = first(data, bad)
        faults.add(
            thing,
            "is outside its range",
            where=where,
            value=quantity(value, variable.unit),
            count=count,
            allowed=variable.allowed(),
            mend=variable.mend(value),
        )


def _odd(values: npt.NDArray[Any]) -> npt.NDArray[np.bool_]:
    """Mark what is not a number in an array of another type."""
    if values.dtype.kind != "O":
        return np.ones(values.shape, dtype=bool)
    sound = [isinstance(one, int | float | np.number) and not isinstance(one, bool) for one in values.ravel()]
    return ~np.array(sound, dtype=bool).reshape(values.shape)


def complete(data: xr.DataArray, faults: Faults, what: str) -> None:
    """Check that no value is missing.

    Parameters
    ----------
    data : DataArray
        Numbers, of any dimensions.
    faults : Faults
        The fault is noted here.
    what : str
        The thing in the user's words.
    """
    bad = np.isnan(np.asarray(data.values))
    if bad.any():
        where, _, count = first(data, bad)
        way = _way_to_fill(data, bad, what)
        faults.add(
            what,
            "has no value",
            where=where,
            value="NaN",
            count=count,
            mend=f'{way}; or simulate with missing="propagate", which leaves NaN from that day on',
        )


def _way_to_fill(data: xr.DataArray, bad: npt.NDArray[np.bool_], what: str) -> str:
    """Say how missing values are mended; where a label has none at all, that it can be left out."""
    way = "say what fell, fill_weather(weather, rain=...)" if what == "rain" else "fill the gap, fill_weather"
    labels = [str(dim) for dim in data.dims if dim != "time"]
    if not labels or "time" not in data.dims:
        return way
    empty = int(bad.all(axis=data.get_axis_num("time")).sum())
    return (
        f"{empty} along {', '.join(labels)} have no value at all: leave them out; else {way}"
        if empty
        else way
    )


def labelled(objects: Mapping[str, xr.DataArray | xr.Dataset], faults: Faults) -> None:
    """Check that every dimension has labels, each once, and the same ones everywhere.

    Dimensions are joined by name; one that is labelled differently in two places would be joined
    by chance or not at all. `time` and `spot` are passed over.

    Parameters
    ----------
    objects : mapping of str to DataArray or Dataset
        What will be joined, by its name for people: ``{"weather": ..., "soil": ...}``.
    faults : Faults
        Every fault found is noted here.
    """
    seen: dict[Hashable, tuple[str, pd.Index]] = {}
    for what, data in objects.items():
        for dim in data.dims:
            if dim in UNLABELLED:
                continue
            if dim not in data.indexes:
                faults.add(
                    what,
                    f"has a dimension {dim!r} without labels",
                    value=f"{data.sizes[dim]} unlabelled values",
                    allowed="a name for each",
                    mend=f".assign_coords({dim}=[...])",
                )
                continue
            index = data.indexes[dim]
            again = np.asarray(index.duplicated())
            if again.any():
                faults.add(
                    what,
                    f"has two {dim}s of one name",
                    value=_several(index[again].unique()),
                    count=int(again.sum()),
                    allowed=f"a name for each {dim} that no other has",
                    mend=f"rename all but one {dim}",
                )
            elif dim in seen:
                _same_labels(str(dim), seen[dim], (what, index), faults)
            else:
                seen[dim] = (what, index)


def first_label(marked: xr.DataArray) -> str:
    """Name the first marked cell by its labels; empty for a single cell."""
    return place(marked, _first_marked(marked)) if bool(marked.any()) else ""


def _first_marked(marked: xr.DataArray) -> dict[Hashable, int]:
    """Give the index of the first marked cell along each dimension."""
    at = np.unravel_index(int(np.argmax(marked.values)), marked.shape) if marked.ndim else ()
    return {dim: int(i) for dim, i in zip(marked.dims, at, strict=True)}


def note_where(
    faults: Faults,
    what: str,
    problem: str,
    bad: xr.DataArray,
    values: Mapping[str, object],
    *,
    allowed: str = "",
    mend: str = "",
) -> None:
    """Note a fault of some labels: how many, the first, and the values that stand there.

    Parameters
    ----------
    faults : Faults
        Takes the fault, when any label is marked.
    what, problem, allowed, mend : str
        As in `Fault`.
    bad : DataArray of bool
        Marks the labels at fault.
    values : mapping of str to float or DataArray
        Numbers to show, by name.
    """
    if not bool(bad.any()):
        return
    at = _first_marked(bad)
    shown = []
    for name, value in values.items():
        array = xr.DataArray(value)
        one = array.isel({dim: i for dim, i in at.items() if dim in array.dims})
        shown.append(f"{name} " + ", ".join(f"{number:g}" for number in np.atleast_1d(one.values).ravel()))
    faults.add(
        what,
        problem,
        where=place(bad, at),
        value=", ".join(shown),
        count=int(bad.sum()),
        allowed=allowed,
        mend=mend,
    )


def labelled_fields(description: object, faults: Faults) -> bool:
    """Check that the arrays inside one description agree on their labels.

    Parameters
    ----------
    description : dataclass
        `Crop`, `Soil`, `System` or `Rule`.
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    bool
        Whether they agree, so that they can be compared with one another.
    """
    values = {name: value for name, value in vars(description).items() if isinstance(value, xr.DataArray)}
    own = Faults()
    labelled(values, own)
    faults.extend(tuple(own))
    return not own


def _same_labels(dim: str, one: tuple[str, pd.Index], other: tuple[str, pd.Index], faults: Faults) -> None:
    """Note how the labels of one dimension differ between two objects."""
    (first_name, ours), (second_name, theirs) = one, other
    if ours.equals(theirs):
        return
    mine, yours = ours.difference(theirs, sort=False), theirs.difference(ours, sort=False)
    if mine.empty and yours.empty:
        place = int(np.argmax(np.asarray(ours != theirs)))
        faults.add(
            f"{first_name} and {second_name}",
            f"have the {dim} labels in a different order",
            where=f"position {place + 1}",
            value=f"{ours[place]!r} and {theirs[place]!r}",
            allowed="the same labels in the same order",
            mend=f'make the order one: {second_name}.sel({dim}={first_name}["{dim}"])',
        )
        return
    found = [
        f"only in {name}: {_several(labels)}"
        for name, labels in ((first_name, mine), (second_name, yours))
        if labels.size
    ]
    mend = f'bring both to the same labels, as in {second_name}.sel({dim}={first_name}["{dim}"])'
    if dim == "station":
        mend += "; weather of stations goes to fields by weather.sel(station=field_station)"
    faults.add(
        f"{first_name} and {second_name}",
        f"have different {dim} labels",
        value="; ".join(found),
        count=mine.size + yours.size,
        allowed="the same labels in the same order",
        mend=mend,
    )


def first(data: xr.DataArray, bad: npt.NDArray[np.bool_]) -> tuple[str, float, int]:
    """Find the first place of a fault, in order of time where there is time.

    Parameters
    ----------
    data : DataArray
        The values.
    bad : numpy array of bool
        Where they are at fault, in the shape of `data`; at least one is True.

    Returns
    -------
    where : str
        The place by its coordinates: ``"2024-07-03, station north"``. Empty for a plain number.
    value : float
        The value there.
    count : int
        How many values are at fault.
    """
    flags = xr.DataArray(bad, dims=data.dims)
    if "time" in data.dims:
        flags = flags.transpose("time", ...)
    at = _first_marked(flags)
    return place(data, at), float(data[at]), int(flags.sum())


def quantity(value: float, unit: str) -> str:
    """Write a number with its unit for people, without the unit ``1``."""
    return f"{value:.6g}" if unit == "1" else f"{value:.6g} {unit}"


def _day(stamp: object) -> str:
    return stamp.strftime("%Y-%m-%d") if isinstance(stamp, pd.Timestamp) else str(stamp)


def _several(labels: pd.Index) -> str:
    """Name the first few labels and say how many more there are."""
    text = ", ".join(repr(label) for label in labels[:_SHOWN])
    more = labels.size - _SHOWN
    return f"{text} and {more} more" if more > 0 else text
