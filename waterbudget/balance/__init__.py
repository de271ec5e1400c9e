"""Balance: one day's physics written once, and what runs it over days, fields and systems."""

from waterbudget.balance.derive import (
    allowance,
    depletion_before,
    depth_to_fill,
    running_total,
    watch_weights,
    watched_mean,
    wetted_depth,
)
from waterbudget.balance.rule import Rule
from waterbudget.balance.simulate import simulate

__all__ = [
    "Rule",
    "allowance",
    "depletion_before",
    "depth_to_fill",
    "running_total",
    "simulate",
    "watch_weights",
    "watched_mean",
    "wetted_depth",
]
