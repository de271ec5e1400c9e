"""Radiation of a day and soil heat: the equations of FAO Irrigation and Drainage Paper 56, chapter 3.

Every function takes plain numbers, numpy arrays or DataArrays, and gives the same kind back; NaN
gives NaN. Radiation is in MJ m-2 day-1, latitude in degrees (south negative). Source of all: Allen,
Pereira, Raes and Smith (1998), FAO Irrigation and Drainage Paper 56; the equation number stands in
each docstring.
"""

from __future__ import annotations

import numpy as np

from waterbudget.weather.atmosphere import Numbers

SOLAR_CONSTANT = 0.0820
"""Solar constant [MJ m-2 min-1], FAO-56 Eq. 21."""

STEFAN_BOLTZMANN = 4.903e-9
"""Stefan-Boltzmann constant [MJ K-4 m-2 day-1], FAO-56 Eq. 39 (ASCE-EWRI 2005 prints 4.901e-9)."""

PER_LATENT_HEAT = 0.408
"""Depth of water that 1 MJ m-2 evaporates [mm], FAO-56 Eq. 20: 1 / 2.45 as the paper rounds it."""

_LEAST_RELATIVE_SOLAR = 0.3
_LEAST_CLEAR_SKY = 1e-3
_LEAST_DAYLIGHT = 1e-6


def inverse_relative_distance(day_of_year: Numbers) -> Numbers:
    """Inverse relative distance from earth to sun [-], squared as Eq. 21 takes it; FAO-56 Eq. 23.

    Parameters
    ----------
    day_of_year : int, array or DataArray
        Number of the day, 1 on 1 January.

    Returns
    -------
    float, array or DataArray
        About 0.967 to 1.033.
    """
    return 1 + 0.033 * np.cos(2 * np.pi / 365 * day_of_year)


def solar_declination(day_of_year: Numbers) -> Numbers:
    """Solar declination [rad], FAO-56 Eq. 24.

    Parameters
    ----------
    day_of_year : int, array or DataArray
        Number of the day, 1 on 1 January.

    Returns
    -------
    float, array or DataArray
        -0.409 to 0.409 rad.
    """
    return 0.409 * np.sin(2 * np.pi / 365 * day_of_year - 1.39)


def sunset_hour_angle(latitude: Numbers, declination: Numbers) -> Numbers:
    """Sunset hour angle [rad], FAO-56 Eq. 25.

    Where the sun does not set it is pi, where it does not rise 0.

    Parameters
    ----------
    latitude : float, array or DataArray
        Latitude [degrees north]; Eq. 22 makes it radians.
    declination : float, array or DataArray
        Solar declination [rad].

    Returns
    -------
    float, array or DataArray
        0 to pi rad.
    """
    cosine = -np.tan(np.deg2rad(latitude)) * np.tan(declination)
    return np.arccos(np.minimum(np.maximum(cosine, -1), 1))


def extraterrestrial_radiation(latitude: Numbers, day_of_year: Numbers) -> Numbers:
    """Radiation on a level surface outside the atmosphere, Ra [MJ m-2 day-1], FAO-56 Eq. 21.

    Parameters
    ----------
    latitude : float, array or DataArray
        Latitude [degrees north].
    day_of_year : int, array or DataArray
        Number of the day, 1 on 1 January.

    Returns
    -------
    float, array or DataArray
        Ra [MJ m-2 day-1]; 0 where the sun does not rise.
    """
    angle = np.deg2rad(latitude)
    declination = solar_declination(day_of_year)
    sunset = sunset_hour_angle(latitude, declination)
    polar = sunset * np.sin(angle) * np.sin(declination)
    level = polar + np.cos(angle) * np.cos(declination) * np.sin(sunset)
    return 24 * 60 / np.pi * SOLAR_CONSTANT * inverse_relative_distance(day_of_year) * level


def daylight_hours(latitude: Numbers, day_of_year: Numbers) -> Numbers:
    """Longest possible sunshine of a day, N [h], FAO-56 Eq. 34.

    Parameters
    ----------
    latitude : float, array or DataArray
        Latitude [degrees north].
    day_of_year : int, array or DataArray
        Number of the day, 1 on 1 January.

    Returns
    -------
    float, array or DataArray
        0 to 24 h.
    """
    return 24 / np.pi * sunset_hour_angle(latitude, solar_declination(day_of_year))


def solar_from_sunshine(
    sunshine: Numbers,
    daylight: Numbers,
    extraterrestrial: Numbers,
    overcast: float = 0.25,
    bright: float = 0.50,
) -> Numbers:
    """Solar radiation [MJ m-2 day-1] from hours of sunshine, FAO-56 Eq. 35.

    Parameters
    ----------
    sunshine : float, array or DataArray
        Hours of bright sunshine, n [h].
    daylight : float, array or DataArray
        Longest possible sunshine, N [h].
    extraterrestrial : float, array or DataArray
        Ra [MJ m-2 day-1].
    overcast, bright : float
        as and bs [-]: the part of Ra that comes through on an overcast day, and what a clear one adds. 0.25
        and 0.50 where they are not calibrated.

    Returns
    -------
    float, array or DataArray
        Solar radiation [MJ m-2 day-1]; 0 where the sun does not rise.
    """
    # Without daylight Ra is 0, and so is the product, whatever the ratio n / N is.
    return (overcast + bright * sunshine / np.maximum(daylight, _LEAST_DAYLIGHT)) * extraterrestrial


