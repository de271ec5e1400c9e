"""Single crop coefficient of the initial stage, from how often and how deeply the soil is wetted.

Source: FAO Irrigation and Drainage Paper 56 (1998), chapter 6 and Annex 7, the numeric form of Figures 29 and
30. Plain numbers or arrays in and out.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from waterbudget.crop.coefficients import Values

Texture = Literal["coarse", "medium", "fine"]

WET_SOIL = 1.15
"""Evaporation of wet bare soil over reference evapotranspiration (Annex 7)."""
LIGHT, HEAVY = 10.0, 40.0
"""Wetting depths [mm] up to which Figure 29 and from which Figure 30 holds (Eq. 59)."""


def initial_coefficient(
    interval: Values,
    depth: Values,
    et_ref: Values,
    texture: Texture = "medium",
    wetted_fraction: Values = 1.0,
) -> Values:
    """Single crop coefficient of the initial stage, Eq. 59 to 61 with Annex 7.

    Up to 10 mm a wetting the curve of Figure 29 holds, from 40 mm on that of Figure 30a (coarse) or 30b
    (medium, fine), and between them Eq. 59 interpolates. Where irrigation wets part of the surface, the
    depth on that part (``I / fw``, Eq. 61) chooses the curve, and the coefficient is ``fw`` times the
    curve's (Eq. 60).

    Parameters
    ----------
    interval : float or array
        Mean time between wettings [day], above 0; of `wetting_interval`.
    depth : float or array
        Mean depth that enters the soil in one wetting [mm], over the whole field.
    et_ref : float or array
        Mean reference evapotranspiration of the stage, short surface [mm day-1], above 0.
    texture : {"coarse", "medium", "fine"}
    wetted_fraction : float or array
        Fraction of the surface that a wetting wets [1], above 0.

    Returns
    -------
    float or array
        Kc ini [1], at most 1.15 ``wetted_fraction``.
    """
    heavy_curve = coarse_soil if texture == "coarse" else medium_and_fine_soil
    light, heavy = light_wetting(interval, et_ref), heavy_curve(interval, et_ref)
    weight = np.minimum(np.maximum((depth / wetted_fraction - LIGHT) / (HEAVY - LIGHT), 0.0), 1.0)
    return wetted_fraction * (light + weight * (heavy - light))


def light_wetting(interval: Values, et_ref: Values) -> Values:
    """Kc ini of Figure 29: wettings of 3 to 10 mm, all soils. Parameters as in `initial_coefficient`."""
    readily = np.minimum(np.maximum(2.5, 6.0 / et_ref**0.5), 7.0)
    return drying_soil(interval, et_ref, 10.0, readily)


def coarse_soil(interval: Values, et_ref: Values) -> Values:
    """Kc ini of Figure 30a: wettings of 40 mm or more, coarse soil. Parameters as before."""
    total = np.minimum(15.0, 7.0 * et_ref**0.5)
    return drying_soil(interval, et_ref, total, np.minimum(6.0, total - 0.01))


def medium_and_fine_soil(interval: Values, et_ref: Values) -> Values:
    """Kc ini of Figure 30b: wettings of 40 mm or more, medium and fine soil. Parameters as before."""
    total = np.minimum(28.0, 13.0 * et_ref**0.5)
    return drying_soil(interval, et_ref, total, np.minimum(9.0, total - 0.01))


def drying_soil(interval: Values, et_ref: Values, total: Values, readily: Values) -> Values:
    """Mean evaporation of a bare soil between wettings over ET_ref, Annex 7, Eq. 7-3.

    ``(TEW - (TEW - REW) exp(-(tw - t1) Eso (1 + REW / (TEW - REW)) / TEW)) / (tw ETo)``, with
    ``Eso = 1.15 ETo``. Up to ``t1 = REW / Eso`` evaporation goes on at Eso, and the ratio is 1.15.

    Parameters
    ----------
    interval : float or array
        tw, mean time between wettings [day].
    et_ref : float or array
        Mean reference evapotranspiration, short surface [mm day-1].
    total : float or array
        TEW, most that can evaporate between two wettings [mm].
    readily : float or array
        REW, what evaporates at the full rate [mm]; less than ``total``.

    Returns
    -------
    float or array
        Kc ini [1].
    """
    rate = WET_SOIL * et_ref
    wet_days = readily / rate
    # At t1 the expression is 1.15, which holds for shorter intervals as well.
    interval = np.maximum(interval, wet_days)
    decay = (interval - wet_days) * rate * (1.0 + readily / (total - readily)) / total
    return (total - (total - readily) * np.exp(-decay)) / (interval * et_ref)


def wetting_interval(rain_days: Values, days: Values) -> Values:
    """Mean time between wettings, from their number (FAO-56 chapter 6, as in Example 23).

    Parameters
    ----------
    rain_days : float or array
        Number of wettings, by rain or irrigation, above 0. Wettings on days that follow one another dry out
        as one, and the source counts them so.
    days : float or array
        Length of the period [day].

    Returns
    -------
    float or array
        ``days / rain_days`` [day].
    """
    return days / rain_days
