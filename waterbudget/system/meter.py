"""From a water meter or hours of running to recorded irrigation."""

from __future__ import annotations

from typing import Any, Literal, NamedTuple, get_args

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.descriptions import GivenNumber, Number, number
from waterbudget.errors import Faults, brief, collect
from waterbudget.system.amounts import HOURS_PER_DAY, M3_PER_MM_HA
from waterbudget.tables import (
    Table,
    as_table,
    by_label,
    note_rows,
    one_column,
    read_labels,
    read_numbers,
    read_times,
    shown,
)
from waterbudget.units import convert

METERS = {
    "meter_m3": "m3",
    "meter_L": "L",
    "meter_gal": "gal",
    "meter_acre_ft": "acre-ft",
    "meter_acre_in": "acre-in",
}
"""Columns that may hold the count of a meter, and their unit."""
_DAY = pd.Timedelta(days=1)

Place = Literal["reading day", "evenly"]
MOST_OF_A_ROUND = 0.5
"""Part of its range that a meter which began again at 0 may have counted between two readings; more of it
speaks for a meter that was exchanged or misread. Common practice, no source."""


class _Span(NamedTuple):
    """What a meter counted from one reading to the next, and the days on which that can have been."""

    row: int
    after: pd.Timestamp
    until: pd.Timestamp
    passed: float

    @property
    def days(self) -> pd.DatetimeIndex:
        """Days after the earlier reading up to the later one; the day itself for two readings of one day."""
        return pd.date_range(min(self.after + _DAY, self.until), self.until)


def irrigation_from_meter(
    table: Table,
    area: GivenNumber,
    *,
    place: Place | pd.DataFrame,
    rolls_over_at: float | None = None,
) -> pd.DataFrame:
    """Make recorded irrigation from readings of a cumulative water meter.

    Parameters
    ----------
    table : DataFrame or list of mappings
        A row for each reading: ``date``, ``field`` where there are several, and the count of the meter in
        one of ``meter_m3``, ``meter_L``, ``meter_gal`` (US), ``meter_acre_ft``, ``meter_acre_in``. The first
        reading of a field is the start: what ran through before it is not counted.
    area : number, text with a unit, or Series or DataArray by field
        Irrigated area [ha], above 0.
    place : {"reading day", "evenly"} or DataFrame
        On which days the water between two readings fell, which the table cannot say: all of it on the day of
        the later reading; the same on each day after the earlier reading up to the later; or in proportion to
        the hours of a second table (``date``, ``field``, ``hours``). A day's reading is taken to come
        after that day's water; several of one day follow one another by the time of day that stands in
        ``date``, or else as in the table.
    rolls_over_at : float, optional
        Count at which the meter begins again at 0, in the unit of its column (a meter of six digits:
        1000000). Without it a count that falls is refused; with it, one that falls so little that the meter
        would have counted more than half its range between two readings.

    Returns
    -------
    DataFrame
        ``date``, ``field`` if the table has it, ``gross_mm`` and ``purpose`` (empty), in order of date, for
        ``simulate(irrigation=...)``. The day after a field's first reading has a row, of 0 mm where nothing
        fell on it: the record begins there.

    Raises
    ------
    InputError
        With every fault at once: unknown columns, dates or numbers that are missing, a single reading, a
        count that falls, hours outside the readings, water without hours or hours without water.

    Notes
    -----
    Arithmetic identity: 1 mm on 1 ha is 10 m3. When a meter was exchanged, give the readings of each meter
    as a table of their own and put the results one after the other.

    Examples
    --------
    >>> irrigation_from_meter(
    ...     [{"date": "2024-05-01", "meter_m3": 500}, {"date": "2024-05-08", "meter_m3": 2500}],
    ...     area=10.0,
    ...     place="reading day",
    ... )
    """
    with collect() as faults:
        areas = number(area, "area", faults)
        hours = _read_place(place, faults)
        added = 0.0 if rolls_over_at is None else _round(rolls_over_at, faults)
        meter = _read_meter(table, faults)
        if meter is None:
            return pd.DataFrame()  # never reached: a fault was noted
        frame, unit = meter
        mm_ha = convert(1.0, unit, "m3") / (M3_PER_MM_HA * by_field(areas, "area", frame, faults))
        if added:
            beyond, mend = frame["count"] >= added, "give the count at which the meter begins again at 0"
            mend += ": 1000000 for six digits"
            problem = "is not above every count of the meter"
            note_rows(faults, "rolls_over_at", problem, beyond, shown(frame["count"]), mend=mend)
        if hours is not None:
            unknown, mend = ~hours["field"].isin(frame["field"]), "leave it out"
            note_rows(faults, "place, field", "has no meter", unknown, shown(hours["field"]), mend=mend)
        rows: list[tuple[pd.Timestamp, Any, float]] = []
        for field, own in by_label(frame, "field"):
            spans = _spans(own, added, faults)
            if hours is not None:
                placed = _by_hours(spans, hours[hours["field"] == field], faults)
            else:
                placed = [each for span in spans for each in _placed(span, str(place))]
            if spans and spans[0].days[0] not in {day for day, _ in placed}:
                placed.insert(0, (spans[0].days[0], 0.0))
            rows += [(day, field, passed * mm_ha[own.index[0]]) for day, passed in placed]
    return _record(rows, frame)


