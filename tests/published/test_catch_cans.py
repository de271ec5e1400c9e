"""Uniformity of catch cans, against printed tests, rules of extension services and general libraries.

Sources stand beside each check. Where a value was not read in its source, the test says "from memory". Mean
low-quarter uniformities by kind of system, as Ascough and Kiker (2002) measured them on farms, are no check of
anything here: they are printed without the depths behind them, and no function states a mean for a kind of system.
"""

import numpy as np
import pytest
import scipy.stats

from waterbudget.system.catch_cans import CatchCans, depth_from_volume
from waterbudget.system.overlap import overlap_lateral, overlap_radial, pattern_flow
from waterbudget.system.uniformity import (
    LOW_QUARTER_DEVIATION,
    MEAN_DEVIATION,
    christiansen_from_low_quarter,
    christiansen_uniformity,
    coefficient_of_variation,
    cv_from_uniformity,
    low_half_uniformity,
    low_quarter_from_christiansen,
    low_quarter_uniformity,
    run_time_multiplier,
    scheduling_coefficient,
    standard_deviation,
    weighted_mean,
)

SIXTEEN = np.array([4, 4, 4, 4, 4, 5, 5, 4, 4, 5, 5, 4, 4, 4, 4, 4], dtype=float)
"""Liptak 1971, Eszteto szorofejek, table 6: depths [mm] of 16 points between four sprinklers, read."""
RADIUS = np.array([50.0, 100.0, 150.0, 200.0, 250.0])
PIVOT = np.array([10.0, 12.0, 11.0, 9.0, 10.0])
"""A constructed test on a centre pivot; the formula it was worked by is from memory (ISO 11545)."""


# ------------------------------------------------------------------------------- printed tests
def test_sixteen_points_between_sprinklers(check):
    # Liptak 1971, table 6: sum 68 mm, mean 4.25 mm, standard deviation 0.433 mm with divisor n, cv 0.102.
    cans = CatchCans(depths=SIXTEEN)
    source = "Liptak 1971 (Eszteto szorofejek), table 6"
    check(source, "mean of 16 cans [mm]", 4.25, cans.mean, 1e-9)
    check(source, "standard deviation [mm]", 0.433, standard_deviation(SIXTEEN, np.ones(16)), 0.0005)
    check(source, "coefficient of variation", 0.102, coefficient_of_variation(SIXTEEN), 0.0005)
    # Worked by hand from the same cans, not printed: mean deviation (12 0.25 + 4 0.75) / 16 = 0.375 mm, lowest
    # four 4 mm.
    assert christiansen_uniformity(SIXTEEN) == pytest.approx(1 - 0.375 / 4.25, abs=1e-12)  # 91.18 %
    assert low_quarter_uniformity(SIXTEEN) == pytest.approx(4 / 4.25, abs=1e-12)  # 94.12 %
    assert low_half_uniformity(SIXTEEN) == pytest.approx(4 / 4.25, abs=1e-12)


def test_scheduling_coefficient_of_pivots(check):
    # SCIRP paper 123518, two centre pivots in Michigan before and after their sprinklers were changed: DU 77, 82, 62
    # and 84 % with a scheduling coefficient of 1.3, 1.2, 1.6, 1.2. Four cans of which the lowest stands DU below.
    for low, printed in ((0.77, 1.3), (0.82, 1.2), (0.62, 1.6), (0.84, 1.2)):
        cans = [low, 1 + (1 - low) / 3, 1 + (1 - low) / 3, 1 + (1 - low) / 3]
        assert low_quarter_uniformity(cans) == pytest.approx(low, abs=1e-12)
        quantity = f"scheduling coefficient at DU {low:g}"
        check(
            "SCIRP paper 123518, pivots before and after",
            quantity,
            printed,
            scheduling_coefficient(cans),
            0.05,
        )


