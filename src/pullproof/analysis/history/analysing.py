"""From a season to its history: every measure, every change."""

from collections.abc import Mapping, Sequence

from pullproof.analysis.cautions import CAUTIONS
from pullproof.analysis.comparison.priors import load_priors
from pullproof.analysis.comparison.readings import Readings
from pullproof.analysis.comparison.result import LeftOut
from pullproof.analysis.comparison.verdict import PREFERRED, known_measure
from pullproof.analysis.history.ageing import drift_of, look_for_step
from pullproof.analysis.history.effects import BoostEffects, change_effects, joint_weights
from pullproof.analysis.history.gathering import SeasonPulls, gather_season
from pullproof.analysis.history.model import design_of, fit_season
from pullproof.analysis.history.points import day_points, pull_points, weather_swing
from pullproof.analysis.history.ranking import BETTER, rank
from pullproof.analysis.history.readings import read_season
from pullproof.analysis.history.result import History, MeasureHistory
from pullproof.analysis.history.scatter import scatter_of
from pullproof.analysis.history.season import Season
from pullproof.analysis.history.together import alone_unknown
from pullproof.analysis.history.wording import looks, next_steps, sentence
from pullproof.errors import CannotAnswer, WrongUse
from pullproof.measures import MEASURES, Window

__all__ = ["measure_history", "season_history"]

CARRIES = "boost.mean"
"""The measure by way of which a change may move the others."""


def season_history(
    season: Season,
    *,
    measures: Sequence[str] | None = None,
    window: Window | None = None,
    level: float = 0.95,
    main: str | None = None,
) -> History:
    """Effect of every change of a season on every measure, with what cannot be told.

    Parameters
    ----------
    season : Season
        Changes, test days, and pulls that are ready to be read.
    measures : sequence of str, optional
        Those to look at; all without it.
    window : (float, float), optional
        Engine speeds between which pulls are read. [rpm]
    level : float
        Probability that an interval holds the truth. [1]
    main : str, optional
        The measure that the sentence speaks of, named before looking.

    Raises
    ------
    CannotAnswer
        The season has no pulls that can be put beside each other, or only one build, or no measure can be read.
    WrongUse
        The window or level makes no sense, or a measure does not exist.
    """
    if not 0.5 <= level < 1.0:
        raise WrongUse(f"level is {level:g}", advice="Give a probability from 0.5 to below 1, such as 0.95.")
    for name in (*(measures or ()), *([main] if main else [])):
        known_measure(name)
    pulls = gather_season(season, window)
    if len({pull.build for pull in pulls.pulls}) < 2:
        raise CannotAnswer(
            f"all {len(pulls.pulls)} pulls that count were made with one build",
            where=season.car.name,
            advice="Record pulls before and after a change, and say when it was fitted.",
        )
    wanted = list(dict.fromkeys([*(measures or MEASURES), *([main] if main else [])]))
    readings = {name: read_season(name, pulls) for name in dict.fromkeys([CARRIES, *wanted])}
    boost = _boost(readings[CARRIES], pulls, level)
    found = [
        measure_history(reading, pulls, level, boost)
        for name in wanted
        if isinstance(reading := readings[name], Readings)
    ]
    left_out = tuple(reading for name in wanted if isinstance(reading := readings[name], LeftOut))
    speaks = _main({one.id: one for one in found}, main, left_out)
    return History(
        car=season.car.name,
        level=level,
        window_rpm=pulls.window,
        main=speaks.id,
        sentence=sentence(speaks, level, len(pulls.changes)),
        changes=pulls.changes,
        days=pulls.days,
        measures=tuple(found),
        refused=pulls.refused,
        left_out=left_out,
        next_steps=next_steps(found, speaks),
        doubts=(*pulls.doubts, *_doubts(pulls), looks(sum(len(one.effects) for one in found), level)),
        cautions=CAUTIONS,
    )


