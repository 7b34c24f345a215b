from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pullproof.analysis.air_system import Curve, Fitted, LossPoint, Missing, Tap, air_system
from pullproof.analysis.air_system.result import REFERENCE
from pullproof.conditions import Air
from pullproof.errors import CannotAnswer, WrongUse
from pullproof.physics.compressor import ReferenceState

TAPS = Fitted(inlet_tap=Tap("before wheel", "kPa absolute"), outlet_tap=Tap("behind wheel", "kPa absolute"))


def flow_of(filling, kilopascal, kelvin, litres=2.0):
    """Speed-density as [Heywood] 2.10 writes it, in g/s over engine speed in rpm."""
    return lambda rpm: 1e3 * filling * 1e3 * kilopascal * litres * 1e-3 * rpm / (120.0 * 287.055 * kelvin)


@pytest.fixture
def boosted(record):
    """A pull at steady boost; the inlet pipe brings the air to 25 degC and 99 kPa, as in the worked examples."""

    def make(**changed):
        channels = {
            "charge_pressure": 205.0,
            "manifold_pressure": 200.0,
            "air_mass_flow": flow_of(0.95, 200.0, 318.15),
            "charge_air_temperature": 45.0,
            "compressor_outlet_temperature": 140.0,
            "before wheel": 99.0,
            "behind wheel": 217.8,
        } | changed
        return record(air=Air(21.0, 100.0, 50.0), **{k: v for k, v in channels.items() if v is not None})

    return make


def at(curve, rpm):
    assert isinstance(curve, Curve), curve
    return float(np.interp(rpm, curve.rpm, curve.value))


def test_speed_density_without_a_meter(boosted, car):
    """[Heywood] 2.10 gives 208.0 g/s at 0.95, 200 kPa, 2 l, 6000 rpm, 45 degC; the assumed filling scales it."""
    system = air_system(boosted(air_mass_flow=None), car)
    assert system.air_mass_flow.source == "speed-density"
    filling = at(system.volumetric_efficiency, 6000.0)
    assert at(system.air_mass_flow, 6000.0) == pytest.approx(208.045 * filling / 0.95, rel=1e-4)
    assert any("assumed" in doubt for doubt in system.air_mass_flow.doubts)


def test_filling_is_read_from_the_meter(boosted, car):
    """A pull that was made with a filling of 0.95 shows 0.95, with the meter's 5 % and more as interval."""
    system = air_system(boosted(), car)
    assert system.air_mass_flow.source == "sensor"
    np.testing.assert_allclose(system.volumetric_efficiency.value, 0.95, rtol=1e-3)
    assert np.all(system.volumetric_efficiency.upper - 0.95 > 0.0475)
    assert np.all(system.volumetric_efficiency.lower < 0.95 - 0.0475)


@pytest.mark.parametrize("litres", [0.5, 20.0])
def test_an_impossible_filling_is_not_shown_but_named(boosted, car, litres):
    """A displacement that is off by far makes no engine: the reason is shown, and the flow carries the doubt."""
    slipped = replace(car, engine=replace(car.engine, displacement_l=litres))
    system = air_system(boosted(), slipped)
    assert isinstance(system.volumetric_efficiency, Missing)
    assert "slip in a unit" in system.volumetric_efficiency.reason
    assert "displacement_l" in system.volumetric_efficiency.advice
    assert any("do not fit together" in doubt for doubt in system.air_mass_flow.doubts)


def test_flow_without_meter_and_displacement_says_what_to_add(boosted, car):
    """What cannot be computed names the key of the car sheet that is missing, and takes corrected flow along."""
    system = air_system(boosted(air_mass_flow=None), replace(car, engine=replace(car.engine, displacement_l=None)))
    for part in (system.air_mass_flow, system.corrected_flow, system.fuel_mass_flow):
        assert isinstance(part, Missing)
    assert "displacement_l" in system.air_mass_flow.advice
    assert isinstance(system.pressure_ratio, Curve)


