"""Weather: any source in, one checked Dataset out, and reference evapotranspiration from it.

`read` takes what the user has: `sources`, `text`, `rows` and `cf` lay it out by `layout` and `naming`,
`tables` and `dates` read its cells, `canonical` its units, `steps` and `days` make days of shorter steps
by `sub_daily`. `doubts` judges it; `fill` estimates what is missing in the `ways` that are asked for;
`flags` say where each value comes from, `estimates` lists them; `reference` computes reference
evapotranspiration by `choice` of one of the `methods`, `calibration` fits the simplest of them to the
best; `outlook` gives the days ahead; `atmosphere` and `radiation` hold the formulas. pyet is imported in
this room alone.
"""

from waterbudget.weather.calibration import calibrate_hargreaves
from waterbudget.weather.doubts import check_weather
from waterbudget.weather.estimates import estimates
from waterbudget.weather.fill import fill_weather, fit_stations
from waterbudget.weather.layout import TableLayout
from waterbudget.weather.outlook import outlook
from waterbudget.weather.read import read_weather
from waterbudget.weather.reference import reference_et
from waterbudget.weather.sub_daily import SubDaily

__all__ = [
    "SubDaily",
    "TableLayout",
    "calibrate_hargreaves",
    "check_weather",
    "estimates",
    "fill_weather",
    "fit_stations",
    "outlook",
    "read_weather",
    "reference_et",
]
