"""A text file as it was written, brought to a table of text cells.

A table here is a DataFrame whose index counts the lines of the file as an editor does, so that every
message names a line that a person can go to.
"""

from __future__ import annotations

import csv
import os
from collections.abc import Iterable
from typing import NamedTuple

import pandas as pd

from waterbudget.errors import Faults, brief
from waterbudget.weather.layout import BLANKS, DELIMITERS, TableLayout

_SIGNS = {",": "a comma", ";": "a semicolon", "\t": "a tab", "|": "a bar", BLANKS: "blanks"}


class Written(NamedTuple):
    """A text file by its cells.

    Attributes
    ----------
    table : DataFrame
        Text cells, stripped; its index, named "line", holds line numbers.
    units : dict of str to str
        What the line of units says of each column; empty where there is none.
    """

    table: pd.DataFrame
    units: dict[str, str]


class _Line(NamedTuple):
    number: int
    text: str


def read_text(path: str | os.PathLike[str], layout: TableLayout, faults: Faults) -> Written | None:
    """Read a text file with a header line; every cell stays text.

    Parameters
    ----------
    path : str or path-like
        A file in UTF-8.
    layout : TableLayout
        How it is written.
    faults : Faults
        Faults of the file as a whole are noted here.

    Returns
    -------
    Written or None
        None when the file cannot be read as a table.

    Raises
    ------
    OSError
        When there is no such file, or it may not be read.
    """
    what = f"file {os.fspath(path)}"
    try:
        encoding = "utf-8-sig" if layout.encoding.casefold() in ("utf-8", "utf8") else layout.encoding
        with open(path, newline="", encoding=encoding) as file:
            every = [_Line(number, text) for number, text in enumerate(file, start=1)]
    except UnicodeError as error:
        faults.add(
            what,
            "cannot be read as text",
            value=str(error),
            allowed=f"a table of text in {layout.encoding}, which is UTF-8 unless said otherwise",
            mend='layout=wb.TableLayout(encoding="cp1252"), as older programs write; a workbook is no text',
        )
        return None
    if any("\0" in line.text for line in every[:3]):
        faults.add(what, "is no text", allowed="a table of text, NetCDF (.nc) or Zarr (.zarr)")
        return None
    parts = _parts(every, layout, what, faults)
    if parts is None:
        return None
    header, units, data = parts
    delimiter = layout.delimiter or _find_delimiter(header, data, layout, what, faults)
    if delimiter is None:
        return None
    try:
        numbers, rows = _cells(data, delimiter)
        names = _split(header, delimiter)
        own_units = [] if units is None else _split(units, delimiter)
    except csv.Error as error:
        faults.add(what, "cannot be read as a table", value=str(error), allowed="cells, quotes in pairs")
        return None
    if units is not None and len(own_units) != len(names):
        faults.add(
            what,
            "has a line of units with another number of cells than the header",
            where=f"line {units.number}",
            value=f"{len(own_units)} cells",
            allowed=f"{len(names)} cells",
            mend="correct the line, or give units= in its place",
        )
        return None
    ragged = [i for i, row in enumerate(rows) if len(row) != len(names)]
    if ragged:
        faults.add(
            what,
            f"has lines with another number of cells than the header (line {header.number}, "
            f"{brief(header.text.strip())}), cut at {_SIGNS[delimiter]}",
            where=f"line {numbers[ragged[0]]}",
            value=f"{len(rows[ragged[0]])} cells",
            count=len(ragged),
            allowed=f"{len(names)} cells",
            mend=f"if line {header.number} is no header: layout=wb.TableLayout(header_line=...); other lines "
            "that are no data: skip_lines=(...); a cell without a value stays blank between its delimiters",
        )
        return None
    table = pd.DataFrame(rows, columns=names, index=pd.Index(numbers, name="line"), dtype=object)
    return Written(table, {name: unit for name, unit in zip(names, own_units, strict=False) if unit})


def _parts(
    every: list[_Line], layout: TableLayout, what: str, faults: Faults
) -> tuple[_Line, _Line | None, list[_Line]] | None:
    """Tell header, line of units and lines of data apart."""
    by_number = {line.number: line for line in every}
    named = {"header_line": layout.header_line, "units_line": layout.units_line}
    absent = [(name, number) for name, number in named.items() if number and number not in by_number]
    for name, number in absent:
        faults.add(what, f"has no line {number}, the {name}", value=f"{len(every)} lines")
    if absent:
        return None
    special = {number for number in named.values() if number} | set(layout.skip_lines)
    plain = [line for line in every if _is_plain(line.text, layout.comment)]
    usual = [line for line in plain if line.number not in special]
    if layout.header_line is not None:
        header = by_number[layout.header_line]
        data = [line for line in usual if line.number > header.number]
    elif usual:
        header, data = usual[0], usual[1:]
    else:
        faults.add(
            what, "is empty", allowed="a header line and a line for each day", mend="give a file with data"
        )
        return None
    if not data:
        faults.add(
            what,
            "has a header and no rows",
            allowed="a header line and a line for each day",
            mend="give a file with data",
        )
        return None
    return header, None if layout.units_line is None else by_number[layout.units_line], data


def _is_plain(text: str, comment: str | None) -> bool:
    """Tell whether a line is neither blank nor a comment; one of delimiters alone is blank."""
    bare = text.strip()
    if not bare.strip(",;\t| "):
        return False
    return comment is None or not bare.startswith(comment)


def _find_delimiter(
    header: _Line, data: list[_Line], layout: TableLayout, what: str, faults: Faults
) -> str | None:
    """Find the one delimiter that cuts every line as it cuts the header; a fault where it is not one."""
    cut = [sign for sign in DELIMITERS if sign != layout.decimal and len(_try_split(header, sign)) > 1]
    signs = [sign for sign in cut if sign != BLANKS] or cut
    fits = [sign for sign in signs if _fits(header, data, sign)]
    if len(fits) == 1:
        return fits[0]
    if not fits and len(signs) == 1:
        return signs[0]  # the lines that do not fit are named by the caller
    found = " or ".join(_SIGNS[sign] for sign in fits or signs) or "none of those known"
    faults.add(
        what,
        "does not show what stands between its cells",
        where=f"line {header.number}",
        value=f"{found}: {header.text.strip()[:60]!r}",
        allowed="one of " + ", ".join(map(repr, DELIMITERS)),
        mend="say it: layout=wb.TableLayout(delimiter=...); if this line is no header, header_line=...",
    )
    return None


def _try_split(line: _Line, delimiter: str) -> list[str]:
    try:
        return _split(line, delimiter)
    except csv.Error:
        return []


def _fits(header: _Line, data: list[_Line], delimiter: str) -> bool:
    """Tell whether every line has as many cells as the header."""
    count = len(_split(header, delimiter))
    try:
        return all(len(row) == count for row in _cells(data, delimiter)[1])
    except csv.Error:
        return False


def _split(line: _Line, delimiter: str) -> list[str]:
    return _cells([line], delimiter)[1][0]


def _cells(lines: list[_Line], delimiter: str) -> tuple[list[int], list[list[str]]]:
    """Cut lines into stripped cells, with the number of the line on which each row ends."""
    if delimiter == BLANKS:
        return [line.number for line in lines], [line.text.split() for line in lines]
    numbers, rows = [], []
    reader = csv.reader(_texts(lines), delimiter=delimiter, strict=True)
    for row in reader:
        numbers.append(lines[reader.line_num - 1].number)
        rows.append([cell.strip() for cell in row])
    return numbers, rows


def _texts(lines: list[_Line]) -> Iterable[str]:
    return (line.text for line in lines)
