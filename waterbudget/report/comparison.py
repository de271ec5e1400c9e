"""Irrigation systems side by side, on equal terms: one crop, soil, weather and rule."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import xarray as xr

from waterbudget.balance import Rule, simulate
from waterbudget.checks import time_axis
from waterbudget.crop import Crop, Rotation
from waterbudget.errors import Faults, InputError, collect
from waterbudget.report.frames import UnitSystem, check_units
from waterbudget.report.ledger import profile_change
from waterbudget.report.losses import LOSSES, fate
from waterbudget.report.performance import Outcome, of_field, outcome_table
from waterbudget.report.years import within, yearly
from waterbudget.soil import Soil
from waterbudget.system import System, hours, pumping_energy, volume

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_KINDS = ("unavoidable", "intended", "waste", "unattributed")
_OF_FIELD = ("application_efficiency", "adequacy", "stress_days", "et", "drainage", "relative_yield")
_OF_IRRIGATION = ("application_efficiency", "adequacy")
"""What a year without irrigation does not have."""
_EVEN = "no pattern of cans or emitters is given: taken as watered evenly, the best case"
_NOTE = "note"


def compare(
    systems: Mapping[str, System],
    weather: xr.Dataset,
    crop: Crop | Rotation,
    soil: Soil,
    rule: Rule | None = None,
    *,
    initial_depletion: Any = 0.0,
    energy_price: float | None = None,
    units: UnitSystem = "metric",
) -> pd.DataFrame:
    """Run systems on equal terms and lay their numbers side by side.

    Equal are crop, soil, weather, rule and the depletion before the first day; only the system differs, and
    with it what the rule finds on each morning. No system is taken for better than another, but a system
    without a pattern of spots is taken as watered evenly, and beside a measured one looks better than it may
    be: ``note`` says so.

    Parameters
    ----------
    systems : mapping of str to System
        By name, in the order of the table. Numbers and patterns of spots may differ.
    weather : Dataset
        As in `simulate`, of one or many years.
    crop : Crop or Rotation
        A `Crop` with one planting date and stages is planted on that month and day (29 February: the 28th
        where there is none) in every year whose whole season lies within the weather. Each of these seasons
        is a run by itself, from the planting day to the last day of the crop; ``last_date`` of the rule moves
        with it. Every other crop (a rotation, a daily series, planting dates by label, no planting date) is
        run once over all the weather.
    soil : Soil
    rule : Rule, optional
        One for all. Without it nothing is irrigated.
    initial_depletion : number
        Root-zone depletion before the first day of each run [mm].
    energy_price : float, optional
        Price of one kWh, in a currency of your own, 0 or more.
    units : {"metric", "us"}
        Units of depths and volumes.

    Returns
    -------
    DataFrame
        A row for each system and year (and combination of labels): ``system``, ``year`` (of the first day of
        the run), the label dimensions, and over the run

        - ``irrigations``; ``gross_mm``; its parts by kind, ``unavoidable_mm``, ``intended_mm``, ``waste_mm``,
          ``unattributed_mm`` and ``stored_mm``, which add up to it; and each loss by itself (see `losses`);
        - ``application_efficiency``, ``adequacy``, ``stress_days``, ``et_mm``, ``drainage_mm``,
          ``relative_yield``, as in `performance`; ``profile_change_mm``, water of the soil at the end less
          that at the start: what one system saves of the water pumped, it may have taken from the soil;
        - ``volume_m3``, ``hours``, ``energy_kWh`` and, with a price, ``energy_cost``: NaN where area, flow or
          rate, lift, pressure or efficiency of the pump are not given;
        - ``note``: what a reader must know; empty where there is nothing.

    Raises
    ------
    InputError
        When no system is given, one is not a `System`, the price is no price, no whole season lies within the
        weather, or a run is refused: then with the name of the system and the year.

    See Also
    --------
    summarize_comparison : mean and spread over the years.
    plot_comparison : the picture.
    """
    check_units(units)
    with collect() as faults:
        _check(systems, weather, crop, energy_price, faults)
    planted = yearly(weather, crop, rule)
    tables = []
    with collect() as faults:
        for name, system in systems.items():
            for season in planted:
                try:
                    run = simulate(
                        season.weather,
                        season.crop,
                        soil,
                        within(system, season.weather),
                        season.rule,
                        initial_depletion=initial_depletion,
                    )
                except InputError as error:
                    faults.extend(error.faults, prefix=f"{name!r}, {season.year}: ")
                    break  # the other years would say the same again
                for dim in {"system", "year"} & set(run.dims):
                    faults.add(f"dimension {dim!r}", "bears the name of a column", where=repr(name))
                if faults:
                    break
                table = outcome_table(run, _outcomes(run, energy_price), units)
                table.insert(0, "system", name)
                table.insert(1, "year", season.year)
                tables.append(table)
    return pd.concat(tables, ignore_index=True)


def _check(systems: Any, weather: Any, crop: Any, energy_price: Any, faults: Faults) -> None:
    """Note what cannot be compared."""
    if not isinstance(systems, Mapping):
        faults.add(
            "systems",
            "is not a mapping of name to System",
            value=type(systems).__name__,
            mend='compare({"pivot": ..., "drip": ...}, ...)',
        )
    elif not systems:
        faults.add("systems", "is empty", mend="give at least one name and System")
    else:
        wrong = {name: one for name, one in systems.items() if not isinstance(one, System)}
        if wrong:
            name, one = next(iter(wrong.items()))
            faults.add(
                "systems",
                "holds what is not a System",
                where=repr(name),
                value=type(one).__name__,
                count=len(wrong),
            )
        texts = [str(name) for name in systems]
        double = [text for text in dict.fromkeys(texts) if texts.count(text) > 1]
        if double:
            faults.add("systems", "has names that read alike", value=double[0], count=len(double))
    if not isinstance(weather, xr.Dataset) or weather.sizes.get("time", 0) == 0:
        faults.add("weather", "is not a Dataset with days on time", mend="take it from read_weather")
    else:
        time_axis(weather["time"], faults, what="weather")
    if not isinstance(crop, Crop | Rotation):
        faults.add("crop", "is not a Crop or a Rotation", value=type(crop).__name__)
    if energy_price is not None:
        plain = isinstance(energy_price, int | float | np.number) and not isinstance(energy_price, bool)
        if not plain or not np.isfinite(energy_price) or energy_price < 0:
            faults.add("energy_price", "is no price", value=repr(energy_price), allowed="0 or more a kWh")


# ------------------------------------------------------------------ numbers
def _outcomes(season: xr.Dataset, energy_price: float | None) -> dict[str, Outcome]:
    """Gather the numbers of one run."""
    depths, field = fate(season), of_field(season)
    gross = depths["irrigation_gross"]
    kinds = {kind: sum(depths[one.name] for one in LOSSES if one.kind == kind) for kind in _KINDS}
    water = volume(gross, season["area"])
    energy = pumping_energy(water, season["lift"], season["operating_pressure"], season["pump_efficiency"])
    pumped = xr.apply_ufunc(hours, gross, season["application_rate"], season["flow"], season["area"])
    shown = {
        "irrigations": field["irrigations"],
        "gross": Outcome("mm", gross),
        **{kind: Outcome("mm", xr.DataArray(depth)) for kind, depth in kinds.items()},
        "stored": Outcome("mm", depths["stored"]),
        **{one.name: Outcome("mm", depths[one.name]) for one in LOSSES},
        **{name: field[name] for name in _OF_FIELD},
        "profile_change": Outcome("mm", profile_change(season)),
        "volume": Outcome("m3", water),
        "hours": Outcome("h", pumped),
        "energy": Outcome("kWh", energy),
    }
    if energy_price is not None:
        shown["energy_cost"] = Outcome("1", energy * energy_price)
    # A uniformity is not known where fewer than two spots are watched: no pattern was given.
    even = field["distribution_uniformity"].values.isnull()
    note = np.where(even.to_numpy(), _EVEN, "").astype(object)
    shown[_NOTE] = Outcome("1", xr.DataArray(note, dims=even.dims))
    return shown


# ------------------------------------------------------------------ over the years
def summarize_comparison(table: pd.DataFrame) -> pd.DataFrame:
    """Take mean, least and most over the years of a comparison.

    Parameters
    ----------
    table : DataFrame
        From `compare`.

    Returns
    -------
    DataFrame
        A row for each system (and combination of labels), in the order of the table: ``system``, the label
        columns, ``years`` (how many), then for each number three columns, with ``_mean``, ``_min`` and
        ``_max`` behind its name, and ``note``. A year without irrigation has no application efficiency and
        no adequacy: theirs are over the other years. Any other number that is missing in a year is missing
        here.

    Raises
    ------
    InputError
        When `table` is not from `compare`.
    """
    _check_table(table)
    columns = list(table.columns)
    labels = [name for name in columns[: columns.index("irrigations")] if name != "year"]
    numbers = [name for name in columns[columns.index("irrigations") :] if name != _NOTE]
    rows = []
    for key, years in table.groupby(labels, sort=False, dropna=False):
        row: dict[str, Any] = {**dict(zip(labels, key, strict=True)), "years": len(years)}
        for name in numbers:
            values = years.loc[years["irrigations"] > 0, name] if name in _OF_IRRIGATION else years[name]
            row[f"{name}_mean"] = values.mean(skipna=False)
            row[f"{name}_min"] = values.min(skipna=False)
            row[f"{name}_max"] = values.max(skipna=False)
        row[_NOTE] = years[_NOTE].iloc[0]  # of the system, the same in all years
        rows.append(row)
    return pd.DataFrame(rows)


def _check_table(table: Any) -> None:
    """Refuse what is not a comparison."""
    mend = "give what compare returned, as it came"
    needed = ("system", "year", "irrigations", "gross", *_KINDS, "stored", *_OF_FIELD, _NOTE)
    with collect() as faults:
        if not isinstance(table, pd.DataFrame):
            faults.add("table", "is not a DataFrame", value=type(table).__name__, mend=mend)
            return
        lacking = [
            name for name in needed if not {name, f"{name}_mm", f"{name}_in"}.intersection(table.columns)
        ]
        if lacking or table.empty:
            faults.add(
                "table",
                f"lacks {', '.join(lacking)}" if lacking else "has no row",
                count=max(len(lacking), 1),
                mend=mend,
            )


_COLORS = {
    "stored": ("stored for the crop", "#1f5f6b"),
    "intended": ("leaching", "#7d6aa8"),
    "unavoidable": ("unavoidable", "#9db4c6"),
    "unattributed": ("lost, cause not known", "#d0d0d0"),
    "waste": ("waste: can be mended", "#b3541e"),
}
_INK = "#333333"
_BESIDE = {
    "hours": "hours",
    "energy_kWh": "energy [kWh]",
    "stress_days": "days of stress",
    "relative_yield": "relative yield",
}
"""What stands beside the water, where it is known."""


def plot_comparison(table: pd.DataFrame) -> Figure:
    """Draw where the water pumped went under each system, and beside it hours, energy, stress and yield.

    Bars are means of the years, whiskers the least and the most of them. Systems stand in the order of the
    table, the first on top. Stress begins at 0, and yield is shown from 0 to 1 at least. Where systems with
    and without a pattern of spots stand side by side, the latter bear an asterisk: taken as watered evenly.

    Parameters
    ----------
    table : DataFrame
        From `compare`, without label dimensions.

    Returns
    -------
    matplotlib Figure
        With one set of axes for the water, one for the days of stress, and one for each of the hours, the
        energy and the relative yield that is known of any system.

    Raises
    ------
    InputError
        When `table` is not from `compare`, or has several rows for one system and year.
    ImportError
        When matplotlib is not installed.
    """
    _check_table(table)
    with collect() as faults:
        double = table.duplicated(["system", "year"])
        if double.any():
            first = table.loc[double].iloc[0]
            faults.add(
                "table",
                "has several rows for one system and year; a picture shows one field",
                where=f"{first['system']!r}, {first['year']}",
                count=int(double.sum()),
                mend="select one label: table[table['field'] == ...]",
            )
    try:
        pyplot: Any = import_module("matplotlib.pyplot")
    except ImportError as error:
        message = "plot_comparison needs matplotlib: pip install waterbudget[plots]"
        raise ImportError(message) from error
    summary = summarize_comparison(table)
    unit = "mm" if "gross_mm" in table else "in"
    beside = {name: title for name, title in _BESIDE.items() if summary[f"{name}_mean"].notna().any()}
    figure, axes = pyplot.subplots(
        ncols=1 + len(beside),
        sharey=True,
        figsize=(6.0 + 1.8 * len(beside), 1.8 + 0.5 * len(summary)),
        width_ratios=[4.0, *(1.2 for _ in beside)],
        layout="constrained",
    )
    rows = np.arange(len(summary))
    _draw_water(axes[0], summary, unit)
    for ax, (name, title) in zip(axes[1:], beside.items(), strict=True):
        mean = summary[f"{name}_mean"].to_numpy()
        ax.hlines(rows, summary[f"{name}_min"], summary[f"{name}_max"], color=_INK, linewidth=1.2)
        ax.plot(mean, rows, "o", color=_INK, markersize=5)
        for row, value in zip(rows[np.isfinite(mean)], mean[np.isfinite(mean)], strict=True):
            place = {"xytext": (0, 6), "textcoords": "offset points", "ha": "center"}
            text = f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}"
            ax.annotate(text, (value, row), **place, color=_INK, fontsize="small")
        ax.set_xlabel(title)
        # With 0, as the bars: a difference looks as large as it is.
        least, most = (summary[f"{name}_{end}"] for end in ("min", "max"))
        ax.set_xlim(1.15 * np.nanmin([0.0, *least]), 1.15 * np.nanmax([1.0, *most]))
    even = (summary[_NOTE] == _EVEN).to_numpy()
    marked = even & ~np.all(even)
    axes[0].set_yticks(rows, summary["system"].astype(str) + np.where(marked, " *", ""))
    axes[0].set_ylim(len(rows) - 0.4, -0.5)
    for ax in axes:
        ax.grid(axis="x", color="#e3e3e3", linewidth=0.6)
        ax.set_axisbelow(True)
        ax.tick_params(axis="y", length=0)
        for side in ("top", "right", "left"):
            ax.spines[side].set_visible(False)
    legend = figure.legend(loc="outside lower center", ncols=3, frameon=False, fontsize="small")
    if marked.any():
        legend.set_title("* no pattern given: taken as watered evenly", {"size": "small"})
    drawn: Figure = figure
    return drawn


def _draw_water(ax: Axes, summary: pd.DataFrame, unit: str) -> None:
    """Stack where the water went, and mark the spread of the water pumped."""
    rows = np.arange(len(summary))
    begin = np.zeros(len(summary))
    for name, (title, color) in _COLORS.items():
        width = summary[f"{name}_{unit}_mean"].to_numpy()
        if (width > 0).any():
            ax.barh(rows, width, left=begin, height=0.6, color=color, label=title)
        begin = begin + width
    mean, least, most = (summary[f"gross_{unit}_{part}"].to_numpy() for part in ("mean", "min", "max"))
    if (summary["years"] > 1).any():
        ax.errorbar(
            mean,
            rows + 0.4,  # beside the bar, where no color hides it
            xerr=(mean - least, most - mean),
            fmt="none",
            ecolor=_INK,
            elinewidth=1.2,
            capsize=4,
            label="least and most of the years",
        )
    ax.set_xlabel(f"water pumped [{unit}]")
