import pytest

from pullproof.analysis.plan.what_to_log import share_budget
from pullproof.channels import CHANNELS
from pullproof.curves import _POINTS, _REACH, _REVS_REACH_S
from pullproof.measures import MEASURES

RISE, LOW = 600.0, 4000.0


def rates(measure, budget, **options):
    return {entry.channel: entry for entry in share_budget(measure, budget, rise=RISE, low=LOW, **options).channels}


@pytest.mark.parametrize("measure", MEASURES)
@pytest.mark.parametrize("budget", [5.0, 12.0, 30.0, 60.0, 400.0])
@pytest.mark.parametrize("at_once", [False, True])
def test_the_budget_is_never_passed(measure: str, budget: float, at_once: bool) -> None:
    """All rates together are no more than the logger gives; none is negative or, by turns, beyond what is useful."""
    found = share_budget(measure, budget, rise=RISE, low=LOW, at_once=at_once).channels
    assert sum(entry.rate_hz for entry in found) <= budget * (1.0 + 1e-9)
    for entry in found:
        assert entry.channel in CHANNELS
        assert 0.0 < entry.least_hz <= entry.useful_hz
        assert entry.rate_hz >= 0.0
        assert at_once or entry.rate_hz <= entry.useful_hz + 1e-9


@pytest.mark.parametrize("measure", MEASURES)
def test_the_measures_own_channels_come_first(measure: str) -> None:
    """What it is read from is named as such, with engine speed and pedal to find the pull."""
    found = rates(measure, 60.0)
    assert any(entry.role == "measure" for entry in found.values())
    assert {"engine_speed", "pedal_position"} <= set(found)
    assert all(entry.rate_hz >= entry.least_hz for entry in found.values() if entry.role == "measure")


def test_least_rates_are_what_the_curves_need() -> None:
    """Four samples within a tenth of the engine speed either side, and four of engine speed within 0.4 s."""
    found = rates("boost.mean", 60.0)
    span = 2.0 * _REACH * LOW / RISE  # seconds that the reach lasts at the foot of the window
    assert found["charge_pressure"].least_hz == pytest.approx(max(_POINTS / span, 3.0))
    assert found["engine_speed"].least_hz == pytest.approx(_POINTS / (2.0 * _REVS_REACH_S))


def test_a_measure_that_is_an_engine_speed_wants_to_be_asked_often() -> None:
    """The speed at which boost is there lies between two samples: it is worth more of them than a mean is."""
    assert (
        rates("boost.reaches", 400.0)["charge_pressure"].useful_hz
        > rates("boost.mean", 400.0)["charge_pressure"].useful_hz
    )


def test_too_small_a_budget_is_said() -> None:
    """Five samples a second are not enough, and the advice is to let engine speed rise more slowly or log faster."""
    found = share_budget("wheel_power.mean", 5.0, rise=RISE, low=LOW)
    assert not found.enough
    assert "higher gear" in found.doubts[0]
    assert share_budget("wheel_power.mean", 60.0, rise=RISE, low=LOW).enough


def test_warnings_that_are_left_out_are_named() -> None:
    """Where nothing is left for knock and mixture, the plan says that nothing would warn of them."""
    found = share_budget("wheel_power.mean", 16.0, rise=RISE, low=LOW)
    assert any("knock retard" in doubt and "lambda" in doubt for doubt in found.doubts)


def test_a_slower_rise_needs_fewer_samples() -> None:
    """In a higher gear the same curve needs a lower rate."""
    slow = share_budget("wastegate_duty.mean", 60.0, rise=RISE / 3.0, low=LOW).channels
    fast = share_budget("wastegate_duty.mean", 60.0, rise=RISE, low=LOW).channels
    assert slow[0].least_hz == pytest.approx(fast[0].least_hz / 3.0)


def test_a_logger_of_rows_gives_all_one_rate() -> None:
    """Each channel that is logged has the rate of the rows, fast enough for what is measured."""
    found = share_budget("boost.mean", 60.0, rise=RISE, low=LOW, at_once=True)
    given = [entry.rate_hz for entry in found.channels if entry.rate_hz > 0.0]
    assert len(set(given)) == 1
    assert sum(given) == pytest.approx(60.0)
    assert found.enough
