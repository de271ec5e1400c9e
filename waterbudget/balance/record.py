"""Recorded irrigation: a table of waterings becomes two daily series."""

from __future__ import annotations

import difflib
import json
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.checks import note_where
from waterbudget.descriptions import Number, moment
from waterbudget.errors import Faults, InputError, collect
from waterbudget.tables import note_rows, read_numbers, read_times, shown

MM_PER_INCH = 25.4
DEPTHS = {"net_mm": 1.0, "net_in": MM_PER_INCH, "gross_mm": 1.0, "gross_in": MM_PER_INCH}
"""Columns that may give a depth, and what brings them to mm."""
LEACHING = "leaching"
"""The purpose of water that is meant to carry salts out of the root zone."""
REFILL = "refill for leaching"
"""The purpose of water that fills the soil first, so that the leaching passes through."""
COLUMNS = ("date", "field", "purpose", *DEPTHS)


class Record(NamedTuple):
    """What was irrigated, and from when on the rule decides.

    Attributes
    ----------
    net : DataArray on ``time`` and perhaps ``field``
        Net depth [mm].
    free : DataArray on ``time`` and perhaps ``field``
        1.0 on days that the record does not cover.
    leaching : DataArray on ``time`` and perhaps ``field``
        Net depth whose purpose is leaching or the refill for it [mm], of the record and of what is planned.
    entries : str
        JSON text, a list of date, field and purpose, for those who read the result.
    extra : DataArray on ``time`` and perhaps ``field``
        Net depth planned on top of the rule [mm].
    planned : str
        JSON text, as ``entries``, of what is planned.
    """

    net: xr.DataArray
    free: xr.DataArray
    leaching: xr.DataArray
    entries: str
    extra: xr.DataArray
    planned: str


def no_record(time: pd.DatetimeIndex) -> Record:
    """Stand in where nothing is recorded: the rule decides on every day."""
    zero = xr.DataArray(np.zeros(len(time)), dims="time")
    return Record(zero, zero + 1.0, zero, "[]", zero, "[]")


def add_extra(
    record: Record,
    table: pd.DataFrame | None,
    time: pd.DatetimeIndex,
    fields: pd.Index | None,
    gross_to_net: Number,
) -> Record:
    """Add waterings that are planned on top of the rule; they cover no days.

    Parameters
    ----------
    record : Record
    table : DataFrame or None
        As in `read_record`.
    time, fields, gross_to_net
        As in `read_record`.

    Returns
    -------
    Record

    Raises
    ------
    InputError
        With every fault of the table at once, or when an entry falls on a day that the record covers.
    """
    if table is None:
        return record
    with collect() as faults:
        try:
            extra = read_record(table, time, fields, gross_to_net)
        except InputError as error:
            faults.extend(error.faults, prefix="extra_")
    with collect() as faults:
        note_where(
            faults,
            "extra_irrigation",
            "falls on a day that the record covers",
            (extra.net > 0) & (record.free == 0),
            {},
            mend="what was applied belongs into irrigation=; plan from the day after the record on",
        )
    return record._replace(leaching=record.leaching + extra.leaching, extra=extra.net, planned=extra.entries)


def read_record(
    table: pd.DataFrame,
    time: pd.DatetimeIndex,
    fields: pd.Index | None,
    gross_to_net: Number,
    recorded_until: Any = None,
) -> Record:
    """Read a table of recorded waterings.

    Parameters
    ----------
    table : DataFrame
        Columns ``date``; one of ``net_mm``, ``net_in``, ``gross_mm``, ``gross_in`` filled in each
        row; ``field`` where there are several; ``purpose`` (germination, frost, …) if
        wanted: ``leaching`` marks water that is meant to carry salts away, ``refill for leaching`` that which
        fills the soil before it. Waterings of one day add up.
    time : DatetimeIndex
        Days of the run.
    fields : Index or None
        Labels of the dimension ``field``; None for a single field.
    gross_to_net : float or DataArray
        Turns gross into net depth; NaN when there is no system.
    recorded_until : date, optional
        The record is complete from the first day of the run to this one. Without it a field's
        record is complete from its first entry to its last, and no further.

    Returns
    -------
    Record

    Raises
    ------
    InputError
        With every fault of the table at once.
    """
    with collect() as faults:
        usable = _check_columns(table, fields, faults)
        end = _last_day(recorded_until, time, faults)
        if usable:
            table = table.set_axis(pd.RangeIndex(1, len(table) + 1), axis=0)
            dates = _dates(table, time, faults)
            labels = _labels(table, fields, faults)
            depth, gross = _depths(table, faults)
    size = 1 if fields is None else len(fields)
    ratio = _ratio(gross_to_net, fields)
    with collect() as faults:
        unknown = pd.Series(gross & np.isnan(ratio[0, labels]), index=table.index)
        problem = "gives gross depths, but no one system turns them into net"
        note_rows(faults, "irrigation", problem, unknown, lambda _: "", mend="give system=, or net_mm")
    net, leaching = np.zeros((len(time), size)), np.zeros((len(time), size))
    day = time.get_indexer(dates)
    depth = np.where(gross, depth * ratio[day % len(ratio), labels], depth)
    purposes = _purposes(table)
    np.add.at(net, (day, labels), depth)
    meant = np.asarray([text in (LEACHING, REFILL) for text in purposes], dtype=float)
    np.add.at(leaching, (day, labels), depth * meant)
    free = np.ones((len(time), size))
    if end is not None:
        free[: end + 1] = 0.0
    for label in range(size):
        own = day[labels == label]
        if own.size:
            first = 0 if end is not None else own.min()
            free[first : max(int(own.max()), -1 if end is None else end) + 1, label] = 0.0
    entries = [
        {
            "date": str(pd.Timestamp(date).date()),
            "field": "" if fields is None else str(fields[label]),
            "purpose": purpose,
        }
        for date, label, purpose in zip(dates, labels, purposes, strict=True)
    ]
    text = json.dumps(entries)
    applied = _series(net, fields)
    return Record(
        net=applied,
        free=_series(free, fields),
        leaching=_series(leaching, fields),
        entries=text,
        extra=xr.zeros_like(applied),
        planned="[]",
    )


