"""What is believed of a measure's scatter before the next run: usual values, or what earlier logs of this car say.

Earlier logs go through the comparison's own model, weather and all. Where they are of one state of the car, the
column of the change is left out of it; where they are of both, it stays, and the same fit tells how open the question
still is.
"""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from pullproof.analysis.comparison.adjustments import AirState
from pullproof.analysis.comparison.design import Model, gather, model
from pullproof.analysis.comparison.priors import Effect, MeasurePrior
from pullproof.analysis.comparison.reading_limits import Sharpness, expected
from pullproof.analysis.comparison.window import choose_window
from pullproof.analysis.plan.result import Scatter
from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.errors import CannotAnswer
from pullproof.measures import MEASURES, Reading, read_measure
from pullproof.stats.mixed_model import Posterior, fit
from pullproof.stats.scatter import TypicalScatter

__all__ = ["Belief", "Evidence", "believe_table", "learn"]

NODES = 31
"""Nodes for each scatter where only usual values speak."""

USUAL_BOOST_KPA = 100.0
"""Above ambient, for the state at which effects of the weather are taken, where no log shows it. Common practice."""

HELD = 0.9
"""Probability that the limits of a scatter hold it. [1]"""


@dataclass(frozen=True, slots=True)
class Belief:
    """Pairs of scatters with their probabilities, each (k,), in the measure's unit; and the state of the air."""

    s_day: Array
    s_run: Array
    weights: Array
    state: AirState

    def summary(self, unit: str, pulls: int, days: int, origin: str) -> Scatter:
        """Middles and limits of both."""
        run, day = (self._quantiles(values) for values in (self.s_run, self.s_day))
        return Scatter(unit, run[1], (run[0], run[2]), day[1], (day[0], day[2]), pulls, days, origin)

    def _quantiles(self, values: Array) -> tuple[float, float, float]:
        order = np.argsort(values, kind="stable")
        share = np.cumsum(self.weights[order]) - 0.5 * self.weights[order]
        tail = 0.5 * (1.0 - HELD)
        low, middle, high = np.exp(np.interp([tail, 0.5, 1.0 - tail], share, np.log(values[order])))
        return float(low), float(middle), float(high)


@dataclass(frozen=True, slots=True)
class Evidence:
    """Earlier pulls: what they say of the scatter, and of the change where both sides are there."""

    belief: Belief
    typical: float
    window: tuple[float, float]
    pulls: int
    days: tuple[str, ...]
    day_of: tuple[str, ...]
    """Test day of each pull that has the measure, those before the change first."""
    after: tuple[bool, ...]
    prior: MeasurePrior
    effects: Mapping[str, Effect]
    """Usual scatter and effects of the measure as the comparison takes them for readings as sharp as these."""
    model: Model | None
    """Of the change; None where all pulls are of one state."""
    posterior: Posterior
    start_temperatures: tuple[tuple[str, float], ...]
    """Day and charge temperature at the start of each pull in the order driven, where it is known."""
    doubts: tuple[str, ...]


def believe_table(prior: MeasurePrior, typical: float, car: Car) -> Belief:
    """Usual scatters alone.

    Parameters
    ----------
    prior : MeasurePrior
        The measure's row of the table.
    typical : float
        Level of the measure, for scatters that are percentages of it. [unit of the measure]
    car : Car
        Whether it has a turbocharger, and what it burns.
    """
    axes, shares = [], []
    for scatter in (prior.day, prior.run):
        own = TypicalScatter(prior.in_unit(scatter.median, typical), scatter.doubt)
        log_s = np.linspace(*own.span, NODES)
        share = np.exp(own.log_density(log_s))
        axes.append(np.exp(log_s))
        shares.append(share / share.sum())
    state = AirState(
        boost_kpa=USUAL_BOOST_KPA if car.engine.aspiration != "none" else 0.0,
        fuel_limited=car.engine.fuel == "diesel",
    )
    return Belief(
        s_day=np.repeat(axes[0], NODES),
        s_run=np.tile(axes[1], NODES),
        weights=np.outer(*shares).ravel(),
        state=state,
    )


