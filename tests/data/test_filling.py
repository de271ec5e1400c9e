"""How far filled weather can be trusted: a full record from which values are taken, filled, and compared.

The record: ``driver_data_site24.csv`` of the PyPI package ``spotpy``, three years of hours near Rechtenbach, Hesse
(see test_messy_files.py); a calm valley whose pyranometer is shaded in the morning and the evening, so that estimates
of radiation look worse than they are. The neighbours: the two stations of data_demo, which are invented.

The table in docs/theory.md is what ``python tests/data/test_filling.py`` prints.
"""

import importlib.util
import pathlib

import numpy as np
import pytest

import waterbudget as wb

ROOT = pathlib.Path(__file__).parents[2]
HUMIDITY = ["rhmin", "rhmax", "vapour_pressure"]
SENSORS = ["tmin", "tmax", "wind", "solar", *HUMIDITY]
HEAD = """\
| taken away | filled by | ETo of the record | daily error |
|---|---|---|---|
"""


def site_24():
    """Three years of days, every value there."""
    (folder,) = importlib.util.find_spec("spotpy").submodule_search_locations
    return wb.read_weather(
        pathlib.Path(folder) / "examples" / "cmf_data" / "driver_data_site24.csv",
        latitude=50.5,
        elevation=239.0,
        columns={
            "temperature": "airtemp_degC",
            "relative_humidity": "relhum_perc",
            "wind": "windspeed_ms",
            "solar": "solarrad_Wm2",
            "rain": "rain_mmday",
        },
        units={"solar": "W m-2", "rain": "mm/day"},
        sub_daily=wb.SubDaily(stamp="start"),
        layout=wb.TableLayout(exchanged_dates=True),
    )


def demo(station, elevation, **more):
    """One invented station."""
    columns = {"tmin": "tmin_degC", "tmax": "tmax_degC", "rhmin": "rhmin_percent", "rhmax": "rhmax_percent"}
    columns |= {"wind": "wind_m_per_s", "solar": "solar_MJ_per_m2", "rain": "rain_mm", **more}
    return wb.read_weather(
        ROOT / "data_demo" / f"weather_{station}.csv", latitude=38.5, elevation=elevation, columns=columns
    )


def blank(weather, days, names=SENSORS):
    """Take values away: on the same days for all sensors, or on days of each."""
    gaps = weather.copy(deep=True)
    for name in names:
        if name in gaps:
            gaps[name][days() if callable(days) else days] = np.nan
    return gaps


def trials():
    """Give what was taken, how it was filled, the ETo so found, and the ETo of the full record."""
    full = site_24()
    truth = wb.reference_et(full)
    year = full["time"].dt.year
    rng = np.random.default_rng(5)
    summer = np.flatnonzero((year == 2015) & full["time"].dt.month.isin([6, 7]))

    def filled(gaps, **ways):
        return wb.reference_et(wb.fill_weather(gaps, **ways))

    dry, calm, dark = full.drop_vars(HUMIDITY), full.drop_vars("wind"), full.drop_vars("solar")
    bare = full.drop_vars([*HUMIDITY, "wind", "solar"])
    tenth = blank(full, lambda: rng.random(full.sizes["time"]) < 0.1)
    yield "a tenth of the days of each sensor", "interpolate=5", filled(tenth, interpolate=5), truth
    gap = blank(full, summer)
    yield "all sensors, June and July 2015", "climatology=True", filled(gap, climatology=True), truth
    yield "wind", 'wind="light"', filled(calm, wind="light"), truth
    yield "wind", "wind=2.0", filled(calm, wind=2.0), truth
    yield "humidity", "dewpoint_offset=0", filled(dry, dewpoint_offset=0), truth
    by_range = filled(dark, range_coefficient="interior")
    yield "radiation", 'range_coefficient="interior"', by_range, truth
    three = filled(bare, wind="light", dewpoint_offset=0, range_coefficient="interior")
    yield "humidity, wind and radiation", "the three above, light wind", three, truth
    yield "wind", "Priestley-Taylor", wb.reference_et(calm, "priestley-taylor"), truth
    yield "humidity, wind and radiation", "Hargreaves", wb.reference_et(bare, "hargreaves"), truth
    fit = wb.calibrate_hargreaves(full.sel(time="2014"))
    later = bare.sel(time=slice("2015", None))
    calibrated = wb.reference_et(later, "hargreaves", calibration=fit)
    yield (
        "the same, 2015 and 2016",
        "Hargreaves calibrated in 2014",
        calibrated,
        truth.sel(time=later["time"]),
    )
    bench, flat = demo("bench", 342.0, rain_intensity="rain_intensity_mm_per_h"), demo("bottomland", 64.0)
    gap = blank(flat, slice(60, 120))
    told = wb.reference_et(flat)
    yield "all sensors, 60 days (invented)", "regression=bench", filled(gap, regression=bench), told
    near = filled(blank(flat, slice(60, 120), ["wind", "solar"]), neighbour=bench)
    yield "radiation and wind, 60 days (invented)", "neighbour=bench", near, told


def line(taken, way, found, truth):
    """Write a row of the table."""
    known = found.notnull()
    off = (found - truth).where(known)
    total = 100 * float(off.sum() / truth.where(known).sum())
    daily = float(np.sqrt((off**2).mean()))
    return f"| {taken} | `{way}` | {total:+.1f} % | {daily:.2f} mm |\n"


def table():
    return HEAD + "".join(line(*trial) for trial in trials())


@pytest.fixture(scope="module")
def lines():
    return [line(*trial) for trial in trials()]


def test_the_documents_say_how_far_each_way_is_off(lines):
    page = (ROOT / "docs" / "theory.md").read_text(encoding="utf-8")
    assert HEAD + "".join(lines) in page


def test_every_way_recovers_what_its_kind_can(lines):
    # Short gaps and a neighbour hardly matter; a sensor that never was makes a tenth, and three of them much more.
    off = {row.split("|")[2].strip(): abs(float(row.split("|")[3].split("%")[0])) for row in lines}
    assert off["`interpolate=5`"] < 1
    assert off["`climatology=True`"] < 5
    assert max(off["`regression=bench`"], off["`neighbour=bench`"]) < 5
    assert max(off['`wind="light"`'], off["`wind=2.0`"], off["`dewpoint_offset=0`"]) < 15
    assert off["`Hargreaves calibrated in 2014`"] < off["`Hargreaves`"] / 3


if __name__ == "__main__":
    print(table(), end="")
