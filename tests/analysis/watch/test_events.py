import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullproof.analysis.watch.events import CLOSELY_S, passings, past
from pullproof.analysis.watch.result import Limit
from pullproof.analysis.watch.scene import Signal

HOT = Limit("coolant_temperature_c", "degC", "above", 100.0, "made up", for_s=1.0)
COLD = Limit("oil_temperature_least_c", "degC", "below", 60.0, "made up")


def signal(values, step=1.0, segment=None) -> Signal:
    values = np.array(values, dtype=float)
    segment = np.zeros(values.size, dtype=np.intp) if segment is None else np.array(segment, dtype=np.intp)
    return Signal("coolant_temperature", step * np.arange(values.size), values, segment)


def test_what_reaches_the_limit_has_not_passed_it() -> None:
    """A reading equal to the limit is within."""
    assert passings(signal([99, 100, 99]), HOT) == ()


def test_one_sample_has_no_length_but_a_bound() -> None:
    """Nothing is known but that it was over within two intervals."""
    (event,) = passings(signal([99, 104, 99]), HOT)
    assert (event.kind, event.samples, event.at_least_s, event.at_most_s) == ("single sample", 1, 0.0, 2.0)


def test_length_lies_between_its_own_samples_and_their_neighbours() -> None:
    """Three samples a second apart: two seconds at least, four at most."""
    (event,) = passings(signal([99, 101, 103, 102, 99]), HOT)
    assert (event.kind, event.at, event.at_least_s, event.at_most_s) == ("sustained", 2, 2.0, 4.0)


def test_shorter_than_the_limits_own_time_is_brief() -> None:
    """Half a second past a limit that minds a second is brief."""
    (event,) = passings(signal([99, 101, 103, 99], step=0.5), HOT)
    assert event.kind == "brief"


def test_at_an_end_of_the_record_nobody_knows_the_longest() -> None:
    """The bound above is open where there is no sample beyond."""
    (event,) = passings(signal([104, 104, 104]), HOT)
    assert (event.at_least_s, event.at_most_s) == (2.0, None)


def test_below_counts_downwards() -> None:
    """A least value is passed from above, and the coldest sample is the worst."""
    (event,) = passings(signal([61, 55, 52, 58, 61]), COLD)
    assert (event.first, event.at, event.last) == (1, 2, 3)


def test_segments_are_never_joined() -> None:
    """Across a hole two runs stay two, and times are not counted through it."""
    far = signal([104, 104, 104, 104], step=CLOSELY_S + 1.0, segment=[0, 0, 1, 1])
    assert [event.samples for event in passings(far, HOT)] == [2, 2]
    near = passings(signal([104, 104, 104, 104], segment=[0, 0, 1, 1]), HOT)
    assert [(event.passages, event.at_least_s, event.at_most_s) for event in near] == [(2, 2.0, None)]


def test_flutter_is_one_event() -> None:
    """Passages with a moment between them are told once, with their number and their summed time."""
    (event,) = passings(signal([104, 99] * 4), HOT)
    assert (event.passages, event.samples, event.kind) == (4, 4, "brief")
    assert event.at_least_s == 0.0


@given(st.lists(st.floats(90.0, 110.0), min_size=1, max_size=60), st.sampled_from([0.1, 1.0, 7.0]))
def test_every_sample_past_the_limit_is_in_one_event(values, step) -> None:
    """No sample is lost or counted twice, the worst is the worst, and the bounds of time are in order."""
    given_signal = signal(values, step)
    events = passings(given_signal, HOT)
    beyond = past(given_signal.values, HOT)
    assert sum(event.samples for event in events) == np.count_nonzero(beyond > 0.0)
    if events:
        assert max(beyond[event.at] for event in events) == beyond.max()
    for event in events:
        assert event.first <= event.at <= event.last
        assert event.at_most_s is None or event.at_most_s >= event.at_least_s + 2.0 * step * event.passages - 1e-9
    assert list(events) == sorted(events, key=lambda event: event.first)


@given(st.lists(st.floats(90.0, 110.0), min_size=1, max_size=60))
def test_both_sides_are_mirror_images(values) -> None:
    """Turned upside down, readings and limit give the same events."""
    mirrored = Limit("x", "degC", "below", -100.0, "made up", for_s=1.0)
    assert passings(signal(values), HOT) == passings(signal([-value for value in values]), mirrored)


@pytest.mark.parametrize("side", ["above", "below"])
def test_past_is_positive_on_the_wrong_side(side) -> None:
    """How far past the limit counts from the limit outwards."""
    limit = Limit("x", "degC", side, 100.0, "made up")
    outside = 103.0 if side == "above" else 97.0
    assert past(np.array([outside]), limit) == pytest.approx([3.0])
