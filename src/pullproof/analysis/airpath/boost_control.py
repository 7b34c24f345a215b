"""How this car's wastegate duty follows compressor work, learned from its own pulls.

Physics says how much less work a part costs the compressor. How many points of duty that is worth is a property of
solenoid, spring and flap. Pulls in warmer and colder air, with more and less flow, show it: the duty of each, less
what all have at the same engine speeds, is laid over the logarithms of specific work and of flow, days and runs with
their usual scatter. What the pulls do not show, the worked point of the shaft balance says, with a wide doubt.

Boost that differs between pulls shows little: where the duty makes the boost, and not the boost needs the duty, both
rise together for another reason. So weather is what teaches, and most cars stay near the worked point.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import truncnorm

from pullproof.analysis.airpath.flow_curve import ASSUMED_COMPRESSOR_EFFICIENCY, ZERO_CELSIUS, FlowCurve
from pullproof.analysis.comparison.adjustments import DUTY_PER_GATE_AREA
from pullproof.analysis.comparison.priors import load_priors
from pullproof.arrays import Array
from pullproof.physics import compressor
from pullproof.stats.mixed_model import Design, fit

__all__ = ["ControlResponse", "learn_control_response", "prior_response"]

DUTY_PER_LOG_AREA = 100.0 * DUTY_PER_GATE_AREA
"""Points of duty per unit of ln(gate area): what a comparison believes per per cent. Common practice, no source."""

AREA_PER_WORK, AREA_PER_FLOW = -1.66, 2.24
"""ln(gate area) per ln(specific work) and per ln(air flow), at the worked point of `pullproof.physics.turbine`."""

RELATIVE_DOUBT = 0.7
"""Of both slopes, before any pull: half of what the shaft balance says and half of the actuator's slope."""

PER_KELVIN, PER_KILOPASCAL = 0.06, 0.4
"""What weather may do to duty besides work and flow, standard deviations: exhaust temperature follows the charge's,
and the barometer stands behind both actuator and turbine. Common practice, no source."""

PER_BOOST = 0.5
"""What a kilopascal of boost may go with besides its work, standard deviation: where duty is what makes the boost, and
not the boost that needs the duty, pulls with more of one have more of the other. Common practice, no source."""

PINNED = 97.0
"""Duty at or above this is at the end of its range: boost gives way there, and duty no longer says what work costs."""

LEAST_COVER = 0.5
"""Share of the window that a pull has to cover to be learned from."""

MOST_PINNED = 0.2
"""Share of the window that may be pinned in a pull that is learned from."""


@dataclass(frozen=True, slots=True)
class ControlResponse:
    """Points of `wastegate_duty.mean` per unit of ln(compressor work) at equal flow, and what that rests on."""

    slope: float
    doubt: float
    """Standard deviation of the slope."""
    pulls: int
    pinned: int
    """Pulls left out because their duty was held at the end of its range."""
    basis: str


def prior_response(pinned: int = 0) -> ControlResponse:
    """What is believed without any pull."""
    mean = DUTY_PER_LOG_AREA * AREA_PER_WORK
    slope, doubt = _positive(mean, RELATIVE_DOUBT * mean)
    basis = "shaft balance at a worked point and a usual actuator (common practice, no source); no pull of this car"
    return ControlResponse(slope, doubt, 0, pinned, basis)


def learn_control_response(flow: FlowCurve, path_loss_kpa: Callable[[FlowCurve], Array]) -> ControlResponse:
    """Response of the duty to compressor work, from the pulls of a flow curve.

    Parameters
    ----------
    flow : FlowCurve
        With its pulls, see `flow_from_logs`.
    path_loss_kpa : callable
        Loss of the path that was fitted, over the engine speeds of one pull. [kPa]
    """
    rpm = flow.rpm[flow.inside]
    free, pinned = [], 0
    for pull in flow.pulls:
        duty = pull.wastegate_duty_pct[
            np.isfinite(pull.wastegate_duty_pct) & (pull.rpm >= rpm[0]) & (pull.rpm <= rpm[-1])
        ]
        if duty.size and np.mean(duty >= PINNED) > MOST_PINNED:
            pinned += 1
        elif duty.size:
            free.append(pull)
    table, days = _departures(free, rpm, path_loss_kpa)
    return prior_response(pinned) if len(table) < 2 else _fitted(table, days, pinned)


