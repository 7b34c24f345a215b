"""What the power rests on besides the motion: numbers of the car and the air, each with its doubt and its origin.

A doubt here is one standard deviation. Where the owner states one in the car sheet, it counts; else the usual one
below is taken. The usual doubts are common practice without a source, read as intervals that hold 95 %.
"""

from dataclasses import dataclass

from pullproof.car import Car
from pullproof.conditions import Air
from pullproof.errors import CannotAnswer
from pullproof.physics import moist_air, road_load

__all__ = ["HALF_WIDTH", "LEVEL_ROAD", "STILL_AIR", "Given", "air_density", "car_numbers"]

HALF_WIDTH = 1.96
"""Half width of 95 % over standard deviation, of a normal distribution."""

MASS_DOUBT = 0.02 / HALF_WIDTH
"""Of a mass as tested, people and fuel included, relative."""

FACTOR_DOUBT, ESTIMATED_FACTOR_DOUBT = 0.20 / HALF_WIDTH, 0.30 / HALF_WIDTH
"""Of what the rotating parts add, relative: from the car sheet, and by [Gillespie]'s average."""

DRAG_AREA_DOUBT, ROLLING_DOUBT = 0.10 / HALF_WIDTH, 0.20 / HALF_WIDTH
"""Of values typed into the car sheet, relative. Rolling resistance changes by 9 % over 10 K besides."""

USUAL_DRAG_AREAS = ((1_100.0, 0.60, 0.15), (2_000.0, 0.68, 0.20), (3_500.0, 0.95, 0.40))
"""Up to this mass [kg], drag area [m2] and half width of 95 % [m2] for a car that does not state one."""

USUAL_ROLLING, USUAL_ROLLING_HALF_WIDTH = 0.012, 0.005


@dataclass(frozen=True, slots=True)
class Given:
    """A number that the answer rests on."""

    name: str
    value: float
    doubt: float
    """One standard deviation, in `unit`."""
    unit: str
    origin: str


LEVEL_ROAD = Given("grade", 0.0, 0.01 / HALF_WIDTH, "1", "road taken for level")
"""A road that looks level may rise or fall by 1 % (common practice, no source)."""

STILL_AIR = Given("headwind", 0.0, 3.0 / HALF_WIDTH, "m/s", "air taken for still")
"""A day that counts as calm has up to 3 m/s along the road (common practice, no source)."""


def car_numbers(car: Car, gear: int | None, overall_ratio: float) -> tuple[Given, ...]:
    """Mass, rotating mass factor, drag area and rolling resistance of a car in one gear.

    Parameters
    ----------
    car : Car
        The car sheet.
    gear : int or None
        Number of the gear, from 1; None where it is not known.
    overall_ratio : float
        Engine speed over wheel speed. [1]

    Raises
    ------
    CannotAnswer
        The sheet has no mass, or neither a drag area nor a mass for which one is usual.
    """
    if car.mass_kg is None:
        raise CannotAnswer(
            "wheel power needs the mass of the car, and the car sheet does not say it",
            where=car.name,
            advice="Weigh the car with fuel and people and add mass_kg = 1510 (your figure) to the car sheet.",
        )
    mass = _typed(car, "mass", "mass_kg", car.mass_kg, MASS_DOUBT, "kg")
    return (mass, _rotating_mass_factor(car, gear, overall_ratio), _drag_area(car), _rolling_resistance(car))


def _typed(car: Car, name: str, key: str, value: float, usual_doubt: float, unit: str) -> Given:
    """A number of the car sheet, with the doubt that the owner states or the usual one."""
    stated = car.doubts.get(key)
    doubt = usual_doubt * value if stated is None else stated / HALF_WIDTH
    return Given(name, value, doubt, unit, "car sheet" if stated is None else "car sheet, with its own doubt")


def _rotating_mass_factor(car: Car, gear: int | None, overall_ratio: float) -> Given:
    name = "rotating mass factor"
    if car.rotating_mass_factor and gear is not None and gear <= len(car.rotating_mass_factor):
        factor = car.rotating_mass_factor[gear - 1]
        return Given(name, factor, FACTOR_DOUBT * (factor - 1.0), "1", "car sheet")
    factor = float(road_load.rotating_mass_factor_gillespie(overall_ratio))
    doubt = ESTIMATED_FACTOR_DOUBT * (factor - 1.0)
    return Given(name, factor, doubt, "1", "average of passenger cars by Gillespie; add rotating_mass_factor")


def _drag_area(car: Car) -> Given:
    if car.drag_area_m2 is not None:
        return _typed(car, "drag area", "drag_area_m2", car.drag_area_m2, DRAG_AREA_DOUBT, "m2")
    mass = car.mass_kg or 0.0
    for limit, area, half_width in USUAL_DRAG_AREAS:
        if mass <= limit:
            origin = "usual for a car of this mass, common practice without source; add drag_area_m2 or coast down"
            return Given("drag area", area, half_width / HALF_WIDTH, "m2", origin)
    raise CannotAnswer(
        f"no drag area is usual for a vehicle of {mass:g} kg, and the car sheet does not say it",
        where=car.name,
        advice="Add drag_area_m2 to the car sheet, or record a coast-down and run `pullproof coastdown`.",
    )


def _rolling_resistance(car: Car) -> Given:
    if car.rolling_resistance is not None:
        return _typed(car, "rolling resistance", "rolling_resistance", car.rolling_resistance, ROLLING_DOUBT, "1")
    origin = "usual for car tyres, common practice without source; add rolling_resistance or coast down"
    return Given("rolling resistance", USUAL_ROLLING, USUAL_ROLLING_HALF_WIDTH / HALF_WIDTH, "1", origin)


def air_density(air: Air) -> Given:
    """Density of the ambient air, with the doubt of what is not known about it.

    Without temperature or pressure, 15 degC and 98 kPa stand in, with half widths of 20 K and 6 kPa (common
    practice, no source); without humidity, 50 % and all from 0 to 100 % possible.
    """
    celsius, celsius_doubt = (15.0, 20.0) if air.temperature_c is None else (air.temperature_c, 2.0)
    kilopascal, kilopascal_doubt = (98.0, 6.0) if air.pressure_kpa is None else (air.pressure_kpa, 0.5)
    humidity, humidity_doubt = (50.0, 50.0) if air.relative_humidity_pct is None else (air.relative_humidity_pct, 10.0)

    def density(celsius: float, kilopascal: float, humidity: float) -> float:
        relative = min(max(humidity / 100.0, 0.0), 1.0)
        return float(moist_air.density(1e3 * kilopascal, celsius + 273.15, relative))

    value = density(celsius, kilopascal, humidity)
    changes = (
        density(celsius + celsius_doubt, kilopascal, humidity) - value,
        density(celsius, kilopascal + kilopascal_doubt, humidity) - value,
        density(celsius, kilopascal, humidity + humidity_doubt) - value,
    )
    doubt = sum(change**2 for change in changes) ** 0.5 / HALF_WIDTH
    missing = [
        what for what, known in (("temperature", air.temperature_c), ("pressure", air.pressure_kpa)) if known is None
    ]
    origin = f"usual {' and '.join(missing)} of the air; add it to the conditions file" if missing else "conditions"
    return Given("air density", value, doubt, "kg/m3", origin)
