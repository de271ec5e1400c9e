"""The handbook's tables against print: FAO Irrigation and Drainage Paper 56 (1998), page beside each value.

The efficiencies of the trade have no printed source: "common practice, no source".
"""

from itertools import product

import pytest

from waterbudget import handbook

# Rows of the tables as read; Tables 12 and 17 with the rows that carry a value for a whole group.
ROWS = {
    "stage_lengths": 167,  # Table 11, pp. 104-108
    "crop_coefficients_single": 134,  # Table 12, pp. 110-114
    "crop_coefficients_basal": 122,  # Table 17, pp. 137-140
    "soil_water": 9,  # Table 19, p. 144
    "wetted_fraction": 8,  # Table 20, p. 149
    "root_depth": 104,  # Table 22, pp. 163-165
    "application_efficiency": 10,
    "crop_names": 122,
}

# Table 11, pp. 104-108: the rows whose printed total is not the sum of their stages (crop, planting, sum, total).
WRONG_TOTALS = {
    ("Green gram, cowpeas", "March", 100, 110),
    ("Sesame", "June", 110, 100),
    ("Maize (sweet)", "April", 100, 110),
    ("Sorghum", "May/June", 125, 130),
    ("Sorghum", "Mar/April", 130, 140),
}

# Without stage lengths: no row in Table 11, or only rows printed "var." or "--" (alfalfa over a season, pasture).
WITHOUT_STAGES = {
    "garlic",
    "parsnip",
    "turnip (and rutabaga)",
    "chickpea",
    "garbanzo",
    "mint",
    "strawberries",
    "sisal",
    "rapeseed",
    "alfalfa hay, averaged cuttings",
    "alfalfa for seed",
    "clover hay, averaged cuttings",
    "clover hay, individual cutting periods",
    "rye grass hay, averaged cuttings",
    "sudan grass hay, averaged cuttings",
    "grazing pasture, rotated",
    "grazing pasture, extensive",
    "turf grass, cool season",
    "turf grass, warm season",
    "cacao",
    "coffee, bare ground",
    "coffee, with weeds",
    "date palms",
    "palm trees",
    "rubber trees",
    "tea, non-shaded",
    "tea, shaded",
    "berries (bushes)",
    "avocado, no ground cover",
    "conifer trees",
    "kiwi",
}

# Without a basal row: Table 17 has no "averaged cutting effects" for these three (p. 139).
WITHOUT_BASAL = {
    "alfalfa hay, averaged cuttings",
    "clover hay, averaged cuttings",
    "sudan grass hay, averaged cuttings",
}


def printed(table, **where):
    frame = handbook.table(table)
    for column, value in where.items():
        frame = frame[frame[column] == value]
    assert len(frame) == 1
    return frame.iloc[0]


def resolved(name):
    """Look a crop up by each printed region in turn, or by none."""
    linked = printed("crop_names", name=name)["stage_lengths_rows"].split("; ")
    stages = handbook.table("stage_lengths")
    months = (1, 4, 7, 10) if stages[stages["crop"].isin(linked)]["planting"].str.len().sum() else [None]
    if months == [None] and len(stages[stages["crop"].isin(linked)]) > 1:
        regions = stages[stages["crop"].isin(linked)]["region"]
        return [handbook.crop(name, region=region) for region in regions]
    return [handbook.crop(name, month=month) for month in months]


@pytest.mark.parametrize(("table", "count"), ROWS.items())
def test_every_row_is_there_and_has_a_source(table, count):
    frame = handbook.table(table)
    assert len(frame) == count
    assert (frame["source"].str.strip() != "").all()


def test_tables_names_all_of_them():
    assert set(handbook.TABLES) == set(ROWS)


@pytest.mark.parametrize("table", ROWS)
def test_a_range_runs_upwards(table):
    frame = handbook.table(table)
    for low in frame.columns[frame.columns.str.endswith("_low")]:
        high = low.removesuffix("_low") + "_high"
        assert (frame[low].isna() == frame[high].isna()).all()
        assert (frame[low].dropna() <= frame[high].dropna()).all(), low


