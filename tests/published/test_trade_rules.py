"""From net to gross depth, volume and hours: rules of the trade, and arithmetic identities.

Common practice, no source: the application efficiencies of `System.from_handbook`, and the depths that
the trade quotes from them. The identities come from no publication either; they are evaluated here by hand.
"""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from waterbudget.report.events import events

CROP = wb.Crop(kc=1.0, root_depth=1.0, depletion_fraction=0.5)
SOIL = wb.Soil(available_water=0.2)


def water_once(system, **depth):
    """Season of five days with one recorded watering, on a soil with room for it."""
    time = pd.date_range("2024-07-01", periods=5)
    weather = xr.Dataset(
        {"et_ref": ("time", np.full(5, 5.0), {"surface": "short"}), "rain": ("time", np.zeros(5))},
        coords={"time": time, "latitude": 40.0, "elevation": 100.0},
    )
    record = pd.DataFrame({"date": ["2024-07-03"], **{name: [value] for name, value in depth.items()}})
    return wb.simulate(weather, CROP, SOIL, system, irrigation=record, initial_depletion=80.0)


@pytest.mark.parametrize(
    ("name", "gross_in"),
    [("travelling gun", 3.1), ("centre pivot", 2.5), ("subsurface drip", 2.1)],
)
def test_two_inches_net(check, name, gross_in):
    # Common practice, no source: 2 in net is 3.1 in gross by travelling gun, 2.5 by centre pivot, 2.1 by
    # subsurface drip.
    season = water_once(wb.System.from_handbook(name), net_in=2.0)
    assert float(season["irrigation_net"].sum()) == pytest.approx(50.8, abs=1e-9)
    (row,) = events(season, units="us").to_dict("records")
    assert row["net_in"] == pytest.approx(2.0, abs=1e-9)
    quantity = f"gross depth of 2 in net by {name} [in]"
    check("Common practice, no source", quantity, gross_in, row["gross_in"], 0.05)
    # The soil gets the same two inches whatever the system.
    assert season["depletion"].values[-1] == pytest.approx(80.0 + 5 * 5.0 - 50.8, abs=1e-9)


def test_ten_gallons_through_sprinklers(check):
    # Common practice, no source: 10 gal through overhead sprinklers put 7 in the root zone.
    area_m2, litres_per_gallon = 10.0, 3.785411784
    gross_mm = 10 * litres_per_gallon / area_m2
    system = wb.System.from_handbook("overhead sprinklers", area=area_m2 / 10_000)
    season = water_once(system, gross_mm=gross_mm)
    (row,) = events(season, units="us").to_dict("records")
    assert row["volume_gal"] == pytest.approx(10.0, abs=1e-6)
    stored_litres = (80.0 + 5 * 5.0 - season["depletion"].values[-1]) * area_m2
    quantity = "stored of 10 gal through overhead sprinklers [gal]"
    check("Common practice, no source", quantity, 7.0, stored_litres / litres_per_gallon, 1e-9)
    assert float(season["application_loss"].sum()) * area_m2 / litres_per_gallon == pytest.approx(
        3.0, abs=1e-9
    )


def test_gross_is_net_over_efficiency():
    # Arithmetic identity: 30 mm net at 60, 75 and 90 % are 50, 40 and 33.333333 mm gross. These are the
    # efficiencies of the FAO training manual that the handbook quotes second-hand (Irrigation Water Management
    # Training Manual 4, 1989, Annex I, Table 8).
    names = ["surface irrigation (FAO)", "sprinkler (FAO)", "drip (FAO)"]
    systems = wb.concat({name: wb.System.from_handbook(name) for name in names}, dim="system")
    assert systems.efficiency.sel(system=names).values.tolist() == [0.60, 0.75, 0.90]
    season = water_once(systems, net_mm=30.0)
    gross = season["irrigation_gross"].sel(system=names).sum("time").values
    np.testing.assert_allclose(gross, [50.0, 40.0, 33.333333], rtol=0, atol=1e-6)
    np.testing.assert_allclose(
        season["application_loss"] + season["irrigation_net"], season["irrigation_gross"]
    )


def test_volume_and_hours():
    # Arithmetic identity, from memory: hours = 10 net area/(flow efficiency). 30 mm net on 12 ha at 75 % are
    # 40 mm gross, 4800 m3, and 53.333 h at 90 m3/h.
    system = wb.System(efficiency=0.75, area=12.0, flow=90.0)
    (row,) = events(water_once(system, net_mm=30.0)).to_dict("records")
    assert row["gross_mm"] == pytest.approx(40.0, abs=1e-9)
    assert row["volume_m3"] == pytest.approx(4800.0, abs=1e-6)
    assert row["hours"] == pytest.approx(53.333, abs=0.0005)
    # The same flow given as the rate at which it falls on the field: 90 m3/h on 12 ha are 0.75 mm/h.
    rate = wb.System(efficiency=0.75, area=12.0, application_rate=0.75)
    (same,) = events(water_once(rate, net_mm=30.0)).to_dict("records")
    assert same["hours"] == pytest.approx(53.333, abs=0.0005)
    assert same["volume_m3"] == pytest.approx(4800.0, abs=1e-6)


def test_volume_and_hours_in_us_units():
    # Arithmetic identity, from memory: an acre-inch is 27,154 gal; 450 gpm put about one acre-inch down in
    # an hour (27,154/60 = 452.6 gpm exactly).
    system = wb.System(efficiency=1.0, area="1 acre", flow="452.57 gpm")
    (row,) = events(water_once(system, net_in=1.0), units="us").to_dict("records")
    assert row["volume_gal"] == pytest.approx(27_154, abs=0.5)
    assert row["hours"] == pytest.approx(1.0, abs=1e-4)
