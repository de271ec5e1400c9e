"""Cells of a table as they were given, read without a guess.

Text that is no number is a fault, never NaN, unless the user says that it is the table's code for a
missing value. A table here is a DataFrame whose index counts the places that a person sees: lines of
a file, rows of a DataFrame; the name of the index says which.
"""

from __future__ import annotations

import difflib
import numbers
import re
from collections.abc import Hashable, Iterable, Mapping
from decimal import Decimal
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from waterbudget.errors import Faults

DATE_COLUMNS = ("time", "date")
"""Names that a date column may have without being mapped."""

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?|[+-]?inf|nan", re.IGNORECASE | re.ASCII)


class Codes(NamedTuple):
    """How the cells of one column are to be read.

    Attributes
    ----------
    decimal : str
        The decimal sign of text.
    missing : tuple
        Numbers and texts that stand for a missing value.
    amounts : mapping
        Numbers and texts that stand for an amount which is stated in the canonical unit: a trace of rain.
    """

    decimal: str = "."
    missing: tuple[float | str, ...] = ()
    amounts: Mapping[float | str, float] = {}


PLAIN = Codes()
"""Numbers with a decimal point, and no code."""


class Numbers(NamedTuple):
    """The numbers of a column, and the amounts that codes in it stand for; NaN where there is none."""

    values: npt.NDArray[np.float64]
    stated: npt.NDArray[np.float64]


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


def to_numbers(column: pd.Series, what: str, faults: Faults, codes: Codes = PLAIN) -> Numbers:
    """Read the numbers of a column; blank cells and codes for a missing value become NaN.

    Parameters
    ----------
    column : Series
        Numbers, or text that spells numbers.
    what : str
        The column's name in a message.
    faults : Faults
        Text that is no number is noted here.
    codes : Codes
        The decimal sign of text, and what stands for something else than a number.

    Returns
    -------
    Numbers
        NaN where a cell is blank, a code, or at fault.
    """
    texts = {code.strip(): code for code in (*codes.missing, *codes.amounts) if isinstance(code, str)}
    plain = pd.api.types.is_numeric_dtype(column) and not pd.api.types.is_bool_dtype(column)
    if plain and not pd.api.types.is_complex_dtype(column):
        values = column.to_numpy(dtype=np.float64, na_value=np.nan)
        meant = np.full(len(values), np.nan)
    else:
        known = {text: codes.amounts.get(code, np.nan) for text, code in texts.items()}
        coded = [known.get(cell.strip()) if isinstance(cell, str) else None for cell in column]
        cells = [
            np.nan if amount is not None else _number(cell, codes.decimal)
            for amount, cell in zip(coded, column.astype(object), strict=True)
        ]
        _note_text(column, np.array([cell is None for cell in cells]), what, codes, faults)
        values = np.array([np.nan if cell is None else cell for cell in cells], dtype=np.float64)
        meant = np.array([np.nan if amount is None else amount for amount in coded], dtype=np.float64)
    for code, amount in codes.amounts.items():
        if not isinstance(code, str):
            meant = np.where(values == code, amount, meant)
            values = np.where(values == code, np.nan, values)
    numeric = [code for code in codes.missing if not isinstance(code, str)]
    return Numbers(np.where(np.isin(values, numeric), np.nan, values) if numeric else values, meant)


def _note_text(
    column: pd.Series, bad: npt.NDArray[np.bool_], what: str, codes: Codes, faults: Faults
) -> None:
    """Note cells that are no number, and what they look like."""
    if not bad.any():
        return
    at = int(bad.argmax())
    mend = "correct the cell, leave it blank, or name the file's codes by missing_codes="
    if what.startswith("rain"):
        mend += f"; if it means a trace: trace={{{column.iloc[at]!r}: ...}}, in mm"
    other = "," if codes.decimal == "." else "."
    if _number(column.iloc[at], other) is not None:
        sign = "comma" if other == "," else "point"
        mend = f'if the decimal sign is a {sign}: layout=wb.TableLayout(decimal="{other}")'
        parted = [str(cell) for cell in column[bad]]
        if all(re.fullmatch(rf"\s*[+-]?\d{{1,3}}([{other}]\d{{3}})+\s*", cell) for cell in parted):
            mend = f"if the {sign} parts thousands, take it out; {mend}"
    sign = "comma" if codes.decimal == "," else "point"
    faults.add(
        what,
        "holds what is no number",
        where=f"{column.index.name} {column.index[at]}",
        value=repr(column.iloc[at]),
        count=int(bad.sum()),
        allowed=f"numbers with a decimal {sign}; blank where there is none",
        mend=mend,
    )


def _number(cell: object, decimal: str) -> float | None:
    """Read one cell; None when it is no number."""
    if isinstance(cell, str):
        text = cell.strip()
        if not text:
            return np.nan
        if decimal == ",":  # a point could only part thousands, and is refused
            text = "" if "." in text else text.replace(",", ".")
        return float(text) if _NUMBER.fullmatch(text) else None
    if cell is None or cell is pd.NA:
        return np.nan
    if isinstance(cell, numbers.Real | Decimal) and not isinstance(cell, bool | np.bool_):
        return float(cell)
    return None


def nearest(word: object, known: Iterable[object], cutoff: float = 0.6) -> list[str]:
    """Give up to three known names that are spelt much like a word, whatever the case."""
    names = {str(name).casefold(): str(name) for name in known}
    return [names[near] for near in difflib.get_close_matches(str(word).casefold(), names, cutoff=cutoff)]
