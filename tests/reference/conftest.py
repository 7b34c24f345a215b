"""How a computed value is held against a printed one."""

from decimal import Decimal

import pytest


@pytest.fixture
def as_printed():
    """Hold a value against the text that a source prints: within `units` of half its last digit."""

    def check(value, printed, *, units=1.0):
        text = Decimal(printed)
        half = float(Decimal(5).scaleb(text.as_tuple().exponent - 1))
        assert float(value) == pytest.approx(float(text), rel=0, abs=units * half * (1 + 1e-9))

    return check
