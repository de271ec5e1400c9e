"""`read_weather`: any source and unit in, one Dataset out; bad input is named in full and all at once."""

from __future__ import annotations

import datetime
from decimal import Decimal
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget.errors import Fault, InputError
from waterbudget.units import convert
from waterbudget.variables import VARIABLES, attributes
from waterbudget.weather import read_weather, reference_et
from waterbudget.weather.reference import inputs_of
from waterbudget.weather.stated import _KNOWN, _key, is_depth, stated_unit, usual

DAYS = pd.date_range("2024-07-01", periods=4)
SITE = {"latitude": 46.2, "elevation": 120.0}


def frame(**changes: object) -> pd.DataFrame:
    columns = {
        "time": DAYS,
        "tmin": [11.5, 12.25, 10.0, 9.1],
        "tmax": [25.0, 27.5, 26.1, 24.0],
        "rain": [0.0, 3.2, np.nan, 0.0],
        "wind": [2.0, 1.5, 3.0, 2.5],
    }
    return pd.DataFrame({**columns, **changes})


def stations() -> pd.DataFrame:
    north = frame(station="north")
    return pd.concat([north, frame(station="south", tmax=north["tmax"] + 1)], ignore_index=True)


def faults_of(source: object, **options: object) -> list[Fault]:
    with pytest.raises(InputError) as caught:
        read_weather(source, **{**SITE, **options})
    return list(caught.value.faults)


def only(source: object, **options: object) -> Fault:
    (fault,) = faults_of(source, **options)
    return fault


def write(folder: Path, text: str) -> Path:
    path = folder / "weather.csv"
    path.write_text(text, encoding="utf-8")
    return path


# ------------------------------------------------------------------------------- what comes out
def test_every_kind_of_source_gives_the_same(tmp_path: Path) -> None:
    given = frame()
    path = tmp_path / "weather.csv"
    given.to_csv(path, index=False)
    expected = read_weather(given, **SITE)
    indexed = given.set_index("time")
    own_index = indexed.rename_axis(None)
    as_text = given.astype(str).replace("nan", "")
    as_dates = given.assign(time=[datetime.date(2024, 7, day) for day in range(1, 5)])
    slashes = given.rename(columns={"time": "date"}).assign(date=DAYS.strftime("%Y/%m/%d"))
    dataset = indexed.to_xarray()
    seconds = dataset.assign_coords(time=DAYS.as_unit("s"))
    for source in (path, str(path), indexed, own_index, as_text, as_dates, slashes, dataset, seconds):
        found = read_weather(source, **SITE)
        xr.testing.assert_identical(found.drop_attrs(deep=False), expected.drop_attrs(deep=False))
        assert found["time"].dtype == "datetime64[ns]"


def test_what_a_dataset_of_weather_is_like() -> None:
    weather = read_weather(frame(), **SITE)
    assert list(weather.data_vars) == ["tmin", "tmax", "wind", "rain"]
    for name, data in weather.data_vars.items():
        assert data.dtype == np.float64
        assert data.dims == ("time",)
        assert data.attrs == attributes(str(name))
    for name, value in SITE.items():
        assert weather[name].attrs == attributes(name)
        assert float(weather[name]) == value
    assert weather.attrs == {"source": "DataFrame"}
    np.testing.assert_array_equal(weather["rain"], [0.0, 3.2, np.nan, 0.0])
    xr.testing.assert_identical(read_weather(weather), weather)


def test_a_file_says_its_name_and_may_begin_with_a_byte_order_mark(tmp_path: Path) -> None:
    path = write(tmp_path, "\ufefftime, tmin, tmax\n2024-07-01, 10, 20\n\n2024-07-02,,21\n")
    weather = read_weather(path, **SITE)
    assert weather.attrs["source"] == "file weather.csv"
    np.testing.assert_array_equal(weather["tmin"], [10, np.nan])


def test_columns_are_mapped_and_others_passed_over() -> None:
    other = frame(note="x", tmean=20.0, wind_direction=180.0)
    theirs = other.rename(columns={"tmin": "TN", "time": "day", "rain": 3})
    weather = read_weather(theirs, columns={"tmin": "TN", "time": "day", "rain": 3}, **SITE)
    xr.testing.assert_identical(weather, read_weather(frame(), **SITE))


def test_a_mapped_column_wins_over_one_of_the_canonical_name() -> None:
    weather = read_weather(frame(gauge=[1.0, 2.0, 3.0, 4.0]), columns={"rain": "gauge"}, **SITE)
    np.testing.assert_array_equal(weather["rain"], [1, 2, 3, 4])


