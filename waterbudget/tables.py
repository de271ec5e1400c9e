"""Tables as a user gives them: their columns, labels, times and numbers; rows at fault are told by number."""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Mapping, Sequence
from decimal import Decimal
from numbers import Real
from typing import Any

import numpy as np
import pandas as pd

from waterbudget.descriptions import read_dates
from waterbudget.errors import Faults

Table = pd.DataFrame | Sequence[Mapping[str, Any]]
"""A table as a user may give it: a DataFrame, or a list of mappings."""


def as_table(
    table: Any, what: str, needed: Sequence[str], optional: Sequence[str], faults: Faults
) -> pd.DataFrame | None:
    """Bring a table to a DataFrame whose rows are numbered from 1; note its columns at fault.

    Parameters
    ----------
    table : DataFrame or list of mappings
    what : str
        What to call it in a message.
    needed, optional : sequence of str
        Columns it must have and may have; any other is refused.
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    DataFrame or None
        None where a fault was noted.
    """
    rows = isinstance(table, list | tuple) and all(isinstance(row, Mapping) for row in table)
    if not rows and not isinstance(table, pd.DataFrame):
        found = type(table).__name__
        faults.add(what, "is not a table", value=found, allowed="a DataFrame, or a list of mappings")
        return None
    frame = pd.DataFrame(table)
    if frame.empty:
        faults.add(what, "has no rows", allowed="one row or more", mend="give a table with data")
        return None
    named = [str(name) for name in frame.columns]
    lacking = [name for name in needed if name not in named]
    unknown = [name for name in named if name not in (*needed, *optional)]
    twice = [str(name) for name in frame.columns[frame.columns.duplicated()]]
    allowed = ", ".join((*needed, *(f"{name} (optional)" for name in optional)))
    for problem, names, mend in (
        ("lacks columns", lacking, ""),
        ("has unknown columns", unknown, "name them as here, with their units, or leave them out"),
        ("has columns twice", twice, ""),
    ):
        if names:
            faults.add(what, problem, value=", ".join(names), count=len(names), allowed=allowed, mend=mend)
    if lacking or unknown or twice:
        return None
    return frame.set_axis(pd.RangeIndex(1, len(frame) + 1), axis=0)


def one_column(frame: pd.DataFrame, columns: Collection[str], what: str, faults: Faults) -> str | None:
    """Find which one of several columns a table has; None, and a fault, where it is not one."""
    found = [name for name in columns if name in frame]
    if len(found) != 1:
        faults.add(what, "needs one column", value=", ".join(found) or "none", allowed=" or ".join(columns))
        return None
    return found[0]


def read_times(frame: pd.DataFrame, what: str, faults: Faults) -> pd.Series[pd.Timestamp]:
    """Read the column ``date``, each with its time of day where that is given.

    Parameters
    ----------
    frame : DataFrame
        From `as_table`.
    what : str
        What to call the table in a message.
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    Series of Timestamp
        NaT where a fault was noted.
    """
    given = frame["date"]
    times = _times(given)
    allowed = "year-month-day, without a time zone"
    note_rows(
        faults, f"{what}, date", "is missing, or not a date", times.isna(), shown(given), allowed=allowed
    )
    return times


def _times(given: pd.Series[Any]) -> pd.Series[pd.Timestamp]:
    """Read dates all at once, or each by itself where one of them is none or may have a time zone."""
    if (
        given.dtype.kind == "M"
        or given.map(lambda one: isinstance(one, str) and len(one.strip()) == 10).all()
    ):
        whole = _sound(given.to_numpy())
        if whole is not None:
            return pd.Series(whole, index=given.index)
    each = [_sound(np.asarray([value], dtype=object)) for value in given]
    times = [pd.NaT if one is None else one[0] for one in each]
    return pd.Series(pd.DatetimeIndex(times), index=given.index)


def _sound(values: np.ndarray[Any, Any]) -> pd.DatetimeIndex | None:
    """Read dates without a time zone; None where one of them is none."""
    dates = read_dates(values) if values.ndim == 1 else None
    return None if dates is None or dates.tz is not None else dates


def read_labels(frame: pd.DataFrame, column: str, what: str, faults: Faults) -> pd.Series[Any]:
    """Read what each row belongs to; a table without the column is of one thing, named ``""``.

    Parameters
    ----------
    frame : DataFrame
        From `as_table`.
    column, what : str
        The column, and what to call the table in a message.
    faults : Faults
        Takes what is wrong: rows without a label.

    Returns
    -------
    Series of object
        As they were given.
    """
    if column not in frame:
        return pd.Series("", index=frame.index, dtype=object)
    labels = frame[column].astype(object)
    blank = labels.isna() | (labels.astype(str).str.strip() == "")
    no_name = blank | ~labels.map(lambda one: isinstance(one, Hashable)).astype(bool)
    note_rows(
        faults, f"{what}, {column}", "is missing, or no name", no_name, shown(labels), mend="name every row"
    )
    return labels


def read_numbers(
    frame: pd.DataFrame, column: str, what: str, faults: Faults, *, blank: bool = False
) -> pd.Series[float]:
    """Read a column of numbers; each row that has no finite number of 0 or more is a fault.

    Parameters
    ----------
    frame : DataFrame
        From `as_table`.
    column, what : str
        The column, and what to call the table in a message.
    faults : Faults
        Takes what is wrong.
    blank : bool
        Allow a row without a number.

    Returns
    -------
    Series of float
        NaN where blank, or where a fault was noted.
    """
    given = frame[column].astype(object)
    # A truth value, a date or a span of time has a number inside, but not one that was meant.
    kinds = given.map(lambda one: isinstance(one, str | Real | Decimal) and not isinstance(one, bool))
    values = pd.to_numeric(given.where(kinds.astype(bool)), errors="coerce").astype(np.float64)
    bad = ~(values >= 0) | np.isinf(values)
    if blank:
        bad &= given.notna()
    problem = "is not a number of 0 or more" if blank else "is missing, or not a number of 0 or more"
    note_rows(faults, f"{what}, {column}", problem, bad, shown(given), mend="correct the value")
    return values.mask(bad)


def by_label(frame: pd.DataFrame, column: str) -> list[tuple[Any, pd.DataFrame]]:
    """Part a table by label, in the order of the table; each part in order of its column ``time``."""
    return [
        (label, own.sort_values("time", kind="stable")) for label, own in frame.groupby(column, sort=False)
    ]


def note_rows(
    faults: Faults,
    what: str,
    problem: str,
    bad: pd.Series[bool],
    show: Callable[[int], str],
    *,
    allowed: str = "",
    mend: str = "",
) -> None:
    """Note a fault of some rows: how many, the first, and what stands there.

    Parameters
    ----------
    faults : Faults
        Takes the fault, when any row is marked.
    what, problem, allowed, mend : str
        As in `Fault`.
    bad : Series of bool
        Marks the rows at fault; its index holds their numbers.
    show : function of int
        Writes what stands in a row, given its number.
    """
    rows = bad.index[bad.to_numpy(dtype=bool)]
    if len(rows):
        faults.add(
            what,
            problem,
            where=f"row {rows[0]}",
            value=show(int(rows[0])),
            count=len(rows),
            allowed=allowed,
            mend=mend,
        )


def shown(column: pd.Series[Any]) -> Callable[[int], str]:
    """Write what stands in a row of a column, text between quotes."""

    def show(row: int) -> str:
        value = column[row]
        return repr(value) if isinstance(value, str) else f"{value}"

    return show
