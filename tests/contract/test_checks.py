"""What the shared checks say: the thing, how many, the first place, the value, what is allowed, how to mend it."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget.checks import complete, first_label, in_range, labelled, note_where, time_axis
from waterbudget.descriptions import number
from waterbudget.errors import Fault, Faults

DAYS = pd.date_range("2024-07-01", periods=4)


def of_time(index: pd.Index) -> list[Fault]:
    faults = Faults()
    time_axis(index, faults, "weather")
    return list(faults)


def grid(values: object) -> xr.DataArray:
    return xr.DataArray(
        np.asarray(values, dtype=float),
        dims=("time", "station"),
        coords={"time": DAYS, "station": ["north", "south"]},
    )


@pytest.mark.parametrize("index", [DAYS, DAYS.as_unit("s"), DAYS[:1]])
def test_days_in_order_at_midnight_pass(index: pd.DatetimeIndex) -> None:
    assert of_time(index) == []


@pytest.mark.parametrize(
    ("index", "problem", "count", "where", "mend"),
    [
        (DAYS[:0], "empty", 1, "", "at least one row"),
        (pd.RangeIndex(4), "holds no dates", 1, "", "pd.to_datetime"),
        (DAYS.to_period("D"), "holds no dates", 1, "", ".to_timestamp()"),
        (DAYS.tz_localize("UTC"), "time zone", 1, "", ".tz_localize(None)"),
        (DAYS + pd.Timedelta(hours=12), "not midnight", 4, "2024-07-01", ".normalize()"),
        (DAYS[[0, 2, 1, 3]], "not in order", 1, "row 3", ".sort_index()"),
        (DAYS[[0, 1, 1, 1, 2]], "more than once", 2, "2024-07-02", "keep the right row"),
        (DAYS[[0, 3]], "misses days", 2, "2024-07-02", 'missing_days="nan"'),
        (
            pd.DatetimeIndex(["2024-07-01", None, "2024-07-02"]),
            "without a date",
            1,
            "row 2",
            "write the date",
        ),
    ],
)
def test_each_fault_of_a_time_axis(index: pd.Index, problem: str, count: int, where: str, mend: str) -> None:
    (fault,) = of_time(index)
    assert fault.what == "weather, time"
    assert problem in fault.problem
    assert fault.count == count
    assert fault.where == where
    assert mend in fault.mend


def test_every_fault_of_a_time_axis_at_once() -> None:
    index = pd.DatetimeIndex(["2024-07-01 12:00", "2024-07-05", "2024-07-03", "2024-07-03"], tz="UTC")
    problems = " ".join(fault.problem for fault in of_time(index))
    for part in ("time zone", "not midnight", "not in order", "more than once", "misses days"):
        assert part in problems


def test_a_time_coordinate_keeps_its_zone() -> None:
    faults = Faults()
    time_axis(xr.Dataset(coords={"time": DAYS.tz_localize("UTC")})["time"], faults)
    (fault,) = faults
    assert fault.value == "UTC"


def test_values_outside_a_range_are_counted_and_the_first_in_time_is_shown() -> None:
    data = grid([[50, 60], [70, 101], [300, np.nan], [-1, 0]])
    for order in (data, data.transpose("station", "time")):
        faults = Faults()
        in_range(order, "rhmax", faults)
        (fault,) = faults
        assert (fault.what, fault.count, fault.where) == ("rhmax", 3, "2024-07-02, station south")
        assert fault.value == "101 %"
        assert fault.allowed == "0 to 100 %"
        assert fault.mend


def test_infinite_values_are_a_fault_of_their_own() -> None:
    faults = Faults()
    in_range(grid([[1, 2], [np.inf, 3], [-1, -np.inf], [0, 0]]), "rain", faults, what="rain of field 'a'")
    infinite, negative = faults
    assert (infinite.problem, infinite.count, infinite.where) == (
        "is infinite",
        2,
        "2024-07-02, station north",
    )
    assert (negative.count, negative.value) == (1, "-1 mm day-1")
    assert infinite.what == negative.what == "rain of field 'a'"


@pytest.mark.parametrize(
    ("value", "name", "mend"),
    [
        (70.0, "efficiency", "a fraction, not a percentage"),
        (0.0, "efficiency", "correct the value"),
        (462.0, "latitude", "degrees_north"),
    ],
)
def test_one_number_outside_its_range(value: float, name: str, mend: str) -> None:
    faults = Faults()
    in_range(xr.DataArray(value), name, faults)
    (fault,) = faults
    assert fault.where == ""
    assert fault.value.startswith(f"{value:g}")
    assert mend in fault.mend


@pytest.mark.parametrize("values", [np.full((4, 2), np.nan), np.full((4, 2), 100.0), np.zeros((4, 2))])
def test_missing_values_and_the_ends_of_a_closed_range_pass(values: np.ndarray) -> None:
    faults = Faults()
    in_range(grid(values), "rhmax", faults)
    assert not faults


def test_missing_values_are_counted() -> None:
    faults = Faults()
    complete(grid([[1, 2], [3, np.nan], [np.nan, 4], [5, 6]]), faults, "et_ref")
    (fault,) = faults
    assert (fault.what, fault.count, fault.where) == ("et_ref", 2, "2024-07-02, station south")
    assert 'missing="propagate"' in fault.mend
    faults = Faults()
    complete(grid(np.ones((4, 2))), faults, "et_ref")
    assert not faults


def of_fields(*names: object) -> xr.DataArray:
    return xr.DataArray(np.ones(len(names)), dims="field", coords={"field": list(names)})


def test_labels_that_agree_pass_and_time_and_spots_are_passed_over() -> None:
    faults = Faults()
    spots = xr.DataArray(np.ones((2, 3)), dims=("field", "spot"), coords={"field": ["a", "b"]})
    labelled({"weather": grid(np.ones((4, 2))), "soil": of_fields("a", "b"), "system": spots}, faults)
    assert not faults


@pytest.mark.parametrize(
    ("one", "other", "message"),
    [
        (of_fields("a", "b", "b"), of_fields("a", "b"), "soil: has two fields of one name; found 'b'"),
        (of_fields("a", "b"), of_fields("b", "a"), "different order; first at position 1; found 'a' and 'b'"),
        (of_fields("a", "b"), of_fields("a", "c"), "found only in soil: 'b'; only in crop: 'c'"),
        (of_fields("a"), of_fields(*"abcdef"), "(5 values); found only in crop: 'b', 'c', 'd' and 2 more"),
        (of_fields("a"), xr.DataArray([1.0], dims="field"), "crop: has a dimension 'field' without labels"),
    ],
)
def test_labels_that_do_not_agree(one: xr.DataArray, other: xr.DataArray, message: str) -> None:
    faults = Faults()
    labelled({"soil": one, "crop": other}, faults)
    (fault,) = faults
    assert re.search(re.escape(message), str(fault))
    assert fault.mend


def test_the_mend_selects_by_label() -> None:
    faults = Faults()
    labelled({"soil": of_fields("a", "b"), "crop": of_fields("b", "a")}, faults)
    (fault,) = faults
    assert 'crop.sel(field=soil["field"])' in fault.mend


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        ("12 mm", "'12 mm'"),
        (None, "None"),
        (True, "True"),
        (np.datetime64("2024-07-01", "ns"), "1719792000000000000"),
        (1j, "1j"),
    ],
)
def test_what_is_not_a_number_has_no_range(value: object, shown: str) -> None:
    faults = Faults()
    in_range(xr.DataArray(value), "rain", faults)
    (fault,) = faults
    assert (fault.what, fault.problem, fault.value, fault.count) == ("rain", "is not a number", shown, 1)
    assert "NaN" in fault.allowed


def test_the_first_value_that_is_not_a_number_is_named() -> None:
    faults = Faults()
    mixed = xr.DataArray(
        np.array([1, 2.5, None, "much"], dtype=object), dims="field", coords={"field": list("abcd")}
    )
    in_range(mixed, "rain", faults)
    (fault,) = faults
    assert (fault.where, fault.value, fault.count) == ("field c", "None", 2)
    # Numbers are numbers, whatever the array says that it holds.
    sound = Faults()
    in_range(mixed.isel(field=[0, 1]), "rain", sound)
    assert not sound
    in_range(-mixed.isel(field=[0, 1]), "rain", sound)
    assert [(fault.value, fault.count) for fault in sound] == [("-1 mm day-1", 2)]


def test_a_percentage_is_no_fraction() -> None:
    faults = Faults()
    in_range(xr.DataArray([0.8, 75.0]), "efficiency", faults)
    (fault,) = faults
    assert fault.mend == "give a fraction, not a percentage"


@pytest.mark.parametrize(
    ("data", "where"),
    [
        (xr.DataArray([1.0, -1.0]), "value 2"),
        (xr.DataArray([1.0, -1.0], dims="spot"), "spot 2"),
        (xr.DataArray([1.0, -1.0], dims="time"), "time 2"),
        (
            xr.DataArray([[1.0, 1.0], [1.0, -1.0]], dims=("spot", "field"), coords={"field": ["a", "b"]}),
            "spot 2, field b",
        ),
        (xr.DataArray([1.0, -1.0], dims="time", coords={"time": DAYS[:2]}), "2024-07-02"),
        (xr.DataArray([1.0, -1.0], dims="planted", coords={"planted": DAYS[:2]}), "planted 2024-07-02"),
    ],
)
def test_every_check_names_a_place_alike_and_counts_from_one(data: xr.DataArray, where: str) -> None:
    bad = data < 0.0
    faults = Faults()
    note_where(faults, "rain", "is negative", bad, {"rain": data})
    in_range(data, "rain", faults)
    if data.dims != ("dim_0",):  # a description takes named dimensions alone
        number(data, "rain", faults)
    assert {fault.where for fault in faults} == {where}
    assert first_label(bad) == where
