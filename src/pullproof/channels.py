"""The quantities that a log can hold: names, units, plausible ranges, and one recorded trace.

A reader converts to these units, everything above computes in them, and the report converts back to what the
user likes. The names are part of the contract: scripts of others rely on them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from pullproof.arrays import Array

__all__ = ["CHANNELS", "Channel", "Trace"]


@dataclass(frozen=True, slots=True)
class Channel:
    """What is known about a quantity before any log is read."""

    name: str
    unit: str
    label: str
    plausible: tuple[float, float]
    """Lowest and highest value, in `unit`, that a sound sensor on a running road car gives."""
    description: str = ""


@dataclass(frozen=True, slots=True)
class Trace:
    """One quantity as it was recorded.

    `time` [s] and `values` [`unit`] have the same shape, (n,). `time` never decreases. A blank cell is NaN, or left
    out where most cells of the column are blank. A value that the logger merely repeated is still in here;
    `pullproof.timebase` tells it from a new sample.
    `channel` is a name of `CHANNELS`, or the column's own header where it was not recognised.
    """

    channel: str
    unit: str
    time: Array
    values: Array


def _table() -> Mapping[str, Channel]:
    rows = [
        Channel("time", "s", "time", (0.0, 1e6), "from the start of the log"),
        Channel("engine_speed", "rpm", "engine speed", (0.0, 12_000.0)),
        Channel("vehicle_speed", "km/h", "road speed", (0.0, 400.0)),
        Channel("pedal_position", "%", "accelerator pedal", (0.0, 105.0)),
        Channel("throttle_position", "%", "throttle", (0.0, 105.0)),
        Channel("manifold_pressure", "kPa", "manifold pressure", (10.0, 500.0), "absolute, after the throttle"),
        Channel("charge_pressure", "kPa", "charge pressure", (50.0, 500.0), "absolute, before the throttle"),
        Channel("charge_pressure_target", "kPa", "charge pressure target", (20.0, 500.0), "absolute"),
        Channel("ambient_pressure", "kPa", "ambient pressure", (50.0, 110.0), "absolute, at the place"),
        Channel("wastegate_duty", "%", "wastegate duty", (0.0, 100.0), "100 = held fully closed, 0 = fully open"),
        Channel("air_mass_flow", "g/s", "air mass flow", (0.0, 1500.0)),
        Channel("intake_air_temperature", "degC", "intake air temperature", (-40.0, 150.0)),
        Channel("charge_air_temperature", "degC", "charge air temperature", (-40.0, 250.0)),
        Channel("ambient_temperature", "degC", "ambient temperature", (-40.0, 60.0)),
        Channel(
            "compressor_inlet_pressure", "kPa", "compressor inlet pressure", (30.0, 150.0), "absolute, after the filter"
        ),
        Channel(
            "compressor_outlet_pressure", "kPa", "compressor outlet pressure", (50.0, 500.0),
            "absolute, before the charge cooler; of an added sensor that the car sheet names",
        ),
        Channel("compressor_inlet_temperature", "degC", "compressor inlet temperature", (-40.0, 100.0)),
        Channel("compressor_outlet_temperature", "degC", "compressor outlet temperature", (-40.0, 300.0)),
        Channel("coolant_temperature", "degC", "coolant temperature", (-40.0, 140.0)),
        Channel("oil_temperature", "degC", "oil temperature", (-40.0, 180.0)),
        Channel("exhaust_gas_temperature", "degC", "exhaust gas temperature", (-40.0, 1200.0)),
        Channel("lambda", "1", "lambda", (0.4, 20.0)),
        Channel("lambda_target", "1", "lambda target", (0.4, 20.0)),
        Channel("ignition_timing", "deg", "ignition timing", (-50.0, 70.0), "before top dead centre"),
        Channel("knock_retard", "deg", "knock retard", (0.0, 30.0), "positive = retarded; worst cylinder"),
        Channel("fuel_rail_pressure", "kPa", "fuel rail pressure", (0.0, 300_000.0)),
        Channel("fuel_pressure", "kPa", "fuel pressure", (0.0, 2_000.0)),
        Channel("injector_duty", "%", "injector duty", (0.0, 150.0)),
        Channel("oil_pressure", "kPa", "oil pressure", (0.0, 1_500.0), "gauge"),
        Channel("turbo_speed", "rpm", "turbocharger speed", (0.0, 350_000.0)),
        Channel("engine_torque", "N m", "engine torque", (-300.0, 2_000.0), "as the control unit estimates it"),
        Channel("engine_load", "%", "engine load", (0.0, 400.0)),
        Channel("gear", "1", "gear", (-1.0, 12.0)),
        Channel("battery_voltage", "V", "battery voltage", (5.0, 32.0)),
        Channel("longitudinal_acceleration", "m/s2", "longitudinal acceleration", (-20.0, 20.0)),
        Channel("latitude", "deg", "latitude", (-90.0, 90.0)),
        Channel("longitude", "deg", "longitude", (-180.0, 180.0)),
        Channel("altitude", "m", "altitude", (-450.0, 6_000.0)),
    ]  # fmt: skip
    return MappingProxyType({row.name: row for row in rows})


CHANNELS: Mapping[str, Channel] = _table()
"""Canonical channels by name. Per-cylinder channels carry a suffix: `knock_retard_1`."""
