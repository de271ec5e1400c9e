"""Make the weather of the invented farm: two stations of a made-up inland valley.

Run in this folder: ``python make_weather.py``. The same seed gives the same files, byte for byte.

The climate is drawn, not observed: a mean year of temperature, humidity, sunshine and wind; spells of rain
from a two-state chain (a wet day makes the next one likelier to be wet); departures that last for days and
hang together (a wet day is cloudy, damp and cool by day, a dry spell warm and clear). From `TODAY` on there
are no measurements: the first seven days play a forecast, in the round numbers of one, and the days after
them are the mean year without rain.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

HERE = Path(__file__).parent
FIRST, TODAY, LAST = "2024-12-01", "2025-07-15", "2025-10-31"
FORECAST_DAYS = 7
SEED = 20250715

# Chance that a day is wet after a dry day, and mean rain of a wet day [mm], January to December.
WET_AFTER_DRY = (0.22, 0.21, 0.20, 0.13, 0.08, 0.03, 0.01, 0.01, 0.03, 0.08, 0.15, 0.21)
MEAN_RAIN = (10.0, 9.5, 9.0, 7.5, 6.5, 5.0, 4.0, 4.0, 6.0, 8.0, 9.0, 10.0)
WET_AFTER_WET = 0.52
MISSED = 0.3

# latitude, elevation [m], cooler by [degC], rain times, wind times, share of sunshine lost to winter fog
STATIONS = {
    "bench": (38.6, 342.0, 1.8, 1.25, 1.25, 0.0),
    "bottomland": (38.5, 64.0, 0.0, 1.00, 1.00, 0.25),
}
WITH_INTENSITY = ("bench",)
"""Stations whose gauge also tells how fast the rain fell."""

Array = npt.NDArray[np.float64]


def mean_year(day: Array, winter: float, summer: float, lag: float) -> Array:
    """Draw a yearly wave whose summer peak comes ``lag`` days after the solstice."""
    wave = 0.5 - 0.5 * np.cos(2 * np.pi * (day - lag + 10.0) / 365.25)
    return winter + (summer - winter) * wave


def lasting(rng: np.random.Generator, days: int, memory: float) -> Array:
    """Draw a series of mean 0 and spread 1 that remembers ``memory`` of the day before."""
    series = np.empty(days)
    series[0] = rng.standard_normal()
    for i in range(1, days):
        series[i] = memory * series[i - 1] + np.sqrt(1 - memory**2) * rng.standard_normal()
    return series


def wet_days(rng: np.random.Generator, month: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
    """Draw which days are wet by the two-state chain."""
    wet = np.zeros(len(month), dtype=bool)
    for i in range(1, len(month)):
        dry_to_wet = WET_AFTER_DRY[month[i] - 1]
        # A dry season has no long spells: the persistence shrinks with the chance itself.
        chance = min(WET_AFTER_WET, 4 * dry_to_wet) if wet[i - 1] else dry_to_wet
        wet[i] = rng.random() < chance
    return wet


def saturation(temperature: Array) -> Array:
    """Give the saturation vapour pressure [kPa] over water at a temperature [degC]."""
    return 0.6108 * np.exp(17.27 * temperature / (temperature + 237.3))


def clear_sky(day: Array, latitude: float, elevation: float) -> Array:
    """Give the radiation of a cloudless day [MJ m-2 day-1]."""
    phi = np.radians(latitude)
    distance = 1 + 0.033 * np.cos(2 * np.pi * day / 365)
    declination = 0.409 * np.sin(2 * np.pi * day / 365 - 1.39)
    sunset = np.arccos(-np.tan(phi) * np.tan(declination))
    across = np.cos(phi) * np.cos(declination) * np.sin(sunset)
    above = 37.586 * distance * (sunset * np.sin(phi) * np.sin(declination) + across)
    return (0.75 + 2e-5 * elevation) * above


def round_to(values: Array, step: float) -> Array:
    """Round to the step that an instrument prints."""
    return np.round(np.round(values / step) * step, 2)


def make(
    name: str, shared: dict[str, Array], dates: pd.DatetimeIndex, rng: np.random.Generator
) -> pd.DataFrame:
    """Make one station's table from what the whole valley shares and the station's own noise."""
    latitude, elevation, cooler, rain_times, wind_times, fog = STATIONS[name]
    day = dates.dayofyear.to_numpy(dtype=float)
    days = len(dates)
    measured = np.asarray(dates < TODAY, dtype=float)
    own = 0.35 * rng.standard_normal((4, days)) * measured
    wet = shared["wet"] * measured

    tmax = mean_year(day, 12.5, 34.5, 28) - cooler + 3.6 * shared["heat"] - 2.5 * wet + 0.8 * own[0]
    range_ = mean_year(day, 8.5, 18.0, 22) + 1.5 * shared["clear"] - 4.0 * wet + own[1]
    tmin = tmax - np.maximum(range_, 2.5)
    # Dew point follows the night: below the minimum in the dry summer, close to it in winter and in rain.
    below = np.maximum(mean_year(day, 0.8, 4.5, 25) + 1.3 * shared["dry"] - 1.5 * wet, 0.05)
    vapour = saturation(tmin - below)
    rhmax = np.minimum(100 * vapour / saturation(tmin) + own[2], 100)
    rhmin = np.clip(100 * vapour / saturation(tmax) + 2 * own[3], 7, 98)

    sunny = mean_year(day, 0.70, 0.95, 20) + 0.10 * shared["clear"] - 0.35 * wet
    sunny = sunny - fog * mean_year(day, 1.0, 0.0, 0) ** 4 * (1 - wet)
    solar = clear_sky(day, latitude, elevation) * np.clip(sunny, 0.15, 1.0)
    wind = wind_times * np.exp(np.log(mean_year(day, 1.4, 2.3, 0)) + 0.32 * shared["wind"] + 0.25 * wet)
    catch = np.exp(0.25 * rng.standard_normal(days))
    # A passing shower need not reach both stations.
    missed = (rng.random(days) < MISSED) & (shared["amount"] < 6)
    rain = wet * np.where(missed, 0.0, shared["amount"] * rain_times * catch)

    table = pd.DataFrame(
        {
            "date": dates.strftime("%Y-%m-%d"),
            "tmin_degC": round_to(tmin, 0.1),
            "tmax_degC": round_to(tmax, 0.1),
            "rhmin_percent": round_to(np.minimum(rhmin, rhmax), 1),
            "rhmax_percent": round_to(rhmax, 1),
            "wind_m_per_s": round_to(wind, 0.1),
            "solar_MJ_per_m2": round_to(solar, 0.1),
            "rain_mm": round_to(rain, 0.2),
        }
    )
    kind = np.where(dates < TODAY, "measured", "mean year")
    forecast = slice(int(measured.sum()), int(measured.sum()) + FORECAST_DAYS)
    kind[forecast] = "forecast"
    table["note"] = kind
    for column, step in (("tmin_degC", 1), ("tmax_degC", 1), ("rhmin_percent", 5), ("rhmax_percent", 5)):
        values = table[column].to_numpy(copy=True)
        values[forecast] = round_to(values[forecast], step)
        table[column] = values
    return table


def main() -> None:
    """Write ``weather_<station>.csv`` for every station."""
    rng = np.random.default_rng(SEED)
    dates = pd.date_range(FIRST, LAST, freq="D")
    days = len(dates)
    measured = np.asarray(dates < TODAY, dtype=float)
    # Departures fade over the forecast: a week ahead little is known but the time of year.
    known = np.maximum(measured, np.clip(1 - (np.arange(days) - measured.sum() + 1) / FORECAST_DAYS, 0, 1))
    month = dates.month.to_numpy(dtype=np.int64)
    wet = wet_days(rng, month) & (measured > 0)
    memory = {"heat": 0.75, "clear": 0.55, "dry": 0.6, "wind": 0.45}
    shared = {name: lasting(rng, days, share) * known for name, share in memory.items()}
    shared["wet"] = wet.astype(float)
    shared["amount"] = rng.gamma(0.9, np.asarray(MEAN_RAIN)[month - 1] / 0.9) + 0.3
    for name in STATIONS:
        table = make(name, shared, dates, rng)
        if name in WITH_INTENSITY:
            falls = table["rain_mm"].to_numpy() > 0
            intensity = 0.8 + np.random.default_rng(SEED + 2).gamma(1.6, 2.2, days)
            table.insert(8, "rain_intensity_mm_per_h", np.where(falls, round_to(intensity, 0.1), np.nan))
        table.to_csv(HERE / f"weather_{name}.csv", index=False)


if __name__ == "__main__":
    main()
