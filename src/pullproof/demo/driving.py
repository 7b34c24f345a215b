"""What the driver does: a script of idling, cruising and pulls, turned into pedal, brake and gear."""

from collections.abc import Generator, Sequence
from dataclasses import dataclass

from pullproof.demo.car import Chassis
from pullproof.demo.chance import Chance

__all__ = ["Command", "Cruise", "Driver", "FullPull", "Idle", "Motion", "PullMark", "Script"]


@dataclass(frozen=True, slots=True)
class Idle:
    """Brake to a stop and let the engine idle."""

    seconds: float


@dataclass(frozen=True, slots=True)
class Cruise:
    """Go to a road speed [km/h] and hold it, shifting up as far as `gear`."""

    speed: float
    seconds: float
    gear: int = 6


@dataclass(frozen=True, slots=True)
class FullPull:
    """A pull in one gear between two engine speeds [rpm]; spoiled by a lifted pedal where `lift_at` [rpm] says so."""

    from_rpm: float = 2400.0
    to_rpm: float = 6650.0
    gear: int = 3
    lift_at: float | None = None


Script = Sequence[Idle | Cruise | FullPull]


@dataclass(frozen=True, slots=True)
class PullMark:
    """When a pull was driven [s], and whether the driver spoiled it."""

    start: float
    end: float
    spoiled: bool


@dataclass(slots=True)
class Motion:
    """What the driver sees: time [s], road speed [m/s], engine speed [rpm]."""

    time: float
    speed: float
    engine_speed: float


@dataclass(frozen=True, slots=True)
class Command:
    """Pedal (0 to 1), braking [m/s2] and gear; gear 0 is an open clutch."""

    pedal: float
    braking: float
    gear: int


class Driver:
    """Turns a script into commands, one a step. Human enough to vary: start speed, pedal and end of each pull."""

    def __init__(self, chassis: Chassis, motion: Motion, chance: Chance) -> None:
        self._chassis = chassis
        self._motion = motion
        self._chance = chance
        self._gear = 1
        self._pedal = 0.0
        self.marks: list[PullMark] = []
        self.pulling = False

    def commands(self, script: Script) -> Generator[Command, None, None]:
        """Commands of the whole script; ask for the next one after each step of the motion."""
        for part in script:
            if isinstance(part, Idle):
                yield from self._idle(part)
            elif isinstance(part, Cruise):
                yield from self._cruise(part.speed / 3.6, part.seconds, part.gear)
            else:
                yield from self._pull(part)

    def _idle(self, part: Idle) -> Generator[Command, None, None]:
        while self._motion.speed > 0.05:
            yield Command(0.0, 1.8, 0)
        self._gear = 1
        end = self._motion.time + part.seconds
        while self._motion.time < end:
            yield Command(0.0, 0.0, 0)

    def _cruise(self, speed: float, seconds: float, gear: int) -> Generator[Command, None, None]:
        """Pedal follows a wanted speed that rises gently; the clock runs once the speed is there."""
        motion = self._motion
        wanted, last, left = motion.speed, motion.time, seconds
        while left > 0.0:
            step, last = motion.time - last, motion.time
            if abs(motion.speed - speed) < 1.5:
                left -= step
            wanted = min(max(speed, wanted - 1.6 * step), wanted + 1.1 * step)
            short = wanted - motion.speed
            self._press(step, short)
            yield Command(self._pedal, min(max(-1.2 * short - 0.3, 0.0), 3.0), self._gear)
            if short > -1.0:
                yield from self._shift(gear)

    def _press(self, step: float, short: float) -> None:
        """Move the pedal so that a shortfall in road speed [m/s] closes; off it entirely when too fast."""
        hold = (0.085 + 0.0009 * self._motion.speed) * min(max(1.0 + short, 0.0), 1.0)
        aim = min(max(hold + 0.05 * short, 0.0), 0.45)
        self._pedal += (aim - self._pedal) * min(step / 0.25, 1.0)
        if aim == 0.0 and self._pedal < 0.02:
            self._pedal = 0.0

    def _shift(self, highest: int) -> Generator[Command, None, None]:
        """One gear up or down where the engine speed asks for it, with the clutch open for a moment."""
        at = [self._motion.speed * self._chassis.rpm_per_speed(gear) for gear in range(1, highest + 1)]
        wanted = next((gear for gear in range(1, highest + 1) if at[gear - 1] < 2500.0), highest)
        too_slow = wanted < self._gear <= highest and at[self._gear - 1] < 1450.0
        if wanted > self._gear or too_slow or self._gear > highest:
            self._gear = wanted
            end = self._motion.time + 0.45
            while self._motion.time < end:
                self._pedal = 0.0
                yield Command(0.0, 0.0, 0)

    def _pull(self, part: FullPull) -> Generator[Command, None, None]:
        motion, chance = self._motion, self._chance
        begin = (part.from_rpm + 60.0 * chance.normal()) / self._chassis.rpm_per_speed(part.gear)
        yield from self._cruise(begin, 2.0, part.gear)
        yield from self._change_to(part.gear)
        yield from self._cruise_in_gear(begin, 1.5)
        start, spoiled, self.pulling = motion.time, False, True
        end = part.to_rpm + 25.0 * chance.normal()
        rate = 1.0 / (0.20 + 0.03 * chance.normal())
        while motion.engine_speed < end:
            if part.lift_at is not None and not spoiled and motion.engine_speed > part.lift_at:
                spoiled = True
                yield from self._foot(0.35, 4.0, hold=0.7)
            yield from self._foot(1.0, rate, hold=0.0)
        self.marks.append(PullMark(start, motion.time, spoiled))
        self.pulling = False
        yield from self._foot(0.0, 7.0, hold=0.3)

    def _change_to(self, gear: int) -> Generator[Command, None, None]:
        if self._gear != gear:
            self._gear = gear
            end = self._motion.time + 0.45
            while self._motion.time < end:
                self._pedal = 0.0
                yield Command(0.0, 0.0, 0)

    def _cruise_in_gear(self, speed: float, seconds: float) -> Generator[Command, None, None]:
        end, last = self._motion.time + seconds, self._motion.time
        while self._motion.time < end:
            step, last = self._motion.time - last, self._motion.time
            self._press(step, speed - self._motion.speed)
            yield Command(self._pedal, 0.0, self._gear)

    def _foot(self, position: float, rate: float, hold: float) -> Generator[Command, None, None]:
        """Move the pedal to a position at a rate [1/s] and hold it there for `hold` s; at least one step."""
        last, held = self._motion.time, 0.0
        while True:
            yield Command(self._pedal, 0.0, self._gear)
            step, last = self._motion.time - last, self._motion.time
            reach = rate * step
            self._pedal += min(max(position - self._pedal, -reach), reach)
            if self._pedal == position:
                held += step
                if held >= hold:
                    return
