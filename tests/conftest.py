"""Invented drives whose every instant is known, logged as fast, as slow and as badly as a test wants it."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pytest

from pullproof.car import Car
from pullproof.channels import CHANNELS, Trace
from pullproof.computed_channels import PullRecord, record_pull
from pullproof.conditions import Air, Conditions
from pullproof.pulls import Pull
from pullproof.reading.log import Log

STEP = 0.005
RATIOS = {1: 120.0, 2: 70.0, 3: 47.6, 4: 35.0, 5: 27.7}  # engine speed over road speed, rpm/(km/h)
RATES = {1: 2200.0, 2: 1100.0, 3: 620.0, 4: 360.0, 5: 230.0}  # rpm/s at full load and full boost


def pull_shape(rpm: float) -> float:
    """Share of the full rate of rise: boost builds up to 3200 rpm, breath gets short above 5000."""
    return float(np.interp(rpm, [1000, 2000, 3200, 5000, 7000], [0.35, 0.5, 1.0, 1.0, 0.7]))


@dataclass
class TruePull:
    """What really happened: full load from start to end, and what was wrong with it."""

    start: float
    end: float
    gear: int
    rpm_start: float
    rpm_end: float
    flaw: str | None


@dataclass
class Drive:
    """A drive put together piece by piece at 200 Hz; `log` samples it."""

    engine: list[float] = field(default_factory=lambda: [850.0])
    road: list[float] = field(default_factory=lambda: [0.0])
    pedal: list[float] = field(default_factory=lambda: [0.0])
    torque: list[float] = field(default_factory=lambda: [20.0])
    pulls: list[TruePull] = field(default_factory=list)
    gap: list[tuple[float, float]] = field(default_factory=list)
    full: float = 100.0
    rest: float = 0.0

    @property
    def now(self) -> float:
        return (len(self.engine) - 1) * STEP

    def _add(self, engine: float, road: float, pedal: float, torque: float) -> None:
        self.engine.append(engine)
        self.road.append(road)
        self.pedal.append(pedal)
        self.torque.append(torque)

    def settle(self, seconds: float, gear: int, rpm: float, pedal: float = 18.0) -> "Drive":
        """Drive over, at part load, to an engine speed in a gear."""
        count = round(seconds / STEP)
        first_engine, first_road, first_pedal = self.engine[-1], self.road[-1], self.pedal[-1]
        for i in range(1, count + 1):
            part = i / count
            swing = 0.5 - 0.5 * np.cos(np.pi * min(1.0, 1.6 * part))
            road = first_road + (rpm / RATIOS[gear] - first_road) * swing
            engine = first_engine + (road * RATIOS[gear] - first_engine) * min(1.0, 3 * part)
            self._add(max(engine, 850.0), road, first_pedal + (pedal - first_pedal) * min(1.0, 0.3 + 5 * part), 45.0)
        return self

    def pull(
        self, gear: int, rpm_start: float, rpm_end: float, flaw: str | None = None, pedal: float | None = None
    ) -> "Drive":
        """Floor the pedal at one engine speed, let go at another; `flaw` goes wrong half way."""
        self.settle(3.0, gear, rpm_start)
        pedal = self.full if pedal is None else pedal
        foot, before = round(0.15 / STEP), self.pedal[-1]
        for i in range(1, foot + 1):
            self._add(self.engine[-1], self.road[-1], before + (pedal - before) * i / foot, 60.0)
        start, first_gear = self.now, gear
        true = rpm_start  # engine speed that belongs to the road speed
        middle, since, done = 0.5 * (rpm_start + rpm_end), 0.0, False
        while true < rpm_end:
            rate, foot_now, torque, ahead = RATES[gear] * pull_shape(true) * (pedal / self.full), pedal, 100.0, 0.0
            if flaw and flaw != "gear change" and true >= middle and not done:
                since += STEP
                if flaw == "lift":
                    done = since > 0.5
                    foot_now, torque, rate = 0.3 * pedal, 20.0, -150.0
                elif flaw == "cut":
                    done = since > 0.4
                    rate, torque = -0.3 * rate, 15.0
                elif flaw == "spin":
                    done = since > 0.8
                    rate *= 0.6
                    ahead = 0.16 * np.sin(np.pi * min(1.0, since / 0.8))
                elif flaw == "gap":
                    if since <= STEP:
                        self.gap.append((self.now, self.now + 1.6))
                    done = since > 1.6
            true += rate * STEP
            self._add(true * (1 + ahead), true / RATIOS[gear], foot_now, torque)
            if flaw == "gear change" and true >= middle and not done:
                done = True
                self.pulls.append(TruePull(start, self.now, gear, rpm_start, true, None))
                for i in range(round(0.3 / STEP)):
                    part = (i + 1) * STEP / 0.3
                    new = self.road[-1] * RATIOS[gear + 1]
                    self._add(true + (new - true) * part, self.road[-1], pedal, 60.0)
                gear, true = gear + 1, self.engine[-1]
                start, rpm_start = self.now, true
                rpm_end = middle
        self.pulls.append(TruePull(start, self.now, gear, rpm_start, true, flaw if flaw != "gear change" else None))
        foot = round(0.12 / STEP)
        for i in range(1, foot + 1):
            self._add(self.engine[-1], self.road[-1], pedal * (1 - i / foot), 20.0)
        assert gear - first_gear in (0, 1)
        return self.settle(2.0, gear, 0.8 * self.engine[-1], 0.0)

    def log(
        self,
        rate: float | dict[str, float] = 20.0,
        *,
        rows: float | None = None,
        noise: float = 4.0,
        leave_out: tuple[str, ...] = (),
        delay: float = 0.0,
        whole_kmh: bool = False,
        seed: int = 0,
        extra: dict[str, np.ndarray] | None = None,
    ) -> Log:
        """Sample the drive. `rows`: rows per second in which each channel's last sample is held; else own times."""
        rng = np.random.default_rng(seed)
        time = np.arange(len(self.engine)) * STEP
        signals = {
            "engine_speed": np.array(self.engine) + noise * rng.standard_normal(time.size),
            "vehicle_speed": np.interp(time - delay, time, self.road),
            "pedal_position": self.rest + np.array(self.pedal) * (self.full - self.rest) / self.full,
            **(extra or {}),
        }
        traces = {}
        for name, signal in signals.items():
            if name in leave_out:
                continue
            hz = rate.get(name, 20.0) if isinstance(rate, dict) else rate
            own = np.arange(rng.uniform(0, 1 / hz), time[-1], 1 / hz)
            values = np.interp(own, time, signal)
            if name == "engine_speed":
                values = np.round(values)
            if name == "vehicle_speed" and whole_kmh:
                values = np.floor(values)
            at = own
            if rows is not None:
                at = np.arange(0, time[-1], 1 / rows)
                last = np.searchsorted(own, at, "right") - 1
                values = np.where(last >= 0, values[np.maximum(last, 0)], np.nan)
            kept = np.ones(at.size, dtype=bool)
            for first, after in self.gap:
                kept &= ~((at > first) & (at < after))
            unit = CHANNELS[name].unit if name in CHANNELS else ""
            traces[name] = Trace(name, unit, at[kept], values[kept].astype(np.float32).astype(np.float64))
        return Log(
            file="drive.csv",
            rows=max((trace.time.size for trace in traces.values()), default=0),
            duration_s=float(time[-1]),
            encoding="utf-8",
            delimiter=",",
            decimal=".",
            columns=(),
            traces=traces,
        )


