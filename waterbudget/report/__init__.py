"""What a season is told as: irrigations, where water went, a day's arithmetic, yield, a picture, tables."""

from waterbudget.report.events import events
from waterbudget.report.explain import explain
from waterbudget.report.frames import UnitSystem, daily_frame
from waterbudget.report.ledger import ledger
from waterbudget.report.plots import plot_season
from waterbudget.report.sheet import Explanation, Line
from waterbudget.report.yields import YieldForm, relative_yield

__all__ = [
    "Explanation",
    "Line",
    "UnitSystem",
    "YieldForm",
    "daily_frame",
    "events",
    "explain",
    "ledger",
    "plot_season",
    "relative_yield",
]
