"""simulate: a Dataset in, a Dataset out. The friendly layer over the day loop."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.balance import drivers, layout
from waterbudget.balance.calendar import lay_out
from waterbudget.balance.ground import Made, check_water_table, known_runoff, make_ground
from waterbudget.balance.inputs import Inputs
from waterbudget.balance.record import Record, add_extra, no_record, read_record
from waterbudget.balance.result import assemble
from waterbudget.balance.rule import Rule, choose
from waterbudget.balance.start import check_start, resume, set_out
from waterbudget.balance.step import Wetting
from waterbudget.balance.supply import Watering, check_days, make_watering, meet_intake
from waterbudget.checks import complete, in_range, time_axis
from waterbudget.crop import Crop, Rotation
from waterbudget.descriptions import Number, number
from waterbudget.errors import Faults, InputError, collect
from waterbudget.soil import Soil, store
from waterbudget.system import Delivery, System, deliver
from waterbudget.variables import VARIABLES
from waterbudget.weather.flags import flag_faults, flag_name, flags_of
from waterbudget.weather.reference import evaluate, inputs_of


def simulate(
    weather: xr.Dataset,
    crop: Crop | Rotation,
    soil: Soil,
    system: System | None = None,
    rule: Rule | None = None,
    *,
    irrigation: pd.DataFrame | None = None,
    extra_irrigation: pd.DataFrame | None = None,
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
        can work it out, on ``time`` and any label dimensions. ``runoff`` [mm] is used as it stands;
        ``rain_intensity`` [mm h-1] is needed by a soil with an ``intake_rate``; ``tmin`` and ``tmax``
        by a crop that develops by heat or ends by frost.
    crop : Crop or Rotation
        One crop, or several that follow one another on the field.
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
    extra_irrigation : DataFrame, optional
        Waterings planned on top of the rule (leaching, germination, frost): the same columns. It covers no
        days, and may not fall on days that the record covers.
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
            f"initial_{name}": number(
                _of_the_day_before(value, what, weather, faults), name, faults, what=what
            )
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
    time, et_ref, rain, origins = series
    storage = store(soil)
    with collect() as faults:
        delivery = meet_intake(deliver(system), storage, faults)
    crops = crop.crops if isinstance(crop, Rotation) else (crop,)
    heat = _temperatures(weather, crops, missing)
    choice = None if rule is None else choose(rule)
    parts: dict[str, Any] = {"et_ref": et_ref, "rain": rain, **heat}
    parts |= {name: weather[name] for name in ("runoff", "rain_intensity") if name in weather}
    for place, one in enumerate(crops, start=1):
        title = "crop" if len(crops) == 1 else f"crop {place}"
        parts |= {f"{title} {name}": getattr(one, name) for name in layout.CROP_FIELDS}
    for name, value in storage._asdict().items():
        several = value if isinstance(value, tuple) else (value,)
        parts |= {f"soil {name} {place}": part for place, part in enumerate(several)}
    parts |= {f"system {name}": value for name, value in delivery._asdict().items()}
    parts |= {f"rule {name}": value for name, value in (choice or {}).items()}
    if rule is not None:
        parts |= {"rule adequacy": rule.adequacy, "rule watch_driest_quarter": rule.watch_driest_quarter}
    parts |= {**given, "et_share_before_percolation": share}
    if state is not None and "depletion" in state:
        parts["state"] = state["depletion"]
    cells = layout.cells_of(
        {
            name: part.reset_coords(drop=True)
            for name, part in parts.items()
            if isinstance(part, xr.DataArray)
        },
        weather,
    )
    with collect() as faults:
        days, lost = lay_out(crops, heat, time, cells, state)
        if state is None:  # an earlier run may go on after harvest
            layout.check_season(crops, days, time, faults)
        layout.check_days(days, faults)
        if lost is not None:
            days = days._replace(coefficient=cells.in_order(days.coefficient.where(~lost)))
    with collect() as faults:
        days = layout.restrict(days, storage.restricting_depth, cells)
        check_water_table(storage, time, faults)
        check_days(delivery, time, faults)
        watering = make_watering(delivery, rule, cells, faults)
        runoff = known_runoff(weather, rain, storage, delivery.peak_application_rate, faults)
        made = None if faults else make_ground(storage, days, share, cells, faults)
    assert made is not None  # or a fault was raised
    made = made._replace(
        stages=made.stages._replace(
            wetted_volume=watering.wetted_volume, driest=watering.driest, adequacy=watering.adequacy
        )
    )
    record = _record(irrigation, recorded_until, time, cells, delivery.gross_to_net)
    record = add_extra(record, extra_irrigation, time, cells.coords.get("field"), delivery.gross_to_net)
    numbers = _numbers(made, delivery, watering, choice, cells)
    feeds = _feeds(days, made, et_ref, rain if runoff is None else rain - runoff, record, cells)
    if state is None:
        start = set_out(given, feeds, numbers, cells)
    else:
        start = resume(state, time[0], numbers, cells)
    with collect() as faults:
        check_start(start, numbers, cells, faults)
    names = (*drivers.SPOT_OUTPUTS, *made.stages.outputs())
    written = {name: np.empty((len(time), cells.spots, cells.count)) for name in names}
    written |= {name: np.empty((len(time), cells.count)) for name in drivers.FIELD_OUTPUTS}
    first_day = int(time[0].to_datetime64().astype("datetime64[D]").astype(np.int64))
    drivers.run(first_day, feeds, numbers, *start, written)
    told = Inputs(
        time=time,
        cells=cells,
        days=days,
        made=made,
        et_ref=et_ref,
        rain=rain,
        origins=origins,
        runoff=runoff,
        crop=crop,
        soil=soil,
        storage=storage,
        system=system,
        delivery=delivery,
        watering=watering,
        rule=rule,
        record=record,
        start=start,
        share=share,
        resumed=state is not None,
        missing=missing,
    )
    return assemble(told, written)


def _temperatures(weather: xr.Dataset, crops: tuple[Crop, ...], missing: str) -> dict[str, xr.DataArray]:
    """Take the temperatures that any of the crops follows; empty where none does."""
    wanted = set()
    for crop in crops:
        if crop.stage_degree_days is not None:
            wanted |= {"tmin", "tmax"}
        if crop.killing_frost is not None:
            wanted.add("tmin")
    found: dict[str, xr.DataArray] = {}
    with collect() as faults:
        for name in sorted(wanted):
            if name not in weather:
                faults.add(
                    "weather",
                    f"has no {name}, which a crop that develops by heat or ends by frost needs",
                    mend=f"read_weather(..., columns={{{name!r}: ...}})",
                )
                continue
            found[name] = weather[name].reset_coords(drop=True)
            in_range(found[name], name, faults)
            if missing == "raise":
                complete(found[name], faults, name)
    return found


def _numbers(
    made: Made,
    delivery: Delivery,
    watering: Watering,
    choice: dict[str, Number] | None,
    cells: layout.Cells,
) -> drivers.Numbers:
    """Gather the numbers of the day loop."""
    return drivers.Numbers(
        ground=made.ground,
        wetting=Wetting(
            cells.spread(delivery.wetted_fraction),
            cells.spread(delivery.subsurface),
            cells.spread(delivery.under_canopy),
        ),
        stages=made.stages,
        choice=layout.choice_of(choice, watering.over_application, cells),
        spots=watering.spots,
        neutral_layer=made.neutral_layer,
    )


def _feeds(
    days: layout.Days,
    made: Made,
    et_ref: xr.DataArray,
    rain: xr.DataArray,
    record: Record,
    cells: layout.Cells,
) -> drivers.Feeds:
    """Gather the daily series of the day loop; rain is less the runoff known beforehand."""
    series: dict[str, Number] = {
        "et_ref": et_ref,
        "rain": rain,
        "coefficient": days.coefficient,
        "kc_max": days.kc_max,
        "cover": days.cover,
        "root_depth": days.root_depth,
        "stage": days.stage,
        "dual": days.dual,
        "evaporation_factor": days.evaporation_factor,
        "depletion_fraction": days.depletion_fraction,
        "adjust": days.adjust,
        "salt_factor": made.salt_factor,
        "recorded": record.net + record.extra,
        "free": record.free,
    }
    return drivers.Feeds(**{name: cells.feed(value) for name, value in series.items()})


def _of_the_day_before(value: Any, name: str, weather: Any, faults: Faults) -> Any:
    """Take a depletion that knows its date, as observed ones do, if it is of the day before the run."""
    dated = isinstance(value, xr.DataArray) and "time" in value.coords
    if not dated or not isinstance(weather, xr.Dataset) or "time" not in weather.dims:
        return value
    before = pd.Timestamp(weather["time"].values[0]) - pd.Timedelta(days=1)
    days = pd.DatetimeIndex(np.atleast_1d(value["time"].values))
    if "time" in value.dims or days[0] != before:
        faults.add(
            name,
            "is not of the day before the weather begins",
            value=", ".join(f"{day:%Y-%m-%d}" for day in days[:3]),
            count=len(days),
            allowed=f"one value, of {before:%Y-%m-%d}",
            mend="choose the day, value.sel(time=...), and begin the weather on the day after it",
        )
        return 0.0
    return value.drop_vars("time")


def _check_kinds(weather: Any, crop: Any, soil: Any, system: Any, rule: Any, faults: Faults) -> None:
    """Note arguments in each other's places."""
    a_crop = Rotation if isinstance(crop, Rotation) else Crop
    wanted: dict[str, tuple[Any, type]] = {
        "weather": (weather, xr.Dataset),
        "crop": (crop, a_crop),
        "soil": (soil, Soil),
    }
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
) -> tuple[pd.DatetimeIndex, xr.DataArray, xr.DataArray, dict[str, xr.DataArray]] | None:
    """Take days, reference evapotranspiration (given, or worked out for the crop's basis), rain, origins."""
    if "time" not in weather.dims:
        return None
    time_axis(weather["time"], faults)
    flag_faults(weather, faults)
    if "rain" not in weather:
        faults.add(
            "weather", "has no rain", mend="read_weather(..., columns={'rain': ...}); 0 where it was dry"
        )
    if not isinstance(crop, Crop | Rotation) or faults:
        return None
    basis = (crop.crops[0] if isinstance(crop, Rotation) else crop).basis
    try:
        reference = evaluate(weather, surface=basis)
    except InputError as error:
        faults.extend(error.faults)
        return None
    et_ref = reference.et.reset_coords(drop=True).compute()
    rain = weather["rain"].reset_coords(drop=True).compute()
    origins = {flag_name(group): flags for group, flags in reference.flags.items()}
    origins |= {"et_ref_method": reference.method, "rain_flag": flags_of(weather, "rain")}
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
        for name in ("rain", *inputs_of(weather, basis)):
            complete(weather[name], faults, name)
        if not faults:  # the method itself may give no value, for example in the polar night
            complete(et_ref, faults, "et_ref")
    # Copies, so that a result never shares memory with the weather it came from.
    return pd.DatetimeIndex(weather["time"].values), et_ref.copy(), rain.copy(), origins


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


__all__ = ["simulate"]
