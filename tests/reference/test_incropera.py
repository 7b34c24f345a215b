"""Incropera & DeWitt, cross-flow: example 11.3, the exact effectiveness, and a march of the equations."""

import numpy as np
import pytest

from pullproof.physics import charge_cooler


def test_example_11_3():
    """Finned cross-flow, 300 to 100 degC against water 35 to 125 degC: effectiveness 0.755, NTU 2.1 (from memory)."""
    effectiveness = charge_cooler.effectiveness(573.15, 373.15, 308.15)
    assert effectiveness == pytest.approx(0.755, abs=5e-4)
    units = charge_cooler.transfer_units_crossflow(effectiveness, (125 - 35) / (300 - 100))
    assert units == pytest.approx(2.1, rel=0.04)


@pytest.mark.parametrize(
    ("units", "ratio", "printed"),
    [
        (1, 0.25, "0.58801"),
        (1, 0.5, "0.54749"),
        (2, 0.5, "0.73241"),
        (1, 1, "0.47622"),
        (2, 1, "0.61425"),
        (3, 1, "0.68129"),
    ],
)
def test_exact_effectiveness(as_printed, units, ratio, printed):
    """Both streams unmixed: the exact values of `ht` 1.2.0, `effectiveness_from_NTU(subtype='crossflow')`."""
    as_printed(charge_cooler.effectiveness_crossflow(units, ratio), printed)


@pytest.mark.parametrize(("units", "ratio"), [(0.7, 0.3), (2.0, 1.0), (4.0, 0.6)])
def test_against_a_march_through_the_core(units, ratio):
    """Heat balances marched cell by cell over a fine grid give the same effectiveness to 1e-4."""
    cells = 600
    hot_step, cold_step = units / cells, units * ratio / cells
    hot = np.ones(cells)
    # Each row of cells: the hot stream has entered the row with `hot`, the cold one crosses all columns.
    for _ in range(cells):
        entering = 0.0
        for column in range(cells):
            mean_factor = 1 + 0.5 * (hot_step + cold_step)
            exchanged = (hot[column] - entering) / mean_factor
            hot[column] -= hot_step * exchanged
            entering += cold_step * exchanged
    assert 1 - hot.mean() == pytest.approx(float(charge_cooler.effectiveness_crossflow(units, ratio)), abs=1e-4)
