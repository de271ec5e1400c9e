"""Systems side by side on equal terms: rows, years, money, summary and picture."""

import dataclasses
import sys

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget.balance import Rule, simulate
from waterbudget.crop import Crop, Rotation
from waterbudget.errors import InputError
from waterbudget.report import ledger
from waterbudget.report.comparison import compare, plot_comparison, summarize_comparison
from waterbudget.report.performance import performance
from waterbudget.soil import Soil
from waterbudget.system import System

CROP = Crop(
    planted="2021-05-10",
    stage_days=(20, 30, 30, 20),
    kc=(0.4, 1.1, 0.6),
    root_depth=(0.3, 1.0),
    depletion_fraction=0.5,
    yield_response=1.1,
)
SOIL = Soil(field_capacity=0.30, wilting_point=0.15, rew=8.0)
RULE = Rule(allowable_depletion=0.5)
PUMP = {"area": 10.0, "flow": 60.0, "lift": 30.0, "operating_pressure": 200.0, "pump_efficiency": 0.6}
SYSTEMS = {
    "worn sprinklers": System(delivered_fraction=0.9, spot_share=[0.6, 0.9, 1.1, 1.4], **PUMP),
    "pivot": System(leak_fraction=0.02, spray_fraction=0.10, **PUMP),
    "furrows": System(efficiency=0.6, area=10.0),
}


def weather(first="2019-01-01", last="2023-12-31", **columns):
    """Give years of an invented climate; a little rain every eighth day, more in each year."""
    time = pd.date_range(first, last)
    rain = np.where(np.arange(len(time)) % 8 == 0, 2.0 * (time.year - 2018), 0.0)
    et_ref = 4.0 - 2.5 * np.cos(2 * np.pi * time.dayofyear / 365)
    values = {"rain": ("time", rain), "et_ref": ("time", et_ref, {"surface": "short"})}
    return xr.Dataset(
        {**values, **{k: ("time", np.full(len(time), v)) for k, v in columns.items()}}, {"time": time}
    )


@pytest.fixture(scope="module")
def compared():
    return compare(SYSTEMS, weather(), CROP, SOIL, RULE)


def test_a_row_for_each_system_and_year_in_the_order_given():
    table = compare(SYSTEMS, weather(), CROP, SOIL, RULE, initial_depletion=10.0)
    assert table["system"].tolist() == [name for name in SYSTEMS for _ in range(5)]
    assert table["year"].tolist() == list(range(2019, 2024)) * 3
    assert list(table.columns) == [
        "system",
        "year",
        "irrigations",
        "gross_mm",
        "unavoidable_mm",
        "intended_mm",
        "waste_mm",
        "unattributed_mm",
        "stored_mm",
        "leak_loss_mm",
        "conveyance_loss_mm",
        "spray_loss_mm",
        "canopy_loss_mm",
        "irrigation_runoff_mm",
        "unattributed_loss_mm",
        "leaching_mm",
        "uneven_application_mm",
        "rain_on_watered_soil_mm",
        "over_watering_mm",
        "application_efficiency",
        "adequacy",
        "stress_days",
        "et_mm",
        "drainage_mm",
        "relative_yield",
        "profile_change_mm",
        "volume_m3",
        "hours",
        "energy_kWh",
        "note",
    ]
    kinds = table[["unavoidable_mm", "intended_mm", "waste_mm", "unattributed_mm", "stored_mm"]]
    assert kinds.sum(axis="columns").to_numpy() == pytest.approx(table["gross_mm"].to_numpy(), abs=1e-9)
    assert (table.groupby("system")["gross_mm"].nunique() == 5).all()


