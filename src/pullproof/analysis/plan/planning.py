"""From a question to a plan."""

import datetime
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from pullproof.analysis.cautions import CAUTIONS
from pullproof.analysis.comparison.each_once import each_once
from pullproof.analysis.comparison.outings import part_outings
from pullproof.analysis.comparison.verdict import known_measure
from pullproof.analysis.plan.asking import Known, Logger, Request, check_request, size_of_effect, what_is_known
from pullproof.analysis.plan.chances import WEATHERS, Setting, drift_share, odds_of
from pullproof.analysis.plan.hold_equal import what_to_hold_equal
from pullproof.analysis.plan.next_run import half_width_now, next_runs
from pullproof.analysis.plan.orders import CEILING_PULLS, ORDERS, Order, schedule
from pullproof.analysis.plan.result import Ceiling, Costs, Option, Plan, Question
from pullproof.analysis.plan.what_to_log import share_budget
from pullproof.analysis.plan.wording import (
    heat_advice,
    honest,
    next_sentence,
    one_day_sentence,
    plan_sentence,
    trust_doubts,
)
from pullproof.analysis.watch import watch_limits
from pullproof.car import Car
from pullproof.computed_channels import PullRecord, record_pull
from pullproof.conditions import ConditionsSheet
from pullproof.errors import CannotAnswer
from pullproof.pulls import find_pulls
from pullproof.reading import read_log
from pullproof.reading.log import Log
from pullproof.stats.sample_size import chance_of_clear, effect_for_chance

__all__ = ["Logger", "Request", "plan", "plan_records"]

UNTIMED: Mapping[str, datetime.datetime] = {}

CEILINGS = ("before_after", "before_after_before", "two_days", "both_on_two_days")
"""Orders whose end is told. By turns ends where before, after, before does, and with no end of days all is told."""

STOPS = (
    "knock_retard_deg", "lambda_full_load", "boost_over_target_kpa", "boost_kpa", "exhaust_gas_temperature_c",
    "coolant_temperature_c", "oil_temperature_c", "charge_temperature_c", "oil_pressure_kpa_per_1000_rpm",
    "fuel_pressure_sag_pct", "injector_duty_pct", "engine_speed_rpm", "turbo_speed_rpm",
)  # fmt: skip
"""Limits that end a run, as keys of the watch."""


def plan(
    measure: str,
    effect: float | None = None,
    *,
    car: Car,
    before: Sequence[Log | str | Path] = (),
    after: Sequence[Log | str | Path] = (),
    conditions: ConditionsSheet | None = None,
    request: Request | None = None,
) -> Plan:
    """Plan the runs that will show a difference, and learn this car's own scatter from earlier logs.

    Parameters
    ----------
    measure : str
        A name of `MEASURES`.
    effect : float, optional
        Difference worth seeing, in the measure's unit, or in per cent of its level. Without it the smallest that is
        worth having by the table.
    car : Car
    before, after : sequence of Log or path
        Earlier logs. `before` alone says that nothing was changed between them.
    conditions : ConditionsSheet, optional
        Days and weather of these.
    request : Request, optional
        All else that may be asked for.

    Raises
    ------
    WrongUse
        The measure does not exist, or a number makes no sense.
    CannotAnswer
        The earlier logs have no pull.
    CannotRead
        An earlier log is not there or not a log.
    """
    known_measure(measure)
    sheet = conditions or ConditionsSheet()
    sides, doubts = _records(before, after, car, sheet)
    found = plan_records(
        measure,
        effect,
        car=car,
        before=sides[0],
        after=sides[1],
        moments={file: entry.when for file, entry in sheet.logs.items() if entry.when is not None},
        request=request,
    )
    return replace(found, doubts=(*doubts, *found.doubts))


def plan_records(
    measure: str,
    effect: float | None = None,
    *,
    car: Car,
    before: Sequence[PullRecord] = (),
    after: Sequence[PullRecord] = (),
    moments: Mapping[str, datetime.datetime] = UNTIMED,
    request: Request | None = None,
) -> Plan:
    """The same from earlier pulls that are ready to be read.

    Takes what `plan` takes, and with `moments` when each log was started, by file.

    Raises
    ------
    WrongUse
        The measure does not exist, or a number makes no sense.
    """
    asked = request or Request()
    known_measure(measure)
    check_request(effect, asked, measure)
    known = what_is_known(measure, car, before, after, moments, asked)
    size, effect_doubts = size_of_effect(effect, measure, known, asked)
    setting = Setting(known.prior, known.effects, known.belief, known.typical, asked.level, asked.costs, asked.draws)
    question = Question(measure, known.scatter.unit, size, asked.level, asked.chance, known.typical)
    options = tuple(_option(order, pulls, setting, question) for order in ORDERS.values() for pulls in order.sides)
    ceilings = tuple(_ceiling(ORDERS[name], setting, question) for name in CEILINGS)
    recommended = _cheapest(options, asked.chance, asked.level)
    further = () if known.evidence is None else next_runs(known.evidence, setting)
    limits = watch_limits(car)
    logger = asked.logger
    return Plan(
        question=question,
        sentence=plan_sentence(question, options, recommended),
        one_day=one_day_sentence(question, options, ceilings, asked.costs),
        scatter=known.scatter,
        costs=asked.costs,
        options=options,
        recommended=recommended,
        ceilings=ceilings,
        half_width_now=None if known.evidence is None else half_width_now(known.evidence, asked.level),
        next_runs=further,
        next_sentence=next_sentence(further),
        logging=share_budget(
            measure, logger.samples_per_second, rise=known.rise, low=known.low, at_once=logger.at_once
        ),
        hold_equal=what_to_hold_equal(setting.effects),
        heat=heat_advice(question, setting.effects["order"].doubt, known.evidence, (*before, *after), asked.costs),
        stops=tuple(limits.by_key[key] for key in STOPS if key in limits.by_key),
        how=_how(asked),
        assumptions=_assumptions(asked.costs, known),
        doubts=(*known.doubts, *effect_doubts, *trust_doubts(question, options), *limits.doubts),
        cautions=CAUTIONS,
    )