def irrigation_from_hours(table: Table, flow: GivenNumber, area: GivenNumber) -> pd.DataFrame:
    """Make recorded irrigation from the hours that a system ran.

    Parameters
    ----------
    table : DataFrame or list of mappings
        ``date``, ``field`` where there are several, and ``hours`` of that day [h], 0 or more. Rows of one
        field and day add up, to 24 at most.
    flow : number, text with a unit, or Series or DataArray by field
        Flow of the field's system [m3 h-1], above 0.
    area : number, text with a unit, or Series or DataArray by field
        Irrigated area [ha], above 0.

    Returns
    -------
    DataFrame
        ``date``, ``field`` if the table has it, ``gross_mm`` and ``purpose`` (empty), a row for each row
        given, in order of date, for ``simulate(irrigation=...)``.

    Raises
    ------
    InputError
        With every fault at once.

    Notes
    -----
    Arithmetic identity: ``gross = flow hours / (10 area)``.

    Examples
    --------
    >>> irrigation_from_hours([{"date": "2024-05-08", "hours": 10}], flow="300 gpm", area="20 acres")
    """
    with collect() as faults:
        flows, areas = number(flow, "flow", faults), number(area, "area", faults)
        frame = _read_hours(table, "hours", faults)
        if frame is None:
            return pd.DataFrame()  # never reached: a fault was noted
        gross = by_field(flows, "flow", frame, faults) * frame["hours"]
        gross /= by_field(areas, "area", frame, faults) * M3_PER_MM_HA
    return _record(list(zip(frame["date"], frame["field"], gross, strict=True)), frame)


def _record(rows: list[tuple[pd.Timestamp, Any, float]], frame: pd.DataFrame) -> pd.DataFrame:
    """Lay depths out as a record of irrigation, by field where the table has fields."""
    record = pd.DataFrame(rows, columns=["date", "field", "gross_mm"]).assign(purpose="")
    record = record.sort_values("date", kind="stable", ignore_index=True)
    return record.drop(columns="field") if (frame["field"] == "").all() else record


# -------------------------------------------------------------------------- the water of a meter
def _read_meter(table: Any, faults: Faults) -> tuple[pd.DataFrame, str] | None:
    """Read a table of counts, and the unit of its meter; None where it is at fault."""
    own, column = Faults(), None
    frame = as_table(table, "meter", ("date",), ("field", *METERS), own)
    if frame is not None:
        times, labels = read_times(frame, "meter", own), read_labels(frame, "field", "meter", own)
        column = one_column(frame, METERS, "meter", own)
        if column is not None:
            count = read_numbers(frame, column, "meter", own)
    faults.extend(tuple(own))
    if own or column is None:
        return None
    known = {"time": times, "date": times.dt.normalize(), "field": labels, "count": count}
    return pd.DataFrame(known), METERS[column]


def _round(at: Any, faults: Faults) -> float:
    """Check the count at which a meter begins again; 0 where a fault was noted."""
    sound = isinstance(at, int | float | np.integer | np.floating) and not isinstance(at, bool)
    if not sound or not np.isfinite(at) or at <= 0:
        allowed = "a number above 0, in the unit of the meter's column"
        faults.add("rolls_over_at", "is not a count", value=repr(at), allowed=allowed)
        return 0.0
    return float(at)


def _spans(own: pd.DataFrame, added: float, faults: Faults) -> list[_Span]:
    """Take the differences from each reading of a field to the next, in the unit of the meter.

    Where the count falls, ``added`` is what the meter can count before it begins again.
    """
    dates, count = own["date"], own["count"]
    if len(own) < 2:
        problem, mend = (
            "has a single reading of a field, and no difference",
            "give the reading at the start as well",
        )
        faults.add("meter", problem, where=f"row {own.index[0]}", mend=mend)
        return []
    rows = own.index[1:]
    fallen = (count.diff() < 0)[rows]
    passed = count.diff()[rows] + added * fallen
    if added:
        problem = "would have counted most of a round when it began again at 0"
        bad, allowed = (
            passed.where(fallen, 0.0) > MOST_OF_A_ROUND * added,
            f"at most {MOST_OF_A_ROUND * added:.10g}",
        )
        mend = "correct the reading"
    else:
        problem, bad, allowed = "falls from one reading to the next", fallen, ""
        mend = "correct it; if the meter began again at 0, give rolls_over_at"
    note_rows(
        faults,
        "meter",
        problem,
        bad,
        lambda row: f"{count[row]:.10g} on {dates[row]:%Y-%m-%d}, {-count.diff()[row]:.10g} less than before",
        allowed=allowed,
        mend=f"{mend}; if it was exchanged, give the readings of each meter as a table of their own",
    )
    befores = dates.iloc[:-1]
    return [_Span(row, before, dates[row], passed[row]) for row, before in zip(rows, befores, strict=True)]


