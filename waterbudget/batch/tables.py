"""Read one CSV of a farm folder: headings checked, cells kept as text until they are asked for."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np

from waterbudget.batch.columns import FILES, Column
from waterbudget.descriptions import moment, outside
from waterbudget.errors import Faults
from waterbudget.units import convert
from waterbudget.variables import VARIABLES

_SHOWN = 60
"""So many characters of a line are shown in a message."""


class Heading(NamedTuple):
    """A column as it stands in a file: its heading, what it holds, and the unit that its name states."""

    text: str
    column: Column
    unit: str


@dataclass(frozen=True)
class Row:
    """One line of a table.

    Attributes
    ----------
    line : int
        Its number in the file; the heading is line 1.
    cells : mapping of str to str
        Text by the column's name without its unit; blank cells are left out.
    headings : mapping of str to Heading
        The columns of the whole table.
    """

    line: int
    cells: Mapping[str, str]
    headings: Mapping[str, Heading]

    def text(self, name: str) -> str:
        """Give a cell's text, empty where it is blank or the column is absent."""
        return self.cells.get(name, "")

    def number(self, name: str, faults: Faults) -> float | None:
        """Give a cell's number in its canonical unit; None where it is blank or faulty (noted)."""
        if name not in self.cells:
            return None
        heading, text = self.headings[name], self.cells[name]
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            mend = "write decimals with a point" if "," in text else "leave the cell blank if it is not known"
            faults.add(
                heading.text, "is not a number", where=f"line {self.line}", value=repr(text), mend=mend
            )
            return None
        variable = VARIABLES[heading.column.variable]
        if not _alike(heading.unit, variable.unit):
            value = convert(value, heading.unit, variable.unit)
        if outside(variable, np.asarray(value)).any():
            allowed = variable.allowed()
            if heading.unit == "%" and variable.unit != "%":
                allowed += " as a fraction"
            faults.add(
                heading.text,
                "is outside its range",
                where=f"line {self.line}",
                value=text,
                allowed=allowed,
                mend=_as_percent(name, heading, value),
            )
            return None
        return value

    def date(self, name: str, faults: Faults) -> np.datetime64 | None:
        """Give a cell's date; None where it is blank or faulty (noted)."""
        if name not in self.cells:
            return None
        day, wrong = _parsed(self.cells[name])
        if day is None:
            faults.add(
                self.headings[name].text,
                "is not a date",
                where=f"line {self.line}",
                value=wrong,
                allowed="a date written year-month-day, such as 2025-05-12",
            )
        return day


@lru_cache(maxsize=4096)
def _parsed(text: str) -> tuple[np.datetime64 | None, str]:
    """Read a date, or show what is none; a record names the same days over and over."""
    noted = Faults()
    day = moment(text, "date", noted)
    return (None, repr(text)) if noted or not isinstance(day, np.datetime64) else (day, "")


def read_table(path: Path, file: str, faults: Faults) -> list[Row]:
    """Read a table and check its headings.

    Parameters
    ----------
    path : Path
        The CSV.
    file : str
        Which table it is: a key of `FILES`.
    faults : Faults
        Takes what is wrong with the file as a whole.

    Returns
    -------
    list of Row
        Empty when the file cannot be used.
    """
    try:
        lines = list(_lines(path))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        faults.add(path.name, f"cannot be read: {error}", mend="save it as CSV with commas, in UTF-8")
        return []
    if not lines:
        faults.add(path.name, "is empty", mend=f"give it a heading line: {_some(FILES[file])}")
        return []
    headings = _headings(path, lines[0][1], file, faults)
    if headings is None:
        return []
    rows = []
    for line, cells in lines[1:]:
        if len(cells) > len(lines[0][1]) and any(cells[len(lines[0][1]) :]):
            faults.add(
                path.name,
                "has more cells in a line than headings",
                where=f"line {line}",
                mend="put text that holds a comma between double quotes",
            )
            continue
        given = {name: cell for name, cell in zip(headings, cells, strict=False) if cell}
        rows.append(Row(line, given, headings))
    if not rows:
        faults.add(path.name, "has a heading line and no rows", mend="add rows, or delete the file")
    return rows


