"""Methods of reference evapotranspiration: the best of each day, its record, calibration, blocks and dask."""

import subprocess
import sys

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget.errors import InputError
from waterbudget.weather import atmosphere, calibrate_hargreaves, radiation, reference_et
from waterbudget.weather.choice import check_columns, flagged_groups, make_plan
from waterbudget.weather.evaluation import Task, evaluate_now
from waterbudget.weather.flags import code_of, flag_name, with_flags
from waterbudget.weather.methods import METHODS, NONE, hargreaves, method_attributes
from waterbudget.weather.reference import evaluate, inputs_of

GIVEN, FAO56, ASCE, HARGREAVES, PRIESTLEY_TAYLOR = (
    METHODS[name].code for name in ("given", "fao56", "asce", "hargreaves", "priestley-taylor")
)


def many(stations=5, days=40, start="2024-02-20"):
    """Made-up weather over a leap day, with every column that any method reads."""
    rng = np.random.default_rng(11)
    shape = (days, stations)
    tmin = rng.uniform(-10, 20, shape)
    columns = {
        "tmin": tmin,
        "tmax": tmin + rng.uniform(1, 15, shape),
        "rhmin": rng.uniform(10, 60, shape),
        "rhmax": rng.uniform(60, 100, shape),
        "wind": rng.uniform(0.6, 8, shape),
        "solar": rng.uniform(1, 30, shape),
        "sunshine": rng.uniform(0, 9, shape),
        "pressure": rng.uniform(85, 102, shape),
    }
    return xr.Dataset(
        {name: (("time", "station"), values) for name, values in columns.items()},
        coords={
            "time": pd.date_range(start, periods=days),
            "station": [f"s{number}" for number in range(stations)],
            "latitude": ("station", np.linspace(-60, 60, stations)),
            "elevation": ("station", np.linspace(0, 2000, stations)),
        },
    )


def with_gaps(*names, weather=None, day=3, station=1):
    """Take single values away."""
    weather = (many() if weather is None else weather).copy(deep=True)
    for name in names:
        weather[name][day, station] = np.nan
    return weather


def at(result, day=3, station=1):
    return result[day, station].item()


def with_et(surface="short"):
    weather = many()
    values = np.full((40, 5), np.nan)
    values[3, 1] = 4.2
    return weather.assign(et_ref=(("time", "station"), values, {"units": "mm day-1", "surface": surface}))


# ------------------------------------------------------------------ Priestley-Taylor


def test_priestley_taylor_needs_no_wind_but_radiation_and_humidity():
    et = reference_et(many().drop_vars("wind"), "priestley-taylor")
    assert et.attrs["method"] == "priestley-taylor"
    assert int(et["et_ref_method"]) == PRIESTLEY_TAYLOR
    with pytest.raises(
        InputError, match=r"no humidity for Priestley-Taylor[\s\S]*no radiation for Priestley"
    ):
        reference_et(many()[["tmin", "tmax"]], "priestley-taylor")
    with pytest.raises(InputError, match="short surface only"):
        reference_et(many(), "priestley-taylor", "tall")


# ------------------------------------------------------------------ the best of each day


def test_each_value_gets_the_best_method_that_it_allows():
    weather = with_et()
    for day, names in {5: ("wind",), 6: ("wind", "rhmax", "rhmin"), 7: ("tmin",)}.items():
        weather = with_gaps(*names, weather=weather, day=day)
    whole, _, flags = evaluate(weather, "best per day")
    codes = whole["et_ref_method"]
    assert codes.dims == ("time", "station")
    assert codes.dtype == np.int8
    assert [at(codes, day) for day in (3, 4, 5, 6, 7)] == [GIVEN, FAO56, PRIESTLEY_TAYLOR, HARGREAVES, NONE]
    plain = many()
    assert at(whole, 3) == 4.2
    for day, method in ((4, "fao56"), (5, "priestley-taylor"), (6, "hargreaves")):
        assert at(whole, day) == at(reference_et(plain, method), day)
    assert np.isnan(at(whole, 7))
    for part in (
        "1 value by et_ref as given",
        "196 values by FAO-56",
        "1 value by Priestley",
        "1 value by Harg",
        "1 value by none",
    ):
        assert part in whole.attrs["why"]
    assert whole.attrs["method"] == "best per day"
    assert flags == {}


