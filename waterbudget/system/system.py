"""System, the description: what the irrigation system does to the water between pump and root zone."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import xarray as xr

from waterbudget import handbook
from waterbudget.arguments import plain
from waterbudget.checks import labelled_fields
from waterbudget.descriptions import Number, Origin, flag, freeze, number, with_sources
from waterbudget.errors import Faults, brief, collect
from waterbudget.system.catch_cans import CatchCans
from waterbudget.system.check import check_system
from waterbudget.system.distribution import DistributionKind, quantile_shares
from waterbudget.system.emitters import pattern as emitter_pattern
from waterbudget.system.spray import source_of

_NUMBERS = {
    "efficiency": "efficiency",
    "delivered_fraction": "delivered_fraction",
    "leak_fraction": "leak_fraction",
    "conveyance_fraction": "conveyance_fraction",
    "spray_fraction": "spray_fraction",
    "canopy_fraction": "canopy_fraction",
    "runoff_fraction": "runoff_fraction",
    "peak_application_rate": "peak_application_rate",
    "wetted_fraction": "system_wetted_fraction",
    "wetted_volume": "wetted_volume",
    "application_rate": "application_rate",
    "flow": "flow",
    "area": "area",
    "lift": "lift",
    "operating_pressure": "operating_pressure",
    "pump_efficiency": "pump_efficiency",
}


@dataclass(frozen=True, kw_only=True, eq=False)
class System:
    """An irrigation system on a field.

    Every number may be a float in the unit given, text with a unit (``"90 gpm"``, ``"0.3 in/h"``),
    or a DataArray on label dimensions such as ``field`` or ``system``.

    What is lost between pump and root zone is told in one of two ways: as one ``efficiency``, which stays
    one unattributed loss, or link by link, each as part of the water that arrives there. A link that is not
    given loses nothing.

    Parameters
    ----------
    efficiency : number, optional
        Application efficiency as one lumped number [1], above 0 and at most 1: net depth over
        the depth supplied to the field. A percentage is refused, not guessed. Of the links, only leaks and
        conveyance may stand beside it: they lie before the field.
    delivered_fraction : number, optional
        Instead of ``efficiency``, beside ``spot_share``: part of the water supplied that reaches
        the soil [1], as one number. How evenly it arrives is then simulated, spot by spot.
    leak_fraction : number, optional
        Part of the water pumped that leaks away [1], 0-0.99. Waste.
    conveyance_fraction : number, optional
        Part that seeps or evaporates on the way to the field [1], 0-0.99.
    spray_fraction : number or daily series on ``time``, optional
        Part that evaporates or drifts away as spray [1], 0-0.99; `waterbudget.system.spray_loss` gives it by
        the day's wind.
    canopy_fraction : number, optional
        Part that the canopy keeps and loses to the air [1], 0-0.99.
    runoff_fraction : number, optional
        Part of what reaches the soil that runs off [1], 0-0.99. Waste.
    peak_application_rate : number, optional
        In place of ``runoff_fraction``: greatest rate at which water reaches the soil [mm h-1]. What exceeds
        the ``intake_rate`` of the soil runs off, as if the rate stood at its peak all the time: an upper
        bound under a pattern that rises and falls, as of a pivot. Give ``runoff_fraction`` where it is seen.
    wetted_fraction : number
        Part of the soil surface that an irrigation wets [1], 0.01-1 (FAO-56 Table 20); beside a
        ``wetted_volume`` at most that.
    wetted_volume : number, optional
        Part of the root zone's volume that emitters wet [1], 0.01-1. Irrigation then refills that part alone,
        rain all of it, and the roots draw on both. Without it irrigation reaches the whole root zone.
    application_rate : number, optional
        Depth that the pump supplies per hour, mean of the whole field [mm h-1]: what is measured at the
        nozzles, over the part that leaks and conveyance leave.
    flow : number, optional
        Flow of the system [m3 h-1]; with ``area`` it gives the hours.
    area : number, optional
        Area of the field [ha]; needed for volumes.
    lift : number, optional
        Height from the water in the source to the field [m]; with ``pump_efficiency`` it gives the energy.
    operating_pressure : number, optional
        Pressure that the pump must give beside the lift, friction included [kPa].
    pump_efficiency : number, optional
        Water power over the power taken from the line or the tank [1].
    subsurface : bool
        Water enters below the evaporation layer and does not wet the surface.
    under_canopy : bool
        Drip under the plants: the wetted fraction is reduced by ``1 - 2/3 cover`` (Table 20, note).
    spot_share : DataArray on ``spot``, or sequence of numbers, optional
        Depth at each spot of an uneven pattern over the mean depth of the field [1]; the weighted mean is 1.
    spot_weight : DataArray on ``spot``, or sequence of numbers, optional
        Part of the field that each spot stands for [1]; they add up to 1. Equal when not given.
    spot_watched : DataArray on ``spot``, or sequence of 0 and 1, optional
        0 for a part of the field that the decision does not look at: a corner without water. All are
        watched when not given.
    provenance : mapping
        Filled by the class methods; not for the user.

    Raises
    ------
    InputError
        With every fault of the description at once.

    Examples
    --------
    >>> System(efficiency=0.8, flow="500 gpm", area="60 acre")
    >>> System(leak_fraction=0.03, spray_fraction=0.08, flow="500 gpm", area="60 acre")
    """

    efficiency: Any = None
    delivered_fraction: Any = None
    leak_fraction: Any = None
    conveyance_fraction: Any = None
    spray_fraction: Any = None
    canopy_fraction: Any = None
    runoff_fraction: Any = None
    peak_application_rate: Any = None
    wetted_fraction: Any = field(
        default=1.0, metadata={"source": "default: all the surface (sprinkler, FAO-56 Table 20)"}
    )
    wetted_volume: Any = None
    application_rate: Any = None
    flow: Any = None
    area: Any = None
    lift: Any = None
    operating_pressure: Any = None
    pump_efficiency: Any = None
    subsurface: Any = field(default=False, metadata={"source": "default: on the surface"})
    under_canopy: Any = field(default=False, metadata={"source": "default: not under the plants"})
    spot_share: Any = None
    spot_weight: Any = None
    spot_watched: Any = None
    provenance: Mapping[str, Origin] = field(default_factory=dict, repr=False)

    def __post_init__(self) -> None:
        """Bring every value to its canonical form; raise all faults together."""
        with collect() as faults:
            changes: dict[str, Any] = {}
            for name, row in _NUMBERS.items():
                value = getattr(self, name)
                if value is not None:
                    changes[name] = number(value, row, faults, what=name, optional=name != "wetted_fraction")
            for name in ("subsurface", "under_canopy"):
                changes[name] = flag(getattr(self, name), name, faults)
            for name in ("spot_share", "spot_weight", "spot_watched"):
                value = getattr(self, name)
                if value is not None:
                    changes[name] = _spots(value, name, faults)
            source = source_of(self.spray_fraction)
            if source:
                loss = changes["spray_fraction"]
                if isinstance(loss, xr.DataArray):
                    # The provenance has it from now on, also where systems are joined.
                    loss = changes["spray_fraction"] = loss.copy(deep=False)
                    loss.attrs = {}
                changes["provenance"] = {**self.provenance, "spray_fraction": Origin(loss, source)}
            if isinstance(changes.get("spot_share"), xr.DataArray):
                # Equal parts and a watch on all are written out, so that patterns can be joined.
                ones = xr.DataArray(np.ones(changes["spot_share"].sizes["spot"]), dims="spot")
                usual = {
                    "spot_weight": (ones / ones.size, "default: equal parts"),
                    "spot_watched": (ones, "default: all"),
                }
                absent = {
                    name: Origin(*values) for name, values in usual.items() if getattr(self, name) is None
                }
                changes |= {name: origin.value for name, origin in absent.items()}
                changes["provenance"] = {**changes.get("provenance", self.provenance), **absent}
            freeze(self, changes)
            if labelled_fields(self, faults):
                check_system(self, faults)

    @classmethod
    def from_handbook(
        cls, name: str, *, area: Any = None, flow: Any = None, application_rate: Any = None
    ) -> System:
        """Describe a system by the usual application efficiency of its kind.

        Parameters
        ----------
        name : str
            Kind of system: ``"centre pivot"``, ``"drip"``. A name that fits several rows lists them.
        area, flow, application_rate : number, optional
            As in `System`.

        Returns
        -------
        System
            Vary it with ``dataclasses.replace``. A measured efficiency is better than a usual one. The tables
            have no pattern of spots and no wetted volume: irrigation refills the whole root zone, and evenly.

        Raises
        ------
        InputError
            Unknown or ambiguous name, or a kind for which only a bound is known.
        """
        row = handbook.system(name)
        system = cls(
            efficiency=row.efficiency,
            wetted_fraction=row.wetted_fraction,
            subsurface=row.subsurface,
            under_canopy=row.under_canopy,
            area=area,
            flow=flow,
            application_rate=application_rate,
        )
        kind = f"handbook: {row.name}"
        return with_sources(system, {**row.sources, "subsurface": kind, "under_canopy": kind})

    @classmethod
    def from_catch_cans(
        cls,
        depths: Any = None,
        *,
        volumes: Any = None,
        can_diameter: Any = None,
        duration: Any = None,
        distance: Any = None,
        delivered_fraction: Any = None,
        flow: Any = None,
        area: Any = None,
        **links: Any,
    ) -> System:
        """Describe a system by what cans caught: each can is a spot.

        Parameters
        ----------
        depths : CatchCans, or sequence of numbers, optional
            The whole test, or the depth in each can [mm].
        volumes : sequence of numbers, optional
            In place of depths, beside ``can_diameter``: the volume in each can [mL].
        can_diameter : number, optional
            Of the opening of a can [m].
        duration : number, optional
            Of the test [h].
        distance : sequence of numbers, optional
            Distance of each can from the pivot point [m]: cans then stand for rings.
        delivered_fraction : number, optional
            Part of the water supplied that reaches the ground [1]. Without it and without links, it is
            measured: the mean of the cans over what ``flow`` supplied to ``area`` in ``duration``.
        flow, area : number, optional
            As in `System`.
        **links
            In place of the delivered fraction, links of the chain: ``spray_fraction`` and others of
            `System`.

        Returns
        -------
        System
            With its pattern and, from cans, stopwatch and delivered fraction, its application rate where flow
            and area are not given.

        Raises
        ------
        InputError
            As `CatchCans` and `System` do, or when neither ``delivered_fraction`` nor links nor all of flow,
            area and duration are given, or the cans caught more than was supplied.
        """
        whole = isinstance(depths, CatchCans)
        beside = {
            "volumes": volumes,
            "can_diameter": can_diameter,
            "duration": duration,
            "distance": distance,
        }
        with collect() as faults:
            for name, value in beside.items():
                if whole and value is not None:
                    faults.add(name, "is given beside a whole test", mend="give it to CatchCans")
        cans = depths if whole else CatchCans(depths=depths, **beside)
        share, weight = cans.pattern()
        sources = {name: f"{len(share)} catch cans" for name in ("spot_share", "spot_weight")}
        rate = None
        with collect() as faults:
            flows = None if flow is None else number(flow, "flow", faults)
            hectares = None if area is None else number(area, "area", faults)
            if delivered_fraction is None and not links:
                delivered_fraction = _measured(cans, flows, hectares, faults)
                sources["delivered_fraction"] = "cans, stopwatch and flow meter: mean caught over supplied"
        if cans.duration is not None and (flow is None or area is None) and delivered_fraction is not None:
            with collect() as faults:
                part = number(delivered_fraction, "delivered_fraction", faults)
            rate = cans.mean / cans.duration / part
            sources["application_rate"] = "cans and stopwatch, over the delivered fraction"
        system = cls(
            delivered_fraction=delivered_fraction,
            spot_share=share,
            spot_weight=weight,
            application_rate=rate,
            flow=flow,
            area=area,
            **links,
        )
        return with_sources(system, sources)

    @classmethod
    def from_emitters(
        cls,
        flows: Any,
        *,
        emitters_per_plant: int = 1,
        wetted_fraction: Any,
        wetted_volume: Any = None,
        delivered_fraction: Any = None,
        flow: Any = None,
        area: Any = None,
        **links: Any,
    ) -> System:
        """Describe a drip system by measured emitters: each plant is a spot.

        Parameters
        ----------
        flows : sequence of numbers
            Flow of each emitter measured [L h-1].
        emitters_per_plant : int
            So many flows that follow one another feed one plant and are one spot: emitters that share a
            root system are not independent.
        wetted_fraction, wetted_volume, flow, area
            As in `System`.
        delivered_fraction : number
            Part of the water supplied that the emitters give [1]; 1 when nothing leaks.
        **links
            In its place, links of the chain: ``leak_fraction`` and others of `System`.

        Returns
        -------
        System
            Under the plants (``under_canopy``).

        Raises
        ------
        InputError
            As `System` does, and when flows are negative, none is above 0, or they do not make whole plants.
        """
        share, weight = emitter_pattern(flows, emitters_per_plant)
        system = cls(
            delivered_fraction=delivered_fraction,
            wetted_fraction=wetted_fraction,
            wetted_volume=wetted_volume,
            under_canopy=True,
            spot_share=share,
            spot_weight=weight,
            flow=flow,
            area=area,
            **links,
        )
        measured = f"{len(share)} plants with measured emitters"
        sources = {
            "spot_share": measured,
            "spot_weight": measured,
            "under_canopy": "emitters under the plants",
        }
        return with_sources(system, sources)

    @classmethod
    def from_distribution(
        cls,
        kind: DistributionKind,
        cv: float,
        *,
        spots: int = 20,
        delivered_fraction: Any = None,
        flow: Any = None,
        area: Any = None,
        **links: Any,
    ) -> System:
        """Describe a system by a distribution of depths over the field.

        Parameters
        ----------
        kind : {"normal", "uniform", "gamma", ...}
            As in `waterbudget.system.quantile_shares`.
        cv : float
            Coefficient of variation of the depths [1].
        spots : int
            Spots of equal weight, each the mean of its part of the distribution.
        delivered_fraction, flow, area
            As in `System`.
        **links
            In place of the delivered fraction, links of the chain: ``spray_fraction`` and others of
            `System`.

        Returns
        -------
        System

        Raises
        ------
        InputError
            As `System` does, and when shares would fall below 0, or a number is outside its range.
        """
        share = quantile_shares(kind, cv, spots)
        system = cls(delivered_fraction=delivered_fraction, spot_share=share, flow=flow, area=area, **links)
        return with_sources(
            system, {"spot_share": f"{kind} distribution with a coefficient of variation {cv:g}"}
        )

    def with_part(self, *, weight: float, share: float, watched: bool | None = None) -> System:
        """Add a part of the field that receives another depth: a corner, an end gun, a partial set.

        Parameters
        ----------
        weight : float
            Part of the whole field that it takes [1], above 0 and below 1; the spots so far share the rest.
        share : float
            Depth there over the mean depth of the rest [1]; 0 for a corner without water.
        watched : bool, optional
            Whether the decision looks at it. Without it: where it is watered.

        Returns
        -------
        System
            Depths, rate and area are those of the whole field: ``application_rate`` becomes its mean, and
            ``area`` is to hold the part.

        Raises
        ------
        InputError
            When a number is outside its range.
        """
        with collect() as faults:
            weight, share = (
                plain(value, what, faults, single=True)
                for what, value in (("weight", weight), ("share", share))
            )
            if watched is not None:
                flag(watched, "watched", faults)
        with collect() as faults:
            if not 0.0 < weight < 1.0:
                faults.add(
                    "weight",
                    "is not a part of the field",
                    value=f"{weight:g}",
                    allowed="above 0, below 1",
                    mend="the area of the part over that of the whole field, the part in it",
                )
            if not 0.0 <= share < np.inf:
                faults.add("share", "is negative or not known", value=f"{share:g}", allowed="0 or more")
        one = xr.DataArray([1.0], dims="spot")
        shares, weights, watch = (
            one if part is None else part for part in (self.spot_share, self.spot_weight, self.spot_watched)
        )
        mean = (1.0 - weight) + weight * share
        looked_at = share > 0.0 if watched is None else watched
        rate = None if self.application_rate is None else self.application_rate * mean
        return dataclasses.replace(
            self,
            application_rate=rate,
            spot_share=xr.concat([shares, share * one], "spot") / mean,
            spot_weight=xr.concat([weights * (1.0 - weight), weight * one], "spot"),
            spot_watched=xr.concat([watch, float(looked_at) * one], "spot"),
        )


def _measured(cans: CatchCans, flow: Number | None, area: Number | None, faults: Faults) -> Any:
    """Give what the cans caught over what the pump supplied meanwhile."""
    duration = cans.duration
    if duration is None or flow is None or area is None:
        measures = {"duration": duration, "flow": flow, "area": area}
        lacking = [name for name, value in measures.items() if value is None]
        faults.add(
            "delivered_fraction",
            f"is not given, and without {', '.join(lacking)} it cannot be measured",
            mend="measure it: give duration, flow and area; or give it, 1 - spray loss, or the links of the "
            "chain (spray_fraction, ...)",
        )
        return None
    supplied = flow * duration / (10.0 * area)
    part = cans.mean / supplied
    over = xr.DataArray(part > 1.0)
    if bool(over.any()):
        faults.add(
            "catch cans",
            "caught more than was supplied",
            value=f"{cans.mean:g} mm, supplied {float(xr.DataArray(supplied).min()):g} mm",
            mend="see that flow, area and duration are of the part of the field where the cans stood",
        )
    return part


def _spots(value: Any, name: str, faults: Faults) -> Number:
    """Bring shares, weights or flags to an array on ``spot``."""
    if not isinstance(value, xr.DataArray):
        try:
            value = xr.DataArray(np.asarray(value, dtype=np.float64), dims="spot")
        except (ValueError, TypeError):
            faults.add(name, "is not one row of numbers", value=brief(value), mend="[0.8, 1.0, 1.2]")
            return float("nan")
    if "spot" not in value.dims:
        faults.add(name, "needs the dimension spot", mend="xr.DataArray([...], dims='spot')")
        return float("nan")
    return flag(value, name, faults) if name == "spot_watched" else number(value, name, faults)
