"""The pattern of one sprinkler, or of one lateral, laid over itself at any spacing."""

from __future__ import annotations

from math import ceil
from typing import Any, Literal, get_args

import numpy as np
import xarray as xr

from waterbudget.arguments import Floats, check_count, check_word, numbers, plain_number
from waterbudget.errors import Faults, collect

Layout = Literal["rectangular", "triangular"]


def overlap_radial(
    distance: Any,
    rate: Any,
    *,
    spacing_along: Any,
    spacing_between: Any,
    layout: Layout = "rectangular",
    grid: int = 20,
) -> xr.DataArray:
    """Lay the pattern of one sprinkler over those of its neighbours.

    Parameters
    ----------
    distance : sequence of numbers
        Distance from the sprinkler [m], ascending.
    rate : sequence of numbers
        Application rate there [mm h-1]; straight lines between. Within the first distance it is that of the
        first; at the last distance it must be 0.
    spacing_along, spacing_between : number
        Spacing of sprinklers along a lateral, and of laterals [m].
    layout : {"rectangular", "triangular"}
        Triangular: every second lateral is moved by half of ``spacing_along``.
    grid : int
        Points along each spacing, in the middle of equal squares.

    Returns
    -------
    DataArray
        Application rate [mm h-1] on ``between`` and ``along``, distances from a sprinkler [m]: one repeating
        cell, of two laterals where the layout is triangular. ``.values.ravel()`` serves as depths.

    Raises
    ------
    InputError
        When distances do not ascend, lengths differ, the rate does not end at 0, or a number is outside its
        range.

    Notes
    -----
    Superposition (Christiansen 1942): rates of neighbours add up. The pattern is the same in every direction
    and at every sprinkler: no wind. The mean times the area of the cell is `pattern_flow` of its
    sprinklers, to the fineness of the grid.
    """
    with collect() as faults:
        r, falls = _profile(distance, rate, faults)
        along = plain_number(spacing_along, "spacing", faults, what="spacing_along")
        between = plain_number(spacing_between, "spacing", faults, what="spacing_between")
        check_count(grid, "grid", faults)
        check_word(layout, "layout", faults, get_args(Layout))
    laterals = 1 if layout == "rectangular" else 2
    x = (np.arange(grid) + 0.5) / grid * along
    y = (np.arange(grid * laterals) + 0.5) / grid * between
    caught = np.zeros((y.size, x.size))
    reach = float(r[-1])
    for j in range(-ceil(reach / between), ceil(reach / between) + laterals + 1):
        shift = along / 2.0 if laterals == 2 and j % 2 else 0.0
        for i in range(-ceil(reach / along) - 1, ceil(reach / along) + 2):
            away = np.hypot(x[None, :] - (i * along + shift), y[:, None] - j * between)
            caught += np.interp(away, r, falls)
    attributes = {"units": "mm h-1", "long_name": "application rate of overlapping sprinklers"}
    return xr.DataArray(
        caught, dims=("between", "along"), coords={"between": y, "along": x}, attrs=attributes
    )


def pattern_flow(distance: Any, rate: Any) -> float:
    """Water that one sprinkler's pattern brings to the ground.

    ``2 pi`` times the integral of distance times rate, exact for the straight lines of `overlap_radial`.

    Parameters
    ----------
    distance, rate : sequence of numbers
        As in `overlap_radial`.

    Returns
    -------
    float
        Flow that reaches the ground [L h-1]: less than the nozzle's by what evaporates and drifts away.

    Raises
    ------
    InputError
        As `overlap_radial`.
    """
    with collect() as faults:
        r, falls = _profile(distance, rate, faults)
    inner, outer, at_inner, at_outer = r[:-1], r[1:], falls[:-1], falls[1:]
    # The integral of r (a + b r) over a ring, by its rates at both edges.
    rings = (outer - inner) * (at_inner * (2.0 * inner + outer) + at_outer * (inner + 2.0 * outer)) / 6.0
    return float(2.0 * np.pi * (rings.sum() + falls[0] * r[0] ** 2 / 2.0))


def overlap_lateral(position: Any, depth: Any, *, spacing: Any, grid: int = 20) -> xr.DataArray:
    """Lay the catch across one lateral over that of the same lateral moved by a spacing.

    Parameters
    ----------
    position : sequence of numbers
        Position of each can across the lateral [m], ascending, counted from the edge of the wetted strip.
    depth : sequence of numbers
        Depth there [mm]; straight lines between. It must be 0 at both ends.
    spacing : number
        How far the lateral is moved [m].
    grid : int
        Points along the spacing, in the middle of equal steps. Where cans stand in the middle of their steps
        and the spacing is a multiple of the step, this is the sum of cans one spacing apart.

    Returns
    -------
    DataArray
        Depth [mm] on ``across`` [m], over one spacing. The mean times the spacing is the water of the one
        lateral, to the fineness of the grid.

    Raises
    ------
    InputError
        When positions do not ascend, lengths differ, the depth is not 0 at both ends, or a number is outside
        its range.

    Notes
    -----
    Superposition (Christiansen 1942): depths of the sets add up, every set like the one measured.
    """
    with collect() as faults:
        x, caught = _profile(position, depth, faults, ("position", "depth", "can_depth"))
        step = plain_number(spacing, "spacing", faults)
        check_count(grid, "grid", faults)
        if not faults and caught[0] != 0.0:
            faults.add(
                "depth", "does not begin at 0", value=f"{caught[0]:g}", mend="add the position where it is 0"
            )
    at = (np.arange(grid) + 0.5) / grid * step
    sets = np.arange(0, ceil(x[-1] / step) + 1)
    total = np.interp(at[:, None] + sets * step, x, caught, left=0.0).sum(axis=1)
    attributes = {"units": "mm", "long_name": "depth of overlapping sets"}
    return xr.DataArray(total, dims="across", coords={"across": at}, attrs=attributes)


def _profile(
    distance: Any,
    fall: Any,
    faults: Faults,
    names: tuple[str, str, str] = ("distance", "rate", "rain_intensity"),
) -> tuple[Floats, Floats]:
    """Read a profile, and note one that does not ascend or does not end at 0.

    ``names``: of distance and fall, then the row of the variables table whose range the fall keeps.
    """
    first, second, row = names
    r = numbers(distance, "distance", faults, what=first, each="point")
    falls = numbers(fall, row, faults, what=second, each="point")
    if faults:
        return r, falls
    if r.size != falls.size or r.size < 2:
        value = f"{r.size} and {falls.size}"
        faults.add(f"{first}, {second}", "do not fit", value=value, allowed="one for one, two points or more")
        return r, falls
    back = np.flatnonzero(np.diff(r) <= 0.0)
    if back.size:
        at = int(back[0])
        value = f"{r[at + 1]:g} after {r[at]:g}"
        faults.add(first, "does not ascend", where=f"point {at + 2}", value=value, count=back.size)
    if falls[-1] != 0.0:
        mend = f"add the {first} where nothing falls any more, with 0"
        faults.add(second, "does not end at 0", where=f"point {r.size}", value=f"{falls[-1]:g}", mend=mend)
    return r, falls
