"""Look-up by name: what is found, what is refused, and what the refusal says."""

import subprocess
import sys

import pytest

from waterbudget import handbook
from waterbudget.errors import InputError
from waterbudget.handbook.stages import planting_months


def fault_of(call, *args, **kwargs):
    with pytest.raises(InputError) as caught:
        call(*args, **kwargs)
    assert len(caught.value.faults) == 1
    return caught.value.faults[0]


# ------------------------------------------------------------------ names
@pytest.mark.parametrize(
    ("query", "name"),
    [
        ("sweet maize", "sweet maize"),
        ("  Sweet   MAIZE ", "sweet maize"),
        ("maize, sweet", "sweet maize"),
        ("sweet corn", "sweet maize"),
        ("field corn", "grain maize"),
        ("tomatoes", "tomato"),
        ("Tomato", "tomato"),
        ("peanuts", "groundnut"),
        ("aubergine", "eggplant"),
        ("potatoes", "potato"),
        ("potatoes, sweet", "sweet potato"),
        ("strawberry", "strawberries"),
        ("radish", "radishes"),
        ("winter wheat frozen soils", "winter wheat (frozen soils)"),
        ("winter wheat, non-frozen soil", "winter wheat (non-frozen soils)"),
        ("apples, no ground cover, no frosts", "apples/cherries/pears, no ground cover, no frosts"),
        (
            "pear, active ground cover, killing frost",
            "apples/cherries/pears, active ground cover, killing frost",
        ),
        (
            "peach, no ground cover, killing frost",
            "apricots/peaches/stone fruit, no ground cover, killing frost",
        ),
        ("oranges no ground cover 50% canopy", "citrus, no ground cover, 50% canopy"),
    ],
)
def test_names_and_synonyms(query, name):
    assert handbook.crop(query, month=4).name == name


@pytest.mark.parametrize("kind", ["crop", "soil", "system"])
def test_every_name_and_synonym_finds_its_own_row(kind):
    frame = getattr(handbook, f"{kind}s")()
    for name, synonyms in zip(frame["name"], frame["synonyms"], strict=True):
        for text in [name, *(part for part in synonyms.split("; ") if part)]:
            try:
                found = getattr(handbook, kind)(text).name
            except InputError as error:  # the name is found; what follows needs a month or an efficiency
                found = name if f"{kind} {name!r}" in str(error) else str(error)
            assert found == name


@pytest.mark.parametrize(
    ("query", "listed"),
    [
        ("corn", ["'grain maize'", "'sweet maize'"]),
        ("wheat", ["'spring wheat'", "'winter wheat (frozen soils)'", "'winter wheat (non-frozen soils)'"]),
        ("grapes", ["'table or raisin grapes'", "'wine grapes'"]),
    ],
)
def test_a_name_that_fits_several_lists_them_all(query, listed):
    fault = fault_of(handbook.crop, query, month=4)
    assert fault.allowed.split("; ") == listed
    assert fault.value == repr(query)


def test_an_unknown_name_gets_the_nearest():
    fault = fault_of(handbook.crop, "tomatto", month=4)
    assert fault.allowed.startswith("nearest names: 'tomato'")
    assert "crops()" in fault.mend


@pytest.mark.parametrize("query", ["", "  ", "?!", None, 3])
def test_no_name_at_all(query):
    assert fault_of(handbook.crop, query).problem == "the handbook has no entry of this name"


@pytest.mark.parametrize(
    "query", ["clay loam", "Sandy clay loam", "sandy clay", "peat", "sandy lome", "sandy"]
)
def test_a_texture_must_be_named_whole(query):
    """Table 19 has no clay loam; taking silty clay loam for it would be a guess."""
    fault = fault_of(handbook.soil, query)
    assert fault.problem == "is not in FAO-56 Table 19"
    assert fault.allowed == "; ".join(repr(name) for name in handbook.soils()["name"])
    assert "give field_capacity and wilting_point" in fault.mend
    assert "Soil.from_particles" in fault.mend


@pytest.mark.parametrize("query", ["clay loam", "sandy clay loam", "sandy clay"])
def test_no_other_texture_is_offered_for_a_real_one(query):
    """Classes of the USDA texture triangle (Soil Survey Manual, from memory) without a row in Table 19."""
    assert "is meant" not in fault_of(handbook.soil, query).mend
    assert "if 'sandy loam' is meant" in fault_of(handbook.soil, "sandy lome").mend


