"""Soil: turns a description into the water it holds, evaporates and sheds."""

from waterbudget.soil.runoff import curve_number_runoff
from waterbudget.soil.soil import Soil, Storage, store

__all__ = ["Soil", "Storage", "curve_number_runoff", "store"]
