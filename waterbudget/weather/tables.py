"""Cells of a table as they were given, read without a guess.

Text that is no number and dates in an order that would have to be guessed are faults, never NaN.
A table here is a DataFrame whose index counts the places that a person sees: lines of a file, rows
of a DataFrame; the name of the index says which.
"""

from __future__ import annotations

import csv
import difflib
import numbers
import os
import re
from collections.abc import Hashable, Iterable
from decimal import Decimal

import numpy as np
import numpy.typing as npt
import pandas as pd

from waterbudget.errors import Faults

DATE_COLUMNS = ("time", "date")
"""Names that a date column may have without being mapped."""

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?|[+-]?inf|nan", re.IGNORECASE | re.ASCII)
_DATE = re.compile(
    r"(?P<day>\d{4}([-/])\d{2}\2\d{2})"
    r"(?P<clock>[T ]\d{2}:\d{2}(:\d{2}(\.\d+)?)?)?"
    r"(?P<zone> ?(Z|[+-]\d{2}:?\d{2}))?",
    re.ASCII,
)


def read_csv(path: str | os.PathLike[str], faults: Faults) -> pd.DataFrame | None:
    """Read a comma-separated file with one header line; every cell stays text.

    Parameters
    ----------
    path : str or path-like
        A file in UTF-8.
    faults : Faults
        Faults of the file as a whole are noted here.

    Returns
    -------
    DataFrame or None
        Its index, named "line", holds line numbers. None when the file cannot be read as a table.

    Raises
    ------
    OSError
        When there is no such file, or it may not be read.
    """
    what = f"file {os.fspath(path)}"
    lines: list[int] = []
    rows: list[list[str]] = []
    try:
        with open(path, newline="", encoding="utf-8-sig") as file:
            reader = csv.reader(file, strict=True)
            for row in reader:
                cells = [cell.strip() for cell in row]
                if any(cells):
                    lines.append(reader.line_num)
                    rows.append(cells)
    except (UnicodeDecodeError, csv.Error) as error:
        faults.add(
            what, "cannot be read as a table", value=str(error), allowed="comma-separated text in UTF-8"
        )
        return None
    if len(rows) < 2:
        problem = "has a header and no rows" if rows else "is empty"
        faults.add(
            what, problem, allowed="a header line and a line for each day", mend="give a file with data"
        )
        return None
    header = rows.pop(0)
    other = re.search(r"[;\t]", header[0]) if len(header) == 1 else None
    if other is not None:
        faults.add(
            what,
            f"is not separated by commas but by {other[0]!r}",
            value=header[0],
            mend=f'give pd.read_csv(path, sep={other[0]!r}), with decimal="," if numbers are so written',
        )
        return None
    ragged = [i for i, row in enumerate(rows) if len(row) != len(header)]
    if ragged:
        faults.add(
            what,
            "has lines with another number of cells than the header",
            where=f"line {lines[1 + ragged[0]]}",
            value=f"{len(rows[ragged[0]])} cells",
            count=len(ragged),
            allowed=f"{len(header)} cells",
            mend="a cell without a value stays blank between its commas",
        )
        return None
    return pd.DataFrame(rows, columns=header, index=pd.Index(lines[1:], name="line"), dtype=object)


def from_frame(frame: pd.DataFrame, date_column: Hashable | None) -> pd.DataFrame:
    """Bring a user's DataFrame to a table: what its index holds becomes columns, rows are counted.

    Parameters
    ----------
    frame : DataFrame
        Left as it is.
    date_column : hashable, optional
        The date column, where the user named one.

    Returns
    -------
    DataFrame
        Its index, named "row", counts from 1.
    """
    named = [name for name in frame.index.names if name is not None and name not in frame.columns]
    table = frame.reset_index(level=named) if named else frame.copy(deep=False)
    known = date_column is not None or any(name in table.columns for name in DATE_COLUMNS)
    if not known and isinstance(frame.index, pd.DatetimeIndex):
        table.insert(0, "time", frame.index)
    table.index = pd.RangeIndex(1, len(table) + 1, name="row")
    return table