def test_cans_along_the_radius_of_a_pivot(check):
    # From memory: Heermann and Hein 1968, the form of ISO 11545; constructed test. By hand: weighted mean
    # 7650 / 750 mm; the can that caught 9 mm stands for 200 of 750, more than a quarter, so that the low quarter
    # lies wholly inside it, whatever the rule for a can in which the quarter ends.
    cans = CatchCans(depths=PIVOT, distance=RADIUS)
    source = "Heermann and Hein 1968, constructed test, from memory"
    check(source, "weighted mean [mm]", 10.2, cans.mean, 0.005)
    check(source, "CU", 0.9216, christiansen_uniformity(cans.depth, cans.weights), 0.0001)
    check(source, "CU without weights", 0.9154, christiansen_uniformity(PIVOT), 0.0001)
    check(source, "DUlq by area", 0.8824, low_quarter_uniformity(cans.depth, cans.weights), 0.0001)
    # Rings between equally spaced cans are in proportion to the radius, the weight of Heermann and Hein.
    np.testing.assert_allclose(cans.weights, RADIUS / RADIUS.sum(), rtol=0, atol=1e-15)


def test_low_quarter_that_ends_inside_a_can():
    # The definition is open where cans are no multiple of four; our rule, by hand: of five cans the quarter is 1.25
    # cans, (6 + 0.25 8) / 1.25 = 6.4 of a mean of 10.
    assert low_quarter_uniformity([6.0, 8.0, 11.0, 12.0, 13.0]) == pytest.approx(0.64, abs=1e-12)


# ------------------------------------------------------------------------------- normal theory
def test_christiansen_and_low_quarter_of_normal_depths(check):
    # Normal theory, from memory: CU 86 % is a cv of 0.17546 and DUlq 77.697 %; slope 1.5931.
    source = "Normal theory, CU and DUlq, from memory"
    check(source, "cv at CU 0.86", 0.17546, cv_from_uniformity(0.86), 0.000005)
    check(source, "DUlq at CU 0.86", 0.77697, low_quarter_from_christiansen(0.86), 0.000005)
    slope = low_quarter_from_christiansen(1.0) - low_quarter_from_christiansen(0.0)
    check(source, "DUlq per CU", 1.5931, slope, 0.00005)
    # Handbooks round to DU = 100 - 1.59 (100 - CU) and CU = 100 - 0.63 (100 - DU).
    check(source, "slope as handbooks round it", 1.59, slope, 0.005)
    check(source, "turned round, as handbooks round it", 0.63, 1 / slope, 0.005)
    assert christiansen_from_low_quarter(low_quarter_from_christiansen(0.86)) == pytest.approx(
        0.86, abs=1e-12
    )


def test_constants_of_normal_theory():
    # General library: scipy.stats. Mean deviation and mean of the lowest quarter by numerical integration.
    deviation = scipy.stats.norm.expect(np.abs)
    assert MEAN_DEVIATION["normal"] == pytest.approx(deviation, abs=1e-8)
    even = scipy.stats.uniform(-np.sqrt(3), 2 * np.sqrt(3))  # standard deviation 1
    assert MEAN_DEVIATION["uniform"] == pytest.approx(even.expect(np.abs), abs=1e-8)
    low = scipy.stats.norm.expect(ub=scipy.stats.norm.ppf(0.25), conditional=True)
    assert LOW_QUARTER_DEVIATION == pytest.approx(-low, abs=1e-8)


def test_many_normal_cans_reach_theory():
    # General library: 100 000 quantiles of scipy's normal distribution stand for a field.
    depths = scipy.stats.norm(10, 1.7546).ppf((np.arange(100_000) + 0.5) / 100_000)
    assert christiansen_uniformity(depths) == pytest.approx(0.86, abs=1e-4)
    assert low_quarter_uniformity(depths) == pytest.approx(0.77697, abs=1e-4)
    # Under normal theory CU and the uniformity of the low half are one number.
    assert low_half_uniformity(depths) == pytest.approx(0.86, abs=1e-4)


def test_run_time_multiplier(check):
    # Common practice, no source (from memory): 1 / (0.4 + 0.6 DU).
    uniformity = np.array([0.5, 0.6, 0.7, 0.8])
    got = run_time_multiplier(uniformity)
    check("Common practice, no source", "run time multiplier", [1.429, 1.316, 1.22, 1.136], got, 0.0005)
    # Normal theory gives 1 / (0.372 + 0.628 DU), one over the low-half uniformity; derived, three digits.
    exact = run_time_multiplier(uniformity, "normal")
    np.testing.assert_allclose(exact, 1 / (0.372 + 0.628 * uniformity), rtol=0, atol=0.001)
    np.testing.assert_allclose(exact, [1.457, 1.335, 1.232, 1.144], rtol=0, atol=0.0006)


