"""The chain of losses between the pump and the soil, link by link, and what each loss is.

A link is known as the part of the water *arriving at it* that is lost there. What reaches the soil is
therefore the product of what each link lets pass.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, NamedTuple

import xarray as xr

from waterbudget.checks import note_where
from waterbudget.errors import Faults

LossKind = Literal["unavoidable", "intended", "waste", "unattributed"]
"""What a loss is: one that every good system has, one that is wanted (leaching of salts), one that can be
mended, or one of which only the sum is known."""


class Link(NamedTuple):
    """One link of the chain.

    Attributes
    ----------
    fraction : str
        Name of the part lost [1], in `System` and among the parameters of a result.
    loss : str
        Name of the depth lost, a daily variable of a result.
    kind : LossKind
    title : str
        For people.
    """

    fraction: str
    loss: str
    kind: LossKind
    title: str


LINKS = (
    Link("leak_fraction", "leak_loss", "waste", "leaks"),
    Link("conveyance_fraction", "conveyance_loss", "unavoidable", "conveyance"),
    Link("spray_fraction", "spray_loss", "unavoidable", "spray evaporation and wind drift"),
    Link("canopy_fraction", "canopy_loss", "unavoidable", "kept by the canopy"),
    Link("runoff_fraction", "irrigation_runoff", "waste", "runoff of irrigation"),
    Link("unattributed_fraction", "unattributed_loss", "unattributed", "known only as one fraction"),
)
"""The links in the order in which the water meets them."""


def passed(fractions: Mapping[str, Any]) -> Any:
    """Give the part of the water that passes all links.

    Parameters
    ----------
    fractions : mapping of str to float or array
        Part lost at each link [1], by the names in `LINKS`; a link that is absent loses nothing.

    Returns
    -------
    float or array
        The product of ``1 - fraction`` [1].
    """
    part: Any = 1.0
    for link in LINKS:
        if link.fraction in fractions:
            part = part * (1.0 - fractions[link.fraction])
    return part


def lost(gross: Any, fractions: Mapping[str, Any]) -> dict[str, Any]:
    """Give the depth lost at each link.

    Parameters
    ----------
    gross : float or array
        Depth supplied [mm].
    fractions : mapping of str to float or array
        As in `passed`.

    Returns
    -------
    dict of str to float or array
        Depths [mm] by the names of the losses, in the order of the chain; together they are what `passed`
        leaves out of ``gross``. Links that are absent are left out.
    """
    losses: dict[str, Any] = {}
    arriving, loss = gross, None
    for link in LINKS:
        if link.fraction in fractions:
            arriving = arriving if loss is None else arriving - loss
            loss = losses[link.loss] = arriving * fractions[link.fraction]
    return losses


LEAST_LEFT = 0.01
"""Least part of the water that the chain must leave: as one link may lose 0.99."""


def check_left(
    left: xr.DataArray,
    faults: Faults,
    mend: str = "see that each is the part lost of what arrives there, and not the part that passes",
) -> None:
    """Note a chain that leaves next to nothing: the gross depth would have no bound.

    Parameters
    ----------
    left : DataArray
        Part of the water that passes all links [1].
    faults : Faults
    mend : str
    """
    note_where(
        faults,
        "the links of the chain",
        "leave next to nothing of the water",
        left < LEAST_LEFT,
        {"part left": left},
        allowed=f"{LEAST_LEFT:g} or more",
        mend=mend,
    )
