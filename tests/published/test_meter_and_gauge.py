"""Meter and gauge: the law of outlets against printed nozzles, chances of false alarm against distributions.

Sources stand beside each check. Where a value was not read in its source, the test says "from memory".
"""

import math

import numpy as np
import pandas as pd
import pytest
import scipy.integrate
import scipy.special
import scipy.stats

from waterbudget.system.change import chance_in_season, largest_by_chance, smallest_found
from waterbudget.system.meter import irrigation_from_hours, irrigation_from_meter
from waterbudget.system.readings import conductance, find_faults, readings_table

PSI = [35, 40, 45, 50, 55]
THREE_SIXTEENTHS = [5.97, 6.41, 6.81, 7.18, 7.51]
THIRTEEN_64 = [7.08, 7.60, 8.07, 8.49, 8.87]
"""Flow [gal/min] of nozzles of 3/16 and 13/64 in by pressure: extension nozzle table SCR23, read."""
SCR23 = "Extension nozzle table SCR23 (read)"


def table(flow, pressure, first="2024-05-01"):
    dates = pd.date_range(first, periods=len(flow), freq="7D")
    return pd.DataFrame({"date": dates, "flow_gal_per_min": flow, "pressure_psi": pressure})


def test_flow_that_printed_nozzles_should_have(check):
    # Baseline at 35 psi, later readings as the table goes on; its own scatter about the square root is 0.06.
    shown = readings_table(table(THREE_SIXTEENTHS[1:], PSI[1:]), table([5.97], [35], "2024-04-01"))
    later = shown[~shown["baseline"]]
    gallons_per_minute = later["expected_flow_m3_per_h"] / 0.22712470704
    quantity = "3/16 in at 40 to 55 psi, expected from the reading at 35 psi [gal/min]"
    check(SCR23, quantity, THREE_SIXTEENTHS[1:], gallons_per_minute, 0.06)
    assert np.allclose(later["conductance_ratio"], 1.0, atol=0.01)


def test_the_same_nozzle_at_every_pressure_is_no_leak():
    found = find_faults(table(THREE_SIXTEENTHS[1:], PSI[1:]), table([5.97], [35], "2024-04-01"))
    assert found["finding"].tolist() == ["strong supply"]


def test_a_larger_nozzle_is_found_as_wear(check):
    # SCR23 at 45 psi: 13/64 in passes 8.07, 3/16 in 6.81 gal/min.
    found = find_faults(table([8.07] * 2, [45] * 2), table([6.81] * 3, [45] * 3, "2024-04-01"))
    (row,) = found.to_dict("records")
    assert row["finding"] == "leak, break or worn outlets"
    check(
        SCR23, "13/64 for 3/16 in, more flow [%]", 100 * (8.07 / 6.81 - 1), row["flow_change_percent"], 1e-9
    )
    # Texas A&M AgriLife, in Farm Progress: worn nozzles put out 10 to 20 % too much; read. A bore 1/64 in
    # wider is one of them.
    assert 10 <= row["conductance_change_percent"] <= 20


def test_a_fifth_less_pressure_is_a_tenth_less_flow(check):
    # Texas A&M AgriLife, in Farm Progress: 20 % in pressure is 10 % in flow; read. sqrt(0.8) is 0.894.
    below = 0.8 * 300
    expected = readings_table(
        [{"date": "2024-06-01", "pressure_kPa": below}],
        [{"date": "2024-05-01", "flow_m3_per_h": 50, "pressure_kPa": 300}],
    )["expected_flow_m3_per_h"].iloc[-1]
    source = "Texas A&M AgriLife (Farm Progress, read), tolerance of pressure"
    check(source, "less flow at 20 % less pressure [%]", 10, 100 * (1 - expected / 50), 1)
    found = find_faults(
        [{"date": "2024-06-01", "flow_m3_per_h": expected, "pressure_kPa": below}],
        [{"date": "2024-05-01", "flow_m3_per_h": 50, "pressure_kPa": 300}],
    )
    assert found["finding"].tolist() == ["weak supply or pump"]