@pytest.mark.parametrize(("reference", "printed"), [(REFERENCE, 252.53), (ReferenceState(288.15, 101_325.0), 260.27)])
def test_corrected_flow_carries_its_reference(boosted, car, reference, printed):
    """250 g/s at 25 degC and 99 kPa is 252.5 g/s at 25 degC, 100 kPa and 260.3 g/s at 15 degC, 101.325 kPa."""
    flow = lambda rpm: np.full(rpm.shape, 250.0)  # noqa: E731
    system = air_system(boosted(air_mass_flow=flow), car, fitted=TAPS)
    curve = system.corrected_flow_at(reference)
    assert curve.unit == "g/s"
    np.testing.assert_allclose(curve.value, printed, rtol=1e-4)
    there_and_back = system.corrected_flow.value * np.sqrt(REFERENCE.temperature / reference.temperature)
    np.testing.assert_allclose(curve.value, there_and_back * reference.pressure / REFERENCE.pressure)


def test_efficiency_from_temperatures(boosted, car):
    """25 to 140 degC over a pressure ratio of 2.2 is 0.655, as the ideal-gas definition gives by hand."""
    system = air_system(boosted(), car, fitted=TAPS)
    np.testing.assert_allclose(system.pressure_ratio.value, 2.2, rtol=1e-6)
    np.testing.assert_allclose(system.isentropic_efficiency.value, 0.65506, rtol=1e-4)
    assert system.outlet_temperature.source == "sensor"


@pytest.mark.parametrize("celsius", [95.0, 190.0])
def test_an_efficiency_that_no_wheel_has_means_a_sensor(boosted, car, celsius):
    """Above 0.80 or below 0.50 the reason is shown in place of a number."""
    part = air_system(boosted(compressor_outlet_temperature=celsius), car, fitted=TAPS).isentropic_efficiency
    assert isinstance(part, Missing)
    assert "a sensor, not a wheel" in part.reason


def test_efficiency_waits_until_the_sensor_has_settled(boosted, car):
    """While the outlet temperature still climbs by 25 K/s, its sensor runs behind and nothing is said."""
    climbing = lambda rpm: 20.0 + 25.0 * (rpm - 2500.0) * 7.0 / 4000.0  # noqa: E731
    part = air_system(boosted(compressor_outlet_temperature=climbing), car, fitted=TAPS).isentropic_efficiency
    assert isinstance(part, Missing)
    assert "nowhere settles" in part.reason


def test_outlet_temperature_is_estimated_where_it_is_not_logged(boosted, car):
    """Without a sensor the usual efficiency stands in, and its band is in the interval."""
    system = air_system(boosted(compressor_outlet_temperature=None), car, fitted=TAPS)
    part = system.outlet_temperature
    assert part.source == "estimated"
    # 298.15 K times (1 + (2.2^(2/7) - 1)/0.70), the definition.
    assert at(part, 5000.0) == pytest.approx(298.15 * (1.0 + (2.2 ** (2.0 / 7.0) - 1.0) / 0.70) - 273.15, abs=0.01)
    assert at(part, 5000.0) - np.interp(5000.0, part.rpm, part.lower) > 5.0
    assert isinstance(system.isentropic_efficiency, Missing)


def test_cooler_effectiveness_by_its_definition(boosted, car):
    """135 degC in, 45 degC out and 20 degC at the face make 0.7826 where all stand still."""
    record = replace(boosted(compressor_outlet_temperature=135.0), air=Air(16.0, 100.0, 50.0))
    part = air_system(record, car, fitted=TAPS).cooler_effectiveness
    np.testing.assert_allclose(part.value, 0.78261, rtol=1e-3)
    assert np.all(part.lower < part.value)
    assert np.all(part.upper > part.value)


def test_cooler_effectiveness_is_not_told_from_a_transient(boosted, car):
    """A charge that warms by 3 K/s is still heating the core: the rate is named, no number is."""
    warming = lambda rpm: 25.0 + 3.0 * (rpm - 2500.0) * 7.0 / 4000.0  # noqa: E731
    part = air_system(boosted(charge_air_temperature=warming), car, fitted=TAPS).cooler_effectiveness
    assert isinstance(part, Missing)
    assert "3.0 K/s" in part.reason


