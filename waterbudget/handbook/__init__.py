"""The handbook: published tables as CSV beside their sources, and look-up by name.

Nothing is read before it is asked for.
"""

from waterbudget.handbook.lookup import CropRow, SoilRow, SystemRow, crop, soil, system
from waterbudget.handbook.tables import TABLES, crops, soils, systems, table

__all__ = [
    "TABLES",
    "CropRow",
    "SoilRow",
    "SystemRow",
    "crop",
    "crops",
    "soil",
    "soils",
    "system",
    "systems",
    "table",
]
