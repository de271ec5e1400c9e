"""Spray loss: the handbook's regressions against their equations, and measured losses.

The equations were read in a public listing, not in the papers: Playán and others (2005), Agricultural Water
Management 76, 139-159; Trimmer (1987); Faci and Bercero (1991); Montero (1999); Tarjuelo and others (2000); Faci and
others (2001); Dechmi and others (2003); Playán and others (2004). They are typed again here, and evaluated at one point.
"""

import itertools
import re

import pandas as pd
import pytest

from waterbudget.handbook.tables import read
from waterbudget.system.spray import spray_loss, spray_regressions

HUMIDITY, TEMPERATURE, DEFICIT, PRESSURE, NOZZLE = 61.0, 21.0, 1.3, 310.0, 4.6
GIVEN = {
    "humidity": HUMIDITY,
    "temperature": TEMPERATURE,
    "vapour_pressure_deficit": DEFICIT,
    "pressure": PRESSURE,
    "nozzle_diameter": NOZZLE / 1000.0,
}
WIND = 1.9
U, RH, T, VPD, P, D = WIND, HUMIDITY, TEMPERATURE, DEFICIT, PRESSURE, NOZZLE

# Words of the name, loss in percent, what the equation needs beside wind.
EQUATIONS = [
    ("Playan 2005 E15", 20.3 + 0.214 * U**2 - 2.29e-3 * RH**2, "humidity"),
    ("Playan 2005 E14", 26.1 + 1.64 * U - 0.274 * RH, "humidity"),
    ("Playan 2005 E5", 38.6 - 0.407 * RH, "humidity"),
    ("Playan 2005 E23", 4.4 + 3.60 * U**0.9, ""),
    ("Playan 2005 E4", 5.2 + 2.90 * U, ""),
    ("Playan 2005 E13", 20.7 + 0.185 * U**2 - 2.14e-3 * RH**2, "humidity"),
    ("Playan 2005 E12", 24.1 + 1.41 * U - 0.216 * RH, "humidity"),
    ("Playan 2005 E21", 12.3 + 0.552 * U**1.6, ""),
    ("Playan 2005 E1", 13.0 + 0.246 * U**2, ""),
    ("Playan 2005 E20", 10.5 + 1.89 * U, ""),
    ("Playan 2005 E22", 3.2 + 1.84 * U**1.7, ""),
    ("Playan 2005 E2", 3.7 + 1.31 * U**2, ""),
    ("Playan 2005 E3", 29.9 - 0.300 * RH, "humidity"),
    ("Playan 2005 E18", -2.1 + 1.91 * U + 0.231 * T, "temperature"),
    ("Playan 2005 E7", 2.7 + 2.31 * U, ""),
    ("Playan 2005 E27", 2.4 + 2.70 * U**0.9, ""),
    ("Playan 2005 E17", 7.0 + 1.65 * U - 1.16e-3 * RH**2, "humidity"),
    ("Playan 2005 E16", 8.9 + 1.67 * U - 0.097 * RH, "humidity"),
    ("Playan 2005 E25", 5.1 + 1.78 * U**0.9, ""),
    ("Playan 2005 E24", 5.4 + 1.48 * U, ""),
    ("Playan 2005 E26", 3.1 + 0.00600 * U**9.2, ""),
    ("Playan 2005 E6", 239 / RH, "humidity"),
    ("Playan 2005 E11", 3.1 + 2.95 * U, ""),
    ("Playan 2005 E8", 8.6 + 0.337 * U**2, ""),
    ("Playan 2005 E28", 8.4 + 0.409 * U**1.9, ""),
    ("Playan 2005 E19", 5.7 + 2.29 * U, ""),
    ("Playan 2005 E29", 3.2 + 0.761 * U**2.6, ""),
    ("Playan 2005 E9", 3.4 + 0.512 * U**3.0, ""),
    (
        "Trimmer 1987",
        (1.98 * D**-0.72 + 0.22 * VPD**0.63 + 3.6e-4 * P**1.16 + 0.4 * U**0.7) ** 4.2,
        "nozzle_diameter vapour_pressure_deficit pressure",
    ),
    ("Faci and Bercero 1991", 20.44 + 0.75 * U, ""),
    ("Montero 1999", 7.63 * VPD**0.5 + 1.62 * U, "vapour_pressure_deficit"),
    ("Tarjuelo 2000", 0.007 * P + 7.38 * VPD**0.5 + 0.844 * U, "pressure vapour_pressure_deficit"),
    ("Faci 2001", -0.74 * D + 2.58 * U + 0.47 * T, "nozzle_diameter temperature"),
    ("Dechmi 2003", 7.479 + 5.287 * U, ""),
    ("Playan 2004", 1.55 + 1.13 * U, ""),
]


@pytest.mark.parametrize(("name", "percent", "needs"), EQUATIONS)
def test_equations_as_printed(check, name, percent, needs):
    got = spray_loss(name, WIND, **{need: GIVEN[need] for need in needs.split()})
    source = f"Spray loss regressions (listing read, not the papers), {name}"
    check(
        source, f"loss at one point, against our copy, wind {WIND:g} m/s [%]", percent, float(got) * 100, 1e-9
    )


def test_every_equation_is_tested():
    names = spray_regressions()["name"]
    assert len(EQUATIONS) == len(names) == 35
    found = [
        spray_loss(name, WIND, **{need: GIVEN[need] for need in needs.split()})
        for name, _, needs in EQUATIONS
    ]
    assert len({str(loss.attrs["source"]) for loss in found}) == 35


