"""Where a number stands in a table of classes: one with ``rating``, ``relation``, ``low`` and ``high``."""

from __future__ import annotations

from functools import cache
from math import inf
from typing import NamedTuple

from waterbudget.handbook.tables import read

_PER_UNIT = {"percent": 100.0, "fraction": 1.0}


class Rated(NamedTuple):
    """The rating of a value, the limits of that class in words, whether it is the best, and the source.

    ``rating`` is ``"between fair and good"`` where printed classes leave a gap, and empty where no class
    holds the value; ``limits`` is empty in both cases.
    """

    rating: str
    limits: str
    best: bool
    source: str


def rate(table: str, name: str, value: float) -> Rated:
    """Find the class of a value.

    Parameters
    ----------
    table : str
        A table of classes.
    name : str
        What is rated: its rows of that name.
    value : float
        A fraction [1]. NaN has no rating.

    Returns
    -------
    Rated
    """
    rows = _rows(table, name)
    shown = round(value * _PER_UNIT[rows[0].unit], 9)
    held = next((row for row in rows if row.holds(shown)), None)
    if held is None:
        return Rated(_between(rows, shown), "", False, rows[0].source)
    return Rated(held.rating, held.limits(), held is rows[0], held.source)


def _between(rows: tuple[_Row, ...], shown: float) -> str:
    """Name the classes on both sides of a gap; nothing where there are not two."""
    below = max((row for row in rows if row.high <= shown), key=lambda row: row.high, default=None)
    above = min((row for row in rows if row.low >= shown), key=lambda row: row.low, default=None)
    return "" if below is None or above is None else f"between {below.rating} and {above.rating}"


class _Row(NamedTuple):
    """One class, as the table has it; an open end is infinite."""

    rating: str
    relation: str
    low: float
    high: float
    unit: str
    source: str

    def holds(self, shown: float) -> bool:
        on_limit = self.relation == "range" and shown in (self.low, self.high)
        return self.low < shown < self.high or on_limit

    def limits(self) -> str:
        sign = " %" if self.unit == "percent" else ""
        limits = {"below": f"below {self.high:g}", "above": f"above {self.low:g}"}
        return f"{limits.get(self.relation, f'{self.low:g} to {self.high:g}')}{sign}"


@cache
def _rows(table: str, name: str) -> tuple[_Row, ...]:
    """Read the classes once: every can of every field is rated by them."""
    rows = read(table)
    rows = rows[rows["name"] == name].fillna({"low": -inf, "high": inf})
    return tuple(map(_Row._make, rows[list(_Row._fields)].itertuples(index=False)))