def test_two_columns_can_be_exchanged_by_mapping() -> None:
    wrong = frame().rename(columns={"tmin": "tmax", "tmax": "tmin"})
    weather = read_weather(wrong, columns={"tmin": "tmax", "tmax": "tmin"}, **SITE)
    xr.testing.assert_identical(weather, read_weather(frame(), **SITE))


def test_numbers_of_any_type() -> None:
    given = frame(
        tmin=pd.array([11, None, 10, 9], dtype="Int64"),
        tmax=[Decimal("25"), "27.5", np.float32(26), 24],
        rain=["0", None, " 1e1 ", "nan"],
    )
    weather = read_weather(given, **SITE)
    np.testing.assert_array_equal(weather["tmin"], [11, np.nan, 10, 9])
    np.testing.assert_array_equal(weather["tmax"], [25, 27.5, 26, 24])
    np.testing.assert_array_equal(weather["rain"], [0, np.nan, 10, np.nan])


def test_units_are_converted() -> None:
    """Definitions of the units (foot, pound and degree Fahrenheit by NIST SP 811); W m-2 by FAO-56 Table 3."""
    given = frame(tmin=50.0, tmax=68.0, rain=1.0, wind=10.0, solar=100.0)
    units = {"tmin": "degF", "tmax": "degF", "rain": "in", "wind": "mph", "solar": "W m-2"}
    expected = {"tmin": 10.0, "tmax": 20.0, "rain": 25.4, "wind": 4.4704, "solar": 8.64}
    weather = read_weather(given, units=units, **SITE)
    for name, value in expected.items():
        np.testing.assert_allclose(weather[name], value, rtol=1e-12)
        assert weather[name].attrs == attributes(name)


def test_a_dataset_says_its_own_units_unless_told_otherwise() -> None:
    dataset = frame(tmax=59.0, tmin=50.0).set_index("time").to_xarray()
    dataset["tmax"].attrs["units"] = dataset["tmin"].attrs["units"] = "degF"
    np.testing.assert_allclose(read_weather(dataset, **SITE)["tmax"], 15.0, rtol=1e-12)
    told = read_weather(dataset, units={"tmax": "degC"}, **SITE)
    np.testing.assert_array_equal(told["tmax"], 59.0)
    np.testing.assert_allclose(told["tmin"], 10.0, rtol=1e-12)


def test_wind_is_brought_to_two_metres() -> None:
    """FAO-56 Example 14: 3.2 m/s at 10 m is 2.4 m/s at 2 m."""
    weather = read_weather(frame(wind=3.2), wind_height=10, **SITE)
    np.testing.assert_allclose(weather["wind"], 2.4, atol=0.05)
    assert "10 m" in weather["wind"].attrs["comment"]
    assert "Eq. 47" in weather["wind"].attrs["comment"]
    in_miles = read_weather(frame(wind=3.2 / 0.44704), wind_height=10, units={"wind": "mph"}, **SITE)
    np.testing.assert_allclose(in_miles["wind"], weather["wind"], rtol=1e-12)


def test_a_given_et_ref_needs_no_site_and_carries_its_surface() -> None:
    given = frame(et_ref=5.0)
    weather = read_weather(given, et_ref_surface="tall")
    assert weather["et_ref"].attrs["surface"] == "tall"
    assert not {"latitude", "elevation"} & set(weather.coords)
    assert read_weather(weather)["et_ref"].attrs["surface"] == "tall"


def test_stations_lie_side_by_side_however_the_rows_are_sorted(tmp_path: Path) -> None:
    given = stations()
    places = {
        "latitude": {"north": 46.5, "south": 46.1},
        "elevation": pd.Series({"south": 90.0, "north": 140.0}),
    }
    weather = read_weather(given, **places)
    assert weather["tmin"].dims == ("time", "station")
    assert weather["station"].values.tolist() == ["north", "south"]
    np.testing.assert_array_equal(weather["latitude"], [46.5, 46.1])
    np.testing.assert_array_equal(weather["elevation"], [140.0, 90.0])
    for name in ("north", "south"):
        one = given[given["station"] == name].drop(columns="station")
        alone = read_weather(
            one, latitude=places["latitude"][name], elevation=float(places["elevation"][name])
        )
        xr.testing.assert_identical(weather.sel(station=name).drop_vars("station"), alone)
    by_date = given.sort_values(["time", "station"])
    path = tmp_path / "stations.csv"
    by_date.rename(columns={"station": "where"}).to_csv(path, index=False)
    renamed = weather.rename(station="site", time="day").transpose("site", "day")
    for found in (
        read_weather(by_date, **places),
        read_weather(path, columns={"station": "where"}, **places),
        read_weather(given.set_index(["time", "station"]), **places),
        read_weather(renamed, columns={"time": "day", "station": "site"}),
        read_weather(weather.drop_vars(["latitude", "elevation"]), **places),
    ):
        xr.testing.assert_identical(found.drop_attrs(deep=False), weather.drop_attrs(deep=False))