def test_silty_clay_loam_is_the_row_printed_silt_clay_loam():
    assert handbook.soil("silty clay loam") == handbook.soil("Silt clay loam")


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ("center pivot", "centre pivot"),
        ("Centre-pivot", "centre pivot"),
        ("traveling gun", "travelling gun"),
        ("trickle", "drip"),
        ("drip", "drip"),
        ("FAO drip", "drip (FAO)"),
        ("surface irrigation", "surface irrigation (FAO)"),
        ("microsprinkler", "low-pressure microsprinklers"),
        ("drip tape", "drip"),
        ("buried drip tape", "subsurface drip"),
    ],
)
def test_systems(query, name):
    assert handbook.system(query).name == name


def test_sprinkler_alone_is_ambiguous():
    """70 % of the trade or 75 % of the training manual: the caller says which."""
    listed = fault_of(handbook.system, "sprinkler").allowed
    assert "'overhead sprinklers'" in listed
    assert "'sprinkler (FAO)'" in listed


@pytest.mark.parametrize("query", ["furrow", "Furrows", "flood irrigation", "gated pipe, furrow"])
def test_surface_irrigation_by_another_name(query):
    fault = fault_of(handbook.system, query)
    assert "'surface irrigation (FAO)'" in fault.mend
    assert "give efficiency and wetted_fraction" in fault.mend
    assert "nearest" not in fault.allowed


def test_the_wetted_fractions_in_that_message_are_those_of_the_table():
    """FAO-56 Table 20 (p. 149)."""
    table = handbook.table("wetted_fraction").set_index("wetting_event")
    furrows = table[table.index.str.startswith("Furrow")]
    assert len(furrows) == 3
    mend = fault_of(handbook.system, "furrow").mend
    for low, high in zip(furrows["wetted_fraction_low"], furrows["wetted_fraction_high"], strict=True):
        assert f"{low:.1f} to {high:.1f}" in mend


def test_the_way_to_list_names_works_from_a_shell():
    mend = fault_of(handbook.crop, "zzz", month=4).mend
    script = mend.split('python -c "')[1].rstrip('"')
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == list(handbook.crops()["name"])


def test_a_stationary_gun_has_no_number():
    fault = fault_of(handbook.system, "stationary gun")
    assert "under 60 %" in fault.problem
    assert "System(efficiency=..." in fault.mend
    assert handbook.systems().set_index("name")["efficiency_percent"].isna().sum() == 1


# ------------------------------------------------------------------ salt, want of water, mulch, warmth
@pytest.mark.parametrize(
    ("look_up", "query", "name"),
    [
        (handbook.salt_tolerance, "tomatoes", "Tomato"),
        (handbook.salt_tolerance, "sweet corn", "Maize, sweet (sweet corn)"),  # printed in brackets
        (handbook.salt_tolerance, "grain maize", "Maize"),  # a plain name of the index
        (handbook.salt_tolerance, "lucerne", "Alfalfa"),  # part of a synonym of the index
        (handbook.salt_tolerance, "orange", "Citrus (Orange)"),
        (handbook.salt_tolerance, "forage barley", "Barley (forage)"),
        (handbook.salt_tolerance, "barley", "Barley"),  # printed so, before the forage
        (handbook.yield_response, "corn", "Maize"),
        (handbook.yield_response, "sugar beet", "Sugarbeet"),
        (handbook.yield_response, "wine grapes", "Grape"),
        (handbook.yield_response, "winter wheat (frozen soils)", "Winter wheat"),
        (handbook.plastic_mulch, "cucumbers", "Cucumber"),
        (handbook.plastic_mulch, "muskmelon", "Cantaloupe"),
        (handbook.plastic_mulch, "AVERAGE", "Average"),
        (handbook.degree_days, "corn", "Corn"),  # printed so, before the one by 50 and 86 degF
        (handbook.degree_days, "maize", "Corn"),
        (handbook.degree_days, "corn 50/86", "Corn, 50 and 86 degF"),
        (handbook.degree_days, "lucerne", "Alfalfa"),
    ],
)
def test_partial_and_plain_names(look_up, query, name):
    assert look_up(query).name == name


@pytest.mark.parametrize("table", ["salt_tolerance", "yield_response", "plastic_mulch", "degree_days"])
def test_every_printed_name_finds_its_own_row(table):
    for name in handbook.table(table)["crop"]:
        row = getattr(handbook, table)(name)
        assert row.name == name
        numbers = {
            key: value
            for key, value in row._asdict().items()
            if key not in ("name", "sources", "rating") and value is not None
        }
        assert set(row.sources) == set(numbers)


