"""Cut lists, worked by hand."""

import math

import pytest

from pullproof.analysis.airpath import cut_list

PIPE = 'kind = "pipe"\nlength_mm = 300'
BEND = 'kind = "bend"\nangle_deg = 90\nradius_mm = 90'
HEAD = 'name = "cold side"\nbore_mm = 60\nwall_mm = 2\nmaterial = "aluminium"'


def test_pieces_and_mass(write_path):
    """A metre of 64 x 2 mm aluminium tube weighs 1.052 kg, straight or bent (handbook: 1.05 kg/m)."""
    radius = 1000 / (math.pi / 2)
    for element in ('kind = "pipe"\nlength_mm = 1000', f'kind = "bend"\nangle_deg = 90\nradius_mm = {radius}'):
        found = cut_list(write_path(element, head=HEAD))
        by_hand = 2700 * math.pi / 4 * (0.064**2 - 0.060**2) * 1.0
        assert found.tube_mass_kg == pytest.approx(by_hand)
        assert found.pieces[0].outside_mm == pytest.approx(64.0)
        assert found.developed_mm == pytest.approx(1000.0)


def test_bend_is_given_as_a_bender_asks(write_path):
    """A bend carries angle, centre-line radius and developed length: 141.4 mm for 90 degrees on 90 mm."""
    piece = cut_list(write_path(BEND, head=HEAD)).pieces[0]
    assert piece.angle_deg == pytest.approx(90.0)
    assert piece.radius_mm == pytest.approx(90.0)
    assert piece.developed_mm == pytest.approx(141.4, abs=0.05)


@pytest.mark.parametrize(
    ("elements", "welds"),
    [
        ((PIPE,), 0),
        ((PIPE, BEND, PIPE), 2),
        ((PIPE, f"{BEND}\nformed = true", PIPE), 0),
        ((PIPE, f"{BEND}\nformed = true", f"{PIPE}\nwall_mm = 1.5"), 1),
        ((f"{BEND}\nformed = true", f"{BEND}\nformed = true"), 0),
        ((f"{BEND}\nformed = true", BEND), 1),
        ((PIPE, 'kind = "hose"', PIPE), 0),
        ((PIPE, 'kind = "mitre"\nangle_deg = 60\ncuts = 2', PIPE), 4),
        ((PIPE, 'kind = "reducer"\nto_bore_mm = 76\nlength_mm = 60', PIPE), 2),
    ],
)
def test_welds(write_path, elements, welds):
    """Metal neighbours are welded, formed bends are not, hoses never, and each cut of a mitre is a weld."""
    assert cut_list(write_path(*elements, head=HEAD)).welds == welds


def test_stock(write_path):
    """Straight stock is the sum with a saw cut each; bends and reducers are bought by number."""
    path = write_path(
        PIPE, BEND, PIPE, BEND, f"{BEND}\nformed = true", 'kind = "reducer"\nto_bore_mm = 76\nlength_mm = 60', head=HEAD
    )
    stock = {entry.what: entry.quantity for entry in cut_list(path).stock}
    assert stock["aluminium tube 64 x 2 mm"] == f"{300 + 300 + 90 * math.pi / 2 + 3 * 3:.0f} mm with saw cuts"
    assert stock["90 deg bend, aluminium tube 64 x 2 mm, centre-line radius 90 mm"] == "2"
    assert stock["reducer, 60 to 76 mm bore"] == "1"


def test_hoses_and_clamps(write_path):
    """A hose fits the pipe ends' outside; its clamps close over two hose walls more."""
    path = write_path(PIPE, 'kind = "hose"\nto_bore_mm = 63\nlength_mm = 90', head=HEAD)
    hose = cut_list(path).hoses[0]
    assert hose.inside_mm == pytest.approx((64.0, 67.0))
    assert hose.clamp_mm == pytest.approx((74.0, 77.0))
    assert hose.clamps == 2
    assert hose.length_mm == pytest.approx(90.0)


def test_notes_and_cautions(write_path):
    """The list warns of beads, clamping length and pressure, and passes on what does not fit."""
    path = write_path(PIPE, f"{PIPE}\nbore_mm = 50", 'kind = "flattened"\nheight_mm = 40\nlength_mm = 50', head=HEAD)
    found = cut_list(path)
    assert any("bead" in note for note in found.notes)
    assert any("square step" in note for note in found.notes)
    assert any("Press flat" in note for note in found.notes)
    assert any("Pressure-test" in caution for caution in found.cautions)
