"""Comparisons made up by hand: every number here is invented, none comes out of the analysis."""

import datetime
from types import MappingProxyType

import numpy as np
import pytest
from tests.report.airs import SUSPECTED, breathed
from tests.report.other_reports import MANY, operating, path_report, power_report_of
from tests.report.predictions import predicted

from pullproof.analysis.comparison.result import (
    Comparison,
    CurveDifference,
    FairnessCheck,
    LeftOut,
    MeasureDifference,
)
from pullproof.car import Car, Engine
from pullproof.conditions import Air, Change, ConditionsSheet
from pullproof.pulls import Pull
from pullproof.reading.log import Column, Log
from pullproof.report.air_section import air_section
from pullproof.report.content import LogConditions, Report, build_report
from pullproof.report.map_section import map_section
from pullproof.report.path_sections import loss_section
from pullproof.report.prediction_section import prediction_section

MADE_AT = datetime.datetime.fromisoformat("2026-10-05T20:15")
NAN = float("nan")

CAUTIONS = (
    "Run only on a closed course or a dynamometer, and have a second person mind the screen.",
    "Stop at once on knock, lean mixture or over-temperature.",
    "Boost and hot parts: pressure-test pipework behind a guard.",
    "Noise, emission and roadworthiness rules differ by place, and a licensed workshop has the last word.",
)


def measure(identifier, unit, before, after, adjustment, half, worth, verdict, **more) -> MeasureDifference:
    raw = after - before
    values = {
        "id": identifier,
        "unit": unit,
        "before": before,
        "after": after,
        "raw_difference": raw,
        "adjustment": adjustment,
        "difference": raw + adjustment,
        "interval": (raw + adjustment - half, raw + adjustment + half),
        "level": 0.95,
        "smallest_worth_having": worth,
        "verdict": verdict,
        "pulls_before": 3,
        "pulls_after": 3,
        "days_before": 1,
        "days_after": 1,
        "censored": False,
        "run_to_run": half / 3,
        "day_to_day": half / 2.5,
    }
    return MeasureDifference(**(values | more))


def curve(channel, unit, level, effect, half) -> CurveDifference:
    rpm = np.arange(3000.0, 6501.0, 50.0)
    shape = np.exp(-(((rpm - 5200) / 1100) ** 2))
    before = level * (0.86 + 0.14 * np.sin((rpm - 2600) / 2100))
    difference = effect * shape
    width = half * (0.8 + 0.5 * ((rpm - 4700) / 1700) ** 2)
    return CurveDifference(
        channel, unit, rpm, before, before + difference, difference, difference - width, difference + width
    )


def pulls(side, count, refused) -> tuple[Pull, ...]:
    made = [
        Pull(f"{side}-{n}.csv", 41.37 + 60 * n, 48.92 + 60 * n, 3, 2480.0, 6580.0 + 10 * n, used=True)
        for n in range(1, count + 1)
    ]
    if refused:
        made.append(
            Pull(
                f"{side}-1.csv",
                212.4,
                214.1,
                None,
                3100.0,
                4200.0,
                used=False,
                reason="too short: 1.7 s and 1100 rpm, where 2 s and 1500 rpm are needed",
                assumptions=("the log has no pedal channel, so throttle stands for full load",),
            )
        )
    return tuple(made)


CHECKS = (
    FairnessCheck(
        "boost_matched",
        "warn",
        "achieved boost differed by 1.4 kPa on the mean",
        {"wastegate_duty.peak": 0.4, "wheel_power.mean": 0.9},
        accounted_for=True,
    ),
    FairnessCheck(
        "air_temperature",
        "warn",
        "air was 6.5 K warmer after (11.0 degC before, 17.5 degC after)",
        {"wastegate_duty.peak": 0.9, "air_mass_flow.mean": -2.4},
        accounted_for=True,
    ),
    FairnessCheck("air_pressure", "pass", "99.4 kPa before, 99.1 kPa after", {"wastegate_duty.peak": 0.1}, True),
    FairnessCheck("humidity", "pass", "55 % before, 48 % after", {}, True),
    FairnessCheck("heat_soak", "pass", "intake air at the start of the pulls differed by -0.8 K"),
    FairnessCheck("start_speed", "pass", "pulls start within 60 rpm of each other"),
    FairnessCheck("same_gear", "pass", "gear 3 on both sides"),
    FairnessCheck(
        "direction",
        "fail",
        "all pulls before ran out, all pulls after ran back",
        {"wheel_power.mean": 6.1, "pull.time": -0.2},
    ),
    FairnessCheck("test_days", "warn", "each side was driven on one day: day and change cannot be told apart"),
    FairnessCheck("order", "pass", "before was driven first"),
    FairnessCheck("sample_rate", "pass", "20 Hz before, 20 Hz after"),
    FairnessCheck("fuel", "pass", "same fuel stated on both sides"),
    FairnessCheck("ignition_timing", "pass", "mean timing differed by 0.3 deg", {"wheel_power.mean": 0.4}),
    FairnessCheck("mixture", "pass", "mean lambda differed by 0.004"),
    FairnessCheck("battery_voltage", "pass", "14.1 V before, 14.2 V after"),
)


