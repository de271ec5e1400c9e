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

import waterbudget as wb
from waterbudget.__main__ import main, report
from waterbudget.batch import run_farm
from waterbudget.batch.columns import FILES
from waterbudget.batch.folder import read_folder
from waterbudget.batch.groups import simulate_fields
from waterbudget.batch.write import picture_names
from waterbudget.report import events

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "data_demo"
TODAY = pd.Timestamp("2025-07-15")
FILES_OUT = {"events.csv", "ledger.csv", "daily_balance.csv", "week_ahead.csv"}
SMALL = ("Potato Flat", "Bean Corner", "Mill Wheat")

# the inch and the US gallon (231 cubic inches) by definition: NIST Special Publication 811, Appendix B
INCH_MM = 25.4
GALLON_M3 = 231 * 0.0254**3
FOOT_M = 0.3048


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
    """Copy three fields of the demo, of both stations, one with its own gauge."""
    folder = tmp_path / "farm"
    folder.mkdir()
    for path in DEMO.glob("*.csv"):
        shutil.copy(path, folder)
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
    assert len(names) == 13
    assert demo.faults.empty
    assert {path.name for path in demo.out.iterdir()} == FILES_OUT
    for table, file in ((demo.events, "events"), (demo.ledger, "ledger"), (demo.week, "week_ahead")):
        read = pd.read_csv(demo.out / f"{file}.csv")
        assert list(read.columns) == list(table.columns)
        assert len(read) == len(table)
    assert list(demo.ledger["field"]) == names
    assert list(dict.fromkeys(demo.events["field"])) == names
    daily = pd.read_csv(demo.out / "daily_balance.csv", parse_dates=["date"])
    assert len(daily) == 13 * 335
    assert list(dict.fromkeys(daily["field"])) == names
    # design: closure to 1e-9 mm a day and 1e-6 mm a season
    assert (demo.ledger["largest_daily_residual_mm"] <= 1e-9).all()
    assert (demo.ledger[["root_zone_residual_mm", "profile_residual_mm"]].abs() <= 1e-6).all(axis=None)


def test_fields_of_one_form_share_a_call(demo):
    assert len(demo.seasons) < 13
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
        xr.testing.assert_equal(alone.isel(field=0), demo.season(name))


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
    assert list(demo.week["crop"]) == [row["crop"] for row in rows_of(DEMO / "fields.csv")]


def test_the_demo_is_plausible_but_for_its_teaching_cases(demo):
    """No field endlessly stressed or drowned; Gravel Onions and Hillside Vines are described as short of water."""
    taught = {"Gravel Onions", "Hillside Vines"}
    for name in set(demo.ledger["field"]) - taught:
        season = demo.season(name)
        past = season.sel(time=slice(None, "2025-07-14"))
        growing = past["crop_stage"] > 0
        assert float(past["ks"].where(growing).mean()) > 0.9, name
        assert 0.02 < float((past["depletion"] / past["taw"]).where(growing).mean()) < 0.6, name


def test_the_scripts_of_the_demo_make_its_files(tmp_path):
    for path in DEMO.glob("*.py"):
        shutil.copy(path, tmp_path)
    for script in ("make_weather.py", "make_records.py"):
        subprocess.run([sys.executable, script], cwd=tmp_path, check=True)
    for made in tmp_path.glob("*.csv"):
        assert made.read_bytes() == (DEMO / made.name).read_bytes(), made.name


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


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
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
