"""Measurement and prediction agree only where they could have disagreed."""

from dataclasses import replace

import numpy as np
import pytest
from tests.report.airs import breathed, quantity
from tests.report.conftest import measure, realistic
from tests.report.other_reports import CAR, NEW, OLD, changed, flow, path_of

import pullproof.analysis.prediction as module
from pullproof.analysis.airpath import prior_response
from pullproof.analysis.comparison.result import LeftOut
from pullproof.analysis.prediction import predict


@pytest.fixture
def ask(tmp_path, monkeypatch):
    """Set measures beside what the old and the new path predict over the flow of a path file."""
    monkeypatch.setattr(module, "flow_from_logs", lambda records, car: flow())
    paths = path_of(tmp_path, OLD, "old"), path_of(tmp_path, NEW, "new")
    compared = changed(tmp_path)

    def answer(*measures, **more):
        found = predict(realistic(measures=measures, **more), *paths, (), CAR)
        return {one.id: one for one in found.agreements}, found

    return answer, compared, prior_response()


def duty(compared, shift=0.0, half=0.3, **more):
    """Mean duty measured as predicted, `shift` off."""
    expected = compared.wastegate_duty_change.estimate + shift
    return measure("wastegate_duty.mean", "%", 95.0, 95.0 + expected, 0.0, half, 0.5, "lower", **more)


def test_the_difference_and_its_interval_are_those_of_two_independent_doubts(ask):
    """Half widths of measurement and prediction add in squares [GUM 5.1.2]."""
    answer, compared, _ = ask
    one = answer(duty(compared, shift=0.7))[0]["wastegate_duty.mean"]
    assert one.gap == pytest.approx(0.7)
    low, high = compared.wastegate_duty_change.interval
    half = np.hypot(0.3, (high - low) / 2)
    assert one.gap_interval == pytest.approx((0.7 - half, 0.7 + half))


def test_far_off_they_differ_near_they_agree_and_wide_says_nothing(ask):
    """An interval of the difference without zero is a contradiction; one that holds it and is wide is no agreement."""
    answer, compared, _ = ask
    for shift, half, judgement in ((30.0, 0.3, "differ"), (0.0, 50.0, "unclear")):
        assert answer(duty(compared, shift, half))[0]["wastegate_duty.mean"].judgement == judgement
    still = measure("boost.mean", "kPa", 138.0, 138.1, 0.0, 0.3, 2.0, "same")
    assert answer(still)[0]["boost.mean"].judgement == "agree"


def test_boost_is_held_by_its_control_unless_the_gate_is_shut(ask):
    """With room left the controller keeps boost; with the duty pinned the part shows as charge pressure."""
    answer, compared, _ = ask
    boost = measure("boost.mean", "kPa", 138.0, 139.0, 0.0, 0.5, 1.0, "higher")
    assert answer(boost)[0]["boost.mean"].predicted == 0.0
    pinned = duty(compared, censored=True)
    found, whole = answer(boost, pinned)
    assert found["boost.mean"].predicted == compared.mean_charge_pressure_gain.estimate
    assert "wastegate_duty.mean" not in found
    assert "pinned" in next(one.reason for one in whole.left_out if one.measure == "wastegate_duty.mean")


@pytest.mark.parametrize(("before", "sees"), [(0.4, False), (9.0, True)])
def test_the_loss_of_charge_pressure_counts_where_the_sensor_sees_it(ask, before, sees):
    """Two readings that differ by less than the path loses come from behind it, and the path does not change them."""
    answer, compared, _ = ask
    drop = measure("charge_pressure_drop.mean", "kPa", before, before, 0.0, 0.3, 0.5, "same")
    one = answer(drop)[0]["charge_pressure_drop.mean"]
    assert one.predicted == (-compared.mean_saved.estimate if sees else 0.0)
    assert ("before the path" in one.basis) == sees


def test_earlier_boost_than_the_volume_says_contradicts_nothing(ask):
    """The volume alone makes boost later, less loss makes it earlier: only later than predicted contradicts."""
    answer, compared, _ = ask
    expected = compared.spool_delay_rpm.estimate
    for shift, judgement in ((-500.0, "unclear"), (500.0, "differ")):
        reaches = measure("boost.reaches", "rpm", 3000.0, 3000.0 + expected + shift, 0.0, 10.0, 40.0, "lower")
        assert answer(reaches)[0]["boost.reaches"].judgement == judgement


def test_what_was_not_measured_is_named_with_its_reason(ask):
    """A predicted measure that the comparison left out keeps the comparison's reason."""
    answer, _, _ = ask
    found, whole = answer(left_out=(LeftOut("boost.mean", "no log has boost"),))
    assert found == {}
    assert {one.measure: one.reason for one in whole.left_out}["boost.mean"] == "no log has boost"
    assert whole.sentence == "Nothing that the paths predict was measured."


def test_another_level_widens_the_prediction_too(ask):
    """At 80 % every interval is narrower by the normal distribution's 1.2816 over 1.96 [table of the distribution]."""
    answer, compared, _ = ask
    wide = answer(duty(compared))[0]["wastegate_duty.mean"]
    narrow = answer(replace(duty(compared), level=0.8), level=0.8)[0]["wastegate_duty.mean"]
    ratio = np.diff(narrow.predicted_interval) / np.diff(wide.predicted_interval)
    assert ratio == pytest.approx(1.2816 / 1.9600, rel=1e-3)


class TestTheLossItself:
    """Where sensors sit on both sides of the path, what it loses is measured, and stands beside the prediction."""

    def ask(self, tmp_path, monkeypatch, saved, half, assumed=()):
        monkeypatch.setattr(module, "flow_from_logs", lambda records, car: flow())
        paths = path_of(tmp_path, OLD, "old"), path_of(tmp_path, NEW, "new")
        loss = quantity("cooler_loss", "loss of charge cooler and pipes", "kPa", 12.0, -saved, half, assumed)
        found = predict(realistic(), *paths, (), CAR, replace(breathed(), quantities=(loss,)))
        return next((one for one in found.agreements if one.id == "charge_path_loss.mean"), None)

    def test_less_loss_is_a_negative_difference(self, tmp_path, monkeypatch):
        """What the new path saves is what the measured loss falls by; the doubts of both add in squares."""
        expected = changed(tmp_path).mean_saved
        one = self.ask(tmp_path, monkeypatch, expected.estimate, 0.3)
        assert one.predicted == pytest.approx(-expected.estimate)
        assert one.gap == pytest.approx(0.0)
        half = np.hypot(0.3, (expected.interval[1] - expected.interval[0]) / 2)
        assert one.gap_interval[1] - one.gap_interval[0] == pytest.approx(2 * half, rel=0.05)
        assert one.judgement == "agree"

    def test_a_loss_far_from_the_prediction_differs(self, tmp_path, monkeypatch):
        """A path that saves nothing although it should is a contradiction."""
        far = 5.0 * changed(tmp_path).mean_saved.interval[1]
        assert self.ask(tmp_path, monkeypatch, far, 0.3).judgement == "differ"

    def test_what_was_assumed_is_no_measurement(self, tmp_path, monkeypatch):
        """An estimate is not set beside a prediction."""
        assert self.ask(tmp_path, monkeypatch, 3.0, 0.3, ("loss of the path",)) is None