@pytest.fixture
def new_drive() -> Callable[..., Drive]:
    """Begin a drive: idle at rest, then set off in first gear."""

    def begin(**options: float) -> Drive:
        drive = Drive(**options)  # type: ignore[arg-type]
        drive.settle(2.0, 1, 850.0, 0.0)
        drive.engine[:], drive.road[:] = [850.0] * len(drive.engine), [0.0] * len(drive.road)
        for gear, rpm in ((1, 2600.0), (2, 2500.0), (3, 2300.0), (4, 2100.0), (5, 2000.0)):
            drive.settle(4.0, gear, rpm, 30.0)
        return drive

    return begin


# One analytic pull: engine speed is a parabola of time, every channel a smooth function of engine speed.

PULL_START, PULL_LENGTH = 10.0, 7.0
AMBIENT_KPA = 99.4


def true_rpm(time: np.ndarray) -> np.ndarray:
    """2200 rpm at the start, 6605 rpm at the end, level before and falling after."""
    t = np.clip(time - PULL_START, 0.0, PULL_LENGTH)
    after = np.clip(time - PULL_START - PULL_LENGTH, 0.0, None)
    return 2200.0 + 800.0 * t - 24.4 * t**2 - 500.0 * after


def true_boost(rpm: np.ndarray) -> np.ndarray:
    """Spools up around 2900 rpm, has a hump at 4200, sags towards the top. [kPa]"""
    spool = 1.0 / (1.0 + np.exp(-(rpm - 2900.0) / 130.0))
    return spool * (118.0 + 12.0 * np.exp(-(((rpm - 4200.0) / 600.0) ** 2)) - 9e-3 * np.clip(rpm - 4500.0, 0, None))


