"""Drip and micro irrigation: what holds for any emitters, laterals and plants (hypothesis)."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from waterbudget.system.emitter_curve import (
    fit_emitter,
    flow_at,
    rated_emitter,
)
from waterbudget.system.emitters import (
    field_uniformity,
    manufacturers_variation,
    pattern,
)
from waterbudget.system.lateral import (
    lateral_pressures,
    lateral_uniformity,
)
from waterbudget.system.micro import (
    emission_uniformity,
    emitters_per_plant,
    hours_for,
    quality,
    statistical_uniformity,
    wetted_fraction,
)
from waterbudget.system.pipes import (
    FLOW_EXPONENT,
    Pipe,
    christiansen_factor,
    friction_loss,
)


def floats(low, high, digits=3):
    return st.floats(low, high, allow_nan=False).map(lambda value: round(value, digits))


FLOWS = st.lists(floats(0.5, 8.0), min_size=4, max_size=40)
PIPES = st.one_of(
    st.builds(Pipe, diameter=floats(0.01, 0.03), temperature=floats(0, 60)),
    st.builds(
        Pipe,
        diameter=floats(0.01, 0.03),
        formula=st.just("swamee-jain"),
        roughness=floats(0, 3e-4, 6),
        temperature=floats(0, 60),
    ),
    st.builds(
        Pipe, diameter=floats(0.01, 0.03), formula=st.just("hazen-williams"), coefficient=floats(100, 160)
    ),
)
EMITTERS = st.builds(
    rated_emitter,
    floats(0.5, 4.0),
    st.just(100.0),
    floats(0.0, 1.0),
    lowest_pressure=st.just(1e-6),
    highest_pressure=st.just(5000.0),
)


# ------------------------------------------------------------------------------- one emitter
@given(
    floats(0.01, 5),
    floats(0, 1, 6),
    st.lists(floats(10, 500), min_size=3, max_size=12).filter(lambda values: max(values) > 1.1 * min(values)),
)
def test_a_fit_gives_back_the_law_that_made_the_readings(coefficient, exponent, pressure):
    flow = coefficient * np.array(pressure) ** exponent
    assume(flow.max() <= 1000)
    curve = fit_emitter(pressure, flow)
    assert curve.exponent == pytest.approx(exponent, abs=1e-9)
    assert curve.coefficient == pytest.approx(coefficient, rel=1e-7)
    np.testing.assert_allclose(flow_at(curve, np.array(pressure)), flow, rtol=1e-9)
    assert curve.spread == pytest.approx(0, abs=1e-9)


@given(FLOWS, floats(0.1, 50), floats(0.1, 20))
def test_units_of_flow_and_pressure_do_not_change_the_exponent(flows, more_flow, more_pressure):
    # A straight line through logarithms: factors move its height alone. Readings along a rising line, made uneven.
    pressure = np.linspace(40, 200, len(flows))
    flow = np.sqrt(pressure) * (1 + 0.01 * np.tanh(np.array(flows) - 4))
    one, other = fit_emitter(pressure, flow), fit_emitter(pressure * more_pressure, flow * more_flow)
    assert other.exponent == pytest.approx(one.exponent, abs=1e-9)
    assert other.spread == pytest.approx(one.spread, abs=1e-9)


# ------------------------------------------------------------------------------ many emitters
@given(FLOWS, floats(0.1, 50), st.randoms(use_true_random=False))
def test_scale_and_order_do_not_matter(flows, scale, random):
    mixed = list(flows)
    random.shuffle(mixed)
    one = field_uniformity(flows, resamples=100)
    other = field_uniformity(scale * np.array(mixed), resamples=100)
    np.testing.assert_allclose(other["value"][1:], one["value"][1:], rtol=0, atol=1e-9)
    assert other["value"][0] == pytest.approx(scale * one["value"][0], rel=1e-9)
    assert manufacturers_variation(mixed) == pytest.approx(one["value"][1], abs=1e-9)


@given(FLOWS)
def test_order_of_the_uniformities(flows):
    table = field_uniformity(flows, np.ones(len(flows)), resamples=100).set_index("quantity")
    emission = table.loc["emission uniformity", "value"]
    assert min(flows) / np.mean(flows) - 1e-12 <= emission <= 1 + 1e-12
    assert (table["low"] <= table["high"]).all()
    assert (table["quality"] != "").tolist() == [False, False, True, True]


@given(FLOWS, st.integers(1, 4))
def test_pattern_keeps_the_water(flows, plants_emitters):
    whole = flows[: len(flows) // plants_emitters * plants_emitters]
    share, weight = pattern(whole, plants_emitters)
    assert share.size == len(whole) // plants_emitters
    assert share.mean() == pytest.approx(1, abs=1e-12)
    assert weight.sum() == pytest.approx(1, abs=1e-12)
    # Adding up a plant's emitters never makes the field less even.
    assert share.std() <= pattern(whole)[0].std() + 1e-9


@given(floats(0, 0.3), st.integers(1, 12), floats(0.5, 4), floats(0, 1))
def test_more_emitters_a_plant_are_more_even(cv, number, lowest, more):
    mean = lowest + more
    one, several = (emission_uniformity(cv, count, lowest, mean) for count in (1, number))
    assert one <= several <= 1
    assert statistical_uniformity(0.1, 0.5, cv) <= min(1 - cv, 0.95)


@given(floats(-1, 1, 6), floats(0, 1, 6))
def test_everything_has_a_rating(uniformity, cv):
    for measure in ("statistical uniformity", "emission uniformity"):
        assert quality(measure, uniformity)
    for measure in ("variation, point source", "variation, line source"):
        assert quality(measure, cv)
        assert "between" not in quality(measure, cv)


# ---------------------------------------------------------------------------------- laterals
@given(PIPES, floats(0, 1.5, 4), floats(0, 0.2, 4), floats(0.1, 100))
def test_friction_rises_with_flow_and_adds_up_along_the_pipe(pipe, flow, more, length):
    loss = friction_loss(pipe, flow, length)
    assert loss >= 0
    assert friction_loss(pipe, flow + more, length) >= loss
    assert friction_loss(pipe, flow, 2 * length) == pytest.approx(2 * loss, rel=1e-12)
    wider = Pipe(
        diameter=1.1 * pipe.diameter,
        formula=pipe.formula,
        coefficient=pipe.coefficient,
        roughness=pipe.roughness,
        temperature=pipe.temperature,
    )
    assert friction_loss(wider, flow, length) <= loss
    no_jump = friction_loss(pipe, flow * (1 + 1e-9), length) - loss
    assert no_jump == pytest.approx(0, abs=1e-7 * loss + 1e-15)


@given(PIPES, EMITTERS, st.integers(1, 60), floats(0.2, 2), floats(20, 150), floats(-5, 5), floats(0.1, 3))
def test_a_lateral_loses_no_water_and_no_head(pipe, curve, outlets, spacing, end, slope, first):
    described = {"outlets": outlets, "spacing": spacing, "slope": slope, "first_distance": first}
    # From the far end: uphill the pressure rises towards the inlet; downhill it must not fall below nothing.
    assume(end + 9.80665 * 0.05 * spacing * outlets * min(np.sign(slope), 0) > first * 0.5 + 1)
    along = lateral_pressures(pipe, curve, end_pressure=end, **described)
    flow, pressure = along["flow_L_per_h"].to_numpy(), along["pressure_kPa"].to_numpy()
    assert flow[0] == pytest.approx(flow[1:].sum(), rel=1e-12)
    np.testing.assert_allclose(flow[1:], flow_at(curve, pressure[1:]), rtol=1e-12)
    stretch = np.diff(along["distance_m"])
    carried = np.cumsum(flow[:0:-1])[::-1] / 1000
    climb = np.sin(np.arctan(slope / 100)) * stretch
    lost = [friction_loss(pipe, one, length) for one, length in zip(carried, stretch, strict=True)]
    np.testing.assert_allclose(-np.diff(pressure), 9.80665 * (lost + climb), rtol=0, atol=1e-9)
    # And back again from the inlet.
    if pressure[0] > 1e-3:
        again = lateral_pressures(pipe, curve, inlet_pressure=pressure[0], **described)
        np.testing.assert_allclose(again["pressure_kPa"], pressure, rtol=0, atol=1e-6)


@given(PIPES, EMITTERS, st.integers(2, 40))
def test_slope_moves_the_end_pressure(pipe, curve, outlets):
    described = {"outlets": outlets, "spacing": 0.5, "inlet_pressure": 200.0}
    try:
        up, level, down = (
            lateral_pressures(pipe, curve, slope=slope, **described)["pressure_kPa"].iloc[-1]
            for slope in (3, 0, -3)
        )
    except ValueError:  # too much water for so narrow a pipe
        assume(False)
    assert up < level < down
    assert level < 200
    got = lateral_uniformity(lateral_pressures(pipe, curve, **described), curve, 0.0)
    assert got.emission <= 1
    assert got.statistical <= 1
    assert 0 <= got.flow_variation <= got.pressure_variation + 1e-12


@given(st.integers(1, 1000), st.sampled_from(sorted(FLOW_EXPONENT.values())))
def test_christiansens_factor_falls_with_the_number_of_outlets(outlets, exponent):
    factor, next_one = (christiansen_factor(n, exponent) for n in (outlets, outlets + 1))
    assert 1 / (exponent + 1) < next_one < factor <= 1.01
    # Half a stretch less at the start, where most flows, has less friction by length of pipe only where there
    # are several outlets.
    half = christiansen_factor(outlets + 1, exponent, first_at_full_spacing=False)
    assert half < next_one


# ------------------------------------------------------------------------------- by the plant
@given(floats(0.05, 1), floats(0.2, 2), floats(0.2, 1), floats(2, 6), floats(2, 6))
def test_so_many_emitters_wet_that_part_and_one_less_does_not(part, spacing, width, plants, rows):
    ground = (spacing, width, plants, rows)
    needed = emitters_per_plant(part, *ground)
    one = wetted_fraction(1, *ground)
    assert needed == int(needed)
    assert needed * one >= part * (1 - 1e-8)
    assert (needed - 1) * one < part
    if needed * one <= 1:
        assert wetted_fraction(needed, *ground) == pytest.approx(needed * one, rel=1e-12)


@given(floats(0, 500), st.integers(1, 10), floats(0.5, 8), floats(0.1, 1))
def test_hours_give_the_litres(litres, number, flow, efficiency):
    hours = hours_for(litres, number, flow, efficiency)
    assert hours * number * flow * efficiency == pytest.approx(litres, abs=1e-9)