def test_tall_surface_is_served_by_given_and_asce_alone():
    weather = with_gaps("wind", weather=with_et("tall"), day=5)
    et = reference_et(weather, "best per day", "tall")
    codes = et["et_ref_method"]
    assert [at(codes, day) for day in (3, 4, 5)] == [GIVEN, ASCE, NONE]
    assert at(et, 4) == at(reference_et(many(), "asce", "tall"), 4)
    assert np.isnan(at(et, 5))


def test_given_et_of_another_surface_is_passed_over_and_said_to_be():
    et = reference_et(with_et("tall"), "best per day")
    np.testing.assert_array_equal(et, reference_et(many(), "fao56"))
    assert "et_ref is given for the tall surface, and not used" in et.attrs["why"]
    with pytest.raises(InputError, match="does not say its surface"):
        reference_et(with_et(None), "best per day")


def test_ways_to_humidity_radiation_and_pressure_are_chosen_by_the_value():
    weather = many().assign(dewpoint=many()["tmin"] - 2, vapour_pressure=many()["tmin"] * 0 + 0.7)
    weather["rhmean"] = (many()["rhmin"] + many()["rhmax"]) / 2
    ways = [("vapour_pressure",), ("dewpoint",), ("rhmin",), ("rhmax",)]
    for way in ways:
        weather = with_gaps(*way, weather=weather)
        best = reference_et(weather, "best per day")
        assert (best["et_ref_method"] == FAO56).all()
        present = [name for name in weather.data_vars if not np.isnan(at(weather[name]))]
        # auto, with the columns that have a value there, says what is right there.
        assert at(best) == at(reference_et(weather[present]))
        assert at(best, 4) == at(reference_et(many().assign(vapour_pressure=weather["vapour_pressure"])), 4)
    weather = with_gaps("solar", "pressure", weather=many())
    best = reference_et(weather, "best per day")
    assert at(best) == at(reference_et(many().drop_vars(["solar", "pressure"])))
    assert at(best, 4) == at(reference_et(many()), 4)
    assert np.isnan(at(reference_et(weather)))


def test_best_per_day_without_gaps_is_auto_bit_for_bit():
    np.testing.assert_array_equal(reference_et(many(), "best per day"), reference_et(many()))
    bare = many()[["tmin", "tmax"]]
    np.testing.assert_array_equal(reference_et(bare, "best per day"), reference_et(bare))


def test_best_per_day_says_what_is_missing_when_nothing_can_serve():
    with pytest.raises(InputError, match="has no tmax for Hargreaves"):
        reference_et(many()[["tmin"]], "best per day")
    with pytest.raises(InputError, match="has no wind for ASCE"):
        reference_et(many().drop_vars("wind"), "best per day", "tall")
    with pytest.raises(InputError, match="has no elevation"):
        reference_et(many().drop_vars("elevation"), "best per day")
    only_given = with_et()[["et_ref"]].drop_vars(["latitude", "elevation"])
    codes = reference_et(only_given, "best per day")["et_ref_method"]
    assert (int((codes == GIVEN).sum()), int((codes == NONE).sum())) == (1, 199)


def test_every_column_that_may_be_read_is_checked():
    weather = many()
    weather["sunshine"][2, 2] = 25
    with pytest.raises(InputError, match=r"sunshine: is outside its range; first at 2024-02-22, station s2"):
        reference_et(weather, "best per day")
    assert reference_et(weather).notnull().all()


# ------------------------------------------------------------------ the record of the method


def test_table_of_methods_is_cf():
    attributes = method_attributes()
    assert attributes["flag_values"].dtype == np.int8
    assert attributes["flag_values"].tolist() == [-1, 0, 1, 2, 3, 4]
    assert attributes["flag_meanings"] == "none given fao56 asce hargreaves priestley_taylor"
    assert attributes["units"] == "1"


@pytest.mark.parametrize("method", ["fao56", "asce", "hargreaves", "priestley-taylor"])
def test_one_method_is_one_code(method):
    codes = reference_et(many(), method)["et_ref_method"]
    assert codes.dims == ()
    assert codes.dtype == np.int8
    assert int(codes) == METHODS[method].code
    assert set(codes.attrs) == {"long_name", "units", "flag_values", "flag_meanings"}


