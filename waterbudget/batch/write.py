"""Write the results of a farm: all of them beside their place first, then each moved into it whole."""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Iterator, Sequence
from importlib import import_module
from importlib.util import find_spec
from itertools import groupby
from pathlib import Path
from typing import Any

import pandas as pd
import xarray as xr

from waterbudget.batch.outcome import FarmRun
from waterbudget.errors import collect
from waterbudget.report import daily_frame, plot_season
from waterbudget.report.frames import DAILY_COLUMNS, over_spots

_AT_ONCE = 500
"""Fields of which the daily table is held in memory together."""
_DIGITS = "%.10g"
"""Ten digits: a balance closes to far below a drop, and 25 mm is not 25.000000000000004."""
_TABLES = ("events", "ledger", "yields", "losses", "performance")
_SOMETIMES = ("uniformity", "can_findings", "findings", "faults")
"""Tables that are written only when they have a row."""


def check_out(out: Path, plots: bool) -> None:
    """Refuse what would fail only after the work is done.

    Raises
    ------
    InputError
        When `out` is a file.
    ImportError
        When pictures are wanted and matplotlib is not installed.
    """
    with collect() as faults:
        if out.exists() and not out.is_dir():
            faults.add(str(out), "is a file", mend="name a folder for the results")
    if plots and find_spec("matplotlib") is None:
        message = "pictures need matplotlib: pip install waterbudget[plots]"
        raise ImportError(message)


def write_results(run: FarmRun, names: Sequence[str], plots: bool) -> None:
    """Write all files of a run, or none.

    Parameters
    ----------
    run : FarmRun
    names : sequence of str
        Fields in the order of the daily table; those that did not run are passed over.
    plots : bool
        Draw a picture of each field.

    Raises
    ------
    OSError
        When a file cannot be written. Nothing in the folder of results has changed then, unless the
        moving itself failed, which leaves every single file whole.
    """
    run.out.parent.mkdir(parents=True, exist_ok=True)
    # beside the folder of results, so that moving is renaming
    with tempfile.TemporaryDirectory(dir=run.out.parent, prefix=f".{run.out.name}-") as made:
        beside = Path(made)
        told = [name for name in _SOMETIMES if len(getattr(run, name))]
        for name in (*_TABLES, *told):
            _write(getattr(run, name), beside / f"{name}.csv")
        _write(run.week, beside / "week_ahead.csv")
        _write_daily(run, names, beside / "daily_balance.csv")
        if plots:
            _draw(run, names, beside / "plots")
        run.out.mkdir(exist_ok=True)
        for picture in picture_names(names).values():  # of an earlier run: they would belie the new tables
            (run.out / "plots" / picture).unlink(missing_ok=True)
        for file in sorted(path for path in beside.rglob("*") if path.is_file()):
            place = run.out / file.relative_to(beside)
            place.parent.mkdir(exist_ok=True)
            os.replace(file, place)
        for name in set(_SOMETIMES) - set(told):  # those of an earlier run are mended
            (run.out / f"{name}.csv").unlink(missing_ok=True)


def _write(table: pd.DataFrame, path: Path, *, more: bool = False) -> None:
    """Write a table, or add its rows to one that has its headings."""
    table.to_csv(
        path,
        index=False,
        header=not more,
        mode="a" if more else "w",
        float_format=_DIGITS,
        date_format="%Y-%m-%d",
    )


def _write_daily(run: FarmRun, names: Sequence[str], path: Path) -> None:
    """Write the daily balance, the mean of each field, some hundred fields at a time."""
    for season in _slices(run, names):
        means = over_spots(season, DAILY_COLUMNS)
        _write(daily_frame(means, run.units), path, more=path.exists())


def _slices(run: FarmRun, names: Sequence[str]) -> Iterator[xr.Dataset]:
    """Cut the seasons into pieces that keep the order of the fields."""
    of_field = {str(name): i for i, season in enumerate(run.seasons) for name in season["field"].values}
    ran = [name for name in names if name in of_field]
    for number, group in groupby(ran, key=of_field.__getitem__):
        together = list(group)
        for first in range(0, len(together), _AT_ONCE):
            yield run.seasons[number].sel(field=together[first : first + _AT_ONCE])


def _draw(run: FarmRun, names: Sequence[str], folder: Path) -> None:
    """Draw a picture of each field that ran."""
    from matplotlib.figure import Figure  # matplotlib comes with an extra of the package

    dates: Any = import_module("matplotlib.dates")  # its names carry no types

    folder.mkdir()
    files = picture_names(names)
    for season in _slices(run, names):
        for name in season["field"].values:
            figure = Figure(figsize=(9.0, 4.5), layout="constrained")
            axes = plot_season(season.sel(field=name), figure.subplots(), units=run.units)
            axes.set_title(str(name))
            if run.today is not None:
                today = dates.date2num(run.today)
                axes.axvline(today, color="#333333", lw=0.8)
                axes.annotate(
                    "today ", (today, 1.0), xycoords=("data", "axes fraction"), ha="right", va="top"
                )
            figure.savefig(folder / files[str(name)], dpi=110)


def picture_names(names: Sequence[str]) -> dict[str, str]:
    """Give each field's picture a file name of its own that every file system takes.

    Parameters
    ----------
    names : sequence of str

    Returns
    -------
    dict of str to str
        What is neither letter, digit, point nor hyphen becomes ``_``; of two names that then are the same
        (small and capital letters count as one), the second gets a number.
    """
    found: dict[str, str] = {}
    taken: set[str] = set()
    for name in names:
        stem = re.sub(r"[^\w.-]+", "_", name).strip("._") or "field"
        number, own = 1, stem
        while own.lower() in taken:
            number += 1
            own = f"{stem}-{number}"
        taken.add(own.lower())
        found[name] = f"{own}.png"
    return found
