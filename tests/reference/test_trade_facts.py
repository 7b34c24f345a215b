"""What the trade takes for granted, as checks. Common practice, no source, unless a line says otherwise."""

import dataclasses

import numpy as np
import pytest

from pullproof.channels import Trace
from pullproof.measures import read_measure


@pytest.mark.parametrize("rate", [4.0, 10.0, 50.0])
def test_a_duty_of_99_99_up_to_3500_rpm_is_a_gate_held_closed_until_then(analytic, rate: float) -> None:
    """99.99 % counts as fully closed: the gate opens at 3500 rpm, within one sample.

    Common practice, no source.
    """
    record = analytic.record(rate=rate)
    time = record.traces["wastegate_duty"].time
    rpm = analytic.rpm(time)
    duty = Trace("wastegate_duty", "%", time, np.where(rpm <= 3500.0, 99.99, 99.99 - 0.02 * (rpm - 3500.0) - 3.0))
    record = dataclasses.replace(record, traces={**record.traces, "wastegate_duty": duty})
    opens_at = read_measure("wastegate.opens_at", record, (4000.0, 6500.0)).value
    # Engine speed rises by 717 rpm/s there.
    assert opens_at == pytest.approx(3500.0, abs=717.0 / rate + 1.0)


def test_a_held_sample_lags_by_half_its_period(analytic) -> None:
    """At 4 Hz and 1000 rpm/s a held value is 125 rpm late on average; new samples alone are not.

    Source: project notes on sampling, arithmetic: half of 0.25 s times 1000 rpm/s.
    """
    log = analytic.log(rate=4.0, rows=100.0)
    trace = log.traces["charge_pressure"]
    rows = (trace.time > 12.0) & (trace.time < 13.0)
    rate_of_rise = np.ptp(analytic.rpm(np.array([12.0, 13.0])))
    record = analytic.record(rate=4.0, rows=100.0)
    assert trace.time[rows].size == pytest.approx(100, abs=1)
    # Where the held rows would put the end of spool-up, against where the measure puts it.
    wanted = 0.9 * read_measure("boost.mean", record, (4000.0, 6500.0)).value
    boost = trace.values - analytic.ambient
    late = analytic.rpm(trace.time[np.argmax((boost >= wanted) & (trace.time > analytic.start))])
    read = read_measure("boost.reaches", record, (4000.0, 6500.0)).value
    truth = np.arange(2200.0, 6600.0)
    there = truth[np.argmax(analytic.channels["boost"](truth) >= wanted)]
    assert abs(read - there) < 0.5 * 0.25 * rate_of_rise
    assert late > there
