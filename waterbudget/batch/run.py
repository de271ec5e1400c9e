"""run_farm: a farm folder in, result files out."""

from __future__ import annotations

import dataclasses
import os
from collections.abc import Mapping
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.batch.cans import can_findings, uniformity
from waterbudget.batch.folder import FieldFault, Folder, read_folder
from waterbudget.batch.groups import Progress, simulate_fields
from waterbudget.batch.outcome import FarmRun
from waterbudget.batch.write import check_out, write_results
from waterbudget.errors import Fault, InputError
from waterbudget.plan import week_ahead
from waterbudget.report import events, explain, ledger, relative_yield
from waterbudget.report.frames import UnitSystem, check_units, shown_unit
from waterbudget.report.losses import losses
from waterbudget.report.performance import performance
from waterbudget.system.amounts import HOURS_PER_DAY, beyond_a_day

WEEK = 7
_ROUNDING = 1e-10
"""A season's loss [mm] that is rounding."""


def run_farm(
    folder: str | os.PathLike[str],
    *,
    out: str | os.PathLike[str],
    today: object = None,
    units: UnitSystem = "metric",
    plots: bool | None = None,
    progress: Progress | None = None,
) -> FarmRun:
    """Simulate every field of a farm folder and write the results.

    Parameters
    ----------
    folder : path
        Holds the CSV files described in docs/farm-folder.md.
    out : path
        Folder for the results; made when it is not there. ``events.csv``, ``ledger.csv``,
        ``daily_balance.csv``, ``week_ahead.csv``, ``yields.csv``, ``losses.csv``, ``performance.csv``,
        ``plots/<field>.png`` and, where they have a row, ``uniformity.csv``, ``can_findings.csv``,
        ``findings.csv`` and ``faults.csv``. Files of these names are replaced, others are left alone. A file
        is written whole or not at all: when anything fails, nothing in `out` has changed.
    today : date, optional
        Day from which the week ahead is planned, in place of the one in ``farm.csv``. The irrigation
        record counts up to the day before, and the rule decides from this day on.
    units : {"metric", "us"}
        Units of the files and tables: mm, m3, m, or in, gal, ft.
    plots : bool, optional
        Draw a picture of each field; needs matplotlib. None: draw where it is installed.
    progress : callable, optional
        Called with the number of fields done and their total.

    Returns
    -------
    FarmRun

    Raises
    ------
    InputError
        When the folder as a whole is at fault, `out` is a file, or no field at all can run. Faults of
        single fields do not raise: they are in `FarmRun.faults`, and the other fields run.
    ImportError
        When pictures are wanted and matplotlib is not installed.
    OSError
        When a file cannot be written.
    """
    check_units(units)
    target = Path(out)
    drawn = find_spec("matplotlib") is not None if plots is None else plots
    check_out(target, drawn)
    described = read_folder(Path(folder), today)
    seasons, refused = simulate_fields(described, progress)
    faults = (*described.faults, *refused)
    if not seasons:
        raise InputError(tuple(_named(fault) for fault in faults))
    waterings = _in_order([events(season, units) for season in seasons], described)
    tests = {name: field.cans for name, field in described.fields.items() if field.cans is not None}
    run = FarmRun(
        name=described.name,
        today=described.today,
        units=units,
        events=waterings,
        ledger=_in_order([ledger(season, units) for season in seasons], described),
        losses=_own_losses(_in_order([losses(season, units) for season in seasons], described), units),
        performance=_in_order([performance(season, units=units) for season in seasons], described),
        week=_week(seasons, described, units, waterings),
        yields=_shown(_in_order([_yields(season, described) for season in seasons], described), units),
        uniformity=uniformity(tests, units),
        can_findings=_shown(can_findings(tests, units), units),
        findings=described.zones.findings,
        faults=_table(faults),
        notes=described.notes,
        seasons=tuple(seasons),
        out=target,
    )
    write_results(run, [name for name in described.order if name in described.fields], drawn)
    return run


def _in_order(tables: list[pd.DataFrame], folder: Folder) -> pd.DataFrame:
    """Put the rows of several groups together in the order of ``fields.csv``."""
    table = pd.concat([each for each in tables if len(each)] or tables[:1], ignore_index=True)
    place = table["field"].map({name: i for i, name in enumerate(folder.order)})
    return table.iloc[np.argsort(place.to_numpy(), kind="stable")].reset_index(drop=True)


def _own_losses(table: pd.DataFrame, units: UnitSystem) -> pd.DataFrame:
    """Leave out the losses that a field does not have, though others that ran beside it do."""
    of_each = table["kind"].isin(("", "used"))
    suffix, size = shown_unit("mm", units)
    none = table[f"depth{suffix}"] * size <= _ROUNDING
    return table[of_each | ~none].reset_index(drop=True)


