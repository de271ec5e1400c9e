"""Rates, intake, set times and cycles against published equations, tables and rules of the trade.

Numbers in US units are converted here; formulas inside are metric.
"""

import numpy as np
import pytest
import scipy.integrate
import scipy.optimize

from waterbudget.handbook.tables import read
from waterbudget.soil.intake import (
    basic_intake,
    family_depth,
    greatest_rate,
    horton_depth,
    horton_rate,
    longest_set,
    longest_set_of_family,
)
from waterbudget.system.rates import (
    application_rate,
    application_rate_of_flow,
    pivot_depth,
    pivot_peak_rate,
    pivot_speed,
    travelling_depth,
    travelling_speed,
)
from waterbudget.system.sets import (
    cycles,
    days_to_cover,
    pump_keeps_up,
    required_flow,
    set_hours,
    sets_per_day,
)
from waterbudget.units import convert

INCH = 25.4


def test_application_rate(check):
    # 96.3 q / A in/h, q in gal/min and A in ft2: formula read in a soil physics course of New Mexico State
    # University (96.25 is exact); numbers chosen here: 4.6 gal/min on 1500 ft2.
    flow = convert(4.6, "gpm", "m3 h-1")
    got = application_rate(flow, convert(30.0, "ft", "m"), convert(50.0, "ft", "m")) / INCH
    source = "New Mexico State University, SOIL 456 (formula read)"
    check(source, "96.3 q / A [in/h]", 96.3 * 4.6 / 1500, got, 0.0005)
    area = convert(1500.0, "ft2", "ha")
    assert application_rate_of_flow(flow, area) / INCH == pytest.approx(got, rel=1e-12)


def test_system_capacity(check):
    # From memory: gal/min for each acre = 452.57 times gross in/day over hours a day.
    acre, memory = convert(1.0, "ac", "ha"), "System capacity, from memory"
    net = 0.25 * INCH
    flow = convert(float(required_flow(net, acre, 24.0, 0.85)), "m3 h-1", "gpm")
    check(memory, "flow for 0.25 in/day net at 85 % [gal/min per acre]", 5.546, flow, 0.0005)
    check(memory, "452.57 times gross in/day over h/day", 452.57 * 0.25 / 0.85 / 24, flow, 1e-4)
    five = pump_keeps_up(convert(5.0, "gpm", "m3 h-1"), net, acre, 24.0, 1.0)
    check(memory, "5 gal/min per acre, all day [in/day]", 0.2652, five.depth / INCH, 5e-5)
    assert five.keeps_up
    at_efficiency = pump_keeps_up(convert(5.0, "gpm", "m3 h-1"), net, acre, 24.0, 0.85)
    assert not at_efficiency.keeps_up
    assert at_efficiency.hours == pytest.approx(24 * 5.546 / 5.0, abs=0.005)


def test_hours_of_a_volume(check):
    # Arithmetic identity, from memory: 30 mm net at 75 % on 12 ha with 90 m3/h.
    got = set_hours(30.0 / 0.75, application_rate_of_flow(90.0, 12.0))
    check("Arithmetic identity, from memory", "hours of 40 mm on 12 ha at 90 m3/h [h]", 53.333, got, 0.0005)


def test_longest_set(check):
    # Hung and Krinik: tmax = (1 / (P b)) {fo - P + fc ln[(fo - fc) / (P - fc)]}, equation read, numbers chosen:
    # P 1.0, fo 3.0, fc 0.3 in/h, b 3.0 1/h.
    got = longest_set(1.0 * INCH, 3.0 * INCH, 0.3 * INCH, 3.0)
    check("Hung and Krinik (equation read)", "longest time without runoff [h]", 0.8017, got, 5e-5)


def test_longest_set_by_solving_for_it():
    # Against scipy: integrate Horton's rate and search for the time under water at which it is down to P.
    rate, high, low, decay = 20.0, 70.0, 8.0, 2.5
    at = scipy.optimize.brentq(lambda t: low + (high - low) * np.exp(-decay * t) - rate, 0, 10, xtol=1e-14)
    depth, _ = scipy.integrate.quad(lambda t: low + (high - low) * np.exp(-decay * t), 0, at, epsabs=1e-12)
    assert horton_rate(at, high, low, decay) == pytest.approx(rate, rel=1e-12)
    assert horton_depth(at, high, low, decay) == pytest.approx(depth, rel=1e-10)
    assert longest_set(rate, high, low, decay) == pytest.approx(depth / rate, rel=1e-10)


def test_intake_family(check):
    # From memory: family 0.5, F = 1.196 T^0.748 + 6.985 mm, at 120 min.
    got = family_depth(0.5, 2.0)
    check("NRCS intake families, from memory", "depth of family 0.5 in 2 h [mm]", 49.93, got, 0.005)


