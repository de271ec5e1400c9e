"""What an irrigation system achieved in a season: outcomes of the balance, by field or by spot."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget.balance import quarter_weights, watched_mean, watched_weights
from waterbudget.errors import collect
from waterbudget.report.frames import (
    UnitSystem,
    check_season,
    check_units,
    over_spots,
    shown_unit,
    spread,
    table,
)
from waterbudget.report.ledger import attributed, count_irrigations, over_days, stress
from waterbudget.report.losses import NEEDED, missing_before
from waterbudget.report.plants import of_plants, plant_weight, wetted_half
from waterbudget.report.yields import tell

By = Literal["field", "spot"]
"""A row for each field, or for each spot of each field."""

_OF_CROP = ("crop_number", "crop_stage", "kcb", "salt_factor", "yield_response")
_OTHERS = ("ke", "ks", "kc", "et_ref", "transpiration", "drainage", "taw", "refill_to", "wetted_volume")
_FILLED = 1e-6
"""What a spot may lack [mm] and count as filled: rounding."""
_DEPTHS = frozenset({"percolation_from_irrigation", "percolation", "drainage", "transpiration_missed", "et"})


class Outcome(NamedTuple):
    """One number of each label: its unit, and values on label dimensions (and ``spot``)."""

    unit: str
    values: xr.DataArray


Outcomes = Mapping[str, Outcome]


def performance(season: xr.Dataset, by: By = "field", units: UnitSystem = "metric") -> pd.DataFrame:
    """Tell what the irrigation of a season achieved.

    Nothing here is assumed: with a measured pattern (``spot``) these are outcomes of the balance at every
    spot. Where no pattern was given, the soil was watered evenly, and what was lost on the way shows in
    ``delivered``.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`, with any label dimensions. Where the soil drains slowly, all its days.
    by : {"field", "spot"}
        A row for each field, or for each of its spots.
    units : {"metric", "us"}
        Units of the columns: mm or in.

    Returns
    -------
    DataFrame
        A row per label combination, sums over the days; depths have ``_mm`` or ``_in`` behind them:

        - the label dimensions, if any; by spot then ``spot``, ``weight`` (part of the field), ``share``
          (depth over the mean of the field) and ``watched`` (whether the decision looks there);
        - ``irrigations``: days with net irrigation; ``gross``, ``net``: supplied, entered the soil;
        - ``percolation_from_irrigation``, by the ledger's attribution;
        - ``application_efficiency``: net less percolation of irrigation, over gross (NaN where gross is not
          known or 0); ``delivered``: net over gross;
        - ``adequacy``: part of the watched field (by spot: of the irrigations) that the water of the day
          filled to the rule's ``refill_to`` (field capacity, where there is no rule), as mean of the season's
          irrigations by their net depth; NaN without irrigation. Of what the rule *meant* to apply it knows
          nothing: see below for what 0 says;
        - ``percolation``, ``drainage``: out of the root zone and, of that, out of the profile, of all water;
        - ``stress_days``, ``transpiration_missed``: as in `ledger`; ``et``;
        - ``relative_yield``: of the whole season as `relative_yield` has it: what lack of water and the
          ``soil_salinity`` stated of the soil leave; salts that the water brings are not in it
          (`salt_ledger`). NaN where no ``yield_response`` is given or crops follow one another;
        - by field: ``distribution_uniformity``, depth of the low quarter of the watched field over its mean
          (NaN where fewer than two spots are watched), ``driest_spot_transpiration_missed`` and
          ``driest_spot_relative_yield`` at the watched spot that receives least, and
          ``wettest_spot_percolation_from_irrigation`` at the one that receives most.

        Under emitters (``wetted_volume``) the wetted and the dry part of a root system are one spot.

    Raises
    ------
    InputError
        When `season` is not a daily result, or `by` or `units` is unknown.

    Notes
    -----
    Low quarter: spots are taken from the driest on until they make up a quarter of the watched area; the last
    of them counts with the part that still fits. Yield of a field is that of its mean evapotranspiration.
    Application efficiency counts as useful what stayed in the root zone (common practice, no source).

    An evenly watered field is filled by an irrigation or is not, so that its adequacy is a mean of 1 and 0. A
    rule that does not fill, because of a ``net_depth`` or a ``max_depth`` below what is lacking, has an
    adequacy near 0 though all went as it was meant: read it beside ``stress_days`` then, and `losses`, which
    counts as waste what exceeds a full refill and not what falls short of one. Only ``refill_to`` moves the
    mark.
    """
    check_units(units)
    with collect() as faults:
        if by not in ("field", "spot"):
            faults.add("by", "is unknown", value=repr(by), allowed="'field' or 'spot'")
    check_season(season, (*NEEDED, *_OTHERS, *_OF_CROP))
    if by == "field":
        return outcome_table(season, of_field(season), units)
    if "spot" not in season.dims:
        season = season.assign_coords(spot=("spot", [0]))
    return outcome_table(season, _of_spots(season), units, rows_by="spot")


def of_field(season: xr.Dataset) -> dict[str, Outcome]:
    """Work the outcomes of each field out.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate`.

    Returns
    -------
    dict of str to Outcome
        On the label dimensions.
    """
    spots = _totals(season)
    whole = over_spots(season[["spot_weight"]].assign(spots), tuple(spots))
    share, watched = of_plants(season["spot_share"], season), wetted_half(season["spot_watched"], season)
    share = share.where(watched > 0)
    dry, wet = (share.argmin("spot"), share.argmax("spot")) if "spot" in share.dims else (None, None)
    yields = _yield(season)
    gross, net = over_days(season["irrigation_gross"]), over_days(season["irrigation_net"])
    adequacy = watched_mean(_adequacy(season), watched_weights(season))
    crops = season[[*_OF_CROP, "spot_weight"]].assign(_evapotranspired(season))
    return {
        **_shared(season, gross, net, {str(name): values for name, values in whole.items()}),
        "adequacy": Outcome("1", adequacy),
        "relative_yield": Outcome("1", _one_crop(over_spots(crops, (*_OF_CROP, "et", "unstressed")))),
        "distribution_uniformity": Outcome("1", _low_quarter(season)),
        "driest_spot_transpiration_missed": Outcome(
            "mm", _at(of_plants(spots["transpiration_missed"], season), dry)
        ),
        "driest_spot_relative_yield": Outcome("1", _at(yields, dry)),
        "wettest_spot_percolation_from_irrigation": Outcome(
            "mm", _at(of_plants(spots["percolation_from_irrigation"], season), wet)
        ),
    }


def _of_spots(season: xr.Dataset) -> dict[str, Outcome]:
    """Work the outcomes of each spot out."""
    share = of_plants(season["spot_share"], season)
    gross, net = over_days(season["irrigation_gross"]), over_days(season["irrigation_net"])
    spots = {name: of_plants(values, season) for name, values in _totals(season).items()}
    return {
        "weight": Outcome("1", plant_weight(season)),
        "share": Outcome("1", share),
        "watched": Outcome("1", wetted_half(season["spot_watched"], season) > 0),
        **_shared(season, gross * share, net * share, spots),
        "adequacy": Outcome("1", wetted_half(_adequacy(season), season)),
        "relative_yield": Outcome("1", _yield(season)),
    }


def _shared(
    season: xr.Dataset, gross: xr.DataArray, net: xr.DataArray, sums: Mapping[str, xr.DataArray]
) -> dict[str, Outcome]:
    """Give the outcomes that a field and a spot have alike."""
    supplied = gross.where(gross > 0)
    return {
        "irrigations": Outcome("1", count_irrigations(season)),
        "gross": Outcome("mm", gross),
        "net": Outcome("mm", net),
        "application_efficiency": Outcome("1", (net - sums["percolation_from_irrigation"]) / supplied),
        "delivered": Outcome("1", net / supplied),
        **{name: Outcome("mm" if name in _DEPTHS else "1", values) for name, values in sums.items()},
    }


def _totals(season: xr.Dataset) -> dict[str, xr.DataArray]:
    """Sum over the days, at each spot."""
    short = stress(season)
    daily = {
        "percolation_from_irrigation": attributed(season)["from_irrigation"],
        "percolation": season["percolation"],
        "drainage": season["drainage"],
        "stress_days": short["stressed"],
        "transpiration_missed": short["missed"],
        "et": season["et"],
    }
    return {name: over_days(values).reset_coords(drop=True) for name, values in daily.items()}


def _adequacy(season: xr.Dataset) -> xr.DataArray:
    """Give the part of the season's irrigation that came with enough water at each spot [1]."""
    net = season["irrigation_net"]
    left = season["refill_to"].fillna(0.0) * season["taw"]  # without a rule: field capacity
    water = net * season["spot_share"] + season["rain"] - season["runoff"]
    filled = (water >= missing_before(season) - left - _FILLED).astype(np.float64)
    applied = over_days(net)
    return over_days(net * filled) / applied.where(applied > 0)


