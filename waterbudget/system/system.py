"""System, the description: what the irrigation system does to the water between pump and soil."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from waterbudget import handbook
from waterbudget.checks import labelled_fields, note_where
from waterbudget.descriptions import Number, Origin, flag, freeze, number, with_sources
from waterbudget.errors import Faults, collect

_NUMBERS = {
    "efficiency": "efficiency",
    "delivered_fraction": "delivered_fraction",
    "wetted_fraction": "system_wetted_fraction",
    "application_rate": "application_rate",
    "flow": "flow",
    "area": "area",
}


@dataclass(frozen=True, kw_only=True, eq=False)
class System:
    """An irrigation system on a field.

    Every number may be a float in the unit given, text with a unit (``"90 gpm"``, ``"0.3 in/h"``),
    or a DataArray on label dimensions such as ``field`` or ``system``.

    Parameters
    ----------
    efficiency : number, optional
        Application efficiency as one lumped number [1], above 0 and at most 1: net depth over
        gross depth. A percentage is refused, not guessed.
    delivered_fraction : number, optional
        Instead of ``efficiency``, beside ``spot_share``: part of the water supplied that reaches
        the soil [1]. How evenly it arrives is then simulated, spot by spot.
    wetted_fraction : number
        Part of the soil surface that an irrigation wets [1], 0.01-1 (FAO-56 Table 20).
    application_rate : number, optional
        Mean depth applied per hour [mm h-1].
    flow : number, optional
        Flow of the system [m3 h-1]; with ``area`` it gives the hours.
    area : number, optional
        Irrigated area [ha]; needed for volumes.
    subsurface : bool
        Water enters below the evaporation layer and does not wet the surface.
    under_canopy : bool
        Drip under the plants: the wetted fraction is reduced by ``1 - 2/3 cover`` (Table 20, note).
    spot_share : DataArray on ``spot``, or sequence of numbers, optional
        Depth at each spot of an uneven pattern over the mean depth [1]; the weighted mean is 1.
    spot_weight : DataArray on ``spot``, or sequence of numbers, optional
        Part of the field that each spot stands for [1]; they add up to 1. Equal when not given.
    provenance : mapping
        Filled by `from_handbook`; not for the user.

    Raises
    ------
    InputError
        With every fault of the description at once.

    Examples
    --------
    >>> System(efficiency=0.8, flow="500 gpm", area="60 acre")
    """

    efficiency: Any = None
    delivered_fraction: Any = None
    wetted_fraction: Any = field(
        default=1.0, metadata={"source": "default: all the surface (sprinkler, FAO-56 Table 20)"}
    )
    application_rate: Any = None
    flow: Any = None
    area: Any = None
    subsurface: Any = field(default=False, metadata={"source": "default: on the surface"})
    under_canopy: Any = field(default=False, metadata={"source": "default: not under the plants"})
    spot_share: Any = None
    spot_weight: Any = None
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
            for name in ("spot_share", "spot_weight"):
                value = getattr(self, name)
                if value is not None:
                    changes[name] = _spots(value, name, faults)
            freeze(self, changes)
            if labelled_fields(self, faults):
                _check(self, faults)

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
            Vary it with ``dataclasses.replace``. A measured efficiency is better than a usual one.

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


class Delivery(NamedTuple):
    """What the balance needs of a system: plain labelled numbers, NaN where not given.

    Attributes
    ----------
    gross_to_net : float or DataArray
        Net over gross depth [1].
    wetted_fraction, subsurface, under_canopy : float or DataArray
    application_rate, flow, area : float or DataArray
    spot_share, spot_weight : DataArray on ``spot``
        One spot of share and weight 1 when the pattern is not given.
    """

    gross_to_net: Number
    wetted_fraction: Number
    subsurface: Number
    under_canopy: Number
    application_rate: Number
    flow: Number
    area: Number
    spot_share: xr.DataArray
    spot_weight: xr.DataArray


def deliver(system: System | None) -> Delivery:
    """Work out the numbers that the balance needs of a system.

    Parameters
    ----------
    system : System or None
        None: the depth that enters the soil is all that is known; the gross depth is NaN.

    Returns
    -------
    Delivery
    """
    nan = float("nan")
    one = xr.DataArray([1.0], dims="spot")
    if system is None:
        return Delivery(nan, 1.0, 0.0, 0.0, nan, nan, nan, one, one)
    known = {name: nan if (value := getattr(system, name)) is None else value for name in _NUMBERS}
    share = one if system.spot_share is None else system.spot_share
    spots = share.sizes["spot"]
    weight = system.spot_weight
    if weight is None:
        weight = xr.DataArray(np.full(spots, 1.0 / spots), dims="spot")
    return Delivery(
        gross_to_net=known["efficiency"]
        if system.delivered_fraction is None
        else known["delivered_fraction"],
        wetted_fraction=known["wetted_fraction"],
        subsurface=system.subsurface,
        under_canopy=system.under_canopy,
        application_rate=known["application_rate"],
        flow=known["flow"],
        area=known["area"],
        spot_share=share,
        spot_weight=weight,
    )


def _check(system: System, faults: Faults) -> None:
    """Note what does not fit together."""
    if system.spot_share is not None and system.efficiency is not None:
        faults.add(
            "efficiency",
            "is one lumped number beside spots: unevenness would count twice",
            mend="give delivered_fraction (what reaches the soil) in its place",
        )
    if system.spot_share is None and system.delivered_fraction is not None:
        faults.add("delivered_fraction", "needs spot_share beside it", mend="or give efficiency")
    if system.efficiency is None and system.delivered_fraction is None:
        faults.add(
            "efficiency",
            "is missing",
            allowed="above 0 and at most 1",
            mend="measure it, or take the usual one: System.from_handbook('centre pivot')",
        )
    given = system.efficiency if system.delivered_fraction is None else system.delivered_fraction
    if isinstance(given, xr.DataArray):
        note_where(faults, "efficiency", "is not given for every label", given.isnull(), {})
    if system.application_rate is not None and system.flow is not None and system.area is not None:
        both = (
            xr.DataArray(system.application_rate).notnull()
            & xr.DataArray(system.flow).notnull()
            & xr.DataArray(system.area).notnull()
        )
        if bool(both.any()):
            faults.add(
                "application_rate, flow", "say the same thing twice", mend="give one of them with the area"
            )
    _check_spots(system, faults)


def _spots(value: Any, name: str, faults: Faults) -> Number:
    """Bring shares or weights to an array on ``spot``."""
    if not isinstance(value, xr.DataArray):
        try:
            value = xr.DataArray(np.asarray(value, dtype=np.float64), dims="spot")
        except (ValueError, TypeError):
            faults.add(name, "is not one row of numbers", value=repr(value)[:60], mend="[0.8, 1.0, 1.2]")
            return float("nan")
    if "spot" not in value.dims:
        faults.add(name, "needs the dimension spot", mend="xr.DataArray([...], dims='spot')")
        return float("nan")
    return number(value, name, faults)


def _check_spots(system: System, faults: Faults) -> None:
    """Note shares and weights that do not make one field."""
    share, weight = system.spot_share, system.spot_weight
    if share is None:
        if weight is not None:
            faults.add("spot_weight", "needs spot_share beside it")
        return
    if not isinstance(share, xr.DataArray):
        return  # its fault is noted
    spots = share.sizes["spot"]
    if weight is None:
        weight = xr.DataArray(np.full(spots, 1.0 / spots), dims="spot")
    if not isinstance(weight, xr.DataArray) or weight.sizes.get("spot") != spots:
        faults.add("spot_weight", "does not match spot_share", allowed=f"{spots} weights on spot")
        return
    if bool((np.abs(weight.sum("spot") - 1.0) > 1e-9).any()):
        faults.add("spot_weight", "do not add up to 1", value=f"{float(weight.sum('spot').max()):g}")
    if bool((np.abs((weight * share).sum("spot") - 1.0) > 1e-9).any()):
        faults.add(
            "spot_share",
            "does not average 1",
            value=f"{float((weight * share).sum('spot').max()):g}",
            mend="divide the depths by their weighted mean",
        )
