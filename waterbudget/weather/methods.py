"""The methods of reference evapotranspiration: one table of them, and the equations.

Penman-Monteith in both its standards is evaluated by pyet; humidity and radiation are prepared here,
so that what pyet would assume silently (dew point at tmin, wind already at 2 m, latitude in radians)
is either given or refused. Hargreaves is Eq. 52 of FAO-56 itself: pyet divides by a latent heat
that changes with temperature where the paper has the fixed 2.45 MJ kg-1, which over a year in Seattle
makes 0.6 %. Priestley-Taylor has the same fixed latent heat, so that all methods stand side by side.
"""

from __future__ import annotations

from typing import Any, Literal, NamedTuple, TypeAlias

import numpy as np
import xarray as xr

from waterbudget.weather import atmosphere, radiation
from waterbudget.weather.atmosphere import Numbers

Method = Literal["auto", "best per day", "fao56", "asce", "hargreaves", "priestley-taylor"]
Surface = Literal["short", "tall"]
SURFACES = ("short", "tall")


class OneMethod(NamedTuple):
    """One method: its code, its word, its title, the surfaces it knows and what of a day it reads."""

    code: int
    name: str
    title: str
    surfaces: tuple[str, ...]
    reads: tuple[str, ...]


METHODS = {
    method.name: method
    for method in (
        OneMethod(0, "given", "et_ref as given", SURFACES, ("et_ref",)),
        OneMethod(
            1,
            "fao56",
            "FAO-56 Penman-Monteith (Eq. 6)",
            ("short",),
            ("temperature", "humidity", "radiation", "wind"),
        ),
        OneMethod(
            2,
            "asce",
            "ASCE-EWRI 2005 standardized Penman-Monteith",
            SURFACES,
            ("temperature", "humidity", "radiation", "wind"),
        ),
        OneMethod(3, "hargreaves", "Hargreaves (FAO-56 Eq. 52)", ("short",), ("temperature",)),
        OneMethod(
            4,
            "priestley-taylor",
            "Priestley-Taylor (1972)",
            ("short",),
            ("temperature", "humidity", "radiation"),
        ),
    )
}
"""Every method by its word. The codes never change, so that files stay readable."""

NONE = -1
"""Code of a value that no method could give."""

ASKED = ("auto", "best per day", *(name for name in METHODS if name != "given"))
"""The words that `reference_et` takes."""

BEST_FIRST = {
    "short": ("given", "fao56", "priestley-taylor", "hargreaves"),
    "tall": ("given", "asce"),
}
"""What ``"best per day"`` tries on a value, the best first."""

Way: TypeAlias = tuple[str, ...]
"""Columns that together give what a method needs."""

HUMIDITY: tuple[Way, ...] = (
    ("vapour_pressure",),
    ("dewpoint",),
    ("rhmin", "rhmax"),
    ("rhmax",),
    ("rhmean",),
)
"""Ways to the vapour pressure, the best first."""

RADIATION: tuple[Way, ...] = (("solar",), ("sunshine",))
"""Ways to solar radiation, the best first."""

HUMIDITY_EQUATIONS = {
    ("dewpoint",): 14,
    ("rhmin", "rhmax"): 17,
    ("rhmax",): 18,
    ("rhmean",): 19,
}
"""Number of the equation of FAO-56 by which a way gives vapour pressure."""

PRIESTLEY_TAYLOR_ALPHA = 1.26
"""Evaporation of a wet surface over its radiation term [-], Priestley and Taylor (1972)."""


def title_of(code: int) -> str:
    """Name the method of a code for people."""
    return next((method.title for method in METHODS.values() if method.code == code), "no method")


def method_attributes() -> dict[str, object]:
    """Give the attributes of ``et_ref_method``, as the CF conventions name them."""
    meanings = {NONE: "none"} | {method.code: method.name.replace("-", "_") for method in METHODS.values()}
    return {
        "long_name": "method by which reference evapotranspiration was worked out",
        "units": "1",
        "flag_values": np.array(list(meanings), dtype=np.int8),
        "flag_meanings": " ".join(meanings.values()),
    }


def hargreaves(tmin: Numbers, tmax: Numbers, extraterrestrial: Numbers) -> Numbers:
    """Estimate reference evapotranspiration [mm day-1] from temperature, FAO-56 Eq. 52.

    Parameters
    ----------
    tmin, tmax : float, array or DataArray
        Minimum and maximum air temperature of the day [degC].
    extraterrestrial : float, array or DataArray
        Ra [MJ m-2 day-1].

    Returns
    -------
    float, array or DataArray
        Reference evapotranspiration of the short surface [mm day-1]; below 0 under -17.8 degC.
    """
    depth = radiation.PER_LATENT_HEAT * extraterrestrial
    return 0.0023 * ((tmin + tmax) / 2 + 17.8) * np.sqrt(tmax - tmin) * depth


