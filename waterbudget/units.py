"""Conversions at the door: numbers come in with their unit, and are canonical from there on.

The canonical units are those of `waterbudget.variables`. pint does the arithmetic; it is imported
when the first conversion is asked for, and its registry is made once. pint reads a few words of
irrigation in its own way (``ac`` as attoseconds times the speed of light, ``ly`` as a light year,
``F`` as farad) or not at all (``gpm``, ``cfs``, ``m-2``); `_WORDS` says what they mean here.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING, overload

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    import pint

# What the registry is told beside its own words. The acre is of the international foot (pint's is
# of the survey foot, 4e-6 larger) and the gallon is the US liquid gallon.
_DEFINITIONS = (
    "field_acre = 43560 * foot ** 2",
    "gallon_per_minute = gallon / minute",
    "gallon_per_hour = gallon / hour",
    "cubic_foot_per_second = foot ** 3 / second",
)

# A whole word of a unit, or a whole unit -> what the registry understands.
_WORDS = {
    "%": "percent",
    "pct": "percent",  # picocarat
    "fraction": "dimensionless",
    "1": "dimensionless",
    "ac": "field_acre",  # attosecond times speed of light
    "acre": "field_acre",
    "acres": "field_acre",
    "gpm": "gallon_per_minute",
    "GPM": "gallon_per_minute",
    "gph": "gallon_per_hour",
    "cfs": "cubic_foot_per_second",
    "lps": "liter / second",
    "°": "degree",
    "°F": "degree_Fahrenheit",
    "°C": "degree_Celsius",
    "F": "degree_Fahrenheit",  # farad
    "C": "degree_Celsius",  # coulomb
    "ly": "langley",  # light year
    "Ly": "langley",
    "degrees_north": "degree",
    "degree_north": "degree",
    "degrees_N": "degree",
    "deg": "degree",
    "% per dS m-1": "percent / (decisiemens / meter)",
    "cb": "centibar",  # centibarn
    "mb": "millibar",  # millibarn
}

_TWO_MEANINGS = {
    "a": "'a' may be a year or an are: write 'year', or 'ha' or 'm2'",
    "b": "'b' may be a bar or a barn: write 'bar'",
    "t": "'t' may be a tonne or a ton: write 'kg'",
}

# What each canonical unit accepts, for the message when something else came.
_EXAMPLES = {
    "mm": "mm, cm, in",
    "mm day-1": "mm/day, in/day; a depth alone (mm, in) is taken as that of the day",
    "mm h-1": "mm/h, in/h",
    "MJ m-2 day-1": "MJ/m2/day, W/m2, langley/day, cal/cm2/day",
    "m3 h-1": "m3/h, L/s, gpm, cfs",
    "m3 m-3": "m3/m3, %, in/ft, mm/m",
    "dS m-1": "dS/m, mS/cm",
    "% per dS m-1": "%/(dS/m)",
    "mL": "mL, cm3, L",
    "L": "L, mL, gal",
    "L h-1": "L/h, gph",
    "m3": "m3, L, gal, acre-ft",
    "kWh": "kWh, MJ",
    "m s-1": "m/s, km/h, mph, knot",
    "m h-1": "m/h, cm/min, ft/min",
    "kPa": "kPa, hPa, mbar, psi, inHg",
    "degC": "degC, degF, K",
    "ha": "ha, ac, m2",
    "m": "m, cm, ft, in",
    "h": "h, min",
    "h-1": "h-1, min-1",
    "day": "day, week",
    "1": "%, fraction",
    "%": "%, fraction",
    "degrees_north": "degrees_north, degree, radian",
}

_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*")
_ALLOWED = re.compile(r"[\w\s%°·⋅⁻*/^().-]+")
_WORD = re.compile(r"%|°?[^\W\d]\w*|°")
_POWER = re.compile(r"\b([^\W\d_]+)(-?\d+)\b")
_JOINED = re.compile(r"(?<=[^\W\d])-(?=[^\W\d])")


class UnitError(ValueError):
    """A unit that is unknown, absent, or of another kind than the one wanted."""


@overload
def convert(values: float, given: str, wanted: str) -> float: ...
@overload
def convert(values: npt.NDArray[np.float64], given: str, wanted: str) -> npt.NDArray[np.float64]: ...
def convert(
    values: float | npt.NDArray[np.float64], given: str, wanted: str
) -> float | npt.NDArray[np.float64]:
    """Convert numbers from one unit to another.

    Parameters
    ----------
    values : float or numpy array of float
        Numbers in the unit `given`; NaN stays NaN.
    given : str
        Their unit, as people write it: ``"degF"``, ``"in"``, ``"MJ/m2/day"``, ``"MJ m-2 day-1"``.
    wanted : str
        The unit to convert to, usually the one that `waterbudget.variables` has for the name.
        Where it is an amount per day (``"mm day-1"``, ``"MJ m-2 day-1"``), an amount alone
        (``"in"``, ``"MJ/m2"``) is taken as that of the day.

    Returns
    -------
    float or numpy array of float
        The same numbers in `wanted`; the input is not changed.

    Raises
    ------
    UnitError
        When `given` is unknown, or is of another kind than `wanted`.

    Examples
    --------
    >>> round(convert(68.0, "degF", "degC"), 6)
    20.0
    """
    if given.strip() == wanted:
        return np.array(values, dtype=np.float64) if isinstance(values, np.ndarray) else float(values)
    factor, offset = _line(given.strip(), wanted)
    return values * factor + offset


def parse_quantity(text: str, wanted: str) -> float:
    """Read a number with its unit, such as ``"24 in"``, and convert it.

    Parameters
    ----------
    text : str
        A number and a unit: ``"0.3 in/h"``, ``"3 ft"``, ``"5 gpm"``, ``"68 degF"``, ``"1.2e3 m3/h"``.
    wanted : str
        The unit to convert to.

    Returns
    -------
    float
        The number in `wanted`.

    Raises
    ------
    UnitError
        When the text is not one finite number and a unit, or the unit does not fit.
    """
    match = _NUMBER.fullmatch(text)
    if match is None:
        message = f"{text!r} does not begin with a number; mend: write a number and its unit, {_such(wanted)}"
        raise UnitError(message)
    number, unit = float(match[1]), match[2]
    if not unit:
        message = f"{text!r} has no unit; mend: write the unit after the number, {_such(wanted)}"
        raise UnitError(message)
    if not math.isfinite(number):
        message = f"{text!r} is too large a number; mend: correct it"
        raise UnitError(message)
    if unit[0] in ",./-+'\"0123456789":
        message = (
            f"{text!r} is not one number and a unit; mend: write the number with a decimal point, "
            f"without fractions, ranges or thousands separators, {_such(wanted)}"
        )
        raise UnitError(message)
    return convert(number, unit, wanted)


@cache
def _registry() -> pint.UnitRegistry[Decimal]:
    import pint

    # Decimal keeps the factors exact: 24 in is 609.6 mm, not 609.5999999999999.
    registry: pint.UnitRegistry[Decimal] = pint.UnitRegistry(non_int_type=Decimal)
    for definition in _DEFINITIONS:
        registry.define(definition)
    return registry


@cache
def _line(given: str, wanted: str) -> tuple[float, float]:
    """Give factor and offset: every conversion here is a straight line."""
    import pint

    registry = _registry()
    source, target = _unit(given, wanted), _unit(wanted, wanted)
    if _is_mass_of_water(source, target):
        source = source / _registry().Unit("kilogram / liter")
    if wanted.endswith(" day-1") and source.dimensionality == (target * registry.Unit("day")).dimensionality:
        source = source / registry.Unit("day")
    try:
        # pint holds angles to be plain numbers, so that 50 % would pass for a latitude.
        if _is_angle(source) != _is_angle(target):
            raise pint.DimensionalityError(source, target)
        zero, one = (registry.convert(Decimal(value), source, target) for value in (0, 1))
    except TypeError as problem:  # of pint: another dimension, offset degrees multiplied, decibels
        message = (
            f"{given!r} cannot become {wanted!r}, it is of another kind; mend: give a unit {_such(wanted)}"
        )
        raise UnitError(message) from problem
    return float(one - zero), float(zero)


def _is_mass_of_water(source: pint.Unit, target: pint.Unit) -> bool:
    """Tell whether a mass of water on an area is given where a depth is wanted: 1 kg m-2 is 1 mm."""
    depths = ({"[length]": 1}, {"[length]": 1, "[time]": -1})
    mass = {"[mass]": 1, "[length]": -2}
    rate = {**mass, "[time]": -1}
    return dict(target.dimensionality) in depths and dict(source.dimensionality) in (mass, rate)


def _is_angle(unit: pint.Unit) -> bool:
    return str(unit) in {"degree", "radian"}


def _unit(text: str, wanted: str) -> pint.Unit:
    """Read a unit as people write it: ``"MJ m-2 day-1"``, ``"MJ/m2/day"``, ``"ac"``, ``"acre-ft"``."""
    if not text:
        message = f"the unit is empty; mend: name it, {_such(wanted)}"
        raise UnitError(message)
    for word in _WORD.findall(text):
        if word in _TWO_MEANINGS:
            message = f"unit {text!r} has two meanings, {_TWO_MEANINGS[word]}"
            raise UnitError(message)
    if _ALLOWED.fullmatch(text) is None:
        message = f"unit {text!r} is not a unit alone; mend: write nothing else, {_such(wanted)}"
        raise UnitError(message)
    powers = _POWER.sub(r"\1**\2", _JOINED.sub("*", text))
    whole = _WORDS.get(" ".join(text.split()))
    words = whole or _WORD.sub(lambda match: _WORDS.get(match[0], match[0]), powers)
    try:
        return _registry().Unit(words)
    except Exception as problem:
        # pint evaluates the text as an expression and lets through whatever goes wrong on the way:
        # its own errors, those of the tokenizer, of arithmetic, and failed assertions.
        message = f"unit {text!r} is not known; mend: correct its spelling, {_such(wanted)}"
        raise UnitError(message) from problem


def _such(wanted: str) -> str:
    return f"such as {_EXAMPLES.get(wanted, wanted)}"
