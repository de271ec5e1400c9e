"""The handbook: published tables as CSV beside their sources, and look-up by name.

Nothing is read before it is asked for.
"""

from waterbudget.handbook.lookup import CropRow, SoilRow, SystemRow, crop, soil, system
from waterbudget.handbook.response import (
    DegreeDaysRow,
    PlasticMulchRow,
    SaltToleranceRow,
    YieldResponseRow,
    degree_days,
    plastic_mulch,
    salt_tolerance,
    yield_response,
)
from waterbudget.handbook.tables import TABLES, crops, soils, systems, table

__all__ = [
    "TABLES",
    "CropRow",
    "DegreeDaysRow",
    "PlasticMulchRow",
    "SaltToleranceRow",
    "SoilRow",
    "SystemRow",
    "YieldResponseRow",
    "crop",
    "crops",
    "degree_days",
    "plastic_mulch",
    "salt_tolerance",
    "soil",
    "soils",
    "system",
    "systems",
    "table",
    "yield_response",
]
