"""Emitters: flow by pressure, variation of manufacture, and what flows measured in the field say.

Flows are in L/h, pressures in kPa above that of the air; readings may be text with a unit instead
(``"15 psi"``, ``"34 mL/min"``).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from waterbudget.checks import note_where
from waterbudget.descriptions import freeze
from waterbudget.errors import Faults, collect
from waterbudget.system.catch_cans import FEWEST, numbers, plain_number
from waterbudget.system.micro import Measure, quality
from waterbudget.system.uniformity import (
    Floats,
    coefficient_of_variation,
    low_quarter_uniformity,
    weighted_mean,
)

FEWEST_PAIRS = 3
"""Fewest readings of flow by pressure: two make a line whatever they are."""
WANTED = 18
"""Emitters measured in the field, at least. Source: ASABE EP458 (from memory)."""
EXPONENTS = "0 (pressure-compensating) to 1 (laminar); 0.5 is fully turbulent"


# ---------------------------------------------------------------------- flow by pressure
@dataclass(frozen=True, kw_only=True)
class EmitterCurve:
    """Flow of an emitter by pressure, ``q = k h^x``, within the pressures for which it is known.

    `fit_emitter` makes it from readings, `rated_emitter` from what the maker states.

    Parameters
    ----------
    coefficient : float
        k [L h-1 kPa^-x], above 0.
    exponent : float
        x [1], 0 (pressure-compensating) to 1 (laminar).
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
            exponent = plain_number(self.exponent, "emitter_exponent", faults, what="exponent")
            low, high = (
                plain_number(getattr(self, name), "outlet_pressure", faults, what=name)
                for name in ("lowest_pressure", "highest_pressure")
            )
            if not (isinstance(self.coefficient, int | float) and 0.0 < self.coefficient < np.inf):
                faults.add(
                    "coefficient", "is outside its range", value=repr(self.coefficient), allowed="above 0"
                )
            if low > high:
                faults.add("lowest_pressure", "is above highest_pressure", value=f"{low:g} kPa, {high:g} kPa")
        freeze(self, {"exponent": exponent, "lowest_pressure": low, "highest_pressure": high})


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
        It holds from the lowest to the highest pressure read.

    Raises
    ------
    InputError
        When readings are fewer than three, at one pressure only, not above 0, or in an unknown unit; when the
        exponent is outside 0-1.

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
    with collect() as faults:
        _check_exponent(exponent, spread / np.sqrt(width), faults)
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
    with collect() as faults:
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


def _check_exponent(exponent: float, error: float, faults: Faults) -> None:
    """Note an exponent outside 0-1, and what makes one."""
    if exponent < 0.0:
        problem = "is below 0: the flow falls as the pressure rises"
        mend = "where it is pressure-compensating, give its mean flow to rated_emitter with exponent 0; "
        mend += "else see that it did not clog during the test, and that flows stand beside their pressures"
    elif exponent > 1.0:
        problem = "is above 1: the flow rises faster than the pressure"
        mend = "see that the columns are not exchanged, that pressures are in their unit and above that of "
        mend += "the air, and that the emitter is neither worn nor torn"
    else:
        return
    faults.add(
        "exponent of the emitter",
        problem,
        value=f"{exponent:.3g}, error {error:.2g}",
        allowed=EXPONENTS,
        mend=mend,
    )


# ------------------------------------------------------------------- uniformity of many
def manufacturers_variation(flows: Any) -> float:
    """Manufacturer's coefficient of variation of a sample of new emitters: standard deviation over the mean.

    Parameters
    ----------
    flows : sequence of numbers
        Flow of each emitter at one pressure and temperature [L h-1], two or more; 25 and more are usual.

    Returns
    -------
    float
        Cv [1]. The divisor is n - 1. ``quality("variation, point source", cv)`` rates it.

    Raises
    ------
    InputError
        When flows are fewer than two, negative, or all 0.

    Notes
    -----
    Source: ASABE EP405 and ISO 9261 (from memory).
    """
    return float(_variation(_read_flows(flows, 2), None))


