"""Weather in: any column names and units by mapping, one Dataset out, every fault reported at once."""

from __future__ import annotations

import os
from collections.abc import Hashable, Mapping, Sequence
from typing import Any, get_args

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.errors import Faults, brief, collect
from waterbudget.variables import VARIABLES
from waterbudget.weather.canonical import to_canonical
from waterbudget.weather.days import step_faults, to_days
from waterbudget.weather.doubts import value_faults
from waterbudget.weather.flags import is_flag
from waterbudget.weather.layout import TableLayout
from waterbudget.weather.naming import meant
from waterbudget.weather.options import STEPS, Code, MissingDays, Options, Source, Surface
from waterbudget.weather.site import Site, note_other_height, site, wind_to_2m
from waterbudget.weather.sources import load
from waterbudget.weather.steps import lay_out, note_absent_days
from waterbudget.weather.sub_daily import SubDaily

TOLD = ("steps", "filling", "outlook", "years_left_out")
"""What weather says of itself, and keeps saying when it is read again."""

_GREATEST_TRACE = 1.0
"""More than this [mm] is no trace: gauges are read to 0.1 or 0.25 mm."""


def read_weather(
    source: Source,
    *,
    latitude: Site | None = None,
    elevation: Site | None = None,
    columns: Mapping[str, Hashable] | None = None,
    units: Mapping[str, str] | None = None,
    wind_height: Site = 2.0,
    et_ref_surface: Surface | None = None,
    layout: TableLayout | None = None,
    sub_daily: SubDaily | None = None,
    missing_codes: Sequence[Code] | Mapping[str, Sequence[Code]] = (),
    trace: Mapping[Code, float] | None = None,
    missing_days: MissingDays = "raise",
) -> xr.Dataset:
    """Read weather from a text table, NetCDF, Zarr, a DataFrame or a Dataset, and make days of it.

    Nothing is guessed, filled, sorted or dropped: what does not fit is reported, all of it at once, and what
    would need a guess is refused with the question that it raises. Blank cells are NaN.

    Parameters
    ----------
    source : str, path-like, DataFrame or Dataset
        A text table with a header line; NetCDF (``.nc``) or Zarr (``.zarr``); a DataFrame with a column
        ``time`` or ``date`` or with a date index; or a Dataset with a dimension ``time``. A column
        ``station`` in a table makes several stations of it. A Dataset keeps its labelled dimensions, a grid
        too; its variables are known by their names, else by the CF ``standard_name`` and ``cell_methods``.
    latitude : float, str, mapping, Series or DataArray, optional
        Degrees north, -90 to 90; text has its unit. With several stations a number for all or a
        number for each station by its name. A Dataset may bring it as a coordinate. It may be left
        out only where `et_ref` is given.
    elevation : float, str, mapping, Series or DataArray, optional
        Height above sea level [m], or text with its unit (``"394 ft"``), given like `latitude`.
    columns : mapping of str to str, optional
        Canonical name to the source's own: ``{"tmax": "TX", "time": "day"}``; dates that stand in two columns
        are a pair, ``{"time": ("date", "hour")}``, and
        read as one text with a blank between them. Canonical names are tmin, tmax, dewpoint [degC]; rhmin,
        rhmax, rhmean [%]; vapour_pressure, pressure [kPa]; wind [m s-1]; solar [MJ m-2 day-1]; sunshine [h];
        rain, et_ref [mm day-1]; rain_intensity [mm h-1]; time; station; of steps shorter than a day also
        temperature [degC] and relative_humidity [%]. Other columns are passed over, but not one whose name
        is a canonical name misspelt. Flags that this package wrote to a table are read by
        ``{"wind_flag": "wind_flag"}``; ``{"wind_flag": None}`` says that such a column is somebody else's.
    units : mapping of str to str, optional
        Canonical name to the unit in the source: ``{"tmax": "degF", "rain": "in"}``. Without it a
        Dataset's own ``attrs["units"]`` or the line of units of a file holds, and else the canonical unit.
        An amount such as "in" or "MJ m-2" is that of the day, or of the step. A column whose own name states
        another unit than the canonical one, such as "Precip (in)", is refused until its unit is given here:
        a name is not acted on. Rain, radiation, sunshine and `et_ref` of steps have no canonical unit:
        whether they are rates or amounts must be said.
    wind_height : float, str, mapping, Series or DataArray
        Height at which wind was measured [m], 0.1 and more, given like `latitude`; it is brought to 2 m by
        FAO-56 Eq. 47.
    et_ref_surface : {"short", "tall"}, optional
        What `et_ref` is the evapotranspiration of: clipped grass or alfalfa. Needed with `et_ref`,
        unless a Dataset's own ``et_ref.attrs["surface"]`` says it.
    layout : TableLayout, optional
        How a text table is written: delimiter, decimal sign, lines that are no data, order of dates.
    sub_daily : SubDaily, optional
        How steps shorter than a day become days. Needed where they are.
    missing_codes : sequence of number or str, or mapping of str to sequence
        What the source writes for a missing value: ``(-999, "M")``; or by canonical name,
        ``{"rhmax": (99.9,)}``. It is compared with the value as written.
    trace : mapping of number or str to float, optional
        Codes of rain that is too little to measure, and the depth to take for each [mm]:
        ``{"T": 0.0, -1: 0.0}``. These values, and days that have such a step, are flagged as stated.
    missing_days : {"raise", "nan"}
        What to do about days that have no row, or that some stations have and others do not: refuse, or
        add them as NaN.

    Returns
    -------
    Dataset
        float64 variables by their canonical names and in their canonical units, on ``time`` and,
        where there is one, ``station`` (a Dataset may have other labelled dimensions); coordinates
        ``latitude`` and ``elevation``. Where values are not as given, a variable ``<name>_flag`` says how
        each one came about. ``attrs["steps"]`` tells how days were made of shorter steps.

    Raises
    ------
    InputError
        With every fault found: columns that are absent or misspelt, units that do not fit or that only
        a column's name states, text in place of numbers, dates whose order would be guessed, days that are
        not consecutive, a second header, values outside their hard range, tmin above tmax, rhmin above
        rhmax, `et_ref` without its surface, no latitude or elevation.
    OSError
        When the file is not there or may not be read.

    Notes
    -----
    Of steps shorter than a day the minimum and maximum of temperature and relative humidity are taken, the
    mean of dew point, vapour pressure, pressure and wind; rates of rain and radiation are averaged, amounts
    summed. Where there are temperature and relative humidity, the mean of the steps' vapour pressure is
    made too: ASCE-EWRI (2005) puts it before other ways to have the day's humidity (from memory).

    Examples
    --------
    >>> weather = read_weather(
    ...     "station.csv", latitude=46.2, elevation=120, columns={"tmax": "TX"}, units={"tmax": "degF"}
    ... )
    >>> weather = read_weather(
    ...     "hourly.csv",
    ...     latitude=46.2,
    ...     elevation=120,
    ...     columns={"temperature": "T", "relative_humidity": "RH", "solar": "Rs", "rain": "P"},
    ...     units={"solar": "W m-2", "rain": "mm"},
    ...     sub_daily=SubDaily(stamp="end"),
    ... )
    """
    options = Options(
        columns or {},
        units or {},
        et_ref_surface,
        layout or TableLayout(),
        sub_daily,
        missing_codes,
        trace or {},
        missing_days,
    )
    with collect() as faults:
        sound = _check_options(options, faults)
        raw = load(source, options, faults) if sound else None
        weather = None if raw is None else _in_canonical_days(raw, options, faults)
        places = raw if weather is None else weather
        height = site("wind_height", wind_height, places, faults)
        if raw is not None and height is not None:
            note_other_height(raw, height, faults)
        sites = {}
        for name, given in (("latitude", latitude), ("elevation", elevation)):
            if given is None and raw is not None and name in raw.coords:
                given = raw[name]
            if given is None and raw is not None and "et_ref" not in raw:
                faults.add(
                    name,
                    "is missing",
                    allowed=VARIABLES[name].allowed(),
                    mend=f"{name}=...{_like(name, source)}; without it only a given et_ref can be used",
                )
            sites[name] = None if given is None else site(name, given, places, faults)
    assert weather is not None  # without a table there was a fault
    assert height is not None
    weather = wind_to_2m(weather, height)
    weather = weather.assign_coords({name: data for name, data in sites.items() if data is not None})
    told = raw.attrs if raw is not None else {}
    kept = {name: told[name] for name in TOLD if name in told and name not in weather.attrs}
    return weather.assign_attrs(**kept, source=_describe(source, told))


