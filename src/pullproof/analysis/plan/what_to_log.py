"""What to log and how fast: each channel's least and useful rate from what the analysis needs, and a budget shared out.

A curve is read through four samples within a tenth of the engine speed to either side, and engine speed itself through
four within 0.4 s (`curves`); so the least rates follow from how fast engine speed rises. Where a measure is an engine
speed, the rate that is useful is the one at which the distance between two samples scatters it by half of what pulls
scatter it anyway. A logger that asks one channel after another shares its answers; one that writes all channels in
each row gives each of them the rows.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from pullproof.analysis.comparison.priors import load_priors
from pullproof.analysis.plan.result import Channel, Logging
from pullproof.channels import CHANNELS
from pullproof.measures import MEASURES

__all__ = ["USUAL_RPM_PER_S", "share_budget"]

Role = Literal["measure", "finds the pull", "warns", "explains"]

USUAL_RPM_PER_S: Final = 600.0
"""Rise of engine speed in a pull in third gear, where no log shows it. Common practice, no source. [rpm/s]"""

REACH, POINTS, REVS_REACH_S = 0.1, 4, 0.4
"""Of the smoothing in `curves`: either side, share of engine speed and seconds, and the samples within."""

SPOOL_SHARE = 0.6
"""Engine speed at which boost is built, as a share of the foot of the window: there least rates are highest."""

STAYS_S = 0.2
"""The wastegate counts as open once the duty stays below its stop for so long: two samples have to lie in it."""

SLOPE_HZ = 10.0
"""A faster log is averaged over a tenth of a second before its slope is taken (`tractive_power.motion`)."""

_SOURCES: Final = {"boost": ("charge_pressure",), "wheel_power": ("engine_speed", "vehicle_speed")}
"""Computed channels and what they are computed from."""


@dataclass(frozen=True, slots=True)
class _Pace:
    """How fast engine speed rises [rpm/s], and the foot of the window [rpm]."""

    rise: float
    low: float

    def curve_hz(self) -> float:
        """Four samples within reach at the foot of the window."""
        return POINTS * self.rise / (2.0 * REACH * self.low)

    def spool_hz(self) -> float:
        """The same where boost is being built, lower down."""
        return POINTS * self.rise / (2.0 * REACH * SPOOL_SHARE * self.low)

    def resolves_hz(self, scatter_rpm: float) -> float:
        """Samples so close that half of a pull's own scatter is left: an even spread has 1/sqrt(12) of its width."""
        return self.rise / (math.sqrt(12.0) * 0.5 * scatter_rpm)


@dataclass(frozen=True, slots=True)
class _Wish:
    channel: str
    role: Role
    least_hz: float
    useful_hz: float
    why: str


def share_budget(
    measure: str, samples_per_second: float, *, rise: float = USUAL_RPM_PER_S, low: float, at_once: bool = False
) -> Logging:
    """Share out a logger's samples.

    Parameters
    ----------
    measure : str
        A name of `MEASURES`.
    samples_per_second : float
        What the logger gives in all. [1/s]
    rise : float
        Of engine speed in a pull. [rpm/s]
    low : float
        Foot of the window. [rpm]
    at_once : bool
        True for a logger that writes all its channels in each row: then all have one rate.
    """
    wishes = _wishes(measure, _Pace(rise, low))
    channels = _in_rows(wishes, samples_per_second) if at_once else _by_turns(wishes, samples_per_second)
    needed = [entry for entry in channels if entry.role in ("measure", "finds the pull")]
    enough = all(entry.rate_hz >= entry.least_hz - 1e-9 for entry in needed)
    doubts = []
    if not enough:
        least = sum(entry.least_hz for entry in needed)
        doubts.append(
            f"{samples_per_second:g} samples a second do not give {MEASURES[measure].label} its least rates, which "
            f"need {least:.0f}: drive in a higher gear, in which engine speed rises more slowly, or use a faster logger"
        )
    silent = [entry.label for entry in channels if entry.role == "warns" and entry.rate_hz == 0.0]
    if silent:
        doubts.append(
            f"nothing is left for {', '.join(silent)}: have them on a gauge or a second logger, or do without the run"
        )
    return Logging(samples_per_second, channels, enough, tuple(doubts))