def test_a_system_without_a_pattern_is_told_to_be_taken_as_even():
    drip = System(delivered_fraction=0.9, spot_share=[0.9, 1.1], wetted_fraction=0.4, wetted_volume=0.4)
    corner = SYSTEMS["pivot"].with_part(weight=0.2, share=0.0)
    table = compare({**SYSTEMS, "drip": drip, "corner": corner}, weather(), CROP, SOIL, RULE)
    for frame in (table, summarize_comparison(table)):
        told = frame.groupby("system")["note"].unique().map(list)
        assert told["worn sprinklers"] == told["drip"] == [""]
        for name in ("pivot", "furrows", "corner"):
            (note,) = told[name]
            assert "taken as watered evenly" in note


def test_each_year_is_the_run_of_its_own_season():
    table = compare(SYSTEMS, weather(), CROP, SOIL, RULE, initial_depletion=10.0)
    days = slice("2022-05-10", "2022-08-17")  # 100 days from planting on
    crop = dataclasses.replace(CROP, planted="2022-05-10")
    season = simulate(weather().sel(time=days), crop, SOIL, SYSTEMS["pivot"], RULE, initial_depletion=10.0)
    row = table[(table["system"] == "pivot") & (table["year"] == 2022)].iloc[0]
    told, found = ledger(season).iloc[0], performance(season).iloc[0]
    assert told["days"] == 100
    for name in (
        "gross_mm",
        "leak_loss_mm",
        "spray_loss_mm",
        "et_mm",
        "drainage_mm",
        "stress_days",
        "profile_change_mm",
    ):
        assert row[name] == told[name], name
    for name in ("application_efficiency", "adequacy", "relative_yield"):
        assert row[name] == found[name], name


def test_water_hours_energy_and_money():
    table = compare(SYSTEMS, weather(), CROP, SOIL, RULE, energy_price=0.25).set_index("system")
    pivot = table.loc["pivot"]
    # 1 mm on 1 ha is 10 m3, at 60 m3/h; energy = density g head volume / efficiency, with 1000 kg/m3
    assert pivot["volume_m3"].to_numpy() == pytest.approx(pivot["gross_mm"].to_numpy() * 10 * 10.0)
    assert pivot["hours"].to_numpy() == pytest.approx(pivot["volume_m3"].to_numpy() / 60.0)
    head = 30.0 + 200.0 / 9.80665
    kwh = 1000 * 9.80665 * head * pivot["volume_m3"].to_numpy() / 3.6e6 / 0.6
    assert pivot["energy_kWh"].to_numpy() == pytest.approx(kwh, rel=1e-3)
    assert pivot["energy_cost"].to_numpy() == pytest.approx(0.25 * pivot["energy_kWh"].to_numpy())
    # of the furrows no flow and no lift are known
    furrows = table.loc["furrows"]
    assert furrows[["hours", "energy_kWh", "energy_cost"]].isna().all(axis=None)
    assert furrows["volume_m3"].notna().all()
    # one efficiency stays unattributed
    assert furrows["unattributed_mm"].to_numpy() == pytest.approx(0.4 * furrows["gross_mm"].to_numpy())


def test_only_whole_seasons_count():
    table = compare({"pivot": SYSTEMS["pivot"]}, weather("2019-05-11", "2022-08-16"), CROP, SOIL, RULE)
    assert table["year"].tolist() == [2020, 2021]  # a day too late in 2019, a day too early in 2022
    with pytest.raises(InputError, match=r"no whole season.*10 May"):
        compare(SYSTEMS, weather("2019-05-11", "2020-05-20"), CROP, SOIL, RULE)


def test_the_29th_of_february_is_the_28th_in_other_years():
    crop = dataclasses.replace(CROP, planted="2020-02-29")
    table = compare({"pivot": SYSTEMS["pivot"]}, weather("2020-02-29", "2021-12-31"), crop, SOIL, RULE)
    assert table["year"].tolist() == [2020, 2021]
    too_late = weather("2020-02-29", "2021-12-31").sel(time=slice("2021-03-01", None))
    with pytest.raises(InputError, match="no whole season"):
        compare({"pivot": SYSTEMS["pivot"]}, too_late, crop, SOIL, RULE)


