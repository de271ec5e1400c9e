"""Tests with catch cans of a farm folder, and what they say of each field."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping
from typing import Any, NamedTuple

import pandas as pd

from waterbudget.batch.cells import made
from waterbudget.batch.records import ByField, by_name
from waterbudget.batch.tables import Row
from waterbudget.errors import Fault, Faults
from waterbudget.report.frames import UnitSystem
from waterbudget.system.catch_cans import CatchCans

_FILE = "cans.csv"
_OF_ALL = ("can_diameter", "duration")
"""Numbers that a test has once: in its first line, or the same in each."""


class CanTest(NamedTuple):
    """A test with catch cans, None where it is at fault, and the names of the cans in its order."""

    cans: CatchCans | None
    names: tuple[str, ...]


def read_cans(rows: list[Row], order: tuple[str, ...], by_field: ByField) -> dict[str, CanTest]:
    """Read ``cans.csv``.

    Parameters
    ----------
    rows : list of Row
    order : tuple of str
        The fields of the folder.
    by_field : dict of str to Faults
        Takes what is wrong, by field.

    Returns
    -------
    dict of str to CanTest
        By field.
    """
    found = {}
    for name, lines in by_name(rows, _FILE, order, by_field).items():
        noted = Faults()
        found[name] = _test(lines, noted)
        by_field[name].extend(tuple(noted), f"{_FILE}, ")
    return found


def _test(rows: list[Row], faults: Faults) -> CanTest:
    """Describe one test by its lines."""
    noted = Faults()
    names = _names(rows, noted)
    given: dict[str, Any] = {}
    for column, argument in (("depth", "depths"), ("volume", "volumes"), ("distance", "distance")):
        if any(row.text(column) for row in rows):
            given[argument] = [row.number(column, noted) for row in rows]
    for column in _OF_ALL:
        value = _once(rows, column, noted)
        if value is not None:
            given[column] = value
    given["note"] = [row.text("note") or None for row in rows]
    test = None if noted else made(lambda: CatchCans(**given), "catch cans", noted)
    faults.extend(tuple(_by_line(fault, rows) for fault in noted))
    return CanTest(test, names)


def _names(rows: list[Row], faults: Faults) -> tuple[str, ...]:
    """Give the names of the cans; a can that is blank or stands twice is a fault."""
    seen: dict[str, int] = {}
    for row in rows:
        name = row.text("can")
        if not name:
            faults.add("can", "is blank", where=f"line {row.line}", mend="number the cans")
        elif name in seen:
            faults.add(
                f"can {name!r}",
                "stands twice for the field",
                where=f"line {row.line}; first on line {seen[name]}",
                mend="give each can its own name, or delete one line",
            )
        seen.setdefault(name, row.line)
    return tuple(row.text("can") for row in rows)


def _once(rows: list[Row], column: str, faults: Faults) -> float | None:
    """Give a number that a test has once; None where no line has it."""
    found = [(row.line, value) for row in rows if (value := row.number(column, faults)) is not None]
    other = [(line, value) for line, value in found if value != found[0][1]]
    if other:
        faults.add(
            column,
            "is not the same in all lines of the field",
            where=f"line {other[0][0]}",
            count=len(other),
            mend="a test has one: give it in the first line",
        )
    return found[0][1] if found else None


def _by_line(fault: Fault, rows: list[Row]) -> Fault:
    """Name the line of a fault in place of the number of the can."""
    can = re.fullmatch(r"can (\d+)", fault.where)
    where = f"line {rows[int(can[1]) - 1].line}" if can else fault.where or f"line {rows[0].line}"
    return dataclasses.replace(fault, where=where)


def uniformity(tests: Mapping[str, CanTest], units: UnitSystem) -> pd.DataFrame:
    """Tabulate the statistics of all sound tests, each with its confidence interval.

    Parameters
    ----------
    tests : mapping of str to CanTest
    units : {"metric", "us"}

    Returns
    -------
    DataFrame
        ``field`` and the columns of `CatchCans.summary`.
    """
    return _below({name: test.cans.summary(units) for name, test in tests.items() if test.cans is not None})


def can_findings(tests: Mapping[str, CanTest], units: UnitSystem = "metric") -> pd.DataFrame:
    """List what is worth a look in all sound tests.

    Parameters
    ----------
    tests : mapping of str to CanTest
    units : {"metric", "us"}
        Of the trade's reading. The column ``depth_mm`` is in mm here; `run_farm` brings it to the units
        wanted, as it does other tables.

    Returns
    -------
    DataFrame
        ``field``, ``can`` (as named in the file; blank for the whole test), ``depth_mm``, ``finding`` and
        ``why``: for each field the trade's reading, then `CatchCans.findings`.
    """
    tables = {}
    for name, (cans, names) in tests.items():
        if cans is None:
            continue
        found = cans.findings()
        found["can"] = ["" if pd.isna(place) else names[place - 1] for place in found["can"]]
        reading = pd.DataFrame(
            {
                "can": [""],
                "depth_mm": [cans.mean],
                "finding": ["the trade's reading"],
                "why": [cans.reading(units)],
            }
        )
        tables[name] = pd.concat([reading, found], ignore_index=True)
    return _below(tables)


def _below(tables: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Put the fields' tables below one another, each with its field in front."""
    if not tables:
        return pd.DataFrame({"field": []}, dtype=object)
    return pd.concat(tables, names=["field"]).reset_index(level="field").reset_index(drop=True)
