"""Missing weather: what the published procedures of FAO-56 put in its place, each value under its flag.

Here is what the user asks for; the ways themselves are in `ways`, the curves that they fit in `fits`.
"""

from __future__ import annotations

import json
from collections.abc import Hashable, Mapping
from functools import partial
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.checks import in_range, labelled
from waterbudget.descriptions import from_text, moment
from waterbudget.errors import Faults, brief, collect
from waterbudget.handbook.tables import read as read_table
from waterbudget.units import UnitError, convert
from waterbudget.weather import ways
from waterbudget.weather.doubts import faults_of, weather_faults

Neighbour = xr.Dataset | Mapping[Hashable, Hashable]
"""Another station, or for each station the label of the one that serves it."""

_LONGEST_GAP = 10
"""Most days that may be interpolated (common practice, no source)."""

_COEFFICIENTS = {"interior": 0.16, "coast": 0.19}
"""kRs of FAO-56 Eq. 50 [degC-0.5]: where land masses dominate, and on or near the coast of a large one."""

_EXTREMES = ("tmin", "tmax")
_PLACE = ("latitude", "elevation")

_FIT_TYPES = {
    "variable": "object",
    "station": "object",
    "slope": "float64",
    "intercept": "float64",
    "standard_error": "float64",
    "r2": "float64",
    "days": "int64",
    "fills": "bool",
}


def fill_weather(
    weather: xr.Dataset,
    *,
    rain: float | str | Mapping[Any, float | str] | pd.Series | xr.DataArray | None = None,
    interpolate: int = 0,
    sunshine: tuple[float, float] | None = None,
    regression: Neighbour | None = None,
    neighbour: Neighbour | None = None,
    range_coefficient: float | str | None = None,
    dewpoint_offset: float | None = None,
    wind: float | str | None = None,
    climatology: bool = False,
) -> xr.Dataset:
    """Estimate what weather lacks, by the ways that are asked for, and flag every value so made.

    The ways are taken in the order in which they stand below; each fills what is still missing. For another
    order call it again. A sensor that is not there at all is filled like one that failed.

    Parameters
    ----------
    weather : Dataset
        Daily weather as `read_weather` gives it.
    rain : float, str, mapping of date to these, Series or DataArray, optional
        What the user says of missing rain [mm], or text with its unit: on every such day, on the days
        named (year-month-day), or by another gauge on ``time`` and, if wanted, ``station``. Rain is never
        interpolated.
    interpolate : int
        Gaps of at most this many days, 0 to 10, are bridged by a straight line between the days around
        them: of temperature, humidity, pressure and wind; of radiation and sunshine by their ratio to
        extraterrestrial radiation and day length.
    sunshine : (float, float), optional
        Radiation from the station's own sunshine by FAO-56 Eq. 35, with as and bs: ``(0.25, 0.50)`` where
        they are not calibrated.
    regression : Dataset or mapping, optional
        Another station, or for each station the one of this weather that serves it: ``{"south": "north"}``.
        Everything but rain is taken from it by a straight line fitted to the common days,
        if r2 is at least 0.7 and the slope 0.7 to 1.3 (FAO-56 Annex 4) over 30 days or more; `fit_stations`
        shows the fits.
    neighbour : Dataset or mapping, optional
        A near station of the same weather, given like `regression`: radiation by FAO-56 Eq. 49, the ratio to
        extraterrestrial radiation; wind as it stands.
    range_coefficient : {"interior", "coast"} or float, optional
        Radiation from the day's range of temperature by FAO-56 Eq. 50: its coefficient, 0.16 in the
        interior, 0.19 at the coast, or a calibrated one, 0.1 to 0.3 [degC-0.5].
    dewpoint_offset : float, optional
        Humidity from the minimum temperature by FAO-56 Eq. 48: how far the dew point lies below it [degC], 0
        to 10. 0 in humid places and over a well watered surface, about 2 in arid ones. Where there
        is no column of humidity ``dewpoint`` is made; else those that are there are filled.
    wind : float or str, optional
        A stated mean wind at 2 m [m s-1], 0.5 to 10, or a class of FAO-56 Table 15: ``"light"``, ``"light to
        moderate"``, ``"moderate to strong"``, ``"strong"``. Where nothing is known FAO-56 takes 2 m/s.
    climatology : bool
        The smooth season of the record itself, the year's wave and the half year's; radiation and sunshine
        by their ratios. The record must cover the calendar: 330 days, no stretch of more than 31
        days without a value in every year.

    Returns
    -------
    Dataset
        Weather with a variable ``<name>_flag`` for each that was filled. ``attrs["filling"]`` is a
        JSON list of what was done, with the fits, and of what could not be. Values that would contradict
        others of their day (tmin above tmax) or leave their range are not filled; relative humidity is
        limited to 100 %, which the list counts.

    Raises
    ------
    InputError
        When nothing is asked for, an option is outside its range, what a way needs is not there, or the
        weather is at fault.

    Notes
    -----
    Source: FAO-56 (1998), chapter 3, on missing data, and Annex 4 on completing records (the limits of its
    regressions from memory). Estimates are good over weeks and poor on a day. Only values as given are
    fitted to, interpolated between or borrowed, never estimated ones; the formulas of a day (Eq. 35, 48, 50)
    take what the day has.

    Examples
    --------
    >>> filled = fill_weather(weather, interpolate=3, range_coefficient="interior", dewpoint_offset=2)
    >>> season = simulate(filled, crop, soil)
    """
    options = {
        "interpolate": interpolate,
        "sunshine": sunshine,
        "regression": regression,
        "neighbour": neighbour,
        "range_coefficient": range_coefficient,
        "dewpoint_offset": dewpoint_offset,
        "wind": wind,
        "climatology": climatology,
    }
    with collect() as faults:
        weather_faults(weather, faults)
    with collect() as faults:
        asked = [*_stated_rain(weather, rain, faults), *_asked(weather, options, faults)]
        if not asked and not faults:
            mend = f"name a way: rain, {', '.join(options)}"
            faults.add("fill_weather", "is asked for nothing", mend=mend)
    filled = weather
    said = _said_before(weather.attrs.get("filling", "[]"))
    for way in asked:
        for estimate in way(filled):
            filled, text = ways.put(filled, estimate)
            said += [text] if text else []
    return filled.assign_attrs(filling=json.dumps(said))


