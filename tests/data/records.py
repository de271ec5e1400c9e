"""Open weather records that ship inside wheels, found without importing the package that holds them.

``seattle-weather.csv`` of ``vega_datasets``: daily, dates with slashes. ``fulda_climate.csv`` of ``spotpy``: a line of units
under the header that begins like a comment, dates day.month.year. ``driver_data_site24.csv`` of ``spotpy``: hourly,
comments under the header, day and month exchanged where the day is 12 or less, rain as a rate [mm day-1] of each
hour, hPa and W m-2. ``723170TYA.CSV`` of ``pvlib``: the typical meteorological year (TMY3, US National Renewable
Energy Laboratory) of Greensboro, North Carolina; its months are of different years.

Places and heights are rough, from memory, but those of Greensboro, which the file says.
"""

import importlib.util
import pathlib

import pandas as pd

import waterbudget as wb

SITE_24_PLACE = {"latitude": 50.5, "elevation": 239.0}
SITE_24_COLUMNS = {
    "temperature": "airtemp_degC",
    "relative_humidity": "relhum_perc",
    "wind": "windspeed_ms",
    "solar": "solarrad_Wm2",
    "rain": "rain_mmday",
    "pressure": "airpressure_hPa",
}
SITE_24_UNITS = {"solar": "W m-2", "pressure": "hPa", "rain": "mm/day"}
HOURS = wb.SubDaily(stamp="start")
EXCHANGED = wb.TableLayout(exchanged_dates=True)

SEATTLE_COLUMNS = {"time": "date", "rain": "precipitation", "tmax": "temp_max", "tmin": "temp_min"}
FULDA_COLUMNS = {"time": "date", "rain": "Prec"}
FULDA_LAYOUT = wb.TableLayout(units_line=2, date_format="%d.%m.%Y")


def path_of(package, *parts):
    spec = importlib.util.find_spec(package)
    assert spec is not None, "install the test extra: pip install waterbudget[test]"
    (folder,) = spec.submodule_search_locations
    return pathlib.Path(folder).joinpath(*parts)


SITE_24 = path_of("spotpy", "examples", "cmf_data", "driver_data_site24.csv")
FULDA = path_of("spotpy", "examples", "cmf_data", "fulda_climate.csv")
SEATTLE = path_of("vega_datasets", "_data", "seattle-weather.csv")
GREENSBORO = path_of("pvlib", "data", "723170TYA.CSV")


def site_24():
    """Three years of days, every value there."""
    return wb.read_weather(
        SITE_24,
        columns=SITE_24_COLUMNS,
        units=SITE_24_UNITS,
        sub_daily=HOURS,
        layout=EXCHANGED,
        **SITE_24_PLACE,
    )


def fulda():
    """Ten years of temperature and rain."""
    return wb.read_weather(FULDA, columns=FULDA_COLUMNS, layout=FULDA_LAYOUT, latitude=50.6, elevation=300.0)


def seattle():
    """Four years of temperature, wind and rain."""
    return wb.read_weather(SEATTLE, columns=SEATTLE_COLUMNS, latitude=47.45, elevation=130.0)


def greensboro():
    """One typical year, hours 01:00 to 24:00, its months put into one year; wind taken to be of 10 m (from memory)."""
    table = pd.read_csv(GREENSBORO, skiprows=1)
    table["Date"] = table["Date (MM/DD/YYYY)"].str[:6] + "2001"
    return wb.read_weather(
        table,
        latitude=36.1,
        elevation=273.0,
        wind_height=10.0,
        columns={
            "time": ("Date", "Time (HH:MM)"),
            "temperature": "Dry-bulb (C)",
            "dewpoint": "Dew-point (C)",
            "relative_humidity": "RHum (%)",
            "wind": "Wspd (m/s)",
            "solar": "GHI (W/m^2)",
        },
        units={"solar": "W m-2"},
        layout=wb.TableLayout(date_format="%m/%d/%Y %H:%M"),
        sub_daily=wb.SubDaily(stamp="end"),
    )