def priestley_taylor(temperature: Numbers, net_radiation: Numbers, pressure: Numbers) -> Numbers:
    """Estimate reference evapotranspiration [mm day-1] from radiation, Priestley and Taylor (1972).

    The aerodynamic term is taken as 0.26 of the radiation term (alpha 1.26), so that no wind is needed.
    It holds for wet surfaces under little advection, and is too low in dry wind. Soil heat flux of a day is
    0 (FAO-56 Eq. 42); the latent heat is the fixed one of FAO-56 (Eq. 20).

    Parameters
    ----------
    temperature : float, array or DataArray
        Mean air temperature of the day [degC].
    net_radiation : float, array or DataArray
        Rn of the short reference surface [MJ m-2 day-1].
    pressure : float, array or DataArray
        Atmospheric pressure [kPa].

    Returns
    -------
    float, array or DataArray
        Reference evapotranspiration of the short surface [mm day-1]; below 0 where Rn is.

    Notes
    -----
    Priestley, C. H. B. and Taylor, R. J. (1972): On the assessment of surface heat flux and evaporation
    using large-scale parameters. Monthly Weather Review 100, 81-92 (from memory).
    """
    slope = atmosphere.saturation_slope(temperature)
    share = slope / (slope + atmosphere.psychrometric_constant(pressure))
    return PRIESTLEY_TAYLOR_ALPHA * share * (radiation.PER_LATENT_HEAT * net_radiation)


class Sky(NamedTuple):
    """What a day's radiation and humidity come to, as arrays of equally many dimensions."""

    tmin: Any
    tmax: Any
    vapour: Any
    net_radiation: Any
    pressure: Any


def penman_monteith(sky: Sky, wind: Numbers, method: str, surface: Surface) -> Numbers:
    """Evaluate Eq. 6 of FAO-56, or its ASCE form, with pyet.

    Parameters
    ----------
    sky : Sky
        Temperatures [degC], vapour pressure [kPa], net radiation [MJ m-2 day-1], pressure [kPa].
    wind : numpy array
        Wind speed at 2 m [m s-1].
    method : {"fao56", "asce"}
    surface : {"short", "tall"}

    Returns
    -------
    numpy array
        Reference evapotranspiration [mm day-1]; it can be below 0.
    """
    import pyet

    if np.isnan(sky.net_radiation).all():
        # pyet takes net radiation without a single value for one in W m-2, and raises.
        return sky.net_radiation * wind * sky.pressure
    # pyet wants a labelled array where it gives its result; as tmean has the whole shape, nothing is joined.
    tmean = (sky.tmin + sky.tmax) / 2
    shape = np.broadcast_shapes(*(np.shape(array) for array in (*sky, wind)))
    whole = xr.DataArray(np.broadcast_to(tmean, shape))
    given = {"rn": sky.net_radiation, "tmin": sky.tmin, "tmax": sky.tmax, "ea": sky.vapour}
    given |= {"pressure": sky.pressure, "clip_zero": False}
    if method == "fao56":
        return pyet.pm_fao56(whole, wind, **given).values
    return pyet.pm_asce(whole, wind, etype="os" if surface == "short" else "rs", **given).values


def vapour_pressure(way: Way, values: dict[str, Any]) -> Numbers:
    """Turn one way of stating humidity into vapour pressure [kPa], FAO-56 Eq. 14 and 17 to 19.

    Parameters
    ----------
    way : tuple of str
        One of `HUMIDITY`.
    values : dict of str to array
        Its columns, ``tmin`` and ``tmax``, in canonical units.

    Returns
    -------
    array
        Actual vapour pressure [kPa].
    """
    tmin, tmax = values["tmin"], values["tmax"]
    columns = [values[name] for name in way]
    if way == ("dewpoint",):
        return atmosphere.vapour_pressure_from_dewpoint(*columns)
    if way == ("rhmin", "rhmax"):
        return atmosphere.vapour_pressure_from_rhmin_rhmax(tmin, tmax, *columns)
    if way == ("rhmax",):
        return atmosphere.vapour_pressure_from_rhmax(tmin, *columns)
    if way == ("rhmean",):
        return atmosphere.vapour_pressure_from_rhmean(tmin, tmax, *columns)
    return columns[0]
