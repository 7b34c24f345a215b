from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pullproof.analysis.air_system import CompressorMap, SpeedLine, load_compressor_map
from pullproof.errors import WrongUse
from pullproof.physics.compressor import ReferenceState

ROOT = Path(__file__).parents[3]
SMALL = load_compressor_map(ROOT / "tests" / "data" / "compressor_maps" / "kg_s.csv")
EXAMPLE = load_compressor_map(ROOT / "docs" / "example-compressor-map.csv")
REFERENCE = ReferenceState(298.15, 1e5)


def line(speed, flow, ratio, efficiency=None):
    flow, ratio = np.array(flow, dtype=float), np.array(ratio, dtype=float)
    return SpeedLine(speed, flow, ratio, np.full(flow.shape, np.nan) if efficiency is None else np.array(efficiency))


@pytest.mark.parametrize("mapped", [SMALL, EXAMPLE], ids=["small", "example"])
def test_every_point_of_the_map_is_met_exactly(mapped):
    """At a point that stands in the file speed and efficiency are those of the file."""
    for one in mapped.lines:
        found = mapped.locate(one.flow, one.pressure_ratio)
        assert set(found.places) == {"inside"}
        np.testing.assert_allclose(found.speed, one.speed, rtol=1e-9)
        np.testing.assert_allclose(found.efficiency, one.efficiency, rtol=1e-9)
        np.testing.assert_allclose(found.surge_margin, 1.0 - one.flow[0] / one.flow, atol=1e-9)
        np.testing.assert_allclose(found.choke_share, one.flow / one.flow[-1], rtol=1e-9)


@settings(deadline=None, max_examples=50)
@given(share=st.floats(0.0, 1.0), place=st.floats(0.0, 1.0), mapped=st.sampled_from([SMALL, EXAMPLE]))
def test_a_place_on_the_map_is_found_again(share, place, mapped):
    """Speed and place give flow and pressure ratio, and these give the speed and the place back."""
    speed = mapped.lines[0].speed + share * (mapped.lines[-1].speed - mapped.lines[0].speed)
    flow, ratio = mapped.point(speed, place)
    found = mapped.locate(flow, ratio)
    assert found.places == ("inside",)
    np.testing.assert_allclose(found.speed, speed, rtol=1e-6)
    surge = mapped.point(speed, 0.0)[0]
    np.testing.assert_allclose(found.surge_margin, 1.0 - surge / flow, atol=1e-6)
    assert -1e-9 <= found.surge_margin <= 1.0
    assert 0.0 < found.choke_share <= 1.0 + 1e-9


@settings(deadline=None, max_examples=50)
@given(flow=st.floats(0.0, 400.0), ratio=st.floats(1.0, 5.0), mapped=st.sampled_from([SMALL, EXAMPLE]))
def test_outside_nothing_is_read(flow, ratio, mapped):
    """A point is inside and has all numbers, or outside and has none; efficiency stays between the map's own."""
    found = mapped.locate(flow, ratio)
    numbers = np.array([found.speed, found.efficiency, found.surge_margin, found.choke_share])
    inside = found.places == ("inside",)
    assert np.isfinite(numbers).all() if inside else np.isnan(numbers).all()
    if inside:
        known = np.concatenate([one.efficiency for one in mapped.lines])
        assert known.min() - 1e-9 <= float(found.efficiency) <= known.max() + 1e-9


@settings(deadline=None, max_examples=50)
@given(flow=st.floats(110.0, 130.0), low=st.floats(1.7, 2.4), step=st.floats(0.001, 0.5))
def test_more_pressure_at_equal_flow_means_more_speed(flow, low, step):
    """At one flow speed rises with pressure ratio, and the surge margin falls."""
    found = SMALL.locate(np.array([flow, flow]), np.array([low, low + step]))
    if set(found.places) == {"inside"}:
        assert found.speed[1] > found.speed[0]
        assert found.surge_margin[1] < found.surge_margin[0]
        assert found.choke_share[1] < found.choke_share[0]


@pytest.mark.parametrize(
    ("flow", "ratio", "place"),
    [
        (60.0, 2.0, "left of the surge line"),
        (30.0, 1.5, "left of the surge line"),
        (30.0, 1.1, "below the slowest line"),
        (60.0, 1.2, "below the slowest line"),
        (120.0, 1.2, "beyond the end of the speed lines"),
        (200.0, 2.0, "beyond the end of the speed lines"),
        (150.0, 3.2, "above the fastest line"),
        (190.0, 3.2, "above the fastest line"),
        (100.0, np.nan, "unknown"),
        (100.0, 1.95, "inside"),
    ],
)
def test_it_is_said_where_a_point_lies(flow, ratio, place):
    """Each limit of a map has its own name."""
    assert SMALL.locate(flow, ratio).places == (place,)


def test_limits_are_lines_to_draw():
    """Surge and end line join the lowest and the highest flows."""
    assert SMALL.surge_line[0].tolist() == [40.0, 70.0, 110.0]
    assert SMALL.end_line[1].tolist() == [1.2, 1.6, 2.3]
    assert np.isnan(SMALL.point(200_000.0, 0.5)).all()
    assert np.isnan(SMALL.point(100_000.0, 1.5)).all()


def test_a_map_may_have_no_efficiency():
    """Without efficiencies speed and margins are read all the same."""
    plain = CompressorMap("plain", REFERENCE, tuple(line(o.speed, o.flow, o.pressure_ratio) for o in SMALL.lines))
    found = plain.locate(100.0, 1.9)
    assert not plain.has_efficiency
    assert SMALL.has_efficiency
    assert np.isfinite(found.speed)
    assert np.isnan(found.efficiency)


SLOW = line(80e3, [40, 60, 80], [1.4, 1.35, 1.2])


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ((SLOW,), "two speed lines"),
        ((SLOW, line(100e3, [30, 60, 90], [1.8, 1.7, 1.5])), "lowest .surge. flow does not rise"),
        ((SLOW, line(100e3, [50, 60, 75], [1.8, 1.7, 1.5])), "highest flow does not rise"),
        ((SLOW, line(100e3, [50, 70, 90], [1.8, 1.3, 1.0])), "cross or fold"),
    ],
)
def test_lines_that_fold_are_refused(lines, said):
    """A map on which one point would lie at two speeds is no map."""
    with pytest.raises(WrongUse, match=said):
        CompressorMap("folded", REFERENCE, lines)
