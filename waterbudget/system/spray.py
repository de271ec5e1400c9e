"""Spray loss: what evaporates and drifts away between nozzle and ground, by published regressions.

The regressions are rows of the handbook, each with the range in which it may be used. Beyond it they are
not to be trusted: a loss that grows with wind to the power of 9.2 is soon more water than was pumped.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, NamedTuple, get_args

import pandas as pd
import xarray as xr

from waterbudget.arguments import check_shapes, check_word
from waterbudget.checks import first, quantity
from waterbudget.descriptions import Source
from waterbudget.errors import Faults, collect
from waterbudget.handbook.names import find
from waterbudget.handbook.tables import read
from waterbudget.operands import ranged
from waterbudget.variables import attributes

Beyond = Literal["raise", "hold"]


class _Term(NamedTuple):
    """A variable that a regression may have: its symbol, its unit in print, its hard range here.

    ``size``: how many units in print make one unit here.
    """

    symbol: str
    printed: str
    row: str
    unit: str
    size: float = 1.0


_TERMS = {
    "wind": _Term("U", "m_per_s", "wind_speed", "m s-1"),
    "humidity": _Term("RH", "percent", "rhmean", "%"),
    "temperature": _Term("T", "degC", "tmax", "degC"),
    "vapour_pressure_deficit": _Term("VPD", "kPa", "vapour_pressure", "kPa"),
    "pressure": _Term("P", "kPa", "operating_pressure", "kPa"),
    "nozzle_diameter": _Term("D", "mm", "diameter", "m", 1000.0),
}


def spray_regressions() -> pd.DataFrame:
    """List the regressions that `spray_loss` knows.

    Returns
    -------
    DataFrame
        One row a regression: ``name``; ``system`` and ``period`` of the measurements behind it;
        ``formula`` of the loss in percent, with wind U [m s-1], relative humidity RH [%], air temperature
        T [degC], vapour pressure deficit VPD [kPa], pressure P [kPa] and nozzle diameter D [mm]; ``range``
        in which it may be used, and ``range_source``; ``source``.
    """
    frame = read("spray_loss")
    words = [(_formula(row), _ranges(row)) for _, row in frame.iterrows()]
    listed = frame[["name", "system", "period"]].copy()
    listed["formula"], listed["range"] = zip(*words, strict=True)
    return listed.assign(range_source=frame["range_source"], source=frame["source"])


def spray_loss(
    regression: str,
    wind: Any,
    *,
    humidity: Any = None,
    temperature: Any = None,
    vapour_pressure_deficit: Any = None,
    pressure: Any = None,
    nozzle_diameter: Any = None,
    beyond: Beyond = "raise",
) -> xr.DataArray:
    """Part of the water leaving the nozzles that evaporates or drifts away, by a published regression.

    Parameters
    ----------
    regression : str
        Name in `spray_regressions`, or words of it that fit one row: ``"Playan 2005 E14"``.
    wind : float, array or DataArray
        Wind speed while water is applied [m s-1]; asked for by every regression, because wind above
        4 m s-1 is reported. The regressions were fitted to wind during irrigation. ``weather["wind"]`` is
        the mean of the day at 2 m: by day it mostly blows harder than that, by night less, so the hours of
        irrigation matter. Wind grows with height; at which height the papers took it was not read.
    humidity : float, array or DataArray, optional
        Relative humidity of the air [%].
    temperature : float, array or DataArray, optional
        Air temperature [degC].
    vapour_pressure_deficit : float, array or DataArray, optional
        Saturation less actual vapour pressure of the air [kPa].
    pressure : float, array or DataArray, optional
        Pressure at the nozzle [kPa].
    nozzle_diameter : float, array or DataArray, optional
        Diameter of the nozzle [m]. Of these five, those in the regression's ``formula`` must be given and
        no others.
    beyond : {"raise", "hold"}
        What to do with values outside the regression's range: refuse them, or take the end of the range
        that they are beyond, and say so in ``attrs["doubts"]``.

    Returns
    -------
    DataArray
        Loss [1], on the dimensions of what was given; without dimensions for plain numbers. NaN gives NaN.
        ``attrs["doubts"]``, a text, empty where there are none: values held at the end of the range, wind
        above which sprinkling is better stopped, losses above the greatest that was measured, each
        with how many and the first. Goes into ``System(spray_fraction=...)`` as it is.

    Raises
    ------
    InputError
        When the name fits no regression or several, a variable of it is missing, one is given that it
        does not have, values are impossible, labels differ, or, unless held, a value is outside the
        range.

    Notes
    -----
    Sources stand in `spray_regressions`. The ranges there are from memory of the papers and drawn narrow.
    Measured losses run from 0.7 to 45 % (King et al. 2012) and from 3.2 to 48.8 % (Sarwar, Peters and
    Mohamed 2019): take a regression of a system and a climate like yours, or measure.
    """
    frame = read("spray_loss")
    listing = "table('spray_loss')['name']"
    row = frame.iloc[
        find("spray regression", regression, [(name,) for name in frame["name"]], listing=listing)
    ]
    given = {
        "wind": wind,
        "humidity": humidity,
        "temperature": temperature,
        "vapour_pressure_deficit": vapour_pressure_deficit,
        "pressure": pressure,
        "nozzle_diameter": nozzle_diameter,
    }
    with collect() as faults:
        check_word(beyond, "beyond", faults, get_args(Beyond), "is no choice")
        arrays = _take(row, given, faults)
    blowing = arrays["wind"]
    doubts = []
    with collect() as faults:
        check_shapes(faults, **arrays)
        for name in _variables(row):
            data, (low, high), unit = arrays[name], _range(row, name), _TERMS[name].unit
            bad = (data < low) | (data > high)
            allowed = f"{low:g} to {high:g} {unit}"
            if bad.any() and beyond == "raise":
                where, value, count = first(data, bad.values)
                faults.add(
                    f"{name}, {row['name']}",
                    "is outside the range of the regression",
                    where=where,
                    value=quantity(value, unit),
                    count=count,
                    allowed=allowed,
                    mend="take a regression that was fitted to such values, or beyond='hold'",
                )
            elif bad.any():
                doubts.append(f"{name} outside {allowed}, held at its end: {_told(data, bad, unit)}")
                arrays[name] = data.clip(low, high)
    # On the labels of wind too, where it has no part in the regression.
    loss = _evaluate(row, arrays) + 0.0 * arrays["wind"]
    doubts += _limits(blowing, loss)
    loss.attrs = attributes("spray_fraction") | {"source": row["source"], "doubts": "; ".join(doubts)}
    return loss.rename("spray_fraction")


_DOUBTS = "; doubts: "


def source_of(loss: Any) -> str:
    """Give the regression and the doubts that a loss from `spray_loss` carries; nothing for any other."""
    told = getattr(loss, "attrs", {})
    source, doubts = str(told.get("source", "")), told.get("doubts")
    return f"{source}{_DOUBTS}{doubts}" if source and doubts else source


def doubts_in(source: Source) -> list[str]:
    """Give the doubts in the source of a loss; by label where systems stand side by side."""
    if isinstance(source, Mapping):
        return [f"{label}: {doubt}" for label, one in source["of"].items() for doubt in doubts_in(one)]
    doubts = source.partition(_DOUBTS)[2]
    return [doubts] if doubts else []


def _variables(row: pd.Series[Any]) -> list[str]:
    """Name the variables of a regression."""
    return [name for name in _TERMS if pd.notna(row[f"{name}_coefficient"])]


def _range(row: pd.Series[Any], name: str) -> tuple[float, float]:
    """Give the range of a variable, in the unit that it has here."""
    term = _TERMS[name]
    low, high = (float(row[f"{name}_{term.printed}_{end}"]) / term.size for end in ("low", "high"))
    return low, high


def _evaluate(row: pd.Series[Any], arrays: Mapping[str, xr.DataArray]) -> xr.DataArray:
    """Evaluate a regression [1]."""
    total = xr.DataArray(float(row["constant"]))
    for name in _variables(row):
        printed = arrays[name] * _TERMS[name].size
        total = total + row[f"{name}_coefficient"] * printed ** row[f"{name}_power"]
    loss: xr.DataArray = total ** row["whole_power"] / 100.0
    return loss


def _take(row: pd.Series[Any], given: Mapping[str, Any], faults: Faults) -> dict[str, xr.DataArray]:
    """Take the variables; note those that are missing, not in the regression, or impossible."""
    needed = _variables(row)
    taken = {}
    for name, value in given.items():
        if value is None and (name in needed or name == "wind"):
            faults.add(name, "is missing", allowed=f"the variables of: {_formula(row)}")
        elif value is not None and name not in needed and name != "wind":
            mend = "leave it out, or take a regression that has it"
            faults.add(name, "is not in this regression", allowed=_formula(row), mend=mend)
        elif value is not None:
            taken[name] = xr.DataArray(ranged(value, _TERMS[name].row, faults, name))
    return taken


def _limits(wind: xr.DataArray, loss: xr.DataArray) -> list[str]:
    """Say where wind or loss is beyond what is advised or was ever measured."""
    limits = read("spray_limits").set_index("name")
    stop, greatest = limits.loc["wind to stop at"], limits.loc["greatest measured loss"]
    doubts = []
    windy, high = wind > stop["value"], loss > greatest["value"] / 100.0
    if windy.any():
        limit = f"wind above {stop['value']:g} m s-1, where sprinkling is better stopped ({stop['source']})"
        doubts.append(f"{limit}: {_told(wind, windy, 'm s-1')}")
    if high.any():
        limit = f"loss above the greatest measured, {greatest['value']:g} % ({greatest['source']})"
        doubts.append(f"{limit}: {_told(loss * 100.0, high, '%')}")
    return doubts


def _told(data: xr.DataArray, marked: xr.DataArray, unit: str) -> str:
    """Say how many values are marked, and which is the first."""
    where, value, count = first(data, marked.values)
    place = f"at {where}: " if where else ""
    return f"{count} value{'s' if count > 1 else ''}, first {place}{quantity(value, unit)}"


def _formula(row: pd.Series[Any]) -> str:
    """Write a regression for people, in percent."""
    parts = [f"{row['constant']:g}"] if row["constant"] else []
    for name in _variables(row):
        power = row[f"{name}_power"]
        raised = "" if power == 1 else f"^{power:g}"
        parts.append(f"{row[f'{name}_coefficient']:g} {_TERMS[name].symbol}{raised}")
    total = " + ".join(parts).replace("+ -", "- ")
    return total if row["whole_power"] == 1 else f"({total})^{row['whole_power']:g}"


def _ranges(row: pd.Series[Any]) -> str:
    """Write the ranges of a regression for people, in the units of its formula."""
    words = []
    for name in _variables(row):
        term = _TERMS[name]
        low, high = (row[f"{name}_{term.printed}_{end}"] for end in ("low", "high"))
        words.append(f"{term.symbol} {low:g} to {high:g}")
    return ", ".join(words)