# The equations above with numbers put in, by hand.
@pytest.mark.parametrize(
    ("name", "wind", "given", "percent", "tolerance"),
    [
        ("Playan 2005 E14", 3.0, {"humidity": 50.0}, 17.32, 0.005),
        ("Playan 2005 E15", 3.0, {"humidity": 50.0}, 16.501, 0.0005),
        ("Playan 2005 E18", 3.0, {"temperature": 25.0}, 9.405, 0.0005),
        (
            "Trimmer 1987",
            3.0,
            {"nozzle_diameter": 0.0044, "vapour_pressure_deficit": 1.5, "pressure": 300.0},
            22.44,
            0.05,
        ),
        ("Tarjuelo 2000", 3.0, {"vapour_pressure_deficit": 1.5, "pressure": 300.0}, 13.67, 0.005),
    ],
)
def test_worked_by_hand(check, name, wind, given, percent, tolerance):
    got = float(spray_loss(name, wind, **given)) * 100
    source = f"Spray loss regressions (listing read, not the papers), {name}"
    check(source, f"loss, worked by hand, wind {wind:g} m/s [%]", percent, got, tolerance)


@pytest.mark.parametrize(
    ("name", "mean"),
    [
        ("Playan 2005 E20", 15.4),
        ("Playan 2005 E2", 8.5),
        ("Playan 2005 E24", 9.8),
        ("Playan 2005 E26", 5.0),
    ],
)
def test_measured_means_lie_within_the_regressions(name, mean):
    # Playán and others (2005), abstract, from memory: mean losses 15.4 % solid set by day, 8.5 % by night, 9.8 %
    # moving lateral by day, 5.0 % by night. A regression on wind passes them at some wind inside its range.
    frame = read("spray_loss")
    row = frame[frame["name"].str.endswith(name.removeprefix("Playan 2005"))].iloc[0]
    calm, windy = row["wind_m_per_s_low"], row["wind_m_per_s_high"]
    assert float(spray_loss(name, calm)) < mean / 100 < float(spray_loss(name, windy))


def test_nights_lose_less_than_days():
    # Common practice, no source: irrigate at night. Playán and others (2005), at the wind of 1.5 m/s.
    for day, night in (("E20", "E2"), ("E24", "E26"), ("E19", "E29")):
        assert float(spray_loss(f"Playan 2005 {night}", 1.5)) < float(spray_loss(f"Playan 2005 {day}", 1.5))


def test_limits_that_are_spoken_of(check):
    limits = read("spray_limits").set_index("name")["value"]
    # Sarwar, Peters and Mohamed (2019), abstract: 3.2 to 48.8 % measured under a linear move.
    source = "Sarwar, Peters and Mohamed (2019), abstract"
    check(source, "greatest measured loss [%]", 48.8, limits["greatest measured loss"], 0.0)
    # Yacoubi et al. (2012): better stopped above 4 m/s.
    check("Yacoubi et al. (2012)", "wind to stop at [m/s]", 4.0, limits["wind to stop at"], 0.0)
    assert spray_loss("Playan 2005 E4", 4.0).attrs["doubts"] == ""
    assert "wind above 4 m s-1" in spray_loss("Playan 2005 E4", 4.1).attrs["doubts"]


ENDS = {
    "wind": "wind_m_per_s",
    "humidity": "humidity_percent",
    "temperature": "temperature_degC",
    "vapour_pressure_deficit": "vapour_pressure_deficit_kPa",
    "pressure": "pressure_kPa",
    "nozzle_diameter": "nozzle_diameter_mm",
}


def test_regressions_stay_within_what_was_measured():
    # King et al. (2012), read: losses in the literature run from 0.7 to 45 %. Inside the ranges of the handbook, from
    # memory and drawn narrow, every regression stays there; Trimmer's alone can leave it, and then says so.
    for _, row in read("spray_loss").iterrows():
        needs = [name for name in ENDS if pd.notna(row[f"{name}_coefficient"])]
        losses = []
        for ends in itertools.product(("low", "high"), repeat=len(needs)):
            given = {name: row[f"{ENDS[name]}_{end}"] for name, end in zip(needs, ends, strict=True)}
            if "nozzle_diameter" in given:
                given["nozzle_diameter"] /= 1000.0
            losses.append(spray_loss(row["name"], **({"wind": 2.0} | given)))
        percent = [100 * float(loss) for loss in losses]
        assert min(percent) > 0.7
        if "Trimmer" in row["name"]:
            beyond = [loss for loss in losses if loss > 0.488]
            assert beyond
            assert all("above the greatest measured" in loss.attrs["doubts"] for loss in beyond)
        else:
            assert max(percent) < 45.0


def test_measurements_at_prosser(check):
    # Sarwar, Peters and Mohamed (2019), abstract, read: 3.2 to 48.8 %, 20.6 % in the mean, under a linear move.
    note = read("spray_limits").set_index("name").loc["greatest measured loss", "note"]
    smallest, mean = map(float, re.search(r"smallest ([\d.]+) %, mean ([\d.]+) %", note).groups())
    source = "Sarwar, Peters and Mohamed (2019), abstract"
    check(source, "smallest and mean measured loss [%]", [3.2, 20.6], [smallest, mean], 0.0)
