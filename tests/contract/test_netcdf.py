"""NetCDF, Zarr and other Datasets by the CF conventions: units, standard names, bounds, grids, round trips."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget import SubDaily, read_weather
from waterbudget.errors import Fault, InputError

SITE = {"latitude": 46.2, "elevation": 120.0}
DAYS = pd.date_range("2024-02-27", periods=4)


def only(source: object, **options: object) -> Fault:
    """Give the one fault that a source has."""
    with pytest.raises(InputError) as caught:
        read_weather(source, **options)
    (fault,) = caught.value.faults
    return fault


def climate_file() -> xr.Dataset:
    """A grid as climate data centres give it: names of their own, Kelvin, fluxes, days by their bounds."""
    shape, dims = (4, 2, 3), ("time", "lat", "lon")
    rng = np.random.default_rng(3)
    cold = 275 + rng.random(shape)

    def field(values: np.ndarray, standard_name: str, units: str, cell_methods: str = "time: mean") -> tuple:
        return dims, values, {"standard_name": standard_name, "units": units, "cell_methods": cell_methods}

    data = xr.Dataset(
        {
            "tasmin": field(cold, "air_temperature", "K", "area: mean time: minimum"),
            "tasmax": field(cold + 9, "air_temperature", "K", "area: mean time: maximum"),
            "tas": field(cold + 4, "air_temperature", "K"),
            "pr": field(rng.random(shape) * 1e-4, "precipitation_flux", "kg m-2 s-1"),
            "rsds": field(rng.random(shape) * 200, "surface_downwelling_shortwave_flux_in_air", "W m-2"),
            "hurs": field(rng.random(shape) * 50 + 30, "relative_humidity", "%"),
            "ps": field(rng.random(shape) * 10 + 1000, "surface_air_pressure", "hPa"),
            "sfcWind": field(rng.random(shape) + 1, "wind_speed", "m s-1"),
        },
        coords={
            "time": ("time", DAYS + pd.Timedelta(hours=12), {"bounds": "time_bnds", "standard_name": "time"}),
            "lat": ("lat", [46.0, 46.5], {"standard_name": "latitude", "units": "degrees_north"}),
            "lon": ("lon", [7.0, 7.5, 8.0], {"standard_name": "longitude", "units": "degrees_east"}),
        },
    )
    data["orog"] = (
        ("lat", "lon"),
        np.full((2, 3), 400.0),
        {"standard_name": "surface_altitude", "units": "m"},
    )
    data["time_bnds"] = (("time", "bnds"), np.stack([DAYS, DAYS + pd.Timedelta(days=1)], axis=1))
    data["sfcWind"] = data["sfcWind"].assign_coords(
        height=((), 10.0, {"standard_name": "height", "units": "m"})
    )
    return data


def test_a_grid_by_standard_names_units_and_bounds() -> None:
    """The kelvin is 273.15 from the degree Celsius (SI); 1 kg m-2 of water is 1 mm; FAO-56 Table 3 for W m-2."""
    given = climate_file()
    weather = read_weather(given, wind_height=10)
    assert weather.indexes["time"].equals(DAYS.rename("time"))
    assert weather["tmin"].dims == ("time", "lat", "lon")
    np.testing.assert_allclose(weather["tmin"], given["tasmin"] - 273.15, rtol=1e-12)
    np.testing.assert_allclose(weather["tmax"], given["tasmax"] - 273.15, rtol=1e-12)
    np.testing.assert_allclose(weather["rain"], given["pr"] * 86400, rtol=1e-12)
    np.testing.assert_allclose(weather["solar"], given["rsds"] * 0.0864, rtol=1e-12)
    np.testing.assert_allclose(weather["rhmean"], given["hurs"], rtol=1e-12)
    np.testing.assert_allclose(weather["pressure"], given["ps"] / 10, rtol=1e-12)
    np.testing.assert_allclose(
        weather["wind"], given["sfcWind"] * 4.87 / np.log(67.8 * 10 - 5.42), rtol=1e-12
    )
    np.testing.assert_array_equal(weather["latitude"], [46.0, 46.5])
    assert weather["latitude"].dims == ("lat",)
    np.testing.assert_array_equal(weather["elevation"], np.full((2, 3), 400.0))
    assert "tas" not in weather


def test_a_height_of_the_wind_that_the_file_says_is_not_passed_over() -> None:
    fault = only(climate_file())
    assert (fault.what, fault.value, fault.mend[:14]) == ("wind_height", "2 m", "wind_height=10")


@pytest.mark.parametrize("suffix", [".nc", ".zarr"])
def test_files_of_a_grid(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"grid{suffix}"
    given = climate_file()
    if suffix == ".nc":
        given["time"].encoding["units"] = "hours since 2024-01-01"
        given.to_netcdf(path)
    else:
        given.to_zarr(path, zarr_format=2)
    found = read_weather(path, wind_height=10)
    expected = read_weather(given, wind_height=10)
    assert found.attrs == {"source": f"file grid{suffix}"}
    xr.testing.assert_equal(found, expected)


@pytest.mark.parametrize("suffix", [".nc", ".zarr"])
def test_what_is_written_is_read_back_equal(tmp_path: Path, suffix: str) -> None:
    frame = pd.DataFrame({"time": DAYS, "tmin": [1.5, 2, 3, 4], "tmax": 20.0, "sunshine": 8.0, "rain": "T"})
    frame.loc[2, "rain"] = "3.2"
    two = pd.concat([frame.assign(station="north"), frame.assign(station="south", tmin=0.1)])
    weather = read_weather(
        two, trace={"T": 0.0}, wind_height=10, latitude={"north": 46.5, "south": 46.1}, elevation=90
    )
    assert "rain_flag" in weather
    path = tmp_path / f"weather{suffix}"
    if suffix == ".nc":
        weather.to_netcdf(path)
    else:
        weather.to_zarr(path, zarr_format=2)
    found = read_weather(path)
    xr.testing.assert_identical(found.drop_attrs(deep=False), weather.drop_attrs(deep=False))
    assert found.attrs["source"] == f"file weather{suffix}"


def test_hourly_datasets_become_days() -> None:
    stamps = pd.date_range("2024-07-01", periods=48, freq="h")
    course = 288 + 5 * np.sin(np.arange(48) * np.pi / 12)
    hourly = xr.Dataset(
        {
            "t2m": ("time", course, {"standard_name": "air_temperature", "units": "K"}),
            "tp": ("time", np.ones(48), {"standard_name": "precipitation_amount", "units": "kg m-2"}),
        },
        coords={"time": stamps},
    )
    weather = read_weather(hourly, sub_daily=SubDaily(stamp="start"), **SITE)
    np.testing.assert_allclose(weather["tmax"], 293 - 273.15, rtol=1e-12)
    np.testing.assert_allclose(weather["rain"], 24.0, rtol=1e-12)


def test_what_a_standard_name_does_not_settle_is_asked() -> None:
    two = climate_file().assign(second=lambda data: data["pr"])
    fault = only(two, wind_height=10)
    assert (fault.what, fault.value) == ("rain", "pr, second")
    assert "which is it?" in fault.problem
    settled = read_weather(two, wind_height=10, columns={"rain": "second"})
    assert "rain" in settled


def test_a_latitude_is_known_by_its_unit_and_hinted_at_by_its_name() -> None:
    given = climate_file()
    del given["lat"].attrs["standard_name"]
    found = read_weather(given, wind_height=10)
    np.testing.assert_array_equal(found["latitude"], [46.0, 46.5])
    given["lat"].attrs = {}
    fault = only(given, wind_height=10)
    assert fault.what == "latitude"
    assert 'such as latitude=source["lat"]' in fault.mend
    again = read_weather(given, wind_height=10, latitude=given["lat"])
    np.testing.assert_array_equal(again["latitude"], [46.0, 46.5])


def test_days_at_noon_without_bounds_are_a_question() -> None:
    given = climate_file()
    later = given.assign(time_bnds=given["time_bnds"] + pd.Timedelta(hours=6))
    for source in (given.drop_vars("time_bnds"), later):
        assert "is not midnight" in only(source, wind_height=10).problem


def test_a_calendar_without_leap_days_is_refused() -> None:
    years = climate_file().drop_vars("time_bnds").convert_calendar("noleap", use_cftime=True)
    fault = only(years, wind_height=10)
    assert (fault.what, fault.value) == ("weather, time", "noleap")
    assert "convert_calendar" in fault.mend


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        read_weather(tmp_path / "absent.nc", **SITE)
    broken = tmp_path / "broken.nc"
    broken.write_text("no netCDF", encoding="utf-8")
    fault = only(broken, **SITE)
    assert "cannot be read" in fault.problem
    assert "waterbudget[netcdf]" in fault.mend


def test_flags_that_are_none_are_refused() -> None:
    frame = pd.DataFrame({"time": DAYS, "tmin": 1.0, "tmax": 20.0})
    weather = read_weather(frame, **SITE).assign(tmin_flag=("time", np.array([0, 2, 99, 0], dtype=np.int8)))
    assert "whose are they?" in only(weather).problem
    assert "tmin_flag" not in read_weather(weather, columns={"tmin_flag": None})
    fault = only(weather, columns={"tmin_flag": "tmin_flag"})
    assert (fault.what, fault.value, fault.count) == ("tmin_flag", "99", 1)
    assert "2 interpolated" in fault.allowed


def test_units_of_the_place_are_converted() -> None:
    """The foot by definition: 0.3048 m; a right angle is half of pi radians."""
    given = climate_file().drop_vars("orog").assign_coords(elevation=((), 1000.0, {"units": "ft"}))
    assert float(read_weather(given, wind_height=10)["elevation"]) == pytest.approx(304.8)
    turned = given.assign_coords(lat=("lat", [0.7, 0.8], {"standard_name": "latitude", "units": "radian"}))
    np.testing.assert_allclose(read_weather(turned, wind_height=10)["latitude"], np.degrees([0.7, 0.8]))
    given["elevation"].attrs["units"] = "kPa"
    fault = only(given, wind_height=10)
    assert fault.what == "elevation, attrs['units']"


def test_a_flux_without_its_unit_is_a_question() -> None:
    given = climate_file()
    del given["pr"].attrs["units"]
    fault = only(given, wind_height=10)
    assert (fault.what, fault.value) == ("units, 'rain'", "variable 'pr'")
    assert "by its standard name alone" in fault.problem
    told = read_weather(given, wind_height=10, units={"rain": "kg m-2 s-1"})
    np.testing.assert_allclose(told["rain"], given["pr"] * 86400, rtol=1e-12)


def test_a_height_in_another_unit() -> None:
    given = climate_file()
    given["height"] = ((), 1000.0, {"standard_name": "height", "units": "cm"})
    given = given.set_coords("height")
    fault = only(given)
    assert (fault.what, fault.allowed[:5]) == ("wind_height", "10 m,")
