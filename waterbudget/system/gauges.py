"""Tables of readings of a flow meter and a pressure gauge: what is taken, and what is refused."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from waterbudget.descriptions import outside
from waterbudget.errors import Faults
from waterbudget.tables import (
    as_table,
    note_rows,
    one_column,
    read_labels,
    read_numbers,
    read_times,
    shown,
)
from waterbudget.units import convert
from waterbudget.variables import VARIABLES

FLOWS = {"flow_m3_per_h": "m3/h", "flow_L_per_s": "L/s", "flow_gal_per_min": "gal/min"}
PRESSURES = {"pressure_kPa": "kPa", "pressure_bar": "bar", "pressure_psi": "psi"}
"""Columns that may hold a reading, and their unit."""


def read_both(readings: Any, baseline: Any, faults: Faults) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Read the two tables; note readings that have no baseline, precede it, or stand there twice.

    Parameters
    ----------
    readings, baseline : DataFrame or list of mappings
        As `waterbudget.system.find_faults` takes them.
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    later, good : DataFrame
        ``time``, ``date`` (its day), ``zone``, ``flow`` [m3 h-1] and ``pressure`` [kPa], NaN where not read.
        Without columns where a table is at fault.
    """
    later, good = _read_one(readings, "readings", faults), _read_one(baseline, "baseline", faults)
    if later is None or good is None:
        return pd.DataFrame(), pd.DataFrame()
    without = ~later["zone"].isin(good["zone"])
    mend = "take a baseline, and name the zones alike"
    note_rows(faults, "readings, zone", "has no baseline", without, shown(later["zone"]), mend=mend)
    early = later["date"] < later["zone"].map(good.groupby("zone")["date"].max())
    problem = "lies before the end of the zone's baseline"
    mend = "put it into the baseline if all was well then, or leave it out"
    note_rows(faults, "readings, date", problem, early, shown(later["date"]), mend=mend)
    copies = pd.concat([good, later]).duplicated()
    in_good, in_later = copies.iloc[: len(good)], copies.iloc[len(good) :]
    for what, own, copied in (("baseline", good, in_good), ("readings", later, in_later)):
        problem = "repeats a row of the zone, which would count twice"
        note_rows(faults, what, problem, copied, shown(own["time"]), mend="leave the copy out")
    return later, good


def _read_one(table: Any, what: str, faults: Faults) -> pd.DataFrame | None:
    """Read a table of readings: time, date, zone, flow [m3 h-1] and pressure [kPa]; None where at fault."""
    own = Faults()
    frame = as_table(table, what, ("date",), ("zone", *FLOWS, *PRESSURES), own)
    if frame is not None:
        known = {"time": read_times(frame, what, own), "zone": read_labels(frame, "zone", what, own)}
        flow = _read_quantity(frame, "flow", FLOWS, what, own)
        pressure = _read_quantity(frame, "pressure", PRESSURES, what, own)
        if not own:
            problem, neither = "have neither flow nor pressure", flow.isna() & pressure.isna()
            note_rows(own, what, problem, neither, shown(frame["date"]), mend="leave the row out")
    faults.extend(tuple(own))
    if frame is None or own:
        return None
    return pd.DataFrame({**known, "date": known["time"].dt.normalize(), "flow": flow, "pressure": pressure})


def _read_quantity(
    frame: pd.DataFrame, name: str, columns: dict[str, str], what: str, faults: Faults
) -> pd.Series[float]:
    """Read flow [m3 h-1] or pressure [kPa] from the one column that holds it; NaN where there is none."""
    missing = pd.Series(np.nan, index=frame.index)
    if frame.columns.intersection(list(columns)).empty:
        return missing
    column = one_column(frame, columns, what, faults)
    if column is None:
        return missing
    variable = VARIABLES["flow" if name == "flow" else "outlet_pressure"]
    values = read_numbers(frame, column, what, faults, blank=True)
    values *= convert(1.0, columns[column], variable.unit)
    beyond = pd.Series(outside(variable, values.to_numpy()), index=frame.index)
    mend = "a reading is taken while the zone runs; leave blank what was not read"
    note_rows(
        faults,
        f"{what}, {column}",
        "is outside its range",
        beyond,
        shown(frame[column]),
        allowed=variable.allowed(),
        mend=mend,
    )
    return values
