"""From physics to what one kelvin, one kilopascal or one rpm does to a measure, each with its doubt.

Read `AirState` first, then the families: air flow, power, time, duty. What has no physics behind it that we would
defend stands as plain numbers in `priors.toml`. Every doubt is a standard deviation: a third of the mean where
only filling counts, half and more where turbine, actuator or control unit have a say. Real ones differ that much from
their textbooks, and the car's own repeats narrow it down.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from pullproof.analysis.comparison.priors import Effect, MeasurePrior

__all__ = ["GATE_AREA", "USUAL_PRESSURE_KPA", "AirState", "effects", "mixture_effects"]


USUAL_PRESSURE_KPA = 99.0
"""Middle of what is driven in, where nobody wrote the pressure down."""


@dataclass(frozen=True, slots=True)
class AirState:
    """Mean state of all the pulls compared, at which effects are taken.

    The same for both sides, so that swapping them only turns the sign of the answer.
    """

    ambient_pressure_kpa: float = USUAL_PRESSURE_KPA
    boost_kpa: float = 0.0
    """Above ambient; 0 for an engine without a charger."""
    fuel_limited: bool = False
    """A diesel: its fuel decides the power, whatever the air does, and air decides lambda."""
    boost_follows: tuple[float, float] = (0.0, 0.0)
    """Kilopascals of charge pressure per kilopascal of barometer that no covariate shows, mean and doubt: 0 where the
    charge pressure achieved is one itself."""

    @property
    def charge_kpa(self) -> float:
        """Absolute pressure that the engine breathes."""
        return self.ambient_pressure_kpa + self.boost_kpa


CHARGE_KELVIN = 310.0
"""Charge temperature at full load behind an air cooler [K]. Common practice, no source."""

TEMPERATURE_EXPONENT = 0.75
"""Air flow goes with charge temperature to minus this power: 1 by density alone, 0.5 where heat transfer in the ports
evens it out [Heywood 6.2]. The middle is taken. A cooler passes a kelvin of warmer air on whole."""

FOLLOWS_START = 0.4
"""Share of a warmer start that is left on the mean of a pull. Common practice, no source."""

ORDER_DOUBT = 0.8
"""What a session's heat may do to any measure between its first pull and its end, in scatters between pulls.
Common practice, no source."""

MECHANICAL_EFFICIENCY = 0.85
"""Friction takes its part whatever the air does, so brake power changes by more per cent than indicated power.
Source: the share that SAE J1349 takes where it is not measured."""

FUEL_LIMITED = 0.2
"""Share of the air's effect on power that is left where fuel is metered, not air. Common practice, no source."""

TIME_PER_POWER = -1.1
"""Per cent of time through the revs per per cent of power at the wheels. -1 without drag; drag adds to it."""

GATE_AREA: Mapping[str, float] = MappingProxyType(
    {
        "charge_loss_kpa": -0.88,
        "inlet_kelvin": -0.555,
        "exhaust_kelvin": 11.43 / 50.0,
        "flow_percent": 2.25,
    }
)
"""Per cent of wastegate flow area needed, per unit, at one worked point.

Shaft balance of compressor and turbine with 98 kPa before and 240 kPa behind the compressor, 0.25 kg/s, 1223 K before
the turbine; `pullproof.physics.turbine` gives them again, and a test holds the two together.
"""

DUTY_PER_GATE_AREA = -0.3
"""Points of duty per per cent of gate area. A property of the actuator. Common practice, no source."""

KEPT_OF_INLET_WORK = 0.6
"""Share of the compressor's part that exhaust temperature and ignition leave. Common practice, no source."""

EXHAUST_KELVIN_PER_DEGREE = -12.0
"""Exhaust temperature per degree of ignition advance [K/deg]. Common practice, no source."""

EXHAUST_KELVIN_PER_LAMBDA = 800.0
"""Exhaust temperature per unit of lambda on the rich side [K]. Common practice, no source."""

ORIGIN_FLOW = "filling by pressure over temperature to the power 0.75"
ORIGIN_DUTY = "shaft balance at a worked point times the slope of the actuator"


def effects(measure: str, prior: MeasurePrior, state: AirState, level: float) -> Mapping[str, Effect]:
    """What one unit of each covariate does to a measure, in the measure's own unit.

    Parameters
    ----------
    measure : str
        Its id, for the message.
    prior : MeasurePrior
        Its row of the table.
    state : AirState
        Mean state of all the pulls.
    level : float
        Mean of the measure over all the pulls, for effects that are percentages. [unit of the measure]

    Raises
    ------
    ValueError
        The table names a family that does not exist.
    """
    if state.fuel_limited and measure.startswith("lambda."):
        found = _scaled(_air_flow(state), level / 100.0)
    elif prior.covers == "table":
        found = dict(prior.effect)
    elif prior.covers in _FAMILIES:
        found = _scaled(_FAMILIES[prior.covers](state), prior.in_unit(1.0, level))
    else:
        raise ValueError(f'{measure}: no family of effects is called "{prior.covers}"')
    if "boost" in found and "air_pressure" in found:
        found["air_pressure"] = _with_boost(found["air_pressure"], found["boost"], state.boost_follows)
    soaking = ORDER_DOUBT * prior.in_unit(prior.run.median, level)
    return found | {"order": Effect(0.0, soaking, "a session warms the car; common practice, no source")}


def _with_boost(pressure: Effect, boost: Effect, follows: tuple[float, float]) -> Effect:
    """What a kilopascal of barometer does where charge pressure goes with it unseen."""
    mean, doubt = follows
    variance = pressure.doubt**2 + (boost.doubt * mean) ** 2 + (boost.mean * doubt) ** 2
    return Effect(pressure.mean + boost.mean * mean, variance**0.5, pressure.origin)