# ---------------------------------------------------------------------------- rules of the trade
@pytest.mark.parametrize(
    ("lowest", "verdict"),
    [(9.5, "even enough"), (9.0, "may need"), (8.5, "may need"), (8.0, "may need"), (7.9, ": needs")],
)
def test_reading_of_sixteen_cans(lowest, verdict):
    # Common practice, no source: mean of all against the mean of the lowest four, 10-20 % apart may need a tune-up.
    # The other twelve make the mean 10 mm.
    cans = CatchCans(depths=[lowest] * 4 + [10 + (10 - lowest) / 3] * 12)
    assert cans.mean == pytest.approx(10)
    text = cans.reading()
    assert verdict in text
    assert f"{100 - 10 * lowest:.0f} % less" in text
    assert "common practice, no source" in text


@pytest.mark.parametrize(
    ("spread", "verdict"),
    [
        (1.0, "no major change"),
        (1.9, "no major change"),
        (1.95, "review"),
        (2.5, "review"),
        (2.6, "redesign"),
    ],
)
def test_classes_of_pivots(spread, verdict):
    # Michigan State University Extension, letters: CU of 85 and more no major change, 80-85 review, below redesign.
    # Deviations of the test above, spread: CU = 1 - 0.078431 spread.
    cans = CatchCans(depths=10.2 + spread * (PIVOT - 10.2), distance=RADIUS)
    whole = cans.findings().query("can.isna()")
    assert whole["finding"].iloc[0].startswith(verdict)
    assert f"CU {100 - 7.8431 * spread:.1f} %" in whole["why"].iloc[0]


def test_trend_along_a_pivot():
    # Michigan State University Extension, letters: catch falls outward = flow or pressure below design, rises = above.
    falling = np.array([12.0, 11.6, 11.1, 10.9, 10.2, 9.8, 9.9, 9.1])
    distance = np.arange(1, 9) * 30.0
    for depths, finding, why in (
        (falling, "catch falls outward", "below design"),
        (falling[::-1], "catch rises outward", "above design"),
    ):
        found = CatchCans(depths=depths, distance=distance).findings()
        (told,) = found.loc[found["finding"] == finding, "why"]
        assert why in told
        # General library: scipy.stats, Kendall's tau.
        assert f"tau {scipy.stats.kendalltau(distance, depths)[0]:.2f}" in told
    found = CatchCans(depths=PIVOT, distance=RADIUS).findings()
    assert not found["finding"].str.contains("outward").any()


def test_cans_far_from_the_mean():
    # Michigan State University Extension, letters: a can more than 20 % from the mean is looked at.
    # It is said of centre pivots; of a block it is common practice, no source.
    limit = (
        "above 20 %: look at the outlets (Michigan State University Extension, letters on pivot uniformity"
    )
    for nearly, distance, said in (
        (2.0, None, f"{limit}; its use for a block is common practice, no source)"),
        (1.9, 1000 + np.arange(8), f"{limit})"),  # far out: the rings are as good as equal
    ):
        depths = [10, 10, 10, 10 + nearly, 12.1, 10 - nearly, 7.9, 10]
        found = CatchCans(depths=depths, distance=distance).findings()
        cans = found.dropna(subset="can")
        assert cans["can"].tolist() == [5, 7]
        assert cans["finding"].tolist() == ["21 % above the mean", "21 % below the mean"]
        assert cans["why"].tolist() == [said] * 2


# --------------------------------------------------------------------------- general libraries
def test_statistics_of_general_libraries():
    # scipy.stats.variation (divisor n) and numpy's weighted average.
    rng = np.random.default_rng(5)
    depths, weights = rng.uniform(2, 20, 23), rng.uniform(1, 9, 23)
    assert coefficient_of_variation(depths) == pytest.approx(scipy.stats.variation(depths), abs=1e-12)
    assert weighted_mean(depths, weights) == pytest.approx(np.average(depths, weights=weights), abs=1e-12)
    by_hand = 1 - np.sum(np.abs(depths - depths.mean())) / depths.sum()
    assert christiansen_uniformity(depths) == pytest.approx(by_hand, abs=1e-12)


