"""Pressure, humidity and wind: the equations of FAO Irrigation and Drainage Paper 56, chapter 3.

Every function takes plain numbers, numpy arrays or DataArrays, and gives the same kind back; NaN
gives NaN. Source of all: Allen, Pereira, Raes and Smith (1998), Crop evapotranspiration, FAO
Irrigation and Drainage Paper 56; the equation number stands in each docstring.
"""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np

Numbers: TypeAlias = Any
"""float, numpy array of float, or DataArray: numpy's ufuncs give back the kind that they are given,
which type checkers cannot follow through xarray."""


def pressure_from_elevation(elevation: Numbers) -> Numbers:
    """Atmospheric pressure [kPa] of the standard atmosphere at 20 degC, FAO-56 Eq. 7.

    Parameters
    ----------
    elevation : float, array or DataArray
        Height above sea level [m].

    Returns
    -------
    float, array or DataArray
        Atmospheric pressure [kPa].
    """
    return 101.3 * ((293 - 0.0065 * elevation) / 293) ** 5.26


def psychrometric_constant(pressure: Numbers) -> Numbers:
    """Psychrometric constant [kPa degC-1], FAO-56 Eq. 8, with a latent heat of 2.45 MJ kg-1.

    Parameters
    ----------
    pressure : float, array or DataArray
        Atmospheric pressure [kPa].

    Returns
    -------
    float, array or DataArray
        Psychrometric constant [kPa degC-1].
    """
    return 0.665e-3 * pressure


def saturation_vapour_pressure(temperature: Numbers) -> Numbers:
    """Saturation vapour pressure over water [kPa], FAO-56 Eq. 11.

    Parameters
    ----------
    temperature : float, array or DataArray
        Air temperature [degC].

    Returns
    -------
    float, array or DataArray
        Saturation vapour pressure [kPa].
    """
    return 0.6108 * np.exp(17.27 * temperature / (temperature + 237.3))


def mean_saturation_vapour_pressure(tmin: Numbers, tmax: Numbers) -> Numbers:
    """Mean saturation vapour pressure of a day [kPa], FAO-56 Eq. 12.

    Parameters
    ----------
    tmin, tmax : float, array or DataArray
        Minimum and maximum air temperature of the day [degC].

    Returns
    -------
    float, array or DataArray
        Mean of the saturation vapour pressures at both [kPa].
    """
    return (saturation_vapour_pressure(tmax) + saturation_vapour_pressure(tmin)) / 2


def saturation_slope(temperature: Numbers) -> Numbers:
    """Slope of the saturation vapour pressure curve [kPa degC-1], FAO-56 Eq. 13.

    Parameters
    ----------
    temperature : float, array or DataArray
        Air temperature [degC].

    Returns
    -------
    float, array or DataArray
        Slope [kPa degC-1].
    """
    return 4098 * saturation_vapour_pressure(temperature) / (temperature + 237.3) ** 2


def vapour_pressure_from_dewpoint(dewpoint: Numbers) -> Numbers:
    """Actual vapour pressure [kPa] from the dew point, FAO-56 Eq. 14.

    Parameters
    ----------
    dewpoint : float, array or DataArray
        Dew point temperature [degC].

    Returns
    -------
    float, array or DataArray
        Actual vapour pressure [kPa].
    """
    return saturation_vapour_pressure(dewpoint)


def dewpoint_from_vapour_pressure(vapour_pressure: Numbers) -> Numbers:
    """Dew point [degC] of a vapour pressure, FAO-56 Eq. 14 solved for it.

    Parameters
    ----------
    vapour_pressure : float, array or DataArray
        Actual vapour pressure [kPa], above 0.

    Returns
    -------
    float, array or DataArray
        Dew point temperature [degC].
    """
    ratio = np.log(vapour_pressure / 0.6108)
    return 237.3 * ratio / (17.27 - ratio)


def vapour_pressure_from_psychrometer(
    dry_bulb: Numbers, wet_bulb: Numbers, pressure: Numbers, coefficient: float
) -> Numbers:
    """Actual vapour pressure [kPa] from dry and wet bulb temperatures, FAO-56 Eq. 15 and 16.

    Parameters
    ----------
    dry_bulb, wet_bulb : float, array or DataArray
        Temperatures of the dry and of the wet bulb [degC].
    pressure : float, array or DataArray
        Atmospheric pressure [kPa].
    coefficient : float
        Coefficient of the instrument [degC-1]: 0.000662 ventilated at some 5 m/s, 0.000800 naturally
        ventilated at about 1 m/s, 0.001200 indoors without ventilation.

    Returns
    -------
    float, array or DataArray
        Actual vapour pressure [kPa].
    """
    return saturation_vapour_pressure(wet_bulb) - coefficient * pressure * (dry_bulb - wet_bulb)


def vapour_pressure_from_rhmin_rhmax(tmin: Numbers, tmax: Numbers, rhmin: Numbers, rhmax: Numbers) -> Numbers:
    """Actual vapour pressure [kPa] from minimum and maximum relative humidity, FAO-56 Eq. 17.

    Parameters
    ----------
    tmin, tmax : float, array or DataArray
        Minimum and maximum air temperature of the day [degC].
    rhmin, rhmax : float, array or DataArray
        Minimum and maximum relative humidity of the day [%].

    Returns
    -------
    float, array or DataArray
        Actual vapour pressure [kPa].
    """
    at_night = saturation_vapour_pressure(tmin) * rhmax / 100
    at_noon = saturation_vapour_pressure(tmax) * rhmin / 100
    return (at_night + at_noon) / 2


def vapour_pressure_from_rhmax(tmin: Numbers, rhmax: Numbers) -> Numbers:
    """Actual vapour pressure [kPa] from maximum relative humidity alone, FAO-56 Eq. 18.

    Parameters
    ----------
    tmin : float, array or DataArray
        Minimum air temperature of the day [degC].
    rhmax : float, array or DataArray
        Maximum relative humidity of the day [%].

    Returns
    -------
    float, array or DataArray
        Actual vapour pressure [kPa].
    """
    return saturation_vapour_pressure(tmin) * rhmax / 100


def vapour_pressure_from_rhmean(tmin: Numbers, tmax: Numbers, rhmean: Numbers) -> Numbers:
    """Actual vapour pressure [kPa] from mean relative humidity, FAO-56 Eq. 19.

    The paper holds it less desirable than Eq. 17 and 18.

    Parameters
    ----------
    tmin, tmax : float, array or DataArray
        Minimum and maximum air temperature of the day [degC].
    rhmean : float, array or DataArray
        Mean relative humidity of the day [%].

    Returns
    -------
    float, array or DataArray
        Actual vapour pressure [kPa].
    """
    return mean_saturation_vapour_pressure(tmin, tmax) * rhmean / 100


def wind_at_2m(wind: Numbers, height: Numbers) -> Numbers:
    """Wind speed at 2 m over grass [m s-1] from that at another height, FAO-56 Eq. 47.

    Parameters
    ----------
    wind : float, array or DataArray
        Wind speed [m s-1] measured at `height`, over short grass.
    height : float, array or DataArray
        Height of the anemometer over the ground [m]; FAO-56 tabulates 1 to 10 m. The equation has no
        meaning below 0.1 m.

    Returns
    -------
    float, array or DataArray
        Wind speed at 2 m [m s-1].
    """
    return wind * 4.87 / np.log(67.8 * height - 5.42)