def _scaled(found: Mapping[str, Effect], factor: float) -> dict[str, Effect]:
    return {
        name: Effect(factor * effect.mean, abs(factor) * effect.doubt, effect.origin) for name, effect in found.items()
    }


def _air_flow(state: AirState) -> dict[str, Effect]:
    """Per cent of air mass flow at a given engine speed, per unit of covariate."""
    per_kpa = 100.0 / state.charge_kpa
    per_kelvin = -100.0 * TEMPERATURE_EXPONENT / CHARGE_KELVIN
    start = per_kelvin * FOLLOWS_START
    # Moist air is lighter than dry air by 0.378 of its vapour's share (molar masses of water and air).
    vapour = -37.8 / state.ambient_pressure_kpa
    return {
        "air_temperature": Effect(per_kelvin, 0.3 * abs(per_kelvin), ORIGIN_FLOW),
        "air_pressure": Effect(0.0, 0.15, "at equal charge pressure only the exhaust feels the barometer"),
        "humidity": Effect(vapour, 0.5 * abs(vapour), "water vapour is lighter than air"),
        "charge_temperature_start": Effect(start, 0.5 * abs(start), ORIGIN_FLOW),
        "boost": Effect(per_kpa, 0.3 * per_kpa, "filling goes with charge pressure"),
        "start_speed": Effect(0.0, 0.0005, "a late start costs filling at the foot of the window only"),
    }


def _power(state: AirState) -> dict[str, Effect]:
    """Per cent of wheel power, per unit of covariate: the air flow's, of dry air, over what friction leaves."""
    found = _scaled(_air_flow(state), 1.0 / MECHANICAL_EFFICIENCY)
    # Vapour takes the place of air, and a control unit that meters pressure does not see it.
    vapour = -100.0 / state.ambient_pressure_kpa / MECHANICAL_EFFICIENCY
    found["humidity"] = Effect(vapour, 0.5 * abs(vapour), "water vapour takes the place of oxygen")
    if state.fuel_limited:
        found = {name: replace(effect, mean=FUEL_LIMITED * effect.mean) for name, effect in found.items()}
    found["direction"] = Effect(0.0, 2.5, "a grade of 0.5 % either way is 2.5 % of power between the directions")
    return found


def _time(state: AirState) -> dict[str, Effect]:
    """Per cent of the time through the window, per unit of covariate."""
    return _scaled(_power(state), TIME_PER_POWER)


def _duty(state: AirState) -> dict[str, Effect]:
    """Points of wastegate duty, per unit of covariate.

    Warm air needs more compressor work, at the worked point 0.17 points of duty per kelvin. It also leaves less exhaust
    to do it with and makes that exhaust hotter, and the control unit answers with ignition: these pull both ways, so
    part of the mean is kept and all of it doubted. A warm start works by them alone. Boost itself is set apart: in the
    balance its extra work and its extra exhaust nearly cancel, and what a controller needs for one more kilopascal is
    a property of the car.
    """
    air = KEPT_OF_INLET_WORK * DUTY_PER_GATE_AREA * GATE_AREA["inlet_kelvin"]
    start = DUTY_PER_GATE_AREA * GATE_AREA["flow_percent"] * _air_flow(state)["charge_temperature_start"].mean
    return {
        "air_temperature": Effect(air, 1.4 * air, ORIGIN_DUTY),
        "air_pressure": Effect(-0.5, 0.4, "pressure ratio, back pressure and actuator pull both ways: no safe sign"),
        "humidity": Effect(0.1, 0.3, "no safe sign"),
        "charge_temperature_start": Effect(
            -0.5 * start, start, "flow and exhaust temperature pull both ways: no safe sign"
        ),
        "boost": Effect(0.4, 0.25, "one point of duty moves boost by about 2.5 kPa; common practice, no source"),
        "start_speed": Effect(0.0, 0.0005, "control settles later after a late start; common practice, no source"),
    }


_FAMILIES: Mapping[str, Callable[[AirState], dict[str, Effect]]] = MappingProxyType(
    {"air flow": _air_flow, "power": _power, "time": _time, "duty": _duty}
)


def mixture_effects(prior: MeasurePrior, level: float) -> Mapping[str, Effect]:
    """What a degree of ignition or a hundredth of lambda does: not adjusted for, but it can explain a difference.

    A degree of retard counts as a degree of ignition the other way. Keys `ignition` [per deg of advance] and `lambda`
    [per 0.01].
    """
    degree = DUTY_PER_GATE_AREA * GATE_AREA["exhaust_kelvin"] * EXHAUST_KELVIN_PER_DEGREE
    hundredth = DUTY_PER_GATE_AREA * GATE_AREA["exhaust_kelvin"] * EXHAUST_KELVIN_PER_LAMBDA / 100.0
    practice = "common practice, no source"
    table = {
        "duty": (Effect(degree, 0.5 * degree, ORIGIN_DUTY), Effect(hundredth, 0.6 * abs(hundredth), ORIGIN_DUTY)),
        "power": (Effect(1.0, 0.5, practice), Effect(0.0, 0.3, practice)),
        "time": (Effect(TIME_PER_POWER, 0.5, practice), Effect(0.0, 0.3, practice)),
    }
    if prior.covers not in table:
        return {}
    found = dict(zip(("ignition", "lambda"), table[prior.covers], strict=True))
    return _scaled(found, prior.in_unit(1.0, level))
