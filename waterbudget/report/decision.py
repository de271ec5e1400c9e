"""The arithmetic of a morning's decision, and the sentence that says what was decided and why."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from waterbudget.report.sheet import YES_OR_NO, Sheet
from waterbudget.system.losses import LINKS

_COVERS = "mean depth for each mm that the watched spots lack: 1 / their mean share"


class Morning(NamedTuple):
    """What the decision knew: the field as a whole, and how the day was covered.

    ``names`` are the lines to be used for depletion and TAW of the evening, RAW of the evening, and depletion
    and TAW of the morning: those of the one spot, or means over the spots. ``to_fill`` are the lines of the
    spot that decides how much where a part of the field is to be filled: its depletion and TAW of the
    morning, and its share.
    """

    names: tuple[str, str, str, str, str]
    to_fill: tuple[str, str, str] | None
    late: bool  # the rule's last date has passed
    last_date: str
    purpose: str  # of the record's entry
    planned: str  # purpose of what is planned on top of the rule


def set_down_decision(
    sheet: Sheet, day: Mapping[str, float], sources: Mapping[str, str], morning: Morning
) -> str:
    """Take the decision down and say it in a sentence.

    Parameters
    ----------
    sheet : Sheet
        Holds the lines of root growth.
    day : mapping of str to float
        The day as the season stores it.
    sources : mapping of str to str
        Source of each input.
    morning : Morning
        What the decision knew.

    Returns
    -------
    str
        The verdict.
    """
    sheet.part("The decision, on what the morning knew")
    if not day["rule_free"]:
        source = f"irrigation record{': ' if morning.purpose else ''}{morning.purpose}"
        sheet.given("irrigation_net", day["irrigation_net"], "mm", source)
        reason = f"by the record{f' ({morning.purpose})' if morning.purpose else ''}"
        idle = "the record covers this day and has no irrigation"
    elif not day["irrigated_by_rule"] and day["extra_irrigation"] > 0:
        sheet.given("irrigation_net", day["extra_irrigation"], "mm", "planned irrigation")
        reason, idle = f"as planned{f' ({morning.planned})' if morning.planned else ''}", ""
    elif not day["irrigated_by_rule"]:
        sheet.given(
            "irrigation_net", day["irrigation_net"], "mm", "no rule was given, and nothing is recorded"
        )
        reason, idle = "", "no rule was given, and nothing is recorded"
    else:
        reason, idle = _by_rule(sheet, day, sources, morning)
    net = sheet.values["irrigation_net"]
    if day["leaching_irrigation"] > 0:
        sheet.given("leaching_irrigation", day["leaching_irrigation"], "mm", "of it, for leaching")
    if net > 0 and not math.isnan(day["gross_to_net"]):
        _supply(sheet, day, sources, net)
    if not net > 0:
        return f"Not irrigated: {idle}."
    supplied = sheet.values.get("irrigation_gross")
    depth = f"{_said(net)} net" + ("" if supplied is None else f", {_said(supplied)} gross")
    return f"Irrigated {depth}: {reason}."


def _by_rule(
    sheet: Sheet, day: Mapping[str, float], sources: Mapping[str, str], morning: Morning
) -> tuple[str, str]:
    """Take the rule's arithmetic down; give the reason to irrigate and the reason not to."""
    v = sheet.values
    depletion_before, taw_before, raw_before, _, _ = morning.names
    rule = "rule"
    if math.isnan(day["allowable_depletion"]):
        formula, allowance = f"{{{raw_before}}}", v[raw_before]
        source = "rule: at stress, the readily available water of the evening before (FAO-56 Eq. 83)"
    else:
        sheet.given(
            "allowable_depletion", day["allowable_depletion"], "1", sources.get("allowable_depletion", rule)
        )
        formula = f"{{allowable_depletion}} * {{{taw_before}}}"
        allowance, source = (
            day["allowable_depletion"] * v[taw_before],
            "rule: of the water of the evening before",
        )
    sheet.line("allowance", formula, allowance, "mm", source)
    reached = v[depletion_before] >= allowance
    sheet.line(
        "reached",
        f"{{{depletion_before}}} >= {{allowance}}",
        float(reached),
        YES_OR_NO,
        "FAO-56 ch. 8: irrigate when RAW is used",
    )
    growing = v["crop_stage"] > 0
    sheet.line("growing", "{crop_stage} > 0", float(growing), YES_OR_NO, "rule: only while a crop stands")
    sheet.given("min_interval", day["min_interval"], "day", sources.get("min_interval", rule))
    days = v["days_since_irrigation_before"] + 1
    rested = days >= day["min_interval"]
    sheet.line(
        "rested",
        "{days_since_irrigation_before} + 1 >= {min_interval}",
        float(rested),
        YES_OR_NO,
        "rule: smallest interval",
    )
    sheet.given(
        "in_time", float(not morning.late), YES_OR_NO, f"rule: last date {morning.last_date or 'not given'}"
    )
    depth = _depth(sheet, day, sources, morning)
    sheet.given("min_depth", day["min_depth"], "mm", sources.get("min_depth", rule))
    worth = depth >= day["min_depth"]
    sheet.line("worth", "{depth} >= {min_depth}", float(worth), YES_OR_NO, "rule: smallest depth")
    net = reached * growing * rested * (not morning.late) * worth * depth
    extra = day["extra_irrigation"]
    sheet.line(
        "by_rule" if extra > 0 else "irrigation_net",
        "{reached} * {growing} * {rested} * {in_time} * {worth} * {depth}",
        net,
        "mm",
        "rule",
    )

    if extra > 0:
        sheet.given(
            "extra_irrigation",
            extra,
            "mm",
            f"planned on top of the rule{': ' * bool(morning.planned)}{morning.planned}",
        )
        sheet.line("irrigation_net", "{by_rule} + {extra_irrigation}", net + extra, "mm", "rule and plan")
    evening = f"the evening before, depletion of {_said(v[depletion_before])}"
    limit = f"the allowable {_said(allowance)}"
    reason = f"{evening} had reached {limit}"
    if extra > 0:
        plan = f"{_said(extra)} as planned{f' ({morning.planned})' if morning.planned else ''}"
        reason = f"{plan}, and {reason}" if net > 0 else plan
    hindrances = (
        (growing, "no crop stands"),
        (
            reached,
            f"{evening} had not reached {limit}",
        ),
        (
            rested,
            f"day {days:g} since the last irrigation, and the rule waits for day {day['min_interval']:g}",
        ),
        (not morning.late, f"the rule's last date, {morning.last_date}, has passed"),
        (worth, f"a depth of {_said(depth)} is below the rule's smallest, {_said(day['min_depth'])}"),
    )
    found = [text for fine, text in hindrances if not fine]
    return reason, "; ".join(found) or "the depth came to 0 mm"


