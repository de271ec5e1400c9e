"""What the descriptions of a line share: its numbers and words, and the faults of what is made of them."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any, TypeVar

from waterbudget.batch.tables import Row
from waterbudget.errors import Fault, Faults, InputError

_YES_NO = {"yes": True, "no": False}

D = TypeVar("D")


def made(make: Callable[[], D], what: str, faults: Faults) -> D | None:
    """Make a description; note its faults under the name of the thing described."""
    try:
        return make()
    except InputError as error:
        prefix = f"{what}, "
        for fault in error.faults:
            named = fault.what == what or fault.what.startswith(f"{what} ")
            faults.extend((fault,), "" if named else prefix)
        return None


def numbers(row: Row, names: tuple[str, ...], faults: Faults) -> dict[str, Any]:
    """Collect the given numbers of a row."""
    found = {name: row.number(name, faults) for name in names}
    return {name: value for name, value in found.items() if value is not None}


def together(row: Row, what: str, names: tuple[str, ...], faults: Faults) -> tuple[float, ...] | None:
    """Give numbers that mean something only together; None when none is given."""
    given = [name for name in names if row.text(name)]
    if not given:
        return None
    values = [row.number(name, faults) for name in names]
    missing = [name for name in names if not row.text(name)]
    if missing:
        faults.add(what, f"lack {', '.join(missing)}", mend=f"give all {len(names)} of them, or none")
    return None if any(value is None for value in values) else tuple(v for v in values if v is not None)


def yes_no(row: Row, name: str, faults: Faults) -> bool | None:
    """Read a yes or a no; None where the cell is blank or faulty (noted)."""
    text = row.text(name)
    if text and text.lower() not in _YES_NO:
        faults.add(
            name, "is neither yes nor no", where=f"line {row.line}", value=repr(text), allowed="yes or no"
        )
    return _YES_NO.get(text.lower())


def faults_of(error: Exception, doing: str) -> tuple[Fault, ...]:
    """Give the faults that stopped something; an error that nobody foresaw is one, too."""
    if isinstance(error, InputError):
        return error.faults
    return (Fault(what=doing, problem=f"failed unexpectedly: {type(error).__name__}: {error}"),)


def in_file(found: Faults, file: str, row: Row) -> Faults:
    """Name file and line in the faults of a line that is not one of ``fields.csv``."""
    named = Faults()
    for fault in found:
        line = f"line {row.line}"
        where = (
            fault.where if fault.where.startswith("line ") else f"{line}, {fault.where}".removesuffix(", ")
        )
        named.extend((dataclasses.replace(fault, where=where),), f"{file}, ")
    return named
