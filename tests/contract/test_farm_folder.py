"""The farm folder, end to end: what the batch gives is what a single field gives, and a fault stays where it is."""

import csv
import dataclasses
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from scipy.constants import g

import waterbudget as wb
from waterbudget.__main__ import main, report
from waterbudget.batch import run_farm
from waterbudget.batch.columns import FILES
from waterbudget.batch.folder import read_folder
from waterbudget.batch.groups import simulate_fields
from waterbudget.batch.write import picture_names
from waterbudget.report import events
from waterbudget.report.losses import losses
from waterbudget.report.performance import performance
from waterbudget.system.catch_cans import CatchCans

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "data_demo"
TODAY = pd.Timestamp("2025-07-15")
ALWAYS = {"events", "ledger", "daily_balance", "week_ahead", "yields", "losses", "performance"}
FILES_OUT = {f"{name}.csv" for name in ALWAYS}
SMALL = ("Potato Flat", "Bean Corner", "Mill Wheat")

# the inch and the US gallon (231 cubic inches) by definition: NIST Special Publication 811, Appendix B
INCH_MM = 25.4
GALLON_M3 = 231 * 0.0254**3
FOOT_M = 0.3048
# pound-force per square inch: the same publication
PSI_KPA = 6.894757


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def write_rows(path: Path, rows: list[dict[str, str]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def change(folder: Path, field: str, **cells: str) -> None:
    rows = rows_of(folder / "fields.csv")
    for row in rows:
        if row["field"] == field:
            row.update(cells)
        row |= {name: row.get(name, "") for name in cells}
    write_rows(folder / "fields.csv", rows)


def run_tables(folder, **options):
    """Run a farm without pictures, which take most of the time and are tested on their own."""
    return run_farm(folder, plots=False, **options)


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    return run_tables(DEMO, out=tmp_path_factory.mktemp("demo") / "out")


@pytest.fixture
def small(tmp_path):
    """Copy three fields of the demo, of both stations, one with its own gauge; none in crops or layers."""
    folder = tmp_path / "farm"
    folder.mkdir()
    for path in DEMO.glob("*.csv"):
        shutil.copy(path, folder)
    for name in ("crops", "layers", "cans", "planned", "readings"):
        (folder / f"{name}.csv").unlink()
    for name in ("fields", "rain", "irrigation"):
        path = folder / f"{name}.csv"
        write_rows(path, [row for row in rows_of(path) if row["field"] in SMALL])
    return folder


def station(name: str, latitude: float, elevation: float) -> xr.Dataset:
    given = {"tmin": "degC", "tmax": "degC", "rhmin": "percent", "rhmax": "percent"}
    columns = {key: f"{key}_{end}" for key, end in given.items()}
    columns |= {"wind": "wind_m_per_s", "solar": "solar_MJ_per_m2", "rain": "rain_mm"}
    return wb.read_weather(
        DEMO / f"weather_{name}.csv", latitude=latitude, elevation=elevation, columns=columns, wind_height=2.0
    )


def record(field: str) -> pd.DataFrame:
    table = pd.read_csv(DEMO / "irrigation.csv", parse_dates=["date"], keep_default_na=False)
    return table[table["field"] == field].drop(columns="field").reset_index(drop=True)


# ------------------------------------------------------------------------------- the demo runs
def test_every_field_of_the_demo_runs_and_every_file_can_be_read(demo):
    names = [row["field"] for row in rows_of(DEMO / "fields.csv")]
    assert len(names) == 16
    assert demo.faults.empty
    tables = {"events": demo.events, "ledger": demo.ledger, "week_ahead": demo.week, "yields": demo.yields}
    tables |= {"losses": demo.losses, "performance": demo.performance, "uniformity": demo.uniformity}
    tables |= {"can_findings": demo.can_findings, "findings": demo.findings}
    assert {path.stem for path in demo.out.iterdir()} == {*tables, "daily_balance"}
    for file, table in tables.items():
        read = pd.read_csv(demo.out / f"{file}.csv")
        assert list(read.columns) == list(table.columns)
        assert len(read) == len(table)
    for table in (demo.ledger, demo.performance):
        assert list(table["field"]) == names
    assert list(dict.fromkeys(demo.losses["field"])) == names
    assert list(dict.fromkeys(demo.events["field"])) == names
    daily = pd.read_csv(demo.out / "daily_balance.csv", parse_dates=["date"])
    assert len(daily) == 16 * 335
    assert list(dict.fromkeys(daily["field"])) == names
    # design: closure to 1e-9 mm a day and 1e-6 mm a season
    assert (demo.ledger["largest_daily_residual_mm"] <= 1e-9).all()
    assert (demo.ledger[["root_zone_residual_mm", "profile_residual_mm"]].abs() <= 1e-6).all(axis=None)


def test_fields_of_one_form_share_a_call(demo):
    assert len(demo.seasons) < 16
    assert max(season.sizes["field"] for season in demo.seasons) >= 5


def test_a_field_of_the_batch_is_its_single_simulation_bit_by_bit(demo):
    """Potato Flat put together by hand from the same handbook and files."""
    climate = (2.1, 29.0)
    season = wb.simulate(
        station("bottomland", 38.5, 64.0),
        wb.Crop.from_handbook("potato", planted="2025-04-12", region="Idaho", climate=climate),
        wb.Soil.from_handbook("sandy loam"),
        wb.System.from_handbook("overhead sprinklers", area=11.0, flow=130.0),
        wb.Rule(
            allowable_depletion=0.25, min_depth=8.0, max_depth=25.0, min_interval=2.0, last_date="2025-09-12"
        ),
        irrigation=record("Potato Flat"),
        recorded_until="2025-07-14",
        initial_depletion=8.0,
        initial_depletion_below=10.0,
    )
    of_batch = demo.season("Potato Flat")
    for name in season.data_vars:
        np.testing.assert_array_equal(of_batch[name].values, season[name].values, err_msg=str(name))
    own = demo.events[demo.events["field"] == "Potato Flat"].drop(columns="field").reset_index(drop=True)
    pd.testing.assert_frame_equal(own, events(season), check_exact=True)


def test_every_field_alone_is_the_same_bit_by_bit(demo):
    folder = read_folder(DEMO)
    for name, field in folder.fields.items():
        (alone,), faults = simulate_fields(dataclasses.replace(folder, fields={name: field}))
        assert not faults
        # a value is on the dimensions that it depends on, and in a group it may depend on more
        xr.testing.assert_equal(*xr.broadcast(alone.isel(field=0), demo.season(name)))


def test_an_own_gauge_counts_on_the_days_it_was_read(demo):
    gauge = pd.read_csv(DEMO / "rain.csv", parse_dates=["date"])
    gauge = gauge[gauge["field"] == "Bean Corner"].set_index("date")["rain_mm"]
    of_station = pd.read_csv(DEMO / "weather_bench.csv", parse_dates=["date"], index_col="date")["rain_mm"]
    expected = of_station.copy()
    expected.loc[gauge.index] = gauge.astype(float)
    assert (expected != of_station).any()
    np.testing.assert_array_equal(demo.season("Bean Corner")["rain"].values, expected.to_numpy())
    np.testing.assert_array_equal(demo.season("Gravel Onions")["rain"].values, of_station.to_numpy())


def test_a_crop_sown_before_the_weather_begins_is_growing_on_its_first_day(demo):
    # 23 days after sowing; the initial stage of FAO-56 Table 11, winter wheat, California has 20 days
    assert int(demo.season("Mill Wheat")["crop_stage"][0]) == 2


def test_the_record_counts_up_to_yesterday_and_the_rule_from_today(demo):
    recorded = demo.events["recorded"].astype(bool)
    assert (demo.events.loc[recorded, "date"] < TODAY).all()
    assert (demo.events.loc[~recorded, "date"] >= TODAY).all()
    given = pd.read_csv(DEMO / "irrigation.csv", keep_default_na=False)
    assert int(recorded.sum()) == len(given)
    assert set(demo.events["purpose"]) >= {"frost protection", "germination", "leaching"}


def test_the_week_has_a_line_for_every_field(demo):
    assert list(demo.week["field"]) == [row["field"] for row in rows_of(DEMO / "fields.csv")]
    # of a field in crops.csv the crop of that morning: beans after wheat, hay after its first cutting
    grown = {"Ford Ground": "dry beans", "Hay Bottom": "alfalfa hay, other cutting cycles"}
    expected = [row["crop"] or grown[row["field"]] for row in rows_of(DEMO / "fields.csv")]
    assert list(demo.week["crop"]) == expected


def test_the_demo_is_plausible_but_for_its_teaching_cases(demo):
    """No field endlessly stressed or drowned; those taught are described as short of water, or as salty."""
    taught = {"Gravel Onions", "Hillside Vines", "Salt Corner"}
    for name in set(demo.ledger["field"]) - taught:
        season = demo.season(name)
        past = season.sel(time=slice(None, "2025-07-14"))
        growing = past["crop_stage"] > 0
        assert float(past["ks"].where(growing).mean()) > 0.9, name
        assert 0.02 < float((past["depletion"] / past["taw"]).where(growing).mean()) < 0.6, name


def test_the_scripts_of_the_demo_make_its_files(tmp_path):
    for path in DEMO.glob("*.py"):
        shutil.copy(path, tmp_path)
    (tmp_path / "downloads").mkdir()
    for script in ("make_weather.py", "make_records.py", "make_downloads.py"):
        subprocess.run([sys.executable, script], cwd=tmp_path, check=True)
    for made in tmp_path.rglob("*.csv"):
        own = DEMO / made.relative_to(tmp_path)
        assert made.read_bytes() == own.read_bytes(), made.name


# ------------------------------------------------------------------------- faults stay where they are
def test_all_faults_of_a_field_are_named_and_the_others_run(small, tmp_path):
    before = run_tables(small, out=tmp_path / "before")
    change(small, "Potato Flat", crop="potatto", efficiency="1.2", soil="sandy lome", planted="12/04/2025")
    after = run_tables(small, out=tmp_path / "after")
    assert set(after.faults["field"]) == {"Potato Flat"}
    assert set(after.faults["what"]) >= {"crop", "planted", "soil", "efficiency"}
    for nearest in ("'sandy loam'", "'potato'", "above 0 and at most 1"):
        assert any(nearest in text for text in after.faults["allowed"])
    rest = before.events[before.events["field"] != "Potato Flat"].reset_index(drop=True)
    pd.testing.assert_frame_equal(after.events, rest, check_exact=True)
    assert len(pd.read_csv(after.out / "faults.csv")) == len(after.faults)


def test_a_field_that_only_the_simulation_refuses_takes_no_other_down(small, tmp_path):
    change(small, "Bean Corner", initial_depletion_mm="900")
    run = run_tables(small, out=tmp_path / "out")
    assert set(run.faults["field"]) == {"Bean Corner"}
    assert list(run.ledger["field"]) == ["Mill Wheat", "Potato Flat"]


def test_an_error_that_nobody_foresaw_stops_its_field_only(small, tmp_path, monkeypatch):
    def simulate(weather, *args, **options):
        if "Bean Corner" in weather["field"].values:
            message = "a defect"
            raise KeyError(message)
        return wb.simulate(weather, *args, **options)

    monkeypatch.setattr("waterbudget.batch.groups.simulate", simulate)
    run = run_tables(small, out=tmp_path / "out")
    assert list(run.faults["field"]) == ["Bean Corner"]
    assert run.faults["problem"][0] == "failed unexpectedly: KeyError: 'a defect'"
    assert list(run.ledger["field"]) == ["Mill Wheat", "Potato Flat"]


def test_a_station_at_fault_stops_its_own_fields_only(small, tmp_path):
    rows = rows_of(small / "weather_bench.csv")
    rows[40]["tmax_degC"] = "warm"
    write_rows(small / "weather_bench.csv", rows)
    run = run_tables(small, out=tmp_path / "out")
    assert list(run.faults["field"]) == ["", "Bean Corner"]
    assert "weather_bench.csv" in run.faults["what"][0]
    assert list(run.ledger["field"]) == ["Mill Wheat", "Potato Flat"]


def test_a_record_of_an_unknown_field_is_not_lost(small, tmp_path):
    path = small / "irrigation.csv"
    path.write_text(path.read_text() + "2025-06-01,Potatoe Flat,20,\n")
    run = run_tables(small, out=tmp_path / "out")
    assert list(run.faults["field"]) == ["Potatoe Flat"]
    assert "'Potato Flat'" in run.faults["mend"][0]
    assert len(run.ledger) == 3


@pytest.mark.parametrize(
    ("file", "line", "words"),
    [
        ("rain.csv", "2025-06-01,Bean Corner,-3", ["rain.csv, rain_mm", "outside its range", "0 to 2000 mm"]),
        ("rain.csv", "2024-06-01,Bean Corner,3", ["outside the days", "2024-12-01 to 2025-10-31"]),
        ("irrigation.csv", "2025-06-31,Bean Corner,3,", ["irrigation.csv, date", "is not a date"]),
        ("irrigation.csv", "2025-06-30,Bean Corner,,", ["irrigation.csv, net, gross", "both blank"]),
        ("irrigation.csv", '2025-06-30,Bean Corner,"3,5",', ["is not a number", "decimals with a point"]),
    ],
)
def test_a_bad_line_is_a_fault_of_its_field(small, file, line, words):
    path = small / file
    path.write_text(path.read_text() + line + "\n")
    ((name, fault),) = read_folder(small).faults
    assert name == "Bean Corner"
    text = str(fault)
    assert all(word in text for word in words), text


# ----------------------------------------------------------------------- the folder as a whole
def break_missing(folder: Path) -> None:
    (folder / "fields.csv").rename(folder / "field.csv")


def break_empty(folder: Path) -> None:
    (folder / "stations.csv").write_text("")


def break_misspelt(folder: Path) -> None:
    path = folder / "fields.csv"
    path.write_text(path.read_text().replace("allowable_depletion", "alowable_depletion", 1))


def break_unit(folder: Path) -> None:
    path = folder / "fields.csv"
    path.write_text(path.read_text().replace("area_ha", "area_m2", 1))


def break_twice(folder: Path) -> None:
    rows = rows_of(folder / "fields.csv")
    write_rows(folder / "fields.csv", [*rows, rows[0]])


def break_layers(folder: Path) -> None:
    (folder / "layers.csv").write_text("soil,top_m,bottom_m,available_water\n,0,1,0.1\n")


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (break_layers, ["layers.csv, column 'soil'", "is blank", "line 2"]),
        (break_missing, ["fields.csv", "is missing", "'field.csv'"]),
        (break_empty, ["stations.csv", "is empty"]),
        (break_misspelt, ["'alowable_depletion'", "is not known", "'allowable_depletion'"]),
        (break_unit, ["'area_m2'", "area_ha or area_acre"]),
        (break_twice, ["field 'Mill Wheat'", "stands twice"]),
    ],
)
def test_a_fault_of_the_folder_stops_the_run_before_anything_is_written(small, tmp_path, spoil, words):
    spoil(small)
    with pytest.raises(wb.InputError) as caught:
        run_tables(small, out=tmp_path / "out")
    assert all(word in str(caught.value) for word in words), str(caught.value)
    assert not (tmp_path / "out").exists()


