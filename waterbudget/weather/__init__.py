"""Weather: any source in, one checked Dataset out, and reference evapotranspiration from it.

`read` takes what the user has (`sources` lays it out, `tables` reads its cells), `doubts` judges it,
`reference` computes reference evapotranspiration from it (`choice` picks columns, `methods` has the
equations, `evaluation` works through the values), `calibration` fits Hargreaves; `atmosphere` and
`radiation` hold the formulas. pyet is imported in this room alone.
"""

from waterbudget.weather.calibration import calibrate_hargreaves
from waterbudget.weather.doubts import check_weather
from waterbudget.weather.read import read_weather
from waterbudget.weather.reference import reference_et

__all__ = ["calibrate_hargreaves", "check_weather", "read_weather", "reference_et"]
