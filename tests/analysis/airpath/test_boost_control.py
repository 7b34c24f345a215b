"""How duty follows compressor work: learned from pulls, or believed without any."""

from dataclasses import fields, replace

import numpy as np
import pytest

from pullproof.analysis.airpath import boost_control, flow_from_logs, learn_control_response, prior_response
from pullproof.conditions import Air
from pullproof.physics.turbine import BoostState, wastegate_sensitivities

WORKED = BoostState(98e3, 0.0, 240e3, 0.0, 14e3, 293.15, 0.25, 12.0, 1223.0, 0.72, 0.70, 0.97, 8.0e-4)


def no_loss(pull):
    return np.zeros(pull.rpm.shape)


def test_slopes_are_those_of_the_shaft_balance():
    """The slopes believed beforehand are the derivatives at the worked point of the turbine's balance."""
    slopes = wastegate_sensitivities(WORKED)
    assert pytest.approx(slopes.inlet_temperature, abs=5e-3) == boost_control.AREA_PER_WORK
    assert pytest.approx(slopes.air_mass_flow, abs=5e-3) == boost_control.AREA_PER_FLOW


def test_without_pulls_the_worked_point_speaks():
    """No pull: the worked point, at least half of it in doubt, and the words say so."""
    response = prior_response()
    assert response.slope > 0
    assert response.doubt / response.slope > 0.5
    assert "no pull" in response.basis


@pytest.fixture
def season(record, car):
    """Pulls of many days whose duty follows work with a known slope; day and run scatter as usual."""

    def make(slope, days, seed, pinned=False, boost_scatter=8.0):
        rng = np.random.default_rng(seed)
        pulls = []
        for day in range(days):
            celsius, kilopascal, drift = rng.uniform(0.0, 32.0), rng.uniform(97.0, 102.0), rng.normal(0.0, 0.8)
            for run in range(2):
                charge = 238.0 + rng.normal(0.0, boost_scatter)
                ratio = charge / kilopascal
                work = np.log((celsius + 273.15) * (ratio ** (2 / 7) - 1.0))
                duty = 99.0 if pinned else 55.0 + slope * (work - 4.4) + drift + rng.normal(0.0, 0.5)
                pulls.append(
                    record(
                        log=f"{day}-{run}.csv",
                        day=f"day {day}",
                        air=Air(celsius, kilopascal, 50.0),
                        air_mass_flow=200.0,
                        charge_pressure=charge,
                        charge_air_temperature=45.0,
                        wastegate_duty=duty,
                    )
                )
        return flow_from_logs(pulls, car)

    return make


@pytest.mark.parametrize("slope", [25.0, 66.0, 120.0])
def test_a_season_shows_the_slope(season, slope):
    """With many days the slope is found within its own interval, and more surely than before."""
    response = learn_control_response(season(slope, days=14, seed=3), no_loss)
    assert response.pulls == 28
    assert response.doubt < 0.7 * prior_response().doubt
    assert abs(response.slope - slope) < 2.0 * response.doubt


def test_few_pulls_say_little(season):
    """Two pulls of one day leave nearly all of the doubt, and count themselves."""
    response = learn_control_response(season(66.0, days=1, seed=1, boost_scatter=1.0), no_loss)
    assert response.pulls == 2
    assert response.doubt > 0.5 * prior_response().doubt
    assert response.basis == "duty against compressor work in 2 pulls of 1 day"


def test_a_gate_held_shut_teaches_nothing(season):
    """Pulls with the duty at the end of its range are left out and counted."""
    response = learn_control_response(season(66.0, days=3, seed=1, pinned=True), no_loss)
    assert response.pulls == 0
    assert response.pinned == 6
    assert response.slope == prior_response().slope


def test_a_short_pull_is_held_against_the_same_speeds(season):
    """Pulls that cover part of the window, in a car whose duty falls with engine speed, do not bend the response."""
    whole = season(66.0, days=14, seed=3)
    falling = [replace(pull, wastegate_duty_pct=pull.wastegate_duty_pct - 0.01 * pull.rpm) for pull in whole.pulls]
    cut = [pull if index % 2 else _up_to(pull, 5500.0) for index, pull in enumerate(falling)]
    responses = [learn_control_response(replace(whole, pulls=tuple(pulls)), no_loss) for pulls in (falling, cut)]
    assert responses[1].pulls == responses[0].pulls
    assert responses[1].slope == pytest.approx(responses[0].slope, abs=0.3 * responses[0].doubt)


def _up_to(pull, highest):
    """The pull cut short."""
    kept = pull.rpm <= highest
    arrays = {field.name: getattr(pull, field.name) for field in fields(pull)}
    return replace(pull, **{name: value[kept] for name, value in arrays.items() if isinstance(value, np.ndarray)})


def test_more_work_never_opens_the_gate(season):
    """However the pulls scatter, the response keeps the sign that the shaft balance gives it."""
    response = learn_control_response(season(-80.0, days=14, seed=2), no_loss)
    assert response.slope > 0.0
    assert np.isfinite(response.doubt)


def test_a_log_without_duty(record, car):
    """Without a duty channel the worked point speaks."""
    flow = flow_from_logs([record(air_mass_flow=200.0, charge_pressure=238.0)] * 3, car)
    assert learn_control_response(flow, no_loss).pulls == 0