def test_when_no_field_can_run_all_faults_are_raised(small, tmp_path):
    for name in SMALL:
        change(small, name, crop="")
    with pytest.raises(wb.InputError, match="field 'Mill Wheat', crop: is missing"):
        run_tables(small, out=tmp_path / "out")


# --------------------------------------------------------------------------------- units, today, own numbers
def test_us_units_are_the_same_numbers_in_inches_gallons_feet(small, tmp_path):
    in_metric = run_tables(small, out=tmp_path / "metric")
    metric = in_metric.events
    run = run_tables(small, out=tmp_path / "us", units="us")
    us = pd.read_csv(run.out / "events.csv")
    # files hold ten significant digits
    np.testing.assert_allclose(us["gross_in"] * INCH_MM, metric["gross_mm"], rtol=1e-9)
    np.testing.assert_allclose(us["volume_gal"] * GALLON_M3, metric["volume_m3"], rtol=1e-9)
    np.testing.assert_allclose(us["wetted_depth_ft"] * FOOT_M, metric["wetted_depth_m"], rtol=1e-9)
    for name, end, us_end, size in (
        ("depletion", "mm", "in", INCH_MM),
        ("gross", "mm", "in", INCH_MM),
        ("volume", "m3", "gal", GALLON_M3),
        ("wetted_depth", "m", "ft", FOOT_M),
    ):
        np.testing.assert_allclose(
            run.week[f"{name}_{us_end}"] * size, in_metric.week[f"{name}_{end}"], rtol=1e-12
        )
    metric_ends = ("_mm", "_m", "_m3", "_ha")
    for table in (run.events, run.ledger, run.week):
        assert not [name for name in table.columns if str(name).endswith(metric_ends)]


def test_losses_and_outcomes_in_us_units_are_the_same_numbers(demo, tmp_path):
    us = run_tables(DEMO, out=tmp_path / "us", units="us")
    pairs = (
        (us.losses["depth_in"], demo.losses["depth_mm"]),
        (us.performance["et_in"], demo.performance["et_mm"]),
        (us.can_findings["depth_in"], demo.can_findings["depth_mm"]),
    )
    for inches, millimetres in pairs:
        np.testing.assert_allclose(inches * INCH_MM, millimetres, rtol=1e-12)
    mean = (us.uniformity["quantity"] == "mean depth").to_numpy()
    assert list(us.uniformity.loc[mean, "unit"]) == ["in"]
    for table in (us.losses, us.performance, us.can_findings, us.findings):
        assert not [name for name in table.columns if str(name).endswith(("_mm", "_m3", "_ha"))]


def test_columns_in_us_units_describe_the_same_field(small, tmp_path):
    metric = run_tables(small, out=tmp_path / "metric")
    rows = rows_of(small / "fields.csv")
    changed = []
    for row in rows:
        new = dict(row)
        new["area_acre"] = str(float(new.pop("area_ha")) / 0.40468564224)
        new["flow_gal_per_min"] = str(float(new.pop("flow_m3_per_h")) / (60 * GALLON_M3))
        depths = ("min_depth", "max_depth", "initial_depletion", "initial_depletion_below")
        new |= {f"{name}_in": str(float(new.pop(f"{name}_mm")) / INCH_MM) for name in depths}
        new["allowable_depletion_percent"] = str(100 * float(new.pop("allowable_depletion")))
        changed.append(new)
    write_rows(small / "fields.csv", changed)
    us = run_tables(small, out=tmp_path / "us")
    for name in ("net_mm", "gross_mm", "volume_m3", "hours"):
        np.testing.assert_allclose(us.events[name], metric.events[name], rtol=1e-9)


def test_an_earlier_today_leaves_the_later_record_out_and_says_so(small, tmp_path):
    run = run_tables(small, out=tmp_path / "out", today="2025-06-20")
    recorded = run.events["recorded"].astype(bool)
    assert run.events.loc[recorded, "date"].max() < pd.Timestamp("2025-06-20")
    assert run.events.loc[~recorded, "date"].min() >= pd.Timestamp("2025-06-20")
    assert len(run.notes) == 1
    assert "2025-06-20 or later left out" in run.notes[0]


def test_without_a_today_there_is_no_week(small, tmp_path):
    (small / "farm.csv").unlink()
    run = run_tables(small, out=tmp_path / "out")
    assert run.week.empty
    assert run.faults.empty


def test_a_today_outside_the_weather_is_a_fault(small, tmp_path):
    with pytest.raises(wb.InputError, match="does not hold the day from which the week ahead is planned"):
        run_tables(small, out=tmp_path / "out", today="2026-01-01")


def test_own_stage_lengths_and_coefficients_take_the_place_of_the_handbooks(demo):
    alfalfa = demo.season("South Pivot")
    assert float(alfalfa["dual"]) == 0.0
    assert float(alfalfa["kc"].sel(time="2025-06-01")) == 0.95
    meadow = demo.season("River Meadow")
    mid = meadow["time"].values[meadow["crop_stage"].values == 3]
    assert mid[0] == np.datetime64("2025-03-10") + np.timedelta64(10 + 25, "D")
    assert mid[-1] == np.datetime64("2025-03-10") + np.timedelta64(10 + 25 + 170 - 1, "D")


def test_a_fields_own_climate_goes_before_the_stations(demo):
    # FAO-56 Eq. 70 for Kcb mid 1.10 (Table 17, winter wheat) at 1.7 m/s, 45 %, height 1 m (Table 12)
    expected = 1.10 + (0.04 * (1.7 - 2.0) - 0.004 * (45.0 - 45.0)) * (1.0 / 3.0) ** 0.3
    np.testing.assert_allclose(float(demo.season("Mill Wheat")["kcb"].max()), expected, rtol=1e-12)
    assert float(demo.season("Mill Wheat")["root_depth"].max()) == 1.2