def _low_quarter(season: xr.Dataset) -> xr.DataArray:
    """Give the distribution uniformity of the low quarter; NaN where fewer than two spots are watched."""
    share = season["spot_share"]
    if "spot" not in share.dims:
        return share * np.nan
    watched = watched_weights(season)
    share, watched = xr.broadcast(share, watched)
    uniformity = watched_mean(share, quarter_weights(season, share)) / watched_mean(share, watched)
    return uniformity.where((watched > 0).sum("spot") > 1)


def _yield(season: xr.Dataset) -> xr.DataArray:
    """Give the relative yield of each spot."""
    own = {name: of_plants(values, season) for name, values in _evapotranspired(season).items()}
    return _one_crop(season[list(_OF_CROP)].assign(own))


def _evapotranspired(season: xr.Dataset) -> dict[str, xr.DataArray]:
    """Give the day's evapotranspiration, and that without stress, at each spot (as in `relative_yield`)."""
    return {"et": season["et"], "unstressed": season["kc"] * season["et_ref"]}


def _one_crop(season: xr.Dataset) -> xr.DataArray:
    """Give the seasonal relative yield of the only crop; NaN where it is not known, or crops take turns."""
    left = tell(season, "seasonal", 1).left
    return left.where(season["crop_number"].max("time") == 1)


