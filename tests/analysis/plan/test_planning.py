import pytest

from pullproof.analysis.plan import Costs, Request, chances, plan_records
from pullproof.analysis.plan.orders import ORDERS
from pullproof.car import Car, Engine
from pullproof.errors import WrongUse
from pullproof.measures import MEASURES

FEW = 10
"""Draws: enough to see which way things go, and quick."""

CAR = Car("blue hatch", engine=Engine(redline_rpm=6800.0, fuel="petrol", aspiration="turbo"))


@pytest.fixture(scope="module")
def planned():
    """Two kilopascals of boost, by usual values: a question that one day answers."""
    return plan_records("boost.mean", 2.0, car=CAR, request=Request(draws=20))


@pytest.fixture(scope="module")
def tiny():
    """A tenth of a kilopascal: a question that no day answers."""
    return plan_records("boost.mean", 0.1, car=CAR, request=Request(draws=FEW))


def test_every_order_is_weighed_with_chance_and_cost(planned) -> None:
    """Each option has a probability, a positive cost, and an interval that fits what it would show."""
    assert {option.order for option in planned.options} == set(ORDERS)
    for option in planned.options:
        assert 0.0 <= option.chance <= 1.0
        assert option.minutes > 0.0
        # An interval of half width h shows h half of the time, and somewhat more 80 % of it.
        assert option.half_width < option.shows < 2.5 * option.half_width


def test_the_cheapest_that_is_enough_is_recommended(planned) -> None:
    """None that fits and has the chance costs fewer minutes."""
    best = planned.recommended
    enough = [option for option in planned.options if option.fits and option.chance >= 0.8]
    assert best in enough
    assert best.minutes == min(option.minutes for option in enough)
    assert f"before and {best.pulls_after} after (order: {best.label})" in planned.sentence


def test_one_day_is_enough_if_both_states_are_driven_on_it(planned) -> None:
    """The sentence says from how many pulls on; and that two days with one state each can never do."""
    assert planned.one_day.startswith("One day is enough if both states are driven on it")
    two_days = next(ceiling for ceiling in planned.ceilings if ceiling.order == "two_days")
    assert not two_days.enough
    assert "can never be enough, however many pulls" in planned.one_day


def test_a_tiny_effect_is_beyond_every_day(tiny) -> None:
    """Where even sixty pulls a side do not show it, one day can never be enough, and what comes nearest is named."""
    assert tiny.recommended is None
    assert "One day can never be enough" in tiny.one_day
    assert "No order that was weighed" in tiny.sentence


def test_a_change_that_takes_all_day_leaves_no_day_for_both_states() -> None:
    """Ten hours in the garage: no order of one day fits, and the sentence says why."""
    costs = Costs(change_min=600.0)
    found = plan_records("boost.mean", 2.0, car=CAR, request=Request(costs=costs, draws=FEW))
    assert not any(option.fits for option in found.options if ORDERS[option.order].one_day)
    assert "changing the part takes so long" in found.one_day
    assert found.recommended is None or not ORDERS[found.recommended.order].one_day


def test_a_great_effect_needs_no_second_look() -> None:
    """What is far larger than two days differ by is clear even then."""
    found = plan_records("boost.mean", 12.0, car=CAR, request=Request(draws=FEW))
    assert all(option.chance > 0.9 for option in found.options)
    assert "can do, because the effect is large" in found.one_day


def test_an_order_that_lets_drift_through_is_not_recommended_without_a_word(planned) -> None:
    """The cheapest order is open to an even drift; the sentence says how much of it, and what would hold it off."""
    assert planned.recommended.drift_share > 0.5
    assert "of an even drift through the session would be taken for the change" in planned.sentence


def test_without_logs_the_priors_are_named_as_such(planned) -> None:
    """Usual values are said to be usual, not this car's."""
    assert planned.scatter.pulls == 0
    assert any("no earlier log was given" in doubt for doubt in planned.doubts)
    assert "common practice, no source" in planned.scatter.origin