def test_one_latitude_serves_all_stations_and_labels_of_a_dataset_stay() -> None:
    weather = read_weather(stations(), **SITE)
    assert weather["latitude"].dims == ()
    ensemble = weather.expand_dims(member=[1, 2, 3])
    found = read_weather(ensemble)
    assert found["tmin"].dims == ("time", "member", "station")
    xr.testing.assert_equal(found.transpose("member", ...), ensemble)


def test_inputs_are_left_as_they_are() -> None:
    given, mapping, units = frame(), {"tmax": "tmax"}, {"tmax": "degF", "tmin": "degF"}
    before = given.copy(deep=True)
    read_weather(given, columns=mapping, units=units, wind_height=10, **SITE)
    pd.testing.assert_frame_equal(given, before)
    indexed = given.set_index("time").rename_axis(None)
    before = indexed.copy(deep=True)
    read_weather(indexed, units=units, **SITE)
    pd.testing.assert_frame_equal(indexed, before)
    assert (mapping, units) == ({"tmax": "tmax"}, {"tmax": "degF", "tmin": "degF"})
    dataset = indexed.rename_axis("time").to_xarray()
    untouched = dataset.copy(deep=True)
    weather = read_weather(dataset, wind_height=10, **SITE)
    weather["tmax"][:] = 0.0
    xr.testing.assert_identical(dataset, untouched)


# ------------------------------------------------------------------------------------ bad input
def test_a_mapped_column_that_is_absent_is_named_with_its_neighbours() -> None:
    fault = only(frame().rename(columns={"tmax": "TX_day"}), columns={"tmax": "TXday"})
    assert fault.what == "column 'TXday' for 'tmax'"
    assert "not in the source" in fault.problem
    assert "TX_day" in fault.allowed
    assert fault.mend == "did you mean 'TX_day'?"


def test_an_unknown_canonical_name_is_named_with_its_neighbours() -> None:
    for option in ({"columns": {"tmaxx": "tmax"}}, {"units": {"tmaxx": "degF"}}):
        fault = only(frame(), **option)
        assert "'tmaxx'" in fault.what
        assert "tmax" in fault.allowed
        assert "did you mean 'tmax'" in fault.mend


@pytest.mark.parametrize("own", ["Tmax", "t_max", "tmaxx", "TMAX"])
def test_a_misspelt_column_is_not_passed_over(own: str) -> None:
    fault = only(frame().rename(columns={"tmax": own}))
    assert fault.what == f"column {own!r}"
    assert "much like 'tmax'" in fault.problem
    assert f"columns={{'tmax': {own!r}}}" in fault.mend


def test_nothing_known_at_all() -> None:
    fault = only(pd.DataFrame({"time": DAYS, "a": 1.0}))
    assert fault.value == "time, a"
    assert "tmin" in fault.allowed
    assert "columns=" in fault.mend


def test_one_column_for_two_names_and_two_columns_of_one_name() -> None:
    assert "stands for both 'tmin' and 'tmax'" in only(frame(), columns={"tmin": "tmax"}).problem
    double = frame(x=1.0).rename(columns={"x": "tmax"})
    assert "more than once" in only(double).problem


@pytest.mark.parametrize(
    ("units", "words"),
    [
        ({"tmax": "degQ"}, "not known"),
        ({"tmax": "mm"}, "cannot become 'degC'"),
        ({"tmax": 3}, "is no text"),
        ({"solar": "W m-2"}, "not in the source"),
    ],
)
def test_wrong_units(units: dict[str, object], words: str) -> None:
    fault = only(frame(), units=units)
    assert fault.what == f"units, {next(iter(units))!r}"
    assert words in str(fault)
    assert "mend" in str(fault) or fault.allowed