def _in_canonical_days(raw: xr.Dataset, options: Options, faults: Faults) -> xr.Dataset | None:
    """Bring values to canonical units, make days of shorter steps, and check them."""
    steps = options.sub_daily
    grid = None
    if steps is not None and "time" in raw.dims:
        grid = lay_out(raw.indexes["time"], steps, faults)
        if grid is not None and options.missing_days == "raise":
            note_absent_days(grid, faults)
    weather, believed = to_canonical(raw, options, None if grid is None else grid.per_day, faults)
    # What has been named as a code for "missing" is not named once more as a value.
    sound = weather.assign(believed)
    if steps is None:
        value_faults(sound, faults)
        return weather
    before = len(list(faults))
    step_faults(sound, faults)
    if grid is None:
        return None
    days = to_days(sound, grid, steps, faults)
    if len(list(faults)) == before:  # else the same values would be named once more
        value_faults(days, faults)
    return days


def _like(name: str, source: Source) -> str:
    """Point to a coordinate of a Dataset whose name begins like what is missing."""
    if not isinstance(source, xr.Dataset):
        return ""
    near = [str(own) for own in source.variables if str(own).casefold().startswith(name[:3])]
    return f', such as {name}=source["{near[0]}"]' if near else ""


def _describe(source: Source, told: Mapping[str, Any]) -> str:
    if isinstance(source, xr.Dataset):
        return str(told.get("source", "Dataset"))
    return (
        "DataFrame"
        if isinstance(source, pd.DataFrame)
        else f"file {os.path.basename(os.path.normpath(source))}"
    )