def test_the_last_date_of_the_rule_moves_with_the_year():
    stops = Rule(allowable_depletion=0.5, last_date="2021-06-20")
    table = compare({"pivot": SYSTEMS["pivot"]}, weather(), CROP, SOIL, stops)
    free = compare({"pivot": SYSTEMS["pivot"]}, weather(), CROP, SOIL, RULE)
    assert (table["gross_mm"] < free["gross_mm"]).all()
    assert (table["gross_mm"] > 0).sum() >= 3


def test_a_daily_spray_loss_goes_with_the_days_of_each_season():
    time = weather().indexes["time"]
    loss = xr.DataArray(np.where(time.year == 2020, 0.2, 0.1), dims="time", coords={"time": time})
    table = compare({"pivot": System(spray_fraction=loss)}, weather(), CROP, SOIL, RULE)
    part = (table["spray_loss_mm"] / table["gross_mm"]).tolist()
    assert part == pytest.approx([0.1, 0.2, 0.1, 0.1, 0.1])
    with pytest.raises(InputError, match="'pivot', 2019: system spray_fraction"):
        compare(
            {"pivot": System(spray_fraction=loss.isel(time=slice(200, None)))}, weather(), CROP, SOIL, RULE
        )


def test_a_crop_by_heat_ends_when_its_heat_is_complete():
    crop = Crop(
        planted="2021-05-10",
        stage_degree_days=(200, 300, 300, 200),  # 10 degC day a day: 100 days
        base_temperature=10.0,
        kc=(0.4, 1.1, 0.6),
        root_depth=(0.3, 1.0),
        depletion_fraction=0.5,
        yield_response=1.1,
    )
    warm = weather(tmin=15.0, tmax=25.0)
    table = compare({"pivot": SYSTEMS["pivot"]}, warm, crop, SOIL, RULE)
    same = compare({"pivot": SYSTEMS["pivot"]}, warm, CROP, SOIL, RULE)
    assert table["year"].tolist() == list(range(2019, 2024))
    assert table["et_mm"].to_numpy() == pytest.approx(same["et_mm"].to_numpy(), rel=0.02)
    with pytest.raises(InputError, match="no whole season"):
        compare({"pivot": SYSTEMS["pivot"]}, warm.sel(time=slice(None, "2019-08-10")), crop, SOIL, RULE)
    with pytest.raises(InputError, match="has no tmin"):
        compare({"pivot": SYSTEMS["pivot"]}, weather(), crop, SOIL, RULE)


def test_other_crops_run_once_over_all_the_weather():
    always = Crop(kc=1.0, root_depth=1.0, depletion_fraction=0.5)
    turns = Rotation(crops=(CROP, dataclasses.replace(CROP, planted="2022-05-10")))
    for crop in (always, turns):
        table = compare({"pivot": SYSTEMS["pivot"]}, weather("2021-01-01", "2022-12-31"), crop, SOIL, RULE)
        assert table["year"].tolist() == [2021]
        assert table["relative_yield"].isna().all()


def test_labels_are_columns():
    names = pd.Index(["north", "south"], name="field")
    depletion = xr.DataArray([0.0, 40.0], dims="field", coords={"field": names})
    table = compare({"pivot": SYSTEMS["pivot"]}, weather(), CROP, SOIL, RULE, initial_depletion=depletion)
    assert list(table.columns[:4]) == ["system", "year", "field", "irrigations"]
    assert table["field"].tolist() == ["north", "south"] * 5
    assert summarize_comparison(table)["field"].tolist() == ["north", "south"]
    with pytest.raises(InputError, match="several rows for one system and year"):
        plot_comparison(table)
    systems = {"both": dataclasses.replace(SYSTEMS["furrows"], area=depletion.rename(field="system") + 1.0)}
    with pytest.raises(InputError, match="bears the name of a column"):
        compare(systems, weather(), CROP, SOIL, RULE)


