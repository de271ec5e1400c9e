"""System: turns a description into what reaches the soil, how fast, and over which part of it."""

from waterbudget.system.amounts import hours, volume
from waterbudget.system.system import Delivery, System, deliver

__all__ = ["Delivery", "System", "deliver", "hours", "volume"]
