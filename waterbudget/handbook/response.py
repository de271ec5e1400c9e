"""Look-up of how a crop answers to salt, to want of water, to plastic mulch and to warmth.

The same rule as everywhere in the handbook: the midpoint of a printed range, None where nothing is printed,
and ``sources`` that say in words which row was used and how a range was resolved.
"""

from __future__ import annotations

from functools import cache
from typing import Literal, NamedTuple

import numpy as np

from waterbudget.handbook.names import find
from waterbudget.handbook.rows import crop_row, known, middle, source
from waterbudget.handbook.tables import read

_SALT = {"salt_threshold": "salt_threshold_ds_per_m", "salt_slope": "salt_slope_percent_per_ds_per_m"}
_MULCH = {
    "kc_reduction": "Kc reduction in percent",
    "evaporation_reduction": "evaporation reduction in percent",
    "transpiration_increase": "transpiration increase in percent",
}
_POWERS = ("c0", "c1", "c2", "c3")


class SaltToleranceRow(NamedTuple):
    """What FAO-56 Table 23 has for one crop; None where it has no number.

    ``salt_threshold``, electrical conductivity of the saturation extract up to which yield is full, in
    dS/m at 25 degC; ``salt_slope``, yield lost above it, in percent per dS/m. ``rating``: T tolerant,
    MT moderately tolerant, MS moderately sensitive, S sensitive, ``""`` where none is printed. ``sources``
    has a text for each number that is not None.
    """

    name: str
    salt_threshold: float | None
    salt_slope: float | None
    rating: str
    sources: dict[str, str]


class YieldResponseRow(NamedTuple):
    """What FAO-56 Table 24 has for one crop.

    ``yield_response`` is the factor Ky of the whole season. ``sources`` has a text for it.
    """

    name: str
    yield_response: float
    sources: dict[str, str]


class PlasticMulchRow(NamedTuple):
    """What FAO-56 Table 25 has for one crop under complete plastic mulch with drip; None where it is blank.

    ``kc_reduction`` and ``evaporation_reduction`` are fractions by which the single coefficient and the
    soil evaporation fall, ``transpiration_increase`` the fraction by which transpiration rises (below 0: it
    falls). ``sources`` has a text for each number that is not None.
    """

    name: str
    kc_reduction: float
    evaporation_reduction: float | None
    transpiration_increase: float | None
    sources: dict[str, str]


class DegreeDaysRow(NamedTuple):
    """How the degree days of one crop are counted, and the crop coefficient that follows them.

    ``base_temperature`` and ``upper_temperature`` in degC, the latter None without an upper limit.
    ``limit`` is what is kept within them: the ``"extremes"`` of the day, each, or their ``"mean"``.
    ``coefficients``, of the polynomial in rising powers of the accumulated degree days [degC day], give the
    single crop coefficient over a reference evapotranspiration of the ``reference_surface``; both are None
    where no polynomial belongs to the row. ``sources`` has a text for each that is not None.
    """

    name: str
    base_temperature: float
    upper_temperature: float | None
    limit: Literal["extremes", "mean"]
    coefficients: tuple[float, float, float, float] | None
    reference_surface: Literal["short", "tall"] | None
    sources: dict[str, str]


def salt_tolerance(name: str) -> SaltToleranceRow:
    """Look up the salt tolerance of a crop in FAO-56 Table 23.

    Parameters
    ----------
    name : str
        A name as printed in the table or a name of `crops`, or words that only one of them contains.

    Returns
    -------
    SaltToleranceRow
        Midpoints of the printed ranges, and where each comes from.

    Raises
    ------
    InputError
        When the name fits none or several rows.
    """
    return printed_salt_tolerance(_found("salt_tolerance", name))


def yield_response(name: str) -> YieldResponseRow:
    """Look up the seasonal yield response factor of a crop in FAO-56 Table 24.

    Parameters
    ----------
    name : str
        A name as printed in the table or a name of `crops`, or words that only one of them contains.

    Returns
    -------
    YieldResponseRow
        The midpoint of the printed range, and where it comes from.

    Raises
    ------
    InputError
        When the name fits none or several rows. For a crop that is not listed 1 may be used (FAO-56 p. 177).
    """
    return printed_yield_response(_found("yield_response", name))


