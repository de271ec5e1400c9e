"""A sheet of arithmetic: each line a formula, the same with numbers, its value, unit and source."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from string import Formatter
from typing import NamedTuple

from waterbudget.errors import Faults

AGREES = 1e-9
"""A recomputed value may differ from the stored one by this much, in the value's own unit."""

YES_OR_NO = "yes or no"
"""Unit of a condition: its value is 1 or 0."""


class Line(NamedTuple):
    """One line of arithmetic.

    Attributes
    ----------
    name : str
        What is worked out; lines further down use it by this name.
    formula : str
        The names it comes from, as Python would compute it; empty for a number that is given.
    numbers : str
        The formula with its numbers, to six figures; empty for a number that is given.
    value : float
        The result, at full precision. Yes is 1 and no is 0.
    unit : str
        Its unit: ``"1"`` for a plain number, ``"yes or no"`` for a condition.
    source : str
        Where the equation, or the given number, comes from.
    """

    name: str
    formula: str
    numbers: str
    value: float
    unit: str
    source: str


class Part(NamedTuple):
    """Lines that belong together, under a title."""

    title: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, kw_only=True)
class Explanation:
    """One day of one field, as arithmetic.

    Attributes
    ----------
    date : str
        The day.
    labels : mapping of str to str
        Which field, system, ...; empty when the season has no labels.
    verdict : str
        Whether the field was irrigated and why, in a sentence.
    parts : tuple of Part
        The arithmetic, in the order in which the day runs.
    """

    date: str
    labels: Mapping[str, str]
    verdict: str
    parts: tuple[Part, ...]

    @property
    def lines(self) -> tuple[Line, ...]:
        """All lines, in order."""
        return tuple(line for part in self.parts for line in part.lines)

    def __getitem__(self, name: str) -> Line:
        """Give the line of this name."""
        return next(line for line in self.lines if line.name == name)

    def __str__(self) -> str:
        """Write the day out for reading."""
        head = ", ".join((self.date, *(f"{dim} {label}" for dim, label in self.labels.items())))
        return "\n".join((head, self.verdict, *_written(self.parts)))


class Sheet:
    """Takes lines down one by one and compares each with what is stored.

    Parameters
    ----------
    stored : mapping of str to float
        The day as the season holds it.
    faults : Faults
        Where a line that does not agree is noted.
    where : str
        The day and labels, for such a note.
    """

    def __init__(self, stored: Mapping[str, float], faults: Faults, where: str) -> None:
        self._stored = stored
        self._faults = faults
        self._where = where
        self._values: dict[str, float] = {}
        self._titles: list[str] = []
        self._lines: list[list[Line]] = []

    @property
    def values(self) -> Mapping[str, float]:
        """All numbers taken down so far, by name."""
        return self._values

    def part(self, title: str) -> None:
        """Begin a new part."""
        self._titles.append(title)
        self._lines.append([])

    def given(self, name: str, value: float, unit: str, source: str) -> float:
        """Take down a number that is not computed here."""
        self._values[name] = value
        self._lines[-1].append(Line(name, "", "", value, unit, source))
        return value

    def line(self, name: str, formula: str, value: float, unit: str, source: str) -> float:
        """Take down a computed number.

        Parameters
        ----------
        name : str
            Its name; where the season stores a variable of this name the two must agree.
        formula : str
            Names in braces, each of an earlier line: ``"{rain} - {runoff}"``.
        value : float
            The result.
        unit, source : str
            As in `Line`.

        Returns
        -------
        float
            `value`.
        """
        names = [key for _, key, _, _ in Formatter().parse(formula) if key]
        numbers = formula.format(**{key: figure(self._values[key]) for key in names})
        words = formula.format(**{key: key for key in names})
        self._values[name] = value
        self._lines[-1].append(Line(name, words, numbers, value, unit, source))
        if name in self._stored and not abs(value - self._stored[name]) <= AGREES:
            self._faults.add(
                f"season, {name}",
                "is not what the season's own inputs give",
                where=self._where,
                value=repr(self._stored[name]),
                allowed=f"{words} = {numbers} = {value!r}",
                mend="pass what simulate returned, unchanged and with all its days",
            )
        return value

    def nought(self, name: str, formula: str, value: float) -> None:
        """Take down a residual of a balance [mm], which must be 0 to within `AGREES`."""
        self.line(name, formula, value, "mm", "conservation of water: 0 to 1e-9 mm")
        if not abs(value) <= AGREES:
            self._faults.add(
                f"season, {name}", "the day does not close", where=self._where, value=repr(value)
            )

    def parts(self) -> tuple[Part, ...]:
        """Give all that was taken down."""
        pairs = zip(self._titles, self._lines, strict=True)
        return tuple(Part(title, tuple(lines)) for title, lines in pairs)


def figure(value: float) -> str:
    """Write a number to six figures; a negative one in brackets, as it stands inside a formula."""
    text = "0" if abs(value) < AGREES else f"{value:.6g}"
    return f"({text})" if text.startswith("-") else text


def shown(value: float, unit: str) -> str:
    """Write a result with its unit."""
    if unit == YES_OR_NO:
        return "yes" if value else "no"
    text = "not given" if math.isnan(value) else figure(value).strip("()")
    return text if unit == "1" else f"{text} {unit}"


def _written(parts: tuple[Part, ...]) -> Iterator[str]:
    """Write the parts: a given number on one row, a formula on one and its numbers below it."""
    for part in parts:
        yield ""
        yield part.title
        for line in part.lines:
            result = shown(line.value, line.unit)
            if line.formula == line.numbers:  # given, or a bare number
                yield f"  {line.name} = {result}  [{line.source}]"
            elif line.formula.isidentifier():  # another line's number, taken over
                yield f"  {line.name} = {line.formula} = {result}  [{line.source}]"
            else:
                yield f"  {line.name} = {line.formula}  [{line.source}]"
                equals = ": " if line.unit == YES_OR_NO else " = "
                yield f"  {' ' * len(line.name)} = {line.numbers}{equals}{result}"
