"""Path files: what they mean, and one sentence for every slip."""

import math

import numpy as np
import pytest

from pullproof.analysis.airpath import load_path
from pullproof.analysis.airpath.elements import Bend, Cooler, Flattened, HoseJoint, Mitre, Oval, Pipe, Reducer, Step
from pullproof.errors import CannotRead, WrongUse

PIPE = 'kind = "pipe"\nlength_mm = 300'
WHOLE = (
    'kind = "entrance"\nedge_radius_mm = 5',
    'kind = "hose"\ngap_mm = 10',
    'kind = "bend"\nangle_deg = 90\nradius_mm = 85\nformed = true',
    PIPE,
    'kind = "mitre"\nangle_deg = 60\ncuts = 2\nlength_mm = 40',
    'kind = "cooler"\nloss_kpa = 6\nat_air_mass_flow_gs = 220\nat_pressure_kpa = 235\nat_temperature_c = 90',
    'kind = "reducer"\nto_bore_mm = 63.5\nlength_mm = 60',
    'kind = "flattened"\nheight_mm = 45\nlength_mm = 80\ntransition_mm = 25',
    'kind = "mesh"\nopen_pct = 70\nopening_mm = 1.2',
    'kind = "plate"\nopen_pct = 90',
    'kind = "step"\nto_bore_mm = 60',
    'kind = "oval"\nwidth_mm = 80\nheight_mm = 40\nlength_mm = 120\nshape = "ellipse"',
    'kind = "throttle"\nthrottle_bore_mm = 55\nedge_radius_mm = 4',
    'kind = "exit"',
)


def test_every_kind_is_read(write_path):
    """All kinds of element are read, millimetres and degrees turned into SI, in the order of the file."""
    path = write_path(*WHOLE, head='name = "whole"\nbore_mm = 57\nwall_mm = 1.5\nmaterial = "stainless steel"')
    assert path.name == "whole"
    hose, bend = path.elements[1], path.elements[2]
    assert isinstance(hose, HoseJoint)
    assert hose.hose_diameter == pytest.approx(0.060)  # the outside of 57 mm with a wall of 1.5 mm
    assert isinstance(bend, Bend)
    assert bend.angle == pytest.approx(math.pi / 2)
    assert bend.length == pytest.approx(0.085 * math.pi / 2)
    assert bend.formed
    assert bend.tube.material == "stainless steel"
    kinds = [type(element) for element in path.elements]
    for kind in (Pipe, Mitre, Cooler, Reducer, Flattened, Oval):
        assert kinds.count(kind) == 1
    cooler = next(element for element in path.elements if isinstance(element, Cooler))
    assert cooler.known_density == pytest.approx(235e3 / (287.055 * 363.15))


def test_bore_is_taken_over_from_the_element_before(write_path):
    """An element without a bore of its own begins where the one before it ends."""
    path = write_path('kind = "reducer"\nto_bore_mm = 76.2\nlength_mm = 75', PIPE, head="bore_mm = 63.5")
    assert path.elements[1].inlet == pytest.approx(0.0762)
    assert not path.doubts


def test_what_does_not_fit_becomes_a_step(write_path):
    """Two bores that do not fit are joined by a square step, and that is said."""
    path = write_path(PIPE, f"{PIPE}\nbore_mm = 76.2", head="bore_mm = 63.5")
    step = path.elements[1]
    assert isinstance(step, Step)
    assert step.found
    assert path.doubts == (
        "element 2 starts with 76.2 mm and the one before it ends with 63.5 mm: a square step is counted between them",
    )


def test_sides_of_a_path_with_a_cooler(write_path):
    """Before the cooler the air is hot, behind it cold; without one the file says so."""
    path = write_path(PIPE, WHOLE[5], PIPE, head="bore_mm = 57")
    assert path.sides == ("hot", "hot", "cold")
    assert write_path(PIPE, head='bore_mm = 57\nside = "hot"').sides == ("hot",)
    assert write_path(PIPE, head="bore_mm = 57").sides == ("cold",)