def to_numbers(column: pd.Series, what: str, faults: Faults) -> npt.NDArray[np.float64]:
    """Read the numbers of a column; blank cells become NaN.

    Parameters
    ----------
    column : Series
        Numbers, or text that spells numbers with a decimal point.
    what : str
        The column's name in a message.
    faults : Faults
        Text that is no number is noted here.

    Returns
    -------
    numpy array of float64
        NaN where a cell is blank or at fault.
    """
    if pd.api.types.is_numeric_dtype(column) and not pd.api.types.is_bool_dtype(column):
        if not pd.api.types.is_complex_dtype(column):
            return column.to_numpy(dtype=np.float64, na_value=np.nan)
    cells = [_number(cell) for cell in column.astype(object)]
    bad = np.array([cell is None for cell in cells])
    if bad.any():
        at = int(bad.argmax())
        faults.add(
            what,
            "holds what is no number",
            where=f"{column.index.name} {column.index[at]}",
            value=repr(column.iloc[at]),
            count=int(bad.sum()),
            allowed="numbers with a decimal point; blank where there is none",
            mend="correct the cell, or leave it blank",
        )
    return np.array([np.nan if cell is None else cell for cell in cells], dtype=np.float64)


def _number(cell: object) -> float | None:
    """Read one cell; None when it is no number."""
    if isinstance(cell, str):
        text = cell.strip()
        if not text:
            return np.nan
        return float(text) if _NUMBER.fullmatch(text) else None
    if cell is None or cell is pd.NA:
        return np.nan
    if isinstance(cell, numbers.Real | Decimal) and not isinstance(cell, bool | np.bool_):
        return float(cell)
    return None


def to_dates(column: pd.Series, faults: Faults) -> pd.DatetimeIndex | None:
    """Read the dates of a column, written year-month-day.

    Parameters
    ----------
    column : Series
        Dates, or text such as ``2024-07-03`` or ``2024/07/03``.
    faults : Faults
        Anything else is noted here.

    Returns
    -------
    DatetimeIndex or None
        None when a cell is no date. What kind of days they are is not checked here.
    """
    if isinstance(column.dtype, np.dtype | pd.DatetimeTZDtype) and column.dtype.kind == "M":
        return pd.DatetimeIndex(column).as_unit("ns")
    cells = ["" if cell is None or cell is pd.NaT or cell is pd.NA else str(cell).strip() for cell in column]
    matches = [_DATE.fullmatch(cell) for cell in cells]
    local = ["" if m is None else m["day"].replace("/", "-") + (m["clock"] or "") for m in matches]
    index = pd.DatetimeIndex(pd.to_datetime(pd.Series(local), format="ISO8601", errors="coerce")).as_unit(
        "ns"
    )
    zones = [m["zone"].strip() for m in matches if m is not None and m["zone"]]
    if zones:
        faults.add(
            f"date column {column.name!r}",
            "has a time zone",
            value=zones[0],
            count=len(zones),
            allowed="local dates without a time zone",
            mend="write the local date alone; a day of weather is a local day",
        )
    # A blank cell is a row without a date, which the check of the time axis reports.
    bad = np.asarray(index.isna()) & np.array([cell != "" for cell in cells], dtype=bool)
    if bad.any():
        at = int(bad.argmax())
        faults.add(
            f"date column {column.name!r}",
            "holds what is no date",
            where=f"{column.index.name} {column.index[at]}",
            value=repr(column.iloc[at]),
            count=int(bad.sum()),
            allowed="year-month-day: 2024-07-03 or 2024/07/03",
            mend=f"convert the column by pd.to_datetime(frame[{column.name!r}], format=...), where format "
            'says the order of day and month, such as "%d/%m/%Y"',
        )
        return None
    return index


def nearest(word: object, known: Iterable[object], cutoff: float = 0.6) -> list[str]:
    """Give up to three known names that are spelt much like a word, whatever the case."""
    names = {str(name).casefold(): str(name) for name in known}
    return [names[near] for near in difflib.get_close_matches(str(word).casefold(), names, cutoff=cutoff)]
