"""Each check must see what it is for, say it with numbers and units, and admit what is not logged."""

import datetime

import pytest

from pullproof.analysis.comparison import FairnessCheck, MeasureDifference, compare_records
from pullproof.analysis.comparison.fairness import CHECKS, explanations
from pullproof.car import Car, Engine
from pullproof.conditions import Air, Change

STABLE = {
    "boost_matched", "boost_on_target", "gear", "pedal", "throttle", "start_speed", "ambient_temperature",
    "ambient_pressure", "humidity", "charge_temperature_start", "coolant_temperature_start", "oil_temperature_start",
    "ignition", "knock", "lambda", "logging_rate", "direction", "order", "pulls_and_days", "wastegate_saturated",
    "refused_one_side", "several_changes",
}  # fmt: skip


@pytest.fixture
def compared(pull, car, check):
    """One pull a side, each side with its own peculiarities; the check asked for."""

    def run(name, before=None, after=None, **options):
        both = [pull("before-1.csv", **(before or {}))], [pull("after-1.csv", **(after or {}))]
        return check(compare_records(*both, car=car, **options), name)

    return run


def test_all_checks_are_made_and_keep_their_names(pull, car):
    """The ids are stable, and every one is answered in every comparison."""
    found = compare_records([pull()], [pull("after-1.csv")], car=car)
    assert {entry.id for entry in found.checks} == STABLE == set(CHECKS)
    for entry in found.checks:
        assert entry.detail.endswith(".")
        assert entry.detail[0].isupper() or entry.detail[0].isdigit()


# check, what differs after, what the sentence must hold, what it could explain (measure and sign; None: nothing)
UNLIKE = [
    ("boost_matched", {"boost": 145.5, "wastegate_duty": 97.0}, "5.5 kPa apart", ("wastegate_duty.peak", 1)),
    ("boost_on_target", {"boost": 130.0}, "kPa", None),
    ("pedal", {"pedal_position": 90.0}, "10.0 % apart", ("wastegate_duty.peak", -1)),
    ("throttle", {"throttle_position": 90.0}, "9.0 % apart", ("wastegate_duty.peak", -1)),
    ("start_speed", {"rpm": (2600.0, 6600.0)}, "800 rpm apart", None),
    (
        "charge_temperature_start", {"intake_air_temperature": 50.0}, "15.0 K apart", ("wastegate_duty.peak", -1),
    ),
    ("coolant_temperature_start", {"coolant_temperature": 70.0}, "20.0 K apart", None),
    ("oil_temperature_start", {"oil_temperature": 80.0}, "20.0 K apart", None),
    ("ignition", {"ignition_timing": 6.0}, "2.00 deg apart", ("wastegate_duty.peak", -1)),
    ("knock", {"knock_retard": 3.0}, "3.00 deg apart", ("wastegate_duty.peak", -1)),
    ("lambda", {"lambda": 0.88}, "0.040 apart", ("wastegate_duty.peak", -1)),
]  # fmt: skip


@pytest.mark.parametrize(("name", "after", "text", "explains"), UNLIKE, ids=[row[0] for row in UNLIKE])
def test_what_differs_much_fails_with_its_amount(compared, name, after, text, explains):
    """A large difference fails, is told with its unit, and says what it could make of the main measure."""
    found = compared(name, {"wastegate_duty": 96.0}, {"wastegate_duty": 94.0} | after)
    assert found.status == "fail"
    assert text in found.detail
    if explains is not None:
        assert found.could_explain[explains[0]] * explains[1] > 0.0


@pytest.mark.parametrize(
    ("name", "changes", "text"),
    [
        ("ambient_temperature", {"temperature_c": 23.0}, "12.0 K apart"),
        ("ambient_pressure", {"pressure_kpa": 96.9}, "2.50 kPa apart"),
        ("humidity", {"temperature_c": 28.0, "relative_humidity_pct": 80.0}, "kPa apart"),
    ],
)
def test_weather_that_differs_much_fails_and_is_accounted_for(compared, in_air, name, changes, text):
    """Unlike weather is named with its size; the model has taken it out, doubt included."""
    found = compared(name, {}, {"air": in_air(**changes)})
    assert found.status == "fail"
    assert text in found.detail
    assert found.accounted_for
    assert "taken out" in found.detail


@pytest.mark.parametrize(
    "name", sorted(STABLE - {"boost_on_target", "order", "pulls_and_days", "several_changes"}), ids=lambda name: name
)
def test_what_is_alike_passes(compared, name):
    """Two equal sides pass."""
    assert compared(name).status == "pass"


