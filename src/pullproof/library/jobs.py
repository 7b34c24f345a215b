"""Long work on record: who runs it, how far it is, and whether whoever ran it is still alive."""

import os
import socket

from pullproof.library import catalogue
from pullproof.library.opening import Library
from pullproof.library.schema import JobRow

__all__ = ["ask_to_stop", "begin_job", "claim_job", "end_job", "was_interrupted"]


def begin_job(library: Library, kind: str, arguments: dict[str, object], car_id: int | None = None) -> int:
    """Put long work on record before it starts; gives its number."""
    with library.transaction() as session:
        return catalogue.add(session, JobRow(kind=kind, car_id=car_id, arguments=arguments, state="waiting")).id


def claim_job(library: Library, job_id: int) -> JobRow:
    """Say that this process works on it from now on."""
    with library.transaction() as session:
        job = catalogue.get(session, JobRow, job_id)
        job.state, job.stop_asked, job.message = "running", False, ""
        job.host, job.pid = socket.gethostname(), os.getpid()
        return job


def end_job(library: Library, job_id: int, state: str, message: str) -> None:
    """Say how it ended: done, stopped or failed."""
    with library.transaction() as session:
        job = catalogue.get(session, JobRow, job_id)
        job.state, job.message, job.pid = state, message, None


def ask_to_stop(library: Library, job_id: int) -> None:
    """Ask whoever runs it, in whatever process, to stop after what is in hand."""
    with library.transaction() as session:
        catalogue.get(session, JobRow, job_id).stop_asked = True


def was_interrupted(job: JobRow) -> bool:
    """Whether the process that ran it died, as far as can be told from this host; what it acknowledged is kept."""
    if job.state != "running" or job.host != socket.gethostname() or job.pid is None or os.name == "nt":
        return False
    try:
        os.kill(job.pid, 0)
    except ProcessLookupError:
        return True
    except PermissionError:
        return False
    return False
