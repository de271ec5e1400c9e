"""The columns of a farm folder's files: names, the units that a name may end in, and what a cell holds.

A column of numbers carries its unit at the end of its name, after the quantity: ``area_ha`` or
``area_acre``. A quantity without a unit has the bare name, and ``_percent`` is always allowed for it.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal, NamedTuple

_RATIO = {"": "1", "percent": "%"}
_DEPTH = {"mm": "mm", "in": "in"}
_LENGTH = {"m": "m", "cm": "cm", "ft": "ft", "in": "in"}
_TEMPERATURE = {"degC": "degC", "degF": "degF"}
_PERCENT = {"percent": "%"}
_PRESSURE = {"kPa": "kPa", "hPa": "hPa"}
_PIPE_PRESSURE = {"kPa": "kPa", "bar": "bar", "psi": "psi"}
_SPEED = {"m_per_s": "m/s", "km_per_h": "km/h", "mile_per_h": "mph"}
_RADIATION = {"MJ_per_m2": "MJ/m2/day", "W_per_m2": "W/m2", "langley": "langley/day"}
_DAYS = {"days": "day"}
_HEAT = {"degC_days": "degC day", "degF_days": "degF day"}
_INTENSITY = {"mm_per_h": "mm/h", "in_per_h": "in/h"}
_SALINITY = {"dS_per_m": "dS m-1"}
_DISTANCE = {"m": "m", "ft": "ft"}
_FLOW = {"m3_per_h": "m3/h", "L_per_s": "L/s", "gal_per_min": "gpm"}


class Column(NamedTuple):
    """One column: what its cells hold.

    ``units`` maps the ends that the name may have to the unit they stand for; ``variable`` is the row of
    the variables table whose unit the number is brought to.
    """

    kind: Literal["text", "date", "number"] = "text"
    variable: str = ""
    units: Mapping[str, str] = MappingProxyType({})
    required: bool = False

    def names(self, stem: str) -> list[str]:
        """List the headings that this column may have."""
        if self.kind != "number":
            return [stem]
        return [f"{stem}_{suffix}" if suffix else stem for suffix in self.units]


def _number(variable: str, units: Mapping[str, str]) -> Column:
    return Column("number", variable, MappingProxyType(dict(units)))


_TEXT = Column()
_NAME = Column(required=True)
_DATE = Column("date")
_DAY = Column("date", required=True)

_FARM = {"setting": _NAME, "value": _NAME, "note": _TEXT}

_STATIONS = {
    "station": _NAME,
    "latitude": _number("latitude", {"": "degrees_north"}),
    "elevation": _number("elevation", _DISTANCE),
    "wind_height": _number("elevation", _DISTANCE),
    "climate_wind": _number("wind_climate", _SPEED),
    "climate_rhmin": _number("rhmin_climate", _PERCENT),
    "note": _TEXT,
}

_CROP = {
    "crop": _TEXT,
    "planted": _DATE,
    "region": _TEXT,
    "coefficients": _TEXT,
    "initial": _number("stage_days", _DAYS),
    "development": _number("stage_days", _DAYS),
    "mid_season": _number("stage_days", _DAYS),
    "late_season": _number("stage_days", _DAYS),
    "initial_heat": _number("stage_degree_days", _HEAT),
    "development_heat": _number("stage_degree_days", _HEAT),
    "mid_season_heat": _number("stage_degree_days", _HEAT),
    "late_season_heat": _number("stage_degree_days", _HEAT),
    "base_temperature": _number("base_temperature", _TEMPERATURE),
    "upper_temperature": _number("upper_temperature", _TEMPERATURE),
    "unfinished": _TEXT,
    "killing_frost": _number("killing_frost", _TEMPERATURE),
    "cuttings": _TEXT,
    "kc_initial": _number("kc", {"": "1"}),
    "kc_mid": _number("kc", {"": "1"}),
    "kc_end": _number("kc", {"": "1"}),
    "kcb_initial": _number("kcb", {"": "1"}),
    "kcb_mid": _number("kcb", {"": "1"}),
    "kcb_end": _number("kcb", {"": "1"}),
    "root_depth": _number("root_depth", _LENGTH),
    "root_depth_at_planting": _number("root_depth", _LENGTH),
    "height": _number("height", _LENGTH),
    "depletion_fraction": _number("depletion_fraction", _RATIO),
    "organic_mulch_cover": _number("cover", _RATIO),
    "residue_cover": _number("cover", _RATIO),
    "salt_threshold": _number("salt_threshold", _SALINITY),
    "salt_slope": _number("salt_slope", {"percent_per_dS_per_m": "% per dS m-1"}),
    "yield_response": _number("yield_response", {"": "1"}),
    "climate_wind": _number("wind_climate", _SPEED),
    "climate_rhmin": _number("rhmin_climate", _PERCENT),
}

_LAYERED = {
    "field_capacity": _number("field_capacity", _RATIO),
    "wilting_point": _number("wilting_point", _RATIO),
    "available_water": _number("available_water", {**_RATIO, "mm_per_m": "mm/m", "in_per_ft": "in/ft"}),
    "saturation": _number("saturation", _RATIO),
}

_SOIL = {
    "soil": _TEXT,
    **_LAYERED,
    "sand": _number("sand", _PERCENT),
    "clay": _number("clay", _PERCENT),
    "organic_matter": _number("organic_matter", _PERCENT),
    "rew": _number("rew", _DEPTH),
    "tew": _number("tew", _DEPTH),
    "drainage_fraction": _number("drainage_fraction", _RATIO),
    "curve_number": _number("curve_number", {"": "1"}),
    "adjust_curve_number": _TEXT,
    "intake_rate": _number("intake_rate", _INTENSITY),
    "soil_salinity": _number("soil_salinity", _SALINITY),
    "restricting_depth": _number("restricting_depth", _LENGTH),
    "water_table_depth": _number("water_table_depth", _LENGTH),
    "capillary_a": _number("capillary_a", {"": "mm day-1"}),
    "capillary_n": _number("capillary_n", {"": "1"}),
}

_SYSTEM = {
    "system": _TEXT,
    "efficiency": _number("efficiency", _RATIO),
    "leak_fraction": _number("leak_fraction", _RATIO),
    "conveyance_fraction": _number("conveyance_fraction", _RATIO),
    "spray_fraction": _number("spray_fraction", _RATIO),
    "canopy_fraction": _number("canopy_fraction", _RATIO),
    "runoff_fraction": _number("runoff_fraction", _RATIO),
    "peak_application_rate": _number("peak_application_rate", _INTENSITY),
    "delivered_fraction": _number("delivered_fraction", _RATIO),
    "wetted_fraction": _number("system_wetted_fraction", _RATIO),
    "wetted_volume": _number("wetted_volume", _RATIO),
    "area": _number("area", {"ha": "ha", "acre": "acre"}),
    "flow": _number("flow", _FLOW),
    "application_rate": _number("application_rate", _INTENSITY),
    "lift": _number("lift", _DISTANCE),
    "operating_pressure": _number("operating_pressure", _PIPE_PRESSURE),
    "pump_efficiency": _number("pump_efficiency", _RATIO),
}

_RULE = {
    "irrigated": _TEXT,
    "allowable_depletion": _number("allowable_depletion", _RATIO),
    "refill_to": _number("refill_to", _RATIO),
    "net_depth": _number("net_depth", _DEPTH),
    "min_depth": _number("min_depth", _DEPTH),
    "max_depth": _number("max_depth", _DEPTH),
    "min_interval": _number("min_interval", _DAYS),
    "last_date": _DATE,
    "watch_driest_quarter": _TEXT,
    "adequacy": _number("adequacy", _RATIO),
}

_FIELDS = {
    "field": _NAME,
    "station": _NAME,
    **_CROP,
    **_SOIL,
    **_SYSTEM,
    **_RULE,
    "initial_depletion": _number("depletion", _DEPTH),
    "initial_depletion_below": _number("depletion_below", _DEPTH),
    "note": _TEXT,
}

_CROPS = {"field": _NAME, **_CROP, "note": _TEXT}

_LAYERS = {
    "soil": _NAME,
    # 0 is a top, and no bottom: a variable without a range, because Soil.from_layers checks the depths
    "top": Column("number", "deepest_root", MappingProxyType(_LENGTH), required=True),
    "bottom": Column("number", "layer_bottom", MappingProxyType(_LENGTH), required=True),
    **_LAYERED,
    "note": _TEXT,
}

_WEATHER = {
    "date": _DAY,
    "tmin": _number("tmin", _TEMPERATURE),
    "tmax": _number("tmax", _TEMPERATURE),
    "dewpoint": _number("dewpoint", _TEMPERATURE),
    "rhmin": _number("rhmin", _PERCENT),
    "rhmax": _number("rhmax", _PERCENT),
    "rhmean": _number("rhmean", _PERCENT),
    "vapour_pressure": _number("vapour_pressure", _PRESSURE),
    "pressure": _number("pressure", _PRESSURE),
    "wind": _number("wind", _SPEED),
    "solar": _number("solar", _RADIATION),
    "sunshine": _number("sunshine", {"h": "h"}),
    "rain": _number("rain", _DEPTH),
    "rain_intensity": _number("rain_intensity", _INTENSITY),
    "runoff": _number("runoff", _DEPTH),
    "et_ref_short": _number("et_ref", _DEPTH),
    "et_ref_tall": _number("et_ref", _DEPTH),
    "note": _TEXT,
}

_RAIN = {"date": _DAY, "field": _NAME, "rain": _number("rain", _DEPTH), "note": _TEXT}

_IRRIGATION = {
    "date": _DAY,
    "field": _NAME,
    "net": _number("irrigation_net", _DEPTH),
    "gross": _number("irrigation_gross", _DEPTH),
    "purpose": _TEXT,
    "note": _TEXT,
}

_CANS = {
    "field": _NAME,
    "can": _NAME,
    "depth": _number("can_depth", _DEPTH),
    "volume": _number("can_volume", {"mL": "mL"}),
    "can_diameter": _number("can_diameter", {"m": "m", "cm": "cm", "in": "in"}),
    "duration": _number("duration", {"h": "h", "min": "min"}),
    "distance": _number("distance", _DISTANCE),
    "note": _TEXT,
}

_READINGS = {
    "zone": _NAME,
    "date": _DAY,
    "flow": _number("flow", _FLOW),
    "pressure": _number("operating_pressure", _PIPE_PRESSURE),
    "baseline": _TEXT,
    "note": _TEXT,
}

FILES: Mapping[str, Mapping[str, Column]] = MappingProxyType(
    {
        "farm": MappingProxyType(_FARM),
        "stations": MappingProxyType(_STATIONS),
        "fields": MappingProxyType(_FIELDS),
        "crops": MappingProxyType(_CROPS),
        "layers": MappingProxyType(_LAYERS),
        "weather": MappingProxyType(_WEATHER),
        "rain": MappingProxyType(_RAIN),
        "irrigation": MappingProxyType(_IRRIGATION),
        "planned": MappingProxyType(_IRRIGATION),
        "cans": MappingProxyType(_CANS),
        "readings": MappingProxyType(_READINGS),
    }
)
"""For each file of a farm folder its columns, by the part of the name before the unit."""

PARTS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {"crop": tuple(_CROP), "soil": tuple(_SOIL), "system": tuple(_SYSTEM), "rule": tuple(_RULE)}
)
"""The columns from which each description of a field is made; a crop's stand in ``crops.csv`` too."""