def test_units():
    metric = compare({"pivot": SYSTEMS["pivot"]}, weather(), CROP, SOIL, RULE)
    us = compare({"pivot": SYSTEMS["pivot"]}, weather(), CROP, SOIL, RULE, units="us")
    assert us["gross_in"].to_numpy() == pytest.approx(metric["gross_mm"].to_numpy() / 25.4)  # exact: inch
    assert us["volume_gal"].to_numpy() == pytest.approx(metric["volume_m3"].to_numpy() / 0.003785411784)
    assert us["hours"].tolist() == metric["hours"].tolist()


@pytest.mark.parametrize(
    ("changes", "problem"),
    [
        ({"systems": {}}, "systems: is empty"),
        ({"systems": [SYSTEMS["pivot"]]}, "not a mapping"),
        ({"systems": {"pivot": SYSTEMS["pivot"], "rule": RULE}}, "not a System; first at 'rule'; found Rule"),
        ({"systems": {1: SYSTEMS["pivot"], "1": SYSTEMS["pivot"]}}, "names that read alike"),
        ({"energy_price": -1.0}, "energy_price: is no price"),
        ({"energy_price": np.nan}, "energy_price: is no price"),
        ({"energy_price": "0.2"}, "energy_price: is no price"),
        ({"weather": None}, "weather: is not a Dataset"),
        ({"weather": weather().isel(time=[0, 2, 3])}, "weather, time"),
        ({"crop": SOIL}, "crop: is not a Crop"),
        ({"units": "feet"}, "units"),
    ],
)
def test_bad_input(changes, problem):
    given = {"systems": SYSTEMS, "weather": weather(), "crop": CROP, "soil": SOIL, "rule": RULE, **changes}
    with pytest.raises(InputError, match=problem):
        compare(**given)


def test_all_faults_of_arguments_at_once_and_those_of_runs_by_system():
    with pytest.raises(InputError) as error:
        compare({}, weather(), SOIL, SOIL, RULE, energy_price=-1)
    assert len(error.value.faults) == 3
    dry = {"a": SYSTEMS["pivot"], "b": SYSTEMS["furrows"]}
    with pytest.raises(InputError) as error:
        compare(dry, weather(), CROP, SOIL, RULE, initial_depletion=900.0)
    assert [fault.what[:9] for fault in error.value.faults] == ["'a', 2019", "'b', 2019"]


# ------------------------------------------------------------------ over the years
def test_summary_over_years(compared):
    table = compared
    summary = summarize_comparison(table)
    assert summary["system"].tolist() == list(SYSTEMS)
    assert summary["years"].tolist() == [5, 5, 5]
    own = table[table["system"] == "pivot"]["gross_mm"]
    row = summary.set_index("system").loc["pivot"]
    assert row["gross_mm_mean"] == pytest.approx(own.sum() / 5)
    assert (row["gross_mm_min"], row["gross_mm_max"]) == (own.min(), own.max())
    # nobody knows the hours of the furrows: no number is made of it
    assert np.isnan(summary.set_index("system").loc["furrows", "hours_mean"])


def test_a_year_without_irrigation_has_no_efficiency_and_spoils_none():
    wet = weather()
    wet["rain"] = wet["rain"].where(wet["time.year"] != 2020, 12.0)
    table = compare({"pivot": SYSTEMS["pivot"]}, wet, CROP, SOIL, RULE)
    assert table.set_index("year").loc[2020, "irrigations"] == 0
    row = summarize_comparison(table).iloc[0]
    others = table[table["year"] != 2020]
    assert row["application_efficiency_mean"] == pytest.approx(others["application_efficiency"].mean())
    assert row["gross_mm_min"] == 0.0
    never = table[table["year"] == 2020]
    assert np.isnan(summarize_comparison(never)["adequacy_mean"].iloc[0])
    gap = table.assign(et_mm=table["et_mm"].where(table["year"] != 2021))
    assert np.isnan(summarize_comparison(gap)["et_mm_mean"].iloc[0])


