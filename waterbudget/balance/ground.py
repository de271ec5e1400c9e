"""From a soil and the days of a crop to the numbers and stages of the day loop."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget.balance.drivers import Stages
from waterbudget.balance.layout import Cells, Days
from waterbudget.balance.step import Ground, Holding, Shedding, within
from waterbudget.checks import complete, in_range, note_where
from waterbudget.crop.stress import salt_factor
from waterbudget.descriptions import Number
from waterbudget.errors import Faults
from waterbudget.soil import Storage
from waterbudget.soil.capillary import steady_upward_flow
from waterbudget.soil.runoff import curve_number_runoff, curve_numbers_dry_wet, intensity_runoff

Array = NDArray[np.float64]


class Made(NamedTuple):
    """What a soil and the days of a crop make of the ground, for the day loop and for the result."""

    ground: Ground
    stages: Stages
    neutral_layer: NDArray[np.bool_]
    salt_factor: Number
    excess_capacity: Number
    layer_uptake: Number
    capillary_limit: Number


def make_ground(storage: Storage, days: Days, share: Number, cells: Cells, faults: Faults) -> Made:
    """Work out the numbers of the ground, and the stages that any cell asks for.

    Parameters
    ----------
    storage : Storage
    days : Days
    share : float or DataArray
        Share of evapotranspiration taken before percolation.
    cells : Cells
    faults : Faults
        Takes what does not fit between soil and crop.

    Returns
    -------
    Made
    """
    tew, rew, neutral = _evaporation_layer(storage, days, cells, faults)
    tops = tuple(cells.spread(top)[None] for top in storage.layer_tops)
    changes = tuple(cells.spread(1000.0 * change)[None] for change in storage.layer_changes)
    available = cells.spread(1000.0 * storage.available_water)[None]
    _check_layers(storage, days, faults)
    ground = Ground(
        available=available,
        layer_tops=tops,
        layer_changes=changes,
        profile=within(cells.spread(days.deepest_root)[None], available, tops, changes),
        tew=tew[None],
        stage_two=(tew - rew)[None],
        air_dry_water=np.nan_to_num(cells.spread(storage.air_dry_water))[None],
        et_share=cells.spread(share)[None],
    )
    uptake, limit = _layer_uptake(storage, days), _capillary_limit(storage, days, faults)
    holding = _holding(storage, tops, cells)
    stages = Stages(
        shedding=_shedding(storage, tew, rew, cells),
        holding=holding,
        layer_uptake=None if uptake is None else cells.feed(uptake),
        capillary_limit=None if limit is None else cells.feed(limit),
    )
    return Made(
        ground,
        stages,
        neutral,
        _salt_factor(storage, days, faults),
        0.0 if holding is None else excess_capacity(storage, days.root_depth),
        0.0 if uptake is None else uptake,
        0.0 if limit is None else limit,
    )


def available_within(storage: Storage, depth: Any) -> Any:
    """Available water down to a depth [mm], by label; see `within`."""
    changes = tuple(1000.0 * change for change in storage.layer_changes)
    return within(depth, 1000.0 * storage.available_water, storage.layer_tops, changes)


def excess_capacity(storage: Storage, depth: Any) -> Any:
    """Water between field capacity and saturation down to a depth [mm], by label."""
    changes = tuple(1000.0 * change for change in storage.drainable_changes)
    return within(depth, 1000.0 * storage.drainable_water, storage.layer_tops, changes)


def known_runoff(
    weather: xr.Dataset, rain: xr.DataArray, storage: Storage, peak_rate: Number, faults: Faults
) -> Any:
    """Work out the runoff of rain that does not depend on the day's moisture; None where none runs off.

    Given with the weather, by the intensity of the rain against the intake of the soil, or by a curve
    number that is not adjusted. Where a system has a peak application rate, the intake may be there for
    irrigation alone.
    """
    curve_number = xr.DataArray(storage.curve_number)
    intake = xr.DataArray(storage.intake_rate)
    if "runoff" in weather or "rain_intensity" not in weather:
        intake = intake.where(xr.DataArray(peak_rate).isnull())
    if "runoff" in weather:
        given = weather["runoff"].reset_coords(drop=True)
        in_range(given, "runoff", faults)
        complete(given.where(rain.notnull(), 0.0), faults, "runoff")
        note_where(faults, "runoff", "is more than the rain", given > rain, {"runoff": given, "rain": rain})
        if bool(curve_number.notnull().any()) or bool(intake.notnull().any()):
            faults.add(
                "runoff",
                "is given with the weather beside a curve number or an intake rate",
                mend="give one of them",
            )
        return given
    runoff = None
    if bool(intake.notnull().any()):
        if "rain_intensity" not in weather:
            faults.add(
                "weather",
                "has no rain_intensity, which the intake rate of the soil needs",
                allowed="mean intensity of the day's rain while it fell [mm h-1]",
                mend="or work daily runoff out from hourly rain: waterbudget.soil.hourly_runoff, and give "
                "it as weather['runoff']",
            )
            return None
        intensity = weather["rain_intensity"].reset_coords(drop=True)
        in_range(intensity, "rain_intensity", faults)
        silent = (rain > 0) & ~(intensity > 0)
        note_where(
            faults,
            "rain_intensity",
            "is not given on a day of rain",
            silent,
            {"rain": rain},
            allowed="above 0",
        )
        falling = intensity.where(rain > 0, 1.0)
        runoff = intensity_runoff(rain, falling, intake).where(intake.notnull(), 0.0 * rain)
    plain = curve_number.where(xr.DataArray(storage.adjust_curve_number) == 0)
    if bool(plain.notnull().any()):
        shed = curve_number_runoff(rain, plain.fillna(1.0)).where(plain.notnull(), 0.0 * rain)
        runoff = shed if runoff is None else runoff + shed
    return None if runoff is None else runoff.transpose("time", ...)


def check_water_table(storage: Storage, time: pd.DatetimeIndex, faults: Faults) -> None:
    """Note a daily water table that is not on the days of the weather."""
    depth = storage.water_table_depth
    if isinstance(depth, xr.DataArray) and "time" in depth.dims and not depth.indexes["time"].equals(time):
        faults.add(
            "soil water_table_depth",
            "is not on the days of the weather",
            value=f"{depth.sizes['time']} days",
            allowed=f"every day from {time[0]:%Y-%m-%d} to {time[-1]:%Y-%m-%d}",
            mend="depth.interp(time=weather.time) draws lines between readings",
        )


def _check_layers(storage: Storage, days: Days, faults: Faults) -> None:
    """Note roots that go deeper than the layers are described."""
    end = xr.DataArray(storage.layers_end)
    deepest = xr.DataArray(days.deepest_root)
    note_where(
        faults,
        "crop root_depth",
        "is deeper than the soil is described",
        deepest > end,
        {"deepest root": deepest, "bottom of the last layer": end},
        mend="describe the soil deeper, or say where roots stop: restricting_depth",
    )


def _holding(storage: Storage, tops: tuple[Array, ...], cells: Cells) -> Holding | None:
    """Give what soils that drain slowly may hold; None where none does."""
    kept = cells.spread(1.0 - storage.drainage_fraction)[None]
    if not kept.any():
        return None
    drainable = cells.spread(1000.0 * storage.drainable_water)[None]
    changes = tuple(cells.spread(1000.0 * change)[None] for change in storage.drainable_changes)
    return Holding(kept, drainable, tops, changes)


def _shedding(storage: Storage, tew: Array, rew: Array, cells: Cells) -> Shedding | None:
    """Give the curve numbers of a dry and a wet layer; None where none is adjusted."""
    adjusted = xr.DataArray(storage.adjust_curve_number) > 0
    if not bool(adjusted.any()):
        return None
    # A curve number of 1 sheds nothing in any rain there can be.
    number = xr.DataArray(storage.curve_number).where(adjusted, 1.0)
    dry, wet = (part.where(adjusted, 1.0) for part in curve_numbers_dry_wet(number))
    return Shedding(cells.spread(dry)[None], cells.spread(wet)[None], rew[None], tew[None])


def _layer_uptake(storage: Storage, days: Days) -> xr.DataArray | None:
    """Give what roots may draw from the evaporation layer (Allen and others 2005); None where nothing."""
    asked = xr.DataArray(days.surface_uptake) * xr.DataArray(days.dual)
    if not bool((asked > 0).any()):
        return None
    part = storage.evaporation_depth / days.root_depth
    uptake: xr.DataArray = part.where(part < 1.0, 1.0) ** 0.6 * asked
    return uptake.transpose("time", ...)


def _capillary_limit(storage: Storage, days: Days, faults: Faults) -> xr.DataArray | None:
    """Give what can rise from a water table to the roots of each day; None where there is none."""
    table = xr.DataArray(storage.water_table_depth)
    if not bool(table.notnull().any()):
        return None
    deepest = xr.DataArray(days.deepest_root)
    above = table <= deepest
    note_where(
        faults,
        "soil water_table_depth",
        "is not below the deepest root",
        above,
        {"water table": table, "deepest root": deepest},
        mend="roots do not grow into a water table: give the crop the root depth it has there",
    )
    if bool(above.any()):
        return None
    # Powers of plain arrays in one form: numpy takes another path for a scalar exponent, with other bits.
    rates = (xr.DataArray(storage.capillary_a), xr.DataArray(storage.capillary_n))
    spread = [part.transpose("time", ...) for part in xr.broadcast(table - days.root_depth, *rates)]
    distance, a, n = (np.ascontiguousarray(part.values) for part in spread)
    return spread[0].copy(data=steady_upward_flow(a, n, distance)).fillna(0.0)


def _salt_factor(storage: Storage, days: Days, faults: Faults) -> Number:
    """Give the salinity stress of the season, FAO-56 Eq. 89 put into Eq. 90; 1 without salinity."""
    salinity = xr.DataArray(storage.soil_salinity)
    if not bool(salinity.notnull().any()):
        return 1.0
    threshold, slope, response = (
        xr.DataArray(value) for value in (days.salt_threshold, days.salt_slope, days.yield_response)
    )
    unknown = salinity.notnull() & (threshold + slope + response).isnull()
    note_where(
        faults,
        "crop salt_threshold, salt_slope, yield_response",
        "are needed where the salinity of the soil is given",
        unknown,
        {"soil_salinity": salinity},
        mend="FAO-56 Tables 23 and 24 list them; Crop.from_handbook takes them from there",
    )
    none_left = salinity >= threshold + 100.0 / slope
    shown = {"soil_salinity": salinity, "zero yield at": threshold + 100.0 / slope}
    note_where(
        faults,
        "soil_salinity",
        "leaves no yield",
        none_left,
        shown,
        allowed="below salt_threshold + 100 / salt_slope",
        mend="a crop that stands the salt, or leaching before it is grown",
    )
    factor = salt_factor(salinity, threshold, slope, response)
    note_where(
        faults,
        "soil_salinity",
        "stops transpiration before it stops yield: the yield response factor is too small for Eq. 89",
        xr.DataArray(factor <= 0) & ~none_left,
        shown,
        allowed="near the threshold; FAO-56 holds Eq. 89 for losses of yield up to a half",
    )
    factor = xr.DataArray(factor).fillna(1.0)
    return factor if factor.dims else float(factor)


def _evaporation_layer(
    storage: Storage, days: Days, cells: Cells, faults: Faults
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Give the layer's numbers; neutral ones where no evaporation is computed apart.

    Returns
    -------
    tew, rew : ndarray of float
        Total and readily evaporable water [mm].
    neutral : ndarray of bool
        Where both are such neutral numbers.
    """
    dual = xr.DataArray(days.dual)
    dual = dual.max("time") if "time" in dual.dims else dual
    bare = days.stage.isel(time=0, drop=True).copy(data=(days.stage.values == 0).any(axis=0).astype(float))
    needed = (cells.spread(dual) > 0) | (cells.spread(bare) > 0)
    tew, rew = cells.spread(storage.tew), cells.spread(storage.rew)
    known = ~(np.isnan(tew) | np.isnan(rew))
    lacking = needed & ~known
    if lacking.any():
        faults.add(
            "soil rew, tew",
            "are needed where soil evaporation is computed: with kcb, and on days of bare soil",
            where=cells.name(lacking),
            count=int(lacking.sum()),
            mend="give rew= (FAO-56 Table 19), and tew= where field capacity is not known: "
            "dataclasses.replace(soil, rew=...); or take a texture, Soil.from_handbook(texture)",
        )
    tew, rew = np.where(known, tew, 1.0), np.where(known, rew, 0.0)
    wrong = rew >= tew
    if wrong.any():
        faults.add("soil rew", "is not below tew", where=cells.name(wrong), count=int(wrong.sum()))
    return tew, rew, ~known