# ---------------------------------------------------------------- a unit in a column's own name
STATED = [
    ("rain", "Precip (in)", "in"),
    ("rain", "Precip..in.", "in"),  # what R makes of the same name
    ("rain", "PRECIP_IN", "in"),
    ("rain", "Precip, inches", "in"),
    ("rain", "rain [in/day]", "in"),
    ("rain", "rain (in per day)", "in"),
    ("rain", "rain_cm", "cm"),
    ("rain", "rain intensity (mm/hr)", "mm/h"),
    ("wind", "Avg Wind (mph)", "mph"),
    ("wind", "wind_mile_per_h", "mph"),
    ("wind", "wind_km_h", "km/h"),
    ("wind", "Wind km/h", "km/h"),
    ("wind", "WindKmH", "km/h"),
    ("wind", "wind_10m_knots", "knot"),
    ("wind", "Wind run - km/day", "km/day"),
    ("tmax", "TMAX_F", "degF"),
    ("tmax", "TmaxF", "degF"),
    ("tmax", "Max Temp deg F", "degF"),
    ("tmax", "Max (°F)", "degF"),
    ("tmax", "t2m_max (K)", "K"),
    ("solar", "Sol Rad (Ly/day)", "langley/day"),
    ("solar", "Rs_W_m2", "W/m2"),
    ("solar", "Rs W m⁻²", "W/m2"),
    ("solar", "Rs (W/m^2)", "W/m2"),
    ("solar", "srad_kJ", "kJ/m2"),
    ("pressure", "Pressure (hPa)", "hPa"),
    ("pressure", "pressure_mbar", "mbar"),
    ("pressure", "Barometer in", "inHg"),
    ("sunshine", "sun (min)", "min"),
]
NOT_STATED = [
    ("rain", "Rain (mm)"),
    ("rain", "rain in mm"),
    ("rain", "rain_mm_per_day"),
    ("rain", "rain mm d-1"),
    ("rain", "Rain gauge (8 in)"),
    ("rain", "rain gauge 8 in"),
    ("rain", "rain 24 h"),
    ("rain", "rain (total)"),
    ("wind", "wind_m_per_s"),
    ("wind", "Wind (m s⁻¹)"),
    ("wind", "wind m/s"),
    ("wind", "wind at 10 m"),
    ("wind", "wind_10m"),
    ("tmin", "T (min)"),
    ("tmin", "air_temp_min"),
    ("tmin", "tmin_degC"),
    ("tmin", "Tmin [°C]"),
    ("tmin", "TN"),
    ("solar", "solar_MJ_per_m2"),
    ("solar", "Rs (MJ m-2 day-1)"),
    ("rhmax", "RHmax (%)"),
    ("sunshine", "sun_hours"),
    ("tmax", "F1"),
]


@pytest.mark.parametrize(("name", "heading", "unit"), STATED)
def test_a_unit_that_only_the_name_states_is_refused(name: str, heading: str, unit: str) -> None:
    values = convert(np.array([0.5, 1.0, 1.5, 2.0]), VARIABLES[name].unit, VARIABLES[name].unit)
    given = frame(**{name: values + (20 if name == "tmax" else 0)}).rename(columns={name: heading})
    fault = only(given, columns={name: heading}, wind_height=10 if "10m" in heading else 2)
    assert fault.what == f"column {heading!r} for {name!r}"
    assert "its name states the unit" in fault.problem
    assert f"taken as {usual(VARIABLES[name].unit)}" in fault.problem
    assert f'units={{"{name}": "{unit}"}}' in fault.mend
    assert f'units={{"{name}": "{usual(VARIABLES[name].unit)}"}} if the name is wrong' in fault.mend


@pytest.mark.parametrize(("name", "heading"), NOT_STATED)
def test_a_name_that_states_the_canonical_unit_or_none_passes(name: str, heading: str) -> None:
    assert stated_unit(heading, VARIABLES[name].unit) is None


def test_units_settle_what_a_name_states() -> None:
    given = frame(rain=[0.0, 1.0, 2.0, 0.0]).rename(columns={"rain": "Precip (in)"})
    columns = {"rain": "Precip (in)"}
    inches = read_weather(given, columns=columns, units={"rain": "in"}, **SITE)
    # the inch by definition: NIST Special Publication 811, Appendix B
    np.testing.assert_allclose(inches["rain"], [0, 25.4, 50.8, 0], rtol=1e-12)
    wrong_name = read_weather(given, columns=columns, units={"rain": "mm"}, **SITE)
    np.testing.assert_array_equal(wrong_name["rain"], [0, 1, 2, 0])


def test_units_that_a_dataset_says_go_before_its_names() -> None:
    dataset = frame().rename(columns={"tmax": "tmax_F"}).set_index("time").to_xarray()
    assert "states the unit 'F'" in only(dataset, columns={"tmax": "tmax_F"}).problem
    dataset["tmax_F"].attrs["units"] = "degC"
    weather = read_weather(dataset, columns={"tmax": "tmax_F"}, **SITE)
    np.testing.assert_array_equal(weather["tmax"], frame()["tmax"])


def test_every_name_is_looked_at_stations_too() -> None:
    given = stations().rename(columns={"rain": "Precip (in)", "wind": "Avg Wind (mph)"})
    found = faults_of(given, columns={"rain": "Precip (in)", "wind": "Avg Wind (mph)"})
    assert [fault.what for fault in found] == [
        "column 'Avg Wind (mph)' for 'wind'",
        "column 'Precip (in)' for 'rain'",
    ]