def test_interval_of_a_general_library():
    # scipy.stats.bootstrap, percentile method, cans drawn with their weights. Two samplings of one
    # interval: apart by their noise, a few per cent of its width.
    rng = np.random.default_rng(6)
    depths, distance = rng.uniform(8, 13, 30), np.arange(1, 31) * 10.0
    cans = CatchCans(depths=depths, distance=distance)
    ours = cans.summary(level=0.9, resamples=5000).set_index("quantity")
    for quantity, statistic in (
        ("mean depth", weighted_mean),
        ("Christiansen uniformity", christiansen_uniformity),
        ("low-quarter uniformity", low_quarter_uniformity),
        ("coefficient of variation", coefficient_of_variation),
    ):
        theirs = scipy.stats.bootstrap(
            (cans.depth, cans.weights),
            lambda d, w, axis=-1, statistic=statistic: statistic(d, w),
            paired=True,
            vectorized=True,
            n_resamples=5000,
            confidence_level=0.9,
            method="percentile",
            rng=np.random.default_rng(1),
        ).confidence_interval
        width = theirs.high - theirs.low
        assert ours.loc[quantity, "low"] == pytest.approx(theirs.low, abs=0.05 * width)
        assert ours.loc[quantity, "high"] == pytest.approx(theirs.high, abs=0.05 * width)


def test_depth_from_volume():
    # Arithmetic identity: 1 L over 1 m2 is 1 mm; a can of 4 in takes 81.07 mL for 10 mm.
    assert depth_from_volume(1000.0, np.sqrt(4 / np.pi)) == pytest.approx(1.0, abs=1e-12)
    assert depth_from_volume(81.073, 0.1016) == pytest.approx(10.0, abs=0.001)


# ------------------------------------------------------------------------------------ overlap
def test_lateral_moved_by_a_spacing():
    # Common practice, no source: cans one spacing apart are added. Cans 3 m apart, lateral moved by 9 m; by hand.
    position = [0.0, 1.5, 4.5, 7.5, 10.5, 13.5, 16.5, 18.0]
    depth = [0.0, 1.0, 3.0, 5.0, 6.0, 2.5, 0.5, 0.0]
    total = overlap_lateral(position, depth, spacing=9.0, grid=3)
    np.testing.assert_allclose(total["across"], [1.5, 4.5, 7.5], rtol=0, atol=1e-12)
    np.testing.assert_allclose(total, [1 + 6, 3 + 2.5, 5 + 0.5], rtol=0, atol=1e-12)


def test_cone_of_water():
    # Arithmetic identities. A pattern that falls from 6 mm/h at the sprinkler to 0 at 12 m is a cone: its flow is
    # a third of base times height. In a square of 12 m, the middle is 8.485 m from four sprinklers.
    assert pattern_flow([0, 12], [6, 0]) == pytest.approx(np.pi * 12**2 * 6 / 3, rel=1e-12)
    caught = overlap_radial([0, 12], [6, 0], spacing_along=12, spacing_between=12, grid=1)
    assert float(caught[0, 0]) == pytest.approx(4 * 6 * (1 - np.hypot(6, 6) / 12), abs=1e-12)
    # Triangular: (6, 6) is 6 m from a sprinkler of the second row at (6, 12) and from none of the first by less
    # than 8.485 m; (6, 18) is 6 m from it on the other side. Both see one at 6 m, two at 8.485 m, none else within 12.
    caught = overlap_radial(
        [0, 12], [6, 0], spacing_along=12, spacing_between=12, layout="triangular", grid=1
    )
    expected = 6 * (1 - 6 / 12) + 2 * 6 * (1 - np.hypot(6, 6) / 12)
    np.testing.assert_allclose(caught.values.ravel(), [expected, expected], rtol=0, atol=1e-12)
