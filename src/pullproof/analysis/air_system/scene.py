"""One pull as the analysis sees it: channels over engine speed in SI units, with the doubt of their sensors."""

from dataclasses import dataclass

import numpy as np

from pullproof.analysis.air_system.assumptions import LAG, TEMPERATURE_SENSOR
from pullproof.analysis.air_system.doubt import Known, Origin, known
from pullproof.analysis.air_system.fitted import Tap
from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.curves import Revs, revs, rpm_grid, samples_over_rpm, smoothed
from pullproof.errors import CannotAnswer
from pullproof.units import UNITS, convert

__all__ = ["RPM", "ZERO_CELSIUS", "Scene", "look", "words"]

ZERO_CELSIUS = 273.15
RPM = np.pi / 30.0
"""Angular speed in rad/s of 1 rpm."""

STEP = 50.0
"""Distance of the engine speeds of a curve. [rpm]"""

ENDS_AT = {"manifold_pressure": 255.0, "charge_pressure": 255.0, "air_mass_flow": 655.35}
"""Highest value that a channel's usual encoding can carry: a flat top there is missing data. SAE J1979 PIDs 0B, 10."""
FLAT_TOP = 3
"""So many samples at the end of the encoding are no coincidence."""


@dataclass(frozen=True, slots=True)
class Scene:
    """A pull, its car, and the engine speeds of all curves, (m,)."""

    record: PullRecord
    car: Car
    rpm: Array
    turning: Revs

    @property
    def speed(self) -> Array:
        """Engine speed. [rad/s]"""
        return self.rpm * RPM

    def has(self, channel: str) -> bool:
        """Whether the pull has the channel at all."""
        return channel in self.record.traces

    def read(self, channel: str) -> Array:
        """A channel over engine speed, in its own unit; NaN where it stands at the end of its encoding.

        Raises
        ------
        CannotAnswer
            It is not logged, or hardly ever sampled.
        """
        values = smoothed(self.record, channel, self.rpm, self.turning)
        top = ENDS_AT.get(channel)
        return values if top is None or not self.clipped(channel) else np.where(values > top - 1.0, np.nan, values)

    def clipped(self, channel: str) -> bool:
        """Whether the channel stands at the end of its encoding, where the truth lies higher."""
        if channel not in ENDS_AT or not self.has(channel):
            return False
        _, samples, _ = samples_over_rpm(self.record, channel, self.turning)
        return int(np.count_nonzero(np.abs(samples - ENDS_AT[channel]) < 0.01)) >= FLAT_TOP

    def clip_doubts(self, channel: str) -> tuple[str, ...]:
        """A sentence where the channel stands at the end of its encoding."""
        if not self.clipped(channel):
            return ()
        return (f"{words(channel)} stays at {ENDS_AT[channel]:g}, the end of its encoding, and is left out there",)

    def as_sampled(self, channel: str) -> Array:
        """A channel on straight lines between its own samples, for what must not be smoothed; its own unit.

        Raises
        ------
        CannotAnswer
            It is not logged, or has no sample in the pull.
        """
        at, values, _ = samples_over_rpm(self.record, channel, self.turning)
        if not at.size:
            raise CannotAnswer(f"no sample of {words(channel)} in the pull")
        return np.interp(self.rpm, at, values, left=np.nan, right=np.nan)

    def rate(self, channel: str) -> Array:
        """How fast a channel changes, per second."""
        fine = rpm_grid(self.turning.rpm[0], self.turning.rpm[-1], 0.5 * STEP)
        slope = np.gradient(smoothed(self.record, channel, fine, self.turning), self.turning.when(fine))
        return np.interp(self.rpm, fine, slope, left=np.nan, right=np.nan)

    def temperature(self, channel: str) -> Known:
        """What a temperature sensor says, and that it runs behind. [K]

        Raises
        ------
        CannotAnswer
            It is not logged, or hardly ever sampled.
        """
        behind = LAG * self.rate(channel)
        less, more = TEMPERATURE_SENSOR - np.minimum(behind, 0.0), TEMPERATURE_SENSOR + np.maximum(behind, 0.0)
        return known(self.read(channel) + ZERO_CELSIUS, less, more, "sensor", origin=Origin(channel))

    def tap(self, tap: Tap) -> Array:
        """A pressure that the owner pointed out. [Pa absolute]

        Raises
        ------
        CannotAnswer
            The log has no such column, or its gauge reading has no ambient pressure to count from.
        """
        if not self.has(tap.column):
            raise CannotAnswer(
                f'no column "{tap.column}"', where=self.record.pull.log, advice="Write its header as the log has it."
            )
        values = smoothed(self.record, tap.column, self.rpm, self.turning)
        ambient = self.record.air.pressure_kpa
        if tap.parsed.reference == "gauge" and ambient is None:
            raise CannotAnswer(
                f'column "{tap.column}" is a gauge pressure, and nobody says the ambient pressure',
                where=self.record.pull.log,
                advice="Add air_pressure_kpa to the conditions file.",
            )
        pascals = 1e3 * convert(values, tap.parsed, UNITS["kPa"].referred_to("absolute"), ambient_kpa=ambient)
        return np.where(pascals > 0.0, pascals, np.nan)


def look(record: PullRecord, car: Car, rpm: Array | None) -> Scene:
    """A pull over the engine speeds asked for, or over round ones 50 rpm apart.

    Raises
    ------
    CannotAnswer
        The pull has too few samples of engine speed, or spans less than two round engine speeds.
    """
    turning = revs(record)
    if rpm is None:
        first, last = np.ceil(turning.rpm[0] / STEP), np.floor(turning.rpm[-1] / STEP)
        if last <= first:
            raise CannotAnswer(
                f"engine speed rises by less than {2 * STEP:g} rpm",
                where=record.pull.log,
                advice="Record a pull through the revs.",
            )
        rpm = STEP * np.arange(first, last + 1.0)
    return Scene(record, car, np.asarray(rpm, dtype=np.float64), turning)


def words(channel: str) -> str:
    """A channel's name as prose."""
    return channel.replace("_", " ")