def test_a_name_that_states_a_unit_of_something_else() -> None:
    fault = only(frame().rename(columns={"rain": "Wind (mph)"}), columns={"rain": "Wind (mph)"})
    assert "'mph', which is none of rain" in fault.problem
    assert "map the right column" in fault.mend


def test_every_word_of_a_unit_can_be_found_and_converted() -> None:
    for canonical, words in _KNOWN.items():
        for word, unit in words.items():
            assert _key(word) == word
            assert np.isfinite(convert(1.0, unit, canonical))
        assert convert(1.0, usual(canonical), canonical) == 1.0
    assert set(_KNOWN) == {variable.unit for variable in VARIABLES.values() if variable.kind == "weather"}


@pytest.mark.parametrize("unit", ["mph", "m/s", "m s-1", "mm/s", "km/h", "knots", "km", "mm/week"])
def test_a_speed_is_no_unit_of_rain(unit: str) -> None:
    for fault in (
        only(frame(), units={"rain": unit}),
        only(frame(et_ref=5.0), units={"et_ref": unit}, et_ref_surface="short"),
    ):
        assert fault.problem == "is not a unit of water"
        assert fault.value == repr(unit)
        assert "mm/day" in fault.allowed


@pytest.mark.parametrize(
    "unit",
    ["mm", "in", "cm", "ft", "m", "inches", "mm/day", "mm day-1", "mm d-1", "in/day", "in/h", "mm/hour",
     "mm per day", "mm*day**-1", "mm h^-1", "inch/d"],
)  # fmt: skip
def test_a_depth_is_one(unit: str) -> None:
    assert is_depth(unit)
    assert np.isfinite(convert(1.0, unit.replace(" per ", "/"), "mm day-1"))


# ----------------------------------------------------------------------- codes for "missing"
def test_a_code_for_missing_is_shown_as_written() -> None:
    given = frame(tmax=[77.0, -9999.0, 80.0, -9999.0], rain=[0.0, -99.0, 0.1, 0.0])
    tmax, rain = faults_of(given.assign(tmin=50.0), units={"tmax": "degF", "tmin": "degF"})
    assert (tmax.what, tmax.count, tmax.where) == ("tmax", 2, "2024-07-02")
    assert '"missing"' in tmax.problem
    assert tmax.value == "-9999 as written, -5572.78 degC"
    assert "missing_codes=(-9999,)" in tmax.mend
    assert (rain.what, rain.count, rain.value) == ("rain", 1, "-99 as written")


def test_a_code_that_another_unit_hides_is_still_one() -> None:
    given = frame(tmin=[50.0, -99.0, 52.0, 50.0], tmax=[70.0, 71.0, 72.0, 73.0])
    fault = only(given, units={"tmin": "degF", "tmax": "degF"})
    assert (fault.what, fault.value) == ("tmin", "-99 as written, -72.7778 degC")
    blank = read_weather(given, units={"tmin": "degF", "tmax": "degF"}, missing_codes=(-99,), **SITE)
    assert np.isnan(blank["tmin"][1])


@pytest.mark.parametrize(
    ("heading", "height"),
    [
        ("Wind 10 m (m/s)", 10),
        ("wind_10m", 10),
        ("WS3M", 3),
        ("wind 33 ft", 10.0584),
        ("Wind (km/h) at 2,5 m", 2.5),
        ("10 metre wind speed", 10),
        ("ws10", 10),
        ("wind_speed_10", 10),
        ("WS_10m_Avg", 10),
        ("Wind.10m.ms", 10),
    ],
)
def test_a_height_in_the_name_of_the_wind_is_not_passed_over(heading: str, height: float) -> None:
    given = frame(wind=2.5).rename(columns={"wind": heading})
    wanted = {"columns": {"wind": heading}, "units": {"wind": "m/s"}}
    fault = only(given, **wanted)
    assert (fault.what, fault.value) == ("wind_height", "2 m")
    assert fault.allowed.startswith(f"{height:g} m, by")
    assert f"wind_height={height:g}" in fault.mend
    read_weather(given, wind_height=height, **wanted, **SITE)


@pytest.mark.parametrize(
    "heading",
    [
        "Wind (m/s)",
        "u2 m s-1",
        "wind_2m",
        "Wind 10 min mean",
        "WS 2 m/s",
        "wind 5 mph",
        "ws_1",
        "u2",
        "Speed 3 s gust",
    ],
)
def test_what_is_no_height_is_none(heading: str) -> None:
    given = frame(wind=2.5).rename(columns={"wind": heading})
    read_weather(given, columns={"wind": heading}, units={"wind": "m/s"}, **SITE)


def test_other_impossible_values_beside_a_code_are_named_too() -> None:
    first, second = faults_of(frame(rain=[-999.0, -1.0, 0.0, 0.0]))
    assert '"missing"' in first.problem
    assert (second.problem, second.count, second.where) == ("is outside its range", 1, "2024-07-02")


