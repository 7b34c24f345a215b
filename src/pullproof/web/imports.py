"""Take in what visitors send: keep the files until they are read, read them in the background, say how far it is."""

import logging
import re
import shutil
import threading
import uuid
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from starlette.datastructures import UploadFile

from pullproof.errors import PullproofError, WrongUse
from pullproof.library import Library, catalogue
from pullproof.library.importing import LOG_SUFFIXES, begin_import, run_import
from pullproof.library.schema import JobRow

__all__ = ["Imports", "keep_upload", "safe_name"]

LONGEST_NAME: Final = 120
COMPANIONS: Final = frozenset({".dbc"})
IN_HAND: Final = 4_000_000
"""Up to so many bytes a job is read by a thread here: starting a process for it would take longer. [byte]"""


def safe_name(given: str) -> str:
    """A base name to keep a file under: what a visitor sends may hold folders, control characters, or nothing.

    Its ending stays, because it says what kind of file it may be; what it really is, reading will tell.
    """
    base = given.replace("\\", "/").rpartition("/")[2]
    base = re.sub(r"[\x00-\x1f\x7f<>:\"|?*]", "", base).strip(" .")
    stem, dot, suffix = base.rpartition(".")
    if not stem:
        stem, dot, suffix = base or "log", "", ""
    suffix = suffix[:10]
    return f"{stem[: LONGEST_NAME - len(suffix) - 1]}{dot}{suffix}"


def keep_upload(library: Library, files: Sequence[UploadFile]) -> list[Path]:
    """Write uploaded files into a folder of their own in `incoming/`, and give those that are to be read as logs.

    Raises
    ------
    WrongUse
        There is no file, or none that could be a log.
    """
    folder = library.folder / "incoming" / f"upload-{uuid.uuid4().hex}"
    folder.mkdir()
    kept: list[Path] = []
    for number, file in enumerate(files):
        path = folder / safe_name(file.filename or "")
        if path.exists():
            path = folder / str(number) / path.name
            path.parent.mkdir()
        with path.open("xb") as target:
            shutil.copyfileobj(file.file, target, 1 << 20)
        if path.suffix.lower() not in COMPANIONS:
            kept.append(path)
    if not kept:
        shutil.rmtree(folder, ignore_errors=True)
        raise WrongUse(
            "no log was chosen", advice=f"Choose one or more files, such as {', '.join(sorted(LOG_SUFFIXES)[:4])}."
        )
    return kept


class Imports:
    """The imports of one application, each list of jobs in a thread that does one after the other."""

    def __init__(self, library: Library) -> None:
        self._library = library
        self._lock = threading.Lock()
        self._running: set[int] = set()
        self._threads: list[threading.Thread] = []
        self._stopping = threading.Event()

    @property
    def is_stopping(self) -> bool:
        """Whether the application is about to end."""
        return self._stopping.is_set()

    def stop(self) -> None:
        """Take no further file: the application is about to end."""
        self._stopping.set()

    def wait(self, seconds: float) -> None:
        """Wait until what is in hand is on the disk, but no longer than this. [s]"""
        for thread in self._threads:
            thread.join(seconds)

    def begin(self, car_id: int, paths: Sequence[Path], day_id: int | None) -> int:
        """Put an import on record; `run` does it."""
        return begin_import(self._library, car_id, paths, day_id=day_id)

    def run(self, jobs: Sequence[int]) -> None:
        """Do imports one after the other, in the background; one that runs already is left to itself."""
        with self._lock:
            mine = [job for job in jobs if job not in self._running]
            self._running.update(mine)
        if mine:
            thread = threading.Thread(target=self._work, args=(mine,), daemon=True, name=f"import-{mine[0]}")
            self._threads = [*(one for one in self._threads if one.is_alive()), thread]
            thread.start()

    def runs(self, job: int) -> bool:
        """Whether a thread of this application is at it."""
        with self._lock:
            return job in self._running

    def _work(self, jobs: Sequence[int]) -> None:
        for job in jobs:
            try:
                for _ in run_import(self._library, job, workers=self._workers(job), should_stop=self._stopping.is_set):
                    pass
                self._clear(job)
            except PullproofError:
                pass  # it stands in the job's own record, which the page shows
            except Exception:
                logging.getLogger(__name__).exception("import %d", job)
            finally:
                with self._lock:
                    self._running.discard(job)

    def _record(self, job: int) -> JobRow:
        with self._library.reading() as session:
            return catalogue.get(session, JobRow, job)

    def _workers(self, job: int) -> int | None:
        paths = [Path(path) for path in self._record(job).arguments["paths"]]
        size = sum(path.stat().st_size for path in paths if path.is_file())
        return 0 if size < IN_HAND else None

    def _clear(self, job: int) -> None:
        """Uploaded files go once all of them are in: the library holds them now."""
        record = self._record(job)
        incoming = self._library.folder / "incoming"
        if record.state != "done":
            return
        for folder in {Path(path).parent for path in record.arguments["paths"]}:
            if folder.is_relative_to(incoming) and folder != incoming:
                shutil.rmtree(folder, ignore_errors=True)
