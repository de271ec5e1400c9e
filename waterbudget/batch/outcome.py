"""FarmRun: what a farm folder came to."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.errors import collect
from waterbudget.report.frames import UnitSystem


@dataclass(frozen=True, kw_only=True, eq=False)
class FarmRun:
    """What a farm folder came to.

    Attributes
    ----------
    name : str
        Of the farm.
    today : datetime64 or None
        Day from which the week ahead is planned.
    units : {"metric", "us"}
        Units of the tables; the seasons are metric always.
    events : DataFrame
        `events` of all fields: an irrigation a row, by field, then date.
    ledger : DataFrame
        `ledger` of all fields: a field a row.
    week : DataFrame
        `week_ahead` of all fields with the crop as written; no rows without a `today`. Of a rotation it is
        the crop that stands that morning, or where none does all of them.
    yields : DataFrame
        `relative_yield` (seasonal) of all fields, with the crop: a crop of a field a row. Where no yield
        response is known the yield is NaN, and ``note`` says so.
    losses, performance : DataFrame
        `losses` and `performance` of all fields: what became of the water pumped, and what it achieved.
    uniformity : DataFrame
        `CatchCans.summary` of every field with cans.
    can_findings : DataFrame
        What of the cans is worth a look, with the trade's reading of each test; ``can`` as named in
        ``cans.csv``, blank for the whole test.
    findings : DataFrame
        `find_faults` of every zone with readings.
    faults : DataFrame
        ``field`` (blank for a station's file or a zone's readings), ``what``, ``problem``, ``where``,
        ``value``, ``count``, ``allowed``, ``mend``: what stopped it, in words.
    notes : tuple of str
        What was left out on purpose, and why.
    seasons : tuple of Dataset
        Results of `simulate` on ``time`` and ``field``; fields described in one form share one.
    out : Path
        Where the files were written.
    """

    name: str
    today: np.datetime64 | None
    units: UnitSystem
    events: pd.DataFrame
    ledger: pd.DataFrame
    week: pd.DataFrame
    yields: pd.DataFrame
    losses: pd.DataFrame
    performance: pd.DataFrame
    uniformity: pd.DataFrame
    can_findings: pd.DataFrame
    findings: pd.DataFrame
    faults: pd.DataFrame
    notes: tuple[str, ...]
    seasons: tuple[xr.Dataset, ...]
    out: Path

    def season(self, field: str) -> xr.Dataset:
        """Give the season of one field, without the dimension ``field`` but with its label.

        Raises
        ------
        InputError
            When no field of this name ran.
        """
        for season in self.seasons:
            if field in season["field"].values:
                return season.sel(field=field)
        with collect() as faults:
            faults.add("field", "did not run, or is not in the folder", value=repr(field))
        raise AssertionError  # the block above raises
