"""Crop coefficients: climate adjustment, upper limit, cover. Plain numbers or arrays in and out.

Source of every formula: FAO Irrigation and Drainage Paper 56 (1998), by equation number.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Values = float | NDArray[np.float64] | Any

STANDARD_WIND = 2.0
"""Wind speed [m s-1] for which the tabled coefficients hold (FAO-56 Tables 12 and 17)."""
STANDARD_RHMIN = 45.0
"""Minimum relative humidity [%] for which the tabled coefficients hold (FAO-56 Tables 12 and 17)."""
BARE_COEFFICIENT = 0.15
"""Kc min, the basal coefficient of dry bare soil in Eq. 76 (FAO-56 p. 149: about 0.15)."""


def climate_increment(wind: Values, rhmin: Values, height: Values) -> Values:
    """Rise of a coefficient in a windier or drier climate than the tabled one.

    ``(0.04 (u2 - 2) - 0.004 (RHmin - 45)) (h / 3)^0.3``, the bracket common to Eq. 62, 65, 68, 70
    and 72. Wind is limited to 1-6 m/s, humidity to 20-80 % and height to at most 10 m, the
    range that the text of Eq. 62 gives; a height of 0 (bare soil) gives no increment.

    Parameters
    ----------
    wind : float or array
        Stage mean of wind speed at 2 m [m s-1].
    rhmin : float or array
        Stage mean of minimum relative humidity [%].
    height : float or array
        Crop height [m].

    Returns
    -------
    float or array
        To be added to the tabled coefficient [1].
    """
    wind = np.minimum(np.maximum(wind, 1.0), 6.0)
    rhmin = np.minimum(np.maximum(rhmin, 20.0), 80.0)
    return (0.04 * (wind - STANDARD_WIND) - 0.004 * (rhmin - STANDARD_RHMIN)) * (
        np.minimum(height, 10.0) / 3.0
    ) ** 0.3


def adjust_to_climate(coefficient: Values, wind: Values, rhmin: Values, height: Values) -> Values:
    """Adjust a tabled mid-season or end coefficient to the climate, Eq. 62, 65 and 70.

    A coefficient below 0.45 (a crop left to dry) is not adjusted, as the text of Eq. 65 says.

    Parameters
    ----------
    coefficient : float or array
        Tabled Kc mid, Kc end, Kcb mid or Kcb end [1].
    wind, rhmin, height : float or array
        As in `climate_increment`; the height is the mean height of the mid-season.

    Returns
    -------
    float or array
        Adjusted coefficient [1].
    """
    return coefficient + (coefficient >= 0.45) * climate_increment(wind, rhmin, height)


def tall_to_short_ratio(wind: Values, rhmin: Values) -> Values:
    """Ratio of tall (alfalfa) to short (grass) reference evapotranspiration, Eq. 68.

    ``1.2 + (0.04 (u2 - 2) - 0.004 (RHmin - 45)) (h / 3)^0.3`` with ``h`` = 0.5 m, the height of
    the tall reference.

    Parameters
    ----------
    wind, rhmin : float or array
        As in `climate_increment`.

    Returns
    -------
    float or array
        Kc for the short reference over Kc for the tall one [1].
    """
    return 1.2 + climate_increment(wind, rhmin, 0.5)


def upper_limit(basal: Values, wind: Values, rhmin: Values, height: Values) -> Values:
    """Upper limit Kc max of evaporation and transpiration after wetting, Eq. 72.

    Parameters
    ----------
    basal : float or array
        Basal coefficient of the day [1].
    wind, rhmin, height : float or array
        As in `climate_increment`; the height is that of the day.

    Returns
    -------
    float or array
        ``max(1.2 + increment, basal + 0.05)`` [1].
    """
    return np.maximum(1.2 + climate_increment(wind, rhmin, height), basal + 0.05)


def cover_from_basal(basal: Values, limit: Values, height: Values) -> Values:
    """Fraction of the ground covered, from the basal coefficient, Eq. 76.

    Parameters
    ----------
    basal : float or array
        Basal coefficient of the day [1].
    limit : float or array
        Kc max of the day [1].
    height : float or array
        Crop height of the day [m].

    Returns
    -------
    float or array
        Between 0 and 0.99 (Eq. 75 keeps at least 0.01 of the ground exposed).
    """
    above = np.maximum(basal - BARE_COEFFICIENT, 0.0)
    share = above / np.maximum(limit - BARE_COEFFICIENT, 0.01)
    return np.minimum(share ** (1.0 + 0.5 * height), 0.99)
