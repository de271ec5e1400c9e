"""Adequacy, deep percolation and deficit of one watering, against scipy and handbook tables.

Sources stand beside each check. The closed forms have no printed table that was read: the values are derived
or from memory, and scipy's numerical integration is the independent check.
"""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import scipy.stats

from waterbudget.system.distribution import (
    adequacy,
    below_zero,
    deep_percolation,
    deficit,
    distribution_efficiency,
    fit,
    quantile_shares,
    required_depth_factor,
)
from waterbudget.system.uniformity import christiansen_uniformity, cv_from_uniformity, uniformity_from_cv

TABLES = Path(__file__).parent / "tables"
KINDS = ("normal", "uniform", "gamma", "lognormal")


def of_scipy(kind, cv):
    """Give a distribution of scipy with mean 1, by its own parameters (scipy's reference guide)."""
    if kind == "normal":
        return scipy.stats.norm(1, cv)
    if kind == "uniform":
        return scipy.stats.uniform(1 - np.sqrt(3) * cv, 2 * np.sqrt(3) * cv)
    if kind == "gamma":
        return scipy.stats.gamma(1 / cv**2, scale=cv**2)
    spread = np.sqrt(np.log(1 + cv**2))
    return scipy.stats.lognorm(spread, scale=np.exp(-(spread**2) / 2))


# -------------------------------------------------------------------------------- worked values
@pytest.mark.parametrize(
    ("uniformity", "required", "normal", "uniform"),
    [
        (0.86, 1.0, (0.1755, 0.5, 0.07, 0.07), (0.28, 0.5, 0.07, 0.07)),
        (0.86, 0.85, (0.1755, 0.8037, 0.1691, 0.0225), (0.28, 0.7679, 0.1651, 0.0178)),
        (0.80, 0.9, (0.2507, 0.655, 0.1579, 0.0643), (0.4, 0.625, 0.1562, 0.0625)),
        (0.70, 0.7, (0.376, 0.7875, 0.3454, 0.0648), (0.6, 0.75, 0.3375, 0.0536)),
    ],
)
def test_normal_and_uniform_depths(check, uniformity, required, normal, uniform):
    # Normal and uniform depth models, derived, from memory: cv (or half range b), adequate part, deep percolation
    # over the mean depth, deficit over the required depth. 0.0000501: printed halves such as 0.15625.
    for kind, (spread, adequate, percolation, lacking) in (("normal", normal), ("uniform", uniform)):
        cv = cv_from_uniformity(uniformity, kind)
        half_range = np.sqrt(3) * cv
        where = f"CU {uniformity:g}, required {required:g} of the mean"
        source = f"{kind.capitalize()} depths, closed forms, derived"
        check(source, f"cv or half range, {where}", spread, cv if kind == "normal" else half_range, 0.0000501)
        check(source, f"adequate part, {where}", adequate, adequacy(kind, cv, required), 0.0000501)
        check(
            source, f"deep percolation, {where}", percolation, deep_percolation(kind, cv, required), 0.0000501
        )
        check(source, f"deficit, {where}", lacking, deficit(kind, cv, required), 0.0000501)


@pytest.mark.parametrize(("kind", "spread"), [("normal", "cv_normal"), ("uniform", "b_uniform")])
def test_table_of_closed_forms(check, kind, spread):
    # tables/adequacy_deep_percolation.csv: derived, 30 rows printed to 4 digits.
    rows = pd.read_csv(TABLES / "adequacy_deep_percolation.csv", comment="#")
    required = rows["required_over_mean_depth"].to_numpy()
    cv = cv_from_uniformity(rows["CU"].to_numpy() / 100, kind)
    end = f"fraction_{kind}" if kind == "normal" else kind
    source = f"{kind.capitalize()} depths, closed forms, derived"
    scale = 1.0 if kind == "normal" else np.sqrt(3)
    check(source, "cv or half range, whole table", rows[spread], scale * cv, 0.0000501)
    check(
        source, "adequate part, whole table", rows[f"adequate_{end}"], adequacy(kind, cv, required), 0.0000501
    )
    percolation = deep_percolation(kind, cv, required)
    check(source, "deep percolation, whole table", rows[f"deep_perc_{end}"], percolation, 0.0000501)
    check(source, "deficit, whole table", rows[f"deficit_{end}"], deficit(kind, cv, required), 0.0000501)


def test_distribution_efficiency(check):
    # Keller and Bliesner 1990, table of DEpa at CU 86 %, from memory: whole per cent. Beside it normal quantiles
    # at one decimal of a per cent, derived.
    parts = np.array([0.95, 0.90, 0.85, 0.80, 0.75, 0.70])
    got = distribution_efficiency(0.86, parts)
    source = "Keller and Bliesner 1990, distribution efficiency, from memory"
    check(source, "DEpa at CU 0.86", [0.71, 0.77, 0.82, 0.85, 0.88, 0.91], got, 0.0052)
    exact = [0.711, 0.775, 0.818, 0.852, 0.882, 0.908]
    np.testing.assert_allclose(got, exact, rtol=0, atol=0.0005)
    assert distribution_efficiency(1.0, 0.9) == 1.0
    # Its reciprocal is the mean depth over the required one.
    factor = required_depth_factor("normal", cv_from_uniformity(0.86), parts)
    np.testing.assert_allclose(factor, 1 / got, rtol=1e-12)


