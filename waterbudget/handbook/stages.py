"""FAO-56 Table 11: which of the printed rows gives a crop its stage lengths."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from waterbudget.errors import collect
from waterbudget.handbook.tables import read

MONTHS = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)
_STAGES = ("initial_days", "development_days", "mid_season_days", "late_season_days")
_SHORTEST_MONTH = 3


class Stages(NamedTuple):
    """Lengths of the four stages in days, and where they come from."""

    days: tuple[float, float, float, float]
    source: str


class _Row(NamedTuple):
    """One usable row of Table 11."""

    days: tuple[float, float, float, float]
    months: frozenset[int]
    region: str
    planting: str
    source: str


def planting_months(printed: str) -> frozenset[int]:
    """Read the months of a planting date as printed: ``"Apr/May"``, ``"Mar-May"``, ``"Oct; Jan."``.

    A dash between two months means all from one to the other. Seasons and words that begin no month's
    name ("Winter", the misprint "Mat") give nothing.
    """
    months: set[int] = set()
    for first, last in re.findall(r"([A-Za-z]+)(?:-([A-Za-z]+))?", printed):
        ends = [number for number in (_month(first), _month(last)) if number is not None]
        if len(ends) == 2:
            months.update((ends[0] - 1 + step) % 12 + 1 for step in range((ends[1] - ends[0]) % 12 + 1))
        else:
            months.update(ends)
    return frozenset(months)


def stage_days(crop: str, names: Sequence[str], month: int | None, region: str | None) -> Stages | None:
    """Choose among the rows of Table 11 that belong to a crop.

    Parameters
    ----------
    crop : str
        Our name of the crop, for the message.
    names : sequence of str
        The names of its rows in the table.
    month : int or None
        Month of planting, 1 to 12.
    region : str or None
        Part of a region as printed; a region printed exactly so goes before one that contains it.

    Returns
    -------
    Stages or None
        None when the table has no row with four numbers for this crop.

    Raises
    ------
    InputError
        When the region fits no row, or several rows are left and no month decides between them.
    """
    rows = _usable(names)
    chosen = rows if region is None else _in_region(rows, region)
    with collect() as faults:
        if region is not None and not chosen:
            faults.add(
                "region",
                f"no row of FAO-56 Table 11 for {crop!r} is of this region",
                value=repr(region),
                allowed=_listed(rows) if rows else "none: the table has no stage lengths for this crop",
                mend="give part of one of these regions" if rows else "give stage_days yourself",
            )
        dated = [row for row in chosen if row.months]
        if len(chosen) > 1 and (month is None or not dated):
            why = "no month was given" if month is None else "none of them has a planting month"
            faults.add(
                f"crop {crop!r}",
                f"{len(chosen)} rows of FAO-56 Table 11 are left and {why}",
                allowed=_listed(chosen),
                mend="give region= (part of one of these) or month="
                if dated
                else "give region=, part of one of these",
            )
    if not chosen:
        return None
    if len(chosen) == 1 or month is None:
        return Stages(chosen[0].days, chosen[0].source)
    nearest = min(dated, key=lambda row: _months_away(row, month))
    reason = f"; its planting month is the nearest to {MONTHS[month - 1].capitalize()} of {len(chosen)} rows"
    return Stages(nearest.days, nearest.source + reason)


def _month(word: str) -> int | None:
    if len(word) < _SHORTEST_MONTH:
        return None
    return next((number for number, name in enumerate(MONTHS, 1) if name.startswith(word.lower())), None)


def _usable(names: Sequence[str]) -> list[_Row]:
    """Give the rows of these names, in print order, that have a number for every stage."""
    frame = read("stage_lengths")
    rows = []
    for printed in frame[frame["crop"].isin(names)].to_dict("records"):
        cells = [str(printed[stage]) for stage in _STAGES]
        firsts = [cell.split("/")[0] for cell in cells]
        if not all(first.isdigit() for first in firsts):
            continue
        initial, development, middle, late = (float(first) for first in firsts)
        said = [f"{printed['source']}, row {str(printed['crop'])!r}"]
        said += [f"region {printed['region']}"] if printed["region"] else []
        said += [f"planted {printed['planting']}"] if printed["planting"] else []
        said += [f"the first of {cell}" for cell in cells if "/" in cell]
        rows.append(
            _Row(
                days=(initial, development, middle, late),
                months=planting_months(str(printed["planting"])),
                region=str(printed["region"]),
                planting=str(printed["planting"]),
                source=", ".join(said) + (f"; noted there: {printed['note']}" if printed["note"] else ""),
            )
        )
    return rows


def _months_away(row: _Row, month: int) -> int:
    """Count the months to the nearest one printed on the row, around the year."""
    return min(min((month - own) % 12, (own - month) % 12) for own in row.months)


def _in_region(rows: Sequence[_Row], region: str) -> list[_Row]:
    asked = region.strip().lower()
    exact = [row for row in rows if row.region.lower() == asked]
    return exact or [row for row in rows if asked and asked in row.region.lower()]


def _listed(rows: Sequence[_Row]) -> str:
    return "; ".join(
        f"{row.region or 'no region printed'} ({row.planting or 'no month printed'}: "
        f"{', '.join(f'{days:g}' for days in row.days)} days)"
        for row in rows
    )
