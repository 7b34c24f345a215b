import datetime
from dataclasses import replace

import numpy as np
import pytest

from pullproof.analysis.history import Season, SeasonChange, SeasonDay, SeasonPull, season_history
from pullproof.analysis.history.gathering import gather_season
from pullproof.channels import Trace
from pullproof.errors import CannotAnswer, WrongUse

START = datetime.datetime.fromisoformat("2026-06-01T10:00")


@pytest.fixture(scope="module")
def season(simulation) -> Season:
    """Four days, the part fitted after the second; every pull a run of one simulated car, logged at 20 Hz."""
    run = simulation.drive(simulation.Car())
    changes = (SeasonChange("pipe", START + datetime.timedelta(days=10)),)
    days = tuple(SeasonDay(f"day {n}", START + datetime.timedelta(days=7 * n)) for n in range(4))
    pulls = []
    for number, day in enumerate(days):
        for turn in range(3):
            given = simulation.record(run, 20.0, seed=10 * number + turn)
            file = f"{day.label}-{turn}.csv"
            record = replace(
                given, day=day.label, log=replace(given.log, file=file), pull=replace(given.pull, log=file)
            )
            pulls.append(SeasonPull(record, frozenset({"pipe"} if number >= 2 else ()), day.when))
    return Season(simulation.sheet, changes, days, tuple(pulls))


def with_pull(season: Season, place: int, **changes) -> Season:
    pulls = list(season.pulls)
    record = pulls[place].record
    pulls[place] = replace(pulls[place], record=replace(record, pull=replace(record.pull, **changes)))
    return replace(season, pulls=tuple(pulls))


def test_a_pull_in_another_gear_is_set_aside(season: Season) -> None:
    """By its gear, or where the gear is not known by engine speed over road speed; the reason names the gears."""
    gathered = gather_season(with_pull(season, 1, gear=4), None)
    assert len(gathered.pulls) == 11
    assert "in gear 4" in (gathered.refused[0].reason or "")
    known = replace(
        season,
        pulls=tuple(
            replace(p, record=replace(p.record, pull=replace(p.record.pull, rpm_per_kmh=49.0))) for p in season.pulls
        ),
    )
    other = gather_season(with_pull(known, 2, gear=None, rpm_per_kmh=37.0), None)
    assert "another gear" in (other.refused[0].reason or "")
    same = gather_season(with_pull(known, 2, gear=None, rpm_per_kmh=49.3), None)
    assert same.refused == ()


def test_a_pull_that_ends_early_does_not_take_the_window_from_the_others(season: Season) -> None:
    """It is set aside with its reason, and the window stays."""
    whole = gather_season(season, None).window
    gathered = gather_season(with_pull(season, 4, rpm_end=4300.0), None)
    assert gathered.window == whole
    assert "not the whole window" in (gathered.refused[0].reason or "")


def test_a_window_that_was_asked_for_is_taken_or_refused(season: Season) -> None:
    """A sensible one is used; one that nothing covers, or that makes no sense, is named."""
    assert gather_season(season, (4500.0, 6000.0)).window == (4500.0, 6000.0)
    with pytest.raises(CannotAnswer, match="covers"):
        gather_season(season, (6000.0, 9000.0))
    for wrong in ((6000.0, 4000.0), (4000.0, 4100.0)):
        with pytest.raises(WrongUse, match="window"):
            gather_season(season, wrong)


def test_days_and_pulls_stand_in_the_order_in_which_they_were_driven(season: Season) -> None:
    """However they are given, days go by date and pulls by day and moment."""
    shuffled = replace(season, days=season.days[::-1], pulls=season.pulls[::-1])
    gathered = gather_season(shuffled, None)
    assert [day.label for day in gathered.days] == ["day 0", "day 1", "day 2", "day 3"]
    assert list(gathered.day) == sorted(gathered.day)
    assert [pull.record.log.file for pull in gathered.pulls] == [pull.record.log.file for pull in season.pulls]


def test_the_trend_is_counted_by_the_odometer_where_there_is_one(season: Season) -> None:
    """With an odometer on every day the slow trend is per 1000 km, else per 30 days, without dates there is none."""
    driven = replace(
        season, days=tuple(replace(day, odometer_km=80_000.0 + 400.0 * n) for n, day in enumerate(season.days))
    )
    undated = replace(season, days=tuple(replace(day, when=None) for day in season.days))
    found = [season_history(one, measures=["pull.time"]).measures[0].drift for one in (driven, season, undated)]
    assert [drift.per if drift else None for drift in found] == ["1000 km", "30 days", None]


def test_identical_runs_show_no_effect(season: Season) -> None:
    """A part that did nothing, on twelve runs that differ in noise alone: sameness, and a small scatter."""
    found = season_history(season, measures=["pull.time"])
    (effect,) = found.measures[0].effects
    assert effect.effect.interval[0] < 0.0 < effect.effect.interval[1]
    assert found.main == "pull.time"
    assert "pull" not in found.sentence or found.sentence.startswith("None of 1 change")


def test_one_build_cannot_be_compared_with_itself(season: Season) -> None:
    """A season without a change says what is missing."""
    alone = replace(season, pulls=tuple(replace(pull, build=frozenset()) for pull in season.pulls))
    with pytest.raises(CannotAnswer, match="one build"):
        season_history(alone)
    with pytest.raises(CannotAnswer, match="no pull"):
        season_history(replace(season, pulls=()))


def test_a_channel_logged_on_some_days_only_gives_what_those_days_can_tell(season: Season) -> None:
    """Logged before and after, the measure stands on those pulls and says so; with one build only it is left out."""

    def with_temperature(places) -> Season:
        pulls = list(season.pulls)
        for place in places:
            record = pulls[place].record
            time = record.traces["engine_speed"].time
            trace = Trace("intake_air_temperature", "degC", time, np.full(time.size, 40.0) + np.arange(time.size) % 2)
            pulls[place] = replace(
                pulls[place], record=replace(record, traces={**record.traces, "intake_air_temperature": trace})
            )
        return replace(season, pulls=tuple(pulls))

    both = season_history(with_temperature([0, 1, 2, 6, 7, 8]), measures=["intake_air_temperature.mean", "pull.time"])
    measure = both.measure("intake_air_temperature.mean")
    assert measure is not None
    assert len(measure.pulls) == 6
    assert any("6 of 12 pulls have no such reading" in doubt for doubt in measure.doubts)
    one = season_history(with_temperature([0, 1, 2]), measures=["intake_air_temperature.mean", "pull.time"])
    assert one.measure("intake_air_temperature.mean") is None
    assert "one build only" in one.left_out[0].reason


def test_wrong_questions_are_named(season: Season) -> None:
    """A level that is none, a measure that does not exist, a main measure that no pull has."""
    with pytest.raises(WrongUse, match="level"):
        season_history(season, level=1.2)
    with pytest.raises(WrongUse, match="no measure"):
        season_history(season, measures=["nonsense"])
    with pytest.raises(CannotAnswer, match=r"boost\.mean"):
        season_history(season, main="boost.mean")
