"""One picture of one season: the water missing from the root zone, and the water that came."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from waterbudget.balance import LOOKED_AT, watched_mean, weights_looked_at
from waterbudget.errors import collect
from waterbudget.report.frames import (
    UnitSystem,
    check_season,
    check_units,
    label_dims,
    over_spots,
    shown_unit,
)
from waterbudget.report.plants import parted

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_NEEDED = (
    "depletion",
    "taw",
    "raw",
    "allowable_depletion",
    "crop_stage",
    "root_depth",
    "rain",
    "irrigation_net",
    "capillary_rise",
    "rule_free",
    "extra_irrigation",
    "wetted_volume",
)
_SOIL = "#6b4f3a"
_SOIL_FILL = "#e9dfd3"
_LIMIT = "#b3541e"
_RAIN = "#9db4c6"
_IRRIGATION = "#1f5f6b"
_RECORDED = "#7fb5b0"
_RISE = "#7d6aa8"
_INK = "#333333"


def plot_season(season: xr.Dataset, ax: Axes | None = None, *, units: UnitSystem = "metric") -> Axes:
    """Draw depletion through a season with its limits, and rain, irrigation and capillary rise above it.

    One scale of depth serves both: what came stands above the line of field capacity, what is missing from
    the root zone hangs below it. Where the field has spots, or emitters wet a part of the root zone, the
    lines are of those that the decision looks at and the bars are means of the field, as the legend says.

    Parameters
    ----------
    season : Dataset
        Daily result of `simulate` for one field: no label dimension left.
    ax : matplotlib Axes, optional
        Where to draw. Without it a new figure is made with pyplot.
    units : {"metric", "us"}
        Depths in mm or in.

    Returns
    -------
    matplotlib Axes
        The axes drawn on.

    Raises
    ------
    InputError
        When the season is not a daily result, still has label dimensions, or `units` is unknown.
    ImportError
        When matplotlib is not installed.
    """
    check_units(units)
    check_season(season, (*_NEEDED, *LOOKED_AT))
    _check_single(season)
    place = "the root zone"
    if "spot" in season.dims:
        place = "the wetted part" if parted(season) else "the spots looked at"
    bars_of = "" if place == "the root zone" else ", mean of the field"
    weights = weights_looked_at(season, season["depletion"], season["taw"])
    looked_at = {name: watched_mean(season[name], weights) for name in ("depletion", "taw", "raw")}
    season = over_spots(season.assign(looked_at), _NEEDED)
    try:
        dates: Any = import_module("matplotlib.dates")  # its names carry no types
        from matplotlib import ticker
    except ImportError as error:
        message = "plot_season needs matplotlib: pip install waterbudget[plots]"
        raise ImportError(message) from error
    if ax is None:
        from matplotlib import pyplot

        _, ax = pyplot.subplots(figsize=(9.0, 4.5), layout="constrained")

    suffix, size = shown_unit("mm", units)
    days = season["time"].to_numpy()
    depletion, taw = (season[name].to_numpy() / size for name in ("depletion", "taw"))
    rain, irrigation, risen = (
        season[name].to_numpy() / size for name in ("rain", "irrigation_net", "capillary_rise")
    )
    at_stress = bool(np.isnan(season["allowable_depletion"]))
    # with a rule "at stress" the readily available water is the limit; the two need not differ in length
    limit = season["raw"] if at_stress else season["allowable_depletion"] * season["taw"]
    limit = limit.where(season["crop_stage"] > 0)  # bare soil has no limit: nothing is irrigated on it

    # At harvest the root zone becomes shallow: a new line begins, or it would look like a watering.
    ends = np.flatnonzero(np.diff(season["root_depth"].to_numpy()) < 0) + 1
    for number, part in enumerate(np.split(np.arange(len(days)), ends)):
        label = f"depletion of {place}" if number == 0 else None
        ax.fill_between(days[part], 0.0, depletion[part], color=_SOIL_FILL, linewidth=0)
        ax.plot(days[part], depletion[part], color=_SOIL, linewidth=1.6, label=label)
    ax.plot(
        days,
        limit.to_numpy() / size,
        color=_LIMIT,
        linewidth=1.3,
        linestyle=(0, (5, 2)),
        label="readily available water: stress begins" if at_stress else "allowable depletion",
    )
    if not at_stress:
        stress = season["raw"].where(season["crop_stage"] > 0).to_numpy() / size
        ax.plot(
            days,
            stress,
            color=_LIMIT,
            linewidth=0.8,
            alpha=0.7,
            label="readily available water: stress begins",
        )
    ax.plot(days, taw, color=_INK, linewidth=1.0, linestyle=":", label="total available water")

    def stand(depth: np.ndarray, on: np.ndarray, color: str, label: str) -> None:
        """Let bars stand on what came before them; a bar of nothing takes as long to draw as any."""
        came = depth > 0
        if came.any():
            ax.bar(
                days[came],
                -depth[came],
                bottom=-on[came],
                color=color,
                width=1.0,
                linewidth=0,
                label=label + bars_of,
            )

    stand(rain, np.zeros_like(rain), _RAIN, "rain")
    by_rule = season["rule_free"].to_numpy() > 0
    planned = "planned or " if bool((season["extra_irrigation"] > 0).any()) else ""
    for chosen, color, label in (
        (~by_rule, _RECORDED, "net irrigation, recorded"),
        (by_rule, _IRRIGATION, f"net irrigation, {planned}by the rule"),
    ):
        stand(np.where(chosen, irrigation, 0.0), rain, color, label)
    stand(risen, rain + irrigation, _RISE, "capillary rise")
    ax.axhline(0.0, color=_INK, linewidth=0.8)

    # downward: a deeper line is a drier soil; room for the tallest bar and for all the available water
    ax.set_ylim(_most(taw, depletion) * 1.06, -_most(rain + irrigation + risen) * 1.12)
    half_day = np.timedelta64(12, "h")
    ax.set_xlim(days[0] - half_day, days[-1] + half_day)
    ax.yaxis.set_major_formatter(ticker.FuncFormatter(lambda depth, _: f"{abs(depth):g}"))
    locator = dates.AutoDateLocator()
    ax.xaxis.set_major_locator(locator)
    ax.xaxis.set_major_formatter(dates.ConciseDateFormatter(locator))
    ax.set_ylabel(f"water [{suffix.lstrip('_')}]: missing below, came above")
    ax.set_xlabel("date (depletion is that of the day's end)")
    ax.grid(axis="y", color="#e3e3e3", linewidth=0.6)
    ax.set_axisbelow(True)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    # below the axes, where it hides no line and leaves the title to the caller
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.18), ncols=3, frameon=False, fontsize="small")
    return ax


def _check_single(season: xr.Dataset) -> None:
    """Refuse more than one season."""
    with collect() as faults:
        for dim in set(label_dims(season, map(str, season.data_vars))) - {"spot"}:
            faults.add(
                "season",
                f"has the label dimension {dim!r}; a picture shows one season",
                value=f"{season.sizes[dim]} labels",
                mend=f"season.sel({dim}=...)",
            )


def _most(*depths: np.ndarray) -> float:
    """Give the largest depth that is a number, at least 1 so that an empty season has a scale."""
    numbers = np.concatenate(depths)
    return float(numbers[np.isfinite(numbers)].max(initial=1.0))
