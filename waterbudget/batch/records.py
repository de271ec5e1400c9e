"""What is written down by field: rain of its own gauge, irrigation done, irrigation planned."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from waterbudget.batch.stations import Station
from waterbudget.batch.tables import Row, nearest
from waterbudget.errors import Faults

ByField = dict[str, Faults]
"""Faults by the name of the field that they stop; a name that is not in ``fields.csv`` gets its own."""


def by_name(rows: list[Row], file: str, order: tuple[str, ...], by_field: ByField) -> dict[str, list[Row]]:
    """Sort lines by the field that they name; a name that is not there is a fault of that name."""
    sorted_rows: dict[str, list[Row]] = {}
    for row in rows:
        sorted_rows.setdefault(row.text("field"), []).append(row)
    known = set(order)
    for name in [name for name in sorted_rows if name not in known]:
        lines = sorted_rows.pop(name)
        by_field.setdefault(name, Faults()).add(
            f"{file}, field {name!r}",
            "is not in fields.csv" if name else "is blank",
            where=f"line {lines[0].line}",
            count=len(lines),
            mend=nearest(name, list(order)) or "add the field, or delete the lines",
        )
    return sorted_rows


def read_gauges(rows: list[Row], order: tuple[str, ...], by_field: ByField) -> dict[str, pd.Series]:
    """Read ``rain.csv``: by field, the rain of its own gauge [mm] on the days listed."""
    gauges = {}
    for name, lines in by_name(rows, "rain.csv", order, by_field).items():
        noted = Faults()
        rain: dict[np.datetime64, float] = {}
        for row in lines:
            day, depth = dated(row, noted), row.number("rain", noted)
            if not row.text("rain"):
                noted.add(
                    "rain", "is blank", where=f"line {row.line}", mend="write 0 where the gauge was dry"
                )
            if day is not None and day in rain:
                noted.add("date", "stands twice for the field", where=f"line {row.line}", value=str(day)[:10])
            if day is not None and depth is not None:
                rain[day] = depth
        by_field[name].extend(tuple(noted), "rain.csv, ")
        gauges[name] = pd.Series(rain, dtype=np.float64)
    return gauges


def read_waterings(rows: list[Row], file: str, order: tuple[str, ...], by_field: ByField) -> pd.DataFrame:
    """Read ``irrigation.csv`` or ``planned.csv``.

    Returns
    -------
    DataFrame
        ``date``, ``field``, ``net_mm``, ``gross_mm``, ``purpose``.
    """
    found = []
    for name, lines in by_name(rows, file, order, by_field).items():
        noted = Faults()
        for row in lines:
            day = dated(row, noted)
            depths = {kind: row.number(kind, noted) for kind in ("net", "gross")}
            given = [kind for kind in depths if row.text(kind)]
            if len(given) != 1:
                noted.add(
                    "net, gross",
                    "both stand in the line" if given else "are both blank",
                    where=f"line {row.line}",
                    mend="give one depth a line",
                )
            for kind, depth in depths.items():
                if depth is not None and depth < 0:
                    noted.add(kind, "is negative", where=f"line {row.line}", value=f"{depth:g}")
            found.append((day, name, depths["net"], depths["gross"], row.text("purpose")))
        by_field[name].extend(tuple(noted), f"{file}, ")
    table = pd.DataFrame(found, columns=["date", "field", "net_mm", "gross_mm", "purpose"])
    return table.astype({"date": "datetime64[ns]", "net_mm": np.float64, "gross_mm": np.float64})


def up_to(
    today: np.datetime64 | None, record: pd.DataFrame, planned: pd.DataFrame
) -> tuple[pd.DataFrame, pd.DataFrame, tuple[str, ...]]:
    """Keep of the record what lies before the day of planning, and of the plan what does not.

    Parameters
    ----------
    today : datetime64 or None
        None keeps all.
    record, planned : DataFrame
        From `read_waterings`.

    Returns
    -------
    record, planned : DataFrame
    notes : tuple of str
        How many lines were left out, and why.
    """
    if today is None:
        return record, planned, ()
    day = str(today)[:10]
    later, over = record["date"] >= today, planned["date"] < today
    told = (
        ("irrigation.csv", later, f"dated {day} or later", "the week ahead is planned from that day"),
        ("planned.csv", over, f"dated before {day}", "what was applied belongs into irrigation.csv"),
    )
    notes = tuple(
        f"{file}: {out.sum()} line{'s' if out.sum() > 1 else ''} {which} left out, because {why}"
        for file, out, which, why in told
        if out.any()
    )
    return record[~later].reset_index(drop=True), planned[~over].reset_index(drop=True), notes


def dates_by_field(waterings: pd.DataFrame) -> dict[str, pd.DatetimeIndex]:
    """Give the dates of each field's waterings."""
    return {str(name): pd.DatetimeIndex(dates) for name, dates in waterings.groupby("field")["date"]}


def check_days(given: Mapping[str, pd.DatetimeIndex | None], station: Station, faults: Faults) -> None:
    """Note rain and irrigation on days that the weather does not have."""
    assert station.weather is not None  # a field is described only where its station can serve it
    days = pd.DatetimeIndex(station.weather["time"].values)
    for what, dates in given.items():
        if dates is None:
            continue
        outside = dates[dates.notna() & ~dates.isin(days)]
        if outside.size:
            faults.add(
                what,
                "lies outside the days of the station's weather",
                where=f"{outside[0]:%Y-%m-%d}",
                count=outside.size,
                allowed=f"{days[0]:%Y-%m-%d} to {days[-1]:%Y-%m-%d}",
                mend="correct the date, or delete the line",
            )


def check_plan(
    recorded: pd.DatetimeIndex | None,
    planned: pd.DatetimeIndex | None,
    today: np.datetime64 | None,
    faults: Faults,
) -> None:
    """Note planned waterings within a record that no day of planning ends."""
    if today is not None or recorded is None or planned is None:
        return
    within = planned[(planned >= recorded.min()) & (planned <= recorded.max())]
    if within.size:
        faults.add(
            "planned.csv, date",
            "lies within the record of the field",
            where=f"{within[0]:%Y-%m-%d}",
            count=within.size,
            allowed=f"before {recorded.min():%Y-%m-%d} or after {recorded.max():%Y-%m-%d}",
            mend="what was applied belongs into irrigation.csv; or say in farm.csv from which day to plan",
        )


def dated(row: Row, faults: Faults) -> np.datetime64 | None:
    """Give the date of a line that must have one."""
    if not row.text("date"):
        faults.add("date", "is blank", where=f"line {row.line}")
    return row.date("date", faults)