def _said_before(text: str) -> list[str]:
    """Take over what earlier fillings said; of stations that were filled apart and joined, as one text."""
    try:
        said = json.loads(text)
    except ValueError:
        return [text]
    return [str(one) for one in said] if isinstance(said, list) else [text]


def fit_stations(weather: xr.Dataset, other: Neighbour) -> pd.DataFrame:
    """Show how well another station tells each variable of a station, over the days that both have.

    Parameters
    ----------
    weather : Dataset
        Daily weather as `read_weather` gives it.
    other : Dataset or mapping
        Another station, or for each station the one of this weather: ``{"south": "north"}``.

    Returns
    -------
    DataFrame
        A row for each variable and station: ``variable``, ``station``, ``slope``, ``intercept`` and
        ``standard_error`` in the unit of the variable, ``r2``, ``days`` in common, and ``fills``: whether
        `fill_weather` fills by it, which is where r2 is at least 0.7 and the slope 0.7 to 1.3 (FAO-56
        Annex 4, from memory) over 30 days or more.

    Raises
    ------
    InputError
        When the weather or the other station is at fault.
    """
    with collect() as faults:
        weather_faults(weather, faults)
    with collect() as faults:
        station = _station(weather, other, "other", faults)
    assert station is not None
    rows = [row for name in ways.ESTIMATED for row in ways.fit_rows(weather, station, name)]
    return pd.DataFrame(rows, columns=list(_FIT_TYPES)).astype(_FIT_TYPES)


def _asked(weather: xr.Dataset, options: Mapping[str, Any], faults: Faults) -> list[ways.Way]:
    """Check the options but rain, and turn those that are given into ways, in order."""
    found: list[ways.Way] = []
    longest = options["interpolate"]
    whole = isinstance(longest, int | np.integer) and not isinstance(longest, bool)
    if not whole or not 0 <= longest <= _LONGEST_GAP:
        allowed = f"0 to {_LONGEST_GAP} whole days"
        faults.add("interpolate", "is no length of a gap", value=brief(longest), allowed=allowed)
    elif longest:
        found.append(partial(ways.interpolated, longest=int(longest)))
    if options["sunshine"] is not None:
        coefficients = _angstrom(options["sunshine"], faults)
        _needs(weather, "sunshine", ("sunshine", "latitude"), faults)
        found.append(partial(ways.from_sunshine, coefficients=coefficients))
    for name, by_station in (("regression", ways.by_regression), ("neighbour", ways.from_neighbour)):
        if options[name] is not None:
            station = _station(weather, options[name], name, faults)
            if station is not None:
                if name == "neighbour" and "solar" in station:
                    _needs(weather, name, ("latitude",), faults)
                found.append(partial(by_station, other=station))
    for name, by_number, needed, limits, words in (
        ("range_coefficient", ways.from_range, (*_EXTREMES, *_PLACE), (0.1, 0.3), _COEFFICIENTS),
        ("dewpoint_offset", ways.from_tmin, _EXTREMES, (0.0, 10.0), {}),
        ("wind", ways.stated_wind, (), (0.5, 10.0), _wind_classes()),
    ):
        if options[name] is not None:
            number = _number(options[name], name, limits, words, faults)
            _needs(weather, name, needed, faults)
            found.append(partial(by_number, number=number))
    if not isinstance(options["climatology"], bool):
        value = brief(options["climatology"])
        faults.add("climatology", "is neither True nor False", value=value)
    elif options["climatology"]:
        found.append(ways.by_season)
    return found