def test_a_field_that_is_not_irrigated_has_its_record_only(small, tmp_path):
    rows = rows_of(small / "fields.csv")
    blank = (
        "allowable_depletion",
        "refill_to",
        "min_depth_mm",
        "max_depth_mm",
        "min_interval_days",
        "last_date",
    )
    for row in rows:
        row["irrigated"] = "no" if row["field"] == "Bean Corner" else ""
        row.update({name: "" for name in blank if row["irrigated"] == "no"})
    write_rows(small / "fields.csv", rows)
    run = run_tables(small, out=tmp_path / "out")
    assert run.faults.empty
    beans = run.events[run.events["field"] == "Bean Corner"]
    assert beans["recorded"].astype(bool).all()
    assert len(beans) == len(record("Bean Corner"))


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"initial_days": "20"}, "stage lengths: lack development, mid_season, late_season"),
        ({"kcb_mid": "1.1"}, "kcb values: lack kcb_initial, kcb_end"),
        ({"kc_initial": "0.4", "kc_mid": "1.1", "kc_end": "0.5"}, "depletion_fraction: is missing"),
        ({"irrigated": "no"}, "irrigated: is no, but the row gives allowable_depletion"),
        ({"irrigated": "perhaps"}, "irrigated: is neither yes nor no"),
        ({"coefficients": "triple"}, "coefficients: is unknown"),
        ({"planted": ""}, "planted: is missing"),
        ({"soil": ""}, "soil: is missing"),
        ({"station": "botomland"}, "did you mean 'bottomland'"),
        ({"area_ha": "eleven"}, "area_ha: is not a number"),
        ({"efficiency": "0"}, "efficiency: is outside its range"),
        ({"min_depth_mm": "40"}, "rule, min_depth: is larger than max_depth"),
        ({"field_capacity": "0.05", "wilting_point": "0.1"}, "soil"),
        ({"root_depth_at_planting_m": "0.1"}, "root_depth: is missing"),
        ({"initial_heat_degC_days": "200"}, "degree days of the stages: lack development_heat"),
        ({"initial_heat_degC_days": "200", "initial_days": "20"}, "stand in days and in degree days"),
        ({"initial_heat_degC_days": "200"}, "base_temperature: is missing"),
        ({"base_temperature_degC": "8"}, "base_temperature: mean nothing without degree days"),
        ({"unfinished": "maybe"}, "unfinished: is neither yes nor no"),
        ({"cuttings": "2025-05-12, 2025-06-11"}, "cuttings: holds what is no date"),
        ({"cuttings": "2025-06-11;2025-05-12"}, "cuttings, cutting 2: is not after the cutting 1"),
        ({"cuttings": "2025-03-01"}, "cuttings, cutting 1: is not after the planting of the first crop"),
        ({"organic_mulch_cover": "1.5"}, "organic_mulch_cover: is outside its range"),
        ({"salt_slope_percent_per_dS_per_m": "0"}, "salt_slope_percent_per_dS_per_m: is outside its range"),
        ({"adjust_curve_number": "1"}, "adjust_curve_number: is neither yes nor no"),
        ({"adjust_curve_number": "yes"}, "soil"),
        ({"drainage_fraction": "0.5"}, "soil"),
        ({"water_table_depth_m": "2"}, "soil"),
        ({"sand_percent": "40"}, "particles: lack clay, organic_matter"),
        (
            {"sand_percent": "40", "clay_percent": "20", "organic_matter_percent": "2"},
            "soil: stands beside sand",
        ),
        (
            {"intake_rate_mm_per_h": "10"},
            "weather_bottomland.csv: has no column of rain_intensity; add rain_inten",
        ),
        ({"spray_fraction": "8"}, "spray_fraction: is outside its range"),
        (
            {"efficiency": "0.7", "spray_fraction": "0.1"},
            "system, efficiency, spray_fraction: count a loss twice",
        ),
        (
            {"efficiency": "0.7", "intake_rate_mm_per_h": "8", "peak_application_rate_mm_per_h": "9"},
            "efficiency, peak_application_rate: count a loss twice",
        ),
        ({"leak_fraction": "1"}, "leak_fraction: is outside its range"),
        ({"delivered_fraction": "0.9"}, "delivered_fraction: needs cans beside it"),
        ({"peak_application_rate_mm_per_h": "9"}, "peak_application_rate: means nothing without the intake"),
        (
            {
                "peak_application_rate_mm_per_h": "9",
                "intake_rate_mm_per_h": "8",
                "runoff_fraction": "0.1",
            },
            "runoff_fraction, peak_application_rate: say the same thing twice",
        ),
        ({"wetted_volume": "0"}, "wetted_volume: is outside its range"),
        ({"lift_m": "20"}, "system, pump_efficiency: is needed beside lift"),
        ({"pump_efficiency": "0"}, "pump_efficiency: is outside its range"),
        ({"watch_driest_quarter": "mean"}, "watch_driest_quarter: is neither yes nor no"),
        ({"adequacy": "75"}, "adequacy: is outside its range"),
        (
            {"net_depth_mm": "15", "refill_to": "", "adequacy": "0.75"},
            "adequacy: has no effect beside net_dep",
        ),
    ],
)
def test_what_is_wrong_with_a_line_is_said(small, cells, words):
    change(small, "Potato Flat", **cells)
    faults = read_folder(small).faults
    assert {name for name, _ in faults} == {"Potato Flat"}
    said = [f"{fault.what}: {fault.problem}; {fault.mend}" for _, fault in faults]
    assert any(words in text for text in said), said


@pytest.mark.parametrize(
    ("cells", "column", "mend"),
    [
        ({"efficiency": "90"}, "efficiency", "a fraction such as 0.9, or give all as percentages in efficiency_percent"),
        ({"allowable_depletion": "30"}, "allowable_depletion", "0.3, or give all as percentages in allowable_depletion_percent"),
        ({"field_capacity": "23", "wilting_point": "0.1"}, "field_capacity", "field_capacity_percent"),
    ],
)  # fmt: skip
def test_a_percentage_in_a_column_of_fractions(small, cells, column, mend):
    change(small, "Potato Flat", **cells)
    ((_, fault),) = read_folder(small).faults
    assert fault.what == column
    assert mend in fault.mend


def test_what_cannot_be_a_percentage_gets_no_such_hint(small):
    change(small, "Potato Flat", efficiency="900", area_ha="-5")
    hints = [fault.mend for _, fault in read_folder(small).faults]
    assert hints == ["", ""]


def test_an_unknown_crop_is_explained_without_python(small):
    change(small, "Potato Flat", crop="potatto")
    ((_, fault),) = read_folder(small).faults
    assert "'potato'" in fault.allowed
    assert 'python -c "' in fault.mend


@pytest.mark.parametrize("name", ["fields", "irrigation", "weather_bench"])
def test_semicolons_are_named(small, name):
    path = small / f"{name}.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",", ";"), encoding="utf-8")
    try:
        faults = [fault for _, fault in read_folder(small).faults if fault.what == path.name]
    except wb.InputError as error:
        faults = list(error.faults)
    (fault,) = faults
    assert fault.problem == "has ';' between its cells"
    assert "commas" in fault.mend


def remove_day(rows):
    del rows[10]


def exchange_days(rows):
    rows[10], rows[11] = rows[11], rows[10]


def write_code(rows):
    rows[10]["tmax_degC"] = "-9999"


def write_day_first(rows):
    for row in rows:
        year, month, day = row["date"].split("-")
        row["date"] = f"{day}/{month}/{year}"


def add_hours(rows):
    for row in rows:
        row["date"] += " 12:00"


@pytest.mark.parametrize(
    ("spoil", "mend"),
    [
        (remove_day, "add the missing rows to weather_bench.csv"),
        (exchange_days, "sort the rows of weather_bench.csv by date"),
        (write_code, "leave these cells of weather_bench.csv blank"),
        (write_day_first, "write year, month, day: 2025-05-12"),
        (add_hours, "write the date alone; data in smaller steps must be made daily first"),
    ],
)
def test_faults_of_a_stations_file_are_mended_in_the_file(small, spoil, mend):
    path = small / "weather_bench.csv"
    rows = rows_of(path)
    spoil(rows)
    write_rows(path, rows)
    (fault,) = [fault for name, fault in read_folder(small).faults if not name]
    assert fault.what.startswith("weather_bench.csv, ")
    assert fault.mend == mend


def test_a_station_without_its_place_is_mended_in_the_file(small):
    rows = rows_of(small / "stations.csv")
    for row in rows:
        row["latitude"] = ""
    write_rows(small / "stations.csv", rows)
    mends = {fault.mend for name, fault in read_folder(small).faults if not name}
    assert mends == {
        f"give it in stations.csv, or a column of reference evapotranspiration in weather_{name}.csv"
        for name in ("bench", "bottomland")
    }


# --------------------------------------------------------------------------------- the options of a description
def add_columns(folder: Path, station_name: str, **columns: str) -> None:
    """Give a station's weather more columns, the same on every day."""
    path = folder / f"weather_{station_name}.csv"
    write_rows(path, [row | columns for row in rows_of(path)])


def test_the_crop_columns_reach_the_crop(small):
    change(
        small,
        "Potato Flat",
        yield_response="1.05",
        salt_threshold_dS_per_m="2",
        salt_slope_percent_per_dS_per_m="11",
        killing_frost_degF="28.4",
        organic_mulch_cover="0.4",
        residue_cover_percent="80",
    )
    crop = read_folder(small).fields["Potato Flat"].crop
    assert (crop.yield_response, crop.salt_threshold, crop.salt_slope) == (1.05, 2.0, 11.0)
    np.testing.assert_allclose(crop.killing_frost, -2.0, rtol=1e-12)
    # FAO-56 p. 197: 5 % less evaporation for each 10 % of the surface under an organic mulch
    np.testing.assert_allclose((crop.evaporation_reduction, crop.residue_reduction), (0.20, 0.40), rtol=1e-12)