def _placed(span: _Span, place: str) -> list[tuple[pd.Timestamp, float]]:
    """Place a span's water on days: on its last one, or evenly."""
    if place == "reading day":
        return [(span.until, span.passed)]
    return [(day, span.passed / len(span.days)) for day in span.days]


def _by_hours(spans: list[_Span], hours: pd.DataFrame, faults: Faults) -> list[tuple[pd.Timestamp, float]]:
    """Share each span's water out by the hours of its days; note hours and water that do not meet."""
    placed = []
    left = pd.Series(True, index=hours.index)
    for span in spans:
        own = hours[hours["date"].isin(span.days)]
        left[own.index] = False
        total = float(own["hours"].sum())
        if (total > 0) != (span.passed > 0):
            faults.add(
                "meter" if total > 0 else "place, hours",
                "stands still, though hours were run" if total > 0 else "are none where the meter ran",
                where=f"{span.days[0]:%Y-%m-%d} to {span.until:%Y-%m-%d} (row {span.row} of the meter)",
                value=f"{total:g} h",
                mend="correct the hours or the reading, or leave the reading out",
            )
        elif total > 0:
            placed += [
                (day, span.passed * h / total) for day, h in zip(own["date"], own["hours"], strict=True)
            ]
    note_rows(
        faults,
        "place, hours",
        "fall outside the readings of the meter",
        left,
        shown(hours["date"]),
        allowed="dates after a field's first reading up to its last",
        mend="leave these rows out",
    )
    return placed


def _read_place(place: Any, faults: Faults) -> pd.DataFrame | None:
    """Read the hours that say where the water fell; None where a word says it, or a fault was noted."""
    if isinstance(place, pd.DataFrame):
        return _read_hours(place, "place", faults)
    if not isinstance(place, str) or place not in get_args(Place):
        allowed = ", ".join((*get_args(Place), "or a table of hours"))
        faults.add("place", "is not known", value=brief(place), allowed=allowed)
    return None


def _read_hours(table: Any, what: str, faults: Faults) -> pd.DataFrame | None:
    """Read a table of hours, None where it is at fault; no field can run more than 24 on a day."""
    own = Faults()
    given = as_table(table, what, ("date", "hours"), ("field",), own)
    if given is not None:
        frame = pd.DataFrame(
            {
                "date": read_times(given, what, own).dt.normalize(),
                "field": read_labels(given, "field", what, own),
                "hours": read_numbers(given, "hours", what, own),
            }
        )
    if not own:
        of_day = frame.groupby(["date", "field"])["hours"].transform("sum")
        problem, mend = (
            "of one field and day are too many",
            "write the hours of a night on the days they were run",
        )
        too_many = of_day > HOURS_PER_DAY
        note_rows(own, f"{what}, hours", problem, too_many, shown(of_day), allowed="at most 24", mend=mend)
    faults.extend(tuple(own))
    return None if own else frame


def by_field(result: Number, name: str, frame: pd.DataFrame, faults: Faults) -> pd.Series[float]:
    """Give each row of a table its field's number.

    Parameters
    ----------
    result : float or DataArray
        One number, or one by ``field``.
    name : str
        Its row in the variables table.
    frame : DataFrame
        With the column ``field``.
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    Series of float
        On the rows of the table; NaN where a fault was noted.
    """
    if not isinstance(result, xr.DataArray):
        return pd.Series(result, index=frame.index)
    if result.dims != ("field",) or "field" not in result.coords:
        allowed = "one number, or one for each field by its name"
        faults.add(name, "is on other dimensions", value=", ".join(map(str, result.dims)), allowed=allowed)
        return pd.Series(np.nan, index=frame.index)
    numbers = result.to_series()
    if not numbers.index.is_unique:
        faults.add(name, "has a field twice", value=str(numbers.index[numbers.index.duplicated()][0]))
        return pd.Series(np.nan, index=frame.index)
    found = frame["field"].map(numbers)
    mend = "give it for every field, and name the fields alike"
    note_rows(faults, name, "is not given for a field", found.isna(), shown(frame["field"]), mend=mend)
    return found
