"""Dates and times of a table, read without a guess.

The order of day and month is never taken from the numbers: dates are year-month-day, or in the format
that the user states. A column that is neither is refused, with what its own cells say about the order.
"""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import numpy.typing as npt
import pandas as pd

from waterbudget.errors import Fault, Faults
from waterbudget.weather.calendar_faults import exchanged_days

_ISO = re.compile(
    r"(?P<day>\d{4}([-/])\d{2}\2\d{2})"
    r"(?P<clock>[T ]\d{2}:\d{2}(:\d{2}(\.\d+)?)?)?"
    r"(?P<zone> ?(Z|[+-]\d{2}:?\d{2}))?",
    re.ASCII,
)
_NUMBERS = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d{2})(?P<rest>\D.*)?", re.ASCII)
_MIDNIGHT = re.compile(
    r"\d{4}([-/])\d{2}\1\d{2}[T ](?P<hour>24)(:00){0,2}(\.0+)?( ?(Z|[+-]\d{2}:?\d{2}))?", re.ASCII
)
"""A stamp written year-month-day at hour 24: the midnight by the day that ends."""

_FIGURES = {"Y": 4, "d": 2, "m": 2, "y": 2, "H": 2, "M": 2, "S": 2, "j": 3}
"""Most figures that a code of ``strptime`` reads."""

_SERIAL = re.compile(r"[1-9]\d{4}(\.\d+)?", re.ASCII)
_YEAR_FIRST = re.compile(r"\d{4}-\d{1,2}-\d{1,2}([T ]\d{1,2})?", re.ASCII)

_MONTHS = 12


_OF_DISORDER = (
    "misses days",
    "has days that stand more than once",
    "has stamps that stand more than once",
)
"""What is wrong with days only because day and month were taken for each other."""


def read_stamps(
    column: pd.Series, date_format: str | None, stamp: str | None, faults: Faults
) -> pd.DatetimeIndex | None:
    """Read the dates, or dates and times, of a column.

    Parameters
    ----------
    column : Series
        Dates, or text such as ``2024-07-03``, ``2024/07/03`` or ``2024-07-03 14:00``.
    date_format : str, optional
        How text is written, by the codes of ``strptime``; None for year-month-day.
    stamp : {"start", "end"}, optional
        Of steps shorter than a day what their stamps are. Then a time zone is allowed, and of an end hour
        24 is midnight.
    faults : Faults
        Anything else is noted here.

    Returns
    -------
    DatetimeIndex or None
        In UTC where the column has a time zone. None when a cell is no date. What kind of days they
        are is not checked here.
    """
    if isinstance(column.dtype, np.dtype | pd.DatetimeTZDtype) and column.dtype.kind == "M":
        return pd.DatetimeIndex(column).as_unit("ns")
    steps = stamp is not None
    cells = pd.Series([text_of(cell) for cell in column], dtype=object)
    blank = (cells == "").to_numpy(dtype=bool)
    late = np.zeros(len(cells), dtype=bool)
    if steps:
        late = _at_hour_24(cells, date_format)
        if stamp == "start" and late.any():
            faults.add(
                f"date column {column.name!r}",
                "has hour 24, at which no step begins",
                where=f"{column.index.name} {column.index[int(late.argmax())]}",
                value=repr(column.iloc[int(late.argmax())]),
                count=int(late.sum()),
                mend='wb.SubDaily(stamp="end"), if hours are counted from 1 to 24',
            )
        pattern = _midnight_of(date_format)
        cells = cells.where(~late, cells.map(lambda cell: _at_nought(cell, pattern)))
    if date_format is None:
        zones = _zones(cells)
        if zones and not steps:
            faults.add(
                f"date column {column.name!r}",
                "has a time zone",
                value=zones[0],
                count=len(zones),
                allowed="local dates without a time zone",
                mend="write the local date alone; of steps shorter than a day: "
                "sub_daily=wb.SubDaily(stamp=..., utc_offset=...)",
            )
        index = _year_first(cells, bool(zones) and steps)
    else:
        zoned = "%z" in date_format
        try:
            read = pd.to_datetime(cells.where(~blank), format=date_format, errors="coerce", utc=zoned)
        except ValueError as error:  # of a code that strptime does not know
            faults.add("date_format", "cannot be used", value=repr(date_format), allowed=str(error))
            return None
        index = pd.DatetimeIndex(read)
    index = index.as_unit("ns") + pd.to_timedelta(np.where(late, 1, 0), unit="D")
    # A blank cell is a row without a date, which the check of the time axis reports.
    bad = np.asarray(index.isna()) & ~blank
    if bad.any():
        at = int(bad.argmax())
        shown = f'"{date_format}"' if date_format else "year-month-day: 2024-07-03 or 2024/07/03"
        problem, mend = _question(cells[bad].tolist(), date_format, bool((~bad & ~blank).any()))
        faults.add(
            f"date column {column.name!r}",
            problem,
            where=f"{column.index.name} {column.index[at]}",
            value=repr(column.iloc[at]),
            count=int(bad.sum()),
            allowed=shown,
            mend=mend,
        )
        return None
    return index


