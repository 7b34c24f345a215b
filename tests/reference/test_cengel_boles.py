"""Cengel & Boles, Thermodynamics: effect of efficiency on compressor power (printed answers from memory)."""

import pytest

from pullproof.physics import compressor


def test_compressor_power():
    """Air from 100 kPa, 12 degC to 800 kPa at 0.2 kg/s and 80 %: 569.5 K and 58.0 kW, within 1 %."""
    assert compressor.outlet_temperature(285.15, 8.0, 0.80) == pytest.approx(569.5, rel=0.01)
    assert 0.2 * compressor.specific_work(285.15, 8.0, 0.80) == pytest.approx(58.0e3, rel=0.01)
