"""What another path would change: symmetry, conservation and limits of the prediction."""

import numpy as np
import pytest

from pullproof.analysis.airpath import FlowSheet, analyse_path, compare_paths, flow_from_logs, flow_from_sheets
from pullproof.analysis.airpath.boost_control import ControlResponse
from pullproof.analysis.cautions import CAUTIONS
from pullproof.car import Car, Engine
from pullproof.conditions import Air
from pullproof.errors import CannotAnswer

PIPE = 'kind = "pipe"\nlength_mm = 450'
BEND = 'kind = "bend"\nangle_deg = 90\nradius_mm = 90'
SHEET = FlowSheet(
    rpm=(3500.0, 4500.0, 5500.0, 6500.0),
    air_mass_flow_gs=(140.0, 185.0, 215.0, 230.0),
    charge_pressure_kpa=(235.0, 240.0, 238.0, 232.0),
    charge_temperature_c=45.0,
)


@pytest.fixture
def flow(car):
    return flow_from_sheets(car, SHEET, Air(18.0, 99.5, 50.0))


@pytest.fixture
def paths(write_path):
    return tuple(
        write_path(PIPE, BEND, PIPE, BEND, head=f'name = "{name}"\nbore_mm = {bore}', name=f"{name}.toml")
        for name, bore in (("old", 48), ("new", 60))
    )


def test_loss_of_one_path(paths, flow):
    """Shares sum to one, the total is the sum of the elements, the interval holds it, and the cautions are there."""
    result = analyse_path(paths[0], flow)
    assert sum(element.share for element in result.elements) == pytest.approx(1.0)
    assert result.total.estimate == pytest.approx(sum(element.loss.estimate for element in result.elements))
    assert np.all((result.total.lower < result.total.estimate) & (result.total.estimate < result.total.upper))
    assert np.all(result.total.lower >= 0.0)
    assert result.volume_l == pytest.approx(sum(element.volume_l for element in result.elements))
    assert 0.0 < result.largest_mach < 0.3
    assert result.cautions == CAUTIONS
    assert any("less than 10 bores" in doubt for doubt in result.doubts)


def test_a_higher_level_is_wider(paths, flow):
    """An interval that holds 99 % is wider than one that holds 80 %."""
    narrow, wide = (analyse_path(paths[0], flow, level=level).total for level in (0.80, 0.99))
    assert np.all(wide.upper - wide.lower > narrow.upper - narrow.lower)


def test_the_same_path_changes_nothing(paths, flow):
    """Compared with itself a path saves nothing, surely."""
    same = compare_paths(paths[0], paths[0], flow)
    assert same.saved.estimate == pytest.approx(np.zeros(4))
    assert same.saved.upper == pytest.approx(np.zeros(4))
    assert same.mean_charge_pressure_gain.estimate == pytest.approx(0.0, abs=1e-3)
    assert same.wastegate_duty_change.estimate == pytest.approx(0.0)
    assert same.spool_delay_seconds.estimate == 0.0


def test_swapping_turns_the_signs(paths, flow):
    """New for old is old for new with the signs turned; only the changed flow at equal power makes a trace."""
    one, other = compare_paths(*paths, flow), compare_paths(*reversed(paths), flow)
    assert one.saved.estimate == pytest.approx(-other.saved.estimate)
    assert one.saved.lower == pytest.approx(-other.saved.upper)
    assert one.wastegate_duty_change.estimate == pytest.approx(-other.wastegate_duty_change.estimate)
    assert one.spool_delay_rpm.estimate == pytest.approx(-other.spool_delay_rpm.estimate)
    assert one.mean_charge_pressure_gain.estimate == pytest.approx(-other.mean_charge_pressure_gain.estimate, rel=0.05)


def test_less_loss_is_less_work(paths, flow):
    """A wider pipe saves pressure, work and heat, opens the gate and delays boost."""
    result = compare_paths(*paths, flow)
    assert np.all(result.saved.estimate > 0.0)
    assert np.all(result.pressure_ratio_after < result.pressure_ratio_before)
    assert np.all(result.outlet_temperature_after_c < result.outlet_temperature_before_c)
    assert np.all(result.compressor_power_change.estimate < 0.0)
    assert result.wastegate_duty_change.estimate < 0.0
    assert result.spool_delay_rpm.estimate > 0.0
    assert result.volume_change_l > 0.0
    assert result.sentence.startswith("The new path loses ")


def test_a_kilopascal_is_half_a_per_cent_of_work(paths, flow):
    """At 98 and 240 kPa one kilopascal of path is 0.53 % of compressor work (worked by hand)."""
    result = compare_paths(*paths, flow)
    per_kilopascal = result.compressor_power_change.estimate / result.saved.estimate
    assert per_kilopascal == pytest.approx(np.full(4, -0.53), abs=0.03)


def test_equal_power_is_equal_power(paths, flow):
    """With the gain in charge pressure, and the flow that goes with it, the compressor takes the power it took."""
    result = compare_paths(*paths, flow)
    share = 1.0 + result.charge_pressure_gain.estimate / flow.charge_pressure_kpa
    moved = flow_from_sheets(
        Car("x", engine=Engine(displacement_l=2.0, redline_rpm=6800.0)),
        FlowSheet(
            rpm=SHEET.rpm,
            air_mass_flow_gs=tuple(flow.air_mass_flow_gs * share),
            charge_pressure_kpa=tuple(flow.charge_pressure_kpa * share),
            charge_temperature_c=45.0,
        ),
        Air(18.0, 99.5, 50.0),
    )
    lost = {
        path.name: analyse_path(path, curve).total.estimate for path, curve in zip(paths, (flow, moved), strict=True)
    }
    inlet = [99.5 - 2.0 * (curve.air_mass_flow_gs / 230.0) ** 2 for curve in (flow, moved)]
    power = [
        curve.air_mass_flow_gs * (((curve.charge_pressure_kpa + lost[name]) / before) ** (2 / 7) - 1.0)
        for name, curve, before in zip(("old", "new"), (flow, moved), inlet, strict=True)
    ]
    assert power[1] == pytest.approx(power[0], rel=1e-4)


