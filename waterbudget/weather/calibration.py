"""Hargreaves calibrated against Penman-Monteith, label by label."""

from __future__ import annotations

import xarray as xr

from waterbudget.checks import note_where
from waterbudget.errors import Faults, collect
from waterbudget.weather.fits import regress
from waterbudget.weather.methods import Surface
from waterbudget.weather.reference import reference_et

LEAST_DAYS = 30
"""Fewest days of a line: with fewer, the weather of one spell decides (common practice, no source)."""

_LEAST_MONTHS = 6
"""Months of the year below which `why` warns: half of the year's course is then unseen."""

_MEANINGS = {
    "slope": ("1", "slope b of Penman-Monteith on Hargreaves"),
    "intercept": ("mm day-1", "intercept a of Penman-Monteith on Hargreaves"),
    "r2": ("1", "share of the variance of Penman-Monteith that the line explains"),
    "days": ("day", "days on which both methods have a value"),
    "standard_error": ("mm day-1", "standard error of an estimate by the line"),
}


def calibrate_hargreaves(weather: xr.Dataset, surface: Surface = "short") -> xr.Dataset:
    """Fit Hargreaves to Penman-Monteith on the days that have both.

    Parameters
    ----------
    weather : Dataset
        Daily weather as `reference_et` takes it, with the columns of Penman-Monteith (FAO-56 Eq. 6) at
        least on some days. Weather held by dask is computed.
    surface : {"short"}
        Hargreaves is of clipped grass.

    Returns
    -------
    Dataset
        For each label of the weather ``slope`` b [1] and ``intercept`` a [mm day-1] of
        ``Penman-Monteith = a + b * Hargreaves`` by least squares, its ``r2`` [1] (NaN where Penman-Monteith
        does not vary), the ``days`` [day] it stands on and its ``standard_error`` [mm day-1], the root of the
        sum of squares over days less 2. Its attribute `why` says what was compared, and which labels have
        days in less than half of the months of the year.

    Raises
    ------
    InputError
        As `reference_et` with ``method="fao56"``, and when a label has fewer than 30 days with both, or the
        same value by Hargreaves on all of them.

    Notes
    -----
    FAO-56 chapter 3, beside Eq. 52, asks to calibrate Hargreaves by ETo = a + b ETo(Eq. 52) where
    Penman-Monteith can be had (from memory). Thirty days are common practice, without a source. Give
    weather as it was measured: days filled by an estimate would calibrate Hargreaves against the estimate.

    Examples
    --------
    >>> line = calibrate_hargreaves(weather)
    >>> et_ref = reference_et(weather_without_wind, calibration=line)
    """
    target = reference_et(weather, "fao56", surface).drop_vars("et_ref_method").compute()
    estimate = reference_et(weather, "hargreaves", surface).drop_vars("et_ref_method").compute()
    both = target.notnull() & estimate.notnull()
    y, x = target.where(both), estimate.where(both)
    days = both.sum("time")
    with collect() as faults:
        _check_days(days, x, faults)
    x, y = x.transpose("time", ...), y.transpose("time", ...)
    fitted = regress(x.values, y.values)
    found = {name: days.copy(data=values) for name, values in fitted._asdict().items()}
    line = xr.Dataset({name: data.rename(name).drop_attrs() for name, data in found.items()})
    for name, (unit, long_name) in _MEANINGS.items():
        line[name].attrs = {"units": unit, "long_name": long_name}
    line.attrs = {"surface": surface, "why": _why(both)}
    return line


def _check_days(days: xr.DataArray, estimate: xr.DataArray, faults: Faults) -> None:
    """Note labels whose days do not carry a line."""
    few = days < LEAST_DAYS
    note_where(
        faults,
        "weather",
        "has too few days with both Penman-Monteith and Hargreaves to calibrate by",
        few,
        {"days": days},
        allowed=f"at least {LEAST_DAYS} days for each label",
        mend="give a longer record, or leave the label out and use Hargreaves as it stands",
    )
    note_where(
        faults,
        "weather",
        "has the same value by Hargreaves on all days, through which no line goes",
        ~few & (estimate.max("time") == estimate.min("time")),
        {"days": days},
        mend="give days of different seasons",
    )


def _why(both: xr.DataArray) -> str:
    """Say what was compared, and where it stands on less than half of the year's months."""
    months = both.groupby("time.month").any().sum("month")
    short = months < _LEAST_MONTHS
    text = "Penman-Monteith (FAO-56 Eq. 6) = intercept + slope * Hargreaves (Eq. 52), by least squares"
    if not bool(short.any()):
        return text
    where = f" at {int(short.sum())} of {short.size} labels" if short.ndim else ""
    least = int(months.min())
    return (
        f"{text}; the days cover less than half of the months of the year{where} (at least {least}): "
        "the line is not known to hold in the others"
    )
