"""A line's system columns, and its cans, become a system."""

from __future__ import annotations

import dataclasses
from typing import Any

from waterbudget import handbook
from waterbudget.batch.cans import CanTest
from waterbudget.batch.cells import made, numbers
from waterbudget.batch.columns import FILES, PARTS
from waterbudget.batch.tables import Row
from waterbudget.descriptions import sources, with_sources
from waterbudget.errors import Faults
from waterbudget.system import System
from waterbudget.system.catch_cans import CatchCans

_NUMBERS = tuple(name for name in PARTS["system"] if FILES["fields"][name].kind == "number")
_LINKS = (
    "leak_fraction",
    "conveyance_fraction",
    "spray_fraction",
    "canopy_fraction",
    "runoff_fraction",
    "peak_application_rate",
)
_IN_FIELD = (*_LINKS[2:], "delivered_fraction")
"""What an application efficiency holds already: beside these the handbook's is not used."""
_OF_PATTERN = ("spot_share", "spot_weight", "delivered_fraction", "application_rate")


def has_own_losses(row: Row, test: CanTest | None) -> bool:
    """Tell whether a line says what its field loses, so that the handbook's efficiency is not used."""
    return test is not None or any(row.text(name) for name in _IN_FIELD)


def system_of(row: Row, test: CanTest | None, faults: Faults) -> System | None:
    """Describe the system of a line; every fault is noted.

    Parameters
    ----------
    row : Row
        A line of ``fields.csv``.
    test : CanTest or None
        The field's test with catch cans: each usable can is a spot. Without links of its own the line's
        delivered fraction counts; without that the cans' mean over what flow and area supplied.
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    System or None
        None where the line names neither a system nor anything of one, or when anything is wrong.
    """
    noted = Faults()
    given = numbers(row, _NUMBERS, noted)
    name = row.text("system")
    if "delivered_fraction" in given and test is None:
        noted.add(
            "delivered_fraction",
            "needs cans beside it",
            mend="give the field's cans in cans.csv, or efficiency",
        )
    whole = [each for each in ("efficiency", "delivered_fraction") if each in given]
    if whole and "peak_application_rate" in given:
        noted.add(
            f"{whole[0]}, peak_application_rate",
            f"count a loss twice: {whole[0]} holds the runoff already",
            mend="give one of them: the other links of the chain may stand beside a peak rate",
        )
    faults.extend(tuple(noted))
    if noted or (test is not None and test.cans is None):
        if name:
            made(lambda: handbook.system(name), "system", faults)
        return None
    if not (name or given or test):
        return None
    if name and has_own_losses(row, test):
        given.setdefault("efficiency", None)
    cans = None if test is None else test.cans
    return made(lambda: _described(name, given, cans), "system", faults)


def _described(name: str, given: dict[str, Any], cans: CatchCans | None) -> System:
    """Vary the handbook's system, or describe one anew."""
    pattern = None if cans is None else _pattern(given, cans)
    measured = {} if pattern is None else {each: getattr(pattern, each) for each in _OF_PATTERN}
    told = {each: value for each, value in measured.items() if value is not None and each not in given}
    values = {**told, **given}
    system = dataclasses.replace(System.from_handbook(name), **values) if name else System(**values)
    if pattern is None:
        return system
    origins = sources(pattern)
    return with_sources(system, {each: origins[each] for each in told})


def _pattern(given: dict[str, Any], cans: CatchCans) -> System:
    """Describe what the cans tell: the pattern, and what they measure where the line does not say it."""
    links = {each: given[each] for each in _LINKS if each in given}
    if links:
        share, weight = cans.pattern()
        source = f"{len(share)} catch cans"
        system = System(spot_share=share, spot_weight=weight, **links)
        return with_sources(system, {"spot_share": source, "spot_weight": source})
    site = {each: given.get(each) for each in ("delivered_fraction", "flow", "area")}
    return System.from_catch_cans(cans, **site)
