"""A table of rows, one station or several, laid out on time.

What cannot be laid out stays on its rows, so that its values can still be checked; there is a fault
then, and nothing is handed to the user.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Hashable, Mapping

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from waterbudget.checks import time_axis
from waterbudget.errors import Faults
from waterbudget.weather.axis import in_days
from waterbudget.weather.calendar_faults import exchange
from waterbudget.weather.dates import read_stamps, text_of
from waterbudget.weather.flags import (
    GIVEN,
    flag_attributes,
    flag_faults,
    flag_name,
    flags_of,
    is_flag,
    note_foreign,
)
from waterbudget.weather.naming import is_there, pick
from waterbudget.weather.options import Options
from waterbudget.weather.steps import lay_out, note_absent_days
from waterbudget.weather.tables import to_numbers


def from_table(
    table: pd.DataFrame, units: Mapping[str, str], options: Options, faults: Faults
) -> xr.Dataset | None:
    """Take the weather out of a table, one station or several."""
    found = pick(list(table.columns), options, faults)
    if len(table) == 0:
        faults.add("weather", "has no rows", allowed="a row for each day", mend="give a table with data")
        return None
    picked = {name: table[own] for name, own in found.items() if (table.columns == own).sum() == 1}
    if _second_header(picked, options, faults):
        picked = {name: column.iloc[1:] for name, column in picked.items()}
        table = table.iloc[1:]
    place = str(table.index.name)
    rows = xr.Dataset(coords={place: table.index})
    for name in options.names():
        if name not in picked:
            continue
        own = "" if found[name] == name else f" (column {found[name]!r})"
        numbers = to_numbers(picked[name], f"{name}{own}", faults, options.codes(name))
        attrs = {"heading": found[name]}
        if found[name] in units:
            attrs["in_units_line"] = units[str(found[name])]
        rows[name] = (place, numbers.values, attrs)
        if not np.isnan(numbers.stated).all():
            rows[f"{name}_stated"] = (place, numbers.stated)
        flags = _flags(table, name, options, faults)
        if flags is not None:
            rows[flag_name(name)] = (place, flags, flag_attributes(name))
    times = _times(table, found, picked, options, faults)
    if "station" not in picked:
        if times is None:
            return rows
        return in_days(
            rows.assign_coords({place: times.rename(place)}).rename({place: "time"}), options, faults
        )
    stations = _stations(picked["station"], faults)
    if stations is None:
        return rows
    rows = rows.assign_coords(station=(place, stations))
    if times is None or not _same_times(times, stations, options, faults):
        return rows  # on its rows, for the checks that follow; it is never returned
    return in_days(_unstack(rows, times), options, faults)


def _flags(table: pd.DataFrame, name: str, options: Options, faults: Faults) -> npt.NDArray[np.int8] | None:
    """Read the flags of a variable; None where there are none. Whose they are is asked."""
    flag = flag_name(name)
    own = options.columns.get(flag, flag)
    if options.sub_daily is not None or own is None or (table.columns == own).sum() != 1:
        return None
    if flag not in options.columns:
        note_foreign(flag, faults)
        return None
    values = xr.Dataset({flag: ("row", to_numbers(table[own], flag, faults).values)})
    own_faults = Faults()
    flag_faults(values, own_faults)
    faults.extend(tuple(own_faults))
    return None if own_faults else flags_of(values, name).values


def _second_header(picked: Mapping[str, pd.Series], options: Options, faults: Faults) -> bool:
    """Ask what a first row without a single number is; tell whether it is asked."""
    cells = {name: str(column.iloc[0]).strip() for name, column in picked.items() if name in options.names()}
    texts = [cell for cell in cells.values() if cell]
    place = next(iter(picked.values())).index if picked else None
    if place is None or place.name != "line" or len(place) < 2 or not texts:
        return False
    if any(re.search(r"\d", cell) and not re.search(r"[^\W\d_]", cell) for cell in texts):
        return False  # one cell at least is a number or a date
    codes = {code for name in cells for code in options.codes(name).missing if isinstance(code, str)}
    if all(cell in codes for cell in texts) or any(cell.casefold() == "nan" for cell in texts):
        return False
    line = place[0]
    faults.add(
        f"line {line}",
        "holds no number: is it a second header?",
        value=", ".join(f"{name} {cell!r}" for name, cell in cells.items()),
        mend=f"layout=wb.TableLayout(units_line={line}) if it holds the units, skip_lines=({line},) if not; "
        "missing_codes= if its words stand for missing values",
    )
    return True


def _times(
    table: pd.DataFrame,
    found: Mapping[str, Hashable],
    picked: Mapping[str, pd.Series],
    options: Options,
    faults: Faults,
) -> pd.DatetimeIndex | None:
    """Read the dates of a table, from one column or from date and time of day."""
    own = found.get("time")
    if "time" in picked:
        column = picked["time"]
    elif isinstance(own, tuple) and is_there(own, list(table.columns)):
        texts = [[text_of(cell) for cell in table[one]] for one in own]
        joined = [" ".join(parts) for parts in zip(*texts, strict=True)]
        column = pd.Series(joined, index=table.index, name=" and ".join(map(str, own)))
    else:
        return None
    stamp = None if options.sub_daily is None else options.sub_daily.stamp
    times = read_stamps(column, options.layout.date_format, stamp, faults)
    if times is None:
        return None
    if options.layout.exchanged_dates:
        return exchange(times).rename("time")
    return times.rename("time")


def _stations(column: pd.Series, faults: Faults) -> pd.Index | None:
    """Read the stations' names; None when a row has none."""
    blank = np.asarray(column.isna() | (column.astype(str).str.strip() == ""))
    if blank.any():
        faults.add(
            f"station column {column.name!r}",
            "has no name",
            where=f"{column.index.name} {column.index[int(blank.argmax())]}",
            count=int(blank.sum()),
            mend="name the station in every row",
        )
        return None
    return pd.Index(column.to_numpy(dtype=object))


