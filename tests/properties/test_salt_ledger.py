"""The salts of a season are all accounted for, whatever the soil, the spots and the water table."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

import waterbudget as wb
from tests.properties.test_spots import one


@given(one, st.floats(0.1, 1.0), st.floats(0.0, 5.0))
def test_the_salt_ledger_closes(field, mixing, rain_salinity):
    season = field.run()
    given_numbers = {
        "water_salinity": 1.3,
        "soil_water_at_field_capacity": 0.6,
        "initial_salinity": 2.0,
        "rain_salinity": rain_salinity,
        "water_table_salinity": 3.0,
        "mixing": mixing,
    }
    row = wb.salt_ledger(season, **given_numbers).iloc[0]
    brought = (
        row["salt_from_irrigation_t_per_ha"]
        + row["salt_from_rain_t_per_ha"]
        + row["salt_from_water_table_t_per_ha"]
    )
    assert abs(row["residual_t_per_ha"]) <= 1e-9
    assert abs(row["salt_change_t_per_ha"] - (brought - row["salt_drained_t_per_ha"])) <= 1e-9
    assert row["salt_drained_t_per_ha"] >= 0.0
    assert row["soil_salinity_at_end_dS_per_m"] >= 0.0
    # salts of irrigation are those of the net depth: what is lost on the way brings none into the soil
    net = float(season["irrigation_net"].sum())
    np.testing.assert_allclose(
        row["salt_from_irrigation_t_per_ha"], 1.3 * 640.0 * 10.0 * net / 1e6, atol=1e-9
    )


@given(one)
def test_without_salt_in_any_water_only_drainage_changes_what_is_there(field):
    season = field.run()
    row = wb.salt_ledger(
        season,
        water_salinity=0.0,
        soil_water_at_field_capacity=0.6,
        initial_salinity=2.0,
        water_table_salinity=0.0,
    ).iloc[0]
    lost = row["salt_at_start_t_per_ha"] - row["salt_at_end_t_per_ha"]
    np.testing.assert_allclose(lost, row["salt_drained_t_per_ha"], atol=1e-9)
    assert lost >= -1e-9
