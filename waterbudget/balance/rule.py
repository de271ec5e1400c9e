"""Rule, the description: when to irrigate and how much."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import xarray as xr

from waterbudget.balance.decide import Choice
from waterbudget.checks import labelled_fields, note_where
from waterbudget.descriptions import Number, Origin, flag, freeze, moment, number
from waterbudget.errors import Faults, collect

NUMBERS = (
    "allowable_depletion",
    "refill_to",
    "net_depth",
    "min_depth",
    "max_depth",
    "min_interval",
    "adequacy",
)
_OPTIONAL = ("allowable_depletion", "net_depth", "max_depth", "adequacy")
NO_LIMIT = 1e6
"""Stands for no largest depth [mm] and no last day: larger than any, but still a number."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Rule:
    """When to irrigate and how much. Depths are net: what enters the soil, as a mean over the field.

    Every number may be a float in the unit given, text with a unit (``"1 in"``), or a DataArray on
    label dimensions such as ``field``.

    Parameters
    ----------
    allowable_depletion : number, optional
        Depletion that triggers irrigation, as a fraction of the available water of the root zone
        [1]. None: at stress, which is when the readily available water is used.
    refill_to : number
        Depletion left after irrigation, as a fraction of available water [1]; 0 refills all.
    net_depth : number, optional
        The same net depth every time [mm], in place of a refill.
    min_depth : number
        Wait until an irrigation is worth this net depth [mm].
    max_depth : number, optional
        Never more than this net depth at once [mm].
    min_interval : number
        Fewest days from one irrigation to the next [day]; 1 allows every day.
    last_date : date or DataArray of dates, optional
        No irrigation after it.
    watch_driest_quarter : bool
        Where watering is uneven: decide by the driest quarter of the spots that morning, in place of their
        mean. With `adequacy`: by that of the part to be filled.
    adequacy : number, optional
        Where watering is uneven: part of the watched field that one irrigation is to fill [1], 0.01-1: the
        depth is the smallest that does so, from what each spot lacks that morning and the share that it
        receives, one above the mean counting as the mean. It goes by whole spots. The rest of the field stays
        dry, and the decision does not look at it. Without an adequacy the mean depth is what is lacking, and
        the drier spots stay short.
    provenance : mapping
        Not for the user.

    Raises
    ------
    InputError
        With every fault of the description at once.

    Notes
    -----
    Irrigation by rule happens only while a crop stands. The decision is taken in the morning on
    the depletion at the end of the day before.

    Examples
    --------
    >>> Rule(allowable_depletion=0.5, max_depth="1.5 in", last_date="2024-08-20")
    """

    allowable_depletion: Any = None
    refill_to: Any = field(default=0.0, metadata={"source": "default: refill all"})
    net_depth: Any = None
    min_depth: Any = field(default=0.0, metadata={"source": "default: any depth"})
    max_depth: Any = None
    min_interval: Any = field(default=1.0, metadata={"source": "default: every day may irrigate"})
    last_date: Any = None
    watch_driest_quarter: Any = field(default=False, metadata={"source": "default: the mean of the spots"})
    adequacy: Any = None
    provenance: Mapping[str, Origin] = field(default_factory=dict, repr=False)

    def __post_init__(self) -> None:
        """Bring every value to its canonical form; raise all faults together."""
        with collect() as faults:
            changes: dict[str, Any] = {
                name: number(value, name, faults, optional=name in _OPTIONAL)
                for name in NUMBERS
                if (value := getattr(self, name)) is not None
            }
            if self.last_date is not None:
                changes["last_date"] = moment(self.last_date, "last_date", faults)
            changes["watch_driest_quarter"] = flag(self.watch_driest_quarter, "watch_driest_quarter", faults)
            freeze(self, changes)
            labelled_fields(self, faults)
            if not faults:
                _check(self, faults)


def _check(rule: Rule, faults: Faults) -> None:
    """Note numbers that contradict one another."""
    known = {name: xr.DataArray(value) for name in NUMBERS if (value := getattr(rule, name)) is not None}
    larger = (
        ("min_depth", "max_depth", "is larger than max_depth"),
        ("min_depth", "net_depth", "is larger than net_depth"),
        ("net_depth", "max_depth", "is larger than max_depth, and would be cut to it"),
        ("refill_to", "allowable_depletion", "leaves more depletion than the one that triggers"),
    )
    for first, second, problem in larger:
        if first in known and second in known:
            shown = {name: known[name] for name in (first, second)}
            note_where(faults, first, problem, known[first] > known[second], shown)
    if "net_depth" in known:
        both = known["net_depth"].notnull() & (known["refill_to"] > 0)
        shown = {name: known[name] for name in ("net_depth", "refill_to")}
        note_where(
            faults, "refill_to", "has no effect beside net_depth", both, shown, mend="give one of them"
        )
        if "adequacy" in known:
            both = known["net_depth"].notnull() & known["adequacy"].notnull()
            shown = {name: known[name] for name in ("net_depth", "adequacy")}
            note_where(
                faults, "adequacy", "has no effect beside net_depth", both, shown, mend="give one of them"
            )


def choose(rule: Rule) -> dict[str, Number]:
    """Lower a rule to the plain labelled numbers of `Choice`, all but the one that needs the system.

    Parameters
    ----------
    rule : Rule

    Returns
    -------
    dict of str to float or DataArray
        Keyed by the fields of `Choice`, without ``over_application``; NaN ("not given") has become a neutral
        number.
    """
    nan = float("nan")
    allowable = nan if rule.allowable_depletion is None else rule.allowable_depletion
    net_depth = nan if rule.net_depth is None else rule.net_depth
    last = xr.DataArray(np.datetime64("NaT", "ns") if rule.last_date is None else rule.last_date)
    numbers = last.values.astype("datetime64[D]").astype(np.int64).astype(np.float64)
    days = last.copy(data=np.where(np.isnat(last.values), NO_LIMIT, numbers))
    values: dict[str, Number] = {
        "at_stress": _missing(allowable),
        "allowable": _known(allowable, 0.0),
        "refill_to": rule.refill_to,
        "fixed": 1.0 - _missing(net_depth),
        "net_depth": _known(net_depth, 0.0),
        "min_depth": rule.min_depth,
        "max_depth": _known(nan if rule.max_depth is None else rule.max_depth, NO_LIMIT),
        "min_interval": rule.min_interval,
        "last_day": days if days.dims else float(days),
    }
    assert tuple(values) == Choice._fields[:-1]
    return values


def _missing(value: Number) -> Number:
    if isinstance(value, xr.DataArray):
        return value.isnull().astype(np.float64)
    return float(np.isnan(value))


def _known(value: Number, otherwise: float) -> Number:
    if isinstance(value, xr.DataArray):
        return value.fillna(otherwise)
    return otherwise if np.isnan(value) else value
