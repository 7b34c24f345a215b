"""What each change gave for its money.

Where the trade agrees which way is better, the order is by improvement; where that depends on what is wanted, by
size alone. The measure with its unit is what is divided by the money: no measure is weighed against another.
"""

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from pullproof.analysis.history.result import Better, ChangeEffect, Estimate, Rank
from pullproof.analysis.history.season import SeasonChange

__all__ = ["BETTER", "rank"]

BETTER: Mapping[str, Better] = MappingProxyType(
    {
        "wastegate_duty.peak": "less",
        "wastegate_duty.mean": "less",
        "boost.reaches": "less",
        "wheel_power.mean": "more",
        "wheel_power.peak": "more",
        "pull.time": "less",
        "intake_air_temperature.rise": "less",
        "intake_air_temperature.mean": "less",
        "knock_retard.mean": "less",
        "knock_retard.worst": "less",
        "charge_pressure_drop.mean": "less",
    }
)
"""Where one way is better for every owner: more power, sooner, cooler, less loss, more margin of control, less knock.
Common practice, no source. Boost, air flow, ignition and lambda depend on what is wanted."""


def rank(effects: Sequence[ChangeEffect], changes: Sequence[SeasonChange], better: Better | None) -> tuple[Rank, ...]:
    """The changes whose cost is known, best first; those that were only known together share their costs.

    Left out is what was exchanged for something else: its money did not buy the difference alone. Costs in different
    currencies are ranked apart, in the order of their names.
    """
    by_name = {change.name: change for change in changes}
    found = []
    for effect in effects:
        made = [by_name[name] for name in effect.changes]
        costs = [change.cost for change in made if change.cost is not None]
        currencies = {change.currency for change in made}
        if len(costs) < len(made) or sum(costs) <= 0.0 or len(currencies) > 1 or min(effect.weights) <= 0.0:
            continue
        cost, felt = float(sum(costs)), effect.as_felt
        low, high = felt.interval
        per_hundred = Estimate(100.0 * felt.value / cost, (100.0 * low / cost, 100.0 * high / cost))
        found.append(Rank(effect.changes, cost, currencies.pop(), per_hundred, felt.excludes_zero))
    return tuple(sorted(found, key=lambda entry: (entry.currency, -_worth(entry, better))))


def _worth(entry: Rank, better: Better | None) -> float:
    value = entry.per_hundred.value
    if better is None:
        return abs(value)
    return value if better == "more" else -value
