"""Stress by drought and salt and the yield that is left, against FAO-56 and others.

Sources stand beside each check; FAO-56 is FAO Irrigation and Drainage Paper 56 (1998), read in the paper
(http://www.fao.org/docrep/x0490e/x0490e0e.htm and x0490e0f.htm).
"""

import numpy as np
import pytest
import xarray as xr

from waterbudget.crop.stress import (
    relative_yield_additive,
    relative_yield_multiplicative,
    relative_yield_seasonal,
    salt_factor,
    salt_yield,
    stress_from_yield,
)

# ------------------------------------------------------------------------ drought and yield


def test_example_44_stress_from_yield(check):
    # Example 44, Eq. 90 and 103: dry bean, 1100 of 1800 kg/ha, Ky 1.15. Recomputed 0.662.
    ks = stress_from_yield(1100 / 1800, 1.15)
    check("FAO-56, Example 44 (Eq. 103)", "Ks of dry bean, 1100 of 1800 kg/ha", 0.66, ks, 0.005)
    assert ks == pytest.approx(0.662, abs=0.0005)
    # Eq. 103 is Eq. 90 turned round.
    assert relative_yield_seasonal(ks, 1.15) == pytest.approx(1100 / 1800, abs=1e-12)


def test_seasonal_response_of_maize(check):
    # From memory: FAO Irrigation and Drainage Paper 33 (Doorenbos and Kassam 1979), Ky 1.25 of maize; a season
    # that lacks 20 % of its ET yields 75 %.
    got = relative_yield_seasonal(0.8, 1.25)
    check("FAO-33, maize, from memory", "relative yield at 20 % less ET", 0.75, got, 1e-12)
    assert relative_yield_seasonal(0.0, 1.25) == -0.25  # outside its limits, and not cut off
    assert relative_yield_seasonal(1.0, 1.25) == 1.0


# -------------------------------------------------------------------- by stage

MAIZE_BY_STAGE = (0.4, 1.5, 0.5, 0.2)
"""From memory: Ky of maize by stage (vegetative, flowering, yield formation, ripening), FAO-33."""


def test_stages_added_and_multiplied(check):
    # From memory, FAO-33: Ky of maize by stage; deficits of our own choosing. By hand: 1 - (0.04 + 0.30 + 0.05 + 0)
    # and 0.96 0.70 0.95 1.
    ratios = (0.9, 0.8, 0.9, 1.0)
    source = "FAO-33, maize by stage, from memory"
    added = relative_yield_additive(ratios, MAIZE_BY_STAGE)
    multiplied = relative_yield_multiplicative(ratios, MAIZE_BY_STAGE)
    check(source, "relative yield, losses added", 0.61, added, 1e-4)
    check(source, "relative yield, stages multiplied", 0.6384, multiplied, 1e-4)
    # One stage alone is the seasonal relation; a sum of failures is left as it is, and the product
    # of two failures is no harvest.
    assert relative_yield_additive([0.8], [1.25]) == relative_yield_multiplicative([0.8], [1.25])
    assert relative_yield_additive([0.0] * 4, MAIZE_BY_STAGE) == pytest.approx(1.0 - sum(MAIZE_BY_STAGE))
    assert relative_yield_multiplicative([0.0, 0.0], [1.5, 1.5]) == 0.0
    with pytest.raises(ValueError, match="shorter"):
        relative_yield_additive(ratios, (0.4, 1.5))


def test_product_of_powers_agrees_for_small_deficits(check):
    # The other multiplicative form in use, prod (ETa/ETm)^lambda; exponents for maize read in
    # https://iasj.net/iasj/article/28452, ratios chosen here: 0.5419, evaluated apart. To the first order in the
    # deficits it is the product of 1 - lambda (1 - ratio): the two may differ by
    # the sum of lambda |lambda - 1| deficit^2 / 2, doubled for the higher orders.
    exponents = np.array([0.1, 0.22, 2.5, 0.3, 0.1])
    ratios = np.array([1, 0.9, 0.8, 0.9, 1])
    assert np.prod(ratios**exponents) == pytest.approx(0.5419, abs=1e-4)
    deficit = 0.05 * (1 - ratios)
    theirs = np.prod((1 - deficit) ** exponents)
    ours = relative_yield_multiplicative(1 - deficit, exponents)
    allowed = float((exponents * np.abs(exponents - 1) * deficit**2).sum())
    check("Product of powers, IASJ 28452", "relative yield of maize, deficits to 1 %", theirs, ours, allowed)


def test_stages_of_labelled_fields():
    ratios = xr.DataArray(
        [[0.9, 0.8, 0.9, 1.0], [1.0, 1.0, 1.0, np.nan]],
        dims=("field", "stage"),
        coords={"field": ["a", "b"], "stage": ["initial", "development", "mid", "late"]},
    )
    for together in (relative_yield_additive, relative_yield_multiplicative):
        got = together(ratios.transpose("stage", "field"), MAIZE_BY_STAGE)
        assert got.dims == ("field",)
        assert got.sel(field="a").item() == pytest.approx(together((0.9, 0.8, 0.9, 1.0), MAIZE_BY_STAGE))
        assert np.isnan(got.sel(field="b").item())


# --------------------------------------------------------------------------- salt


def test_salt_tolerance_of_maize(check):
    # From memory: FAO Irrigation and Drainage Paper 29 (Ayers and Westcot 1985) gives ECe 2.5 dS/m at 90 % of the
    # yield of maize, to 0.1. Threshold and slope: FAO-56 Table 23 (p. 178), maize, 1.7 dS/m and 12 % per dS/m.
    threshold, slope = 1.7, 12.0
    at_90 = np.interp(-0.9, -salt_yield(np.linspace(1.7, 8, 631), threshold, slope), np.linspace(1.7, 8, 631))
    check("FAO-29, maize, from memory", "ECe at 90 % of the yield [dS m-1]", 2.5, at_90, 0.05)
    assert salt_yield(np.array([0.0, 1.7, 2.7, 20.0]), threshold, slope).tolist() == [1.0, 1.0, 0.88, 0.0]


def test_salt_factor_gives_the_salt_yield():
    # FAO-56 chapter 8 puts the loss of yield by salt (Eq. 89) into the response to water (Eq. 90): with the stress
    # that it makes, a season loses just that yield. Table 23 and 24: dry beans 1.0 dS/m, 19 %, Ky 1.15.
    salinity = np.array([0.5, 1.0, 2.0, 3.0])
    ks = salt_factor(salinity, 1.0, 19.0, 1.15)
    np.testing.assert_allclose(ks, [1.0, 1.0, 1 - 0.19 / 1.15, 1 - 0.38 / 1.15], rtol=0, atol=1e-12)
    np.testing.assert_allclose(
        relative_yield_seasonal(ks, 1.15), salt_yield(salinity, 1.0, 19.0), rtol=0, atol=1e-12
    )
    np.testing.assert_allclose(
        ks, stress_from_yield(salt_yield(salinity, 1.0, 19.0), 1.15), rtol=0, atol=1e-12
    )
    assert salt_factor(40.0, 1.0, 19.0, 1.15) == 0.0
    assert np.isnan(salt_factor(np.nan, 1.0, 19.0, 1.15))