# --------------------------------------------------------------------------------------- scipy
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("cv", [0.05, 0.2, 0.4])
def test_scipy_integrates_the_same(kind, cv):
    # General library: scipy.stats, numerical integration of the depths above and below what is required.
    chosen = of_scipy(kind, cv)
    for required in (0.7, 0.95, 1.0, 1.2):
        more = chosen.expect(lambda depth, r=required: np.maximum(depth - r, 0.0), epsabs=1e-10)
        less = chosen.expect(lambda depth, r=required: np.maximum(r - depth, 0.0), epsabs=1e-10)
        assert adequacy(kind, cv, required) == pytest.approx(chosen.sf(required), abs=1e-12)
        assert deep_percolation(kind, cv, required) == pytest.approx(more, abs=1e-6)
        assert deficit(kind, cv, required) == pytest.approx(less / required, abs=1e-6)
        # The water closes: mean (1 - percolation) = required (1 - deficit).
        left = 1 - deep_percolation(kind, cv, required)
        assert left == pytest.approx(required * (1 - deficit(kind, cv, required)), abs=1e-12)
    assert below_zero(kind, cv) == pytest.approx(chosen.cdf(0.0), abs=1e-12)
    assert adequacy(kind, cv, 1 / required_depth_factor(kind, cv, 0.8)) == pytest.approx(0.8, abs=1e-9)


@pytest.mark.parametrize("kind", KINDS)
def test_spots_are_means_of_their_quantiles(kind):
    # General library: scipy.stats, the mean between two quantiles by numerical integration.
    chosen = of_scipy(kind, 0.3)
    shares = quantile_shares(kind, 0.3, 5)
    edges = chosen.ppf(np.linspace(0, 1, 6))
    means = [chosen.expect(lb=low, ub=high, conditional=True) for low, high in pairwise(edges)]
    np.testing.assert_allclose(shares, means, rtol=0, atol=1e-6)


@pytest.mark.parametrize("kind", ["normal", "uniform"])
def test_many_spots_have_the_uniformity_of_theory(kind):
    shares = quantile_shares(kind, 0.25, 2000)
    assert christiansen_uniformity(shares) == pytest.approx(uniformity_from_cv(0.25, kind), abs=1e-3)
    percolation = np.maximum(shares - 0.9, 0).mean()
    assert percolation == pytest.approx(deep_percolation(kind, 0.25, 0.9), abs=1e-4)


def test_fit_of_a_general_library():
    # General library: the statistic of scipy.stats.kstest for the same mean and standard deviation, and the p-value
    # of scipy.stats.goodness_of_fit with fitted parameters (which divides by n - 1). Two bootstraps of one
    # p-value are apart by their noise: 0.065 is four standard errors of two times 2000 draws.
    rng = np.random.default_rng(3)
    for depths in (rng.normal(10, 2, 24), rng.gamma(2, 5, 24)):
        row = fit(depths, resamples=2000).set_index("kind").loc["normal"]
        theirs = scipy.stats.goodness_of_fit(
            scipy.stats.norm,
            depths,
            statistic="ks",
            n_mc_samples=2000,
            rng=np.random.default_rng(4),
        )
        plain = scipy.stats.kstest(depths, scipy.stats.norm(depths.mean(), depths.std()).cdf)
        assert row["ks_statistic"] == pytest.approx(plain.statistic, abs=1e-12)
        assert row["p_value"] == pytest.approx(theirs.pvalue, abs=0.065)


def test_fit_finds_what_the_cans_were_drawn_from():
    # 400 quantiles of a skewed gamma distribution: normal depths are rejected, gamma is the best.
    depths = 12 * of_scipy("gamma", 0.6).ppf((np.arange(400) + 0.5) / 400)
    table = fit(depths, resamples=200)
    assert table["kind"].iloc[0] == "gamma"
    by_kind = table.set_index("kind")["p_value"]
    assert by_kind["gamma"] > 0.95  # quantiles lie closer than any sample
    assert by_kind["normal"] < 0.01
    assert by_kind["uniform"] < 0.01
    # The plain p-value of the tables, for parameters stated beforehand, is larger.
    cans = np.random.default_rng(8).normal(10, 2, 20)
    fitted = scipy.stats.norm(cans.mean(), cans.std())
    assert fit(cans).set_index("kind").loc["normal", "p_value"] < scipy.stats.kstest(cans, fitted.cdf).pvalue