def test_stop_criteria_are_this_cars_limits(planned) -> None:
    """The redline of the sheet and the usual limits of petrol are among them, each with its origin."""
    stops = {limit.key: limit for limit in planned.stops}
    assert stops["engine_speed_rpm"].value == 6800.0
    assert {"knock_retard_deg", "lambda_full_load", "coolant_temperature_c"} <= set(stops)
    assert all(limit.origin for limit in planned.stops)


def test_cautions_are_there_and_nothing_is_called_safe(planned) -> None:
    """A run is planned here: the cautions stand, and no other sentence holds the word."""
    assert any("closed course" in caution for caution in planned.cautions)
    said = [planned.sentence, planned.one_day, planned.how, *planned.heat, *planned.assumptions, *planned.doubts]
    assert not any("safe" in text.lower() for text in said)


def test_how_and_assumptions_are_stated(planned) -> None:
    """Drawn, by the model of the verdict, how exactly; what a pull costs; what the model knows of drift."""
    assert "drawn" in planned.how
    assert "model of the verdict" in planned.how
    assert any("6 min" in text for text in planned.assumptions)
    assert any("even drift" in text for text in planned.assumptions)


def test_a_relative_measure_without_a_level_goes_in_per_cent() -> None:
    """Power at the wheels of an unknown car: its scatter is a percentage, so the effect has to be one."""
    with pytest.raises(WrongUse, match="goes in per cent of its level"):
        plan_records("wheel_power.mean", 3.0, car=CAR)
    found = plan_records("wheel_power.mean", 2.0, car=CAR, request=Request(in_percent=True, draws=FEW))
    assert (found.question.unit, found.question.effect) == ("%", 2.0)
    assert "2 % of its level" in found.sentence
    known = plan_records("wheel_power.mean", 2.0, car=CAR, request=Request(in_percent=True, typical=150.0, draws=FEW))
    assert (known.question.unit, known.question.effect) == ("kW", pytest.approx(3.0))
    chances = [[option.chance for option in each.options] for each in (found, known)]
    assert chances[0] == pytest.approx(chances[1], abs=0.02)


def test_without_an_effect_the_smallest_worth_having_is_taken() -> None:
    """And it is said."""
    found = plan_records("boost.mean", car=CAR, request=Request(draws=1))
    assert any("no effect was given" in doubt for doubt in found.doubts)
    assert found.question.effect > 0.0


def test_the_sign_of_the_effect_does_not_matter() -> None:
    """Less is as easy to see as more."""
    signs = [plan_records("boost.mean", sign * 2.0, car=CAR, request=Request(draws=1)).options for sign in (1.0, -1.0)]
    assert signs[0] == signs[1]


@pytest.mark.parametrize(
    ("measure", "effect", "request_", "words"),
    [
        ("boost.man", 2.0, Request(), "no measure"),
        ("boost.mean", 0.0, Request(), "is none"),
        ("boost.mean", float("nan"), Request(), "is none"),
        ("boost.mean", 2.0, Request(level=1.0), "level is 1"),
        ("boost.mean", 2.0, Request(chance=0.3), "chance is 0.3"),
        ("boost.mean", 2.0, Request(in_percent=True), "level of mean boost is not known"),
        ("wastegate_duty.peak", 2.0, Request(in_percent=True), "percentage points"),
        ("wheel_power.mean", 2.0, Request(typical=0.0), "typical value"),
    ],
)
def test_nonsense_is_refused(measure: str, effect: float, request_: Request, words: str) -> None:
    """One sentence each, before any reckoning."""
    with pytest.raises(WrongUse, match=words):
        plan_records(measure, effect, car=CAR, request=request_)


