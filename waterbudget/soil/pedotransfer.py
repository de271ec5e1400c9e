"""Pedotransfer: water contents, texture class and evaporable water from sand, clay and organic matter."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import xarray as xr

FITTED_CLAY = 60.0
"""Most clay [% by weight] of the samples behind Saxton and Rawls (2006)."""
FITTED_ORGANIC_MATTER = 8.0
"""Most organic matter [% by weight] of the samples behind Saxton and Rawls (2006)."""

TEXTURES = (
    "sand",
    "loamy sand",
    "sandy loam",
    "loam",
    "silt loam",
    "silt",
    "sandy clay loam",
    "clay loam",
    "silty clay loam",
    "sandy clay",
    "silty clay",
    "clay",
)
"""The classes of the USDA texture triangle."""


class ParticleWater(NamedTuple):
    """Water of a soil by its particles.

    ``wilting_point`` (at 1500 kPa), ``field_capacity`` (at 33 kPa) and ``saturation``, in m3 m-3.
    """

    wilting_point: Any
    field_capacity: Any
    saturation: Any


def water_from_particles(sand: Any, clay: Any, organic_matter: Any) -> ParticleWater:
    """Water contents by the regressions of Saxton and Rawls.

    Parameters
    ----------
    sand, clay : float, ndarray or DataArray
        Percent by weight of the mineral particles; together at most 100. The regressions were
        fitted to samples of at most 60 % clay.
    organic_matter : float, ndarray or DataArray
        Percent by weight, at most 8 in those samples.

    Returns
    -------
    ParticleWater
        For a soil of normal density, without gravel and salt. In pure sand the wilting point may
        come out below 0: the regressions do not hold there.

    Notes
    -----
    Source: Saxton, K.E., Rawls, W.J. (2006), Soil water characteristic estimates by texture and
    organic matter for hydrologic solutions, Soil Science Society of America Journal 70, 1569-1578
    (equations from memory; they reproduce its Table 3).
    """
    s, c, om = sand / 100.0, clay / 100.0, organic_matter
    first_1500 = -0.024 * s + 0.487 * c + 0.006 * om + 0.005 * s * om - 0.013 * c * om + 0.068 * s * c + 0.031
    wilting = first_1500 + 0.14 * first_1500 - 0.02
    first_33 = -0.251 * s + 0.195 * c + 0.011 * om + 0.006 * s * om - 0.027 * c * om + 0.452 * s * c + 0.299
    capacity = first_33 + 1.283 * first_33 * first_33 - 0.374 * first_33 - 0.015
    first_free = 0.278 * s + 0.034 * c + 0.022 * om - 0.018 * s * om - 0.027 * c * om - 0.584 * s * c + 0.078
    free = first_free + 0.636 * first_free - 0.107
    saturation = capacity + free - 0.097 * s + 0.043
    return ParticleWater(wilting, capacity, saturation)


def saturated_conductivity(water: ParticleWater) -> Any:
    """Hydraulic conductivity at saturation by the regressions of Saxton and Rawls.

    ``1930 (saturation - field capacity)^(3 - lambda)``, where lambda is the slope of the logarithms
    of water content and tension between 1500 and 33 kPa.

    Parameters
    ----------
    water : ParticleWater
        Water contents [m3 m-3]: 0 < wilting point < field capacity < saturation.

    Returns
    -------
    float, ndarray or DataArray
        Conductivity [mm h-1].

    Notes
    -----
    Source: Saxton and Rawls (2006), see `water_from_particles` (from memory).
    """
    contents = np.log(water.field_capacity) - np.log(water.wilting_point)
    slope = contents / (np.log(1500.0) - np.log(33.0))
    return 1930.0 * (water.saturation - water.field_capacity) ** (3.0 - slope)


def readily_evaporable_water(sand: Any, clay: Any) -> Any:
    """Readily evaporable water of the surface layer by texture.

    ``20 - 0.15 sand`` where sand is above 80 %, ``11 - 0.06 clay`` where clay is above 50 %, and
    ``8 + 0.08 clay`` elsewhere.

    Parameters
    ----------
    sand, clay : float, ndarray or DataArray
        Percent by weight; together at most 100.

    Returns
    -------
    float, ndarray or DataArray
        REW [mm] of a layer of 0.10 to 0.15 m.

    Notes
    -----
    Source: Ritchie, J.T., Godwin, D.C., Singh, U. (1989), as given by Allen, R.G., Pereira, L.S.,
    Smith, M., Raes, D., Wright, J.L. (2005), FAO-56 dual crop coefficient method for estimating
    evaporation from soil and application extensions, Journal of Irrigation and Drainage
    Engineering 131(1), 2-13 (from memory). Which form holds on the limits of 80 and 50 % is not
    printed; the last one does here.
    """
    sandy, clayey = sand > 80.0, clay > 50.0
    return (
        sandy * (20.0 - 0.15 * sand)
        + clayey * (11.0 - 0.06 * clay)
        + (1.0 - sandy) * (1.0 - clayey) * (8.0 + 0.08 * clay)
    )


def texture_class(sand: Any, clay: Any) -> Any:
    """Class of the USDA texture triangle.

    Parameters
    ----------
    sand, clay : float, ndarray or DataArray
        Percent by weight of the mineral particles; the rest is silt.

    Returns
    -------
    str, ndarray or DataArray of str
        One of `TEXTURES`; empty where sand or clay is NaN, negative, or both are above 100 together.

    Notes
    -----
    Source: USDA Soil Science Division Staff, Soil survey manual, Handbook 18, chapter 3 (limits from
    memory).
    """
    silt = 100.0 - sand - clay
    heavy, light = silt + 1.5 * clay, silt + 2.0 * clay
    rules = (
        heavy < 15,
        (heavy >= 15) & (light < 30),
        (light >= 30) & (((clay >= 7) & (clay < 20) & (sand > 52)) | ((clay < 7) & (silt < 50))),
        (clay >= 7) & (clay < 27) & (silt >= 28) & (silt < 50) & (sand <= 52),
        ((silt >= 50) & (clay >= 12) & (clay < 27)) | ((silt >= 50) & (silt < 80) & (clay < 12)),
        (silt >= 80) & (clay < 12),
        (clay >= 20) & (clay < 35) & (silt < 28) & (sand > 45),
        (clay >= 27) & (clay < 40) & (sand > 20) & (sand <= 45),
        (clay >= 27) & (clay < 40) & (sand <= 20),
        (clay >= 35) & (sand > 45),
        (clay >= 40) & (silt >= 40),
        (clay >= 40) & (sand <= 45) & (silt < 40),
    )
    possible = (sand >= 0) & (clay >= 0) & (silt >= 0)
    conditions = [np.asarray(rule & possible) for rule in rules]
    names = np.select(conditions, [np.array(name) for name in TEXTURES], default="")
    if isinstance(silt, xr.DataArray):
        return silt.copy(data=names)
    return names if names.ndim else str(names)
