"""Pipes: friction of water in them, and that of pipes with many equal outlets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np
import xarray as xr

from waterbudget.arguments import check_shapes, check_word, plain_number
from waterbudget.checks import note_where
from waterbudget.descriptions import freeze
from waterbudget.errors import Faults, collect
from waterbudget.operands import check_kind, one_number, ranged, within
from waterbudget.system.pumping import GRAVITY

Formula = Literal["blasius", "swamee-jain", "hazen-williams"]
FLOW_EXPONENT = {"blasius": 1.75, "swamee-jain": 2.0, "hazen-williams": 1.852}
"""Exponent of the flow in the loss of turbulent flow, for `christiansen_factor`."""
TURBULENT = 2000.0
"""Reynolds number below which flow is laminar."""
SMOOTH_LIMIT = 1e5
"""Greatest Reynolds number of Blasius' formula."""
M3_PER_H = 1.0 / 3600.0
PIPE = "describe it by Pipe(diameter=...)"


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
            check_word(self.formula, "formula", faults, get_args(Formula))
            formula = str(self.formula)
            for name, owner in (("coefficient", "hazen-williams"), ("roughness", "swamee-jain")):
                stated = getattr(self, name) is not None
                if stated and formula != owner:
                    faults.add(name, f"does not belong to {formula}", mend=f"leave it out, or take {owner}")
                elif not stated and formula == owner:
                    faults.add(name, f"is needed with {owner}")
            coefficient = self.coefficient
            if coefficient is not None:
                coefficient = one_number(coefficient, "coefficient", faults, 20.0, 200.0)
            if roughness is not None:
                roughness = plain_number(roughness, "distance", faults, what="roughness")
                if roughness > 0.05 * diameter:
                    faults.add(
                        "roughness",
                        "is outside its range",
                        value=f"{roughness:g} m",
                        allowed=f"at most {0.05 * diameter:g} m, 0.05 of the diameter",
                        mend="give it in metres",
                    )
            temperature = one_number(self.temperature, "temperature", faults, 0.0, 60.0, unit="degC")
        given = {"diameter": diameter, "roughness": roughness}
        freeze(self, given | {"coefficient": coefficient, "temperature": temperature})


def viscosity(temperature: Any) -> Any:
    """Kinematic viscosity of water.

    ``2.414e-5 * 10^(247.8 / (T - 140))`` Pa s, T in kelvin (Vogel's form, from memory), over 1000 kg m-3.

    Parameters
    ----------
    temperature : float, array or DataArray
        [degC], 0-60.

    Returns
    -------
    float, array or DataArray
        [m2 s-1].

    Raises
    ------
    InputError
        When a temperature is outside its range.
    """
    with collect() as faults:
        temperature = within(temperature, "temperature", faults, 0.0, 60.0, unit="degC")
    return _viscosity(temperature)


def _viscosity(temperature: Any) -> Any:
    return 2.414e-5 * 10.0 ** (247.8 / (temperature + 133.15)) / 1000.0


def reynolds_number(pipe: Pipe, flow: Any) -> Any:
    """Reynolds number of a flow in a pipe: ``v D / nu``.

    Parameters
    ----------
    pipe : Pipe
        Its diameter, and the temperature of the water.
    flow : float, array or DataArray
        Flow [m3 h-1], 0 or more.

    Returns
    -------
    float, array or DataArray
        [1].

    Raises
    ------
    InputError
        When a flow is outside its range.
    """
    check_kind(pipe, Pipe, "pipe", PIPE)
    with collect() as faults:
        flow = within(flow, "flow", faults, 0.0, unit="m3 h-1")
    return _reynolds_number(pipe, flow)


def _reynolds_number(pipe: Pipe, flow: Any) -> Any:
    return _velocity(pipe, flow) * pipe.diameter / _viscosity(pipe.temperature)


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
    check_kind(pipe, Pipe, "pipe", PIPE)
    with collect() as faults:
        flow = within(flow, "flow", faults, 0.0, unit="m3 h-1")
        length = ranged(length, "distance", faults, "length")
        check_shapes(faults, flow=flow, length=length)
        check_reynolds(pipe, xr.DataArray(flow), faults)
    return head_lost(pipe, flow, length)


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
    with collect() as faults:
        outlets = within(outlets, "outlets", faults, 1.0)
        exponent = within(exponent, "exponent", faults, 1.0, 2.0)
        check_shapes(faults, outlets=outlets, exponent=exponent)
    factor = 1.0 / (exponent + 1.0) + 1.0 / (2.0 * outlets) + np.sqrt(exponent - 1.0) / (6.0 * outlets**2)
    return factor if first_at_full_spacing else (2.0 * outlets * factor - 1.0) / (2.0 * outlets - 1.0)


def _velocity(pipe: Pipe, flow: Any) -> Any:
    return flow * M3_PER_H / (np.pi / 4.0 * pipe.diameter**2)


def head_lost(pipe: Pipe, flow: Any, length: Any) -> Any:
    """Head lost [m]; the formulas stand in `friction_loss`."""
    if pipe.formula == "hazen-williams":
        return 10.67 * length * (flow * M3_PER_H / pipe.coefficient) ** 1.852 * pipe.diameter**-4.8704
    nu, speed = _viscosity(pipe.temperature), _velocity(pipe, flow)
    reynolds = np.maximum(speed * pipe.diameter / nu, TURBULENT)
    if pipe.formula == "blasius":
        factor = 0.3164 * reynolds**-0.25
    else:
        factor = 0.25 / np.log10(pipe.roughness / (3.7 * pipe.diameter) + 5.74 * reynolds**-0.9) ** 2
    turbulent = factor * length / pipe.diameter * speed**2 / (2.0 * GRAVITY)
    # 64 / Re, without dividing by a flow of 0.
    laminar = 32.0 * nu * length * speed / (GRAVITY * pipe.diameter**2)
    return np.maximum(laminar, turbulent)


def check_reynolds(pipe: Pipe, flow: xr.DataArray, faults: Faults) -> None:
    """Note flows for which Blasius' formula was not made."""
    if pipe.formula == "blasius":
        reynolds = _reynolds_number(pipe, flow)
        note_where(
            faults,
            "flow",
            "is beyond the range of Blasius' formula",
            reynolds > SMOOTH_LIMIT,
            {"flow": flow, "Reynolds number": reynolds},
            allowed=f"a Reynolds number of at most {SMOOTH_LIMIT:g}",
            mend="take formula='swamee-jain', for a smooth pipe with roughness=0",
        )
