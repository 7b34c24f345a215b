"""The address of a comparison: it says everything, and nothing that makes no sense."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.datastructures import QueryParams

from pullproof.errors import WrongUse
from pullproof.library.schema import LogRow
from pullproof.web.asked import Asked

tokens = st.lists(st.builds("{}{}".format, st.sampled_from("dl"), st.integers(1, 10**6)), max_size=5, unique=True)
instants = st.integers(0, 10**6).map(lambda n: n / 1000)
pulls = st.lists(st.tuples(st.integers(1, 10**6), instants), max_size=4, unique=True)


@given(tokens, tokens, pulls, st.sampled_from([None, (3000.0, 6200.0)]), st.sampled_from([None, "boost.mean"]))
def test_address_says_all_of_it(before, after, out, window, main):
    """What an address is made from comes back out of it."""
    asked = Asked(tuple(before), tuple(after), tuple(out), window, main, 0.9)
    query = asked.address("/cars/1/compare").partition("?")[2]
    assert Asked.in_address(QueryParams(query)) == asked


def test_form_without_script_names_the_sides_one_by_one():
    """The choice of a side for each day and log, as a plain form sends it, is understood too."""
    asked = Asked.in_address(QueryParams("d1=before&d2=&l5=after&l6=neither"))
    assert asked == Asked(before=("d1",), after=("l5",))


@pytest.mark.parametrize(
    "query",
    [
        "before=x1",
        "after=d1;drop",
        "window=6000-4000",
        "window=fast",
        "main=no.such",
        "level=2",
        "level=high",
        "low=1&high=x",
    ],
)
def test_address_that_makes_no_sense_is_refused_with_advice(query):
    """A word of an address that means nothing is named, with what to do."""
    with pytest.raises(WrongUse) as caught:
        Asked.in_address(QueryParams(query))
    assert caught.value.advice


@given(pulls, st.integers(1, 10**6), instants)
def test_turning_a_pull_twice_changes_nothing(out, log, start):
    """One click leaves a pull out, another brings it back."""
    asked = Asked(("d1",), ("d2",), tuple(out))
    once = asked.toggled(log, start)
    assert once.leaves_out(log, start) != asked.leaves_out(log, start)
    assert set(once.toggled(log, start).out) <= {*asked.out, (log, start)}


def test_log_that_is_named_on_one_side_does_not_come_with_its_day_on_the_other():
    """A day on which the part was changed is divided by naming its logs."""
    logs = [LogRow(id=1, day_id=1), LogRow(id=2, day_id=1), LogRow(id=3, day_id=2)]
    asked = Asked(before=("d1", "d2"), after=("l2",), out=((1, 30.0), (2, 31.0)))
    before, after = asked.selection("before", logs), asked.selection("after", logs)
    assert (before.logs, after.logs) == ((1, 3), (2,))
    assert (before.left_out, after.left_out) == (((1, 30.0),), ((2, 31.0),))
