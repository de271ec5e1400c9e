"""From a system's description to the plain numbers that the balance needs."""

from __future__ import annotations

from typing import NamedTuple

import xarray as xr

from waterbudget.descriptions import Number
from waterbudget.system.losses import LINKS, passed
from waterbudget.system.system import System


class Delivery(NamedTuple):
    """What the balance needs of a system: plain labelled numbers, NaN where not given.

    Attributes
    ----------
    gross_to_net : float or DataArray
        Net over gross depth [1]; on ``time`` where a loss changes from day to day.
    leak_fraction, conveyance_fraction, spray_fraction, canopy_fraction, runoff_fraction : float or DataArray
        Part lost at each link [1], 0 where the link is not known.
    unattributed_fraction : float or DataArray
        Part lost that is known only as one fraction, an efficiency or a delivered fraction [1], else 0.
    peak_application_rate : float or DataArray
        Greatest rate at which irrigation reaches the soil [mm h-1].
    wetted_fraction : float or DataArray
        Of the surface of the field or, where a wetted volume is given, of the ground above it.
    subsurface, under_canopy : float or DataArray
    application_rate, flow, area, lift, operating_pressure, pump_efficiency : float or DataArray
    wetted_volume : float or DataArray
        Part of the root zone's volume that irrigation wets [1].
    spot_share, spot_weight, spot_watched : DataArray on ``spot``
        One watched spot of share and weight 1 when the pattern is not given. Where a wetted volume is
        given, the wetted parts of all spots come first and their dry parts after them.
    """

    gross_to_net: Number
    leak_fraction: Number
    conveyance_fraction: Number
    spray_fraction: Number
    canopy_fraction: Number
    runoff_fraction: Number
    unattributed_fraction: Number
    peak_application_rate: Number
    wetted_fraction: Number
    subsurface: Number
    under_canopy: Number
    application_rate: Number
    flow: Number
    area: Number
    lift: Number
    operating_pressure: Number
    pump_efficiency: Number
    wetted_volume: Number
    spot_share: xr.DataArray
    spot_weight: xr.DataArray
    spot_watched: xr.DataArray

    @property
    def fractions(self) -> dict[str, Number]:
        """Part lost at each link, by name."""
        return {link.fraction: getattr(self, link.fraction) for link in LINKS}


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
    share, weight, watched = pattern(system)
    if system is None:
        links = dict.fromkeys((link.fraction for link in LINKS), 0.0)
        return Delivery(
            gross_to_net=nan,
            **links,
            peak_application_rate=nan,
            wetted_fraction=1.0,
            subsurface=0.0,
            under_canopy=0.0,
            application_rate=nan,
            flow=nan,
            area=nan,
            lift=nan,
            operating_pressure=nan,
            pump_efficiency=nan,
            wetted_volume=nan,
            spot_share=share,
            spot_weight=weight,
            spot_watched=watched,
        )
    useful = _known(system.efficiency, 1.0) * _known(system.delivered_fraction, 1.0)  # no label has both
    known = {link.fraction: _known(getattr(system, link.fraction), 0.0) for link in LINKS[:-1]}
    volume = _known(system.wetted_volume, nan)
    fraction = system.wetted_fraction
    if bool(xr.DataArray(volume).notnull().any()):
        wet = xr.DataArray(volume).fillna(1.0)
        above = xr.DataArray(fraction) / wet
        # More than the volume only where nothing wets the surface (`check_system`), and no one asks.
        fraction = _plain(above.where(above < 1.0, 1.0))
        share = xr.concat([share / wet, 0.0 * share / wet], "spot")
        weight = xr.concat([weight * wet, weight * (1.0 - wet)], "spot")
        watched = xr.concat([watched, 0.0 * watched], "spot")
    return Delivery(
        # The efficiency as it was given, and not 1 - (1 - efficiency), which has other bits.
        gross_to_net=_plain(passed(known) * useful),
        **known,
        unattributed_fraction=_plain(1.0 - useful),
        peak_application_rate=_known(system.peak_application_rate, nan),
        wetted_fraction=fraction,
        subsurface=system.subsurface,
        under_canopy=system.under_canopy,
        application_rate=_known(system.application_rate, nan),
        flow=_known(system.flow, nan),
        area=_known(system.area, nan),
        lift=_known(system.lift, nan),
        operating_pressure=_known(system.operating_pressure, nan),
        pump_efficiency=_known(system.pump_efficiency, nan),
        wetted_volume=volume,
        spot_share=share,
        spot_weight=weight,
        spot_watched=watched,
    )


def pattern(system: System | None) -> tuple[xr.DataArray, xr.DataArray, xr.DataArray]:
    """Give share, weight and watch of a system's spots; one of each, 1, where it has no pattern."""
    one = xr.DataArray([1.0], dims="spot")
    if system is None or system.spot_share is None:
        return one, one, one
    return system.spot_share, system.spot_weight, system.spot_watched


def _known(value: Number | None, otherwise: float) -> Number:
    """Give a number, and another where it is not given."""
    if value is None:
        return otherwise
    if isinstance(value, xr.DataArray):
        return value.fillna(otherwise)
    return value


def _plain(value: Number) -> Number:
    """Make an array without dimensions a float."""
    return value if isinstance(value, xr.DataArray) and value.dims else float(value)
