"""The runner judges what it is told to judge: rows hold truth, answer and oracle side by side, the same every time."""

import math

import polars as pl
import pytest
from tests.validation import stand_in
from validation.answers import three_calls
from validation.chunks import run_chunk
from validation.designs import DESIGNS, Order
from validation.plan import DEVELOPMENT_SEEDS, REPORT_SEEDS, orders_of
from validation.report import write_report
from validation.runner import Task, load, tasks_of

from validation import statistics

ORDERS = [
    Order("1+1, two days", "unlike", "nothing"),
    Order("3+3, one day", "like", "restriction", size=1.5),
    Order("3+3, two days", "like", "restriction", "near the limit", size=0.5),
    Order("3+3, one day", "like", "nothing", "another gear"),
    Order("3+3, two days", "like", "nothing", "another logger"),
    Order("6+6, six days", "like", "nothing", "one outlier"),
]


@pytest.fixture(scope="module")
def rows():
    return run_chunk([7001, 7002, 7003], three_calls(stand_in.compare), ORDERS)


def test_every_comparison_is_answered(rows):
    """Each order of each car gives rows that hold the truth beside the answer."""
    assert {(row["car"], row["trial"]) for row in rows} == {(car, n) for car in (7001, 7002, 7003) for n in range(6)}
    assert all(row["refusal"] == "" for row in rows)
    assert all(row["low95"] <= row["low80"] <= row["low50"] <= row["high50"] <= row["high95"] for row in rows)


def test_truth_of_nothing_is_zero(rows):
    """Where nothing was changed the truth is zero, in whatever weather."""
    assert all(row["truth"] == 0 for row in rows if row["kind"] == "nothing")
    assert any(abs(row["gap"]) >= 8 for row in rows if row["weather"] == "unlike")


def test_effect_is_aimed_at(rows):
    """The loss of the path is chosen so that peak duty moves by about what was asked for, where the gate is free."""
    aimed = [r for r in rows if r["trial"] == 1 and r["measure"] == "wastegate_duty.peak" and r["level_before"] < 97]
    assert aimed
    assert sum(0.7 < row["truth"] < 3.0 for row in aimed) >= len(aimed) - 1


def test_answers_are_near_the_truth(rows):
    """Even a plain comparison in like weather comes near the truth: signs and units of the truth are right."""
    some = [r for r in rows if r["trial"] in (1, 4, 5) and r["measure"] == "boost.mean"]
    assert some
    assert all(abs(row["difference"] - row["truth"]) < 6 for row in some)


def test_oracle_is_finite_and_scales(rows):
    """The oracle's interval exists for plain comparisons and is unknown for the limited car."""
    for row in rows:
        assert math.isnan(row["oracle"]) == (row["scenario"] == "near the limit")


def test_rows_do_not_depend_on_the_other_cars(rows):
    """A car alone gives the rows that it gave among others."""
    alone = run_chunk([7002], three_calls(stand_in.compare), ORDERS[:2])
    among = [row for row in rows if row["car"] == 7002 and row["trial"] < 2]
    for first, second in zip(alone, among, strict=True):
        assert first["truth"] == pytest.approx(second["truth"], abs=1e-3)
        assert first["difference"] == pytest.approx(second["difference"], abs=1e-3)


def test_seeds_of_development_and_report_never_meet():
    """No car of the published table is ever drawn in development."""
    ranges = [
        {seed for task in tasks_of(start, 400) for seed in task.seeds} for start in (DEVELOPMENT_SEEDS, REPORT_SEEDS)
    ]
    assert not ranges[0] & ranges[1]


def test_plan_covers_every_design_and_weather():
    """Each car meets every design; days that differ come in like and in unlike weather, with and without a change."""
    orders = orders_of(5)
    for design in DESIGNS:
        kinds = {(order.weather, order.kind == "nothing") for order in orders if order.design == design}
        assert {("like", True), ("like", False)} <= kinds
        if "one day" not in design:
            assert {("unlike", True), ("unlike", False)} <= kinds


def test_share_of_independent_draws_has_the_binomial_error():
    """With one comparison a car the error is that of a proportion (textbook formula, n - 1)."""
    found = statistics.share([1.0] * 80 + [0.0] * 20, range(100))
    assert found.value == pytest.approx(0.8)
    assert found.error == pytest.approx(math.sqrt(0.8 * 0.2 / 99), rel=1e-9)


def test_share_of_repeated_cars_counts_cars():
    """Repeating every comparison of a car does not make the figure surer."""
    once = statistics.share([1.0] * 8 + [0.0] * 2, range(10))
    thrice = statistics.share(([1.0] * 8 + [0.0] * 2) * 3, list(range(10)) * 3)
    assert thrice.error == pytest.approx(once.error)


def test_rows_on_disk_are_whole(tmp_path):
    """A chunk counts as done only when its file is there, and what is on disk is read back."""
    task = Task("comparisons", (1, 2))
    assert not task.is_done(tmp_path)
    pl.DataFrame({"car": [1]}).write_parquet(task.path(tmp_path, "comparisons"))
    assert task.is_done(tmp_path)
    assert load(tmp_path, "comparisons").height == 1


def test_report_prints_what_was_found(rows, tmp_path):
    """The report names every design, marks a missed target as missed, and its figures are there."""
    table = pl.DataFrame(rows, infer_schema_length=None)
    bad = table.with_columns(low95=pl.col("difference") - 1e-6, high95=pl.col("difference") + 1e-6)
    many = pl.concat([bad.with_columns(car=pl.col("car") + 100 * copy, scenario=pl.lit("plain")) for copy in range(20)])
    drives = pl.DataFrame(
        [
            {
                "refusal": "",
                "language": "en",
                "layout": "rows",
                "rate": 10.0,
                "pedal": True,
                "road_speed": True,
                "wanted": 2,
                "found": 2,
                "hit": 1,
                "false": 1,
            }
        ]
    )
    pulls = pl.DataFrame({"start_error": [0.1], "end_error": [-0.1], "rate": [10.0]})
    columns = pl.DataFrame(
        {
            "channel": ["engine_speed"],
            "header": ["RPM"],
            "taken_for": ["engine_speed"],
            "unit": ["rpm"],
            "taken_unit": ["rpm"],
            "right_channel": [True],
            "right_unit": [True],
            "doubt": [False],
        }
    )
    text = write_report(many, drives, pulls, columns, tmp_path / "page.md", seeds="test seeds", command="none")
    assert "**missed**" in text
    assert "0.5000 (2 found)" in text
    assert (tmp_path / "page" / "coverage.svg").exists()
    assert (tmp_path / "page" / "power.png").exists()
