"""The chain from the pump to the crop closes, link by link, over random seasons and systems."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.properties.test_ledger import crops, first_water, floats, rules, soils, weathers
from waterbudget.balance import simulate
from waterbudget.joining import concat
from waterbudget.report import ledger
from waterbudget.report.losses import LOSSES, fate, losses
from waterbudget.report.performance import performance
from waterbudget.system import System
from waterbudget.system.losses import LINKS

pytestmark = pytest.mark.slow
SURFACE = {"area": 3.0, "flow": 40.0}


@st.composite
def patterns(draw):
    """Draw spots of any weights whose mean is 1, or none."""
    number = draw(st.integers(1, 5))
    if number == 1:
        return {}
    weight = np.array(draw(st.lists(floats(0.05, 1), min_size=number, max_size=number)))
    share = np.array(draw(st.lists(floats(0.5, 2), min_size=number, max_size=number)))
    weight /= weight.sum()
    return {"spot_weight": weight.tolist(), "spot_share": (share / (weight * share).sum()).tolist()}


def chain(draw, whole):
    """Draw the losses before the soil, link by link or as one number of that name."""
    if draw(st.booleans()):
        return {whole: draw(floats(0.3, 1))}
    names = [link.fraction for link in LINKS if link.fraction != "unattributed_fraction"]
    return {name: draw(st.one_of(st.just(0.0), floats(0, 0.5))) for name in names}


@st.composite
def even_systems(draw):
    return System(**chain(draw, "efficiency"), **SURFACE)


@st.composite
def systems(draw):
    """Draw a system with or without a pattern, a wetted volume and a part of the field that gets less."""
    own = draw(patterns())
    own |= chain(draw, "delivered_fraction" if own else "efficiency")
    if draw(st.booleans()):
        own["wetted_volume"] = draw(floats(0.2, 1))
        own["wetted_fraction"] = own["wetted_volume"] * draw(floats(0.3, 1))
    system = System(**own, **SURFACE)
    if draw(st.booleans()):
        share = 0.0 if "efficiency" in own else draw(st.sampled_from([0.0, 0.6]))
        system = system.with_part(weight=draw(floats(0.05, 0.5)), share=share)
    return system


@st.composite
def seasons(draw, with_systems=systems):
    crop, soil = draw(crops()), draw(soils())
    return simulate(
        draw(weathers()),
        crop,
        soil,
        draw(with_systems()),
        draw(rules()),
        initial_depletion=draw(floats(0, 1)) * first_water(crop, soil),
        initial_evaporation_depletion=draw(floats(0, 1)) * soil.tew,
        et_share_before_percolation=draw(st.sampled_from([0.0, 0.4, 1.0])),
    )


@given(season=seasons())
def test_the_chain_closes(season):
    depths = {name: float(values) for name, values in fate(season).items()}
    parts = sum(depths[one.name] for one in LOSSES) + depths["stored"]
    assert depths["irrigation_gross"] == pytest.approx(parts, abs=1e-9)
    assert all(depth >= -1e-9 for depth in depths.values())
    frame = losses(season)
    assert frame["depth_mm"].iloc[1:].sum() == pytest.approx(frame["depth_mm"].iloc[0], abs=1e-9)
    if frame["depth_mm"].iloc[0] > 0:
        assert frame["share_of_gross"].iloc[1:].sum() == pytest.approx(1.0, abs=1e-9)


@given(season=seasons())
def test_it_agrees_with_the_ledger_and_the_outcomes(season):
    depths = {name: float(values) for name, values in fate(season).items()}
    told, found = ledger(season).iloc[0], performance(season).iloc[0]
    percolated = [one.name for one in LOSSES[len(LINKS) :]]
    together = sum(depths[name] for name in percolated)
    assert together == pytest.approx(told["percolation_from_irrigation_mm"], abs=1e-9)
    assert together == pytest.approx(found["percolation_from_irrigation_mm"], abs=1e-9)
    for link in LINKS:
        assert depths[link.loss] == pytest.approx(told[f"{link.loss}_mm"], abs=1e-9)
    if depths["irrigation_gross"] > 0:
        efficiency = depths["stored"] / depths["irrigation_gross"]
        assert found["application_efficiency"] == pytest.approx(efficiency, abs=1e-9)
        assert -1e-9 <= found["application_efficiency"] <= found["delivered"] + 1e-9 <= 1.0 + 2e-9
        assert 0 <= found["adequacy"] <= 1 + 1e-9
    if not np.isnan(found["distribution_uniformity"]):
        assert 0 <= found["distribution_uniformity"] <= 1 + 1e-9


@given(season=seasons())
def test_spots_make_up_the_field(season):
    spots, whole = performance(season, by="spot"), performance(season).iloc[0]
    assert spots["weight"].sum() == pytest.approx(1.0, abs=1e-9)
    assert (spots["weight"] * spots["share"]).sum() == pytest.approx(1.0, abs=1e-9)
    for name in (
        "gross_mm",
        "net_mm",
        "percolation_from_irrigation_mm",
        "percolation_mm",
        "drainage_mm",
        "et_mm",
    ):
        assert (spots["weight"] * spots[name]).sum() == pytest.approx(whole[name], abs=1e-9), name


@given(season=seasons(even_systems))
def test_even_watering_has_no_unevenness(season):
    assert float(fate(season)["uneven_application"]) == 0.0


@given(
    weather=weathers(),
    crop=crops(),
    soil=soils(),
    rule=rules(),
    pair=st.lists(even_systems(), min_size=2, max_size=3),
)
def test_a_system_reads_alike_alone_and_among_others(weather, crop, soil, rule, pair):
    together = concat({str(place): one for place, one in enumerate(pair)}, dim="system")
    joined = fate(simulate(weather, crop, soil, together, rule))
    for place, one in enumerate(pair):
        for name, values in fate(simulate(weather, crop, soil, one, rule)).items():
            own = joined[name].sel(system=str(place)) if "system" in joined[name].dims else joined[name]
            assert float(own) == float(values), name
