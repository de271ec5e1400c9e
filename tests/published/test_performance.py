"""A first full refill from uniform depletion, without rain, against the closed forms of depth distributions.

Normal and uniform depths: part of the field that is filled, part of the water that percolates, part of the need
that is left, for a coefficient of uniformity and a depth required over the mean depth. The relations are
derived from the distributions (for the normal one ``CU = 1 - cv sqrt(2/pi)``, for the uniform one of half width
b ``CU = 1 - b/2``); the values are from memory or derived, not read in a publication. scipy's distributions
give them a second time.
"""

import math

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from scipy import stats

import waterbudget as wb
from waterbudget.report.losses import losses
from waterbudget.report.performance import performance

SPOTS = 1000
SOURCE = "Normal and uniform depths, closed forms (derived, from memory)"
CASES = [
    # CU, required over mean; adequate, percolates, deficit
    ("normal", 0.86, 1.00, 0.5000, 0.0700, 0.0700),
    ("normal", 0.86, 0.85, 0.8037, 0.1691, 0.0225),
    ("normal", 0.80, 0.90, 0.6550, 0.1579, 0.0643),
    # a normal distribution of CU 70 % has depths below 0, and System refuses it
    ("uniform", 0.86, 1.00, 0.5000, 0.0700, 0.0700),
    ("uniform", 0.86, 0.85, 0.7679, 0.1651, 0.0178),
    ("uniform", 0.80, 0.90, 0.6250, 0.1562, 0.0625),
    ("uniform", 0.70, 0.70, 0.7500, 0.3375, 0.0536),
]
REQUIRED = 84.0
"""Depletion before the watering [mm], of 200 mm available."""


def cv_of(kind, uniformity):
    """Give the coefficient of variation that belongs to a coefficient of uniformity."""
    if kind == "normal":
        return (1 - uniformity) * math.sqrt(math.pi / 2)
    return 2 * (1 - uniformity) / math.sqrt(3)


def water(system, rule=None, irrigation=None):
    """Give one day without evapotranspiration."""
    weather = xr.Dataset(
        {"et_ref": ("time", [0.0], {"surface": "short"}), "rain": ("time", [0.0])},
        coords={"time": pd.date_range("2024-07-01", periods=1)},
    )
    crop = wb.Crop(kc=1.0, root_depth=1.0, depletion_fraction=0.5)
    return wb.simulate(
        weather,
        crop,
        wb.Soil(available_water=0.2),
        system,
        rule,
        irrigation=irrigation,
        initial_depletion=REQUIRED,
    )


def outcome(season):
    """Give the part filled, the part of the water that percolated, and the part of the need that is left."""
    (row,) = performance(season).to_dict("records")
    left = float((season["depletion"].isel(time=0) * season["spot_weight"]).sum()) / REQUIRED
    return row["adequacy"], row["percolation_from_irrigation_mm"] / row["net_mm"], left


@pytest.mark.parametrize(("kind", "uniformity", "over_mean", "adequate", "percolates", "deficit"), CASES)
def test_first_refill(check, kind, uniformity, over_mean, adequate, percolates, deficit):
    cv = cv_of(kind, uniformity)
    system = wb.System.from_distribution(kind, cv, spots=SPOTS, delivered_fraction=1.0)
    mean = REQUIRED / over_mean
    record = pd.DataFrame({"date": ["2024-07-01"], "net_mm": [mean]})
    found = outcome(water(system, irrigation=record))
    case = f"{kind}, CU {uniformity:.0%}, required {over_mean:g} of the mean"
    # a field of 1000 spots tells a part of it to 1/1000
    check(SOURCE, f"adequacy, {case} [1]", adequate, found[0], 0.001)
    check(SOURCE, f"deep percolation, {case} [1]", percolates, found[1], 1e-4)
    check(SOURCE, f"deficit, {case} [1]", deficit, found[2], 1e-4)

    spread = stats.norm(1, cv) if kind == "normal" else stats.uniform(1 - cv * 3**0.5, 2 * cv * 3**0.5)
    assert found[0] == pytest.approx(spread.sf(over_mean), abs=0.001)
    beyond = spread.expect(lambda depth: depth - over_mean, lb=over_mean)
    assert found[1] == pytest.approx(beyond, abs=1e-5)
    # what fell and stayed is what was needed and met
    assert mean * (1 - found[1]) == pytest.approx(REQUIRED * (1 - found[2]), abs=1e-9)


@pytest.mark.parametrize("kind", ["normal", "uniform"])
def test_the_rule_refills_the_mean_or_the_adequacy_that_is_asked(check, kind):
    cv = cv_of(kind, 0.86)
    system = wb.System.from_distribution(kind, cv, spots=SPOTS, delivered_fraction=1.0)
    by_mean = water(system, wb.Rule(allowable_depletion=0.4))
    check(
        SOURCE,
        f"deep percolation of a full refill by rule, {kind}, CU 86% [1]",
        0.07,
        outcome(by_mean)[1],
        1e-4,
    )
    assert outcome(by_mean)[0] == pytest.approx(0.5)
    adequacy = 0.8037 if kind == "normal" else 0.7679
    asked = water(system, wb.Rule(allowable_depletion=0.4, adequacy=adequacy))
    check(
        SOURCE,
        f"required over mean for adequacy {adequacy:g} by rule, {kind}, CU 86% [1]",
        0.85,
        REQUIRED / float(asked["irrigation_net"].sum()),
        5e-4,  # the share of one spot in 1000
    )
    assert outcome(asked)[0] == pytest.approx(adequacy, abs=0.001)
    # all of this percolation comes from unevenness, and from covering it
    told = losses(asked).set_index("loss")
    assert set(told.index) == {"pumped", "uneven application", "stored for the crop"}


def test_few_spots_give_the_percolation_of_a_full_refill_exactly(check):
    # the mean is the edge of a spot when their number is even, and each spot is the mean of its part
    system = wb.System.from_distribution("normal", cv_of("normal", 0.86), spots=20, delivered_fraction=1.0)
    found = outcome(water(system, wb.Rule(allowable_depletion=0.4)))
    check(SOURCE, "deep percolation of a full refill, normal, CU 86%, 20 spots [1]", 0.07, found[1], 1e-9)
    assert found[0] == pytest.approx(0.5)
    assert np.isclose(found[1], found[2])
