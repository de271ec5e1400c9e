"""Pumping: head, power, energy and cost of lifting water and putting it under pressure.

Numbers, arrays or DataArrays in and out; NaN, a number that is not known, gives NaN. Basic mechanics: the
power of water is its weight a second times the head it is given.
"""

from __future__ import annotations

from typing import Any

from waterbudget.arguments import check_shapes
from waterbudget.errors import Faults, collect
from waterbudget.operands import ranged, within

GRAVITY = 9.80665
"""Standard acceleration of free fall [m s-2]."""
SECONDS_PER_HOUR = 3600.0


def total_head(lift: Any, pressure: Any, friction: Any = 0.0) -> Any:
    """Head that a pump must give: ``lift + friction + pressure / g`` for water of 1000 kg m-3.

    Parameters
    ----------
    lift : float, array or DataArray
        Height from the water in the source, drawn down as it is while pumping, to the field [m].
    pressure : float, array or DataArray
        Pressure at the field's inlet [kPa]. 9.80665 kPa are 1 m of water.
    friction : float, array or DataArray
        Head lost to friction between the two, where the pressure does not hold it already [m].

    Returns
    -------
    float, array or DataArray
        Head [m].

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        lift, pressure, friction = _head_of(lift, pressure, friction, faults)
        check_shapes(faults, lift=lift, pressure=pressure, friction=friction)
    return _head(lift, pressure, friction)


def pumping_power(flow: Any, lift: Any, pressure: Any, pump_efficiency: Any, friction: Any = 0.0) -> Any:
    """Power taken from the line or the tank: ``g * flow * head / 3600 / efficiency``.

    Parameters
    ----------
    flow : float, array or DataArray
        Flow of the system [m3 h-1].
    lift, pressure, friction : float, array or DataArray
        As in `total_head`.
    pump_efficiency : float, array or DataArray
        Power of the water over the power taken [1], above 0 and at most 1; pump and motor together.

    Returns
    -------
    float, array or DataArray
        Power [kW]. US handbooks: ``gpm * ft / 3960 / efficiency`` horsepower.

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        flow = ranged(flow, "flow", faults)
        pump_efficiency = ranged(pump_efficiency, "pump_efficiency", faults)
        lift, pressure, friction = _head_of(lift, pressure, friction, faults)
        head = {"lift": lift, "pressure": pressure, "friction": friction}
        check_shapes(faults, flow=flow, pump_efficiency=pump_efficiency, **head)
    return _head(lift, pressure, friction) * GRAVITY * flow / SECONDS_PER_HOUR / pump_efficiency


def pumping_energy(volume: Any, lift: Any, pressure: Any, pump_efficiency: Any, friction: Any = 0.0) -> Any:
    """Energy taken to pump a volume: ``g * volume * head / 3600 / efficiency``.

    Parameters
    ----------
    volume : float, array or DataArray
        Water pumped [m3].
    lift, pressure, pump_efficiency, friction : float, array or DataArray
        As in `pumping_power`.

    Returns
    -------
    float, array or DataArray
        Energy [kWh].

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        volume = ranged(volume, "volume", faults)
        pump_efficiency = ranged(pump_efficiency, "pump_efficiency", faults)
        lift, pressure, friction = _head_of(lift, pressure, friction, faults)
        head = {"lift": lift, "pressure": pressure, "friction": friction}
        check_shapes(faults, volume=volume, pump_efficiency=pump_efficiency, **head)
    return _head(lift, pressure, friction) * GRAVITY * volume / SECONDS_PER_HOUR / pump_efficiency


def pumping_cost(energy: Any, price: Any) -> Any:
    """Cost of energy.

    Parameters
    ----------
    energy : float, array or DataArray
        Energy [kWh].
    price : float, array or DataArray
        Price of 1 kWh, in any currency, 0 or more.

    Returns
    -------
    float, array or DataArray
        Cost, in the currency of the price.

    Raises
    ------
    InputError
        When energy or price is negative.
    """
    with collect() as faults:
        energy = ranged(energy, "energy", faults)
        price = within(price, "price", faults, 0.0)
        check_shapes(faults, energy=energy, price=price)
    return energy * price


def _head(lift: Any, pressure: Any, friction: Any) -> Any:
    return lift + friction + pressure / GRAVITY


def _head_of(lift: Any, pressure: Any, friction: Any, faults: Faults) -> tuple[Any, Any, Any]:
    return (
        ranged(lift, "lift", faults),
        ranged(pressure, "operating_pressure", faults, "pressure"),
        ranged(friction, "pressure_head", faults, "friction"),
    )