def clear_sky_radiation(extraterrestrial: Numbers, elevation: Numbers) -> Numbers:
    """Solar radiation under a clear sky, Rso [MJ m-2 day-1], FAO-56 Eq. 37; Eq. 36 at elevation 0.

    Parameters
    ----------
    extraterrestrial : float, array or DataArray
        Ra [MJ m-2 day-1].
    elevation : float, array or DataArray
        Height above sea level [m].

    Returns
    -------
    float, array or DataArray
        Rso [MJ m-2 day-1].
    """
    return (0.75 + 2e-5 * elevation) * extraterrestrial


def solar_from_temperature_range(
    tmin: Numbers, tmax: Numbers, extraterrestrial: Numbers, elevation: Numbers, coefficient: float
) -> Numbers:
    """Solar radiation [MJ m-2 day-1] from the day's range of temperature, FAO-56 Eq. 50.

    It is limited to the radiation under a clear sky, as the paper asks.

    Parameters
    ----------
    tmin, tmax : float, array or DataArray
        Minimum and maximum air temperature of the day [degC].
    extraterrestrial : float, array or DataArray
        Ra [MJ m-2 day-1].
    elevation : float, array or DataArray
        Height above sea level [m].
    coefficient : float
        kRs [degC-0.5]: 0.16 in the interior, 0.19 at the coast.

    Returns
    -------
    float, array or DataArray
        Solar radiation [MJ m-2 day-1].
    """
    estimate = coefficient * np.sqrt(tmax - tmin) * extraterrestrial
    return np.minimum(estimate, clear_sky_radiation(extraterrestrial, elevation))


def net_shortwave(solar: Numbers, albedo: float = 0.23) -> Numbers:
    """Net solar radiation, Rns [MJ m-2 day-1], FAO-56 Eq. 38.

    Parameters
    ----------
    solar : float, array or DataArray
        Incoming solar radiation [MJ m-2 day-1].
    albedo : float
        Part that is reflected [-]; 0.23 is that of the reference surface.

    Returns
    -------
    float, array or DataArray
        Rns [MJ m-2 day-1].
    """
    return (1 - albedo) * solar


def black_body_radiation(temperature: Numbers) -> Numbers:
    """Radiation of a black body [MJ m-2 day-1], the term sigma T^4 of FAO-56 Eq. 39.

    Parameters
    ----------
    temperature : float, array or DataArray
        Temperature [degC]; 273.16 makes it absolute, as the paper prints it.

    Returns
    -------
    float, array or DataArray
        Radiation [MJ m-2 day-1].
    """
    return STEFAN_BOLTZMANN * (temperature + 273.16) ** 4


def net_longwave(
    tmin: Numbers, tmax: Numbers, vapour_pressure: Numbers, solar: Numbers, clear_sky: Numbers
) -> Numbers:
    """Net outgoing longwave radiation, Rnl [MJ m-2 day-1], FAO-56 Eq. 39.

    Rs/Rso is kept at most 1, as FAO-56 says, and at least 0.3, as ASCE-EWRI 2005 adds: without it
    a dark day would have Rnl below 0. Where the sun does not rise Rs/Rso has no meaning, and is 0.3.

    Parameters
    ----------
    tmin, tmax : float, array or DataArray
        Minimum and maximum air temperature of the day [degC].
    vapour_pressure : float, array or DataArray
        Actual vapour pressure [kPa].
    solar : float, array or DataArray
        Incoming solar radiation, Rs [MJ m-2 day-1].
    clear_sky : float, array or DataArray
        Solar radiation under a clear sky, Rso [MJ m-2 day-1].

    Returns
    -------
    float, array or DataArray
        Rnl [MJ m-2 day-1].
    """
    ratio = solar / np.maximum(clear_sky, _LEAST_CLEAR_SKY)
    cloud = 1.35 * np.minimum(np.maximum(ratio, _LEAST_RELATIVE_SOLAR), 1) - 0.35
    humidity = 0.34 - 0.14 * np.sqrt(vapour_pressure)
    return (black_body_radiation(tmax) + black_body_radiation(tmin)) / 2 * humidity * cloud


def soil_heat_flux_of_month(previous: Numbers, following: Numbers) -> Numbers:
    """Soil heat flux of a month, G [MJ m-2 day-1], from the months around it; FAO-56 Eq. 43.

    Parameters
    ----------
    previous, following : float, array or DataArray
        Mean air temperature of the month before and of the month after [degC].

    Returns
    -------
    float, array or DataArray
        G [MJ m-2 day-1], positive into the soil. For a day it is taken as 0 (Eq. 42).
    """
    return 0.07 * (following - previous)


def soil_heat_flux_since_month(previous: Numbers, current: Numbers) -> Numbers:
    """Soil heat flux of a month, G [MJ m-2 day-1], when the next one is unknown; FAO-56 Eq. 44.

    Parameters
    ----------
    previous, current : float, array or DataArray
        Mean air temperature of the month before and of this month [degC].

    Returns
    -------
    float, array or DataArray
        G [MJ m-2 day-1], positive into the soil.
    """
    return 0.14 * (current - previous)
