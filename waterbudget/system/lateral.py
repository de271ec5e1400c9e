"""Pipes with many outlets: friction, and the pressure and flow of every emitter along a lateral."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, NamedTuple, get_args

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.checks import in_range, note_where
from waterbudget.descriptions import freeze
from waterbudget.errors import Faults, collect
from waterbudget.system.catch_cans import plain_number
from waterbudget.system.emitters import (
    EmitterCurve,
    check_pressure,
)
from waterbudget.system.micro import emission_uniformity, statistical_uniformity
from waterbudget.system.pumping import GRAVITY
from waterbudget.system.uniformity import Floats, weighted_mean

Formula = Literal["blasius", "swamee-jain", "hazen-williams"]
FLOW_EXPONENT = {"blasius": 1.75, "swamee-jain": 2.0, "hazen-williams": 1.852}
"""Exponent of the flow in the loss of turbulent flow, for `christiansen_factor`."""
TURBULENT = 2000.0
"""Reynolds number below which flow is laminar."""
SMOOTH_LIMIT = 1e5
"""Greatest Reynolds number of Blasius' formula."""
M3_PER_H, L_PER_M3 = 1.0 / 3600.0, 1000.0


@dataclass(frozen=True, kw_only=True)
class Pipe:
    """A pipe, and the formula by which it loses head.

    Parameters
    ----------
    diameter : number
        Inner diameter [m], above 0.
    formula : {"blasius", "swamee-jain", "hazen-williams"}
        ``"blasius"``: Darcy-Weisbach for smooth plastic pipe, up to a Reynolds number of 100 000.
        ``"swamee-jain"``: Darcy-Weisbach with a roughness. ``"hazen-williams"``: with its coefficient.
    coefficient : float, optional
        C of Hazen and Williams [1], 20-200, needed with it and only then. 130-150 for plastic pipe, the lower
        for thin laterals (common practice, no source).
    roughness : number, optional
        Height of the roughness [m], needed with ``"swamee-jain"`` and only then; 0 for a smooth pipe, at most
        0.05 of the diameter.
    temperature : float
        Of the water [degC], 0-60; 20 unless given. It sets the viscosity; Hazen-Williams knows none.

    Raises
    ------
    InputError
        When a number is outside its range, or does not belong to the formula.
    """

    diameter: Any
    formula: Formula = "blasius"
    coefficient: float | None = None
    roughness: Any = None
    temperature: float = 20.0

    def __post_init__(self) -> None:
        with collect() as faults:
            diameter, roughness = plain_number(self.diameter, "diameter", faults), self.roughness
            if self.formula not in get_args(Formula):
                faults.add(
                    "formula", "is not known", value=repr(self.formula), allowed=", ".join(get_args(Formula))
                )
            for name, owner in (("coefficient", "hazen-williams"), ("roughness", "swamee-jain")):
                given = getattr(self, name) is not None
                if given and self.formula != owner:
                    faults.add(
                        name, f"does not belong to {self.formula}", mend=f"leave it out, or take {owner}"
                    )
                elif not given and self.formula == owner:
                    faults.add(name, f"is needed with {owner}")
            if self.coefficient is not None:
                _within(self.coefficient, "coefficient", (20.0, 200.0), faults)
            if roughness is not None:
                roughness = plain_number(roughness, "distance", faults, what="roughness")
                if roughness > 0.05 * diameter:
                    allowed, mend = (
                        f"at most {0.05 * diameter:g} m, 0.05 of the diameter",
                        "give it in metres",
                    )
                    faults.add(
                        "roughness",
                        "is outside its range",
                        value=f"{roughness:g} m",
                        allowed=allowed,
                        mend=mend,
                    )
            _within(self.temperature, "temperature", (0.0, 60.0), faults)
        freeze(self, {"diameter": diameter, "roughness": roughness})


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


def viscosity(temperature: Any) -> Any:
    """Kinematic viscosity of water.

    ``2.414e-5 * 10^(247.8 / (T - 140))`` Pa s, T in kelvin (Vogel's form, from memory), over 1000 kg m-3.

    Parameters
    ----------
    temperature : float or array
        [degC].

    Returns
    -------
    float or array
        [m2 s-1].
    """
    return 2.414e-5 * 10.0 ** (247.8 / (temperature + 133.15)) / 1000.0


