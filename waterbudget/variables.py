"""The one table of every quantity: name, unit, meaning and ranges.

Output attributes, range checks and the glossary in docs all come from here. A hard range is what
physics or the definition allows, and a value outside it is refused; a plausible range is what a
field is likely to show, and a value outside it is a doubt that `check_weather` reports.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal, NamedTuple

Kind = Literal["weather", "step", "origin", "flux", "state", "coefficient", "parameter"]


class Variable(NamedTuple):
    """What a name means wherever it stands.

    ``hard`` and ``plausible`` are closed ranges in ``unit``; None at an end leaves it open.
    ``above`` marks a hard lower end that is itself excluded.
    """

    name: str
    unit: str
    long_name: str
    kind: Kind
    standard_name: str = ""
    hard: tuple[float | None, float | None] = (None, None)
    plausible: tuple[float | None, float | None] = (None, None)
    above: bool = False

    def allowed(self) -> str:
        """Write the hard range for people: ``"0 to 100 %"``."""
        low, high = self.hard
        unit = "" if self.unit == "1" else f" {self.unit}"
        if low is None and high is None:
            return f"any finite number{unit}"
        if high is None:
            return f"{'above' if self.above else 'at least'} {low:g}{unit}"
        if low is None:
            return f"at most {high:g}{unit}"
        if self.above:
            return f"above {low:g} and at most {high:g}{unit}"
        return f"{low:g} to {high:g}{unit}"

    def mend(self, value: float) -> str:
        """Say what most often lies behind a value outside the hard range."""
        top = self.hard[1]
        if self.unit == "1" and top is not None and 0.9 < top <= 1 and 2 < value <= 100:
            return "give a fraction, not a percentage"
        unit = "" if self.unit == "1" else f", and see that it is in {self.unit}"
        return f"correct the value{unit}"


_TABLE = (
    # ------------------------------------------------------------------ weather
    Variable("tmin", "degC", "minimum air temperature of the day", "weather", "air_temperature", (-90, 60), (-40, 35)),
    Variable("tmax", "degC", "maximum air temperature of the day", "weather", "air_temperature", (-90, 60), (-30, 50)),
    Variable("dewpoint", "degC", "dew point temperature", "weather", "dew_point_temperature", (-90, 50), (-40, 30)),
    Variable("rhmin", "%", "minimum relative humidity of the day", "weather", "relative_humidity", (0, 100), (5, 100)),
    Variable("rhmax", "%", "maximum relative humidity of the day", "weather", "relative_humidity", (0, 100), (30, 100)),
    Variable("rhmean", "%", "mean relative humidity of the day", "weather", "relative_humidity", (0, 100), (10, 100)),
    Variable("vapour_pressure", "kPa", "actual vapour pressure", "weather", "water_vapor_partial_pressure_in_air",
             (0, 10), (0.05, 4.5)),
    Variable("pressure", "kPa", "atmospheric pressure", "weather", "surface_air_pressure", (30, 110), (60, 106)),
    Variable("wind", "m s-1", "mean wind speed at 2 m", "weather", "wind_speed", (0, 75), (0.5, 15)),
    Variable("solar", "MJ m-2 day-1", "incoming solar radiation", "weather", "", (0, 50), (0, 36)),
    Variable("sunshine", "h", "hours of bright sunshine", "weather", "duration_of_sunshine", (0, 24), (0, 24)),
    Variable("rain", "mm day-1", "rain", "weather", "lwe_precipitation_rate", (0, 2000), (0, 150)),
    Variable("rain_intensity", "mm h-1", "mean intensity of the day's rain while it fell", "weather", "", (0, 1000), (0.1, 100)),
    Variable("et_ref", "mm day-1", "reference evapotranspiration", "weather",
             "", (0, 40), (0, 14)),
    # ------------------------------------------------ weather of a step shorter than a day
    Variable("temperature", "degC", "air temperature of a step shorter than a day", "step", "air_temperature", (-90, 60), (-40, 50)),
    Variable("relative_humidity", "%", "relative humidity of a step shorter than a day", "step", "relative_humidity", (0, 100), (5, 100)),
    Variable("latitude", "degrees_north", "latitude", "parameter", "latitude", (-90, 90), (-66, 66)),
    Variable("elevation", "m", "height above sea level", "parameter", "height_above_mean_sea_level",
             (-450, 6000), (-100, 3500)),
    Variable("wind_height", "m", "height of the anemometer over the ground", "parameter", "", (0.1, 200), (1, 10), above=True),
    # ------------------------------------- where the weather of a day comes from: codes, in words in their attributes
    Variable("et_ref_method", "1", "method by which reference evapotranspiration was worked out", "origin"),
    Variable("et_ref_flag", "1", "where a given reference evapotranspiration comes from", "origin"),
    Variable("temperature_flag", "1", "where the temperature behind reference evapotranspiration comes from", "origin"),
    Variable("humidity_flag", "1", "where the humidity behind reference evapotranspiration comes from", "origin"),
    Variable("radiation_flag", "1", "where the radiation behind reference evapotranspiration comes from", "origin"),
    Variable("wind_flag", "1", "where the wind behind reference evapotranspiration comes from", "origin"),
    Variable("rain_flag", "1", "where the rain comes from", "origin"),
    # ------------------------------------------------------- a day of the balance: fluxes
    Variable("runoff", "mm day-1", "rain that ran off the field", "flux"),
    Variable("irrigation_net", "mm day-1", "irrigation that entered the soil, mean of the field", "flux"),
    Variable("irrigation_gross", "mm day-1", "irrigation supplied, before the losses of the system", "flux"),
    Variable("application_loss", "mm day-1", "irrigation supplied that did not enter the soil: all the losses on the way", "flux"),
    Variable("extra_irrigation", "mm day-1", "of the net irrigation, what was planned on top of the rule", "flux"),
    Variable("leaching_irrigation", "mm day-1", "of the net irrigation, what was meant to carry salts away, and to fill the soil for it", "flux"),
    Variable("leak_loss", "mm day-1", "irrigation lost through leaks", "flux"),
    Variable("conveyance_loss", "mm day-1", "irrigation lost on the way to the field: seepage and evaporation of canals", "flux"),
    Variable("spray_loss", "mm day-1", "irrigation lost as spray: evaporation and wind drift", "flux"),
    Variable("canopy_loss", "mm day-1", "irrigation that the canopy kept and lost to the air", "flux"),
    Variable("irrigation_runoff", "mm day-1", "irrigation that ran off the surface", "flux"),
    Variable("unattributed_loss", "mm day-1", "irrigation lost that is known only as one fraction: an efficiency, or what was delivered", "flux"),
    Variable("met_by_roots", "mm day-1", "stored water of the soil that roots grew into (negative: left behind)", "flux"),
    Variable("percolation", "mm day-1", "water that left the root zone downwards", "flux"),
    Variable("capillary_rise", "mm day-1", "water that rose into the root zone from a water table", "flux"),
    Variable("drainage", "mm day-1", "water that left the profile: percolation that no later root can reach", "flux"),
    Variable("evaporation", "mm day-1", "evaporation from the soil surface", "flux"),
    Variable("transpiration", "mm day-1",
             "transpiration; under a single coefficient all evapotranspiration of the crop", "flux"),
    Variable("et", "mm day-1", "crop evapotranspiration as it was, under the day's stress", "flux"),
    # ------------------------------------------------------- coefficients of the day
    Variable("coefficient", "1", "crop coefficient, single or basal", "coefficient", "", (0, 2), (0, 1.4)),
    Variable("kcb", "1", "basal crop coefficient", "coefficient", "", (0, 2), (0, 1.4)),
    Variable("ke", "1", "soil evaporation coefficient", "coefficient", "", (0, 2)),
    Variable("kc", "1", "crop coefficient without stress (kcb + ke, or the single coefficient)", "coefficient", "",
             (0, 2), (0, 1.4)),
    Variable("ks", "1", "water stress coefficient", "coefficient", "", (0, 1)),
    Variable("kc_max", "1", "upper limit of the crop coefficient after wetting", "coefficient", "", (0, 2)),
    Variable("cover", "1", "fraction of the ground covered by the crop (0 under a single coefficient, which does not use it)", "coefficient", "", (0, 1)),
    Variable("crop_stage", "1", "0 bare soil, 1 initial, 2 development, 3 mid-season, 4 late season", "coefficient"),
    Variable("crop_number", "1", "which crop of a rotation stands, from 1 on; 0 bare soil", "coefficient"),
    Variable("degree_days", "degC day", "heat since planting of a crop that develops by heat (else 0)", "state", "", (0, None)),
    Variable("frost_ended", "1", "1 once a killing frost has ended the crop that stood last", "state"),
    Variable("taw", "mm", "total available water of the root zone", "coefficient"),
    Variable("raw", "mm", "readily available water of the root zone", "coefficient"),
    Variable("evaporation_factor", "1", "part of the soil evaporation that a mulch or residue lets pass", "coefficient", "", (0, 1)),
    Variable("salt_factor", "1", "salinity stress coefficient of the season", "coefficient", "", (0, 1), above=True),
    Variable("capillary_limit", "mm day-1", "most that can rise from the water table to the roots", "coefficient", "", (0, None)),
    Variable("uptake_factor", "1", "uptake of this part of the root zone over its stress coefficient times demand (1 where parts do not share a root system)", "coefficient", "", (0, None)),
    Variable("layer_uptake", "1", "(evaporation depth / root depth)^0.6 where roots draw on the evaporation layer, else 0", "coefficient", "", (0, 1)),
    # ------------------------------------------------------- state at the end of the day
    Variable("depletion", "mm", "root-zone depletion: water missing below field capacity", "state", "", (0, None)),
    Variable("depletion_below", "mm", "depletion of the profile below the roots", "state", "", (0, None)),
    Variable("excess_water", "mm", "water above field capacity that the root zone still holds", "state", "", (0, None)),
    Variable("surface_depletion", "mm", "depletion of the evaporation layer where it is wetted and exposed", "state", "",
             (0, None)),
    Variable("wetted_fraction", "1", "fraction of the soil surface wetted by the last event", "state", "", (0, 1), above=True),
    Variable("root_depth", "m", "depth of the root zone", "state", "", (0, 10), (0.1, 3), above=True),
    Variable("days_since_irrigation", "day", "days since the last irrigation (366: a year, longer, or never)", "state",
             "", (0, 366)),
    # ------------------------------------------------------- parameters: crop
    Variable("stage_days", "day", "length of each growth stage", "parameter", "", (0, 1000), (0, 365)),
    Variable("stage_degree_days", "degC day", "growing degree days that each growth stage takes", "parameter", "", (0, 10000), (0, 3000)),
    Variable("base_temperature", "degC", "temperature below which the crop does not develop", "parameter", "", (-10, 30), (0, 16)),
    Variable("upper_temperature", "degC", "temperature above which development does not speed up", "parameter", "", (5, 60), (25, 40)),
    Variable("killing_frost", "degC", "minimum temperature that ends the crop from mid-season on", "parameter", "", (-40, 5), (-10, 0)),
    Variable("evaporation_reduction", "1", "part of the soil evaporation that a mulch suppresses while the crop stands", "parameter", "", (0, 1)),
    Variable("residue_reduction", "1", "part of the soil evaporation that residue suppresses after the crop", "parameter", "", (0, 1)),
    Variable("surface_uptake", "1", "1 where roots draw on the evaporation layer", "parameter"),
    Variable("salt_threshold", "dS m-1", "salinity of the saturation extract up to which yield is full", "parameter", "", (0, 30), (0.5, 10)),
    Variable("salt_slope", "% per dS m-1", "yield lost per unit of salinity above the threshold", "parameter", "", (0, 100), (2, 40), above=True),
    Variable("yield_response", "1", "yield response factor Ky of the season", "parameter", "", (0, 3), (0.2, 1.5), above=True),
    Variable("stage_yield_response", "1", "yield response factor Ky of a growth stage", "parameter", "", (0, 3), (0, 1.5)),
    Variable("ground_cover_kcb", "1", "basal coefficient of the plants between the rows", "parameter", "", (0, 1.4), (0.15, 0.8)),
    Variable("height", "m", "crop height", "parameter", "", (0, 20), (0.05, 10)),
    Variable("depletion_fraction", "1", "fraction p of available water that the crop takes without stress", "parameter",
             "", (0.1, 0.8), (0.2, 0.7)),
    Variable("adjust_depletion_fraction", "1", "1 where p is adjusted to the day's evapotranspiration", "parameter"),
    Variable("profile_water", "mm", "available water of the profile at field capacity", "parameter"),
    Variable("excess_capacity", "mm", "water that the root zone can hold between field capacity and saturation (0 where it drains at once)", "coefficient", "", (0, None)),
    Variable("deepest_root", "m", "deepest root that the crop will have; the profile ends there", "parameter"),
    Variable("rhmin_climate", "%", "stage mean of minimum relative humidity, stated", "parameter", "", (0, 100), (20, 80)),
    Variable("wind_climate", "m s-1", "stage mean of wind speed at 2 m, stated", "parameter", "", (0, 20), (1, 6)),
    Variable("dual", "1", "1 where soil evaporation is computed apart (basal coefficient or bare soil)", "parameter"),
    # ------------------------------------------------------- parameters: soil
    Variable("field_capacity", "m3 m-3", "water content at field capacity", "parameter", "", (0, 0.8), (0.05, 0.5), above=True),
    Variable("wilting_point", "m3 m-3", "water content at wilting point", "parameter", "", (0, 0.7), (0.01, 0.35)),
    Variable("available_water", "m3 m-3", "available water: field capacity less wilting point", "parameter", "",
             (0, 0.6), (0.03, 0.25), above=True),
    Variable("saturation", "m3 m-3", "water content at saturation", "parameter", "", (0, 0.95), (0.3, 0.6), above=True),
    Variable("drainable_water", "m3 m-3", "saturation less field capacity", "parameter", "", (0, 0.9), (0.02, 0.4)),
    Variable("drainage_fraction", "1", "part of the water above field capacity that percolates in a day (1: at once)", "parameter", "", (0, 1), (0.05, 1), above=True),
    Variable("hydraulic_conductivity", "mm h-1", "saturated hydraulic conductivity", "parameter", "", (0, 2000), (0.1, 300)),
    Variable("layer_bottom", "m", "depth of the bottom of a soil layer", "parameter", "", (0, 20), above=True),
    Variable("restricting_depth", "m", "depth of a layer that roots do not enter", "parameter", "", (0.05, 10)),
    Variable("water_table_depth", "m", "depth of the water table below the surface", "parameter", "", (0, 100), (0.5, 20), above=True),
    Variable("capillary_a", "mm day-1", "coefficient a of the steady upward flow a / d^n, d in m", "parameter", "", (0, 1e6), above=True),
    Variable("capillary_n", "1", "exponent n of the steady upward flow", "parameter", "", (1, 10), (1.5, 4), above=True),
    Variable("soil_salinity", "dS m-1", "mean salinity of the saturation extract of the root zone over the season", "parameter", "", (0, 100), (0, 20)),
    Variable("water_content", "m3 m-3", "water content as observed", "parameter", "", (0, 0.95), (0.02, 0.6)),
    Variable("sand", "%", "sand, by weight", "parameter", "", (0, 100)),
    Variable("clay", "%", "clay, by weight", "parameter", "", (0, 100), (0, 60)),
    Variable("organic_matter", "%", "organic matter, by weight", "parameter", "", (0, 100), (0, 8)),
    Variable("rew", "mm", "readily evaporable water of the surface layer", "parameter", "", (0, 50), (2, 12)),
    Variable("tew", "mm", "total evaporable water of the surface layer", "parameter", "", (0, 100), (6, 30), above=True),
    Variable("air_dry_water", "mm", "water below wilting point that evaporation can take", "parameter", "", (0, None)),
    Variable("evaporation_depth", "m", "depth of the evaporation layer", "parameter", "", (0.05, 0.3), (0.1, 0.15)),
    Variable("curve_number", "1", "runoff curve number", "parameter", "", (1, 100), (40, 98)),
    Variable("adjust_curve_number", "1", "1 where the curve number follows the dryness of the evaporation layer", "parameter"),
    Variable("intake_rate", "mm h-1", "rate at which the soil takes water in", "parameter", "", (0, 2000), (1, 100), above=True),
    # ------------------------------------------------------- parameters: system
    Variable("efficiency", "1", "application efficiency: depth stored for the crop over depth supplied", "parameter", "",
             (0, 1), (0.4, 0.98), above=True),
    Variable("delivered_fraction", "1", "fraction of the water supplied that reaches the soil", "parameter", "", (0, 1),
             (0.5, 1), above=True),
    Variable("gross_to_net", "1", "part of the water supplied that enters the soil as net depth", "parameter", "", (0, 1), above=True),
    Variable("leak_fraction", "1", "part of the water pumped that leaks away", "parameter", "", (0, 0.99), (0, 0.3)),
    Variable("conveyance_fraction", "1", "part of the water on the way to the field that seeps or evaporates", "parameter", "", (0, 0.99), (0, 0.4)),
    Variable("spray_fraction", "1", "part of the water leaving the nozzles that evaporates or drifts away", "parameter", "", (0, 0.99), (0, 0.5)),
    Variable("canopy_fraction", "1", "part of the water reaching the canopy that it keeps", "parameter", "", (0, 0.99), (0, 0.15)),
    Variable("runoff_fraction", "1", "part of the irrigation reaching the soil that runs off (less than 1; at most 0.99 when stated)", "parameter", "", (0, 0.99), (0, 0.3)),
    Variable("unattributed_fraction", "1", "part of the water supplied that is lost, known only as one fraction: by an efficiency or a delivered fraction", "parameter", "", (0, 1)),
    Variable("wetted_volume", "1", "part of the root zone's volume that the emitters wet", "parameter", "", (0.01, 1), (0.2, 1)),
    Variable("peak_application_rate", "mm h-1", "greatest rate at which irrigation reaches the soil", "parameter", "", (0, 2000), (1, 300), above=True),
    Variable("lift", "m", "height from the water surface in the source to the pump's outlet or the field", "parameter", "", (0, 2000), (0, 300)),
    Variable("pressure_head", "m", "head of water", "parameter", "", (0, 2000)),
    Variable("operating_pressure", "kPa", "pressure above that of the air", "parameter", "", (0, 5000), (0, 1000)),
    Variable("pump_efficiency", "1", "water power over the power taken from the line or the tank: pump and motor together", "parameter", "", (0, 1), (0.3, 0.85), above=True),
    Variable("can_depth", "mm", "depth of water in a catch can", "parameter", "", (0, 1000)),
    Variable("can_volume", "mL", "volume of water in a catch can", "parameter", "", (0, 100000)),
    Variable("can_diameter", "m", "diameter of the opening of a catch can", "parameter", "", (0.01, 2), (0.05, 0.3)),
    Variable("duration", "h", "time for which water was applied", "parameter", "", (0, 1000), above=True),
    Variable("distance", "m", "distance along the ground", "parameter", "", (0, 100000)),
    Variable("spacing", "m", "distance from one to the next", "parameter", "", (0, 1000), above=True),
    Variable("diameter", "m", "inner diameter", "parameter", "", (0, 10), above=True),
    Variable("outlet_pressure", "kPa", "pressure at an emitter or a nozzle, above that of the air", "parameter", "", (0, 5000), (20, 1000), above=True),
    Variable("emitter_flow", "L h-1", "flow of one emitter", "parameter", "", (0, 1000)),
    Variable("emitter_exponent", "1", "exponent x of an emitter's flow, q = k h^x", "parameter", "", (0, 1)),
    Variable("volume", "m3", "volume of water", "parameter", "", (0, None)),
    Variable("energy", "kWh", "energy", "parameter", "", (0, None)),
    Variable("wind_speed", "m s-1", "wind speed during irrigation", "parameter", "wind_speed", (0, 75), (0, 10)),
    Variable("water_salinity", "dS m-1", "electrical conductivity of the irrigation water", "parameter", "", (0, 100), (0.1, 5)),
    Variable("slope", "%", "slope of the ground", "parameter", "", (-100, 100), (-30, 30)),
    Variable("system_wetted_fraction", "1", "fraction of the soil surface that the system wets", "parameter", "", (0.01, 1)),
    Variable("application_rate", "mm h-1", "depth supplied per hour, mean of the field", "parameter", "", (0, 500), (0.5, 60), above=True),
    Variable("flow", "m3 h-1", "flow of the system", "parameter", "", (0, 20000), (0.1, 1000), above=True),
    Variable("area", "ha", "irrigated area", "parameter", "", (0, 100000), (0.01, 500), above=True),
    Variable("spot_share", "1", "depth at a spot over the mean depth of the field", "parameter", "", (0, 10)),
    Variable("spot_weight", "1", "part of the field that a spot stands for", "parameter", "", (0, 1)),
    Variable("spot_watched", "1", "1 for a spot that the decision looks at, 0 for a part that is not irrigated", "parameter"),
    Variable("subsurface", "1", "1 where water enters below the evaporation layer", "parameter"),
    Variable("under_canopy", "1", "1 where drip wets the soil under the plants", "parameter"),
    # ------------------------------------------------------- parameters: rule
    Variable("irrigated_by_rule", "1", "1 where a rule was given", "parameter"),
    Variable("rule_free", "1", "1 on days that no record covers, on which the rule decides", "parameter"),
    Variable("last_date", "", "last day on which the rule irrigates", "parameter"),
    Variable("allowable_depletion", "1", "depletion that triggers irrigation, as a fraction of available water",
             "parameter", "", (0, 1), (0.2, 0.8)),
    Variable("refill_to", "1", "depletion left after irrigation, as a fraction of available water", "parameter", "",
             (0, 1), (0, 0.4)),
    Variable("net_depth", "mm", "net depth of every irrigation", "parameter", "", (0, 500), (3, 150), above=True),
    Variable("min_depth", "mm", "smallest net depth worth an irrigation", "parameter", "", (0, 500)),
    Variable("max_depth", "mm", "largest net depth in one irrigation", "parameter", "", (0, 500), above=True),
    Variable("min_interval", "day", "fewest days from one irrigation to the next", "parameter", "", (1, 365)),
    Variable("watch_driest_quarter", "1", "1 where the decision looks at today's driest quarter of the spots (with an adequacy: of the part to be filled), 0 at their mean", "parameter"),
    Variable("adequacy", "1", "part of the watched field that an irrigation is to fill", "parameter", "", (0.01, 1), (0.5, 0.98)),
    Variable("over_application", "1", "mean depth over the field for each mm that the watched spots lack, without an adequacy", "parameter", "", (0, None)),
    Variable("leaching_requirement", "1", "part of the irrigation that must drain to keep salts away", "parameter", "", (0, None), (0, 0.5)),
    Variable("et_share_before_percolation", "1",
             "share of the day's evapotranspiration taken from excess water before it percolates", "parameter", "", (0, 1)),
)  # fmt: skip

VARIABLES: Mapping[str, Variable] = MappingProxyType({variable.name: variable for variable in _TABLE})
"""Every quantity by its name."""


def attributes(name: str) -> dict[str, str]:
    """Give the attributes that a variable of this name carries in a Dataset.

    Parameters
    ----------
    name : str
        A name in `VARIABLES`; ``initial_`` before a state's name is that state before day 1.

    Returns
    -------
    dict of str
        ``units``, ``long_name`` and, where CF has one, ``standard_name``.
    """
    start = name.removeprefix("initial_")
    variable = VARIABLES[start]
    long_name = variable.long_name if start == name else f"{variable.long_name}, before the first day"
    result = {"long_name": long_name}
    if variable.unit:  # a date has none: its encoding in a file is its unit
        result["units"] = variable.unit
    if variable.standard_name and start == name:
        result["standard_name"] = variable.standard_name
    return result
