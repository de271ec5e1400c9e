"""The front door: every public name, what it takes, and what it gives back."""

import subprocess
import sys
import types

import matplotlib as mpl
import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb

mpl.use("Agg")

NAMES = {
    "CatchCans", "Crop", "InputError", "Rotation", "Rule", "Soil", "System", "SubDaily", "TableLayout", "__version__", "calibrate_hargreaves", "check_weather", "compare", "concat", "estimates", "events", "explain", "fill_weather", "find_faults", "fit_stations",
    "handbook", "leaching_balance", "leaching_calendar", "ledger", "losses", "observed_depletion", "outlook", "peak_need", "performance", "plan_leaching", "plot_comparison", "plot_season", "read_weather", "reference_et", "relative_yield", "run_farm", "salt_ledger",
    "simulate", "summarize_comparison", "week_ahead",
}  # fmt: skip
DAYS = pd.date_range("2024-05-01", periods=90, name="time")


@pytest.fixture(scope="module")
def table():
    day = np.arange(90.0)
    return pd.DataFrame(
        {
            "tmin": 10 + 4 * np.sin(day / 20),
            "tmax": 24 + 6 * np.sin(day / 20),
            "rain": (day % 9 == 3) * 7.0,
        },
        index=DAYS,
    )


@pytest.fixture(scope="module")
def weather(table):
    return wb.read_weather(table, latitude=46.2, elevation=120)


@pytest.fixture(scope="module")
def season(weather):
    """The job of the first page: weather to gross irrigation events, in one call."""
    return wb.simulate(
        weather,
        wb.Crop.from_handbook("sweet maize", planted="2024-05-05"),
        wb.Soil.from_handbook("sandy loam"),
        wb.System.from_handbook("centre pivot", area="60 acre", flow="500 gpm"),
        wb.Rule(allowable_depletion=0.5),
    )


def test_the_names_are_these_and_no_others():
    assert set(wb.__all__) == NAMES
    assert wb.__all__ == sorted(wb.__all__)
    assert all(hasattr(wb, name) for name in NAMES)


@pytest.mark.parametrize("name", sorted(NAMES - {"__version__"}))
def test_every_name_says_what_it_is(name):
    assert len(getattr(wb, name).__doc__) > 40


def test_kinds():
    assert isinstance(wb.__version__, str)
    assert isinstance(wb.handbook, types.ModuleType)
    assert issubclass(wb.InputError, ValueError)


def test_import_leaves_slow_libraries_for_when_they_are_needed():
    slow = "{'pint', 'matplotlib', 'numba'}"
    code = f"import sys, waterbudget; print(sorted({slow} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    # pyet itself imports what it needs; nothing of ours may add to it.
    code = f"import sys, xarray, pyet; print(sorted({slow} & set(sys.modules)))"
    without = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == without.stdout


def test_read_weather_takes_file_table_and_dataset(table, weather, tmp_path):
    table.to_csv(tmp_path / "station.csv")
    from_file = wb.read_weather(tmp_path / "station.csv", latitude=46.2, elevation=120)
    from_dataset = wb.read_weather(weather)
    for other in (from_file, from_dataset):
        for name in ("tmin", "tmax", "rain"):
            np.testing.assert_allclose(other[name], weather[name], rtol=1e-15)
            assert other[name].attrs["units"] == weather[name].attrs["units"]
    assert isinstance(weather, xr.Dataset)
    assert weather.rain.dims == ("time",)
    assert weather.rain.attrs["units"] == "mm day-1"
    assert weather.latitude.item() == 46.2


def test_read_weather_leaves_the_table_alone(table):
    before = table.copy(deep=True)
    wb.read_weather(table, latitude=46.2, elevation=120, units={"tmax": "degC"})
    pd.testing.assert_frame_equal(table, before)


def test_check_weather_gives_a_table(weather):
    assert isinstance(wb.check_weather(weather), pd.DataFrame)


def test_reference_et_gives_a_labelled_series_that_says_how(weather):
    et_ref = wb.reference_et(weather)
    assert isinstance(et_ref, xr.DataArray)
    assert (et_ref.name, et_ref.dims, et_ref.attrs["units"]) == ("et_ref", ("time",), "mm day-1")
    assert et_ref.attrs["surface"] == "short"
    assert et_ref.attrs["method"] == "hargreaves"
    assert et_ref.attrs["why"]


def test_simulate_gives_one_dataset(season):
    assert isinstance(season, xr.Dataset)
    assert season.sizes == {"time": 90}
    assert season.depletion.attrs["units"] == "mm"
    assert float(season.irrigation_gross.sum()) > float(season.irrigation_net.sum()) > 0
    # Common practice: a centre pivot with rotating-plate sprinklers delivers 80 %.
    assert season.efficiency.item() == 0.8


def test_events_ledger_and_week_are_tables_with_units_in_their_names(season):
    events, ledger = wb.events(season), wb.ledger(season)
    assert isinstance(events, pd.DataFrame)
    assert {"date", "net_mm", "gross_mm", "volume_m3", "hours"} <= set(events.columns)
    assert len(events) == int((season.irrigation_net > 0).sum())
    np.testing.assert_allclose(events["net_mm"] / 0.8, events["gross_mm"], rtol=1e-12)
    # 60 acres are 24.2811 ha; 1 mm on 1 ha is 10 m3. 500 US gallons a minute are 113.562 m3/h.
    np.testing.assert_allclose(events["volume_m3"], events["gross_mm"] * 242.811385344, rtol=1e-9)
    np.testing.assert_allclose(events["hours"], events["volume_m3"] / 113.56235352, rtol=1e-9)
    assert isinstance(ledger, pd.DataFrame)
    assert len(ledger) == 1


def test_events_in_us_units(season):
    metric, us = wb.events(season), wb.events(season, units="us")
    np.testing.assert_allclose(us["gross_in"] * 25.4, metric["gross_mm"], rtol=1e-12)


def test_explain_shows_a_day(season):
    text = str(wb.explain(season, "2024-06-20"))
    assert "FAO-56" in text
    assert "2024-06-20" in text


def test_plot_season_draws_on_the_callers_axes(season):
    from matplotlib import pyplot as plt

    figure, ax = plt.subplots()
    assert wb.plot_season(season, ax) is ax
    plt.close(figure)


def test_nothing_that_reads_a_season_changes_it(season):
    before = season.copy(deep=True)
    wb.events(season), wb.ledger(season), wb.explain(season, "2024-06-20")
    assert season.identical(before)


def test_concat_compares_systems(weather):
    systems = wb.concat(
        {name: wb.System.from_handbook(name) for name in ("subsurface drip", "travelling gun")}, "system"
    )
    season = wb.simulate(
        weather,
        wb.Crop.from_handbook("sweet maize", planted="2024-05-05"),
        wb.Soil.from_handbook("sandy loam"),
        systems,
        wb.Rule(),
    )
    gross = season.irrigation_gross.sum("time")
    assert gross.sel(system="subsurface drip") < gross.sel(system="travelling gun")


def test_handbook_lists_what_it_has():
    for list_of in (wb.handbook.crops, wb.handbook.soils, wb.handbook.systems):
        assert "name" in list_of().columns


def test_an_error_holds_every_fault_in_a_form_for_programs():
    with pytest.raises(wb.InputError) as caught:
        wb.System(efficiency=70, wetted_fraction=0)
    first, second = caught.value.faults
    assert (first.what, first.value, first.allowed) == ("efficiency", "70", "above 0 and at most 1")
    assert first.mend == "give a fraction, not a percentage"
    assert second.what == "wetted_fraction"
    assert str(caught.value).count("\n") == 2
