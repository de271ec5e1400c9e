"""Daily soil-water balance: how much and how often to irrigate, with the arithmetic shown."""

from waterbudget.balance import Rule, simulate
from waterbudget.crop import Crop
from waterbudget.descriptions import concat
from waterbudget.errors import InputError
from waterbudget.soil import Soil
from waterbudget.system import System
from waterbudget.version import __version__
from waterbudget.weather import check_weather, read_weather, reference_et

__all__ = [
    "Crop",
    "InputError",
    "Rule",
    "Soil",
    "System",
    "__version__",
    "check_weather",
    "concat",
    "read_weather",
    "reference_et",
    "simulate",
]
