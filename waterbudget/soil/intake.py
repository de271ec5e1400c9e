"""Intake: how fast a soil takes water in, and how long it can be sprinkled before water runs off.

Curves of intake are formulas on numbers, arrays or DataArrays; NaN gives NaN. The printed tables of rates are
looked up for one soil at a time.
"""

from __future__ import annotations

from typing import Any, Literal, NamedTuple, get_args

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.arguments import check_shapes
from waterbudget.checks import note_where
from waterbudget.errors import Faults, collect
from waterbudget.handbook.names import find, fitting
from waterbudget.handbook.tables import read
from waterbudget.operands import one_number, ranged, within
from waterbudget.units import convert

MINUTES_PER_HOUR = 60.0

Ground = Literal["covered", "bare"]


class BasicIntake(NamedTuple):
    """Steady intake of a soil as printed: ``low`` and ``high`` [mm h-1], and the ``source``."""

    low: float
    high: float
    source: str


# ----------------------------------------------------------------------------- printed rates
def greatest_rate(soil: str, slope: float, ground: Ground) -> float:
    """Greatest rate at which sprinklers may apply water without runoff.

    Parameters
    ----------
    soil : str
        Class of soil in ``waterbudget.handbook.table("sprinkler_rates")``: ``"coarse sand"``,
        ``"uniform light sandy loam"``, ``"uniform silt loam"``, ``"heavy clay or clay loam"``, or words of it
        that fit one.
    slope : float
        Slope of the ground [%], 0-12; the end of a printed class belongs to the flatter one.
    ground : {"covered", "bare"}
        Whether the ground is under cover.

    Returns
    -------
    float
        Rate [mm h-1].

    Raises
    ------
    InputError
        When the name fits no class or several, or the slope lies outside the table.

    Notes
    -----
    Source: USDA table, see the rows of the handbook.
    """
    frame = read("sprinkler_rates")
    names = _rated_soils()
    name = names[find("soil", soil, [(one,) for one in names], listing="table('sprinkler_rates')['name']")]
    low, high = frame["slope_percent_low"].min(), frame["slope_percent_high"].max()
    with collect() as faults:
        if ground not in get_args(Ground):
            faults.add("ground", "is no choice", value=repr(ground), allowed=" or ".join(get_args(Ground)))
        slope = one_number(slope, "slope", faults, low, high, unit="%", mend="the table ends there")
    rows = frame[
        (frame["name"] == name) & (frame["ground"] == ground) & (frame["slope_percent_high"] >= slope)
    ]
    row = rows.sort_values("slope_percent_high").iloc[0]
    return convert(float(row["rate_in_per_h"]), "in/h", "mm h-1")


def _rated_soils() -> list[str]:
    """Name the classes of soil for which a greatest rate is printed."""
    return list(dict.fromkeys(read("sprinkler_rates")["name"]))


def _rated(texture: str) -> str:
    """Name the one such class that a texture may stand for; empty where there is none, or several."""
    names = _rated_soils()
    hits = fitting(texture, [(name,) for name in names])
    return names[hits[0]] if len(hits) == 1 else ""


def basic_intake(texture: str) -> BasicIntake:
    """Steady intake that a soil comes down to when it is wetted for long, by its texture.

    Parameters
    ----------
    texture : str
        Texture in ``waterbudget.handbook.table("basic_intake")``: the table prints rates for fine sand, sandy
        loam, silt loam and clay alone.

    Returns
    -------
    BasicIntake

    Raises
    ------
    InputError
        When the table has no rate for the texture. Where `greatest_rate` has one, of sprinklers, it says so.

    Notes
    -----
    Source: in the rows of the handbook. `saturated_conductivity`, by sand and clay, is an upper bound for any
    texture: a field's surface is seldom as open as the soil below it.
    """
    frame = read("basic_intake")
    hits = fitting(texture, [(name,) for name in frame["name"]], whole=True)
    with collect() as faults:
        if not hits:
            allowed = ", ".join(frame["name"])
            mend = "measure it; saturated_conductivity is an upper bound for any texture"
            near = _rated(texture)
            if near:
                mend += f"; greatest_rate tells what sprinklers may apply on {near!r}, by slope and cover"
            problem = "the handbook has no rate for it"
            faults.add("texture", problem, value=repr(texture), allowed=allowed, mend=mend)
    row = frame.iloc[hits[0]]
    low, high = (convert(float(row[f"intake_in_per_h_{end}"]), "in/h", "mm h-1") for end in ("low", "high"))
    return BasicIntake(low, high, row["source"])