def test_a_core_that_is_colder_than_the_air_gives_no_effectiveness(boosted, car):
    """An outlet below the cooling air is a core out of balance or a sensor, and said so."""
    part = air_system(boosted(charge_air_temperature=15.0), car, fitted=TAPS).cooler_effectiveness
    assert isinstance(part, Missing)
    assert "not in balance" in part.reason


def test_losses_are_assumed_with_doubt_until_measured(boosted, car):
    """Without a tap the inlet loss is a band and the cooler loss is not shown; with taps both are measured."""
    plain, tapped = (air_system(boosted(), car, fitted=fitted) for fitted in (None, TAPS))
    assert plain.inlet_loss.source == "assumed"
    assert isinstance(plain.cooler_loss, Missing)
    assert "compressor_outlet_pressure" in plain.cooler_loss.advice
    np.testing.assert_allclose(tapped.inlet_loss.value, 1.0, atol=1e-9)
    np.testing.assert_allclose(tapped.cooler_loss.value, 12.8, atol=1e-9)
    # Two sensors at 1 % of 300 kPa are 4.2 kPa apart for no reason: as much as a cooler's loss.
    np.testing.assert_allclose(tapped.cooler_loss.upper - 12.8, 3.0 * np.sqrt(2.0))
    width = lambda part: np.nanmax(part.upper - part.lower)  # noqa: E731
    assert width(tapped.pressure_ratio) < width(plain.pressure_ratio)


def test_a_measured_loss_is_scaled_with_flow(boosted, car):
    """A loss known at one flow is that loss at that flow, and 2^1.8 of it at double the flow."""
    system = air_system(boosted(), car, fitted=Fitted(charge_path_loss=LossPoint(6.0, 100.0, 10.0)))
    flow, loss = system.air_mass_flow.value, system.cooler_loss.value
    assert np.interp(100.0, flow, loss) == pytest.approx(6.0, rel=1e-3)
    assert np.interp(200.0, flow, loss) == pytest.approx(6.0 * 2.0**1.8, rel=1e-3)
    assert any("half the flow" in doubt for doubt in system.cooler_loss.doubts)


def test_a_tap_in_any_unit_is_the_same_pressure(boosted, car):
    """The unit that the owner names decides: psi gauge, counted from the ambient pressure, is kPa absolute."""
    gauge = (217.8 - 100.0) / 6.894757293168361
    psi = Fitted(inlet_tap=TAPS.inlet_tap, outlet_tap=Tap("behind wheel", "psi gauge"))
    system = air_system(boosted(**{"behind wheel": gauge}), car, fitted=psi)
    np.testing.assert_allclose(system.pressure_ratio.value, 2.2, rtol=1e-6)


@pytest.mark.parametrize("unit", ["kPa", "degC", "psig and more", ""])
def test_a_tap_needs_its_reference(unit):
    """A pressure whose reference nobody states is refused, with the words to write."""
    with pytest.raises(WrongUse, match="psi gauge"):
        Tap("behind wheel", unit)


def test_a_tap_that_is_not_in_the_log(boosted, car):
    """A column that does not exist is named, and what rests on it is missing for that reason."""
    system = air_system(boosted(), car, fitted=Fitted(outlet_tap=Tap("no such", "kPa absolute")))
    assert 'no column "no such"' in system.pressure_ratio.reason


def test_a_gauge_tap_without_ambient_pressure(boosted, car):
    """Gauge pressure counts from something: without ambient pressure nothing is said."""
    record = replace(boosted(), air=Air(21.0, None, None))
    system = air_system(record, car, fitted=Fitted(outlet_tap=Tap("behind wheel", "psi gauge")))
    assert "air_pressure_kpa" in system.pressure_ratio.advice


@pytest.mark.parametrize("values", [(0.0, 100.0, 20.0), (5.0, -1.0, 20.0), (5.0, 100.0, 0.0)])
def test_a_loss_point_must_make_sense(values):
    """A loss, a flow and a doubt are above zero."""
    with pytest.raises(WrongUse, match="above zero"):
        LossPoint(*values)


