"""From two sets of logs, or of pulls, to a comparison."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from pullproof.analysis.cautions import CAUTIONS
from pullproof.analysis.comparison.design import PullSet, gather
from pullproof.analysis.comparison.differences import curve_difference, measure_difference
from pullproof.analysis.comparison.each_once import each_once
from pullproof.analysis.comparison.evidence import gather_evidence
from pullproof.analysis.comparison.fairness import check_fairness
from pullproof.analysis.comparison.next_steps import next_steps
from pullproof.analysis.comparison.outings import part_outings
from pullproof.analysis.comparison.priors import load_priors
from pullproof.analysis.comparison.result import Comparison, LeftOut, MeasureDifference
from pullproof.analysis.comparison.verdict import choose_main, hold_back, known_measure, sentence
from pullproof.analysis.comparison.window import choose_window
from pullproof.analysis.comparison.wording import counted
from pullproof.car import Car
from pullproof.computed_channels import PullRecord, record_pull
from pullproof.conditions import Change, ConditionsSheet
from pullproof.errors import CannotAnswer, WrongUse
from pullproof.measures import MEASURES
from pullproof.pulls import Pull, find_pulls
from pullproof.reading import read_log
from pullproof.reading.log import Log

__all__ = ["compare", "compare_records"]

UNTIMED: Mapping[str, datetime.datetime] = {}


@dataclass(frozen=True, slots=True)
class _Side:
    """One side as it came out of its logs."""

    files: tuple[str, ...]
    records: tuple[PullRecord, ...]
    refused: tuple[Pull, ...]


def compare(
    before: Sequence[Log | str | Path],
    after: Sequence[Log | str | Path],
    *,
    car: Car,
    conditions: ConditionsSheet | None = None,
    window: tuple[float, float] | None = None,
    level: float = 0.95,
    main: str | None = None,
) -> Comparison:
    """Compare the pulls of two sets of logs.

    Parameters
    ----------
    before, after : sequence of Log or path
        What was recorded before and after the change.
    car : Car
    conditions : ConditionsSheet, optional
        Day, weather and direction of each log, and what was changed.
    window : (float, float), optional
        Engine speeds between which pulls are compared. [rpm] Without it from 60 % of the redline to the lowest end
        of all pulls.
    level : float
        Probability that the intervals hold the true difference. [1]
    main : str, optional
        The measure that the verdict speaks of, named before looking.

    Raises
    ------
    CannotAnswer
        No pull can be used on one side, or no measure can be read on both.
    WrongUse
        A log stands twice, two logs have one name, the window or level makes no sense, or the main measure does not
        exist.
    CannotRead
        A file is not there or not a log.
    """
    sheet = conditions or ConditionsSheet()
    logs = [[_log(given, car) for given in side] for side in (before, after)]
    each_once(logs[0], logs[1])
    sides = [_side(side, car, sheet) for side in logs]
    for side, name in zip(sides, ("before", "after"), strict=True):
        _has_pulls(side, name)
    records = part_outings((*sides[0].records, *sides[1].records), sheet)
    found = compare_records(
        records[: len(sides[0].records)],
        records[len(sides[0].records) :],
        car=car,
        changes=sheet.changes,
        refused_before=sides[0].refused,
        refused_after=sides[1].refused,
        window=window,
        level=level,
        main=main,
        moments={file: entry.when for file, entry in sheet.logs.items() if entry.when is not None},
    )
    return replace(found, doubts=(*sheet.doubts_of((*sides[0].files, *sides[1].files)), *found.doubts))


def compare_records(
    before: Sequence[PullRecord],
    after: Sequence[PullRecord],
    *,
    car: Car,
    changes: Sequence[Change] = (),
    refused_before: Sequence[Pull] = (),
    refused_after: Sequence[Pull] = (),
    window: tuple[float, float] | None = None,
    level: float = 0.95,
    main: str | None = None,
    moments: Mapping[str, datetime.datetime] = UNTIMED,
) -> Comparison:
    """Compare two sets of pulls that are ready to be read.

    Takes what `compare` takes, and the pulls that were refused with `moments`, when each log was started, by file.

    Raises
    ------
    CannotAnswer
        A side has no pull, the pulls share no window, or no measure can be read on both sides.
    WrongUse
        The window or level makes no sense, or the main measure does not exist.
    """
    if not 0.5 <= level < 1.0:
        raise WrongUse(f"level is {level:g}", advice="Give a probability from 0.5 to below 1, such as 0.95.")
    if main is not None:
        known_measure(main)
    chosen = choose_window(before, after, car, window)
    pulls = gather(chosen.before, chosen.after, car, chosen.window, moments)
    differences, left_out = _measures(pulls, level)
    speaks, handed_over = choose_main(main, differences, left_out)
    refused = (*refused_before, *chosen.refused_before), (*refused_after, *chosen.refused_after)
    evidence = gather_evidence(
        pulls, car, differences, speaks, refused=refused, changes=tuple(changes), moments=moments
    )
    checks = check_fairness(evidence)
    final = {name: hold_back(difference, checks) for name, difference in differences.items()}
    curves = (curve_difference(channel, pulls, level) for channel in load_priors().curves)
    return Comparison(
        window_rpm=chosen.window,
        level=level,
        main=speaks,
        sentence=sentence(final[speaks], handed_over, checks, len(set(pulls.day))),
        before=_in_order((*(record.pull for record in chosen.before), *refused[0])),
        after=_in_order((*(record.pull for record in chosen.after), *refused[1])),
        measures=tuple(final.values()),
        curves=tuple(curve for curve in curves if curve is not None),
        checks=checks,
        left_out=tuple(left_out),
        cautions=CAUTIONS,
        next_steps=next_steps(evidence, final[speaks], checks),
        doubts=(*chosen.doubts, *_doubts(pulls, final)),
    )


def _log(given: Log | str | Path, car: Car) -> Log:
    return given if isinstance(given, Log) else read_log(Path(given), car)


def _side(logs: Sequence[Log], car: Car, sheet: ConditionsSheet) -> _Side:
    files, records, refused = [], [], []
    for log in logs:
        files.append(log.file)
        for pull in find_pulls(log, car):
            if pull.used:
                records.append(record_pull(log, pull, car, sheet.of(Path(log.file).name)))
            else:
                refused.append(pull)
    return _Side(tuple(files), tuple(records), tuple(refused))


def _has_pulls(side: _Side, name: str) -> None:
    if side.records:
        return
    if not side.files:
        raise WrongUse(f"no log given {name} the change", advice="Name at least one log on each side.")
    reasons = "; ".join(dict.fromkeys(f"{pull.log} at {pull.start_s:.1f} s: {pull.reason}" for pull in side.refused))
    raise CannotAnswer(
        f"no pull {name} the change can be used" + (f" ({reasons})" if reasons else ", none was found"),
        where=", ".join(side.files),
        advice="Record a full-pedal run through the revs in one gear.",
    )


def _measures(pulls: PullSet, level: float) -> tuple[dict[str, MeasureDifference], list[LeftOut]]:
    found: dict[str, MeasureDifference] = {}
    left_out = []
    for measure in MEASURES:
        result = measure_difference(measure, pulls, level)
        if isinstance(result, LeftOut):
            left_out.append(result)
        else:
            found[measure] = result
    return found, left_out


def _doubts(pulls: PullSet, differences: Mapping[str, MeasureDifference]) -> tuple[str, ...]:
    """What holds for the comparison as a whole."""
    doubts = []
    lacking: dict[str, list[str]] = {}
    for name, where in pulls.covariates.missing.items():
        if load_priors().covariates[name].day > 0.0:
            lacking.setdefault(where, []).append(load_priors().covariates[name].label)
    doubts += [
        f"not known of {where}: {', '.join(labels)}; so not taken out of any difference, "
        "and the intervals are wider for it"
        for where, labels in lacking.items()
    ]
    if "charge_temperature_start" in pulls.covariates.acts_as:
        doubts.append("the charge temperature at the start stands in for the air temperature, which is not known")
    if pulls.covariates.at_the_stop:
        stuck = counted(pulls.covariates.at_the_stop, "pull")
        doubts.append(
            f"the wastegate sat at its stop in {stuck}, so boost is a result of the change there, not a condition, "
            "and is not taken out of the other differences"
        )
    outings = sorted({record.doubts["outing"] for record in pulls.records if "outing" in record.doubts})
    if outings:
        doubts.append(
            f"the air is not known, so outings of one date that lie hours apart count as days of their own: "
            f"{', '.join(outings)}"
        )
    undated = sorted({record.log.file for record in pulls.records if "day" in record.doubts})
    if undated:
        doubts.append(
            f"nobody says when they were recorded, so each counts as a test day of its own: {', '.join(undated)}"
        )
    doubts += dict.fromkeys(text for record in pulls.records for text in record.pull.assumptions)
    count = len(differences)
    if count > 1:
        level = next(iter(differences.values())).level
        doubts.append(
            f"{count} measures were looked at: if nothing had changed and they were independent, one of them at least "
            f"would show a difference with a probability of {100.0 * (1.0 - level**count):.0f} %; "
            "only the main one is a test, the others describe"
        )
    return tuple(doubts)


def _in_order(pulls: Sequence[Pull]) -> tuple[Pull, ...]:
    return tuple(sorted(pulls, key=lambda pull: (pull.log, pull.start_s)))