def test_codes_stand_on_the_dimensions_they_vary_over():
    assert reference_et(many(), "best per day")["et_ref_method"].dims == ()
    calm = many()
    calm["wind"][7] = np.nan
    by_day = reference_et(calm, "best per day")["et_ref_method"]
    assert by_day.dims == ("time",)
    assert by_day.values.tolist() == [PRIESTLEY_TAYLOR if day == 7 else FAO56 for day in range(40)]
    still = many()
    still["wind"][:, 2] = np.nan
    assert reference_et(still, "best per day")["et_ref_method"].dims == ("station",)


def test_weather_that_has_the_record_already():
    et = reference_et(with_gaps("wind"), "best per day")
    again = many().assign(et_ref=et)
    assert "et_ref_method" in again.coords
    for weather in (again, again.reset_coords("et_ref_method")):
        given = reference_et(weather)
        np.testing.assert_array_equal(given, et)
        # It still knows by which method each value was worked out, and how.
        np.testing.assert_array_equal(given["et_ref_method"], et["et_ref_method"])
        assert given.attrs["why"].endswith(et.attrs["why"])
        assert int(reference_et(weather, "hargreaves")["et_ref_method"]) == HARGREAVES
        assert int(reference_et(weather, "best per day")["et_ref_method"]) == GIVEN


def test_columns_that_must_be_complete():
    weather = with_et()
    assert inputs_of(weather) == ("et_ref",)
    every = ("tmin", "tmax", "pressure", "rhmin", "rhmax", "solar", "wind")
    assert inputs_of(many()) == every


def test_missing_values_and_what_they_want_are_told():
    gaps = with_gaps("wind")
    why = reference_et(gaps).attrs["why"]
    count = int(gaps["wind"].isnull().sum())
    assert count == 1
    assert "1 value missing, for want of wind (1)" in why
    assert "missing" not in reference_et(many()).attrs["why"]


# ------------------------------------------------------------------ flags of what was used


def flagged(weather, name, origin, day=3, station=1):
    """Mark one value."""
    where = xr.zeros_like(weather[name], dtype=bool)
    where[day, station] = True
    return with_flags(weather, name, where, origin)


def test_no_flags_where_all_is_given():
    assert evaluate(many()).flags == {}
    assert evaluate(with_et(), "best per day").flags == {}


def test_flags_are_those_of_the_columns_read():
    weather = flagged(many(), "wind", "from_class")
    weather = flagged(weather, "tmax", "interpolated")
    weather = flagged(weather, "tmin", "from_regression", day=4)
    weather = flagged(weather, "rhmax", "from_neighbour")
    weather = flagged(weather, "sunshine", "interpolated")  # not read: there is solar
    flags = evaluate(weather).flags
    assert set(flags) == {"temperature", "humidity", "wind"}
    for group, origin in {
        "temperature": "interpolated",
        "humidity": "from_neighbour",
        "wind": "from_class",
    }.items():
        assert at(flags[group]) == code_of(origin)
        assert flags[group].dtype == np.int8
        assert flags[group].dims == ("time", "station")
        assert flags[group].name == flag_name(group)
    assert at(flags["temperature"], 4) == code_of("from_regression")
    assert int((flags["wind"] != 0).sum()) == 1
    assert set(evaluate(weather, "hargreaves").flags) == {"temperature"}
    assert set(evaluate(weather, "priestley-taylor").flags) == {"temperature", "humidity"}


def test_solar_from_sunshine_has_its_flag():
    weather = many().drop_vars("solar")
    flags = evaluate(weather).flags
    assert (flags["radiation"] == code_of("from_sunshine")).all()
    dim = evaluate(flagged(weather, "sunshine", "interpolated")).flags["radiation"]
    assert at(dim) == code_of("interpolated")
    assert at(dim, 4) == code_of("from_sunshine")


