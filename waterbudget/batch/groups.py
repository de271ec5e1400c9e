"""Simulate a folder's fields: those whose descriptions can stand side by side in one call."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Hashable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.balance import simulate
from waterbudget.batch.cells import faults_of
from waterbudget.batch.describe import Field
from waterbudget.batch.folder import FieldFault, Folder
from waterbudget.crop import Crop, Rotation
from waterbudget.joining import concat

Progress = Callable[[int, int], None]


def simulate_fields(
    folder: Folder, progress: Progress | None = None
) -> tuple[list[xr.Dataset], list[FieldFault]]:
    """Simulate every sound field of a folder.

    Parameters
    ----------
    folder : Folder
    progress : callable, optional
        Called with the number of fields done and their total, after each call of `simulate`.

    Returns
    -------
    seasons : list of Dataset
        Results of `simulate` on ``time`` and ``field``; each field is in one of them.
    faults : list of FieldFault
        Fields that the simulation refused. A group that it refuses is halved until the fields at fault
        stand alone, so that they take no other down.
    """
    groups: dict[Hashable, list[Field]] = {}
    for name in folder.order:
        if name in folder.fields:
            field = folder.fields[name]
            groups.setdefault(_form(field, folder.stations[field.station]), []).append(field)
    waiting = list(groups.values())
    seasons, faults = [], []
    done = 0
    while waiting:
        fields = waiting.pop(0)
        try:
            seasons.append(_together(fields, folder))
        except Exception as error:
            # any error at all: a defect met by one field must not lose the others' results
            if len(fields) > 1:
                half = len(fields) // 2
                waiting[:0] = [fields[:half], fields[half:]]
                continue
            faults += [FieldFault(fields[0].name, fault) for fault in faults_of(error, "simulation")]
        done += len(fields)
        if progress is not None:
            progress(done, len(folder.fields))
    return seasons, faults


def _form(field: Field, weather: xr.Dataset) -> Hashable:
    """Say what must be alike for fields to be joined: values given, number of spots, days."""
    given = tuple(_given(part) for part in (*field.crops, field.soil, field.system, field.rule))
    days = weather["time"].values
    initial = (field.initial_depletion is None, field.initial_depletion_below is None)
    kept = tuple(sorted(_kept(field, weather)))
    share = None if field.system is None else field.system.spot_share
    return (
        len(field.crops),
        given,
        0 if share is None else share.sizes["spot"],
        kept,
        initial,
        weather["et_ref"].attrs["surface"],
        str(days[0]),
        str(days[-1]),
    )


def _given(part: Any) -> tuple[str, ...] | None:
    """Name the values that a description gives."""
    if part is None:
        return None
    return tuple(each.name for each in dataclasses.fields(part) if getattr(part, each.name) is not None)


def _kept(field: Field, weather: xr.Dataset) -> set[str]:
    """Name the weather that a field's simulation reads."""
    return {
        "et_ref",
        "et_ref_method",
        "rain",
        *field.follows(),
        *({"runoff"} & set(map(str, weather.data_vars))),
    }


def _together(fields: Sequence[Field], folder: Folder) -> xr.Dataset:
    """Simulate fields of one form in one call."""
    names = [field.name for field in fields]
    weather = _weather(fields, folder.stations, folder.gauges)
    surface = weather["et_ref"].attrs["surface"]
    options: dict[str, Any] = {}
    record = folder.irrigation[folder.irrigation["field"].isin(names)]
    if folder.today is not None:
        options["recorded_until"] = folder.today - np.timedelta64(1, "D")
    if len(record):
        options["irrigation"] = record.reset_index(drop=True)
    planned = folder.planned[folder.planned["field"].isin(names)]
    if len(planned):
        options["extra_irrigation"] = planned.reset_index(drop=True)
    for option in ("initial_depletion", "initial_depletion_below"):
        values = [getattr(field, option) for field in fields]
        if values[0] is not None:
            options[option] = xr.DataArray(values, dims="field", coords={"field": names})
    first = fields[0]
    return simulate(
        weather,
        concat({field.name: _on_basis(field.crop, surface) for field in fields}, "field"),
        concat({field.name: field.soil for field in fields}, "field"),
        None if first.system is None else concat({f.name: f.system for f in fields if f.system}, "field"),
        None if first.rule is None else concat({f.name: f.rule for f in fields if f.rule}, "field"),
        **options,
    )


def _on_basis(crop: Crop | Rotation, surface: Any) -> Crop | Rotation:
    """Bring every crop to the reference surface of the weather."""
    if isinstance(crop, Rotation):
        return Rotation(crops=tuple(each.on_basis(surface) for each in crop.crops))
    return crop.on_basis(surface)


def _weather(
    fields: Sequence[Field], stations: Mapping[str, xr.Dataset], gauges: Mapping[str, pd.Series]
) -> xr.Dataset:
    """Give each field its station's weather, and its own gauge's rain on the days that this was read."""
    used = dict.fromkeys(field.station for field in fields)
    kept = sorted(_kept(fields[0], stations[fields[0].station]))
    joined = concat({name: stations[name][kept] for name in used}, "station")
    at = xr.DataArray(
        [field.station for field in fields], dims="field", coords={"field": [field.name for field in fields]}
    )
    weather = joined.sel(station=at).drop_vars("station").transpose("time", "field", missing_dims="ignore")
    rain = weather["rain"].copy()
    days = weather.get_index("time")
    for column, field in enumerate(fields):
        if field.name in gauges:
            gauge = gauges[field.name]
            rain.values[days.get_indexer(pd.DatetimeIndex(gauge.index)), column] = gauge.to_numpy()
    return weather.assign(rain=rain)
