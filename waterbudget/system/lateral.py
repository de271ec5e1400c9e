"""Laterals: pressure and flow of every emitter along a pipe, and how evenly they give water."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.arguments import Floats, check_count, plain_number
from waterbudget.errors import collect
from waterbudget.operands import check_kind, one_number
from waterbudget.system.emitter_curve import CURVE, EmitterCurve, check_pressure
from waterbudget.system.micro import FRACTION, emission_uniformity, variation_of_flow
from waterbudget.system.pipes import PIPE, Pipe, check_reynolds, head_lost
from waterbudget.system.pumping import GRAVITY
from waterbudget.system.uniformity import weighted_mean

L_PER_M3 = 1000.0


class LateralUniformity(NamedTuple):
    """How evenly the emitters of a lateral give water, all [1].

    Attributes
    ----------
    emission : float
        Emission uniformity, from the lowest and the mean flow and the variation of manufacture.
    statistical : float
        Statistical uniformity, from the variation of pressure and of manufacture.
    flow_variation, pressure_variation : float
        Greatest less lowest over greatest, without the variation of manufacture.
    """

    emission: float
    statistical: float
    flow_variation: float
    pressure_variation: float


def lateral_pressures(
    pipe: Pipe,
    curve: EmitterCurve,
    *,
    outlets: int,
    spacing: Any,
    inlet_pressure: Any = None,
    end_pressure: Any = None,
    slope: Any = 0.0,
    first_distance: Any = None,
) -> pd.DataFrame:
    """Work out pressure and flow of every emitter, step by step from the closed end.

    Parameters
    ----------
    pipe : Pipe
        The lateral.
    curve : EmitterCurve
        Its emitters, all alike; the flow of each follows its own pressure.
    outlets : int
        How many emitters.
    spacing : number
        Distance of emitters along the pipe [m].
    inlet_pressure, end_pressure : number
        Pressure at the inlet, or at the last emitter [kPa]: one of them.
    slope : number
        Slope of the ground away from the inlet [%]: above 0 uphill.
    first_distance : number, optional
        Distance of the first emitter from the inlet [m]; ``spacing`` when not given.

    Returns
    -------
    DataFrame
        Columns ``outlet`` (0 is the inlet, with the flow of the whole lateral; emitters count from 1),
        ``distance_m``, ``pressure_kPa``, ``flow_L_per_h``.

    Raises
    ------
    InputError
        When a number is outside its range, the pressure does not bring water to the end, or an emitter's
        pressure is not within those of its curve.

    Notes
    -----
    The end pressure that gives a stated inlet pressure is found by Brent's method; the inlet pressure
    rises with the end pressure, so there is one. Velocity head and losses of fittings and barbs are left out.
    """
    check_kind(pipe, Pipe, "pipe", PIPE)
    check_kind(curve, EmitterCurve, "curve", CURVE)
    with collect() as faults:
        step = plain_number(spacing, "spacing", faults)
        first = step
        if first_distance is not None:
            first = plain_number(first_distance, "distance", faults, what="first_distance")
        grade = plain_number(slope, "slope", faults) / 100.0
        check_count(outlets, "outlets", faults)
        given = {
            name: plain_number(pressure, "outlet_pressure", faults, what=name)
            for name, pressure in (("inlet_pressure", inlet_pressure), ("end_pressure", end_pressure))
            if pressure is not None
        }
        if len(given) != 1:
            faults.add("inlet_pressure, end_pressure", "are not one pressure", mend="give one of them")
    lengths = np.full(outlets, step)
    lengths[0] = first
    rises = GRAVITY * lengths * grade / np.hypot(1.0, grade)  # of the ground, as pressure
    if "end_pressure" in given:
        end = given["end_pressure"]
    else:
        end = _end_pressure(given["inlet_pressure"], pipe, curve, lengths, rises)
    pressure, flow = _march(end, pipe, curve, lengths, rises)
    outlet = np.arange(outlets + 1)
    with collect() as faults:
        check_pressure(curve, xr.DataArray(pressure[1:], {"emitter": outlet[1:]}, "emitter"), faults)
        check_reynolds(pipe, xr.DataArray(flow[0] / L_PER_M3), faults)
    distance = np.concatenate([[0.0], np.cumsum(lengths)])
    return pd.DataFrame(
        {"outlet": outlet, "distance_m": distance, "pressure_kPa": pressure, "flow_L_per_h": flow}
    )


def lateral_uniformity(
    along: pd.DataFrame, curve: EmitterCurve, emitter_variation: float, emitters_per_plant: int = 1
) -> LateralUniformity:
    """Say how evenly the emitters of a lateral give water.

    Parameters
    ----------
    along : DataFrame
        Of `lateral_pressures`.
    curve : EmitterCurve
        The emitters that it was worked out with.
    emitter_variation : float
        Manufacturer's coefficient of variation [1]; see `manufacturers_variation`.
    emitters_per_plant : int
        How many emitters feed one plant.

    Returns
    -------
    LateralUniformity

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    check_kind(along, pd.DataFrame, "along", "lateral_pressures gives it")
    check_kind(curve, EmitterCurve, "curve", CURVE)
    with collect() as faults:
        missing = [name for name in ("outlet", "pressure_kPa", "flow_L_per_h") if name not in along]
        if missing:
            faults.add("along", f"has no {', '.join(missing)}", mend="lateral_pressures gives it")
        cv = one_number(emitter_variation, "emitter_variation", faults, 0.0, 1.0, unit="1", mend=FRACTION)
        check_count(emitters_per_plant, "emitters_per_plant", faults)
    emitters = along[along["outlet"] > 0]
    flow, pressure = emitters["flow_L_per_h"].to_numpy(), emitters["pressure_kPa"].to_numpy()
    mean = float(weighted_mean(flow, np.ones(flow.size)))  # of equal flows that flow, to the last bit
    hydraulic = pressure.std() / pressure.mean()
    return LateralUniformity(
        emission=float(emission_uniformity(cv, emitters_per_plant, flow.min(), mean)),
        # Not `statistical_uniformity`, which refuses an exponent that a fit left just outside 0 to 1.
        statistical=float(1.0 - variation_of_flow(hydraulic, curve.exponent, cv)),
        flow_variation=float(1.0 - flow.min() / flow.max()),
        pressure_variation=float(1.0 - pressure.min() / pressure.max()),
    )


