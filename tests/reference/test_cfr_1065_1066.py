"""40 CFR 1065.640, 1065.642 and 1066.630: flow meters of exhaust test benches, with the regulation's own examples."""

import numpy as np
import pytest

from pullproof.physics import orifices

GAS_CONSTANT = 8.314472


@pytest.mark.parametrize(("heat_ratio", "printed"), [(1.385, "0.6822"), (1.399, "0.6846")])
def test_choked_flow_coefficient(as_printed, heat_ratio, printed):
    """A critical venturi without approach velocity has C_f 0.6822 (diluted exhaust), 0.6846 (air): 1065.640 table 4,
    from memory.
    """
    as_printed(orifices.nozzle_flow_function(0.3, heat_ratio), printed)


def test_critical_venturi_of_1065_642(as_printed):
    """Through the choked nozzle of 1065.642 pass 33.690 mol/s, with the regulation's ratio of C_f for its throat."""
    # C_f 0.7219 belongs to a venturi with approach velocity; the nozzle function carries the rest of the equation.
    molar_mass = 28.7789e-3
    ideal = 0.985 * 0.00456 * 98_836.0 / np.sqrt(GAS_CONSTANT / molar_mass * 378.15) / molar_mass
    as_printed(0.7219 * ideal, "33.690", units=2)
    still_air = ideal * orifices.nozzle_flow_function(0.3, 1.385)
    assert still_air / 33.690 == pytest.approx(0.6822 / 0.7219, rel=1e-4)


def test_air_through_a_hole_is_the_same_equation():
    """In SI, choked air is 0.040415 C_d A p/sqrt(T): the factor of every leak table."""
    flow = orifices.orifice_mass_flow(1e-4, 0.8, 240e3, 101_325.0, 323.15)
    assert flow == pytest.approx(0.040415 * 0.8 * 1e-4 * 240e3 / np.sqrt(323.15), rel=2e-5)


@pytest.mark.parametrize(("millimetres", "grams"), [(1, 0.339), (3, 3.051), (5, 8.476)])
def test_leak_holes(millimetres, grams):
    """Holes of 1, 3 and 5 mm at 240 kPa and 50 degC lose 0.34, 3.05 and 8.48 g/s."""
    area = np.pi / 4 * (millimetres * 1e-3) ** 2
    flow = orifices.orifice_mass_flow(area, 0.8, 240e3, 101_325.0, 323.15)
    assert flow * 1e3 == pytest.approx(grams, abs=5e-4)