SHARES = (("ambient_temperature", 0.42), ("boost achieved", -0.12))


def realistic(**more) -> Comparison:
    values = {
        "window_rpm": (4000.0, 6500.0),
        "level": 0.95,
        "main": "wastegate_duty.peak",
        "sentence": "The change lowered peak wastegate duty by 1.90 percentage points (95 % interval -2.80 to -1.00).",
        "before": pulls("before", 3, True),
        "after": pulls("after", 3, False),
        "measures": (
            measure("wastegate_duty.peak", "%", 97.2, 95.0, 0.3, 0.9, 0.5, "lower", adjusted_for=SHARES),
            measure("boost.mean", "kPa", 138.4, 139.8, -0.2, 2.7, 3.0, "unclear"),
            measure("air_mass_flow.mean", "g/s", 231.3, 233.0, 2.4, 5.6, 4.0, "unclear"),
            measure("wheel_power.mean", "kW", 171.0, 174.1, 1.1, 4.4, 4.0, "unclear"),
            measure("pull.time", "s", 5.61, 5.55, -0.02, 0.14, 0.1, "unclear"),
            measure("lambda.mean", "1", 0.842, 0.846, 0.0, 0.012, 0.02, "same"),
        ),
        "curves": (
            curve("wastegate_duty", "%", 96.0, -3.1, 1.2),
            curve("charge_pressure", "kPa", 245.0, 1.5, 3.5),
            curve("wheel_power", "kW", 185.0, 4.0, 5.0),
        ),
        "checks": CHECKS,
        "left_out": (
            LeftOut("charge_pressure_drop.mean", "no log has a pressure at the compressor outlet"),
            LeftOut("knock_retard.worst", "after-2.csv has no knock_retard channel"),
        ),
        "cautions": CAUTIONS,
        "next_steps": (
            "Drive three more pulls with the old pipe on another day (old, new, old) to tell day and change apart.",
            "Drive both directions on each side.",
        ),
        "doubts": ("each side has one test day: how far days scatter is what is usual, not this car's own",),
    }  # fmt: skip
    return Comparison(**(values | more))


def censored() -> Comparison:
    first, *rest = realistic().measures
    pinned = measure(
        "wastegate_duty.peak", "%", 100.0, 100.0, NAN, NAN, 0.5, "unclear", censored=True, difference=NAN,
        interval=(NAN, NAN), run_to_run=NAN, day_to_day=NAN,
    )  # fmt: skip
    assert first.id == pinned.id
    return realistic(
        measures=(pinned, *rest),
        sentence="Wastegate duty is pinned at 100 % on both sides, so boost carries the answer: "
        "mean boost changed by +1.2 kPa (95 % interval -1.5 to +3.9 kPa), which is unclear.",
    )


def unclear_single_pulls() -> Comparison:
    return realistic(
        main="boost.mean",
        sentence="Whether mean boost changed is unclear: +1 kPa (95 % interval -9 to 12 kPa), 1 pull before and 1 "
        "after on two days. One pull a side on two days proves little: with nothing changed, two such pulls can "
        "differ by up to 10 kPa, for the days alone.",
        before=pulls("before", 1, False),
        after=pulls("after", 1, False),
        measures=(
            measure("boost.mean", "kPa", 138.4, 139.8, -0.2, 10.4, 3.0, "unclear", pulls_before=1, pulls_after=1),
        ),
        curves=(curve("charge_pressure", "kPa", 245.0, 1.5, 14.0),),
        checks=CHECKS[:2],
        left_out=(),
        next_steps=(),
    )


def left_out_only() -> Comparison:
    return realistic(
        measures=(),
        curves=(),
        checks=(),
        next_steps=(),
        doubts=(),
        main="pull.time",
        sentence="No measure can be taken on both sides.",
    )


HOSTILE = "<b>&amp; \"x\" 'y' #let *bold* _under_ $math$ @ref <label> \\ [c] {d} `raw` // = - + ~ </script>"
LONG = "a_very_long_file_name_without_a_single_space_" * 4 + ".csv"


