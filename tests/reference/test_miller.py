"""Miller, Internal Flow Systems, section 9.12: the worked bend (printed answers as in `fluids`' own tests)."""

import numpy as np
import pytest

from pullproof.physics import bends


@pytest.mark.parametrize(("tail", "printed"), [(30, 0.150), (2, 0.093), (0, 0.135)])
def test_bend_with_outlet_tangent(tail, printed):
    """A 0.6 m bend of R/D 2 at 4 m/s has 0.150, 0.093 and 0.135 heads with 30, 2 and 0 diameters behind it."""
    found = bends.bend_rounded_miller(0.6, 1.2, np.pi / 2, 4 * 0.6 / 1.14e-6, 2e-5, tail * 0.6)
    assert found.value == pytest.approx(printed, rel=0.05)
