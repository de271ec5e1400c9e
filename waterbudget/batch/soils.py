"""A line's soil columns become a soil: by texture, by particles, by layers, or by own water contents."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping
from typing import Any, NamedTuple

from waterbudget import handbook
from waterbudget.batch.cells import made, numbers, yes_no
from waterbudget.batch.columns import FILES
from waterbudget.batch.tables import Row
from waterbudget.errors import Fault, Faults, InputError
from waterbudget.soil import Soil

_WATER = ("field_capacity", "wilting_point", "available_water", "saturation")
_PARTICLES = ("sand", "clay", "organic_matter")
_BESIDE = (
    "rew",
    "tew",
    "drainage_fraction",
    "curve_number",
    "intake_rate",
    "soil_salinity",
    "restricting_depth",
    "water_table_depth",
    "capillary_a",
    "capillary_n",
)
_LAYER = tuple(
    name for name, column in FILES["layers"].items() if column.kind == "number" and not column.required
)


class Layered(NamedTuple):
    """A soil of ``layers.csv``, or what is wrong with it."""

    soil: Soil | None
    faults: tuple[Fault, ...]


def read_layers(rows: list[Row]) -> dict[str, Layered]:
    """Describe the soils of ``layers.csv``.

    Parameters
    ----------
    rows : list of Row

    Returns
    -------
    dict of str to Layered
        By the name of the soil; a soil at fault has its faults, which name file and line.
    """
    by_name: dict[str, list[Row]] = {}
    for row in rows:
        by_name.setdefault(row.text("soil"), []).append(row)
    return {name: _layered(lines) for name, lines in by_name.items()}


def _layered(rows: list[Row]) -> Layered:
    noted = Faults()
    table: list[Mapping[str, Any]] = []
    for row in rows:
        own = Faults()
        depths = {f"{name}_m": row.number(name, own) for name in ("top", "bottom")}
        for name in ("top", "bottom"):
            if not row.text(name):
                own.add(name, "is blank", where=f"line {row.line}")
        water = {name: row.number(name, own) for name in _LAYER}
        given = [name for name in _LAYER if row.text(name)]
        if given != [name for name in _LAYER if rows[0].text(name)]:
            own.add(
                ", ".join(_LAYER),
                "are not given alike in all layers",
                where=f"line {row.line}",
                value=", ".join(given) or "none",
                allowed=f"as in line {rows[0].line}",
            )
        noted.extend(tuple(own))
        table.append({**depths, **{name: water[name] for name in given}})
    soil = None
    if not noted:
        try:
            soil = Soil.from_layers(table)
        except InputError as error:
            noted.extend(error.faults)
    lines = [row.line for row in rows]
    return Layered(soil, tuple(_by_line(fault, rows[0].text("soil"), lines) for fault in noted))


def _by_line(fault: Fault, name: str, lines: list[int]) -> Fault:
    """Name file, soil and line in a fault, in place of the row of its own table."""
    row = re.fullmatch(r"row (\d+)", fault.where)
    where = f"line {lines[int(row[1]) - 1]}" if row else fault.where or f"line {lines[0]}"
    return dataclasses.replace(fault, what=f"layers.csv, {name}, {fault.what}", where=where)


def soil_of(row: Row, layers: Mapping[str, Layered], faults: Faults) -> Soil | None:
    """Describe the soil of a line; every fault is noted.

    Parameters
    ----------
    row : Row
        A line of ``fields.csv``.
    layers : mapping of str to Layered
        Soils of ``layers.csv``; their names go before those of the handbook.
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    Soil or None
        None when anything is wrong.
    """
    before = len(list(faults))
    water = numbers(row, _WATER, faults)
    beside = numbers(row, _BESIDE, faults)
    particles = numbers(row, _PARTICLES, faults)
    adjusted = yes_no(row, "adjust_curve_number", faults)
    if adjusted is not None:
        beside["adjust_curve_number"] = adjusted
    name = row.text("soil")
    own = [each for each in _WATER if row.text(each)]
    _check_particles(row, name, faults)
    if name in layers:
        faults.extend(layers[name].faults)
        if own:
            faults.add(
                ", ".join(own),
                "stands beside layers of the soil",
                mend="give it by layer in layers.csv, and blank it here",
            )
    elif not (name or own or particles):
        faults.add(
            "soil",
            "is missing",
            mend="give a texture, a soil of layers.csv, sand, clay and organic matter, or field_capacity and "
            "wilting_point",
        )
    if len(list(faults)) > before:
        if name and name not in layers:
            made(lambda: handbook.soil(name), "soil", faults)
        return None
    layered = layers[name].soil if name in layers else None
    if layered is not None:
        return made(lambda: dataclasses.replace(layered, **beside), "soil", faults)
    if particles:
        return made(lambda: _of_particles(particles, {**water, **beside}), "soil", faults)
    if not name:
        return made(lambda: Soil(**water, **beside), "soil", faults)
    return made(lambda: _varied(Soil.from_handbook(name), {**water, **beside}), "soil", faults)


def _check_particles(row: Row, name: str, faults: Faults) -> None:
    """Note particles that are not complete, or stand beside another way to name the soil."""
    given = [each for each in _PARTICLES if row.text(each)]
    if not given:
        return
    missing = [each for each in _PARTICLES if each not in given]
    if missing:
        faults.add(
            "particles", f"lack {', '.join(missing)}", mend="give sand, clay and organic matter, or none"
        )
    if name:
        faults.add(
            "soil",
            "stands beside sand, clay and organic matter",
            value=repr(name),
            mend="keep one of the two",
        )


def _of_particles(particles: Mapping[str, float], given: dict[str, Any]) -> Soil:
    """Describe a soil by its particles; REW and TEW of the row go in where those by texture would not fit."""
    evaporable: dict[str, Any] = {name: given.pop(name) for name in ("rew", "tew") if name in given}
    return _varied(Soil.from_particles(**particles, **evaporable), {**given, **evaporable})


def _varied(soil: Soil, given: dict[str, Any]) -> Soil:
    """Put the row's numbers in place of those that the soil came with."""
    water = {"field_capacity", "wilting_point"} & set(given)
    if water and "tew" not in given:
        given["tew"] = None  # it follows from the row's own water contents (FAO-56 Eq. 73)
    return dataclasses.replace(soil, **given)
