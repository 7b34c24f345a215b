"""Which comparisons are drawn for each car, and the seeds: development and report never share a car.

Development seeds 1 000 000 and up may be looked at as often as one likes while the model is being made. Report seeds
5 000 000 and up are for the published table alone. Tests use seeds below 100 000.
"""

import numpy as np

from validation.designs import DESIGNS, Order

__all__ = ["CARS_PER_CHUNK", "DEVELOPMENT_SEEDS", "EFFECT_SIZES", "REPORT_SEEDS", "SCENARIOS", "orders_of"]

DEVELOPMENT_SEEDS = 1_000_000
REPORT_SEEDS = 5_000_000
CARS_PER_CHUNK = 4

EFFECT_SIZES = (0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0)
"""True changes of peak duty that are aimed at, in points."""

OTHER_KINDS = (
    "restriction",
    "pipes",
    "cooler",
    "compressor",
    "ignition",
    "leak",
    "air filter",
    "exhaust",
)

SCENARIOS = {
    "plain": "nothing out of the ordinary",
    "one outlier": "one pull is off: control pressure 3.5 kPa and work 4 % beside the others",
    "near the limit": "a boost target that holds the gate shut or nearly so",
    "another gear": "the pulls after were driven in another gear; nothing was changed",
    "another logger": "the pulls after were recorded by another logger; nothing was changed",
    "through files": "logs are written as files in a random style and read by the package; nothing was changed",
    "scatter prior halved": "the package's own expectation of scatter is half of what it ships with",
    "scatter prior doubled": "the package's own expectation of scatter is twice what it ships with",
}
"""What besides plain comparisons is tried."""


def orders_of(seed: int) -> list[Order]:
    """The comparisons of one car."""
    rng = np.random.default_rng([seed, 31])
    orders: list[Order] = []
    for design in DESIGNS:
        orders += [
            Order(design, "like", "nothing"),
            Order(design, "like", str(rng.choice(OTHER_KINDS))),
            Order(design, "like", "restriction", size=_signed(rng)),
        ]
        if "one day" not in design:
            orders += [
                Order(design, "unlike", "nothing"),
                Order(design, "unlike", str(rng.choice([*OTHER_KINDS, "boost target", "mass"]))),
            ]
    orders.append(Order("3+3, one day", "like", "restriction", size=1.5 * rng.choice([-1.0, 1.0])))
    orders.append(Order("3+3, one day", "like", str(rng.choice(["boost target", "mass"]))))
    return orders + _scenario_orders(rng)


def _signed(rng: np.random.Generator) -> float:
    return float(rng.choice(EFFECT_SIZES) * rng.choice([-1.0, 1.0]))


def _scenario_orders(rng: np.random.Generator) -> list[Order]:
    usual = str(rng.choice(["3+3, one day", "6+6, six days"]))
    return [
        Order(usual, "like", "nothing", "one outlier"),
        Order("3+3, two days", "like", "restriction", "near the limit", size=0.5 * rng.choice([-1.0, 1.0])),
        Order("3+3, one day", "like", "nothing", "another gear"),
        Order("3+3, two days", "like", "nothing", "another logger"),
        *(
            Order(design, "like", "nothing", scenario)
            for scenario in ("scatter prior halved", "scatter prior doubled")
            for design in ("1+1, two days", "3+3, one day")
        ),
        Order("3+3, two days", "like", "nothing", "through files"),
    ]
