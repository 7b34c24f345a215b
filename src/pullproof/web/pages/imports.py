"""Logs on their way in: sent by a visitor, read in the background, and what became of each."""

import asyncio
import json
from collections.abc import AsyncIterator
from dataclasses import dataclass
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse
from starlette.routing import Route

from pullproof.library import catalogue
from pullproof.library.jobs import ask_to_stop, was_interrupted
from pullproof.library.readings import log_of, pulls_of
from pullproof.library.schema import CarRow, DayRow, JobFileRow, JobRow, LogRow
from pullproof.web.asked import Asked
from pullproof.web.desk import Desk, desk_of
from pullproof.web.finding import car_in, found, whole_number
from pullproof.web.imports import keep_upload
from pullproof.web.pages.day import day_from
from pullproof.web.recognised import open_questions
from pullproof.web.rendering import link, render
from pullproof.web.routing import Form, action, go_to, page

__all__ = ["ROUTES"]

LOOK_EVERY_S = 0.25


@dataclass(frozen=True, slots=True)
class Taken:
    """One file that was sent: what became of it, and what the reader found."""

    name: str
    outcome: str
    sentence: str
    log: LogRow | None
    pulls: int
    used: int
    questions: int


def upload(request: Request, form: Form) -> Response:
    """Take in logs for a test day."""
    desk, car = desk_of(request), car_in(request)
    paths = keep_upload(desk.library, form.files("logs"))
    with desk.library.transaction() as session:
        day = day_from(session, car.id, form)
    job = desk.imports.begin(car.id, paths, day.id if day else None)
    desk.imports.run([job])
    return go_to(request, "/imports", job=job)


def _jobs(request: Request) -> list[int]:
    numbers = [whole_number(text) for text in request.query_params.getlist("job")[:20]]
    return [number for number in numbers if number is not None]


def _records(desk: Desk, numbers: list[int]) -> list[JobRow]:
    with desk.library.reading() as session:
        rows = [session.get(JobRow, number) for number in numbers]
    if not rows or any(row is None or row.kind != "import" for row in rows):
        raise HTTPException(404, "There is no such import.")
    return [row for row in rows if row is not None]


def show(request: Request) -> Response:
    """How far it is, or what became of each file and what to do next."""
    desk = desk_of(request)
    jobs = _records(desk, _jobs(request))
    with desk.library.reading() as session:
        car = found(session, CarRow, jobs[0].car_id or 0)
        files = {job.id: catalogue.job_files(session, job.id) for job in jobs}
        day_id = jobs[0].arguments.get("day")
        day = session.get(DayRow, day_id) if day_id else None
    state = _state(desk, jobs)
    taken = {} if state == "running" else {job.id: [_taken(desk, file) for file in files[job.id]] for job in jobs}
    return render(
        request,
        "imports.html",
        car=car,
        day=day,
        jobs=jobs,
        state=state,
        done=sum(job.done for job in jobs),
        total=sum(_total(job) for job in jobs),
        taken=taken,
        compare=_compare(car, jobs, files),
        query=request.url.query,
    )


def _state(desk: Desk, jobs: list[JobRow]) -> str:
    """`running`, `done`, `failed`, or `stopped` when somebody has to start it again."""
    states = ["running" if desk.imports.runs(job.id) else _resting(job) for job in jobs]
    return next((state for state in ("running", "failed", "stopped") if state in states), "done")


def _resting(job: JobRow) -> str:
    """State of a job that no thread of ours is at: another process may be."""
    if job.state == "running" and not was_interrupted(job):
        return "running"
    return job.state if job.state in ("done", "failed") else "stopped"


def _total(job: JobRow) -> int:
    return job.total or len(job.arguments["paths"])


def _taken(desk: Desk, file: JobFileRow) -> Taken:
    name = Path(file.path).name
    if file.log_id is None:
        return Taken(name, file.outcome, file.sentence.removeprefix(f"{file.path}: "), None, 0, 0, 0)
    with desk.library.reading() as session:
        row = session.get(LogRow, file.log_id)
    if row is None or row.deleted_at is not None:
        return Taken(name, "deleted", "It was deleted since.", None, 0, 0, 0)
    pulls = pulls_of(desk.library, row.id)
    questions = open_questions(desk.library, row, log_of(desk.library, row.id))
    return Taken(row.name, file.outcome, file.sentence, row, len(pulls), sum(p.used for p in pulls), len(questions))


def _compare(car: CarRow, jobs: list[JobRow], files: dict[int, list[JobFileRow]]) -> str | None:
    """Where to compare: two imports at once are the logs from before and from after."""
    if len(jobs) != 2:
        return None
    before, after = (tuple(f"l{file.log_id}" for file in files[job.id] if file.log_id) for job in jobs)
    return Asked(before=before, after=after).address(f"/cars/{car.id}/compare") if before and after else None


async def events(request: Request) -> Response:
    """How far it is, told as it goes on (server-sent events)."""
    desk: Desk = request.app.state.desk
    numbers = _jobs(request)
    await run_in_threadpool(_records, desk, numbers)

    async def told() -> AsyncIterator[str]:
        last = ""
        while True:
            jobs = await run_in_threadpool(_records, desk, numbers)
            state = await run_in_threadpool(_state, desk, jobs)
            now = json.dumps(
                {
                    "state": state,
                    "done": sum(job.done for job in jobs),
                    "total": sum(_total(job) for job in jobs),
                    "file": next((job.message for job in reversed(jobs) if job.message), ""),
                }
            )
            if now != last:
                yield f"data: {now}\n\n"
            if state != "running" or desk.imports.is_stopping or await request.is_disconnected():
                return
            last = now
            await asyncio.sleep(LOOK_EVERY_S)

    return StreamingResponse(told(), media_type="text/event-stream", headers={"cache-control": "no-store"})


def stop(request: Request, form: Form) -> Response:  # noqa: ARG001  (an action's signature)
    """Stop after what is in hand; what was taken in stays."""
    desk = desk_of(request)
    for job in _records(desk, _jobs(request)):
        if job.state != "done":
            ask_to_stop(desk.library, job.id)
    return go_to(request, link("/imports", job=_jobs(request)))


def resume(request: Request, form: Form) -> Response:  # noqa: ARG001  (an action's signature)
    """Go on where it stopped."""
    desk = desk_of(request)
    desk.imports.run([job.id for job in _records(desk, _jobs(request)) if job.state != "done"])
    return go_to(request, link("/imports", job=_jobs(request)))


ROUTES = [
    action("/cars/{car:int}/upload", upload),
    page("/imports", show),
    Route("/imports/events", events, methods=["GET"]),
    action("/imports/stop", stop),
    action("/imports/resume", resume),
]