def _needs(weather: xr.Dataset, what: str, names: tuple[str, ...], faults: Faults) -> None:
    """Note what a way needs and the weather does not have."""
    absent = [name for name in names if name not in weather.variables]
    if absent:
        faults.add(what, "needs what the weather does not have", value=", ".join(absent), count=len(absent))


def _number(
    given: Any, name: str, limits: tuple[float, float], words: Mapping[str, float], faults: Faults
) -> float:
    """Read a number of a way, or the word for one; NaN where a fault was noted."""
    low, high = limits
    if isinstance(given, str) and given in words:
        return words[given]
    if isinstance(given, bool) or not isinstance(given, int | float | np.number) or not low <= given <= high:
        said = "".join(f", {word!r} ({number:g})" for word, number in words.items())
        faults.add(name, "is outside its range", value=brief(given), allowed=f"{low:g} to {high:g}{said}")
        return float("nan")
    return float(given)


def _angstrom(given: Any, faults: Faults) -> tuple[float, float]:
    """Read as and bs of Eq. 35."""
    pair = tuple(given) if isinstance(given, tuple | list) else ()
    sound = len(pair) == 2 and all(isinstance(one, int | float) and not isinstance(one, bool) for one in pair)
    if not sound or not (0.05 <= pair[0] <= 0.6 and 0.1 <= pair[1] <= 0.8 and sum(pair) <= 1):
        faults.add(
            "sunshine",
            "is no pair of coefficients",
            value=brief(given),
            allowed="as 0.05 to 0.6, bs 0.1 to 0.8, together at most 1",
            mend="(0.25, 0.50) where they are not calibrated (FAO-56 Eq. 35)",
        )
        return (float("nan"), float("nan"))
    return (float(pair[0]), float(pair[1]))


def _wind_classes() -> dict[str, float]:
    """Give the classes of wind of FAO-56 Table 15 without the word wind."""
    rows = read_table("wind_classes")
    return {
        name.removesuffix(" wind"): float(speed)
        for name, speed in zip(rows["name"], rows["wind_m_per_s"], strict=True)
        if name.endswith(" wind")
    }


def _station(weather: xr.Dataset, given: Neighbour, what: str, faults: Faults) -> xr.Dataset | None:
    """Lay another station out on the days and labels of the weather; None where a fault was noted."""
    before = len(list(faults))
    other: xr.Dataset | None = None
    if isinstance(given, Mapping) and not isinstance(given, xr.Dataset):
        other = _by_label(weather, given, what, faults)
    elif isinstance(given, xr.Dataset) and "time" in given.dims:
        other = given
        faults.extend(faults_of(given, what))
        shared = {str(dim) for dim in given.dims} - {"time"}
        alien = shared - {str(dim) for dim in weather.dims}
        if alien:
            mend = "choose one station: .sel(station=...)"
            faults.add(what, f"varies along {', '.join(sorted(alien))}", allowed="one station", mend=mend)
        elif shared:
            labelled({"weather": weather, what: given}, faults)
        if not np.isin(weather["time"].values, given["time"].values).any():
            faults.add(what, "has no day of the weather", value=_span(given), allowed=_span(weather))
    else:
        faults.add(what, "is no station", value=brief(given), allowed="weather of read_weather, or a mapping")
    if other is None or len(list(faults)) > before:
        return None
    return other.reindex(time=weather["time"])


def _span(weather: xr.Dataset) -> str:
    days = weather.indexes["time"]
    return f"{days[0]:%Y-%m-%d} to {days[-1]:%Y-%m-%d}"


