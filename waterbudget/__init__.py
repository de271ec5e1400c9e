"""Daily soil-water balance: how much and how often to irrigate, with the arithmetic shown."""

from waterbudget import handbook
from waterbudget.balance import Rule, simulate
from waterbudget.batch import run_farm
from waterbudget.crop import Crop, Rotation
from waterbudget.errors import InputError
from waterbudget.joining import concat
from waterbudget.plan import week_ahead
from waterbudget.report import events, explain, ledger, plot_season, relative_yield
from waterbudget.soil import Soil, observed_depletion
from waterbudget.system import System
from waterbudget.version import __version__
from waterbudget.weather import check_weather, read_weather, reference_et

__all__ = [
    "Crop",
    "InputError",
    "Rotation",
    "Rule",
    "Soil",
    "System",
    "__version__",
    "check_weather",
    "concat",
    "events",
    "explain",
    "handbook",
    "ledger",
    "observed_depletion",
    "plot_season",
    "read_weather",
    "reference_et",
    "relative_yield",
    "run_farm",
    "simulate",
    "week_ahead",
]