def _at(values: xr.DataArray, spot: xr.DataArray | None) -> xr.DataArray:
    """Take the values at one spot of each field; of the field where it has no spots."""
    return values if spot is None or "spot" not in values.dims else values.isel(spot=spot)


# ------------------------------------------------- a table of outcomes
def outcome_table(
    season: xr.Dataset, outcomes: Outcomes, units: UnitSystem = "metric", rows_by: str = ""
) -> pd.DataFrame:
    """Lay outcomes out: a row for each combination of labels, a column for each outcome.

    Parameters
    ----------
    season : Dataset
        Where the labels stand.
    outcomes : mapping of str to Outcome
    units : {"metric", "us"}
    rows_by : str
        A dimension whose rows lie within those of the labels; it has a column in any case.

    Returns
    -------
    DataFrame
    """
    sizes: dict[str, int] = {}
    for one in outcomes.values():
        sizes |= {str(dim): one.values.sizes[dim] for dim in one.values.dims if dim not in sizes}
    if rows_by:
        sizes[rows_by] = sizes.pop(rows_by, 1)
    columns: dict[str, NDArray[Any]] = {}
    for name, one in outcomes.items():
        suffix, size = shown_unit(one.unit, units)
        values = spread(one.values, sizes).reshape(-1)
        columns[f"{name}{suffix}"] = values if size == 1.0 else values / size
    return table(season, sizes, columns, [at.reshape(-1) for at in np.indices(tuple(sizes.values()))])