def hostile() -> Comparison:
    return realistic(
        sentence=HOSTILE,
        before=(Pull(HOSTILE, 1.0, 5.0, 3, 2500.0, 6500.0, used=False, reason=HOSTILE, assumptions=(HOSTILE,)),),
        after=(Pull(LONG, 1.0, 5.0, 3, 2500.0, 6500.0, used=True),),
        checks=(FairnessCheck("boost_matched", "fail", HOSTILE), FairnessCheck(LONG, "warn", LONG)),
        curves=(curve(HOSTILE, "kPa", 200.0, 3.0, 1.0),),
        left_out=(LeftOut(LONG, HOSTILE),),
        cautions=(HOSTILE, LONG),
        next_steps=(HOSTILE,),
        doubts=(HOSTILE,),
    )


EXAMPLES = {
    "realistic": realistic,
    "censored": censored,
    "unclear": unclear_single_pulls,
    "left_out_only": left_out_only,
    "hostile": hostile,
}

CAR = Car(
    name="blue hatch",
    mass_kg=1510.0,
    tyre="235/35R19",
    engine=Engine(displacement_l=2.0, cylinders=4, redline_rpm=6800.0, fuel="petrol", aspiration="turbo"),
)

GAUGE = "gauge against a fixed 100 kPa or against the barometer: the idle reading fits both"
LOGS = (
    Log(
        "before-1.csv", 8123, 406.1, "utf-8", ",", ".",
        (
            Column("RPM", "engine_speed", "rpm", 0.99, 20.0),
            Column("Boost", "charge_pressure", "psi gauge", 0.7, 20.0, doubt=GAUGE),
            Column("spare 2", None, None, 0.0, 20.0, doubt="not recognised"),
        ),
        MappingProxyType({}),
    ),
)  # fmt: skip


def air(temperature, pressure, humidity) -> Air:
    known = {"temperature_c": temperature, "pressure_kpa": pressure, "relative_humidity_pct": humidity}
    origin = {name: "conditions file" for name, value in known.items() if value is not None}
    return Air(temperature, pressure, humidity, MappingProxyType(origin))


CONDITIONS = tuple(
    LogConditions(
        f"{side}-{n}.csv", side, day, air(temperature + 0.1 * n, pressure, humidity), direction,
        datetime.datetime.fromisoformat(f"2026-10-0{date}T16:2{n}"),
    )
    for side, day, temperature, pressure, humidity, direction, date in (
        ("before", "saturday", 11.0, 99.4, 55.0, "out", 3),
        ("after", "sunday", 17.5, 99.1, None, "back", 4),
    )
    for n in (1, 2, 3)
)  # fmt: skip

FITTED = datetime.datetime.fromisoformat("2026-10-03T18:00")
SHEET = ConditionsSheet(changes=(Change("charge pipe, 63.5 mm in place of 57 mm", FITTED),))


def report_of(comparison: Comparison) -> Report:
    return build_report(comparison, car=CAR, made_at=MADE_AT, conditions=SHEET, air=CONDITIONS, logs=LOGS)


def hostile_report() -> Report:
    car = Car(name=HOSTILE, tyre=HOSTILE)
    conditions = tuple(LogConditions(name, "before", HOSTILE, Air(), HOSTILE) for name in (HOSTILE, LONG))
    sheet = ConditionsSheet(changes=(Change(HOSTILE), Change(LONG)))
    return build_report(hostile(), car=car, made_at=MADE_AT, conditions=sheet, air=conditions, logs=LOGS)


@pytest.fixture(params=list(EXAMPLES))
def comparison(request) -> Comparison:
    """Each example in turn."""
    return EXAMPLES[request.param]()


def predicted_report(folder) -> Report:
    """The realistic example with a prediction, the losses of both paths, the air system, and an operating line."""
    prediction = predicted(folder)
    paths = (prediction.paths.before, prediction.paths.after)
    more = (
        prediction_section(prediction),
        loss_section(paths),
        air_section(breathed(SUSPECTED)),
        map_section((("before", operating()),)),
    )
    return build_report(realistic(), car=CAR, made_at=MADE_AT, conditions=SHEET, more=more)


OTHERS = {
    "predicted": predicted_report,
    "change of path": path_report,
    "one path": lambda folder: path_report(folder, MANY),
    "power": lambda _: power_report_of(),
}


@pytest.fixture(scope="session", params=[*EXAMPLES, *OTHERS])
def report(request, tmp_path_factory) -> Report:
    """The report of each example in turn."""
    if request.param in OTHERS:
        return OTHERS[request.param](tmp_path_factory.mktemp("paths"))
    return hostile_report() if request.param == "hostile" else report_of(EXAMPLES[request.param]())


@pytest.fixture
def realistic_comparison() -> Comparison:
    """Three pulls a side, six measures, three curves, fifteen checks."""
    return realistic()


@pytest.fixture(scope="session")
def realistic_report() -> Report:
    """The report of the realistic example."""
    return report_of(realistic())
