"""A standard is applied within its limits, refused outside unless asked, and never without its warnings."""

import numpy as np
import pytest

from pullproof.analysis.wheel_power import power_curve
from pullproof.car import Engine
from pullproof.conditions import Air


@pytest.fixture(scope="module")
def run(simulation):
    return simulation.drive(simulation.Car())


def corrected(simulation, run, air, standard, *, engine=Engine(), outside_limits=False):  # noqa: B008
    sheet = simulation.replace(simulation.sheet, engine=engine)
    return power_curve(simulation.record(run, 20, air=air), sheet, standard=standard, outside_limits=outside_limits)


@pytest.mark.parametrize(("standard", "printed"), [("sae-j1349", 0.99497), ("iso-1585", 0.99489)])
def test_a_day_within_the_limits(simulation, run, standard, printed):
    """At 101.325 kPa, 25 degC and 60 % the factors are those worked with the vapour pressure of [ASHRAE 2017]."""
    curve = corrected(simulation, run, Air(25.0, 101.325, 60.0), standard)
    assert curve.correction.factor == pytest.approx(printed, abs=2e-5)
    assert curve.correction.within_limits
    np.testing.assert_allclose(curve.corrected_kw, printed * curve.wheel_power_kw, rtol=1e-4)


@pytest.mark.parametrize(("standard", "printed"), [("sae-j1349", 1.24393), ("iso-1585", 1.25293)])
def test_in_the_mountains_it_is_refused_unless_asked(simulation, run, standard, printed):
    """At 84 kPa both standards are outside their limits: no factor, the reason, and the factor only on demand."""
    air = Air(30.0, 84.0, 30.0)
    refused = corrected(simulation, run, air, standard)
    assert refused.correction.factor is None
    assert refused.corrected_kw is None
    assert "factor outside 0.93 to 1.07" in refused.correction.reason
    asked = corrected(simulation, run, air, standard, outside_limits=True)
    assert asked.correction.factor == pytest.approx(printed, abs=3e-5)
    assert not asked.correction.within_limits
    assert "factor outside" in asked.correction.reason


def test_none_corrects_nothing(simulation, run):
    """Without a standard there is no factor and no reason to give."""
    curve = corrected(simulation, run, Air(25.0, 101.325, 60.0), "none")
    assert (curve.correction.factor, curve.corrected_kw, curve.correction.reason) == (None, None, "")


def test_a_boosted_engine_is_warned_about(simulation, run):
    """An engine whose boost control makes up for weather is overcorrected; one without a charger is not."""
    air = Air(25.0, 101.325, 60.0)
    warned = corrected(simulation, run, air, "sae-j1349", engine=Engine(aspiration="turbo"))
    assert any("boost control" in doubt for doubt in warned.doubts)
    plain = corrected(simulation, run, air, "sae-j1349", engine=Engine(aspiration="none"))
    assert not any("boost control" in doubt for doubt in plain.doubts)
    assert any("crankshaft" in doubt for doubt in plain.doubts)


def test_what_the_standard_needs_and_nobody_said(simulation, run):
    """Without pressure or for a diesel there is no factor but a reason; without humidity there is a doubt."""
    missing = corrected(simulation, run, Air(25.0, None, 60.0), "sae-j1349").correction
    assert (missing.factor, missing.within_limits) == (None, False)
    assert "air_pressure_kpa" in missing.reason
    diesel = corrected(simulation, run, Air(25.0, 99.0, 60.0), "iso-1585", engine=Engine(fuel="diesel")).correction
    assert diesel.factor is None
    assert "fuel burnt" in diesel.reason
    dry = corrected(simulation, run, Air(25.0, 99.0), "sae-j1349").correction
    assert dry.factor == pytest.approx(1.0 + 1.18 * 0.0162, abs=1e-3)
    assert any("humidity" in doubt for doubt in dry.doubts)