def read_headings(path: Path, file: str, faults: Faults) -> dict[str, Heading] | None:
    """Read the first line of a table alone; None when it cannot be used (noted)."""
    try:
        first = next(_lines(path), None)
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        faults.add(path.name, f"cannot be read: {error}", mend="save it as CSV with commas, in UTF-8")
        return None
    if first is None:
        faults.add(path.name, "is empty", mend=f"give it a heading line: {_some(FILES[file])}")
        return None
    return _headings(path, first[1], file, faults)


def nearest(word: str, known: Sequence[str]) -> str:
    """Say which known word is meant, as a mend; empty when none is near."""
    folded = {name.lower(): name for name in known}
    close = get_close_matches(word.lower(), folded, n=2, cutoff=0.6)
    return f"did you mean {' or '.join(repr(folded[name]) for name in close)}?" if close else ""


def _lines(path: Path) -> Iterator[tuple[int, list[str]]]:
    """Give the lines that hold anything, each with its number; cells without surrounding blanks."""
    with path.open(newline="", encoding="utf-8-sig") as file:
        reader = csv.reader(file)
        for cells in reader:
            stripped = [cell.strip() for cell in cells]
            if any(stripped):
                yield reader.line_num, stripped


def _headings(path: Path, cells: Sequence[str], file: str, faults: Faults) -> dict[str, Heading] | None:
    """Find what each heading stands for, in the file's order; None when a heading is at fault."""
    columns = FILES[file]
    other = next((mark for mark in ";\t" if len(cells) == 1 and mark in cells[0]), None)
    if other is not None:
        faults.add(
            path.name,
            f"has {other!r} between its cells",
            where="line 1",
            value=cells[0] if len(cells[0]) <= _SHOWN else f"{cells[0][:_SHOWN]}...",
            allowed="commas",
            mend="save it as CSV with commas between cells and points in decimals",
        )
        return None
    known = {text: stem for stem, column in columns.items() for text in column.names(stem)}
    before = len(list(faults))
    found: dict[str, Heading] = {}
    for text in cells:
        stem = known.get(text)
        if stem is None:
            faults.add(
                f"{path.name}, column {text!r}",
                "is not known",
                mend=_meant(text, columns, known) or "put remarks into a column 'note'",
            )
        elif stem in found:
            faults.add(
                f"{path.name}, column {text!r}",
                f"stands beside {found[stem].text!r}",
                mend="keep one of the two",
            )
        else:
            column = columns[stem]
            suffix = text.removeprefix(stem).removeprefix("_")
            found[stem] = Heading(text, column, column.units.get(suffix, ""))
    missing = [stem for stem, column in columns.items() if column.required and stem not in found]
    for stem in missing:
        faults.add(f"{path.name}, column {stem!r}", "is missing", mend=f"the columns are {_some(columns)}")
    return found if len(list(faults)) == before else None


def _meant(text: str, columns: Mapping[str, Column], known: Mapping[str, str]) -> str:
    """Say how a heading should have been written."""
    if not text:
        return "give the column a heading, or delete it"
    if text in columns:
        return f"the unit belongs in the name: {' or '.join(columns[text].names(text))}"
    stems = [stem for stem in columns if text.startswith(f"{stem}_")]
    if stems:
        stem = max(stems, key=len)
        return f"its unit is not known; {stem} is given as {' or '.join(columns[stem].names(stem))}"
    return nearest(text, list(known))


def _as_percent(name: str, heading: Heading, value: float) -> str:
    """Say how a percentage is given in place of a fraction; empty where none can be meant."""
    if heading.unit != "1" or "percent" not in heading.column.units or not 1 < value <= 100:
        return ""
    return f"write a fraction such as {value / 100:g}, or give all as percentages in {name}_percent"


def _alike(unit: str, canonical: str) -> bool:
    """Tell whether no conversion is needed, so that pint stays out of a folder in canonical units."""
    return unit == canonical or (unit, canonical) in _SAME


_SAME = {
    ("mm", "mm day-1"),
    ("m/s", "m s-1"),
    ("m3/h", "m3 h-1"),
    ("mm/h", "mm h-1"),
    ("1", "m3 m-3"),
    ("MJ/m2/day", "MJ m-2 day-1"),
}


def _some(columns: Mapping[str, Column]) -> str:
    names = [column.names(stem)[0] for stem, column in columns.items()]
    return ", ".join(names[:8]) + (", ..." if len(names) > 8 else "")