@pytest.mark.parametrize(
    ("crop", "planting", "region", "days"),
    [
        ("Broccoli", "Sept", "Calif. Desert, USA", "35 45 40 15 135"),  # p. 104
        ("Carrots", "Oct/Jan", "Arid climate", "20 30 50/30 20 100"),  # p. 104
        ("Tomato", "April/May", "Mediterranean", "30 40 45 30 145"),  # p. 104
        ("Potato", "Jan/Nov", "(Semi)Arid Climate", "25 30 30/45 30 115/130"),  # p. 105
        ("Faba bean, green", "Nov", "Europe", "90 45 40 0 175"),  # p. 105
        ("Cotton", "Sept", "Yemen", "30 50 60 55 195"),  # p. 106
        ("Maize (grain)", "April", "Idaho, USA", "30 40 50 50 170"),  # p. 106
        ("Winter Wheat", "October", "Idaho, USA", "160 75 75 25 335"),  # p. 106
        ("Grapes", "April", "Mid Latitudes (wine)", "30 60 40 80 210"),  # p. 107
        ("Pineapple", "", "Hawaii, USA", "60 120 600 10 790"),  # p. 107
        ("Walnuts", "April", "Utah, USA", "20 10 130 30 190"),  # p. 108
    ],
)
def test_table_11_spot_values(check, crop, planting, region, days):
    row = printed("stage_lengths", crop=crop, planting=planting, region=region)
    cells = row[["initial_days", "development_days", "mid_season_days", "late_season_days", "total_days"]]
    assert list(cells) == days.split()
    first, got = ([int(cell.split("/")[0]) for cell in row] for row in (days.split(), cells))
    check(
        "FAO-56, Table 11, our copy",
        f"{crop}, {region or 'no region'}: stages and total [day]",
        first,
        got,
        0,
    )


def test_table_11_totals_that_differ_from_the_sum_are_the_five_misprints():
    wrong = set()
    for row in handbook.table("stage_lengths").itertuples():
        if not row.total_days[0].isdigit():
            continue  # open season: "var." or "--"
        stages = [row.initial_days, row.development_days, row.mid_season_days, row.late_season_days]
        sums = {
            sum(choice) for choice in product(*([int(part) for part in stage.split("/")] for stage in stages))
        }
        totals = {int(part) for part in row.total_days.split("/")}
        if not sums & totals:
            wrong.add((row.crop, row.planting, *sums, *totals))
            assert "discrepancy in the source" in row.note
    assert wrong == WRONG_TOTALS


@pytest.mark.parametrize(
    ("crop", "ini", "mid", "end", "height"),
    [
        ("Broccoli", 0.70, (1.05, 1.05), (0.95, 0.95), (0.3, 0.3)),  # p. 110
        ("Tomato", 0.60, (1.15, 1.15), (0.70, 0.90), (0.6, 0.6)),  # p. 110
        ("Beans, dry and Pulses", 0.40, (1.15, 1.15), (0.35, 0.35), (0.4, 0.4)),  # p. 111
        ("Cotton", 0.35, (1.15, 1.20), (0.50, 0.70), (1.2, 1.5)),  # p. 111
        ("Maize, Field (grain)", 0.30, (1.20, 1.20), (0.35, 0.60), (2, 2)),  # p. 112
        ("Maize, Sweet", 0.30, (1.15, 1.15), (1.05, 1.05), (1.5, 1.5)),  # p. 112
        ("Alfalfa Hay, averaged cutting effects", 0.40, (0.95, 0.95), (0.90, 0.90), (0.7, 0.7)),  # p. 112
        ("Grapes, Wine", 0.30, (0.70, 0.70), (0.45, 0.45), (1.5, 2)),  # p. 113
        ("Citrus, no ground cover, 70% canopy", 0.70, (0.65, 0.65), (0.70, 0.70), (4, 4)),  # p. 114
    ],
)
def test_table_12_spot_values(check, crop, ini, mid, end, height):
    row = printed("crop_coefficients_single", crop=crop)
    for name, ends in (("kc_ini", (ini, ini)), ("kc_mid", mid), ("kc_end", end), ("height_m", height)):
        got = row[[f"{name}_low", f"{name}_high"]].astype(float)
        check("FAO-56, Table 12, our copy", f"{crop}: {name}, low and high", ends, got, 0)


