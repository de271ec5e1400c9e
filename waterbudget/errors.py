"""Faults in what the user gave: collected first, raised once.

A message names the thing, how many values are at fault, the first place, the value found there,
what is allowed and how to mend it.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

_LONGEST = 80
"""Characters of a value that a message shows."""


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One thing that is wrong with an input.

    Parameters
    ----------
    what : str
        The thing at fault, in the user's words: ``"tmin"``, ``"field 'north', soil"``.
    problem : str
        What is wrong with it.
    where : str
        The first place: a date, a row, a label. Empty when there is only one place.
    value : str
        The value found there. Empty when there is none to show.
    count : int
        How many values have this fault.
    allowed : str
        What would have been accepted.
    mend : str
        How to put it right.
    """

    what: str
    problem: str
    where: str = ""
    value: str = ""
    count: int = 1
    allowed: str = ""
    mend: str = ""

    def __str__(self) -> str:
        text = f"{self.what}: {self.problem}"
        if self.count > 1:
            text += f" ({self.count} values)"
        if self.where:
            text += f"; first at {self.where}"
        if self.value:
            text += f"; found {self.value}"
        if self.allowed:
            text += f"; allowed: {self.allowed}"
        if self.mend:
            text += f"; mend: {self.mend}"
        return text


class InputError(ValueError):
    """All that is wrong with an input, at once.

    Attributes
    ----------
    faults : tuple of Fault
        Every fault found, in the order found.
    """

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        super().__init__(f"{count} in the input\n" + "\n".join(f"  - {fault}" for fault in faults))

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Fault, ...]]]:
        """Be made again from the faults, not from their text: errors travel between processes."""
        return InputError, (self.faults,)


class Faults:
    """A list of faults that raises at the end of its ``with`` block, if it holds any.

    Examples
    --------
    >>> with collect() as faults:
    ...     faults.add("efficiency", "is outside its range", value="1.2", allowed="above 0, at most 1")
    Traceback (most recent call last):
    waterbudget.errors.InputError: 1 fault in the input
      - efficiency: is outside its range; found 1.2; allowed: above 0, at most 1
    """

    def __init__(self) -> None:
        self._faults: list[Fault] = []

    def add(
        self,
        what: str,
        problem: str,
        *,
        where: object = "",
        value: object = "",
        count: int = 1,
        allowed: str = "",
        mend: str = "",
    ) -> None:
        """Note a fault; nothing is raised yet. The parameters are those of `Fault`."""
        self._faults.append(
            Fault(
                what=what,
                problem=problem,
                where=str(where),
                value=str(value),
                count=count,
                allowed=allowed,
                mend=mend,
            )
        )

    def extend(self, faults: tuple[Fault, ...], prefix: str = "") -> None:
        """Take over the faults of another check, naming what they belong to."""
        for fault in faults:
            self.add(
                f"{prefix}{fault.what}",
                fault.problem,
                where=fault.where,
                value=fault.value,
                count=fault.count,
                allowed=fault.allowed,
                mend=fault.mend,
            )

    def __bool__(self) -> bool:
        return bool(self._faults)

    def __iter__(self) -> Iterator[Fault]:
        return iter(self._faults)

    def raise_if_any(self) -> None:
        """Raise everything noted so far as one `InputError`.

        Raises
        ------
        InputError
            When at least one fault was noted.
        """
        if self._faults:
            raise InputError(tuple(self._faults))


def brief(value: object) -> str:
    """Write what was given on one line.

    Parameters
    ----------
    value : object

    Returns
    -------
    str
        At most 80 characters of what Python writes for it; of a table, or of an array with dimensions of
        its own, kind and size.
    """
    sizes, shape = getattr(value, "sizes", None), getattr(value, "shape", ())
    if sizes:
        return f"{type(value).__name__} of {', '.join(f'{size} {dim}' for dim, size in sizes.items())}"
    if isinstance(shape, tuple) and len(shape) > 1:
        return f"{type(value).__name__} of {' x '.join(map(str, shape))}"
    text = " ".join(repr(value).split())
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 3]}..."


@contextmanager
def collect() -> Iterator[Faults]:
    """Collect faults over a block of checks and raise them together at its end."""
    faults = Faults()
    yield faults
    faults.raise_if_any()