def _depth(sheet: Sheet, day: Mapping[str, float], sources: Mapping[str, str], morning: Morning) -> float:
    """Take down the net depth that an irrigation would have today."""
    v = sheet.values
    if math.isnan(day["net_depth"]):
        sheet.given("refill_to", day["refill_to"], "1", sources.get("refill_to", "rule"))
        depletion, taw = morning.names[-2:] if morning.to_fill is None else morning.to_fill[:2]
        refill = max(v[depletion] - day["refill_to"] * v[taw], 0.0)
        formula = f"max({{{depletion}}} - {{refill_to}} * {{{taw}}}, 0)"
        if morning.to_fill is not None:
            share = morning.to_fill[-1]
            evenly = sheet.given("over_application", day["over_application"], "1", _COVERS)
            if v[share] > 0:  # a spot without water is the last one only on a day when it lacks nothing
                refill *= max(1.0 / v[share], evenly)
                formula = f"{formula} * max(1 / {{{share}}}, {{over_application}})"
        elif day["over_application"] != 1.0:
            refill *= sheet.given("over_application", day["over_application"], "1", _COVERS)
            formula = f"{{over_application}} * {formula}"
        wanted = sheet.line(
            "refill", formula, refill, "mm", "rule: refill today's depletion, after root growth"
        )
        name = "refill"
    else:
        wanted = sheet.given("net_depth", day["net_depth"], "mm", sources.get("net_depth", "rule"))
        name = "net_depth"
    if math.isnan(day["max_depth"]):
        return sheet.line("depth", f"{{{name}}}", wanted, "mm", "rule")
    sheet.given("max_depth", day["max_depth"], "mm", sources.get("max_depth", "rule"))
    formula = f"min({{{name}}}, {{max_depth}})"
    return sheet.line("depth", formula, min(wanted, day["max_depth"]), "mm", "rule: largest depth")


def _supply(sheet: Sheet, day: Mapping[str, float], sources: Mapping[str, str], net: float) -> None:
    """Take down the gross depth, and what each link of the chain loses of it."""
    # The one number that stands for all losses of the field keeps the name it was given under.
    whole = "delivered_fraction" if math.isnan(day["efficiency"]) else "efficiency"
    links = [link for link in LINKS[:-1] if day[link.fraction] > 0]
    factors = []
    for link in links:
        source = f"{link.kind}: {sources.get(link.fraction, 'the soil takes in less than the peak rate')}"
        sheet.given(link.fraction, day[link.fraction], "1", source)
        factors.append(f"(1 - {{{link.fraction}}})")
    if not math.isnan(day[whole]):
        sheet.given(whole, day[whole], "1", sources.get(whole, "given by the user"))
        factors.append(f"{{{whole}}}")
    product = " * ".join(factors) or "1"
    divisor = f"({product})" if len(factors) > 1 else product
    identity = "common practice: gross = net / what every link of the chain lets pass"
    if not links and not math.isnan(day[whole]):
        identity = f"common practice: gross = net / {whole.replace('_', ' ')}"
    gross = sheet.line(
        "irrigation_gross", f"{{irrigation_net}} / {divisor}", net / day["gross_to_net"], "mm", identity
    )
    arriving = "{irrigation_gross}"
    left = gross
    for link in links:
        depth = left * day[link.fraction]
        formula = (
            f"({arriving}) * {{{link.fraction}}}" if left != gross else f"{arriving} * {{{link.fraction}}}"
        )
        sheet.line(link.loss, formula, depth, "mm", f"{link.title}: of what arrives there")
        arriving, left = f"{arriving} - {{{link.loss}}}", left - depth
    if not math.isnan(day[whole]):
        formula = f"({arriving}) * (1 - {{{whole}}})" if links else f"{arriving} * (1 - {{{whole}}})"
        source = "what one number says is lost: it is not attributed"
        sheet.line("unattributed_loss", formula, left * (1 - day[whole]), "mm", source)
    sheet.line(
        "application_loss", "{irrigation_gross} - {irrigation_net}", gross - net, "mm", "all that is lost"
    )


def _said(depth: float) -> str:
    """Write a depth into a sentence: four figures do."""
    return f"{depth:.4g} mm"
