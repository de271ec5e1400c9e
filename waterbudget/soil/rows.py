"""Tables of layers and of readings by depth: depths that follow one another."""

from __future__ import annotations

import pandas as pd

from waterbudget.errors import Faults
from waterbudget.tables import note_rows

HAIR = 1e-9
"""Depths [m] closer than this are one depth: a tenth of a metre is not exact in binary."""


def check_depths(
    top: pd.Series[float], bottom: pd.Series[float], above: pd.Series[float], what: str, faults: Faults
) -> None:
    """Note layers of a table that do not follow one another from the surface down.

    Parameters
    ----------
    top, bottom : Series of float
        Depths [m]; the index holds the numbers of the rows.
    above : Series of float
        Bottom of the layer above each [m], 0 for the first.
    what : str
        What to call the table in a message.
    faults : Faults
        Takes the first row of each kind of fault.
    """

    def show(row: int) -> str:
        ends = f"the soil above ends at {above[row]:g}"
        return f"top_m {top[row]:g}, bottom_m {bottom[row]:g}, {ends}"

    for problem, bad in (
        ("has a layer without thickness", bottom <= top),
        ("leaves a hole above a layer", top > above + HAIR),
        ("has layers that overlap", top < above - HAIR),
    ):
        mend = "layers follow one another from 0 m down, each from where the one above ends"
        note_rows(faults, what, problem, bad, show, mend=mend)
