"""How soon a change is found in readings of flow and pressure, how often where there is none, and what stays the same.

The seasons are simulated with the stated errors of the instruments: no outside source. The measured shares are
printed (``pytest -s``), and are the same on every run.
"""

import numpy as np
import pandas as pd
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from waterbudget.system.readings import detectable_change, find_faults

pytestmark = pytest.mark.slow
SEASONS, GOOD, LATER, FROM = 500, 4, 10, 4
FLOW_ERROR, PRESSURE_ERROR = 0.02, 0.03
WITHIN = 3
"""Readings within which a change of a tenth is to be found."""
SURE = 0.001
"""Chance of a test that fails though all is well, were the seed another."""


def seasons(outlets=1.0, supply=1.0, seed=1, count=SEASONS, noise=1.0, steepness=1.2):
    """Readings of many zones: those of the baseline, and ten later ones of which the last six have changed.

    Flow is k p^0.5 on a pump that gives 300 kPa less ``steepness`` for each m3/h; k is such that 100 m3/h need 180 kPa.
    """
    rng = np.random.default_rng(seed)
    changed = np.arange(GOOD + LATER) >= GOOD + FROM
    k = np.where(changed, outlets, 1.0) * 100 / np.sqrt(180)
    head = np.where(changed, supply, 1.0) * 300
    root = (-steepness * k + np.sqrt((steepness * k) ** 2 + 4 * head)) / 2
    shape = (count, GOOD + LATER)
    flow = k * root * np.exp(noise * FLOW_ERROR * rng.standard_normal(shape))
    pressure = root**2 * np.exp(noise * PRESSURE_ERROR * rng.standard_normal(shape))
    table = pd.DataFrame(
        {
            "zone": np.repeat(np.arange(count), GOOD + LATER),
            "date": np.tile(pd.date_range("2024-04-01", periods=GOOD + LATER, freq="14D"), count),
            "flow_m3_per_h": flow.ravel(),
            "pressure_kPa": pressure.ravel(),
        }
    )
    good = np.tile(np.arange(GOOD + LATER) < GOOD, count)
    return table[~good].reset_index(drop=True), table[good].reset_index(drop=True)


def place(found, readings):
    """Which of the later readings it was, from 0."""
    dates = readings["date"].drop_duplicates().reset_index(drop=True)
    return found.map(pd.Series(dates.index, index=dates))


@pytest.mark.parametrize("errors", ["stated", "estimated"])
def test_false_alarms_are_as_rare_as_stated(errors):
    readings, baseline = seasons()
    known = {} if errors == "stated" else {"flow_error": None, "pressure_error": None}
    for stated in (0.05, 0.2):
        alarms = find_faults(readings, baseline, false_alarm=stated, **known)["zone"].nunique()
        print(
            f"\nfalse alarms, errors {errors}: {alarms} of {SEASONS} seasons ({alarms / SEASONS:.1%}), stated {stated:.0%}"
        )
        assert alarms <= scipy.stats.binom.isf(SURE, SEASONS, stated)
        # Shared out evenly between three quantities it is kept with room to spare, but not given away.
        assert alarms >= scipy.stats.binom.ppf(SURE, SEASONS, stated / 3)


@pytest.mark.parametrize(
    ("outlets", "name"), [(1.10, "leak, break or worn outlets"), (0.90, "clogged or closed outlets")]
)
def test_a_tenth_is_found_within_three_readings(outlets, name):
    readings, baseline = seasons(outlets=outlets)
    found = find_faults(readings, baseline)
    right = found[found["finding"] == name]
    after = place(right["found"], readings) - FROM + 1
    soon = int(((after >= 1) & (after <= WITHIN)).sum())
    shares = ", ".join(
        f"{int(((after >= 1) & (after <= n)).sum()) / SEASONS:.1%} within {n}" for n in (1, 2, 3, 6)
    )
    print(f"\n{name}, {outlets - 1:+.0%}: found in {shares} readings")
    # At least nine in ten: so many would come by chance one time in a thousand were it fewer.
    assert soon >= scipy.stats.binom.isf(SURE, SEASONS, 0.9)
    # It is named rightly: other names are false alarms.
    others = found[found["finding"] != name]["zone"].nunique()
    print(f"other names: {others / SEASONS:.1%}")
    assert others <= scipy.stats.binom.isf(SURE, SEASONS, 0.05)
    # The reading from which it began is right in most, and its size not far off on average.
    since = place(right["since"], readings)
    assert (since == FROM).mean() > 0.5
    assert (since - FROM).abs().median() == 0
    assert right["conductance_change_percent"].mean() == pytest.approx(100 * (outlets - 1), abs=2.0)
    print(
        f"began where said: {(since == FROM).mean():.0%}; mean size {right['conductance_change_percent'].mean():+.1f} %"
    )


@pytest.mark.parametrize(("quantity", "way"), [("conductance", "rise_percent"), ("pressure", "fall_percent")])
@pytest.mark.parametrize(("errors", "upto"), [("stated", 3), ("stated", LATER), ("estimated", LATER)])
def test_a_detectable_change_is_found_in_half_of_the_seasons(errors, upto, quantity, way):
    readings, baseline = seasons(steepness=0.0)
    readings = readings[place(readings["date"], readings) < upto].reset_index(drop=True)
    known = {} if errors == "stated" else {"flow_error": None, "pressure_error": None}
    least = detectable_change(readings, baseline, **known).query("quantity == @quantity")
    # From the first reading on, each zone's own where errors are estimated. A change of pressure leaves the outlets.
    ratio = 1 + readings["zone"].map(least.set_index("zone")[way]) / 100
    readings["flow_m3_per_h"] *= ratio if quantity == "conductance" else np.sqrt(ratio)
    readings["pressure_kPa"] *= ratio if quantity == "pressure" else 1.0
    found = find_faults(readings, baseline, **known)["zone"].nunique()
    print(
        f"\n{quantity}, {way[:4]} of {least[way].mean():.1f} %, {upto} readings, {errors}: {found / SEASONS:.1%} found"
    )
    # Half, within what chance allows (43 to 57 % of 500 seasons), and as many more as false alarms of the other two
    # quantities can add to the other half.
    assert found >= scipy.stats.binom.ppf(SURE, SEASONS, 0.5)
    assert found <= scipy.stats.binom.isf(SURE, SEASONS, 0.5 + 0.5 * 0.05 * 2 / 3)