def test_flags_in_best_per_day_are_of_the_value_used():
    weather = with_et()
    for name in ("wind", "tmin", "rhmin", "solar"):
        for day in (3, 5, 6):
            weather = flagged(weather, name, "climatology", day=day)
    weather = flagged(weather, "et_ref", "past_year")
    weather = with_gaps("wind", "solar", weather=weather, day=5)
    weather = with_gaps("tmin", weather=weather, day=6)
    flags = evaluate(weather, "best per day").flags
    assert "wind" not in flags
    assert [at(flags["et_ref"], day) for day in (3, 5, 6)] == [code_of("past_year"), 0, 0]
    assert [at(flags["radiation"], day) for day in (3, 5, 6)] == [0, code_of("from_sunshine"), 0]
    assert [at(flags["temperature"], day) for day in (3, 5, 6)] == [0, code_of("climatology"), 0]


# ------------------------------------------------------------------ slow wind


def test_slow_wind_is_counted_and_raised_only_when_asked():
    weather = many()
    weather["wind"][3, 1] = 0.2
    weather["wind"][4, 1] = 0.4
    before = weather.copy(deep=True)
    plain = reference_et(weather)
    assert "2 values of wind below 0.5 m s-1 used as they stand" in plain.attrs["why"]
    raised = reference_et(weather, least_wind=0.5)
    assert "2 values of wind below 0.5 m s-1 raised to it" in raised.attrs["why"]
    by_hand = reference_et(weather.assign(wind=np.maximum(weather["wind"], 0.5)))
    np.testing.assert_array_equal(raised, by_hand)
    assert at(raised) != at(plain)
    assert "wind below" not in by_hand.attrs["why"]
    xr.testing.assert_identical(weather, before)
    gap = with_gaps("rhmin", "rhmax", weather=weather)  # there Hargreaves serves, and reads no wind
    assert "1 value of wind below 0.5" in reference_et(gap, "best per day").attrs["why"]
    assert np.isnan(at(reference_et(with_gaps("wind"), least_wind=0.5)))


@pytest.mark.parametrize("wrong", [-0.1, np.nan, 100, "0.5", True, [0.5]])
def test_least_wind_must_be_a_wind_speed(wrong):
    with pytest.raises(InputError, match="least_wind: is no wind speed"):
        reference_et(many(), least_wind=wrong)


# ------------------------------------------------------------------ Hargreaves calibrated

SLOPE, INTERCEPT = np.array([1.1, 0.9]), np.array([2.5, 3.5])


def on_a_line(days=366, start="2024-01-01"):
    """Make weather in which Penman-Monteith is a straight line of Hargreaves.

    Without wind Eq. 6 is 0.408 slope Rn / (slope + gamma); and where Rs is above a clear sky's, Rnl does not
    depend on it. So the Rs that a depth takes can be written down.
    """
    time = pd.date_range(start, periods=days)
    rng = np.random.default_rng(5)
    tmin = xr.DataArray(
        rng.uniform(5, 15, (days, 2)),
        dims=("time", "station"),
        coords={"time": time, "station": ["north", "south"]},
    )
    tmax = tmin + rng.uniform(6, 14, (days, 2))
    latitude = xr.DataArray([20.0, -15.0], dims="station", coords={"station": ["north", "south"]})
    ra = radiation.extraterrestrial_radiation(latitude, tmin["time"].dt.dayofyear)
    estimate = hargreaves(tmin, tmax, ra)
    wanted = xr.DataArray(INTERCEPT, dims="station") + xr.DataArray(SLOPE, dims="station") * estimate
    slope = atmosphere.saturation_slope((tmin + tmax) / 2)
    gamma = atmosphere.psychrometric_constant(atmosphere.pressure_from_elevation(0.0))
    longwave = radiation.net_longwave(tmin, tmax, 2.0, 50.0, 1.0)
    solar = (wanted * (slope + gamma) / (0.408 * slope) + longwave) / 0.77
    assert (solar > radiation.clear_sky_radiation(ra, 0.0)).all()
    columns = {"tmin": tmin, "tmax": tmax, "solar": solar, "wind": tmin * 0, "vapour_pressure": tmin * 0 + 2}
    return xr.Dataset(columns).assign_coords(latitude=latitude, elevation=0.0)


