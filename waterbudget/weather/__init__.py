"""Weather: any source in, one checked Dataset out, and reference evapotranspiration from it.

`read` takes what the user has (`sources` lays it out, `tables` reads its cells), `doubts` judges it,
`reference` computes reference evapotranspiration from it; `atmosphere` and `radiation` hold the
formulas. `flags` says where each value comes from. `outlook` goes on after the last observation, with
days that `past_years` looks up; `outlook_checks` holds what must be true before. pyet is imported in this
room alone.
"""

from waterbudget.weather.doubts import check_weather
from waterbudget.weather.outlook import outlook
from waterbudget.weather.read import read_weather
from waterbudget.weather.reference import reference_et

__all__ = ["check_weather", "outlook", "read_weather", "reference_et"]