def test_summary_refuses_what_is_no_comparison():
    table = compare({"pivot": SYSTEMS["pivot"]}, weather(), CROP, SOIL, RULE)
    with pytest.raises(InputError, match="lacks adequacy"):
        summarize_comparison(table.drop(columns="adequacy"))
    with pytest.raises(InputError, match="no row"):
        summarize_comparison(table.iloc[:0])
    with pytest.raises(InputError, match="DataFrame"):
        summarize_comparison(table.to_dict())


# ------------------------------------------------------------------ the picture
@pytest.fixture
def drawn():
    """Draw without a screen, and close what was drawn."""
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot

    yield plot_comparison
    pyplot.close("all")


def test_bars_are_the_means_in_the_order_of_the_table(drawn, compared):
    table = compared
    figure = drawn(table)
    figure.canvas.draw()
    water, hours, energy, stress, yields = figure.axes
    names = [label.get_text() for label in water.get_yticklabels()]
    assert names == ["worn sprinklers", "pivot *", "furrows *"]  # the first alone was measured
    assert "watered evenly" in figure.legends[0].get_title().get_text()
    assert water.get_ylim()[0] > water.get_ylim()[1]  # the first on top
    summary = summarize_comparison(table)
    ends = {}
    for bars in water.containers:
        for patch in getattr(bars, "patches", ()):
            ends[round(patch.get_y(), 6)] = patch.get_x() + patch.get_width()
    assert sorted(ends.values()) == pytest.approx(sorted(summary["gross_mm_mean"]), abs=1e-9)
    assert stress.lines[0].get_xdata().tolist() == summary["stress_days_mean"].tolist()
    np.testing.assert_array_equal(hours.lines[0].get_xdata(), summary["hours_mean"])
    np.testing.assert_array_equal(energy.lines[0].get_xdata(), summary["energy_kWh_mean"])
    assert np.isnan(summary["energy_kWh_mean"]).tolist() == [False, False, True]  # furrows have no pump
    assert (hours.get_xlabel(), energy.get_xlabel()) == ("hours", "energy [kWh]")
    assert yields.lines[0].get_xdata().tolist() == summary["relative_yield_mean"].tolist()
    assert stress.get_xlim()[0] == yields.get_xlim()[0] == 0.0
    assert yields.get_xlim()[1] > 1.0
    shown = [text.get_text() for text in figure.legends[0].get_texts()]
    assert shown == [
        "stored for the crop",
        "unavoidable",
        "lost, cause not known",
        "waste: can be mended",
        "least and most of the years",
    ]


def test_where_no_system_has_a_pattern_none_is_marked(drawn):
    even = {name: SYSTEMS[name] for name in ("pivot", "furrows")}
    figure = drawn(compare(even, weather(), CROP, SOIL, RULE))
    figure.canvas.draw()
    assert [label.get_text() for label in figure.axes[0].get_yticklabels()] == list(even)
    assert figure.legends[0].get_title().get_text() == ""


def test_a_yield_below_nothing_is_in_the_picture(drawn, compared):
    table = compared.copy()
    table.loc[0, "relative_yield"] = -0.3
    yields = drawn(table).axes[-1]
    assert yields.get_xlim()[0] < -0.3


def test_one_year_without_a_yield_response_and_in_inches(drawn):
    crop = dataclasses.replace(CROP, yield_response=None)
    figure = drawn(compare(SYSTEMS, weather("2021-01-01", "2021-12-31"), crop, SOIL, RULE, units="us"))
    figure.canvas.draw()
    water, *beside = figure.axes
    assert [ax.get_xlabel() for ax in beside] == ["hours", "energy [kWh]", "days of stress"]
    assert water.get_xlabel() == "water pumped [in]"
    assert "least and most of the years" not in [text.get_text() for text in figure.legends[0].get_texts()]


def test_without_matplotlib_it_says_what_to_install(monkeypatch, compared):
    table = compared
    monkeypatch.setitem(sys.modules, "matplotlib.pyplot", None)
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    with pytest.raises(ImportError, match=r"waterbudget\[plots\]"):
        plot_comparison(table)
