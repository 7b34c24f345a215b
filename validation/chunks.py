"""One chunk of work: some cars, all their comparisons simulated in one batch, logged, asked, set beside the truth."""

import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from pullproof.reading.log import Log
from validation.answers import Asked, Asker, ask, scaled_scatter_priors
from validation.batches import join, length, take
from validation.calibration import calibrated
from validation.cars import Car
from validation.changes import Change, apply
from validation.designs import Order, Trial, draw_trial
from validation.drives import joined
from validation.files import draw_style, write
from validation.garage import draw_cars
from validation.handover import car_sheet, conditions_sheet, log_object
from validation.loggers import Logger, draw_logger, record
from validation.oracle import Scatter, oracle_half_width, repeats, scatter_of
from validation.plan import orders_of
from validation.runs import Run
from validation.scatter import Liability, draw_liability
from validation.simulate import Recording, simulate
from validation.truth import MEAN_ROWS, CleanPulls, Truth, clean_pulls, mean_run, true_differences

__all__ = ["Subject", "TrialRun", "run_chunk", "simulate_trials"]

Row = dict[str, Any]
AIMED_AT = "wastegate_duty.peak"
PILOTS = (-0.4, 0.6)
"""Changes of the path's loss whose effect on peak duty is measured first, to aim at an effect size."""


@dataclass(frozen=True, slots=True)
class Subject:
    """A car under trial: calibrated, with its logger, its liability to scatter and the oracle's knowledge of it."""

    seed: int
    car: Car
    limited: Car
    """The same car with a boost target near its limit."""
    liability: Liability
    logger: Logger
    other_logger: Logger


@dataclass(frozen=True, slots=True)
class TrialRun:
    """A trial, where its pulls stand in the batch's recording, and its clean pulls."""

    subject: Subject
    trial: Trial
    number: int
    rows: range
    clean: CleanPulls


def subjects_of(seeds: list[int]) -> list[Subject]:
    """The cars of a chunk, calibrated in one batch."""
    cars = draw_cars(seeds)
    control = replace(cars.control, target=cars.control.target * 1.17, ratio_limit=cars.control.ratio_limit * 1.17)
    errors = np.array([np.random.default_rng([seed, 12]).normal(0.0, (0.02, 0.01)) for seed in seeds])
    both = calibrated(join([cars, replace(cars, control=control)]), np.concatenate([errors, errors]))
    found = []
    for row, seed in enumerate(seeds):
        rng = np.random.default_rng([seed, 13])
        diesel = bool(cars.engine.diesel[row] > 0)
        found.append(
            Subject(
                seed,
                take(both, slice(row, row + 1)),
                take(both, slice(row + len(seeds), row + len(seeds) + 1)),
                draw_liability(rng),
                draw_logger(rng, diesel),
                draw_logger(rng, diesel),
            )
        )
    return found


def run_chunk(seeds: list[int], asker: Asker, orders: "list[Order] | None" = None) -> list[Row]:
    """Every comparison of some cars, as rows: one a measure, and one for each comparison that was refused."""
    subjects = subjects_of(seeds)
    scatters, sizes = _know(subjects)
    wanted = [orders if orders is not None else orders_of(subject.seed) for subject in subjects]
    trials, recording, run = simulate_trials(subjects, wanted, sizes)
    rows: list[Row] = []
    for found in trials:
        rows += _judge(found, recording, run, asker, scatters[found.subject.seed])
    return rows


def _know(subjects: list[Subject]) -> tuple[dict[int, dict[str, Scatter]], dict[int, tuple[float, float]]]:
    """The oracle's scatter of every car, and what its peak duty does under the two pilot changes."""
    parts, places, start = [], {}, 0
    for subject in subjects:
        rng = np.random.default_rng([subject.seed, 14])
        repeat = repeats(rng, subject.car, subject.liability)
        single = take(repeat, slice(0, 1))
        pilots = [mean_run(single, subject.car, apply(subject.car, [Change("restriction", size)])) for size in PILOTS]
        parts += [repeat, *pilots]
        places[subject.seed] = start
        start += length(repeat.driver) + MEAN_ROWS * len(PILOTS)
    run = join(parts)
    recording = simulate(run)
    scatters, sizes = {}, {}
    for subject in subjects:
        rng = np.random.default_rng([subject.seed, 15])
        place = places[subject.seed]
        count = length(parts[0].driver)
        scatters[subject.seed] = scatter_of(recording, range(place, place + count), run, subject.logger, rng)
        redline = subject.car.engine.redline[0]
        effects = []
        for pilot in range(len(PILOTS)):
            clean = clean_pulls(recording, place + count + MEAN_ROWS * pilot, run, {"charge_pressure"})
            effects.append(true_differences(clean, (0.6 * redline, 0.95 * redline))[AIMED_AT].of(AIMED_AT))
        sizes[subject.seed] = (effects[0], effects[1])
    return scatters, sizes


def _aimed(order: Order, effects: tuple[float, float]) -> Order:
    """The order with a change of the path that should move peak duty by `order.size` points; plain where it cannot."""
    if order.kind != "restriction" or order.size is None:
        return order
    scenario_scale = order.size
    for size, effect in zip(PILOTS, effects, strict=True):
        if effect * scenario_scale > 0.02:
            wanted = size * scenario_scale / effect
            return replace(order, size=float(np.clip(wanted, -0.85, 3.0)))
    return replace(order, size=float(np.sign(scenario_scale) * 0.5))


