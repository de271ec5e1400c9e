"""Where system, soil and rule meet: what runs off, what spots receive, and how much covers what they lack."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget.balance.drivers import Spots
from waterbudget.balance.layout import Cells
from waterbudget.balance.rule import Rule
from waterbudget.balance.watch import filling_depth, spot_mean, wanted_depths, watch_weight
from waterbudget.checks import note_where
from waterbudget.descriptions import Number
from waterbudget.errors import Faults
from waterbudget.soil import Storage
from waterbudget.system import Delivery
from waterbudget.system.losses import check_left

Array = NDArray[np.float64]

_ROUNDING = 1e-9
"""Rounding that the mean share of a pattern may have."""


class Watering(NamedTuple):
    """How the water of an irrigation is spread and watched.

    Attributes
    ----------
    spots : Spots
    over_application : ndarray, shape (cells,) or (1,)
        Mean depth over the field for each mm that the watched spots lack [1].
    driest : ndarray or None, shape (cells,) or (1,)
        1 where the decision looks at the driest quarter; None where no cell does.
    adequacy : ndarray or None, shape (cells,) or (1,)
        Part of the watched spots to be filled [1]; NaN where their mean is refilled, None where that is so in
        every cell.
    wetted_volume : ndarray or None, shape (1, cells) or (1, 1)
        Part of the root zone that is wetted, 1 where all of it; None where no cell has one.
    """

    spots: Spots
    over_application: Array
    driest: Array | None
    adequacy: Array | None
    wetted_volume: Array | None


def meet_intake(delivery: Delivery, storage: Storage, faults: Faults) -> Delivery:
    """Let irrigation run off where it comes faster than the soil takes it in.

    The part that runs off is ``1 - intake / peak rate``: no water waits on the surface. A peak rate without
    an intake is a fault, and so is a soil that takes next to nothing in.
    """
    intake, peak = xr.DataArray(storage.intake_rate), xr.DataArray(delivery.peak_application_rate)
    if not bool(peak.notnull().any()):
        return delivery
    check_intake(intake, peak, faults)
    excess = 1.0 - intake / peak
    known = excess.notnull()
    runoff = excess.where(excess > 0.0, 0.0).where(known, delivery.runoff_fraction)
    left = delivery.gross_to_net * (1.0 - runoff.where(known, 0.0))
    check_left(
        left.where(known),
        faults,
        mend="see the units of the soil's intake_rate and of peak_application_rate; a soil that takes in so "
        "little cannot be irrigated at that rate",
    )
    return delivery._replace(runoff_fraction=_plain(runoff), gross_to_net=_plain(left))


def check_intake(intake: xr.DataArray, peak: xr.DataArray, faults: Faults) -> None:
    """Note a peak rate that nothing is compared with: it would lose nothing, whatever it is."""
    note_where(
        faults,
        "peak_application_rate",
        "means nothing without the intake rate of the soil",
        peak.notnull() & intake.isnull(),
        {"peak_application_rate": peak},
        allowed="beside intake_rate [mm/h]",
        mend="give the soil's intake_rate beside it, or runoff_fraction in its place",
    )


def check_days(delivery: Delivery, time: pd.DatetimeIndex, faults: Faults) -> None:
    """Note a daily spray loss that is not on the days of the weather."""
    loss = delivery.spray_fraction
    if isinstance(loss, xr.DataArray) and "time" in loss.dims and not loss.indexes["time"].equals(time):
        faults.add(
            "system spray_fraction",
            "is not on the days of the weather",
            value=f"{loss.sizes['time']} days",
            allowed=f"every day from {time[0]:%Y-%m-%d} to {time[-1]:%Y-%m-%d}",
            mend="work it out from the weather of the run",
        )


def make_watering(delivery: Delivery, rule: Rule | None, cells: Cells, faults: Faults) -> Watering:
    """Spread the pattern over the cells, and work out how much covers what the watched spots lack.

    Parameters
    ----------
    delivery : Delivery
    rule : Rule or None
    cells : Cells
    faults : Faults
        Takes an adequacy that no depth can give.

    Returns
    -------
    Watering
    """
    share, weight, watched = (
        cells.spread_spots(part)
        for part in (delivery.spot_share, delivery.spot_weight, delivery.spot_watched)
    )
    watch = watch_weight(weight, watched)
    shares, weights = np.broadcast_arrays(share, watch)
    mean = spot_mean(shares, weights)
    # A pattern whose mean is 1 must not change the last bits of a depth.
    mean = np.where(np.abs(mean - 1.0) < _ROUNDING, 1.0, mean)
    adequacy = None if rule is None or rule.adequacy is None else cells.spread(rule.adequacy)
    if adequacy is not None:
        asked = ~np.isnan(adequacy)
        wanted = wanted_depths(np.ones(shares.shape), shares, 1.0 / mean)
        evenly = filling_depth(wanted, weights, np.where(asked, adequacy, 1.0))
        dry = asked & np.isinf(evenly)
        if dry.any():
            faults.add(
                "rule adequacy",
                "asks for a part of the field that no water reaches",
                where=cells.name(np.broadcast_to(dry, (cells.count,))) if cells.dims else "",
                value=f"{np.broadcast_to(adequacy, dry.shape)[dry][0]:g}",
                count=int(dry.sum()),
                allowed="at most the part whose spots have a share above 0",
                mend="mend the system first, or take a part without water out: System.with_part",
            )
        if len(share) == 1 or not asked.any():
            adequacy = None
    asked_driest = None if rule is None else cells.spread(rule.watch_driest_quarter)
    driest = asked_driest if asked_driest is not None and asked_driest.any() and len(share) > 1 else None
    volume = xr.DataArray(delivery.wetted_volume)
    wetted = None if not bool(volume.notnull().any()) else cells.spread(_plain(volume.fillna(1.0)))[None]
    return Watering(Spots(share, weight, watch), 1.0 / mean, driest, adequacy, wetted)


def _plain(value: xr.DataArray) -> Number:
    return value if value.dims else float(value)


def fractions_of(delivery: Delivery) -> dict[str, Number]:
    """Give the links that lose anything, by name."""
    return {
        name: value for name, value in delivery.fractions.items() if bool((xr.DataArray(value) != 0.0).any())
    }
