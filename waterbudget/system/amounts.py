"""From a depth over a field to the volume and the hours of pumping."""

from __future__ import annotations

from typing import Any

import numpy as np

M3_PER_MM_HA = 10.0
"""1 mm of water on 1 ha is 10 m3."""
HOURS_PER_DAY = 24.0
_ROUNDING = 1e-9


def volume(gross: Any, area: Any) -> Any:
    """Volume of a gross depth over an area.

    Parameters
    ----------
    gross : float or array
        Gross depth [mm].
    area : float or array
        Irrigated area [ha].

    Returns
    -------
    float or array
        Volume [m3]; NaN where the area is not known.
    """
    return gross * area * M3_PER_MM_HA


def hours(gross: Any, application_rate: Any, flow: Any, area: Any) -> Any:
    """Hours that a gross depth takes.

    Parameters
    ----------
    gross : float or array
        Gross depth [mm].
    application_rate : float or array
        Mean depth applied per hour [mm h-1]; where it is NaN, flow and area are used.
    flow : float or array
        Flow of the system [m3 h-1].
    area : float or array
        Irrigated area [ha].

    Returns
    -------
    float or array
        Hours; NaN where neither the rate nor flow and area are known.
    """
    return np.where(np.isnan(application_rate), volume(gross, area) / flow, gross / application_rate)


def beyond_a_day(taken: Any) -> Any:
    """Tell whether a watering takes longer than the day on which the balance counts it.

    Parameters
    ----------
    taken : float or array
        Hours of the watering; NaN, not known, does not.

    Returns
    -------
    bool or array
        A depth that was made for 24 hours does not, whatever its rounding.
    """
    return taken > HOURS_PER_DAY * (1.0 + _ROUNDING)
