"""Pumping: head, power and energy against physics and the trade's horsepower."""

import pytest
import scipy.constants

from waterbudget.system.pumping import pumping_cost, pumping_energy, pumping_power, total_head
from waterbudget.units import convert


def test_energy_is_weight_times_height(check):
    # Physics, with the constants of scipy: 4800 m3 lifted 40 m and brought to 300 kPa, at 65 %.
    joules = 1000.0 * 4800.0 * (scipy.constants.g * 40.0 + 300e3 / 1000.0)
    kwh = joules / (scipy.constants.kilo * scipy.constants.hour) / 0.65
    got = pumping_energy(4800.0, 40.0, 300.0, 0.65)
    check("scipy.constants, physics", "energy of 4800 m3 [kWh]", kwh, got, 1e-9 * kwh)
    # Friction is lift by another name.
    assert pumping_energy(4800.0, 30.0, 300.0, 0.65, friction=10.0) == pytest.approx(got, rel=1e-12)
    assert pumping_cost(got, 0.2) == pytest.approx(0.2 * kwh, rel=1e-9)


def test_head_of_a_pressure(check):
    # The table takes 2.31 ft of water for 1 psi, 0.14 % above water of 1000 kg/m3, and prints to 0.05 ft.
    for psi, printed in ((10, 23.1), (15, 34.65), (20, 46.2), (25, 57.75), (30, 69.3)):
        head = total_head(0.0, convert(float(psi), "psi", "kPa")) / 0.3048
        source = "Theoretical discharge of nozzles (read)"
        check(source, f"head of {psi} psi [ft]", printed, head, 0.005 + 0.0014 * printed)


def test_water_horsepower(check):
    # Common practice, no source: water horsepower = gal/min times ft over 3960 (33000 ft lb/min over
    # 8.33 lb/gal; the gallon of 1000 kg/m3 has 8.345 lb, 0.2 % more).
    flow, lift = convert(800.0, "gpm", "m3 h-1"), convert(150.0, "ft", "m")
    head = convert(50.0, "psi", "kPa")
    feet = 150.0 + 50.0 * 2.31
    horsepower = pumping_power(flow, lift, head, 0.7) * 1000.0 / scipy.constants.hp
    published = 800.0 * feet / 3960.0 / 0.7
    check("Common practice, no source", "800 gal/min, 150 ft, 50 psi, 70 % [hp]", published, horsepower, 0.2)


def test_power_for_an_hour_is_the_energy_of_its_flow():
    assert pumping_power(90.0, 25.0, 250.0, 0.6) == pytest.approx(
        pumping_energy(90.0, 25.0, 250.0, 0.6), rel=1e-12
    )
