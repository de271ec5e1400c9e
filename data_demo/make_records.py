"""Make the records of the invented farm: irrigation up to the day before `TODAY`, two rain gauges, a test
with catch cans under a pivot, and readings of flow and pressure in two zones.

Run in this folder after ``make_weather.py``: ``python make_records.py``. The same seed gives the same files.

The irrigator is played by a pocketbook that knows nothing of this project: it adds up a rough water use
(temperature alone, times a crop factor guessed by eye), takes off rain, and sends out the usual set when the
sum is worth one, now and then a day late, never on a Sunday where nobody works then.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
from make_weather import SEED, TODAY

HERE = Path(__file__).parent
SUNDAY = 6


class Habit(NamedTuple):
    """How a field is watered: from when on, the guessed crop factor, and the usual set."""

    station: str
    start: str
    stop: str
    factor: tuple[float, float]  # early, and at full growth
    grows: tuple[int, int]  # days after the start between which the factor rises
    worth: float  # mm of use that make a set worthwhile
    gross: float  # mm of the usual set
    part: float  # part of it that is taken to reach the roots
    young: float  # part of the usual set that a young stand gets, that much oftener
    sundays: bool


HABITS = {
    "North Pivot": Habit("bottomland", "2025-04-26", TODAY, (1.05, 1.17), (15, 55), 19, 25, 0.80, 0.60, True),
    "South Pivot": Habit("bottomland", "2025-03-01", TODAY, (0.60, 0.84), (0, 30), 21, 28, 0.80, 1.0, True),
    "Mill Wheat": Habit(
        "bottomland", "2025-03-01", "2025-04-28", (1.1, 1.1), (0, 1), 38, 50, 0.70, 1.0, False
    ),
    "Creek Tomatoes": Habit("bottomland", "2025-05-05", TODAY, (0.40, 1.10), (30, 75), 8, 9, 0.95, 0.8, True),
    "Gravel Onions": Habit("bench", "2025-03-18", TODAY, (1.05, 1.20), (15, 40), 8, 10, 0.90, 1.0, True),
    "Potato Flat": Habit("bottomland", "2025-04-12", TODAY, (1.15, 1.20), (30, 70), 12, 19, 0.70, 0.6, True),
    "Almond Block": Habit(
        "bottomland", "2025-03-01", TODAY, (0.60, 1.10), (20, 70), 30, 38, 0.80, 1.0, False
    ),
    "Apple Terrace": Habit("bench", "2025-04-01", TODAY, (0.60, 1.12), (15, 60), 31, 45, 0.70, 1.0, False),
    "Hillside Vines": Habit("bench", "2025-05-24", TODAY, (0.60, 0.60), (0, 1), 12, 14, 0.90, 1.0, False),
    "Long Furrows": Habit(
        "bottomland", "2025-04-25", TODAY, (1.00, 1.15), (30, 75), 60, 105, 0.60, 0.5, False
    ),
    "River Meadow": Habit("bottomland", "2025-03-20", TODAY, (0.65, 1.02), (0, 25), 25, 40, 0.65, 1.0, False),
    "Bean Corner": Habit("bench", "2025-06-08", TODAY, (1.00, 1.15), (10, 35), 17, 24, 0.72, 0.7, False),
    "Ford Ground": Habit(
        "bottomland", "2025-03-05", "2025-04-28", (1.1, 1.1), (0, 1), 34, 45, 0.70, 1.0, False
    ),
    "Hay Bottom": Habit("bottomland", "2025-03-10", TODAY, (0.70, 0.98), (0, 25), 30, 42, 0.72, 1.0, False),
    "Salt Corner": Habit("bottomland", "2025-05-07", TODAY, (0.55, 1.00), (25, 60), 9, 11, 0.90, 0.8, True),
}
SECOND_CROPS = {
    "Ford Ground": Habit("bottomland", "2025-06-13", TODAY, (0.70, 1.10), (15, 50), 18, 28, 0.70, 0.6, False),
}

# date, field, gross mm, purpose: what is not watered for use
SPECIAL = (
    ("2025-02-17", "Gravel Onions", 55, "leaching"),
    ("2025-02-19", "Gravel Onions", 55, "leaching"),
    ("2025-03-08", "Almond Block", 8, "frost protection"),
    ("2025-04-02", "Apple Terrace", 14, "frost protection"),
    ("2025-04-03", "Apple Terrace", 9, "frost protection"),
    ("2025-04-04", "Apple Terrace", 12, "frost protection"),
    ("2025-04-05", "Apple Terrace", 16, "frost protection"),
    ("2025-04-07", "Apple Terrace", 9, "frost protection"),
    ("2025-05-02", "Creek Tomatoes", 16, "setting of transplants"),
    ("2025-06-03", "Bean Corner", 35, "seedbed"),
    ("2025-06-07", "Bean Corner", 10, "germination"),
    ("2025-05-06", "Salt Corner", 14, "setting of transplants"),
    ("2025-06-08", "Ford Ground", 30, "seedbed"),
    ("2025-04-24", "North Pivot", 15, "germination"),
    ("2025-07-01", "Late Carrots", 42, "seedbed"),
    *((f"2025-07-{day:02d}", "Late Carrots", 13, "germination") for day in range(2, 15)),
)

CANS, CAN_SPACING, CATCH, SPILLED = 18, 21, 172, 7  # number, m, mL, number of the can
BASELINE_DAYS = ["2025-03-03", "2025-03-06", "2025-03-10", "2025-03-13"]
READING_DAYS = [
    "2025-04-05",
    "2025-04-26",
    "2025-05-17",
    "2025-06-07",
    "2025-06-21",
    "2025-07-05",
    "2025-07-12",
]
ZONES = {"Almond Block north": "2025-06-01", "Almond Block south": "2026-01-01"}
"""Zones by the day from which their outlets let more through."""


def rough_use(weather: pd.DataFrame) -> pd.Series:
    """Guess the use of a full green cover [mm] from temperature and the time of year."""
    light = 28.7 - 13.1 * np.cos(2 * np.pi * (weather.index.dayofyear + 10) / 365)
    mean, swing = (
        (weather["tmin_degC"] + weather["tmax_degC"]) / 2,
        weather["tmax_degC"] - weather["tmin_degC"],
    )
    return 1.12 * 0.0023 * 0.408 * light * (mean + 17.8) * np.sqrt(swing)


def water(habit: Habit, weather: pd.DataFrame, rng: np.random.Generator) -> dict[str, float]:
    """Play the pocketbook over a season: gross depth by date."""
    use, sets, short, late = rough_use(weather), {}, 0.0, False
    for day in pd.date_range(habit.start, pd.Timestamp(habit.stop) - pd.Timedelta(days=1)):
        age = (day - pd.Timestamp(habit.start)).days
        factor = np.interp(age, habit.grows, habit.factor)
        size = np.interp(age, habit.grows, (habit.young, 1.0))
        short = max(short + factor * use[day] - weather["rain_mm"][day], -10.0)
        if short < size * habit.worth or (day.dayofweek == SUNDAY and not habit.sundays):
            continue
        if not late and rng.random() < 0.2:
            late = True  # other work came first
            continue
        depth = round(size * habit.gross * (1 + 0.04 * rng.standard_normal()), 0)
        sets[f"{day:%Y-%m-%d}"] = depth
        short, late = short - depth * habit.part, False
    return sets


def gauge(field: str, weather: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Play a field's own gauge, read on the days when it held something since April."""
    rain = weather.loc["2025-04-01":TODAY, "rain_mm"].iloc[:-1]
    rain = rain[rain > 0] * np.exp(0.2 * rng.standard_normal(int((rain > 0).sum())))
    return pd.DataFrame({"date": rain.index.strftime("%Y-%m-%d"), "field": field, "rain_mm": rain.round(0)})


