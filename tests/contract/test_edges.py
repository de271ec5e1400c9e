"""Inputs at the edges: each of these once gave a wrong number or lost a result without a word."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb

DAYS = pd.date_range("2024-03-01", periods=150)
FIELDS = pd.Index(["a", "b"], name="field")


def weather(days: pd.DatetimeIndex = DAYS) -> xr.Dataset:
    table = pd.DataFrame({"time": days, "rain": 0.0, "et_ref": 5.0})
    return wb.read_weather(table, et_ref_surface="short")


def crop(**changes: object) -> wb.Crop:
    values = {
        "planted": "2024-04-01",
        "stage_days": (20, 20, 40, 20),
        "kcb": (0.15, 1.1, 0.3),
        "root_depth": (0.2, 1.0),
        "height": 1.0,
        "depletion_fraction": 0.5,
    }
    return wb.Crop(**{**values, **changes})


SOIL = wb.Soil.from_handbook("loam")
SYSTEM = wb.System.from_handbook("drip", area=1, flow=10)


def on(dim: str, labels: list[str], values: list[float]) -> xr.DataArray:
    return xr.DataArray(values, dims=dim, coords={dim: labels})


def test_points_are_taken_by_label_and_not_by_position():
    plain = crop(kcb=None, kc=(0.3, 1.1, 0.6))
    turned = crop(kcb=None, kc=on("coefficient", ["end", "initial", "mid"], [0.6, 0.3, 1.1]))
    assert turned.kc.identical(plain.kc)
    deep = crop(root_depth=on("extent", ["full", "start"], [1.0, 0.2]))
    assert deep.root_depth.identical(crop().root_depth)


@pytest.mark.parametrize(
    ("changes", "what"),
    [
        ({"kcb": on("coefficient", ["x", "y", "z"], [0.15, 1.1, 0.3])}, "kcb"),
        ({"kcb": xr.DataArray([0.15, 1.1, 0.3], dims="coefficient")}, "kcb"),
        ({"climate": on("mean", ["u", "v"], [2.0, 45.0])}, "climate"),
        ({"climate": on("mean", ["wind", "rhmin"], [5.0, np.nan])}, "climate"),
        ({"climate": on("mean", ["wind", "rhmin"], [500.0, 45.0])}, "climate (wind)"),
        ({"height": on("field", ["a", "b"], [2.0, np.nan])}, "height"),
    ],
)
def test_labels_and_gaps_of_a_crop(changes, what):
    with pytest.raises(wb.InputError) as caught:
        crop(**changes)
    assert what in {fault.what for fault in caught.value.faults}


def test_a_gap_in_a_curve_is_not_a_dry_season():
    gap = xr.DataArray(
        [[0.15, 1.1, 0.3], [0.15, np.nan, 0.3]],
        dims=("field", "coefficient"),
        coords={"field": ["a", "b"], "coefficient": ["initial", "mid", "end"]},
    )
    with pytest.raises(wb.InputError, match=r"crop coefficient: has no value.*field b"):
        wb.simulate(weather(), crop(kcb=gap), SOIL)


def test_rain_in_another_unit_is_refused():
    given = weather()
    gauge = given["rain"].assign_attrs(units="in")
    with pytest.raises(wb.InputError, match="rain: is in another unit; found 'in'"):
        wb.simulate(given.assign(rain=gauge), crop(), SOIL)
    with pytest.raises(wb.InputError, match="rain is in different units"):
        wb.concat({"a": given, "b": given.assign(rain=gauge)}, dim="field")


def test_a_site_is_not_invented_when_weather_is_joined():
    with pytest.raises(wb.InputError, match="have no latitude"):
        wb.concat({"a": weather().assign_coords(latitude=38.0), "b": weather()}, dim="field")


@pytest.mark.parametrize("kind", ["triple", None])
def test_a_kind_of_coefficient_that_is_neither(kind):
    with pytest.raises(wb.InputError, match="kind: is unknown"):
        wb.Crop.from_handbook("tomato", planted="2024-04-01", kind=kind)


def test_all_faults_of_a_look_up_come_at_once():
    with pytest.raises(wb.InputError) as caught:
        wb.Crop.from_handbook("grain maze", planted="x", kind="triple")
    assert len(caught.value.faults) == 3


def test_all_faults_of_a_run_come_at_once():
    with pytest.raises(wb.InputError) as caught:
        wb.simulate(
            weather().drop_vars("rain"),
            crop(),
            SOIL,
            initial_depletion=-4,
            et_share_before_percolation=2,
            missing="x",
        )
    found = {fault.what for fault in caught.value.faults}
    assert found == {"weather", "initial_depletion", "et_share_before_percolation", "missing"}


# ------------------------------------------------------------------ going on from an earlier run
def early_and_late() -> tuple[xr.Dataset, xr.Dataset]:
    first = wb.simulate(weather(DAYS[:90]), crop(), SOIL, SYSTEM, wb.Rule())
    return first.isel(time=-1), weather(DAYS[90:])


def test_a_state_of_another_soil_is_refused():
    state, late = early_and_late()
    with pytest.raises(wb.InputError, match="another soil"):
        wb.simulate(late, crop(), wb.Soil.from_handbook("sand"), state=state)


def test_a_state_of_deeper_roots_is_refused():
    state, late = early_and_late()
    with pytest.raises(
        wb.InputError,
        match=r"state: is of a profile deeper.*deepest root 65 mm, of the earlier root zone 130 mm",
    ):
        wb.simulate(late, crop(root_depth=(0.2, 0.5)), SOIL, state=state)


@pytest.mark.parametrize("name", ["depletion", "surface_depletion", "wetted_fraction", "raw"])
def test_a_state_with_a_gap_is_refused(name):
    state, late = early_and_late()
    with pytest.raises(wb.InputError, match=f"state, {name}: is missing"):
        wb.simulate(late, crop(), SOIL, state=state.assign({name: np.nan}))


def test_a_result_survives_a_file(tmp_path):
    rule = wb.Rule(allowable_depletion=0.5, last_date="2024-07-01")
    season = wb.simulate(weather(DAYS[:90]), crop(), SOIL, SYSTEM, rule)
    season.to_netcdf(tmp_path / "season.nc", engine="scipy")
    with xr.open_dataset(tmp_path / "season.nc", engine="scipy") as file:
        read = file.load()
    pd.testing.assert_frame_equal(wb.ledger(read), wb.ledger(season))
    pd.testing.assert_frame_equal(wb.events(read), wb.events(season))
    assert str(wb.explain(read, "2024-05-20")) == str(wb.explain(season, "2024-05-20"))
    late = weather(DAYS[90:])
    again, whole = (
        wb.simulate(late, crop(), SOIL, SYSTEM, rule, state=known.isel(time=-1)) for known in (read, season)
    )
    np.testing.assert_array_equal(again["depletion"], whole["depletion"])


# ------------------------------------------------------------------------ dates, gaps, joined systems
@pytest.mark.parametrize("date", ["7/1/2024", "2024-07", 20240701])
def test_dates_are_not_guessed(date):
    season = wb.simulate(weather(), crop(), SOIL)
    with pytest.raises(wb.InputError, match="is not a date"):
        wb.explain(season, date)
    record = pd.DataFrame({"date": [date], "net_mm": [10.0]})
    with pytest.raises(wb.InputError, match=r"row 1.*year-month-day"):
        wb.simulate(weather(), crop(), SOIL, irrigation=record)


def test_what_is_not_known_is_not_none_due():
    given = weather()
    rain = given["rain"].expand_dims(field=FIELDS).copy()
    rain[1, 50] = np.nan
    season = wb.simulate(given.assign(rain=rain), crop(), SOIL, SYSTEM, wb.Rule(), missing="propagate")
    week = wb.week_ahead(season, "2024-05-20").set_index("field")
    assert week["irrigations"].isna().tolist() == [False, True]


def test_uneven_and_lumped_systems_do_not_stand_side_by_side():
    uneven = wb.System(delivered_fraction=0.9, spot_share=[0.8, 1.2])
    with pytest.raises(
        wb.InputError,
        match=r"spot_share.*different numbers of spots; first at lumped; found 0, and 2 in cans",
    ):
        wb.concat({"cans": uneven, "lumped": SYSTEM}, dim="system")


def test_systems_with_other_numbers_of_cans_do_not_stand_side_by_side():
    two, three = (
        wb.System(delivered_fraction=0.9, spot_share=share) for share in ([0.8, 1.2], [0.8, 1.0, 1.2])
    )
    with pytest.raises(wb.InputError, match=r"first at b; found 3, and 2 in a; .*as compare does") as raised:
        wb.concat({"a": two, "b": three}, dim="field")
    assert len(raised.value.faults) == 1


def test_a_fault_of_one_field_among_many_names_it():
    names = [f"f{number}" for number in range(100)]
    wilting = np.full(100, 0.1)
    wilting[57] = 0.35
    with pytest.raises(wb.InputError, match=r"wilting_point.*field f57.*0\.35"):
        wb.Soil(
            field_capacity=0.3, wilting_point=xr.DataArray(wilting, dims="field", coords={"field": names})
        )
    interval = xr.DataArray(wilting, dims="field", coords={"field": names})
    with pytest.raises(wb.InputError, match=r"refill_to.*field f57"):
        wb.Rule(allowable_depletion=0.3, refill_to=interval)


def test_a_dimension_may_not_bear_the_name_of_a_quantity():
    soil = dataclasses.replace(SOIL, rew=xr.DataArray([8.0, 9.0], dims="rain", coords={"rain": ["x", "y"]}))
    with pytest.raises(wb.InputError, match="dimension 'rain'"):
        wb.simulate(weather(), crop(), soil)


def test_a_gap_is_named_by_the_column_it_stands_in():
    table = pd.DataFrame({"time": DAYS, "tmin": 8.0, "tmax": 20.0, "rain": 0.0})
    table.loc[5, "tmax"] = np.nan
    given = wb.read_weather(table, latitude=40, elevation=100)
    with pytest.raises(wb.InputError) as caught:
        wb.simulate(given, crop(), SOIL)
    (fault,) = caught.value.faults
    assert (fault.what, fault.where) == ("tmax", "2024-03-06")
