"""Reference evapotranspiration through the public path, against print and against pyet on its own."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget.errors import InputError
from waterbudget.weather import atmosphere, radiation
from waterbudget.weather.methods import hargreaves, priestley_taylor
from waterbudget.weather.reference import reference_et


def weather(start, latitude, elevation, **columns):
    time = pd.date_range(start, periods=len(next(iter(columns.values()))))
    return xr.Dataset(
        {name: ("time", np.array(values, dtype=float)) for name, values in columns.items()},
        coords={"time": time, "latitude": latitude, "elevation": elevation},
    )


def uccle(days=1):
    """FAO-56 Example 18: Uccle, 6 July, wind measured at 10 m in km/h."""
    wind = atmosphere.wind_at_2m(10 / 3.6, 10)
    row = {"tmax": 21.5, "tmin": 12.3, "rhmax": 84, "rhmin": 63, "wind": wind, "sunshine": 9.25}
    return weather("2015-07-06", 50 + 48 / 60, 100.0, **{name: [value] * days for name, value in row.items()})


def random_weather(stations=7, days=400):
    """Make weather of all kinds, so that every term and every limit of the equations is used."""
    rng = np.random.default_rng(18)
    labels = [f"s{i}" for i in range(stations)]
    shape = (days, stations)
    tmin = rng.uniform(-15, 22, shape)
    columns = {
        "tmin": tmin,
        "tmax": tmin + rng.uniform(1, 18, shape),
        "rhmin": rng.uniform(10, 60, shape),
        "rhmax": rng.uniform(60, 100, shape),
        "wind": rng.uniform(0, 8, shape),
        "solar": rng.uniform(0, 32, shape),
    }
    return xr.Dataset(
        {name: (("time", "station"), values) for name, values in columns.items()},
        coords={
            "time": pd.date_range("2023-01-01", periods=days),
            "station": labels,
            "latitude": ("station", np.linspace(-62, 62, stations)),
            "elevation": ("station", np.linspace(0, 2500, stations)),
        },
    )


# ------------------------------------------------------------------ print


def test_fao56_example_18(check):
    # FAO-56 chapter 4, Example 18 (http://www.fao.org/docrep/x0490e/x0490e08.htm): ETo 3.88 mm/day.
    et = reference_et(uccle())
    check("FAO-56, Example 18 (Eq. 47)", "wind at 2 m [m s-1]", 2.078, uccle()["wind"].item(), 0.0005)
    check("FAO-56, Example 18 (Eq. 6)", "ETo [mm day-1]", 3.88, et.item(), 0.005)
    assert et.attrs["method"] == "fao56"


def test_fao56_example_17(check):
    """FAO-56 chapter 4, Example 17 (Bangkok, April): a month, where soil heat flux is not 0.

    `reference_et` is of days, and takes it as 0 (Eq. 42). The printed ETo is reached with the example's own
    weight of radiation, 0.685, on the depth of its soil heat flux, 0.408 * 0.14 mm. Printed 5.72; full
    precision is 5.716, and the paper rounds from line to line: 0.01.
    """
    april = weather(
        "2015-04-15",
        13 + 44 / 60,
        2.0,
        tmax=[34.8],
        tmin=[25.6],
        vapour_pressure=[2.85],
        wind=[2],
        sunshine=[8.5],
    )
    assert april["time"].dt.dayofyear.item() == 105
    soil_heat = radiation.soil_heat_flux_since_month(29.2, 30.2)
    et = reference_et(april).item() - 0.685 * 0.408 * soil_heat
    check("FAO-56, Example 17 (Eq. 6)", "ETo of the month [mm day-1]", 5.72, et, 0.01)


# ASCE-EWRI (2005), The ASCE Standardized Reference Evapotranspiration Equation, Appendix C, near Greeley,
# Colorado, 1-5 July 2000: tmax, tmin [degC], ea [kPa], Rs [MJ m-2 day-1], wind at 3 m [m s-1]; ETos, ETrs [mm day-1].
GREELEY = np.array(
    [
        (32.4, 10.9, 1.27, 22.4, 1.94, 5.71, 7.34),
        (33.6, 12.2, 1.19, 26.8, 2.14, 6.71, 8.68),
        (32.6, 14.8, 1.40, 23.3, 2.06, 5.98, 7.65),
        (33.8, 11.8, 1.18, 29.0, 1.97, 6.86, 8.73),
        (32.7, 15.9, 1.59, 27.9, 2.98, 7.03, 9.07),
    ]
).T


@pytest.mark.parametrize(("surface", "printed"), [("short", GREELEY[5]), ("tall", GREELEY[6])])
def test_asce_2005_appendix_c(check, surface, printed):
    # Inputs are printed rounded (ea to 0.01, Rs to 0.1), which moves the result by up to 0.02; two more
    # digits of rounding of the print make 0.03. FAO's sigma and slope, which pyet has, differ by under 0.002.
    tmax, tmin, vapour, solar, wind = GREELEY[:5]
    greeley = weather(
        "2000-07-01",
        40.41,
        1462.4,
        tmax=tmax,
        tmin=tmin,
        vapour_pressure=vapour,
        solar=solar,
        wind=atmosphere.wind_at_2m(wind, 3),
    )
    et = reference_et(greeley, "asce", surface)
    quantity = f"ET of the {surface} surface, 1 to 5 July 2000 [mm day-1]"
    check("ASCE-EWRI 2005, Appendix C, Greeley", quantity, printed, et, 0.03)
    if surface == "tall":
        assert reference_et(greeley, surface="tall").attrs["method"] == "asce"


def test_hargreaves_of_the_irrigation_training_manual(check):
    # Peace Corps Irrigation Training Manual (1994), exam 5: latitude 14, 28 and 15 degC, Ra 13.6 mm/day; 4.43.
    et = hargreaves(15, 28, 13.6 / radiation.PER_LATENT_HEAT)
    check("Peace Corps Irrigation Training Manual, exam 5", "ETo (FAO-56 Eq. 52) [mm day-1]", 4.43, et, 0.005)


# ------------------------------------------------------------------ pyet on its own


@pytest.mark.parametrize(("method", "surface"), [("fao56", "short"), ("asce", "short"), ("asce", "tall")])
def test_penman_monteith_equals_pyet_with_its_own_radiation_and_humidity(check, method, surface):
    """pyet 1.5, one station at a time as a Series, makes its own vapour pressure and net radiation."""
    import pyet

    many = random_weather()
    ours = reference_et(many, method, surface)
    alone = []
    for station in many["station"].values:
        one = many.sel(station=station)
        series = {name: one[name].to_series() for name in ("tmin", "tmax", "rhmin", "rhmax")}
        series |= {"rs": one["solar"].to_series(), "wind": one["wind"].to_series()}
        series |= {"elevation": one["elevation"].item(), "lat": np.deg2rad(one["latitude"].item())}
        tmean = (series["tmin"] + series["tmax"]) / 2
        if method == "fao56":
            theirs = pyet.pm_fao56(tmean, **series)
        else:
            theirs = pyet.pm_asce(tmean, etype="os" if surface == "short" else "rs", **series)
        alone.append(theirs)
    quantity = f"{method}, {surface} surface, made-up weather of seven stations [mm day-1]"
    check("pyet, Penman-Monteith on its own", quantity, np.array(alone).T, ours, 1e-9)


def test_hargreaves_equals_pyet_but_for_the_latent_heat():
    """pyet 1.5 divides by 2.501 - 0.002361 T where FAO-56 has the fixed 0.408 (Eq. 20): this is all of it."""
    import pyet

    many = random_weather()
    ours = reference_et(many, "hargreaves")
    for station in many["station"].values:
        one = many.sel(station=station)
        tmin, tmax = one["tmin"].to_series(), one["tmax"].to_series()
        tmean = (tmin + tmax) / 2
        theirs = pyet.hargreaves(tmean, tmax, tmin, np.deg2rad(one["latitude"].item()))
        latent_heat = 2.501 - 0.002361 * tmean
        np.testing.assert_allclose(ours.sel(station=station), theirs * latent_heat * 0.408, rtol=0, atol=1e-9)


def test_priestley_taylor_equals_pyet_but_for_the_latent_heat(check):
    """pyet 1.5 divides by 2.501 - 0.002361 T where FAO-56 has the fixed 0.408 (Eq. 20): this is all of it."""
    import pyet

    many = random_weather()
    ours = reference_et(many, "priestley-taylor")
    alone = []
    for station in many["station"].values:
        one = many.sel(station=station)
        given = {name: one[name].to_series() for name in ("tmin", "tmax", "rhmin", "rhmax")}
        given |= {"rs": one["solar"].to_series(), "elevation": one["elevation"].item()}
        tmean = (given["tmin"] + given["tmax"]) / 2
        theirs = pyet.priestley_taylor(tmean, lat=np.deg2rad(one["latitude"].item()), **given)
        alone.append(theirs * (2.501 - 0.002361 * tmean) * 0.408)
    quantity = "with the latent heat of FAO-56 (Eq. 20), made-up weather of seven stations [mm day-1]"
    check("pyet, Priestley-Taylor on its own", quantity, np.array(alone).T, ours, 1e-9)


def test_priestley_taylor_on_the_printed_lines_of_fao56_example_18():
    # The example prints slope 0.122, psychrometric constant 0.0666 at 100.1 kPa, 16.9 degC and Rn 13.28; the paper
    # has no Priestley-Taylor, so this is arithmetic on its lines, to their rounding (0.5 in 122 makes 0.006).
    et = priestley_taylor(16.9, 13.28, 100.1)
    assert et == pytest.approx(1.26 * 0.122 / (0.122 + 0.0666) * 0.408 * 13.28, abs=0.01)


# ------------------------------------------------------------------ what it says and on what it stands


def test_result_says_what_it_is():
    et = reference_et(uccle())
    assert et.name == "et_ref"
    assert et.dims == ("time",)
    assert et.attrs["units"] == "mm day-1"
    assert et.attrs["surface"] == "short"
    why = et.attrs["why"]
    for text in ("radiation (sunshine)", "humidity (rhmin and rhmax)", "Eq. 17", "Eq. 35", "Eq. 7"):
        assert text in why


def test_humidity_is_taken_from_the_best_column():
    full = uccle().assign(vapour_pressure=("time", [1.3]), dewpoint=("time", [12.0]), rhmean=("time", [70.0]))
    for column, text, vapour in [
        ("vapour_pressure", "humidity (vapour_pressure)", 1.3),
        ("dewpoint", "Eq. 14", atmosphere.vapour_pressure_from_dewpoint(12.0)),
        ("rhmin", "Eq. 17", atmosphere.vapour_pressure_from_rhmin_rhmax(12.3, 21.5, 63, 84)),
        ("rhmax", "Eq. 18", atmosphere.vapour_pressure_from_rhmax(12.3, 84)),
        ("rhmean", "Eq. 19", atmosphere.vapour_pressure_from_rhmean(12.3, 21.5, 70.0)),
    ]:
        et = reference_et(full)
        assert text in et.attrs["why"]
        alone = uccle().assign(vapour_pressure=("time", [vapour]))
        assert et.item() == reference_et(alone).item()
        full = full.drop_vars(column)
    assert reference_et(full).attrs["method"] == "hargreaves"


def test_auto_falls_to_hargreaves_and_says_why():
    et = reference_et(uccle().drop_vars(["wind", "sunshine"]))
    assert et.attrs["method"] == "hargreaves"
    assert "because the weather has no radiation and no wind" in et.attrs["why"]


def test_measured_pressure_is_used():
    low = reference_et(uccle().assign(pressure=("time", [90.0])))
    assert "Eq. 7" not in low.attrs["why"]
    assert low.item() != reference_et(uccle()).item()


def test_labels_broadcast_by_name_in_any_order():
    many = random_weather()
    one_sky = many.assign(solar=many["solar"].isel(station=0, drop=True))
    mixed = one_sky.transpose("station", "time").assign(wind=one_sky["wind"].transpose("time", "station"))
    for method in ("fao56", "asce", "hargreaves"):
        et = reference_et(mixed, method)
        assert et.dims == ("time", "station")
        for station in many["station"].values:
            single = reference_et(one_sky.sel(station=station), method)
            np.testing.assert_array_equal(et.sel(station=station), single)


def test_latitude_and_elevation_may_vary_where_the_columns_do_not():
    one = uccle(3).drop_vars(["latitude", "elevation"])
    both = one.assign_coords(
        station=["a", "b"], latitude=("station", [50.8, 20.0]), elevation=("station", [100.0, 900.0])
    )
    et = reference_et(both)
    assert et.dims == ("time", "station")
    assert et.sel(station="a")[0].item() == pytest.approx(3.88, abs=0.005)


@pytest.mark.parametrize("column", ["tmin", "tmax", "rhmin", "rhmax", "wind", "sunshine"])
def test_nan_gives_nan_on_its_day_alone(column):
    days = uccle(5)
    whole = reference_et(days).values
    days[column][2] = np.nan
    before = days.copy(deep=True)
    et = reference_et(days).values
    np.testing.assert_array_equal(np.isnan(et), [False, False, True, False, False])
    np.testing.assert_array_equal(np.delete(et, 2), np.delete(whole, 2))
    xr.testing.assert_identical(days, before)


def test_a_column_without_a_single_value_gives_nan():
    days = uccle(2)
    days["sunshine"][:] = np.nan
    assert np.isnan(reference_et(days)).all()


def test_negative_days_become_zero_and_are_counted():
    winter = weather(
        "2023-12-20",
        60.0,
        0.0,
        tmin=[-10, -9, np.nan],
        tmax=[-5, -4, -3],
        vapour_pressure=[0.4, 0.4, 0.4],
        wind=[0.5, 0.5, 0.5],
        solar=[1.0, 1.0, 1.0],
    )
    et = reference_et(winter)
    np.testing.assert_array_equal(et.values, [0, 0, np.nan])
    assert "2 negative values set to 0" in et.attrs["why"]
    assert "set to 0" not in reference_et(uccle()).attrs["why"]


def test_polar_night_is_a_number():
    dark = uccle().assign(sunshine=("time", [0.0])).assign_coords(latitude=-80.0)
    assert np.isfinite(reference_et(dark).item())


# ------------------------------------------------------------------ a series that is given


def given(surface):
    attributes = {"units": "mm day-1"} | ({"surface": surface} if surface else {})
    return uccle(2).assign(et_ref=("time", np.array([4.0, np.nan]), attributes))


def test_given_et_is_used_as_it_stands():
    et = reference_et(given("tall"), surface="tall")
    np.testing.assert_array_equal(et.values, [4.0, np.nan])
    assert et.attrs["surface"] == "tall"
    assert et.attrs["method"] == "given"
    assert reference_et(given("tall"), "fao56").values[0] == pytest.approx(3.88, abs=0.005)


def test_given_et_of_another_surface_is_refused():
    with pytest.raises(InputError, match=r"given for the tall surface.*convert the crop's basis"):
        reference_et(given("tall"))


def test_given_et_without_a_surface_is_refused():
    with pytest.raises(InputError, match="does not say its surface"):
        reference_et(given(None))


# ------------------------------------------------------------------ what cannot be done


def test_everything_that_a_method_lacks_is_listed_at_once():
    bare = uccle()[["tmin"]].drop_vars("elevation")
    with pytest.raises(InputError) as caught:
        reference_et(bare, "fao56")
    text = str(caught.value)
    for part in (
        "no humidity",
        "no radiation",
        "no wind",
        "no tmax",
        "no elevation",
        "rhmin with rhmax",
        "5 faults",
    ):
        assert part in text


def test_hargreaves_needs_little():
    et = reference_et(uccle()[["tmin", "tmax"]].drop_vars("elevation"))
    assert et.attrs["method"] == "hargreaves"
    with pytest.raises(InputError, match="has no latitude"):
        reference_et(uccle().drop_vars("latitude"), "hargreaves")


@pytest.mark.parametrize("method", ["fao56", "hargreaves"])
def test_methods_of_the_short_surface_refuse_the_tall_one(method):
    with pytest.raises(InputError, match="short surface only"):
        reference_et(uccle(), method, "tall")


def test_tall_without_wind_is_refused_not_replaced():
    with pytest.raises(InputError, match="no wind for ASCE") as caught:
        reference_et(uccle().drop_vars("wind"), surface="tall")
    assert "hargreaves" not in str(caught.value)


def test_missing_elevation_is_no_reason_for_a_lesser_method():
    with pytest.raises(InputError, match="has no elevation"):
        reference_et(uccle().drop_vars("elevation"))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"latitude": 462.0}, "latitude: is outside its range"),
        ({"rhmax": ("time", [104.0])}, "rhmax: is outside its range"),
        ({"tmin": ("time", [30.0])}, "tmin: is above tmax"),
        ({"wind": ("time", [2.0], {"units": "km h-1"})}, "wind: has another unit"),
        ({"wind": ("time", ["2"])}, "wind: holds no numbers"),
        ({"solar": ("time", [np.inf])}, "solar: is infinite"),
        ({"time": [np.datetime64("2015-07-06T12:00", "ns")]}, "is not midnight"),
    ],
)
def test_values_that_cannot_be(change, message):
    with pytest.raises(InputError, match=message):
        reference_et(uccle().assign(change))


def test_unknown_words_are_refused_together():
    with pytest.raises(InputError) as caught:
        reference_et(uccle(), "penman", "grass")
    assert len(caught.value.faults) == 2


def test_weather_without_time_is_refused():
    with pytest.raises(InputError, match="no dimension time"):
        reference_et(uccle().isel(time=0))
