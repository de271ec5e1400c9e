"""Spray loss, intake, sets and nozzles: what holds for any numbers (hypothesis)."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from waterbudget.handbook.tables import read
from waterbudget.soil.intake import horton_depth, horton_rate, longest_set, longest_set_of_family
from waterbudget.system.nozzles import flow_at_pressure, implied_coefficient, nozzle_flow, worn_flow_ratio
from waterbudget.system.pumping import pumping_energy
from waterbudget.system.rates import (
    pivot_depth,
    pivot_peak_rate,
    pivot_speed,
    travelling_depth,
    travelling_speed,
)
from waterbudget.system.sets import cycles, pump_keeps_up, required_flow, set_hours
from waterbudget.system.spray import spray_loss

PRINTED = {
    "wind": ("m_per_s", 1.0),
    "humidity": ("percent", 1.0),
    "temperature": ("degC", 1.0),
    "vapour_pressure_deficit": ("kPa", 1.0),
    "pressure": ("kPa", 1.0),
    "nozzle_diameter": ("mm", 1000.0),
}
REGRESSIONS = [row for _, row in read("spray_loss").iterrows()]


def ends(row):
    """Give the ends of the range of each variable of a regression."""
    found = {"wind": (2.0, 3.0)}  # where it is not in the regression
    for name, (unit, size) in PRINTED.items():
        if row[f"{name}_coefficient"] == row[f"{name}_coefficient"]:
            found[name] = tuple(row[f"{name}_{unit}_{end}"] / size for end in ("low", "high"))
    return found


@pytest.mark.parametrize("row", REGRESSIONS, ids=lambda row: row["name"])
def test_no_regression_leaves_0_to_99_percent_inside_its_range(row):
    # Each is monotonic in every variable, so that its extremes lie at the corners of its range. None of them
    # can give a loss below 0, and every one is fit for a System.
    ranges = ends(row)
    for corner in itertools.product(*ranges.values()):
        loss = float(spray_loss(row["name"], **dict(zip(ranges, corner, strict=True))))
        assert 0.0 < loss < 0.99


@pytest.mark.parametrize("row", REGRESSIONS, ids=lambda row: row["name"])
def test_held_is_the_loss_at_the_end_of_the_range(row):
    ranges = ends(row)
    high = {name: pair[1] for name, pair in ranges.items()}
    if row["wind_coefficient"] == row["wind_coefficient"]:
        held = spray_loss(row["name"], **(high | {"wind": 20.0}), beyond="hold")
        assert float(held) == float(spray_loss(row["name"], **high))
        assert "held at its end" in held.attrs["doubts"]
        calm = {name: pair[0] for name, pair in ranges.items()}
        assert float(spray_loss(row["name"], **calm)) < float(
            spray_loss(row["name"], **(calm | {"wind": high["wind"]}))
        )
    else:
        assert "held" not in spray_loss(row["name"], **(high | {"wind": 20.0}), beyond="hold").attrs["doubts"]


positive = st.floats(0.5, 200.0)


@given(high=positive, part=st.floats(0.01, 0.99), decay=st.floats(0.05, 10.0), at=st.floats(0.001, 0.999))
def test_at_the_longest_set_intake_is_down_to_the_rate(high, part, decay, at):
    basic = part * high
    rate = basic + at * (high - basic)
    time = longest_set(rate, high, basic, decay)
    # Under water the same depth is in after a shorter time, and the rate of intake then is that of the sprinklers.
    under_water = np.log((high - basic) / (rate - basic)) / decay
    assert under_water <= time * (1 + 1e-9)
    assert horton_rate(under_water, high, basic, decay) == pytest.approx(rate, rel=1e-6)
    assert horton_depth(under_water, high, basic, decay) == pytest.approx(rate * time, rel=1e-6, abs=1e-9)


@given(rate=positive, more=st.floats(1.01, 3.0))
def test_faster_water_runs_off_sooner(rate, more):
    assert longest_set(rate * more, 150.0, 6.0, 2.0) <= longest_set(rate, 150.0, 6.0, 2.0)
    for family in (0.05, 0.5, 2.0):
        assert longest_set_of_family(rate * more, family) < longest_set_of_family(rate, family)


@given(
    gross=st.floats(0.0, 300.0),
    rate=st.floats(0.5, 100.0),
    longest=st.floats(0.02, 50.0),
    soak=st.floats(0.0, 5.0),
)
def test_cycles_bring_the_whole_depth_and_none_is_too_long(gross, rate, longest, soak):
    got = cycles(gross, rate, longest, soak)
    assert got.number * got.hours * rate == pytest.approx(gross, rel=1e-12)
    assert got.hours <= longest * (1 + 1e-8)
    assert (got.number - 1) * longest <= set_hours(gross, rate)  # one fewer would not do
    assert got.elapsed == pytest.approx(got.number * got.hours + max(got.number - 1, 0) * soak)


@given(need=st.floats(0.1, 15.0), area=positive, day=st.floats(1.0, 24.0), efficiency=st.floats(0.1, 1.0))
def test_the_required_flow_just_keeps_up(need, area, day, efficiency):
    flow = required_flow(need, area, day, efficiency)
    got = pump_keeps_up(flow, need, area, day, efficiency)
    assert got.depth == pytest.approx(need, rel=1e-12)
    assert got.hours == pytest.approx(day, rel=1e-12)
    assert pump_keeps_up(flow * 1.001, need, area, day, efficiency).keeps_up
    assert not pump_keeps_up(flow * 0.999, need, area, day, efficiency).keeps_up


@given(diameter=st.floats(0.001, 0.05), pressure=st.floats(20.0, 1000.0), coefficient=st.floats(0.1, 1.0))
def test_nozzles_turned_round(diameter, pressure, coefficient):
    flow = nozzle_flow(diameter, pressure, coefficient)
    assert implied_coefficient(flow, diameter, pressure) == pytest.approx(coefficient, rel=1e-12)
    assert flow_at_pressure(flow, pressure, 4.0 * pressure) == pytest.approx(2.0 * flow, rel=1e-12)
    assert flow_at_pressure(flow, pressure, 4.0 * pressure, 0.0) == pytest.approx(flow, rel=1e-12)
    worn = nozzle_flow(1.1 * diameter, pressure, coefficient)
    assert worn_flow_ratio(diameter, 1.1 * diameter) == pytest.approx(worn / flow, rel=1e-12)


@given(
    flow=positive,
    radius=st.floats(50.0, 800.0),
    width=st.floats(2.0, 60.0),
    turn=st.floats(6.0, 200.0),
    at=st.floats(0.05, 1.0),
)
def test_a_pivot_puts_the_same_depth_everywhere(flow, radius, width, turn, at):
    rate = pivot_peak_rate(flow, radius, width, at * radius, pattern="even")
    passing = width / pivot_speed(at * radius, turn)
    area = np.pi * radius**2 / 10_000
    assert rate * passing == pytest.approx(pivot_depth(flow, area, turn), rel=1e-9)
    # The speed of the pivot has no part in the rate, and the ellipse peaks above the mean.
    assert pivot_peak_rate(flow, radius, width, at * radius) == pytest.approx(rate * 4 / np.pi, rel=1e-12)


@given(flow=positive, lane=st.floats(10.0, 200.0), depth=st.floats(1.0, 100.0))
def test_travelling_speed_gives_its_depth(flow, lane, depth):
    speed = travelling_speed(flow, lane, depth)
    assert travelling_depth(flow, lane, speed) == pytest.approx(depth, rel=1e-12)


@given(
    volume=st.floats(1.0, 1e5),
    lift=st.floats(0.0, 300.0),
    pressure=st.floats(20.0, 900.0),
    efficiency=st.floats(0.2, 1.0),
)
def test_energy_grows_with_volume_and_falls_with_efficiency(volume, lift, pressure, efficiency):
    energy = pumping_energy(volume, lift, pressure, efficiency)
    assert pumping_energy(2.0 * volume, lift, pressure, efficiency) == pytest.approx(2.0 * energy)
    assert energy * efficiency == pytest.approx(pumping_energy(volume, lift, pressure, 1.0))
    assert pumping_energy(volume, lift + 1.0, pressure, efficiency) > energy