def test_calibration_recovers_a_known_line():
    weather = on_a_line()
    line = calibrate_hargreaves(weather)
    np.testing.assert_allclose(line["slope"], SLOPE, rtol=0, atol=1e-9)
    np.testing.assert_allclose(line["intercept"], INTERCEPT, rtol=0, atol=1e-9)
    np.testing.assert_allclose(line["r2"], 1, rtol=0, atol=1e-9)
    np.testing.assert_allclose(line["standard_error"], 0, rtol=0, atol=1e-9)
    assert line["days"].values.tolist() == [366, 366]
    assert all({"units", "long_name"} <= set(line[name].attrs) for name in line.data_vars)
    assert line["intercept"].attrs["units"] == "mm day-1"
    assert "half" not in line.attrs["why"]
    et = reference_et(weather, "hargreaves", calibration=line)
    np.testing.assert_allclose(et, reference_et(weather, "fao56"), rtol=0, atol=1e-9)
    assert "calibrated" in et.attrs["why"]
    one = calibrate_hargreaves(weather.isel(station=0))
    assert one["slope"].item() == line["slope"][0].item()


def test_calibration_by_the_textbook_formulas():
    weather = many(stations=2, days=60)
    line = calibrate_hargreaves(weather)
    y, x = reference_et(weather, "fao56")[:, 1].values, reference_et(weather, "hargreaves")[:, 1].values
    slope, intercept = np.polyfit(x, y, 1)
    left = y - intercept - slope * x
    np.testing.assert_allclose(
        [line[name][1].item() for name in ("slope", "intercept", "r2", "standard_error")],
        [slope, intercept, np.corrcoef(x, y)[0, 1] ** 2, np.sqrt((left**2).sum() / 58)],
        rtol=0,
        atol=1e-9,
    )


def test_calibration_touches_hargreaves_alone():
    weather = on_a_line()
    line = calibrate_hargreaves(weather)
    weather["vapour_pressure"][9, 1] = np.nan
    best = reference_et(weather, "best per day", calibration=line)
    assert best["et_ref_method"][9, 1] == HARGREAVES
    plain = reference_et(weather, "hargreaves")[9, 1].item()
    assert best[9, 1].item() == pytest.approx(INTERCEPT[1] + SLOPE[1] * plain, abs=1e-9)
    rest = best["et_ref_method"] == FAO56
    np.testing.assert_array_equal(best.where(rest), reference_et(weather, "fao56").where(rest))
    unused = reference_et(weather, "fao56", calibration=line)
    assert "calibrat" not in unused.attrs["why"]


def test_a_calibrated_value_below_0_is_0_and_counted():
    line = calibrate_hargreaves(on_a_line())
    line["intercept"][:] = -100.0
    et = reference_et(on_a_line(), "hargreaves", calibration=line)
    assert (et == 0).all()
    assert "732 negative values set to 0" in et.attrs["why"]


def test_gaps_are_left_out_and_too_few_days_are_refused():
    weather = on_a_line()
    weather["wind"][29:, 1] = np.nan
    with pytest.raises(InputError, match=r"too few days.*first at station south; found days 29"):
        calibrate_hargreaves(weather)
    weather["wind"][29:, 1] = 0.0
    weather["wind"][30:, 1] = np.nan
    line = calibrate_hargreaves(weather)
    assert line["days"].values.tolist() == [366, 30]
    np.testing.assert_allclose(line["slope"], SLOPE, rtol=0, atol=1e-9)
    assert "less than half of the months of the year at 1 of 2 labels (at least 1)" in line.attrs["why"]
    weather["wind"][:] = np.nan
    with pytest.raises(InputError, match=r"\(2 values\); first at station north; found days 0"):
        calibrate_hargreaves(weather)


def test_calibration_cannot_be_drawn_through_one_value_or_for_alfalfa():
    dark = many(stations=1).assign_coords(latitude=("station", [-90.0])).isel(time=slice(35))
    dark = dark.assign_coords(time=pd.date_range("2024-06-01", periods=35))
    with pytest.raises(InputError, match="same value by Hargreaves on all days"):
        calibrate_hargreaves(dark)
    with pytest.raises(InputError, match="short surface only"):
        calibrate_hargreaves(many(), "tall")
    with pytest.raises(InputError, match="no wind"):
        calibrate_hargreaves(many().drop_vars("wind"))


