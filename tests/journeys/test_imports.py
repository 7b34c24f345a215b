"""Imports that are stopped, cut off and resumed, with the application as a user starts it."""

import re
import signal

import pytest
from playwright.sync_api import expect
from tests.journeys.running import command

from pullproof.library import catalogue, open_library

FILES = 16


@pytest.fixture
def many_logs(tmp_path, demo_files):
    """Many logs that differ in nothing but their length."""
    text = demo_files.before[0].read_text("utf-8")
    folder = tmp_path / "logs"
    folder.mkdir()
    for number in range(FILES):
        (folder / f"run-{number:02}.csv").write_text(text + "\n" * number, encoding="utf-8")
    return sorted(folder.iterdir())


def test_import_is_stopped_cut_off_and_resumed(chromium, tmp_path, many_logs):
    """What has been read stays when somebody stops, and when the process is killed; going on takes in the rest."""
    folder = tmp_path / "library"
    with open_library(folder) as library, library.transaction() as session:
        catalogue.add_car(session, 'name = "blue hatch"\n')
    page = chromium.new_page()
    with command(folder) as (process, address):
        page.goto(address)
        page.goto(re.sub(r"/\?.*", "/cars/1/days", address))
        page.get_by_label("Logs", exact=True).set_input_files([str(path) for path in many_logs])
        page.get_by_role("button", name="Read these logs").click()
        page.get_by_text(re.compile(r"[1-9]\d* of 16 files: run-")).wait_for(timeout=20_000)
        page.get_by_role("button", name="Stop").click()
        page.get_by_role("heading", name="Stopped half way").wait_for(timeout=20_000)
        stopped = _done(page)
        assert 0 < stopped < FILES
        page.get_by_role("button", name="Go on").click()
        page.get_by_text(re.compile(r"([1-9]|\d\d) of 16 files: run-")).wait_for(timeout=20_000)
        at = re.sub(r"^https?://[^/]+", "", page.url)
        process.send_signal(signal.SIGKILL)
        process.wait(20)
    with command(folder) as (process, address):
        page.goto(address)
        page.goto(re.sub(r"/\?.*", at, address))
        expect(page.get_by_role("heading", name="Stopped half way")).to_be_visible()
        page.get_by_role("button", name="Go on").click()
        page.get_by_role("heading", name="The logs are in").wait_for(timeout=40_000)
        page.close()
    assert process.returncode == 0
    with open_library(folder) as library, library.reading() as session:
        assert len(catalogue.logs(session, 1)) == FILES


def _done(page):
    return int(re.search(r"(\d+) of 16", page.locator(".message").inner_text())[1])
