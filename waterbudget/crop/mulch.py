"""What a mulch changes. Plain numbers or arrays in and out.

Source: FAO Irrigation and Drainage Paper 56 (1998), chapter 10, pp. 195-198.
"""

from __future__ import annotations

import numpy as np

from waterbudget.crop.coefficients import Values

INITIAL_UNDER_PLASTIC = 0.10
"""Initial coefficient, single or basal, under a plastic mulch with drip (FAO-56 Example 45)."""


def organic_reduction(cover: Values) -> Values:
    """Part of the soil evaporation that an organic mulch suppresses, FAO-56 p. 197.

    About 5 % for each 10 % of the surface that it covers.

    Parameters
    ----------
    cover : float or array
        Fraction of the surface under mulch, crop residue or straw [1], 0 to 1.

    Returns
    -------
    float or array
        Reduction of evaporation [1], 0 to 0.5.
    """
    return 0.5 * cover


def plastic_coefficients(
    initial: Values, mid: Values, end: Values, reduction: Values
) -> tuple[Values, Values, Values]:
    """Coefficients of a crop under a plastic mulch with drip, as in FAO-56 Example 45.

    The initial one becomes 0.10 (or stays where it is less), the others lose the stated part.

    Parameters
    ----------
    initial, mid, end : float or array
        Single or basal coefficients without a mulch [1].
    reduction : float or array
        Part by which the mid-season and end coefficients fall [1], as 0.15. Single coefficients fall as in
        Table 25; basal ones fall less, because part of what Table 25 saves is evaporation (0.10 beside 0.15
        in the example).

    Returns
    -------
    tuple of float or array
        Initial, mid-season and end coefficient [1].
    """
    return np.minimum(initial, INITIAL_UNDER_PLASTIC), mid * (1.0 - reduction), end * (1.0 - reduction)
