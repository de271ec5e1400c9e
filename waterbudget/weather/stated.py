"""The unit that a column's own name states: ``"Precip (in)"``, ``"wind_mph"``, ``"TmaxF"``.

A name is never acted on. Where it contradicts what would be assumed it raises the question, and the
user answers it by ``units=``. Only words listed here count as units.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from typing import NamedTuple

from waterbudget.units import UnitError, convert

# For each canonical unit of weather: a unit that `convert` knows, and how headings write it after `_key`. The
# first is the canonical one itself. A word may stand for different units of different quantities: inches of
# rain, inches of mercury.
_WRITTEN = {
    "degC": {
        "degC": "c °c degc degreec degreesc celsius degcelsius degreescelsius",
        "degF": "f °f degf degreef degreesf fahrenheit degfahrenheit degreesfahrenheit",
        "K": "k degk kelvin",
    },
    "%": {"%": "% pct percent", "fraction": "fraction"},
    "kPa": {
        "kPa": "kpa",
        "hPa": "hpa",
        "mbar": "mb mbar millibar millibars",
        "Pa": "pa",
        "mmHg": "mm mmhg",
        "inHg": "in inch inches inhg",
        "psi": "psi",
    },
    "m s-1": {
        "m/s": "m/s ms mps",
        "km/h": "km/h kmh kph kmph",
        "mph": "mph mi/h mile/h miles/h",
        "knot": "kn kt kts knot knots",
        "ft/s": "ft/s fps",
        "km/day": "km/day",
        "mile/day": "mi/day mile/day miles/day",
    },
    "MJ m-2 day-1": {
        "MJ/m2": "mj mj/m2 mjm2 mj/m2/day mjm2day",
        "kJ/m2": "kj kj/m2 kjm2 kj/m2/day",
        "J/m2": "j/m2 jm2 j/m2/day",
        "W/m2": "w/m2 wm2 watt/m2 watts/m2",
        "kW/m2": "kw/m2 kwm2",
        "Wh/m2": "wh/m2 whm2 wh/m2/day",
        "kWh/m2": "kwh/m2 kwhm2 kwh/m2/day",
        "langley/day": "ly ly/day langley langleys langley/day langleys/day",
        "cal/cm2": "cal/cm2 cal/cm2/day",
    },
    "h": {"h": "h hr hrs hour hours", "min": "min mins minute minutes"},
    "mm day-1": {
        "mm": "mm mm/day millimeter millimeters millimetre millimetres",
        "cm": "cm cm/day",
        "m": "m m/day",
        "in": "in inch inches in/day inch/day inches/day",
        "ft": "ft feet",
        "mm/h": "mm/h",
        "in/h": "in/h inch/h inches/h",
    },
    "mm h-1": {"mm/h": "mm/h", "in/h": "in/h inch/h inches/h"},
}
_KNOWN = {
    canonical: {word: unit for unit, words in units.items() for word in words.split()}
    for canonical, units in _WRITTEN.items()
}
# Units of another quantity are told by their longer words alone: "Temp (min)" is no time, "Wind in" no depth.
_CLEAR = {
    word
    for canonical, words in _KNOWN.items()
    if canonical not in ("h", "%")
    for word in words
    if len(word) > 2
}

_BRACKETS = re.compile(r"[(\[{]([^()\[\]{}]*)[)\]}]")
_BETWEEN = re.compile(r"[\s_.,;:|]+|(?<=[^\W\d])-(?=[^\W\d])")
_CAMEL = re.compile(r"(?<=[a-z\d])(?=[A-Z])")
_MOST_WORDS = 4  # "MJ m2 per day"
_GREATEST_DEPTH = 1000.0  # mm; nobody gives rain in kilometres


class Stated(NamedTuple):
    """What a heading says of its unit.

    ``word`` is how the heading writes it, ``unit`` how `convert` knows it; ``unit`` is empty where the word
    is a unit of another quantity.
    """

    word: str
    unit: str


def stated_unit(heading: str, canonical: str) -> Stated | None:
    """Find the unit that a heading states.

    Parameters
    ----------
    heading : str
        The source's own name of a column.
    canonical : str
        The canonical unit of the variable that it stands for.

    Returns
    -------
    Stated or None
        None where the heading states none that is known, or the canonical one.
    """
    known = _KNOWN[canonical]
    for word in _candidates(heading):
        key = _key(word)
        if key in known:
            return None if known[key] == usual(canonical) else Stated(word, known[key])
        if key in _CLEAR:
            return Stated(word, "")
    return None


def unit_of(text: str, canonical: str) -> str:
    """Give the unit that a line of units writes, as `convert` knows it; as written where it is unknown."""
    bare = text.strip("()[]{} ")
    return _KNOWN[canonical].get(_key(bare), bare)


def usual(canonical: str) -> str:
    """Write a canonical unit of weather as people do: ``"mm"`` for ``"mm day-1"``."""
    return next(iter(_WRITTEN[canonical]))


def is_depth(unit: str) -> bool:
    """Tell whether a unit is one of water: a depth or mass, or one per day or hour; a speed is none."""
    if _key(unit).startswith("kg"):  # what of kg can become mm day-1 is a mass on an area
        return True
    length = re.sub(r"/(day|h)$", "", _key(unit))
    try:
        return convert(1.0, length, "mm") <= _GREATEST_DEPTH
    except UnitError:
        return False


def _candidates(heading: str) -> Iterator[str]:
    """Give what may be a unit: in brackets first, then the last words, the longest first."""
    inside = _BRACKETS.findall(heading)
    for text in (*inside, _BRACKETS.sub(" ", heading)):
        if text.strip():
            yield text.strip()
        words = [word for word in _BETWEEN.split(text) if word.strip("-")]
        for count in range(min(_MOST_WORDS, len(words)), 0, -1):
            before = words[-count - 1 : -count]
            if not (before and before[0].isdecimal()):  # "wind at 10 m" tells a height
                yield " ".join(words[-count:])
        parts = _CAMEL.split(words[-1]) if words else []
        for count in range(len(parts) - 1, 0, -1):
            tail = "".join(parts[-count:])
            if len(tail) > 1 or tail in "CFK":
                yield tail


def _key(text: str) -> str:
    """Bring the ways to write one unit together: ``"MJ m⁻² d⁻¹"`` and ``"MJ/m^2/day"``."""
    plain = unicodedata.normalize("NFKC", text.replace("º", "°")).casefold()
    plain = plain.replace("\N{MINUS SIGN}", "-").replace("^", "").replace("**", "")
    plain = re.sub(r"[_·⋅*]", " ", plain)
    plain = re.sub(r"\bper\b", "/", plain)
    plain = re.sub(r"\s+([a-z]+)-1\b", r"/\1", plain)
    plain = re.sub(r"\s+([a-z]+)-2\b", r"/\g<1>2", plain)
    plain = re.sub(r"[\s.]", "", plain)
    plain = re.sub(r"/(d|days)$", "/day", plain)
    return re.sub(r"/(hr|hrs|hour|hours)$", "/h", plain).replace("/sec", "/s")