def _check_options(options: Options, faults: Faults) -> bool:
    """Check what can be checked before the source is read; tell whether it can be."""
    for option, given in (("columns", options.columns), ("units", options.units)):
        allowed = (*options.names(), "time", "station") if option == "columns" else options.names()
        for name in given:
            if name not in allowed and not (option == "columns" and is_flag(name)):
                of_steps = options.sub_daily is None and name in STEPS
                faults.add(
                    f"{option}, {name!r}",
                    "is of steps shorter than a day, and sub_daily is not given"
                    if of_steps
                    else "is no canonical name",
                    allowed="" if of_steps else ", ".join(allowed),
                    mend="sub_daily=wb.SubDaily(stamp=...)"
                    if of_steps
                    else meant(name, allowed) or "the canonical name stands first, then your own",
                )
    if options.surface is not None and options.surface not in get_args(Surface):
        faults.add("et_ref_surface", "is unknown", value=repr(options.surface), allowed='"short" or "tall"')
    if options.missing_days not in get_args(MissingDays):
        faults.add(
            "missing_days", "is unknown", value=brief(options.missing_days), allowed='"raise" or "nan"'
        )
    before = len(list(faults))
    for what, value, kind in (
        ("layout", options.layout, TableLayout),
        ("sub_daily", options.sub_daily, SubDaily),
        ("trace", options.trace, Mapping),
    ):
        if value is not None and not isinstance(value, kind):
            faults.add(what, f"is no {kind.__name__}", value=brief(value))
    _check_codes(options, faults)
    return len(list(faults)) == before


def _check_codes(options: Options, faults: Faults) -> None:
    """Check the codes for missing values and traces."""
    given = options.missing_codes
    groups = given if isinstance(given, Mapping) else {"": given}
    for name, codes in groups.items():
        what = f"missing_codes, {name!r}" if name else "missing_codes"
        if name and name not in options.names():
            faults.add(what, "is no canonical name", mend=meant(name, options.names()))
        if isinstance(codes, str) or not isinstance(codes, Sequence):
            faults.add(what, "is no sequence of codes", value=brief(codes), allowed="such as (-999, 'M')")
        elif not all(_is_code(code) for code in codes):
            faults.add(what, "holds what is no code", value=brief(codes), allowed="numbers and texts")
    if not isinstance(options.trace, Mapping):
        return
    for code, depth in options.trace.items():
        number = isinstance(depth, int | float | np.number) and not isinstance(depth, bool)
        if not _is_code(code) or not number or not 0 <= depth <= _GREATEST_TRACE:
            faults.add(
                "trace",
                "is no code with its depth",
                value=brief({code: depth}),
                allowed=f"a number or text, and 0 to {_GREATEST_TRACE:g} mm",
            )


def _is_code(code: object) -> bool:
    return isinstance(code, str | int | float | np.integer | np.floating) and not isinstance(code, bool)
