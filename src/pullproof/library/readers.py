"""Processes that read originals, so that whoever waits for a page never waits for a parser.

A reader that dies (for lack of memory, most likely) costs the file that it died of and nothing else.
"""

import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from pullproof.car import parse_car
from pullproof.errors import CannotRead, PullproofError
from pullproof.library.files import Kept, hash_file, keep_file, received, samples_path, settle
from pullproof.library.originals import Decisions, ReadOriginal, companions_of, read_original
from pullproof.library.samples import UNREADABLE_SAMPLES, read_samples, write_samples
from pullproof.pulls import Pull

__all__ = ["Failed", "Taken", "Task", "read_all", "reader_pool", "take_in"]

Passed = TypeVar("Passed")


@dataclass(frozen=True, slots=True)
class Task:
    """A file to be taken into a library; `car` is the text of the car sheet, which travels between processes."""

    folder: Path
    source: Path
    car: str
    decisions: Decisions


@dataclass(frozen=True, slots=True)
class Taken:
    """A file whose original and samples are on the disk, ready to be named by a row."""

    task: Task
    original: Kept
    companions: tuple[tuple[str, Kept], ...]
    samples: Kept
    signature: str
    rows: int
    duration_s: float
    reading_key: str
    pulls_key: str
    pulls: tuple[Pull, ...]


@dataclass(frozen=True, slots=True)
class Failed:
    """A file that could not be taken in, and why."""

    task: Task
    sentence: str


def take_in(task: Task) -> Taken | Failed:
    """Copy a file, read it, write its samples; a file that is no log leaves nothing behind.

    Raises
    ------
    OSError
        The library cannot be written: no room, no permission.
    """
    name = task.source.name
    try:
        with received(task.folder, task.source) as (temporary, original):
            beside = companions_of(task.source)
            companions = tuple((path.name, keep_file(task.folder, path)) for path in beside)
            hashes = {file: kept.hash for file, kept in companions}
            read = read_original(task.folder, temporary, name, hashes, parse_car(task.car), task.decisions)
            settle(task.folder, temporary, original)
        samples = _samples(task.folder, read, original.hash)
    except PullproofError as error:
        return Failed(task, str(error))
    return _taken(task, original, companions, samples, read)


def _samples(folder: Path, read: ReadOriginal, digest: str) -> Kept:
    """Samples on the disk; those that are there stay, because another car's log may name them."""
    path = samples_path(folder, digest, read.reading_key)
    if path.exists():
        try:
            read_samples(path)
        except UNREADABLE_SAMPLES:
            pass
        else:
            return hash_file(path)
    return write_samples(folder, read.log, path)


def _taken(
    task: Task, original: Kept, companions: tuple[tuple[str, Kept], ...], samples: Kept, read: ReadOriginal
) -> Taken:
    return Taken(
        task=task,
        original=original,
        companions=companions,
        samples=samples,
        signature=read.signature,
        rows=read.log.rows,
        duration_s=read.log.duration_s,
        reading_key=read.reading_key,
        pulls_key=read.pulls_key,
        pulls=read.pulls,
    )


def read_all(items: Iterator[Task | Passed], workers: int) -> Iterator[Taken | Failed | Passed]:
    """Take in every task of a stream, several at a time; what is no task passes through.

    `workers` 0 reads in this process, one after another.
    """
    if workers == 0:
        for item in items:
            yield take_in(item) if isinstance(item, Task) else item
        return
    pool = reader_pool(workers)
    running: dict[Future[Taken | Failed], Task] = {}
    try:
        more = True
        while more or running:
            while more and len(running) < 2 * workers:
                try:
                    item = next(items)
                except StopIteration:
                    more = False
                    break
                if isinstance(item, Task):
                    running[_submitted(pool, item)] = item
                else:
                    yield item
            done, _ = wait(running, return_when=FIRST_COMPLETED)
            try:
                for future in done:
                    result = future.result()
                    del running[future]
                    yield result
            except BrokenProcessPool:
                suspects, running = list(running.values()), {}
                pool.shutdown()
                for task in suspects:
                    yield _alone(task)
                pool = reader_pool(workers)
    finally:
        pool.shutdown(cancel_futures=True)


def _submitted(pool: ProcessPoolExecutor, task: Task) -> Future[Taken | Failed]:
    """The task in hand; where the pool broke a moment ago, one that says so when it is asked."""
    try:
        return pool.submit(take_in, task)
    except BrokenProcessPool as error:
        broken: Future[Taken | Failed] = Future()
        broken.set_exception(error)
        return broken


def _alone(task: Task) -> Taken | Failed:
    """Take in a file that may have killed its reader, with nobody else at risk."""
    with reader_pool(1) as pool:
        try:
            return pool.submit(take_in, task).result()
        except BrokenProcessPool:
            error = CannotRead(
                "the process that read it died, most likely for lack of memory",
                where=str(task.source),
                advice="Export a part of the log, or close other programs, and import it again.",
            )
            return Failed(task, str(error))


def reader_pool(workers: int) -> ProcessPoolExecutor:
    """Processes that give way to those who wait for a page, and end with their parent."""
    # Inherited: our matrices are small, and threads for linear algebra cost several times more than they give.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    return ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn"), initializer=_settle_in)


def _settle_in() -> None:
    """A reader leaves Ctrl-C to its parent, gives way to those who wait for a page, and does not outlive its parent."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):
        os.nice(5)
    threading.Thread(target=_die_with_parent, daemon=True).start()


def _die_with_parent() -> None:
    parent: Any = multiprocessing.parent_process()
    parent.join()
    os._exit(1)
