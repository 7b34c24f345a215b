import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from pullproof.analysis.history import History, season_history
from pullproof.analysis.history.season_sheet import load_season
from pullproof.demo import season
from pullproof.demo.car import DemoCar
from pullproof.demo.season import SeasonFiles, SeasonTruth, fitted_for, make_season, season_truth
from pullproof.demo.season_story import CHANGES, DAYS, OUTINGS, SeasonOuting, build

MEASURES = (
    "wastegate_duty.peak",
    "boost.mean",
    "boost.reaches",
    "air_mass_flow.mean",
    "wheel_power.mean",
    "pull.time",
    "intake_air_temperature.mean",
)


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> SeasonFiles:
    return make_season(tmp_path_factory.mktemp("season"))


@pytest.fixture(scope="module")
def truth() -> SeasonTruth:
    return season_truth()


@pytest.fixture(scope="module")
def history(files: SeasonFiles) -> History:
    return season_history(load_season(files.season), measures=MEASURES)


def test_the_story_is_what_was_asked_for(files: SeasonFiles) -> None:
    """Eight changes, ten test days, two changes at one moment, one temporary fix that is undone, three logger rates."""
    assert len(CHANGES) == 8
    assert len(DAYS) == 10
    assert len({change.fitted for change in CHANGES}) == 7
    assert [change.name for change in CHANGES if change.temporary and change.removed] == [CHANGES[1].name]
    assert len({outing.style.row_period for outing in OUTINGS}) == 3
    assert sum(path.stat().st_size for path in files.logs) < 6_000_000
    said = tomllib.loads(files.season.read_text("utf-8"))
    assert [change["what"] for change in said["change"]] == [change.name for change in CHANGES]


def test_the_same_seed_gives_the_same_files(files: SeasonFiles, tmp_path: Path) -> None:
    """Made twice, every log and sheet is the same byte for byte."""
    again = make_season(tmp_path)
    for path in (*files.logs, files.car_sheet, files.conditions, files.season):
        assert (again.folder / path.name).read_bytes() == path.read_bytes()


def test_intervals_hold_what_the_simulation_put_in(history: History, truth: SeasonTruth) -> None:
    """Of the true effects, with boost taken out and with it, at most 1 in 10 lies outside its 95 % interval."""
    held = []
    for measure in history.measures:
        for effect in measure.effects:
            parts = list(zip(effect.changes, effect.weights, strict=True))
            pairs = ((effect.effect, truth.equal_boost), (effect.as_felt, truth.whole))
            held += [
                estimate.interval[0] <= _sum(known, parts, measure.id) <= estimate.interval[1]
                for estimate, known in pairs
            ]
    assert len(held) == 2 * 7 * len(MEASURES)
    assert sum(held) / len(held) >= 0.9


def _sum(known: Mapping[str, Mapping[str, float]], parts: list[tuple[str, float]], measure: str) -> float:
    return sum(weight * known[name][measure] for name, weight in parts)


def test_the_season_shows_what_it_was_made_to_show(history: History) -> None:
    """The fix costs duty, two parts are known together only, the calibration acts by way of boost, weather explains."""
    duty = history.measure("wastegate_duty.peak")
    assert duty is not None
    hose = duty.effect_of(CHANGES[1].name)
    assert hose is not None
    assert hose.verdict == "higher"
    both = duty.effect_of(CHANGES[3].name, CHANGES[4].name)
    assert both is not None
    assert both.verdict == "lower"
    assert {unknown.change for unknown in duty.alone_unknown} == {CHANGES[3].name, CHANGES[4].name}
    power = history.measure("wheel_power.mean")
    assert power is not None
    calibration = power.effect_of(CHANGES[6].name)
    assert calibration is not None
    assert calibration.whole is not None
    assert calibration.whole.excludes_zero
    assert not calibration.effect.excludes_zero
    warm = history.measure("intake_air_temperature.mean")
    assert warm is not None
    assert warm.weather_days == ("5 September", "18 July")
    assert not any(measure.step is not None and measure.step.flagged for measure in history.measures)
    assert any("lifted" in (pull.reason or "") for pull in history.refused)


def test_a_leak_that_nobody_wrote_down_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A clamp that lets go in the week before 20 June: duty steps up there, found as a step and in no change."""
    leaky = {day.label for day in DAYS[2:]}

    def with_leak(outing: SeasonOuting) -> frozenset[str]:
        return fitted_for(outing) | ({"leak"} if outing.day in leaky else frozenset())

    def built(car: DemoCar, names: frozenset[str]) -> DemoCar:
        car = build(car, names - {"leak"})
        hole = 18e-6 if "leak" in names else 0.0
        return replace(car, charge_path=replace(car.charge_path, leak=car.charge_path.leak + hole))

    monkeypatch.setattr(season, "fitted_for", with_leak)
    monkeypatch.setattr(season, "build", built)
    found = season_history(load_season(make_season(tmp_path).season), measures=["wastegate_duty.mean", "boost.reaches"])
    for measure in found.measures:
        step = measure.step
        assert step is not None
        assert step.flagged
        assert (step.after, step.before) == ("13 June", "20 June")
        assert step.size.interval[0] > 0.0
        intake = measure.effect_of(CHANGES[0].name)
        assert intake is not None
        assert intake.verdict != "higher"
    assert any("leak" in advice for advice in found.next_steps)


def test_a_new_order_of_the_logs_changes_nothing(files: SeasonFiles, history: History) -> None:
    """What is found does not hang on the order in which days and pulls are given."""
    given = load_season(files.season)
    shuffled = replace(given, changes=given.changes[::-1], days=given.days[::-1], pulls=given.pulls[::-1])
    again = season_history(shuffled, measures=["wastegate_duty.peak"])
    first, second = history.measure("wastegate_duty.peak"), again.measures[0]
    assert first is not None
    for effect in first.effects:
        other = second.effect_of(*effect.changes)
        assert other is not None
        assert other.effect.value == pytest.approx(effect.effect.value, abs=1e-6)


def test_the_page_tells_the_true_effects(truth: SeasonTruth) -> None:
    """The table of docs/demo.md holds what the simulation says, to its last digit."""
    page = (Path(__file__).parents[2] / "docs" / "demo.md").read_text(encoding="utf-8")
    for change in CHANGES:
        (row,) = [line for line in page.splitlines() if line.startswith(f"| {change.name} |")]
        printed = float(row.split("|")[3].split()[0])
        assert printed == pytest.approx(truth.whole[change.name]["wastegate_duty.peak"], abs=0.05)
