"""Which method reads which columns of a weather Dataset, and whether the columns will do."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from waterbudget.checks import first, in_range
from waterbudget.errors import Faults
from waterbudget.variables import attributes
from waterbudget.weather.flags import flag_name
from waterbudget.weather.methods import (
    BEST_FIRST,
    HUMIDITY,
    HUMIDITY_EQUATIONS,
    METHODS,
    RADIATION,
    SURFACES,
    Method,
    Surface,
    Way,
)

GROUPS: dict[str, tuple[str, ...]] = {
    "temperature": ("tmin", "tmax"),
    "humidity": tuple(dict.fromkeys(name for way in HUMIDITY for name in way)),
    "radiation": tuple(name for way in RADIATION for name in way),
    "wind": ("wind",),
    "et_ref": ("et_ref",),
}
"""The columns behind each thing that a method reads."""

LEAST_WIND = 0.5
"""Wind speed [m s-1] below which FAO-56 suggests not to go (chapter 3, from memory)."""


class Plan(NamedTuple):
    """What is to be done with the columns that the weather has.

    One method serves all values, unless ``per_value``: then the first of ``methods`` that has what it
    needs serves each value. The ways to humidity, radiation and pressure are tried in order alike.
    """

    methods: tuple[str, ...]
    surface: Surface
    per_value: bool
    because: str
    humidity: tuple[Way, ...] = ()
    radiation: tuple[Way, ...] = ()
    pressure: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def reads(self) -> tuple[str, ...]:
        """Every thing that one of the methods reads."""
        return tuple(dict.fromkeys(thing for name in self.methods for thing in METHODS[name].reads))

    @property
    def columns(self) -> tuple[str, ...]:
        """The columns read on each day."""
        wanted = ["et_ref"] if "et_ref" in self.reads else []
        if "temperature" in self.reads:
            wanted += ["tmin", "tmax"]
        wanted += [name for name in self.pressure if name == "pressure"]
        wanted += [name for way in (*self.humidity, *self.radiation) for name in way]
        wanted += ["wind"] if "wind" in self.reads else []
        return tuple(dict.fromkeys(wanted))

    @property
    def site(self) -> tuple[str, ...]:
        """What must be known of the place."""
        latitude = ("latitude",) if "temperature" in self.reads else ()
        return (*latitude, "elevation") if "radiation" in self.reads else latitude


def make_plan(weather: xr.Dataset, method: Method, surface: Surface) -> Plan:
    """Choose the methods and the columns they read.

    Parameters
    ----------
    weather : Dataset
    method, surface : str
        As in `reference_et`.

    Returns
    -------
    Plan
        Where columns are missing it is still made; `check_columns` tells.
    """
    if method == "best per day":
        best = _best(weather, surface)
        # Where no method can serve, the simplest one says what it lacks.
        return best if best.methods else _one(weather, BEST_FIRST[surface][-1], surface, "")
    if method != "auto":
        return _one(weather, method, surface, "as asked for")
    if "et_ref" in weather:
        return _one(weather, "given", surface, "")
    ways = {thing: _present(weather, thing) for thing in ("radiation", "humidity", "wind")}
    missing = [thing for thing in ("humidity", "radiation", "wind") if not ways[thing]]
    if not missing:
        sun, damp = ways["radiation"][0][0], " and ".join(ways["humidity"][0])
        found = f"radiation ({sun}), humidity ({damp}) and wind"
        return _one(weather, "fao56" if surface == "short" else "asce", surface, f"because {found} are given")
    if surface == "tall":
        # Hargreaves knows no tall surface: let the check list what the only method left lacks.
        return _one(weather, "asce", surface, "the only method for the tall surface")
    return _one(weather, "hargreaves", surface, f"because the weather has no {' and no '.join(missing)}")


def _present(weather: xr.Dataset, thing: str) -> tuple[Way, ...]:
    """Give the ways to a thing whose columns the weather has, the best first."""
    ways = {"humidity": HUMIDITY, "radiation": RADIATION}.get(thing, (GROUPS[thing],))
    return tuple(way for way in ways if all(name in weather for name in way))


def _one(weather: xr.Dataset, method: str, surface: Surface, because: str) -> Plan:
    """Plan one method for all values, by the best columns there are."""
    reads = METHODS[method].reads
    pressure = "pressure" if "pressure" in weather else "elevation"
    return Plan(
        (method,),
        surface,
        per_value=False,
        because=because,
        humidity=_present(weather, "humidity")[:1] if "humidity" in reads else (),
        radiation=_present(weather, "radiation")[:1] if "radiation" in reads else (),
        pressure=(pressure,) if "radiation" in reads else (),
    )


def _best(weather: xr.Dataset, surface: Surface) -> Plan:
    """Plan every method whose columns are there, and every way to what they need."""
    stated = weather["et_ref"].attrs.get("surface") if "et_ref" in weather else None
    other = stated in SURFACES and stated != surface
    methods = tuple(
        name
        for name in BEST_FIRST[surface]
        if all(_present(weather, thing) for thing in METHODS[name].reads) and not (name == "given" and other)
    )
    energy = any("radiation" in METHODS[name].reads for name in methods)
    return Plan(
        methods,
        surface,
        per_value=True,
        because="",
        humidity=_present(weather, "humidity") if energy else (),
        radiation=_present(weather, "radiation") if energy else (),
        pressure=(*(["pressure"] if "pressure" in weather else []), "elevation") if energy else (),
        notes=(f"et_ref is given for the {stated} surface, and not used",) if other else (),
    )


def flagged_groups(weather: xr.Dataset, plan: Plan) -> tuple[str, ...]:
    """Name the things read whose values may come from elsewhere than measurement."""
    read = set(plan.columns)
    return tuple(
        thing
        for thing in plan.reads
        if any(flag_name(name) in weather for name in GROUPS[thing] if name in read)
        or (thing == "radiation" and "sunshine" in read)
    )


# ------------------------------------------------------------------ checks


def check_columns(weather: xr.Dataset, plan: Plan, faults: Faults) -> tuple[str, ...]:
    """Note every column that is missing, and every one that is not in the form it must have.

    Parameters
    ----------
    weather : Dataset
    plan : Plan
    faults : Faults
        Every fault found is noted here. No value is looked at.

    Returns
    -------
    tuple of str
        The columns, latitude and elevation that are in order.
    """
    if "given" in plan.methods:
        _check_surface_of_et(weather["et_ref"], plan.surface, faults)
    worked_out = [name for name in plan.methods if name != "given"]
    if worked_out:
        _check_missing(weather, worked_out[0], plan, faults)
    sound = []
    for name in (*plan.columns, *plan.site):
        if name not in weather:
            continue
        unit = attributes(name)["units"]
        found = weather[name].attrs.get("units", unit)
        if not np.issubdtype(weather[name].dtype, np.number):
            value = str(weather[name].dtype)
            faults.add(name, "holds no numbers", value=value, mend="read it with read_weather")
        elif found != unit:
            faults.add(name, "has another unit", value=found, allowed=unit, mend="read it with read_weather")
        else:
            sound.append(name)
    return tuple(sound)


def _check_missing(weather: xr.Dataset, method: str, plan: Plan, faults: Faults) -> None:
    """Note what the weather lacks for a method."""
    _, _, title, surfaces, reads = METHODS[method]
    if plan.surface not in surfaces:
        faults.add(
            "surface",
            f"{title} is defined for the short surface only",
            value=repr(plan.surface),
            mend="method='asce' knows both surfaces, or ask for surface='short'",
        )
    for thing, ways in (("humidity", HUMIDITY), ("radiation", RADIATION), ("wind", (("wind",),))):
        if thing in reads and not _present(weather, thing):
            columns = "; ".join(" with ".join(names) for names in ways)
            other = ", or method='hargreaves' does without" if plan.surface == "short" else ""
            faults.add("weather", f"has no {thing} for {title}", mend=f"give one of: {columns}{other}")
    for name in ("tmin", "tmax", *plan.site):
        if name not in weather:
            unit = attributes(name)["units"]
            faults.add("weather", f"has no {name} for {title}", mend=f"give {name}, in {unit}")


def _check_surface_of_et(et: xr.DataArray, surface: Surface, faults: Faults) -> None:
    """Note a reference evapotranspiration that came with the weather for another surface, or for none."""
    stated = et.attrs.get("surface")
    if stated not in SURFACES:
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


def check_values(weather: xr.Dataset, names: tuple[str, ...], faults: Faults) -> None:
    """Note every value that cannot be.

    Parameters
    ----------
    weather : Dataset
    names : tuple of str
        Columns that `check_columns` found to be in order.
    faults : Faults
        Every fault found is noted here.
    """
    for name in names:
        in_range(weather[name], name, faults)
    if "tmin" in names and "tmax" in names:
        crossed = weather["tmin"] > weather["tmax"]
        if bool(crossed.any()):
            where, value, count = first(weather["tmin"] - weather["tmax"], crossed.values)
            faults.add("tmin", "is above tmax", where=where, value=f"{value:.6g} degC more", count=count)


# ------------------------------------------------------------------ in words


def substitutions(plan: Plan) -> list[str]:
    """Say what is substituted by which equation."""
    notes = []
    if plan.humidity:
        named = [
            " and ".join(way)
            + (f" (FAO-56 Eq. {HUMIDITY_EQUATIONS[way]})" if way in HUMIDITY_EQUATIONS else "")
            for way in plan.humidity
        ]
        if plan.humidity != (("vapour_pressure",),):
            notes.append(f"vapour pressure from {', else '.join(named)}")
    gaps = {True: " where the day has no other", False: ""}
    if "elevation" in plan.pressure:
        notes.append(f"atmospheric pressure from elevation (FAO-56 Eq. 7){gaps['pressure' in plan.pressure]}")
    if ("sunshine",) in plan.radiation:
        several = len(plan.radiation) > 1
        notes.append(f"solar radiation from sunshine (FAO-56 Eq. 35, as 0.25, bs 0.50){gaps[several]}")
    return notes