def test_the_soil_columns_reach_the_soil(small):
    change(
        small,
        "Potato Flat",
        saturation_percent="43",
        drainage_fraction="0.6",
        curve_number="75",
        adjust_curve_number="Yes",
        soil_salinity_dS_per_m="1.2",
        restricting_depth_ft="5",
        water_table_depth_cm="240",
        capillary_a="2.5",
        capillary_n="2",
    )
    change(small, "Bean Corner", intake_rate_mm_per_h="10")
    folder = read_folder(small)
    assert not folder.faults
    soil = folder.fields["Potato Flat"].soil
    assert (soil.saturation, soil.drainage_fraction, soil.curve_number) == (0.43, 0.6, 75.0)
    assert (soil.adjust_curve_number, soil.soil_salinity) == (1.0, 1.2)
    assert (soil.capillary_a, soil.capillary_n) == (2.5, 2.0)
    np.testing.assert_allclose(
        (soil.restricting_depth, soil.water_table_depth), (5 * FOOT_M, 2.4), rtol=1e-12
    )
    assert folder.fields["Bean Corner"].soil.intake_rate == 10.0


def test_all_options_at_once_run_and_close(small, tmp_path):
    change(
        small,
        "Potato Flat",
        saturation="0.43",
        drainage_fraction="0.6",
        curve_number="75",
        adjust_curve_number="yes",
        water_table_depth_m="2.4",
        capillary_a="2.5",
        capillary_n="2",
        killing_frost_degC="-2",
        organic_mulch_cover="0.3",
    )
    run = run_tables(small, out=tmp_path / "out")
    assert run.faults.empty
    assert list(run.ledger["field"]) == ["Mill Wheat", "Potato Flat", "Bean Corner"]
    assert (run.ledger[["root_zone_residual_mm", "profile_residual_mm"]].abs() <= 1e-6).all(axis=None)
    daily = pd.read_csv(run.out / "daily_balance.csv")
    own = daily[daily["field"] == "Potato Flat"]
    assert (own["capillary_rise_mm"] > 0).any()
    assert (own["excess_water_mm"] > 0).any()
    assert (daily.loc[daily["field"] == "Mill Wheat", ["capillary_rise_mm", "excess_water_mm"]] == 0).all(
        axis=None
    )


def test_degree_days_in_fahrenheit_are_those_in_celsius(small):
    stages = ("initial", "development", "mid_season", "late_season")
    heat = dict(zip(stages, (250, 350, 500, 300), strict=True))
    change(small, "Potato Flat", **{f"{key}_heat_degC_days": str(value) for key, value in heat.items()})
    change(small, "Potato Flat", base_temperature_degC="7", upper_temperature_degC="30", unfinished="no")
    celsius = read_folder(small).fields["Potato Flat"].crop
    change(small, "Potato Flat", **{f"{key}_heat_degC_days": "" for key in heat})
    rows = [
        row
        | {
            f"{key}_heat_degF_days": str(1.8 * value) if row["field"] == "Potato Flat" else ""
            for key, value in heat.items()
        }
        for row in rows_of(small / "fields.csv")
    ]
    write_rows(
        small / "fields.csv", [{k: v for k, v in row.items() if not k.endswith("degC_days")} for row in rows]
    )
    fahrenheit = read_folder(small).fields["Potato Flat"].crop
    assert celsius.stage_days is None
    assert (celsius.base_temperature, celsius.upper_temperature, celsius.unfinished) == (7.0, 30.0, 0.0)
    np.testing.assert_array_equal(celsius.stage_degree_days, list(heat.values()))
    np.testing.assert_allclose(fahrenheit.stage_degree_days, celsius.stage_degree_days, rtol=1e-12)


def test_a_crop_by_degree_days_is_its_single_simulation(small, tmp_path):
    heat = (250.0, 350.0, 500.0, 300.0)
    names = ("initial", "development", "mid_season", "late_season")
    change(
        small,
        "Potato Flat",
        **{f"{name}_heat_degC_days": str(h) for name, h in zip(names, heat, strict=True)},
    )
    change(small, "Potato Flat", base_temperature_degC="7", last_date="")
    run = run_tables(small, out=tmp_path / "out")
    assert run.faults.empty
    crop = wb.Crop.from_handbook("potato", planted="2025-04-12", region="Idaho", climate=(2.1, 29.0))
    crop = dataclasses.replace(crop, stage_days=None, stage_degree_days=heat, base_temperature=7.0)
    season = wb.simulate(station("bottomland", 38.5, 64.0), crop, wb.Soil.from_handbook("sandy loam"))
    of_batch = run.season("Potato Flat")
    np.testing.assert_array_equal(of_batch["crop_stage"].values, season["crop_stage"].values)
    np.testing.assert_array_equal(of_batch["kcb"].values, season["kcb"].values)


def test_weather_that_a_crop_follows_and_the_file_lacks(small):
    path = small / "weather_bottomland.csv"
    write_rows(
        path, [{"date": r["date"], "et_ref_short_mm": "5", "rain_mm": r["rain_mm"]} for r in rows_of(path)]
    )
    change(small, "Potato Flat", killing_frost_degC="-2")
    ((name, fault),) = read_folder(small).faults
    assert name == "Potato Flat"
    assert fault.what == "weather_bottomland.csv"
    assert fault.problem == "has no column of tmin"
    assert fault.mend == "add tmin_degC: the crop develops by heat or ends by frost"


# ------------------------------------------------------------------------------------- rotations and cuttings
def test_a_rotation_is_its_single_simulation(demo):
    """Ford Ground put together by hand from the same handbook and files."""
    climate = (2.1, 29.0)
    wheat = wb.Crop.from_handbook(
        "winter wheat (non-frozen soils)", planted="2024-11-12", region="Calif", climate=climate
    ).with_residue(0.7)
    beans = wb.Crop.from_handbook(
        "dry beans", planted="2025-06-10", region="Pakistan, Calif", climate=climate
    )
    season = wb.simulate(
        station("bottomland", 38.5, 64.0),
        wb.Rotation(crops=(wheat, beans)),
        wb.Soil.from_handbook("silt loam"),
        wb.System.from_handbook("overhead sprinklers", area=10.0, flow=110.0),
        wb.Rule(
            allowable_depletion=0.4, min_depth=12.0, max_depth=35.0, min_interval=3.0, last_date="2025-09-10"
        ),
        irrigation=record("Ford Ground"),
        recorded_until="2025-07-14",
        initial_depletion=10.0,
        initial_depletion_below=30.0,
    )
    of_batch = demo.season("Ford Ground")
    for name in season.data_vars:
        np.testing.assert_array_equal(of_batch[name].values, season[name].values, err_msg=str(name))
    assert set(season["crop_number"].values) == {0.0, 1.0, 2.0}


def test_a_forage_begins_again_on_the_day_after_each_cutting(demo):
    season = demo.season("Hay Bottom")
    cut = ["2025-05-12", "2025-06-11", "2025-07-11", "2025-08-10", "2025-09-09", "2025-10-09"]
    for number, day in enumerate(pd.to_datetime(cut), start=2):
        assert int(season["crop_number"].sel(time=day)) == number
        after = season.sel(time=day + pd.Timedelta(days=1))
        assert (int(after["crop_number"]), int(after["crop_stage"])) == (number + 1, 1)
        # FAO-56 Table 17, alfalfa hay in individual cutting periods: Kcb ini 0.30
        assert float(after["kcb"]) == 0.30
    # the roots of a cut stand do not begin anew: FAO-56 Table 22, alfalfa for hay, the smaller of 1 to 2 m
    assert (season["root_depth"] == 1.0).all()


def test_a_cut_annual_keeps_its_roots(small):
    change(small, "Potato Flat", cuttings="2025-06-20")
    first, regrowth = read_folder(small).fields["Potato Flat"].crops
    assert float(first.root_depth.sel(extent="start")) == 0.2
    assert regrowth.root_depth == float(first.root_depth.sel(extent="full"))
    assert regrowth.planted == np.datetime64("2025-06-21")


CROPS = "field,crop,planted,region,root_depth_cm\n"


@pytest.mark.parametrize(
    ("lines", "what", "where"),
    [
        (["Potato Flat,potatto,2025-04-12,,"], "crops.csv, crop", "line 2"),
        (
            ["Potato Flat,potato,2025-04-12,Idaho,", "Potato Flat,dry beans,,,"],
            "crops.csv, planted",
            "line 3",
        ),
        (["Potato Flat,potato,2025-04-12,Idaho,sixty"], "crops.csv, root_depth_cm", "line 2"),
        (
            ["Potato Flat,dry beans,2025-08-12,,", "Potato Flat,potato,2025-04-12,Idaho,"],
            "crops.csv, planting of crop 2",
            "",
        ),
        (["Potatoe Flat,potato,2025-04-12,Idaho,"], "crops.csv, field 'Potatoe Flat'", "line 2"),
    ],
)
def test_a_fault_in_crops_is_told_by_its_line_and_the_others_run(small, tmp_path, lines, what, where):
    change(small, "Potato Flat", crop="", planted="", region="")
    if "Potatoe" in lines[0]:
        change(small, "Potato Flat", crop="potato", planted="2025-04-12", region="Idaho")
    (small / "crops.csv").write_text(CROPS + "\n".join(lines) + "\n")
    run = run_tables(small, out=tmp_path / "out")
    assert (run.faults["what"][0], run.faults["where"][0]) == (what, where)
    assert {"Mill Wheat", "Bean Corner"} <= set(run.ledger["field"])


def test_crops_in_both_files_are_a_fault(small):
    (small / "crops.csv").write_text(CROPS + "Potato Flat,potato,2025-04-12,Idaho,\n")
    ((name, fault),) = read_folder(small).faults
    assert name == "Potato Flat"
    assert fault.what == "crop, planted, region"
    assert "crops.csv" in fault.problem


def test_the_same_cells_under_another_unit_are_another_crop(small):
    """Lines with the same cells share a description, but the heading says the unit."""
    change(small, "Potato Flat", root_depth_m="0.6")
    change(small, "Bean Corner", crop="", planted="", region="")
    (small / "crops.csv").write_text(CROPS.replace("cm", "ft") + "Bean Corner,potato,2025-04-12,Idaho,0.6\n")
    fields = read_folder(small).fields
    assert float(fields["Potato Flat"].crop.root_depth.sel(extent="full")) == 0.6
    np.testing.assert_allclose(
        float(fields["Bean Corner"].crop.root_depth.sel(extent="full")), 0.6 * FOOT_M, rtol=1e-12
    )


