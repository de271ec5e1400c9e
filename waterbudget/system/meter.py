"""From a water meter or hours of running to recorded irrigation, and how such tables are read."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, Literal, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.descriptions import GivenNumber, number, read_dates
from waterbudget.errors import Faults, collect
from waterbudget.system.amounts import M3_PER_MM_HA
from waterbudget.units import convert

METERS = {
    "meter_m3": "m3",
    "meter_L": "L",
    "meter_gal": "gal",
    "meter_acre_ft": "acre-ft",
    "meter_acre_in": "acre-in",
}
"""Columns that may hold the count of a meter, and their unit."""
HOURS_PER_DAY = 24.0
_DAY = pd.Timedelta(days=1)

Place = Literal["reading day", "evenly"]
Table = pd.DataFrame | list[Mapping[str, Any]]


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
        after that day's water.
    rolls_over_at : float, optional
        Count at which the meter begins again at 0, in the unit of its column (a meter of six digits:
        1000000). Without it a count that falls is refused.

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
        by_hours = isinstance(place, pd.DataFrame)
        if not by_hours and place not in ("reading day", "evenly"):
            allowed = "reading day, evenly, or a table of hours"
            faults.add("place", "is not known", value=repr(place), allowed=allowed)
        hours = _read_hours(place, faults, "place") if by_hours else None
        frame = read_table(table, "meter", "field", tuple(METERS), faults)
        column = None if frame is None else one_column(frame, METERS, "meter", faults)
        if frame is None or column is None:
            return pd.DataFrame()  # never reached: a fault was noted
        count = read_column(frame, column, "meter", faults)
        mm_ha = convert(1.0, METERS[column], "m3") / (M3_PER_MM_HA * by_field(area, "area", frame, faults))
        added = 0.0 if rolls_over_at is None else _roll_over(rolls_over_at, count, faults)
        if count.isna().any() or (by_hours and hours is None):
            return pd.DataFrame()  # never reached: a fault was noted
        if hours is not None:
            unknown = ~hours["field"].isin(frame["field"])
            note_rows(faults, "place, field", "has no meter", unknown, hours["field"], mend="leave it out")
        rows: list[tuple[pd.Timestamp, Any, float]] = []
        for field, own in frame.sort_values("date", kind="stable").groupby("field", sort=False):
            spans = _spans(own["date"], count, added, faults)
            if hours is None:
                placed = [each for span in spans for each in _placed(span, str(place))]
            else:
                placed = _by_hours(spans, hours[hours["field"] == field], faults)
            if spans and spans[0].days[0] not in {day for day, _ in placed}:
                placed.insert(0, (spans[0].days[0], 0.0))
            rows += [(day, field, passed * mm_ha[own.index[0]]) for day, passed in placed]
    return _record(rows, "field" in as_frame(table))


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
        frame = _read_hours(table, faults)
        if frame is None:
            return pd.DataFrame()  # never reached: a fault was noted
        flows, areas = by_field(flow, "flow", frame, faults), by_field(area, "area", frame, faults)
    gross = flows * frame["hours"] / (areas * M3_PER_MM_HA)
    return _record(list(zip(frame["date"], frame["field"], gross, strict=True)), "field" in as_frame(table))


def _record(rows: list[tuple[pd.Timestamp, Any, float]], fields: bool) -> pd.DataFrame:
    """Lay depths out as a record of irrigation."""
    record = pd.DataFrame(rows, columns=["date", "field", "gross_mm"]).assign(purpose="")
    record = record.sort_values("date", kind="stable", ignore_index=True)
    return record if fields else record.drop(columns="field")


# -------------------------------------------------------------------------- the water of a meter
def _roll_over(at: Any, count: pd.Series[float], faults: Faults) -> float:
    """Check the count at which a meter begins again; 0 where a fault was noted."""
    what = "rolls_over_at"
    if isinstance(at, bool) or not isinstance(at, int | float) or not np.isfinite(at) or at <= 0:
        allowed = "a number above 0, in the unit of the meter's column"
        faults.add(what, "is not a count", value=repr(at), allowed=allowed)
        return 0.0
    mend = "give the count at which the meter begins again at 0: 1000000 for six digits"
    note_rows(faults, what, "is not above every count of the meter", count.ge(float(at)), count, mend=mend)
    return float(at)


def _spans(
    dates: pd.Series[pd.Timestamp], count: pd.Series[float], added: float, faults: Faults
) -> list[_Span]:
    """Take the differences from each reading of a field to the next, in the unit of the meter.

    Where the count falls, ``added`` is what the meter can count before it begins again.
    """
    if len(dates) < 2:
        faults.add(
            "meter",
            "has a single reading of a field, and no difference",
            where=f"row {dates.index[0]}",
            mend="give the reading at the start as well",
        )
    spans = []
    for before, row in zip(dates.index[:-1], dates.index[1:], strict=True):
        passed = count[row] - count[before]
        spans.append(_Span(row, dates[before], dates[row], passed + added * float(passed < 0)))
    fallen = [span for span in spans if span.passed < 0]
    if fallen:
        first = fallen[0]
        faults.add(
            "meter",
            "falls from one reading to the next",
            where=f"row {first.row}",
            value=f"{count[first.row]:.10g} on {first.until:%Y-%m-%d}, {-first.passed:.10g} less than before",
            count=len(fallen),
            mend="correct it; if the meter began again at 0, give rolls_over_at; if it was exchanged, give "
            "the readings of each meter as a table of their own",
        )
    return spans


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
        hours["date"],
        allowed="dates after a field's first reading up to its last",
        mend="leave these rows out",
    )
    return placed


def _read_hours(table: Any, faults: Faults, what: str = "hours") -> pd.DataFrame | None:
    """Read a table of hours; no field can run more than 24 on a day."""
    frame = read_table(table, what, "field", ("hours",), faults)
    if frame is None:
        return None
    if "hours" not in frame:
        faults.add(what, "has no column hours")
        return None
    frame["hours"] = read_column(frame, "hours", what, faults)
    of_day = frame.groupby(["date", "field"])["hours"].transform("sum")
    note_rows(
        faults,
        "hours",
        "of one field and day are too many",
        of_day > HOURS_PER_DAY,
        of_day,
        allowed="at most 24",
        mend="write the hours of a night on the days they were run",
    )
    return frame


def by_field(value: Any, name: str, frame: pd.DataFrame, faults: Faults) -> pd.Series[float]:
    """Give each row of a table its field's number.

    Parameters
    ----------
    value : GivenNumber
        One number, or one by ``field``.
    name : str
        Its row in the variables table.
    frame : DataFrame
        From `read_table`.
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    Series of float
        On the rows of the table; NaN where a fault was noted.
    """
    result = number(value, name, faults)
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
    note_rows(faults, name, "is not given for a field", found.isna(), frame["field"], mend=mend)
    return found


# ------------------------------------------------------------------------------- reading tables
def as_frame(table: Any) -> pd.DataFrame:
    """Take a DataFrame as it is, and a list of mappings as one; anything else is an empty one."""
    rows = isinstance(table, list | tuple) and all(isinstance(row, Mapping) for row in table)
    return pd.DataFrame(table) if rows or isinstance(table, pd.DataFrame) else pd.DataFrame()


def read_table(
    table: Any, what: str, label: str, columns: Collection[str], faults: Faults
) -> pd.DataFrame | None:
    """Read the dates and labels of a table whose rows are numbered from 1.

    Parameters
    ----------
    table : DataFrame or list of mappings
    what : str
        What to call it in a message.
    label : str
        Column that names what a row belongs to; filled with ``""`` where the table has none.
    columns : collection of str
        Further columns it may have; any other is refused.
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    DataFrame or None
        A new one, its dates at midnight; None where its columns, dates or labels are at fault.
    """
    frame = as_frame(table)
    allowed = ("date", label, *columns)
    own = Faults()
    if frame.empty:
        found = f"{type(table).__name__} of {len(frame)} rows"
        own.add(what, "is not a table with rows", value=found, allowed="a DataFrame, or a list of mappings")
    elif "date" not in frame:
        own.add(what, "has no column date")
    for name in [name for name in frame if name not in allowed]:
        own.add(f"{what}, column {name!r}", "is unknown", allowed=", ".join(allowed))
    for name in frame.columns[frame.columns.duplicated()]:
        own.add(f"{what}, column {name!r}", "stands twice")
    faults.extend(tuple(own))
    if own:
        return None
    frame = frame.set_axis(pd.RangeIndex(1, len(frame) + 1), axis=0)
    dates = [read_dates(np.asarray([value], dtype=object)) for value in frame["date"]]
    bad = [date is None or date.tz is not None or bool(date.isna()[0]) for date in dates]
    note_rows(
        own,
        f"{what}, date",
        "is missing, or no date",
        pd.Series(bad, index=frame.index),
        frame["date"],
        allowed="year-month-day, without a time zone",
    )
    if label not in frame:
        frame = frame.assign(**{label: ""})
    blank = frame[label].isna() | (frame[label].astype(str).str.strip() == "")
    if label in as_frame(table):
        note_rows(own, f"{what}, {label}", "is missing", blank, frame[label], mend="name it in every row")
    faults.extend(tuple(own))
    if own:
        return None
    return frame.assign(date=[date.normalize()[0] for date in dates if date is not None])


def one_column(frame: pd.DataFrame, columns: Collection[str], what: str, faults: Faults) -> str | None:
    """Find which one of several columns a table has; None, and a fault, where it is not one."""
    found = [name for name in columns if name in frame]
    if len(found) != 1:
        faults.add(what, "needs one column", value=", ".join(found) or "none", allowed=" or ".join(columns))
        return None
    return found[0]


def read_column(
    frame: pd.DataFrame, column: str, what: str, faults: Faults, *, blank: bool = False
) -> pd.Series[float]:
    """Read a column of numbers of 0 or more.

    Parameters
    ----------
    frame : DataFrame
        From `read_table`.
    column : str
    what : str
        What to call the table in a message.
    faults : Faults
        Takes what is wrong.
    blank : bool
        Allow a row without a number.

    Returns
    -------
    Series of float
        NaN where blank, or where a fault was noted.
    """
    given = frame[column]
    values = pd.to_numeric(given, errors="coerce").astype(np.float64)
    odd = given.map(lambda one: isinstance(one, bool | np.bool_)).astype(bool)
    bad = odd | ~(values >= 0) | np.isinf(values)
    if blank:
        bad &= given.notna()
    problem = "is not a number of 0 or more" if blank else "is missing, or not a number of 0 or more"
    note_rows(faults, f"{what}, {column}", problem, bad, given, mend="correct the value")
    return values.mask(bad)


def note_rows(
    faults: Faults,
    what: str,
    problem: str,
    bad: pd.Series[bool],
    values: pd.Series[Any],
    *,
    allowed: str = "",
    mend: str = "",
) -> None:
    """Note a fault of some rows: how many, the first, and the value that stands there.

    Parameters
    ----------
    faults : Faults
        Takes the fault, when any row is marked.
    what, problem, allowed, mend : str
        As in `Fault`.
    bad : Series of bool
        Marks the rows at fault; its index holds their numbers.
    values : Series
        What stands in the rows.
    """
    rows = bad.index[bad.to_numpy(dtype=bool)]
    if not len(rows):
        return
    value = values[rows[0]]
    faults.add(
        what,
        problem,
        where=f"row {rows[0]}",
        value=repr(value) if isinstance(value, str) else f"{value}",
        count=len(rows),
        allowed=allowed,
        mend=mend,
    )