@pytest.mark.parametrize(
    ("crop", "ini", "mid", "end"),
    [
        ("Celery", (0.15, 0.15), (0.95, 0.95), (0.90, 0.90)),  # p. 137
        ("Tomato", (0.15, 0.15), (1.10, 1.10), (0.60, 0.80)),  # p. 137
        ("Winter Wheat", (0.15, 0.5), (1.10, 1.10), (0.15, 0.3)),  # p. 138
        ("Maize, Sweet", (0.15, 0.15), (1.10, 1.10), (1.00, 1.00)),  # p. 138
        ("Rice", (1.00, 1.00), (1.15, 1.15), (0.45, 0.70)),  # p. 138
        ("Grapes, Wine", (0.15, 0.15), (0.65, 0.65), (0.40, 0.40)),  # p. 139
        # p. 140; the text of Example 43 quotes 0.70 for Kcb mid
        ("Olives (40 to 60% ground coverage by canopy)", (0.55, 0.55), (0.65, 0.65), (0.65, 0.65)),
    ],
)
def test_table_17_spot_values(check, crop, ini, mid, end):
    row = printed("crop_coefficients_basal", crop=crop)
    for name, ends in (("kcb_ini", ini), ("kcb_mid", mid), ("kcb_end", end)):
        got = row[[f"{name}_low", f"{name}_high"]].astype(float)
        check("FAO-56, Table 17, our copy", f"{crop}: {name}, low and high", ends, got, 0)


def test_a_basal_coefficient_is_below_its_single_one():
    """Kcb leaves out the evaporation of the surface, so it is below Kc (FAO-56 pp. 135-136); a slip of a digit shows."""
    crops = handbook.crops().dropna(subset=["kcb_mid_low"])
    for stage, most in (("mid", 0.151), ("end", 0.201)):
        for end in ("low", "high"):
            gap = crops[f"kc_{stage}_{end}"] - crops[f"kcb_{stage}_{end}"]
            assert gap.between(-1e-9, most).all(), crops[~gap.between(-1e-9, most)]["name"].tolist()


@pytest.mark.parametrize(
    ("name", "capacity", "wilting", "rew", "tew"),  # Table 19, p. 144
    [
        ("sand", (0.07, 0.17), (0.02, 0.07), (2, 7), (6, 12)),
        ("sandy loam", (0.18, 0.28), (0.06, 0.16), (6, 10), (15, 20)),
        ("silt", (0.28, 0.36), (0.12, 0.22), (8, 11), (22, 26)),
        ("clay", (0.32, 0.40), (0.20, 0.24), (8, 12), (22, 29)),
    ],
)
def test_table_19_spot_values_and_midpoints(check, name, capacity, wilting, rew, tew):
    row = printed("soil_water", name=name)
    soil = handbook.soil(name)
    for stem, ends in (
        ("field_capacity", capacity),
        ("wilting_point", wilting),
        ("rew_mm", rew),
        ("tew_mm", tew),
    ):
        got = row[[f"{stem}_low", f"{stem}_high"]].astype(float)
        check("FAO-56, Table 19, our copy", f"{name}: {stem}, low and high", ends, got, 0)
        assert getattr(soil, stem.removesuffix("_mm")) == pytest.approx(sum(ends) / 2, abs=1e-9)