def _march(
    end: float, pipe: Pipe, curve: EmitterCurve, lengths: Floats, rises: Floats
) -> tuple[Floats, Floats]:
    """Go from the last emitter to the inlet: pressure [kPa] and flow [L h-1] of each, the inlet first."""
    outlets = lengths.size
    # A fitted exponent may lie just below 0: then a pressure of 0 would give an infinite flow.
    least = 0.0 if curve.exponent >= 0.0 else curve.lowest_pressure
    pressure, flow = np.zeros(outlets + 1), np.zeros(outlets + 1)
    pressure[outlets] = end
    for i in range(outlets, 0, -1):
        flow[i] = curve.coefficient * np.maximum(pressure[i], least) ** curve.exponent
        flow[0] += flow[i]
        pressure[i - 1] = (
            pressure[i] + rises[i - 1] + GRAVITY * head_lost(pipe, flow[0] / L_PER_M3, lengths[i - 1])
        )
    return pressure, flow


def _end_pressure(inlet: float, pipe: Pipe, curve: EmitterCurve, lengths: Floats, rises: Floats) -> float:
    """Find the pressure at the last emitter that gives a pressure at the inlet."""
    from scipy.optimize import brentq

    def too_much(end: float) -> float:
        return float(_march(end, pipe, curve, lengths, rises)[0][0] - inlet)

    least = too_much(0.0)
    with collect() as faults:
        if least >= 0.0:
            faults.add(
                "inlet_pressure",
                "does not bring water to the end of the lateral",
                value=f"{inlet:g} kPa",
                allowed=f"above {inlet + least:.4g} kPa",
                mend="raise it, or take a wider or shorter lateral",
            )
    # Friction only adds to what the ground does; 1 kPa more leaves room for rounding where there is none.
    most = inlet - float(rises.sum()) + 1.0
    return float(brentq(too_much, 0.0, most, xtol=1e-9, rtol=1e-14))
