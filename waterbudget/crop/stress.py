"""Stress by salt, and the yield that drought and salt leave. Plain numbers or arrays in and out.

Stress by drought (Eq. 84, p of page 162) is part of the day: `waterbudget.balance.step`.

Source of the numbered equations: FAO Irrigation and Drainage Paper 56 (1998), chapters 8 and 9.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from waterbudget.crop.coefficients import Values

# ----------------------------------------------------------------- salt


def salt_factor(salinity: Values, threshold: Values, slope: Values, yield_response: Values) -> Values:
    """Salinity stress coefficient: the loss of Eq. 89, put into Eq. 90.

    ``1 - slope / (100 Ky) max(ECe - threshold, 0)``, at least 0. It multiplies the water stress
    coefficient (FAO-56 chapter 8). The relation is meant for the season's mean salinity and for
    losses of yield of up to about a half.

    Parameters
    ----------
    salinity : float or array
        ECe, mean electrical conductivity of the saturation extract of the root zone [dS m-1].
    threshold : float or array
        ECe up to which the crop yields in full [dS m-1] (Table 23).
    slope : float or array
        b, yield lost above the threshold [% per dS m-1] (Table 23).
    yield_response : float or array
        Ky of the season [1] (Table 24), above 0.

    Returns
    -------
    float or array
        Ks for salinity, 0 to 1.
    """
    above = np.maximum(salinity - threshold, 0.0)
    return np.maximum(1.0 - slope / (100.0 * yield_response) * above, 0.0)


def stress_from_yield(relative_yield: Values, yield_response: Values) -> Values:
    """Stress coefficient of a season from the yield that was reached, Eq. 103.

    ``1 - (1 - Ya / Ym) / Ky``, at least 0.

    Parameters
    ----------
    relative_yield : float or array
        Ya / Ym, yield reached over the yield without stress [1].
    yield_response : float or array
        Ky of the season [1], above 0.

    Returns
    -------
    float or array
        Ks [1].
    """
    return np.maximum(1.0 - (1.0 - relative_yield) / yield_response, 0.0)


# ------------------------------------------------------------------------- yield


def salt_yield(salinity: Values, threshold: Values, slope: Values) -> Values:
    """Yield left by salinity alone, Eq. 89 (Maas and Hoffman 1977).

    ``1 - slope / 100 max(ECe - threshold, 0)``, at least 0.

    Parameters
    ----------
    salinity, threshold, slope : float or array
        As in `salt_factor`.

    Returns
    -------
    float or array
        Ya / Ym, 0 to 1.
    """
    return np.maximum(1.0 - slope / 100.0 * np.maximum(salinity - threshold, 0.0), 0.0)


def relative_yield_seasonal(et_ratio: Values, yield_response: Values) -> Values:
    """Yield left by a season's lack of water, Eq. 90 (Doorenbos and Kassam 1979).

    ``1 - Ky (1 - ETc adj / ETc)``. Below 0 the relation has left the deficits for which it holds; the number
    is not cut off.

    Parameters
    ----------
    et_ratio : float or array
        Evapotranspiration of the season over that without stress [1].
    yield_response : float or array
        Ky of the season [1] (Table 24).

    Returns
    -------
    float or array
        Ya / Ym [1].
    """
    return 1.0 - yield_response * (1.0 - et_ratio)


def relative_yield_additive(et_ratios: Any, yield_responses: Any) -> Values:
    """Yield left by a lack of water stage by stage, losses added.

    ``1 - sum of Ky (1 - ETc adj / ETc)`` over the stages, not cut off at 0.

    Parameters
    ----------
    et_ratios : sequence of float or array
        Evapotranspiration of each stage over that without stress [1]. An array or DataArray has the stages
        along its first dimension.
    yield_responses : sequence of float or array
        Ky of each stage [1], in the same order.

    Returns
    -------
    float or array
        Ya / Ym [1].

    Notes
    -----
    Doorenbos, J., Kassam, A.H. (1979), "Yield response to water", FAO Irrigation and Drainage Paper 33, gives
    Ky by stage; that losses add up is common practice, no source.
    """
    loss: Values = 0.0
    for ratio, response in zip(et_ratios, yield_responses, strict=True):
        loss = loss + response * (1.0 - ratio)
    return 1.0 - loss


def relative_yield_multiplicative(et_ratios: Any, yield_responses: Any) -> Values:
    """Yield left by a lack of water stage by stage, what is left multiplied.

    Product of ``1 - Ky (1 - ETc adj / ETc)`` over the stages. A stage that would leave less than nothing
    leaves nothing: two of them must not multiply to a yield.

    Parameters
    ----------
    et_ratios, yield_responses : sequence of float or array
        As in `relative_yield_additive`.

    Returns
    -------
    float or array
        Ya / Ym [1].

    Notes
    -----
    Ky by stage is that of Doorenbos and Kassam (1979); the product of the stages' relative yields is common
    practice, no source.
    """
    left: Values = 1.0
    for ratio, response in zip(et_ratios, yield_responses, strict=True):
        left = left * np.maximum(relative_yield_seasonal(ratio, response), 0.0)
    return left
