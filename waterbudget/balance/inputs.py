"""All that a result tells of its run, beside what the day loop wrote."""

from __future__ import annotations

from typing import NamedTuple

import pandas as pd
import xarray as xr

from waterbudget.balance.ground import Made
from waterbudget.balance.layout import Cells, Days
from waterbudget.balance.record import Record
from waterbudget.balance.rule import Rule
from waterbudget.balance.start import Start
from waterbudget.balance.supply import Watering
from waterbudget.crop import Crop, Rotation
from waterbudget.descriptions import Number
from waterbudget.soil import Soil, Storage
from waterbudget.system import Delivery, System


class Inputs(NamedTuple):
    """All that a result tells of its run, beside what the day loop wrote."""

    time: pd.DatetimeIndex
    cells: Cells
    days: Days
    made: Made
    et_ref: xr.DataArray
    rain: xr.DataArray
    origins: dict[str, xr.DataArray]  # methods and flags of the weather, by the names of the result
    runoff: xr.DataArray | None
    crop: Crop | Rotation
    soil: Soil
    storage: Storage
    system: System | None
    delivery: Delivery
    watering: Watering
    rule: Rule | None
    record: Record
    start: Start
    share: Number
    resumed: bool
    missing: str

    @property
    def crops(self) -> tuple[Crop, ...]:
        """The crop, or those that follow one another."""
        return self.crop.crops if isinstance(self.crop, Rotation) else (self.crop,)

    @property
    def spotted(self) -> bool:
        """Whether the system has a pattern of spots, or wets a part of the root zone."""
        return self.system is not None and (
            self.system.spot_share is not None or self.watering.wetted_volume is not None
        )
