"""What channels of one log say of each other.

Each check takes samples at the same instants and says in a sentence what it found, or nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pullproof.arrays import Array
from pullproof.units import UNITS, Unit

__all__ = [
    "Agreement",
    "acceleration_unit",
    "air_flow_unit",
    "commands_itself",
    "follows_pulse_width",
    "moves_as_one",
    "speed_density",
    "stoichiometric_ratio",
    "turns_with_engine",
]


@dataclass(frozen=True, slots=True)
class Agreement:
    """How much more likely a meaning becomes (added to its confidence), and the sentence."""

    bonus: float
    evidence: str


def _both(*values: Array) -> np.ndarray:
    known = np.ones(values[0].shape, dtype=bool)
    for array in values:
        known &= np.isfinite(array)
    return known


def turns_with_engine(speed: Array, engine_speed: Array) -> Agreement | None:
    """Road speed and engine speed keep a few fixed ratios, one for each gear.

    Parameters
    ----------
    speed, engine_speed : (k,)
        Road speed [any] and engine speed [rpm].
    """
    rows = _both(speed, engine_speed) & (engine_speed > 900)
    rows &= speed > 0.15 * np.nanmax(speed, initial=0.0)
    if np.count_nonzero(rows) < 50:
        return None
    ratios = np.log(engine_speed[rows] / speed[rows])
    counts = np.histogram(ratios, bins=np.arange(ratios.min(), ratios.max() + 0.03, 0.03))[0]
    if counts.size < 8:
        return Agreement(0.12, "it keeps one ratio to engine speed")
    share = float(np.sort(counts)[::-1][:8].sum() / rows.sum())
    even = 8 / counts.size
    if share > max(0.4, 1.6 * even):
        return Agreement(0.12, f"it keeps few ratios to engine speed, as gears do ({share:.0%} of moving samples)")
    return None


def speed_density(pressure: Array, air_flow: Array, engine_speed: Array) -> Agreement | None:
    """Air flow over engine speed and manifold pressure is nearly constant: volumetric efficiency varies little.

    Parameters
    ----------
    pressure, air_flow, engine_speed : (k,)
        Each in any unit that starts at zero.
    """
    rows = _both(pressure, air_flow, engine_speed) & (engine_speed > 600) & (pressure > 0) & (air_flow > 0)
    if np.count_nonzero(rows) < 30 or np.std(pressure[rows]) < 0.1 * np.mean(pressure[rows]):
        return None
    ratio = air_flow[rows] / (pressure[rows] * engine_speed[rows])
    spread = float(np.std(ratio) / np.mean(ratio))
    without = air_flow[rows] / engine_speed[rows]
    if spread < 0.25 and spread < 0.6 * float(np.std(without) / np.mean(without)):
        return Agreement(0.15, f"air flow over engine speed follows it (to {spread:.0%})")
    return None


def air_flow_unit(air_flow: Array, engine_speed: Array, options: Sequence[Unit]) -> tuple[Unit, str] | None:
    """The only unit in which an air flow is what an engine of any size breathes in a turn.

    Parameters
    ----------
    air_flow, engine_speed : (k,)
        Air flow [unknown] and engine speed [rpm].
    options : sequence of Unit
        Mass flow units to choose from.

    Range: 0.08 to 12 g a turn, an idling half litre engine to a boosted one of eight litres.
    """
    rows = _both(air_flow, engine_speed) & (engine_speed > 600) & (air_flow > 0)
    if np.count_nonzero(rows) < 30:
        return None
    a_turn = float(np.median(air_flow[rows] / engine_speed[rows])) * 60
    fitting = [unit for unit in options if 0.08 < a_turn * unit.factor < 12]
    if len(fitting) != 1:
        return None
    unit = fitting[0]
    return unit, f"only in {unit.name} is it what an engine breathes ({a_turn * unit.factor:.2g} g a turn)"


def acceleration_unit(acceleration: Array, speed_kmh: Array, time: Array) -> tuple[Unit, str] | None:
    """Unit of an acceleration, from the road speed that it must add up to.

    Parameters
    ----------
    acceleration : (k,)
        Recorded values. [unknown]
    speed_kmh : (k,)
        Road speed. [km/h]
    time : (k,)
        Instants of both. [s]
    """
    steps = np.diff(time)
    rows = _both(acceleration[1:], speed_kmh[1:], speed_kmh[:-1]) & (steps > 0) & (steps < 5)
    if np.count_nonzero(rows) < 50:
        return None
    derived = (np.diff(speed_kmh)[rows] / 3.6) / steps[rows]
    recorded = acceleration[1:][rows]
    if np.std(derived) < 0.05 or np.std(recorded) == 0:
        return None
    agreement = float(np.corrcoef(derived, recorded)[0, 1])
    if agreement < 0.8:
        return None
    factor = float(np.dot(recorded, derived) / np.dot(recorded, recorded))
    best = min(
        (unit for unit in UNITS.values() if unit.dimension == "acceleration"),
        key=lambda unit: abs(np.log(unit.factor / factor)) if factor > 0 else np.inf,
    )
    if factor > 0 and abs(np.log(best.factor / factor)) < 0.15:
        return best, f"it adds up to the road speed when taken as {best.name} (correlation {agreement:.2f})"
    return None


def stoichiometric_ratio(air_fuel_ratio: Array, lambda_: Array) -> float | None:
    """The ratio [1] that a logger uses between its own air-fuel ratio [1] and its own lambda [1], (k,) each."""
    rows = _both(air_fuel_ratio, lambda_) & (lambda_ > 0.5) & (air_fuel_ratio > 5)
    if np.count_nonzero(rows) < 20:
        return None
    ratio = air_fuel_ratio[rows] / lambda_[rows]
    middle = float(np.median(ratio))
    steady = float(np.quantile(np.abs(ratio - middle), 0.9)) < 0.02 * middle
    # Methanol needs 6.4, natural gas 17.2 kg of air a kilogram; any other ratio is no ratio of a fuel.
    return middle if steady and 5.5 < middle < 18 else None


def follows_pulse_width(duty: Array, pulse_width: Array, engine_speed: Array) -> Agreement | None:
    """Injector duty is pulse width times engine speed, whatever the factor.

    Parameters
    ----------
    duty, pulse_width, engine_speed : (k,)
        Duty [%], pulse width [ms] and engine speed [rpm].
    """
    rows = _both(duty, pulse_width, engine_speed) & (engine_speed > 300) & (pulse_width > 0)
    if np.count_nonzero(rows) < 30:
        return None
    ratio = duty[rows] / (pulse_width[rows] * engine_speed[rows])
    middle = float(np.median(ratio))
    if middle > 0 and float(np.quantile(np.abs(ratio - middle), 0.8)) < 0.1 * middle:
        return Agreement(0.4, "it is injection time multiplied by engine speed")
    return None


def commands_itself(values: Array) -> bool:
    """A mixture (k,) [1] that is one value all through is commanded; a sensor in an exhaust never stands still."""
    known = values[np.isfinite(values)]
    return known.size > 100 and float(np.mean(known == np.median(known))) > 0.98


def moves_as_one(channels: dict[str, Array]) -> str | None:
    """Quantities that cannot move together all do: the file is a test of the logger, not a drive.

    Parameters
    ----------
    channels : dict
        Samples (k,) by channel name. [any]

    Returns
    -------
    str or None
        A sentence, or nothing.
    """
    slow = [name for name in ("coolant_temperature", "ambient_temperature", "ambient_pressure") if name in channels]
    quick = [name for name in ("engine_speed", "vehicle_speed", "manifold_pressure") if name in channels]
    for still in slow:
        for moving in quick:
            rows = _both(channels[still], channels[moving])
            a, b = channels[still][rows], channels[moving][rows]
            if a.size < 30 or np.std(a) == 0 or np.std(b) == 0:
                continue
            if abs(float(np.corrcoef(a, b)[0, 1])) > 0.97:
                return (
                    f"{still} and {moving} rise and fall together, which no engine does: the log is implausible, "
                    "perhaps a test of the logger without a car."
                )
    return None
