"""Runoff of rain, by day."""

from __future__ import annotations

from typing import Any

import numpy as np


def curve_number_runoff(rain: Any, curve_number: Any) -> Any:
    """Runoff of a day's rain by the curve-number relation.

    ``(P - 0.2 S)^2 / (P + 0.8 S)`` once ``P`` exceeds the initial abstraction ``0.2 S``, where
    ``S = 25400 / CN - 254`` mm is the potential retention. The curve number is taken as given: it
    is not adjusted to the day's moisture.

    Parameters
    ----------
    rain : float, ndarray or DataArray
        Rain of the day [mm].
    curve_number : float, ndarray or DataArray
        1 to 100; 100 sheds all rain.

    Returns
    -------
    float, ndarray or DataArray
        Runoff [mm], broadcast over both.

    Notes
    -----
    Source: USDA Natural Resources Conservation Service, National Engineering Handbook, part 630,
    chapter 10 (relation written from memory).
    """
    retention = 25400.0 / curve_number - 254.0
    effective = np.maximum(rain - 0.2 * retention, 0.0)
    return effective * effective / np.maximum(rain + 0.8 * retention, 1e-9)