def test_duty_is_slope_times_work(paths, flow):
    """The expected duty is the response times the mean change of ln(work) over the window, doubts of both inside."""
    sure = ControlResponse(slope=60.0, doubt=0.0, pulls=9, pinned=0, basis="nine pulls")
    unsure = ControlResponse(slope=60.0, doubt=30.0, pulls=9, pinned=0, basis="nine pulls")
    one, other = (compare_paths(*paths, flow, response=response) for response in (sure, unsure))
    inside = flow.rpm >= 0.6 * 6800.0
    expected = 60.0 * np.mean(np.log1p(one.compressor_power_change.estimate[inside] / 100.0))
    assert one.wastegate_duty_change.estimate == pytest.approx(expected)
    assert other.wastegate_duty_change.estimate == pytest.approx(expected)
    widths = [
        result.wastegate_duty_change.interval[1] - result.wastegate_duty_change.interval[0] for result in (one, other)
    ]
    assert widths[0] < widths[1]


def test_a_shut_gate_shows_as_charge_pressure(paths, flow):
    """Where the gate is held shut in every pull, the sentence speaks of charge pressure."""
    shut = ControlResponse(slope=66.0, doubt=33.0, pulls=0, pinned=4, basis="")
    result = compare_paths(*paths, flow, response=shut)
    assert "charge pressure and not as duty" in result.sentence
    assert any("held shut" in doubt for doubt in result.doubts)


def test_paths_that_handbooks_cannot_tell_apart(write_path, flow):
    """Where the interval holds zero the sentence says so and does not claim a saving."""
    one = write_path('kind = "bend"\nangle_deg = 90\nradius_mm = 90', head="bore_mm = 57", name="a.toml")
    two = write_path('kind = "bend"\nangle_deg = 90\nradius_mm = 95', head="bore_mm = 57", name="b.toml")
    assert "cannot tell the two paths apart" in compare_paths(one, two, flow).sentence


def test_too_fast_everywhere_is_no_answer(write_path, flow):
    """A bore that takes the air past Mach 0.3 at every engine speed is refused, and said to be so."""
    tiny = write_path(PIPE, head="bore_mm = 25")
    with pytest.raises(CannotAnswer, match=r"Mach 0\.3"):
        analyse_path(tiny, flow)


def test_too_fast_at_the_top_is_a_doubt(write_path, flow):
    """Where only the top is too fast, the rest is answered and the doubt names the engine speed."""
    narrow = write_path(BEND.replace("90\n", "60\n", 1), head="bore_mm = 33")
    result = analyse_path(narrow, flow)
    assert np.isnan(result.total.estimate[-1])
    assert np.isfinite(result.total.estimate[0])
    assert any("rpm the air is faster than Mach" in doubt for doubt in result.doubts)


def test_an_engine_without_boost(paths):
    """Where nothing is compressed the loss is still known, and what follows from boost is not."""
    plain = Car("old friend", engine=Engine(displacement_l=1.6, redline_rpm=6500.0, aspiration="none"))
    result = compare_paths(*paths, flow_from_sheets(plain, FlowSheet()))
    assert np.all(np.isfinite(result.saved.estimate))
    assert np.isnan(result.wastegate_duty_change.estimate)
    assert np.isnan(result.mean_charge_pressure_gain.estimate)


def test_a_logged_outlet_temperature_gives_the_efficiency(paths, record, car):
    """A believable outlet temperature replaces the assumed efficiency; one that is not is said to be the sensor's."""
    logged = {"air_mass_flow": 200.0, "charge_pressure": 238.0, "charge_air_temperature": 45.0}
    basis = []
    for celsius in (140.0, 60.0):
        flow = flow_from_logs([record(**logged, compressor_outlet_temperature=celsius)], car)
        basis.append(compare_paths(*paths, flow).mean_outlet_temperature_change.basis)
    assert basis[0] == "compressor efficiency from the logged outlet temperature"
    assert "gives none between 0.5 and 0.8" in basis[1]


def test_a_litre_more(write_path, flow):
    """A litre more to fill to 140 kPa at 45 degC with 30 g/s to spare is 51 ms, 41 rpm at 800 rpm/s (by hand)."""
    length = 1e6 / (np.pi / 4 * 60**2)
    before = write_path('kind = "pipe"\nlength_mm = 100', head="bore_mm = 60", name="a.toml")
    after = write_path(f'kind = "pipe"\nlength_mm = {100 + length}', head="bore_mm = 60", name="b.toml")
    result = compare_paths(before, after, flow)
    assert result.volume_change_l == pytest.approx(1.0)
    by_hand = 1e-3 * 140.5e3 / (287.055 * 318.15) / 30e-3
    assert result.spool_delay_seconds.estimate == pytest.approx(by_hand)
    assert result.spool_delay_rpm.estimate == pytest.approx(800 * by_hand)
    assert result.spool_delay_rpm.interval == pytest.approx((400 * by_hand, 1600 * by_hand))
