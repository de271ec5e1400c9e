"""Growing degree days, and coefficients that follow them.

Plain numbers or arrays in and out; `accumulate` alone takes and gives a DataArray on ``time``.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

import numpy as np
import xarray as xr

from waterbudget.crop.coefficients import Values

Limit = Literal["extremes", "mean"]
LIMITS: tuple[Limit, ...] = ("extremes", "mean")


def degree_days(
    tmin: Values, tmax: Values, base: Values, upper: Values | None = None, limit: Limit = "extremes"
) -> Values:
    """Growing degree days of a day.

    Parameters
    ----------
    tmin, tmax : float or array
        Lowest and highest air temperature of the day [degC].
    base : float or array
        Temperature below which the crop does not develop [degC].
    upper : float or array, optional
        Temperature above which development does not speed up [degC]; above ``base``. None or infinite: no
        such limit.
    limit : {"extremes", "mean"}
        What is kept within ``base`` and ``upper``: each of the two temperatures before they are averaged, or
        their mean. They differ on a day that crosses a limit.

    Returns
    -------
    float or array
        ``(tmax + tmin) / 2 - base`` after limiting [degC day], 0 or more. NaN where a value is.

    Notes
    -----
    "extremes" is the practice for maize, with 50 and 86 degF (university extension services); "mean" is plain
    averaging. Sammis, T.W. and others (1985), "Evapotranspiration crop coefficients predicted using
    growing-degree-days", Transactions of the ASAE 28(3), 773-780 (citation from memory), use the first for
    maize and cotton, the second for sorghum and alfalfa.
    """
    ceiling = np.inf if upper is None else upper
    if limit == "extremes":
        tmin = np.minimum(np.maximum(tmin, base), ceiling)
        tmax = np.minimum(np.maximum(tmax, base), ceiling)
    mean = (tmin + tmax) / 2.0
    return np.minimum(np.maximum(mean, base), ceiling) - base


def accumulate(
    tmin: xr.DataArray,
    tmax: xr.DataArray,
    planted: Any,
    base: Values,
    upper: Values | None = None,
    limit: Limit = "extremes",
    before: Values = 0.0,
) -> xr.DataArray:
    """Growing degree days since planting, that day included.

    Parameters
    ----------
    tmin, tmax : DataArray on ``time``
        Lowest and highest air temperature of each day [degC]; labels may stand beside ``time``.
    planted : numpy.datetime64 or DataArray of datetime64
        Planting date; labels allowed.
    base, upper, limit
        As in `degree_days`; labels allowed. A label whose ``upper`` is NaN has no such limit: so joined
        crops say "not given".
    before : float or DataArray
        Heat since planting at the end of the day before the first [degC day]; labels allowed.

    Returns
    -------
    DataArray on ``time`` and the labels of all
        [degC day]; 0 before planting. A missing temperature makes that day and all later ones NaN; before
        planting it does not count. A label without a planting date is NaN.

    Raises
    ------
    ValueError
        When dates or labels differ between the values.

    Notes
    -----
    Weather that begins after the planting date lacks the heat of the days before: only the weather's own
    days are added up.
    """
    values = (tmin, tmax, planted, base, np.inf if upper is None else upper)
    # Exactly: otherwise dates or labels that differ would be dropped in silence.
    low, high, day, floor, ceiling = xr.align(*(xr.DataArray(value) for value in values), join="exact")
    heat = xr.DataArray(degree_days(low, high, floor, ceiling.fillna(np.inf), limit))
    since = heat.where(heat["time"] >= day, 0.0).where(day.notnull())
    # Added to the first day, so that a run that goes on adds up in the order of the whole one.
    since = since + xr.DataArray(before) * (since["time"] == since["time"][0])
    return since.cumsum("time", skipna=False).assign_coords(time=heat["time"])


def coefficient_by_degree_days(accumulated: Values, coefficients: Sequence[float]) -> Values:
    """Crop coefficient as a polynomial of the degree days since planting (Sammis and others 1985).

    ``c0 + c1 GDD + c2 GDD^2 + c3 GDD^3``.

    Parameters
    ----------
    accumulated : float or array
        Growing degree days since planting [degC day], counted with the base and the limits that belong to
        the polynomial.
    coefficients : sequence of float
        c0, c1, c2, ... in rising powers.

    Returns
    -------
    float or array
        Single crop coefficient [1], for the short reference. It is not limited: beyond the season for which
        the polynomial was fitted it means nothing, and can turn negative.
    """
    result: Values = 0.0
    for coefficient in reversed(coefficients):
        result = result * accumulated + coefficient
    return result
