"""A standard is applied within its limits, refused outside unless asked, and never without its warnings."""

import numpy as np
import pytest

from pullproof.analysis.wheel_power import power_curve
from pullproof.car import Engine
from pullproof.channels import Trace
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
    assert "fuel_mg_per_l" in diesel.reason
    dry = corrected(simulation, run, Air(25.0, 99.0), "sae-j1349").correction
    assert dry.factor == pytest.approx(1.0 + 1.18 * 0.0162, abs=1e-3)
    assert any("humidity" in doubt for doubt in dry.doubts)


class TestDiesel:
    """ISO 1585 and SAE J1349 for compression ignition: f_a to the power f_m, f_m = 0.036 q/r - 1.14.

    f_m is 1 at 59.44 mg per litre, cycle and boost ratio, so that the factor is the atmospheric one; 0.48 at 45 (an
    industrial diesel's service manual). Atmospheric factors are worked with the vapour pressure of [ASHRAE 2017];
    their exponents are from memory.
    """

    UNIT_RATE = 2.14 / 0.036

    def factor(self, simulation, run, air, *, standard="iso-1585", pressure=None, outside_limits=False, **engine):
        sheet = simulation.replace(simulation.sheet, engine=Engine(fuel="diesel", **engine))
        record = simulation.record(run, 20, air=air)
        if pressure is not None:
            time = record.traces["engine_speed"].time
            trace = Trace("charge_pressure", "kPa", time, np.full(time.shape, pressure))
            record = simulation.replace(record, traces={**record.traces, "charge_pressure": trace})
        return power_curve(record, sheet, standard=standard, outside_limits=outside_limits).correction

    @pytest.mark.parametrize(
        ("engine", "printed"),
        [
            ({"aspiration": "none"}, "0.99574"),
            ({"aspiration": "turbo", "boost_ratio": 1.0}, "0.99702"),
            ({"aspiration": "turbo", "boost_ratio": 1.0, "charge_cooling": "liquid"}, "0.99702"),
        ],
    )
    @pytest.mark.parametrize("standard", ["iso-1585", "sae-j1349"])
    def test_state_a(self, simulation, run, standard, engine, printed):
        """101.325 kPa, 25 degC, 60 %: each kind of charging has its own exponents."""
        found = self.factor(
            simulation, run, Air(25.0, 101.325, 60.0), standard=standard, fuel_mg_per_l=self.UNIT_RATE, **engine
        )
        assert found.factor == pytest.approx(float(printed), abs=2e-5)
        assert found.within_limits

    def test_the_engine_factor(self, simulation, run):
        """At 45 mg the atmospheric factor counts to the power 0.48."""
        whole, part = (
            self.factor(simulation, run, Air(35.0, 98.0, 70.0), aspiration="none", fuel_mg_per_l=rate).factor
            for rate in (self.UNIT_RATE, 45.0)
        )
        assert whole == pytest.approx(1.07711, abs=2e-5)
        assert np.log(part) / np.log(whole) == pytest.approx(0.48, abs=1e-3)

    def test_boost_is_read_from_the_log(self, simulation, run):
        """Charge pressure over ambient pressure divides the fuel; the log goes before the car sheet."""
        air = Air(35.0, 98.0, 70.0)
        sheet = {"aspiration": "turbo", "fuel_mg_per_l": 2.0 * 45.0}
        logged = self.factor(simulation, run, air, pressure=196.0, boost_ratio=1.0, **sheet)
        stated = self.factor(simulation, run, air, boost_ratio=2.0, **sheet)
        assert logged.factor == pytest.approx(stated.factor, rel=1e-6)
        assert logged.factor == pytest.approx(1.07835**0.48, abs=3e-5)

    @pytest.mark.parametrize(
        ("engine", "wanted"),
        [
            ({}, "fuel_mg_per_l"),
            ({"fuel_mg_per_l": 100.0}, "aspiration"),
            ({"fuel_mg_per_l": 100.0, "aspiration": "turbo"}, "boost_ratio"),
        ],
    )
    def test_what_is_not_known_is_named(self, simulation, run, engine, wanted):
        """No factor, but exactly what to add to the car sheet."""
        found = self.factor(simulation, run, Air(25.0, 99.0, 50.0), **engine)
        assert found.factor is None
        assert wanted in found.reason

    def test_outside_its_own_limits_it_is_refused_unless_asked(self, simulation, run):
        """A diesel's factor may lie from 0.9 to 1.1; at 84 kPa it does not."""
        engine = {"aspiration": "none", "fuel_mg_per_l": self.UNIT_RATE}
        refused = self.factor(simulation, run, Air(30.0, 84.0, 30.0), **engine)
        assert refused.factor is None
        assert "0.9 to 1.1" in refused.reason
        asked = self.factor(simulation, run, Air(30.0, 84.0, 30.0), outside_limits=True, **engine)
        assert asked.factor == pytest.approx(1.21074, abs=3e-5)

    def test_it_comes_with_its_warnings(self, simulation, run):
        """Where the fuel comes from, what was taken of the cooling, and what the committee says of the formula."""
        engine = {"aspiration": "turbo", "boost_ratio": 2.0, "fuel_mg_per_l": 100.0}
        found = self.factor(simulation, run, Air(25.0, 99.0, 50.0), standard="sae-j1349", **engine)
        for words in ("fuel per cycle of the car sheet", "charge_cooling", "no longer suit", "boost control"):
            assert any(words in doubt for doubt in found.doubts), words