def reynolds_number(pipe: Pipe, flow: Any) -> Any:
    """Reynolds number ``v D / nu`` of a flow [m3 h-1] in a pipe [1]."""
    return _velocity(pipe, flow) * pipe.diameter / viscosity(pipe.temperature)


def friction_loss(pipe: Pipe, flow: Any, length: Any) -> Any:
    """Head lost to friction in a pipe without outlets.

    Parameters
    ----------
    pipe : Pipe
        Its diameter, and the formula.
    flow : float, array or DataArray
        Flow [m3 h-1], 0 or more.
    length : float, array or DataArray
        Length [m].

    Returns
    -------
    float, array or DataArray
        Head [m]; times 9.80665 it is the pressure in kPa. Fittings and the barbs of emitters are not in it.

    Raises
    ------
    InputError
        When a number is outside its range, or the Reynolds number beyond that of Blasius' formula.

    Notes
    -----
    From memory. Hazen-Williams: ``10.67 L (Q / C)^1.852 D^-4.8704``, Q in m3/s. Darcy-Weisbach:
    ``f L / D v^2 / (2 g)``, with ``f = 64 / Re`` in laminar flow, ``0.3164 Re^-0.25`` (Blasius 1913) or
    ``0.25 / log10(e / (3.7 D) + 5.74 Re^-0.9)^2`` (Swamee, P.K., Jain, A.K. (1976), Journal of the Hydraulics
    Division ASCE 102).
    So that the loss has no jump, f below Re 2000 is the greater of the laminar and that of Re 2000; the far
    end of a lateral, where this counts, loses next to nothing.
    """
    given = xr.DataArray(flow)
    with collect() as faults:
        note_where(faults, "flow", "is negative", given < 0.0, {"flow": given}, allowed="0 or more")
        in_range(xr.DataArray(length), "distance", faults, what="length")
        _check_reynolds(pipe, given, faults)
    return _loss(pipe, flow, length)


def christiansen_factor(outlets: Any, exponent: Any, *, first_at_full_spacing: bool = True) -> Any:
    """Christiansen's factor: friction of a pipe with equal outlets over that of the whole flow to its end.

    ``F = 1 / (m + 1) + 1 / (2 N) + sqrt(m - 1) / (6 N^2)``; where the first outlet stands half a spacing from
    the inlet, ``(2 N F - 1) / (2 N - 1)``.

    Parameters
    ----------
    outlets : int or array
        Number of outlets N, 1 or more, equally spaced; the last is at the closed end.
    exponent : float or array
        Exponent m of the flow in the loss, 1-2; see `FLOW_EXPONENT`.
    first_at_full_spacing : bool
        Whether the first outlet stands a whole spacing from the inlet.

    Returns
    -------
    float or array
        F [1].

    Raises
    ------
    InputError
        When a number is outside its range.

    Notes
    -----
    Source: Christiansen (1942), Bulletin 670; half a spacing: Jensen, M.C., Fratini, A.M. (1957),
    Agricultural Engineering 38 (both from memory). It takes all outlets as alike;
    `lateral_pressures` does not.
    """
    n, m = xr.DataArray(outlets), xr.DataArray(exponent)
    with collect() as faults:
        note_where(faults, "outlets", "are fewer than 1", n < 1, {"outlets": n}, allowed="1 or more")
        bad = (m < 1.0) | (m > 2.0)
        note_where(faults, "exponent", "is outside its range", bad, {"exponent": m}, allowed="1 to 2")
    factor = 1.0 / (exponent + 1.0) + 1.0 / (2.0 * outlets) + np.sqrt(exponent - 1.0) / (6.0 * outlets**2)
    return factor if first_at_full_spacing else (2.0 * outlets * factor - 1.0) / (2.0 * outlets - 1.0)


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
    with collect() as faults:
        step = plain_number(spacing, "spacing", faults)
        first = step
        if first_distance is not None:
            first = plain_number(first_distance, "distance", faults, what="first_distance")
        grade = plain_number(slope, "slope", faults) / 100.0
        if isinstance(outlets, bool) or not isinstance(outlets, int | np.integer) or outlets < 1:
            faults.add("outlets", "are no number of emitters", value=repr(outlets), allowed="1, 2, …")
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
        _check_reynolds(pipe, xr.DataArray(flow[0] / L_PER_M3), faults)
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
    emitters = along[along["outlet"] > 0]
    flow, pressure = emitters["flow_L_per_h"].to_numpy(), emitters["pressure_kPa"].to_numpy()
    mean = float(weighted_mean(flow, np.ones(flow.size)))  # of equal flows that flow, to the last bit
    hydraulic = pressure.std() / pressure.mean()
    return LateralUniformity(
        emission=float(emission_uniformity(emitter_variation, emitters_per_plant, flow.min(), mean)),
        statistical=float(statistical_uniformity(hydraulic, curve.exponent, emitter_variation)),
        flow_variation=float(1.0 - flow.min() / flow.max()),
        pressure_variation=float(1.0 - pressure.min() / pressure.max()),
    )