def _midnight_of(date_format: str | None) -> re.Pattern[str]:
    """Give the pattern of stamps at hour 24; its group ``hour`` is the 24."""
    if date_format is None:
        return _MIDNIGHT
    pattern, codes = "", re.split(r"%(.)", date_format)
    for place, part in enumerate(codes):
        if place % 2 == 0:
            pattern += re.escape(part)
        elif part == "H" and "?P<hour>" not in pattern:
            pattern += "(?P<hour>24)"
        elif part in ("M", "S"):
            pattern += "0{1,2}"  # there is nothing later than midnight at hour 24
        else:
            pattern += rf"\d{{1,{_FIGURES[part]}}}" if part in _FIGURES else ".+?"
    return re.compile(pattern if "?P<hour>" in pattern else r"(?P<hour>(?!))", re.ASCII)


def _at_hour_24(cells: pd.Series, date_format: str | None) -> npt.NDArray[np.bool_]:
    """Mark the stamps whose hour is written 24."""
    pattern = _midnight_of(date_format)
    return np.array(["24" in cell and pattern.fullmatch(cell) is not None for cell in cells], dtype=bool)


def _at_nought(cell: str, pattern: re.Pattern[str]) -> str:
    """Write hour 0 in place of hour 24."""
    match = pattern.fullmatch(cell)
    return cell if match is None else f"{cell[: match.start('hour')]}00{cell[match.end('hour') :]}"


def with_question(found: tuple[Fault, ...], index: pd.Index) -> tuple[Fault, ...]:
    """Ask whether day and month are exchanged, where dates would be in order if they were."""
    disordered = any("in order" in fault.problem for fault in found)
    if not isinstance(index, pd.DatetimeIndex) or not disordered or exchanged_days(index) is None:
        return found
    problem = "is not in order, and would be if day and month were exchanged where the day is 12 or less"
    mend = "if they are: layout=wb.TableLayout(exchanged_dates=True) changes them back"
    ordered = [fault for fault in found if fault.problem not in _OF_DISORDER]
    return tuple(
        dataclasses.replace(fault, problem=problem, mend=mend) if "in order" in fault.problem else fault
        for fault in ordered
    )


def text_of(cell: object) -> str:
    """Write a cell as text: blank where it is empty, a whole number without its point."""
    if cell is None or cell is pd.NaT or cell is pd.NA or cell != cell:
        return ""
    return str(int(cell)) if isinstance(cell, float) and cell.is_integer() else str(cell).strip()


def _zones(cells: pd.Series) -> list[str]:
    """Collect the time zones that cells written year-month-day bear."""
    matches = (_ISO.fullmatch(cell) for cell in cells)
    return [match["zone"].strip() for match in matches if match is not None and match["zone"]]


def _year_first(cells: pd.Series, zoned: bool) -> pd.DatetimeIndex:
    """Read dates written year-month-day; those with a zone become UTC, when they all have one."""
    local = []
    for cell in cells:
        match = _ISO.fullmatch(cell)
        day = "" if match is None else match["day"].replace("/", "-") + (match["clock"] or "")
        zone = "" if match is None or not zoned else (match["zone"] or "").strip()
        local.append("" if zoned and not zone else day + zone)
    return pd.DatetimeIndex(pd.to_datetime(pd.Series(local), format="ISO8601", errors="coerce", utc=zoned))


def _question(cells: list[str], date_format: str | None, others: bool) -> tuple[str, str]:
    """Say what is wrong with cells that are no dates, and what to state about their order."""
    say = "say how they are written: layout=wb.TableLayout(date_format={})"
    matches = [_NUMBERS.fullmatch(cell) for cell in cells]
    if date_format is not None:
        mend = "correct the cells, or date_format"
        if _at_hour_24(pd.Series(cells, dtype=object), date_format).any():
            mend += '; hour 24 is midnight where steps end: sub_daily=wb.SubDaily(stamp="end")'
        return "holds what is not in the format stated", mend
    if all(_SERIAL.fullmatch(cell) for cell in cells):
        mend = "if they are a spreadsheet's numbers of days: pd.to_datetime(column.astype(float), unit='D', "
        return "holds numbers in place of dates", mend + "origin='1899-12-30')"
    if all(_YEAR_FIRST.fullmatch(cell) for cell in cells):
        clock = " %H" if re.search(r"[T ]", cells[0]) else ""
        return "holds dates that are not written in full", say.format(f'"%Y-%m-%d{clock}"')
    if None in matches:
        return "holds what is no date", say.format("...") + ', such as "%d.%m.%Y" or "%Y%m%d"'
    if others:
        mend = "write every date in one way; nothing here says which is meant"
        return "holds dates written in more than one way: which is meant?", mend
    known = [match for match in matches if match is not None]
    first = max(int(match[1]) for match in known)
    second = max(int(match[3]) for match in known)
    sign, year, rest = known[0][2], "%Y" if len(known[0][4]) > 2 else "%y", known[0]["rest"] or ""
    clock = "".join((" %H:%M", ":%S")[: rest.count(":")])
    figures = sum(map(str.isdecimal, rest))
    if figures and not clock:
        clock = " %H" if figures < 3 else " %H%M"
    if re.search("[ap]m", rest.casefold()):
        clock = clock.replace("%H", "%I") + " %p"
    day_first, month_first = f'"%d{sign}%m{sign}{year}{clock}"', f'"%m{sign}%d{sign}{year}{clock}"'
    if first > _MONTHS and second > _MONTHS:
        return "holds both day-month and month-day: which is meant?", "write every date in one way"
    if first > _MONTHS:
        return "holds dates that are not year-month-day", say.format(day_first)
    if second > _MONTHS:
        return "holds dates that are not year-month-day", say.format(month_first)
    problem = "holds dates of which the numbers do not tell day from month: which is first?"
    return problem, say.format(f"{day_first} or {month_first}")
