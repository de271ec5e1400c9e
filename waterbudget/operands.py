"""What a formula takes: a number, an array or a DataArray, in its unit and within its range.

Where a number has a unit, it may be text with a unit of its own, as in a description: ``"300 m3/h"``,
``"1 in"``, ``"80 %"`` for a fraction. The docstrings of formulas do not repeat this. A row of numbers is in
the unit of the formula. What is odd, text without a unit, None, a truth value, a date, becomes a fault; NaN,
a number that is not known, passes.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from waterbudget.arguments import plain
from waterbudget.checks import in_range, note_where
from waterbudget.descriptions import from_text
from waterbudget.errors import Faults, brief, collect
from waterbudget.variables import VARIABLES


def ranged(value: Any, name: str, faults: Faults, what: str = "") -> Any:
    """Take numbers in the unit and within the range of a row of the variables table.

    Parameters
    ----------
    value : float, text with a unit, array_like or DataArray
        What was given.
    name : str
        The row.
    faults : Faults
        Takes what is wrong.
    what : str
        What to call it in a message; ``name`` when empty.

    Returns
    -------
    float, array or DataArray
        float64; NaN where it is none.
    """
    what = what or name
    taken = _read(value, what, faults, VARIABLES[name].unit)
    in_range(xr.DataArray(taken), name, faults, what=what)
    return taken


def within(
    value: Any,
    what: str,
    faults: Faults,
    least: float,
    most: float | None = None,
    *,
    above: bool = False,
    unit: str = "",
    mend: str = "",
) -> Any:
    """Take numbers of which no row of the variables table tells, between limits of their own.

    Parameters
    ----------
    value, what, faults
        As in `ranged`.
    least : float
        The lowest that is allowed.
    most : float, optional
        The highest; when not given, any number that is not infinite.
    above : bool
        Whether only numbers above ``least`` are allowed.
    unit : str
        Unit of the numbers and of both limits, one that `waterbudget.units` knows; ``"1"`` for a fraction.
        Empty for a number without one, such as a count: text is then refused.
    mend : str
        How to mend it.

    Returns
    -------
    float, array or DataArray
        float64; NaN where it is none.
    """
    taken = _read(value, what, faults, unit)
    array = xr.DataArray(taken)
    bad = (array <= least if above else array < least) | (np.isinf(array) if most is None else array > most)
    allowed = f"above {least:g}" if above else f"{least:g} or more"
    if most is not None and np.isfinite(most):
        allowed = f"{allowed} and at most {most:g}" if above else f"{least:g} to {most:g}"
    note_where(
        faults,
        what,
        "is outside its range",
        bad,
        {what: array},
        allowed=allowed if unit in ("", "1") else f"{allowed} {unit}",
        mend=mend,
    )
    return taken


def one_number(
    value: Any,
    what: str,
    faults: Faults,
    least: float,
    most: float | None = None,
    *,
    above: bool = False,
    unit: str = "",
    mend: str = "",
) -> float:
    """Take one number that is known, between limits as in `within`.

    Parameters
    ----------
    value : float, or text with a unit
        What was given; NaN is refused.
    what, faults, least, most, above, unit, mend
        As in `within`.

    Returns
    -------
    float
        NaN where a fault was noted.
    """
    noted = Faults()
    taken = _read(value, what, noted, unit, single=True)
    if not noted and np.isnan(taken):
        noted.add(what, "is not known", value="nan", allowed="a number")
    elif not noted:
        within(taken, what, noted, least, most, above=above, unit=unit, mend=mend)
    faults.extend(tuple(noted))
    return float("nan") if noted else float(taken)


def _read(value: Any, what: str, faults: Faults, unit: str, *, single: bool = False) -> Any:
    """Take numbers, or text with a unit where there is one."""
    if unit and isinstance(value, str):
        return np.float64(from_text(value, unit, what, faults))
    return plain(value, what, faults, single=single)


def check_kind(value: Any, kind: type, what: str, mend: str) -> None:
    """Refuse, at once, what is not the description that a formula reads."""
    with collect() as faults:
        if not isinstance(value, kind):
            name = kind.__name__
            faults.add(what, f"is no {name}", value=brief(value), allowed=name, mend=mend)