def test_longest_set_of_a_family_by_solving_for_it():
    # The same argument by scipy: the time under water at which the slope of family_depth is the rate.
    rate = 25.0

    def slope(hours):
        return (family_depth(0.5, hours * (1 + 1e-6)) - family_depth(0.5, hours * (1 - 1e-6))) / (
            2e-6 * hours
        )

    at = scipy.optimize.brentq(lambda h: slope(h) - rate, 1e-3, 100)
    assert longest_set_of_family(rate, 0.5) == pytest.approx(family_depth(0.5, at) / rate, rel=1e-6)


def test_greatest_rates(check):
    # Typed again from the USDA table, in/h: soil, then 0-5, 5-8 and 8-12 %, each under cover and bare.
    printed = {
        "Coarse sand": (2, 2, 2, 1.5, 1.5, 1),
        "Uniform light sandy loam": (1.75, 1, 1.25, 0.8, 1, 0.6),
        "Uniform silt loam": (1, 0.5, 0.8, 0.4, 0.6, 0.3),
        "Heavy clay or clay loam": (0.2, 0.15, 0.15, 0.1, 0.12, 0.08),
    }
    for soil, row in printed.items():
        got = [
            greatest_rate(soil, slope, ground) / INCH
            for slope in (3, 6, 10)
            for ground in ("covered", "bare")
        ]
        check("USDA table of greatest sprinkler rates (read)", f"{soil} [in/h]", row, got, 1e-9)
    assert len(read("sprinkler_rates")) == 24


def test_basic_intake(check):
    # University of Nebraska-Lincoln Extension, typed again, in/h.
    printed = {
        "fine sand": (0.5, 0.75),
        "sandy loam": (0.35, 0.5),
        "silt loam": (0.25, 0.4),
        "clay": (0.1, 0.2),
    }
    for texture, ends in printed.items():
        got = [basic_intake(texture).low / INCH, basic_intake(texture).high / INCH]
        source = "University of Nebraska-Lincoln Extension, basic infiltration rates (read)"
        check(source, f"{texture} [in/h]", ends, got, 1e-9)


def test_cycle_and_soak(check):
    # Arithmetic, from memory: 15 mm at 40 mm/h are 22.5 min; of at most 6 min, 4 cycles of 5.625 min.
    got = cycles(15.0, 40.0, 6.0 / 60.0, soak=1.0)
    source = "Cycle and soak, from memory"
    check(source, "cycles of at most 6 min", 4, got.number, 0.0)
    check(source, "water in each cycle [min]", 5.625, got.hours * 60.0, 1e-9)
    assert got.elapsed * 60.0 == pytest.approx(22.5 + 3 * 60.0, abs=1e-9)


def test_sets_a_day_and_days_to_cover():
    # Common practice, no source: a set of 11 h and 1 h to move it make two sets a day; 15 sets take 8 days.
    assert sets_per_day(11.0, 1.0) == 2
    assert sets_per_day(11.5, 1.0) == 1
    assert days_to_cover(15, sets_per_day(11.0, 1.0)) == 8


def test_quarter_mile_pivot():
    # Common practice, no source; arithmetic of US units, by hand: 900 gal/min on the 126 acres of a circle of
    # 1320 ft put 0.73 in down in 46 h: 900 * 60 * 46 / 27154 / 125.66 = 0.728.
    flow, radius = convert(900.0, "gpm", "m3 h-1"), convert(1320.0, "ft", "m")
    area = np.pi * radius**2 / 10_000
    assert convert(area, "ha", "ac") == pytest.approx(125.66, abs=0.01)
    assert pivot_depth(flow, area, 46.0) / INCH == pytest.approx(0.728, abs=0.0005)
    # The end moves 2 pi 1320 ft in 46 h = 3.005 ft/min.
    assert pivot_speed(radius, 46.0) / 0.3048 / 60 == pytest.approx(3.005, abs=0.0005)
    # Under an even pattern the strip passes in width over speed, and brings the depth.
    width = 15.0
    passing = width / pivot_speed(radius, 46.0)
    rate = pivot_peak_rate(flow, radius, width, radius, pattern="even")
    assert rate * passing == pytest.approx(pivot_depth(flow, area, 46.0), rel=1e-12)


def test_elliptical_pattern_brings_the_same_depth():
    # scipy: the half ellipse 4 / pi high over the mean, integrated over the time that the strip takes to pass.
    even, peak = (pivot_peak_rate(200.0, 400.0, 20.0, 300.0, pattern=kind) for kind in ("even", "elliptical"))
    mean, _ = scipy.integrate.quad(lambda x: peak * np.sqrt(1 - x * x), -1, 1)
    assert mean / 2 == pytest.approx(even, rel=1e-9)


def test_travelling_gun():
    # From memory, US handbooks: depth in = 1.6 q / (W S), q in gal/min, W in ft, S in ft/min: 500 gal/min, lanes
    # of 330 ft at 2 ft/min put 1.2 in down.
    flow, lane, speed = convert(500.0, "gpm", "m3 h-1"), 330 * 0.3048, 2 * 0.3048 * 60
    depth = travelling_depth(flow, lane, speed)
    assert depth / INCH == pytest.approx(1.6 * 500 / (330 * 2), abs=0.01)
    assert travelling_speed(flow, lane, depth) == pytest.approx(speed, rel=1e-12)
