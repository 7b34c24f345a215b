"""NACA Report 1135 and the gas tables of the textbooks: isentropic and Fanno flow, ratio of specific heats 1.4."""

import numpy as np
import pytest

from pullproof.physics import compressible_flow as flow
from pullproof.physics import orifices

GAS_CONSTANT = 287.055
# Mach number, p/p0, A/A* (tables; values from memory, confirmed with pygasflow 1.4.1), f L*/D of Fanno flow
TABLE = [
    (0.1, "0.99303", "5.8218", None),
    (0.2, "0.97250", "2.9635", "14.5333"),
    (0.3, "0.93947", "2.0351", "5.2993"),
    (0.5, "0.84302", "1.3398", "1.0691"),
]
CHOKED = 0.684731  # sqrt(g)(2/(g+1))^((g+1)/2(g-1)), ISO 9300 for an ideal gas


@pytest.mark.parametrize(("mach", "pressure_ratio", "area_ratio"), [row[:3] for row in TABLE])
def test_mach_number_and_static_pressure(as_printed, mach, pressure_ratio, area_ratio):
    """A pipe A/A* times wider than its sonic throat runs at the table's Mach number and static pressure."""
    total_pressure, total_temperature, area = 150e3, 310.0, 2e-3
    critical = area / float(area_ratio)
    mass_flow = CHOKED * critical * total_pressure / np.sqrt(GAS_CONSTANT * total_temperature)
    found = flow.mach_number(mass_flow, total_pressure, total_temperature, area)
    assert found == pytest.approx(mach, rel=2e-4)
    static = flow.static_pressure(mass_flow, total_pressure, total_temperature, area)
    as_printed(static / total_pressure, pressure_ratio, units=3)


def test_critical_pressure_ratio_and_choked_flow(as_printed):
    """Air chokes at 0.52828 of the total pressure and then passes 0.684731 dimensionless."""
    as_printed(orifices.critical_pressure_ratio(), "0.528282")
    as_printed(orifices.nozzle_flow_function(0.4), "0.684731")
    as_printed(orifices.nozzle_flow_function(0.528282), "0.684731")


@pytest.mark.parametrize(("inlet", "outlet"), [(0.2, 0.3)])
def test_fanno_flow_between_two_rows(inlet, outlet):
    """A pipe as long as two rows of the Fanno table are apart loses the total pressure that the table says."""
    rows = {row[0]: row for row in TABLE}
    coefficient = float(rows[inlet][3]) - float(rows[outlet][3])
    total_pressure, total_temperature, area = 200e3, 330.0, 2e-3
    mass_flow = flow.largest_mass_flow(total_pressure, total_temperature, area)  # Mach 0.3, to find Mach 0.2 from
    mass_flow = mass_flow * float(rows[0.3][2]) / float(rows[0.2][2])
    # Total pressure falls as A/A* does, because the mass flow is the same at both ends.
    printed = 1 - float(rows[outlet][2]) / float(rows[inlet][2])
    loss = flow.total_pressure_loss(coefficient * 0.9999, mass_flow, total_pressure, total_temperature, area)
    assert loss / total_pressure == pytest.approx(printed, rel=5e-4)