def _velocity(pipe: Pipe, flow: Any) -> Any:
    return flow * M3_PER_H / (np.pi / 4.0 * pipe.diameter**2)


def _loss(pipe: Pipe, flow: Any, length: Any) -> Any:
    """Head lost [m]; the formulas stand in `friction_loss`."""
    if pipe.formula == "hazen-williams":
        return 10.67 * length * (flow * M3_PER_H / pipe.coefficient) ** 1.852 * pipe.diameter**-4.8704
    nu, speed = viscosity(pipe.temperature), _velocity(pipe, flow)
    reynolds = np.maximum(speed * pipe.diameter / nu, TURBULENT)
    if pipe.formula == "blasius":
        factor = 0.3164 * reynolds**-0.25
    else:
        factor = 0.25 / np.log10(pipe.roughness / (3.7 * pipe.diameter) + 5.74 * reynolds**-0.9) ** 2
    turbulent = factor * length / pipe.diameter * speed**2 / (2.0 * GRAVITY)
    # 64 / Re, without dividing by a flow of 0.
    laminar = 32.0 * nu * length * speed / (GRAVITY * pipe.diameter**2)
    return np.maximum(laminar, turbulent)


def _march(
    end: float, pipe: Pipe, curve: EmitterCurve, lengths: Floats, rises: Floats
) -> tuple[Floats, Floats]:
    """Go from the last emitter to the inlet: pressure [kPa] and flow [L h-1] of each, the inlet first."""
    outlets = lengths.size
    pressure, flow = np.zeros(outlets + 1), np.zeros(outlets + 1)
    pressure[outlets] = end
    for i in range(outlets, 0, -1):
        flow[i] = curve.coefficient * np.maximum(pressure[i], 0.0) ** curve.exponent
        flow[0] += flow[i]
        pressure[i - 1] = (
            pressure[i] + rises[i - 1] + GRAVITY * _loss(pipe, flow[0] / L_PER_M3, lengths[i - 1])
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


def _check_reynolds(pipe: Pipe, flow: xr.DataArray, faults: Faults) -> None:
    """Note flows for which Blasius' formula was not made."""
    if pipe.formula == "blasius":
        reynolds = reynolds_number(pipe, flow)
        note_where(
            faults,
            "flow",
            "is beyond the range of Blasius' formula",
            reynolds > SMOOTH_LIMIT,
            {"flow": flow, "Reynolds number": reynolds},
            allowed=f"a Reynolds number of at most {SMOOTH_LIMIT:g}",
            mend="take formula='swamee-jain', for a smooth pipe with roughness=0",
        )


def _within(value: Any, name: str, ends: tuple[float, float], faults: Faults) -> None:
    """Note a plain number that is not between two ends."""
    if not isinstance(value, int | float | np.number) or not ends[0] <= value <= ends[1]:
        faults.add(name, "is outside its range", value=repr(value), allowed=f"{ends[0]:g} to {ends[1]:g}")