@pytest.mark.parametrize("table", ["salt_tolerance", "yield_response"])
def test_every_plain_name_finds_the_row_it_is_linked_to(table):
    index = handbook.table("crop_names")
    linked = index[index[f"{table}_row"] != ""]
    assert len(linked) > 0
    for name, printed in zip(linked["name"], linked[f"{table}_row"], strict=True):
        assert getattr(handbook, table)(name).name == printed


@pytest.mark.parametrize(
    ("look_up", "query", "listed"),
    [
        (
            handbook.salt_tolerance,
            "wheat",
            [
                "'Wheat (Triticum aestivum)'",
                "'Wheat, semidwarf (T. aestivum)'",
                "'Wheat, durum (Triticum turgidum)'",
            ],
        ),
        (handbook.salt_tolerance, "trefoil", ["'Trefoil, narrowleaf birdsfoot'", "'Trefoil, big'"]),
        (handbook.yield_response, "wheat", ["'Spring Wheat'", "'Winter wheat'"]),
    ],
)
def test_a_printed_name_that_fits_several_lists_them_all(look_up, query, listed):
    fault = fault_of(look_up, query)
    assert fault.allowed.split("; ") == listed
    assert fault.value == repr(query)
    assert fault.mend == "give one of these names"


@pytest.mark.parametrize(
    ("look_up", "query", "nearest"),
    [
        (handbook.salt_tolerance, "tomatto", "'Tomato'"),
        (handbook.yield_response, "sugarbet", "'Sugarbeet'"),
        (handbook.plastic_mulch, "cucumbre", "'Cucumber'"),
        (handbook.degree_days, "sorgum", "'Sorghum'"),
    ],
)
def test_an_unknown_printed_name_gets_the_nearest(look_up, query, nearest):
    fault = fault_of(look_up, query)
    assert fault.what == look_up.__name__.replace("_", " ")
    assert fault.allowed.startswith(f"nearest names: {nearest}")
    assert f"waterbudget.handbook.table('{look_up.__name__}') has all" in fault.mend


@pytest.mark.parametrize(
    "look_up",
    [handbook.salt_tolerance, handbook.yield_response, handbook.plastic_mulch, handbook.degree_days],
)
@pytest.mark.parametrize("query", ["", "?!", None, 3, "zzz"])
def test_a_name_like_none(look_up, query):
    assert fault_of(look_up, query).problem == "the handbook has no entry of this name"


def test_a_short_table_is_listed_whole():
    assert fault_of(handbook.plastic_mulch, "zzz").allowed == "; ".join(
        repr(name) for name in handbook.table("plastic_mulch")["crop"]
    )


def test_the_way_to_list_printed_names_works_from_a_shell():
    mend = fault_of(handbook.salt_tolerance, "zzz").mend
    script = mend.split('python -c "')[1].rstrip('"')
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == list(handbook.table("salt_tolerance")["crop"])


def test_a_row_without_numbers_gives_none_and_no_source():
    """FAO-56 Table 23 (pp. 178-180) has a rating alone for egg plant, and nothing for mint."""
    eggplant = handbook.salt_tolerance("eggplant")
    assert (eggplant.salt_threshold, eggplant.salt_slope, eggplant.rating) == (None, None, "MS")
    assert eggplant.sources == {}
    assert handbook.salt_tolerance("mint").rating == ""


def test_degree_days_without_a_polynomial():
    row = handbook.degree_days("corn 50/86")
    assert (row.coefficients, row.reference_surface) == (None, None)
    assert set(row.sources) == {"base_temperature", "upper_temperature", "limit"}
    assert handbook.degree_days("sorghum").upper_temperature is None
    assert "upper_temperature" not in handbook.degree_days("sorghum").sources


# ------------------------------------------------------------------ month and region (FAO-56 Table 11, pp. 104-108)
@pytest.mark.parametrize(
    ("text", "months"),
    [
        ("Apr/May", {4, 5}),
        ("Sept", {9}),
        ("Oct; Jan.", {10, 1}),
        ("Mar-May", {3, 4, 5}),
        ("Nov-Feb", {11, 12, 1, 2}),
        ("Apr (last -4C)", {4}),
        ("May (2nd yr)", {5}),
        ("Mat/Aug", {8}),  # a misprint of the table
        ("Winter", set()),
        ("Rainy seas.", set()),
        ("7 days before last -4C in spring until 7 days after first -4C in fall", set()),
        ("---", set()),
        ("", set()),
    ],
)
def test_planting_months_as_printed(text, months):
    assert planting_months(text) == months


