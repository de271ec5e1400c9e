"""simulate: a Dataset in, a Dataset out. The friendly layer over the day loop."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from waterbudget.balance import drivers, layout
from waterbudget.balance.record import Record, no_record, read_record
from waterbudget.balance.result import Inputs, assemble
from waterbudget.balance.rule import Rule, choose
from waterbudget.balance.start import check_start, resume, set_out
from waterbudget.balance.step import Ground, Wetting
from waterbudget.checks import complete, in_range, time_axis
from waterbudget.crop import Crop, develop
from waterbudget.descriptions import Number, number
from waterbudget.errors import Faults, InputError, collect
from waterbudget.soil import Soil, Storage, curve_number_runoff, store
from waterbudget.system import System, deliver
from waterbudget.variables import VARIABLES
from waterbudget.weather import reference_et
from waterbudget.weather.reference import inputs_of


def simulate(
    weather: xr.Dataset,
    crop: Crop,
    soil: Soil,
    system: System | None = None,
    rule: Rule | None = None,
    *,
    irrigation: pd.DataFrame | None = None,
    initial_depletion: Any = 0.0,
    initial_depletion_below: Any = 0.0,
    initial_evaporation_depletion: Any = 0.0,
    state: xr.Dataset | None = None,
    recorded_until: Any = None,
    et_share_before_percolation: Any = 1.0,
    missing: Literal["raise", "propagate"] = "raise",
) -> xr.Dataset:
    """Run the daily soil-water balance of one field, or of any number of fields at once.

    Any number in any argument may carry named dimensions; they broadcast by name, labels must
    match exactly, and every combination is one cell of the run.

    Parameters
    ----------
    weather : Dataset
        From `read_weather`: ``rain`` and either ``et_ref`` or the columns from which `reference_et`
        can work it out, on ``time`` and any label dimensions.
    crop : Crop
    soil : Soil
    system : System, optional
        Without it the gross depth is NaN.
    rule : Rule, optional
        Without it only recorded irrigation happens.
    irrigation : DataFrame, optional
        Recorded waterings: ``date``, one of ``net_mm``, ``net_in``, ``gross_mm``, ``gross_in``,
        and, if wanted, ``field`` and ``purpose``. It covers a field's first entry to its last, or
        the first day to ``recorded_until``; covered days without an entry had none, and on all
        others the rule decides.
    initial_depletion : number
        Root-zone depletion before day 1 [mm], 0 (field capacity) to available water plus what
        evaporation takes below the wilting point.
    initial_depletion_below : number
        Depletion of the profile below the roots before day 1 [mm].
    initial_evaporation_depletion : number
        Depletion of the evaporation layer before day 1 [mm], 0 to ``tew``.
    state : Dataset, optional
        End state of an earlier run, ``season.isel(time=-1)``, in place of the three above. Its day
        must be the one before the weather begins. The run goes on bit for bit.
    recorded_until : date, optional
        Last day on which the record, and not the rule, says what was irrigated.
    et_share_before_percolation : number
        Share of the day's evapotranspiration that is taken from water above field capacity before
        it percolates [1]: 1 is FAO-56 Eq. 88, 0 the order printed in its Example 38.
    missing : {"raise", "propagate"}
        What to do about missing weather: refuse, or let the cell be NaN from that day on.

    Returns
    -------
    Dataset
        Daily variables on ``time`` and the dimensions each depends on, parameters on theirs, the
        state before day 1 (``initial_…``). Always the same variables. Units stand in the
        attributes; sources and assumptions in the attributes of the Dataset.

    Raises
    ------
    InputError
        With every fault that was found.

    Notes
    -----
    Source of the method: FAO Irrigation and Drainage Paper 56 (1998), chapters 6 to 8. The order
    of a day is in the documentation (theory) and in `explain`.

    Examples
    --------
    >>> season = simulate(weather, Crop.from_handbook("sweet maize", planted="2024-05-12"),
    ...                   Soil.from_handbook("sandy loam"), System.from_handbook("centre pivot"),
    ...                   Rule(allowable_depletion=0.5))
    """
    with collect() as faults:
        _check_kinds(weather, crop, soil, system, rule, faults)
        if state is not None and not isinstance(state, xr.Dataset):
            faults.add("state", "is not an end state", mend="give season.isel(time=-1) of an earlier run")
        if missing not in ("raise", "propagate"):
            faults.add("missing", "is unknown", value=repr(missing), allowed="'raise' or 'propagate'")
        given = {
            f"initial_{name}": number(value, name, faults, what=what)
            for name, value, what in (
                ("depletion", initial_depletion, "initial_depletion"),
                ("depletion_below", initial_depletion_below, "initial_depletion_below"),
                ("surface_depletion", initial_evaporation_depletion, "initial_evaporation_depletion"),
            )
        }
        filled = [name for name, value in given.items() if np.any(xr.DataArray(value).values)]
        if state is not None and filled:
            faults.add(
                ", ".join(filled), "is given beside state", mend="give one of them: the state has its own"
            )
        share = number(et_share_before_percolation, "et_share_before_percolation", faults)
        series = _series(weather, crop, missing, faults) if isinstance(weather, xr.Dataset) else None
    assert series is not None  # or a fault was raised
    time, et_ref, rain = series
    storage, delivery, growth = store(soil), deliver(system), develop(crop)
    choice = None if rule is None else choose(rule)
    parts: dict[str, Any] = {"et_ref": et_ref, "rain": rain, "planted": growth.first_day}
    parts |= {f"crop {name}": getattr(crop, name) for name in layout.CROP_FIELDS}
    parts |= {f"soil {name}": value for name, value in storage._asdict().items()}
    parts |= {f"system {name}": value for name, value in delivery._asdict().items()}
    parts |= {f"rule {name}": value for name, value in (choice or {}).items()}
    parts |= {**given, "et_share_before_percolation": share}
    if state is not None and "depletion" in state:
        parts["state"] = state["depletion"]
    cells = layout.cells_of(
        {name: part for name, part in parts.items() if isinstance(part, xr.DataArray)}, weather
    )
    days = layout.grow(growth, time, cells)
    with collect() as faults:
        layout.check_days(days, faults)
        if state is None:  # an earlier run may go on after harvest
            layout.check_season(growth, days, time, crop, faults)
        tew, stage_two, neutral = _evaporation_layer(storage, days, cells, faults)
    record = _record(irrigation, recorded_until, time, cells, delivery.gross_to_net)
    runoff = _runoff(rain, storage)
    numbers = drivers.Numbers(
        dual=cells.spread(days.dual),
        ground=Ground(
            available=cells.spread(1000.0 * storage.available_water)[None],
            deepest_root=cells.spread(days.deepest_root)[None],
            tew=tew[None],
            stage_two=stage_two[None],
            air_dry_water=np.nan_to_num(cells.spread(storage.air_dry_water))[None],
            depletion_fraction=cells.spread(crop.depletion_fraction)[None],
            adjust=cells.spread(crop.adjust_depletion_fraction)[None],
            et_share=cells.spread(share)[None],
        ),
        wetting=Wetting(
            cells.spread(delivery.wetted_fraction),
            cells.spread(delivery.subsurface),
            cells.spread(delivery.under_canopy),
        ),
        choice=layout.choice_of(choice, cells),
        spots=drivers.Spots(
            cells.spread_spots(delivery.spot_share), cells.spread_spots(delivery.spot_weight)
        ),
        neutral_layer=neutral,
    )
    feeds = drivers.Feeds(
        et_ref=cells.feed(et_ref),
        rain=cells.feed(rain if runoff is None else rain - runoff),
        coefficient=cells.feed(days.coefficient),
        kc_max=cells.feed(days.kc_max),
        cover=cells.feed(days.cover),
        root_depth=cells.feed(days.root_depth),
        stage=cells.feed(days.stage),
        recorded=cells.feed(record.net),
        free=cells.feed(record.free),
    )
    if state is None:
        start = set_out(given, feeds, numbers, cells)
    else:
        start = resume(state, time[0], numbers, cells)
    with collect() as faults:
        check_start(start, numbers, cells, faults)
    written = {name: np.empty((len(time), cells.spots, cells.count)) for name in drivers.SPOT_OUTPUTS}
    written |= {name: np.empty((len(time), cells.count)) for name in drivers.FIELD_OUTPUTS}
    first_day = int(time[0].to_datetime64().astype("datetime64[D]").astype(np.int64))
    drivers.run(first_day, feeds, numbers, *start, written)
    told = Inputs(
        time=time,
        cells=cells,
        days=days,
        et_ref=et_ref,
        rain=rain,
        runoff=runoff,
        crop=crop,
        soil=soil,
        storage=storage,
        system=system,
        delivery=delivery,
        rule=rule,
        record=record,
        start=start,
        share=share,
        resumed=state is not None,
        missing=missing,
    )
    return assemble(told, written)


def _check_kinds(weather: Any, crop: Any, soil: Any, system: Any, rule: Any, faults: Faults) -> None:
    """Note arguments in each other's places."""
    wanted = {"weather": (weather, xr.Dataset), "crop": (crop, Crop), "soil": (soil, Soil)}
    if system is not None:
        wanted["system"] = (system, System)
    if rule is not None:
        wanted["rule"] = (rule, Rule)
    for name, (value, kind) in wanted.items():
        if not isinstance(value, kind):
            faults.add(name, f"is not a {kind.__name__}", value=type(value).__name__)
    if isinstance(weather, xr.Dataset) and "time" not in weather.dims:
        faults.add("weather", "has no dimension time", mend="make it with read_weather")