def test_labels_of_a_calibration_must_be_those_of_the_weather():
    weather, line = on_a_line(), calibrate_hargreaves(on_a_line())
    for wrong, message in [
        (line.isel(station=[1, 0]), "different order"),
        (line.assign_coords(station=["north", "west"]), "different station labels"),
        (line.rename(station="field"), "dimensions that the weather lacks"),
        (line.drop_vars("slope"), "is no Dataset with slope and intercept"),
        (1.1, "is no Dataset with slope and intercept"),
        (line.assign(slope=line["slope"] * np.nan), "not a finite number"),
    ]:
        with pytest.raises(InputError, match=message):
            reference_et(weather, "hargreaves", calibration=wrong)


# ------------------------------------------------------------------ blocks


def in_blocks(weather, method, surface, block):
    """Evaluate as `evaluate` does, in blocks of so many values."""
    from waterbudget.errors import Faults

    plan = make_plan(weather, method, surface)
    assert check_columns(weather, plan, Faults())
    columns = weather.reset_coords()[[*plan.columns, *plan.site]]
    return evaluate_now(columns, Task(plan, None, flagged_groups(weather, plan)), block)


@pytest.mark.parametrize("method", ["fao56", "hargreaves", "priestley-taylor", "best per day"])
def test_blocks_and_single_stations_change_no_bit(method):
    weather = with_gaps("wind", "solar", weather=many(stations=11))
    whole = reference_et(weather, method).transpose("time", "station")
    for block in (1, 100, 10**9):
        assert in_blocks(weather, method, "short", block)["et_ref"].values.tobytes() == whole.values.tobytes()
    other_way = reference_et(weather.transpose("station", "time"), method)
    assert other_way.dims == ("time", "station")
    assert other_way.values.tobytes() == whole.values.tobytes()
    for station in weather["station"].values:
        alone = reference_et(weather.sel(station=station), method)
        assert alone.values.tobytes() == whole.sel(station=station).values.tobytes()


def test_a_station_without_a_single_value_is_nan_beside_others():
    weather = many()
    weather["solar"][:, 2] = np.nan
    one_by_one = in_blocks(weather, "fao56", "short", 1)["et_ref"]
    np.testing.assert_array_equal(np.isnan(one_by_one).all("time"), [False, False, True, False, False])


# ------------------------------------------------------------------ dask


def test_dask_is_needed_by_no_one_who_does_not_use_it():
    code = (
        "import sys; sys.modules['dask'] = None\n"
        "import pandas as pd, xarray as xr, waterbudget as wb\n"
        "w = xr.Dataset({'tmin': ('time', [8.0]), 'tmax': ('time', [20.0])},\n"
        "    coords={'time': pd.date_range('2024-05-01', periods=1), 'latitude': 40.0})\n"
        "assert float(wb.reference_et(w, 'best per day')[0]) > 0\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.parametrize(
    ("method", "surface"),
    [("auto", "short"), ("asce", "tall"), ("hargreaves", "short"), ("best per day", "short")],
)
def test_dask_gives_the_same_bits(method, surface):
    weather = with_gaps("wind", "solar")
    chunked = weather.chunk({"time": 15, "station": 2})
    lazy, now = reference_et(chunked, method, surface), reference_et(weather, method, surface)
    assert lazy.chunks is not None
    assert lazy.dims == now.dims
    done = lazy.compute()
    assert done.values.tobytes() == now.values.tobytes()
    codes = done["et_ref_method"].broadcast_like(done)
    np.testing.assert_array_equal(codes, now["et_ref_method"].broadcast_like(now))
    assert "counted only when computed" in lazy.attrs["why"]
    assert set(done.coords) == set(now.coords)


def test_dask_with_columns_in_memory_flags_and_a_calibration():
    weather = flagged(with_gaps("wind"), "tmin", "interpolated")
    line = calibrate_hargreaves(many())
    mixed = weather.assign(wind=weather["wind"].chunk({"time": 7}))
    lazy, now = (evaluate(one, "best per day", calibration=line, least_wind=1.0) for one in (mixed, weather))
    np.testing.assert_array_equal(lazy.et.compute(), now.et)
    np.testing.assert_array_equal(lazy.flags["temperature"].compute(), now.flags["temperature"])


