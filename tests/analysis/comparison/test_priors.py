"""The table of priors must be whole: every measure, every covariate, every figure possible and with its origin."""

import pytest

from pullproof.analysis.comparison.adjustments import AirState, effects
from pullproof.analysis.comparison.priors import load_priors
from pullproof.measures import MEASURES

STATE = AirState(99.0, 140.0)


def test_every_measure_has_its_row():
    """Each measure that can be read has its usual scatter, and no row is for a measure that does not exist."""
    assert set(load_priors().measures) == set(MEASURES)


@pytest.mark.parametrize("measure", sorted(load_priors().measures))
def test_figures_are_possible(measure):
    """Scatter and smallest difference are positive, and every effect names a covariate, a doubt and an origin."""
    prior = load_priors().measures[measure]
    assert prior.smallest > 0.0
    assert prior.origin
    for name, effect in effects(measure, prior, STATE, 100.0).items():
        assert name in load_priors().covariates
        assert effect.doubt > 0.0
        assert effect.origin


@pytest.mark.parametrize(("covers", "least"), [("air flow", 0.18), ("power", 0.18), ("time", 0.18), ("duty", 0.5)])
def test_physics_is_doubted(covers, least):
    """Filling is doubted by a fifth or so, and what a turbine or a control unit has a say in by half."""
    measure = next(name for name, prior in load_priors().measures.items() if prior.covers == covers)
    for effect in effects(measure, load_priors().measures[measure], STATE, 100.0).values():
        assert effect.doubt >= least * abs(effect.mean) - 1e-12


def test_boost_is_not_held_against_itself():
    """A boost measure is not compared at equal boost."""
    for measure in ("boost.mean", "boost.peak"):
        assert "boost" not in effects(measure, load_priors().measures[measure], STATE, 100.0)


def test_curves_stand_on_a_measure():
    """Each curve names the measure whose effects it takes."""
    for channel, curve in load_priors().curves.items():
        assert curve.measure == f"{channel}.mean"
        assert curve.measure in load_priors().measures
