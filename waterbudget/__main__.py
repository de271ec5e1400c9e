"""The command: ``python -m waterbudget FOLDER --out DIR``."""

from __future__ import annotations

import argparse
import math
import sys
import textwrap
from collections.abc import Hashable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from waterbudget.batch import FarmRun, run_farm
from waterbudget.errors import Fault, InputError

_WIDTH = 100
_CROP = 28
_CAUTIONS = (
    "Verify with a shovel or probe before acting on this list. Protect the water source from backflow. "
    "Pumps, their electric supply and pressurized pipe can maim and kill. Salty water needs leaching; it "
    "is in the list only where you planned it. Water rights limit when and how much may be taken. Local "
    "codes and licensed practitioners decide."
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
        Exit code: 0 when all fields ran, 1 when some field, station or zone was at fault, 2 when nothing
        could run.
    """
    parser = argparse.ArgumentParser(
        prog="python -m waterbudget",
        description="Simulate every field of a farm folder and list what to irrigate in the week ahead.",
        epilog="Exit code: 0 all ran, 1 some field, station or zone was at fault, 2 nothing could run.",
    )
    parser.add_argument("folder", help="folder with fields.csv, stations.csv, ... (docs/farm-folder.md)")
    parser.add_argument("--out", required=True, help="folder for the results; made when it is not there")
    parser.add_argument(
        "--today", metavar="YYYY-MM-DD", help="plan from this day on, not from that of farm.csv"
    )
    parser.add_argument("--units", choices=("metric", "us"), default="metric", help="units of the results")
    parser.add_argument(
        "--plots",
        action=argparse.BooleanOptionalAction,
        default=None,
        help="draw a picture of each field (default: when matplotlib is installed)",
    )
    given = parser.parse_args(arguments)
    try:
        run = run_farm(given.folder, out=given.out, today=given.today, units=given.units, plots=given.plots)
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
    parts = [run.name, _week(run), *_look_at(run), *(textwrap.fill(note, _WIDTH) for note in run.notes)]
    if len(run.faults):
        parts.append(_faults(run.faults))
    parts.append(f"Results are in {run.out}")
    parts.append(textwrap.fill(f"CAUTION: {_CAUTIONS}", _WIDTH))
    return "\n\n".join(parts)


def _week(run: FarmRun) -> str:
    """Lay the week ahead out as a table, a line for each field."""
    if run.today is None:
        return "No week ahead: neither farm.csv nor --today says from which day to plan."
    depth, length = ("in", "ft") if run.units == "us" else ("mm", "m")
    digits = 2 if run.units == "us" else 0
    headings = (
        ("field", ""),
        ("crop", ""),
        ("depletion", depth),
        ("allowable", depth),
        ("irrigate", "on"),
        ("net", depth),
        ("gross", depth),
        ("hours", ""),
        ("wets to", length),
        ("in all", "times"),
        ("in all", "hours"),
    )
    lines = []
    for row in run.week.to_dict("records"):
        due = not pd.isna(row["next_date"])
        lines.append(
            (
                str(row["field"]),
                textwrap.shorten(str(row["crop"]), _CROP, placeholder=" ..."),
                _number(row[f"depletion_{depth}"], digits),
                _number(row[f"allowable_{depth}"], digits) if row["crop_stands"] else "",
                f"{row['next_date']:%a %Y-%m-%d}" if due else "none due",
                _number(row[f"net_{depth}"], digits),
                _number(row[f"gross_{depth}"], digits),
                _number(row["hours"], 1),
                _number(row[f"wetted_depth_{length}"], 2),
                str(row["irrigations"]) if due else "",
                _number(row["week_hours"], 1) if due else "",
            )
        )
    table = [tuple(name for name, _ in headings), tuple(unit for _, unit in headings), *lines]
    widths = [max(len(line[column]) for line in table) for column in range(len(headings))]
    title = (
        f"The week from {np.datetime_as_string(run.today, unit='D')}: depletion this morning, the first "
        "irrigation, and all of the week."
    )
    return "\n".join([title, "", *(_line(line, widths) for line in table)])


def _look_at(run: FarmRun) -> list[str]:
    """List what calls for a look: in the week's numbers, the cans, and the readings of flow and pressure."""
    found = [f"{row['field']}: {row['note']}" for row in run.week.to_dict("records") if row["note"]]
    if len(run.can_findings):
        for name, test in run.can_findings.groupby("field", sort=False):
            found += [f"{name}, cans: {text}" for text in _of_cans(test)]
    found += [f"{row['zone']}: {_of_readings(row)}" for row in run.findings.to_dict("records")]
    lines = [textwrap.fill(text, _WIDTH, initial_indent="  ", subsequent_indent="    ") for text in found]
    return ["\n".join(["Look at:", *lines])] if lines else []


def _of_cans(test: pd.DataFrame) -> list[str]:
    """Say what the cans of a field call for: of the whole test, then can by can."""
    whole = test["can"] == ""
    found = [f"{row['finding']}: {row['why']}" for row in test[whole].to_dict("records")]
    single = "; ".join(f"can {row['can']} {row['finding']}" for row in test[~whole].to_dict("records"))
    return [*found, single] if single else found


def _of_readings(row: Mapping[Hashable, Any]) -> str:
    """Say what the readings of a zone show, how surely, and what to do about it."""
    changes = ", ".join(
        f"{name} {abs(change):.0f} % {'up' if change > 0 else 'down'}"
        for name in ("flow", "pressure")
        if not pd.isna(change := row[f"{name}_change_percent"])
    )
    sure = math.floor(1000 * row["confidence"]) / 10
    return (
        f"{row['finding']} from {row['since']:%Y-%m-%d} on, found {row['found']:%Y-%m-%d} ({changes}; "
        f"{sure:.1f} % sure). What the two instruments cannot tell apart: {row['cannot_tell']}. "
        f"Look: {row['look_at']}"
    )


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    """Lay cells side by side: words to the left, numbers to the right."""
    sides = ("<", "<", ">", ">", "<", ">", ">", ">", ">", ">", ">")
    placed = (f"{cell:{side}{width}}" for cell, side, width in zip(cells, sides, widths, strict=True))
    return "  ".join(placed).rstrip()


def _number(value: float, digits: int) -> str:
    """Write a number; nothing where there is none."""
    return "" if pd.isna(value) else f"{value:.{digits}f}"


def _faults(faults: pd.DataFrame) -> str:
    """List faults by field."""
    lines = ["At fault, and not run:"]
    for row in faults.to_dict("records"):
        name = row.pop("field")
        fault = Fault(**{str(key): value for key, value in row.items()})
        text = f"{name}: {fault}" if name else str(fault)  # a file's fault names the file itself
        lines.append(textwrap.fill(text, _WIDTH, initial_indent="  ", subsequent_indent="    "))
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit(main())