def test_table_20_values():
    """FAO-56 Table 20, p. 149: the whole table."""
    frame = handbook.table("wetted_fraction").set_index("wetting_event")
    assert frame[["wetted_fraction_low", "wetted_fraction_high"]].T.to_dict("list") == {
        "Precipitation": [1.0, 1.0],
        "Sprinkler irrigation": [1.0, 1.0],
        "Basin irrigation": [1.0, 1.0],
        "Border irrigation": [1.0, 1.0],
        "Furrow irrigation (every furrow), narrow bed": [0.6, 1.0],
        "Furrow irrigation (every furrow), wide bed": [0.4, 0.6],
        "Furrow irrigation (alternated furrows)": [0.3, 0.5],
        "Trickle irrigation": [0.3, 0.4],
    }


@pytest.mark.parametrize(
    ("crop", "low", "high", "fraction"),
    [
        ("Broccoli", 0.4, 0.6, 0.45),  # p. 163
        ("Tomato", 0.7, 1.5, 0.40),  # p. 163
        ("Potato", 0.4, 0.6, 0.35),  # p. 163
        ("Beans, dry and Pulses", 0.6, 0.9, 0.45),  # p. 164
        ("Maize, Sweet", 0.8, 1.2, 0.50),  # p. 164
        ("Alfalfa, for seed", 1.0, 3.0, 0.60),  # p. 164
        ("Grapes, Wine", 1.0, 2.0, 0.45),  # p. 165
        ("Walnut Orchard", 1.7, 2.4, 0.50),  # p. 165
    ],
)
def test_table_22_spot_values(check, crop, low, high, fraction):
    row = printed("root_depth", crop=crop)
    got = row[["root_depth_m_low", "root_depth_m_high", "depletion_fraction"]].astype(float)
    quantity = f"{crop}: root depth, low and high [m], and p"
    check("FAO-56, Table 22, our copy", quantity, (low, high, fraction), got, 0)


@pytest.mark.parametrize(
    ("name", "percent"),
    [
        ("overhead sprinklers", 70),
        ("subsurface drip", 95),
        ("drip", 90),
        ("low-pressure microsprinklers", 80),
        ("centre pivot", 80),
        ("travelling gun", 65),
    ],
)
def test_efficiencies_of_the_trade_are_marked(check, name, percent):
    """Common practice, no source."""
    system = handbook.system(name)
    check("Common practice, no source", f"efficiency of {name}", percent / 100, system.efficiency, 0)
    assert system.sources["efficiency"].startswith("common practice, no source")
    assert printed("application_efficiency", name=name)["source"] == "common practice, no source"


@pytest.mark.parametrize(
    ("name", "percent"), [("surface irrigation (FAO)", 60), ("sprinkler (FAO)", 75), ("drip (FAO)", 90)]
)
def test_efficiencies_of_the_training_manual(check, name, percent):
    """FAO Irrigation Water Management Training Manual 4 (1989), Annex I, Table 8, quoted second-hand."""
    system = handbook.system(name)
    source = "FAO Irrigation Water Management Training Manual 4, Annex I Table 8, quoted second-hand"
    check(source, f"efficiency of {name}", percent / 100, system.efficiency, 0)
    assert "Training Manual 4 (1989), Annex I, Table 8, quoted second-hand" in system.sources["efficiency"]


def test_what_a_system_wets():
    """FAO-56 Table 20, p. 149; microsprinklers are not in it: common practice, no source."""
    frame = handbook.systems().set_index("name")
    names = {True: set(), False: set()}
    for name, row in frame.iterrows():
        names[row["wetted_fraction_source"].startswith("FAO-56 Table 20 (p. 149)")].add(name)
    assert names[False] == {"low-pressure microsprinklers"}
    assert set(frame.index[frame["subsurface"] == 1]) == {"subsurface drip"}
    assert set(frame.index[frame["under_canopy"] == 1]) == {"drip", "drip (FAO)"}
    assert handbook.system("drip").wetted_fraction == pytest.approx(0.35, abs=1e-9)
    assert handbook.system("overhead sprinklers").wetted_fraction == 1.0


