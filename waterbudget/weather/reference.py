"""Reference evapotranspiration of a weather Dataset.

`methods` has the equations, `choice` says which columns serve which method, `evaluation` works on the
values; here they are put together, and the result is told what it is.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from waterbudget.checks import labelled, time_axis
from waterbudget.errors import Faults, brief, collect
from waterbudget.variables import VARIABLES, attributes
from waterbudget.weather.choice import (
    GROUPS,
    LEAST_WIND,
    Plan,
    check_columns,
    check_values,
    flagged_groups,
    make_plan,
    substitutions,
)
from waterbudget.weather.evaluation import Task, count_low, evaluate_later, evaluate_now, is_lazy
from waterbudget.weather.flags import GIVEN, code_of, flag_attributes, flag_faults, flag_name, flags_of
from waterbudget.weather.methods import (
    ASKED,
    METHODS,
    NONE,
    SURFACES,
    Method,
    Surface,
    method_attributes,
)

CODES = "et_ref_method"
"""Name of the coordinate that says by which method a value was worked out."""

LINE = ("slope", "intercept")
"""What of a calibration is read."""

_LATER = "counted only when computed"


class Reference(NamedTuple):
    """Reference evapotranspiration, and what stands behind each value.

    Attributes
    ----------
    et : DataArray
        As `reference_et` gives it [mm day-1].
    method : DataArray of int8
        Code of the method, as in the coordinate ``et_ref_method``.
    flags : dict of str to DataArray of int8
        For ``"temperature"``, ``"humidity"``, ``"radiation"``, ``"wind"`` and ``"et_ref"``: where the input
        that the value was worked out from comes from, by the codes of `waterbudget.weather.flags`; 0 where
        the method does not read it. A group is left out where every flag is 0.
    """

    et: xr.DataArray
    method: xr.DataArray
    flags: dict[str, xr.DataArray]


def reference_et(
    weather: xr.Dataset,
    method: Method = "auto",
    surface: Surface = "short",
    *,
    calibration: xr.Dataset | None = None,
    least_wind: float | None = None,
) -> xr.DataArray:
    """Give the reference evapotranspiration of each day.

    Parameters
    ----------
    weather : Dataset
        Daily weather on ``time`` and any labels, named and in the units of `waterbudget.variables`;
        `latitude` [degrees north] and `elevation` [m] as coordinates or variables. Held by numpy, or by
        dask: then nothing is worked out until the result is computed.
    method : {"auto", "best per day", "fao56", "asce", "hargreaves", "priestley-taylor"}
        ``"fao56"``: Penman-Monteith of FAO-56 (Eq. 6), short surface only. ``"asce"``: the standardized
        equation of ASCE-EWRI 2005. ``"hargreaves"``: FAO-56 Eq. 52 from temperature, short only.
        ``"priestley-taylor"``: Priestley and Taylor (1972) from radiation, without wind, short only.
        ``"auto"``: `et_ref` as it stands where the weather holds it; otherwise Penman-Monteith
        (``"fao56"`` for short, ``"asce"`` for tall) where there are columns for radiation, humidity
        and wind; otherwise Hargreaves. Columns decide, for the whole Dataset: a day without a value
        is NaN, and is not made up by another method.
        ``"best per day"``: on each day and label the first that the values there allow of: `et_ref`, where
        it is given for this surface; Penman-Monteith; Priestley-Taylor; Hargreaves (the last two for the
        short surface only); otherwise NaN.
    surface : {"short", "tall"}
        Clipped grass, or full-cover alfalfa.
    calibration : Dataset, optional
        Of `calibrate_hargreaves`, on the labels of the weather: values by Hargreaves become
        ``intercept + slope * value``. Others stay as they are.
    least_wind : float, optional
        Wind speed [m s-1], 0 to 75: slower wind is raised to it. FAO-56 suggests 0.5. Without it wind is
        used as it stands.

    Returns
    -------
    DataArray
        Reference evapotranspiration [mm day-1] on ``time`` and the labels of the weather, named
        ``et_ref``. Its attributes hold `surface`, `method` and `why`: which columns decided, what
        was substituted by which equation, how many values by which method. A day that comes out below 0 is
        0, which `why` counts. NaN in any column used is NaN on that day alone. Its coordinate
        ``et_ref_method`` (int8; ``flag_values`` and ``flag_meanings`` say what the codes are, -1 no value)
        is one code where one method serves all, and otherwise on the dimensions along which it varies; for
        weather held by dask ``"best per day"`` has it on all dimensions, and `why` counts nothing.

    Raises
    ------
    InputError
        When a column is missing for the method, when a value is outside its range (of weather held by dask:
        when it is computed), when method and surface do not go together, when a given `et_ref` is for
        another surface, or when the labels of the calibration are not those of the weather.

    Notes
    -----
    Humidity is taken from the first that is there of: vapour pressure; dew point (Eq. 14); minimum and
    maximum relative humidity (Eq. 17); its maximum (Eq. 18); its mean (Eq. 19). Solar radiation comes
    from sunshine (Eq. 35) where it was not measured. Soil heat flux of a day is 0 (Eq. 42). Columns decide,
    or, in ``"best per day"``, the values of each day; there pressure comes from elevation (Eq. 7) on a day
    without it.

    The equations stand for a station over grass that is watered. Over dry ground the air is warmer and drier
    than it would be there, and the result is too high (FAO-56 Annex 6, from memory). It is not corrected
    here; `check_weather` lists what is doubtful in the weather.
    """
    return evaluate(weather, method, surface, calibration=calibration, least_wind=least_wind).et


def evaluate(
    weather: xr.Dataset,
    method: Method = "auto",
    surface: Surface = "short",
    *,
    calibration: xr.Dataset | None = None,
    least_wind: float | None = None,
) -> Reference:
    """Give reference evapotranspiration with the method and the origins of each value.

    Parameters
    ----------
    weather, method, surface, calibration, least_wind
        As in `reference_et`.

    Returns
    -------
    Reference
        Its ``flags`` come from the flag variables of the columns read on each value (of two columns read
        together the first that is not 0); solar radiation from sunshine by Eq. 35 is ``from_sunshine``,
        unless the sunshine itself has a flag. For weather held by dask every group is there that may have
        flags.

    Raises
    ------
    InputError
        As in `reference_et`.
    """
    _check_arguments(weather, method, surface, least_wind)
    plan = make_plan(weather, method, surface)
    columns = _columns(weather, plan)
    lazy = is_lazy(columns)
    with collect() as faults:
        sound = check_columns(weather, plan, faults)
        flag_faults(weather, faults)
        if calibration is not None:
            _check_calibration(calibration, weather, faults)
        if not lazy:
            check_values(weather, sound, faults)
    if calibration is not None and "hargreaves" in plan.methods:
        columns = columns.assign({name: calibration[name].reset_coords(drop=True) for name in LINE})
    task = Task(plan, least_wind, flagged_groups(weather, plan))
    # An et_ref that was worked out before, from the same weather, still knows by which method.
    worked_out = plan.methods == ("given",) and not plan.per_value and CODES in weather.variables
    found = evaluate_later(columns, task) if lazy else evaluate_now(columns, task)

    coords = {
        name: coord
        for name, coord in weather.coords.items()
        if set(coord.dims) <= set(found["et_ref"].dims) and name != CODES
    }
    found = found.assign_coords(coords)
    codes = _codes(found, plan, lazy)
    if worked_out:
        codes = weather[CODES].drop_vars(CODES, errors="ignore").reset_coords(drop=True)
    et = found["et_ref"].assign_coords({CODES: codes.variable})
    et.attrs = {
        **attributes("et_ref"),
        "surface": surface,
        "method": "best per day" if plan.per_value else plan.methods[0],
        "why": _why(columns, found, codes, task, lazy),
    }
    flags = {
        group: found[flag_name(group)].assign_attrs(flag_attributes(group))
        for group in task.groups
        if lazy or bool(found[flag_name(group)].any())
    }
    if worked_out:
        flags |= flags_behind(weather, codes)
    return Reference(et, codes, flags)


def flags_behind(weather: xr.Dataset, codes: xr.DataArray) -> dict[str, xr.DataArray]:
    """Give the flags of what the method of each value reads, of the columns that the weather has.

    Parameters
    ----------
    weather : Dataset
    codes : DataArray of int8
        Code of the method that gave each value.

    Returns
    -------
    dict of str to DataArray of int8
        As in `Reference`.
    """
    found = {}
    for group, columns in GROUPS.items():
        reading = [method.code for method in METHODS.values() if group in method.reads]
        flags: xr.DataArray | None = None
        for name in reversed([name for name in columns if name in weather]):
            own = flags_of(weather, name).reset_coords(drop=True)
            if name == "sunshine":
                own = own.where(own != GIVEN, code_of("from_sunshine"))
            # The columns of temperature are read together, of the others the first that has a value.
            read = own != GIVEN if group == "temperature" else weather[name].notnull().reset_coords(drop=True)
            flags = own if flags is None else own.where(read, flags)
        if flags is not None:
            flags = flags.where(codes.isin(reading), GIVEN).astype(np.int8)
            if bool(flags.any()):
                found[group] = flags.assign_attrs(flag_attributes(group))
    return found


def inputs_of(weather: xr.Dataset, surface: Surface = "short") -> tuple[str, ...]:
    """Name the columns of the weather that must be complete for reference evapotranspiration to be so.

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
    return make_plan(weather, "auto", surface).columns