def learn(
    measure: str,
    before: Sequence[PullRecord],
    after: Sequence[PullRecord],
    *,
    car: Car,
    window: tuple[float, float] | None,
    moments: Mapping[str, datetime.datetime],
) -> Evidence:
    """What earlier pulls say.

    Parameters
    ----------
    measure : str
        A name of `MEASURES`.
    before, after : sequence of PullRecord
        The pulls; `after` is empty where nothing was changed between them.
    car : Car
    window : (float, float), optional
        Engine speeds that the measure is read between. [rpm]
    moments : mapping
        When each log was started, by file, where somebody wrote it down.

    Raises
    ------
    CannotAnswer
        Fewer than two pulls can be read, or a side has none.
    """
    chosen = choose_window(before, after or before, car, window)
    kept_after = chosen.after if after else ()
    readings, usable, doubts = _read(measure, (*chosen.before, *kept_after), chosen.window)
    values = np.array([reading.value for reading in readings], dtype=float)
    sides = np.repeat([False, True], [len(chosen.before), len(kept_after)])[usable]
    records = [record for record, use in zip((*chosen.before, *kept_after), usable, strict=True) if use]
    if len(records) < 2 or (after and (sides.all() or not sides.any())):
        raise CannotAnswer(
            f"{len(records)} earlier {'pull' if len(records) == 1 else 'pulls'} can be read for {measure}: too few to "
            "learn from",
            advice="Give logs with two pulls or more, on each side where both are given.",
        )
    typical = float(np.mean(np.abs(values)))
    pulls = gather(records, (), car, chosen.window, moments)
    # The comparison's model wants both sides. Where there is one, the last pull stands in, and its column goes again.
    stands_in = np.arange(len(records)) == len(records) - 1
    pulls = replace(pulls, after=sides if after else stands_in)
    rows = np.arange(len(records), dtype=np.intp)
    prior, found = expected(measure, rows, typical, Sharpness.of(readings), pulls.covariates, pulls.window)
    known = model(pulls, rows, prior, found, typical)
    design = known.design
    if not after:
        design = replace(
            design,
            columns=np.delete(design.columns, 1, axis=1),
            prior_mean=np.delete(design.prior_mean, 1),
            prior_deviation=np.delete(design.prior_deviation, 1),
        )
    posterior = fit(values, design, known.day_scatter, known.run_scatter)
    return Evidence(
        belief=Belief(posterior.s_group, posterior.s_unit, posterior.weights[:, 0], pulls.covariates.state),
        typical=typical,
        window=chosen.window,
        pulls=len(records),
        days=tuple(dict.fromkeys(record.day for record in records)),
        day_of=tuple(record.day for record in records),
        after=tuple(bool(side) for side in sides),
        prior=prior,
        effects=found,
        model=known if after else None,
        posterior=posterior,
        start_temperatures=_starts(records, pulls.covariates.known.get("charge_temperature_start")),
        doubts=(*chosen.doubts, *doubts),
    )


def _read(
    measure: str, records: Sequence[PullRecord], window: tuple[float, float]
) -> tuple[list[Reading], list[bool], tuple[str, ...]]:
    """Readings of the pulls that have the measure, which those are, and what is in doubt."""
    readings, usable, reasons = [], [], []
    pinned = 0
    for record in records:
        try:
            reading = read_measure(measure, record, window)
        except CannotAnswer as error:
            usable.append(False)
            reasons.append(error.what)
            continue
        usable.append(not reading.censored)
        pinned += reading.censored
        if not reading.censored:
            readings.append(reading)
    doubts = []
    if reasons:
        count = f"{len(reasons)} of {len(records)} earlier pulls"
        doubts.append(f"{count} have no {MEASURES[measure].label}: {reasons[0]}")
    if pinned:
        doubts.append(
            f"{MEASURES[measure].label} sat where it cannot move in {pinned} of {len(records)} earlier pulls: a part "
            "cannot show in it there, however many pulls are driven; plan with boost or air mass flow instead"
        )
    return readings, usable, tuple(doubts)


def _starts(records: Sequence[PullRecord], temperatures: Array | None) -> tuple[tuple[str, float], ...]:
    if temperatures is None:
        return ()
    driven = sorted(range(len(records)), key=lambda row: (records[row].day, records[row].pull.start_s))
    return tuple((records[row].day, float(temperatures[row])) for row in driven)
