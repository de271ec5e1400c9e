"""The command: ``python -m waterbudget FOLDER --out DIR``."""

from __future__ import annotations

import argparse
import sys
import textwrap
from collections.abc import Sequence

import numpy as np
import pandas as pd

from waterbudget.batch import FarmRun, run_farm
from waterbudget.errors import InputError

_WIDTH = 100
_CAUTIONS = (
    "Verify with a shovel or probe before acting on this list. Protect the water source from backflow. Pumps, "
    "their electric supply and pressurized pipe can maim and kill. Salty water needs leaching that is not "
    "added here. Water rights limit when and how much may be taken. Local codes and licensed "
    "practitioners decide."
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : sequence of str, optional
        In place of those of the command line.

    Returns
    -------
    int
        Exit code: 0 when all fields ran, 1 when some field or station was at fault, 2 when nothing
        could run.
    """
    parser = argparse.ArgumentParser(
        prog="python -m waterbudget",
        description="Simulate every field of a farm folder and list what to irrigate in the week ahead.",
        epilog="Exit code: 0 all fields ran, 1 some field was at fault, 2 nothing could run.",
    )
    parser.add_argument("folder", help="folder with fields.csv, stations.csv, ... (docs/farm-folder.md)")
    parser.add_argument("--out", required=True, help="folder for the results; made when it is not there")
    parser.add_argument("--today", metavar="YYYY-MM-DD", help="plan from this day on, not from that of farm.csv")
    parser.add_argument("--units", choices=("metric", "us"), default="metric", help="units of the results")
    parser.add_argument("--plots", action="store_true", help="draw a picture of each field (needs matplotlib)")
    given = parser.parse_args(arguments)
    try:
        run = run_farm(
            given.folder, out=given.out, today=given.today, units=given.units, plots=given.plots
        )
    except (InputError, ImportError, OSError) as error:
        print(f"nothing was run: {error}", file=sys.stderr)
        return 2
    print(report(run))
    return 1 if len(run.faults) else 0


def report(run: FarmRun) -> str:
    """Write the week ahead, the faults and the cautions of a run as text.

    Parameters
    ----------
    run : FarmRun

    Returns
    -------
    str
    """
    parts = [run.name, _week(run), *run.notes]
    if len(run.faults):
        parts.append(_faults(run.faults))
    parts.append(f"Results are in {run.out}")
    parts.append(textwrap.fill(f"CAUTION: {_CAUTIONS}", _WIDTH))
    return "\n\n".join(parts)


def _faults(faults: pd.DataFrame) -> str:
    """List faults by field."""
    lines = ["At fault, and not run:"]
    for row in faults.itertuples(index=False):
        text = f"{row.what}: {row.problem}"
        for label, value in (("", row.where), ("found ", row.value), ("allowed: ", row.allowed), ("mend: ", row.mend)):
            text += f"; {label}{value}" if value else ""
        lines.append(textwrap.fill(f"{row.field or 'station'}: {text}", _WIDTH, initial_indent="  ", subsequent_indent="    "))
    return "\n".join(lines)