def _by_label(
    weather: xr.Dataset, given: Mapping[Hashable, Hashable], what: str, faults: Faults
) -> xr.Dataset | None:
    """Give for each station of the weather the values of the one that serves it; NaN where none does."""
    if "station" not in weather.dims:
        faults.add(what, "is given by station, and the weather has none", allowed="weather of one station")
        return None
    labels = list(weather["station"].values)
    unknown = [label for pair in given.items() for label in pair if label not in labels]
    same = [label for label, served in given.items() if label == served]
    if unknown:
        shown = ", ".join(map(repr, labels[:12]))
        faults.add(
            what, "names what is no station", value=repr(unknown[0]), count=len(unknown), allowed=shown
        )
    if same:
        faults.add(what, "names a station for itself", value=repr(same[0]), count=len(same))
    if unknown or same:
        return None
    # A station that none serves takes its own values, which leave its gaps as they are.
    served = weather.sel(station=[given.get(label, label) for label in labels])
    known = xr.DataArray([label in given for label in labels], dims="station")
    own = {str(name) for name in served.data_vars if str(name).endswith("_flag")}
    blank = {name: data.where(known) for name, data in served.data_vars.items() if name not in own}
    return served.assign(blank).assign_coords(station=weather["station"])


def _stated_rain(weather: xr.Dataset, given: Any, faults: Faults) -> list[ways.Way]:
    """Read what the user says of missing rain."""
    if given is None:
        return []
    if "rain" not in weather:
        faults.add("rain", "is stated, and the weather has no rain", mend="read it: columns={'rain': ...}")
        return []
    if isinstance(given, Mapping | pd.Series) and not isinstance(given, xr.DataArray):
        stated = _rain_by_date(weather, given, faults)
    elif isinstance(given, xr.DataArray):
        stated = given.reset_coords(drop=True)
        alien = {str(dim) for dim in stated.dims} - {str(dim) for dim in weather["rain"].dims}
        if alien:
            varies = f"varies along {', '.join(sorted(alien))}"
            faults.add("rain", varies, allowed="the labels of the weather")
        elif "time" in stated.dims and not (
            isinstance(stated.indexes.get("time"), pd.DatetimeIndex) and stated.indexes["time"].is_unique
        ):
            faults.add("rain", "has no dates, or one that stands more than once", value=brief(stated))
        elif "time" in stated.dims:
            stated = stated.reindex(time=weather["time"])
            labelled({"weather": weather, "rain": stated}, faults)
        stated = _in_mm(stated, faults)
    else:
        stated = xr.DataArray(_depth(given, "", faults))
    in_range(stated, "rain", faults, "rain, as stated")
    return [partial(ways.stated_rain, rain=stated)]


def _in_mm(stated: xr.DataArray, faults: Faults) -> xr.DataArray:
    """Convert another gauge's rain from the unit that it says of itself."""
    unit = str(stated.attrs.get("units", "mm day-1"))
    try:
        return stated.copy(data=convert(np.asarray(stated.values, dtype=np.float64), unit, "mm day-1"))
    except (UnitError, ValueError, TypeError) as error:
        faults.add("rain", f"is in no unit of rain: {error}", value=repr(unit), allowed="mm, in, mm/day")
        return stated


def _depth(given: Any, where: str, faults: Faults) -> float:
    """Read a depth of rain; NaN, with a fault, where it is none."""
    if isinstance(given, str):
        return from_text(given, "mm", "rain", faults)
    number = isinstance(given, int | float | np.number) and not isinstance(given, bool)
    if not number or np.isnan(given):
        allowed = "mm or text with a unit; a mapping of date to these, a Series by date, a DataArray on time"
        faults.add("rain", "is no depth", where=where, value=brief(given), allowed=allowed)
        return float("nan")
    return float(given)


def _rain_by_date(weather: xr.Dataset, given: Mapping[Any, Any] | pd.Series, faults: Faults) -> xr.DataArray:
    """Lay depths that were stated by date out on time."""
    days = weather.indexes["time"]
    values = np.full(len(days), np.nan)
    known: list[tuple[str, object]] = []
    for date, depth in given.items():
        own = Faults()
        day = moment(date, "rain, date", own)
        faults.extend(tuple(own))
        if own:
            continue
        at = int(days.get_indexer(pd.DatetimeIndex([day]))[0])
        if at < 0:
            problem = "is stated for what is no day of the weather"
            faults.add("rain", problem, value=brief(date), allowed=_span(weather))
        elif bool(weather["rain"].isel(time=at).notnull().all()):
            known.append((f"{days[at]:%Y-%m-%d}", depth))
        elif not np.isnan(values[at]):
            faults.add("rain", "is stated twice for a day", where=f"{days[at]:%Y-%m-%d}", value=brief(depth))
        else:
            values[at] = _depth(depth, str(date), faults)
    if known:
        faults.add(
            "rain",
            "is stated for a day that is known",
            where=known[0][0],
            value=brief(known[0][1]),
            count=len(known),
            mend="leave it out; where the gauge is wrong, take its value out first: "
            'weather["rain"] = weather["rain"].where(~weather["time"].isin(days))',
        )
    return xr.DataArray(values, dims="time", coords={"time": days})