# -------------------------------------------------------------------------------------- families
def family_depth(family: float, hours: Any) -> Any:
    """Depth that a soil of an intake family has taken in under water: ``a T^b + c``, T in minutes.

    Parameters
    ----------
    family : float
        Name of the family, as in ``waterbudget.handbook.table("intake_families")``: 0.5.
    hours : float, array or DataArray
        Time under water T [h].

    Returns
    -------
    float, array or DataArray
        Depth [mm].

    Raises
    ------
    InputError
        When there is no such family, or a time is negative.

    Notes
    -----
    Source: intake families of the USDA Natural Resources Conservation Service (from memory), for furrows and
    borders.
    """
    with collect() as faults:
        row = _family(family, faults)
        hours = within(hours, "hours", faults, 0.0, unit="h")
    return row["a_mm"] * (MINUTES_PER_HOUR * hours) ** row["b"] + row["c_mm"]


def longest_set_of_family(rate: Any, family: float) -> Any:
    """Longest time for which a soil of an intake family can be sprinkled without runoff.

    The soil takes in ``a b T^(b-1)`` after a time T under water, and less the longer. Under sprinklers it
    comes down to their rate when it has taken in as much as under water by then, ``a T^b + c``: time is
    compressed, as in `longest_set`.

    Parameters
    ----------
    rate : float, array or DataArray
        Rate at which water reaches the soil [mm h-1].
    family : float
        As in `family_depth`.

    Returns
    -------
    float, array or DataArray
        Time [h]. Finite for every rate: a family has no steady intake.

    Raises
    ------
    InputError
        When there is no such family, or a rate is outside its range.

    Notes
    -----
    Our derivation, by the same argument as `longest_set`; no source.
    """
    with collect() as faults:
        row = _family(family, faults)
        rate = ranged(rate, "application_rate", faults, "rate")
    a, b, c = row["a_mm"], row["b"], row["c_mm"]
    by_minute = rate / MINUTES_PER_HOUR
    under_water = (a * b / by_minute) ** (1.0 / (1.0 - b))
    return (a * under_water**b + c) / rate


def _family(family: float, faults: Faults) -> pd.Series[Any]:
    """Give the row of a family; the first one where a fault was noted."""
    frame = read("intake_families")
    rows = frame[frame["family"] == family]
    if rows.empty:
        allowed = ", ".join(f"{one:g}" for one in frame["family"])
        faults.add("family", "the handbook has no such family", value=repr(family), allowed=allowed)
    return (frame if rows.empty else rows).iloc[0]


# ---------------------------------------------------------------------------------------- Horton
def horton_rate(hours: Any, initial_intake: Any, basic_intake: Any, decay: Any) -> Any:
    """Rate at which a soil under water takes it in: ``fc + (fo - fc) exp(-k t)``.

    Parameters
    ----------
    hours : float, array or DataArray
        Time t under water [h].
    initial_intake, basic_intake : float, array or DataArray
        Rates fo at the beginning and fc after a long time [mm h-1].
    decay : float, array or DataArray
        How fast the one becomes the other, k [h-1], above 0.

    Returns
    -------
    float, array or DataArray
        Rate [mm h-1].

    Raises
    ------
    InputError
        When a number is outside its range, or the initial intake below the basic.

    Notes
    -----
    Source: Horton, R.E. (1940), Soil Science Society of America Proceedings 5, 399-417 (from memory).
    """
    with collect() as faults:
        hours = within(hours, "hours", faults, 0.0, unit="h")
        initial_intake, basic_intake, decay = _horton(initial_intake, basic_intake, decay, faults)
        check_shapes(faults, hours=hours, initial_intake=initial_intake, decay=decay)
    return basic_intake + (initial_intake - basic_intake) * np.exp(-decay * hours)


