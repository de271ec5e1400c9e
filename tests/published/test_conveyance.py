"""Water on its way to the field: the efficiency of a scheme."""

import numpy as np
import pandas as pd
import xarray as xr

import waterbudget as wb


def test_scheme_efficiency(check):
    # FAO Irrigation Water Management Training Manual 4 (1989), Annex I, read: e = ec ea / 100, with 80 and 60 % 48 %,
    # printed as "approximately 50".
    time = pd.date_range("2024-07-01", periods=1)
    weather = xr.Dataset(
        {"et_ref": ("time", [0.0], {"surface": "short"}), "rain": ("time", [0.0])}, coords={"time": time}
    )
    crop = wb.Crop(kc=1.0, root_depth=1.0, depletion_fraction=0.5)
    system = wb.System(efficiency=0.60, conveyance_fraction=0.20)
    record = pd.DataFrame({"date": time, "gross_mm": [100.0]})
    season = wb.simulate(
        weather, crop, wb.Soil(available_water=0.2), system, irrigation=record, initial_depletion=80.0
    )
    stored = 80.0 - float(season["depletion"].values[-1])
    source = "FAO Irrigation Water Management Training Manual 4, Annex I"
    check(source, "stored of 100 mm at ec 80 % and ea 60 % [mm]", 48, stored, 1e-9)
    # Of the 100 mm, 20 seep on the way; 40 % of the 80 that arrive are lost on the field.
    np.testing.assert_allclose(season["conveyance_loss"].sum(), 20.0, rtol=0, atol=1e-9)
    np.testing.assert_allclose(season["unattributed_loss"].sum(), 32.0, rtol=0, atol=1e-9)
