"""Balance: one day's physics written once, and what runs it over days, fields and systems."""

from waterbudget.balance.derive import (
    LOOKED_AT,
    allowance,
    depletion_before,
    depth_to_fill,
    quarter_weights,
    running_total,
    watched_mean,
    watched_weights,
    weights_looked_at,
    wetted_depth,
)
from waterbudget.balance.rule import Rule
from waterbudget.balance.simulate import simulate

__all__ = [
    "LOOKED_AT",
    "Rule",
    "allowance",
    "depletion_before",
    "depth_to_fill",
    "quarter_weights",
    "running_total",
    "simulate",
    "watched_mean",
    "watched_weights",
    "weights_looked_at",
    "wetted_depth",
]
