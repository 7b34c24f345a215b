"""`pullproof coastdown`: rolling resistance and drag area from logs in which the car slows down by itself."""

from pathlib import Path

import click
from rich.console import Console

from pullproof.analysis.cautions import CAUTIONS
from pullproof.analysis.coastdown import CoastDown, Estimate, Run, coast_down, write_into_car_sheet
from pullproof.car import load_car
from pullproof.cli.output import Listing, console, json_option, print_list, write_json
from pullproof.conditions import ConditionsSheet, load_conditions
from pullproof.reading import read_log
from pullproof.report.coastdown_document import coastdown_document
from pullproof.report.rounding import Rounding
from pullproof.report.wording import level_text

__all__ = ["command"]

MOTORWAY_SPEED = "A coast-down begins at motorway speed: closed course, nobody behind, brakes and steering at hand."
"""Goes before the cautions of every run."""


@click.command("coastdown")
@click.argument("logs", nargs=-1, required=True, metavar="LOG...")
@click.option("--car", "car_file", required=True, metavar="CAR", help="Car sheet (TOML); its mass is needed.")
@click.option("--conditions", "conditions_file", metavar="FILE", help="Air and direction of each log (TOML).")
@click.option("--write", is_flag=True, help="Write both values and their doubts into the car sheet.")
@json_option
def command(
    logs: tuple[str, ...], car_file: str, conditions_file: str | None, write: bool, json_file: str | None
) -> int:
    """Find rolling resistance and drag area from coast-downs, and check the conditions of the standards."""
    car = load_car(car_file)
    sheet = ConditionsSheet() if conditions_file is None else load_conditions(conditions_file)
    result = coast_down([read_log(Path(path), car) for path in logs], car, sheet)
    screen = console(json_file)
    _show(result, screen)
    if write:
        write_into_car_sheet(car_file, result)
        screen.print(f"\nWritten into {car_file}; all else in it is as it was.", markup=False)
    else:
        screen.print("\nNothing was written: add --write to put both values into the car sheet.", markup=False)
    write_json(coastdown_document(result), json_file)
    return 0


def _show(result: CoastDown, screen: Console) -> None:
    rolling, area = result.rolling_resistance, result.drag_area_m2
    level = level_text(rolling.level)
    screen.print(
        f"Rolling resistance {_estimate(rolling, '')}, drag area {_estimate(area, 'm²')}; {level} intervals.",
        style="bold",
        markup=False,
    )
    screen.print(_around(result), markup=False)
    screen.print()
    runs = Listing("run", "direction", "speed", "seconds", "used", "why", numbers=(3,))
    for run in result.runs:
        runs.add(*_run(run))
    screen.print(runs.table)
    screen.print()
    checks = Listing("condition of the standards", "", "found", "source")
    for check in result.checks:
        checks.add(check.id, check.status, check.detail, check.source)
    screen.print(checks.table)
    failed = sum(check.status == "fail" for check in result.checks)
    if failed:
        screen.print(
            f"{failed} of {len(result.checks)} conditions are not met: the figures are not to the standard.",
            markup=False,
        )
    screen.print()
    print_list(screen, "Doubts", result.doubts)
    print_list(screen, "Cautions", (MOTORWAY_SPEED, *CAUTIONS))


def _estimate(estimate: Estimate, unit: str) -> str:
    interval = (estimate.lower, estimate.upper)
    rounding = Rounding.of(interval, estimate.value, unit)
    return f"{rounding.plain(estimate.value)} ({rounding.bare(interval[0])} to {rounding.plain(interval[1])})"


def _around(result: CoastDown) -> str:
    """What else was found: rolling resistance at 20 degC, slope and wind."""
    parts = []
    if result.rolling_resistance_at_20_c is not None:
        places = Rounding.of((result.rolling_resistance.lower, result.rolling_resistance.upper), 1.0, "")
        parts.append(f"rolling resistance at 20 °C {places.plain(result.rolling_resistance_at_20_c)}")
    if result.wind_m_s is not None and result.gradient is not None:
        parts += [
            f"wind along the road {abs(result.wind_m_s):.1f} m/s",
            f"slope {100 * abs(result.gradient):.2f} %",
        ]
    low, high = result.speed_range_kmh
    parts.append(f"speeds {high:.0f} to {low:.0f} km/h")
    text = ", ".join(parts)
    return f"{text[:1].upper()}{text[1:]}."


def _run(run: Run) -> tuple[str, ...]:
    return (
        f"{run.log}, {run.start_s:.1f} s",
        run.direction or "not said",
        f"{3.6 * run.speed[0]:.0f} to {3.6 * run.speed[-1]:.0f} km/h",
        f"{run.time[-1] - run.time[0]:.1f}",
        "yes" if run.used else "no",
        run.reason or "",
    )
