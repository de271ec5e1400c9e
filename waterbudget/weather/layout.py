"""How a table of weather is written: what its text means, said by the one who has it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, get_args

from waterbudget.errors import Faults, brief, collect

Decimal = Literal[".", ","]

BLANKS = "blanks"
"""The delimiter of columns that are padded with blanks or tabs."""

DELIMITERS = (",", ";", "\t", "|", BLANKS)


@dataclass(frozen=True, kw_only=True)
class TableLayout:
    """How a text table is written; of a DataFrame, how its text cells are.

    Parameters
    ----------
    delimiter : {",", ";", tab, "|", "blanks"}, optional
        What stands between cells; ``"blanks"`` is any number of blanks or tabs. Without it the one that
        cuts every line into as many cells as the header has; where none or several do, the file is
        refused.
    decimal : {".", ","}
        The decimal sign. Where it is the delimiter too, as in ``"10,5","20,1"``, say both.
    comment : str, optional
        Lines that begin with it are passed over; None where no line is a comment.
    header_line : int, optional
        Number of the line, from 1, that holds the names of the columns; lines before it are passed over.
        Without it the first line that is neither blank nor a comment.
    units_line : int, optional
        Number of the line that holds a unit for each column. It says what ``units=`` of `read_weather`
        would say, which goes before it.
    skip_lines : sequence of int
        Numbers of other lines that are no data: how a column was averaged, a second name.
    date_format : str, optional
        The order and signs of dates, such as ``"%d.%m.%Y"`` or ``"%m/%d/%Y %H:%M"`` (the codes of Python's
        ``strptime``). Without it dates are year-month-day, and any other is refused.
    exchanged_dates : bool
        True where day and month have changed places wherever the day is 12 or less, as happens when a
        spreadsheet takes one order of day and month for the other. They are changed back.
    encoding : str
        How the file's characters are written: ``"utf-8"``, or ``"cp1252"`` as older programs write.

    Raises
    ------
    InputError
        With every option that is not one of those above.

    Examples
    --------
    >>> TableLayout(delimiter=";", decimal=",", units_line=2, date_format="%d.%m.%Y").decimal
    ','
    """

    delimiter: str | None = None
    decimal: Decimal = "."
    comment: str | None = "#"
    header_line: int | None = None
    units_line: int | None = None
    skip_lines: tuple[int, ...] = ()
    date_format: str | None = None
    exchanged_dates: bool = False
    encoding: str = "utf-8"

    def __post_init__(self) -> None:
        """Check every option."""
        with collect() as faults:
            if self.delimiter is not None and self.delimiter not in DELIMITERS:
                allowed = ", ".join(map(repr, DELIMITERS))
                faults.add("delimiter", "is unknown", value=brief(self.delimiter), allowed=allowed)
            if self.decimal not in get_args(Decimal):
                faults.add("decimal", "is no decimal sign", value=brief(self.decimal), allowed="'.' or ','")
            if not isinstance(self.encoding, str) or not _is_encoding(self.encoding):
                allowed = "utf-8, cp1252, latin-1 and others that Python knows"
                faults.add("encoding", "is unknown", value=brief(self.encoding), allowed=allowed)
            if self.comment is not None and not (isinstance(self.comment, str) and self.comment.strip()):
                faults.add("comment", "is no text", value=brief(self.comment), allowed="such as '#', or None")
            self._check_lines(faults)
            if self.date_format is not None and not (
                isinstance(self.date_format, str) and re.search("%[Yy]", self.date_format)
            ):
                faults.add(
                    "date_format",
                    "is no format of dates with their year",
                    value=brief(self.date_format),
                    allowed='such as "%d.%m.%Y" or "%m/%d/%Y %H:%M"',
                    mend="%d day, %m month, %Y year, %y its last two figures, %H hour, %M minute",
                )
            if not isinstance(self.exchanged_dates, bool):
                value = brief(self.exchanged_dates)
                faults.add("exchanged_dates", "is neither True nor False", value=value)

    def _check_lines(self, faults: Faults) -> None:
        """Check the numbers of lines, and bring `skip_lines` to a tuple."""
        skip = self.skip_lines
        several = tuple(skip) if isinstance(skip, Iterable) and not isinstance(skip, str) else (skip,)
        object.__setattr__(self, "skip_lines", several)
        for name, numbers in (
            ("header_line", () if self.header_line is None else (self.header_line,)),
            ("units_line", () if self.units_line is None else (self.units_line,)),
            ("skip_lines", several),
        ):
            for number in numbers:
                if isinstance(number, bool) or not isinstance(number, int) or number < 1:
                    faults.add(
                        name,
                        "is no number of a line",
                        value=brief(number),
                        allowed="whole numbers, 1 for the first line of the file",
                    )
        if self.units_line is not None and self.units_line == self.header_line:
            faults.add("units_line", "is the header line", value=str(self.units_line))

    def of_text_alone(self) -> list[str]:
        """Name the options given that a DataFrame has no use for."""
        plain = TableLayout()
        names = ("delimiter", "header_line", "units_line", "skip_lines", "encoding")
        return [name for name in names if getattr(self, name) != getattr(plain, name)]


def _is_encoding(name: str) -> bool:
    try:
        "a".encode(name)
    except LookupError:
        return False
    return True