def cans(rng: np.random.Generator) -> pd.DataFrame:
    """Play a test under North Pivot: cans in a line outward, of which one was knocked over.

    The catch falls off towards the end of the pipe, where the pressure is low.
    """
    distance = CAN_SPACING * np.arange(1, CANS + 1)
    falling = 1.06 - 0.14 * distance / distance[-1]
    volume = CATCH * falling * (1 + 0.08 * rng.standard_normal(CANS))
    table = pd.DataFrame({"field": "North Pivot", "can": np.arange(1, CANS + 1)})
    table["volume_mL"] = [f"{each:.0f}" for each in volume]
    table["distance_m"] = distance
    table["can_diameter_cm"] = ["10", *[""] * (CANS - 1)]
    table["duration_h"] = ["36", *[""] * (CANS - 1)]
    table["note"] = ""
    table.loc[table["can"] == SPILLED, ["volume_mL", "note"]] = ["", "spilled"]
    return table


def readings(zone: str, wider: str, rng: np.random.Generator) -> pd.DataFrame:
    """Play the readings of a zone whose outlets let a tenth more through from a day on.

    Flow follows the square root of the pressure; the pump gives less pressure the more it must deliver.
    """
    dates = pd.DatetimeIndex(BASELINE_DAYS + READING_DAYS)
    outlets = np.where(dates >= pd.Timestamp(wider), 1.10, 1.0)
    # q = k p^0.5 meets p = 300 - 1.2 q, with k such that 100 m3/h need 180 kPa
    k = outlets * 100 / np.sqrt(180)
    root = (-1.2 * k + np.sqrt((1.2 * k) ** 2 + 4 * 300)) / 2
    flow, pressure = k * root, root**2
    flow, pressure = (
        values * (1 + error * rng.standard_normal(len(dates)))
        for values, error in ((flow, 0.010), (pressure, 0.015))
    )
    return pd.DataFrame(
        {
            "zone": zone,
            "date": dates.strftime("%Y-%m-%d"),
            "flow_m3_per_h": flow.round(1),
            "pressure_kPa": pressure.round(0).astype(int),
            "baseline": ["yes"] * len(BASELINE_DAYS) + [""] * len(READING_DAYS),
        }
    )


