"""Tables of layers and of readings: their columns, their numbers, and depths that follow one another."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from waterbudget.errors import Faults

HAIR = 1e-9
"""Depths [m] closer than this are one depth: a tenth of a metre is not exact in binary."""


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
        faults.add(what, "has no rows")
        return None
    named = [str(name) for name in frame.columns]
    wrong = {
        "lacks columns": [name for name in needed if name not in named],
        "has unknown columns": [name for name in named if name not in (*needed, *optional)],
        "has columns twice": [str(name) for name in frame.columns[frame.columns.duplicated()]],
    }
    allowed = ", ".join((*needed, *(f"{name} (optional)" for name in optional)))
    for problem, names in wrong.items():
        if names:
            faults.add(what, problem, value=", ".join(names), count=len(names), allowed=allowed)
    return None if any(wrong.values()) else frame.set_axis(pd.RangeIndex(1, len(frame) + 1), axis=0)


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


def read_numbers(frame: pd.DataFrame, column: str, what: str, faults: Faults) -> pd.Series[float]:
    """Read a column of numbers; each row that has no finite number of 0 or more is a fault.

    Parameters
    ----------
    frame : DataFrame
        Its index holds the numbers of the rows.
    column : str
    what : str
        What to call the table in a message.
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    Series of float
        NaN where a fault was noted.
    """
    values = pd.to_numeric(frame[column], errors="coerce").astype(np.float64)
    bad = ~(values >= 0) | np.isinf(values)
    note_rows(
        faults,
        f"{what}, {column}",
        "is missing, or not a number of 0 or more",
        bad,
        lambda row: repr(found) if isinstance(found := frame[column][row], str) else f"{found}",
        mend="correct the value",
    )
    return values.mask(bad)


def check_depths(
    top: pd.Series[float], bottom: pd.Series[float], above: pd.Series[float], what: str, faults: Faults
) -> None:
    """Note layers of a table that do not follow one another from the surface down.

    Parameters
    ----------
    top, bottom : Series of float
        Depths [m]; the index holds the numbers of the rows.
    above : Series of float
        Bottom of the layer above each [m], 0 for the first.
    what : str
        What to call the table in a message.
    faults : Faults
        Takes the first row of each kind of fault.
    """

    def show(row: int) -> str:
        ends = f"the soil above ends at {above[row]:g}"
        return f"top_m {top[row]:g}, bottom_m {bottom[row]:g}, {ends}"

    for problem, bad in (
        ("has a layer without thickness", bottom <= top),
        ("leaves a hole above a layer", top > above + HAIR),
        ("has layers that overlap", top < above - HAIR),
    ):
        mend = "layers follow one another from 0 m down, each from where the one above ends"
        note_rows(faults, what, problem, bad, show, mend=mend)
