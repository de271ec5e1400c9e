"""What `relative_yield` tells, and what it refuses."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from waterbudget.balance import Rule, simulate
from waterbudget.crop import Crop, Rotation
from waterbudget.crop.stress import relative_yield_additive, relative_yield_seasonal
from waterbudget.errors import InputError
from waterbudget.joining import concat
from waterbudget.report import ledger, relative_yield
from waterbudget.soil import Soil
from waterbudget.system import System

KY_BY_STAGE = (0.4, 1.5, 0.5, 0.2)
"""From memory: maize, FAO Irrigation and Drainage Paper 33."""


def weather(days=70, rain=0.0):
    time = pd.date_range("2024-05-01", periods=days)
    wet = np.where(np.arange(days) % 6 == 0, rain, 0.0)
    return xr.Dataset(
        {"rain": ("time", wet), "et_ref": ("time", np.full(days, 6.0), {"surface": "short"})},
        coords={"time": time},
    )


def maize(**changes):
    given = {
        "planted": "2024-05-03",
        "stage_days": (8, 10, 15, 7),
        "kcb": (0.2, 1.15, 0.5),
        "root_depth": (0.3, 0.8),
        "height": 2.0,
        "depletion_fraction": 0.5,
        "yield_response": 1.25,
        "stage_yield_response": KY_BY_STAGE,
    }
    return Crop(**{**given, **changes})


def soil(**changes):
    return Soil(**{"field_capacity": 0.30, "wilting_point": 0.15, "rew": 8.0, "tew": 20.0, **changes})


def season(**more):
    given = {"weather": weather(rain=12.0), "crop": maize(), "soil": soil()}
    return simulate(**{**given, **more})


def test_a_season_is_summed_over_the_days_of_the_crop():
    run = season()
    (row,) = relative_yield(run).to_dict("records")
    assert list(row) == [
        "crop_number",
        "first_day",
        "last_day",
        "et_mm",
        "et_unstressed_mm",
        "relative_et",
        "relative_yield",
        "within_limits",
        "note",
    ]
    daily = run[["et", "kc", "et_ref", "crop_stage"]].to_dataframe()
    daily = daily[daily["crop_stage"] > 0]
    assert (row["crop_number"], row["first_day"], row["last_day"]) == (
        1,
        pd.Timestamp("2024-05-03"),
        pd.Timestamp("2024-06-11"),
    )
    assert row["et_mm"] == pytest.approx(daily["et"].sum(), abs=1e-9)
    assert row["et_unstressed_mm"] == pytest.approx((daily["kc"] * daily["et_ref"]).sum(), abs=1e-9)
    ratio = daily["et"].sum() / (daily["kc"] * daily["et_ref"]).sum()
    assert 0.5 < ratio < 0.95
    assert row["relative_et"] == pytest.approx(ratio, abs=1e-12)
    assert row["relative_yield"] == pytest.approx(1 - 1.25 * (1 - ratio), abs=1e-12)
    assert row["within_limits"]
    assert row["note"] == ""


def test_the_forms_by_stage_answer_apart():
    run = season()
    daily = run[["et", "kc", "et_ref", "crop_stage"]].to_dataframe()
    daily["unstressed"] = daily["kc"] * daily["et_ref"]
    sums = daily[daily["crop_stage"] > 0].groupby("crop_stage")[["et", "unstressed"]].sum()
    losses = np.array(KY_BY_STAGE) * (1 - sums["et"] / sums["unstressed"]).to_numpy()
    got = {form: relative_yield(run, form).loc[0] for form in ("seasonal", "additive", "multiplicative")}
    assert got["additive"]["relative_yield"] == pytest.approx(1 - losses.sum(), abs=1e-12)
    assert got["multiplicative"]["relative_yield"] == pytest.approx(np.prod(1 - losses), abs=1e-12)
    assert len({round(row["relative_yield"], 6) for row in got.values()}) == 3
    assert len({row["relative_et"] for row in got.values()}) == 1


def test_without_stress_the_yield_is_full():
    watered = season(rule=Rule(allowable_depletion=0.1))
    for form in ("seasonal", "additive", "multiplicative"):
        assert relative_yield(watered, form).loc[0, "relative_yield"] == pytest.approx(1.0, abs=1e-12)


def test_a_row_for_each_field_and_each_crop_of_a_rotation():
    fields = pd.Index(["north", "south"], name="field")
    response = xr.DataArray([1.25, 0.9], dims="field", coords={"field": fields})
    second = maize(planted="2024-06-20", stage_days=(5, 5, 5, 5), yield_response=0.8)
    both = season(crop=Rotation(crops=(maize(yield_response=response), second)))
    frame = relative_yield(both)
    assert frame["field"].tolist() == ["north", "north", "south", "south"]
    assert frame["crop_number"].tolist() == [1, 2, 1, 2]
    assert frame["first_day"].tolist() == [pd.Timestamp("2024-05-03"), pd.Timestamp("2024-06-20")] * 2
    assert frame["last_day"].tolist() == [pd.Timestamp("2024-06-11"), pd.Timestamp("2024-07-09")] * 2
    loss = (1 - frame["relative_yield"]) / (1 - frame["relative_et"])
    assert loss.tolist() == pytest.approx([1.25, 0.8, 0.9, 0.8], abs=1e-9)
    assert frame["note"].str.contains("last day of the season").tolist() == [False, True, False, True]
    alone = relative_yield(both.sel(field="south"))
    pd.testing.assert_frame_equal(
        alone, frame.iloc[2:].drop(columns="field").reset_index(drop=True), check_exact=True
    )


def test_a_crop_that_stands_in_no_cell_of_its_row_keeps_the_row():
    run = season(crop=Rotation(crops=(maize(), maize(planted="2024-06-20", unfinished=True))))
    cut = run.isel(time=slice(0, 40))
    fields = pd.Index(["short", "long"], name="field")
    number = xr.concat([run["crop_number"].where(run["crop_number"] < 2, 0), run["crop_number"]], dim=fields)
    frame = relative_yield(run.assign(crop_number=number))
    assert len(frame) == 4
    absent = frame.iloc[1]
    assert absent["note"] == "does not stand on any day of the season"
    assert not absent["within_limits"]
    assert pd.isna(absent["first_day"])
    assert np.isnan(absent["relative_yield"])
    assert len(relative_yield(cut)) == 1


def test_deficits_beyond_a_half_are_told():
    dry = season(weather=weather(rain=0.0), initial_depletion=40.0)
    row = relative_yield(dry).loc[0]
    assert row["relative_et"] < 0.5
    assert not row["within_limits"]
    assert "Ky holds down to 0.5" in row["note"]
    assert row["relative_yield"] == relative_yield_seasonal(row["relative_et"], 1.25)
    # by stage, a stage is enough: mid-season without water in a season that is well watered otherwise
    run = season(rule=Rule(allowable_depletion=0.1))
    et = run["et"] * xr.where(run["crop_stage"] == 3, 0.4, 1.0)
    by_stage = relative_yield(run.assign(et=et), "multiplicative").loc[0]
    assert by_stage["relative_et"] > 0.5
    assert by_stage["relative_yield"] == pytest.approx(1 - 0.5 * 0.6, abs=1e-9)
    assert not by_stage["within_limits"]
    assert "of a stage is 0.40" in by_stage["note"]


def test_a_response_that_leaves_no_yield_is_outside_its_limits():
    # every stage at 0.55: 1 - 2.6 * 0.45 is below 0, although no stage is below a half
    run = season(rule=Rule(allowable_depletion=0.1))
    short = run.assign(et=run["et"] * 0.55)
    row = relative_yield(short, "additive").loc[0]
    assert row["relative_yield"] == pytest.approx(relative_yield_additive([0.55] * 4, KY_BY_STAGE), abs=1e-9)
    assert row["relative_yield"] <= 0
    assert not row["within_limits"]
    assert row["note"] == "the response leaves no yield: the relation does not hold so far"


def test_a_crop_that_the_weather_cuts_off_is_told():
    early = season(crop=maize(planted="2024-04-15"))  # stage 2 on the first day
    assert "stood before the season began" in relative_yield(early).loc[0, "note"]
    late = season(weather=weather(days=25, rain=12.0))
    row = relative_yield(late, "additive").loc[0]
    assert row["last_day"] == pd.Timestamp("2024-05-25")
    assert "no day in stage 4" in row["note"]
    assert "stands on the last day of the season" in row["note"]
    assert np.isfinite(row["relative_yield"])


def test_salt_acts_through_the_stress_coefficient():
    crop = maize(salt_threshold=1.7, salt_slope=12.0)
    salty = season(crop=crop, soil=soil(soil_salinity=3.7), rule=Rule(allowable_depletion=0.1))
    row = relative_yield(salty).loc[0]
    lost = 1 - float(salty["salt_factor"])
    share = float((salty["kcb"] * salty["et_ref"]).sum()) / row["et_unstressed_mm"]
    assert row["relative_et"] == pytest.approx(1 - lost * share, abs=0.01)  # transpiration alone is held back
    # FAO-56 Eq. 89: 12 % for each of 2 dS/m beyond the threshold
    assert 1 - row["relative_yield"] < 0.12 * (3.7 - 1.7)
    assert row["note"].endswith("what it costs here is less than the loss of Eq. 89")
    assert "is not the loss of Eq. 89" in relative_yield(salty, "additive").loc[0, "note"]
    # irrigated in full: salt is no lack of water
    account = ledger(salty).loc[0]
    assert account["stress_days"] == 0
    assert account["transpiration_missed_mm"] == pytest.approx(
        lost * float((salty["kcb"] * salty["et_ref"]).where(salty["crop_stage"] > 0).sum()), abs=1e-6
    )


def test_salt_costs_the_loss_of_its_relation_under_a_single_coefficient():
    crop = maize(kcb=None, kc=(0.3, 1.2, 0.6), salt_threshold=1.7, salt_slope=12.0)
    salty = season(crop=crop, soil=soil(soil_salinity=3.7), rule=Rule(allowable_depletion=0.1))
    row = relative_yield(salty).loc[0]
    assert 1 - row["relative_yield"] == pytest.approx(0.12 * (3.7 - 1.7), abs=1e-9)  # FAO-56 Eq. 89
    assert row["note"] == ""


def test_the_note_on_salt_stands_where_there_is_salt():
    fields = pd.Index(["sweet", "salty"], name="field")
    salinity = xr.DataArray([1.0, 3.7], dims="field", coords={"field": fields})
    crop = maize(salt_threshold=1.7, salt_slope=12.0)
    frame = relative_yield(season(crop=crop, soil=soil(soil_salinity=salinity)))
    assert frame["note"].str.contains("Eq. 89").tolist() == [False, True]


def test_a_form_by_stage_needs_stages():
    days = weather()["time"]
    series = maize(
        planted=None,
        stage_days=None,
        kcb=xr.DataArray(np.full(days.size, 1.0), coords={"time": days}),
        root_depth=0.8,
    )
    run = season(crop=series)
    assert np.isfinite(relative_yield(run).loc[0, "relative_yield"])
    problem = r"crop stages: are not known.*mend: form='seasonal', or give planted and stage_days"
    for form in ("additive", "multiplicative"):
        with pytest.raises(InputError, match=problem):
            relative_yield(run, form)
    fields = pd.Index(["calendar", "series"], name="field")
    both = xr.concat([season(), run], dim=fields, data_vars="all")
    with pytest.raises(InputError, match=r"crop stages: .*first at field series"):
        relative_yield(both, "additive")


def test_spots_are_averaged():
    system = System(delivered_fraction=0.9, spot_share=[0.4, 1.6])
    run = season(weather=weather(), system=system, rule=Rule(allowable_depletion=0.4))
    frame = relative_yield(run)
    assert "spot" not in frame
    mean = run["et"].mean("spot").where(run["crop_stage"] > 0).sum()
    assert frame.loc[0, "et_mm"] == pytest.approx(float(mean), abs=1e-9)


def test_a_missing_day_leaves_the_yield_unknown():
    lost = weather(rain=12.0)
    lost["et_ref"] = lost["et_ref"].where(lost["time"] != np.datetime64("2024-05-20"))
    row = relative_yield(season(weather=lost, missing="propagate")).loc[0]
    assert np.isnan(row["relative_yield"])
    assert not row["within_limits"]
    assert "is missing on some day" in row["note"]


def test_a_crop_of_the_handbook_brings_its_response():
    crop = Crop.from_handbook("sweet maize", planted="2024-05-03", stage_days=(8, 10, 15, 7))
    row = relative_yield(season(crop=crop)).loc[0]
    # FAO-56 Table 24: maize 1.25
    assert row["relative_yield"] == pytest.approx(1 - 1.25 * (1 - row["relative_et"]), abs=1e-12)


def test_a_crop_without_a_response_is_refused_by_name():
    with pytest.raises(InputError, match=r"crop yield_response: is not given; mend: .*Table 24"):
        relative_yield(season(crop=maize(yield_response=None)))
    plain = maize(stage_yield_response=None)
    with pytest.raises(InputError, match=r"crop stage_yield_response: is not given.*form='seasonal'"):
        relative_yield(season(crop=plain), "additive")
    second = maize(planted="2024-06-20", stage_days=(5, 5, 5, 5), yield_response=None)
    with pytest.raises(InputError, match=r"1 fault(.|\n)*crop 2 yield_response: is not given"):
        relative_yield(season(crop=Rotation(crops=(maize(), second))))
    joined = concat(
        {"north": maize(), "south": dataclasses.replace(maize(), yield_response=None)}, dim="field"
    )
    with pytest.raises(InputError, match=r"is not given; first at field south"):
        relative_yield(season(crop=joined))


def test_what_is_no_season_or_no_form_is_refused():
    with pytest.raises(InputError, match="not a Dataset"):
        relative_yield(pd.DataFrame({"et": [1.0]}))
    with pytest.raises(InputError, match="lacks et"):
        relative_yield(season().drop_vars("et"))
    with pytest.raises(
        InputError, match=r"form: is unknown; found 'monthly'; allowed: 'seasonal', 'additive'"
    ):
        relative_yield(season(), "monthly")
    with pytest.raises(InputError, match="no day on which a crop stands"):
        relative_yield(season().isel(time=slice(60, 70)))
