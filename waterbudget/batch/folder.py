"""Read a farm folder: what it says of every field, and all that is wrong with it, field by field."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.batch import records
from waterbudget.batch.cans import read_cans
from waterbudget.batch.columns import FILES
from waterbudget.batch.describe import Beside, Field, describe
from waterbudget.batch.readings import Zones, read_readings
from waterbudget.batch.soils import Layered, read_layers
from waterbudget.batch.stations import Station, read_stations
from waterbudget.batch.tables import Row, nearest, read_table
from waterbudget.descriptions import moment
from waterbudget.errors import Fault, Faults, collect

_SETTINGS = ("name", "today")
_BY_TEMPERATURE = "the crop develops by heat or ends by frost"
_FOLLOWED = {
    "tmin": _BY_TEMPERATURE,
    "tmax": _BY_TEMPERATURE,
    "rain_intensity": "the soil has an intake rate, and the file no runoff",
}
"""Why a field needs a variable of the weather beside reference evapotranspiration and rain."""


class FieldFault(NamedTuple):
    """A fault and the field that it stops; none where it belongs to a station's file or a zone."""

    field: str
    fault: Fault


@dataclass(frozen=True, kw_only=True, eq=False)
class Folder:
    """All that a farm folder holds.

    Attributes
    ----------
    name : str
        Of the farm; the folder's own name when ``farm.csv`` gives none.
    today : datetime64 or None
        Day from which the week ahead is planned.
    order : tuple of str
        Every field of ``fields.csv``, in its order.
    fields : mapping of str to Field
        The fields without a fault.
    stations : mapping of str to Dataset
        ``et_ref`` and ``rain`` of each station [mm day-1] on ``time``, and what else its file has of
        ``tmin``, ``tmax`` [degC], ``rain_intensity`` [mm h-1] and ``runoff`` [mm day-1].
    gauges : mapping of str to Series
        Rain of a field's own gauge [mm] on the dates listed.
    irrigation : DataFrame
        ``date``, ``field``, ``net_mm``, ``gross_mm``, ``purpose``: the record before ``today``.
    planned : DataFrame
        The same columns: what is planned from ``today`` on, on top of the rules.
    zones : Zones
        Readings of flow and pressure.
    faults : tuple of FieldFault
        What stops a field, a station or a zone.
    notes : tuple of str
        What was left out on purpose, and why.
    """

    name: str
    today: np.datetime64 | None
    order: tuple[str, ...]
    fields: Mapping[str, Field]
    stations: Mapping[str, xr.Dataset]
    gauges: Mapping[str, pd.Series]
    irrigation: pd.DataFrame
    planned: pd.DataFrame
    zones: Zones
    faults: tuple[FieldFault, ...]
    notes: tuple[str, ...]


def read_folder(folder: Path, today: object = None) -> Folder:
    """Read and check a farm folder.

    Parameters
    ----------
    folder : Path
        Holds ``fields.csv``, ``stations.csv``, ``weather_<station>.csv`` and, where there is something to
        say, ``farm.csv``, ``crops.csv``, ``layers.csv``, ``rain.csv``, ``irrigation.csv``, ``planned.csv``,
        ``cans.csv`` and ``readings.csv``. Other files are passed over.
    today : date, optional
        Takes the place of the one in ``farm.csv``.

    Returns
    -------
    Folder
        Faults that concern one field or one station are listed in it; the other fields are sound.

    Raises
    ------
    InputError
        For what concerns the folder as a whole: a file that is missing, empty or has a column that is
        not known; two fields of one name; a day that is no date.
    """
    with collect() as faults:
        if not folder.is_dir():
            faults.add(str(folder), "is not a folder", mend="give the folder that holds fields.csv")
    with collect() as faults:
        tables = {
            name: _table(folder, name, name in ("fields", "stations"), faults)
            for name in FILES
            if name != "weather"
        }
        settings = _settings(tables["farm"], faults)
        day = _day(settings.get("today") if today is None else today, faults)
        _unique(tables["fields"], "fields.csv", "field", faults)
        _unique(tables["stations"], "stations.csv", "station", faults)
        _not_blank(tables["layers"], "layers.csv", "soil", faults)
    stations = read_stations(folder, tables["stations"], day)
    all_faults = [FieldFault("", fault) for station in stations.values() for fault in station.faults]
    order = tuple(row.text("field") for row in tables["fields"])
    by_field: dict[str, Faults] = {name: Faults() for name in order}
    fields = {}
    known: dict[Hashable, Any] = {}
    layers = read_layers(tables["layers"])
    crops = records.by_name(tables["crops"], "crops.csv", order, by_field)
    cans = read_cans(tables["cans"], order, by_field)
    for row in tables["fields"]:
        name = row.text("field")
        climate = stations[station].climate if (station := row.text("station")) in stations else (None, None)
        beside = Beside(climate, crops.get(name, []), layers, cans.get(name), known)
        made = _field(row, stations, beside, by_field[name])
        if made is not None:
            fields[made.name] = made
    gauges = records.read_gauges(tables["rain"], order, by_field)
    waterings = (
        records.read_waterings(tables[file], f"{file}.csv", order, by_field)
        for file in ("irrigation", "planned")
    )
    irrigation, planned, notes = records.up_to(day, *waterings)
    recorded, due = records.dates_by_field(irrigation), records.dates_by_field(planned)
    for name, field in fields.items():
        given = {
            "irrigation.csv, date": recorded.get(name),
            "planned.csv, date": due.get(name),
            "rain.csv, date": _days_of(gauges.get(name)),
        }
        records.check_days(given, stations[field.station], by_field[name])
        records.check_plan(recorded.get(name), due.get(name), day, by_field[name])
        _check_weather(field, stations[field.station], by_field[name])
    zones = read_readings(tables["readings"], day)
    all_faults += [FieldFault(name, fault) for name, noted in by_field.items() for fault in noted]
    all_faults += [FieldFault("", fault) for fault in zones.faults]
    sound = {name: field for name, field in fields.items() if not by_field[name]}
    return Folder(
        name=settings.get("name", folder.resolve().name),
        today=day,
        order=order,
        fields=sound,
        stations={name: station.weather for name, station in stations.items() if station.weather is not None},
        gauges=gauges,
        irrigation=irrigation,
        planned=planned,
        zones=zones,
        faults=tuple(all_faults),
        notes=(*notes, *zones.notes, *_unused(layers, tables["fields"]), *_own_losses(sound)),
    )