# --------------------------------------------------------------------------------------- layers and particles
def test_a_layered_soil_holds_the_water_of_its_layers(demo):
    # FAO-56 Eq. 82, layer by layer to the roots at 1.2 m, from the water contents in layers.csv
    expected = 1000 * (0.6 * (0.26 - 0.12) + 0.3 * (0.20 - 0.09) + 0.3 * (0.10 - 0.04))
    np.testing.assert_allclose(demo.season("Almond Block")["taw"], expected, rtol=1e-12)


def test_a_soil_by_particles_is_that_of_the_regressions(demo):
    soil = read_folder(DEMO).fields["Salt Corner"].soil
    own = wb.Soil.from_particles(sand=32.0, clay=33.0, organic_matter=1.5)
    for name in ("field_capacity", "wilting_point", "saturation", "rew"):
        assert getattr(soil, name) == getattr(own, name)


def test_own_numbers_go_before_those_by_particles(small):
    change(small, "Potato Flat", soil="", sand_percent="95", clay_percent="2", organic_matter_percent="0.1")
    assert [name for name, _ in read_folder(small).faults] == [
        "Potato Flat"
    ]  # REW by texture is not below TEW
    change(small, "Potato Flat", rew_mm="4", tew_mm="9", field_capacity="0.11")
    soil = read_folder(small).fields["Potato Flat"].soil
    assert (soil.rew, soil.tew, soil.field_capacity) == (4.0, 9.0, 0.11)


LAYERS = "soil,top_cm,bottom_cm,field_capacity_percent,wilting_point_percent,saturation\n"


@pytest.mark.parametrize(
    ("lines", "what", "where"),
    [
        (["a,0,30,20,10,0.4", "a,40,120,25,12,0.4"], "layers.csv, a, layers", "line 3"),
        (["a,0,30,20,10,0.4", "a,20,120,25,12,0.4"], "layers.csv, a, layers", "line 3"),
        (["a,0,30,20,10,0.4", "a,30,,25,12,0.4"], "layers.csv, a, bottom", "line 3"),
        (["a,0,30,20,10,0.4", "a,30,120,25,12,"], "layers.csv, a, field_capacity, wil", "line 3"),
        (["a,0,30,twenty,10,0.4"], "layers.csv, a, field_capacity_percent", "line 2"),
        (["a,0,30,10,20,0.4"], "layers.csv, a, wilting_point", "layer 1"),
        (["a,-5,30,20,10,0.4"], "layers.csv, a, layers, top_m", "line 2"),
    ],
)
def test_a_fault_in_layers_stops_the_fields_of_that_soil_only(small, tmp_path, lines, what, where):
    change(small, "Potato Flat", soil="a", rew_mm="8")
    (small / "layers.csv").write_text(LAYERS + "\n".join(lines) + "\n")
    run = run_tables(small, out=tmp_path / "out")
    assert set(run.faults["field"]) == {"Potato Flat"}
    assert run.faults["what"][0].startswith(what)
    assert run.faults["where"][0] == where
    assert list(run.ledger["field"]) == ["Mill Wheat", "Bean Corner"]


def test_layers_of_different_numbers_stand_side_by_side(small, tmp_path):
    change(small, "Potato Flat", soil="a", rew_mm="8")
    change(small, "Mill Wheat", soil="b", rew_mm="8")
    lines = [
        "a,0,30,20,10,0.4",
        "a,30,120,25,12,0.4",
        "b,60,200,30,14,0.45",
        "b,0,40,28,13,0.45",
        "b,40,60,20,8,0.4",
    ]
    (small / "layers.csv").write_text(LAYERS + "\n".join([*lines, "c,0,100,25,12,0.4"]) + "\n")
    run = run_tables(small, out=tmp_path / "out")
    assert run.faults.empty
    assert "layers.csv: no field has the soil 'c'" in run.notes
    # FAO-56 Eq. 82, layer by layer to 1.2 m (Mill Wheat) and 0.4 m (potato, Table 22)
    wheat = 1000 * (0.4 * (0.28 - 0.13) + 0.2 * (0.20 - 0.08) + 0.6 * (0.30 - 0.14))
    potato = 1000 * (0.3 * (0.20 - 0.10) + 0.1 * (0.25 - 0.12))
    np.testing.assert_allclose(float(run.season("Mill Wheat")["taw"].max()), wheat, rtol=1e-12)
    np.testing.assert_allclose(float(run.season("Potato Flat")["taw"].max()), potato, rtol=1e-12)


def test_water_contents_beside_layers_are_a_fault(small):
    change(small, "Potato Flat", soil="a", rew_mm="8", field_capacity="0.2")
    (small / "layers.csv").write_text(LAYERS + "a,0,150,20,10,0.4\n")
    ((_, fault),) = read_folder(small).faults
    assert (fault.what, fault.problem) == ("field_capacity", "stands beside layers of the soil")


# ------------------------------------------------------------------------------------------ rain that runs off
def test_runoff_and_intensity_of_the_weather(small, tmp_path):
    change(small, "Bean Corner", intake_rate_mm_per_h="8")
    (small / "rain.csv").unlink()
    path = small / "weather_bench.csv"
    rows = [{key: cell for key, cell in row.items() if "intensity" not in key} for row in rows_of(path)]
    write_rows(path, [row | {"rain_intensity_in_per_h": "0.5"} for row in rows])
    path = small / "weather_bottomland.csv"
    write_rows(path, [row | {"runoff_mm": f"{0.25 * float(row['rain_mm']):.4f}"} for row in rows_of(path)])
    run = run_tables(small, out=tmp_path / "out")
    assert run.faults.empty
    beans, potato = run.season("Bean Corner"), run.season("Potato Flat")
    # rain (1 - intake / intensity): the part that falls faster than the soil takes it in; by definition
    np.testing.assert_allclose(
        beans["runoff"], beans["rain"] * (1 - 8 / (0.5 * INCH_MM)), rtol=1e-9, atol=1e-12
    )
    np.testing.assert_allclose(potato["runoff"], 0.25 * potato["rain"], atol=1e-4)


@pytest.mark.parametrize(
    ("cell", "problem"), [("", "is blank"), ("-1", "is negative"), ("much", "is not a number")]
)
def test_runoff_that_is_none_stops_the_station(small, cell, problem):
    add_columns(small, "bench", runoff_mm="0")
    path = small / "weather_bench.csv"
    rows = rows_of(path)
    rows[40]["runoff_mm"] = cell
    write_rows(path, rows)
    (fault,) = [fault for name, fault in read_folder(small).faults if not name]
    assert fault.what.startswith("weather_bench.csv, runoff")
    assert (fault.problem, fault.where) == (problem, "line 42")


def test_runoff_beside_a_curve_number_stops_that_field(small, tmp_path):
    add_columns(small, "bottomland", runoff_mm="0")
    change(small, "Potato Flat", curve_number="75")
    run = run_tables(small, out=tmp_path / "out")
    assert set(run.faults["field"]) == {"Potato Flat"}
    assert "beside a curve number" in run.faults["problem"][0]


def test_an_intensity_whose_name_says_another_unit_is_asked_about():
    days = pd.date_range("2025-05-01", periods=2)
    table = pd.DataFrame({"date": days, "tmin": 5.0, "tmax": 20.0, "Intensity (in/h)": 0.5})
    columns = {"rain_intensity": "Intensity (in/h)"}
    with pytest.raises(wb.InputError, match="its name states the unit 'in/h'"):
        wb.read_weather(table, latitude=40.0, elevation=100.0, columns=columns)
    told = wb.read_weather(
        table, latitude=40.0, elevation=100.0, columns=columns, units={"rain_intensity": "in/h"}
    )
    np.testing.assert_allclose(told["rain_intensity"], 0.5 * INCH_MM, rtol=1e-12)


# ------------------------------------------------------------------------------------------------ salt and yield
def test_salt_takes_its_share(demo):
    # FAO-56 Eq. 89 with Table 23, peppers (threshold 1.5 to 1.7, slope 12 to 14) and Table 24 (Ky 1.1), at 2.6 dS/m
    expected = 1 - 13 / (100 * 1.1) * (2.6 - 1.6)
    season = demo.season("Salt Corner")
    stands = season["crop_stage"] > 0
    np.testing.assert_allclose(season["salt_factor"].where(stands).max(), expected, rtol=1e-12)
    note = demo.week.set_index("field")["note"]["Salt Corner"]
    assert "held back by salt, watered or not" in note


def test_salt_is_told_of_the_field_that_it_holds_back(small, tmp_path):
    # FAO-56 Table 23: potato is held back above 1.7 dS/m, wheat above 6
    for name in ("Potato Flat", "Mill Wheat"):
        change(small, name, soil_salinity_dS_per_m="3")
    run = run_tables(small, out=tmp_path / "out", today="2025-05-01")
    assert any(season.sizes["field"] == 2 for season in run.seasons)
    assert run.season("Mill Wheat")["crop_stage"].sel(time="2025-05-01") > 0
    notes = run.week.set_index("field")["note"]
    assert "held back by salt" in notes["Potato Flat"]
    assert "salt" not in notes["Mill Wheat"]


def test_a_watering_that_takes_longer_than_its_day_is_told(demo):
    ahead = demo.events[demo.events["date"].between(TODAY, TODAY + pd.Timedelta(days=6))]
    longest = ahead.groupby("field")["hours"].max()
    notes = demo.week.set_index("field")["note"]
    assert {name for name in notes.index if "is counted on one day" in notes[name]} == set(
        longest[longest > 24].index
    )
    assert "a watering of 42 hours is counted on one day" in notes["North Pivot"]
    assert longest["Potato Flat"] < 24
    assert "a watering of 42 hours" in " ".join(report(demo).split())


def test_a_field_that_is_due_and_waits_says_so(demo):
    week = demo.week.set_index("field")
    due = week["crop_stands"] & (week["depletion_mm"] >= week["allowable_mm"])
    waits = {name for name in week.index if "due, but not irrigated" in week["note"][name]}
    assert waits == {"Hillside Vines", "Ford Ground"} == set(week.index[due & (week["next_date"] != TODAY)])
    for name in waits:  # watered less than three days before, the fewest that their rules allow
        last = demo.events.query("field == @name and date < @TODAY")["date"].max()
        assert week["next_date"][name] == last + pd.Timedelta(days=3)
        assert "day 1 since the last irrigation, and the rule waits for day 3" in week["note"][name]


def test_mulch_lowers_evaporation_by_its_cover(demo):
    # FAO-56 p. 197: 5 % for each 10 % of the surface; 60 % of Apple Terrace is under straw
    season = demo.season("Apple Terrace")
    stands = season["crop_stage"] > 0
    np.testing.assert_allclose(season["evaporation_factor"].where(stands, drop=True), 0.70, rtol=1e-12)