def true_duty(rpm: np.ndarray) -> np.ndarray:
    """Held closed up to 3500 rpm, then opens, and works its way up again. [%]"""
    open_part = 78.0 + 14.0 * ((rpm - 4200.0) / 2400.0) ** 2
    return np.where(rpm < 3500.0, 99.99, np.minimum(open_part, 99.99))


TRUE = {
    "charge_pressure": lambda rpm: AMBIENT_KPA + true_boost(rpm),
    "manifold_pressure": lambda rpm: AMBIENT_KPA + true_boost(rpm) - 3.0 - rpm / 2000.0,
    "wastegate_duty": true_duty,
    "air_mass_flow": lambda rpm: 0.045 * rpm * (0.5 + true_boost(rpm) / 240.0),
    "ignition_timing": lambda rpm: 14.0 - 6.0 * np.exp(-(((rpm - 3600.0) / 900.0) ** 2)),
    "knock_retard": lambda rpm: 2.0 * np.exp(-(((rpm - 5200.0) / 500.0) ** 2)),
    "lambda": lambda rpm: 0.86 + 0.06 * np.exp(-(((rpm - 4600.0) / 700.0) ** 2)),
    "intake_air_temperature": lambda rpm: 24.0 + 4.0 * (rpm - 2200.0) / 4400.0,
    "wheel_power": lambda rpm: rpm * (40.0 + true_boost(rpm)) / 6000.0,
}


def analytic_log(
    rate: float = 20.0,
    *,
    rows: float | None = None,
    blanks: bool = False,
    noise: float = 0.0,
    phase: float = 0.37,
    seed: int = 1,
) -> Log:
    """Log the analytic pull. `rows`: rows per second in which the last sample is held, or, with `blanks`, left out."""
    rng = np.random.default_rng(seed)
    end = PULL_START + PULL_LENGTH + 5.0
    traces = {}
    for place, (name, function) in enumerate({"engine_speed": lambda rpm: rpm, **TRUE}.items()):
        # A logger that asks one channel after another reaches each at another instant.
        own = np.arange((phase + 0.61 * place) % 1.0 / rate, end, 1 / rate)
        values = function(true_rpm(own))
        values = values * (1 + noise * rng.standard_normal(own.size))
        if name == "engine_speed":
            values = np.round(values)
        at = own
        if rows is not None:
            at = np.arange(0, end, 1 / rows)
            last = np.searchsorted(own, at + 1e-9, "right") - 1
            fresh = np.diff(last, prepend=-1) > 0
            values = np.where((last >= 0) & (fresh | (not blanks)), values[np.maximum(last, 0)], np.nan)
        unit = CHANNELS[name].unit if name in CHANNELS else "kW"
        traces[name] = Trace(name, unit, at, values)
    return Log("analytic.csv", traces["engine_speed"].time.size, end, "utf-8", ",", ".", (), traces)


@dataclass(frozen=True)
class Analytic:
    """The analytic pull as tests see it: its truth, and its log in any quality."""

    start: float = PULL_START
    end: float = PULL_START + PULL_LENGTH
    ambient: float = AMBIENT_KPA
    channels: dict[str, Callable[[np.ndarray], np.ndarray]] = field(
        default_factory=lambda: {**TRUE, "boost": true_boost}
    )

    def rpm(self, time: np.ndarray) -> np.ndarray:
        return true_rpm(time)

    def log(self, **quality: float | bool | None) -> Log:
        return analytic_log(**quality)  # type: ignore[arg-type]

    def pull(self) -> Pull:
        return Pull("analytic.csv", self.start, self.end, 3, 2200.0, 6604.4, used=True)

    def record(self, **quality: float | bool | None) -> PullRecord:
        conditions = Conditions("analytic.csv", day="monday", air=Air(pressure_kpa=self.ambient))
        return record_pull(self.log(**quality), self.pull(), Car("invented"), conditions)


@pytest.fixture
def analytic() -> Analytic:
    """One pull of which every channel is a known function of engine speed."""
    return Analytic()
