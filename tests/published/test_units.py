"""Conversions against FAO Irrigation and Drainage Paper 56 (1998), chapter 3 Table 3 and Annex 1."""

import pytest

from waterbudget.units import convert
from waterbudget.weather.radiation import PER_LATENT_HEAT


@pytest.mark.parametrize(
    ("given", "wanted", "printed", "half_digit"),
    [
        ("W m-2", "MJ m-2 day-1", 0.0864, 0.00005),
        ("MJ m-2 day-1", "W m-2", 11.6, 0.05),
        ("L/s/ha", "mm day-1", 8.64, 0.005),
        ("m3/ha/day", "mm day-1", 0.1, 0.0005),
        ("MJ m-2 day-1", "cal/cm2/day", 23.9, 0.05),
    ],
)
def test_fao56_table_3(check, given, wanted, printed, half_digit):
    got = convert(1.0, given, wanted)
    check("FAO-56, chapter 3 Table 3", f"1 {given} [{wanted}]", printed, got, half_digit)


def test_fao56_equivalent_evaporation(check):
    # 1 MJ m-2 day-1 is 0.408 mm/day, 1 mm/day is 2.45 MJ m-2 day-1 (Eq. 20).
    assert PER_LATENT_HEAT == 0.408
    check("FAO-56, Eq. 20", "latent heat [MJ kg-1]", 2.45, 1 / PER_LATENT_HEAT, 0.005)
