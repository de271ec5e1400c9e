"""The lines about a field become its descriptions."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, NamedTuple, TypeVar

import numpy as np

from waterbudget.balance import Rule
from waterbudget.balance.supply import meet_intake
from waterbudget.batch.cans import CanTest
from waterbudget.batch.cells import in_file, made, numbers, yes_no
from waterbudget.batch.columns import FILES, PARTS
from waterbudget.batch.crops import Climate, crops_of
from waterbudget.batch.soils import Layered, soil_of
from waterbudget.batch.systems import has_own_losses, system_of
from waterbudget.batch.tables import Row
from waterbudget.crop import Crop, Rotation
from waterbudget.errors import Faults
from waterbudget.soil import Soil, store
from waterbudget.system import System, deliver

D = TypeVar("D")

_RULE = tuple(name for name in PARTS["rule"] if FILES["fields"][name].kind == "number")


@dataclass(frozen=True, kw_only=True, eq=False)
class Field:
    """A field as the folder describes it.

    Attributes
    ----------
    name, station : str
        As written in ``fields.csv``.
    crop_names : tuple of str
        Names as written, one for each crop of a rotation; a crop that is cut has its name for each growth.
    crop : Crop or Rotation
    soil : Soil
    system : System or None
        None where the row names neither a system nor anything of one.
    cans : CanTest or None
        Its test with catch cans.
    own_losses : bool
        Whether what the field's system loses is told in place of an efficiency that the handbook has for it.
    rule : Rule or None
        None where the row says that the field is not irrigated: then only the record waters it.
    initial_depletion, initial_depletion_below : float or None
        Depletion before the first day of the weather [mm]; None where not given.
    """

    name: str
    station: str
    crop_names: tuple[str, ...]
    crop: Crop | Rotation
    soil: Soil
    system: System | None
    cans: CanTest | None
    own_losses: bool
    rule: Rule | None
    initial_depletion: float | None
    initial_depletion_below: float | None

    @property
    def crops(self) -> tuple[Crop, ...]:
        """The crops in order; one where there is no rotation."""
        members: tuple[Crop, ...] = self.crop.crops if isinstance(self.crop, Rotation) else (self.crop,)
        return members

    def follows(self) -> set[str]:
        """Name what the field follows of the weather beside reference evapotranspiration and rain."""
        found: set[str] = set()
        for crop in self.crops:
            if crop.stage_degree_days is not None:
                found |= {"tmin", "tmax"}
            if crop.killing_frost is not None:
                found.add("tmin")
        if self.soil.intake_rate is not None:
            found.add("rain_intensity")
        return found


class Beside(NamedTuple):
    """What a field's line is read with.

    Attributes
    ----------
    climate : (wind, rhmin)
        Stage means stated for the station [m s-1], [%]; None where it states none.
    crops : list of Row
        The field's lines of ``crops.csv``; empty where its crop stands in ``fields.csv``.
    layers : mapping of str to Layered
        Soils of ``layers.csv``.
    cans : CanTest or None
        The field's test with catch cans.
    known : dict
        Descriptions of earlier lines; a line with the same cells shares them. Reading a line adds to it.
    """

    climate: Climate
    crops: list[Row]
    layers: Mapping[str, Layered]
    cans: CanTest | None
    known: dict[Hashable, Any]


def describe(row: Row, beside: Beside, faults: Faults) -> Field | None:
    """Describe a field by its line; every fault is noted.

    Parameters
    ----------
    row : Row
        A line of ``fields.csv``.
    beside : Beside
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    Field or None
        None when anything is wrong.
    """
    noted = Faults()
    known = beside.known
    crop, names = _grown(row, beside, noted)
    soil = _shared("soil", lambda own: soil_of(row, beside.layers, own), row, None, known, noted)
    cans = beside.cans
    own_field = None if cans is None else row.text("field")  # no other field has its cans
    system = _shared("system", lambda own: system_of(row, cans, own), row, own_field, known, noted)
    rule = _shared("rule", lambda own: _rule(row, own), row, None, known, noted)
    initial = row.number("initial_depletion", noted)
    below = row.number("initial_depletion_below", noted)
    if soil is not None and system is not None and system.peak_application_rate is not None:
        meet_intake(deliver(system), store(soil), noted)
    faults.extend(tuple(noted))
    if noted or crop is None or soil is None:
        return None
    return Field(
        name=row.text("field"),
        station=row.text("station"),
        crop_names=names,
        crop=crop,
        soil=soil,
        system=system,
        cans=cans,
        own_losses=bool(row.text("system")) and has_own_losses(row, cans),
        rule=rule,
        initial_depletion=initial,
        initial_depletion_below=below,
    )


def _grown(row: Row, beside: Beside, faults: Faults) -> tuple[Crop | Rotation | None, tuple[str, ...]]:
    """Describe what a field grows, by its own line or those of ``crops.csv``; with a name for each crop."""
    twice = [name for name in PARTS["crop"] if row.text(name)]
    if beside.crops and twice:
        faults.add(
            ", ".join(twice),
            "stands in fields.csv, and the field has crops in crops.csv",
            where=f"line {row.line}",
            mend="give its crops in one of the two files",
        )
    crops: list[Crop] = []
    names: list[str] = []
    for line in beside.crops or [row]:
        own = Faults()
        make = partial(crops_of, line, beside.climate)
        grown = _shared("crop", make, line, beside.climate, beside.known, own)
        crops += grown
        names += [line.text("crop")] * len(grown)
        faults.extend(tuple(in_file(own, "crops.csv", line) if beside.crops else own))
    if faults or len(crops) == 1:
        return (None if faults else crops[0]), tuple(names)
    file = "crops.csv" if beside.crops else "cuttings"
    return made(lambda: Rotation(crops=tuple(crops)), file, faults), tuple(names)


def _shared(
    part: str,
    make: Callable[[Faults], D],
    row: Row,
    beside: Hashable,
    known: dict[Hashable, Any],
    faults: Faults,
) -> D:
    """Make a part of a field's description, or take that of a line with the same cells."""
    cells = ((row.headings[name].text, row.cells[name]) for name in PARTS[part] if name in row.cells)
    key = (part, beside, tuple(cells))
    if key in known:
        earlier: D = known[key]
        return earlier
    own = Faults()
    result = make(own)
    faults.extend(tuple(own))
    if not own:  # a fault names its line, so it is found anew
        known[key] = result
    return result


def _rule(row: Row, faults: Faults) -> Rule | None:
    before = len(list(faults))
    given = numbers(row, _RULE, faults)
    last: np.datetime64 | None = row.date("last_date", faults)
    if last is not None:
        given["last_date"] = last
    driest = yes_no(row, "watch_driest_quarter", faults)
    if driest is not None:
        given["watch_driest_quarter"] = driest
    irrigated = yes_no(row, "irrigated", faults)
    if irrigated is False and given:
        faults.add(
            "irrigated", f"is no, but the row gives {', '.join(given)}", mend="blank these, or say yes"
        )
    if len(list(faults)) > before or irrigated is False:
        return None
    return made(lambda: Rule(**given), "rule", faults)
