"""Reference evapotranspiration of a weather Dataset.

Penman-Monteith in both its standards is evaluated by pyet; humidity and radiation are prepared here,
so that what pyet would assume silently (dew point at tmin, wind already at 2 m, latitude in radians)
is either given or refused. Hargreaves is Eq. 52 of FAO-56 itself: pyet divides by a latent heat
that changes with temperature where the paper has the fixed 2.45 MJ kg-1, which over a year in Seattle
makes 0.6 %.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
import xarray as xr

from waterbudget.checks import first, in_range, time_axis
from waterbudget.errors import Faults, collect
from waterbudget.variables import attributes
from waterbudget.weather import atmosphere, radiation
from waterbudget.weather.atmosphere import Numbers

Method = Literal["auto", "fao56", "asce", "hargreaves"]
Surface = Literal["short", "tall"]

_METHODS = ("auto", "fao56", "asce", "hargreaves")
_SURFACES = ("short", "tall")
_TITLES = {
    "fao56": "FAO-56 Penman-Monteith (Eq. 6)",
    "asce": "ASCE-EWRI 2005 standardized Penman-Monteith",
    "hargreaves": "Hargreaves (FAO-56 Eq. 52)",
}

_HUMIDITY: tuple[tuple[str, ...], ...] = (
    ("vapour_pressure",),
    ("dewpoint",),
    ("rhmin", "rhmax"),
    ("rhmax",),
    ("rhmean",),
)
_SOLAR: tuple[tuple[str, ...], ...] = (("solar",), ("sunshine",))
_WIND: tuple[tuple[str, ...], ...] = (("wind",),)


class _Choice(NamedTuple):
    """The columns that stand for a need of Penman-Monteith; empty where none do."""

    humidity: tuple[str, ...]
    radiation: tuple[str, ...]
    wind: tuple[str, ...]

    def missing(self) -> list[str]:
        return [name for name, columns in self._asdict().items() if not columns]

    def columns(self) -> list[str]:
        return [*self.humidity, *self.radiation, *self.wind]


def hargreaves(tmin: Numbers, tmax: Numbers, extraterrestrial: Numbers) -> Numbers:
    """Estimate reference evapotranspiration [mm day-1] from temperature, FAO-56 Eq. 52.

    Parameters
    ----------
    tmin, tmax : float, array or DataArray
        Minimum and maximum air temperature of the day [degC].
    extraterrestrial : float, array or DataArray
        Ra [MJ m-2 day-1].

    Returns
    -------
    float, array or DataArray
        Reference evapotranspiration of the short surface [mm day-1]; below 0 under -17.8 degC.
    """
    depth = radiation.PER_LATENT_HEAT * extraterrestrial
    return 0.0023 * ((tmin + tmax) / 2 + 17.8) * np.sqrt(tmax - tmin) * depth


def reference_et(weather: xr.Dataset, method: Method = "auto", surface: Surface = "short") -> xr.DataArray:
    """Give the reference evapotranspiration of each day.

    Parameters
    ----------
    weather : Dataset
        Daily weather on ``time`` and any labels, named and in the units of `waterbudget.variables`;
        `latitude` [degrees north] and `elevation` [m] as coordinates or variables.
    method : {"auto", "fao56", "asce", "hargreaves"}
        ``"fao56"``: Penman-Monteith of FAO-56 (Eq. 6), short surface only. ``"asce"``: the standardized
        equation of ASCE-EWRI 2005. ``"hargreaves"``: FAO-56 Eq. 52 from temperature, short only.
        ``"auto"``: `et_ref` as it stands where the weather holds it; otherwise Penman-Monteith
        (``"fao56"`` for short, ``"asce"`` for tall) where there are columns for radiation, humidity
        and wind; otherwise Hargreaves. Columns decide, for the whole Dataset: a day without a value
        is NaN, and is not made up by another method.
    surface : {"short", "tall"}
        Clipped grass, or full-cover alfalfa.

    Returns
    -------
    DataArray
        Reference evapotranspiration [mm day-1] on ``time`` and the labels of the weather, named
        ``et_ref``. Its attributes hold `surface`, `method` and `why`: which columns decided, and what
        was substituted by which equation. A day that comes out below 0 is 0, which `why` counts. NaN
        in any column used is NaN on that day alone.

    Raises
    ------
    InputError
        When a column is missing for the method, when a value is outside its range, when method and
        surface do not go together, or when a given `et_ref` is for another surface.

    Notes
    -----
    Humidity is taken from the first that is there of: vapour pressure; dew point (Eq. 14); minimum and
    maximum relative humidity (Eq. 17); its maximum (Eq. 18); its mean (Eq. 19). Solar radiation comes
    from sunshine (Eq. 35) where it was not measured. Soil heat flux of a day is 0 (Eq. 42).
    """
    with collect() as faults:
        if method not in _METHODS:
            faults.add("method", "is not known", value=repr(method), allowed=", ".join(_METHODS))
        if surface not in _SURFACES:
            faults.add("surface", "is not known", value=repr(surface), allowed=", ".join(_SURFACES))
        if "time" not in weather.dims:
            faults.add("weather", "has no dimension time", mend="read it with read_weather")
        else:
            time_axis(weather["time"], faults)
    if method == "auto" and "et_ref" in weather:
        return _given(weather["et_ref"], surface)

    choice = _choice(weather)
    chosen, because = _choose(method, surface, choice)
    with collect() as faults:
        _check(weather, chosen, surface, choice, faults)

    if chosen == "hargreaves":
        et = hargreaves(weather["tmin"], weather["tmax"], _extraterrestrial(weather))
        notes: list[str] = []
    else:
        et, notes = _penman_monteith(weather, chosen, surface, choice)
    negative = int((et < 0).sum())
    if negative:
        notes.append(f"{negative} negative value{'s' if negative > 1 else ''} set to 0")
    why = "; ".join([f"{_TITLES[chosen]}, {because}", *notes])
    return _finish(np.maximum(et, 0.0), surface, chosen, why)


def inputs_of(weather: xr.Dataset, surface: Surface = "short") -> tuple[str, ...]:
    """Name the columns of the weather that its reference evapotranspiration is worked out from.

    Parameters
    ----------
    weather : Dataset
        Weather that `reference_et` takes with this surface.
    surface : {"short", "tall"}

    Returns
    -------
    tuple of str
        Those which ``reference_et(weather, surface=surface)`` reads on each day: NaN in one of them is
        NaN on that day.
    """
    if "et_ref" in weather:
        return ("et_ref",)
    choice = _choice(weather)
    chosen, _ = _choose("auto", surface, choice)
    return ("tmin", "tmax", *_optional(weather, chosen, choice))


def _choice(weather: xr.Dataset) -> _Choice:
    return _Choice(*(_first_present(weather, ways) for ways in (_HUMIDITY, _SOLAR, _WIND)))


def _optional(weather: xr.Dataset, method: str, choice: _Choice) -> list[str]:
    """Name the columns that the method reads where the weather has them."""
    pressure = ["pressure"] if "pressure" in weather else []
    return [] if method == "hargreaves" else [*pressure, *choice.columns()]


def _first_present(weather: xr.Dataset, ways: tuple[tuple[str, ...], ...]) -> tuple[str, ...]:
    return next((columns for columns in ways if all(name in weather for name in columns)), ())


def _choose(method: Method, surface: Surface, choice: _Choice) -> tuple[str, str]:
    """Give the method to use and the reason."""
    if method != "auto":
        return method, "as asked for"
    missing = choice.missing()
    if not missing:
        found = f"radiation ({choice.radiation[0]}), humidity ({' and '.join(choice.humidity)}) and wind"
        return ("fao56" if surface == "short" else "asce"), f"because {found} are given"
    if surface == "tall":
        # Hargreaves knows no tall surface: let the check list what the only method left lacks.
        return "asce", "the only method for the tall surface"
    return "hargreaves", f"because the weather has no {' and no '.join(missing)}"


def _check(weather: xr.Dataset, method: str, surface: Surface, choice: _Choice, faults: Faults) -> None:
    """Note every column that the method lacks, and every value that it cannot take."""
    title = _TITLES[method]
    if surface == "tall" and method != "asce":
        faults.add(
            "surface",
            f"{title} is defined for the short surface only",
            value=repr(surface),
            mend="method='asce' knows both surfaces, or ask for surface='short'",
        )
    needed = ["tmin", "tmax", "latitude"]
    if method != "hargreaves":
        needed.append("elevation")
        for need, ways in (("humidity", _HUMIDITY), ("radiation", _SOLAR), ("wind", _WIND)):
            if need in choice.missing():
                columns = "; ".join(" with ".join(names) for names in ways)
                other = ", or method='hargreaves' does without" if surface == "short" else ""
                faults.add("weather", f"has no {need} for {title}", mend=f"give one of: {columns}{other}")
    absent = [name for name in needed if name not in weather]
    for name in absent:
        faults.add("weather", f"has no {name} for {title}", mend=f"give {name}, in {_unit(name)}")
    for name in needed + _optional(weather, method, choice):
        if name in weather:
            _check_column(weather[name], name, faults)
    if not absent:
        crossed = weather["tmin"] > weather["tmax"]
        if bool(crossed.any()):
            where, value, count = first(weather["tmin"] - weather["tmax"], crossed.values)
            faults.add("tmin", "is above tmax", where=where, value=f"{value:.6g} degC more", count=count)


def _check_column(column: xr.DataArray, name: str, faults: Faults) -> None:
    unit = _unit(name)
    found = column.attrs.get("units", unit)
    if not np.issubdtype(column.dtype, np.number):
        faults.add(name, "holds no numbers", value=str(column.dtype), mend="read it with read_weather")
    elif found != unit:
        faults.add(name, "has another unit", value=found, allowed=unit, mend="read it with read_weather")
    else:
        in_range(column, name, faults)


def _unit(name: str) -> str:
    return attributes(name)["units"]


def _extraterrestrial(weather: xr.Dataset) -> xr.DataArray:
    ra: xr.DataArray = radiation.extraterrestrial_radiation(weather["latitude"], weather["time"].dt.dayofyear)
    return ra


def _penman_monteith(
    weather: xr.Dataset, method: str, surface: Surface, choice: _Choice
) -> tuple[xr.DataArray, list[str]]:
    """Evaluate Eq. 6 of FAO-56 or its ASCE form with pyet; say what was substituted."""
    import pyet

    tmin, tmax, elevation = weather["tmin"], weather["tmax"], weather["elevation"]
    vapour, notes = _vapour_pressure(weather, choice.humidity)
    if "pressure" in weather:
        pressure: xr.DataArray = weather["pressure"]
    else:
        pressure = atmosphere.pressure_from_elevation(elevation)
        notes.append("atmospheric pressure from elevation (FAO-56 Eq. 7)")
    ra = _extraterrestrial(weather)
    if choice.radiation == ("solar",):
        solar: xr.DataArray = weather["solar"]
    else:
        daylight = radiation.daylight_hours(weather["latitude"], weather["time"].dt.dayofyear)
        solar = radiation.solar_from_sunshine(weather["sunshine"], daylight, ra)
        notes.append("solar radiation from sunshine (FAO-56 Eq. 35, as 0.25, bs 0.50)")
    clear_sky = radiation.clear_sky_radiation(ra, elevation)
    net = radiation.net_shortwave(solar) - radiation.net_longwave(tmin, tmax, vapour, solar, clear_sky)

    wind = weather["wind"]
    if not bool(net.notnull().any()):
        # pyet takes net radiation without a single value for one in W m-2, and raises.
        return net * wind * pressure, notes
    # pyet is given net radiation and vapour pressure, so that what remains is broadcast by name; its
    # own net radiation joins arrays by position.
    given = {"rn": net, "tmin": tmin, "tmax": tmax, "ea": vapour, "pressure": pressure, "clip_zero": False}
    if method == "fao56":
        et = pyet.pm_fao56((tmin + tmax) / 2, wind, **given)
    else:
        et = pyet.pm_asce((tmin + tmax) / 2, wind, etype="os" if surface == "short" else "rs", **given)
    return et, notes


def _vapour_pressure(weather: xr.Dataset, columns: tuple[str, ...]) -> tuple[xr.DataArray, list[str]]:
    """Turn the best humidity that the weather has into vapour pressure [kPa]."""
    values = {name: weather[name] for name in columns}
    tmin, tmax = weather["tmin"], weather["tmax"]
    if columns == ("vapour_pressure",):
        return values["vapour_pressure"], []
    vapour: xr.DataArray
    if columns == ("dewpoint",):
        vapour, equation = atmosphere.vapour_pressure_from_dewpoint(values["dewpoint"]), 14
    elif columns == ("rhmin", "rhmax"):
        vapour, equation = atmosphere.vapour_pressure_from_rhmin_rhmax(tmin, tmax, **values), 17
    elif columns == ("rhmax",):
        vapour, equation = atmosphere.vapour_pressure_from_rhmax(tmin, **values), 18
    else:
        vapour, equation = atmosphere.vapour_pressure_from_rhmean(tmin, tmax, **values), 19
    return vapour, [f"vapour pressure from {' and '.join(columns)} (FAO-56 Eq. {equation})"]


def _given(et: xr.DataArray, surface: Surface) -> xr.DataArray:
    """Take a reference evapotranspiration that came with the weather as it stands."""
    with collect() as faults:
        stated = et.attrs.get("surface")
        if stated not in _SURFACES:
            faults.add(
                "et_ref",
                "does not say its surface",
                value=repr(stated),
                allowed="short (grass) or tall (alfalfa)",
                mend="read_weather(..., et_ref_surface='short' or 'tall')",
            )
        elif stated != surface:
            faults.add(
                "et_ref",
                f"is given for the {stated} surface, and the {surface} one is asked for",
                mend=f"convert the crop's basis to {stated}, or give et_ref of the {surface} surface",
            )
        _check_column(et, "et_ref", faults)
    why = f"et_ref is given with the weather for the {surface} surface, and used as it stands"
    return _finish(et.copy(), surface, "given", why)


def _finish(et: xr.DataArray, surface: Surface, method: str, why: str) -> xr.DataArray:
    """Put time first, and say what the numbers are."""
    result = et.transpose("time", ...).astype(np.float64).rename("et_ref")
    result.attrs = {**attributes("et_ref"), "surface": surface, "method": method, "why": why}
    return result
