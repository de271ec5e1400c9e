"""Weather that is not there: FAO-56 chapter 3, section "Estimating missing climatic data".

Example 15 was read in the paper. The numbers of Example 20 are from memory, and so is the text around Eq. 48: that
the dew point lies at the minimum temperature in humid places, some 2 degC and more below it in arid ones.
"""

import numpy as np
import pandas as pd
import pytest

import waterbudget as wb
from waterbudget.weather import radiation

LYON = {"latitude": 45 + 43 / 60, "elevation": 200.0}


@pytest.fixture(scope="module")
def lyon():
    """Mean July of Lyon, of which minimum and maximum temperature alone are known (Examples 15 and 20)."""
    frame = pd.DataFrame({"time": ["2023-07-15"], "tmin": 14.8, "tmax": 26.6})
    return wb.read_weather(frame, **LYON)


def test_example_15(check, lyon):
    filled = wb.fill_weather(lyon, range_coefficient="interior")
    solar = float(filled["solar"][0])
    check(
        "FAO-56, Example 15 (Eq. 50)",
        "Rs filled from the range of temperature [MJ m-2 day-1]",
        22.3,
        solar,
        0.05,
    )


def test_example_20(check, lyon):
    # From memory, so to one decimal: dew point at tmin, 2 m/s, Eq. 50 with 0.16; ETo 4.6 mm by Eq. 6, 5.0 by Eq. 52.
    filled = wb.fill_weather(lyon, range_coefficient="interior", dewpoint_offset=0, wind="light to moderate")
    check("FAO-56, Example 20 (from memory)", "dew point from tmin [degC]", 14.8, filled["dewpoint"][0], 0.05)
    check("FAO-56, Example 20 (from memory)", "wind of the world's mean [m s-1]", 2.0, filled["wind"][0], 0)
    by_eq_6 = wb.reference_et(filled)
    assert by_eq_6.attrs["method"] == "fao56"
    check("FAO-56, Example 20 (from memory)", "ETo with estimated data [mm day-1]", 4.6, by_eq_6[0], 0.05)
    by_eq_52 = wb.reference_et(lyon, method="hargreaves")
    check("FAO-56, Example 20 (from memory)", "ETo by Eq. 52 [mm day-1]", 5.0, by_eq_52[0], 0.05)


def test_eq_49_is_the_ratio_to_extraterrestrial_radiation():
    # Eq. 49: Rs = (Rs,reg / Ra,reg) Ra; Ra itself is checked against the paper in test_radiation.py.
    days = pd.DataFrame(
        {"time": ["2023-07-15"], "tmin": 14.8, "tmax": 26.6, "solar": [np.nan], "wind": [np.nan]}
    )
    own = wb.read_weather(days, **LYON)
    near = wb.read_weather(days.assign(solar=24.0, wind=1.7), latitude=40.0, elevation=100.0)
    filled = wb.fill_weather(own, neighbour=near)
    ratio = radiation.extraterrestrial_radiation(
        LYON["latitude"], 196
    ) / radiation.extraterrestrial_radiation(40.0, 196)
    assert float(filled["solar"][0]) == pytest.approx(24.0 * ratio, rel=1e-12)
    assert float(filled["wind"][0]) == 1.7


def test_wind_by_class(check):
    # FAO-56 Table 15 (p. 124).
    days = pd.DataFrame({"time": ["2023-07-15"], "tmin": 14.8, "tmax": 26.6})
    weather = wb.read_weather(days, **LYON)
    words = ["light", "light to moderate", "moderate to strong", "strong"]
    speeds = [float(wb.fill_weather(weather, wind=word)["wind"][0]) for word in words]
    check("FAO-56, Table 15", "classes of wind, filled in [m s-1]", [1, 2, 4, 5], speeds, 0)
