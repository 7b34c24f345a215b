"""Every log counts once, whatever it is called."""

from dataclasses import replace

import pytest

from pullproof.analysis.comparison import compare
from pullproof.analysis.comparison.each_once import each_once
from pullproof.errors import WrongUse


def test_different_logs_pass(pull):
    """Logs that differ in a single reading are two runs."""
    each_once([pull().log, pull("before-2.csv", wastegate_duty=95.1).log], [pull("after-1.csv", boost=141.0).log])


def test_a_log_given_twice_on_one_side_is_refused(pull, car):
    """Named twice it would count as twice the evidence."""
    with pytest.raises(WrongUse, match=r"before-1\.csv: .*twice on one side"):
        compare([pull().log, pull().log], [pull("after-1.csv", boost=141.0).log], car=car)


@pytest.mark.parametrize("sides", [(("a.csv", "b.csv"), ()), (("a.csv",), ("b.csv",))])
def test_a_copy_under_another_name_is_refused(pull, sides):
    """A copy is no second run: the sentence gives both names."""
    before, after = ([replace(pull().log, file=name) for name in side] for side in sides)
    with pytest.raises(WrongUse, match=r"a\.csv: the same log .*also called b\.csv"):
        each_once(before, after)


@pytest.mark.parametrize("both_sides", [True, False])
def test_two_logs_of_one_name_are_refused(pull, both_sides):
    """Loggers name files alike in every folder; conditions and days could not tell them apart."""
    logs = [pull("run.csv").log, pull("run.csv", boost=141.0).log]
    with pytest.raises(WrongUse, match=r"run\.csv: two different logs have this name.*Rename"):
        each_once(*((logs[:1], logs[1:]) if both_sides else (logs, [])))
