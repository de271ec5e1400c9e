"""Look-up by name: one crop, soil or system with its ranges resolved by a stated rule.

The rule, the same everywhere: the midpoint of a printed range, except the root depth, where the smaller
value is taken (FAO-56 Table 22, footnote 1: for irrigation scheduling); of alternatives printed ``50/30`` the
first. ``sources`` of each result says in words which row was used and how a range was resolved.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np

from waterbudget.errors import InputError, collect
from waterbudget.handbook.names import find, fitting, nearest, quoted, words
from waterbudget.handbook.response import printed_salt_tolerance, printed_yield_response
from waterbudget.handbook.rows import crop_row, middle, noted, source, where
from waterbudget.handbook.stages import stage_days
from waterbudget.handbook.tables import read

# The classes of the USDA texture triangle that FAO-56 Table 19 passes over.
_NOT_IN_TABLE_19 = ("clay loam", "sandy clay loam", "sandy clay")

_SURFACE = (
    "take 'surface irrigation (FAO)', which wets the whole surface, or give efficiency and wetted_fraction; "
    "furrows wet less: by FAO-56 Table 20 every furrow on narrow beds 0.6 to 1.0, on wide beds 0.4 to 0.6, "
    "alternate furrows 0.3 to 0.5"
)
_SYSTEM_WORDS = {"furrow": _SURFACE, "flood": _SURFACE, "gravity": _SURFACE}
"""Words of the trade for systems that the handbook has under another name, and what to do about them."""


class CropRow(NamedTuple):
    """What the handbook has for one crop; None where its tables have nothing.

    ``stage_days`` are the lengths of the initial, development, mid-season and late stages in days;
    ``kc`` and ``kcb`` the initial, mid-season and end coefficients (FAO Penman-Monteith, short surface,
    standard climate); ``height_m`` and ``root_depth_m`` maxima in m; ``depletion_fraction`` holds at
    5 mm/day. A ``perennial`` has its roots at full depth all year. ``salt_threshold``, salinity of the
    saturation extract up to which yield is full, in dS/m; ``salt_slope``, yield lost above it, in percent per
    dS/m; ``yield_response``, the factor Ky of the season. ``sources`` has a text for each value that is not
    None, under ``stage_days``, ``kc``, ``kcb``, ``height``, ``root_depth``, ``depletion_fraction``,
    ``salt_threshold``, ``salt_slope`` and ``yield_response``.
    """

    name: str
    stage_days: tuple[float, float, float, float] | None
    kc: tuple[float, float, float] | None
    kcb: tuple[float, float, float] | None
    height_m: float | None
    root_depth_m: float
    depletion_fraction: float
    perennial: bool
    salt_threshold: float | None
    salt_slope: float | None
    yield_response: float | None
    sources: dict[str, str]


class SoilRow(NamedTuple):
    """What the handbook has for one texture class.

    ``field_capacity`` and ``wilting_point`` in m3/m3; ``rew`` and ``tew``, readily and totally evaporable
    water, in mm for a layer of 0.10 m. ``sources`` has a text for each of the four.
    """

    name: str
    field_capacity: float
    wilting_point: float
    rew: float
    tew: float
    sources: dict[str, str]


class SystemRow(NamedTuple):
    """What the handbook has for one irrigation system.

    ``efficiency`` (application efficiency) and ``wetted_fraction`` (of the soil surface) are fractions.
    A ``subsurface`` system wets no surface; ``under_canopy`` says that the wetted soil lies in the crop's
    shade. ``sources`` has a text for ``efficiency`` and ``wetted_fraction``.
    """

    name: str
    efficiency: float
    wetted_fraction: float
    subsurface: bool
    under_canopy: bool
    sources: dict[str, str]


def crop(name: str, *, month: int | None = None, region: str | None = None, stages: bool = True) -> CropRow:
    """Look up a crop in FAO-56 Tables 11, 12, 17 and 22 to 24.

    Of several rows of Table 11 the one whose printed planting month lies nearest to ``month`` is taken
    (around the year; of equals the first printed; rows without a month only when nothing else is left).
    The months are those of the printed regions, not turned round for the other hemisphere.

    Parameters
    ----------
    name : str
        A name or synonym of `crops`, or words that only one of them contains.
    month : int, optional
        Month of planting, 1 to 12.
    region : str, optional
        Part of a region as printed in Table 11: only its rows are considered.
    stages : bool
        Look for stage lengths; False leaves Table 11 alone, for a caller who has their own.

    Returns
    -------
    CropRow
        The numbers, ranges resolved as the module says, and where each comes from.

    Raises
    ------
    InputError
        When the name fits none or several crops, the month is no month, the region fits no row, or
        several rows of Table 11 are left and no month decides between them (all are listed).
    """
    with collect() as faults:
        if month is not None and month not in range(1, 13):
            faults.add("month", "is no month", value=repr(month), allowed="1 to 12")
        try:
            index = find("crop", name, _names("crop_names"))
        except InputError as error:
            faults.extend(error.faults)
    entry = read("crop_names").iloc[index]
    sources: dict[str, str] = {}
    rows = tuple(entry["stage_lengths_rows"].split("; ")) if entry["stage_lengths_rows"] else ()
    calendar = stage_days(str(entry["name"]), rows, month, region) if stages else None
    if calendar is not None:
        sources["stage_days"] = calendar.source
    kc = kcb = height = None
    if entry["single_row"]:
        row = crop_row("crop_coefficients_single", entry["single_row"])
        kc = (middle(row, "kc_ini"), middle(row, "kc_mid"), middle(row, "kc_end"))
        sources["kc"] = source(row, {"kc_ini": "Kc ini", "kc_mid": "Kc mid", "kc_end": "Kc end"})
        height = middle(row, "height_m")
        sources["height"] = source(row, {"height_m": "height in m"})
    if entry["basal_row"]:
        row = crop_row("crop_coefficients_basal", entry["basal_row"])
        kcb = (middle(row, "kcb_ini"), middle(row, "kcb_mid"), middle(row, "kcb_end"))
        sources["kcb"] = source(row, {"kcb_ini": "Kcb ini", "kcb_mid": "Kcb mid", "kcb_end": "Kcb end"})
    roots = crop_row("root_depth", entry["root_depth_row"])
    deep = f"{roots['root_depth_m_low']:g} to {roots['root_depth_m_high']:g} m"
    sources["root_depth"] = (
        f"{where(roots)}: the smaller of {deep} (footnote 1: for irrigation scheduling){noted(roots)}"
    )
    sources["depletion_fraction"] = f"{where(roots)}: at 5 mm/day{noted(roots)}"
    salt_threshold = salt_slope = response = None
    if entry["salt_tolerance_row"]:
        salt = printed_salt_tolerance(entry["salt_tolerance_row"])
        salt_threshold, salt_slope = salt.salt_threshold, salt.salt_slope
        sources |= salt.sources
    if entry["yield_response_row"]:
        answer = printed_yield_response(entry["yield_response_row"])
        response = answer.yield_response
        sources |= answer.sources
    return CropRow(
        name=str(entry["name"]),
        stage_days=None if calendar is None else calendar.days,
        kc=kc,
        kcb=kcb,
        height_m=height,
        root_depth_m=float(roots["root_depth_m_low"]),
        depletion_fraction=float(roots["depletion_fraction"]),
        perennial=bool(entry["perennial"]),
        salt_threshold=salt_threshold,
        salt_slope=salt_slope,
        yield_response=response,
        sources=sources,
    )


def soil(name: str) -> SoilRow:
    """Look up a soil by its USDA texture class in FAO-56 Table 19.

    Parameters
    ----------
    name : str
        ``"sandy loam"``, ``"silt"``, ...: see `soils`. The whole name: clay loam, which Table 19 does
        not have, must not be taken for silty clay loam.

    Returns
    -------
    SoilRow
        Midpoints of the printed ranges, and where each comes from.

    Raises
    ------
    InputError
        When Table 19 has no texture class of this name. For a class of the texture triangle that the
        table passes over no other is offered in its place.
    """
    names = _names("soil_water")
    hits = fitting(name, names, whole=True)
    with collect() as faults:
        if not hits:
            texture = isinstance(name, str) and words(name) in map(words, _NOT_IN_TABLE_19)
            near = [] if texture else nearest(name, names)
            meant = f"if {' or '.join(map(repr, near[:2]))} is meant, write that; else " if near else ""
            faults.add(
                "soil",
                "is not in FAO-56 Table 19",
                value=repr(name),
                allowed=quoted([entry[0] for entry in names]),
                mend=f"{meant}give field_capacity and wilting_point of the soil in place of a texture"
                ", and rew where soil evaporation is computed apart; or, of a mineral soil, sand, clay and "
                "organic matter in percent, from which Soil.from_particles works them out",
            )
    row = read("soil_water").iloc[hits[0]]
    stems = {
        "field_capacity": "field_capacity",
        "wilting_point": "wilting_point",
        "rew": "rew_mm",
        "tew": "tew_mm",
    }
    return SoilRow(
        name=str(row["name"]),
        field_capacity=middle(row, "field_capacity"),
        wilting_point=middle(row, "wilting_point"),
        rew=middle(row, "rew_mm"),
        tew=middle(row, "tew_mm"),
        sources={key: source(row, {stem: key.replace("_", " ")}) for key, stem in stems.items()},
    )


def system(name: str) -> SystemRow:
    """Look up an irrigation system: application efficiency and the fraction of the surface it wets.

    Parameters
    ----------
    name : str
        ``"centre pivot"``, ``"drip"``, ``"drip (FAO)"``, ...: see `systems`.

    Returns
    -------
    SystemRow
        The efficiency as a fraction, the midpoint of the wetted fraction, and where each comes from.

    Raises
    ------
    InputError
        When the name fits none or several systems, or the handbook has no efficiency for it (the
        stationary gun).
    """
    spoken = words(name) if isinstance(name, str) else ()
    mend = next((text for word, text in _SYSTEM_WORDS.items() if word in spoken), "")
    index = find("system", name, _names("application_efficiency"), mend=mend)
    row = read("application_efficiency").iloc[index]
    with collect() as faults:
        if np.isnan(row["efficiency_percent"]):
            faults.add(
                f"system {str(row['name'])!r}",
                f"the handbook has no number for its efficiency ({row['note']})",
                mend="give efficiency and wetted_fraction of this gun in place of its name, as in "
                "System(efficiency=..., wetted_fraction=...)",
            )
    low, high = row["wetted_fraction_low"], row["wetted_fraction_high"]
    resolved = "" if low == high else f", midpoint of {low:g} to {high:g}"
    note = f", {row['note']}" if row["note"] else ""
    return SystemRow(
        name=str(row["name"]),
        efficiency=float(row["efficiency_percent"]) / 100.0,
        wetted_fraction=middle(row, "wetted_fraction"),
        subsurface=bool(row["subsurface"]),
        under_canopy=bool(row["under_canopy"]),
        sources={
            "efficiency": f"{row['source']}: {row['name']}{note}",
            "wetted_fraction": f"{row['wetted_fraction_source']}{resolved}",
        },
    )


@cache
def _names(table: str) -> tuple[tuple[str, ...], ...]:
    """Give for each row of a table its name and then its synonyms."""
    frame = read(table)
    return tuple(
        (name, *(text for text in synonyms.split("; ") if text))
        for name, synonyms in zip(frame["name"], frame["synonyms"], strict=True)
    )
