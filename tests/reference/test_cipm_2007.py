"""CIPM-2007 density of moist air: Picard et al., Metrologia 45 (2008) 149-155, coded here from the formula."""

import math

import numpy as np
import pytest
from CoolProp.CoolProp import HAPropsSI

from pullproof.physics import moist_air

STATES = [
    (101_325, 20, 0.50, "1.199314"),
    (101_325, 15, 0.00, "1.225521"),
    (99_000, 25, 0.00, "1.157118"),
    (101_325, 25, 0.60, "1.175922"),
    (98_000, 35, 0.70, "1.091384"),
    (84_000, 30, 0.30, "0.959996"),
    (102_500, 5, 0.80, "1.281160"),
    (95_000, 40, 0.20, "1.050836"),
    (99_400, 11, 0.55, "1.215865"),
]


def cipm_density(pressure, celsius, humidity, carbon_dioxide=0.0004):
    """The formula of the paper, section 2 and appendix A."""
    kelvin = celsius + 273.15
    saturation = math.exp(1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin)
    enhancement = 1.00062 + 3.14e-8 * pressure + 5.6e-7 * celsius**2
    vapour = humidity * enhancement * saturation / pressure
    compressibility = (
        1
        - pressure
        / kelvin
        * (
            1.58123e-6
            - 2.9331e-8 * celsius
            + 1.1043e-10 * celsius**2
            + (5.707e-6 - 2.051e-8 * celsius) * vapour
            + (1.9898e-4 - 2.376e-6 * celsius) * vapour**2
        )
        + (pressure / kelvin) ** 2 * (1.83e-11 - 0.765e-8 * vapour**2)
    )
    dry_molar_mass = (28.96546 + 12.011 * (carbon_dioxide - 0.0004)) * 1e-3
    return (
        pressure
        * dry_molar_mass
        / (compressibility * 8.314472 * kelvin)
        * (1 - vapour * (1 - 18.01528e-3 / dry_molar_mass))
    )


@pytest.mark.parametrize(("pressure", "celsius", "humidity", "printed"), STATES)
def test_density_against_cipm(as_printed, pressure, celsius, humidity, printed):
    """The ideal mixture is at most 6e-4 below the metrologists' formula, never above."""
    witness = cipm_density(pressure, celsius, humidity)
    as_printed(witness, printed, units=3)
    density = moist_air.density(pressure, celsius + 273.15, humidity)
    assert 1 - 6e-4 < density / witness < 1


def test_density_within_a_thousandth_of_coolprop():
    """From 0 to 45 degC, dry to saturated, 60 to 105 kPa, density is within 0.1 % of CoolProp's humid air."""
    worst = 0.0
    for celsius in np.arange(0.01, 45.1, 5.0):
        for humidity in (0.0, 0.5, 1.0):
            for pressure in (60e3, 84e3, 101_325.0, 105e3):
                kelvin = float(celsius + 273.15)
                volume = HAPropsSI("V", "T", kelvin, "P", pressure, "R", humidity)  # per mass of dry air
                ratio = HAPropsSI("W", "T", kelvin, "P", pressure, "R", humidity)
                density = moist_air.density(pressure, kelvin, humidity)
                worst = max(worst, abs(density * volume / (1 + ratio) - 1))
    assert worst < 1e-3
