"""Nozzles: flow from diameter and pressure, and what pressure and wear do to it.

Numbers, arrays or DataArrays in and out; NaN gives NaN.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from waterbudget.checks import in_range, note_where
from waterbudget.errors import Faults, collect

SECONDS_PER_HOUR = 3600.0


def nozzle_flow(diameter: Any, pressure: Any, discharge_coefficient: Any) -> Any:
    """Flow of a round nozzle: ``Cd * A * sqrt(2 p / rho)``, for water of 1000 kg m-3.

    Parameters
    ----------
    diameter : float, array or DataArray
        Diameter of the opening [m].
    pressure : float, array or DataArray
        Pressure at the nozzle [kPa].
    discharge_coefficient : float, array or DataArray
        Flow over the flow without any loss [1], above 0 and at most 1. `implied_coefficient` gives that of a
        maker's table.

    Returns
    -------
    float, array or DataArray
        Flow [m3 h-1].

    Raises
    ------
    InputError
        When a number is outside its range.

    Notes
    -----
    Torricelli's law. US handbooks: ``29.84 Cd d^2 sqrt(P)``, in gallons a minute, inches and pounds a square
    inch.
    """
    coefficient = xr.DataArray(discharge_coefficient)
    with collect() as faults:
        note_where(
            faults,
            "discharge_coefficient",
            "is outside its range",
            (coefficient <= 0.0) | (coefficient > 1.0),
            {"discharge_coefficient": coefficient},
            allowed="above 0 and at most 1",
        )
        _check_opening(diameter, pressure, faults)
    return discharge_coefficient * _flow_without_loss(diameter, pressure)


def implied_coefficient(flow: Any, diameter: Any, pressure: Any) -> Any:
    """Discharge coefficient that a measured or printed flow implies: `nozzle_flow` turned round.

    Parameters
    ----------
    flow : float, array or DataArray
        Flow of the nozzle [m3 h-1].
    diameter, pressure : float, array or DataArray
        As in `nozzle_flow`.

    Returns
    -------
    float, array or DataArray
        Coefficient [1]. Above 1 there is more water than the opening can pass: the nozzle is worn, or a
        number wrong.

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        in_range(xr.DataArray(flow), "flow", faults)
        _check_opening(diameter, pressure, faults)
    return flow / _flow_without_loss(diameter, pressure)


def flow_at_pressure(flow: Any, pressure: Any, new_pressure: Any, exponent: Any = 0.5) -> Any:
    """Flow at another pressure: ``flow * (new pressure / pressure) ^ exponent``.

    Parameters
    ----------
    flow : float, array or DataArray
        Flow at ``pressure`` [m3 h-1].
    pressure, new_pressure : float, array or DataArray
        Pressure that the flow belongs to, and the other one [kPa].
    exponent : float, array or DataArray
        Exponent of the pressure [1], 0-1: 0.5 for nozzles, near 0 where flow is regulated.

    Returns
    -------
    float, array or DataArray
        Flow [m3 h-1]: 20 % more pressure gives 10 % more water.

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        in_range(xr.DataArray(flow), "flow", faults)
        in_range(xr.DataArray(pressure), "outlet_pressure", faults, what="pressure")
        in_range(xr.DataArray(new_pressure), "outlet_pressure", faults, what="new_pressure")
        in_range(xr.DataArray(exponent), "emitter_exponent", faults, what="exponent")
    return flow * (new_pressure / pressure) ** exponent


def worn_flow_ratio(diameter: Any, worn_diameter: Any) -> Any:
    """Flow of a worn nozzle over that of the new one, at one pressure: the ratio of their areas.

    Parameters
    ----------
    diameter, worn_diameter : float, array or DataArray
        Diameter of the opening when new, and as measured [m]; a drill bit that just fits is a gauge.

    Returns
    -------
    float, array or DataArray
        Ratio [1], 1 or more: 5 % more diameter gives 10.25 % more water.

    Raises
    ------
    InputError
        When a diameter is outside its range, or the worn one is the smaller.
    """
    new, worn = xr.DataArray(diameter), xr.DataArray(worn_diameter)
    with collect() as faults:
        in_range(new, "diameter", faults)
        in_range(worn, "diameter", faults, what="worn_diameter")
        note_where(
            faults,
            "worn_diameter",
            "is smaller than the diameter of the new nozzle",
            worn < new,
            {"diameter": new, "worn_diameter": worn},
            mend="measure again; a nozzle that has narrowed is clogged, not worn",
        )
    return (worn_diameter / diameter) ** 2


def _flow_without_loss(diameter: Any, pressure: Any) -> Any:
    """Flow [m3 h-1] through the whole opening, at the speed sqrt(2 p) m s-1 that a pressure p [kPa] gives."""
    return SECONDS_PER_HOUR * np.pi / 4.0 * diameter**2 * np.sqrt(2.0 * pressure)


def _check_opening(diameter: Any, pressure: Any, faults: Faults) -> None:
    in_range(xr.DataArray(diameter), "diameter", faults)
    in_range(xr.DataArray(pressure), "outlet_pressure", faults, what="pressure")