def test_every_crop_has_a_line_of_yield(demo):
    crops = {row["field"]: 1 for row in rows_of(DEMO / "fields.csv")} | {"Ford Ground": 2, "Hay Bottom": 8}
    assert list(demo.yields["field"]) == [name for name, count in crops.items() for _ in range(count)]
    told = demo.yields.set_index(["field", "crop_number"])
    own = wb.relative_yield(demo.season("Ford Ground"))
    for number, row in own.set_index("crop_number").iterrows():
        for name in ("et_mm", "et_unstressed_mm", "relative_yield"):
            np.testing.assert_allclose(told.loc[("Ford Ground", number), name], row[name], rtol=1e-12)
    # FAO-56 Eq. 90 with Ky 1.10 (Table 24, potato)
    row = told.loc[("Potato Flat", 1)]
    expected = 1 - 1.10 * (1 - row["et_mm"] / row["et_unstressed_mm"])
    np.testing.assert_allclose(row["relative_yield"], expected, rtol=1e-12)


def test_a_yield_that_cannot_be_known_stays_open_and_says_so(demo):
    # FAO-56 Table 24 has no apples
    row = demo.yields.set_index("field").loc["Apple Terrace"]
    assert np.isnan(row["relative_yield"])
    assert not row["within_limits"]
    assert row["note"].startswith("no yield response is known: give yield_response")
    assert 0 < row["et_mm"] <= row["et_unstressed_mm"]
    assert demo.yields["relative_yield"].notna().sum() == len(demo.yields) - 1


def test_a_crop_planted_after_the_weather_has_its_line(small, tmp_path):
    change(small, "Potato Flat", crop="", planted="", region="")
    lines = ["Potato Flat,potato,2025-04-12,Idaho,", "Potato Flat,dry beans,2026-06-10,,"]
    (small / "crops.csv").write_text(CROPS + "\n".join(lines) + "\n")
    run = run_tables(small, out=tmp_path / "out", units="us")
    assert run.faults.empty
    own = run.yields[run.yields["field"] == "Potato Flat"]
    assert list(own["crop"]) == ["potato", "dry beans"]
    assert list(own["note"]) == ["", "does not stand on any day of the season"]
    assert list(own["within_limits"]) == [True, False]
    assert {"et_in", "et_unstressed_in"} <= set(own.columns)
    assert not np.isnan(own["relative_yield"].iloc[0])


# --------------------------------------------------------------------- what the system loses, and unevenness
def cans_file(folder: Path, lines: list[str], columns: str = "field,can,depth_mm,note") -> None:
    (folder / "cans.csv").write_text("\n".join([columns, *lines]) + "\n")


def pivot_cans() -> pd.DataFrame:
    cans = pd.read_csv(DEMO / "cans.csv", keep_default_na=False)
    return cans.assign(volume_mL=pd.to_numeric(cans["volume_mL"]))


def test_an_uneven_field_of_the_batch_is_its_single_simulation_bit_by_bit(demo):
    """North Pivot put together by hand from the same handbook and files."""
    cans = pivot_cans()
    test = CatchCans(
        volumes=cans["volume_mL"],
        can_diameter="10 cm",
        duration=36.0,
        distance=cans["distance_m"].astype(float),
        note=[note or None for note in cans["note"]],
    )
    share, weight = test.pattern()
    system = wb.System(
        leak_fraction=0.02,
        spray_fraction=0.08,
        spot_share=share,
        spot_weight=weight,
        area=48.0,
        flow=320.0,
        lift=28.0,
        operating_pressure=270.0,
        pump_efficiency=0.68,
    )
    season = wb.simulate(
        station("bottomland", 38.5, 64.0),
        wb.Crop.from_handbook("grain maize", planted="2025-04-22", region="Calif", climate=(2.1, 29.0)),
        wb.Soil.from_handbook("silt loam"),
        system,
        wb.Rule(
            allowable_depletion=0.4,
            min_depth=10.0,
            max_depth=25.0,
            min_interval=2.0,
            last_date="2025-09-05",
            adequacy=0.75,
        ),
        irrigation=record("North Pivot"),
        recorded_until="2025-07-14",
        initial_depletion=10.0,
        initial_depletion_below=25.0,
    )
    of_batch = demo.season("North Pivot")
    for name in season.data_vars:
        np.testing.assert_array_equal(of_batch[name].values, season[name].values, err_msg=str(name))
    own = demo.performance[demo.performance["field"] == "North Pivot"].drop(columns="field")
    pd.testing.assert_frame_equal(own.reset_index(drop=True), performance(season), check_exact=True)


def test_the_cans_of_the_demo_are_rings(demo):
    season = demo.season("North Pivot")
    cans = pivot_cans()
    used = cans[cans["note"] == ""]
    assert (season.sizes["spot"], len(cans)) == (17, 18)  # one was spilled
    ring = used["distance_m"].to_numpy(dtype=float)
    volume = used["volume_mL"].to_numpy(dtype=float)
    weight = season["spot_weight"].to_numpy()
    # geometry: cans at one spacing stand for rings whose areas are as their distances; those at the ends
    # may stand for another width
    inner = slice(1, -1)
    np.testing.assert_allclose(weight[inner] / weight[1], ring[inner] / ring[1], rtol=1e-9)
    mean = np.sum(weight * volume)
    np.testing.assert_allclose(season["spot_share"], volume / mean, rtol=1e-9)
    told = demo.uniformity.set_index("quantity")["value"]
    # volume over the opening of a can 10 cm wide; 1 mL/cm2 are 10 mm
    np.testing.assert_allclose(told["mean depth"], 10 * mean / (np.pi / 4 * 10**2), rtol=1e-9)
    np.testing.assert_allclose(told["application rate"], told["mean depth"] / 36, rtol=1e-12)
    # Christiansen (1942), weighted by area as Heermann and Hein (1968) have it
    expected = 1 - np.sum(weight * abs(volume - mean)) / mean
    np.testing.assert_allclose(told["Christiansen uniformity"], expected, rtol=1e-9)
    assert (demo.uniformity["low"] <= demo.uniformity["value"]).all()
    assert (demo.uniformity["value"] <= demo.uniformity["high"]).all()


def test_what_of_the_cans_calls_for_a_look_is_listed_and_printed(demo):
    own = demo.can_findings[demo.can_findings["field"] == "North Pivot"].set_index("can")
    assert own.loc["7", "finding"] == "spilled"
    assert np.isnan(own.loc["7", "depth_mm"])
    assert "may need a tune-up" in own["why"].iloc[0]
    text = report(demo)
    assert text.index("Look at:") < text.index("can 7 spilled")


def test_the_daily_table_has_the_mean_of_an_uneven_field(demo):
    season = demo.season("North Pivot")
    daily = pd.read_csv(demo.out / "daily_balance.csv")
    own = daily[daily["field"] == "North Pivot"]
    for name in ("depletion", "percolation", "transpiration"):
        mean = (season[name] * season["spot_weight"]).sum("spot")
        # the file holds ten significant digits
        np.testing.assert_allclose(own[f"{name}_mm"], mean, rtol=1e-9, atol=1e-9)


def test_the_links_are_a_chain(demo):
    """Each link takes its part of what arrives: arithmetic, by the definition of the links."""
    season = demo.season("North Pivot")
    gross = season["irrigation_gross"]
    np.testing.assert_allclose(season["leak_loss"], 0.02 * gross, rtol=1e-12)
    np.testing.assert_allclose(season["spray_loss"], 0.08 * 0.98 * gross, rtol=1e-12)
    np.testing.assert_allclose(season["irrigation_net"], 0.92 * 0.98 * gross, rtol=1e-12)
    # what comes faster than the soil takes it in runs off: 9 mm/h on 8 mm/h
    season = demo.season("Late Carrots")
    arrives = 0.85 * season["irrigation_gross"]
    np.testing.assert_allclose(season["irrigation_runoff"], arrives * (1 - 8 / 9), rtol=1e-9, atol=1e-12)
    (told,) = [text for text in demo.notes if text.startswith("The handbook's efficiency")]
    assert told.endswith(": North Pivot, Late Carrots")


def test_the_losses_of_every_field_add_up_and_are_those_of_the_field_alone(demo):
    for name, rows in demo.losses.groupby("field", sort=False):
        assert (rows["loss"].iloc[0], rows["loss"].iloc[-1]) == ("pumped", "stored for the crop")
        np.testing.assert_allclose(rows["depth_mm"].iloc[1:].sum(), rows["depth_mm"].iloc[0], atol=1e-9)
        alone = losses(demo.season(name))[rows.columns.drop("field")]
        pd.testing.assert_frame_equal(rows.drop(columns="field").reset_index(drop=True), alone)
    kinds = demo.losses.set_index(["field", "loss"])["kind"]
    assert kinds["North Pivot", "leaks"] == "waste"
    assert kinds["Salt Corner", "leaching"] == "intended"


def test_an_efficiency_is_an_outcome(demo):
    own = demo.performance.set_index("field")
    # where no irrigation percolates the handbook's figure comes back: travelling gun 65 %
    np.testing.assert_allclose(own.loc["River Meadow", "application_efficiency"], 0.65, rtol=1e-9)
    np.testing.assert_allclose(own.loc["North Pivot", "delivered"], 0.92 * 0.98, rtol=1e-9)
    assert own.loc["North Pivot", "application_efficiency"] < own.loc["North Pivot", "delivered"]


def test_the_pumps_energy_is_that_of_physics(demo):
    rows = demo.events[demo.events["field"] == "Hillside Vines"]
    # rho g h V and p V over the efficiency of the pump; 3.6 MJ are a kWh
    joule = rows["volume_m3"] * (1000 * g * 65 + 210e3) / 0.6
    np.testing.assert_allclose(rows["energy_kWh"], joule / 3.6e6, rtol=1e-9)
    assert demo.events.loc[demo.events["field"] == "South Pivot", "energy_kWh"].isna().all()


def test_drip_refills_what_it_wets(demo):
    season = demo.season("Hillside Vines")
    np.testing.assert_allclose(season["spot_weight"], [0.4, 0.6], rtol=1e-12)
    np.testing.assert_allclose(season["spot_share"], [2.5, 0.0], rtol=1e-12)
    watered = (season["irrigation_net"] > 0) & (season["rain"] == 0)
    change_of_dry = season["depletion"].isel(spot=1).diff("time").where(watered, drop=True)
    assert change_of_dry.size > 20
    assert (change_of_dry >= 0).all()  # no irrigation reaches the dry part


