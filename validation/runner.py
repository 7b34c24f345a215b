"""Run many chunks on a few processes. What is done is on disk; stop at any time and start again to go on.

The rows of a chunk depend on its seeds alone: not on the number of processes, nor on what ran before.
"""

import concurrent.futures as futures
import itertools
import multiprocessing
import os
import signal
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from validation.answers import package
from validation.chunks import run_chunk
from validation.finding import package_reader, run_finding
from validation.plan import CARS_PER_CHUNK

__all__ = ["KINDS", "Task", "load", "run", "tasks_of"]

DRIVES_PER_CHUNK = 6
FINDING_EVERY = 2
"""One chunk of drives comes behind this many chunks of comparisons."""
KINDS = ("comparisons", "drives", "pulls", "columns")

Progress = Callable[[int, int, float], None]


@dataclass(frozen=True, slots=True)
class Task:
    """A chunk to be done: its kind (`comparisons` or `drives`) and the seeds of its cars."""

    kind: str
    seeds: tuple[int, ...]

    def path(self, folder: Path, kind: str) -> Path:
        """Where its rows of a kind are kept."""
        return folder / f"{kind}-{self.seeds[0]}.parquet"

    def is_done(self, folder: Path) -> bool:
        """Whether its rows are on disk."""
        return self.path(folder, self.kind).exists()


def tasks_of(first_seed: int, chunks: int) -> Iterator[Task]:
    """Chunks of comparisons, with chunks of drives in between."""
    for number in range(chunks):
        start = first_seed + number * CARS_PER_CHUNK
        yield Task("comparisons", tuple(range(start, start + CARS_PER_CHUNK)))
        if number % FINDING_EVERY == 0:
            begin = first_seed + 500_000 + number // FINDING_EVERY * DRIVES_PER_CHUNK
            yield Task("drives", tuple(range(begin, begin + DRIVES_PER_CHUNK)))


def work(task: Task, folder: Path) -> int:
    """Do one task in a worker; rows go to disk by a rename, so that a file there is always whole."""
    if task.kind == "comparisons":
        rows = run_chunk(list(task.seeds), package())
        _keep(pl.DataFrame(rows, infer_schema_length=None), task.path(folder, "comparisons"))
        return len(rows)
    read_log, find_pulls = package_reader()
    chunk = run_finding(list(task.seeds), read_log, find_pulls)
    _keep(pl.DataFrame(chunk.pulls, infer_schema_length=None), task.path(folder, "pulls"))
    _keep(pl.DataFrame(chunk.columns, infer_schema_length=None), task.path(folder, "columns"))
    _keep(pl.DataFrame(chunk.drives, infer_schema_length=None), task.path(folder, "drives"))
    return len(chunk.drives)


def _keep(rows: pl.DataFrame, path: Path) -> None:
    fresh = path.with_suffix(f".{os.getpid()}.part")
    rows.write_parquet(fresh)
    fresh.replace(path)


def _quiet() -> None:
    """Workers leave the interrupt to the parent."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def run(
    first_seed: int, chunks: int, folder: Path, *, minutes: float | None, processes: int, progress: Progress
) -> bool:
    """Do the tasks that are not done yet until time is up; False where it was stopped by hand."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "POLARS_MAX_THREADS"):
        os.environ[name] = "1"
    tasks = list(tasks_of(first_seed, chunks))
    waiting = [task for task in tasks if not task.is_done(folder)]
    done, began = len(tasks) - len(waiting), time.monotonic()
    context = multiprocessing.get_context("spawn")
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, signal.default_int_handler)
    with futures.ProcessPoolExecutor(processes, mp_context=context, initializer=_quiet) as pool:
        ready = iter(waiting)
        running = {pool.submit(work, task, folder) for task in itertools.islice(ready, processes)}
        try:
            while running:
                finished, running = futures.wait(running, return_when=futures.FIRST_COMPLETED)
                for future in finished:
                    # One car that runs away must not end hours of work; its chunk has no rows, and the run says so.
                    error = future.exception()
                    if isinstance(error, FloatingPointError):
                        sys.stderr.write(f"\na chunk is left out: {error}\n")
                    elif error is not None:
                        raise error
                    done += 1
                elapsed = time.monotonic() - began
                progress(done, len(tasks), elapsed)
                if minutes is None or elapsed < 60 * minutes:
                    running |= {pool.submit(work, task, folder) for task in itertools.islice(ready, len(finished))}
        except KeyboardInterrupt:
            pool.shutdown(wait=False, cancel_futures=True)
            for worker in multiprocessing.active_children():
                worker.terminate()
            return False
    return True


def load(folder: Path, kind: str) -> pl.DataFrame:
    """All rows of a kind that are on disk."""
    parts = [pl.read_parquet(path) for path in sorted(folder.glob(f"{kind}-*.parquet"))]
    parts = [part for part in parts if part.width]
    return pl.concat(parts, how="diagonal_relaxed") if parts else pl.DataFrame()