@pytest.mark.parametrize(
    ("name", "month", "days"),
    [
        ("sweet maize", 5, (20, 25, 25, 10)),  # May/June, Mediterranean
        ("sweet maize", 4, (30, 30, 30, 10)),  # April, Idaho
        ("sweet maize", 2, (20, 20, 30, 10)),  # March and Jan are as near: the first printed
        ("cotton", 4, (30, 50, 60, 55)),  # Mar-May spans April, and is printed before the April row
        ("tomato", 12, (30, 40, 40, 25)),  # January is nearer than Oct/Nov only as a tie: first printed
        ("winter wheat (frozen soils)", 1, (20, 60, 70, 30)),  # December, across the new year
        ("groundnut", 1, (35, 35, 35, 35)),  # "Dry season" is no month
        ("olives", 9, (30, 90, 60, 90)),  # a single row needs no month
    ],
)
def test_the_nearest_planting_month_is_taken(name, month, days):
    assert handbook.crop(name, month=month).stage_days == days


def test_a_single_row_needs_no_month():
    assert handbook.crop("olives").stage_days == (30, 90, 60, 90)


def test_several_rows_without_a_month_are_listed():
    fault = fault_of(handbook.crop, "grain maize")
    for region in (
        "East Africa (alt.)",
        "Arid Climate",
        "Nigeria (humid)",
        "India (dry, cool)",
        "Idaho, USA",
    ):
        assert region in fault.allowed
    assert "region=" in fault.mend


def test_a_region_needs_no_month():
    assert handbook.crop("grain maize", region="idaho").stage_days == (30, 40, 50, 50)
    assert handbook.crop("wine grapes", region="wine").stage_days == (30, 60, 40, 80)


def test_a_region_printed_exactly_so_goes_first():
    assert handbook.crop("rice", region="tropics").stage_days == (
        30,
        30,
        80,
        40,
    )  # not "Tropics; Mediterranean"


def test_month_chooses_within_a_region():
    assert handbook.crop("tomato", region="arid region", month=11).stage_days == (35, 45, 70, 30)
    fault = fault_of(handbook.crop, "tomato", region="arid region")
    assert fault.allowed.count("Arid Region") == 2
    assert "Mediterranean" not in fault.allowed


@pytest.mark.parametrize("region", ["Mars", "", "  "])
def test_a_region_that_fits_no_row(region):
    fault = fault_of(handbook.crop, "tomato", region=region, month=5)
    assert fault.what == "region"
    assert fault.allowed.count(" days)") == 5


def test_a_region_where_there_are_no_stage_lengths():
    assert "give stage_days" in fault_of(handbook.crop, "garlic", region="Idaho").mend


def test_rows_without_a_planting_month_need_a_region():
    fault = fault_of(handbook.crop, "sugar cane, ratoon", month=3)
    assert fault.mend.startswith("give region=")
    assert handbook.crop("sugar cane, ratoon", month=3, region="Hawaii").stage_days == (35, 105, 210, 70)


@pytest.mark.parametrize("month", [0, 13, -1, 2.5, "May"])
def test_a_month_that_is_none(month):
    assert fault_of(handbook.crop, "tomato", month=month).what == "month"


def test_all_faults_at_once():
    with pytest.raises(InputError) as caught:
        handbook.crop("aple", month=0)
    assert [fault.what for fault in caught.value.faults] == ["month", "crop"]


# ------------------------------------------------------------------ tables
def test_an_unknown_table():
    fault = fault_of(handbook.table, "stage_length")
    assert "'stage_lengths'" in fault.mend
    assert "soil_water" in fault.allowed


@pytest.mark.parametrize(
    "give", [handbook.crops, handbook.soils, handbook.systems, lambda: handbook.table("root_depth")]
)
def test_a_frame_is_the_callers_own(give):
    first = give()
    first.iloc[:, 0] = "spoilt"
    assert "spoilt" not in set(give().iloc[:, 0])


def test_crops_holds_one_row_a_name_with_its_sources():
    crops = handbook.crops()
    assert crops["name"].is_unique
    row = crops.set_index("name").loc["sweet maize"]
    assert row["root_depth_m_high"] == 1.2
    assert row["root_depth_source"].startswith("FAO-56 Table 22")
    assert row["crop_coefficients_basal_source"].startswith("FAO-56 Table 17")
    assert row["salt_tolerance_source"].startswith("FAO-56 Table 23")
    assert row["yield_response_source"].startswith("FAO-56 Table 24")
    garlic = crops.set_index("name").loc["garlic"]
    assert garlic["salt_tolerance_rating"] == garlic["yield_response_source"] == ""
    assert garlic[["salt_threshold_ds_per_m_low", "yield_response_high"]].isna().all()


def test_nothing_is_read_on_import():
    script = "from waterbudget.handbook.tables import read; import waterbudget.handbook as h; print(read.cache_info().misses)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "0"
