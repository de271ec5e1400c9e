"""What a caller gives: rows, numbers, counts and words. Whatever is odd becomes a fault with a name."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from waterbudget.descriptions import number
from waterbudget.errors import Fault, Faults, brief

Floats = npt.NDArray[np.float64]


# ------------------------------------------------------------- rows, in a unit of the variables table
def members(values: Any) -> list[Any] | None:
    """Give the members of one row; None when it is none.

    Parameters
    ----------
    values : sequence, array, Series or one-dimensional DataArray
    """
    if isinstance(values, pd.Series | xr.DataArray | np.ndarray):
        array = np.asarray(values)
        values = (
            None if array.dtype.kind in "mM" else array.tolist()
        )  # as numbers, dates would be nanoseconds
    if isinstance(values, str | bytes | bytearray) or not isinstance(values, Sequence):
        return None
    row = [
        one.item() if isinstance(one, np.ndarray | xr.DataArray) and one.ndim == 0 else one for one in values
    ]
    return row if all(pd.api.types.is_scalar(one) for one in row) else None


def numbers(
    values: Any,
    name: str,
    faults: Faults,
    *,
    what: str,
    each: str,
    optional: bool = False,
) -> Floats:
    """Bring one row of numbers to an array that cannot be changed.

    Parameters
    ----------
    values : sequence, array, Series or one-dimensional DataArray
        Numbers in the unit of the variables table, or text with a unit.
    name : str
        Row of the variables table.
    faults : Faults
        Takes what is wrong: one fault, with its count and first place.
    what, each : str
        What to call the row and one of its members in a message.
    optional : bool
        Allow None and NaN for a number that is missing.

    Returns
    -------
    array
        NaN where a number is missing or a fault was noted.
    """
    given = members(values)
    if given is None:
        faults.add(
            what,
            "is not one row of numbers",
            value=brief(values),
            allowed=f"one for each {each}",
            mend="of an array with several dimensions take values.ravel()",
        )
        return np.full(0, np.nan)
    row = np.full(len(given), np.nan)
    wrong: dict[str, list[tuple[int, Fault]]] = {}
    for i, one in enumerate(given):
        noted = Faults()
        if not pd.isna(one):
            row[i] = number(one, name, noted, what=what)
        elif not optional:
            noted.add(what, "is missing", value=one, mend="give the number")
        for fault in noted:
            wrong.setdefault(fault.problem, []).append((i + 1, fault))
    for found in wrong.values():
        place, fault = found[0]
        faults.add(
            fault.what,
            fault.problem,
            where=f"{each} {place}",
            value=fault.value,
            count=len(found),
            allowed=fault.allowed,
            mend=fault.mend,
        )
    row.flags.writeable = False
    return row


def plain_number(value: Any, name: str, faults: Faults, *, what: str = "") -> float:
    """Bring a number to a float, as `waterbudget.descriptions.number` does; one for each label is refused."""
    result = number(value, name, faults, what=what)
    if isinstance(result, xr.DataArray):
        faults.add(what or name, "varies by label", allowed="one number", mend="describe one test at a time")
        return float("nan")
    return result


# --------------------------------------------------------------------------- numbers without a unit
def plain(value: Any, what: str, faults: Faults, *, each: str = "value", single: bool = False) -> Any:
    """Take numbers that have no unit of their own; text, truth values and dates are none.

    Parameters
    ----------
    value : float, array_like or DataArray
        None inside a row is a number that is missing.
    what : str
        What to call it in a message.
    faults : Faults
        Takes what is wrong.
    each : str
        What to call one of several.
    single : bool
        Refuse more than one number.

    Returns
    -------
    float, array or DataArray
        float64; a DataArray keeps its labels, a Series of numbers is as it came. NaN where a number is
        missing or a fault was noted.
    """
    if single and (isinstance(value, list | tuple) or getattr(value, "ndim", 0) > 0):
        faults.add(what, "is more than one number", value=brief(value), allowed="one number")
        return np.float64(np.nan)
    dtype = getattr(value, "dtype", None)
    if isinstance(dtype, np.dtype) and dtype.kind in "mM":  # stored as numbers, but dates and spans are none
        allowed = "one number" if single else "a number, or an array of numbers"
        faults.add(what, "is not a number", value=brief(value), allowed=allowed)
        return np.float64(np.nan)
    if isinstance(value, xr.DataArray):
        return value.copy(data=np.asarray(plain(value.values, what, faults, each=each)))
    if isinstance(dtype, np.dtype) and dtype.kind in "iuf":
        return value if isinstance(value, pd.Series) else np.asarray(value, np.float64)[()]
    try:
        given = np.asarray(value, dtype=object)
    except (TypeError, ValueError):  # arrays of different shapes, or what makes no array at all
        given = np.array(None)
    flat = given.ravel().tolist()
    sound = [_is_number(one) for one in flat]
    missing = [given.ndim > 0 and (one is None or one is pd.NA) for one in flat]
    bad = [not (a or b) for a, b in zip(sound, missing, strict=True)]
    if any(bad):
        place = bad.index(True)
        faults.add(
            what,
            "holds what is not a number" if given.ndim else "is not a number",
            where=f"{each} {place % given.shape[-1] + 1}" if given.ndim else "",
            value=brief(flat[place] if given.ndim else value),
            count=sum(bad),
            allowed="one number" if single else "a number, or an array of numbers",
        )
    array = np.array([one if good else np.nan for one, good in zip(flat, sound, strict=True)], np.float64)
    return array.reshape(given.shape)[()]


def _is_number(one: Any) -> bool:
    return isinstance(one, int | float | np.number) and not isinstance(one, bool | complex | np.timedelta64)


def note_bad(
    faults: Faults,
    what: str,
    problem: str,
    values: Any,
    bad: Any,
    *,
    each: str = "value",
    allowed: str,
    mend: str = "",
) -> None:
    """Note what is marked as bad: how many, the first place on the last axis, and the value there."""
    array, marked = np.asarray(values, dtype=np.float64), np.asarray(bad)
    if not marked.any():
        return
    place = int(np.flatnonzero(marked)[0])
    faults.add(
        what,
        problem,
        where=f"{each} {place % array.shape[-1] + 1}" if array.ndim else "",
        value=f"{array.flat[place]:g}",
        count=int(marked.sum()),
        allowed=allowed,
        mend=mend,
    )


def check_shapes(faults: Faults, **given: Any) -> bool:
    """Refuse arrays whose shapes do not fit one another, and DataArrays whose labels differ.

    Parameters
    ----------
    faults : Faults
        Takes what is wrong.
    **given : float, array or DataArray
        Numbers by name.

    Returns
    -------
    bool
        Whether they fit, so that they can be set against one another.
    """
    labelled = [value for value in given.values() if isinstance(value, xr.DataArray) and value.ndim]
    if labelled:
        try:
            xr.align(*labelled, join="exact", copy=False)
        except ValueError:
            faults.add(", ".join(given), "have different labels", allowed="the same labels in the same order")
            return False
        if len({value.dims for value in labelled}) > 1:  # they broadcast by name
            return True
    shapes = [np.shape(value) for value in given.values()]
    try:
        np.broadcast_shapes(*shapes)
    except ValueError:
        value = ", ".join(f"shape {shape}" for shape in shapes)
        faults.add(", ".join(given), "do not fit", value=value, allowed="one number, or one for one")
        return False
    return True


# ---------------------------------------------------------------------------------- counts and words
def check_count(value: Any, what: str, faults: Faults, *, least: int = 1, usual: str = "") -> None:
    """Refuse what is not a whole number from the least on."""
    if isinstance(value, bool) or not isinstance(value, int | np.integer) or value < least:
        allowed = f"a whole number from {least} on"
        faults.add(
            what, "is not a count", value=repr(value), allowed=f"{allowed}; {usual}" if usual else allowed
        )


def check_resampling(seed: Any, resamples: Any, faults: Faults, *, least: int, usual: str) -> None:
    """Refuse a seed or a number of resamples that is not a count: without a seed no result comes twice."""
    check_count(seed, "seed", faults, least=0)
    check_count(resamples, "resamples", faults, least=least, usual=usual)


def check_level(level: Any, faults: Faults) -> None:
    """Refuse the level of a confidence interval that is not between 0 and 1."""
    noted = Faults()
    value = plain(level, "level", noted, single=True)
    if not noted and not 0.0 < value < 1.0:
        mend = "give a fraction, not a percentage" if value > 1.0 else ""
        noted.add(
            "level", "is outside its range", value=f"{value:g}", allowed="above 0 and below 1", mend=mend
        )
    faults.extend(tuple(noted))


def check_word(
    value: Any, what: str, faults: Faults, known: Sequence[str], problem: str = "is not known"
) -> None:
    """Refuse a word that is not among those known."""
    if not isinstance(value, str) or value not in known:
        faults.add(what, problem, value=brief(value), allowed=", ".join(known))