def _series(
    weather: xr.Dataset, crop: Any, missing: str, faults: Faults
) -> tuple[pd.DatetimeIndex, xr.DataArray, xr.DataArray] | None:
    """Take days, reference evapotranspiration (given, or worked out for the crop's basis) and rain."""
    if "time" not in weather.dims:
        return None
    time_axis(weather["time"], faults)
    if "rain" not in weather:
        faults.add(
            "weather", "has no rain", mend="read_weather(..., columns={'rain': ...}); 0 where it was dry"
        )
    if not isinstance(crop, Crop) or faults:
        return None
    try:
        et_ref = reference_et(weather, surface=crop.basis).reset_coords(drop=True)
    except InputError as error:
        faults.extend(error.faults)
        return None
    rain = weather["rain"].reset_coords(drop=True)
    for name, values in (("et_ref", et_ref), ("rain", rain)):
        unit = values.attrs.get("units", VARIABLES[name].unit)
        if unit != VARIABLES[name].unit:
            faults.add(
                name,
                "is in another unit",
                value=repr(unit),
                allowed=VARIABLES[name].unit,
                mend="read it with read_weather, which converts",
            )
        in_range(values, name, faults)
    if missing == "raise":
        for name in ("rain", *inputs_of(weather, crop.basis)):
            complete(weather[name], faults, name)
        if not faults:  # the method itself may give no value, for example in the polar night
            complete(et_ref, faults, "et_ref")
    # Copies, so that a result never shares memory with the weather it came from.
    return pd.DatetimeIndex(weather["time"].values), et_ref.copy(), rain.copy()