def _records(
    before: Sequence[Log | str | Path], after: Sequence[Log | str | Path], car: Car, sheet: ConditionsSheet
) -> tuple[tuple[tuple[PullRecord, ...], tuple[PullRecord, ...]], list[str]]:
    logs = [[given if isinstance(given, Log) else read_log(given, car) for given in side] for side in (before, after)]
    each_once(logs[0], logs[1])
    found = [
        [record_pull(log, pull, car, sheet.of(log.file)) for log in side for pull in find_pulls(log, car) if pull.used]
        for side in logs
    ]
    for records, side, name in zip(found, logs, ("before", "after"), strict=True):
        if side and not records:
            raise CannotAnswer(
                f"no pull that can be used in the earlier logs{' ' + name if after else ''}",
                where=", ".join(log.file for log in side),
                advice="`pullproof pulls` shows what was found, and why it is not used.",
            )
    together = part_outings((*found[0], *found[1]), sheet)
    doubts = list(sheet.doubts_of(log.file for side in logs for log in side))
    undated = sorted({record.log.file for record in together if "day" in record.doubts})
    if undated:
        doubts.append(f"nobody says when they were recorded, so each counts as a day of its own: {', '.join(undated)}")
    return (together[: len(found[0])], together[len(found[0]) :]), doubts


def _option(order: Order, pulls: int, setting: Setting, question: Question) -> Option:
    driven = schedule(order.sequence(pulls), setting.costs)
    odds = odds_of(driven, setting)
    states = [run.state for run in driven.runs]
    return Option(
        order=order.id,
        label=order.label,
        runs=driven.runs,
        pulls_before=states.count("before"),
        pulls_after=states.count("after"),
        days=len({run.day for run in driven.runs}),
        part_changes=driven.part_changes,
        minutes=driven.minutes,
        fits=driven.fits(setting.costs),
        chance=chance_of_clear(odds.lower, odds.upper, question.effect),
        false_alarm=2.0 * chance_of_clear(odds.lower, odds.upper, 0.0),
        half_width=odds.half_width(),
        shows=effect_for_chance(odds.lower, odds.upper, question.chance),
        drift_share=abs(drift_share(driven)),
    )


def _ceiling(order: Order, setting: Setting, question: Question) -> Ceiling:
    odds = odds_of(schedule(order.sequence(CEILING_PULLS), setting.costs), setting)
    chance = chance_of_clear(odds.lower, odds.upper, question.effect)
    shows = effect_for_chance(odds.lower, odds.upper, question.chance)
    # "Never" is a strong word: what the draws leave open counts for the order.
    enough = chance + _draw_doubt(setting.draws) >= question.chance
    return Ceiling(order.id, order.label, CEILING_PULLS, chance, shows, enough)


def _cheapest(options: Sequence[Option], chance: float, level: float) -> Option | None:
    enough = [option for option in options if option.fits and option.chance >= chance and honest(option, level)]
    return min(enough, key=lambda option: (option.minutes, -option.chance)) if enough else None


def _draw_doubt(draws: int) -> float:
    """Half of the 95 % interval of a chance that is drawn, at most. [1]"""
    return 1.96 * math.sqrt(0.25 / (WEATHERS * draws))


def _how(asked: Request) -> str:
    draws = WEATHERS * asked.draws
    doubt = 100.0 * _draw_doubt(asked.draws)
    return (
        f"Each chance is drawn: {draws} sets of pulls with scatters, weather and their effects as they are believed to "
        f"be, each judged by the model of the verdict, which begins from usual scatters, at {100.0 * asked.level:g} %. "
        f"It is good to {doubt:.0f} points; the same question gets the same draws."
    )


def _assumptions(costs: Costs, known: Known) -> tuple[str, ...]:
    minutes = (
        f"a pull takes {costs.pull_min:g} min with the way back and cooling down, warming up {costs.warm_up_min:g} "
        f"min, changing the part {costs.change_min:g} min either way"
    )
    weather = (
        f"the air warms by {costs.warming_k_per_hour:g} K an hour while one drives; air temperature, pressure and "
        "humidity are written down for every log, and charge temperature, boost and engine speed are logged"
    )
    drift = (
        "a session warms the car most in its first pulls; what that does to the measure is in the model with its "
        "doubt. An even drift all through a session is not: see how much of it each order lets through"
    )
    usual = "" if known.evidence is not None else " (common practice, no source)"
    return (
        f"{minutes} (common practice, no source, where you did not say otherwise)",
        f"a day holds {costs.day_min:g} min and {costs.day_pulls} pulls",
        weather,
        drift,
        f"engine speed rises by {known.rise:.0f} rpm/s in a pull{usual}",
    )
