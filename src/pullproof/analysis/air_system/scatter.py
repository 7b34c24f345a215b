"""What is believed of each quantity of the air before any pull: its scatter, and what the weather does to it.

Scatter and effects have the place that `comparison/priors.toml` has for measures: starting points that the car's own
repeats overrule. Effects follow from the definitions of the quantities; their doubts, and every scatter, are common
practice without a source.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TypeAlias

from pullproof.analysis.comparison.adjustments import AirState, effects
from pullproof.analysis.comparison.priors import Effect, MeasurePrior
from pullproof.stats.scatter import TypicalScatter

__all__ = ["USUAL", "prior_of"]

Effects: TypeAlias = dict[str, Effect]

CHARGE_KELVIN, INLET_KELVIN = 310.0, 292.0
"""Usual charge temperature behind a cooler and air temperature before the compressor. [K]"""

PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Usual:
    """Usual scatter of a quantity between pulls of a day and between days.

    `relative` says that scatter and effects are in per cent of the quantity's own level, else they are in its unit.
    `effects` gives what one unit of each covariate does to it.
    """

    relative: bool
    run: float
    day: float
    effects: Callable[[AirState], Effects]


def prior_of(name: str, state: AirState, level: float, wider: float = 1.0) -> MeasurePrior:
    """The prior of a quantity with its effects in the quantity's own unit.

    Parameters
    ----------
    name : str
        A key of `USUAL`.
    state : AirState
        Mean state of all the pulls.
    level : float
        Mean of the quantity over all the pulls. [unit of the quantity]
    wider : float
        How much more it scatters than its mean over the window. [1]
    """
    usual = USUAL[name]
    scale = abs(level) / 100.0 if usual.relative else 1.0
    own = {
        covariate: Effect(scale * effect.mean, scale * effect.doubt, effect.origin)
        for covariate, effect in usual.effects(state).items()
    }
    return MeasurePrior(
        relative=usual.relative,
        run=TypicalScatter(wider * usual.run, 0.5),
        day=TypicalScatter(wider * usual.day, 0.45),
        smallest=0.0,
        covers="table",
        effect=MappingProxyType(own),
        origin=PRACTICE,
    )


def _air_flow(state: AirState) -> Effects:
    """Per cent of air flow at equal charge pressure, as for the measures."""
    prior = MeasurePrior(
        True, TypicalScatter(1.0, 0.5), TypicalScatter(1.0, 0.5), 0.0, "air flow", MappingProxyType({}), PRACTICE
    )
    # Boost that follows the barometer, and the order of the pulls, come in where the quantity's own prior is read.
    found = dict(effects("air_mass_flow.mean", prior, replace(state, boost_follows=(0.0, 0.0)), 100.0))
    del found["order"]
    return found


def _corrected_flow(state: AirState) -> Effects:
    """Per cent: air flow times the root of the temperature, over the pressure, before the compressor."""
    found = _air_flow(state)
    warm, dense = found["air_temperature"], found["air_pressure"]
    per_kpa = -100.0 / state.ambient_pressure_kpa
    return found | {
        "air_temperature": Effect(warm.mean + 50.0 / INLET_KELVIN, warm.doubt, "flow times root of temperature"),
        "air_pressure": Effect(dense.mean + per_kpa, max(dense.doubt, 0.2 * -per_kpa), "flow over pressure"),
    }


def _pressure_ratio(state: AirState) -> Effects:
    """Per cent, at equal charge pressure: a higher barometer is a smaller ratio."""
    boost, barometer = 100.0 / state.charge_kpa, -100.0 / state.ambient_pressure_kpa
    return {
        "boost": Effect(boost, 0.2 * boost, "pressure behind over pressure before the compressor"),
        "air_pressure": Effect(barometer, 0.2 * -barometer, "pressure behind over pressure before the compressor"),
        "air_temperature": Effect(0.0, 0.02, "warm air flows less and loses less"),
    }


def _density_ratio(state: AirState) -> Effects:
    """Per cent: charge pressure over ambient, ambient temperature over that of the charge."""
    boost, barometer = 100.0 / state.charge_kpa, -100.0 / state.ambient_pressure_kpa
    per_kelvin = 100.0 / CHARGE_KELVIN
    return {
        "boost": Effect(boost, 0.2 * boost, "density goes with pressure"),
        "air_pressure": Effect(barometer, 0.2 * -barometer, "density goes with pressure"),
        "air_temperature": Effect(100.0 / INLET_KELVIN - 0.95 * per_kelvin, 0.1, "both temperatures rise with the air"),
        "charge_temperature_start": Effect(-0.5 * per_kelvin, 0.2 * per_kelvin, "half of a warm start is left"),
    }


def _filling(state: AirState) -> Effects:
    """Volumetric efficiency: a warm charge takes up less heat in the ports, exhaust back pressure moves it."""
    del state
    return {
        "air_temperature": Effect(0.0007, 0.0007, "the fourth root of the charge temperature [Heywood 6.2]"),
        "charge_temperature_start": Effect(0.0003, 0.0005, "as air temperature, less"),
        "air_pressure": Effect(0.0, 0.002, PRACTICE),
        "boost": Effect(0.0005, 0.0008, "more pressure across the cylinder; " + PRACTICE),
        "humidity": Effect(0.0, 0.003, PRACTICE),
    }


def _none(**doubts: float) -> Callable[[AirState], Effects]:
    """Effects of no safe sign, with their doubts in the quantity's unit."""
    found = {name: Effect(0.0, doubt, PRACTICE) for name, doubt in doubts.items()}

    def effects_of(state: AirState) -> Effects:
        del state
        return dict(found)

    return effects_of


_EFFICIENCY = _none(air_temperature=0.0005, air_pressure=0.001, boost=0.0005)
_EFFECTIVENESS = _none(air_temperature=0.001, charge_temperature_start=0.002, boost=0.0005)
_CHARGE_LOSS = _none(air_temperature=0.02, air_pressure=0.02, charge_temperature_start=0.01, boost=0.03)
_INLET_LOSS = _none(air_temperature=0.01, air_pressure=0.05, boost=0.015)

USUAL: Mapping[str, Usual] = MappingProxyType(
    {
        "air_mass_flow": Usual(True, 0.5, 1.1, _air_flow),
        "pressure_ratio": Usual(True, 0.3, 0.5, _pressure_ratio),
        "corrected_flow": Usual(True, 0.5, 1.2, _corrected_flow),
        "isentropic_efficiency": Usual(False, 0.006, 0.010, _EFFICIENCY),
        "cooler_effectiveness": Usual(False, 0.012, 0.020, _EFFECTIVENESS),
        "cooler_loss": Usual(False, 0.25, 0.40, _CHARGE_LOSS),
        "inlet_loss": Usual(False, 0.15, 0.50, _INLET_LOSS),
        "density_ratio": Usual(True, 0.4, 0.7, _density_ratio),
        "volumetric_efficiency": Usual(False, 0.010, 0.015, _filling),
        "injector_duty": Usual(True, 0.9, 1.5, _air_flow),
    }
)
"""Quantities that are compared, in the order in which a report shows them. A barometer in steps of 1 kPa is 0.3 kPa
off on a day, and a written one up to 1 kPa: that is in the days' scatter of what rests on it."""
