"""What a mulch changes, against FAO-56.

Source: FAO Irrigation and Drainage Paper 56 (1998), chapter 10, read in the paper
(http://www.fao.org/docrep/x0490e/x0490e0g.htm).
"""

import numpy as np
import xarray as xr

from waterbudget.crop.mulch import organic_reduction, plastic_coefficients


def test_example_45_cucumber_under_plastic(check):
    # Example 45: cucumber with drip under plastic; Kc falls by 15 %, Kcb by 10 %, both start at 0.10. The example
    # quotes Kc ini 0.4 where Table 12 has 0.6 (it does not matter here). Kc end is 0.6375 and prints 0.64; Kcb mid
    # is 0.855 and prints 0.86: hence 0.006.
    single = plastic_coefficients(0.4, 1.0, 0.75, 0.15)
    basal = plastic_coefficients(0.15, 0.95, 0.70, 0.10)
    check("FAO-56, Example 45", "Kc of cucumber under plastic", [0.10, 0.85, 0.64], single, 0.006)
    check("FAO-56, Example 45", "Kcb of cucumber under plastic", [0.10, 0.86, 0.63], basal, 0.006)
    np.testing.assert_allclose(single + basal, [0.10, 0.85, 0.6375, 0.10, 0.855, 0.63], rtol=0, atol=1e-12)


def test_organic_mulch(check):
    # P. 197: about 5 % less evaporation for each 10 % of the surface; with half of it covered, 25 %.
    reduction = organic_reduction(np.array([0.0, 0.1, 0.5]))
    quantity = "evaporation suppressed by cover of 0, 0.1, 0.5"
    check("FAO-56, chapter 10 p. 197", quantity, [0.0, 0.05, 0.25], reduction, 1e-12)


def test_labelled_values_and_missing_ones():
    initial = xr.DataArray([0.4, 0.05, np.nan], dims="field", coords={"field": ["a", "b", "c"]})
    start, mid, _ = plastic_coefficients(initial, 1.0, 0.75, 0.15)
    np.testing.assert_array_equal(start, [0.10, 0.05, np.nan])  # lower than under plastic: it stays
    assert mid == 0.85
