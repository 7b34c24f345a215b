"""An out and a back run on one stretch of road: the mean cancels a constant grade and nearly all of the wind."""

import dataclasses

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.wheel_power.correction import PowerCorrection
from pullproof.analysis.wheel_power.result import Evidence, PowerCurve, assemble
from pullproof.errors import CannotAnswer, WrongUse
from pullproof.tractive_power import Given

__all__ = ["pair_power"]

GRADE_LEFT = 0.3
"""Share of a grade's doubt that stays: the two runs pass one engine speed at different places of the stretch, and only
what is the same at both cancels (common practice, no source)."""

_ONE_GEAR = 0.05


def pair_power(out: PowerCurve, back: PowerCurve) -> PowerCurve:
    """Mean of an out and a back run at equal engine speed.

    Parameters
    ----------
    out, back : PowerCurve
        Of one car, in one gear, on one stretch of road.

    Returns
    -------
    PowerCurve
        On the engine speeds that both pass. The doubts of car and air stay, the own ones fall by averaging.

    Raises
    ------
    WrongUse
        Both runs are stated to go the same way, or they are in different gears.
    CannotAnswer
        They have no engine speed in common.

    Wind ahead in one run is behind in the other: with headwind w the mean drag is that of still air plus
    rho C_dA w^2/2, 0.6 % of it at 3 m/s and 40 m/s; that term stays as the doubt of the wind.
    """
    log = back.pulls[0].log
    if out.direction is not None and out.direction == back.direction:
        raise WrongUse(
            f'both runs go "{out.direction}", so the grade does not cancel between them',
            where=log,
            advice='State direction = "out" for one and "back" for the other in the conditions file.',
        )
    if abs(np.log(out.overall_ratio / back.overall_ratio)) > _ONE_GEAR:
        raise WrongUse("the two runs are in different gears", where=log, advice="Pair runs in the same gear.")
    rpm = np.intersect1d(out.rpm, back.rpm)
    if rpm.size == 0:
        raise CannotAnswer("the two runs have no engine speed in common", where=log, advice="Pair runs over one range.")
    one, two = np.isin(out.rpm, rpm), np.isin(back.rpm, rpm)
    return assemble(
        (*out.pulls, *back.pulls),
        "out and back",
        rpm,
        0.5 * (out.speed_kmh[one] + back.speed_kmh[two]),
        0.5 * (out.wheel_power_kw[one] + back.wheel_power_kw[two]),
        _evidence(out, back, one, two),
        overall_ratio=out.overall_ratio,
        efficiency=out.crank.efficiency,
        correction=_correction(out, back),
        doubts=_doubts(out, back),
    )


def _evidence(out: PowerCurve, back: PowerCurve, one: NDArray[np.bool_], two: NDArray[np.bool_]) -> Evidence:
    first, second = out.evidence, back.evidence
    given = {number.name: number for number in (*second.given, *first.given)}
    nothing = np.zeros(np.count_nonzero(one))
    effect = {}
    for name in given:
        there = first.effect_kw[name][one] if name in first.effect_kw else nothing
        effect[name] = 0.5 * (there + (second.effect_kw[name][two] if name in second.effect_kw else nothing))
    effect["grade"] = GRADE_LEFT * effect["grade"]
    effect["headwind"] = effect["headwind"] * given["headwind"].doubt / (2.0 * out.speed_kmh[one] / 3.6)
    return Evidence(
        own_doubt_kw=0.5 * np.hypot(first.own_doubt_kw[one], second.own_doubt_kw[two]),
        freedom=first.freedom + second.freedom,
        effect_kw=effect,
        given=tuple(_cancelled(number) for number in given.values()),
        time_constant_s=0.5 * (first.time_constant_s + second.time_constant_s),
        source=first.source if first.source == second.source else f"{first.source}, {second.source}",
    )


def _correction(out: PowerCurve, back: PowerCurve) -> PowerCorrection:
    """One factor for both: the mean, as the air may have changed between them; none where either has none."""
    first, second = out.correction, back.correction
    if first.factor is None or second.factor is None:
        return first if first.factor is None else second
    return dataclasses.replace(first, factor=0.5 * (first.factor + second.factor))


def _cancelled(number: Given) -> Given:
    if number.name == "grade":
        return dataclasses.replace(number, doubt=GRADE_LEFT * number.doubt, origin="cancelled between out and back")
    if number.name == "headwind":
        return dataclasses.replace(number, origin="cancelled between out and back but for its square")
    return number


def _doubts(out: PowerCurve, back: PowerCurve) -> tuple[str, ...]:
    kept = [line for line in dict.fromkeys((*out.doubts, *back.doubts)) if not line.startswith(("road", "air taken"))]
    return (*kept, "grade and wind cancel only if both runs use the same stretch and the wind keeps still")