def test_earlier_pulls_are_learned_from(pulls, car) -> None:
    """With both sides given the plan rests on them, tells how open the question is and which pull narrows it."""
    before, after = pulls("before", "sat", [95.0, 95.2, 94.9, 95.1]), pulls("after", "sat", [93.0, 93.2, 92.8])
    found = plan_records("wastegate_duty.peak", 1.0, car=car, before=before, after=after, request=Request(draws=FEW))
    assert (found.scatter.pulls, found.scatter.days) == (7, 1)
    assert found.half_width_now > 0.0
    assert found.next_runs
    assert "narrows it most" in found.next_sentence
    assert any("of one day" in doubt for doubt in found.doubts)
    usual = plan_records("wastegate_duty.peak", 1.0, car=car, request=Request(draws=FEW))
    quiet, wide = (next(o for o in each.options if o.order == "before_after" and o.pulls_before == 4)
                   for each in (found, usual))  # fmt: skip
    assert quiet.chance > wide.chance


def test_after_alone_makes_no_sense(pulls, car) -> None:
    """Logs after the change need some before it."""
    with pytest.raises(WrongUse, match="none before it"):
        plan_records("wastegate_duty.peak", 1.0, car=car, after=pulls("after", "sat", [93.0, 93.2]))


def test_pulls_that_lack_the_measure_leave_usual_values(pull, car) -> None:
    """Earlier pulls without the channel cost nothing but their own scatter, and it is said."""
    bare = [pull(f"b-{n}.csv", without=("wastegate_duty",)) for n in range(3)]
    found = plan_records("wastegate_duty.peak", 2.0, car=car, before=bare, request=Request(draws=1))
    assert found.scatter.pulls == 0
    assert any("Usual values are taken" in doubt for doubt in found.doubts)


def test_a_car_that_scatters_far_more_than_usual_gets_no_single_pulls(pulls, car) -> None:
    """There the verdict on one pull a side would raise false alarms: not recommended, and the reason is said."""
    wild = pulls("before", "sat", [80.0, 92.0, 85.0, 95.0, 78.0, 90.0, 83.0, 94.0])
    found = plan_records("wastegate_duty.peak", 12.0, car=car, before=wild, request=Request(draws=20))
    single = next(option for option in found.options if option.order == "before_after" and option.pulls_before == 1)
    assert single.false_alarm > 0.3
    assert found.recommended is None or found.recommended.false_alarm <= 0.1
    assert any("leans on usual scatter" in doubt for doubt in found.doubts)


def test_pulls_of_other_gears_are_no_scatter(pulls, car) -> None:
    """The next run holds the gear equal, so earlier pulls of another one are left out, and it is said."""
    third, second = pulls("before", "sat", [90.0, 90.2, 89.9]), pulls("before", "sun", [70.0], gear=2)
    found = plan_records("wastegate_duty.peak", 2.0, car=car, before=[*third, *second], request=Request(draws=1))
    assert found.scatter.pulls == 3
    assert any("other gears than 3" in doubt for doubt in found.doubts)


FEW_MEASURES = ("wastegate.opens_at", "boost.reaches", "wheel_power.mean", "lambda.leanest", "pull.time")


@pytest.mark.parametrize(
    ("engine", "measures"),
    [
        (Engine(fuel="diesel", aspiration="turbo", redline_rpm=4500.0), tuple(MEASURES)),
        (Engine(), FEW_MEASURES),
        (Engine(fuel="petrol", aspiration="none"), FEW_MEASURES),
    ],
    ids=["diesel", "unknown", "no turbo"],
)
def test_every_measure_can_be_planned_for_any_car(
    engine: Engine, measures: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever the sheet says or leaves out, each measure gets options, rates to log and things to hold equal."""
    monkeypatch.setattr(chances, "WEATHERS", 1)
    for measure in measures:
        found = plan_records(measure, car=Car("any car", engine=engine), request=Request(draws=1))
        assert found.options
        assert found.hold_equal
        assert any(entry.role == "measure" for entry in found.logging.channels)