def test_wear_of_a_bore(check):
    # Orifice area, from memory: 5 % more diameter is 1.05^2 - 1 = 10.25 % more flow at one pressure.
    more = conductance(100 * 1.05**2, 200.0, 0.5) / conductance(100.0, 200.0, 0.5) - 1
    check("Orifice area (from memory)", "more flow by 5 % more diameter [%]", 10.25, 100 * more, 1e-9)


# --------------------------------------------------------------------------- chances of a false alarm
def tolerance(chance):
    """Five standard errors of a share of 50,000 simulated seasons."""
    return 5 * np.sqrt(chance * (1 - chance) / 50_000)


def test_three_standard_errors(check):
    # Montgomery, Introduction to Statistical Quality Control, from memory: a single reading passes limits of
    # three standard errors by chance 0.0027 of the time. A baseline of a million readings is a known mean.
    got = chance_in_season(3.0, 1, 1_000_000, False)
    source = "Montgomery, Introduction to Statistical Quality Control (from memory)"
    check(source, "chance beyond three standard errors", 0.0027, got, tolerance(0.0027))


@pytest.mark.parametrize("base", [1, 4, 30])
@pytest.mark.parametrize("shift", [1.0, 2.0, 2.8])
def test_one_reading_against_scipy(base, shift):
    # scipy.stats.norm and t: one reading against a baseline is the two-sample test of its mean.
    normal = 2 * scipy.stats.norm.sf(shift)
    assert chance_in_season(shift, 1, base, False) == pytest.approx(normal, abs=tolerance(normal))
    if base > 1:
        student = 2 * scipy.stats.t.sf(shift, base - 1)
        assert chance_in_season(shift, 1, base, True) == pytest.approx(student, abs=tolerance(student))


@pytest.mark.parametrize("base", [1, 4, 30])
@pytest.mark.parametrize("chance", [0.003, 0.05, 0.3])
def test_the_limit_of_one_reading_against_scipy(base, chance):
    # The quantile of the same two-sample tests, between those of chances as far off as 50,000 seasons allow.
    off = np.array([1, -1]) * tolerance(chance)
    low, high = scipy.stats.norm.isf((chance + off) / 2)
    assert low < largest_by_chance(chance, 1, base, False) < high
    if base > 1:
        low, high = scipy.stats.t.isf((chance + off) / 2, base - 1)
        assert low < largest_by_chance(chance, 1, base, True) < high
    for estimated in {False, base > 1}:
        limit = largest_by_chance(chance, 10, base, estimated)
        assert chance_in_season(limit, 10, base, estimated) > chance
        assert chance_in_season(np.nextafter(limit, np.inf), 10, base, estimated) <= chance


@pytest.mark.parametrize("base", [1, 4, 30])
@pytest.mark.parametrize("limit", [2.5, 3.3])
def test_what_one_and_two_readings_find_in_half_of_all_cases(base, limit):
    # One reading: its mean is normal about the change, so that half of all cases lie beyond the limit. Five
    # standard errors of a median: 1.2533 standard errors of a mean (scipy.stats.norm has the density there).
    error = np.sqrt(1 + 1 / base)
    sure = 5 * 0.5 / scipy.stats.norm.pdf(0) * error / np.sqrt(50_000)
    assert smallest_found(limit, 1, base, False) == pytest.approx(limit * error, abs=sure)
    # Two: the chance that none of {first}, {second}, {both} passes, by scipy.integrate, is a half;
    # scipy.special.ndtr is the normal distribution.
    ndtr, both = scipy.special.ndtr, 2 * limit * np.sqrt(0.5 + 1 / base)
    change = smallest_found(limit, 2, base, False)

    def inside(first, mean):
        below = ndtr(min(limit * error, both - (first - mean)) + mean - change)
        # The densities of the first reading and of a mean of ``base`` readings.
        densities = math.exp(-((first - change) ** 2 + base * mean**2) / 2) * math.sqrt(base) / (2 * math.pi)
        return below * densities

    end = 6 / np.sqrt(base)
    kept, _ = scipy.integrate.dblquad(
        inside, -end, end, lambda m: change - 8, lambda m: m + limit * error, epsabs=1e-5, epsrel=1e-5
    )
    assert kept == pytest.approx(0.5, abs=tolerance(0.5))