def plastic_mulch(name: str) -> PlasticMulchRow:
    """Look up what complete plastic mulch with drip changes for a crop, FAO-56 Table 25.

    Parameters
    ----------
    name : str
        ``"cucumber"``, ``"squash"``, ... or ``"average"``, the row printed for crops in general.

    Returns
    -------
    PlasticMulchRow
        Midpoints of the printed ranges as fractions, and where each comes from.

    Raises
    ------
    InputError
        When the name fits none or several rows.
    """
    row = crop_row("plastic_mulch", _found("plastic_mulch", name))
    evaporation = known(row, "evaporation_reduction_percent")
    transpiration = known(row, "transpiration_increase_percent")
    return PlasticMulchRow(
        name=str(row["crop"]),
        kc_reduction=middle(row, "kc_reduction_percent") / 100.0,
        evaporation_reduction=None if evaporation is None else evaporation / 100.0,
        transpiration_increase=None if transpiration is None else transpiration / 100.0,
        sources={
            key: source(row, {f"{key}_percent": label})
            for key, label in _MULCH.items()
            if known(row, f"{key}_percent") is not None
        },
    )


def degree_days(name: str) -> DegreeDaysRow:
    """Look up how the degree days of a crop are counted, and the coefficient that follows them.

    Parameters
    ----------
    name : str
        ``"corn"``, ``"cotton"``, ... as in ``table("degree_days")``, or words that only one of them contains.

    Returns
    -------
    DegreeDaysRow
        Base and upper temperature, what is limited, the published polynomial, and where each comes from.

    Raises
    ------
    InputError
        When the name fits none or several rows.
    """
    row = crop_row("degree_days", _found("degree_days", name))
    fitted = not np.isnan(row["c0"])
    first, second, third, fourth = (float(row[power]) for power in _POWERS)
    upper = None if np.isnan(row["upper_temperature_degc"]) else float(row["upper_temperature_degc"])
    given = {"base_temperature": True, "upper_temperature": upper is not None, "limit": True}
    given |= {"coefficients": fitted, "reference_surface": fitted}
    return DegreeDaysRow(
        name=str(row["crop"]),
        base_temperature=float(row["base_temperature_degc"]),
        upper_temperature=upper,
        limit="extremes" if row["limit"] == "extremes" else "mean",
        coefficients=(first, second, third, fourth) if fitted else None,
        reference_surface=None if not fitted else "short" if row["reference_surface"] == "short" else "tall",
        sources={key: source(row, {}) for key, there in given.items() if there},
    )


def printed_salt_tolerance(crop: str) -> SaltToleranceRow:
    """Give the row of Table 23 that is printed under this name."""
    row = crop_row("salt_tolerance", crop)
    return SaltToleranceRow(
        name=crop,
        salt_threshold=known(row, _SALT["salt_threshold"]),
        salt_slope=known(row, _SALT["salt_slope"]),
        rating=str(row["rating"]),
        sources={
            key: source(row, {stem: key.replace("_", " ")})
            for key, stem in _SALT.items()
            if known(row, stem) is not None
        },
    )


def printed_yield_response(crop: str) -> YieldResponseRow:
    """Give the row of Table 24 that is printed under this name."""
    row = crop_row("yield_response", crop)
    said = source(row, {"yield_response": "Ky"})
    return YieldResponseRow(crop, middle(row, "yield_response"), {"yield_response": said})


def _found(table: str, name: str) -> str:
    """Find the printed name of the one row that a name stands for."""
    names = _names(table)
    return names[find(table.replace("_", " "), name, names, listing=f"table({table!r})['crop']")][0]


@cache
def _names(table: str) -> tuple[tuple[str, ...], ...]:
    """Give for each row its printed name, its synonyms, and the names of the crops that it belongs to."""
    frame = read(table)
    index = read("crop_names")
    spoken: dict[str, list[str]] = {printed: [printed] for printed in frame["crop"]}
    if "synonyms" in frame.columns:
        for printed, synonyms in zip(frame["crop"], frame["synonyms"], strict=True):
            spoken[printed] += [text for text in synonyms.split("; ") if text]
    if f"{table}_row" in index.columns:
        linked = zip(index[f"{table}_row"], index["name"], index["synonyms"], strict=True)
        for printed, plain, synonyms in linked:
            if printed:
                spoken[printed] += [plain, *(text for text in synonyms.split("; ") if text)]
    return tuple(tuple(texts) for texts in spoken.values())
