"""A farm folder in, result files out; a fault of one field stops no other."""

from waterbudget.batch.outcome import FarmRun
from waterbudget.batch.run import run_farm

__all__ = ["FarmRun", "run_farm"]