def test_a_sagging_supply_is_not_called_a_leak():
    # On a flat pump curve a fifth less head is a fifth less pressure.
    readings, baseline = seasons(supply=0.80, steepness=0.0)
    found = find_faults(readings, baseline)
    names = found.groupby("finding")["zone"].nunique() / SEASONS
    print(f"\n20 % less supply: {names.to_dict()}")
    after = found[place(found["found"], readings) >= FROM]
    assert (after[after["finding"] == "weak supply or pump"]["zone"].nunique()) >= scipy.stats.binom.isf(
        SURE, SEASONS, 0.9
    )
    leaks = after[after["finding"].isin(["leak, break or worn outlets", "clogged or closed outlets"])]
    assert leaks["zone"].nunique() <= scipy.stats.binom.isf(SURE, SEASONS, 0.05 / 3)


def test_course_is_said_only_where_it_shows():
    dates = pd.date_range("2024-05-01", periods=LATER, freq="14D")
    good = pd.DataFrame(
        {"date": pd.date_range("2024-04-27", "2024-04-30"), "flow_m3_per_h": 100.0, "pressure_kPa": 200.0}
    )
    number = np.arange(LATER)

    def course(more, upto=LATER):
        flow = 100 * np.exp(more)
        table = pd.DataFrame({"date": dates, "flow_m3_per_h": flow, "pressure_kPa": 200.0}).iloc[:upto]
        return find_faults(table, good)[["finding", "course"]].values.tolist()

    # A break that passes 12 % more from the fifth reading on, and outlets that clog by 1.5 % from reading to reading.
    at_once, growing = 0.12 * (number >= 4), -0.015 * (number + 1)
    assert course(at_once) == [["leak, break or worn outlets", "sudden"]]
    assert course(growing) == [["clogged or closed outlets", "gradual"]]
    assert course(at_once, upto=5) == [
        ["leak, break or worn outlets", ""]
    ]  # one reading says nothing of the course


def test_course_is_seldom_wrong():
    readings, baseline = seasons(outlets=1.10)
    found = find_faults(readings, baseline)
    said = found["course"].value_counts() / SEASONS
    print(f"\ncourse of a sudden 10 %: {said.to_dict()}")
    # The likelihood of the wrong course is 8 times the right one's in less than 1 of 8.
    assert (found["course"] == "gradual").sum() <= scipy.stats.binom.isf(SURE, SEASONS, 1 / 8)
    assert (found["course"] == "sudden").sum() > (found["course"] == "gradual").sum()


# ------------------------------------------------------------------------------ what stays the same
CHANGES = st.floats(-0.3, 0.3)


@given(outlets=CHANGES, supply=CHANGES, seed=st.integers(0, 1000), upto=st.integers(1, LATER - 1))
def test_later_readings_never_change_an_earlier_finding(outlets, supply, seed, upto):
    readings, baseline = seasons(1 + outlets, 1 + supply, seed, count=3)
    whole = find_faults(readings, baseline).drop(columns="course")  # which goes by all readings
    day = readings["date"].iloc[upto]
    part = find_faults(readings[readings["date"] <= day], baseline).drop(columns="course")
    pd.testing.assert_frame_equal(part, whole[whole["found"] <= day].reset_index(drop=True))


@given(outlets=CHANGES, supply=CHANGES, seed=st.integers(0, 1000), shuffle=st.integers(0, 1000))
def test_units_and_order_do_not_matter(outlets, supply, seed, shuffle):
    readings, baseline = seasons(1 + outlets, 1 + supply, seed, count=1)
    whole = find_faults(readings, baseline)
    other = pd.DataFrame(
        {
            "date": readings["date"],
            "zone": readings["zone"],
            "flow_L_per_s": readings["flow_m3_per_h"] / 3.6,
            "pressure_bar": readings["pressure_kPa"] / 100,
        }
    ).sample(frac=1, random_state=shuffle)
    numbers = whole.select_dtypes("number").columns
    changed = find_faults(other, baseline.sample(frac=1, random_state=shuffle))
    pd.testing.assert_frame_equal(changed.drop(columns=numbers), whole.drop(columns=numbers))
    np.testing.assert_allclose(
        changed[numbers].astype(float), whole[numbers].astype(float), rtol=1e-9, atol=1e-9
    )


@given(outlets=CHANGES, seed=st.integers(0, 1000))
def test_a_zone_is_judged_alone(outlets, seed):
    readings, baseline = seasons(1 + outlets, 1.0, seed, count=4)
    whole = find_faults(readings, baseline)
    parts = [
        find_faults(readings[readings["zone"] == zone], baseline[baseline["zone"] == zone])
        for zone in range(4)
    ]
    filled = [part for part in parts if len(part)]
    assert sum(len(part) for part in parts) == len(whole)
    if filled:
        pd.testing.assert_frame_equal(pd.concat(filled, ignore_index=True), whole)