def _columns(weather: xr.Dataset, plan: Plan) -> xr.Dataset:
    """Take what the plan reads, without anything else."""
    read = [name for name in (*plan.columns, *plan.site) if name in weather]
    flags = {
        flag_name(name): flags_of(weather, name).variable
        for name in plan.columns
        if flag_name(name) in weather
    }
    return weather.reset_coords()[read].assign(flags).assign_coords(time=weather["time"].variable)


def _check_arguments(weather: xr.Dataset, method: str, surface: str, least_wind: float | None) -> None:
    """Raise what is wrong before any column is looked at."""
    if not isinstance(weather, xr.Dataset):
        with collect() as faults:
            faults.add(
                "weather", "is no Dataset", value=type(weather).__name__, mend="read it with read_weather"
            )
    with collect() as faults:
        if method not in ASKED:
            faults.add("method", "is not known", value=repr(method), allowed=", ".join(ASKED))
        if surface not in SURFACES:
            faults.add("surface", "is not known", value=repr(surface), allowed=", ".join(SURFACES))
        if "time" not in weather.dims:
            faults.add("weather", "has no dimension time", mend="read it with read_weather")
        else:
            time_axis(weather["time"], faults)
        if least_wind is not None:
            low, high = VARIABLES["wind"].hard
            single = isinstance(least_wind, int | float | np.number) and not isinstance(least_wind, bool)
            if not single or not (low or 0) <= least_wind <= (high or np.inf):  # NaN is refused with them
                faults.add(
                    "least_wind",
                    "is no wind speed",
                    value=brief(least_wind),
                    allowed=f"one number, {VARIABLES['wind'].allowed()}, or None",
                )


