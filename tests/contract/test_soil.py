"""Soil by layers, by particles and with its options; readings: what is taken, kept, and refused in which words."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import waterbudget as wb
from waterbudget.soil import (
    Storage,
    adjusted_curve_number,
    curve_number_runoff,
    hourly_runoff,
    observed_depletion,
    store,
    texture_class,
    total_evaporable_water,
)

LAYERS = {
    "layer_bottom": (0.3, 0.6, 1.2),
    "field_capacity": (0.25, 0.30, 0.34),
    "wilting_point": (0.12, 0.14, 0.20),
}
DAYS = pd.date_range("2024-05-01", periods=4)
RISE = {"water_table_depth": 2.0, "capillary_a": 8.0, "capillary_n": 2.5}


def along(values, labels=("north", "south"), dim="field"):
    return xr.DataArray(list(values), dims=dim, coords={dim: list(labels)})


def loam(**changes):
    return wb.Soil(**({"field_capacity": 0.25, "wilting_point": 0.12, "rew": 9, "tew": 19} | changes))


def layered(**changes):
    return wb.Soil(**(LAYERS | {"rew": 9} | changes))


def particles(**changes):
    return wb.Soil.from_particles(**({"sand": 40, "clay": 20, "organic_matter": 2.5} | changes))


def refusal(make, *args, **kwargs):
    with pytest.raises(wb.InputError) as caught:
        make(*args, **kwargs)
    return caught.value


def only_fault(make, *args, **kwargs):
    (fault,) = refusal(make, *args, **kwargs).faults
    return fault


def bits(value):
    return np.asarray(value, dtype=np.float64).tobytes()


def water_to(storage, depth):
    """Available water down to a depth [mm], by the words of Storage."""
    total = 1000.0 * storage.available_water * depth
    for top, change in zip(storage.layer_tops, storage.layer_changes, strict=True):
        total = total + 1000.0 * change * np.maximum(depth - top, 0.0)
    return total


# ------------------------------------------------------------------------------ canonical forms
def test_layers_become_arrays_on_layer():
    soil = layered(saturation=0.45)
    assert soil.field_capacity.dims == ("layer",)
    assert soil.field_capacity["layer"].values.tolist() == [1, 2, 3]
    assert soil.layer_bottom.values.tolist() == [0.3, 0.6, 1.2]
    assert soil.saturation.values.tolist() == [0.45, 0.45, 0.45]  # one number holds for every layer
    again = dataclasses.replace(soil, rew=8)
    assert again.field_capacity.identical(soil.field_capacity)


def test_layers_may_be_text_arrays_and_labelled():
    soil = wb.Soil(
        layer_bottom=("1 ft", "3 ft"),
        field_capacity=("25 %", along([0.30, 0.32])),
        wilting_point=np.array([0.12, 0.14]),
    )
    assert soil.layer_bottom.values.tolist() == pytest.approx([0.3048, 0.9144])
    assert soil.field_capacity.dims == ("field", "layer")
    assert soil.field_capacity.sel(field="south").values.tolist() == [0.25, 0.32]


def test_a_uniform_soil_stores_what_it_says():
    storage = store(loam())
    assert storage.available_water == 0.13
    assert (storage.layer_tops, storage.layer_changes, storage.drainable_changes) == ((), (), ())
    assert (storage.drainable_water, storage.drainage_fraction, storage.adjust_curve_number) == (
        0.0,
        1.0,
        0.0,
    )
    for name in ("curve_number", "intake_rate", "soil_salinity", "restricting_depth", "layers_end",
                 "water_table_depth", "capillary_a", "capillary_n"):  # fmt: skip
        assert np.isnan(getattr(storage, name)), name


def test_options_are_handed_on():
    soil = loam(
        saturation=0.45,
        drainage_fraction=0.4,
        curve_number=75,
        adjust_curve_number=True,
        soil_salinity="4 mS/cm",
        restricting_depth="2 ft",
        **RISE,
    )
    storage = store(soil)
    assert storage.drainable_water == pytest.approx(0.20)
    assert (storage.drainage_fraction, storage.curve_number, storage.adjust_curve_number) == (0.4, 75.0, 1.0)
    assert storage.soil_salinity == pytest.approx(4.0)
    assert storage.restricting_depth == pytest.approx(0.6096)
    assert (storage.water_table_depth, storage.capillary_a, storage.capillary_n) == (2.0, 8.0, 2.5)
    assert store(loam(intake_rate="0.5 in/h")).intake_rate == pytest.approx(12.7)


def test_a_layered_soil_stores_its_top_and_its_changes():
    storage = store(layered(saturation=(0.45, 0.48, 0.48), drainage_fraction=0.5))
    assert storage.available_water == pytest.approx(0.13)
    assert storage.layer_tops == (0.3, 0.6)
    assert storage.layer_changes == pytest.approx((0.03, -0.02))
    assert storage.drainable_water == pytest.approx(0.20)
    assert storage.drainable_changes == pytest.approx((-0.02, -0.04))
    assert storage.layers_end == 1.2
    # By hand: 0.3 m at 0.13, 0.3 m at 0.16, 0.4 m at 0.14.
    assert water_to(storage, 1.0) == pytest.approx(39.0 + 48.0 + 56.0)
    assert all(isinstance(value, float) for value in storage if not isinstance(value, tuple))


def test_a_daily_water_table_keeps_its_days():
    depth = pd.Series([2.0, 2.1, 2.2, 2.0], index=DAYS)
    storage = store(loam(**RISE | {"water_table_depth": depth}))
    assert storage.water_table_depth.dims == ("time",)


# ------------------------------------------------------------------------------ equal layers, joined soils
@pytest.mark.parametrize("bottoms", [(0.04, 0.09, 1.5), (0.1, 1.0), (0.7, 1.1, 1.3, 1.5), (1.5,)])
@pytest.mark.parametrize("depth", [0.1, 0.15])
def test_equal_layers_are_the_uniform_soil_bitwise(bottoms, depth):
    options = {"rew": 7, "saturation": 0.43, "drainage_fraction": 0.3, "evaporation_depth": depth}
    whole = store(wb.Soil(field_capacity=0.27, wilting_point=0.11, **options))
    cut = wb.Soil(
        layer_bottom=bottoms,
        field_capacity=[0.27] * len(bottoms),
        wilting_point=[0.11] * len(bottoms),
        **options,
    )
    parts = store(cut)
    zero = (0.0,) * (len(bottoms) - 1)
    assert parts.layer_changes == parts.drainable_changes == zero
    for name in ("available_water", "rew", "tew", "air_dry_water", "drainable_water"):
        assert bits(getattr(parts, name)) == bits(getattr(whole, name)), name
    for root in (0.03, 0.2, 0.77, 1.5):
        assert bits(water_to(parts, root)) == bits(water_to(whole, root))


def joinable():
    return {
        "three": layered(saturation=0.45, drainage_fraction=0.5),
        "two": wb.Soil(layer_bottom=(0.06, 1.0), field_capacity=(0.2, 0.3), wilting_point=(0.1, 0.2), rew=5),
        "held": wb.Soil(layer_bottom=(0.5, 1.0), available_water=(0.10, 0.12), rew=7, tew=20),
        "uniform": wb.Soil.from_handbook("loam"),
        "wet": loam(**RISE, curve_number=70, adjust_curve_number=True),
    }


@pytest.mark.parametrize(
    "names", [("three", "two", "held", "uniform", "wet"), ("uniform", "three"), ("held", "two")]
)
def test_joined_soils_are_what_they_were_alone_bitwise(names):
    soils = {name: soil for name, soil in joinable().items() if name in names}
    soils = {name: soils[name] for name in names}
    joined = store(wb.concat(soils, "field"))
    for label, soil in soils.items():
        alone, together = store(soil), pick(joined, label)
        for name, value in alone._asdict().items():
            if not isinstance(value, tuple):
                assert bits(getattr(together, name)) == bits(value), (label, name)
        more = len(together.layer_tops) - len(alone.layer_tops)
        assert together.layer_changes == alone.layer_changes + (0.0,) * more
        assert together.drainable_changes == alone.drainable_changes + (0.0,) * more
        assert np.isfinite(together.layer_tops).all()
        for root in (0.05, 0.44, 0.9):
            assert bits(water_to(together, root)) == bits(water_to(alone, root))


def pick(storage, label):
    def one(value):
        if isinstance(value, tuple):
            return tuple(one(part) for part in value)
        return float(value.sel(field=label)) if isinstance(value, xr.DataArray) else value

    return Storage(*(one(value) for value in storage))


def test_joined_soils_can_be_joined_again():
    first = wb.concat({"north": loam(), "south": layered()}, "field")
    both = wb.concat({"dry": first, "wet": loam()}, "case")
    storage = store(both)
    assert storage.layer_changes[0].sel(case="dry", field="south") == pytest.approx(0.03)
    assert storage.layer_changes[0].sel(case="wet", field="south") == 0.0
    assert np.isnan(storage.layers_end.sel(case="wet")).all()


def test_equal_layered_soils_are_not_copied():
    joined = wb.concat({"north": layered(), "south": layered(rew=8)}, "field")
    assert joined.field_capacity.dims == ("layer",)


def test_layer_is_no_name_for_a_dimension_of_ones_own():
    assert "cannot join along 'layer'" in str(refusal(wb.concat, {"a": loam()}, "layer"))


# ------------------------------------------------------------------------------ what is refused
@pytest.mark.parametrize(
    ("make", "changes", "what", "says", "found", "allowed"),
    [
        (layered, {"layer_bottom": None}, "layer_bottom", "missing", "field_capacity, wilting_point", ""),
        (layered, {"layer_bottom": 1.2}, "layer_bottom", "one value for each layer", "", "sequence"),
        (layered, {"layer_bottom": (0.3, 0.3, 1.2)}, "layer_bottom", "does not go down", "0.3", "ascending"),
        (layered, {"layer_bottom": (0.0, 0.6, 1.2)}, "layer_bottom, layer 1", "outside", "0", "above 0"),
        (layered, {"field_capacity": (0.25, 0.3)}, "field_capacity", "as many layers", "2 values", "3 layers"),
        (layered, {"field_capacity": (0.25, np.nan, 0.3)}, "field_capacity, layer 2", "outside", "nan", "above 0"),
        (layered, {"field_capacity": (0.25, 30, 0.3)}, "field_capacity, layer 2", "outside", "30", "above 0"),
        (layered, {"field_capacity": ()}, "field_capacity", "one value for each layer", "()", ""),
        (layered, {"wilting_point": (0.1, 0.3, 0.2)}, "wilting_point", "is not below", "0.3", "wilting_point <"),
        (layered, {"available_water": 0.1}, "available_water", "contradicts", "0.25", ""),
        (layered, {"layer_bottom": (0.02, 0.05, 0.08)}, "layer_bottom", "evaporation layer", "0.08", "at least"),
        (layered, {"rew": 20}, "rew", "not below tew", "tew 19", "rew < tew"),
        (loam, {"tew": None, "rew": 19}, "rew", "not below tew", "tew 19", "rew < tew"),
        (loam, {"curve_number": 101}, "curve_number", "outside", "101", "1 to 100"),
        (loam, {"saturation": 0.25}, "saturation", "not above field_capacity", "0.25", "saturation >"),
        (loam, {"saturation": 45}, "saturation", "outside", "45", "0.95"),
        (loam, {"drainage_fraction": 0.5}, "drainage_fraction", "without saturation", "0.5", ""),
        (loam, {"drainage_fraction": 0, "saturation": 0.4}, "drainage_fraction", "outside", "0", "above 0"),
        (loam, {"intake_rate": 10, "curve_number": 75}, "intake_rate", "beside a curve_number", "75", ""),
        (loam, {"adjust_curve_number": True}, "adjust_curve_number", "without a curve_number", "", ""),
        (loam, {"adjust_curve_number": "yes", "curve_number": 75}, "adjust_curve_number", "yes or no", "yes", ""),
        (
            loam,
            {"adjust_curve_number": True, "curve_number": 75, "rew": None},
            "adjust_curve_number",
            "without rew and tew",
            "rew nan",
            "",
        ),
        (loam, RISE | {"capillary_n": None}, "capillary_n", "is missing", "", ""),
        (loam, RISE | {"capillary_a": None}, "capillary_a", "is missing", "", ""),
        (loam, RISE | {"water_table_depth": None}, "water_table_depth", "is missing", "", ""),
        (loam, RISE | {"capillary_n": 1}, "capillary_n", "outside", "1", "above 1"),
        (loam, RISE | {"capillary_a": "8 mm"}, "capillary_a", "its unit depends on", "8 mm", "mm day-1 m^n"),
        (loam, {"restricting_depth": 0}, "restricting_depth", "outside", "0", "0.05"),
        (loam, {"soil_salinity": "4"}, "soil_salinity", "no unit", "'4'", ""),
        (particles, {"sand": 70, "clay": 40}, "sand and clay", "more than all", "sand 70, clay 40", "100 %"),
        (particles, {"sand": 20, "clay": 70}, "clay", "beyond the samples", "70", "60 %"),
        (particles, {"organic_matter": 9}, "organic_matter", "beyond the samples", "9", "8 %"),
        (particles, {"sand": 101, "clay": 0}, "sand", "outside", "101", "0 to 100"),
        (particles, {"sand": 100, "clay": 0, "organic_matter": 0}, "wilting_point", "outside", "-0.01", ""),
        (particles, {"sand": 92, "clay": 3, "organic_matter": 1}, "rew", "not below tew", "6.2", "rew < tew"),
    ],
)  # fmt: skip
def test_one_fault_says_the_thing_the_value_and_what_is_allowed(make, changes, what, says, found, allowed):
    fault = only_fault(make, **changes)
    assert fault.what.removeprefix("worked out from the particles, ") == what
    assert says in fault.problem
    assert found in fault.value
    assert allowed in fault.allowed


def test_faults_of_one_label_or_layer_name_it():
    wrong = xr.DataArray([[0.1, 0.1], [0.1, 0.3]], dims=("field", "layer"),
                         coords={"field": ["a", "b"], "layer": [1, 2]})  # fmt: skip
    fault = only_fault(
        wb.Soil, layer_bottom=(0.3, 1.0), field_capacity=along([0.25, 0.25], ("a", "b")), wilting_point=wrong
    )
    assert fault.where == "field b, layer 2"
    fault = only_fault(loam, drainage_fraction=along([1.0, 0.5]), saturation=along([0.4, np.nan]))
    assert fault.where == "field south"
    fault = only_fault(loam, curve_number=along([75, np.nan]), adjust_curve_number=True)
    assert fault.where == "field south"
    fault = only_fault(loam, curve_number=along([75, np.nan]), intake_rate=along([10.0, 12.0]))
    assert fault.where == "field north"


def test_labels_with_fewer_layers_hold_nothing_below_them():
    bottom = xr.DataArray([[0.3, 1.0], [0.5, np.nan]], dims=("field", "layer"),
                          coords={"field": ["a", "b"], "layer": [1, 2]})  # fmt: skip
    soil = wb.Soil(layer_bottom=bottom, available_water=0.1)
    assert store(soil).layers_end.values.tolist() == [1.0, 0.5]
    fault = only_fault(wb.Soil, layer_bottom=bottom, available_water=(0.1, 0.2))
    assert "where there is no layer" in fault.problem
    assert fault.where == "field b, layer 2"
    lacking = bottom.copy(data=[[0.1, np.nan], [0.1, np.nan]])
    fault = only_fault(wb.Soil, layer_bottom=bottom, available_water=lacking)
    assert "missing in a layer" in fault.problem
    assert fault.where == "field a, layer 2"
    upside_down = bottom.copy(data=[[0.3, 1.0], [np.nan, 0.5]])
    fault = only_fault(wb.Soil, layer_bottom=upside_down, available_water=0.1)
    assert "above a layer that has one" in fault.problem


def test_layers_are_numbered_from_1():
    values = xr.DataArray([0.1, 0.2], dims="layer", coords={"layer": ["topsoil", "subsoil"]})
    fault = only_fault(wb.Soil, layer_bottom=(0.3, 1.0), available_water=values)
    assert "other labels on 'layer'" in fault.problem
    assert "topsoil" in fault.value
    assert "no labels" in only_fault(wb.Soil, available_water=xr.DataArray([0.1, 0.2], dims="layer")).value


def test_all_faults_of_a_soil_come_together():
    error = refusal(loam, saturation=0.2, curve_number=75, intake_rate=10, capillary_a=8.0)
    assert [fault.what for fault in error.faults] == [
        "saturation", "intake_rate", "water_table_depth", "capillary_n",
    ]  # fmt: skip


def test_a_water_table_series_has_every_day():
    depth = pd.Series([2.0, np.nan, 2.2, np.nan], index=DAYS)
    fault = only_fault(loam, **RISE | {"water_table_depth": depth})
    assert "days without a value" in fault.problem
    assert (fault.where, fault.count) == ("2024-05-02", 2)
    fault = only_fault(loam, **RISE | {"water_table_depth": depth.dropna()})
    assert "misses days" in fault.problem


# ------------------------------------------------------------------------------ a table of layers
ROWS = [
    {"top_m": 0.0, "bottom_m": 0.3, "field_capacity": 0.25, "wilting_point": 0.12},
    {"top_m": 0.3, "bottom_m": 0.6, "field_capacity": 0.30, "wilting_point": 0.14},
    {"top_m": 0.6, "bottom_m": 1.2, "field_capacity": 0.34, "wilting_point": 0.20},
]


def changed(row, **changes):
    return [entry | changes if number == row else entry for number, entry in enumerate(ROWS, 1)]


@pytest.mark.parametrize("table", [ROWS, ROWS[::-1], pd.DataFrame(ROWS, index=["A", "B", "C"])])
def test_a_table_of_layers_is_the_soil_of_its_numbers(table):
    given, made = store(wb.Soil(**LAYERS)), store(wb.Soil.from_layers(table))
    for name in Storage._fields:
        np.testing.assert_array_equal(getattr(made, name), getattr(given, name), err_msg=name)


def test_a_table_may_know_saturation_or_available_water_alone():
    soil = wb.Soil.from_layers([row | {"saturation": 0.48} for row in ROWS])
    assert soil.saturation.values.tolist() == [0.48] * 3
    held = wb.Soil.from_layers([{"top_m": 0, "bottom_m": 0.9, "available_water": "2 in/ft"}])
    assert store(held).available_water == pytest.approx(1 / 6)


@pytest.mark.parametrize(
    ("table", "says", "where", "found"),
    [
        (changed(1, top_m=0.05), "hole", "row 1", "0.05"),
        (changed(2, top_m=0.35), "hole", "row 2", "top_m 0.35, bottom_m 0.6, the soil above ends at 0.3"),
        (changed(2, top_m=0.25), "overlap", "row 2", "0.25"),
        (changed(3, bottom_m=0.6), "without thickness", "row 3", "0.6"),
        (changed(2, bottom_m="deep"), "not a number", "row 2", "'deep'"),
        (changed(1, top_m=-0.1), "not a number of 0 or more", "row 1", "-0.1"),
        ([row | {"colour": "red"} for row in ROWS], "unknown columns", "", "colour"),
        ([{"top_m": 0.0, "field_capacity": 0.3, "wilting_point": 0.1}], "lacks columns", "", "bottom_m"),
        ([], "no rows", "", ""),
        ("topsoil", "not a table", "", "str"),
    ],
)
def test_a_table_of_layers_at_fault_is_refused_by_row(table, says, where, found):
    fault = only_fault(wb.Soil.from_layers, table)
    assert fault.what.startswith("layers")
    assert says in fault.problem
    assert fault.where == where
    assert found in fault.value


def test_a_layer_without_water_content_is_named():
    fault = only_fault(wb.Soil.from_layers, changed(2, wilting_point=None))
    assert fault.what == "wilting_point, layer 2"


# ------------------------------------------------------------------------------ particles
def test_particles_may_be_labelled_and_surface_numbers_ones_own():
    soil = particles(sand=along([40.0, 88.0]), clay=along([20.0, 5.0]))
    assert soil.rew.values.tolist() == pytest.approx([9.6, 6.8])
    assert soil.field_capacity.dims == ("field",)
    sand = particles(sand=92, clay=3, organic_matter=1, rew=4)
    assert sand.rew == 4.0
    assert wb.descriptions.sources(sand)["rew"] == "given by the user"
    assert wb.descriptions.sources(soil)["rew"].startswith("Ritchie")


def test_particles_share_their_labels():
    error = refusal(particles, sand=along([40, 50]), clay=along([20, 20], ("a", "b")))
    assert "field labels" in str(error)


def test_texture_class_takes_arrays():
    named = texture_class(along([88.0, 40.0]), along([5.0, 20.0]))
    assert named.values.tolist() == ["sand", "loam"]
    assert named["field"].values.tolist() == ["north", "south"]
    assert texture_class(np.nan, 10.0) == ""


# ------------------------------------------------------------------------------ formulas on arrays
def test_formulas_keep_unknown_values_unknown():
    assert np.isnan(curve_number_runoff(np.array([np.nan]), 75.0)).all()
    assert np.isnan(adjusted_curve_number(50.0, 90.0, np.array([np.nan]), 9.0, 19.0)).all()
    assert np.isnan(total_evaporable_water(np.nan, 0.1, 0.1))


def test_the_adjusted_curve_number_stays_between_its_ends():
    depletion = np.linspace(0.0, 19.0, 400)
    numbers = adjusted_curve_number(55.0, 88.0, depletion, 9.0, 19.0)
    assert (np.diff(numbers) <= 0).all()
    assert numbers.min() >= 55.0
    assert numbers.max() <= 88.0


# ------------------------------------------------------------------------------ hourly rain
def hours(days=2, **changes):
    index = pd.date_range("2024-06-01", periods=24 * days, freq="h")
    return pd.Series(1.0, index=index, **changes)


def test_hourly_runoff_keeps_labels_and_gaps():
    rain = xr.DataArray(
        np.full((2, 48), 12.0), dims=("field", "time"), coords={"field": ["a", "b"], "time": hours().index}
    )
    rain[1, 30] = np.nan
    got = hourly_runoff(rain, along([10.0, 11.0], ("a", "b")))
    assert got.dims == ("time", "field")
    assert got.sel(field="a").values.tolist() == [48.0, 48.0]
    assert got.sel(field="b").values[0] == 24.0
    assert np.isnan(got.sel(field="b").values[1])


@pytest.mark.parametrize(
    ("rain", "rate", "says", "where"),
    [
        (hours().iloc[:-1], 10.0, "misses hours", "2024-06-02 23:00:00"),
        (hours().iloc[1:], 10.0, "misses hours", "2024-06-01 00:00:00"),
        (hours().iloc[::-1], 10.0, "not in order", ""),
        (
            hours().set_axis(hours().index + pd.Timedelta(minutes=30)),
            10.0,
            "not on the hour",
            "2024-06-01 00:30:00",
        ),
        (hours().tz_localize("Asia/Tokyo"), 10.0, "time zone", ""),
        (-hours().shift(1, fill_value=0.0), 10.0, "outside its range", "2024-06-01 01:00"),
        (5.0, 10.0, "not a series on time", ""),
        (hours(), 0.0, "outside its range", ""),
    ],
)
def test_hourly_rain_at_fault_is_refused(rain, rate, says, where):
    error = refusal(hourly_runoff, rain, rate)
    assert any(says in fault.problem and where in fault.where for fault in error.faults), str(error)


# ------------------------------------------------------------------------------ readings
def reading(date="2024-07-01", top=0.0, bottom=0.6, content=0.2, **more):
    return {"date": date, "top_m": top, "bottom_m": bottom, "water_content": content} | more


def test_readings_of_fields_and_days_are_laid_out():
    soil = wb.concat({"north": loam(), "south": loam(field_capacity=0.30), "west": layered()}, "field")
    roots = xr.DataArray(
        [[0.4, 0.5, 0.6]] * 4, dims=("time", "field"),
        coords={"time": DAYS, "field": ["north", "south", "west"]},
    )  # fmt: skip
    table = [
        reading("2024-05-03", field="south"),
        reading("2024-05-01", field="north"),
        reading("2024-05-01", 0.3, 0.7, 0.2, field="west"),
        reading("2024-05-01 09:30", 0.0, 0.3, 0.2, field="west"),
    ]
    got = observed_depletion(table, soil, roots)
    assert got.dims == ("time", "field")
    assert got.name == "depletion"
    assert got["field"].values.tolist() == ["north", "south", "west"]
    assert got.sel(field="north").values == pytest.approx([20.0, np.nan], nan_ok=True)
    assert got.sel(field="south").values == pytest.approx([np.nan, 50.0], nan_ok=True)
    assert got.sel(field="west").values == pytest.approx([15.0 + 30.0, np.nan], nan_ok=True)


def test_water_above_field_capacity_is_a_negative_depletion():
    assert observed_depletion([reading(content=0.30)], loam(), 0.6).values == pytest.approx([-30.0])


def test_points_stand_for_the_soil_halfway_to_their_neighbours():
    table = [{"date": "2024-07-01", "depth_m": 0.25, "water_content": 0.2}]
    assert observed_depletion(table, loam(), 0.5).values == pytest.approx([25.0])
    assert "end above the root depth" in only_fault(observed_depletion, table, loam(), 0.51).problem


@pytest.mark.parametrize(
    ("table", "what", "says", "where"),
    [
        ([reading(bottom=0.3), reading(top=0.35)], "readings", "hole", "row 2"),
        ([reading(bottom=0.3), reading(top=0.25)], "readings", "overlap", "row 2"),
        ([reading(top=0.1)], "readings", "hole", "row 1"),
        ([reading(bottom=0.5)], "readings", "end above the root depth", "row 1"),
        ([reading(content=np.nan)], "readings, water_content", "missing", "row 1"),
        ([reading(content=20)], "readings, water_content", "outside its range", "row 1"),
        ([reading(), reading("12.7.2024")], "readings, date", "not a date", "row 2"),
        ([reading(), reading(None)], "readings, date", "not a date", "row 2"),
        ([reading(bottom="deep")], "readings, bottom_m", "not a number", "row 1"),
        ([reading(field="a"), reading(field=None)], "readings, field", "missing", "row 2"),
        ([reading(depth_m=0.2)], "readings", "unknown columns", ""),
        ([{"date": "2024-07-01", "water_content": 0.2}], "readings", "lacks columns", ""),
        (
            [{"date": "2024-07-01", "depth_m": 0.3, "water_content": 0.2}] * 2,
            "readings",
            "depth twice",
            "row 2",
        ),
        (
            [{"date": "2024-07-01", "depth_m": 0.0, "water_content": 0.2}],
            "readings",
            "not below 0 m",
            "row 1",
        ),
        ([], "readings", "no rows", ""),
        (3, "readings", "not a table", ""),
    ],
)
def test_readings_at_fault_are_refused_by_row(table, what, says, where):
    error = refusal(observed_depletion, table, loam(), 0.6)
    assert any(
        fault.what == what and says in fault.problem and fault.where == where for fault in error.faults
    ), str(error)


def test_readings_need_the_labels_of_soil_and_roots():
    soil = wb.concat({"north": loam(), "south": loam(field_capacity=0.30)}, "field")
    assert "no column 'field'" in only_fault(observed_depletion, [reading()], soil, 0.6).problem
    fault = only_fault(observed_depletion, [reading(field="north"), reading(field="east")], soil, 0.6)
    assert "is not among those of soil" in fault.problem
    assert (fault.where, fault.value) == ("row 2", "'east'")
    roots = xr.DataArray([0.4] * 4, dims="time", coords={"time": DAYS})
    fault = only_fault(observed_depletion, [reading()], loam(), roots)
    assert "is not among those of root_depth" in fault.problem
    systems = along([0.4, 0.6], dim="system")
    fault = only_fault(observed_depletion, [reading()], loam(), systems)
    assert "differs by system" in fault.problem


def test_readings_need_a_field_capacity_and_a_soil_down_to_the_roots():
    fault = only_fault(observed_depletion, [reading()], wb.Soil(available_water=0.13), 0.6)
    assert fault.what == "soil, field_capacity"
    fault = only_fault(observed_depletion, [reading(bottom=1.5)], layered(), 1.4)
    assert fault.what == "soil, layer_bottom"
    assert "roots to 1.4 m" in fault.value
    some = wb.concat({"a": loam(), "b": wb.Soil(available_water=0.13, rew=9, tew=19)}, "field")
    fault = only_fault(observed_depletion, [reading(field="a"), reading(field="b")], some, 0.6)
    assert "is not given for a reading" in fault.problem
    assert "field b" in fault.value


def test_input_tables_are_not_changed():
    table = pd.DataFrame([reading(), reading("2024-07-02")], index=["x", "y"])
    layers = pd.DataFrame(ROWS, index=["A", "B", "C"])
    before = table.copy(), layers.copy()
    observed_depletion(table, loam(), 0.5)
    wb.Soil.from_layers(layers)
    pd.testing.assert_frame_equal(table, before[0])
    pd.testing.assert_frame_equal(layers, before[1])