def _week(
    seasons: list[xr.Dataset], folder: Folder, units: UnitSystem, waterings: pd.DataFrame
) -> pd.DataFrame:
    """Tabulate the week ahead of every field, with its crop and what its numbers call for."""
    if folder.today is None:
        return pd.DataFrame({"field": [], "crop": []}, dtype=object)
    table = _in_order([week_ahead(season, folder.today, days=WEEK) for season in seasons], folder)
    standing: dict[str, Any] = {}
    salty: dict[str, Any] = {}
    for season in seasons:
        standing |= _by_field(season, season["crop_number"].sel(time=folder.today))
        # a rotation has a factor for each day
        factor = season["salt_factor"].broadcast_like(season["crop_number"]).sel(time=folder.today)
        salty |= _by_field(season, factor < 1)
    table.insert(1, "crop", [_crop_text(folder, name, int(standing[name])) for name in table["field"]])
    recorded = set(waterings.loc[waterings["recorded"], "field"])
    days = waterings["date"] - folder.today
    ahead = (days >= pd.Timedelta(0)) & (days < pd.Timedelta(days=WEEK))
    longest = waterings[ahead].groupby("field")["hours"].max()
    table["note"] = [
        _note(
            row,
            row["field"] in recorded,
            salty[row["field"]],
            longest.get(row["field"], 0.0),
            _why_not(seasons, row, folder.today),
        )
        for row in table.to_dict("records")
    ]
    return _shown(table, units)


def _names(season: xr.Dataset) -> list[str]:
    return [str(name) for name in season["field"].values]


def _by_field(season: xr.Dataset, values: xr.DataArray) -> dict[str, Any]:
    """Give each field's value, the largest where there are several."""
    largest = values.max([dim for dim in values.dims if dim != "field"])
    return dict(zip(_names(season), largest.broadcast_like(season["field"]).values.tolist(), strict=True))


def _crop_text(folder: Folder, field: str, number: int) -> str:
    """Name the crop that stands on a field; where none does, all that it grows."""
    names = folder.fields[field].crop_names
    return names[number - 1] if number else ", then ".join(dict.fromkeys(names))


def _yields(season: xr.Dataset, folder: Folder) -> pd.DataFrame:
    """Tabulate every crop of every field; where no response is known its yield stays open, with a note."""
    response = season["yield_response"]
    table = relative_yield(
        season.assign(yield_response=response.fillna(1.0))
    )  # what was NaN is blanked below
    grown = [
        (name, text, number, crop.yield_response is None)
        for name in _names(season)
        for number, (text, crop) in enumerate(
            zip(folder.fields[name].crop_names, folder.fields[name].crops, strict=True), 1
        )
    ]
    listed = pd.DataFrame(grown, columns=["field", "crop", "crop_number", "unknown"])
    table = listed.merge(table, how="left", on=["field", "crop_number"])
    unknown = table.pop("unknown")
    table["within_limits"] = table["within_limits"].astype("boolean").fillna(False).astype(bool) & ~unknown
    table["relative_yield"] = table["relative_yield"].mask(unknown)
    told = table["note"].fillna("does not stand on any day of the season")
    known = told.where(told == "", "; " + told)
    table["note"] = told.mask(unknown, "no yield response is known: give yield_response" + known)
    return table


def _why_not(seasons: list[xr.Dataset], row: Mapping[Any, Any], today: np.datetime64) -> str:
    """Say why a field that is due is not irrigated today; empty where it is not due, or is irrigated."""
    due = row["crop_stands"] and row["depletion_mm"] >= row["allowable_mm"]
    if not due or row["next_date"] == today:
        return ""
    season = next(each for each in seasons if row["field"] in each["field"].values)
    at = {"field": row["field"]} | (
        {"spot": 0} if "spot" in season.dims else {}
    )  # one decision for all spots
    return explain(season, today, at).verdict.removesuffix(".")


def _note(row: Mapping[Any, Any], recorded: bool, salty: bool, longest: float, why_not: str) -> str:
    """Say what a field's numbers call attention to."""
    if not row["crop_stands"]:
        return "no crop stands"
    found = []
    if row["depletion_mm"] > row["readily_available_mm"]:
        found.append("short of water this morning" + ("" if recorded else ", and no irrigation is recorded"))
    if row["stress_days"] >= 1:
        found.append(f"short of water on {row['stress_days']:.0f} of the {WEEK} days")
    if why_not:
        found.append(f"due, but {why_not[0].lower()}{why_not[1:]}")
    if salty:
        found.append("held back by salt, watered or not")
    if beyond_a_day(longest):
        found.append(f"a watering of {longest:.0f} hours is counted on one day")
    if row["week_hours"] > WEEK * HOURS_PER_DAY:
        found.append(
            f"{row['week_hours']:.0f} hours of watering do not fit into the week: the system is too small"
        )
    return "; ".join(found)


def _shown(table: pd.DataFrame, units: UnitSystem) -> pd.DataFrame:
    """Bring metric columns to the units wanted; the end of a column's name says its unit."""
    ends = {shown_unit(unit).suffix: shown_unit(unit, units) for unit in ("mm", "m", "m3")}
    names = {}
    for name in table.columns:
        for end, (suffix, size) in ends.items():
            if str(name).endswith(end) and suffix != end:
                table[name] = table[name] / size
                names[name] = str(name).removesuffix(end) + suffix
    return table.rename(columns=names)


def _named(fault: FieldFault) -> Fault:
    """Name the field in a fault that leaves its table."""
    if not fault.field:
        return fault.fault
    return dataclasses.replace(fault.fault, what=f"field {fault.field!r}, {fault.fault.what}")


def _table(faults: tuple[FieldFault, ...]) -> pd.DataFrame:
    """Tabulate faults."""
    names = [each.name for each in dataclasses.fields(Fault)]
    rows = [(fault.field, *(getattr(fault.fault, name) for name in names)) for fault in faults]
    return pd.DataFrame(rows, columns=["field", *names])
