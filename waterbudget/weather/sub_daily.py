"""How a table in steps shorter than a day becomes days, said by the one who has it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from waterbudget.errors import brief, collect

Stamp = Literal["start", "end"]


@dataclass(frozen=True, kw_only=True)
class SubDaily:
    """How a table in steps shorter than a day becomes days.

    Parameters
    ----------
    stamp : {"start", "end"}
        Whether a step bears the time at which it began or at which it ended.
    utc_offset : float, optional
        Local standard time less universal time [h], -12 to 14, in quarters: -8 where it is 04:00 at noon
        UTC. Give it where stamps are in UTC or bear a time zone; without it they are local standard
        time. A day is a local day, of 24 hours all year.
    least_share : float
        Share of a day's steps that must be present [1], above 0.5 and at most 1, for minima, maxima and
        means. Rain, evapotranspiration, radiation and sunshine of a day need every step always: what
        fell or shone in a missing hour is not known.

    Raises
    ------
    InputError
        With every option outside its range.

    Examples
    --------
    >>> SubDaily(stamp="end", utc_offset=-8).least_share
    1.0
    """

    stamp: Stamp
    utc_offset: float | None = None
    least_share: float = 1.0

    def __post_init__(self) -> None:
        """Check every option."""
        with collect() as faults:
            if self.stamp not in get_args(Stamp):
                faults.add(
                    "stamp", "is unknown", value=brief(self.stamp), allowed="'start' or 'end' of the step"
                )
            offset = self.utc_offset
            if offset is not None and not (
                _is_number(offset) and -12 <= offset <= 14 and offset * 4 % 1 == 0
            ):
                faults.add(
                    "utc_offset",
                    "is no offset of a local time",
                    value=brief(offset),
                    allowed="-12 to 14 h in quarters of an hour",
                    mend="local standard time less UTC: 1 in central Europe, -8 at the Pacific coast",
                )
            share = self.least_share
            if not (_is_number(share) and 0.5 < share <= 1):
                faults.add("least_share", "is no share", value=brief(share), allowed="above 0.5, at most 1")


def _is_number(value: object) -> bool:
    return isinstance(value, int | float | np.number) and not isinstance(value, bool)