def raising(weather, name):
    """Put a column into a graph that must not be computed."""
    import dask.array as da

    def never(block):
        raise AssertionError(name)

    shape = tuple(weather.sizes.values())
    column = da.zeros(shape, chunks=10).map_blocks(never, dtype=float, meta=np.empty((0, 0)))
    return weather.assign({name: (tuple(weather.sizes), column, weather[name].attrs)})


@pytest.mark.parametrize("method", ["auto", "best per day"])
@pytest.mark.parametrize("name", ["tmin", "solar", "et_ref"])
def test_nothing_is_computed_before_it_is_asked_for(method, name):
    weather = raising(with_et() if name == "et_ref" else many(), name)
    lazy = evaluate(weather, method, least_wind=0.5)
    with pytest.raises(AssertionError, match=name):
        lazy.et.compute()


def test_values_that_cannot_be_are_found_when_computed():
    weather = many()
    weather["rhmax"][20, 3] = 104.0
    with pytest.raises(InputError) as now:
        reference_et(weather)
    lazy = reference_et(weather.chunk({"time": 10}))
    with pytest.raises(InputError) as later:
        lazy.compute()
    assert later.value.faults == now.value.faults
    with pytest.raises(InputError, match="has no wind"):
        reference_et(weather.chunk({"time": 10}).drop_vars("wind"), "fao56")


# ------------------------------------------------------------------ edges


@pytest.mark.parametrize("method", ["fao56", "hargreaves", "priestley-taylor", "best per day"])
def test_poles_give_numbers_in_light_and_dark(method):
    for start in ("2024-06-10", "2024-12-10"):
        weather = many(stations=2, days=20, start=start).assign_coords(latitude=("station", [-90.0, 90.0]))
        for one in (weather, weather.drop_vars("solar").assign(sunshine=weather["sunshine"] * 0)):
            et = reference_et(one, method)
            assert np.isfinite(et).all()
            assert (et >= 0).all()
        dark = reference_et(weather, "hargreaves").sel(station="s1" if start == "2024-12-10" else "s0")
        assert (dark == 0).all()


@pytest.mark.parametrize("name", ["wind", "solar", "rhmin", "tmin"])
def test_columns_of_nothing_but_gaps(name):
    weather = many()
    weather[name][:] = np.nan
    assert np.isnan(reference_et(weather)).all()
    best = reference_et(weather, "best per day")
    code = {"wind": PRIESTLEY_TAYLOR, "solar": FAO56, "rhmin": FAO56, "tmin": NONE}[name]
    assert best["et_ref_method"].dims == ()
    assert int(best["et_ref_method"]) == code
    assert bool(np.isnan(best).all()) is (code == NONE)


def test_leap_day_has_its_own_number():
    weather = many(start="2024-02-28", days=3)
    flat = weather.copy()
    for name in flat.data_vars:
        flat[name] = flat[name].isel(time=0).broadcast_like(flat[name]).transpose("time", "station")
    leap = reference_et(flat, "hargreaves")
    ordinary = reference_et(flat.assign_coords(time=pd.date_range("2023-02-28", periods=3)), "hargreaves")
    np.testing.assert_array_equal(leap[1:], ordinary[1:])  # days 60 and 61: 29 February counts as 60
    assert not np.array_equal(leap[1], leap[0])


def test_a_grid_may_have_latitude_as_a_dimension():
    point = many(stations=3).drop_vars(["latitude", "elevation"]).rename(station="latitude")
    grid = point.assign_coords(latitude=[10.0, 20.0, 30.0], elevation=50.0)
    et = reference_et(grid)
    assert et.dims == ("time", "latitude")
    alone = reference_et(grid.isel(latitude=1))
    np.testing.assert_array_equal(et[:, 1], alone)
    np.testing.assert_array_equal(reference_et(grid.chunk({"latitude": 2})).compute(), et)


def test_weather_is_left_as_it_was():
    weather = with_gaps("wind")
    before = weather.copy(deep=True)
    reference_et(weather, "best per day", least_wind=2.0)
    reference_et(weather, "priestley-taylor")
    xr.testing.assert_identical(weather, before)


@pytest.mark.parametrize("weather", [None, 3, many().to_dataframe()])
def test_what_is_no_weather(weather):
    for use in (reference_et, calibrate_hargreaves):
        with pytest.raises(InputError, match="is no Dataset"):
            use(weather)