def test_columns_of_the_system_in_us_units(small):
    parts = {"leak_fraction": "0.03", "conveyance_fraction": "0.05", "canopy_fraction": "0.02"}
    metric = {**parts, "lift_m": "30", "operating_pressure_kPa": "280", "pump_efficiency": "0.7"}
    metric |= {"adequacy": "0.8", "watch_driest_quarter": "yes"}
    change(small, "Potato Flat", **metric)
    first = read_folder(small).fields["Potato Flat"]
    us = {f"{name}_percent": str(100 * float(cell)) for name, cell in parts.items()}
    us |= {"lift_ft": str(30 / FOOT_M), "operating_pressure_psi": str(280 / PSI_KPA)}
    us |= {"pump_efficiency_percent": "70", "adequacy_percent": "80"}
    rows = rows_of(small / "fields.csv")
    for row in rows:
        for name in set(metric) - {"watch_driest_quarter"}:
            del row[name]
        row |= {name: cell if row["field"] == "Potato Flat" else "" for name, cell in us.items()}
    write_rows(small / "fields.csv", rows)
    second = read_folder(small).fields["Potato Flat"]
    for name in (*parts, "lift", "operating_pressure", "pump_efficiency"):
        # seven digits of the pound-force per square inch
        np.testing.assert_allclose(getattr(second.system, name), getattr(first.system, name), rtol=2e-7)
    np.testing.assert_allclose((first.system.lift, first.system.operating_pressure), (30, 280))
    assert first.system.efficiency is None
    for rule in (first.rule, second.rule):
        assert (rule.adequacy, rule.watch_driest_quarter) == (0.8, 1.0)


def test_leaks_stand_beside_the_handbooks_efficiency(small):
    change(small, "Potato Flat", leak_fraction="0.04")
    folder = read_folder(small)
    system = folder.fields["Potato Flat"].system
    assert (system.efficiency, system.leak_fraction) == (0.7, 0.04)  # overhead sprinklers: 70 %
    assert not [note for note in folder.notes if "handbook's efficiency" in note]


EVEN = [f"Potato Flat,{can},{depth}," for can, depth in enumerate((9, 10, 12, 11, 10, 8), 1)]


def test_cans_in_inches_are_those_in_millimetres(small):
    change(small, "Potato Flat", spray_fraction="0.1")
    cans_file(small, EVEN)
    metric = read_folder(small).fields["Potato Flat"].system
    cells = (line.split(",") for line in EVEN)
    lines = [f"{field},{can},{float(depth) / INCH_MM}," for field, can, depth, _ in cells]
    cans_file(small, lines, "field,can,depth_in,note")
    us = read_folder(small).fields["Potato Flat"].system
    np.testing.assert_allclose(us.spot_share, metric.spot_share, rtol=1e-12)
    np.testing.assert_allclose(metric.spot_share, np.array([9, 10, 12, 11, 10, 8]) / 10, rtol=1e-12)


def test_cans_flow_and_a_stopwatch_measure_what_is_delivered(small, tmp_path):
    lines = [f"{line}{'600' if place == 0 else ''}" for place, line in enumerate(EVEN)]
    cans_file(small, lines, "field,can,depth_mm,duration_min")
    run = run_tables(small, out=tmp_path / "out")
    assert run.faults.empty
    # 130 m3/h on 11 ha give 11.8 mm in 10 h, of which the cans caught 10 mm
    expected = 10 / (130 * 10 / (10 * 11))
    season = run.season("Potato Flat")
    np.testing.assert_allclose(season["irrigation_net"], expected * season["irrigation_gross"], rtol=1e-12)
    assert "Potato Flat" in " ".join(run.notes)


def test_fields_with_other_numbers_of_spots_run_side_by_side(small, tmp_path):
    for name in SMALL:
        change(
            small, name, system="overhead sprinklers", efficiency="", wetted_fraction="", spray_fraction="0.1"
        )
    change(small, "Bean Corner", wetted_volume="0.5", wetted_fraction="0.4")
    cans_file(small, [*EVEN, *(line.replace("Potato Flat", "Mill Wheat") for line in EVEN[1:])])
    run = run_tables(small, out=tmp_path / "out")
    assert run.faults.empty
    spots = {name: run.season(name).sizes["spot"] for name in SMALL}
    assert spots == {"Potato Flat": 6, "Mill Wheat": 5, "Bean Corner": 2}
    assert (run.ledger[["root_zone_residual_mm", "profile_residual_mm"]].abs() <= 1e-6).all(axis=None)
    assert list(dict.fromkeys(run.uniformity["field"])) == ["Mill Wheat", "Potato Flat"]


def test_uneven_fields_share_a_call(small, tmp_path):
    """Two fields of one form, each with its own cans, are what each is alone."""
    change(small, "Potato Flat", spray_fraction="0.1")
    rows = rows_of(small / "fields.csv")
    (potato,) = (row for row in rows if row["field"] == "Potato Flat")
    write_rows(small / "fields.csv", [*rows, potato | {"field": "Potato Rise", "spray_fraction": "0.05"}])
    other = [f"Potato Rise,{can},{depth}," for can, depth in enumerate((4, 15, 12, 11, 10, 8), 1)]
    cans_file(small, [*EVEN, *other])
    folder = read_folder(small)
    assert not folder.faults
    seasons, _ = simulate_fields(folder)
    (together,) = (season for season in seasons if "Potato Rise" in season["field"])
    assert set(together["field"].values) == {"Potato Flat", "Potato Rise"}
    alone = dataclasses.replace(folder, fields={"Potato Rise": folder.fields["Potato Rise"]})
    ((single,), _) = simulate_fields(alone)
    pair = (single.isel(field=0), together.sel(field="Potato Rise"))
    xr.testing.assert_equal(*xr.broadcast(*pair))


@pytest.mark.parametrize(
    ("columns", "lines", "words"),
    [
        ("field,can,depth_mm,note", EVEN[:3], "catch cans: are too few; found 3 usable of 3"),
        ("field,can,volume_mL,note", EVEN, "volumes: need can_diameter beside them"),
        ("field,can,depth_mm,note", [EVEN[0] + "upset", *EVEN[1:]], "note: is not known"),
        ("field,can,depth_mm,note", [f"Potato Flat,{can},0," for can in range(6)], "caught nothing at all"),
        ("field,can,depth_mm,note", [*EVEN, "Potato Flat,7,-2,"], "depth_mm: is outside its range; found -2"),
        ("field,can,depth_mm,note", [*EVEN, "Potato Flat,7,,"], "catch cans, depths: "),
        ("field,can,depth_mm,note", [*EVEN, "Potato Flat,6,9,"], "can '6': stands twice"),
        ("field,can,depth_mm,volume_mL", [f"{line}90" for line in EVEN], "depths, volumes: both or none"),
        (
            "field,can,volume_mL,can_diameter_cm",
            [f"{line}{10 + (place > 3)}" for place, line in enumerate(EVEN)],
            "can_diameter: is not the same in all lines of the field",
        ),
    ],
)
def test_what_is_wrong_with_cans_is_said_and_the_others_run(small, tmp_path, columns, lines, words):
    change(small, "Potato Flat", delivered_fraction="0.9")
    cans_file(small, lines, columns)
    run = run_tables(small, out=tmp_path / "out")
    ((name, what, problem, value, where),) = run.faults[["field", "what", "problem", "value", "where"]].values
    assert name == "Potato Flat"
    assert what.startswith("cans.csv, ")
    assert words in f"{what}: {problem}; found {value}"
    assert where.startswith("line ")
    assert list(run.ledger["field"]) == ["Mill Wheat", "Bean Corner"]


def test_cans_beside_an_own_efficiency_count_a_loss_twice(small):
    change(small, "Potato Flat", efficiency="0.7")
    cans_file(small, [f"{line}10" for line in EVEN], "field,can,depth_mm,duration_h")
    faults = [fault.problem for _, fault in read_folder(small).faults]
    assert any("unevenness would count twice" in problem for problem in faults)


def test_links_beside_a_delivered_fraction_count_a_loss_twice(small):
    change(small, "Potato Flat", delivered_fraction="0.9", spray_fraction="0.1")
    cans_file(small, EVEN)
    ((_, fault),) = read_folder(small).faults
    assert fault.what == "system, delivered_fraction, spray_fraction"
    assert "count a loss twice" in fault.problem


def test_cans_that_cannot_measure_what_is_delivered_say_what_lacks(small):
    cans_file(small, EVEN)
    ((_, fault),) = read_folder(small).faults
    assert "without duration it cannot be measured" in fault.problem


def test_cans_of_an_unknown_field_are_not_lost(small, tmp_path):
    cans_file(small, [line.replace("Potato", "Potatoe") for line in EVEN])
    run = run_tables(small, out=tmp_path / "out")
    assert list(run.faults["field"]) == ["Potatoe Flat"]
    assert len(run.ledger) == 3


def test_an_adequacy_that_no_water_reaches_stops_its_field(small, tmp_path):
    change(small, "Potato Flat", spray_fraction="0.1", adequacy="1")
    cans_file(small, [*EVEN, "Potato Flat,7,0,"])
    run = run_tables(small, out=tmp_path / "out")
    assert list(run.faults["field"]) == ["Potato Flat"]
    assert "asks for a part of the field that no water reaches" in run.faults["problem"][0]
    assert len(run.ledger) == 2


# --------------------------------------------------------------------------------------------- planned waterings
PLANNED = "date,field,net_mm,gross_mm,purpose\n"


def test_what_is_planned_comes_on_top_of_the_rule(demo):
    own = demo.events[demo.events["field"] == "Salt Corner"].set_index("date")
    row = own.loc["2025-09-16"]
    assert (row["gross_mm"], row["purpose"], row["recorded"]) == (60.0, "leaching", False)
    season = demo.season("Salt Corner")
    # drip: 90 % by the handbook
    np.testing.assert_allclose(season["leaching_irrigation"].sel(time="2025-09-16"), 54.0, rtol=1e-12)