def _same_times(times: pd.DatetimeIndex, stations: pd.Index, options: Options, faults: Faults) -> bool:
    """Check the days of each station, and that all stations have the same where days may not be added."""
    own_times = {label: times[stations == label] for label in stations.unique()}
    before = len(list(faults))
    steps: dict[object, pd.Timedelta] = {}
    spans: dict[object, tuple[pd.Timestamp, pd.Timestamp]] = {}
    for label, own in own_times.items():
        if options.sub_daily is None:
            apart = Faults()
            time_axis(own, apart, f"weather, station {label}")
            whole = options.missing_days == "raise"
            faults.extend(tuple(fault for fault in apart if whole or fault.problem != "misses days"))
        else:
            apart = Faults()
            grid = lay_out(own, options.sub_daily, apart)
            if grid is not None and options.missing_days == "raise":
                note_absent_days(grid, apart)
            if grid is not None:
                steps[label] = grid.step
                spans[label] = (grid.days[0], grid.days[-1])
            for fault in apart:
                found = fault.what.replace("weather", f"weather, station {label}")
                faults.extend((dataclasses.replace(fault, what=found),))
    odd = [label for label, step in steps.items() if step != min(steps.values())]
    if odd:
        faults.add(
            f"weather, station {odd[0]}",
            "has longer steps than another station",
            value=str(steps[odd[0]]),
            count=len(odd),
            allowed=str(min(steps.values())),
            mend="read stations of different steps apart, and join their days by wb.concat",
        )
    first = next(iter(spans.values()), None)
    odd = [label for label, span in spans.items() if span != first]
    if odd and options.missing_days == "raise":
        begin, end = spans[odd[0]]
        faults.add(
            f"weather, station {odd[0]}",
            "has not the days that another station has",
            value=f"{begin:%Y-%m-%d} to {end:%Y-%m-%d}",
            count=len(odd),
            allowed=" to ".join(f"{day:%Y-%m-%d}" for day in first or ()),
            mend='missing_days="nan" adds the days as NaN; or cut the stations to the same days',
        )
    if len(list(faults)) > before:
        return False
    if options.sub_daily is not None or options.missing_days == "nan":
        return True
    every = pd.DatetimeIndex(sorted({*times}))
    for label, own in own_times.items():
        missing = every.difference(own)
        if missing.size:
            faults.add(
                f"weather, station {label}",
                "has not all the days that other stations have",
                where=missing[0].strftime("%Y-%m-%d"),
                count=missing.size,
                allowed=f"{every[0]:%Y-%m-%d} to {every[-1]:%Y-%m-%d}",
                mend='missing_days="nan" adds the days as NaN; or cut the stations to the same days',
            )
    return len(list(faults)) == before


def _unstack(rows: xr.Dataset, times: pd.DatetimeIndex) -> xr.Dataset:
    """Lay stations side by side, in the order in which they first appear."""
    labels = pd.Index(rows["station"].values)
    stations = labels.unique()
    row, column = times.unique().sort_values().get_indexer(times), stations.get_indexer(labels)
    result = xr.Dataset(coords={"time": times.unique().sort_values(), "station": stations})
    for name, data in rows.data_vars.items():
        empty = GIVEN if is_flag(name) else np.nan
        values = np.full((result.sizes["time"], result.sizes["station"]), empty, dtype=data.dtype)
        values[row, column] = data.values
        result[name] = (("time", "station"), values, data.attrs)
    return result
