"""Random systems, rules and waterings for the two implementations. The numbers are invented."""

from __future__ import annotations

from typing import Any

from tests.oracle.draw import Draw, Form
from tests.oracle.scalar_crop import Series

LEAST_SHARE = 0.1
"""Least share on which adequacy is drawn: it divides by a share."""
BEFORE_FIELD = {"leak_fraction": (0.0, 0.4), "conveyance_fraction": (0.0, 0.5)}
IN_FIELD = {"spray_fraction": (0.0, 0.5), "canopy_fraction": (0.0, 0.3), "runoff_fraction": (0.0, 0.6)}


def draw_system(draw: Draw, form: Form, soil: dict[str, Any]) -> dict[str, Any]:
    """What the system wets and loses, and whom it gives how much."""
    system: dict[str, Any] = {
        "wetted_fraction": draw.number(0.1, 1.0, 0.03, 1.0),
        "subsurface": draw.chance(0.2),
        "under_canopy": draw.chance(0.3),
    }
    if form.drip and draw.chance(0.85):
        volume = system["wetted_volume"] = draw.number(0.2, 1.0, 1.0)
        if not system["subsurface"]:
            system["wetted_fraction"] = draw.number(0.1, volume, volume)
    if form.spots is not None:
        system |= _pattern(draw, form.spots)
    return system | _losses(draw, form, soil, uneven=_uneven(system))


def _pattern(draw: Draw, spots: int) -> dict[str, tuple[float, ...]]:
    """Shares and weights of a few spots, some of which nobody watches; a corner is a spot without water."""
    even = draw.chance(0.15)
    while True:
        weight = draw.rng.uniform(0.2, 1.0, spots)
        weight /= weight.sum()
        share = draw.rng.uniform(LEAST_SHARE, 2.0, spots)
        if even:
            share[:] = 1.0
        watched = draw.rng.random(spots) > draw.one_of(0.0, 0.3)
        for spot in range(spots):
            if draw.chance(0.04 if watched[spot] else 0.7):
                share[spot] = 0.0
        if (watched & (share > 0.0)).any():
            share /= (weight * share).sum()
            if share.max() < 8.0:
                break
    pattern = {"spot_share": share, "spot_weight": weight, "spot_watched": watched.astype(float)}
    return {name: tuple(float(value) for value in values) for name, values in pattern.items()}


def _watched_shares(system: dict[str, Any]) -> list[float]:
    shares = system.get("spot_share", (1.0,))
    watched = system.get("spot_watched", (1.0,) * len(shares))
    return [share for share, watch in zip(shares, watched, strict=True) if watch > 0.0]


def _uneven(system: dict[str, Any]) -> bool:
    shares = _watched_shares(system)
    return max(shares) > min(shares)


def _losses(draw: Draw, form: Form, soil: dict[str, Any], uneven: bool) -> dict[str, Any]:
    """One number for all losses, or one for each link that is known."""
    known = draw.one_of("efficiency", "efficiency", "links", "links", "links")
    if form.spots is not None and (uneven or draw.chance(0.2)):
        known = draw.one_of("delivered_fraction", "links", "links")
    if known == "delivered_fraction":
        return {known: draw.number(0.3, 1.0)}
    parts: dict[str, Any] = {
        name: draw.number(*span, 0.0) for name, span in BEFORE_FIELD.items() if draw.chance(0.4)
    }
    if known == "efficiency":
        return parts | {"efficiency": draw.number(0.3, 1.0)}
    parts |= {name: draw.number(*span, 0.0) for name, span in IN_FIELD.items() if draw.chance(0.4)}
    if form.daily_spray and draw.chance(0.8):
        daily = draw.rng.uniform(0.0, 0.5, form.days)
        parts["spray_fraction"] = Series(0, tuple(float(part) for part in daily))
    if "runoff_fraction" not in parts and "intake_rate" in soil:
        parts["peak_application_rate"] = soil["intake_rate"] * draw.number(0.3, 8.0)
    return parts or {"canopy_fraction": draw.number(*IN_FIELD["canopy_fraction"])}


def draw_rule(draw: Draw, form: Form, system: dict[str, Any] | None) -> dict[str, Any]:
    """When to irrigate and how much."""
    allowable = None if draw.chance(0.35) else draw.number(0.05, draw.one_of(0.2, 0.95, 0.95))
    rule: dict[str, Any] = {"allowable_depletion": allowable, "min_interval": draw.whole(1, 12, 1, 1)}
    if draw.chance(0.4):
        rule["min_depth"] = draw.number(2.0, 20.0)
    if draw.chance(0.3):
        rule["net_depth"] = draw.number(20.0, 60.0)
    elif draw.chance(0.4):
        rule["refill_to"] = draw.number(0.0, 0.9) * (0.1 if allowable is None else allowable)
    if draw.chance(0.4):
        rule["max_depth"] = draw.number(60.0, 90.0) if "net_depth" in rule else draw.number(20.0, 60.0)
    if draw.chance(0.3):
        rule["last_date"] = draw.whole(0, form.days - 1)
    rule["watch_driest_quarter"] = draw.chance(0.5)
    driest = min(_watched_shares(system or {}))
    if "net_depth" not in rule and driest >= LEAST_SHARE and draw.chance(0.5):
        rule["adequacy"] = draw.number(0.5, 0.95)
    return rule


def draw_record(draw: Draw, form: Form) -> list[tuple[int, float]]:
    """Recorded waterings: the day and the net depth."""
    count = draw.one_of(0, 0, 1, 2, 6)
    return [(draw.whole(0, form.days - 1), draw.number(0.0, 90.0, 0.0, 200.0)) for _ in range(count)]


def draw_extra(draw: Draw, form: Form, record: list[tuple[int, float]]) -> list[tuple[int, float]]:
    """Waterings planned on top of the rule, on days that the record does not cover."""
    days = [day for day, _ in record]
    first, last = min(days, default=form.days), max(days, default=-1)
    if form.recorded_until is not None:
        first, last = 0, max(form.recorded_until, last)
    free = [day for day in range(form.days) if not first <= day <= last]
    count = draw.one_of(0, 0, 1, 3) if free else 0
    return [(draw.one_of(*free), draw.number(0.0, 120.0, 0.0)) for _ in range(count)]
