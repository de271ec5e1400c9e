"""Readings of flow and pressure of a farm folder: by zone, beside those of when it was known to be good."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from waterbudget.batch.cells import faults_of, yes_no
from waterbudget.batch.records import dated
from waterbudget.batch.tables import Row
from waterbudget.errors import Fault, Faults
from waterbudget.system.readings import detectable_change, find_faults

_FILE = "readings.csv"


class Zones(NamedTuple):
    """What the readings of all zones say.

    Attributes
    ----------
    findings : DataFrame
        `find_faults` of every zone that could be judged, in the order of the file.
    faults : tuple of Fault
        What keeps a zone from being judged.
    notes : tuple of str
        Which zones have not changed, and what was left out.
    """

    findings: pd.DataFrame
    faults: tuple[Fault, ...]
    notes: tuple[str, ...]


def read_readings(rows: list[Row], today: np.datetime64 | None) -> Zones:
    """Read ``readings.csv``, and find what has changed.

    Parameters
    ----------
    rows : list of Row
    today : datetime64 or None
        Later readings are left out.

    Returns
    -------
    Zones
    """
    lines: dict[str, list[Row]] = {}
    for row in rows:
        lines.setdefault(row.text("zone"), []).append(row)
    faults, tables, same, later = Faults(), [], [], 0
    for zone, own in lines.items():
        noted = Faults()
        table = _table(own, zone, noted)
        if today is not None:
            later += int((table["date"] > today).sum())
            table = table[~(table["date"] > today)]
        judged = None if noted else _judged(table, noted)
        faults.extend(tuple(noted), f"{_FILE}, zone {zone!r}, ")
        if judged is None:
            continue
        found, detectable = judged
        tables.append(found)
        if found.empty:
            same.append(f"{zone} ({_worth(detectable)})")
    notes = [f"{_FILE}: nothing found in {', '.join(same)}"] if same else []
    if later:
        notes.append(
            f"{_FILE}: {later} line{'s' if later > 1 else ''} dated after {str(today)[:10]} left out"
        )
    filled = [table for table in tables if len(table)] or tables[:1]
    findings = pd.concat(filled, ignore_index=True) if filled else pd.DataFrame()
    return Zones(findings, tuple(faults), tuple(notes))


def _table(rows: list[Row], zone: str, faults: Faults) -> pd.DataFrame:
    """Lay a zone's lines out as the table that is judged, by the numbers of the lines."""
    if not zone:
        faults.add("zone", "is blank", where=f"line {rows[0].line}", count=len(rows), mend="name it")
    found = [
        (
            dated(row, faults),
            zone,
            row.number("flow", faults),
            row.number("pressure", faults),
            bool(yes_no(row, "baseline", faults)),
        )
        for row in rows
    ]
    columns = ["date", "zone", "flow_m3_per_h", "pressure_kPa", "baseline"]
    table = pd.DataFrame(found, columns=columns, index=[row.line for row in rows])
    if not table["baseline"].any():
        faults.add(
            "baseline",
            "is missing",
            where=f"line {rows[0].line}",
            mend="write yes beside the readings of when the zone was known to be good",
        )
    return table.astype({"date": "datetime64[ns]", "flow_m3_per_h": np.float64, "pressure_kPa": np.float64})


def _worth(detectable: pd.DataFrame) -> str:
    """Say what it is worth that nothing was found, by the quantity that tells outlets from supply."""
    one = detectable.iloc[0]  # the conductance, where flow and pressure were both read
    quantity = "flow at the same pressure" if one["quantity"] == "conductance" else one["quantity"]
    return (
        f"{one['readings']} readings would have shown half of all changes of {one['rise_percent']:.0f} % "
        f"in {quantity}"
    )


def _judged(table: pd.DataFrame, faults: Faults) -> tuple[pd.DataFrame, pd.DataFrame] | None:
    """Give a zone's findings and how small a change could have been found, by its table.

    None where it cannot be judged (noted), or has nothing but its baseline.
    """
    good = table["baseline"]
    baseline, readings = (table[which].drop(columns="baseline") for which in (good, ~good))
    if readings.empty:
        return None
    try:
        return find_faults(readings, baseline), detectable_change(readings, baseline)
    except Exception as error:
        # any error at all: a defect met by one zone must not lose the fields' results
        lines = {"baseline": baseline.index, "readings": readings.index}
        faults.extend(tuple(_by_line(fault, lines) for fault in faults_of(error, "change detection")))
        return None


def _by_line(fault: Fault, lines: Mapping[str, pd.Index[Any]]) -> Fault:
    """Name the line of a fault in place of the row of its table."""
    row = re.fullmatch(r"row (\d+)", fault.where)
    table = fault.what.partition(",")[0]
    if row is None or table not in lines:
        return fault
    return dataclasses.replace(fault, where=f"line {lines[table][int(row[1]) - 1]}")
