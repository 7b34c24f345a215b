"""ISO 5167: expansibility of nozzles, as an independent form of subsonic compressible flow."""

import numpy as np
import pytest
from fluids import nozzle_expansibility

from pullproof.physics import orifices


def test_witness_reproduces_the_standard(as_printed):
    """The library's expansibility gives the example of ISO 5167-4:2003 section 5.6: 0.994236."""
    as_printed(nozzle_expansibility(D=0.1, Do=0.06, P1=60e5, P2=59.5e5, k=1.3), "0.9942")


@pytest.mark.parametrize("heat_ratio", [1.3, 1.4])
def test_nozzle_flow_function_is_expansibility(heat_ratio):
    """Out of still air, psi = expansibility * sqrt(2 (1 - r)) at every subsonic ratio: two forms of one nozzle."""
    for ratio in np.linspace(0.75, 0.999, 20):
        expansibility = nozzle_expansibility(D=1.0, Do=1e-3, P1=1e5, P2=ratio * 1e5, k=heat_ratio)
        psi = orifices.nozzle_flow_function(ratio, heat_ratio)
        assert psi == pytest.approx(expansibility * np.sqrt(2 * (1 - ratio)), rel=1e-6)