def _wishes(measure: str, pace: _Pace) -> list[_Wish]:
    """In order of need: what is measured, what finds the pull, what warns, what explains."""
    own = _of_measure(measure, pace)
    found = {wish.channel: wish for wish in own}
    revs_hz = POINTS / (2.0 * REVS_REACH_S)
    rest = [
        _Wish("engine_speed", "finds the pull", revs_hz, 4.0 * revs_hz, "four samples within 0.4 s to either side"),
        _Wish("pedal_position", "finds the pull", 3.0, 10.0, "when full load begins and ends"),
        _Wish("vehicle_speed", "finds the pull", 2.0, 5.0, "which gear it was, and whether the wheels spun"),
        _Wish("knock_retard", "warns", 5.0, 10.0, "what comes and goes between two samples is not seen"),
        _Wish("lambda", "warns", 4.0, 10.0, "a lean moment under boost"),
        _Wish("charge_pressure", "warns", max(3.0, pace.curve_hz()), 10.0, "boost over its target, and boost matched"),
        _Wish("coolant_temperature", "warns", 0.5, 1.0, "rises in seconds"),
        _Wish("oil_temperature", "warns", 0.5, 1.0, "rises in seconds"),
        _Wish("oil_pressure", "warns", 2.0, 5.0, "falls in a bend or at high engine speed"),
        _Wish("fuel_pressure", "warns", 2.0, 5.0, "sags with flow"),
        _Wish("exhaust_gas_temperature", "warns", 1.0, 2.0, "a thermocouple follows in a second"),
        _Wish("charge_air_temperature", "explains", 1.0, 2.0, "where each pull starts from; accounted for"),
        _Wish("charge_pressure_target", "explains", 2.0, 4.0, "whether boost was on its target"),
        _Wish("wastegate_duty", "explains", pace.curve_hz(), 5.0, "the margin that boost control has"),
        _Wish("ignition_timing", "explains", 2.0, 5.0, "moves exhaust heat, and that moves duty"),
        _Wish("throttle_position", "explains", 1.0, 3.0, "whether the throttle opened alike"),
        _Wish("ambient_temperature", "explains", 0.1, 0.2, "weather; or write it into the conditions file"),
        _Wish("ambient_pressure", "explains", 0.1, 0.2, "weather; or write it into the conditions file"),
    ]
    merged = [
        replace(
            wish,
            role="measure",
            least_hz=max(wish.least_hz, found[wish.channel].least_hz),
            useful_hz=max(wish.useful_hz, found[wish.channel].useful_hz),
            why=found[wish.channel].why,
        )
        if wish.channel in found
        else wish
        for wish in rest
    ]
    named = {wish.channel for wish in rest}
    merged += [wish for wish in own if wish.channel not in named]
    order = ("measure", "finds the pull", "warns", "explains")
    return sorted(merged, key=lambda wish: order.index(wish.role))


def _of_measure(measure: str, pace: _Pace) -> list[_Wish]:
    """What the measure is read from, and what it asks of it."""
    if measure in _SPECIAL:
        return _SPECIAL[measure](pace)
    needs = [source for name in MEASURES[measure].needs for source in _SOURCES.get(name, (name,))]
    if "wheel_power" in MEASURES[measure].needs:
        why = "power is a slope of speed: more samples, less noise in it"
        return [_Wish(name, "measure", SLOPE_HZ, 2.0 * SLOPE_HZ, why) for name in needs[:1]]
    slow = any("temperature" in name for name in needs)
    if slow:
        return [_Wish(name, "measure", 1.0, 2.0, "a temperature follows in a second") for name in needs]
    why = "four samples within a tenth of the engine speed to either side"
    return [_Wish(name, "measure", pace.curve_hz(), max(10.0, 2.0 * pace.curve_hz()), why) for name in needs]


def _reaches(pace: _Pace) -> list[_Wish]:
    useful = pace.resolves_hz(load_priors().measures["boost.reaches"].run.median)
    why = "the answer is an engine speed: between two samples it can lie anywhere"
    return [
        _Wish(name, "measure", pace.spool_hz(), max(useful, pace.spool_hz()), why)
        for name in ("charge_pressure", "engine_speed")
    ]


def _opens_at(pace: _Pace) -> list[_Wish]:
    useful = pace.resolves_hz(load_priors().measures["wastegate.opens_at"].run.median)
    why = "the duty has to stay below its stop for 0.2 s, with two samples in it"
    return [_Wish("wastegate_duty", "measure", 2.0 / STAYS_S, max(useful, 2.0 / STAYS_S), why)]


def _pull_time(pace: _Pace) -> list[_Wish]:
    del pace
    return [_Wish("engine_speed", "measure", 5.0, 20.0, "when each end of the window is passed")]


def _worst_knock(pace: _Pace) -> list[_Wish]:
    del pace
    return [_Wish("knock_retard", "measure", 10.0, 20.0, "the worst moment may last a tenth of a second")]


_SPECIAL: Final[dict[str, Callable[[_Pace], list[_Wish]]]] = {
    "boost.reaches": _reaches,
    "wastegate.opens_at": _opens_at,
    "pull.time": _pull_time,
    "knock_retard.worst": _worst_knock,
}


def _by_turns(wishes: Sequence[_Wish], budget: float) -> tuple[Channel, ...]:
    """Least rates in order of need as far as the budget goes; what is left goes to the same, up to what is useful."""
    left, rates = budget, []
    for wish in wishes:
        needed = wish.role in ("measure", "finds the pull")
        # What the measure needs takes what there is; a warning or an explanation below its least rate is no use.
        rate = min(wish.least_hz, left) if needed or wish.least_hz <= left else 0.0
        rates.append(rate)
        left -= rate
    for role in ("measure", "finds the pull", "warns", "explains"):
        rows = [row for row, wish in enumerate(wishes) if wish.role == role and rates[row] >= wish.least_hz > 0.0]
        room = sum(wishes[row].useful_hz - rates[row] for row in rows)
        share = min(1.0, left / room) if room > 0.0 else 0.0
        for row in rows:
            more = share * (wishes[row].useful_hz - rates[row])
            rates[row] += more
            left -= more
    return tuple(_channel(wish, rate) for wish, rate in zip(wishes, rates, strict=True))


def _in_rows(wishes: Sequence[_Wish], budget: float) -> tuple[Channel, ...]:
    """As many channels, in order of need, as leave each row often enough for all that the measure needs."""
    needed = [wish for wish in wishes if wish.role in ("measure", "finds the pull")]
    least = max(wish.least_hz for wish in needed)
    count = min(len(wishes), max(len(needed), int(budget / least)))
    rate = budget / count
    return tuple(_channel(wish, rate if row < count else 0.0) for row, wish in enumerate(wishes))


def _channel(wish: _Wish, rate: float) -> Channel:
    return Channel(
        wish.channel, CHANNELS[wish.channel].label, wish.role, wish.least_hz, wish.useful_hz, rate, wish.why
    )  # fmt: skip