@pytest.mark.parametrize("base", [1, 4])
@pytest.mark.parametrize("limit", [1.5, 2.0, 2.6])
def test_two_readings_against_integration(base, limit):
    # The chance that none of {first}, {second}, {both} passes the limit, integrated over the baseline's mean m and
    # the first reading by scipy.integrate; scipy.special.ndtr, the normal distribution, gives the second.
    ndtr = scipy.special.ndtr
    one, two = limit * np.sqrt(1 + 1 / base), 2 * limit * np.sqrt(0.5 + 1 / base)

    def inside(first, mean):
        low = max(-one, -two - (first - mean)) + mean
        high = min(one, two - (first - mean)) + mean
        second = max(ndtr(high) - ndtr(low), 0.0)
        # The densities of the first reading and of a mean of ``base`` readings.
        return second * math.exp(-(first**2 + base * mean**2) / 2) * math.sqrt(base) / (2 * math.pi)

    kept, _ = scipy.integrate.dblquad(
        inside,
        -6 / np.sqrt(base),
        6 / np.sqrt(base),
        lambda m: m - one,
        lambda m: m + one,
        epsabs=1e-5,
        epsrel=1e-5,
    )
    assert chance_in_season(limit, 2, base, False) == pytest.approx(1 - kept, abs=tolerance(1 - kept))


def test_a_season_lies_between_its_bounds():
    # Ten independent readings alone (Shewhart) pass less often than all 55 runs of them; Bonferroni over the runs
    # more often. Both by scipy.stats.norm.
    for shift in (2.5, 3.0, 3.5):
        single = 2 * scipy.stats.norm.sf(shift)
        got = chance_in_season(shift, 10, 1_000_000, False)
        assert 1 - (1 - single) ** 10 < got < 55 * single


def test_interval_of_a_change_is_that_of_the_t_test():
    # scipy.stats.ttest_ind: with a single later reading its pooled scatter is that of the baseline.
    rng = np.random.default_rng(3)
    good, later = np.exp(rng.normal(4.0, 0.01, 10)), np.exp(rng.normal(4.2, 0.01, 1))
    base = pd.DataFrame(
        {"date": pd.date_range("2024-04-01", periods=10), "flow_m3_per_h": good, "pressure_kPa": 200.0}
    )
    base["pressure_kPa"] *= np.exp(rng.normal(0, 0.01, 10))
    found = find_faults(
        [{"date": "2024-05-01", "flow_m3_per_h": later[0], "pressure_kPa": 200.0}],
        base,
        flow_error=None,
        pressure_error=None,
    )
    (row,) = found.to_dict("records")
    theirs = scipy.stats.ttest_ind(np.log(later), np.log(good)).confidence_interval(0.95)
    ours = np.log1p(np.array([row["flow_low_percent"], row["flow_high_percent"]]) / 100)
    np.testing.assert_allclose(ours, [theirs.low, theirs.high], rtol=1e-9)


# --------------------------------------------------------------------------------- meters and hours
def test_units_of_meters(check):
    # From memory: an acre-foot is 325,851 gal, an acre-inch 27,154 gal (to the last digit printed).
    for column, count, depth in (
        ("meter_acre_ft", 1.0, 304.8),
        ("meter_gal", 325_851, 304.8),
        ("meter_acre_in", 1.0, 25.4),
        ("meter_gal", 27_154, 25.4),
        ("meter_L", 4_046_856.42, 1000.0),
    ):
        readings = [{"date": "2024-05-01", column: 0.0}, {"date": "2024-05-08", column: count}]
        got = irrigation_from_meter(readings, "1 acre", place="reading day")["gross_mm"].iloc[-1]
        source = "Acre-foot and acre-inch in gallons (from memory)"
        check(source, f"{count:g} on {column} over an acre [mm]", depth, got, depth * 2e-5)


def test_hours_to_depth(check):
    # Arithmetic identity, from memory: 53.333 h at 90 m3/h on 12 ha are 4800 m3, or 40 mm.
    days = [{"date": f"2024-05-0{day}", "hours": hours} for day, hours in ((1, 24), (2, 24), (3, 5 + 1 / 3))]
    got = irrigation_from_hours(days, flow=90.0, area=12.0)["gross_mm"].sum()
    check("Metric volume (from memory)", "53.333 h at 90 m3/h on 12 ha [mm]", 40, got, 1e-9)