def _series(values: np.ndarray[Any, np.dtype[np.float64]], fields: pd.Index | None) -> xr.DataArray:
    """Give a daily series the labels of its fields."""
    if fields is None:
        return xr.DataArray(values[:, 0], dims="time")
    return xr.DataArray(values, dims=("time", "field"), coords={"field": fields})


def _check_columns(table: Any, fields: pd.Index | None, faults: Faults) -> bool:
    """Note columns that are missing or unknown; tell whether those that are needed are there."""
    if not isinstance(table, pd.DataFrame):
        faults.add("irrigation", "is not a DataFrame", value=type(table).__name__)
        return False
    for name in table.columns:
        if name not in COLUMNS:
            near = difflib.get_close_matches(str(name), COLUMNS, n=2)
            faults.add(
                f"irrigation, column {name!r}",
                "is unknown",
                allowed=", ".join(COLUMNS),
                mend=f"did you mean {' or '.join(near)}?" if near else "",
            )
    if "date" not in table.columns:
        faults.add("irrigation", "has no column date")
    if not set(DEPTHS) & set(table.columns):
        faults.add("irrigation", "has no depth", allowed=f"one of {', '.join(DEPTHS)}")
    if fields is not None and "field" not in table.columns:
        faults.add("irrigation", "has no column field, but the run has several fields")
    if fields is None and "field" in table.columns and len(table["field"].unique()) > 1:
        faults.add(
            "irrigation", "names several fields, but the run has one", mend="select the rows of the field"
        )
    return "date" in table.columns and (fields is None or "field" in table.columns)


def _dates(table: pd.DataFrame, time: pd.DatetimeIndex, faults: Faults) -> pd.DatetimeIndex:
    """Read the dates; each must lie within the run."""
    dates = read_times(table, "irrigation", faults).dt.normalize()
    note_rows(
        faults,
        "irrigation, date",
        "lies outside the days of the weather",
        dates.notna() & ~dates.isin(time),
        shown(dates),
        allowed=f"{time[0]:%Y-%m-%d} to {time[-1]:%Y-%m-%d}",
    )
    return pd.DatetimeIndex(dates)


def _labels(
    table: pd.DataFrame, fields: pd.Index | None, faults: Faults
) -> np.ndarray[Any, np.dtype[np.intp]]:
    """Give the number of each row's field."""
    if fields is None:
        return np.zeros(len(table), dtype=np.intp)
    labels = fields.get_indexer(pd.Index(table["field"]))
    unknown = pd.Series(labels < 0, index=table.index)
    near = difflib.get_close_matches(
        str(table["field"][unknown.idxmax()]) if unknown.any() else "", [str(label) for label in fields], n=3
    )
    mend = f"did you mean {' or '.join(near)}?" if near else "select the rows of these fields"
    problem = "names a field that the run does not have"
    note_rows(faults, "irrigation, field", problem, unknown, shown(table["field"]), mend=mend)
    return labels


def _depths(
    table: pd.DataFrame, faults: Faults
) -> tuple[np.ndarray[Any, np.dtype[np.float64]], np.ndarray[Any, np.dtype[np.bool_]]]:
    """Read each row's one depth [mm], and whether it is gross."""
    depth = np.full(len(table), np.nan)
    gross = np.zeros(len(table), dtype=bool)
    given = pd.Series(0, index=table.index)
    for name in [name for name in DEPTHS if name in table.columns]:
        values = read_numbers(table, name, "irrigation", faults, blank=True).to_numpy()
        known = ~np.isnan(values)
        depth[known] = values[known] * DEPTHS[name]
        gross[known] = name.startswith("gross")
        given += table[name].notna()
    note_rows(
        faults,
        "irrigation depth",
        "needs exactly one value a row",
        given != 1,
        lambda row: f"{given[row]} values",
        allowed=f"one of {', '.join(DEPTHS)}",
    )
    return depth, gross


def _last_day(recorded_until: Any, time: pd.DatetimeIndex, faults: Faults) -> int | None:
    """Find the position of the last recorded day; -1 when it lies before the run."""
    if recorded_until is None:
        return None
    date = moment(recorded_until, "recorded_until", faults)
    if isinstance(date, xr.DataArray):
        faults.add("recorded_until", "is several dates", allowed="one date for the run")
        return None
    return int(time.searchsorted(pd.DatetimeIndex([date])[0], side="right")) - 1


def _ratio(gross_to_net: Number, fields: pd.Index | None) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Spread net over gross along the days (one row where it does not vary) and the fields."""
    array = xr.DataArray(gross_to_net)
    count = 1 if fields is None else len(fields)
    if any(dim not in ("time", "field") for dim in array.dims):
        # Systems compared on one record: only net depths mean the same for all of them.
        return np.full((1, count), np.nan)
    rows = array.sizes.get("time", 1)
    missing = {dim: size for dim, size in (("time", rows), ("field", count)) if dim not in array.dims}
    bare = array.drop_vars([name for name in array.coords if name in missing])
    return bare.expand_dims(missing).transpose("time", "field").values.astype(np.float64)


def _purposes(table: pd.DataFrame) -> list[str]:
    if "purpose" not in table.columns:
        return [""] * len(table)
    return ["" if pd.isna(value) else str(value) for value in table["purpose"]]
