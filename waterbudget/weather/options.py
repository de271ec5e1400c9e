"""What the user said about a source of weather, and the names that one may have."""

from __future__ import annotations

import os
from collections.abc import Hashable, Mapping, Sequence
from typing import Literal, NamedTuple

import pandas as pd
import xarray as xr

from waterbudget.variables import VARIABLES
from waterbudget.weather.layout import TableLayout
from waterbudget.weather.sub_daily import SubDaily
from waterbudget.weather.tables import Codes

Source = str | os.PathLike[str] | pd.DataFrame | xr.Dataset
Surface = Literal["short", "tall"]
MissingDays = Literal["raise", "nan"]
Code = float | str

WEATHER = tuple(name for name, variable in VARIABLES.items() if variable.kind == "weather")
"""Canonical names of the weather variables of a day."""

STEPS = tuple(name for name, variable in VARIABLES.items() if variable.kind == "step")
"""Names of what only tables in steps shorter than a day have."""


class Options(NamedTuple):
    """What the user said about the source, as in `waterbudget.weather.read_weather`."""

    columns: Mapping[str, Hashable]
    units: Mapping[str, str]
    surface: Surface | None
    layout: TableLayout
    sub_daily: SubDaily | None
    missing_codes: Sequence[Code] | Mapping[str, Sequence[Code]]
    trace: Mapping[Code, float]
    missing_days: MissingDays

    def names(self) -> tuple[str, ...]:
        """Names that a source of this kind may have."""
        if self.sub_daily is None:
            return WEATHER
        # The intensity of a day's rain while it fell is no mean over its steps.
        return tuple(name for name in (*WEATHER, *STEPS) if name != "rain_intensity")

    def codes(self, name: str) -> Codes:
        """Say how the cells of a variable are read."""
        missing = self.missing_codes
        of_name = missing.get(name, ()) if isinstance(missing, Mapping) else missing
        return Codes(self.layout.decimal, tuple(of_name), self.trace if name == "rain" else {})