@pytest.mark.parametrize("name", list(handbook.crops()["name"]))
def test_every_crop_resolves(name):
    for row in resolved(name):
        assert row.name == name
        assert (row.stage_days is None) == (name in WITHOUT_STAGES)
        assert (row.kcb is None) == (name in WITHOUT_BASAL)
        for three in (row.kc, row.kcb or row.kc):
            assert len(three) == 3
            assert all(0.1 <= value <= 1.3 for value in three)
        assert 0.1 <= row.height_m <= 10
        assert 0.2 <= row.root_depth_m <= 1.7
        assert 0.2 <= row.depletion_fraction <= 0.8
        if row.stage_days is not None:
            assert len(row.stage_days) == 4
            assert all(days >= 0 for days in row.stage_days)
        values = {
            "stage_days": row.stage_days,
            "kc": row.kc,
            "kcb": row.kcb,
            "height": row.height_m,
            "root_depth": row.root_depth_m,
            "depletion_fraction": row.depletion_fraction,
        }
        assert set(row.sources) == {key for key, value in values.items() if value is not None}
        assert all(text.startswith("FAO-56 Table ") for text in row.sources.values())


def test_the_index_reaches_every_printed_crop():
    """All rows of Tables 11, 12, 17 and 22, but those that Table 22 or Table 12 has nothing to go with."""
    index = handbook.table("crop_names")
    unreached = {}
    for column, table in (
        ("stage_lengths_rows", "stage_lengths"),
        ("single_row", "crop_coefficients_single"),
        ("basal_row", "crop_coefficients_basal"),
        ("root_depth_row", "root_depth"),
    ):
        linked = {row for cell in index[column] for row in cell.split("; ") if row}
        rows = set(handbook.table(table)["crop"]) - {"(group value)"}
        assert linked <= rows
        unreached[table] = rows - linked
    assert unreached == {
        "stage_lengths": {"Wetlands (Cattails, Bulrush)", "Wetlands (short veg.)"},
        "crop_coefficients_single": {
            "Cattails/Bulrushes, killing frost",
            "Cattails/Bulrushes, no frost",
            "Short Vegetation, no frost",
            "Reed Swamp, standing water",
            "Reed Swamp, moist soil",
            "Open Water, <2 m depth or subhumid climates or tropics",
            "Open Water, >5 m depth, clear, temperate climate",
        },
        "crop_coefficients_basal": set(),
        "root_depth": {"Beans, lima, large vines"},
    }


@pytest.mark.parametrize("name", list(handbook.crops()["name"]))
def test_roots_are_perennial_by_group(name):
    """Groups f and j to o of Table 22 stay rooted; sisal and rooted stands besides, annual sudan grass not."""
    group = printed("root_depth", crop=printed("crop_names", name=name)["root_depth_row"])["group"]
    others = {
        "sisal": True,
        "cassava, year 2": True,
        "sudan grass hay, averaged cuttings": False,
        "sudan grass hay, first cutting cycle": False,
    }
    expected = others.get(name, group[0] in "fjklmno")
    assert all(row.perennial is expected for row in resolved(name))


def test_rule_for_ranges_and_alternatives():
    """Midpoint; smaller root depth (Table 22, footnote 1); first of alternatives printed 50/30."""
    tomato = handbook.crop("tomato", month=5)
    assert tomato.kc == pytest.approx((0.60, 1.15, 0.80), abs=1e-9)  # p. 110: 0.70-0.90
    assert tomato.root_depth_m == 0.7  # p. 163: 0.7-1.5
    carrots = handbook.crop("carrots", region="arid climate")
    assert carrots.stage_days == (20.0, 30.0, 50.0, 20.0)  # p. 104: 50/30
    assert "midpoint of 0.7 to 0.9" in tomato.sources["kc"]
    assert "the smaller of 0.7 to 1.5 m" in tomato.sources["root_depth"]
    assert "the first of 50/30" in carrots.sources["stage_days"]