def _record(
    irrigation: pd.DataFrame | None,
    recorded_until: Any,
    time: pd.DatetimeIndex,
    cells: layout.Cells,
    ratio: Number,
) -> Record:
    """Read the record, if there is one."""
    if irrigation is None and recorded_until is None:
        return no_record(time)
    table = pd.DataFrame({"date": [], "net_mm": []}) if irrigation is None else irrigation
    fields = cells.coords.get("field")
    if irrigation is None and fields is not None:
        table = table.assign(field=[])
    return read_record(table, time, fields, ratio, recorded_until)


def _runoff(rain: xr.DataArray, storage: Storage) -> xr.DataArray | None:
    """Work out what runs off; None when no field sheds rain."""
    curve_number = xr.DataArray(storage.curve_number)
    if not bool(curve_number.notnull().any()):
        return None
    runoff: xr.DataArray = curve_number_runoff(rain, curve_number.fillna(1.0))
    return runoff.where(curve_number.notnull(), 0.0 * rain).transpose("time", ...)


def _evaporation_layer(
    storage: Storage, days: layout.Days, cells: layout.Cells, faults: Faults
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """Give the layer's numbers; neutral ones where no evaporation is computed apart.

    Returns
    -------
    tew, stage_two : ndarray of float
        Total evaporable water, and that of the second stage (tew - rew) [mm].
    neutral : ndarray of bool
        Where both are such neutral numbers.
    """
    bare = days.stage.isel(time=0, drop=True).copy(data=(days.stage.values == 0).any(axis=0).astype(float))
    needed = (cells.spread(days.dual) > 0) | (cells.spread(bare) > 0)
    tew, rew = cells.spread(storage.tew), cells.spread(storage.rew)
    known = ~(np.isnan(tew) | np.isnan(rew))
    lacking = needed & ~known
    if lacking.any():
        faults.add(
            "soil rew, tew",
            "are needed where soil evaporation is computed: with kcb, and on days of bare soil",
            where=cells.name(lacking),
            count=int(lacking.sum()),
            mend="give rew= and tew= (FAO-56 Table 19), or Soil.from_handbook(texture)",
        )
    tew, rew = np.where(known, tew, 1.0), np.where(known, rew, 0.0)
    wrong = rew >= tew
    if wrong.any():
        faults.add("soil rew", "is not below tew", where=cells.name(wrong), count=int(wrong.sum()))
    return tew, tew - rew, ~known


__all__ = ["simulate"]