def test_a_plan_does_not_hold_the_rule_back(small, tmp_path):
    before = run_tables(small, out=tmp_path / "before")
    due = before.events[before.events["field"] == "Potato Flat"].set_index("date")["net_mm"]
    day = due[due.index >= TODAY].index[0]
    (small / "planned.csv").write_text(f"{PLANNED}{day:%Y-%m-%d},Potato Flat,30,,leaching\n")
    after = run_tables(small, out=tmp_path / "after")
    own = after.events[after.events["field"] == "Potato Flat"].set_index("date")["net_mm"]
    np.testing.assert_allclose(own[day], due[day] + 30, rtol=1e-12)
    rest, same = (run.events[run.events["field"] != "Potato Flat"] for run in (before, after))
    pd.testing.assert_frame_equal(same.reset_index(drop=True), rest.reset_index(drop=True), check_exact=True)


def test_a_plan_of_days_gone_by_is_left_out_with_a_note(small):
    days = ("2025-07-14", "2025-07-15")
    (small / "planned.csv").write_text(PLANNED + "".join(f"{day},Potato Flat,30,,\n" for day in days))
    folder = read_folder(small)
    assert not folder.faults
    assert list(folder.planned["date"]) == [TODAY]
    (note,) = folder.notes
    assert note.startswith("planned.csv: 1 line dated before 2025-07-15 left out")


def test_without_a_today_a_plan_within_the_record_is_a_fault(small):
    (small / "farm.csv").unlink()
    (small / "planned.csv").write_text(f"{PLANNED}2025-06-20,Potato Flat,30,,leaching\n")
    ((name, fault),) = read_folder(small).faults
    assert (name, fault.what) == ("Potato Flat", "planned.csv, date")
    assert fault.problem == "lies within the record of the field"


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("2026-06-30,Potato Flat,30,,", "planned.csv, date: lies outside the days"),
        ("2025-08-30,Potato Flat,30,40,", "planned.csv, net, gross: both stand in the line"),
        ("2025-08-30,Potato Flat,,-4,", "planned.csv, gross: is negative"),
    ],
)
def test_a_bad_line_of_the_plan_is_a_fault_of_its_field(small, line, words):
    (small / "planned.csv").write_text(PLANNED + line + "\n")
    ((name, fault),) = read_folder(small).faults
    assert name == "Potato Flat"
    assert words in f"{fault.what}: {fault.problem}"


# --------------------------------------------------------------------------------------- flow and pressure
def test_the_zone_that_lets_more_through_is_found_and_the_other_is_not(demo):
    """The demo widens the outlets of the northern half by a tenth from 2025-06-01 on (make_records.py)."""
    assert set(demo.findings["zone"]) == {"Almond Block north"}
    first = demo.findings.iloc[0]
    assert first["finding"] == "leak, break or worn outlets"
    assert pd.Timestamp("2025-06-01") < first["since"] <= first["found"] <= pd.Timestamp("2025-07-05")
    (silent,) = (note for note in demo.notes if "nothing found" in note)
    assert silent.startswith(
        "readings.csv: nothing found in Almond Block south (7 readings would have shown half"
    )
    assert silent.endswith("of all changes of 5 % in flow at the same pressure)")
    assert "Almond Block north: leak, break or worn outlets" in report(demo)


def readings_of(zone: str) -> list[dict[str, str]]:
    return [row for row in rows_of(DEMO / "readings.csv") if row["zone"] == zone]


def test_readings_in_us_units_find_the_same(small):
    rows = readings_of("Almond Block north")
    write_rows(small / "readings.csv", rows)
    metric = read_folder(small).zones.findings
    for row in rows:
        row["flow_gal_per_min"] = str(float(row.pop("flow_m3_per_h")) / (60 * GALLON_M3))
        row["pressure_psi"] = str(float(row.pop("pressure_kPa")) / PSI_KPA)
    write_rows(small / "readings.csv", rows)
    assert len(metric) > 0
    pd.testing.assert_frame_equal(read_folder(small).zones.findings, metric, rtol=1e-6)


def test_a_pressure_without_a_unit_stops_the_run(small, tmp_path):
    (small / "readings.csv").write_text("zone,date,flow_m3_per_h,pressure\nEast,2025-06-01,100,180\n")
    with pytest.raises(wb.InputError, match="the unit belongs in the name: pressure_kPa or pressure_bar or"):
        run_tables(small, out=tmp_path / "out")


def test_a_zone_that_cannot_be_judged_is_a_fault_and_everything_else_runs(small, tmp_path):
    lines = ["East,2025-03-01,100,180,yes", "East,2025-06-01,0,180,", "West,2025-06-01,100,180,"]
    (small / "readings.csv").write_text(
        "\n".join(["zone,date,flow_m3_per_h,pressure_kPa,baseline", *lines]) + "\n"
    )
    run = run_tables(small, out=tmp_path / "out")
    assert set(run.faults["field"]) == {""}
    told = list(zip(run.faults["what"], run.faults["where"], strict=True))
    assert ("readings.csv, zone 'East', flow_m3_per_h", "line 3") in told
    assert ("readings.csv, zone 'West', baseline", "line 4") in told
    assert len(run.ledger) == 3
    assert "  readings.csv, zone 'East', flow_m3_per_h: is outside its range" in report(run)


def test_a_fault_of_a_reading_is_told_by_its_line(small):
    lines = ["East,2025-03-01,100,180,yes", "East,2025-06-01,101,180,", "East,2025-06-08,,,"]
    text = "\n".join(["zone,date,flow_m3_per_h,pressure_kPa,baseline", *lines]) + "\n"
    (small / "readings.csv").write_text(text)
    ((name, fault),) = read_folder(small).faults
    assert (name, fault.where) == ("", "line 4")
    assert "neither flow nor pressure" in fault.problem


def test_a_defect_met_by_a_zone_does_not_lose_the_fields(small, tmp_path, monkeypatch):
    def find_faults(*args, **options):
        message = "a defect"
        raise KeyError(message)

    monkeypatch.setattr("waterbudget.batch.readings.find_faults", find_faults)
    write_rows(small / "readings.csv", readings_of("Almond Block north"))
    run = run_tables(small, out=tmp_path / "out")
    assert list(run.faults["problem"]) == ["failed unexpectedly: KeyError: 'a defect'"]
    assert len(run.ledger) == 3


def test_readings_after_today_are_left_out_with_a_note(small):
    write_rows(small / "readings.csv", readings_of("Almond Block north"))
    zones = read_folder(small, "2025-05-20").zones
    assert zones.findings.empty
    assert "readings.csv: 4 lines dated after 2025-05-20 left out" in zones.notes


def test_findings_of_an_earlier_run_do_not_stay(small, tmp_path):
    write_rows(small / "readings.csv", readings_of("Almond Block north"))
    run_tables(small, out=tmp_path / "out")
    assert (tmp_path / "out" / "findings.csv").exists()
    (small / "readings.csv").unlink()
    run_tables(small, out=tmp_path / "out")
    assert {path.name for path in (tmp_path / "out").iterdir()} == FILES_OUT


# --------------------------------------------------------------------------------- files
def test_a_failure_while_writing_leaves_nothing_behind(small, tmp_path, monkeypatch):
    def fail(*args: object) -> pd.DataFrame:
        message = "the disk is full"
        raise OSError(message)

    monkeypatch.setattr("waterbudget.batch.write.daily_frame", fail)
    place = tmp_path / "results"
    place.mkdir()
    with pytest.raises(OSError, match="the disk is full"):
        run_tables(small, out=place / "out")
    assert list(place.iterdir()) == []


def test_a_later_run_replaces_its_own_files_and_leaves_others(small, tmp_path):
    out = tmp_path / "out"
    change(small, "Bean Corner", crop="")
    run_tables(small, out=out)
    assert (out / "faults.csv").exists()
    (out / "my notes.txt").write_text("mine")
    change(small, "Bean Corner", crop="dry beans")
    run_tables(small, out=out)
    assert {path.name for path in out.iterdir()} == FILES_OUT | {"my notes.txt"}
    assert len(pd.read_csv(out / "ledger.csv")) == 3


def test_results_do_not_go_into_a_file(small, tmp_path):
    (tmp_path / "out").write_text("mine")
    with pytest.raises(wb.InputError, match="is a file"):
        run_tables(small, out=tmp_path / "out")


def test_pictures_are_drawn_one_a_field(small, tmp_path):
    done = []
    run = run_farm(small, out=tmp_path / "out", plots=True, progress=lambda n, total: done.append((n, total)))
    assert {path.name for path in (run.out / "plots").iterdir()} == {
        "Potato_Flat.png",
        "Bean_Corner.png",
        "Mill_Wheat.png",
    }
    assert done[-1] == (3, 3)


def test_pictures_of_similar_names_do_not_overwrite_each_other():
    names = picture_names(["a/b", "A b", "../x", "."])
    assert len({name.lower() for name in names.values()}) == 4
    assert all(os.sep not in name and not name.startswith(".") for name in names.values())


# --------------------------------------------------------------------------------- the command
def command(*arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "waterbudget", "--no-plots", *map(str, arguments)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_command_prints_the_week_and_the_cautions(small, tmp_path):
    done = command(small, "--out", tmp_path / "out")
    assert done.returncode == 0, done.stderr
    for word in (*SMALL, "none due", "shovel", "backflow", "Pumps", "Salty", "Water rights", "Local codes"):
        assert word in done.stdout
    assert (tmp_path / "out" / "events.csv").exists()


def test_the_command_says_which_field_is_at_fault(small, tmp_path):
    change(small, "Potato Flat", efficiency="70")
    done = command(small, "--out", tmp_path / "out", "--units", "us")
    assert done.returncode == 1, done.stderr
    assert "Potato Flat: efficiency: is outside its range" in done.stdout


def test_the_command_gives_2_when_nothing_could_run(tmp_path):
    done = command(tmp_path, "--out", tmp_path / "out")
    assert done.returncode == 2
    assert "fields.csv" in done.stderr
    assert "Traceback" not in done.stderr


def test_bad_usage_gives_2(capsys):
    with pytest.raises(SystemExit) as stopped:
        main([str(DEMO)])
    assert stopped.value.code == 2
    assert "--out" in capsys.readouterr().err


def test_the_printed_list_of_the_demo_has_every_field(demo):
    text = report(demo)
    assert all(name in text for name in demo.week["field"])


# --------------------------------------------------------------------------------- documentation
def test_every_column_is_documented():
    text = (ROOT / "docs" / "farm-folder.md").read_text(encoding="utf-8")
    for file, columns in FILES.items():
        for stem, column in columns.items():
            assert f"`{column.names(stem)[0]}`" in text or f"`{stem}_" in text, (file, stem)