def test_a_pressure_at_the_end_of_its_encoding_is_missing_data(boosted, car):
    """One byte of pressure ends at 255 kPa: a flat top there is left out, not read as steady boost."""
    clipped = lambda rpm: np.minimum(150.0 + (rpm - 2500.0) / 20.0, 255.0)  # noqa: E731
    system = air_system(boosted(charge_pressure=clipped, manifold_pressure=clipped), car)
    assert np.isnan(system.pressure_ratio.value[system.rpm > 5000.0]).all()
    assert np.isfinite(system.pressure_ratio.value[system.rpm < 4300.0]).all()
    assert any("end of its encoding" in doubt for doubt in system.pressure_ratio.doubts)


def test_an_intake_sensor_near_ambient_may_sit_before_the_compressor(boosted, car):
    """Compressed air at ambient temperature is doubtful: the interval reaches far up, and the reason is said."""
    suspect = boosted(charge_air_temperature=None, intake_air_temperature=24.0)
    sound = boosted(charge_air_temperature=None, intake_air_temperature=45.0)
    doubtful, plain = (air_system(one, car).charge_temperature for one in (suspect, sound))
    assert any("before the compressor" in doubt for doubt in doubtful.doubts)
    assert np.all(doubtful.upper - doubtful.value > 20.0)
    np.testing.assert_allclose(plain.value, 45.0)
    assert any("stands in for charge temperature" in doubt for doubt in plain.doubts)


def test_an_intake_sensor_that_does_not_move_is_doubted_in_unknown_weather(boosted, car):
    """Where nobody says the weather, a sensor that stands still through a pull is doubted; a rise clears it."""
    rising = lambda rpm: 30.0 + (rpm - 2500.0) / 400.0  # noqa: E731
    still, moving = (
        replace(boosted(charge_air_temperature=None, intake_air_temperature=value), air=Air())
        for value in (30.0, rising)
    )
    assert any("before the compressor" in doubt for doubt in air_system(still, car).charge_temperature.doubts)
    assert not any("before the compressor" in doubt for doubt in air_system(moving, car).charge_temperature.doubts)


def test_a_gauge_reading_counts_from_the_days_air(boosted, car):
    """A file that logs boost over ambient is made absolute with the day's own 84 kPa, not with the reader's 101.3."""
    record = replace(boosted(), air=Air(21.0, 84.0, 50.0))
    gauge = replace(record, log=replace(record.log, gauge_reference_kpa={"charge_pressure": 101.325}))
    system = air_system(gauge, car)
    boost = 205.0 - 101.325
    np.testing.assert_allclose(system.density_ratio.value, (boost + 84.0) / 84.0 * 294.15 / 318.15)
    assert any("logged over ambient" in doubt for doubt in system.density_ratio.doubts)


def test_unknown_weather_is_assumed_and_widens(boosted, car):
    """Nobody's weather is a band, said once with every number that rests on it."""
    known, unknown = boosted(), replace(boosted(), air=Air())
    sure, unsure = (air_system(one, car, fitted=Fitted()).density_ratio for one in (known, unknown))
    assert np.all(unsure.upper - unsure.lower > 2.0 * (sure.upper - sure.lower))
    assert any("nobody says the air pressure" in doubt for doubt in unsure.doubts)
    assert any("nobody says the air temperature" in doubt for doubt in unsure.doubts)


def test_density_ratio_by_the_gas_law(boosted, car):
    """205 over 100 kPa and 21 over 45 degC make 1.896."""
    part = air_system(boosted(), car).density_ratio
    np.testing.assert_allclose(part.value, 2.05 * 294.15 / 318.15, rtol=1e-9)


def test_fuel_flow_by_its_definition(boosted, car):
    """250 g/s of air at lambda 0.85 on petrol of 14.6 take 20.1 g/s of fuel."""
    record = boosted(air_mass_flow=lambda rpm: np.full(rpm.shape, 250.0), **{"lambda": 0.85})
    assert at(air_system(record, car).fuel_mass_flow, 5000.0) == pytest.approx(20.145, abs=0.0005)
    nameless = replace(car, engine=replace(car.engine, fuel=None))
    assert "fuel" in air_system(record, nameless).fuel_mass_flow.reason