def test_what_may_be_a_value_is_no_code() -> None:
    weather = read_weather(frame(rain=[999.0, 0.0, 0.0, 0.0]), **SITE)
    assert float(weather["rain"][0]) == 999.0


# ------------------------------------------------------------- what reference ET is worked out from
def test_the_columns_that_reference_et_reads() -> None:
    full = frame(rhmax=80.0, rhmin=40.0, dewpoint=9.0, solar=25.0, pressure=100.0)
    weather = read_weather(full, **SITE)
    assert inputs_of(weather) == ("tmin", "tmax", "pressure", "dewpoint", "solar", "wind")
    assert inputs_of(weather, "tall") == inputs_of(weather)
    assert inputs_of(read_weather(frame(), **SITE)) == ("tmin", "tmax")
    assert inputs_of(read_weather(frame(et_ref=5.0), et_ref_surface="tall"), "tall") == ("et_ref",)


@pytest.mark.parametrize("surface", ["short", "tall"])
def test_a_gap_in_one_of_them_and_in_no_other_is_a_gap_of_et(surface: str) -> None:
    full = frame(rhmax=80.0, rhmin=40.0, dewpoint=9.0, solar=25.0, pressure=100.0, rain=0.0)
    weather = read_weather(full, **SITE)
    read = inputs_of(weather, surface)
    for name in map(str, weather.data_vars):
        gap = weather.copy(deep=True)
        gap[name][2] = np.nan
        assert bool(np.isnan(reference_et(gap, surface=surface)[2])) is (name in read), name


def test_text_in_numbers_is_shown_with_its_line(tmp_path: Path) -> None:
    path = write(tmp_path, "time,tmin,tmax\n2024-07-01,10,20\n2024-07-02,n/a,21\n2024-07-03,-,22\n")
    fault = only(path)
    assert (fault.what, fault.count, fault.where, fault.value) == ("tmin", 2, "line 3", "'n/a'")
    assert "blank" in fault.allowed
    fault = only(frame(tn=["1", "1,5", "1_0", True]), columns={"tmin": "tn"})
    assert (fault.what, fault.count, fault.where) == ("tmin (column 'tn')", 3, "row 2")
    assert fault.value == "'1,5'"
    fault = only(frame().set_index("time").to_xarray().assign(tmin=("time", list("1234x"[1:]))))
    assert (fault.count, fault.where, fault.value) == (1, "value 4", "'x'")


@pytest.mark.parametrize(
    ("text", "value"),
    [
        (["01/07/2024"] * 4, "'01/07/2024'"),
        (["2024-07-01", "2.7.2024", "x", "2024-07-04"], "'2.7.2024'"),
        ([20240701, 20240702, 20240703, 20240704], "20240701"),
        (["2024-06-31"] * 4, "'2024-06-31'"),
        (["2024-07/01"] * 4, "'2024-07/01'"),
    ],
)
def test_dates_whose_order_would_be_guessed_are_refused(text: list[object], value: str) -> None:
    fault = only(frame(time=text))
    assert fault.what == "date column 'time'"
    assert fault.value.endswith(value) or value in fault.value
    assert fault.where.startswith("row ")
    assert "2024-07-03" in fault.allowed
    assert "layout=wb.TableLayout(date_format=" in fault.mend


@pytest.mark.parametrize(
    ("change", "problem", "where"),
    [
        ({"time": DAYS[[0, 1, 1, 2]]}, "more than once", "2024-07-02"),
        ({"time": DAYS[[0, 2, 1, 3]]}, "not in order", "row 3"),
        ({"time": DAYS[[0, 1, 2]].append(DAYS[3:] + pd.Timedelta(days=2))}, "misses days", "2024-07-04"),
        ({"time": DAYS.tz_localize("Europe/Paris")}, "time zone", ""),
        ({"time": DAYS + pd.Timedelta(hours=12)}, "not midnight", "2024-07-01"),
        ({"time": [f"2024-07-0{day} 12:00" for day in range(1, 5)]}, "not midnight", "2024-07-01"),
        ({"time": [f"2024-07-0{day}T00:00:00+02:00" for day in range(1, 5)]}, "time zone", ""),
        ({"time": ["2024-07-01", "2024-07-02", "", "2024-07-03"]}, "without a date", "row 3"),
    ],
)
def test_days_that_are_no_gapless_days(change: dict[str, object], problem: str, where: str) -> None:
    fault = only(frame(**change))
    assert problem in fault.problem
    assert fault.where == where
    assert fault.mend