@pytest.mark.parametrize(
    ("name", "channel"),
    [
        ("boost_matched", "boost"),
        ("boost_on_target", "charge_pressure_target"),
        ("pedal", "pedal_position"),
        ("throttle", "throttle_position"),
        ("charge_temperature_start", "intake_air_temperature"),
        ("coolant_temperature_start", "coolant_temperature"),
        ("oil_temperature_start", "oil_temperature"),
        ("ignition", "ignition_timing"),
        ("knock", "knock_retard"),
        ("lambda", "lambda"),
        ("wastegate_saturated", "wastegate_duty"),
    ],
)
def test_what_is_not_logged_is_a_warning_with_advice(compared, name, channel):
    """A check that cannot be made warns, says so, and says what to log."""
    found = compared(name, {"without": (channel,)}, {"without": (channel,)})
    assert found.status == "warn"
    assert "not" in found.detail


def test_unknown_weather_warns_and_says_what_it_may_have_done(compared):
    """Weather that nobody wrote down could explain part of the difference; the interval is wider for it."""
    found = compared(
        "ambient_temperature",
        {"air": Air(), "wastegate_duty": 96.0, "without": ("intake_air_temperature",)},
        {"air": Air(), "wastegate_duty": 94.0, "without": ("intake_air_temperature",), "day": "sunday"},
    )
    assert found.status == "warn"
    assert found.could_explain["wastegate_duty.peak"] < -0.5
    assert "wider" in found.detail
    assert "conditions file" in found.detail


def test_unknown_air_is_told_by_the_charge_where_that_is_logged(compared):
    """A charge temperature at the start stands in for the air's, and the check says so."""
    found = compared("ambient_temperature", {"air": Air()}, {"air": Air(), "day": "sunday"})
    assert found.status == "warn"
    assert "stands in" in found.detail


def test_gears_that_differ_make_everything_incomparable(compared):
    """Third gear against fourth: a failure that could explain the whole of every difference."""
    found = compared("gear", {"wastegate_duty": 96.0}, {"gear": 4, "wastegate_duty": 94.0})
    assert found.status == "fail"
    assert found.could_explain["wastegate_duty.peak"] == pytest.approx(-2.0, abs=0.01)


def test_gears_known_to_differ_fail_though_others_are_unknown(pull, car, check):
    """A first-gear pull among unknown ones is enough to spoil the comparison."""
    sides = [pull(gear=2)], [pull("after-1.csv", gear=None), pull("after-2.csv", gear=1)]
    assert check(compare_records(*sides, car=car), "gear").status == "fail"


def test_gear_is_told_from_road_speed_where_it_is_unknown(compared):
    """Without a gear the ratio of engine to road speed serves; without road speed it stays open."""
    assert compared("gear", {"gear": None}, {"gear": None}).status == "pass"
    without = {"gear": None, "without": ("vehicle_speed",)}
    assert compared("gear", without, without).status == "warn"


def test_a_pull_far_slower_than_another_was_in_another_gear(pull, car, check):
    """Without gear and road speed the pace tells: 2520 rpm at 600 and at 350 rpm/s are 4.20 and 7.20 s.

    The time through a window goes with the square of the gear ratio (force over mass, both at the wheel).
    """
    unknown = {"gear": None, "without": ("vehicle_speed",)}
    found = compare_records(
        [pull(**unknown, wastegate_duty=96.0)],
        [pull("after-1.csv", rpm=(3800.0, 6600.0), wastegate_duty=90.0, **unknown)],
        car=car,
    )
    gear = check(found, "gear")
    assert gear.status == "fail"
    assert "4.20 to 7.20 s through the window" in gear.detail
    assert {difference.verdict for difference in found.measures} <= {"unclear", "same"}


@pytest.mark.parametrize(("rate", "status"), [(10.0, "pass"), (18.0, "warn"), (50.0, "fail")])
def test_a_denser_log_finds_higher_peaks(compared, rate, status):
    """Logging five times as often on one side fails, twice as often warns."""
    found = compared("logging_rate", {}, {"rate_hz": rate})
    assert found.status == status
    assert "times a second" in found.detail


def test_direction_must_be_alike_or_balanced(pull, car, check, compared):
    """Out against back fails; both ways on both sides passes; unknown warns."""
    assert compared("direction", {}, {"direction": "back"}).status == "fail"
    assert compared("direction", {"direction": None}).status == "warn"
    ways = [[pull(f"{side}-{way}.csv", direction=way) for way in ("out", "back")] for side in ("before", "after")]
    assert check(compare_records(*ways, car=car), "direction").status == "pass"


@pytest.mark.parametrize(
    ("hours", "status"),
    [((10, 11, 12, 13), "warn"), ((10, 12, 11, 13), "pass"), (None, "warn")],
    ids=["one after the other", "interleaved", "unknown"],
)
def test_order_within_a_day(pull, car, check, hours, status):
    """After wholly behind before counts drift as the change; interleaved does not; unknown is said."""
    files = ("before-1.csv", "before-2.csv", "after-1.csv", "after-2.csv")
    moments = {} if hours is None else {
        file: datetime.datetime(2026, 10, 3, hour) for file, hour in zip(files, hours, strict=True)  # noqa: DTZ001
    }  # fmt: skip
    records = [pull(file) for file in files]
    found = check(compare_records(records[:2], records[2:], car=car, moments=moments), "order")
    assert found.status == status