def _check_calibration(calibration: xr.Dataset, weather: xr.Dataset, faults: Faults) -> None:
    """Note a calibration that is none, or is of other labels than the weather."""
    mend = "calibrate_hargreaves(weather) makes it"
    if not isinstance(calibration, xr.Dataset) or not all(name in calibration for name in LINE):
        value = brief(calibration)
        faults.add("calibration", f"is no Dataset with {' and '.join(LINE)}", value=value, mend=mend)
        return
    lines = calibration[list(LINE)]
    strange = [str(dim) for dim in lines.dims if dim not in weather.dims]
    if strange:
        faults.add(
            "calibration", "has dimensions that the weather lacks", value=", ".join(strange), mend=mend
        )
    labelled({"weather": weather, "calibration": lines}, faults)
    for name in LINE:
        if not np.isfinite(lines[name].values).all():
            faults.add(f"calibration, {name}", "is not a finite number everywhere", mend=mend)


def _codes(found: xr.Dataset, plan: Plan, lazy: bool) -> xr.DataArray:
    """Give the codes of the methods on the dimensions along which they vary."""
    if not plan.per_value:
        code = np.int8(METHODS[plan.methods[0]].code)
        return xr.DataArray(code, name=CODES, attrs=method_attributes())
    codes = found["method"].rename(CODES).assign_attrs(method_attributes())
    if lazy:  # how they vary is not known yet
        return codes
    for dim in codes.dims:
        one = codes.isel({dim: slice(1)}).squeeze(dim, drop=True) if codes.sizes[dim] else codes
        codes = one if codes.size and bool((codes == one).all()) else codes
    return codes