def field_uniformity(
    flows: Any,
    weights: npt.ArrayLike | None = None,
    *,
    seed: int = 0,
    level: float = 0.9,
    resamples: int = 2000,
) -> pd.DataFrame:
    """Give mean flow and uniformity of emitters measured in the field, with confidence intervals and ratings.

    Parameters
    ----------
    flows : sequence of numbers
        Flow of each emitter [L h-1], four or more; 18 or more are wanted. A plugged one is a 0 and counts.
    weights : array_like, optional
        Part of the field that each emitter stands for, on any scale; equal when not given.
    seed : int
        Of the resampling: one seed, one result.
    level : float
        Of the confidence interval [1], above 0 and below 1.
    resamples : int
        How many tests are drawn from the emitters.

    Returns
    -------
    DataFrame
        Columns ``quantity``, ``unit``, ``value``, ``low``, ``high``, ``quality``. The rows are mean flow,
        coefficient of variation (divisor n - 1), statistical uniformity (1 less it), and emission uniformity
        (mean of the low quarter over the mean). `emitter_findings` says what to look at.

    Raises
    ------
    InputError
        When flows are fewer than four, negative, or all 0; when a parameter is outside its range.

    Notes
    -----
    Statistical uniformity: ASABE EP458 (from memory). Emission uniformity in the field: Merriam, J.L.,
    Keller, J. (1978), Farm Irrigation System Evaluation (from memory). Interval: percentile bootstrap, with
    the limits that `CatchCans.summary` names.
    """
    with collect() as faults:
        if not 0.0 < level < 1.0:
            faults.add("level", "is outside its range", value=f"{level:g}", allowed="above 0 and below 1")
        if resamples < 100:
            faults.add("resamples", "are too few", value=resamples, allowed="100 or more; 2000 are usual")
    q = _read_flows(flows, FEWEST)
    w = np.ones(q.size) if weights is None else np.asarray(weights, dtype=np.float64)
    uniformity = low_quarter_uniformity(q, w)  # refuses weights that do not fit
    drawn = np.random.default_rng(seed).integers(0, q.size, (resamples, q.size))
    many, heavy = q[drawn], w[drawn]
    variation, variations = _variation(q, w), _variation(many, heavy)
    quantities: tuple[tuple[str, str, Any, Any, Measure | None], ...] = (
        ("mean flow", "L/h", weighted_mean(q, w), weighted_mean(many, heavy), None),
        ("coefficient of variation", "1", variation, variations, None),
        ("statistical uniformity", "1", 1.0 - variation, 1.0 - variations, "statistical uniformity"),
        ("emission uniformity", "1", uniformity, low_quarter_uniformity(many, heavy), "emission uniformity"),
    )
    tails = ((1.0 - level) / 2.0, (1.0 + level) / 2.0)
    rows = []
    for quantity, unit, value, draws, measure in quantities:
        low, high = np.quantile(draws, tails, method="closest_observation")
        rated = "" if measure is None else quality(measure, float(value))
        rows.append((quantity, unit, float(value), float(low), float(high), rated))
    return pd.DataFrame(rows, columns=["quantity", "unit", "value", "low", "high", "quality"])


def emitter_findings(flows: Any) -> pd.DataFrame:
    """List what is worth a look, emitter by emitter, then of the whole test.

    Parameters
    ----------
    flows : sequence of numbers
        As in `field_uniformity`.

    Returns
    -------
    DataFrame
        Columns ``emitter`` (numbered from 1 as given; <NA> for the whole test), ``flow_L_per_h``, ``finding``
        and ``why``: emitters without flow, and fewer than 18 measured. Empty when there is nothing.

    Raises
    ------
    InputError
        As `field_uniformity`.
    """
    q = _read_flows(flows, FEWEST)
    why = "counted as it stands; clean or replace it, and look at filter and flushing"
    rows: list[tuple[Any, ...]] = [(int(i) + 1, 0.0, "plugged", why) for i in np.flatnonzero(q == 0.0)]
    if q.size < WANTED:
        why = f"{WANTED} or more are wanted (ASABE EP458, from memory): see the confidence interval"
        rows.append((pd.NA, np.nan, f"only {q.size} emitters measured", why))
    frame = pd.DataFrame(rows, columns=["emitter", "flow_L_per_h", "finding", "why"])
    return frame.astype({"emitter": "Int64", "flow_L_per_h": np.float64, "finding": object, "why": object})


def pattern(flows: Any, emitters_per_plant: int = 1) -> tuple[Floats, Floats]:
    """Give the pattern for `System`: each plant a spot.

    Parameters
    ----------
    flows : sequence of numbers
        Flow of each emitter [L h-1]; those of one plant follow one another.
    emitters_per_plant : int
        How many. Emitters that share a root system are not independent spots: they are added up.

    Returns
    -------
    share : array
        Flow of a plant over the mean of the plants [1]; 0 where all its emitters are plugged.
    weight : array
        Part of the field [1]; they add up to 1.

    Raises
    ------
    InputError
        When flows are negative or all 0, or do not make whole plants.
    """
    q = _read_flows(flows, 1)
    with collect() as faults:
        if not isinstance(emitters_per_plant, int | np.integer) or emitters_per_plant < 1:
            faults.add(
                "emitters_per_plant",
                "is no number of emitters",
                value=repr(emitters_per_plant),
                allowed="1, 2, …",
            )
        elif q.size % emitters_per_plant:
            faults.add(
                "flows",
                "do not make whole plants",
                value=f"{q.size} emitters",
                allowed=f"a multiple of {emitters_per_plant}",
                mend="measure all emitters of a plant",
            )
    plants = q.reshape(-1, emitters_per_plant).sum(axis=1)
    return plants / plants.mean(), np.full(plants.size, 1.0 / plants.size)


# ------------------------------------------------------------------------------- shared
def _variation(flows: Floats, weights: Floats | None) -> Any:
    """Coefficient of variation over the last axis, with divisor n - 1."""
    n = flows.shape[-1]
    return coefficient_of_variation(flows, weights) * np.sqrt(n / (n - 1))


def _read_flows(flows: Any, fewest: int) -> Floats:
    """Bring flows [L h-1] to an array, and refuse what makes no test."""
    with collect() as faults:
        q = numbers(flows, "emitter_flow", faults, what="flows", each="emitter")
        if not faults and q.size < fewest:
            faults.add(
                "flows",
                "are too few",
                value=q.size,
                allowed=f"{fewest} or more",
                mend="measure more emitters",
            )
        elif not faults and not q.any():
            faults.add("flows", "are all 0", count=q.size, mend="see that the system ran")
    return q
