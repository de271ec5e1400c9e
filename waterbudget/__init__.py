"""Daily soil-water balance: how much and how often to irrigate, with the arithmetic shown."""

from waterbudget import handbook
from waterbudget.balance import Rule, simulate
from waterbudget.batch import run_farm
from waterbudget.crop import Crop, Rotation
from waterbudget.errors import InputError
from waterbudget.joining import concat
from waterbudget.plan import week_ahead
from waterbudget.report import (
    compare,
    events,
    explain,
    leaching_balance,
    leaching_calendar,
    ledger,
    losses,
    peak_need,
    performance,
    plan_leaching,
    plot_comparison,
    plot_season,
    relative_yield,
    salt_ledger,
    summarize_comparison,
)
from waterbudget.soil import Soil, observed_depletion
from waterbudget.system import CatchCans, System, find_faults
from waterbudget.version import __version__
from waterbudget.weather import (
    SubDaily,
    TableLayout,
    calibrate_hargreaves,
    check_weather,
    estimates,
    fill_weather,
    fit_stations,
    outlook,
    read_weather,
    reference_et,
)

__all__ = [
    "CatchCans",
    "Crop",
    "InputError",
    "Rotation",
    "Rule",
    "Soil",
    "SubDaily",
    "System",
    "TableLayout",
    "__version__",
    "calibrate_hargreaves",
    "check_weather",
    "compare",
    "concat",
    "estimates",
    "events",
    "explain",
    "fill_weather",
    "find_faults",
    "fit_stations",
    "handbook",
    "leaching_balance",
    "leaching_calendar",
    "ledger",
    "losses",
    "observed_depletion",
    "outlook",
    "peak_need",
    "performance",
    "plan_leaching",
    "plot_comparison",
    "plot_season",
    "read_weather",
    "reference_et",
    "relative_yield",
    "run_farm",
    "salt_ledger",
    "simulate",
    "summarize_comparison",
    "week_ahead",
]
