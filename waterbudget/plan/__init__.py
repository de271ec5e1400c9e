"""Plan: what a result means for the days ahead."""

from waterbudget.plan.week import week_ahead

__all__ = ["week_ahead"]