def _table(folder: Path, name: str, required: bool, faults: Faults) -> list[Row]:
    """Read one of the folder's tables; an absent one has no rows."""
    path = folder / f"{name}.csv"
    if path.is_file():
        return read_table(path, name, faults)
    if required:
        here = sorted(file.name for file in folder.glob("*.csv"))
        faults.add(
            path.name,
            "is missing from the folder",
            where=str(folder),
            mend=nearest(path.name, here) or f"files here: {', '.join(here) or 'no CSV'}",
        )
    return []


def _settings(rows: list[Row], faults: Faults) -> dict[str, str]:
    """Read ``farm.csv``: one setting a line."""
    found: dict[str, str] = {}
    for row in rows:
        setting = row.text("setting")
        if setting not in _SETTINGS:
            faults.add(
                f"farm.csv, setting {setting!r}",
                "is not known",
                where=f"line {row.line}",
                allowed=", ".join(_SETTINGS),
                mend=nearest(setting, list(_SETTINGS)),
            )
        elif setting in found:
            faults.add(f"farm.csv, setting {setting!r}", "is given twice", where=f"line {row.line}")
        elif row.text("value"):
            found[setting] = row.text("value")
    return found


def _day(value: object, faults: Faults) -> np.datetime64 | None:
    if value is None:
        return None
    day = moment(value, "today", faults)
    return day if isinstance(day, np.datetime64) else None


def _not_blank(rows: list[Row], file: str, column: str, faults: Faults) -> None:
    """Note names that are blank."""
    for row in rows:
        if not row.text(column):
            faults.add(f"{file}, column {column!r}", "is blank", where=f"line {row.line}", mend="name it")


def _unique(rows: list[Row], file: str, column: str, faults: Faults) -> None:
    """Note names that are blank or stand twice."""
    _not_blank(rows, file, column, faults)
    lines: dict[str, int] = {}
    for row in rows:
        name = row.text(column)
        if name in lines and name:
            faults.add(
                f"{file}, {column} {name!r}",
                "stands twice",
                where=f"line {row.line}; first on line {lines[name]}",
                mend="give each its own name",
            )
        lines.setdefault(name, row.line)


def _unused(layers: Mapping[str, Layered], rows: list[Row]) -> list[str]:
    """Tell of soils that no field has, lest a misspelt one is passed over."""
    used = {row.text("soil") for row in rows}
    return [f"layers.csv: no field has the soil {name!r}" for name in layers if name not in used]


def _own_losses(fields: Mapping[str, Field]) -> list[str]:
    """Tell where the handbook's efficiency has no say, though the line names its system."""
    names = [name for name, field in fields.items() if field.own_losses]
    if not names:
        return []
    why = "because the line or cans.csv says what is lost"
    return [f"The handbook's efficiency of the system is not used, {why}: {', '.join(names)}"]


def _days_of(gauge: pd.Series | None) -> pd.DatetimeIndex | None:
    return None if gauge is None else pd.DatetimeIndex(gauge.index)


def _field(row: Row, stations: Mapping[str, Station], beside: Beside, faults: Faults) -> Field | None:
    """Describe a field, when its station can serve it."""
    name = row.text("station")
    station = stations.get(name)
    if station is None:
        faults.add(
            "station",
            "is not in stations.csv" if name else "is missing",
            value=repr(name) if name else "",
            mend=nearest(name, list(stations)) or f"one of {', '.join(stations)}",
        )
    elif station.weather is None:
        faults.add("station", f"{name!r} cannot be used: see the faults of its files")
    made = describe(row, beside, faults)
    if made is None or station is None or station.weather is None:
        return None
    return made


def _check_weather(field: Field, station: Station, faults: Faults) -> None:
    """Note weather that a field's descriptions follow and the station's file does not have."""
    assert station.weather is not None  # a field is described only where its station can serve it
    for name in sorted(field.follows() - set(map(str, station.weather.data_vars))):
        faults.add(
            f"weather_{field.station}.csv",
            f"has no column of {name}",
            mend=f"add {FILES['weather'][name].names(name)[0]}: {_FOLLOWED[name]}",
        )