def test_volume_and_length(write_path):
    """Volume of a path is that of its pieces: a straight litre, and a bend by Pappus."""
    length = 1e6 / (math.pi / 4 * 50**2)  # mm for one litre
    path = write_path(f'kind = "pipe"\nlength_mm = {length}', head="bore_mm = 50")
    assert path.volume == pytest.approx(1e-3)
    bend = write_path('kind = "bend"\nangle_deg = 180\nradius_mm = 100', head="bore_mm = 50")
    assert bend.volume == pytest.approx(math.pi * 0.1 * math.pi / 4 * 0.05**2)
    cone = write_path('kind = "reducer"\nto_bore_mm = 100\nlength_mm = 100', head="bore_mm = 50")
    by_slices = np.mean(np.pi / 4 * np.linspace(0.05, 0.1, 20_001) ** 2) * 0.1
    assert cone.volume == pytest.approx(by_slices, rel=1e-4)


def test_flow_table(write_path):
    """The file may list the flow of a car without logs."""
    path = write_path(
        PIPE,
        head="bore_mm = 57\n[flow]\nrpm = [4000, 5000]\ncharge_pressure_kpa = [230, 235]",
    )
    assert path.flow.rpm == (4000.0, 5000.0)
    assert path.flow.charge_pressure_kpa == (230.0, 235.0)


@pytest.mark.parametrize(
    ("head", "elements", "sentence"),
    [
        ("bore_mm = 57", (), "has no [[element]]"),
        ("", (PIPE,), 'element 1: key "bore_mm" is missing'),
        ("bore_mm = 57", ("length_mm = 3",), 'element 1: key "kind" is missing'),
        ("bore_mm = 57", (PIPE, 'kind = "pipe"'), 'element 2: key "length_mm" is missing'),
        ("bore_mm = 57", ('kind = "elbow"',), 'key "element[1].kind" is "elbow"'),
        ("bore_mm = 57", ('kind = "pipe"\nlenght_mm = 300\nlength_mm = 1',), 'Did you mean "length_mm"?'),
        ("bore_mm = 57", ('kind = "bend"\nangle_deg = 200\nradius_mm = 80',), "outside 1 to 180 deg"),
        ("bore_mm = 57", ('kind = "bend"\nangle_deg = 90\nradius_mm = 20',), "less than half the bore of 57 mm"),
        ("bore_mm = 57", ('kind = "bend"\nangle_deg = 90\nradius_mm = 80\nformed = "yes"',), "must be true or false"),
        ("bore_mm = 57", ('kind = "flattened"\nheight_mm = 60\nlength_mm = 80',), "more than the bore of 57 mm"),
        ("bore_mm = 0.057", (PIPE,), "outside 10 to 200 mm"),
        ("bore_mm = 57\nfinnish = 1", (PIPE,), "is not known"),
        ('bore_mm = 57\nmaterial = "wood"', (PIPE,), "Use one of: aluminium"),
        ("bore_mm = 57\n[flow]\nrpm = [5000, 4000]", (PIPE,), "flow.rpm does not rise"),
        ("bore_mm = 57\n[flow]\nrpm = [4000]\nair_mass_flow_gs = [1, 2]", (PIPE,), "has 2 entries and flow.rpm 1"),
    ],
)
def test_slips(write_path, head, elements, sentence):
    """A slip in the file gets one sentence that names the file, the place and what to do."""
    with pytest.raises(WrongUse) as caught:
        write_path(*elements, head=head)
    assert sentence in str(caught.value)
    assert "path.toml" in str(caught.value)
    assert caught.value.advice


def test_a_file_that_is_not_there(tmp_path):
    """A missing file, and one that is no TOML, are said to be so."""
    with pytest.raises(CannotRead, match="cannot be opened"):
        load_path(tmp_path / "nothing.toml")
    broken = tmp_path / "broken.toml"
    broken.write_text("bore_mm = \n", encoding="utf-8")
    with pytest.raises(CannotRead, match="not valid TOML"):
        load_path(broken)