def main() -> None:
    """Write ``irrigation.csv``, ``rain.csv``, ``cans.csv`` and ``readings.csv``."""
    rng = np.random.default_rng(SEED + 1)
    stations = {
        name: pd.read_csv(HERE / f"weather_{name}.csv", index_col="date", parse_dates=True)
        for name in ("bench", "bottomland")
    }
    rows = list(SPECIAL)
    for field, habit in (*HABITS.items(), *SECOND_CROPS.items()):
        sets = water(habit, stations[habit.station], rng)
        rows += [(day, field, depth, "") for day, depth in sets.items()]
    table = pd.DataFrame(rows, columns=["date", "field", "gross_mm", "purpose"])
    table["gross_mm"] = table["gross_mm"].astype(int)
    table.sort_values(["date", "field"]).to_csv(HERE / "irrigation.csv", index=False)

    gauges = [gauge(field, stations["bench"], rng) for field in ("Apple Terrace", "Bean Corner")]
    # A shower that passed over one field and missed the station.
    gauges.append(pd.DataFrame({"date": ["2025-06-21"], "field": ["Bean Corner"], "rain_mm": [9.0]}))
    rain = pd.concat(gauges).sort_values(["date", "field"])
    rain["rain_mm"] = rain["rain_mm"].astype(int)
    rain.to_csv(HERE / "rain.csv", index=False)

    # Draws of their own, so that the records above stay what they are.
    cans(np.random.default_rng(SEED + 3)).to_csv(HERE / "cans.csv", index=False)
    rng = np.random.default_rng(SEED + 4)
    zones = [readings(zone, wider, rng) for zone, wider in ZONES.items()]
    pd.concat(zones).to_csv(HERE / "readings.csv", index=False)


if __name__ == "__main__":
    main()
