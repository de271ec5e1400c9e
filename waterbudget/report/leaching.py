"""Leaching of a season: what its salts require, what passed below the roots anyway, and what is lacking."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.descriptions import GivenNumber
from waterbudget.errors import collect
from waterbudget.report.frames import UnitSystem, check_season, check_units
from waterbudget.report.ledger import attributed, over_days
from waterbudget.report.performance import Outcome
from waterbudget.report.salts import ROUNDING, SALINITY, entered, of_field, read_numbers, table_of
from waterbudget.soil.leaching import (
    leaching_requirement,
    leaching_shortfall,
    required_water,
    root_zone_salinity,
)

NEEDED = (
    "irrigation_net",
    "rain",
    "runoff",
    "et",
    "capillary_rise",
    "percolation",
    "drainage",
    "excess_water",
    "initial_excess_water",
    "spot_share",
    "spot_weight",
)
"""What a season must hold for its leaching balance."""


def leaching_balance(
    season: xr.Dataset,
    water_salinity: GivenNumber,
    *,
    crop_salinity: GivenNumber | None = None,
    requirement: GivenNumber | None = None,
    units: UnitSystem = "metric",
) -> pd.DataFrame:
    """Set the leaching that a season's irrigation requires against what passed below the roots anyway.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`, with any label dimensions; best a whole year, so that the rain outside the
        season of irrigation counts too.
    water_salinity : number
        ECw, electrical conductivity of the irrigation water [dS m-1], mean of the season.
    crop_salinity : number
        ECe that the crop stands at the yield wanted [dS m-1], for the requirement of surface irrigation and
        ordinary sprinkling. Give this or `requirement`.
    requirement : number
        LR [1], 0 or more, below 1: from `leaching_requirement_frequent` under drip or daily sprinkling.
    units : {"metric", "us"}
        Units of the depths: mm or in.

    Returns
    -------
    DataFrame
        A row per label combination, sums over the days; depths, with ``_mm`` or ``_in`` behind them, are
        means of the field:

        - the label dimensions, if any, then ``water_salinity_dS_per_m``;
        - ``irrigation``, ``rain_entered``, ``capillary_rise``, ``et``, ``drainage``: what entered the profile
          and left it;
        - ``leaching_fraction``: drainage over all water that entered, *irrigation and rain*, on the ground
          that is irrigated;
        - ``leaching_requirement``, LR: over AW, the *irrigation alone* that evapotranspiration and leaching
          ask for. The two have different denominators: compare ``required`` and ``credited``, not them;
        - ``irrigation_kept``: irrigation less its part of the drainage, what evapotranspiration took from it;
        - ``required``: depth that must drain, ``LR AW`` with ``AW = irrigation_kept / (1 - LR)``;
        - ``credited``: drainage, of rain and of irrigation, on the ground that is irrigated;
        - ``shortfall``: required less credited, at least 0;
        - ``share_short``: part of the ground that is irrigated where less drains than is required there;
        - ``steady_soil_salinity_dS_per_m``: ECe that the irrigated ground comes to where every year is like
          this one, irrigation diluted by rain (NaN where nothing drains: salts build up without end).

    Raises
    ------
    InputError
        When `season` is not a daily result, a number is negative or has other labels than the season, both or
        none of `crop_salinity` and `requirement` are given, or the requirement is 1 or more.

    Notes
    -----
    ``AW = ET / (1 - LR)`` is that of FAO Irrigation and Drainage Paper 29 (Ayers and Westcot 1985), for the
    evapotranspiration that irrigation is to meet. Ours is how rain and storage enter: a season that ends as
    moist as it began keeps of its irrigation just ET less effective rain; what was drawn from storage counts
    when irrigation fills it again, and ground that is not irrigated has no requirement. A day's drainage
    belongs to rain and irrigation as the ledger attributes its percolation. Spray loss, leaks and runoff do
    not drain, and so are not credited. Salts that rise from a water table are not in the requirement; see
    `salt_ledger`.
    """
    check_units(units)
    return table_of(season, leaching_outcomes(season, water_salinity, crop_salinity, requirement), units)


def leaching_outcomes(
    season: xr.Dataset,
    water_salinity: GivenNumber,
    crop_salinity: GivenNumber | None,
    requirement: GivenNumber | None,
) -> dict[str, Outcome]:
    """Work the leaching balance of each field out."""
    check_season(season, NEEDED)
    with collect() as faults:
        if (crop_salinity is None) == (requirement is None):
            faults.add(
                "crop_salinity, requirement",
                "are both given" if crop_salinity is not None else "are not given",
                allowed="one of the two",
            )
        given = read_numbers(
            season[list(NEEDED)],
            {
                "water_salinity": ("water_salinity", water_salinity),
                "crop_salinity": ("soil_salinity", crop_salinity),
                "requirement": ("leaching_requirement", requirement),
            },
            faults,
        )
    salinity = given["water_salinity"]
    part = (
        leaching_requirement(salinity, given["crop_salinity"])
        if requirement is None
        else given["requirement"]
    )
    irrigation, rain = entered(season)
    percolation = season["percolation"]
    of_irrigation = attributed(season)["from_irrigation"] / percolation.where(percolation != 0, 1.0)
    kept = np.maximum(over_days(irrigation - season["drainage"] * of_irrigation), 0.0)
    watered = season["spot_share"] > 0
    spots = {
        "irrigation": over_days(irrigation),
        "rain_entered": over_days(rain),
        "capillary_rise": over_days(season["capillary_rise"]),
        "et": over_days(season["et"]),
        "drainage": over_days(season["drainage"]),
        "irrigation_kept": kept,
        "required": part * required_water(kept, part),
        "credited": over_days(season["drainage"]) * watered,
    }
    lacking = spots["required"] - spots["credited"]
    short = ((lacking > ROUNDING) & watered).where(lacking.notnull())
    field = {name: of_field(values, season) for name, values in spots.items()}
    shortfall = leaching_shortfall(field["required"], field["credited"])
    infiltrated = of_field((spots["irrigation"] + spots["rain_entered"]) * watered, season)
    infiltrated = infiltrated.where(infiltrated > 0)
    fraction = field["credited"] / infiltrated
    leached = fraction.where((fraction > 0) & (fraction <= 1))
    steady = root_zone_salinity(salinity * field["irrigation"] / infiltrated, leached)
    water = ("irrigation", "rain_entered", "capillary_rise", "et", "drainage")
    return {
        f"water_salinity{SALINITY}": Outcome("1", xr.DataArray(salinity)),
        **{name: Outcome("mm", field[name]) for name in water},
        "leaching_fraction": Outcome("1", fraction),
        "leaching_requirement": Outcome("1", xr.DataArray(part)),
        **{name: Outcome("mm", field[name]) for name in ("irrigation_kept", "required", "credited")},
        "shortfall": Outcome("mm", shortfall.where(~(shortfall <= ROUNDING), 0.0)),
        "share_short": Outcome("1", of_field(short, season) / of_field(watered * 1.0, season)),
        f"steady_soil_salinity{SALINITY}": Outcome("1", steady),
    }
