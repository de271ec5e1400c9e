"""The flow of an emitter by pressure: fitted to readings, or as its maker states it.

Flows are in L/h, pressures in kPa above that of the air; readings may be text with a unit instead
(``"15 psi"``, ``"34 mL/min"``).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from waterbudget.arguments import Floats, numbers, plain, plain_number
from waterbudget.checks import note_where
from waterbudget.descriptions import freeze
from waterbudget.errors import Faults, collect
from waterbudget.operands import check_kind, one_number, ranged

FEWEST_PAIRS = 3
"""Fewest readings of flow by pressure: two make a line whatever they are."""
CURVE = "fit_emitter and rated_emitter give one"
FARTHEST = 0.2
"""How far outside 0-1 an exponent may lie, however few the pairs (common practice, no source)."""
CONFIDENCE = 0.95
"""Of the interval that an exponent outside 0 to 1 must reach back from; common practice, no source."""
EXPONENTS = "0 (pressure-compensating) to 1 (laminar), or not surely outside; 0.5 is fully turbulent"


@dataclass(frozen=True, kw_only=True)
class EmitterCurve:
    """Flow of an emitter by pressure, ``q = k h^x``, within the pressures for which it is known.

    `fit_emitter` makes it from readings, `rated_emitter` from what the maker states.

    Parameters
    ----------
    coefficient : float
        k [L h-1 kPa^-x], above 0.
    exponent : float
        x [1], 0 (pressure-compensating) to 1 (laminar). As readings scatter, a fitted one may lie outside if
        its 95 % confidence interval (Student's t, ``pairs - 2`` degrees of freedom) reaches back to 0 or 1;
        `doubts` then says so.
    lowest_pressure, highest_pressure : float
        Pressures between which the curve holds [kPa].
    spread : float
        Standard deviation of the flows about the curve [1 of the flow]; the divisor is n - 2. NaN when the
        curve was not fitted, as are the next two.
    exponent_error : float
        Standard error of the exponent [1].
    r_squared : float
        Part of the variance of log flow that the curve explains [1]. Near 0, or NaN, for a
        pressure-compensating emitter, of which it says nothing.
    pairs : int
        Readings that the curve was fitted to; 0 when it was not fitted.

    Raises
    ------
    InputError
        When a number is outside its range.
    """

    coefficient: float
    exponent: float
    lowest_pressure: float
    highest_pressure: float
    spread: float = float("nan")
    exponent_error: float = float("nan")
    r_squared: float = float("nan")
    pairs: int = 0

    def __post_init__(self) -> None:
        with collect() as faults:
            exponent = float(plain(self.exponent, "exponent", faults, single=True))
            if not faults:
                self._check_exponent(exponent, faults)
            low, high = (
                plain_number(getattr(self, name), "outlet_pressure", faults, what=name)
                for name in ("lowest_pressure", "highest_pressure")
            )
            coefficient = one_number(self.coefficient, "coefficient", faults, 0.0, above=True)
            if low > high:
                faults.add("lowest_pressure", "is above highest_pressure", value=f"{low:g} kPa, {high:g} kPa")
        limits = {"lowest_pressure": low, "highest_pressure": high}
        freeze(self, limits | {"coefficient": coefficient, "exponent": exponent})

    @property
    def exponent_margin(self) -> float:
        """Half the width of the exponent's 95 % confidence interval [1]; 0 when it was not fitted."""
        if self.pairs < FEWEST_PAIRS:
            return 0.0
        from scipy.special import stdtrit

        return float(stdtrit(self.pairs - 2, 0.5 + 0.5 * CONFIDENCE)) * self.exponent_error

    @property
    def doubts(self) -> str:
        """What to bear in mind of the curve; empty where there is nothing."""
        if 0.0 <= self.exponent <= 1.0:
            return ""
        side = "below 0" if self.exponent < 0.0 else "above 1"
        interval = f"{100 * CONFIDENCE:g} % confidence interval, {self.exponent_margin:.2g} each way"
        return f"exponent {self.exponent:.3g} is {side}, but within its {interval}: kept as fitted"

    def _check_exponent(self, exponent: float, faults: Faults) -> None:
        """Note an exponent that is surely outside 0-1, and what makes one."""
        margin = min(self.exponent_margin, FARTHEST)
        known = f", {margin:.2g} each way at {100 * CONFIDENCE:g} %" if margin else ""
        if -margin <= exponent <= 1.0 + margin:
            return
        problem, mend = "is not known", "give the number"
        if exponent < 0.0:
            problem = "is below 0: the flow falls as the pressure rises"
            mend = (
                "where it is pressure-compensating, give its mean flow to rated_emitter with exponent 0; "
                "else see that it did not clog during the test, and that flows stand beside their pressures"
            )
        elif exponent > 1.0:
            problem = "is above 1: the flow rises faster than the pressure"
            mend = (
                "see that the columns are not exchanged, that pressures are in their unit and above that of "
                "the air, and that the emitter is neither worn nor torn"
            )
        faults.add(
            "exponent of the emitter",
            problem,
            value=f"{exponent:.3g}{known}",
            allowed=EXPONENTS,
            mend=mend,
        )


def fit_emitter(pressure: Any, flow: Any) -> EmitterCurve:
    """Fit ``q = k h^x`` to readings, by least squares in logarithms.

    Parameters
    ----------
    pressure : sequence of numbers
        Pressure at the emitter of each reading [kPa], above 0. At least two must differ.
    flow : sequence of numbers
        Flow of each reading [L h-1], above 0; of one emitter, or the mean of a sample.

    Returns
    -------
    EmitterCurve
        It holds from the lowest to the highest pressure read. Readings of a pressure-compensating emitter
        scatter about an exponent of 0: one a little below is kept as fitted, and ``doubts`` says so.

    Raises
    ------
    InputError
        When readings are fewer than three, at one pressure only, not above 0, or in an unknown unit; when the
        exponent lies outside 0-1 by more than its 95 % confidence interval allows.

    Notes
    -----
    Source: Keller, J., Karmeli, D. (1974), Trickle irrigation design parameters, Transactions of the ASAE 17,
    678-684 (from memory).
    """
    with collect() as faults:
        h = numbers(pressure, "outlet_pressure", faults, what="pressure", each="reading")
        q = numbers(flow, "emitter_flow", faults, what="flow", each="reading")
        if not faults:
            _check_pairs(h, q, faults)
    # Deviations from the first reading: equal flows are then an exponent of exactly 0.
    x, y = np.log(h) - np.log(h[0]), np.log(q) - np.log(q[0])
    x, y = x - x.mean(), y - y.mean()
    width = float(x @ x)
    # Without the last bits: an exponent of 1 must not be refused for being 1 + 2e-16.
    exponent = round(float(x @ y) / width, 12) + 0.0
    left = y - exponent * x
    spread = float(np.sqrt(left @ left / (h.size - 2)))
    return EmitterCurve(
        coefficient=float(np.exp(np.log(q).mean() - exponent * np.log(h).mean())),
        exponent=exponent,
        lowest_pressure=float(h.min()),
        highest_pressure=float(h.max()),
        spread=spread,
        exponent_error=float(spread / np.sqrt(width)),
        r_squared=float(1.0 - left @ left / (y @ y)) if y.any() else float("nan"),
        pairs=h.size,
    )


def rated_emitter(
    flow: Any, pressure: Any, exponent: Any, *, lowest_pressure: Any, highest_pressure: Any
) -> EmitterCurve:
    """Describe an emitter by what its maker states.

    Parameters
    ----------
    flow : number
        Rated flow [L h-1], above 0.
    pressure : number
        Pressure that the rated flow belongs to [kPa].
    exponent : number
        x [1], 0-1.
    lowest_pressure, highest_pressure : number
        Pressures for which the maker states it [kPa].

    Returns
    -------
    EmitterCurve

    Raises
    ------
    InputError
        When a number is outside its range.
    """
    with collect() as faults:
        q = plain_number(flow, "emitter_flow", faults, what="flow")
        h = plain_number(pressure, "outlet_pressure", faults, what="pressure")
        x = plain_number(exponent, "emitter_exponent", faults, what="exponent")
        if q == 0.0:
            faults.add("flow", "is 0", allowed="above 0")
    return EmitterCurve(
        coefficient=q / h**x, exponent=x, lowest_pressure=lowest_pressure, highest_pressure=highest_pressure
    )


def flow_at(curve: EmitterCurve, pressure: Any) -> Any:
    """Flow of an emitter at a pressure for which its curve is known: ``q = k h^x``.

    Parameters
    ----------
    curve : EmitterCurve
        The emitter.
    pressure : float, array or DataArray
        Pressure at the emitter [kPa].

    Returns
    -------
    float, array or DataArray
        Flow [L h-1]; NaN where the pressure is NaN.

    Raises
    ------
    InputError
        When a pressure is not within those of the curve: nothing is extrapolated.
    """
    check_kind(curve, EmitterCurve, "curve", CURVE)
    with collect() as faults:
        pressure = ranged(pressure, "outlet_pressure", faults, "pressure")
        if not faults:
            check_pressure(curve, xr.DataArray(pressure), faults)
    return curve.coefficient * pressure**curve.exponent + 0.0 * pressure  # NaN to the power of 0 is 1


def check_pressure(curve: EmitterCurve, pressure: xr.DataArray, faults: Faults) -> None:
    """Note pressures [kPa] that are not within those for which a curve is known."""
    low, high = curve.lowest_pressure, curve.highest_pressure
    note_where(
        faults,
        "pressure",
        "is not within the pressures for which the emitter's flow is known",
        (pressure < low) | (pressure > high),
        {"pressure": pressure},
        allowed=f"{low:g} to {high:g} kPa",
        mend="read the flow at that pressure too, and fit again",
    )


def _check_pairs(pressure: Floats, flow: Floats, faults: Faults) -> None:
    """Note readings that make no curve."""
    if pressure.size != flow.size:
        faults.add("flow", "does not fit pressure", value=f"{flow.size} for {pressure.size} pressures")
    elif pressure.size < FEWEST_PAIRS:
        allowed = f"{FEWEST_PAIRS} readings or more, at two or more pressures"
        faults.add("readings", "are too few", value=pressure.size, allowed=allowed)
    elif np.unique(pressure).size < 2:
        allowed, mend = "two or more different pressures", "read the flow at another pressure too"
        faults.add(
            "pressure",
            "is the same in every reading",
            value=f"{pressure[0]:g} kPa",
            allowed=allowed,
            mend=mend,
        )
    if (flow == 0.0).any():
        faults.add(
            "flow",
            "is 0",
            where=f"reading {int(np.argmax(flow == 0.0)) + 1}",
            count=int((flow == 0.0).sum()),
            allowed="above 0",
            mend="a plugged emitter has no curve: leave its readings out",
        )
