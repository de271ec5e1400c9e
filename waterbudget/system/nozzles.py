"""Nozzles: flow from diameter and pressure, and what pressure and wear do to it.

Numbers, arrays or DataArrays in and out; NaN gives NaN.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from waterbudget.arguments import check_shapes
from waterbudget.checks import note_where
from waterbudget.errors import collect
from waterbudget.operands import ranged, within

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
    with collect() as faults:
        discharge_coefficient = within(
            discharge_coefficient,
            "discharge_coefficient",
            faults,
            0.0,
            1.0,
            above=True,
            unit="1",
            mend="a worn nozzle has a larger diameter: measure it; implied_coefficient gives the coefficient "
            "of a maker's table",
        )
        diameter = ranged(diameter, "diameter", faults)
        pressure = ranged(pressure, "outlet_pressure", faults, "pressure")
        check_shapes(
            faults, discharge_coefficient=discharge_coefficient, diameter=diameter, pressure=pressure
        )
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
        flow = ranged(flow, "flow", faults)
        diameter = ranged(diameter, "diameter", faults)
        pressure = ranged(pressure, "outlet_pressure", faults, "pressure")
        check_shapes(faults, flow=flow, diameter=diameter, pressure=pressure)
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
        flow = ranged(flow, "flow", faults)
        pressure = ranged(pressure, "outlet_pressure", faults, "pressure")
        new_pressure = ranged(new_pressure, "outlet_pressure", faults, "new_pressure")
        exponent = ranged(exponent, "emitter_exponent", faults, "exponent")
        check_shapes(faults, flow=flow, pressure=pressure, new_pressure=new_pressure, exponent=exponent)
    ratio = new_pressure / pressure
    return (
        flow * ratio**exponent + 0.0 * ratio * exponent
    )  # NaN to the power of 0 is 1, as is 1 to that of NaN


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
    with collect() as faults:
        diameter = ranged(diameter, "diameter", faults)
        worn_diameter = ranged(worn_diameter, "diameter", faults, "worn_diameter")
        given = {"diameter": diameter, "worn_diameter": worn_diameter}
        if check_shapes(faults, **given):
            note_where(
                faults,
                "worn_diameter",
                "is smaller than the diameter of the new nozzle",
                xr.DataArray(worn_diameter < diameter),
                given,
                mend="measure again; a nozzle that has narrowed is clogged, not worn",
            )
    return (worn_diameter / diameter) ** 2


def _flow_without_loss(diameter: Any, pressure: Any) -> Any:
    """Flow [m3 h-1] through the whole opening, at the speed sqrt(2 p) m s-1 that a pressure p [kPa] gives."""
    return SECONDS_PER_HOUR * np.pi / 4.0 * diameter**2 * np.sqrt(2.0 * pressure)
