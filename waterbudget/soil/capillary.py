"""Capillary rise: what a water table can send up to the roots."""

from __future__ import annotations

from typing import Any

import numpy as np


def steady_upward_flow(a: Any, n: Any, distance: Any) -> Any:
    """Greatest steady flow from a water table up to dry soil.

    ``[pi / (n sin(pi / n))]^n a / d^n``, for a soil whose conductivity falls with suction as
    ``a / suction^n`` at suctions well above that at which it begins to fall.

    Parameters
    ----------
    a : float, ndarray or DataArray
        Coefficient of the soil [mm day-1 m^n], 0 or more.
    n : float, ndarray or DataArray
        Exponent of the soil [1], above 1: about 2 in clay and 4 in sand.
    distance : float, ndarray or DataArray
        From the water table up to the roots [m], above 0.

    Returns
    -------
    float, ndarray or DataArray
        Flow [mm day-1], broadcast over all three. NaN stays NaN.

    Notes
    -----
    Source: Gardner, W.R. (1958), Some steady-state solutions of the unsaturated moisture flow
    equation with application to evaporation from a water table, Soil Science 85(4), 228-232 (from
    memory; its coefficients for n of 2, 3 and 4 are 2.46, 1.76 and 1.52).
    """
    angle = np.pi / n
    return (angle / np.sin(angle)) ** n * a / distance**n