def test_logged_channels_stand_as_logged(boosted, car):
    """Knock and injector duty have no interval, keep their steps, and say what they do not prove."""
    knock = lambda rpm: np.where((rpm > 5000.0) & (rpm < 5100.0), 3.0, 0.0)  # noqa: E731
    system = air_system(boosted(knock_retard=knock, injector_duty=lambda rpm: rpm / 70.0), car)
    assert system.knock_retard.peak.value == pytest.approx(3.0)
    assert any("worst sample 3.00 deg" in doubt for doubt in system.knock_retard.doubts)
    assert np.isnan(system.knock_retard.lower).all()
    assert system.injector_duty.peak.rpm >= 6450.0
    assert any("above 85 %" in doubt for doubt in system.injector_duty.doubts)
    quiet = air_system(boosted(knock_retard=0.0), car).knock_retard
    assert any("never gave way" in doubt for doubt in quiet.doubts)


def test_every_part_is_a_curve_with_a_unit_or_a_reason(boosted, car):
    """Curves and missing parts together are the whole, each with label and unit, or label and reason."""
    system = air_system(boosted(), car)
    assert not set(system.curves) & set(system.missing)
    assert len(system.curves) + len(system.missing) == 19
    for name, curve in system.curves.items():
        assert curve.name == name
        assert curve.unit
        assert curve.label
        assert curve.value.shape == curve.lower.shape == curve.upper.shape == system.rpm.shape
    for part in system.missing.values():
        assert part.reason
        assert part.label
    assert system.cautions


def test_a_log_with_nothing_but_engine_speed(record, car):
    """Where nothing is logged all that cannot be told is missing, each for its own reason, and no error rises."""
    system = air_system(record(), car)
    assert set(system.curves) == {"inlet_temperature", "charge_temperature"}
    assert "Log one" in system.pressure_ratio.advice


def test_own_engine_speeds_and_a_pull_that_is_too_short(boosted, car):
    """Curves come at the engine speeds asked for, NaN outside the pull; a pull without revs is refused."""
    system = air_system(boosted(), car, rpm=np.array([1000.0, 3000.0, 6000.0, 9000.0]))
    assert np.isfinite(system.air_mass_flow.value).tolist() == [False, True, True, False]
    short = boosted()
    flat = replace(short.traces["engine_speed"], values=np.full(short.traces["engine_speed"].time.shape, 3010.0))
    with pytest.raises(CannotAnswer, match="rises by less"):
        air_system(replace(short, traces=short.traces | {"engine_speed": flat}), car)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    boost=st.floats(20.0, 200.0),
    charge=st.floats(20.0, 80.0),
    hot=st.floats(60.0, 200.0),
    ambient=st.floats(-10.0, 40.0),
    rate=st.sampled_from([6.0, 20.0, 50.0]),
)
def test_intervals_hold_their_value_whatever_is_logged(record, car, boost, charge, hot, ambient, rate):
    """Lower is never above value nor value above upper, and nothing impossible is shown."""
    pull = record(
        air=Air(ambient, 100.0, 50.0),
        rate=rate,
        manifold_pressure=100.0 + boost,
        charge_pressure=102.0 + boost,
        charge_air_temperature=charge,
        compressor_outlet_temperature=hot,
        air_mass_flow=flow_of(0.9, 100.0 + boost, charge + 273.15),
    )
    system = air_system(pull, car)
    for curve in system.curves.values():
        shown = np.isfinite(curve.value) & np.isfinite(curve.lower)
        assert np.all(curve.lower[shown] <= curve.value[shown])
        assert np.all(curve.value[shown] <= curve.upper[shown])
    if isinstance(system.isentropic_efficiency, Curve):
        found = system.isentropic_efficiency.value
        assert np.nanmin(found) >= 0.5
        assert np.nanmax(found) <= 0.8
    if isinstance(system.cooler_effectiveness, Curve):
        assert 0.0 < np.nanmin(system.cooler_effectiveness.value) < 1.0
