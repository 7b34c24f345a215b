"""ISO 1585 and UN R85: formulas and exponents from memory; engine factor and ranges from a public service manual."""

import numpy as np
import pytest

from pullproof.physics import corrections, moist_air

# id, barometer [Pa], degC, relative humidity, spark ignition, f_a NA, f_a 0.7/1.2, 0.7/1.5, 0.7/0.7
STATES = [
    ("reference", 99_000, 25, 0.0, "1.00000", "1.00000", "1.00000", "1.00000", "1.00000"),
    ("A", 101_325, 25, 0.60, "0.99489", "0.99574", "0.99702", "0.99702", "0.99702"),
    ("B", 98_000, 35, 0.70, "1.08461", "1.07711", "1.07835", "1.08908", "1.06070"),
    ("C", 84_000, 30, 0.30, "1.25293", "1.21074", "1.15682", "1.16261", "1.14724"),
    ("D", 102_500, 5, 0.80, "0.92758", "0.92632", "0.90221", "0.88360", "0.93410"),
    ("E", 95_000, 40, 0.20, "1.10269", "1.09558", "1.10381", "1.12019", "1.07704"),
    ("F", 99_400, 11, 0.55, "0.97535", "0.97003", "0.94605", "0.93249", "0.96909"),
]
# At this rate the engine factor is one, so that the correction is the atmospheric factor itself.
UNIT_RATE = (1 + 1.14) / 0.036 * 1e-3


def dry(barometer, celsius, humidity):
    return moist_air.dry_air_pressure(barometer, celsius + 273.15, humidity)


@pytest.mark.parametrize(("name", "barometer", "celsius", "humidity", "printed"), [row[:5] for row in STATES])
def test_spark_ignition(as_printed, name, barometer, celsius, humidity, printed):
    """The spark-ignition factor agrees with the worked states (formula from memory)."""
    correction = corrections.iso_1585_spark_ignition(dry(barometer, celsius, humidity), celsius + 273.15)
    as_printed(correction.factor, printed, units=2)


@pytest.mark.parametrize("state", STATES, ids=[row[0] for row in STATES])
@pytest.mark.parametrize(
    ("column", "edition", "induction"),
    [
        (5, "iso-1585", "naturally aspirated"),
        (6, "iso-1585", "turbocharged"),
        (7, "un-r85", "turbocharged"),
        (8, "iso-1585", "turbocharged, liquid-cooled charge air"),
    ],
)
def test_atmospheric_factor(as_printed, state, column, edition, induction):
    """Each edition's exponents give its own atmospheric factor (three readings, from memory)."""
    correction = corrections.iso_1585_compression_ignition(
        dry(*state[1:4]), state[2] + 273.15, UNIT_RATE, 1.0, edition=edition, induction=induction
    )
    as_printed(correction.factor, state[column], units=2)


@pytest.mark.parametrize(("rate", "engine_factor"), [(45, 0.48), (55, 0.84)])
def test_engine_factor(rate, engine_factor):
    """f_m is 0.48 at 45 and 0.84 at 55 mg per litre and cycle (service manual, section 3.4.2)."""
    pressure, temperature = 90_000.0, 298.15
    correction = corrections.iso_1585_compression_ignition(
        pressure, temperature, rate * 1e-3, 1.0, edition="un-r85", induction="naturally aspirated"
    )
    assert np.log(correction.factor) / np.log(99 / 90) == pytest.approx(engine_factor, abs=1e-3)


@pytest.mark.parametrize(("edition", "ends"), [("iso-1585", (37.2, 65.0)), ("un-r85", (40.0, 65.0))])
def test_engine_factor_has_no_step_at_its_ends(edition, ends):
    """Where the engine factor turns constant it does so without a step: 0.2 or 0.3 below, 1.2 above."""
    for end in ends:
        below, above = (
            corrections.iso_1585_compression_ignition(
                90_000.0, 298.15, (end + side) * 1e-3, 1.0, edition=edition, induction="naturally aspirated"
            ).factor
            for side in (-1e-6, 1e-6)
        )
        assert below == pytest.approx(above, rel=1e-3)


def test_fuel_per_swept_volume():
    """8.0 g/s in a 2.0 l engine at 4000 rpm is 120 mg per litre and cycle (factor 120 000 of the service manual)."""
    rate = corrections.fuel_per_swept_volume(8.0e-3, 2.0e-3, 4000 * 2 * np.pi / 60)
    assert rate == pytest.approx(0.120)


def test_boost_ratio_divides_the_fuel_rate():
    """Twice the fuel at twice the charge pressure has the same engine factor: q over r is what counts."""
    arguments = {"edition": "iso-1585", "induction": "turbocharged"}
    single = corrections.iso_1585_compression_ignition(92e3, 305.0, 0.050, 1.0, **arguments)
    double = corrections.iso_1585_compression_ignition(92e3, 305.0, 0.100, 2.0, **arguments)
    assert double.factor == pytest.approx(single.factor)
