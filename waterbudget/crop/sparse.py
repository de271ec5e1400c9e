"""Coefficients of stands that leave ground bare, and of two crops on one field. Plain numbers or arrays.

Source of the numbered equations: FAO Irrigation and Drainage Paper 56 (1998), chapters 9 and 10. The density
coefficient is that of Allen, R.G., Pereira, L.S. (2009), "Estimating crop coefficients from fraction of
ground cover and height", Irrigation Science 28, 17-34, written from memory.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from waterbudget.crop.coefficients import BARE_COEFFICIENT, Values, climate_increment

LIGHT_EXTINCTION = 0.7
"""Exponent of the leaf area in Eq. 97."""


# ------------------------------------------------------------------- full cover


def full_cover_basal(height: Values, wind: Values, rhmin: Values) -> Values:
    """Basal coefficient of a crop of this height if it covered the ground fully, Eq. 99 to 101.

    ``min(1 + 0.1 h, 1.2) + (0.04 (u2 - 2) - 0.004 (RHmin - 45)) (h / 3)^0.3``.

    Parameters
    ----------
    height : float or array
        Mean crop height of the mid-season [m].
    wind, rhmin : float or array
        Stage means of wind speed at 2 m [m s-1] and of minimum relative humidity [%]; limited as in
        `climate_increment`.

    Returns
    -------
    float or array
        Kcb full [1].
    """
    return np.minimum(1.0 + 0.1 * height, 1.2) + climate_increment(wind, rhmin, height)


# -------------------------------------------------------------------- leaf area


def basal_from_leaf_area(leaf_area_index: Values, full: Values, bare: Values = BARE_COEFFICIENT) -> Values:
    """Basal coefficient of a stand from its leaf area, Eq. 97.

    ``Kc min + (Kcb full - Kc min) (1 - exp(-0.7 LAI))``.

    Parameters
    ----------
    leaf_area_index : float or array
        Leaf area over ground area [m2 m-2], averaged over all of the ground; 0 or more.
    full : float or array
        Basal coefficient at full cover [1], as of `full_cover_basal`.
    bare : float or array
        Kc min, the coefficient of dry bare soil [1].

    Returns
    -------
    float or array
        Kcb mid [1].
    """
    return bare + (full - bare) * (1.0 - np.exp(-LIGHT_EXTINCTION * leaf_area_index))


def leaf_area_from_basal(basal: Values, full: Values, bare: Values = BARE_COEFFICIENT) -> Values:
    """Leaf area that a basal coefficient stands for: the inverse of Eq. 97, as Example 47 uses it.

    ``-ln(1 - (Kcb - Kc min) / (Kcb full - Kc min)) / 0.7``. The leaf areas of crops that grow over one
    another add up; `basal_from_leaf_area` of the sum is the coefficient of both.

    Parameters
    ----------
    basal : float or array
        Basal coefficient of the stand [1], from ``bare`` up to, but not including, ``full``.
    full, bare : float or array
        As in `basal_from_leaf_area`.

    Returns
    -------
    float or array
        Leaf area index [m2 m-2].
    """
    return -np.log(1.0 - (basal - bare) / (full - bare)) / LIGHT_EXTINCTION


# ------------------------------------------------------------------------ cover


def effective_cover(
    cover: Values,
    latitude: Values,
    day_of_year: Values,
    height_to_width: Values = 1.0,
    arrangement: Literal["rows", "round"] = "rows",
) -> Values:
    """Part of the ground that a stand shades at solar noon (text of Eq. 98).

    Round canopies: ``fc / sin(eta)``. Rows that run east to west: ``fc (1 + HWR / tan(eta))``. ``eta`` is
    the sun's height above the horizon at noon. At most 1.

    Parameters
    ----------
    cover : float or array
        Fraction of the ground covered, seen from above [1].
    latitude : float or array
        Latitude [degree], negative in the south.
    day_of_year : float or array
        1 to 366.
    height_to_width : float or array
        Height of the plants over the width of the row or of one plant, seen from the east or west [1]. Not
        used by round canopies.
    arrangement : {"rows", "round"}
        Rows, or single plants of a shape about as high as it is wide.

    Returns
    -------
    float or array
        fc eff [1]. Without sun at noon (polar night) a stand shades all: 1.
    """
    declination = 0.409 * np.sin(2.0 * np.pi / 365.0 * day_of_year - 1.39)  # Eq. 24
    from_zenith = np.radians(latitude) - declination
    sine = np.maximum(np.cos(from_zenith), 1e-9)  # of the sun's height
    if arrangement == "round":
        shade = 1.0 / sine
    else:
        shade = 1.0 + height_to_width * np.abs(np.sin(from_zenith)) / sine
    return np.minimum(cover * shade, 1.0)


def basal_from_cover(
    cover: Values, effective_cover: Values, height: Values, full: Values, bare: Values = BARE_COEFFICIENT
) -> Values:
    """Basal coefficient of a stand from its cover and height, Eq. 98.

    ``Kc min + (Kcb full - Kc min) min(1, 2 fc, fc eff^(1/(1 + h)))``.

    Parameters
    ----------
    cover : float or array
        Fraction of the ground covered, seen from above [1].
    effective_cover : float or array
        Fraction shaded at noon [1], as of `effective_cover`.
    height : float or array
        Mean plant height [m].
    full, bare : float or array
        As in `basal_from_leaf_area`.

    Returns
    -------
    float or array
        Kcb mid [1].
    """
    closed = np.minimum(np.minimum(2.0 * cover, 1.0), effective_cover ** (1.0 / (1.0 + height)))
    return bare + (full - bare) * closed


def density_coefficient(effective_cover: Values, height: Values, multiplier: Values = 1.5) -> Values:
    """How near a stand comes to full cover in what it transpires (Allen and Pereira 2009).

    ``min(1, M fc eff, fc eff^(1/(1 + h)))``.

    Parameters
    ----------
    effective_cover : float or array
        Fraction shaded at noon [1], as of `effective_cover`.
    height : float or array
        Mean plant height [m].
    multiplier : float or array
        M, the most that a unit of shade can transpire over what a unit of full cover does [1]: 1.5 to 2.

    Returns
    -------
    float or array
        Kd, 0 to 1.
    """
    limited = np.minimum(multiplier * effective_cover, 1.0)
    return np.minimum(limited, effective_cover ** (1.0 / (1.0 + height)))


def basal_by_density(density: Values, full: Values, ground: Values = BARE_COEFFICIENT) -> Values:
    """Basal coefficient of a stand over bare ground or over other plants (Allen and Pereira 2009).

    ``ground + Kd max(full - ground, (full - ground) / 2)``. Over bare ground this is
    ``Kc min + Kd (Kcb full - Kc min)``. A ground cover that draws more than the stand would is shaded by
    it: half of the difference counts.

    Parameters
    ----------
    density : float or array
        Kd [1], as of `density_coefficient`.
    full : float or array
        Basal coefficient of the stand at full cover [1].
    ground : float or array
        Coefficient of what grows between the plants where nothing shades it [1]; bare soil 0.15.

    Returns
    -------
    float or array
        Kcb [1].
    """
    return ground + density * np.maximum(full - ground, (full - ground) / 2.0)


def stomatal_factor(leaf_resistance: Values, slope: Values, psychrometric: Values, wind: Values) -> Values:
    """Reduction of a basal coefficient for leaves that transpire less than a crop's, Eq. 102.

    ``(D + g (1 + 0.34 u2)) / (D + g (1 + 0.34 u2 rl / 100))``: 1 at 100 s/m, the resistance of most crops.

    Parameters
    ----------
    leaf_resistance : float or array
        rl, mean resistance of a leaf [s m-1]: 100 for most annual crops, several times that for olives.
    slope : float or array
        D, slope of the saturation vapour pressure curve [kPa degC-1].
    psychrometric : float or array
        g, psychrometric constant [kPa degC-1].
    wind : float or array
        Wind speed at 2 m [m s-1].

    Returns
    -------
    float or array
        Fr [1], to multiply the coefficient by.
    """
    usual = slope + psychrometric * (1.0 + 0.34 * wind)
    return usual / (slope + psychrometric * (1.0 + 0.34 * wind * leaf_resistance / 100.0))


# ------------------------------------------------------------------- thin stands


def sparse_reduction(actual: Values, dense: Values) -> Values:
    """Reduction of a mid-season coefficient for a thin stand, Eq. 95 and 96.

    ``1 - (LAI / LAI dense)^0.5`` or ``1 - (fc / fc dense)^0.5``: both have the same form. A stand denser
    than the dense one loses nothing.

    Parameters
    ----------
    actual : float or array
        Leaf area index [m2 m-2] (Eq. 95) or cover [1] (Eq. 96) of the stand.
    dense : float or array
        The same quantity of the crop under normal growing conditions; above 0.

    Returns
    -------
    float or array
        Acm [1].
    """
    return np.maximum(1.0 - (actual / dense) ** 0.5, 0.0)


def sparse_coefficient(coefficient: Values, actual: Values, dense: Values) -> Values:
    """Mid-season coefficient of a thin stand, Eq. 94: ``Kc mid - Acm``.

    Parameters
    ----------
    coefficient : float or array
        Kc mid or Kcb mid under normal growing conditions, adjusted to the climate [1].
    actual, dense : float or array
        As in `sparse_reduction`.

    Returns
    -------
    float or array
        Kc mid adj or Kcb mid adj [1].
    """
    return coefficient - sparse_reduction(actual, dense)


# --------------------------------------------------------------------- two crops


def two_crops(
    share: Values,
    height: Values,
    coefficient: Values,
    other_share: Values,
    other_height: Values,
    other_coefficient: Values,
) -> Values:
    """Coefficient of a field with two crops side by side, Eq. 104.

    ``(f1 h1 Kc1 + f2 h2 Kc2) / (f1 h1 + f2 h2)``. Before either has any height the shares alone weigh.

    Parameters
    ----------
    share, other_share : float or array
        Fraction of the field's surface planted with each crop [1]; not both 0.
    height, other_height : float or array
        Height of each crop [m].
    coefficient, other_coefficient : float or array
        Crop coefficient of each [1].

    Returns
    -------
    float or array
        Kc field [1].
    """
    weight = share * np.maximum(height, 1e-9)
    other = other_share * np.maximum(other_height, 1e-9)
    return (weight * coefficient + other * other_coefficient) / (weight + other)