# ------------------------------------------------------------------ in words


def _why(columns: xr.Dataset, found: xr.Dataset, codes: xr.DataArray, task: Task, lazy: bool) -> str:
    """Say what decided, what was substituted and how many values it touched."""
    plan = task.plan
    if plan.methods == ("given",) and not plan.per_value:
        how = columns["et_ref"].attrs.get("why", "")
        text = f"et_ref is given with the weather for the {plan.surface} surface, and used as it stands"
        return f"{text}: {how}" if how and how != text else text
    if plan.per_value:
        head = f"best per day: {_by_method(found, lazy)}"
    else:
        head = f"{METHODS[plan.methods[0]].title}, {plan.because}"
    notes = [*plan.notes, *substitutions(plan)]
    if "wind" in plan.reads:
        notes += _wind_notes(columns, codes, task.least_wind, lazy)
    if not lazy and not plan.per_value:
        notes += _missing_notes(columns, found, plan)
    if "slope" in columns:
        notes.append("values by Hargreaves calibrated against Penman-Monteith (FAO-56 chapter 3)")
    if lazy:
        notes.append(f"negative values set to 0, {_LATER}")
    elif found.attrs["negative"]:
        notes.append(f"{_several(found.attrs['negative'], 'negative value')} set to 0")
    return "; ".join([head, *notes])


def _missing_notes(columns: xr.Dataset, found: xr.Dataset, plan: Plan) -> list[str]:
    """Say how many values are missing, and for want of what."""
    missing = int(found["et_ref"].isnull().sum())
    if not missing:
        return []
    wanting = {name: int(columns[name].isnull().sum()) for name in plan.columns if name in columns}
    parts = [f"{name} ({count})" for name, count in wanting.items() if count]
    text = f"{_several(missing, 'value')} missing"
    return [f"{text}, for want of {', '.join(parts)}" if parts else text]


def _by_method(found: xr.Dataset, lazy: bool) -> str:
    """Say how many values each method gave."""
    if lazy:
        return f"values by method are {_LATER}"
    codes, counts = np.unique(found["method"].values, return_counts=True)
    number = dict(zip(codes.tolist(), counts.tolist(), strict=True))
    parts = [
        f"{_several(number[method.code], 'value')} by {method.title}"
        for method in METHODS.values()
        if method.code in number
    ]
    if NONE in number:
        parts.append(f"{_several(number[NONE], 'value')} by none")
    return ", ".join(parts)


def _wind_notes(columns: xr.Dataset, codes: xr.DataArray, least: float | None, lazy: bool) -> list[str]:
    """Say what became of slow wind."""
    limit = LEAST_WIND if least is None else least
    if lazy:
        return [] if least is None else [f"wind below {limit:g} m s-1 raised to it, {_LATER}"]
    low = count_low(columns, limit, codes)
    if not low:
        return []
    values = f"{_several(low, 'value')} of wind below {limit:g} m s-1"
    if least is None:
        return [f"{values} used as they stand; FAO-56 suggests at least {limit:g} m s-1"]
    return [f"{values} raised to it"]


def _several(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
