"""Meter, hours, and readings of flow and pressure: what is taken, given back, and refused in which words."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from waterbudget.errors import InputError
from waterbudget.system.meter import irrigation_from_hours, irrigation_from_meter
from waterbudget.system.readings import (
    COLUMNS,
    DETECTABLE,
    conductance,
    detectable_change,
    find_faults,
    readings_table,
)

METER = [
    {"date": "2024-05-01", "meter_m3": 500},
    {"date": "2024-05-08", "meter_m3": 2500},
    {"date": "2024-05-10", "meter_m3": 2500},
    {"date": "2024-05-12", "meter_m3": 3300},
]
HOURS = [{"date": "2024-05-08", "hours": 10}, {"date": "2024-05-09", "hours": 0}]
AREAS = pd.Series({"north": 10.0, "south": 20.0}).rename_axis("field")
GOOD = [
    {"date": "2024-04-01", "flow_m3_per_h": 100.0, "pressure_kPa": 200.0},
    {"date": "2024-04-02", "flow_m3_per_h": 101.0, "pressure_kPa": 202.0},
    {"date": "2024-04-03", "flow_m3_per_h": 99.0, "pressure_kPa": 198.0},
]


def read(date="2024-05-01", flow=100.0, pressure=200.0):
    return {"date": date, "flow_m3_per_h": flow, "pressure_kPa": pressure}


def faults(make, *args, **kwargs):
    with pytest.raises(InputError) as caught:
        make(*args, **kwargs)
    return caught.value.faults


def only_fault(make, *args, **kwargs):
    (fault,) = faults(make, *args, **kwargs)
    return fault


def depths(record):
    return {str(date)[5:10]: depth for date, depth in zip(record["date"], record["gross_mm"], strict=True)}


# ---------------------------------------------------------------------------------- meters: what is given
def test_all_on_the_day_of_the_reading():
    got = irrigation_from_meter(METER, 10.0, place="reading day")
    assert list(got.columns) == ["date", "gross_mm", "purpose"]
    assert got["purpose"].tolist() == [""] * 4
    # The record begins on the day after the first reading, or a rule would water between.
    assert depths(got) == pytest.approx({"05-02": 0.0, "05-08": 20.0, "05-10": 0.0, "05-12": 8.0})


def test_evenly_on_the_days_between():
    got = depths(irrigation_from_meter(METER, 10.0, place="evenly"))
    expected = {f"05-{day:02d}": 20 / 7 for day in range(2, 9)} | {
        "05-09": 0,
        "05-10": 0,
        "05-11": 4,
        "05-12": 4,
    }
    assert got == pytest.approx(expected)


def test_by_the_hours_run():
    hours = pd.DataFrame({"date": ["2024-05-03", "2024-05-08", "2024-05-11"], "hours": [6, 2, 3]})
    got = irrigation_from_meter(METER, 10.0, place=hours)
    assert depths(got) == pytest.approx({"05-02": 0.0, "05-03": 15.0, "05-08": 5.0, "05-11": 8.0})


def test_two_readings_of_one_day_say_the_day():
    twice = [{"date": "2024-05-01", "meter_m3": 0}, {"date": "2024-05-01", "meter_m3": 700}]
    for place in ("reading day", "evenly", pd.DataFrame({"date": ["2024-05-01"], "hours": [7]})):
        assert depths(irrigation_from_meter(twice, 10.0, place=place)) == {"05-01": 7.0}


def test_fields_have_meters_and_areas_of_their_own():
    table = pd.DataFrame(
        {
            "date": ["2024-05-09", "2024-05-01", "2024-05-01", "2024-05-09"],  # in any order
            "field": ["south", "south", "north", "north"],
            "meter_acre_in": [8.0, 0.0, 100.0, 104.0],
        }
    )
    before = table.copy()
    got = irrigation_from_meter(table, AREAS, place="reading day")
    pd.testing.assert_frame_equal(table, before)
    last = got[got["date"] == "2024-05-09"].set_index("field")["gross_mm"]
    inch_acre = 25.4 * 0.40468564224
    assert last.to_dict() == pytest.approx({"south": 8 * inch_acre / 20, "north": 4 * inch_acre / 10})
    arrays = irrigation_from_meter(table, xr.DataArray(AREAS), place="reading day")
    pd.testing.assert_frame_equal(arrays, got)


def test_a_meter_that_begins_again():
    table = [{"date": "2024-05-01", "meter_m3": 999_500}, {"date": "2024-05-02", "meter_m3": 500}]
    got = irrigation_from_meter(table, 10.0, place="reading day", rolls_over_at=1_000_000)
    assert depths(got) == {"05-02": 10.0}
    fault = only_fault(irrigation_from_meter, table, 10.0, place="reading day")
    assert (fault.problem, fault.where) == ("falls from one reading to the next", "row 2")
    assert "rolls_over_at" in fault.mend
    assert "exchanged" in fault.mend
    fault = only_fault(irrigation_from_meter, table, 10.0, place="reading day", rolls_over_at=999_500)
    assert "not above every count" in fault.problem


def test_an_exchanged_meter_does_not_pass_for_a_round():
    table = [{"date": "2024-05-01", "meter_m3": 300_000}, {"date": "2024-05-02", "meter_m3": 500}]
    fault = only_fault(irrigation_from_meter, table, 10.0, place="reading day", rolls_over_at=1_000_000)
    assert fault.problem == "would have counted most of a round when it began again at 0"
    assert (fault.where, fault.allowed) == ("row 2", "at most 500000")
    assert "exchanged" in fault.mend
    backwards = [{"date": "2024-05-01", "meter_m3": 2500}, {"date": "2024-05-02", "meter_m3": 2490}]
    assert only_fault(
        irrigation_from_meter, backwards, 10.0, place="evenly", rolls_over_at=np.int64(1_000_000)
    ).value == ("2490 on 2024-05-02, 10 less than before")


def test_the_time_of_day_orders_readings_of_one_day():
    table = [
        {"date": "2024-05-01 15:00", "meter_m3": 700},
        {"date": "2024-05-01 08:00", "meter_m3": 0},
        {"date": "2024-05-02", "meter_m3": 900},
    ]
    assert depths(irrigation_from_meter(table, 10.0, place="reading day")) == {"05-01": 7.0, "05-02": 2.0}


def test_each_date_is_read_by_itself():
    zones = [{**METER[0], "date": f"2024-05-01T08:00{zone}"} for zone in ("+02:00", "+03:00")]
    fault = only_fault(irrigation_from_meter, [*METER, *zones], 10.0, place="evenly")
    assert (fault.what, fault.where, fault.count) == ("meter, date", "row 5", 2)
    mixed = [METER[0], {**METER[1], "date": pd.Timestamp("2024-05-08 09:00")}, *METER[2:]]
    expected = irrigation_from_meter(METER, 10.0, place="evenly")
    pd.testing.assert_frame_equal(irrigation_from_meter(mixed, 10.0, place="evenly"), expected)


def test_labels_may_be_categories():
    table = pd.DataFrame([{**row, "field": name} for name in ("north", "south") for row in METER])
    as_text = irrigation_from_meter(table, AREAS, place="evenly")
    some = table.astype({"field": "category"})
    pd.testing.assert_frame_equal(irrigation_from_meter(some, AREAS, place="evenly"), as_text)
    north = some[some["field"] == "north"]  # a category without rows is no field
    assert set(irrigation_from_meter(north, AREAS, place="evenly")["field"]) == {"north"}


# ------------------------------------------------------------------------------------- hours: what is given
def test_hours_to_depth():
    got = irrigation_from_hours(HOURS, flow="100 m3/h", area=10.0)
    assert depths(got) == {"05-08": 10.0, "05-09": 0.0}
    by_field = [{**row, "field": name} for name in ("north", "south") for row in HOURS]
    got = irrigation_from_hours(
        by_field, flow=pd.Series({"north": 100.0, "south": 50.0}).rename_axis("field"), area=AREAS
    )
    assert got["gross_mm"].tolist() == [10.0, 2.5, 0.0, 0.0]
    assert got["field"].tolist() == ["north", "south"] * 2


DAYS = pd.date_range("2024-05-01", periods=16, name="time")
WEATHER = wb.read_weather(
    pd.DataFrame({"rain": 0.0, "et_ref": 5.0}, index=DAYS),
    et_ref_surface="short",
    latitude=40.0,
    elevation=100.0,
)


def run(record, rule=None):
    crop = wb.Crop(kc=1.0, root_depth=1.0, depletion_fraction=0.5)
    system = wb.System(efficiency=0.8)
    return wb.simulate(
        WEATHER, crop, wb.Soil(available_water=0.2), system, rule, irrigation=record, initial_depletion=80.0
    )


@pytest.mark.parametrize("place", ["reading day", "evenly"])
def test_what_the_meter_counted_arrives(place):
    season = run(irrigation_from_meter(METER, 10.0, place=place))
    assert float(season["irrigation_gross"].sum()) == pytest.approx(28.0, abs=1e-9)
    assert float(season["irrigation_net"].sum()) == pytest.approx(0.8 * 28.0, abs=1e-9)
    gross = season["irrigation_gross"].to_series()
    assert gross["2024-05-12"] == pytest.approx(8.0 if place == "reading day" else 4.0, abs=1e-9)


def test_what_the_hours_gave_arrives():
    season = run(irrigation_from_hours(HOURS, flow=100.0, area=10.0))
    assert season["irrigation_gross"].to_series()["2024-05-08"] == pytest.approx(10.0, abs=1e-9)


def test_the_rule_waits_until_the_meter_was_last_read():
    season = run(irrigation_from_meter(METER, 10.0, place="reading day"), wb.Rule(allowable_depletion=0.4))
    free = season["rule_free"].to_series()
    assert list(free.index[free == 0]) == list(pd.date_range("2024-05-02", "2024-05-12"))


# ---------------------------------------------------------------------------- meters and hours: what is refused
def test_faults_of_a_meter_come_together():
    table = pd.DataFrame(
        {
            "date": ["2024-05-01", "2024-05-02", "2024-05-01"],
            "field": ["north", "north", "east"],
            "meter_m3": [5, 4, 1],
        }
    )
    found = faults(irrigation_from_meter, table, AREAS, place="Sunday", rolls_over_at="soon")
    assert [fault.what for fault in found] == ["place", "rolls_over_at", "area", "meter", "meter"]


def test_cells_and_parameters_at_fault_come_together():
    found = faults(
        irrigation_from_meter,
        [{"date": "soon", "field": None, "meter_m3": "many"}],
        -1.0,
        place=np.array(["evenly", "evenly"]),
        rolls_over_at=float("nan"),
    )
    names = ["area", "place", "rolls_over_at", "meter, date", "meter, field", "meter, meter_m3"]
    assert [fault.what for fault in found] == names
    found = faults(irrigation_from_hours, [{"date": "soon", "hours": "two"}], 0.0, "0 ha")
    assert [fault.what for fault in found] == ["flow", "area", "hours, date", "hours, hours"]
    found = faults(find_faults, [{"date": "soon", "flow_m3_per_h": "much", "pressure_kPa": -1.0}], [])
    names = ["readings, date", "readings, flow_m3_per_h", "readings, pressure_kPa", "baseline"]
    assert [fault.what for fault in found] == names


@pytest.mark.parametrize(
    ("table", "what", "where"),
    [
        ([], "meter", ""),
        ("a table", "meter", ""),
        ([{"meter_m3": 1}], "meter", ""),
        ([{"date": "2024-05-01"}], "meter", ""),
        ([{"date": "2024-05-01", "meter": 5}], "meter", ""),
        ([{"date": "2024-05-01", "meter_m3": 5, "meter_L": 5000}], "meter", ""),
        ([{"date": "1/5/2024", "meter_m3": 5}], "meter, date", "row 1"),
        ([{"date": None, "meter_m3": 5}], "meter, date", "row 1"),
        ([{"date": pd.Timestamp("2024-05-01", tz="UTC"), "meter_m3": 5}], "meter, date", "row 1"),
        ([*METER, {"date": "2024-05-20", "meter_m3": None}], "meter, meter_m3", "row 5"),
        ([*METER, {"date": "2024-05-20", "meter_m3": "4000 m3"}], "meter, meter_m3", "row 5"),
        ([*METER, {"date": "2024-05-20", "meter_m3": True}], "meter, meter_m3", "row 5"),
        ([*METER, {"date": "2024-05-20", "meter_m3": -1}], "meter, meter_m3", "row 5"),
        ([{**METER[0], "field": "north"}, {**METER[1], "field": " "}], "meter, field", "row 2"),
        (METER[:1], "meter", "row 1"),
        (pd.DataFrame([[1, 2, 3]], columns=["date", "meter_m3", "meter_m3"]), "meter", ""),
        (
            [*METER, {"date": "2024-05-20", "meter_m3": pd.Timestamp("2024-05-20")}],
            "meter, meter_m3",
            "row 5",
        ),
        ([*METER, {"date": "2024-05-20", "meter_m3": pd.Timedelta("3h")}], "meter, meter_m3", "row 5"),
        ([{"date": "2024-05-01", "meter_m3": 5 + 1j}], "meter, meter_m3", "row 1"),
        ([{**METER[0], "field": "north"}, {**METER[1], "field": ["north"]}], "meter, field", "row 2"),
        (pd.DataFrame(METER).set_index("date"), "meter", ""),
        ({"date": ["2024-05-01"], "meter_m3": [5]}, "meter", ""),
    ],
)
def test_no_table_of_a_meter(table, what, where):
    fault = only_fault(irrigation_from_meter, table, 10.0, place="evenly")
    assert (fault.what, fault.where) == (what, where)


def test_hours_and_water_must_meet():
    def place(**hours):
        table = pd.DataFrame({"date": [f"2024-05-{day[1:]}" for day in hours], "hours": list(hours.values())})
        return faults(irrigation_from_meter, METER, 10.0, place=table)

    (none,) = place(d08=2)
    assert (none.what, none.problem) == ("place, hours", "are none where the meter ran")
    (still,) = place(d08=2, d09=3, d12=1)
    assert (still.what, still.problem) == ("meter", "stands still, though hours were run")
    (outside,) = place(d01=5, d08=2, d12=1, d13=2)
    assert (outside.problem, outside.count, outside.where) == (
        "fall outside the readings of the meter",
        2,
        "row 1",
    )
    hours = pd.DataFrame({"date": ["2024-05-08"], "field": ["south"], "hours": [2]})
    found = faults(irrigation_from_meter, [{**row, "field": "north"} for row in METER], 10.0, place=hours)
    assert found[0].problem == "has no meter"


def test_no_table_of_hours():
    assert only_fault(irrigation_from_hours, [{"date": "2024-05-08"}], 100.0, 10.0).problem == "lacks columns"
    day = {"date": "2024-05-08", "hours": 13}
    fault = only_fault(irrigation_from_hours, [day, day], 100.0, 10.0)
    assert (fault.allowed, fault.count) == ("at most 24", 2)
    found = faults(irrigation_from_hours, HOURS, 0.0, AREAS)
    assert [fault.what for fault in found] == ["flow", "area"]
    systems = xr.DataArray([1.0, 2.0], dims="system", coords={"system": ["a", "b"]})
    assert only_fault(irrigation_from_hours, HOURS, systems, 10.0).problem == "is on other dimensions"


# -------------------------------------------------------------------------------- readings: what is given
def test_nothing_found_is_an_empty_table():
    got = find_faults([read(), read("2024-06-01", 101.0)], GOOD)
    assert got.empty
    assert {name: str(kind) for name, kind in got.dtypes.items()} == COLUMNS
    leak = find_faults([read(flow=130.0)], GOOD)
    assert {name: str(kind) for name, kind in leak.dtypes.items()} == COLUMNS


def test_what_an_empty_list_could_have_shown():
    later = [read(f"2024-05-0{day}") for day in range(1, 5)]
    got = detectable_change(later, GOOD)
    assert {name: str(kind) for name, kind in got.dtypes.items()} == DETECTABLE
    assert got["quantity"].tolist() == ["conductance", "pressure"]  # flow is of rows without a pressure
    assert (got["zone"] == "").all()
    assert (got["readings"] == 4).all()
    assert ((got["fall_percent"] < 0) & (got["rise_percent"] > -got["fall_percent"])).all()
    # In logarithms a fall is the mirror image of a rise.
    np.testing.assert_allclose((1 + got["fall_percent"] / 100) * (1 + got["rise_percent"] / 100), 1.0)
    # What the readings show does not matter; how many, how good, and how rare an alarm is wanted do.
    leak = [read(f"2024-05-0{day}", 130.0) for day in range(1, 5)]
    pd.testing.assert_frame_equal(detectable_change(leak, GOOD), got)
    rise = got["rise_percent"]
    assert (detectable_change(later[:2], GOOD)["rise_percent"] > rise).all()
    assert (detectable_change(later, GOOD[:1])["rise_percent"] > rise).all()
    assert (detectable_change(later, GOOD, false_alarm=0.2)["rise_percent"] < rise).all()
    assert (detectable_change(later, GOOD, season_readings=40)["rise_percent"] > rise).all()
    assert (detectable_change(later, GOOD, season_readings=4)["rise_percent"] < rise).all()
    varied = detectable_change(later, GOOD, supply_variation=0.1)["rise_percent"] / rise
    assert varied.tolist() == [1.0, pytest.approx(varied[1])]
    assert varied[1] > 2
    smaller = detectable_change(later, GOOD, exponent=0.0)["rise_percent"]
    assert smaller[0] < rise[0]
    assert smaller[1] == rise[1]


def test_what_one_reading_could_have_shown():
    # One reading passes the limit in half of all cases when it lies at it: one past it is found, one short of it not.
    (outlets, _) = detectable_change([read()], GOOD).to_dict("records")
    error = np.hypot(0.02, 0.5 * 0.03) * np.sqrt(1 + 1 / 3)
    rise = np.log1p(outlets["rise_percent"] / 100)
    for share, findings in ((1.02, 1), (0.98, 0)):
        flow = np.prod([row["flow_m3_per_h"] for row in GOOD]) ** (1 / 3) * np.exp(share * rise)
        assert len(find_faults([read(flow=flow)], GOOD)) == findings
    assert 2.5 < rise / error < 3.5  # Bonferroni for ten readings and three quantities is 3.1


def test_a_detectable_change_is_of_what_was_read():
    zones = [{**read("2024-05-01"), "zone": "b"}, {**read("2024-05-02", pressure=None), "zone": "b"}]
    zones.append({**read("2024-05-01", flow=None), "zone": "a"})
    got = detectable_change(zones, [{**row, "zone": zone} for zone in "ab" for row in GOOD])
    assert got[["zone", "quantity", "readings"]].values.tolist() == [
        ["b", "conductance", 1],
        ["b", "pressure", 1],
        ["b", "flow", 1],
        ["a", "pressure", 1],
    ]
    flows = [{"date": row["date"], "flow_m3_per_h": row["flow_m3_per_h"]} for row in GOOD]
    assert detectable_change([read()], flows)["quantity"].tolist() == ["flow"]


def test_a_detectable_change_is_refused_what_findings_are():
    given = {"exponent": 1.2, "flow_error": 0.0, "false_alarm": 0.9, "season_readings": 0.5}
    assert faults(detectable_change, [read()], [], **given) == faults(find_faults, [read()], [], **given)
    fault = only_fault(detectable_change, [read("2024-05-01"), read("2024-05-02")], GOOD, season_readings=1)
    assert (fault.value, fault.allowed) == ("2", "1")


@pytest.mark.parametrize(
    ("flow", "pressure", "finding", "words"),
    [
        (120, 180, "leak, break or worn outlets", "larger nozzles"),
        (120, 200, "leak, break or worn outlets", "valve"),
        (80, 220, "clogged or closed outlets", "filter"),
        (80, 200, "clogged or closed outlets", "half closed"),
        (100 * 0.7**0.5, 140, "weak supply or pump", "strainer"),
        (100 * 1.4**0.5, 280, "strong supply", "regulator"),
        (130, 280, "mixed", "instrument"),
        (60, 140, "mixed", "instrument"),
        (80, 80, "mixed", "instrument"),  # wider outlets, and yet less flow
        (120, 360, "mixed", "instrument"),
        (70, 200 * 0.7**2 * 1.6, "mixed", "instrument"),
        (130, np.nan, "flow changed, pressure not read", "nor supply"),
        (np.nan, 280, "pressure changed, flow not read", "nor supply"),
    ],
)
def test_findings_by_what_changed(flow, pressure, finding, words):
    (row,) = find_faults([read(), read("2024-06-01", flow, pressure)], GOOD).to_dict("records")
    assert row["finding"] == finding
    assert words in row["cannot_tell"]
    assert "lock the pump out" in row["look_at"]
    assert (str(row["found"].date()), str(row["since"].date()), row["zone"]) == (
        "2024-06-01",
        "2024-06-01",
        "",
    )
    assert 0.95 <= row["confidence"] < 1.0
    if not np.isnan(flow):
        assert row["flow_low_percent"] < row["flow_change_percent"] < row["flow_high_percent"]
        assert row["flow_change_percent"] == pytest.approx(flow - 100, abs=0.01)
    else:
        assert np.isnan([row["flow_change_percent"], row["conductance_change_percent"]]).all()
    if not np.isnan(pressure):
        assert row["pressure_change_percent"] == pytest.approx(pressure / 2 - 100, abs=0.01)
    else:
        assert np.isnan([row["pressure_change_percent"], row["conductance_low_percent"]]).all()


def test_an_instrument_that_is_not_there():
    flows = [{"date": row["date"], "flow_m3_per_h": row["flow_m3_per_h"]} for row in GOOD]
    got = find_faults([read(flow=120.0)], flows)
    assert got["finding"].tolist() == ["flow changed, pressure not read"]
    pressures = [{"date": "2024-05-01", "pressure_psi": 20.0}]
    assert find_faults(pressures, GOOD)["finding"].tolist() == ["pressure changed, flow not read"]
    fault = only_fault(find_faults, pressures, flows)
    assert "no instrument" in fault.problem


def test_flow_tells_something_of_its_own_only_without_pressure():
    # A rise of both that neither law nor gauge makes sure of; the flow alone would.
    assert find_faults([read(flow=109.0, pressure=218.0)], GOOD).empty
    assert len(find_faults([read(flow=109.0, pressure=None)], GOOD)) == 1


def test_a_kind_of_finding_stands_once_and_zones_in_their_order():
    later = [
        {**read(date, flow), "zone": zone}
        for zone, flow in (("upper", 120.0), ("lower", 80.0))
        for date in ("2024-05-01", "2024-05-15", "2024-06-01")
    ]
    good = [{**row, "zone": zone} for zone in ("lower", "upper") for row in GOOD]
    got = find_faults(later, good)
    assert got["zone"].tolist() == ["upper", "lower"]
    assert got["finding"].tolist() == ["leak, break or worn outlets", "clogged or closed outlets"]
    assert (got["found"] == "2024-05-01").all()


def test_what_the_errors_do():
    assert len(find_faults([read(flow=105.0)], GOOD, flow_error=0.005, pressure_error=0.005)) == 1
    assert find_faults([read(flow=105.0)], GOOD).empty
    sag = [read(flow=100 * 0.8**0.5, pressure=160.0)]
    assert len(find_faults(sag, GOOD)) == 1
    assert find_faults(sag, GOOD, supply_variation=0.15).empty
    # Pressure compensating: flow alone tells of the outlets.
    (row,) = find_faults([read(flow=100.0, pressure=140.0)], GOOD, exponent=0.0).to_dict("records")
    assert row["finding"] == "weak supply or pump"
    assert row["conductance_change_percent"] == pytest.approx(row["flow_change_percent"])


@pytest.mark.parametrize(
    ("flow", "pressure", "told"),
    [  # NIST SP 811, from memory: 1 psi = 6.894757 kPa, 1 US gallon = 3.785412 L, so that 1 m3/h = 4.403 gal/min
        (100.0, 200.0 / 6.894757, "a pressure in psi beside a baseline in kPa"),
        (100.0, 2.0, "a pressure in bar beside a baseline in kPa"),
        (100.0, 200.0 * 6.894757, "a pressure in kPa beside a baseline in psi"),
        (100.0 / 3.6, 200.0, "a flow in L/s beside a baseline in m3/h"),
        (100.0 / 3.6 * 1.08, 200.0, "a flow in L/s beside a baseline in m3/h"),
        (440.3, 200.0, "a flow in gal/min beside a baseline in m3/h"),
    ],
)
def test_a_change_the_size_of_a_unit_may_be_a_slip(flow, pressure, told):
    (row,) = find_faults([read(flow=flow, pressure=pressure)], GOOD).to_dict("records")
    assert f"; {told} would look the same" in row["cannot_tell"]
    (other,) = find_faults([read(flow=130.0, pressure=160.0)], GOOD).to_dict("records")
    assert "would look the same" not in other["cannot_tell"]


def test_an_unsteady_baseline_is_said():
    good = [read("2024-04-01", 80.0), read("2024-04-02", 125.0), read("2024-04-03", 100.0)]
    (row,) = find_faults([read(flow=150.0)], good).to_dict("records")
    assert "scatters more in the baseline" in row["cannot_tell"]
    (row,) = find_faults([read(flow=150.0)], GOOD).to_dict("records")
    assert "scatters" not in row["cannot_tell"]


def test_tables_are_left_as_they_were():
    later, good = pd.DataFrame([read(flow=120.0)]), pd.DataFrame(GOOD)
    copies = later.copy(), good.copy()
    find_faults(later, good)
    readings_table(later, good)
    pd.testing.assert_frame_equal(later, copies[0])
    pd.testing.assert_frame_equal(good, copies[1])


def test_the_arithmetic_is_shown():
    good = [read("2024-04-01", 98.0, 196.0), read("2024-04-02", 102.0, 204.0)]
    shown = readings_table([read("2024-05-02", np.nan, 50.0), read("2024-05-01", 120.0, 200.0)], good)
    assert shown["baseline"].tolist() == [True, True, False, False]
    assert shown["date"].is_monotonic_increasing
    flow, pressure = np.sqrt(98 * 102), np.sqrt(196 * 204)
    third, fourth = shown.iloc[2], shown.iloc[3]
    assert third["flow_ratio"] == pytest.approx(120 / flow)
    assert third["pressure_ratio"] == pytest.approx(200 / pressure)
    assert third["expected_flow_m3_per_h"] == pytest.approx(flow * np.sqrt(200 / pressure))
    assert third["conductance_ratio"] == pytest.approx(120 / flow / np.sqrt(200 / pressure))
    assert fourth["expected_flow_m3_per_h"] == pytest.approx(flow * np.sqrt(50 / pressure))
    assert np.isnan(fourth[["flow_m3_per_h", "flow_ratio", "conductance_ratio"]].astype(float)).all()


# ------------------------------------------------------------------------------ readings: what is refused
def test_faults_of_readings_come_together():
    later = pd.DataFrame(
        {
            "date": ["2024-03-01", "2024-05-01", "2024-05-02"],
            "zone": ["upper", "upper", "middle"],
            "flow_m3_per_h": [100.0, 100.0, 100.0],
        }
    )
    good = [{**row, "zone": "upper"} for row in GOOD]
    found = faults(
        find_faults,
        later,
        good,
        exponent=1.2,
        false_alarm=0.9,
        flow_error=0.0,
        supply_variation=-1,
        season_readings=0.5,
    )
    assert [fault.what for fault in found] == [
        "exponent",
        "supply_variation",
        "flow_error",
        "false_alarm",
        "season_readings",
        "readings, zone",
        "readings, date",
    ]
    assert found[-1].where == "row 1"
    assert "before the end of the zone's baseline" in found[-1].problem
    assert (found[-2].where, found[-2].value) == ("row 3", "'middle'")


@pytest.mark.parametrize("exponent", [-0.1, 1.1, float("nan"), "half", True])
def test_exponents_outside_0_to_1(exponent):
    assert only_fault(find_faults, [read()], GOOD, exponent=exponent).what == "exponent"
    assert only_fault(readings_table, [read()], GOOD, exponent=exponent).what == "exponent"


@pytest.mark.parametrize("name", ["flow", "pressure"])
def test_no_unit_is_guessed(name):
    for column in (name, f"{name}_in_columns_of_air"):
        for given in ([{"date": "2024-05-01", column: 50.0}], [{**read(), column: 50.0}]):
            fault = only_fault(find_faults, given, GOOD)
            assert (fault.what, fault.problem, fault.value) == ("readings", "has unknown columns", column)
            assert {"pressure_psi", "flow_gal_per_min"} <= set(
                fault.allowed.replace(" (optional)", "").split(", ")
            )
            assert "units" in fault.mend
        assert only_fault(find_faults, [read()], [{"date": "2024-04-01", column: 50.0}]).what == "baseline"


@pytest.mark.parametrize(
    ("row", "what", "problem"),
    [
        (read(flow=0.0), "readings, flow_m3_per_h", "is outside its range"),
        (read(pressure=0.0), "readings, pressure_kPa", "is outside its range"),
        (read(pressure=60_000.0), "readings, pressure_kPa", "is outside its range"),
        (read(flow=-3.0), "readings, flow_m3_per_h", "is not a number of 0 or more"),
        (read(flow="much"), "readings, flow_m3_per_h", "is not a number of 0 or more"),
        (read(pressure=float("inf")), "readings, pressure_kPa", "is not a number of 0 or more"),
        (read(flow=None, pressure=None), "readings", "have neither flow nor pressure"),
        ({**read(), "pressure_bar": 2.0}, "readings", "needs one column"),
        ({**read(), "remark": "windy"}, "readings", "has unknown columns"),
        ({"flow_m3_per_h": 100.0}, "readings", "lacks columns"),
        (read(flow=True), "readings, flow_m3_per_h", "is not a number of 0 or more"),
        (read(flow=pd.Timestamp("2024-05-01")), "readings, flow_m3_per_h", "is not a number of 0 or more"),
        (read(date=None), "readings, date", "is missing, or not a date"),
        (read(date="5/1/2024"), "readings, date", "is missing, or not a date"),
        (read(date=20240501), "readings, date", "is missing, or not a date"),
        (read(date=pd.Timestamp("2024-05-01", tz="UTC")), "readings, date", "is missing, or not a date"),
        ({**read(), "zone": float("nan")}, "readings, zone", "is missing, or no name"),
        ({**read(), "zone": " "}, "readings, zone", "is missing, or no name"),
        ({**read(), "zone": "upper"}, "readings, zone", "has no baseline"),
        (GOOD[-1], "readings", "repeats a row of the zone, which would count twice"),
        ({"date": "2024-05-01"}, "readings", "have neither flow nor pressure"),
    ],
)
def test_no_reading(row, what, problem):
    fault = only_fault(find_faults, [row], GOOD)
    assert (fault.what, fault.problem) == (what, problem)
    assert (fault.what, fault.problem) == tuple(
        getattr(only_fault(readings_table, [row], GOOD), name) for name in ("what", "problem")
    )


@pytest.mark.parametrize(
    ("table", "problem"),
    [
        ([], "has no rows"),
        (pd.DataFrame(columns=["date", "flow_m3_per_h"]), "has no rows"),
        (None, "is not a table"),
        (np.ones((2, 2)), "is not a table"),
        ({"date": ["2024-05-01"], "flow_m3_per_h": [100.0]}, "is not a table"),
        (pd.DataFrame([read()]).set_index("date"), "lacks columns"),
    ],
)
def test_no_table_of_readings(table, problem):
    later, good = only_fault(find_faults, table, GOOD), only_fault(find_faults, [read()], table)
    assert [later.what, good.what] == ["readings", "baseline"]
    assert [later.problem, good.problem] == [problem, problem]


def test_a_copied_row_is_refused_and_a_reading_at_another_time_is_not():
    fault = only_fault(find_faults, [read(), read(), read(flow=101.0)], GOOD)
    assert (fault.what, fault.where, fault.count) == ("readings", "row 2", 1)
    assert only_fault(find_faults, [read()], [*GOOD, GOOD[0]]).what == "baseline"
    twice = [read("2024-05-01 08:00"), read("2024-05-01 15:00"), read("2024-05-01 15:00", 101.0)]
    assert find_faults(twice, GOOD).empty
    two_zones = [{**read(), "zone": zone} for zone in "ab"]
    assert find_faults(two_zones, [{**row, "zone": zone} for zone in "ab" for row in GOOD]).empty


def test_rows_of_one_day_go_by_their_time():
    later = [read("2024-05-01 15:00", 130.0), read("2024-05-01 08:00", 100.0)]
    shown = readings_table(later, GOOD)
    assert shown["flow_m3_per_h"].tolist()[-2:] == [100.0, 130.0]
    assert "time" not in shown
    (row,) = find_faults(later, GOOD).to_dict("records")
    assert row["found"] == pd.Timestamp("2024-05-01")


def test_one_reading_against_one():
    assert find_faults([read()], GOOD[:1]).empty
    assert find_faults([read(flow=140.0)], GOOD[:1])["finding"].tolist() == ["leak, break or worn outlets"]


def test_zones_may_be_categories():
    good = pd.DataFrame([{**row, "zone": zone} for zone in "ab" for row in GOOD]).astype({"zone": "category"})
    later = pd.DataFrame([{**read(flow=140.0), "zone": zone} for zone in "ab"]).astype({"zone": "category"})
    assert find_faults(later, good)["zone"].tolist() == ["a", "b"]
    assert find_faults(later[later["zone"] == "b"], good)["zone"].tolist() == ["b"]


@pytest.mark.parametrize("odd", [None, "2 %", float("nan"), True, np.array([0.1, 0.2])])
def test_odd_parameters(odd):
    for name in ("supply_variation", "false_alarm"):
        assert only_fault(find_faults, [read()], GOOD, **{name: odd}).what == name
    if odd is not None:  # which asks for an estimate
        both = {"flow_error": odd, "pressure_error": odd}
        assert [fault.what for fault in faults(find_faults, [read()], GOOD, **both)] == list(both)
        assert only_fault(find_faults, [read()], GOOD, season_readings=odd).what == "season_readings"
    alone = {"flow_error": None, "pressure_error": None, "supply_variation": odd}
    assert only_fault(find_faults, [read()], GOOD, **alone).what == "supply_variation"


def test_too_many_readings_for_a_season():
    later = [read(str(day.date())) for day in pd.date_range("2024-05-01", periods=101)]
    assert "mean for each week" in only_fault(find_faults, later, GOOD).mend
    fault = only_fault(find_faults, later[:12], GOOD, season_readings=11)
    assert (fault.value, fault.allowed) == ("12", "11")
    assert find_faults(later[:12], GOOD).empty


def test_errors_are_estimated_only_from_enough_readings():
    unknown = {"flow_error": None, "pressure_error": None}
    found = faults(find_faults, [read()], GOOD, **unknown)
    assert {fault.allowed for fault in found} == {"4 readings or more that are not all the same"}
    same = [read(f"2024-04-0{day}") for day in range(1, 6)]
    same = faults(find_faults, [read()], same, **unknown)
    assert "5 readings, scatter 0" in same[0].value
    assert only_fault(find_faults, [read()], GOOD, flow_error=None).allowed == "both, or None for both"
    five = [*GOOD, read("2024-04-04", 100.5, 199.0), read("2024-04-05", 99.5, 203.0)]
    assert only_fault(find_faults, [read()], five, supply_variation=0.1, **unknown).what == "supply_variation"
    assert find_faults([read()], five, **unknown).empty
    assert find_faults([read(flow=140.0)], five, **unknown)["finding"].tolist() == [
        "leak, break or worn outlets"
    ]


@pytest.mark.parametrize(
    ("given", "what"),
    [
        ((10, 0, 0.5), "pressure"),
        ((-1, 100, 0.5), "flow"),
        ((10, 100, 1.2), "exponent"),
        ((None, 100, 0.5), "flow"),
    ],
)
def test_a_conductance_of_numbers_out_of_range_is_refused(given, what):
    with pytest.raises(InputError, match=f"{what}: is"):
        conductance(*given)
