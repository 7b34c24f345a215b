"""How often the intervals of a season hold the truth: the demo's summer driven again and again in other weather.

python benchmarks/season_trial.py 30        thirty seasons, one in three of them with changes that do nothing

The figures of docs/history.md come from this: every season has its own weather, days, gusts and noise, goes through
logs and the reader, and is held against the simulation's true effects.
"""

import sys
import tempfile
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np

from pullproof.analysis.history import History, season_history
from pullproof.analysis.history.season_sheet import load_season
from pullproof.demo import season
from pullproof.demo.season_story import OUTINGS, SeasonOuting
from pullproof.demo.weather import Weather

FIRST_SEED = 500


def drawn_weather(rng: np.random.Generator) -> tuple[SeasonOuting, ...]:
    """The story's outings in other air; the afternoon of a day is warmer and drier than its morning."""
    days: dict[str, tuple[float, float, float]] = {}
    outings = []
    for outing in OUTINGS:
        if outing.day not in days:
            days[outing.day] = (
                float(np.clip(rng.normal(21.0, 5.5), 5.0, 32.0)),
                float(np.clip(rng.normal(99.7, 0.7), 97.8, 101.5)),
                float(rng.uniform(38.0, 80.0)),
            )
            temperature, pressure, humidity = days[outing.day]
        else:
            temperature, pressure, humidity = days[outing.day]
            temperature = min(temperature + rng.uniform(1.0, 5.0), 33.0)
            pressure -= rng.uniform(-0.1, 0.2)
            humidity = max(humidity - rng.uniform(5.0, 15.0), 30.0)
        air = Weather(temperature, pressure, humidity, float(abs(rng.normal(0.8, 0.4))))
        outings.append(replace(outing, weather=air))
    return tuple(outings)


def driven(seed: int, *, nothing_done: bool) -> History:
    """One season from the simulation to its history."""
    fitted_for = season.fitted_for
    season.OUTINGS = drawn_weather(np.random.default_rng([99, seed]))
    try:
        if nothing_done:
            season.fitted_for = lambda outing: frozenset()  # noqa: ARG005
        with tempfile.TemporaryDirectory() as folder:
            return season_history(load_season(season.make_season(Path(folder), seed).season))
    finally:
        season.OUTINGS, season.fitted_for = OUTINGS, fitted_for


def main(count: int) -> None:
    truth = season.season_truth()
    held: dict[tuple[bool, str], list[tuple[bool, bool]]] = defaultdict(list)
    claimed: dict[str, list[bool]] = defaultdict(list)
    flagged = 0
    for seed in range(FIRST_SEED, FIRST_SEED + count):
        nothing_done = seed % 3 == 2
        history = driven(seed, nothing_done=nothing_done)
        flagged += any(one.step is not None and one.step.flagged for one in history.measures)
        for measure in history.measures:
            for effect in measure.effects:
                parts = list(zip(effect.changes, effect.weights, strict=True))
                equal, whole = (
                    0.0 if nothing_done else sum(weight * known[name].get(measure.id, np.nan) for name, weight in parts)
                    for known in (truth.equal_boost, truth.whole)
                )
                if nothing_done:
                    claimed[measure.id].append(effect.effect.excludes_zero)
                if np.isfinite(whole):
                    pairs = ((effect.effect, equal), (effect.as_felt, whole))
                    inside = tuple(one.interval[0] <= true <= one.interval[1] for one, true in pairs)
                    held[nothing_done, measure.id].append((inside[0], inside[1]))
    print(f"{count} seasons; a step was named in {flagged}")
    for (nothing_done, measure), pairs in held.items():
        equal, whole = 100.0 * np.mean(pairs, axis=0)
        if not nothing_done:
            print(f"{measure:30s} held {equal:5.1f} % at equal boost, {whole:5.1f} % with boost, of {len(pairs)}")
    for measure, claims in claimed.items():
        print(f"{measure:30s} claimed {100.0 * np.mean(claims):4.1f} % of {len(claims)} where nothing was done")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 30)
