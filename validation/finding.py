"""Trial of reading and pull finding: whole drives through real files, what was found set beside what is there."""

import importlib
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from pullproof import car as sheets
from pullproof.errors import PullproofError
from pullproof.reading.log import Log
from validation.batches import join, length, take
from validation.calibration import calibrated
from validation.drives import Drive, draw_pieces, joined
from validation.files import TrueColumn, draw_style, write
from validation.garage import draw_cars
from validation.handover import car_sheet
from validation.loggers import draw_logger, record
from validation.scatter import draw_liability
from validation.simulate import simulate

__all__ = ["FinderChunk", "Reader", "judge_columns", "judge_drive", "judge_pulls", "package_reader", "run_finding"]

Row = dict[str, Any]
Reader = Callable[..., Any]
TOUCH = 0.5
"""A found pull answers a true one where they share at least this part of the longer of the two."""


@dataclass(frozen=True, slots=True)
class FinderChunk:
    """Rows of a chunk: one a drive, one a true pull that was found, one a column."""

    drives: list[Row]
    pulls: list[Row]
    columns: list[Row]


def package_reader() -> tuple[Reader, Reader]:
    """The package's `read_log` and `find_pulls`."""
    module = importlib.import_module("pullproof")
    return module.read_log, module.find_pulls


def run_finding(seeds: list[int], read_log: Reader, find_pulls: Reader) -> FinderChunk:
    """Simulate one drive a seed, write it as a file in a random style, read it, find its pulls, judge both."""
    cars = calibrated(draw_cars(seeds), np.zeros((len(seeds), 2)))
    drawn = []
    for row, seed in enumerate(seeds):
        rng = np.random.default_rng([seed, 41])
        drawn.append(draw_pieces(rng, take(cars, slice(row, row + 1)), draw_liability(rng)))
    run = join([part for part, _ in drawn])
    recording = simulate(run)
    chunk, start = FinderChunk([], [], []), 0
    with tempfile.TemporaryDirectory() as folder:
        for row, seed in enumerate(seeds):
            part, pieces = drawn[row]
            rows = range(start, start + length(part.driver))
            start = rows.stop
            drive = joined(np.random.default_rng([seed, 42]), recording, rows, run, pieces)
            sheet = car_sheet(cars, row, np.random.default_rng([seed, 17]))
            judge_drive(seed, drive, sheet, Path(folder), (read_log, find_pulls), chunk)
    return chunk


def judge_drive(
    seed: int, drive: Drive, sheet: sheets.Car, folder: Path, tools: tuple[Reader, Reader], chunk: FinderChunk
) -> None:
    """Write a drive as a file, read it and find its pulls with `tools`, and add what came of it to `chunk`."""
    rng = np.random.default_rng([seed, 43])
    logger = draw_logger(rng, bool(drive.run.car.engine.diesel[0] > 0))
    sampled = record(drive.recording, 0, drive.run, logger, rng)
    style = draw_style(rng)
    data, truths = write(sampled, style, 1e-3 * float(drive.run.air.pressure[0]), rng)
    path = folder / f"drive-{seed}.csv"
    path.write_bytes(data)
    rate = logger.rate / logger.refresh
    shared: Row = {
        "car": seed,
        "rate": rate,
        "layout": logger.layout,
        "language": style.language,
        "clock": style.clock,
        "unit_place": style.unit_place,
        "encoding": style.encoding,
        "pedal": "pedal_position" in logger.channels,
        "road_speed": "vehicle_speed" in logger.channels,
    }
    if style.closed_duty == 0.0:
        sheet = _reversed(sheet)
    try:
        log = tools[0](path, sheet)
        found = [pull for pull in tools[1](log, sheet) if pull.used]
    except Exception as error:  # noqa: BLE001  # a crash is a finding to report, not a reason to stop the run
        crash = "" if isinstance(error, PullproofError) else f"CRASH {type(error).__name__}: "
        nothing = {"wanted": len(drive.wanted), "found": 0, "hit": 0, "false": 0}
        chunk.drives.append(shared | {"refusal": f"{crash}{error}"} | nothing)
        return
    offset = sampled.started
    counts, errors = judge_pulls([(pull.start_s + offset, pull.end_s + offset) for pull in found], drive)
    chunk.drives.append(shared | {"refusal": ""} | counts)
    chunk.pulls.extend(shared | error for error in errors)
    chunk.columns.extend(shared | row for row in judge_columns(log, truths))


def _reversed(sheet: sheets.Car) -> sheets.Car:
    return replace(sheet, boost=sheets.Boost(0.0))


def judge_pulls(found: list[tuple[float, float]], drive: Drive) -> tuple[Row, list[Row]]:
    """Counts of one drive and the errors of start and end [s] of every true pull that was found."""
    errors, hit, used = [], 0, set()
    for wanted in drive.wanted:
        shares = [_shared(wanted, candidate) for candidate in found]
        if shares and max(shares) >= TOUCH:
            best = int(np.argmax(shares))
            hit += 1
            used.add(best)
            errors.append({"start_error": found[best][0] - wanted[0], "end_error": found[best][1] - wanted[1]})
    false = 0
    for index, candidate in enumerate(found):
        inside = any(first - 0.6 <= candidate[0] and candidate[1] <= last + 0.6 for first, last in drive.allowed)
        if index not in used and not inside:
            false += 1
    return {"wanted": len(drive.wanted), "found": len(found), "hit": hit, "false": false}, errors


def _shared(first: tuple[float, float], second: tuple[float, float]) -> float:
    overlap = min(first[1], second[1]) - max(first[0], second[0])
    return max(overlap, 0.0) / max(first[1] - first[0], second[1] - second[0])


def judge_columns(log: Log, truths: tuple[TrueColumn, ...]) -> list[Row]:
    """For every column: is the channel right, is the unit right, was a doubt stated."""
    rows = []
    for column, truth in zip(log.columns, truths, strict=False):
        right_channel = column.channel == truth.channel
        unit_matters = truth.channel not in (None, "time")
        rows.append(
            {
                "channel": truth.channel or "decoy",
                "header": truth.header,
                "taken_for": column.channel or "",
                "unit": truth.unit or "",
                "taken_unit": column.unit or "",
                "right_channel": right_channel,
                "right_unit": right_channel and (not unit_matters or _same_unit(column.unit, truth.unit)),
                "doubt": column.doubt is not None,
            }
        )
    return rows


def _same_unit(taken: str | None, truth: str | None) -> bool:
    """Units that name the same thing: bare kPa is absolute, bare lambda has no unit."""

    def plain(unit: str | None) -> str:
        text = (unit or "1").replace("absolute", "").replace("lambda", "1").replace("hPa", "mbar").strip()
        return {"1/min": "rpm", "Nm": "N m", "°": "deg", "": "1"}.get(text, text)

    return plain(taken) == plain(truth)