def test_a_dataset_with_a_zone_or_without_time() -> None:
    dataset = frame().set_index("time").to_xarray()
    assert "time zone" in only(dataset.assign_coords(time=DAYS.tz_localize("UTC"))).problem
    problems = [fault.problem for fault in faults_of(dataset.rename(time="day"))]
    assert "is no dimension with dates" in problems
    fault = only(dataset.assign(tmax=20.0))
    assert (fault.what, fault.problem) == ("tmax", "does not vary in time")


def test_no_date_column_or_two() -> None:
    assert "missing" in only(frame().drop(columns="time")).problem
    fault = only(frame(date=DAYS))
    assert "both 'time' and 'date'" in fault.problem
    assert 'columns={"time"' in fault.mend


@pytest.mark.parametrize(
    ("change", "what", "count", "value", "allowed"),
    [
        (
            {"tmax": [25.0, 2.0, 3.0, 24.0]},
            "tmin and tmax",
            2,
            "tmin 12.25 degC, tmax 2 degC",
            "tmin at most tmax",
        ),
        (
            {"rhmin": 50.0, "rhmax": [60.0, 40.0, 60.0, 60.0]},
            "rhmin and rhmax",
            1,
            "rhmin 50 %, rhmax 40 %",
            "",
        ),
        ({"rhmax": [90.0, 101.0, 90.0, 130.0]}, "rhmax", 2, "101 %", "0 to 100 %"),
        ({"rain": [0.0, -1.0, 0.0, 0.0]}, "rain", 1, "-1 mm day-1", "0 to 2000"),
        ({"wind": [1.0, np.inf, 1.0, 1.0]}, "wind", 1, "inf", "0 to 75 m s-1"),
        ({"wind": ["1", "-inf", "1", "1"]}, "wind", 1, "-inf", "0 to 75 m s-1"),
    ],
)
def test_values_that_cannot_be(
    change: dict[str, object], what: str, count: int, value: str, allowed: str
) -> None:
    fault = only(frame(**change))
    assert (fault.what, fault.count, fault.where, fault.value) == (what, count, "2024-07-02", value)
    assert allowed in fault.allowed
    assert fault.mend


def test_latitude_462() -> None:
    fault = only(frame(), latitude=462)
    assert (fault.what, fault.value, fault.allowed) == (
        "latitude",
        "462 degrees_north",
        "-90 to 90 degrees_north",
    )


def test_the_site_is_needed_where_et_is_to_be_computed() -> None:
    first, second = faults_of(frame(), latitude=None, elevation=None)
    assert (first.what, second.what) == ("latitude", "elevation")
    assert "et_ref" in first.mend


def test_a_site_may_be_text_with_its_unit() -> None:
    # the foot by definition: NIST Special Publication 811, Appendix B
    assert float(read_weather(frame(), latitude=46.2, elevation="1000 ft")["elevation"]) == 304.8
    weather = read_weather(stations(), latitude="46.2 deg", elevation={"north": "1000 ft", "south": 90})
    np.testing.assert_array_equal(weather["elevation"], [304.8, 90.0])
    assert float(weather["latitude"]) == 46.2
    for wrong in ("120", "120 mph", "high", "120 ft or so"):
        fault = only(frame(), elevation=wrong)
        assert (fault.what, fault.problem, fault.value) == ("elevation", "is no number", repr(wrong))
        assert "'394 ft'" in fault.mend
    assert only(frame(), elevation="-2000 ft").problem == "is outside its range"


def test_a_site_that_does_not_fit() -> None:
    assert only(frame(), latitude="46 N").problem == "is no number"
    assert only(frame(), latitude=np.nan).problem == "has no value"
    assert "the weather has none" in only(frame(), latitude={"north": 46.0}).problem
    fault = only(stations(), latitude={"north": 46.0})
    assert (fault.problem, fault.value) == ("is missing for a station", "'south'")
    fault = only(stations(), latitude={"north": 46.0, "south": 462.0})
    assert fault.where == "station south"
    fault = only(stations(), latitude=pd.Series([46.0, 46.0, 46.0], index=["north", "north", "south"]))
    assert (fault.problem, fault.value) == ("names a station more than once", "north")
    wrong = xr.DataArray([46.0, 46.0], dims="station", coords={"station": ["north", "east"]})
    assert "different station labels" in only(stations(), latitude=wrong).problem
    assert "varies along field" in only(stations(), latitude=wrong.rename(station="field")).problem


def test_et_ref_and_its_surface() -> None:
    given = frame(et_ref=5.0)
    fault = only(given)
    assert fault.what == "et_ref"
    assert '"short"' in fault.allowed
    assert '"tall"' in fault.allowed
    assert "et_ref_surface" in fault.mend
    assert "there is no et_ref" in only(frame(), et_ref_surface="short").problem
    assert only(given, et_ref_surface="grass").value == "'grass'"
    own = read_weather(given, et_ref_surface="tall")
    assert "contradicts" in only(own, et_ref_surface="short").problem
    own["et_ref"].attrs["surface"] = "grass"
    assert only(own).value == "'grass'"