def simulate_trials(
    subjects: list[Subject], wanted: list[list[Order]], sizes: dict[int, tuple[float, float]]
) -> tuple[list[TrialRun], Recording, Run]:
    """Draw and simulate all trials of a chunk in one batch."""
    drawn: list[tuple[Subject, Trial, int]] = []
    for subject, orders in zip(subjects, wanted, strict=True):
        for number, order in enumerate(orders):
            rng = np.random.default_rng([subject.seed, 20, number])
            car = subject.limited if order.scenario == "near the limit" else subject.car
            effects = sizes.get(subject.seed, (np.nan, np.nan))
            drawn.append((subject, draw_trial(rng, _aimed(order, effects), car, subject.liability), number))
    parts = [part for _, trial, _ in drawn for part in (trial.run, mean_run(trial.run, trial.before, trial.after))]
    run = join(parts)
    recording = simulate(run)
    found, start = [], 0
    for subject, trial, number in drawn:
        count = len(trial.is_after)
        clean = clean_pulls(recording, start + count, run, set(subject.logger.channels))
        found.append(TrialRun(subject, trial, number, range(start, start + count), clean))
        start += count + MEAN_ROWS
    return found, recording, run


def _judge(found: TrialRun, recording: Recording, run: Run, asker: Asker, scatters: dict[str, Scatter]) -> list[Row]:
    """Log a trial's pulls, ask, and set the answers beside the truth."""
    subject, trial = found.subject, found.trial
    sheet = car_sheet(subject.car, 0, np.random.default_rng([subject.seed, 17]))
    conditions = conditions_sheet(list(trial.recorded))
    factor = {"scatter prior halved": 0.5, "scatter prior doubled": 2.0}.get(trial.order.scenario, 1.0)
    with tempfile.TemporaryDirectory() as folder, scaled_scatter_priors(factor):
        if trial.order.scenario == "through files":
            logs = _files(found, recording, run, Path(folder))
        else:
            logs = _objects(found, recording, run)
        before = [log for log, after in zip(logs, trial.is_after, strict=True) if not after]
        after = [log for log, after in zip(logs, trial.is_after, strict=True) if after]
        asked = ask(asker, before, after, sheet, conditions)
    return _rows(found, asked, scatters)


def _objects(found: TrialRun, recording: Recording, run: Run) -> list[Log | Path]:
    """The pulls of a trial as the car's logger gives them, handed over in memory."""
    subject, trial = found.subject, found.trial
    rng = np.random.default_rng([subject.seed, 16, found.number])
    logs: list[Log | Path] = []
    for place, row in enumerate(found.rows):
        swapped = trial.order.scenario == "another logger" and trial.is_after[place]
        sampled = record(recording, row, run, subject.other_logger if swapped else subject.logger, rng)
        logs.append(log_object(sampled, trial.recorded[place].file))
    return logs


def _files(found: TrialRun, recording: Recording, run: Run, folder: Path) -> list[Log | Path]:
    """The same as real files in one random style, each beginning with an idling engine as drives do."""
    subject, trial = found.subject, found.trial
    rng = np.random.default_rng([subject.seed, 18, found.number])
    style = replace(draw_style(rng), closed_duty=100.0)
    paths: list[Log | Path] = []
    for place, row in enumerate(found.rows):
        drive = joined(rng, recording, range(row, row + 1), run, ("good",))
        sampled = record(drive.recording, 0, drive.run, subject.logger, rng)
        data, _ = write(sampled, style, 1e-3 * float(run.air.pressure[row]), rng)
        path = folder / trial.recorded[place].file
        path.write_bytes(data)
        paths.append(path)
    return paths


def _rows(found: TrialRun, asked: Asked, scatters: dict[str, Scatter]) -> list[Row]:
    trial, subject = found.trial, found.subject
    shared: Row = {
        "car": subject.seed,
        "trial": found.number,
        "design": trial.order.design,
        "weather": trial.order.weather,
        "scenario": trial.order.scenario,
        "kind": trial.order.kind,
        "size": trial.change.size,
        "gap": trial.weather_gap,
        "rate": subject.logger.rate / subject.logger.refresh,
        "layout": subject.logger.layout,
        "diesel": bool(subject.car.engine.diesel[0] > 0),
        "pulls": len(trial.is_after),
        "pulls_used": asked.pulls_used,
        "warned": " ".join(asked.warned),
        "refusal": asked.refusal or "",
    }
    if asked.refusal is not None:
        return [shared | {"measure": ""}]
    truths = true_differences(found.clean, asked.window)
    rows = []
    for answer in asked.answers:
        truth = truths.get(answer.measure, Truth(np.nan, np.nan, np.nan))
        nothing = trial.order.kind == "nothing"
        scatter = scatters.get(answer.measure, Scatter(np.nan, np.nan))
        known = trial.order.scenario == "near the limit" or not np.isfinite(scatter.run)
        row = shared | {
            "measure": answer.measure,
            "main": answer.is_main,
            "level_before": truth.before,
            "truth": 0.0 if nothing else truth.of(answer.measure),
            "truth_whole": 0.0 if nothing else truth.whole,
            "truth_equal_boost": 0.0 if nothing else truth.equal_boost,
            "difference": answer.difference,
            "raw": answer.raw_difference,
            "verdict": answer.verdict,
            "smallest": answer.smallest,
            "censored": answer.censored,
            "run_to_run": answer.run_to_run,
            "day_to_day": answer.day_to_day,
            "true_run": scatter.run,
            "true_day": scatter.day,
            "oracle": np.nan if known else oracle_half_width(trial.order.design, scatter),
            "adjusted_for": " ".join(f"{name}={share:.6g}" for name, share in answer.adjusted_for),
        }
        for level, (low, high) in answer.intervals.items():
            row[f"low{round(100 * level)}"] = low
            row[f"high{round(100 * level)}"] = high
        rows.append(row)
    if trial.order.kind == "nothing":
        rows += [
            shared | {"measure": f"band:{channel}", "verdict": "holds" if holds else "claims"}
            for channel, holds in asked.bands
        ]
    return rows