def _departures(
    pulls: Sequence[FlowCurve], rpm: Array, path_loss_kpa: Callable[[FlowCurve], Array]
) -> tuple[Array, list[str]]:
    """Duty, ln(work), ln(flow) and charge pressure of each pull less the mean at the same speeds, and its weather.

    So a pull that covers only part of the window is held against the others over that part.
    """
    if not pulls:
        return np.empty((0, 6)), []
    curves = np.array(
        [
            [
                np.interp(rpm, pull.rpm, values, left=np.nan, right=np.nan)
                for values in (
                    pull.wastegate_duty_pct,
                    _log_work(pull, path_loss_kpa(pull)),
                    np.log(np.where(pull.air_mass_flow_gs > 0.0, pull.air_mass_flow_gs, np.nan)),
                    pull.charge_pressure_kpa,
                )
            ]
            for pull in pulls
        ]
    )
    known = np.isfinite(curves).all(axis=1, keepdims=True)
    held = np.where(known, curves, 0.0)
    mean = held.sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    count = known.sum(axis=2)
    away = np.where(known, curves - mean, 0.0).sum(axis=2) / np.maximum(count, 1)
    enough = count[:, 0] >= LEAST_COVER * rpm.size
    weather = np.array([[pull.inlet_temperature_c, pull.ambient_pressure_kpa] for pull in pulls])
    return np.hstack([away, weather])[enough], [pull.day for pull, kept in zip(pulls, enough, strict=True) if kept]


def _log_work(pull: FlowCurve, loss_kpa: Array) -> Array:
    ratio = (pull.charge_pressure_kpa + loss_kpa) / pull.ambient_pressure_kpa
    inlet = pull.inlet_temperature_c + ZERO_CELSIUS
    work = compressor.specific_work(inlet, np.maximum(ratio, 1e-3), ASSUMED_COMPRESSOR_EFFICIENCY)
    return np.log(np.where(work > 0.0, work, np.nan))


def _fitted(table: Array, days: list[str], pinned: int) -> ControlResponse:
    duty, covariates = table[:, 0], table[:, 1:]
    names = sorted(set(days))
    # What hardly differs between pulls says nothing; left as rounding error it would upset the fit.
    centred = covariates - covariates.mean(axis=0)
    centred = np.where(np.ptp(covariates, axis=0) > 1e-6, centred, 0.0)
    slopes = DUTY_PER_LOG_AREA * np.array([AREA_PER_WORK, AREA_PER_FLOW])
    design = Design(
        columns=np.column_stack([np.ones_like(duty), centred]),
        group=np.array([names.index(day) for day in days], dtype=np.intp),
        prior_mean=np.array([0.0, *slopes, 0.0, 0.0, 0.0]),
        prior_deviation=np.array([np.inf, *np.abs(RELATIVE_DOUBT * slopes), PER_BOOST, PER_KELVIN, PER_KILOPASCAL]),
    )
    scatter = load_priors().measures["wastegate_duty.mean"]
    answer = fit(duty, design, scatter.day, scatter.run).contrast(np.array([0.0, 1.0, 0.0, 0.0, 0.0, 0.0]))
    slope, doubt = _positive(float(answer.mean()[0]), float(answer.deviation()[0]))
    basis = f"duty against compressor work in {len(duty)} pulls of {len(names)} {'day' if len(names) == 1 else 'days'}"
    return ControlResponse(slope, doubt, len(duty), pinned, basis)


def _positive(mean: float, deviation: float) -> tuple[float, float]:
    """Mean and standard deviation of what is left of a normal distribution above zero.

    More work never opens the gate, whatever a few scattered pulls seem to say.
    """
    left = truncnorm(-mean / deviation, np.inf, loc=mean, scale=deviation)
    return float(left.mean()), float(left.std())
