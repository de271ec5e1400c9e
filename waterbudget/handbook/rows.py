"""What a row of a table says in numbers and in words: midpoints of printed ranges, and where they stand."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from waterbudget.handbook.tables import read


def crop_row(table: str, printed: str) -> pd.Series:
    """Give the row of a crop by its printed name."""
    frame = read(table)
    return frame[frame["crop"] == printed].iloc[0]


def middle(row: pd.Series, stem: str) -> float:
    """Give the midpoint of a printed range; rounding takes off the last bits of the mean, no digits."""
    return round((float(row[f"{stem}_low"]) + float(row[f"{stem}_high"])) / 2.0, 6)


def known(row: pd.Series, stem: str) -> float | None:
    """Give the midpoint as `middle` does, or None where nothing is printed."""
    return None if np.isnan(row[f"{stem}_low"]) else middle(row, stem)


def where(row: pd.Series) -> str:
    """Say in which table and row a value stands."""
    return f"{row['source']}, row {str(row['crop'] if 'crop' in row.index else row['name'])!r}"


def noted(row: pd.Series) -> str:
    """Repeat the note of a row."""
    return f"; noted there: {row['note']}" if row["note"] else ""


def source(row: pd.Series, stems: Mapping[str, str]) -> str:
    """Say where the values come from whose columns start with these stems; the labels name them."""
    return f"{where(row)}{_ranges(row, stems)}{noted(row)}"


def _ranges(row: pd.Series, stems: Mapping[str, str]) -> str:
    """Say which of the values that start with these stems are midpoints, and which are their group's."""
    said = []
    for stem, label in stems.items():
        low, high = row[f"{stem}_low"], row[f"{stem}_high"]
        if row.get(f"{stem}_from") == "group":
            said.append(f"{label} of its group")
        if low != high:
            said.append(f"{label} midpoint of {low:g} to {high:g}")
    return f": {', '.join(said)}" if said else ""
