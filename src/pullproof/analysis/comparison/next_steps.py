"""Which run to do next, in the order in which it helps most."""

import math
from collections.abc import Sequence

from pullproof.analysis.comparison.evidence import Evidence
from pullproof.analysis.comparison.priors import load_priors
from pullproof.analysis.comparison.result import FairnessCheck, MeasureDifference
from pullproof.analysis.comparison.wording import amount, counted

__all__ = ["next_steps"]

FACTOR = 2.2
"""Half-width of a 95 % interval in standard errors once a few repeats have shown the scatter."""

FEWEST, MOST = 3, 10

REMEDIES = {
    "boost_matched": "Match boost before you compare duty or power: same target, same gear, same weather.",
    "gear": "Drive every pull in the same gear.",
    "pedal": "Hold the pedal down flat through every pull.",
    "throttle": "Look why the throttle did not open alike before you drive again.",
    "start_speed": "Start every pull at the same engine speed.",
    "charge_temperature_start": "Drive gently for the same few minutes before each pull, so that all start alike.",
    "coolant_temperature_start": "Let coolant reach the same temperature before each pull.",
    "oil_temperature_start": "Let oil reach the same temperature before each pull.",
    "ignition": "Use the same fuel and calibration on both sides: ignition moves exhaust heat, and that moves duty.",
    "knock": "Find the cause of the knock before any further pull.",
    "lambda": "Find out why the mixture differs before any further pull.",
    "logging_rate": "Log the same channels at the same rate on both sides.",
    "direction": "Drive the same stretch both ways equally often on both sides.",
}


def next_steps(evidence: Evidence, main: MeasureDifference, checks: Sequence[FairnessCheck]) -> tuple[str, ...]:
    """Sentences, the most useful first."""
    failed = [check.id for check in checks if check.status == "fail"]
    steps = [REMEDIES[name] for name in failed if name in REMEDIES]
    steps += _same_day(evidence, main)
    steps += _more_pulls(main)
    unknown = [
        load_priors().covariates[name].label
        for name in ("air_temperature", "air_pressure", "humidity")
        if name in evidence.pulls.covariates.missing
    ]
    if unknown:
        steps.append(f"Write down {_listed(unknown)} at the place for every log, in a conditions file.")
    if len(evidence.changes) > 1:
        steps.append("Undo one of the changes and drive again: only then does each show what it did.")
    return tuple(steps)


def _same_day(evidence: Evidence, main: MeasureDifference) -> list[str]:
    """Days that were not shared are the first thing to mend, unless there are several on each side."""
    pulls = evidence.pulls
    shared = set(pulls.day[pulls.after]) & set(pulls.day[~pulls.after])
    if not shared and min(main.days_before, main.days_after) < 2:
        step = (
            "Undo the change and drive both states on one day, before, after, before again: as it stands, the change "
            "and the day cannot be told apart, and more pulls on the same two days would hardly help."
        )
        return [step]
    return []


def _more_pulls(main: MeasureDifference) -> list[str]:
    """How many pulls a side on one day would tell, by this car's own scatter."""
    if main.censored:
        return ["Compare boost or air mass flow: duty at its stop shows nothing, however many pulls are driven."]
    scatter = main.run_to_run
    aim = max(main.smallest_worth_having, 0.75 * abs(main.difference))
    wanted = math.ceil(2.0 * (FACTOR * scatter / aim) ** 2)
    pulls = min(max(wanted, FEWEST), MOST)
    reach = FACTOR * scatter * math.sqrt(2.0 / pulls)
    if main.verdict == "unclear":
        step = (
            f"Drive {counted(pulls, 'pull')} before and {pulls} after on one day: with this scatter the interval then "
            f"reaches about {amount(reach, main.unit)} either way"
        )
        if wanted > MOST:
            step += f", which is still more than the {amount(aim, main.unit)} in question"
        return [f"{step}."]
    if min(main.pulls_before, main.pulls_after) < FEWEST:
        return [f"Drive at least {counted(FEWEST, 'pull')} a side, so that the car's own scatter speaks."]
    if main.verdict == "same":
        return ["No further run is needed for this question."]
    return [
        "Undo the change once more and see whether the first state comes back: that is the strongest proof there is."
    ]


def _listed(items: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(items[:-1]), *items[-1:])))
