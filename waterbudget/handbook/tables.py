"""The published tables, read from the CSV files beside this module when they are first asked for.

Every file opens with comment lines that name its source and how it was read; every row carries a
``source``. Ranges stay ranges: ``..._low`` and ``..._high`` are equal where one number is printed.
"""

from __future__ import annotations

from difflib import get_close_matches
from functools import cache
from importlib.resources import files

import pandas as pd

from waterbudget.errors import collect

TABLES = (
    "stage_lengths",
    "crop_coefficients_single",
    "crop_coefficients_basal",
    "soil_water",
    "wetted_fraction",
    "root_depth",
    "salt_tolerance",
    "yield_response",
    "plastic_mulch",
    "degree_days",
    "initial_coefficient_wetting",
    "initial_coefficient_paddy",
    "rain_classes",
    "wind_classes",
    "humidity_classes",
    "basal_guidelines",
    "ground_cover",
    "application_efficiency",
    "spray_loss",
    "spray_limits",
    "sprinkler_rates",
    "intake_families",
    "basic_intake",
    "micro_classes",
    "can_classes",
    "crop_names",
)
"""The names that `table` knows."""

# Columns of words; the stage lengths are among them because some are printed "50/30" or "var.", the classes
# of reference evapotranspiration because they are "1-3" or ">7".
_TEXT = (
    "name",
    "synonyms",
    "group",
    "crop",
    "initial_days",
    "development_days",
    "mid_season_days",
    "late_season_days",
    "total_days",
    "planting",
    "region",
    "kc_ini_from",
    "kcb_ini_from",
    "wetting_event",
    "stage_lengths_rows",
    "single_row",
    "basal_row",
    "root_depth_row",
    "salt_tolerance_row",
    "yield_response_row",
    "rating",
    "limit",
    "reference_surface",
    "wetting_interval",
    "evaporative_demand",
    "et_ref_mm_per_day",
    "humidity",
    "relation",
    "stage",
    "ground_condition",
    "climate_adjusted",
    "note",
    "source",
    "wetted_fraction_source",
)


@cache
def read(name: str) -> pd.DataFrame:
    """Read one table; callers share the frame and must not change it."""
    with files(__package__).joinpath(f"{name}.csv").open(encoding="utf-8") as lines:
        frame = pd.read_csv(
            lines, comment="#", keep_default_na=False, na_values=[""], dtype=dict.fromkeys(_TEXT, str)
        )
    words = [column for column in frame.columns if column in _TEXT]
    frame[words] = frame[words].fillna("")
    return frame


def table(name: str) -> pd.DataFrame:
    """Give one table of the handbook as it is printed in its source.

    Parameters
    ----------
    name : str
        One of `TABLES`: ``"stage_lengths"`` (FAO-56 Table 11), ``"crop_coefficients_single"`` (12),
        ``"crop_coefficients_basal"`` (17), ``"soil_water"`` (19), ``"wetted_fraction"`` (20),
        ``"root_depth"`` (22), ``"salt_tolerance"`` (23), ``"yield_response"`` (24), ``"plastic_mulch"`` (25),
        ``"initial_coefficient_wetting"`` (9), ``"rain_classes"`` (13), ``"initial_coefficient_paddy"`` (14),
        ``"wind_classes"`` (15), ``"humidity_classes"`` (16), ``"basal_guidelines"`` (18),
        ``"ground_cover"`` (21), ``"degree_days"``, ``"application_efficiency"``, ``"crop_names"``; of
        irrigation systems ``"can_classes"``, ``"micro_classes"``, ``"spray_loss"``, ``"spray_limits"``,
        ``"sprinkler_rates"``, ``"basic_intake"``, ``"intake_families"``.

    Returns
    -------
    DataFrame
        A copy. Column names carry the unit (``height_m_low``, ``rew_mm_high``; coefficients and
        fractions have none, water contents are in m3/m3). An empty cell is NaN in a column of
        numbers and ``""`` in a column of words.

    Raises
    ------
    InputError
        When there is no such table.
    """
    with collect() as faults:
        if name not in TABLES:
            near = get_close_matches(str(name), TABLES, n=1)
            faults.add(
                "table",
                "the handbook has no table of this name",
                value=repr(name),
                allowed=", ".join(TABLES),
                mend=f"did you mean {near[0]!r}?" if near else "",
            )
    return read(name).copy()


def crops() -> pd.DataFrame:
    """Give every crop that `crop` knows, with its numbers as printed.

    Returns
    -------
    DataFrame
        One row a crop: ``name``, ``synonyms`` (separated by ``;``), ``stage_lengths_rows`` (the rows of
        Table 11; see ``table("stage_lengths")`` for their regions), ``perennial``, the ranges of Kc and
        height (Table 12), Kcb (17), root depth and depletion fraction (22), salt tolerance (23) and
        seasonal yield response (24), with the row that each group of numbers stands in and its
        ``..._source``. NaN where the table has no row for the crop.
    """
    frame = read("crop_names")
    for link, name in (
        ("single_row", "crop_coefficients_single"),
        ("basal_row", "crop_coefficients_basal"),
        ("root_depth_row", "root_depth"),
        ("salt_tolerance_row", "salt_tolerance"),
        ("yield_response_row", "yield_response"),
    ):
        right = read(name)
        right = right[right["crop"] != "(group value)"].drop(columns=["group"], errors="ignore")
        right = right.rename(columns={column: f"{name}_{column}" for column in ("note", "source", "rating")})
        frame = frame.merge(right.rename(columns={"crop": link}), on=link, how="left", validate="many_to_one")
    words = [column for column in frame.columns if column.endswith(("_note", "_source", "_from", "_rating"))]
    frame[words] = frame[words].fillna("")
    return frame


def soils() -> pd.DataFrame:
    """Give the soils that `soil` knows: FAO-56 Table 19, ranges as printed.

    Returns
    -------
    DataFrame
        One row a texture class; water contents in m3/m3, ``rew`` and ``tew`` in mm.
    """
    return table("soil_water")


def systems() -> pd.DataFrame:
    """Give the irrigation systems that `system` knows.

    Returns
    -------
    DataFrame
        One row a system: ``efficiency_percent`` (NaN for the stationary gun, whose figure is no number),
        the fraction of the surface it wets, ``subsurface`` and ``under_canopy`` (0 or 1), sources.
    """
    return table("application_efficiency")
