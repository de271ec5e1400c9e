"""The evaporation layer, through `simulate`, against what `test_balance_examples` leaves: Table 19 and Annex 7.

Examples 31 to 33 and 35 of FAO-56, Irrigation and Drainage Paper 56 (1998), stand there. "Read" is in the paper
(http://www.fao.org/docrep/x0490e/x0490e0c.htm and x0490e0o.htm); what is from memory says so.
"""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from waterbudget.crop.initial import drying_soil

FIRST = "2024-07-01"


def weather(et_ref, days=1, rain=0.0):
    """Days of constant reference evapotranspiration [mm] with given rain."""
    return xr.Dataset(
        {
            "et_ref": ("time", np.full(days, float(et_ref)), {"surface": "short"}),
            "rain": ("time", np.broadcast_to(rain, days).astype(float)),
        },
        coords={"time": pd.date_range(FIRST, periods=days), "latitude": 40.0, "elevation": 100.0},
    )


def bare(kcb=0.0):
    """A surface that nothing shades; Kc max is 1.2 (Eq. 72 in the standard climate)."""
    return wb.Crop(kcb=kcb, cover=0.0, height=0.1, root_depth=1.0, depletion_fraction=0.5)


def test_example_34_drip_under_the_canopy(check):
    # Example 34, from memory: the cotton of Examples 32 and 33 (1 m high, Kcb 0.90, u2 3 m/s, RHmin 20 %, ETo 7
    # mm/day) under drip with fw 0.3, emitters beneath the canopy: fw (1 - 2/3 0.53) = 0.19, Ke 0.25, Kc 1.15.
    season = wb.simulate(
        weather(7.0),
        wb.Crop(kcb=0.9, height=1.0, climate=(3.0, 20.0), root_depth=1.0, depletion_fraction=0.5),
        wb.Soil(available_water=0.15, rew=9, tew=20),
        wb.System(efficiency=1.0, wetted_fraction=0.3, under_canopy=True),
        irrigation=pd.DataFrame({"date": [FIRST], "net_mm": [30.0]}),
    )
    source = "FAO-56, Example 34, from memory, through simulate"
    check(source, "few", 0.19, season["wetted_fraction"].item(), 0.0055)  # recomputed 0.1948
    check(source, "Ke", 0.25, season["ke"].item(), 0.005)
    check(source, "Kc", 1.15, season["kc"].item(), 0.006)  # recomputed 1.1535
    # By hand from the printed equations: fc 0.5259 and Kc max 1.3008 of Example 32.
    assert season["ke"].item() == pytest.approx(0.3 * (1 - 2 / 3 * 0.5259) * 1.3008, abs=0.0003)


# Read, Table 19 (p. 144): water contents [m3 m-3] and TEW [mm] of a layer of 0.10 m, each low and high.
TABLE_19 = {
    "sand": ((0.07, 0.17), (0.02, 0.07), (6, 12)),
    "loamy sand": ((0.11, 0.19), (0.03, 0.10), (9, 14)),
    "sandy loam": ((0.18, 0.28), (0.06, 0.16), (15, 20)),
    "loam": ((0.20, 0.30), (0.07, 0.17), (16, 22)),
    "silt loam": ((0.22, 0.36), (0.09, 0.21), (18, 25)),
    "silt": ((0.28, 0.36), (0.12, 0.22), (22, 26)),
    "silt clay loam": ((0.30, 0.37), (0.17, 0.24), (22, 27)),
    "silty clay": ((0.30, 0.42), (0.17, 0.29), (22, 28)),
    "clay": ((0.32, 0.40), (0.20, 0.24), (22, 29)),
}


def test_equation_73_gives_table_19(check):
    # Table 19 does not say which water contents its TEW belongs to: low with low, and high with high, follow from
    # Eq. 73 to its whole millimetres and to 2 mm (sand and silt clay loam are the far ones). REW does not matter here.
    soils = {
        f"{name}, {end}": wb.Soil(field_capacity=capacity[i], wilting_point=wilting[i], rew=5.0)
        for name, (capacity, wilting, _) in TABLE_19.items()
        for i, end in enumerate(("low", "high"))
    }
    season = wb.simulate(weather(5.0), bare(), wb.concat(soils, dim="soil"))
    for i, (end, tolerance) in enumerate((("low", 0.5001), ("high", 2.0001))):
        printed = [tew[i] for _, _, tew in TABLE_19.values()]
        got = season["tew"].sel(soil=[f"{name}, {end}" for name in TABLE_19])
        check("FAO-56, Table 19 (Eq. 73), through simulate", f"TEW, {end} [mm]", printed, got, tolerance)


@pytest.mark.parametrize("days", [10, 40, 120, 300])
def test_daily_layer_follows_annex_7(check, days):
    # Annex 7, Eq. 7-3 (read), is the two stages of Eq. 74 in closed form; the daily layer has to come to the same
    # between two wettings when a day is short beside the drying. Annex 7 has Eso = 1.15 ETo: Kc max 1.2 less Kcb 0.05.
    # TEW 20, REW 9 mm; ETo 0.5 mm/day. A step of a day takes x/2, x = 0.575/11 a day, too much of the falling stage.
    season = wb.simulate(weather(0.5, days), bare(0.05), wb.Soil(available_water=0.15, rew=9, tew=20))
    mean = season["evaporation"].sum().item() / (0.5 * days)
    # By hand, with (1 + REW/(TEW - REW))/TEW = 1/(TEW - REW).
    falling = max(days - 9 / 0.575, 0.0)
    lost = 20 - 11 * np.exp(-falling * 0.575 / 11) if falling else 0.575 * days
    published = lost / (0.5 * days)
    source = "FAO-56, Annex 7 (Eq. 7-3), through simulate"
    check(source, f"evaporation over ETo, {days} days", published, mean, 0.575 / 11 / 2 * published)
    assert drying_soil(float(days), 0.5, 20.0, 9.0) == pytest.approx(published, abs=1e-12)


def test_falling_stage_is_geometric():
    # Eq. 74 by hand: in the second stage each day takes the same part of what is left, 1.15 ETo/(TEW - REW), and the
    # layer never loses more than TEW. De starts at REW.
    soil = wb.Soil(available_water=0.15, rew=9, tew=20)
    season = wb.simulate(weather(4.0, 30), bare(0.05), soil, initial_evaporation_depletion=9.0)
    left = 20.0 - season["surface_depletion"].values
    expected = 11.0 * (1 - 1.15 * 4.0 / 11.0) ** np.arange(1, 31)
    np.testing.assert_allclose(left, expected, rtol=0, atol=1e-9)


def test_layer_is_wetted_by_rain_and_dries_alike_again():
    # A season of two equal halves: rain that fills the layer on day 11 starts the same drying again. By hand from
    # Eq. 77: De = max(De - P, 0).
    soil = wb.Soil(available_water=0.15, rew=9, tew=20)
    rain = np.zeros(20)
    rain[10] = 30.0
    season = wb.simulate(weather(4.5, 20, rain), bare(0.15), soil)
    dry = season["surface_depletion"].values
    np.testing.assert_allclose(dry[10:], dry[:10], rtol=0, atol=1e-9)
    assert dry[9] == pytest.approx(19.88, abs=0.006)  # printed in Example 31 for its tenth day
