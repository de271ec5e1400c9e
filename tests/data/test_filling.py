"""How far filled weather can be trusted: full records from which values are taken, filled, and compared.

Two records that ship inside wheels (records.py): three years of hours in a calm valley whose pyranometer is shaded in
the morning and the evening, so that estimates of radiation look worse than they are; and the typical year of an open
airport, whose radiation is modelled. And the two stations of data_demo, which are invented, for what takes a neighbour.

The table in docs/theory.md is what ``python -m tests.data.test_filling`` prints.
"""

import pathlib

import numpy as np
import pandas as pd
import pytest

import waterbudget as wb
from tests.data import records

ROOT = pathlib.Path(__file__).parents[2]
HUMIDITY = ["dewpoint", "rhmin", "rhmax", "vapour_pressure"]
SENSORS = ["tmin", "tmax", "wind", "solar", *HUMIDITY]
HEAD = """\
| taken away | filled by | shaded valley: ETo | a day | open airport: ETo | a day |
|---|---|---|---|---|---|
"""
HEAD_OF_NEIGHBOURS = """\
| taken away | filled by | ETo | a day |
|---|---|---|---|
"""


def valley():
    """Site 24 without its pressure, which is that of the sea's level."""
    return records.site_24().drop_vars("pressure")


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


def trials(full):
    """Give what was taken, how it was filled, the ETo so found, and the ETo of the full record."""
    truth = wb.reference_et(full)
    rng = np.random.default_rng(5)
    count = full.sizes["time"]
    july = np.flatnonzero(full["time"].dt.month == 7)[:30]
    humidity = [name for name in HUMIDITY if name in full]

    def filled(gaps, **ways):
        return wb.reference_et(wb.fill_weather(gaps, **ways))

    dry, calm, dark = full.drop_vars(humidity), full.drop_vars("wind"), full.drop_vars("solar")
    bare = full.drop_vars([*humidity, "wind", "solar"])
    tenth = blank(full, lambda: rng.random(count) < 0.1)
    yield "a tenth of the days of each sensor", "interpolate=5", filled(tenth, interpolate=5), truth
    yield "all sensors, July", "climatology=True", filled(blank(full, july), climatology=True), truth
    yield "wind", 'wind="light"', filled(calm, wind="light"), truth
    yield "wind", "wind=2.0", filled(calm, wind=2.0), truth
    yield "humidity", "dewpoint_offset=0", filled(dry, dewpoint_offset=0), truth
    by_range = filled(dark, range_coefficient="interior")
    yield "radiation", 'range_coefficient="interior"', by_range, truth
    three = filled(bare, wind=2.0, dewpoint_offset=0, range_coefficient="interior")
    yield "humidity, wind and radiation", "the last three", three, truth
    yield "wind", "Priestley-Taylor", wb.reference_et(calm, "priestley-taylor"), truth
    yield "humidity, wind and radiation", "Hargreaves", wb.reference_et(bare, "hargreaves"), truth
    # Fitted to the odd months, judged in the even ones.
    even = full["time"].dt.month % 2 == 0
    fit = wb.calibrate_hargreaves(full.where(~even).assign_attrs(full.attrs))
    calibrated = wb.reference_et(bare, "hargreaves", calibration=fit)
    yield "the same, even months", "Hargreaves, calibrated in the odd ones", calibrated.where(even), truth


def trials_of_neighbours():
    bench, flat = demo("bench", 342.0, rain_intensity="rain_intensity_mm_per_h"), demo("bottomland", 64.0)
    told = wb.reference_et(flat)
    gap = wb.fill_weather(blank(flat, slice(60, 120)), regression=bench)
    yield "all sensors, 60 days", "regression=bench", wb.reference_et(gap), told
    near = wb.fill_weather(blank(flat, slice(60, 120), ["wind", "solar"]), neighbour=bench)
    yield "radiation and wind, 60 days", "neighbour=bench", wb.reference_et(near), told


def errors(found, truth):
    """Give the error of the sum [%] and of a day [mm], over the days that were found."""
    known = found.notnull()
    off = (found - truth).where(known)
    return 100 * float(off.sum() / truth.where(known).sum()), float(np.sqrt((off**2).mean()))


def cells(found, truth):
    total, daily = errors(found, truth)
    return f"{total:+.1f} % | {daily:.2f} mm"


def table():
    lines = [HEAD]
    for one, other in zip(trials(valley()), trials(records.greensboro()), strict=True):
        assert one[:2] == other[:2]
        lines.append(f"| {one[0]} | `{one[1]}` | {cells(*one[2:])} | {cells(*other[2:])} |\n")
    return "".join(lines)


def table_of_neighbours():
    rows = [f"| {taken} | `{way}` | {cells(*pair)} |\n" for taken, way, *pair in trials_of_neighbours()]
    return HEAD_OF_NEIGHBOURS + "".join(rows)


@pytest.fixture(scope="module")
def found():
    return {
        place: {way: errors(et, truth) for _, way, et, truth in trials(record())}
        for place, record in (("valley", valley), ("airport", records.greensboro))
    }


def test_the_documents_say_how_far_each_way_is_off():
    page = (ROOT / "docs" / "theory.md").read_text(encoding="utf-8")
    assert table() in page
    assert table_of_neighbours() in page


def test_every_way_recovers_what_its_kind_can(found):
    for place in found.values():
        total = {way: abs(off) for way, (off, _) in place.items()}
        # Short gaps hardly matter; a month of the record's own season matters little.
        assert total["interpolate=5"] < 1
        assert total["climatology=True"] < 3
    off = {way: abs(total) for way, (total, _) in found["airport"].items()}
    # At an open station the world's means come within a few percent of the year, on the day within half a mm or so.
    assert max(off["wind=2.0"], off["dewpoint_offset=0"], off['range_coefficient="interior"']) < 5
    assert off["the last three"] < 10
    # In a calm valley with a shaded sensor they do not; a local calibration does.
    off = {way: abs(total) for way, (total, _) in found["valley"].items()}
    assert off["Hargreaves, calibrated in the odd ones"] < off["Hargreaves"] / 3
    for total, daily in (errors(et, truth) for _, _, et, truth in trials_of_neighbours()):
        assert abs(total) < 2
        assert daily < 0.2


def test_the_open_station_is_read_whole():
    # Sums and means of the file's own columns, by pandas.
    weather = records.greensboro()
    table = pd.read_csv(records.GREENSBORO, skiprows=1)
    hours = {name: table[own].to_numpy().reshape(365, 24) for name, own in {
        "tmin": "Dry-bulb (C)", "dewpoint": "Dew-point (C)", "solar": "GHI (W/m^2)"}.items()}  # fmt: skip
    np.testing.assert_allclose(weather["tmin"], hours["tmin"].min(axis=1), rtol=1e-12)
    np.testing.assert_allclose(weather["dewpoint"], hours["dewpoint"].mean(axis=1), rtol=1e-11, atol=1e-12)
    np.testing.assert_allclose(weather["solar"], hours["solar"].mean(axis=1) * 0.0864, rtol=1e-11)
    assert "0 steps have no row at all" in weather.attrs["steps"]


if __name__ == "__main__":
    print(table())
    print(table_of_neighbours(), end="")
