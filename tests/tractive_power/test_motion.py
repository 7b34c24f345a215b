"""How the car moved through a pull, whatever instants the logger chose."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pullproof.car import Car
from pullproof.channels import Trace
from pullproof.errors import CannotAnswer
from pullproof.pulls import Pull
from pullproof.tractive_power.motion import motion_of

CAR = Car("x", mass_kg=1500.0, tyre="225/45R17", gear_ratios=(3.4, 2.1, 1.5), final_drive=3.9)


def a_pull(start: float, step: float, count: int) -> tuple[Pull, dict[str, Trace]]:
    time = start + step * np.arange(count)
    rpm = 2500.0 + 700.0 * (time - start)
    pull = Pull("a.csv", start, float(time[-1]), 3, float(rpm[0]), float(rpm[-1]), used=True)
    return pull, {"engine_speed": Trace("engine_speed", "rpm", time, rpm)}


@settings(max_examples=60, deadline=None)
@given(st.floats(0.0, 2000.0), st.floats(0.03, 0.21), st.integers(40, 60))
def test_the_answer_lies_within_the_samples(start: float, step: float, count: int) -> None:
    """For any clock and rate the motion is asked for between the first and the last sample, evenly."""
    pull, traces = a_pull(start, step, count)
    motion = motion_of(pull, traces, CAR)
    time = traces["engine_speed"].time
    assert time[0] <= motion.time[0]
    assert motion.time[-1] <= time[-1]
    assert np.ptp(np.diff(motion.time)) < 1e-6


def test_a_steady_rise_is_a_steady_acceleration() -> None:
    """700 rpm/s in third gear is 700/60 turns of the engine a second over 5.85 turns a wheel turn."""
    pull, traces = a_pull(12.0, 0.05, 100)
    motion = motion_of(pull, traces, CAR)
    assert motion.engine_speed == pytest.approx(2500.0 + 700.0 * (motion.time - 12.0), rel=1e-6)
    assert motion.acceleration == pytest.approx(motion.speed / motion.engine_speed * 700.0, rel=1e-6)


def test_too_few_samples_say_how_many_are_needed() -> None:
    """Four samples of engine speed give no slope, and the sentence says what to do."""
    pull, traces = a_pull(0.0, 1.0, 4)
    with pytest.raises(CannotAnswer, match=r"sampled 4 times.*5 Hz"):
        motion_of(pull, traces, CAR)