@pytest.mark.parametrize(
    ("before", "after", "status", "text"),
    [
        (["saturday"] * 3, ["saturday"] * 3, "pass", "same day"),
        (["saturday"] * 3, ["sunday"] * 3, "warn", "no day in common"),
        (["saturday"], ["saturday"], "warn", "fewer than three"),
        (["friday", "friday", "saturday"], ["sunday", "monday", "monday"], "pass", "several on each side"),
    ],
)
def test_pulls_and_days(pull, car, check, before, after, status, text):
    """Three pulls a side on shared days, or on several days each, are enough; less is said."""
    sides = [
        [pull(f"{side}-{number}.csv", day) for number, day in enumerate(days)]
        for side, days in (("before", before), ("after", after))
    ]
    found = check(compare_records(*sides, car=car), "pulls_and_days")
    assert found.status == status
    assert text in found.detail


def test_a_wastegate_without_control_is_named(compared):
    """Duty at its stop before and not after: duty shows too small a difference."""
    found = compared("wastegate_saturated", {"wastegate_duty": 100.0}, {"wastegate_duty": 96.0})
    assert found.status == "warn"
    assert "1 of 1 pulls before and 0 of 1 after" in found.detail
    assert "too small" in found.detail


def test_refusals_on_one_side_are_named(pull, compared):
    """Two pulls refused after and none before: somebody should look."""
    reasons = ["pedal lifted at 75.9 s, for 1.0 s", "pedal lifted at 12.0 s, for 2.0 s", "too short: 980 rpm"]
    refused = [pull(f"after-{number}.csv", reason=reason).pull for number, reason in enumerate(reasons)]
    found = compared("refused_one_side", refused_after=refused)
    assert found.status == "warn"
    assert "(pedal lifted 2 times, too short)" in found.detail
    assert compared("refused_one_side", refused_after=refused[:1], refused_before=refused[1:]).status == "pass"


@pytest.mark.parametrize(
    ("changes", "status", "text"),
    [
        ((), "warn", "only you know"),
        ((Change("charge pipe"),), "pass", "charge pipe"),
        ((Change("charge pipe"), Change("air filter")), "warn", "only their sum"),
    ],
)
def test_several_changes_cannot_be_told_apart(compared, changes, status, text):
    """One change is fair, two show only their sum, and none written down is the user's to know."""
    found = compared("several_changes", changes=changes)
    assert found.status == status
    assert text in found.detail


def test_an_unblown_engine_is_not_asked_about_boost(pull):
    """Checks of boost and wastegate are left out for an engine without a charger."""
    car = Car("old hatch", engine=Engine(redline_rpm=6800.0, aspiration="none"))
    without = ("boost", "wastegate_duty")
    found = compare_records([pull(without=without)], [pull("after-1.csv", without=without)], car=car)
    assert {"boost_matched", "boost_on_target", "wastegate_saturated"}.isdisjoint(entry.id for entry in found.checks)


def test_boost_is_not_held_against_boost(pull, car, check):
    """Where boost is the main measure, unlike boost is the answer and no unfairness."""
    sides = [pull(boost=130.0)], [pull("after-1.csv", boost=140.0)]
    assert check(compare_records(*sides, car=car, main="boost.mean"), "boost_matched").status == "pass"


def difference_of(value, name="wastegate_duty.peak"):
    return MeasureDifference(
        id=name, unit="%", before=97.0, after=97.0 + value, raw_difference=value, adjustment=0.0, difference=value,
        interval=(value - 0.5, value + 0.5), level=0.95, smallest_worth_having=0.5, verdict="lower", pulls_before=3,
        pulls_after=3, days_before=1, days_after=1, censored=False,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("status", "amount", "accounted", "explains"),
    [
        ("fail", -2.5, False, True),
        ("fail", -1.0, False, False),
        ("fail", 2.5, False, False),
        ("fail", -2.5, True, False),
        ("warn", -2.5, False, False),
    ],
    ids=["the whole of it", "a part", "the other way", "accounted for", "a warning"],
)
def test_only_a_failure_that_could_make_all_of_it_explains(status, amount, accounted, explains):
    """Failed, not accounted for, in the same direction and as large: nothing less takes a claim back."""
    entry = FairnessCheck("ignition", status, "x.", {"wastegate_duty.peak": amount}, accounted)
    assert bool(explanations(difference_of(-2.0), [entry])) is explains
