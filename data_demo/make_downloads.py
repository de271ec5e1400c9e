"""Make a station's file as it is downloaded: hours on a terrace near the bench station of the farm.

Run in this folder: ``python make_downloads.py``. The same seed gives the same file, byte for byte.

The hours are drawn around the days of ``weather_bench.csv``, a little warmer and calmer. Then what happens to
stations happens: a loose plug, a dead battery, a blocked gauge. It is written as loggers write, in universal
time at the end of each hour, with two headers, decimal commas and a code for what is missing.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

HERE = Path(__file__).parent
FIRST, LAST = "2025-04-01", "2025-07-14"
OFFSET = -8  # h from universal time to local standard time
SEED = 20250401
MISSING = -999.0
COLUMNS = ("Stamp UTC", "Air", "Humidity", "Wind 3 m", "Pyranometer", "Gauge")
UNITS = ("", "°C", "%", "km/h", "W/m²", "mm")
NO_PROBE = ("2025-05-20 09:00", "2025-05-28 16:00")  # temperature and humidity: a loose plug
NO_POWER = ("2025-06-17 22:00", "2025-06-18 05:00")  # no rows at all
NO_GAUGE = ("2025-04-27 00:00", "2025-04-27 23:00")  # blocked
NO_WIND = ("2025-07-02 03:00", "2025-07-02 04:00")
TRACES = ("2025-04-05 06:00", "2025-05-03 05:00")

Array = npt.NDArray[np.float64]


def saturation(temperature: Array) -> Array:
    """Saturation vapour pressure [kPa]."""
    return 0.6108 * np.exp(17.27 * temperature / (temperature + 237.3))


def hours_of(days: pd.DataFrame) -> pd.DataFrame:
    """Draw the hours of each day so that they keep its extremes and sums, a little moved."""
    rng = np.random.default_rng(SEED)
    start = pd.date_range(FIRST, f"{LAST} 23:00", freq="h")
    of_day = days.loc[start.normalize()]
    hour = start.hour.to_numpy(dtype=np.float64)
    low, high = of_day["tmin_degC"].to_numpy() + 0.4, of_day["tmax_degC"].to_numpy() + 0.7
    warmth = 0.5 - 0.5 * np.cos(2 * np.pi * (hour - 4.0) / 24.0)
    air = low + (high - low) * warmth + 0.15 * rng.standard_normal(len(start))
    vapour = saturation(low) * of_day["rhmax_percent"].to_numpy() / 100
    sun = np.clip(np.sin(np.pi * (hour - 5.5) / 13.5), 0.0, None)
    share = sun / sun[:24].sum()
    wet = np.where(
        (hour >= 2) & (hour < 7),
        np.array([0.1, 0.3, 0.3, 0.2, 0.1])[np.clip(hour.astype(int) - 2, 0, 4)],
        0.0,
    )
    breeze = of_day["wind_m_per_s"].to_numpy() * (0.7 + 0.6 * warmth) * 0.9
    rain = np.round(of_day["rain_mm"].to_numpy() * wet / 0.2) * 0.2  # a bucket that tips every 0.2 mm
    return pd.DataFrame(
        {
            "Air": air.round(1),
            "Humidity": np.minimum(100 * vapour / saturation(air), 100.0).round(0),
            "Wind 3 m": (breeze * 1.06 * 3.6).round(1),
            "Pyranometer": (of_day["solar_MJ_per_m2"].to_numpy() * share / 0.0036).round(0),
            "Gauge": rain,
        },
        index=start,
    )


def spoil(table: pd.DataFrame) -> pd.DataFrame:
    """Let happen what happens."""
    table = table.copy()
    table.loc[slice(*NO_PROBE), ["Air", "Humidity"]] = MISSING
    table.loc[slice(*NO_GAUGE), "Gauge"] = MISSING
    table.loc[slice(*NO_WIND), "Wind 3 m"] = MISSING
    return table.drop(table.loc[slice(*NO_POWER)].index)


def write(table: pd.DataFrame, path: Path) -> None:
    """Write the file as a logger does."""
    lines = [
        "# terrace, invented; hourly, stamped at the end of the hour",
        ";".join(COLUMNS),
        ";".join(UNITS),
    ]
    traces = {pd.Timestamp(stamp) for stamp in TRACES}
    for start, row in table.iterrows():
        stamp = start + pd.Timedelta(hours=1 - OFFSET)
        cells = [f"{value:.1f}".replace(".", ",") for value in row]
        if start in traces:
            cells[-1] = "T"
        lines.append(";".join((stamp.strftime("%d.%m.%Y %H:%M"), *cells)))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def main() -> None:
    """Write the file."""
    days = pd.read_csv(HERE / "weather_bench.csv", parse_dates=["date"], index_col="date")
    write(spoil(hours_of(days)), HERE / "downloads" / "terrace_hourly.csv")


if __name__ == "__main__":
    main()