@pytest.mark.parametrize(
    ("height", "problem"),
    [
        (0, "is outside its range"),
        (-2.0, "is outside its range"),
        (0.05, "is outside its range"),
        (np.inf, "is infinite"),
        (np.nan, "has no value"),
        ("10", "is no number"),
        (True, "is no number"),
    ],
)
def test_a_wind_height_that_is_none(height: object, problem: str) -> None:
    fault = only(frame(), wind_height=height)
    assert (fault.what, fault.problem) == ("wind_height", problem)


def test_wind_heights_by_station() -> None:
    """FAO-56 Example 14: 3.2 m/s at 10 m is 2.4 m/s at 2 m."""
    given = stations().assign(wind=3.2)
    weather = read_weather(given, wind_height={"north": "10 m", "south": 2}, **SITE)
    np.testing.assert_allclose(weather["wind"].sel(station="north"), 2.4, atol=0.05)
    np.testing.assert_array_equal(weather["wind"].sel(station="south"), 3.2)
    assert weather["wind"].attrs["comment"].startswith("measured at 2 to 10 m")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("\n\n", "is empty"),
        ("time,tmin,tmax\n", "a header and no rows"),
        ("time;a,tmin\n2024-07-01;1,2\n", "does not show what stands between its cells"),
        ("time\n2024-07-01\n", "does not show what stands between its cells"),
        ("time,tmin\n2024-07-01,1\n2024-07-02,1,5\n", "another number of cells"),
        ('time,tmin\n2024-07-01,"1\n', "cannot be read"),
    ],
)
def test_files_that_hold_no_table(tmp_path: Path, text: str, words: str) -> None:
    fault = only(write(tmp_path, text))
    assert "weather.csv" in fault.what
    assert words in fault.problem
    assert fault.allowed or fault.mend


def test_a_file_in_another_encoding_one_that_is_absent_and_no_source(tmp_path: Path) -> None:
    path = tmp_path / "weather.csv"
    path.write_bytes("time,tmin,caf\xe9\n2024-07-01,1,2\n".encode("latin-1"))
    assert "UTF-8" in only(path).allowed
    with pytest.raises(FileNotFoundError):
        read_weather(tmp_path / "absent.csv", **SITE)
    assert only([1, 2]).value == "list"


def test_an_empty_frame_and_an_empty_dataset() -> None:
    assert "no rows" in only(frame().iloc[:0]).problem
    assert "is empty" in only(frame().set_index("time").to_xarray().isel(time=slice(0, 0))).problem


def test_rows_of_stations_are_never_lost() -> None:
    given = stations()
    fault = only(given.iloc[[0, 1, 2, 3, 4, 5, 5, 6, 7]])
    assert fault.what == "weather, station south, time"
    assert "more than once" in fault.problem
    assert (fault.count, fault.where) == (1, "2024-07-02")
    fault = only(given.iloc[:-1])
    assert fault.what == "weather, station south"
    assert "not all the days" in fault.problem
    assert (fault.count, fault.where) == (1, "2024-07-04")
    fault = only(given.assign(station=["north", "north", "", None, *["south"] * 4]))
    assert (fault.what, fault.count, fault.where) == ("station column 'station'", 2, "row 3")
    twice = xr.concat([frame().set_index("time").to_xarray()] * 2, dim=pd.Index(["a", "a"], name="station"))
    assert "two stations of one name" in only(twice).problem


def test_every_dimension_of_a_dataset_has_labels() -> None:
    bare = frame(et_ref=5.0).set_index("time").to_xarray().expand_dims(field=2)
    fault = only(bare, latitude=None, elevation=None, et_ref_surface="short")
    assert "'field' without labels" in fault.problem
    assert fault.mend == ".assign_coords(field=[...])"


def test_all_faults_arrive_at_once() -> None:
    given = stations().assign(wind="calm", rain=-1.0).rename(columns={"tmax": "Tmax"})
    given = pd.concat([given, given.iloc[[7]]], ignore_index=True)
    found = faults_of(
        given, latitude=462, elevation=None, wind_height=0, units={"tmin": "degQ"}, columns={"rhmax": "RH"}
    )
    things = [fault.what for fault in found]
    assert things == [
        "column 'RH' for 'rhmax'",
        "column 'Tmax'",
        "wind",
        "weather, station south, time",
        "units, 'tmin'",
        "rain",
        "wind_height",
        "latitude",
        "elevation",
    ]
    rain = found[things.index("rain")]
    assert (rain.count, rain.where) == (9, "row 1")
