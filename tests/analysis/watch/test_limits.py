from dataclasses import replace
from types import MappingProxyType

import pytest

from pullproof.analysis.watch import watch_limits
from pullproof.analysis.watch.limits import FUELS, _table, limits_of, trend_priors
from pullproof.analysis.watch.rules import PINNED, RULES
from pullproof.car import FUELS as SHEET_FUELS
from pullproof.car import LIMITS, Car, Engine

CAR = Car("a", engine=Engine(redline_rpm=6500, fuel="petrol", aspiration="turbo"))


def on(fuel: str | None, aspiration: str = "turbo") -> Car:
    return replace(CAR, engine=replace(CAR.engine, fuel=fuel, aspiration=aspiration))


def test_sheet_and_table_know_the_same_limits() -> None:
    """Every key that an owner may write is a limit of the table, and the other way round."""
    assert set(_table()["limit"]) == set(LIMITS)


def test_every_rule_has_its_limit_and_every_limit_its_rule() -> None:
    """No rule without a limit to hold it against, no limit that nothing watches."""
    assert {rule.limit for rule in RULES} - {PINNED} == set(LIMITS)
    assert set(trend_priors()) <= {rule.id for rule in RULES}


def test_every_figure_says_where_it_comes_from() -> None:
    """Each usual limit names a source, or says that there is none."""
    for key, row in _table()["limit"].items():
        usual = any(fuel in row for fuel in FUELS)
        assert row["origin"].startswith("common practice, no source") if usual else row["origin"], key


@pytest.mark.parametrize("fuel", FUELS)
def test_usual_limits_lie_in_the_range_that_a_sheet_may_state(fuel: str) -> None:
    """A usual figure that the sheet itself would refuse makes no sense."""
    for key, limit in limits_of(on(fuel)).by_key.items():
        low, high, _ = LIMITS[key]
        assert low <= limit.value <= high, key


@pytest.mark.parametrize("fuel", SHEET_FUELS)
def test_every_fuel_of_the_sheet_has_limits(fuel: str) -> None:
    """No fuel that a sheet may name is without limits; borrowed ones are said to be."""
    found = limits_of(on(fuel))
    assert "coolant_temperature_c" in found.by_key
    assert bool(found.doubts) == (fuel in ("ethanol", "methanol", "lpg", "cng"))


def test_without_a_fuel_the_strictest_figure_holds() -> None:
    """Nobody is told a looser limit for having left the fuel out."""
    unknown = limits_of(on(None)).by_key
    for fuel in FUELS:
        for key, limit in limits_of(on(fuel)).by_key.items():
            strict = unknown[key].value
            assert strict <= limit.value if limit.side == "above" else strict >= limit.value, (fuel, key)
    assert "strictest" in limits_of(on(None)).doubts[0]


def test_the_owners_figure_replaces_the_usual_one() -> None:
    """Value and origin come from the sheet, the side stays."""
    car = replace(CAR, limits=MappingProxyType({"oil_temperature_c": 120.0}))
    limit = limits_of(car).by_key["oil_temperature_c"]
    assert (limit.value, limit.side, limit.from_sheet) == (120.0, "above", True)


def test_what_has_no_usual_limit_says_so() -> None:
    """Boost and turbocharger speed depend on the parts; without a figure of the owner's there is none."""
    found = watch_limits(on("petrol"))
    assert "boost_kpa" not in found.by_key
    assert "depends on engine" in found.without["boost_kpa"]
    assert "maker" in found.without["turbo_speed_rpm"]
    assert "no redline" in limits_of(replace(CAR, engine=Engine(fuel="petrol"))).without["engine_speed_rpm"]


def test_an_engine_without_turbocharger_may_run_leaner() -> None:
    """Full load without boost is allowed to be nearer to lambda 1."""
    blown, unblown = (limits_of(on("petrol", kind)).by_key["lambda_full_load"].value for kind in ("turbo", "none"))
    assert unblown > blown