def measure_history(readings: Readings, pulls: SeasonPulls, level: float, boost: BoostEffects | None) -> MeasureHistory:
    """All that the season says of one measure."""
    step, fitted = look_for_step(fit_season(readings, design_of(readings, pulls), level), pulls)
    effects = change_effects(fitted, pulls, boost)
    run, day = scatter_of(fitted)
    swing, swing_days = weather_swing(fitted, pulls)
    prior, better = load_priors().measures[readings.measure], BETTER.get(readings.measure)
    points = pull_points(fitted, pulls)
    outlying = [
        f"the pull of {point.log} at {point.start_s:.1f} s on {point.day} stands out from the others with "
        f"{point.as_driven:.4g}: look at it, and leave it in unless the log shows a reason"
        for point in points
        if point.stands_out
    ]
    return MeasureHistory(
        id=readings.measure,
        unit=MEASURES[readings.measure].unit,
        smallest_worth_having=prior.in_unit(prior.smallest, readings.typical),
        better=better,
        effects=effects,
        alone_unknown=alone_unknown(fitted, pulls, joint_weights(fitted)),
        run_to_run=run,
        day_to_day=day,
        weather_swing=swing,
        weather_days=swing_days,
        drift=drift_of(fitted),
        step=step,
        ranking=rank(effects, pulls.changes, better),
        pulls=points,
        days=day_points(fitted, pulls),
        doubts=(*readings.doubts, *outlying),
    )


def _boost(readings: Readings | LeftOut, pulls: SeasonPulls, level: float) -> BoostEffects | None:
    if isinstance(readings, LeftOut):
        return None
    _, fitted = look_for_step(fit_season(readings, design_of(readings, pulls), level), pulls)
    return BoostEffects(fitted)


def _main(found: Mapping[str, MeasureHistory], named: str | None, left_out: Sequence[LeftOut]) -> MeasureHistory:
    """The measure that the sentence speaks of: the one named, else the first that is usual and free to move."""
    if named is not None:
        if named in found:
            return found[named]
        reason = next((left.reason for left in left_out if left.measure == named), "no pull has it")
        raise CannotAnswer(
            f"the main measure {named} cannot be read: {reason}",
            advice="Log what it needs, or name another measure with --main.",
        )
    free = [name for name in PREFERRED if name in found and not any(pull.censored for pull in found[name].pulls)]
    for name in (*free, *PREFERRED, *found):
        if name in found:
            return found[name]
    reasons = "; ".join(f"{left.measure}: {left.reason}" for left in left_out if left.measure in PREFERRED)
    raise CannotAnswer(
        f"no measure can be read from these pulls ({reasons})",
        advice="Log engine speed with boost, wastegate duty or road speed.",
    )


def _doubts(pulls: SeasonPulls) -> list[str]:
    """What holds for the season as a whole."""
    doubts = []
    covariates, priors = pulls.covariates, load_priors().covariates
    lacking: dict[str, list[str]] = {}
    for name, where in covariates.missing.items():
        if priors[name].day > 0.0:
            lacking.setdefault(where, []).append(priors[name].label)
    doubts += [
        f"not known of {where}: {', '.join(labels)}; so not taken out of any effect, and the intervals are wider for it"
        for where, labels in lacking.items()
    ]
    if covariates.at_the_stop:
        doubts.append(
            f"the wastegate sat at its stop in {covariates.at_the_stop} of {len(pulls.pulls)} pulls, so boost is a "
            "result of the changes there, not a circumstance, and is not taken out of any effect"
        )
    undated = [change.name for change in pulls.changes if change.fitted is None]
    if undated:
        doubts.append(f"nobody wrote down when it was fitted, so it counts as always there: {', '.join(undated)}")
    if pulls.elapsed is None:
        doubts.append("not every test day has a date, so no slow trend can be told by time")
    doubts += dict.fromkeys(text for pull in pulls.pulls for text in pull.record.pull.assumptions)
    return doubts