def horton_depth(hours: Any, initial_intake: Any, basic_intake: Any, decay: Any) -> Any:
    """Depth taken in by `horton_rate` from the beginning: ``fc t + (fo - fc) (1 - exp(-k t)) / k``.

    Parameters, errors and source are those of `horton_rate`.

    Returns
    -------
    float, array or DataArray
        Depth [mm].
    """
    with collect() as faults:
        hours = within(hours, "hours", faults, 0.0, unit="h")
        initial_intake, basic_intake, decay = _horton(initial_intake, basic_intake, decay, faults)
        check_shapes(faults, hours=hours, initial_intake=initial_intake, decay=decay)
    drop = initial_intake - basic_intake
    return basic_intake * hours - drop * np.expm1(-decay * hours) / decay


def longest_set(rate: Any, initial_intake: Any, basic_intake: Any, decay: Any) -> Any:
    """Longest time for which a soil can be sprinkled without runoff, its intake falling as `horton_rate`.

    ``(fo - P + fc ln[(fo - fc) / (P - fc)]) / (P k)`` for a rate P between fc and fo.

    Parameters
    ----------
    rate : float, array or DataArray
        Rate P at which water reaches the soil [mm h-1].
    initial_intake, basic_intake, decay : float, array or DataArray
        As in `horton_rate`. Where both intakes are equal it is constant: any time, or none.

    Returns
    -------
    float, array or DataArray
        Time [h]: infinite for a rate up to the basic intake, 0 for one of the initial intake or more.

    Raises
    ------
    InputError
        When a number is outside its range, or the initial intake below the basic.

    Notes
    -----
    Source: Hung and Krinik, maximum time of sprinkling without runoff (equation read, not the derivation).
    Time is compressed: what a soil can still take in is held to depend on the depth that it has taken in,
    not on the time. Runoff begins when ``P t`` is the depth at which the intake under water is down to P.
    """
    with collect() as faults:
        rate = ranged(rate, "application_rate", faults, "rate")
        initial_intake, basic_intake, decay = _horton(initial_intake, basic_intake, decay, faults)
        check_shapes(faults, rate=rate, initial_intake=initial_intake, decay=decay)
    return xr.apply_ufunc(_until_runoff, rate, initial_intake, basic_intake, decay)


def _until_runoff(rate: Any, initial: Any, basic: Any, decay: Any) -> Any:
    with np.errstate(divide="ignore", invalid="ignore"):  # where no logarithm is wanted
        left = np.log(np.divide(initial - basic, rate - basic))
    time = (initial - rate + basic * left) / (rate * decay)
    time = np.where(rate <= basic, np.inf, np.where(rate >= initial, 0.0, time))
    return time + 0.0 * (initial + basic + decay)  # what is not known stays so


def _horton(initial: Any, basic: Any, decay: Any, faults: Faults) -> tuple[Any, Any, Any]:
    """Take the three numbers of a falling intake."""
    initial = ranged(initial, "intake_rate", faults, "initial_intake")
    basic = ranged(basic, "intake_rate", faults, "basic_intake")
    decay = within(decay, "decay", faults, 0.0, above=True, unit="h-1")
    if check_shapes(faults, initial_intake=initial, basic_intake=basic, decay=decay):
        given = {"initial_intake": xr.DataArray(initial), "basic_intake": xr.DataArray(basic)}
        below = xr.DataArray(initial < basic)
        note_where(
            faults,
            "initial_intake",
            "is below the basic intake",
            below,
            given,
            allowed="the basic intake or more",
            mend="see whether the two are exchanged: what soil takes in falls while it is watered",
        )
    return initial, basic, decay
