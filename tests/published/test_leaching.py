"""Leaching and the salinity of the root zone: FAO Irrigation and Drainage Paper 29 (Ayers and Westcot 1985).

All numbers of that paper here are from memory, recomputed from its equations; what was remembered as printed is
compared to the printed digits.
"""

import numpy as np
import pytest

from waterbudget.soil import (
    leaching_requirement,
    leaching_requirement_frequent,
    leaching_shortfall,
    required_water,
    root_zone_salinity,
    salinity_at_yield,
    steady_state_profile,
)
from waterbudget.soil.leaching import salt_mass

FAO_29 = "FAO-29 rev. 1 (1985), from memory"
# leaching fraction, then ECsw over ECw at the surface and below each quarter, and ECe over ECw as the table prints it
CONCENTRATION = [
    (0.05, (1.0, 1.613, 2.985, 6.897, 20.0), 3.2),
    (0.10, (1.0, 1.562, 2.703, 5.263, 10.0), 2.1),
    (0.15, (1.0, 1.515, 2.469, 4.255, 6.667), 1.6),
    (0.20, (1.0, 1.471, 2.273, 3.571, 5.0), 1.3),
    (0.25, (1.0, 1.429, 2.105, 3.077, 4.0), 1.2),
    (0.30, (1.0, 1.389, 1.961, 2.703, 3.333), 1.0),
    (0.40, (1.0, 1.316, 1.724, 2.174, 2.5), 0.9),
    (0.50, (1.0, 1.25, 1.538, 1.818, 2.0), 0.8),
    (0.60, (1.0, 1.19, 1.389, 1.562, 1.667), 0.7),
    (0.70, (1.0, 1.136, 1.266, 1.37, 1.429), 0.6),
    (0.80, (1.0, 1.087, 1.163, 1.22, 1.25), 0.6),
]


def test_requirement_and_water_of_the_maize(check):
    """Maize of FAO-29: ECw 1.2, ECe 2.5 at 90 % yield, ET 800 mm; LR 0.10 and AW 890 mm are printed."""
    requirement = leaching_requirement(1.2, 2.5)
    check(FAO_29, "leaching requirement of maize", 0.106, requirement, 0.0005)
    check(FAO_29, "water applied with LR as printed, mm", 890, required_water(800.0, 0.10), 3)
    assert required_water(800.0, requirement) == pytest.approx(895.0, abs=0.6)


def test_stacking_counts_the_same_water_twice(check):
    """At an application efficiency of 0.75 the percolation of the inefficiency leaches already."""
    requirement = leaching_requirement(1.2, 2.5)
    applied = required_water(800.0, requirement)
    check(FAO_29 + "; arithmetic", "gross depth of maize, stacked, mm", 1193, applied / 0.75, 0.6)
    gross = 800.0 / 0.75
    lacking = leaching_shortfall(applied - 800.0, gross - 800.0)
    check(
        FAO_29 + "; arithmetic", "gross depth of maize, percolation credited, mm", 1067, gross + lacking, 0.5
    )
    assert lacking == 0.0
    # of the same loss, as spray nothing drains: all of the requirement is lacking
    assert leaching_shortfall(applied - 800.0, 0.0) == pytest.approx(95.0, abs=0.6)


def test_requirement_under_drip(check):
    check(FAO_29, "leaching requirement, drip", 0.10, leaching_requirement_frequent(2.0, 10.0), 1e-12)


@pytest.mark.parametrize(("fraction", "quarters", "printed"), CONCENTRATION)
def test_steady_state_profile(check, fraction, quarters, printed):
    profile = np.array(steady_state_profile(1.0, fraction))
    for depth, (expected, found) in enumerate(zip(quarters, profile, strict=True)):
        check(
            FAO_29,
            f"ECsw below quarter {depth} at a leaching fraction of {fraction}",
            expected,
            found,
            0.00051,
        )
    check(
        FAO_29,
        f"ECe over ECw at a leaching fraction of {fraction}",
        printed,
        root_zone_salinity(1.0, fraction),
        0.0501,
    )


def test_profile_of_the_example(check):
    """ECw 1, LF 0.15: 1.0, 1.5, 2.5, 4.3, 6.7 and a mean of 3.2 are printed."""
    profile = steady_state_profile(1.0, 0.15)
    for printed, found in zip((1.0, 1.5, 2.5, 4.3, 6.7), profile, strict=True):
        check(FAO_29, "ECsw at LF 0.15", printed, found, 0.05)
    check(FAO_29, "mean ECsw at LF 0.15", 3.2, float(np.mean(profile)), 0.05)
    assert required_water(1000.0, 0.15) == pytest.approx(1176, abs=0.5)


def test_salinity_at_a_yield_is_the_relation_of_maas_and_hoffman_turned_round(check):
    """FAO-56 Table 23: maize 1.7 dS/m and 12 %; 90 % of the yield is left at 2.5 dS/m (FAO-29 Table 4, from memory)."""
    check(FAO_29, "ECe of maize at 90 % yield", 2.5, salinity_at_yield(1.7, 12.0, 0.9), 0.05)
    check(FAO_29, "ECe of maize at no yield", 10.0, salinity_at_yield(1.7, 12.0, 0.0), 0.05)
    assert salinity_at_yield(1.7, 12.0, 1.0) == 1.7


def test_salts_in_water(check):
    """640 mg/L for each dS/m: 1 dS/m in 100 mm is 0.64 t/ha."""
    check(FAO_29, "salts in 100 mm of 1 dS/m, t/ha", 0.64, salt_mass(1.0, 100.0), 1e-12)
