"""What a season is told as: irrigations, where water went, a day's arithmetic, yield, pictures, tables."""

from waterbudget.report.comparison import compare, plot_comparison, summarize_comparison
from waterbudget.report.events import events
from waterbudget.report.explain import explain
from waterbudget.report.frames import UnitSystem, daily_frame
from waterbudget.report.leaching import leaching_balance
from waterbudget.report.leaching_plan import leaching_calendar, plan_leaching
from waterbudget.report.ledger import ledger
from waterbudget.report.losses import losses
from waterbudget.report.peak import peak_need
from waterbudget.report.performance import performance
from waterbudget.report.plots import plot_season
from waterbudget.report.salts import salt_ledger
from waterbudget.report.sheet import Explanation, Line
from waterbudget.report.yields import YieldForm, relative_yield

__all__ = [
    "Explanation",
    "Line",
    "UnitSystem",
    "YieldForm",
    "compare",
    "daily_frame",
    "events",
    "explain",
    "leaching_balance",
    "leaching_calendar",
    "ledger",
    "losses",
    "peak_need",
    "performance",
    "plan_leaching",
    "plot_comparison",
    "plot_season",
    "relative_yield",
    "salt_ledger",
    "summarize_comparison",
]
